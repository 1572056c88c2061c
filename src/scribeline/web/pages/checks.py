"""The checks: what stands in the way of cutting, and the cure, which can be tried before it is kept."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, HTTPException, Query, Request
from fastapi.responses import Response

from scribeline.features import Feature
from scribeline.web.fields import in_words
from scribeline.web.frame import Opened, Page, open_job, render
from scribeline.web.numbers import name_of
from scribeline.web.trying import Tried, as_typed, tried

PAGE = Page("checks", "Checks", 30)

MEASURED_AT = {
    "typical.bridge": "bridge",
    "typical.bridge_screw": "screws",
    "typical.ferrules": "ferrules",
    "typical.body-thickness": "body",
    "bits.missing": "bits",
    "strings.making-assumed": "strings",
}
"""Where the number is stated that a finding asks for."""
router = APIRouter()


@router.get("/jobs/{job_id}/checks")
def checks(request: Request, job_id: int) -> Response:
    """Every finding, stops first, with its limit, where that comes from, and the cure."""
    job = open_job(request, job_id)
    if job.plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    return _page(request, job)


@router.get("/jobs/{job_id}/checks/try")
def try_cure(request: Request, job_id: int, finding: int, way: Annotated[int, Query(ge=0)] = 0) -> Response:
    """What one way out of a finding would do, shown before anything is kept."""
    job = open_job(request, job_id)
    findings = job.plan.findings if job.plan is not None else ()
    if not 0 < finding <= len(findings) or way >= len(findings[finding - 1].tries):
        raise HTTPException(404)
    chosen = findings[finding - 1].tries[way]
    return _page(request, job, at=finding, outcome=tried(job, chosen.key, as_typed(chosen)))


def _page(request: Request, job: Opened, *, at: int = 0, outcome: Tried | None = None) -> Response:
    assert job.plan is not None
    by_id: dict[str, Feature] = {each.id: each for each in job.plan.features}
    named = {
        number: [(identity, name_of(by_id[identity])) for identity in finding.features if identity in by_id]
        for number, finding in enumerate(job.plan.findings)
    }
    return render(
        request,
        "checks/checks.html",
        PAGE,
        job,
        named=named,
        by_id=by_id,
        at=at,
        measured_at=MEASURED_AT,
        words=lambda key: in_words(job.document, key),
        tried=outcome,
        back=f"/jobs/{job.id}/checks",
    )
