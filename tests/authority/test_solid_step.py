"""STEP read back by the CAD kernel's own reader: the same volume, the same hole axes and diameters.

The kernel is the `step` extra (`pip install 'scribeline[step]'`); the tests' own tools bring it along.
"""

from __future__ import annotations

import sys
from math import cos, hypot, pi, radians, sin, tan
from pathlib import Path
from random import Random
from typing import Any

import pytest

from scribeline.features import DOWN, Bit, Bore, Pocket, Step, rounded
from scribeline.layout import Point, Point3, Ring
from scribeline.plan import Plan
from scribeline.solid.body import make_body
from scribeline.solid.step import NoKernelError, edges, step_file, step_text

KERNEL_DIGITS = 1e-6  # mm, on places and diameters: the kernel's own tolerance is 1e-7

BOX = Ring([Point(0, 0), Point(300, 0), Point(300, 200), Point(0, 200)])
THICK = 40.0


def flat(*corners: tuple[float, float]) -> Ring:
    return Ring(Point(*corner) for corner in corners)


# --- without the kernel --------------------------------------------------------------------------------------


def test_a_box_stays_straight() -> None:
    assert [edge.through for edge in edges(BOX)] == [None] * 4


def test_a_hexagon_is_no_circle() -> None:
    ring = flat(*((50 * cos(i * pi / 3), 50 * sin(i * pi / 3)) for i in range(6)))
    assert [edge.through for edge in edges(ring)] == [None] * 6


def test_a_routed_pocket_is_four_sides_and_four_arcs() -> None:
    ring = rounded(flat((10, 10), (90, 10), (90, 50), (10, 50)), 6)
    found = edges(ring)
    arcs = [edge for edge in found if edge.through is not None]
    assert (len(found), len(arcs)) == (8, 4)
    centres = {(16, 16), (84, 16), (84, 44), (16, 44)}
    for edge in arcs:
        assert edge.through is not None
        ends = [edge.start, edge.through, edge.end]
        assert min(max(abs(hypot(p.x - x, p.y - y) - 6) for p in ends) for x, y in centres) == pytest.approx(
            0, abs=1e-9
        )


def test_edges_run_once_round() -> None:
    ring = rounded(flat((0, 0), (80, 0), (50, 30), (80, 70), (0, 70)), 5)
    found = edges(ring)
    assert [edge.end for edge in found] == [*(edge.start for edge in found[1:]), found[0].start]


def test_text_is_written_as_the_standard_wants() -> None:
    # ISO 10303-21: an apostrophe and a backslash are doubled; other signs go by their code, four hexadecimal
    # digits between \X2\ and \X0\.
    assert step_text("Marram's \\") == "Marram''s \\\\"
    assert step_text("Dünung") == "D\\X2\\00FC\\X0\\nung"
    assert step_text("𝄞") == "\\X4\\0001D11E\\X0\\"


def test_without_the_kernel_it_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "OCP", None)
    monkeypatch.setitem(sys.modules, "OCP.STEPControl", None)
    with pytest.raises(NoKernelError, match=r"pip install 'scribeline\[step\]'"):
        step_file(BOX, THICK, ())


# --- with it -------------------------------------------------------------------------------------------------


def read_back(data: bytes, folder: Path) -> Any:
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.STEPControl import STEPControl_Reader

    path = folder / "read.step"
    path.write_bytes(data)
    reader = STEPControl_Reader()
    assert reader.ReadFile(str(path)) == IFSelect_ReturnStatus.IFSelect_RetDone
    reader.TransferRoots()
    return reader.OneShape()


def written(*features: Bore | Pocket, outline: Ring = BOX, thickness: float = THICK) -> bytes:
    return step_file(outline, thickness, features)


def mass_of(shape: Any) -> tuple[float, tuple[float, float, float]]:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found)
    centre = found.CentreOfMass()
    return found.Mass(), (centre.X(), centre.Y(), centre.Z())


Hole = tuple[float, tuple[float, float, float], tuple[float, float, float]]


def cylinders(shape: Any) -> list[Hole]:
    """Diameter, a place on the axis, and the axis of every cylindrical face."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_SurfaceType
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    walk = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_FACE)
    found = []
    while walk.More():
        surface = BRepAdaptor_Surface(TopoDS.Face(walk.Current()))
        if surface.GetType() == GeomAbs_SurfaceType.GeomAbs_Cylinder:
            round_face = surface.Cylinder()
            at, way = round_face.Axis().Location(), round_face.Axis().Direction()
            found.append((2 * round_face.Radius(), (at.X(), at.Y(), at.Z()), (way.X(), way.Y(), way.Z())))
        walk.Next()
    return found


def off_axis(hole: Hole, bore: Bore) -> float:
    """How far a found axis is from a bore's: the larger of the distance at its mouth and per 100 mm of lean, mm."""
    _, at, way = hole
    gap = [a - b for a, b in zip(bore.at, at, strict=True)]
    along = sum(g * w for g, w in zip(gap, way, strict=True))
    aside = hypot(*(g - along * w for g, w in zip(gap, way, strict=True)))
    a, w = bore.axis, way
    cross = (a[1] * w[2] - a[2] * w[1], a[2] * w[0] - a[0] * w[2], a[0] * w[1] - a[1] * w[0])
    return max(aside, 100 * hypot(*cross))


