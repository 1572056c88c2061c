"""Outlines against closed forms, with files written by other hands.

DXF files come from ezdxf's writer or are typed out tag by tag (DXF Reference, AutoCAD 2012,
ENTITIES section); SVG files are typed out (SVG 2, https://www.w3.org/TR/SVG2/). Areas and
perimeters are the closed forms of plane geometry; the geometry checks use shapely (GEOS).
"""

from __future__ import annotations

import itertools
import math
import re
import zlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from ezdxf.filemanagement import new, readfile
from ezdxf.path import make_path  # another route through the library, coarser
from shapely import LinearRing, LineString, Polygon, distance
from shapely import points as shapely_points

from scribeline.bounds import Bounds, within
from scribeline.job.body import OutlineStatement
from scribeline.job.outline import OutlineError, built_in, read_outline_file, shape_measures, shape_names

if TYPE_CHECKING:
    from collections.abc import Callable

    from scribeline.job.outline import Outline

FLATTENING = 0.01  # mm, the promise made for every outline


def polygon(outline: Outline) -> Any:
    return Polygon(outline.points)


def dxf(path: Path, draw: Callable[[Any], object], units: int = 4, version: str = "R2010") -> Path:
    document = new(version)
    document.units = units
    draw(document.modelspace())
    document.saveas(path)
    return path


def svg(path: Path, body: str, head: str = 'width="600mm" height="600mm" viewBox="0 0 600 600"') -> Path:
    text = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
        f' xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" {head}>{body}</svg>'
    )
    path.write_text(text, encoding="utf-8")
    return path


def at_centre(path: Path, x: float = 300.0, **more: Any) -> Outline:
    return read_outline_file(path, along="+x", origin=(0.0, x), **more)


# --- curves against closed forms -------------------------------------------------------------


def test_circle_has_the_area_of_a_circle(tmp_path: Path) -> None:
    path = dxf(tmp_path / "c.dxf", lambda m: m.add_circle((200, 300), 150))
    outline = at_centre(path)
    # A ring inscribed within s of a circle loses less than perimeter * s.
    exact = math.pi * 150**2
    assert exact - 2 * math.pi * 150 * FLATTENING < polygon(outline).area < exact
    radii = np.hypot(*(np.array(outline.points) - (200, 0)).T)
    assert np.allclose(radii, 150, atol=1e-6)
    middles = (np.array(outline.points) + np.roll(outline.points, 1, axis=0)) / 2 - (200, 0)
    assert np.hypot(*middles.T).min() > 150 - FLATTENING


def test_ellipse_lies_on_its_equation(tmp_path: Path) -> None:
    path = dxf(tmp_path / "e.dxf", lambda m: m.add_ellipse((0, 300), major_axis=(160, 120), ratio=0.6))
    points = np.array(at_centre(path).points)
    along, across = points @ [0.8, 0.6] / 200, points @ [-0.6, 0.8] / 120
    assert np.allclose(along**2 + across**2, 1, atol=1e-9)
    # Area pi a b.
    assert polygon(at_centre(path)).area == pytest.approx(math.pi * 200 * 120, abs=1020 * FLATTENING)
    _chords_stay_near(points, lambda t: _ellipse_at(t, 200, 120), 4096)


def _ellipse_at(t: Any, a: float, b: float) -> Any:
    along, across = a * np.cos(t), b * np.sin(t)
    return np.column_stack([0.8 * along - 0.6 * across, 0.6 * along + 0.8 * across])


def _chords_stay_near(points: Any, curve: Callable[[Any], Any], count: int) -> None:
    """Every one of `count` points of the true closed curve lies within 0.01 mm of the ring."""

    true = curve(np.linspace(0, 2 * math.pi, count, endpoint=False))
    assert distance(LinearRing(points), shapely_points(true)).max() < FLATTENING


@pytest.mark.parametrize("kind", ["lwpolyline", "polyline", "arcs", "svg"])
def test_stadium_drawn_four_ways_is_one_stadium(tmp_path: Path, kind: str) -> None:
    # 240 mm straight sides, ends of radius 90: area 240 * 180 + pi 90^2.
    corners = [(130, 210, 0), (370, 210, 1), (370, 390, 0), (130, 390, 1)]

    def draw(m: Any) -> None:
        if kind == "lwpolyline":
            m.add_lwpolyline(corners, format="xyb", close=True)
        elif kind == "polyline":
            m.add_polyline2d(corners, format="xyb", close=True)
        else:
            m.add_line((370, 210), (130, 210))
            m.add_arc((370, 300), 90, 270, 90)
            m.add_line((130, 390), (370, 390))
            m.add_arc((130, 300), 90, 90, 270)

    if kind == "svg":
        path = svg(tmp_path / "s.svg", '<path d="M130 210H370A90 90 0 0 1 370 390H130a90 90 0 0 1 0-180Z"/>')
    else:
        path = dxf(tmp_path / "s.dxf", draw)
    shape = polygon(at_centre(path))
    assert shape.area == pytest.approx(240 * 180 + math.pi * 90**2, abs=2 * math.pi * 90 * FLATTENING)
    assert shape.exterior.length == pytest.approx(480 + 2 * math.pi * 90, abs=0.05)
    assert shape.bounds == pytest.approx((40, -90, 460, 90), abs=FLATTENING)


def test_spline_that_is_exactly_a_parabola(tmp_path: Path) -> None:
    # A quadratic Bézier curve is a parabola: with its chord it encloses 2/3 of the triangle's area
    # (Archimedes, Quadrature of the Parabola: 4/3 of the inscribed triangle).
    def draw(m: Any) -> None:
        m.add_open_spline([(0, 200), (150, 500), (300, 200)], degree=2)
        m.add_line((300, 200), (0, 200))

    outline = read_outline_file(dxf(tmp_path / "p.dxf", draw), along="+x", origin=(0, 250))
    triangle = 300 * 300 / 2
    assert polygon(outline).area == pytest.approx(2 / 3 * triangle, abs=700 * FLATTENING)
    x, y = np.array(outline.points).T
    on_curve = y > -49.9
    assert np.allclose(y[on_curve] + 50, 600 * (x[on_curve] / 300) * (1 - x[on_curve] / 300), atol=1e-6)


