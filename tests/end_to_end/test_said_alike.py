"""One place has one number wherever it is printed, and a builder's own words stay the builder's in either unit."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scribeline.cli import main
from scribeline.drawing.sheet import Clip, Item, Text
from scribeline.drawing.sheets.bridge import bridge_pages
from scribeline.drawing.sheets.office import Office
from scribeline.drawing.sheets.plans import along_the_centreline, bridge_stations
from scribeline.job import JobError, parse_job
from scribeline.lengths import decimal, in_unit, said
from scribeline.plan import Plan, plan
from scribeline.plan.record import as_json

from ..conftest import DEMO, FULL, SHIPPED, Edit, in_inches

Run = Callable[..., str]


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """What a command says about a job, on one line."""

    def ran(command: str, *words: str, text: str = DEMO) -> str:
        job = tmp_path / "job.toml"
        job.write_text(text, encoding="utf-8")
        assert main([command, str(job), *words]) in (0, 1)
        return " ".join(capsys.readouterr().out.replace("\xa0", " ").split())

    return ran


@given(hundredths=st.integers(-200_000, 200_000), noise=st.sampled_from((-1e-11, -1e-13, 0.0, 1e-13, 1e-11)))
def test_what_stands_at_a_half_is_rounded_away_from_zero_whatever_the_float(
    hundredths: int, noise: float
) -> None:
    """Decimal arithmetic knows no noise: 341.645 is 341.65 and not, on another page, 341.64."""
    half = Decimal(hundredths) / 100 + Decimal("0.005")
    rounded = half.quantize(Decimal("0.01"), ROUND_HALF_UP)
    assert decimal(float(half) + noise) == f"{rounded + 0:.2f}".replace("-0.00", "0.00")


def test_inches_come_from_the_length_and_not_from_its_millimetres() -> None:
    """1 3/4 in is 44.45 mm exactly, which one decimal shows as 44.5."""
    assert in_unit(f"In scrap {said(44.45, 1)} thick", "in") == "In scrap 1.750 in (44.5 mm) thick"
    assert in_unit(f"In scrap {said(44.45, 1)} thick", "mm") == "In scrap 44.5 mm thick"
    # 3/16 in is 4.7625 mm: 0.1875, but 4.76 mm is 0.187.
    assert in_unit(said(4.7625), "in") == "0.188 in (4.76 mm)"


def texts(items: Iterable[Item]) -> Iterator[str]:
    for item in items:
        if isinstance(item, Clip):
            yield from texts(item.items)
        elif isinstance(item, Text):
            yield item.text


def test_the_set_out_of_the_bridge_rounds_a_row_of_holes_once(edited: Edit) -> None:
    """A row 341.6453 mm from the 12th crown is at 341.65, not at 341.645 and then at 341.64."""
    base = plan(*parse_job(DEMO))
    first = base.features.family("string-hole")[0]
    wanted = 341.6453
    longer = 2 * (wanted - (first.at.x - base.layout.twelfth))
    # Half of what the scale grows lies before the 12th crown, half behind it.
    moved = plan(*parse_job(edited({"scale.length": round(base.layout.scale + longer, 6)})))
    hole = moved.features.family("string-hole")[0]
    assert hole.at.x - moved.layout.twelfth == pytest.approx(wanted, abs=1e-5)
    pages = bridge_pages(Office(moved))[:2]
    printed = {text for page in pages for text in texts(page.items)}
    printed |= {
        cell[0] for page in pages for block in page.blocks for row in block.get("rows", ()) for cell in row
    }
    assert "341.65 mm" in printed
    assert "341.64 mm" not in printed
    for station in bridge_stations(moved):
        if station.name.startswith("screw row"):
            assert station.x in {bore.at.x for bore in moved.features.family("bridge-screw")}


def test_a_blank_of_1_3_4_in_is_called_that_on_every_card() -> None:
    thick = re.sub(r"^thickness = .*", 'thickness = "1 3/4 in +/- 0.01 in"', in_inches(DEMO), flags=re.M)
    said_on_cards = " ".join(words for card in plan(*parse_job(thick)).cards for words in card.do)
    assert re.search(r"\b1\.750 in", said_on_cards)
    assert not re.search(r"\b1\.75[1-9] in", said_on_cards)


def test_a_builders_own_words_are_never_converted(run: Run) -> None:
    """6 mm are 0.236 in and 25 mm are 0.984 in, but a name is a name."""
    named = in_inches(FULL).replace("control cavity", "25 mm cavity")
    named = named.replace("bridge pickup ring screws", "6 mm dowel").replace(
        'name = "volume"', 'name = "16 mm pot"'
    )
    for found in (run("plan", text=named), run("check", text=named), run("tunnels", text=named)):
        assert not re.search(r"0\.236 in \(6 mm\) dowel|0\.984 in \(25 mm\) cavity|\(16 mm\) pot", found)
    assert "6 mm dowel" in run("plan", text=named)
    planned = plan(*parse_job(named))
    cards = " ".join(f"{card.title} {' '.join(card.do)}" for card in planned.cards).replace("\xa0", " ")
    assert "6 mm dowel" in cards
    assert "25 mm cavity" in cards
    assert not re.search(r"\(25 mm\) cavity|\(6 mm\) dowel|\(16 mm\) pot", cards)
    # Another program finds the very name the job has.
    assert '"25 mm cavity"' in as_json(planned)


@pytest.mark.parametrize("hand", ["right", "left"])
def test_measure_tells_what_moved_as_it_is_set_out_in_the_jobs_unit(run: Run, hand: str) -> None:
    """Six strings 10.6 and then 10.4 mm apart: the treble string's hole goes from 26.50 to 26.00 mm, 1.043 to 1.024 in."""
    job = re.sub(r"^handed = .*", f'handed = "{hand}"', in_inches(DEMO), flags=re.M)
    told = run("measure", "bridge.spacing", "10.4 mm +/- 0.05 mm", text=job)
    assert "S1: was 1.043 in (26.50 mm) to the treble, now 1.024 in (26.00 mm) to the treble" in told
    assert "S6: was 1.043 in (26.50 mm) to the bass, now 1.024 in (26.00 mm) to the bass" in told
    assert "at fret 22: was 0." in told
    assert not re.search(r"margin-treble|settled|along was|across was", told)
    metric = re.sub(r"^handed = .*", f'handed = "{hand}"', DEMO, flags=re.M)
    told = run("measure", "bridge.spacing", "10.4 +/- 0.05", text=metric)
    assert "S1: was 26.50 mm to the treble, now 26.00 mm to the treble" in told


