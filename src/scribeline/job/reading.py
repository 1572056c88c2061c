"""From a file on disk to a job: parse, validate, resolve the outline, and collect every fault on the way."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from pydantic import ValidationError

from scribeline.bounds import Exceeded
from scribeline.job.body import OutlineStatement, OwnTimber, off_the_outline
from scribeline.job.document import Document, StringStated
from scribeline.job.faults import Fault, JobError, faults_from, line_of, spelled
from scribeline.job.head import HeadDrawing, from_the_nut
from scribeline.job.learnt import shop_from
from scribeline.job.outline import (
    BODY,
    HEAD,
    Along,
    Handle,
    Outline,
    OutlineError,
    OutlineOf,
    built_in,
    read_outline_file,
    shape_measures,
    through_handles,
)
from scribeline.job.record import TABLES, Record
from scribeline.job.shop_tests import shop_accuracies
from scribeline.job.stringing import string_spec
from scribeline.job.table import Table
from scribeline.job.toml_text import raw_document, text_of
from scribeline.job.tunnels import EDGE, FACES, UNDER_PLATE
from scribeline.job.values import InFile, Reading
from scribeline.lengths import job_unit, said
from scribeline.strings import PRIOR, Shop, StringsError
from scribeline.tables import Accuracies, Timber, note_number, timber, usual_accuracies


@dataclass(frozen=True, slots=True)
class Job:
    """One instrument as stated, with its outline resolved: all that planning needs.

    Attributes:
        document: the stated values, mm and radians; of a head that is drawn in a file also the corners read there.
        outline: the body's outline in the instrument frame of a right-handed instrument.
        shop: what the shop's finished instruments have taught it about setbacks.
        text: as it was read, for the lines that its numbers stand on; "" where it came from no text.
        accuracies: how well the shop measures, marks and cuts, by its own tests where it has any.
        as_read: the source of each number that was measured in the wood since it was cut, by its key; see `as_routed`.
    """

    document: Document
    outline: Outline
    shop: Shop = PRIOR
    text: str = field(default="", compare=False, repr=False)
    accuracies: Accuracies = field(default_factory=usual_accuracies, hash=False, repr=False)
    as_read: Mapping[str, str] = field(default_factory=dict, hash=False)


class JobFile(NamedTuple):
    """What a job file holds.

    Attributes:
        job: what it states.
        record: what was done and read for it, where the file carries that.
    """

    job: Job
    record: Record


class JobTables(Record, Document):
    """One instrument, as stated, and the record of its work where the file carries that."""


def parse_job(
    text: str,
    *,
    source: str = "the job",
    folder: Path | None = None,
    only_beside: bool = False,
) -> JobFile:
    """Read a job, and the record that lies with it, from its text.

    Args:
        text: the TOML text.
        source: what to call it in messages.
        folder: where outline files named in the job are looked for.
        only_beside: whether the files it names must lie in that folder itself, named without any path: for a text
            that came from another machine.

    Raises:
        JobError: everything that is wrong with it, in one go.
    """
    document, record = _tables(text, source)
    faults = list(_contradictions(document, text))
    if only_beside:
        outside = [
            Fault(spelled(key), sentence, line_of(text, key)) for key, sentence in _not_beside(document)
        ]
        if outside:
            raise JobError([*faults, *outside], source, unit=document.units)
    try:
        outline = _outline(document.body.outline, document.handed, folder or Path())
    except OutlineError as fault:
        key = ("body", "outline")
        faults.append(Fault("body.outline", fault.sentence, line_of(text, key)))
    else:
        carved = off_the_outline(document.body, outline.points)
        faults.extend(Fault(spelled(key), sentence, line_of(text, key)) for key, sentence in carved)
    try:
        document = _with_its_head(document, folder or Path())
    except OutlineError as fault:
        faults.append(Fault("head.drawing", fault.sentence, line_of(text, ("head", "drawing"))))
    shop = PRIOR
    if document.bench.records is not None:
        try:
            path = (folder or Path()) / document.bench.records
            # A job that is refused leaves nothing behind.
            shop = shop_from(path, document.bench.set_up_by or "", may_keep=not faults)
        except JobError as fault:
            faults.extend(
                Fault("bench.records", str(each), line_of(text, ("bench", "records")))
                for each in fault.faults
            )
    accuracies = usual_accuracies()
    if document.bench.shop is not None:
        try:
            accuracies = shop_accuracies((folder or Path()) / document.bench.shop)
        except JobError as fault:
            faults.extend(
                Fault("bench.shop", str(each), line_of(text, ("bench", "shop"))) for each in fault.faults
            )
    if faults:
        raise JobError(faults, source, unit=document.units)
    return JobFile(Job(document, outline, shop, text, accuracies), record)


def read_job(path: Path) -> JobFile:
    """Read a job file; outline files it names are looked for beside it.

    Raises:
        JobError: the file cannot be read, or everything that is wrong with it.
    """
    text = text_of(
        path, missing=f"there is no file {path}; check the name, or start one with: scribeline new {path}"
    )
    return parse_job(text, source=str(path), folder=path.parent)


def _tables(text: str, source: str) -> tuple[Document, Record]:
    """What the text states, and what it has of a record."""
    raw = raw_document(text, source)
    unit = raw.get("units")
    reading = Reading(job_unit(unit), _own_timbers(raw.get("timbers")))
    own = {key: value for key, value in raw.items() if key not in TABLES}
    of_the_bench = {key: raw[key] for key in TABLES if key in raw}
    faults: list[Fault] = []
    document = _validated(Document, own, reading, text, faults)
    record = _validated(Record, of_the_bench, reading, text, faults)
    if document is None or record is None:
        raise JobError(faults, source, unit=reading.unit)
    return document, record


_Table = TypeVar("_Table", bound=Table)


def _validated(
    model: type[_Table], tables: Mapping[str, Any], reading: Reading, text: str, faults: list[Fault]
) -> _Table | None:
    """Some tables of a job file as values; None where they have faults, which are noted."""
    try:
        return model.model_validate(tables, context=reading)
    except ValidationError as error:
        faults += faults_from(error, JobTables, text)
        return None


def _own_timbers(stated: object) -> dict[str, Timber]:
    """The builder's own timbers by name, for the tables that call them; a faulty one is told where it stands."""
    found: dict[str, Timber] = {}
    for each in stated if isinstance(stated, list) else ():
        if isinstance(each, dict) and isinstance(name := each.get("name"), str):
            try:
                found[name] = OwnTimber.model_validate(each).timber
            except ValidationError:
                # Nothing is planned with it, and who calls it has made no mistake.
                found[name] = timber("alder-red")
    return found


