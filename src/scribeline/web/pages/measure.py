"""What can be measured of a plan, what was, where the neck really lies and what is moved for it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import groupby
from math import degrees
from typing import TYPE_CHECKING, Annotated, Literal

from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from scribeline.drawing.neck_line import neck_line_picture
from scribeline.drawing.where_measured import letters, where_measured
from scribeline.job import JobError
from scribeline.layout import (
    LINE_READINGS,
    SIDES,
    AsRead,
    Doubtful,
    Measurable,
    Settled,
    Typed,
    measurement,
    neck_stations,
    read_to_the_bridge,
)
from scribeline.lengths import LengthError, in_unit
from scribeline.store import SentAlready, StoreError
from scribeline.tables import Accuracies
from scribeline.web.chances import found_of, measure_next
from scribeline.web.drawings import element
from scribeline.web.frame import Opened, Page, key_of, open_job, render
from scribeline.web.numbers import Changed, changed
from scribeline.web.shop import who

if TYPE_CHECKING:
    from scribeline.plan import Plan

PAGE = Page("measure", "Measure", 45)
router = APIRouter()

_ROOM = (0.0, 0.0, 72.0, 38.0)
"""Of a drawing of the neck's line, mm: on a phone its lettering is still 11 px."""

READ_WITH = ("rule", "thread", "caliper-wood", "caliper", "depth-gauge", "feeler", "tape", "angle-gauge")
"""Ways of reading that may be chosen, of the shop's accuracies."""


@dataclass(frozen=True, slots=True)
class Row:
    """One number of the plan on the page.

    Attributes:
        check: the number.
        read: what the record makes of it; None while nobody measured it.
        typed: what was typed and not kept.
        wrong: why not; "" where all is kept.
        asks: whether it may be kept all the same.
    """

    check: Measurable
    read: AsRead | None
    typed: str = ""
    wrong: str = ""
    asks: bool = False


@dataclass(frozen=True, slots=True)
class Slip:
    """A reading that was not kept: of what, as typed, and why; whether it may be kept all the same."""

    what: str
    typed: Typed
    words: str
    asks: bool = False


@dataclass(frozen=True, slots=True)
class MadeCut:
    """One cut that is made, on the page.

    Attributes:
        id: of the cut.
        found: where it really is, in words.
        checks: what can be read of it.
        is_read: whether anybody has.
        slip: what was typed of it and not kept.
    """

    id: str
    found: str
    checks: tuple[Measurable, ...]
    is_read: bool
    slip: Slip | None = None

    @property
    def name(self) -> str:
        """In words."""
        return self.id.replace("-", " ")


def _made_cuts(plan: Plan, slip: Slip | None) -> Iterator[MadeCut]:
    for cut, checks in groupby(plan.cut_checks, key=lambda each: each.cut):
        mine = tuple(checks)
        own = slip if slip is not None and slip.what in {each.id for each in mine} else None
        yield MadeCut(cut, plan.found(cut), mine, cut in plan.record.found, own)


@router.get("/jobs/{job_id}/measure")
def measure_page(request: Request, job_id: int) -> Response:
    """What can be measured, what was, and what follows from it."""
    return _page(request, open_job(request, job_id, at_once=True))


def _page(
    request: Request, job: Opened, *, status: int = 200, slip: Slip | None = None, struck: str = ""
) -> Response:
    plan = job.plan
    if plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    rows = [_row(plan, check, slip) for check in plan.measurables]
    records = list(enumerate(job.shop.store.measurements(job.id), start=1))
    layout = plan.layout
    return render(
        request,
        "measure/measure.html",
        PAGE,
        job,
        status=status,
        line=[row for row in rows if row.check.id in LINE_READINGS],
        rows=[row for row in rows if row.check.id not in LINE_READINGS],
        cuts=list(_made_cuts(plan, slip)),
        picture=element(neck_line_picture(layout, _ROOM, plan.unit), "the neck's line as it was read")
        if layout.neck_read is not None
        else "",
        choices=list(_choices(plan)),
        chosen=plan.job.document.as_built.move,
        read=layout.neck_read,
        told=[each for each in plan.findings if each.code in TOLD],
        record=list(reversed(records)),
        ways=_ways(plan.job.accuracies),
        moved=_moved(job, plan),
        short=_short(plan),
        where=element(where_measured(plan.measurables, layout), "where each number is measured"),
        letters=letters(plan.measurables, layout),
        steps={card.id: card.no for card in plan.cards},
        next_reading=measure_next(found_of(job)[1]),
        line_names=LINE_READINGS,
        to_bridge=read_to_the_bridge(plan.job.document, layout),
        degrees=degrees,
        slip=slip,
        struck=struck,
    )


