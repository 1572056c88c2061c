"""What every page stands in: the job it is about, what has changed since it was looked at, the row of pages.

A page module offers `PAGE` and `router`, renders through `render`, and opens its job through `open_job`. It knows of
no other page.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from datetime import datetime
from functools import cache, partial
from pathlib import Path
from secrets import token_hex
from typing import TYPE_CHECKING, Any, Generic, TypeVar
from urllib.parse import urlsplit

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from fastapi.templating import Jinja2Templates
from markupsafe import Markup, escape

from scribeline.findings import TAGS
from scribeline.job import Document, Fault, JobError
from scribeline.lengths import (
    JobUnit,
    both_units,
    by_inches,
    figure,
    in_unit,
    inch_fraction,
    inch_text,
    mm_text,
    own_unit,
    span,
)
from scribeline.web.field import Field
from scribeline.web.fields import spoken
from scribeline.web.numbers import Changed, changed, findings_changed
from scribeline.web.planning import Whole
from scribeline.web.shop import Shop, shop_of

if TYPE_CHECKING:
    from scribeline.findings import Finding
    from scribeline.plan import Plan
    from scribeline.store import JobEntry, Put, Revision

HERE = Path(__file__).parent

Made = TypeVar("Made")

PATIENCE = 6.0
"""So long a page waits for the tunnels that it awaits before it shows what it has, s."""

AWAITS = "Awaits"
"""Header of the request by which a page that showed what was known at once asks for the rest."""


@dataclass(frozen=True, slots=True)
class Page:
    """A page's place among the others.

    Attributes:
        slug: its part of the address.
        title: its word in the row of pages, and its heading.
        order: its place there; pages of one order stand by title.
        in_job: whether it belongs to a job, or to the shop as a whole.
        listed: whether it stands in the row.
    """

    slug: str
    title: str
    order: int
    in_job: bool = True
    listed: bool = True


class _Lazily(Generic[Made]):
    """A property worked out once for each instance, as the standard library's is, whose lock (Python 3.11) all of them share.

    A page that waits would keep every other one waiting.
    """

    def __init__(self, make: Callable[[Any], Made]) -> None:
        self._make, self.__doc__ = make, make.__doc__

    def __get__(self, of: Any, kind: type | None = None) -> Made:
        made = of.__dict__[self._make.__name__] = self._make(of)
        return made


@dataclass(frozen=True)
class Opened:
    """One job as a page sees it.

    Attributes:
        shop: the app's shop.
        revision: the newest.
        seen: the revision this screen last said it had seen.
        folder: where the files the job names lie.
        mark: of the job before it was read: what changed since then, a page that listens asks for (`live`).
        changes: how often it had been changed before it was read.
        patience: so long its plan is waited for before it is shown with tunnels that it awaits, s; None until it is whole.
    """

    shop: Shop
    revision: Revision
    seen: Revision
    folder: Path
    patience: float | None = None
    mark: str = ""
    changes: int = 0

    @property
    def id(self) -> int:
        """The job's number in the store."""
        return self.revision.job_id

    @property
    def text(self) -> str:
        """The job file as it is now."""
        return self.revision.text

    @_Lazily
    def record(self) -> str:
        """What is done already, as the planner takes it: that stays where it was cut, whatever the text says."""
        return self.shop.record(self.id)

    @property
    def whole(self) -> Whole:
        """All that its plan is worked out from."""
        return Whole(self.text, self.folder, self.record)

    @_Lazily
    def _read(self) -> tuple[Plan | None, tuple[Fault, ...]]:
        glances = self.shop.glances
        try:
            made = self._planned(self.text, self.id)
        except JobError as error:
            glances.saw(self.id, self.changes, None, error.faults)
            return None, error.faults
        glances.saw(self.id, self.changes, made)
        return made, ()

    @property
    def plan(self) -> Plan | None:
        """The plan; None where the job cannot be read."""
        return self._read[0]

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Why the job cannot be read."""
        return self._read[1]

    @property
    def document(self) -> Document | None:
        """What the job states."""
        return None if self.plan is None else self.plan.job.document

    @_Lazily
    def seen_plan(self) -> Plan | None:
        """The plan as it was last seen; None where nothing has changed or it could not be read."""
        if self.seen.number == self.revision.number:
            return None
        try:
            return self._planned(self.seen.text, (self.id, self.seen.number))
        except JobError:
            return None

    def _planned(self, text: str, of: Hashable) -> Plan:
        planner = self.shop.planner
        if self.patience is None:
            return planner.plan(text, self.folder, self.record)
        return planner.settled(text, self.folder, self.record, of=of, patience=self.patience)

    @property
    def awaited(self) -> tuple[str, ...]:
        """Tunnels whose way is being looked for, by their names."""
        return () if self.plan is None else tuple(tunnel.name for tunnel in self.plan.awaited)

    @_Lazily
    def changed(self) -> tuple[Changed, ...]:
        """Numbers that are not what they were when last seen."""
        return () if self.plan is None or self.seen_plan is None else changed(self.seen_plan, self.plan)

    @_Lazily
    def findings_changed(self) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
        """Findings that are new, and that are gone, since last seen."""
        if self.plan is None or self.seen_plan is None:
            return (), ()
        return findings_changed(self.seen_plan, self.plan)

    @_Lazily
    def entry(self) -> JobEntry:
        """The job as it stands in its list."""
        return self.shop.store.entry(self.id)

    @property
    def archived(self) -> Put | None:
        """By whom and when it was archived; None where it is not."""
        return self.entry.archived

    @property
    def title(self) -> str:
        """The job's name; where it cannot be read, as its list shows it."""
        return self.entry.name if self.document is None else self.document.name

    @property
    def units(self) -> JobUnit:
        """The unit the job is stated in."""
        return "mm" if self.document is None else self.document.units


