"""Carved and layered bodies against mensuration worked by hand.

A bevel that begins L from a straight edge at angle a takes ½ L² tan a a length; a spherical cap of height h over a
circle of radius a holds π h (3 a² + h²)/6; a quarter-round of radius r takes (1 − π/4) r² off a square edge, and over
a mitred corner ∫ x² dz = r³ (5/3 − π/2) (any handbook of mensuration; the integral worked here: x = r(1 − cos t),
dz = r cos t dt). The tolerance asked for is 0.1 % of the volume; flat faces are held to rounding.
"""

from __future__ import annotations

from collections import Counter
from math import cos, pi, radians, sin, sqrt, tan
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from scribeline.features import UP, Bit, Bore, Feature, Pocket, Step
from scribeline.job import Body as Statement
from scribeline.layout import BodyForm, Point, Point3, Ring
from scribeline.layout.surfaces import body_form
from scribeline.plan import Plan
from scribeline.solid.body import Body, make_body
from scribeline.solid.faults import BodyError
from scribeline.solid.step import step_file
from scribeline.solid.weight import Density, WeightError, layer_densities, weigh

LONG, WIDE, THICK = 300.0, 200.0, 40.0
BOX = Ring([Point(0, 0), Point(LONG, 0), Point(LONG, WIDE), Point(0, WIDE)])
STOCK = LONG * WIDE * THICK
ROUNDING = 1e-9
TENTH_PERCENT = 1e-3


def form(outline: Ring = BOX, **keys: Any) -> BodyForm:
    stated = {
        "thickness": f"{THICK} +/- 0.1",
        "timber": "ash-white",
        "outline": {"shape": "x", "tail": 800},
        **keys,
    }
    return body_form(Statement.model_validate(stated), outline)


def solid(body: BodyForm, *cuts: Feature) -> Body:
    made = make_body(body.outline, THICK, cuts, form=body)
    edges: Counter[tuple[int, int]] = Counter()
    for a, b, c in made.mesh.triangles.tolist():
        edges.update(((a, b), (b, c), (c, a)))
    assert all(count == 1 and edges[b, a] == 1 for (a, b), count in edges.items())  # watertight
    return made


@pytest.mark.parametrize("angle", [3.0, 12.0, 20.0])
@pytest.mark.parametrize("face", ["top", "back"])
def test_a_bevel_takes_a_wedge(angle: float, face: str) -> None:
    made = solid(form(bevels=[{"name": "b", "face": face, "line": [(0, 60), (LONG, 60)], "angle": angle}]))
    wedge = 0.5 * 60**2 * tan(radians(angle)) * LONG
    assert made.carved[0].role == "the b bevel"
    assert made.carved[0].volume_mm3 == pytest.approx(wedge, rel=ROUNDING)
    assert made.mesh.volume_mm3 == pytest.approx(STOCK - wedge, rel=ROUNDING)
    # The wedge's own centre: a third of the way in from the edge, a third of its height under the face.
    height = 60 * tan(radians(angle))
    z = -height / 3 if face == "top" else height / 3 - THICK
    moment = STOCK * np.array([150, 100, -20]) - wedge * np.array([150, 20, z])
    assert made.mesh.centroid == pytest.approx(tuple(moment / (STOCK - wedge)), abs=1e-9)


def test_a_bevel_as_deep_as_the_body_leaves_a_feather_edge() -> None:
    made = solid(form(bevels=[{"name": "b", "face": "top", "line": [(0, 60), (LONG, 60)], "depth": THICK}]))
    assert made.mesh.volume_mm3 == pytest.approx(STOCK - 0.5 * 60 * THICK * LONG, rel=ROUNDING)


def test_a_slanting_line_takes_a_pyramid() -> None:
    # The line cuts a corner off: legs 120 and 90 mm, so 72 mm from the corner; at the corner the plane is 15 deep.
    made = solid(form(bevels=[{"name": "b", "face": "top", "line": [(120, 0), (0, 90)], "depth": 15}]))
    assert made.carved[0].volume_mm3 == pytest.approx(120 * 90 / 2 * 15 / 3, rel=1e-7)


def area(name: str, x: float, y: float, w: float, h: float, height: float) -> dict[str, Any]:
    return {
        "name": name,
        "outline": [(x, y), (x + w, y), (x + w, y + h), (x, y + h)],
        "height": height,
    }


