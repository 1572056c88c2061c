"""The JSON side: schemathesis against its own OpenAPI description, and the few things a program relies on."""

from __future__ import annotations

import json
import re
import urllib.request
from html import unescape
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from tests.end_to_end.conftest import PATIENCE, Served, answered

from scribeline.job import parse_job
from scribeline.plan import plan
from scribeline.plan.record import record
from scribeline.scenario import demo_jobs

from ..conftest import in_inches

TEXT = demo_jobs()["marram.toml"]

EXAMPLES = 8
"""Requests made of each operation: all of them together take some ten seconds."""


def ask(app: Served, method: str, path: str, body: Any = None) -> tuple[int, Any]:
    """One request; the answer's status and JSON."""
    return answered(f"{app.address}/api{path}", method, body)


@pytest.fixture
def job(app: Served) -> int:
    """A job with a step done and a reading taken."""
    status, made = ask(app, "POST", "/jobs", {"text": TEXT})
    assert status == 201
    job_id = int(made["job_id"])
    assert ask(app, "PUT", f"/jobs/{job_id}/ticks/rout-bridge-pickup", {"revision": 1})[0] == 200
    reading = {"card": "check-neck", "value_mm": 320.0, "with_what": "rule", "revision": 1}
    assert ask(app, "POST", f"/jobs/{job_id}/readings", reading)[0] == 201
    return job_id


def test_schemathesis_finds_no_server_error(app: Served, job: int) -> None:
    """Requests made up from the description, half of them on a job that is there, in every operation."""
    schema = schemathesis.openapi.from_url(f"{app.address}/openapi.json")
    checks = [
        not_a_server_error,
        status_code_conformance,
        content_type_conformance,
        response_schema_conformance,
    ]
    seen: list[tuple[str, int]] = []
    for found in schema.get_all_operations():
        operation: Any = found.ok()  # type: ignore[union-attr]  # an operation it cannot read fails the test

        @given(case=operation.as_strategy())
        @settings(
            max_examples=EXAMPLES,
            deadline=None,
            database=None,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
            derandomize=True,
        )
        def check(case: Any) -> None:
            if "job_id" in (case.path_parameters or {}) and len(str(case.path_parameters)) % 2:
                case.path_parameters = {**case.path_parameters, "job_id": job}
            response = case.call()
            case.validate_response(response, checks=checks)
            seen.append((case.operation.label, response.status_code))
            if response.status_code >= 400:
                assert response.json()["detail"].endswith((".", "!", "?"))

        check()
        ask(app, "POST", f"/jobs/{job}/restore")  # it may have been deleted
    assert len({label for label, _ in seen}) >= 25
    assert len([status for _, status in seen if status < 300]) > 20
    assert ask(app, "GET", f"/jobs/{job}")[0] == 200


def test_the_plan_is_the_commands_plan(app: Served) -> None:
    """The same text gives the same plan.json."""
    job_id = ask(app, "POST", "/jobs", {"text": TEXT})[1]["job_id"]
    status, told = ask(app, "GET", f"/jobs/{job_id}/plan")
    assert status == 200
    assert told == json.loads(json.dumps(record(plan(*parse_job(TEXT)))))


def test_an_inch_job_is_told_and_worked_in_inches(app: Served) -> None:
    status, made = ask(app, "POST", "/jobs", {"text": in_inches(TEXT)})
    assert status == 201
    job = f"/jobs/{made['job_id']}"
    told = [
        finding[words]
        for finding in ask(app, "GET", f"{job}/findings")[1]
        for words in ("message", "cure")
        if " mm" in finding[words]
    ]
    for step in ask(app, "GET", f"{job}/steps")[1]:
        with urllib.request.urlopen(
            f"{app.address}{job}/steps/{step['id']}", timeout=PATIENCE / 1000
        ) as answer:
            page = unescape(answer.read().decode())
        told += [line for line in re.findall(r"<li>(.*?)</li>", page) if " mm" in line]
    assert len(told) > 25
    # Millimetres stand in brackets alone, behind their inches.
    beside = re.compile(r"(?<=\d in )[(\[][^()\[\]]* mm[)\]]|(?<=in), mm in brackets")
    assert not [line for line in told if " mm" in beside.sub("", line)]


