"""Cards of the bridge: its plate, the string holes it guides, the wire it hides."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.features import Setting, meeting_overlap
from scribeline.layout import ALIKE, MARK_WORDS, diagonals, twelfth_readings
from scribeline.lengths import said
from scribeline.steps.bench import Bench, within
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import (
    BY_MACHINE,
    DUST,
    LARGE_BIT,
    LARGE_BIT_FROM,
    PIN,
)


def plate_cards(bench: Bench) -> Iterator[Card]:
    """Set the plate and hold it by its own screws."""
    yield Card(
        id="set-plate",
        title="Set the bridge plate and check it",
        machine="bench",
        face="top",
        do=tuple(_set_out(bench)),
        gate=bench.gate("12th-to-plate"),
        cautions=BY_MACHINE["bench"],
    )
    screws = bench.features.family("bridge-screw")
    first = bench.next(screws)
    step = first.deepest
    yield Card(
        id="scrap-screw",
        title="Scrap test: one bridge screw",
        machine="drill press",
        features=(),
        bit=step.bit,
        depth=step.depth,
        point_reaches=step.point_reaches,
        setting=Setting("depth stop", step.point_reaches, "face"),
        do=(
            f"In scrap of the same timber drill {said(step.depth, 1)} deep with {step.bit.in_words}.",
            "Drive a waxed screw by hand. It should go home firmly, and the scrap must not split.",
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
        setting=bench.setting(first, step),
        places=bench.places(screws),
        do=("Start each hole in its awl mark.", "Drill all of them with one setting of the depth stop."),
        gate=within("depth of the first hole at full diameter", step.depth, 0.5),
        cautions=(*BY_MACHINE["drill press"], DUST),
    )
    yield Card(
        id="fix-plate",
        title="Screw the plate down with two screws",
        machine="bench",
        face="top",
        do=(
            "Two screws are enough. The plate now guides the bit for the string holes."
            if bench.features.family("string-hole")
            else "Two screws are enough to check that it stands where it should.",
        ),
        gate=bench.gate("pocket-end-to-plate"),
        cautions=BY_MACHINE["bench"],
    )


def _set_out(bench: Bench) -> Iterator[str]:
    """Where the plate goes, or stands already by the holes that are drilled for it."""
    layout, pair = bench.layout, diagonals(bench.layout)
    assert pair is not None
    marks = "; ".join(
        f"{MARK_WORDS[reading.mark]} {said(reading.to_plate)}"
        for reading in twelfth_readings(bench.document, layout)
        if reading.to_plate is not None
    )
    along = f"{said(layout.front_edge - layout.pocket_end)} from the pocket's end wall"
    if layout.held is None:
        yield f"Tape the plate with its front edge {along}."
    else:
        yield f"Lay the plate on its drilled {layout.held.by}. They hold its front edge {along}."
    yield f"To the front edge from the 12th fret: {marks}."
    yield (
        f"Both diagonals, from the board's corner at the 12th fret to the plate's far front corner: {said(pair[0])}."
        if abs(pair[0] - pair[1]) <= ALIKE
        else "Diagonals, from the board's corner at the 12th fret to the plate's far front corner: from the treble "
        f"{said(pair[0])}, from the bass {said(pair[1])}."
    )
    again = "Thread the two outer strings and measure them to the board's edges again."
    made = bench.record.made_cuts
    left = any(bore.id not in made for bore in bench.features.family("bridge-screw"))
    yield f"{again} Measure twice, then mark the holes with the awl." if left else again


def string_cards(bench: Bench) -> Iterator[Card]:
    """The string holes from both faces."""
    top, back = bench.features.family("string-hole"), bench.features.family("ferrule-hole")
    if not top:
        return
    begun, behind = bench.next(top), bench.next(back)
    hole = begun.deepest
    lip, body = behind.steps[0], behind.deepest
    thickness, overlap = bench.document.body.thickness.mm, _least_overlap(bench)
    yield Card(
        id="scrap-two-sided",
        title="Scrap test: one hole from both faces",
        machine="drill press",
        bit=hole.bit,
        depth=hole.depth,
        point_reaches=hole.point_reaches,
        setting=Setting("depth stop", hole.point_reaches, "face"),
        do=(
            f"In scrap {said(thickness, 1)} thick drill {said(hole.depth, 1)} from the top. Flip it onto a "
            f"{said(hole.bit.diameter)} pin under the spindle; counterbore and drill from the back.",
            "Push a ferrule in and pass a string.",
        ),
        gate=Gate("step where the two holes meet; the ferrule must fit", 0.0, 0.0, 0.15),
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
        setting=bench.setting(begun, hole),
        places=bench.places(top),
        do=(
            "The plate guides the bit. Drill the outer two first, lay a straightedge across, then drill the inner ones.",
            "Drill part-way. The holes from the back meet them.",
        ),
        gate=within("depth at full diameter", hole.depth, 0.5),
        cautions=(*BY_MACHINE["drill press"], DUST),
    )
    ids, places = tuple(bore.id for bore in back), bench.places(back)
    pin = f"Turn the body over about its long axis. Set each string hole on a {said(hole.bit.diameter)} pin under the spindle."
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
        setting=bench.setting(behind, lip),
        places=places,
        do=(pin, "With the spindle at rest, check that the bit's point comes down on the centre of the pin."),
        gate=within("depth of the first counterbore; a ferrule's lip must fit it", lip.depth, 0.1),
        cautions=(*BY_MACHINE["drill press"], *large, PIN, DUST),
    )
    yield Card(
        id="bore-ferrules",
        title="Drill for the ferrule bodies",
        machine="drill press",
        face="back",
        features=ids,
        bit=body.bit,
        depth=body.depth,
        point_reaches=body.point_reaches,
        setting=bench.setting(behind, body),
        places=places,
        do=(
            "Set the depth stop first: pin out, body flat on the same board. Then put the pin back and keep the same order.",
            "The bit breaks into the string hole. Ease the feed as it comes near.",
            f"The two holes overlap by {said(overlap)}.",
        ),
        gate=Gate(
            "depth from the back; the row must be straight within " + said(0.15),
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
        do=("Blow or brush the chips out and ease the edges. Pass the thickest string through every hole.",),
        gate=Gate("every string passes freely"),
        cautions=("Wear eye protection when you blow chips out.",),
    )


def _least_overlap(bench: Bench) -> float:
    """By how much the bores from the top and from the back pass each other where they do so least, mm."""
    back = {bore.id: bore for bore in bench.features.family("ferrule-hole")}
    return min(
        meeting_overlap(top, back[name])
        for top in bench.features.family("string-hole")
        for name in sorted(top.meets)
        if name in back
    )
