"""Mistakes planted one at a time in a job that passes clean: each must be told, as seriously as it is, with its number.

Only codes, severities and numbers are held here, no wording. Each number is worked out by hand beside its case, from the
demo's own: body 44.4 thick, heel 25.2, pocket 16.0, crown 1.1, scale 640, setbacks 1.4 to 4.2, saddles 9.2 to 17.6 behind
the plate's front edge. So the plate's aim is (min − 9.2 + max − 17.6)/2 = (1.4 − 9.2 + 4.2 − 17.6)/2 = −10.6. Limits are
common practice with no source unless a case names one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field
from math import atan, cos, erf, hypot, pi, radians, sqrt
from typing import Any

import pytest

from scribeline.features import Bore, as_cut
from scribeline.findings import Finding, Severity
from scribeline.job import Instrument, parse_job, starter_job
from scribeline.job.done import Done
from scribeline.layout import actions_at, saddle_heights
from scribeline.plan import Plan, plan

from ..conftest import FULL, Planned, change, in_inches


def over_frets(action: float, setback: float, *, nut: float = 0.5, relief: float = 0.2) -> float:
    """String over the straight fret plane at the saddle, mm, by similar triangles: scale 640, straight from fret 16 on.

    The board rises from there to the nut as a parabola whose sag under its chord is the relief: 4 r at the nut, and
    4 r ((e − x)/e)² on the way (the chord of a parabola from its vertex sags by a quarter of its end's height).
    """
    straight = 640 * (1 - 2 ** (-16 / 12))
    at_nut = 4 * relief + nut
    at_12th = 4 * relief * ((straight - 320) / straight) ** 2 + action
    return at_nut + (at_12th - at_nut) * (640 + setback) / 320


FIRST, LAST = over_frets(1.6, 1.4), over_frets(2.0, 4.2)
ALL = [over_frets(1.6 + 0.08 * n, back) for n, back in enumerate((1.4, 2.2, 3.5, 2.7, 3.2, 4.2))]
"""1.95 and 2.76: the crowns stand 25.2 − 16.0 + 1.1 = 10.3 over the body, so the saddles are wanted 12.25 to 13.06."""

NO_RANGE: dict[str, Any] = {"bridge.saddle_lowest": None, "bridge.saddle_highest": None}

SLOPE = hypot(104, 12) / 104
"""The control cavity's side from (612, 72) to (716, 60): what a step across is longer than the step square to it."""

SLANT: dict[str, Any] = {"name": "slant", "at": [560, -90], "diameter": 4, "depth": 12, "heading": 180}

G_SHARP_4, E3 = 440 * 2 ** (-1 / 12), 440 * 2 ** (-17 / 12)
"""Equal temperament from A4, which is 440 Hz (ISO 16)."""


def stress_mpa(pitch_hz: float) -> float:
    """Stress of a plain steel string, MPa: density × (2 L f)², 7850 kg/m³ (music wire), its saddle 1.4 mm back."""
    return float(7850 * (2 * 0.6414 * pitch_hz) ** 2 / 1e6)


A228_10 = 387 * 6.894757
"""Least strength of music wire of 0.010 in, 387 ksi, MPa (ASTM A228)."""


@dataclass(frozen=True)
class Mistake:
    """One edit of the clean job, and what must be told of it."""

    name: str
    changes: dict[str, Any]
    code: str
    severity: Severity
    value: float | None
    limit: float | None
    within: float = 0.006
    features: tuple[str, ...] = field(default=())


HEIGHTS = (
    # 25.2 − 14.5 + 1.1 = 11.8 over the body; the last string wants 11.8 + 2.76, and the saddles go up to 14.0.
    Mistake("pocket too shallow for the saddles", {"neck.pocket_depth": "14.5 +/- 0.1"},
            "heights.saddle-out-of-range", "stop", 14.0 - (11.8 + LAST), 0.0),
    # 23 − 16 + 1.1 = 8.1; the first string wants 8.1 + 1.95, and the saddles go down to 10.4.
    Mistake("heel too thin for the saddles", {"neck.heel_thickness": "23.0 +/- 0.1"},
            "heights.saddle-out-of-range", "stop", 8.1 + FIRST - 10.4, 0.0),
    # 25.2 − 15.2 + 1.1 = 11.1: the last string's saddle stands 0.14 under its upper stop.
    Mistake("a saddle at its upper stop", {"neck.pocket_depth": "15.2 +/- 0.1"},
            "heights.saddle-near-its-end", "caution", 14.0 - (11.1 + LAST), 0.5),
    Mistake("saddles read 1.5 too low", {"bridge.saddle_highest": 12.8},
            "heights.saddle-out-of-range", "stop", 12.8 - (10.3 + LAST), 0.0),
    # Against the middle of what the six strings want.
    Mistake("a saddle height that gives another action", {**NO_RANGE, "bridge.saddle_height": 11.8},
            "heights.do-not-close", "caution", 11.8, 10.3 + sum(ALL) / 6),
    # Crowns 10.3 over the body and a saddle of 5: the strings would lie under the frets.
    Mistake("a saddle lower than the frets", {**NO_RANGE, "bridge.saddle_height": 5.0},
            "heights.do-not-close", "stop", 5.0, 10.3 + sum(ALL) / 6),
    Mistake("a saddle height below its own range", {"bridge.saddle_height": 5.0},
            "heights.saddle-beyond-stops", "stop", 5.0, 10.4),
    # 25.2 − 16 − 9.8.
    Mistake("the board's underside below the top", {"neck.board_thickness": "9.8 +/- 0.1"},
            "board.below-top", "stop", -0.6, 0.0),
    # The neck pickup begins 34 − 20 = 14 mm past the pocket's end, at 482.
    Mistake("the board's end over the neck pickup", {"fingerboard.end": 490},
            "board.over-cavity", "caution", 490 - 482, 0.0),
)  # fmt: skip

PLATE = (
    # The last string breaks 4.2 + 10.6 = 14.8 behind the front edge.
    Mistake("string holes in front of the saddles", {"bridge.string_holes_from_front": 10.0},
            "string-holes.before-saddles", "stop", 10.0, 14.8),
    Mistake("string holes under the saddles' travel", {"bridge.string_holes_from_front": 16.5},
            "string-holes.before-saddles", "caution", 16.5, 17.6),
    # 44 − 17.6 = 26.4 and 44 − 9.2 = 34.8; their middle 30.6 is past the plate's 22.
    Mistake("saddle stops read from the tail edge",
            {"bridge.saddle_forward": 26.4, "bridge.saddle_back": 34.8},
            "bridge.saddles-far-back", "caution", 30.6, 22.0),
    Mistake("saddle stops beyond the plate", {"bridge.saddle_back": 46.0},
            "bridge.saddles-off-plate", "stop", 46.0, 44.0),
    # Travel 5.2 less the setbacks' spread of 2.8 leaves 1.2 at each end, 0.2 over the reserve; the plate is set to
    # sqrt(0.15² + 0.10² + 0.15² + 0.20² + 0.15²) = 0.34, so it lands inside with erf(0.2/0.34/√2) = 0.44.
    Mistake("a window narrower than the placing error", {"bridge.saddle_back": 14.4},
            "bridge.window-narrow", "caution", erf(0.2 / 0.34 / sqrt(2)), 0.68),
    # (5.7 − 2.8)/2.
    Mistake("little saddle travel in hand", {"bridge.saddle_back": 14.9},
            "bridge.reserve-small", "caution", 1.45, 1.5),
    # Wanted: 2.8 + 2 × 1.0.
    Mistake("no place for the plate", {"bridge.saddle_back": 13.0},
            "bridge.window-empty", "stop", 3.8, 4.8),
    Mistake("a screw pattern read off the plate's middle",
            {"bridge.screws": [[38, -26], [38, -7.6], [38, 13.6], [38, 32]]},
            "bridge.screws-off-middle", "caution", 3.0, 0.5),
    # The fellow of (32, 29) should be at (32, −29) and is at (38, −29).
    Mistake("one screw read 6 mm too far forward",
            {"bridge.screws": [[38, -29], [38, -10.6], [38, 10.6], [32, 29]]},
            "bridge.screws-not-alike", "caution", 6.0, 0.5),
    Mistake("no clearance between plate and screw", {"bridge.screw_hole": 3.5},
            "bridge.screw-does-not-pass", "stop", 3.5, 3.5),
    Mistake("hardly any clearance between plate and screw", {"bridge.screw_hole": 3.56},
            "bridge.screw-does-not-pass", "caution", 3.5, 3.56),
    Mistake("a screw thicker than the plate's hole", {"bridge.screw_hole": 3.2},
            "bridge.screw-does-not-pass", "stop", 3.5, 3.2),
    # 48 − 2.3 of plate = 45.7 in 44.4 of wood.
    Mistake("a bridge screw through the back", {"bridge_screw.length": 48},
            "screw.tip-shows", "stop", 44.4 - 45.7, 0.0),
)  # fmt: skip

# The middle of the cavity's side at x = 664 is y = 66: (72 + 60)/2. Square to the side, a step of s across is s/SLOPE;
# the cover's edge runs 10 mm outside the cavity's, and half the thread is 1.45.
PLACES = [[610, 90.5], [661, 126.5], [725.5, 105.5], [718, 59]]


def covered(y: float) -> dict[str, Any]:
    return {"pockets[3].cover_screws.places": [*PLACES, [664, y]]}


COVERS = (
    Mistake("a cover screw outside its recess", covered(54), "cover-screw.off-ledge", "stop",
            10 - 12 / SLOPE - 1.45, 0.0, features=("cover-screw-5", "control-cavity-cover-recess")),
    Mistake("a cover screw over the cavity", covered(68), "cover-screw.off-ledge", "stop",
            -2 / SLOPE - 1.45, 0.0, features=("cover-screw-5", "control-cavity")),
    Mistake("a cover screw on the cover's edge", covered(56.5), "cover-screw.on-edge", "stop",
            10 - 9.5 / SLOPE - 1.45, 0.0),
    Mistake("a cover screw near the cover's edge", covered(58), "cover-screw.on-edge", "caution",
            10 - 8 / SLOPE - 1.45, 1.0),
    Mistake("a cover thicker than its ledge is deep", {"pockets[3].cover_screws.cover_thickness": 3.0},
            "cover.not-flush", "caution", 3.0 - 2.0, 0.3),
)  # fmt: skip

NECK = (
    # No bit from 4.6 to 5.5 mm in the box: one of the thread's own size would grip.
    Mistake("no bit that lets the neck screws pass",
            {"neck_screws.thread": 4.5, "bits.brad_point": [3.0, 3.5, 4.0, 4.5, {"diameter": 6.0, "reach": 220}, 7.0, 9.0]},
            "bits.missing", "caution", 4.6, None),
    # 50 − 2 of plate − (44.4 − 16) of body = 19.6 in the heel, which has 25.2 − 6.2 = 19.0 under the board.
    Mistake("neck screws into the board", {"neck_screws.length": 50},
            "neck-screws.into-board", "stop", -0.6, 1.0),
    # 34 − 2 − 28.4.
    Mistake("neck screws too short", {"neck_screws.length": 34},
            "neck-screws.short", "stop", 3.6, 6.0),
    # The heel's bare wood: 56.2 wide at its end, 54.0 at the mouth 75 mm on. At 12 mm its half width is
    # 28.1 − 1.1 × 12/75 = 27.924; less 25, square to its side, less half the thread of 4.2.
    Mistake("a neck screw in the heel's side",
            {"neck_screws.places": [[12, -19], [12, 25], [52, -17.5], [52, 17.5]]},
            "neck-screws.near-side", "stop", (28.1 - 1.1 * 12 / 75 - 25) * cos(atan(1.1 / 75)) - 2.1, 2.0),
    Mistake("a pocket that does not open",
            {"neck.pocket_length": 50, "neck_screws.places": [[12, -19], [12, 19], [45, -17.5], [45, 17.5]]},
            "neck.pocket-closed", "stop", None, 0.0),
    # The pocket's mouth, at 468 − 75, lies 9 mm before the body (plan.json), which so begins at 402: 402 − 380.
    Mistake("a neck pocket typed before the body", {"neck.pocket_end": 380},
            "neck.pocket-off-body", "stop", 22.0, 0.0),
)  # fmt: skip

STRINGS = (
    # 7850 (2 × 0.6414 × 415.3)² = 2228 MPa of at least 2668.
    Mistake("a first string that nearly breaks", {"strings[1].note": "G#4"},
            "strings.near-breaking", "caution", stress_mpa(G_SHARP_4) / A228_10, 0.75, within=0.01),
    # C5 is 523.25 Hz: 3537 MPa.
    Mistake("a first string that breaks", {"strings[1].note": "C5"},
            "strings.breaks", "stop", stress_mpa(440 * 2 ** (3 / 12)), A228_10, within=40),
    # An octave too low: T = stress × π 0.254²/4 = 17.8 N; 1 N moves its middle by 640/(4 T) = 9.0.
    Mistake("a first string an octave too low", {"strings[1].note": "E3"},
            "strings.hardly-pulls", "caution", 640 / (4 * stress_mpa(E3) * pi * 0.254**2 / 4), 4.0, within=0.1),
    # Fret 24 halves the string twice: 640 × 3/4.
    Mistake("more frets than the board holds", {"scale.frets": 24},
            "frets.beyond-board", "stop", 480.0, 468.0),
    Mistake("an outer string beside the board", {"nut.edge": 1.2},
            "strings.edge-margin", "stop", 1.2 + 0.254 / 2, 1.5),
)  # fmt: skip

HOLES = (
    # 72° off upright: 1/sin 18°.
    Mistake("a slanted hole whose mouth is a tear", {"holes[3]": {**SLANT, "lean": 72}},
            "hole.long-mouth", "caution", 1 / cos(radians(72)), 3.0),
    # White ash is hard: pilot 1.4 + 0.5 × (2.0 − 1.4) = 1.7, nearest the 1.5 mm bit; 70 − 10 under the head + 1.5 of relief
    # + a point of 0.75/tan 59°. Bits of 1.5 mm are made 70 long, 25 of it in the chuck (DIN 340, from memory).
    Mistake("a pilot longer than such bits are made",
            {"strap_buttons[1].screw": {"measured": 0.05, "thread": 2.0, "root": 1.4, "length": 70}},
            "bits.not-made-so-long", "caution", 61.5 + 0.75 / 1.6643, 45.0, features=("strap-button-1",)),
    # 2.4 + 0.5 × (3.5 − 2.4) = 2.95, and the nearest bit is 3.2.
    Mistake("no bit for the bridge screws", {"bits.twist": [2.0, 3.2], "bits.brad_point": [3.2, 3.5, 4.0, 7.0, 9.0]},
            "pilot.off-size", "caution", 3.2, 2.95),
    # 22.5 from the top (half of 44.4, to the next half) + 12.78 from the back: 1.38 + 9.4 + 2.
    Mistake("string holes that do not meet", {"string_holes.top_share": 0.5},
            "string-holes.do-not-meet", "stop", 22.5 + 12.78 - 44.4, 0.0),
    Mistake("ferrules whose lips overlap", {"ferrules.lip_diameter": 11.0, "bits.flat_bottomed": [11.0, 22.0, 24.0]},
            "ferrules.lip-web", "stop", 10.6 - 11.0, 1.0),
)  # fmt: skip

WOOD = (
    Mistake("a control cavity through the top", {"pockets[3].depth": 45.0},
            "wood.breaks-through", "stop", -0.6, 2.0),
    Mistake("a thin floor over the control cavity", {"pockets[3].depth": 41.2},
            "wood.thin-floor", "caution", 3.2, 4.0),
    # 8 − 4 of nut and washers − 0.5 to spare = 3.5 of wood; there are 44.4 − 38.5 = 5.9.
    Mistake("a control's thread too short", {"controls[1].thread_length": 8},
            "control.thread-short", "stop", 3.5 - 5.9, 0.0),
    Mistake("a control beside its cavity", {"controls[1].centre": [600, 94]},
            "control.misses-cavity", "stop", None, None),
    # The jack straight across 10 mm from the tone's shaft: 11 of the barrel and 12 of the body want 23. The barrel's axis,
    # 22.2 down, lies between the body's ends, 5.9 and 25.9 down; without the body's depth the two may pass each other. It
    # begins where the outline is nearest to [708, 150], 0.04 mm beside that.
    Mistake("a jack's barrel that runs into a control", {"jack.heading": -90, "jack.barrel_diameter": 22,
            "jack.barrel_length": 80, "controls[2].body_depth": 20},
            "control.meets-jack", "stop", 10 - 23, 0.0, within=0.05, features=("control-2", "jack")),
    Mistake("a jack's barrel that may run into a control", {"jack.heading": -90, "jack.barrel_diameter": 22,
            "jack.barrel_length": 80},
            "control.meets-jack", "caution", 10 - 23, 0.0, within=0.05, features=("control-2", "jack")),
    Mistake("a ground wire that lands under the pocket", {"ground_wire.lands": 30},
            "tunnel.misses-wall", "stop", 30.0, None),
    # The nearest places of the two pickups: 640 − 80 − 20 = 540 and 468 + 54 = 522 apart by 18; moved 19 nearer they run 1 over.
    Mistake("two pickups that run together", {"pockets[1].centre": [-117, 0], "holes[1].places": [[-141, -50], [-93, 50]]},
            "wood.run-together", "stop", None, 1.0),
)  # fmt: skip

MISTAKES = (*HEIGHTS, *PLATE, *COVERS, *NECK, *STRINGS, *HOLES, *WOOD)


def told(found: Plan, mistake: Mistake) -> Finding:
    said = [f for f in found.findings if f.code == mistake.code and f.severity == mistake.severity]
    assert said, (
        f"{mistake.code} ({mistake.severity}) not among {[(f.code, f.severity) for f in found.findings]}"
    )
    return said[0]


def test_there_are_forty() -> None:
    assert len(MISTAKES) >= 40
    assert len({mistake.name for mistake in MISTAKES}) == len(MISTAKES)


def test_the_job_they_are_planted_in_passes_clean(planned: Planned) -> None:
    assert {finding.severity for finding in planned(base=FULL).findings} <= {"note"}


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: mistake.name)
def test_a_planted_mistake_is_told(planned: Planned, mistake: Mistake) -> None:
    found = planned(mistake.changes, FULL)
    finding = told(found, mistake)
    if mistake.value is not None:
        assert finding.value == pytest.approx(mistake.value, abs=mistake.within)
    if mistake.limit is not None:
        assert finding.limit == pytest.approx(mistake.limit, abs=mistake.within)
    assert set(mistake.features) <= set(finding.features)
    assert finding.cure
    assert finding.source
    # Nothing is cut yet, so every stop keeps some step from being begun, and forbids paper.
    for stop in found.stops:
        assert any(stop in stops for stops in found.stopped.values()), stop.code
    assert found.forbidding == found.stops


