"""Cards of the router: a cavity, or several of one depth and one bit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from math import degrees

from scribeline.features import WEDGE, Pocket, Slope, together
from scribeline.job import walls
from scribeline.layout import NECK_POCKET, Layout, Point3, rise, strings_over
from scribeline.lengths import between, said
from scribeline.operations import Kind, Operation, raised
from scribeline.steps.bench import Bench, Teller, place_of, within
from scribeline.steps.card import Ask, Card, Gate, Place
from scribeline.steps.cautions import usual


def _rout(bench: Bench, work: Operation) -> Card:
    pockets = [bench.features.pocket(each) for each in work.features]
    pocket, several = pockets[0], len(pockets) > 1
    corners = (
        f"Corner radius {said(pocket.corner_radius, None)}: use a router bit of "
        f"{said(2 * pocket.corner_radius, None)} or less."
        if pocket.corner_radius
        else "Rout what the bit reaches, then square the corners with a chisel."
    )
    level = bench.layout.body.is_level(pocket.face)
    face = pocket.face if level else f"flat {pocket.face}, before it is shaped"
    over = raised(bench.layout, pocket.face)
    assert work.depth is not None
    depth = work.depth
    do = [
        "Print the templates at full size and check their measuring bars. Fix them on the centreline."
        if several
        else "Print the template at full size and check its measuring bars. Fix it on its centreline.",
        corners,
        f"Rout in passes to {said(depth)}{' at the end wall,' if pocket.slope else ''} from the {face}."
        f"{' Take each pass in every cavity before you set the bit deeper.' if several else ''}",
    ]
    if over:
        do.append(
            f"The blank's top still stands {said(over)} over the level under the bridge. From that level it is "
            f"{said(depth - over)} deep."
        )
    for each in pockets:
        if islands := len(each.islands):
            where = f"In the {each.in_words} leave" if several else "Leave"
            what = "the island" if islands == 1 else f"all {islands} islands"
            do.append(f"{where} {what} standing. Cut round, never across.")
    if pocket.slope is not None:
        do += _on_a_wedge(pocket, pocket.slope, over)
    if pocket.role == NECK_POCKET:
        do.append(_creep(bench))
    return Card.of(
        work,
        f"Rout the {together(each.in_words for each in pockets)}",
        do,
        _gate(pockets, face, depth, over),
        usual(work),
        *(_place(bench, each) for each in pockets),
    )


_DEPTH = 0.25
"""What a cavity's depth may be off, mm (common practice, no source)."""


def _gate(pockets: Sequence[Pocket], face: str, depth: float, over: float) -> Gate:
    """The depth, read in every cavity."""
    one = within(f"depth, with a gauge on the {face}", depth, _DEPTH)
    if pockets[0].slope is not None:
        return _at_both_ends(pockets[0], face, one, over)
    if len(pockets) == 1:
        return replace(one, cut=pockets[0].id, above=over)
    asks = (Ask(each.id, each.role, depth, one.low, one.high, cut=each.id, above=over) for each in pockets)
    return Gate.of_each(one.ask, tuple(asks))


TEMPLATE_OFF = 0.5
"""What a template under the strings may lie off before it is routed by, mm (common practice, no source)."""


def template_first(bench: Bench, card: Card) -> Card:
    """A step that routs cavities under the strings, with where its templates lie asked before the depth.

    Args:
        bench: what the card makers look at.
        card: read by its datums.
    """
    made, layout = bench.record.made_cuts, bench.layout
    places = [each for each in card.places if card.kind == "rout" and each.along and each.feature not in made]
    under = [
        (place, pocket)
        for place in places
        if (pocket := bench.features.pocket(place.feature)).face == "top"
        and pocket.role != NECK_POCKET
        and strings_over(layout, pocket.outline) is not None
    ]
    if not under:
        return card
    gate = card.gate
    depths = gate.asks or (
        Ask(gate.cut, "depth", gate.value or 0.0, gate.low, gate.high, cut=gate.cut, above=gate.above),
    )
    first = tuple(
        ask for place, pocket in under for ask in _template(layout, place, pocket, of=len(under) > 1)
    )
    datum = under[0][0].nearest.datum.words
    along = "" if len(under) > 1 else f"its nut side from {datum}, "
    words = f"before you rout by the template, {along}its treble side from the centreline; then {gate.ask}"
    do = (
        card.do[0],
        "Measure where it lies before you rout by it.",
        *card.do[1:],
    )
    return replace(card, do=do, gate=replace(gate, ask=words, asks=(*first, *depths), counts="each"))


