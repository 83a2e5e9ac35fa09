"""A water company's report, pasted or as a file: what its rows mean, in the units of the site file.

Names, units and layouts differ from company to company, so nothing is taken silently: every row keeps what it said and
what was made of it, a row that is not understood is kept as such, and where several columns could hold the results it
is asked which. Pure functions; nothing here is saved.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache
from itertools import takewhile, zip_longest
from typing import Final

from rinsewright.errors import InputError, Problem
from rinsewright.site.schema import IonsMgL
from rinsewright.web.report_terms import (
    BELOW,
    DATE,
    HYDROGEN_CARBONATE,
    MASSES,
    MEMORY,
    NUMBER,
    SAYS_PH,
    Marks,
    Told,
    hardness_of,
    key_of,
    marks_of,
    milligrams,
    molar_mass,
    names_something,
    plainly,
    species_of,
    told_in,
    unit_in,
    unit_in_name,
)
from rinsewright.web.words import words

Cells = list[list[str]]

MOST_ROWS, MOST_COLUMNS, LONGEST_LINE = 3000, 60, 4000
MOST_UNPACKED = 30_000_000  # bytes of a workbook; a report has some ten thousand
SHEET: Final = "\x1d"  # stands before the name of each sheet in a workbook's text
EXAMPLES: Final = 3  # rows that tell a column apart
CHLORINE_KEYS: Final = ("free_chlorine_mg_l", "total_chlorine_mg_l")
TRACES: Final = ("Fe", "Mn", "Sr", "Ba", "B")  # told in µg/l as often as in mg/l


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


@dataclass(frozen=True)
class Choice:
    """A sheet or a column to be chosen: what each holds, by its name; ``chosen`` is empty where it cannot be told."""

    name: str
    options: Mapping[str, str]
    chosen: str


@dataclass(frozen=True)
class Report:
    """What was read, and what can be chosen; there are no rows as long as something must be."""

    rows: tuple[Row, ...]
    choices: tuple[Choice, ...] = ()

    @property
    def is_open(self) -> bool:
        """Whether something must be chosen first."""
        return any(not choice.chosen for choice in self.choices)


# ---- from a text to cells ----


@dataclass(frozen=True)
class Grid:
    """The rows of a text; ``is_loose`` where no columns hold them together, so that a gap shifts what follows."""

    rows: Cells
    is_loose: bool = False
    has_commas: bool = False


def cells_of(text: str) -> Grid:
    """A text as a table: separated by tabs, semicolons, bars, commas or blanks; else each line by itself."""
    plain = text.replace("\r\n", "\n").replace("\r", "\n").replace("\x00", "").replace("\f", "\n")
    lines = [line[:LONGEST_LINE] for line in plain.split("\n") if line.strip()][:MOST_ROWS]
    grid = _split(lines)
    rows = [row[:MOST_COLUMNS] for row in grid.rows if any(re.search(r"\w", cell) for cell in row)]
    return replace(grid, rows=rows)


def _split(lines: list[str]) -> Grid:
    telling = [line for line in lines if names_something(line)] or lines
    for mark in ("\t", ";", "|"):
        if sum(mark in line for line in telling) > len(telling) / 2:
            return Grid(_columns(lines, mark))
    with_commas = [line for line in telling if line.count(",") >= 2 or re.match(r"^[^\d,]+,\s*[<>]?\d", line)]
    if len(with_commas) > len(telling) / 2 and not any(
        re.search(r"\d (?:mg|µg|mmol)[^,]*, ", line) for line in telling
    ):
        return Grid(_columns(lines, ","), has_commas=True)
    return _by_blanks(lines) or _loosely(lines)


def _columns(lines: list[str], mark: str) -> Cells:
    try:
        rows = list(csv.reader(lines, delimiter=mark, skipinitialspace=mark == ",", strict=True))
    except csv.Error:  # a quotation mark without its other one; it must not swallow the rows behind it
        rows = [line.replace('"', "").split(mark) for line in lines]
    return [[cell.strip() for cell in row] for row in rows]


def _by_blanks(lines: list[str]) -> Grid | None:
    """Columns that stand under each other, held apart by blanks all the way down; None where there are none."""
    wide = [line.expandtabs() for line in lines if re.search(r"\S {2,}\S", line)]
    if len(wide) < 2 or sum(names_something(line) for line in wide) < 2:
        return None
    width = max(map(len, wide))
    is_free = [all(line[at : at + 1] in ("", " ") for line in wide) for at in range(width)]
    free = "".join(" " if one else "x" for one in is_free)
    spans = [found.span() for found in re.finditer(r"x+(?: x+)*", free)]
    rows = [[line[start:end].strip() for start, end in spans] for line in wide]
    if len(spans) < 2 or any("  " in cell for row in rows for cell in row):
        return None
    return Grid(rows)


def _loosely(lines: list[str]) -> Grid:
    return Grid([cells for line in lines for piece in _pieces(line) if (cells := _loose(piece))], is_loose=True)


def _pieces(line: str) -> list[str]:
    """A line that tells several things, "Calcium 104 mg/l, Sodium 14 mg/l", one by one."""
    pieces = re.split(r"[,;]\s+(?=[^\W\d])", line)
    return pieces if len(pieces) > 1 and all(re.search(r"\d", piece) for piece in pieces) else [line]


_TOKEN: Final = re.compile(
    rf"(?:^|(?<=[\s:=]))({NUMBER}(?:\s*(?:-|–|to|bis)\s*{NUMBER})?"
    r"|not detected|nicht nachweisbar|n\.?n\.|n\.d\.|n\.b\.|n\.a\.|nd\b)(?=$|\s|[a-zµ°%])",
    re.IGNORECASE,
)


def _loose(line: str) -> list[str]:
    """A line without columns: its name, and each of its numbers with what stands behind it."""
    told = re.sub(r"\b(?:at|bei|à|a|bij) \d+\s*°?\s*C\b|\(?\bpH\s*8[.,]2\)?", "", line)
    told = BELOW.sub("<", told)
    told = re.sub(rf"\(?{SAYS_PH.pattern}\)?", "", told, flags=re.IGNORECASE)
    told = re.sub(r"[(\[].*?[)\]]", lambda aside: "" if kind_of(aside[0]) == "other" else aside[0], told)
    found = [token for token in _TOKEN.finditer(told) if not DATE.fullmatch(token[1].strip())]
    if not found:
        return [line.strip()]
    ends = [*(token.start(1) for token in found[1:]), len(told)]
    name = told[: found[0].start(1)].strip(" \t:=")
    if re.search(r"pH\s*8[.,]2", line):  # another alkalinity; the name must keep it
        name += " (pH 8.2)"
    return [name, *(told[token.start(1) : end].strip(" \t:=") for token, end in zip(found, ends, strict=True))]


def decoded(raw: bytes) -> str:
    """The text of a file as spreadsheets write it: UTF-8, UTF-16 with its mark, or else Windows-1252."""
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return raw.decode("utf-16", errors="replace")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")


def workbook_text(raw: bytes) -> str:
    """The cells of a workbook separated by tabs: of each sheet that names something, after a line with its name."""
    import zipfile

    import openpyxl

    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as packed:
            if sum(entry.file_size for entry in packed.infolist()) > MOST_UNPACKED:
                raise InputError(Problem(words()("reports.too_large")))
        values, formulas = (
            openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=data_only) for data_only in (True, False)
        )
        sheets = {
            sheet.title: list(_sheet_lines(sheet, written))
            for sheet, written in zip(values.worksheets, formulas.worksheets, strict=True)
        }
    except (zipfile.BadZipFile, KeyError, ValueError, OSError, TypeError):
        raise InputError(Problem(words()("reports.no_workbook"))) from None
    telling = {name: lines for name, lines in sheets.items() if _understood(lines)}
    return "\n".join(line for name, lines in telling.items() for line in (f"{SHEET}{name}", *lines))


def _sheet_lines(sheet: object, written: object) -> Iterator[str]:
    """The rows of a sheet; a formula whose result was not saved stands as it is written."""
    values, formulas = (
        each.iter_rows(max_row=MOST_ROWS, max_col=MOST_COLUMNS, values_only=True)  # type: ignore[attr-defined]
        for each in (sheet, written)
    )
    for row, formula in zip_longest(values, formulas, fillvalue=()):
        cells = [_cell(formula if value is None else value) for value, formula in zip_longest(row, formula)]
        if any(cells):
            yield "\t".join(cells)


def _cell(value: object) -> str:
    """A cell's text. A number gets a mark, so that its point is never taken for one of thousands."""
    if isinstance(value, float):
        return f"={value:.10g}"
    if isinstance(value, date):
        return f"{value:%Y-%m-%d}"
    return "" if value is None else " ".join(str(value).replace('"', "").split())


