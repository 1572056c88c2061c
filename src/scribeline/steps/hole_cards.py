"""Cards of holes from the top and the back: shafts, stated holes, cover screws, the neck's clearance holes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import atan2, degrees

from scribeline.features import (
    Bore,
    Family,
    Pocket,
    Setting,
    Step,
    alike,
    angle_from_face_deg,
    heel_screw,
    row_in_words,
)
from scribeline.job import feature_id
from scribeline.layout import HEEL, heading_words
from scribeline.lengths import said
from scribeline.steps.bench import Bench, within
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import BY_MACHINE, DUST, LARGE_BIT, LARGE_BIT_FROM, TILTED

_FAMILIES: tuple[Family, ...] = ("neck-screw", "control", "hole", "cover-screw")

SCRAP_SCREW = "Try one waxed screw in scrap of the same timber. It should go home by hand and split nothing."


def hole_cards(bench: Bench) -> Iterator[Card]:
    """One card a setting: every bit of every group, the widest and shallowest first, a countersink last."""
    kinds = [bores for bores in alike(bench.features, bench.layout) if bores[0].family in _FAMILIES]
    names = [feature_id(bores[0].group) for bores in kinds]
    for n, (name, bores) in enumerate(zip(names, kinds, strict=True)):
        twin = f"-{names[:n].count(name) + 1}" if names.count(name) > 1 else ""
        yield from _settings(bench, name + twin, bores)


def _settings(bench: Bench, name: str, bores: Sequence[Bore]) -> Iterator[Card]:
    first = bores[0]
    sinks = [step for step in first.steps if step.bit.kind == "countersink"]
    cylinders = [step for step in first.steps if step not in sinks]
    for step in cylinders[:-1]:
        nth = f"-{cylinders.index(step) + 1}" if len(cylinders) > 2 else ""
        wide = _card(bench, bores, step)
        yield replace(wide, id=f"counterbore-{name}{nth}", title=f"Counterbore for the {row_in_words(bores)}")
    if cylinders:  # a record may have a countersink alone
        last = _card(bench, bores, cylinders[-1])
        do = (*last.do, *_how(bench, bores))
        yield replace(last, id=f"drill-{name}", title=f"Drill the {_what(bores)}", do=do)
    for step in sinks:
        yield _countersink(bench, name, bores, step)


def _what(bores: Sequence[Bore]) -> str:
    if bores[0].screw is not None:
        return f"pilots of the {row_in_words(bores)}"
    return "clearance holes of the neck screws" if bores[0].family == "neck-screw" else row_in_words(bores)


def _card(bench: Bench, bores: Sequence[Bore], step: Step) -> Card:
    first = bores[0]
    cautions = [*BY_MACHINE["drill press"]]
    if step.diameter >= LARGE_BIT_FROM:
        cautions.append(LARGE_BIT)
    if not first.is_upright:
        cautions.append(TILTED)
    through, setting = first.through and step is first.deepest, bench.setting(first, step)
    return Card(
        id="",
        title="",
        machine="drill press",
        face=first.face,
        features=tuple(bore.id for bore in bores),
        bit=step.bit,
        depth=step.depth,
        point_reaches=step.point_reaches,
        setting=setting,
        places=bench.places(tuple(bores)),
        do=() if setting.beside else ("Mark each place with the awl and set the bit's point in it.",),
        gate=_open_gate(bench, first)
        if through
        else within(_depth_words(setting, len(bores)), step.depth - setting.below, 0.5),
        cautions=(*cautions, DUST),
    )


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
        yield "Lay the cover in and mark through its holes with the awl."
    if bore.family == "control":
        names = ", ".join(dict.fromkeys(each.holds or each.role for each in bores))
        yield f"These holes are for: {names}."


def _countersink(bench: Bench, name: str, bores: Sequence[Bore], step: Step) -> Card:
    angle = 2 * atan2(step.diameter / 2, step.bit.point)
    return Card(
        id=f"countersink-{name}",
        title=f"Countersink the {row_in_words(bores)}",
        machine="drill press",
        face=bores[0].face,
        features=tuple(bore.id for bore in bores),
        bit=step.bit,
        depth=step.depth,
        point_reaches=step.point_reaches,
        setting=bench.setting(bores[0], step),
        places=bench.places(tuple(bores)),
        do=(
            f"{degrees(angle):.0f}° countersink, slowly. The drilled hole leads it.",
            f"Stop when the rim is {said(step.diameter)} wide. Try a screw's head in it.",
        ),
        gate=within("width of the first one at its rim", step.diameter, 0.3),
        cautions=(*BY_MACHINE["drill press"], DUST),
    )


def heel_cards(bench: Bench) -> Iterator[Card]:
    """The screws' pilots in the heel, drilled once the body's clearance holes have marked them."""
    heel, screws, neck = heel_screw(bench.document), bench.document.neck_screws, bench.document.neck
    if heel is None or screws is None:
        return
    yield Card(
        id=HEEL,
        title="Drill the heel's pilots and screw the neck on",
        machine="drill press",
        do=(
            "With the heel clamped in its place, mark it through the body's holes with a punch that fits them. Take it off.",
            f"In the heel, not the body: {heel.bit.in_words}, {said(heel.pilot_depth, 1)} at full diameter, its point at "
            f"{said(heel.pilot_depth + heel.bit.point, 1)}. Tape the bit there.",
            f"Bench rule for {heel.timber.in_words}{'' if neck.timber else ' (state neck.timber)'}: {said(heel.rule.bench)}. "
            f"The screws take {said(heel.engages, 1)} of thread and end {said(heel.to_board, 1)} below the board's glue line.",
            "Try one screw in scrap of the neck's timber. Then wax the screws and drive them by hand, crosswise.",
        ),
        gate=Gate(
            "the heel is drawn tight to the pocket's floor, and the threads from nut to saddle lie as before"
        ),
        cautions=(*BY_MACHINE["drill press"], DUST),
    )


def is_of_the_neck(card: Card) -> bool:
    """Whether a card belongs to fitting the neck, and so comes before what is measured from it."""
    return any(feature.startswith("neck-screw-") for feature in card.features) or card.id == HEEL
