"""The nut that is made here, at full size: from above with its slots, from the heel, and every slot cut along its string.

In the strip's frame x runs along the nut's front from its bass end, to the right on an instrument for the right hand and to the
left on one for the left, so that paper and nut lie alike. From above, the head is up the page; from the heel, the strings are.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, degrees, hypot, sin

from scribeline.drawing.fitted import bounded
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CUT,
    HIDDEN,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    THIN,
    Item,
    Layer,
    Line,
    Path,
    Point,
    Sheet,
    Text,
)
from scribeline.layout import NutMade, NutSlot, nut_made
from scribeline.lengths import by_inches, decimals, own_unit
from scribeline.plan import Plan

_WIDTH = 0.25
_BETWEEN = 6.5
"""White between two of its pictures, mm."""
_PITCH = 26.0
"""Between two cuts along a string, which have a few lines of lettering under them, mm."""
_ROOM = 25.0
"""For the lettering under the picture from above, mm."""
_CROSSES, _ARM = -100.0, 5.0
"""A row of that grid's crosses, and how far they reach with their lettering, mm."""
_FRONT = -17.0
"""The front on the template, where no cross of its grid lies, mm."""
_LINE = 1.36 * LEAST_LETTERING


class _Strip:
    """The nut's marks, in the frame above."""

    def __init__(self, plan: Plan, made: NutMade) -> None:
        self.plan, self.made, self.hand = plan, made, plan.layout.treble
        self.cos, self.sin = cos(made.turn), sin(made.turn)
        self.zero = made.front[1]

    def at(self, along: float, across: float) -> Point:
        """A place of the neck, seen from above."""
        u, v = along - self.zero[0], across - self.zero[1]
        turn = self.sin * self.hand
        return (v * self.cos + u * turn, v * turn - u * self.cos)

    def foot(self, slot: NutSlot) -> float:
        """A slot's middle along the front."""
        return self.hand * slot.along

    @property
    def outline(self) -> tuple[Point, ...]:
        """The nut from above, its ends mitred along the neck."""
        (a, b), (c, d) = self.made.front, self.made.behind
        return self.at(*a), self.at(*b), self.at(*d), self.at(*c)

    def sides(self, slot: NutSlot) -> tuple[Point, Point, Point, Point]:
        """A slot from above, as wide as it is cut, square to its string."""
        (x, y), (u, v) = self.at(*slot.front), self.at(*slot.behind)
        long = ((u - x) ** 2 + (v - y) ** 2) ** 0.5
        i, j = (v - y) / long * slot.width / 2, -(u - x) / long * slot.width / 2
        return (x - i, y - j), (x + i, y + j), (u + i, v + j), (u - i, v - j)

    def face(self, low: float) -> Iterator[Item]:
        """The nut from the heel, its underside at a level: the blank, its finished top through the slots, every slot."""
        made = self.made
        left, right = sorted((0.0, self.hand * made.length))
        blank = ((left, low), (right, low), (right, low + made.height), (left, low + made.height))
        yield Path(HIDDEN, blank, closed=True, ref="nut-blank")
        ordered = sorted(made.slots, key=self.foot)
        top = [(self.foot(slot), low + slot.floor + slot.from_top) for slot in ordered]
        ends = ((left, top[0][1]), *top, (right, top[-1][1]))
        yield Path(OUTLINE, ((left, low), *ends, (right, low)), closed=True, ref="nut-face")
        for slot in ordered:
            # On a nut that leans the slot's mouth is wider along the front than square to its string.
            half = slot.width / 2 / self.cos
            x, floor, reach = self.foot(slot), low + slot.floor, low + made.height
            yield Path(
                CUT,
                ((x - half, reach), (x - half, floor), (x + half, floor), (x + half, reach)),
                ref=_ref(slot),
            )

    def cut_along(self, slot: NutSlot, corner: Point) -> Iterator[Item]:
        """The nut cut along a string: its front at the left, the floor falling towards the head."""
        x, low = corner
        made = self.made
        thick = hypot(slot.behind.x - slot.front.x, slot.behind.y - slot.front.y)
        back = slot.floor if slot.back is None else slot.back
        top = low + slot.floor + slot.from_top
        yield Path(
            HIDDEN, ((x, top), (x, low + made.height), (x + thick, low + made.height), (x + thick, top))
        )
        yield Path(
            OUTLINE,
            ((x, low), (x + thick, low), (x + thick, low + back), (x, low + slot.floor)),
            closed=True,
            ref=f"cut-{slot.string}",
        )
        yield Line(CUT, (x, low + slot.floor), (x + thick, low + back), f"floor-{slot.string}")
        yield Line(THIN, (x, top), (x + thick, top), f"top-{slot.string}")
        words = [
            f"string {slot.string}",
            *self._in_words("wide", slot.width),
            *self._in_words("floor", slot.floor),
            *([] if slot.slope is None else [f"falls {degrees(slot.slope):.1f}°"]),
        ]
        for no, each in enumerate(words, start=1):
            yield Text(LETTERING, (x, low - 1.0 - no * _LINE), each, LEAST_LETTERING)

    def _in_words(self, what: str, mm: float) -> tuple[str, ...]:
        """A length under a cut: in an inch shop with its millimetres on a line of their own."""
        unit = self.plan.unit
        both = decimals(mm, unit)
        return (f"{what} {both[0]}", *([f"({both[1]})"] if by_inches(unit) else []))


def _ref(slot: NutSlot) -> str:
    return f"nut-slot-{slot.string}"


