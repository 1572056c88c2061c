"""The body with the cuts taken out: what wood is left between them."""

from scribeline.features import DRIFT
from scribeline.solid.clearance import NEAR, Outside, Web, find_outside, find_webs
from scribeline.solid.inside import swallowed
from scribeline.solid.named import Wood, name_wood, web_id
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
    "Wood",
    "find_outside",
    "find_webs",
    "floors",
    "name_wood",
    "neighbours",
    "skin_of",
    "swallowed",
    "sweep",
    "web_id",
    "wood_under",
    "wood_under_floor",
]
