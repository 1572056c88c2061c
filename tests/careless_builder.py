"""A careless builder plays whole instruments: what he cuts is what he was told and what his hands make of it.

He knows the plan as printed, and in one way of working what the app answers. The wood's truth is the simulation's alone;
how it errs is fixed in `trial_bench`. Every error has a name of its own and is drawn by it, so that the three ways of
working have the same hands, wood and slips: what differs is what is measured and what is made of it.

Body's frame as in plan.json, mm: x from the nut towards the tail, y to the treble, both from where the neck was planned.
"""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from http.client import HTTPConnection, RemoteDisconnected
from math import atan, atan2, cos, hypot, radians, sin, sqrt, tan
from typing import Any, Literal, Protocol
from urllib.parse import urlencode

import numpy as np
import shapely

from scribeline.tables import limit_rows, usual_accuracies

from .trial_bench import (
    BOARD_SIDE,
    BUILDER_SPREAD,
    METHODS,
    NECK_OFFSET_SD,
    NECK_SKEW_SD,
    SETTINGS,
    SKIPPED,
    SLIPS,
    STRINGS_OFF_PICKUP,
    Errors,
)

Way = Literal["paper", "gates", "record", "heeded"]
"""How he works: by the plan as printed and nothing read; by that, with what its gates ask read; with the app's record; with
that, and where the app says of the holes that hold the bridge that the strings' sides will differ, plugs and drills again."""

WAYS: tuple[Way, ...] = ("paper", "gates", "record", "heeded")

Step = Mapping[str, Any]
Plan = Mapping[str, Any]

PATIENCE_S = 600.0
"""How long an answer of the app is waited for: how busy a machine is is no business of a test."""

ACROSS = 200.0
"""Over which the press's table is swept, mm: as its step says."""


@dataclass(frozen=True, slots=True)
class Draws:
    """The errors of one instrument, each by its name: the same name gives the same error again."""

    build: int

    def _random(self, name: str) -> np.random.Generator:
        return np.random.default_rng([self.build, zlib.crc32(name.encode())])

    def error(self, name: str, method: str) -> float:
        """One error of a way of measuring, marking or cutting; mm, rad or mm per mm."""
        return self.spread(name, usual_accuracies()[METHODS[method]].sd)

    def spread(self, name: str, sd: float) -> float:
        """One error with this standard deviation."""
        return float(Errors(BUILDER_SPREAD, self._random(name)).draw(sd, 1)[0])

    def even(self, name: str, half: float) -> float:
        """Anywhere within ±, as likely."""
        return float(self._random(name).uniform(-half, half))

    def slip(self, name: str, *, has_edge: bool = True) -> float:
        """What a slip adds to a number that is read, marked or set; mostly nothing."""
        random, found = self._random(f"slip of {name}"), 0.0
        for kind, (share, by) in SLIPS.items():
            happens, sign = random.random() < share, float(random.choice((-1.0, 1.0)))
            if happens and (has_edge or kind != "wrong edge"):
                found += by * sign
        return found

    def skips(self, name: str) -> bool:
        """Whether a check is left out."""
        return bool(self._random(f"skip {name}").random() < SKIPPED)

    def read(self, name: str, truth: float, method: str, *, has_edge: bool = True) -> float:
        """What is read of a true number, to the hundredth as it is typed."""
        return round(truth + self.error(name, method) + self.slip(name, has_edge=has_edge), 2)


@dataclass(frozen=True, slots=True)
class Lie:
    """Where something flat lies on the body: a point of it, and by how much it is turned from x to y, rad."""

    x: float
    y: float
    turn: float = 0.0

    def out(self, along: float, across: float) -> tuple[float, float]:
        """A place of its own frame on the body."""
        c, s = cos(self.turn), sin(self.turn)
        return self.x + along * c - across * s, self.y + along * s + across * c

    def into(self, x: float, y: float) -> tuple[float, float]:
        """A place on the body in its own frame."""
        c, s, dx, dy = cos(self.turn), sin(self.turn), x - self.x, y - self.y
        return dx * c + dy * s, dy * c - dx * s

    def moved(self, dx: float, dy: float) -> Lie:
        """The same a little further on the body."""
        return replace(self, x=self.x + dx, y=self.y + dy)


def laid_on(pattern: Sequence[tuple[float, float]], holes: Sequence[tuple[float, float]]) -> Lie:
    """Where a plate lies whose holes are pulled over holes in the wood: rigid least squares in the plane."""
    p, q = np.array(pattern), np.array(holes)
    a, b = p - p.mean(axis=0), q - q.mean(axis=0)
    turn = atan2(float(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])), float(np.sum(a * b)))
    x, y = q.mean(axis=0) - np.array(Lie(0, 0, turn).out(*p.mean(axis=0)))
    return Lie(float(x), float(y), turn)


