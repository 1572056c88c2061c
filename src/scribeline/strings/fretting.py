"""What a fretted string sounds, from where it runs; and where the saddle makes that right.

One set of formulas, broadcasting over trials, strings and frets: arrays have the shape (..., strings), and
(..., strings, frets) where frets are counted. Lengths in mm, forces in N, pitch in Hz and cents.

The fret plane is z = 0 from the relief's end towards the bridge and rises towards the nut as a parabola,
4r ((x_end − x) / x_end)², whose sag under its own chord is the relief r. The open string is the straight line
from the nut slot over the 12th fret's crown at the action, carried on to the saddle. Pressed at a fret the
string runs from the nut slot (over the fret before, where it would touch it) down to the finger, up to the
fret's crown and on to the saddle. Its longer path is shared by what lies between nut and saddle and, as far
as friction lets it, by what runs free beyond them.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi

import numpy as np
from numpy.typing import ArrayLike

from scribeline.quantities import greatest
from scribeline.strings.frets import OCTAVE_CENTS
from scribeline.strings.spec import Floats, StringsError
from scribeline.strings.stiff import partial_hz, tension_n

TWELFTH = 11
"""Place of the 12th fret in arrays of frets."""

# Cents per relative change of frequency.
_CENTS = OCTAVE_CENTS / log(2)
_SETTLED = 1e-7
_MAX_ROUNDS = 80


@dataclass(frozen=True, slots=True)
class Wires:
    """Strings as the formulas need them, arrays of shape (..., strings).

    Attributes:
        pitch_hz: open string's fundamental, Hz.
        mass_kg_m: mass per length, kg/m.
        stretch_n: EA, force that would double the length, N.
        bend_n_mm2: EI, bending stiffness, N·mm².
    """

    pitch_hz: Floats
    mass_kg_m: Floats
    stretch_n: Floats
    bend_n_mm2: Floats


@dataclass(frozen=True, slots=True)
class Board:
    """Frets under the strings: exact, the same in every trial.

    Attributes:
        scale: scale length of each string, shape (strings,).
        fret_x: fret crowns from the nut, shape (strings, frets).
        cents: cents above the open string that each fret stands for, shape (frets,).
        relief_end: where the board becomes straight, from the nut, shape (strings,).
        finger_place: finger's distance from the fret as a share of the space behind it.
    """

    scale: Floats
    fret_x: Floats
    cents: Floats
    relief_end: Floats
    finger_place: float = 0.4


@dataclass(frozen=True, slots=True)
class Playing:
    """How the strings lie and are held, arrays that broadcast to (..., strings).

    Attributes:
        nut_height: string over the fret plane at the nut.
        action: string over the 12th fret's crown.
        relief: sag of the board under its chord.
        finger_depth: how far the finger takes the string below the line of the two crowns beside it.
        free_length: string beyond nut and saddle, both together.
        grip: 0 where the string slides freely over nut and saddle to 1 where it is held there.
        end_condition: 0 hinged to 1 clamped.
    """

    nut_height: Floats
    action: Floats
    relief: Floats
    finger_depth: Floats
    free_length: Floats
    grip: Floats
    end_condition: Floats


@dataclass(frozen=True, slots=True)
class _Open:
    """The open string at pitch."""

    nut_z: Floats
    slope: Floats
    saddle_x: Floats
    saddle_z: Floats
    length: Floats
    tension: Floats


def bow(along: Floats, straight: Floats) -> Floats:
    """Height of the frets over their straight part's plane for a relief of 1.

    Args:
        along: from the nut, mm.
        straight: where the board becomes straight, from the nut, mm.
    """
    short_of_it: Floats = greatest(0.0, 1 - along / straight)  # type: ignore[arg-type, assignment]
    return 4 * short_of_it**2


def line_at(nut: Floats, octave: Floats, fret: Floats, along: Floats) -> Floats:
    """Height of a straight line so far from the nut, mm, from its heights at the nut and over a fret.

    Args:
        nut: its height at the nut, mm.
        octave: its height over the fret, mm.
        fret: that fret from the nut, mm.
        along: where its height is wanted, from the nut, mm.
    """
    return nut + (octave - nut) / fret * along


def _bow(board: Board, x: Floats) -> Floats:
    """Height of the fret plane at x for a relief of 1, x of shape (strings, frets)."""
    return bow(x, board.relief_end[:, np.newaxis])


def _line(board: Board, playing: Playing, nut_shift: Floats) -> tuple[Floats, Floats]:
    """The open string's height at the nut, and its slope."""
    nut_z, over_octave, octave_x = _held(board, playing)
    return nut_z, (over_octave - nut_z) / (octave_x - nut_shift)


