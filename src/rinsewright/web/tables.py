"""A table of the site file as a form: one field for every key, made from the models that check the file.

What is typed goes back into the file's text key by key; a key that was not touched stays as it is written there.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, MutableMapping
from dataclasses import dataclass, replace
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from rinsewright.catalogue.fields import needed
from rinsewright.papers.units import Quantity, Unit, Units
from rinsewright.web.forms import Typed

BLANK_ROWS = 2  # at the end of a list of tables, for more
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
    is_given: bool = False
    shown: str = ""  # as it stands in the field
    otherwise: str = ""  # what holds while it is empty
    from_catalogue: bool = False  # where that comes from
    is_reference: bool = False  # a name of the catalogue
    how: str = ""  # how it is measured

    @property
    def options(self) -> dict[str, str]:
        """What can be chosen, as large buttons take it."""
        return {choice: choice for choice in self.choices}

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
    is_needed: bool = False
    how: str = ""

    @property
    def is_first(self) -> bool:
        """Whether it stands among the first: a row is filled, or must be."""
        return self.is_needed or len(self.rows) > BLANK_ROWS


@dataclass(frozen=True)
class TableForm:
    """The fields of one table: those of its own, those of tables within it, and its lists of small tables."""

    fields: tuple[Field, ...]
    groups: tuple[tuple[str, tuple[Field, ...]], ...]
    lists: tuple[Rows, ...]
    model: type[BaseModel]

    def all_fields(self) -> Iterator[Field]:
        """Every field, those of rows too."""
        yield from self.fields
        for _, fields in self.groups:
            yield from fields
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
    def rest(self) -> tuple[Field, ...]:
        """The others, which hold their defaults."""
        return tuple(field for field in self.fields if field not in self.first)

    @staticmethod
    def group_first(fields: tuple[Field, ...]) -> bool:
        """Whether a table within stands among the first: something of it is given."""
        return any(field.is_given for field in fields)

    @property
    def has_more(self) -> bool:
        """Whether anything is left for behind one touch."""
        hidden = [fields for _, fields in self.groups if not self.group_first(fields)]
        return bool(self.rest or hidden or [rows for rows in self.lists if not rows.is_first])

    def wrong_in_rest(self, typed: Typed) -> bool:
        """Whether something behind that touch was refused or typed."""
        first = {field.name for field in self.first} | {
            field.name for _, fields in self.groups if self.group_first(fields) for field in fields
        }
        first |= {field.name for rows in self.lists if rows.is_first for row in rows.rows for field in row}
        rest = [field for field in self.all_fields() if field.name not in first]
        return any(
            field.name in typed.errors or typed.values.get(field.name, field.shown) != field.shown for field in rest
        )

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
    leave_out: tuple[str, ...] = (),
    hows: Mapping[str, str] | None = None,
) -> TableForm:
    """The form of a table.

    ``given``: the keys as the file has them. ``catalogue``: what a catalogue part gives where the file does not.
    ``choices``: of keys that are text, among which words. ``leave_out``: keys that are shown elsewhere. ``hows``: how
    something is measured, by its key.
    """
    maker = _Maker(units, catalogue or {}, choices or {}, hows or {})
    fields: list[Field] = []
    groups: list[tuple[str, tuple[Field, ...]]] = []
    lists: list[Rows] = []
    for key, info in _keys(model):
        kind = _bare(info.annotation)
        if key in leave_out or (get_origin(kind) is Literal and len(get_args(kind)) == 1):
            continue
        if _is_table(kind):
            inner = given.get(key)
            within = inner if isinstance(inner, Mapping) else _as_pair(kind, inner)
            nested = tuple(maker.fields(kind, (key,), within))
            groups.append((info.title or key, nested))
        elif _is_table(item := _item(kind)):
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

    def fields(self, model: type[BaseModel], at: tuple[str | int, ...], given: Mapping[str, Any]) -> Iterator[Field]:
        titles = [info.title for _, info in _keys(model)]
        for key, info in _keys(model):
            made = self.field((*at, key), info, given)
            if made is not None:  # keys that are called alike (the days of a week) are told by their names
                yield replace(made, label=_capital(key)) if titles.count(info.title) > 1 else made

    def rows(self, key: str, info: FieldInfo, item: type[BaseModel], given: Any) -> Rows:
        filled = list(given) if isinstance(given, list) else []
        rows = [
            tuple(self.fields(item, (key, n), table))
            for n, table in enumerate([*filled, *({} for _ in range(BLANK_ROWS))])
        ]
        return Rows(key, (key,), info.title or key, tuple(rows), needed(info), self.hows.get(key, ""))

    def field(self, path: tuple[str | int, ...], info: FieldInfo, given: Mapping[str, Any]) -> Field | None:
        """The field of a key; None for one that has no such form (lists of lists, lists of tables within tables)."""
        key = str(path[-1])
        kind = _kind(info, key in self.choices)
        if kind is None:
            return None
        unit = _unit(_unit_holder(info), self.units)
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
            label=_capital(info.title or key),
            hint="" if info.description == f"{_capital(info.title or '')}." else info.description or "",
            kind=kind,
            unit=unit,
            low=low,
            high=high,
            choices=options,
            is_needed=(info.is_required() or needed(info)) and not from_catalogue,
            is_given=is_given,
            shown=shown,
            otherwise=otherwise,
            from_catalogue=from_catalogue,
            is_reference=key in self.choices,
            how=self.hows.get(key, ""),
        )


# ---- what was typed ----


def read(form: TableForm, typed: Typed) -> dict[tuple[str | int, ...], Any]:
    """What was changed, by path: a new value, or None for a key to take out. Refusals stand in ``typed``."""
    changed: dict[tuple[str | int, ...], Any] = {}
    for field in (*form.fields, *(field for _, fields in form.groups for field in fields)):
        text = typed.values.get(field.name)
        if text is None or text.strip() == field.shown:
            continue
        if not text.strip():
            changed[field.path] = None
        elif (value := _read(field, typed)) is not None:
            changed[field.path] = value
    for rows in form.lists:
        _read_rows(rows, typed, changed)
    return changed


def _read_rows(rows: Rows, typed: Typed, changed: dict[tuple[str | int, ...], Any]) -> None:
    texts = [[typed.values.get(field.name, field.shown).strip() for field in row] for row in rows.rows]
    if texts == [[field.shown for field in row] for row in rows.rows]:
        return
    tables = []
    for row, line in zip(rows.rows, texts, strict=True):
        if not any(line):
            continue
        table = {str(field.path[-1]): _read(field, typed) for field, text in zip(row, line, strict=True) if text}
        for field, text in zip(row, line, strict=True):
            if not text and field.is_needed:
                typed.text(field.name)  # says that it is missing
        tables.append(table)
    changed[rows.path] = tables or None


def _read(field: Field, typed: Typed) -> Any:
    """The value of a field that is not empty; None, and refused, where it cannot be read."""
    if field.kind in ("number", "whole"):
        value = typed.number(field.name, field.low, field.high, unit=field.unit)
        return None if value is None else _plain(value, whole=field.kind == "whole")
    if field.kind == "yes":
        chosen = typed.choice(field.name, field.choices)
        return None if chosen is None else chosen == field.choices[0]
    if field.kind == "choice":
        return typed.choice(field.name, field.choices)
    text = typed.text(field.name, longest=1000)
    if field.kind == "text":
        return text
    pieces = [piece.strip() for piece in text.replace(";", ",").replace("\n", ",").split(",") if piece.strip()]
    return _numbers(field, typed, pieces) if field.kind == "numbers" else pieces


def _numbers(field: Field, typed: Typed, pieces: list[str]) -> list[float | int] | None:
    one = Typed(dict(enumerate(pieces)), typed.units)  # type: ignore[arg-type]
    values = [one.number(n, field.low, field.high, unit=field.unit) for n in range(len(pieces))]  # type: ignore[arg-type]
    for message in one.errors.values():
        typed.refuse(field.name, message)
    return None if one.errors else [_plain(value) for value in values if value is not None]


def _plain(value: float, *, whole: bool = False) -> float | int:
    """A number as it is written by hand: no 9.000000000000002, no 9.0 where a whole one is meant."""
    tidy = float(f"{value:.6g}")
    return round(tidy) if whole or (tidy.is_integer() and abs(tidy) < 1e9) else tidy


def write(table: MutableMapping[str, Any], changed: Mapping[tuple[str | int, ...], Any]) -> None:
    """Put what was changed into a table of the file's text (tomlkit's), the rest of which stays as it is."""
    for path, value in changed.items():
        _write(table, path, value)


def _write(table: MutableMapping[str, Any], path: tuple[str | int, ...], value: Any) -> None:
    import tomlkit

    key = str(path[0])
    if len(path) > 1:
        inner = table.get(key)
        if not isinstance(inner, MutableMapping):
            if value is None and inner is None:
                return
            written = dict(enumerate(inner)) if isinstance(inner, list) else {}
            table[key] = tomlkit.inline_table()
            if written:  # a pair becomes a table with names; only capacities are written so
                table[key].update(dict(zip(("cation", "anion"), written.values(), strict=False)))
            inner = table[key]
        _write(inner, path[1:], value)
        if not inner:
            del table[key]
    elif value is None:
        if key in table:
            del table[key]
    else:
        table[key] = item_of(value)


def item_of(value: Any) -> Any:
    """A value as it stands in the file; a list of tables one to a line."""
    import tomlkit

    if isinstance(value, list) and value and isinstance(value[0], dict):
        rows = tomlkit.array()
        for row in value:
            inline = tomlkit.inline_table()
            inline.update({key: each for key, each in row.items() if each is not None})
            rows.append(inline)
        return rows.multiline(len(value) > 1)
    return tomlkit.item(value)


# ---- the models ----


def _keys(model: type[BaseModel]) -> Iterator[tuple[str, FieldInfo]]:
    for name, info in model.model_fields.items():
        yield info.alias or name, info


def _bare(annotation: Any) -> Any:
    """A type without ``Annotated`` and without ``| None``."""
    while True:
        if get_origin(annotation) is Annotated:
            annotation = get_args(annotation)[0]
        elif get_origin(annotation) in (Union, UnionType) and type(None) in get_args(annotation):
            rest = [each for each in get_args(annotation) if each is not type(None)]
            if len(rest) > 1:
                return annotation
            annotation = rest[0]
        else:
            return annotation


def _item(kind: Any) -> Any:
    """What a list holds; None of anything else."""
    return _bare(get_args(kind)[0]) if get_origin(kind) is list else None


def _is_table(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _kind(info: FieldInfo, is_choice: bool) -> Kind | None:
    bare = _bare(info.annotation)
    if is_choice or get_origin(bare) is Literal:
        return "choice"
    plain: dict[Any, Kind] = {float: "number", int: "whole", bool: "yes", str: "text"}
    if bare in plain:
        return plain[bare]
    item = _item(bare)
    return "numbers" if item is float else "texts" if item is str else None


def _options(info: FieldInfo) -> tuple[str, ...]:
    bare = _bare(info.annotation)
    if bare is bool:
        return ("yes", "no")
    return tuple(map(str, get_args(bare))) if get_origin(bare) is Literal else ("",)


def _unit_holder(info: FieldInfo) -> FieldInfo:
    """Where unit and bounds stand: at the key, or at what its list holds."""
    bare = _bare(info.annotation)
    if get_origin(bare) is list:
        for extra in get_args(get_args(bare)[0])[1:]:
            if isinstance(extra, FieldInfo):
                return extra
    return info


def _unit(info: FieldInfo, units: Units) -> Unit:
    extra = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
    word = str(extra.get("unit", ""))
    if word not in QUANTITIES:
        return Unit("" if word == "share" else word)
    unit = units.unit(QUANTITIES[word])
    is_difference = "spread" in (info.title or "")  # of two temperatures: no zero to be moved
    return Unit(unit.word, unit.scale) if is_difference else unit


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


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
