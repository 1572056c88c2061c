"""The carved neck: its section at any place along it, in closed form, and the channels under its fingerboard.

The neck has a frame of its own: x along it from the nut's front, y across from the centreline to the treble, depth down from
the fingerboard's glue line, so that a depth is of the neck's own wood. With a the half width and c the depth in the middle,
both at x,

    depth(x, y) = (1 − s) (e + (c − e) f(|y| / a)) + s H

f is the section's own curve (`neck_sections`), e the wood left upright under the board's edge, H the heel's depth, and s the
share of the way into the heel: 0 before its curve, 1 behind it, and between them t² (3 − 2 t) of the way t, which leaves both
ends without a corner. c runs straight through the depths at the 1st and the 12th fret, and a volute adds
h cos²(π (x − its middle) / its length). The half width is the board's, and goes over into the heel's by the same s. Plane
geometry.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import cos, sin
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from scribeline.job import Document, NeckBlank
from scribeline.layout.frets import Floats, taper
from scribeline.layout.instrument import Layout
from scribeline.layout.neck_sections import SECTIONS, Section

HEEL_CURVE = 45.0
"""Length of the curve into the heel where it is not stated, mm (common practice, no source)."""

TEMPLATE_FRETS = (1, 5, 7, 12)
"""Frets at which the neck's back is held to a template (common practice, no source)."""

_SIDE = 96
"""Points of a section from its middle to its edge: their chords keep within some 0.003 mm of it."""

_NEAR_EDGE = 2.5
"""By this power points crowd towards the edge, where a section turns up into its side."""


def depth_between(along: Any, first_at: float, first: float, twelfth_at: float, twelfth: float) -> Any:
    """The neck's depth in the middle, mm: straight through those at the 1st and the 12th fret.

    Args:
        along: from the nut, mm.
        first_at: the 1st fret from the nut, mm.
        first: depth under the board there, mm.
        twelfth_at: the 12th fret from the nut, mm.
        twelfth: depth under the board there, mm.
    """
    return first + (twelfth - first) * (along - first_at) / (twelfth_at - first_at)


def under_board(thickness: Any, board: Any) -> Any:
    """What of the neck lies under its fingerboard, mm."""
    return thickness - board


@dataclass(frozen=True, slots=True)
class Volute:
    """A swelling of the neck's back behind the nut, mm."""

    at: float
    length: float
    height: float

    @property
    def ends(self) -> tuple[float, float]:
        """Where it begins towards the head and ends towards the heel, mm from the nut."""
        return self.at - self.length / 2, self.at + self.length / 2

    def over(self, along: Floats) -> Floats:
        """How much deeper the neck is, mm, same shape."""
        off = (along - self.at) / self.length
        return np.where(np.abs(off) < 0.5, self.height * np.cos(np.pi * off) ** 2, 0.0)


@dataclass(frozen=True, slots=True)
class Channel:
    """A channel routed in the neck's face before its board goes on, mm, in the neck's own frame.

    Attributes:
        name: what it is for, in bench words.
        key: what its keys of the job begin with.
        across: its middle from the centreline, to the treble.
        half: half its width.
        ends: from where to where along the neck from the nut.
        depth: under the glue line, in its middle.
        depth_at_ends: at its ends; the same where it is flat.
    """

    name: str
    key: str
    across: float
    half: float
    ends: tuple[float, float]
    depth: float
    depth_at_ends: float

    @property
    def is_flat(self) -> bool:
        """Whether it is as deep all along."""
        return self.depth == self.depth_at_ends

    @property
    def length(self) -> float:
        """From end to end, mm."""
        return self.ends[1] - self.ends[0]

    def bottom(self, along: ArrayLike) -> Floats:
        """Depth of its floor, mm, same shape; between its ends: a parabola, deepest half-way."""
        low, high = self.ends
        off = (2 * np.asarray(along, dtype=np.float64) - low - high) / (high - low)
        return np.asarray(self.depth - (self.depth - self.depth_at_ends) * off**2)


