"""The jobs: those at work, archived and deleted; found by letters, copied, renamed, put away and brought back.

A list plans nothing: it shows what was noted of each job when it was last worked out (`glances`), and asks for the rest
of those alone that somebody looks at. Where a job was left is where it opens.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import parse_qs, urlencode, urlsplit

from fastapi import APIRouter, Form, Request
from fastapi.responses import PlainTextResponse, RedirectResponse, Response

from scribeline.job import JobError
from scribeline.store import JobEntry, JobList, StoreError
from scribeline.web.frame import Page, back_to, inside, key_of, open_job, place_in, render, saw
from scribeline.web.glances import is_fresh
from scribeline.web.pages.start import start_page
from scribeline.web.shop import Shop, shop_of, who

PAGE = Page("", "Jobs", 0, in_job=False)
router = APIRouter()

SHOWN = 40
"""Jobs on one page of a list."""

PLACES: dict[JobList, str] = {"open": "/", "archived": "/archived", "deleted": "/deleted"}
"""Where each list stands."""


@dataclass(frozen=True, slots=True)
class Listed:
    """One page of a list of jobs.

    Attributes:
        which: the list.
        entries: the jobs shown.
        found: how many there are in all, of those that were looked for.
        find: what was looked for.
        number: of this page, from 1.
        most: jobs on a page.
    """

    which: JobList
    entries: tuple[JobEntry, ...]
    found: int
    find: str
    number: int
    most: int = SHOWN

    @property
    def place(self) -> str:
        """Where the list stands."""
        return PLACES[self.which]

    @property
    def first(self) -> int:
        """Number of the first job shown."""
        return (self.number - 1) * self.most + 1

    @property
    def last(self) -> int:
        """Number of the last job shown."""
        return self.first + len(self.entries) - 1

    @property
    def address(self) -> str:
        """Of this page."""
        return self.page(self.number)

    def page(self, number: int) -> str:
        """Address of another page of the same list."""
        return _address(self.which, self.find, number)


def _address(which: JobList, find: str, number: int, moved: int = 0) -> str:
    said = {"find": find, "page": number if number > 1 else "", "moved": moved or ""}
    query = urlencode({key: value for key, value in said.items() if value})
    return PLACES[which] + (f"?{query}" if query else "")


@router.get("/")
def jobs(request: Request, find: str = "", page: int = 1, moved: int = 0) -> Response:
    """The jobs at work, the one touched last on top; where there are none, what to begin with."""
    mark, counts = shop_of(request).live.mark_of_all(), shop_of(request).store.counts()
    if not counts["open"] and not find:
        return start_page(request, PAGE, counts=counts, moved=_moved(request, moved), mark=mark)
    return _list(request, "open", find, page, moved)


@router.get("/archived")
def archived(request: Request, find: str = "", page: int = 1, moved: int = 0) -> Response:
    """The jobs that were put away."""
    return _list(request, "archived", find, page, moved)


@router.get("/deleted")
def deleted(request: Request, find: str = "", page: int = 1, moved: int = 0) -> Response:
    """The jobs that were deleted, all of which can be restored."""
    return _list(request, "deleted", find, page, moved)


def _list(request: Request, which: JobList, find: str, page: int, moved: int) -> Response:
    mark, store = shop_of(request).live.mark_of_all(), shop_of(request).store
    find = " ".join(find.split())[:100]
    found = _matching(store.called(which), find)
    pages = max(1, -(-len(found) // SHOWN))
    number = min(max(page, 1), pages)
    entries = store.entries(found[(number - 1) * SHOWN : number * SHOWN])
    shown = Listed(which, entries, len(found), find, number)
    return render(
        request,
        "jobs/list.html",
        PAGE,
        listed=shown,
        pages=pages,
        counts=store.counts(),
        fresh=is_fresh,
        moved=_moved(request, moved),
        mark=mark,
    )


def _moved(request: Request, job_id: int) -> JobEntry | None:
    """The job that was just archived or deleted, as it stands now."""
    try:
        entry = shop_of(request).store.entry(job_id)
    except StoreError:
        return None
    return None if entry.place == "open" else entry


def _matching(called: Iterable[tuple[int, str]], find: str) -> list[int]:
    """Numbers of the jobs whose names hold every word that was typed, or whose number it is."""
    words = _plain(find).split()
    if not words:
        return [job_id for job_id, _ in called]
    return [
        job_id
        for job_id, name in called
        if all(word in plain or word == str(job_id) for plain in [_plain(name)] for word in words)
    ]


def _plain(words: str) -> str:
    """Letters without their case and their accents: what two people would type for one name."""
    apart = unicodedata.normalize("NFKD", words.casefold())
    return "".join(mark for mark in apart if not unicodedata.combining(mark))


# What a job is like


@router.get("/jobs/{job_id}/glance")
def glance(request: Request, job_id: int) -> Response:
    """What is known of a job, for its place in a list; what is not, or not of today, is being worked out behind it."""
    shop = shop_of(request)
    entry = shop.store.entry(job_id)
    done = is_fresh(entry) or entry.deleted is not None
    if not done:
        shop.glances.want(job_id)
    return render(request, "jobs/_glance.html", PAGE, each=entry, done=done, trigger="load delay:2s")


@router.get("/jobs/{job_id}/picture")
def picture(request: Request, job_id: int) -> Response:
    """A job's body as it was last drawn; its address changes with the drawing, so a screen may keep it."""
    drawn = shop_of(request).store.picture(job_id)
    kept = "private, max-age=31536000, immutable" if drawn and "of" in request.query_params else "no-store"
    return Response(drawn, 200 if drawn else 404, {"Cache-Control": kept}, media_type="image/svg+xml")


