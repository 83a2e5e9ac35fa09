"""A table of the site file as a form: one field for every key, made from the models that check the file.

What is typed goes back into the file's text key by key; a key that was not touched stays as it is written there.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from rinsewright.catalogue.fields import Clock, MonthDay, needed
from rinsewright.papers.units import Quantity, Unit, Units
from rinsewright.web.forms import Typed, clock, month_day
from rinsewright.web.keys import bare, capital, hint, is_table, item_in, keys, marks_of, told

BLANK_ROWS = 2  # at the end of a list of tables, for more
MANY = 7  # numbers, as of a week
TIDY = ((Clock, clock), (MonthDay, month_day))
QUANTITIES: dict[str, Quantity] = {"°C": "temperature", "bar": "pressure", "L": "volume", "L/min": "flow"}
Kind = Literal["number", "whole", "text", "yes", "choice", "numbers", "texts"]


@dataclass(frozen=True)
class Field:
    """One key as a field: what it is called, what stands in it, what holds while it is empty."""

    name: str
    path: tuple[str | int, ...]
    label: str
    hint: str
    kind: Kind
    unit: Unit
    low: float = -1e12
    high: float = 1e12
    choices: tuple[str, ...] = ()
    is_needed: bool = False
    is_required: bool = False  # and by nothing but the file
    is_given: bool = False
    shown: str = ""  # as it stands in the field
    otherwise: str = ""  # what holds while it is empty
    from_catalogue: bool = False  # where that comes from
    is_reference: bool = False  # a name of the catalogue
    how: str = ""  # how it is measured
    tidy: Callable[[str], str] = str  # text as the file writes it

    @property
    def options(self) -> dict[str, str]:
        """What can be chosen, and how it is called."""
        return {choice: told(choice) for choice in self.choices}

    @property
    def as_buttons(self) -> bool:
        """Whether it is chosen by large buttons: one of a few, and none of them only where something else holds."""
        return 0 < len(self.choices) <= 3 and bool(self.choices[0]) and (bool(self.otherwise) or self.is_needed)

    @property
    def word(self) -> str:
        """The unit as it is written behind the field."""
        return self.unit.word


@dataclass(frozen=True)
class Rows:
    """A list of small tables, as rows of a table; ``rows`` has some blank ones at its end."""

    name: str
    path: tuple[str | int, ...]
    label: str
    rows: tuple[tuple[Field, ...], ...]
    filled: int
    is_needed: bool = False
    how: str = ""

    @property
    def is_first(self) -> bool:
        """Whether it stands among the first: a row is filled, or must be."""
        return self.is_needed or self.filled > 0


@dataclass(frozen=True)
class Group:
    """The fields of a table within a table."""

    name: str
    label: str
    fields: tuple[Field, ...]
    is_needed: bool = False

    @property
    def is_even(self) -> bool:
        """Whether it is many numbers, which stand side by side."""
        return len(self.fields) >= MANY and all(field.kind == "number" for field in self.fields)

    @property
    def is_first(self) -> bool:
        """Whether it stands among the first: something of it is given, or must be."""
        return self.is_needed or any(field.is_given for field in self.fields)


@dataclass(frozen=True)
class TableForm:
    """The fields of one table: those of its own, those of tables within it, and its lists of small tables."""

    fields: tuple[Field, ...]
    groups: tuple[Group, ...]
    lists: tuple[Rows, ...]
    model: type[BaseModel]

    def all_fields(self) -> Iterator[Field]:
        """Every field, those of rows too."""
        yield from self.fields
        for group in self.groups:
            yield from group.fields
        for rows in self.lists:
            for row in rows.rows:
                yield from row

    @property
    def first(self) -> tuple[Field, ...]:
        """Fields that are given or needed, and before them the catalogue's name that can stand for all of them."""
        names = tuple(field for field in self.fields if field.is_reference)
        return names + tuple(
            field for field in self.fields if (field.is_given or field.is_needed) and field not in names
        )

    @property
    def given(self) -> tuple[Field, ...]:
        """Those that the file has."""
        return tuple(field for field in self.fields if field.is_given)

    @property
    def rest(self) -> tuple[Field, ...]:
        """The others, which hold their defaults."""
        return tuple(field for field in self.fields if field not in self.first)

    @property
    def blocks(self) -> tuple[Group | Rows, ...]:
        """What holds several fields together."""
        return (*self.groups, *self.lists)

    @property
    def has_first(self) -> bool:
        """Whether anything stands before that touch behind which the rest is."""
        return bool(self.first) or any(block.is_first for block in self.blocks)

    @property
    def has_more(self) -> bool:
        """Whether anything is left for behind one touch."""
        return bool(self.rest) or any(not block.is_first for block in self.blocks)

    def opens(self, typed: Typed) -> bool:
        """Whether what is behind that touch is shown: nothing is before it, or something there was refused or typed."""
        first = {field.name for field in self.first}
        behind = {block.name for block in self.blocks if not block.is_first}
        rest = [field for field in self.all_fields() if field.name not in first]
        rest = [field for field in rest if len(field.path) == 1 or field.path[0] in behind]
        typed_there = any(typed.values.get(field.name, field.shown) != field.shown for field in rest)
        refused_there = {*behind, *(field.name for field in rest)} & set(typed.errors)
        return not self.has_first or typed_there or bool(refused_there)

    def values(self) -> dict[str, str]:
        """What stands in the fields before anything is typed."""
        return {field.name: field.shown for field in self.all_fields()}


