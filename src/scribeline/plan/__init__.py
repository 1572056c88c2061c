"""The whole line as one function, and its record for other programs."""

from scribeline.plan.held import plan_held, read_held
from scribeline.plan.record import SCHEMA, as_json, record, tunnel_record
from scribeline.plan.whole import Plan, plan

__all__ = ["SCHEMA", "Plan", "as_json", "plan", "plan_held", "read_held", "record", "tunnel_record"]
