"""Step cards: each one setting of one machine, in an order derived from what depends on what."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from scribeline.features import Bit, Bore, Features, Pocket, angle_from_face_deg, ferrule_fit
from scribeline.job import Document
from scribeline.layout import NECK_POCKET, Layout, Measurable, diagonals, twelfth_readings
from scribeline.steps.cautions import (
    BY_MACHINE,
    DUST,
    LARGE_BIT,
    LARGE_BIT_FROM,
    PIN,
    TILTED,
    Machine,
)
from scribeline.steps.ordering import Need, in_order


@dataclass(frozen=True, slots=True)
class Place:
    """Where one hole is, from edges that can be touched, mm.

    Attributes:
        feature: id of the cut.
        number: the number on the drawings' balloons.
        from_twelfth: from the 12th crown towards the tail.
        from_pocket_end: from the neck pocket's end wall towards the tail.
        to_treble: from the centreline towards the treble side; negative towards the bass.
    """

    feature: str
    number: str
    from_twelfth: float
    from_pocket_end: float
    to_treble: float


@dataclass(frozen=True, slots=True)
class Gate:
    """What must be measured before going on.

    Attributes:
        ask: what to measure and what it should be, in bench words.
        value: expected reading, mm; None where the answer is yes or no.
        low: least acceptable reading, mm.
        high: greatest acceptable reading, mm.
        measurable: id of the layout's measurable, where it is one.
    """

    ask: str
    value: float | None = None
    low: float | None = None
    high: float | None = None
    measurable: str = ""


@dataclass(frozen=True, slots=True)
class Card:
    """One step: one machine, one setting, one group of holes.

    Attributes:
        id: stable name.
        title: what is done.
        machine: which machine's cautions apply.
        face: the face that lies up; "" where it does not matter.
        features: ids of what is cut.
        bit: the bit, where one is used.
        depth: full-diameter depth from the face, mm.
        point_reaches: where the bit's point ends, mm from the face along the axis: the stop's setting when it is
            zeroed with the point touching the wood.
        places: where the holes are.
        do: what to do, in order.
        gate: what to measure before going on.
        cautions: what can hurt.
        after: what must be done before, and why.
        no: place in the order, from 1.
    """

    id: str
    title: str
    machine: Machine
    face: str = ""
    features: tuple[str, ...] = ()
    bit: Bit | None = None
    depth: float | None = None
    point_reaches: float | None = None
    places: tuple[Place, ...] = ()
    do: tuple[str, ...] = ()
    gate: Gate | None = None
    cautions: tuple[str, ...] = ()
    after: tuple[Need, ...] = ()
    no: int = 0


@dataclass(frozen=True, slots=True)
class _Bench:
    """What the card makers look at."""

    document: Document
    layout: Layout
    features: Features
    measurables: dict[str, Measurable] = field(default_factory=dict)

    def gate(self, name: str) -> Gate:
        """A gate on one of the layout's measurables."""
        m = self.measurables[name]
        return Gate(f"{m.how}: {m.value:.2f} mm ({m.low:.2f} to {m.high:.2f})", m.value, m.low, m.high, m.id)

    def places(self, bores: tuple[Bore, ...]) -> tuple[Place, ...]:
        """Where the bores of a card are."""
        return tuple(
            Place(
                feature=bore.id,
                number=balloon(bore.id),
                from_twelfth=bore.at.x - self.layout.twelfth,
                from_pocket_end=bore.at.x - self.layout.pocket_end,
                to_treble=bore.at.y * self.layout.treble,
            )
            for bore in bores
        )


_BALLOON = {"bridge-screw": "B", "string-hole": "S", "ferrule-hole": "F", "ground-wire": "G"}


def balloon(feature_id: str) -> str:
    """The short number a hole carries on drawings and cards: S1 to S6 for the string holes, B1… for the screws."""
    stem, _, number = feature_id.rpartition("-")
    return f"{_BALLOON[stem]}{number}" if stem in _BALLOON else _BALLOON.get(feature_id, feature_id)


def make_cards(
    document: Document, layout: Layout, features: Features, measurables: tuple[Measurable, ...]
) -> tuple[Card, ...]:
    """The step cards, numbered in an order that meets every need."""
    bench = _Bench(document, layout, features, {m.id: m for m in measurables})
    cards = {card.id: card for card in _cards(bench)}
    needs = tuple(need for need in _needs(bench, cards) if need.first in cards and need.then in cards)
    order = in_order([(card.id, card.face) for card in cards.values()], needs)
    return tuple(
        replace(cards[name], no=number, after=tuple(need for need in needs if need.then == name))
        for number, name in enumerate(order, start=1)
    )


