"""The head as a solid: against hand-worked heads, places sampled in it, and a general CAD kernel (Open CASCADE)."""

from __future__ import annotations

from functools import cache
from math import cos, pi, radians, sin, tan
from typing import Any

import numpy as np
import pytest
import shapely
from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
from OCP.BRepOffsetAPI import BRepOffsetAPI_ThruSections
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from tests.authority.test_neck_carve import EXPONENTS, _section, carved
from tests.authority.test_solid_step import mass_of, read_back
from tests.kernel_shapes import common, fused, prism, volume
from tests.kind_jobs import faults_at

from scribeline.job import Stated, parse_job
from scribeline.layout import Point, Ring
from scribeline.plan import Plan, plan
from scribeline.solid.head_wood import HeadWood, head_wood
from scribeline.solid.neck_step import neck_steps
from scribeline.solid.sections import meshed

ANGLED: dict[str, Stated] = {
    "neck_blank__volute_height": 3.0,
    "neck_blank__volute_length": 60.0,
    "neck_blank__upright": 1.0,
}
STEPPED: dict[str, Stated] = {
    "head__face": "stepped",
    "head__step": 10.0,
    "head__thickness": 14.0,
    "head__back_curve": 30.0,
    "neck_blank__section": "soft v",
    "neck_blank__upright": 1.0,
}
CASES = {"angled, with a volute": ANGLED, "stepped, a soft v": STEPPED}


@cache
def headed(case: str) -> tuple[Plan, HeadWood]:
    """Fanned job: 12° back and 3 mm under a board of 6.4 mm, 15 thick; or level and 10 mm under it, 14 thick."""
    text = carved(**CASES[case])
    if case.startswith("stepped"):
        text = text.replace("angle = 12\n", "", 1)
    made = plan(*parse_job(text))
    wood = head_wood(made.job.document, made.layout, made.head)
    assert wood is not None
    return made, wood


def formula(case: str, made: Plan) -> Any:
    """Depth of the head's back under the glue line by docs/neck.md, from the job's stated numbers."""
    stepped = case.startswith("stepped")
    lean, face, thick, length = (0.0, 3.6, 14.0, 30.0) if stepped else (radians(12), -3.4, 15.0, 25.0)
    m = EXPONENTS["soft v" if stepped else "round"]
    one, twelve = made.layout.frets[0].along, made.layout.frets[11].along
    flat_at = length * cos(lean)

    def depth(x: Any, y: Any) -> Any:
        t = np.clip(-x / flat_at, 0.0, 1.0)
        s = t * t * (3 - 2 * t)
        near = np.maximum(x, -flat_at)
        c = 14.1 + 2.0 * (near - one) / (twelve - one)
        if not stepped:
            c = c + np.where(np.abs(near) < 30, 3.0 * np.cos(pi * near / 60) ** 2, 0.0)
        a = (49 + 19 * near / 478) / 2
        own = 1.0 + (c - 1.0) * (1 - np.minimum(np.abs(y / a), 1.0) ** m) ** (1 / m)
        return (1 - s) * own + s * (face - x * tan(lean) + thick / cos(lean))

    return depth, lean, face, thick, flat_at


@pytest.mark.parametrize("case", CASES)
def test_its_back_lies_on_the_formula(case: str) -> None:
    made, wood = headed(case)
    depth, lean, face, thick, flat_at = formula(case, made)
    x, y = np.meshgrid(np.linspace(-120.0, 0.0, 97), np.linspace(-40.0, 40.0, 81))
    assert wood.back.depth(x, y) == pytest.approx(depth(x, y), abs=1e-9)
    # At the nut it is the neck's own section, and beyond its curve as far under its face as the head is thick.
    assert wood.back.depth(0.0, y[:, 0]) == pytest.approx(wood.back.carve.depth(0.0, y[:, 0]), abs=1e-12)
    far = wood.back.flat_at - 10.0
    assert wood.back.flat_at == pytest.approx(-flat_at)
    assert (wood.back.depth(far, 0.0) - wood.back.front(far)) * cos(lean) == pytest.approx(thick, abs=1e-12)
    assert wood.back.front(0.0) == pytest.approx(face, abs=1e-12)


