"""Places in the instrument frame, and the one place where a left-handed instrument is mirrored."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple, TypeVar


class Point(NamedTuple):
    """A place on the instrument seen from above: x towards the bridge, y across, mm."""

    x: float
    y: float


class Point3(NamedTuple):
    """A place in space: z up out of the top, 0 on the top face at the bridge, mm."""

    x: float
    y: float
    z: float


class Ring(tuple[Point, ...]):
    """A closed outline, counter-clockwise, the first point not repeated."""

    def __hash__(self) -> int:
        """As of any tuple, worked out once: what is remembered of a long outline is looked up by it all the time."""
        return self._hash

    @cached_property
    def _hash(self) -> int:
        return super().__hash__()


T = TypeVar("T")


def mirrored(value: T) -> T:
    """The same layout for the other hand: every y changes sign, everything else stays.

    Walks frozen dataclasses and tuples. A layout holds its coordinates only as `Point`, `Point3` and `Ring`,
    so nothing else needs to know about hands.
    """
    turned: T = _mirrored(value)
    return turned


def _mirrored(value: Any) -> Any:
    if isinstance(value, Point):
        return Point(value.x, -value.y)
    if isinstance(value, Point3):
        return Point3(value.x, -value.y, value.z)
    if isinstance(value, Ring):
        return Ring(_mirrored(point) for point in reversed(value))
    if isinstance(value, tuple) and not hasattr(value, "_fields"):
        return tuple(_mirrored(item) for item in value)
    if is_dataclass(value) and type(value).__module__.startswith(__package__) and not isinstance(value, type):
        return replace(value, **{f.name: _mirrored(getattr(value, f.name)) for f in fields(value) if f.init})
    return value
