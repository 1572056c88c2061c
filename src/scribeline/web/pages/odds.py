"""The odds: the chance that everything keeps its limits, what is likeliest to miss, what matters, what to measure next."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from scribeline.odds.words import percent
from scribeline.web.chances import found_of, measure_next
from scribeline.web.frame import Page, open_job, render
from scribeline.web.work import ODDS, make_odds

PAGE = Page("odds", "Odds", 47)
router = APIRouter()

MOST = 8
"""Lines of a list that stand open; the rest folds away."""


@router.get("/jobs/{job_id}/odds")
def odds_page(request: Request, job_id: int) -> Response:
    """The odds of the job as it is, with what is made and measured; tried when they are asked for."""
    job = open_job(request, job_id)
    if job.plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    work, told = found_of(job)
    picture = ""
    if told and work is not None and work.folder is not None:
        picture = (work.folder / "odds.svg").read_text(encoding="utf-8")
    return render(
        request,
        "odds/odds.html",
        PAGE,
        job,
        work=work,
        told=told,
        picture=picture,
        percent=percent,
        next_reading=measure_next(told),
        placed=job.plan.layout.bridge is not None,
        most=MOST,
        steps={card.id: card.no for card in job.plan.cards},
    )


@router.post("/jobs/{job_id}/odds")
def ask(request: Request, job_id: int) -> Response:
    """Have the odds worked out."""
    job = open_job(request, job_id)
    if job.plan is not None and job.plan.layout.bridge is not None:
        job.shop.workshop.ask(ODDS, job.whole, make_odds)
    return RedirectResponse(f"/jobs/{job_id}/odds", status_code=303)


@router.post("/jobs/{job_id}/odds/stop")
def stop(request: Request, job_id: int) -> Response:
    """Let no more builds be tried."""
    job = open_job(request, job_id)
    job.shop.workshop.stop(job.shop.workshop.mark(ODDS, job.whole))
    return RedirectResponse(f"/jobs/{job_id}/odds", status_code=303)