def _cards(bench: _Bench) -> Iterator[Card]:
    yield from _datum_cards(bench)
    yield from _rout_cards(bench)
    if bench.layout.plate is not None:
        yield from _plate_cards(bench)
        yield from _string_cards(bench)
        yield from _ground_card(bench)
    yield from _finish_cards(bench)


def _datum_cards(bench: _Bench) -> Iterator[Card]:
    yield Card(
        id="check-neck",
        title="Check the scale on the real neck",
        machine="bench",
        do=(
            "Measure on the finished neck, not on the drawing.",
            "If it reads outside the limits, correct scale.length in the job and plan again before cutting.",
        ),
        gate=bench.gate("nut-to-12th"),
        cautions=BY_MACHINE["bench"],
    )
    yield Card(
        id="check-body",
        title="Check the blank's thickness",
        machine="bench",
        do=(
            "Measure in four places round the bridge; note the least.",
            "If it reads outside the limits, put the reading in the job and plan again: every depth follows it.",
        ),
        gate=bench.gate("body-thickness"),
        cautions=BY_MACHINE["bench"],
    )
    if bench.features.bores:
        depth = bench.document.body.thickness.mm
        yield Card(
            id="check-press",
            title="Check that the press table is square",
            machine="drill press",
            do=(
                "Chuck a bent wire so that its tip sweeps a circle of 100 mm radius just above the table.",
                "Read the gap at the front, back, left and right; shim the table until they agree.",
            ),
            gate=Gate(
                f"greatest difference across the 200 mm sweep: {200 * 0.15 / depth:.2f} mm or less (0.15 mm over {depth:.1f} mm)",
                value=0.0,
                low=0.0,
                high=200 * 0.15 / depth,
            ),
            cautions=("Unplug the press while you set the wire.", *BY_MACHINE["drill press"]),
        )


def _rout_cards(bench: _Bench) -> Iterator[Card]:
    for pocket in bench.features.pockets:
        neck = pocket.role == NECK_POCKET
        middle = _middle([p.x for p in pocket.outline])
        corners = (
            f"Corner radius {pocket.corner_radius:g} mm: use a router bit of {2 * pocket.corner_radius:g} mm or less."
            if pocket.corner_radius
            else "Square corners: rout what the bit reaches and chop the corners with a chisel."
        )
        do = [
            "Fix the template on its centreline: print it full size and check the measuring bars first.",
            corners,
            f"Rout in passes to {pocket.depth:.2f} mm from the {pocket.face}.",
        ]
        if neck:
            do.append("Creep up on the width: the heel should slide in by hand with no play at the end wall.")
        gate = Gate(
            f"depth gauge on the {pocket.face}: {pocket.depth:.2f} mm (±0.25)",
            pocket.depth,
            pocket.depth - 0.25,
            pocket.depth + 0.25,
        )
        yield Card(
            id=f"rout-{pocket.id}",
            title=f"Rout the {pocket.role}",
            machine="router",
            face=pocket.face,
            features=(pocket.id,),
            depth=pocket.depth,
            places=(
                Place(
                    pocket.id,
                    pocket.role,
                    middle - bench.layout.twelfth,
                    middle - bench.layout.pocket_end,
                    _middle([p.y for p in pocket.outline]) * bench.layout.treble,
                ),
            ),
            do=tuple(do),
            gate=gate,
            cautions=(*BY_MACHINE["router"], DUST),
        )
    yield Card(
        id="fit-neck",
        title="Fit the neck and prove its line",
        machine="bench",
        do=(
            "Seat the heel against the end wall and clamp or screw it; it must not move from here on.",
            "Stretch a thread from each outer nut slot to where its saddle will stand.",
            f"Both margins at fret {len(bench.layout.frets)} should agree within 0.25 mm.",
        ),
        gate=bench.gate("margin-treble"),
        cautions=BY_MACHINE["bench"],
    )


def _middle(places: list[float]) -> float:
    """Half-way between the extremes, which a rule can find."""
    return (min(places) + max(places)) / 2


