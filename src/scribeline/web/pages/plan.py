"""The plan: the body from the front, the back and the side, every hole to be touched for its numbers and why."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Literal

from fastapi import APIRouter, Request
from fastapi.responses import Response
from markupsafe import escape

from scribeline.features import Bore, Feature, Pocket
from scribeline.job import JobError
from scribeline.web.drawings import drawn
from scribeline.web.field import Field
from scribeline.web.fields import Standing, families, standing, stated
from scribeline.web.frame import Opened, Page, open_job, render, sentence
from scribeline.web.numbers import awaited, name_of, numbers_of, plan_numbers, with_was

if TYPE_CHECKING:
    from scribeline.plan import Plan

PAGE = Page("plan", "Plan", 10)
router = APIRouter()

View = Literal["front", "back", "side"]

HANGS_ON: dict[str, tuple[str, ...]] = {
    "bridge-screw": (
        "bridge_screw.thread",
        "bridge_screw.root",
        "bridge_screw.length",
        "bridge.plate_thickness",
    ),
    "claw-screw": (
        "bridge.claw_screw.thread",
        "bridge.claw_screw.root",
        "bridge.claw_screw.length",
        "bridge.claw_tilt",
        "bridge.claw_screws_apart",
        "bridge.spring_hooks",
    ),
    "string-hole": (
        "string_holes.diameter",
        "string_holes.top_share",
        "bridge.string_holes_from_front",
        "bridge.spacing",
    ),
    "ferrule-hole": (
        "ferrules.lip_diameter",
        "ferrules.lip_height",
        "ferrules.body_diameter",
        "ferrules.body_length",
        "ferrules.recess",
        "string_holes.relief",
    ),
    "ground-wire": (
        "ground_wire.diameter",
        "ground_wire.from_front",
        "ground_wire.across",
        "ground_wire.lands",
    ),
    "neck-pocket": (
        "neck.pocket_end",
        "neck.pocket_length",
        "neck.pocket_depth",
        "neck.corner_radius",
        "neck.slip",
    ),
    "": ("scale.length", "bridge.spacing", "bridge.saddle_forward", "bridge.saddle_back", "body.thickness"),
}
"""The numbers a row of cuts hangs on most, for the hand that wants to change them."""


@router.get("/jobs/{job_id}/plan")
def plan_page(request: Request, job_id: int, view: View = "front", at: str = "") -> Response:
    """One drawing, and the numbers of the cut that was touched."""
    job = open_job(request, job_id, at_once=True)
    if job.plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    # Tunnels that are being looked for stay where they are on the page, with what they were.
    unknown = awaited(job.plan)
    were = (
        {}
        if job.seen_plan is None
        else {each.id: each for each in job.seen_plan.features if each.id in unknown}
    )
    picked = were.get(at) or next((each for each in job.plan.features if each.id == at), None)
    return render(
        request,
        "plan/plan.html",
        PAGE,
        job,
        view=view,
        picked=picked,
        drawing=_drawing(job, job.plan, view, picked.id if picked else ""),
        cuts=_cuts((*job.plan.features, *were.values()), view),
        numbers=_numbers(job, picked),
        looked_for=at in were,
        whole=with_was(plan_numbers(job.plan), plan_numbers(job.seen_plan) if job.seen_plan else ()),
        fields=_fields(job, picked),
        name=name_of(picked) if picked else "",
        heading=_heading(picked),
    )


def _drawing(job: Opened, plan: Plan, view: View, at: str) -> str:
    """The drawing with the touched cut marked; drawn once for every cut that may be touched."""
    through = at if view == "side" else ""
    seen = job.seen_plan
    unknown = awaited(plan) if seen is None else awaited(plan, seen)
    was = "" if seen is None else job.seen.text
    key = ("plan drawing", job.whole, unknown, view, was, through)
    try:
        made = job.shop.planner.drawn(key, drawn, plan, view, seen, through)
    except JobError as refused:
        return f'<p class="tag caution">{escape(sentence(str(refused)))}</p>'
    return made.replace(f'data-ref="{at}"', f'data-ref="{at}" class="picked"') if at else made


def _cuts(features: Iterable[Feature], view: View) -> list[tuple[Feature, str]]:
    """The cuts of the face that is shown, holes first; one from inside a cavity with the face that this is open to."""
    faces = {"front": {"top", "edge", "pocket"}, "back": {"back"}, "side": {"top", "back", "edge", "pocket"}}[
        view
    ]
    every = tuple(features)
    open_to = {each.id: each.face for each in every if isinstance(each, Pocket)}
    shown = [
        each
        for each in every
        if (open_to.get(each.entered_from, each.face) if isinstance(each, Bore) else each.face) in faces
    ]
    return [(each, name_of(each)) for each in sorted(shown, key=lambda each: not isinstance(each, Bore))]


def _heading(picked: Feature | None) -> str:
    """A cut's number and what it is; a cavity by its name alone."""
    if picked is None:
        return ""
    return f"{name_of(picked)}: {picked.role}" if isinstance(picked, Bore) else picked.in_words


def _numbers(job: Opened, picked: Feature | None) -> Any:
    if picked is None or job.plan is None:
        return ()
    if job.seen_plan is None:
        return numbers_of(job.plan, picked)
    before = next((each for each in job.seen_plan.features if each.id == picked.id), None)
    if before is picked:  # what it will be is being looked for
        return numbers_of(job.seen_plan, picked)
    now = numbers_of(job.plan, picked)
    return now if before is None else with_was(now, numbers_of(job.seen_plan, before))


def _fields(job: Opened, picked: Feature | None) -> list[tuple[Field, Standing]]:
    """What the touched cut hangs on, to be changed where it is looked at."""
    assert job.document is not None
    row = "" if picked is None else picked.family if isinstance(picked, Bore) else picked.id
    names = [pocket.name for pocket in job.document.pockets]
    raw = stated(job.text)
    every = {each.key: each for one in families(job.document) for each in one.fields}
    role = "" if picked is None else picked.role
    if role in names and row not in HANGS_ON:
        at = f"pockets[{names.index(role) + 1}]."
        keys = [key for key in every if key.startswith(at) and every[key].kind == "length"]
    else:
        keys = list(HANGS_ON.get(row, HANGS_ON[""]))
    return [(every[key], standing(every[key], raw, job.document)) for key in keys if key in every]