Said = tuple[tuple[str | int, ...], str]
"""A key and what is wrong with it."""


def _contradictions(document: Document, text: str) -> Iterator[Fault]:
    """What each table says well enough alone but not together."""
    for rule in _RULES:
        for key, sentence in rule(document):
            yield Fault(spelled(key), sentence, line_of(text, key))


def _pocket_names(document: Document) -> Iterator[Said]:
    taken: dict[str, str] = {}
    for number, pocket in enumerate(document.pockets):
        key, identity, name = ("pockets", number, "name"), feature_id(pocket.name), pocket.name
        if identity in taken:
            yield key, f'"{name}" and "{taken[identity]}" cannot be told apart; give each cavity its own name'
        elif not identity:
            yield key, f'"{name}" has no letter or figure in it; give the cavity a name'
        elif _RESERVED.fullmatch(identity):
            yield key, f'the name "{name}" is taken by one of the plan\'s own cuts; choose another'
        taken.setdefault(identity, name)


def _neck_pocket(document: Document) -> tuple[str, ...]:
    """Name of the neck's pocket, where it has one."""
    return () if document.neck.runs_through else ("neck pocket",)


def _neck_through(document: Document) -> Iterator[Said]:
    """What a neck that runs through the body leaves no room for."""
    if not document.neck.runs_through:
        return
    if document.neck_blank is not None:
        sentence = "the back of a neck that runs through is not planned here, for it has no heel to run into; leave it out"
        yield ("neck_blank",), sentence
    if document.body.layers:
        sentence = "the core runs through the whole thickness, so that there are no layers; state body.timber, that of the wings"
        yield ("body", "layers"), sentence
    if document.as_built.move != "bridge":
        yield (
            ("as_built", "move"),
            'a neck that runs through cannot be moved; say move = "bridge", or leave it out',
        )
    if document.body.top.kind == "arched":
        sentence = (
            "an arched top is carved over core and wings and drops under the board, which this plan cannot follow on a neck "
            "that runs through; state a flat or a stepped one, or take a set neck"
        )
        yield ("body", "top", "kind"), sentence
    lists = {"pockets": document.pockets, "holes": document.holes, "controls": document.controls}
    lists |= {"strap_buttons": document.strap_buttons, "tunnels": document.tunnels}
    keyed: list[tuple[tuple[str | int, ...], object]] = (
        [] if document.jack is None else [(("jack",), document.jack)]
    )
    keyed += [((key, no), each) for key, listed in lists.items() for no, each in enumerate(listed)]
    for key, each in keyed:
        if getattr(each, "x_from", None) == "pocket end":
            sentence = (
                f"a neck that runs through has no pocket to count from; count it from the 12th fret, or from the nut (the "
                f"board's end lies {said(document.fingerboard.end, None)} from there)"
            )
            yield (*key, "x_from"), sentence


