"""The whole line as one function, and its record for other programs."""

from scribeline.plan.heights import Heights, StringHeight, Way, heights
from scribeline.plan.held import plan_held, read_held
from scribeline.plan.named import Explained, cut_called, explained, nearest, quantities, quantity_record
from scribeline.plan.record import SCHEMA, as_json, finding_record, record, tunnel_record
from scribeline.plan.whole import Plan, plan

__all__ = [
    "SCHEMA",
    "Explained",
    "Heights",
    "Plan",
    "StringHeight",
    "Way",
    "as_json",
    "cut_called",
    "explained",
    "finding_record",
    "heights",
    "nearest",
    "plan",
    "plan_held",
    "quantities",
    "quantity_record",
    "read_held",
    "record",
    "tunnel_record",
]
