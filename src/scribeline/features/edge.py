"""Bores from the body's edge: the jack, its plate's screws, the strap buttons' screws."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import acos, degrees, hypot, radians, sqrt
from typing import TYPE_CHECKING

from scribeline.features.bits import choose_bit, drill_box
from scribeline.features.cuts import Bore, Grain, Pocket, Reason, Step
from scribeline.features.passing import past_the_wall
from scribeline.features.pilots import BENCH_SOURCE
from scribeline.features.rings import polygon
from scribeline.features.screw_pilots import driver, screw_pilot
from scribeline.job import BitKind, Document, WoodScrew
from scribeline.layout import EdgePlace, Layout, Point, Point3, Ring

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon

BREAK_OUT = 1.0
"""How far a bit's full diameter is run past a wall it opens, mm (common practice, no source)."""

BIT_OFF = 0.5
"""A bit further than this from the jack's size is no choice at all, mm (common practice, no source)."""

END_GRAIN = radians(45.0)
"""A screw nearer the grain than this counts as in end grain (common practice, no source)."""

JACK = "jack"


@dataclass(frozen=True, slots=True)
class Opening:
    """How a level bore from the edge meets a pocket.

    Attributes:
        first: where along the axis its side first touches the pocket, mm.
        full: from where on all of it that meets the pocket lies in it, mm.
        above: how far it rises over the pocket's upper end, mm; 0 where it does not.
        below: how far it reaches below the lower end, mm.
        to_right: how far it lies outside the pocket on the right, seen along the axis, mm.
        to_left: on the left.
    """

    first: float
    full: float
    above: float
    below: float
    to_right: float
    to_left: float

    @property
    def is_whole(self) -> bool:
        """Whether the whole bore opens into the pocket."""
        return max(self.above, self.below, self.to_right, self.to_left) <= 1e-6


def jack_bores(document: Document, layout: Layout, pockets: Iterable[Pocket]) -> Iterator[Bore]:
    """The jack's bore and its plate's screws; no bore where its line never meets the pocket it shall open into."""
    jack, place = document.jack, layout.jack
    if jack is None or place is None:
        return
    start = edge_at(layout, place)
    height = Reason(_height_words(layout, place, start))
    axis = Point3(place.inward.x, place.inward.y, 0.0)
    where = Reason(
        f"drilled {'square to the edge' if jack.heading is None else 'in the direction stated'}, from the place on the edge "
        "nearest the one stated"
    )
    depth, why, meets = jack.depth, [where, height], frozenset[str]()
    if jack.into is not None:
        target = next(pocket for pocket in pockets if pocket.role == jack.into)
        opening = jack_opening(layout, start, place.inward, jack.diameter / 2, target)
        if opening is None:
            return
        meets = frozenset({target.id})
        depth = past_the_wall(opening.full, BREAK_OUT)
        why.append(
            Reason(
                f"the whole hole is through the wall of the {target.in_words} after {opening.full:.2f} mm; it goes "
                f"{BREAK_OUT:.1f} mm further to break out cleanly",
                BENCH_SOURCE,
            )
        )
    assert depth is not None
    yield _jack_bore(
        document,
        layout,
        Bore(
            id=JACK,
            stated="jack.near",
            role="jack hole",
            group="jack",
            face="edge",
            at=start,
            axis=axis,
            steps=(),
            meets=meets,
            why=tuple(why),
            outward=Point3(place.outward.x, place.outward.y, 0.0),
        ),
        depth,
    )
    if jack.screw is not None:
        for number, (hole, _) in enumerate(zip(layout.jack_screws, jack.screws, strict=True), start=1):
            if hole is not None:
                yield _pilot(
                    document,
                    layout,
                    hole,
                    jack.screw,
                    key="jack.screw",
                    under_head=jack.plate_thickness,
                    identity=(f"jack-screw-{number}", "jack plate screw", "jack screws"),
                )


