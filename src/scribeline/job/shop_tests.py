"""The shop's tests: what its machines and hands were tried to do, kept in a file of their own beside its records.

Tests are only added. One that turns out wrong is struck through, with its reason, and stays in the file.
"""

import datetime as dt
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import zip_longest
from pathlib import Path
from typing import Any, Literal

from pydantic import Field, ValidationError

from scribeline.job.faults import Fault, JobError, faults_from, line_of, spelled
from scribeline.job.records import is_bare, not_yet
from scribeline.job.table import BuildersWord, Table
from scribeline.job.toml_text import raw_document, text_of, with_struck
from scribeline.job.values import Reading
from scribeline.lengths import (
    MM_PER_INCH,
    UNITS,
    JobUnit,
    LengthError,
    by_inches,
    either_way,
    job_unit,
    quoted,
    read_angle,
    read_length,
    said,
)
from scribeline.proving import (
    ANGLE_AT_MOST,
    KINDS,
    READERS,
    Kind,
    KindName,
    Learnt,
    Result,
    ShopTest,
    StillGuess,
    accuracies_of,
    done_again,
    in_words,
    is_angle,
    kind_of,
    learnt_by,
    methods_of,
    sample,
    still_guesses,
    wild_in,
)
from scribeline.tables import Accuracies, UnknownName, usual_accuracies

MOST_READINGS = 60
"""Of one test."""
MOST_TESTS = 2000


class StatedTest(Table):
    """One test of the shop, as its file states it."""

    kind: KindName
    method: str = Field(default="", max_length=40, description="key of the accuracy it tells of")
    machine: BuildersWord = Field(
        default="", max_length=60, description="which press, router, printer, bit or hand"
    )
    by: BuildersWord = Field(default="", max_length=60, description="who did it")
    on: dt.date | None = None
    read_with: str = Field(default="", max_length=40, description="key of the accuracy of what read it")
    besides: tuple[str, ...] | None = Field(
        default=None, max_length=6, description="keys of what else is in each reading"
    )
    at: Any = Field(default=None, description="the length that its kind asks for beside the readings")
    readings: tuple[Any, ...] = Field(min_length=1, max_length=MOST_READINGS)
    note: BuildersWord = ""
    struck: BuildersWord = Field(
        default="", description="why it no longer counts; the test stays, struck through"
    )


class ShopFile(Table):
    """A file of the shop's tests."""

    scribeline_shop: Literal[1]
    units: JobUnit
    tests: tuple[StatedTest, ...] = Field(default=(), max_length=MOST_TESTS)


@dataclass(frozen=True)
class ShopTests:
    """All tests of a file, in its order.

    Attributes:
        unit: of its bare numbers.
        tests: those struck through too.
    """

    unit: JobUnit
    tests: tuple[ShopTest, ...] = ()

    @property
    def accuracies(self) -> Accuracies:
        """The shop's own where it has tested, else the usual ones."""
        return accuracies_of(self.tests)

    @property
    def learnt(self) -> Mapping[str, Learnt]:
        """What they teach, by the method's key."""
        return learnt_by(self.tests)

    @property
    def next(self) -> tuple[StillGuess, ...]:
        """What rests on a guess still, the most that is at stake first."""
        return still_guesses(self.tests)

    @property
    def wild(self) -> Mapping[int, tuple[int, ...]]:
        """Readings that stand apart, from 1, by the test's number."""
        return wild_in(self.tests)

    def result(self, test: ShopTest) -> Result:
        """What one of them says."""
        return kind_of(test.kind).result(test, usual_accuracies())

    def wild_words(self, test: ShopTest) -> str:
        """Which readings of a test stand apart, as a sentence; "" for none."""
        apart = self.wild.get(test.no, ())
        if not apart:
            return ""
        unit = usual_accuracies()[test.method].unit
        values = " and ".join(
            f"no. {n} ({test.readings[n - 1]:.2%})"
            if unit == "mm per mm"
            else f"no. {n} ({in_words(test.readings[n - 1], unit)})"
            for n in apart
        )
        stands = "stands" if len(apart) == 1 else "stand"
        return (
            f"Reading {values} {stands} apart from all others of this method and hardly counts. Measure it again; if it was "
            "misread, strike the test through and type it anew"
        )

    def standing(self, test: ShopTest) -> str:
        """Why nothing is learnt from one, as a sentence; "" where something is, or where its kind teaches nothing."""
        if test.struck:
            return f"It is struck through: {test.struck}"
        again = done_again(self.tests).get(test.no)
        if again is not None:
            return f"It was done again that day (no. {again}), and the later one counts"
        return self.result(test).doubt


