"""Finished instruments: what their saddles taught, which record is doubted and why, one more after set-up."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import RedirectResponse, Response

from scribeline.job import Fault, JobError, Measured, parse_records, recorded, struck_through
from scribeline.lengths import in_unit
from scribeline.strings import SHOP_KEYS
from scribeline.web.frame import Opened, Page, mark_of, open_job, render
from scribeline.web.shop import Shop, shop_of, who

if TYPE_CHECKING:
    from scribeline.job import KeptRecord, Records
    from scribeline.strings import Calibration, Verdict

PAGE = Page("records", "Records", 70, in_job=False)
router = APIRouter()

SHOP_WORDS = {
    "end_condition": ("how far the string's ends are clamped (0 hinged, 1 clamped)", ""),
    "finger_depth": ("how deep the finger takes the string behind the fret", "mm"),
    "grip": ("how far nut and saddle hold the string (0 slides, 1 held)", ""),
}


@dataclass(frozen=True, slots=True)
class Row:
    """One record as it stands on the page.

    Attributes:
        kept: the record.
        saddles: each string with its place, mm; None where it was not noted.
        verdict: how it fits; None where it does not count.
        words: the same, or why it does not count, as a sentence.
    """

    kept: KeptRecord
    saddles: tuple[tuple[str, float | None, float | None], ...]
    verdict: Verdict | None
    words: str


def rows_of(records: Records, learnt: Calibration | None) -> tuple[Row, ...]:
    """Every record, the last one first."""
    verdicts = iter(() if learnt is None else learnt.verdicts)
    rows = []
    for kept in records.kept:
        verdict = next(verdicts, None) if kept.counts else None
        off = (None,) * len(kept.record.specs) if verdict is None else verdict.after
        saddles = tuple(
            (spec.name, place, None if place is None else beside)
            for spec, place, beside in zip(kept.record.specs, kept.record.setback, off, strict=True)
        )
        words = kept.standing if verdict is None else verdict.words
        rows.append(Row(kept, saddles, verdict, in_unit(words, records.unit)))
    return tuple(reversed(rows))


@router.get("/records")
def records_page(request: Request) -> Response:
    """What the records teach, and every one of them."""
    return _page(request)


def _page(request: Request, *, status: int = 200, wrong: str = "", no: int = 0, typed: str = "") -> Response:
    shop = shop_of(request)
    text = shop.store.calibrations()
    faults: tuple[Fault, ...] = ()
    rows: tuple[Row, ...] = ()
    learnt, records = None, None
    try:
        records = parse_records(text) if text else None
        learnt = shop.learnt()
        rows = () if records is None else rows_of(records, learnt)
    except JobError as error:
        faults = error.faults
    return render(
        request,
        "records/records.html",
        PAGE,
        status=status,
        rows=rows,
        units="mm" if records is None else records.unit,
        faults=faults,
        learnt=learnt,
        numbers=() if learnt is None else _numbers(learnt),
        mark=mark_of(text),
        jobs=shop.store.jobs(),
        wrong=wrong,
        wrong_no=no,
        typed=typed,
    )


def _numbers(learnt: Calibration) -> tuple[tuple[str, str, str], ...]:
    """The three numbers before and now; lengths in mm, for they are no lengths anybody sets."""
    found = []
    for key in SHOP_KEYS:
        words, unit = SHOP_WORDS[key]
        was, now = learnt.prior.estimate(key), learnt.posterior.estimate(key)
        found.append((words, *(f"{each.value:.2f} ± {each.sd:.2f} {unit}".rstrip() for each in (was, now))))
    return tuple((words, was, now) for words, was, now in found)


@router.get("/records/new/{job_id}")
def new(request: Request, job_id: int) -> Response:
    """Asks for the saddles of an instrument built from a job."""
    return _new(request, open_job(request, job_id))


def _new(
    request: Request,
    job: Opened,
    *,
    status: int = 200,
    faults: tuple[Fault, ...] = (),
    typed: dict[str, str] | None = None,
) -> Response:
    stringing = None if job.plan is None else job.plan.layout.stringing
    rows = []
    if stringing is not None and job.document is not None:
        for n, string in enumerate(job.document.strings):
            expected = stringing.setback[n] if stringing.is_placed else None
            words = "; ".join(each.sentence for each in faults if each.path.startswith(f"saddle {n + 1} "))
            rows.append((n + 1, string.note, expected, stringing.sd[n], words))
    fields = ("serial", "measured_on", "plus_minus")
    return render(
        request,
        "records/new.html",
        PAGE,
        job,
        here=False,
        status=status,
        rows=rows,
        notes=_notes(job),
        others=[each for each in faults if not each.path.startswith("saddle ") and each.path not in fields],
        beside={each.path: each.sentence for each in faults},
        hands=_hands(shop_of(request)),
        typed={"on": date.today().isoformat(), "plus_minus": "0.25 mm", **(typed or {})},  # noqa: DTZ011 - the shop's own day
    )


def _notes(job: Opened) -> str:
    """The strings that saddles are asked for: what was typed for others is not kept for these."""
    return "" if job.document is None else " ".join(each.note for each in job.document.strings)


def _hands(shop: Shop) -> tuple[str, ...]:
    """Whose hands the records know."""
    text = shop.store.calibrations()
    try:
        kept = parse_records(text).kept if text else ()
    except JobError:
        return ()
    return tuple(sorted({each.record.hand for each in kept if each.record.hand}))


@router.post("/records/new/{job_id}")
async def add(request: Request, job_id: int) -> Response:
    """Keep one more finished instrument."""
    form = await request.form()
    typed = {key: str(value)[:200].strip() for key, value in form.items()}
    return await run_in_threadpool(_add, request, job_id, typed)


def _add(request: Request, job_id: int, typed: dict[str, str]) -> Response:
    job, shop = open_job(request, job_id), shop_of(request)
    if job.document is None:
        return _new(request, job, status=422)
    if typed.get("notes", "") != _notes(job):
        sentence = (
            "the strings of this job are not those that the saddles were typed for: look at each once more"
        )
        return _new(request, job, status=409, faults=(Fault("", sentence),), typed=typed)
    try:
        day = date.fromisoformat(typed["on"]) if typed.get("on") else None
    except ValueError:
        sentence = "write the day as 2026-03-14"
        return _new(request, job, status=422, faults=(Fault("measured_on", sentence),), typed=typed)
    measured = Measured(
        saddles=[typed.get(f"s{n}") or "-" for n in range(1, len(job.document.strings) + 1)],
        plus_minus=typed.get("plus_minus") or "0.25 mm",
        serial=typed.get("serial", ""),
        by=typed.get("by", ""),
        on=day,
        in_job_unit=True,
    )
    before = shop.store.calibrations()
    try:
        text = recorded(job.document, measured, before=before or None, today=date.today())  # noqa: DTZ011 - the shop's own day
        again = bool(before) and text.endswith(before[before.rfind("\n[[instruments]]") + 1 :])
        if not again or parse_records(before).kept[-1].struck:  # a button pressed twice records once
            shop.store.save_calibrations(text, by=who(request))
    except JobError as error:
        return _new(request, job, status=422, faults=error.faults, typed=typed)
    shop.learnt()
    return RedirectResponse("/records#list", status_code=303)


@router.post("/records/strike")
def strike(
    request: Request,
    *,
    no: Annotated[int, Form()],
    mark: Annotated[str, Form(max_length=40)],
    why: Annotated[str, Form(max_length=150)] = "",
    way: Annotated[str, Form(pattern="strike|count")] = "strike",
) -> Response:
    """Strike a record through, or let it count again; it stays either way."""
    shop = shop_of(request)
    text = shop.store.calibrations()
    if not text:
        raise HTTPException(404)
    if mark != mark_of(text):
        sentence = "somebody changed the records meanwhile: look at them once more, then strike"
        return _page(request, status=409, wrong=sentence, no=no, typed=why)
    if way == "strike" and not why.strip():
        return _page(request, status=422, wrong="say why, in a few words: it stays with the record", no=no)
    try:
        shop.store.save_calibrations(
            struck_through(text, no, why.strip() if way == "strike" else ""), by=who(request)
        )
    except JobError as error:
        return _page(request, status=422, wrong=str(error), no=no, typed=why)
    shop.learnt()
    return RedirectResponse(f"/records#no-{no}", status_code=303)
