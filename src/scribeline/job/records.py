"""The shop's records: finished instruments, who set them up and when, and where their saddles ended up.

One that turns out wrong is struck through and stays in the file; of an instrument recorded twice the latest counts.
"""

import datetime as dt
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from pydantic import Field, ValidationError

from scribeline.job.document import Document, FretWire, Scale, Setup, StringStated
from scribeline.job.faults import Fault, JobError, faults_from, line_of, spelled
from scribeline.job.nut import Nut
from scribeline.job.stringing import playing, playing_with, string_specs
from scribeline.job.table import BuildersWord, Table
from scribeline.job.toml_text import raw_document, text_of, with_struck
from scribeline.job.values import Dimension, Mm, Reading, standard_deviation
from scribeline.lengths import (
    MM_PER_INCH,
    JobUnit,
    LengthError,
    by_inches,
    job_unit,
    quoted,
    read_length,
    said,
    span,
)
from scribeline.strings import Record, StringsError, predict

LEAST, MOST = -10.0, 20.0
"""Between which a saddle's place past the scale length is plausible, mm."""


class RecordedString(StringStated):
    """One string of a finished instrument, and where its saddle ended up."""

    saddle: Annotated[float | None, Mm(LEAST, MOST, "the saddle's place")] = Field(
        default=None,
        description="where the string leaves the saddle, past the scale length, measured; leave it out if it was not noted",
    )


class FinishedInstrument(Table):
    """One instrument as it was set up and in tune."""

    name: BuildersWord = Field(min_length=1)
    serial: BuildersWord = Field(
        default="", max_length=60, description="tells instruments that were built from one job apart"
    )
    set_up_by: BuildersWord = Field(default="", max_length=60, description="whose hand set the saddles")
    measured_on: dt.date | None = None
    struck: BuildersWord = Field(
        default="", description="why it no longer counts; the record stays, struck through"
    )
    measured_to: Annotated[float, Mm(0.01, 3, "the ± of the saddles' places")] = 0.25
    scale: Scale
    nut: Nut
    fret_wire: FretWire = FretWire.model_construct()
    setup: Setup = Setup.model_construct()
    strings: tuple[RecordedString, ...] = Field(min_length=1)


class ShopRecords(Table):
    """A file of finished instruments."""

    scribeline_records: Literal[1]
    units: JobUnit
    instruments: tuple[FinishedInstrument, ...] = ()


@dataclass(frozen=True)
class KeptRecord:
    """One record of the file, and whether it counts.

    Attributes:
        no: from 1, as the file lists it.
        record: what it says of the strings.
        serial: tells instruments of one job apart; "" where it need not.
        on: when it was measured.
        struck: why it no longer counts; "" where it does.
        again: number of the later record of the same instrument that counts in its place; None where there is none.
        unlike: what sets it apart from that one, so that they are hardly the same instrument; "" for nothing.
    """

    no: int
    record: Record
    serial: str
    on: dt.date | None
    struck: str
    again: int | None = None
    unlike: str = ""

    @property
    def counts(self) -> bool:
        """Whether predictions learn from it."""
        return not self.struck and self.again is None

    @property
    def title(self) -> str:
        """What it is called: the job's name, with the serial where there is one."""
        return self.record.name

    @property
    def standing(self) -> str:
        """Why it does not count, as a sentence; "" where it does."""
        if self.struck:
            return f"{self.title} is struck through: {self.struck}"
        if self.again is None:
            return ""
        words = f"{self.title} is recorded again (no. {self.again}), and the latest counts"
        if self.unlike:
            words += f". But {self.unlike}: if they are two instruments, give each its serial"
        return words


@dataclass(frozen=True)
class Records:
    """All records of a file, in its order."""

    unit: JobUnit
    kept: tuple[KeptRecord, ...] = ()

    @property
    def counted(self) -> tuple[Record, ...]:
        """Those that predictions learn from."""
        return tuple(each.record for each in self.kept if each.counts)


def read_records(path: Path, *, today: dt.date | None = None) -> Records:
    """The finished instruments in a file.

    Args:
        path: the file.
        today: what a record may not be dated after; None where nobody knows the day.

    Raises:
        JobError: everything that is wrong with it.
    """
    text = text_of(path, missing=f"there is no file {path}; start one with: scribeline record JOB {path}")
    return parse_records(text, source=str(path), today=today)