def _template(layout: Layout, place: Place, pocket: Pocket, *, of: bool) -> Iterator[Ask]:
    """Where one template is read: its opening's nut side from the nearest datum, its treble side from the centreline."""
    (low, _), sides = walls(pocket.outline)
    datum = place.nearest.datum
    along = datum.along(Point3(low, 0.0, 0.0)).mm
    across = max(layout.treble * each for each in sides)
    whose = f"template, {pocket.role}" if of else "template"
    for name, told, mm in (
        ("nut-side", f"{whose}: nut side", along),
        ("treble-side", f"{whose}: treble side", across),
    ):
        if of and name == "nut-side":
            continue  # a card has room for two readings a cavity: what is off across leaves the poles
        yield Ask(f"{pocket.id}-{name}", told, mm, mm - TEMPLATE_OFF, mm + TEMPLATE_OFF, may_lack=True)


def _creep(bench: Bench) -> str:
    """When the neck pocket is wide enough."""
    neck = bench.document.neck
    if not neck.is_glued:
        return "Creep up on the width, until the heel slides in by hand with no play at the end wall."
    if neck.tenon_width is None:
        return f"Creep up on the width, until the heel slides in by hand: {said(neck.slip)} across it are for the glue."
    return f"Creep up on the width of {said(neck.tenon_width.mm + neck.slip)}: the tenon, and {said(neck.slip)} for the glue."


def _at_both_ends(pocket: Pocket, face: str, one: Gate, over: float) -> Gate:
    """The depth of a floor that leans: in the middle of the pocket, at its end wall and at its mouth."""
    mouth = pocket.depths[0] + over
    low, high = mouth - _DEPTH, mouth + _DEPTH
    asks = (
        Ask("end wall", "end wall", one.value or 0.0, one.low, one.high, cut=pocket.id, above=over),
        Ask("mouth", f"mouth: {between(low, high)}", mouth, low, high),
    )
    ask = f"depth in the middle, with a gauge on the {face}; these are the limits at the end wall"
    return Gate.of_each(ask, asks)


def _on_a_wedge(pocket: Pocket, slope: Slope, over: float) -> Iterator[str]:
    """How to rout a floor that leans: what to lay under the router's template, and what its tilt does to the end wall."""
    angle, (mouth, wall) = abs(slope.angle), pocket.depths
    end = "tail" if slope.angle > 0 else "nut"
    short, long = (said(rise(length, angle), 1) for length in (100.0, WEDGE))
    yield (
        f"The floor leans {degrees(angle):.2f}°, to {said(mouth + over)} at the mouth. Lay a wedge under the router's sled or "
        f"template: {short} thick {said(100.0, None)} from its thin end, {long} at {said(WEDGE, None)}. Thick end to the {end}."
    )
    yield "Keep the wedge square to the centreline, or the neck rolls. Read both depths before the last pass."
    if slope.angle > 0:
        yield (
            f"The tilted bit leans the end wall {said(rise(wall, angle), 1)} towards the nut at the top. Leave it so for a "
            "heel cut square to its underside. Pare it upright for any other."
        )


def _place(bench: Bench, pocket: Pocket) -> Place:
    middle = Point3(_middle([p.x for p in pocket.outline]), _middle([p.y for p in pocket.outline]), 0.0)
    return place_of(bench.layout, pocket.id, pocket.role, middle)


def _middle(places: list[float]) -> float:
    """Half-way between the extremes, which a rule can find."""
    return (min(places) + max(places)) / 2


KINDS: Mapping[Kind, Teller] = {"rout": _rout}
