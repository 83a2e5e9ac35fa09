"""The pages, one module each: a frozen dataclass as its content, a few small handlers, and their ``routes``."""

from __future__ import annotations

from rinsewright.web.pages import settings, sites, versions

PAGES = (sites, settings, versions)
