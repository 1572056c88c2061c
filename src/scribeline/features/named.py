"""The numbers of every cut by name: where it is, how wide, how deep, what its bit is set to, and how each comes about.

Ids are the cut's own with the number's name: `string-hole-3.x`, `ferrule-hole-3.step-2.depth`, `control-cavity.depth`.
Places are from the nut and from the centreline towards the treble. A cut that is made stands as it was made.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from scribeline.features.bits import (
    DRIFT,
)
from scribeline.features.controls import THREAD_SPARE
from scribeline.features.cuts import Bore, Pocket, Slope, angle_from_face_deg
from scribeline.features.making import Features
from scribeline.features.meeting import (
    PIN_OFF,
    STOP_ERROR,
)
from scribeline.features.named_steps import COURSE, MADE, Inputs, Steps, cover_of, hole_of
from scribeline.features.passing import (
    BREAK_OUT,
    floor_from_back,
    floor_from_top,
)
from scribeline.features.pilots import (
    BENCH_SOURCE,
    RELIEF,
)
from scribeline.features.pockets import WEDGE, glue_area, recess_name
from scribeline.job import Document, Record
from scribeline.layout import NECK_POCKET, WALL_FAMILIES, Layout, depth_before, rise
from scribeline.layout.bench import beyond
from scribeline.layout.cut_places import counted, counted_back, film_in_pocket, pocket_width
from scribeline.layout.named import datum_number, same
from scribeline.layout.pose import placed_across, placed_along
from scribeline.quantities import Formula, Input, Quantities

OUTLINE = "the place of the body's outline nearest the one stated"
STANDS_OFF = "where the springs need the claw, docs/vibrato.md"
WALL = (
    "the wall of its cavity, half the screws' spacing off the bridge's middle, level with the springs' line"
)

Place = tuple[Formula, Inputs, Formula, Inputs]
"""The formulas of how far along and how far across a hole is, with their inputs."""


def name_features(
    found: Quantities,
    document: Document,
    record: Record,
    layout: Layout,
    features: Features,
    *,
    heel_pilots: Iterable[Bore] = (),
    in_head: Iterable[Bore] = (),
) -> None:
    """Name the numbers of every cut; those of the layout are named before.

    Args:
        found: where the names go.
        document: the job.
        record: says what is made.
        layout: where everything sits.
        features: every cut of the body.
        heel_pilots: what is drilled in the neck.
        in_head: what is drilled in the head.
    """
    steps = Steps(found, document, layout, features)
    namer = _Namer(found, document, record, layout, steps)
    steps.bits()
    namer.rules()
    for pocket in features.pockets:
        namer.pocket(pocket)
    for bore in features.bores:
        namer.bore(bore)
    steps.meeting()
    steps.heel()
    for bore in heel_pilots:
        namer.heel_pilot(bore)
    for bore in in_head:
        namer.in_head(bore)


@dataclass(frozen=True)
class _Namer:
    """Names where the cuts of one plan are."""

    found: Quantities
    document: Document
    record: Record
    layout: Layout
    steps: Steps

    def rules(self) -> None:
        """Numbers of the bench's own rules."""
        give = self.found.give
        for name, value, what in (
            ("rule.pilot-relief", RELIEF, "depth left beyond a screw's tip"),
            ("rule.break-out", BREAK_OUT, "how far a bit goes past the wall it opens"),
            ("rule.stop-error", STOP_ERROR, "what a depth stop may be off"),
            ("rule.thread-spare", THREAD_SPARE, "thread that must stand proud of its nut"),
            ("rule.pin-off", PIN_OFF, "how far the pin may be off the spindle's line"),
        ):
            give(name, value, what=what, source=BENCH_SOURCE)
        give(
            "rule.drift",
            DRIFT,
            unit="",
            what="how far a long bit wanders, mm per mm of depth",
            source=BENCH_SOURCE,
        )
        give(
            "the-top", 0.0, what="height of the top at the bridge", source="all heights are counted from here"
        )
        self.found.work("the-back", floor_from_top, {"depth": "body.thickness"}, what="height of the back")

    def pocket(self, pocket: Pocket) -> None:
        name, found = pocket.id, self.found
        xs = [point.x for point in pocket.outline]
        ys = [point.y * self.layout.treble for point in pocket.outline]
        made = name in self.record.made_cuts
        words = f"of the {pocket.in_words}"
        self._pocket_depth(pocket, made=made)
        source = MADE if made else "the outline with the corners that its router bit leaves"
        for part, value, what in (
            ("neck-end", min(xs), "the nut to the neck end"),
            ("tail-end", max(xs), "the nut to the tail end"),
            ("treble-side", max(ys), "the centreline to the treble side"),
            ("bass-side", -min(ys), "the centreline to the bass side"),
        ):
            found.give(f"{name}.{part}", value, what=f"{what} {words}", source=source)
        for part in ("neck-end", "tail-end"):
            inputs: Inputs = {"x": f"{name}.{part}", "datum": "fret-12"}
            found.work(
                f"{name}.{part}-from-12th",
                beyond,
                inputs,
                what=f"the 12th fret to the {part.replace('-', ' ')} {words}",
            )
        if pocket.slope is not None:
            self._sloped(pocket, pocket.slope, made=made)
        floor: Inputs = {"depth": f"{name}.depth"}
        if pocket.face == "top":
            found.work(f"{name}.floor-height", floor_from_top, floor, what=f"height of the floor {words}")
        else:
            floor["thickness"] = "body.thickness"
            found.work(f"{name}.floor-height", floor_from_back, floor, what=f"height of the floor {words}")

    def _sloped(self, pocket: Pocket, slope: Slope, *, made: bool) -> None:
        """Name what a floor that leans makes of a pocket's depth: `depth` is at its end wall."""
        name, found = pocket.id, self.found
        angle, what = f"{name}.floor-angle", f"how far the floor of the {pocket.in_words} leans back"
        if made:
            found.give(angle, slope.angle, unit="rad", what=what, source=MADE)
        else:
            found.work(angle, same, {"of": "neck.angle"}, unit="rad", what=what, planned=slope.angle)
        length = f"{name}.length"
        found.work(
            length,
            beyond,
            {"x": f"{name}.tail-end", "datum": f"{name}.neck-end"},
            what=f"length of the {pocket.in_words}, level along the body",
        )
        inputs: Inputs = {"depth": f"{name}.depth", "before": length, "angle": angle}
        what = f"depth of the {pocket.in_words} at its mouth"
        found.work(f"{name}.depth-at-mouth", depth_before, inputs, what=what, planned=pocket.depths[0])
        found.work(
            f"{name}.wedge",
            rise,
            {"length": WEDGE, "angle": angle},
            what=f"thickness of a wedge {WEDGE:g} mm from its thin end, to lean the router by",
        )

    def _pocket_depth(self, pocket: Pocket, *, made: bool) -> None:
        name, found, document = pocket.id, self.found, self.document
        depth, radius = self._pocket_keys(pocket)
        for part, key, value in (
            ("depth", depth, pocket.depth),
            ("corner-radius", radius, pocket.corner_radius),
        ):
            what = f"{part.replace('-', ' ')} of the {pocket.in_words}"
            if made or not key:
                found.give(
                    f"{name}.{part}", value, what=what, source=MADE if made else "half the width of the slot"
                )
            else:
                found.work(f"{name}.{part}", same, {"of": key}, what=what, planned=value)
        if pocket.role != NECK_POCKET or made:
            return
        if document.neck.joint == "set":
            self._glued(pocket)
        film = film_in_pocket(document)
        for end in ("end", "mouth"):
            found.work(
                f"{name}.width-at-{end}",
                pocket_width,
                {
                    "heel": f"neck.heel_width_at_{end}"
                    if document.neck.tenon_width is None
                    else "neck.tenon_width",
                    "slip": "neck.slip",
                    "heel_film": "neck.heel_film" if document.neck.film_on_heel else 0.0,
                    "pocket_film": "finish.film" if film else 0.0,
                },
                what=f"width of the neck pocket at its {end}",
            )

    def _glued(self, pocket: Pocket) -> None:
        """Name the faces of a set neck that hold by glue."""
        name = pocket.id
        self.found.work(
            "neck.glue-area",
            glue_area,
            {
                "width_at_end": "neck.heel_width_at_end" if self._heel_in_pocket else "neck.tenon_width",
                "width_at_mouth": "neck.heel_width_at_mouth" if self._heel_in_pocket else "neck.tenon_width",
                "length": "neck.pocket_length",
                "depth_at_end": f"{name}.depth",
                "depth_at_mouth": f"{name}.depth" if pocket.slope is None else f"{name}.depth-at-mouth",
                "angle": "neck.angle",
            },
            unit="mm²",
            what="what holds a set neck by glue: its floor and both cheeks",
            source="plane geometry; corners are counted square, and the end carries nothing",
        )

    @property
    def _heel_in_pocket(self) -> bool:
        return self.document.neck.tenon_width is None

    def _pocket_keys(self, pocket: Pocket) -> tuple[str, str]:
        """The keys of a pocket's depth and of its corners' radius; "" where it has none of its own."""
        if pocket.role == NECK_POCKET:
            return "neck.pocket_depth", "neck.corner_radius"
        for n, stated in enumerate(self.document.pockets, start=1):
            if stated.name == pocket.role:
                return (
                    f"pockets[{n}].depth",
                    f"pockets[{n}].corner_radius" if stated.corner_radius is not None else "",
                )
            if stated.ledge is not None and recess_name(stated.name) == pocket.role:
                return f"pockets[{n}].ledge.depth", ""
        return "", ""

    def bore(self, bore: Bore) -> None:
        made = bore.id in self.record.made_cuts
        if made or not self._place(bore):
            self._given_place(bore, MADE if made else self._found(bore))
        words = f"{bore.role} {bore.number}" if bore.number else bore.role
        if bore.family in WALL_FAMILIES and bore.screw is not None:
            what = f"of the screw of {words}, out of the wall where it is wound in furthest"
            self.found.give(f"{bore.id}.under-head", bore.screw.under_head, what=what, source=STANDS_OFF)
        for datum, of in (("12th", datum_number(self.found, "12th fret")), ("pocket-end", "pocket-end")):
            inputs: Inputs = {"x": f"{bore.id}.x", "datum": of}
            what = "the 12th fret" if datum == "12th" else self.layout.neck_end_in_words
            self.found.work(f"{bore.id}.from-{datum}", beyond, inputs, what=f"{what} to the {words}")
        if bore.face in {"top", "back"}:
            self._height(bore)
        if not bore.is_upright:
            angle = angle_from_face_deg(bore)
            how = MADE if made else "the direction of its axis and of the surface it is cut from"
            self.found.give(
                f"{bore.id}.angle", angle, unit="°", what=f"{words}: angle from the surface", source=how
            )
        cut = self.record.made_steps
        for no, step in enumerate(bore.steps, start=1):
            self.steps.step(bore, no, step, made=(bore.id, no) in cut)

    @staticmethod
    def _found(bore: Bore) -> str:
        """How a place was found that is not stated."""
        if bore.family in WALL_FAMILIES:
            return WALL
        return OUTLINE if bore.face == "edge" else COURSE

    def heel_pilot(self, bore: Bore) -> None:
        """Name a pilot in the heel: it goes on from the body's hole of its number."""
        made, hole = bore.id in self.record.made_cuts, f"neck-screw-{bore.number}"
        if made or f"{hole}.x" not in self.found:
            self._given_place(bore, MADE)
        else:
            for part, what in (("x", "the nut to"), ("across", "the centreline to the treble to")):
                self.found.work(
                    f"{bore.id}.{part}",
                    same,
                    {"of": f"{hole}.{part}"},
                    what=f"{what} heel pilot {bore.number}",
                )
        inputs: Inputs = {"x": "pocket-end", "datum": f"{bore.id}.x"}
        what = f"the heel's end to heel pilot {bore.number}, towards the nut"
        self.found.work(f"{bore.id}.from-heel-end", beyond, inputs, what=what)
        cut = self.record.made_steps
        for no, step in enumerate(bore.steps, start=1):
            self.steps.step(bore, no, step, made=(bore.id, no) in cut)

    def in_head(self, bore: Bore) -> None:
        """Name a hole of the head: its place in the head's face."""
        made = bore.id in self.record.made_cuts
        place = f"tuner-{bore.number}" if bore.family == "tuner-hole" else f"{bore.id}.planned"
        if made or f"{place}.along" not in self.found:
            self._given_place(bore, MADE)
        else:
            hole = "tuner hole" if bore.family == "tuner-hole" else bore.role
            what = f"the nut to {hole} {bore.number}; before the nut is less than 0"
            self.found.work(f"{bore.id}.x", _before_the_nut, {"along": f"{place}.along"}, what=what)
            what = f"the centreline to the treble to {hole} {bore.number}"
            self.found.work(f"{bore.id}.across", same, {"of": f"{place}.across"}, what=what)
        cut = self.record.made_steps
        for no, step in enumerate(bore.steps, start=1):
            self.steps.step(bore, no, step, made=(bore.id, no) in cut)

    def _given_place(self, bore: Bore, source: str) -> None:
        give = self.found.give
        give(f"{bore.id}.x", bore.at.x, what=f"the nut to the {bore.role}", source=source)
        across = bore.at.y * self.layout.treble
        give(
            f"{bore.id}.across",
            across,
            what=f"the {bore.role} from the centreline to the treble",
            source=source,
        )
        if bore.face not in {"top", "back"}:
            give(
                f"{bore.id}.z",
                bore.at.z,
                what=f"height of the {bore.role} over the top at the bridge",
                source=source,
            )

    def _height(self, bore: Bore) -> None:
        """How high its surface lies at the mark."""
        name, what = f"{bore.id}.z", f"height of the surface at the {bore.role}"
        if (
            self.layout.body.is_plain
            and bore.face == "back"
            and abs(bore.at.z + self.layout.thickness) < 1e-9
        ):
            self.found.work(name, same, {"of": "the-back"}, what=what)
        else:
            self.found.give(name, bore.at.z, what=what, source=f"the body's {bore.face} there")

    def _place(self, bore: Bore) -> bool:
        """Name where a hole is by how it was stated; False where its place is found otherwise."""
        way = next(self._ways(bore), None)
        if way is None:
            return False
        along, x, across, y = way
        planned = bore.at.x, bore.at.y * self.layout.treble
        self.found.work(f"{bore.id}.x", along, x, what=f"the nut to the {bore.role}", planned=planned[0])
        what = f"the {bore.role} from the centreline to the treble"
        self.found.work(f"{bore.id}.across", across, y, what=what, planned=planned[1])
        return True

    def _ways(self, bore: Bore) -> Iterator[Place]:
        number = bore.number
        match bore.family:
            case "bridge-screw" | "bridge-stud" | "bridge-post" | "tailpiece-stud":
                bridge = self.layout.bridge
                anchor = None if bridge is None else bridge.anchor(bore.family, number)
                if anchor is not None:
                    yield self._on_bridge(anchor.along, anchor.across, anchor.of)
            case "ferrule-hole" if f"string-hole-{number}" in self.record.made_cuts:
                own = f"string-hole-{number}"
                yield same, {"of": f"{own}.x"}, same, {"of": f"{own}.across"}
            case "string-hole" | "ferrule-hole":
                key, across = self.document.bridge.string_row_key, f"string-{number}.bridge-row"
                if self.document.bridge.single:
                    yield self._on_bridge(key, 0.0, f"unit-{number}")
                else:
                    yield self._on_bridge(key, across)
            case "neck-screw":
                place = f"{self.document.neck_bolts_key}.places[{number}]"
                x: Inputs = {"datum": "pocket-end", "along": f"{place}[1]"}
                yield counted_back, x, same, {"of": f"{place}[2]"}
            case "control":
                yield self._from(self.document.controls[number - 1].x_from, f"controls[{number}].centre")
            case "hole":
                yield from self._stated_hole(number)
            case "cover-screw":
                yield from self._cover_screw(number)

    def _on_bridge(self, along: Input, across: Input, of: str = "bridge") -> Place:
        place: Inputs = {"along": along, "across": across, "turn": f"{of}.turn"}
        return placed_along, {"x": f"{of}.x", **place}, placed_across, {"y": f"{of}.across", **place}

    def _from(self, datum: str, place: str) -> Place:
        return (
            counted,
            {"datum": datum_number(self.found, datum), "along": f"{place}[1]"},
            same,
            {"of": f"{place}[2]"},
        )

    def _stated_hole(self, number: int) -> Iterator[Place]:
        which, spot = hole_of(self.document, number)
        hole = self.document.holes[which - 1]
        place = f"holes[{which}].at" if hole.at is not None else f"holes[{which}].places[{spot}]"
        yield self._from(hole.x_from, place)

    def _cover_screw(self, number: int) -> Iterator[Place]:
        which, spot = cover_of(self.document, number)
        yield self._from(
            self.document.pockets[which - 1].x_from, f"pockets[{which}].cover_screws.places[{spot}]"
        )


def _before_the_nut(along: float) -> float:
    return -along