@dataclass(frozen=True)
class Parts:
    """What the parts and the drawing of an instrument are, from its first plan.

    Attributes:
        plan: plan.json before anything was made.
        slip: of the neck's heel in its pocket, both sides together, mm.
        screw_play, guide_play: how far a plate may lie off its screws, and a bit in its hole off the middle, mm.
    """

    plan: Plan
    slip: float = 0.1
    screw_play: float = 0.15
    guide_play: float = 0.05

    @property
    def wall(self) -> float:
        """The neck pocket's end wall from the nut, mm: the board's end stands over it."""
        return self.twelfth + self.value("12th-to-plate") - self.value("pocket-end-to-plate")

    @property
    def twelfth(self) -> float:
        return float(self.plan["frets"][11]["x"])

    @property
    def last(self) -> float:
        return float(self.plan["frets"][-1]["x"])

    @property
    def aim(self) -> Lie:
        bridge = self.plan["bridge"]
        return Lie(bridge["x"], bridge["y"], radians(bridge["yaw_deg"]))

    def half(self, along: float) -> float:
        """Half the board's width, mm."""
        first, last = self.value("neck-treble-at-nut"), self.value("neck-treble-at-end")
        return first + (last - first) * along / self.wall

    def value(self, name: str) -> float:
        """A number of the plan that can be measured."""
        return float(next(each["value"] for each in self.plan["measurables"] if each["id"] == name))

    def pattern(self, family: str) -> list[tuple[float, float]]:
        """The plate's own holes, from the middle of its front edge, mm."""
        bores = [each for each in self.plan["bores"] if re.fullmatch(rf"{family}-\d+", each["id"])]
        return [self.aim.into(*each["at"][:2]) for each in bores]


@dataclass
class Wood:
    """What is really there; nobody in the shop knows it.

    Attributes:
        neck: the neck's own frame on the body, its origin on the pocket's end wall.
        sides: what the board's half width is more than drawn, at the nut and at its end, mm.
        before_twelfth: what the neck has more than drawn between nut and 12th fret, mm.
        spread: what the plate's two outer saddles stand further apart than drawn, as a share.
        lean: of the press's table, along and across, rad.
        plate: where the plate lies.
        centres: middles of cavities, by id.
        depths: of cavities and holes, by id of the cut, of stepped ones with the step's number behind it, mm.
        holes: mouths of holes, by id.
    """

    neck: Lie
    thickness: float
    sides: tuple[float, float]
    before_twelfth: float
    spread: float
    reach: tuple[float, float]
    lean: tuple[float, float]
    plate: Lie
    centres: dict[str, tuple[float, float]] = field(default_factory=dict)
    depths: dict[str, float] = field(default_factory=dict)
    holes: dict[str, tuple[float, float]] = field(default_factory=dict)

    def half(self, parts: Parts, along: float) -> float:
        """Half the board's width as it is, mm."""
        share = along / parts.wall
        return parts.half(along) + (1 - share) * self.sides[0] + share * self.sides[1]

    def beside_thread(self, parts: Parts, along: float, side: int) -> float:
        """From the body's centreline to the board's edge, mm; side 1 is the treble."""
        _, y = self.neck.out(along - parts.wall, 0.0)
        return self.half(parts, along) + side * y

    def string(self, parts: Parts, no: int, saddle: tuple[float, float]) -> float:
        """How far a string to a place on the body lies off the neck's middle at the last fret, to the treble, mm."""
        nut = float(parts.plan["strings"][no]["nut"][1])
        along, across = self.neck.into(*saddle)
        return nut + parts.last / (along + parts.wall) * (across - nut)

    def margin(self, parts: Parts, side: int, saddle: tuple[float, float] | None = None) -> float:
        """From an outer string's middle to the board's edge at the last fret, mm: over its saddle on the plate, or elsewhere."""
        no = 0 if side > 0 else -1
        at = self.saddle(parts, no) if saddle is None else saddle
        return self.half(parts, parts.last) - side * self.string(parts, no, at)

    def saddle(self, parts: Parts, no: int) -> tuple[float, float]:
        """Where a string's saddle stands on the body: at its own distance from the nut, in its slot of the plate."""
        along, across = parts.aim.into(*parts.plan["strings"][no]["saddle"][:2])
        return self.plate.out(along, across * (1 + self.spread))

    def wanted(self, parts: Parts, no: int) -> float:
        """How far behind the plate's front edge a string wants its saddle, mm."""
        nut_to_twelfth = parts.twelfth + self.before_twelfth
        along = parts.twelfth + nut_to_twelfth + parts.plan["strings"][no]["compensation"]
        _, across = self.neck.into(*self.saddle(parts, no))
        return self.plate.into(*self.neck.out(along - parts.wall, across))[0]

    def front(self, parts: Parts) -> float:
        """The plate's front edge from the 12th fret along the strings, mm."""
        return self.neck.into(self.plate.x, self.plate.y)[0] + parts.wall - parts.twelfth

    def diagonal(self, parts: Parts, side: int) -> float:
        """From the board's corner at the 12th fret on one side to the plate's front corner on the other, mm."""
        across = [corner[1] for corner in parts.plan["bridge"]["plate"]]
        half = (max(across) - min(across)) / 2
        x, y = self.neck.out(parts.twelfth - parts.wall, side * self.half(parts, parts.twelfth))
        at_x, at_y = self.plate.out(0.0, -side * half)
        return hypot(at_x - x, at_y - y)


# --- what becomes of it ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Judged:
    """One number of a finished instrument.

    Attributes:
        limit: of which kind.
        of: which one.
        value: mm.
        bound: what it must reach, or must not pass, mm.
        worse: whether less or more is worse.
    """

    limit: str
    of: str
    value: float
    bound: float
    worse: Literal["below", "above"]

    @property
    def fails(self) -> bool:
        return self.value < self.bound if self.worse == "below" else self.value > self.bound


