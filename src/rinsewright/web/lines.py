"""The lines of a plant in a site's text: a part put in, repeated or taken out; comments stay where they stand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rinsewright.web.tables import item_of

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

LINES = ("feed", "membranes", "drain", "product")


def table_at(document: TOMLDocument, path: tuple[str | int, ...]) -> Any:
    """The table that stands at a path of a site's text; made where it is missing and has a name."""
    import tomlkit

    table: Any = document
    for item in path:
        if isinstance(item, str) and item not in table:
            table[item] = tomlkit.table()
        table = table[item]
    return table


def put_in(document: TOMLDocument, line: str, index: int, keys: Mapping[str, Any]) -> None:
    """Put a part into a line so that it stands at ``index``."""
    import tomlkit
    from tomlkit.items import AoT, Table

    plant = table_at(document, ("plant",))
    if line not in plant:
        plant[line] = tomlkit.aot()
    parts = plant[line]
    if not isinstance(parts, AoT):  # written as a list of tables in braces
        parts.insert(index, _inline(keys))
        return
    part = tomlkit.table()
    for key, value in keys.items():
        part[key] = _inline(value) if isinstance(value, Mapping) else item_of(value)
    if index > 0:
        tail = _cut_tail(parts[index - 1])
        parts[index - 1].value.append(None, tomlkit.ws("\n"))
        _append(part, tail or [tomlkit.ws("\n")])
    else:
        _append(part, [tomlkit.ws("\n")])
    assert isinstance(part, Table)
    parts.insert(index, part)


def repeat(document: TOMLDocument, line: str, index: int) -> None:
    """Put a part like the one at ``index`` behind it."""
    put_in(document, line, index + 1, table_at(document, ("plant", line, index)).unwrap())


def take_out(document: TOMLDocument, line: str, index: int) -> None:
    """Take the part at ``index`` out of a line; what is written below it stays."""
    from tomlkit.items import AoT

    plant = document["plant"]
    parts = plant[line]
    if isinstance(parts, AoT):
        tail = _cut_tail(parts[index])
        if index > 0:
            _cut_tail(parts[index - 1])
            _append(parts[index - 1], tail)
    del parts[index]
    if not parts:
        del plant[line]


def _inline(keys: Mapping[str, Any]) -> Any:
    import tomlkit

    table = tomlkit.inline_table()
    for key, value in keys.items():
        table[key] = _inline(value) if isinstance(value, Mapping) else item_of(value)
    return table


def _cut_tail(part: Any) -> list[Any]:
    """The blank lines and comments at the end of a table: they belong to what follows."""
    body, tail = part.value.body, []
    while body and body[-1][0] is None:
        tail.append(body.pop()[1])
    return tail[::-1]


def _append(part: Any, items: list[Any]) -> None:
    for item in items:
        part.value.append(None, item)
