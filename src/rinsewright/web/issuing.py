"""Documents to hand over: made once by their job, then kept in the book as bytes and never made again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Protocol

from rinsewright.api import Site
from rinsewright.errors import InputError, Problem
from rinsewright.firstrun.measured import NEVER
from rinsewright.firstrun.record import FirstRun
from rinsewright.papers.sheets import marked
from rinsewright.papers.units import Units
from rinsewright.planning.versions import stamped
from rinsewright.store.book import Book
from rinsewright.store.errors import NumberTaken
from rinsewright.store.rows import DocumentRow, FirstRunRow, Version
from rinsewright.web.engine import Engine
from rinsewright.web.units import units_in
from rinsewright.web.words import words


class Papers(Protocol):
    """What a job makes: files in a folder, of each document a page and a PDF under its kind's name."""

    def write(self, folder: Path, /) -> list[Path]:
        """Write into a folder; returns the files."""


def issue(book: Book, engine: Engine, slug: str, kind: str) -> DocumentRow:
    """Make a document of one of the :data:`KINDS` and keep it: of the site as it stands, or as a first run found it.

    It is told in the units that are set in the book.
    Raises what the engine raises where the site cannot have this document.
    """
    version = _version(book, slug, kind)
    papers = KINDS[kind](book, engine, slug, version.toml, units_in(book))
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


def _version(book: Book, slug: str, kind: str) -> Version:
    """What a document speaks of: readings belong to the plant on which they were taken, whatever was changed since."""
    run = newest_run(book, slug) if kind in OF_A_RUN else None
    return book.current(slug) if run is None else book.version(slug, run.version_number)


def _plan(book: Book, engine: Engine, slug: str, toml: str, units: Units) -> Papers:
    from rinsewright.jobs.plan import PlanPapers

    return PlanPapers(engine.plan(toml), units)


def _year(book: Book, engine: Engine, slug: str, toml: str, units: Units) -> Papers:
    from rinsewright.jobs.year import YearPapers

    return YearPapers(engine.year(toml), units)


def _build(book: Book, engine: Engine, slug: str, toml: str, units: Units) -> Papers:
    from rinsewright.jobs.build import BuildPapers

    return BuildPapers(engine.build(toml), units)


def _first_run(book: Book, engine: Engine, slug: str, toml: str, units: Units) -> Papers:
    from rinsewright.jobs.firstrun import FirstRunPapers

    site = engine.site(toml)
    return FirstRunPapers(site, latest_first_run(book, site, slug), units)


def latest_first_run(book: Book, site: Site, slug: str) -> FirstRun:
    """The newest first run of a site with what was read on it; where there is none yet, a record to fill in."""
    run = newest_run(book, slug)
    if run is None:
        return site.first_run()
    return site.first_run(run.temperature_c, run.running_bar, run.running_l_min, _measured(book.readings(run.id)))


def newest_run(book: Book, slug: str) -> FirstRunRow | None:
    """The first run begun last, None where there is none yet."""
    return max(book.first_runs(slug), key=lambda run: run.begun_at, default=None)


def _measured(readings: Mapping[str, float | None]) -> dict[str, Any] | None:
    """As the engine takes them."""
    return {key: NEVER if value is None else value for key, value in readings.items()} or None


OF_A_RUN = ("firstrun", "handover")
KINDS: dict[str, Callable[[Book, Engine, str, str, Units], Papers]] = {
    "plan": _plan,
    "year": _year,
    "build": _build,
    "unpacking": _build,
    "firstrun": _first_run,
    "handover": _first_run,
}
"""What can be handed over, by the name of the files that its job writes."""
