"""Asking the tables: what the book looks for, and the rows as it hands them out."""

from __future__ import annotations

from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Select, Table, func, select

from rinsewright.store.errors import NotInBook
from rinsewright.store.incoming import LARGEST, keepable
from rinsewright.store.rows import DocumentRow, FirstRunRow, SiteRow, Version
from rinsewright.store.schema import DOCUMENT, DRAWN_YEARS, FIRST_RUN, SITE, VERSION


def sites() -> Select[Any]:
    """All sites with their current version's name, number and time, the oldest first."""
    numbers = VERSION.alias()
    newest = select(func.max(numbers.c.number)).where(numbers.c.site_id == SITE.c.id).scalar_subquery()
    return (
        select(SITE, VERSION.c.name, VERSION.c.number, VERSION.c.made_at.label("changed_at"))
        .select_from(SITE)
        .join(VERSION, (VERSION.c.site_id == SITE.c.id) & (VERSION.c.number == newest))
        .order_by(SITE.c.id)
    )


def runs() -> Select[Any]:
    """All first runs with their site's slug, the oldest first."""
    return select(FIRST_RUN, SITE.c.slug).join(SITE, SITE.c.id == FIRST_RUN.c.site_id).order_by(FIRST_RUN.c.id)


def documents() -> Select[Any]:
    """All documents with their site's slug, without their bytes."""
    small = [column for column in DOCUMENT.c if column.name not in ("html", "pdf")]
    return select(*small, SITE.c.slug).join(SITE, SITE.c.id == DOCUMENT.c.site_id)


def find_site(connection: Connection, slug: str, *, removed: bool | None = False) -> Row[Any]:
    """The site that is (or is not) removed; ``removed`` None takes either."""
    row = connection.execute(sites().where(SITE.c.slug == slug)).one_or_none() if keepable(slug) else None
    if row is None:
        raise NotInBook(f'there is no site "{slug}" in the book')
    if removed is False and row.removed_at is not None:
        raise NotInBook(f'the site "{slug}" was removed; bring it back first')
    if removed is True and row.removed_at is None:
        raise NotInBook(f'the site "{slug}" was not removed; there is nothing to bring back')
    return row


def find_version(connection: Connection, site: Row[Any], number: int) -> Version:
    """One version of a site; raises :class:`NotInBook`."""
    wanted = (VERSION.c.site_id == site.id) & (VERSION.c.number == number)
    row = connection.execute(select(VERSION).where(wanted)).one_or_none() if abs(number) <= LARGEST else None
    if row is None:
        raise NotInBook(f'"{site.name}" has no version {number}; its versions are 1 to {site.number}')
    return version(row)


def find_run(connection: Connection, run_id: int) -> FirstRunRow:
    """One first run; raises :class:`NotInBook`."""
    wanted = runs().where(FIRST_RUN.c.id == run_id)
    row = connection.execute(wanted).one_or_none() if abs(run_id) <= LARGEST else None
    if row is None:
        raise NotInBook(f"there is no first run {run_id} in the book")
    return run(row)


def run_begun_as(connection: Connection, client_id: str) -> FirstRunRow | None:
    """The first run that was begun under a phone's id, if it has come."""
    row = connection.execute(runs().where(FIRST_RUN.c.client_id == client_id)).one_or_none()
    return None if row is None else run(row)


def find_document(connection: Connection, number: str) -> Row[Any]:
    """One document without its bytes; raises :class:`NotInBook`."""
    wanted = documents().where(DOCUMENT.c.number == number)
    row = connection.execute(wanted).one_or_none() if keepable(number) else None
    if row is None:
        raise NotInBook(f"there is no document {number} in the book")
    return row


def same_years(site_id: int, basis: str, members: int, seed: int) -> ColumnElement[bool]:
    """What the row of a site's drawn years is known by."""
    years = DRAWN_YEARS.c
    return (years.site_id == site_id) & (years.basis == basis) & (years.members == members) & (years.seed == seed)


def undone(connection: Connection, site: Row[Any], state: Version) -> Version:
    """The change that an undo takes back: the current version's, or the one of the state it is a copy of."""
    return state if state.copy_of is None else find_version(connection, site, state.copy_of)


def newest(connection: Connection, table: Table, mine: ColumnElement[bool], value: str, when: str) -> dict[str, Any]:
    """Each key's newest value by the column ``when``; of two at the same time the later kept."""
    found = connection.execute(select(table.c.key, table.c[value]).where(mine).order_by(table.c[when], table.c.id))
    return {row[0]: row[1] for row in found}  # the last one of a key wins


def site_row(row: Row[Any]) -> SiteRow:
    """A row of :func:`sites` as it is handed out."""
    return SiteRow(row.slug, row.name, row.made_at, row.number, row.changed_at, row.removed_at)


def version(row: Row[Any]) -> Version:
    """A row of the table of versions as it is handed out."""
    return Version(row.number, row.made_at, row.what, row.toml, row.copy_of, row.name)


def run(row: Row[Any]) -> FirstRunRow:
    """A row of :func:`runs` as it is handed out."""
    return FirstRunRow(
        row.id, row.slug, row.version_number, row.begun_at, row.temperature_c, row.running_bar, row.running_l_min,
        row.closed_at,
    )  # fmt: skip


def document_row(row: Row[Any]) -> DocumentRow:
    """A row of :func:`documents` as it is handed out."""
    return DocumentRow(
        row.number, row.slug, row.kind, row.title, row.issued_at, row.version_number, row.program, row.data,
        row.html_sha256, row.pdf_sha256,
    )  # fmt: skip
