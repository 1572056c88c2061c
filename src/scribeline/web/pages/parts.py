"""The job's parts: what to measure on each, with a picture of which dimension is which."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.responses import Response

from scribeline.job import Document, Stated, set_value
from scribeline.store import BitKept, Conflict, Measured, PartEntry
from scribeline.store.kept import BitShelf
from scribeline.web.edits import Refused, conflicted, faults_in, keep, lenient, set_field
from scribeline.web.field import Family, Field
from scribeline.web.fields import (
    Standing,
    at_key,
    families,
    family,
    standing,
    stated,
    value_of,
)
from scribeline.web.fields import (
    guide as guided,
)
from scribeline.web.frame import Opened, Page, back_to, open_job, render
from scribeline.web.pictures import picture
from scribeline.web.shop import shop_of, who

PAGE = Page("parts", "Parts", 20)
router = APIRouter()

BIT_KINDS: tuple[BitShelf, ...] = ("twist", "brad_point", "flat_bottomed", "router")

MOST_TYPED = 400
"""Characters of one field."""


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
    return render(request, "parts/index.html", PAGE, job, rows=rows)


@router.get("/jobs/{job_id}/parts/{slug}")
def one_part(request: Request, job_id: int, slug: str, guide: int = 0) -> Response:
    """One part: its picture, its fields, how well each number is known."""
    job = open_job(request, job_id, at_once=True)
    return _family_page(request, job, slug, guide=guide)


def _family_page(
    request: Request, job: Opened, slug: str, *, guide: int = 0, refused: dict[str, Refused] | None = None
) -> Response:
    if job.document is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    one = family(job.document, slug)
    if one is None:
        raise HTTPException(404)
    return render(
        request,
        "parts/family.html",
        PAGE,
        job,
        status=422 if refused else 200,
        family=one,
        fields=filled(job, one),
        refused=refused or {},
        picture=picture(one.picture, len(job.document.strings)) if one.picture else "",
        guide=_guide(job, slug) if guide else None,
        book=_book(job, one),
        box=bool(job.shop.store.bits()),
    )


def filled(job: Opened, one: Family) -> list[tuple[Field, Standing]]:
    """A family's fields with what stands in each now."""
    raw = stated(job.text)
    return [(each, standing(each, raw, job.document)) for each in one.fields]


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
    field = lenient(job.document, key)
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
    from datetime import UTC, datetime

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
    if faults_in(job, text):
        raise HTTPException(422, f"{name} does not fit this job: {faults_in(job, text)[0]}")
    try:
        keep(job, base, text, request, f"{one.title}: {name} from the parts book")
    except Conflict as conflict:
        return conflicted(request, job, conflict, back)
    return back_to(job_id, back)


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
    if faults := faults_in(job, text):
        raise HTTPException(422, f"the shop's bits do not fit this job: {faults[0]}")
    try:
        keep(job, base, text, request, "the shop's bits")
    except Conflict as conflict:
        return conflicted(request, job, conflict, back)
    return back_to(job_id, back)


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
    return {"screws": [[f"{value:g} mm" for value in place] for place in job.document.bridge.screws]}
