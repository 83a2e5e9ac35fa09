"""The pages, one module each: a frozen dataclass as its content, a few small handlers, and their ``routes``."""

from __future__ import annotations

from rinsewright.web.pages import build, settings, sites, start, unpacking, versions

PAGES = (sites, start, build, unpacking, settings, versions)