def _understood(lines: list[str]) -> int:
    return sum(key_of(cell) is not None for line in lines for cell in line.split("\t"))


def _sheets(text: str) -> dict[str, str]:
    before, *sheets = text.split(SHEET)
    if not sheets:
        return {"": before}
    return {name: rest for name, _, rest in (sheet.partition("\n") for sheet in sheets)}


# ---- heads ----

KINDS: Final = tuple(  # what a column is by its head, without accents; the first that fits holds
    (kind, re.compile(pattern))
    for kind, pattern in (
        (
            "other",  # limits, counts, methods, dates
            r"\b(pcv|limit\w*|limiet\w*|standards?|regulat\w*|prescribed|permi\w+|allow\w*|contaminant|mclg?|mac|smcl|vma|cma|vp"
            r"|goal|guid\w+|guia|guida|reference|referen\w*|riferimento|requirement\w*|spec\w*|threshold|target|indicat\w*"
            r"|indikator\w*|action|parametri\w*|maatregel\w*|eis|norme?n?|norma|exigence\w*|seuil\w*|admi\w+"
            r"|autori\w+|complian\w*|conform\w*|lod|loq|mdl|mrl|rl|lq|detection|uncertainty|unsicherheit\w*|incertitude"
            r"|incertidumbre|incertezza|onzekerheid|methode?|metodo|methods?|verfahren|trinkwv|verordnung|vorgabe\w*|d\.?lgs"
            r"|toleranz\w*|bemerkung\w*|remarks?|comments?|remarques?|notes?|anmerkung\w*|parameterwert\w*|gesetz\w*|legge|law|legal\w*|zulassung\w*|sollwert\w*|soll|zulassig\w*|bewertung|datum|date|fecha|data|anzahl|number|no\.?|nr\.?|count|nombre|numero|aantal"
            r"|contraventions?|fail\w*|exceed\w*|viol\w*|percentile|perzentil\w*|95|code|deviation|stdev|wettelijk\w*"
            r"|drinkwaterbesluit|besluit|directive|richtlinie|nachweis\w*|bg|ng)\b"
            r"|^n$|%|grenz\w*|grens\w*|anforderung|richtwaarde|richtwert|streefwaarde|massnahm|maßnahm|messunsicher|uberschreit"
            r"|\b(samples?|tests?)\b(?! ?(\d|[a-z]\b))",
        ),
        (
            "mean",
            r"\b(mean|average|avg|durchschnitt\w*|moyenn?e?s?|moy|medias?|promedio|medi[oa]|gemiddelde?)\b|mittel|ø",
        ),
        ("median", r"\bmedian[ae]?\b|\bmediaan\b"),
        ("result", r"\b(detected|found|measured|gemessen\w*|mesure\w*|medid[oa]|rilevat[oa]|gemeten)\b"),
        ("least", r"\b(min|minim\w*|lowest|low|kleinst\w*|niedrigst\w*|tiefst\w*|laagste?|mindest\w*)\b"),
        ("most", r"\b(max|maxim\w*|massim\w*|highest|high|peak|hochst\w*|grosst\w*|größt\w*|hoogste?)\b"),
        ("range", r"\b(range|spanne|bereich|schwankung\w*|plage|rango|intervallo)\b"),
        (
            "result",
            r"\b(values?|results?|concentrations?|levels?|found|measured|measurements?|readings?|amount|detected|\w*wert|\w*werte"
            r"|\w*ergebnis\w*|befund|konzentration|gehalt|gemessen|valeurs?|resultats?|teneurs?|mesures?|valor(es)?|resultados?"
            r"|concentracion|contenido|valor[ei]|risultat[oi]|concentrazione|contenuto|waarden?|meetwaarden?|resultaat|resultaten"
            r"|gehalte|gemeten|uitslag)\b",
        ),
        ("unit", r"\b(units?|einheit(en)?|unites?|unidad(es)?|unita|eenheid|eenheden|uom)\b"),
        (
            "name",
            r"\b(parameters?|determinands?|substances?|names?|analytes?|stoff?|parametres?|parametros?|parametri|ion|ions"
            r"|bezeichnung|kenngrosse|untersuchung|element|component|bestandteil|contaminants?)\b",
        ),
    )
)
_YEAR: Final = re.compile(r"(19|20)\d\d")
_STATUS: Final = re.compile(
    r"(ok|yes|no|ja|nein|oui|non|si|pass(ed)?|compl\w+|conform\w*|erfullt|eingehalten|good|gut|-)"
)


