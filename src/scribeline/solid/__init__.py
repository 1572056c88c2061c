"""The body with the cuts taken out: what wood is left between them."""

from scribeline.solid.clearance import NEAR, Outside, Web, find_outside, find_webs
from scribeline.solid.shapes import DRIFT

__all__ = ["DRIFT", "NEAR", "Outside", "Web", "find_outside", "find_webs"]
