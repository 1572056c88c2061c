"""Cards of holes from the top and the back: shafts, stated holes, cover screws, the neck's clearance holes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import atan2, degrees

from scribeline.features import (
    Bore,
    Family,
    Pocket,
    Setting,
    angle_from_face_deg,
    row_in_words,
    setting_of,
)
from scribeline.layout import heading_words
from scribeline.lengths import said
from scribeline.operations import Operation
from scribeline.steps.bench import Bench, Teller, within
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import TILTED, usual

SCRAP_SCREW = "Try one waxed screw in scrap of the same timber. It should go home by hand and split nothing."


def _holes(bench: Bench, work: Operation) -> Card:
    if work.kind == "countersink":
        return _countersink(bench, work)
    bores, step = bench.bores(work), bench.step(work)
    first = bores[0]
    setting = setting_of(bench.layout, first, work.cuts[0].step - 1, bench.features.pockets)
    do = [] if setting.beside else ["Mark each place with the awl and set the bit's point in it."]
    gate = within(_depth_words(setting, len(bores)), step.depth - setting.below, 0.5)
    title = f"Counterbore for the {row_in_words(bores)}"
    if work.kind == "drill":
        title = f"Drill the {_what(bores)}"
        do += _how(bench, bores)
        gate = _open_gate(bench, first) if first.through else gate
    cautions = usual(work) if first.is_upright else usual(work, TILTED)
    return Card.of(work, title, do, gate, cautions, *bench.places(bores))


def _what(bores: Sequence[Bore]) -> str:
    if bores[0].screw is not None:
        return f"pilots of the {row_in_words(bores)}"
    return "clearance holes of the neck screws" if bores[0].family == "neck-screw" else row_in_words(bores)


def _depth_words(setting: Setting, count: int) -> str:
    below = f", below {setting.surface}" if setting.zeroed_on == "floor" else ""
    return f"depth of the {'first ' if count > 1 else ''}hole at full diameter{below}"


def _open_gate(bench: Bench, bore: Bore) -> Gate:
    into = _opened(bench, bore)
    if bore.family == "neck-screw":
        return Gate("a screw drops through every hole by its own weight")
    if bore.family == "control":
        return Gate("every pot or switch goes in by hand, and its nut has two turns of thread or more")
    return Gate(
        f"every hole is open {'into the ' + into.in_words if into else 'right through'}, its rim whole"
    )


def _opened(bench: Bench, bore: Bore) -> Pocket | None:
    """The pocket from the other face that it opens into."""
    return next((p for p in bench.features.pockets if p.id in bore.meets and p.face != bore.face), None)


def _how(bench: Bench, bores: Sequence[Bore]) -> Iterator[str]:
    bore = bores[0]
    into = _opened(bench, bore)
    if not bore.is_upright:
        angle = angle_from_face_deg(bore)
        yield f"Angle block: {angle:.1f}° from the face, {90 - angle:.1f}° off upright. Measure depths along the bit."
        way = heading_words(bore.axis.x, bore.axis.y * bench.layout.treble)
        yield f"Draw a line through the mark, {way}. The bit's point runs along it."
    if bore.through and into is not None:
        yield (
            f"Pack the {into.in_words} with a block up to its floor, so that the bit does not burst the far side. Ease the "
            "feed as it comes through."
        )
    elif bore.through:
        yield "Clamp the body on a clean waste board, so that the bit does not burst the far side. Ease the feed at the end."
    if bore.screw is not None:
        yield SCRAP_SCREW
    if bore.family == "cover-screw" and bore.meets:
        which = "the" if len({each.group for each in bores}) == 1 else "each"
        yield f"Lay {which} cover in and mark through its holes with the awl."
    if bore.family == "control":
        names = ", ".join(dict.fromkeys(each.holds or each.role for each in bores))
        yield f"These holes are for: {names}."


def _countersink(bench: Bench, work: Operation) -> Card:
    bores, step = bench.bores(work), bench.step(work)
    angle = 2 * atan2(step.diameter / 2, step.bit.point)
    do = (
        f"{degrees(angle):.0f}° countersink, slowly. The drilled hole leads it.",
        f"Stop when the rim is {said(step.diameter)} wide. Try a screw's head in it.",
    )
    gate = within("width of the first one at its rim", step.diameter, 0.3)
    return Card.of(
        work, f"Countersink the {row_in_words(bores)}", do, gate, usual(work), *bench.places(bores)
    )


HOLES: Mapping[Family, Teller] = dict.fromkeys(("neck-screw", "control", "hole", "cover-screw"), _holes)
