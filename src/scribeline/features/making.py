"""From the layout and the parts to the holes and pockets: what is cut where, how deep, with which bit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import asin, atan2, ceil, cos, degrees, hypot, sin, tan

from scribeline import tables
from scribeline.features.bits import Bit, choose_bit, drill_box
from scribeline.features.cuts import DOWN, UP, Bore, Pocket, Reason, Screw, Step
from scribeline.features.pilots import BENCH_SOURCE, HANDBOOK_SOURCE, RELIEF, pilot_rule
from scribeline.features.rings import first_wall, lies_over, rounded
from scribeline.job import Document, feature_id
from scribeline.layout import GroundWirePlace, Layout, PocketPlace, Point, Point3
from scribeline.lengths import trimmed

CHUCK_RADIUS = 19.0
"""Radius of a drill chuck, mm (typical, from memory: measure your own)."""

FERRULE_BIT_OFF = 0.5
"""A bit further than this from a ferrule's size is no choice at all, mm (common practice, no source)."""

BREAK_OUT = 1.0
"""How far a bit's full diameter is run past a wall it opens, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Features:
    """Everything that is cut."""

    bores: tuple[Bore, ...]
    pockets: tuple[Pocket, ...]

    def __iter__(self) -> Iterator[Bore | Pocket]:
        yield from self.pockets
        yield from self.bores

    def group(self, name: str) -> tuple[Bore, ...]:
        """The bores of one group, in order."""
        return tuple(bore for bore in self.bores if bore.group == name)

    def pocket(self, identity: str) -> Pocket:
        """The pocket with this id."""
        return next(pocket for pocket in self.pockets if pocket.id == identity)


def make_features(document: Document, layout: Layout) -> Features:
    """Every hole and pocket of the instrument; those that hang on the bridge only once it has a place."""
    wire = layout.ground_wire
    pockets = tuple(_pocket(place, layout, wire) for place in layout.pockets)
    if layout.plate is None:
        return Features((), pockets)
    bores = [
        *_bridge_screws(document, layout.plate.screws),
        *_string_holes(document, layout),
        *_ferrule_holes(document, layout),
    ]
    if wire is not None:
        target = next(pocket for pocket in pockets if pocket.role == wire.into)
        hole = _ground_wire(document, wire, target)
        if hole is not None:
            bores.append(hole)
    return Features(tuple(bores), pockets)


def _pocket(place: PocketPlace, layout: Layout, wire: GroundWirePlace | None) -> Pocket:
    outline = rounded(place.outline, place.corner_radius, open_towards_nut=place.at_edge)
    meets = {feature_id(name) for name in place.opens_into}
    if wire is not None and wire.into == place.name:
        meets.add("ground-wire")
    return Pocket(
        id=feature_id(place.name),
        role=place.name,
        face="back" if place.face == "back" else "top",
        outline=outline,
        depth=place.depth,
        corner_radius=place.corner_radius,
        at_edge=place.at_edge,
        meets=frozenset(meets),
        why=(Reason(f"{place.depth:.2f} mm deep from the {place.face}, as stated in the job"),),
    )


def _bridge_screws(document: Document, places: tuple[Point, ...]) -> Iterator[Bore]:
    screw, bits = document.bridge_screw, document.bits
    timber = tables.timber(document.body.timber)
    rule = pilot_rule(thread=screw.thread.mm, root=screw.root.mm, timber=timber)
    driver = Screw(
        thread=screw.thread.mm,
        root=screw.root.mm,
        length=screw.length.mm,
        under_head=document.bridge.plate_thickness.mm,
        key="bridge_screw.length",
        owned=screw.lengths_owned,
    )
    depth = driver.reach + RELIEF
    bit = choose_bit(
        drill_box(bits), rule.bench, ("twist", "brad-point"), reach=depth, point_angle_rad=bits.point_angle
    )
    why = (
        Reason(
            f"bench rule: pilot = root + k (thread − root) = {screw.root.mm:.2f} + {rule.share:.2f} × "
            f"({screw.thread.mm:.2f} − {screw.root.mm:.2f}) = {rule.bench:.2f} mm; k = {rule.share:.2f} because "
            f"{timber.label} is {rule.hardness}",
            BENCH_SOURCE,
        ),
        Reason(
            f"handbook rule: {'70' if timber.softwood else '90'} % of the root in "
            f"{'softwood' if timber.softwood else 'hardwood'} = {rule.handbook:.2f} mm",
            HANDBOOK_SOURCE,
        ),
        Reason(
            f"the bench rule is used; nearest bit in the box: {bit.name} ({bit.diameter - rule.bench:+.2f} mm)"
            if bit.owned
            else f"the box has no bit for it; get {bit.name}"
        ),
        Reason(
            f"depth = screw {screw.length.mm:.1f} − plate {document.bridge.plate_thickness.mm:.1f} + "
            f"{RELIEF:.1f} beyond the tip = {depth:.2f} mm at full diameter",
            BENCH_SOURCE,
        ),
    )
    for number, place in enumerate(places, start=1):
        yield Bore(
            id=f"bridge-screw-{number}",
            role="bridge screw pilot",
            group="bridge screws",
            face="top",
            at=Point3(place.x, place.y, 0.0),
            axis=DOWN,
            steps=(Step(bit.diameter, depth, bit),),
            why=why,
            screw=driver,
        )


def string_bit(document: Document) -> Bit:
    """The bit for the string holes: nearest the stated size that passes the plate, which is its guide."""
    return choose_bit(
        drill_box(document.bits),
        document.string_holes.diameter,
        ("brad-point", "twist"),
        at_most=document.bridge.string_hole.mm,
        reach=document.bridge.plate_thickness.mm + top_depth(document),
        point_angle_rad=document.bits.point_angle,
    )


def _half_up(mm: float) -> float:
    """Up to the next half millimetre, so that a stop can be set by eye on a rule."""
    return ceil(mm * 2 - 1e-9) / 2


def top_depth(document: Document) -> float:
    """Full-diameter depth of the string holes from the top, mm."""
    return _half_up(document.string_holes.top_share * document.body.thickness.mm)


def _string_holes(document: Document, layout: Layout) -> Iterator[Bore]:
    assert layout.plate is not None
    bit, depth = string_bit(document), top_depth(document)
    share = document.string_holes.top_share
    why = (
        Reason(
            f"bit: {bit.name}, the nearest to {document.string_holes.diameter:.2f} mm that passes the plate's "
            f"{document.bridge.string_hole.mm:.2f} mm hole, which guides it",
            BENCH_SOURCE,
        ),
        Reason(
            f"part-way from the top: {share:g} × {document.body.thickness.mm:.2f} mm, up to the next half = "
            f"{depth:.1f} mm at full diameter; the back bore meets it",
            BENCH_SOURCE,
        ),
    )
    for number, place in enumerate(layout.plate.string_holes, start=1):
        yield Bore(
            id=f"string-hole-{number}",
            role="string hole",
            group="string holes",
            face="top",
            at=Point3(place.x, place.y, 0.0),
            axis=DOWN,
            steps=(Step(bit.diameter, depth, bit),),
            meets=frozenset({f"ferrule-hole-{number}"}),
            why=why,
        )


@dataclass(frozen=True, slots=True)
class FerruleFit:
    """What the back's holes are cut to, in bare wood, mm.

    Attributes:
        lip: wanted counterbore diameter.
        body: wanted bore diameter.
        counterbore: counterbore depth.
        depth: full-diameter depth of the bore from the bare back.
        film_in_hole: how much the finish narrows a hole, on the diameter.
    """

    lip: float
    body: float
    counterbore: float
    depth: float
    film_in_hole: float


def ferrule_fit(document: Document) -> FerruleFit:
    """Sizes of the back's holes with the finish film allowed for.

    A masked hole keeps its diameter while the face around it grows by the film, so the counterbore is cut
    that much shallower; a sprayed hole narrows by twice the film and its floor rises as the face does.
    """
    ferrule, finish = document.ferrules, document.finish
    sprayed = finish.holes == "sprayed"
    narrowing = 2 * finish.film if sprayed else 0.0
    counterbore = ferrule.lip_height.mm + ferrule.recess - (0.0 if sprayed else finish.film)
    return FerruleFit(
        lip=ferrule.lip_diameter.mm + narrowing,
        body=ferrule.body_diameter.mm + narrowing,
        counterbore=counterbore,
        depth=counterbore + ferrule.body_length.mm + document.string_holes.relief,
        film_in_hole=narrowing,
    )


def meeting_overlap(document: Document) -> float:
    """By how much the string hole's bore from the top and the one from the back pass each other, mm; negative: they miss."""
    return top_depth(document) + ferrule_fit(document).depth - document.body.thickness.mm


