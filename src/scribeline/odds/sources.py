"""Whose errors an instrument rests on: one source for every error of every operation, with what it moves.

What is still to be made errs as its method does. What is made and measured counts with its measurement's accuracy alone,
what is made and not measured with its making's. A source is independent of every other; an error that several cuts share
(one press's lean, one print's scale, one setting of a depth stop) is one source that moves them all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import hypot, sqrt

from scribeline.features import Bore, Feature, Pocket, Row, ferrule_row, make_features
from scribeline.job import feature_id, standard_deviation
from scribeline.layout import ANCHORS, NECK_POCKET, diagonals, kind_of, lay_out
from scribeline.odds.places import (
    THICKNESS,
    Coordinate,
    Kind,
    stated_dimensions,
    with_anchors,
)
from scribeline.odds.ways import RING_POROUS, STARTS, Shape, Ways
from scribeline.operations import Operation
from scribeline.plan import Plan
from scribeline.strings import roots_of_spread
from scribeline.tables import Accuracies

PARTS, STRINGS, RULE, PRINT, WOOD = "parts", "strings", "rule", "print", "blank"
"""Operations that are no step of the plan: what parts measure, where strings want their saddles, the rule's and the print's own
scale, the blank."""

STATED, SPREAD, PLAY, EXPECTED = "stated", "spread", "play", "expected"
"""Methods that are no row of the accuracies: a ± of the job, a prediction's spread, play between two parts, what the plan
takes a reading to be good for."""

FILED = ("nut-floor", "first-fret-treble", "first-fret-bass")
"""Measurables that are filed to, with feelers."""

Moves = tuple[tuple[Coordinate, float], ...]
"""What an error moves, and by how much for each mm, or rad, of it."""


@dataclass(frozen=True, slots=True)
class Source:
    """One error.

    Attributes:
        operation: id of the operation that makes it, or what it belongs to that is none.
        method: key of the accuracies, or what it comes from that is none of those.
        of: what it is an error of: a cut's id, a string, a key of the job; "" where several share it.
        sd: its standard deviation, mm, rad or mm per mm.
        shape: how it is spread.
        shared: what makes it the same again and again; "" where it is by itself.
        reading: whether it is an error of reading, so that reading twice lessens it.
        moves: what it moves.
    """

    operation: str
    method: str
    of: str
    sd: float
    moves: Moves
    shape: Shape = "normal"
    shared: str = ""
    reading: bool = False


_READ = frozenset(
    {"rule", "rule-cut", "tape", "tape-hook", "thread", "feeler", "caliper", "caliper-wood", "depth-gauge"}
)
"""Methods that read a number."""


def sources(plan: Plan, accuracies: Accuracies, ways: Ways) -> tuple[Source, ...]:
    """Every error of a plan's instrument that has not been measured away."""
    return tuple(_Errors(plan, accuracies, ways).every())


