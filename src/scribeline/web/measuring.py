"""The marks that measuring pictures are made of: boxes, words, dimensions with their letters."""

from __future__ import annotations

from scribeline.drawing.sheet import DIMENSION, LETTERING, Along, Dimension, Leader, Path, Point, Text

LETTER = 5.0
"""Capital height of the letters, in the picture's millimetres."""

WORDS = 3.5


def rect(left: float, low: float, right: float, high: float) -> tuple[Point, ...]:
    """The corners of a rectangle."""
    return ((left, low), (right, low), (right, high), (left, high))


def box(layer: object, left: float, low: float, right: float, high: float) -> Path:
    """A rectangle."""
    return Path(layer, rect(left, low, right, high), closed=True)  # type: ignore[arg-type]


def dim(letter: str, a: Point, b: Point, at: Point, along: Along = "aligned") -> Dimension:
    """A dimension with its letter; `at` is on its line."""
    return Dimension(DIMENSION, a, b, at, letter, along=along, height=LETTER)


def word(at: Point, words: str, anchor: str = "start", turn: float = 0.0) -> Text:
    """A word beside something."""
    return Text(LETTERING, at, words, WORDS, anchor, turn)  # type: ignore[arg-type]


def point(letter: str, tip: Point, elbow: Point) -> Leader:
    """A letter with a line to what it means."""
    return Leader(DIMENSION, tip, elbow, letter, height=LETTER)
