"""The fingerboard that is made here, from the front at full size: its edges, slots, dots, and every slot's distance from the nut.

x runs along the neck from where the centreline crosses the nut's front; up the page is the treble side of a right-handed board.
"""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.drawing.fitted import bounded
from scribeline.drawing.sheet import (
    CENTRE,
    CUT,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    THIN,
    Circle,
    Item,
    Layer,
    Line,
    Path,
    Point,
    Sheet,
    Text,
)
from scribeline.layout import BoardMade, board_made, neck_lie
from scribeline.lengths import in_unit, said
from scribeline.plan import Plan

_WIDTH = 0.25
_BELOW = 3.0
"""From the board's edge to the lettering beside it, mm."""


class _Drawn:
    """The board's marks, in the frame above."""

    def __init__(self, plan: Plan, made: BoardMade) -> None:
        self.plan, self.made = plan, made
        self.lie = neck_lie(plan.job.document)
        self.slots: list[tuple[int, Point, Point]] = [
            (slot.fret, self.at(*slot.ends[0]), self.at(*slot.ends[1])) for slot in made.slots
        ]

    def at(self, x: float, y: float) -> Point:
        """A place of the instrument along the neck."""
        return float(self.lie.along(x)), y

    @property
    def edge(self) -> tuple[Point, ...]:
        """The board's outline: aslant at the nut of a fan, and at its end where the job wants it so."""
        return self._ring(self.made.edges)

    @property
    def blank(self) -> tuple[Point, ...]:
        """The blank's outline, inside the binding."""
        return self._ring(self.made.inside)

    def _ring(self, edges: tuple[tuple[tuple[float, float], ...], ...]) -> tuple[Point, ...]:
        treble, bass = ([self.at(*end) for end in edge] for edge in edges)
        return (*treble, *reversed(bass))

    def dots(self, layer: Layer) -> Iterator[Item]:
        """The dots."""
        for fret, place in self.made.dots:
            yield Circle(layer, self.at(*place), self.made.dot_diameter / 2, f"dot-{fret}")

    def side_dots(self, size: float) -> Iterator[Item]:
        """Where the side dots are let into the bass edge: a line across it, as long as a dot is wide."""
        for fret, place in self.made.side_dots:
            x, y = self.at(*place)
            yield Line(THIN, (x, y - size / 2), (x, y + size / 2), f"side-dot-{fret}")


def strip_items(plan: Plan) -> tuple[Item, ...]:
    """The board's full-length strip for a template; nothing where the board is not made here."""
    made = board_made(plan.job.document, plan.layout)
    if made is None:
        return ()
    drawn = _Drawn(plan, made)
    end = plan.job.document.fingerboard.end
    items: list[Item] = [
        Path(OUTLINE, drawn.edge, closed=True, ref="fingerboard"),
        Line(CENTRE, (-8.0, 0.0), (end + 8.0, 0.0), "centreline"),
        *drawn.dots(THIN),
        *drawn.side_dots(plan.job.document.fingerboard.side_dot or 0.0),
    ]
    if made.binding:
        items.append(Path(THIN, drawn.blank, closed=True, ref="binding"))
    low = min(y for _, y in drawn.edge) - _BELOW
    for n, one, other in drawn.slots:
        items.append(Line(CUT, one, other, f"fret-{n}"))
        foot = min((one, other), key=lambda place: place[1])
        words = in_unit(f"{n}: {said(plan.layout.frets[n - 1].along if n else 0.0)}", plan.unit)
        items.append(Line(THIN, foot, (foot[0], low), f"fret-{n}"))
        items.append(
            Text(LETTERING, (foot[0] + LEAST_LETTERING / 2, low - 1.0), words, LEAST_LETTERING, "end", 90.0)
        )
    return tuple(items)


def board_sheet(plan: Plan) -> Sheet | None:
    """The board as a drawing for other programs: its edge, slots as lines and as kerfs, dots; None where it is not made here."""
    made = board_made(plan.job.document, plan.layout)
    if made is None:
        return None
    drawn, document = _Drawn(plan, made), plan.job.document
    lines = Layer(
        "fret slots",
        _WIDTH,
        colour=1,
        description=f"middles of the slots, {made.depth:.2f} deep in the flat blank",
    )
    kerfs = Layer("fret kerfs", _WIDTH, colour=3, description="the slots as wide as the saw cuts them")
    items: list[Item] = [
        Path(Layer("fingerboard", _WIDTH), drawn.edge, closed=True, ref="fingerboard"),
        Line(Layer("centreline", _WIDTH, "chain"), (0.0, 0.0), (document.fingerboard.end, 0.0), "centreline"),
        *drawn.dots(Layer("dots", _WIDTH, colour=5, description="inlaid dots")),
    ]
    if made.binding:
        inside = Layer("fingerboard blank", _WIDTH, colour=8, description="the blank, inside the binding")
        items.append(Path(inside, drawn.blank, closed=True, ref="binding"))
    for n, one, other in drawn.slots:
        items.append(Line(lines, one, other, f"fret-{n}"))
        items.append(Path(kerfs, _kerf(one, other, document.fret_wire.slot), closed=True, ref=f"fret-{n}"))
    return bounded(f"{document.name} fingerboard", items)


def _kerf(one: Point, other: Point, width: float) -> tuple[Point, ...]:
    """A slot as wide as the saw cuts it."""
    dx, dy = other[0] - one[0], other[1] - one[1]
    half = width / 2 / (dx * dx + dy * dy) ** 0.5
    u, v = -dy * half, dx * half
    return (
        (one[0] + u, one[1] + v),
        (other[0] + u, other[1] + v),
        (other[0] - u, other[1] - v),
        (one[0] - u, one[1] - v),
    )
