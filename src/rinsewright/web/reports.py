"""A water company's report, pasted or as a file: what its rows mean, in the units of the site file.

Names, units and layouts differ from company to company, so nothing is taken silently: every row keeps what it said and
what was made of it, and a row that is not understood is kept as such. Pure functions; nothing here is saved.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from rinsewright.errors import InputError, Problem
from rinsewright.site.schema import IonsMgL
from rinsewright.water.ions import SPECIES
from rinsewright.web.words import words

Cells = list[list[str]]

MOST_ROWS, MOST_COLUMNS = 3000, 60
MOST_UNPACKED = 30_000_000  # bytes of a workbook; a report has some ten thousand


@dataclass(frozen=True)
class Row:
    """A row of a report.

    ``key``: what it is in the site file (an ion, ``ph``, ``hardness``, …), None where that is not understood. ``value``
    in mg/L as the site file takes it, None where there is no number. ``notes``: what was done to get there.
    """

    name: str
    given: str
    unit: str
    key: str | None = None
    value: float | None = None
    notes: tuple[str, ...] = ()
    is_taken: bool = False


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
ENGLISH_DEGREE: Final = 64.79891 / 4.54609  # mg/L as CaCO3: a grain in an imperial gallon


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
    """What a mass told as ``species`` is multiplied by to be the mass the site file takes; None where it cannot be."""
    if key in WRITTEN_AS:
        wanted = WRITTEN_AS[key]
        if species not in EQUIVALENTS:
            return None
        return (molar_mass(wanted) / EQUIVALENTS[wanted]) / (molar_mass(species) / EQUIVALENTS[species])
    atom = COUNTED.get(key, key)
    many = atoms_of(species).get(atom, 0)
    return molar_mass(key) / (molar_mass(species) / many) if many else None


def milligrams(key: str, unit: str, species: str) -> tuple[float | None, str]:
    """Factor from a unit to mg/L as the site file takes it, and as what the number is told."""
    plain = _plain_unit(unit)
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
    if plain in EQUIVALENT_UNITS:
        charge = EQUIVALENTS[WRITTEN_AS[key]] if key in WRITTEN_AS else abs(SPECIES[key].charge) or 1
        return EQUIVALENT_UNITS[plain] * molar_mass(WRITTEN_AS.get(key, key)) / charge, ""
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


DEGREES: Final = {
    "°dh": (GERMAN_DEGREE, "CaO"),
    "°f": (FRENCH_DEGREE, "CaCO3"),
    "°e": (ENGLISH_DEGREE, "CaCO3"),
}
MASSES: Final = {"mg/l": 1.0, "µg/l": 1e-3, "g/l": 1e3}
MOLES: Final = {"mmol/l": 1.0, "µmol/l": 1e-3}
EQUIVALENT_UNITS: Final = {"meq/l": 1.0}

UNIT_WORDS: Final = (  # the first that fits holds
    (r"°\s*dh|°\s*d\b|\bdh\b|german|deutsche", "°dh"),
    (r"°\s*f\s*h?\b|french|fran[cç]ais", "°f"),
    (r"°\s*e\b|clark|english", "°e"),
    (r"[µu]mol", "µmol/l"),
    (r"mmol|mol/m3", "mmol/l"),
    (r"meq|mval", "meq/l"),
    (r"[µu]s/cm|ms/m|\bus\b", "µs/cm"),
    (r"([µu]g|mcg)\b.*l|\bppb\b|mg/m3", "µg/l"),
    (r"\bm\s*g\b.*l|\bmgl|\bppm\b|g/m3", "mg/l"),
    (r"\bg\s*/\s*l|\bg l", "g/l"),
    (r"\bph\b|units?\b", "ph"),
)


def _plain_unit(unit: str) -> str:
    text = unit.lower().replace("μ", "µ").replace("⁻¹", "-1").replace("º", "°").replace("m³", "m3").replace("·", " ")
    return next((plain for pattern, plain in UNIT_WORDS if re.search(pattern, text)), "")


SUBSCRIPTS: Final = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")
SPECIES_WORD: Final = re.compile(
    r"\b(CaCO3|CaO|HCO3|CO3|NO3|NO2|NH4|NH3|N|PO4|P2O5|P|SiO2|Si|SO4|S|Ca|Mg|Na|K|Fe|Mn|Sr|Ba|Cl|F|B)\b"
)
IN_WORDS: Final = {"nitrogen": "N", "phosphorus": "P", "calcium carbonate": "CaCO3", "stickstoff": "N", "silicon": "Si"}


def species_of(key: str, name: str, unit: str) -> str:
    """As what a number is told, from its unit (``mg N/l``) or its name (``Nitrate as N``); empty where neither says."""
    for text in (unit, *re.findall(r"\b(?:as|als|en)\s+(\w+)", name), *re.findall(r"\(([^)]*)\)", name), name):
        plain = text.translate(SUBSCRIPTS)
        for found in SPECIES_WORD.findall(plain):
            if factor(key, found) is not None:
                return str(found)
        for word, formula in IN_WORDS.items():
            if word in plain.lower() and factor(key, formula) is not None:
                return formula
    return ""


# ---- names ----

NAMES: Final[dict[str, tuple[str, ...]]] = {
    "Ca": ("calcium", "kalzium"),
    "Mg": ("magnesium", "magnésium"),
    "Na": ("sodium", "natrium"),
    "K": ("potassium", "kalium"),
    "NH4": ("ammonium", "ammonia", "ammoniacal nitrogen"),
    "Fe": ("iron", "eisen", "fer"),
    "Mn": ("manganese", "mangan", "manganèse"),
    "Sr": ("strontium",),
    "Ba": ("barium", "baryum"),
    "HCO3": (
        *(
            "alkalinity",
            "bicarbonate",
            "hydrogencarbonate",
            "hydrogencarbonat",
            "hydrogen carbonate",
            "carbonate hardness",
        ),
        *("säurekapazität", "karbonathärte", "bicarbonates", "hydrogénocarbonates"),
    ),
    "SO4": ("sulphate", "sulfate", "sulfat", "sulfates"),
    "Cl": ("chloride", "chlorid", "chlorure", "chlorures"),
    "NO3": ("nitrate", "nitrat", "nitrates"),
    "F": ("fluoride", "fluorid", "fluorure"),
    "PO4": ("phosphate", "orthophosphate", "phosphorus", "phosphat", "phosphates"),
    "SiO2": ("silica", "silicate", "silicon", "kieselsäure", "silikat", "silice"),
    "B": ("boron", "bor", "bore"),
    "ph": ("ph", "ph value", "ph-wert", "hydrogen ion"),
    "hardness": ("total hardness", "hardness", "gesamthärte", "härte", "dureté", "hardness total", "calcium carbonate"),
    "free_chlorine_mg_l": ("free chlorine", "chlorine free", "residual chlorine free", "freies chlor"),
    "total_chlorine_mg_l": ("total chlorine", "chlorine total", "residual chlorine total", "gesamtchlor"),
}
APART: Final = (  # names that hold one of those above and are something else
    *(
        "non-carbonate",
        "non carbonate",
        "nitrite",
        "hypochlorite",
        "chlorite",
        "chlorate",
        "taste",
        "index",
        "langelier",
    ),
    *("potassium 40", "fluoride-19", "nitrit", "formula", "permanganate"),
)
BARE: Final = {**{name.lower(): name for name in IonsMgL.model_fields}, "ph": "ph"}
TEMPORARY: Final = re.compile(r"\b(calcium|magnesium)[\s-]+hardness\b", re.IGNORECASE)


def key_of(name: str) -> str | None:
    """What a row is, by its name; None where it is nothing that the site file takes, or more than one thing."""
    text = re.sub(r"\s+", " ", name.lower().replace(",", " ").replace(":", " ").replace("-", " ")).strip()
    if hardness := TEMPORARY.search(name):
        return {"calcium": "Ca", "magnesium": "Mg"}[hardness.group(1).lower()]
    symbol = re.sub(r"\(.*?\)", "", name).strip().lower().translate(SUBSCRIPTS)
    for charge in (r"[+\-−⁺⁻²³]*$", r"\d?[+\-−]+$"):  # NO3- is nitrate, Ca2+ is calcium
        if (bare := re.sub(charge, "", symbol).strip()) in BARE:
            return BARE[bare]
    if any(re.search(rf"\b{re.escape(apart.replace('-', ' '))}", text) for apart in APART):
        return None
    found = [
        (len(word), key)
        for key, those in NAMES.items()
        for word in those
        if re.search(rf"\b{re.escape(word.replace('-', ' '))}\b", text)
    ]
    if not found:
        return None
    longest = max(length for length, _ in found)
    keys = {key for length, key in found if length == longest}
    return keys.pop() if len(keys) == 1 else None


# ---- numbers ----

NUMBER: Final = re.compile(
    r"[<>≤≥]?\s*[-−]?(?:\d{1,3}(?:[,\s]\d{3})+(?:\.\d+)?|\d+(?:[.,]\d+)?|[.,]\d+)(?:[eE][-+]?\d+)?"
)
RANGE: Final = re.compile(rf"^\s*({NUMBER.pattern})\s*(?:-|–|to|bis)\s*({NUMBER.pattern})\s*$")
ABSENT: Final = re.compile(
    r"not\s+detected|none\s+detected|below\s+detection|^\s*(n\.?\s?[dn]\.?|bdl|nd|nil)\s*$", re.IGNORECASE
)


def number_in(text: str) -> tuple[float | None, tuple[str, ...]]:
    """The number of a cell, and what was done with it: half of what it is below, the middle of a range."""
    t = words()
    if ABSENT.search(text):
        return None, (t("reports.absent"),)
    if between := RANGE.match(text):
        low, high = (_value(part) for part in (between[1], between[2]))
        return 0.5 * (low + high), (t("reports.middle"),)
    found = NUMBER.fullmatch(text.strip())
    value = _value(found.group()) if found else math.nan
    if not math.isfinite(value):
        return None, ()
    if text.strip()[0] in "<≤":
        return 0.5 * value, (t("reports.half", limit=text.strip()),)
    return value, (t("reports.above"),) if text.strip()[0] in ">≥" else ()


def _value(text: str) -> float:
    plain = text.strip().lstrip("<>≤≥").replace("−", "-").replace(" ", "").replace("\N{NO-BREAK SPACE}", "")
    grouped = re.fullmatch(r"-?\d{1,3}(,\d{3})+(\.\d+)?", plain)
    decimal = grouped is None or plain.startswith(("0,", "-0,"))
    return float(plain.replace(",", ".") if decimal else plain.replace(",", ""))


# ---- tables ----


def cells_of(text: str) -> Cells:
    """A text as a table: separated by tabs, semicolons, bars or commas; a loose line is one cell."""
    plain = text.replace("\r\n", "\n").replace("\r", "\n").replace("\x00", "")
    lines = [line for line in plain.split("\n") if line.strip()][:MOST_ROWS]
    try:
        return _limited(_split(lines))
    except csv.Error:  # a cell without an end
        return _limited([_loose(line) for line in lines])


def _split(lines: list[str]) -> Cells:
    for mark in ("\t", ";", "|"):
        if sum(mark in line for line in lines) > len(lines) / 2:
            return [[cell.strip() for cell in line] for line in csv.reader(lines, delimiter=mark)]
    with_commas = [line for line in lines if line.count(",") >= 2 or re.match(r"^[^\d,]+,\s*[<>]?\d", line)]
    if len(with_commas) > len(lines) / 2:
        return [[cell.strip() for cell in line] for line in csv.reader(lines, skipinitialspace=True)]
    return [_loose(line) for line in lines]


def _limited(cells: Cells) -> Cells:
    return [row[:MOST_COLUMNS] for row in cells if row]


def with_points(cells: Cells) -> Cells:
    """The same with decimal points, where decimals are written with commas: some are, and none with a point."""
    flat = [cell for row in cells for cell in row]
    commas = any(re.search(r"(?<![\d.,])\d+,(\d{1,2}|\d{4,})(?![\d,])|(?<![\d.,])0,\d", cell) for cell in flat)
    points = any(re.fullmatch(r"[<>]?\s*\d+\.\d+", cell) for cell in flat)
    if not commas or points:
        return cells
    return [[re.sub(r"(?<=\d),(?=\d)", ".", cell) for cell in row] for row in cells]


def _loose(line: str) -> list[str]:
    """A line without columns: "Calcium 104 mg/l" is its name, its number and its unit."""
    if re.search(r"\S {2,}\S", line):  # columns held apart by blanks
        pieces = [piece.strip() for piece in re.split(r" {2,}", line.strip())]
        if len(pieces) > 1 and any(number_in(piece)[0] is not None for piece in pieces):
            return pieces
    told = re.sub(r"\bat \d+\s*°?\s*C\b|\(pH\s*[\d.,]+\)|\bpH\s+4[.,][35]\b", "", line)
    found = re.search(rf"(?:^|[\s:=])({NUMBER.pattern}|not detected|nd\b|n\.d\.)(?=$|\s|[a-zµ°%])", told)
    if found is None:
        return [line.strip()]
    return [told[: found.start(1)].strip(" \t:="), found.group(1).strip(), told[found.end(1) :].strip()]


def decoded(raw: bytes) -> str:
    """The text of a file as spreadsheets write it: UTF-8, UTF-16 with its mark, or else Windows-1252."""
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return raw.decode("utf-16", errors="replace")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")


def workbook_text(raw: bytes) -> str:
    """The cells of a workbook's first sheet with numbers in it, separated by tabs."""
    import zipfile

    import openpyxl

    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as packed:
            if sum(entry.file_size for entry in packed.infolist()) > MOST_UNPACKED:
                raise InputError(Problem(words()("reports.too_large")))
        book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
        sheets = [list(_sheet_lines(sheet)) for sheet in book.worksheets]
    except (zipfile.BadZipFile, KeyError, ValueError, OSError, TypeError):
        raise InputError(Problem(words()("reports.no_workbook"))) from None
    best = max(sheets, key=_understood, default=[])
    return "\n".join(best)


