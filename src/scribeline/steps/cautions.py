"""What can hurt at each machine, in plain sentences: the trade's usual cautions and no advice beyond them."""

from __future__ import annotations

from scribeline.layout.bridges import Hazard
from scribeline.lengths import span
from scribeline.operations import Machine, Operation
from scribeline.proving import Kind, machine_of

DEFERS = "These cautions are the trade's usual ones and not complete: follow your machine's manual and your local codes."

PROVE_FIRST = "Measure, and test in scrap, before you cut."

BY_MACHINE: dict[Machine, tuple[str, ...]] = {
    "bench": ("Knives and chisels slip: keep the other hand behind the edge.",),
    "drill press": (
        "Clamp or fence the body.",
        "No gloves, loose sleeves or hair; key out of the chuck.",
        "Wear eye protection; clear chips at rest.",
    ),
    "hand drill": (
        "Clamp the body; both hands on the drill, for a bit that grabs wrenches the wrist.",
        "No gloves or loose sleeves; unplug to change bits.",
        "Wear eye protection; keep your hand clear of where the bit comes out.",
    ),
    "router": (
        "Unplug to change bits; shank fully home in the collet.",
        f"Passes of {span(3.0, 5.0, places=0)} against the rotation, both hands on.",
        "Wear eye, ear and dust protection.",
    ),
    "carving": (
        "Clamp the body; both hands behind the edge.",
        "A grinder's disc grabs and throws: guard and side handle on, stand out of its line.",
        "Wear eye, ear and dust protection.",
    ),
    "finish": (
        "Vapours burn and poison: ventilate, no flames, wear the mask the maker's sheet asks for.",
        "Two-part finishes with isocyanates need supplied air: not in a home shop.",
        "Oily rags catch fire by themselves: lay them flat, or drown them in a metal can.",
    ),
}
"""The usual ones for the work in hand, short enough for a line or two on a card."""

GLUE = "Ventilate when you glue; keep it off skin and eyes."
CLAMPS = "Clamps pinch and a heavy blank slides: rest it on the bench first."
LARGE_BIT = "Run a large bit slowly."
TILTED = "A slanted bit grabs as it starts: cut a flat first, use the block, feed slowly."
LONG_BIT = "A long bit whips: start it slowly, guided near the wood by its block."
PIN = "A pin in the table stabs: take it out when done."
EDGE_GUIDE = "A body on its edge tips over: clamp it in two places."
END_GRAIN = "End grain splits: full pilot, waxed screw, driven by hand."
HAZARDS: dict[Hazard, str] = {
    "springs": "A stretched spring flies: wear eye protection, hook it with pliers.",
    "solder": "Solder and iron burn, and the fumes hurt: ventilate, eye protection on, wash your hands.",
}
"""What can hurt where a bridge of some kind is fitted (common practice, no source)."""
SAW_AND_FILE = "Clamp what you saw or file; a handle on every file."
"""Where slots are sawn and filed (common practice, no source)."""
DUST = "Extract the dust; wear a dust mask."

AT_A_MACHINE = (
    "With a drill or a router: clamp the scrap, wear eye and dust protection, unplug to change bits."
)
"""Where it is not known yet what marks are tried with."""

LARGE_BIT_FROM = 8.0
"""Diameter from which a bit is called large, mm (common practice, no source)."""


def usual(work: Operation, *more: str) -> tuple[str, ...]:
    """The usual cautions of an operation's machine and bit, and what else can hurt."""
    bit = work.bit
    if bit is None:
        return (*BY_MACHINE[work.machine], *more)
    large = (LARGE_BIT,) if bit.kind != "countersink" and bit.diameter >= LARGE_BIT_FROM else ()
    return (*BY_MACHINE[work.machine], *large, *more, DUST)


def of_shop_test(kind: Kind, method: str) -> tuple[str, ...]:
    """The usual cautions of a test of the shop; none where nothing can hurt."""
    machine = machine_of(kind, method)
    if machine == "":
        return ()
    more: tuple[str, ...] = (PIN, SAW_AND_FILE) if kind.name == "flip-registration" else ()
    if kind.methods is None and not method:
        more = (AT_A_MACHINE,)
    dust = (DUST,) if machine in {"drill press", "hand drill"} and kind.methods is None else ()
    of_scrap = (each.replace("the body", "the scrap") for each in BY_MACHINE[machine])
    return (*of_scrap, *more, *dust)


def on_the_neck(cautions: tuple[str, ...]) -> tuple[str, ...]:
    """The same where the neck lies on the machine, not the body."""
    return tuple(each.replace("the body", "the neck") for each in cautions)
