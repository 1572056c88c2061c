"""Parts and bits, pilots and fits, the reasons behind the holes, findings and cautions."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from scribeline import tables
from scribeline.drawing.face import unprinted
from scribeline.drawing.marks import Kind
from scribeline.drawing.sheet import LEAST_LETTERING
from scribeline.drawing.sheets.figures import Cell, Table, signed
from scribeline.drawing.sheets.flow import (
    Block,
    Columns,
    Listing,
    beside,
    flowed,
    noticed,
    stacked,
    tabled,
    words,
)
from scribeline.drawing.sheets.holes import wood_left
from scribeline.drawing.sheets.office import Office, Page
from scribeline.features import Bit, Reason, bit_speed, ferrule_fit, hardest, pilot_rule
from scribeline.features.pilots import BENCH_SOURCE, HANDBOOK_SOURCE
from scribeline.job import Document
from scribeline.job.values import Dimension
from scribeline.lengths import trimmed
from scribeline.plan import Plan
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

_TAGS: dict[str, Kind] = {"stop": "STOP", "caution": "CAUTION", "note": "NOTE"}


def parts_pages(office: Office) -> list[Page]:
    """The parts with how well each dimension is known, then bits, pilots, fits, findings and cautions."""
    plan = office.plan
    return [
        *flowed(office, "Wood left, reasons", [*wood_left(plan), *_reasons(plan)]),
        *flowed(office, "Parts and bits", [*_parts(plan), _bits(plan)]),
        *flowed(
            office,
            "Pilots, fits, findings, cautions",
            [beside([_pilots(plan), _fits(plan)], gap=5.0), *_findings(plan)],
        ),
    ]


_ABREAST = 2
_PART_ROWS = 19
"""Rows of a table of parts that a page takes, when some of them are of two lines."""


def _parts(plan: Plan) -> Iterator[Block]:
    """Two tables side by side: where every number about a part comes from."""
    rows: list[Sequence[Cell]] = [
        (f"{part}, {key}", signed(value.mm), value.standing)
        for part, key, value in _dimensions(plan.job.document)
    ]
    lead = words(
        "The plan rests on these numbers. What is called typical nobody has measured: measure your own part, write it "
        "into the job with its ±, and plan again.",
        height=LEAST_LETTERING,
    )
    for start in range(0, len(rows), _ABREAST * _PART_ROWS):
        some = rows[start : start + _ABREAST * _PART_ROWS]
        share = -(-len(some) // _ABREAST)
        lots = [
            Table(
                ("Part, dimension", "Value", "Standing, mm"),
                lot,
                (46.5, 53.2, 28.8),
                ("start", "end", "start"),
                LEAST_LETTERING,
            )
            for lot in (some[n : n + share] for n in range(0, len(some), share))
        ]
        head = (words("Parts", bold=True), lead) if start == 0 else (words("Parts, continued", bold=True),)
        yield stacked(*head, beside([tabled("", lot) for lot in lots], gap=4.0))


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
    uses: dict[Bit, Counter[str]] = {}
    depths: dict[Bit, float] = {}
    for bore in plan.features.bores:
        for step in bore.steps:
            uses.setdefault(step.bit, Counter())[bore.role] += 1
            depths[step.bit] = max(depths.get(step.bit, 0.0), step.point_reaches)
    rows: list[Sequence[Cell]] = [
        (
            bit.name,
            "; ".join(f"{count} × {role}" for role, count in roles.items()),
            signed(bit.point),
            signed(depths[bit]),
            f"{bit_speed(bit, plan.layout).rpm} rpm",
            "in the box" if bit.owned else f"MISSING: get {bit.size}, {bit.inches}",
        )
        for bit, roles in uses.items()
    ]
    routers = [owned.diameter for owned in plan.job.document.bits.router]
    for pocket in plan.features.pockets:
        largest = 2 * pocket.corner_radius
        fits = [diameter for diameter in routers if diameter <= largest + 1e-9]
        rows.append(
            (
                f"router, to {trimmed(largest)} mm",
                f"{pocket.role}, R {trimmed(pocket.corner_radius)}",
                "",
                signed(pocket.depth),
                "",
                f"in the box: {trimmed(max(fits))} mm"
                if fits
                else "MISSING: no router bit in the box is small enough",
            )
        )
    table = Table(
        ("Bit", "For", "Its point", "Deepest reach from the face", "Turns, up to", "Standing"),
        rows,
        (45.0, 50.0, 42.0, 48.0, 30.0, 46.0),
        ("start", "start", "end", "end", "end", "start"),
    )
    return Listing(
        f"Bits. Their speeds in {hardest(plan.layout)} timber are a guide ({SPEED_SOURCE}): slower if one smokes or grabs",
        table,
    )


def _pilots(plan: Plan) -> Block:
    """What the bridge screws' pilot rests on."""
    document = plan.job.document
    screw, wood = document.bridge_screw, tables.timber(document.body.timber)
    rule = pilot_rule(thread=screw.thread.mm, root=screw.root.mm, timber=wood)
    pilots = plan.features.group("bridge screws")
    rows: list[Sequence[Cell]] = [
        (
            "Bench rule (used)",
            signed(rule.bench),
            f"root + {rule.share:.2f} × (thread − root); {BENCH_SOURCE}",
        ),
        ("Handbook lead hole", signed(rule.handbook), HANDBOOK_SOURCE),
    ]
    if pilots:
        bit = pilots[0].deepest.bit
        rows.append(("Bit taken", signed(bit.diameter), bit.name + ("" if bit.owned else ": not in the box")))
    return tabled(
        f"Pilot for the bridge screws in {wood.in_words}",
        Table(("Rule", "Diameter", "How"), rows, (30, 28, 68), height=LEAST_LETTERING),
    )


