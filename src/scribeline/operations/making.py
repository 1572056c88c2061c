"""The work of one instrument as operations, made from what is cut and shaped, in an order that meets every need."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, count

from scribeline.features import (
    Bore,
    Family,
    Features,
    Setting,
    alike,
    bit_speed,
    cutting_order,
    setting_of,
)
from scribeline.job import EMPTY, Document, Record, feature_id
from scribeline.layout import (
    ANCHORS,
    ARCH,
    BOARD,
    CARVE,
    CHANNELS,
    CORE,
    GROUND,
    HEEL,
    NECK_POCKET,
    NUT,
    TENON,
    WALL_FAMILIES,
    BridgePlace,
    Layout,
    Pressed,
    Screwed,
    Threaded,
    bevel_id,
    channels,
    kind_of,
    round_id,
    step_id,
)
from scribeline.operations.operation import Cutting, Kind, Machine, Operation, Part
from scribeline.operations.ordering import in_order
from scribeline.operations.relations import needs
from scribeline.operations.twins import joined
from scribeline.solid.tunnels import Tunnel

_CALLED: dict[Family, str] = {
    "bridge-screw": "bridge-screws",
    "bridge-stud": "bridge-studs",
    "bridge-post": "bridge-posts",
    "tailpiece-stud": "tailpiece-studs",
    "string-hole": "string-holes",
    "ferrule-hole": "ferrules",
    "jack": "jack",
    "jack-screw": "jack-screws",
    "claw-screw": "claw-screws",
}
"""What the holes of a family are called in an operation's id; others by their group, those that stand alone by their own id."""


def operations(
    document: Document,
    layout: Layout,
    features: Features,
    tunnels: Sequence[Tunnel] = (),
    record: Record = EMPTY,
    *,
    pilots: Sequence[Bore] = (),
    in_head: Sequence[Bore] = (),
) -> tuple[Operation, ...]:
    """Everything there is to do, numbered in an order that meets every need.

    Args:
        document: the finish, how the neck is joined and its screws.
        layout: where everything sits.
        features: every cut.
        tunnels: the wire holes asked for; those without a way are left out.
        record: says what is made already.
        pilots: what is drilled in the neck's heel.
        in_head: what is drilled in the head.
    """
    apart = tuple(_Making(document, layout, features, tunnels, record, pilots, in_head).every())
    work, waits = joined(apart, needs(layout, features, apart), features, record)
    every = {each.id: each for each in work}
    order = in_order([(each.id, each.face) for each in work], waits)
    return tuple(
        replace(every[name], no=number, after=tuple(need for need in waits if need.then == name))
        for number, name in enumerate(order, start=1)
    )


