"""The body's outline: one of the built-in shapes, or a drawing read in; the head's out of a drawing."""

from __future__ import annotations

from contextlib import ExitStack
from typing import Annotated, NamedTuple

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


class Of(NamedTuple):
    """What an outline is of.

    Attributes:
        key: of the table that names the drawing.
        template: of its page.
        typed: keys of that table that are asked for beside the file.
        instead: keys of the job that go when a drawing is taken.
        back: the page to see it on.
    """

    key: str
    template: str
    typed: tuple[str, ...]
    instead: tuple[str, ...]
    back: str


BODY = Of(
    "body.outline",
    "parts/outline.html",
    ("along", "centre", "tail", "seen_from", "drawn_for", "layer"),
    tuple(f"body.outline.{key}" for key in ("shape", "dimensions", *FROM_FILE, *BY_HANDLES)),
    "plan",
)
HEAD = Of(
    "head.drawing",
    "parts/outline_head.html",
    ("tip", "origin", "seen_from", "drawn_for", "layer", "true_length"),
    ("head.shape", "head.outline", "head.drawing"),
    "neck",
)


@router.get("/jobs/{job_id}/outline")
def outline(request: Request, job_id: int) -> Response:
    """What the outline comes from now, and the other ways to state it."""
    return _page(request, open_job(request, job_id))


@router.get("/jobs/{job_id}/outline/head")
def head_outline(request: Request, job_id: int) -> Response:
    """The drawing that the head's outline comes from, or may come from."""
    return _page(request, _with_a_head(request, job_id), of=HEAD)


def _with_a_head(request: Request, job_id: int) -> Opened:
    job = open_job(request, job_id)
    if job.document is not None and job.document.head is None:
        raise HTTPException(404, "this job states no head; add it among the parts first")
    return job


def _page(
    request: Request,
    job: Opened,
    *,
    of: Of = BODY,
    faults: tuple[str, ...] = (),
    typed: dict[str, str] | None = None,
) -> Response:
    if job.document is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    known = {each: shown(at_key(stated(job.text), f"{of.key}.{each}")) for each in of.typed}
    return render(
        request,
        of.template,
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
    text = _without(
        job.shop.store.revision(job_id, based_on).text,
        tuple(f"body.outline.{key}" for key in (*FROM_FILE, *BY_HANDLES)),
    )
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
    typed = dict(zip(BODY.typed, (along, centre, tail, seen_from, drawn_for, layer), strict=True))
    return _taken(request, open_job(request, job_id), file, typed, based_on=based_on, of=BODY)


@router.post("/jobs/{job_id}/outline/head/drawing")
def take_head(
    request: Request,
    job_id: int,
    *,
    file: UploadFile,
    based_on: Annotated[int, Form()],
    tip: Annotated[str, Form(max_length=2)] = "-x",
    origin: Annotated[str, Form(max_length=80)] = "",
    seen_from: Annotated[str, Form(max_length=5)] = "front",
    drawn_for: Annotated[str, Form(max_length=5)] = "",
    layer: Annotated[str, Form(max_length=100)] = "",
    true_length: Annotated[str, Form(max_length=40)] = "",
) -> Response:
    """Read a DXF or SVG drawing of the head in, likewise."""
    typed = dict(zip(HEAD.typed, (tip, origin, seen_from, drawn_for, layer, true_length), strict=True))
    return _taken(request, _with_a_head(request, job_id), file, typed, based_on=based_on, of=HEAD)


def _taken(
    request: Request, job: Opened, file: UploadFile, typed: dict[str, str], *, based_on: int, of: Of
) -> Response:
    """Keep a drawing with the job and read the outline out of it; what is refused is not kept."""
    name = (file.filename or "").replace("\\", "/").rsplit("/", 1)[-1]
    try:
        content = file.file.read()
        checked(name, content)
        file_kept = shop_of(request).store.attach(job.id, name, content, by=who(request))
    except DiskFault:
        raise
    except StoreError as fault:
        return _page(request, job, of=of, faults=(str(fault),), typed=typed)
    with ExitStack() as refused:
        refused.callback(job.shop.store.detach, file_kept)
        answer = _drawn(request, job.id, name, typed, based_on=based_on, of=of)
        if answer.status_code != UNUSABLE:
            refused.pop_all()
    return answer


def _drawn(
    request: Request, job_id: int, name: str, typed: dict[str, str], *, based_on: int, of: Of
) -> Response:
    """The outline from a drawing that lies beside the job now."""
    job = open_job(request, job_id)
    text = _without(job.shop.store.revision(job_id, based_on).text, of.instead)
    text, _ = set_value(text, f"{of.key}.file", name)
    for key, words in typed.items():
        if words.strip():
            field = asked(None, f"{of.key}.{key}")
            text, _ = set_value(text, field.key, value_of(field, words))
    return _kept(request, job, text, based_on=based_on, why=f"outline from {name}", typed=typed, of=of)


def _kept(
    request: Request,
    job: Opened,
    text: str,
    *,
    based_on: int,
    why: str,
    typed: dict[str, str] | None = None,
    of: Of = BODY,
) -> Response:
    base = job.shop.store.revision(job.id, based_on)
    try:
        return kept_if_sound(request, job, base, text, why=why, back=f"/jobs/{job.id}/{of.back}")
    except JobError as error:
        return _page(request, job, of=of, faults=tuple(str(each) for each in error.faults), typed=typed)


def _without(text: str, keys: tuple[str, ...]) -> str:
    """The job's text without some of its keys."""
    for key in keys:
        try:
            text, _ = remove_value(text, key)
        except JobError:
            continue  # it was not stated
    return text
