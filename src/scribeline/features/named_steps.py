"""How wide each hole is, how deep, and what its bit is set to, by name; what its screw or its partner makes of that."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from scribeline.features.bits import (
    TYPICAL_BRAD_POINT,
    Bit,
    brad_point,
    cone_point,
    drill_box,
)
from scribeline.features.bridge_anchors import bridge_timber
from scribeline.features.bushings import BELOW, PRESS, PRESS_SOURCE, bushing_depth, pressed_hole
from scribeline.features.controls import thread_passes, wood_over
from scribeline.features.cuts import Bore, Step, point_end, tip_depth
from scribeline.features.making import Features
from scribeline.features.meeting import PIN_HOLD, asked_depth, kept_depth, parted, stated_depth
from scribeline.features.neck_inserts import OVER_ROOT, heel_insert, in_insert, insert_end, insert_hole
from scribeline.features.neck_screws import (
    clearance_run,
    heel_pilot_depth,
    heel_screw,
    neck_timber,
    pocket_at,
    short_of_board,
    short_of_board_leaning,
    thread_in_heel,
    wood_passed,
)
from scribeline.features.passing import (
    BREAK_OUT,
    floor_from_top,
    floor_z,
    past_the_wall,
)
from scribeline.features.pilots import (
    BENCH_SHARE,
    BENCH_SOURCE,
    HANDBOOK_SHARE_HARDWOOD,
    HANDBOOK_SHARE_SOFTWOOD,
    HANDBOOK_SOURCE,
    bench_pilot,
    handbook_pilot,
    past_the_tip,
)
from scribeline.features.settings import cut_before, setting_of, travel
from scribeline.features.string_holes import (
    counterbore_cut,
    ferrule_depth,
    hole_in_bare_wood,
    passing_by,
)
from scribeline.job import Document, feature_id
from scribeline.layout import (
    ANCHORS,
    NECK_POCKET,
    Layout,
    Point,
    Pressed,
    Screwed,
    Threaded,
    cavity_words,
    depth_before,
)
from scribeline.layout.bench import beyond
from scribeline.layout.named import same
from scribeline.quantities import Formula, Input, Quantities, greatest
from scribeline.tables import Timber

MADE = "as it was made: on the record of the job"
COURSE = "the way that leaves most wood of all that keep the limits (docs/tunnels.md)"

Inputs = dict[str, Input]
Way = tuple[Formula, Inputs, str]
"""A formula, its inputs, and where its rule comes from."""


@dataclass(frozen=True, slots=True)
class _Screwed:
    """A wood screw of the job and what it goes into."""

    key: str
    under_head: Input
    timber: Timber


def hole_of(document: Document, number: int) -> tuple[int, int]:
    """Which of the job's holes a numbered one is, and which of its places, from 1."""
    return _within([len(hole.spots) for hole in document.holes], number)


def cover_of(document: Document, number: int) -> tuple[int, int]:
    """Which pocket's cover a numbered screw holds, and which of its places, from 1."""
    screws = [pocket.cover_screws for pocket in document.pockets]
    return _within([0 if each is None else len(each.places) for each in screws], number)


def _within(counts: Sequence[int], number: int) -> tuple[int, int]:
    """Which of several lists a number that counts through all of them lies in, and where in it."""
    for which, count in enumerate(counts, start=1):
        if number <= count:
            return which, number
        number -= count
    raise KeyError(number)