def read_shop_tests(path: Path, *, today: dt.date | None = None) -> ShopTests:
    """The shop's tests in a file.

    Args:
        path: the file.
        today: what a test may not be dated after; None where nobody knows the day.

    Raises:
        JobError: everything that is wrong with it.
    """
    missing = f"there is no file {path}; start one with: scribeline shop {path} --test KIND --readings …"
    return parse_shop_tests(text_of(path, missing=missing), source=str(path), today=today)


def shop_accuracies(path: Path) -> Accuracies:
    """The accuracies of the shop whose tests a file holds.

    Raises:
        JobError: everything that is wrong with the file.
    """
    missing = (
        f"there is no file {path.name} with the job. Do a test first, on the app's page of tests or with: scribeline shop "
        f"{path.name} --how all"
    )
    return _accuracies(text_of(path, missing=missing), path.name)


@lru_cache(maxsize=8)
def _accuracies(text: str, source: str) -> Accuracies:
    return parse_shop_tests(text, source=source).accuracies


def parse_shop_tests(
    text: str, *, source: str = "the shop's tests", today: dt.date | None = None
) -> ShopTests:
    """The shop's tests in a text.

    Raises:
        JobError: everything that is wrong with it.
    """
    raw = raw_document(text, source)
    unit = job_unit(raw.get("units"))
    try:
        stated = ShopFile.model_validate(raw, context=Reading(unit))
    except ValidationError as error:
        raise JobError(faults_from(error, ShopFile, text), source, unit=unit) from error
    tests, faults = [], []
    for number, each in enumerate(stated.tests):
        reader = _Reader(each, unit)
        tests.append(reader.test(number + 1))
        if today is not None and each.on is not None and each.on > today:
            reader.fault("on", not_yet(each.on, today, "tested"))
        for key, sentence in reader.faults:
            where: tuple[str | int, ...] = ("tests", number, key)
            faults.append(Fault(spelled(where), sentence, line_of(text, where)))
    if faults:
        raise JobError(faults, source, unit=unit)
    return ShopTests(unit, tuple(tests))


