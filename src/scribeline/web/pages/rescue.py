"""Rescue: every made cut that is off with its ways out, the best first; one cut as it was found, typed and not kept."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from fastapi.responses import Response

from scribeline.drawing.rescue_view import way_view
from scribeline.features import Bore
from scribeline.job import JobError
from scribeline.lengths import LengthError, SaidError, in_unit, read_angle, read_length
from scribeline.plan import plan as planned
from scribeline.rescue import ORDER, Found, Rescue, called, rescue, rescues, with_found
from scribeline.steps import DEFERS
from scribeline.web.drawings import element
from scribeline.web.frame import Opened, Page, open_job, render
from scribeline.web.numbers import name_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from scribeline.features import Feature
    from scribeline.plan import Plan
    from scribeline.rescue import Way

PAGE = Page("rescue", "Rescue", 45)
router = APIRouter()

_ROOM = (0.0, 0.0, 84.0, 88.0)
"""Of a way's drawing, mm."""

_LONGEST = 60
"""Characters of a number that is typed."""

OF_A_HOLE = (
    ("along", "too far towards the tail", "below 0: towards the nut"),
    ("across", "too far to the treble", "below 0: to the bass"),
    ("diameter", "how wide it was found", ""),
    ("depth", "how deep it was found", ""),
)
OF_A_CAVITY = (
    ("along", "too far towards the tail", "below 0: towards the nut"),
    ("across", "too far to the treble", "below 0: to the bass"),
    ("width", "how wide it was found, across", ""),
    ("length", "how long it was found", ""),
    ("depth", "how deep it was found", ""),
    ("angle", "its floor rises towards the tail, degrees", ""),
)


@dataclass(frozen=True, slots=True)
class Asked:
    """What the page is asked for.

    Attributes:
        cut: id of the cut; "" for every one that is off.
        typed: what was typed, by the field's name.
        stripped: whether its screw does not hold.
    """

    cut: str
    typed: Mapping[str, str]
    stripped: bool

    def found(self, job: Opened) -> Found:
        """The same as numbers.

        Raises:
            LengthError: one cannot be read; its sentence names the field.
        """
        along, across = (self._length(name, job) for name in ("along", "across"))
        off = None if along is None and across is None else (along or 0.0, across or 0.0)
        angle = self.typed.get("angle")
        return Found(
            off=off,
            depth=self._length("depth", job),
            diameter=self._length("diameter", job),
            width=self._length("width", job),
            length=self._length("length", job),
            lean=None if angle is None else read_angle(angle),
            stripped=self.stripped,
        )

    def _length(self, name: str, job: Opened) -> float | None:
        if name not in self.typed:
            return None
        try:
            return read_length(self.typed[name], unit=job.units).mm
        except LengthError as fault:
            words = dict(each[:2] for each in (*OF_A_HOLE, *OF_A_CAVITY))[name]
            message = f"{words}: {fault}"
            raise LengthError(message) from fault


@router.get("/jobs/{job_id}/rescue")
def rescue_page(request: Request, job_id: int) -> Response:
    """The ways out of what is off, or of one cut as it was found."""
    job = open_job(request, job_id)
    plan = job.plan
    if plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    given = {key: str(value).strip()[:_LONGEST] for key, value in request.query_params.items()}
    fields = {each[0] for each in (*OF_A_HOLE, *OF_A_CAVITY)}
    asked = Asked(
        given.get("cut", ""),
        {key: value for key, value in given.items() if key in fields and value},
        stripped=given.get("stripped") == "yes",
    )
    made = [cut for cut in plan.every_cut if cut.id in plan.made]
    cut = next((each for each in made if each.id == asked.cut), None)
    wrong = ""
    told: tuple[Rescue, ...] = ()
    try:
        if asked.cut and cut is None:
            called(plan, asked.cut)  # says why not
        key = ("rescue", job.whole, asked.cut, tuple(sorted(asked.typed.items())), asked.stripped)
        told = job.shop.planner.drawn(key, ways_of, plan, asked.cut, asked.found(job), aside=True)
    except SaidError as fault:
        wrong = fault.told(job.units)
    except (ValueError, JobError) as fault:
        wrong = str(fault)
    return render(
        request,
        "rescue/rescue.html",
        PAGE,
        job,
        status=422 if wrong else 200,
        made=[(each.id, _named(each)) for each in made],
        cut=cut,
        asked=asked,
        fields=() if cut is None else OF_A_HOLE if isinstance(cut, Bore) else OF_A_CAVITY,
        has_screw=isinstance(cut, Bore) and cut.screw is not None,
        step=_step(plan, cut),
        told=told,
        pictures=[[_picture(way, job) for way in each.ways] for each in told],
        cautions=list(dict.fromkeys(line for each in told for way in each.ways for line in way.cautions)),
        wrong=wrong,
        order=ORDER,
        defers=DEFERS,
        back=f"/jobs/{job.id}/rescue",
    )


def ways_of(plan: Plan, cut: str, found: Found) -> tuple[Rescue, ...]:
    """The rescues that the page tells, without the records they were planned from.

    Args:
        plan: the job's plan.
        cut: id of one made cut; "" for every one that is off.
        found: what was measured of it.
    """
    if not cut:
        return tuple(map(_light, rescues(plan)))
    made = called(plan, cut)
    if found.says_something:
        plan = planned(plan.stated, with_found(plan, made, found))
        made = called(plan, cut)
    return (_light(rescue(plan, made, stripped=found.stripped)),)


def _light(of: Rescue) -> Rescue:
    return replace(of, ways=tuple(replace(way, record=None) for way in of.ways))


def _named(cut: Feature) -> str:
    """A cut in the list to choose from."""
    return f"{name_of(cut)} {cut.role}" if isinstance(cut, Bore) else cut.in_words


def _step(plan: Plan, cut: Feature | None) -> str:
    """The address, after the job's, of the step that made a cut, at that cut."""
    for card in plan.cards if cut is not None else ():
        assert cut is not None
        if cut.id in card.features:
            holes = [place.feature for place in card.places]
            at = f"?hole={holes.index(cut.id) + 1}" if cut.id in holes else ""
            return f"steps/{card.id}{at}"
    return ""


def _picture(way: Way, job: Opened) -> str | None:
    items = way_view(way.drawn, _ROOM)
    return element(items, in_unit(way.title, job.units)) if items else None
