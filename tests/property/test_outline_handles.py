"""What holds for every outline through handles, wherever they lie; and what is said of those that make none."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LinearRing, Point, Polygon, affinity

from scribeline.job import JobError, parse_job, remove_value, set_value
from scribeline.job.outline import Handle, OutlineError, named_places, shape_names, through_handles
from scribeline.plan import plan
from scribeline.scenario import demo_jobs

from ..torture import examples

FEW = settings(max_examples=examples(60), deadline=None)

lengths = st.floats(-40, 40, allow_nan=False)


def oval(count: int) -> list[Handle]:
    turns = [2 * math.pi * n / count for n in range(count)]
    return [Handle(f"h{n}", 600 + 190 * math.cos(t), 150 * math.sin(t)) for n, t in enumerate(turns)]


@st.composite
def handles(draw: st.DrawFn) -> list[Handle]:
    """An oval's handles, each pulled some way off, now and then two of them in each other's place."""
    made = oval(draw(st.integers(6, 14)))
    far = draw(st.sampled_from([0.2, 1.0, 4.0]))
    made = [Handle(h.name, h.x + far * draw(lengths), h.y + far * draw(lengths)) for h in made]
    if draw(st.booleans()):
        a, b = draw(st.integers(0, len(made) - 1)), draw(st.integers(0, len(made) - 1))
        made[a], made[b] = made[b], made[a]
    return made


@FEW
@given(handles(), st.booleans())
def test_an_edge_is_sound_and_runs_through_its_handles_or_says_why_not(
    made: list[Handle], straight: bool
) -> None:
    try:
        drawn = through_handles(made, straight=straight)
    except OutlineError as fault:
        words = str(fault)
        assert words.startswith("handles: ")
        if "crosses itself" in words:
            assert sum(f'"{h.name}"' in words for h in made) == 2
        return
    edge = LinearRing(drawn.outline.points)
    assert edge.is_simple
    assert edge.is_ccw
    assert Polygon(edge).is_valid
    for each in made:
        assert edge.distance(Point(each.x, each.y)) < 0.011
    # Either way round it is the same edge.
    back = through_handles(made[::-1], straight=straight)
    assert edge.hausdorff_distance(LinearRing(back.outline.points)) < 0.02
    assert (back.hollow is None) == (drawn.hollow is None)


@FEW
@given(handles())
def test_only_what_crosses_itself_is_said_to(made: list[Handle]) -> None:
    from scribeline.job.outline.fairing import Station, closed_curve

    apart = [math.dist((a.x, a.y), (b.x, b.y)) for a, b in zip(made, [*made[1:], made[0]], strict=True)]
    if min(apart) < 8:
        with pytest.raises(OutlineError, match="apart; neighbours need"):
            through_handles(made)
        return
    begins = 0.0 if abs(made[0].y) < 0.01 else 0.5
    points = closed_curve([Station(h.x, h.y) for h in made], begins=begins).flattened(0.009)
    crosses = not LinearRing(points).is_simple
    assert ("crosses itself" in refusal(made)) == crosses


def refusal(made: list[Handle]) -> str:
    """What is said of handles that make no edge; "" where they make one."""
    try:
        through_handles(made)
    except OutlineError as fault:
        return str(fault)
    return ""


@pytest.mark.parametrize(("straight", "first"), [(False, 0.0), (False, 42.0), (True, 42.0)])
def test_a_mirrored_edge_is_the_same_on_both_sides(straight: bool, first: float) -> None:
    places = [(402, first), (480, 130), (570, 110), (680, 160), (760, 0)]
    made = [Handle(f"h{n}", float(x), float(y)) for n, (x, y) in enumerate(places)]
    whole = Polygon(through_handles(made, mirrored=True, straight=straight).outline.points)
    other = affinity.scale(whole, 1, -1, origin=(0, 0))
    assert whole.symmetric_difference(other).area < 0.01
    if straight:
        assert min(x for x, _ in whole.exterior.coords) == pytest.approx(402)


@pytest.mark.parametrize("name", shape_names())
def test_a_shape_s_own_places_make_nearly_its_edge(name: str) -> None:
    from scribeline.job.outline import built_in, shape_measures

    own = shape_measures(name)
    edge = built_in(
        name,
        length=own.length,
        lower_width=own.lower_width,
        waist_width=own.waist_width,
        upper_width=own.upper_width,
        tail=752.0,
    )
    places = named_places(name, tail=752.0)
    assert 8 <= len(places) <= 14
    assert len({each.name for each in places}) == len(places)
    drawn = through_handles([Handle(each.name, each.x, each.y) for each in places], straight=True)
    ring = LinearRing(edge.points)
    for each in places:
        assert ring.distance(Point(each.x, each.y)) < 11  # a scoop's neck corner is rounded off by 10 mm
    assert ring.hausdorff_distance(LinearRing(drawn.outline.points)) < 13


def by_handles(rows: Any, **more: Any) -> str:
    text = demo_jobs()["marram.toml"]
    for key in ("shape", "tail"):
        text, _ = remove_value(text, f"body.outline.{key}")
    for key, value in {"handles": rows, **more}.items():
        text, _ = set_value(text, f"body.outline.{key}", value)
    return text


def dune() -> list[dict[str, Any]]:
    return [
        {"name": each.name, "at": [round(each.x, 1), round(each.y, 1)]}
        for each in named_places("dune", tail=752.0)
    ]


def test_a_job_by_handles_is_planned_from_them() -> None:
    text = by_handles(dune(), neck_edge="straight")
    # One handle a line, for whoever reads the file.
    assert '{name = "waist, treble", at = [581.9, 121.0]},\n' in text
    made = plan(parse_job(text).job)
    assert not made.stops
    drawn = through_handles([Handle(each["name"], *each["at"]) for each in dune()], straight=True)
    edge = np.array([(p.x, p.y) for p in made.layout.outline])
    assert LinearRing(edge).equals(LinearRing(drawn.outline.points))
    # A left-handed one is its mirror image: places are towards the treble.
    left = plan(parse_job(set_value(text, "handed", "left")[0]).job)
    mirrored = affinity.scale(Polygon(left.layout.outline), 1, -1, origin=(0, 0))
    assert mirrored.symmetric_difference(Polygon(edge)).area < 1e-6


def test_inches_are_read_at_every_handle() -> None:
    rows = [{"name": each["name"], "at": [f"{mm / 25.4:.5f} in" for mm in each["at"]]} for each in dune()]
    inch = Polygon(parse_job(by_handles(rows)).job.outline.points)
    assert inch.symmetric_difference(Polygon(parse_job(by_handles(dune())).job.outline.points)).area < 1


def moved(number: int, at: Any) -> list[dict[str, Any]]:
    rows = dune()
    rows[number] = {**rows[number], "at": at}
    return rows


@pytest.mark.parametrize(
    ("rows", "more", "words"),
    [
        (dune()[:5], {}, "the edge has 5 handles; an outline takes from 6 to 60"),
        (moved(4, [516.1, 134.5]), {}, '"upper bout, treble" and "waist, treble" are'),
        (moved(4, [620.0, -300.0]), {}, "the edge crosses itself"),
        (moved(4, [1e9, 0.0]), {}, "it is over 1 km"),
        (moved(4, [2000, 0.0]), {}, "a position along the instrument"),
        (moved(4, [582.0, "two feet"]), {}, "two feet"),
        (moved(4, [float("nan"), 0.0]), {}, "body.outline.handles[5].at[1]"),
        (moved(4, [582.0]), {}, "body.outline.handles[5].at"),
        ([{**each, "name": "h"} for each in dune()], {}, 'two handles are called "h"'),
        (dune(), {"mirrored": True}, "of a mirrored outline state the treble side"),
        (dune(), {"shape": "dune"}, "one of the three"),
        (dune(), {"tail": 752}, "take tail out"),
        (dune(), {"neck_edge": "square"}, "neck_edge"),
        ([{"name": f"h{n}", "at": [400 + 5 * n, 80]} for n in range(61)], {}, "61 handles"),
    ],
    ids=lambda each: each[:24] if isinstance(each, str) else "",
)
def test_handles_that_make_no_body_are_refused_in_a_sentence(rows: Any, more: Any, words: str) -> None:
    with pytest.raises(JobError) as refused:
        parse_job(by_handles(rows, **more))
    assert words in str(refused.value)


def test_what_is_of_handles_alone_is_told_without_them() -> None:
    text, _ = set_value(demo_jobs()["marram.toml"], "body.outline.mirrored", True)
    with pytest.raises(JobError, match="mirrored and neck_edge are of handles"):
        parse_job(text)
