"""The cuts as one drawing in the instrument frame, a layer per cut: what `body.dxf` and `body.svg` hold.

Both faces are drawn in the same x and y, the back not mirrored: a layer's name says which face it is cut
from. Nothing else is drawn but a few dimensions, so that a program for a router or a press can take each
layer as one operation.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import asin, atan2, cos, degrees, pi, sin

from scribeline.drawing.edge_bores import axis_line, lies_level, sides
from scribeline.drawing.extent import covered
from scribeline.drawing.sheet import (
    DIMENSION,
    TEMPLATE_LETTERING,
    Circle,
    Dimension,
    Item,
    Layer,
    Line,
    LineStyle,
    Path,
    Point,
    Sheet,
    Text,
)
from scribeline.features import Bore, Pocket, angle_from_face_deg, entry_ellipse
from scribeline.features.cuts import Face
from scribeline.lengths import both_units
from scribeline.plan import Plan

OUTLINE_LAYER = "outline"
_FORBIDDEN = str.maketrans(dict.fromkeys('<>/\\":;?*=`|,', "-"))
"""Characters that DXF does not allow in a layer's name, and the comma, which some programs split at."""
_WIDTH = 0.25
_MARGIN = 10.0
_SEEN_THROUGH = (
    "Layers of the back lie as seen through from the top, not mirrored: turn the body over its long axis (y to -y) to "
    "cut them from the back."
)
_NOTES = Layer("notes", _WIDTH)
_LOOKS: dict[Face, tuple[LineStyle, int, int, str]] = {
    "top": ("continuous", 5, 1, "cut from the top"),
    "back": ("dashed", 3, 6, "cut from the back; lies as seen through from the top, not mirrored"),
    "edge": (
        "double-chain",
        30,
        30,
        "drilled from the body's edge; its sides and its centre line in the plan",
    ),
    "pocket": ("chain", 4, 4, "drilled from inside a cavity; its opening and where its centre line enters"),
}
"""Of each face: the line type, which says it in black and white too, the colours of pockets and of bores, a description."""
_ELLIPSE_POINTS = 360
_LEVEL_WITHIN = 0.05
"""A bore that leans less is level, degrees."""


def cut_sheet(plan: Plan) -> Sheet:
    """Every cut in the instrument frame: x from the nut, y from the centreline, mm.

    Holes square to the face are circles at their true places and diameters. A slanting hole has no circle
    on the face: its mouth is drawn as a closed path with a cross where its axis enters. A bore from the edge is
    drawn as it lies in the plan: an open path along its two sides and its end, and its axis.

    The sheet's origin is its lower left corner in the same frame, and may be negative.
    """
    items: list[Item] = [
        Path(Layer(OUTLINE_LAYER, _WIDTH), _ring(plan.layout.outline), closed=True, ref="outline")
    ]
    for pocket in plan.features.pockets:
        layer = _layer(pocket_layer(pocket), pocket)
        rings = (pocket.outline, *pocket.islands)
        items += (Path(layer, _ring(ring), closed=True, ref=pocket.id) for ring in rings)
    for bore in plan.features.bores:
        items += _bore(bore)
    items += _dimensions(plan)
    if any(feature.face == "back" for feature in plan.features):
        left, bottom, _, _ = covered(items)
        at = (left, bottom - 2 * TEMPLATE_LETTERING)
        items.append(Text(_NOTES, at, _SEEN_THROUGH, TEMPLATE_LETTERING, ref="notes"))
    left, bottom, right, top = covered(items)
    return Sheet(
        f"{plan.job.document.name} cuts",
        right - left + 2 * _MARGIN,
        top - bottom + 2 * _MARGIN,
        tuple(items),
        origin=(left - _MARGIN, bottom - _MARGIN),
    )


def _layer(name: str, feature: Bore | Pocket) -> Layer:
    """A cut's layer, with the looks of its face and kind."""
    style, of_pockets, of_bores, description = _LOOKS[feature.face]
    colour = of_pockets if isinstance(feature, Pocket) else of_bores
    return Layer(name, _WIDTH, style, colour=colour, description=description)


