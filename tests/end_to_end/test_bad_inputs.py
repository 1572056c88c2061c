"""Bad inputs: each gives exit code 1 or 2, a sentence a builder can act on, and nothing written."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from ezdxf.filemanagement import new

from scribeline.cli import main
from scribeline.scenario import demo_jobs

from ..conftest import DEMO, FULL, SHIPPED, Edit, in_inches
from ..pack_jobs import PACK_JOBS

FANNED = PACK_JOBS["fanned"]
CROSSING_SVG = """<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="400mm" viewBox="0 0 400 400">
<path d="M 50 50 L 350 350 L 350 50 L 50 350 Z"/></svg>
"""
FROM_FILE = {"along": "+x", "centre": 200, "tail": 752}


def crossing_dxf(path: Path) -> None:
    drawing = new(units=4)  # millimetres
    points = [(50, 50), (350, 350), (350, 50), (50, 350)]
    drawing.modelspace().add_lwpolyline(points, close=True)
    drawing.saveas(path)


@dataclass(frozen=True)
class Bad:
    """A job with one mistake in it: what is changed, the exit code, and what must be said."""

    changes: dict[str, Any]
    code: int
    parts: tuple[str, ...]
    base: str = DEMO
    files: dict[str, str] = field(default_factory=dict)


ROUTED: dict[str, Any] = {
    "id": "bridge-pickup",
    "role": "bridge pickup",
    "face": "top",
    "outline": [[580, -30], [620, -30], [620, 30], [580, 30]],
    "depth": 20.5,
}
ROUND_TWICE = [[580, -30], [620, -30], [620, 30], [580, 30], [581, -29], [619, -28], [618, 29], [582, 28]]
CROSSED = [[580, -30], [620, 30], [620, -30], [580, 30]]
BORED: dict[str, Any] = {
    "id": "ground-wire",
    "role": "ground-wire hole",
    "face": "top",
    "at": [642, 5, 0],
    "axis": [-0.6, 0, -0.8],
    "steps": [
        {"no": 1, "diameter": 4, "depth": 28, "bit": {"kind": "brad-point", "diameter": 5e-324, "point": 1.2}}
    ],
}


def recorded(card: str, **cut: Any) -> list[dict[str, Any]]:
    """A step on the record with one cut."""
    return [{"card": card, "by": "Ann", "at": "2026-01-31T10:15:00Z", "cuts": [cut]}]


BAD = {
    "missing key": Bad({"body.thickness": None}, 2, ("body.thickness", "is missing", "body's thickness")),
    "wrong unit": Bad(
        {"scale.length": 25.5}, 2, ("scale.length", "25.50 mm", "400 and 1000 mm", "inches", '"25.5 in"')
    ),
    "wrong in an inch job": Bad(
        {"scale.length": 3},
        2,
        ("reads as 3.000 in (76.20 mm)", "between 15.75 and 39.37 in (400 and 1000 mm)"),  # by 25.4, by hand
        base=in_inches(DEMO),
    ),
    "negative thickness": Bad({"body.thickness": -44.4}, 2, ("body.thickness", "-44.4", "20 and 80 mm")),
    "crossing outline, SVG": Bad(
        {"body.outline": {"file": "body.svg", **FROM_FILE}},
        2,
        ("body.outline", "cross", "200"),
        files={"body.svg": CROSSING_SVG},
    ),
    "crossing outline, DXF": Bad(
        {"body.outline": {"file": "body.dxf", **FROM_FILE}}, 2, ("body.outline", "cross", "200")
    ),
    "hole outside the body": Bad(
        {"pockets[3].outline": [[700, 150], [760, 150], [760, 220], [700, 220]]},
        1,
        ("control cavity", "outside the body by", "positions are from the nut"),
    ),
    "body thinner than the bores": Bad(
        {},
        1,
        ("control cavity", "0.30 mm", "38.50 mm", "38.20 mm thick", "34.20 mm"),
        base=demo_jobs()["marram-too-thin.toml"],
    ),
    "bores that come out": Bad(
        {"body.thickness": "24 +/- 0.1", "pockets": [], "ground_wire": None},
        1,
        ("bridge screw pilot 1", "other face", "24.00 mm thick", "screws of 20.89 mm or shorter"),
    ),
    "ferrule lips that overlap": Bad(
        {"bridge.spacing": 10.5, "ferrules.lip_diameter": 11.0, "bits.flat_bottomed": [11]},
        1,
        ("ferrule lips overlap by 0.50 mm", "spacing 10.50", "lip 11.00", "9.50 mm or less", "block"),
    ),
    "empty saddle window": Bad(
        {"bridge.saddle_back": 13.2},
        1,
        (
            "travel 4.00 mm",
            "need 4.80 mm",
            "short by 0.80 mm",
            "String 1 (E4)",
            "string 6 (E2)",
            "4.80 mm of saddle travel",
        ),
    ),
    "unknown timber": Bad({"body.timber": "mapel-sugar"}, 2, ("body.timber", "mapel-sugar", "sugar maple")),
    "unreadable DXF": Bad(
        {"body.outline": {"file": "body.dxf", **FROM_FILE}},
        2,
        ("body.outline", "body.dxf"),
        files={"body.dxf": "this was never a drawing\n"},
    ),
    "pocket deeper than the stock": Bad(
        {"pockets[1].depth": 60},
        1,
        (
            "bridge-pickup cavity comes out of the other face by 15.60 mm",
            "60.00 mm",
            "pockets[1].depth to 40.40 mm or less",
        ),
    ),
    "hole deeper than the stock": Bad(
        {"holes": [{"name": "odd", "at": [560, -100], "diameter": 5, "depth": 60}]},
        1,
        ("odd 1 comes out of the other face", "44.40 mm thick", "41.40 mm deep at most"),
    ),
    "hole that never enters wood": Bad(
        {"holes": [{"name": "odd", "at": [560, -300], "diameter": 5, "depth": 10}]},
        1,
        ("odd 1 lies outside the body by", "positions are from the nut"),
    ),
    "hole all in a pocket's air": Bad(
        {"holes": [{"name": "odd", "at": [598, 5], "diameter": 5, "depth": 10}]},
        1,
        ("odd 1 takes no wood away", "inside the bridge-pickup cavity", "leave it out"),
    ),
    "pocket in a pocket's air": Bad(
        {
            "pockets[4]": {
                "name": "odd",
                "depth": 10,
                "corner_radius": 4,
                "x_from": "scale line",
                "centre": [-42, 0],
                "size": [20, 20],
                "opens_into": ["bridge pickup"],
            }
        },
        1,
        ("odd cavity takes no wood away", "inside the bridge-pickup cavity", "must be the deeper"),
    ),
    "self-crossing pocket": Bad(
        {"pockets[3].outline": [[612, 72], [716, 104], [716, 72], [612, 104]]},
        2,
        ("pockets[3]", "crosses or touches itself at (664.00, 88.00) mm", "each once"),
    ),
    "self-crossing island": Bad(
        {"pockets[3].islands": [[[640, 84], [670, 94], [670, 84], [640, 94]]]},
        2,
        ("pockets[3]", "islands[1] crosses or touches itself at (655.00, 89.00) mm"),
    ),
    "island outside its pocket": Bad(
        {"pockets[3].islands": [[[500, 84], [510, 84], [510, 94]]]},
        2,
        ("pockets[3]", "islands[1] lies outside its cavity", "x_from"),
    ),
    "island across its pocket's edge": Bad(
        {"pockets[3].islands": [[[600, 84], [650, 84], [650, 94]]]},
        2,
        ("lies across the edge of its cavity",),
    ),
    "islands that run into each other": Bad(
        {"pockets[3].islands": [[[640, 84], [660, 84], [660, 94]], [[650, 80], [670, 80], [655, 92]]]},
        2,
        ("islands[2] and islands[1] run into each other",),
    ),
    "bit that does not pass round an island": Bad(
        {"pockets[3].islands": [[[640, 76], [690, 74], [688, 104], [642, 104]]]},
        1,
        ("16 mm", "does not pass everywhere in the control cavity, between its islands and its walls"),
    ),
    "slot shorter than wide": Bad(
        {
            "pockets[4]": {
                "name": "odd",
                "depth": 10,
                "slot": {"ends": [[560, -100], [565, -100]], "width": 8},
            }
        },
        2,
        ("pockets[4].slot", "5.00 mm apart", "8 mm"),
    ),
    "ledge deeper than its pocket": Bad(
        {"pockets[3].depth": 4, "pockets[3].ledge": {"width": 8, "depth": 5}}, 2, ("(ledge) is 5 mm deep",)
    ),
    "hole of no form": Bad(
        {"holes": [{"name": "odd", "at": [560, -100]}]}, 2, ("holes[1]", "either diameter")
    ),
    "steps the wrong way round": Bad(
        {
            "holes": [
                {
                    "name": "odd",
                    "at": [560, -100],
                    "steps": [{"diameter": 5, "depth": 20}, {"diameter": 9, "depth": 3}],
                }
            ]
        },
        2,
        ("steps[2] must be narrower and deeper",),
    ),
    "control over no cavity": Bad(
        {"controls[1].centre": [560, -100]},
        1,
        ("hole for the volume does not come out wholly in the control cavity",),
        base=FULL,
    ),
    "control into a pocket from the top": Bad(
        {"controls[1].into": "bridge pickup"}, 2, ("controls[1].into", "cut from the top"), base=FULL
    ),
    "neck screws through the fingerboard": Bad(
        {"neck_screws.length": 52},
        1,
        ("past the fingerboard", "screws from 42.40 to 46.40 mm fit"),
        base=FULL,
    ),
    "neck screws that do not reach the heel": Bad(
        {"body.thickness": "62 +/- 0.1"}, 1, ("none of their thread is in the wood",), base=FULL
    ),
    "screws of a glued neck": Bad(
        {"neck.joint": "set"}, 2, ("neck_screws", "a set neck has no screws"), base=FULL
    ),
    "a plain first gauge on the last string": Bad(
        {"strings[6].gauge": ".009", "tunnels": None},
        1,
        ("string 6 (E2 .009 plain)", "no place for the plate", "travel 8.40 mm"),
        base=SHIPPED,
    ),
    "gauges typed in reverse": Bad(
        {"tunnels": None}
        | {
            f"strings[{n}].gauge": f".{g}"
            for n, g in enumerate(("046", "036", "026", "017", "013", "010"), start=1)
        },
        1,
        ("string 1 (E4 .046 round-wound) breaks", "string 6 (E2 .010 plain)", "no place for the plate"),
        base=SHIPPED,
    ),
    "tail edge typed 200 mm short": Bad(
        {"body.outline.tail": 552},
        1,
        ('no way to drill the wire hole "neck pickup lead"', "control cavity lies outside the body"),
        base=FULL,
    ),
    "jack screws in the jack's bore": Bad(
        {
            "tunnels": None,
            "jack.screws": [[0, 12.5], [0, -12.5]],
            "jack.screw": {"measured": 0.1, "thread": 2.9, "root": 2.0, "length": 12},
        },
        1,
        ("jack plate screw 2 comes into the jack hole by 10.50 mm",),  # 12 - 1.5 of plate
        base=FULL,
    ),
    # Expected lengths below are reckoned by hand from the figures beside them.
    "counterbore deeper than the body": Bad(
        {
            "holes": [
                {
                    "name": "odd",
                    "at": [560, -100],
                    "through": True,
                    "steps": [{"diameter": 12, "depth": 50}, {"diameter": 5}],
                }
            ]
        },
        1,
        ("the counterbore of odd 1 comes out of the other side by 5.60 mm",),  # 50 - 44.4
    ),
    "countersink deeper than the body": Bad(
        {
            "holes": [
                {
                    "name": "odd",
                    "at": [560, -100],
                    "through": True,
                    "diameter": 5,
                    "countersink": {"diameter": 40, "angle": 40},
                }
            ]
        },
        1,
        ("the countersink of odd 1 comes out of the other side by 10.55 mm",),  # 20 / tan 20° - 44.4
    ),
    "countersink narrower than its screw": Bad(
        {
            "holes": [
                {
                    "name": "odd",
                    "at": [560, -100],
                    "screw": {"thread": 3.5, "root": 2.4, "length": 20},
                    "countersink": {"diameter": 1.8},
                }
            ]
        },
        2,
        ("holes[1]", "a countersink of 1.8 mm is not wider than the screw's thread, 3.5 mm"),
    ),
    "bevel deeper than the body": Bad(
        {"body.bevels": [{"name": "arm", "face": "top", "line": [[560, -60], [740, -60]], "depth": 70}]},
        1,
        ("the arm bevel goes through the body, 25.60 mm beyond its other face", "carve 29.60 mm less"),
    ),
    "hole where a bevel took all the wood": Bad(
        {
            "body.bevels": [{"name": "arm", "face": "top", "line": [[560, -60], [740, -60]], "depth": 70}],
            "holes": [{"name": "odd", "at": [660, -140], "diameter": 8, "through": True}],
        },
        1,
        ("the arm bevel goes through the body",),
    ),
    "area of the top lower than the back": Bad(
        {
            "body.thickness": "30 +/- 0.1",
            "body.top": {
                "kind": "stepped",
                "areas": [{"name": "pan", "outline": [[660, -60], [700, -60], [700, -20]], "height": -29}],
            },
        },
        1,
        ("the top's pan leaves only 1.00 mm of wood to the other face",),
    ),
    "neck wider than the wood beside it": Bad(
        {"neck.heel_width_at_end": "100 +/- 0.05", "neck.heel_width_at_mouth": "100 +/- 0.05"},
        1,
        ("no wood stands on the treble side of the neck pocket",),
    ),
    "cover screw far from a cover without a recess": Bad(
        {
            "pockets[3].ledge": None,
            "pockets[3].cover_screws.cover_thickness": 2,
            "pockets[3].cover_screws.places[1]": [612, -90],
        },
        1,
        # Straight across from the cavity's corner at (612, 72); the corner is rounded, so a little more than 162.
        ("control cavity cover screw 1 stands 16", "from its cavity, further than a cover reaches"),
        base=FULL,
    ),
    "cover screw far from its recess": Bad(
        {"pockets[3].cover_screws.places[1]": [612, -90]},
        1,
        ("control cavity cover screw 1 stands outside the cover's recess",),
        base=FULL,
    ),
    "cut recorded with an outline that crosses itself": Bad(
        {"done": recorded("rout-bridge-pickup", **{**ROUTED, "outline": CROSSED})},
        2,
        ("done[1].cuts[1]", "an outline that was cut crosses or touches itself at (600.00, 0.00) mm"),
    ),
    "cut recorded with an outline that goes round twice": Bad(
        {"done": recorded("rout-bridge-pickup", **{**ROUTED, "outline": ROUND_TWICE})},
        2,
        ("done[1].cuts[1]", "an outline that was cut"),
    ),
    "cavity recorded that took nothing away": Bad(
        {"done": recorded("rout-bridge-pickup", **{**ROUTED, "depth": 0})},
        2,
        ("done[1].cuts[1]", "depth 0", "leave the cut out if it has not"),
    ),
    "hole recorded with a bit of no width": Bad(
        {"done": recorded("drill-ground-wire", **BORED)},
        2,
        ("done[1].cuts[1].steps[1].bit.diameter", "0.1"),
    ),
    "a zero fret under strings that do not lie on it": Bad(
        {"nut.zero_fret": True},
        2,
        ("nut", "with a zero fret the strings lie on it", "0.3 mm at most"),
        base=FANNED,
    ),
    "a zero fret that is compensated": Bad(
        {"nut.zero_fret": True, "nut.height_over_frets": 0, "nut.compensation": [0.1] * 7},
        2,
        ("a zero fret is straight", "leave compensation or zero_fret out"),
        base=FANNED,
    ),
    "compensation at the nut for other strings": Bad(
        {"nut.compensation": [0.2, 0.3, 0.5]}, 2, ("nut.compensation", "3 lengths for 7 strings"), base=FANNED
    ),
    "a nut's seat without its thickness": Bad(
        {"nut.seat": 3}, 2, ("nut", "seat is of a nut that is made here", "state its thickness too")
    ),
    "a nut as thick as a block": Bad(
        {"nut.thickness": 60}, 2, ("nut.thickness", "60.00 mm", "2 and 15 mm"), base=FANNED
    ),
    "strings wholly over the nut": Bad({"nut.proud": 1.5}, 2, ("nut.proud", "0.9"), base=FANNED),
    "a nut blank that is too low": Bad(
        {"nut.blank_height": 4},
        1,
        ("nut blank 4.00 mm high", "1.00 mm below", "nut.blank_height"),
        base=FANNED,
    ),
    "two ways to place the frets": Bad(
        {"scale.divisions": 19, "scale.temperament_cents": [100.0 * n for n in range(1, 23)]},
        2,
        ("both say where the frets go", "leave one out"),
        base=FANNED,
    ),
    "an octave beyond the last fret": Bad(
        {"scale.divisions": 31},
        2,
        ("with 31 divisions the octave lies at fret 31", "the board has 22"),
        base=FANNED,
    ),
    "a part fret in two pieces": Bad(
        {"fingerboard.part_frets": [{"fret": 20, "strings": [1, 3]}]},
        2,
        ("part_frets", "a part fret is one piece"),
        base=FANNED,
    ),
    "a part fret under strings that are not there": Bad(
        {"fingerboard.part_frets": [{"fret": 20, "strings": [7, 8]}]},
        2,
        ("part_frets", "there is no string 8", "1 to 7"),
        base=FANNED,
    ),
    "the 12th fret left out": Bad(
        {"fingerboard.frets_left_out": [12]},
        2,
        ("fingerboard.frets_left_out", "fret 12 cannot be left out", "measured by the 12th"),
        base=FANNED,
    ),
    "a binding on a bought board": Bad(
        {"fingerboard.binding": 1.5}, 2, ("binding is of a board that is made here", "blank_thickness")
    ),
    "a tang wider than any": Bad(
        {"fret_wire.tang_width": "2 mm"}, 2, ("fret_wire.tang_width", "2.00 mm", "0.3 and 1 mm"), base=FANNED
    ),
    "slots that wedge the board": Bad(
        {"fret_wire.slot": 0.45, "fret_wire.tang_width": 0.54},
        1,
        ("0.09 mm narrower than its tang", "bow the neck back", "fret_wire.slot"),
        base=FANNED,
    ),
    "no such outline file": Bad(
        {"body.outline": {"file": "elsewhere.dxf", **FROM_FILE}}, 2, ("body.outline", "elsewhere.dxf")
    ),
}


@pytest.fixture(params=BAD)
def bad(request: pytest.FixtureRequest, tmp_path: Path, edited: Edit) -> tuple[Bad, Path]:
    case = BAD[request.param]
    path = tmp_path / "job.toml"
    path.write_text(edited(case.changes, case.base), encoding="utf-8")
    if request.param == "crossing outline, DXF":
        crossing_dxf(tmp_path / "body.dxf")
    for name, content in case.files.items():
        (tmp_path / name).write_text(content, encoding="utf-8")
    return case, path


def flat(text: str) -> str:
    """The words without the terminal's line breaks."""
    return " ".join(text.split())