@pytest.mark.parametrize("mistake", MISTAKES[::5], ids=lambda mistake: mistake.name)
def test_an_inch_shop_and_a_left_handed_one_are_told_the_same(mistake: Mistake) -> None:
    text = change({"handed": "left"}, in_inches(change(mistake.changes, FULL)))
    finding = told(plan(*parse_job(text)), mistake)
    if mistake.value is not None:
        assert finding.value == pytest.approx(mistake.value, abs=mistake.within)
    assert " mm" not in finding.message or " in" in finding.message


def test_heights_by_hand(planned: Planned) -> None:
    # No relief and every setback 0: the string is straight from 0.5 at the nut over 1.6 and 2.0 half-way, so it is at
    # 2 × 1.6 − 0.5 = 2.7 and 2 × 2.0 − 0.5 = 3.5 at the saddle, over crowns 25.2 − 16.0 + 1.1 = 10.3 over the body.
    flat: dict[str, Any] = {"setup.relief": 0, **{f"strings[{n}].setback": 0 for n in range(1, 7)}}
    layout = planned(flat, FULL).layout
    document = planned(flat, FULL).job.document
    heights = saddle_heights(document, layout.stringing)
    assert heights.shape == (6,)
    assert (heights[0], heights[-1]) == pytest.approx((13.0, 13.8))
    # One saddle for all at 12.8: the first string's 12th comes 0.1 lower, the last one's 0.5.
    assert actions_at(document, layout.stringing, 12.8)[[0, -1]].tolist() == pytest.approx([1.5, 1.5])


