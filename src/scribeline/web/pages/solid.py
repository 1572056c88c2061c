"""The body in three dimensions, looked through to its cuts."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import FileResponse, RedirectResponse, Response

from scribeline.features import Bore
from scribeline.lengths import in_unit, said
from scribeline.web.frame import Opened, Page, open_job, render
from scribeline.web.numbers import name_of
from scribeline.web.work import make_view

PAGE = Page("solid", "3D", 60)
router = APIRouter()

VIEW = "view"


def _mark(job: Opened) -> str:
    return job.shop.workshop.mark(VIEW, job.whole)


@router.get("/jobs/{job_id}/solid")
def solid(request: Request, job_id: int) -> Response:
    """The body, made in the background when it is first looked at."""
    job = open_job(request, job_id)
    if job.plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    workshop = job.shop.workshop
    work = workshop.look(_mark(job)) or workshop.ask(VIEW, job.whole, make_view)
    features = job.plan.features
    return render(
        request,
        "solid/solid.html",
        PAGE,
        job,
        work=work,
        mark=work.mark,
        cuts=[
            (
                each,
                name_of(each),
                each.role if isinstance(each, Bore) else in_unit(f"{said(each.depth, 1)} deep", job.units),
            )
            for each in features
        ],
    )


@router.post("/jobs/{job_id}/solid/stop")
def stop(request: Request, job_id: int) -> Response:
    """Stop making it."""
    job = open_job(request, job_id)
    job.shop.workshop.stop(_mark(job))
    return RedirectResponse(f"/jobs/{job_id}/solid", status_code=303)


@router.post("/jobs/{job_id}/solid/make")
def make(request: Request, job_id: int) -> Response:
    """Have it made again after it was stopped or failed."""
    job = open_job(request, job_id)
    job.shop.workshop.ask(VIEW, job.whole, make_view)
    return RedirectResponse(f"/jobs/{job_id}/solid", status_code=303)


@router.get("/jobs/{job_id}/solid/{mark}.glb")
def mesh(request: Request, job_id: int, mark: str) -> Response:
    """The scene; its name hangs on what it was made from, so a browser may keep it."""
    job = open_job(request, job_id)
    work = job.shop.workshop.look(mark) if mark == _mark(job) else None
    if work is None or not work.files:
        raise HTTPException(404)
    return FileResponse(
        work.files[0], media_type="model/gltf-binary", headers={"Cache-Control": "private, max-age=86400"}
    )
