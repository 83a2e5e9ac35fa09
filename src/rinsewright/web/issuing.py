"""Documents to hand over: made once by their job, then kept in the book as bytes and never made again."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Protocol

from rinsewright.errors import InputError, Problem
from rinsewright.firstrun.measured import NEVER
from rinsewright.papers.sheets import marked
from rinsewright.papers.units import Units
from rinsewright.planning.versions import stamped
from rinsewright.store.book import Book
from rinsewright.store.errors import NotInBook, NumberTaken
from rinsewright.store.rows import DocumentRow, FirstRunRow
from rinsewright.web.engine import Engine
from rinsewright.web.units import units_in
from rinsewright.web.words import words


class Papers(Protocol):
    """What a job makes: files in a folder, of each document a page and a PDF under its kind's name."""

    def write(self, folder: Path, /) -> list[Path]:
        """Write into a folder; returns the files."""


def issue(book: Book, engine: Engine, slug: str, kind: str, run_id: int | None = None) -> DocumentRow:
    """Make a document of one of the :data:`KINDS` and keep it: of the site as it stands, or as a first run found it.

    ``run_id``: which first run; the newest on which something was read where it is not given. It is told in the units
    that are set in the book. Raises what the engine raises where the site cannot have this document.
    """
    run = run_of(book, slug, run_id) if kind in OF_A_RUN else None
    # Readings belong to the plant on which they were taken, whatever was changed since.
    version = book.current(slug) if run is None else book.version(slug, run.version_number)
    papers = KINDS[kind](engine, version.toml, units_in(book), _measured(book, run))
    title = f"{version.name}: {words()(f'papers.kind.{kind}')}"
    made_by = stamped({})
    while True:
        number = book.next_document_number()
        with marked(words()("papers.mark", number=number, day=f"{datetime.now(UTC):%Y-%m-%d}", version=version.number)):
            html, pdf = _written(papers, kind)
        # Another document may have taken the number while this one was made.
        with suppress(NumberTaken):
            return book.issue(slug, kind, title, html, pdf, made_by["program"], made_by["data"], version.number, number)


def _written(papers: Papers, kind: str) -> tuple[bytes, bytes]:
    """The page and the PDF of one kind, out of what the job writes."""
    with TemporaryDirectory(prefix="rinsewright-") as name:
        written = {file.name: file for file in papers.write(Path(name))}
        if f"{kind}.html" not in written:
            raise InputError(Problem(words()(f"papers.lacks.{kind}")))
        html, pdf = (written[f"{kind}.{end}"].read_bytes() for end in ("html", "pdf"))
    return html, pdf


@dataclass(frozen=True)
class Read:
    """A first run and what was read on it; None and nothing where there is none yet."""

    run: FirstRunRow | None
    readings: dict[str, Any] | None


def run_of(book: Book, slug: str, run_id: int | None = None) -> FirstRunRow | None:
    """The first run asked for, else the newest on which something was read, else the newest, else None.

    Raises :class:`NotInBook` for one that this site does not have.
    """
    runs = sorted(book.first_runs(slug), key=lambda run: run.begun_at, reverse=True)
    if run_id is not None:
        found = next((run for run in runs if run.id == run_id), None)
        if found is None:
            raise NotInBook(f"this site has no first run {run_id}")
        return found
    return next((run for run in runs if book.readings(run.id)), runs[0] if runs else None)


def _measured(book: Book, run: FirstRunRow | None) -> Read:
    """What was read on a first run, as the engine takes it."""
    readings = book.readings(run.id) if run is not None else {}
    return Read(run, {key: NEVER if value is None else value for key, value in readings.items()} or None)


def _plan(engine: Engine, toml: str, units: Units, read: Read) -> Papers:
    from rinsewright.jobs.plan import PlanPapers

    return PlanPapers(engine.plan(toml), units)


def _year(engine: Engine, toml: str, units: Units, read: Read) -> Papers:
    from rinsewright.jobs.year import YearPapers

    return YearPapers(engine.year(toml), units)


def _build(engine: Engine, toml: str, units: Units, read: Read) -> Papers:
    from rinsewright.jobs.build import BuildPapers

    return BuildPapers(engine.build(toml), units)


def _first_run(engine: Engine, toml: str, units: Units, read: Read) -> Papers:
    from rinsewright.jobs.firstrun import FirstRunPapers

    site, run = engine.site(toml), read.run
    if run is None:  # a record to fill in
        return FirstRunPapers(site, site.first_run(), units)
    record = site.first_run(run.temperature_c, run.running_bar, run.running_l_min, read.readings)
    return FirstRunPapers(site, record, units)


OF_A_RUN = ("firstrun", "handover")
KINDS: dict[str, Callable[[Engine, str, Units, Read], Papers]] = {
    "plan": _plan,
    "year": _year,
    "build": _build,
    "unpacking": _build,
    "firstrun": _first_run,
    "handover": _first_run,
}
"""What can be handed over, by the name of the files that its job writes."""
