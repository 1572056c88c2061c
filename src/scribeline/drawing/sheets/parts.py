"""Parts and bits, pilots and fits, the reasons behind the holes, findings and cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import zip_longest

from scribeline.drawing.face import unprinted
from scribeline.drawing.sheet import LEAST_LETTERING
from scribeline.drawing.sheets.figures import Cell, Table, Unit, joined_roles, signed, unnamed
from scribeline.drawing.sheets.flow import (
    Block,
    Columns,
    Listing,
    flowed,
    levelled,
    noticed,
    small_print,
    stacked,
    tabled,
    words,
)
from scribeline.drawing.sheets.holes import wood_left
from scribeline.drawing.sheets.office import Office, Page
from scribeline.features import Bit, Reason, bit_speed, ferrule_fit, hardest, runs
from scribeline.findings import TAGS
from scribeline.job import Document
from scribeline.job.document import Ferrules
from scribeline.job.values import Dimension
from scribeline.lengths import in_unit, inch_text, said, size_text
from scribeline.plan import Plan
from scribeline.steps import balloon
from scribeline.steps.cautions import (
    BY_MACHINE,
    DUST,
    EDGE_GUIDE,
    LARGE_BIT,
    LARGE_BIT_FROM,
    PIN,
    TILTED,
    Machine,
)
from scribeline.tables import SPEED_SOURCE


def parts_pages(office: Office) -> list[Page]:
    """The parts with how well each dimension is known, then bits, pilots, fits, findings and cautions."""
    plan = office.plan
    return [
        *flowed(office, "Parts and bits", [_parts(plan), _bits(plan)]),
        *flowed(
            office,
            "Wood left, fits, reasons, findings",
            [*wood_left(plan), _reasons(plan), *_findings(plan)],
        ),
    ]


def _parts(plan: Plan) -> Listing:
    """Where every number about a part comes from."""
    rows: list[Sequence[Cell]] = [
        (f"{part}, {key}", unnamed(signed(value.mm, plan.unit)), _known(value, plan.unit))
        for part, key, value in _dimensions(plan.job.document)
    ]
    table = Table(
        ("Part, dimension", f"Value, {_both(plan)}", f"Measured, {plan.unit}"),
        rows,
        (54.5, 51.0, 23.0),
        ("start", "end", "start"),
        LEAST_LETTERING,
    )
    lead = (
        "The plan rests on these numbers. What is called typical nobody has measured: measure your own part, write it "
        "into the job with its ±, and plan again."
    )
    return Listing("Parts", table, lead, small=True, abreast=2)


def _known(value: Dimension, unit: Unit) -> str:
    if not value.measured:
        return "typical"
    return (
        f"±{value.plus_minus:g}" if unit == "mm" else f"±{inch_text(value.plus_minus, 4).removesuffix(' in')}"
    )


def _both(plan: Plan) -> str:
    return "mm and inches" if plan.unit == "mm" else "inches and mm"


def _dimensions(document: Document) -> Iterator[tuple[str, str, Dimension]]:
    """Every dimension stated or taken from the parts book: part, name, value."""
    for part, holder in (
        ("body", document.body),
        ("neck", document.neck),
        ("bridge", document.bridge),
        ("bridge screw", document.bridge_screw),
        ("ferrules", document.ferrules),
        *(() if document.neck_screws is None else (("neck screws", document.neck_screws),)),
        *((control.name, control) for control in document.controls),
        *((hole.name, hole.screw) for hole in document.holes if hole.screw is not None),
        *((f"{p.name} cover", p.cover_screws) for p in document.pockets if p.cover_screws is not None),
    ):
        for key in () if holder is None else type(holder).model_fields:
            value = getattr(holder, key)
            if isinstance(value, Dimension):
                yield part, key.replace("_", " "), value


def _bits(plan: Plan) -> Listing:
    uses: dict[Bit, list[str]] = {}
    depths: dict[Bit, float] = {}
    for bore in plan.features.bores:
        for step in bore.steps:
            uses.setdefault(step.bit, []).append(balloon(bore.id))
            depths[step.bit] = max(depths.get(step.bit, 0.0), step.point_reaches)
    rows: list[Sequence[Cell]] = [
        (
            in_unit(bit.in_words, plan.unit),
            ", ".join(runs(numbers) for numbers in _by_letter(uses[bit])),
            unnamed(signed(bit.point, plan.unit)),
            unnamed(signed(depths[bit], plan.unit)),
            f"{bit_speed(bit, plan.layout)}",
            "yes" if bit.owned else f"MISSING: get {_missing(bit, plan)}",
        )
        for bit in uses
    ]
    routers = [owned.diameter for owned in plan.job.document.bits.router]
    alike: dict[tuple[float, float], list[str]] = {}
    for pocket in plan.features.pockets:
        alike.setdefault((pocket.corner_radius, pocket.depth), []).append(pocket.role)
    for (radius, depth), roles in alike.items():
        fits = [diameter for diameter in routers if diameter <= 2 * radius + 1e-9]
        rows.append(
            (
                f"router, to {size_text(2 * radius, plan.unit)}",
                joined_roles(roles),
                "",
                unnamed(signed(depth, plan.unit)),
                "",
                size_text(max(fits), plan.unit)
                if fits
                else "MISSING: no router bit in the box is small enough",
            )
        )
    table = Table(
        (
            "Bit",
            "For",
            f"Its point, {_both(plan)}",
            "Deepest reach from the face",
            "Turns a minute, up to",
            "In the box",
        ),
        rows,
        (56.0, 50.0, 47.0, 59.0, 18.0, 31.0),
        ("start", "start", "end", "end", "end", "start"),
    )
    return Listing(
        f"Bits. Their speeds in {hardest(plan.layout)} timber are a guide ({SPEED_SOURCE}): slower if one smokes or grabs",
        table,
    )


def _missing(bit: Bit, plan: Plan) -> str:
    return f"{bit.size}, {bit.inches}" if plan.unit == "mm" else in_unit(bit.size_in_words, plan.unit)


def _by_letter(numbers: Sequence[str]) -> list[list[str]]:
    """The numbers of each group of holes together."""
    found: dict[str, list[str]] = {}
    for number in dict.fromkeys(numbers):
        found.setdefault(number.rstrip("0123456789"), []).append(number)
    return list(found.values())


def _clearance(mm: float, unit: Unit) -> str:
    """What a hole is wider than what goes in, with its sign."""
    metric = f"{mm:+.2f} mm"
    inches = f"{'+' if mm >= 0 else ''}{inch_text(mm)} ({metric})"
    return (metric if unit == "mm" else inches).replace("-", "−")


def _fits(plan: Plan, ferrule: Ferrules) -> Block:
    """Ferrule, hole and bit."""
    document = plan.job.document
    fit, finish = ferrule_fit(document), document.finish
    bores = plan.features.family("ferrule-hole")
    fits: list[Sequence[Cell]] = []
    for name, part, wanted, k in (
        ("Lip", ferrule.lip_diameter.mm, fit.lip, 0),
        ("Body", ferrule.body_diameter.mm, fit.body, 1),
    ):
        cut = bores[0].steps[k].diameter if bores else wanted
        fits.append(
            (
                name,
                unnamed(signed(part, plan.unit)),
                unnamed(signed(wanted, plan.unit)),
                unnamed(signed(cut, plan.unit)),
                _clearance(cut - fit.film_in_hole - part, plan.unit),
            )
        )
    film = (
        f"film {said(finish.film, None)} a surface, holes {finish.holes}" if finish.film else "no finish film"
    )
    columns = ("Part", "Ferrule", "Wanted, bare", "Bit cuts", "Clearance")
    table = Table(columns, fits, (13, 32, 32, 32, 26), height=LEAST_LETTERING)
    return tabled(f"Ferrule fits: {in_unit(film, plan.unit)}", table)


def _reasons(plan: Plan) -> Columns:
    """How each group's numbers came about: for whoever wants to check them, in small print in two columns."""
    groups: dict[tuple[Reason, ...], list[str]] = {}
    for row in plan.features.rows():
        names = groups.setdefault(row[0].why, [])
        if row[0].group not in names:
            names.append(row[0].group)
    ferrules = plan.job.document.ferrules
    found: list[Block] = [] if ferrules is None else [_fits(plan, ferrules)]
    in_mm = "" if plan.unit == "mm" else ", worked in millimetres"
    for why, names in groups.items():
        head = words(
            f"How the {' and the '.join(names)} were worked out{in_mm}", bold=True, height=LEAST_LETTERING
        )
        # Where several sentences rest on one source, it stands behind the last of them.
        cited = [
            reason if following is None or following.source != reason.source else replace(reason, source="")
            for reason, following in zip_longest(why, why[1:])
        ]
        first, *others = (_reason(reason) for reason in cited) if cited else (words(""),)
        found += [stacked(head, first, gap=1.2), *others]
    return Columns(found, gap=6.0)


