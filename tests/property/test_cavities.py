"""The cavities that are written for a vibrato: roomy enough whatever its numbers, no roomier than that, and the builder's own."""

from __future__ import annotations

import tomllib
from pathlib import Path
from random import Random

import pytest

from scribeline.cli import main
from scribeline.job import JobError, Stated, parse_job, remove_value, set_value, starter_job
from scribeline.job.bridges import KINDS
from scribeline.layout.bridges.sprung import reach_between, stated
from scribeline.plan import Plan, plan
from scribeline.plan.cavities import with_cavities
from scribeline.web.blanks import blank, of_its_kind, written
from scribeline.web.fields import at_key
from scribeline.web.planning import Planner

from ..kind_jobs import VIBRATOS, restated


def bare(name: str) -> str:
    """A job without the cavities of its block and its springs; their comments and all else left."""
    start, _, rest = VIBRATOS[name].partition('[[pockets]]\nname = "block slot"')
    return start + '[[pockets]]\nname = "bridge pickup"' + rest.partition('name = "bridge pickup"')[2]


def about_cavities(made: Plan) -> list[str]:
    """What is told of block, springs and claw where they do not fit their cavities."""
    codes = ("vibrato.block-close", "vibrato.springs-tight", "vibrato.claw-room", "vibrato.claw-short")
    return [each.code for each in made.findings if each.code in codes]


@pytest.mark.parametrize("name", VIBRATOS)
@pytest.mark.parametrize("handed", ["right", "left"])
def test_a_job_without_them_gets_cavities_that_serve(name: str, handed: str) -> None:
    text, _ = set_value(bare(name), "handed", handed)
    with pytest.raises(JobError) as refused:
        parse_job(text)
    assert {fault.path for fault in refused.value.faults} >= {"bridge.slot", "bridge.spring_cavity"}
    assert all(
        "scribeline cavities" in str(fault) for fault in refused.value.faults if "bridge" in fault.path
    )
    made, names = with_cavities(text)
    assert names == ("block slot", "spring cavity")
    found = plan(*parse_job(made))
    assert not found.stops
    assert not about_cavities(found)
    # Everything else of the file stands, and a second time there is nothing to write.
    assert all(line in made for line in text.splitlines())
    assert with_cavities(made) == (made, ())


@pytest.mark.parametrize("name", VIBRATOS)
def test_they_are_no_roomier_than_their_steps(name: str) -> None:
    found = plan(*parse_job(with_cavities(bare(name))[0]))
    document, place = found.job.document, found.layout.bridge
    assert place is not None
    slot = next(each for each in found.features.pockets if each.id == "block-slot")
    reach = reach_between(document, -slot.depth, 0.0)
    assert reach is not None
    xs = [at.x - place.middle.x for at in slot.outline]
    # 2 mm of the sweep's limit, 0.3 mm for router and template, and up to a step of 0.5 mm.
    for room in (reach[0] - min(xs), max(xs) - reach[1]):
        assert 2.3 - 1e-9 <= room <= 2.8 + 1e-9
    # Half a millimetre less than the limit at the tail end of the slot is told.
    number = next(n for n, each in enumerate(document.pockets, start=1) if each.name == "block slot")
    size, centre = document.pockets[number - 1].size, document.pockets[number - 1].centre
    assert size is not None
    assert centre is not None
    tight: dict[str, Stated] = {
        f"pockets[{number}].size": [size[0] - 1.2, size[1]],
        f"pockets[{number}].centre": [centre[0] - 0.6, centre[1]],
    }
    assert "vibrato.block-close" in about_cavities(
        plan(*parse_job(restated(with_cavities(bare(name))[0], tight)))
    )


def test_whatever_the_bridge_measures() -> None:
    random, served = Random(3), 0
    for _ in range(30):
        name = random.choice(sorted(VIBRATOS))
        changes: dict[str, Stated] = {
            "bridge__block_front": random.uniform(2, 12),
            "bridge__block_thickness": random.uniform(8, 18),
            "bridge__block_length": random.uniform(37.5, 40),
            "bridge__block_width": random.uniform(38, 56),
            "bridge__dive": random.uniform(5, 40),
            "bridge__springs": random.choice([2, 3, 5]),
            "bridge__spring_rate": random.uniform(2, 4),
            "bridge__spring_preload": 0,
            "bridge__claw_width": random.uniform(40, 60),
        }
        # Without the ground wire, whose way takes most of a plan's time.
        text, _ = with_cavities(remove_value(restated(bare(name), changes), "ground_wire")[0])
        made = plan(*parse_job(text))
        assert not about_cavities(made), changes
        served += stated(made.job.document).springs > 0
    assert served == 30


