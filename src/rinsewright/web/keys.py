"""The keys of the site file as its models declare them, and what they are called in words."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from itertools import takewhile
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from rinsewright.catalogue.fields import sentence
from rinsewright.site.schema import WEEKDAYS, SiteFile
from rinsewright.web.words import words

DAY = re.compile(rf"\b(?:{'|'.join(WEEKDAYS)})\b")
KEY = re.compile(r"\[\[?[a-z_.]+\]\]?|\b[a-z0-9]+(?:_[a-z0-9]+)+\b")  # a table in brackets, a key with underscores

# ---- in words ----


def hint(info: FieldInfo) -> str:
    """What is said of a key beyond its name."""
    said = info.description or ""
    return "" if said == sentence(info.title or "") else plainly(said)


def capital(text: str) -> str:
    """With a capital, but for what is written as it is: pH."""
    return text if text[1:2].isupper() else text[:1].upper() + text[1:]


def told(choice: str) -> str:
    """A word of the site file as people say it."""
    return words().texts.get(f"choice.{choice}", choice)


def plainly(message: str) -> str:
    """A sentence in which keys and days of the site file go by what the forms call them."""
    message = DAY.sub(lambda found: told(found[0]), message)
    return KEY.sub(lambda found: _titles().get(found[0].strip("[]").rpartition(".")[2], found[0]), message)


@cache
def _titles() -> dict[str, str]:
    """What every key is called; of one that is called differently in different tables, the words in which they end."""
    found: dict[str, str] = {}
    for _, key, title in keys_of(SiteFile):
        found[key] = _same_end(found.get(key, title), title)
    return {key: title for key, title in found.items() if title}


def _same_end(one: str, other: str) -> str:
    pairs = zip(reversed(one.split()), reversed(other.split()), strict=False)
    return " ".join(reversed([word for word, _ in takewhile(lambda pair: pair[0] == pair[1], pairs)]))


# ---- the models ----


def keys_of(model: type[BaseModel], at: str = "") -> Iterator[tuple[str, str, str]]:
    """Every key below a model: the way to it, as ``plant.feed[tube].bore_mm``, its name, and what it is called."""
    for key, info in keys(model):
        way, kind = f"{at}{key}", bare(info.annotation)
        yield way, key, info.title or key
        item = item_in(kind)
        if is_table(kind):
            yield from keys_of(kind, f"{way}.")
        elif is_table(item):
            yield from keys_of(item, f"{way}[].")
        else:
            for part in get_args(item):
                if is_table(part):
                    yield from keys_of(part, f"{way}[{get_args(part.model_fields['part'].annotation)[0]}].")


def keys(model: type[BaseModel]) -> Iterator[tuple[str, FieldInfo]]:
    """The keys of a table, by the names that the file has."""
    for name, info in model.model_fields.items():
        yield info.alias or name, info


def bare(annotation: Any) -> Any:
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


def item_in(kind: Any) -> Any:
    """What a list holds; None of anything else."""
    return bare(get_args(kind)[0]) if get_origin(kind) is list else None


def is_table(kind: Any) -> bool:
    """Whether a type is a table of the file."""
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def marks_of(annotation: Any) -> Iterator[object]:
    """What a type, and what it holds, is annotated with: its checks stand there."""
    if get_origin(annotation) is Annotated:
        yield from get_args(annotation)[1:]
    for inner in get_args(annotation):
        yield from marks_of(inner)