def _pocket_links(document: Document) -> Iterator[Said]:
    names = [pocket.name for pocket in document.pockets]
    for number, pocket in enumerate(document.pockets):
        for other in pocket.opens_into:
            if other not in {*names, *_neck_pocket(document)}:
                yield ("pockets", number, "opens_into"), f'there is no cavity called "{other}"'
    ground = document.ground_wire
    if ground is not None and ground.into not in names:
        known = ", ".join(f'"{name}"' for name in names) or "none"
        yield ("ground_wire", "into"), f'names "{ground.into}", but the cavities are: {known}'
    if ground is not None and ground.side is not None and not document.bridge.grounded_at_a_bushing:
        yield (
            ("ground_wire", "side"),
            f"belongs to a bridge on studs or posts; this one is grounded at {document.bridge.ground_at}",
        )


def _holes_and_controls(document: Document) -> Iterator[Said]:
    """Names that must differ, and pockets that must be there."""
    pockets = {pocket.name: pocket for pocket in document.pockets}
    known = ", ".join(f'"{name}"' for name in pockets) or "none"
    taken: set[str] = set(_GROUPS)
    for number, hole in enumerate(document.holes):
        name = " ".join(hole.name.lower().split())
        if name in taken or not feature_id(name):
            sentence = f'the name "{hole.name}" is taken or says nothing; give each kind of hole its own'
            yield ("holes", number, "name"), sentence
        taken.add(name)
        for other in hole.into:
            if other not in pockets and other not in _neck_pocket(document):
                yield ("holes", number, "into"), f'names "{other}", but the cavities are: {known}'
    for number, control in enumerate(document.controls):
        cavity = pockets.get(control.into)
        if cavity is None:
            yield ("controls", number, "into"), f'names "{control.into}", but the cavities are: {known}'
        elif cavity.face != "back":
            sentence = (
                f'"{control.into}" is cut from the top, so no wood lies over it to carry the {control.name}'
            )
            yield ("controls", number, "into"), sentence


