"""The height chain: how high over the body each saddle must hold its string to give the action stated.

The crowns of the straight part of the board lie on a plane (over its middle, where the board is arched), the fret
plane. The neck stands with its heel's end against the pocket's end wall and may lean back by an angle A: the strings
then climb over the body. A place on the neck is (along the fret plane from the nut, square over it); the heel's lower
end is the pivot, at the end wall and the pocket's depth P below the top under the bridge:

    x = end wall + (along − end wall) cos A − (heel with board + crown + over) sin A
    z = (along − end wall) sin A + (heel with board + crown + over) cos A − P

With A = 0 this is z = heel with board + crown + over − P. A neck that runs through the body has no heel: its board is counted in
the heel's place, the pivot is the end of the board's underside, and P is by how much that lies below the top, less than 0 where
it stands over it. The open string is the straight line from the nut, 4 r + nut height over the crowns there (r the relief, a
parabola up to the fret where the board becomes straight), over the 12th fret's crown at the action, carried on to the saddle;
crowns beside the middle of an arched board lie lower by R − √(R² − y²). Plane geometry; the string's line is worked in
`strings.fretting`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from scribeline.job import Document
from scribeline.layout.fan import fret_lines, strings_across
from scribeline.layout.frets import Floats
from scribeline.layout.paths import path_y
from scribeline.layout.pose import lean
from scribeline.layout.stringing import Stringing
from scribeline.quantities import cos, sin, tan
from scribeline.strings import Board, Playing, clearances, octave_fret, saddle_height


def sunk(radius: Floats, across: Floats) -> Floats:
    """How far a crown lies under the fret plane beside the middle of an arched board, mm."""
    return radius - (radius**2 - across**2) ** 0.5


def arch_radius(along: Floats, at_nut: float, at_end: float, end: float) -> Floats:
    """Radius of a board's arch at a distance from the nut, mm: a cone's, even from the nut to its end."""
    return at_nut + (at_end - at_nut) * along / end


def climbed(along: Any, square: Any, angle: float) -> Any:
    """How far a place on the neck lies over the heel's lower end, upright, mm; see `over_body`."""
    return along * sin(angle) + square * cos(angle)


def over_body(along: Any, square: Any, angle: float, depth: float) -> Any:
    """Height over the top under the bridge, mm, of a place on the neck.

    Args:
        along: from the pocket's end wall towards the tail, along the fret plane, mm.
        square: from the heel's underside, square to the fret plane, mm.
        angle: how far the neck leans back, rad.
        depth: of the pocket at its end wall, below the top under the bridge, mm.
    """
    return climbed(along, square, angle) - depth


def along_body(along: Any, square: Any, angle: float) -> Any:
    """How far a place on the neck lies behind the pocket's end wall, level along the body, mm; see `over_body`."""
    return along * cos(angle) - square * sin(angle)


def rise(length: float, angle: float) -> float:
    """How far a plane that leans by an angle, rad, rises over a level length, mm: a wedge's thickness there."""
    climb: float = length * tan(angle)
    return climb


def depth_before(depth: float, before: float, angle: float) -> float:
    """How deep a pocket's floor lies at a place so far before its end wall, level towards the nut, mm.

    The floor is the heel's underside, `over_body` with nothing square to it: it leans back with the neck, so that it lies
    deeper at the mouth than at the end wall.

    Args:
        depth: at the end wall, mm.
        before: the end wall to the place, towards the nut, mm.
        angle: how far the floor leans back, rad.
    """
    return depth + rise(before, angle)


