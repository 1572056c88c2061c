"""The body's mesh against geometry worked by hand, and read back by a reader of our own.

Formulas: prism, cylinder, cone from any handbook of mensuration; an oblique circular cylinder between
parallel planes holds π r² t / sin A (Cavalieri); two equal cylinders crossing at right angles share 16 r³ / 3
(Archimedes, The Method). The issue's tolerance is 0.1 % of the volume; where the mesh should be exact to
rounding it is held to that.
"""

from __future__ import annotations

import io
import json
import struct
import zipfile
from collections import Counter
from math import cos, hypot, pi, radians, sin, tan
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from numpy.typing import NDArray

from scribeline.features import DOWN, UP, Bit, Bore, Pocket, Step, rounded
from scribeline.layout import Point, Point3, Ring
from scribeline.plan import Plan
from scribeline.solid.body import Body, Mesh, equal_area_radius, facets, lengthwise, make_body
from scribeline.solid.faults import BodyError
from scribeline.solid.meshfiles import glb, stl, three_mf

PERCENT_TENTH = 1e-3
ROUNDING = 1e-12  # of double-precision sums

BOX = Ring([Point(0, 0), Point(300, 0), Point(300, 200), Point(0, 200)])
THICK = 40.0
STOCK = 300 * 200 * THICK
FLAT = 0.0


def box_of(x: float, y: float, width: float, height: float) -> Ring:
    return Ring([Point(x, y), Point(x + width, y), Point(x + width, y + height), Point(x, y + height)])


def bit(diameter: float, point: float = FLAT) -> Bit:
    return Bit("twist", diameter, point)


def bore(
    *steps: tuple[float, float, float],
    at: tuple[float, float] = (150, 100),
    face: str = "top",
    axis: Point3 | None = None,
    name: str = "hole",
) -> Bore:
    """Steps are (diameter, depth, point)."""
    top = face == "top"
    return Bore(
        id=name,
        role=name,
        group="holes",
        face="top" if top else "back",
        at=Point3(*at, 0.0 if top else -THICK),
        axis=axis or (DOWN if top else UP),
        steps=tuple(Step(d, depth, bit(d, point)) for d, depth, point in steps),
    )


def pocket(outline: Ring, depth: float, *, back: bool = False, name: str = "pocket") -> Pocket:
    return Pocket(
        id=name,
        role=name,
        face="back" if back else "top",
        outline=outline,
        depth=depth,
        corner_radius=0.0,
    )


def cut(*features: Bore | Pocket, outline: Ring = BOX) -> Body:
    return make_body(outline, THICK, features)


def removed(body: Body, stock: float = STOCK) -> float:
    return stock - body.mesh.volume_mm3


def disc(diameter: float) -> float:
    return pi * diameter**2 / 4


def leaning(angle_deg: float, heading_deg: float = 0.0) -> Point3:
    """Down into the top at an angle from the face."""
    a, h = radians(angle_deg), radians(heading_deg)
    return Point3(cos(a) * cos(h), cos(a) * sin(h), -sin(a))


# --- volumes -------------------------------------------------------------------------------------------------


def test_a_blank_is_its_area_times_its_thickness() -> None:
    triangle = Ring([Point(0, 0), Point(300, 0), Point(0, 200)])
    assert cut(outline=triangle).mesh.volume_mm3 == pytest.approx(0.5 * 300 * 200 * THICK, rel=1e-12)


@pytest.mark.parametrize("face", ["top", "back"])
@pytest.mark.parametrize("diameter", [1.5, 3.5, 9.0, 25.0])
def test_a_flat_bottomed_hole_holds_its_disc_times_its_depth(face: str, diameter: float) -> None:
    body = cut(bore((diameter, 20, FLAT), face=face))
    # Not of the stock but of the hole itself: 0.1 % of the stock would hide a wrong hole.
    assert removed(body) == pytest.approx(disc(diameter) * 20, rel=1e-6)


def test_a_twist_bit_leaves_a_third_of_the_cylinder_its_point_is_long() -> None:
    point = 5 / tan(radians(59))  # a 10 mm bit of 118°
    body = cut(bore((10, 20, point)))
    assert removed(body) == pytest.approx(disc(10) * (20 + point / 3), rel=1e-6)