@lru_cache(maxsize=MEMORY)
def kind_of(head: str) -> str:
    """What a column is by its head: ``result``, ``mean``, ``other`` (limits, counts), …; empty where it is not said."""
    if unit_in(head)[0] and not re.search(r"\bunits?\b", head.lower()):
        return "unit"
    plain = plainly(head)
    return next((kind for kind, pattern in KINDS if pattern.search(plain)), "")


def _kind_below(above: str, is_own: bool, head: str) -> str:
    """The same with what stands above the head; a limit's lowest and highest are no results, nor is its unit."""
    own, over = kind_of(head), kind_of(above)
    if over == "other" and (is_own or own in ("least", "most", "unit", "")):
        return "other"
    return over if over and own in ("unit", "") else own


def _may_be_head(cells: Sequence[str], marks: Marks) -> bool:
    if not any(cells[1:]) or any(len(cell) > 80 for cell in cells):
        return False
    if any(key_of(cell) for at, cell in enumerate(cells[:4]) if not at or len(cell) > 1):  # zone B is not boron
        return False
    return not any(_has_value(cell, marks) and not _only_counts(cell) for cell in cells)


def _only_counts(cell: str) -> bool:
    """Whether a number is no result but a year, or stands before a word: ``2024``, ``95 percentile``."""
    if _YEAR.fullmatch(cell.lstrip("=")):
        return True
    return re.match(r"\d+[\s.-]*[^\W\d_]{3}", cell) is not None and not unit_in(told_in(cell).unit)[0]


