"""The body's surfaces, held to a second working of the same rules: dense sampling with plain numpy.

The oracle knows nothing of regions or planes: it measures the distance from the edge against every sampled point of
the outline, and finds which part of the body a bevel cuts by flooding a grid from its line.
"""

from __future__ import annotations

from math import cos, radians, sin, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scribeline.job import Body, JobError
from scribeline.layout import BodyForm, Layout, Point, Ring, mirrored
from scribeline.layout.surfaces import body_form

from ..torture import examples

THICK = 44.0
CIRCLE = Ring(Point(500 + 160 * cos(a), 160 * sin(a)) for a in np.linspace(0, 2 * np.pi, 721)[:-1].tolist())
# Two lobes with a waist between them, so that a line carried on parts off wood that its bevel must leave alone.
LOBES = Ring(
    Point(x, y)
    for x, y in [
        (300, 60),
        (300, -150),
        (380, -150),
        (420, -60),
        (600, -60),
        (640, -150),
        (760, -150),
        (760, 60),
    ]
)


def form(outline: Ring = CIRCLE, **keys: Any) -> BodyForm:
    stated = {"thickness": THICK, "timber": "ash-white", "outline": {"shape": "x", "tail": 800}, **keys}
    return body_form(Body.model_validate(stated), outline)


places = st.tuples(st.floats(345, 655), st.floats(-155, 155)).filter(
    lambda p: (p[0] - 500) ** 2 + p[1] ** 2 < 159**2
)


@given(places)
def test_a_profile_is_straight_between_its_rows(place: tuple[float, float]) -> None:
    rows = [(0.0, -9.0), (12.0, -5.0), (40.0, -1.0), (90.0, 0.0)]
    body = form(top={"kind": "arched", "profile": rows})
    # On a circle the distance from the edge is the radius less that from the middle; the 720 sides lie within 0.002 mm.
    inset = 160 - sqrt((place[0] - 500) ** 2 + place[1] ** 2)
    wanted = float(np.interp(inset, [row[0] for row in rows], [row[1] for row in rows]))
    assert body.top_at(Point(*place)) == pytest.approx(wanted, abs=0.002)


@given(places)
def test_a_roundover_is_a_quarter_circle(place: tuple[float, float]) -> None:
    body = form(roundover={"top": 8.0, "back": 5.0})
    inset = 160 - sqrt((place[0] - 500) ** 2 + place[1] ** 2)
    for radius, height, up in ((8.0, body.top_at(Point(*place)), 1), (5.0, body.back_at(Point(*place)), -1)):
        face = 0.0 if up == 1 else -THICK
        across = max(0.0, radius - inset)
        # Every place of the rounded edge lies a radius from the middle of the quarter circle.
        assert sqrt(across**2 + (radius - abs(face - height)) ** 2) == pytest.approx(radius, abs=0.02)


@settings(max_examples=examples(50))
@given(
    st.floats(-60, 60), st.floats(30, 140), st.floats(2, 40), st.sampled_from(["top", "back"]), st.booleans()
)
def test_a_bevel_falls_by_its_angle_beyond_its_line(
    turn: float, off: float, angle: float, face: str, back_to_front: bool
) -> None:
    c, s = cos(radians(turn)), sin(radians(turn))
    foot = (500 + off * c, off * s)
    ends = [(foot[0] - 200 * s, foot[1] + 200 * c), (foot[0] + 200 * s, foot[1] - 200 * c)]
    line = ends[::-1] if back_to_front else ends
    body = form(bevels=[{"name": "belly", "face": face, "line": line, "angle": angle}])
    rng = np.random.default_rng(1)
    for x, y in rng.uniform((390, -110), (610, 110), (40, 2)).tolist():
        beyond = max(0.0, (x - 500) * c + y * s - off)
        fall = beyond * np.tan(radians(angle))
        top, back = body.top_at(Point(x, y)), body.back_at(Point(x, y))
        assert (top, back) == pytest.approx(
            (-fall, -THICK) if face == "top" else (0.0, fall - THICK), abs=1e-6
        )


def test_a_bevel_leaves_alone_what_its_line_would_part_off_elsewhere() -> None:
    body = form(LOBES, bevels=[{"name": "b", "face": "top", "line": [(620, -100), (780, -100)], "angle": 10}])
    assert body.top_at(Point(700, -140)) == pytest.approx(-40 * np.tan(radians(10)))
    assert body.top_at(Point(340, -140)) == 0.0  # the other lobe


def test_a_bevels_depth_is_taken_where_the_outline_is_furthest() -> None:
    body = form(bevels=[{"name": "b", "face": "back", "line": [(300, -60), (700, -60)], "depth": 20}])
    assert body.back_at(Point(500, -159.999)) == pytest.approx(20 - THICK, abs=0.01)
    assert body.back_at(Point(500, -110)) == pytest.approx(10 - THICK, abs=0.01)


def test_a_stepped_tops_later_area_lies_over_the_earlier() -> None:
    body = form(
        top={
            "kind": "stepped",
            "areas": [
                {"name": "low", "outline": [(400, -60), (600, -60), (600, 60), (400, 60)], "height": -4},
                {"name": "high", "outline": [(500, -20), (560, -20), (560, 20), (500, 20)], "height": 2},
            ],
        }
    )
    heights = [body.top_at(Point(x, 0)) for x in (380, 450, 530, 580, 640)]
    assert heights == [0.0, -4.0, 2.0, -4.0, 0.0]
    assert body.highest == 2.0
    assert body.lowest_top == -4.0


