"""What can hurt at each machine, in plain sentences: the trade's usual cautions and no advice beyond them."""

from __future__ import annotations

from typing import Literal

from scribeline.lengths import span

Machine = Literal["bench", "drill press", "hand drill", "router", "carving", "finish"]

DEFERS = (
    "These cautions are the usual ones of the trade and not complete: follow your machine's manual and your local "
    "codes, and leave mains and licensed work to people licensed for it."
)

PROVE_FIRST = "Measure, and test in scrap, before you cut."

BY_MACHINE: dict[Machine, tuple[str, ...]] = {
    "bench": ("Awls, knives and chisels slip: keep the other hand behind the edge.",),
    "drill press": (
        "Clamp or fence the body; never hold it by hand alone.",
        "No gloves, sleeves, cords or loose hair near the spindle; key out of the chuck.",
        "Eye protection; clear chips only at rest.",
    ),
    "hand drill": (
        "Clamp the body, never your knee; both hands on the drill, side handle on: a bit that grabs wrenches the wrist.",
        "No gloves, sleeves, cords or loose hair near the chuck; pull the plug or the battery to change bits.",
        "Eye protection; no hand behind or inside the pocket where the bit comes out.",
    ),
    "router": (
        "Unplug to change bits; shank fully home in the collet.",
        f"Passes of {span(3.0, 5.0, places=0)}, against the rotation, both hands on; no climb cut by hand.",
        "Eye, ear and dust protection.",
    ),
    "carving": (
        "Clamp the body, never your knee; both hands behind the cutting edge.",
        "A disc in an angle grinder grabs and throws: guard and side handle on, stand out of its line.",
        "Eye, ear and dust protection.",
    ),
    "finish": (
        "Solvent vapours burn and poison: ventilate, no flames, mask as the maker's sheet asks.",
        "Two-part finishes with isocyanates need supplied air: not for a home shop.",
        "Rags with drying oil catch fire by themselves: lay flat or drown in a metal can.",
    ),
}

GLUE = "Glue: ventilate, keep it off skin and eyes; fast ones bond skin at once."
CLAMPS = "Clamps pinch, and a heavy blank slides off the bench: rest it on the bench before you tighten."
LARGE_BIT = "Slow speed for a large bit; let it clear its chips."
TILTED = "A slanted bit grabs at entry: start a flat first, use a block cut to the angle, feed slowly."
LONG_BIT = (
    "A long bit whips and grabs: start it slowly in an awl mark; hold it near the wood with its guide block."
)
PIN = "A pin standing in the table stabs: take it out when done."
EDGE_GUIDE = "A body on its edge tips over: clamp it in two places before you lean on the drill."
END_GRAIN = "End grain splits along the grain: drill the full pilot, wax the screw, drive it by hand."
DUST = "Fine wood dust harms nose and lungs: extract it, wear a mask rated for it."

LARGE_BIT_FROM = 8.0
"""Diameter from which a bit is called large, mm (common practice, no source)."""
