"""Ways out for whatever went wrong: a plug holds what it says, a way that closes is a plan without stops, the order is kept."""

from __future__ import annotations

from itertools import pairwise
from math import hypot, radians

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scribeline.features import plug_round
from scribeline.lengths import in_unit
from scribeline.plan import plan
from scribeline.rescue import Found, RescueError, called, with_found
from scribeline.tables import PLUG_WALL, plug_sizes

from ..conftest import change
from ..rescued import TEXT, found, made

SIZES = tuple(each.diameter for each in plug_sizes())


@given(st.floats(0.5, 14), st.floats(0.5, 14), st.floats(0, 12))
def test_a_plug_has_the_old_hole_in_it_and_its_wall_round_the_new_one(
    old: float, new: float, away: float
) -> None:
    """Seen as circles on a line: the old hole at 0, the new one at `away`, the plug's middle at `aside`."""
    plug = plug_round(old, new, away)

    def fits(diameter: float) -> bool:
        radius = diameter / 2
        low, high = away - (radius - new / 2 - PLUG_WALL), radius - old / 2
        return radius - new / 2 >= PLUG_WALL and radius >= old / 2 and max(low, 0.0) <= high

    if plug is None:
        assert not any(fits(size - 1e-6) for size in SIZES)
        return
    radius = plug.diameter / 2
    assert 0 <= plug.aside <= away + 1e-9
    assert radius - plug.aside - old / 2 >= -1e-6
    assert radius - abs(away - plug.aside) - new / 2 == pytest.approx(plug.wall, abs=1e-9)
    assert plug.wall >= PLUG_WALL - 1e-6
    assert not any(fits(size - 1e-6) for size in SIZES if size < plug.diameter)


WRONG = (
    *(("S3", Found(off=off)) for off in ((0.1, 0.0), (0.8, -0.3), (3.0, 2.0), (6.0, 0.0))),
    *(("B1", Found(off=off)) for off in ((0.1, 0.1), (0.9, 0.0), (0.0, 5.2))),
    ("F3", Found(off=(0.0, 2.0))),
    ("F1", Found(diameter=9.8)),
    ("S1", Found(depth=43.0)),
    ("S6", Found(depth=30.0)),
    ("C1", Found(diameter=11.0)),
    ("C2", Found(off=(1.5, -1.0))),
    ("P1", Found(stripped=True)),
    ("N2", Found(off=(1.0, 1.0))),
    ("neck-pocket", Found(depth=17.1)),
    ("neck-pocket", Found(depth=15.2)),
    ("neck-pocket", Found(width=57.4, depth=16.5)),
    ("neck-pocket", Found(lean=radians(-0.8))),
    ("neck-pocket", Found(length=76.0)),
    ("control-cavity", Found(off=(0.0, 2.0))),
    ("bridge-pickup", Found(width=70.0)),
    ("bridge-pickup", Found(width=80.0)),
)


@pytest.mark.parametrize("wrong", WRONG, ids=lambda each: f"{each[0]} {each[1]}"[:60])
def test_a_way_that_closes_is_a_plan_without_stops_for_its_cut(wrong: tuple[str, Found]) -> None:
    of = found(*wrong)
    names = set(of.cuts)
    assert of.ways
    for way in of.ways:
        assert way.closes == (not way.why_not)
        if way.closes and way.record is not None:
            after = plan(made().job, way.record)
            assert [stop.code for stop in after.stops if names & set(stop.features)] == [], way.kind
        for number in way.numbers:
            assert number.ok or not way.closes, (way.kind, number.words)
    assert bool(of.refusal) == (not any(way.closes for way in of.ways))
    for better, worse in pairwise(of.ways):
        assert better.rank <= worse.rank
    for way in of.ways:
        told = [
            way.title,
            way.shows,
            way.why_not,
            *way.does,
            *way.parts,
            *(each.words for each in way.numbers),
        ]
        assert not any("nan" in in_unit(each, "mm") or "None" in each for each in told)


@pytest.mark.parametrize(
    "wrong",
    [("S3", Found(off=(0.8, -0.3))), ("B1", Found(off=(0.9, 0.4))), ("neck-pocket", Found(off=(0.0, 0.6)))],
)
def test_a_left_handed_instrument_has_the_same_ways(wrong: tuple[str, Found]) -> None:
    """Across counts towards the treble for either hand: nothing but the sides' signs in the record differs."""
    name, what = wrong
    right = found(name, what)
    left = found(name, what, made(text=change({"handed": "left"}, TEXT)))
    assert in_unit(right.wrong, "mm") == in_unit(left.wrong, "mm")
    for one, other in zip(right.ways, left.ways, strict=True):
        assert (one.kind, one.closes, one.wait) == (other.kind, other.closes, other.wait)
        assert in_unit(one.title, "mm") == in_unit(other.title, "mm")
        assert one.visible == pytest.approx(other.visible, abs=1e-6)
        assert [each.words for each in one.numbers] == [each.words for each in other.numbers]
        assert [each.mm for each in one.numbers] == pytest.approx(
            [each.mm for each in other.numbers], abs=1e-4
        )  # the search for the least wood stops within that
        for mine, theirs in zip(one.drawn, other.drawn, strict=True):
            assert (mine.centre is None) == (theirs.centre is None)
            if mine.centre is not None and theirs.centre is not None:
                assert mine.centre == pytest.approx(theirs.centre, abs=1e-6)


@given(st.floats(-20, 20), st.floats(-20, 20))
def test_where_a_hole_was_found_is_kept_for_either_way_of_saying_it(along: float, across: float) -> None:
    seen = made()
    cut = called(seen, "S3")
    at = next(bore.at for bore in seen.features.bores if bore.id == "string-hole-3")
    told = with_found(seen, cut, Found(off=(along, across)))
    placed = with_found(seen, cut, Found(at=(at.x + along, at.y + across)))
    assert told.made_holes["string-hole-3"].at == pytest.approx(placed.made_holes["string-hole-3"].at)
    x, y, _ = told.made_holes["string-hole-3"].at
    assert hypot(x - at.x, y - at.y) == pytest.approx(hypot(along, across), abs=1e-9)


@pytest.mark.parametrize(
    ("name", "what", "words"),
    [
        ("S3", Found(off=(70.0, 0.0)), "cannot lie"),
        ("S3", Found(at=(1.0, 2.0)), "cannot lie"),
        ("S3", Found(depth=-1.0), "cannot be"),
        ("S3", Found(depth=400.0), "measure it again"),
        ("S3", Found(diameter=0.01), "can be kept"),
        ("S3", Found(width=4.0), "of a cavity"),
        ("neck-pocket", Found(stripped=True), "of a hole"),
        ("neck-pocket", Found(lean=1.0), "misread"),
        ("neck-pocket", Found(width=500.0), "measure it again"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(name: str, what: Found, words: str) -> None:
    with pytest.raises(RescueError, match=words):
        with_found(made(), called(made(), name), what)
