"""`body.dxf` and `body.svg`, read back with readers that are not ours: ezdxf's own reader and audit, svgelements.

Tolerance is the issue's own: 0.001 mm on centres and diameters.
"""

import io
import re
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import Any

import ezdxf
import pytest
import svgelements

import scribeline
from scribeline.drawing import dxf, svg
from scribeline.drawing.cuts import bore_layers, cut_sheet, pocket_layer
from scribeline.job import parse_job
from scribeline.plan import Plan, plan

TOLERANCE_MM = 0.001
TEXT = (Path(scribeline.__file__).parent / "scenario" / "marram.toml").read_text(encoding="utf-8")
JOBS = {
    "right": TEXT,
    "left": TEXT.replace('handed = "right"', 'handed = "left"'),
    "odd names": TEXT.replace('"neck pickup"', '"neck: pickup, <hot> 1/2|*?"'),
}
LAYER = re.compile(r"(top|back) (bore|counterbore) (\d+\.\d\d) deep (\d+\.\d\d)")

Hole = tuple[str, float, float, float]
"""Layer, centre and diameter."""


@cache
def planned(job: str) -> Plan:
    return plan(*parse_job(JOBS[job]))


def read_dxf(job: str) -> Any:
    return ezdxf.read(io.StringIO(dxf.write(cut_sheet(planned(job))).decode("utf-8")))  # type: ignore[attr-defined]


def wanted(job: str) -> list[Hole]:
    """Every circle of the plan with the layer its face, kind, diameter and depth ask for."""
    holes = []
    for bore in planned(job).features.bores:
        if bore.axis.x or bore.axis.y:
            continue
        for step in bore.steps:
            kind = "bore" if step is bore.steps[-1] else "counterbore"
            layer = f"{bore.face} {kind} {step.diameter:.2f} deep {step.depth:.2f}"
            holes.append((layer, bore.at.x, bore.at.y, step.diameter))
    assert len(holes) > 10
    return holes


def assert_same(found: list[Hole], expected: list[Hole]) -> None:
    assert len(found) == len(expected)
    for layer, x, y, diameter in expected:
        near = [
            hole
            for hole in found
            if hole[0] == layer
            and abs(hole[1] - x) < TOLERANCE_MM
            and abs(hole[2] - y) < TOLERANCE_MM
            and abs(hole[3] - diameter) < TOLERANCE_MM
        ]
        assert len(near) == 1, (layer, x, y, diameter)


@pytest.mark.parametrize("job", JOBS)
def test_dxf_passes_the_audit_and_is_in_millimetres(job: str) -> None:
    document = read_dxf(job)
    audit = document.audit()
    assert not audit.errors
    assert not audit.fixes
    assert document.units == 4
    assert document.header["$INSUNITS"] == 4
    # DXF Reference, HEADER: what a program shows first. Everything drawn lies within, and the body fills it nearly.
    (left, bottom, _), (right, top, _) = document.header["$EXTMIN"], document.header["$EXTMAX"]
    assert document.header["$LIMMIN"] == pytest.approx((left, bottom))
    assert document.header["$LIMMAX"] == pytest.approx((right, top))
    outline = planned(job).layout.outline
    xs, ys = [p.x for p in outline], [p.y for p in outline]
    assert left <= min(xs) <= left + 60
    assert bottom <= min(ys) <= bottom + 80
    assert max(xs) <= right <= max(xs) + 60
    assert max(ys) <= top <= max(ys) + 60


def test_faces_are_told_apart_in_colour_and_in_black_and_white() -> None:
    """A line type for each face (ISO 128-2: what lies behind is dashed), and few colours; the back says how it lies."""
    document = read_dxf("right")
    layers = {layer.dxf.name: layer for layer in document.layers}
    types = {
        face: {
            layer.dxf.linetype.split("-")[0]
            for name, layer in layers.items()
            if name.startswith(f"{face} ") and name != "notes"
        }
        for face in ("top", "back", "edge", "pocket")
    }
    assert types["top"] == {"Continuous"}
    assert types["back"] == {"DASHED"}
    assert not types["edge"] & (types["top"] | types["back"])
    assert not types["pocket"] & (types["top"] | types["back"] | types["edge"])
    assert 4 <= len({layer.dxf.color for layer in layers.values()}) <= 8
    backs = [layer for name, layer in layers.items() if name.startswith("back ")]
    assert backs
    assert all("seen through from the top, not mirrored" in layer.description for layer in backs)
    said = [text.dxf.text for text in document.modelspace().query("TEXT") if text.dxf.layer == "notes"]
    assert len(said) == 1
    assert "not mirrored" in said[0]


@pytest.mark.parametrize("job", JOBS)
def test_dxf_circles_are_the_plans_holes(job: str) -> None:
    circles = read_dxf(job).modelspace().query("CIRCLE")
    found = [(c.dxf.layer, c.dxf.center.x, c.dxf.center.y, 2 * c.dxf.radius) for c in circles]
    assert_same(found, wanted(job))