@dataclass(frozen=True, slots=True)
class Lie:
    """How the neck lies in the body.

    Attributes:
        end: the pocket's end wall from the nut, mm; of a neck that runs through, the board's end.
        depth: the heel's lower end below the top under the bridge, at the end wall, mm; of a neck that runs through, the
            board's underside, and below 0 where it stands over the top.
        stack: the crowns over the heel's underside: heel, board and crown, mm; of a neck that runs through, board and crown.
        angle: how far the neck leans back, rad.
    """

    end: float
    depth: float
    stack: float
    angle: float

    @property
    def is_level(self) -> bool:
        """Whether the fret plane runs with the body's top."""
        return self.angle == 0

    def height(self, along: ArrayLike, over: ArrayLike = 0.0) -> Floats:
        """Over the top under the bridge, mm, of places along the neck from the nut and over the fret plane."""
        return np.asarray(
            over_body(np.subtract(along, self.end), np.add(self.stack, over), self.angle, self.depth)
        )

    def place(self, along: ArrayLike, over: ArrayLike = 0.0) -> Floats:
        """Level along the body from where a level neck's nut would be, mm; see `height`.

        The pocket's end wall is as far from there as it is from the nut along the neck.
        """
        if self.is_level:
            return np.asarray(along, dtype=np.float64)
        square = np.add(self.stack, over)
        return np.asarray(self.end + along_body(np.subtract(along, self.end), square, self.angle))

    def along(self, place: ArrayLike, over: ArrayLike = 0.0) -> Floats:
        """How far along the neck from the nut something lies that is level along the body at a place, mm; undoes `place`."""
        if self.is_level:
            return np.asarray(place, dtype=np.float64)
        back = np.subtract(place, self.end) + np.add(self.stack, over) * sin(self.angle)
        return np.asarray(self.end + back / cos(self.angle))


def under_straightedge(lie: Lie, place: float) -> float:
    """Height over the top under the bridge, mm, of a straightedge on the crowns, at a place level along the body."""
    return float(lie.height(lie.along(place)))


def neck_lie(document: Document) -> Lie:
    """How the job's neck lies in its body."""
    neck = document.neck
    if neck.runs_through:
        stack = neck.board_thickness.mm + document.fret_wire.crown_height
        return Lie(document.neck_end, -neck.board_over_body.mm, stack, neck.angle)
    return Lie(
        neck.pocket_end,
        neck.pocket_depth.mm - neck.shim,
        neck.heel_thickness.mm + document.fret_wire.crown_height,
        lean(neck.angle, neck.shim, neck.pocket_length),
    )


def level_scale(
    *, scale: float, compensation: float, over: float, end: float, stack: float, angle: float
) -> float:
    """Where the scale line crosses the body, level along it, mm from where a level neck's nut would be.

    Args:
        scale: length, along the neck on its centreline, mm.
        compensation: where a string leaves its saddle past the scale line, mm.
        over: that string over the fret plane there, mm.
        end: the pocket's end wall, mm.
        stack: the crowns over the heel's underside, mm.
        angle: how far the neck leans back, rad.
    """
    level: float = along_body(scale + compensation - end, stack + over, angle)
    return end + level - compensation


def scale_line(document: Document, stringing: Stringing) -> float:
    """Where the middle of the scale line crosses the body, from where a level neck's nut would be, mm; see `level_scale`.

    The strings of a leaning neck climb over the body, so that their saddles stand nearer to the neck than along the strings.
    One place serves all: strings that differ by 1 mm in height differ by 0.07 mm along at 4 degrees, which a saddle takes up.
    """
    lie, length = neck_lie(document), float(fret_lines(document).middle[-1])
    if lie.is_level:
        return length
    middle, over = string_in_the_middle(document, stringing)
    return level_scale(
        scale=length,
        compensation=middle,
        over=over,
        end=lie.end,
        stack=lie.stack,
        angle=lie.angle,
    )


def string_in_the_middle(document: Document, stringing: Stringing) -> tuple[float, float]:
    """Mean compensation of the strings, and their mean height over the fret plane at the saddles, mm."""
    strings = strung(document, stringing)
    return float(strings.setback.mean()), float(strings.at_saddle.mean())


def crowns_over_body(document: Document) -> float:
    """Height of the fret plane over the top under the bridge, mm, above the pocket's end wall."""
    lie = neck_lie(document)
    return float(lie.height(lie.end))


def crowns_over(heel: float, pocket: float, crown: float) -> float:
    """The same of a level neck, mm: the heel with its board, less the pocket's depth, and the crown."""
    return heel - pocket + crown


