"""What each screw bears and what it holds: estimates, derived in docs/holding.md.

The load comes from the strings and from a plain model of the plate; what a screw holds comes from the Wood
Handbook's rules in `tables.screw_holding`. Neither is a promise.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot, inf

from scribeline import tables
from scribeline.features.cuts import Bore, Family, Reason
from scribeline.features.neck_inserts import heel_insert
from scribeline.features.neck_screws import heel_screw
from scribeline.features.rings import polygon
from scribeline.features.screws import POINT_SHARE
from scribeline.job import Document
from scribeline.layout import AnchorLoad, Layer, Layout, Loads, Point, Pressed, Screwed, Threaded, kind_of
from scribeline.layout.bridges.plate import MODEL_SOURCE
from scribeline.tables import (
    BEARING_SOURCE,
    GRAVITY_CV,
    LAG_SOURCE,
    LATERAL_SOURCE,
    WITHDRAWAL_SOURCE,
    Timber,
    bearing_along_grain,
    lag_withdrawal_n,
    lateral,
    pole_load,
    size_was_tested,
    withdrawal_n,
)

JERK = 5.0
"""How many times the instrument's weight one strap button bears in a jerk (our own choice)."""

TYPICAL_REST_KG = 1.8
"""Neck, tuners, bridge and electrics where the job weighs none of it, kg (from memory)."""

STANDARD_GRAVITY = 9.80665
"""m/s², exact (CGPM 1901)."""

_SCATTER = 2 * GRAVITY_CV
"""Two standard deviations of specific gravity, within which nineteen boards of twenty lie."""

INSERT_RULE_CV = 0.2
"""Coefficient of variation of what an insert holds about the lag screws' rule, beside that of the board (our own choice)."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Between which shares of an estimate nineteen of twenty lie, and of what."""

    low: float
    high: float
    words: str


BOARDS = Spread((1 - _SCATTER) ** 2, (1 + _SCATTER) ** 2, "nineteen boards of twenty")
"""Specific gravity enters squared in what a wood screw holds."""

_INSERT_SCATTER = 2 * hypot(1.5 * GRAVITY_CV, INSERT_RULE_CV)
INSERTS = Spread(1 - _INSERT_SCATTER, 1 + _INSERT_SCATTER, "nineteen inserts of twenty")
"""To the power of 3/2 in what an insert does, whose rule was tested on lag screws."""


@dataclass(frozen=True, slots=True)
class Hold:
    """What one screw bears and holds, newtons: an estimate.

    Attributes:
        bore: id of its pilot.
        pull: load along its axis, out of the wood; 0 where it is pressed in.
        side: load square to its axis.
        holds: the pull at which it comes out of a board of the species' mean weight.
        side_holds: the load square to it at which it begins to give.
        bite: share of its thread's height that is in wood, beside a pilot wider than the handbook's.
        end_grain: whether it runs along the grain.
        spread: how far off the estimate it may be.
    """

    bore: str
    pull: float
    side: float
    holds: float
    side_holds: float
    bite: float
    end_grain: bool
    spread: Spread = BOARDS

    @property
    def times(self) -> float:
        """How many times it holds the pull."""
        return self.holds / self.pull if self.pull > 0 else inf

    @property
    def side_times(self) -> float:
        """How many times it holds the load square to it."""
        return self.side_holds / self.side if self.side > 0 else inf

    @property
    def times_between(self) -> tuple[float, float]:
        """`times` in a light board and in a heavy one: nineteen of twenty lie between."""
        return self.times * self.spread.low, self.times * self.spread.high


@dataclass(frozen=True, slots=True)
class Sideways:
    """What a load square to the axis does, and what helps.

    Attributes:
        limit: key of the limit for how many times it must be held.
        code: of the finding.
        cure: what helps where there is wood enough for it.
    """

    limit: str
    code: str
    cure: str


SLIPPING = Sideways(
    "screw_shear",
    "holding.slips",
    "use more screws, thicker ones or longer ones; one that is seven diameters in the wood bears the most",
)
LEANING = Sideways(
    "stud_bearing",
    "holding.leans",
    "use longer or wider bushings, or a bridge that stands lower over the wood",
)


