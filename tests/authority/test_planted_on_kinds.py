"""Mistakes planted one at a time in jobs with other bridges, necks and frets, each of which passes clean: each must be told.

Codes, severities and numbers are held here, no wording. Where a number follows from a few lengths of the job it is worked out
by hand beside its case; else that it is told at all, and on the wrong side of its limit. Limits are common practice with no
source unless a case names one.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import radians, tan

import pytest

from scribeline.findings import Severity
from scribeline.job import Stated, parse_job
from scribeline.plan import Plan, plan

from ..kind_jobs import restated
from ..pack_jobs import EVERY_JOB


@dataclass(frozen=True)
class Planted:
    """One edit of a clean job, and what must be told of it."""

    job: str
    changes: dict[str, Stated]
    code: str
    severity: Severity
    value: float | None = None
    within: float = 0.006


POSTS, STUDS, SINGLES, HEADLESS = "posts-and-tailpiece", "two-studs", "single-saddles", "headless"
VIBRATO, SCREWS, FANNED = "vibrato-two-posts", "vibrato-six-screws", "fanned"
CORE = "neck-through"

MISTAKES = {
    # Heights: the saddles of the first reach 15 to 22 mm over the body; its neck leans back 3°.
    "a neck that leans forward sinks the strings": Planted(
        POSTS, {"neck__angle": -1.0}, "heights.saddle-out-of-range", "stop"
    ),
    "a level neck where one that leans was meant": Planted(
        POSTS, {"neck__angle": 0.0}, "heights.saddle-out-of-range", "stop"
    ),
    "a neck that leans twice as far": Planted(
        POSTS, {"neck__angle": 6.0}, "heights.saddle-out-of-range", "stop"
    ),
    # Its board of 6.0 mm ends behind the end wall and sinks with the angle; heel 28.6, pocket 22.1: the board lies 0.5 over.
    "a fingerboard that sinks into the top": Planted(
        POSTS, {"neck__pocket_depth": "23 +/- 0.1", "neck__angle": 3.5}, "board.below-top", "stop"
    ),
    "a body that ends before the tailpiece": Planted(
        POSTS, {"body__outline__tail": 690.0}, "wood.near-edge", "stop"
    ),
    # Bushings of 44 mm are bored 2.5 mm deeper: 46.5 in 44.2 of wood.
    "bushings longer than the body is thick": Planted(
        STUDS, {"bridge__bushing_length": 44.0}, "wood.breaks-through", "stop", 44.2 - 46.5
    ),
    "a pickup under the studs": Planted(STUDS, {"pockets[1].centre": [-18, 0]}, "wood.run-together", "stop"),
    # The travel of 8 mm less twice the 1 mm kept does not take in strings 9 mm apart.
    "compensations too far apart for one bridge": Planted(
        STUDS, {"strings[1].setback": 0.0, "strings[4].setback": 13.0}, "bridge.window-empty", "stop"
    ),
    # 9.8 mm wide bases at strings 9.0 apart: turned to their strings they overlap a little more than 0.8.
    "single saddles wider than their strings are apart": Planted(
        SINGLES, {"bridge__spacing": 9.0}, "singles.bases-meet", "stop", -0.8, 0.05
    ),
    "saddles that stop short of where they are wanted": Planted(
        SINGLES, {"bridge__saddle_back": 9.5}, "bridge.window-empty", "stop"
    ),
    # The strings want 12.66 to 13.47 mm; saddles up to 12.0 leave the last 1.4 short.
    "single saddles too low for the neck": Planted(
        SINGLES, {"bridge__saddle_highest": 12.0}, "heights.saddle-out-of-range", "stop"
    ),
    # An axis 2.0 over the top puts the underside of a knob 9.8 wide 2.9 into the wood.
    "units whose knobs run into the body": Planted(
        HEADLESS, {"bridge__knob_height": 2.0}, "knobs.meet-wood", "stop", 2.0 - 4.9
    ),
    "a block deeper than its body": Planted(
        VIBRATO, {"bridge__block_length": 60.0}, "vibrato.block-at-cover", "stop"
    ),
    "a body too thin for the springs": Planted(
        VIBRATO,
        {"body__thickness": "36 +/- 0.1"},
        "vibrato.springs-tight",
        "stop",
        # The springs' line lies 35 mm below the top; the cover lies 1.6 mm in the back.
        36 - 1.6 - 35,
    ),
    "a cavity with no room for the springs": Planted(
        VIBRATO, {"pockets[2].depth": 12.0}, "vibrato.springs-tight", "caution", 12.0 - 44.2 + 35.0
    ),
    "springs too weak": Planted(VIBRATO, {"bridge__spring_rate": 1.0}, "vibrato.claw-room", "stop"),
    "claw screws through the wall into a pickup": Planted(
        VIBRATO,
        {
            "pockets[4].depth": 38.0,
            "pockets[4].centre[1]": 38.0,
            "bridge__claw_tilt": 0,
            "bridge__claw_screw__length": 35.0,
        },
        "vibrato.claw-through",
        "stop",
    ),
    "a slot that stops short of the springs": Planted(
        SCREWS, {"pockets[1].depth": 10.0}, "vibrato.block-close", "stop"
    ),
    "a plate without room to dive": Planted(
        SCREWS, {"bridge__underside": 0.0}, "vibrato.plate-touches", "stop"
    ),
    "a block half as far from its pivot again": Planted(
        SCREWS, {"bridge__block_front": 20.0}, "vibrato.block-close", "stop"
    ),
    # 34 mm of fan over 22 frets: fret 22 of 760 mm moves 13 mm past the board's end, 478 mm from the nut.
    "a fan whose frets run off the board": Planted(
        FANNED, {"scale__bass_length": 760.0}, "frets.beyond-board", "stop"
    ),
    # Slots 3.52 mm and more deep leave 0.7 of 4.6.
    "slots that go through the board": Planted(
        FANNED,
        {
            "neck__board_thickness": 4.6,
            "fingerboard__blank_thickness": 4.6,
            "fingerboard__radius_at_end": 305,
        },
        "board.slots-deep",
        "stop",
    ),
    # Underside 3 below the board, crowns 1.1, strings 0.5 over them; the fifth string, 5.64 mm from the middle of an arch of
    # 304.6 mm, lies 0.052 lower and 0.457 in its slot: a finished top of 5.005, of which a blank of 4 lacks 1.005.
    "a nut blank lower than its slots' tops": Planted(
        FANNED, {"nut__blank_height": 4.0}, "nut.blank-low", "stop", 4.0 - 5.005
    ),
    # Edges at 24.649 and 24.353 from the centreline, 49.002/cos 16.87° = 51.206 along the front, and 6 tan 16.87° = 1.820 of
    # mitre.
    "a nut blank shorter than its slant": Planted(
        FANNED, {"nut__blank_length": 52.0}, "nut.blank-short", "stop", 52.0 - 51.206 - 1.820
    ),
    # Strings of .210 in together, 5.334 mm, between edges of 8 on 26: gaps of (26 − 16 − 5.334)/6 = 0.778, less 0.08.
    "strings so near that the nut breaks between them": Planted(
        FANNED, {"nut__width": 26.0, "nut__edge": 8.0}, "nut.wall-thin", "stop", 0.778 - 0.08
    ),
    "an outer slot at the nut's very end": Planted(FANNED, {"nut__edge": 1.0}, "nut.end-thin", "stop"),
    # On the board, on its frets: 1.1 high, 0.726 lower at the outer string by the arch. Its string breaks by 12° − atan(2.4/46)
    # = 9.01°, and half of that over 6.27 along the string is 0.494 at the back.
    "a nut filed through at its back": Planted(
        FANNED,
        {"nut__seat": 0.0, "nut__height_over_frets": 0.0},
        "nut.floor-thin",
        "stop",
        1.1 - 0.726 - 0.494,
    ),
    "slots in which the strings rattle": Planted(
        FANNED, {"nut__over_wound": 0.3}, "nut.slot-loose", "caution", 0.3
    ),
    "slots that grip their strings": Planted(
        FANNED, {"nut__over_plain": 0.0}, "nut.slot-tight", "caution", 0.0
    ),
    # 0.05 below the crown at 4 mm behind it: atan(0.05/4) = 0.716°.
    "a guide that leaves the strings on the zero fret": Planted(
        FANNED,
        {"nut__zero_fret": True, "nut__height_over_frets": 0.0, "nut__below_zero_fret": 0.05},
        "nut.guide-flat",
        "stop",
        0.716,
    ),
    "strings that lie on the first fret": Planted(
        FANNED,
        {
            "nut__height_over_frets": 0.0,
            "setup__relief": 0.0,
            "setup__action_treble": 0.6,
            "setup__action_bass": 0.6,
        },
        "nut.string-low",
        "caution",
    ),
    # A tang of 0.54 in a kerf of 0.45.
    "slots sawn with a blade that is too thin": Planted(
        FANNED,
        {"fret_wire__slot": 0.45, "fret_wire__tang_width": 0.54},
        "board.tang-wedges",
        "stop",
        0.45 - 0.54,
    ),
    "slots sawn with a blade that is too thick": Planted(
        FANNED,
        {"fret_wire__slot": 0.7, "fret_wire__tang_width": 0.54},
        "board.tang-loose",
        "caution",
        0.7 - 0.54,
    ),
    "a fan under one bridge in a piece": Planted(
        STUDS,
        {"scale__bass_length": 668.0, "scale__square_fret": 7},
        "bridge.window-empty",
        "stop",
    ),
    # A floor that leans 3° lies 73 tan 3° = 3.83 mm deeper at the mouth than the 39 mm at the end wall, in 44.2 of wood.
    "a leaning pocket that all but comes through at its mouth": Planted(
        STUDS,
        {"neck__pocket_depth": "39 +/- 0.1", "neck__heel_thickness": "50 +/- 0.1", "neck__angle": 3.0},
        "wood.thin-floor",
        "stop",
        44.2 - 39 - 73 * tan(radians(3.0)),
    ),
    # The strings of the core want 10.8 to 11.6 mm of saddles that reach 9 to 14; its saddles lie 174 mm behind the board's end.
    "a core planed to lean five times as far": Planted(
        CORE, {"neck__angle": 2.5}, "heights.saddle-out-of-range", "stop"
    ),
    "a core planed to lean forward": Planted(
        CORE, {"neck__angle": -1.0}, "heights.saddle-out-of-range", "stop"
    ),
    "a board that stands far over the top": Planted(
        CORE, {"neck__board_over_body": "8 +/- 0.1"}, "heights.saddle-out-of-range", "stop"
    ),
    "a board glued on twice as thick": Planted(
        CORE, {"neck__board_thickness": "12.4 +/- 0.1"}, "heights.saddle-out-of-range", "stop"
    ),
    "saddles too high for a board on the level of the top": Planted(
        CORE, {"bridge__saddle_lowest": 12.0}, "heights.saddle-out-of-range", "stop"
    ),
    # The board is 56.6 wide at its end.
    "a level core narrower than its board": Planted(
        CORE,
        {"neck__core_width": "52 +/- 0.1", "neck__angle": 0.0},
        "core.narrower-than-board",
        "caution",
        56.6 - 52,
    ),
    # From the board's end to the body's edge are 63 mm.
    "a board let down between the wings and wider than its core": Planted(
        CORE,
        {"neck__core_width": "52 +/- 0.1"},
        "core.board-meets-wings",
        "stop",
        -63 * tan(radians(0.5)),
    ),
    "a truss rod's channel into the neck pickup": Planted(
        CORE, {"neck__rod_to": 480.0}, "core.cavity-into-rod", "stop", 0.0
    ),
    # The neck pickup's cavity begins at 472.
    "a truss rod's channel that ends at the neck pickup": Planted(
        CORE, {"neck__rod_to": 470.5}, "core.cavity-near-rod", "caution", 1.5
    ),
    "a ring's screw in the glue of a wing": Planted(
        CORE,
        {"holes[2].places": [[468, -40], [468, 35], [516, -40], [516, 40]]},
        "core.hole-on-glue-line",
        "caution",
    ),
    "saddles spread to the edge of their core": Planted(
        CORE, {"bridge__spacing": 12.7}, "core.hole-near-glue-line", "caution"
    ),
}


@cache
def clean(name: str) -> Plan:
    return plan(*parse_job(EVERY_JOB[name]))


@pytest.mark.parametrize("name", MISTAKES)
def test_a_planted_mistake_is_told(name: str) -> None:
    mistake = MISTAKES[name]
    assert mistake.code not in {
        each.code for each in clean(mistake.job).findings if each.severity == mistake.severity
    }
    told = [
        each
        for each in plan(*parse_job(restated(EVERY_JOB[mistake.job], mistake.changes))).findings
        if each.code == mistake.code
    ]
    assert mistake.severity in {each.severity for each in told}
    assert all(each.value is not None for each in told)
    if mistake.value is not None:
        nearest = min(
            (each.value or 0.0 for each in told), key=lambda value: abs(value - (mistake.value or 0.0))
        )
        assert nearest == pytest.approx(mistake.value, abs=mistake.within)
