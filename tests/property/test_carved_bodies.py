"""Any carved body is closed, and holds what the heights of its surfaces say; its layers part it without loss."""

from __future__ import annotations

from collections import Counter
from math import cos, pi, sin
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.torture import examples

from scribeline.features import DOWN, UP, Bit, Bore, Feature, Pocket, Step
from scribeline.job import Body as Statement
from scribeline.layout import Point, Point3, Ring, mirrored
from scribeline.layout.surfaces import body_form
from scribeline.solid.body import make_body

THICK = 40.0


def outline(waist: float, corners: int) -> Ring:
    """A body of two lobes, round (many corners) or hewn (few)."""
    turns = (2 * pi * np.arange(corners) / corners).tolist()
    return Ring(
        Point(500 + (140 + waist * cos(2 * t)) * cos(t), (140 + waist * cos(2 * t)) * sin(t)) for t in turns
    )


@st.composite
def statements(draw: st.DrawFn) -> dict[str, Any]:
    top: dict[str, Any] = {}
    kind = draw(st.sampled_from(["flat", "stepped", "arched"]))
    if kind == "arched":
        edge = -draw(st.floats(0.5, 9))
        top = {"kind": kind, "profile": [(0, edge), (draw(st.floats(10, 30)), edge / 4), (60, 0)]}
    elif kind == "stepped":
        x, y = draw(st.floats(440, 500)), draw(st.floats(-60, 0)) + 0.0  # no minus nothing
        corners = [(x, y), (x + 60, y), (x + 60, y + 50), (x, y + 50)]
        height = draw(st.floats(-8, 4).filter(lambda h: abs(h) > 0.1))
        top = {"kind": kind, "areas": [{"name": "a", "outline": corners, "height": height}]}
    bevels = []
    for name, face in (("forearm", "top"), ("belly", "back")):
        if draw(st.booleans()):
            turn, off = draw(st.floats(0, 6.28)), draw(st.floats(60, 100))
            foot = np.array([500 + off * cos(turn), off * sin(turn)])
            along = 250 * np.array([-sin(turn), cos(turn)])
            line = [tuple((foot + s * along).tolist()) for s in (-1, 1)]
            bevels.append({"name": name, "face": face, "line": line, "angle": draw(st.floats(2, 15))})
    layers = []
    if draw(st.booleans()):
        cap = draw(st.floats(2, 15))
        layers = [
            {"name": "cap", "timber": "maple-sugar", "thickness": f"{cap} mm +/- 0.1"},
            {"name": "core", "timber": "ash-white", "thickness": f"{THICK - cap} mm +/- 0.1"},
        ]
    return {
        "thickness": f"{THICK} +/- 0.1",
        "timber": "ash-white",
        "outline": {"shape": "x", "tail": 800},
        "top": top,
        "bevels": bevels,
        "layers": layers,
        "roundover": {
            "top": draw(st.sampled_from([0.0, 3.0])),
            "back": draw(st.sampled_from([0.0, 6.0])),
        },
    }


def hole(x: float, y: float, *, down: bool) -> Feature:
    at = Point3(x, y, 0.0 if down else -THICK)
    return Bore(
        f"hole-{x}",
        "hole",
        "h",
        "top" if down else "back",
        at,
        DOWN if down else UP,
        (Step(8, 25, Bit("twist", 8, 2)),),
    )


TRAY = Pocket(
    "tray", "tray", "top", Ring([Point(470, -20), Point(530, -20), Point(530, 25), Point(470, 25)]), 22, 0
)


@settings(max_examples=examples(15), deadline=None)
@given(statements(), st.floats(-35, 35), st.sampled_from([7, 24, 120]))
def test_any_carved_body_is_closed_and_holds_what_its_heights_say(
    stated: dict[str, Any], waist: float, corners: int
) -> None:
    form = body_form(Statement.model_validate(stated), outline(waist, corners))
    plain = make_body(form.outline, THICK, (), form=form)
    cut = make_body(
        form.outline, THICK, (hole(520, 40, down=True), hole(480, -40, down=False), TRAY), form=form
    )
    for body in (plain, cut):
        edges: Counter[tuple[int, int]] = Counter()
        for a, b, c in body.mesh.triangles.tolist():
            edges.update(((a, b), (b, c), (c, a)))
        assert all(count == 1 and edges[b, a] == 1 for (a, b), count in edges.items())
        parts = [part.lump.volume_mm3 for part in body.layers if part.lump is not None]
        assert sum(parts) == pytest.approx(body.mesh.volume_mm3, rel=1e-9)
    # A grid 4 mm wide, each place standing for its cell's part of the body.
    region, volume = shapely.Polygon(form.outline), 0.0
    xs, ys = ([p[k] for p in form.outline] for k in (0, 1))
    for x in np.arange(min(xs) + 2, max(xs) + 2, 4.0).tolist():
        for y in np.arange(min(ys) + 2, max(ys) + 2, 4.0).tolist():
            cell = shapely.box(x - 2, y - 2, x + 2, y + 2)
            if region.contains(cell):
                volume += 16 * (form.top_at(Point(x, y)) - form.back_at(Point(x, y)))
            elif region.intersects(cell):
                part = region.intersection(cell)
                middle = part.point_on_surface()
                volume += part.area * (
                    form.top_at(Point(middle.x, middle.y)) - form.back_at(Point(middle.x, middle.y))
                )
    assert plain.mesh.volume_mm3 == pytest.approx(volume, rel=4e-3)
    other = mirrored(form)
    left = make_body(other.outline, THICK, (), form=other)
    assert left.mesh.volume_mm3 == pytest.approx(plain.mesh.volume_mm3, rel=1e-6)
