"""What a declared key says of itself: unit, type, range, default, meaning, tables under it."""

from __future__ import annotations

import types
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from docs.generating.markdown import code, number
from rinsewright.catalogue import fields as declared

Model = type[BaseModel]
TEXTS = {
    get_args(kind)[1]: words
    for kind, words in (
        (declared.MonthDay, "text, MM-DD"),
        (declared.Clock, "text, HH:MM"),
        (declared.Date, "text, YYYY-MM-DD"),
        (declared.Country, "text, two capital letters"),
        (declared.Currency, "text, three capital letters"),
    )
}
PLAIN = {float: "number", int: "whole number", str: "text", bool: "true or false", Any: "anything"}


def key_of(name: str, field: FieldInfo) -> str:
    """The key as it is written."""
    return field.alias or name


def unit(field: FieldInfo) -> str:
    """The declared unit."""
    extra = field.json_schema_extra
    return str(extra.get("unit", "")) if isinstance(extra, dict) else ""


def meaning(field: FieldInfo) -> str:
    """Quantity and description in a sentence or two."""
    title, note = field.title or "", field.description or ""
    if note == declared.sentence(title):
        return f"{title[:1] if title.startswith('pH') else title[:1].upper()}{title[1:]}."
    return note if title.lower() in note.lower() else f"{title[:1].upper()}{title[1:]}. {note}"


def type_words(annotation: Any, metadata: list[Any] | tuple[Any, ...] = ()) -> str:
    """The type in words; what may be absent says nothing of it."""
    for item in metadata:
        if item in TEXTS:
            return TEXTS[item]
    origin, args = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return type_words(args[0], args[1:])
    if origin is Literal:
        return " or ".join(code(f'"{value}"' if isinstance(value, str) else value) for value in args)
    if origin in (Union, types.UnionType):
        return _union([arg for arg in args if arg is not type(None)])
    if origin is list:
        return _list(args[0], metadata)
    if origin is dict:
        return f"table of {_plural(type_words(args[1]))}"
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return "table"
    return PLAIN[annotation]


def _union(kinds: list[Any]) -> str:
    words = list(dict.fromkeys(type_words(kind) for kind in kinds))
    return " or ".join(words)


def _list(item: Any, metadata: Any) -> str:
    limits = {
        name: getattr(each, name) for each in metadata for name in ("min_length", "max_length") if _has(each, name)
    }
    words = _plural(type_words(item))
    exact = limits.get("min_length") == limits.get("max_length") and limits
    return f"list of {limits['min_length']} {words}" if exact else f"list of {words}"


def _has(item: object, name: str) -> bool:
    return getattr(item, name, None) is not None


def _plural(words: str) -> str:
    for single in ("number", "table"):
        if words == single:
            return f"{single}s"
    return f"texts{words[4:]}" if words == "text" or words.startswith("text,") else words


def nullable(annotation: Any) -> bool:
    """Whether null may stand there."""
    return type(None) in get_args(annotation)


def range_words(field: FieldInfo) -> str:
    """The range, of a number or of each number of a list; empty without one."""
    for limits in (field.metadata, *_inner(field.annotation)):
        low = [(number(getattr(item, name)), name) for item in limits for name in ("ge", "gt") if _has(item, name)]
        high = [number(item.le) for item in limits if _has(item, "le")]
        if low and high:
            return f"{'above ' if low[0][1] == 'gt' else ''}{low[0][0]} to {high[0]}"
        if low:
            return f"{'above' if low[0][1] == 'gt' else 'at least'} {low[0][0]}"
    return ""


def _inner(annotation: Any) -> list[list[Any]]:
    found = []
    for arg in get_args(annotation):
        if get_origin(arg) is Annotated:
            extra = get_args(arg)[1:]
            found.append(
                [item for each in extra for item in (each.metadata if isinstance(each, FieldInfo) else [each])]
            )
        found += _inner(arg)
    return found


def models_in(annotation: Any) -> list[Model]:
    """The tables that a type leads to, in order."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for arg in get_args(annotation) for model in models_in(arg)]


def is_list(annotation: Any) -> bool:
    """Whether it is a list, perhaps one that may be absent."""
    return get_origin(annotation) is list or any(
        is_list(arg) for arg in get_args(annotation) if get_origin(annotation) in (Union, types.UnionType)
    )


def all_models(model: Model, seen: dict[Model, None] | None = None) -> list[Model]:
    """A table and all below it, each once, in the order of the file."""
    seen = {} if seen is None else seen
    if model not in seen:
        seen[model] = None
        for field in model.model_fields.values():
            for below in models_in(field.annotation):
                all_models(below, seen)
    return list(seen)
