"""Several readings at one gate."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Give a reading each of the several that its gate asks for; those kept before are one each."""
    op.add_column("readings", sa.Column("each_read", sa.JSON, nullable=False, server_default="[]"))