def _plate_cards(bench: _Bench) -> Iterator[Card]:
    layout, document = bench.layout, bench.document
    pair = diagonals(layout)
    assert pair is not None
    marks = "; ".join(
        f"{reading.mark} {reading.to_plate:.2f}"
        for reading in twelfth_readings(document, layout)
        if reading.to_plate is not None
    )
    yield Card(
        id="set-plate",
        title="Set the bridge plate and prove it",
        machine="bench",
        face="top",
        do=(
            f"Tape the plate with its front edge {layout.front_edge - layout.pocket_end:.2f} mm from the pocket's end wall.",
            f"From the 12th fret to the front edge (mm): {marks}.",
            f"Both diagonals, board corner at the 12th crown to the plate's far front corner: {pair[0]:.2f} mm.",
            "Thread the two outer strings and look at both margins again. Measure twice, then prick the holes.",
        ),
        gate=bench.gate("12th-to-plate"),
        cautions=BY_MACHINE["bench"],
    )
    screws = bench.features.group("bridge screws")
    step = screws[0].deepest
    yield Card(
        id="scrap-screw",
        title="Scrap test: one bridge screw",
        machine="drill press",
        features=(),
        bit=step.bit,
        depth=step.depth,
        point_reaches=step.point_reaches,
        do=(
            f"In scrap of the same timber drill {step.depth:.1f} mm deep with {step.bit.name}.",
            "Drive a waxed screw by hand: it should go home firmly, and the scrap must not split.",
        ),
        gate=Gate("the screw went home by hand and nothing cracked"),
        cautions=(*BY_MACHINE["drill press"], DUST),
    )
    yield Card(
        id="drill-bridge-screws",
        title="Drill the bridge-screw pilots",
        machine="drill press",
        face="top",
        features=tuple(bore.id for bore in screws),
        bit=step.bit,
        depth=step.depth,
        point_reaches=step.point_reaches,
        places=bench.places(screws),
        do=("Start each hole in its prick mark.", "Drill all of them with one setting of the stop."),
        gate=Gate(
            f"depth of the first hole at full diameter: {step.depth:.2f} mm (±0.5)",
            step.depth,
            step.depth - 0.5,
            step.depth + 0.5,
        ),
        cautions=(*BY_MACHINE["drill press"], DUST),
    )
    yield Card(
        id="fix-plate",
        title="Screw the plate down with two screws",
        machine="bench",
        face="top",
        do=("Two screws are enough: the plate is now the guide for the string holes.",),
        gate=bench.gate("pocket-end-to-plate"),
        cautions=BY_MACHINE["bench"],
    )


def _string_cards(bench: _Bench) -> Iterator[Card]:
    top, back = bench.features.group("string holes"), bench.features.group("ferrule holes")
    hole, (lip, body) = top[0].deepest, back[0].steps
    fit, thickness = ferrule_fit(bench.document), bench.document.body.thickness.mm
    overlap = hole.depth + fit.depth - thickness
    yield Card(
        id="scrap-two-sided",
        title="Scrap test: one hole from both faces",
        machine="drill press",
        bit=hole.bit,
        depth=hole.depth,
        point_reaches=hole.point_reaches,
        do=(
            f"In scrap {thickness:.1f} mm thick drill {hole.depth:.1f} mm from the top, flip it onto a "
            f"{hole.bit.diameter:.2f} mm pin under the spindle, counterbore and bore from the back.",
            "Push a ferrule in and pass a string.",
        ),
        gate=Gate(
            f"the two bores meet ({overlap:.2f} mm overlap) with no step over 0.15 mm; the ferrule fits",
            0.0,
            0.0,
            0.15,
        ),
        cautions=(*BY_MACHINE["drill press"], PIN),
    )
    yield Card(
        id="drill-string-holes",
        title="Drill the string holes through the plate, part-way",
        machine="drill press",
        face="top",
        features=tuple(bore.id for bore in top),
        bit=hole.bit,
        depth=hole.depth,
        point_reaches=hole.point_reaches,
        places=bench.places(top),
        do=(
            "The plate guides the bit. Outer two first, straightedge across, then the inner ones.",
            f"Stop part-way: {thickness - hole.point_reaches:.1f} mm is left under the point.",
        ),
        gate=Gate(
            f"depth at full diameter: {hole.depth:.2f} mm (±0.5)",
            hole.depth,
            hole.depth - 0.5,
            hole.depth + 0.5,
        ),
        cautions=(*BY_MACHINE["drill press"], DUST),
    )
    ids, places = tuple(bore.id for bore in back), bench.places(back)
    pin = f"Turn the body over about its long axis; stand each string hole on a {hole.bit.diameter:.2f} mm pin under the spindle."
    large = (LARGE_BIT,) if lip.diameter >= LARGE_BIT_FROM else ()
    yield Card(
        id="counterbore-ferrules",
        title="Counterbore for the ferrule lips",
        machine="drill press",
        face="back",
        features=ids,
        bit=lip.bit,
        depth=lip.depth,
        point_reaches=lip.point_reaches,
        places=places,
        do=(pin, "Check with the spindle at rest that the point comes down on the pin's middle."),
        gate=Gate(
            f"a ferrule's lip in the first counterbore, depth {lip.depth:.2f} mm (±0.1)",
            lip.depth,
            lip.depth - 0.1,
            lip.depth + 0.1,
        ),
        cautions=(*BY_MACHINE["drill press"], *large, PIN, DUST),
    )
    yield Card(
        id="bore-ferrules",
        title="Bore for the ferrule bodies",
        machine="drill press",
        face="back",
        features=ids,
        bit=body.bit,
        depth=body.depth,
        point_reaches=body.point_reaches,
        places=places,
        do=(
            "Same pin, same order. The bit breaks into the string hole: ease the feed as it comes near.",
            f"The bores overlap by {overlap:.2f} mm.",
        ),
        gate=Gate(
            f"depth from the back: {body.depth:.2f} mm (−0.5 / +1.0); the row straight within 0.15 mm",
            body.depth,
            body.depth - 0.5,
            body.depth + 1.0,
        ),
        cautions=(*BY_MACHINE["drill press"], PIN, DUST),
    )
    yield Card(
        id="try-strings",
        title="Clear the holes and try a string in each",
        machine="bench",
        face="back",
        do=("Blow or brush the chips out, ease the edges, pass the thickest string through every hole.",),
        gate=Gate("every string passes freely"),
        cautions=("Eye protection when you blow chips out.",),
    )


