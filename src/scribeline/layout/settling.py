"""What is moved where the neck does not lie on the centreline, so that the instrument comes out best: bridge, neck or both.

Best is the least sum of squares of what a player or an onlooker notices, each in mm and each with a weight that the job may
state:

- margins: how far the strings' middle lies off the board's middle at the last fret;
- square: how far the bridge's end stands off square to the strings;
- pockets: how far the strings' middle runs off the middle of a pickup's cavity that is cut already;
- seen: how far the bridge lies off the body's centreline, and its end off square to it;
- moved: how far the neck is moved, at the end wall and at the pocket's mouth, so that it is not moved for nothing.

The last two are weighed against each other where both are moved. Where one is moved alone, what moves it is that the strings
run over the middle of the board and the bridge stands square to them.

All are linear in what can be moved, so the best is found exactly: ordinary least squares, with each bound of the pocket's play
tried as holding from one side, from the other and not at all (the nine cases of two bounded numbers).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from typing import Literal, get_args

import numpy as np

from scribeline.job import AsBuilt
from scribeline.layout.frets import Floats

Choice = Literal["bridge", "neck", "both"]
CHOICES: tuple[Choice, ...] = get_args(Choice)


@dataclass(frozen=True, slots=True)
class Standing:
    """How things stand before anything is moved, on a right-handed instrument; small angles are taken for their tangents.

    Attributes:
        off: the neck's line off the centreline at the pocket's end wall, towards the treble, mm.
        turn: by how much it runs off towards the treble on its way to the tail, rad.
        wall: the end wall from the nut, mm.
        pocket: the pocket's length, mm.
        last: the last fret from the nut, mm.
        line: the bridge's line from the nut, mm.
        half: half the bridge's width, mm.
        play: how far the heel can be moved in its pocket to either side, mm.
        held: where drilled holes hold the bridge: off the centreline, mm, and turned, rad; None where it is free.
        cut: of each pickup's cavity that is cut its middle from the nut and from the centreline, mm.
    """

    off: float
    turn: float
    wall: float
    pocket: float
    last: float
    line: float
    half: float
    play: float
    held: tuple[float, float] | None = None
    cut: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Settled:
    """What a choice comes to.

    Attributes:
        choice: what is moved.
        at_end: how far the heel is moved towards the treble at the end wall, mm.
        at_mouth: the same at the pocket's mouth.
        off: the neck's line at the end wall then, mm.
        turn: of the neck then, rad.
        bridge: the middle of the bridge's line off the centreline, mm.
        bridge_turn: of the bridge, rad.
        margins: how far the strings' middle then lies off the board's middle at the last fret, mm.
        beyond_play: how far the heel would have to go beyond its pocket's play, mm; 0 where it need not.
        cost: the sum of squares.
    """

    choice: Choice
    at_end: float
    at_mouth: float
    off: float
    turn: float
    bridge: float
    bridge_turn: float
    margins: float
    beyond_play: float
    cost: float


_END, _MOUTH, _BRIDGE, _BRIDGE_TURN = range(4)


def settled(stands: Standing, weights: AsBuilt, choice: Choice) -> Settled:
    """Find the best of a choice.

    The neck alone is moved as far as it must, beyond its play too, and the bridge stays where it was planned, on the
    centreline; both together keep the neck within its play.
    """
    if choice != "both":
        weights = weights.model_copy(update={"seen": 0.0, "moved": 0.0})
    rows, right, weight = _noticed(stands, weights)
    fixed: dict[int, float] = {}
    if stands.held is not None:
        fixed |= {_BRIDGE: stands.held[0], _BRIDGE_TURN: stands.held[1]}
    elif choice == "neck":
        fixed |= {_BRIDGE: 0.0, _BRIDGE_TURN: 0.0}
    if choice == "bridge":
        fixed |= {_END: 0.0, _MOUTH: 0.0}
    bounded = choice == "both"
    root = np.sqrt(weight)
    found = [
        _solved(rows * root[:, None], right * root, case)
        for case in _cases(fixed, stands.play if bounded else None)
    ]
    within = [
        each for each in found if not bounded or np.all(np.abs(each[1][[_END, _MOUTH]]) <= stands.play + 1e-9)
    ]
    best = min(within, key=lambda each: each[0])
    return _told(stands, choice, best)


def noticed(stands: Standing, weights: AsBuilt, moves: Floats) -> Floats:
    """The sum of squares of what is noticed, (...,), for moves (..., 4): heel at the end wall, at the mouth, bridge, its turn."""
    rows, right, weight = _noticed(stands, weights)
    off: Floats = moves @ rows.T - right
    return np.asarray((off**2 * weight).sum(axis=-1))


def _noticed(stands: Standing, weights: AsBuilt) -> tuple[Floats, Floats, Floats]:
    """What is noticed as rows of what can be moved, what each is held against, and its weight."""
    rows, right, weight = [], [], []
    for row, constant, each in _each(stands, weights):
        rows.append(row)
        right.append(-constant)
        weight.append(each)
    return np.array(rows), np.array(right), np.array(weight)


def _each(stands: Standing, weights: AsBuilt) -> Iterator[tuple[Floats, float, float]]:
    """Row of what can be moved, what it comes to where nothing is, and its weight."""
    share = stands.last / stands.line
    at_line, line0 = _neck_at(stands, stands.line)
    bridge = np.eye(4)[_BRIDGE]
    yield (bridge - at_line) * share, -line0 * share, weights.margins
    turn, turn0 = _neck_turn(stands)
    own = np.eye(4)[_BRIDGE_TURN]
    yield (own - turn) * stands.half, -turn0 * stands.half, weights.square
    for x, across in stands.cut:
        nut, nut0 = _neck_at(stands, 0.0)
        there = x / stands.line
        yield nut * (1 - there) + bridge * there, nut0 * (1 - there) - across, weights.pockets
    yield bridge, 0.0, weights.seen
    yield own * stands.half, 0.0, weights.seen
    yield np.eye(4)[_END], 0.0, weights.moved
    yield np.eye(4)[_MOUTH], 0.0, weights.moved


def _neck_turn(stands: Standing) -> tuple[Floats, float]:
    row = np.zeros(4)
    row[_END], row[_MOUTH] = 1 / stands.pocket, -1 / stands.pocket
    return row, stands.turn


def _neck_at(stands: Standing, x: float) -> tuple[Floats, float]:
    """How far the neck's line lies off the centreline at a place from the nut."""
    turn, turn0 = _neck_turn(stands)
    end = np.eye(4)[_END]
    return end + turn * (x - stands.wall), stands.off + turn0 * (x - stands.wall)


