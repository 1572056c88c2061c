"""The commands as a person or another program runs them: exit codes, what they write, and that they write nothing else."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable
from itertools import pairwise
from math import sqrt
from pathlib import Path
from typing import Any

import pytest

from scribeline.cli import main
from scribeline.job import parse_job, shelf_names
from scribeline.plan import plan
from scribeline.plan.record import as_json
from scribeline.scenario import demo_jobs

from ..conftest import DEMO, SHIPPED, Edit, in_inches

THIN = demo_jobs()["marram-too-thin.toml"]


@pytest.fixture
def thin_file(tmp_path: Path) -> Path:
    path = tmp_path / "thin.toml"
    path.write_text(THIN, encoding="utf-8")
    return path


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.rglob("*")}


class TestCheck:
    def test_a_sound_job(self, demo_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["check", str(demo_file)]) == 0
        said = capsys.readouterr()
        assert "no DO NOT CUT" in said.out
        assert "Nothing stops the work" in said.out
        assert said.err == ""

    def test_an_inch_job_is_told_in_inches(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        path = tmp_path / "thin.toml"
        path.write_text(in_inches(THIN), encoding="utf-8")
        assert main(["check", str(path)]) == 1
        said = " ".join(capsys.readouterr().out.split())
        # The body of 38.2 mm and the cavity's floor at 38.5 mm, by hand: 1.504 and 1.516 in, 0.012 in apart.
        assert (
            "by 0.012 in (0.30 mm): it reaches 1.516 in (38.50 mm) and the body is 1.504 in (38.20 mm) thick"
            in said
        )
        # A limit's inches are rounded to its safe side: 34.20 mm is 1.3465 in.
        assert "set pockets[3].depth to 1.346 in (34.20 mm) or less" in said
        assert not [found for found in re.findall(r"(.{12})\b\d[\d.]* mm\b", said) if " in " not in found]

    def test_a_stop(self, thin_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["check", str(thin_file)]) == 1
        said = capsys.readouterr().out
        assert "1 DO NOT CUT" in said
        assert "DO NOT CUT" in said
        assert "Fix:" in said
        assert "Nothing stops" not in said

    def test_json(self, thin_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["check", str(thin_file), "--json"]) == 1
        told = json.loads(capsys.readouterr().out)
        assert told["job"] == "Marram"
        stops = [finding for finding in told["findings"] if finding["severity"] == "stop"]
        assert [stop["code"] for stop in stops] == ["wood.breaks-through"]
        assert set(stops[0]) >= {
            "code",
            "severity",
            "features",
            "value",
            "limit",
            "message",
            "cure",
            "source",
        }

    def test_faults_as_json(self, tmp_path: Path, capsys: pytest.CaptureFixture[str], edited: Edit) -> None:
        path = tmp_path / "bad.toml"
        path.write_text(edited({"nut.width": None}), encoding="utf-8")
        assert main(["check", str(path), "--json"]) == 2
        (fault,) = json.loads(capsys.readouterr().out)["faults"]
        assert fault["path"] == "nut.width"
        assert "is missing" in fault["message"]
        assert fault["line"] is not None

    @pytest.mark.parametrize(
        "arguments",
        [
            ["check", "no-such-file.toml"],
            ["check", "."],
            ["check"],
            ["chekc", "x.toml"],
            ["check", "a.toml", "--jsn"],
            ["plan", "no-such-file.toml", "--json"],
            ["explain", "no-such-file.toml", "S1"],
            ["parts", "gold"],
        ],
    )
    def test_unusable(self, arguments: list[str], capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
        before = names(tmp_path)
        assert main(arguments) == 2
        said = capsys.readouterr()
        text = said.err + said.out
        assert text.strip()
        assert "Traceback" not in text
        assert names(tmp_path) == before

    def test_a_misspelt_file_says_how_to_start_one(self, capsys: pytest.CaptureFixture[str]) -> None:
        main(["check", "no-such-file.toml"])
        said = capsys.readouterr()
        assert "scribeline new no-such-file.toml" in " ".join((said.err + said.out).split())


class TestNew:
    @pytest.mark.parametrize("units", ["mm", "in"])
    @pytest.mark.parametrize("hand", ["right", "left"])
    def test_checks_without_a_stop(
        self, tmp_path: Path, units: str, hand: str, capsys: pytest.CaptureFixture[str]
    ) -> None:
        path = tmp_path / "jobs" / "first one.toml"
        assert main(["new", str(path), "--units", units, "--hand", hand]) == 0
        assert "Made" in capsys.readouterr().out
        assert main(["check", str(path), "--json"]) == 0
        findings = json.loads(capsys.readouterr().out)["findings"]
        assert not [f for f in findings if f["severity"] == "stop"]
        made = plan(*parse_job(path.read_text(encoding="utf-8")))
        assert (made.job.document.units, made.job.document.handed) == (units, hand)
        assert made.job.document.name == "first one"

    def test_never_overwrites(self, demo_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
        before = demo_file.read_bytes()
        assert main(["new", str(demo_file)]) == 2
        assert "is there already" in capsys.readouterr().err
        assert demo_file.read_bytes() == before

    @pytest.mark.parametrize(
        "name", ['a "quoted" name', "back\\slash", "ünïcode", "@NAME@", "x" * 90, "{braces}"]
    )
    def test_any_file_name_gives_a_job_that_reads(self, tmp_path: Path, name: str) -> None:
        path = tmp_path / f"{name}.toml"
        assert main(["new", str(path)]) == 0
        assert main(["check", str(path)]) == 0


class TestPlan:
    def test_numbers(self, demo_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["plan", str(demo_file)]) == 0
        said = capsys.readouterr().out
        for part in (
            "309.40 mm",
            "12-3/16 in",
            "target 309.40",
            "S1",
            "to the treble",
            "to the bass",
            "1.38 mm",
        ):
            assert part in said

    def test_stop_is_exit_code_1(self, thin_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["plan", str(thin_file), "--json"]) == 1
        assert json.loads(capsys.readouterr().out)["schema"] == 1

    def test_written_to_a_file(
        self, demo_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        out = tmp_path / "deep" / "plan.json"
        assert main(["plan", str(demo_file), "--out", str(out)]) == 0
        capsys.readouterr()
        assert main(["plan", str(demo_file), "--json"]) == 0
        assert out.read_text(encoding="utf-8") == capsys.readouterr().out
        assert names(out.parent) == {"plan.json"}

    def test_pure(self, monkeypatch: pytest.MonkeyPatch) -> None:
        # With the clock, chance and every file shut, a job in memory gives the same plan.
        import builtins
        import random
        import time

        job = parse_job(DEMO).job
        before = as_json(plan(job))

        def shut(*_: object, **__: object) -> Any:
            message = "planning must not touch this"
            raise AssertionError(message)

        for owner, name in (
            (builtins, "open"),
            (Path, "open"),
            (Path, "read_text"),
            (time, "time"),
            (random, "random"),
        ):
            monkeypatch.setattr(owner, name, shut)
        assert as_json(plan(job)) == before

    def test_planning_changes_nothing_it_was_given(self) -> None:
        job = parse_job(DEMO)
        twin = parse_job(DEMO)
        plan(*job)
        assert job == twin


Check = Callable[[Any], bool]


def number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def text(value: Any) -> bool:
    return isinstance(value, str) and bool(value)


def vector(length: int) -> Check:
    return lambda value: isinstance(value, list) and len(value) == length and all(map(number, value))


def ids(value: Any) -> bool:
    return isinstance(value, list) and all(map(text, value))


def maybe(check: Check) -> Check:
    return lambda value: value is None or check(value)


def rows(**keys: Check) -> Check:
    """A list of records with at least these keys; others may be added."""

    def check(value: Any) -> bool:
        if not isinstance(value, list):
            return False
        for row in value:
            for key, good in keys.items():
                assert key in row, key
                assert good(row[key]), (key, row[key])
        return True

    return check


STEPS = rows(diameter=number, depth=number)
CONTRACT: dict[str, Check] = {
    "schema": lambda v: v == 1,
    "job": lambda v: text(v["name"]) and v["handed"] in ("right", "left"),
    "frets": rows(n=number, treble=vector(2), bass=vector(2)),
    "strings": rows(
        no=number,
        note=text,
        nut=vector(3),
        saddle=vector(3),
        compensation=number,
        compensation_sd=maybe(number),
        tension_n=maybe(number),
        edge_margin=rows(fret=number, mm=number),
    ),
    "bridge": lambda v: (
        all(maybe(number)(v[key]) for key in ("x", "y", "yaw_deg"))
        and rows(no=number, travel_front=number, travel_back=number, slack_front=number, slack_back=number)(
            v["saddles"]
        )
    ),
    "bores": rows(
        id=text,
        role=text,
        face=lambda v: v in ("top", "back"),
        at=vector(3),
        axis=vector(3),
        steps=STEPS,
        bit=text,
        depth_stop=number,
        through=lambda v: isinstance(v, bool),
    ),
    "pockets": rows(
        id=text,
        role=text,
        face=lambda v: v in ("top", "back"),
        outline=lambda v: len(v) >= 3 and all(map(vector(2), v)),
        depth=number,
        corner_radius=number,
    ),
    "webs": rows(a=text, b=text, mm=lambda v: number(v) and 0 <= v <= 20),
    "measurables": rows(id=text, value=number, sd=number, low=number, high=number, how=text),
    "findings": rows(
        code=text,
        severity=lambda v: v in ("stop", "caution", "note"),
        features=ids,
        value=maybe(number),
        limit=maybe(number),
        message=text,
        cure=text,
        source=text,
        concerns=lambda v: v is None or ids(v),
        override=lambda v: (
            v is None or (text(v["reason"]) and text(v["by"]) and text(v["at"]) and text(v["risk"]))
        ),
    ),
    "forbidding": ids,
    "steps": rows(
        no=number,
        title=text,
        features=ids,
        bit=maybe(text),
        depth_stop=maybe(number),
        gate=lambda v: v is None or text(v["ask"]),
        cautions=ids,
        stopped_by=ids,
    ),
}

CHANGES: dict[str, dict[str, Any]] = {
    "demo": {},
    "left": {"handed": "left"},
    "no window": {"bridge.saddle_back": 11.0},
    "bare": {"pockets": [], "ground_wire": None, "finish.film": 0},
    "thin": {"body.thickness": 21},
    "four": {"strings[6]": None, "strings[5]": None},
}


class TestContract:
    @pytest.fixture(params=CHANGES)
    def whole(
        self, request: pytest.FixtureRequest, tmp_path: Path, edited: Edit, capsys: pytest.CaptureFixture[str]
    ) -> dict[str, Any]:
        path = tmp_path / "job.toml"
        path.write_text(edited(CHANGES[request.param]), encoding="utf-8")
        assert main(["plan", str(path), "--json"]) in (0, 1)
        found: dict[str, Any] = json.loads(capsys.readouterr().out)
        return found

    def test_keys_and_types(self, whole: dict[str, Any]) -> None:
        assert set(CONTRACT) <= set(whole)
        for key, good in CONTRACT.items():
            assert good(whole[key]), key

    def test_bores(self, whole: dict[str, Any]) -> None:
        thickness = whole["body"]["thickness"]
        for bore in whole["bores"]:
            assert sqrt(sum(part**2 for part in bore["axis"])) == pytest.approx(1, abs=2e-5)
            assert (bore["axis"][2] < 0) == (bore["face"] == "top")
            assert bore["at"][2] == pytest.approx(0 if bore["face"] == "top" else -thickness)
            diameters = [step["diameter"] for step in bore["steps"]]
            depths = [step["depth"] for step in bore["steps"]]
            assert all(a > b for a, b in pairwise(diameters))
            assert all(a < b for a, b in pairwise([0.0, *depths]))
            assert bore["depth_stop"] >= depths[-1]

    def test_strings_from_the_treble(self, whole: dict[str, Any]) -> None:
        side = 1 if whole["job"]["handed"] == "right" else -1
        assert [s["no"] for s in whole["strings"]] == list(range(1, len(whole["strings"]) + 1))
        for end in ("nut", "saddle"):
            places = [s[end][1] * side for s in whole["strings"]]
            assert places == sorted(places, reverse=True)
        for string in whole["strings"]:
            assert string["nut"][0] == 0
            assert [m["fret"] for m in string["edge_margin"]] == list(range(len(whole["frets"]) + 1))
        for fret in whole["frets"]:
            assert fret["treble"][1] * side > 0 > fret["bass"][1] * side

    def test_ids_are_unique_and_known(self, whole: dict[str, Any]) -> None:
        cuts = [cut["id"] for cut in whole["bores"] + whole["pockets"]]
        assert len(cuts) == len(set(cuts))
        named = {web[end] for web in whole["webs"] for end in "ab"}
        named |= {name for row in whole["findings"] + whole["steps"] for name in row["features"]}
        assert named <= set(cuts)
        assert [step["no"] for step in whole["steps"]] == list(range(1, len(whole["steps"]) + 1))
        assert len({m["id"] for m in whole["measurables"]}) == len(whole["measurables"])

    def test_measurables_lie_between_their_limits(self, whole: dict[str, Any]) -> None:
        for m in whole["measurables"]:
            assert m["low"] <= m["value"] <= m["high"]
            assert m["sd"] > 0

    def test_saddles(self, whole: dict[str, Any]) -> None:
        for saddle in whole["bridge"]["saddles"]:
            travel = saddle["travel_back"] - saddle["travel_front"]
            assert saddle["slack_front"] + saddle["slack_back"] == pytest.approx(travel, abs=2e-5)


class TestExplain:
    def test_by_number_or_name(self, demo_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["explain", str(demo_file), "F3"]) == 0
        by_number = capsys.readouterr().out
        assert main(["explain", str(demo_file), "ferrule-hole-3"]) == 0
        assert capsys.readouterr().out == by_number
        assert "ferrule-hole-3.step-1.depth = 1.380 mm" in by_number
        assert "overlap by 2.38 mm" in by_number

    def test_json_and_list(self, demo_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["explain", str(demo_file), "b1", "--json"]) == 0
        told = json.loads(capsys.readouterr().out)
        assert (told["id"], told["kind"]) == ("bridge-screw-1", "cut")
        assert any("FPL-GTR-282" in link["source"] for link in told["why"])
        assert main(["explain", str(demo_file)]) == 0
        assert "ground-wire" in capsys.readouterr().out

    @pytest.mark.parametrize(
        ("asked", "told"),
        [
            ("fret-12", "= length × (1 − 2^(−cents / 1200))"),
            ("F3-F4", "wood between ferrule-hole-3 and ferrule-hole-4"),
            ("12th-to-plate", "These rest on"),
            ("bridge.spacing", "stated in the job, line"),
            ("pilot.rules-differ", "bridge-screw-1.handbook-pilot"),
            ("drill-string-holes", "string-hole-6.step-1.setting"),
            ("limits.pocket_web.stop", "table of limits"),
        ],
    )
    def test_any_id(self, demo_file: Path, capsys: pytest.CaptureFixture[str], asked: str, told: str) -> None:
        assert main(["explain", str(demo_file), asked]) == 0
        assert told in " ".join(capsys.readouterr().out.split())

    def test_a_stated_number_names_its_line(
        self, demo_file: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert main(["explain", str(demo_file), "bridge.spacing", "--json"]) == 0
        told = json.loads(capsys.readouterr().out)["quantities"]["bridge.spacing"]
        line = int(re.findall(r"line (\d+)", told["source"])[0])
        assert demo_file.read_text(encoding="utf-8").splitlines()[line - 1].startswith("spacing = 10.6")
        assert told["value"] == 10.6
        assert told["sd"] == pytest.approx(0.05 / 3**0.5)

    def test_what_is_printed_can_be_worked_again(
        self, demo_file: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        """By hand from the figures that stand under the formula, to their last one."""
        assert main(["explain", str(demo_file), "string-3.bridge-row"]) == 0
        text = " ".join(capsys.readouterr().out.split())
        assert "= spacing × ((strings + 1) / 2 − no)" in text
        value, spacing, strings, no = (
            float(re.findall(rf"{name} = (-?[\d.]+)", text)[0])
            for name in ("bridge-row", "spacing", "strings", "no")
        )
        assert spacing * ((strings + 1) / 2 - no) == pytest.approx(value, abs=5e-4)

    def test_a_near_miss(self, demo_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["explain", str(demo_file), "ferule-hole-3"]) == 2
        assert 'did you mean "ferrule-hole-3"' in capsys.readouterr().err


class TestPartsAndSchema:
    def test_parts(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["parts", "--json"]) == 0
        book = json.loads(capsys.readouterr().out)
        shelves = {
            "bridge",
            "bridge on posts",
            "bridge on studs",
            "bridge screw",
            "cavity",
            "control",
            "ferrule",
            "jack",
            "neck screw",
            "single saddle",
            "strap button",
            "threaded insert",
            "tuners",
            "vibrato",
            "vibrato on screws",
        }
        assert set(book) == shelves
        assert main(["parts", "ferrule"]) == 0
        assert "Measure your own" in capsys.readouterr().out

    @pytest.mark.parametrize(
        ("shelf", "key", "rest"),
        [
            ("control", "controls", {"name": "volume", "centre": [638, 94], "into": "control cavity"}),
            ("neck screw", "neck_screws", {"places": [[12, -19], [12, 19], [52, -17.5], [52, 17.5]]}),
        ],
    )
    def test_what_is_added_from_the_book_is_named_in_a_job(
        self, edited: Edit, shelf: str, key: str, rest: dict[str, Any]
    ) -> None:
        for name in shelf_names(shelf):
            part = {**rest, "part": name}
            found = plan(*parse_job(edited({key: [part] if key == "controls" else part}, SHIPPED)))
            codes = {each.code for each in found.findings}
            assert {"typical.control-1", "typical.neck_screws"} & codes, name

    def test_the_book_tells_what_a_job_may_name_and_what_is_sizes_alone(
        self, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert main(["parts", "control"]) == 0
        assert 'part = "pot, small"' in capsys.readouterr().out
        assert main(["parts", "strap button"]) == 0
        told = capsys.readouterr().out
        assert "part =" not in told
        (screw,) = [line for line in told.splitlines() if "screw =" in line]
        assert tomllib.loads(screw.strip())["screw"]["thread"] == "4.2 mm typical"

    def test_every_part_of_the_book_makes_a_sound_job(self, edited: Edit) -> None:
        # Each with what goes with it, on a body it suits: no stop comes from the book's own numbers.
        bass = {
            "strings": [
                {"note": note, "gauge": gauge, "setback": back}
                for note, gauge, back in (
                    ("G2", ".045", 3),
                    ("D2", ".065", 3.5),
                    ("A1", ".085", 4),
                    ("E1", ".105", 5),
                )
            ],
            "scale.length": 864,
            "scale.frets": 20,
            "fingerboard.end": 600,
            "fingerboard.width_at_end": 62,
            "neck.pocket_end": 600,
            "body.outline.tail": 975,
            "body.outline.dimensions": {"length": 460},
            "string_holes.diameter": 5,
            "bridge_screw": {"part": "4.2 x 32"},
            "ferrules": {"part": "lipped, bass"},
            "pockets": [],
            "ground_wire": None,
        }
        for name in shelf_names("bridge"):
            changes: dict[str, Any] = {"bridge": {"part": name}, "string_holes.diameter": 3.2}
            if "bass" in name:
                changes = {**bass, "bridge": {"part": name}}
            elif "seven" in name:
                changes |= {"strings[7]": {"note": "B1", "gauge": ".059", "setback": 4.4}, "nut.width": 48}
                changes |= {"fingerboard.width_at_end": 64}
            made = plan(*parse_job(edited(changes)))
            assert not made.stops, [stop.message for stop in made.stops]

    def test_schema(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["schema"]) == 0
        schema = json.loads(capsys.readouterr().out)
        assert schema["type"] == "object"
        assert schema["additionalProperties"] is False
        assert set(schema["required"]) >= {
            "scribeline",
            "name",
            "units",
            "scale",
            "strings",
            "body",
            "bridge",
            "bits",
        }

        def walk(node: Any) -> None:
            if isinstance(node, dict):
                if "$ref" in node:
                    kind, _, name = node["$ref"].rpartition("/")
                    assert kind == "#/$defs"
                    assert name in schema["$defs"]
                if "properties" in node:
                    assert set(node.get("required", ())) <= set(node["properties"])
                for item in node.values():
                    walk(item)
            elif isinstance(node, list):
                for item in node:
                    walk(item)

        walk(schema)
        everything = json.dumps(schema)
        for inner in ("filled_from_book", "Dimension"):
            assert f'"{inner}"' not in everything
        assert "label" not in schema["$defs"]["BitOwned"]["anyOf"][-1]["properties"]
        scale = schema["$defs"]["Scale"]["properties"]["length"]
        assert {option["type"] for option in scale["anyOf"]} == {"number", "string"}
        assert "scale length" in scale["description"]


class TestInstalled:
    def test_as_a_process(self, thin_file: Path, tmp_path: Path) -> None:
        run = subprocess.run(
            [sys.executable, "-m", "scribeline", "check", str(thin_file)],
            capture_output=True,
            check=False,
            cwd=tmp_path,
            env={"PYTHONIOENCODING": "cp1252", "PATH": ""},
        )
        assert run.returncode == 1
        said = run.stdout.decode("utf-8")
        assert "wood.breaks-through" in said
        assert run.stderr == b""
        assert names(tmp_path) == {"thin.toml"}


def test_a_plan_is_the_same_in_every_process(tmp_path: Path) -> None:
    """Two tunnels that may be drilled in either order, and sets that a process orders by chance."""
    job = tmp_path / "job.toml"
    job.write_text(SHIPPED, encoding="utf-8")
    said = {
        subprocess.run(
            [sys.executable, "-m", "scribeline", "plan", str(job), "--json"],
            capture_output=True,
            text=True,
            env={**os.environ, "PYTHONHASHSEED": seed},
            check=False,
        ).stdout
        for seed in ("0", "1", "3")
    }
    assert len(said) == 1
    assert '"tunnel-2"' in said.pop()
