"""The sheets that are read rather than looked at: holes, webs, parts, bits, fits, findings, cautions."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence

from scribeline import tables
from scribeline.drawing.marks import Kind, Piece, notice, paragraph
from scribeline.drawing.pages import (
    Cell,
    Figure,
    Office,
    Page,
    across,
    bare,
    figures,
    heading,
    listing,
    parted,
    signed,
    stepped_names,
)
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    LEAST_LETTERING,
    Item,
    Point,
)
from scribeline.features import Bit, Bore, Pocket, Reason, ferrule_fit, pilot_rule
from scribeline.features.pilots import BENCH_SOURCE, HANDBOOK_SOURCE
from scribeline.job import Document
from scribeline.job.values import Dimension
from scribeline.plan import Plan
from scribeline.steps import balloon
from scribeline.steps.cautions import BY_MACHINE, DUST, LARGE_BIT, LARGE_BIT_FROM, PIN, TILTED, Machine

Block = Callable[[Point, float], Piece]
"""Makes a piece that hangs from a corner, so wide."""


def hole_pages(office: Office) -> list[Page]:
    """Every hole in drilling order with its numbers, then what wood is left."""
    return [*_hole_list(office), *_left_pages(office)]


def drilling_order(plan: Plan) -> list[Bore]:
    """The bores in the order in which the cards cut them; those on no card last."""
    rank: dict[str, int] = {}
    for card in plan.cards:
        for feature in card.features:
            rank.setdefault(feature, len(rank))
    return sorted(plan.features.bores, key=lambda bore: rank.get(bore.id, len(rank)))


def _hole_list(office: Office) -> list[Page]:
    plan = office.plan
    layout = plan.layout
    rows: list[Sequence[Cell]] = []
    for n, bore in enumerate(drilling_order(plan), start=1):
        for k, step in enumerate(bore.steps):
            first = k == 0
            rows.append(
                (
                    str(n) if first else "",
                    balloon(bore.id) if first else "",
                    _hole_name(bore) if first else ("then", "on the same axis"),
                    (step.bit.size, step.bit.kind + ("" if step.bit.owned else ": get one")),
                    signed(step.depth),
                    signed(step.point_reaches),
                    signed(bore.at.x - layout.twelfth) if first else "",
                    signed(bore.at.x - layout.pocket_end) if first else "",
                    bare(across(bore.at.y * layout.treble)) if first else "",
                )
            )
    if not rows:
        return []
    columns = (
        "#",
        "No.",
        "Hole",
        "Bit",
        "Depth at full diameter",
        "Stop: point reaches",
        "x from 12th crown",
        "x from pocket end",
        "y from centreline, mm",
    )
    lead = (
        "In drilling order. x runs from the datum towards the tail, y from the centreline. Depths are along "
        "the bit from its own face; "
        "the stop is zeroed with the bit's point touching the wood."
    )
    return listing(
        office,
        "Hole list",
        columns,
        rows,
        (9.5, 9.5, 34, 26, 33, 34, 36.8, 36.8, 33.4),
        anchors=("end", "start", "start", "start", "end", "end", "end", "end", "end"),
        lead=lead,
    )


def _hole_name(bore: Bore) -> Figure:
    """What the hole is, and smaller which face it is cut from."""
    kind = "pilot, " if bore.role.endswith(" pilot") else ""
    return bore.role.removesuffix(" pilot"), f"{kind}from the {bore.face}"


def name_of(plan: Plan, feature: str) -> str:
    """A cut's name on the sheets: number and role of a hole, role of a pocket."""
    for cut in plan.features:
        if cut.id == feature:
            return cut.role if isinstance(cut, Pocket) else f"{balloon(cut.id)} {cut.role}"
    return feature