def test_rational_spline_that_is_exactly_a_circle(tmp_path: Path) -> None:
    # The nine-point rational quadratic circle (Piegl and Tiller, The NURBS Book, ch. 7).
    ring = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    weights = [1, math.sqrt(0.5)] * 4 + [1]
    knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]

    def draw(m: Any) -> None:
        spline = m.add_spline(degree=2)
        spline.control_points = [(160 * x, 300 + 160 * y, 0) for x, y in ring]
        spline.weights = weights
        spline.knots = knots

    points = np.array(at_centre(dxf(tmp_path / "n.dxf", draw)).points)
    assert np.allclose(np.hypot(*points.T), 160, atol=1e-6)
    _chords_stay_near(points, lambda t: 160 * np.column_stack([np.cos(t), np.sin(t)]), 4096)


def test_closed_spline_with_wrapped_controls(tmp_path: Path) -> None:
    # A closed uniform cubic B-spline passes (P[i-1] + 4 P[i] + P[i+1]) / 6 (The NURBS Book, ch. 2): for
    # controls at equal angles on an ellipse that is the control drawn in by (4 + 2 cos 45 deg) / 6.
    angles = np.linspace(0, 2 * math.pi, 8, endpoint=False)
    controls = np.column_stack([200 * np.cos(angles), 150 * np.sin(angles)])

    def draw(m: Any) -> None:
        m.add_spline(degree=3).set_closed([(x, y, 0) for x, y in controls], degree=3)

    points = read_outline_file(dxf(tmp_path / "w.dxf", draw), along="+x", origin=(0, 0)).points
    ring = LinearRing(points)
    on_curve = controls * (4 + 2 * math.cos(math.pi / 4)) / 6
    assert distance(ring, shapely_points(on_curve)).max() < FLATTENING
    assert ring.is_valid


def test_spline_of_fit_points_alone_is_doubtful(tmp_path: Path) -> None:
    path = dxf(tmp_path / "f.dxf", lambda m: m.add_spline([(0, 0), (300, 0), (150, 200), (0, 0)]))
    with pytest.raises(
        OutlineError, match=r"a SPLINE from \(0\.000, 0\.000\) is stated by its fit points alone"
    ):
        read_outline_file(path, along="+x", origin=(0, 100))


def test_cubic_bezier_with_a_middle_on_its_chord_is_still_followed(tmp_path: Path) -> None:
    # An S whose middle lies on its chord deceives a test of the middle alone.
    p = np.array([(100, 300), (200, 420), (300, 180), (400, 300)], dtype=float)
    path = svg(tmp_path / "b.svg", '<path d="M100 300C200 420 300 180 400 300V500H100Z"/>')
    ring = LinearRing(np.array(read_outline_file(path, along="+x", origin=(0, 400)).points))

    t = np.linspace(0, 1, 2001)[:, None]
    true = (1 - t) ** 3 * p[0] + 3 * (1 - t) ** 2 * t * p[1] + 3 * (1 - t) * t**2 * p[2] + t**3 * p[3]
    true = np.column_stack([true[:, 0], -(true[:, 1] - 400)])
    assert distance(ring, shapely_points(true)).max() < FLATTENING


def test_svg_transforms_and_skew_are_followed(tmp_path: Path) -> None:
    # rotate, scale and skewX change an area by the determinant of their matrix: 1, 2 * 1.5 and 1.
    body = (
        '<g transform="translate(300 300) rotate(20)"><g transform="scale(2 1.5)">'
        '<circle r="60" transform="skewX(25)"/></g></g>'
    )
    outline = at_centre(svg(tmp_path / "t.svg", body))
    assert polygon(outline).area == pytest.approx(math.pi * 60**2 * 3, abs=1000 * FLATTENING)
    # The same matrices multiplied out (CSS Transforms 1, section 13) carry the unit circle.
    c, s = math.cos(math.radians(20)), math.sin(math.radians(20))
    matrix = np.array([[c, -s], [s, c]]) @ np.diag([2, 1.5]) @ [[1, math.tan(math.radians(25))], [0, 1]]
    turn = np.array([[1.0, 0.0], [0.0, -1.0]])

    def true(t: Any) -> Any:
        return (60 * np.column_stack([np.cos(t), np.sin(t)]) @ matrix.T + [300, 0]) @ turn

    _chords_stay_near(outline.points, true, 4096)


def test_reference_in_svg_is_drawn_where_it_is_used(tmp_path: Path) -> None:
    body = '<defs><ellipse id="e" rx="150" ry="100"/></defs><use xlink:href="#e" x="200" y="300"/>'
    shape = polygon(at_centre(svg(tmp_path / "u.svg", body)))
    assert shape.bounds == pytest.approx((50, -100, 350, 100), abs=FLATTENING)


# --- units ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "mm"),
    # DXF Reference, HEADER, $INSUNITS; the inch is 25.4 mm exactly (International yard and pound, 1959).
    [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0), (10, 914.4), (14, 100.0)],
)
def test_dxf_units(tmp_path: Path, code: int, mm: float) -> None:
    path = dxf(tmp_path / "u.dxf", lambda m: m.add_circle((0, 0), 160 / mm), units=code)
    shape = polygon(read_outline_file(path, along="+x", origin=(0, 0)))
    assert shape.bounds == pytest.approx((-160, -160, 160, 160), abs=FLATTENING)
    assert shape.area == pytest.approx(math.pi * 160**2, abs=1006 * FLATTENING)


@pytest.mark.parametrize(
    ("size", "box", "mm"),
    # CSS Values and Units 3, section 6.2: 1in = 25.4mm = 72pt = 6pc, 1Q = 1/40 cm.
    [
        ("600mm", 600, 1),
        ("60cm", 1200, 0.5),
        ("20in", 20, 25.4),
        ("1440pt", 1440, 25.4 / 72),
        ("120pc", 240, 25.4 / 12),
        ("2400Q", 600, 1),
    ],
)
def test_svg_units(tmp_path: Path, size: str, box: float, mm: float) -> None:
    half = 100 / mm
    path = svg(
        tmp_path / "u.svg",
        f'<rect x="{half}" y="{half}" width="{2 * half}" height="{2 * half}"/>',
        f'width="{size}" height="{size}" viewBox="0 0 {box} {box}"',
    )
    shape = polygon(read_outline_file(path, along="+x", origin=(0, 200)))
    assert shape.bounds == pytest.approx((100, -100, 300, 100), abs=1e-6)


