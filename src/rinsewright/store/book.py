"""The book: every method is one transaction, kept whole or not at all, and may be called from many threads at once."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from sqlalchemy import select

from rinsewright.errors import InputError, Problem
from rinsewright.store import asking, incoming, writing
from rinsewright.store.database import Database
from rinsewright.store.errors import BookNotUsable, ChangedMeanwhile, NumberTaken
from rinsewright.store.migrate import bring_up_to_date
from rinsewright.store.rows import Document, DocumentRow, FirstRunRow, SiteRow, Version
from rinsewright.store.schema import DOCUMENT, DRAWN_YEARS, FIRST_RUN, READING, SETTING, SITE, TICK, VERSION


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
            return [
                asking.site_row(row) for row in connection.execute(asking.sites().where(SITE.c.removed_at.is_(None)))
            ]

    def removed(self) -> list[SiteRow]:
        """The sites that were removed and can be brought back."""
        with self._database.reading() as connection:
            return [
                asking.site_row(row) for row in connection.execute(asking.sites().where(SITE.c.removed_at.is_not(None)))
            ]

    def site(self, slug: str) -> SiteRow:
        """One site; raises :class:`~rinsewright.store.errors.NotInBook` where there is none or it is removed."""
        with self._database.reading() as connection:
            return asking.site_row(asking.find_site(connection, slug))

    def add_site(self, toml: str, name: str, what: str) -> SiteRow:
        """Begin a site with its first version. Its slug comes from the name, is unique and stays the same."""
        incoming.check_texts(toml=toml, name=name, what=what)
        with self._database.writing() as connection:
            slug = writing.free_slug(connection, name)
            now = writing.now()
            site_id = writing.insert(connection, SITE, slug=slug, made_at=now)
            writing.insert(connection, VERSION, site_id=site_id, number=1, made_at=now, what=what, toml=toml, name=name)
        return SiteRow(slug, name, now, 1, now)

    def current(self, slug: str) -> Version:
        """The version that stands now."""
        with self._database.reading() as connection:
            site = asking.find_site(connection, slug)
            return asking.find_version(connection, site, site.number)

    def versions(self, slug: str) -> list[Version]:
        """All versions of a site, the first one first."""
        with self._database.reading() as connection:
            site = asking.find_site(connection, slug)
            found = connection.execute(select(VERSION).where(VERSION.c.site_id == site.id).order_by(VERSION.c.number))
            return [asking.version(row) for row in found]

    def version(self, slug: str, number: int) -> Version:
        """One version of a site."""
        with self._database.reading() as connection:
            return asking.find_version(connection, asking.find_site(connection, slug), number)

    def save(self, slug: str, toml: str, name: str, what: str, made_from: int) -> Version:
        """Keep a change as a new version; where text and name are the current ones, that version is returned.

        ``made_from`` is the number of the version that the editor saw. Raises :class:`ChangedMeanwhile`, and writes
        nothing, where another one stands by now.
        """
        incoming.check_texts(toml=toml, name=name, what=what)
        with self._database.writing() as connection:
            site = asking.find_site(connection, slug)
            if site.number != made_from:
                raise ChangedMeanwhile(site.name, made_from, site.number)
            current = asking.find_version(connection, site, site.number)
            if (current.toml, current.name) == (toml, name):
                return current
            return writing.append(connection, site, Version(site.number + 1, writing.now(), what, toml, None, name))

    def undo(self, slug: str, made_from: int | None = None) -> Version:
        """Append a copy of the state before the current one; each further undo goes one state further back.

        ``made_from``, where given, is the version that is to be undone: :class:`ChangedMeanwhile` where another one
        stands by now. Raises :class:`~rinsewright.errors.InputError` at the first state.
        """
        with self._database.writing() as connection:
            site = asking.find_site(connection, slug)
            if made_from is not None and site.number != made_from:
                raise ChangedMeanwhile(site.name, made_from, site.number)
            state = asking.find_version(connection, site, site.number)
            before = (state.copy_of or state.number) - 1
            if before < 1:
                raise InputError(Problem(f'"{site.name}" stands as it was first made; there is nothing to undo'))
            old = asking.find_version(connection, site, before)
            what = f"undone: {asking.undone(connection, site, state).what}"
            copy = Version(site.number + 1, writing.now(), what, old.toml, old.copy_of or old.number, old.name)
            return writing.append(connection, site, copy)

    def remove_site(self, slug: str) -> None:
        """Take a site off the list. Nothing of it is deleted; :meth:`bring_back` returns it."""
        self._mark_removed(slug, removed=True)

    def bring_back(self, slug: str) -> None:
        """Put a removed site back on the list."""
        self._mark_removed(slug, removed=False)

    def _mark_removed(self, slug: str, *, removed: bool) -> None:
        with self._database.writing() as connection:
            site = asking.find_site(connection, slug, removed=not removed)
            connection.execute(
                SITE.update().where(SITE.c.id == site.id).values(removed_at=writing.now() if removed else None)
            )

    # First runs and their readings

    def begin_first_run(
        self,
        slug: str,
        temperature_c: float | None = None,
        running_bar: float | None = None,
        running_l_min: float | None = None,
        *,
        client_id: str | None = None,
        begun_at: datetime | None = None,
    ) -> FirstRunRow:
        """Begin a first run of the current version: water in °C, the tap's running pressure in bar at a flow in L/min.

        None stands for the site file's own value, and for this moment. One that came under ``client_id`` before is
        returned as it is, and nothing is written. Raises :class:`~rinsewright.errors.InputError` where a value is not
        a finite number, ``begun_at`` has no time zone or ``client_id`` is of another site's first run.
        """
        values = {"temperature_c": temperature_c, "running_bar": running_bar, "running_l_min": running_l_min}
        checked = {key: incoming.number(key, value) for key, value in values.items()}
        begun = None if begun_at is None else incoming.moment("begun_at", begun_at)
        if client_id is not None:
            incoming.check_texts(client_id=client_id)
        with self._database.writing() as connection:
            known = None if client_id is None else asking.run_begun_as(connection, client_id)
            if known is not None and known.slug != slug:
                raise InputError(
                    Problem("a first run of another site has this id; give one of its own", key="client_id")
                )
            if known is not None:
                return known
            site = asking.find_site(connection, slug)
            run_id = writing.insert(
                connection, FIRST_RUN, site_id=site.id, version_number=site.number, client_id=client_id,
                begun_at=begun or writing.now(), **checked,
            )  # fmt: skip
            return asking.find_run(connection, run_id)

    def first_runs(self, slug: str) -> list[FirstRunRow]:
        """All first runs of a site, the oldest first."""
        with self._database.reading() as connection:
            site = asking.find_site(connection, slug)
            return [asking.run(row) for row in connection.execute(asking.runs().where(SITE.c.id == site.id))]

    def first_run(self, run_id: int) -> FirstRunRow:
        """One first run; raises :class:`~rinsewright.store.errors.NotInBook`."""
        with self._database.reading() as connection:
            return asking.find_run(connection, run_id)

    def close_first_run(self, run_id: int) -> FirstRunRow:
        """Close a first run; one that is closed keeps its time. A reading sent late is still kept."""
        with self._database.writing() as connection:
            asking.find_run(connection, run_id)
            still_open = (FIRST_RUN.c.id == run_id) & FIRST_RUN.c.closed_at.is_(None)
            connection.execute(FIRST_RUN.update().where(still_open).values(closed_at=writing.now()))
            return asking.find_run(connection, run_id)

    def keep_reading(self, run_id: int, key: str, value: float | None, client_id: str, taken_at: datetime) -> bool:
        """Keep a reading exactly once: False where ``client_id`` is already kept, and then nothing is written.

        ``value`` is in the unit of ``key``, finite; None is "never". ``taken_at`` needs a time zone.
        """
        incoming.check_texts(key=key, client_id=client_id)
        values = {"value": incoming.number(key, value), "taken_at": incoming.moment(key, taken_at)}
        with self._database.writing() as connection:
            asking.find_run(connection, run_id)
            return writing.keep_once(connection, READING, client_id, first_run_id=run_id, key=key, **values)

    def readings(self, run_id: int) -> dict[str, float | None]:
        """Each key's newest reading by the time it was taken; of two at the same time the later kept."""
        with self._database.reading() as connection:
            asking.find_run(connection, run_id)
            return asking.newest(connection, READING, READING.c.first_run_id == run_id, "value", "taken_at")

    # Ticks

    def keep_tick(self, slug: str, sheet: str, key: str, done: bool, client_id: str, ticked_at: datetime) -> bool:
        """Keep a tick, or its taking off, exactly once: False where ``client_id`` is already kept."""
        incoming.check_texts(sheet=sheet, key=key, client_id=client_id)
        when = incoming.moment(key, ticked_at)
        with self._database.writing() as connection:
            site = asking.find_site(connection, slug, removed=None)
            values = {"site_id": site.id, "sheet": sheet, "key": key, "done": bool(done), "ticked_at": when}
            return writing.keep_once(connection, TICK, client_id, **values)

    def ticks(self, slug: str, sheet: str) -> dict[str, bool]:
        """Each key's newest tick on one sheet by the time it was made; of two at the same time the later kept."""
        incoming.check_texts(sheet=sheet)
        with self._database.reading() as connection:
            site = asking.find_site(connection, slug)
            mine = (TICK.c.site_id == site.id) & (TICK.c.sheet == sheet)
            return asking.newest(connection, TICK, mine, "done", "ticked_at")

    # Documents

    def next_document_number(self) -> str:
        """The number that the next document will have, if no other comes before it."""
        with self._database.reading() as connection:
            return writing.next_number(connection, writing.now().year)

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
        number: str | None = None,
    ) -> DocumentRow:
        """Keep a document for good, as bytes, under the next number of this year (UTC), such as ``2026-0001``.

        ``version_number`` is the version that the document speaks of; None is the current one. ``number`` is the one
        that the document bears: :class:`~rinsewright.store.errors.NumberTaken`, and nothing is written, where it is
        not the next.
        """
        incoming.check_texts(kind=kind, title=title, program=program, data=data)
        with self._database.writing() as connection:
            site = asking.find_site(connection, slug)
            version = asking.find_version(connection, site, site.number if version_number is None else version_number)
            now = writing.now()
            free = writing.next_number(connection, now.year)
            if number not in (None, free):
                raise NumberTaken(number)
            writing.insert(
                connection, DOCUMENT, site_id=site.id, number=free, kind=kind, title=title, issued_at=now,
                version_number=version.number, program=program, data=data, html=html, pdf=pdf,
                html_sha256=writing.sha256(html), pdf_sha256=writing.sha256(pdf),
            )  # fmt: skip
            return asking.document_row(asking.find_document(connection, free))

    def documents(self, slug: str | None = None) -> list[DocumentRow]:
        """The issued documents in the order of issue, of one site (also a removed one) or of all."""
        with self._database.reading() as connection:
            wanted = asking.documents()
            if slug is not None:
                wanted = wanted.where(SITE.c.id == asking.find_site(connection, slug, removed=None).id)
            return [asking.document_row(row) for row in connection.execute(wanted.order_by(DOCUMENT.c.id))]

    def document(self, number: str) -> Document:
        """One document with its bytes.

        Raises :class:`~rinsewright.store.errors.NotInBook`, or :class:`BookNotUsable` where the bytes are damaged.
        """
        with self._database.reading() as connection:
            row = asking.document_row(asking.find_document(connection, number))
            html, pdf = connection.execute(
                select(DOCUMENT.c.html, DOCUMENT.c.pdf).where(DOCUMENT.c.number == number)
            ).one()
        if (writing.sha256(html), writing.sha256(pdf)) != (row.html_sha256, row.pdf_sha256):
            raise BookNotUsable(
                self.where, f"document {number} is not the one that was issued (its hash differs); restore a backup"
            )
        return Document(row, bytes(html), bytes(pdf))

    # Drawn years: they can be drawn again, so only the newest are kept

    def keep_drawn_years(self, slug: str, basis: str, members: int, seed: int, content: bytes) -> None:
        """Keep the years that were drawn of a site, in place of the same ones and of the oldest beyond a few.

        ``basis``: a hash, in 64 hexadecimal digits, of all that they rest on but for their number and seed.
        """
        incoming.check_texts(basis=basis)
        with self._database.writing() as connection:
            site_id = asking.find_site(connection, slug).id
            same = asking.same_years(site_id, basis, members, seed)
            connection.execute(DRAWN_YEARS.delete().where(same))
            writing.insert(
                connection, DRAWN_YEARS, site_id=site_id, basis=basis, members=members, seed=seed,
                kept_at=writing.now(), content=content,
            )  # fmt: skip
            writing.drop_oldest_years(connection, site_id)

    def drawn_years(self, slug: str, basis: str, members: int, seed: int) -> bytes | None:
        """The years kept under these, if they are."""
        with self._database.reading() as connection:
            same = asking.same_years(asking.find_site(connection, slug).id, basis, members, seed)
            content: bytes | None = connection.scalar(select(DRAWN_YEARS.c.content).where(same))
        return content

    def newest_drawn_years(self, slug: str, basis: str) -> tuple[int, int] | None:
        """How many years were drawn last on this basis, and with which seed; None where none are kept."""
        with self._database.reading() as connection:
            mine = (DRAWN_YEARS.c.site_id == asking.find_site(connection, slug).id) & (DRAWN_YEARS.c.basis == basis)
            wanted = select(DRAWN_YEARS.c.members, DRAWN_YEARS.c.seed).where(mine)
            row = connection.execute(wanted.order_by(DRAWN_YEARS.c.id.desc()).limit(1)).one_or_none()
        return None if row is None else (row.members, row.seed)

    # Settings

    def setting(self, key: str, default: str | None = None) -> str | None:
        """A setting's text, or the default."""
        if not incoming.keepable(key):
            return default
        with self._database.reading() as connection:
            found: str | None = connection.scalar(select(SETTING.c.value).where(SETTING.c.key == key))
        return default if found is None else found

    def set_setting(self, key: str, value: str) -> None:
        """Keep a setting in place of its former value."""
        incoming.check_texts(setting=key, value=value)
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
