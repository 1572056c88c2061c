"""Filling a hole and drilling it anew: beside the old one, in a plug, or in a let-in patch; with the wood round each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil
from typing import TYPE_CHECKING

from scribeline.features import (
    Bit,
    Bore,
    Feature,
    Features,
    Plug,
    Pocket,
    Step,
    arc_segments,
    balloon,
    plug_round,
    polygon,
    workpiece_of,
)
from scribeline.findings import Limit, limit_in
from scribeline.layout import Point, Point3, Ring
from scribeline.lengths import said
from scribeline.rescue.hiding import Hidden, hidden
from scribeline.rescue.off import apart
from scribeline.rescue.way import Wood
from scribeline.solid import find_outside, find_webs
from scribeline.tables import PLUG_WALL, plug_sizes

if TYPE_CHECKING:
    from scribeline.plan import Plan

WEB_BORES, WEB_POCKET = Limit.of("bore_web"), Limit.of("pocket_web")
EDGE, FLOOR = Limit.of("body_edge"), Limit.of("bore_floor")

PLUGGED = "plug-"
"""What the id of a plug's hole begins with, before that of the cut it fills."""


@dataclass(frozen=True, slots=True)
class Patch:
    """A slot for a let-in patch: round the old hole, and with a plug's wall round the new one.

    Attributes:
        outline: of it, mm.
        length: along the line between the two middles, mm.
        width: across it, mm.
    """

    outline: Ring
    length: float
    width: float


@dataclass(frozen=True, slots=True)
class Refit:
    """One hole filled and drilled anew.

    Attributes:
        old: as it was made.
        new: as it will be; None where it is only filled.
        away: from middle to middle, mm.
        web: wood between the two, mm; below 0 where they run into each other.
        plug: what the old one is filled with; None where no plug is wide enough, or the old one is filled with its own size.
        beside: whether the new one goes into the body's own wood, clear of old hole and plug.
        depth: of the plug, mm.
        wood: the least round the plug's hole.
        hidden: how what shows of it is hidden once all is together.
        centre: middle of the plug.
        patch: where no plug goes, what is let in instead: a slot round the old hole and the wall round the new one.
    """

    old: Bore
    new: Bore | None
    away: float
    web: float
    plug: Plug | None
    beside: bool
    depth: float
    wood: tuple[Wood, ...]
    hidden: Hidden
    centre: Point
    patch: Patch | None = None

    @property
    def filled(self) -> float:
        """How wide what fills the old hole is, mm: a diameter, or a patch's length."""
        if self.patch is not None:
            return self.patch.length
        return self.old.widest if self.plug is None else self.plug.diameter

    @property
    def fault(self) -> str:
        """Why it cannot be, with the number; "" where it can."""
        if self.plug is None and self.patch is None and not self.beside:
            wide = said(plug_sizes()[-1].diameter)
            return f"no plug that cutters make, up to {wide}, holds the old hole and the new one {said(self.away)} from it"
        thin = [each for each in self.wood if not each.holds]
        what = "the plug's hole" if self.patch is None else "a patch"
        return f"{what} {worst(thin).short}" if thin else ""


def worst(wood: Sequence[Wood]) -> Wood:
    """Where most is missing."""
    return min(wood, key=lambda each: each.mm - each.need)