@pytest.mark.parametrize("case", CASES)
def test_volume_against_a_general_kernel(case: str) -> None:
    """The head lofted by the kernel from the formula and the job's numbers alone: within 0.1 %, holes and nut's seat with it."""
    made, wood = headed(case)
    depth, lean, face, thick, flat_at = formula(case, made)
    place = made.layout.head
    assert place is not None
    head = made.job.document.head
    assert head is not None
    t = np.linspace(-1, 1, 121)
    shares = np.sign(t) * (1 - (1 - np.abs(t)) ** 2.5)
    middle, level = BRepOffsetAPI_ThruSections(True, True), BRepOffsetAPI_ThruSections(True, True)
    for x in np.linspace(-flat_at, 0.0, 33).tolist():
        a = (49 + 19 * x / 478) / 2
        middle.AddWire(_section(x, a, depth(x, a * shares), shares))
        edge = float(depth(x, a))
        level.AddWire(_section(x, 60.0, np.array([edge, edge]), np.array([-1.0, 1.0])))
    tip = min(corner.x for corner in place.outline) - 5.0
    plate = _leaning(prism(place.outline, -thick, 0.0, arcs=True), lean, face)
    far = _box(tip, -flat_at, -90.0, 30.0)
    near = fused(middle.Shape(), level.Shape())
    over = _box(-flat_at, 0.0, 0.0, 30.0)
    deep = _leaning(prism(place.outline, -thick - 8.0, 0.0, arcs=True), lean, face)
    whole = volume(common(plate, far)) + volume(common(deep, near)) + volume(common(deep, over))
    holes = len(place.posts) * pi * head.hole.mm**2 / 4 * thick
    seat = _seat_by_hand(made, wood, face, lean)
    expected = whole - holes + seat
    told, along = wood.volume()
    assert told == pytest.approx(expected, rel=1e-3)
    mesh = meshed(wood.solid())
    assert mesh.volume_mm3 == pytest.approx(expected, rel=1e-3)
    assert mesh.centroid.x == pytest.approx(along, abs=0.05)


def _seat_by_hand(made: Plan, wood: HeadWood, face: float, lean: float) -> float:
    """What stands over the head's face for the nut: none in this job, whose nut is bought."""
    assert made.job.document.nut.thickness is None or made.job.document.nut.thickness > 0
    found = 0.0
    for seat in wood.seats:
        shape = shapely.intersection(shapely.Polygon(seat.outline), wood.shape)
        x, y = (axis.ravel() for axis in np.meshgrid(np.linspace(-40, 0, 1601), np.linspace(-40, 40, 801)))
        inside = shapely.contains_xy(shape, x, y)
        tall = np.minimum(face - x * tan(lean), wood.back.depth(x, y)) - seat.under
        found += float(np.maximum(tall[inside], 0.0).sum()) * (40 / 1600) * (80 / 800)
    return found


def _leaning(shape: Any, lean: float, face: float) -> Any:
    turned, lifted = gp_Trsf(), gp_Trsf()
    turned.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 1, 0)), -lean)
    lifted.SetTranslation(gp_Vec(0, 0, -face))
    return BRepBuilderAPI_Transform(shape, lifted.Multiplied(turned), True).Shape()


def _box(low: float, high: float, bottom: float, top: float) -> Any:
    ring = Ring(Point(*at) for at in ((low, -70.0), (high, -70.0), (high, 70.0), (low, 70.0)))
    return prism(ring, bottom, top)


def test_wood_sampled_in_it() -> None:
    """Places on a fine lattice, each asked whether it is wood by the head's own description: within 0.1 % of the volume."""
    made, wood = headed("angled, with a volute")
    depth, lean, face, thick, _ = formula("angled, with a volute", made)
    place = made.layout.head
    assert place is not None
    shape = shapely.Polygon(place.outline)
    shapely.prepare(shape)
    left, low, _, high = shape.bounds
    step = 0.5
    found = 0
    for along in np.arange(left - 1, 6.0, step) + step / 2:  # along the face
        y, q = (
            axis.ravel()
            for axis in np.meshgrid(np.arange(low, high, step) + step / 2, np.arange(0, 30, step) + step / 2)
        )
        x = along * cos(lean) + q * sin(lean)
        under = face - along * sin(lean) + q * cos(lean)
        in_plan = shapely.contains_xy(shape, np.full_like(y, min(along, -1e-9)), y) if along < 0 else y > 1e9
        found += int((in_plan & (x < 0) & (under < depth(x, y))).sum())
    holes = sum(pi * bore.widest**2 / 4 * thick for bore in wood.piece.features.bores if bore.through)
    seats = _seat_by_hand(made, wood, face, lean)
    assert wood.volume()[0] == pytest.approx(found * step**3 - holes + seats, rel=1e-3)


