"""The drawing sheets of a pack: plans, bridge set-out, section, and the lists that go with them."""

from __future__ import annotations

from concurrent.futures import Future

from scribeline.drawing import pdf
from scribeline.drawing.facing import drawable
from scribeline.drawing.sheet import Sheet
from scribeline.drawing.sheets.bridge import bridge_pages
from scribeline.drawing.sheets.holes import hole_pages
from scribeline.drawing.sheets.kinds import kind_pages
from scribeline.drawing.sheets.neck import neck_pages
from scribeline.drawing.sheets.office import Finished, Office, Page
from scribeline.drawing.sheets.parts import parts_pages
from scribeline.drawing.sheets.plans import plan_pages
from scribeline.drawing.sheets.sections import section_pages
from scribeline.plan import Plan


def drawing_sheets(plan: Plan, finished: Finished | None = None) -> bytes:
    """Every drawing sheet as a PDF, numbered, on the job's paper lying.

    Args:
        plan: what to draw. Where the bridge has no place, what depends on it is left out.
        finished: the plan's finished body, where it is wanted for more than the sheets.
    """
    return begin_sheets(plan, finished).result()


def begin_sheets(plan: Plan, finished: Finished | None = None) -> Future[bytes]:
    """The same, drawn and now being set."""
    pictures: dict[str, Sheet] = {}
    data = Office(plan).data(drawing_pages(plan, finished), pictures)
    return pdf.typeset("sheets", data, pictures, title=f"{plan.job.document.name}: drawing sheets")


def drawing_pages(plan: Plan, finished: Finished | None = None) -> list[Page]:
    """The same before they are framed and numbered."""
    office = Office(drawable(plan), finished)
    return [
        *plan_pages(office),
        *bridge_pages(office),
        *section_pages(office),
        *kind_pages(office),
        *neck_pages(office),
        *hole_pages(office),
        *parts_pages(office),
    ]
