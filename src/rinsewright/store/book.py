"""The book: every method is one transaction, kept whole or not at all, and may be called from many threads at once."""

from __future__ import annotations

import hashlib
import math
import re
import unicodedata
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import ColumnElement, Connection, Integer, Row, Select, Table, cast, func, select

from rinsewright.errors import InputError, Problem
from rinsewright.store.database import Database
from rinsewright.store.errors import BookNotUsable, ChangedMeanwhile, NotInBook
from rinsewright.store.migrate import bring_up_to_date
from rinsewright.store.rows import Document, DocumentRow, FirstRunRow, SiteRow, Version
from rinsewright.store.schema import DOCUMENT, FIRST_RUN, READING, SETTING, SITE, TICK, VERSION

SLUG_LENGTH = 60
SHORT = {"client_id": 80, "setting": 80}  # texts of a limited length, in characters
LARGEST = 2**31 - 1  # whole number that both databases can be asked for


class Book:
    """Sites and all that is kept of them. Make one with :meth:`open`."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self.where = database.where

    @classmethod
    def open(cls, where: str | Path | None = None) -> Book:
        """Open a book, make it where there is none, and bring an older one up to date.

        ``where`` is a file (SQLite) or a ``postgresql://`` address; None is the file in the user's data folder.
        Raises :class:`BookNotUsable` where that cannot be, or where a newer program wrote the book.
        """
        database = Database(where)
        try:
            bring_up_to_date(database)
        except BaseException:
            database.close()
            raise
        return cls(database)

    def close(self) -> None:
        """Let go of the database. Nothing is lost without it."""
        self._database.close()

    def discard(self) -> None:
        """Take away the file of a book that holds nothing; one that holds something, or is on a server, stays."""
        from rinsewright.store.backup import is_empty

        with self._database.reading() as connection:
            empty = is_empty(connection)
        self.close()
        if empty and self._database.file is not None:
            self._database.file.unlink()

    # Sites and their versions

    def sites(self) -> list[SiteRow]:
        """The sites that are not removed, the oldest first."""
        with self._database.reading() as connection:
            return [_site_row(row) for row in connection.execute(_sites().where(SITE.c.removed_at.is_(None)))]

    def removed(self) -> list[SiteRow]:
        """The sites that were removed and can be brought back."""
        with self._database.reading() as connection:
            return [_site_row(row) for row in connection.execute(_sites().where(SITE.c.removed_at.is_not(None)))]

    def site(self, slug: str) -> SiteRow:
        """One site; raises :class:`NotInBook` where there is none or it is removed."""
        with self._database.reading() as connection:
            return _site_row(_find_site(connection, slug))

    def add_site(self, toml: str, name: str, what: str) -> SiteRow:
        """Begin a site with its first version. Its slug comes from the name, is unique and stays the same."""
        _check_texts(toml=toml, name=name, what=what)
        with self._database.writing() as connection:
            slug = _free_slug(connection, name)
            now = _now()
            site_id = _insert(connection, SITE, slug=slug, made_at=now)
            _insert(connection, VERSION, site_id=site_id, number=1, made_at=now, what=what, toml=toml, name=name)
        return SiteRow(slug, name, now, 1, now)

    def current(self, slug: str) -> Version:
        """The version that stands now."""
        with self._database.reading() as connection:
            site = _find_site(connection, slug)
            return _find_version(connection, site, site.number)

    def versions(self, slug: str) -> list[Version]:
        """All versions of a site, the first one first."""
        with self._database.reading() as connection:
            site = _find_site(connection, slug)
            found = connection.execute(select(VERSION).where(VERSION.c.site_id == site.id).order_by(VERSION.c.number))
            return [_version(row) for row in found]

    def version(self, slug: str, number: int) -> Version:
        """One version of a site."""
        with self._database.reading() as connection:
            return _find_version(connection, _find_site(connection, slug), number)

    def save(self, slug: str, toml: str, name: str, what: str, made_from: int) -> Version:
        """Keep a change as a new version; where text and name are the current ones, that version is returned.

        ``made_from`` is the number of the version that the editor saw. Raises :class:`ChangedMeanwhile`, and writes
        nothing, where another one stands by now.
        """
        _check_texts(toml=toml, name=name, what=what)
        with self._database.writing() as connection:
            site = _find_site(connection, slug)
            if site.number != made_from:
                raise ChangedMeanwhile(site.name, made_from, site.number)
            current = _find_version(connection, site, site.number)
            if (current.toml, current.name) == (toml, name):
                return current
            return _append(connection, site, Version(site.number + 1, _now(), what, toml, None, name))

    def undo(self, slug: str, made_from: int | None = None) -> Version:
        """Append a copy of the state before the current one; each further undo goes one state further back.

        ``made_from``, where given, is the version that is to be undone: :class:`ChangedMeanwhile` where another one
        stands by now. Raises :class:`~rinsewright.errors.InputError` at the first state.
        """
        with self._database.writing() as connection:
            site = _find_site(connection, slug)
            if made_from is not None and site.number != made_from:
                raise ChangedMeanwhile(site.name, made_from, site.number)
            state = _find_version(connection, site, site.number)
            before = (state.copy_of or state.number) - 1
            if before < 1:
                raise InputError(Problem(f'"{site.name}" stands as it was first made; there is nothing to undo'))
            old = _find_version(connection, site, before)
            what = f"undone: {_undone(connection, site, state).what}"
            copy = Version(site.number + 1, _now(), what, old.toml, old.copy_of or old.number, old.name)
            return _append(connection, site, copy)

    def remove_site(self, slug: str) -> None:
        """Take a site off the list. Nothing of it is deleted; :meth:`bring_back` returns it."""
        self._mark_removed(slug, removed=True)

    def bring_back(self, slug: str) -> None:
        """Put a removed site back on the list."""
        self._mark_removed(slug, removed=False)

    def _mark_removed(self, slug: str, *, removed: bool) -> None:
        with self._database.writing() as connection:
            site = _find_site(connection, slug, removed=not removed)
            connection.execute(SITE.update().where(SITE.c.id == site.id).values(removed_at=_now() if removed else None))

    # First runs and their readings

    def begin_first_run(
        self,
        slug: str,
        temperature_c: float | None = None,
        running_bar: float | None = None,
        running_l_min: float | None = None,
    ) -> FirstRunRow:
        """Begin a first run of the current version: water in °C, the tap's running pressure in bar at a flow in L/min.

        None stands for the site file's own value. Raises :class:`~rinsewright.errors.InputError` where a value is not
        a finite number.
        """
        values = {"temperature_c": temperature_c, "running_bar": running_bar, "running_l_min": running_l_min}
        checked = {key: _number(key, value) for key, value in values.items()}
        with self._database.writing() as connection:
            site = _find_site(connection, slug)
            run_id = _insert(
                connection, FIRST_RUN, site_id=site.id, version_number=site.number, begun_at=_now(), **checked
            )
            return _find_run(connection, run_id)

    def first_runs(self, slug: str) -> list[FirstRunRow]:
        """All first runs of a site, the oldest first."""
        with self._database.reading() as connection:
            site = _find_site(connection, slug)
            return [_run(row) for row in connection.execute(_runs().where(SITE.c.id == site.id))]

    def first_run(self, run_id: int) -> FirstRunRow:
        """One first run; raises :class:`NotInBook`."""
        with self._database.reading() as connection:
            return _find_run(connection, run_id)

    def close_first_run(self, run_id: int) -> FirstRunRow:
        """Close a first run; one that is closed keeps its time. A reading sent late is still kept."""
        with self._database.writing() as connection:
            _find_run(connection, run_id)
            still_open = (FIRST_RUN.c.id == run_id) & FIRST_RUN.c.closed_at.is_(None)
            connection.execute(FIRST_RUN.update().where(still_open).values(closed_at=_now()))
            return _find_run(connection, run_id)

    def keep_reading(self, run_id: int, key: str, value: float | None, client_id: str, taken_at: datetime) -> bool:
        """Keep a reading exactly once: False where ``client_id`` is already kept, and then nothing is written.

        ``value`` is in the unit of ``key``, finite; None is "never". ``taken_at`` needs a time zone.
        """
        _check_texts(key=key, client_id=client_id)
        values = {"value": _number(key, value), "taken_at": _moment(key, taken_at)}
        with self._database.writing() as connection:
            _find_run(connection, run_id)
            return _keep_once(connection, READING, client_id, first_run_id=run_id, key=key, **values)

    def readings(self, run_id: int) -> dict[str, float | None]:
        """Each key's newest reading by the time it was taken; of two at the same time the later kept."""
        with self._database.reading() as connection:
            _find_run(connection, run_id)
            return _newest(connection, READING, READING.c.first_run_id == run_id, "value", "taken_at")

    # Ticks

    def keep_tick(self, slug: str, sheet: str, key: str, done: bool, client_id: str, ticked_at: datetime) -> bool:
        """Keep a tick, or its taking off, exactly once: False where ``client_id`` is already kept."""
        _check_texts(sheet=sheet, key=key, client_id=client_id)
        when = _moment(key, ticked_at)
        with self._database.writing() as connection:
            site = _find_site(connection, slug, removed=None)
            values = {"site_id": site.id, "sheet": sheet, "key": key, "done": bool(done), "ticked_at": when}
            return _keep_once(connection, TICK, client_id, **values)

    def ticks(self, slug: str, sheet: str) -> dict[str, bool]:
        """Each key's newest tick on one sheet by the time it was made; of two at the same time the later kept."""
        _check_texts(sheet=sheet)
        with self._database.reading() as connection:
            site = _find_site(connection, slug)
            mine = (TICK.c.site_id == site.id) & (TICK.c.sheet == sheet)
            return _newest(connection, TICK, mine, "done", "ticked_at")

    # Documents

    def issue(
        self,
        slug: str,
        kind: str,
        title: str,
        html: bytes,
        pdf: bytes,
        program: str,
        data: str,
        version_number: int | None = None,
    ) -> DocumentRow:
        """Keep a document for good, as bytes, under the next number of this year (UTC), such as ``2026-0001``.

        ``version_number`` is the version that the document speaks of; None is the current one.
        """
        _check_texts(kind=kind, title=title, program=program, data=data)
        with self._database.writing() as connection:
            site = _find_site(connection, slug)
            version = _find_version(connection, site, site.number if version_number is None else version_number)
            now = _now()
            number = _next_number(connection, now.year)
            _insert(
                connection, DOCUMENT, site_id=site.id, number=number, kind=kind, title=title, issued_at=now,
                version_number=version.number, program=program, data=data, html=html, pdf=pdf,
                html_sha256=_sha256(html), pdf_sha256=_sha256(pdf),
            )  # fmt: skip
            return _document_row(_find_document(connection, number))

    def documents(self, slug: str | None = None) -> list[DocumentRow]:
        """The issued documents in the order of issue, of one site (also a removed one) or of all."""
        with self._database.reading() as connection:
            wanted = _documents()
            if slug is not None:
                wanted = wanted.where(SITE.c.id == _find_site(connection, slug, removed=None).id)
            return [_document_row(row) for row in connection.execute(wanted.order_by(DOCUMENT.c.id))]

    def document(self, number: str) -> Document:
        """One document with its bytes; raises :class:`NotInBook`, or :class:`BookNotUsable` where they are damaged."""
        with self._database.reading() as connection:
            row = _document_row(_find_document(connection, number))
            html, pdf = connection.execute(
                select(DOCUMENT.c.html, DOCUMENT.c.pdf).where(DOCUMENT.c.number == number)
            ).one()
        if (_sha256(html), _sha256(pdf)) != (row.html_sha256, row.pdf_sha256):
            raise BookNotUsable(
                self.where, f"document {number} is not the one that was issued (its hash differs); restore a backup"
            )
        return Document(row, bytes(html), bytes(pdf))

    # Settings

    def setting(self, key: str, default: str | None = None) -> str | None:
        """A setting's text, or the default."""
        if not _keepable(key):
            return default
        with self._database.reading() as connection:
            found: str | None = connection.scalar(select(SETTING.c.value).where(SETTING.c.key == key))
        return default if found is None else found

    def set_setting(self, key: str, value: str) -> None:
        """Keep a setting in place of its former value."""
        _check_texts(setting=key, value=value)
        with self._database.writing() as connection:
            connection.execute(SETTING.delete().where(SETTING.c.key == key))
            connection.execute(SETTING.insert().values(key=key, value=value))

    # The whole book

    def backup(self, file: str | Path) -> None:
        """Write the book as it is at this moment to one new SQLite file, also where the book is on PostgreSQL.

        Raises :class:`BookNotUsable` where the file is there already or cannot be written.
        """
        from rinsewright.store.backup import back_up

        back_up(self._database, Path(file))

    def restore(self, file: str | Path) -> Path | None:
        """Put a backup's content in place of this book's; returns the copy kept of what was there, None if nothing.

        A book on PostgreSQL has to be empty. Raises :class:`BookNotUsable`, and changes nothing, where that is not so
        or the backup is not whole.
        """
        from rinsewright.store.backup import restore

        return restore(Path(file), self._database)

    def export_to(self, folder: str | Path) -> None:
        """Write everything as TOML, CSV and the documents' own files to a new or empty folder."""
        from rinsewright.store.exchange import export

        export(self._database, Path(folder))

    def import_from(self, folder: str | Path) -> None:
        """Fill this empty book with an export. Raises :class:`BookNotUsable`, and changes nothing, where it cannot."""
        from rinsewright.store.exchange import read_back

        read_back(Path(folder), self._database)


