"""The tables as they are today. How an older book gets there stands in ``migrations/``.

A time is kept as text of one width, ``2026-03-01T09:30:00.000000Z``: both databases compare and copy it alike.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Dialect,
    Double,
    ForeignKey,
    ForeignKeyConstraint,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.types import TypeDecorator

TIME_FORMAT = "%Y-%m-%dT%H:%M:%S.%fZ"


def as_text(time: datetime) -> str:
    """A time with a zone as the book's text, in UTC."""
    utc = time.astimezone(UTC)
    return f"{utc.year:04d}-{utc:%m-%dT%H:%M:%S.%f}Z"  # %Y alone would not pad a year on every system


def as_time(text: str) -> datetime:
    """The book's text as a time in UTC."""
    return datetime.strptime(text, TIME_FORMAT).replace(tzinfo=UTC)


class Time(TypeDecorator[datetime]):
    """A column of times in UTC."""

    impl = String(27)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:
        """On the way in."""
        return None if value is None else as_text(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        """On the way out."""
        return None if value is None else as_time(value)


METADATA = MetaData()

SITE = Table(
    "site",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("slug", String(80), nullable=False, unique=True),
    Column("made_at", Time, nullable=False),
    Column("removed_at", Time),
)

VERSION = Table(
    "version",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("site_id", ForeignKey("site.id"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("made_at", Time, nullable=False),
    Column("what", Text, nullable=False),
    Column("toml", Text, nullable=False),
    Column("copy_of", Integer),
    Column("name", Text, nullable=False, server_default=""),
    UniqueConstraint("site_id", "number"),
)

FIRST_RUN = Table(
    "first_run",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("site_id", Integer, nullable=False),
    Column("version_number", Integer, nullable=False),
    Column("begun_at", Time, nullable=False),
    Column("temperature_c", Double),
    Column("running_bar", Double),
    Column("running_l_min", Double),
    Column("closed_at", Time),
    Column("client_id", String(80), unique=True, index=True),  # of one begun on a phone
    ForeignKeyConstraint(["site_id", "version_number"], ["version.site_id", "version.number"]),
)

READING = Table(
    "reading",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("first_run_id", ForeignKey("first_run.id"), nullable=False, index=True),
    Column("client_id", String(80), nullable=False, unique=True),
    Column("key", Text, nullable=False),
    Column("value", Double),  # null: never, as a time that does not come to an end
    Column("taken_at", Time, nullable=False),
    Column("kept_at", Time, nullable=False),
)

TICK = Table(
    "tick",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("site_id", ForeignKey("site.id"), nullable=False, index=True),
    Column("client_id", String(80), nullable=False, unique=True),
    Column("sheet", Text, nullable=False),
    Column("key", Text, nullable=False),
    Column("done", Boolean, nullable=False),
    Column("ticked_at", Time, nullable=False),
    Column("kept_at", Time, nullable=False),
)

DOCUMENT = Table(
    "document",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("site_id", Integer, nullable=False),
    Column("number", String(20), nullable=False, unique=True),
    Column("kind", Text, nullable=False),
    Column("title", Text, nullable=False),
    Column("issued_at", Time, nullable=False),
    Column("version_number", Integer, nullable=False),
    Column("program", Text, nullable=False),
    Column("data", Text, nullable=False),
    Column("html_sha256", String(64), nullable=False),
    Column("pdf_sha256", String(64), nullable=False),
    # The bytes are the last columns: SQLite would read through them to reach what stands behind.
    Column("html", LargeBinary, nullable=False),
    Column("pdf", LargeBinary, nullable=False),
    ForeignKeyConstraint(["site_id", "version_number"], ["version.site_id", "version.number"]),
)

DRAWN_YEARS = Table(
    "drawn_years",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("site_id", ForeignKey("site.id"), nullable=False),
    Column("basis", String(64), nullable=False),  # a hash of all that they rest on, but for the next two
    Column("members", Integer, nullable=False),
    Column("seed", BigInteger, nullable=False),
    Column("kept_at", Time, nullable=False),
    Column("content", LargeBinary, nullable=False),
    UniqueConstraint("site_id", "basis", "members", "seed"),
)

SETTING = Table(
    "setting",
    METADATA,
    Column("key", String(80), primary_key=True),
    Column("value", Text, nullable=False),
)
