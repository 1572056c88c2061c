"""Cards of what is drilled from the body's edge: the jack, its plate's screws, the strap buttons' screws."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import asin, degrees

from scribeline.features import Bore, Step, balloon, drill_access
from scribeline.layout import Layout, heading_words, side_words
from scribeline.lengths import said
from scribeline.steps.bench import Bench, place_of, within
from scribeline.steps.card import Card, Gate, Place
from scribeline.steps.cautions import BY_MACHINE, DUST, EDGE_GUIDE, END_GRAIN, LARGE_BIT, LARGE_BIT_FROM

_MARK_WITHIN = 0.5
"""What a hole's height may be off, mm (common practice, no source)."""

_CHUCK_MINDED = 5.0
"""Any bit stands this far out of its chuck at full depth, mm: not worth a line."""


def edge_cards(bench: Bench) -> Iterator[Card]:
    """One card a setting: each step of the jack's bore, its plate's screws, each kind of strap button."""
    yield from _jack_cards(bench)
    screws = bench.features.family("jack-screw")
    if screws:
        # All of them lie in one edge, under one plate: one clamping, one setting.
        yield _pilots(bench, "drill-jack-screws", "Drill the pilots of the jack's plate", screws)
    for bore in bench.features.family("strap-button"):
        pilot = f"{bore.holds}'s pilot" if bore.holds else bore.role
        yield _pilots(bench, f"drill-{bore.id}", f"Drill the {pilot}", (bore,))


def _pilots(bench: Bench, name: str, title: str, bores: Sequence[Bore]) -> Card:
    ends = any(bore.grain == "end" for bore in bores)
    try_it = (
        "In end grain try the waxed screw in an offcut first"
        if ends
        else "Try the waxed screw in an offcut first"
    )
    bare = Card(
        id=name,
        title=title,
        machine="hand drill",
        do=(f"{try_it}. It should go home by hand and split nothing.",),
        cautions=(END_GRAIN,) if ends else (),
    )
    return _card(bench, bare, bores, bores[0].deepest)


def _jack_cards(bench: Bench) -> Iterator[Card]:
    for bore in bench.features.family("jack"):
        into = [pocket for pocket in bench.features.pockets if pocket.id in bore.meets]
        for step in bore.steps:
            last = step is bore.deepest
            lines = [
                "Back the cavity's wall with a block where the bit comes out." if last and into else "",
                f"Stop once it is open into the {into[0].in_words}: {said(step.depth, 1)} at full diameter."
                if last and into
                else "",
            ]
            yield _card(
                bench,
                Card(
                    id="drill-jack" if last else "counterbore-jack",
                    title="Drill the jack hole" if last else "Counterbore for the jack",
                    machine="hand drill",
                    do=tuple(line for line in lines if line),
                ),
                [bore],
                step,
            )


def _card(bench: Bench, bare: Card, bores: Sequence[Bore], step: Step) -> Card:
    """A card of the edge with what all of them have in common."""
    places = tuple(edge_place_of(bench.layout, bore) for bore in bores)
    layout = bench.layout
    chuck = bench.document.bits.chuck_radius
    outside = max(
        drill_access(bore, layout.outline, layout.thickness, (), chuck_radius=chuck).outside for bore in bores
    )
    reach: tuple[str, ...] = ()
    if outside > _CHUCK_MINDED:
        needed = outside + step.point_reaches
        reach = (f"{said(needed, 0)} of bit must stand out of the chuck, or the chuck meets the body first.",)
    down = [_down(place) for place in places]
    gate = (
        within(
            "from the top's edge down to the hole's centre, at the body's edge",
            down[0],
            _MARK_WITHIN,
        )
        if len({round(each, 2) for each in down}) == 1
        else Gate(
            "each hole's centre lies as far below the top's edge as its place says, within " + said(0.5, None)
        )
    )
    large = (LARGE_BIT,) if step.diameter >= LARGE_BIT_FROM else ()
    return replace(
        bare,
        features=tuple(bore.id for bore in bores),
        bit=step.bit,
        depth=step.depth,
        point_reaches=step.point_reaches,
        setting=bench.setting(bores[0], step),
        places=places,
        do=(
            "Clamp the body on its side, this edge up and level. Pad the clamps.",
            *(f"Mark {place.number} with the awl, {place_words(place)}." for place in places),
            *_rounded_words(layout),
            *(words for bore in bores for words in _lean_words(layout, bore)),
            "Hold a guide block with a square hole to the edge. Check it with a square from the top.",
            *bare.do,
            *reach,
        ),
        gate=gate,
        cautions=(*BY_MACHINE["hand drill"], *large, *bare.cautions, EDGE_GUIDE, DUST),
    )


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


def _lean_words(layout: Layout, bore: Bore) -> tuple[str, ...]:
    """How far off square to the edge it heads, and which way; nothing where it is square."""
    lean = degrees(asin(min(1.0, bore.angle_from_face_sine)))
    if 90 - lean < 0.05:
        return ()
    way = heading_words(bore.axis.x, bore.axis.y * layout.treble)
    return (f"Turn the drill {90 - lean:.1f}° off square to the edge and keep it level with the top: {way}.",)