def _ground_card(bench: _Bench) -> Iterator[Card]:
    for bore in bench.features.group("ground wire"):
        step, angle = bore.deepest, angle_from_face_deg(bore)
        (into,) = (pocket for pocket in bench.features.pockets if pocket.id in bore.meets)
        yield Card(
            id="drill-ground-wire",
            title="Drill the ground-wire hole at its angle",
            machine="drill press",
            face="top",
            features=(bore.id,),
            bit=step.bit,
            depth=step.depth,
            point_reaches=step.point_reaches,
            places=bench.places((bore,)),
            do=(
                "Take the plate off; its screw holes keep its place.",
                f"Angle block: {angle:.1f}° from the face ({90 - angle:.1f}° from upright), leaning towards the {into.role}.",
                f"Mark the bit at {step.point_reaches:.1f} mm from its point; drill along the axis to the mark.",
                *(reason.text[0].upper() + reason.text[1:] + "." for reason in bore.why[1:]),
            ),
            gate=Gate(f"the hole opens in the wall of the {into.role}, not in its floor"),
            cautions=(*BY_MACHINE["drill press"], TILTED, DUST),
        )


def _finish_cards(bench: _Bench) -> Iterator[Card]:
    finish = bench.document.finish
    has_ferrules = bool(bench.features.group("ferrule holes"))
    if finish.film:
        masked, ferrules = finish.holes == "masked", bench.document.ferrules
        # A sprayed hole was cut wider by the film; its own bit would take that film away again.
        bits = (
            "the same bits"
            if masked
            else f"bits of {ferrules.lip_diameter.mm:.2f} and {ferrules.body_diameter.mm:.2f} mm, not the ones it was cut with,"
        )
        yield Card(
            id="finish",
            title="Finish",
            machine="finish",
            do=(
                "Every cut in the wood is done before this.",
                "Plug or tape the ferrule holes and the neck pocket."
                if masked
                else "Holes are sprayed: they come out narrower.",
                f"The plan allows for a film of {finish.film:g} mm on a surface.",
            ),
            gate=Gate("the film has cured as its maker's sheet says"),
            cautions=BY_MACHINE["finish"],
        )
        if has_ferrules:
            yield Card(
                id="chase",
                title="Chase the holes after the finish",
                machine="bench",
                face="back",
                features=tuple(bore.id for bore in bench.features.group("ferrule holes")),
                do=(
                    f"Score each edge, then turn {bits} in by hand; never under power through cured finish.",
                    f"The lip's hole should measure {ferrules.lip_diameter.mm:.2f} mm.",
                ),
                gate=Gate(
                    "a ferrule goes in with thumb pressure and a light tap, and the finish does not lift"
                ),
                cautions=BY_MACHINE["bench"],
            )
    if has_ferrules:
        yield Card(
            id="fit-hardware",
            title="Press the ferrules, screw the plate down",
            machine="bench",
            do=(
                "Press the ferrules with a clamp and a block, not a hammer on the finish.",
                "Pass the ground wire under the plate and check continuity with a meter.",
            )
            if bench.features.group("ground wire")
            else ("Press the ferrules with a clamp and a block, not a hammer on the finish.",),
            gate=bench.gate("12th-to-plate"),
            cautions=BY_MACHINE["bench"],
        )