def _cases(fixed: dict[int, float], play: float | None) -> Iterator[dict[int, float]]:
    free = [each for each in (_END, _MOUTH) if each not in fixed]
    if play is None:
        yield fixed
        return
    for sides in product((None, -play, play), repeat=len(free)):
        held = {each: side for each, side in zip(free, sides, strict=True) if side is not None}
        yield fixed | held


def _solved(rows: Floats, right: Floats, fixed: dict[int, float]) -> tuple[float, Floats]:
    moves = np.array([fixed.get(each, 0.0) for each in range(4)])
    free = [each for each in range(4) if each not in fixed]
    if free:
        found, *_ = np.linalg.lstsq(rows[:, free], right - rows @ moves, rcond=None)
        moves[free] = found
    return float(((rows @ moves - right) ** 2).sum()), moves


def _told(stands: Standing, choice: Choice, best: tuple[float, Floats]) -> Settled:
    cost, moves = best
    (at_line, line0), (turn, turn0) = _neck_at(stands, stands.line), _neck_turn(stands)
    end, mouth, bridge, bridge_turn = map(float, moves)
    share = stands.last / stands.line
    return Settled(
        choice,
        end,
        mouth,
        stands.off + end,
        float(turn @ moves) + turn0,
        bridge,
        bridge_turn,
        (bridge - float(at_line @ moves) - line0) * share,
        max(0.0, abs(end) - stands.play, abs(mouth) - stands.play),
        cost,
    )


def every_choice(stands: Standing, weights: AsBuilt) -> tuple[Settled, ...]:
    """Each choice with what it comes to, in their order."""
    return tuple(settled(stands, weights, each) for each in CHOICES)