def _jack_bore(document: Document, layout: Layout, bare: Bore, depth: float) -> Bore:
    jack, box, angle = document.jack, drill_box(document.bits), document.bits.point_angle
    assert jack is not None
    kinds: tuple[BitKind, ...] = ("flat-bottomed", "brad-point", "twist")
    bit = choose_bit(
        box,
        jack.diameter,
        kinds,
        at_least=jack.diameter - BIT_OFF,
        at_most=jack.diameter + BIT_OFF,
        reach=depth,
        point_angle_rad=angle,
    )
    steps, why = [Step(bit.diameter, depth, bit)], list(bare.why)
    why.append(Reason(f"bit: {bit.name} ({bit.diameter - jack.diameter:+.2f} mm)"))
    if jack.recess_diameter is not None and jack.recess_depth is not None:
        cup = choose_bit(
            box,
            jack.recess_diameter,
            ("flat-bottomed", "brad-point"),
            at_least=max(jack.recess_diameter - BIT_OFF, bit.diameter + 0.2),
            at_most=jack.recess_diameter + BIT_OFF,
            reach=jack.recess_depth,
            point_angle_rad=angle,
        )
        steps.insert(0, Step(cup.diameter, jack.recess_depth, cup))
        why.append(
            Reason(
                f"counterbore {jack.recess_depth:.2f} mm deep from the edge at its centre; bit: {cup.name} "
                f"({cup.diameter - jack.recess_diameter:+.2f} mm)"
            )
        )
    return _on_its_wall(replace(bare, steps=tuple(steps), why=tuple(why)), layout.outline)


def strap_button_bores(document: Document, layout: Layout) -> Iterator[Bore]:
    """The pilots of the strap buttons' screws."""
    for number, (button, place) in enumerate(
        zip(document.strap_buttons, layout.strap_buttons, strict=True), start=1
    ):
        bore = _pilot(
            document,
            layout,
            place,
            button.screw,
            key=f"strap_buttons[{number}].screw",
            under_head=button.under_head,
            identity=(f"strap-button-{number}", f"{button.name} strap button", "strap buttons"),
        )
        grain = bore.grain if button.grain is None else button.grain
        yield replace(bore, grain=grain, stated=f"strap_buttons[{number}].near")


def opened_by_jack(document: Document, pockets: Iterable[Pocket]) -> tuple[Pocket, ...]:
    """The pockets, the one that the jack opens into knowing it."""
    jack = document.jack
    return tuple(
        replace(p, meets=p.meets | {JACK}) if jack is not None and jack.into == p.role else p for p in pockets
    )


def edge_at(layout: Layout, place: EdgePlace) -> Point3:
    """Where a bore's axis meets the edge, with its height."""
    top, back = layout.top_at(place.at), layout.back_at(place.at)
    level = (top + back) / 2 if place.from_top is None else top - place.from_top
    return Point3(place.at.x, place.at.y, level + place.up)


def _height_words(layout: Layout, place: EdgePlace, start: Point3) -> str:
    below = layout.top_at(place.at) - start.z
    how = "half-way between top and back" if place.from_top is None else "as stated"
    return f"its centre lies {below:.2f} mm below the top's edge, {how}"


def grain_of(layout: Layout, place: Point3, axis: Point3) -> tuple[Grain, float]:
    """How a screw along an axis lies in the wood there, and its angle from the grain, rad.

    The grain runs along the body where the job does not say.
    """
    run = layout.body.layer_at(Point(place.x, place.y), place.z).grain or Point(1.0, 0.0)
    along = abs(axis.x * run.x + axis.y * run.y) / (
        hypot(run.x, run.y) * sqrt(sum(part * part for part in axis))
    )
    angle = acos(min(1.0, along))
    return ("end" if angle < END_GRAIN else "side"), angle


def _pilot(
    document: Document,
    layout: Layout,
    place: EdgePlace,
    screw: WoodScrew,
    *,
    key: str,
    under_head: float,
    identity: tuple[str, str, str],
) -> Bore:
    start, axis = edge_at(layout, place), Point3(place.inward.x, place.inward.y, 0.0)
    timber = layout.timber_at(place.at, start.z)
    driven = driver(screw, under_head, key)
    step, why = screw_pilot(document, driven, timber)
    grain, angle = grain_of(layout, start, axis)
    name, holds, group = identity
    return _on_its_wall(
        Bore(
            id=name,
            role=f"{holds} pilot",
            group=group,
            face="edge",
            at=start,
            axis=axis,
            steps=(step,),
            why=(
                *why,
                Reason(
                    f"it goes into {grain} grain, {degrees(angle):.0f}° off the grain's run (along the body unless the job "
                    "says otherwise)",
                    BENCH_SOURCE,
                ),
                Reason(_height_words(layout, place, start)),
            ),
            outward=Point3(place.outward.x, place.outward.y, 0.0),
            grain=grain,
            screw=driven,
            holds=holds,
        ),
        layout.outline,
    )


