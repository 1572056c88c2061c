"""The plan: the body from the front, the back and the side, every hole to be touched for its numbers and why."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Form, Query, Request
from fastapi.responses import Response
from markupsafe import escape

from scribeline.features import Bore, Feature, Pocket
from scribeline.job import Fault, JobError, moved, stated_place
from scribeline.lengths import JobUnit, LengthError, read_length
from scribeline.web import through
from scribeline.web.drawings import drawn
from scribeline.web.edits import kept_if_sound, said
from scribeline.web.field import Field
from scribeline.web.fields import Standing, families, standing, stated
from scribeline.web.frame import Opened, Page, open_job, render, sentence
from scribeline.web.numbers import awaited, name_of, numbers_of, plan_numbers, with_was
from scribeline.web.placing import Face, Held, apart, held, moving, on_drawing
from scribeline.web.planning import Whole
from scribeline.web.showing import COOKIE, left_out, to_choose

if TYPE_CHECKING:
    from scribeline.plan import Plan
    from scribeline.store import Revision

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


@dataclass(frozen=True, slots=True)
class Ends:
    """The two ends of a line over the body, as the address has them: from the nut, and to the treble."""

    ax: str = ""
    ay: str = ""
    bx: str = ""
    by: str = ""

    @property
    def typed(self) -> dict[str, str]:
        """Each by its name."""
        return {key: getattr(self, key) for key in through.ENDS}

    @property
    def address(self) -> str:
        """For every link of the page that keeps the line; "" where there is none."""
        return "&" + urlencode(self.typed) if any(self.typed.values()) else ""


@router.get("/jobs/{job_id}/plan")
def plan_page(
    request: Request,
    job_id: int,
    view: View = "front",
    at: str = "",
    start: Annotated[str, Query(alias="from")] = "",
    *,
    ends: Annotated[Ends, Depends()],
) -> Response:
    """One drawing, and the numbers of the cut that was touched; with `from`, how another lies to it.

    With both ends of a line, the section along it.
    """
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
    hold = held(job.plan, picked)
    begun = next((each for each in job.plan.features if each.id == start), None)
    between = None
    if begun is not None and picked is not None and picked.id not in {begun.id, *unknown}:
        between = apart(job.plan, begun, picked)
    ask = through.asked(ends.typed, job.units, job.plan.layout.treble)
    section, refused = _section(job, job.plan, ask)
    drawing = _drawing(job, job.plan, view, picked.id if picked else "")
    if section is not None and view != "side":
        drawing = through.on_plan(drawing, section.through, _FACE[view])
    return render(
        request,
        "plan/plan.html",
        PAGE,
        job,
        ask=ask,
        line=ends.address,
        section=section,
        refused=refused,
        for_line=through.for_screen(job.plan, ask, job.units),
        choose=to_choose(job.plan, view, cut=section is not None, picked=picked),
        left_out=left_out(request.cookies.get(COOKIE, "")),
        begun=begun,
        begun_name=name_of(begun) if begun else "",
        between=between,
        view=view,
        picked=picked,
        drawing=drawing,
        on_drawing=None if view == "side" else on_drawing(job.plan, _FACE[view], picked, hold, between),
        hold=hold,
        cuts=_cuts((*job.plan.features, *were.values()), view),
        numbers=_numbers(job, picked),
        looked_for=at in were,
        whole=with_was(plan_numbers(job.plan), plan_numbers(job.seen_plan) if job.seen_plan else ()),
        fields=_fields(job, picked),
        name=name_of(picked) if picked else "",
        heading=_heading(picked),
    )


_CUT = "is cut already and stays where it was cut"

_FACE: dict[str, Face] = {"front": "top", "back": "back"}


@router.post("/jobs/{job_id}/move")
def move(
    request: Request,
    job_id: int,
    *,
    of: Annotated[str, Form(max_length=100)],
    based_on: Annotated[int, Form()],
    along: Annotated[str, Form(max_length=10_000)] = "",
    across: Annotated[str, Form(max_length=10_000)] = "",
    takes: Annotated[list[str] | None, Form()] = None,
    back: Annotated[str, Form(max_length=400)] = "",
) -> Response:
    """Put a cut somewhere else, with what goes along; the drawing and the checks answer on the page it came from."""
    job = open_job(request, job_id, at_once=True)
    picked = None if job.plan is None else next((f for f in job.plan.features if f.id == of), None)
    hold = None if job.plan is None else held(job.plan, picked)
    if job.plan is None or picked is None or hold is None:
        cut = job.plan is not None and of in job.plan.made
        words = f"it {_CUT}" if cut else "it is not there to be moved any more"
        return render(
            request, "told.html", PAGE, job, status=422, here=False, heading="Not moved", words=words
        )
    base = job.shop.store.revision(job_id, based_on)
    typed = {"along": along, "across": across, "takes": takes or []}
    try:
        text, why = _moved(job, job.plan, base, hold, typed)
        return kept_if_sound(request, job, base, text, why=why, back=back)
    except JobError as error:
        wrong = said(job.document, Field(hold.place.key, "its place"), error.faults)
        return render(
            request, "plan/not_moved.html", PAGE, job, status=422, here=False,
            hold=hold, picked=picked, typed=typed, wrong=wrong, back=back,
        )  # fmt: skip


def _moved(job: Opened, plan: Plan, base: Revision, hold: Held, typed: dict[str, Any]) -> tuple[str, str]:
    """The text with everything moved, and what was done in words.

    Raises:
        JobError: a number cannot be read, or something is cut already.
    """
    document = job.shop.planner.job(Whole(base.text, job.folder, job.record)).job.document
    now = stated_place(document, hold.place.key)
    keys = (hold.place.key, *(each.key for each in hold.takes if each.key in typed["takes"]))
    made = next((each for each in moving(plan, keys) if each.id in plan.made), None)
    if made is not None or now is None:
        what = "it" if made is None else name_of(made)
        raise JobError([Fault(hold.place.key, f"{what} {_CUT}")])
    along, across = (_typed(hold, each, typed[each], document.units) for each in ("along", "across"))
    towards_tail = now.middle[0] - along if now.towards_nut else along - now.middle[0]
    text = moved(base.text, document, keys, towards_tail, across - now.middle[1])
    return text, f"{hold.place.name or 'its place'}: moved"


def _typed(hold: Held, which: str, words: str, units: JobUnit) -> float:
    try:
        return read_length(words, unit=units).mm
    except LengthError as fault:
        raise JobError([Fault(hold.place.key, f"{which}: {fault}")]) from fault


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


def _section(job: Opened, plan: Plan, ask: through.Asked) -> tuple[through.Shown | None, str]:
    """The section along the line that is asked for, or why there is none."""
    if ask.line is None:
        return None, ask.wrong
    key = ("cut through", job.whole, awaited(plan), ask.line)
    try:
        made: through.Shown | None = job.shop.planner.drawn(key, through.shown, plan, ask.line)
    except JobError as refused:
        return None, str(refused)
    return made, "" if made else "this line misses the body; drag it over the wood"


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
