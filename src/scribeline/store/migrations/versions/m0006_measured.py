"""What was measured of a plan's numbers."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Make the table of measurements: each as it was made, and why one counts no more."""
    op.create_table(
        "measured",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("job_id", sa.Integer, nullable=False),
        sa.Column("entry", sa.JSON, nullable=False),
        sa.Column("struck", sa.JSON),
    )
    op.create_index("measured_of_job", "measured", ["job_id"])
