"""A first run begun on a phone bears the phone's id, as its readings do; years that were drawn are kept."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

BEGUN = "first run begun "  # what stood before the phone's id in the name of a setting, whose value was the run's id


def upgrade() -> None:
    """Take the phones' ids from the settings to their first runs; make the table of drawn years."""
    op.add_column("first_run", sa.Column("client_id", sa.String(80)))
    op.create_index("ix_first_run_client_id", "first_run", ["client_id"], unique=True)
    run, setting = (
        sa.table("first_run", sa.column("id"), sa.column("client_id")),
        sa.table("setting", sa.column("key", sa.Text), sa.column("value", sa.Text)),
    )
    begun = setting.c.key.startswith(BEGUN)
    mine = begun & (setting.c.value == sa.cast(run.c.id, sa.Text))
    client_id = sa.select(sa.func.min(sa.func.substr(setting.c.key, len(BEGUN) + 1))).where(mine).scalar_subquery()
    op.execute(run.update().values(client_id=client_id))
    op.execute(setting.delete().where(begun))
    op.create_table(
        "drawn_years",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("site_id", sa.Integer, sa.ForeignKey("site.id"), nullable=False),
        sa.Column("basis", sa.String(64), nullable=False),
        sa.Column("members", sa.Integer, nullable=False),
        sa.Column("seed", sa.BigInteger, nullable=False),
        sa.Column("kept_at", sa.String(27), nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sa.UniqueConstraint("site_id", "basis", "members", "seed"),
    )
