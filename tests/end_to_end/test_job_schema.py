"""The job file's JSON Schema, held to a validator that knows nothing of Scribeline (JSON Schema draft 2020-12)."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from math import degrees
from pathlib import Path
from typing import Any, get_args

import jsonschema_rs
import pytest

from scribeline.cli import main
from scribeline.job import Instrument, JobError, Loading, parse_job, starter_job
from scribeline.job.document import Bits
from scribeline.lengths import JobUnit
from scribeline.scenario import demo_jobs

from ..conftest import DEMO, FULL, Edit, in_inches

DOCS = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    """As the command writes it."""
    import contextlib
    import io

    told = io.StringIO()
    with contextlib.redirect_stdout(told):
        assert main(["schema"]) == 0
    found: dict[str, Any] = json.loads(told.getvalue())
    return found


def faults(schema: dict[str, Any], text: str) -> list[str]:
    """What a general validator has against a job; TOML's dates are text to it."""
    stated = json.loads(json.dumps(tomllib.loads(text), default=lambda date: date.isoformat()))
    return [
        f"{error.instance_path}: {error.message}"
        for error in jsonschema_rs.validator_for(schema).iter_errors(stated)
    ]


@pytest.mark.parametrize("text", [*demo_jobs().values(), FULL, DEMO, in_inches(FULL)])
def test_it_takes_the_demo(schema: dict[str, Any], text: str) -> None:
    assert faults(schema, text) == []


@pytest.mark.parametrize("instrument", get_args(Instrument))
@pytest.mark.parametrize("units", get_args(JobUnit))
@pytest.mark.parametrize("loading", get_args(Loading))
def test_it_takes_every_new_job(
    schema: dict[str, Any], instrument: Instrument, units: JobUnit, loading: Loading
) -> None:
    begun = starter_job(name="New", units=units, handed="left", instrument=instrument, loading=loading)
    assert faults(schema, begun) == []


def shown_in_docs() -> Iterator[tuple[str, str]]:
    """Every piece of a job file that the documents show."""
    for path in sorted([DOCS / "README.md", *(DOCS / "docs").glob("*.md")]):
        for number, block in enumerate(
            re.findall(r"```toml\n(.*?)```", path.read_text("utf-8"), re.S), start=1
        ):
            yield f"{path.name} {number}", block


@pytest.mark.parametrize(("where", "block"), list(shown_in_docs()))
def test_it_takes_what_the_documents_show(schema: dict[str, Any], where: str, block: str) -> None:
    shown = tomllib.loads(block)
    whole = tomllib.loads(DEMO)
    for key, value in shown.items():
        whole[key] = {**whole.get(key, {}), **value} if isinstance(value, dict) else value
    if "file" in whole["body"]["outline"]:
        whole["body"]["outline"].pop("shape", None)
    stated = json.loads(json.dumps(whole, default=lambda date: date.isoformat()))
    errors = [error.message for error in jsonschema_rs.validator_for(schema).iter_errors(stated)]
    assert errors == [], where


def test_a_bit_is_a_size_or_a_table_and_a_screw_may_go_by_its_gauge(
    schema: dict[str, Any], edited: Edit
) -> None:
    by_gauge = {
        "bridge_screw": {"gauge": "#6", "length": "1 in"},
        "bits.twist": [2.5, "#41", {"diameter": 3}],
    }
    assert faults(schema, edited(by_gauge)) == []


@pytest.mark.parametrize(
    ("changes", "where"),
    [
        ({"bridge.spaceing": 10.5}, "spaceing"),
        ({"bits.twist": [{"size": 3.0}]}, "twist"),
        ({"bits.twist": [[3.0]]}, "twist"),
        ({"scale.frets": "many"}, "frets"),
        ({"bridge_screw": {"gauge": 6}}, "bridge_screw"),
        ({"strings": []}, "strings"),
    ],
)
def test_it_refuses_what_a_job_cannot_be(
    schema: dict[str, Any], edited: Edit, changes: dict[str, Any], where: str
) -> None:
    assert any(where in fault for fault in faults(schema, edited(changes)))


def test_defaults_are_as_a_job_states_them(schema: dict[str, Any]) -> None:
    """Degrees, where the document holds radians; lengths with their unit, for a bare number takes the job's own."""
    bits = schema["$defs"]["Bits"]["properties"]
    assert bits["point_angle"]["default"] == pytest.approx(degrees(Bits().point_angle)) == pytest.approx(118)
    assert schema["$defs"]["CountersinkOwned"]["properties"]["angle"]["default"] == pytest.approx(90)
    assert bits["chuck_radius"]["default"] == "19 mm"


def test_it_says_between_what_a_length_and_an_angle_may_lie(schema: dict[str, Any], edited: Edit) -> None:
    """The ranges of docs/job-file.md under keys of our own, which a validator passes over."""
    length = schema["$defs"]["Scale"]["properties"]["length"]
    assert length["x-millimetres"] == [400, 1000]
    assert schema["$defs"]["HoleStatement"]["properties"]["lean"]["x-degrees"] == [0, 75]
    for inside in (400, 1000):
        parse_job(edited({"scale.length": inside, "fingerboard.end": 390}))
    for outside in (399.9, 1000.1):
        with pytest.raises(JobError, match="should lie between 400 and 1000 mm"):
            parse_job(edited({"scale.length": outside, "fingerboard.end": 390}))
