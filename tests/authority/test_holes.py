"""The holes themselves: both faces of a string hole, the film, the lips, the ground wire.

Worked examples of common practice with no published source, each derived again from plain geometry.
"""

from math import atan, cos, degrees, hypot, pi, radians, sin, sqrt, tan

import numpy as np
import pytest

from scribeline.features import (
    angle_from_face_deg,
    entry_ellipse,
    ferrule_fit,
    ferrule_row,
    off_row,
    top_depth,
)
from scribeline.layout import Point3

from ..conftest import Planned

# A 45.0 mm body; ferrule with a lip of 8.73 × 1.6 mm (11/32 in) and a body of 7.14 × 9.5 mm (9/32 in); film 0.15 mm.
CHAIN = {
    "body.thickness": "45.0 +/- 0.1",
    "ferrules.lip_diameter": 8.73,
    "ferrules.lip_height": 1.6,
    "ferrules.body_diameter": 7.14,
    "ferrules.body_length": 9.5,
    "finish.film": 0.15,
    "finish.holes": "sprayed",
    "bits.brad_point": [3.5, "9/32", "11/32"],
    "bits.flat_bottomed": [],
}


def test_string_hole_chain_sprayed(planned: Planned) -> None:
    # Top 3/4 of 45 = 33.75, to the next half 34.0; counterbore 1.6; bore 1.6 + 9.5 + 2 = 13.1; overlap 2.1.
    plan = planned({**CHAIN, "string_holes.top_share": 0.75})
    assert top_depth(plan.job.document) == 34.0
    fit = ferrule_fit(plan.job.document)
    assert (fit.counterbore, fit.depth) == pytest.approx((1.6, 13.1))
    top, back = plan.features.family("string-hole")[0], plan.features.family("ferrule-hole")[0]
    assert top.deepest.depth + back.deepest.depth - 45.0 == pytest.approx(2.1)
    assert any("overlap by 2.10 mm" in reason.text for reason in back.why)


def test_string_hole_chain_masked(planned: Planned) -> None:
    # Plugged while a 0.15 mm film goes on, the face grows and the floor does not: 1.45. The worked example keeps
    # 13.1 for the bore in either case; 1.45 + 9.5 + 2 = 12.95 follows from its own rule, and is right.
    plan = planned({**CHAIN, "finish.holes": "masked"})
    fit = ferrule_fit(plan.job.document)
    assert (fit.counterbore, fit.depth) == pytest.approx((1.45, 12.95))


def test_a_body_that_came_out_thin(planned: Planned) -> None:
    # The same stops on a body of 43.5 mm: overlap 3.6, and 9.5 mm left under the top bore.
    plan = planned({**CHAIN, "body.thickness": "43.5 +/- 0.1", "string_holes.top_share": 0.78})
    assert top_depth(plan.job.document) == 34.0
    top, back = plan.features.family("string-hole")[0], plan.features.family("ferrule-hole")[0]
    assert top.deepest.depth + back.deepest.depth - 43.5 == pytest.approx(3.6)
    assert 43.5 - top.deepest.depth == pytest.approx(9.5)
    # Left to itself the plan takes what the meeting asks for: 43.5 − 13.1 + 1 + 2 × 0.5 + 0.1 + 0.05 = 32.55, so 33.0.
    again = planned({**CHAIN, "body.thickness": "43.5 +/- 0.1"})
    assert top_depth(again.job.document) == 33.0


