"""The body's outline: one of the built-in shapes, or a drawing read in."""

from __future__ import annotations

from contextlib import ExitStack
from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Request, UploadFile
from fastapi.responses import Response

from scribeline.drawing.section import walls_along
from scribeline.job import JobError, remove_value, set_value
from scribeline.job.outline import shape_names
from scribeline.store import DiskFault, StoreError
from scribeline.web.edits import kept_if_sound
from scribeline.web.fields import asked, at_key, shown, stated, value_of
from scribeline.web.frame import Opened, Page, as_typed, open_job, render
from scribeline.web.pictures import shape_picture
from scribeline.web.shop import shop_of, who
from scribeline.web.uploads import checked

PAGE = Page("outline", "Outline", 21, listed=False)
router = APIRouter()

FROM_FILE = (
    "file",
    "layer",
    "along",
    "centre",
    "origin",
    "seen_from",
    "true_length",
    "true_width",
    "drawn_for",
)
BY_HANDLES = ("handles", "mirrored", "neck_edge")
UNUSABLE = 422
TYPED = ("along", "centre", "tail", "seen_from", "drawn_for", "layer")


@router.get("/jobs/{job_id}/outline")
def outline(request: Request, job_id: int) -> Response:
    """What the outline comes from now, and the other ways to state it."""
    return _page(request, open_job(request, job_id))


def _page(
    request: Request, job: Opened, *, faults: tuple[str, ...] = (), typed: dict[str, str] | None = None
) -> Response:
    if job.document is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    known = {each: shown(at_key(stated(job.text), f"body.outline.{each}")) for each in TYPED}
    return render(
        request,
        "parts/outline.html",
        PAGE,
        job,
        status=UNUSABLE if faults else 200,
        shapes=[
            (each, shape_picture(each, left_handed=job.document.handed == "left")) for each in shape_names()
        ],
        faults=faults,
        typed=typed or known,
        files=[each.name for each in job.shop.store.attachments(job.id)],
    )


@router.post("/jobs/{job_id}/outline/shape")
def take_shape(
    request: Request, job_id: int, *, shape: Annotated[str, Form()], based_on: Annotated[int, Form()]
) -> Response:
    """Take a built-in shape; what a drawing needed is taken out."""
    job = open_job(request, job_id)
    if shape not in shape_names():
        raise HTTPException(422, "choose one of the shapes")
    text = _without(job.shop.store.revision(job_id, based_on).text, (*FROM_FILE, *BY_HANDLES))
    text, _ = set_value(text, "body.outline.shape", shape)
    if at_key(stated(text), "body.outline.tail") is None and job.plan is not None:
        # The shape takes the tail edge of the outline that there was.
        edge = max(walls_along(job.plan.layout.outline, 0.0))
        text, _ = set_value(
            text, "body.outline.tail", value_of(asked(None, "body.outline.tail"), as_typed(edge, job.units))
        )
    return _kept(request, job, text, based_on=based_on, why=f"outline: {shape}")


@router.post("/jobs/{job_id}/outline/drawing")
def take_drawing(
    request: Request,
    job_id: int,
    *,
    file: UploadFile,
    based_on: Annotated[int, Form()],
    along: Annotated[str, Form(max_length=2)] = "+x",
    centre: Annotated[str, Form(max_length=40)] = "",
    tail: Annotated[str, Form(max_length=40)] = "",
    seen_from: Annotated[str, Form(max_length=5)] = "front",
    drawn_for: Annotated[str, Form(max_length=5)] = "",
    layer: Annotated[str, Form(max_length=100)] = "",
) -> Response:
    """Read a DXF or SVG drawing in; it is kept with the job."""
    job = open_job(request, job_id)
    typed = dict(zip(TYPED, (along, centre, tail, seen_from, drawn_for, layer), strict=True))
    name = (file.filename or "").replace("\\", "/").rsplit("/", 1)[-1]
    try:
        content = file.file.read()
        checked(name, content)
        file_kept = shop_of(request).store.attach(job_id, name, content, by=who(request))
    except DiskFault:
        raise
    except StoreError as fault:
        return _page(request, job, faults=(str(fault),), typed=typed)
    with ExitStack() as refused:
        refused.callback(job.shop.store.detach, file_kept)
        answer = _drawn(request, job_id, name, typed, based_on)
        if answer.status_code != UNUSABLE:
            refused.pop_all()
    return answer


def _drawn(request: Request, job_id: int, name: str, typed: dict[str, str], based_on: int) -> Response:
    """The outline from a drawing that lies beside the job now."""
    job = open_job(request, job_id)
    text = _without(
        job.shop.store.revision(job_id, based_on).text, ("shape", "dimensions", *FROM_FILE, *BY_HANDLES)
    )
    text, _ = set_value(text, "body.outline.file", name)
    for key, words in typed.items():
        if words.strip():
            field = asked(None, f"body.outline.{key}")
            text, _ = set_value(text, field.key, value_of(field, words))
    return _kept(request, job, text, based_on=based_on, why=f"outline from {name}", typed=typed)


def _kept(
    request: Request,
    job: Opened,
    text: str,
    *,
    based_on: int,
    why: str,
    typed: dict[str, str] | None = None,
) -> Response:
    base = job.shop.store.revision(job.id, based_on)
    try:
        return kept_if_sound(request, job, base, text, why=why, back=f"/jobs/{job.id}/plan")
    except JobError as error:
        return _page(request, job, faults=tuple(str(each) for each in error.faults), typed=typed)


def _without(text: str, keys: tuple[str, ...]) -> str:
    """The job's text without some keys of its outline."""
    for key in keys:
        try:
            text, _ = remove_value(text, f"body.outline.{key}")
        except JobError:
            continue  # it was not stated
    return text