def test_a_spurred_bit_leaves_a_slim_cone() -> None:
    spurred = Bore(
        "hole", "hole", "holes", "top", Point3(150, 100, 0), DOWN, (Step(8, 20, Bit("brad-point", 8, 2.4)),)
    )
    # The spur is a quarter as wide as the bit (from memory): a cone of 2 mm diameter and 2.4 mm length.
    assert removed(cut(spurred)) == pytest.approx(disc(8) * 20 + disc(2) * 2.4 / 3, rel=1e-6)


def test_a_stepped_hole_is_the_sum_of_its_steps() -> None:
    body = cut(bore((9, 1.7, FLAT), (7, 11.5, FLAT), face="back"))
    assert removed(body) == pytest.approx(disc(9) * 1.7 + disc(7) * (11.5 - 1.7), rel=1e-6)


def test_holes_from_both_faces_that_meet_share_the_smaller_one() -> None:
    # 31 mm from the top and 11 from the back of 40: 2 mm of the narrow one lie in the wide one.
    body = cut(bore((3.5, 31, FLAT), name="from top"), bore((7, 11, FLAT), face="back", name="from the back"))
    assert removed(body) == pytest.approx(disc(3.5) * 29 + disc(7) * 11, rel=1e-6)
    assert [r.volume_mm3 for r in body.removed] == pytest.approx([disc(3.5) * 31, disc(7) * 11], rel=1e-6)


@pytest.mark.parametrize("angle_deg", [20, 30, 45, 60, 85])
@pytest.mark.parametrize("heading_deg", [0, 37, 180])
def test_a_slanting_hole_through_the_slab(angle_deg: float, heading_deg: float) -> None:
    long_enough = THICK / sin(radians(angle_deg)) + 8 / tan(radians(angle_deg)) + 5
    body = cut(bore((8, long_enough, FLAT), axis=leaning(angle_deg, heading_deg)))
    assert removed(body) == pytest.approx(disc(8) * THICK / sin(radians(angle_deg)), rel=1e-6)


def test_a_slanting_hole_that_ends_in_the_wood() -> None:
    # The mouth's wedge is halved about the axis: the depth is that of the axis.
    body = cut(bore((8, 30, FLAT), axis=leaning(40)))
    assert removed(body) == pytest.approx(disc(8) * 30, rel=1e-6)


def test_two_slanting_holes_that_cross_square() -> None:
    depth = THICK / sin(pi / 4) + 15
    body = cut(
        bore((8, depth, FLAT), at=(130, 100), axis=leaning(45), name="a"),
        bore((8, depth, FLAT), at=(170, 100), axis=leaning(45, 180), name="b"),
    )
    expected = 2 * disc(8) * THICK / sin(pi / 4) - 16 * 4**3 / 3
    assert removed(body) == pytest.approx(expected, rel=PERCENT_TENTH)


def test_a_pocket_with_round_corners() -> None:
    # ab − (4 − π) r², the corners' arcs flattened to 0.01 mm.
    ring = rounded(box_of(50, 50, 90, 40), 8)
    body = cut(pocket(ring, 18), outline=BOX)
    assert removed(body) == pytest.approx((90 * 40 - (4 - pi) * 64) * 18, rel=PERCENT_TENTH)


def test_pockets_from_both_faces_over_one_another() -> None:
    # 30 × 30 from the top 25 deep over 20 × 20 from the back 25 deep: the common 10 mm are counted once.
    body = cut(
        pocket(box_of(50, 50, 30, 30), 25, name="a"),
        pocket(box_of(55, 55, 20, 20), 25, back=True, name="b"),
    )
    assert removed(body) == pytest.approx(900 * 25 + 400 * 15, rel=1e-9)


def test_a_hole_at_the_edge_loses_only_what_is_wood() -> None:
    assert removed(cut(bore((10, 20, FLAT), at=(0, 100)))) == pytest.approx(disc(10) / 2 * 20, rel=1e-6)


def test_a_pocket_that_runs_out_of_the_edge() -> None:
    body = cut(pocket(box_of(-9, 70, 69, 60), 16))
    assert removed(body) == pytest.approx(60 * 60 * 16, rel=1e-9)
    assert body.pieces == 1


def test_a_cut_beside_the_wood_takes_nothing() -> None:
    body = cut(bore((10, 20, FLAT), at=(-50, 100)))
    assert removed(body) == pytest.approx(0, abs=ROUNDING * STOCK)
    assert body.removed[0].volume_mm3 == 0


def test_a_pocket_right_through_parts_the_body() -> None:
    assert cut(pocket(box_of(100, -10, 20, 220), THICK + 1)).pieces == 2