def nut_items(plan: Plan) -> tuple[Item, ...]:
    """The nut's strip for a template; nothing where the nut is not made here."""
    made = nut_made(plan.job.document, plan.layout)
    if made is None:
        return ()
    drawn = _Strip(plan, made)
    items: list[Item] = [Path(OUTLINE, drawn.outline, closed=True, ref="nut")]
    low = min(0.0, *(y for _, y in drawn.outline))
    for slot in made.slots:
        items.append(Line(CUT, drawn.at(*slot.front), drawn.at(*slot.behind), _ref(slot)))
        foot = drawn.at(*slot.front)
        items.append(Line(THIN, (foot[0], min(foot[1], 0.0)), (foot[0], low - 2.0), _ref(slot)))
        words = f"{slot.string}: {own_unit(slot.along, plan.unit)}"
        items.append(
            Text(LETTERING, (foot[0] + LEAST_LETTERING / 2, low - 3.0), words, LEAST_LETTERING, "end", 90.0)
        )
    high = max(y for _, y in drawn.outline)
    seen = "From above, the head up the page: slots' middles along the front, from the bass end"
    left = min(0.0, drawn.hand * made.length)
    items.append(Text(LETTERING, (left, high + 2.0), seen, ACTED_ON_LETTERING))
    level = low - _ROOM - made.height - _BETWEEN
    items += drawn.face(level)
    seen = "From the heel: the slots' floors at the front; dashed: the blank"
    items.append(Text(LETTERING, (left, level + made.height + 2.0), seen, ACTED_ON_LETTERING))
    level = _clear_of_crosses(plan, made, level - made.height - 1.7 * _BETWEEN)
    for no, slot in enumerate(sorted(made.slots, key=drawn.foot)):
        items += drawn.cut_along(slot, (left + no * _PITCH, level))
    seen = "Cut along each string, its front to the left; floors over the underside"
    items.append(Text(LETTERING, (left, level + made.height + 2.0), seen, ACTED_ON_LETTERING))
    return placed(items, Transform(offset=(0.0, _FRONT)))


_LARGEST = 3.0
"""How much larger than it is the nut is shown on its card, at the most."""
_NUMBERED = 9.0
"""Over the nut's picture on a card, for the strings' numbers, mm."""


def _clear_of_crosses(plan: Plan, made: NutMade, level: float) -> float:
    """Where the cuts along the strings stand, so that no cross of the template's grid meets what is lettered under them."""
    lines = 6 if by_inches(plan.unit) else 4
    if level + _FRONT - 1.0 - lines * _LINE > _CROSSES + _ARM:
        return level
    return _CROSSES - _ARM - _FRONT - made.height - 6.0


def nut_face_height(plan: Plan, width: float) -> float:
    """Height of the nut's picture on a card so wide, mm."""
    made = nut_made(plan.job.document, plan.layout)
    assert made is not None
    return made.height * _enlarged(made, width) + _NUMBERED + 7.0


def _enlarged(made: NutMade, width: float) -> float:
    return min(_LARGEST, (width - 2.0) / made.length)


def nut_face(plan: Plan, corner: Point, width: float) -> tuple[Item, ...]:
    """The nut from the heel, enlarged: its blank, its top, its slots with their strings' numbers; from a corner down."""
    made = nut_made(plan.job.document, plan.layout)
    assert made is not None
    drawn, scale = _Strip(plan, made), _enlarged(made, width)
    left = min(0.0, drawn.hand * made.length)
    low = corner[1] - _NUMBERED - made.height * scale
    at = Transform(scale=scale, offset=(corner[0] + 1.0 - left * scale, low))
    items = list(placed(drawn.face(0.0), at))
    for slot in made.slots:
        x, y = at.point((drawn.foot(slot), made.height))
        items.append(Line(THIN, (x, y + 0.8), (x, y + 3.2)))
        items.append(Text(LETTERING, (x, y + 4.0), str(slot.string), ACTED_ON_LETTERING, "middle"))
    words = "From the heel, enlarged; dashed: the blank"
    items.append(Text(LETTERING, (corner[0], low - 6.0), words, ACTED_ON_LETTERING))
    return tuple(items)


def nut_sheet(plan: Plan) -> Sheet | None:
    """The nut as a drawing for other programs: from above and, below that, from the heel; None where it is not made here."""
    made = nut_made(plan.job.document, plan.layout)
    if made is None:
        return None
    drawn = _Strip(plan, made)
    lines = Layer("nut slots", _WIDTH, colour=1, description="middles of the slots, from above")
    kerfs = Layer("nut kerfs", _WIDTH, colour=3, description="the slots as wide as they are cut, from above")
    items: list[Item] = [Path(Layer("nut", _WIDTH), drawn.outline, closed=True, ref="nut")]
    for slot in made.slots:
        items.append(Line(lines, drawn.at(*slot.front), drawn.at(*slot.behind), _ref(slot)))
        items.append(Path(kerfs, drawn.sides(slot), closed=True, ref=_ref(slot)))
    names = {
        "hidden": Layer("nut blank", _WIDTH, "dashed", colour=8, description="the blank, from the heel"),
        "outline": Layer("nut face", _WIDTH, description="the finished nut, from the heel"),
        "cut": Layer("nut floors", _WIDTH, colour=5, description="the slots at the front, from the heel"),
    }
    for item in drawn.face(min(y for _, y in drawn.outline) - _BETWEEN - made.height):
        assert isinstance(item, Path)
        items.append(Path(names[item.layer.name], item.points, closed=item.closed, ref=item.ref))
    return bounded(f"{plan.job.document.name} nut", items)