class _Reader:
    """Reads one stated test and collects what is wrong with it."""

    def __init__(self, stated: StatedTest, unit: JobUnit) -> None:
        self._stated, self._unit = stated, unit
        self._kind = kind_of(stated.kind)
        self.faults: list[tuple[str, str]] = []

    def fault(self, key: str, sentence: str) -> None:
        """Note what is wrong with a key."""
        self.faults.append((key, sentence))

    def test(self, no: int) -> ShopTest:
        """The test; of no use where there are faults."""
        stated, usual = self._stated, usual_accuracies()
        method = self._method(usual)
        angles = is_angle(method, usual)
        at = self._at()
        readings = self._readings(at, angles=angles)
        read_with = self._key("read_with", stated.read_with or self._usual_reader(method, angles=angles))
        besides = self._kind.besides if stated.besides is None else stated.besides
        checked = tuple(self._key("besides", each) for each in besides)
        self._same_units(method, (read_with, *checked), usual)
        return ShopTest(
            no,
            stated.kind,
            readings,
            method,
            at,
            read_with,
            checked,
            stated.machine,
            stated.by,
            stated.on,
            stated.note,
            stated.struck,
        )

    def _method(self, usual: Accuracies) -> str:
        known, said_so = methods_of(self._kind, usual), self._stated.method
        if not said_so and self._kind.methods is not None:
            return known[0] if known else ""
        if said_so in known:
            return said_so
        if not known:
            self.fault("method", "this kind of test tells of no method; leave it out")
            return ""
        what = "say which method was tried" if not said_so else f"there is no method {quoted(said_so)} here"
        try:
            near = usual[said_so].key if said_so else ""
        except UnknownName as fault:
            near = next((each for each in fault.nearby if each in known), "")
        meant = f'; did you mean "{near}"?' if near in known else f": {', '.join(known)}"
        self.fault("method", f"{what}{meant}")
        return ""

    def _key(self, key: str, name: str) -> str:
        usual = usual_accuracies()
        if not name or name in usual:
            if key == "read_with" and name and name not in READERS:
                self.fault(key, f"{quoted(name)} reads nothing; there is {', '.join(READERS)}")
            return name
        try:
            usual[name]
        except UnknownName as fault:
            self.fault(key, str(fault))
        return ""

    def _usual_reader(self, method: str, *, angles: bool) -> str:
        if method in READERS:
            return ""  # it is tried itself
        return "angle-gauge" if angles else self._kind.reads

    def _same_units(self, method: str, others: Sequence[str], usual: Accuracies) -> None:
        wanted = "rad" if is_angle(method, usual) else "mm"
        wrong = next((each for each in others if each and usual[each].unit != wanted), None)
        if wrong is not None:
            what = "angles" if wanted == "rad" else "lengths"
            self.fault(
                "read_with",
                f"the readings are {what}, and {quoted(wrong)} is not of that kind; choose another",
            )

    def _at(self) -> float | None:
        asked, stated = self._kind.at, self._stated.at
        if stated is None:
            return None if asked is None else asked.usual
        if asked is None:
            self.fault("at", "this kind of test asks for no length beside its readings; leave it out")
            return None
        mm = self._length("at", stated)
        if mm is not None and not asked.low <= mm <= asked.high:
            self.fault("at", f"{asked.words}: {_off(mm, asked.low, asked.high)}")
        return mm

    def _readings(self, at: float | None, *, angles: bool) -> tuple[float, ...]:
        kind, stated = self._kind, self._stated.readings
        if fault := wrong_count(kind, len(stated)):
            self.fault("readings", fault)
        found = []
        for number, each in enumerate(stated, start=1):
            value = self._angle(each) if angles else self._length("readings", each)
            if value is None:
                continue
            if angles:
                if abs(value) > ANGLE_AT_MOST:
                    self.fault(
                        "readings", f"no. {number}, {quoted(str(each))}, is more than 10°; measure it again"
                    )
            elif kind.name == "print-scale" and at is not None:
                if not abs(value / at - 1) <= _BARS_OFF:
                    self.fault("readings", _no_bar(number, value, at))
            elif not kind.low <= value <= kind.high:
                self.fault("readings", f"no. {number} {_off(value, kind.low, kind.high)}")
            found.append(value)
        return tuple(found)

    def _length(self, key: str, value: object) -> float | None:
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            self.fault(key, "wanted a length such as 0.35 or '1/64 in'")
            return None
        try:
            return read_length(value, unit=self._unit).mm
        except LengthError as fault:
            self.fault(key, str(fault))
            return None

    def _angle(self, value: object) -> float | None:
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            self.fault("readings", "wanted an angle such as 0.5 or '0.5 deg'")
            return None
        try:
            return read_angle(value)
        except LengthError as fault:
            self.fault("readings", str(fault))
            return None


_BARS_OFF = 0.1
"""No printer is further off than this share."""
_INCH = float(MM_PER_INCH)


def wrong_count(kind: Kind, count: int) -> str:
    """What is wrong with so many readings of a kind; "" for nothing."""
    names = ", ".join(kind.places)
    if kind.fixed and count != len(kind.places):
        return f"{count} given; this test has {len(kind.places)}: {names}"
    if count < kind.least:
        return f"{count} given, and {kind.least} is the least: fewer say nothing"
    if len(kind.places) > 1 and count % len(kind.places):
        return f"{count} given; they go in rounds of {len(kind.places)}: {names}"
    return (
        f"{count} given, and {MOST_READINGS} is the most; make two tests of them"
        if count > MOST_READINGS
        else ""
    )


def _off(mm: float, low: float, high: float) -> str:
    hint = ""
    if low <= mm * _INCH <= high:
        hint = f". If it was measured in inches, write {mm:g} in"
    elif low <= mm / _INCH <= high:
        hint = f". If it was measured in millimetres, write {mm / _INCH:g} mm"
    return f"reads as {either_way(mm)}; it lies between {either_way(low, high, places=None)}{hint}"