@dataclass(frozen=True, slots=True)
class Holding:
    """One group of screws under its load.

    Attributes:
        group: of the bores.
        name: in bench words, such as "bridge screws" or "tail strap button's screw".
        holds: one a screw.
        why: how the load and the strength came about.
        limit: key of the limit for how many times they must hold the pull.
        sideways: what is asked of them square to their axis.
        more: what else would make them hold more, as the end of a sentence.
        screws: what they are.
    """

    group: str
    name: str
    holds: tuple[Hold, ...]
    why: tuple[Reason, ...]
    limit: str = "screw_hold"
    sideways: Sideways = SLIPPING
    more: str = ""
    screws: str = "screws"

    @property
    def worst(self) -> Hold:
        """The screw that holds its pull the fewest times; of those not pulled, the worst sideways."""
        return min(self.holds, key=lambda hold: (hold.times, hold.side_times))


def holdings(document: Document, layout: Layout, bores: Sequence[Bore]) -> tuple[Holding, ...]:
    """Every group of screws whose load is known.

    A hole that was drilled for a screw the job has no more holds nothing.
    """
    families: dict[Family, list[Bore]] = {}
    for bore in bores:
        if bore.screw is not None or bore.family == "neck-screw":
            families.setdefault(bore.family, []).append(bore)
    return (
        *_bridge(document, layout, [bore for bore in bores if _is_anchor(document, bore)]),
        *_further(document, layout, bores),
        *_in_walls(document, layout, bores),
        *_straps(document, layout, families.get("strap-button", [])),
        *_neck(document, layout, families.get("neck-screw", [])),
    )


def _is_anchor(document: Document, bore: Bore) -> bool:
    """Whether a hole holds the bridge; one drilled for a screw the job has no more does not."""
    kind = kind_of(document.bridge)
    return bore.family == kind.family and (bore.screw is not None or not kind.by_screws)


def _bridge(document: Document, layout: Layout, bores: Sequence[Bore]) -> Iterator[Holding]:
    if not bores or layout.bridge is None:
        return
    kind = kind_of(document.bridge)
    loads = kind.loads(document, layout, [Point(bore.at.x, bore.at.y) for bore in bores])
    if loads is None:
        return
    part = layout.bridge.anchors[0].part
    why = Reason(f"estimate: {loads.why}", loads.source)
    if not isinstance(part, Screwed):
        yield _leaning(layout, kind.group, part, bores, loads)
        return
    holds = tuple(
        _tilted(layout, bore, hold_of(layout, bore, pull=load.pull, side=load.side), load.height)
        for bore, load in zip(bores, loads.each, strict=True)
    )
    yield Holding(
        kind.group, kind.group, holds, (why, *hold_reasons(layout, bores[0], holds[0])), more=loads.more
    )


def _tilted(layout: Layout, bore: Bore, hold: Hold, height: float) -> Hold:
    """A screw pushed over the wood, as by a plate that stands off it, bears no more than a stiff pole of its thread."""
    if height <= 0:
        return hold
    strength = bearing_along_grain(layout.timber_at(Point(bore.at.x, bore.at.y), bore.at.z).gravity)
    screw = bore.own_screw
    pole = pole_load(strength, diameter=screw.thread, length=screw.reach, height=height)
    return replace(hold, side_holds=min(hold.side_holds, pole))


def _further(document: Document, layout: Layout, bores: Sequence[Bore]) -> Iterator[Holding]:
    """What belongs to the bridge and is held by itself."""
    for row in () if layout.bridge is None else layout.bridge.further:
        own = [bore for bore in bores if bore.family == row.family]
        loads = row.loads(document, layout, [Point(bore.at.x, bore.at.y) for bore in own])
        part = row.anchors[0].part
        if own and loads is not None and not isinstance(part, Screwed):
            yield _leaning(layout, row.group, part, own, loads)


