"""The bench pack: every file that goes to the bench, drawn in memory from one plan."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Future

from scribeline.drawing import dxf, pdf, svg
from scribeline.drawing.board import board_sheet
from scribeline.drawing.cards import begin_cards
from scribeline.drawing.carve import neck_blank_sheet
from scribeline.drawing.cuts import cut_sheet
from scribeline.drawing.head import head_sheet
from scribeline.drawing.heel import heel_sheet
from scribeline.drawing.nut import nut_sheet
from scribeline.drawing.sheets import begin_sheets
from scribeline.drawing.sheets.office import Finished
from scribeline.drawing.templates import template_sheets
from scribeline.drawing.tiles import PaperError
from scribeline.lengths import LengthError
from scribeline.plan import Plan
from scribeline.plan.record import as_json
from scribeline.tables import UnknownName

FILES = (
    "templates.pdf",
    "sheets.pdf",
    "steps.pdf",
    "body.dxf",
    "body.svg",
    "neck.dxf",
    "plan.json",
    "body.stl",
    "body.3mf",
    "body.glb",
)
"""Every file of the pack, in the order they are made."""


def files(plan: Plan) -> tuple[str, ...]:
    """Every file of a plan's pack, in the order they are made, with those of the neck's pieces that are made here."""
    document = plan.job.document
    made = {
        "board.dxf": document.fingerboard.blank_thickness is not None,
        "head.dxf": document.head is not None,
        "nut.dxf": document.nut.thickness is not None,
        "neck-blank.dxf": document.neck_blank is not None,
    }
    return (*FILES, *(name for name, is_made in made.items() if is_made))


def draw(plan: Plan, *, paper: str | None = None) -> dict[str, bytes]:
    """Every file of the pack by name.

    Args:
        plan: what to draw; no stop may forbid paper (`Plan.forbidding`).
        paper: paper for the templates; the job's own when left out.

    Raises:
        PaperError: an unknown paper, or one too small.
    """
    return dict(drawn(plan, paper=paper))


def drawn(plan: Plan, *, paper: str | None = None) -> Iterator[tuple[str, bytes]]:
    """The files of the pack one by one, each as soon as it is made; see `draw`."""
    name, finished = plan.job.document.name, Finished(plan)
    # What is set takes as long as what is drawn. In this order both have something to do all the time: the step cards are
    # set twice, once to find out how large their lettering may be, which takes as long as drawing all that comes next.
    cards = begin_cards(plan)
    templates = _templates(plan, paper, (1.0, 1.0))
    sheets = begin_sheets(plan, finished)
    steps = cards()
    cuts = cut_sheet(plan)
    others = {
        "body.dxf": dxf.write(cuts),
        "body.svg": svg.write(cuts),
        "neck.dxf": dxf.write(heel_sheet(plan)),
        "plan.json": as_json(plan).encode(),
        **_solids(name, finished),
    }
    beside = (
        ("board.dxf", board_sheet),
        ("head.dxf", head_sheet),
        ("nut.dxf", nut_sheet),
        ("neck-blank.dxf", neck_blank_sheet),
    )
    for file, sheet in ((file, draw_it(plan)) for file, draw_it in beside):
        if sheet is not None:
            others[file] = dxf.write(sheet)
    yield "templates.pdf", templates.result()
    yield "sheets.pdf", sheets.result()
    yield "steps.pdf", steps.result()
    yield from others.items()


def _solids(name: str, finished: Finished) -> dict[str, bytes]:
    """The finished body for a viewer, a printer or a machining program (STEP takes a kernel of its own: `scribeline solid`)."""
    from scribeline.solid.meshfiles import mesh_files

    return mesh_files(finished.body.mesh, name)


def corrected_templates(plan: Plan, factors: tuple[float, float], *, paper: str | None = None) -> bytes:
    """The templates as a PDF for a printer that prints untrue.

    Args:
        plan: what to draw.
        factors: what to multiply x and y by, from `print_scale.print_verdict`.
        paper: paper for the templates; the job's own when left out.

    Raises:
        PaperError: an unknown paper, or one too small.
    """
    return _templates(plan, paper, factors).result()


def _templates(plan: Plan, paper: str | None, correction: tuple[float, float]) -> Future[bytes]:
    try:
        sheets = template_sheets(plan, paper=paper, correction=correction)
    except (UnknownName, LengthError) as fault:
        raise PaperError(str(fault)) from fault
    return pdf.begin(sheets, title=f"{plan.job.document.name}: full-size templates")