def crowns_leaning(heel: float, pocket: float, crown: float, shim: float, lean: float) -> float:
    """The same of a neck that leans back, rad, and may stand on a taper shim, mm; see `over_body`."""
    height: float = over_body(0.0, heel + crown, lean, pocket - shim)
    return height


def crowns_over_core(stands: float, board: float, crown: float, lean: float) -> float:
    """The same of a neck that runs through the body, at the end of its board, mm; see `over_body`.

    Args:
        stands: the board's underside over the body's top there, mm.
        board: its thickness, mm.
        crown: of a fret over it, mm.
        lean: how far the neck leans back, rad.
    """
    height: float = over_body(0.0, board + crown, lean, -stands)
    return height


def string_leaning(crowns: float, over: float, saddle: float, end: float, lean: float) -> float:
    """A string over the body at its saddle, mm, over a neck that leans back; see `over_body`.

    Args:
        crowns: the fret plane over the body above the pocket's end wall, mm.
        over: the string over the fret plane at its saddle, mm.
        saddle: along the neck from the nut, mm.
        end: the pocket's end wall from the nut, mm.
        lean: how far the neck leans back, rad.
    """
    height: float = climbed(saddle - end, over, lean) + crowns
    return height


def board_over(document: Document, place: float) -> float:
    """The board's underside over the top under the bridge at a place level along the body, mm; it goes on past its end."""
    lie, under = neck_lie(document), -(document.fret_wire.crown_height + document.neck.board_thickness.mm)
    return float(lie.height(lie.along(place, under), under))


@dataclass(frozen=True, slots=True)
class Strung:
    """The open strings over the fret plane, as the set-up asks for them; arrays of shape (strings,), treble first.

    Attributes:
        board: the frets.
        playing: nut height, action and relief; the first two over the fret plane, not over a crown beside the middle.
        setback: each saddle past the scale line, mm.
        nut: where each string leaves the nut, along the neck from where the centreline crosses it, mm.
    """

    board: Board
    playing: Playing
    setback: Floats
    nut: Floats

    @property
    def reach(self) -> Floats:
        """Each string from the nut to its saddle, along the neck, mm."""
        return np.asarray(self.board.scale + self.setback)

    @property
    def saddle(self) -> Floats:
        """Each saddle along the neck, from where the centreline crosses the nut, mm."""
        return np.asarray(self.nut + self.reach)

    @property
    def at_saddle(self) -> Floats:
        """Each string over the fret plane at its saddle, mm."""
        return saddle_height(self.board, self.playing, self.setback)

    @property
    def share(self) -> Floats:
        """The share of each string's length that lies before the 12th fret."""
        return np.asarray(self.board.fret_x[:, octave_fret(self.board)] / self.reach)


def strung(
    document: Document, stringing: Stringing, *, higher: float = 0.0, straighter: float = 0.0
) -> Strung:
    """The open strings at the action and relief stated, or at others.

    Args:
        document: the job.
        stringing: its strings.
        higher: what to add to every action, mm.
        straighter: what to take off the relief, mm; no more is taken off than there is.
    """
    action, _ = stringing.setup.action(len(document.strings))
    board = stringing.setup.board(len(document.strings))
    from_nut = np.array(stringing.nut)
    at_nut, at_twelfth = _crowns_sunk(document, board, from_nut)
    nothing = np.zeros(())
    playing = Playing(
        nut_height=document.nut.height_over_frets - at_nut,
        action=action + higher - at_twelfth,
        relief=np.asarray(max(0.0, document.setup.relief.mm - straighter)),
        finger_depth=nothing,
        free_length=nothing,
        grip=nothing,
        end_condition=nothing,
    )
    return Strung(board, playing, np.array(stringing.setback), from_nut)


def _crowns_sunk(document: Document, board: Board, from_nut: Floats) -> tuple[Floats, Floats]:
    """How far the crowns under each string lie below the middle's, mm: at the nut, at the 12th fret."""
    nut, row = strings_across(document)
    twelfth = board.fret_x[:, octave_fret(board)]
    return (
        crowns_sunk(document, from_nut, nut),
        crowns_sunk(document, from_nut + twelfth, path_y(twelfth, nut, row, board.scale)),
    )