def test_a_set_neck_may_lie_at_an_angle(planned: Planned) -> None:
    set_neck = {"neck.joint": "set", "neck_screws": None}
    mistake = {**set_neck, "neck.pocket_depth": "14.5 +/- 0.1"}
    (finding,) = [f for f in planned(mistake, FULL).findings if f.code.startswith("heights")]
    assert (finding.code, finding.severity) == ("heights.saddle-out-of-range", "caution")


def drilled(bores: Iterable[Bore]) -> dict[str, Any]:
    """The change that records these holes as drilled."""
    done = Done(
        card="drilled",
        by="Ann",
        at=dt.datetime(2026, 11, 20, 9, 0, tzinfo=dt.UTC),
        cuts=tuple(as_cut(bore) for bore in bores),
    )
    return {"done": [done.model_dump(mode="json", exclude_none=True)]}


def test_a_plate_that_is_screwed_down_has_no_window_to_miss(planned: Planned) -> None:
    narrow = {"bridge.saddle_back": 14.4}
    bores = planned(narrow, FULL).features.family("bridge-screw")
    assert "bridge.window-narrow" not in {
        f.code for f in planned({**narrow, **drilled(bores)}, FULL).findings
    }


def test_holes_drilled_for_thinner_neck_screws_grip(planned: Planned) -> None:
    bores = planned(base=FULL).features.family("neck-screw")
    made = drilled(bores)
    assert bores[0].deepest.diameter == 4.5
    (finding,) = [
        f
        for f in planned({**made, "neck_screws.thread": 4.5}, FULL).findings
        if f.code == "neck-screws.grip-the-body"
    ]
    assert finding.severity == "stop"
    assert finding.value == pytest.approx(0.0)
    assert "neck-screws.grip-the-body" not in {f.code for f in planned(made, FULL).findings}


