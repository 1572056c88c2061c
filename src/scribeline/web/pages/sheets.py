"""Sheets and full-size prints: the bench pack made in the background, and what a print's measuring bars say of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.responses import FileResponse, RedirectResponse, Response

from scribeline.drawing.print_scale import PrintVerdict, Ruling, bar_words, print_verdict, ruling
from scribeline.lengths import SaidError, read_length
from scribeline.tables.paper import Roll, desk_paper, read_paper
from scribeline.web import proofs
from scribeline.web.frame import Opened, Page, back_to, open_job, render
from scribeline.web.shop import who
from scribeline.web.work import Work, make_corrected, make_pack

PAGE = Page("sheets", "Sheets", 50)
router = APIRouter()

PACK = "pack"
ACROSS, UP = "print bar across", "print bar up"
"""Under which names the store keeps what a print's bars measured."""
DRAWN_ACROSS, DRAWN_UP = "print bar drawn across", "print bar drawn up"
"""And how long they were drawn on that print, which was perhaps a corrected one; not kept of older readings."""

PLAIN = "plain"
"""The print of the templates as they are, as the form names it."""

_CORRECTION = (0.8, 1.25)
"""Factors beyond these correct no printer: of a bar that is a tenth off twice over, each print is thrown away."""

CORRECTED = "templates-corrected.pdf"