def _no_bar(number: int, mm: float, nominal: float) -> str:
    for times, unit in ((_INCH, "in"), (10.0, "cm"), (1 / _INCH, "mm")):
        if abs(mm * times / nominal - 1) <= _BARS_OFF:
            typed = mm if times > 1 else mm / _INCH
            return f"no. {number} reads as {either_way(mm)}, and the bar is {said(nominal)} long. Did you mean {typed:g} {unit}?"
    return (
        f"no. {number} reads as {either_way(mm)}, and the bar is {said(nominal)} long: no printer is so far off. "
        "Measure from tick to tick, and print at 100 % (actual size)"
    )


@dataclass(frozen=True)
class NewTest:
    """A test as it is typed.

    Attributes:
        kind: its name.
        readings: in any shop form; a bare length is in the file's unit, a bare angle in degrees.
        method: key of the accuracy it tells of; "" for the usual one of its kind.
        at: what its kind asks for beside the readings; "" for what is usual.
        read_with: key of the accuracy of what read it; "" for what is usual.
        besides: keys of what else is in each reading; None for what is usual.
        machine: which one.
        by: who did it.
        on: the day.
        note: anything else.
    """

    kind: str
    readings: Sequence[str]
    method: str = ""
    at: str = ""
    read_with: str = ""
    besides: Sequence[str] | None = None
    machine: str = ""
    by: str = ""
    on: dt.date | None = None
    note: str = ""


_THIS = "this test"


def with_test(
    new: NewTest,
    *,
    before: str | None,
    unit: JobUnit = "mm",
    today: dt.date | None = None,
    once: bool = False,
) -> str:
    """The tests' text with one more at its end; what stood there stays as it is.

    Args:
        new: the test.
        before: the tests so far; None to start them.
        unit: of a file that is started.
        today: what it may not be dated after.
        once: whether one that stands at the end already is that one, sent twice: nothing is added then.

    Raises:
        JobError: it cannot be a test, or can hardly be meant as it is typed. Nothing is added.
    """
    if new.kind not in KINDS:
        sentence = f"there is no kind of test {quoted(new.kind)}; there is {', '.join(KINDS)}"
        raise JobError([Fault("kind", sentence)], _THIS)
    kept = ShopTests(unit) if before is None else parse_shop_tests(before, today=today)
    method = new.method or next(iter(KINDS[new.kind].methods or ()), "")
    angles = is_angle(method, usual_accuracies())
    try:
        readings = [_dressed(each, "deg" if angles else kept.unit) for each in new.readings]
        at = _dressed(new.at, kept.unit) if new.at else ""
    except LengthError as fault:
        raise JobError([Fault("readings", str(fault))], _THIS, unit=kept.unit) from fault
    head = before if before is not None else f'scribeline_shop = 1\nunits = "{unit}"\n'
    text = head.rstrip("\n") + "\n\n" + "\n".join(_lines(new, method, at, readings)) + "\n"
    now = _parsed(text, kept, today)
    added = now.tests[-1]
    if once and before is not None and kept.tests and replace(kept.tests[-1], no=added.no) == added:
        return before
    bare = not angles and all(is_bare(each) for each in new.readings)
    faults = [*_same_again(added, now.tests[:-1]), *(_in_another_unit(added, now.unit) if bare else ())]
    if faults:
        raise JobError(faults, _THIS, unit=now.unit)
    return text


def _parsed(text: str, kept: ShopTests, today: dt.date | None) -> ShopTests:
    """The new text; what is wrong is the new test's, and is told by its own keys."""
    try:
        return parse_shop_tests(text, today=today)
    except JobError as error:
        prefix = f"tests[{len(kept.tests) + 1}]."
        own = [Fault(each.path.removeprefix(prefix), each.sentence) for each in error.faults]
        raise JobError(own, _THIS, unit=kept.unit) from error


