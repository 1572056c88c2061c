"""What to get, parts and bits, fits and findings; why each number is what it is, `explain` says."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scribeline.drawing.face import unprinted
from scribeline.drawing.sheet import LEAST_LETTERING
from scribeline.drawing.sheets.figures import Cell, Unit, joined_roles, signed, unnamed
from scribeline.drawing.sheets.flow import Block, Table, beside, flowed, listed, noticed, words
from scribeline.drawing.sheets.holes import wood_left
from scribeline.drawing.sheets.office import Office, Page
from scribeline.features import Bit, Bore, bit_speed, ferrule_fit, hardest, runs
from scribeline.findings import TAGS
from scribeline.job import Document
from scribeline.job.bridges.sprung import Sprung
from scribeline.job.document import Ferrules
from scribeline.job.values import Dimension
from scribeline.layout import (
    BoardMade,
    BridgePlace,
    Pressed,
    blank_needed,
    board_made,
    carve_of,
    nut_made,
)
from scribeline.lengths import (
    UNITS,
    by,
    by_inches,
    decimal,
    decimals,
    in_unit,
    own_unit,
    said,
    size_text,
    unit_words,
)
from scribeline.plan import Plan
from scribeline.steps import balloon
from scribeline.tables import SPEED_SOURCE


def parts_pages(office: Office) -> list[Page]:
    """What to get, the parts with how well each dimension is known, the bits with their fits; then findings and wood left."""
    plan = office.plan
    ferrules = plan.job.document.ferrules
    fits = [] if ferrules is None else [_fits(plan, ferrules)]
    blocks = [
        beside([_timber(plan), _hardware(plan)], shares=(1.0, 1.2)),
        _bits(plan),
        *fits,
        _parts(plan),
        *_findings(plan),
        *wood_left(plan),
    ]
    return flowed("What to get, parts, findings", blocks)


def _timber(plan: Plan) -> Block:
    """The blank, layer by layer: the body's length, width and thickness, without what is added to plane it."""
    layout = plan.layout
    xs, ys = [p.x for p in layout.outline], [p.y for p in layout.outline]
    rows: list[Sequence[Cell]] = []
    for layer in layout.body.layers:
        high, low = min(layer.high, layout.body.highest), max(layer.low, -layout.thickness)
        rows.append(
            (
                _layer(layer.timber.label, layer.name),
                signed(max(xs) - min(xs), plan.unit),
                signed(max(ys) - min(ys), plan.unit),
                signed(high - low, plan.unit),
            )
        )
    if (carve := carve_of(plan.job.document, layout)) is not None:
        needed = blank_needed(plan.job.document, layout, carve)
        sizes = (signed(mm, plan.unit) for mm in (needed.length, needed.width, needed.thickness))
        rows.append(((plan.neck.timber.label, f"neck, {needed.head}"), *sizes))
    table = Table(
        ("Timber", "Length", "Width", "Thickness"),
        rows,
        (1, 1, 1, 1),
        ("start", "end", "end", "end"),
        below=True,
    )
    return listed("Blank", table, "Finished sizes. Add what you saw, plane and sand away.")


def _layer(timber: str, name: str) -> Cell:
    """A layer's timber, its botanical name in small beside the layer's own."""
    common, _, botanical = timber.partition(" (")
    return common, f"({botanical} {name}".rstrip() if botanical else name