def _has_value(cell: str, marks: Marks) -> bool:
    told = told_in(cell, marks)
    return told.value is not None or bool(told.notes)


def _is_head(cells: Sequence[str], marks: Marks) -> bool:
    return _may_be_head(cells, marks) and sum(bool(kind_of(cell)) for cell in cells if cell) >= 2


# ---- tables ----


@dataclass(frozen=True)
class Table:
    """Rows under one head: where the names and units stand, and which columns may hold the results.

    ``options`` by their names, each with its columns; ``chosen`` is the name of one, empty where it cannot be told.
    """

    rows: Cells
    name: int = 0
    units: tuple[int, ...] = ()
    heads: tuple[str, ...] = ()
    options: tuple[tuple[str, tuple[int, ...]], ...] = ()
    chosen: str = ""
    said: str = ""
    is_loose: bool = False
    most_cells: int = 0  # where commas hold the columns apart: more of them are decimals

    def example(self, columns: Sequence[int]) -> str:
        """The first numbers of columns with their names."""
        shown = [
            f"{row[self.name]} {' – '.join(row[at].lstrip('=') for at in columns)}"
            for row in self.rows
            if (len(row) == len(self.options) + 1 if self.is_loose else len(row) > max(self.name, *columns))
            and key_of(row[self.name])
            and all(row[at] for at in columns)
        ]
        return ", ".join(shown[:EXAMPLES])