@pytest.mark.parametrize(
    ("areas", "volume"),
    [
        ([area("recess", 50, 50, 100, 60, -7)], STOCK - 100 * 60 * 7),
        ([area("edge", 0, 0, 100, 60, -7)], STOCK - 100 * 60 * 7),  # along two walls of the body
        ([area("over", -20, -20, 120, 80, -7)], STOCK - 100 * 60 * 7),  # and beyond them
        ([area("block", 50, 50, 100, 60, 5)], STOCK + 100 * 60 * 5),
        ([area("low", 40, 40, 120, 100, -6), area("high", 60, 60, 40, 40, 4)], STOCK - 12000 * 6 + 1600 * 10),
        ([area("all", -5, -5, 310, 210, -6)], STOCK - LONG * WIDE * 6),
    ],
)
def test_a_stepped_top_is_boxes(areas: list[dict[str, Any]], volume: float) -> None:
    made = solid(form(top={"kind": "stepped", "areas": areas}))
    assert made.mesh.volume_mm3 == pytest.approx(volume, rel=ROUNDING)


def circle(radius: float, count: int = 720) -> Ring:
    return Ring(
        Point(150 + radius * cos(a), 100 + radius * sin(a))
        for a in (2 * pi * np.arange(count) / count).tolist()
    )


def test_a_spherical_cap_holds_its_formula() -> None:
    a, h = 90.0, 8.0
    sphere = (a * a + h * h) / (2 * h)

    def cap(inset: float) -> float:
        return sqrt(sphere**2 - (a - inset) ** 2) - sphere

    # The cap as rows 2 mm apart: straight between them it lies 2²/(8 R) = 0.001 mm under the sphere at the most.
    rows = [(float(i), cap(float(i))) for i in np.arange(0.0, 89.0, 2.0)]
    made = solid(form(circle(a), top={"kind": "arched", "profile": rows}))
    wood = pi * a**2 * (THICK - h) + pi * h * (3 * a**2 + h**2) / 6
    assert made.mesh.volume_mm3 == pytest.approx(wood, rel=TENTH_PERCENT)
    assert made.mesh.volume_mm3 < wood  # chords lie inside the sphere and inside the circle


def test_contours_hold_stacked_cones() -> None:
    # Lines of radius 90, 60, 20 at -9, -3, 0: two frusta, π h (R² + R r + r²)/3.
    rings = [[(p.x, p.y) for p in circle(r, 480)] for r in (60.0, 20.0)]
    lines = [{"outline": rings[0], "height": -3}, {"outline": rings[1], "height": 0}]
    made = solid(form(circle(90.0, 720), top={"kind": "arched", "edge_height": -9, "contours": lines}))
    wood = (
        pi * 90**2 * (THICK - 9)
        + pi * 6 * (90**2 + 90 * 60 + 60**2) / 3
        + pi * 3 * (60**2 + 60 * 20 + 20**2) / 3
    )
    assert made.mesh.volume_mm3 == pytest.approx(wood, rel=TENTH_PERCENT)


@pytest.mark.parametrize(("top", "back"), [(6.0, 0.0), (0.0, 10.0), (12.0, 3.0)])
def test_rounded_edges_take_quarter_rounds(top: float, back: float) -> None:
    made = solid(form(roundover={"top": top, "back": back}))
    taken = sum(2 * (LONG + WIDE) * (1 - pi / 4) * r**2 - 4 * (5 / 3 - pi / 2) * r**3 for r in (top, back))
    # Chords within 0.004 mm of the arc: two thirds of that over the arc's length, all round the body, is what they cut off.
    off = made.mesh.volume_mm3 - (STOCK - taken)
    assert -sum(0.004 * 2 / 3 * pi / 2 * r * 2 * (LONG + WIDE) for r in (top, back)) < off <= 0
    assert abs(off) < TENTH_PERCENT * STOCK


def test_a_roundover_at_a_corner_that_turns_inwards_goes_round_it() -> None:
    # An L: one corner turns in, and there the edge is swept round a quarter turn (Pappus: area × path of its centroid).
    r = 8.0
    ell = Ring([Point(0, 0), Point(200, 0), Point(200, 80), Point(80, 80), Point(80, 200), Point(0, 200)])
    made = solid(form(ell, roundover={"top": r}))
    straight = (800 * (1 - pi / 4)) * r**2
    outer = 5 * (5 / 3 - pi / 2) * r**3
    # ∫ π/2 · x dx over the section, x from the corner: a quarter turn of its first moment about the corner.
    moment = (5 / 3 - pi / 2) * r**3 / 2
    assert stock_of(ell) - made.mesh.volume_mm3 == pytest.approx(straight - outer + pi / 2 * moment, rel=3e-3)


def stock_of(ring: Ring) -> float:
    twice = sum(a.x * b.y - b.x * a.y for a, b in zip(ring, ring[1:] + ring[:1], strict=True))
    return twice / 2 * THICK