EDGE, TRAVEL, FLOOR, MEETING, PICKUP, ROW = (
    "string to the board's edge",
    "saddle travel",
    "wood under a cavity",
    "string hole and ferrule meet",
    "strings over the pickup's middle",
    "row of ferrules",
)
LIMITS = (EDGE, TRAVEL, FLOOR, MEETING, PICKUP, ROW)
"""By what an instrument fails."""

SEEN, COMPLAINED = "sides differ by 0.5", "sides differ by 0.8"
"""By what it does not fail, but is seen or complained of: the margins' difference at the last fret over what is planned."""

COMPLAINED_AT = 0.8
"""Of `sides_differ` in docs/limits.md: over 0.5 mm it is seen and over 0.8 mm complained of (common practice, no source)."""


def judged(parts: Parts, wood: Wood) -> Iterator[Judged]:
    """The finished instrument, by plain geometry and docs/limits.md: what its limits call DO NOT CUT."""
    limit, strings = limit_rows(), range(len(parts.plan["strings"]))
    for side, name in ((1, "treble"), (-1, "bass")):
        yield Judged(EDGE, name, wood.margin(parts, side), limit["string_edge"].stop or 0.0, "below")
    for no in strings:
        travel, at = parts.plan["bridge"]["saddles"][no], wood.wanted(parts, no)
        ends = at - travel["travel_front"] - wood.reach[0], travel["travel_back"] + wood.reach[1] - at
        yield Judged(TRAVEL, f"{no + 1}", min(ends), 0.0, "below")
    for pocket in parts.plan["pockets"]:
        left = wood.thickness - wood.depths[pocket["id"]]
        yield Judged(FLOOR, pocket["id"], left, limit["pocket_floor"].stop or 0.0, "below")
    overlap = wood.depths["string-hole"] + wood.depths["ferrule-hole 2"] - wood.thickness
    yield Judged(MEETING, "all", overlap, limit["bores_meeting"].stop or 0.0, "below")
    for name in ("bridge-pickup", "neck-pickup"):
        yield Judged(PICKUP, name, abs(_off_pickup(parts, wood, name)), STRINGS_OFF_PICKUP, "above")
    yield Judged(ROW, "all", _out_of_line(wood), limit["ferrule_row"].caution, "above")
    differ = abs(wood.margin(parts, 1) - wood.margin(parts, -1) - planned_difference(parts))
    yield Judged(SEEN, "", differ, limit["sides_differ"].caution, "above")
    yield Judged(COMPLAINED, "", differ, COMPLAINED_AT, "above")


def planned_difference(parts: Parts) -> float:
    """The treble's margin less the bass's at the last fret, mm, where all is as drawn: outer strings differ in thickness."""
    margins = []
    for no, side in ((0, 1), (-1, -1)):
        string = parts.plan["strings"][no]
        (_, nut), (x, y) = string["nut"][:2], string["saddle"][:2]
        margins.append(parts.half(parts.last) - side * (nut + parts.last / x * (y - nut)))
    return float(margins[0] - margins[1])


def _off_pickup(parts: Parts, wood: Wood, name: str) -> float:
    """How far the middle of the outer strings runs off the middle of a cavity, mm."""
    x, y = wood.centres[name]
    ends = []
    for no in (0, -1):
        nut = wood.neck.out(-parts.wall - wood.before_twelfth, parts.plan["strings"][no]["nut"][1])
        ends.append((nut, wood.saddle(parts, no)))
    (nut_x, nut_y), (end_x, end_y) = np.mean(np.array(ends), axis=0)
    return float(nut_y + (end_y - nut_y) * (x - nut_x) / (end_x - nut_x) - y)


def _out_of_line(wood: Wood) -> float:
    """The farthest that a ferrule lies off the straight line through the row, mm (least squares)."""
    row = np.array([at for name, at in sorted(wood.holes.items()) if name.startswith("ferrule-hole-")])
    slope, start = np.polyfit(row[:, 1], row[:, 0], 1)
    return float(np.max(np.abs(row[:, 0] - start - slope * row[:, 1])) * cos(atan(float(slope))))


# --- the builder -----------------------------------------------------------------------------------------------------


class Door(Protocol):
    """How the record is kept: the app, by whichever of its doors."""

    def plan(self) -> Plan:
        """plan.json as it is now."""

    def steps(self) -> Sequence[Step]:
        """The steps as they stand."""

    def findings(self) -> Sequence[Mapping[str, Any]]:
        """What the checks say."""

    def read(self, step: Step, values: Sequence[float], risk: str = "") -> None:
        """Keep what was read at a gate; none where it asks for a yes."""

    def tick(self, step: Step) -> None:
        """Call a step done."""

    def untick(self, step: Step) -> None:
        """A step is not done after all."""

    def measure(self, what: str, mm: float, *, anew: bool = False) -> None:
        """Keep a reading of one of the plan's numbers."""

    def strike(self, no: int, why: str) -> None:
        """A measurement counts no more."""

    def found(self, step: Step, number: int, at: tuple[float, float], wall: float) -> None:
        """Keep where a hole of a step that is done was found, mm on the body; the wall's place is known to both."""

    def state(self, key: str, value: str) -> None:
        """Change a value of the job."""

    def go_on_against(self, stop: Mapping[str, Any], why: str) -> None:
        """Cut although a check says not to."""