def test_many_holes_and_pockets_at_once() -> None:
    holes = [bore((6, 15, FLAT), at=(20 + 15 * i, 30), name=f"h{i}") for i in range(18)]
    pockets = [pocket(box_of(20 + 60 * i, 60, 40, 90), 20, back=bool(i % 2), name=f"p{i}") for i in range(4)]
    expected = 18 * disc(6) * 15 + 4 * 40 * 90 * 20
    assert removed(cut(*holes, *pockets)) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("radius", [0.4, 1.5, 3.5, 12.5, 40.0])
def test_facets_stay_by_the_circle(radius: float) -> None:
    sides = facets(radius)
    corner = equal_area_radius(radius, sides)
    # Area of a regular polygon: n/2 R² sin(2π/n); its sides lie R cos(π/n) from the middle.
    assert sides / 2 * corner**2 * sin(2 * pi / sides) == pytest.approx(pi * radius**2, rel=1e-12)
    assert corner - radius < 0.01
    assert radius - corner * cos(pi / sides) < 0.01


# --- centre of mass ------------------------------------------------------------------------------------------


def test_the_centre_of_a_triangular_blank_is_a_third_up() -> None:
    centre = cut(outline=Ring([Point(0, 0), Point(300, 0), Point(0, 210)])).mesh.centroid
    assert centre == pytest.approx((100, 70, -THICK / 2), abs=1e-9)


def test_the_centre_moves_away_from_a_pocket_by_its_moment() -> None:
    # 60 × 80 × 25 from the top at (90, 60): its centre is 60, 40 from the blank's and 7.5 above it.
    body = cut(pocket(box_of(60, 20, 60, 80), 25))
    gone = 60 * 80 * 25
    share = gone / (STOCK - gone)
    expected = (150 + share * (150 - 90), 100 + share * (100 - 60), -20 - share * (20 - 12.5))
    assert body.mesh.centroid == pytest.approx(expected, abs=1e-9)


def test_a_cone_pulls_the_centre_by_its_own() -> None:
    # A cone's centre lies a quarter of its height from its base.
    body = cut(bore((30, 10, 12)))
    cylinder, cone = disc(30) * 10, disc(30) * 12 / 3
    moment = STOCK * -20 - cylinder * -5 - cone * -(10 + 3)
    assert body.mesh.centroid.z == pytest.approx(moment / (STOCK - cylinder - cone), abs=1e-6)


def test_far_from_the_origin_no_digit_is_lost() -> None:
    far = Ring([Point(x + 1e5, y - 2e5) for x, y in BOX])
    assert cut(outline=far).mesh.centroid == pytest.approx((150 + 1e5, 100 - 2e5, -20), abs=1e-6)


# --- sections ------------------------------------------------------------------------------------------------


def test_a_section_through_the_blank_is_a_rectangle() -> None:
    flat = cut().section(Point3(150, 100, -20), Point3(1, 0, 0), Point3(0, 1, 0))
    assert len(flat.rings) == 1
    assert flat.area_mm2 == pytest.approx(200 * THICK)
    assert flat.rings[0].min(axis=0) == pytest.approx((-100, -20))
    assert flat.rings[0].max(axis=0) == pytest.approx((100, 20))


def test_a_level_section_shows_holes_as_holes() -> None:
    body = cut(bore((12, 20, FLAT)), pocket(box_of(40, 40, 50, 30), 15))
    flat = body.section(Point3(0, 0, -10), Point3(0, 0, 1), Point3(1, 0, 0))
    assert flat.area_mm2 == pytest.approx(300 * 200 - disc(12) - 50 * 30, rel=1e-9)
    assert len(flat.rings) == 3


def test_a_section_along_a_slanting_hole_shows_its_full_width() -> None:
    # Seen across its heading, a 45° hole of 8 mm through the slab is a parallelogram of 8·√2 by 40.
    body = cut(bore((8, 100, FLAT), axis=leaning(45)))
    flat = body.section(Point3(150, 100, 0), Point3(0, -1, 0), Point3(1, 0, 0))
    assert flat.area_mm2 == pytest.approx(300 * THICK - 8 * hypot(1, 1) * THICK, rel=PERCENT_TENTH)


def test_a_section_square_to_a_slanting_hole_is_its_circle() -> None:
    axis = leaning(50, 20)
    whole, holed = cut(), cut(bore((8, 100, FLAT), axis=axis))
    plane = Point3(*(a + 25 * d for a, d in zip((150, 100, 0), axis, strict=True)))
    areas = [each.section(plane, axis, Point3(0, 0, 1)).area_mm2 for each in (whole, holed)]
    assert areas[0] - areas[1] == pytest.approx(disc(8), rel=1e-6)


