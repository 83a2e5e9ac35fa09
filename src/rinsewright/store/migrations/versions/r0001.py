"""The first book: sites, versions, first runs with readings, ticks, documents, settings."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

TIME = sa.String(27)


def upgrade() -> None:
    """Make the tables."""
    _sites()
    _first_runs()
    _ticks()
    _documents()
    op.create_table(
        "setting",
        sa.Column("key", sa.String(80), primary_key=True),
        sa.Column("value", sa.Text, nullable=False),
    )


def _sites() -> None:
    op.create_table(
        "site",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("slug", sa.String(80), nullable=False, unique=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("made_at", TIME, nullable=False),
        sa.Column("removed_at", TIME),
    )
    op.create_table(
        "version",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("site_id", sa.Integer, sa.ForeignKey("site.id"), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("made_at", TIME, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("toml", sa.Text, nullable=False),
        sa.Column("copy_of", sa.Integer),
        sa.UniqueConstraint("site_id", "number"),
    )


def _first_runs() -> None:
    op.create_table(
        "first_run",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("site_id", sa.Integer, nullable=False),
        sa.Column("version_number", sa.Integer, nullable=False),
        sa.Column("begun_at", TIME, nullable=False),
        sa.Column("temperature_c", sa.Double),
        sa.Column("running_bar", sa.Double),
        sa.Column("running_l_min", sa.Double),
        sa.Column("closed_at", TIME),
        sa.ForeignKeyConstraint(["site_id", "version_number"], ["version.site_id", "version.number"]),
    )
    op.create_table(
        "reading",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("first_run_id", sa.Integer, sa.ForeignKey("first_run.id"), nullable=False, index=True),
        sa.Column("client_id", sa.String(80), nullable=False, unique=True),
        sa.Column("key", sa.Text, nullable=False),
        sa.Column("value", sa.Double),
        sa.Column("taken_at", TIME, nullable=False),
        sa.Column("kept_at", TIME, nullable=False),
    )


def _ticks() -> None:
    op.create_table(
        "tick",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("site_id", sa.Integer, sa.ForeignKey("site.id"), nullable=False, index=True),
        sa.Column("client_id", sa.String(80), nullable=False, unique=True),
        sa.Column("sheet", sa.Text, nullable=False),
        sa.Column("key", sa.Text, nullable=False),
        sa.Column("done", sa.Boolean, nullable=False),
        sa.Column("ticked_at", TIME, nullable=False),
        sa.Column("kept_at", TIME, nullable=False),
    )


def _documents() -> None:
    op.create_table(
        "document",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("site_id", sa.Integer, nullable=False),
        sa.Column("number", sa.String(20), nullable=False, unique=True),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("issued_at", TIME, nullable=False),
        sa.Column("version_number", sa.Integer, nullable=False),
        sa.Column("program", sa.Text, nullable=False),
        sa.Column("data", sa.Text, nullable=False),
        sa.Column("html_sha256", sa.String(64), nullable=False),
        sa.Column("pdf_sha256", sa.String(64), nullable=False),
        sa.Column("html", sa.LargeBinary, nullable=False),
        sa.Column("pdf", sa.LargeBinary, nullable=False),
        sa.ForeignKeyConstraint(["site_id", "version_number"], ["version.site_id", "version.number"]),
    )
