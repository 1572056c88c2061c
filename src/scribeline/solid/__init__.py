"""The body with the cuts taken out: what wood is left between them."""

from scribeline.features import DRIFT
from scribeline.solid.clearance import NEAR, Outside, Web, find_outside, find_webs, web_id
from scribeline.solid.inside import swallowed
from scribeline.solid.rod import rod_clearance
from scribeline.solid.skin import Gap, Skin, skin_of
from scribeline.solid.sweep import Nearby, sweep
from scribeline.solid.under import Under, floors, neighbours, wood_under, wood_under_floor

__all__ = [
    "DRIFT",
    "NEAR",
    "Gap",
    "Nearby",
    "Outside",
    "Skin",
    "Under",
    "Web",
    "find_outside",
    "find_webs",
    "floors",
    "neighbours",
    "rod_clearance",
    "skin_of",
    "swallowed",
    "sweep",
    "web_id",
    "wood_under",
    "wood_under_floor",
]