# Put away and brought back


@router.post("/jobs/{job_id}/archive")
def archive(request: Request, job_id: int, back: Annotated[str, Form()] = "") -> Response:
    """Take a job out of the list of those at work."""
    entry = shop_of(request).store.archive(job_id, by=who(request))
    return _to_list(back, entry)


@router.post("/jobs/{job_id}/unarchive")
def unarchive(request: Request, job_id: int, back: Annotated[str, Form()] = "") -> Response:
    """Put an archived job back among those at work: from its list, or from a page of its own, which is shown again."""
    entry = shop_of(request).store.unarchive(job_id, by=who(request))
    return back_to(job_id, back) if inside(job_id, back) else _to_list(back, entry)


@router.post("/jobs/{job_id}/delete")
def delete(request: Request, job_id: int, back: Annotated[str, Form()] = "") -> Response:
    """Delete a job; it is kept, and the list it stood in offers to take that back."""
    entry = shop_of(request).store.delete(job_id, by=who(request))
    return _to_list(back, entry)


@router.post("/jobs/{job_id}/restore")
def restore(request: Request, job_id: int, back: Annotated[str, Form()] = "") -> Response:
    """Have a deleted job back: on its own page, or in the list that it was brought back from."""
    shop_of(request).store.restore(job_id, by=who(request))
    return RedirectResponse(_in_list(back, 0) or f"/jobs/{job_id}", status_code=303)


def _to_list(back: str, entry: JobEntry) -> Response:
    return RedirectResponse(_in_list(back, entry.id) or _address("open", "", 1, entry.id), status_code=303)


def _in_list(back: str, moved: int) -> str:
    """The page of a list that something was sent from, and nothing else; "" where it was sent from none."""
    said = urlsplit(back)
    which = next((each for each, place in PLACES.items() if place == said.path), None)
    if which is None or said.netloc:
        return ""
    asked = parse_qs(said.query)
    number = asked.get("page", ["1"])[0]
    return _address(which, asked.get("find", [""])[0][:100], int(number) if number.isdecimal() else 1, moved)


# Copied and renamed

COPY = Page("copy", "Copy a job", 0, in_job=False, listed=False)
RENAME = Page("rename", "Rename a job", 0, in_job=False, listed=False)


@router.get("/jobs/{job_id}/copy")
def copy_page(request: Request, job_id: int) -> Response:
    """Under which name to copy a job, and what goes along."""
    shop = shop_of(request)
    shop.store.revision(job_id)
    return _copy_page(request, job_id, _new_name(shop, shop.store.entry(job_id).name))


def _copy_page(request: Request, job_id: int, name: str, wrong: str = "") -> Response:
    entry = shop_of(request).store.entry(job_id)
    status = 422 if wrong else 200
    return render(request, "jobs/copy.html", COPY, status=status, each=entry, name=name, wrong=wrong)


@router.post("/jobs/{job_id}/copy")
def copy(
    request: Request,
    job_id: int,
    name: Annotated[str, Form()] = "",
    once: Annotated[str, Form(max_length=64)] = "",
) -> Response:
    """Copy a job and open the copy; sent twice, it is one copy."""
    key = key_of(once, "copy", str(job_id), name)
    try:
        made = shop_of(request).store.copy(job_id, name, by=who(request), once=key)
    except (StoreError, JobError) as fault:
        return _copy_page(request, job_id, name, _name_refused(fault))
    return RedirectResponse(f"/jobs/{made.job_id}/plan", status_code=303)


@router.get("/jobs/{job_id}/rename")
def rename_page(request: Request, job_id: int) -> Response:
    """What a job shall be called."""
    store = shop_of(request).store
    store.revision(job_id)
    return _rename_page(request, job_id, store.entry(job_id).name)


def _rename_page(request: Request, job_id: int, name: str, wrong: str = "") -> Response:
    entry = shop_of(request).store.entry(job_id)
    status = 422 if wrong else 200
    return render(request, "jobs/rename.html", RENAME, status=status, each=entry, name=name, wrong=wrong)


@router.post("/jobs/{job_id}/rename")
def rename(request: Request, job_id: int, name: Annotated[str, Form()] = "") -> Response:
    """Give a job another name, as an edit that is taken back like any other."""
    store = shop_of(request).store
    try:
        store.rename(job_id, name, by=who(request))
    except (StoreError, JobError) as fault:
        return _rename_page(request, job_id, name, _name_refused(fault))
    return RedirectResponse(PLACES[store.entry(job_id).place], status_code=303)


def _name_refused(fault: StoreError | JobError) -> str:
    """Why a name is not taken.

    Raises:
        StoreError: it is not about the name: there is no such job, or the disk refuses.
    """
    if isinstance(fault, StoreError) and type(fault) is not StoreError:
        raise fault
    return "; ".join(map(str, fault.faults)) if isinstance(fault, JobError) else str(fault)


def _new_name(shop: Shop, name: str) -> str:
    """A name that no job has yet: the old one with the next number behind it."""
    stem = re.sub(r"\s+\d+$", "", name)[:54] or name[:54]
    taken = shop.store.names()
    return next(new for n in range(2, len(taken) + 3) if (new := f"{stem} {n}") not in taken)


# One job


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