def _fits(plan: Plan) -> Block:
    """Ferrule, hole and bit."""
    document = plan.job.document
    if document.ferrules is None:
        return words("The strings end in the bridge plate: no ferrules.")
    fit, finish, ferrule = ferrule_fit(document), document.finish, document.ferrules
    bores = plan.features.group("ferrule holes")
    fits: list[Sequence[Cell]] = []
    for name, part, wanted, k in (
        ("Lip", ferrule.lip_diameter.mm, fit.lip, 0),
        ("Body", ferrule.body_diameter.mm, fit.body, 1),
    ):
        cut = bores[0].steps[k].diameter if bores else wanted
        fits.append(
            (
                name,
                signed(part),
                signed(wanted),
                signed(cut),
                f"{cut - fit.film_in_hole - part:+.2f} mm".replace("-", "−"),
            )
        )
    film = (
        f"film {trimmed(finish.film)} mm a surface, holes {finish.holes}" if finish.film else "no finish film"
    )
    columns = ("Part", "Ferrule", "Wanted in bare wood", "Bit cuts", "Clearance, finished")
    table = Table(columns, fits, (13, 32, 32, 32, 26), height=LEAST_LETTERING)
    return tabled(f"Ferrule fits: {film}", table)


def _reasons(plan: Plan) -> Iterator[Columns]:
    """How each group's numbers came about: for whoever wants to check them, in small print in two columns."""
    found: list[Block] = []
    for group in dict.fromkeys(bore.group for bore in plan.features.bores):
        bore = plan.features.group(group)[0]
        head = words(f"How the {group} came about", bold=True, height=LEAST_LETTERING)
        first, *others = (_reason(reason) for reason in bore.why) if bore.why else (words(""),)
        found += [stacked(head, first, gap=1.2), *others]
    if found:
        yield Columns(found)


def _reason(reason: Reason) -> Block:
    source = f" [{reason.source}]" if reason.source else ""
    return words(f"{reason.text[0].upper()}{reason.text[1:]}.{source}", indent=3.0, height=LEAST_LETTERING)


def _findings(plan: Plan) -> Iterator[Block]:
    yield words("Findings" if plan.findings else "No findings.", bold=True)
    for finding in plan.findings:
        sentence = (
            f"{finding.message[0].upper()}{finding.message[1:]}. Cure: {finding.cure}. [{finding.source}]"
        )
        yield noticed(_TAGS[finding.severity], sentence)
    if lost := _unprinted(plan):
        named = ", ".join(f"U+{ord(c):04X}" for c in lost)
        yield noticed("NOTE", f"The lettering of these pages has no sign for {named}: each is printed as ?.")
    extra: dict[Machine, list[str]] = {"drill press": [DUST], "router": [DUST]}
    bores = plan.features.bores
    if any(step.diameter >= LARGE_BIT_FROM for bore in bores for step in bore.steps):
        extra["drill press"].append(LARGE_BIT)
    extra["hand drill"] = [DUST, EDGE_GUIDE]
    if any(not bore.is_upright and bore.face != "edge" for bore in bores):
        extra["drill press"].append(TILTED)
    if any(bore.face == "back" for bore in bores):
        extra["drill press"].append(PIN)
    # Two columns of about one length: the drill press has most to say.
    columns: tuple[list[Block], list[Block]] = ([], [])
    for machine in dict.fromkeys(card.machine for card in plan.cards):
        sentences = (*BY_MACHINE[machine], *extra.get(machine, ()))
        said = words(f"{machine[0].upper()}{machine[1:]}: {' '.join(sentences)}")
        columns[machine not in {"bench", "drill press"}].append(said)
    if any(columns):
        warned = beside([stacked(*column) for column in columns if column])
        yield stacked(noticed("CAUTION", "At the machines"), warned)


def _unprinted(plan: Plan) -> str:
    """The characters of the job's own words that no page can print."""
    document = plan.job.document
    return unprinted(
        "".join((document.name, document.revision, *(pocket.role for pocket in plan.features.pockets)))
    )