def _in_walls(document: Document, layout: Layout, bores: Sequence[Bore]) -> Iterator[Holding]:
    """What belongs to the bridge and is screwed to a cavity's wall: pulled straight away from it."""
    for row in () if layout.bridge is None else layout.bridge.wall_screws:
        own = [bore for bore in bores if bore.family == row.family and bore.screw is not None]
        loads = row.loads(document, layout)
        if own and loads is not None:
            holds = tuple(
                hold_of(layout, bore, pull=load.pull, side=load.side)
                for bore, load in zip(own, loads.each, strict=False)
            )
            why = Reason(f"estimate: {loads.why}", loads.source)
            yield Holding(row.group, row.group, holds, (why, *hold_reasons(layout, own[0], holds[0])))


def _leaning(
    layout: Layout, group: str, part: Pressed | Threaded, bores: Sequence[Bore], loads: Loads
) -> Holding:
    """Studs or posts that the strings push over."""
    holds = tuple(_leans(layout, bore, part, load) for bore, load in zip(bores, loads.each, strict=True))
    why = Reason(f"estimate: {loads.why}", loads.source)
    reasons = (why, *_lean_reasons(layout, bores[0], part, loads.each[0], holds[0]))
    return Holding(group, group, holds, reasons, sideways=LEANING)


def _leans(layout: Layout, bore: Bore, part: Pressed | Threaded, load: AnchorLoad) -> Hold:
    """What a pressed bushing bears, pushed over by its stud; a pull out of the wood is judged by the bridge's own rules."""
    strength = bearing_along_grain(layout.timber_at(Point(bore.at.x, bore.at.y), bore.at.z).gravity)
    bears = pole_load(strength, diameter=part.outside, length=part.length, height=load.height)
    return Hold(bore.id, 0.0, load.side, 0.0, bears, 1.0, end_grain=False)


def _lean_reasons(
    layout: Layout, bore: Bore, part: Pressed | Threaded, load: AnchorLoad, hold: Hold
) -> Iterator[Reason]:
    timber = layout.timber_at(Point(bore.at.x, bore.at.y), bore.at.z)
    yield Reason(
        f"estimate: {timber.in_words} is crushed at 77.2 G = {bearing_along_grain(timber.gravity):.1f} N/mm² along the grain; a "
        f"stiff pole of {part.outside:.2f} × {part.length:.1f} mm pushed {load.height:.1f} mm over the wood reaches that at its "
        f"upper end with {hold.side_holds:.0f} N, {hold.side_times:.1f} times its share of the pull",
        BEARING_SOURCE,
    )


def heel_lift(document: Document, layout: Layout) -> float | None:
    """The moment by which the strings lift the heel's mouth out of its pocket, N·mm: docs/holding.md.

    Returns:
        None where the strings cannot be tuned as stated, or the neck has no pocket to be lifted out of.
    """
    if document.neck.runs_through:
        return None
    lift = 0.0
    for string in layout.strings:
        if string.tension_n is None:
            return None
        share = (layout.pocket_end - string.nut.x) / (string.saddle.x - string.nut.x)
        height = string.nut.z + share * (string.saddle.z - string.nut.z)
        lift += string.tension_n * (height + document.neck.pocket_depth.mm)
    return lift


def _neck(document: Document, layout: Layout, bores: Sequence[Bore]) -> Iterator[Holding]:
    """The neck's screws or inserts, whose threads are in the heel."""
    lift, held = heel_lift(document, layout), _in_the_heel(document)
    if lift is None or held is None or not bores:
        return
    places = [layout.pocket_end - bore.at.x for bore in bores]
    squares = sum(x * x for x in places)
    holds = tuple(
        Hold(bore.id, max(0.0, lift * x / squares), 0.0, held.newtons, 0.0, held.bite, False, held.spread)
        for bore, x in zip(bores, places, strict=True)
    )
    worst = max(holds, key=lambda hold: hold.pull)
    low, high = worst.times_between
    why = (
        Reason(
            f"estimate: the strings lift the heel where its pocket opens, with {lift / 1000:.1f} N·m about the foot of the end "
            f"wall: up to {worst.pull:.0f} N {held.each}",
            MODEL_SOURCE,
        ),
        Reason(
            f"estimate: {held.each} comes out of the heel at {held.rule}, × {held.bite:.2f} of the thread's height beside a "
            f"{held.hole:.2f} mm {held.hole_is} (our own choice) = {held.newtons:.0f} N, {held.but}: {worst.times:.1f} times the "
            f"pull, {low:.1f} to {high:.1f} in {held.spread.words}",
            held.source,
        ),
    )
    yield Holding(f"neck {held.screws}", f"neck {held.screws}", holds, why, screws=held.screws)


