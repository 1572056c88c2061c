"""The shop's records: finished instruments, and where their saddles ended up."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from scribeline.job.document import Document, FretWire, Scale, Setup, StringStated
from scribeline.job.faults import Fault, JobError, faults_from, line_of, spelled
from scribeline.job.nut import Nut
from scribeline.job.stringing import playing_with, string_specs
from scribeline.job.table import Table
from scribeline.job.toml_text import raw_document, text_of
from scribeline.job.values import Dimension, Mm, Reading, standard_deviation
from scribeline.lengths import JobUnit, job_unit
from scribeline.strings import PRIOR, Record, Shop, StringsError, calibrate


class RecordedString(StringStated):
    """One string of a finished instrument, and where its saddle ended up."""

    saddle: Annotated[float | None, Mm(-10, 20, "the saddle's place")] = Field(
        default=None,
        description="where the string leaves the saddle, past the scale length, measured; leave it out if it was not noted",
    )


class FinishedInstrument(Table):
    """One instrument as it was set up and in tune."""

    name: str = Field(min_length=1)
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


def read_records(path: Path) -> tuple[Record, ...]:
    """The finished instruments in a file.

    Raises:
        JobError: everything that is wrong with it.
    """
    text = text_of(path, missing=f"there is no file {path}; start one with: scribeline record JOB {path}")
    return parse_records(text, source=str(path))


def parse_records(text: str, *, source: str = "the records") -> tuple[Record, ...]:
    """The finished instruments in a text.

    Raises:
        JobError: everything that is wrong with it.
    """
    raw = raw_document(text, source)
    try:
        records = ShopRecords.model_validate(raw, context=Reading(job_unit(raw.get("units"))))
    except ValidationError as error:
        raise JobError(faults_from(error, ShopRecords, text), source) from error
    found, faults = [], []
    for number, each in enumerate(records.instruments):
        try:
            found.append(_record(each))
        except StringsError as fault:
            key = ("instruments", number)
            faults.append(Fault(spelled(key), str(fault), line_of(text, key)))
    if faults:
        raise JobError(faults, source)
    return tuple(found)


def recorded(document: Document, *, saddles: Sequence[str], plus_minus: str, before: str | None) -> str:
    """The records' text with one more finished instrument at its end; what stood there stays as it is.

    Args:
        document: the job as built.
        saddles: places past the scale length, treble first, in any shop form; "-" for one not noted.
        plus_minus: to what they were measured.
        before: the records so far; None to start them.

    Raises:
        JobError: the saddles do not fit the strings.
    """
    if len(saddles) != len(document.strings):
        sentence = f"{len(saddles)} saddles are given for {len(document.strings)} strings; give one a string, - for one not noted"
        raise JobError([Fault("saddles", sentence)])
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
        name=each.name,
        specs=string_specs(each.strings),
        setup=playing_with(each.scale, each.nut, each.fret_wire, each.setup, len(each.strings)),
        setback=tuple(string.saddle for string in each.strings),
        measured_sd=standard_deviation(each.measured_to),
    )


def shop_from(path: Path | None) -> Shop:
    """What the shop knows: its records if it has any, else the prior."""
    if path is None:
        return PRIOR
    records = read_records(path)
    return calibrate(records).posterior if records else PRIOR
