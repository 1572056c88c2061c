"""Jobs archived and deleted, forms sent twice, and what each job was like when it was last worked out."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Give jobs who last changed them, where they were put and by whom; make the table of what was worked out.

    Nothing is known of what was worked out before: it is noted when a job is next opened or looked at.
    """
    op.add_column("jobs", sa.Column("by", sa.Text, nullable=False, server_default=""))
    op.add_column("jobs", sa.Column("changes", sa.Integer, nullable=False, server_default="0"))
    op.add_column("jobs", sa.Column("archived_at", sa.String(32)))
    op.add_column("jobs", sa.Column("archived_by", sa.Text))
    op.add_column("jobs", sa.Column("deleted_at", sa.String(32)))
    op.add_column("jobs", sa.Column("deleted_by", sa.Text))
    op.add_column("jobs", sa.Column("once", sa.Text))
    op.create_index("job_made_once", "jobs", ["once"], unique=True)
    op.get_bind().execute(
        sa.text(
            "UPDATE jobs SET by = coalesce((SELECT revisions.by FROM revisions "
            "WHERE revisions.job_id = jobs.id AND revisions.number = jobs.newest), '')"
        )
    )
    op.create_table(
        "glances",
        sa.Column("job_id", sa.Integer, sa.ForeignKey("jobs.id"), primary_key=True),
        sa.Column("changes", sa.Integer, nullable=False),
        sa.Column("made_with", sa.Text, nullable=False),
        sa.Column("done", sa.Integer, nullable=False),
        sa.Column("steps", sa.Integer, nullable=False),
        sa.Column("next_step", sa.Text, nullable=False),
        sa.Column("stops", sa.Integer, nullable=False),
        sa.Column("wrong", sa.Text, nullable=False),
        sa.Column("drawn", sa.Boolean, nullable=False),
        sa.Column("picture", sa.Text, nullable=False),
    )
