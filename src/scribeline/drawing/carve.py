"""The carved neck at full size: hollow templates for its back, its side, and all of it for other programs.

A section is drawn as it is seen from the head with the fingerboard up: across to the right, the glue line at height 0. The side
has the nut's front at 0, the heel to the right. The plan has the neck from the front, as the fingerboard's strip has it.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np

from scribeline.drawing.extent import covered
from scribeline.drawing.fitted import bounded, fitted
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    CUT,
    HIDDEN,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    PHANTOM,
    THIN,
    Item,
    Layer,
    Line,
    Path,
    Point,
    Sheet,
    Text,
)
from scribeline.layout import Carve, Channel, Station, carve_of, channels, head_back, stations
from scribeline.lengths import in_unit, own_unit, said
from scribeline.plan import Plan
from scribeline.solid.neck import heel_in_the_neck

_WIDTH = 0.25
_SHOULDER = 12.0
"""What a template has beside the neck and under it, mm."""
_BETWEEN = 10.0
"""White between two templates, mm."""
_PAGEFUL = 190.0
"""How high templates one under the other may be to stand on one page of the smallest paper, mm."""
_SIDE = -119.0
"""The glue line on the template of the side: its lettering lies between two rows of the pages' crosses, mm."""
_LINE = 1.5 * ACTED_ON_LETTERING
_AWAY: Point = (500.0, -500.0)
"""Where the first template stands: none of the crosses that `PITCH` sets falls among their lettering."""
PITCH = 4000.0
"""Of the crosses on the templates' pages, mm: each template stands whole on its page, and both bars say its scale."""
_CURVE = 96
"""Chords over each piece of the side that curves: they keep within 0.001 mm of it."""

SEEN = "Full size (1:1)"


def section_pages(plan: Plan) -> Iterator[tuple[Item, ...]]:
    """The hollow templates, as many together as stand on one page; nothing where the neck is not carved here."""
    carve = carve_of(plan.job.document, plan.layout)
    if carve is None:
        return
    page: list[Item] = []
    (x, top), low = _AWAY, 0.0
    for station in stations(carve, plan.layout):
        high = max(station.depth + _SHOULDER, 7 * _LINE)
        if page and low - high < -_PAGEFUL:
            yield tuple(page)
            page, low = [], 0.0
        page += placed(_hollow(plan, carve, station), Transform(offset=(x, top + low)))
        low -= high + _BETWEEN
    if page:
        yield tuple(page)


def _hollow(plan: Plan, carve: Carve, station: Station) -> tuple[Item, ...]:
    """One template: its shoulders lie on the glue line, its hollow takes the neck's back."""
    inside = tuple((float(x), -float(depth)) for x, depth in carve.profile(station.along))
    half, foot = station.width / 2 + _SHOULDER, -station.depth - _SHOULDER
    outside = ((half, 0.0), (half, foot), (-half, foot), (-half, 0.0))
    ref = f"section-{station.id}"
    at = half + 4.0
    told = (
        f"{station.name[:1].upper()}{station.name[1:]}",
        f"{_told(plan, station.along)} from the nut",
        f"{_told(plan, station.width)} wide",
        f"{_told(plan, station.depth)} deep under the board",
        f"{_told(plan, station.thickness)} thick with it",
        f"facet: {_told(plan, station.facet_down)} down the side,",
        f"{_told(plan, station.facet_in)} from the middle",
    )
    return (
        Path(CUT, (*inside, *outside), closed=True, ref=ref),
        Line(CENTRE, (0.0, 3.0), (0.0, foot - 3.0), ref),
        *_facets(station, ref),
        *(
            Text(LETTERING, (at, -no * _LINE - ACTED_ON_LETTERING), words, ACTED_ON_LETTERING)
            for no, words in enumerate(told)
        ),
        Text(LETTERING, (3.0 - half, foot + 3.0), station.id.replace("-", " "), ACTED_ON_LETTERING),
    )


def _told(plan: Plan, mm: float) -> str:
    """A length on a template: in an inch shop with its millimetres."""
    return in_unit(said(mm), plan.unit)


def _facets(station: Station, ref: str) -> Iterator[Item]:
    """The lines of the first facets, which touch the finished back."""
    half = station.width / 2
    for side in (1, -1):
        yield Line(
            THIN,
            (side * half, -station.facet_down),
            (side * station.facet_in, -station.depth),
            f"{ref}-facet",
        )


def _back(carve: Carve) -> tuple[Point, ...]:
    """The back's line seen from the side, from the nut to the heel's end."""
    return tuple((x, -float(carve.middle(x))) for x in carve.places(0.0, carve.end, _CURVE))


