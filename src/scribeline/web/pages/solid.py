"""The body in three dimensions, looked through to its cuts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import FileResponse, RedirectResponse, Response

from scribeline.features import Bore
from scribeline.lengths import in_unit, said
from scribeline.web.frame import Opened, Page, open_job, render
from scribeline.web.numbers import name_of
from scribeline.web.work import FROM, make_view

if TYPE_CHECKING:
    from scribeline.plan import Plan

PAGE = Page("solid", "3D", 60)
router = APIRouter()

VIEW = "layered-view"

TONES = ("#d8b888", "#a4743f", "#ecd9b6", "#7f5a3a")
"""Of the layers of wood, from the top down, and again; each layer has a hatch and words too."""

HATCHES = (45, 135, 15, 105)
"""The directions of their hatches in a section, degrees from the x axis."""

ENTERED = {
    "top": ("T", "from the top face"),
    "back": ("B", "from the back"),
    "edge": ("E", "from the edge"),
    "pocket": ("C", "from inside a cavity"),
}
"""Where a cut is made from: a letter for its mark in the legend, and words."""


@dataclass(frozen=True, slots=True)
class Wood:
    """One layer as the view shows it.

    Attributes:
        words: its name, its timber and how thick it is.
        tone: its colour.
        hatch: the direction of its hatch, degrees.
    """

    words: str
    tone: str
    hatch: int


def _layers(plan: Plan) -> list[Wood]:
    form = plan.layout.body
    found = []
    for n, layer in enumerate(form.layers):
        thick = min(layer.high, 0.0) - layer.low
        name = layer.name or ("Wood" if len(form.layers) == 1 else f"Layer {n + 1}")
        words = f"{name[:1].upper()}{name[1:]}: {layer.timber.label}, {said(thick, 1)}"
        found.append(Wood(words, TONES[n % len(TONES)], HATCHES[n % len(HATCHES)]))
    return found


@dataclass(frozen=True, slots=True)
class Entered:
    """The cuts of one direction, as the legend names them.

    Attributes:
        face: where they begin.
        letter: their mark.
        words: the same for a person.
        tone: their colour.
        count: how many there are.
    """

    face: str
    letter: str
    words: str
    tone: str
    count: int


def _entered(plan: Plan) -> list[Entered]:
    faces = [each.face for each in plan.features]
    return [
        Entered(face, letter, words, _on_screen(FROM[face]), faces.count(face))
        for face, (letter, words) in ENTERED.items()
        if face in faces
    ]


def _on_screen(linear: tuple[float, float, float, float]) -> str:
    """A linear colour as a style sheet names it (IEC 61966-2-1, sRGB)."""
    parts = (12.92 * c if c <= 0.0031308 else 1.055 * c ** (1 / 2.4) - 0.055 for c in linear[:3])
    return "#" + "".join(f"{round(255 * part):02x}" for part in parts)


def _mark(job: Opened) -> str:
    return job.shop.workshop.mark(VIEW, job.whole)


@router.get("/jobs/{job_id}/solid")
def solid(request: Request, job_id: int) -> Response:
    """The body, made in the background when it is first looked at."""
    job = open_job(request, job_id)
    if job.plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    workshop = job.shop.workshop
    work = workshop.look(_mark(job)) or workshop.ask(VIEW, job.whole, make_view)
    features = job.plan.features
    return render(
        request,
        "solid/solid.html",
        PAGE,
        job,
        work=work,
        mark=work.mark,
        layers=_layers(job.plan),
        entered=_entered(job.plan),
        words_of={face: words for face, (_, words) in ENTERED.items()},
        cuts=[
            (
                each,
                name_of(each),
                each.role if isinstance(each, Bore) else in_unit(f"{said(each.depth, 1)} deep", job.units),
            )
            for each in features
        ],
    )


@router.post("/jobs/{job_id}/solid/stop")
def stop(request: Request, job_id: int) -> Response:
    """Stop making it."""
    job = open_job(request, job_id)
    job.shop.workshop.stop(_mark(job))
    return RedirectResponse(f"/jobs/{job_id}/solid", status_code=303)


@router.post("/jobs/{job_id}/solid/make")
def make(request: Request, job_id: int) -> Response:
    """Have it made again after it was stopped or failed."""
    job = open_job(request, job_id)
    job.shop.workshop.ask(VIEW, job.whole, make_view)
    return RedirectResponse(f"/jobs/{job_id}/solid", status_code=303)


@router.get("/jobs/{job_id}/solid/{mark}.glb")
def mesh(request: Request, job_id: int, mark: str) -> Response:
    """The scene; its name hangs on what it was made from, so a browser may keep it."""
    job = open_job(request, job_id)
    work = job.shop.workshop.look(mark) if mark == _mark(job) else None
    if work is None or not work.files:
        raise HTTPException(404)
    return FileResponse(
        work.files[0], media_type="model/gltf-binary", headers={"Cache-Control": "private, max-age=86400"}
    )
