"""The shop's tests of its machines and hands."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    """Make the table of them: the whole file at each change, as that of finished instruments."""
    op.create_table(
        "shop_tests",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
    )
