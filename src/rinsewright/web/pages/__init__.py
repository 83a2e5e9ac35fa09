"""The pages, one module each: a frozen dataclass as its content, a few small handlers, and their ``routes``."""

from __future__ import annotations

from rinsewright.web.pages import build, settings, sites, unpacking, versions

PAGES = (sites, build, unpacking, settings, versions)