def _held(board: Board, playing: Playing) -> tuple[Floats, Floats, Floats]:
    """The open string's height at the nut and over the octave's fret, and that fret from the nut."""
    octave_x = board.fret_x[:, octave_fret(board)]
    crown = playing.relief * bow(octave_x, board.relief_end)
    return 4 * playing.relief + playing.nut_height, crown + playing.action, octave_x


def _open(wires: Wires, board: Board, playing: Playing, setback: Floats, nut_shift: Floats) -> _Open:
    nut_z, slope = _line(board, playing, nut_shift)
    run = board.scale + setback - nut_shift
    length = run * np.sqrt(1 + slope**2)
    tension = tension_n(wires.pitch_hz, wires.mass_kg_m, length, wires.bend_n_mm2, playing.end_condition)
    return _Open(nut_z, slope, board.scale + setback, nut_z + slope * run, length, tension)


def open_tension_n(
    wires: Wires, board: Board, playing: Playing, setback: ArrayLike = 0.0, nut_shift: ArrayLike = 0.0
) -> Floats:
    """Tension of the open strings at pitch, N, shape (..., strings)."""
    return _open(wires, board, playing, np.asarray(setback, float), np.asarray(nut_shift, float)).tension


def open_length(
    board: Board, playing: Playing, setback: ArrayLike = 0.0, nut_shift: ArrayLike = 0.0
) -> Floats:
    """Speaking length of the open strings, mm, shape (..., strings)."""
    shift = np.asarray(nut_shift, dtype=np.float64)
    _, slope = _line(board, playing, shift)
    return (board.scale + np.asarray(setback, dtype=np.float64) - shift) * np.sqrt(1 + slope**2)


def saddle_height(board: Board, playing: Playing, setback: ArrayLike = 0.0) -> Floats:
    """String over the straight fret plane at the saddle, mm, shape (..., strings)."""
    return line_at(*_held(board, playing), board.scale + np.asarray(setback, dtype=np.float64))


def _path(
    board: Board, playing: Playing, at: _Open, nut_shift: Floats, frets: slice
) -> tuple[Floats, Floats]:
    """Length of the whole fretted path and of the part that sounds, each (..., strings, frets)."""
    x = board.fret_x[:, frets]
    before = np.concatenate([np.zeros_like(board.fret_x[:, :1]), board.fret_x[:, :-1]], axis=1)[:, frets]
    finger_x = x - board.finger_place * (x - before)
    bow, bow_before = _bow(board, x), _bow(board, before)
    bow_finger = bow + (bow_before - bow) * board.finger_place
    relief, depth = playing.relief[..., np.newaxis], playing.finger_depth[..., np.newaxis]
    nut_x, nut_z = nut_shift[..., np.newaxis], at.nut_z[..., np.newaxis]
    z, z_before, z_finger = relief * bow, relief * bow_before, relief * bow_finger - depth

    sounding = np.sqrt((at.saddle_x[..., np.newaxis] - x) ** 2 + (at.saddle_z[..., np.newaxis] - z) ** 2)
    to_finger, reach = finger_x - nut_x, before - nut_x
    drop = nut_z - z_finger
    behind = np.sqrt(to_finger**2 + drop**2)
    # Straight from the nut to the finger unless that would pass under the fret before; the nut is no fret.
    touches = (nut_z - z_before) * to_finger < drop * reach
    if np.any(touches):
        over = np.sqrt(reach**2 + (nut_z - z_before) ** 2) + np.sqrt(
            (finger_x - before) ** 2 + (z_before - z_finger) ** 2
        )
        behind = np.where(touches & (before > 0), over, behind)
    up = np.sqrt((x - finger_x) ** 2 + (z - z_finger) ** 2)
    return behind + up + sounding, sounding


def _fretted_cents(
    wires: Wires, board: Board, playing: Playing, setback: Floats, nut_shift: Floats, *, frets: slice
) -> Floats:
    at = _open(wires, board, playing, setback, nut_shift)
    path, sounding = _path(board, playing, at, nut_shift, frets)
    shared = at.length + (1 - playing.grip) * playing.free_length
    rate = (wires.stretch_n / shared)[..., np.newaxis]
    tension = at.tension[..., np.newaxis] + rate * (path - at.length[..., np.newaxis])
    bend = wires.bend_n_mm2[..., np.newaxis]
    end = playing.end_condition[..., np.newaxis]
    swing = sounding - 2 * end * np.sqrt(bend / tension) if np.any(end) else sounding
    squared = swing * swing
    # f² = (T + π² EI / L'²) / (4 μ L'²): the stiff string's first partial.
    base = 4e-6 * wires.mass_kg_m * wires.pitch_hz**2
    ratio = (tension + pi**2 * bend / squared) / (squared * base[..., np.newaxis])
    return (_CENTS / 2) * np.log(ratio) - board.cents[frets]


