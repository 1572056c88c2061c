"""How a face of the body lies on paper, and what a view of it shows.

View coordinates (u, v): u is the instrument's x, so the neck lies to the left and the tail to the right.
Seen from the front v is y; seen from the back v is −y: the body was turned over about its long axis.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from scribeline.drawing.sheet import ACTED_ON_LETTERING, Point, Window
from scribeline.features import thinned
from scribeline.features.cuts import Face
from scribeline.layout import NECK_POCKET
from scribeline.plan import Plan

DATUM = "12th fret and pocket end wall; centreline"
"""The datum of every sheet, in words."""


def datum_in_words(plan: Plan) -> str:
    """The same of a plan: of a neck that runs through, the board's end in the end wall's place."""
    return DATUM.replace("pocket end wall", plan.layout.datum("pocket-end").name)


def neck_end_across(plan: Plan) -> tuple[float, float]:
    """How far what ends the neck over the body reaches to either side, mm: the neck pocket, or the board on a core."""
    pocket = next((each for each in plan.features.pockets if each.role == NECK_POCKET), None)
    ys = [point.y for point in (plan.layout.board_ends if pocket is None else pocket.outline)]
    return min(ys), max(ys)


SEEN = {"top": "seen from the front", "back": "seen from the back"}


_FINE = 2000
"""An outline with no more corners than this is drawn as it is."""
_THINNED = 0.01
"""How far the drawn edge of a finer one may be off, mm: a hundredth is far less than a pen's line."""


@dataclass(frozen=True, slots=True)
class Show:
    """What a view includes.

    Attributes:
        outline: The body's edge.
        centreline: Chain line over the body, from the nut when frets are shown.
        sides: The words "treble side" and "bass side".
        datum: The neck pocket's end wall named as the datum.
        scale_line: Where the string's length ends, named with its distance from the nut.
        frets: First and last fret to draw, with the board's edges; front view only.
        plate: The bridge plate as a part in place (dashed when seen from the back).
        saddles: Each saddle's break point; front view only.
        pockets: The pockets of the face.
        labels: Names and depths in the pockets.
        bores: The holes of the face.
        awl_marks: A cross with an open middle on every hole, for pricking through.
        balloons: The holes' numbers.
        hidden: Pockets and upright holes of the other face, dashed.
        lettering: Capital height of what is lettered, mm on the paper.
    """

    outline: bool = True
    centreline: bool = True
    sides: bool = True
    datum: bool = True
    scale_line: bool = True
    frets: tuple[int, int] | None = None
    plate: bool = True
    saddles: bool = True
    pockets: bool = True
    labels: bool = True
    bores: bool = True
    awl_marks: bool = True
    balloons: bool = True
    hidden: bool = False
    lettering: float = ACTED_ON_LETTERING


def view_point(face: Face, at: tuple[float, ...], scale: float = 1.0) -> Point:
    """Where a place of the instrument frame lies in the view of a face."""
    x, y = at[0], at[1]
    return (x * scale, (y if face == "top" else -y) * scale)


def body_window(plan: Plan, face: Face, scale: float = 1.0) -> Window:
    """The rectangle the body takes up in the view of a face."""
    xs, ys = zip(*plan.layout.outline, strict=True)
    (left, low), (right, high) = (
        view_point(face, corner, scale) for corner in ((min(xs), min(ys)), (max(xs), max(ys)))
    )
    return (left, min(low, high), right, max(low, high))


def treble_up(plan: Plan, face: Face) -> int:
    """+1 where the treble side is at the top of the view, −1 where it is at the bottom."""
    return plan.layout.treble if face == "top" else -plan.layout.treble


def drawable(plan: Plan) -> Plan:
    """The plan with a body's edge that can be drawn: one of many thousand corners is thinned, its outermost places kept.

    For paper only; cut files and solids take the edge as it is.
    """
    ring = plan.layout.outline
    if len(ring) <= _FINE:
        return plan
    return replace(plan, layout=replace(plan.layout, outline=thinned(ring, _THINNED)))
