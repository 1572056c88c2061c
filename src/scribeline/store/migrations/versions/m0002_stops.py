"""Stops gone on against, and the limits for which a reading was accepted at one's own risk."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

_AT_RISK = "at my own risk: "


def upgrade() -> None:
    """Make the table of overrides, and give readings the reason and the limits that they were accepted for.

    For which limits a reading was accepted before is not known: it keeps its reason and has none.
    """
    op.add_column("readings", sa.Column("risk", sa.Text, nullable=False, server_default=""))
    op.add_column("readings", sa.Column("low", sa.Float))
    op.add_column("readings", sa.Column("high", sa.Float))
    op.get_bind().execute(
        sa.text(
            "UPDATE readings SET risk = substr(with_what, :after), with_what = '' "
            "WHERE substr(with_what, 1, :length) = :words"
        ),
        {"after": len(_AT_RISK) + 1, "length": len(_AT_RISK), "words": _AT_RISK},
    )
    op.create_table(
        "overrides",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("job_id", sa.Integer, nullable=False),
        sa.Column("code", sa.Text, nullable=False),
        sa.Column("features", sa.JSON, nullable=False),
        sa.Column("value", sa.Float),
        sa.Column("limit", sa.Float),
        sa.Column("says", sa.Text, nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("taken_back_at", sa.String(32)),
        sa.Column("taken_back_by", sa.Text),
        sa.ForeignKeyConstraint(["job_id", "revision"], ["revisions.job_id", "revisions.number"]),
    )
    op.create_index("overrides_of_job", "overrides", ["job_id"])
