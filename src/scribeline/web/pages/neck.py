"""The neck where it is made here: its board, nut, head and back as they are drawn, what is said of them, and their steps."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import partial
from math import degrees
from typing import TYPE_CHECKING, NamedTuple

from fastapi import APIRouter, Request
from fastapi.responses import Response

from scribeline.drawing.board import strip_items
from scribeline.drawing.carve import carve_picture, side_items
from scribeline.drawing.head import head_items
from scribeline.drawing.nut import nut_items
from scribeline.drawing.sheet import Text
from scribeline.web.drawings import element
from scribeline.web.frame import Page, open_job, render

if TYPE_CHECKING:
    from scribeline.drawing.sheet import Item
    from scribeline.plan import Plan

PAGE = Page("neck", "Neck", 28)
router = APIRouter()

_ROOM = 150.0
"""Across for the neck's sections, mm."""
_ON_PAPER = "ull size (1:1)"
"""In what a drawing says of itself on paper, and a screen must not."""
_CODES = ("board.", "frets.", "nut.", "head.", "carve.", "neck.", "typical.head")


class Piece(NamedTuple):
    """A piece of the neck: its table of the job's forms, its heading, what to state to have it made here, its drawing."""

    part: str
    title: str
    stated_by: str
    items: Callable[[Plan], tuple[Item, ...]]
    long: bool = False


def _back(plan: Plan) -> tuple[Item, ...]:
    return carve_picture(plan, _ROOM).items if plan.job.document.neck_blank is not None else ()


PIECES = (
    Piece("fingerboard", "Fingerboard", "by its blank's thickness", strip_items, long=True),
    Piece("nut", "Nut", "by its blank's thickness", nut_items),
    Piece("head", "Head", "", head_items),
    Piece("neck_blank", "Back, at the 1st and the 12th fret", "", _back),
    Piece("neck_blank", "From the side", "", side_items, long=True),
)


@router.get("/jobs/{job_id}/neck")
def neck_page(request: Request, job_id: int) -> Response:
    """The pieces of the neck that are made here, as they are drawn."""
    job = open_job(request, job_id, at_once=True)
    plan = job.plan
    if plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    planner = job.shop.planner
    drawn = [
        (piece, planner.once(("neck", piece.title, job.whole), partial(_drawn, plan, piece)))
        for piece in PIECES
    ]
    return render(
        request,
        "neck/neck.html",
        PAGE,
        job,
        made=[(piece, picture) for piece, picture in drawn if picture],
        not_made=[
            (piece, _where(plan, piece)) for piece in _apart(piece for piece, picture in drawn if not picture)
        ],
        posts=list(_posts(plan)),
        findings=[each for each in plan.findings if each.code.startswith(_CODES)],
        steps=[card for card in plan.cards if card.workpiece in {"neck", "head"}],
    )


def _apart(pieces: Iterable[Piece]) -> list[Piece]:
    """The pieces, each table of the job once."""
    found: dict[str, Piece] = {}
    for piece in pieces:
        found.setdefault(piece.part, piece)
    return list(found.values())


def _where(plan: Plan, piece: Piece) -> str:
    """Where among the parts a piece is stated: its form, or that of a new one."""
    stated = getattr(plan.job.document, piece.part) is not None
    return piece.part if stated else f"new?of={piece.part}"


def _drawn(plan: Plan, piece: Piece) -> str:
    items = [each for each in piece.items(plan) if not (isinstance(each, Text) and _ON_PAPER in each.text)]
    return element(items, piece.title.lower()) if items else ""


class PostRow(NamedTuple):
    """One string's way to its tuner, for the page."""

    string: int
    along: float
    across: float
    side: str
    breaks: str
    kinks: str
    held: str


def _posts(plan: Plan) -> Iterator[PostRow]:
    head = plan.layout.head
    for post in () if head is None else head.posts:
        yield PostRow(
            post.string,
            -post.at.x,
            abs(post.at.y),
            "treble" if post.at.y * plan.layout.treble > 0 else "bass",
            f"{degrees(post.breaks):.1f}°",
            f"{abs(degrees(post.kink)):.1f}°",
            "its post" if post.tree is None else f"string tree {post.tree + 1}",
        )
