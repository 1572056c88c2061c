"""An outline while it is drawn by handles: read from a form, begun from a shape or an oval, drawn and measured."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import cos, hypot, pi, sin
from typing import TYPE_CHECKING, Any

import numpy as np

from scribeline.features import DRIFT
from scribeline.findings.wood import edge_limit
from scribeline.job.outline import (
    Drawn,
    Handle,
    OutlineError,
    Tightest,
    named_places,
    shape_measures,
    shape_names,
    through_handles,
)
from scribeline.layout import Point, Ring, neck_opens
from scribeline.lengths import JobUnit, LengthError, by_inches, own_unit, read_length, without_marks
from scribeline.solid import find_outside
from scribeline.web.frame import as_typed
from scribeline.web.numbers import name_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scribeline.job import Document
    from scribeline.plan import Plan

OVAL = "oval"
KEPT = "kept"
MOST_ROWS = 80
_MARGIN = 45.0
_OVAL_NAMES = (
    "tail, middle",
    "tail, bass",
    "lower bout, bass",
    "waist, bass",
    "upper bout, bass",
    "neck, bass",
    "neck, treble",
    "upper bout, treble",
    "waist, treble",
    "lower bout, treble",
    "tail, treble",
)
_OVAL_WIDTH = 320.0
"""Of the oval that one begins with, mm: about as wide as most bodies are (common practice, no source)."""
_TINES = 6
"""The curvature comb has a tine at every sixth place that the curvature is known at, about every 6 mm."""
_COMB = 1200.0
"""Length of a tine for a curvature of 1/mm, mm: of a radius of 60 mm it is 20 mm long."""


@dataclass(frozen=True, slots=True)
class Row:
    """A handle as it is typed.

    Attributes:
        name: what it is called.
        along: from the nut, as typed.
        across: from the centreline to the treble, as typed.
    """

    name: str
    along: str
    across: str


@dataclass(frozen=True, slots=True)
class Sketch:
    """An outline that is not kept yet: its handles as typed, and how they make an edge."""

    rows: tuple[Row, ...]
    mirrored: bool = False
    straight: bool = False

    def handles(self, units: JobUnit) -> tuple[Handle, ...]:
        """The handles in mm.

        Raises:
            OutlineError: one cannot be read.
        """
        return tuple(
            Handle(
                without_marks(row.name.strip()),
                _read(row, "from the nut", row.along, units),
                _read(row, "to the treble", row.across, units),
            )
            for row in self.rows
        )

    def drawn(self, units: JobUnit) -> Drawn:
        """The edge.

        Raises:
            OutlineError: there is none.
        """
        return through_handles(self.handles(units), mirrored=self.mirrored, straight=self.straight)

    def stated(self, units: JobUnit) -> dict[str, Any]:
        """The keys of `body.outline` that say it."""
        rows = [
            {
                "name": without_marks(row.name.strip()),
                "at": [_value(row.along, units), _value(row.across, units)],
            }
            for row in self.rows
        ]
        return {
            "handles": rows,
            **({"mirrored": True} if self.mirrored else {}),
            **({"neck_edge": "straight"} if self.straight else {}),
        }


def _read(row: Row, what: str, typed: str, units: JobUnit) -> float:
    try:
        mm = read_length(typed, unit=units).mm
    except LengthError as fault:
        raise OutlineError(f'"{without_marks(row.name)}", {what}: {fault}') from None
    if not abs(mm) <= 2000:
        raise OutlineError(
            f'"{without_marks(row.name)}", {what}: that is further off than any body; at most 2 m.'
        )
    return mm


def _value(typed: str, units: JobUnit) -> float | str:
    """What the job file says for a length as typed: a bare number where it is one, in the job's unit."""
    mm = read_length(typed, unit=units).mm
    try:
        return float(typed.replace(",", "."))
    except ValueError:
        return typed.strip() if by_inches(units) or not typed.strip().endswith("mm") else round(mm, 3)


def ways(document: Document) -> tuple[str, ...]:
    """What a builder may begin with."""
    return (*((KEPT,) if document.body.outline.handles else ()), *shape_names(), OVAL)