@dataclass(frozen=True)
class _Errors:
    plan: Plan
    accuracies: Accuracies
    ways: Ways

    def every(self) -> Iterator[Source]:
        yield from self._of_parts()
        yield from self._of_strings()
        yield from self._of_readings()
        starts = self._starts()
        for work in self.plan.operations:
            if work.workpiece == "body" and work.cuts:
                yield from self._cut(work, starts)
        yield from self._of_the_bridge()
        yield from self._shared_by_all(starts)

    # --- what is bought, and what is stated -------------------------------------------------------------

    def _of_parts(self) -> Iterator[Source]:
        """The stated ± of parts; the blank's and the neck pocket's come with their measuring and making."""
        left = ("body.thickness", "neck.pocket_depth", "setup.")
        for key, value in stated_dimensions(self.plan.job.document).items():
            if not key.startswith(left):
                own = ((Coordinate("stated", key), 1.0),)
                yield Source(PARTS, STATED, key, value.sd, own, "even")
        thickness = self.plan.job.document.body.thickness
        moves = ((Coordinate("stated", "body.thickness"), 1.0), (THICKNESS, 1.0))
        if thickness.sd:
            yield Source(WOOD, STATED, "body.thickness", thickness.sd, moves, "even")

    @property
    def _done(self) -> frozenset[str]:
        return frozenset(each.card for each in self.plan.record.done)

    def _of_strings(self) -> Iterator[Source]:
        """Where each string wants its saddle: the roots of the prediction, each moving every string that rests on it."""
        stringing = self.plan.layout.stringing
        moved: dict[str, dict[Coordinate, float]] = {}
        predictions = {each.name: stringing.others.get(each.name) for each in stringing.past_the_scale()}
        for number, wanted in enumerate(stringing.past_the_scale()):
            prediction = stringing.prediction if number == 0 else predictions[wanted.name]
            settled = stringing.stated if number == 0 else (all(stringing.stated),) * len(wanted.sd)
            roots: Sequence[Mapping[str, float]] = [{}] * len(wanted.sd)
            if prediction is not None:
                roots = roots_of_spread(prediction, "" if number == 0 else f"{wanted.name}.")
            for string, (sd, is_stated) in enumerate(zip(wanted.sd, settled, strict=True)):
                own = {f"{wanted.name}.{string + 1}": sd} if is_stated else roots[string]
                for root, adds in own.items():
                    if adds:
                        moved.setdefault(root, {})[setback_of(number, string)] = adds
        for root, rates in moved.items():
            # What it adds is told in standard deviations already.
            yield Source(STRINGS, SPREAD, root, 1.0, tuple(rates.items()))

    def _of_readings(self) -> Iterator[Source]:
        """Measurables that nothing of the plan works on: what the plan takes them to be good for, or how well they are filed."""
        for each in self.plan.measurables:
            moves = [(Coordinate("reading", each.id), 1.0)]
            if each.id == "nut-to-12th":
                # The bridge is set from the 12th fret: what the neck has more before it, a string has more behind it.
                moves += [
                    (setback_of(number, string), 1.0)
                    for number, wanted in enumerate(self.plan.layout.stringing.past_the_scale())
                    for string in range(len(wanted.sd))
                ]
                moves += [
                    (Coordinate("reading", other.id), 1.0)
                    for other in self.plan.measurables
                    if other.id.startswith("nut-to-") and other.id not in {each.id, "nut-to-last-slot"}
                ]
            elif each.id in FILED:
                yield self._by(self._named("slot nut", PARTS), "feeler", each.id, tuple(moves))
                continue
            elif each.id != "nut-to-last-slot":
                continue
            yield Source("check-neck", EXPECTED, each.id, each.sd, tuple(moves), "even")

    # --- what is cut ------------------------------------------------------------------------------------

    def _starts(self) -> dict[str, str]:
        """The operation that begins each cut of the body."""
        found: dict[str, str] = {}
        for work in self.plan.operations:
            for cut in work.cuts:
                found.setdefault(cut.feature, work.id)
        return found

    def _cut(self, work: Operation, starts: Mapping[str, str]) -> Iterator[Source]:
        by_id: dict[str, Feature] = {feature.id: feature for feature in self.plan.features}
        cuts = [by_id[cut.feature] for cut in work.cuts if cut.feature in by_id]
        begun = [cut for cut in cuts if starts[cut.id] == work.id]
        for cut in begun:
            yield from self._place(work, cut)
        if work.machine == "hand drill":
            for cut in begun:
                for kind in _LEANS:
                    yield self._by(work.id, self.ways.hand, cut.id, ((Coordinate(kind, cut.id), 1.0),))
        yield from self._depths(work, cuts)

    def _place(self, work: Operation, cut: Feature) -> Iterator[Source]:
        made = self.plan.record.made_cuts
        if cut.id in made and self._is_measured(cut.id):
            yield from self._as_read(work, cut)
        elif isinstance(cut, Pocket):
            yield from self._template(work, cut)
        elif cut.family == "ferrule-hole" and cut.id in self._on_pins:
            yield from self._ferrule(work, cut)
        elif cut.family == "string-hole" and self.plan.job.document.bridge.guide is not None:
            guide = self.plan.job.document.bridge.guide
            sd = standard_deviation(max(0.0, guide.mm - cut.widest) / 2)
            for way in self._ways_of(cut):
                if sd:
                    yield Source(work.id, PLAY, cut.id, sd, self._carried(way), "even")
        else:
            marked = self._marked_by(cut) or work
            rigid = cut in self._leading and not self._by_own_marks
            if cut.family != "cover-screw" and not rigid:
                yield from self._pair(marked, cut, self.ways.rule)
                yield from self._pair(marked, cut, self.ways.mark)
            yield from self._pair(marked, cut, self._prick)
            yield from self._pair(
                work, cut, STARTS[self.ways.hand] if work.machine == "hand drill" else _start(work)
            )

    def _ferrule(self, work: Operation, cut: Bore) -> Iterator[Source]:
        """Over its pin a hole errs as its bit starts; of a row along a fence only lengthwise, and square to it as the fence."""
        if self._row is None:
            yield from self._pair(work, cut, _start(work))
            return
        (u, v), (a, b) = (Coordinate(kind, cut.id) for kind in _PLACE), self._row.across
        yield self._by(work.id, "fence-batten", cut.id, ((u, a), (v, b)))
        yield self._by(work.id, _start(work), cut.id, ((u, -b), (v, a)))

    def _marked_by(self, bore: Bore) -> Operation | None:
        """The step that marks a hole of the bridge; others are marked when they are drilled."""
        bridge = self.plan.layout.bridge
        if bridge is None or bore.family not in ANCHORS:
            return None
        near = min(bridge.marks, key=lambda mark: hypot(mark.at.x - bore.at.x, mark.at.y - bore.at.y))
        return next((work for work in self.plan.operations if work.mark == near.id), None)

    @property
    def _prick(self) -> str:
        ringed = self.plan.job.document.body.timber.key.startswith(RING_POROUS)
        return "prick-awl-ring" if self.ways.prick == "prick-awl" and ringed else self.ways.prick

    def _is_measured(self, name: str) -> bool:
        """Whether it is known along and across where it lies."""
        found = self.plan.record.found.get(name)
        return found is not None and all(found.telling(way) for way in ("along", "across"))

    def _as_read(self, work: Operation, cut: Feature) -> Iterator[Source]:
        """What its readings leave of where a cut lies, along and across."""
        found = self.plan.record.found[cut.id]
        for way, moves in zip(("along", "across"), self._ways_of(cut), strict=True):
            error = self._by(work.id, "rule", cut.id, moves)
            yield replace(error, sd=found.sd(way))

    def _template(self, work: Operation, pocket: Pocket) -> Iterator[Source]:
        """A cavity: its template's lines are read and drawn, it is stuck down, its edge is followed."""
        for method in (self.ways.rule, self.ways.mark, self.ways.template, "template-bearing"):
            for kind in _PLACE:
                yield self._by(work.id, method, pocket.id, ((Coordinate(kind, pocket.id), 1.0),))

    def _depths(self, work: Operation, cuts: Sequence[Feature]) -> Iterator[Source]:
        """One setting is one error of all it cuts; a flag of tape is read hole by hole."""
        pockets = [cut for cut in cuts if isinstance(cut, Pocket)]
        by_gauge = [each for each in pockets if self._depth_is_measured(each.id)]
        for pocket in by_gauge:
            error = self._by(work.id, "depth-gauge", pocket.id, self._depth(pocket))
            yield replace(error, sd=self.plan.record.found[pocket.id].sd("deeper"))
        routed = [each for each in pockets if each not in by_gauge]
        if routed:
            moves = tuple(move for each in routed for move in self._depth(each))
            yield self._by(work.id, "depth-router", "", moves)
        last = {(cut.feature, cut.step) for cut in work.cuts}
        bores = [
            cut
            for cut in cuts
            if isinstance(cut, Bore)
            and (cut.id, len(cut.steps)) in last
            and not (cut.through or cut.is_wire_way)
        ]
        if work.machine == "hand drill":
            for bore in bores:
                yield self._by(work.id, self.ways.depth_by_hand, bore.id, self._depth(bore))
        elif bores:
            moves = tuple(move for each in bores for move in self._depth(each))
            yield self._by(work.id, "depth-press", "", moves)

    def _depth(self, cut: Feature) -> Moves:
        own = (Coordinate("depth", cut.id), 1.0)
        if cut.id == feature_id(NECK_POCKET):
            return own, (Coordinate("stated", "neck.pocket_depth"), 1.0)
        return (own,)

    def _depth_is_measured(self, name: str) -> bool:
        found = self.plan.record.found.get(name)
        return found is not None and found.is_deep_as_read

    # --- the bridge, and the neck it follows ------------------------------------------------------------

    @cached_property
    def _leading(self) -> tuple[Bore, ...]:
        """The holes that hold the bridge."""
        return self.plan.features.family(kind_of(self.plan.job.document.bridge).family)

    @property
    def _by_own_marks(self) -> bool:
        """Whether each hole is marked at its own place: no plate is laid down to mark through."""
        bridge = self.plan.layout.bridge
        return bridge is None or any(mark.drilled for mark in bridge.marks)

    @cached_property
    def _bridge_is_made(self) -> bool:
        """Whether its holes are made and measured, so that nothing is left of how it was set out."""
        return bool(self._leading) and all(self._is_settled(bore.id) for bore in self._leading)

    def _of_the_bridge(self) -> Iterator[Source]:
        bridge = self.plan.layout.bridge
        if bridge is None or not self._leading:
            return
        fixed = next((w.id for w in self.plan.operations if w.kind in {"fix bridge", "fit hardware"}), "")
        play = standard_deviation(kind_of(self.plan.job.document.bridge).play(self.plan.job.document))
        if play:
            for way in ((1.0, 0.0), (0.0, 1.0)):
                moves = self._moved({bore.id: way for bore in self._leading}, wood=False)
                yield Source(fixed, PLAY, "bridge", play, self._carried(moves), "even")
        yield from self._neck_put_back()
        if not self._bridge_is_made and not self._by_own_marks:
            yield from self._set_out()

    def _neck_put_back(self) -> Iterator[Source]:
        """A neck that comes off goes back with the play of its heel in the pocket: the bridge then lies otherwise to it.

        All that is cut once the neck is fitted is measured from it, so that how it first came to lie moves nothing else.
        """
        neck, work = self.plan.job.document.neck, self._named("fit hardware", PARTS)
        if neck.joint != "bolt-on" or not neck.slip or work in self._done:
            return
        middle, long = self.plan.layout.pocket_end - neck.pocket_length / 2, neck.pocket_length
        for end in (1 / long, -1 / long):  # each end of the heel lies anywhere between its walls
            by = {bore.id: (-end * bore.at.y, 0.5 + end * (bore.at.x - middle)) for bore in self._leading}
            moves = self._moved(by, wood=False, follow=False)
            yield Source(work, PLAY, "neck", standard_deviation(neck.slip / 2), moves, "even")

    @property
    def _lever(self) -> float:
        """How far the bridge lies across for each mm that a thread is read off at the last fret; two threads are read."""
        string = self.plan.layout.strings[0]
        return (string.scale + string.setback) / string.frets[-1]

    def _set_out(self) -> Iterator[Source]:
        """A plate is laid down along by the rule, across by the two threads, square by its two diagonals; bases one by one."""
        layout = self.plan.layout
        bridge = layout.bridge
        assert bridge is not None
        work = self._named("set bridge", PARTS)
        along = {bore.id: (1.0, 0.0) for bore in self._leading}
        yield self._by(work, self.ways.rule, "bridge", self._moved(along))
        if bridge.units:
            each = len(self._leading) // len(bridge.units)
            for number, unit in enumerate(bridge.units):
                own = self._leading[each * number : each * (number + 1)]
                for method, way in ((self.ways.rule, (1.0, 0.0)), ("thread", (0.0, 1.0))):
                    yield self._by(work, method, unit.id, self._moved({bore.id: way for bore in own}))
            return
        across = {bore.id: (0.0, self._lever / sqrt(2)) for bore in self._leading}
        yield self._by(work, "thread", "bridge", self._moved(across))
        pair = diagonals(layout)
        assert pair is not None
        apart = abs(bridge.corners[0].at.y - bridge.corners[1].at.y)
        slant = (bridge.corners[0].at.x - layout.frets[11].treble.x) / pair[0]
        turn = sqrt(2) / (apart * slant)  # for each mm that a tape is read off, of the two diagonals
        x, y = bridge.middle
        turned = {bore.id: (-turn * (bore.at.y - y), turn * (bore.at.x - x)) for bore in self._leading}
        yield self._by(work, "tape", "bridge", self._moved(turned))

    def _named(self, kind: str, missing: str) -> str:
        return next((work.id for work in self.plan.operations if work.kind == kind), missing)

    def _moved(
        self,
        by: Mapping[str, tuple[float, float]],
        *,
        neck: bool = True,
        wood: bool = True,
        follow: bool = True,
    ) -> Moves:
        """The holes of the bridge moved, with all that is drilled by it.

        Args:
            by: along and across, of each hole.
            neck: whether they move to the neck and its strings.
            wood: whether they move in the wood.
            follow: whether what is drilled by the bridge goes with it.
        """
        moves: dict[Coordinate, float] = {}
        for name, way in by.items():
            for kind, place, rate in zip(_ANCHOR, _PLACE, way, strict=True):
                if not rate:
                    continue
                if neck:
                    moves[Coordinate(kind, name)] = rate
                if wood:
                    moves[Coordinate(place, name)] = rate
                following = self._following[Coordinate(kind, name)] if follow else {}
                for follows, share in following.items():
                    moves[follows] = moves.get(follows, 0.0) + rate * share
        return tuple(moves.items())

    @cached_property
    def _following(self) -> Mapping[Coordinate, Mapping[Coordinate, float]]:
        """Where the plan puts what is drilled by the bridge, for each mm that one of its holes lies elsewhere."""
        job, record = self.plan.job, self.plan.record
        found: dict[Coordinate, dict[Coordinate, float]] = {}
        for bore in self._leading:
            for kind in _ANCHOR:
                ends: list[dict[str, Bore]] = []
                for by in (_STEP, -_STEP):
                    off = {Coordinate(kind, bore.id): by}
                    held = with_anchors(record, self._leading, off)
                    layout = lay_out(job, held)
                    features = make_features(job.document, layout, held)
                    ends.append({each.id: each for each in features.family("string-hole")})
                rates: dict[Coordinate, float] = {}
                for name, there in ends[0].items():
                    if name in ends[1] and not self._is_settled(name):
                        for n, place in enumerate(_PLACE):
                            rates[Coordinate(place, name)] = (there.at[n] - ends[1][name].at[n]) / (2 * _STEP)
                found[Coordinate(kind, bore.id)] = rates | self._wire(bore, kind)
        return found

    def _wire(self, bore: Bore, kind: Kind) -> dict[Coordinate, float]:
        """A wire hole that begins under the bridge is marked where the bridge stands; its holes have an equal say in that."""
        del bore
        share = 1 / len(self._leading)
        return {
            Coordinate(_PLACE[_ANCHOR.index(kind)], tunnel.place.id): share
            for tunnel in self.plan.tunnels
            if tunnel.bore is not None and tunnel.place.under_plate and not self._is_settled(tunnel.place.id)
        }

    # --- what is shared over many operations ------------------------------------------------------------

    def _shared_by_all(self, starts: Mapping[str, str]) -> Iterator[Source]:
        works = {work.id: work for work in self.plan.operations}
        bores = {bore.id: bore for bore in self.plan.features.bores}
        pressed = [
            bore
            for name, bore in bores.items()
            if name in starts and works[starts[name]].machine == "drill press"
        ]
        yield from self._press(pressed)
        yield from self._flip(pressed)
        pockets = [each for each in self.plan.features.pockets if not self._is_settled(each.id)]
        size = tuple((Coordinate("size", pocket.id), 1.0) for pocket in pockets)
        if size:
            yield self._by(PRINT, "print-scale", "", size)
        yield from self._rule(starts, bores, pockets)

    def _press(self, pressed: Sequence[Bore]) -> Iterator[Source]:
        """A table out of square leans every hole drilled on it, the same way on the machine: turned over, across the other."""
        method = "lean-press-trued" if "check-press" in self._done else self.ways.press
        for n, kind in enumerate(_LEANS):
            moves = tuple(
                (Coordinate(kind, bore.id), -1.0 if n == 1 and bore.face == "back" else 1.0)
                for bore in pressed
            )
            if moves:
                yield self._by("check-press", method, "", moves)

    def _flip(self, pressed: Sequence[Bore]) -> Iterator[Source]:
        """Ferrule holes are drilled over string holes on a pin: where that stands to the spindle is one error of all."""
        on_pins = [bore for bore in pressed if bore.id in self._on_pins and not self._is_settled(bore.id)]
        if on_pins:
            for kind in _PLACE:
                moves = tuple((Coordinate(kind, bore.id), 1.0) for bore in on_pins)
                yield self._by(self._work_of(on_pins[0].id).id, "flip-pin", "", moves)

    def _rule(
        self, starts: Mapping[str, str], bores: Mapping[str, Bore], pockets: Sequence[Pocket]
    ) -> Iterator[Source]:
        """A rule that is too long sets everything out too far from the pocket's end wall and from the centreline."""
        end, moves = self.plan.layout.pocket_end, list[tuple[Coordinate, float]]()
        own = {*self._on_pins, *(bore.id for bore in self._leading)}
        guided = self.plan.job.document.bridge.guide is not None
        for name in starts:
            bore = bores.get(name)
            drilled_by = bore is not None and (
                name in own or bore.family == "cover-screw" or (guided and bore.family == "string-hole")
            )
            if bore is None or drilled_by or self._is_settled(name) or bore.face not in {"top", "back"}:
                continue
            moves += [(Coordinate("u", name), bore.at.x - end), (Coordinate("v", name), bore.at.y)]
        for pocket in pockets:
            xs, ys = [p.x for p in pocket.outline], [p.y for p in pocket.outline]
            middle = (min(xs) + max(xs)) / 2 - end, (min(ys) + max(ys)) / 2
            moves += [(Coordinate(kind, pocket.id), by) for kind, by in zip(_PLACE, middle, strict=True)]
        bridge = self.plan.layout.bridge
        if bridge is not None and not self._bridge_is_made:
            far = bridge.middle.x - self.plan.layout.twelfth
            moves += self._moved({bore.id: (far, 0.0) for bore in self._leading})
        yield self._by(RULE, "rule-scale", "", tuple(moves))

    # --- the pieces -------------------------------------------------------------------------------------

    def _by(self, work: str, method: str, of: str, moves: Moves) -> Source:
        """An error of a method of the accuracies."""
        row = self.accuracies[method]
        shared = row.shared or ("" if of else work)
        return Source(work, method, of, row.sd, self._carried(moves), "normal", shared, method in _READ)

    def _carried(self, moves: Moves) -> Moves:
        """What goes with what moves: a ferrule hole with its string hole, a cover's screws with the recess it is laid into.

        A ferrule hole leans about its mouth in the top, where its pin stands.
        """
        found = dict(moves)
        for move, rate in moves:
            if move.kind in _PLACE:
                for place, share in self._goes_with(move):
                    found[place] = found.get(place, 0.0) + rate * share
            if move.of in self._on_pins and move.kind in _LEANS:
                place = Coordinate(_PLACE[_LEANS.index(move.kind)], move.of)
                found[place] = found.get(place, 0.0) - rate * self.plan.layout.thickness
        return tuple(found.items())

    def _goes_with(self, move: Coordinate) -> Iterator[tuple[Coordinate, float]]:
        """What goes with a cut whose place moves, and how far for each mm of it.

        A hole of a row along a fence stands over its own string hole only lengthwise; the fence lies by the two outer ones.
        """
        for name in self._carries.get(move.of, ()):
            row = self._row
            if row is None or name not in row.names:
                yield Coordinate(move.kind, name), 1.0
                continue
            own = _PLACE.index(move.kind)
            square = row.across[own]
            for n, kind in enumerate(_PLACE):
                yield Coordinate(kind, name), float(n == own) - square * row.across[n]
                for each, share in zip(row.names, row.shares, strict=True):
                    by = {row.names[0]: 1 - share, row.names[-1]: share}.get(name, 0.0)
                    yield Coordinate(kind, each), square * row.across[n] * by

    @cached_property
    def _row(self) -> Row | None:
        """The ferrule holes that are drilled along a fence."""
        return ferrule_row(self.plan.features.family("ferrule-hole"), self.plan.record.made_cuts)

    @cached_property
    def _carries(self) -> Mapping[str, tuple[str, ...]]:
        """What is marked through, or on, something else, by the id of that."""
        found = {string: [name] for string, name in self._pinned.items()}
        for screw in self.plan.features.family("cover-screw"):
            laid_in = next(iter(screw.meets), feature_id(screw.group.removesuffix(" cover screws")))
            found.setdefault(laid_in, []).append(screw.id)
        return {
            name: tuple(each for each in every if not self._is_settled(each)) for name, every in found.items()
        }

    @cached_property
    def _pinned(self) -> Mapping[str, str]:
        """The ferrule hole over each string hole."""
        ferrules = {bore.id: bore for bore in self.plan.features.family("ferrule-hole")}
        return {
            string.id: name
            for string in self.plan.features.family("string-hole")
            for name, ferrule in ferrules.items()
            if name in string.meets or string.id in ferrule.meets
        }

    @cached_property
    def _on_pins(self) -> frozenset[str]:
        return frozenset(self._pinned.values())

    def _pair(self, work: Operation, cut: Feature, method: str) -> Iterator[Source]:
        """The same error along and across, each by itself."""
        for moves in self._ways_of(cut):
            yield self._by(work.id, method, cut.id, moves)

    def _ways_of(self, cut: Feature) -> tuple[Moves, Moves]:
        """What a cut moved along, and one moved across, takes with it."""
        if cut in self._leading:
            return self._moved({cut.id: (1.0, 0.0)}), self._moved({cut.id: (0.0, 1.0)})
        u, v = (((Coordinate(kind, cut.id), 1.0),) for kind in _PLACE)
        return u, v

    def _is_settled(self, name: str) -> bool:
        """Whether a cut is made and its place measured."""
        return name in self.plan.record.made_cuts and self._is_measured(name)

    def _work_of(self, name: str) -> Operation:
        return next(work for work in self.plan.operations if name in work.features)


_PLACE: tuple[Kind, Kind] = ("u", "v")
_LEANS: tuple[Kind, Kind] = ("lean-u", "lean-v")
_ANCHOR: tuple[Kind, Kind] = ("anchor-x", "anchor-y")
_STEP = 0.05
"""By how much a hole is moved to see what follows it, mm."""


def _start(work: Operation) -> str:
    """Where a bit starts in the press, by its kind: one with a centre point stays in its prick."""
    return "bit-twist" if work.bit is not None and work.bit.kind == "twist" else "bit-brad"


def setback_of(number: int, string: int) -> Coordinate:
    """Where a string of a set wants its saddle; both count from 0, the job's own set and the treble string first."""
    return Coordinate("setback", f"{number}.{string}")