@dataclass(frozen=True)
class Steps:
    """Names every diameter of the holes of one plan.

    Attributes:
        found: where the names go.
        document: the job.
        layout: where everything sits.
        features: every cut.
        box: the key of each bit that is owned.
    """

    found: Quantities
    document: Document
    layout: Layout
    features: Features
    box: dict[Bit, str] = field(default_factory=dict)

    def bits(self) -> None:
        """Every bit of the box: its diameter is the job's own number, its point another."""
        bits = self.document.bits
        shelves = (
            ("twist", bits.twist),
            ("brad_point", bits.brad_point),
            ("flat_bottomed", bits.flat_bottomed),
        )
        keys = [f"bits.{kind}[{n}]" for kind, shelf in shelves for n in range(1, len(shelf) + 1)]
        for bit, key in zip(drill_box(bits), keys, strict=True):
            self.box.setdefault(bit, key)
            if f"{key}.point" not in self.found:
                self._point(f"{key}.point", bit, f"{key}.diameter")

    def _point(self, name: str, bit: Bit, diameter: Input) -> None:
        words, found = f"the point of the {bit.name} bit", self.found
        if bit.kind == "twist":
            inputs: Inputs = {"diameter": diameter, "angle": "bits.point_angle"}
            found.work(name, cone_point, inputs, what=words, source="plane geometry", planned=bit.point)
        elif bit.kind == "brad-point":
            inputs = {"diameter": diameter, "share": TYPICAL_BRAD_POINT}
            found.work(
                name,
                brad_point,
                inputs,
                what=words,
                source="from memory: measure your own",
                planned=bit.point,
            )
        else:
            found.give(name, bit.point, what=words, source="from memory: measure your own")

    def step(self, bore: Bore, no: int, step: Step, *, made: bool) -> None:
        """Name one diameter of a hole: its bit, its depth, where the bit's point ends, and what it is set to."""
        name, found = f"{bore.id}.step-{no}", self.found
        words = bore.role if len(bore.steps) == 1 else f"{bore.role}, diameter {no} of {len(bore.steps)}"
        if made:
            found.give(f"{name}.diameter", step.diameter, what=f"{words}: diameter", source=MADE)
            found.give(f"{name}.depth", step.depth, what=f"{words}: depth at full diameter", source=MADE)
        else:
            self._diameter(bore, no, step, words)
            self._depth(bore, no, step, words)
        point = self._point_of(name, step, made=made)
        reach: Inputs = {"depth": f"{name}.depth", "point": point}
        found.work(
            f"{name}.reach",
            point_end,
            reach,
            what=f"{words}: where the bit's point ends",
            planned=step.point_reaches,
        )
        self._setting(bore, no, words)

    def _point_of(self, name: str, step: Step, *, made: bool) -> str:
        key = self.box.get(step.bit)
        if key is not None and not made:
            return f"{key}.point"
        found, point = self.found, f"{name}.point"
        if made:
            found.give(point, step.bit.point, what=f"the point of the {step.bit.name} bit", source=MADE)
        elif step.bit.kind == "countersink":
            source = f"a cone of its angle, {step.bit.name}"
            found.give(point, step.bit.point, what="how deep the countersink goes", source=source)
        else:
            self._point(point, step.bit, step.diameter)
        return point

    def _setting(self, bore: Bore, no: int, words: str) -> None:
        name, before = f"{bore.id}.step-{no}", cut_before(bore, no - 1)
        setting = setting_of(self.layout, bore, no - 1, self.features.pockets)
        below: Input = setting.below
        if setting.kind == "tape" and before is not None:
            below = f"{bore.id}.step-{before + 1}.depth"
        self.found.work(
            f"{name}.setting",
            travel,
            {"reach": f"{name}.reach", "below": below},
            what=f"{words}: {setting.kind}",
            source=setting.words,
            planned=setting.mm,
        )

    def _diameter(self, bore: Bore, no: int, step: Step, words: str) -> None:
        """The bit, and what was wanted of it."""
        name, key, found = f"{bore.id}.step-{no}", self.box.get(step.bit), self.found
        wanted = self._wanted(bore, no)
        if wanted is not None:
            formula, inputs, source = wanted
            found.work(f"{name}.wanted", formula, inputs, what=f"{words}: diameter wanted", source=source)
        choice = "the nearest bit in the box that serves" if key else "no bit in the box serves: get one"
        if key:
            found.work(
                f"{name}.diameter", same, {"of": f"{key}.diameter"}, what=f"{words}: diameter", source=choice
            )
        elif step.bit.kind == "countersink":
            source = "the countersink's width, as stated"
            found.give(f"{name}.diameter", step.diameter, what=f"{words}: diameter", source=source)
        else:
            found.give(f"{name}.diameter", step.diameter, what=f"{words}: diameter", source=choice)

    def _wanted(self, bore: Bore, no: int) -> Way | None:
        film: Input = 0.0
        if self.document.finish.holes == "sprayed" and bore.family == "ferrule-hole":
            film = 2 * self.document.finish.film
        number = bore.number
        match bore.family:
            case "string-hole":
                return same, {"of": "string_holes.diameter"}, "as stated; it must pass what guides it"
            case "ferrule-hole":
                size = "ferrules.lip_diameter" if no == 1 else "ferrules.body_diameter"
                return (
                    hole_in_bare_wood,
                    {"size": size, "film": film},
                    "the finish narrows a sprayed hole by twice its thickness",
                )
            case "control" | "heel-pilot":
                key = f"controls[{number}].hole" if bore.family == "control" else self._in_the_heel(bore, no)
                return same, {"of": key}, "as stated" if bore.family == "control" else BENCH_SOURCE
            case "jack":
                key = "jack.recess_diameter" if no < len(bore.steps) else "jack.diameter"
                return same, {"of": key}, "as stated"
            case "bridge-stud" | "bridge-post" | "tailpiece-stud":
                return self._held(bore)
        return self._pilot(bore, no)

    def _in_the_heel(self, bore: Bore, no: int) -> str:
        """The name of what is wanted of a hole in the heel."""
        if self.document.neck_inserts is None:
            return "heel.pilot"
        return "heel.insert-hole" if no == len(bore.steps) else "heel.flange"

    def _pilot(self, bore: Bore, no: int) -> Way | None:
        """What is wanted of a wood screw's pilot; None where no screw goes into this diameter."""
        screwed = self._screwed(bore)
        if screwed is None or bore.steps[no - 1].bit.kind == "countersink":
            return None
        self.found.work(
            f"{bore.id}.handbook-pilot",
            handbook_pilot,
            {
                "root": f"{screwed.key}.root",
                "share": HANDBOOK_SHARE_SOFTWOOD if screwed.timber.softwood else HANDBOOK_SHARE_HARDWOOD,
            },
            what=f"{bore.role}: the handbook's lead hole",
            source=HANDBOOK_SOURCE,
        )
        return bench_pilot, self._pilot_inputs(screwed), _rule_for(screwed.timber)

    def _pilot_inputs(self, screwed: _Screwed) -> Inputs:
        share = BENCH_SHARE[screwed.timber.hardness_class]
        return {"root": f"{screwed.key}.root", "share": share, "thread": f"{screwed.key}.thread"}

    def _screwed(self, bore: Bore) -> _Screwed | None:
        """The wood screw that goes into a pilot."""
        screw = bore.screw
        if screw is None:
            return None
        number = bore.number
        wood = self.layout.timber_at(Point(bore.at.x, bore.at.y), bore.at.z)
        ways: dict[str, Callable[[], tuple[str, Input]]] = {
            "bridge-screw": self._bridge_screw,
            "hole": lambda: (key := f"holes[{hole_of(self.document, number)[0]}].screw", f"{key}.under_head"),
            "cover-screw": lambda: self._cover_keys(cover_of(self.document, number)[0]),
            "jack-screw": lambda: ("jack.screw", "jack.plate_thickness"),
            "claw-screw": lambda: ("bridge.claw_screw", f"{bore.id}.under-head"),
            "tree-screw": lambda: (key := screw.key.removesuffix(".length"), f"{key}.under_head"),
            "strap-button": lambda: (f"strap_buttons[{number}].screw", f"strap_buttons[{number}].under_head"),
        }
        if bore.family == "bridge-screw":
            wood = bridge_timber(self.document, self.layout, Point(bore.at.x, bore.at.y))
        elif bore.family == "tree-screw":
            wood = neck_timber(self.document)
        return _Screwed(*ways[bore.family](), wood)

    def _bridge_screw(self) -> tuple[str, Input]:
        """The keys of the bridge's screws, and of what they pass through."""
        parts = () if self.layout.bridge is None else (each.part for each in self.layout.bridge.anchors)
        part = next(part for part in parts if isinstance(part, Screwed))
        return part.key, part.thickness

    def _part(self, bore: Bore) -> Screwed | Pressed | Threaded | None:
        """What goes into a hole of the bridge's, or of what belongs to it."""
        if bore.family not in ANCHORS or self.layout.bridge is None:
            return None
        anchor = self.layout.bridge.anchor(bore.family, bore.number)
        return None if anchor is None else anchor.part

    def _held(self, bore: Bore) -> Way | None:
        """What is wanted of the hole of a bushing, or of a post wound into the wood."""
        part, timber = self._part(bore), self.layout.timber_at(Point(bore.at.x, bore.at.y), bore.at.z)
        if isinstance(part, Threaded):
            inputs: Inputs = {
                "root": part.root_key,
                "share": BENCH_SHARE[timber.hardness_class],
                "thread": part.key,
            }
            return bench_pilot, inputs, _rule_for(timber)
        return None if not isinstance(part, Pressed) else self._bushing(part, timber)

    def _bushing(self, part: Pressed, timber: Timber) -> Way:
        low, high = PRESS[timber.hardness_class]
        film = 2 * self.document.finish.film if self.document.finish.holes == "sprayed" else 0.0
        inputs: Inputs = {"outside": part.key, "press": (low + high) / 2, "film": film}
        return pressed_hole, inputs, f"half-way in what {timber.in_words} takes; {PRESS_SOURCE}"

    def _cover_keys(self, which: int) -> tuple[str, Input]:
        """The keys of a cover's screws, and of the cover's thickness."""
        own = f"pockets[{which}].cover_screws"
        thick = (f"{own}.cover_thickness", f"pockets[{which}].ledge.depth")
        return own, next((key for key in thick if key in self.found), 0.0)

    def _depth(self, bore: Bore, no: int, step: Step, words: str) -> None:
        name, what = f"{bore.id}.step-{no}.depth", f"{words}: depth at full diameter"
        way = self._depth_way(bore, no, step)
        if way is None:
            source = COURSE if bore.is_wire_way else "where the bit has come out, and past it"
            self.found.give(name, step.depth, what=what, source=source)
            return
        formula, inputs, source = way
        self.found.work(name, formula, inputs, what=what, source=source, planned=step.depth)

    def _depth_way(self, bore: Bore, no: int, step: Step) -> Way | None:
        if step.bit.kind == "countersink":
            return same, {"of": 0.0}, "a cone begins at the face"
        if bore.family == "heel-pilot":
            last = no == len(bore.steps)
            return same, {"of": "heel.pilot-depth" if last else "neck_inserts.flange_thickness"}, BENCH_SOURCE
        screwed = self._screwed(bore)
        if screwed is not None:
            tip = f"{bore.id}.screw-tip"
            inputs: Inputs = {"length": f"{screwed.key}.length", "under_head": screwed.under_head}
            self.found.work(tip, tip_depth, inputs, what=f"{bore.role}: where its screw's tip ends")
            return past_the_tip, {"tip": tip, "relief": "rule.pilot-relief"}, BENCH_SOURCE
        match self._part(bore):
            case Pressed() as part:
                return bushing_depth, {"length": part.length_key, "below": BELOW}, BENCH_SOURCE
            case Threaded() as part:
                return past_the_tip, {"tip": part.length_key, "relief": "rule.pilot-relief"}, BENCH_SOURCE
            case _:
                pass
        ways: dict[str, Callable[[], Way | None]] = {
            "string-hole": self._top_depth,
            "ferrule-hole": lambda: self._ferrule_depth(no),
            "neck-screw": lambda: self._clearance(bore, no),
            "control": lambda: self._shaft(bore),
            "jack": lambda: self._jack(bore, no, step),
            "hole": lambda: self._stated_depth(bore, no),
        }
        return ways.get(bore.family, lambda: None)()

    def _ferrule_depth(self, no: int) -> Way:
        film: Input = 0.0 if self.document.finish.holes == "sprayed" else "finish.film"
        counterbore: Inputs = {"lip": "ferrules.lip_height", "recess": "ferrules.recess", "film": film}
        if no == 1:
            return counterbore_cut, counterbore, "the finish raises the face round a masked hole"
        inputs: Inputs = {**counterbore, "body": "ferrules.body_length", "relief": "string_holes.relief"}
        return ferrule_depth, inputs, BENCH_SOURCE

    def _top_depth(self) -> Way:
        document = self.document
        if document.string_holes.top_share is not None:
            inputs: Inputs = {"share": "string_holes.top_share", "wood": "body.thickness"}
            return stated_depth, inputs, "as stated, up to the next half millimetre"
        bore = next(bore for bore in self.features.family("string-hole"))
        point = self._point_of(f"{bore.id}.step-1", bore.deepest, made=False)
        back = ("string_holes.relief", "ferrules.body_length", "ferrules.lip_height", "ferrules.recess")
        names = ("relief", "body", "lip", "recess")
        film: Input = 0.0 if document.finish.holes == "sprayed" else "finish.film"
        return (
            _top_depth,
            {
                "wood": "body.thickness",
                "plus_minus": document.body.thickness.plus_minus,
                **dict(zip(names, back, strict=True)),
                "film": film,
                "overlap": "limits.bores_meeting.caution",
                "stop": "rule.stop-error",
                "drift": "rule.drift",
                "diameter": "string_holes.diameter",
                "bore": self._ferrule_body(),
                "pin": PIN_HOLD,
                "point": point,
                "under": "limits.bore_floor.caution",
            },
            f"so that the holes are sure to meet, up to the next half millimetre; {BENCH_SOURCE}",
        )

    def _ferrule_body(self) -> Input:
        """What the ferrule's own bore is cut to, which the depth from the top asks for."""
        name, sprayed = "ferrules.bore", self.document.finish.holes == "sprayed"
        film = 2 * self.document.finish.film if sprayed else 0.0
        inputs: Inputs = {"size": "ferrules.body_diameter", "film": film}
        self.found.work(name, hole_in_bare_wood, inputs, what="diameter wanted for a ferrule's body")
        return name

    def _clearance(self, bore: Bore, no: int) -> Way:
        if no < len(bore.steps):
            return same, {"of": f"{self.document.neck_bolts_key}.cup_depth"}, "as stated"
        run = f"{bore.id}.run"
        inputs: Inputs = {"floor": self._floor_at(bore), "start": f"{bore.id}.z"}
        self.found.work(run, clearance_run, inputs, what="from the back to the neck pocket's floor")
        return past_the_wall, {"run": self._longest_run(run), "break_out": "rule.break-out"}, BENCH_SOURCE

    def _floor_at(self, bore: Bore) -> str:
        """The name of the height of the neck pocket's floor over a neck screw."""
        neck = feature_id(NECK_POCKET)
        pocket, name = self.features.pocket(neck), f"{bore.id}.floor-height"
        if pocket.slope is None:
            return f"{neck}.floor-height"
        height, what = floor_z(self.layout, pocket, bore.at.x), f"height of the {NECK_POCKET}'s floor there"
        if abs(height - floor_from_top(pocket_at(self.document, self.layout.pocket_end - bore.at.x))) < 1e-9:
            self.found.work(name, floor_from_top, {"depth": self._pocket_at(bore.number)}, what=what)
        else:
            self.found.give(name, height, what=what, source=MADE)
        return name

    def _longest_run(self, own: str) -> Input:
        """What all the neck screws' holes are drilled through, where the floor leans: one setting serves them all."""
        pocket = self.features.pocket(feature_id(NECK_POCKET))
        if pocket.slope is None:
            return own
        name = "neck-screws.longest-run"
        if name not in self.found:
            holes = self.features.family("neck-screw")
            run = max(clearance_run(floor_z(self.layout, pocket, hole.at.x), hole.at.z) for hole in holes)
            what = "from the back to the neck pocket's floor, at the neck screw where that is furthest"
            self.found.give(name, run, what=what, source="the greatest of the screws' own runs")
        return name

    def _shaft(self, bore: Bore) -> Way:
        control = self.document.controls[bore.number - 1]
        wood, key = f"{bore.id}.wood", f"controls[{bore.number}]"
        over: Inputs = {"top": f"{bore.id}.z", "floor": f"{feature_id(control.into)}.floor-height"}
        self.found.work(
            wood, wood_over, over, what=f"wood over the {cavity_words(control.into)} at the {control.name}"
        )
        self.found.work(
            f"{bore.id}.thread-passes",
            thread_passes,
            {"thread": f"{key}.thread_length", "nut": f"{key}.nut_and_washers", "spare": "rule.thread-spare"},
            what=f"wood that the thread of the {control.name} can pass",
            source=BENCH_SOURCE,
        )
        left: Inputs = {"x": f"{bore.id}.thread-passes", "datum": wood}
        self.found.work(f"{bore.id}.thread-left", beyond, left, what=f"thread in hand of the {control.name}")
        return _past_what_is_there, {"run": wood, "break_out": "rule.break-out"}, BENCH_SOURCE

    def _jack(self, bore: Bore, no: int, step: Step) -> Way:
        jack = self.document.jack
        assert jack is not None
        if no < len(bore.steps):
            return same, {"of": "jack.recess_depth"}, "as stated"
        if jack.depth is not None:
            return same, {"of": "jack.depth"}, "as stated"
        assert jack.into is not None
        opening = f"{bore.id}.opening"
        self.found.give(
            opening,
            step.depth - BREAK_OUT,
            what=f"the edge to where the whole hole is through the wall of the {cavity_words(jack.into)}",
            source="found along its lines to the outline of the cavity",
        )
        return past_the_wall, {"run": opening, "break_out": "rule.break-out"}, BENCH_SOURCE

    def _stated_depth(self, bore: Bore, no: int) -> Way | None:
        which = hole_of(self.document, bore.number)[0]
        hole = self.document.holes[which - 1]
        own = no - (len(bore.steps) - max(1, len(hole.steps)))
        key = f"holes[{which}].steps[{own}].depth" if hole.steps else f"holes[{which}].depth"
        if key in self.found:
            return same, {"of": key}, "as stated"
        if bore.is_upright and self.layout.body.is_plain and not hole.into:
            return past_the_wall, {"run": "body.thickness", "break_out": "rule.break-out"}, BENCH_SOURCE
        return None

    def heel(self) -> None:
        """Name what the neck's screws, or its inserts, do in the heel."""
        self.inserts()
        screws, heel = self.document.neck_screws, heel_screw(self.document)
        if screws is None or heel is None:
            return
        found, under = self.found, "neck_screws.plate_thickness"
        cup: Input = 0.0 if screws.cup_depth is None else "neck_screws.cup_depth"
        deep, shallow = self._pocket_at_screws()
        leaning: Inputs = {"angle": "neck.angle"} if deep != shallow or self.document.neck.angle else {}
        wood: Inputs = {"thickness": "body.thickness", "pocket": shallow, "cup": cup}
        found.work("heel.wood-passed", wood_passed, wood, what="wood of the body that a neck screw passes")
        inputs: Inputs = {
            "length": "neck_screws.length",
            "under_head": under if under in found else 0.0,
            "wood": "heel.wood-passed",
        }
        found.work(
            "heel.thread",
            thread_in_heel,
            inputs,
            what="thread of a neck screw in the heel",
            planned=heel.engages,
        )
        engages = "heel.thread"
        if deep != shallow:
            engages = "heel.deepest-thread"
            found.work(
                "heel.least-wood-passed",
                wood_passed,
                {**wood, "pocket": deep},
                what="wood that the neck screw passes where the pocket is deepest",
            )
            found.work(
                engages,
                thread_in_heel,
                {**inputs, "wood": "heel.least-wood-passed"},
                what="thread in the heel of the neck screw that goes deepest",
                planned=heel.deepest,
            )
        inputs = {
            "heel": "neck.heel_thickness",
            "board": "neck.board_thickness",
            "engages": engages,
            **leaning,
        }
        found.work(
            "heel.to-board",
            short_of_board_leaning if leaning else short_of_board,
            inputs,
            what="a neck screw's tip to the fingerboard's glue line",
            planned=heel.to_board,
        )
        wood_of_heel = heel.timber
        found.work(
            "heel.pilot",
            bench_pilot,
            self._pilot_inputs(_Screwed("neck_screws", 0.0, wood_of_heel)),
            what="pilot in the heel: diameter wanted",
            source=_rule_for(wood_of_heel),
        )
        point = self._point_of("heel.pilot", Step(heel.bit.diameter, heel.pilot_depth, heel.bit), made=False)
        inputs = {
            "engages": engages,
            "to_board": "heel.to-board",
            "point": point,
            "relief": "rule.pilot-relief",
        }
        found.work(
            "heel.pilot-depth",
            heel_pilot_depth,
            inputs,
            what="pilot in the heel: depth",
            planned=heel.pilot_depth,
        )

    def inserts(self) -> None:
        """Name what the inserts and their machine screws do in the heel."""
        stated, heel = self.document.neck_inserts, heel_insert(self.document)
        if stated is None or heel is None:
            return
        found, work = self.found, self.found.work
        deep, shallow = self._pocket_at_screws()
        cup: Input = 0.0 if stated.cup_depth is None else "neck_inserts.cup_depth"
        plate = "neck_inserts.plate_thickness"
        under, sunk = (key if key in found else 0.0 for key in (plate, "neck_inserts.flange_thickness"))
        for name, passed, pocket, whose in (
            ("heel.screw-reach", "heel.wood-passed", shallow, "that goes least deep"),
            ("heel.deepest-reach", "heel.least-wood-passed", deep, "that goes deepest"),
        ):
            wood: Inputs = {"thickness": "body.thickness", "pocket": pocket, "cup": cup}
            work(passed, wood_passed, wood, what=f"wood of the body that the neck screw {whose} passes")
            inputs: Inputs = {"length": "neck_inserts.screw_length", "under_head": under, "wood": passed}
            what = f"from the heel's underside to the tip of the neck screw {whose}"
            work(name, thread_in_heel, inputs, what=what)
        inputs = {"sunk": sunk, "length": "neck_inserts.length"}
        work("heel.insert-end", insert_end, inputs, what="from the heel's underside to the end of an insert")
        inputs = {"reach": "heel.screw-reach", "sunk": sunk, "end": "heel.insert-end"}
        what = "thread of a machine screw in its insert"
        work("heel.thread", in_insert, inputs, what=what, planned=heel.engages)
        inputs = {"one": "heel.insert-end", "other": "heel.deepest-reach"}
        work("heel.deepest", greatest_of, inputs, what="the deeper of an insert's end and its screw's tip")
        leaning: Inputs = {"angle": "neck.angle"} if self.document.neck.angle else {}
        work(
            "heel.to-board",
            short_of_board_leaning if leaning else short_of_board,
            {
                "heel": "neck.heel_thickness",
                "board": "neck.board_thickness",
                "engages": "heel.deepest",
                **leaning,
            },
            what="from there to the fingerboard's glue line",
            planned=heel.to_board,
        )
        over = OVER_ROOT[heel.timber.hardness_class]
        rule = _rule_for(heel.timber)
        inputs = {"root": "neck_inserts.root", "over": over}
        work("heel.insert-hole", insert_hole, inputs, what="hole of an insert: diameter wanted", source=rule)
        if heel.flange is not None:
            what = "counterbore of an insert's flange: diameter"
            found.give("heel.flange", heel.flange.diameter, what=what, source="wider than the flange")
        point = self._point_of("heel.insert-hole", Step(heel.bit.diameter, heel.depth, heel.bit), made=False)
        inputs = {
            "engages": "heel.deepest",
            "to_board": "heel.to-board",
            "point": point,
            "relief": "rule.pilot-relief",
        }
        work(
            "heel.pilot-depth", heel_pilot_depth, inputs, what="hole of an insert: depth", planned=heel.depth
        )

    def _pocket_at_screws(self) -> tuple[str, str]:
        """The names of the neck pocket's depth where a screw stands in it deepest and shallowest; one where it is level."""
        screws, neck = self.document.neck_bolts, self.document.neck
        assert screws is not None
        if not neck.angle:
            return "neck.pocket_depth", "neck.pocket_depth"
        ranked = sorted(enumerate(screws.places, 1), key=lambda each: pocket_at(self.document, each[1][0]))
        shallow, deep = (self._pocket_at(ranked[n][0]) for n in (0, -1))
        return deep, shallow

    def _pocket_at(self, number: int) -> str:
        """The name of the neck pocket's depth at a neck screw."""
        name = f"neck-screw-{number}.pocket-depth"
        if name not in self.found:
            inputs: Inputs = {
                "depth": "neck.pocket_depth",
                "before": f"{self.document.neck_bolts_key}.places[{number}][1]",
                "angle": "neck.angle",
            }
            what = f"depth of the neck pocket at neck screw {number}"
            self.found.work(name, depth_before, inputs, what=what)
        return name

    def meeting(self) -> None:
        """Name by how much the two bores of each string pass each other and may part."""
        for bore in self.features.family("ferrule-hole"):
            number = bore.number
            top, back = f"string-hole-{number}.step-1", f"{bore.id}.step-{len(bore.steps)}"
            if f"{top}.depth" not in self.found:
                continue
            depths: Inputs = {"top": f"{top}.depth", "back": f"{back}.depth"}
            what = f"by how much the holes of string {number} overlap"
            self.found.work(f"{bore.id}.overlap", passing_by, {**depths, "wood": "body.thickness"}, what=what)
            drills = [self._drift(each) for each in (f"string-hole-{number}", bore.id)]
            inputs = {"pin": "rule.pin-off", "first": drills[0], "second": drills[1], **depths}
            what = f"by how far the holes of string {number} may miss each other sideways"
            self.found.work(f"{bore.id}.parted", parted, inputs, what=what, source=BENCH_SOURCE)

    def _drift(self, name: str) -> Input:
        bit = next(bore for bore in self.features.bores if bore.id == name).deepest.bit
        return "rule.drift" if bit.drift is None else bit.drift


def _rule_for(wood: Timber) -> str:
    return f"the bench's rule for {wood.hardness_class} wood; {BENCH_SOURCE}"


def greatest_of(one: float, other: float) -> float:
    """The greater of two lengths, mm."""
    return greatest(one, other)


def _past_what_is_there(run: float, break_out: float) -> float:
    return past_the_wall(greatest(0.0, run), break_out)


def _top_depth(
    *, lip: float, recess: float, film: float, body: float, relief: float, **meeting: float
) -> float:
    back = ferrule_depth(lip, recess, film, body, relief)
    point, under = meeting.pop("point"), meeting.pop("under")
    return kept_depth(asked_depth(back=back, **meeting), meeting["wood"], point, under)