def begun(plan: Plan, way: str) -> Sketch:
    """What a builder begins with: the job's own handles, a built-in shape's places, or an oval.

    Raises:
        OutlineError: a built-in shape's dimensions make no edge.
    """
    outline, units = plan.job.document.body.outline, plan.job.document.units
    if way == KEPT and outline.handles:
        rows = tuple(
            Row(each.name, as_typed(each.at[0], units), as_typed(each.at[1], units))
            for each in outline.handles
        )
        return Sketch(rows, outline.mirrored, outline.neck_edge == "straight")
    mouth, tail = _ends(plan)
    if way in shape_names():
        own = outline.dimensions.model_dump(exclude_none=True) if outline.shape == way else {}
        places = named_places(way, tail=tail, **own)
        return Sketch(tuple(_row(each.name, each.x, each.y, units) for each in places), straight=True)
    middle, half = (mouth + tail) / 2, (tail - mouth) / 2
    turns = [(name, 2 * pi * n / len(_OVAL_NAMES)) for n, name in enumerate(_OVAL_NAMES)]
    oval = [
        _row(name, middle + half * cos(turn), -_OVAL_WIDTH / 2 * sin(turn), units) for name, turn in turns
    ]
    # From the neck by the treble side round to the neck.
    first = _OVAL_NAMES.index("neck, treble")
    return Sketch((*oval[first:], *oval[:first]))


def _ends(plan: Plan) -> tuple[float, float]:
    """Where a new edge begins under the neck and ends at the tail, mm from the nut."""
    outline = plan.job.document.body.outline
    mouth = neck_opens(plan.job.document.neck, plan.layout)
    own = shape_measures(outline.shape or shape_names()[0])
    return mouth, outline.tail or mouth + own.neck_from_tail


def _row(name: str, x: float, y: float, units: JobUnit) -> Row:
    return Row(name, as_typed(_whole(x, units), units), as_typed(_whole(y, units), units))


def _whole(mm: float, units: JobUnit) -> float:
    """To half a millimetre or a 32nd of an inch: what one begins with is to be read off a rule."""
    step = 25.4 / 32 if by_inches(units) else 0.5
    return round(mm / step) * step


@dataclass(frozen=True, slots=True)
class Fact:
    """A figure beside the drawing."""

    words: str
    value: str
    note: str = ""


def answer(plan: Plan, sketch: Sketch) -> dict[str, Any]:
    """What a page shows of a sketch: the edge, its comb, its handles' places, figures; or what is wrong.

    Places are of the drawing: mm, x from the nut, y down from the centreline, as seen from the front.
    """
    document, units = plan.job.document, plan.unit
    side = plan.layout.treble
    try:
        handles = sketch.handles(document.units)
    except OutlineError as fault:
        return {"wrong": _sentence(fault, units)}
    at = [[round(each.x, 3), round(-each.y * side, 3)] for each in handles]
    try:
        drawn = through_handles(handles, mirrored=sketch.mirrored, straight=sketch.straight)
    except OutlineError as fault:
        return {"at": at, "wrong": _sentence(fault, units)}
    wood = _wood(plan, drawn)
    return {
        "at": at,
        "path": _path(drawn.outline.points, side) + "Z",
        "comb": _comb(drawn, side),
        "wood": None if wood is None else [[x, -y] for x, y in wood.ends],
        "facts": [[each.words, each.value, each.note] for each in _facts(plan, drawn, wood)],
        "wrong": "",
    }


def _sentence(fault: OutlineError, units: JobUnit) -> str:
    words = fault.told(units).removeprefix("handles: ")
    return words[:1].upper() + words[1:]


@dataclass(frozen=True, slots=True)
class _Wood:
    name: str
    mm: float
    ends: tuple[tuple[float, float], ...]


def _wood(plan: Plan, drawn: Drawn) -> _Wood | None:
    """The least wood between a cut and the edge, as the checks count it; None without a cut that keeps away from it."""
    side = plan.layout.treble
    points = drawn.outline.points if side > 0 else reversed(drawn.outline.points)
    ring = Ring(Point(x, y * side) for x, y in points)
    cuts = {each.id: each for each in plan.features if edge_limit(each) is not None}
    found = find_outside(plan.features, ring, plan.layout.thickness, drift=DRIFT)
    least = min((each for each in found if each.feature in cuts), key=lambda each: each.to_edge, default=None)
    if least is None:
        return None
    ends = () if least.edge_places is None else tuple((p.x, p.y) for p in least.edge_places)
    return _Wood(name_of(cuts[least.feature]), least.to_edge, ends)