def _hardware(plan: Plan) -> Block:
    """Every bought part that the cuts are made for, with how many: screws by what is driven into each kind of hole."""
    document, bridge = plan.job.document, plan.layout.bridge
    screws: dict[tuple[float, float], list[Bore]] = {}
    for bore in plan.every_cut.bores:
        if bore.screw is not None:
            screws.setdefault((bore.screw.thread, bore.screw.length), []).append(bore)
    counted = [
        *(
            (("single saddles on their bases", len(document.strings)),)
            if document.bridge.single
            else _whole(document)
        ),
        *_held_in(bridge),
        *_of_a_vibrato(document),
        ("ferrules", len(plan.features.family("ferrule-hole"))),
        *((control.name, 1) for control in document.controls),
        ("jack", len(plan.features.family("jack"))),
        (f"ground wire, to {document.bridge.ground_at}", 1),
    ]
    rows: list[Sequence[Cell]] = [(str(number), name) for name, number in counted if number]
    rows += [
        (str(len(driven)), in_unit(_screws(thread, length, driven), plan.unit))
        for (thread, length), driven in screws.items()
    ]
    rows += [("1", in_unit(what, plan.unit)) for what in _for_the_neck(plan)]
    rows += [(str(number), in_unit(words, plan.unit)) for words, number in _inserted(plan)]
    rows += [
        ("1", f"string {string.no} ({string.note}), {_gauge(string.gauge, plan.unit)}")
        for string in plan.layout.strings
    ]
    return listed("Hardware and strings", Table(("How many", "What"), rows, (1, 5), ("end", "start")))


def _for_the_neck(plan: Plan) -> Iterator[str]:
    """What is bought for a fingerboard and a nut that are made here."""
    document, layout = plan.job.document, plan.layout
    board, nut = board_made(document, layout), nut_made(document, layout)
    if board is not None:
        yield f"fret wire, {said(board.wire, 0)} for {len(board.slots)} frets{_in_sticks(plan, board)}"
        if board.binding:
            yield f"binding {said(board.binding)} wide, {said(board.binding_length, 0)}"
    if nut is not None:
        yield f"nut blank, {by(nut.blank_length, nut.blank_thickness, nut.height)} or more"


def _in_sticks(plan: Plan, board: BoardMade) -> str:
    """How many sticks that is."""
    if board.sticks is None:
        return ""
    return f": {board.sticks} sticks of {said(plan.job.document.fret_wire.stick or 0.0, None)} or more"


def _whole(document: Document) -> tuple[tuple[str, int], ...]:
    """A bridge of one piece."""
    return (("bridge", 1), ("saddles, one a string", len(document.strings)))


def _held_in(bridge: BridgePlace | None) -> Iterator[tuple[str, int]]:
    """What is pressed in for a bridge, and what stands behind it on studs of its own."""
    if bridge is None:
        return
    behind = sum(isinstance(each.part, Pressed) for row in bridge.further for each in row.anchors)
    yield "bushings with their studs" if not behind else "bushings with their posts", bridge.pressed - behind
    for row in bridge.further:
        yield f"bushings with their {row.row}s", behind
        yield row.row.rpartition(" ")[0], 1


def _of_a_vibrato(document: Document) -> Iterator[tuple[str, int]]:
    """What pulls against the strings of a vibrato."""
    if isinstance(document.bridge, Sprung):
        yield "springs", document.bridge.springs
        yield "claw for them", 1


def _inserted(plan: Plan) -> Iterator[tuple[str, int]]:
    """What holds a neck with inserts in its heel."""
    inserts = plan.job.document.neck_inserts
    if inserts is None:
        return
    for family, what in (
        (
            "heel-pilot",
            f"inserts, {said(inserts.thread.mm, None)} over the thread, {said(inserts.length.mm, None)} long",
        ),
        (
            "neck-screw",
            f"machine screws, thread {said(inserts.screw.mm, None)}, length {said(inserts.screw_length.mm, None)}",
        ),
    ):
        holes = [bore for bore in plan.every_cut.bores if bore.family == family]
        yield (
            f"{what}, for {', '.join(runs(each) for each in _by_letter([balloon(b.id) for b in holes]))}",
            len(holes),
        )


def _screws(thread: float, length: float, driven: Sequence[Bore]) -> str:
    """Screws of one size, and the holes they are for."""
    numbers = ", ".join(runs(each) for each in _by_letter([balloon(bore.id) for bore in driven]))
    return f"screw{'' if len(driven) == 1 else 's'}, thread {said(thread, None)}, length {said(length, None)}, for {numbers}"