def test_page_corner_is_the_origin_when_the_view_box_is_shifted(tmp_path: Path) -> None:
    path = svg(
        tmp_path / "v.svg",
        '<rect x="0" y="0" width="300" height="200"/>',
        'width="800mm" height="600mm" viewBox="-100 -50 800 600"',
    )
    shape = polygon(read_outline_file(path, along="+x", origin=(100, 150)))
    assert shape.bounds == pytest.approx((0, -100, 300, 100), abs=1e-9)


# --- the front stays the front ------------------------------------------------------------------

# An asymmetric body, neck up, seen from the front: bass side left, treble side right. The tail is
# at the bottom; the treble side carries the wider lobe. Page coordinates, y up.
NECK_UP = [
    (120, 400),
    (180, 400),
    (180, 300),
    (300, 250),
    (300, 100),
    (150, 0),
    (60, 100),
    (60, 300),
    (120, 300),
]


@pytest.mark.parametrize("quarter_turns", [0, 1, 2, 3])
@pytest.mark.parametrize("kind", ["dxf", "svg"])
def test_front_view_is_turned_and_never_mirrored(tmp_path: Path, kind: str, quarter_turns: int) -> None:
    turned = np.array(NECK_UP, dtype=float) - 150
    for _ in range(quarter_turns):
        turned = np.column_stack([-turned[:, 1], turned[:, 0]])  # a quarter counter-clockwise
    along = ["-y", "+x", "+y", "-x"][quarter_turns]
    if kind == "dxf":
        path = dxf(tmp_path / "f.dxf", lambda m: m.add_lwpolyline(turned.tolist(), close=True))
        centre = 0.0
    else:
        page = np.column_stack([turned[:, 0] + 300, 300 - turned[:, 1]])
        points = " ".join(f"{x},{y}" for x, y in page)
        path = svg(tmp_path / "f.svg", f'<polygon points="{points}"/>')
        # In the page's own coordinates y points down, so up and down change names.
        along = {"+y": "-y", "-y": "+y"}.get(along, along)
        centre = 300.0
    outline = read_outline_file(path, along=along, centre=centre, tail=740)  # type: ignore[arg-type]
    shape = polygon(outline)
    # x grows from the neck (400 mm before the tail) to the tail; the treble lobe is at +150.
    assert shape.bounds == pytest.approx((340, -90, 740, 150), abs=1e-9)
    assert shape.exterior.is_ccw
    back = read_outline_file(path, along=along, centre=centre, tail=740, seen_from="back")  # type: ignore[arg-type]
    assert polygon(back).bounds == pytest.approx((340, -150, 740, 90), abs=1e-9)
    assert polygon(back).exterior.is_ccw


def test_tail_is_measured_on_the_centreline(tmp_path: Path) -> None:
    # The tail slants: on the centreline it lies at 350, at the treble edge at 400.
    path = dxf(
        tmp_path / "t.dxf",
        lambda m: m.add_lwpolyline([(0, -100), (300, -100), (400, 100), (0, 100)], close=True),
    )
    outline = read_outline_file(path, along="+x", centre=0, tail=700)
    assert max(x for x, _ in outline.points) == pytest.approx(750)
    assert min(x for x, _ in outline.points) == pytest.approx(350)


@pytest.mark.parametrize("stated", [200, 200.0, "200", "200 mm", "20 cm", "7 7/8 in", '7.875"'])
def test_the_centreline_of_a_page_may_be_any_shop_length(tmp_path: Path, stated: float | str) -> None:
    """7 7/8 in are 200.025 mm; the page has a size in mm, so a bare number is mm."""
    path = svg(tmp_path / "c.svg", '<rect x="100" y="100" width="300" height="200"/>')
    statement = OutlineStatement.model_validate({"file": "c.svg", "centre": stated, "tail": 700})
    outline = read_outline_file(path, along="+x", centre=statement.centre, tail=700)
    by_hand = 200.025 if isinstance(stated, str) and ("in" in stated or '"' in stated) else 200.0
    assert max(y for _, y in outline.points) == pytest.approx(by_hand - 100, abs=1e-9)


def test_a_length_is_a_length_in_a_file_drawn_in_inches(tmp_path: Path) -> None:
    """4 in from the file's zero, stated as 101.6 mm or as the bare 4 of the file's own units."""
    path = dxf(
        tmp_path / "i.dxf",
        lambda m: m.add_lwpolyline([(0, 0), (16, 0), (16, 8), (0, 8)], close=True),
        units=1,
    )
    bare, length = (
        read_outline_file(path, along="+x", origin=statement.origin)
        for statement in (
            OutlineStatement.model_validate({"file": "i.dxf", "origin": [-4, 4]}),
            OutlineStatement.model_validate({"file": "i.dxf", "origin": ["-101.6 mm", "4 in"]}),
        )
    )
    assert bare.points == pytest.approx(np.array(length.points))
    assert max(y for _, y in bare.points) == pytest.approx(4 * 25.4)


def test_entity_seen_from_behind_is_drawn_where_it_shows(tmp_path: Path) -> None:
    # Extrusion (0, 0, -1) mirrors the entity's own x (DXF Reference, Arbitrary Axis Algorithm).
    path = dxf(
        tmp_path / "x.dxf",
        lambda m: m.add_lwpolyline(
            [(-300, 0, 0), (-100, 0, 1), (-100, 200, 0), (-300, 200, 0)],
            format="xyb",
            close=True,
            dxfattribs={"extrusion": (0, 0, -1)},
        ),
    )
    shape = polygon(read_outline_file(path, along="+x", origin=(0, 100)))
    # Counter-clockwise in its own plane, the bulge reaches that plane's x = 0, which shows as x = 0.
    assert shape.bounds == pytest.approx((0, -100, 300, 100), abs=FLATTENING)
    independent = readfile(path).modelspace()[0]

    other = Polygon([(p.x, p.y - 100) for p in make_path(independent).flattening(0.01)])
    assert shape.symmetric_difference(other).area < 20


# --- choosing the outline -----------------------------------------------------------------------


def test_outline_is_the_loop_that_holds_everything(tmp_path: Path) -> None:
    def draw(m: Any) -> None:
        m.add_lwpolyline([(0, 0), (400, 0), (400, 300), (0, 300)], close=True, dxfattribs={"layer": "EDGE"})
        m.add_circle((200, 150), 40, dxfattribs={"layer": "POCKET"})
        m.add_line((10, 150), (390, 150), dxfattribs={"layer": "CENTRE"})
        m.add_text("front")

    outline = read_outline_file(dxf(tmp_path / "o.dxf", draw), along="+x", origin=(0, 150))
    assert polygon(outline).area == pytest.approx(120_000)
    assert outline.source == "file o.dxf, layer EDGE"
    assert outline.unit_note == "drawn in millimetres ($INSUNITS 4)"


