"""The file of the shop's tests: what is read, what is refused and in which words, what a job takes from it."""

from __future__ import annotations

import datetime as dt
import pickle
import re
from collections.abc import Mapping
from pathlib import Path

import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from scribeline.job import JobError, NewTest, parse_job, parse_shop_tests, set_value, strike_test, with_test
from scribeline.lengths import without_marks
from scribeline.proving import KINDS
from scribeline.scenario import demo_jobs
from scribeline.tables import usual_accuracies

TODAY = dt.date(2026, 11, 30)
ONE: Mapping[str, list[str]] = {
    "table-square": ["0.4", "0", "0.2", "0.2"],
    "collar-centring": ["1.55", "1.65", "1.75", "1.65"],
    "bit-runout": ["0.06", "0.08"],
    "print-scale": ["199.8", "200.1"],
    "flip-registration": ["0.2", "0.24", "0.18"],
    "trial-marks": ["0.1", "-0.2", "0.15"],
}
"""Sound readings of each kind."""


def of(kind: str, readings: list[str] | None = None, **others: object) -> NewTest:
    """A test as it is typed; a row of trial marks is of the awl's."""
    if kind == "trial-marks":
        others.setdefault("method", "prick-awl")
    return NewTest(kind, ONE[kind] if readings is None else readings, **others)  # type: ignore[arg-type]


def refused(new: NewTest, before: str | None = None, unit: str = "mm") -> str:
    """The sentence with which a test is not taken."""
    with pytest.raises(JobError) as error:
        with_test(new, before=before, unit=unit, today=TODAY)  # type: ignore[arg-type]
    return str(error.value)


def test_every_kind_is_kept_and_read_back() -> None:
    """One of each in one file: in its order, with its result, the comments of a builder untouched."""
    text = None
    for kind in KINDS:
        text = with_test(of(kind, by="Ada", on=TODAY, note="a dry day"), before=text, today=TODAY)
    assert text is not None
    text = text.replace("units =", "# ours\nunits =")
    tests = parse_shop_tests(text, today=TODAY)
    assert [each.kind for each in tests.tests] == list(KINDS)
    assert all(tests.result(each).figures for each in tests.tests)
    assert {each.by for each in tests.tests} == {"Ada"}
    more = with_test(of("trial-marks", ["0.3", "0.2", "-0.1"], method="mark-knife"), before=text)
    assert more.startswith(text.rstrip())
    assert set(tests.learnt) == {"lean-press", "template-collar", "print-scale", "flip-pin", "prick-awl"}


def test_every_kind_says_how_in_words_that_can_be_followed() -> None:
    """Steps, places, a machine whose cautions are known; what can hurt is unplugged first."""
    from scribeline.steps.cautions import of_shop_test

    for kind in KINDS.values():
        assert of_shop_test(kind, "") or kind.name == "print-scale"
        assert len(kind.how) >= 3
        assert kind.places
        if kind.name in {"table-square", "bit-runout", "collar-centring"}:
            assert any("Unplug" in each for each in kind.how)
    marks = KINDS["trial-marks"]
    assert "both hands on the drill" in " ".join(of_shop_test(marks, "lean-hand"))
    assert "shank fully home in the collet" in " ".join(of_shop_test(marks, "depth-router"))
    assert "A pin in the table stabs" in " ".join(of_shop_test(KINDS["flip-registration"], ""))


@pytest.mark.parametrize(
    ("new", "says"),
    [
        (of("trial-marks", ["0.1", "0.2"]), "2 given, and 3 is the least"),
        (of("table-square", ["0.4", "0"]), "this test has 4: front, back, left, right"),
        (of("print-scale", ["200", "199.9", "200.1"]), "rounds of 2: across, up"),
        (of("trial-marks", on=dt.date(2999, 1, 1)), "2999-01-01 is not yet"),
        (of("trial-marks", method="prick-alw"), 'did you mean "prick-awl"'),
        (NewTest("trial-marks", ONE["trial-marks"]), "say which method was tried"),
        (of("trial-marks", read_with="prick-awl"), "reads nothing"),
        (of("trial-marks", ["0.1", "x", "0.2"]), "annot read"),
        (of("trial-marks", ["0.1", "0.2", "30"]), "no. 3 reads as 30.00 mm"),
        (of("trial-marks", ["1", "-20", "3"], method="lean-hand"), "more than 10°"),
        (of("trial-marks", method="lean-hand", read_with="caliper"), "the readings are angles"),
        (of("table-square", at="4"), "If it was measured in inches, write 4 in"),
        (of("flip-registration", at="100"), "asks for no length"),
        (of("print-scale", ["7.87", "7.86"]), "Did you mean 7.87 in?"),
        (of("print-scale", ["20", "19.98"]), "Did you mean 20 cm?"),
        (of("print-scale", ["150", "200"]), "no printer is so far off"),
        (of("bit-runout", method="bit-brad"), "tells of no method"),
        (NewTest("wire", ["1"]), "there is no kind of test"),
    ],
)
def test_what_cannot_be_is_refused_in_words(new: NewTest, says: str) -> None:
    """Nothing is added, and the sentence says what is wrong."""
    assert says in refused(new)