def parse_records(text: str, *, source: str = "the records", today: dt.date | None = None) -> Records:
    """The finished instruments in a text.

    Raises:
        JobError: everything that is wrong with it.
    """
    raw = raw_document(text, source)
    unit = job_unit(raw.get("units"))
    try:
        records = ShopRecords.model_validate(raw, context=Reading(unit))
    except ValidationError as error:
        raise JobError(faults_from(error, ShopRecords, text), source) from error
    found: list[Record] = []
    faults = []
    for number, each in enumerate(records.instruments):
        key: tuple[str | int, ...] = ("instruments", number)
        if today is not None and each.measured_on is not None and each.measured_on > today:
            where = (*key, "measured_on")
            faults.append(Fault(spelled(where), not_yet(each.measured_on, today), line_of(text, where)))
        try:
            found.append(_record(each))
        except StringsError as fault:
            faults.append(Fault(spelled(key), str(fault), line_of(text, key)))
    if faults:
        raise JobError(faults, source)
    return Records(unit, tuple(_kept(records.instruments, found)))


def not_yet(day: dt.date, today: dt.date, what: str = "measured") -> str:
    """A sentence about a day to come."""
    return f"{day} is not yet: today is {today}; write the day on which it was {what}"


def _kept(instruments: Sequence[FinishedInstrument], records: Sequence[Record]) -> Iterator[KeptRecord]:
    """Each record with its standing: of one instrument's the latest counts, by its day, else by its place in the file."""
    latest: dict[tuple[str, str], int] = {}
    for n, each in enumerate(instruments):
        if each.struck:
            continue
        instrument = each.name, each.serial
        before = latest.get(instrument)
        if before is None or _day(each) >= _day(instruments[before]):
            latest[instrument] = n
    for n, (each, record) in enumerate(zip(instruments, records, strict=True)):
        counts = latest.get((each.name, each.serial), n)
        again = None if each.struck or counts == n else counts + 1
        unlike = "" if again is None else _unlike(record, records[counts])
        yield KeptRecord(n + 1, record, each.serial, each.measured_on, each.struck, again, unlike)


def _day(each: FinishedInstrument) -> dt.date:
    return each.measured_on or dt.date.min


_SAME_SCALE = 1.0
"""Two measurements of one scale differ by less, mm."""


def _unlike(one: Record, other: Record) -> str:
    """What keeps two records from being of one instrument; "" for nothing."""
    if len(one.specs) != len(other.specs):
        return f"one has {len(one.specs)} strings and the other {len(other.specs)}"
    scales = (np.max(one.setup.scale), np.max(other.setup.scale))
    if abs(scales[0] - scales[1]) > _SAME_SCALE:
        return f"one has a scale of {said(float(scales[0]), 1)} and the other of {said(float(scales[1]), 1)}"
    return ""


@dataclass(frozen=True)
class Measured:
    """What was measured on a finished instrument.

    Attributes:
        saddles: places past the scale length, treble first, in any shop form; "-" for one not noted.
        plus_minus: to what they were measured.
        serial: tells instruments of one job apart.
        by: whose hand set them.
        on: the day.
        in_job_unit: whether whoever typed it was told that bare numbers are in the job's unit.
    """

    saddles: Sequence[str]
    plus_minus: str
    serial: str = ""
    by: str = ""
    on: dt.date | None = None
    in_job_unit: bool = False


