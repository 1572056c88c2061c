"""What lies over a place when the instrument is together, and how much of a hole or plug there it hides."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scribeline.features import COVER_RECESS, Bore, Pocket, polygon
from scribeline.findings import Limit, limit_in
from scribeline.layout import NECK_POCKET, Point, Ring
from scribeline.lengths import no_less, said
from scribeline.rescue.off import NOTICED
from scribeline.tables import SEAM_COVER

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scribeline.plan import Plan
    from scribeline.rescue.off import Off

UNDER_A_PART = Limit.of("under_plate")

_SIDES = 32
"""Sides by which the round lip of a ferrule is drawn."""


@dataclass(frozen=True, slots=True)
class Cover:
    """A part over the wood.

    Attributes:
        name: in bench words.
        outline: seen from the front, mm.
    """

    name: str
    outline: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Hidden:
    """How a round place is hidden.

    Attributes:
        cover: the part that hides it best; None where none lies there.
        margin: by how much that reaches beyond it all round, mm; below 0 by how much it sticks out.
        visible: the widest part that shows, mm; 0 where it is hidden.
        inside: where it lies within a cavity, and nobody looks.
    """

    cover: Cover | None
    margin: float
    visible: float
    inside: bool = False


def hidden(plan: Plan, bore: Bore, centre: Point, radius: float) -> Hidden:
    """What hides a round place round a hole's mouth.

    Args:
        plan: has the parts.
        bore: on whose face it lies.
        centre: its middle.
        radius: mm.
    """
    import shapely

    if bore.face == "pocket" or bore.family == "heel-pilot":
        return Hidden(None, 0.0, 0.0, inside=True)
    least = limit_in(plan.job.document, UNDER_A_PART).caution
    best: Hidden | None = None
    spot = shapely.Point(centre)
    for cover in covers_on(plan, bore):
        over = polygon(Ring(cover.outline))
        inside = (1 if over.covers(spot) else -1) * over.boundary.distance(spot)
        margin = float(inside) - radius
        if margin <= -2 * radius:
            continue  # it does not reach so far
        shown = 0.0 if margin >= least - 1e-9 else min(2 * radius, max(-margin, 0.0))
        if 0 <= margin < least - 1e-9:
            shown = 2 * radius  # a shift of the part brings it out
        found = Hidden(cover, margin, shown)
        if best is None or found.margin > best.margin:
            best = found
    return best or Hidden(None, 0.0, 2 * radius)


def covers_on(plan: Plan, bore: Bore) -> Iterator[Cover]:
    """The parts that lie on the face a hole is cut from."""
    layout, features = plan.layout, plan.features
    if bore.face == "top" and bore.family not in {"tuner-hole", "tree-screw"}:
        if layout.bridge is not None and layout.bridge.lies_on_the_body:
            noun = layout.bridge.noun
            for outline in layout.bridge.outlines:
                yield Cover(f"the {noun}", outline)
        for pocket in features.pockets:
            if pocket.role == NECK_POCKET:
                yield Cover("the neck", pocket.outline)
    for pocket in features.pockets:
        if pocket.role.endswith(COVER_RECESS) and pocket.face == bore.face:
            yield Cover(f"the cover in the {pocket.in_words}", pocket.outline)
    ferrules = plan.job.document.ferrules
    if bore.family == "ferrule-hole" and ferrules is not None:
        import shapely

        lip = shapely.Point(bore.at.x, bore.at.y).buffer(ferrules.lip_diameter.mm / 2, quad_segs=_SIDES)
        ring = tuple(Point(x, y) for x, y in shapely.get_coordinates(lip.exterior)[:-1].tolist())
        yield Cover("its ferrule's lip", ring)


_BARE = {"string-hole", "ground-wire", "tunnel", "hole"}
"""Holes that no part of their own fills: one that is off shows, and not its part that stands off."""


def left_showing(plan: Plan, wrong: Off) -> tuple[float, str]:
    """What shows of a cut that is left as it is: how wide, mm, and in words."""
    cut = wrong.cut
    if isinstance(cut, Pocket):
        return seam(plan, wrong)
    by = max(0.0, wrong.wider) / 2 + (wrong.away if cut.family in _BARE else 0.0)
    over = hidden(plan, cut, Point(cut.at.x, cut.at.y), cut.widest / 2)
    if by < NOTICED or cut.screw is not None or over.inside or not over.visible:
        return 0.0, "nothing"
    return by, f"the hole, up to {said(by)} beside where its edge was meant"


def seam(plan: Plan, wrong: Off) -> tuple[float, str]:
    """What shows at the face of walls that stand too far out, as a gap or as the strip that fills it."""
    made, wanted = wrong.cut, wrong.wanted
    gap = wrong.walls.widest
    if gap < NOTICED or not (isinstance(made, Pocket) and isinstance(wanted, Pocket)):
        return 0.0, "nothing"
    for each in plan.features.pockets:
        if each.role.endswith(COVER_RECESS) and made.id in each.meets and each.face == made.face:
            return 0.0, "nothing: its cover lies over it"
    if made.role != NECK_POCKET:
        return (
            gap,
            f"a seam {said(gap)} wide; a ring must reach {no_less(gap + SEAM_COVER)} past the planned edge to hide it",
        )
    board = plan.layout.board_ends
    beside = max(abs(place.y) for place in board) - max(abs(place.y) for place in wanted.outline)
    behind = min(place.x for place in board) - max(place.x for place in wanted.outline)
    shown = max(
        max(wrong.walls.treble, wrong.walls.bass) - max(0.0, beside), wrong.walls.tail - max(0.0, behind)
    )
    if shown < NOTICED:
        return 0.0, "nothing: the fingerboard lies over it"
    return shown, f"{said(shown)} of it beside the fingerboard"
