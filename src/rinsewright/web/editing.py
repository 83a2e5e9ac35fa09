"""How a site is changed: its text is edited with everything else in it kept, checked, and saved as a new version."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from rinsewright.api import Site
from rinsewright.store.book import Book
from rinsewright.store.rows import Version

if TYPE_CHECKING:
    from tomlkit import TOMLDocument
    from tomlkit.container import Container
    from tomlkit.items import Table

    Heads = list[tuple[Table, str]]


def edited(toml: str, change: Callable[[TOMLDocument], None]) -> str:
    """A site's text after ``change``; comments and order stay."""
    import tomlkit

    document = tomlkit.parse(toml)
    heads, end = _lift(document)
    change(document)
    return _put_back(document, heads, end)


def save_edit(book: Book, slug: str, made_from: int, what: str, change: Callable[[TOMLDocument], None]) -> Version:
    """Change the version that the editor saw (``made_from``), check it, keep it; ``what`` says what was changed.

    Raises InputError where the site is no longer right, ChangedMeanwhile where somebody else saved first; nothing is
    written then. Where nothing differs no version is made.
    """
    before = book.version(slug, made_from)
    text = edited(before.toml, change)
    if text == before.toml:
        return before
    name = Site.loads(text, "site file").name
    return book.save(slug, text, name, what, made_from)


# ---- comments ----
#
# A comment above the head of a table belongs to that table. The parser hangs it on what stands before it, where keys
# that come would be written below it, and a table that goes would take it along. So it is taken off and put back.


def _lift(document: TOMLDocument) -> tuple[Heads, str]:
    """Take blank lines and comments from above every head; gives them back with it, and those at the end."""
    heads: Heads = []
    loose: list[tuple[list[Any], int]] = []
    for place in _places(document):
        if isinstance(place, tuple):
            body, index = place
            if body[index][0] is None:
                loose.append(place)
            else:
                loose = []
            continue
        heads.append((place, _take(loose) + place.trivia.indent))
        place.trivia.indent = ""
        loose = []
    return heads, _take(loose)


def _take(loose: list[tuple[list[Any], int]]) -> str:
    from tomlkit.items import Null

    text = "".join(body[index][1].as_string() for body, index in loose)
    for body, index in reversed(loose):
        if index == len(body) - 1:
            body.pop()
        else:  # what stands behind it is known by its place
            body[index] = (None, Null())
    return text


def _put_back(document: TOMLDocument, heads: Heads, end: str) -> str:
    """The text with what stood above every head; what stood above one that went stands above the next."""
    import tomlkit

    now = [place for place in _places(document) if not isinstance(place, tuple)]
    there, was = {id(table) for table in now}, {id(table) for table, _ in heads}
    carried, above = "", {}
    for table, text in heads:
        carried = carried.rstrip("\r\n") + "\n" + text if carried.strip() else text
        if id(table) in there:
            above[id(table)], carried = carried, ""
    for table, after in zip(now, [*now[1:], None], strict=False):
        if id(table) in was:
            continue
        below = above.get(id(after), "") if after is not None and after.name == table.name else ""
        heading, _, own = below.rpartition("\n\n")
        above[id(table)] = heading + "\n\n" if heading.strip() else "\n"
        if heading.strip():  # a new one at the front of its list stands below the heading of the list
            above[id(after)] = "\n" + own
    for table in now:
        table.trivia.indent = above[id(table)]
    return tomlkit.dumps(document) + (carried if carried.strip() else "") + end


def _places(container: Container) -> Iterator[Table | tuple[list[Any], int]]:
    """Everything in the order of the text: a table's head as the table, all else by where it stands."""
    from tomlkit.items import AoT, Null, Table

    body = container.body
    for index, (key, item) in enumerate(body):
        if isinstance(item, Table):
            if not (item.is_super_table() or (key is not None and key.is_dotted())):
                yield item
            yield from _places(item.value)
        elif isinstance(item, AoT):
            for table in item.body:
                yield table
                yield from _places(table.value)
        elif not isinstance(item, Null):
            yield body, index