_BEYOND = 8.0
"""How much of the head is shown beyond where its back is flat, mm."""


def _into_the_head(plan: Plan) -> tuple[Point, ...]:
    """The back's line seen from the side, from the nut on into the head until its back is flat, and its face back to the nut."""
    back = head_back(plan.job.document, plan.layout)
    if back is None:
        return ()
    far = back.flat_at - _BEYOND
    under = [(x, -float(back.middle(x))) for x in back.places(far, 0.0, _CURVE)]
    return (*reversed(under), (far, -float(back.front(far))), (0.0, -back.face))


def _floor(channel: Channel) -> tuple[Point, ...]:
    """A channel's outline seen from the side, from the glue line down its ends."""
    low, high = channel.ends
    x = np.linspace(low, high, 2 if channel.is_flat else _CURVE + 1)
    floor = ((float(at), -float(deep)) for at, deep in zip(x, channel.bottom(x), strict=True))
    return ((low, 0.0), *floor, (high, 0.0))


def side_items(plan: Plan) -> tuple[Item, ...]:
    """The neck's side for a template: the line the back is sawn to; nothing where the neck is not carved here."""
    carve = carve_of(plan.job.document, plan.layout)
    if carve is None:
        return ()
    back, board = _back(carve), carve.board_thickness
    end = plan.job.document.fingerboard.end
    items: list[Item] = [
        Path(CUT, ((0.0, 0.0), *back, (carve.end, 0.0)), closed=True, ref="side"),
        Path(PHANTOM, ((0.0, 0.0), (0.0, board), (end, board), (end, 0.0)), closed=True, ref="fingerboard"),
    ]
    if head := _into_the_head(plan):
        items.append(Path(CUT, head, closed=False, ref="head"))
    items += [
        Path(HIDDEN, _floor(each), closed=False, ref=each.name)
        for each in channels(plan.job.document)
        if each.across >= 0
    ]
    for station in stations(carve, plan.layout):
        items += _marked(plan, station, board)
    words = "Side of the neck, full size (1:1); double-chain: its fingerboard; dashed: channels"
    items.append(Text(LETTERING, (0.0, board + 3.0), words, ACTED_ON_LETTERING))
    return placed(items, Transform(offset=(0.0, _SIDE)))


def _marked(plan: Plan, station: Station, board: float) -> Iterator[Item]:
    """A place of the side with what a caliper reads there."""
    foot = -station.depth - 4.0
    yield Line(THIN, (station.along, board), (station.along, foot), station.id)
    words = f"{station.id.replace('-', ' ')}: {_told(plan, station.thickness)}"
    at = (station.along + LEAST_LETTERING / 2, foot - 1.0)
    yield Text(LETTERING, at, words, LEAST_LETTERING, "end", 90.0)


def carve_picture(plan: Plan, widest: float) -> Sheet:
    """The sections at the 1st and the 12th fret for a card, with board, facets and channels; abreast where there is room."""
    carve = carve_of(plan.job.document, plan.layout)
    assert carve is not None
    abreast = 2 * carve.board[2] + 2 * _BETWEEN <= widest
    return fitted("carve", partial(_sections, plan, carve, abreast), widest, seen=SEEN, what="From the head")


def _sections(plan: Plan, carve: Carve, abreast: bool, scale: float = 1.0) -> tuple[Item, ...]:
    items: list[Item] = []
    low, middle, left = 0.0, 0.0, -carve.board[2] / 2 * scale
    for name, along in (("fret 1", carve.first[0]), ("fret 12", carve.twelfth[0])):
        station = carve.station(name.replace(" ", "-"), name, along)
        drawn = tuple(_section(plan, carve, station))
        items += placed(drawn, Transform(scale, offset=(middle, low)))
        words = f"{station.name}: {own_unit(station.thickness, plan.unit)}"
        at = (left + middle, low + carve.board_thickness * scale + 2.5)
        items.append(Text(LETTERING, at, words, ACTED_ON_LETTERING))
        if abreast:
            middle += (carve.board[2] + _BETWEEN) * scale
        else:
            low -= (station.depth + carve.board_thickness) * scale + 2 * _LINE
    items.append(Text(LETTERING, (left, covered(items)[1] - _LINE), SEEN, ACTED_ON_LETTERING))
    return tuple(items)


