"""The checks: what stands in the way of cutting, and the cure, which can be tried before it is kept."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from scribeline.features import Feature
from scribeline.web.frame import Page, open_job, render
from scribeline.web.numbers import name_of

PAGE = Page("checks", "Checks", 30)
router = APIRouter()


@router.get("/jobs/{job_id}/checks")
def checks(request: Request, job_id: int) -> Response:
    """Every finding, stops first, with its limit, where that comes from, and the cure."""
    job = open_job(request, job_id)
    if job.plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    by_id: dict[str, Feature] = {each.id: each for each in job.plan.features}
    named = {
        number: [(identity, name_of(by_id[identity])) for identity in finding.features if identity in by_id]
        for number, finding in enumerate(job.plan.findings)
    }
    return render(request, "checks/checks.html", PAGE, job, named=named, by_id=by_id)
