"""Holes as the job states them: of one diameter, stepped, countersunk, leaning, through, or the pilots of a screw."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import count
from math import cos, degrees, sin

from scribeline.features.bits import Bit, choose_bit, countersink_bit, drill_box
from scribeline.features.cuts import DOWN, UP, Bore, Pocket, Reason, Step
from scribeline.features.passing import BREAK_OUT, past_the_wall, run_through, surface
from scribeline.features.screw_pilots import driver, screw_pilot
from scribeline.job import BitKind, Document, HoleStatement, feature_id
from scribeline.layout import HolePlace, Layout, Point, Point3
from scribeline.lengths import trimmed

HOLE_BIT_OFF = 0.5
"""A bit further than this from a stated hole is no choice at all, mm, and none further than a tenth of its size
(common practice, no source)."""


def stated_holes(document: Document, layout: Layout, pockets: tuple[Pocket, ...]) -> Iterator[Bore]:
    """Every hole of the job's list, numbered in its order."""
    number = count(1)
    by_id = {pocket.id: pocket for pocket in pockets}
    for n, (hole, place) in enumerate(zip(document.holes, layout.holes, strict=True), start=1):
        targets = tuple(by_id[feature_id(name)] for name in hole.into if feature_id(name) in by_id)
        made = _Made(document, layout, hole, f"holes[{n}]", _axis(hole, place), targets)
        for k, spot in enumerate(place.spots, start=1):
            stated = f"{made.key}.places[{k}]" if hole.places else f"{made.key}.at"
            yield replace(made.bore(f"hole-{next(number)}", spot), stated=stated)


def _axis(hole: HoleStatement, place: HolePlace) -> Point3:
    if not hole.lean:
        return DOWN if hole.face == "top" else UP
    level, down = sin(hole.lean), -cos(hole.lean) if hole.face == "top" else cos(hole.lean)
    return Point3(level * place.heading.x, level * place.heading.y, down)


@dataclass(frozen=True, slots=True)
class _Made:
    """One kind of hole, ready to be put somewhere."""

    document: Document
    layout: Layout
    hole: HoleStatement
    key: str
    axis: Point3
    targets: tuple[Pocket, ...]

    def bore(self, identity: str, spot: Point) -> Bore:
        hole, start = self.hole, surface(self.layout, self.hole.face, spot)
        steps, why = self._pilot(start) if hole.screw is not None else self._steps(start)
        if hole.countersink is not None:
            sink = countersink_bit(self.document.bits, hole.countersink.diameter, hole.countersink.angle)
            steps = (Step(hole.countersink.diameter, 0.0, sink), *steps)
            why = (
                *why,
                Reason(
                    f"countersunk to {trimmed(hole.countersink.diameter)} mm with {sink.name} at "
                    f"{degrees(hole.countersink.angle):.0f}°: {sink.point:.2f} mm deep where the whole cone is in the wood"
                ),
            )
        screw = None
        if hole.screw is not None:
            screw = driver(hole.screw, hole.screw.under_head, f"{self.key}.screw")
        return Bore(
            id=identity,
            role=hole.name,
            group=hole.name,
            face=hole.face,
            at=start,
            axis=self.axis,
            steps=steps,
            meets=frozenset(pocket.id for pocket in self.targets),
            through=hole.through,
            why=why,
            screw=screw,
        )

    def _pilot(self, start: Point3) -> tuple[tuple[Step, ...], tuple[Reason, ...]]:
        assert self.hole.screw is not None
        screw = driver(self.hole.screw, self.hole.screw.under_head, f"{self.key}.screw")
        timber = self.layout.timber_at(Point(start.x, start.y), start.z)
        step, why = screw_pilot(self.document, screw, timber)
        return (step,), why

    def _steps(self, start: Point3) -> tuple[tuple[Step, ...], tuple[Reason, ...]]:
        hole = self.hole
        stated = [(step.diameter, step.depth) for step in hole.steps]
        if hole.diameter is not None:
            stated = [(hole.diameter, hole.depth)]
        steps: list[Step] = []
        why: list[Reason] = []
        for n, (diameter, depth) in enumerate(stated):
            last = n == len(stated) - 1
            bit = self._bit(diameter, depth, last=last)
            deep = depth
            if deep is None:
                run = run_through(self.layout, start, self.axis, bit.diameter / 2, self._roofs())
                deep = past_the_wall(run, BREAK_OUT)
                why.append(
                    Reason(
                        f"right through: the full diameter is out after {run:.2f} mm and goes {BREAK_OUT:g} mm further"
                    )
                )
            steps.append(Step(bit.diameter, deep, bit))
            what = "hole" if last else "counterbore"
            why.append(
                Reason(
                    f"{what} of {trimmed(diameter)} mm, as stated; nearest bit: {bit.name} "
                    f"({bit.diameter - diameter:+.2f} mm), {deep:.2f} mm at full diameter"
                    if bit.owned
                    else f"{what} of {trimmed(diameter)} mm, as stated: the box has no bit for it; get {bit.name}"
                )
            )
        return tuple(steps), tuple(why)

    def _roofs(self) -> tuple[Pocket, ...]:
        return tuple(pocket for pocket in self.targets if pocket.face != self.hole.face)

    def _bit(self, diameter: float, depth: float | None, *, last: bool) -> Bit:
        flat: tuple[BitKind, ...] = ("flat-bottomed", "brad-point")
        through: tuple[BitKind, ...] = ("brad-point", "twist", "flat-bottomed")
        off = min(HOLE_BIT_OFF, diameter / 10)
        return choose_bit(
            drill_box(self.document.bits),
            diameter,
            through if last else flat,
            at_least=diameter - off,
            at_most=diameter + off,
            reach=self.layout.thickness if depth is None else depth,
            point_angle_rad=self.document.bits.point_angle,
        )
