"""The sheet of a neck that is carved here: its sections, what lies in it, its blank and what it weighs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scribeline.drawing.carve import carve_picture
from scribeline.drawing.sheets.figures import Cell, both_named, signed, unnamed
from scribeline.drawing.sheets.flow import Block, Table, beside, flowed, listed, pictured
from scribeline.drawing.sheets.office import Office, Page
from scribeline.layout import Carve, blank_needed, carve_of, channels, stations
from scribeline.lengths import in_unit, said
from scribeline.plan import Plan
from scribeline.solid.neck import neck_wood
from scribeline.solid.neck_wood import least_wood
from scribeline.steps import BY_MACHINE
from scribeline.steps.cautions import on_the_neck

_ROOM = 90.0
"""Room across for the picture of its sections, mm."""

_GRAMS = 1000.0


def carve_pages(office: Office) -> list[Page]:
    """The neck's back; no page where it is not carved here."""
    plan = office.plan
    carve = carve_of(plan.job.document, plan.layout)
    if carve is None:
        return []
    blocks = [
        _sections(plan, carve),
        *_channels(plan, carve),
        beside([pictured(carve_picture(plan, _ROOM)), _wood(plan)], shares=(1.0, 1.4)),
    ]
    clamped, *_, worn = on_the_neck(BY_MACHINE["carving"])
    return [
        replace(page, datum="nut's front; the fingerboard's glue line", material=plan.neck.timber.label)
        for page in flowed("Neck's back", blocks, cautions=(clamped, worn))
    ]


def _sections(plan: Plan, carve: Carve) -> Block:
    """Where the back is held to a template, and what it measures there."""
    unit = plan.unit
    rows: list[Sequence[Cell]] = [
        (
            each.name,
            *(
                unnamed(signed(mm, unit))
                for mm in (
                    each.along,
                    each.thickness,
                    each.depth,
                    each.width,
                    each.facet_down,
                    each.facet_in,
                )
            ),
        )
        for each in stations(carve, plan.layout)
    ]
    table = Table(
        (
            "Where",
            "From the nut",
            "Thick with the board",
            "Deep under it",
            "Wide",
            "Facet: under the board",
            "Facet: from the middle",
        ),
        rows,
        (46, 25, 25, 25, 25, 25, 25),
        ("start", *("end",) * 6),
        below=True,
    )
    document = plan.job.document
    blank, start = document.neck_blank, document.nut.start("the nut's front")
    assert blank is not None
    low, high = carve.curve
    lead = (
        f'{both_named(unit)} below. Section "{blank.section}". The heel\'s curve runs from {said(low)} to {said(high)}, counted '
        f"from {start}. Templates are at full size with the others."
    )
    return listed("Sections", table, in_unit(lead, unit))


def _channels(plan: Plan, carve: Carve) -> list[Block]:
    """What is routed under the board, with the least wood round it once the back is carved."""
    unit = plan.unit
    rows: list[Sequence[Cell]] = []
    for each in channels(plan.job.document):
        least = least_wood(carve, each)
        deep = unnamed(signed(each.depth, unit))
        sizes = (2 * each.half, each.across * plan.layout.treble, *each.ends)
        rows.append(
            (
                each.name,
                *(unnamed(signed(mm, unit)) for mm in sizes),
                deep,
                unnamed(signed(each.depth_at_ends, unit)),
                "" if least is None else unnamed(signed(least.mm, unit)),
            )
        )
    if not rows:
        return []
    table = Table(
        (
            "Channel",
            "Wide",
            "Middle, to the right",
            "From",
            "To",
            "Deep half-way",
            "Deep at its ends",
            "Least wood round it",
        ),
        rows,
        (30, 20, 25, 20, 20, 25, 25, 25),
        ("start", *("end",) * 7),
        below=True,
    )
    lead = f"{both_named(unit)} below. From and to are from the nut; a minus lies before it."
    return [listed("Channels under the fingerboard", table, in_unit(lead, unit))]


def _wood(plan: Plan) -> Block:
    """The blank it is cut from, and what its wood weighs."""
    document, unit = plan.job.document, plan.unit
    carve, wood = carve_of(document, plan.layout), neck_wood(document, plan.layout, plan.head)
    assert carve is not None
    assert wood is not None
    rows: list[Sequence[Cell]] = [
        (each.name, f"{each.mm3 / 1000:.0f} cm³", f"{each.kg * _GRAMS:.0f} g", each.density.source)
        for each in wood.parts
    ]
    table = Table(
        ("Wood", "Volume", "Weight at 12 %", "Density from"),
        rows,
        (40, 25, 30, 50),
        ("start", "end", "end", "start"),
    )
    needed = blank_needed(document, plan.layout, carve)
    sizes = " × ".join(said(mm, 1) for mm in (needed.length, needed.width, needed.thickness))
    lead = (
        f"Blank, planed, {needed.head}: {sizes}. All the wood: {wood.kg * _GRAMS:.0f} g, give or take "
        f"{wood.sd_kg * _GRAMS:.0f} g; the rod, frets and tuners are not in it."
    )
    return listed("Blank and weight", table, in_unit(lead, unit))
