"""What differs between two texts of a site, key by key, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Any

from pydantic import BaseModel

from rinsewright.site.reading import read_text


@dataclass(frozen=True)
class Change:
    """One thing that differs: where it stands, in words, and what it was and is; None where it was or is not given."""

    where: str
    before: str | None
    after: str | None


def changes(before: str, after: str) -> Iterator[Change]:
    """What differs from one text to the other, in the order of the site file's keys."""
    yield from _of_tables("", read_text(before).model, read_text(after).model)


def _of_tables(where: str, before: BaseModel | None, after: BaseModel | None) -> Iterator[Change]:
    """Of two tables, of which one may be missing."""
    one = before or after
    assert one is not None
    fields = type(one).model_fields
    titles = [field.title for field in fields.values()]
    for name, field in fields.items():
        title = field.title or name.replace("_", " ")
        if titles.count(field.title) > 1:  # days of the week, for one
            title = f"{title}, {name}"
        there = f"{where}: {title}" if where else title
        yield from _of_values(there, _given(before, name), _given(after, name))


def _given(model: BaseModel | None, name: str) -> Any:
    return getattr(model, name) if model is not None and name in model.model_fields_set else None


def _of_values(where: str, before: Any, after: Any) -> Iterator[Change]:
    if before == after:
        return
    if isinstance(before or after, BaseModel):
        yield from _of_tables(where, before, after)
    elif _holds_tables(before) or _holds_tables(after):
        yield from _of_lists(where, before or (), after or ())
    else:
        yield Change(where, _said(before), _said(after))


def _holds_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], BaseModel)


def _of_lists(where: str, before: Sequence[BaseModel], after: Sequence[BaseModel]) -> Iterator[Change]:
    """Parts that came, went or changed. Where as many came as went, in one place, they are taken for the same ones."""
    matcher = SequenceMatcher(None, [repr(part) for part in before], [repr(part) for part in after], autojunk=False)
    for kind, i1, i2, j1, j2 in matcher.get_opcodes():
        if kind == "equal":
            continue
        gone, come = before[i1:i2], after[j1:j2]
        same = len(gone) == len(come) and all(_kind(a) == _kind(b) for a, b in zip(gone, come, strict=True))
        if same:
            for place, (a, b) in enumerate(zip(gone, come, strict=True), i1 + 1):
                yield from _of_tables(f"{where} {place}, {_kind(a)}" if _kind(a) else f"{where} {place}", a, b)
            continue
        for place, part in enumerate(gone, i1 + 1):
            yield Change(f"{where} {place}", _part(part), None)
        for place, part in enumerate(come, j1 + 1):
            yield Change(f"{where} {place}", None, _part(part))


def _kind(part: BaseModel) -> str:
    """What sort of part it is, in a word or two."""
    found = [str(getattr(part, name)) for name in ("media", "part", "nominal") if getattr(part, name, None)]
    return " ".join(found)


def _part(part: BaseModel) -> str:
    """A whole part in a line."""
    names = [name for name in type(part).model_fields if _given(part, name) is not None]
    given = [f"{name} {_said(getattr(part, name))}" for name in names]
    return ", ".join(given).replace("_", " ")


def _said(value: Any) -> str | None:
    if value is None:
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list):
        return ", ".join(str(_said(item)) for item in value)
    if isinstance(value, BaseModel):
        return _part(value)
    return str(value)