@dataclass(frozen=True)
class _Making:
    """What operations are made from."""

    document: Document
    layout: Layout
    features: Features
    tunnels: Sequence[Tunnel]
    record: Record
    pilots: Sequence[Bore]
    in_head: Sequence[Bore]

    def every(self) -> Iterator[Operation]:
        """Every operation; of those that are free the earlier here comes first."""
        groups = self._named()
        yield from self._glued_up()
        if self.document.fingerboard.blank_thickness is not None:
            yield Operation(BOARD, "slot board", "bench", workpiece="neck", shape=BOARD)
        if self.document.neck_blank is not None:
            if channels(self.document):
                yield Operation(CHANNELS, "rout channels", "router", workpiece="neck", shape=CHANNELS)
            yield Operation("glue-board", "glue board", "bench", workpiece="neck")
        yield Operation("check-neck", "check neck", "bench", workpiece="neck")
        yield from self._in_the_head()
        yield Operation("check-body", "check blank", "bench")
        if self.features.bores:
            yield Operation("check-press", "check press", "drill press")
        yield from self._routed()
        if self.document.neck.tenon_width is not None:
            yield Operation("cut-tenon", "cut tenon", "bench", workpiece="neck", shape=TENON)
        yield self._joined()
        if self.document.neck_bolts is not None:
            yield from self._in_the_heel()
        if self.document.neck_blank is not None:
            off = frozenset[Part]({"neck"})
            yield Operation(CARVE, "carve neck", "carving", workpiece="neck", shape=CARVE, barred_by=off)
        yield from self._shaped()
        if self._goes_back:
            yield Operation("refit-neck", "refit neck", "bench")
        if self.layout.bridge is not None:
            yield from self._at_the_bridge(groups, self.layout.bridge)
        yield from self._wire_holes(groups)
        yield from self._drilled(groups, "neck-screw", "control", "hole", "cover-screw")
        for family in _AT_THE_EDGE:
            yield from self._drilled(groups, family)
        for each in self._drilled(groups, *WALL_FAMILIES):
            yield replace(each, face=self._entered(each))
        yield from self._last()

    def _glued_up(self) -> Iterator[Operation]:
        """What the blank is glued up from: layers, or a core with its wings."""
        if self.document.neck.runs_through:
            yield Operation(CORE, "shape core", "bench", workpiece="neck", shape=CORE)
            yield Operation("glue-wings", "glue wings", "bench")
        elif len(self.layout.body.layers) > 1:
            yield Operation("glue-layers", "glue", "bench")

    def _joined(self) -> Operation:
        """After this everything is measured from the neck."""
        if self.document.neck.runs_through:
            return Operation("check-core", "check core", "bench")
        return Operation("fit-neck", "fit neck", "bench")

    @property
    def _goes_back(self) -> bool:
        """Whether the neck comes off once it is fitted, and is put back."""
        neck = self.document.neck
        return not neck.runs_through and (neck.is_glued or not self.layout.body.is_plain)

    def _in_the_heel(self) -> Iterator[Operation]:
        """The pilots of the neck's screws, or its inserts' holes; where no screw gets so far, nothing is drilled."""
        bare = Operation(HEEL, "drill heel", "drill press", workpiece="neck", shape=HEEL)
        if not self.pilots:
            yield bare
            return
        count = len(next_of(self.record, self.pilots).steps)
        for no in range(count):
            name = HEEL if no == count - 1 else f"counterbore-{HEEL}"
            yield self._beside(replace(bare, id=name), self.pilots, no)

    def _in_the_head(self) -> Iterator[Operation]:
        """Its scarf joint, the tuners' holes, and the pilots of string trees' screws, those that are alike together."""
        if self.document.head is not None and self.document.head.scarf:
            yield Operation("glue-head", "glue head", "bench", workpiece="head")
        bare = Operation("drill-tuners", "drill head", "drill press", workpiece="head")
        tuners = [hole for hole in self.in_head if hole.family == "tuner-hole"]
        if tuners:
            yield self._beside(bare, tuners)
        alike: dict[tuple[float, float], list[Bore]] = {}
        for hole in self.in_head:
            if hole.family == "tree-screw":
                alike.setdefault((hole.widest, hole.steps[0].depth), []).append(hole)
        for number, holes in enumerate(alike.values(), start=1):
            name = "drill-trees" if number == 1 else f"drill-trees-{number}"
            yield self._beside(replace(bare, id=name), holes)

    def _beside(self, bare: Operation, holes: Sequence[Bore], no: int = 0) -> Operation:
        """An operation on a workpiece beside the body, at one diameter of its holes, the widest being 0."""
        first = next_of(self.record, holes)
        step = first.steps[no]
        return replace(
            bare,
            cuts=tuple(Cutting(hole.id, no + 1) for hole in holes),
            family=first.family,
            bit=step.bit,
            depth=step.depth,
            setting=setting_of(self.layout, first, no, ()),
            rpm=bit_speed(step.bit, self.layout),
        )

    def _routed(self) -> Iterator[Operation]:
        for pocket in self.features.pockets:
            made = self.record.made_pockets.get(pocket.id)
            # Of one that is routed what was planned then, whatever its gate read.
            level = pocket.depth if made is None or made.depth is None else made.depth
            depth = level + raised(self.layout, pocket.face)
            yield Operation(
                f"rout-{pocket.id}", "rout", "router", pocket.face, cuts=(Cutting(pocket.id, 1),), depth=depth
            )

    def _shaped(self) -> Iterator[Operation]:
        """The ground of a stepped top, where something rises over it; each area between ground and blank; arch, bevels, edges."""
        body = self.layout.body
        neck = frozenset[Part](() if self.document.neck.runs_through else {"neck"})

        def shaping(name: str, kind: Kind, face: str = "top", *, carved: bool = False) -> Operation:
            machine: Machine = "carving" if carved else "router"
            return Operation(name, kind, machine, face, shape=name, barred_by=neck)

        if body.areas and body.highest > 0:
            yield shaping(GROUND, "cut ground")
        for area in sorted(body.areas, key=lambda each: -each.height):
            if area.height not in (0.0, body.highest):
                yield shaping(step_id(area), "cut step")
        arched = bool(body.profile or body.contours)
        if arched:
            yield shaping(ARCH, "carve arch", carved=True)
        for bevel in body.bevels:
            if bevel.parts:
                yield shaping(bevel_id(bevel), "carve bevel", bevel.face, carved=True)
        for face, radius in (("top", body.round_top), ("back", body.round_back)):
            if radius:
                yield shaping(round_id(face), "round edge", face, carved=arched and face == "top")

    def _at_the_bridge(self, groups: _Groups, bridge: BridgePlace) -> Iterator[Operation]:
        noun = bridge.noun.replace(" ", "-")
        for number, mark in enumerate(bridge.marks, start=1):
            name = f"set-{noun}-{number}" if number > 1 else f"set-{noun}"
            yield Operation(name, "set bridge", "bench", "top", mark=mark.id)
        match bridge.anchors[0].part:
            case Screwed():
                yield self._tried("scrap-screw", "try screw", *ANCHORS)
            case Threaded():
                yield self._tried("scrap-post", "try screw", kind_of(self.document.bridge).family)
            case Pressed():
                pass
        yield from self._bushings_tried(bridge)
        yield from self._drilled(groups, *ANCHORS)
        if bridge.lies_on_the_body:
            yield Operation(f"fix-{noun}", "fix bridge", "bench", "top")
        if self.features.family("string-hole"):
            yield self._tried("scrap-two-sided", "try both faces", "string-hole")
            yield from self._drilled(groups, "string-hole", "ferrule-hole")
            yield Operation("try-strings", "try strings", "bench", "back")

    def _wire_holes(self, groups: _Groups) -> Iterator[Operation]:
        for tunnel in self.tunnels:
            if tunnel.bore is not None and tunnel.course is not None:
                own = [(name, bores) for name, bores in groups if bores[0].id == tunnel.bore.id]
                barred: set[Part] = {"bridge"} if tunnel.place.under_plate else set()
                if tunnel.bore.entered_from == feature_id(NECK_POCKET):
                    barred.add("neck")
                for each in self._drilled(own, "tunnel", "ground-wire"):
                    yield replace(each, face=open_face(self.features, tunnel), barred_by=frozenset(barred))

    def _entered(self, work: Operation) -> str:
        """The face that the cavity is open to which its holes are drilled through."""
        first = next(bore for bore in self.features.bores if bore.id in work.features)
        return self.features.pocket(first.entered_from).face

    def _last(self) -> Iterator[Operation]:
        ferrules = tuple(bore.id for bore in self.features.family("ferrule-hole"))
        if self.document.finish.film:
            yield Operation("finish", "finish", "finish")
            if ferrules:
                yield Operation("chase", "clean out", "bench", "back", cleans=ferrules)
        if self.document.nut.thickness is not None:
            yield Operation(NUT, "slot nut", "bench", workpiece="neck", shape=NUT)
        if self.layout.bridge is not None:
            if self.layout.bridge.pressed:
                yield Operation("press-bushings", "press bushings", "bench", "top")
            yield Operation("fit-hardware", "fit hardware", "bench")

    def _bushings_tried(self, bridge: BridgePlace) -> Iterator[Operation]:
        """One trial for each bit that a bushing's hole is drilled with."""
        own = kind_of(self.document.bridge).family
        rows = [(own, bridge.anchors), *((row.family, row.anchors) for row in bridge.further)]
        pressed = [family for family, anchors in rows if isinstance(anchors[0].part, Pressed)]
        tried = {
            next_of(self.record, self.features.family(each)).deepest.bit: each for each in reversed(pressed)
        }
        for number, family in enumerate(reversed(tried.values()), start=1):
            name = "scrap-bushing" if number == 1 else f"scrap-bushing-{number}"
            yield self._tried(name, "try bushing", family)

    def _tried(self, name: str, kind: Kind, *families: Family) -> Operation:
        step = next_of(self.record, self.features.family(*families)).deepest
        setting = Setting("depth stop", step.point_reaches, "face")
        rpm = bit_speed(step.bit, self.layout)
        return Operation(
            name,
            kind,
            "drill press",
            workpiece="scrap",
            bit=step.bit,
            depth=step.depth,
            setting=setting,
            rpm=rpm,
        )

    def _named(self) -> _Groups:
        """The holes that go together, with what they are called in their operations' ids."""
        groups = alike(self.features, self.layout)
        called = [
            _CALLED.get(b[0].family, b[0].id if b[0].stands_alone else feature_id(b[0].group)) for b in groups
        ]
        twins, found = Counter(called), dict[str, tuple[Bore, ...]]()
        for name, bores in zip(called, groups, strict=True):
            bare = twins[name] == 1 or bores[0].family in _CALLED
            names = chain([name] if bare else [], (f"{name}-{no}" for no in count(1 + bare)))
            found[next(each for each in names if each not in found)] = bores
        return tuple(found.items())

    def _drilled(self, groups: _Groups, *families: Family) -> Iterator[Operation]:
        """Every diameter of every group of some families: the widest and shallowest first, a countersink last."""
        for name, bores in groups:
            if bores[0].family in families:
                yield from self._bored(name, bores)

    def _bored(self, name: str, bores: tuple[Bore, ...]) -> Iterator[Operation]:
        first, order = bores[0], cutting_order(bores[0])
        cylinders = [no for no in order if first.steps[no].bit.kind != "countersink"]
        for no in order:
            step, setting = first.steps[no], setting_of(self.layout, first, no, self.features.pockets)
            kind: Kind = (
                "drill" if no in cylinders[-1:] else "counterbore" if no in cylinders else "countersink"
            )
            verb = "bore" if kind == "drill" and first.family == "ferrule-hole" else kind
            nth = f"-{cylinders.index(no) + 1}" if kind == "counterbore" and len(cylinders) > 2 else ""
            yield Operation(
                f"{verb}-{name}{nth}",
                kind,
                "hand drill" if setting.kind == "tape" else "drill press",
                first.face if first.face in {"top", "back"} else "",
                cuts=tuple(Cutting(bore.id, no + 1) for bore in bores),
                family=first.family,
                bit=step.bit,
                depth=step.depth,
                setting=setting,
                rpm=bit_speed(step.bit, self.layout),
            )


_Groups = Sequence[tuple[str, tuple[Bore, ...]]]

_AT_THE_EDGE: tuple[Family, ...] = ("jack", "jack-screw", "strap-button")


def raised(layout: Layout, face: str) -> float:
    """How far the blank's face lies over the level a pocket's depth counts from, mm: 0 unless the top rises somewhere."""
    return layout.body.highest if face == "top" else 0.0


def open_face(features: Features, tunnel: Tunnel) -> str:
    """The face that lies up while a wire hole is drilled."""
    if tunnel.place.start == "pocket":
        return features.pocket(feature_id(tunnel.place.pocket)).face
    return tunnel.place.face


def next_of(record: Record, bores: Sequence[Bore]) -> Bore:
    """The first of some holes that is not made yet."""
    return next((bore for bore in bores if bore.id not in record.made_cuts), bores[0])
