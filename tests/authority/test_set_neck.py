"""A glued neck with its tenon: widths, areas, heights and wedges worked by hand."""

from __future__ import annotations

from collections.abc import Mapping
from math import cos, hypot, radians, tan

import numpy as np
import pytest
import shapely
from tests.kind_jobs import example, faults_at, restated

from scribeline.findings import Finding
from scribeline.job import Stated, parse_job
from scribeline.plan import Plan, plan
from scribeline.plan.heights import heights
from scribeline.plan.named import quantities

POSTS = example("posts-and-tailpiece")
TENON: Mapping[str, Stated] = {"neck__tenon_width": "42 +/- 0.05"}


def text(changes: Mapping[str, Stated]) -> str:
    return restated(POSTS, changes)


def planned(changes: Mapping[str, Stated]) -> Plan:
    return plan(parse_job(text(changes)).job)


def found(made: Plan, code: str) -> Finding:
    (finding,) = [each for each in made.findings if each.code == code]
    return finding


@pytest.fixture(scope="module")
def tenon() -> Plan:
    return planned({**TENON, "neck__slip": 0.2})


def told(made: Plan, name: str) -> str:
    return " ".join(map(str, next(card for card in made.cards if card.id == name).do))


def test_the_pocket_fits_the_tenon_with_room_for_glue(tenon: Plan) -> None:
    """Parallel, 42 and 0.2 wide, and no film in it although 0.12 mm of finish go on the body."""
    ring = shapely.Polygon(tenon.features.pocket("neck-pocket").outline)
    for x in (390.0, 420.0, 450.0):
        across = shapely.LineString([(x, -100), (x, 100)]).intersection(ring)
        assert across.length == pytest.approx(42.2, abs=1e-9)
    sprayed = planned({**TENON, "finish__holes": "sprayed"}).features.pocket("neck-pocket")
    assert max(p.y for p in sprayed.outline) == pytest.approx(21.05, abs=1e-9)
    wide = quantities(tenon)
    assert wide["neck-pocket.width-at-end"].value == pytest.approx(42.2, abs=1e-9)
    # And the tenon itself is 42: what goes into the pocket.
    assert max(p.y for p in tenon.neck.outline) == pytest.approx(21.0, abs=1e-9)


def test_what_holds_by_glue(tenon: Plan) -> None:
    # Floor 42 × 74 / cos 3°, two cheeks of 74 × (22.1 + 25.978) / 2.
    mouth = 22.1 + 74 * tan(radians(3))
    wanted = 42 * hypot(74.0, 74 * tan(radians(3))) + 2 * 74 * (22.1 + mouth) / 2
    assert quantities(tenon)["neck.glue-area"].value == pytest.approx(wanted, rel=1e-9)
    assert 42 * 74 / cos(radians(3)) + 74 * (22.1 + mouth) == pytest.approx(wanted)
    assert "67 cm² in all" in told(tenon, "refit-neck")


def test_the_cards(tenon: Plan) -> None:
    order = [card.id for card in tenon.cards]
    assert order.index("rout-neck-pocket") < order.index("cut-tenon") < order.index("fit-neck")
    words = told(tenon, "cut-tenon")
    # 28.6 of heel with 6 of board; shoulders on 100 tan 3° = 5.24.
    for part in (
        "42.00 mm wide",
        "74.00 mm from its end",
        "22.60 mm thick",
        "3.00° off square",
        "5.2 mm thick",
    ):
        assert part in words
    gate = next(card for card in tenon.cards if card.id == "cut-tenon").gate
    assert (gate.low, gate.high) == pytest.approx((41.95, 42.05))
    assert "the glue's maker says" in told(tenon, "refit-neck")
    assert any("lue" in str(each) for each in next(c for c in tenon.cards if c.id == "refit-neck").cautions)
    assert not any(card.id == "cut-tenon" for card in planned({}).cards)


def test_the_straightedge_reads_what_plane_geometry_says(tenon: Plan) -> None:
    """The line of the crowns, turned by 3° about the heel's lower end, at the place of the scale line on the body."""
    a, layout = radians(3.0), tenon.layout
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    stack = 28.6 + tenon.job.document.fret_wire.crown_height
    (x0, z0), (x1, z1) = (turn @ (along, stack) + (460.0, -22.1) for along in (0.0, 300.0))
    there = z0 + (z1 - z0) * (layout.scale - x0) / (x1 - x0)
    measured = heights(tenon)
    assert measured is not None
    assert measured.gap == pytest.approx(there, abs=1e-9)
    # 0.1° over the way from the end wall.
    off = (layout.scale - 460.0) * tan(radians(0.1))
    for card in ("fit-neck", "refit-neck"):
        assert f"must stand {there:.1f} mm over the body, {off:.1f} mm more or less" in told(tenon, card)


def test_a_pickup_over_the_tenon() -> None:
    """The neck pickup's cavity runs into the pocket: a fault unless it is meant, and then it is routed through the tenon."""
    near = text(TENON).replace("centre = [34, 0]", "centre = [12, 0]")
    clash = plan(parse_job(near).job)
    assert "wood.run-together" in {f.code for f in clash.findings if "neck-pocket" in f.features}
    meant = plan(
        parse_job(near.replace("centre = [12, 0]", 'centre = [12, 0]\nopens_into = ["neck pocket"]')).job
    )
    assert "wood.run-together" not in {f.code for f in meant.findings if "neck-pocket" in f.features}
    assert "rout the neck-pickup cavity again through the tenon, down to its own floor" in told(
        meant, "refit-neck"
    )


@pytest.mark.parametrize(
    ("changes", "code", "severity", "words"),
    [
        (
            {"neck__tenon_width": "58 +/- 0.05"},
            "neck.tenon-wider",
            "stop",
            "58.00 mm wide and the heel it is cut from 54.80 mm",
        ),
        ({**TENON, "neck__slip": 0.4}, "neck.glue-gap", "caution", "0.40 mm wider"),
        ({**TENON, "neck__slip": 0.7}, "neck.glue-gap", "stop", "0.70 mm wider"),
        (
            {"neck__heel_film": 0.1},
            "neck.film-in-joint",
            "caution",
            "0.10 mm of finish on a heel that is glued in",
        ),
    ],
)
def test_planted_mistakes(changes: dict[str, Stated], code: str, severity: str, words: str) -> None:
    finding = found(planned(changes), code)
    assert finding.severity == severity
    assert words in str(finding.message)


def test_an_angle_that_sinks_the_strings() -> None:
    """Leaning forward by 1° the strings come out below what the saddles reach: said with the number and a fix."""
    finding = found(planned({"neck__angle": -1.0}), "heights.saddle-out-of-range")
    assert finding.severity == "stop"
    assert "mm" in str(finding.message)
    assert "neck.angle" in str(finding.cure) or "neck.pocket_depth" in str(finding.cure)


def test_what_cannot_be() -> None:
    (words,) = faults_at(text({**TENON, "neck__joint": "bolt-on"}), "neck")
    assert "tenon_width is of a set neck" in words
    (words,) = faults_at(text({"neck__joint": "through"}), "neck.joint")
    assert 'write it "neck-through"' in words