def _neck_bolts(document: Document) -> Iterator[Said]:
    """Screws and inserts are of a neck that is bolted on, and lie in its pocket."""
    screws, neck, key = document.neck_bolts, document.neck, document.neck_bolts_key
    if screws is None:
        return
    if document.neck_screws is not None and document.neck_inserts is not None:
        yield (
            ("neck_inserts",),
            "a neck is held by screws or by inserts; leave out neck_screws or neck_inserts",
        )
    if neck.is_glued:
        words = "screws" if key == "neck_screws" else "inserts"
        what = "a neck that runs through the body" if neck.runs_through else "a set neck"
        yield (key,), f'{what} has no {words}; leave them out, or say neck.joint = "bolt-on"'
    if neck.runs_through:
        return
    for place, (back, _) in enumerate(screws.places):
        if back >= neck.pocket_length:
            sentence = (
                f"{said(back, None)} from the end wall lies beyond the pocket's open end, {said(neck.pocket_length, None)} "
                "from it; places run "
                "from the end wall towards the nut"
            )
            yield (key, "places", place), sentence


def _covers(document: Document) -> Iterator[Said]:
    """A cover's recess is a cut of its own and needs a name of its own."""
    names = {feature_id(pocket.name) for pocket in document.pockets}
    for number, pocket in enumerate(document.pockets):
        if pocket.ledge is not None and feature_id(f"{pocket.name} cover recess") in names:
            sentence = f'its cover recess would be called "{pocket.name} cover recess", which is the name of another cavity'
            yield ("pockets", number, "ledge"), sentence


def _from_the_edge(document: Document) -> Iterator[Said]:
    names = [pocket.name for pocket in document.pockets]
    jack = document.jack
    if jack is not None and jack.into is not None and jack.into not in names:
        known = ", ".join(f'"{name}"' for name in names) or "none"
        yield ("jack", "into"), f'names "{jack.into}", but the cavities are: {known}'
    taken: set[str] = set()
    for number, button in enumerate(document.strap_buttons):
        if button.name.strip().lower() in taken:
            sentence = f'two strap buttons are called "{button.name}"; give each its own name'
            yield ("strap_buttons", number, "name"), sentence
        taken.add(button.name.strip().lower())


def _tunnels(document: Document) -> Iterator[Said]:
    pockets = [*(pocket.name for pocket in document.pockets), *_neck_pocket(document)]
    known = ", ".join(f'"{name}"' for name in pockets)
    taken: set[str] = set()
    for number, tunnel in enumerate(document.tunnels):
        key, identity = ("tunnels", number), feature_id(tunnel.name)
        if not identity or identity in taken:
            yield (
                (*key, "name"),
                f'"{tunnel.name}" cannot be told from another wire hole; give each its own name',
            )
        taken.add(identity)
        if tunnel.start not in {*pockets, UNDER_PLATE, EDGE, *FACES}:
            sentence = (
                f'"{tunnel.start}" is no place to start from; use "{UNDER_PLATE}", "top", "back", "{EDGE}" or one of the '
                f"cavities: {known}"
            )
            yield (*key, "start"), sentence
        if tunnel.into not in pockets:
            yield (*key, "into"), f'there is no cavity called "{tunnel.into}"; the cavities are: {known}'
        for name in tunnel.through:
            if name not in pockets or name in {tunnel.start, tunnel.into}:
                yield (*key, "through"), f'"{name}" is no cavity on the way; the cavities are: {known}'


def _neck_blank(document: Document) -> Iterator[Said]:
    """Whether there is a neck under the board, and a heel's curve before the heel."""
    blank, neck = document.neck_blank, document.neck
    if blank is None:
        return
    for key in ("thickness_at_first", "thickness_at_twelfth"):
        thick, board = getattr(blank, key).mm, neck.board_thickness.mm
        if thick - board <= blank.upright:
            sentence = (
                f"{said(thick, None)} with a fingerboard of {said(board, None)} leaves no neck to carve under it"
                + (f" beside the {said(blank.upright, None)} left upright" if blank.upright else "")
            )
            yield ("neck_blank", key), sentence
    if neck.runs_through:
        return
    mouth = neck.pocket_end - neck.pocket_length
    if blank.heel_to is None and blank.heel_from is not None and blank.heel_from >= mouth:
        sentence = (
            f"the heel's curve begins {said(blank.heel_from, None)} from the nut, and the neck pocket opens at "
            f"{said(mouth, None)}; let it begin before that, or state heel_to"
        )
        yield ("neck_blank", "heel_from"), sentence