@dataclass
class Builder:
    """One instrument in one way of working.

    Attributes:
        way: how he works.
        draws: his hands, his wood, his slips.
        parts: from the plan as first printed.
        steps: as first printed.
        door: to the app, where he keeps a record.
        told: what happened that is worth telling, by the id of the step or what was measured.
        brisk: whether he tells the app only what its plan hangs on; gates are then read against what its steps ask for, and
            the readings stay with him. What comes of it is the same.
        plate_lies: whether the plate is laid down already.
        looked: what was read before a cut of where its template lies, by the gate's name for it.
    """

    way: Way
    draws: Draws
    parts: Parts
    printed: Sequence[Step]
    door: Door | None = None
    told: list[str] = field(default_factory=list)
    brisk: bool = False
    plate_lies: bool = False
    looked: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.wood = self._blank()

    def _blank(self) -> Wood:
        draw, plan = self.draws, self.parts.plan
        plus_minus = (self._limits("body-thickness")[1] - self._limits("body-thickness")[0]) / 2
        return Wood(
            neck=self._neck_set(0),
            thickness=plan["body"]["thickness"] + draw.even("thickness", plus_minus),
            sides=(draw.even("board at nut", BOARD_SIDE), draw.even("board at end", BOARD_SIDE)),
            before_twelfth=draw.even("nut to 12th", 0.1),
            spread=draw.even("spacing", BOARD_SIDE) / 10.6,
            reach=(draw.even("saddle forward", BOARD_SIDE), draw.even("saddle back", BOARD_SIDE)),
            lean=(draw.error("lean along", "press"), draw.error("lean across", "press")),
            plate=self.parts.aim,
        )

    def _limits(self, name: str) -> tuple[float, float]:
        found = next(each for each in self.parts.plan["measurables"] if each["id"] == name)
        return found["low"], found["high"]

    def _neck_set(self, setting: int) -> Lie:
        off = self.draws.spread(f"neck off {setting}", NECK_OFFSET_SD)
        return Lie(self.parts.wall, off, self.draws.spread(f"neck turned {setting}", NECK_SKEW_SD))

    # --- what he is told ------------------------------------------------------------------------------

    @property
    def plan(self) -> Plan:
        """By what he works now: the app's plan, or the paper."""
        return self.parts.plan if self.door is None else self.door.plan()

    def _step(self, name: str) -> Step:
        steps = self.printed if self.door is None else self.door.steps()
        return next(each for each in steps if each["id"] == name)

    def build(self) -> Wood:
        """Every step in its order, and the instrument that comes of it."""
        for name in [each["id"] for each in self.printed]:
            self._once_more()
            self.work(name)
        self._finished()
        return self.wood

    def work(self, name: str) -> None:
        """One step: what is cut, what is read, what is kept."""
        self._against(name)
        step = self._step(name)
        cut = {
            "fit-neck": self._fit_neck,
            "set-plate": self._set_plate,
            "drill-bridge-screws": self._screws,
            "drill-string-holes": self._string_holes,
            "counterbore-ferrules": self._ferrules,
        }.get(name)
        if cut is not None:
            cut(step)
        elif any(each in self._cavities for each in step["features"]):
            self._rout(step)
        if name in _DEPTHS:
            self._drill(step)
        step = self._step(name)
        self._gate(step)
        if name == "set-plate" and self.door is not None and not self.draws.skips("thread"):
            self._thread_test()
        self._done(name)
        if name == "drill-bridge-screws" and self.door is not None and not self.draws.skips("holes"):
            self._find_holes(name, 0)
            self._heed(name)

    @property
    def _cavities(self) -> set[str]:
        return {each["id"] for each in self.parts.plan["pockets"]}

    # --- what he cuts ---------------------------------------------------------------------------------

    def _marked(self, name: str, far: float) -> float:
        """What a place set out with rule and pencil is off, mm, so far from what it is measured from."""
        scale = self.draws.error("rule", "rule scale")
        return (
            self.draws.error(f"{name}: rule", "rule")
            + self.draws.error(f"{name}: line", "line")
            + self.draws.slip(name)
            + scale * far
        )

    def _rout(self, step: Step) -> None:
        plan = {each["id"]: each for each in self.plan["pockets"]}
        for name in step["features"]:
            middle = shapely.Polygon(plan[name]["outline"]).centroid
            asks = {each["id"]: each for each in step["gate"].get("asks") or ()}
            off = [
                self._template(name, way, far, asks.get(f"{name}-{side}-side"))
                + self.draws.error(f"{name} {way}: edge", "edge")
                for way, far, side in (
                    ("along", middle.x - self.parts.wall, "nut"),
                    ("across", middle.y, "treble"),
                )
            ]
            self.wood.centres[name] = (middle.x + off[0], middle.y + off[1])
        self._to_depth(step, 0)

    def _template(self, name: str, way: str, far: float, ask: Mapping[str, Any] | None) -> float:
        """How far off a template lies that is routed by: read where the gate asks for it, and laid anew where it is off."""
        off = 0.0
        for setting in range(SETTINGS):
            again = f" again {setting}" if setting else ""
            off = self._marked(f"{name} {way}{again}", far)
            off += self.draws.error(f"{name} {way}: template{again}", "template")
            if ask is None or self.way == "paper":
                break
            if self.draws.skips(f"{ask['id']} template"):
                self.looked[ask["id"]] = round(ask["value"], 2)
                break
            read = self.draws.read(f"{ask['id']} template{again}", ask["value"] + off, "rule")
            self.looked[ask["id"]] = read
            if ask["low"] <= read <= ask["high"]:
                break
            self.told.append(f"{ask['id']}: laid anew")
        return off

    def _drill(self, step: Step) -> None:
        self._to_depth(step, 0)

    def _to_depth(self, step: Step, setting: int) -> None:
        """Cut all of a step with one setting of router or stop; what is deeper already stays so."""
        routed = any(each in self._cavities for each in step["features"])
        name = f"{step['id']} depth {setting}"
        depth = (
            step["depth"]
            + self.draws.error(name, "router" if routed else "stop")
            + self.draws.slip(name, has_edge=False)
        )
        for cut in step["features"] if routed else [_DEPTHS[step["id"]]]:
            self.wood.depths[cut] = max(depth, self.wood.depths.get(cut, 0.0))

    def _fit_neck(self, step: Step) -> None:
        del step
        if self.door is not None and not self.draws.skips("neck line"):
            self._neck_line()

    def _set_plate(self, step: Step) -> None:
        del step
        self._lay_plate(0)

    def _lay_plate(self, setting: int) -> None:
        """Along from the 12th fret, across from the body's centreline, square by the two diagonals."""
        plan = self.plan["bridge"]
        x, y, turn = plan["x"], plan["y"], radians(plan["yaw_deg"])
        again = f"plate {setting}"
        self.plate_lies = True
        tape = self.draws.error(f"{again} diagonals", "tape") * self._turn_for_each()
        self.wood.plate = Lie(
            x + self._marked(f"{again} along", x - self.parts.twelfth),
            y + self._marked(f"{again} across", y),
            turn + tape,
        )

    def _turn_for_each(self) -> float:
        """By how much the plate is turned for each mm that a diagonal is read off, of two, rad."""
        far, corners = self.parts.aim.x - self.parts.twelfth, self.parts.plan["bridge"]["plate"]
        apart = float(np.ptp([y for _, y in corners]))
        slant = far / hypot(far, apart / 2 + self.parts.half(self.parts.twelfth))
        return sqrt(2) / (apart * slant)

    def _screws(self, step: Step, setting: int = 0) -> None:
        """Through the plate's holes: the prick, and where the bit starts; the screws then pull the plate over them."""
        pattern = self.parts.pattern("bridge-screw")
        for name, own in zip(step["features"], pattern, strict=True):
            off = [
                self.draws.error(f"{name} {way} {setting}: prick", "prick")
                + self.draws.error(f"{name} {way} {setting}: start", "screw start")
                for way in ("along", "across")
            ]
            x, y = self.wood.plate.out(*own)
            self.wood.holes[name] = (x + off[0], y + off[1])
        self._screw_down("first")

    def _screw_down(self, when: str) -> None:
        holes = [at for name, at in sorted(self.wood.holes.items()) if name.startswith("bridge-screw-")]
        play = [self.draws.even(f"{when} {way}: play", self.parts.screw_play) for way in ("along", "across")]
        self.wood.plate = laid_on(self.parts.pattern("bridge-screw"), holes).moved(*play)

    def _string_holes(self, step: Step) -> None:
        for name, own in zip(step["features"], self.parts.pattern("string-hole"), strict=True):
            x, y = self.wood.plate.out(*own)
            off = [
                self.draws.even(f"{name} {way}: play", self.parts.guide_play) for way in ("along", "across")
            ]
            self.wood.holes[name] = (x + off[0], y + off[1])

    def _ferrules(self, step: Step) -> None:
        """From the back, on a pin in each string hole; the press's lean and the pin are the same for all.

        Across the body each hole lies over its own string hole; along it the fence goes by the two outer ones.
        """
        shared = [
            self.draws.error(f"pin {way}", "pin") - tan(lean) * self.wood.thickness
            for way, lean in zip(("along", "across"), self.wood.lean, strict=True)
        ]
        under = [self.wood.holes[name.replace("ferrule", "string")] for name in step["features"]]
        (first_x, first_y), (last_x, last_y) = under[0], under[-1]
        for name, (_, y) in zip(step["features"], under, strict=True):
            fence = first_x + (y - first_y) / (last_y - first_y) * (last_x - first_x)
            self.wood.holes[name] = (
                fence + self.draws.error(f"{name}: fence", "fence") + shared[0],
                y + self.draws.error(f"{name} across: start", "hole start") + shared[1],
            )

    def _finished(self) -> None:
        """The neck goes back with its play, the plate is screwed down for good."""
        end, mouth = (
            self.draws.even(f"neck back: {where}", self.parts.slip / 2) for where in ("end", "mouth")
        )
        long = float(np.ptp([x for x, _ in _pocket(self.parts.plan, "neck-pocket")["outline"]]))
        neck = self.wood.neck
        self.wood.neck = Lie(neck.x, neck.y + end, neck.turn + (end - mouth) / long)
        self._screw_down("last")

    # --- what he reads --------------------------------------------------------------------------------

    def _gate(self, step: Step) -> None:
        """What a step's gate asks for is read, twice where it fails; what can be done again is done again, or he goes on."""
        if self.way == "paper":
            return
        gate, name = step["gate"], step["id"]
        if gate["value"] is None:
            self._keep(step, ())
            return
        asks = gate.get("asks") or [gate]
        if self.draws.skips(name):
            self._keep(step, [round(each["value"], 2) for each in asks])
            self.told.append(f"{name}: not read")
            return
        for setting in range(SETTINGS):
            for look in (0, 1):
                read = [self._look(step, each, f"{setting} {look}") for each in asks]
                if _passes(gate, asks, read):
                    self._keep(step, read)
                    return
            too_little = all(mm <= each["high"] for each, mm in zip(asks, read, strict=True))
            if setting + 1 == SETTINGS or not self._again(step, setting + 1, too_little=too_little):
                break
        self.told.append(f"{name}: at own risk")
        self._keep(step, read, "it will have to do")

    def _look(self, step: Step, ask: Mapping[str, Any], look: str) -> float:
        """What he reads where a gate asks for it; where a template lay he has read before he routed."""
        if (before := self.looked.get(ask.get("id", ""))) is not None:
            return before
        truth, method = self._true(step, ask)
        at_edge = method in {"rule", "thread"}
        called = f"{step['id']} {ask.get('id', '')} read {look}"
        read = self.draws.read(called, truth, method, has_edge=at_edge)
        return abs(read) if ask["low"] == 0.0 else read

    def _true(self, step: Step, ask: Mapping[str, Any]) -> tuple[float, str]:
        """What is really there where a gate asks for it, mm, and what it is read with."""
        name, parts, wood = step["id"], self.parts, self.wood
        nut = parts.twelfth + wood.before_twelfth
        own: dict[str, Callable[[], tuple[float, str]]] = {
            "check-neck": lambda: (nut, "rule"),
            "check-body": lambda: (wood.thickness, "thickness"),
            "check-press": lambda: (ACROSS * max(abs(tan(lean)) for lean in wood.lean), "depth gauge"),
            "fit-neck": lambda: (wood.margin(parts, 1, self._where_saddle_goes()), "thread"),
            "set-plate": lambda: (wood.front(parts), "rule"),
            "fix-plate": lambda: (wood.front(parts) + nut, "rule"),
            "fit-hardware": lambda: (wood.front(parts), "rule"),
            "scrap-two-sided": lambda: (self.draws.error("scrap", "pin"), "depth gauge"),
            "drill-ground-wire": lambda: (
                ask["value"] + self.draws.error("wire", "hand depth"),
                "depth gauge",
            ),
        }
        told = str(ask.get("id", ""))
        if told.startswith("margin-") and name != "fit-neck":
            return wood.margin(parts, 1 if told.endswith("treble") else -1), "thread"
        if told.startswith("diagonal-"):
            return wood.diagonal(parts, 1 if told.endswith("treble") else -1), "tape"
        if name in own:
            return own[name]()
        cut = ask.get("id") or _DEPTHS.get(name) or step["features"][0]
        return wood.depths[cut], "depth gauge"

    def _where_saddle_goes(self) -> tuple[float, float]:
        """Where the treble thread ends: at the saddle, or where it is marked on the body before the plate lies there."""
        if self.plate_lies:
            return self.wood.saddle(self.parts, 0)
        x, y = (float(mm) for mm in self.plan["strings"][0]["saddle"][:2])
        return x + self._marked("saddle along", 0.0), y + self._marked("saddle across", y)

    def _again(self, step: Step, setting: int, *, too_little: bool) -> bool:
        """Do again what can be done again; whether it could."""
        name = step["id"]
        if name == "check-press":
            self.wood.lean = (
                self.draws.error(f"trued along {setting}", "trued press"),
                self.draws.error(f"trued across {setting}", "trued press"),
            )
        elif name == "fit-neck" and self.door is None:
            self.wood.neck = self._neck_set(setting)
        elif name == "set-plate":
            self._lay_plate(setting)
        elif name == "check-body" and self.door is not None:
            return self._state_thickness(setting)
        elif name in _DEPTHS or any(each in self._cavities for each in step["features"]):
            if not too_little:
                return False
            self._to_depth(step, setting)
        else:
            return False
        self.told.append(f"{name}: done again")
        return True

    # --- what he keeps in the app ---------------------------------------------------------------------

    def _keep(self, step: Step, values: Sequence[float], risk: str = "") -> None:
        if self.door is not None and not self.brisk:
            self.door.read(step, values, risk)

    def _done(self, name: str) -> None:
        if self.door is None or (self.brisk and name not in _MOVING):
            return
        self._once_more()
        step = self._step(name)
        if self.brisk:
            self.door.tick(step)
            return
        self._against(name)
        step = self._step(name)
        assert step["state"] == "open", (name, step)
        self.door.tick(step)

    def _against(self, name: str) -> None:
        """What the app calls DO NOT CUT is cut all the same: he cannot tell it from what it always says."""
        if self.door is None or self.brisk:
            return
        stopped = self._step(name)["stopped_by"]
        for stop in self.door.findings() if stopped else ():
            if stop["severity"] == "stop" and stop["code"] in stopped:
                self.told.append(f"{name}: against {stop['code']}")
                self.door.go_on_against(stop, "the builder's own risk")

    def _once_more(self) -> None:
        """Steps that the app has open again are read again."""
        if self.door is None or self.brisk:
            return
        for step in self.door.steps():
            if step["reopened"]:
                self.told.append(f"{step['id']}: open again")
                asks = step["gate"].get("asks") or [step["gate"]]
                read = [self._look(step, each, "once more") for each in asks]
                self._keep(step, read)
                if self._step(step["id"])["reopened"]:
                    self._keep(step, read, "it will have to do")

    def _state_thickness(self, setting: int) -> bool:
        """What the app says of a blank that is not as stated: state what it is."""
        assert self.door is not None
        if setting > 1:
            return False
        read = min(
            self.draws.read(f"blank place {n}", self.wood.thickness, "thickness", has_edge=False)
            for n in range(4)
        )
        self.door.state("body.thickness", f"{read} +/- 0.1")
        self.told.append("check-body: stated anew")
        return False

    def _neck_line(self) -> None:
        """Six readings; what the app calls wrong is read again, and struck through where it says so."""
        assert self.door is not None
        names = [f"neck-{side}-at-{place}" for place in ("nut", "12th", "end") for side in ("treble", "bass")]
        for name in names:
            self.door.measure(name, self._beside_thread(name, 0))
        for round_ in range(1, 4):
            wrong = dict.fromkeys(
                _wrong(self.door.findings())
            )  # one reading may be told by itself and against the line
            if not wrong:
                return
            for number, name in wrong:
                self.told.append(f"{name}: read again")
                if number:
                    self.door.strike(number, "it was read again")
                self.door.measure(name, self._beside_thread(name, round_))

    def _beside_thread(self, name: str, look: int) -> float:
        _, side, _, place = name.split("-")
        along = {"nut": 0.0, "12th": self.parts.twelfth, "end": self.parts.wall}[place]
        truth = self.wood.beside_thread(self.parts, along, 1 if side == "treble" else -1)
        return self.draws.read(f"{name} {look}", truth, "thread")

    def _thread_test(self, again: str = "") -> None:
        """Both margins under the thread; the plate goes where the app says, and they are read again."""
        assert self.door is not None
        for look in range(SETTINGS + 1):
            for side, name in ((1, "margin-treble"), (-1, "margin-bass")):
                mm = self.draws.read(f"{name} {look}{again}", self.wood.margin(self.parts, side), "thread")
                self.door.measure(name, mm, anew=bool(look or again))
            told = next((each for each in self.door.findings() if each["code"] == "bridge.thread-test"), None)
            if told is None or look == SETTINGS:
                return
            self.told.append("thread: plate moved")
            towards = -1.0 if "towards the bass" in told["cure"] else 1.0
            by = towards * told["value"] + self.draws.error(f"plate moved {look}{again}", "rule")
            self.wood.plate = self.wood.plate.moved(0.0, by)

    def _find_holes(self, name: str, setting: int) -> None:
        """Where each screw's pilot came to be: with the rule, from the board's end and from the centreline."""
        assert self.door is not None
        step = self._step(name)
        for number, hole in enumerate(step["features"], start=1):
            x, y = self.wood.holes[hole]
            along = self.draws.read(f"{hole} found along {setting}", x - self.parts.wall, "rule")
            across = self.draws.read(f"{hole} found across {setting}", y, "rule")
            self.door.found(step, number, (self.parts.wall + along, across), self.parts.wall)

    def _heed(self, name: str) -> None:
        """Where the holes that are found make the strings' sides differ: tell it, or plug them, lay the plate and drill anew."""
        assert self.door is not None
        for setting in range(1, SETTINGS):
            codes = {each["code"] for each in self.door.findings()}
            self.told += [f"app: {code}" for code in sorted(codes) if code.startswith("bridge.")]
            if "strings.sides-differ" not in codes:
                return
            self.told.append(CAUTIONED)
            if self.way != "heeded":
                return
            self.door.untick(self._step(name))
            self._lay_plate(SETTINGS + setting)
            self._thread_test(f" again {setting}")
            self._screws(self._step(name), setting)
            self._done(name)
            self._find_holes(name, setting)