@dataclass(frozen=True, slots=True)
class Station:
    """A place along the neck where its section is told: for a template, a list or a gate.

    Attributes:
        id: stable name.
        name: in bench words.
        along: from the nut, mm.
        width: of the neck there, mm.
        depth: in its middle, under the board, mm.
        thickness: the same with the board, mm.
        facet_down: where the first facet meets the neck's side, from the glue line, mm.
        facet_in: where it meets the back, from the middle, mm.
    """

    id: str
    name: str
    along: float
    width: float
    depth: float
    thickness: float
    facet_down: float
    facet_in: float


@dataclass(frozen=True, slots=True)
class Carve:
    """The neck's wood under its fingerboard, in its own frame (see the module), mm.

    Attributes:
        section: the curve of its back.
        first: where the 1st fret is along the neck, and the depth there.
        twelfth: the same of the 12th.
        upright: wood left upright under the board's edge.
        curve: where the curve into the heel begins and ends.
        heel_depth: the heel's, under the board.
        board: the fingerboard's width at the nut, where it ends, and its width there.
        heel_sides: where the pocket opens and where the heel ends along the neck, each with the heel's width there.
        board_thickness: the fingerboard's.
        tenon: width of the tenon that lies in the pocket; None where the whole heel does.
        volute: None where there is none.
    """

    section: Section
    first: tuple[float, float]
    twelfth: tuple[float, float]
    upright: float
    curve: tuple[float, float]
    heel_depth: float
    board: tuple[float, float, float]
    heel_sides: tuple[tuple[float, float], tuple[float, float]]
    board_thickness: float
    tenon: float | None = None
    volute: Volute | None = None

    @property
    def mouth(self) -> float:
        """Where the neck pocket opens, mm from the nut."""
        return self.heel_sides[0][0]

    @property
    def end(self) -> float:
        """Where the heel ends, mm from the nut."""
        return self.heel_sides[1][0]

    def into_heel(self, along: ArrayLike) -> Floats:
        """Share of the way into the heel, same shape: the s of the module's formula."""
        low, high = self.curve
        t = np.clip((np.asarray(along, dtype=np.float64) - low) / (high - low), 0.0, 1.0)
        return np.asarray(t * t * (3 - 2 * t))

    def half(self, along: ArrayLike) -> Floats:
        """Half the neck's width, mm, same shape."""
        x = np.asarray(along, dtype=np.float64)
        places, widths = zip(*self.heel_sides, strict=True)
        heel = np.interp(x, places, widths)  # as wide before the pocket as at its mouth
        s = self.into_heel(x)
        return np.asarray(((1 - s) * taper(x, *self.board) + s * heel) / 2)

    def side(self, along: ArrayLike) -> Floats:
        """From the centreline to the neck's side at the glue line, mm, same shape: the tenon's in the pocket."""
        half = self.half(along)
        return half if self.tenon is None else np.where(np.asarray(along) > self.mouth, self.tenon / 2, half)

    def middle(self, along: ArrayLike) -> Floats:
        """Depth over the middle, mm, same shape."""
        s = self.into_heel(along)
        return np.asarray((1 - s) * self._carved(along) + s * self.heel_depth)

    def _carved(self, along: ArrayLike) -> Floats:
        """Depth over the middle as if there were no heel, mm."""
        x = np.asarray(along, dtype=np.float64)
        straight = depth_between(x, *self.first, *self.twelfth)
        return np.asarray(straight if self.volute is None else straight + self.volute.over(x))

    def depth(self, along: ArrayLike, across: ArrayLike) -> Floats:
        """Depth of the wood under the glue line, mm, the two broadcast; beside the neck it is that of its edge."""
        share = np.minimum(np.abs(np.asarray(across) / self.half(along)), 1.0)
        s = self.into_heel(along)
        under = self.upright + (self._carved(along) - self.upright) * self.section.depth(share)
        return np.asarray((1 - s) * under + s * self.heel_depth)

    def area(self, along: ArrayLike) -> Floats:
        """Area of the section, mm², same shape."""
        s = self.into_heel(along)
        under = self.upright + (self._carved(along) - self.upright) * self.section.area
        return np.asarray(2 * self.half(along) * ((1 - s) * under + s * self.heel_depth))

    def profile(self, along: float, points: int = _SIDE) -> Floats:
        """The section's outline from the board's one edge to its other, both at the glue line: across and depth, (n, 2), mm."""
        share = 1.0 - (1.0 - np.linspace(0.0, 1.0, points + 1)) ** _NEAR_EDGE
        across = float(self.half(along)) * np.concatenate([-share[:0:-1], share])
        deep = self.depth(along, across)
        ends = np.array([[across[0], 0.0], [across[-1], 0.0]])
        return np.concatenate([ends[:1], np.column_stack([across, deep]), ends[1:]])

    def joints(self, low: float, high: float) -> tuple[float, ...]:
        """Places from one to another between which width and depth are smooth, these two among them, mm."""
        ends = () if self.volute is None else (*self.volute.ends, self.volute.at)
        inner = (each for each in (*self.curve, *ends, self.mouth) if low < each < high)
        return tuple(sorted({low, high, *inner}))

    @property
    def thinnest(self) -> tuple[float, float]:
        """Where the neck's own wood is least deep between the nut and its heel's curve, mm from the nut, and how deep, mm."""
        places = self.joints(0.0, self.curve[0])
        deep = self.middle(places)
        at = int(deep.argmin())
        return places[at], float(deep[at])

    def is_curved(self, low: float, high: float) -> bool:
        """Whether the neck curves along itself between two neighbouring joints."""
        middle = (low + high) / 2
        swells = self.volute is not None and self.volute.ends[0] < middle < self.volute.ends[1]
        return swells or self.curve[0] < middle < self.curve[1]

    def places(self, low: float, high: float, steps: int) -> tuple[float, ...]:
        """Places along the neck that tell it by straight lines: its joints, and between two of them steps where it curves, mm."""
        joints = self.joints(low, high)
        found = [joints[0]]
        for a, b in pairwise(joints):
            found += np.linspace(a, b, (steps if self.is_curved(a, b) else 1) + 1)[1:].tolist()
        return tuple(found)

    def volume(self, low: float, high: float) -> float:
        """Wood from one place along the neck to another, its channels not taken off, mm³; Gauss's rule on each smooth piece."""
        return self._integral(low, high)[0]

    def moment(self, low: float, high: float) -> float:
        """The same wood's first moment about the nut, mm⁴."""
        return self._integral(low, high)[1]

    def _integral(self, low: float, high: float) -> tuple[float, float]:
        nodes, weights = np.polynomial.legendre.leggauss(24)
        volume = moment = 0.0
        for a, b in pairwise(self.joints(low, high)):
            x = (a + b) / 2 + (b - a) / 2 * nodes
            slices = (b - a) / 2 * weights * self.area(x)
            volume, moment = volume + float(slices.sum()), moment + float(slices @ x)
        return volume, moment

    def station(self, identity: str, name: str, along: float) -> Station:
        """The section at a place, with the facet that touches it: the line of one slope from its side to its back.

        In shares that line is across + depth = k, k being the greatest sum that the section has; a heel's curve and upright wood
        stretch depths evenly, so that the line stays one.
        """
        depth, half, s = float(self.middle(along)), float(self.half(along)), float(self.into_heel(along))
        share = np.linspace(0.0, 1.0, _FACET_NET)
        past = float((share + self.section.depth(share)).max()) - 1.0
        under = self.upright + (float(self._carved(along)) - self.upright) * past
        down = (1 - s) * under + s * self.heel_depth
        return Station(
            identity, name, along, 2 * half, depth, depth + self.board_thickness, down, half * past
        )