def refit(plan: Plan, old: Bore, new: Bore | None, rest: Features) -> Refit:
    """How one hole is filled and drilled anew.

    Args:
        plan: as it will be: its parts hide what is under them.
        old: the hole as it was made.
        new: as it is to be; None where the job has it no more.
        rest: the other cuts of the same workpiece as they will be.
    """
    away = 0.0 if new is None else apart(old, new)
    wide = 0.0 if new is None else new.widest
    web = away - (old.widest + wide) / 2
    beside = new is None or web >= PLUG_WALL - 1e-9
    plug = _beside_it(old, away, wide) if beside else plug_round(old.widest, wide, away)
    centre = _centre(old, new, away, plug)
    depth = _deep(plan, old)
    wood: tuple[Wood, ...] = ()
    if plug is not None:
        wood = tuple(wood_round(plan, _hole(old, centre, plug.diameter, depth), rest, old.meets))
        if beside and any(not each.holds for each in wood):
            plug, wood, centre = None, (), Point(old.at.x, old.at.y)  # a dowel of the hole's own size will do
    patch = None
    if new is not None and not beside and (plug is None or any(not each.holds for each in wood)):
        patch = _patch(old, new, away)
        if patch is not None:
            round_it = tuple(wood_round(plan, _recess(old, patch, depth), rest, old.meets))
            if plug is None or all(each.holds for each in round_it):
                plug, wood, centre = None, round_it, _middle(patch)
            else:
                patch = None
    wide = old.widest if plug is None else plug.diameter
    shown = hidden(plan, new or old, centre, (wide if patch is None else patch.length) / 2)
    return Refit(old, new, away, web, plug, beside, depth, wood, shown, centre, patch)


def _patch(old: Bore, new: Bore, away: float) -> Patch | None:
    """The slot for a patch; None where the two are not drilled square to one face."""
    if not (old.is_upright and new.is_upright) or workpiece_of(old.id) != "body":
        return None
    import shapely

    wall = new.widest / 2 + PLUG_WALL
    rounds = (
        shapely.Point(hole.at.x, hole.at.y).buffer(radius, quad_segs=arc_segments(radius))
        for hole, radius in ((old, old.widest / 2), (new, wall))
    )
    hull = shapely.orient_polygons(shapely.union_all(list(rounds)).convex_hull)
    corners = shapely.get_coordinates(hull.exterior)[:-1].tolist()
    length = max(away + old.widest / 2, wall) + wall
    return Patch(Ring(Point(x, y) for x, y in corners), length, max(old.widest, 2 * wall))