@pytest.mark.parametrize("heading_deg", [0, 37, 180, -90])
def test_lengthwise_a_slanting_hole_shows_its_full_width(heading_deg: float) -> None:
    # A square-ended rod of 8 by 30; what its slanting mouth adds on one side of the axis it lacks on the other.
    holed, whole = bore((8, 30, FLAT), axis=leaning(40, heading_deg)), cut()
    flat = cut(holed).section(*lengthwise(holed))
    full = whole.section(*lengthwise(holed))
    assert full.area_mm2 - flat.area_mm2 == pytest.approx(8 * 30, abs=0.02 * 30)
    tops = [ring[:, 1].max() for ring in flat.rings]
    assert max(tops) == pytest.approx(0)  # up is up
    deepest = 30 * sin(radians(40)) + 4 * cos(radians(40))
    inside = np.vstack(flat.rings)
    inside = inside[(inside[:, 1] < -1e-6) & (inside[:, 1] > -THICK + 1e-6)]
    end = inside[inside[:, 1].argmin()]
    # The corner of the square end that lies deeper: 30 along the axis, 4 square to it; it heads the way the section runs.
    assert end == pytest.approx((30 * cos(radians(40)) - 4 * sin(radians(40)), -deepest), abs=0.01)


def test_lengthwise_an_upright_hole_is_seen_across_the_instrument() -> None:
    holed = bore((6, 12, FLAT), (3, 25, FLAT), face="back")
    flat = cut(holed).section(*lengthwise(holed))
    assert 200 * THICK - flat.area_mm2 == pytest.approx(6 * 12 + 3 * 13, abs=0.02 * 25)
    assert flat.rings[0][:, 1].min() == pytest.approx(0)  # measured from the face it is bored from
    assert flat.rings[0][:, 0].min() == pytest.approx(-100)


def test_a_plane_beside_the_body_cuts_nothing() -> None:
    assert cut().section(Point3(-5, 0, 0), Point3(1, 0, 0), Point3(0, 1, 0)).rings == ()


def test_a_section_needs_two_directions() -> None:
    with pytest.raises(BodyError, match="not parallel to it"):
        cut().section(Point3(0, 0, 0), Point3(0, 0, 1), Point3(0, 0, -3))


# --- what cannot be made -------------------------------------------------------------------------------------


def test_cuts_that_leave_nothing_are_told() -> None:
    with pytest.raises(BodyError, match="leave nothing of the body"):
        cut(pocket(box_of(-1, -1, 302, 202), THICK + 1))


def test_a_crossing_outline_is_told() -> None:
    bow = Ring([Point(0, 0), Point(10, 10), Point(10, 0), Point(0, 10)])
    with pytest.raises(BodyError, match="the outline of the pocket cannot be cut: Self-intersection"):
        cut(pocket(bow, 5))


@pytest.mark.parametrize("thickness", [0.0, -3.0, float("nan")])
def test_a_body_needs_a_thickness(thickness: float) -> None:
    with pytest.raises(BodyError, match="a thickness over 0"):
        make_body(BOX, thickness, ())


# --- files read back by readers that know nothing of the writers --------------------------------------------


Corners = NDArray[np.float64]


def corners_of_stl(data: bytes) -> Corners:
    """Triangle corners of a binary STL: an 80-byte header, a count, 50 bytes a triangle."""
    (count,) = struct.unpack_from("<I", data, 80)
    assert len(data) == 84 + 50 * count
    numbers = [struct.unpack_from("<12fH", data, 84 + 50 * i) for i in range(count)]
    return np.array([row[3:12] for row in numbers]).reshape(-1, 3, 3)


def corners_of_3mf(data: bytes) -> Corners:
    """Triangle corners of a 3MF's only object, in mm."""
    space = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        assert package.testzip() is None
        relations = ET.fromstring(package.read("_rels/.rels"))
        model = ET.fromstring(package.read(relations[0].attrib["Target"].lstrip("/")))
        assert b'Extension="model"' in package.read("[Content_Types].xml")
    assert model.attrib["unit"] == "millimeter"
    vertices = [[float(v.attrib[k]) for k in "xyz"] for v in model.iter(f"{space}vertex")]
    triangles = [[int(t.attrib[k]) for k in ("v1", "v2", "v3")] for t in model.iter(f"{space}triangle")]
    picked: Corners = np.array(vertices)[np.array(triangles)]
    return picked