_FACET_NET = 4001
"""Places of a section among which the one is found that a facet touches."""


def carve_of(document: Document, layout: Layout) -> Carve | None:
    """How the job's neck is carved; None where the job does not state its blank."""
    blank, neck = document.neck_blank, document.neck
    if blank is None:
        return None
    board, mouth = neck.board_thickness.mm, neck.pocket_end - neck.pocket_length
    first, twelfth = (layout.frets[n].along for n in (0, 11))
    volute = None
    if blank.volute_height is not None and blank.volute_length is not None:
        volute = Volute(blank.volute_at, blank.volute_length, blank.volute_height)
    fingerboard = document.fingerboard
    return Carve(
        section=SECTIONS[blank.section],
        first=(first, under_board(blank.thickness_at_first.mm, board)),
        twelfth=(twelfth, under_board(blank.thickness_at_twelfth.mm, board)),
        upright=blank.upright,
        curve=heel_curve(blank, mouth),
        heel_depth=under_board(neck.heel_thickness.mm, board),
        board=(document.nut.width, fingerboard.end, fingerboard.width_at_end),
        heel_sides=(
            (mouth, neck.heel_width_at_mouth.mm),
            (neck.pocket_end, neck.heel_width_at_end.mm),
        ),
        board_thickness=board,
        tenon=None if neck.tenon_width is None else neck.tenon_width.mm,
        volute=volute,
    )


