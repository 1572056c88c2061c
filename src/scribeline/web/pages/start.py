"""A new job: from nothing, like an example, or from a file; and the demo to look at first."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any, cast, get_args

from fastapi import APIRouter, Form, HTTPException, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from scribeline.job import Instrument, JobError, Loading, parse_job, remove_value, starter_job
from scribeline.lengths import UNITS, job_unit
from scribeline.plan import plan
from scribeline.scenario import begun_like, demo_jobs, examples
from scribeline.store import DiskFault, JobList, StoreError, UnknownJob
from scribeline.web.drawings import drawn, thumbnail
from scribeline.web.frame import Page, key_of, render
from scribeline.web.shop import shop_of, who

PAGE = Page("start", "New", 5, in_job=False)
router = APIRouter()

INSTRUMENTS: tuple[Instrument, ...] = get_args(Instrument)

LARGEST = 1_000_000
"""Bytes of a job file that is brought in."""

DEMO = "marram.toml"

Once = Annotated[str, Form(max_length=64)]
"""Key of a form: sent twice, it makes one job."""


@router.get("/start")
def start(request: Request) -> Response:
    """The three ways into a new job, and the demo."""
    return start_page(request, PAGE)


def start_page(
    request: Request,
    page: Page,
    *,
    status: int = 200,
    faults: tuple[str, ...] = (),
    counts: Mapping[JobList, int] | None = None,
    **context: Any,
) -> Response:
    """The start page, on its own or in place of a list that is empty.

    Args:
        request: of a page.
        page: which it stands in for.
        status: of the answer.
        faults: why a file that was brought was not taken.
        counts: how many jobs stand in each list, where it stands in for one.
        context: whatever else such a list shows.
    """
    shown = {"moved": None, **context}
    return render(request, "jobs/start.html", page, status=status, faults=faults, counts=counts, **shown)


@router.get("/start/demo")
def demo_picture(request: Request) -> Response:
    """The demo's plan from the front, as far as it is worked out at once; its wire holes a moment later."""
    planner = shop_of(request).planner
    planned = planner.now(demo_jobs()[DEMO], None, of=DEMO)
    awaited = tuple(each.name for each in planned.awaited)
    text = planner.drawn(("start", DEMO, awaited), drawn, planned, "front")
    kept = "no-store" if awaited else "max-age=3600"
    return Response(text, headers={"Cache-Control": kept}, media_type="image/svg+xml")


# From nothing


@router.get("/start/own")
def own(request: Request) -> Response:
    """What a job from nothing begins with."""
    return _own(request)


def _own(request: Request, *, status: int = 200, **typed: str) -> Response:
    known = {
        "wrong": "",
        "name": "",
        "units": "mm",
        "hand": "right",
        "instrument": INSTRUMENTS[0],
        "ends": "through-body",
    }
    return render(
        request,
        "jobs/own.html",
        PAGE,
        status=status,
        instruments=INSTRUMENTS,
        units=UNITS,
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
    once: Once = "",
) -> Response:
    """Make the job from the starter's typical numbers and lead through its parts."""
    wrong = "" if name.strip() else "give the job a name, such as the instrument's"
    if (
        units not in UNITS
        or hand not in {"right", "left"}
        or not (instrument in INSTRUMENTS and ends in get_args(Loading))
    ):
        wrong = "choose one of what is offered"
    wrong = wrong or _too_long(name)
    typed = {"name": name, "units": units, "hand": hand, "instrument": instrument, "ends": ends}
    if wrong:
        return _own(request, status=422, wrong=wrong, **typed)
    text = starter_job(
        name=name.strip(),
        units=job_unit(units),
        handed=hand,
        instrument=cast("Instrument", instrument),
        loading=cast("Loading", ends),
    )
    return _guided(request, text, "begun from typical numbers", key_of(once, "own", *typed.values()))


LONGEST = 60
"""Characters of a name."""


def _too_long(name: str) -> str:
    many = len(name.strip())
    return f"the name has {many} characters; {LONGEST} is the most" if many > LONGEST else ""


def _guided(request: Request, text: str, why: str, key: str) -> Response:
    """Make a job and lead through its parts."""
    made = shop_of(request).store.create(text, by=who(request), why=why, once=key)
    return RedirectResponse(f"/jobs/{made.job_id}/parts/scale?guide=1", status_code=303)


# Like an example


@router.get("/start/like")
def like(request: Request) -> Response:
    """The examples, each with its picture and its paragraph."""
    return _like(request)


def _like(request: Request, *, status: int = 200, **typed: str) -> Response:
    known = {"wrong": "", "name": "", "like": "", "hand": ""}
    return render(
        request,
        "jobs/like.html",
        PAGE,
        status=status,
        examples=examples().values(),
        typed={**known, **typed},
    )


@router.post("/start/like")
def begin_like(
    request: Request,
    *,
    like: Annotated[str, Form()] = "",
    name: Annotated[str, Form()] = "",
    hand: Annotated[str, Form()] = "",
    once: Once = "",
) -> Response:
    """Make the job like one of the examples and lead through its parts."""
    wrong = _too_long(name)
    if like not in examples() or hand not in {"", "right", "left"}:
        wrong = "touch one of the examples first"
    if wrong:
        return _like(request, status=422, wrong=wrong, name=name, like=like, hand=hand)
    text = begun_like(examples()[like], name=name.strip() or like, handed=hand or None)
    return _guided(request, text, f"begun like {like}", key_of(once, "like", like, name, hand))


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


# The demo, and a file


@router.post("/demo")
def demo(request: Request, once: Once = "") -> Response:
    """Put the demo job among the jobs and open its plan."""
    store = shop_of(request).store
    made = store.create(demo_jobs()[DEMO], by=who(request), why="the demo", once=key_of(once, "demo"))
    return RedirectResponse(f"/jobs/{made.job_id}/plan", status_code=303)


@router.post("/import")
def bring_in(request: Request, file: UploadFile, once: Once = "") -> Response:
    """Bring in a job file, with what was recorded for it."""
    content = file.file.read(LARGEST + 1)
    name = (file.filename or "the file")[:100]
    try:
        if len(content) > LARGEST:
            message = f"{name} is larger than {LARGEST // 1000} kB; a job file is a few kB of text"
            raise StoreError(message)
        text = content.decode("utf-8-sig")
        made = shop_of(request).store.import_(text, who(request), once=key_of(once, "file", name, text))
    except UnicodeDecodeError:
        return _refused(request, f"{name} is no text; choose a job file, which ends in .toml")
    except JobError as error:
        return _refused(request, *(f"{name}, {fault}" for fault in error.faults))
    except (
        UnknownJob,
        DiskFault,
    ):  # deleted since it was first sent, or the disk refuses: no matter of the file
        raise
    except StoreError as error:
        return _refused(request, str(error))
    return RedirectResponse(f"/jobs/{made.job_id}/plan", status_code=303)


def _refused(request: Request, *faults: str) -> Response:
    return start_page(request, PAGE, status=422, faults=faults)