def _reason(reason: Reason) -> Block:
    source = f" [{reason.source}]" if reason.source else ""
    return small_print(f"{reason.text[0].upper()}{reason.text[1:]}.{source}")


def _findings(plan: Plan) -> Iterator[Block]:
    yield words("Findings" if plan.findings else "No findings.", bold=True)
    for finding in plan.findings:
        sentence = (
            f"{finding.message[0].upper()}{finding.message[1:]}. Cure: {finding.cure}. [{finding.source}]"
        )
        if (given := finding.override) is not None:
            sentence += f' {given.by} goes on against it, {given.at:%Y-%m-%d}: "{given.reason}".'
        yield noticed(TAGS[finding.severity], sentence)
    if lost := _unprinted(plan):
        named = ", ".join(f"U+{ord(c):04X}" for c in lost)
        yield noticed("NOTE", f"The lettering of these pages has no sign for {named}: each is printed as ?.")
    extra: dict[Machine, list[str]] = {"drill press": []}
    bores = plan.features.bores
    if any(step.diameter >= LARGE_BIT_FROM for bore in bores for step in bore.steps):
        extra["drill press"].append(LARGE_BIT)
    extra["hand drill"] = [EDGE_GUIDE]
    if any(not bore.is_upright and bore.face != "edge" for bore in bores):
        extra["drill press"].append(TILTED)
    if any(bore.face == "back" for bore in bores):
        extra["drill press"].append(PIN)
    said = [
        words(
            in_unit(
                f"{machine[0].upper()}{machine[1:]}: {' '.join((*BY_MACHINE[machine], *extra.get(machine, ())))}",
                plan.unit,
            )
        )
        for machine in dict.fromkeys(card.machine for card in plan.cards)
    ]
    if said:
        yield stacked(noticed("CAUTION", f"At the machines. {DUST}"), levelled(said))


def _unprinted(plan: Plan) -> str:
    """The characters of the job's own words that no page can print."""
    document = plan.job.document
    return unprinted(
        "".join(
            (
                document.name,
                document.revision,
                *(pocket.role for pocket in plan.features.pockets),
                *(f"{each.by}{each.reason}" for each in document.overrides),
            )
        )
    )