def tables_of(grid: Grid, marks: Marks) -> list[Table]:
    """The tables of a report, each with its head; a table whose names stand side by side is turned."""
    if grid.is_loose:
        return [_loose_table(grid.rows)]
    rows = _turned(grid.rows, marks)
    is_head = [_is_head(cells, marks) for cells in rows]
    starts = [at for at, one in enumerate(is_head) if one and not (at and is_head[at - 1])]
    tables = []
    for start, end in zip([0, *starts], [*starts, len(rows)], strict=True):
        if start == end:
            continue
        block = rows[start:end]
        if start in starts:
            heads = list(takewhile(lambda cells: _may_be_head(cells, marks), block))
            block = block[len(heads) :]
            if start and _may_be_head(rows[start - 1], marks):
                heads.insert(0, rows[start - 1])
        else:
            leading = list(takewhile(lambda cells: not any(key_of(cell) for cell in cells[:4]), block))
            heads = list(takewhile(lambda cells: _may_be_head(cells, marks), reversed(leading)))[:2][::-1]
        tables.append(_table(block, heads, marks, grid.has_commas))
    return tables


def _turned(rows: Cells, marks: Marks) -> Cells:
    """The rows, turned where the names stand in a row and not in a column."""
    named = [sum(key_of(cell) is not None for cell in cells) for cells in rows]
    at = next(
        (n for n, many in enumerate(named) if many >= 3 and all(told_in(c, marks).value is None for c in rows[n])), None
    )
    if at is None or sum(many > 0 for many in named) >= named[at]:
        return rows
    return [list(column) for column in zip_longest(*rows[at:], fillvalue="")]


def _loose_table(rows: Cells) -> Table:
    """Lines with one number each, or as many as most have; which of them is the result is then asked."""
    counts = Counter(len(row) - 1 for row in rows if len(row) > 1 and key_of(row[0]))
    usual = min((count for count, many in counts.items() if many == max(counts.values())), default=1)
    t = words()
    options = tuple((t("reports.column", n=at), (at,)) for at in range(1, usual + 1))
    return Table(rows, options=options, chosen=options[0][0] if usual == 1 else "", is_loose=True)


def _table(rows: Cells, heads: Cells, marks: Marks, has_commas: bool) -> Table:
    width = max((len(row) for row in (*rows, *heads)), default=0)
    most = len(heads[-1]) if has_commas and heads else 0
    width = most or width
    counts = [sum(len(row) > at and key_of(row[at]) is not None for row in rows) for at in range(width)]
    labels, kinds = _heads(heads, width)
    called = [at for at in range(width) if kinds[at] == "name" and counts[at]]  # else a column of groups may be taken
    name = called[0] if called else counts.index(max(counts)) if width else 0
    known = [row for row in rows if len(row) > name and key_of(row[name])]
    units = tuple(at for at in range(width) if at != name and _holds_units(known or rows, at, kinds[at], marks))
    holding = [
        at
        for at in range(width)
        if at not in (name, *units) and any(len(row) > at and _has_value(row[at], marks) for row in known or rows)
    ]
    behind = [at for at in holding if at > name or kinds[at] not in ("", "other")]  # before the names rows are counted
    holding = behind or holding
    results = [at for at in holding if kinds[at] != "other"]
    names = _names(labels, results or holding)
    options: list[tuple[str, tuple[int, ...]]] = [(names[at], (at,)) for at in results or holding]
    chosen, said = _decided({at: kinds[at] for at in results}, names, bool(heads))
    least, highest = ([at for at in results if kinds[at] == kind] for kind in ("least", "most"))
    if len(least) == len(highest) == 1:
        options.append((words()("reports.middle"), (*least, *highest)))
    if not known and options and not chosen:  # nothing here is taken; it is only shown
        chosen = options[0][0]
    return Table(rows, name, units, tuple(labels) if heads else (), tuple(options), chosen, said, most_cells=most)


def _heads(heads: Cells, width: int) -> tuple[list[str], list[str]]:
    """The columns' names and kinds, from one or more rows of heads; what stands above holds to its right as well."""
    labels, is_own = [""] * width, [False] * width
    for cells in heads[:-1]:
        over = ""
        for at in range(width):
            own = cells[at] if at < len(cells) else ""
            over = (own or over) if at else ""
            labels[at] = _joined(labels[at], own or over)
            is_own[at] |= bool(own)
    lowest = [*heads[-1], *[""] * width][:width] if heads else labels
    kinds = [_kind_below(labels[at], is_own[at], head) for at, head in enumerate(lowest)]
    return [_joined(above, head) for above, head in zip(labels, lowest, strict=True)], kinds


