"""The job's parts: what to measure on each, with a picture of which dimension is which."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Form, HTTPException, Query, Request
from fastapi.responses import Response

from scribeline.job import Document, Fault, JobError, Stated, arranged, remove_value, set_value
from scribeline.store import BitKept, Measured, PartEntry, Revision, StoreError
from scribeline.store.checks import line
from scribeline.store.kept import BitShelf
from scribeline.web.blanks import begun, blank, choices, further, of_its_kind, starts, written
from scribeline.web.edits import (
    Refused,
    kept_if_sound,
    made_of,
    said,
    set_field,
    typed_into,
)
from scribeline.web.field import Blank, Family, Field
from scribeline.web.fields import (
    Standing,
    adds,
    asked,
    at_key,
    families,
    family,
    page_of,
    shown,
    standing,
    stated,
    value_of,
)
from scribeline.web.fields import guide as guided
from scribeline.web.frame import Opened, Page, back_to, open_job, render
from scribeline.web.pictures import picture
from scribeline.web.planning import Whole
from scribeline.web.shelves import OnShelf, measured_of, on_shelf, shelf_of
from scribeline.web.shop import shop_of, who

PAGE = Page("parts", "Parts", 20)
router = APIRouter()

BIT_KINDS: tuple[BitShelf, ...] = ("twist", "brad_point", "flat_bottomed", "router")

MOST_TYPED = 600_000
"""Characters of one field: the corners of an outline, one a line."""


@router.get("/jobs/{job_id}/parts")
def index(request: Request, job_id: int) -> Response:
    """Every part with how much of it is measured."""
    job = open_job(request, job_id, at_once=True)
    raw = stated(job.text)
    rows = []
    for one in families(job.document) if job.document is not None else ():
        standings = [standing(each, raw, job.document) for each in one.fields]
        measured = sum(each.how.startswith("measured") for each in standings)
        rows.append((one, sum(each.typical for each in standings), measured))
    more = adds(job.document) if job.document is not None else ()
    return render(request, "parts/index.html", PAGE, job, rows=rows, adds=more)


@router.get("/jobs/{job_id}/parts/new")
def new(
    request: Request,
    job_id: int,
    *,
    of: str,
    ways: str = "",
    group: int | None = None,
    start: str = "",
    book: Annotated[str, Query(max_length=100)] = "",
    put_in: Annotated[str, Query(max_length=80)] = "",
    key: Annotated[list[str], Query(default_factory=list, max_length=200)],
    value: Annotated[list[str], Query(default_factory=list, max_length=200)],
) -> Response:
    """What has to be said of a new table, or of one that shall be stated in another way.

    `start` fills in a usual one, `book` a part of the parts book; what was typed by then is sent along and stays.
    """
    job = open_job(request, job_id, at_once=True)
    asked_for = _blank(job, of, ways, group)
    assert job.document is not None
    typed = begun(job.document, asked_for, start) | dict(zip(key, value, strict=False))
    part = next((each for each in _on_shelf(job, asked_for) if each.key == book), None)
    if part is not None:
        asked_for = further(job.document, asked_for, part.fills)
        typed |= {f"{asked_for.table}.{name}": words for name, words in part.fills.items()}
    return _blank_page(request, job, asked_for, ways, typed=typed, start=start, book=book, put_in=put_in)


def _on_shelf(job: Opened, asked_for: Blank) -> tuple[OnShelf, ...]:
    """Parts of the book that a new table may be filled from."""
    shelf = shelf_of(job.document, asked_for) if job.document is not None else ""
    if not shelf or job.document is None:
        return ()
    return tuple(on_shelf(job.document, asked_for, job.shop.store.parts(shelf)))


def _blank(job: Opened, of: str, ways: str, group: int | None) -> Blank:
    chosen = [int(each) for each in ways.split(",") if each.isdecimal()]
    found = None if job.document is None else blank(job.document, of, chosen, group)
    if found is None:
        raise HTTPException(404)
    return found


def _blank_page(
    request: Request,
    job: Opened,
    asked_for: Blank,
    ways: str,
    *,
    typed: dict[str, str] | None = None,
    wrong: dict[str, str] | None = None,
    start: str = "",
    book: str = "",
    put_in: str = "",
) -> Response:
    raw = stated(job.text)
    offered = _on_shelf(job, asked_for)
    fields = [
        (each, Standing((typed or {}).get(each.key, shown(at_key(raw, each.key))), None, ""))
        for each in sorted(asked_for.fields, key=lambda each: each.key.endswith(".measured"))
        if not (offered and each.key == f"{asked_for.table}.part")  # a touch above fills all of it
    ]
    return render(
        request,
        "parts/new.html",
        PAGE,
        job,
        status=422 if wrong else 200,
        here=False,
        blank=asked_for,
        fields=fields,
        ways=ways,
        wrong=wrong or {},
        page_of=page_of(asked_for.key),
        choices=choices,
        starts=starts(job.document, asked_for) if job.document is not None else (),
        start=start,
        offered=offered,
        book=book,
        put_in=put_in,
        has_shelf=job.document is not None and bool(shelf_of(job.document, asked_for)),
    )


@router.post("/jobs/{job_id}/parts/new")
def write_new(
    request: Request,
    job_id: int,
    *,
    of: Annotated[str, Form(max_length=100)],
    based_on: Annotated[int, Form()],
    key: Annotated[list[str], Form(default_factory=list, max_length=200)],
    value: Annotated[list[str], Form(default_factory=list, max_length=200)],
    ways: Annotated[str, Form(max_length=40)] = "",
    group: Annotated[int | None, Form()] = None,
    from_book: Annotated[str, Form(max_length=100)] = "",
    put_in: Annotated[str, Form(max_length=80)] = "",
) -> Response:
    """Write a table as it was typed, or say beside each field what is wrong with it; a part may go into the book with it."""
    job = open_job(request, job_id)
    asked_for, typed = _blank(job, of, ways, group), dict(zip(key, value, strict=False))
    if job.document is not None:
        asked_for = further(
            job.document, asked_for, (each.removeprefix(f"{asked_for.table}.") for each in key)
        )
    # What was typed on the page before may have arrived after this one was made.
    base = typed_into(job, based_on, asked_for.key, request)
    back = f"/jobs/{job_id}/parts/{page_of(asked_for.table)}"
    why = f"{asked_for.title}: {typed.get(f'{asked_for.table}.name', '')}".removesuffix(": ")
    try:
        text = written(base.text, asked_for, typed)
        if asked_for.table == "bridge":
            # One of another kind leaves what was the old one's, and may hang in cavities that are not there yet.
            text = job.shop.planner.with_cavities(of_its_kind(text), job.folder)
        part = _for_the_book(request, job, text, asked_for, put_in) if put_in.strip() else None
        kept = kept_if_sound(request, job, base, text, why=why, back=back)
        if part is not None:
            shelf, name, measured, details = part
            job.shop.store.save_part(shelf, name, measured, details=details)
        return kept
    except JobError as error:
        own = {
            each.key: "; ".join(f.sentence for f in error.faults if f.path == each.key)
            for each in asked_for.fields
        }
        rest = [fault for fault in error.faults if not own.get(fault.path)]
        field = Field(asked_for.table, asked_for.title)
        own[""] = said(job.document, field, tuple(rest)) if rest else ""
        return _blank_page(
            request, job, asked_for, ways, typed=typed, wrong=own, book=from_book, put_in=put_in
        )


def _for_the_book(
    request: Request, job: Opened, text: str, asked_for: Blank, name: str
) -> tuple[str, str, dict[str, Measured], dict[str, Any]]:
    """The shelf of a new table's part, its name there, and what of it is kept.

    Raises:
        JobError: the text cannot be read with the table, nothing of the part was measured, or the name cannot be kept.
    """
    try:
        called = line(name, "the part's name", most=60)
    except StoreError as fault:
        raise JobError([Fault("", str(fault))]) from fault
    document = job.shop.planner.job(Whole(text, job.folder, job.record)).job.document
    measured, details = measured_of(document, asked_for, by=who(request), at=datetime.now(UTC))
    return shelf_of(document, asked_for), called, measured, details


@router.post("/jobs/{job_id}/parts/item")
def item(
    request: Request,
    job_id: int,
    *,
    of: Annotated[str, Form(max_length=100)],
    act: Annotated[str, Form(pattern="copy|up|down|remove")],
    based_on: Annotated[int, Form()],
    number: Annotated[int, Form(ge=0)] = 0,
) -> Response:
    """Copy, move or take out one table of a list; take out a table that may be left out."""
    job = open_job(request, job_id, at_once=True)
    if job.document is None:
        raise HTTPException(404)
    base = typed_into(job, based_on, of, request)
    slug = page_of(f"{of}[{number}]" if number else of)
    try:
        text, after = _acted(job, base.text, of, number, act)
        slug = page_of(f"{of}[{after}]" if number else of)
        there = act != "remove" or "." in of or "[" in of or slug == "strings"
        back = f"/jobs/{job_id}/parts{f'/{slug}' if there else ''}"
        why = f"{slug.replace('-', ' ')}: {_DONE.get(act, act)}"
        return kept_if_sound(request, job, base, text, why=why, back=back)
    except JobError as error:
        words = said(job.document, Field(of, of), error.faults)
        return _family_page(request, job, slug, wrong=words)


_DONE = {"up": "moved up", "down": "moved down", "copy": "copied", "remove": "taken out"}
"""What was done, for the history."""


def _acted(job: Opened, text: str, of: str, number: int, act: str) -> tuple[str, int]:
    """The text with a table copied, moved or taken out, and which of its list it is then."""
    if not number:
        return remove_value(text, of)[0], 0
    order = list(range(len(at_key(stated(text), of) or ())))
    at, to = number - 1, number - 1 + {"up": -1, "down": 1}.get(act, 0)
    if at not in order or to not in order:
        raise HTTPException(404)
    if act == "copy":
        return _copied(text, of, order, at), len(order) + 1
    if made := made_of(job, of, number):
        words = (
            f"{made} is cut already, and the record goes by the order: it stays unless its tick is taken back"
        )
        raise JobError([Fault(of, words)])
    order.insert(to, order.pop(at))
    return arranged(text, of, [each for each in order if act != "remove" or each != at]), to + 1


def _copied(text: str, of: str, order: list[int], at: int) -> str:
    """The text with a table of a list once more, behind the others, under a name that is free."""
    made = arranged(text, of, [*order, at])
    name = at_key(stated(text), f"{of}[{at + 1}].name")
    if name is None:
        return made
    names = {at_key(stated(text), f"{of}[{each + 1}].name") for each in order}
    free = next(f"{name} {n}" for n in range(2, 1000) if f"{name} {n}" not in names)
    return set_value(made, f"{of}[{len(order) + 1}].name", free)[0]


@router.get("/jobs/{job_id}/parts/{slug}")
def one_part(request: Request, job_id: int, slug: str, guide: int = 0) -> Response:
    """One part: its picture, its fields, how well each number is known."""
    job = open_job(request, job_id, at_once=True)
    return _family_page(request, job, slug, guide=guide)


def _family_page(request: Request, job: Opened, slug: str, *, guide: int = 0, wrong: str = "") -> Response:
    if job.document is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    one = family(job.document, slug)
    if one is None:  # such as a copy that was taken back
        return back_to(job.id, f"/jobs/{job.id}/parts")
    raw = stated(job.text)
    return render(
        request,
        "parts/family.html",
        PAGE,
        job,
        status=422 if wrong else 200,
        family=one,
        now={each.key: standing(each, raw, job.document) for each in one.fields},
        wrong=wrong,
        choices=choices,
        picture=picture(one.picture, len(job.document.strings)) if one.picture else "",
        guide=_guide(job, slug) if guide else None,
        book=_book(job, one),
        box=bool(job.shop.store.bits()),
    )


def _guide(job: Opened, slug: str) -> dict[str, Any]:
    """Where this screen stands in the guided path."""
    assert job.document is not None
    way = guided(job.document)
    number = way.index(slug) if slug in way else len(way) - 1
    after = way[number + 1] if number + 1 < len(way) else None
    return {
        "number": number + 1,
        "of": len(way),
        "back": f"/jobs/{job.id}/parts/{way[number - 1]}?guide=1" if number else "",
        "next": f"/jobs/{job.id}/parts/{after}?guide=1" if after else "",
        "plan": f"/jobs/{job.id}/plan",
        "last": after is None,
    }


def _book(job: Opened, one: Family) -> list[PartEntry]:
    """The shop's own measured parts that may stand in here."""
    return list(job.shop.store.parts(one.shelf)) if one.shelf else []