def test_layer_chooses_among_several(tmp_path: Path) -> None:
    def draw(m: Any) -> None:
        m.add_circle((200, 200), 150, dxfattribs={"layer": "Body"})
        m.add_circle((900, 200), 150, dxfattribs={"layer": "other"})

    path = dxf(tmp_path / "l.dxf", draw)
    chosen = read_outline_file(path, along="+x", origin=(0, 200), layer="BODY")
    assert polygon(chosen).bounds[0] == pytest.approx(50, abs=FLATTENING)
    with pytest.raises(
        OutlineError, match=r"none contains all the others: layer 'Body' from .* layer 'other'"
    ):
        read_outline_file(path, along="+x", origin=(0, 200))
    body = (
        '<g inkscape:label="edge"><circle cx="200" cy="300" r="150"/></g>'
        '<circle id="far" cx="550" cy="300" r="60"/>'
    )
    path = svg(tmp_path / "l.svg", body)
    assert polygon(at_centre(path, layer="edge")).bounds[0] == pytest.approx(50, abs=FLATTENING)
    with pytest.raises(OutlineError, match=r"layer 'edge' from .* layer 'far'"):
        at_centre(path)


@pytest.mark.parametrize(
    "hidden",
    [
        '<g display="none">{}</g>',
        '<g style="display:none">{}</g>',
        '<g visibility="hidden">{}</g>',
        "<style>.st0{{display:none;}}</style><g class='st0'>{}</g>",
        "<defs>{}</defs>",
        "<symbol id='s'>{}</symbol>",
        "<clipPath id='c'>{}</clipPath>",
    ],
)
def test_what_an_svg_hides_is_not_read(tmp_path: Path, hidden: str) -> None:
    body = hidden.format('<rect width="590" height="590"/>') + '<circle cx="200" cy="300" r="150"/>'
    assert polygon(at_centre(svg(tmp_path / "h.svg", body))).bounds[2] == pytest.approx(350, abs=FLATTENING)


def test_what_a_dxf_hides_is_not_read(tmp_path: Path) -> None:
    document = new()
    document.units = 4
    document.layers.add("OFF").off()
    document.layers.add("FROZEN").freeze()
    m = document.modelspace()
    for layer in ("OFF", "FROZEN"):
        m.add_circle((200, 200), 300, dxfattribs={"layer": layer})
    m.add_circle((200, 200), 150)
    m.add_linear_dim(base=(0, 400), p1=(50, 200), p2=(350, 200)).render()
    document.saveas(tmp_path / "h.dxf")
    outline = read_outline_file(tmp_path / "h.dxf", along="+x", origin=(0, 200))
    assert polygon(outline).bounds[0] == pytest.approx(50, abs=FLATTENING)


def test_blocks_are_taken_apart(tmp_path: Path) -> None:
    document = new()
    document.units = 4
    block = document.blocks.new("BODY")
    block.add_lwpolyline([(0, 0), (200, 0), (200, 150), (0, 150)], close=True)
    document.modelspace().add_blockref("BODY", (10, 20), dxfattribs={"xscale": 2, "yscale": 2})
    document.saveas(tmp_path / "b.dxf")
    outline = read_outline_file(tmp_path / "b.dxf", along="+x", origin=(0, 170))
    assert polygon(outline).bounds == pytest.approx((10, -150, 410, 150))


def test_binary_dxf_is_read(tmp_path: Path) -> None:
    document = new()
    document.units = 4
    document.modelspace().add_circle((0, 0), 150)
    document.saveas(tmp_path / "b.dxf", fmt="bin")
    assert (tmp_path / "b.dxf").read_bytes().startswith(b"AutoCAD Binary DXF")
    outline = read_outline_file(tmp_path / "b.dxf", along="+x", origin=(0, 0))
    assert polygon(outline).area == pytest.approx(math.pi * 150**2, abs=10)


# --- known sizes --------------------------------------------------------------------------------


def _unitless(tmp_path: Path, scale: float = 1.0) -> Path:
    return dxf(
        tmp_path / "n.dxf",
        lambda m: m.add_lwpolyline(
            [(scale * x, scale * y) for x, y in ((0, 0), (400, 0), (400, 300), (0, 300))], close=True
        ),
        units=0,
    )


def test_file_without_units_needs_a_known_size(tmp_path: Path) -> None:
    with pytest.raises(OutlineError, match=r"no unit in the file.*give the body's true_length"):
        read_outline_file(_unitless(tmp_path), along="+x", origin=(0, 150))


def test_known_size_finds_the_unit_drawn_in(tmp_path: Path) -> None:
    path = _unitless(tmp_path, 1 / 25.4)
    outline = read_outline_file(path, along="+x", origin=(0, 150 / 25.4), true_length=400.6)
    # A tape reading 0.6 mm long does not stretch the drawing.
    assert polygon(outline).bounds == pytest.approx((0, -150, 400, 150))
    assert outline.unit_note == "taken as inches, which the true length 400.6 mm confirms"


def test_known_size_sets_any_other_scale(tmp_path: Path) -> None:
    outline = read_outline_file(_unitless(tmp_path, 0.37), along="+x", origin=(0, 0.37 * 150), true_width=300)
    assert polygon(outline).bounds == pytest.approx((0, -150, 400, 150))
    assert outline.unit_note.startswith("scaled to the true width of 300 mm: 2.7027")


def test_known_size_of_a_line_there_and_back_is_no_scale(tmp_path: Path) -> None:
    path = dxf(
        tmp_path / "z.dxf", lambda m: m.add_lwpolyline([(7, 5), (400, 5), (200, 5)], close=True), units=0
    )
    with pytest.raises(OutlineError, match=r"near \(7\.000, 5\.000\) encloses no area"):
        read_outline_file(path, along="+x", origin=(0, 0), true_width=300)