def open_job(request: Request, job_id: int, *, at_once: bool = False) -> Opened:
    """A job's newest revision, with what this screen saw of it last.

    Args:
        request: of a page.
        job_id: which job.
        at_once: whether the page may show a plan that still awaits tunnels. It does so only on a screen that asks for
            the rest by itself.

    Raises:
        UnknownJob: there is no such job.
    """
    shop = shop_of(request)
    live_mark, changes = shop.live.mark(job_id), shop.store.changes(job_id)
    revision = shop.store.revision(job_id)
    seen = revision
    mark = request.cookies.get(f"seen-{job_id}", "")
    if mark.isdecimal() and 0 < int(mark) < revision.number:
        seen = shop.store.revision(job_id, int(mark))
    patience = None
    if at_once and request.headers.get("HX-Request"):
        patience = PATIENCE if request.headers.get(AWAITS) else 0.0
    return Opened(shop, revision, seen, shop.beside(job_id), patience, live_mark, changes)


def render(
    request: Request,
    template: str,
    page: Page,
    job: Opened | None = None,
    *,
    status: int = 200,
    here: bool = True,
    **context: Any,
) -> HTMLResponse:
    """A page in the frame that all of them share; this screen's place in the job is remembered, if it is `here`."""
    response = templates().TemplateResponse(
        request,
        template,
        {
            "page": page,
            "job": job,
            "pages": [each for each in request.app.state.pages if each.listed and each.in_job],
            "shop_pages": [each for each in request.app.state.pages if each.listed and not each.in_job],
            "shop": shop_of(request),
            "theme": request.cookies.get("theme", ""),
            "address": _address(request),
            **context,
        },
        status_code=status,
    )
    if "screen" not in request.cookies:
        _keep(response, "screen", token_hex(8))
    if job is not None and status == 200:
        if here:
            _keep(response, f"at-{job.id}", _address(request), job.id)
        if f"seen-{job.id}" not in request.cookies:
            _keep(response, f"seen-{job.id}", str(job.revision.number), job.id)
    return response


def _address(request: Request) -> str:
    return request.url.path + (f"?{request.url.query}" if request.url.query else "")


def _keep(response: Response, name: str, value: str, job_id: int | None = None) -> None:
    """Remember something on this screen; what belongs to a job is sent with its own pages alone."""
    path = "/" if job_id is None else f"/jobs/{job_id}"
    response.set_cookie(name, value, max_age=3600 * 24 * 365, path=path, samesite="lax", httponly=True)


def saw(response: Response, job_id: int, number: int) -> None:
    """Remember that this screen has seen a revision."""
    _keep(response, f"seen-{job_id}", str(number), job_id)


def place_in(request: Request, job_id: int) -> str:
    """Where this screen was in a job; its plan where it was nowhere yet."""
    kept = request.cookies.get(f"at-{job_id}", "")
    return kept if inside(job_id, kept) else f"/jobs/{job_id}/plan"


def inside(job_id: int, address: str) -> bool:
    """Whether an address is a page of this job, and nothing else."""
    return re.fullmatch(rf"/jobs/{job_id}(/[\w./-]*)?(\?[\w=&%.+-]*)?(#[\w-]*)?", address) is not None


def back_to(job_id: int, address: str) -> RedirectResponse:
    """Back to the page of the job that an edit came from."""
    return RedirectResponse(address if inside(job_id, address) else f"/jobs/{job_id}/plan", status_code=303)