@router.post("/jobs/{job_id}/set")
def set_one(
    request: Request,
    job_id: int,
    *,
    key: Annotated[str, Form(max_length=100)],
    based_on: Annotated[int, Form()],
    value: Annotated[str, Form(max_length=MOST_TYPED)] = "",
    back: Annotated[str, Form(max_length=400)] = "",
) -> Response:
    """Keep one number; the drawing and the checks answer on the page it came from."""
    job = open_job(request, job_id, at_once=True)
    base = job.shop.store.revision(job_id, based_on)
    field = asked(job.document, key)
    outcome = set_field(request, job, base, field, typed=value, back=back)
    if isinstance(outcome, Refused):
        how = standing(field, stated(job.text), job.document)
        return render(
            request,
            "parts/refused.html",
            PAGE,
            job,
            status=422,
            field_=field,
            standing=how,
            refused=outcome,
            back=back,
        )
    return outcome


@router.post("/jobs/{job_id}/parts/{slug}/book")
def into_book(
    request: Request,
    job_id: int,
    slug: str,
    name: Annotated[str, Form(max_length=80)],
    back: Annotated[str, Form()] = "",
) -> Response:
    """Keep this part's measured numbers in the shop's parts book, to be taken into other jobs."""
    job = open_job(request, job_id)
    one = family(job.document, slug) if job.document is not None else None
    if one is None or not one.table:
        raise HTTPException(404)
    now, measured = datetime.now(UTC), {}
    for field in _own(one):
        value = at_key(job.document, field.key)
        if getattr(value, "measured", False):
            plain = field.key.split(".", 1)[1]
            measured[plain] = Measured(value.mm, value.plus_minus, who(request), "as stated in the job", now)
    details = _details(job, one.table)
    shop_of(request).store.save_part(one.shelf, name, measured, details=details)
    return back_to(job_id, back)


