"""The wood that is left, by name: between two cuts, to the outside, and straight ahead of each bit when its step comes.

The wood between two cuts goes by both their ids, `web.ferrule-hole-3.ferrule-hole-4`; the rest by the cut's own:
`string-hole-3.to-edge`, `string-hole-3.step-1.under`. Where the wood is least is found by the search of `solid`; its
distance is worked again from there, of an upright hole from its axis and its width.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, partial
from typing import NamedTuple

from scribeline.features import DRIFT, Feature, Features, Pocket, Slope
from scribeline.features.passing import floor_from_top
from scribeline.job import feature_id
from scribeline.layout import Layout, Point3, across_words, depth_before
from scribeline.lengths import said
from scribeline.quantities import Formula, Input, Quantities, Quantity, hypot, worked
from scribeline.solid.clearance import Outside, Places, Web, web_id
from scribeline.solid.shapes import drift_of
from scribeline.solid.under import Under, floors

Unders = Callable[[], Mapping[tuple[str, int], Under]]
"""The wood under each diameter of each hole, the widest being 1, and under each pocket (1), when its step comes."""

SEARCH = "least between these two places, found by a search over both shapes"
_PROVEN = "a slanting hole's distance is told as far as it is proven, within 0.0001 mm"
_WHOLE = "the least over the whole cut of its distance to that face"
_OPEN = "it comes out into the open"


@dataclass(frozen=True, slots=True)
class Wood:
    """What is known of the wood that is left."""

    webs: tuple[Web, ...]
    outside: tuple[Outside, ...]
    unders: Unders


def name_wood(found: Quantities, layout: Layout, features: Features, wood: Wood) -> None:
    """Name the wood that is left; the cuts' own numbers are named before."""
    namer = _Namer(found, layout, {feature.id: feature for feature in features})
    for web in wood.webs:
        found.later(web_id(web.a, web.b), partial(namer.web, web))
    for outside in wood.outside:
        namer.outside(outside)
    least = cache(lambda: floors(layout, features))
    for feature in features:
        namer.under(feature, wood.unders)
        found.state(f"{feature.id}.floor", partial(_floor, feature.id, least))


def _floor(name: str, least: Callable[[], Mapping[str, float | None]]) -> Quantity:
    what, mm = f"the least wood under {name} in the finished body", least()[name]
    if mm is None:
        return Quantity(f"{name}.floor", what, 0.0, source=_OPEN)
    return Quantity(f"{name}.floor", what, mm, source="found straight ahead of it among all the cuts")


class _End(NamedTuple):
    """One end of a least distance: a place, or an upright hole's axis with its width and the height of the place."""

    x: Input
    y: Input
    z: float
    width: Input