def fretted_cents(
    wires: Wires, board: Board, playing: Playing, setback: ArrayLike, nut_shift: ArrayLike = 0.0
) -> Floats:
    """Cents by which each fretted note is sharp, open strings in tune; shape (..., strings, frets).

    Args:
        wires: the strings.
        board: the frets.
        playing: heights, finger, friction and ends.
        setback: saddles past the scale line, mm, shape (..., strings).
        nut_shift: nut moved towards the bridge, mm.
    """
    return _fretted_cents(
        wires,
        board,
        playing,
        np.asarray(setback, dtype=np.float64),
        np.asarray(nut_shift, dtype=np.float64),
        frets=slice(None),
    )


def octave_fret(board: Board) -> int:
    """Index of the fret nearest an octave above the open string: the 12th in equal temperament."""
    return int(np.abs(board.cents - OCTAVE_CENTS).argmin())


def octave_cents(
    wires: Wires, board: Board, playing: Playing, setback: ArrayLike, nut_shift: ArrayLike = 0.0
) -> Floats:
    """Cents by which the note fretted at the 12th is above the 12th-fret harmonic, shape (..., strings).

    "The 12th" is the fret nearest an octave, whatever the temperament. Where it stands elsewhere than an octave up,
    that difference is allowed for: 0 means that the fret sounds the cents it was set out for.

    The harmonic is the open stiff string's second partial, a little over twice its first. For hinged ends
    the fretted half and the second partial bend alike, so that stiffness drops out and stretch remains.
    """
    back, shift = np.asarray(setback, dtype=np.float64), np.asarray(nut_shift, dtype=np.float64)
    at = _open(wires, board, playing, back, shift)
    harmonic = partial_hz(
        2,
        at.tension,
        wires.mass_kg_m,
        at.length,
        bend_n_mm2=wires.bend_n_mm2,
        end_condition=playing.end_condition,
    )
    octave = octave_fret(board)
    # A temperament's fret need not be an octave: it is heard against the harmonic less its own distance from one.
    fretted = (
        _fretted_cents(wires, board, playing, back, shift, frets=slice(octave, octave + 1))[..., 0]
        + OCTAVE_CENTS
    )
    above: Floats = fretted - _CENTS * np.log(harmonic / wires.pitch_hz)
    return above


def bench_setback(
    wires: Wires,
    board: Board,
    playing: Playing,
    reading_cents: ArrayLike = 0.0,
    nut_shift: ArrayLike = 0.0,
) -> Floats:
    """Setback at which the note fretted at the 12th equals the 12th-fret harmonic, mm, shape (..., strings).

    The difference falls as the saddle goes back, by nearly 1200/ln 2 × (1/l_12 − 1/l) cents a mm. The first
    step takes that slope, which leaves a hundredth of the error; the next ones the slope found between the
    last two places (secant), until a step is under 1e-7 mm.

    Args:
        wires: the strings.
        board: the frets.
        playing: heights, finger, friction and ends.
        reading_cents: by how much the ear or tuner takes the fretted note too high when it sets them equal.
        nut_shift: nut moved towards the bridge, mm.

    Raises:
        StringsError: no setback does it for some string.
    """
    twelfth, shift = board.fret_x[:, octave_fret(board)], np.asarray(nut_shift, dtype=np.float64)
    misread = np.asarray(reading_cents, dtype=np.float64)
    shape = np.broadcast_shapes(
        wires.pitch_hz.shape, wires.mass_kg_m.shape, playing.action.shape, shift.shape
    )
    setback, before, error_before = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    # A string that no tension brings to pitch gives not-a-number, which is refused below by name.
    with np.errstate(invalid="ignore", divide="ignore"):
        for _ in range(_MAX_ROUNDS):
            error = octave_cents(wires, board, playing, setback, shift) + misread
            saddle, moved = board.scale + setback, setback - before
            expected = _CENTS * (1 / (saddle - shift) - 1 / (saddle - twelfth))
            far = np.abs(moved) > _SETTLED
            found = (error - error_before) / np.where(far, moved, 1.0)
            step = -error / np.where(far & (found < 0.5 * expected), found, expected)
            before, error_before = setback, error
            # No saddle goes back a tenth of the scale; beyond, the string is refused below.
            setback = np.clip(setback + step, -0.05 * board.scale, 0.1 * board.scale)
            if np.all(np.abs(step) < _SETTLED):
                return setback
            if np.all((np.abs(step) < _SETTLED) | np.isnan(step)):
                break
    raise StringsError(_no_place(step))