def test_known_sizes_must_agree_with_the_file_and_each_other(tmp_path: Path) -> None:
    with pytest.raises(OutlineError, match="contradict each other: drawn 400 × 300, given 400 × 330 mm"):
        read_outline_file(_unitless(tmp_path), along="+x", origin=(0, 150), true_length=400, true_width=330)
    path = dxf(tmp_path / "k.dxf", lambda m: m.add_circle((0, 0), 150))
    with pytest.raises(OutlineError, match=r"true length is given as 310 mm, but the outline is 300\.0 mm"):
        read_outline_file(path, along="+x", origin=(0, 0), true_length=310)
    outline = read_outline_file(path, along="+x", origin=(0, 0), true_length=301)
    assert outline.unit_note == "drawn in millimetres ($INSUNITS 4), confirmed by the true length"


def test_svg_in_pixels_needs_a_known_size(tmp_path: Path) -> None:
    pixels = 300 / 25.4 * 96
    head = 'width="2000" height="2000" viewBox="0 0 2000 2000"'
    path = svg(tmp_path / "p.svg", f'<rect x="10" y="10" width="{pixels}" height="{pixels / 2}"/>', head)
    with pytest.raises(OutlineError, match="no page size in mm or inches"):
        read_outline_file(path, along="+x", origin=(10, 10 + pixels / 4))
    outline = read_outline_file(path, along="+x", origin=(10, 10 + pixels / 4), true_length=300)
    assert polygon(outline).bounds == pytest.approx((0, -75, 300, 75))
    assert "pixels of 1/96 in" in outline.unit_note


# --- refusals that name the place ---------------------------------------------------------------


def _lines(*ends: tuple[float, float]) -> Callable[[Any], None]:
    def draw(m: Any) -> None:
        for a, b in itertools.pairwise(ends):
            m.add_line(a, b)

    return draw


REFUSED: list[tuple[str, Callable[[Any], object], str]] = [
    (
        "gap",
        _lines((0, 0), (400, 0), (400, 300), (0, 300), (0, 0.03)),
        r"does not close; its ends, at \(0\.000, 0\.0[03]0\) and \(0\.000, 0\.0[03]0\), are 0\.03",
    ),
    (
        "crossing",
        lambda m: m.add_lwpolyline([(0, 0), (400, 300), (400, 0), (0, 300)], close=True),
        r"crosses or touches itself at \(200\.000, 150\.000\)",
    ),
    (
        "touching",
        lambda m: m.add_lwpolyline(
            [(0, 0), (400, 0), (200, 150), (400, 300), (0, 300), (200, 150)], close=True
        ),
        r"crosses or touches itself at \(200\.000, 150\.000\)",
    ),
    (
        "branch",
        lambda m: [_lines((0, 0), (400, 0), (400, 300), (0, 300), (0, 0))(m), m.add_line((0, 0), (100, 100))],
        r"3 lines meet at \(0\.000, 0\.000\) on layer '0'",
    ),
    (
        "twice",
        lambda m: [_lines((0, 0), (400, 0), (400, 300), (0, 300), (0, 0))(m) for _ in range(2)],
        r"4 lines meet at .* drawn twice",
    ),
    (
        "tiny",
        lambda m: m.add_circle((5, 6), 20),
        r"from \(-1[45]\.\d+, -1[34]\.\d+\) to \(2[45]\.\d+, 2[56]\.\d+\) measures only 40\.0 × 40\.0 mm",
    ),
    ("huge", lambda m: m.add_circle((0, 0), 1600), r"measures 3200 × 3200 mm, and a body is at most 1500 mm"),
    (
        "no area",
        lambda m: m.add_lwpolyline([(0, 0), (400, 0), (200, 0)], close=True),
        r"only 0\.0 mm wide",
    ),
    (
        "not flat",
        lambda m: m.add_polyline3d([(0, 0, 0), (400, 0, 0), (400, 300, 20), (0, 300, 0)], close=True),
        r"not flat \(its z runs from 0\.000 to 20\.000\)",
    ),
    (
        "endless",
        lambda m: m.add_line((0, 0, 0), (400, 0, float("inf"))),
        r"a damaged LINE \(handle [0-9A-F]+\) cannot be drawn; redraw it",
    ),
    (
        "edge open, pocket closed",
        lambda m: [_lines((0, 0), (400, 0), (400, 300), (0, 300), (0, 2))(m), m.add_circle((200, 150), 60)],
        r"does not close; its ends, at .* are 2 mm apart.*closed loop was found on layer '0' from \(140",
    ),
    ("empty", lambda m: m.add_text("nothing"), r"no line or curve is drawn in model space \(only TEXT\)"),
    ("beside", lambda m: m.add_circle((0, 900), 150), r"the centreline does not pass through the body"),
]


@pytest.mark.parametrize(("draw", "words"), [case[1:] for case in REFUSED], ids=[case[0] for case in REFUSED])
def test_doubtful_dxf_is_refused_with_the_place(
    tmp_path: Path, draw: Callable[[Any], object], words: str
) -> None:
    with pytest.raises(OutlineError, match=words) as refused:
        read_outline_file(dxf(tmp_path / "d.dxf", draw), along="+x", origin=(0, 150))
    assert str(refused.value).startswith("file d.dxf")


def test_rounding_to_four_decimals_of_an_inch_still_closes(tmp_path: Path) -> None:
    # Ends rounded as a drawing program in inches writes them: up to half of 0.0001 in each way.
    def draw(m: Any) -> None:
        m.add_line((0, 0), (15.74995, 0))
        m.add_line((15.75, 0.00005), (15.75, 12))
        m.add_line((15.75005, 12), (0.00003, 12.00004))
        m.add_line((0, 12), (0, 0.00004))

    outline = read_outline_file(dxf(tmp_path / "i.dxf", draw, units=1), along="+x", origin=(0, 6))
    assert polygon(outline).bounds == pytest.approx((0, -152.4, 400.05, 152.4), abs=0.005)