def form_of(
    model: type[BaseModel],
    given: Mapping[str, Any],
    units: Units,
    *,
    catalogue: Mapping[str, Any] | None = None,
    choices: Mapping[str, tuple[str, ...]] | None = None,
    leave_out: Collection[str] = (),
    hows: Mapping[str, str] | None = None,
    blank_rows: int = BLANK_ROWS,
    money: str = "",
) -> TableForm:
    """The form of a table.

    ``given``: the keys as the file has them. ``catalogue``: what a catalogue part gives where the file does not.
    ``choices``: of keys that are text, among which words. ``leave_out``: keys that are shown elsewhere. ``hows``: how
    something is measured, by its key. ``blank_rows``: how many stand at the end of a list of small tables, for more.
    ``money``: the currency of prices.
    """
    maker = _Maker(units, catalogue or {}, choices or {}, hows or {}, blank_rows, money)
    fields: list[Field] = []
    groups: list[Group] = []
    lists: list[Rows] = []
    for key, info in keys(model):
        kind = bare(info.annotation)
        if key in leave_out or (get_origin(kind) is Literal and len(get_args(kind)) == 1):
            continue
        if is_table(kind):
            inner = given.get(key)
            within = inner if isinstance(inner, Mapping) else _as_pair(kind, inner)
            is_needed = info.is_required() or needed(info)
            groups.append(Group(key, info.title or key, tuple(maker.fields(kind, (key,), within)), is_needed))
        elif is_table(item := item_in(kind)):
            lists.append(maker.rows(key, info, item, given.get(key)))
        elif (made := maker.field((key,), info, given)) is not None:
            fields.append(made)
    return TableForm(tuple(fields), tuple(groups), tuple(lists), model)


def _as_pair(model: type[BaseModel], value: Any) -> Mapping[str, Any]:
    """A table may be written as a list of its values, as a capacity is."""
    return dict(zip(model.model_fields, value, strict=False)) if isinstance(value, list) else {}


