"""Reading a TOML file into checked models, with the place of everything that is wrong with it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path as FilePath
from types import UnionType
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from rinsewright.catalogue.fields import short, wanted
from rinsewright.catalogue.lines import Path, key_lines
from rinsewright.errors import InputError, Problem

MOST_BYTES = 4_000_000
Model = TypeVar("Model", bound=BaseModel)


@dataclass(frozen=True)
class Places:
    """Where the keys of one file stand."""

    file: str
    lines: dict[Path, int]

    def problem(self, message: str, *path: str | int) -> Problem:
        """A problem at a key; the line is that of the key or of the nearest table around it."""
        return Problem(message, self.file, key_text(path) or None, self.line(path))

    def line(self, path: Path) -> int | None:
        """Line of a key, or of the nearest table around it."""
        return next((self.lines[path[:n]] for n in range(len(path), 0, -1) if path[:n] in self.lines), None)


def key_text(path: Path) -> str:
    """A path as a person writes it: ``plant.feed[0].bore_mm``."""
    text = ""
    for item in path:
        if isinstance(item, int):
            text += f"[{item}]"
        else:
            name = item if re.fullmatch(r"[A-Za-z0-9_-]+", item) else f'"{short(item)}"'
            text += f".{name}" if text else name
    return text


# ---- from a file to a table ----


def read_text_file(path: str | FilePath) -> str:
    """The text of a file, or an :class:`InputError` saying why it cannot be read."""
    try:
        with FilePath(path).open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise InputError(Problem(_why_unreadable(path, error), str(path))) from None
    except ValueError:  # a NUL in the name
        raise InputError(Problem("this is not a file name", repr(str(path)))) from None
    return decode(raw, str(path))


def decode(raw: bytes, file: str) -> str:
    """Bytes as UTF-8 text; a byte-order mark of UTF-8 is passed over, as some editors write one."""
    if len(raw) > MOST_BYTES:
        raise InputError(Problem("the file is too large; a file of this kind has a few thousand characters", file))
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputError(Problem("the file is saved as UTF-16; save it as UTF-8", file))
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        message = "the file is not UTF-8 text; give a text file saved as UTF-8"
        raise InputError(Problem(message, file, line=line)) from None
    if "\x00" in text:
        raise InputError(Problem("the file is not a text file; give a TOML file", file))
    if not text.strip():
        raise InputError(Problem("the file is empty; give a TOML file", file))
    return text


def _why_unreadable(path: str | FilePath, error: OSError) -> str:
    if isinstance(error, FileNotFoundError):
        return "there is no such file; check the name and the folder"
    if isinstance(error, IsADirectoryError) or FilePath(path).is_dir():
        return "this is a folder; give a file"
    if isinstance(error, PermissionError):
        return "the file may not be read; check its permissions"
    return f"the file cannot be read ({(error.strerror or type(error).__name__).lower()})"


def parse(text: str, file: str) -> tuple[dict[str, Any], Places]:
    """A TOML text as a table, and where its keys stand."""
    try:
        data = tomllib.loads(text)
        return data, Places(file, key_lines(text))
    except RecursionError:
        raise InputError(
            Problem("the lists or tables are nested too deeply; keep to the form of the guide", file)
        ) from None
    except ValueError as error:  # TOMLDecodeError is one; so is an integer with too many digits
        raise InputError(_syntax_problem(str(error), text, file)) from None


def _syntax_problem(message: str, text: str, file: str) -> Problem:
    found = re.search(r"^(.*?) \(at (?:line (\d+), column \d+|end of document)\)$", message, re.DOTALL)
    lines = text.rstrip().split("\n")
    if not found:
        return Problem("a number here is too long to be read; give a plain number", file)
    line = int(found[2]) if found[2] else len(lines)
    what = short(found[1][:1].lower() + found[1][1:], 100)
    return Problem(f"this line is not TOML ({what}); {_hint(lines[min(line, len(lines)) - 1], what)}", file, line=line)


def _hint(line: str, what: str) -> str:
    if re.search("[“”„‘’«»]", line):
        return 'use straight quotes, as "text"'
    if re.search(r"=\s*-?\d+,\d", line):
        return "write decimals with a point, as 4.2"
    if "overwrite" in what or "declare" in what or "mutate" in what:
        return "the same key or table stands twice, keep one"
    if "=" not in line and not line.strip().startswith("["):
        return "write it as key = value"
    if re.search(r"=\s*[A-Za-z]", line):
        return 'put text in quotes, as key = "text", and write true or false in small letters'
    if re.search(r"=\s*\d\d?[:-]\d\d", line):
        return 'put times and days in quotes, as "08:00" and "02-10"'
    return "write it as key = value, text in quotes, and close every bracket and quote"


# ---- from a table to a model ----


def validate(model: type[Model], data: dict[str, Any], places: Places, at: Path = ()) -> Model:
    """The checked model of a table that stands at ``at`` in its file; raises :class:`InputError` with all problems."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        problems = [_problem(model, dict(detail), places, at) for detail in error.errors(include_url=False)]
    except RecursionError:
        problems = [places.problem("the tables are nested too deeply", *at)]
    raise InputError(in_order(problems))