@pytest.mark.parametrize(
    ("changes", "depth"),
    [
        # The bore from the back reaches 1.6 + 9.5 + 2 = 13.1. 1 mm of overlap is to be left when both depth stops are
        # 0.5 short, the wood is 0.1 thicker, and 3.5 and 7.44 mm holes lean 1 in 100: half their widths, 0.055, on one
        # side. 45 − 13.1 + 1 + 1 + 0.1 + 0.055 = 34.055, to the next half.
        ({}, 34.5),
        ({"body.thickness": "45.0 +/- 0"}, 34.0),  # 33.955
        ({"body.thickness": "45.0 +/- 0.6"}, 35.0),  # 34.555
        ({"body.thickness": "60 +/- 0.1"}, 49.5),  # 49.055; three quarters would be 45.0, and miss by 1.9
        ({"ferrules.body_length": 14.5}, 29.5),  # 5 mm longer: 29.055
        ({"string_holes.relief": 0.5}, 36.0),  # 35.555
        ({"limits.bores_meeting": 2.0}, 35.5),  # your own least overlap: 35.055
        # A pin wants three diameters of straight hole: 10.5, where 22 − 18.1 + 2.155 = 6.055 would meet.
        ({"body.thickness": "22 +/- 0.1", "ferrules.body_length": 14.5, "neck.pocket_depth": 10}, 10.5),
        # 3 mm stay under the 0.3 × 3.5 = 1.05 mm point: 45 − 4.05 = 40.95, to the half below, where 43.555 would meet.
        ({"ferrules.body_length": 2.0, "string_holes.relief": 0}, 40.5),
        ({"ferrules.body_length": 2.0, "string_holes.relief": 0, "limits.bore_floor": 6.0}, 37.5),  # 37.95
        ({"string_holes.top_share": 0.5}, 22.5),  # a stated one stands, meet or not
    ],
)
def test_depth_from_the_top_follows_from_what_it_meets(
    planned: Planned, changes: dict[str, object], depth: float
) -> None:
    plan = planned({**CHAIN, **changes})
    holes = plan.features.family("string-hole")
    assert {hole.deepest.depth for hole in holes} == {depth}


def test_what_drift_may_cost_sideways_is_held_against_the_wider_bore(planned: Planned) -> None:
    # The pin 0.1 off, bits that wander 1 in 100 over 34.5 and 13.1: 0.1 + 0.345 + 0.131 = 0.576. A 7.144 mm bore round
    # a 3.5 mm hole takes 1.822; a 4.5 mm one 0.5.
    fine = planned(CHAIN)
    assert any("by 0.58 mm" in r.text for r in fine.features.family("ferrule-hole")[0].why)
    assert not [f for f in fine.findings if f.code == "string-holes.part-sideways"]
    narrow = {"ferrules.body_diameter": 4.2, "bits.brad_point": [3.5, 4.5, "11/32"]}
    (told,) = (f for f in planned({**CHAIN, **narrow}).findings if f.code == "string-holes.part-sideways")
    assert (told.value, told.limit) == pytest.approx((0.576, 0.5))
    straight = {
        "bits.brad_point": [{"diameter": 3.5, "drift": 0.3}, {"diameter": 4.5, "drift": 0.3}, "11/32"]
    }
    assert not [
        f for f in planned({**CHAIN, **narrow, **straight}).findings if f.code == "string-holes.part-sideways"
    ]


def test_holes_after_a_film(planned: Planned) -> None:
    # An 8.73 bore sprayed 0.15 a side measures 8.43; ream to the lip's own size, not to the bare-wood size.
    plan = planned(CHAIN)
    fit = ferrule_fit(plan.job.document)
    assert (fit.lip, fit.film_in_hole) == pytest.approx((9.03, 0.30))
    tight = next(f for f in plan.findings if f.code == "ferrules.lip-tight")
    assert "8.43 mm once sprayed" in tight.message
    assert "ream to 8.73 mm after the finish has cured" in tight.cure


def test_a_lip_that_presses_is_fine_bare(planned: Planned) -> None:
    # An 8.8 lip in an 8.73 bore is 0.07 of press: no finding bare, a caution once sprayed.
    bare = planned({**CHAIN, "ferrules.lip_diameter": 8.8, "finish.film": 0})
    assert not [f for f in bare.findings if f.code.startswith("ferrules.lip")]
    sprayed = planned({**CHAIN, "ferrules.lip_diameter": 8.8})
    assert [f.code for f in sprayed.findings if f.code.startswith("ferrules.lip")] == ["ferrules.lip-tight"]


