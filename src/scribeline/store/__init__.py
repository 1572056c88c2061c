"""The shop's own database: every revision of every job, the parts book, the drill box, what was done and read."""

from scribeline.store.backup import restore_store
from scribeline.store.difference import Change, changes_between
from scribeline.store.faults import Conflict, DeletedJob, DiskFault, SentAlready, StoreError, UnknownJob
from scribeline.store.kept import (
    Attachment,
    BitKept,
    GateReading,
    Glance,
    JobEntry,
    JobList,
    Measured,
    OverrideKept,
    PartEntry,
    Put,
    Revision,
    Tick,
)
from scribeline.store.recorded import record_of, with_record
from scribeline.store.store import Store, open_store

__all__ = [
    "Attachment",
    "BitKept",
    "Change",
    "Conflict",
    "DeletedJob",
    "DiskFault",
    "GateReading",
    "Glance",
    "JobEntry",
    "JobList",
    "Measured",
    "OverrideKept",
    "PartEntry",
    "Put",
    "Revision",
    "SentAlready",
    "Store",
    "StoreError",
    "Tick",
    "UnknownJob",
    "changes_between",
    "open_store",
    "record_of",
    "restore_store",
    "with_record",
]