def test_a_late_edit_is_shown_the_difference(app: Served) -> None:
    job_id = ask(app, "POST", "/jobs", {"text": TEXT})[1]["job_id"]
    first = {"key": "bridge.spacing", "value": 10.55, "based_on": 1}
    assert ask(app, "POST", f"/jobs/{job_id}/values", first)[0] == 201
    status, told = ask(
        app, "POST", f"/jobs/{job_id}/values", {"key": "nut.width", "value": 43, "based_on": 1}
    )
    assert status == 409
    assert told["newest"] == 2
    assert told["their_changes"] == [{"key": "bridge.spacing", "was": "10.6", "now": "10.55"}]
    assert told["my_changes"] == [{"key": "nut.width", "was": "42.8", "now": "43"}]
    both = {"text": told["merged"], "based_on": told["newest"]}
    assert ask(app, "POST", f"/jobs/{job_id}/revisions", both)[0] == 201
    assert ask(app, "POST", f"/jobs/{job_id}/undo", {"based_on": 3})[1]["why"] == "undo: as in revision 2"


def test_a_step_done_is_locked_and_a_reading_judged(app: Served) -> None:
    job_id = ask(app, "POST", "/jobs", {"text": TEXT})[1]["job_id"]
    ask(app, "PUT", f"/jobs/{job_id}/ticks/rout-bridge-pickup", {"revision": 1})
    ask(app, "POST", f"/jobs/{job_id}/values", {"key": "neck.pocket_end", "value": 470, "based_on": 1})
    moved = ask(app, "GET", f"/jobs/{job_id}/plan")[1]["moved"]
    assert {"feature": "neck-pickup", "step": 0, "what": "along", "was": 502.0, "now": 504.0} in moved
    steps = {step["id"]: step for step in ask(app, "GET", f"/jobs/{job_id}/steps")[1]}
    assert steps["rout-bridge-pickup"]["done"]["revision"] == 1
    low, high = steps["check-neck"]["gate"]["low"], steps["check-neck"]["gate"]["high"]
    for value, passes in ((low, True), ((low + high) / 2, True), (high + 0.5, False)):
        reading = {"card": "check-neck", "value_mm": value, "revision": 2}
        assert ask(app, "POST", f"/jobs/{job_id}/readings", reading)[1]["passes"] is passes
    assert ask(app, "PUT", f"/jobs/{job_id}/ticks/no-such-step", {"revision": 2})[0] == 422


def test_a_cavity_is_as_deep_as_its_gate_reads_it_before_its_tick_and_after(app: Served) -> None:
    job_id = ask(app, "POST", "/jobs", {"text": TEXT})[1]["job_id"]
    step = "rout-bridge-pickup"  # with which the neck pickup's cavity is routed
    planned = next(
        each for each in ask(app, "GET", f"/jobs/{job_id}/plan")[1]["pockets"] if each["id"] == "neck-pickup"
    )["depth"]
    for read in (planned + 0.1, planned + 0.2):
        steps = ask(app, "GET", f"/jobs/{job_id}/steps")[1]
        asks = next(each for each in steps if each["id"] == step)["gate"]["asks"]
        values = [
            {"ask": each["id"], "value_mm": read if each["id"] == "neck-pickup" else each["value"]}
            for each in asks
        ]
        alone = {"card": step, "value_mm": read, "revision": 1}
        assert ask(app, "POST", f"/jobs/{job_id}/readings", alone)[0] == 422
        reading = {"card": step, "values": values, "revision": 1}
        assert ask(app, "POST", f"/jobs/{job_id}/readings", reading)[0] == 201
        ask(app, "PUT", f"/jobs/{job_id}/ticks/{step}", {"revision": 1})
        (tick,) = ask(app, "GET", f"/jobs/{job_id}/ticks")[1]
        twin, cut = tick["cuts"]
        assert (twin["depth"], twin["measured_depth"]) == (planned, planned)
        assert (cut["depth"], cut["measured_depth"]) == (planned, pytest.approx(read))
        made = ask(app, "GET", f"/jobs/{job_id}/plan")[1]["pockets"]
        assert next(each for each in made if each["id"] == "neck-pickup")["depth"] == pytest.approx(read)


def test_a_gate_that_asks_for_four_readings_takes_the_least_of_them(app: Served) -> None:
    job_id = ask(app, "POST", "/jobs", {"text": TEXT})[1]["job_id"]
    gate = next(each for each in ask(app, "GET", f"/jobs/{job_id}/steps")[1] if each["id"] == "check-body")[
        "gate"
    ]
    reading = {"card": "check-body", "revision": 1}
    for least, passes in ((44.35, True), (44.2, False)):
        read = [{"ask": each["id"], "value_mm": 44.4} for each in gate["asks"]]
        read[2]["value_mm"] = least
        kept = ask(app, "POST", f"/jobs/{job_id}/readings", {**reading, "values": read})[1]
        assert (kept["value_mm"], kept["passes"]) == (least, passes)
        assert [each["value_mm"] for each in kept["values"]] == [44.4, 44.4, least, 44.4]
    assert ask(app, "POST", f"/jobs/{job_id}/readings", {**reading, "values": read[1:]})[0] == 422
    assert ask(app, "POST", f"/jobs/{job_id}/readings", {**reading, "values": read, "yes": True})[0] == 422
    assert (
        ask(app, "POST", f"/jobs/{job_id}/readings", {**reading, "card": "check-neck", "values": read})[0]
        == 422
    )
    assert [len(each["values"]) for each in ask(app, "GET", f"/jobs/{job_id}/readings")[1]] == [4, 4]
    with urllib.request.urlopen(f"{app.address}/api/jobs/{job_id}/export", timeout=PATIENCE / 1000) as answer:
        text = answer.read().decode()
    again = ask(app, "POST", "/import", {"text": text})[1]["job_id"]
    ours, theirs = (ask(app, "GET", f"/jobs/{each}/readings")[1] for each in (job_id, again))
    assert ours == theirs


