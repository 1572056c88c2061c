"""Rules for pots, switches and jacks on the face: does the thread pass the wood, has the body room."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from math import hypot, sqrt

from scribeline.features import Bore, Features, Pocket, covers, floor_z, most_wood, polygon, roof_over
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, Facts, Finding, Limit
from scribeline.findings.wood import FLOOR_POCKET
from scribeline.job import ControlStatement, Document, feature_id
from scribeline.layout import Layout, Point, Point3
from scribeline.lengths import no_less, no_more, said, trimmed

IN_HAND = Limit.of("control_thread")


def every_control(
    document: Document, layout: Layout, features: Features
) -> Iterator[tuple[str, ControlStatement, Point, Pocket]]:
    """Every control: the id of its hole, what is stated of it, its place, its cavity."""
    pockets = {pocket.id: pocket for pocket in features.pockets}
    for number, (control, place) in enumerate(zip(document.controls, layout.controls, strict=True), start=1):
        yield f"control-{number}", control, place, pockets[feature_id(control.into)]


def _each(facts: Facts) -> Iterator[tuple[str, ControlStatement, Point, Pocket]]:
    return every_control(facts.document, facts.layout, facts.features)


def over_their_cavity(facts: Facts) -> Iterator[Finding]:
    """Does the hole for every control open into its cavity, with room for its body?"""
    bores = {bore.id: bore for bore in facts.features.bores}
    for identity, control, place, cavity in _each(facts):
        if identity in bores and not covers(cavity, place, _radius(bores[identity])):
            yield Finding(
                code="control.misses-cavity",
                severity="stop",
                features=(identity, cavity.id),
                value=None,
                limit=None,
                message=f"the hole for the {control.name} does not come out wholly in the {cavity.in_words}",
                cure="move controls.centre (along from x_from, towards the treble) or the cavity",
                source=GEOMETRY,
            )
        elif control.body is not None:
            room = _room(cavity, place)
            if room < control.body.mm / 2 - 1e-9:
                yield Finding(
                    code="control.no-room",
                    severity="stop",
                    features=(identity, cavity.id),
                    value=2 * room,
                    limit=control.body.mm,
                    message=f"the {control.name} is {said(control.body.mm, None)} across and the {cavity.in_words}'s wall is "
                    f"only {said(room)} from its shaft",
                    cure=f"move it {no_less(control.body.mm / 2 - room)} away from the wall, or widen the cavity there",
                    source=GEOMETRY,
                )


def _radius(bore: Bore) -> float:
    return bore.widest / 2


def _room(cavity: Pocket, place: Point) -> float:
    import shapely

    return float(polygon(cavity.outline, cavity.islands).boundary.distance(shapely.Point(place)))


def beside_each_other(facts: Facts) -> Iterator[Finding]:
    """Do the bodies of two controls in one cavity run into each other?"""
    for (a_id, a, at, cavity), (b_id, b, other, its) in combinations(_each(facts), 2):
        if a.body is None or b.body is None or cavity.id != its.id:
            continue
        apart, wanted = hypot(at.x - other.x, at.y - other.y), (a.body.mm + b.body.mm) / 2
        if apart < wanted - 1e-9:
            yield Finding(
                code="control.bodies-meet",
                severity="stop",
                features=(a_id, b_id),
                value=apart,
                limit=wanted,
                message=f"the {a.name} and the {b.name} stand {said(apart)} apart and are {trimmed(a.body.mm)} and "
                f"{said(b.body.mm, None)} across",
                cure=f"set their shafts {no_less(wanted)} apart or more",
                source=GEOMETRY,
            )


@dataclass(frozen=True, slots=True)
class Barrel:
    """A jack's barrel: a level cylinder that begins at a place and runs a way, seen from above.

    Attributes:
        at: where it begins, on its axis.
        way: the unit direction it runs in, along the instrument and across it.
        length: mm.
        radius: mm.
        stated: whether the job has its size; else it fills its hole.
    """

    at: Point3
    way: tuple[float, float]
    length: float
    radius: float
    stated: bool


def beside_the_jack(facts: Facts) -> Iterator[Finding]:
    """Does the jack's barrel clear the bodies of the controls in its cavity?"""
    barrel, jack = _barrel(facts), facts.document.jack
    if barrel is None or jack is None:
        return
    for identity, control, place, cavity in _each(facts):
        if control.body is None or control.into != jack.into:
            continue
        roof = floor_z(facts.layout, cavity)
        deep = cavity.depth if control.body_depth is None else control.body_depth.mm
        gap = barrel_gap(barrel, place, control.body.mm / 2, (roof - deep, roof))
        if gap is None or gap >= -1e-9:
            continue
        known = barrel.stated and control.body_depth is not None
        size = f"{trimmed(2 * barrel.radius)} across and {said(barrel.length, 1)} long"
        away = said(-gap)
        yield Finding(
            code="control.meets-jack",
            severity="stop" if known else "caution",
            features=(identity, "jack"),
            value=gap,
            limit=0.0,
            message=f"the jack's barrel, {size}{'' if barrel.stated else ' as its hole is'}, comes {away} too near to the "
            f"{control.name}, {said(control.body.mm, None)} across, in the {cavity.in_words}",
            cure=f"move the {control.name} {no_less(-gap)} or more away from it, or jack.near along the edge"
            + (
                ""
                if known
                else f"; or measure and state {_unmeasured(barrel, control)}: they may pass each other"
            ),
            source=GEOMETRY,
        )


