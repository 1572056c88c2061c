"""The body's outline drawn: a fair curve through a few handles, moved by finger, mouse or keys, or typed."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.responses import JSONResponse, Response

from scribeline.job import JobError, remove_value, set_value
from scribeline.job.outline import OutlineError
from scribeline.web.edits import kept_if_sound
from scribeline.web.fields import at_key, stated
from scribeline.web.frame import Opened, Page, open_job, render
from scribeline.web.outlining import KEPT, MOST_ROWS, OVAL, Row, Sketch, answer, begun, cuts_path, frame, ways

PAGE = Page("outline/draw", "Draw an outline", 22, listed=False)
router = APIRouter()

LONGEST = 100
"""Characters of a name or a length as typed."""

Typed = Annotated[list[str], Form(max_length=MOST_ROWS)]


@router.get("/jobs/{job_id}/outline/draw")
def draw(request: Request, job_id: int, *, begin: str = "") -> Response:
    """The outline as it is by handles, or one to begin with."""
    job = open_job(request, job_id)
    if job.document is None or job.plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    own = job.document.body.outline
    way = begin or (KEPT if own.handles else own.shape or OVAL)
    if way not in ways(job.document):
        raise HTTPException(404, "there is no such outline to begin with")
    try:
        sketch = begun(job.plan, way)
    except OutlineError as fault:
        sketch = begun(job.plan, OVAL)
        return _page(request, job, sketch, OVAL, refused=(fault.told(job.document.units),))
    return _page(request, job, sketch, way)


def _page(
    request: Request,
    job: Opened,
    sketch: Sketch,
    way: str,
    *,
    refused: tuple[str, ...] = (),
) -> Response:
    assert job.plan is not None
    shown = answer(job.plan, sketch)
    return render(
        request,
        "parts/draw.html",
        PAGE,
        job,
        status=422 if refused else 200,
        sketch=sketch,
        shown=shown,
        frame=frame(job.plan, shown),
        was="M" + "L".join(f"{p.x:.2f} {-p.y:.2f}" for p in job.plan.layout.outline) + "Z",
        cuts=cuts_path(job.plan),
        ways=ways(job.plan.job.document),
        way=way,
        refused=refused,
    )


def _sketch(name: list[str], along: list[str], across: list[str], mirrored: str, neck_edge: str) -> Sketch:
    if not len(name) == len(along) == len(across):
        raise HTTPException(422, "each handle needs its name and both its places")
    if any(len(each) > LONGEST for each in (*name, *along, *across)):
        raise HTTPException(422, f"a name or a length has more than {LONGEST} letters")
    rows = tuple(Row(*each) for each in zip(name, along, across, strict=True))
    return Sketch(rows, mirrored=bool(mirrored), straight=neck_edge == "straight")


@router.post("/jobs/{job_id}/outline/draw/curve")
def curve(
    request: Request,
    job_id: int,
    *,
    name: Typed,
    along: Typed,
    across: Typed,
    mirrored: Annotated[str, Form(max_length=3)] = "",
    neck_edge: Annotated[str, Form(max_length=8)] = "rounded",
) -> Response:
    """The edge through handles as they are now, and what it measures; nothing is kept."""
    job = open_job(request, job_id)
    if job.plan is None:
        raise HTTPException(422, "the job cannot be read now")
    return JSONResponse(answer(job.plan, _sketch(name, along, across, mirrored, neck_edge)))


@router.post("/jobs/{job_id}/outline/draw")
def keep(
    request: Request,
    job_id: int,
    *,
    name: Typed,
    along: Typed,
    across: Typed,
    based_on: Annotated[int, Form()],
    mirrored: Annotated[str, Form(max_length=3)] = "",
    neck_edge: Annotated[str, Form(max_length=8)] = "rounded",
) -> Response:
    """Keep an outline by its handles; what a shape or a drawing needed is taken out."""
    job = open_job(request, job_id)
    if job.document is None:
        raise HTTPException(422, "the job cannot be read now")
    sketch = _sketch(name, along, across, mirrored, neck_edge)
    try:
        sketch.drawn(job.document.units)
        base = job.shop.store.revision(job_id, based_on)
        text = _stated(base.text, sketch.stated(job.document.units))
        return kept_if_sound(
            request, job, base, text, why="outline drawn by handles", back=f"/jobs/{job_id}/plan"
        )
    except OutlineError as fault:
        refused: tuple[str, ...] = (fault.told(job.document.units),)
    except JobError as error:
        refused = tuple(str(each) for each in error.faults)
    return _page(request, job, sketch, "", refused=refused)


def _stated(text: str, keys: dict[str, Any]) -> str:
    """The job's text with the outline stated by these keys alone."""
    own = at_key(stated(text), "body.outline")
    for key in tuple(own) if isinstance(own, dict) else ():
        if key not in keys:
            text, _ = remove_value(text, f"body.outline.{key}")
    for key, value in keys.items():
        text, _ = set_value(text, f"body.outline.{key}", value)
    return text
