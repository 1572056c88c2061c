"""What a device sent, each once."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Make the table of keys by which a step called done, or a reading, that is sent again is known."""
    op.create_table(
        "sent",
        sa.Column("job_id", sa.Integer, primary_key=True),
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("at", sa.String(32), nullable=False),
    )
