"""The nomenclature page, and what of the code is missing from it."""

from __future__ import annotations

import ast
import io
import re
import tokenize
from collections.abc import Iterable, Iterator
from pathlib import Path

from docs.generating import fields
from docs.generating.markdown import code, number, page, table
from docs.generating.names import COLUMNS, ENDINGS, NO_SYMBOLS, NOT_UNITS, SYMBOLS, UNIT_TOKENS, Ending
from rinsewright import quantities
from rinsewright.catalogue.fields import UNIT_WORDS
from rinsewright.planning.answers import ANSWERS
from rinsewright.site.schema import WEEKDAYS, SiteFile
from rinsewright.water.ions import CHARGE, INDEX, MOLAR_MASS, SOLUTES

SOURCE = Path(__file__).parents[2] / "src" / "rinsewright"
NO_ENDING = Ending("", "", 1.0, "1")
NAMELESS = ("", "share", "money", "L", "money/m³")  # a name need not carry these
NAMED_BY_TABLE = ("eq/L",)  # capacity_eq_per_l = { cation, anion }

INTRO = """
One spelling and one unit for each quantity. Names that meet a person carry their unit at their end: `flow_l_min`,
`pressure_bar`. Inside the package everything is in SI: gauge pressures, absolute temperatures, concentrations in
mol/m³; names there carry a unit only where it may be doubted (`standing_pa`, `temperature_k`).
"""


# ---- the page ----


def nomenclature() -> str:
    """The page."""
    return page(
        "Nomenclature",
        INTRO,
        "## Endings that carry a unit",
        table(("Ending", "Unit", "Quantity", "In SI"), _endings()),
        "### Constants",
        "The same factors as the code names them, in `rinsewright.quantities`: a value in the unit times the constant "
        "is SI.",
        table(("Name", "Value", "Unit"), _constants()),
        "## Keys of the site file and of the answers",
        "Every key with its quantity, unit and place; tables and lists are left out.",
        table(("Key", "Quantity", "Unit", "Where"), _keys()),
        "## Columns of a batch",
        table(("Column", "Quantity", "Unit"), [(code(k), v, ending_of(k).unit) for k, v in COLUMNS.items()]),
        "## What is dissolved",
        "HCO3 is total alkalinity, written as bicarbonate. NH4, Fe, Mn, PO4 and B are totals. PO4 and B carry the "
        "charge that they conserve; the rest of theirs is in the alkalinity.",
        table(("Name", "Quantity", "Charge", "Molar mass [g/mol]"), _solutes()),
        "## Symbols of the equations",
        "In SI unless said otherwise. Where a letter stands for two things, the subject tells which.",
        table(("Symbol", "Stands for", "Unit", "In the code"), _symbols()),
    )


def _endings() -> Iterator[tuple[str, str, str, str]]:
    for name, ending in ENDINGS.items():
        si = "" if ending.unit == ending.si_unit else f"{number(ending.si)} {ending.si_unit.removesuffix('1')}".strip()
        yield code(f"_{name}"), ending.unit, ending.what, si


def _constants() -> Iterator[tuple[str, str, str]]:
    """The constants with the words behind them."""
    for line in (SOURCE / "quantities.py").read_text(encoding="utf-8").splitlines():
        if found := re.fullmatch(r"([A-Z][A-Z0-9_]*) = .+?  # (.+)", line):
            yield code(found[1]), number(float(getattr(quantities, found[1]))), found[2]


def declared_keys() -> list[tuple[str, str, str, str]]:
    """Key, quantity, unit and table of every key with a number, in the site file and in the answers."""
    found = []
    for root, models in (("site file", fields.all_models(SiteFile)), ("answers", answer_models())):
        for model in models:
            for name, field in model.model_fields.items():
                extra = field.json_schema_extra
                if isinstance(extra, dict) and "unit" in extra:
                    found.append((fields.key_of(name, field), field.title or "", fields.unit(field), root))
    return found


def answer_models() -> list[fields.Model]:
    """Every table of every answer, each once."""
    return list(dict.fromkeys(model for answer in ANSWERS.values() for model in fields.all_models(answer)))


def _keys() -> list[tuple[str, str, str, str]]:
    merged: dict[tuple[str, str], dict[str, list[str]]] = {}
    for key, what, unit, where in declared_keys():
        if key not in INDEX:
            entry = merged.setdefault((key, unit), {"what": [], "where": []})
            entry["what"] += [] if what in entry["what"] else [what]
            entry["where"] += [] if where in entry["where"] else [where]
    rows = sorted(merged.items(), key=lambda row: (row[0][0].lower(), row[0]))
    return [(code(key), "; ".join(row["what"]), unit, ", ".join(row["where"])) for (key, unit), row in rows]


def _solutes() -> Iterator[tuple[str, str, str, str]]:
    titles = {key: what for key, what, _, _ in declared_keys() if key in INDEX}
    for name in SOLUTES:
        charge, mass = int(CHARGE[INDEX[name]]), float(MOLAR_MASS[INDEX[name]]) * 1e3
        yield code(name), titles[name], f"{charge:+d}".replace("-", "−") if charge else "0", f"{mass:.4g}"