def _joined(above: str, head: str) -> str:
    return above if head in above else f"{above} {head}".strip()


def _holds_units(rows: Cells, at: int, kind: str, marks: Marks) -> bool:
    cells = [row[at] for row in rows if len(row) > at and row[at]]
    if sum(_has_value(cell, marks) for cell in cells) > len(cells) / 2:
        return False
    return kind == "unit" or sum(bool(unit_in(cell)[0]) for cell in cells) > len(cells) / 2


def _names(labels: Sequence[str], columns: Sequence[int]) -> dict[int, str]:
    """A name of its own for each column."""
    told = {at: labels[at].lstrip("=") for at in columns}
    many = Counter(told.values())
    places = {at: words()("reports.column", n=at + 1) for at in columns}
    return {
        at: text if text and many[text] == 1 else f"{text} ({places[at]})" if text else places[at]
        for at, text in told.items()
    }


def _decided(kinds: Mapping[int, str], names: Mapping[int, str], has_heads: bool) -> tuple[str, str]:
    """Which option holds the results and what is to be said of it; empty where it cannot be told."""
    t = words()

    def only(kind: str) -> int | None:
        found = [at for at, one in kinds.items() if one == kind]
        return found[0] if len(found) == 1 else None

    for kind, said in (("mean", t("reports.mean")), ("median", t("reports.median"))):
        if (at := only(kind)) is not None:
            return names[at], said
        if kind in kinds.values():
            return "", ""
    rest = {"least", "most", "range"}
    at = only("result")
    if at is not None and set(kinds.values()) <= {"result", *rest}:
        return names[at], ""
    if len(kinds) == 1:
        ((at, kind),) = kinds.items()
        from_here = t("reports.from_column", column=names[at]) if has_heads and kind != "result" else ""
        return (names[at], from_here) if kind not in ("least", "most") else ("", "")  # that may be a limit
    if only("least") is not None and only("most") is not None and set(kinds.values()) <= rest:
        return t("reports.middle"), t("reports.middle")
    return "", ""


# ---- rows ----


def read_report(text: str, sheet: str = "", column: str = "") -> Report:
    """Every row of a report that holds a number, or is something that the site file knows.

    ``sheet`` and ``column`` are the names of what was chosen among its sheets and columns.
    """
    sheets, choices = _sheets(text), []
    if len(sheets) > 1:
        chosen = sheet if sheet in sheets else ""
        held = {name: _held(rest) for name, rest in sheets.items()}
        choices.append(Choice("sheet", held, chosen))
        if not chosen:
            return Report((), tuple(choices))
        sheets = {chosen: sheets[chosen]}
    grid = cells_of(next(iter(sheets.values())))
    marks = marks_of(cell for row in grid.rows for cell in row)
    tables = tables_of(grid, marks)
    options = {name: table.example(columns) for table in reversed(tables) for name, columns in reversed(table.options)}
    options = dict(reversed([*options.items()]))
    if any(len(table.options) > 1 or not table.chosen for table in tables if table.options):
        default = next((table.chosen for table in tables if len(table.options) > 1), "")
        is_open = any(table.options and not table.chosen for table in tables)
        chosen = column if column in options else "" if is_open else default
        choices.append(Choice("column", options, chosen))
        if not chosen:
            return Report((), tuple(choices))
    rows = [row for table in tables for row in _rows_of(table, column, marks)]
    return Report(tuple(_once(_with_magnesium(rows))), tuple(choices))


def _held(sheet: str) -> str:
    rows = [[cell.lstrip("=") for cell in line.split("\t") if cell] for line in sheet.split("\n")]
    return ", ".join([" ".join(row) for row in rows if len(row) > 1 and any(map(key_of, row))][:EXAMPLES])


