"""The history of a job: every revision with what it changed, undo and redo, the job file itself."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.responses import Response

from scribeline.job import JobError
from scribeline.store import Conflict, OverrideKept, StoreError, changes_between
from scribeline.web.edits import conflict_page, conflicted, keep
from scribeline.web.fields import in_words
from scribeline.web.frame import Opened, Page, back_to, open_job, render
from scribeline.web.shop import who

PAGE = Page("history", "History", 90)
router = APIRouter()

SHOWN = 40
"""Revisions listed at once."""


@router.get("/jobs/{job_id}/history")
def history(request: Request, job_id: int, every: int = 0) -> Response:
    """Newest first, each with what it changed."""
    job = open_job(request, job_id)
    kept = job.shop.store.history(job_id)
    shown = kept if every else kept[-SHOWN:]
    before = {revision.number: earlier for earlier, revision in pairwise(kept)}
    rows = [
        (
            revision,
            changes_between(before[revision.number].text, revision.text) if revision.number in before else (),
        )
        for revision in reversed(shown)
    ]
    given: dict[int, list[OverrideKept]] = {}
    for each in reversed(job.shop.store.overrides(job_id, every=True)):
        given.setdefault(each.revision, []).append(each)
    return render(
        request,
        "history/history.html",
        PAGE,
        job,
        rows=rows,
        given=given,
        words=_words(job),
        hidden=len(kept) - len(shown),
        can_undo=job.shop.store.can_undo(job_id),
        can_redo=job.shop.store.can_redo(job_id),
        text=job.text,
        wrong=(),
    )


@router.get("/jobs/{job_id}/history/{number}")
def one(request: Request, job_id: int, number: int) -> Response:
    """One revision beside the newest."""
    job = open_job(request, job_id)
    then = job.shop.store.revision(job_id, number)
    changes = changes_between(then.text, job.text)
    return render(request, "history/one.html", PAGE, job, then=then, changes=changes, words=_words(job))


def _words(job: Opened) -> Callable[[str], str]:
    return lambda key: in_words(job.document, key)


@router.post("/jobs/{job_id}/undo")
def undo(
    request: Request, job_id: int, based_on: Annotated[int, Form()], back: Annotated[str, Form()] = ""
) -> Response:
    """Take the last edit back; it stays in the history."""
    return _turned(request, job_id, based_on, back, forward=False)


@router.post("/jobs/{job_id}/redo")
def redo(
    request: Request, job_id: int, based_on: Annotated[int, Form()], back: Annotated[str, Form()] = ""
) -> Response:
    """Make an edit again that was taken back."""
    return _turned(request, job_id, based_on, back, forward=True)


def _turned(request: Request, job_id: int, based_on: int, back: str, *, forward: bool) -> Response:
    job = open_job(request, job_id)
    turn = job.shop.store.redo if forward else job.shop.store.undo
    try:
        turn(job_id, based_on=based_on, by=who(request))
    except Conflict as conflict:
        return conflicted(request, job, conflict, back)
    return back_to(job_id, back)


@router.post("/jobs/{job_id}/text")
def whole_text(
    request: Request,
    job_id: int,
    text: Annotated[str, Form(max_length=1_000_000)],
    based_on: Annotated[int, Form()],
    back: Annotated[str, Form()] = "",
) -> Response:
    """Keep the job file as it was typed; what cannot be read is said with its line, and nothing is kept."""
    job = open_job(request, job_id)
    typed = text.replace("\r\n", "\n")
    try:
        job.shop.planner.plan(typed, job.folder, job.record)
    except JobError as error:
        return render(
            request, "history/text.html", PAGE, job, status=422, text=typed, wrong=error.faults, back=back
        )
    try:
        keep(job, job.shop.store.revision(job_id, based_on), typed, request, "the job file")
    except Conflict as conflict:
        return conflicted(request, job, conflict, back)
    return back_to(job_id, back)


@router.get("/jobs/{job_id}/text")
def text_page(request: Request, job_id: int) -> Response:
    """The job file itself, to read and to change."""
    job = open_job(request, job_id)
    return render(
        request, "history/text.html", PAGE, job, text=job.text, wrong=job.faults, back=f"/jobs/{job_id}/text"
    )


@router.get("/jobs/{job_id}/conflict/{key}")
def two_edits(request: Request, job_id: int, key: str) -> Response:
    """Two edits at once, as they stand today, until they are settled."""
    job = open_job(request, job_id)
    kept = job.shop.aside(job_id, key)
    if kept is None:  # settled
        return back_to(job_id, "")
    base = job.shop.store.revision(job_id, kept["base"])
    return conflict_page(request, job, Conflict(kept["mine"], job.revision, base), kept["back"], key=key)


@router.post("/jobs/{job_id}/settle")
def settle(
    request: Request,
    job_id: int,
    *,
    based_on: Annotated[int, Form()],
    theirs: Annotated[int, Form()],
    mine: Annotated[str, Form(max_length=1_000_000)],
    choice: Annotated[str, Form()],
    back: Annotated[str, Form()] = "",
    kept: Annotated[str, Form(max_length=16)] = "",
) -> Response:
    """After two edits at once: keep both, this one, or the other one."""
    job = open_job(request, job_id)
    store = job.shop.store
    if choice == "theirs":
        job.shop.settled(job_id, kept)
        return back_to(job_id, back)
    base, newest = store.revision(job_id, based_on), store.revision(job_id, theirs)
    conflict = Conflict(mine.replace("\r\n", "\n"), newest, base)
    text = {"both": conflict.merged, "mine": conflict.mine}.get(choice)
    if text is None:
        raise HTTPException(422, "these two edits cannot be put together; choose one of them")
    why = "both edits kept" if choice == "both" else f"kept instead of no. {theirs}"
    try:
        job.shop.planner.plan(text, job.folder, job.record)
        keep(job, newest, text, request, why)
    except Conflict as again:
        return conflicted(request, job, again, back)
    except JobError as error:
        raise StoreError(str(error)) from error
    job.shop.settled(job_id, kept)
    return back_to(job_id, back)
