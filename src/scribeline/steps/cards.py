"""Step cards: each one setting of one machine, in an order derived from what depends on what."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from scribeline.features import Bore, Features, angle_from_face_deg, meeting_overlap
from scribeline.job import Document
from scribeline.layout import NECK_POCKET, Layout, Measurable, diagonals, twelfth_readings
from scribeline.lengths import trimmed
from scribeline.steps.card import Card, Gate, Place, balloon
from scribeline.steps.cautions import (
    BY_MACHINE,
    DUST,
    GLUE,
    LARGE_BIT,
    LARGE_BIT_FROM,
    PIN,
    TILTED,
)
from scribeline.steps.needs import needs
from scribeline.steps.ordering import direct, in_order


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
        return Gate(m.how, m.value, m.low, m.high, m.id)

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


def _within(ask: str, value: float, tolerance: float) -> Gate:
    """A gate on a reading with the same tolerance either way."""
    return Gate(ask, value, value - tolerance, value + tolerance)


def make_cards(
    document: Document, layout: Layout, features: Features, measurables: tuple[Measurable, ...]
) -> tuple[Card, ...]:
    """The step cards, numbered in an order that meets every need."""
    bench = _Bench(document, layout, features, {m.id: m for m in measurables})
    cards = {card.id: card for card in _cards(bench)}
    waits = direct(need for need in needs(features, cards) if need.first in cards and need.then in cards)
    order = in_order([(card.id, card.face) for card in cards.values()], waits)
    return tuple(
        replace(cards[name], no=number, after=tuple(need for need in waits if need.then == name))
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
                f"greatest difference across the 200 mm sweep; it leans a hole 0.15 mm in {depth:.1f} mm",
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
            f"Corner radius {trimmed(pocket.corner_radius)} mm: use a router bit of "
            f"{trimmed(2 * pocket.corner_radius)} mm or less."
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
        gate = _within(f"depth, with a gauge on the {pocket.face}", pocket.depth, 0.25)
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
    glued = bench.document.neck.joint == "set"
    yield Card(
        id="fit-neck",
        title="Fit the neck and prove its line",
        machine="bench",
        do=(
            "Seat the heel dry against the end wall and clamp it; do not glue yet."
            if glued
            else "Seat the heel against the end wall and clamp or screw it; it must not move from here on.",
            "Stretch a thread from each outer nut slot to where its saddle will stand.",
            f"Both margins at fret {len(bench.layout.frets)} should agree within 0.25 mm.",
            *(
                (
                    "Only then glue it, clamp it, and let it cure as the glue's maker says.",
                    "Thread and measure once more when it has cured: it cannot be moved after.",
                )
                if glued
                else ()
            ),
        ),
        gate=bench.gate("margin-treble"),
        cautions=(*BY_MACHINE["bench"], GLUE) if glued else BY_MACHINE["bench"],
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
        gate=_within("depth of the first hole at full diameter", step.depth, 0.5),
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
    thickness, overlap = bench.document.body.thickness.mm, meeting_overlap(bench.document)
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
        gate=Gate("step between the two bores, which must meet; the ferrule fits", 0.0, 0.0, 0.15),
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
        gate=_within("depth at full diameter", hole.depth, 0.5),
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
        gate=_within("depth of the first counterbore; a ferrule's lip fits it", lip.depth, 0.1),
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
            "depth from the back; the row straight within 0.15 mm",
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


def _chase(bench: _Bench) -> tuple[str, ...]:
    """How the ferrule holes are cleared after the finish, and what the wider one should then measure."""
    ferrules = bench.document.ferrules
    lip, body = bench.features.group("ferrule holes")[0].steps
    if bench.document.finish.holes == "masked":
        return (
            "Take the plugs out, score round each edge, and clear any bridge of finish by hand, never under power.",
            f"The counterbore should still measure {lip.diameter:.2f} mm and the bore {body.diameter:.2f} mm, as cut.",
        )
    # A sprayed hole was cut wider by the film; its own bit would take that film away again.
    return (
        f"Score each edge, then turn bits of {ferrules.lip_diameter.mm:.2f} and {ferrules.body_diameter.mm:.2f} mm, not the "
        "ones it was cut with, in by hand; never under power through cured finish.",
        f"The lip's hole should measure {ferrules.lip_diameter.mm:.2f} mm.",
    )


def _finish_cards(bench: _Bench) -> Iterator[Card]:
    finish = bench.document.finish
    has_ferrules = bool(bench.features.group("ferrule holes"))
    if finish.film:
        masked = finish.holes == "masked"
        yield Card(
            id="finish",
            title="Finish",
            machine="finish",
            do=(
                "Every cut in the wood is done before this.",
                "Plug or tape the ferrule holes and the neck pocket."
                if masked
                else "Holes are sprayed: they come out narrower.",
                f"The plan allows for a film of {trimmed(finish.film)} mm on a surface.",
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
                do=_chase(bench),
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