def _middle(patch: Patch) -> Point:
    xs, ys = [place.x for place in patch.outline], [place.y for place in patch.outline]
    return Point((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)


def _recess(old: Bore, patch: Patch, depth: float) -> Pocket:
    """What is routed for a patch."""
    return Pocket(f"{PLUGGED}{old.id}", old.role, old.face, patch.outline, depth, 0.0, meets=old.meets)


def _beside_it(old: Bore, away: float, wide: float) -> Plug | None:
    """The least plug round an old hole that leaves the body's wood between itself and the new one."""
    plug = plug_round(old.widest, 0.0, 0.0)
    if plug is None or not wide:
        return plug
    return plug if away - (plug.diameter + wide) / 2 >= PLUG_WALL - 1e-9 else None


def _centre(old: Bore, new: Bore | None, away: float, plug: Plug | None) -> Point:
    if new is None or plug is None or plug.aside < 1e-9 or away < 1e-9:
        return Point(old.at.x, old.at.y)
    share = plug.aside / away
    return Point(old.at.x + share * (new.at.x - old.at.x), old.at.y + share * (new.at.y - old.at.y))


def _deep(plan: Plan, old: Bore) -> float:
    """How deep a plug goes: to the old hole's end and on to a half, unless that leaves too little under it."""
    deep = old.deepest.point_reaches
    onwards = ceil(round(deep * 2, 6)) / 2
    if workpiece_of(old.id) != "body" or old.through or not old.is_upright:
        return onwards
    most = plan.layout.thickness - limit_in(plan.job.document, FLOOR).caution
    return onwards if onwards <= most + 1e-9 else max(min(deep, most), old.deepest.depth)


def _hole(old: Bore, centre: Point, diameter: float, depth: float) -> Bore:
    """What is drilled for a plug."""
    bit = Bit("flat-bottomed", diameter, 0.0)
    return replace(
        old,
        id=f"{PLUGGED}{old.id}",
        at=Point3(centre.x, centre.y, old.at.z),
        steps=(Step(diameter, depth, bit),),
        screw=None,
    )


def widened(new: Bore, *diameters: float) -> Bore:
    """A hole made so wide for a larger part, one diameter a step."""
    steps = zip(new.steps, diameters, strict=True)
    return replace(
        new,
        id=f"{PLUGGED}{new.id}",
        steps=tuple(replace(step, diameter=diameter) for step, diameter in steps),
        screw=None,
    )


def wood_round(
    plan: Plan, hole: Bore | Pocket, rest: Features, meets: frozenset[str] = frozenset()
) -> Iterator[Wood]:
    """The wood between a hole and its neighbours and the outside, with what the checks allow; only what is thin or nearest.

    Args:
        plan: whose limits hold.
        hole: the hole.
        rest: all other cuts of its workpiece.
        meets: ids of those that it runs into on purpose.
    """
    by_id = {each.id: each for each in rest}
    found = []
    layout, document = plan.layout, plan.job.document
    alone = Features((hole,), ()) if isinstance(hole, Bore) else Features((), (hole,))
    for web in find_webs(rest + alone, layout.thickness, apart={hole.id}):
        other = web.b if web.a == hole.id else web.a
        if other in meets or web.on_purpose:
            continue
        bores = isinstance(by_id[other], Bore) and isinstance(hole, Bore)
        limit = limit_in(document, WEB_BORES if bores else WEB_POCKET)
        need = limit.caution if limit.stop is None else limit.stop
        found.append(Wood(called(by_id[other]), web.mm - web.overlap, need))
    yield from sorted(found, key=lambda each: each.mm - each.need)[:3]
    if workpiece_of(hole.id.removeprefix(PLUGGED)) == "body" and hole.face in {"top", "back"}:
        limit = limit_in(document, EDGE)
        (outside,) = find_outside(alone, layout.outline, layout.thickness, form=layout.body)
        yield Wood("the body's edge", outside.to_edge, limit.caution if limit.stop is None else limit.stop)
    else:
        piece = plan.neck if workpiece_of(hole.id.removeprefix(PLUGGED)) == "neck" else plan.head
        if piece is not None and isinstance(hole, Bore) and hole.is_upright:
            import shapely

            inside = polygon(piece.outline)
            spot = shapely.Point(hole.at.x, hole.at.y)
            edge = (1 if inside.covers(spot) else -1) * inside.boundary.distance(spot) - hole.widest / 2
            limit = limit_in(document, EDGE)
            yield Wood(f"the {piece.name}'s edge", edge, limit.caution if limit.stop is None else limit.stop)


def called(cut: Feature) -> str:
    """A neighbour in bench words."""
    if cut.id.startswith(PLUGGED):
        return f"what fills {balloon(cut.id.removeprefix(PLUGGED))}"
    if isinstance(cut, Pocket):
        return f"the {cut.in_words}"
    return balloon(cut.id)


def workpiece_cuts(plan: Plan, name: str) -> Features:
    """All cuts of the workpiece that a cut is in."""
    piece = workpiece_of(name)
    if piece == "body":
        return plan.features
    beside = plan.neck if piece == "neck" else plan.head
    return Features((), ()) if beside is None else beside.features


def refits(meant: Plan, made: Sequence[Bore]) -> tuple[Refit, ...]:
    """Several holes filled and drilled anew together: each keeps clear of the others' plugs too.

    Args:
        meant: the plan with these holes taken back: where each now goes, and what hides it.
        made: the holes as they were made.
    """
    names = {bore.id for bore in made}
    found: list[Refit] = []
    plugs: list[Bore] = []
    patches: list[Pocket] = []
    for bore in made:
        cuts = workpiece_cuts(meant, bore.id)
        new = next((each for each in cuts.bores if each.id == bore.id), None)
        others = Features(
            tuple(each for each in cuts.bores if each.id not in names) + tuple(plugs),
            cuts.pockets + tuple(patches),
        )
        each = refit(meant, bore, new, others)
        found.append(each)
        if each.plug is not None:
            plugs.append(_hole(bore, each.centre, each.plug.diameter, each.depth))
        if each.patch is not None:
            patches.append(_recess(bore, each.patch, each.depth))
    return tuple(found)
