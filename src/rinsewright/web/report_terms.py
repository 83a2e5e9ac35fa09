"""The words of water companies' reports: names, numbers and units, and what each is in the site file.

Six languages. What is not certain is refused with its reason rather than guessed. Pure functions.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from rinsewright.papers.units import LITRE_IN_GALLONS
from rinsewright.site.schema import IonsMgL
from rinsewright.water.ions import SPECIES
from rinsewright.web.words import words

MEMORY: Final = 10_000  # cells and names: a report repeats them, and each is asked for several times

# ---- molar masses and conversions ----

_O: Final = SPECIES["OH"].molar_mass - SPECIES["H"].molar_mass
ATOMS: Final[dict[str, float]] = {  # g/mol, from the masses of the ions
    "H": SPECIES["H"].molar_mass,
    "O": _O,
    "C": SPECIES["CO3"].molar_mass - 3.0 * _O,
    "N": SPECIES["NO3"].molar_mass - 3.0 * _O,
    "P": SPECIES["PO4"].molar_mass - 4.0 * _O,
    "S": SPECIES["SO4"].molar_mass - 4.0 * _O,
    "Si": SPECIES["SiO2"].molar_mass - 2.0 * _O,
    **{name: SPECIES[name].molar_mass for name in ("Ca", "Mg", "Na", "K", "Fe", "Mn", "Sr", "Ba", "Cl", "F", "B")},
}
EQUIVALENTS: Final = {"CaCO3": 2, "CaO": 2, "Ca": 2, "Mg": 2, "HCO3": 1, "CO3": 2}  # a mole of alkalinity or hardness
COUNTED: Final = {"NO3": "N", "NH4": "N", "PO4": "P", "SO4": "S", "SiO2": "Si"}  # the atom that names the ion
WRITTEN_AS: Final = {"HCO3": "HCO3", "hardness": "CaCO3"}  # how the site file takes what is counted in equivalents
# Degrees of hardness, by definition (from memory).
FRENCH_DEGREE: Final = 10.0  # mg/L as CaCO3
GERMAN_DEGREE: Final = 10.0  # mg/L as CaO
GRAIN: Final = 64.79891  # mg
ENGLISH_DEGREE: Final = GRAIN / 4.54609  # mg/L as CaCO3: a grain in an imperial gallon
US_GRAIN: Final = GRAIN * LITRE_IN_GALLONS  # mg/L as CaCO3: a grain in a US gallon


def atoms_of(formula: str) -> dict[str, int]:
    """Atoms of a formula without brackets: ``CaCO3`` is one Ca, one C, three O; empty where it is no formula."""
    found: dict[str, int] = {}
    pieces = re.findall(r"([A-Z][a-z]?)(\d*)", formula)
    if "".join(atom + many for atom, many in pieces) != formula:
        return {}
    for atom, many in pieces:
        if atom not in ATOMS:
            return {}
        found[atom] = found.get(atom, 0) + int(many or 1)
    return found


def molar_mass(formula: str) -> float:
    """Molar mass of a formula [g/mol]."""
    return sum(ATOMS[atom] * many for atom, many in atoms_of(formula).items())


def factor(key: str, species: str) -> float | None:
    """What a mass told as ``species`` is multiplied by to be the mass the site file takes; None where it cannot be.

    An ion told as CaCO3 or CaO is told in equivalents.
    """
    if key in WRITTEN_AS:
        wanted = WRITTEN_AS[key]
        if species not in EQUIVALENTS:
            return None
        return (molar_mass(wanted) / EQUIVALENTS[wanted]) / (molar_mass(species) / EQUIVALENTS[species])
    atom = COUNTED.get(key, key)
    many = atoms_of(species).get(atom, 0)
    if many:
        return molar_mass(key) / (molar_mass(species) / many)
    charge = abs(SPECIES[key].charge)
    if species in ("CaCO3", "CaO") and charge and key != "PO4":  # phosphate's charge depends on the pH
        return (molar_mass(key) / charge) / (molar_mass(species) / EQUIVALENTS[species])
    return None


def milligrams(key: str, unit: str, species: str) -> tuple[float | None, str]:
    """Factor from a unit to mg/L as the site file takes it, and as what the number is told."""
    plain, _ = unit_in(unit)
    told = species or default_species(key)
    if plain in DEGREES:
        size, as_species = DEGREES[plain]
        whole = factor(key, as_species)
        return (None, as_species) if whole is None else (size * whole, as_species)
    if plain in MASSES:
        whole = factor(key, told)
        return (None, told) if whole is None else (MASSES[plain] * whole, told)
    if plain in MOLES:
        return MOLES[plain] * _of_a_mole(key, species), ""
    if plain == "meq/l":
        charge = EQUIVALENTS[WRITTEN_AS[key]] if key in WRITTEN_AS else abs(SPECIES[key].charge) or 1
        return molar_mass(WRITTEN_AS.get(key, key)) / charge, ""
    return None, told


def _of_a_mole(key: str, species: str) -> float:
    """Milligrams of a millimole. One of hardness is one of Ca + Mg; one of alkalinity is one of acid unless it is told
    as something else."""
    if key == "HCO3":
        return molar_mass("HCO3") * EQUIVALENTS.get(species, 1)
    return molar_mass(WRITTEN_AS.get(key, key))


def default_species(key: str) -> str:
    """As what a number is told where a report does not say: hardness and alkalinity as CaCO3, all else as itself."""
    return "CaCO3" if key in WRITTEN_AS else key


# ---- units ----

DEGREES: Final = {
    "°dh": (GERMAN_DEGREE, "CaO"),
    "°f": (FRENCH_DEGREE, "CaCO3"),
    "°e": (ENGLISH_DEGREE, "CaCO3"),
    "gpg": (US_GRAIN, "CaCO3"),
}
MASSES: Final = {"mg/l": 1.0, "µg/l": 1e-3, "g/l": 1e3}
MOLES: Final = {"mmol/l": 1.0, "µmol/l": 1e-3}

SUBSCRIPTS: Final = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")
_TOLD_AS: Final = {
    name.lower(): name
    for name in (
        *("CaCO3", "CaO", "HCO3", "CO3", "NO3", "NO2", "NH4", "NH3", "N", "PO4", "P2O5", "P", "SiO2", "Si", "SO4", "S"),
        *("Ca", "Mg", "Na", "K", "Fe", "Mn", "Sr", "Ba", "Cl", "Cl2", "F", "B", "NaCl", "K2O", "MgO", "H3BO3"),
    )
}
IN_WORDS: Final = {  # without accents; the longest first where one holds another
    **dict.fromkeys(("calcium carbonate", "calciumcarbonat", "carbonate de calcium", "carbonato de calcio"), "CaCO3"),
    **dict.fromkeys(("carbonato di calcio", "calciumcarbonaat"), "CaCO3"),
    **dict.fromkeys(("bicarbonate", "hydrogencarbonat"), "HCO3"),
    **dict.fromkeys(("nitrogen", "stickstoff", "stikstof", "azote", "nitrogeno", "azoto"), "N"),
    **dict.fromkeys(("phosphorus", "phosphor", "phosphore", "fosforo", "fosfor"), "P"),
    **dict.fromkeys(("silicon dioxide", "dioxyde de silicium"), "SiO2"),
    **dict.fromkeys(("silicon", "silicium", "silicio", "silizium"), "Si"),
    **dict.fromkeys(("sulphur", "sulfur", "schwefel", "soufre", "azufre", "zolfo"), "S"),
}
_AFTER_AS: Final = {
    **IN_WORDS,
    "nitrate": "NO3",
    "ammonium": "NH4",
    "ammonia": "NH3",
    "silica": "SiO2",
    "calcium": "Ca",
    "phosphate": "PO4",
}
_AS: Final = r"(?:as|als|en|como|come|comme|di)"
_PER: Final = r"(?:/|per|pro|por|par|al)"
_LITRE_WORD: Final = r"(?:liters?|litres?|litros?|litr[oi]|ltr|lt|l)"
_OF: Final = r"\(?(?P<of>[a-z][a-z0-9]*?(?:\d?[+\-−]+)?)?\)?"
_REST: Final = rf"(?:,?[(\[]?(?:{_AS})?:?(?P<rest>[a-z][a-z0-9+\-−]*)[)\]]?)?"
_UNITS: Final = tuple(  # of a text in small letters without blanks and points
    (re.compile(pattern), plain)
    for pattern, plain in (
        (rf"(?:µ|u|mc|micro)g(?:rams?)?{_OF}(?:{_PER}{_LITRE_WORD}|l-1){_REST}", "µg/l"),
        (rf"mg{_OF}{_PER}m3{_REST}", "µg/l"),
        (rf"ppb{_REST}", "µg/l"),
        (rf"m(?:illi)?g(?:ram(?:me)?s?)?{_OF}(?:{_PER}{_LITRE_WORD}|l-1){_REST}", "mg/l"),
        (rf"g{_OF}{_PER}m3{_REST}", "mg/l"),
        (rf"ppm{_REST}", "mg/l"),
        (rf"g(?:rams?)?{_OF}(?:{_PER}{_LITRE_WORD}|l-1){_REST}", "g/l"),
        (rf"(?:µ|u|micro)mol{_OF}{_PER}{_LITRE_WORD}{_REST}", "µmol/l"),
        (rf"(?:m(?:illi)?mol{_OF}(?:{_PER}{_LITRE_WORD}|l-1)|mol{_PER}m3){_REST}", "mmol/l"),
        (rf"(?:meq|mval){_OF}(?:{_PER}{_LITRE_WORD}|l-1)?{_REST}", "meq/l"),
        (r"(?:°|grad[ei]?|deg|gr)(?:d|dh|dgh|dkh|gh|kh)|dh|dgh|dkh", "°dh"),
        (r"(?:°|deg|gr)(?:f|fh|hf|fr|th|tac)", "°f"),
        (r"(?:°|deg)(?:e|eh|clarke?)|clarke?", "°e"),
        (rf"(?:grains?|gr){_PER}(?:imp(?:erial)?|uk)(?:gal(?:lon)?)", "°e"),
        (rf"(?:gpg|grains?(?:{_PER}(?:us)?gal(?:lon)?)?|gr{_PER}(?:us)?gal(?:lon)?){_REST}", "gpg"),
        (r"(?:µ|u|m)s(?:iemens)?(?:/|per)(?:cm|m).*", "µs/cm"),
        (r"ph(?:units?|einheiten|wert|value)?|(?:unit[eéà]s?|unidades(?:de)?|ud)ph|units?", "ph"),
    )
)
_DEGREE_WORDS: Final = (
    (r"\b(clarke?|english|englisch\w*|anglais\w*|ingles\w*|engels\w*)\b", "°e"),
    (r"\b(german|deutsch\w*|allemand\w*|aleman\w*|tedesch\w*|duits\w*)\b", "°dh"),
    (r"\b(french|francais\w*|franzosisch\w*|frances\w*|frans\w*)\b", "°f"),
)


def plainly(text: str) -> str:
    """A text in small letters without accents, blanks once."""
    apart = unicodedata.normalize("NFKD", text.translate(SUBSCRIPTS).lower())
    return " ".join("".join(mark for mark in apart if not unicodedata.combining(mark)).split())


@lru_cache(maxsize=MEMORY)
def unit_in(text: str) -> tuple[str, str]:
    """What unit a text is, empty where it is none; and as what it counts (``mg N/l``), empty where it does not say."""
    text = re.sub(r"^\s*[(\[]([^()\[\]]*)[)\]]\s*$", r"\1", text)
    short = re.sub(r"\s*[(\[].*$", "", text)
    for written in (text, short) if short else (text,):
        if (found := _symbol_in(written))[0]:
            return found
    if "/" not in text and (found := _degree_named(text))[0]:
        return found[0], ""
    return "", ""


def _symbol_in(text: str) -> tuple[str, str]:
    told = text.translate(SUBSCRIPTS).lower().translate(str.maketrans("μº˚", "µ°°"))
    told = told.replace("⁻¹", "-1").replace("³", "3").replace("⁻", "-").replace("²", "2").replace("⁺", "+")
    plain = re.sub(r"[\s.·]", "", told)
    for pattern, unit in _UNITS:
        if (found := pattern.fullmatch(plain)) and (of := _told_as(found.groupdict())) is not None:
            return unit, of
    return "", ""


def _degree_named(text: str) -> tuple[str, str]:
    """The degree of hardness that a text names in words, and its word there; empty where it names none."""
    plain = plainly(text)
    found = ((unit, re.search(pattern, plain)) for pattern, unit in _DEGREE_WORDS)
    return next(((unit, match[0]) for unit, match in found if match), ("", ""))


def _told_as(groups: dict[str, str | None]) -> str | None:
    """The species in a unit; empty where it has none, None where what stands there is no species."""
    for text in (groups.get("of"), groups.get("rest")):
        if not text or text in ("ca+mg", "mg+ca"):
            continue
        for bare in (text, re.sub(r"[+\-−]+$", "", text), re.sub(r"\d?[+\-−]+$", "", text)):
            if bare in _TOLD_AS:
                return _TOLD_AS[bare]
        word = next((formula for word, formula in IN_WORDS.items() if text == word.replace(" ", "")), None)
        if word is None:
            return None
        return word
    return ""


def unit_in_name(name: str) -> str:
    """The unit that a name or a head carries, as it is written there: in brackets, behind a comma or at its end."""
    brackets = re.findall(r"[(\[]([^)\]]*)[)\]]", name)
    words_of = name.split()
    tails = [" ".join(words_of[-many:]).strip("()[],") for many in (4, 3, 2, 1) if len(words_of) > many]
    pieces = [re.sub(r"^in\s+", "", piece.strip()) for piece in (*brackets, *name.split(",")[1:], *tails, name)]
    return next((piece for piece in pieces if _symbol_in(piece)[0] not in ("", "ph")), _degree_named(name)[1])


_BOTH: Final = re.compile(r"\bCa(lcium)?\s*(\+|&|and|und|et|e|y|en)\s*(Mg|magnesium)\b", re.IGNORECASE)


def species_of(key: str, name: str, unit: str) -> str | None:
    """As what a number is told, from its unit (``mg N/l``) or its name (``Nitrate as N``).

    Empty where neither says; None where it is told as something that cannot be converted.
    """
    _, of = unit_in(unit)
    if of:
        return of if factor(key, of) is not None else None
    for text in (unit, _BOTH.sub("", name)):
        for told in re.findall(rf"\b{_AS}\s+([A-Za-z][\w₀-₉]*(?: (?:de |di )?\w+)?)", text):
            formula = told.translate(SUBSCRIPTS).split()[0]
            found = _word(told, _AFTER_AS) or (formula if atoms_of(formula) else "")
            if found:
                return found if factor(key, found) is not None else None
            if re.fullmatch(r"[A-Z][A-Za-z]?\d+\w*", formula):  # a formula of other atoms
                return None
    return _species_named(key, name)


def _species_named(key: str, name: str) -> str:
    for told in re.findall(r"\(([^)]*)\)", name):
        formula = re.sub(r"\d?[+\-−⁺⁻²³]+$", "", told.strip().translate(SUBSCRIPTS))
        if formula in _TOLD_AS.values() and factor(key, formula) is not None:
            return formula
    if found := re.search(r"\b(?:nitrate?|ammonium|no3|nh4|phosphate?|po4)\s*-?\s*(N|P)\b", name, re.IGNORECASE):
        return found[1].upper()
    word = _word(name, IN_WORDS)
    return word if word and factor(key, word) is not None and word not in ("CaCO3", "HCO3") else ""


def _word(text: str, among: dict[str, str]) -> str:
    plain = plainly(text)
    return next((formula for word, formula in among.items() if re.search(rf"\b{word}\b", plain)), "")


# ---- names ----

NAMES: Final[dict[str, tuple[str, ...]]] = {  # without accents
    "Ca": ("calcium", "kalzium", "calcio"),
    "Mg": ("magnesium", "magnesio"),
    "Na": ("sodium", "natrium", "sodio"),
    "K": ("potassium", "kalium", "potasio", "potassio"),
    "NH4": ("ammonium", "ammonia", "ammoniacal nitrogen", "azote ammoniacal", "amonio", "ammonio"),
    "Fe": ("iron", "eisen", "fer", "hierro", "ferro", "ijzer"),
    "Mn": ("manganese", "mangan", "manganeso", "mangaan"),
    "Sr": ("strontium", "estroncio", "stronzio"),
    "Ba": ("barium", "baryum", "bario"),
    "HCO3": (
        *("alkalinity", "bicarbonate", "bicarbonates", "hydrogencarbonate", "hydrogen carbonate", "carbonate hardness"),
        *("saurekapazitat", "karbonatharte", "carbonatharte", "hydrogencarbonat", "alkalitat"),
        *("hydrogenocarbonates", "alcalinite", "titre alcalimetrique complet"),
        *("alcalinidad", "bicarbonato", "bicarbonatos", "hidrogenocarbonato", "hidrogenocarbonatos"),
        *("alcalinita", "bicarbonati", "idrogenocarbonato", "idrogenocarbonati"),
        *("alkaliteit", "waterstofcarbonaat", "bicarbonaat"),
    ),
    "SO4": (
        "sulphate",
        "sulphates",
        "sulfate",
        "sulfates",
        "sulfat",
        "sulfato",
        "sulfatos",
        "solfato",
        "solfati",
        "sulfaat",
    ),
    "Cl": ("chloride", "chlorides", "chlorid", "chlorure", "chlorures", "cloruro", "cloruros", "cloruri"),
    "NO3": ("nitrate", "nitrates", "nitrat", "nitrato", "nitratos", "nitrati", "nitraat", "no3 n", "nitrate nitrogen"),
    "F": ("fluoride", "fluorid", "fluorure", "fluorures", "fluoruro", "fluoruros", "fluoruri"),
    "PO4": (
        *("phosphate", "phosphates", "orthophosphate", "orthophosphates", "phosphorus", "phosphat", "phosphor"),
        *("phosphore", "fosfato", "fosfatos", "fosforo", "fosfati", "fosfaat", "fosfor"),
    ),
    "SiO2": (
        *("silica", "silicate", "silicon", "silicon dioxide", "dioxyde de silicium", "siliziumdioxid", "silizium"),
        *("kieselsaure", "silikat", "silice", "silicium", "silicio", "silicaat"),
    ),
    "B": ("boron", "bor", "bore", "boro", "boor"),
    "ph": (
        *("ph", "ph value", "hydrogen ion", "wasserstoffionenkonzentration", "wasserstoffionen konzentration"),
        *("concentrazione ioni idrogeno", "concentrazione ione idrogeno", "zuurgraad"),
    ),
    "hardness": (
        *("total hardness", "hardness", "hardness total", "calcium carbonate"),
        *(
            "gesamtharte",
            "harte",
            "summe erdalkalien",
            "erdalkalien",
            "durete",
            "durete totale",
            "titre hydrotimetrique",
        ),
        *("dureza", "dureza total", "durezza", "durezza totale", "hardheid", "totale hardheid"),
    ),
}
_KEYS: Final = {word: key for key, those in NAMES.items() for word in those}
_ANY_NAME: Final = re.compile(rf"\b({'|'.join(sorted(_KEYS, key=len, reverse=True))})\b")  # the longest counts
CHLORINE: Final = (
    r"\b(chlorine|chlor|chlore|cloro|chloor|disinfectant|desinfektionsmittel|disinfettante|desinfectante)\b"
)
FREE: Final = r"\b(free|freies|frei|libre|libero|vrij|vrije)\b"
ALL: Final = r"\b(total|gesamt|totale|totaal|gesamtes)\b|\bgesamtchlor\b"
APART: Final = (  # beginnings of names that hold one of those above and are something else
    *("non carbonate", "nichtcarbonat", "nicht carbonat", "nichtkarbonat", "non carbonat", "permanent", "temporar"),
    *("temporal", "temporan", "resthart", "carbonate alkalinity", "caustic", "hydroxide alkalinity", "phenolphthal"),
    *(
        "p alkalinity",
        "p wert",
        "nitrit",
        "hypochlorit",
        "chlorit",
        "chlorat",
        "clorit",
        "clorat",
        "chlorine dioxid",
        "chlordioxid",
    ),
    *("taste", "index", "indice", "langelier", "satura", "sattigung", "precipit", "aggress", "corros", "ratio"),
    *("potassium 40", "kalium 40", "fluoride 19", "strontium 90", "formula", "permangan", "bacter", "bakter"),
    *("vinyl", "vinil", "methyl", "polyphosph", "chloramin", "demand", "reducing", "perchlor"),
)
_APART: Final = re.compile(rf"\b({'|'.join(APART)})")
BARE: Final = {
    **{name.lower(): name for name in IonsMgL.model_fields},
    "ph": "ph",
    "th": "hardness",
    "gh": "hardness",
    "tac": "HCO3",
    "kh": "HCO3",
}
HARDNESS_OF: Final = (
    (r"\b(calcium|kalzium|ca)[\s-]*(hardness|harte|hardheid)\b|\bdure(te|za|zza) (de |di )?(calci\w+)", "Ca"),
    (r"\b(magnesium|mg)[\s-]*(hardness|harte|hardheid)\b|\bdure(te|za|zza) (de |di )?(magnesi\w+)", "Mg"),
)
HYDROGEN_CARBONATE: Final = re.compile(r"bicarb|h[yi]drog|idrogeno|waterstofcarb|\bhco3\b")
SAYS_PH: Final = re.compile(r"(?:pH|K\s?S|K[SB])\s*=?\s*4[.,][35]\d?", re.IGNORECASE)


def hardness_of(name: str) -> str:
    """The ion whose hardness a name is: ``Magnesium hardness`` is Mg; empty where it is none."""
    plain = plainly(name)
    return next((ion for pattern, ion in HARDNESS_OF if re.search(pattern, plain)), "")


@lru_cache(maxsize=MEMORY)
def key_of(name: str) -> str | None:
    """What a row is, by its name; None where it is nothing that the site file takes, or more than one thing."""
    if ion := hardness_of(name):
        return ion
    if bare := _bare(name):
        return bare
    plain = re.sub(r"[\s,:\-–_/]+", " ", plainly(name)).strip()
    if _APART.search(plain) or re.search(r"\bph ?8[.,]2", plainly(name)):
        return None
    without = re.sub(rf"\(.*?\)|\b{_AS} (?:calcium carbonate|\w+).*$", " ", plain)
    for text in (" ".join(without.split()), plain):
        keys = set(_keys_in(text))
        if keys:
            return keys.pop() if len(keys) == 1 else None
    return None


def _bare(name: str) -> str | None:
    """What a symbol alone is: NO3- is nitrate, Ca2+ is calcium."""
    symbol = re.sub(r"\(.*?\)", "", name).strip()
    if (unit := unit_in_name(symbol)) and symbol.endswith(unit):
        symbol = symbol[: -len(unit)].rstrip(" ,")
    symbol = symbol.lower().translate(SUBSCRIPTS)
    for charge in (r"[+\-−⁺⁻²³]*$", r"\d?[+\-−]+$"):
        if (bare := re.sub(charge, "", symbol).strip()) in BARE:
            return BARE[bare]
    return None


def _keys_in(plain: str) -> Iterator[str]:
    """What a plain text names: a longer name counts before those in it, hardness and the like before single ions."""
    if re.search(CHLORINE, plain) or "gesamtchlor" in plain:
        if re.search(FREE, plain):
            yield "free_chlorine_mg_l"
        if re.search(ALL, plain):
            yield "total_chlorine_mg_l"
        return
    keys = {_KEYS[found] for found in _ANY_NAME.findall(plain)}
    if "hardness" in keys and keys <= {"hardness", "Ca", "Mg"}:
        yield "hardness"
    elif "HCO3" in keys and keys <= {"HCO3", "hardness", "ph"}:
        yield "HCO3"
    else:
        yield from keys


def names_something(text: str) -> bool:
    """Whether a text holds the name of anything that the site file takes."""
    return any(True for _ in _keys_in(plainly(text)))


# ---- numbers ----

NUMBER: Final = r"[<>≤≥=]?\s*[-−]?(?:\d[\d.,'’]*|[.,]\d+)(?:[eE][-+]?\d+)?"
_SPACED: Final = r"[<>≤≥]?\s*[-−]?\d{1,3}(?:[ \u00a0\u202f]\d{3})+(?:[.,]\d+)?"
_TO: Final = r"(?:-|–|—|…|\.\.\.|to|bis|tot)"
_CELL: Final = re.compile(
    rf"(?P<low>{_SPACED}|{NUMBER})(?:\s*{_TO}\s*(?P<high>{NUMBER}))?\s*(?P<unit>[^\W\d].*|[°%(\[µ].*)?"
)
DATE: Final = re.compile(
    r"\d{1,2}[./-]\d{1,2}[./-](?:\d{2}|\d{4})|\d{4}-\d{1,2}(?:-\d{1,2})?|\d{1,2}:\d{2}(?::\d{2})?|\d{1,2}/\d{4}"
)
ABSENT: Final = re.compile(
    r"(not|none|non|no|nicht|niet)\s*[\s-]\s*(detect\w*|nachweisbar|nachgewiesen|detecte\w*|rilevat\w*|rilevabil\w*"
    r"|aantoonbaar)|below\b.*|unter(halb)?\b.*grenze|<\s*(lod|loq|bg|ng|lq|ld|mdl|rl|dl|lc)|n\.?\s?[dn]\.?|bdl|b\.?d\.?l\.?"
    r"|u\.?\s?d\.?\s?b\.?|nil|absent|traces?|spuren|tracce"
)
UNKNOWN: Final = re.compile(
    r"n\.?\s?b\.?|n\.\s?a\.?|n/a|k\.?\s?a\.?|s/d|n\.?\s?c\.?|"
    r"nicht (bestimmt|bestimmbar|untersucht|gemessen|analysiert)|"
    r"not (tested|analy[sz]ed|determined|measured|available|sampled)|"
    r"non (mesure\w*|analyse\w*|determine\w*)|niet (bepaald|gemeten)"
)


@dataclass(frozen=True)
class Marks:
    """What stands before decimals in a report: points, commas, both in turn, or it cannot be told."""

    points: bool = False
    commas: bool = False


def marks_of(cells: Iterable[str]) -> Marks:
    """How a report writes its decimals, from those numbers that can be read in one way only."""
    points = commas = False
    for cell in cells:
        for token in re.findall(r"(?<![\d.,=\w])\d[\d.,]*\d(?![\d.,])", cell):
            mark = _decimal_mark(token)
            points, commas = points or mark == ".", commas or mark == ","
    return Marks(points, commas)


def _decimal_mark(token: str) -> str:
    """The decimal mark of a number that can be read in one way only; empty where there is none or two ways."""
    if both := re.fullmatch(r"\d{1,3}(?:(?:,\d{3})+(\.)|(?:\.\d{3})+(,))\d+", token):
        return both[1] or both[2]
    one = re.fullmatch(r"(\d+)([.,])(\d+)", token)
    return one[2] if one and not _is_open(token) else ""


def _is_open(token: str) -> bool:
    """Whether a number may be a thousand and more, or have three decimals."""
    return re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", token) is not None


def _bare_number(text: str) -> str:
    return text.strip().lstrip("<>≤≥ -−")


def value_of(text: str, marks: Marks) -> float | None:
    """The value of a number as it is written, without its sign of comparison; None where it is none or two."""
    plain = text.strip().lstrip("<>≤≥ ").replace("−", "-")
    if plain.startswith("="):  # a cell of a workbook that holds a number: as it stands
        plain, marks = plain[1:], Marks(points=True)
    sign = -1.0 if plain.startswith("-") else 1.0
    plain = plain.lstrip("- ")
    if re.fullmatch(r"\d{1,3}(?:[ \u00a0\u202f'’]\d{3})+(?:[.,]\d+)?", plain):
        plain, marks = re.sub(r"[ \u00a0\u202f'’]", "", plain), Marks(True, True)
    if _is_open(plain):
        if marks.points == marks.commas:
            return None
        decimal = "." if marks.points else ","
    elif re.fullmatch(r"\d{1,3}(?:,\d{3}){2,}|\d{1,3}(?:,\d{3})+\.\d+", plain):
        decimal = "."
    elif re.fullmatch(r"\d{1,3}(?:\.\d{3}){2,}|\d{1,3}(?:\.\d{3})+,\d+", plain):
        decimal = ","
    elif re.fullmatch(r"(?:\d+(?:[.,]\d+)?|[.,]\d+)(?:[eE][-+]?\d+)?", plain):
        decimal = "," if "," in plain else "."
    else:
        return None
    value = sign * float(plain.replace("," if decimal == "." else ".", "").replace(",", "."))
    return value if math.isfinite(value) else None


@dataclass(frozen=True)
class Told:
    """What a cell tells: its number as it is written and read, the unit behind it, and what was done or is wrong."""

    given: str = ""
    value: float | None = None
    unit: str = ""
    notes: tuple[str, ...] = ()


BELOW: Final = re.compile(
    r"\b(less than|below|under|kleiner(?: als)?|unter|inf[eé]rieure? à|menor (?:que|de)|inferiore a) *(?=\d)",
    re.IGNORECASE,
)


LONGEST_CELL: Final = 200  # characters; what is longer is prose


@lru_cache(maxsize=MEMORY)
def told_in(cell: str, marks: Marks = Marks()) -> Told:
    """What a cell tells: half of what it is below, the middle of a range; nothing for a date or an empty cell."""
    t = words()
    text = re.sub(r"^(ca\.?|circa|approx\.?|about|~|≈)\s*|\s*[*†‡]+$", "", cell.strip(), flags=re.IGNORECASE)
    text = BELOW.sub("<", text)
    text = re.sub(r"\s*(?:±|\+/?-)\s*[\d.,]+\s*%?", "", text).strip()
    plain = plainly(text)
    given = text.lstrip("=")
    if not text or len(text) > LONGEST_CELL or DATE.fullmatch(text) or not re.search(r"\w", text):
        return Told()
    if ABSENT.fullmatch(plain):
        return Told(given, notes=(t("reports.absent"),))
    if UNKNOWN.fullmatch(plain):
        return Told(given, notes=(t("reports.undetermined"),))
    found = _CELL.fullmatch(text)
    if found is None:
        is_meant = re.match(r"[<>≤≥=.,\-−]?\s*\d", text) is not None
        return Told(given, notes=(t("reports.no_number", given=given),) if is_meant else ())
    ends = [found["low"]] + ([found["high"]] if found["high"] else [])
    values = [value_of(end, marks) for end in ends]
    unit = (found["unit"] or "").strip()
    given = text[: found.start("unit")].strip().lstrip("=") if unit else given
    if any(value is None for value in values):
        is_open = any(_is_open(_bare_number(end)) for end in ends)
        return Told(given, None, unit, (t("reports.two_ways" if is_open else "reports.no_number", given=given),))
    halves = [
        0.5 * value if end.strip()[0] in "<≤" else value
        for end, value in zip(ends, values, strict=True)
        if value is not None
    ]
    wholes = [end for end in ends if _is_open(_bare_number(end)) and not end.startswith("=")]
    notes = [t("reports.thousands", given=given)] * any((value_of(end, marks) or 0.0) >= 1000.0 for end in wholes)
    notes += [t("reports.half", limit=end.strip()) for end in ends if end.strip()[0] in "<≤"]
    notes += [t("reports.above")] * any(end.strip()[0] in ">≥" for end in ends)
    notes += [t("reports.middle")] * (len(ends) == 2)
    return Told(given, sum(halves) / len(halves), unit, tuple(notes))