BAD_FILES: list[tuple[str, bytes, str]] = [
    ("empty.dxf", b"", "is empty"),
    ("blank.svg", b" \n ", "is empty"),
    ("noise.dxf", zlib.compress(bytes(range(256)) * 40), "not a readable DXF file"),
    ("noise.svg", zlib.compress(bytes(range(256)) * 40), "not a readable SVG file"),
    ("words.dxf", b"this is no drawing\n" * 50, "not a readable DXF file"),
    ("old.dxf", b"AC1027" + bytes(200), "is a DWG drawing"),
    ("half.svg", b'<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0', "not a readable SVG file"),
    ("page.svg", b"<html><body/></html>", "no SVG drawing"),
    ("body.pdf", b"%PDF-1.7", r"from a \.dxf or an \.svg file"),
    (
        "bomb.svg",
        b'<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><svg>&b;</svg>',
        "declares XML entities",
    ),
    (
        "wide.svg",
        '<!DOCTYPE svg [<!ENTITY a "aaaa">]><svg>&a;</svg>'.encode("utf-16"),
        "declares XML entities",
    ),
    (
        "stretched.svg",
        b'<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="400mm" viewBox="0 0 400 300"/>',
        "different proportions",
    ),
    (
        "none.svg",
        b'<svg xmlns="http://www.w3.org/2000/svg" width="400mm" viewBox="0 0 400 400"><text/></svg>',
        "no shape is shown",
    ),
    (
        "own.svg",
        b'<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="400mm" viewBox="0 0 800 800">'
        b'<rect width="300mm" height="200mm"/></svg>',
        'the width of a rect is "300mm", with a unit',
    ),
    (
        "loop.svg",
        b'<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="400mm" viewBox="0 0 400 400">'
        b'<g id="a"><use href="#a"/></g></svg>',
        "nested too deep",
    ),
    (
        "torn.svg",
        b'<svg xmlns="http://www.w3.org/2000/svg" width="400mm" viewBox="0 0 400 400">'
        b'<path d="M0 0H300V200H0Z M-9 -9 L#!"/></svg>',
        "the path data of a path on layer '' is damaged",
    ),
    (
        "nan.svg",
        b'<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="400mm" viewBox="0 0 400 400">'
        b'<path d="M0 0L1e999 0L5 300Z"/></svg>',
        "a broken or far too large number",
    ),
]


def _block_of(inside: list[str], copies: int) -> bytes:
    """A text DXF that sets one block out in so many rows and columns."""
    at = ["10", "0", "20", "0", "30", "0"]
    place = [*at, "70", str(copies), "71", str(copies), "44", "1", "45", "1"]
    tags = ["0", "SECTION", "2", "BLOCKS", "0", "BLOCK", "8", "0", "2", "B", "70", "0", *at, *inside]
    tags += ["0", "ENDBLK", "8", "0", "0", "ENDSEC", "0", "SECTION", "2", "ENTITIES"]
    tags += ["0", "INSERT", "8", "0", "2", "B", *place, "0", "ENDSEC", "0", "EOF", ""]
    return "\n".join(tags).encode()


_LINE = ["0", "LINE", "8", "0", "10", "0", "20", "0", "11", "3", "21", "4"]
_POLYLINE = ["0", "POLYLINE", "8", "0", "66", "1"] + ["0", "VERTEX", "8", "0", "10", "1", "20", "2"] * 150
_PAGE = b'<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="400mm" viewBox="0 0 400 400">'

SMALL_FILES_OF_LARGE_DRAWINGS: list[tuple[str, bytes, str]] = [
    ("array.dxf", _block_of(_LINE * 90, 170), "more than 30000 things"),
    (
        "corners.dxf",
        _block_of([*_POLYLINE, "0", "SEQEND", "8", "0"], 100),
        "blocks draw more than 200000 corners",
    ),
    (
        "records.dxf",
        b"0\nSECTION\n2\nENTITIES\n" + b"0\nPOINT\n" * 150_001 + b"0\nENDSEC\n0\nEOF\n",
        "150000 entities",
    ),
    ("elements.svg", _PAGE + b"<g/>" * 200_001 + b"</svg>", "more than 200000 elements"),
    ("numbers.svg", _PAGE + b'<path d="M0 0' + b"L1 1" * 200_001 + b'"/></svg>', "more than 400000 numbers"),
    (
        "used.svg",
        _PAGE + b'<path id="p" d="M0 0' + b"L1 1" * 300 + b'"/>' + b'<use href="#p"/>' * 1000 + b"</svg>",
        "more than 400000 numbers",
    ),
    (
        "moved.svg",
        _PAGE
        + b'<g transform="'
        + b"rotate(1)" * 3000
        + b'">'
        + b'<path d="M0 0L1 1"/>' * 1000
        + b"</g></svg>",
        "more transforms than can be read",
    ),
]


@pytest.mark.parametrize(
    ("name", "data", "words"),
    SMALL_FILES_OF_LARGE_DRAWINGS,
    ids=[case[0] for case in SMALL_FILES_OF_LARGE_DRAWINGS],
)
def test_what_a_drawing_unfolds_to_is_counted_before_it_is_unfolded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, data: bytes, words: str
) -> None:
    def unfolded(*_: object, **__: object) -> None:
        raise AssertionError("it was unfolded")

    monkeypatch.setattr("ezdxf.entities.insert.Insert.multi_insert", unfolded)
    monkeypatch.setattr("ezdxf.entities.insert.Insert.virtual_entities", unfolded)
    monkeypatch.setattr("svgelements.SVG.parse", unfolded)
    (tmp_path / name).write_bytes(data)
    with pytest.raises(OutlineError, match=words) as refused:
        at_centre(tmp_path / name)
    assert re.match(rf"file {re.escape(name)}\b.*(new file|simplify)", str(refused.value))


def test_a_style_sheet_is_read_once_however_it_is_broken(tmp_path: Path) -> None:
    """Of so many rules that never close, each used to be looked for to the end of the sheet."""
    sheet = b"<style>.off{display:none}" + b".a{" * 100_000 + b"</style>"
    shapes = b'<rect class="off" width="9" height="9"/><rect width="300" height="200"/>'
    (tmp_path / "s.svg").write_bytes(_PAGE + sheet + shapes + b"</svg>")
    with within(Bounds(seconds=10.0, megabytes=1000)):
        assert polygon(at_centre(tmp_path / "s.svg", 100.0)).area == pytest.approx(300 * 200)


@pytest.mark.parametrize(("name", "data", "words"), BAD_FILES, ids=[case[0] for case in BAD_FILES])
def test_unusable_files_get_a_sentence(tmp_path: Path, name: str, data: bytes, words: str) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(OutlineError, match=words) as refused:
        at_centre(tmp_path / name)
    assert re.fullmatch(rf"file {re.escape(name)}\b.*\.", str(refused.value), re.DOTALL)