CAUTIONED = "holes: the sides will differ"
"""What is told where the app says so of the holes that were found."""

_MOVING = {"rout-bridge-pickup", "drill-bridge-screws"}
"""Steps whose cuts what comes after is planned by, on the demo."""

_DEPTHS = {
    "drill-bridge-screws": "bridge-screw",
    "drill-string-holes": "string-hole",
    "counterbore-ferrules": "ferrule-hole 1",
    "bore-ferrules": "ferrule-hole 2",
}
"""What each step of drilling has its depth kept under."""


def _passes(gate: Mapping[str, Any], asks: Sequence[Mapping[str, Any]], read: Sequence[float]) -> bool:
    """Whether what was read lies within what a gate asks for, by its own words: the least of several, or each."""
    if gate.get("counts") == "least":
        asks, read = [gate], [min(read)]
    return all(each["low"] - 1e-9 <= mm <= each["high"] + 1e-9 for each, mm in zip(asks, read, strict=True))


def _pocket(plan: Plan, name: str) -> Mapping[str, Any]:
    found: Mapping[str, Any] = next(each for each in plan["pockets"] if each["id"] == name)
    return found


_OUT, _DOUBT = (
    re.compile(r"measurement no\. (\d+) of the record \(([a-z0-9-]+)\) disagrees"),
    re.compile(r"no\. (\d+) \(([a-z0-9-]+)\)"),
)