def _rows_of(table: Table, column: str, marks: Marks) -> Iterator[Row]:
    options = dict(table.options)
    chosen = column if column in options else table.chosen
    said = table.said if chosen == table.chosen else words()("reports.from_column", column=chosen)
    for cells in table.rows:
        row = _read_row(cells, table, options.get(chosen, ()), said, marks)
        if row is not None:
            yield row


def _read_row(cells: list[str], table: Table, columns: Sequence[int], said: str, marks: Marks) -> Row | None:
    t = words()
    name = cells[table.name] if table.name < len(cells) else ""
    if not name or told_in(name, marks).value is not None:
        return None
    key = key_of(name)
    if table.most_cells and any(cells[table.most_cells :]):
        return Row(name, ", ".join(cells[1:]), "", key, None, (t("reports.too_many"),))
    if table.is_loose and len(cells) > 1 and len(cells) - 1 != len(table.options):
        why = t("reports.several", many=len(cells) - 1, usual=len(table.options))
        return Row(name, "; ".join(cells[1:]), "", key, None, (why,))
    told = [told_in(cells[at], marks) for at in columns if at < len(cells) and told_in(cells[at], marks) != Told()]
    given = " – ".join(one.given for one in told)
    values = [one.value for one in told if one.value is not None]
    notes = tuple(dict.fromkeys(note for one in told for note in one.notes))
    if not values or len(values) < len(told):
        others = [cell for at, cell in enumerate(cells) if at != table.name and _has_value(cell, marks)]
        if key is None or not (told or others):
            return None
        why = t("reports.no_number", given=given) if given else t("reports.nothing_there")
        return Row(name, given, "", key, None, notes or (why,))
    unit = _unit_of(cells, table, columns[0], told[0], name)
    row = Row(name, given, unit, key, sum(values) / len(values), (*((said,) if said else ()), *notes))
    return _converted(row)


def _unit_of(cells: list[str], table: Table, at: int, told: Told, name: str) -> str:
    """The unit of a number: behind it, in its column, name or head; what is none is kept to be refused."""
    near = sorted(
        (column for column in table.units if column < len(cells)), key=lambda one: (one != at + 1, abs(one - at))
    )
    written = [told.unit, *(cells[column] for column in near)]
    others = [told_in(cell).unit for cell in cells[1:]] if table.is_loose else []
    head = unit_in_name(table.heads[at]) if at < len(table.heads) and key_of(name) != "ph" else ""
    for text in (*written, unit_in_name(name), head, *others):
        if unit_in(text)[0]:
            return text
    if not table.heads or not any(table.heads):
        written += [cell for cell in cells[at - 1 : at + 2 : 2] if cell != name and not re.search(r"\d", cell)]
    return next((text for text in written if re.search(r"\w", text) and not _STATUS.fullmatch(plainly(text))), "")


def _converted(row: Row) -> Row:
    """The row with its value as the site file takes it, and with what was done to get there."""
    if row.key is None or row.value is None:
        return row
    if row.key == "ph":
        plain, _ = unit_in(row.unit)
        return _within(replace(row, is_taken=True), 3.0, 11.0) if plain in ("", "ph") else _refused(row)
    if row.key in CHLORINE_KEYS:
        return _chlorine(row)
    return _dissolved(row)


def _chlorine(row: Row) -> Row:
    scale = MASSES.get(unit_in(row.unit)[0]) if row.unit else 1.0
    if scale is None or row.value is None:
        return _refused(row)
    notes = row.notes if row.unit else (*row.notes, words()("reports.unit_taken"))
    return _within(replace(row, value=row.value * scale, notes=notes, is_taken=True), 0.0, 20.0)