@pytest.mark.parametrize("case", CASES)
def test_its_step_file_is_whole(case: str, tmp_path: Any) -> None:
    from OCP.BRepCheck import BRepCheck_Analyzer

    made, wood = headed(case)
    shape = read_back(neck_steps(made.job.document, made.layout, made.head)["head.step"], tmp_path)
    assert BRepCheck_Analyzer(shape).IsValid()
    assert mass_of(shape)[0] == pytest.approx(wood.volume()[0], rel=1e-4)


def test_a_nut_stands_on_its_seat_behind_a_step() -> None:
    """A straight board's nut 6 mm thick on the glue line over a face 3.6 mm lower: a block as wide as the nut, but for the neck's
    round edges, stands behind its front, as high as the face lies under the glue line."""
    text = "".join(
        line
        for line in carved(**STEPPED, nut__thickness=6.0).splitlines(keepends=True)
        if not line.startswith(("bass_length", "square_fret", "angle = 12", "seat"))
    )
    made = plan(*parse_job(text))
    wood = head_wood(made.job.document, made.layout, made.head)
    assert wood is not None
    (seat,) = wood.seats
    assert seat.under == pytest.approx(0.0, abs=1e-12)
    assert sorted({round(x, 9) for x, _ in seat.outline}) == [-6.0, 0.0]
    assert {round(abs(y), 9) for _, y in seat.outline} == {24.5}
    bare = HeadWood(wood.piece, wood.back, (), wood.channels)
    stands = wood.volume()[0] - bare.volume()[0]
    assert 0.9 * 6.0 * 49.0 * 3.6 < stands <= 6.0 * 49.0 * 3.6
    assert meshed(wood.solid()).volume_mm3 - meshed(bare.solid()).volume_mm3 == pytest.approx(
        stands, rel=1e-2
    )


def test_a_channel_runs_on_into_it() -> None:
    """A rod's channel 6.4 mm wide and 9.5 deep from 12 mm before the nut: 12 · 6.4 · (9.5 + 3.4 − 6 tan 12°) of wood less, and
    what the nut's seat has over the leaning face there: 6.4 · 6.17² / 2 · tan 12°, the nut being 6 mm thick and 13.5° aslant.
    """
    _, wood = headed("angled, with a volute")
    longer = plan(*parse_job(carved(**ANGLED, neck__rod_from=-12.0)))
    other = head_wood(longer.job.document, longer.layout, longer.head)
    assert other is not None
    taken = wood.volume()[0] - other.volume()[0]
    by_hand = 6.4 * (12 * (9.5 + 3.4 - 6 * tan(radians(12))) + 6.17**2 / 2 * tan(radians(12)))
    assert taken == pytest.approx(by_hand, rel=0.005)
    assert meshed(wood.solid()).volume_mm3 - meshed(other.solid()).volume_mm3 == pytest.approx(
        taken, rel=1e-3
    )


@pytest.mark.parametrize("handed", ["right", "left"])
def test_left_is_its_mirror(handed: str) -> None:
    made = plan(*parse_job(carved(**ANGLED, handed=handed)))
    wood = head_wood(made.job.document, made.layout, made.head)
    assert wood is not None
    assert wood.volume() == pytest.approx(headed("angled, with a volute")[1].volume(), rel=1e-9)


def test_a_back_still_curved_under_a_tuner_is_refused() -> None:
    """First post 46 mm from the nut, housing 15: flat from 38.5 mm on."""
    (told,) = faults_at(carved(head__back_curve=39.0), "head")
    assert "housing begins 38.5" in told
    parse_job(carved(head__back_curve=38.5))