@pytest.mark.parametrize(
    ("lip", "web", "severity"),
    [
        (8.73, 1.77, None),
        (9.5, 1.0, None),
        (10.0, 0.5, "caution"),
        (10.5, 0.0, "stop"),
        (11.0, -0.5, "stop"),
        (12.0, -1.5, "stop"),
    ],
)
def test_lips_at_10_5(planned: Planned, lip: float, web: float, severity: str | None) -> None:
    # web = spacing − lip.
    bits = {"bits.flat_bottomed": [lip]}
    plan = planned({"bridge.spacing": 10.5, "ferrules.lip_diameter": lip, **bits})
    found = [f for f in plan.findings if f.code == "ferrules.lip-web"]
    assert [f.severity for f in found] == ([severity] if severity else [])
    for finding in found:
        assert finding.value == pytest.approx(web)
        if web < 0:
            assert f"overlap by {-web:.2f} mm" in finding.message
        assert "a lip of 9.50 mm or less" in finding.cure
        assert "block" in finding.cure
    lips = {f"ferrule-hole-{i}" for i in range(1, 7)}
    neighbours = [w for w in plan.webs if {w.a, w.b} <= lips and w.mm < 5]
    # Solids that overlap do so by the least way out: sideways by the lips, or along the axis by the counterbore.
    assert [w.mm - w.overlap for w in neighbours] == pytest.approx([max(web, -1.38)] * 5)


# The pocket's wall 28 mm from the entry (the plate's front edge lies 11.4 mm behind the wall), aimed 14 mm deep.
GROUND = {
    "ground_wire.from_front": 16.6,
    "ground_wire.lands": 14,
    "ground_wire.diameter": 3.2,
    "bits.twist": [3.0, 3.2],
}


def test_ground_wire(planned: Planned) -> None:
    # 26.6° from the face, 31.3 mm along the axis, first contact 7.2 mm long, a 19 mm chuck needs 38 mm of bit.
    (hole,) = planned(GROUND).features.family("ground-wire")
    angle = atan(14 / 28)
    assert angle_from_face_deg(hole) == pytest.approx(degrees(angle))
    assert angle_from_face_deg(hole) == pytest.approx(26.6, abs=0.05)
    assert entry_ellipse(hole) == pytest.approx((3.2 / sin(angle), 3.2))
    assert entry_ellipse(hole)[0] == pytest.approx(7.2, abs=0.05)
    to_wall = hypot(28, 14)
    assert to_wall == pytest.approx(31.3, abs=0.05)
    text = " ".join(reason.text for reason in hole.why)
    assert (
        "it runs 31.30 mm to the wall of the bridge-pickup cavity, 26.6° from the faces, 63.4° off upright"
        in text
    )
    assert "at full depth 38 mm of the bit must still stand outside" in text
    # At that depth the axis is at the wall, 14 mm down.
    at_wall = hole.along(to_wall)
    assert at_wall.z == pytest.approx(-14)
    assert hole.at.x - at_wall.x == pytest.approx(28)
    # The far side of the square end is through the wall: its last point has passed it.
    last = hole.deepest.depth * cos(angle) - 1.6 * sin(angle)
    assert last > 28


def test_ground_wire_toward_the_back(planned: Planned) -> None:
    # Cover at run x: T − x tan A − (d/2)/cos A. At 35° and 60 mm in 45.0 mm: 1.03; at 62 mm −0.37; in 43.5 mm −0.47;
    # at 30° 8.51. (26.6° reaches the back after 86 mm.)
    def cover(thickness: float, run: float, angle_deg: float) -> float:
        a = radians(angle_deg)
        return thickness - run * tan(a) - 1.6 / cos(a)

    assert [cover(45, 60, 35), cover(45, 62, 35), cover(43.5, 60, 35), cover(45, 60, 30)] == pytest.approx(
        [1.03, -0.37, -0.47, 8.51], abs=0.006
    )
    assert cover(45, 86.4, degrees(atan(0.5))) == pytest.approx(0, abs=0.02)
    # The plan's own figure: the lowest place of the full diameter's rim is L sin A + r cos A below the face, and the
    # point's tip (L + point) sin A; a long bit's own drift, 1 mm in 100 mm square to it, adds 0.01 · depth · cos A
    # to both (common practice, no source).
    plan = planned(GROUND)
    (hole,) = plan.features.family("ground-wire")
    a, full, tip = atan(0.5), hole.deepest.depth, hole.deepest.point_reaches
    left = next(o.to_opposite for o in plan.outside if o.feature == "ground-wire")
    assert left == pytest.approx(
        44.4 - max(full * sin(a) + 1.6 * cos(a) + 0.01 * full * cos(a), tip * sin(a) + 0.01 * tip * cos(a))
    )


