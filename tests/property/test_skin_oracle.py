"""The wood between a cut and a carved surface, held to dense sampling that shares nothing with the engine.

On a round body every surface has a height of its own in closed form. The oracle lays a grid on each of them, measures
every sample against the cut by the textbook distance of a point from a cylinder or a box, and lays finer grids about
the nearest. What it finds is the distance of a real place of the surface, so it can only be too large; its last grid
leaves it too large by far less than `RESOLUTION`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import cos, pi, radians, sin
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from tests.torture import long

from scribeline.job import Body
from scribeline.layout import BodyForm, Point, Ring
from scribeline.layout.surfaces import body_form
from scribeline.solid import Skin
from scribeline.solid.shapes import Prism, Shape, Turned

Floats = NDArray[np.float64]
Heights = Callable[[Floats, Floats], tuple[Floats, NDArray[np.bool_]]]

RADIUS, THICK = 160.0, 44.0
OUTLINE = Ring(Point(RADIUS * cos(a), RADIUS * sin(a)) for a in (2 * pi * np.arange(1440) / 1440).tolist())
RESOLUTION = 0.003
SIDES = 5e-4
"""The outline's 1,440 sides lie within this of the circle the oracle knows, mm: R (1 − cos(π/1440))."""

NEAR = 15.0


def form(**keys: Any) -> BodyForm:
    stated = {"thickness": THICK, "timber": "ash-white", "outline": {"shape": "x", "tail": 800}, **keys}
    return body_form(Body.model_validate(stated), OUTLINE)


# --- The oracle.


def _bevel(off: float, turn: float, angle: float, up: float) -> Heights:
    """Of a plane that begins `off` from the middle, to the side of `turn`."""

    def heights(x: Floats, y: Floats) -> tuple[Floats, NDArray[np.bool_]]:
        beyond = x * cos(turn) + y * sin(turn) - off
        face = 0.0 if up > 0 else -THICK
        return face - up * beyond * np.tan(angle), (beyond >= 0) & (np.hypot(x, y) <= RADIUS)

    return heights


def _arch(rows: list[tuple[float, float]]) -> Heights:
    def heights(x: Floats, y: Floats) -> tuple[Floats, NDArray[np.bool_]]:
        inset = RADIUS - np.hypot(x, y)
        return np.interp(inset, [r[0] for r in rows], [r[1] for r in rows]), inset >= 0

    return heights


def _round(radius: float, up: float) -> Heights:
    def heights(x: Floats, y: Floats) -> tuple[Floats, NDArray[np.bool_]]:
        inset = np.clip(RADIUS - np.hypot(x, y), 0, radius)
        drop = radius - np.sqrt(radius**2 - (radius - inset) ** 2)
        face = 0.0 if up > 0 else -THICK
        inside = (np.hypot(x, y) <= RADIUS) & (np.hypot(x, y) >= RADIUS - radius)
        return face - up * drop, inside

    return heights


def _level(box: tuple[float, float, float, float], height: float, *, outside: bool) -> Heights:
    def heights(x: Floats, y: Floats) -> tuple[Floats, NDArray[np.bool_]]:
        inside = (x >= box[0]) & (x <= box[2]) & (y >= box[1]) & (y <= box[3])
        return np.full_like(x, height), (~inside if outside else inside) & (np.hypot(x, y) <= RADIUS)

    return heights


Off = Callable[[Floats], Floats]


def off_cylinder(at: Floats, axis: Floats, radius: float, length: float) -> Off:
    def off(p: Floats) -> Floats:
        along = (p - at) @ axis
        out = np.linalg.norm(p - at - along[:, np.newaxis] * axis, axis=1)
        return np.asarray(
            np.hypot(np.maximum(0, out - radius), np.maximum(0, np.maximum(-along, along - length)))
        )

    return off


def off_box(low: Floats, high: Floats) -> Off:
    def off(p: Floats) -> Floats:
        return np.asarray(np.linalg.norm(np.maximum(0, np.maximum(low - p, p - high)), axis=1))

    return off


def sampled(surface: Heights, off: Off) -> float:
    """The least distance of a surface from a cut."""

    def measured(x: Floats, y: Floats) -> Floats:
        z, there = surface(x, y)
        return np.where(there, off(np.column_stack([x, y, z])), np.inf)

    span = np.linspace(-RADIUS, RADIUS, 161)
    x, y = (grid.ravel() for grid in np.meshgrid(span, span))
    # The rim itself, which no square grid holds.
    turns = np.linspace(0, 2 * pi, 2000)
    x, y = (
        np.concatenate([own, RADIUS * (1 - 1e-12) * rim])
        for own, rim in ((x, np.cos(turns)), (y, np.sin(turns)))
    )
    mm = measured(x, y)
    best = float(mm.min())
    for start in np.argsort(mm)[:5]:
        px, py, width = x[start], y[start], 2.5
        while width > 2e-5:
            grid = np.linspace(-width, width, 13)
            gx, gy = (g.ravel() for g in np.meshgrid(px + grid, py + grid))
            near = measured(gx, gy)
            k = int(np.argmin(near))
            px, py, best = gx[k], gy[k], min(best, float(near[k]))
            width /= 3.0
    return best


def _walls(box: tuple[float, float, float, float], low: float, off: Off) -> float:
    """The least distance of the upright walls between a recess and the top around it."""
    ring = shapely.segmentize(shapely.box(*box).exterior, 0.25)
    flat = shapely.get_coordinates(ring)
    z = np.linspace(low, 0.0, 21)
    places = np.column_stack([np.repeat(flat, len(z), axis=0), np.tile(z, len(flat))])
    return float(off(places).min())