def _section(plan: Plan, carve: Carve, station: Station) -> Iterator[Item]:
    """A section of the neck with its fingerboard as a box, what is routed in it, and its first facets."""
    half, board = station.width / 2, carve.board_thickness
    profile = tuple((float(x), -float(depth)) for x, depth in carve.profile(station.along))
    yield Path(OUTLINE, profile, closed=True, ref=station.id)
    box = ((-half, 0.0), (half, 0.0), (half, board), (-half, board))
    yield Path(PHANTOM, box, closed=True, ref="fingerboard")
    yield Line(CENTRE, (0.0, board + 2.0), (0.0, -station.depth - 2.0))
    yield from _facets(station, station.id)
    for each in channels(plan.job.document):
        if each.ends[0] <= station.along <= each.ends[1]:
            near, far = (each.across + side * each.half for side in (-1, 1))
            floor = -float(each.bottom(station.along))
            yield Path(HIDDEN, ((near, 0.0), (near, floor), (far, floor), (far, 0.0)), closed=False)


# For other programs


def neck_blank_sheet(plan: Plan) -> Sheet | None:
    """The neck as a drawing for other programs: plan, side and sections on their own layers; None where it is not carved here."""
    carve = carve_of(plan.job.document, plan.layout)
    if carve is None:
        return None
    items = list(_plan(plan, carve))
    low = covered(items)[1] - _BETWEEN - carve.board_thickness
    side = [
        Path(
            Layer("neck side", _WIDTH, description="from the side, the glue line its straight edge"),
            ((0.0, 0.0), *_back(carve), (carve.end, 0.0)),
            closed=True,
            ref="side",
        ),
        *(
            Path(_channel_layer(each, "side"), _floor(each), closed=False, ref=each.name)
            for each in channels(plan.job.document)
            if each.across >= 0
        ),
    ]
    if head := _into_the_head(plan):
        layer = Layer("head side", _WIDTH, description="its back until that is flat, its face, from the side")
        side.append(Path(layer, head, closed=False, ref="head"))
    items += placed(side, Transform(offset=(0.0, low)))
    low = covered(items)[1] - _BETWEEN
    right = 0.0
    for station in stations(carve, plan.layout):
        layer = Layer(
            f"section {station.id}",
            _WIDTH,
            colour=5,
            description=f"{station.along:.2f} from the nut, seen from the head",
        )
        profile = tuple((float(x), -float(depth)) for x, depth in carve.profile(station.along))
        drawn = [Path(layer, profile, closed=True, ref=f"section-{station.id}")]
        items += placed(drawn, Transform(offset=(right + station.width / 2, low)))
        right += station.width + _BETWEEN
    return bounded(f"{plan.job.document.name} neck", items)


def _plan(plan: Plan, carve: Carve) -> Iterator[Item]:
    """The neck's outline from the front up to its heel's end, with its channels."""
    side = [(x, float(carve.half(x))) for x in carve.places(0.0, carve.mouth, _CURVE)]
    outline = (*side, *_round_the_heel(plan), *((x, -y) for x, y in reversed(side)))
    yield Path(
        Layer("neck outline", _WIDTH, description="from the front, at the glue line"),
        tuple(outline),
        closed=True,
        ref="neck",
    )
    yield Line(Layer("centreline", _WIDTH, "chain"), (0.0, 0.0), (carve.end, 0.0), "centreline")
    for each in channels(plan.job.document):
        near, far = (plan.layout.treble * each.across + way * each.half for way in (-1, 1))
        (low, high) = each.ends
        yield Path(
            _channel_layer(each, ""),
            ((low, near), (high, near), (high, far), (low, far)),
            closed=True,
            ref=each.name,
        )


def _round_the_heel(plan: Plan) -> tuple[Point, ...]:
    """The heel's outline, or its tenon's, from its one corner at the pocket's mouth round its end to the other."""
    ring = [(x, y) for x, y in heel_in_the_neck(plan.job.document, plan.layout)]
    mouth = min(x for x, _ in ring)
    start = next(n for n, (x, y) in enumerate(ring) if x < mouth + _SAME and y > 0)
    turned = (*ring[start:], *ring[:start])
    if turned[1][0] < mouth + _SAME:  # it runs along the mouth first
        return (turned[0], *reversed(turned[1:]))
    return turned


_SAME = 1e-6
"""Places nearer than this are one, mm."""


def _channel_layer(each: Channel, view: str) -> Layer:
    what = "truss rod channel" if each.across == 0 else "bar channel"
    if view:
        return Layer(f"{what} {view}", _WIDTH, "dashed", colour=1)
    deep = f"{each.depth:.2f}" if each.is_flat else f"{each.depth:.2f}, {each.depth_at_ends:.2f} at its ends"
    return Layer(what, _WIDTH, colour=1, description=f"{deep} deep from the glue line")