def test_pocket_with_film_on_both(planned: Planned) -> None:
    # pocket = heel + slip + 2 (film on the heel + film in the pocket) = 56.0 + 0.1 + 2 (0.10 + 0.15) = 56.6.
    film = {"neck.heel_width_at_end": 56.0, "neck.slip": 0.1, "neck.heel_film": 0.10, "finish.film": 0.15}
    plan = planned({**film, "finish.holes": "sprayed"})
    width = max(p.y for p in plan.layout.pockets[0].outline) - min(
        p.y for p in plan.layout.pockets[0].outline
    )
    assert width == pytest.approx(56.6)
    masked = planned(film)  # the pocket is plugged: only the heel's film
    width = max(p.y for p in masked.layout.pockets[0].outline) * 2
    assert width == pytest.approx(56.3)


def test_press_square_to_hold_the_row(planned: Planned) -> None:
    # To hold 0.15 mm at 45 mm the table leans 0.19° at most; a wire swung at 100 mm radius reads under 0.67 mm.
    assert degrees(atan(0.15 / 45)) == pytest.approx(0.19, abs=0.002)
    card = next(c for c in planned({"body.thickness": "45 +/- 0.1"}).cards if c.id == "check-press")
    assert card.gate is not None
    assert card.gate.high == pytest.approx(0.67, abs=0.005)


def test_a_screw_over_a_cavity(planned: Planned) -> None:
    # Worked example, no published source: a 25.4 mm screw, plate 2.0, roof 27.0 over a rear cavity leaves 3.6 mm under
    # the screw's own tip. The plan counts the hole, which is deeper by 1.5 mm and the bit's point.
    box = {
        "name": "spring box",
        "face": "back",
        "depth": 18.0,
        "corner_radius": 4,
        "x_from": "scale line",
        "centre": [38, 0],
        "size": [8, 70],
    }
    changes = {"body.thickness": "45.0 +/- 0.1", "bridge.plate_thickness": 2.0, "bridge_screw.length": 25.4}
    plan = planned(
        {**changes, "pockets[4]": box, "bridge.screws": [[48, -20], [48, 20]], "bridge.plate_length": 52}
    )
    screw = plan.features.family("bridge-screw")[0]
    web = next(w for w in plan.webs if {w.a, w.b} == {screw.id, "spring-box"})
    assert web.mm == pytest.approx(3.6 - 1.5 - screw.deepest.bit.point)


@pytest.mark.parametrize("hand", ["right", "left"])
def test_a_heading_leans_towards_the_treble(planned: Planned, hand: str) -> None:
    # The wall 25.4 mm ahead of the entry, met 25.4 tan 20° further to the treble, after 25.4/cos 20° along the face.
    plan = planned({"ground_wire.heading": 20, "handed": hand})
    (hole,) = plan.features.family("ground-wire")
    treble = plan.layout.treble
    at_wall = hole.along(hypot(25.4 / cos(radians(20)), 11))
    assert hole.at.y * treble == pytest.approx(5.3)
    assert (at_wall.x, at_wall.z) == pytest.approx((618.0, -11.0))
    assert at_wall.y * treble == pytest.approx(5.3 + 25.4 * tan(radians(20)))


@pytest.mark.parametrize("hand", ["right", "left"])
def test_a_turned_pocket_goes_tailward_on_the_treble_side(planned: Planned, hand: str) -> None:
    # 40 × 72 mm about (598, 0), turned 10°: the middle of its treble end lies 36 mm out at 10°.
    plan = planned({"pockets[1].turn": 10, "handed": hand})
    ring = next(p for p in plan.layout.pockets if p.name == "bridge pickup").outline
    treble_end = sorted(ring, key=lambda p: p.y * plan.layout.treble)[2:]
    middle = [sum(axis) / 2 for axis in zip(*treble_end, strict=True)]
    assert middle[0] == pytest.approx(598 + 36 * sin(radians(10)))
    assert middle[1] * plan.layout.treble == pytest.approx(36 * cos(radians(10)))