@dataclass(frozen=True)
class _Namer:
    found: Quantities
    layout: Layout
    cuts: Mapping[str, Feature]

    def web(self, web: Web) -> None:
        """Name the wood between two cuts."""
        name, what = web_id(web.a, web.b), f"wood between {web.a} and {web.b}"
        if web.places is not None and web.mm > 0:
            exact = self._is_exact(web.a) and self._is_exact(web.b)
            pair = zip((web.a, web.b), web.places, strict=True)
            one, other = (self._end(cut, place, exact=exact) for cut, place in pair)
            ends = one, other
            self._distance(name, ends, web.mm, web.places, what)
            return
        into = f"they run into each other by about {said(web.overlap)}"
        self.found.give(name, web.mm, what=what, source="they meet on purpose" if web.on_purpose else into)

    def _is_exact(self, name: str) -> bool:
        """Whether a cut's distances are closed forms: of a level pocket, and of an upright hole that does not wander."""
        cut = self.cuts[name]
        if isinstance(cut, Pocket):
            return cut.slope is None
        return cut.is_upright and not drift_of(cut, DRIFT)

    def _end(self, name: str, place: Point3, *, exact: bool) -> _End:
        bore, treble = self.cuts[name], self.layout.treble
        if isinstance(bore, Pocket) or not exact:
            return _End(place.x, place.y * treble, place.z, 0.0)
        width = 2 * hypot(place.x - bore.at.x, place.y - bore.at.y)
        near = (no for no, each in enumerate(bore.steps, 1) if abs(each.diameter - width) < _NOTHING)
        own = [f"{name}.step-{no}.diameter" for no in near]
        return _End(f"{name}.x", f"{name}.across", place.z, own[0] if own else width)

    def _distance(self, name: str, ends: tuple[_End, _End], mm: float, places: Places, what: str) -> None:
        """Name a least distance by its two ends; its source tells the places."""
        sides = zip(("a", "b"), ends, strict=True)
        inputs: dict[str, Input] = {
            f"{side}_{key}": value for side, end in sides for key, value in end._asdict().items()
        }
        formula: Formula = least_distance
        source = f"{SEARCH}: {self._between(places)}"
        unproven = hypot(*(q - p for p, q in zip(*places, strict=True))) - mm
        if unproven > _NOTHING:
            formula, source = proven_distance, f"{source}; {_PROVEN}"
            inputs["unproven"] = unproven
        elif abs(ends[0].z - ends[1].z) < _NOTHING:
            formula = side_by_side
            del inputs["a_z"], inputs["b_z"]
        self.found.work(name, formula, inputs, what=what, source=source, planned=mm)

    def _between(self, places: Places) -> str:
        return "; and ".join(self._words(place) for place in places)

    def _words(self, place: Point3) -> str:
        across = across_words(place.y * self.layout.treble, 1)
        return f"{said(place.x, 1)} from the nut, {across}, {said(-place.z, 1)} under the top"

    def outside(self, outside: Outside) -> None:
        """Name the wood from a cut to the body's edge and to its faces."""
        name, give = outside.feature, self.found.give
        self.found.later(f"{name}.to-edge", partial(self._edge, outside))
        self._opposite(outside)
        for face, mm in (("top", outside.to_top), ("back", outside.to_back)):
            if mm is not None:
                give(f"{name}.to-{face}", mm, what=f"wood from {name} to the {face}", source=_WHOLE)
        for gap in outside.surfaces:
            source = f"{SEARCH}: {self._between(gap.places)}"
            words = f"wood from {name} to {gap.surface}"
            give(f"{name}.to-{feature_id(gap.surface)}", gap.mm, what=words, source=source)

    def _edge(self, outside: Outside) -> None:
        name, give = outside.feature, self.found.give
        what = f"wood from {name} to the body's edge"
        if outside.edge_places is None:
            give(f"{name}.to-edge", outside.to_edge, what=what, source="it runs out of the body's edge")
        else:
            cut, edge = outside.edge_places
            ends = (
                self._end(name, cut, exact=self._is_exact(name)),
                _End(edge.x, edge.y * self.layout.treble, edge.z, 0.0),
            )
            self._distance(f"{name}.to-edge", ends, outside.to_edge, outside.edge_places, what)

    def _opposite(self, outside: Outside) -> None:
        """Name what is left to the face beyond: of an upright cut in a flat body, what its depth leaves of the wood."""
        cut, name = self.cuts[outside.feature], f"{outside.feature}.to-opposite"
        what = f"wood from {cut.id} to the face beyond it"
        if isinstance(cut, Pocket) and cut.slope is not None and outside.opposite_places is not None:
            self._lowest_floor(cut, cut.slope, outside.opposite_places[0].x)
        if self._is_upright(cut) and self.layout.body.is_plain:
            formula, inputs = self._ahead(cut, _far_face(cut), _deepest(cut), point=True)
            self.found.work(name, formula, inputs, what=what, planned=outside.to_opposite)
            return
        places = outside.opposite_places
        source = _WHOLE + ("" if places is None else f": {self._between(places)}")
        self.found.give(name, outside.to_opposite, what=what, source=source)

    def _lowest_floor(self, cut: Pocket, slope: Slope, x: float) -> None:
        """Name the height of a floor that leans where it is lowest within the body."""
        deep = f"{cut.id}.greatest-depth"
        inputs: dict[str, Input] = {
            "depth": f"{cut.id}.depth",
            "before": slope.at - x,
            "angle": f"{cut.id}.floor-angle",
        }
        what = f"depth of the {cut.in_words} where it is deepest within the body"
        self.found.work(deep, depth_before, inputs, what=what, planned=cut.depth_at(x))
        what = f"height of the floor of the {cut.in_words} there"
        self.found.work(f"{cut.id}.lowest-floor", floor_from_top, {"depth": deep}, what=what)

    @staticmethod
    def _is_upright(cut: Feature) -> bool:
        return cut.face in {"top", "back"} and (isinstance(cut, Pocket) or cut.is_upright)

    @staticmethod
    def _ahead(cut: Feature, far: str, no: int, *, point: bool) -> tuple[Formula, dict[str, Input]]:
        """The formula of the wood from an upright cut's end to a height beyond it."""
        down = cut.face == "top"
        if isinstance(cut, Pocket):
            floor = f"{cut.id}.{'floor-height' if cut.slope is None else 'lowest-floor'}"
            return (under_floor if down else over_floor), {"floor": floor, "far": far}
        end = f"{cut.id}.step-{no}.{'reach' if point else 'depth'}"
        return (ahead_down if down else ahead_up), {"start": f"{cut.id}.z", "far": far, "end": end}

    def under(self, cut: Feature, unders: Unders) -> None:
        """Name the wood straight ahead of each of a cut's bits when its step comes."""
        if isinstance(cut, Pocket):
            name = f"{cut.id}.under"
            self.found.state(name, partial(self._under, name, cut, 1, unders, point=False))
            return
        for no in range(1, len(cut.steps) + 1):
            for part in ("under", "under-point"):
                name, point = f"{cut.id}.step-{no}.{part}", part == "under-point"
                self.found.state(name, partial(self._under, name, cut, no, unders, point=point))

    def _under(self, name: str, cut: Feature, no: int, unders: Unders, *, point: bool) -> Quantity:
        whose = "the floor" if isinstance(cut, Pocket) else "the point" if point else "the full diameter"
        what = f"wood under {whose} of {cut.id} when that step comes"
        under = unders().get((cut.id, no))
        mm = None if under is None else under.point if point else under.full
        if under is None or mm is None:
            return Quantity(name, what, 0.0, source=_OPEN if under else "it is made already: no step comes")
        for far in self._beyond(cut, under):
            formula, inputs = self._ahead(cut, far, no, point=point)
            known = {key: self.found[str(each)] for key, each in inputs.items()}
            told = worked(name, formula, known, what=what, source=f"straight ahead lies {_called(far)}")
            if abs(told.value - mm) < _NOTHING:
                return told
        source = f"found straight ahead of the bit and its rim: {under.beyond or 'the far side'}"
        return Quantity(name, what, mm, source=source)

    def _beyond(self, cut: Feature, under: Under) -> tuple[str, ...]:
        """Heights at which what lies ahead of an upright cut may begin, by name."""
        if not self._is_upright(cut):
            return ()
        beyond = self.cuts.get(under.beyond)
        floor = (f"{beyond.id}.floor-height",) if isinstance(beyond, Pocket) else ()
        return (*floor, _far_face(cut))