def _symbols() -> list[tuple[str, str, str, str]]:
    return [(symbol, entry.what, entry.unit, entry.code and code(entry.code)) for symbol, entry in SYMBOLS.items()]


# ---- what is missing from it ----


def ending_of(name: str) -> Ending:
    """The longest known ending of a name; an empty one where it has none."""
    return ENDINGS.get(_ending(name), NO_ENDING)


def _ending(name: str) -> str:
    words = name.strip("_").lower().split("_")
    runs = ("_".join(words[start:]) for start in range(len(words)))
    return next((run for run in runs if run in ENDINGS), "")


def carried(name: str) -> str:
    """The words at the end of a name that look like a unit: ``l_min`` of ``flow_l_min``; empty where none do."""
    words = name.strip("_").lower().split("_")
    start = len(words)
    if words[-1] in ("day", "year", "hour") and words[-2:-1] == ["per"]:
        start -= 2
    while start > 0 and (words[start - 1] in UNIT_TOKENS or words[start - 1] == "per"):
        start -= 1
    run = words[start:]
    return "" if run in ([], ["per"]) or (start == 0 and len(run[0]) == 1 == len(run)) else "_".join(run)


def unexplained_names(names: Iterable[str]) -> list[str]:
    """Names that end in a unit which the page does not hold."""
    known = {entry.code for entry in SYMBOLS.values()} | {symbol.lower() for symbol in SYMBOLS}
    return [
        name
        for name in dict.fromkeys(names)
        if len(carried(name)) > len(_ending(name))
        and name.strip("_").lower() not in known
        and name not in NOT_UNITS
        and name not in INDEX
    ]


def unexplained_keys(keys: Iterable[tuple[str, str, str, str]]) -> list[str]:
    """Keys without words, keys whose unit the page does not hold, and keys whose name says another unit, or none."""
    units = {ending.unit for ending in ENDINGS.values()} | set(UNIT_WORDS)
    return [
        f"{key} [{unit}]"
        for key, what, unit, _ in keys
        if not what or unit not in units or not (key in INDEX or _says(key, unit))
    ]


def _says(key: str, unit: str) -> bool:
    """Whether a key's name and its unit agree. A price may name its money alone, a share and a count nothing."""
    ending = ending_of(key).unit
    if key in NOT_UNITS:
        return unit == ""
    if ending:
        return ending == unit or ending.startswith((f"{unit}/", f"{unit} a "))
    inside = [other.unit for name, other in ENDINGS.items() if f"_{name}_" in f"_{key}_"]
    return unit in inside or unit in NAMED_BY_TABLE or key in WEEKDAYS or (not inside and unit in NAMELESS)


def unexplained_symbols(text: str) -> list[str]:
    """Symbols in equations and Greek letters anywhere in a text, which the page does not hold."""
    text = text.replace("\u03bc", "µ")
    greek = re.findall(r"[\u0370-\u03ffµ]", re.sub(r"µ(?=S/|m\b|g/)", "", text))
    latin = [symbol for line in text.splitlines() for symbol in _of_equation(line)]
    return [symbol for symbol in dict.fromkeys([*greek, *latin]) if not _explained(symbol)]


def _explained(symbol: str) -> bool:
    """On the page itself, or as the letter that an index is put to."""
    letter = symbol.partition("_")[0]
    return symbol in SYMBOLS or letter in SYMBOLS or letter.lower() in NO_SYMBOLS or symbol in INDEX


def _of_equation(line: str) -> Iterator[str]:
    """One- and two-letter words, with their subscript, of the parts of a line that are equations."""
    for part in re.split(r" {3,}", line):
        if re.search(r"(?<![<>=!])=(?!=)", part) and not part.lstrip().startswith((">>>", "{", "(")):
            yield from re.findall(
                r"(?<![\w.\"'`/-])([A-Za-z]{1,2}(?:_[A-Za-z0-9]+)?)(?![\w\"'/-])", re.sub(r"\[[^\]]*\]|°C", "", part)
            )


def names_in(source: str) -> Iterator[str]:
    """Names that a source file gives to arguments, fields, variables and functions."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef):
            yield node.name
            yield from (each.arg for each in [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs])
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            yield node.target.id
        elif isinstance(node, ast.Assign):
            yield from (target.id for target in node.targets if isinstance(target, ast.Name))


def words_in(source: str) -> Iterator[str]:
    """Docstrings and comments of a source file."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and (text := ast.get_docstring(node)):
            yield text
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.COMMENT and "=" not in token.string:
            yield token.string


def sources() -> list[Path]:
    """The package's files that compute; the papers draw, the command line only asks, and the units are the page."""
    aside = {"papers", "cli", "quantities.py"}
    return [file for file in sorted(SOURCE.rglob("*.py")) if not aside & set(file.relative_to(SOURCE).parts)]