# Asking the tables


def _sites() -> Select[Any]:
    numbers = VERSION.alias()
    newest = select(func.max(numbers.c.number)).where(numbers.c.site_id == SITE.c.id).scalar_subquery()
    return (
        select(SITE, VERSION.c.name, VERSION.c.number, VERSION.c.made_at.label("changed_at"))
        .select_from(SITE)
        .join(VERSION, (VERSION.c.site_id == SITE.c.id) & (VERSION.c.number == newest))
        .order_by(SITE.c.id)
    )


def _runs() -> Select[Any]:
    return select(FIRST_RUN, SITE.c.slug).join(SITE, SITE.c.id == FIRST_RUN.c.site_id).order_by(FIRST_RUN.c.id)


def _documents() -> Select[Any]:
    small = [column for column in DOCUMENT.c if column.name not in ("html", "pdf")]
    return select(*small, SITE.c.slug).join(SITE, SITE.c.id == DOCUMENT.c.site_id)


def _find_site(connection: Connection, slug: str, *, removed: bool | None = False) -> Row[Any]:
    """The site that is (or is not) removed; ``removed`` None takes either."""
    row = connection.execute(_sites().where(SITE.c.slug == slug)).one_or_none() if _keepable(slug) else None
    if row is None:
        raise NotInBook(f'there is no site "{slug}" in the book')
    if removed is False and row.removed_at is not None:
        raise NotInBook(f'the site "{slug}" was removed; bring it back first')
    if removed is True and row.removed_at is None:
        raise NotInBook(f'the site "{slug}" was not removed; there is nothing to bring back')
    return row