def _left_pages(office: Office) -> list[Page]:
    plan = office.plan
    left, bottom, right, top = office.window
    webs: list[Sequence[Cell]] = [
        (name_of(plan, web.a), name_of(plan, web.b), signed(web.mm))
        for web in plan.webs
        if not web.on_purpose
    ]
    floors = _floor_rows(plan)
    gap = 8.0
    half = (right - left - gap) / 2
    web_widths, floor_widths = (
        (half * 0.36, half * 0.36, half * 0.28),
        (half * 0.38, half * 0.31, half * 0.31),
    )
    y = top - 8.0
    web_columns = ("Between", "and", "Wood left")
    floor_columns = ("Cut", "Floor left under it", "Wood to the body's edge")
    shown = parted(web_columns, webs, web_widths, y - bottom)[0]
    items: list[Item] = []
    if shown:
        items.append(heading("Smallest webs between cuts", (left, top - ACTED_ON_LETTERING)))
        items += figures(web_columns, shown, (left, y), web_widths, anchors=("start", "start", "end")).items
    pages = []
    for lot in parted(floor_columns, floors, floor_widths, y - bottom):
        x = left + half + gap
        items.append(heading("Floors and edges, the least of each group", (x, top - ACTED_ON_LETTERING)))
        items += figures(floor_columns, lot, (x, y), floor_widths, anchors=("start", "end", "end")).items
        pages.append(Page("Wood left", tuple(items)))
        items = []
    return pages


def _floor_rows(plan: Plan) -> list[Sequence[Cell]]:
    groups: dict[str, list[str]] = {}
    for cut in plan.features:
        groups.setdefault(cut.group if isinstance(cut, Bore) else cut.id, []).append(cut.id)
    found = {outside.feature: outside for outside in plan.outside}
    through = {bore.id for bore in plan.features.bores if bore.through}
    rows: list[Sequence[Cell]] = []
    for ids in groups.values():
        known = [found[name] for name in ids if name in found]
        if not known:
            continue
        floor = min(outside.to_opposite for outside in known)
        edge = min(outside.to_edge for outside in known)
        rows.append(
            (
                stepped_names([balloon(name) for name in ids], name_of(plan, ids[0])),
                "through" if set(ids) <= through else signed(floor),
                signed(edge) if edge >= 0 else "open at the edge",
            )
        )
    return rows


def parts_pages(office: Office) -> list[Page]:
    """The parts with how well each dimension is known, then bits, pilots, fits, findings and cautions."""
    document = office.plan.job.document
    rows: list[Sequence[Cell]] = []
    for part, key, value in _dimensions(document):
        rows.append((part, key, signed(value.mm), f"±{value.plus_minus:g} mm", value.standing))
    lead = (
        "The plan rests on these numbers. What is called typical nobody has measured: measure "
        "your own part, write it into the job with its ±, and plan again."
    )
    listed = listing(
        office,
        "Parts",
        ("Part", "Dimension", "Value", "Known to", "Standing"),
        rows,
        (34, 62, 40, 26, 60),
        anchors=("start", "start", "end", "end", "start"),
        lead=lead,
    )
    return [
        *listed,
        *_bit_pages(office),
        *flowed(office, "Pilots, fits and how", _fit_blocks(office.plan)),
        *flowed(office, "Findings and cautions", _finding_blocks(office.plan)),
    ]


def _dimensions(document: Document) -> Iterator[tuple[str, str, Dimension]]:
    """Every dimension stated or taken from the parts book: part, name, value."""
    for part, holder in (
        ("body", document.body),
        ("neck", document.neck),
        ("bridge", document.bridge),
        ("bridge screw", document.bridge_screw),
        ("ferrules", document.ferrules),
    ):
        for key in type(holder).model_fields:
            value = getattr(holder, key)
            if isinstance(value, Dimension):
                yield part, key.replace("_", " "), value


def _bit_pages(office: Office) -> list[Page]:
    plan = office.plan
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
            "in the box" if bit.owned else f"MISSING: get {bit.size}, {bit.nearest_inch}",
        )
        for bit, roles in uses.items()
    ]
    routers = [owned.diameter for owned in plan.job.document.bits.router]
    for pocket in plan.features.pockets:
        largest = 2 * pocket.corner_radius
        fits = [diameter for diameter in routers if diameter <= largest + 1e-9]
        rows.append(
            (
                f"router bit, {largest:g} mm or less",
                f"{pocket.role} (corners R {pocket.corner_radius:g})",
                "",
                signed(pocket.depth),
                f"in the box: {max(fits):g} mm"
                if fits
                else "MISSING: no router bit in the box is small enough",
            )
        )
    return listing(
        office,
        "Bits",
        ("Bit", "For", "Its point", "Deepest reach from the face", "Standing"),
        rows,
        (48, 66, 34, 40, 58),
        anchors=("start", "start", "end", "end", "start"),
    )


