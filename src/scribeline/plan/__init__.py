"""The whole line as one function, and its record for other programs.

What tells of a plan stands in modules of its own, read in by whoever tells it, since a check needs none: `record`, `named`,
`heights`, `cavities`.
"""

from scribeline.plan.held import plan_held, read_held
from scribeline.plan.whole import Plan, every_cut, plan, wanted_by

__all__ = ["Plan", "every_cut", "plan", "plan_held", "read_held", "wanted_by"]