def _short(plan: Plan) -> dict[str, str]:
    """What the readings of the neck's line are called where it is said beside them how they are taken."""
    return {
        each.measurable(side): f"{side.capitalize()} edge, {each.words}"
        for each in neck_stations(plan.job.document)
        for side in SIDES
    }


def _moved(job: Opened, plan: Plan) -> tuple[Changed, ...]:
    """The numbers that are otherwise than without any measurement."""
    if not plan.record.standing:
        return ()
    record = json.loads(job.record)
    record.pop("measured", None)
    try:
        return changed(
            job.shop.planner.plan(job.text, job.folder, json.dumps(record) if record else ""), plan
        )
    except JobError:
        return ()


TOLD = (
    "neck.off-line",
    "heights.pocket-as-routed",
    "cavity.off-strings",
    "record.contradicted",
    "record.beyond-limits",
    "record.unknown",
    "bridge.thread-test",
    "bridge.out-of-square",
)
"""Codes of what the checks say of measurements."""


def _row(plan: Plan, check: Measurable, slip: Slip | None) -> Row:
    read = plan.as_read.get(check.id)
    if slip is None or slip.what != check.id:
        return Row(check, read)
    return Row(check, read, slip.typed.text, slip.words, slip.asks)


def _choices(plan: Plan) -> Iterator[tuple[Settled, str]]:
    for each in plan.layout.choices:
        yield (
            each,
            element(neck_line_picture(plan.layout, _ROOM, plan.unit, each), f"moving the {each.choice}"),
        )


def _ways(accuracies: Accuracies) -> list[tuple[str, str]]:
    return [(key, accuracies[key].what) for key in READ_WITH]


@router.post("/jobs/{job_id}/measure")
def keep(
    request: Request,
    job_id: int,
    *,
    what: Annotated[str, Form(max_length=120)],
    reading: Annotated[str, Form(max_length=200)] = "",
    with_what: Annotated[str, Form(max_length=120)] = "",
    note: Annotated[str, Form(max_length=200)] = "",
    sure: Annotated[str, Form(max_length=5)] = "",
    once: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """Keep one reading of one number; what is wrong with it stands beside its field."""
    job = open_job(request, job_id)
    check = None if job.plan is None else job.plan.check(what)
    if job.plan is None or check is None:
        raise HTTPException(404)
    typed = Typed(reading, who(request), with_what, note, sure=bool(sure))
    try:
        entry = measurement(
            check, typed, unit=job.plan.unit, at=datetime.now(UTC), revision=job.revision.number
        )
        job.shop.store.measure(job_id, entry, key=key_of(once, what, reading) if once else "")
    except SentAlready:
        pass
    except Doubtful as fault:
        return _page(
            request, job, status=422, slip=Slip(what, typed, in_unit(str(fault), job.plan.unit), asks=True)
        )
    except (LengthError, JobError, StoreError) as fault:
        return _page(request, job, status=422, slip=Slip(what, typed, str(fault)))
    place = f"c-{check.cut}" if check.cut else f"m-{what}"
    return RedirectResponse(f"/jobs/{job_id}/measure#{place}", status_code=303)


@router.post("/jobs/{job_id}/measure/moved")
def moved(
    request: Request, job_id: int, *, what: Annotated[Literal["neck", "bridge"], Form()] = "neck"
) -> Response:
    """Strike through what was read of the neck's line, or to the bridge and over it: it was moved, and lies elsewhere now."""
    job = open_job(request, job_id)
    struck = LINE_READINGS
    if what == "bridge":
        plan = job.plan
        struck = frozenset() if plan is None else read_to_the_bridge(plan.job.document, plan.layout)
    for no, each in enumerate(job.shop.store.measurements(job_id), start=1):
        if each.what in struck and not each.struck:
            job.shop.store.strike(job_id, no, why=f"the {what} was moved since", by=who(request))
    return RedirectResponse(f"/jobs/{job_id}/measure#{'line' if what == 'neck' else 'all'}", status_code=303)


@router.post("/jobs/{job_id}/measure/strike")
def strike(
    request: Request,
    job_id: int,
    *,
    no: Annotated[int, Form(ge=1, le=100_000)],
    why: Annotated[str, Form(max_length=150)] = "",
) -> Response:
    """Strike a measurement through; it stays on the record."""
    job = open_job(request, job_id)
    if not why.strip():
        return _page(
            request, job, status=422, struck=f"{no}: say why, in a few words: it stays with the record"
        )
    try:
        job.shop.store.strike(job_id, no, why=why.strip(), by=who(request))
    except StoreError as fault:
        return _page(request, job, status=422, struck=str(fault))
    return RedirectResponse(f"/jobs/{job_id}/measure#record", status_code=303)
