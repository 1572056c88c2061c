"""What the JSON side says when it refuses: one shape, always a sentence."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from http import HTTPStatus
from typing import Any

from fastapi import Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from fastapi.routing import APIRoute
from pydantic import BaseModel
from starlette.exceptions import HTTPException

from scribeline import files
from scribeline.job import JobError
from scribeline.store import Change, Conflict, DiskFault, StoreError, UnknownJob


class FaultOut(BaseModel):
    """One thing wrong in a job's text."""

    path: str
    sentence: str
    line: int | None = None


class ChangeOut(BaseModel):
    """One value that differs."""

    key: str
    was: str | None
    now: str | None


class Told(BaseModel):
    """Why something was refused."""

    detail: str
    faults: list[FaultOut] = []


class ConflictOut(Told):
    """Two edits at once: nothing was written."""

    newest: int
    by: str
    their_changes: list[ChangeOut]
    my_changes: list[ChangeOut]
    merged: str | None


class ToldRoute(APIRoute):
    """A route whose refusals are sentences in one shape."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """The route's handler with every refusal turned into an answer."""
        handle = super().get_route_handler()

        async def told(request: Request) -> Response:
            try:
                return await handle(request)
            except (StoreError, JobError, OSError, RequestValidationError, HTTPException) as fault:
                return refused(fault)

        return told


DISK_REFUSES = 503
"""The answer where the disk refuses: what was asked for may be right, and may go later (RFC 9110, 15.6.4)."""


def disk_words(fault: StoreError | OSError) -> str:
    """What the disk refuses, as a sentence."""
    if isinstance(fault, OSError):
        return f"{files.told(fault)}; nothing that was kept is lost"
    return str(fault)


_WORDS = {404: "there is nothing at this address", 405: "this address does not take that method"}
"""What the web's own names for these say."""


def refused(fault: Exception) -> Response:
    """A refusal of the app as an answer."""
    match fault:
        case Conflict():
            return _answer(409, _conflict(fault))
        case JobError():
            found = [FaultOut(path=f.path, sentence=f.sentence, line=f.line) for f in fault.faults[:50]]
            return _answer(422, Told(detail="The job cannot be read.", faults=found))
        case RequestValidationError():
            return _answer(422, Told(detail="What came in cannot be used.", faults=_unusable(fault)))
    status, words = _in_short(fault)
    return _answer(status, Told(detail=_sentence(words)))


def _in_short(fault: Exception) -> tuple[int, str]:
    """Status and words of a refusal that is one sentence."""
    match fault:
        case UnknownJob():
            return 404, str(fault)
        case DiskFault() | OSError():
            return DISK_REFUSES, disk_words(fault)
        case StoreError():
            return 422, str(fault)
        case HTTPException():
            own = HTTPStatus(fault.status_code).phrase == fault.detail
            return fault.status_code, _WORDS.get(fault.status_code, fault.detail) if own else str(
                fault.detail
            )
        case _:
            return 500, "the app could not do this; nothing was changed. Try again"


def _answer(status: int, told: Told) -> Response:
    return JSONResponse(told.model_dump(), status)


def _sentence(words: str) -> str:
    text = words[:1].upper() + words[1:]
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _conflict(conflict: Conflict) -> ConflictOut:
    return ConflictOut(
        detail=_sentence(str(conflict)),
        newest=conflict.theirs.number,
        by=conflict.theirs.by,
        their_changes=[_change(each) for each in conflict.their_changes],
        my_changes=[_change(each) for each in conflict.my_changes],
        merged=conflict.merged,
    )


def _change(change: Change) -> ChangeOut:
    return ChangeOut(key=change.key, was=change.was, now=change.now)


def _unusable(fault: RequestValidationError) -> list[FaultOut]:
    """Where the request is wrong, without repeating what came: it may be anything, not a number among it."""
    return [
        FaultOut(path=".".join(str(part) for part in each["loc"])[:200], sentence=str(each["msg"])[:200])
        for each in fault.errors()[:20]
    ]
