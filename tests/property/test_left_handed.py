"""A left-handed instrument is the mirror image of the right-handed one, and nothing else changes."""

from typing import Any

import pytest

from scribeline.features import Bore, Features, Pocket
from scribeline.layout import Layout, Point, Point3, Ring, mirrored
from scribeline.plan import Plan
from scribeline.plan.record import record

from ..conftest import Planned

JOBS: dict[str, dict[str, Any]] = {
    "demo": {},
    "lopsided": {
        "bridge.screws": [[38, -29], [38, -8], [30, 20]],
        "pockets[1].turn": 7,
        "ground_wire.across": 11,
        "ground_wire.heading": 12,
    },
    "broken": {"body.thickness": 30, "pockets[3].outline": [[612, 72], [716, 60], [724, 204], [664, 122]]},
    "no window": {"bridge.saddle_back": 11},
    "seven": {
        "strings[7]": {"note": "B1", "gauge": ".059", "setback": 4.4},
        "nut.width": 48,
        "fingerboard.width_at_end": 64,
        "bridge.plate_width": 93,
    },
}


@pytest.fixture(scope="module", params=JOBS)
def pair(request: pytest.FixtureRequest, planned: Planned) -> tuple[Plan, Plan]:
    changes = JOBS[request.param]
    return planned(changes), planned({**changes, "handed": "left"})


def across(features: Features) -> list[tuple[str, list[float]]]:
    def places(feature: Bore | Pocket) -> list[float]:
        return [feature.at.y] if isinstance(feature, Bore) else [p.y for p in feature.outline]

    return [(feature.id, places(feature)) for feature in features]


def test_holes_add_up_to_nothing(pair: tuple[Plan, Plan]) -> None:
    right, left = pair
    for a, b in zip(right.features.bores, left.features.bores, strict=True):
        assert a.id == b.id
        assert a.at.y + b.at.y == pytest.approx(0, abs=1e-9)
        assert (a.at.x, a.at.z, a.steps) == (b.at.x, b.at.z, b.steps)
        assert a.axis.y + b.axis.y == pytest.approx(0, abs=1e-12)
        assert (a.axis.x, a.axis.z) == pytest.approx((b.axis.x, b.axis.z))


def test_pockets_are_the_same_shape_turned_over(pair: tuple[Plan, Plan]) -> None:
    right, left = pair
    for a, b in zip(right.features.pockets, left.features.pockets, strict=True):
        turned = sorted((round(p.x, 6), round(-p.y, 6) + 0.0) for p in b.outline)
        assert turned == sorted((round(p.x, 6), round(p.y, 6) + 0.0) for p in a.outline)
        assert (a.depth, a.face, a.corner_radius) == (b.depth, b.face, b.corner_radius)


def test_the_layout_mirrored_twice_is_itself(pair: tuple[Plan, Plan]) -> None:
    right, left = pair
    assert mirrored(mirrored(right.layout)) == right.layout
    flipped = mirrored(right.layout)
    assert flipped.frets == left.layout.frets
    assert flipped.strings == left.layout.strings
    assert flipped.bridge == left.layout.bridge
    assert flipped.outline == left.layout.outline
    assert right.layout.treble == -left.layout.treble == 1


def test_every_outline_stays_counter_clockwise(pair: tuple[Plan, Plan]) -> None:
    for plan in pair:
        for ring in (plan.layout.outline, *(pocket.outline for pocket in plan.features.pockets)):
            assert sum(a.x * b.y - b.x * a.y for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)) > 0


def test_wood_findings_and_order_are_the_same(pair: tuple[Plan, Plan]) -> None:
    right, left = pair
    assert [(w.a, w.b, w.on_purpose) for w in right.webs] == [(w.a, w.b, w.on_purpose) for w in left.webs]
    for a, b in zip(right.webs, left.webs, strict=True):
        assert (a.mm, a.overlap) == pytest.approx((b.mm, b.overlap), abs=1e-9)
    for c, d in zip(right.outside, left.outside, strict=True):
        assert c.feature == d.feature
        assert (c.to_edge, c.to_opposite) == pytest.approx((d.to_edge, d.to_opposite), abs=1e-6)
    assert [(f.code, f.severity, f.features, f.message, f.cure) for f in right.findings] == [
        (f.code, f.severity, f.features, f.message, f.cure) for f in left.findings
    ]
    assert [card.id for card in right.cards] == [card.id for card in left.cards]
    assert [m.id for m in right.measurables] == [m.id for m in left.measurables]
    assert [m.value for m in right.measurables] == pytest.approx([m.value for m in left.measurables])


def test_cards_say_treble_and_bass_alike(pair: tuple[Plan, Plan]) -> None:
    right, left = pair
    for a, b in zip(right.cards, left.cards, strict=True):
        assert [place.across.mm for place in a.places] == pytest.approx(
            [place.across.mm for place in b.places]
        )
        assert (a.do, a.gate) == (b.do, b.gate)


def test_strings_are_numbered_from_the_treble_side(pair: tuple[Plan, Plan]) -> None:
    for plan in pair:
        places = [string.saddle.y * plan.layout.treble for string in plan.layout.strings]
        assert places == sorted(places, reverse=True)
        fret = plan.layout.frets[0]
        assert fret.treble.y * plan.layout.treble > 0 > fret.bass.y * plan.layout.treble


def test_records_differ_only_in_y_and_hand(pair: tuple[Plan, Plan]) -> None:
    right, left = (record(plan) for plan in pair)
    assert (right["job"].pop("handed"), left["job"].pop("handed")) == ("right", "left")
    assert right["job"] == left["job"]
    assert [step["id"] for step in right["steps"]] == [step["id"] for step in left["steps"]]
    for a, b in zip(right["frets"], left["frets"], strict=True):
        assert a["treble"] == [b["treble"][0], -b["treble"][1]]


def test_mirroring_reaches_every_place_in_any_nest() -> None:
    ring = Ring([Point(0, 0), Point(2, 0), Point(0, 1)])
    turned = mirrored((ring, (Point3(1, 2, 3), ("word", 4.0))))
    assert turned[0] == Ring([Point(0, -1), Point(2, 0), Point(0, 0)])
    assert turned[1] == (Point3(1, -2, 3), ("word", 4.0))
    assert isinstance(turned[0], Ring)


def test_a_layout_holds_no_place_that_mirroring_cannot_see(pair: tuple[Plan, Plan]) -> None:
    # Any float of the layout that changes sign with the hand must be a y of a Point; all else stays as it is.
    def plain_numbers(value: Any) -> list[float]:
        if isinstance(value, Point | Point3 | Ring):
            return []
        if isinstance(value, float):
            return [value]
        if isinstance(value, tuple):
            return [n for item in value for n in plain_numbers(item)]
        if hasattr(value, "__dataclass_fields__"):
            return [n for name in value.__dataclass_fields__ for n in plain_numbers(getattr(value, name))]
        return []

    right, left = (plan.layout for plan in pair)
    assert isinstance(right, Layout)
    assert plain_numbers(right) == pytest.approx(plain_numbers(left))
