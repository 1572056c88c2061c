"""Sheets and full-size prints: the bench pack made in the background, and what a print's measuring bars say of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.responses import FileResponse, RedirectResponse, Response

from scribeline.drawing.print_scale import PrintVerdict, Ruling, bar_words, print_verdict, ruling
from scribeline.lengths import read_length
from scribeline.tables.paper import read_paper
from scribeline.web.frame import Opened, Page, back_to, open_job, render
from scribeline.web.shop import who
from scribeline.web.work import Work, make_pack

if TYPE_CHECKING:
    from pathlib import Path

PAGE = Page("sheets", "Sheets", 50)
router = APIRouter()

PACK = "pack"
ACROSS, UP = "print bar across", "print bar up"
"""Under which names the store keeps what a print's bars measured."""

NAMES = {
    "templates.pdf": ("Full-size templates", "print at 100 %, then measure the bars below"),
    "sheets.pdf": ("Drawing sheets", "dimensions, hole table, sections, parts, checks"),
    "steps.pdf": ("Step cards", "one a page, to hang at the machine"),
    "body.dxf": ("Cuts as DXF", "one layer a face, for a drawing or machining program"),
    "body.svg": ("Cuts as SVG", "the same for a browser"),
    "neck.dxf": ("Heel as DXF", "the heel from below with its pilots"),
    "neck-blank.dxf": (
        "Neck's back as DXF",
        "the neck from the front and the side, its sections and channels",
    ),
    "nut.dxf": ("Nut as DXF", "from above and from the heel, with its slots"),
    "board.dxf": ("Fingerboard as DXF", "its edge, slots and dots from the front"),
    "head.dxf": ("Head as DXF", "its outline and tuner holes from the front"),
    "body.stl": ("Body as STL", "a closed mesh, mm"),
    "body.3mf": ("Body as 3MF", "a closed mesh with its unit"),
    "body.glb": ("Body as GLB", "for viewers"),
    "plan.json": ("The plan as JSON", "for other programs"),
    "everything.zip": ("All of it in one file", ""),
}


@dataclass(frozen=True, slots=True)
class Made:
    """One file that can be taken away."""

    name: str
    title: str
    what: str
    size: str


def _made(files: tuple[Path, ...]) -> list[Made]:
    by_name = {each.name: each for each in files}
    return [
        Made(name, title, what, _size(by_name[name].stat().st_size))
        for name, (title, what) in NAMES.items()
        if name in by_name
    ]


def _size(count: int) -> str:
    return f"{count / 1e6:.1f} MB" if count >= 1e6 else f"{max(1, round(count / 1e3))} kB"


def _mark(job: Opened) -> str:
    """The name of this revision's pack."""
    return job.shop.workshop.mark(PACK, job.whole)


@router.get("/jobs/{job_id}/sheets")
def sheets(request: Request, job_id: int) -> Response:
    """What the pack holds; made, being made, or refused while a stop stands."""
    job = open_job(request, job_id)
    if job.plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    return _show(request, job)


def _show(request: Request, job: Opened, *, status: int = 200, **told: Any) -> Response:
    work = job.shop.workshop.look(_mark(job))
    return render(
        request,
        "sheets/sheets.html",
        PAGE,
        job,
        status=status,
        work=work,
        made=_made(work.files) if work else [],
        names=NAMES,
        bars=_bars(job),
        bar_words=bar_words(_ruled(job).bar),
        **told,
    )


@router.post("/jobs/{job_id}/sheets/make")
def make(request: Request, job_id: int) -> Response:
    """Have the pack of this revision made."""
    job = open_job(request, job_id)
    if job.plan is None or job.plan.forbidding:
        raise HTTPException(422, "Nothing is printed while the checks say DO NOT CUT.")
    job.shop.workshop.ask(PACK, job.whole, make_pack)
    return RedirectResponse(f"/jobs/{job_id}/sheets", status_code=303)


@router.post("/jobs/{job_id}/sheets/stop")
def stop(request: Request, job_id: int) -> Response:
    """Stop making it."""
    job = open_job(request, job_id)
    job.shop.workshop.stop(_mark(job))
    return RedirectResponse(f"/jobs/{job_id}/sheets", status_code=303)


@router.get("/jobs/{job_id}/sheets/file/{name}")
def one_file(request: Request, job_id: int, name: str) -> Response:
    """One file of the pack."""
    job = open_job(request, job_id)
    work: Work | None = job.shop.workshop.look(_mark(job))
    found = next((each for each in work.files if each.name == name), None) if work else None
    if found is None or name not in NAMES:
        raise HTTPException(404)
    stem = "-".join("".join(c if c.isalnum() else " " for c in job.title).split()).lower() or "job"
    return FileResponse(found, filename=f"{stem}-{name}")


# The measuring bars


@dataclass(frozen=True, slots=True)
class Bars:
    """What a print's bars measured, and what that means."""

    across: float
    up: float
    verdict: PrintVerdict
    by: str

    @property
    def percent(self) -> tuple[float, float]:
        """At how many percent to print again, across and up."""
        return self.verdict.factors[0] * 100, self.verdict.factors[1] * 100


def _bars(job: Opened) -> Bars | None:
    newest = {each.gate_id: each for each in job.shop.store.readings(job.id)}
    across, up = newest.get(ACROSS), newest.get(UP)
    if across is None or up is None or across.value_mm is None or up.value_mm is None:
        return None
    try:
        verdict = print_verdict(across.value_mm, up.value_mm, _ruled(job).bar)
    except ValueError:
        # Measured on a print on other paper, whose bars are of another length.
        return None
    return Bars(across.value_mm, up.value_mm, verdict, across.by)


def _ruled(job: Opened) -> Ruling:
    assert job.document is not None  # or the page is not shown
    return ruling(read_paper(job.document.print.paper))


@router.post("/jobs/{job_id}/sheets/bars")
def measured(
    request: Request,
    job_id: int,
    across: Annotated[str, Form(max_length=40)] = "",
    up: Annotated[str, Form(max_length=40)] = "",
) -> Response:
    """Keep what the two bars measured; the verdict stands with the job."""
    job = open_job(request, job_id)
    try:
        read = [read_length(words, unit=job.units).mm for words in (across, up)]
        print_verdict(read[0], read[1], _ruled(job).bar)
    except ValueError as fault:
        return _show(request, job, status=422, wrong=str(fault), typed=(across, up))
    for name, mm in zip((ACROSS, UP), read, strict=True):
        job.shop.store.read(
            job.id, name, mm, by=who(request), with_what="steel rule", revision=job.revision.number
        )
    return back_to(job_id, f"/jobs/{job_id}/sheets#bars")
