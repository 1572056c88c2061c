"""A cut through the body along a line that was dragged over its drawing, or typed: read from the page's address, drawn, told."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from scribeline.drawing import svg
from scribeline.drawing.cut_through import SHORTEST, CutLine, Met, Through, cut_through, plane_marks
from scribeline.drawing.extent import covered
from scribeline.drawing.sheet import Item, Sheet
from scribeline.layout import Point
from scribeline.lengths import JobUnit, LengthError, read_length
from scribeline.plan import Plan
from scribeline.web.drawings import SCALE, SIDE_SCALE, element
from scribeline.web.frame import as_typed
from scribeline.web.numbers import name_of
from scribeline.web.placing import Face

if TYPE_CHECKING:
    from collections.abc import Iterable

ENDS = ("ax", "ay", "bx", "by")
"""What the address holds: each end's place from the nut, and across from the centreline to the treble."""
_SAID = {
    "ax": "the first end from the nut",
    "ay": "the first end to the treble",
    "bx": "the second end from the nut",
    "by": "the second end to the treble",
}
_MARGIN = 3.0
_WIDE, _NARROW = 165.0, 86.0
"""How wide the wood of a section is drawn at most, mm on the paper that a screen stands in for: where it fills an upright
tablet, and a phone, lettering of 3.5 mm is then as large as a screen's least, and lies as it was laid out."""
FURTHEST = 5000.0
"""No end lies further from the nut or the centreline, mm."""
_PAST = 12.0
"""A line that was not drawn yet lies so far past the body on either side, mm."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A line as an address asks for it.

    Attributes:
        typed: each number as it was typed; empty where nothing was.
        line: which; None where nothing was asked for, or what was cannot be read.
        wrong: why it cannot be read; "" where it can.
        last: which number that is about; "" where it is about both ends.
    """

    typed: Mapping[str, str]
    line: CutLine | None = None
    wrong: str = ""
    last: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A cut that a line goes over, for a table."""

    met: Met
    name: str

    @property
    def remains(self) -> float | None:
        """The wood that remains beneath a cut that goes straight in from a face."""
        return self.met.under if self.met.face == "top" else self.met.over


@dataclass(frozen=True, slots=True)
class Shown:
    """What a page shows of a line: None of everything where it misses the body."""

    through: Through
    drawing: str
    narrow: str
    rows: tuple[Row, ...]


def asked(typed: Mapping[str, str], units: JobUnit, treble: int) -> Asked:
    """The line that an address asks for.

    Args:
        typed: by the names of `ENDS`.
        units: of the job, for bare numbers.
        treble: which sign the treble side has.
    """
    if not any(typed.values()):
        return Asked(typed)
    found: list[float] = []
    for key in ENDS:
        if not typed[key].strip():
            return Asked(
                typed, wrong=f"{_SAID[key]}: nothing is typed; both ends need both numbers", last=key
            )
        try:
            mm = read_length(typed[key], unit=units).mm
        except LengthError as fault:
            return Asked(typed, wrong=f"{_SAID[key]}: {fault}", last=key)
        if not abs(mm) <= FURTHEST:
            return Asked(
                typed, wrong=f"{_SAID[key]}: that is further off than any body; at most 5 m", last=key
            )
        found.append(mm)
    ax, ay, bx, by = found
    line = CutLine(Point(ax, ay * treble), Point(bx, by * treble))
    if line.length < SHORTEST:
        return Asked(typed, wrong="both ends lie in one place; put the second one elsewhere")
    return Asked(typed, line)


def shown(plan: Plan, line: CutLine) -> Shown | None:
    """The section along a line, as SVG and as rows of a table; None where the line misses the body."""
    through = cut_through(plan, line, SIDE_SCALE, wide=_WIDE, narrow=_NARROW)
    if through is None:
        return None
    names = {each.id: name_of(each) for each in plan.features}
    rows = tuple(Row(each, names[each.id]) for each in through.met)
    title = f"{plan.job.document.name}, section A\N{EN DASH}A"
    return Shown(through, element(through.items, title), element(through.narrow, title), rows)


def on_plan(drawing: str, through: Through, face: Face) -> str:
    """A drawing of the plan with the cutting plane marked on it; its lettering is placed before any other."""
    corner = re.search(r'data-corner="(\S+) (\S+)"', drawing)
    box = re.search(r'viewBox="0 0 (\S+) (\S+)"', drawing)
    if corner is None or box is None:
        return drawing
    (left, top), (width, height) = map(float, corner.groups()), map(float, box.groups())
    marks: tuple[Item, ...] = plane_marks(through, face, SCALE)
    text = svg.write(Sheet("plane", width, height, marks, origin=(left, top - height))).decode()
    inner = text[text.index("</title>") + len("</title>") : text.rindex("</svg>")]
    inner = re.sub(r' id="[^"]*"', "", inner).strip()
    # Marks that lie past the drawing's own edge are taken in.
    a, b, c, d = covered(marks)
    x, y = min(0.0, a - left - _MARGIN), min(0.0, top - d - _MARGIN)
    right, low = max(width, c - left + _MARGIN), max(height, top - b + _MARGIN)
    wider = drawing.replace(box[0], f'viewBox="{x:.4f} {y:.4f} {right - x:.4f} {low - y:.4f}"', 1)
    return wider.replace("</title>", f'</title>\n<g class="plane">{inner}</g>', 1)


def for_screen(plan: Plan, ask: Asked, units: JobUnit) -> dict[str, Any]:
    """What the page's script draws a line with: where the line is, or where a first one may be."""
    line = ask.line or _first(plan.layout.outline)
    treble = plan.layout.treble
    ends = [line.start.x, line.start.y, line.end.x, line.end.y]
    typed = [as_typed(mm, units) for mm in (ends[0], ends[1] * treble, ends[2], ends[3] * treble)]
    return {
        "is_asked": ask.line is not None,
        "ends": [round(each, 4) for each in ends],
        "typed": dict(zip(ENDS, typed, strict=True)),
    }


def _first(outline: Iterable[Point]) -> CutLine:
    """Straight across the body's middle."""
    xs, ys = zip(*outline, strict=True)
    middle = round((min(xs) + max(xs)) / 2)
    return CutLine(Point(middle, max(ys) + _PAST), Point(middle, min(ys) - _PAST))
