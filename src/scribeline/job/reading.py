"""From a file on disk to a job: parse, validate, resolve the outline, and collect every fault on the way."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from scribeline.job.document import Document, OutlineStatement
from scribeline.job.faults import Fault, JobError, faults_from, line_of, spelled
from scribeline.job.outline import Outline, OutlineError, built_in, read_outline_file, shape_measures
from scribeline.job.values import Reading


@dataclass(frozen=True, slots=True)
class Job:
    """One instrument as stated, with its outline resolved: all that planning needs.

    Attributes:
        document: the stated values, mm and radians.
        outline: the body's outline in the instrument frame of a right-handed instrument.
    """

    document: Document
    outline: Outline


def parse_job(text: str, *, source: str = "the job", folder: Path | None = None) -> Job:
    """Read a job from its text.

    Args:
        text: the TOML text.
        source: what to call it in messages.
        folder: where outline files named in the job are looked for.

    Raises:
        JobError: everything that is wrong with it, in one go.
    """
    document = _document(text, source)
    faults = list(_contradictions(document, text))
    try:
        outline = _outline(document.body.outline, document.handed, folder or Path())
    except OutlineError as fault:
        key = ("body", "outline")
        faults.append(Fault("body.outline", str(fault), line_of(text, key)))
    if faults:
        raise JobError(faults, source)
    return Job(document, outline)


def read_job(path: Path) -> Job:
    """Read a job file; outline files it names are looked for beside it.

    Raises:
        JobError: the file cannot be read, or everything that is wrong with it.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError as fault:
        raise JobError(
            [Fault("", f"there is no file {path}; check the name, or start one with: scribeline new {path}")],
            str(path),
        ) from fault
    except (OSError, UnicodeDecodeError) as fault:
        raise JobError([Fault("", f"cannot read {path} as text: {fault}")], str(path)) from fault
    return parse_job(text, source=str(path), folder=path.parent)


def _document(text: str, source: str) -> Document:
    raw = _raw(text, source)
    unit = raw.get("units")
    reading = Reading("in" if unit == "in" else "mm")
    try:
        return Document.model_validate(raw, context=reading)
    except ValidationError as error:
        raise JobError(faults_from(error, Document, text), source) from error


def _raw(text: str, source: str) -> dict[str, Any]:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        return tomlkit.parse(text).unwrap()
    except TOMLKitError as fault:
        sentence = f'this is not valid TOML: {fault}. A text value needs quotes: spacing = "10 1/2 mm"'
        raise JobError([Fault("", sentence, getattr(fault, "line", None))], source) from fault


def _contradictions(document: Document, text: str) -> Iterator[Fault]:
    """What each table says well enough alone but not together."""

    def fault(key: tuple[str | int, ...], path: str, sentence: str) -> Fault:
        return Fault(path, sentence, line_of(text, key))

    names = [pocket.name for pocket in document.pockets]
    for name in dict.fromkeys(names):
        if names.count(name) > 1:
            yield fault(("pockets",), "pockets", f'two pockets are called "{name}"; give each its own name')
        if name == "neck pocket":
            yield fault(
                ("pockets",), "pockets", 'the name "neck pocket" is taken by the neck\'s own; choose another'
            )
    for number, pocket in enumerate(document.pockets):
        for other in pocket.opens_into:
            if other not in {*names, "neck pocket"}:
                key = ("pockets", number, "opens_into")
                yield fault(key, spelled(key), f'there is no pocket called "{other}"')
    ground = document.ground_wire
    if ground is not None and ground.into not in names:
        known = ", ".join(f'"{name}"' for name in names) or "none"
        sentence = f'names "{ground.into}", but the pockets are: {known}'
        yield fault(("ground_wire", "into"), "ground_wire.into", sentence)
    board, scale = document.fingerboard, document.scale
    if board.end > scale.length:
        sentence = f"{board.end:g} mm lies beyond the scale, {scale.length:g} mm; it is measured from the nut"
        yield fault(("fingerboard", "end"), "fingerboard.end", sentence)
    if board.width_at_end < document.nut.width:
        sentence = f"{board.width_at_end:g} mm is narrower than the nut, {document.nut.width:g} mm"
        yield fault(("fingerboard", "width_at_end"), "fingerboard.width_at_end", sentence)
    gauges = sum(string.gauge for string in document.strings)
    if gauges + 2 * document.nut.edge >= document.nut.width:
        sentence = (
            f"the strings ({gauges:.2f} mm together) and two edges of {document.nut.edge:g} mm fill a nut "
            f"{document.nut.width:g} mm wide; widen the nut or lessen nut.edge"
        )
        yield fault(("nut", "edge"), "nut.edge", sentence)
    statement = document.body.outline
    if statement.file is not None and document.handed == "left" and statement.drawn_for is None:
        sentence = (
            'a left-handed job with an imported outline must say drawn_for = "left" or "right", '
            "so that the body is not mirrored by mistake"
        )
        yield fault(("body", "outline"), "body.outline.drawn_for", sentence)


def _outline(statement: OutlineStatement, handed: str, folder: Path) -> Outline:
    if statement.shape is not None:
        assert statement.tail is not None
        stated = statement.dimensions.model_dump(exclude_none=True)
        own = asdict(shape_measures(statement.shape))
        needed = {key: own[key] for key in ("length", "lower_width", "waist_width", "upper_width")}
        return built_in(statement.shape, tail_x=statement.tail, **{**needed, **stated})
    assert statement.file is not None
    outline = read_outline_file(
        folder / statement.file,
        along=statement.along,
        centre=statement.centre,
        tail_x=statement.tail,
        origin=statement.origin,
        seen_from=statement.seen_from,
        layer=statement.layer,
        true_length=statement.true_length,
        true_width=statement.true_width,
    )
    if (statement.drawn_for or handed) == "right":
        return outline
    # The layout is made right-handed and mirrored at its end, so a left-handed drawing is turned back here.
    points = tuple((x, -y) for x, y in reversed(outline.points))
    return Outline(points, outline.source, outline.unit_note)
