"""Documents to hand over: made once by their job, then kept in the book as bytes and never made again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Protocol

from rinsewright.api import Site
from rinsewright.errors import InputError, Problem
from rinsewright.firstrun.measured import NEVER
from rinsewright.firstrun.record import FirstRun
from rinsewright.planning.versions import stamped
from rinsewright.store.book import Book
from rinsewright.store.rows import DocumentRow
from rinsewright.web.engine import Engine
from rinsewright.web.words import words


class Papers(Protocol):
    """What a job makes: files in a folder, of each document a page and a PDF under its kind's name."""

    def write(self, folder: Path, /) -> list[Path]:
        """Write into a folder; returns the files."""


def issue(book: Book, engine: Engine, slug: str, kind: str) -> DocumentRow:
    """Make a document of one of the :data:`KINDS` from the site as it stands, and keep it.

    Raises what the engine raises where the site cannot have this document.
    """
    current = book.current(slug)
    papers = KINDS[kind](book, engine, slug, current.toml)
    with TemporaryDirectory(prefix="rinsewright-") as name:
        written = {file.name: file for file in papers.write(Path(name))}
        if f"{kind}.html" not in written:
            raise InputError(Problem(words()(f"papers.lacks.{kind}")))
        html, pdf = (written[f"{kind}.{end}"].read_bytes() for end in ("html", "pdf"))
    made_by = stamped({})
    title = f"{current.name}: {words()(f'papers.kind.{kind}')}"
    return book.issue(slug, kind, title, html, pdf, made_by["program"], made_by["data"], current.number)


def _plan(book: Book, engine: Engine, slug: str, toml: str) -> Papers:
    from rinsewright.jobs.plan import PlanPapers

    return PlanPapers(engine.plan(toml))


def _year(book: Book, engine: Engine, slug: str, toml: str) -> Papers:
    from rinsewright.jobs.year import YearPapers

    return YearPapers(engine.year(toml))


def _build(book: Book, engine: Engine, slug: str, toml: str) -> Papers:
    from rinsewright.jobs.build import BuildPapers

    return BuildPapers(engine.build(toml))


def _first_run(book: Book, engine: Engine, slug: str, toml: str) -> Papers:
    from rinsewright.jobs.firstrun import FirstRunPapers

    site = engine.site(toml)
    return FirstRunPapers(site, latest_first_run(book, site, slug))


def latest_first_run(book: Book, site: Site, slug: str) -> FirstRun:
    """The newest first run of a site with what was read on it; where there is none yet, a record to fill in."""
    runs = book.first_runs(slug)
    if not runs:
        return site.first_run()
    run = max(runs, key=lambda one: one.begun_at)
    return site.first_run(run.temperature_c, run.running_bar, run.running_l_min, _measured(book.readings(run.id)))


def _measured(readings: Mapping[str, float | None]) -> dict[str, Any] | None:
    """As the engine takes them."""
    return {key: NEVER if value is None else value for key, value in readings.items()} or None


KINDS: dict[str, Callable[[Book, Engine, str, str], Papers]] = {
    "plan": _plan,
    "year": _year,
    "build": _build,
    "unpacking": _build,
    "firstrun": _first_run,
    "handover": _first_run,
}
"""What can be handed over, by the name of the files that its job writes."""