@dataclass(frozen=True)
class _Maker:
    """Makes the fields of one form."""

    units: Units
    catalogue: Mapping[str, Any]
    choices: Mapping[str, tuple[str, ...]]
    hows: Mapping[str, str]
    blank_rows: int
    money: str

    def fields(self, model: type[BaseModel], at: tuple[str | int, ...], given: Mapping[str, Any]) -> Iterator[Field]:
        titles = [info.title for _, info in keys(model)]
        for key, info in keys(model):
            made = self.field((*at, key), info, given)
            if made is not None:  # keys that are called alike (the days of a week) are told by their names
                yield replace(made, label=told(key)) if titles.count(info.title) > 1 else made

    def rows(self, key: str, info: FieldInfo, item: type[BaseModel], given: Any) -> Rows:
        filled = list(given) if isinstance(given, list) else []
        rows = [
            tuple(self.fields(item, (key, n), table))
            for n, table in enumerate([*filled, *({} for _ in range(self.blank_rows))])
        ]
        is_needed = needed(info) or info.is_required()
        return Rows(key, (key,), info.title or key, tuple(rows), len(filled), is_needed, self.hows.get(key, ""))

    def field(self, path: tuple[str | int, ...], info: FieldInfo, given: Mapping[str, Any]) -> Field | None:
        """The field of a key; None for one that has no such form (lists of lists, lists of tables within tables)."""
        key = str(path[-1])
        kind = _kind(info, key in self.choices)
        if kind is None:
            return None
        unit = self.unit(_unit_holder(info))
        low, high = _bounds(_unit_holder(info))
        value, is_given = given.get(key), key in given
        held, from_catalogue = info.get_default(call_default_factory=True), False
        if len(path) == 1 and self.catalogue.get(key) is not None:
            held, from_catalogue = self.catalogue[key], True
        otherwise = _shown(held, unit) if held not in (None, [], "") and not info.is_required() else ""
        options = self.choices.get(key) or _options(info)
        shown = _shown(value, unit) if is_given else otherwise if kind in ("yes", "choice") and options[0] else ""
        return Field(
            name=".".join(map(str, path)),
            path=path,
            label=capital((info.title or key).removeprefix("whether ")),
            hint=hint(info),
            kind=kind,
            unit=unit,
            low=low,
            high=high,
            choices=options,
            is_needed=(info.is_required() or needed(info)) and not from_catalogue,
            is_required=info.is_required() and not from_catalogue,
            is_given=is_given,
            shown=shown,
            otherwise=otherwise,
            from_catalogue=from_catalogue,
            is_reference=key in self.choices,
            how=self.hows.get(key, ""),
            tidy=_tidy(info),
        )

    def unit(self, info: FieldInfo) -> Unit:
        """The unit in which a key is typed."""
        extra = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
        word = str(extra.get("unit", ""))
        if word not in QUANTITIES:
            return Unit({"share": "", "money": self.money}.get(word, word))
        unit = self.units.unit(QUANTITIES[word])
        is_difference = "spread" in (info.title or "")  # of two temperatures: no zero to be moved
        return Unit(unit.word, unit.scale) if is_difference else unit


# ---- what was typed ----


def read(form: TableForm, typed: Typed) -> dict[tuple[str | int, ...], Any]:
    """What was changed, by path: a new value, or None for a key or a row to take out. Refusals stand in ``typed``."""
    changed: dict[tuple[str | int, ...], Any] = {}
    for field in form.fields:
        _read_field(field, typed, changed)
    _refuse_missing(form.fields, typed)
    for group in form.groups:
        for field in group.fields:
            _read_field(field, typed, changed)
        if any(_text(field, typed) for field in group.fields):
            _refuse_missing(group.fields, typed)
        elif group.is_needed:
            typed.text(group.name)
    for rows in form.lists:
        _read_rows(rows, typed, changed)
    return changed


def _text(field: Field, typed: Typed) -> str:
    return typed.values.get(field.name, field.shown).strip()


def _refuse_missing(fields: tuple[Field, ...], typed: Typed) -> None:
    for field in fields:
        if field.is_required and not _text(field, typed):
            typed.text(field.name)  # says that it is missing


def _read_field(field: Field, typed: Typed, changed: dict[tuple[str | int, ...], Any]) -> None:
    text = typed.values.get(field.name)
    if text is None or text.strip() == field.shown:
        return
    if not text.strip():
        changed[field.path] = None
    elif (value := _read(field, typed)) is not None:
        changed[field.path] = value