def _unmeasured(barrel: Barrel, control: ControlStatement) -> str:
    keys = () if barrel.stated else ("jack.barrel_diameter", "barrel_length")
    return " and ".join((*keys, *(() if control.body_depth is not None else ("controls.body_depth",))))


def _barrel(facts: Facts) -> Barrel | None:
    """The barrel in from its counterbore's floor; None where the jack has no hole from the edge into a cavity."""
    jack, bore = facts.document.jack, next(iter(facts.features.family("jack")), None)
    if jack is None or jack.into is None or bore is None or bore.face != "edge":
        return None
    sits = jack.recess_depth or 0.0
    flat = hypot(bore.axis.x, bore.axis.y)
    stated = jack.barrel_length is not None and jack.barrel_diameter is not None
    return Barrel(
        bore.along(sits),
        (bore.axis.x / flat, bore.axis.y / flat),
        jack.barrel_length if jack.barrel_length is not None else bore.deepest.depth - sits,
        (jack.barrel_diameter or jack.diameter) / 2,
        stated,
    )


def barrel_gap(barrel: Barrel, centre: Point, radius: float, between: tuple[float, float]) -> float | None:
    """The air between a level barrel and an upright round body, seen from above, mm; below 0 what it must move away by.

    A barrel is as wide as it is at the height nearest to its axis that the body reaches.

    Args:
        barrel: the barrel.
        centre: of the body.
        radius: of the body, mm.
        between: the heights of the body's lower end and its upper one, mm.

    Returns:
        None where one passes over the other.
    """
    low, high = between
    off = max(0.0, low - barrel.at.z, barrel.at.z - high)
    if off >= barrel.radius:
        return None
    x, y = centre.x - barrel.at.x, centre.y - barrel.at.y
    along = x * barrel.way[0] + y * barrel.way[1]
    aside = abs(y * barrel.way[0] - x * barrel.way[1])
    beside, beyond = aside - sqrt(barrel.radius**2 - off**2), max(along - barrel.length, -along)
    outside = hypot(max(0.0, beside), max(0.0, beyond))
    return (outside if outside > 0.0 else max(beside, beyond)) - radius


def thread_through_the_wood(facts: Facts) -> Iterator[Finding]:
    """Is every control's thread long enough for the wood over its cavity?"""
    limit = facts.limit(IN_HAND)
    for identity, control, place, cavity in _each(facts):
        roof, most = roof_over(facts.layout, cavity, place), most_wood(control)
        severity = limit.severity(most - roof)
        if severity is None:
            continue
        short = roof - most
        yield Finding(
            code="control.thread-short",
            severity=severity,
            of=f"{identity}.thread-left",
            held_to=limit.level_id(severity),
            features=(identity, cavity.id),
            value=most - roof,
            limit=limit.threshold(severity),
            message=f"the {control.name}'s thread of {said(control.thread_length.mm, None)} passes {said(most)} of wood at "
            f"most (nut and washers {said(control.nut_and_washers.mm, None)}, {said(0.5, None)} to spare) and "
            f"{said(roof)} lie over the "
            f"{cavity.in_words}: {f'{said(short)} too much' if short > 0 else f'only {said(-short)} in hand'}",
            cure=_cure(facts, control, cavity, roof, limit.caution),
            source=COMMON_PRACTICE if limit.source == COMMON_PRACTICE else limit.source,
        )


def _cure(facts: Facts, control: ControlStatement, cavity: Pocket, roof: float, in_hand: float) -> str:
    """A longer thread, or less wood, where that leaves a floor worth having."""
    most = most_wood(control)
    longer = f"take one with a thread of {no_less(control.thread_length.mm + roof - most + in_hand)} or more"
    left = most - in_hand
    least = facts.limit(FLOOR_POCKET).caution
    by = roof - left
    if left < least:
        return f"{longer}: {no_more(max(left, 0.0))} of wood would be too little to leave"
    deeper = cavity.depth + by
    return (
        f"{longer}; or recess {no_less(by)} more from inside round its shaft, or make the {cavity.in_words} {no_less(deeper)} "
        f"deep, so that {no_more(left)} is left"
    )
