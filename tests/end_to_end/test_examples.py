"""The shipped examples: each is complete, sound and of a weight one can wear, and a job can be begun from each."""

from __future__ import annotations

import re
from collections.abc import Iterator
from math import dist
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from pydantic import BaseModel

from scribeline.cli import main
from scribeline.drawing.sheets.parts import parts_pages
from scribeline.job import parse_job
from scribeline.job.values import Dimension
from scribeline.lengths import in_unit
from scribeline.plan import Plan, plan
from scribeline.scenario import begun_like, examples
from scribeline.solid.body import make_body
from scribeline.solid.weight import layer_densities, weigh

from ..pack_jobs import EXAMPLES


@pytest.fixture(scope="module", params=EXAMPLES)
def example(request: pytest.FixtureRequest) -> Plan:
    return plan(*parse_job(EXAMPLES[request.param]))


def test_an_example_is_complete_and_gives_no_cause_for_care(example: Plan) -> None:
    assert not [each for each in example.findings if each.severity != "note"]
    assert "pack.not-covered" not in {each.code for each in example.findings}
    document = example.job.document
    assert document.controls
    assert document.jack
    assert len(document.strap_buttons) == 2
    assert len(document.tunnels) >= 2


def test_the_jack_has_room_beside_the_pots(example: Plan) -> None:
    # A jack's barrel is some 22 mm wide and stands out into the cavity (typical, from memory: measure your own).
    (jack,) = example.features.family("jack")
    reach = jack.deepest.depth
    end = (jack.at.x + reach * jack.axis.x, (jack.at.y + reach * jack.axis.y) * example.layout.treble)
    for control in example.job.document.controls:
        assert control.body is not None
        assert dist(end, control.centre) > 11 + control.body.mm / 2


def test_what_to_get_names_all_that_is_drilled_for_and_its_strings_ground(example: Plan) -> None:
    (page,) = parts_pages(cast(Any, SimpleNamespace(plan=example)))
    (_, hardware), bits = page.blocks[0]["blocks"], page.blocks[1]
    listed = {row[1][0]: int(row[0][0]) for row in hardware["rows"]}
    assert listed[f"ground wire, to {example.job.document.bridge.ground_at}"] == 1
    assert [line for card in example.cards for line in card.do if "ground wire" in line]
    holding = [
        number for words, number in listed.items() if re.search(r"(inserts|machine screws|screws?),", words)
    ]
    held = [bore for bore in example.every_cut.bores if bore.screw is not None]
    inserts = example.job.document.neck_inserts
    assert sum(holding) == len(held) + (0 if inserts is None else 2 * len(inserts.places))
    used = {f"{step.bit.in_words}" for bore in example.every_cut.bores for step in bore.steps}
    assert {row[0][0] for row in bits["rows"] if not row[0][0].startswith("router")} == {
        in_unit(each, "mm") for each in used
    }


def test_its_body_can_be_hung_on_a_shoulder(example: Plan) -> None:
    # Common practice, no source: bare bodies of guitars and basses weigh about 1.4 to 3 kg.
    layout = example.layout
    body = make_body(layout.outline, layout.thickness, example.features, form=layout.body)
    weight = weigh(body, *layer_densities(layout.body))
    assert 1.4 < weight.kg < 3.0
    # And it hangs level across: a hand's breadth at most to either side.
    assert abs(weight.centre.y) < 40


def test_each_has_a_body_and_a_name_of_its_own() -> None:
    documents = [parse_job(text).job.document for text in EXAMPLES.values()]
    assert len({tuple(parse_job(text).job.outline.points) for text in EXAMPLES.values()}) == len(EXAMPLES)
    assert len({each.name for each in documents}) == len(EXAMPLES)


@pytest.mark.parametrize("name", EXAMPLES)
def test_its_paragraph_is_a_few_plain_sentences(name: str) -> None:
    told = examples()[name]
    assert 200 < len(told.about) < 520
    assert told.about.startswith(f"{told.line}. ")
    assert 20 < len(told.line) < 110
    assert told.about.endswith("Invented.")


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize("name", EXAMPLES)
def test_a_job_begun_from_one_stops_nowhere_and_nothing_of_it_is_measured(name: str, hand: str) -> None:
    text = begun_like(examples()[name], name="Mine", handed=hand)
    unsearched = re.sub(r"(?ms)^\[\[tunnels\]\].*?(?=^\[(?!\[tunnels))", "", text)
    planned = plan(*parse_job(unsearched))
    assert not planned.stops
    document = planned.job.document
    assert (document.name, document.handed, document.date) == ("Mine", hand, None)
    stated = list(dimensions(document))
    assert len(stated) > 20
    assert not [each for each in stated if each.measured]
    # What was told with a ± is told as it was without.
    before = list(dimensions(parse_job(EXAMPLES[name]).job.document))
    assert [each.mm for each in stated] == [each.mm for each in before]
    assert sum(each.measured for each in before) > 20


def dimensions(value: object) -> Iterator[Dimension]:
    if isinstance(value, Dimension):
        yield value
    elif isinstance(value, BaseModel):
        for name in type(value).model_fields:
            yield from dimensions(getattr(value, name))
    elif isinstance(value, tuple | list):
        for each in value:
            yield from dimensions(each)


class TestNewLike:
    def test_alone_it_lists_them_with_a_line_each(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["new", "--like"]) == 0
        lines = capsys.readouterr().out.splitlines()
        assert [line.split()[0] for line in lines] == list(EXAMPLES)
        for line, each in zip(lines, examples().values(), strict=True):
            assert line.endswith(each.line)

    def test_an_unknown_name_is_told_with_the_list(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        path = tmp_path / "mine.toml"
        assert main(["new", str(path), "--like", "harp"]) == 2
        said = capsys.readouterr().err
        assert 'there is no example "harp"' in said
        assert all(name in said for name in EXAMPLES)
        assert not path.exists()

    def test_it_makes_a_job_of_the_files_name(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        path = tmp_path / "my bass.toml"
        assert main(["new", str(path), "--like", "bass-four-string", "--hand", "left"]) == 0
        assert main(["check", str(path)]) == 0
        said = capsys.readouterr().out
        assert "my bass, revision A, left-handed: no DO NOT CUT" in said
        assert "not yet measured" in said
        assert main(["new", str(path), "--like", "headless"]) == 2

    @pytest.mark.parametrize(
        "more", [["--units", "in"], ["--instrument", "six-string"], ["--loading", "top-load"]]
    )
    def test_what_an_example_has_already_is_not_asked_again(
        self, tmp_path: Path, more: list[str], capsys: pytest.CaptureFixture[str]
    ) -> None:
        path = tmp_path / "mine.toml"
        assert main(["new", str(path), "--like", "headless", *more]) == 2
        assert "only --hand can be chosen" in capsys.readouterr().err
        assert not path.exists()

    def test_without_a_file_it_asks_for_one(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["new"]) == 2
        assert "name the file to make" in capsys.readouterr().err