def _read_rows(rows: Rows, typed: Typed, changed: dict[tuple[str | int, ...], Any]) -> None:
    """Rows that stay, then those that are new, then those that go, the last one first: each by its place so far."""
    gone = []
    if rows.is_needed and not any(_text(field, typed) for row in rows.rows for field in row):
        typed.text(rows.name)
    for n, row in enumerate(rows.rows):
        texts = [_text(field, typed) for field in row]
        if not any(texts):
            if n < rows.filled:
                gone.append((*rows.path, n))
            continue
        _refuse_missing(row, typed)
        if n < rows.filled:
            for field in row:
                _read_field(field, typed, changed)
        else:
            table = {str(field.path[-1]): _read(field, typed) for field, text in zip(row, texts, strict=True) if text}
            changed[(*rows.path, n)] = table
    changed.update(dict.fromkeys(reversed(gone)))


def _read(field: Field, typed: Typed) -> Any:
    """The value of a field that is not empty; None, and refused, where it cannot be read."""
    if field.kind in ("number", "whole"):
        value = typed.number(field.name, field.low, field.high, unit=field.unit, whole=field.kind == "whole")
        return None if value is None else _plain(value)
    if field.kind == "yes":
        chosen = typed.choice(field.name, field.choices)
        return None if chosen is None else chosen == field.choices[0]
    if field.kind == "choice":
        return typed.choice(field.name, field.choices)
    text = typed.text(field.name, longest=1000)
    if field.kind == "text":
        return field.tidy(text)
    pieces = [piece.strip() for piece in text.replace(";", ",").replace("\n", ",").split(",") if piece.strip()]
    return _numbers(field, typed, pieces) if field.kind == "numbers" else list(map(field.tidy, pieces))


def _numbers(field: Field, typed: Typed, pieces: list[str]) -> list[float | int] | None:
    one = Typed(dict(enumerate(pieces)), typed.units)  # type: ignore[arg-type]
    values = [one.number(n, field.low, field.high, unit=field.unit) for n in range(len(pieces))]  # type: ignore[arg-type]
    for message in one.errors.values():
        typed.refuse(field.name, message)
    return None if one.errors else [_plain(value) for value in values if value is not None]


def _plain(value: float) -> float | int:
    """A number as it is written by hand: no 9.000000000000002, no 9.0 where a whole one is meant."""
    tidy = float(f"{value:.6g}")
    return round(tidy) if tidy.is_integer() and abs(tidy) < 1e9 else tidy


# ---- how a key is typed ----


def _kind(info: FieldInfo, is_choice: bool) -> Kind | None:
    kind = bare(info.annotation)
    if is_choice or get_origin(kind) is Literal:
        return "choice"
    plain: dict[Any, Kind] = {float: "number", int: "whole", bool: "yes", str: "text"}
    if kind in plain:
        return plain[kind]
    item = item_in(kind)
    return "numbers" if item is float else "texts" if item is str else None


def _options(info: FieldInfo) -> tuple[str, ...]:
    kind = bare(info.annotation)
    if kind is bool:
        return ("yes", "no")
    return tuple(map(str, get_args(kind))) if get_origin(kind) is Literal else ("",)


def _unit_holder(info: FieldInfo) -> FieldInfo:
    """Where unit and bounds stand: at the key, or at what its list holds."""
    kind = bare(info.annotation)
    if get_origin(kind) is list:
        for extra in get_args(get_args(kind)[0])[1:]:
            if isinstance(extra, FieldInfo):
                return extra
    return info


def _tidy(info: FieldInfo) -> Callable[[str], str]:
    """How a time of day or a day of the year is brought into the file's form; other text stays as it is."""
    marks = [*info.metadata, *marks_of(info.annotation)]
    return next((tidy for kind, tidy in TIDY if get_args(kind)[1] in marks), str)


def _bounds(info: FieldInfo) -> tuple[float, float]:
    low, high = -1e12, 1e12
    for item in info.metadata:
        low = next((float(bound) for name in ("ge", "gt") if (bound := getattr(item, name, None)) is not None), low)
        bound = getattr(item, "le", None)
        high = high if bound is None else float(bound)
    return low, high


def _shown(value: Any, unit: Unit) -> str:
    """A value as it stands in a field."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        same = unit.scale == 1.0 and unit.offset == 0.0
        return f"{value:.10g}" if same else unit.typed(value)
    if isinstance(value, list):
        return ", ".join(_shown(each, unit) for each in value)
    return str(value)