def _ferrule_holes(document: Document, layout: Layout) -> Iterator[Bore]:
    assert layout.plate is not None
    fit, box, angle = ferrule_fit(document), drill_box(document.bits), document.bits.point_angle
    lip = choose_bit(
        box,
        fit.lip,
        ("flat-bottomed", "brad-point"),
        at_least=fit.lip - FERRULE_BIT_OFF,
        at_most=fit.lip + FERRULE_BIT_OFF,
        point_angle_rad=angle,
    )
    body = choose_bit(
        box,
        fit.body,
        ("brad-point", "flat-bottomed", "twist"),
        at_least=fit.body - FERRULE_BIT_OFF,
        at_most=min(fit.body + FERRULE_BIT_OFF, lip.diameter - 0.2),
        reach=fit.depth,
        point_angle_rad=angle,
    )
    overlap = meeting_overlap(document)
    ferrule, finish = document.ferrules, document.finish
    film = (
        f"+ 2 × {trimmed(finish.film)} film in the hole"
        if fit.film_in_hole
        else f"the {trimmed(finish.film)} mm film is masked off and raises the face"
        if finish.film
        else "no film"
    )
    why = (
        Reason(
            f"counterbore {fit.counterbore:.2f} mm deep in bare wood: lip {ferrule.lip_height.mm:.2f} + recess "
            f"{ferrule.recess:.2f}, holes {finish.holes}: {film}; bit {lip.name} ({lip.diameter - fit.lip:+.2f} mm)"
        ),
        Reason(
            f"bore to {fit.depth:.2f} mm: counterbore + ferrule {ferrule.body_length.mm:.2f} + relief "
            f"{document.string_holes.relief:.2f}; bit {body.name} ({body.diameter - fit.body:+.2f} mm)",
            BENCH_SOURCE,
        ),
        Reason(
            f"the two bores overlap by {overlap:.2f} mm: {top_depth(document):.2f} from the top + {fit.depth:.2f} "
            f"from the back − {document.body.thickness.mm:.2f} of wood"
        ),
    )
    for number, place in enumerate(layout.plate.string_holes, start=1):
        yield Bore(
            id=f"ferrule-hole-{number}",
            role="ferrule hole",
            group="ferrule holes",
            face="back",
            at=Point3(place.x, place.y, -layout.thickness),
            axis=UP,
            steps=(Step(lip.diameter, fit.counterbore, lip), Step(body.diameter, fit.depth, body)),
            meets=frozenset({f"string-hole-{number}"}),
            why=why,
        )