def _find_version(connection: Connection, site: Row[Any], number: int) -> Version:
    wanted = (VERSION.c.site_id == site.id) & (VERSION.c.number == number)
    row = connection.execute(select(VERSION).where(wanted)).one_or_none() if abs(number) <= LARGEST else None
    if row is None:
        raise NotInBook(f'"{site.name}" has no version {number}; its versions are 1 to {site.number}')
    return _version(row)


def _find_run(connection: Connection, run_id: int) -> FirstRunRow:
    wanted = _runs().where(FIRST_RUN.c.id == run_id)
    row = connection.execute(wanted).one_or_none() if abs(run_id) <= LARGEST else None
    if row is None:
        raise NotInBook(f"there is no first run {run_id} in the book")
    return _run(row)


def _find_document(connection: Connection, number: str) -> Row[Any]:
    wanted = _documents().where(DOCUMENT.c.number == number)
    row = connection.execute(wanted).one_or_none() if _keepable(number) else None
    if row is None:
        raise NotInBook(f"there is no document {number} in the book")
    return row


def _undone(connection: Connection, site: Row[Any], state: Version) -> Version:
    """The change that an undo takes back: the current version's, or the one of the state it is a copy of."""
    return state if state.copy_of is None else _find_version(connection, site, state.copy_of)