def _board_and_nut(document: Document) -> Iterator[Said]:
    board, scale, nut = document.fingerboard, document.scale, document.nut
    if board.end > scale.length:
        sentence = f"{said(board.end, None)} lies beyond the scale, {said(scale.length, None)}; it is measured from the nut"
        yield ("fingerboard", "end"), sentence
    if document.head is not None:
        count = len(document.strings)
        for side in ("bass_side", "treble_side"):
            if beyond := [no for no in getattr(document.head, side) if not 1 <= no <= count]:
                yield (
                    ("head", side),
                    f"there is no string {beyond[0]}; the strings are 1 to {count}, 1 the highest",
                )
    for key in ("dots", "double_dots"):
        if beyond := [fret for fret in getattr(board, key) if not 1 <= fret <= scale.frets]:
            yield (
                ("fingerboard", key),
                f"there is no fret {beyond[0]}; the board has frets 1 to {scale.frets}",
            )
    yield from _frets_left_out(document)
    blank, made = board.blank_thickness, document.neck.board_thickness.mm
    if blank is not None and blank < made:
        sentence = (
            f"a blank of {said(blank, None)} makes no board of {said(made, None)} (neck.board_thickness)"
        )
        yield ("fingerboard", "blank_thickness"), sentence
    if board.width_at_end < nut.width:
        sentence = f"{said(board.width_at_end, None)} is narrower than the nut, {said(nut.width, None)}"
        yield ("fingerboard", "width_at_end"), sentence
    if nut.compensation and len(nut.compensation) != len(document.strings):
        count, listed = len(document.strings), len(nut.compensation)
        sentence = f"lists {listed} lengths for {count} strings; list one a string, from the treble"
        yield ("nut", "compensation"), sentence
    gauges = sum(string.gauge for string in document.strings)
    if gauges + 2 * nut.edge >= nut.width:
        sentence = (
            f"the strings ({said(gauges)} together) and two edges of {said(nut.edge, None)} fill a nut "
            f"{said(nut.width, None)} wide; widen the nut or lessen nut.edge"
        )
        yield ("nut", "edge"), sentence


def _frets_left_out(document: Document) -> Iterator[Said]:
    """Frets that are left out or run under some strings only: they must be there, and not those the neck is measured by."""
    board, last, count = document.fingerboard, document.scale.frets, len(document.strings)
    key: tuple[str | int, ...] = ("fingerboard", "frets_left_out")
    for fret in board.frets_left_out:
        if not 1 <= fret <= last:
            yield key, f"there is no fret {fret}; the board has frets 1 to {last}"
        elif fret in {12, last}:
            yield (
                key,
                f"fret {fret} cannot be left out: the neck is measured by the 12th fret and by the last",
            )
    taken: set[int] = set()
    for number, part in enumerate(board.part_frets):
        key = ("fingerboard", "part_frets", number)
        if part.fret > last:
            yield (*key, "fret"), f"there is no fret {part.fret}; the board has frets 1 to {last}"
        elif part.fret in {12, last}:
            yield (
                (*key, "fret"),
                f"fret {part.fret} must run right across: the neck is measured by the 12th fret and by the last",
            )
        elif part.fret in taken:
            yield (*key, "fret"), f"fret {part.fret} is listed twice; list it once, with all its strings"
        if beyond := [no for no in part.strings if not 1 <= no <= count]:
            yield (
                (*key, "strings"),
                f"there is no string {beyond[0]}; the strings are 1 to {count}, 1 the highest",
            )
        taken.add(part.fret)


def _parts_and_wood(document: Document) -> Iterator[Said]:
    if document.neck.runs_through:
        return
    depth, heel = document.neck.pocket_depth.mm, document.neck.heel_thickness.mm
    if depth >= heel:
        sentence = f"a pocket {said(depth, None)} deep swallows the heel, {said(heel, None)} thick with its fingerboard"
        yield ("neck", "pocket_depth"), sentence


