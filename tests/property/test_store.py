"""The store against a plain list kept beside it: revisions, undo and redo; exports that come back as they went."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from scribeline.job import parse_job, set_value
from scribeline.scenario import demo_jobs
from scribeline.store import (
    BitKept,
    Conflict,
    Measured,
    Store,
    StoreError,
    changes_between,
    open_store,
)

from ..torture import examples

TEXT = demo_jobs()["marram.toml"]
NOW = datetime(2026, 11, 25, 10, 0, tzinfo=UTC)


class Editing(RuleBasedStateMachine):
    """Saves, undoes and redoes as a text editor would, and as a shop with two tablets would."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.store = open_store(Path(self.folder.name) / "shop.db")
        self.texts: list[str] = []
        self.undone: list[str] = []
        self.behind: list[str] = []

    def teardown(self) -> None:
        self.store.close()
        self.folder.cleanup()

    @initialize()
    def begin(self) -> None:
        self.job = self.store.create("a = 0\n", by="Ann").job_id
        self.texts = ["a = 0\n"]

    @rule(value=st.integers(0, 3))
    def save(self, value: int) -> None:
        text = f"a = {value}\n"
        made = self.store.save(self.job, text, based_on=len(self.texts), by="Ann")
        if text != self.texts[-1]:
            self.behind.append(self.texts[-1])
            self.texts.append(text)
            self.undone.clear()
        assert made.number == len(self.texts)

    @rule(value=st.integers(0, 3), late=st.integers(1, 3))
    def save_late(self, value: int, late: int) -> None:
        based_on = len(self.texts) - late
        if based_on < 1:
            return
        with pytest.raises(Conflict) as caught:
            self.store.save(self.job, f"a = {value}\n", based_on=based_on, by="Ben")
        assert caught.value.theirs.text == self.texts[-1]
        assert caught.value.base.text == self.texts[based_on - 1]

    @precondition(lambda self: self.behind)
    @rule()
    def undo(self) -> None:
        made = self.store.undo(self.job, based_on=len(self.texts), by="Ann")
        self.undone.append(self.texts[-1])
        self.texts.append(self.behind.pop())
        assert made.text == self.texts[-1]

    @precondition(lambda self: self.undone)
    @rule()
    def redo(self) -> None:
        made = self.store.redo(self.job, based_on=len(self.texts), by="Ann")
        self.behind.append(self.texts[-1])
        self.texts.append(self.undone.pop())
        assert made.text == self.texts[-1]

    @invariant()
    def everything_stands(self) -> None:
        if not self.texts:
            return
        assert [each.text for each in self.store.history(self.job)] == self.texts
        assert self.store.can_undo(self.job) == bool(self.behind)
        assert self.store.can_redo(self.job) == bool(self.undone)
        (entry,) = self.store.jobs()
        assert entry.revision == len(self.texts)


Editing.TestCase.settings = settings(max_examples=examples(25), stateful_step_count=15, deadline=None)
TestEditing = Editing.TestCase


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Store:
    return open_store(tmp_path_factory.mktemp("store") / "shop.db")


coordinates = st.floats(-2000, 2000)
names = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cs", "Cc", "Zl", "Zp")), min_size=1, max_size=30
).filter(lambda text: text.strip() != "")


@st.composite
def holes(draw: st.DrawFn) -> dict[str, Any]:
    bit = {
        "kind": draw(st.sampled_from(["twist", "brad-point"])),
        "diameter": 3.5,
        "point": draw(st.floats(0, 5)),
    }
    return {
        "id": draw(names),
        "role": draw(names),
        "face": "top",
        "group": "string holes",
        "at": [draw(coordinates) for _ in range(3)],
        "axis": [0.0, 0.0, -1.0],
        "steps": [
            {"no": 1, "diameter": draw(st.floats(0.5, 30)), "depth": draw(st.floats(0, 60)), "bit": bit}
        ],
    }