def _ground_wire(document: Document, wire: GroundWirePlace, target: Pocket) -> Bore | None:
    """The angled hole; None when its heading never reaches the pocket's wall from outside (a finding says so)."""
    if lies_over(wire.entry, target.outline):
        return None
    wall = first_wall(wire.entry, wire.heading, target.outline)
    if wall is None:
        return None
    run = hypot(wall.x - wire.entry.x, wall.y - wire.entry.y)
    to_wall = hypot(run, wire.lands)
    angle = atan2(wire.lands, run)
    axis = Point3(wire.heading.x * cos(angle), wire.heading.y * cos(angle), -sin(angle))
    bits = document.bits
    # A square-ended cylinder leaves a wall at a slant: its far side is through r·tan A after its axis. A bit's point
    # is half its diameter long at the most (60° included angle gives 0.87 D, and nobody drills wood with that).
    through = to_wall + wire.diameter / 2 * tan(angle) + BREAK_OUT
    bit = choose_bit(
        drill_box(bits),
        wire.diameter,
        ("brad-point", "twist"),
        reach=through + wire.diameter / 2,
        point_angle_rad=bits.point_angle,
    )
    depth = to_wall + bit.diameter / 2 * tan(angle) + BREAK_OUT
    outside = CHUCK_RADIUS * run / wire.lands
    return Bore(
        id="ground-wire",
        role="ground-wire hole",
        group="ground wire",
        face="top",
        at=Point3(wire.entry.x, wire.entry.y, 0.0),
        axis=axis,
        steps=(Step(bit.diameter, depth, bit),),
        meets=frozenset({target.id}),
        why=(
            Reason(
                f"angle from the face = atan({wire.lands:.2f} deep / {run:.2f} away) = {degrees(angle):.1f}°; "
                f"{90 - degrees(angle):.1f}° from upright"
            ),
            Reason(f"the axis reaches the wall of the {target.role} after {to_wall:.2f} mm"),
            Reason(
                f"first contact on the face is an ellipse {bit.diameter / (wire.lands / to_wall):.1f} mm long; "
                f"for a chuck of {CHUCK_RADIUS:g} mm radius to clear the face {outside:.0f} mm of the bit must still be "
                f"outside at full depth: {outside + depth + bit.point:.0f} mm from its point to the chuck"
            ),
        ),
    )


def angle_from_face_deg(bore: Bore) -> float:
    """Angle between a bore's axis and the surface it is cut from, degrees."""
    return degrees(asin(min(1.0, bore.angle_from_face_sine)))


def entry_ellipse(bore: Bore) -> tuple[float, float]:
    """Length and width of a bore's mouth on its face, mm: D/sin A along the heading, D across."""
    return bore.widest / bore.angle_from_face_sine, bore.widest
