"""What holds for every outline: units, turning, mirroring and joining change nothing."""

from __future__ import annotations

import itertools
import math
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from ezdxf.filemanagement import new
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity

from scribeline.job.outline import (
    Measures,
    OutlineError,
    built_in,
    read_outline_file,
    shape_measures,
    shape_names,
    shapes,
)

from ..torture import examples

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from scribeline.job.outline import Along, Outline

FEW = settings(
    max_examples=examples(25), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


WHOLE_DXF = (
    "0 SECTION 2 ENTITIES 0 LINE 8 0 10 0.0 20 0.0 11 300.0 21 0.0 0 ARC 8 0 10 300.0 20 100.0 40 100.0"
    " 50 270.0 51 90.0 0 LINE 8 0 10 300.0 20 200.0 11 0.0 21 200.0 0 LINE 8 0 10 0.0 20 200.0 11 0.0 21 0.0"
    " 0 ENDSEC 0 EOF"
).replace(" ", "\n").encode() + b"\n"


@pytest.fixture(scope="module")
def folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as name:
        yield Path(name)


def written(path: Path, corners: Any, units: int = 4) -> Path:
    document = new()
    document.units = units
    document.modelspace().add_lwpolyline([tuple(c) for c in corners], format="xyb", close=True)
    document.saveas(path)
    return path


def same(a: Outline, b: Outline, within: float = 0.02) -> bool:
    """Whether two rings lie within a distance of each other everywhere."""
    one, two = Polygon(a.points), Polygon(b.points)
    return float(one.exterior.hausdorff_distance(two.exterior)) < within


@st.composite
def bodies(draw: st.DrawFn) -> Any:
    """Corners (x, y, bulge) of a star-shaped body around the origin: it never crosses itself."""
    count = draw(st.integers(6, 14))
    radii = [draw(st.floats(120, 240)) for _ in range(count)]
    # Bulges small enough that an arc stays near its chord.
    bulges = [draw(st.sampled_from([0.0, 0.0, 0.05, -0.05, 0.1])) for _ in range(count)]
    angles = np.linspace(0, 2 * math.pi, count, endpoint=False)
    return np.column_stack([radii * np.cos(angles), radii * np.sin(angles), bulges])


def read(path: Path, along: Along = "+x", origin: tuple[float, float] = (0.0, 0.0)) -> Outline:
    try:
        return read_outline_file(path, along=along, origin=origin)
    except OutlineError as error:
        assume("crosses or touches itself" not in str(error))
        raise


@FEW
@given(corners=bodies())
def test_inches_and_millimetres_are_one_body(folder: Path, corners: Any) -> None:
    metric = read(written(folder / "mm.dxf", corners))
    inch = read(written(folder / "in.dxf", corners / [25.4, 25.4, 1], units=1))
    assert same(metric, inch)


@FEW
@given(corners=bodies(), x=st.floats(-1e5, 1e5), y=st.floats(-1e5, 1e5))
def test_moving_the_drawing_and_its_origin_changes_nothing(
    folder: Path, corners: Any, x: float, y: float
) -> None:
    still = read(written(folder / "a.dxf", corners))
    moved = read(written(folder / "b.dxf", corners + np.array([x, y, 0])), origin=(x, y))
    assert same(still, moved)


@FEW
@given(corners=bodies(), turns=st.integers(1, 3))
def test_turning_the_drawing_and_its_direction_changes_nothing(
    folder: Path, corners: Any, turns: int
) -> None:
    still = read(written(folder / "a.dxf", corners))
    c, s = round(math.cos(turns * math.pi / 2)), round(math.sin(turns * math.pi / 2))
    turned = np.column_stack([corners[:, :2] @ [[c, s], [-s, c]], corners[:, 2]])
    directions: tuple[Along, ...] = ("+x", "+y", "-x", "-y")
    assert same(still, read(written(folder / "b.dxf", turned), along=directions[turns]))


@FEW
@given(corners=bodies())
def test_back_view_is_the_front_view_mirrored_once(folder: Path, corners: Any) -> None:
    path = written(folder / "a.dxf", corners)
    front = Polygon(read(path).points)
    back = read_outline_file(path, along="+x", origin=(0, 0), seen_from="back")
    assert Polygon(back.points).exterior.is_ccw
    mirrored = affinity.scale(front, 1, -1, origin=(0, 0))
    assert mirrored.symmetric_difference(Polygon(back.points)).area < 1e-6


@FEW
@given(corners=bodies(), order=st.randoms(use_true_random=False))
def test_loose_lines_in_any_order_and_direction_join_into_the_same_ring(
    folder: Path, corners: Any, order: Any
) -> None:
    corners = np.column_stack([corners[:, :2], np.zeros(len(corners))])
    whole = read(written(folder / "a.dxf", corners))
    lines = list(itertools.pairwise([*corners[:, :2], corners[0, :2]]))
    order.shuffle(lines)
    document = new()
    document.units = 4
    for a, b in lines:
        ends = (a, b) if order.random() < 0.5 else (b, a)
        document.modelspace().add_line(*ends)
    document.saveas(folder / "b.dxf")
    loose = read(folder / "b.dxf")
    assert Polygon(loose.points).symmetric_difference(Polygon(whole.points)).area < 1e-3
    assert len(loose.points) == len(whole.points)


@FEW
@given(corners=bodies())
def test_svg_and_dxf_of_one_body_agree(folder: Path, corners: Any) -> None:
    straight = np.column_stack([corners[:, :2], np.zeros(len(corners))])
    drawn = read(written(folder / "a.dxf", straight))
    points = " ".join(f"{x + 300!r},{300 - y!r}" for x, y, _ in straight.tolist())
    (folder / "a.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="600mm" viewBox="0 0 600 600">'
        f'<polygon points="{points}"/></svg>',
        encoding="utf-8",
    )
    assert same(drawn, read(folder / "a.svg", origin=(300, 300)), 1e-6)


@FEW
@given(shape=st.sampled_from(shape_names()), tail=st.floats(300, 1200))
def test_tail_place_moves_a_built_in_shape_whole(shape: str, tail: float) -> None:
    m = vars(shape_measures(shape))
    here, there = (np.array(built_in(shape, tail=x, **m).points) for x in (740.0, tail))
    assert np.allclose(there - here, [tail - 740, 0], atol=1e-9)


@FEW
@given(
    shape=st.sampled_from(shape_names()),
    scales=st.tuples(st.floats(0.94, 1.06), st.floats(0.97, 1.06), st.floats(0.94, 1.02)),
    waist=st.floats(0.88, 1.0),
)
def test_near_its_own_measures_a_shape_is_drawn_as_stated(
    shape: str, scales: tuple[float, float, float], waist: float
) -> None:
    own = shape_measures(shape)
    length, lower, upper = scales
    m = Measures(
        own.length * length,
        own.lower_width * lower,
        own.waist_width * waist * min(lower, upper),
        own.upper_width * upper,
        own.neck_from_tail * length,
        own.neck_width,
    )
    body = Polygon(built_in(shape, tail=740, **vars(m)).points)
    low_x, low_y, high_x, high_y = body.bounds
    assert body.is_valid
    assert high_x - low_x == pytest.approx(m.length, abs=0.3)
    assert high_y - low_y == pytest.approx(m.lower_width, abs=0.5)


@FEW
@given(
    shape=st.sampled_from(shape_names()),
    measures=st.fixed_dictionaries({name: st.floats(-100, 1500) for name in vars(shape_measures("dune"))}),
    tail=st.floats(allow_nan=True, allow_infinity=True),
)
def test_any_dimensions_are_drawn_or_refused(shape: str, measures: dict[str, float], tail: float) -> None:
    answer = _outline_or_sentence(lambda: built_in(shape, tail=tail, **measures))
    if isinstance(answer, str):
        assert answer.startswith("built-in shape")
    else:
        assert Polygon(answer.points).is_valid


def _outline_or_sentence(make: Callable[[], Outline]) -> Outline | str:
    try:
        return make()
    except OutlineError as refused:
        return str(refused)


HOLLOWS = {
    "dune": 3,
    "pebble": 1,
    "kelp": 3,
    "mussel": 0,
    "bight": 2,
    "slate": 0,
    "fin": 1,
    "wrack": 1,
    "cuttle": 1,
}
"""Where an edge bends inwards, tighter than 0.7 m: the treble side's waist or flank, a scoop, the tail."""

BENDS = {"dune": 12, "pebble": 7, "kelp": 12, "fin": 9}
"""How often the curvature turns from growing to lessening or back, at most; 6 where a shape is not named."""


@pytest.mark.parametrize("shape", shape_names())
def test_built_in_edges_bend_without_bumps(shape: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The curvature has no jumps and few turns, and the edge is hollow only where a body is."""
    monkeypatch.setattr(shapes, "_TOLERANCE", 2e-5)  # so fine that a difference of headings is a curvature
    bends = _curvature(shape)
    hollow = bends < -0.0014
    assert int((hollow & ~np.roll(hollow, 1)).sum()) == HOLLOWS[shape]
    # A batten's curvature may run from straight to 30 mm's radius in 20 mm; a joint of two arcs would jump at once.
    assert np.abs(np.diff(bends)).max() < 0.0025 * 2
    assert 1 / np.abs(bends).max() > 25
    assert _turns(bends, 0.001) <= BENDS.get(shape, 6)


def _curvature(shape: str) -> Any:
    """The edge's curvature every 2 mm from the neck round to the neck, 1/mm; full is positive."""
    x, y = np.array(built_in(shape, tail=740, **vars(shape_measures(shape))).points).T
    run = np.concatenate([[0], np.cumsum(np.hypot(np.diff(x, append=x[0]), np.diff(y, append=y[0])))])
    even = np.arange(0, run[-1], 2.0)
    px, py = np.interp(even, run, np.append(x, x[0])), np.interp(even, run, np.append(y, y[0]))
    heading = np.arctan2(np.roll(py, -1) - py, np.roll(px, -1) - px)
    turn = (heading - np.roll(heading, 1) + math.pi) % (2 * math.pi) - math.pi
    assert turn.sum() == pytest.approx(2 * math.pi)
    own = px > px.min() + 12  # beyond the straight edge under the neck and its corners
    start = int(np.argmin(own))
    return (np.roll(turn, -start) / 2.0)[np.roll(own, -start)]


def _turns(values: Any, least: float) -> int:
    """How often a series turns round by more than `least`."""
    count, high, low, rising = 0, values[0], values[0], True
    for value in values:
        high, low = max(high, value), min(low, value)
        if (rising and value < high - least) or (not rising and value > low + least):
            count, rising, high, low = count + 1, not rising, value, value
    return count


@pytest.mark.parametrize("shape", shape_names())
def test_a_shape_grows_in_proportion(shape: str) -> None:
    """A body a fifth less in length and width, or 15 % more, is the same body: every part of its edge in proportion."""
    own = vars(shape_measures(shape))
    still = Polygon(built_in(shape, tail=740, **own).points)
    for by in (0.8, 1.15):
        other = Polygon(built_in(shape, tail=740, **{name: by * value for name, value in own.items()}).points)
        grown = affinity.scale(still, by, by, origin=(740, 0))
        # The corner before a scoop keeps its radius.
        assert grown.exterior.hausdorff_distance(other.exterior) < (
            3.0 if shape in {"dune", "kelp"} else 0.05
        )


@FEW
@given(data=st.data())
def test_damaged_drawings_are_read_or_refused(folder: Path, data: st.DataObject) -> None:
    """Whatever is done to a file's bytes, the answer is an outline or a sentence."""
    kind = data.draw(st.sampled_from(["dxf", "svg"]))
    path = folder / f"hurt.{kind}"
    if kind == "dxf":
        whole = WHOLE_DXF
    else:
        whole = (
            b'<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="400mm" viewBox="0 0 400 400">'
            b'<g transform="rotate(3)"><path d="M0 0H300A100 100 0 0 1 300 200C200 150 100 250 0 200Z"/></g></svg>'
        )
    hurt = bytearray(whole)
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(hurt) - 1))
        what = data.draw(
            st.binary(min_size=0, max_size=4) | st.sampled_from([b"9", b"e9", b"-", b"1e400", b"nan"])
        )
        hurt[at : at + data.draw(st.integers(0, 3))] = what
    path.write_bytes(bytes(hurt) or b" ")
    answer = _outline_or_sentence(
        lambda: read_outline_file(path, along="+x", origin=(0, 100), true_length=400)
    )
    assert (
        answer.startswith(f"file hurt.{kind}") if isinstance(answer, str) else Polygon(answer.points).is_valid
    )


def test_the_drawing_to_be_damaged_is_whole(folder: Path) -> None:
    path = folder / "whole.dxf"
    path.write_bytes(WHOLE_DXF)
    with pytest.raises(OutlineError, match="no unit in the file"):
        read_outline_file(path, along="+x", origin=(0, 100))
    assert Polygon(read_outline_file(path, along="+x", origin=(0, 100), true_length=400).points).is_valid