@pytest.mark.parametrize(
    ("kind", "inches"),
    [
        ("trial-marks", ["0.004", "-0.008", "0.006"]),
        ("flip-registration", ["0.008", "0.009", "0.007"]),
        ("bit-runout", ["0.003", "0.003"]),
        ("table-square", ["0.016", "0", "0.008", "0.008"]),
        ("collar-centring", ["0.061", "0.065", "0.069", "0.065"]),
    ],
)
def test_readings_25_times_off_are_asked_about(kind: str, inches: list[str]) -> None:
    """Typed in inches and read as millimetres, or the other way; with the unit written each is taken as it stands."""
    assert "were they measured in inches" in refused(of(kind, inches))
    assert "measured in millimetres" in refused(of(kind), unit="in")
    with_test(of(kind, [f"{each} in" for each in inches]), before=None)
    with_test(of(kind, [f"{each} mm" for each in inches]), before=None)
    with_test(of(kind, inches), before=None, unit="in")


def test_a_test_that_stands_there_already_is_asked_about() -> None:
    """The same readings of the same day: kept once, unless they are of another machine or the first is struck."""
    text = with_test(of("table-square", on=TODAY), before=None)
    assert "stand as no. 1 already" in refused(of("table-square", on=TODAY), text)
    with_test(of("table-square", on=TODAY, machine="the small press"), before=text)
    with_test(of("table-square", on=TODAY), before=strike_test(text, 1, "the wire rubbed"))


def test_a_table_swung_again_the_same_day_counts_once() -> None:
    """Swung, shimmed, swung again: the later one stands, and says so of the first."""
    text = with_test(of("table-square", on=TODAY), before=None)
    tests = parse_shop_tests(
        with_test(of("table-square", ["0.1", "0", "0.05", "0.05"], on=TODAY), before=text)
    )
    assert "done again that day (no. 2)" in tests.standing(tests.tests[0])
    assert tests.learnt["lean-press"].readings == 2


def test_a_struck_test_stays_and_teaches_nothing() -> None:
    """With its reason; it can count again."""
    text = with_test(of("trial-marks"), before=None)
    struck = strike_test(text, 1, "the caliper was not set to 0")
    tests = parse_shop_tests(struck)
    assert tests.tests[0].struck == "the caliper was not set to 0"
    assert not tests.learnt
    assert tests.accuracies["prick-awl"] == usual_accuracies()["prick-awl"]
    assert parse_shop_tests(strike_test(struck, 1, "")).learnt
    with pytest.raises(JobError, match=r"there is no test no\. 2"):
        strike_test(text, 2, "no")


def test_faults_of_a_file_are_told_together_with_their_lines() -> None:
    """A file written by hand: every fault in one go, by its key and line."""
    text = with_test(of("trial-marks"), before=None).replace('"0.1 mm"', "true").replace("prick-awl", "awl")
    text += '\n[[tests]]\nkind = "table-square"\nreadings = [1]\ncolour = "red"\n'
    with pytest.raises(JobError) as error:
        parse_shop_tests(text)
    assert 'there is no key "colour"' in str(error.value)
    with pytest.raises(JobError) as error:
        parse_shop_tests(text.replace('colour = "red"\n', ""))
    assert [each.path for each in error.value.faults] == [
        "tests[1].method",
        "tests[1].readings",
        "tests[2].readings",
    ]
    assert [each.line for each in error.value.faults] == [6, 7, 11]