def test_references_that_multiply_are_stopped(tmp_path: Path) -> None:
    # Ten uses of ten uses of ..., eight deep: a hundred million circles if followed.
    groups = "".join(f'<g id="g{n}">' + f'<use href="#g{n - 1}"/>' * 10 + "</g>" for n in range(1, 9))
    path = svg(tmp_path / "m.svg", f'<defs><circle id="g0" r="9"/>{groups}</defs><use href="#g8"/>')
    with pytest.raises(OutlineError, match="too many shapes"):
        at_centre(path)


def test_blocks_that_multiply_or_hold_themselves_are_stopped(tmp_path: Path) -> None:
    def draw(m: Any) -> None:
        m.doc.blocks.new("A").add_circle((0, 0), 60)
        grid = {"row_count": 30_000, "column_count": 30_000, "row_spacing": 5, "column_spacing": 5}
        m.add_blockref("A", (0, 0), dxfattribs=grid)

    with pytest.raises(OutlineError, match="more than 30000 things are drawn"):
        at_centre(dxf(tmp_path / "m.dxf", draw))

    def ring(m: Any) -> None:
        m.doc.blocks.new("B").add_blockref("B", (1, 1))
        m.add_blockref("B", (0, 0))

    with pytest.raises(OutlineError, match="block 'B' contains itself"):
        at_centre(dxf(tmp_path / "r.dxf", ring))


def test_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(OutlineError, match=r"file gone\.dxf cannot be read \(No such file"):
        at_centre(tmp_path / "gone.dxf")
    (tmp_path / "folder.svg").mkdir()
    with pytest.raises(OutlineError, match=r"file folder\.svg cannot be read"):
        at_centre(tmp_path / "folder.svg")


def test_file_beyond_the_size_bound_is_not_read(tmp_path: Path) -> None:
    with (tmp_path / "big.dxf").open("wb") as file:
        file.truncate(60_000_000)
    with pytest.raises(OutlineError, match="60 MB, more than the 20 MB"):
        at_centre(tmp_path / "big.dxf")