def test_a_job_goes_out_and_comes_in_with_its_record(app: Served, job: int) -> None:
    with urllib.request.urlopen(f"{app.address}/api/jobs/{job}/export", timeout=PATIENCE / 1000) as answer:
        text = answer.read().decode()
    made = ask(app, "POST", "/import", {"text": text})[1]["job_id"]
    for what in ("ticks", "readings"):
        ours, theirs = (ask(app, "GET", f"/jobs/{each}/{what}")[1] for each in (job, made))
        assert [{**each, "revision": 1} for each in ours] == theirs


def test_a_stop_keeps_a_step_until_it_is_gone_on_against(app: Served) -> None:
    job_id = ask(app, "POST", "/jobs", {"text": TEXT})[1]["job_id"]
    job = f"/jobs/{job_id}"
    thin = {"key": "body.thickness", "value": "39 +/- 0.2", "based_on": 1}
    assert ask(app, "POST", f"{job}/values", thin)[0] == 201
    stop = next(each for each in ask(app, "GET", f"{job}/findings")[1] if each["code"] == "wood.thin-floor")
    assert stop["concerns"] == ["control-cavity"]
    steps = {step["id"]: step for step in ask(app, "GET", f"{job}/steps")[1]}
    assert steps["rout-control-cavity"]["stopped_by"] == ["wood.thin-floor"]
    assert steps["rout-control-cavity"]["state"] == "waits"
    cavity = f"{job}/ticks/rout-control-cavity"
    assert ask(app, "PUT", cavity, {"revision": 2})[0] == 422
    assert ask(app, "PUT", cavity, {"revision": 1})[0] == 422  # the newest plan counts too
    named = {key: stop[key] for key in ("code", "features", "value")}
    for wrong in ({"reason": "so"}, {"revision": 1}, {"value": 0.6}, {"features": ["jack"]}, {"code": "x"}):
        given = {**named, "reason": "a plate is glued under it", "revision": 2, **wrong}
        assert ask(app, "POST", f"{job}/overrides", given)[0] == 422
    given = {**named, "reason": "a plate is glued under it", "revision": 2}
    status, kept = ask(app, "POST", f"{job}/overrides", given)
    assert status == 201
    assert (kept["says"], kept["counts"]) == (stop["message"], True)
    number = kept["number"]
    assert ask(app, "DELETE", f"{job}/overrides/{number}")[0] == 204
    assert ask(app, "DELETE", f"{job}/overrides/{number}")[0] == 422
    assert ask(app, "PUT", cavity, {"revision": 2})[0] == 422
    assert ask(app, "POST", f"{job}/overrides", given)[0] == 201
    assert ask(app, "PUT", cavity, {"revision": 2})[0] == 200
    assert [each["counts"] for each in ask(app, "GET", f"{job}/overrides")[1]] == [False, True]


def test_a_reading_accepted_at_own_risk_keeps_the_limits_it_was_accepted_for(app: Served) -> None:
    job_id = ask(app, "POST", "/jobs", {"text": TEXT})[1]["job_id"]
    job = f"/jobs/{job_id}"
    reading = {"card": "check-body", "value_mm": 44.0, "revision": 1}
    assert not ask(app, "POST", f"{job}/readings", reading)[1]["passes"]
    kept = ask(app, "POST", f"{job}/readings", {**reading, "risk": "a wall piece"})[1]
    assert (kept["passes"], kept["low"], kept["high"]) == (True, 44.3, 44.5)
    assert ask(app, "PUT", f"{job}/ticks/check-body", {"revision": 1})[0] == 200
    thick = {"key": "body.thickness", "value": "44.6 +/- 0.1", "based_on": 1}
    assert ask(app, "POST", f"{job}/values", thick)[0] == 201
    step = next(each for each in ask(app, "GET", f"{job}/steps")[1] if each["id"] == "check-body")
    assert (step["state"], step["reopened"], step["reading"]["passes"]) == ("open", True, False)
    assert step["done"]["by"]
