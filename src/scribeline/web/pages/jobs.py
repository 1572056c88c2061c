"""The jobs: all of them, a new one, one like an example, one brought in from a file; where each was left is where it opens."""

from __future__ import annotations

from functools import cache
from typing import Annotated, cast, get_args

from fastapi import APIRouter, Form, HTTPException, Request, UploadFile
from fastapi.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response

from scribeline.job import Instrument, JobError, Loading, parse_job, remove_value, starter_job
from scribeline.lengths import UNITS, job_unit
from scribeline.plan import plan
from scribeline.scenario import begun_like, demo_jobs, examples
from scribeline.store import StoreError
from scribeline.web.drawings import thumbnail
from scribeline.web.frame import Page, back_to, open_job, place_in, render, saw
from scribeline.web.shop import shop_of, who

PAGE = Page("", "Jobs", 0, in_job=False)
START = Page("start", "New job", 5, in_job=False, listed=False)
router = APIRouter()

INSTRUMENTS: tuple[Instrument, ...] = get_args(Instrument)

LARGEST = 1_000_000
"""Bytes of a job file that is brought in."""


@router.get("/")
def jobs(request: Request) -> Response:
    """Every job, the one touched last on top."""
    return render(request, "jobs/list.html", PAGE, entries=shop_of(request).store.jobs(), faults=())


@router.get("/start")
def start(request: Request) -> Response:
    """What a new job begins with."""
    return _start(request)


def _start(request: Request, *, status: int = 200, **typed: str) -> Response:
    known = {
        "wrong": "",
        "name": "",
        "units": "mm",
        "hand": "right",
        "instrument": INSTRUMENTS[0],
        "ends": "through-body",
        "like_wrong": "",
        "like_name": "",
    }
    return render(
        request,
        "jobs/start.html",
        START,
        status=status,
        instruments=INSTRUMENTS,
        units=UNITS,
        examples=examples().values(),
        typed={**known, **typed},
    )


@router.post("/start")
def begin(
    request: Request,
    *,
    name: Annotated[str, Form()] = "",
    units: Annotated[str, Form()] = "mm",
    hand: Annotated[str, Form()] = "right",
    instrument: Annotated[str, Form()] = INSTRUMENTS[0],
    ends: Annotated[str, Form()] = "through-body",
) -> Response:
    """Make the job from the starter's typical numbers and lead through its parts."""
    store = shop_of(request).store
    wrong = "" if name.strip() else "give the job a name, such as the instrument's"
    if (
        units not in UNITS
        or hand not in {"right", "left"}
        or not (instrument in INSTRUMENTS and ends in get_args(Loading))
    ):
        wrong = "choose one of what is offered"
    if wrong:
        return _start(
            request,
            status=422,
            wrong=wrong,
            name=name,
            units=units,
            hand=hand,
            instrument=instrument,
            ends=ends,
        )
    text = starter_job(
        name=name.strip(),
        units=job_unit(units),
        handed=hand,
        instrument=cast("Instrument", instrument),
        loading=cast("Loading", ends),
    )
    made = store.create(text, by=who(request), why="begun from typical numbers")
    return RedirectResponse(f"/jobs/{made.job_id}/parts/scale?guide=1", status_code=303)


@router.post("/start/like")
def begin_like(
    request: Request,
    *,
    like: Annotated[str, Form()] = "",
    name: Annotated[str, Form()] = "",
    hand: Annotated[str, Form()] = "",
) -> Response:
    """Make the job like one of the examples and lead through its parts."""
    if like not in examples() or hand not in {"", "right", "left"}:
        return _start(request, status=422, like_wrong="touch one of the examples first", like_name=name)
    text = begun_like(examples()[like], name=name.strip() or like, handed=hand or None)
    made = shop_of(request).store.create(text, by=who(request), why=f"begun like {like}")
    return RedirectResponse(f"/jobs/{made.job_id}/parts/scale?guide=1", status_code=303)


@router.get("/start/like/{name}")
def like_picture(name: str) -> Response:
    """An example at a glance."""
    if name not in examples():
        raise HTTPException(404)
    return HTMLResponse(_glance(name), headers={"Cache-Control": "max-age=3600"})


@cache
def _glance(name: str) -> str:
    text, _ = remove_value(
        examples()[name].text, "tunnels"
    )  # their ways take longest to find, and hardly show
    return thumbnail(plan(*parse_job(text)))


@router.post("/demo")
def demo(request: Request) -> Response:
    """Put the demo job among the jobs and open its plan."""
    made = shop_of(request).store.create(demo_jobs()["marram.toml"], by=who(request), why="the demo")
    return RedirectResponse(f"/jobs/{made.job_id}/plan", status_code=303)


@router.post("/import")
def bring_in(request: Request, file: UploadFile) -> Response:
    """Bring in a job file, with what was recorded for it."""
    content = file.file.read(LARGEST + 1)
    name = file.filename or "the file"
    try:
        if len(content) > LARGEST:
            message = f"{name} is larger than {LARGEST // 1000} kB; a job file is a few kB of text"
            raise StoreError(message)
        made = shop_of(request).store.import_(content.decode("utf-8-sig"), who(request))
    except UnicodeDecodeError:
        return _refused(request, [f"{name} is no text; choose a job file, which ends in .toml"])
    except JobError as error:
        return _refused(request, [f"{name}, {fault}" for fault in error.faults])
    except StoreError as error:
        return _refused(request, [str(error)])
    return RedirectResponse(f"/jobs/{made.job_id}/plan", status_code=303)


def _refused(request: Request, faults: list[str]) -> Response:
    entries = shop_of(request).store.jobs()
    return render(request, "jobs/list.html", PAGE, status=422, entries=entries, faults=faults)


@router.get("/jobs/{job_id}")
def opened(request: Request, job_id: int) -> Response:
    """A job where this screen left it."""
    shop_of(request).store.revision(job_id)
    return RedirectResponse(place_in(request, job_id), status_code=303)


@router.get("/jobs/{job_id}/job.toml")
def exported(request: Request, job_id: int) -> Response:
    """The job file with what was recorded for it: the text that the commands read."""
    job = open_job(request, job_id)
    text = job.shop.store.export(job_id, with_record=True)
    plain = (
        "".join(mark if mark.isascii() and mark.isalnum() else "-" for mark in job.title).strip("-") or "job"
    )
    return PlainTextResponse(
        text,
        media_type="application/toml; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{plain}.toml"'},
    )


@router.post("/jobs/{job_id}/seen")
def seen(
    request: Request, job_id: int, number: Annotated[int, Form()], back: Annotated[str, Form()] = ""
) -> Response:
    """This screen has seen a revision: what changed up to it is no news any more."""
    shop_of(request).store.revision(job_id, number)
    response = back_to(job_id, back)
    saw(response, job_id, number)
    return response