def _far_face(cut: Feature) -> str:
    return "the-back" if cut.face == "top" else "the-top"


def _deepest(cut: Feature) -> int:
    return 1 if isinstance(cut, Pocket) else len(cut.steps)


def _called(far: str) -> str:
    return (
        far.replace("the-", "the ") if far.startswith("the-") else f"the {far.removesuffix('.floor-height')}"
    )


_NOTHING = 1e-9
"""Lengths closer than this, mm, are one."""


def side_by_side(*, a_x: float, a_y: float, a_width: float, b_x: float, b_y: float, b_width: float) -> float:
    """Distance of two upright holes of such widths about such axes, mm, or of places, whose width is 0, at one height."""
    return hypot(b_x - a_x, b_y - a_y) - a_width / 2 - b_width / 2


def least_distance(*, a_z: float, b_z: float, **across: float) -> float:
    """The same of places at different heights, mm."""
    return hypot(side_by_side(**across), b_z - a_z)


def proven_distance(*, unproven: float, **ends: float) -> float:
    """The same less what is not proven of it, mm."""
    return least_distance(**ends) - unproven


def ahead_down(start: float, far: float, end: float) -> float:
    """Wood from the end of a cut that goes down from a height to what lies beyond it, mm."""
    return start - far - end


def ahead_up(start: float, far: float, end: float) -> float:
    """The same of a cut that goes up."""
    return far - start - end


def under_floor(floor: float, far: float) -> float:
    """Wood under a floor cut from the top, mm."""
    return floor - far


def over_floor(floor: float, far: float) -> float:
    """Wood over a floor cut from the back, mm."""
    return far - floor
