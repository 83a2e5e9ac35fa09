"""The text of a site: keys of a table put in, changed or taken out; entries of a list put in, repeated or taken out.

Comments stay where they stand as long as the text is edited by :func:`rinsewright.web.editing.edited`.
"""

from __future__ import annotations

from collections.abc import Mapping, MutableMapping
from typing import TYPE_CHECKING, Any

from rinsewright.planning.starting import GUESS

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

LINES = ("feed", "membranes", "drain", "product")
Path = tuple[str | int, ...]


def table_at(document: TOMLDocument, path: Path) -> Any:
    """The table that stands at a path of a site's text; made where it is missing and has a name."""
    import tomlkit

    table: Any = document
    for item in path:
        if isinstance(item, str) and item not in table:
            table[item] = tomlkit.table()
            table[item].trivia.indent = ""  # no blank line for a table that gets no head of its own
        table = table[item]
    return table


# ---- the keys of a table ----


def write(document: TOMLDocument, path: Path, changed: Mapping[Path, Any], *, goes_when_empty: bool = False) -> None:
    """Put what was changed into the table at ``path``, by the way to it from there; None takes it out.

    Rows of a list of small tables come by their place in it; those behind its end are new.
    """
    if not changed:
        return
    table = table_at(document, path)
    for way, value in changed.items():
        _write(table, way, value)
    if goes_when_empty and not table:
        *above, name = path
        del table_at(document, tuple(above))[name]


def _write(table: MutableMapping[str, Any], path: Path, value: Any) -> None:
    import tomlkit

    key = str(path[0])
    if len(path) > 1 and isinstance(path[1], int):
        _write_row(table, key, path[1], path[2:], value)
    elif len(path) > 1:
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
        if inner:
            unguess(inner)
        else:
            del table[key]
    elif value is None:
        if key in table:
            del table[key]
    else:
        table[key] = item_of(value)
        unguess(table[key])


def unguess(item: Any) -> None:
    """What somebody has put in is no guess any more: a remark that says so goes."""
    if hasattr(item, "trivia") and item.trivia.comment.startswith(f"# {GUESS}"):  # yes and no have none
        item.trivia.comment_ws = item.trivia.comment = ""


def _write_row(table: MutableMapping[str, Any], key: str, n: int, rest: Path, value: Any) -> None:
    import tomlkit

    if rest:
        _write(table[key][n], rest, value)
    elif value is None:
        del table[key][n]
        if not table[key]:
            del table[key]
    else:
        if key not in table:
            table[key] = tomlkit.aot() if isinstance(table, tomlkit.TOMLDocument) else tomlkit.array().multiline(True)
        _insert(table[key], len(table[key]), value, key)
    if key in table and rest != ("pressure_bar",) and not isinstance(table[key], tomlkit.items.AoT):
        unguess(table[key])  # of a running test it is the flow that is guessed


def item_of(value: Any) -> Any:
    """A value as it stands in the file; a list of tables one to a line."""
    import tomlkit

    if isinstance(value, list) and value and isinstance(value[0], dict):
        rows = tomlkit.array()
        for row in value:
            rows.append(_inline(row))
        return rows.multiline(len(value) > 1)
    return _inline(value) if isinstance(value, Mapping) else tomlkit.item(value)


def _inline(keys: Mapping[str, Any]) -> Any:
    import tomlkit

    table = tomlkit.inline_table()
    for key, value in keys.items():
        table[key] = item_of(value)
    return table


# ---- the entries of a list ----


def put_in(document: TOMLDocument, path: Path, index: int, keys: Mapping[str, Any]) -> None:
    """Put an entry into the list at ``path`` so that it stands at ``index``."""
    import tomlkit

    *above, name = path
    table = table_at(document, tuple(above))
    if name not in table:
        table[name] = tomlkit.aot() if _takes_heads(document, table, path) else tomlkit.array().multiline(True)
    _insert(table[name], index, keys, str(name))


def _takes_heads(document: TOMLDocument, table: Any, path: Path) -> bool:
    """Whether a table can hold others under heads of their own: not one in braces, nor one written key.by.key."""
    from tomlkit.items import InlineTable

    dotted = any(key is not None and key.is_dotted() and key.key == path[0] for key, _ in document.body)
    return not (dotted or isinstance(table, InlineTable))


def _insert(entries: Any, index: int, keys: Mapping[str, Any], name: str) -> None:
    import tomlkit
    from tomlkit.items import AoT

    if not isinstance(entries, AoT):  # written as a list of tables in braces
        entries.insert(index, _inline(keys))
        return
    entry = tomlkit.table()
    entry.name = name
    for key, value in keys.items():
        entry[key] = item_of(value)
    entries.insert(index, entry)


def repeat(document: TOMLDocument, path: Path, index: int) -> None:
    """Put an entry like the one at ``index`` behind it."""
    put_in(document, path, index + 1, table_at(document, (*path, index)).unwrap())


def take_out(document: TOMLDocument, path: Path, index: int) -> None:
    """Take the entry at ``index`` out of a list."""
    *above, name = path
    table = table_at(document, tuple(above))
    del table[name][index]
    if not table[name]:
        del table[name]
