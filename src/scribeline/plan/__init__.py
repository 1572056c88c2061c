"""The whole line as one function, and its record for other programs."""

from scribeline.plan.record import SCHEMA, as_json, record, tunnel_record
from scribeline.plan.whole import Plan, plan

__all__ = ["SCHEMA", "Plan", "as_json", "plan", "record", "tunnel_record"]
