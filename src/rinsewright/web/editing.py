"""How a site is changed: its text is edited with everything else in it kept, checked, and saved as a new version."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from rinsewright.api import Site
from rinsewright.store.book import Book
from rinsewright.store.rows import Version

if TYPE_CHECKING:
    from tomlkit import TOMLDocument


def edited(toml: str, change: Callable[[TOMLDocument], None]) -> str:
    """A site's text after ``change``; comments and order stay."""
    import tomlkit

    document = tomlkit.parse(toml)
    change(document)
    return tomlkit.dumps(document)


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