def test_contour_lines_are_met_and_stretched_straight_between() -> None:
    lines = [
        [(500 + r * cos(a), r * sin(a)) for a in np.linspace(0, 2 * np.pi, 241)[:-1].tolist()]
        for r in (120, 60)
    ]
    body = form(
        top={
            "kind": "arched",
            "edge_height": -8,
            "contours": [{"outline": lines[0], "height": -3}, {"outline": lines[1], "height": 0}],
        }
    )
    for radius, wanted in ((159.99, -8), (140, -5.5), (120, -3), (90, -1.5), (60, 0), (10, 0)):
        for turn in (0.1, 1.3, 2.9, 4.4):
            height = body.top_at(Point(500 + radius * cos(turn), radius * sin(turn)))
            assert height == pytest.approx(wanted, abs=0.02)  # 3 mm chords of 60 mm circles: 0.02 mm


def test_layers_are_told_apart_by_height() -> None:
    layers = [
        {"name": "cap", "timber": "maple-sugar", "thickness": "6 +/- 0.1"},
        {"name": "core", "timber": "ash-white", "thickness": "38.1 +/- 0.1", "grain": 90},
    ]
    body = form(thickness="44 +/- 0.1", layers=layers)
    assert body.glue_lines == (-6.0,)
    assert [body.timber_at(Point(500, 0), z).key for z in (3, -0.1, -5.9, -6.1, -43.9)] == [
        "maple-sugar",
        "maple-sugar",
        "maple-sugar",
        "ash-white",
        "ash-white",
    ]
    assert body.layers[-1].low == -44.0  # down to the back, whatever the ± of the layers
    assert body.layers[1].grain == pytest.approx((0, 1))
    assert mirrored(body).layers[1].grain == pytest.approx((0, -1))


def _said(shipped: Any, changes: dict[str, Any]) -> str:
    with pytest.raises(JobError) as caught:
        shipped(changes)
    return str(caught.value)


BAD: dict[str, tuple[dict[str, Any], tuple[str, ...]]] = {
    "layers short": (
        {"body.layers": [{"name": "cap", "timber": "maple-sugar", "thickness": "6 +/- 0.1"}]},
        ("6.00 mm", "44.40 mm", "±"),
    ),
    "unknown timber": (
        {"body.layers": [{"name": "cap", "timber": "granite", "thickness": 44.4}]},
        ("granite",),
    ),
    "bevel in the air": (
        {"body.bevels": [{"name": "b", "face": "top", "line": [[0, 0], [100, 0]], "angle": 10}]},
        ("cuts nothing",),
    ),
    "bevel of two slopes": (
        {
            "body.bevels": [
                {"name": "b", "face": "top", "line": [[600, -100], [740, -60]], "angle": 10, "depth": 3}
            ]
        },
        ("either angle", "not both"),
    ),
    "arch without heights": ({"body.top": {"kind": "arched"}}, ("profile or contours",)),
    "a wall in the profile": (
        {"body.top": {"kind": "arched", "profile": [[0, -9], [1, 0]]}},
        ("steeper than 3 in 1",),
    ),
    "contour outside": (
        {
            "body.top": {
                "kind": "arched",
                "edge_height": -5,
                "contours": [{"outline": [[0, 0], [900, -300], [900, 300]], "height": 0}],
            }
        },
        ("wholly inside the body's outline",),
    ),
    "areas on a flat top": (
        {"body.top": {"areas": [{"name": "a", "outline": [[600, 0], [650, 0], [650, 30]], "height": -2}]}},
        ('of kind "flat" takes no areas',),
    ),
    "roundovers thicker than the edge": (
        {"body.roundover": {"top": 25, "back": 25}, "body.thickness": "44.4 +/- 0.1"},
        ("do not fit an edge",),
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_what_cannot_be_carved_is_told(name: str, planned: Any) -> None:
    changes, words = BAD[name]
    said = _said(planned, changes)
    for word in words:
        assert word in said


CARVED: dict[str, Any] = {
    "body.layers": [
        {"name": "cap", "timber": "maple-sugar", "thickness": "6.4 +/- 0.1"},
        {"name": "core", "timber": "ash-white", "thickness": "38 +/- 0.1"},
    ],
    "body.top": {"kind": "arched", "profile": [[0, -3], [25, 0]]},
    "body.bevels": [{"name": "belly", "face": "back", "line": [[430, -60], [560, -160]], "depth": 14}],
    "body.roundover": {"back": 4},
}


def test_a_left_handed_body_is_carved_as_the_mirror(planned: Any) -> None:
    right: Layout = planned(CARVED).layout
    left: Layout = planned({**CARVED, "handed": "left"}).layout
    for x, y in np.random.default_rng(2).uniform([410, -160], [780, 160], (60, 2)).tolist():
        assert left.top_at(Point(x, -y)) == pytest.approx(right.top_at(Point(x, y)), abs=1e-9)
        assert left.back_at(Point(x, -y)) == pytest.approx(right.back_at(Point(x, y)), abs=1e-9)