@dataclass(frozen=True, slots=True)
class _InHeel:
    """What one screw or insert holds in the heel.

    Attributes:
        screws: what they are.
        each: one of them.
        newtons: the pull at which it comes out.
        bite: share of its thread's height that is in wood.
        hole: diameter of the hole it is in, mm.
        hole_is: what that is called.
        rule: how the strength without the bite comes about.
        but: what is not counted, or not known.
        source: of the rule.
        spread: how far off the estimate it may be.
    """

    screws: str
    each: str
    newtons: float
    bite: float
    hole: float
    hole_is: str
    rule: str
    but: str
    source: str
    spread: Spread


def _in_the_heel(document: Document) -> _InHeel | None:
    """What each screw or insert of the job holds in the heel; None where it has none."""
    screws, screw = document.neck_screws, heel_screw(document)
    if screws is not None and screw is not None:
        thread, gravity = screws.thread.mm, screw.timber.gravity
        bite = _share_in_wood(thread, screws.root.mm, screw.bit.diameter)
        length = max(0.0, screw.engages - POINT_SHARE * thread)
        return _InHeel(
            "screws",
            "a screw",
            bite * withdrawal_n(gravity=gravity, diameter=thread, length=length),
            bite,
            screw.bit.diameter,
            "pilot",
            f"108.25 G² D L = 108.25 × {gravity:.2f}² × {thread:.2f} × {length:.1f} mm of {screw.timber.in_words}",
            "its point left out",
            WITHDRAWAL_SOURCE,
            BOARDS,
        )
    inserts, insert = document.neck_inserts, heel_insert(document)
    if inserts is None or insert is None:
        return None
    thread, gravity, length = inserts.thread.mm, insert.timber.gravity, inserts.length.mm
    bite = _share_in_wood(thread, inserts.root.mm, insert.bit.diameter)
    return _InHeel(
        "inserts",
        "an insert",
        bite * lag_withdrawal_n(gravity=gravity, diameter=thread, length=length),
        bite,
        insert.bit.diameter,
        "hole",
        f"125.4 G^1.5 D^0.75 L = 125.4 × {gravity:.2f}^1.5 × {thread:.2f}^0.75 × {length:.1f} mm of {insert.timber.in_words}, "
        "as a lag screw does",
        "which no test of inserts bears out",
        LAG_SOURCE,
        INSERTS,
    )


def _share_in_wood(thread: float, root: float, hole: float) -> float:
    """Share of a thread's height that is in wood beside a hole: less than 1 where that is wider than the root."""
    return min(1.0, max(0.0, (thread - hole) / (thread - root)))


def _straps(document: Document, layout: Layout, bores: Sequence[Bore]) -> Iterator[Holding]:
    """Each strap button for itself: in a jerk it may have to hold alone, pulled straight out."""
    if not bores:
        return
    weight, what = _weight_n(document, layout)
    for bore in bores:
        hold = hold_of(layout, bore, pull=JERK * weight, side=0.0)
        jerk = Reason(
            f"estimate: in a jerk a strap button bears {JERK:g} times the instrument's weight, {what}: {JERK * weight:.0f} N "
            "straight out",
            "our own choice, docs/holding.md",
        )
        yield Holding(
            bore.group,
            f"{bore.holds or bore.role}'s screw",
            (hold,),
            (jerk, *hold_reasons(layout, bore, hold)),
            limit="strap_hold",
        )


