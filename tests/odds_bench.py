"""A bench of its own that builds one plan's instrument again and again, errors and all, and has every build planned anew.

It knows the accuracies' table, the cuts of the plan and how a bench works; nothing of `scribeline.odds`. Each build is two
records that `plan` is given: one with every cut as it came to lie in the wood, and one with the bridge's holes as they came
to lie to the neck and its strings. The plan's own numbers are then read off.

Written for a right-handed, level, bolt-on six-string with a plate that guides the string bit, as the demo's is.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from math import hypot, radians, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scribeline.features import Bore, Feature, Pocket, as_cut
from scribeline.job import Cut, Done, Job, Record
from scribeline.layout import saddle_heights
from scribeline.plan import Plan, plan
from scribeline.tables import usual_accuracies

Floats = NDArray[np.float64]

RULE, LINE, AWL, BRAD, TWIST, BLOCK, FENCE = 0.15, 0.20, 0.30, 0.12, 0.20, 0.20, 0.05
LEAN_BLOCK, LEAN_PRESS = radians(0.4), radians(0.25)
TAPE_HELD, EDGE, ROUTER, STOP, FLAG = 0.20, 0.10, 0.12, 0.20, 0.7
THREAD, TAPE, PIN, PRINT, RULE_SCALE = 0.15, 0.20, 0.10, 0.0015, 0.0002
"""Standard deviations, mm or mm per mm: the table of accuracies (common practice, no source), typed in once more; the awl's is
that of ring-porous timber."""

LIKE_THE_TABLE = {
    "rule": RULE,
    "mark-pencil": LINE,
    "prick-awl-ring": AWL,
    "bit-brad": BRAD,
    "bit-twist": TWIST,
    "fence-batten": FENCE,
    "bit-block": BLOCK,
    "lean-block": LEAN_BLOCK,
    "lean-press": LEAN_PRESS,
    "template-tape": TAPE_HELD,
    "template-bearing": EDGE,
    "depth-router": ROUTER,
    "depth-press": STOP,
    "depth-tape": FLAG,
    "thread": THREAD,
    "tape": TAPE,
    "flip-pin": PIN,
    "print-scale": PRINT,
    "rule-scale": RULE_SCALE,
}


def table_agrees() -> bool:
    """Whether these are what the table says."""
    table = usual_accuracies()
    return all(abs(table[key].sd - sd) < 1e-12 for key, sd in LIKE_THE_TABLE.items())


_WHEN = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)


@dataclass
class Bench:
    """Builds of one plan's instrument.

    Attributes:
        planned: the plan they are built by.
        random: where their errors are drawn from.
        in_wood: where each cut came to lie, of the build in work.
        to_neck: where the bridge's holes came to lie to the neck.
    """

    planned: Plan
    random: np.random.Generator
    in_wood: dict[str, Cut] = field(default_factory=dict)
    to_neck: dict[str, tuple[float, float]] = field(default_factory=dict)

    def err(self, *sds: float) -> float:
        """One error made of several."""
        return sum(self.random.normal(0.0, sd) for sd in sds)

    def within(self, half: float) -> float:
        """Anywhere between two limits."""
        return float(self.random.uniform(-half, half))

    def build(self) -> dict[str, float]:
        """One build: the plan's numbers of it by the names that the odds give them."""
        self.in_wood, self.to_neck = {}, {}
        document = self.planned.job.document
        self.thicker = self.within(document.body.thickness.plus_minus)
        self.lean = self.err(LEAN_PRESS), self.err(LEAN_PRESS)
        self.rule_long, self.print_long = self.err(RULE_SCALE), self.err(PRINT)
        features = {cut.id: cut for cut in self.planned.features}
        stops = self._stops()
        for cut in features.values():
            if isinstance(cut, Pocket):
                self._rout(cut, stops[cut.id])
        plate = self._set_the_plate(features, stops)
        self._string_holes(features, stops, plate)
        for cut in features.values():
            if isinstance(cut, Bore) and cut.id not in self.in_wood:
                self._drill(cut, stops)
        return self._read()

    def _stops(self) -> dict[str, float]:
        """Every depth's error: one for each setting of a stop, one for each flag of tape."""
        found: dict[str, float] = {}
        for work in self.planned.operations:
            router = work.machine == "router"
            shared = self.err(ROUTER if router else STOP)
            for cut in work.cuts:
                # The last diameter's setting is the one that ends the hole.
                found[cut.feature] = self.err(FLAG) if work.machine == "hand drill" else shared
        return found

    def _from_the_datums(self, x: float, y: float) -> tuple[float, float]:
        """A place set out with a rule that is a little too long, from the pocket's end wall and the centreline."""
        end = self.planned.job.document.neck.pocket_end
        return self.rule_long * (x - end), self.rule_long * y

    def _rout(self, pocket: Pocket, deeper: float) -> None:
        xs, ys = zip(*pocket.outline, strict=True)
        middle = (max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2
        off = self._from_the_datums(*middle)
        aside = [each + self.err(RULE, LINE, TAPE_HELD, EDGE) for each in off]
        self.pocket_off = {**getattr(self, "pocket_off", {}), pocket.id: tuple(aside)}
        outline = tuple(
            tuple(
                m + (place - m) * (1 + self.print_long) + by
                for place, m, by in zip(corner, middle, aside, strict=True)
            )
            for corner in pocket.outline
        )
        cut = as_cut(pocket)
        self.in_wood[pocket.id] = _with(cut, outline=outline, depth=pocket.depth + deeper)
        if pocket.id == "neck-pocket":
            self.pocket_deeper = deeper

    def _set_the_plate(self, features: Mapping[str, Feature], stops: Mapping[str, float]) -> _Plate:
        """Lay the plate down, mark through it, drill its holes, and lay it on them: where it then lies."""
        layout = self.planned.layout
        document: Any = self.planned.job.document
        bridge = document.bridge
        place = layout.bridge
        assert place is not None
        front = place.middle
        along = self.err(RULE) + self.rule_long * (front.x - layout.twelfth)
        first = layout.strings[0]
        lever = (first.scale + first.setback) / first.frets[-1]
        across = lever * (self.err(THREAD) - self.err(THREAD)) / 2
        turn = self._square(self.err(TAPE) - self.err(TAPE))
        screws = [cut for cut in features.values() if isinstance(cut, Bore) and cut.family == "bridge-screw"]
        holes = {}
        for screw in screws:
            x, y = screw.at.x - front.x, screw.at.y - front.y
            holes[screw.id] = (
                front.x + along + x - turn * y + self.err(AWL, TWIST),
                front.y + across + y + turn * x + self.err(AWL, TWIST),
            )
            self._bore(screw, holes[screw.id], self.lean, stops[screw.id])
        play = (bridge.screw_hole.mm - document.bridge_screw.thread.mm) / 2
        shift = self.within(play), self.within(play)
        # The neck goes back with the play of each end of its heel.
        neck = document.neck
        ends = self.within(neck.slip / 2), self.within(neck.slip / 2)
        yaw, middle = (ends[0] - ends[1]) / neck.pocket_length, neck.pocket_end - neck.pocket_length / 2
        for name, (x, y) in holes.items():
            self.to_neck[name] = (
                x + shift[0] - yaw * features[name].at.y,  # type: ignore[union-attr]
                y + shift[1] + sum(ends) / 2 + yaw * (features[name].at.x - middle),  # type: ignore[union-attr]
            )
        return _Plate([(screw.at.x, screw.at.y) for screw in screws], list(holes.values()), shift)

    def _square(self, differ: float) -> float:
        """How far a plate is turned whose diagonals, read with errors that differ so much, seemed alike."""
        layout = self.planned.layout
        assert layout.bridge is not None
        treble, bass = (corner.at for corner in layout.bridge.corners)
        fret, mid = layout.frets[11], layout.bridge.middle

        def apart(turn: float) -> float:
            def at(corner: Any) -> tuple[float, float]:
                x, y = corner.x - mid.x, corner.y - mid.y
                return mid.x + x - turn * y, mid.y + y + turn * x

            (tx, ty), (bx, by) = at(treble), at(bass)
            return hypot(bx - fret.treble.x, by - fret.treble.y) - hypot(tx - fret.bass.x, ty - fret.bass.y)

        step = 1e-5
        return differ / ((apart(step) - apart(-step)) / (2 * step))

    def _string_holes(
        self, features: Mapping[str, Feature], stops: Mapping[str, float], plate: _Plate
    ) -> None:
        """String holes through the plate, and over each of them, on a pin and along a fence by the outer two, its ferrule's."""
        bridge: Any = self.planned.job.document.bridge
        pin = self.err(PIN), self.err(PIN)
        thickness = self.planned.layout.thickness
        holes = [cut for cut in features.values() if isinstance(cut, Bore) and cut.family == "string-hole"]
        mouths = []
        for cut in holes:
            play = (bridge.string_hole.mm - cut.widest) / 2
            x, y = plate.carried(cut.at.x, cut.at.y)
            mouths.append((x + self.within(play), y + self.within(play)))
            self._bore(cut, mouths[-1], self.lean, stops[cut.id])
        (first_x, first_y), (last_x, last_y) = mouths[0], mouths[-1]
        # Turned over about its long axis, the body leans the other way across; the pin stands in the top's mouth.
        leans = self.lean[0], -self.lean[1]
        for cut, (_, y) in zip(holes, mouths, strict=True):
            ferrule = features[f"ferrule-hole-{cut.number}"]
            assert isinstance(ferrule, Bore)
            fence = first_x + (y - first_y) / (last_y - first_y) * (last_x - first_x) + self.err(FENCE)
            start = y + self.err(BRAD)
            back = [at + p - thickness * by for at, p, by in zip((fence, start), pin, leans, strict=True)]
            self._bore(ferrule, (back[0], back[1]), leans, stops[ferrule.id])

    def _drill(self, bore: Bore, stops: Mapping[str, float]) -> None:
        x, y = bore.at.x, bore.at.y
        if bore.face in {"edge", "pocket"} or bore.is_wire_way:
            self._by_hand(bore, stops)
            return
        start = TWIST if bore.steps[0].bit.kind == "twist" else BRAD
        if bore.family == "cover-screw":
            off = self.pocket_off[next(iter(bore.meets))]
            at = tuple(p + by + self.err(AWL, start) for p, by in zip((x, y), off, strict=True))
        else:
            off = self._from_the_datums(x, y)
            at = tuple(p + by + self.err(RULE, LINE, AWL, start) for p, by in zip((x, y), off, strict=True))
        side = -1.0 if bore.face == "back" else 1.0
        self._bore(bore, (at[0], at[1]), (self.lean[0], side * self.lean[1]), stops[bore.id])

    def _by_hand(self, bore: Bore, stops: Mapping[str, float]) -> None:
        """A hole in a guide block: its mark lies off in the wall it is cut from, and it leans any way."""
        out = np.array(bore.normal)
        one = np.cross(out, [0.0, 0.0, 1.0])
        one = one / np.linalg.norm(one) if np.linalg.norm(one) > 1e-9 else np.array([1.0, 0.0, 0.0])
        other = np.cross(out, one)
        at = (
            np.array(bore.at)
            + self.err(RULE, LINE, AWL, BLOCK) * one
            + self.err(RULE, LINE, AWL, BLOCK) * other
        )
        if bore.face == "top":  # the ground wire's, set out with the rule from the plate
            where, twist = self._moved_with_plate(), self._from_the_datums(bore.at.x, bore.at.y)
            at[:2] += np.array(where) + np.array(twist)
        axis = np.array(bore.axis)
        first = np.cross(axis, [0.3, 0.5, 0.8])
        first /= np.linalg.norm(first)
        leant = axis + self.err(LEAN_BLOCK) * first + self.err(LEAN_BLOCK) * np.cross(axis, first)
        deeper = 0.0 if bore.is_wire_way else stops[bore.id]
        self._put(bore, tuple(at.tolist()), tuple((leant / np.linalg.norm(leant)).tolist()), deeper)

    def _moved_with_plate(self) -> tuple[float, float]:
        """How far the plate's holes lie off on average: where what is marked under it goes."""
        moved = []
        for name in self.to_neck:
            at, planned = self.in_wood[name].at, self._planned(name).at
            assert at is not None
            moved.append((at[0] - planned.x, at[1] - planned.y))
        along, across = np.mean(moved, axis=0).tolist()
        return along, across

    def _planned(self, name: str) -> Bore:
        return next(bore for bore in self.planned.features.bores if bore.id == name)

    def _bore(self, bore: Bore, mouth: tuple[float, float], lean: tuple[float, float], deeper: float) -> None:
        z = bore.at.z - (self.thicker if bore.face == "back" else 0.0)
        axis = np.array([lean[0], lean[1], bore.axis.z])
        axis /= np.linalg.norm(axis)
        self._put(bore, (*mouth, z), tuple(axis.tolist()), 0.0 if bore.through else deeper)

    def _put(self, bore: Bore, at: tuple[float, ...], axis: tuple[float, ...], deeper: float) -> None:
        cut = as_cut(bore)
        last = cut.steps[-1]
        upright = bore.face in {"top", "back"} and abs(bore.axis.z) > 1 - 1e-9
        # A short bit does not wander because the press leans.
        drift = 0.0 if upright and last.depth <= 60 else last.bit.drift
        deepest = _with(last, depth=last.depth + deeper, bit=_with(last.bit, drift=drift))
        self.in_wood[bore.id] = _with(cut, at=at, axis=axis, steps=(*cut.steps[:-1], deepest))

    # --- what is read off ---------------------------------------------------------------------------------

    def _read(self) -> dict[str, float]:
        """Plan both records anew, and read the plan's numbers."""
        job = self._as_it_measures()
        wood = plan(job, Record(done=(_done(self.in_wood.values()),)))
        holes = [_with(as_cut(self._planned(name)), measured=place) for name, place in self.to_neck.items()]
        strung = plan(self._strung(job), Record(done=(_done(holes),)))
        return dict(self._of_the_wood(wood)) | dict(self._of_the_strings(strung))

    def _as_it_measures(self) -> Job:
        """The job with its parts as they really are, each anywhere within its ±."""
        document = self.planned.job.document
        changed: dict[str, Any] = {}
        for name in type(document).model_fields:
            table = getattr(document, name)
            own = {}
            for key in getattr(type(table), "model_fields", ()):
                value = getattr(table, key)
                if not hasattr(value, "plus_minus") or name == "setup":
                    continue
                by = self.within(value.plus_minus)
                if (name, key) == ("body", "thickness"):
                    by = self.thicker
                if (name, key) == ("neck", "pocket_depth"):
                    by = self.pocket_deeper
                own[key] = replace(value, mm=value.mm + by)
            if own:
                changed[name] = table.model_copy(update=own)
        changed |= {"string_sets": (), "tunnels": (), "ground_wire": None}  # those are in the wood by now
        return replace(self.planned.job, document=document.model_copy(update=changed))

    def _strung(self, job: Job) -> Job:
        """The job with each string's saddle wanted where it turns out to be, from the prediction's own covariance."""
        stringing = self.planned.layout.stringing
        assert stringing.prediction is not None
        self.longer = self.within(0.1)
        wanted = self.random.multivariate_normal(
            stringing.prediction.setback, stringing.prediction.covariance, method="cholesky"
        )
        strings = tuple(
            string.model_copy(update={"setback": float(place) + self.longer})
            for string, place in zip(job.document.strings, wanted, strict=True)
        )
        bench = job.document.bench.model_copy(update={"saddle_deviations": 0.0})
        return replace(job, document=job.document.model_copy(update={"strings": strings, "bench": bench}))

    def _of_the_wood(self, found: Plan) -> Iterator[tuple[str, float]]:
        for web in found.webs:
            yield f"web.{web.a}.{web.b}", web.mm - web.overlap
        for outside in found.outside:
            yield f"{outside.feature}.to-opposite", outside.to_opposite
            yield f"{outside.feature}.to-edge", outside.to_edge
            for face, left in (("top", outside.to_top), ("back", outside.to_back)):
                if left is not None:
                    yield f"{outside.feature}.to-{face}", left
        deep = {cut.id: cut.steps[-1].depth for cut in self.in_wood.values() if cut.steps}
        thick = self.planned.layout.thickness + self.thicker
        for hole in self.planned.features.family("string-hole"):
            name = f"ferrule-hole-{hole.number}"
            yield f"{name}.overlap", deep[hole.id] + deep[name] - thick
        row = [
            self.in_wood[f"ferrule-hole-{hole.number}"]
            for hole in self.planned.features.family("string-hole")
        ]
        xs, ys = np.array([cut.at for cut in row]).T[:2]
        slope, start = np.polyfit(ys, xs, 1)
        for cut, off in zip(row, (xs - start - slope * ys) / hypot(1, slope), strict=True):
            yield f"{cut.id}.row", float(off)
        cavity = self.in_wood["control-cavity"].depth
        assert cavity is not None
        for number, each in enumerate(self.planned.job.document.controls, start=1):
            # Half a millimetre of thread to spare, as the rule of controls has it.
            spare = each.thread_length.mm - each.nut_and_washers.mm - 0.5
            yield f"control-{number}.thread-left", spare - (thick - cavity)
        heights = found.job.document.bridge
        assert heights.lowest is not None
        assert heights.highest is not None
        for number, over in enumerate(saddle_heights(found.job.document, found.layout.stringing), start=1):
            yield f"saddle-room.{number}.down", float(over) - heights.lowest.mm
            yield f"saddle-room.{number}.up", heights.highest.mm - float(over)

    def _of_the_strings(self, found: Plan) -> Iterator[tuple[str, float]]:
        for each in found.measurables:
            longer = self.longer if each.id in {"nut-to-12th", "nut-to-plate"} else 0.0
            yield each.id, each.value + longer
        travel = found.layout.travel
        for number, (forward, back) in enumerate(zip(travel.forward, travel.back, strict=True), start=1):
            yield f"travel.0.{number}.forward", forward
            yield f"travel.0.{number}.back", back
        last = [found.layout.strings[n].margins[-1].centre for n in (0, -1)]
        yield from zip(("margin.treble", "margin.bass"), last, strict=True)
        yield "sides-differ", last[0] - last[1]


@dataclass(frozen=True)
class _Plate:
    """A plate on its drilled holes: laid on by the singular value decomposition of what its places have in common with theirs
    (Kabsch 1976), then shifted by its play."""

    own: list[tuple[float, float]]
    drilled: list[tuple[float, float]]
    shift: tuple[float, float]

    def carried(self, x: float, y: float) -> tuple[float, float]:
        """Where a place of the plate comes to lie."""
        p, q = np.array(self.own), np.array(self.drilled)
        u, _, vt = np.linalg.svd((p - p.mean(axis=0)).T @ (q - q.mean(axis=0)))
        flip = np.diag([1.0, np.sign(np.linalg.det(u @ vt))])
        turn = (u @ flip @ vt).T
        found = turn @ (np.array([x, y]) - p.mean(axis=0)) + q.mean(axis=0) + np.array(self.shift)
        return float(found[0]), float(found[1])


def _with(table: Any, **changed: Any) -> Any:
    return table.model_copy(update=changed)


def _done(cuts: Any) -> Done:
    return Done(card="made", by="made", at=_WHEN, cuts=tuple(cuts))


def likely_range(count: int, chance: float, deviations: float) -> tuple[float, float]:
    """Between which shares so many trials of a chance come out."""
    sd = sqrt(chance * (1 - chance) / count)
    return chance - deviations * sd - 1 / count, chance + deviations * sd + 1 / count