def _on_its_wall(bore: Bore, outline: Ring) -> Bore:
    """The bore with its lead: how far before its place on the edge a hollow edge comes out to meet the bit."""
    return replace(bore, lead=lead_of(bore, polygon(outline)))


def lead_of(bore: Bore, body: Polygon) -> float:
    """How far out along the axis wood lies before the plane of the mouth, within the bore's width, mm."""
    import numpy as np
    import shapely

    r, out = bore.widest / 2, bore.normal
    sine = bore.angle_from_face_sine
    aside = Point(-bore.axis.y, bore.axis.x)
    # Wood within the bore's width, no further off along the edge than the mouth itself.
    back = 4.0 * r / max(sine, 0.1)
    strip = shapely.Polygon(
        [
            (
                bore.at.x + along * bore.axis.x + side * aside.x,
                bore.at.y + along * bore.axis.y + side * aside.y,
            )
            for along, side in ((-back, -r), (back, -r), (back, r), (-back, r))
        ]
    )
    inside = shapely.Point(bore.at.x + 1e-3 * bore.axis.x, bore.at.y + 1e-3 * bore.axis.y)
    parts = [
        p for p in shapely.get_parts(shapely.intersection(strip, body)) if shapely.distance(p, inside) < 1e-2
    ]
    if not parts:
        return 0.0
    places: NDArray[np.float64] = np.concatenate([shapely.get_coordinates(part) for part in parts])
    beyond = (places[:, 0] - bore.at.x) * out.x + (places[:, 1] - bore.at.y) * out.y
    return max(0.0, float(beyond.max())) / max(sine, 0.1)


def jack_opening(
    layout: Layout, start: Point3, inward: Point, radius: float, pocket: Pocket
) -> Opening | None:
    """How a level bore meets a pocket; None where its line passes it by.

    Args:
        layout: for the body's thickness.
        start: where its axis meets the edge.
        inward: unit vector along it.
        radius: mm.
        pocket: what it shall open into.
    """
    import shapely

    low, high = (
        (-pocket.depth, 0.0) if pocket.face == "top" else (-layout.thickness, pocket.depth - layout.thickness)
    )
    plan = shapely.Polygon(pocket.outline, pocket.islands)
    places = shapely.get_coordinates(plan)
    # Seen along the axis: how far in, and how far to the right.
    off = places - [start.x, start.y]
    right = off[:, 0] * inward.y - off[:, 1] * inward.x
    edges = sorted({-radius, radius, *(float(s) for s in right if -radius < s < radius)})
    lanes = [side for a, b in pairwise(edges) for side in (a + 1e-7, b - 1e-7)]
    entries = {side: entry for side in lanes if (entry := _entry(plan, start, inward, side)) is not None}
    if not entries or start.z - radius >= high or start.z + radius <= low:
        return None
    ahead = off @ [inward.x, inward.y]
    reached = right[ahead > 0] if (ahead > 0).any() else right
    return Opening(
        first=min(entries.values()),
        full=max(entries.values()),
        above=max(0.0, start.z + radius - high),
        below=max(0.0, low - (start.z - radius)),
        to_right=max(0.0, radius - float(reached.max())),
        to_left=max(0.0, float(reached.min()) + radius),
    )


def _entry(plan: Polygon, start: Point3, inward: Point, side: float) -> float | None:
    """How far in a line beside the axis (to its right) first meets a region, mm."""
    import shapely

    x, y = start.x + side * inward.y, start.y - side * inward.x
    line = shapely.LineString([(x, y), (x + 2000.0 * inward.x, y + 2000.0 * inward.y)])
    met = shapely.get_coordinates(line.intersection(plan))
    if len(met) == 0:
        return None
    return float(((met[:, 0] - x) * inward.x + (met[:, 1] - y) * inward.y).min())


def edge_bores(document: Document, layout: Layout, pockets: Sequence[Pocket]) -> tuple[Bore, ...]:
    """Everything that is drilled from the edge."""
    return (*jack_bores(document, layout, pockets), *strap_button_bores(document, layout))
