"""Moving marks and measuring them: mirrors, turns, lettering that stays readable, windows."""

import math
from typing import Any

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from scribeline.drawing.extent import bounds, text_corners, touches
from scribeline.drawing.face import text_width
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.sheet import (
    CUT,
    DIMENSION,
    HATCHING,
    LETTERING,
    OUTLINE,
    TAG,
    Arc,
    Circle,
    Clip,
    Dimension,
    Fill,
    Hatch,
    Item,
    Layer,
    Leader,
    Line,
    Path,
    Point,
    RoundDimension,
    Sheet,
    Text,
)

number = st.floats(-300, 300).map(lambda v: round(v, 3))
point = st.tuples(number, number)
angle = st.floats(-360, 360).map(lambda v: round(v, 2))
transforms = st.builds(
    Transform,
    scale=st.floats(0.2, 3),
    mirror=st.sampled_from(["", "x", "y"]),
    rotation_deg=angle,
    offset=point,
)


def on_arc(arc: Arc, share: float) -> Point:
    at = math.radians(arc.start_deg + share * arc.sweep_deg)
    return (arc.centre[0] + arc.radius * math.cos(at), arc.centre[1] + arc.radius * math.sin(at))


@given(centre=point, radius=st.floats(1, 100), start=angle, sweep=st.floats(1, 359), t=transforms)
def test_an_arc_moves_with_every_point_on_it(
    centre: Point, radius: float, start: float, sweep: float, t: Transform
) -> None:
    arc = Arc(CUT, centre, radius, start, start + sweep)
    (moved,) = placed([arc], t)
    assert isinstance(moved, Arc)
    assert moved.sweep_deg == pytest.approx(sweep, abs=1e-6)
    for share in (0.0, 0.3, 1.0):
        # Mirrored, an arc is run through the other way about.
        twin = on_arc(moved, 1 - share if t.mirror else share)
        assert twin == pytest.approx(t.point(on_arc(arc, share)), abs=1e-6)


@given(at=point, turn=angle, t=transforms, anchor=st.sampled_from(["start", "middle", "end"]))
def test_lettering_covers_the_same_ground_and_reads_from_below_or_right(
    at: Point, turn: float, t: Transform, anchor: str
) -> None:
    """The box from base line to capitals, moved point by point, is the moved lettering's own box."""
    text = Text(LETTERING, at, "R 12.5 mm", 3.5, anchor, turn)  # type: ignore[arg-type]  # drawn from the literals
    (moved,) = placed([text], t, scale_text=True)
    assert isinstance(moved, Text)
    assert -90 < moved.rotation_deg <= 90 + 1e-6

    def capitals(of: Text) -> list[Point]:
        left = {"start": 0.0, "middle": -0.5, "end": -1.0}[of.anchor] * text_width(of.text, of.height)
        right = left + text_width(of.text, of.height)
        cos, sin = math.cos(math.radians(of.rotation_deg)), math.sin(math.radians(of.rotation_deg))
        corners = [(left, 0.0), (right, 0.0), (right, of.height), (left, of.height)]
        return [(of.at[0] + x * cos - y * sin, of.at[1] + x * sin + y * cos) for x, y in corners]

    expected = [t.point(corner) for corner in capitals(text)]
    for corner in capitals(moved):
        assert min(math.dist(corner, other) for other in expected) < 1e-6


def test_lettering_keeps_its_height_unless_asked() -> None:
    text = Text(LETTERING, (0, 0), "a", 3.5)
    half = Transform(scale=0.5)
    assert [m.height for m in placed([text], half) if isinstance(m, Text)] == [3.5]
    assert [m.height for m in placed([text], half, scale_text=True) if isinstance(m, Text)] == [1.75]


@given(a=point, b=point, at=point, t=transforms)
def test_mirrored_twice_is_where_it_was(a: Point, b: Point, at: Point, t: Transform) -> None:
    mirror = Transform(mirror="y")
    marks = (Line(OUTLINE, a, b), Circle(CUT, at, 5), Path(OUTLINE, (a, b, at), closed=True))
    assert placed(placed(marks, mirror), mirror) == marks
    moved = placed(marks, t)
    assert math.dist(moved[0].a, moved[0].b) == pytest.approx(math.dist(a, b) * t.scale, abs=1e-6)  # type: ignore[union-attr]  # the line


def test_quarter_turns_turn_dimensions_and_other_turns_are_refused() -> None:
    dimension = Dimension(DIMENSION, (0, 0), (10, 5), (0, 20), "10 mm", along="x")
    (turned,) = placed([dimension], Transform(rotation_deg=90))
    assert isinstance(turned, Dimension)
    assert (turned.along, turned.span) == ("y", 10)
    with pytest.raises(ValueError, match="can only be turned by quarter turns; make it aligned"):
        placed([dimension], Transform(rotation_deg=30))
    with pytest.raises(ValueError, match="clipped drawing can only be turned by quarter turns"):
        placed([Clip((0, 0, 1, 1), (dimension,))], Transform(rotation_deg=30))


