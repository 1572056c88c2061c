"""The checks: what stands in the way of cutting, and the cure, which can be tried before it is kept."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, HTTPException, Query, Request
from fastapi.responses import Response

from scribeline.drawing.wood_left import picture_of_wood_left
from scribeline.features import Feature
from scribeline.findings import Finding
from scribeline.job import Document, feature_id
from scribeline.plan import Plan
from scribeline.steps import Card
from scribeline.web.drawings import element
from scribeline.web.fields import page_of
from scribeline.web.frame import Opened, Page, open_job, render
from scribeline.web.numbers import name_of
from scribeline.web.trying import Cure, Tried, ranked, way_out, ways_out

PAGE = Page("checks", "Checks", 30)

router = APIRouter()


@router.get("/jobs/{job_id}/checks")
def checks(request: Request, job_id: int) -> Response:
    """Every finding, stops first, with its limit, where that comes from, and the cure."""
    job = open_job(request, job_id, at_once=True)
    if job.plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    return _page(request, job)


@router.get("/jobs/{job_id}/checks/try")
def try_cure(request: Request, job_id: int, finding: int, way: Annotated[int, Query(ge=0)] = 0) -> Response:
    """What one way out of a finding would do, shown before anything is kept: its tries, then the cuts that may move away."""
    job = open_job(request, job_id)
    if job.plan is None or not 0 < finding <= len(job.plan.findings):
        raise HTTPException(404)
    outcome = way_out(job, job.plan.findings[finding - 1], way)
    if outcome is None:
        raise HTTPException(404)
    return _page(request, job, at=finding, outcome=outcome)


@router.get("/jobs/{job_id}/checks/cures")
def cures(request: Request, job_id: int, finding: int) -> Response:
    """The ways out of a finding in their order, with what each would do: asked for once it is looked at."""
    job = open_job(request, job_id, at_once=True)
    if job.plan is None or not 0 < finding <= len(job.plan.findings):
        raise HTTPException(404)
    chosen = job.plan.findings[finding - 1]
    found = job.shop.cures.once((job.whole, finding), lambda: ranked(job, chosen))
    return render(request, "checks/_cures.html", PAGE, job, here=False, n=finding, ways=found, looked=True)


def _ways_out(job: Opened, plan: Plan) -> dict[int, tuple[tuple[Cure, ...], bool]]:
    """The ways out of each finding, by its number: in their order where somebody has looked, and whether so."""
    found = {}
    for number, finding in enumerate(plan.findings, start=1):
        known = job.shop.cures.found((job.whole, number))
        found[number] = (known[0], True) if known else (ways_out(job, finding), False)
    return found


def _page(request: Request, job: Opened, *, at: int = 0, outcome: Tried | None = None) -> Response:
    assert job.plan is not None
    by_id: dict[str, Feature] = {each.id: each for each in job.plan.every_cut}
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
        waiting=_waiting(job.plan),
        by_id=by_id,
        pictures=_pictures(job, job.plan),
        ways_out=_ways_out(job, job.plan),
        at=at,
        rescued=_rescued(job.plan),
        measured_at=_measured_at(job.plan.job.document),
        tried=outcome,
        back=f"/jobs/{job.id}/checks",
    )


def _rescued(plan: Plan) -> dict[Finding, str]:
    """The checks about nothing but cuts that are made and off, with the first of these."""
    off = {change.feature for change in plan.moved}
    return {
        each: next(name for name in each.features if name in off)
        for each in plan.findings
        if each.severity != "note" and plan.made.issuperset(each.features) and off & set(each.features)
    }


def _pictures(job: Opened, plan: Plan) -> dict[int, str]:
    """The piece of the body that each stop and caution is about, by the check's number."""

    def made() -> dict[int, str]:
        found = {}
        for number, finding in enumerate(plan.findings, start=1):
            items = () if finding.severity == "note" else picture_of_wood_left(plan, finding)
            if items:
                found[number] = element(items, f"section where the wood is least: {finding.message}")
        return found

    return job.shop.planner.once(("wood left", job.whole), made)


def _waiting(plan: Plan) -> dict[Finding, list[Card]]:
    """The steps that each stop keeps from being begun."""
    found: dict[Finding, list[Card]] = {}
    for card in plan.cards:
        for stop in plan.stopped.get(card.id, ()):
            found.setdefault(stop, []).append(card)
    return found


_PARTS = ("bridge", "bridge_screw", "ferrules", "neck_screws", "neck_inserts")


def _measured_at(document: Document) -> dict[str, str]:
    """On which part's page the number is stated that a finding asks for, by the finding's code."""
    at = {
        **{f"typical.{key}": page_of(key) for key in _PARTS},
        "typical.board-thickness": page_of("neck"),
        "typical.body-thickness": page_of("body"),
        "bits.missing": page_of("bits"),
        "strings.making-assumed": page_of("strings"),
    }
    at |= {f"typical.control-{n}": page_of(f"controls[{n}]") for n in range(1, len(document.controls) + 1)}
    for number, hole in enumerate(document.holes, start=1):
        at[f"typical.{feature_id(f'hole {hole.name}')}"] = page_of(f"holes[{number}]")
    at |= {f"typical.{name}": page_of("jack") for name in ("jack", "jack-screws")}
    for number, _ in enumerate(document.strap_buttons, start=1):
        at[f"typical.strap-button-{number}"] = page_of(f"strap_buttons[{number}]")
    for number, pocket in enumerate(document.pockets, start=1):
        at[f"typical.cavity-{number}"] = page_of(f"pockets[{number}]")
        at[f"typical.{feature_id(f'{pocket.name} cover screws')}"] = page_of(f"pockets[{number}]")
    return at
