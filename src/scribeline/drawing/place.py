"""Moving marks about: scale, mirror, turn and shift."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from typing import Any

from scribeline.drawing.sheet import (
    Along,
    Arc,
    Circle,
    Clip,
    Compound,
    Dimension,
    Fill,
    Hatch,
    Item,
    Line,
    Path,
    Point,
    RoundDimension,
    Text,
)


@dataclass(frozen=True, slots=True)
class Transform:
    """Mirror, then scale, then turn, then shift.

    Attributes:
        scale: Same in x and y, above 0 (a print correction belongs to the sheet, not here).
        mirror: "x" turns x into -x (a plan seen from the back), "y" turns y into -y, "" leaves it.
        rotation_deg: Counter-clockwise.
        offset: Added last, mm.
    """

    scale: float = 1.0
    mirror: str = ""
    rotation_deg: float = 0.0
    offset: Point = (0.0, 0.0)

    def __post_init__(self) -> None:
        if not (math.isfinite(self.scale) and self.scale > 0):
            raise ValueError(f"A drawing scale must be above 0, not {self.scale}.")
        if self.mirror not in {"", "x", "y"}:
            raise ValueError(f'A drawing is mirrored in "x" or "y" or not at all, not in {self.mirror!r}.')

    def point(self, p: Point) -> Point:
        """Where `p` goes."""
        x, y = p
        x = -x if self.mirror == "x" else x
        y = -y if self.mirror == "y" else y
        x, y = x * self.scale, y * self.scale
        cos, sin = unit(self.rotation_deg)
        return (x * cos - y * sin + self.offset[0], x * sin + y * cos + self.offset[1])

    def angle_deg(self, angle_deg: float) -> float:
        """Where a direction goes, degrees from the x axis."""
        if self.mirror == "x":
            angle_deg = 180.0 - angle_deg
        elif self.mirror == "y":
            angle_deg = -angle_deg
        return angle_deg + self.rotation_deg


def placed(items: Iterable[Item], transform: Transform, *, scale_text: bool = False) -> tuple[Item, ...]:
    """The marks moved by `transform`.

    Lettering never mirrors: it is turned with the drawing, kept readable from below or from the right, and
    keeps its height unless `scale_text`. Dimension values stay as they were written.

    Raises:
        ValueError: A dimension along x or y turned by something else than quarter turns.
    """
    return tuple(_placed(item, transform, transform.scale if scale_text else 1.0) for item in items)


def _placed(item: Item, t: Transform, text_scale: float) -> Item:
    moved: Item
    match item:
        case Line():
            moved = replace(item, a=t.point(item.a), b=t.point(item.b))
        case Circle():
            moved = replace(item, centre=t.point(item.centre), radius=item.radius * t.scale)
        case Arc():
            moved = _placed_arc(item, t)
        case Path():
            moved = replace(item, points=tuple(map(t.point, item.points)))
        case Text():
            moved = _placed_text(item, t, text_scale)
        case Dimension():
            moved = replace(
                item,
                a=t.point(item.a),
                b=t.point(item.b),
                at=t.point(item.at),
                along=_turned(item.along, t.rotation_deg),
                height=item.height * text_scale,
            )
        case RoundDimension():
            moved = replace(
                item,
                centre=t.point(item.centre),
                radius=item.radius * t.scale,
                angle_deg=t.angle_deg(item.angle_deg),
                height=item.height * text_scale,
                reach=item.reach * text_scale,
            )
        case Compound():
            points: dict[str, Any] = {
                each.name: t.point(getattr(item, each.name)) for each in fields(item) if each.type == Point
            }
            moved = replace(item, **points, height=item.height * text_scale)
        case Hatch():
            moved = replace(
                item,
                loops=tuple(tuple(map(t.point, loop)) for loop in item.loops),
                angle_deg=t.angle_deg(item.angle_deg),
            )
        case Fill():
            moved = replace(item, loops=tuple(tuple(map(t.point, loop)) for loop in item.loops))
        case Clip():
            moved = _placed_clip(item, t, text_scale)
    return moved


def _placed_arc(arc: Arc, t: Transform) -> Arc:
    start, end = t.angle_deg(arc.start_deg), t.angle_deg(arc.end_deg)
    if t.mirror:
        start, end = end, start
    return replace(arc, centre=t.point(arc.centre), radius=arc.radius * t.scale, start_deg=start, end_deg=end)


def _placed_text(text: Text, t: Transform, text_scale: float) -> Text:
    """Text turned with the drawing, but never upside down or in mirror writing.

    A direction that now reads from the left or the top is turned by half a turn, and the anchor with it, so
    that the text still covers the same stretch of the drawing.
    """
    direction = t.angle_deg(text.rotation_deg)
    flipped = not reads_well(direction)
    anchor = text.anchor
    if flipped:
        direction += 180.0
        anchor = {"start": "end", "middle": "middle", "end": "start"}[anchor]  # type: ignore[assignment]  # mapping keeps the literals
    at = t.point(text.at)
    height = text.height * text_scale
    if flipped != bool(t.mirror):
        # The letters now stand on the other side of their base line: move the base line so that they
        # still cover the same ground.
        cos, sin = unit(direction)
        at = (at[0] + height * sin, at[1] - height * cos)
    return replace(text, at=at, anchor=anchor, height=height, rotation_deg=wrapped(direction))


def _placed_clip(clip: Clip, t: Transform, text_scale: float) -> Clip:
    if not math.isclose(t.rotation_deg % 90.0, 0.0, abs_tol=1e-9):
        raise ValueError("A clipped drawing can only be turned by quarter turns.")
    left, bottom, right, top = clip.window
    (x0, y0), (x1, y1) = t.point((left, bottom)), t.point((right, top))
    window = (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
    return Clip(window, tuple(_placed(inner, t, text_scale) for inner in clip.items))


def _turned(along: Along, rotation_deg: float) -> Along:
    if along == "aligned":
        return along
    quarters = rotation_deg / 90.0
    if not math.isclose(quarters, round(quarters), abs_tol=1e-9):
        raise ValueError("A dimension along x or y can only be turned by quarter turns; make it aligned.")
    if round(quarters) % 2 == 0:
        return along
    return "y" if along == "x" else "x"


def reads_well(direction_deg: float) -> bool:
    """Whether text in this direction reads from the bottom or from the right (ISO 129-1)."""
    return -90.0 + 1e-9 < wrapped(direction_deg) <= 90.0 + 1e-9


def readable(direction_deg: float) -> float:
    """The same direction or its opposite, whichever reads from the bottom or from the right."""
    turned = direction_deg if reads_well(direction_deg) else direction_deg + 180.0
    return wrapped(turned)


def wrapped(angle_deg: float) -> float:
    """The angle in (-180, 180]."""
    wrapped = math.remainder(angle_deg, 360.0)
    return 180.0 if wrapped == -180.0 else wrapped


def unit(angle_deg: float) -> Point:
    """Cosine and sine, exact at quarter turns so that a turned drawing stays on its grid."""
    quarters = angle_deg / 90.0
    if quarters == round(quarters):
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[round(quarters) % 4]
    angle = math.radians(angle_deg)
    return math.cos(angle), math.sin(angle)