def test_volumes_by_hand(tmp_path: Path) -> None:
    lean = Point3(cos(radians(40)), 0.0, -sin(radians(40)))
    point = 5 / tan(radians(59))
    stepped = Bore(
        "a",
        "a",
        "a",
        "back",
        Point3(60, 60, -THICK),
        Point3(0, 0, 1),
        (Step(9, 1.7, Bit("twist", 9, 0)), Step(7, 11.5, Bit("twist", 7, 0))),
    )
    twisted = Bore("b", "b", "b", "top", Point3(60, 140, 0), DOWN, (Step(10, 20, Bit("twist", 10, point)),))
    slanting = Bore("c", "c", "c", "top", Point3(150, 150, 0), lean, (Step(8, 90, Bit("twist", 8, 0)),))
    ring = rounded(flat((150, 20), (250, 20), (250, 70), (150, 70)), 8)
    routed = Pocket("d", "d", "top", ring, 18, 8)
    holes = (
        pi / 4 * (81 * 1.7 + 49 * (11.5 - 1.7))
        + pi * 25 * (20 + point / 3)
        + pi * 16 * THICK / sin(radians(40))
        + (100 * 50 - (4 - pi) * 64) * 18
    )
    volume, _ = mass_of(read_back(written(stepped, twisted, slanting, routed), tmp_path))
    # The corners leave as true arcs, so that nothing is lost to flattening.
    assert 300 * 200 * THICK - volume == pytest.approx(holes, rel=1e-6)


def test_the_demo_opens_with_the_same_holes(shipped_plan: Plan, tmp_path: Path) -> None:
    layout, features = shipped_plan.layout, shipped_plan.features
    body = make_body(layout.outline, layout.thickness, features)
    data = written(*features, outline=layout.outline, thickness=layout.thickness)
    shape = read_back(data, tmp_path)
    volume, centre = mass_of(shape)
    assert volume == pytest.approx(body.mesh.volume_mm3, rel=1e-4)  # the issue asks for 1e-3
    assert centre == pytest.approx(body.mesh.centroid, abs=0.01)
    found = cylinders(shape)
    for bore in features.bores:
        for step in bore.steps:
            assert any(
                abs(hole[0] - step.diameter) < KERNEL_DIGITS and off_axis(hole, bore) < KERNEL_DIGITS
                for hole in found
            ), f"no {step.diameter} mm cylinder on the axis of {bore.id}"


def a_random_body(seed: int) -> list[Bore | Pocket]:
    """Holes at any slant and routed pockets anywhere, crossing as they will."""
    random = Random(seed)
    cuts: list[Bore | Pocket] = []
    for n in range(random.randint(3, 12)):
        lean, heading = random.uniform(0.4, pi / 2), random.uniform(-pi, pi)
        axis = Point3(cos(lean) * cos(heading), cos(lean) * sin(heading), -sin(lean))
        wide, deep = random.choice([3.0, 6.0, 10.0, 22.0]), random.uniform(5, 60)
        at = Point3(random.uniform(0, 300), random.uniform(0, 200), 0.0)
        bit = Bit("twist", wide, wide / 2 / tan(radians(59)))
        cuts.append(Bore(f"h{n}", "h", "h", "top", at, axis, (Step(wide, deep, bit),)))
    for n in range(random.randint(0, 3)):
        x, y, w, h = (
            random.uniform(0, 250),
            random.uniform(0, 150),
            random.uniform(25, 90),
            random.uniform(25, 60),
        )
        ring = rounded(flat((x, y), (x + w, y), (x + w, y + h), (x, y + h)), 6)
        face: Any = random.choice(["top", "back"])
        cuts.append(Pocket(f"p{n}", "p", face, ring, random.uniform(5, 35), 6))
    return cuts


@pytest.mark.parametrize("seed", range(12))
def test_a_general_kernel_agrees_on_bodies_nobody_worked_by_hand(seed: int, tmp_path: Path) -> None:
    cuts = a_random_body(seed)
    volume, centre = mass_of(read_back(written(*cuts), tmp_path))
    body = make_body(BOX, THICK, cuts)
    gone, by_kernel = 300 * 200 * THICK - body.mesh.volume_mm3, 300 * 200 * THICK - volume
    # Of the wood taken out, not of the whole: 0.1 % for facets where round cuts cross and corners' flattened arcs.
    assert gone == pytest.approx(by_kernel, rel=1e-3)
    assert body.mesh.centroid == pytest.approx(centre, abs=0.01)


def test_the_same_body_gives_the_same_bytes() -> None:
    hole = Bore("a", "a", "a", "top", Point3(60, 60, 0), DOWN, (Step(9, 10, Bit("twist", 9, 0)),))
    first = written(hole)
    assert written(hole) == first
    assert b"1980-01-01T00:00:00" in first


def test_the_kernel_says_nothing_of_its_own(capfd: pytest.CaptureFixture[str]) -> None:
    written()
    assert capfd.readouterr() == ("", "")