def test_a_job_takes_its_shops_accuracies(tmp_path: Path) -> None:
    """`bench.shop` names the file; without it the usual ones count; a fault is told by that key; they travel with the job."""
    (demo, *_) = demo_jobs().values()
    assert parse_job(demo).job.accuracies == usual_accuracies()
    text, _ = set_value(demo, "bench.shop", "shop.toml")
    with pytest.raises(JobError, match=r"bench\.shop.*no file shop\.toml with the job"):
        parse_job(text, folder=tmp_path)
    marks = ["0.05", "-0.06", "0.04", "0.02", "-0.07"] * 5
    (tmp_path / "shop.toml").write_text(with_test(of("trial-marks", marks), before=None), encoding="utf-8")
    job = parse_job(text, folder=tmp_path).job
    assert job.accuracies["prick-awl"].sd < 0.12
    assert "25 readings of this shop in 1 test" in job.accuracies["prick-awl"].source
    assert job.accuracies["rule"] == usual_accuracies()["rule"]
    assert pickle.loads(pickle.dumps(job)).accuracies == job.accuracies
    (tmp_path / "shop.toml").write_text("scribeline_shop = 2", encoding="utf-8")
    with pytest.raises(JobError, match=r"bench\.shop"):
        parse_job(text, folder=tmp_path)
    with pytest.raises(JobError, match="without folders"):
        parse_job(text.replace('"shop.toml"', '"../shop.toml"'), folder=tmp_path, only_beside=True)


def test_what_to_test_next_begins_with_the_greatest_guess() -> None:
    """A method that is tested enough leaves the list; what only reads comes last."""
    none = parse_shop_tests('scribeline_shop = 1\nunits = "mm"\n')
    assert none.next[0].readings == 0
    weights = [each.weight for each in none.next if each.accuracy.key not in {"tape", "tape-hook", "rule"}]
    assert weights[:8] == sorted(weights[:8], reverse=True)
    assert none.next[-1].accuracy.key in {"caliper", "dial", "feeler", "angle-gauge", "rule-cut"}
    text = with_test(of("trial-marks", ["0.1", "-0.15", "0.2", "-0.05"] * 5), before=None)
    assert "prick-awl" not in {each.accuracy.key for each in parse_shop_tests(text).next}


def test_the_file_that_the_document_shows_is_read() -> None:
    """As it stands in docs/shop-tests.md."""
    page = (Path(__file__).parents[2] / "docs" / "shop-tests.md").read_text(encoding="utf-8")
    shown = re.search(r"```\n(scribeline_shop.*?)```", page, re.S)
    assert shown is not None
    tests = parse_shop_tests(shown[1], today=TODAY)
    assert [each.kind for each in tests.tests] == ["table-square", "trial-marks"]
    assert set(tests.learnt) == {"lean-press"}


VALUES = st.one_of(
    st.text(max_size=12),
    st.floats(),
    st.integers(-(10**30), 10**30),
    st.booleans(),
    st.lists(st.integers(), max_size=2),
    st.dates(),
    st.sampled_from(["0.1 mm", "1/64", "-0.2", "0.5 deg", "1 1/2 in"]),
)


@settings(max_examples=300, deadline=None)
@given(
    kind=st.sampled_from([*KINDS, "wire"]),
    readings=st.lists(VALUES, max_size=6),
    others=st.dictionaries(
        st.sampled_from(
            ["method", "at", "read_with", "besides", "machine", "on", "note", "struck", "colour"]
        ),
        VALUES,
    ),
)
def test_whatever_a_file_holds_is_read_or_refused_in_words(
    kind: str, readings: list[object], others: dict[str, object]
) -> None:
    """No value of TOML ends in anything but tests with results, or faults with sentences."""
    file = {"scribeline_shop": 1, "units": "mm", "tests": [{"kind": kind, "readings": readings, **others}]}
    try:
        text = tomlkit.dumps(file)
    except (ValueError, TypeError):
        return
    try:
        tests = parse_shop_tests(text)
    except JobError as error:
        refused = error.faults
    else:
        assert all(tests.result(each).figures for each in tests.tests)
        assert all(each.sd > 0 for each in tests.accuracies.values())
        return
    assert all(each.sentence for each in refused)


@settings(max_examples=200, deadline=None)
@given(
    kind=st.sampled_from(list(KINDS)),
    readings=st.lists(
        st.one_of(st.text(max_size=10), st.sampled_from(["0.1", "-0.2", "1/64", "200"])), max_size=5
    ),
    method=st.sampled_from(["", "prick-awl", "lean-hand", "x"]),
    words=st.text(max_size=20),
)
def test_whatever_is_typed_is_kept_or_refused_in_words(
    kind: str, readings: list[str], method: str, words: str
) -> None:
    """What is kept can be read again, the builder's own words as they were typed."""
    new = NewTest(kind, readings, method, machine=words, note=words)
    try:
        text = with_test(new, before=None)
    except JobError as error:
        refused = error.faults
    else:
        (kept,) = parse_shop_tests(text).tests
        assert kept.note == without_marks(words)
        return
    assert all(each.sentence for each in refused)