def pocket_layer(pocket: Pocket) -> str:
    """The layer of a pocket: "top pocket bridge pickup deep 20.50"."""
    mouth = "" if pocket.slope is None else f" to {pocket.depths[0]:.2f} at the mouth"
    return _name(f"{pocket.face} pocket {pocket.role} deep {pocket.depth:.2f}{mouth}")


def bore_layers(bore: Bore) -> tuple[str, ...]:
    """The layer of each diameter of a bore, widest first: "back counterbore 9.00 deep 1.38".

    Depths are those of the full diameter from the face, along the axis.
    """
    names = []
    for n, step in enumerate(bore.steps):
        kind = "bore" if n == len(bore.steps) - 1 else "counterbore"
        slant = "" if bore.is_upright else f" {angle_from_face_deg(bore):.1f} degrees from face"
        if lies_level(bore):
            slant = f" axis {-bore.at.z:.2f} below top"
            lean = degrees(asin(min(1.0, max(-1.0, bore.axis.z))))
            if abs(lean) >= _LEVEL_WITHIN:
                slant += f" and {abs(lean):.1f} degrees {'up' if lean > 0 else 'down'}"
        names.append(_name(f"{bore.face} {kind} {step.diameter:.2f} deep {step.depth:.2f}{slant}"))
    return tuple(names)


def _name(words: str) -> str:
    return words.translate(_FORBIDDEN)


def _ring(ring: tuple[tuple[float, float], ...]) -> tuple[Point, ...]:
    return tuple((x, y) for x, y in ring)


def _bore(bore: Bore) -> Iterator[Item]:
    centre = (bore.at.x, bore.at.y)
    for name, step in zip(bore_layers(bore), bore.steps, strict=True):
        layer = _layer(name, bore)
        if lies_level(bore):
            yield Path(layer, sides(bore, step), ref=bore.id)
            yield Line(layer, *axis_line(bore, 1.0), bore.id)
        elif bore.is_upright:
            yield Circle(layer, centre, step.diameter / 2, bore.id)
        else:
            yield from _mouth(layer, bore)


def _mouth(layer: Layer, bore: Bore) -> Iterator[Item]:
    long, wide = (size / 2 for size in entry_ellipse(bore))
    heading = atan2(bore.axis.y, bore.axis.x)
    c, s = cos(heading), sin(heading)

    def on(along: float, aside: float) -> Point:
        return (bore.at.x + along * c - aside * s, bore.at.y + along * s + aside * c)

    turns = [2 * pi * n / _ELLIPSE_POINTS for n in range(_ELLIPSE_POINTS)]
    yield Path(layer, tuple(on(long * cos(t), wide * sin(t)) for t in turns), closed=True, ref=bore.id)
    yield Line(layer, on(-1.0, 0.0), on(1.0, 0.0), bore.id)
    yield Line(layer, on(0.0, -1.0), on(0.0, 1.0), bore.id)


def _dimensions(plan: Plan) -> Iterator[Item]:
    """From the neck pocket's end wall, to prove that the file came in at its true size."""
    layout = plan.layout
    ys = [point.y for point in layout.outline]
    wall = (layout.pocket_end, 0.0)
    level = min(ys) - 14.0
    places: list[Point] = []
    if layout.bridge is not None:
        places = [(mark.at.x, mark.at.y) for mark in layout.bridge.marks]
        holes = [bore.at for bore in plan.features.family("string-hole")]
        if holes:
            lowest = min(holes, key=lambda hole: hole.y)
            places.append((lowest.x, lowest.y))
    for place in places:
        mm, inches = both_units(place[0] - wall[0], plan.unit)
        if abs(place[0] - wall[0]) > 1.0:
            yield Dimension(DIMENSION, wall, place, (wall[0], level), mm, inches, "x", TEMPLATE_LETTERING)
            level -= 15.0
    first = min(layout.outline, key=lambda p: p.x)
    last = max(layout.outline, key=lambda p: p.x)
    mm, inches = both_units(last.x - first.x, plan.unit)
    yield Dimension(
        DIMENSION,
        (first.x, first.y),
        (last.x, last.y),
        (first.x, level),
        mm,
        inches,
        "x",
        TEMPLATE_LETTERING,
    )