def _sheet_lines(sheet: object) -> Iterator[str]:
    rows = sheet.iter_rows(max_row=MOST_ROWS, max_col=MOST_COLUMNS, values_only=True)  # type: ignore[attr-defined]
    for row in rows:
        cells = ["" if value is None else f"{value:g}" if isinstance(value, float) else str(value) for value in row]
        if any(cells):
            yield "\t".join(" ".join(cell.split()) for cell in cells)


def _understood(lines: list[str]) -> int:
    return sum(key_of(line.partition("\t")[0]) is not None for line in lines)


# ---- columns ----

MEAN: Final = re.compile(r"\b(mean|average|avg|mittel(wert)?|moyenne)\b", re.IGNORECASE)
MEDIAN: Final = re.compile(r"\bmedian\b", re.IGNORECASE)
LEAST: Final = re.compile(r"\b(min(imum)?|lowest)\b", re.IGNORECASE)
MOST: Final = re.compile(r"\b(max(imum)?|highest)\b", re.IGNORECASE)
RESULT: Final = re.compile(r"\b(value|result|concentration|level|wert|valeur|ergebnis|amount)\b", re.IGNORECASE)
UNIT: Final = re.compile(r"\b(units?|einheit|unité)\b", re.IGNORECASE)
NAME: Final = re.compile(r"\b(parameter|determinand|substance|name|analyte|test|stoff|paramètre)\b", re.IGNORECASE)
OTHER: Final = re.compile(
    r"\b(pcv|limit|standard|regulatory|grenzwert|samples?|tests?|number|no\.?|count|contraventions?|failures?|fail|%|date|"
    r"anzahl|exceedances?|percentile|95)\b",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Columns:
    """Which column of a table is what; ``said`` is the note on the choice of the value's column."""

    name: int
    unit: int | None
    values: tuple[int, ...]
    said: str = ""
    head_unit: str = ""


def columns_of(head: Sequence[str]) -> Columns | None:
    """The columns by their heads; None where this row is no head."""
    if any(number_in(cell)[0] is not None for cell in head[1:]) or len([cell for cell in head if cell]) < 2:
        return None
    by = {pattern: _first(head, pattern) for pattern in (MEAN, MEDIAN, RESULT, LEAST, MOST, UNIT, NAME)}
    if all(by[pattern] is None for pattern in (MEAN, MEDIAN, RESULT, LEAST, MOST)):
        return None
    t = words()
    name = by[NAME] if by[NAME] is not None else 0
    assert name is not None
    for pattern, said in ((MEAN, t("reports.mean")), (MEDIAN, t("reports.median")), (RESULT, "")):
        at = by[pattern]
        if at is not None and at != name:
            return Columns(name, by[UNIT], (at,), said, head[at])
    ends = tuple(at for at in (by[LEAST], by[MOST]) if at is not None)
    return Columns(name, by[UNIT], ends, t("reports.middle") if len(ends) == 2 else "", head[ends[0]])


def _first(head: Sequence[str], pattern: re.Pattern[str]) -> int | None:
    return next((n for n, cell in enumerate(head) if pattern.search(cell) and not _is_other(cell, pattern)), None)


def _is_other(cell: str, pattern: re.Pattern[str]) -> bool:
    """A column of limits or of counts is none of results, whatever else its head says."""
    return pattern not in (UNIT, NAME) and OTHER.search(cell) is not None


# ---- rows ----


def read_report(text: str) -> tuple[Row, ...]:
    """Every row of a report that holds a number, or is something that the site file knows."""
    rows: list[Row] = []
    columns: Columns | None = None
    for cells in with_points(cells_of(text)):
        head = columns_of(cells)
        if head is not None:
            columns = head
            continue
        row = _read_row(cells, columns)
        if row is not None:
            rows.append(row)
    return tuple(_once(_with_magnesium(rows)))


def _read_row(cells: list[str], columns: Columns | None) -> Row | None:
    name_at = columns.name if columns and columns.name < len(cells) else 0
    name = cells[name_at]
    if not name or number_in(name)[0] is not None:
        return None
    given, value, notes = _number_of(cells, columns, name_at)
    unit = _unit_of(cells, columns, name_at, name)
    key = key_of(name)
    if value is None and (key is None or not notes):
        return None
    return _converted(Row(name, given, unit, key, value, notes))


def _number_of(cells: list[str], columns: Columns | None, name_at: int) -> tuple[str, float | None, tuple[str, ...]]:
    """The number as it is written, its value, and what was done with it."""
    if columns is not None:
        told = [(cells[at], *number_in(cells[at])) for at in columns.values if at < len(cells) and cells[at]]
        values = [value for _, value, _ in told if value is not None]
        notes = tuple(dict.fromkeys(note for _, _, those in told for note in those))
        said = (columns.said,) if columns.said and values else ()
        text = " – ".join(text for text, _, _ in told)
        return text, sum(values) / len(values) if values else None, (*said, *notes)
    for at, cell in enumerate(cells):
        if at == name_at:
            continue
        value, notes = number_in(cell)
        if value is not None or notes:
            return cell, value, notes
        split = re.match(rf"^\s*({NUMBER.pattern})\s*([^\d\s].*)$", cell)  # "104 mg/l" in one cell
        if split:
            value, notes = number_in(split[1])
            return split[1].strip(), value, notes
    return "", None, ()


def _unit_of(cells: list[str], columns: Columns | None, name_at: int, name: str) -> str:
    if columns is not None and columns.unit is not None and columns.unit < len(cells) and cells[columns.unit]:
        return cells[columns.unit]
    others = [re.sub(rf"^\s*{NUMBER.pattern}\s*", "", cell) for at, cell in enumerate(cells) if at != name_at]
    written = next((cell for cell in others if cell and _plain_unit(cell)), "")
    if written:
        return written
    brackets = [text for text in re.findall(r"[(\[]([^)\]]*)[)\]]", name) if _plain_unit(text)]
    head = columns.head_unit if columns else ""
    in_head = [text for text in re.findall(r"[(\[]([^)\]]*)[)\]]", head) if _plain_unit(text)]
    tail = re.search(r"(?:^|\s)([µuμ]?m?g\s?[A-Za-z0-9]*\s?/\s?[lL].*)$", name)
    return next(iter([*brackets, *in_head, *([tail[1]] if tail else [])]), "")


def _converted(row: Row) -> Row:
    """The row with its value as the site file takes it, and with what was done to get there."""
    t = words()
    if row.key is None or row.value is None:
        return row
    if row.key == "ph":
        return _within(replace(row, is_taken=True), 3.0, 11.0)
    if row.key in ("free_chlorine_mg_l", "total_chlorine_mg_l"):
        scale = MASSES.get(_plain_unit(row.unit) or "mg/l")
        return (
            replace(row, value=None, notes=(*row.notes, t("reports.no_unit")))
            if scale is None
            else _within(replace(row, value=row.value * scale, is_taken=True), 0.0, 20.0)
        )
    species = species_of(row.key, row.name, row.unit)
    notes = row.notes
    unit = row.unit
    if not _plain_unit(unit):
        unit, notes = "mg/l", (*notes, t("reports.unit_taken"))
    scale, told = milligrams(row.key, unit, species)
    if scale is None:
        return replace(row, value=None, notes=(*notes, t("reports.no_unit")))
    if (
        not species
        and row.key in WRITTEN_AS
        and told
        and "bicarb" not in row.name.lower()
        and _plain_unit(unit) in MASSES
    ):
        notes = (*notes, t("reports.species_taken", species=told))
    if not species and row.key == "HCO3" and re.search(r"bicarb|hydrog", row.name, re.IGNORECASE):
        scale, told = milligrams(row.key, unit, "HCO3")
    if scale is not None and abs(scale - 1.0) > 1e-9:
        notes = (*notes, t("reports.converted", factor=f"{scale:.4g}"))
    assert scale is not None
    most = float("inf") if row.key == "hardness" else _most(row.key)
    return _within(replace(row, value=row.value * scale, notes=notes, is_taken=True), 0.0, most)


def _most(key: str) -> float:
    """The most of an ion that the site file takes [mg/L]."""
    return float(next(item.le for item in IonsMgL.model_fields[key].metadata if hasattr(item, "le")))


def _within(row: Row, low: float, high: float) -> Row:
    if row.value is not None and low <= row.value <= high:
        return row
    return replace(row, is_taken=False, notes=(*row.notes, words()("reports.implausible")))


def _with_magnesium(rows: list[Row]) -> list[Row]:
    """Where calcium and total hardness are told and magnesium is not, it is what is left of the hardness."""
    known = {row.key: row.value for row in rows if row.value is not None}
    calcium, hardness = known.get("Ca"), known.get("hardness")
    if calcium is None or hardness is None or "Mg" in known:
        return rows
    left = hardness / molar_mass("CaCO3") - calcium / molar_mass("Ca")  # mmol/L
    if left <= 0.0:
        return rows
    t = words()
    value = left * molar_mass("Mg")
    return [*rows, Row(t("reports.magnesium"), "", "", "Mg", value, (t("reports.left_over"),), is_taken=True)]


def _once(rows: list[Row]) -> Iterator[Row]:
    """Of rows that are the same thing the first with a value is taken; hardness has no place of its own."""
    seen: set[str] = set()
    for row in rows:
        if row.key == "hardness":
            yield replace(row, is_taken=False, notes=(*row.notes, words()("reports.hardness")))
        elif row.key in seen and row.is_taken:
            yield replace(row, is_taken=False, notes=(*row.notes, words()("reports.twice")))
        else:
            yield row
        if row.key is not None and row.is_taken:
            seen.add(row.key)