def _dressed(typed: str, unit: str) -> str:
    """A reading with its unit: a bare one's is the file's, or degrees."""
    ends_bare = typed.strip()[-1:].isdigit()
    if unit == "deg":
        return f"{typed} deg" if ends_bare else typed
    return f"{typed} {unit}" if ends_bare and is_bare(typed) else typed


def _lines(new: NewTest, method: str, at: str, readings: Sequence[str]) -> Iterator[str]:
    yield "[[tests]]"
    yield f"kind = {_quoted(new.kind)}"
    for key, value in (("method", method), ("machine", new.machine), ("by", new.by)):
        if value:
            yield f"{key} = {_quoted(value)}"
    if new.on is not None:
        yield f"on = {new.on}"
    if new.read_with:
        yield f"read_with = {_quoted(new.read_with)}"
    if new.besides is not None:
        yield f"besides = [{', '.join(map(_quoted, new.besides))}]"
    if at:
        yield f"at = {_quoted(at)}"
    yield f"readings = [{', '.join(map(_quoted, readings))}]"
    if new.note:
        yield f"note = {_quoted(new.note)}"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _same_again(added: ShopTest, before: Sequence[ShopTest]) -> Iterator[Fault]:
    """Query a test that stands there already: a button pressed twice is no second test."""
    for each in before:
        same = (each.kind, each.method, each.machine, each.on, each.readings) == (
            added.kind,
            added.method,
            added.machine,
            added.on,
            added.readings,
        )
        if same and each.counts:
            yield Fault(
                "readings",
                f"the same readings of the same day stand as no. {each.no} already; if they are of another machine, name it",
            )
            return


def _in_another_unit(test: ShopTest, unit: JobUnit) -> Iterator[Fault]:
    """Query bare readings that are believable once they are taken in the other unit."""
    size, low, high = _believable(test)
    if low <= size <= high or size == 0:
        return
    if not by_inches(unit) and size < low <= size * _INCH <= high:
        meant, read_as = "in", "mm"
    elif by_inches(unit) and size > high >= size / _INCH >= low:
        meant, read_as = "mm", "in"
    else:
        return
    words = "inches" if meant == "in" else "millimetres"
    largest = f"{UNITS[unit].of(max(map(abs, test.readings))):.3g}"
    yield Fault(
        "readings",
        f"the largest reads as {largest} {read_as}: were they measured in {words}? Write each with its unit, such as "
        f'"{largest} {meant}" or "{largest} {read_as}", and it is taken as it stands',
    )


def _believable(test: ShopTest) -> tuple[float, float, float]:
    """How large a test's readings are, mm, and between what they usually lie (common practice, no source)."""
    values = test.readings
    match test.kind:
        case "table-square":
            return max(values) - min(values), 0.02, 4.0
        case "bit-runout":
            return sample(values).mean, 0.006, 0.5
        case "collar-centring":
            mean = abs(sample(values).mean)
            return (mean, test.at / 3, test.at * 3) if test.at else (mean, 0.25, 12.0)
        case "print-scale":
            return 0.0, 0.0, 0.0  # each bar is held against what it should measure
        case "flip-registration" | "trial-marks":
            guess = usual_accuracies()[test.method].sd
            rms = (sum(each**2 for each in values) / len(values)) ** 0.5
            return rms, 0.12 * guess, 6 * guess


def only_grown(before: ShopTests, now: ShopTests) -> None:
    """Refuse tests from which one that was kept is gone, or is another; being struck or not is no change.

    Raises:
        JobError: which one.
    """
    for old, new in zip_longest(before.tests, now.tests[: len(before.tests)]):
        if new is None or replace(new, struck=old.struck) != old:
            sentence = f"no. {old.no} is not what it was: tests are only added; strike one through instead"
            raise JobError([Fault("tests", sentence)], "the shop's tests", unit=now.unit)


def strike_test(text: str, no: int, why: str) -> str:
    """The tests' text with one struck through, or, without a reason, counting again; all else stays as it is.

    Args:
        text: the tests.
        no: of the test, from 1.
        why: the reason; "" to let it count again.

    Raises:
        JobError: there is no such test, or no reason that can be kept.
    """
    now = with_struck(text, no, why, table="tests", noun="test", source="the shop's tests")
    parse_shop_tests(now)
    return now