def crowns_sunk(document: Document, along: ArrayLike, across: ArrayLike) -> Floats:
    """How far a crown lies below the middle's, mm: 0 on a board stated without a radius.

    Args:
        document: the job.
        along: from where the centreline crosses the nut, mm.
        across: from the centreline, mm; broadcasts with `along`.
    """
    board = document.fingerboard
    if board.radius is None:
        return np.zeros(np.broadcast_shapes(np.shape(along), np.shape(across)))
    end_radius = board.radius if board.radius_at_end is None else board.radius_at_end
    radius = arch_radius(np.asarray(along, dtype=np.float64), board.radius, end_radius, board.end)
    return np.asarray(sunk(radius, np.asarray(across, dtype=np.float64)))


def saddle_heights(
    document: Document, stringing: Stringing, *, higher: float = 0.0, straighter: float = 0.0
) -> Floats:
    """Height over the body at which each saddle must hold its string, mm, shape (strings,), treble first; see `strung`."""
    strings = strung(document, stringing, higher=higher, straighter=straighter)
    return neck_lie(document).height(strings.saddle, strings.at_saddle)


def actions_at(document: Document, stringing: Stringing, height: ArrayLike) -> Floats:
    """Action at the 12th fret with every string so high over the body at its saddle, mm, shape (strings,).

    The string turns about its nut slot: what is missing at the saddle is missing at the 12th fret by the share of
    its length that lies before it.
    """
    strings, lie = strung(document, stringing), neck_lie(document)
    wanted = lie.height(strings.saddle, strings.at_saddle)
    missing = (np.asarray(height) - wanted) / cos(lie.angle)
    action, _ = stringing.setup.action(len(document.strings))
    return np.asarray(action + strings.share * missing, dtype=np.float64)


def actions_over_frets(document: Document, stringing: Stringing) -> Floats:
    """Each open string over each crown under it, square to the fret plane, mm, shape (strings, frets)."""
    strings, ends = strung(document, stringing), strings_across(document)
    open_string, _ = clearances(strings.board, strings.playing, strings.setback)
    x = strings.board.fret_x
    nut, row, scale, start = (each[:, np.newaxis] for each in (*ends, strings.board.scale, strings.nut))
    return np.asarray(open_string + crowns_sunk(document, start + x, path_y(x, nut, row, scale)))