def _dissolved(row: Row) -> Row:
    t = words()
    assert row.key is not None
    assert row.value is not None
    unit, notes, is_certain = row.unit, row.notes, True
    is_equivalent = row.key in ("hardness", "HCO3") or bool(hardness_of(row.name))
    species = species_of(row.key, row.name, unit)
    if species is None:
        return replace(row, value=None, notes=(*notes, t("reports.no_species")))
    if not unit and is_equivalent and (word := _degree_of(row.name)):
        unit, notes = word, (*notes, t("reports.unit_as", unit=word.replace("h", "H")))
    if not unit and is_equivalent and not HYDROGEN_CARBONATE.search(plainly(row.name)):
        return replace(row, value=None, notes=(*notes, t("reports.unit_needed")))
    if not unit:
        unit, notes, is_certain = "mg/l", (*notes, t("reports.unit_taken")), row.key not in TRACES
    plain, _ = unit_in(unit)
    if not species and is_equivalent and plain in MASSES:
        species = "HCO3" if row.key == "HCO3" and HYDROGEN_CARBONATE.search(plainly(row.name)) else "CaCO3"
        notes = (*notes, t("reports.species_taken", species=species))
    elif species and species != row.key:
        notes = (*notes, t("reports.species_given", species=species))
    scale, _ = milligrams(row.key, unit, species)
    if scale is None:
        return _refused(row)
    if plain == "gpg":
        notes = (*notes, t("reports.us_gallon"))
    if abs(scale - 1.0) > 1e-9:
        notes = (*notes, t("reports.converted", factor=f"{scale:.4g}"))
    return _within(replace(row, value=row.value * scale, notes=notes, is_taken=is_certain), 0.0, _most(row.key))


def _degree_of(name: str) -> str:
    """The degree that a name stands for where no unit is told: TH and TAC are French, GH and KH German."""
    plain = plainly(name)
    if re.search(r"\b(th|tac)\b|\btitre\b", plain):
        return "°f"
    return "°dh" if re.search(r"\b(gh|kh)\b", plain) else ""


def _refused(row: Row) -> Row:
    return replace(row, value=None, is_taken=False, notes=(*row.notes, words()("reports.no_unit", unit=row.unit)))


def _most(key: str) -> float:
    """The most of it that the site file takes [mg/L]."""
    if key == "hardness":
        return 3000.0
    return float(next(item.le for item in IonsMgL.model_fields[key].metadata if hasattr(item, "le")))


def _within(row: Row, low: float, high: float) -> Row:
    if row.value is not None and low <= row.value <= high:
        return row
    return replace(row, is_taken=False, notes=(*row.notes, words()("reports.implausible")))


def _first(rows: Sequence[Row], key: str) -> float | None:
    return next((row.value for row in rows if row.key == key and row.is_taken), None)


def _with_magnesium(rows: list[Row]) -> list[Row]:
    """Where calcium and total hardness are told and magnesium is not, it is what is left of the hardness."""
    calcium, hardness = _first(rows, "Ca"), _first(rows, "hardness")
    if calcium is None or hardness is None or any(row.key == "Mg" and row.value is not None for row in rows):
        return rows
    left = hardness / molar_mass("CaCO3") - calcium / molar_mass("Ca")  # mmol/L
    if left <= 0.0:
        return rows
    t = words()
    value = left * molar_mass("Mg")
    return [*rows, Row(t("reports.magnesium"), "", "", "Mg", value, (t("reports.left_over"),), is_taken=True)]


def _once(rows: list[Row]) -> Iterator[Row]:
    """Of rows that are the same thing the first with a value is taken.

    Hardness follows from calcium and magnesium. Without calcium it is a reading, as the alkalinity is then, and other
    ions make no analysis.
    """
    t = words()
    has_calcium = _first(rows, "Ca") is not None
    is_reading = not has_calcium and _first(rows, "hardness") is not None
    seen: set[str] = set()
    for row in rows:
        if not row.is_taken:
            yield row
        elif row.key in seen:
            yield replace(row, is_taken=False, notes=(*row.notes, t("reports.twice")))
        elif row.key == "hardness" and has_calcium:
            yield replace(row, is_taken=False, notes=(*row.notes, t("reports.hardness")))
        elif is_reading and row.key in ("hardness", "HCO3"):
            yield replace(row, notes=(*row.notes, t("reports.reading")))
        elif is_reading and row.key in IonsMgL.model_fields:
            yield replace(row, is_taken=False, notes=(*row.notes, t("reports.no_calcium")))
        else:
            yield row
        if row.key is not None and row.is_taken:
            seen.add(row.key)