def corners_of_glb(data: bytes) -> Corners:
    """Triangle corners of a GLB, turned from metres and y up into the instrument frame."""
    magic, version, length = struct.unpack_from("<4sII", data)
    assert (magic, version, length) == (b"glTF", 2, len(data))
    size, kind = struct.unpack_from("<I4s", data, 12)
    scene = json.loads(data[20 : 20 + size])
    held, binary = struct.unpack_from("<I4s", data, 20 + size)
    blob = data[28 + size : 28 + size + held]
    assert (kind, binary, size % 4, held % 4) == (b"JSON", b"BIN\0", 0, 0)
    assert 28 + size + held == len(data)

    def part(number: int, dtype: str) -> NDArray[np.float64]:
        accessor = scene["accessors"][number]
        view = scene["bufferViews"][accessor["bufferView"]]
        raw = blob[view["byteOffset"] : view["byteOffset"] + view["byteLength"]]
        return np.frombuffer(raw, dtype)

    places = part(0, "<f4").reshape(-1, 3).astype(float)
    assert places.min(axis=0) == pytest.approx(scene["accessors"][0]["min"])
    assert places.max(axis=0) == pytest.approx(scene["accessors"][0]["max"])
    x, up, towards = places.T * 1000
    turned: Corners = np.column_stack([x, -towards, up])
    picked: Corners = turned[part(1, "<u4").astype(int).reshape(-1, 3)]
    return picked


READERS = {"STL": (stl, corners_of_stl), "3MF": (three_mf, corners_of_3mf), "GLB": (glb, corners_of_glb)}


def faults_of_surface(corners: Corners) -> list[str]:
    """Whether corners told apart by place alone make a closed surface: every edge once each way."""
    _, numbers = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    edges: Counter[tuple[int, int]] = Counter()
    faults = []
    for a, b, c in numbers.reshape(-1, 3).tolist():
        if len({a, b, c}) < 3:
            faults.append("a triangle without a corner")
        edges.update(((a, b), (b, c), (c, a)))
    faults += [f"edge {edge} used {count} times" for edge, count in edges.items() if count != 1]
    faults += [f"edge {edge} has no fellow" for edge in edges if edge[::-1] not in edges]
    return faults


def enclosed(corners: Corners) -> float:
    """Volume by slabs: each triangle's area seen from above times its mean height."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    u, v = b - a, c - a
    seen = (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2
    return float((seen * corners[:, :, 2].mean(axis=1)).sum())


@pytest.mark.parametrize("kind", READERS)
def test_files_hold_a_closed_body_of_the_right_size(kind: str, shipped_plan: Plan) -> None:
    layout = shipped_plan.layout
    body = make_body(layout.outline, layout.thickness, shipped_plan.features)
    write, read = READERS[kind]
    data = write(body.mesh)
    corners = read(data)
    assert faults_of_surface(corners) == []
    assert enclosed(corners) == pytest.approx(body.mesh.volume_mm3, rel=1e-6)
    assert corners.reshape(-1, 3).min(axis=0) == pytest.approx(body.mesh.vertices.min(axis=0), abs=1e-4)
    assert corners.reshape(-1, 3).max(axis=0) == pytest.approx(body.mesh.vertices.max(axis=0), abs=1e-4)
    assert write(body.mesh) == data


@pytest.mark.parametrize("kind", READERS)
def test_a_tetrahedron_in_every_file(kind: str) -> None:
    mesh = Mesh(
        np.array([[0, 0, 0], [10, 0, 0], [0, 10, 0], [0, 0, 10]], float),
        np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]),
    )
    assert mesh.volume_mm3 == pytest.approx(1000 / 6)
    write, read = READERS[kind]
    corners = read(write(mesh, 'a "sharp" & <small>\x01 body'))
    assert np.allclose(corners, mesh.corners, atol=1e-5)
    assert faults_of_surface(corners) == []


def test_the_check_for_closedness_can_fail() -> None:
    mesh = cut(bore((10, 20, FLAT))).mesh
    assert faults_of_surface(mesh.corners) == []
    assert faults_of_surface(mesh.corners[1:]) != []
    turned = mesh.corners.copy()
    turned[0] = turned[0, ::-1]
    assert faults_of_surface(turned) != []


def test_an_stl_says_nothing_that_means_text() -> None:
    data = stl(cut().mesh, "solid ash")
    assert not data.startswith(b"solid")
