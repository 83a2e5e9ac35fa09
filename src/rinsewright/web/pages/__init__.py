"""The pages, one module each: a frozen dataclass as its content, a few small handlers, and their ``routes``."""

from __future__ import annotations

from rinsewright.web.pages import (
    build,
    entries,
    firstrun,
    offline,
    papers,
    parts,
    plant,
    settings,
    sites,
    start,
    tap,
    ticks,
    unpacking,
    versions,
    work,
    yard,
    year,
)

PAGES = (
    *(sites, start, tap, work, entries, yard, plant, parts, year),
    *(build, unpacking, firstrun, ticks, offline, papers, settings, versions),
)