@pytest.mark.parametrize(
    ("datum", "x"), [("nut", 0.0), ("12th fret", 320.0), ("pocket end", 468.0), ("scale line", 640.0)]
)
def test_pocket_places_count_from_their_datum(planned: Planned, datum: str, x: float) -> None:
    at = 520.0 - x if datum != "scale line" else -120.0
    rectangle = planned({"pockets[2].x_from": datum, "pockets[2].centre": [at, 3]})
    ring = next(p for p in rectangle.features.pockets if p.id == "neck-pickup").outline
    assert (min(p.x for p in ring), max(p.x for p in ring)) == pytest.approx((500, 540))
    assert (min(p.y for p in ring), max(p.y for p in ring)) == pytest.approx((-33, 39))
    corners = [[at - 20, -33], [at + 20, -33], [at + 20, 39], [at - 20, 39]]
    outline = planned(
        {
            "pockets[2].x_from": datum,
            "pockets[2].centre": None,
            "pockets[2].size": None,
            "pockets[2].outline": corners,
        }
    )
    assert next(p for p in outline.features.pockets if p.id == "neck-pickup").outline == ring


def test_router_corners_by_area(planned: Planned) -> None:
    # A rectangle with corners of radius r loses (4 − π) r²; flattened to 0.01 mm.
    pocket = next(p for p in planned().features.pockets if p.id == "bridge-pickup")
    pairs = zip(pocket.outline, (*pocket.outline[1:], pocket.outline[0]), strict=True)
    area = sum(a.x * b.y - b.x * a.y for a, b in pairs) / 2
    assert area == pytest.approx(40 * 72 - (4 - pi) * 4**2, abs=0.2)


@pytest.mark.parametrize("turn", [0.0, 7.0, -40.0, 90.0])
def test_a_row_is_as_straight_as_orthogonal_regression_finds_it(turn: float) -> None:
    """Against the textbook slope of orthogonal regression (Deming's, both errors alike; from memory), of a row, turned."""
    random = np.random.default_rng(26)
    row = np.column_stack(
        (random.normal(0.0, 0.12, 6), np.linspace(-26.5, 26.5, 6) + random.normal(0.0, 0.12, 6))
    )
    c, s = cos(radians(turn)), sin(radians(turn))
    places = [Point3(650 + c * x - s * y, 3 + s * x + c * y, 44.4) for x, y in row]
    (xx, xy), (_, yy) = np.cov(row.T)
    slope = (xx - yy + sqrt((xx - yy) ** 2 + 4 * xy**2)) / (2 * xy)
    wanted = (row[:, 0] - row[:, 0].mean() - slope * (row[:, 1] - row[:, 1].mean())) / hypot(1.0, slope)
    found = np.array(off_row(places))
    assert np.abs(found) == pytest.approx(np.abs(wanted), abs=1e-6)
    assert abs(np.sum(found * wanted)) == pytest.approx(np.sum(wanted**2), abs=1e-6)


def test_the_fence_lies_by_the_two_outer_holes(planned: Planned) -> None:
    plan = planned({})
    holes = plan.features.family("ferrule-hole")
    row = ferrule_row(holes)
    assert row is not None
    assert row.across == pytest.approx((1.0, 0.0))
    assert row.shares == pytest.approx((0.0, 0.2, 0.4, 0.6, 0.8, 1.0))
    assert ferrule_row(holes[:2]) is None
    assert ferrule_row(holes, {holes[3].id}) is None
    card = next(card for card in plan.cards if card.id == "counterbore-ferrules")
    assert any("fence" in line for line in card.do)


def test_the_row_is_asked_to_be_as_straight_as_the_job_says(planned: Planned) -> None:
    """The usual 0.15 mm is common practice, no source; a job may say otherwise."""
    for limits, said in (({}, "0.15 mm"), ({"limits.ferrule_row.caution": 0.3}, "0.30 mm")):
        card = next(card for card in planned(limits).cards if card.id == "bore-ferrules")
        assert f"the row must be straight within {said}" in card.gate.ask