def test_dxf_has_one_layer_per_cut() -> None:
    space = read_dxf("right").modelspace()
    kinds = defaultdict(set)
    for entity in space:
        kinds[entity.dxf.layer].add(entity.dxftype())
    cuts = {layer for layer, _, _, _ in wanted("right")}
    pockets = [pocket_layer(pocket) for pocket in planned("right").features.pockets]
    assert len(set(pockets)) == len(pockets) == 5
    slanting = {name for name in kinds if "degrees" in name}
    bores = planned("right").features.bores
    edge = {layer for bore in bores if bore.face == "edge" for layer in bore_layers(bore)}
    assert len(edge) == 3  # the jack's two diameters, and the strap buttons' one
    assert kinds.keys() == {"outline", "dimension", "notes", *cuts, *pockets, *slanting, *edge}
    assert len(slanting) == 3  # the ground wire's hole and both tunnels
    assert all(kinds[layer] == {"CIRCLE"} for layer in cuts)
    assert all(kinds[layer] == {"LWPOLYLINE"} for layer in [*pockets, "outline"])
    for circle in space.query("CIRCLE"):
        match = LAYER.fullmatch(circle.dxf.layer)
        assert match is not None
        assert float(match[3]) == pytest.approx(2 * circle.dxf.radius, abs=0.005)


def test_pockets_and_the_outline_are_closed_and_where_they_belong() -> None:
    space = read_dxf("right").modelspace()
    for pocket in planned("right").features.pockets:
        (line,) = space.query(f'LWPOLYLINE[layer=="{pocket_layer(pocket)}"]')
        assert line.closed
        points = [(x, y) for x, y, *_ in line.get_points()]
        assert points == [pytest.approx(tuple(p), abs=TOLERANCE_MM) for p in pocket.outline]
    (edge,) = space.query('LWPOLYLINE[layer=="outline"]')
    assert edge.closed
    assert len(edge) == len(planned("right").layout.outline)


def test_the_slanting_hole_has_its_mouth_and_no_circle() -> None:
    (bore,) = planned("right").features.family("ground-wire")
    (layer,) = bore_layers(bore)
    space = read_dxf("right").modelspace()
    assert not space.query(f'CIRCLE[layer=="{layer}"]')
    (mouth,) = space.query(f'LWPOLYLINE[layer=="{layer}"]')
    xs, ys = zip(*((x, y) for x, y, *_ in mouth.get_points()), strict=True)
    # A cylinder of diameter D meeting a plane at angle A leaves an ellipse D / sin A long and D wide.
    assert max(xs) - min(xs) == pytest.approx(bore.widest / abs(bore.axis.z), abs=TOLERANCE_MM)
    assert max(ys) - min(ys) == pytest.approx(bore.widest, abs=TOLERANCE_MM)
    cross = space.query(f'LINE[layer=="{layer}"]')
    assert len(cross) == 2
    for line in cross:
        middle = (line.dxf.start + line.dxf.end) / 2
        assert (middle.x, middle.y) == pytest.approx((bore.at.x, bore.at.y), abs=TOLERANCE_MM)


def test_dimensions_measure_what_they_say() -> None:
    layout = planned("right").layout
    dimensions = read_dxf("right").modelspace().query("DIMENSION")
    measured = {round(float(d.get_measurement()), 2): d.dxf.text for d in dimensions}
    front = layout.bridge_line - layout.pocket_end
    row = planned("right").features.family("string-hole")[0].at.x - layout.pocket_end
    for value in (front, row):
        assert measured[round(value, 2)].startswith(f"{value:.2f} mm")


def test_left_is_right_with_every_y_turned() -> None:
    right, left = (read_dxf(job).modelspace().query("CIRCLE") for job in ("right", "left"))
    assert sum(a.dxf.center.y + b.dxf.center.y for a, b in zip(right, left, strict=True)) == pytest.approx(
        0, abs=1e-9
    )
    for a, b in zip(right, left, strict=True):
        assert (a.dxf.center.x, a.dxf.center.y) == pytest.approx((b.dxf.center.x, -b.dxf.center.y), abs=1e-9)
        assert a.dxf.layer == b.dxf.layer


def test_back_cuts_are_not_mirrored() -> None:
    """A ferrule hole lies under its string's hole, in the drawing as in the wood."""
    circles = read_dxf("right").modelspace().query("CIRCLE")
    found = {(c.dxf.layer.split()[0], c.dxf.center.x, c.dxf.center.y) for c in circles}
    row = planned("right").features.family("ferrule-hole")[0].at.x
    backs = {y for face, x, y in found if face == "back" and x == pytest.approx(row)}
    assert backs
    assert backs <= {y for face, _, y in found if face == "top"}


@pytest.mark.parametrize("job", ["right", "left"])
def test_svg_circles_are_the_plans_holes(job: str) -> None:
    """The file's own outline gives the place of the instrument's zero: its bounds are the body's."""
    text = svg.write(cut_sheet(planned(job))).decode()
    drawing = svgelements.SVG.parse(io.StringIO(text), reify=True, ppi=25.4)
    elements = list(drawing.elements())
    edge = next(
        e for e in elements if isinstance(e, svgelements.Path) and e.values.get("data-ref") == "outline"
    )
    left, top, _, _ = edge.bbox(with_stroke=False)
    outline = planned(job).layout.outline
    dx, dy = min(p.x for p in outline) - left, max(p.y for p in outline) + top
    found = []
    for element in elements:
        if isinstance(element, svgelements.Circle):
            layer = element.values["data-layer"]
            found.append((layer, element.cx + dx, dy - element.cy, 2 * element.rx))
    assert_same(found, wanted(job))


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert dxf.write(cut_sheet(planned("right"))) == dxf.write(cut_sheet(planned("right")))
    assert svg.write(cut_sheet(planned("right"))) == svg.write(cut_sheet(planned("right")))