@router.post("/jobs/{job_id}/parts/{slug}/take")
def from_book(
    request: Request,
    job_id: int,
    slug: str,
    *,
    name: Annotated[str, Form(max_length=80)],
    based_on: Annotated[int, Form()],
    back: Annotated[str, Form()] = "",
) -> Response:
    """Take a part of the shop's book into this job, every measured number with its ±."""
    job = open_job(request, job_id)
    one = family(job.document, slug) if job.document is not None else None
    entry = next((each for each in _book(job, one) if each.name == name), None) if one else None
    if one is None or entry is None:
        raise HTTPException(404)
    base = job.shop.store.revision(job_id, based_on)
    text = base.text
    for key, value in entry.dimensions.items():
        text, _ = set_value(text, f"{one.table}.{key}", value.stated)
    for key, value in entry.details.items():
        text, _ = set_value(text, f"{one.table}.{key}", value)
    return _taken(request, job, base, text, why=f"{one.title}: {name} from the parts book", back=back)


def _taken(request: Request, job: Opened, base: Revision, text: str, *, why: str, back: str) -> Response:
    """Keep what was taken from the shop's own, where it fits the job."""
    try:
        return kept_if_sound(request, job, base, text, why=why, back=back)
    except JobError as error:
        raise HTTPException(422, f"{why} does not fit this job: {error.faults[0]}") from error