def _newest(connection: Connection, table: Table, mine: ColumnElement[bool], value: str, when: str) -> dict[str, Any]:
    found = connection.execute(select(table.c.key, table.c[value]).where(mine).order_by(table.c[when], table.c.id))
    return {row[0]: row[1] for row in found}  # the last one of a key wins


# Writing


def _insert(connection: Connection, table: Table, **values: Any) -> int:
    key = connection.execute(table.insert().values(**values)).inserted_primary_key
    assert key is not None
    return int(key[0])


def _append(connection: Connection, site: Row[Any], version: Version) -> Version:
    _insert(
        connection, VERSION, site_id=site.id, number=version.number, made_at=version.made_at, what=version.what,
        toml=version.toml, copy_of=version.copy_of, name=version.name,
    )  # fmt: skip
    return version


def _keep_once(connection: Connection, table: Table, client_id: str, **values: Any) -> bool:
    """Writers take turns, so what is not there now is nowhere under way."""
    if connection.scalar(select(table.c.id).where(table.c.client_id == client_id)) is not None:
        return False
    _insert(connection, table, client_id=client_id, kept_at=_now(), **values)
    return True


def _free_slug(connection: Connection, name: str) -> str:
    wanted = slug_of(name)
    taken = set(connection.scalars(select(SITE.c.slug)))
    slug, count = wanted, 1
    while slug in taken:
        count += 1
        slug = f"{wanted}-{count}"
    return slug