def test_the_tail_edge_is_one_place(shipped_plan: Plan) -> None:
    """On the centreline, where the job states it and a tape is hooked: the demo's body reaches further beside it."""
    listed = {row[0][0]: row[3] for row in along_the_centreline(shipped_plan)["rows"]}
    assert listed["tail edge, centreline"][0] == "752.00 mm"
    assert max(p.x for p in shipped_plan.layout.outline) > 780.0
    assert [name for name in listed if "tail" in name] == ["tail edge, centreline"]
    assert shipped_plan.layout.datum("tail").point.x == pytest.approx(752.0, abs=0.01)


def test_examples_are_of_our_own_scenario(capsys: pytest.CaptureFixture[str], edited: Edit) -> None:
    """What a hint shows is a number of the invented demo, not a size that somebody is known by."""
    own = set(re.findall(r"\d+(?:\.\d+)?(?:/\d+)?", SHIPPED))
    printed = {"12 19/32", "12", "19/32"}  # its 12th crown, 320 mm from the nut, in inches
    with pytest.raises(JobError) as refused:
        parse_job(edited({"bridge.spacing": "wide", "body.thickness": [], "nut.width": "1 2 3"}))
    untold = {"bridge.measured": None, "body.thickness": 45, "neck.board_thickness": 6}
    cures = [f.cure for f in plan(*parse_job(edited(untold, FULL))).findings if f.code.startswith("typical")]
    assert main(["measure", "--help"]) == 0
    shown = [fault.sentence for fault in refused.value.faults] + cures + [capsys.readouterr().out]
    examples = [
        found
        for words in shown
        for found in re.findall(r"(?:such as|write it like) ([^.;]*(?:\.\d[^.;]*)*)", words)
    ]
    assert len(examples) >= 5
    for example in examples:
        for number in re.findall(r"(?<![\w.\[])\d+(?:[.,]\d+)?(?:/\d+)?(?![\w\]])", example):
            assert number.replace(",", ".") in own | printed, example
