"""Ten bad inputs: each gives exit code 1 or 2, a sentence a builder can act on, and nothing written."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from ezdxf.filemanagement import new

from scribeline.cli import main
from scribeline.scenario import demo_jobs

from ..conftest import DEMO, Edit

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


BAD = {
    "missing key": Bad({"body.thickness": None}, 2, ("body.thickness", "is missing", "body's thickness")),
    "wrong unit": Bad(
        {"scale.length": 25.5}, 2, ("scale.length", "25.50 mm", "400 and 1000 mm", "inches", '"25.5 in"')
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
    "unknown timber": Bad({"body.timber": "mapel-sugar"}, 2, ("body.timber", "mapel-sugar", "maple-sugar")),
    "unreadable DXF": Bad(
        {"body.outline": {"file": "body.dxf", **FROM_FILE}},
        2,
        ("body.outline", "body.dxf"),
        files={"body.dxf": "this was never a drawing\n"},
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
