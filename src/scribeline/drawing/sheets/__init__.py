"""The drawing sheets of a pack: plans, bridge set-out, section, and the lists that go with them."""

from __future__ import annotations

from scribeline.drawing import pdf
from scribeline.drawing.facing import drawable
from scribeline.drawing.sheet import Sheet
from scribeline.drawing.sheets.bridge import bridge_pages, check_blocks
from scribeline.drawing.sheets.carve import carve_pages
from scribeline.drawing.sheets.flow import flowed
from scribeline.drawing.sheets.heights import heights_pages
from scribeline.drawing.sheets.mark_out import mark_out_pages
from scribeline.drawing.sheets.neck import at_the_saw, head_pages, heel_pages, neck_blocks
from scribeline.drawing.sheets.nut import nut_blocks
from scribeline.drawing.sheets.office import Finished, Office, Page
from scribeline.drawing.sheets.parts import parts_pages
from scribeline.drawing.sheets.plans import plan_pages
from scribeline.drawing.sheets.sections import section_pages
from scribeline.drawing.sheets.story_stick import story_stick_pages
from scribeline.plan import Plan


def drawing_sheets(plan: Plan, finished: Finished | None = None) -> bytes:
    """Every drawing sheet as a PDF, numbered, on the job's paper lying.

    Args:
        plan: what to draw. Where the bridge has no place, what depends on it is left out.
        finished: the plan's finished body, where it is wanted for more than the sheets.
    """
    return begin_sheets(plan, finished).result()


def begin_sheets(plan: Plan, finished: Finished | None = None) -> pdf.Setting:
    """The same, drawn and now being set."""
    pictures: dict[str, Sheet] = {}
    data = Office(plan).data(drawing_pages(plan, finished), pictures)
    return pdf.typeset("sheets", data, pictures, title=f"{plan.job.document.name}: drawing sheets")


def drawing_pages(plan: Plan, finished: Finished | None = None) -> list[Page]:
    """The same before they are framed and numbered."""
    office = Office(drawable(plan), finished)
    return [
        *plan_pages(office),
        *mark_out_pages(office),
        *bridge_pages(office),
        *section_pages(office),
        *heights_pages(office),
        *story_stick_pages(office),
        *_lists(office.plan),
        *heel_pages(office),
        *carve_pages(office),
        *head_pages(office),
        *parts_pages(office),
    ]


def _lists(plan: Plan) -> list[Page]:
    """Frets, nut and checks; where a saw's settings stand among them, these have pages and a caution of their own."""
    title, made, checks = "Frets, nut, checks", [*neck_blocks(plan), *nut_blocks(plan)], check_blocks(plan)
    cautions = at_the_saw(plan)
    if not cautions:
        return flowed(title, [*made, *checks])
    return [*flowed(title, made, cautions=cautions), *flowed(title, checks)]
