"""The database's tables. A change here needs a migration of its own in `migrations/versions`."""

from __future__ import annotations

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    text,
)

metadata = MetaData()

jobs = Table(
    "jobs",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("units", String(2), nullable=False),
    Column("handed", String(5), nullable=False),
    Column("newest", Integer, nullable=False),
    Column("at", String(32), nullable=False),
    Column("by", Text, nullable=False, server_default=""),
    Column("changes", Integer, nullable=False, server_default="0"),
    Column("archived_at", String(32)),
    Column("archived_by", Text),
    Column("deleted_at", String(32)),
    Column("deleted_by", Text),
    Column("once", Text),
    sqlite_autoincrement=True,  # a number once given never comes back for another job
)
Index("job_made_once", jobs.c.once, unique=True)

# What was worked out for a job last. Nothing but what the rest says already: it may be dropped.
glances = Table(
    "glances",
    metadata,
    Column("job_id", Integer, ForeignKey("jobs.id"), primary_key=True),
    Column("changes", Integer, nullable=False),
    Column("made_with", Text, nullable=False),
    Column("done", Integer, nullable=False),
    Column("steps", Integer, nullable=False),
    Column("next_step", Text, nullable=False),
    Column("stops", Integer, nullable=False),
    Column("wrong", Text, nullable=False),
    Column("drawn", Boolean, nullable=False),
    Column("picture", Text, nullable=False),  # last, so that a list of jobs need not read it
)

revisions = Table(
    "revisions",
    metadata,
    Column("job_id", Integer, ForeignKey("jobs.id"), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("text", Text, nullable=False),
    Column("at", String(32), nullable=False),
    Column("by", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("kind", String(4), nullable=False),
    CheckConstraint("kind in ('edit', 'undo', 'redo')", name="revision_kind"),
)

ticks = Table(
    "ticks",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("job_id", Integer, nullable=False),
    Column("card_id", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("at", String(32), nullable=False),
    Column("revision", Integer, nullable=False),
    Column("features", JSON, nullable=False),
    Column("taken_back_at", String(32)),
    Column("taken_back_by", Text),
    ForeignKeyConstraint(["job_id", "revision"], ["revisions.job_id", "revisions.number"]),
)
Index(
    "one_standing_tick",
    ticks.c.job_id,
    ticks.c.card_id,
    unique=True,
    sqlite_where=text("taken_back_at IS NULL"),
)

readings = Table(
    "readings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("job_id", Integer, nullable=False),
    Column("gate_id", Text, nullable=False),
    Column("value_mm", Float),
    Column("yes", Boolean),
    Column("by", Text, nullable=False),
    Column("with_what", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("at", String(32), nullable=False),
    Column("risk", Text, nullable=False, server_default=""),
    Column("low", Float),
    Column("high", Float),
    Column("each_read", JSON, nullable=False, server_default="[]"),
    ForeignKeyConstraint(["job_id", "revision"], ["revisions.job_id", "revisions.number"]),
    CheckConstraint("(value_mm IS NULL) <> (yes IS NULL)", name="reading_or_answer"),
)
Index("readings_of_job", readings.c.job_id)

overrides = Table(
    "overrides",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("job_id", Integer, nullable=False),
    Column("code", Text, nullable=False),
    Column("features", JSON, nullable=False),
    Column("value", Float),
    Column("limit", Float),
    Column("says", Text, nullable=False),
    Column("reason", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("at", String(32), nullable=False),
    Column("revision", Integer, nullable=False),
    Column("taken_back_at", String(32)),
    Column("taken_back_by", Text),
    ForeignKeyConstraint(["job_id", "revision"], ["revisions.job_id", "revisions.number"]),
)
Index("overrides_of_job", overrides.c.job_id)

measured = Table(
    "measured",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("job_id", Integer, nullable=False),
    Column("entry", JSON, nullable=False),
    Column("struck", JSON),
)
Index("measured_of_job", measured.c.job_id)

sent = Table(
    "sent",
    metadata,
    Column("job_id", Integer, primary_key=True),
    Column("key", Text, primary_key=True),
    Column("at", String(32), nullable=False),
)

measurements = Table(
    "measurements",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("shelf", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("key", Text, nullable=False),
    Column("value", Float, nullable=False),
    Column("plus_minus", Float, nullable=False),
    Column("by", Text, nullable=False),
    Column("with_what", Text, nullable=False),
    Column("at", String(32), nullable=False),
)
Index("measurements_of_part", measurements.c.shelf, measurements.c.name)

details = Table(
    "details",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("shelf", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("key", Text, nullable=False),
    Column("value", JSON, nullable=False),
    Column("at", String(32), nullable=False),
)

boxes = Table(
    "boxes",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", String(32), nullable=False),
    Column("by", Text, nullable=False),
    Column("bits", JSON, nullable=False),
)

calibrations = Table(
    "calibrations",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", String(32), nullable=False),
    Column("by", Text, nullable=False),
    Column("text", Text, nullable=False),
)

shop_tests = Table(
    "shop_tests",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", String(32), nullable=False),
    Column("by", Text, nullable=False),
    Column("text", Text, nullable=False),
)

attachments = Table(
    "attachments",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("job_id", Integer, ForeignKey("jobs.id"), nullable=False),
    Column("name", Text, nullable=False),
    Column("content", LargeBinary, nullable=False),
    Column("by", Text, nullable=False),
    Column("at", String(32), nullable=False),
)
Index("attachments_of_job", attachments.c.job_id, attachments.c.name)