# --- Cuts and bodies.


def cut(rng: np.random.Generator) -> tuple[Shape, Off]:
    """A buried cylinder of any direction, or a box."""
    turn, out = rng.uniform(0, 2 * pi), RADIUS * np.sqrt(rng.uniform(0, 0.9))
    at = np.array([out * cos(turn), out * sin(turn), rng.uniform(-THICK + 2, -2)])
    if rng.uniform() < 0.3:
        size = rng.uniform([4, 4, 3], [50, 50, 15])
        low, high = at - size / 2, at + size / 2
        prism = Prism(shapely.box(low[0], low[1], high[0], high[1]), float(low[2]), float(high[2]))
        return Shape(prisms=(prism,)), off_box(low, high)
    axis = rng.normal(size=3) * [1, 1, 0.4]
    if rng.uniform() < 0.25:
        axis = np.array([0.0, 0, rng.choice([-1.0, 1.0])])
    axis /= np.linalg.norm(axis)
    radius, length = rng.uniform(1, 8), rng.uniform(5, 60)
    turned = Turned(tuple(at.tolist()), tuple(axis.tolist()), (0.0, length, length), (radius, radius, radius))
    return Shape(turned=(turned,)), off_cylinder(at, axis, radius, length)


def bodies(rng: np.random.Generator) -> Iterator[tuple[BodyForm, list[tuple[str, Heights]], str]]:
    """A carved body, and each of its surfaces by name."""
    off, turn, angle = rng.uniform(20, 130), rng.uniform(0, 2 * pi), rng.uniform(2, 35)
    face = str(rng.choice(["top", "back"]))
    foot, along = (
        off * np.array([cos(turn), sin(turn)]),
        300 * np.array([-sin(turn), cos(turn)]),
    )
    line = [tuple((foot + along).tolist()), tuple((foot - along).tolist())]
    bevel = {"name": "belly", "face": face, "line": line, "angle": angle}
    up = 1.0 if face == "top" else -1.0
    yield form(bevels=[bevel]), [("the belly bevel", _bevel(off, turn, radians(angle), up))], "bevel"
    rows = [
        (0.0, -rng.uniform(3, 9)),
        (rng.uniform(10, 30), -rng.uniform(0.5, 2.5)),
        (rng.uniform(40, 90), 0.0),
    ]
    yield form(top={"kind": "arched", "profile": rows}), [("the arched top", _arch(rows))], "arch"
    radius = rng.uniform(3, 12)
    yield form(roundover={face: radius}), [(f"the {face}'s rounded edge", _round(radius, up))], "round"


@pytest.mark.parametrize("seed", [*range(2), *long(*range(2, 16))])
def test_gaps_agree_with_dense_sampling(seed: int) -> None:
    rng = np.random.default_rng(seed)
    for body, surfaces, kind in bodies(rng):
        skin = Skin(body)
        for _ in range(4):
            shape, off = cut(rng)
            gaps = {gap.surface: gap for gap in skin.gaps(shape, NEAR)}
            for name, heights in surfaces:
                true = sampled(heights, off)
                gap = gaps.get(name)
                if gap is None:
                    assert true > NEAR - SIDES or kind == "round"
                    if kind == "round" and true < NEAR:
                        # Not told only where the wall or the flat face is nearer.
                        up = 1.0 if name.startswith("the top") else -1.0
                        flat = sampled(_flat(up), off)
                        assert min(flat, _to_rim(off)) <= true + SIDES
                    continue
                if true == 0.0:
                    assert gap.mm <= 0.0
                    continue
                assert gap.mm <= true + SIDES  # never a false clear
                assert gap.mm >= true - 0.01 - RESOLUTION
                on_cut, on_surface = np.array(gap.places[0]), np.array(gap.places[1])
                assert off(on_cut[np.newaxis])[0] < 2e-3
                z, _ = heights(*(np.array([p]) for p in on_surface[:2].tolist()))
                assert abs(z[0] - on_surface[2]) < 0.02 or kind == "round"


def _flat(up: float) -> Heights:
    def heights(x: Floats, y: Floats) -> tuple[Floats, NDArray[np.bool_]]:
        return np.full_like(x, 0.0 if up > 0 else -THICK), np.hypot(x, y) <= RADIUS

    return heights


def _to_rim(off: Off) -> float:
    turns = np.linspace(0, 2 * pi, 4001)
    z = np.linspace(-THICK, 0, 45)
    ring = np.column_stack([RADIUS * np.cos(turns), RADIUS * np.sin(turns)])
    return float(off(np.column_stack([np.repeat(ring, 45, axis=0), np.tile(z, 4001)])).min())


@pytest.mark.parametrize("seed", range(20))
def test_a_stepped_top_counts_its_floors_and_its_walls(seed: int) -> None:
    rng = np.random.default_rng(seed)
    box = (*rng.uniform(-60, -10, 2).tolist(), *rng.uniform(10, 60, 2).tolist())
    low = -rng.uniform(2, 12)
    corners = [(box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])]
    skin = Skin(form(top={"kind": "stepped", "areas": [{"name": "rout", "outline": corners, "height": low}]}))
    for _ in range(6):
        shape, off = cut(rng)
        floor, around = (
            sampled(_level(box, low, outside=False), off),
            sampled(_level(box, 0.0, outside=True), off),
        )
        true = min(floor, around, _walls(box, low, off))
        gaps = [gap.mm for gap in skin.gaps(shape, 60.0)]
        if true == 0.0:
            assert min(gaps) <= 0.0
        elif true < 60.0:
            assert min(gaps) <= true + SIDES
            assert min(gaps) >= true - 0.02  # walls are sampled every quarter of a millimetre
