"""What bridges share that are held by a pair: two studs or posts, one on the treble side and one on the bass side.

No kind of its own: each kind says what its pair is and where it stands behind its own line.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import asin, radians, tan
from typing import TYPE_CHECKING

from scribeline.job import Document
from scribeline.layout.bridges.kind import Corner, Mark
from scribeline.layout.points import Point
from scribeline.layout.pose import placed_across, placed_along
from scribeline.layout.stringing import saddles_of
from scribeline.quantities import Formula, Quantities
from scribeline.strings import place_bridge

if TYPE_CHECKING:
    from scribeline.layout.stringing import Stringing

STEEPEST = radians(6.0)
"""Most that a slant is worked out to, rad: the studs of bought bridges bear no more (from memory)."""

PAIR = (("treble", 0.5), ("bass", -0.5))
"""Which is which, and on what side of the middle it stands, in spacings of the pair."""


def own_place(spacing: float, side: float) -> float:
    """Where one of a pair stands from the bridge's middle towards the treble, mm; `side` in spacings."""
    return spacing * side


def own_places(spacing: float, behind: float = 0.0) -> tuple[tuple[float, float], ...]:
    """The treble one, then the bass one: behind the bridge's line and from its middle towards the treble, mm."""
    return tuple((behind, own_place(spacing, side)) for _, side in PAIR)


def pair_marks(what: str, number: str, places: Sequence[Point]) -> Iterator[Mark]:
    """The centres of a pair as marks to set it out by.

    Args:
        what: one of it in words, such as "stud" or "tailpiece stud".
        number: what the named numbers of its places begin with, its own number left open.
        places: the treble one, then the bass one.
    """
    for no, ((side, _), at) in enumerate(zip(PAIR, places, strict=True), start=1):
        name = f"{side} {what}" if " " not in what else what.replace(" ", f"'s {side} ")
        yield Mark(
            id=name.replace("'s", "").replace(" ", "-"),
            name=name,
            short=name.replace("tailpiece's", "tail's"),
            how=f"the {name}'s centre, along the centreline",
            at=at,
            number=number.format(no),
            drilled=True,
        )


def pair_corners(what: str, number: str, places: Sequence[Point]) -> tuple[Corner, Corner]:
    """The same as the points of the check for squareness; see `pair_marks`."""
    treble, bass = (
        Corner(f"the {side} {what}'s centre", at, number.format(no))
        for no, ((side, _), at) in enumerate(zip(PAIR, places, strict=True), start=1)
    )
    return treble, bass


def name_pair(
    found: Quantities,
    what: str,
    number: str,
    own: Mapping[str, str | float],
    *,
    along: str | float = 0.0,
    across: Formula = own_place,
) -> None:
    """Name where each of a pair stands.

    Args:
        found: where the names go.
        what: one of it in words.
        number: what the names begin with, its own number left open.
        own: the inputs of its place from the bridge's middle, but for its side.
        along: the named number, or the number, of its place behind the bridge's own line, mm.
        across: works that place out.
    """
    for no, (side, share) in enumerate(PAIR, start=1):
        name, words = number.format(no), f"the {side} {what}'s centre"
        middle = f"{words} from the bridge's middle to the treble"
        found.work(f"{name}-own", across, {**own, "side": share}, what=middle)
        place: dict[str, str | float] = {"along": along, "across": f"{name}-own", "turn": "bridge.turn"}
        found.work(f"{name}-x", placed_along, {"x": "bridge.x", **place}, what=f"the nut to {words}")
        found.work(
            f"{name}-across",
            placed_across,
            {"y": "bridge.across", **place},
            what=f"{words} from the centreline to the treble",
        )


def slanted(document: Document, stringing: Stringing, slant: float | None, spacing: float) -> float:
    """The turn of a bridge on a pair: by the slant stated, else the one that leaves the saddles most travel, rad."""
    return wanted_turn(document, stringing) if slant is None else slant_turn(slant, spacing)


def slanted_in_words(slant: float | None, what: str) -> str:
    """Where that comes from; `what` is one of the pair in words."""
    if slant is not None:
        return f"as stated: the bass {what} behind the treble one"
    return "the slant that leaves the saddles most travel (docs/strings.md)"


def wanted_turn(document: Document, stringing: Stringing) -> float:
    """The turn of a bridge that leaves its saddles most travel, rad; 0 where no place is known for them."""
    if not stringing.is_placed:
        return 0.0
    bench = document.bench
    best = place_bridge(
        stringing.wanted(),
        saddles_of(document),
        reserve=bench.saddle_reserve,
        deviations=bench.saddle_deviations,
        steepest=tan(STEEPEST),
    )
    return 0.0 - best.yaw_rad


def slant_turn(slant: float, spacing: float) -> float:
    """Turn of a bridge whose bass end stands so far behind the treble one, along the centreline, rad."""
    return asin(slant / spacing)