def test_truncated_dxf_is_refused_or_whole(tmp_path: Path) -> None:
    """Cut anywhere, a file is refused in a sentence: no half outline, no traceback."""
    path = dxf(tmp_path / "whole.dxf", _lines((0, 0), (400, 0), (400, 300), (0, 300), (0, 0)))
    text = path.read_bytes()
    whole = read_outline_file(path, along="+x", origin=(0, 150)).points
    for cut in range(0, len(text), max(1, len(text) // 60)):
        (tmp_path / "cut.dxf").write_bytes(text[:cut])
        try:
            points = read_outline_file(tmp_path / "cut.dxf", along="+x", origin=(0, 150)).points
        except OutlineError:
            continue
        assert set(points) == set(whole)


def test_place_must_be_stated_once(tmp_path: Path) -> None:
    path = dxf(tmp_path / "p.dxf", lambda m: m.add_circle((0, 0), 150))
    with pytest.raises(OutlineError, match="the outline's place is not stated"):
        read_outline_file(path, along="+x", centre=0)
    with pytest.raises(OutlineError, match="stated twice"):
        read_outline_file(path, along="+x", centre=0, tail=740, origin=(0, 0))
    with pytest.raises(OutlineError, match="one of"):
        read_outline_file(path, along="x", origin=(0, 0))  # type: ignore[arg-type]
    with pytest.raises(OutlineError, match="true_length is -3 mm"):
        read_outline_file(path, along="+x", origin=(0, 0), true_length=-3)


# --- built-in shapes ------------------------------------------------------------------------------


@pytest.mark.parametrize("shape", shape_names())
def test_built_in_shape_has_the_dimensions_it_was_given(shape: str) -> None:
    m = shape_measures(shape)
    outline = built_in(shape, tail=740, **vars(m))
    body = polygon(outline)
    assert body.is_valid
    assert body.exterior.is_ccw
    low_x, low_y, high_x, high_y = body.bounds
    # The tail edge is stated on the centreline; beside it the tail may reach further.
    tail = body.exterior.intersection(LineString([(600, 0), (900, 0)]))
    assert tail.x == pytest.approx(740, abs=FLATTENING)
    assert low_x == pytest.approx(740 - m.neck_from_tail, abs=1e-9)
    assert high_x - low_x == pytest.approx(m.length, abs=0.02)
    assert high_y - low_y == pytest.approx(m.lower_width, abs=0.02)
    # Across the neck edge the body carries the heel, 56 mm, and wood on both sides of it.
    neck_x = 740 - m.neck_from_tail
    across = body.intersection(
        LineString([(neck_x + 12, -m.neck_width / 2 + 0.1), (neck_x + 12, m.neck_width / 2 - 0.1)])
    )
    assert across.length == pytest.approx(m.neck_width - 0.2, abs=0.01)
    assert m.neck_width >= 56 + 2 * 8


WAISTED = ("dune", "pebble", "kelp", "fin")


@pytest.mark.parametrize("shape", sorted({*shape_names()} - {*WAISTED}))
def test_a_shape_without_a_waist_is_as_wide_as_stated_where_it_is_stated(shape: str) -> None:
    m = shape_measures(shape)
    place = 0.5 * m.neck_from_tail
    body = polygon(built_in(shape, tail=740, waist_from_tail=place, **vars(m)))
    across = body.intersection(LineString([(740 - place, -300), (740 - place, 300)]))
    assert across.length == pytest.approx(m.waist_width, abs=0.02)
    assert m.upper_width < m.waist_width < m.lower_width


@pytest.mark.parametrize("shape", WAISTED)
def test_waist_and_upper_width_lie_where_a_rule_across_finds_them(shape: str) -> None:
    m = shape_measures(shape)
    body = polygon(built_in(shape, tail=740, **vars(m)))
    # A rule laid square across at every quarter of a millimetre: the treble side's edge, and the width there.
    reach, width = [], []
    from_tail = np.arange(0.35 * m.neck_from_tail, 0.78 * m.neck_from_tail, 0.25)
    for place in from_tail:
        across = body.intersection(LineString([(740 - place, -300), (740 - place, 300)]))
        reach.append(across.bounds[3])
        width.append(across.length)
    waist = int(np.argmin(np.where(from_tail < 0.62 * m.neck_from_tail, reach, math.inf)))
    upper = waist + int(np.argmax(reach[waist:]))
    # A little beside its place, a sloping bass edge is some tenths narrower or wider.
    assert width[waist] == pytest.approx(m.waist_width, abs=0.5)
    assert width[upper] == pytest.approx(m.upper_width, abs=0.5)
    assert reach[waist] < reach[upper] - 1


@pytest.mark.parametrize(
    ("shape", "scale", "tail"), [("dune", 640.0, 752.0), ("kelp", 864.0, 940.0)], ids=["dune", "kelp"]
)
def test_scoop_lets_the_hand_reach_the_twentieth_fret(shape: str, scale: float, tail: float) -> None:
    body = polygon(built_in(shape, tail=tail, **vars(shape_measures(shape))))
    # Equal temperament: the n-th fret lies scale (1 - 2^(-n/12)) from the nut.
    fret_x = scale * (1 - 2 ** (-20 / 12))
    edge = body.intersection(LineString([(fret_x, 0), (fret_x, 300)])).bounds[3]
    # A hand's finger needs the edge within about 35 mm of the heel's side (common practice, no source).
    assert 28 + 8 <= edge <= 28 + 35


def test_scoop_moves_where_it_is_stated_and_takes_wood_there() -> None:
    m = shape_measures("dune")
    near, far = (polygon(built_in("dune", tail=740, scoop_from_tail=s, **vars(m))) for s in (306.0, 290.0))
    cut = near.difference(far)
    # An edge shifted along by 16 mm sweeps 16 mm times its rise across: here from the neck's width to the
    # upper bout, whose ends stay where they are.
    rise = near.intersection(LineString([(504, 0), (504, 300)])).length - m.neck_width / 2
    assert cut.area == pytest.approx(16 * rise, rel=0.15)
    treble_upper = Polygon([(300, 0), (600, 0), (600, 300), (300, 300)])
    # The batten gives a little all round, as a batten does.
    assert cut.intersection(treble_upper).area > 0.9 * cut.area
    assert far.difference(near).area < 0.1 * cut.area


SILLY: list[tuple[dict[str, float], str]] = [
    ({"waist_width": 340.0}, r"waist_width is 340 mm; with these bouts it must be less than 282\.9 mm"),
    ({"length": 40.0}, r"length is 40 mm; it must be between 250 and 700 mm"),
    ({"lower_width": -5.0}, r"lower_width is -5 mm; it must be between"),
    ({"length": math.nan}, "finite number"),
    ({"tail": math.inf}, "finite number"),
    ({"neck_from_tail": 500.0}, r"neck_from_tail is 500 mm; with a length of 382 mm .* 322 and 382 mm"),
    ({"neck_from_tail": 300.0}, r"neck_from_tail is 300 mm; with a length of 382 mm .* 322 and 382 mm"),
    ({"neck_width": 230.0}, r"neck_width is 230 mm; it must be between 40 and 150 mm"),
    ({"neck_width": 149.0, "upper_width": 180.0, "waist_width": 170.0}, r"mm between neck and treble edge"),
    ({"waist_from_tail": 20.0}, r"on the treble side its waist lies .* beyond its lower bout"),
    ({"scoop_from_tail": 250.0}, r"on the treble side its scoop lies .* beyond its"),
    ({"scoop_from_tail": 345.0}, r"on the treble side the neck edge lies .* beyond its scoop at 345\.0 mm"),
]


@pytest.mark.parametrize(("change", "words"), SILLY, ids=[next(iter(case[0])) for case in SILLY])
def test_silly_dimensions_are_refused_with_name_value_and_bound(change: dict[str, float], words: str) -> None:
    given: dict[str, Any] = {"tail": 740.0, **vars(shape_measures("dune")), **change}
    with pytest.raises(OutlineError, match=words):
        built_in("dune", **given)


def test_unknown_shape_and_a_scoop_where_there_is_none() -> None:
    with pytest.raises(
        OutlineError, match=r"no built-in shape 'brick'; the shapes are dune, pebble, kelp, mussel"
    ):
        built_in("brick", length=1, lower_width=1, waist_width=1, upper_width=1, tail=1)
    with pytest.raises(OutlineError, match="has no scoop, so scoop_from_tail means nothing"):
        built_in("pebble", tail=740, scoop_from_tail=300, **vars(shape_measures("pebble")))


def test_documented_dimensions_are_the_shapes_own() -> None:
    text = (Path(__file__).parents[2] / "docs" / "outlines.md").read_text(encoding="utf-8")
    head = re.search(r"^\| dimension \| what it is \| (.+) \|$", text, re.MULTILINE)
    assert head
    assert tuple(head[1].split(" | ")) == shape_names()
    own = [vars(shape_measures(shape)) for shape in shape_names()]
    for name in own[0]:
        row = re.search(rf"^\| `{name}` \|.*?\| (.+) \|$", text, re.MULTILINE)
        assert row, name
        assert [float(cell) for cell in row[1].split(" | ")] == [measures[name] for measures in own]


@pytest.mark.parametrize("scale", ["0.0", "1e-320", "1e+200"])
def test_a_block_placed_at_no_scale_is_told(tmp_path: Path, scale: str) -> None:
    """DXF Reference, INSERT: groups 41 to 43 are its scales; a program that wrote 0 there drew nothing."""

    def draw(model: Any) -> None:
        block = model.doc.blocks.new("BODY")
        block.add_circle((0, 0), 150)
        model.add_blockref("BODY", (50, 50), dxfattribs={"xscale": 7.5, "yscale": 7.5})

    path = dxf(tmp_path / "z.dxf", draw)
    text = path.read_text(encoding="utf-8")
    assert " 41\n7.5\n" in text
    path.write_text(text.replace(" 41\n7.5\n", f" 41\n{scale}\n"), encoding="utf-8")
    with pytest.raises(OutlineError, match="block 'BODY' is placed at a scale that cannot be drawn"):
        at_centre(path)


def test_a_block_that_is_not_in_the_file_is_told(tmp_path: Path) -> None:
    """DXF Reference, INSERT: group 2 names a block of the BLOCKS section; one saved without it draws nothing."""

    def draw(model: Any) -> None:
        model.doc.blocks.new("BODY").add_circle((0, 0), 150)
        model.add_blockref("BODY", (50, 50))

    path = dxf(tmp_path / "z.dxf", draw)
    head, entities, rest = path.read_text(encoding="utf-8").partition("ENTITIES")
    path.write_text(head + entities + rest.replace("\nBODY\n", "\nOTHER\n", 1), encoding="utf-8")
    with pytest.raises(OutlineError, match="block 'OTHER' is placed, and the file does not hold it"):
        at_centre(path)