LAYERS = [
    {"name": "cap", "timber": "maple-sugar", "thickness": "6 +/- 0.1"},
    {"name": "core", "timber": "ash-white", "thickness": "34 +/- 0.1"},
]
TRAY = Pocket("tray", "tray", "top", Ring([Point(0, 0), Point(100, 0), Point(100, 50), Point(0, 50)]), 20, 0)
HOLE = Bore("hole", "hole", "h", "back", Point3(200, 100, -THICK), UP, (Step(10, 37, Bit("twist", 10, 0)),))


def test_layers_weigh_by_their_own_timber() -> None:
    # Wood Handbook FPL-GTR-282, Table 5-3b: sugar maple 0.63, white ash 0.60 at 12 %: 705.6 and 672 kg/m³.
    body = form(layers=LAYERS)
    made = solid(body, TRAY, HOLE)
    found = weigh(made, *layer_densities(body))
    tray = (100 * 50 * 6, 100 * 50 * 14)
    hole = (pi * 25 * 3, pi * 25 * 34)
    cap, core = LONG * WIDE * 6 - tray[0] - hole[0], LONG * WIDE * 34 - tray[1] - hole[1]
    assert [layer.kg for layer in found.layers] == pytest.approx([cap * 705.6e-9, core * 672e-9], rel=1e-9)
    assert found.kg == pytest.approx(cap * 705.6e-9 + core * 672e-9)
    assert found.blank_kg == pytest.approx(LONG * WIDE * (6 * 705.6 + 34 * 672) * 1e-9)
    assert [r.kg for r in found.removed] == pytest.approx(
        [part[0] * 705.6e-9 + part[1] * 672e-9 for part in (tray, hole)]
    )
    # Centre of mass by moments of boxes and cylinders.
    parts = [
        (LONG * WIDE * 6 * 705.6, (150, 100, -3)),
        (LONG * WIDE * 34 * 672, (150, 100, -23)),
        (-tray[0] * 705.6, (50, 25, -3)),
        (-tray[1] * 672, (50, 25, -13)),
        (-hole[0] * 705.6, (200, 100, -4.5)),
        (-hole[1] * 672, (200, 100, -23)),
    ]
    total = sum(weight for weight, _ in parts)
    centre = [sum(weight * at[k] for weight, at in parts) / total for k in range(3)]
    assert found.centre == pytest.approx(tuple(centre), abs=1e-6)
    # Two boards, each 10 % by itself: the spreads add as squares.
    assert found.sd_kg == pytest.approx(0.1 * sqrt(found.layers[0].kg ** 2 + found.layers[1].kg ** 2))


def test_a_weighed_layer_is_weighed_and_one_density_cannot_be_two() -> None:
    body = form(layers=[{**LAYERS[0], "kg_m3": 650}, LAYERS[1]])
    assert layer_densities(body)[0].kg_m3 == 650
    assert layer_densities(body)[1].kg_m3 == pytest.approx(672)
    with pytest.raises(WeightError, match="kg_m3"):
        layer_densities(body, weighed_kg_m3=600)
    with pytest.raises(WeightError, match="one a layer"):
        weigh(solid(body), *([Density(600, 0.1, "x")] * 3))


def test_a_layer_cut_wholly_away_weighs_nothing() -> None:
    everywhere = Pocket(
        "all", "all", "top", Ring([Point(-5, -5), Point(305, -5), Point(305, 205), Point(-5, 205)]), 6, 0
    )
    body = form(layers=LAYERS)
    found = weigh(solid(body, everywhere), *layer_densities(body))
    assert found.layers[0].kg == pytest.approx(0, abs=1e-9)
    assert found.kg == pytest.approx(LONG * WIDE * 34 * 672e-9)


def test_a_section_is_cut_layer_by_layer() -> None:
    made = solid(form(layers=LAYERS), TRAY)
    cut = made.layer_sections(Point3(50, 0, 0), Point3(1, 0, 0), Point3(0, 1, 0))
    assert [layer.name for layer, _ in cut] == ["cap", "core"]
    assert [part.area_mm2 for _, part in cut] == pytest.approx([150 * 6, 200 * 34 - 50 * 14])
    whole = made.section(Point3(50, 0, 0), Point3(1, 0, 0), Point3(0, 1, 0))
    assert whole.area_mm2 == pytest.approx(sum(part.area_mm2 for _, part in cut))