def _bridge(document: Document) -> Iterator[Said]:
    """What the rest of the job must have for its kind of bridge."""
    yield from document.bridge.contradictions(document)


def _strings(document: Document) -> Iterator[Said]:
    lists: list[tuple[tuple[str | int, ...], Sequence[StringStated]]] = [(("strings",), document.strings)]
    lists += [(("string_sets", n, "strings"), each.strings) for n, each in enumerate(document.string_sets)]
    for key, strings in lists:
        for number, stated in enumerate(strings):
            try:
                string_spec(stated)
            except ValueError as fault:
                yield (*key, number), fault.sentence if isinstance(fault, StringsError) else str(fault)
    for number, each in enumerate(document.string_sets):
        if len(each.strings) != len(document.strings):
            sentence = (
                f'"{each.name}" has {len(each.strings)} strings and the instrument {len(document.strings)}'
            )
            yield ("string_sets", number, "strings"), sentence


def _courses(document: Document) -> Iterator[Said]:
    """Strings in pairs of one note or an octave: their slots and saddles lie otherwise than those of single strings."""
    notes = [string.note for string in document.strings]
    try:
        numbers = [note_number(note) for note in notes]
    except ValueError:
        return
    pairs = list(zip(numbers[::2], numbers[1::2], strict=False))
    if len(numbers) < 8 or len(numbers) % 2 or any(abs(a - b) not in {0, 12} for a, b in pairs):
        return
    yield (
        ("strings",),
        f"these stand in pairs ({notes[0]} and {notes[1]} are the first): courses are not planned here, for the strings of a "
        "pair lie closer than their neighbours. State one string of each pair, with the spacing from pair to pair, and set the "
        "second out beside it by hand",
    )


def _not_beside(document: Document) -> Iterator[Said]:
    """Files named by a path: a text from elsewhere must not make this machine read what is not the job's."""
    head = document.head
    named = (
        (("body", "outline", "file"), document.body.outline.file),
        (("head", "drawing", "file"), head.drawing.file if head and head.drawing else None),
        (("bench", "records"), document.bench.records),
        (("bench", "shop"), document.bench.shop),
    )
    for key, name in named:
        if name is not None and not _PLAIN_NAME.fullmatch(name):
            yield key, f'"{name}" must be the plain name of a file kept with the job, without folders'


_PLAIN_NAME = re.compile(r"[^\x00-\x1f\x7f/\\:.][^\x00-\x1f\x7f/\\:]{0,99}")


def _hand_of_the_drawing(document: Document) -> Iterator[Said]:
    statement = document.body.outline
    if statement.file is not None and document.handed == "left" and statement.drawn_for is None:
        sentence = (
            'a left-handed job with an imported outline must say drawn_for = "left" or "right", '
            "so that the body is not mirrored by mistake"
        )
        yield ("body", "outline", "drawn_for"), sentence
    drawing = None if document.head is None else document.head.drawing
    if drawing is not None and document.handed == "left" and drawing.drawn_for is None:
        sentence = (
            'a left-handed job with a drawing of its head must say drawn_for = "left" or "right", '
            "so that the head is not mirrored by mistake"
        )
        yield ("head", "drawing", "drawn_for"), sentence


def feature_id(name: str) -> str:
    """A name from the job as an id: lower case, hyphens for anything else."""
    words = "".join(mark if mark.isalnum() else " " for mark in name.lower()).split()
    return "-".join(words)


def _timber_names(document: Document) -> Iterator[Said]:
    names = [each.name for each in document.timbers]
    for number, name in enumerate(names):
        if name in names[:number]:
            yield ("timbers", number, "name"), f'two timbers are called "{name}"; give each its own name'