def _weight_n(document: Document, layout: Layout) -> tuple[float, str]:
    """The instrument's weight before anything is cut out of its body, and how it came about."""
    body = sum(
        _area(layout, layer) * (min(layer.high, 0.0) - layer.low) * 1e-9 * layer.timber.density_12_kg_m3
        for layer in layout.body.layers
    )
    stated = sum(mass.grams for mass in document.masses) / 1000
    rest = stated or TYPICAL_REST_KG
    words = "as stated in the job" if stated else "typical, from memory"
    return (body + rest) * STANDARD_GRAVITY, f"{body:.1f} kg of uncut blank and {rest:.1f} kg on it ({words})"


def _area(layout: Layout, layer: Layer) -> float:
    """Of a layer seen from above, mm²."""
    whole = polygon(layout.outline)
    if layer.core is None:
        return float(whole.area)
    core = float(whole.intersection(polygon(layer.core)).area)
    return float(whole.area) - core if layer.beside else core


def hold_of(layout: Layout, bore: Bore, *, pull: float, side: float) -> Hold:
    """What one screw holds against a pull along its axis and a load square to it, newtons."""
    screw = bore.own_screw
    pieces = _in_layers(layout, bore)
    bite = _bite(bore)
    end_grain = bore.grain == "end"
    holds = sum(
        withdrawal_n(gravity=timber.gravity, diameter=screw.thread, length=length, end_grain=end_grain)
        for timber, length in pieces
    )
    sideways = min(
        lateral(timber=timber, diameter=screw.thread, penetration=screw.reach).load_n for timber, _ in pieces
    )
    return Hold(bore.id, pull, side, bite * holds, sideways, bite, end_grain)


def _in_layers(layout: Layout, bore: Bore) -> list[tuple[Timber, float]]:
    """The timbers that the thread is in and how much of it, from the head down; the point is left out."""
    screw = bore.own_screw
    end = max(0.0, screw.reach - POINT_SHARE * screw.thread)
    cuts = [0.0, end]
    if bore.axis.z:
        crossings = ((z - bore.at.z) / bore.axis.z for z in layout.body.glue_lines)
        cuts += [depth for depth in crossings if 0 < depth < end]
    cuts.sort()
    pieces = []
    for start, stop in pairwise(cuts):
        middle = bore.along((start + stop) / 2)
        pieces.append((layout.timber_at(Point(middle.x, middle.y), middle.z), stop - start))
    return pieces


def _bite(bore: Bore) -> float:
    """Share of the thread's height that is in wood: less than 1 beside a pilot wider than the root.

    The handbook's lead holes are narrower than the root, and it says nothing of wider ones. Taking the strength in
    proportion to the height of thread left is our own choice, on the careful side.
    """
    return _share_in_wood(bore.own_screw.thread, bore.own_screw.root, bore.deepest.diameter)


def hold_reasons(layout: Layout, bore: Bore, hold: Hold) -> Iterator[Reason]:
    """How the strength of one screw came about, and what it amounts to."""
    screw = bore.own_screw
    pieces = _in_layers(layout, bore)
    listed = " + ".join(
        f"108.25 × {timber.gravity:.2f}² × {screw.thread:.2f} × {length:.1f} mm of {timber.in_words}"
        for timber, length in pieces
    )
    shares = "".join(
        (
            f", × {hold.bite:.2f} of the thread's height beside a {bore.deepest.diameter:.2f} mm pilot (our own choice)"
            if hold.bite < 1
            else "",
            f", × {tables.END_GRAIN_SHARE:g} in end grain" if hold.end_grain else "",
        )
    )
    untested = (
        ""
        if size_was_tested(diameter=screw.thread, length=screw.length)
        else "; a size the tests did not cover"
    )
    yield Reason(
        f"estimate: a screw comes out at 108.25 G² D L = {listed}{shares} = {hold.holds:.0f} N, its point left out{untested}",
        WITHDRAWAL_SOURCE,
    )
    if hold.pull > 0:
        low, high = hold.times_between
        yield Reason(
            f"that is {hold.times:.1f} times the pull; {low:.1f} to {high:.1f} in {hold.spread.words} of the species",
            WITHDRAWAL_SOURCE,
        )
    if hold.side > 0:
        yield Reason(
            f"estimate: sideways it begins to give at {hold.side_holds:.0f} N, {hold.side_times:.1f} times its share of the "
            "pull",
            LATERAL_SOURCE,
        )
