"""The heights: every saddle in its range, what would close the chain and can be tried, the strings over the pickups."""

from __future__ import annotations

from math import degrees
from typing import TYPE_CHECKING

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response

from scribeline.drawing.saddle_range import saddle_range
from scribeline.lengths import Try, put, put_number, tries_in
from scribeline.plan.heights import Heights, Way, heights
from scribeline.web.drawings import element
from scribeline.web.frame import Opened, Page, open_job, render
from scribeline.web.trying import Tried, as_typed, tried

if TYPE_CHECKING:
    from scribeline.plan import Plan

PAGE = Page("heights", "Heights", 27)
router = APIRouter()

_ROOMS = {"wide": (0.0, 0.0, 190.0, 62.0), "narrow": (0.0, 0.0, 120.0, 62.0)}
"""Of the drawing of the saddles' ranges, mm: across a page, and on a phone."""


@router.get("/jobs/{job_id}/heights")
def heights_page(request: Request, job_id: int) -> Response:
    """Every saddle in its range, and what would close the chain."""
    job = open_job(request, job_id, at_once=True)
    if job.plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    return _page(request, job, heights(job.plan))


@router.get("/jobs/{job_id}/heights/try")
def try_way(request: Request, job_id: int, key: str) -> Response:
    """What one number that closes the chain would do, shown before anything is kept."""
    job = open_job(request, job_id)
    found = None if job.plan is None else heights(job.plan)
    ways = {} if job.plan is None or found is None else ways_of(job.plan, found)
    if key not in ways:
        raise HTTPException(404)
    chosen = ways[key]
    return _page(request, job, found, at=key, outcome=tried(job, chosen.key, as_typed(chosen)))


def ways_of(plan: Plan, found: Heights) -> dict[str, Try]:
    """What can be put into the job to close the chain, by the key of its way; the board is set by the heel that it is part of."""
    return {
        each.key: tries_in(_put(plan, each), plan.unit)[0] for each in found.ways if each.value is not None
    }


def _put(plan: Plan, way: Way) -> str:
    value = way.value or 0.0
    if way.key == "neck.angle":
        return put_number(way.key, degrees(value))
    if way.key == "neck.board_thickness" and not plan.job.document.neck.runs_through:
        return put("neck.heel_thickness", plan.job.document.neck.heel_thickness.mm + value - way.now)
    return put(way.key, value)


def _page(
    request: Request, job: Opened, found: Heights | None, *, at: str = "", outcome: Tried | None = None
) -> Response:
    assert job.plan is not None
    pictures = {}
    if found is not None:
        pictures = {
            each: element(saddle_range(found, room, job.plan.unit), "every saddle in its range")
            for each, room in _ROOMS.items()
        }
    rooms = (
        []
        if found is None
        else [each for each in found.strings if each.down is not None and each.up is not None]
    )
    return render(
        request,
        "heights/heights.html",
        PAGE,
        job,
        found=found,
        pictures=pictures,
        down=min((each.down for each in rooms if each.down is not None), default=None),
        up=min((each.up for each in rooms if each.up is not None), default=None),
        ways={} if found is None else ways_of(job.plan, found),
        through=job.plan.job.document.neck.runs_through,
        lean=0.0 if found is None else degrees(found.lie.angle),
        degrees=degrees,
        at=at,
        tried=outcome,
        back=f"/jobs/{job.id}/heights",
    )