def test_cuts_enter_carved_faces_without_a_skin() -> None:
    # A hole from the back through a bevel, one from the top through a slope and a pocket from the top of a raised block.
    body = form(
        bevels=[{"name": "b", "face": "back", "line": [(0, 60), (LONG, 60)], "angle": 20}],
        top={"kind": "stepped", "areas": [area("block", 150, 80, 100, 80, 5)]},
    )
    at = Point3(100, 30, -THICK + 30 * tan(radians(20)))
    hole = Bore("hole", "hole", "h", "back", at, UP, (Step(12, 10, Bit("twist", 12, 0)),))
    tray = Pocket(
        "t", "t", "top", Ring([Point(160, 90), Point(200, 90), Point(200, 120), Point(160, 120)]), 10, 0
    )
    made = solid(body, hole, tray)
    assert made.pieces == 1
    assert made.mesh.volume_mm3 == pytest.approx(
        STOCK + 100 * 80 * 5 - 0.5 * 60**2 * tan(radians(20)) * LONG - pi * 36 * 10 - 40 * 30 * 15, rel=1e-7
    )
    assert next(r for r in made.removed if r.feature == "hole").volume_mm3 == pytest.approx(
        pi * 360, rel=1e-6
    )


def test_a_top_that_falls_below_the_back_is_refused() -> None:
    body = form(thickness="20 +/- 0.1", top={"kind": "arched", "profile": [(0, -25), (20, 0)]})
    with pytest.raises(BodyError, match="leave wood at the edge"):
        make_body(BOX, 20.0, (), form=body)


def test_a_carved_demo_holds_what_its_heights_hold(planned: Any) -> None:
    """The demo, carved, against the heights of its surfaces summed over a grid: nothing of the mesh is used."""
    plan: Plan = planned(
        {
            "body.top": {"kind": "arched", "profile": [[0, -7], [20, -2], [45, 0]]},
            "body.bevels": [
                {"name": "belly", "face": "back", "line": [[430, -60], [560, -160]], "depth": 14},
                {"name": "forearm", "face": "top", "line": [[600, -100], [740, -60]], "angle": 9},
            ],
            "body.roundover": {"back": 5},
        }
    )
    form = plan.layout.body
    made = make_body(form.outline, form.thickness, (), form=form)
    xs, ys = ([p[k] for p in form.outline] for k in (0, 1))
    step, volume = 2.0, 0.0
    import shapely

    region = shapely.Polygon(form.outline)
    for x in np.arange(min(xs) + step / 2, max(xs), step).tolist():
        for y in np.arange(min(ys) + step / 2, max(ys), step).tolist():
            if region.contains(shapely.Point(x, y)):
                place = Point(x, y)
                volume += (form.top_at(place) - form.back_at(place)) * step**2
    assert made.mesh.volume_mm3 == pytest.approx(volume, rel=TENTH_PERCENT)


# --- STEP, read back by the CAD kernel's own reader.


def read_back(data: bytes, folder: Path) -> list[float]:
    """The volumes of the solids in a STEP file, mm³."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps
    from OCP.STEPControl import STEPControl_Reader
    from OCP.TopAbs import TopAbs_SOLID
    from OCP.TopExp import TopExp_Explorer

    path = folder / "read.step"
    path.write_bytes(data)
    reader = STEPControl_Reader()
    reader.ReadFile(str(path))
    reader.TransferRoots()
    found, volumes = TopExp_Explorer(reader.OneShape(), TopAbs_SOLID), []
    while found.More():
        measured = GProp_GProps()
        BRepGProp.VolumeProperties_s(found.Current(), measured)
        volumes.append(measured.Mass())
        found.Next()
    return volumes


def test_step_keeps_bevels_steps_and_layers(tmp_path: Path) -> None:
    pytest.importorskip("OCP")
    body = form(
        layers=LAYERS,
        bevels=[{"name": "b", "face": "back", "line": [(0, 60), (LONG, 60)], "angle": 12}],
        top={
            "kind": "stepped",
            "areas": [area("recess", 150, 80, 100, 80, -3), area("block", 20, 80, 60, 60, 4)],
        },
    )
    data = step_file(BOX, THICK, (TRAY, HOLE), form=body)
    made = solid(body, TRAY, HOLE)
    parts = [part.lump.volume_mm3 for part in made.layers if part.lump is not None]
    assert read_back(data, tmp_path) == pytest.approx(parts, rel=1e-6)
    wedge = 0.5 * 60**2 * tan(radians(12)) * LONG
    whole = STOCK - wedge - 100 * 80 * 3 + 60 * 60 * 4 - 100 * 50 * 20 - pi * 25 * 37
    shared = 0.0  # the tray lies over the wedge, which ends below it
    assert sum(parts) == pytest.approx(whole + shared, rel=1e-6)


@pytest.mark.parametrize(
    ("keys", "what"),
    [
        ({"top": {"kind": "arched", "profile": [(0, -5), (20, 0)]}}, "an arched top"),
        ({"roundover": {"top": 3}}, "a rounded edge"),
    ],
)
def test_step_says_what_it_cannot_hold(keys: dict[str, Any], what: str) -> None:
    with pytest.raises(BodyError, match=f"because {what}"):
        step_file(BOX, THICK, (), form=form(**keys))