@router.post("/jobs/{job_id}/box")
def box(
    request: Request,
    job_id: int,
    *,
    way: Annotated[str, Form(pattern="take|keep")],
    based_on: Annotated[int, Form()],
    back: Annotated[str, Form()] = "",
) -> Response:
    """Take the shop's drill box into this job, or keep this job's bits as the shop's."""
    job = open_job(request, job_id)
    if job.document is None:
        raise HTTPException(404)
    if way == "keep":
        shop_of(request).store.save_bits(_bits_of(job.document), by=who(request))
        return back_to(job_id, back)
    base = job.shop.store.revision(job_id, based_on)
    text = base.text
    for kind in BIT_KINDS:
        sizes = [each.size for each in job.shop.store.bits() if each.kind == kind]
        text, _ = set_value(text, f"bits.{kind}", _sizes(sizes))
    return _taken(request, job, base, text, why="the shop's bits", back=back)


def _sizes(sizes: list[str]) -> Stated:
    """Sizes as the shop keeps them, said so that a job in inches reads them alike."""
    told = [f"{each} mm" if each.replace(".", "", 1).isdecimal() else each for each in sizes]
    return value_of(Field("bits", "", kind="bits"), "".join(f"{each};" for each in told))


def _bits_of(document: Document) -> list[BitKept]:
    """A job's bits as the shop keeps them: a bare number said in the job's unit keeps that unit."""
    kept = []
    for kind in BIT_KINDS:
        for bit in getattr(document.bits, kind):
            bare = bit.label.replace(".", "", 1).isdecimal()
            size = f"{bit.label} {document.units}" if bare and document.units != "mm" else bit.label
            kept.append(BitKept(kind, size, bit.point, bit.reach))
    return kept


def _own(one: Family) -> list[Field]:
    """The fields that belong to the part itself, not to the wood around it."""
    return [each for each in one.fields if each.key.startswith(f"{one.table}.") and each.kind == "length"]


def _details(job: Opened, table: str) -> dict[str, Any]:
    """What is no single dimension but belongs to the part: the places of the plate's screws."""
    if table != "bridge" or job.document is None:
        return {}
    stated = job.document.bridge.model_dump(exclude={"filled_from_book"})
    listed = {key: value for key, value in stated.items() if isinstance(value, tuple) and value}
    return {key: [[f"{mm:g} mm" for mm in place] for place in places] for key, places in listed.items()}
