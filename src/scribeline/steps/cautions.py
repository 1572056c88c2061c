"""What can hurt at each machine, in plain sentences: the trade's usual cautions and no advice beyond them."""

from __future__ import annotations

from typing import Literal

from scribeline.lengths import span

Machine = Literal["bench", "drill press", "hand drill", "router", "carving", "finish"]

DEFERS = "These cautions are the trade's usual ones and not complete: follow your machine's manual and your local codes."

PROVE_FIRST = "Measure, and test in scrap, before you cut."

BY_MACHINE: dict[Machine, tuple[str, ...]] = {
    "bench": ("Awls, knives and chisels slip: keep the other hand behind the edge.",),
    "drill press": (
        "Clamp or fence the body; never hold it by hand alone.",
        "No gloves, loose sleeves or hair near the spindle; key out of the chuck.",
        "Wear eye protection; clear chips only at rest.",
    ),
    "hand drill": (
        "Clamp the body and hold the drill with both hands: a bit that grabs wrenches the wrist.",
        "No gloves, loose sleeves or hair near the chuck; pull the plug or the battery to change bits.",
        "Wear eye protection; keep your hand clear of where the bit comes out.",
    ),
    "router": (
        "Unplug to change bits; push the shank fully home in the collet.",
        f"Passes of {span(3.0, 5.0, places=0)} against the rotation, both hands on; never climb-cut by hand.",
        "Wear eye, ear and dust protection.",
    ),
    "carving": (
        "Clamp the body; keep both hands behind the cutting edge.",
        "A disc in an angle grinder grabs and throws: guard and side handle on, stand out of its line.",
        "Wear eye, ear and dust protection.",
    ),
    "finish": (
        "Solvent vapours burn and poison: ventilate, keep flames away, wear the mask the maker's sheet asks for.",
        "Two-part finishes with isocyanates need supplied air: not in a home shop.",
        "Rags with drying oil catch fire by themselves: lay them flat, or drown them in a metal can.",
    ),
}

GLUE = "Ventilate when you glue; keep it off skin and eyes. Fast glue bonds skin at once."
CLAMPS = "Clamps pinch, and a heavy blank slides. Rest it on the bench before you tighten."
LARGE_BIT = "Run a large bit slowly and let it clear its chips."
TILTED = "A slanted bit grabs as it starts. Cut a flat first, use a block cut to the angle, feed slowly."
LONG_BIT = (
    "A long bit whips and grabs. Start it slowly in an awl mark, and guide it near the wood with its block."
)
PIN = "A pin that stands in the table stabs. Take it out when you are done."
EDGE_GUIDE = "A body on its edge tips over. Clamp it in two places before you lean on the drill."
END_GRAIN = "End grain splits. Drill the full pilot, wax the screw, drive it by hand."
DUST = "Fine wood dust harms nose and lungs. Extract it and wear a mask rated for it."

LARGE_BIT_FROM = 8.0
"""Diameter from which a bit is called large, mm (common practice, no source)."""