def _wrong(findings: Sequence[Mapping[str, Any]]) -> Iterator[tuple[int, str]]:
    """Readings that the app asks for again: their number in the record where one is to be struck through, else 0."""
    for finding in findings:
        if finding["code"] != "record.contradicted":
            continue
        if found := _OUT.search(finding["message"]):
            yield int(found[1]), found[2]
        else:
            for _, name in _DOUBT.findall(finding["message"]):
                yield 0, name


def by_printed_plan(plan: Plan, steps: Sequence[Step], build: int, way: Way) -> tuple[Builder, list[Judged]]:
    """One instrument without the app."""
    builder = Builder(way, Draws(build), Parts(plan), steps)
    return builder, [*judged(builder.parts, builder.build())]


# --- the app's own door ----------------------------------------------------------------------------------------------


class AppDoor:
    """A job of the app, kept over HTTP: the JSON side, and the form of a hole's place, which has no other door.

    What was answered is kept until something is written. Any refusal is a fault: a careless builder asks for nothing odd.
    """

    def __init__(self, port: int, text: str) -> None:
        self.line = HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
        self.known: dict[str, Any] = {}
        made = self._ask("POST", "/api/jobs", {"text": text})
        self.job, self.revision = int(made["job_id"]), int(made["number"])

    def close(self) -> None:
        self.line.close()

    def plan(self) -> Plan:
        found: Plan = self._once("plan")
        return found

    def steps(self) -> Sequence[Step]:
        found: Sequence[Step] = self._once("steps")
        return found

    def findings(self) -> Sequence[Mapping[str, Any]]:
        found: Sequence[Mapping[str, Any]] = self._once("findings")
        return found

    def read(self, step: Step, values: Sequence[float], risk: str = "") -> None:
        asks = step["gate"].get("asks", [])
        given: dict[str, Any] = {"card": step["id"], "revision": self.revision, "risk": risk}
        if not values:
            given["yes"] = True
        elif asks:
            given["values"] = [
                {"ask": ask["id"], "value_mm": mm} for ask, mm in zip(asks, values, strict=True)
            ]
        else:
            given["value_mm"] = values[0]
        self._write("POST", "readings", given)

    def tick(self, step: Step) -> None:
        self._write("PUT", f"ticks/{step['id']}", {"revision": self.revision})

    def untick(self, step: Step) -> None:
        self._write("DELETE", f"ticks/{step['id']}", {})

    def measure(self, what: str, mm: float, *, anew: bool = False) -> None:
        self._write("POST", "measurements", {"what": what, "value_mm": mm, "anew": anew, "sure": True})

    def strike(self, no: int, why: str) -> None:
        self._write("POST", f"measurements/{no}/strike", {"why": why})

    def found(self, step: Step, number: int, at: tuple[float, float], wall: float) -> None:
        self.known.clear()
        along, across = at[0] - wall, at[1]
        form = {
            "hole": number,
            "along": f"{along:.2f}",
            "across": f"{abs(across):.2f}",
            "side": "treble" if across >= 0 else "bass",
        }
        self._send(
            "POST",
            f"/jobs/{self.job}/steps/{step['id']}/found",
            urlencode(form),
            "application/x-www-form-urlencoded",
        )

    def state(self, key: str, value: str) -> None:
        made = self._write("POST", "values", {"key": key, "value": value, "based_on": self.revision})
        self.revision = int(made["number"])

    def go_on_against(self, stop: Mapping[str, Any], why: str) -> None:
        given = {key: stop[key] for key in ("code", "features", "value")}
        self._write("POST", "overrides", {**given, "reason": why, "revision": self.revision})

    def _once(self, what: str) -> Any:
        if what not in self.known:
            self.known[what] = self._ask("GET", f"/api/jobs/{self.job}/{what}", None)
        return self.known[what]

    def _write(self, method: str, path: str, body: Mapping[str, Any]) -> Any:
        self.known.clear()
        return self._ask(method, f"/api/jobs/{self.job}/{path}", body)

    def _ask(self, method: str, path: str, body: Any) -> Any:
        content = self._send(method, path, None if body is None else json.dumps(body), "application/json")
        return json.loads(content) if content else None

    def _send(self, method: str, path: str, body: str | None, kind: str) -> bytes:
        try:
            self.line.request(method, path, body, {"content-type": kind})
            answer = self.line.getresponse()
        except (RemoteDisconnected, BrokenPipeError):  # the app closes what is idle for long
            self.line.close()
            self.line.request(method, path, body, {"content-type": kind})
            answer = self.line.getresponse()
        content = answer.read()
        assert answer.status < 400, (method, path, body, answer.status, content[:600])
        return content


def by_the_record(
    port: int, text: str, build: int, way: Way = "record", *, brisk: bool = False
) -> tuple[Builder, list[Judged]]:
    """One instrument with the app's record, a fresh job of its own."""
    door = AppDoor(port, text)
    try:
        parts, printed = Parts(door.plan()), door.steps()
        builder = Builder(way, Draws(build), parts, printed, door, brisk=brisk)
        return builder, [*judged(parts, builder.build())]
    finally:
        door.close()
