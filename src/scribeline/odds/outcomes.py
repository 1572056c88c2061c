"""What an instrument is held to: every number of the plan that has a limit, as the plan's own functions give it.

An outcome is worked in three ways that agree: by the plan when nothing is off; exactly for one instrument that came out
otherwise (`Instrument.values`); and by its rates, from differences through the same functions (`Instrument.rates`), for a
million of them. The last is linear, and `Odds` says how far that was off in instruments that were worked out exactly.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np

from scribeline.features import (
    Bore,
    Feature,
    Features,
    Pocket,
    Row,
    ferrule_fit,
    ferrule_row,
    meeting_overlap,
    most_wood,
    off_row,
    roof_over,
)
from scribeline.findings import Limit, limit_in
from scribeline.findings.bridge import MARGIN, SIDES
from scribeline.findings.controls import IN_HAND, every_control
from scribeline.findings.edge import FACE
from scribeline.findings.heights import BOARD, CLOSE, RISE, reached, under_board
from scribeline.findings.holes import LIP_WEB, LOOSEST_LIP, LOOSEST_PRESS, MEETING, TIGHTEST_PRESS
from scribeline.findings.numbers import FERRULE_ROW
from scribeline.findings.wood import edge_limit, floor_limit, web_limit
from scribeline.job import Document
from scribeline.layout import Layout, kind_of, lay_out, measurables, saddle_heights
from scribeline.odds.places import (
    THICKNESS,
    Coordinate,
    Off,
    all_displaced,
    displaced,
    with_anchors,
    with_stated,
)
from scribeline.odds.sources import setback_of
from scribeline.plan import Plan
from scribeline.solid import DRIFT, Outside, Web, find_outside, find_webs, web_id
from scribeline.strings import farthest_wanted, nearest_wanted

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

OutcomeKind = Literal["reading", "travel", "margin", "height", "wood", "fit"]

Values = Mapping[str, float]
"""Outcomes by their ids, mm."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """A number of the plan that has limits.

    Attributes:
        id: of the number, as the plan names it where it has a name.
        kind: what sort of number.
        of: ids of the cuts, or numbers of the strings, that it belongs to.
        value: as planned, mm.
        low: past which the work fails; None where it has no such limit.
        high: likewise above.
        caution_low: past which a builder is cautioned.
        caution_high: likewise above.
        limit: key of its row in the table of limits; "" where the plan itself gives its limits.
    """

    id: str
    kind: OutcomeKind
    of: tuple[str, ...]
    value: float
    low: float | None = None
    high: float | None = None
    caution_low: float | None = None
    caution_high: float | None = None
    limit: str = ""


_FURTHER = 6.0
"""Wood that lies further than this over its caution is beyond every error; it is not looked at, mm."""


@dataclass(frozen=True)
class Instrument:
    """One plan's instrument, worked out as it may come out.

    Attributes:
        plan: of it.
    """

    plan: Plan

    @property
    def _document(self) -> Document:
        return self.plan.job.document

    def _limit(self, usual: Limit) -> Limit:
        return limit_in(self._document, usual)

    @cached_property
    def _leading(self) -> tuple[Bore, ...]:
        return self.plan.features.family(kind_of(self._document.bridge).family)

    @cached_property
    def _by_id(self) -> Mapping[str, Feature]:
        return {feature.id: feature for feature in self.plan.features}

    # --- which there are --------------------------------------------------------------------------------

    @cached_property
    def outcomes(self) -> tuple[Outcome, ...]:
        """Every outcome, each once."""
        return (*self._laid_outcomes(), *self._fit_outcomes(), *self._wood_outcomes())

    @cached_property
    def _planned(self) -> Values:
        return self._laid({}) | self._fits({})

    def _laid_outcomes(self) -> Iterator[Outcome]:
        values = self._planned
        for each in self.plan.measurables:
            # What may only be over its number is filed to between its limits.
            value = values[each.id] if each.low < each.value else (each.low + each.high) / 2
            yield Outcome(each.id, "reading", (), value, each.low, each.high)
        reserve, edge, rise = self.plan.layout.window.wanted_reserve, self._limit(MARGIN), self._limit(RISE)
        sides, board, close = self._limit(SIDES), self._limit(BOARD), self._limit(CLOSE)
        for name, value in values.items():
            what, _, rest = name.partition(".")
            match what:
                case "travel":
                    yield Outcome(name, "travel", (rest,), value, low=0.0, caution_low=reserve)
                case "margin":
                    yield _above(name, "margin", (rest,), value, edge)
                case "sides-differ":
                    most = sides.caution
                    yield Outcome(
                        name, "margin", (), value, caution_low=-most, caution_high=most, limit=sides.key
                    )
                case "saddle-room":
                    yield _above(name, "height", (rest,), value, rise)
                case "heights-off":
                    most = close.caution
                    yield Outcome(
                        name, "height", (), value, caution_low=-most, caution_high=most, limit=close.key
                    )
                case "board-over-top":
                    yield _above(name, "height", (), value, board)

    def _fit_outcomes(self) -> Iterator[Outcome]:
        values = self._planned
        meeting, thread = self._limit(MEETING), self._limit(IN_HAND)
        loose = {"lip": self._limit(LOOSEST_LIP), "body": self._limit(LOOSEST_PRESS)}
        tight, row = self._limit(TIGHTEST_PRESS), self._limit(FERRULE_ROW)
        for name, value in values.items():
            head, _, what = name.rpartition(".")
            if what == "overlap":
                yield _above(name, "fit", (head,), value, meeting)
            elif what == "row":
                most = row.caution
                yield Outcome(
                    name, "fit", (head,), value, caution_low=-most, caution_high=most, limit=row.key
                )
            elif what == "thread-left":
                yield _above(name, "fit", (head,), value, thread)
            elif what.endswith("-play"):
                limit = loose[what.removesuffix("-play")]
                yield Outcome(
                    name,
                    "fit",
                    (head,),
                    value,
                    caution_low=-tight.caution,
                    caution_high=limit.caution,
                    limit=limit.key,
                )

    def _wood_outcomes(self) -> Iterator[Outcome]:
        for web in self.plan.webs:
            limit = None if web.on_purpose else self._web_limit(web)
            if limit is not None and web.mm < limit.caution + _FURTHER:
                name, value = web_id(web.a, web.b), web.mm - web.overlap
                yield _above(name, "wood", (web.a, web.b), value, limit)
        for outside in self.plan.outside:
            for name, value, usual in self._outer(outside):
                limit = self._limit(usual)
                if value < limit.caution + _FURTHER:
                    yield _above(name, "wood", (outside.feature,), value, limit)

    def _web_limit(self, web: Web) -> Limit | None:
        pair = [self._by_id[web.a], self._by_id[web.b]]
        if all(isinstance(cut, Bore) and cut.family == "ferrule-hole" for cut in pair):
            return self._limit(LIP_WEB)
        usual = web_limit(*pair)
        return None if usual is None else self._limit(usual)

    def _outer(self, outside: Outside) -> Iterator[tuple[str, float, Limit]]:
        """The wood between a cut and the outside: each with its id and its usual limit."""
        cut = self._by_id[outside.feature]
        if (floor := floor_limit(cut)) is not None:
            yield f"{cut.id}.to-opposite", outside.to_opposite, floor
        if (edge := edge_limit(cut)) is not None:
            yield f"{cut.id}.to-edge", outside.to_edge, edge
        if cut.face in {"edge", "pocket"}:
            for face, left in (("top", outside.to_top), ("back", outside.to_back)):
                if left is not None:
                    yield f"{cut.id}.to-{face}", left, FACE

    # --- how they come out ------------------------------------------------------------------------------

    def values(self, off: Off) -> Values:
        """Every outcome of an instrument that came out otherwise, worked out exactly by the plan's functions."""
        return self._laid(off) | self._fits(off) | self._wood(off)

    def _laid(self, off: Off) -> dict[str, float]:
        """What follows from where neck, strings and bridge lie to one another."""
        document, layout = self._laid_out(off)
        found = {
            each.id: each.value + off.get(Coordinate("reading", each.id), 0.0)
            for each in measurables(document, layout)
        }
        found |= dict(self._travel(document, layout, off))
        if layout.bridge is not None:
            ends = {"treble": layout.strings[0], "bass": layout.strings[-1]}
            last = {side: string.margins[-1].centre for side, string in ends.items()}
            found |= {f"margin.{side}": margin for side, margin in last.items()}
            found["sides-differ"] = last["treble"] - last["bass"]
        found |= dict(_heights(document, layout))
        return found

    def _laid_out(self, off: Off) -> tuple[Document, Layout]:
        """The job as its parts measure, laid out on the bridge's holes as they lie; the last ones are kept."""
        own = tuple((place, by) for place, by in off.items() if place.kind in _LAYS_OUT and by)
        if own not in self._kept:
            job, record = with_stated(self.plan.job, off), self.plan.record
            if self._leading:
                record = with_anchors(record, self._leading, off)
            if len(self._kept) >= _KEPT:
                self._kept.clear()
            self._kept[own] = job.document, lay_out(job, record)
        return self._kept[own]

    @cached_property
    def _kept(self) -> dict[tuple[tuple[Coordinate, float], ...], tuple[Document, Layout]]:
        return {}

    def _travel(self, document: Document, layout: Layout, off: Off) -> Iterator[tuple[str, float]]:
        """What every saddle has left for every set, of travel that no spread is taken off."""
        if layout.bridge is None or not layout.stringing.is_placed:
            return
        sets, travel = layout.stringing.wanted(), layout.travel
        deviations = document.bench.saddle_deviations
        means, sds = (np.array([getattr(each, key) for each in sets]) for key in ("setback", "sd"))
        foremost = np.array(travel.foremost)
        rearmost = np.array(travel.back) + farthest_wanted(means, sds, deviations).max(axis=0)
        for number, mean in enumerate(means):
            by = np.array([off.get(setback_of(number, i), 0.0) for i in range(len(mean))])
            forward = nearest_wanted(mean + by, sds[number], 0.0) - foremost
            back = rearmost - farthest_wanted(mean + by, sds[number], 0.0)
            for string in range(len(mean)):
                yield f"travel.{number}.{string + 1}.forward", float(forward[string])
                yield f"travel.{number}.{string + 1}.back", float(back[string])

    def _fits(self, off: Off) -> dict[str, float]:
        """How parts go together, and holes that meet."""
        document, layout = with_stated(self.plan.job, off).document, self.plan.layout
        layout = replace(layout, thickness=layout.thickness + off.get(THICKNESS, 0.0))
        features = all_displaced(self.plan.features, off)
        ferrules = {bore.id: bore for bore in features.family("ferrule-hole")}
        found = {
            f"{name}.overlap": meeting_overlap(top, ferrules[name])
            for top in features.family("string-hole")
            for name in sorted(top.meets)
            if name in ferrules
        }
        if ferrules:
            fit = ferrule_fit(document)
            first = next(iter(ferrules.values()))
            for no, (part, wanted) in enumerate((("lip", fit.lip), ("body", fit.body))):
                if len(first.steps) > no:
                    found[f"ferrules.{part}-play"] = first.steps[no].diameter - wanted
        found |= self._off_row(features)
        for name, control, place, cavity in every_control(document, layout, features):
            if cavity.face == "back":
                found[f"{name}.thread-left"] = most_wood(control) - roof_over(layout, cavity, place)
        return found

    def _off_row(self, features: Features) -> dict[str, float]:
        """How far each ferrule hole lies off the straight line of its row."""
        if self._row is None:
            return {}
        places = [bore.at for bore in features.family("ferrule-hole")]
        return {f"{name}.row": off for name, off in zip(self._row.names, off_row(places), strict=True)}

    @cached_property
    def _row(self) -> Row | None:
        return ferrule_row(self.plan.features.family("ferrule-hole"))

    def _wood(self, off: Off) -> dict[str, float]:
        """The wood that is left."""
        layout, thickness = self.plan.layout, self.plan.layout.thickness + off.get(THICKNESS, 0.0)
        features = all_displaced(self.plan.features, off)
        found = {
            web_id(web.a, web.b): web.mm - web.overlap
            for web in find_webs(features, thickness, near=_NEAR, drift=DRIFT)
        }
        outer = find_outside(features, layout.outline, thickness, drift=DRIFT, form=layout.body)
        return found | {name: value for each in outer for name, value, _ in self._outer(each)}

    # --- at what rates ----------------------------------------------------------------------------------

    def rates(self, coordinates: Sequence[Coordinate]) -> Floats:
        """How every outcome answers to every coordinate, shape (outcomes, coordinates), by central differences."""
        row = {outcome.id: n for n, outcome in enumerate(self.outcomes)}
        found = np.zeros((len(row), len(coordinates)))
        cut = [each for each in coordinates if each.of in self._by_id and each.kind not in _ANCHOR]
        for column, coordinate in enumerate(coordinates):
            step = _STEPS[coordinate.kind]
            pair: list[dict[str, float]] = []
            for by in (step, -step):
                off = {coordinate: by}
                values: dict[str, float] = {}
                if coordinate.kind in _LAID:
                    values |= self._laid(off)
                if coordinate.kind in _FITTED:
                    values |= self._fits(off)
                elif self._row is not None and coordinate.of in self._row.names:
                    values |= self._off_row(all_displaced(self.plan.features, off))
                if coordinate == THICKNESS:
                    values |= self._wood(off)
                pair.append(values)
            for name in pair[0]:
                if name in row:
                    found[row[name], column] = (pair[0][name] - pair[1][name]) / (2 * step)
        self._wood_rates(found, row, cut, {each: n for n, each in enumerate(coordinates)})
        return found

    def _wood_rates(
        self,
        found: Floats,
        row: Mapping[str, int],
        cut: Sequence[Coordinate],
        column: Mapping[Coordinate, int],
    ) -> None:
        """The rates of the wood that is left: every cut twice for each of its coordinates, measured all at once."""
        layout = self.plan.layout
        copies: dict[str, tuple[Coordinate, float]] = {}
        made: list[Feature] = []
        for coordinate in cut:
            for by in (_STEPS[coordinate.kind], -_STEPS[coordinate.kind]):
                name = f"{coordinate.of}|{len(made)}"
                copies[name] = coordinate, by
                made.append(displaced(self._by_id[coordinate.of], {coordinate: by}, name=name))
        if not made:
            return
        as_planned = all_displaced(self.plan.features, {})
        every = _gathered([*as_planned, *made])
        near = max((o.value for o in self.outcomes if o.kind == "wood"), default=0.0) + 1.0

        def add(outcome: str, name: str, value: float) -> None:
            if outcome in row:
                coordinate, by = copies[name]
                found[row[outcome], column[coordinate]] += value / (2 * by)

        for web in find_webs(every, layout.thickness, near=near, drift=DRIFT, apart=frozenset(copies)):
            name, other = (web.a, web.b) if web.a in copies else (web.b, web.a)
            own = copies[name][0].of
            for pair in (web_id(own, other), web_id(other, own)):
                add(pair, name, web.mm - web.overlap)
        outer = find_outside(_gathered(made), layout.outline, layout.thickness, drift=DRIFT, form=layout.body)
        for each in outer:
            planned = replace(each, feature=copies[each.feature][0].of)
            for outcome, value, _ in self._outer(planned):
                add(outcome, each.feature, value)