@given(centre=point, radius=st.floats(1, 100), start=angle, sweep=st.floats(1, 359))
def test_bounds_of_an_arc_agree_with_shapely(
    centre: Point, radius: float, start: float, sweep: float
) -> None:
    arc = Arc(CUT, centre, radius, start, start + sweep)
    dense = shapely.LineString([on_arc(arc, n / 5000) for n in range(5001)]).bounds
    # Between two of 5001 points the arc bulges by less than 1e-3 mm.
    assert bounds([arc]) == pytest.approx(dense, abs=1e-3)


windows = st.tuples(number, number, st.floats(5, 200), st.floats(5, 200)).map(
    lambda w: (w[0], w[1], w[0] + w[2], w[1] + w[3])
)


@given(window=windows, points=st.lists(point, min_size=3, max_size=6, unique=True), radius=st.floats(1, 200))
def test_what_shows_in_a_window_agrees_with_shapely(
    window: tuple[float, float, float, float], points: list[Point], radius: float
) -> None:
    a, b, *_ = points
    words = Text(LETTERING, a, "Words", 5, "middle", 30)
    pairs: list[tuple[Item, Any]] = [
        (Line(CUT, a, b), shapely.LineString([a, b])),
        (Path(CUT, tuple(points), closed=True), shapely.LinearRing(points)),
        (words, shapely.Polygon(text_corners(words))),
    ]
    if shapely.Polygon(points).is_valid:
        pairs.append((Fill(TAG, (tuple(points),)), shapely.Polygon(points)))
    for mark, shape in pairs:
        # What only just touches may go either way.
        inner, outer = (shapely.box(*window).buffer(by, join_style="mitre") for by in (-1e-6, 1e-6))
        assert touches(mark, window) or not shape.intersects(inner)
        assert shape.intersects(outer) or not touches(mark, window)
    near = shapely.box(*window).distance(shapely.Point(a))
    far = max(math.dist(a, (x, y)) for x in window[::2] for y in window[1::2])
    if abs(near - radius) > 1e-6 and abs(far - radius) > 1e-6:
        assert touches(Circle(CUT, a, radius), window) == (near <= radius <= far)


@given(window=windows, centre=point, radius=st.floats(1, 200), start=angle, sweep=st.floats(1, 359))
def test_an_arc_that_shows_is_never_missed(
    window: tuple[float, float, float, float], centre: Point, radius: float, start: float, sweep: float
) -> None:
    arc = Arc(CUT, centre, radius, start, start + sweep)
    inside = any(
        window[0] + 0.01 < x < window[2] - 0.01 and window[1] + 0.01 < y < window[3] - 0.01
        for x, y in (on_arc(arc, n / 200) for n in range(201))
    )
    if inside:
        assert touches(arc, window)


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: Circle(CUT, (0, 0), 0), "A circle's radius must be above 0, not 0"),
        (lambda: Circle(CUT, (0, 0), math.nan), "must be above 0, not nan"),
        (lambda: Arc(CUT, (0, 0), 5, 30, 390), "draw a circle instead"),
        (lambda: Path(CUT, ((0, 0),)), "two points or more"),
        (lambda: Text(LETTERING, (0, 0), "a\nb", 3), "one line"),
        (lambda: Text(LETTERING, (0, 0), "a", -1), "height of lettering must be above 0"),
        (lambda: Dimension(DIMENSION, (0, 0), (0, 5), (1, 1), "0", along="x"), "two points that differ"),
        (lambda: RoundDimension(DIMENSION, (0, 0), -1, "radius", 0, "R 1"), "radius must be above 0"),
        (lambda: Leader(DIMENSION, (0, 0), (0, 0), "a"), "somewhere else than its tip"),
        (lambda: Hatch(HATCHING, (((0, 0), (1, 1)),)), "three points or more"),
        (lambda: Hatch(HATCHING, (((0, 0), (1, 1), (0, 1)),), spacing=0), "spacing of hatching"),
        (lambda: Clip((0, 0, 0, 5), ()), "left, bottom, right, top"),
        (lambda: Sheet("s", 0, 5, ()), "width of sheet s must be above 0"),
        (lambda: Layer("", 0.2), "needs a name"),
        (lambda: Layer("a", 0), "line width must be above 0"),
        (lambda: Transform(scale=0), "scale must be above 0"),
        (lambda: Transform(mirror="z"), "not in 'z'"),
    ],
)
def test_marks_that_cannot_be_drawn_are_refused(make: object, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        make()  # type: ignore[operator]  # a lambda
