"""Whatever a first job file is begun as, it can be planned as it stands, and says that nothing of it is measured."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import get_args

import pytest
from pydantic import BaseModel

from scribeline.job import Instrument, parse_job, set_value, starter_job, with_string_ends
from scribeline.job.body import Body
from scribeline.job.document import Document
from scribeline.lengths import JobUnit
from scribeline.plan import plan

INSTRUMENTS: tuple[Instrument, ...] = get_args(Instrument)
COUNT = {"six-string": 6, "seven-string": 7, "four-string bass": 4}


@pytest.mark.parametrize("instrument", INSTRUMENTS)
@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("handed", ["right", "left"])
def test_a_first_job_stops_nowhere_and_is_typical(
    instrument: Instrument, units: JobUnit, handed: str
) -> None:
    planned = plan(*parse_job(starter_job(name="First", units=units, handed=handed, instrument=instrument)))
    assert not planned.stops
    # Of itself it gives no cause for care but that nobody has measured it, and what an inch shop's sixty-fourths round.
    cautions = {each.code for each in planned.findings if each.severity == "caution"}
    assert {code.partition(".")[0] for code in cautions} <= {"typical", "rounding"}
    assert len(planned.layout.strings) == COUNT[instrument]
    assert {"typical.bridge", "typical.ferrules", "typical.body-thickness"} <= {
        each.code for each in planned.findings
    }


@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_units_change_the_numbers_and_hardly_the_instrument(instrument: Instrument) -> None:
    metric, inch = (
        plan(*parse_job(starter_job(name="First", units=units, handed="right", instrument=instrument)))
        for units in ("mm", "in")
    )
    # A sixteenth of an inch is the coarsest step an inch shop would take for any of these.
    assert inch.layout.scale == pytest.approx(metric.layout.scale, abs=1.6)
    assert inch.layout.bridge_line == pytest.approx(metric.layout.bridge_line, abs=1.6)


def stated_lengths(value: object) -> Iterator[float | str]:
    """Every number of a job but the counts."""
    if isinstance(value, dict):
        for key, each in value.items():
            if key not in {"scribeline", "frets", "bits"}:
                yield from stated_lengths(each)
    elif isinstance(value, list):
        for each in value:
            yield from stated_lengths(each)
    elif isinstance(value, int | float) or (isinstance(value, str) and re.search(r"\d", value)):
        yield value


@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_an_inch_starter_has_the_sizes_a_rule_or_a_caliper_shows(instrument: Instrument) -> None:
    """No 25.197: halves to 64ths, as inch rules are marked, or thousandths of what is small enough for a caliper."""
    begun = tomllib.loads(starter_job(name="First", units="in", handed="right", instrument=instrument))
    lengths = [each for table in begun.values() if isinstance(table, dict) for each in stated_lengths(table)]
    lengths += list(stated_lengths(begun["pockets"]))
    assert len(lengths) > 25
    for each in lengths:
        if isinstance(each, str):
            fraction = re.fullmatch(r"-?(?:\d+ )?\d+/(\d+)", each)
            if fraction is not None:
                assert int(fraction[1]) in {2, 4, 8, 16, 32, 64}
            continue
        assert each == round(each, 3)
        assert abs(each) < 0.25 or each == int(each)


@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_an_inch_shop_begins_with_inch_bits_and_lacks_none(instrument: Instrument) -> None:
    planned = plan(*parse_job(starter_job(name="First", units="in", handed="right", instrument=instrument)))
    bits = planned.job.document.bits
    assert all(each.label.startswith("#") or "/" in each.label for each in (*bits.twist, *bits.router))
    assert any("/" in each.label for each in bits.brad_point)
    assert all(step.bit.owned for bore in planned.features.bores for step in bore.steps)
    # What a typical part wants of the box an inch box does as well as a metric one.
    assert {each.code for each in planned.findings if not each.code.startswith("rounding")} == {
        each.code
        for each in plan(
            *parse_job(starter_job(name="First", units="mm", handed="right", instrument=instrument))
        ).findings
    }


def tables_of(model: type[BaseModel], name: str = "") -> Iterator[str]:
    """The tables of the job file that are stated under their own head, down to those of the body."""
    for key, field in model.model_fields.items():
        inner = [each for each in (field.annotation, *get_args(field.annotation)) if isinstance(each, type)]
        for each in inner:
            if issubclass(each, BaseModel):
                yield f"{name}{key}"
                if each is Body:
                    yield from tables_of(each, f"{key}.")


def examples(text: str) -> Iterator[str]:
    """The tables that a starter explains in comments, as a job would have them."""
    for paragraph in text.split("\n\n"):
        lines = paragraph.strip().splitlines()
        heads = [number for number, line in enumerate(lines) if line.startswith("# [")]
        if heads and all(line.startswith("#") for line in lines):
            yield "\n".join(line.removeprefix("# ") for line in lines[heads[0] :])


@pytest.mark.parametrize("units", ["mm", "in"])
def test_every_table_of_a_job_file_is_explained(units: JobUnit) -> None:
    text = starter_job(name="First", units=units, handed="right")
    named = set(re.findall(r"\[{1,2}([a-z_.]+)\]{1,2}", text))
    assert set(tables_of(Document)) - named == set()


@pytest.mark.parametrize("units", ["mm", "in"])
def test_what_is_explained_in_comments_can_be_used_as_it_stands(units: JobUnit) -> None:
    text = starter_job(name="First", units=units, handed="right")
    shown = list(examples(text))
    assert len(shown) >= 10
    for example in shown:
        parse_job(f"{text}\n{example}\n")
    # All but the cap, the lower horn and inserts in place of screws at once: what a whole guitar has.
    whole = "\n".join(example for example in shown if not re.match(r"\[+(body|neck_inserts)", example))
    planned = plan(*parse_job(f"{text}\n{whole}\n"))
    assert not planned.stops
    assert {bore.group for bore in planned.features.bores} >= {
        "neck screws",
        "strap buttons",
        "pickup ring screws",
    }


def test_comments_stay() -> None:
    text = starter_job(name="First", units="mm", handed="right", instrument="four-string bass")
    assert "# the pocket's end wall, from the nut" in text
    assert text.count("[[strings]]") == 4


@pytest.mark.parametrize("instrument", INSTRUMENTS)
@pytest.mark.parametrize("units", ["mm", "in"])
def test_strings_may_end_in_the_plate_and_change_their_mind(instrument: Instrument, units: JobUnit) -> None:
    text = starter_job(name="First", units=units, handed="left", instrument=instrument, loading="top-load")
    planned = plan(*parse_job(text))
    assert not planned.stops
    assert planned.job.document.ferrules is None
    assert not planned.features.family("string-hole")
    assert not any(
        "string hole" in each.message for each in planned.findings if each.code.startswith("typical")
    )
    through = with_string_ends(set_value(text, "bridge.loading", "through-body")[0])
    planned = plan(*parse_job(through))
    assert len(planned.features.family("ferrule-hole")) == COUNT[instrument]
    assert with_string_ends(through) == through