def _no_place(step: Floats) -> str:
    unsettled = ~(np.abs(step) < _SETTLED)
    strings = np.flatnonzero(unsettled.reshape(-1, step.shape[-1]).any(axis=0)) + 1
    names = ", ".join(str(no) for no in strings)
    which, they = (f"string {names}", "it is") if len(strings) == 1 else (f"strings {names}", "they are")
    return (
        f"no saddle place brings {which} into tune at the 12th fret: {they} too slack for the stiffness; "
        "take a thinner core, a heavier wrap or a higher note"
    )


def least_squares_setback(wires: Wires, board: Board, playing: Playing, nut_shift: ArrayLike = 0.0) -> Floats:
    """Setback that makes the sum of the squared cents over all frets least, mm, shape (..., strings).

    Gauss-Newton with slopes from differences of the same formulas.

    Raises:
        StringsError: it does not settle for some string.
    """
    shift = np.asarray(nut_shift, dtype=np.float64)
    setback = bench_setback(wires, board, playing, 0.0, shift)
    for _ in range(_MAX_ROUNDS):
        cents, slope = _cents_and_slope(wires, board, playing, setback, shift)
        step = -np.sum(cents * slope, axis=-1) / np.sum(slope * slope, axis=-1)
        setback = np.asarray(setback + step)
        if np.all(np.abs(step) < _SETTLED):
            return setback
    raise StringsError(_no_place(step))


def nut_and_saddle(wires: Wires, board: Board, playing: Playing) -> tuple[Floats, Floats]:
    """Nut shift and setback that together make the sum of the squared cents least, mm.

    Returns:
        (nut moved towards the bridge, saddle moved back), each of shape (..., strings).

    Raises:
        StringsError: it does not settle for some string.
    """
    setback = least_squares_setback(wires, board, playing)
    shift = np.zeros_like(setback)
    for _ in range(_MAX_ROUNDS):
        cents, by_saddle = _cents_and_slope(wires, board, playing, setback, shift)
        ahead = fretted_cents(wires, board, playing, setback, shift + _DIFFERENCE)
        behind = fretted_cents(wires, board, playing, setback, shift - _DIFFERENCE)
        by_nut = (ahead - behind) / (2 * _DIFFERENCE)
        nn, ns, ss = (
            (a * b).sum(-1) for a, b in ((by_nut, by_nut), (by_nut, by_saddle), (by_saddle, by_saddle))
        )
        n0, s0 = (by_nut * cents).sum(-1), (by_saddle * cents).sum(-1)
        determinant = nn * ss - ns * ns
        nut_step, saddle_step = (ns * s0 - ss * n0) / determinant, (ns * n0 - nn * s0) / determinant
        shift, setback = shift + nut_step, setback + saddle_step
        if np.all(np.maximum(np.abs(nut_step), np.abs(saddle_step)) < _SETTLED):
            return shift, setback
    raise StringsError(_no_place(saddle_step))


_DIFFERENCE = 0.01
"""Step of the differences, mm: slopes change by parts in ten thousand over it."""


def _cents_and_slope(
    wires: Wires, board: Board, playing: Playing, setback: Floats, shift: Floats
) -> tuple[Floats, Floats]:
    cents = fretted_cents(wires, board, playing, setback, shift)
    back = fretted_cents(wires, board, playing, setback + _DIFFERENCE, shift)
    forward = fretted_cents(wires, board, playing, setback - _DIFFERENCE, shift)
    return cents, (back - forward) / (2 * _DIFFERENCE)


def clearances(board: Board, playing: Playing, setback: ArrayLike = 0.0) -> tuple[Floats, Floats]:
    """Least height of the resting string over the frets, mm: (open, fretted).

    Returns:
        Open string over every fret, shape (..., strings, frets); string pressed at each fret but the last
        over the lowest-lying of the frets after it, shape (..., strings, frets − 1).
    """
    nut_z, slope = _line(board, playing, np.asarray(0.0))
    x, crowns = board.fret_x, playing.relief[..., np.newaxis] * _bow(board, board.fret_x)
    over_open = nut_z[..., np.newaxis] + slope[..., np.newaxis] * x - crowns
    saddle_x = (board.scale + np.asarray(setback, dtype=np.float64))[..., np.newaxis]
    saddle_z = saddle_height(board, playing, setback)[..., np.newaxis]
    least = []
    for k in range(x.shape[-1] - 1):
        rise = (saddle_z - crowns[..., k : k + 1]) / (saddle_x - x[..., k : k + 1])
        line = crowns[..., k : k + 1] + rise * (x[..., k + 1 :] - x[..., k : k + 1])
        least.append((line - crowns[..., k + 1 :]).min(axis=-1))
    return over_open, np.stack(least, axis=-1)
