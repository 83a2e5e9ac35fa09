"""A site's name goes with each version, so that undo brings the name back too."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Give every version the name that its site has."""
    op.add_column("version", sa.Column("name", sa.Text, nullable=False, server_default=""))
    op.execute("UPDATE version SET name = (SELECT site.name FROM site WHERE site.id = version.site_id)")
    op.drop_column("site", "name")
