"""What the book hands out: frozen rows, times in UTC."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class SiteRow:
    """One site: ``number`` is its current version's, made at ``changed_at``."""

    slug: str
    name: str
    made_at: datetime
    number: int
    changed_at: datetime
    removed_at: datetime | None = None


@dataclass(frozen=True)
class Version:
    """One state of a site. ``what`` says what was changed; ``copy_of`` is the version that an undo brought back."""

    number: int
    made_at: datetime
    what: str
    toml: str
    copy_of: int | None
    name: str


@dataclass(frozen=True)
class FirstRunRow:
    """One first run of one version of a site: water in °C, the tap's running pressure in bar at a flow in L/min."""

    id: int
    slug: str
    version_number: int
    begun_at: datetime
    temperature_c: float | None
    running_bar: float | None
    running_l_min: float | None
    closed_at: datetime | None


@dataclass(frozen=True)
class DocumentRow:
    """One issued document, without its bytes. ``program`` and ``data`` are the versions that made it."""

    number: str
    slug: str
    kind: str
    title: str
    issued_at: datetime
    version_number: int
    program: str
    data: str
    html_sha256: str
    pdf_sha256: str


@dataclass(frozen=True)
class Document:
    """One issued document as it was issued, byte for byte."""

    row: DocumentRow
    html: bytes
    pdf: bytes