_RULES = (
    _timber_names,
    _pocket_names,
    _pocket_links,
    _covers,
    _holes_and_controls,
    _neck_bolts,
    _from_the_edge,
    _tunnels,
    _board_and_nut,
    _neck_blank,
    _neck_through,
    _parts_and_wood,
    _bridge,
    _strings,
    _courses,
    _hand_of_the_drawing,
)

_RESERVED = re.compile(
    r"neck-pocket|ground-wire|jack|(tunnel|bridge-screw|bridge-stud|bridge-post|tailpiece-stud|string-hole|ferrule-hole|jack-screw|strap-button|neck-screw|control|hole|cover-screw)-\d+"
)
"""Ids the plan gives its own cuts."""

_GROUPS = (
    "bridge screws",
    "bridge studs",
    "bridge posts",
    "tailpiece studs",
    "string holes",
    "ferrule holes",
    "ground wire",
    "neck screws",
    "jack",
    "jack screws",
    "strap buttons",
)
"""Names the plan gives its own groups of holes."""


def _outline(statement: OutlineStatement, handed: str, folder: Path) -> Outline:
    if statement.shape is not None:
        assert statement.tail is not None
        stated = statement.dimensions.model_dump(exclude_none=True)
        own = asdict(shape_measures(statement.shape))
        needed = {key: own[key] for key in ("length", "lower_width", "waist_width", "upper_width")}
        return _shape(statement.shape, statement.tail, tuple(sorted({**needed, **stated}.items())))
    if statement.handles:
        handles = tuple(Handle(each.name, *each.at) for each in statement.handles)
        return _by_handles(handles, mirrored=statement.mirrored, straight=statement.neck_edge == "straight")
    return _drawn(
        statement, handed, folder, along=statement.along, centre=statement.centre, tail=statement.tail
    )


def _drawn(
    statement: OutlineStatement | HeadDrawing,
    handed: str,
    folder: Path,
    *,
    along: Along,
    centre: InFile | None = None,
    tail: float | None = None,
    of: OutlineOf = BODY,
) -> Outline:
    """An outline out of a drawing, of a right-handed instrument."""
    assert statement.file is not None
    path = folder / statement.file
    try:
        outline = read_outline_file(
            path,
            along=along,
            centre=centre,
            tail=tail,
            origin=statement.origin,
            seen_from=statement.seen_from,
            layer=statement.layer,
            true_length=statement.true_length,
            true_width=statement.true_width,
            of=of,
        )
    except (Exceeded, MemoryError) as cut:
        cut.add_note(f"file {path.name}")
        raise
    if (statement.drawn_for or handed) == "right":
        return outline
    # The layout is made right-handed and mirrored at its end, so a left-handed drawing is turned back here.
    points = tuple((x, -y) for x, y in reversed(outline.points))
    return Outline(points, outline.source, outline.unit_note)


_TO_THE_TAIL: Mapping[str, Along] = {"+x": "-x", "-x": "+x", "+y": "-y", "-y": "+y"}
"""The instrument's own direction by that of the head's tip in a drawing."""


def _with_its_head(document: Document, folder: Path) -> Document:
    """The document with the corners of its head read out of the drawing that it names, if it names one.

    Raises:
        OutlineError: the drawing cannot be used.
    """
    head = document.head
    if head is None or head.drawing is None:
        return document
    drawn = _drawn(head.drawing, document.handed, folder, along=_TO_THE_TAIL[head.drawing.tip], of=HEAD)
    corners = from_the_nut(drawn, document.nut.width)
    return document.model_copy(update={"head": head.read_as(corners)})


@lru_cache(maxsize=64)
def _shape(name: str, tail: float, dimensions: tuple[tuple[str, float], ...]) -> Outline:
    """A built-in outline; drawing its fair curve is the dearest part of reading a job, so it is kept."""
    return built_in(name, tail=tail, **dict(dimensions))


@lru_cache(maxsize=64)
def _by_handles(handles: tuple[Handle, ...], *, mirrored: bool, straight: bool) -> Outline:
    """An outline through handles, kept likewise."""
    return through_handles(handles, mirrored=mirrored, straight=straight).outline