def _gathered(cuts: Sequence[Feature]) -> Features:
    return Features(
        tuple(cut for cut in cuts if isinstance(cut, Bore)),
        tuple(cut for cut in cuts if isinstance(cut, Pocket)),
    )


def _heights(document: Document, layout: Layout) -> Iterator[tuple[str, float]]:
    stringing, bridge = layout.stringing, document.bridge
    yield "board-over-top", under_board(document)
    if not stringing.is_placed:
        return
    if bridge.lowest is None and bridge.highest is None:
        yield "heights-off", bridge.saddle_height.mm - float(np.mean(saddle_heights(document, stringing)))
        return
    if bridge.lowest is not None:
        for number, least in enumerate(reached(document, stringing, -1), start=1):
            yield f"saddle-room.{number}.down", least - bridge.lowest.mm
    if bridge.highest is not None:
        for number, most in enumerate(reached(document, stringing, 1), start=1):
            yield f"saddle-room.{number}.up", bridge.highest.mm - most


def _above(name: str, kind: OutcomeKind, of: tuple[str, ...], value: float, limit: Limit) -> Outcome:
    return Outcome(name, kind, of, value, low=limit.stop, caution_low=limit.caution, limit=limit.key)


_NEAR = 20.0
_ANCHOR = {"anchor-x", "anchor-y"}
_LAID = {"anchor-x", "anchor-y", "stated", "setback", "reading"}
_LAYS_OUT = {"anchor-x", "anchor-y", "stated"}
_KEPT = 8
"""Layouts that are kept: that of an instrument with nothing off is asked for again and again."""
_FITTED = {"stated", "depth", "thickness"}
_STEPS: dict[str, float] = {
    "u": 0.1,
    "v": 0.1,
    "lean-u": 0.002,
    "lean-v": 0.002,
    "depth": 0.1,
    "size": 0.001,
    "thickness": 0.1,
    "anchor-x": 0.1,
    "anchor-y": 0.1,
    "stated": 0.02,
    "setback": 0.1,
    "reading": 0.1,
}
"""Steps of the differences, mm, rad or mm per mm: about half of what is usual, so that a rate is that of real errors."""
