"""The first form of the store."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def _text(name: str, *, null: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=null)


def _time(name: str, *, null: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.String(32), nullable=null)


def _id() -> sa.Column[int]:
    return sa.Column("id", sa.Integer, primary_key=True)


def _whole(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer, nullable=False)


def _of_revision() -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(["job_id", "revision"], ["revisions.job_id", "revisions.number"])


def upgrade() -> None:
    """Make every table."""
    _jobs()
    _bench()
    _shop()


def _jobs() -> None:
    op.create_table(
        "jobs",
        _id(),
        _text("name"),
        sa.Column("units", sa.String(2), nullable=False),
        sa.Column("handed", sa.String(5), nullable=False),
        _whole("newest"),
        _time("at"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "revisions",
        sa.Column("job_id", sa.Integer, sa.ForeignKey("jobs.id"), primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True),
        _text("text"),
        _time("at"),
        _text("by"),
        _text("why"),
        sa.Column("kind", sa.String(4), nullable=False),
        sa.CheckConstraint("kind in ('edit', 'undo', 'redo')", name="revision_kind"),
    )
    op.create_table(
        "attachments",
        _id(),
        sa.Column("job_id", sa.Integer, sa.ForeignKey("jobs.id"), nullable=False),
        _text("name"),
        sa.Column("content", sa.LargeBinary, nullable=False),
        _text("by"),
        _time("at"),
    )
    op.create_index("attachments_of_job", "attachments", ["job_id", "name"])


def _bench() -> None:
    op.create_table(
        "ticks",
        _id(),
        _whole("job_id"),
        _text("card_id"),
        _text("by"),
        _time("at"),
        _whole("revision"),
        sa.Column("features", sa.JSON, nullable=False),
        _time("taken_back_at", null=True),
        _text("taken_back_by", null=True),
        _of_revision(),
    )
    op.create_index(
        "one_standing_tick",
        "ticks",
        ["job_id", "card_id"],
        unique=True,
        sqlite_where=sa.text("taken_back_at IS NULL"),
    )
    op.create_table(
        "readings",
        _id(),
        _whole("job_id"),
        _text("gate_id"),
        sa.Column("value_mm", sa.Float),
        sa.Column("yes", sa.Boolean),
        _text("by"),
        _text("with_what"),
        _whole("revision"),
        _time("at"),
        _of_revision(),
        sa.CheckConstraint("(value_mm IS NULL) <> (yes IS NULL)", name="reading_or_answer"),
    )
    op.create_index("readings_of_job", "readings", ["job_id"])


def _shop() -> None:
    op.create_table(
        "measurements",
        _id(),
        _text("shelf"),
        _text("name"),
        _text("key"),
        sa.Column("value", sa.Float, nullable=False),
        sa.Column("plus_minus", sa.Float, nullable=False),
        _text("by"),
        _text("with_what"),
        _time("at"),
    )
    op.create_index("measurements_of_part", "measurements", ["shelf", "name"])
    op.create_table(
        "details",
        _id(),
        _text("shelf"),
        _text("name"),
        _text("key"),
        sa.Column("value", sa.JSON, nullable=False),
        _time("at"),
    )
    op.create_table("boxes", _id(), _time("at"), _text("by"), sa.Column("bits", sa.JSON, nullable=False))
    op.create_table("calibrations", _id(), _time("at"), _text("by"), _text("text"))