def heel_curve(blank: NeckBlank, mouth: float) -> tuple[float, float]:
    """Where the curve into the heel begins and ends, mm from the nut; up to the pocket's mouth where it is not stated."""
    high = mouth if blank.heel_to is None else blank.heel_to
    return (high - HEEL_CURVE if blank.heel_from is None else blank.heel_from), high


def stations(carve: Carve, layout: Layout) -> tuple[Station, ...]:
    """Where the neck's back is held to a template: some frets before the heel's curve, its beginning, and half-way into it."""
    low, high = carve.curve
    frets = (layout.frets[n - 1] for n in TEMPLATE_FRETS if n <= len(layout.frets))
    at_frets = [
        carve.station(f"fret-{fret.n}", f"fret {fret.n}", fret.along) for fret in frets if fret.along < low
    ]
    return (
        *at_frets,
        carve.station("heel-begins", "where the heel's curve begins", low),
        carve.station("heel-half-way", "half-way into the heel's curve", (low + high) / 2),
    )


def channels(document: Document) -> tuple[Channel, ...]:
    """The truss rod's channel and those of the bars, as far as the job states them."""
    return tuple(_channels(document))


def _channels(document: Document) -> Iterator[Channel]:
    neck, blank = document.neck, document.neck_blank
    if neck.rod_width is not None and neck.rod_depth is not None and neck.rod_to is not None:
        at_ends = neck.rod_depth if neck.rod_depth_at_ends is None else neck.rod_depth_at_ends
        span = (neck.rod_from, neck.rod_to)
        yield Channel("truss rod", "neck.rod", 0.0, neck.rod_width / 2, span, neck.rod_depth, at_ends)
    if blank is None or blank.bar_width is None or blank.bar_depth is None or blank.bar_centre is None:
        return
    assert blank.bar_from is not None
    assert blank.bar_to is not None
    for side, name in ((1, "treble bar"), (-1, "bass bar")):
        yield Channel(
            name,
            "neck_blank.bar",
            side * blank.bar_centre,
            blank.bar_width / 2,
            (blank.bar_from, blank.bar_to),
            blank.bar_depth,
            blank.bar_depth,
        )


@dataclass(frozen=True, slots=True)
class BlankNeeded:
    """The least blank that a neck is cut from, planed, mm.

    Attributes:
        length: along the neck; of one whose head is scarfed on with the piece that its head is sawn from.
        width: across.
        thickness: from the glue line to the lowest wood.
        head: how the head is in it, in bench words.
    """

    length: float
    width: float
    thickness: float
    head: str


def blank_needed(document: Document, layout: Layout, carve: Carve) -> BlankNeeded:
    """The least blank for the neck with its head."""
    begins = 0.0 if carve.volute is None or layout.head is None else min(0.0, carve.volute.at)
    x = np.linspace(begins, carve.end, 400)
    deepest = max(float(carve.middle(x).max()), carve.heel_depth)
    widest = 2 * float(carve.half(x).max())
    head, place = document.head, layout.head
    if head is None or place is None:
        return BlankNeeded(carve.end, widest, deepest, "without its head, which the job does not state")
    reach = max(-point.x for point in place.outline)
    wide = max(widest, 2 * max(abs(point.y) for point in place.outline))
    if place.scarf is not None:
        length = carve.end + reach + place.scarf.flat
        return BlankNeeded(length, wide, max(deepest, head.thickness), "with the piece for its scarfed head")
    length = carve.end + reach * cos(head.angle) + head.thickness * sin(head.angle)
    return BlankNeeded(length, wide, max(deepest, place.stock_needed), "with its head in one piece")