def led(request: Request, job_id: int, address: str) -> Response:
    """Back to a page of the job; a page that sent the edit by itself takes on the address too."""
    if request.headers.get("HX-Request") and inside(job_id, address) and address != _came_from(request):
        where = {"path": address, "target": "#page", "select": "#page", "swap": "outerMorph"}
        return Response(headers={"HX-Location": json.dumps(where)})
    return back_to(job_id, address)


def _came_from(request: Request) -> str:
    """The page that an edit was sent from, as the page itself says."""
    said = urlsplit(request.headers.get("HX-Current-URL", ""))
    return said.path + (f"?{said.query}" if said.query else "")


def key_of(once: str, *typed: str) -> str:
    """Key of a form as it was filled in: the same sent twice is one thing, something else typed is another."""
    if not once:
        return ""
    return hashlib.sha256(repr((once, typed)).encode("utf-8", "surrogatepass")).hexdigest()[:32]


def mark_of(text: str) -> str:
    """What a text that a page was made from can be told by, so that what is sent back from it can be held to that."""
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def both(mm: float | None, units: JobUnit = "mm", places: int = 2, *, rule: bool = True) -> Markup:
    """A length in both units, the job's own first and large.

    Args:
        mm: the length, mm.
        units: the job's.
        places: decimals of the millimetres.
        rule: whether it may be told by the marks of a rule too; a limit is lost in their rounding.
    """
    if mm is None:
        return Markup("")
    first = own_unit(mm, units, places)
    parts = beside(mm, units, places, rule=rule).split(" · ")
    second = Markup(" · ").join(Markup('<span class="keep">{}</span>').format(part) for part in parts)
    return Markup('<b class="n">{}</b> <span class="n2">{}</span>').format(first, second)


def beside(mm: float, units: JobUnit, places: int = 2, *, rule: bool = True) -> str:
    """What stands smaller beside a length: the other unit and, where it says something, the nearest 64th."""
    if by_inches(units):
        # A page has room to name the fraction's unit too.
        return (
            both_units(mm, units, places=places)[1].replace(" · ", " in · ") if rule else mm_text(mm, places)
        )
    fraction = both_units(mm, places=places)[1]
    return fraction if rule and not fraction.startswith("0 in (") else inch_text(mm)


def as_typed(mm: float, units: JobUnit) -> str:
    """A length as a person would type it into a job: a 64th of an inch where it is one."""
    if by_inches(units):
        mark = inch_fraction(mm)
        return mark.text.removesuffix(" in") if abs(mark.error_mm) < 0.006 else figure(mm, units)
    return f"{round(mm, 2):g}"


def within(field: Field, units: JobUnit) -> str:
    """How little and how much may be typed into a field."""
    low, high = field.within
    if field.kind == "length" and low is not None and high is not None:
        return in_unit(span(low, high, places=2 if by_inches(units) else None), units)
    unit = "\u00b0" if field.kind == "angle" else ""
    if low is None or high is None:
        return "" if low is None else f"{low:g}"
    return f"{low:g} to {high:g}{unit}"


def plain(mm: float | None, units: JobUnit = "mm") -> str:
    """A length in the job's own unit, for a sentence."""
    if mm is None:
        return "nothing"
    return own_unit(mm, units)


def sentence(words: str) -> str:
    """Words with a capital and a full stop."""
    text = words[:1].upper() + words[1:]
    return text if text.endswith((".", "!", "?")) else f"{text}."


def told(words: str, document: Document | None, near: str = "") -> str:
    """What a check says as a sentence, the job file's keys in it in the words of the parts' pages."""
    return sentence(spoken(document, words, near))


def shape(field: Field) -> str:
    """How a field stands on a page: rows and names take its whole width, a place has room for two numbers."""
    if field.kind == "names" or (field.kind == "list" and field.depth > 1):
        return "rows"
    return {"list": "place", "yes": "choice"}.get(field.kind, field.kind)


def when(at: datetime) -> str:
    """A moment as the shop's own clock says it."""
    here = at.astimezone()
    return f"{here.day} {here:%B %Y, %H:%M}"


@cache
def templates() -> Jinja2Templates:
    """The templates with what they may call."""
    made = Jinja2Templates(directory=HERE / "templates")
    made.env.filters.update(
        both=both,
        within=within,
        shape=shape,
        plain=plain,
        in_unit=in_unit,
        sentence=sentence,
        when=when,
        told=told,
        svg=Markup,
        tag=TAGS.__getitem__,
        escape=escape,
        as_typed=as_typed,
    )
    made.env.globals["once"] = partial(token_hex, 8)  # key of a form, so that sent twice it does one thing
    made.env.trim_blocks = made.env.lstrip_blocks = True
    return made