def test_a_key_that_names_none_gets_the_usual_name() -> None:
    text = bare("vibrato").replace('slot = "block slot"\nspring_cavity = "spring cavity"\n', "")
    made, names = with_cavities(text)
    assert names == ("block slot", "spring cavity")
    assert stated(parse_job(made).job.document).slot == "block slot"


def test_one_that_is_there_stays_and_the_other_follows_it() -> None:
    start, _, rest = VIBRATOS["vibrato"].partition('[[pockets]]\nname = "block slot"')
    text = start + '[[pockets]]\nname = "spring cavity"' + rest.partition('name = "spring cavity"')[2]
    made, names = with_cavities(text)
    assert names == ("block slot",)
    assert not about_cavities(plan(*parse_job(made)))


def test_an_inch_job_gets_lengths_with_their_unit() -> None:
    text = starter_job(name="Inch", units="in", handed="right", loading="top-load")
    for key in ("bridge", "bridge_screw", "ground_wire"):
        text, _ = remove_value(text, key)
    for key, value in {"bridge.kind": "vibrato", "bridge.part": "two posts, six strings"}.items():
        text, _ = set_value(text, key, value)
    made, _ = with_cavities(text)
    assert not about_cavities(plan(*parse_job(made)))


def test_other_faults_are_told_and_other_bridges_need_none() -> None:
    with pytest.raises(JobError) as told:
        with_cavities(bare("vibrato").replace("spring_hooks = 37.4", "spring_hooks = 60.0"))
    assert any("below the block" in str(fault) for fault in told.value.faults)
    plain = starter_job(name="Plain", units="mm", handed="right")
    assert with_cavities(plain) == (plain, ())


def test_the_command_writes_them_into_the_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = tmp_path / "job.toml"
    job.write_text(bare("vibrato"), encoding="utf-8")
    assert main(["cavities", str(job)]) == 0
    assert '"block slot" and "spring cavity"' in capsys.readouterr().out
    written = job.read_text(encoding="utf-8")
    assert parse_job(written)
    assert "# over the knurl" in written
    assert main(["cavities", str(job)]) == 0
    assert "nothing was changed" in capsys.readouterr().out
    assert job.read_text(encoding="utf-8") == written
    assert main(["cavities", str(tmp_path / "none.toml")]) == 2


def test_the_app_writes_them_for_a_bridge_of_another_kind(tmp_path: Path) -> None:
    planner = Planner()
    text = planner.with_cavities(bare("vibrato_screws"), tmp_path)
    assert not planner.plan(text, tmp_path).stops
    with pytest.raises(JobError):
        planner.with_cavities(
            bare("vibrato_screws").replace("[body.outline]", '[body.outline]\nfile = "/etc/hosts"'), tmp_path
        )


@pytest.mark.parametrize("name", VIBRATOS)
def test_a_plate_becomes_a_vibrato_by_its_form_alone(name: str, tmp_path: Path) -> None:
    text, _ = remove_value(
        starter_job(name="Was a plate", units="mm", handed="right", loading="top-load"), "ground_wire"
    )
    document = parse_job(text).job.document
    bridge = tomllib.loads(VIBRATOS[name])["bridge"]
    asked = blank(document, "bridge", [sorted(KINDS).index(bridge["kind"])], 0)
    assert asked is not None
    typed = {field.key: at_key({"bridge": bridge}, field.key) for field in asked.fields}
    changed = written(text, asked, {key: str(value) for key, value in typed.items() if value is not None})
    made = Planner().with_cavities(of_its_kind(changed), tmp_path)
    job = parse_job(made).job
    assert job.document.bridge.kind == bridge["kind"]
    # A plate's screws go with it where the new bridge takes none, and so does its entry of the parts book.
    assert (job.document.bridge_screw is None) == (name == "vibrato")
    assert job.document.bridge.part is None
    assert not about_cavities(plan(*parse_job(made)))
