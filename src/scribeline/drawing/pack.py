"""The bench pack: every file that goes to the bench, drawn in memory from one plan."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeAlias

from scribeline.drawing import dxf, pdf, svg
from scribeline.drawing.board import board_sheet
from scribeline.drawing.cards import begin_cards
from scribeline.drawing.carve import neck_blank_sheet
from scribeline.drawing.cuts import cut_sheet
from scribeline.drawing.head import head_sheet
from scribeline.drawing.heel import heel_sheet
from scribeline.drawing.nut import nut_sheet
from scribeline.drawing.sheet import Sheet
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


CORRECTED = "templates-corrected.pdf"
"""The templates for a printer that prints untrue."""

Pictures: TypeAlias = Callable[[], tuple[pdf.PagePicture, ...]]


@dataclass(frozen=True)
class Drawn:
    """One file of the pack.

    Attributes:
        name: of the file.
        content: its bytes.
        pictures: makes pictures of its pages; a drawing for a program has one. No pictures of data and meshes.
    """

    name: str
    content: bytes
    pictures: Pictures = tuple


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
    return ((each.name, each.content) for each in shown(plan, paper=paper))


def shown(plan: Plan, *, paper: str | None = None) -> Iterator[Drawn]:
    """The same, each with how to make pictures of its pages; see `draw`."""
    name, finished = plan.job.document.name, Finished(plan)
    # What is set takes as long as what is drawn. In this order both have something to do all the time: the step cards are
    # set twice, once to find out how large their lettering may be, which takes as long as drawing all that comes next.
    cards = begin_cards(plan)
    templates = _templates(plan, paper, (1.0, 1.0))
    sheets = begin_sheets(plan, finished)
    steps = cards()
    cuts = cut_sheet(plan)
    heel = heel_sheet(plan)
    others = [
        Drawn("body.dxf", dxf.write(cuts), _pictured(cuts)),
        Drawn("body.svg", svg.write(cuts), _pictured(cuts)),
        Drawn("neck.dxf", dxf.write(heel), _pictured(heel)),
        Drawn("plan.json", as_json(plan).encode()),
        *(Drawn(file, content) for file, content in _solids(name, finished).items()),
    ]
    beside = (
        ("board.dxf", board_sheet),
        ("head.dxf", head_sheet),
        ("nut.dxf", nut_sheet),
        ("neck-blank.dxf", neck_blank_sheet),
    )
    for file, sheet in ((file, draw_it(plan)) for file, draw_it in beside):
        if sheet is not None:
            others.append(Drawn(file, dxf.write(sheet), _pictured(sheet)))
    for file, setting in (("templates.pdf", templates), ("sheets.pdf", sheets), ("steps.pdf", steps)):
        yield Drawn(file, setting.result(), setting.pages)
    yield from others


def _pictured(sheet: Sheet) -> Pictures:
    """Set as a page of its own, a drawing for a program looks as it does there."""
    return lambda: pdf.begin([sheet], title=sheet.name).pages()


def _solids(name: str, finished: Finished) -> dict[str, bytes]:
    """The finished body for a viewer, a printer or a machining program (STEP takes a kernel of its own: `scribeline solid`)."""
    from scribeline.solid.meshfiles import mesh_files

    return mesh_files(finished.body.mesh, name)


def corrected_templates(plan: Plan, factors: tuple[float, float], *, paper: str | None = None) -> bytes:
    """The templates as a PDF for a printer that prints untrue; see `corrected`."""
    return corrected(plan, factors, paper=paper).content


def corrected(plan: Plan, factors: tuple[float, float], *, paper: str | None = None) -> Drawn:
    """The same with its name and pictures.

    Args:
        plan: what to draw.
        factors: what to multiply x and y by, from `print_scale.print_verdict`.
        paper: paper for the templates; the job's own when left out.

    Raises:
        PaperError: an unknown paper, or one too small.
    """
    setting = _templates(plan, paper, factors)
    return Drawn(CORRECTED, setting.result(), setting.pages)


def _templates(plan: Plan, paper: str | None, correction: tuple[float, float]) -> pdf.Setting:
    try:
        sheets = template_sheets(plan, paper=paper, correction=correction)
    except (UnknownName, LengthError) as fault:
        raise PaperError(str(fault)) from fault
    return pdf.begin(sheets, title=f"{plan.job.document.name}: full-size templates")
