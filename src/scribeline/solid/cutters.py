"""The room each cut takes, as solids of the simplest kinds: round ones on an axis, and upright prisms.

One description for every kernel: the mesh is made from it, and so is the STEP file, so that neither can cut
something else than the other. A cut that starts on a face is carried on into the air before it, so that no
skin is left there.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from scribeline.features import Bore, Feature, Pocket
from scribeline.layout import BodyForm, Point3, Ring
from scribeline.solid.faults import check_depth

GRAZING = 0.02
"""Sine of the angle to a face below which a bore is said to run along it."""

AIR = 1.0
"""How far a cut is carried on outside its face, mm: enough for no skin to be left, and nothing but air."""


@dataclass(frozen=True, slots=True)
class Round:
    """A cylinder, a cone or a piece of one.

    Attributes:
        start: where its axis begins, mm.
        axis: unit vector along it.
        length: along the axis, mm, over 0.
        radius: at the start, mm, over 0.
        end_radius: at the end, mm; 0 makes it a cone with a tip.
    """

    start: Point3
    axis: Point3
    length: float
    radius: float
    end_radius: float


@dataclass(frozen=True, slots=True)
class Prism:
    """An outline carried straight up from one height to another, mm, without the islands in it.

    Attributes:
        outline: seen from above.
        low: of its floor, where that is lowest.
        high: of its upper end.
        islands: seen from above.
        rise: how far its floor rises for each mm towards the tail, mm.
    """

    outline: Ring
    low: float
    high: float
    islands: tuple[Ring, ...] = ()
    rise: float = 0.0

    @property
    def foot(self) -> float:
        """Where along the instrument its floor is lowest, mm."""
        xs = [place.x for place in self.outline]
        return min(xs) if self.rise > 0 else max(xs)


Cutter = Round | Prism


def cutters(feature: Feature, thickness: float, form: BodyForm | None = None) -> tuple[Cutter, ...]:
    """The solids that one cut takes out of the body, together; they may overlap one another.

    Args:
        feature: a bore: each step's cylinder to its full-diameter depth and its bit's point beyond it; or a
            pocket: its outline as the router leaves it, down to a flat floor, which may lean.
        thickness: of the body, mm; the back is at z = −thickness.
        form: what the body is carved to, which says how far a cut must be carried on to be out of the wood.

    Raises:
        BodyError: a depth is no depth.
    """
    check_depth(feature)
    if isinstance(feature, Pocket):
        return (_pocket(feature, thickness, 0.0 if form is None else form.highest),)
    return tuple(_bore(feature, form))


def _pocket(pocket: Pocket, thickness: float, highest: float) -> Prism:
    if pocket.face == "top":
        rise = 0.0 if pocket.slope is None else pocket.slope.rise
        return Prism(pocket.outline, -max(pocket.depths), highest + AIR, pocket.islands, rise)
    return Prism(pocket.outline, -thickness - AIR, pocket.depth - thickness, pocket.islands)


def _bore(bore: Bore, form: BodyForm | None) -> list[Cutter]:
    parts: list[Cutter] = []
    for step in bore.steps:
        radius = step.diameter / 2
        back = _into_the_air(bore, radius) + _off_the_slope(bore, radius, form)
        parts.append(Round(bore.along(-back), bore.axis, step.depth + back, radius, radius))
        base = step.point_width / 2
        if step.bit.point > 0:
            parts.append(Round(bore.along(step.depth), bore.axis, step.bit.point, base, 0.0))
    return parts


def _into_the_air(bore: Bore, radius: float) -> float:
    """How far back along its axis a cylinder must begin to be wholly outside the surface it enters at a slant."""
    sine = bore.angle_from_face_sine
    if (
        sine < GRAZING
    ):  # along the face it never leaves: from where its rim first touches, as clearances count it
        return AIR + bore.lead + radius
    return AIR + bore.lead + radius * sqrt(1 - min(1.0, sine) ** 2) / sine


def _off_the_slope(bore: Bore, radius: float, form: BodyForm | None) -> float:
    """How much further back a cylinder must begin where the face it enters is carved, mm."""
    if form is None or form.is_plain or bore.face not in {"top", "back"}:
        return 0.0
    if bore.is_upright:
        return max(0.0, form.highest - bore.at.z if bore.face == "top" else bore.at.z + form.thickness)
    return 2 * radius