FOUR_STRINGS: Instrument = "four-string bass"


def test_a_bass_without_a_set_up_is_told_whose_it_gets() -> None:
    text = starter_job(name="Low", units="mm", handed="right", instrument=FOUR_STRINGS)
    stated = plan(*parse_job(text))
    silent = plan(*parse_job(change({"setup": None}, text)))
    assert "setup.not-stated" not in {f.code for f in stated.findings}
    (finding,) = [f for f in silent.findings if f.code == "setup.not-stated"]
    assert (finding.severity, finding.value) == ("caution", 3.0)


def test_a_guitar_s_usual_set_up_needs_no_word(planned: Planned) -> None:
    assert "setup.not-stated" not in {f.code for f in planned({"setup": None}, FULL).findings}


@pytest.mark.parametrize(
    ("changes", "count", "words"),
    [
        ({"neck_screws": None}, 1, ["screws of the bolted neck"]),
        ({"neck_screws": None, "neck.joint": "set"}, 0, []),
        ({"jack": None}, 1, ["the jack"]),
        ({"tunnels": []}, 1, ["the bridge-pickup cavity and the neck-pickup cavity"]),
        ({"controls": []}, 1, ["controls"]),
        ({"strap_buttons": [], "jack": None}, 2, ["strap buttons", "the jack"]),
        (
            {"neck_screws": None, "tunnels": [], "jack": None, "ground_wire": None, "controls": []},
            4,
            [
                "screws",
                "jack",
                "controls",
                "the bridge-pickup cavity, the neck-pickup cavity and the control",
            ],
        ),
    ],
    ids=["neck screws", "set neck", "jack", "wires", "controls", "edge", "much"],
)
def test_what_the_pack_does_not_cover(
    planned: Planned, changes: dict[str, Any], count: int, words: list[str]
) -> None:
    notes = [f for f in planned(changes, FULL).findings if f.code == "pack.not-covered"]
    assert [(f.severity, f.value) for f in notes] == ([("note", float(count))] if count else [])
    for each in words:
        assert each in notes[0].message


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_depth_a_cure_names_closes_the_heights(units: str) -> None:
    text = change({"neck.pocket_depth": "14.5 +/- 0.1"}, FULL)
    text = text if units == "mm" else in_inches(text)
    (finding,) = [f for f in plan(*parse_job(text)).findings if f.code.startswith("heights")]
    (way,) = finding.tries
    assert way.key == "neck.pocket_depth"
    # The saddles' middle is 12.2; the strings want 11.8 + (1.95 + 2.76)/2 with a pocket of 14.5.
    deeper = 11.8 + (min(ALL) + max(ALL)) / 2 - 12.2
    assert float(way.value.split()[0] if isinstance(way.value, str) else 0) == pytest.approx(
        (14.5 + deeper) / (1 if units == "mm" else 25.4), abs=0.006
    )
    cured = plan(*parse_job(change({"neck.pocket_depth": way.value}, text)))
    assert not [f for f in cured.findings if f.code.startswith("heights")]
