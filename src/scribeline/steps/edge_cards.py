"""Cards of what is drilled from the body's edge: the jack, its plate's screws, the strap buttons' screws."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import asin, degrees

from scribeline.features import Bore, Family, balloon, drill_access, together
from scribeline.layout import Layout, heading_words, side_words
from scribeline.lengths import said
from scribeline.operations import Operation
from scribeline.steps.bench import Bench, Teller, place_of, within
from scribeline.steps.card import Ask, Card, Gate, Place
from scribeline.steps.cautions import EDGE_GUIDE, END_GRAIN, usual

_MARK_WITHIN = 0.5
"""What a hole's height may be off, mm (common practice, no source)."""

_CHUCK_MINDED = 5.0
"""Any bit stands this far out of its chuck at full depth, mm: not worth a line."""


def _pilots(bench: Bench, work: Operation) -> Card:
    """The screws of the jack's plate, which lie in one edge and take one clamping; or of strap buttons."""
    bores = bench.bores(work)
    first, ends = bores[0], any(bore.grain == "end" for bore in bores)
    left_out = len(bench.features.family(first.family)) > len(bores)
    where = (
        "In end grain try the waxed screw in an offcut first"
        if ends
        else "Try the waxed screw in an offcut first"
    )
    what = (
        "pilots of the jack's plate"
        if work.family == "jack-screw"
        else f"pilots of the {together(map(_held, bores)) if left_out else first.group}"
        if len(bores) > 1
        else f"{first.holds}'s pilot"
        if first.holds
        else first.role
    )
    do = (f"{where}. It should go home by hand and split nothing.",)
    return _card(bench, work, f"Drill the {what}", do, (END_GRAIN,) if ends else ())


def _jack(bench: Bench, work: Operation) -> Card:
    (bore,) = bench.bores(work)
    if work.kind != "drill":
        return _card(bench, work, "Counterbore for the jack")
    into = [pocket for pocket in bench.features.pockets if pocket.id in bore.meets]
    do = (
        "Back the cavity's wall with a block where the bit comes out.",
        f"Stop once it is open into the {into[0].in_words}: {said(bore.deepest.depth, 1)} at full diameter.",
    )
    return _card(bench, work, "Drill the jack hole", do if into else ())


def _card(
    bench: Bench, work: Operation, title: str, do: tuple[str, ...] = (), more: tuple[str, ...] = ()
) -> Card:
    """A card of the edge with what all of them have in common."""
    layout, bores, chuck = bench.layout, bench.bores(work), bench.document.bits.chuck_radius
    places = tuple(edge_place_of(layout, bore) for bore in bores)
    outside = max(
        drill_access(bore, layout.outline, layout.thickness, (), chuck_radius=chuck).outside for bore in bores
    )
    needed = outside + bench.step(work).point_reaches
    reach = f"{said(needed, 0)} of bit must stand out of the chuck, or the chuck meets the body first."
    clamped = (
        f"{places[0].number} up and level, then {', then '.join(each.number for each in places[1:])}"
        if _apart(bores)
        else "this edge up and level"
    )
    every = (
        f"Clamp the body on its side, {clamped}. Pad the clamps.",
        *(f"Mark {place.number} with the awl, {place_words(place)}." for place in places),
        *_rounded_words(layout),
        *(words for bore in bores for words in _lean_words(layout, bore, named=_apart(bores))),
        "Hold a guide block with a square hole to the edge. Check it with a square from the top.",
        *do,
        *((reach,) if outside > _CHUCK_MINDED else ()),
    )
    return Card.of(work, title, every, _gate(bores, places), usual(work, *more, EDGE_GUIDE), *places)


def _held(bore: Bore) -> str:
    """What a pilot is drilled for."""
    return bore.holds or bore.role.removesuffix(" pilot")


def _apart(bores: Sequence[Bore]) -> bool:
    """Whether several holes each lie in an edge of their own, as strap buttons do."""
    return len(bores) > 1 and bores[0].family == "strap-button"


def _gate(bores: Sequence[Bore], places: Sequence[Place]) -> Gate:
    """How far below the top's edge the holes lie: one reading for those of one edge, else one for each."""
    down = [_down(place) for place in places]
    if len({round(each, 2) for each in down}) > 1:
        return Gate(
            "each hole's centre lies as far below the top's edge as its place says, within " + said(0.5, None)
        )
    if not _apart(bores):
        return within(
            "from the top's edge down to the hole's centre, at the body's edge", down[0], _MARK_WITHIN
        )
    gate = within("top's edge to each hole's centre", down[0], _MARK_WITHIN)
    asks = (
        Ask(bore.id, place.number, down[0], gate.low, gate.high)
        for bore, place in zip(bores, places, strict=True)
    )
    return Gate.of_each(gate.ask, tuple(asks))


def _rounded_words(layout: Layout) -> tuple[str, ...]:
    """How to measure from an edge that the rounding has taken away."""
    radius = layout.body.round_top
    if not radius:
        return ()
    return (
        f"The edge is rounded. From a straightedge laid on the top over the mark, measure {said(radius)} more.",
    )


def _down(place: Place) -> float:
    """How far a hole in the edge lies below the top's edge, mm."""
    assert place.below is not None
    return place.below.mm


def place_words(place: Place) -> str:
    """Where to mark a hole on the edge, in one sentence."""
    assert place.mark is not None
    mark = place.mark
    along = (
        f"right at {mark.datum.words}"
        if mark.mm < 0.05
        else f"{said(mark.mm, 1)} straight from {mark.datum.words}, {side_words(place.across.mm)}"
    )
    return f"{along}, {said(_down(place), 1)} below the top's edge"


_EDGE_MARKS = frozenset({"tail", "pocket-corner-treble", "pocket-corner-bass"})


def edge_place_of(layout: Layout, bore: Bore) -> Place:
    """Where a bore from the edge is, along, across and down, and from the nearest mark that a rule can be held to."""
    marks = (datum.straight(bore.at) for datum in layout.datums if datum.id in _EDGE_MARKS)
    found = place_of(layout, bore.id, balloon(bore.id), bore.at)
    return replace(found, below=layout.below("top", bore.at), mark=min(marks, key=lambda reading: reading.mm))


def _lean_words(layout: Layout, bore: Bore, *, named: bool) -> tuple[str, ...]:
    """How far off square to the edge it heads, and which way; nothing where it is square."""
    lean = degrees(asin(min(1.0, bore.angle_from_face_sine)))
    if 90 - lean < 0.05:
        return ()
    way = heading_words(bore.axis.x, bore.axis.y * layout.treble)
    where = f"At {balloon(bore.id)} turn" if named else "Turn"
    return (
        f"{where} the drill {90 - lean:.1f}° off square to the edge and keep it level with the top: {way}.",
    )


HOLES: Mapping[Family, Teller] = {"jack": _jack, "jack-screw": _pilots, "strap-button": _pilots}
