"""Writing to the tables, within a writer's turn: what is not there now is nowhere under way."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Integer, Row, Table, cast, func, select

from rinsewright.store.rows import Version
from rinsewright.store.schema import DOCUMENT, DRAWN_YEARS, SITE, VERSION

SLUG_LENGTH = 60
YEARS_KEPT = 6  # of one site; a hundred kilobytes each


def insert(connection: Connection, table: Table, **values: Any) -> int:
    """Add one row; returns its id."""
    key = connection.execute(table.insert().values(**values)).inserted_primary_key
    assert key is not None
    return int(key[0])


def append(connection: Connection, site: Row[Any], version: Version) -> Version:
    """Add a version to a site; returns it."""
    insert(
        connection, VERSION, site_id=site.id, number=version.number, made_at=version.made_at, what=version.what,
        toml=version.toml, copy_of=version.copy_of, name=version.name,
    )  # fmt: skip
    return version


def keep_once(connection: Connection, table: Table, client_id: str, **values: Any) -> bool:
    """Add one row unless ``client_id`` is there already; returns whether it was added."""
    if connection.scalar(select(table.c.id).where(table.c.client_id == client_id)) is not None:
        return False
    insert(connection, table, client_id=client_id, kept_at=now(), **values)
    return True


def free_slug(connection: Connection, name: str) -> str:
    """The name's slug, with the first number behind it that makes it unique."""
    wanted = slug_of(name)
    taken = set(connection.scalars(select(SITE.c.slug)))
    slug, count = wanted, 1
    while slug in taken:
        count += 1
        slug = f"{wanted}-{count}"
    return slug


def slug_of(name: str) -> str:
    """A name as it stands in an address: small letters, digits and single hyphens; "site" where nothing is left."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:SLUG_LENGTH].strip("-") or "site"


def next_number(connection: Connection, year: int) -> str:
    """The next document's number in a year, such as ``2026-0001``; documents are never deleted, so it is free."""
    of_year = DOCUMENT.c.number.like(f"{year:04d}-%")
    last = connection.scalar(select(func.max(cast(func.substr(DOCUMENT.c.number, 6), Integer))).where(of_year))
    return f"{year:04d}-{(last or 0) + 1:04d}"


def drop_oldest_years(connection: Connection, site_id: int) -> None:
    """Keep the newest few of a site's drawn years."""
    mine = DRAWN_YEARS.c.site_id == site_id
    ids = connection.scalars(select(DRAWN_YEARS.c.id).where(mine).order_by(DRAWN_YEARS.c.id.desc())).all()
    connection.execute(DRAWN_YEARS.delete().where(DRAWN_YEARS.c.id.in_(ids[YEARS_KEPT:])))


def sha256(content: bytes) -> str:
    """The hash that is kept with a document's bytes, as hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def now() -> datetime:
    """This moment, in UTC."""
    return datetime.now(UTC)