def recorded(document: Document, measured: Measured, *, before: str | None, today: dt.date | None) -> str:
    """The records' text with one more finished instrument at its end; what stood there stays as it is.

    Bare numbers are in the job's unit, and are written down with it.

    Args:
        document: the job as built.
        measured: what was measured.
        before: the records so far; None to start them.
        today: what it may not be dated after.

    Raises:
        JobError: the saddles do not fit the strings, or cannot be meant as they are typed.
    """
    kept = Records(document.units) if before is None else parse_records(before, today=today)
    saddles = _as_meant(document, measured, kept.unit)
    plus_minus = with_unit(measured.plus_minus, document.units)
    if today is not None and measured.on is not None and measured.on > today:
        raise JobError([Fault("measured_on", not_yet(measured.on, today))], _RECORD)
    text = _with_one_more(document, measured, saddles, plus_minus, before)
    now = parse_records(text)
    strange = next((each for each in now.kept if each.again == len(now.kept) and each.unlike), None)
    if strange is not None:
        sentence = (
            f"{strange.title} is recorded already (no. {strange.no}), and {strange.unlike}: is this from another job? "
            "Give the instruments a serial each if they are two"
        )
        raise JobError([Fault("serial", sentence)], _RECORD, unit=document.units)
    return text


_RECORD = "this record"


def _as_meant(document: Document, measured: Measured, unit: JobUnit) -> list[str]:
    """Each saddle with its unit; "-" for one not noted.

    Raises:
        JobError: one cannot be read, or was hardly meant so.
    """
    saddles, strings = measured.saddles, document.strings
    if len(saddles) != len(strings):
        sentence = f"{len(saddles)} saddles are given for {len(strings)} strings; give one a string, - for one not noted"
        raise JobError([Fault("saddles", sentence)], _RECORD)
    if all(each == "-" for each in saddles):
        raise JobError(
            [Fault("saddles", "no saddle is noted; give one at least, past the scale length")], _RECORD
        )
    faults, found, bare = [], [], False
    for number, (typed, string) in enumerate(zip(saddles, strings, strict=True), start=1):
        name = f"saddle {number} ({string.note})"
        try:
            found.append(typed if typed == "-" else with_unit(typed, document.units))
        except JobError as refused:
            faults += [Fault(name, each.sentence) for each in refused.faults]
            continue
        if typed == "-":
            continue
        bare = bare or is_bare(typed)
        mm = read_length(found[-1]).mm
        if is_bare(typed) and unit != document.units and not measured.in_job_unit:
            sentence = f"{quoted(typed)} has no unit: the job is in {document.units} and the records in {unit}; write it"
            faults.append(Fault(name, sentence))
        elif not LEAST <= mm <= MOST:
            faults.append(Fault(name, _out_of_range(typed, mm, document.units)))
    if not faults and bare:
        faults += _in_another_unit(document, found)
    if faults:
        raise JobError(faults, _RECORD, unit=document.units)
    return found


def _out_of_range(typed: str, mm: float, unit: JobUnit) -> str:
    is_inch = is_bare(typed) and by_inches(unit) and LEAST <= mm / MM_PER_INCH <= MOST
    hint = f'. Did you mean millimetres? Write "{typed} mm"' if is_inch else ""
    between = span(LEAST, MOST, places=0)
    return f"{quoted(typed)} reads as {said(mm)}; a saddle stands {between} past the scale line{hint}"


_AN_INCH_OFF = (0.5, 2.0)
"""Between which shares of what is predicted saddles lie that were typed in inches and read as millimetres, or the other way."""


def _in_another_unit(document: Document, saddles: Sequence[str]) -> Iterator[Fault]:
    """Query bare numbers that go with the strings once they are taken as inches."""
    try:
        usual = predict(string_specs(document.strings), playing(document)).setback
    except StringsError:
        return  # nothing to hold them against
    noted = [(read_length(each).mm, float(usual[n])) for n, each in enumerate(saddles) if each != "-"]
    ways = ((float(MM_PER_INCH), "mm", "in", "inches"), (1 / float(MM_PER_INCH), "in", "mm", "millimetres"))
    for factor, read_as, meant, words in ways:
        shares = [factor * mm / predicted for mm, predicted in noted]
        if document.units == read_as and _AN_INCH_OFF[0] <= float(np.median(shares)) <= _AN_INCH_OFF[1]:
            stand, wanted = (span(min(each), max(each)) for each in zip(*noted, strict=True))
            sentence = (
                f"the saddles read as {stand}, and these strings want {wanted}: were they measured in {words}? "
                f"Write each with its unit, in {meant} or in {read_as}, and it is taken as it stands"
            )
            yield Fault("saddles", sentence)


def is_bare(typed: str) -> bool:
    """Whether a length has no unit of its own."""
    return read_length(typed, unit="mm").mm != read_length(typed, unit="ft").mm or read_length(typed).mm == 0


