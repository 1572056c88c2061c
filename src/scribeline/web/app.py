"""The app put together: pages, assets, the JSON side, the door's guard, and plain words for what goes wrong."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any, TypeAlias

from anyio.to_thread import current_default_thread_limiter
from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import FileResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException

from scribeline.drawing.face import FOLDER as FACE
from scribeline.store import DeletedJob, DiskFault, StoreError, UnknownJob
from scribeline.web import api, guard
from scribeline.web.frame import HERE, Page, render
from scribeline.web.packed import Packed
from scribeline.web.pages import every_page
from scribeline.web.shop import Shop
from scribeline.web.told import DISK_REFUSES, disk_words, refused

Answer: TypeAlias = Callable[[Request, Exception], Response]

NOWHERE = Page("", "Not found", 0, in_job=False, listed=False)


WAITING = 200
"""Requests that may wait at once, each in a thread that does nothing meanwhile: with the usual 40, a job whose plan does not
come, asked for forty times, would keep every other one waiting."""


@asynccontextmanager
async def _room_to_wait(_app: FastAPI) -> AsyncIterator[None]:
    current_default_thread_limiter().total_tokens = WAITING
    yield


def create_app(shop: Shop) -> FastAPI:
    """The whole app over one shop's store."""
    app = FastAPI(title="Scribeline", docs_url=None, redoc_url=None, lifespan=_room_to_wait)
    app.state.shop = shop
    modules = every_page()
    app.state.pages = tuple(module.PAGE for module in modules)
    app.mount("/static", StaticFiles(directory=HERE / "static"), name="static")
    app.add_api_route("/face/{name}", _face, include_in_schema=False)
    for module in modules:
        app.include_router(module.router, include_in_schema=False)
    app.include_router(api.router)
    app.add_middleware(Packed)
    guard.install(app, share=shop.share, folder=shop.folder, port=shop.port, secure_port=shop.secure_port)
    for fault, answer in _ANSWERS.items():
        app.add_exception_handler(fault, _as_asked(answer))
    return app


def _face(name: str) -> Response:
    """The sheets' own lettering, for the pages too."""
    known = {each.name: each for each in FACE.glob("*.otf")}
    if name not in known:
        raise HTTPException(404)
    return FileResponse(known[name], media_type="font/otf", headers={"Cache-Control": "max-age=86400"})


def _told(request: Request, status: int, heading: str, words: str) -> Response:
    return render(request, "told.html", NOWHERE, status=status, heading=heading, words=words)


def _as_asked(page: Answer) -> Answer:
    """An answer that is a page for people and JSON on the JSON side."""

    def answer(request: Request, fault: Exception) -> Response:
        return refused(fault) if request.url.path.startswith("/api/") else page(request, fault)

    return answer


def _unknown(request: Request, fault: Exception) -> Response:
    return _told(request, 404, "There is no such job", str(fault))


def _deleted(request: Request, fault: Any) -> Response:
    """A page of a job that was deleted: who did that, and the way back."""
    sent = request.method not in guard.SAFE
    return render(request, "jobs/gone.html", NOWHERE, status=404, fault=fault, sent=sent)


def _refused(request: Request, fault: Exception) -> Response:
    return _told(request, 422, "That cannot be done", str(fault))


def _disk_refuses(request: Request, fault: Any) -> Response:
    return _told(request, DISK_REFUSES, "The disk refuses", disk_words(fault))


def _not_there(request: Request, fault: Any) -> Response:
    if fault.status_code == 404:
        return _told(request, 404, "There is no such page", "Go back to your jobs, and on from there.")
    return _told(request, fault.status_code, "That cannot be done", str(fault.detail))


def _broken(request: Request, fault: Exception) -> Response:
    del fault  # the server's own log has it
    return _told(
        request,
        500,
        "That went wrong",
        "The app could not do this; nothing was changed. Go back and try again",
    )


def _unreadable(request: Request, fault: Any) -> Response:
    parts = {str(error["loc"][-1]) for error in fault.errors()}
    return _told(
        request, 422, "That could not be read", f"What came in for {', '.join(sorted(parts))} cannot be used."
    )


_ANSWERS: dict[type[Exception], Answer] = {
    DeletedJob: _deleted,
    UnknownJob: _unknown,
    DiskFault: _disk_refuses,
    OSError: _disk_refuses,
    StoreError: _refused,
    HTTPException: _not_there,
    RequestValidationError: _unreadable,
    Exception: _broken,
}
"""What is answered where something goes wrong; the nearest kind counts."""