def _facts(plan: Plan, drawn: Drawn, wood: _Wood | None) -> Iterator[Fact]:
    unit, sizes = plan.unit, drawn.sizes
    yield Fact("Length", _told(sizes.length, plan))
    if sizes.bouts is None:
        yield Fact("Width", _told(sizes.width, plan), "no waist")
    else:
        yield Fact("Lower bout", _told(sizes.bouts.lower, plan))
        yield Fact("Waist", _told(sizes.bouts.waist, plan))
        yield Fact("Upper bout", _told(sizes.bouts.upper, plan))
    hollow, bump = drawn.hollow, drawn.bump
    if hollow is None:
        yield Fact("Tightest hollow", "none", "any bearing follows the edge")
    else:
        yield Fact("Tightest hollow", f"R {_told(hollow.radius, plan)}", _bearing(plan, drawn, hollow))
    if bump is not None:
        yield Fact("Tightest round", f"R {_told(bump.radius, plan)}", f"near {_nearest(drawn, bump.at)}")
    if wood is not None:
        out = wood.mm < 0
        value = f"{own_unit(-wood.mm, unit)} outside" if out else own_unit(wood.mm, unit)
        yield Fact("Least wood to a cut", value, wood.name)


def _told(mm: float, plan: Plan) -> str:
    """A size of the body: nobody reads one finer than to a tenth of a millimetre."""
    return own_unit(mm, plan.unit, 1)


def _bearing(plan: Plan, drawn: Drawn, hollow: Tightest) -> str:
    """Which of the job's router bits reach into the tightest hollow, under bearings as wide as themselves."""
    where, widest = f"near {_nearest(drawn, hollow.at)}", 2 * hollow.radius
    widths = sorted(each.diameter for each in plan.job.document.bits.router)
    too_wide = [each for each in widths if each > widest]
    if not widths:
        return f"{where}; takes a bearing up to {_told(widest, plan)} wide"
    if not too_wide:
        return f"{where}; all your router bits follow it, under bearings as wide as themselves"
    return f"{where}; a router bit of {_listed(too_wide, plan)} is too wide for it"


def _listed(widths: Sequence[float], plan: Plan) -> str:
    return " or ".join(own_unit(each, plan.unit) for each in widths)


def _nearest(drawn: Drawn, at: tuple[float, float]) -> str:
    return min(drawn.handles, key=lambda each: hypot(each.x - at[0], each.y - at[1])).name


def _path(points: Iterable[Sequence[float] | NDArray[Any]], side: int) -> str:
    return "M" + "L".join(f"{x:.2f} {-y * side:.2f}" for x, y in points)


def _comb(drawn: Drawn, side: int) -> str:
    """Tines square to the edge, as long as it is curved there, and the line over their ends."""
    at, bends = (each[::_TINES] for each in drawn.bends)
    ways = np.gradient(at, axis=0)
    ways /= np.hypot(*ways.T)[:, None]
    out = np.column_stack([ways[:, 1], -ways[:, 0]]) * drawn.turns
    ends = at + out * (bends * _COMB)[:, None]
    tines = "".join(_path([one, other], side) for one, other in zip(at, ends, strict=True))
    return tines + _path(ends, side)


def frame(plan: Plan, shown: Mapping[str, Any]) -> tuple[float, float, float, float]:
    """The part of the drawing looked at: the body as it is kept, the sketch where it is sound, and room about them, mm."""
    places = [(p.x, -p.y) for p in plan.layout.outline]
    if not shown["wrong"]:
        places += [(x, y) for x, y in shown["at"]]
    xs, ys = zip(*places, strict=True)
    left, top = min(xs) - _MARGIN, min(ys) - _MARGIN
    return left, top, max(xs) + _MARGIN - left, max(ys) + _MARGIN - top


def cuts_path(plan: Plan) -> str:
    """The outlines of all upright cuts and of the neck pocket, as one path."""
    parts = []
    for cut in plan.features:
        if hasattr(cut, "outline"):
            parts.append("M" + "L".join(f"{x:.2f} {-y:.2f}" for x, y in cut.outline) + "Z")
        elif cut.face in {"top", "back"}:
            r = cut.widest / 2
            parts.append(
                f"M{cut.at.x - r:.2f} {-cut.at.y:.2f}a{r:.2f} {r:.2f} 0 1 0 {2 * r:.2f} 0a{r:.2f} {r:.2f} 0 1 0 {-2 * r:.2f} 0Z"
            )
    return "".join(parts)