def with_unit(typed: str, unit: JobUnit) -> str:
    """A length with its unit: a bare one's is the job's.

    Raises:
        JobError: it cannot be read.
    """
    try:
        return f"{typed} {unit}" if is_bare(typed) and typed.strip()[-1:].isdigit() else typed
    except LengthError as fault:
        raise JobError([Fault("plus_minus", str(fault))], _RECORD) from fault


def struck_through(text: str, no: int, why: str) -> str:
    """The records' text with one struck through, or, without a reason, counting again; all else stays as it is.

    Args:
        text: the records.
        no: of the record, from 1.
        why: the reason; "" to let it count again.

    Raises:
        JobError: there is no such record, or no reason that can be kept.
    """
    now = with_struck(text, no, why, table="instruments", noun="record")
    parse_records(now)
    return now


def _with_one_more(
    document: Document, measured: Measured, saddles: Sequence[str], plus_minus: str, before: str | None
) -> str:
    setup, scale = document.setup, document.scale
    temperament = "" if scale.cents is None else f"temperament_cents = {list(scale.cents)}\n"
    moved = ", ".join(f'"{each:.4f} mm"' for each in document.nut.compensation)
    fan = (
        ""
        if scale.bass_length is None
        else f'bass_length = "{scale.bass_length:.4f} mm"\nsquare_fret = {scale.square_fret:g}\n'
    )
    lines = [
        "[[instruments]]",
        f"name = {_quoted(document.name)}",
        *([f"serial = {_quoted(measured.serial)}"] if measured.serial else []),
        *([f"set_up_by = {_quoted(measured.by)}"] if measured.by else []),
        *([f"measured_on = {measured.on}"] if measured.on is not None else []),
        f"measured_to = {_quoted(plus_minus)}",
        f'[instruments.scale]\nlength = "{scale.length:.4f} mm"\nfrets = {scale.frets}\n{fan}{temperament}'.rstrip(),
        f'[instruments.nut]\nwidth = "{document.nut.width:.4f} mm"',
        f'height_over_frets = "{document.nut.height_over_frets:.4f} mm"',
        *([f"compensation = [{moved}]"] if moved else []),
        f'[instruments.fret_wire]\ncrown_height = "{document.fret_wire.crown_height:.4f} mm"',
        "[instruments.setup]",
        *(
            f"{key} = {_quoted(_stated(getattr(setup, key)))}"
            for key in ("action_treble", "action_bass", "relief")
        ),
        f'relief_fret = {setup.relief_fret}\nfree_length = "{setup.free_length:.4f} mm"',
    ]
    for string, saddle in zip(document.strings, saddles, strict=True):
        lines += [
            "[[instruments.strings]]",
            f"note = {_quoted(string.note)}",
            f'gauge = "{string.gauge:.4f} mm"',
        ]
        if string.construction is not None:
            lines.append(f'construction = "{string.construction}"')
        if string.core is not None:
            lines += [f"core = {_quoted(_stated(string.core))}", f'core_shape = "{string.core_shape}"']
        if string.grams_per_metre is not None:
            lines.append(f"grams_per_metre = {string.grams_per_metre!r}")
        lines.append(f"wrap = {_quoted(string.wrap)}")
        if saddle != "-":
            lines.append(f"saddle = {_quoted(saddle)}")
    head = before if before is not None else f'scribeline_records = 1\nunits = "{document.units}"\n'
    return head.rstrip("\n") + "\n\n" + "\n".join(lines) + "\n"


def _stated(dimension: Dimension) -> str:
    spread = f" +/- {dimension.plus_minus:g} mm" if dimension.measured else ""
    return f"{dimension.mm:g} mm{spread}"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _record(each: FinishedInstrument) -> Record:
    return Record(
        name=f"{each.name} {each.serial}".rstrip(),
        specs=string_specs(each.strings),
        setup=playing_with(each.scale, each.nut, each.fret_wire, each.setup, len(each.strings)),
        setback=tuple(string.saddle for string in each.strings),
        measured_sd=standard_deviation(each.measured_to),
        hand=each.set_up_by,
    )