def _fit_blocks(plan: Plan) -> Iterator[Block]:
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
    yield headed(
        f"Pilot for the bridge screws in {wood.label}", ("Rule", "Diameter", "How"), rows, (46, 40, 150)
    )
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
    film = f"film {finish.film:g} mm a surface, holes {finish.holes}" if finish.film else "no finish film"
    yield headed(
        f"Ferrule fits: {film}",
        ("Of the ferrule", "Ferrule", "Hole wanted in bare wood", "Bit cuts", "Clearance when finished"),
        fits,
        (36, 44, 52, 44, 60),
    )
    for group in dict.fromkeys(bore.group for bore in plan.features.bores):
        bore = plan.features.group(group)[0]
        first, *rest = (_reason(reason) for reason in bore.why)
        yield stacked(words(f"How the {group} came about", bold=True), first)
        yield from rest


def _finding_blocks(plan: Plan) -> Iterator[Block]:
    yield words("Findings" if plan.findings else "No findings.", bold=True)
    for finding in plan.findings:
        sentence = (
            f"{finding.message[0].upper()}{finding.message[1:]}. Cure: {finding.cure}. [{finding.source}]"
        )
        yield noticed(_TAGS[finding.severity], sentence)
    yield words("At the machines", bold=True)
    extra: dict[Machine, list[str]] = {"drill press": [DUST], "router": [DUST]}
    bores = plan.features.bores
    if any(step.diameter >= LARGE_BIT_FROM for bore in bores for step in bore.steps):
        extra["drill press"].append(LARGE_BIT)
    if any(not bore.is_upright for bore in bores):
        extra["drill press"].append(TILTED)
    if any(bore.face == "back" for bore in bores):
        extra["drill press"].append(PIN)
    machines = dict.fromkeys(card.machine for card in plan.cards)
    for machine in machines:
        sentences = (*BY_MACHINE[machine], *extra.get(machine, ()))
        yield noticed("CAUTION", f"{machine[0].upper()}{machine[1:]}: {' '.join(sentences)}")


def _reason(reason: Reason) -> Block:
    source = f" [{reason.source}]" if reason.source else ""
    return words(f"{reason.text[0].upper()}{reason.text[1:]}.{source}", indent=4.0)


def stacked(*blocks: Block) -> Block:
    """Blocks that stay together on a page."""

    def made(at: Point, width: float) -> Piece:
        items: list[Item] = []
        y = at[1]
        for block in blocks:
            piece = block((at[0], y), width)
            items += piece.items
            y -= piece.height + LEAST_LETTERING
        return Piece(tuple(items), width, at[1] - y - LEAST_LETTERING)

    return made


def words(text: str, *, bold: bool = False, indent: float = 0.0) -> Block:
    """A paragraph."""
    return lambda at, width: paragraph(text, (at[0] + indent, at[1]), width - indent, bold=bold)


_TAGS: dict[str, Kind] = {"stop": "STOP", "caution": "CAUTION", "note": "NOTE"}


def noticed(kind: Kind, sentence: str) -> Block:
    """A sentence behind its tag."""
    return lambda at, width: notice(kind, sentence, at, width)


def headed(
    title: str, columns: Sequence[str], rows: Sequence[Sequence[Cell]], widths: Sequence[float]
) -> Block:
    """A table under its heading; the widths are shares of the room."""

    def made(at: Point, width: float) -> Piece:
        spread = [w * width / sum(widths) for w in widths]
        head = heading(title, (at[0], at[1] - ACTED_ON_LETTERING))
        body = figures(columns, rows, (at[0], at[1] - ACTED_ON_LETTERING - 2.5), spread)
        return Piece((head, *body.items), width, body.height + ACTED_ON_LETTERING + 2.5)

    return made


def flowed(office: Office, title: str, blocks: Iterator[Block]) -> list[Page]:
    """Pieces one under the other, on as many pages as they need."""
    left, bottom, right, top = office.window
    pages: list[list[Item]] = [[]]
    y = top
    for block in blocks:
        piece = block((left, y), right - left)
        if y - piece.height < bottom and pages[-1]:
            pages.append([])
            y = top
            piece = block((left, y), right - left)
        pages[-1] += piece.items
        y -= piece.height + LEAST_LETTERING
    return [Page(title, tuple(items)) for items in pages if items]
