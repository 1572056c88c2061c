"""Clearances held to a general CAD kernel: Open CASCADE's distance between two shapes, on whole bodies.

The kernel measures between two real places, so it can only be too large, and on a cone's side it sometimes is: it
takes the tip for the nearest place. Where it does, the places named here are asked back of it: each must lie on the
kernel's own shape, which proves the shorter distance.
"""

from __future__ import annotations

from math import cos, dist, pi, radians, sin, tan
from random import Random

import pytest
from tests import kernel_shapes as kernel
from tests.torture import long

from scribeline.features import DOWN, UP, Bit, Bore, Features, Pocket, Step, rounded
from scribeline.layout import Point, Point3, Ring
from scribeline.plan import Plan
from scribeline.solid import Web, find_outside, find_webs

THICKNESS = 44.0
AGREED = 0.01
"""How near the two must come, mm."""

BOUND = 1.1e-4
"""Distances of slanting bores are bounds within 0.0001 mm."""


def egg(random: Random) -> Ring:
    """A body of 40 corners, hollow on one side."""
    wide, long, waist = random.uniform(60, 80), random.uniform(80, 110), random.uniform(0.0, 0.25)
    turns = [2 * pi * k / 40 for k in range(40)]
    return Ring(
        Point(long * cos(t) * (1 - waist * sin(t) ** 4), wide * sin(t) * (1 - waist * cos(t) ** 2))
        for t in turns
    )


def upright(random: Random, name: str, place: Point) -> Bore:
    top = random.random() < 0.5
    wide, depth = random.uniform(3, 20), random.uniform(3, 15)
    steps = [Step(wide, depth, Bit("flat-bottomed", wide, random.choice([0.0, 1.5])))]
    if random.random() < 0.6:
        narrow = random.uniform(0.3, 0.8) * wide
        point = narrow / 2 / tan(radians(59))
        steps.append(Step(narrow, depth + random.uniform(2, 22), Bit("twist", narrow, point)))
    at = Point3(*place, 0.0 if top else -THICKNESS)
    return Bore(name, name, name, "top" if top else "back", at, DOWN if top else UP, tuple(steps))


def slanting(random: Random, name: str, place: Point) -> Bore:
    lean, heading, wide = radians(random.uniform(20, 75)), random.uniform(0, 2 * pi), random.uniform(3, 8)
    axis = Point3(cos(heading) * cos(lean), sin(heading) * cos(lean), -sin(lean))
    step = Step(wide, random.uniform(30, 60), Bit("twist", wide, wide / 2 / tan(radians(59))))
    return Bore(name, name, name, "top", Point3(*place, 0.0), axis, (step,))


def pocket(random: Random, name: str, place: Point) -> Pocket:
    wide, tall = random.uniform(10, 40), random.uniform(10, 30)
    x, y, c, s = *place, cos(turn := random.uniform(0, pi)), sin(turn)
    corners = [(u * wide / 2, v * tall / 2) for u, v in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    if random.random() < 0.4:  # a corner bitten out: not convex
        corners[2:3] = [(wide / 2, 0.0), (0.1 * wide, 0.0), (0.1 * wide, tall / 2)]
    ring = rounded(Ring(Point(x + u * c - v * s, y + u * s + v * c) for u, v in corners), 3)
    top = random.random() < 0.5
    return Pocket(name, name, "top" if top else "back", ring, random.uniform(4, 36), 3)


def a_body(seed: int) -> tuple[Ring, Features]:
    random = Random(seed)
    made = [
        make(random, f"{make.__name__}-{n}", Point(random.uniform(-70, 70), random.uniform(-50, 50)))
        for n in range(4)
        for make in (upright, slanting, pocket)
    ]
    bores = tuple(f for f in made if isinstance(f, Bore))
    return egg(random), Features(bores, tuple(f for f in made if isinstance(f, Pocket)))


def agree(mm: float, places: tuple[Point3, Point3] | None, one: object, other: object) -> bool:
    """Holds a distance to the kernel's; tells whether the kernel found as short a one."""
    found = kernel.distance(one, other)
    assert mm <= found.mm + BOUND
    if mm >= found.mm - AGREED:
        return True
    assert places is not None
    assert dist(*places) <= mm + AGREED
    assert kernel.off(places[0], one) < AGREED
    assert kernel.off(places[1], other) < AGREED
    return False


@pytest.mark.parametrize("seed", [*range(3), *long(*range(3, 6))])
def test_all_pairs_of_a_body(seed: int) -> None:
    _, features = a_body(seed)
    shapes = {f.id: kernel.cut(f, THICKNESS) for f in features}
    webs: tuple[Web, ...] = find_webs(features, THICKNESS, near=1e6)
    assert len(webs) == 12 * 11 / 2
    same = [agree(web.mm, web.places, shapes[web.a], shapes[web.b]) for web in webs]
    assert sum(same) >= 0.98 * len(same)


@pytest.mark.parametrize("seed", [*range(3), *long(*range(3, 6))])
def test_every_cut_and_the_outside(seed: int) -> None:
    outline, features = a_body(seed)
    around, board = kernel.wall(outline, THICKNESS), kernel.prism(outline, -THICKNESS, 0.0)
    faces = {"top": kernel.level(outline, -THICKNESS), "back": kernel.level(outline, 0.0)}
    same = []
    for feature, found in zip(features, find_outside(features, outline, THICKNESS), strict=True):
        shape = kernel.cut(feature, THICKNESS)
        beyond = kernel.volume(kernel.less(shape, kernel.slab(THICKNESS)))
        aside = kernel.volume(kernel.less(shape, board)) - beyond
        assert (found.to_opposite < 0) == (beyond > 1e-6)
        assert (found.to_edge < 0) == (aside > 1e-6)
        if found.to_edge > 0:
            same.append(agree(found.to_edge, found.edge_places, shape, around))
        if found.to_opposite > 0 and found.to_edge > 0:
            same.append(agree(found.to_opposite, found.opposite_places, shape, faces[feature.face]))
    assert len(same) >= 5
    assert sum(same) >= 0.9 * len(same)


def test_the_demo(shipped_plan: Plan) -> None:
    layout = shipped_plan.layout
    cuts = [f for f in shipped_plan.features if f.face in {"top", "back"}]
    whole = Features(
        tuple(f for f in cuts if isinstance(f, Bore)), tuple(f for f in cuts if isinstance(f, Pocket))
    )
    shapes = {f.id: kernel.cut(f, layout.thickness) for f in whole}
    webs = find_webs(whole, layout.thickness)
    same = [agree(web.mm, web.places, shapes[web.a], shapes[web.b]) for web in webs]
    assert len(same) > 30
    assert sum(same) >= 0.9 * len(same)