NAMES = {
    "templates.pdf": ("Full-size templates", "print at 100 %, then measure the bars below"),
    "sheets.pdf": ("Drawing sheets", "dimensions, hole table, sections, parts, checks"),
    "steps.pdf": ("Step cards", "one a page, to hang at the machine"),
    "body.dxf": ("Cuts as DXF", "one layer a face, for a drawing or machining program"),
    "body.svg": ("Cuts as SVG", "the same for a browser"),
    "neck.dxf": (
        "Heel as DXF",
        "the heel from below with its pilots, or the core of a neck that runs through",
    ),
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
    """One file that can be taken away.

    Attributes:
        name: of the file.
        title: what it is.
        what: for what.
        size: how large.
        mark: of the work that made it.
        pages: that have pictures.
    """

    name: str
    title: str
    what: str
    size: str
    mark: str = ""
    pages: tuple[proofs.Proof, ...] = ()

    @property
    def is_printed(self) -> bool:
        """Whether it is for paper."""
        return self.name.endswith(".pdf")


def _made(work: Work) -> list[Made]:
    by_name = {each.name: each for each in work.files}
    pages = proofs.proofs(work.folder) if work.folder else ()
    return [
        Made(
            name,
            title,
            what,
            _size(by_name[name].stat().st_size),
            work.mark,
            tuple(page for page in pages if page.file == name),
        )
        for name, (title, what) in {**NAMES, CORRECTED: ("Corrected templates", "")}.items()
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
    bars = _bars(job)
    correcting = _correction(job, bars.offered) if bars and bars.offered else None
    return render(
        request,
        "sheets/sheets.html",
        PAGE,
        job,
        status=status,
        work=work,
        made=_made(work) if work else [],
        names=NAMES,
        bars=bars,
        bar_words=bar_words(_ruled(job).bar),
        papers=_papers(job),
        percent=percent,
        correcting=correcting,
        corrected=_made(correcting) if correcting else [],
        **told,
    )


def _papers(job: Opened) -> tuple[str, ...]:
    """The job's paper, and that of its desk printer, by their names."""
    assert job.document is not None  # or the page is not shown
    paper = read_paper(job.document.print.paper)
    return (*(() if isinstance(paper, Roll) else (paper,)), desk_paper(paper))


@router.post("/jobs/{job_id}/sheets/make")
def make(request: Request, job_id: int) -> Response:
    """Have the pack of this revision made."""
    job = _printable(request, job_id)
    job.shop.workshop.ask(PACK, job.whole, make_pack)
    return RedirectResponse(f"/jobs/{job_id}/sheets", status_code=303)


def _printable(request: Request, job_id: int) -> Opened:
    job = open_job(request, job_id)
    if job.plan is None or job.plan.forbidding:
        raise HTTPException(422, "Nothing is printed while the checks say DO NOT CUT.")
    return job


@router.post("/jobs/{job_id}/sheets/stop")
def stop(request: Request, job_id: int) -> Response:
    """Stop making it."""
    job = open_job(request, job_id)
    job.shop.workshop.stop(_mark(job))
    return RedirectResponse(f"/jobs/{job_id}/sheets", status_code=303)


@router.get("/jobs/{job_id}/sheets/file/{name}")
def one_file(request: Request, job_id: int, name: str, show: str = "") -> Response:
    """One file of the pack: to be taken away, or, a PDF alone, to be looked at and printed where it is (`show`)."""
    job = open_job(request, job_id)
    found = next(
        (each for work in _works(job) for each in work.files if each.name == name and name in _GIVEN), None
    )
    if found is None:
        raise HTTPException(404)
    called = f"{_stem(job)}-{name}"
    if show and name.endswith(".pdf"):
        return FileResponse(found, filename=called, content_disposition_type="inline", headers=_SHOWN)
    return FileResponse(found, filename=called)


_GIVEN = frozenset({*NAMES, CORRECTED})

_SHOWN = {"Content-Security-Policy": "default-src 'self'; style-src 'unsafe-inline'; frame-ancestors 'none'"}
"""A browser shows a PDF by an element and a style of its own, which the pages' policy forbids."""


def _stem(job: Opened) -> str:
    words = "".join(c if c.isalnum() else " " for c in job.title).split()
    return "-".join(words).lower() or "job"


def _works(job: Opened) -> list[Work]:
    """What is made of this revision: the pack, and the corrected templates."""
    bars = _bars(job) if job.document is not None else None
    found = (
        job.shop.workshop.look(_mark(job)),
        _correction(job, bars.offered) if bars and bars.offered else None,
    )
    return [each for each in found if each is not None]


# Pages before they are printed


@router.get("/jobs/{job_id}/sheets/page/{name}/{number}")
def one_page(request: Request, job_id: int, name: str, number: int) -> Response:
    """One page large, with the ways to the next and to its print."""
    job = open_job(request, job_id)
    made = next((each for work in _works(job) for each in _made(work) if each.name == name), None)
    if job.document is None or made is None or not 1 <= number <= len(made.pages):
        raise HTTPException(404)
    return render(
        request,
        "sheets/page.html",
        PAGE,
        job,
        here=False,
        made=made,
        proof=made.pages[number - 1],
        papers=_papers(job),
        bar_words=bar_words(_ruled(job).bar),
    )


@router.get("/jobs/{job_id}/sheets/picture/{mark}/{leaf}")
def picture(request: Request, job_id: int, mark: str, leaf: str) -> Response:
    """The picture of a page; its address hangs on what it was made from, so a browser may keep it."""
    job = open_job(request, job_id)
    folder = next((work.folder for work in _works(job) if work.mark == mark), None)
    if folder is None or not any(leaf in {each.small, each.large} for each in proofs.proofs(folder)):
        raise HTTPException(404)
    kept = {"Cache-Control": "private, max-age=86400"}
    return FileResponse(folder / proofs.FOLDER / leaf, media_type="image/png", headers=kept)


# The measuring bars


@dataclass(frozen=True, slots=True)
class Bars:
    """What a print's bars measured, and what that means.

    Attributes:
        across: what the bar across measured, mm.
        up: what the bar up measured, mm.
        applied: the correction the print was made with.
        verdict: on it.
        by: who measured.
    """

    across: float
    up: float
    applied: tuple[float, float]
    verdict: PrintVerdict
    by: str

    @property
    def is_corrected(self) -> bool:
        """Whether it was a corrected print."""
        return self.applied != (1.0, 1.0)

    @property
    def offered(self) -> tuple[float, float] | None:
        """What to print with from now on; None where the templates as they are print true."""
        if self.verdict.verdict == "full":
            return self.applied if self.is_corrected else None
        across, up = self.verdict.factors
        return round(across, 6), round(up, 6)

    @property
    def prints(self) -> list[tuple[str, str]]:
        """Prints that may be measured next: how a form names each, and words for it."""
        corrections = {
            factors: None for factors in (self.applied, self.offered) if factors not in {None, (1.0, 1.0)}
        }
        found = [
            (f"{across:.6f} {up:.6f}", f"corrected, {percent((across, up))}") for across, up in corrections
        ]
        return [(PLAIN, "as they are, at 100 %"), *found] if found else []


def percent(factors: tuple[float, float]) -> str:
    """A correction in words."""
    across, up = (f"{100 * factor:.2f} %" for factor in factors)
    return f"{across} across and {up} up"


def _bars(job: Opened) -> Bars | None:
    newest = {each.gate_id: each for each in job.shop.store.readings(job.id)}
    across, up = newest.get(ACROSS), newest.get(UP)
    if across is None or up is None or across.value_mm is None or up.value_mm is None:
        return None
    bar = _ruled(job).bar
    drawn = [each.value_mm for name in (DRAWN_ACROSS, DRAWN_UP) if (each := newest.get(name)) is not None]
    x, y = ((each or bar) / bar for each in drawn) if len(drawn) == 2 else (1.0, 1.0)
    applied = round(x, 6), round(y, 6)
    try:
        verdict = print_verdict(across.value_mm, up.value_mm, bar, applied=applied)
    except ValueError:
        # Measured on a print on other paper, whose bars are of another length.
        return None
    return Bars(across.value_mm, up.value_mm, applied, verdict, across.by)


def _ruled(job: Opened) -> Ruling:
    assert job.document is not None  # or the page is not shown
    return ruling(read_paper(job.document.print.paper))


def _applied(on: str, bars: Bars | None) -> tuple[float, float]:
    """The correction of the print that a form names.

    Raises:
        SaidError: it names none, where there are several.
    """
    if on == PLAIN or (not on and (bars is None or not bars.prints)):
        return 1.0, 1.0
    try:
        across, up = (float(part) for part in on.split())
    except ValueError:
        across = up = 0.0
    if not _CORRECTION[0] <= min(across, up) <= max(across, up) <= _CORRECTION[1]:
        message = "say which print you measured: the templates as they are, or the corrected ones"
        raise SaidError(message)
    return round(across, 6), round(up, 6)


@router.post("/jobs/{job_id}/sheets/bars")
def measured(
    request: Request,
    job_id: int,
    across: Annotated[str, Form(max_length=40)] = "",
    up: Annotated[str, Form(max_length=40)] = "",
    on: Annotated[str, Form(max_length=40)] = "",
) -> Response:
    """Keep what the two bars measured; the verdict stands with the job, and a print that is off is made anew, corrected."""
    job = open_job(request, job_id)
    if job.plan is None:
        return back_to(job_id, f"/jobs/{job_id}/sheets")
    bar = _ruled(job).bar
    try:
        applied = _applied(on, _bars(job))
        read = [read_length(words, unit=job.units).mm for words in (across, up)]
        print_verdict(read[0], read[1], bar, applied=applied)
    except ValueError as fault:
        return _show(request, job, status=422, wrong=str(fault), typed=(across, up, on))
    drawn = [factor * bar for factor in applied]
    for name, mm in zip((ACROSS, UP, DRAWN_ACROSS, DRAWN_UP), (*read, *drawn), strict=True):
        job.shop.store.read(
            job.id, name, mm, by=who(request), with_what="steel rule", revision=job.revision.number
        )
    if not job.plan.forbidding:
        _correct(job)
    return back_to(job_id, f"/jobs/{job_id}/sheets#bars")


# The corrected print


def _kind(factors: tuple[float, float]) -> str:
    """By this name the workshop tells corrections apart, in millionths."""
    across, up = (round(factor * 1e6) for factor in factors)
    return f"corrected-{across}-{up}"


def _correction(job: Opened, factors: tuple[float, float]) -> Work | None:
    """The corrected templates of this revision as they stand."""
    workshop = job.shop.workshop
    return workshop.look(workshop.mark(_kind(factors), job.whole))


def _correct(job: Opened) -> None:
    """Have the templates made with the correction that the bars ask for, if they ask for any."""
    bars = _bars(job)
    if bars is not None and bars.offered is not None:
        job.shop.workshop.ask(_kind(bars.offered), job.whole, partial(make_corrected, factors=bars.offered))


@router.post("/jobs/{job_id}/sheets/corrected")
def make_correction(request: Request, job_id: int) -> Response:
    """Have the corrected templates made, of a job that changed since its print was measured."""
    _correct(_printable(request, job_id))
    return back_to(job_id, f"/jobs/{job_id}/sheets#bars")


@router.post("/jobs/{job_id}/sheets/corrected/stop")
def stop_correction(request: Request, job_id: int) -> Response:
    """Stop making them."""
    job = open_job(request, job_id)
    bars = _bars(job) if job.document is not None else None
    if bars is not None and bars.offered is not None:
        job.shop.workshop.stop(job.shop.workshop.mark(_kind(bars.offered), job.whole))
    return back_to(job_id, f"/jobs/{job_id}/sheets#bars")
