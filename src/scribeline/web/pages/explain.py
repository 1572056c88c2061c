"""Why a number is what it is: its formula, its inputs and theirs, each to be touched."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response

from scribeline.plan.named import explained
from scribeline.quantities import formula_words, value_words
from scribeline.web.frame import Page, open_job, render

PAGE = Page("explain", "Why", 90, listed=False)

router = APIRouter()


@router.get("/jobs/{job_id}/explain")
def explain(request: Request, job_id: int, of: str) -> Response:
    """How the numbers of one id came about, down to what was stated, measured or looked up."""
    job = open_job(request, job_id, at_once=True)
    if job.plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    found = explained(job.plan, of)
    if found is None:
        raise HTTPException(404)
    return render(
        request,
        "explain/explain.html",
        PAGE,
        job,
        found=found,
        rest=found.rest(),
        value_words=value_words,
        formula_words=formula_words,
    )
