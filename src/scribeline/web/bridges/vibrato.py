"""The vibrato on posts: its letters, and the picture that it shares with the one on screws."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from scribeline.drawing.sheet import (
    CENTRE,
    CUT,
    HATCHING,
    HIDDEN,
    LETTERING,
    OUTLINE,
    THIN,
    Circle,
    Hatch,
    Item,
    Line,
    Path,
    Text,
)
from scribeline.web.bridges import KindPage
from scribeline.web.measuring import LETTER, box, dim, point, word

LETTERS: Mapping[str, str] = {
    "spacing": "S",
    "saddle_forward": "L",
    "saddle_back": "M",
    "saddle_height": "N",
    "reach_forward": "A",
    "reach_back": "B",
    "plate_width": "Q",
    "plate_thickness": "C",
    "underside": "D",
    "knife_over_underside": "E",
    "block_front": "F",
    "block_thickness": "J",
    "block_length": "H",
    "block_width": "T",
    "spring_hooks": "K",
    "hooks_behind": "U",
    "claw_width": "V",
    "claw_screws_apart": "W",
}
"""What every vibrato has."""

LEAD = (
    "Hold the plate level. Everything counts from the line of its knife edges, towards the tail, and from the plate's underside. "
    "Hang a known mass from a spring to find its rate."
)


def hung(count: int, *, on_screws: bool = False) -> Iterator[Item]:
    """A vibrato from above, and from the side, cut along."""
    # From above, the line of the knife edges at x = 0, the tail to the right; then the same from the side, cut along.
    first, half = 5.5 * (count - 1), 5.5 * (count - 1) + 13
    outer, bear = (half - 6, -4.0) if on_screws else (half + 7, -7.0)
    yield box(CUT, -11, -half, 76, half)
    yield box(HIDDEN, 18, -half + 12, 40, half - 12)
    yield Line(CENTRE, (-60, 0), (92, 0))
    yield Line(CENTRE, (0, -half - 14), (0, half + 10))
    for n in range(count):
        y = first - 11 * n
        yield Line(THIN, (-64, y), (26, y))
        if on_screws:
            yield Circle(OUTLINE, (bear, outer - 2 * outer * n / (count - 1)), 3)
    for y in () if on_screws else (outer, -outer):
        yield Circle(OUTLINE, (bear, y), 7)
    yield word((-4, -half - 25), "knife edges", "end")
    yield dim("A", (-11, half), (0, half), (-26, half + 20), "x")
    yield dim("B", (0, half), (76, half), (0, half + 40), "x")
    yield dim("P", (bear, -outer), (bear, outer), (-34, 0), "y")
    yield dim("Q", (76, -half), (76, half), (104, 0), "y")
    yield dim("T", (40, 12 - half), (40, half - 12), (60, 0), "y")
    yield dim("S", (-60, first), (-60, first - 11), (-72, 0), "y")
    yield point("R", (bear / 2, -outer), (34, -half - 24))
    top = -half - 120.0
    left = ((-150, top), (2, top), (2, top - 48), (-126, top - 48), (-126, top - 92), (-150, top - 92))
    right = ((104, top), (130, top), (130, top - 92), (122, top - 92), (122, top - 48), (104, top - 48))
    for side in (left, right):
        yield Hatch(HATCHING, (side,), spacing=5)
        yield Path(OUTLINE, side, closed=True)
    under, line = top + 7, top - 64
    plate = (
        (-11, under + 8),
        (76, under + 8),
        (76, under),
        (0, under),
        (-11, under + (5 if on_screws else 0)),
    )
    yield Path(CUT, plate, closed=True)
    yield box(CUT, 18, line - 14, 40, under)
    yield box(OUTLINE, bear - 3, top - 26, bear + 3, under + 14)
    yield Path(OUTLINE, ((22, under + 8), (50, under + 8), (50, under + 22), (26, under + 26)), closed=True)
    yield Line(CUT, (-150, under + 22), (26, under + 26))
    coils = [(-66 + 7 * n, line + (3 if n % 2 else -3)) for n in range(13)]
    yield Path(OUTLINE, ((-78, line), *coils, (30, line)))
    yield Line(CUT, (-78, line - 11), (-78, line + 11))
    yield Line(OUTLINE, (-84, line - 3), (-142, line + 8))
    yield word((-104, line - 16), "claw", "middle")
    yield dim("C", (76, under), (76, under + 8), (96, 0), "y")
    yield dim("D", (-60, top), (-60, under), (-48, 0), "y")
    yield point("E", (0, under + 3), (-34, top + 58))
    yield dim("N", (-110, top), (-110, under + 23), (-124, 0), "y")
    yield dim("L", (0, under + 8), (26, under + 26), (0, top + 56), "x")
    yield dim("M", (0, under + 8), (44, under + 22), (0, top + 80), "x")
    yield dim("F", (0, under), (18, line - 14), (-26, line - 52), "x")
    yield dim("J", (18, line - 14), (40, line - 14), (0, line - 36), "x")
    yield dim("H", (40, under), (40, line - 14), (90, 0), "y")
    yield dim("K", (40, under), (30, line), (62, 0), "y")
    yield dim("U", (0, under), (30, line), (0, line - 70), "x")
    for row, (letter, words) in enumerate(
        (("V", "the claw's width"), ("W", "its screws, one to the other")),
    ):
        yield Text(LETTERING, (-150, line - 92 - 18 * row), letter, LETTER, bold=True)
        yield word((-128, line - 91 - 18 * row), words)


PAGE = KindPage(
    "Vibrato on posts",
    LEAD,
    {"post_spacing": "P", "knife_behind_post": "R", **LETTERS},
    "The vibrato from above and cut along, with the dimensions lettered",
    hung,
)