@given(
    cuts=st.lists(holes(), max_size=3, unique_by=lambda hole: hole["id"]),  # a step makes each cut once
    values=st.lists(st.floats(-3000, 3000), max_size=3),
    by=names,
    yes=st.booleans(),
)
@settings(max_examples=examples(40), deadline=None)
def test_what_was_recorded_comes_back_bit_for_bit(
    store: Store, cuts: list[dict[str, Any]], values: list[float], by: str, yes: bool
) -> None:
    """A job exported with its record, read by the job reader and imported again, is the same to the last bit."""
    made = store.create(TEXT, by="Ann")
    store.tick(made.job_id, "drill-string-holes", by=by, revision=1, features=cuts)
    for value in values:
        store.read(made.job_id, "check-neck", value, by=by, with_what="rule", revision=1)
    store.read(made.job_id, "scrap-screw", None, yes=yes, by=by, with_what="", revision=1)
    text = store.export(made.job_id, with_record=True)
    record = parse_job(text).record
    assert [cut.at for cut in record.done[0].cuts] == [tuple(cut["at"]) for cut in cuts]
    again = store.import_(text, "Ben")
    assert again.text == TEXT
    assert store.ticks(again.job_id)[0].features == store.ticks(made.job_id)[0].features
    assert store.ticks(again.job_id)[0].at == store.ticks(made.job_id)[0].at
    assert [(r.value_mm, r.yes, r.by, r.at) for r in store.readings(again.job_id)] == [
        (r.value_mm, r.yes, r.by, r.at) for r in store.readings(made.job_id)
    ]


@given(
    mine=st.dictionaries(
        st.sampled_from(["bridge.spacing", "nut.width", "strings[2].gauge"]), st.floats(8, 12), min_size=1
    ),
    theirs=st.dictionaries(
        st.sampled_from(["bridge.spacing", "nut.edge", "strings[2].gauge"]), st.floats(8, 12)
    ),
)
@settings(max_examples=examples(40), deadline=None)
def test_two_edits_are_put_together_only_where_they_do_not_touch(
    mine: dict[str, float], theirs: dict[str, float]
) -> None:
    from scribeline.store.difference import merged

    def edited(changes: dict[str, float]) -> str:
        text = TEXT
        for key, value in changes.items():
            text, _ = set_value(text, key, value)
        return text

    both = merged(TEXT, mine=edited(mine), theirs=edited(theirs))
    fought_over = {key for key in mine if key in theirs and mine[key] != theirs[key]}
    if fought_over:
        assert both is None
    else:
        assert both is not None
        assert changes_between(both, edited({**theirs, **mine})) == ()


@given(value=st.floats(-3000, 3000), plus_minus=st.floats(0.001, 10))
@settings(max_examples=examples(40), deadline=None)
def test_a_measured_part_goes_into_a_job_as_it_was_measured(value: float, plus_minus: float) -> None:
    """The text of a measurement, read by the reader of lengths, is the measurement again."""
    from scribeline.lengths import read_length

    read = read_length(Measured(abs(value), plus_minus, "Ann", "caliper", NOW).stated)
    assert read.mm == pytest.approx(abs(value), abs=1e-6)
    assert read.plus_minus_mm == pytest.approx(plus_minus, abs=1e-6)


def test_the_parts_book_keeps_the_newest_of_each_dimension(store: Store) -> None:
    first = Measured(10.55, 0.05, "Ann", "caliper", NOW)
    second = Measured(10.58, 0.02, "Ben", "caliper", NOW)
    store.save_part("bridge", "the shop's plate", {"spacing": first, "plate_length": first})
    entry = store.save_part(
        "bridge", "the shop's plate", {"spacing": second}, details={"screws": [[38.0, -29.0], [38.0, 29.0]]}
    )
    assert entry.dimensions == {"spacing": second, "plate_length": first}
    assert entry.details == {"screws": [[38.0, -29.0], [38.0, 29.0]]}
    assert store.parts("bridge") == (entry,)
    assert store.parts("ferrule") == ()


def test_the_drill_box_is_kept_as_it_was_said(store: Store) -> None:
    box = (BitKept("twist", "15/64"), BitKept("brad_point", "3.5", point=1.1, reach=60.0))
    assert store.save_bits(box, by="Ann") == box
    assert store.bits() == box
    with pytest.raises(StoreError, match="cannot read"):
        store.save_bits([BitKept("twist", "thick")], by="Ann")
    assert store.bits() == box