def in_order(problems: list[Problem]) -> list[Problem]:
    """Problems by line."""
    return sorted(problems, key=lambda problem: problem.line or 0)


@dataclass(frozen=True)
class _Spot:
    """What stands at a pydantic location: the file's path, the declared type, its field, the table around it."""

    path: Path
    annotation: Any
    field: FieldInfo | None
    owner: type[BaseModel] | None


def _locate(model: type[BaseModel], location: tuple[str | int, ...]) -> _Spot:
    spot = _Spot((), model, None, model)
    for item in location:
        spot = _step(spot, item)
    return spot


def _step(spot: _Spot, item: str | int) -> _Spot:
    """One item of a location further. The tag of a kind of part is in pydantic's location but not in the file."""
    inner, _ = _bare(spot.annotation)
    if isinstance(inner, type) and issubclass(inner, BaseModel):
        field = _by_key(inner).get(str(item))
        return _Spot((*spot.path, item), field.annotation if field else Any, field, inner)
    if get_origin(inner) is list and isinstance(item, int):
        annotation, field = _bare(get_args(inner)[0])
        return _Spot((*spot.path, item), annotation, field or spot.field, spot.owner)
    for member in get_args(inner):
        if isinstance(member, type) and issubclass(member, BaseModel) and item in _tags(member):
            return _Spot(spot.path, member, None, member)
    return _Spot((*spot.path, item), Any, None, None)


def _bare(annotation: Any) -> tuple[Any, FieldInfo | None]:
    """A type without ``Annotated`` and without ``| None``, and the field declared on it."""
    field = None
    while True:
        if get_origin(annotation) is Annotated:
            annotation, *extras = get_args(annotation)
            field = next((extra for extra in extras if isinstance(extra, FieldInfo)), field)
        elif get_origin(annotation) in (Union, UnionType) and type(None) in get_args(annotation):
            members = [member for member in get_args(annotation) if member is not type(None)]
            if len(members) > 1:
                return annotation, field
            annotation = members[0]
        else:
            return annotation, field


def _by_key(model: type[BaseModel]) -> dict[str, FieldInfo]:
    return {field.alias or name: field for name, field in model.model_fields.items()}


def _tags(model: type[BaseModel]) -> tuple[Any, ...]:
    field = model.model_fields.get("part")
    return get_args(field.annotation) if field and get_origin(field.annotation) is Literal else ()


def _problem(model: type[BaseModel], detail: dict[str, Any], places: Places, at: Path) -> Problem:
    kind, given = detail["type"], detail.get("input")
    spot = _locate(model, detail["loc"])
    path = (*at, *spot.path)
    if kind == "extra_forbidden":
        known = sorted(_by_key(spot.owner)) if spot.owner else []
        return places.problem(f"this key is not known here; {nearest(str(path[-1]), known)}", *path)
    if kind == "missing":
        return places.problem(f"this key is missing; give {_right(spot)}", *path)
    if kind == "union_tag_not_found":
        return places.problem(f"the kind of part is missing; give part = one of {listed(_parts(spot))}", *path)
    if kind == "union_tag_invalid":
        tag = str(given.get("part")) if isinstance(given, dict) else str(given)
        message = f'"{short(tag)}" is not a kind of part that goes here; {nearest(tag, _parts(spot))}'
        return places.problem(message, *path, "part")
    return places.problem(_wrong_value(detail, spot), *path)