@pytest.mark.parametrize("command", ["check", "plan", "print"])
def test_bad_input(
    bad: tuple[Bad, Path], command: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    case, path = bad
    before = {p: p.read_bytes() for p in tmp_path.rglob("*")}
    out = ["-o", str(tmp_path / "out")] if command == "print" else []
    assert main([command, str(path), *out]) == case.code
    captured = capsys.readouterr()
    said = flat(captured.out + captured.err)
    assert "Traceback" not in said
    for part in case.parts:
        assert part in said, f"{part!r} is not in: {said}"
    assert {p: p.read_bytes() for p in tmp_path.rglob("*")} == before


def test_a_failed_plan_leaves_an_older_record_alone(tmp_path: Path, edited: Edit) -> None:
    record, path = tmp_path / "plan.json", tmp_path / "job.toml"
    record.write_text("older", encoding="utf-8")
    path.write_text(edited({"nut.width": None}), encoding="utf-8")
    assert main(["plan", str(path), "-o", str(record)]) == 2
    assert record.read_text(encoding="utf-8") == "older"


def test_many_faults_are_all_told_and_numbered_by_line(
    tmp_path: Path, edited: Edit, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "job.toml"
    path.write_text(
        edited({"nut.width": "wide", "bridge.spacing": -3, "body.timber": "jelly"}), encoding="utf-8"
    )
    assert main(["check", str(path)]) == 2
    captured = capsys.readouterr()
    said = flat(captured.out + captured.err)
    for part in ("nut.width (line", "bridge.spacing (line", "body.timber (line", "3 "):
        assert part in said