def slug_of(name: str) -> str:
    """A name as it stands in an address: small letters, digits and single hyphens; "site" where nothing is left."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:SLUG_LENGTH].strip("-") or "site"


def _next_number(connection: Connection, year: int) -> str:
    of_year = DOCUMENT.c.number.like(f"{year:04d}-%")
    last = connection.scalar(select(func.max(cast(func.substr(DOCUMENT.c.number, 6), Integer))).where(of_year))
    return f"{year:04d}-{(last or 0) + 1:04d}"


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _now() -> datetime:
    return datetime.now(UTC)


# Checking what comes in: what one of the two databases could not keep, neither gets


def _check_texts(**texts: str) -> None:
    for key, text in texts.items():
        if not _keepable(text):
            raise InputError(Problem("this text holds a character that cannot be kept; write it without", key=key))
        if len(text) > SHORT.get(key, len(text)):
            raise InputError(Problem(f"this is longer than {SHORT[key]} characters; give a shorter one", key=key))


def _keepable(text: str) -> bool:
    """Whether both databases can keep a text, and be asked for it: no NUL, no half of a character."""
    try:
        return b"\0" not in text.encode()
    except UnicodeEncodeError:
        return False


def _number(key: str, value: float | None) -> float | None:
    if value is None:
        return None
    if not math.isfinite(value):
        raise InputError(Problem(f"{value} is not a number that was read; give a number", key=key))
    return float(value) + 0.0  # no minus zero, which SQLite does not keep


def _moment(key: str, time: datetime) -> datetime:
    if time.tzinfo is None or time.utcoffset() is None:
        raise InputError(Problem(f"the time {time.isoformat()} has no zone; give one, as {time.isoformat()}Z", key=key))
    try:
        return time.astimezone(UTC)
    except OverflowError:
        raise InputError(
            Problem(f"{time.isoformat()} is not a time that can be kept; give one in UTC", key=key)
        ) from None


# Rows as they are handed out


def _site_row(row: Row[Any]) -> SiteRow:
    return SiteRow(row.slug, row.name, row.made_at, row.number, row.changed_at, row.removed_at)


def _version(row: Row[Any]) -> Version:
    return Version(row.number, row.made_at, row.what, row.toml, row.copy_of, row.name)


def _run(row: Row[Any]) -> FirstRunRow:
    return FirstRunRow(
        row.id, row.slug, row.version_number, row.begun_at, row.temperature_c, row.running_bar, row.running_l_min,
        row.closed_at,
    )  # fmt: skip


def _document_row(row: Row[Any]) -> DocumentRow:
    return DocumentRow(
        row.number, row.slug, row.kind, row.title, row.issued_at, row.version_number, row.program, row.data,
        row.html_sha256, row.pdf_sha256,
    )  # fmt: skip
