"""What the pictures of step cards share: wrapped lettering, a box, a place to write on, a scale in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache

from scribeline.drawing.face import text_width, wrap
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    LETTERING,
    OUTLINE,
    RULING,
    Item,
    Line,
    Path,
    Point,
    Text,
)

PITCH = 1.5
"""Distance from base line to base line, in capital heights: the least of ISO 3098-1 (21/14)."""


@cache
def lines(text: str, width: float, height: float) -> tuple[str, ...]:
    """`text` wrapped; the same sentences stand on many cards."""
    return tuple(wrap(text, width, height))


def lettered(words: Sequence[str], corner: Point, height: float) -> tuple[Item, ...]:
    """Lines of lettering below a top left corner."""
    x, y = corner
    return tuple(
        Text(LETTERING, (x, y - height - n * PITCH * height), line, height)
        for n, line in enumerate(words)
        if line
    )


def box(corner: Point, width: float, height: float) -> Path:
    """A rectangle hanging from its top left corner."""
    x, y = corner
    return Path(OUTLINE, ((x, y), (x + width, y), (x + width, y - height), (x, y - height)), closed=True)


def blank(label: str, at: Point, width: float, unit: str) -> Iterator[Item]:
    """A label, where there is one, and a rule to write on."""
    x, y = at
    start = x + (text_width(label, ACTED_ON_LETTERING) + 1.5 if label else 0.0)
    end = x + width - (text_width(unit, ACTED_ON_LETTERING) + 1.5 if unit else 0.0)
    if label:
        yield Text(LETTERING, (x, y), label, ACTED_ON_LETTERING)
    yield Line(RULING, (start, y - 0.4), (end, y - 0.4))
    if unit:
        yield Text(LETTERING, (end + 1.5, y), unit, ACTED_ON_LETTERING)


def scale_words(scale: float) -> str:
    """A drawing scale in words."""
    if scale == 1.0:
        return "full size (1:1)"
    return f"scale {scale:g}:1" if scale > 1.0 else f"scale 1:{1 / scale:g}"