def _gauge(mm: float, unit: Unit) -> str:
    """A string's gauge in both units, the job's first."""
    return "{} ({})".format(*decimals(mm, unit))


def _parts(plan: Plan) -> Block:
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
    return listed("Parts", table, lead, small=True, abreast=2)


def _known(value: Dimension, unit: Unit) -> str:
    if not value.measured:
        return "typical"
    own = UNITS[unit].of(value.plus_minus)
    return f"±{decimal(own, 4) if by_inches(unit) else f'{own:g}'}"


def _both(plan: Plan) -> str:
    return " and ".join(unit_words(plan.unit))


def _dimensions(document: Document) -> Iterator[tuple[str, str, Dimension]]:
    """Every dimension stated or taken from the parts book: part, name, value."""
    for part, holder in (
        ("body", document.body),
        ("neck", document.neck),
        ("neck blank", document.neck_blank),
        ("bridge", document.bridge),
        ("bridge screw", document.bridge_screw),
        ("ferrules", document.ferrules),
        *(() if document.neck_screws is None else (("neck screws", document.neck_screws),)),
        *(() if document.neck_inserts is None else (("neck inserts", document.neck_inserts),)),
        *((control.name, control) for control in document.controls),
        *((hole.name, hole.screw) for hole in document.holes if hole.screw is not None),
        *((f"{p.name} cover", p.cover_screws) for p in document.pockets if p.cover_screws is not None),
    ):
        for key in () if holder is None else type(holder).model_fields:
            value = getattr(holder, key)
            if isinstance(value, Dimension):
                yield part, key.replace("_", " "), value


def _bits(plan: Plan) -> Block:
    uses: dict[Bit, list[str]] = {}
    depths: dict[Bit, float] = {}
    for bore in plan.every_cut.bores:
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
        alike.setdefault((pocket.corner_radius, max(pocket.depths)), []).append(pocket.role)
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
    return listed(
        f"Bits. Their speeds in {hardest(plan.layout)} timber are a guide ({SPEED_SOURCE}): slower if one smokes or grabs",
        table,
    )


def _missing(bit: Bit, plan: Plan) -> str:
    return in_unit(bit.size_in_words, plan.unit) if by_inches(plan.unit) else f"{bit.size}, {bit.inches}"


def _by_letter(numbers: Sequence[str]) -> list[list[str]]:
    """The numbers of each group of holes together."""
    found: dict[str, list[str]] = {}
    for number in dict.fromkeys(numbers):
        found.setdefault(number.rstrip("0123456789"), []).append(number)
    return list(found.values())


def _clearance(mm: float, unit: Unit) -> str:
    """What a hole is wider than what goes in, with its sign."""
    own, metric = f"{'+' if mm >= 0 else ''}{own_unit(mm, unit)}", f"{mm:+.2f} mm"
    return (f"{own} ({metric})" if by_inches(unit) else own).replace("-", "−")


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
    return listed(f"Ferrule fits: {in_unit(film, plan.unit)}", table)


def _findings(plan: Plan) -> Iterator[Block]:
    yield words("Findings" if plan.findings else "No findings.", bold=True)
    for finding in plan.findings:
        sentence = (
            f"{finding.message[0].upper()}{finding.message[1:]}. Fix: {finding.cure}. [{finding.source}]"
        )
        if (given := finding.override) is not None:
            sentence += f' {given.by} goes on against it, {given.at:%Y-%m-%d}: "{given.reason}".'
        yield noticed(TAGS[finding.severity], sentence)
    if lost := _unprinted(plan):
        named = ", ".join(f"U+{ord(c):04X}" for c in lost)
        yield noticed("NOTE", f"The lettering of these pages has no sign for {named}: each is printed as ?.")


def _unprinted(plan: Plan) -> str:
    """The characters of the job's own words that no page can print."""
    document = plan.job.document
    return unprinted(
        "".join(
            (
                document.name,
                document.revision,
                *(pocket.role for pocket in plan.features.pockets),
                *(f"{each.by}{each.reason}" for each in plan.record.overrides),
            )
        )
    )