def _wrong_value(detail: dict[str, Any], spot: _Spot) -> str:
    """A sentence for a value that is not what the key needs."""
    kind, given, context = detail["type"], shown(detail.get("input")), detail.get("ctx", {})
    name = spot.field.title if spot.field and spot.field.title else "value"
    if kind == "value_error":
        return str(context.get("error", detail["msg"]))
    if kind in ("too_short", "too_long"):
        limit = context.get("min_length", context.get("max_length"))
        few = "at least" if kind == "too_short" else "at most"
        return f"{context.get('actual_length')} values are given; give {few} {limit}"
    if kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal", "finite_number"):
        return f"{given} is not a plausible {name}; give {_right(spot)}"
    if kind == "literal_error":
        choices = [str(choice) for choice in get_args(_bare(spot.annotation)[0])]
        return f"{given} is not known here; {nearest(str(detail.get('input')), choices)}"
    if kind in ("model_type", "dict_type", "model_attributes_type"):
        return f"{given} is not a table; give {{ key = value, … }} or a table of its own"
    if kind == "list_type":
        return f"{given} is not a list; give {_right(spot)}"
    if kind == "string_too_short":
        return "this text is empty; give some"
    return f"{given} is not what is needed here; give {_right(spot)}"


def _right(spot: _Spot) -> str:
    """What would be right at a spot, in words."""
    annotation = _bare(spot.annotation)[0]
    if annotation is float and spot.field:
        return wanted(spot.field)
    if annotation is int and spot.field:
        return f"a whole number, {wanted(spot.field).removeprefix('a number ')}"
    if annotation is bool:
        return "true or false"
    if annotation is str:
        return "text in quotes"
    if get_origin(annotation) is Literal:
        return f"one of {listed([str(choice) for choice in get_args(annotation)])}"
    if get_origin(annotation) is list:
        return f"tables headed [[{key_text(spot.path)}]]" if _of_tables(annotation) else "a list, [ …, … ]"
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return f"a table with {listed(list(_by_key(annotation)))}"
    return "a value of the form in the guide"


def _of_tables(annotation: Any) -> bool:
    item = _bare(get_args(annotation)[0])[0]
    members = get_args(item) or (item,)
    return all(isinstance(member, type) and issubclass(member, BaseModel) for member in members)


def _parts(spot: _Spot) -> list[str]:
    annotation = _bare(spot.annotation)[0]
    return [str(tag) for member in get_args(annotation) for tag in _tags(member)]


# ---- words ----


def nearest(given: str, known: list[str]) -> str:
    """ "did you mean …", or the list of what is known."""
    if len(known) == 1:
        return f"give {known[0]}"
    close = get_close_matches(given.lower(), [name.lower() for name in known], n=1, cutoff=0.6)
    if close:
        return f"did you mean {next(name for name in known if name.lower() == close[0])}?"
    return f"known are {listed(known)}" if known else "nothing is known here"


def listed(names: list[str]) -> str:
    """Names joined for a sentence."""
    return ", ".join(names)


def shown(value: object) -> str:
    """A value as it looks in the file, shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{short(value)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    try:
        return short(str(value))
    except ValueError:  # an integer with more digits than Python will print
        return "this number"


def walk(model: BaseModel, at: Path = ()) -> Iterator[tuple[Path, BaseModel]]:
    """Every table of a checked model with its path, the outermost first."""
    yield at, model
    for name, field in type(model).model_fields.items():
        value = getattr(model, name)
        path = (*at, field.alias or name)
        if isinstance(value, BaseModel):
            yield from walk(value, path)
        elif isinstance(value, list):
            for index, item in enumerate(value):
                if isinstance(item, BaseModel):
                    yield from walk(item, (*path, index))
