"""From the layout and the parts to the holes and pockets: what is cut where, how deep, with which bit.

Each family of cuts has a module of its own; this one puts them together.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import hypot, sqrt

from scribeline.features.bridge_anchors import bridge_anchors
from scribeline.features.controls import shaft_holes
from scribeline.features.cover_screws import cover_screws
from scribeline.features.cuts import Bore, Family, Pocket
from scribeline.features.edge import edge_bores, opened_by_jack
from scribeline.features.holding import holdings
from scribeline.features.holes import stated_holes
from scribeline.features.neck_screws import neck_screw_holes
from scribeline.features.pockets import as_routed, make_pockets
from scribeline.features.rings import polygon
from scribeline.features.string_holes import ferrule_holes, string_holes
from scribeline.features.wall_screws import wall_screws
from scribeline.job import EMPTY, Document, Record, feature_id
from scribeline.layout import ANCHORS, Layout, Point, Ring, TunnelPlace


@dataclass(frozen=True, slots=True)
class Features:
    """Everything that is cut."""

    bores: tuple[Bore, ...]
    pockets: tuple[Pocket, ...]

    def __iter__(self) -> Iterator[Bore | Pocket]:
        yield from self.pockets
        yield from self.bores

    def __add__(self, other: Features) -> Features:
        """The cuts of both, such as those of several workpieces."""
        return Features(self.bores + other.bores, self.pockets + other.pockets)

    def family(self, *names: Family) -> tuple[Bore, ...]:
        """The bores of these families, in order."""
        return tuple(bore for bore in self.bores if bore.family in names)

    @property
    def anchors(self) -> tuple[Bore, ...]:
        """The holes that hold the bridge."""
        return self.family(*ANCHORS)

    def rows(self) -> tuple[tuple[Bore, ...], ...]:
        """The bores that go together, row by row, in order."""
        found: dict[tuple[Family, str], list[Bore]] = {}
        for bore in self.bores:
            found.setdefault(bore.row, []).append(bore)
        return tuple(map(tuple, found.values()))

    def pocket(self, identity: str) -> Pocket:
        """The pocket with this id."""
        return next(pocket for pocket in self.pockets if pocket.id == identity)

    def led_to(self, place: TunnelPlace) -> Pocket:
        """The pocket in whose wall a wire hole comes out; the room inside a bushing's hole counts as one."""
        if not place.bushing:
            return self.pocket(place.target)
        hole = next(bore for bore in self.bores if bore.id == place.bushing)
        return _room_inside(hole, place.into, self.pocket(feature_id(place.pocket)))


def _room_inside(hole: Bore, name: str, source: Pocket) -> Pocket:
    """A room with flat walls inside an upright hole from the top: what opens in its wall opens in the hole's side.

    Its wide walls, √3 of the hole's radius, stand half that radius to either side of the axis, square to the way from
    the pocket that the drill comes from.
    """
    import shapely

    way = shapely.shortest_line(shapely.Point(hole.at.x, hole.at.y), polygon(source.outline).exterior)
    x, y = shapely.get_coordinates(way)[1] - (hole.at.x, hole.at.y)
    run = max(hypot(x, y), 1e-9)
    out = float(x) / run, float(y) / run
    radius, deep = hole.deepest.diameter / 2, hole.deepest.depth - hole.at.z
    corners = (
        (ahead * radius / 2, aside * sqrt(3) * radius / 2)
        for ahead, aside in ((1, -1), (1, 1), (-1, 1), (-1, -1))
    )
    ring = Ring(
        Point(hole.at.x + u * out[0] - v * out[1], hole.at.y + u * out[1] + v * out[0]) for u, v in corners
    )
    return Pocket(hole.id, name, "top", ring, deep, 0.0)


def make_features(document: Document, layout: Layout, record: Record = EMPTY) -> Features:
    """Every hole and pocket of the instrument; those that hang on the bridge only once it has a place."""
    pockets = opened_by_jack(document, as_routed(make_pockets(layout), record))
    bores = (
        *bridge_anchors(document, layout),
        *string_holes(document, layout),
        *ferrule_holes(document, layout, record),
        *edge_bores(document, layout, pockets),
        *neck_screw_holes(document, layout, pockets),
        *shaft_holes(document, layout, pockets),
        *stated_holes(document, layout, pockets),
        *cover_screws(document, layout, record),
        *wall_screws(document, layout, pockets),
    )
    return Features(tuple(_with_holding(document, layout, bores)), pockets)


def _with_holding(document: Document, layout: Layout, bores: tuple[Bore, ...]) -> Iterator[Bore]:
    """The bores, those of loaded screws with what they bear and hold among their reasons."""
    why = {hold.bore: held.why for held in holdings(document, layout, bores) for hold in held.holds}
    for bore in bores:
        yield replace(bore, why=(*bore.why, *why[bore.id])) if bore.id in why else bore