def _needs(bench: _Bench, cards: dict[str, Card]) -> Iterator[Need]:
    cuts = {name: card for name, card in cards.items() if card.features and card.id != "chase"}
    by_feature: dict[str, list[str]] = {}
    for name, card in cuts.items():
        for feature in card.features:
            by_feature.setdefault(feature, []).append(name)
    yield from _datum_needs(bench, cuts)
    yield from _meeting_needs(bench, by_feature)
    for scrap, then in (
        ("scrap-screw", "drill-bridge-screws"),
        ("scrap-two-sided", "drill-string-holes"),
        ("scrap-two-sided", "counterbore-ferrules"),
    ):
        yield Need(scrap, then, "a scrap test comes before the real thing")
    yield Need("set-plate", "drill-bridge-screws", "the screws are pricked through the proved plate")
    yield Need("drill-bridge-screws", "fix-plate", "the plate is held by its own screws")
    yield Need("fix-plate", "drill-string-holes", "the plate guides the string bit")
    yield Need("fix-plate", "drill-ground-wire", "the plate's place decides where its hole hides")
    yield Need(
        "drill-string-holes", "drill-ground-wire", "the plate comes off for it, after it has guided the bit"
    )
    yield Need(
        "counterbore-ferrules", "bore-ferrules", "the wide, shallow step is cut while its centre is solid"
    )
    yield Need("bore-ferrules", "try-strings", "the holes must be through")
    for name in (*cuts, "try-strings"):
        yield Need(name, "finish", "wood is cut before the finish")
    for name in (*cards,):
        if name not in ("fit-hardware",):
            yield Need(name, "fit-hardware", "hardware goes on last")
    yield Need("finish", "chase", "the film narrows the holes")


def _datum_needs(bench: _Bench, cuts: dict[str, Card]) -> Iterator[Need]:
    neck = f"rout-{next((p.id for p in bench.features.pockets if p.role == NECK_POCKET), '')}"
    for name, card in cuts.items():
        yield Need("check-body", name, "every depth follows the real thickness")
        if card.machine == "drill press":
            yield Need("check-press", name, "a leaning bit spoils the row")
        if name != neck:
            yield Need("fit-neck", name, "everything is measured from the fitted neck")
    for name in ("scrap-screw", "scrap-two-sided"):
        yield Need("check-press", name, "a leaning bit spoils the row")
    yield Need("check-neck", neck, "the end wall is measured from the nut")
    yield Need("check-neck", "fit-neck", "the neck's own scale is the datum")
    yield Need(neck, "fit-neck", "the heel needs its pocket")
    yield Need("fit-neck", "set-plate", "the bridge follows the neck's real line")


def _meeting_needs(bench: _Bench, by_feature: dict[str, list[str]]) -> Iterator[Need]:
    """Orders that follow from which cut runs into which."""
    features = {feature.id: feature for feature in bench.features}
    for feature in features.values():
        for other in (features[name] for name in feature.meets if name in features):
            if isinstance(feature, Bore) and isinstance(other, Bore):
                if feature.face == "top" and other.face == "back":
                    because = (
                        "the back bore is registered on a pin in the string hole, drilled part-way first"
                    )
                    yield from _each(by_feature, feature.id, other.id, because)
            elif isinstance(feature, Pocket) and isinstance(other, Bore):
                yield from _each(by_feature, feature.id, other.id, "the bit must break into an open pocket")


def _each(by_feature: dict[str, list[str]], first: str, then: str, because: str) -> Iterator[Need]:
    for a in by_feature.get(first, ()):
        for b in by_feature.get(then, ()):
            if a != b:
                yield Need(a, b, because)