def string_lines(
    document: Document, stringing: Stringing
) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Each open string seen from the side, from the nut to its saddle: places along the body and over its top, mm."""
    strings, lie = strung(document, stringing), neck_lie(document)
    nut = 4 * strings.playing.relief + strings.playing.nut_height
    found = []
    for over in zip(strings.nut, nut, strings.saddle, strings.at_saddle, strict=True):
        start, at_nut, reach, at_saddle = map(float, over)
        ends = ((start, at_nut), (reach, at_saddle))
        one, other = ((float(lie.place(s, h)), float(lie.height(s, h))) for s, h in ends)
        found.append((one, other))
    return found


def string_over(document: Document, stringing: Stringing, along: float) -> Floats:
    """Each string over the body's top under the bridge at a place along the neck, mm, shape (2, strings).

    The open string first, then pressed at the last fret: what a pickup's poles must clear.

    Args:
        document: the job.
        stringing: its strings.
        along: from where the centreline crosses the nut, mm; between the last fret and the saddles.
    """
    strings, lie = strung(document, stringing), neck_lie(document)
    nut = 4 * strings.playing.relief + strings.playing.nut_height
    saddle, reach = strings.at_saddle, strings.reach
    at_nut, row = strings_across(document)
    last = strings.board.fret_x[:, -1]
    across = path_y(last, at_nut, row, strings.board.scale)
    crown, own = -crowns_sunk(document, strings.nut + last, across), along - strings.nut
    free = nut + (saddle - nut) * own / reach
    pressed = crown + (saddle - crown) * (own - last) / (reach - last)
    return np.stack([lie.height(along, free), lie.height(along, pressed)])


Unknown = Literal[
    "neck.pocket_depth",
    "neck.board_over_body",
    "neck.angle",
    "neck.shim",
    "neck.board_thickness",
    "bridge.saddle_height",
]
"""What a chain of heights can be closed by, by its key in the job."""


@dataclass(frozen=True, slots=True)
class Chain:
    """What the heights at the saddles follow from, so that any one of it can be worked out from the rest.

    Attributes:
        along: each saddle along the neck from the pocket's end wall, mm, shape (strings,).
        over: each string over the fret plane at its saddle, mm, shape (strings,).
        stack: the crowns over the heel's underside, mm.
        board: thickness of the fingerboard in that, mm.
        depth: of the pocket at its end wall, mm; see `Lie.depth`.
        floor: angle of the pocket's floor, rad.
        shim: thickness of a taper shim under the heel's end, mm; it runs out at the pocket's mouth.
        pocket: the pocket's length, mm; 0 where there is none, and no shim.
        saddle: the height over the body that the saddles should hold in the middle, mm.
    """

    along: Floats
    over: Floats
    stack: float
    board: float
    depth: float
    floor: float
    shim: float
    pocket: float
    saddle: float

    @property
    def angle(self) -> float:
        """How far the neck leans back, rad."""
        return lean(self.floor, self.shim, self.pocket) if self.shim else self.floor

    @property
    def heights(self) -> Floats:
        """Each string over the body at its saddle, mm, shape (strings,)."""
        angle = self.angle
        return np.asarray(over_body(self.along, self.stack + self.over, angle, self.depth - self.shim))

    @property
    def middle(self) -> float:
        """Between the lowest string's height and the highest one's, mm."""
        heights = self.heights
        return float(heights.min() + heights.max()) / 2

    @property
    def off(self) -> float:
        """By how much the strings lie higher than the saddles' middle, mm: 0 where the chain closes."""
        return self.middle - self.saddle

    def closed(self, unknown: Unknown) -> float | None:
        """What one of it must be for the chain to close, the rest as it is; mm, an angle in rad.

        None where nothing of that kind closes it: a shim only raises the strings, and none is thicker than the pocket is deep;
        no board of a neck that runs through is let into the top.
        """
        match unknown:
            case "bridge.saddle_height":
                return self.middle
            case "neck.pocket_depth":
                return self.depth + self.off
            case "neck.board_over_body":
                stands = -(self.depth + self.off)
                return stands if stands >= 0 else None
            case "neck.board_thickness":
                return self.board - self.off / cos(self.angle)
            case "neck.angle":
                return _root(lambda angle: replace(self, floor=angle).off, -_STEEPEST, _STEEPEST)
            case "neck.shim":
                return _root(lambda shim: replace(self, shim=shim).off, 0.0, self.depth)


_STEEPEST = 0.2
"""No neck leans further than this, rad: more than eleven degrees."""


def _root(f: Callable[[float], float], low: float, high: float) -> float | None:
    """Where a continuous function is zero between two places; None where it has one sign at both.

    Regula falsi with the end that stays put counted half (the Illinois rule), which closes in faster than halving.
    """
    at_low, at_high = f(low), f(high)
    if at_low == 0:
        return low
    if at_low * at_high > 0:
        return None
    for _ in range(100):
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        at_middle = f(middle)
        if abs(at_middle) < 1e-12:
            break
        if at_middle * at_high < 0:
            low, at_low = high, at_high
        else:
            at_low /= 2
        high, at_high = middle, at_middle
    return middle


def chain(document: Document, stringing: Stringing, saddle: float) -> Chain:
    """The chain of a job's heights, to be closed at a height of the saddles' middle over the body, mm."""
    strings, neck, lie = strung(document, stringing), document.neck, neck_lie(document)
    return Chain(
        along=strings.saddle - lie.end,
        over=strings.at_saddle,
        stack=lie.stack,
        board=neck.board_thickness.mm,
        depth=lie.depth + neck.shim,
        floor=neck.angle,
        shim=neck.shim,
        pocket=0.0 if neck.runs_through else neck.pocket_length,
        saddle=saddle,
    )
