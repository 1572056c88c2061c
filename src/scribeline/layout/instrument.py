"""The layout: where everything on the instrument sits, worked out from the job."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import atan
from typing import Literal, TypedDict

import numpy as np

from scribeline.job import (
    EMPTY,
    Document,
    Jack,
    Job,
    Neck,
    PocketStatement,
    Record,
    StrapButton,
    feature_id,
    walls,
)
from scribeline.layout.as_built import Held, held_bridge, stand
from scribeline.layout.bridges import BridgePlace, kind_of
from scribeline.layout.cut_places import (
    HolePlace,
    PocketPlace,
    centreline_crossings,
    control_places,
    core_outline,
    datums,
    hole_onto,
    hole_places,
    neck_screw_places,
    pocket_end,
    pocket_onto,
    pocket_places,
)
from scribeline.layout.datums import Datum, DatumId, Reading, find_datums
from scribeline.layout.edge import EdgePlace, beside, edge_place
from scribeline.layout.fan import (
    FretLines,
    at_across,
    board_end_slope,
    fret_lines,
    half_board,
    strings_across,
)
from scribeline.layout.frets import Floats, board_narrows, board_width
from scribeline.layout.head import HeadPlace, head_place
from scribeline.layout.heights import Lie, neck_lie, scale_line
from scribeline.layout.neck_line import (
    NeckLine,
    neck_line,
    off_from,
    onto,
    point_onto,
    space_onto,
)
from scribeline.layout.paths import bridge_row, edge_margins, path_y
from scribeline.layout.points import Point, Point3, Ring, mirrored
from scribeline.layout.pose import Pose
from scribeline.layout.settling import Settled, Standing, every_choice
from scribeline.layout.stringing import Stringing, bridge_window, in_units, saddle_travel, string_up
from scribeline.layout.surfaces import BodyForm, body_form
from scribeline.layout.tunnels import TunnelPlace, tunnel_places
from scribeline.quantities import cos, sin, tan
from scribeline.strings import Travel, Window
from scribeline.tables import Timber

GRAMS_PER_KG = 1000.0


@dataclass(frozen=True, slots=True)
class Fret:
    """One fret's slot, from the board's treble edge to its bass edge.

    Attributes:
        n: counted from the nut.
        x: its middle, level along the body, mm.
        treble: its treble end.
        bass: its bass end.
        along: its middle from the nut along the neck, mm; the same as `x` where the neck lies level.
    """

    n: int
    x: float
    treble: Point
    bass: Point
    along: float


@dataclass(frozen=True, slots=True)
class Margin:
    """Board left beside one string at one fret, mm.

    Attributes:
        fret: 0 is the nut.
        centre: string centre to the board's edge.
        side: string's side to where the fret-end bevel starts.
    """

    fret: int
    centre: float
    side: float


@dataclass(frozen=True, slots=True)
class StringPath:
    """One open string, numbered from the treble.

    Attributes:
        setback: where its break point is wanted, past the scale line, mm.
        setback_sd: standard deviation of that, mm; 0 where the job states it.
        tension_n: at pitch; None where the strings cannot be tuned as stated.
        scale: its scale, along the neck, mm.
        frets: each fret under it, along the neck from its own place on the nut, mm.
    """

    no: int
    note: str
    gauge: float
    nut: Point3
    saddle: Point3
    setback: float
    setback_sd: float
    tension_n: float | None
    margins: tuple[Margin, ...]
    scale: float
    frets: tuple[float, ...]

    @property
    def from_twelfth(self) -> float:
        """From its own 12th fret's centre to where it leaves its saddle, along the neck, mm."""
        return self.scale + self.setback - self.frets[11]


@dataclass(frozen=True, slots=True)
class MassPlace:
    """A thing that hangs on the instrument: its mass and that one's standard deviation in kg, and where its middle is, mm."""

    name: str
    kg: float
    at: Point3
    sd_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class Layout:
    """Everything in its place, in the instrument frame.

    Attributes:
        handed: the hand it is laid out for; +y is to the right seen from the front with the neck up.
        treble: +1 where the treble side is at +y (right-handed), −1 where it is at −y.
        scale: where the scale line crosses the body: the scale length, less where the neck leans back.
        twelfth: the 12th fret's crown centre, level along the body; on a leaning neck nearer to the end wall than along the neck.
        stringing: the strings and what they ask of the bridge.
        board_end: the fingerboard's end, on the centreline, mm.
        board_ends: its corners there, the treble's first, mm.
        window: where the bridge may lie for every saddle to keep its reserve, and the best place.
        travel: what the saddles have left with the bridge where it stands; at the aim while it has no place.
        bridge: where it stands; None when nothing holds it and no position gives every saddle its reserve.
        held: how drilled holes hold the bridge; None while none does.
        body: the wood without its cuts: its layers, and the surfaces it is carved to.
        jack: where its bore goes in.
        jack_screws: of its plate, as listed in the job; None where a screw's line meets no edge.
        strap_buttons: as listed in the job.
        tunnels: the tunnels asked for that can be looked for.
        masses: what hangs on the instrument besides its body, as listed in the job.
        holes: the job's holes, in its order.
        controls: where the controls' shafts come out, in the job's order.
        neck_screws: where the neck's screws go in, in the job's order.
        datums: the places that a rule can be held to.
        neck_read: the neck's line as it was read at the bench; None while nobody has.
        neck_lies: how the neck's frame lies on the body, as on a right-handed instrument, by its place at the end wall; None
            where it is taken to lie on the centreline.
        choices: what moving the bridge, the neck or both comes to; none while the neck's line is not read, or is the centreline.
        moved_to: the choice that it is laid out by; None likewise.
        following: names of the pockets that lie where the strings run, off where they were stated; none likewise.
        head: the head in its own frame; None where the job states none.
    """

    handed: str
    scale: float
    twelfth: float
    frets: tuple[Fret, ...]
    strings: tuple[StringPath, ...]
    stringing: Stringing
    board_end: float
    board_ends: tuple[Point, Point]
    window: Window
    travel: Travel
    bridge: BridgePlace | None
    outline: Ring
    thickness: float
    body: BodyForm
    pockets: tuple[PocketPlace, ...]
    pocket_end: float
    jack: EdgePlace | None = None
    jack_screws: tuple[EdgePlace | None, ...] = ()
    strap_buttons: tuple[EdgePlace, ...] = ()
    tunnels: tuple[TunnelPlace, ...] = ()
    masses: tuple[MassPlace, ...] = ()
    holes: tuple[HolePlace, ...] = ()
    controls: tuple[Point, ...] = ()
    neck_screws: tuple[Point, ...] = ()
    held: Held | None = None
    datums: tuple[Datum, ...] = ()
    head: HeadPlace | None = None
    neck_read: NeckLine | None = None
    neck_lies: Pose | None = None
    choices: tuple[Settled, ...] = ()
    moved_to: Settled | None = None
    following: frozenset[str] = frozenset()

    @property
    def is_fanned(self) -> bool:
        """Whether the frets run aslant."""
        return any(self.stringing.nut) or any(self.stringing.offset)

    def nut_line(self, half: float) -> tuple[Point, Point]:
        """The nut's front so far to either side of the centreline, mm, treble end first; aslant on a fan."""
        one, other = self.strings[0].nut, self.strings[-1].nut
        slope = (one.x - other.x) / (one.y - other.y)
        start, across = one.x - slope * one.y, self.treble * half
        return Point(start + slope * across, across), Point(start - slope * across, -across)

    @property
    def treble(self) -> int:
        """Sign of y on the treble side."""
        return 1 if self.handed == "right" else -1

    def top_at(self, place: Point) -> float:
        """Height of the body's top surface there, mm: 0 on a flat top."""
        return self.body.top_at(place)

    def back_at(self, place: Point) -> float:
        """Height of the body's back surface there, mm: −thickness on a flat back."""
        return self.body.back_at(place)

    def datum(self, identity: DatumId) -> Datum:
        """The datum with this id.

        Raises:
            LookupError: the instrument has none.
        """
        found = next((datum for datum in self.datums if datum.id == identity), None)
        if found is None:
            raise LookupError(f"no datum {identity}")
        return found

    def past(self, identity: DatumId, x: float) -> float:
        """How far a place along the centreline lies past a datum towards the tail, mm; negative towards the nut."""
        return x - self.datum(identity).point.x

    def below(self, face: Literal["top", "back"], at: Point3) -> Reading:
        """How far a place lies below a face, straight in from that face over it as it is shaped there, mm."""
        over = Point(at.x, at.y)
        mm = self.top_at(over) - at.z if face == "top" else at.z - self.back_at(over)
        return Reading(self.datum(face), mm)

    def timber_at(self, place: Point, z: float) -> Timber:
        """The timber at a place inside the wood."""
        return self.body.timber_at(place, z)

    def stated_datum(self, name: str) -> float:
        """What a job may count a place from, from the nut, mm.

        Args:
            name: as the job says it, such as "pocket end".
        """
        return datums(self.twelfth, self.pocket_end, self.scale)[name]

    @property
    def neck_edge(self) -> float:
        """Where the body begins on the centreline, from the nut, mm."""
        return min(centreline_crossings(self.outline))

    @property
    def neck_end_in_words(self) -> str:
        """What is met where the neck ends over the body: its pocket's end wall, or the end of a board on a core."""
        return self.datum("pocket-end").words.replace("the pocket", "the neck pocket")

    @property
    def bridge_line(self) -> float:
        """The first mark that the bridge is set out by, from the nut, mm; at the aim while it has no place."""
        return self.scale + self.window.aim if self.bridge is None else self.bridge.marks[0].at.x

    @property
    def smallest_margin(self) -> tuple[StringPath, Margin]:
        """The string and fret with the least board beside the string's side."""
        every = [(string, margin) for string in self.strings for margin in string.margins]
        return min(every, key=lambda pair: pair[1].side)


def lay_out(job: Job, record: Record = EMPTY) -> Layout:
    """Work out where everything goes.

    The layout is made for a right-handed instrument and mirrored as the very last step for a left-handed one.

    Args:
        job: what is stated.
        record: what is cut already: it holds the plate, and the neck pocket's end wall.
    """
    document = job.document
    lines, stringing = fret_lines(document), string_up(job)
    kind = kind_of(document.bridge)
    turn = kind.turn(document, stringing)
    lie, scale = neck_lie(document), scale_line(document, stringing)
    units = in_units(document, stringing, line=scale, nut=float(lie.place(0.0)))
    window = bridge_window(document, stringing, turn, units)
    placed = stringing.is_placed and not window.is_empty
    wall = pocket_end(document, record, lie)
    read = neck_line(document, record, wall, job.accuracies)
    aim = units or Pose(scale + window.aim, 0.0, turn)
    holds = held_bridge(document, record, aim)
    seat = _seat(document, record, read, lines, aim, held=holds)
    free = seat if holds is None else _seat(document, record, read, lines, aim, held=None)
    wanted = aim if free is None else onto(free.bridge, wall, aim)
    wanted_units = None if units is None else wanted
    stands, held = stand(document, record, wanted if placed else None, wanted_units)
    bridge = None if stands is None else kind.place(document, stands)
    lies = stands or wanted  # on the body
    to_neck = lies if seat is None else off_from(seat.neck, wall, lies)
    outline = Ring(Point(x, y) for x, y in job.outline.points)
    twelfth = float(lie.place(lines.middle[12]))
    board_end = float(lie.place(document.fingerboard.end))
    datum = datums(twelfth, wall, scale)
    pockets = pocket_places(document, datum, lambda x: atan(lines.slope_at(float(lie.along(x)))))
    layout = Layout(
        handed=document.handed,
        scale=scale,
        twelfth=twelfth,
        frets=_frets(document, lie, lines),
        strings=_strings(document, stringing, lines, to_neck, scale),
        stringing=stringing,
        board_end=board_end,
        board_ends=_board_ends(document, lie, lines),
        window=window,
        travel=saddle_travel(document, stringing, to_neck, scale),
        bridge=bridge,
        held=held,
        outline=outline,
        thickness=document.body.thickness.mm,
        body=body_form(document.body, outline, _core(document, outline)),
        masses=tuple(
            MassPlace(
                mass.name,
                mass.grams / GRAMS_PER_KG,
                Point3(*mass.at, mass.height),
                mass.sd / GRAMS_PER_KG,
            )
            for mass in document.masses
        ),
        pockets=pockets,
        pocket_end=wall,
        **_edge_places(document, outline, datum),
        tunnels=tuple(tunnel_places(document, bridge, datum, pockets)),
        holes=hole_places(document, datum),
        controls=control_places(document, datum),
        neck_screws=neck_screw_places(document, datum),
        head=head_place(document),
        datums=find_datums(
            nut=float(lie.place(0.0)),
            start=document.nut.start("the nut's front edge"),
            twelfth=twelfth,
            board_end=board_end,
            end=document.fingerboard.end_in_words,
            pocket_end=wall,
            plate_front=None if bridge is None else bridge.edge,
            outline=outline,
            thickness=document.body.thickness.mm,
            pockets=pockets,
            runs_through=document.neck.runs_through,
        ),
        neck_read=read,
        neck_lies=None if seat is None else seat.neck,
        choices=() if seat is None else seat.choices,
    )
    if seat is not None:
        layout = _seated(document, layout, seat)
    return layout if document.handed == "right" else mirrored(layout)


@dataclass(frozen=True, slots=True)
class _Seat:
    """How what belongs to the strings lies on the body, where the neck is read off the centreline.

    Attributes:
        neck: where the neck's frame lies once it is moved, if it is.
        bridge: the same for what goes with the bridge.
        choices: what every choice comes to.
    """

    neck: Pose
    bridge: Pose
    choices: tuple[Settled, ...]
    chosen: Settled


def _seat(
    document: Document,
    record: Record,
    read: NeckLine | None,
    lines: FretLines,
    aim: Pose,
    *,
    held: tuple[float, float] | None,
) -> _Seat | None:
    """How it all lies on the body; with `held` of a bridge that drilled holes hold, else as it would be wanted."""
    if read is None or not read.is_plain:
        return None
    wall, neck = read.wall, document.neck
    stands = Standing(
        read.off,
        read.turn,
        wall,
        _WHOLE if neck.runs_through else neck.pocket_length,
        float(lines.middle[-2]),
        aim.x,
        document.bridge.width / 2,
        0.0 if neck.runs_through else neck.slip / 2,
        held,
        _cut_under_strings(document, record),
    )
    choices = tuple(
        each
        for each in every_choice(stands, document.as_built)
        if each.choice == "bridge" or not neck.runs_through
    )
    chosen = next(each for each in choices if each.choice == document.as_built.move)
    before = aim.x - wall
    return _Seat(
        Pose(wall, chosen.off, chosen.turn),
        Pose(wall, chosen.bridge - before * tan(chosen.bridge_turn), chosen.bridge_turn),
        choices,
        chosen,
    )


_WHOLE = 75.0
"""Over what length a neck that runs through would be turned, mm, if it could be: as long as a pocket."""


def _core(document: Document, outline: Ring) -> tuple[Ring, Timber] | None:
    """The core of a neck that runs through the body, and its timber."""
    if not document.neck.runs_through:
        return None
    return core_outline(document, outline), document.neck.wood


def _cut_under_strings(document: Document, record: Record) -> tuple[tuple[float, float], ...]:
    """The middles of the cavities under the strings that are cut already, as on a right-handed instrument."""
    treble = 1 if document.handed == "right" else -1
    under = {feature_id(each.name) for each in document.pockets if _follows(document, each)}
    found = []
    for name, cut in record.made_pockets.items():
        if name in under and cut.outline is not None:
            xs, ys = zip(*cut.outline, strict=True)
            found.append(((min(xs) + max(xs)) / 2, treble * (min(ys) + max(ys)) / 2))
    return tuple(found)


def _seated(document: Document, layout: Layout, seat: _Seat) -> Layout:
    """The layout with what is on the neck where that lies, and what belongs to the strings where they run."""
    wall = layout.pocket_end
    followers = frozenset(each.name for each in document.pockets if _follows(document, each))
    return replace(
        layout,
        moved_to=seat.chosen,
        following=followers,
        frets=tuple(
            replace(
                fret,
                treble=point_onto(seat.neck, wall, fret.treble),
                bass=point_onto(seat.neck, wall, fret.bass),
            )
            for fret in layout.frets
        ),
        board_ends=(
            point_onto(seat.neck, wall, layout.board_ends[0]),
            point_onto(seat.neck, wall, layout.board_ends[1]),
        ),
        strings=tuple(
            replace(
                string,
                nut=space_onto(seat.neck, wall, string.nut),
                saddle=space_onto(seat.neck, wall, string.saddle),
            )
            for string in layout.strings
        ),
        pockets=tuple(
            pocket_onto(pocket, lambda at: point_onto(seat.bridge, wall, at))
            if pocket.name in followers
            else pocket
            for pocket in layout.pockets
        ),
        holes=tuple(
            hole_onto(hole, lambda at: point_onto(seat.bridge, wall, at))
            if _goes_along(document, stated.follows, stated.spots)
            else hole
            for hole, stated in zip(layout.holes, document.holes, strict=True)
        ),
    )


def _follows(document: Document, pocket: PocketStatement) -> bool:
    """Whether a cavity goes where the strings go: as the job says, else where its middle lies between the outer strings."""
    places = [pocket.centre] if pocket.centre is not None else pocket.corners()
    return _goes_along(document, pocket.follows, places)


def _goes_along(document: Document, stated: str | None, places: Sequence[tuple[float, float]]) -> bool:
    if stated is not None:
        return stated == "strings"
    across = sum(y for _, y in places) / len(places)
    outer = float(bridge_row(len(document.strings), document.bridge.spacing.mm)[0])
    return abs(across) <= outer


def neck_opens(neck: Neck, layout: Layout) -> float:
    """Where the body begins under the neck, from the nut, mm: at its pocket's mouth, or at the body's edge over a core."""
    return layout.neck_edge if neck.runs_through else neck.pocket_end - neck.pocket_length


def strings_over(layout: Layout, outline: Sequence[tuple[float, float]]) -> tuple[float, float] | None:
    """Where the outer strings run over a cavity's middle, across, mm, treble first; None where not all run over it."""
    (low, high), (left, right) = walls(outline)
    middle = (low + high) / 2
    if not layout.frets[-1].x < middle < layout.scale:
        return None
    one, other = (
        string.nut.y
        + (string.saddle.y - string.nut.y) * (middle - string.nut.x) / (string.saddle.x - string.nut.x)
        for string in (layout.strings[0], layout.strings[-1])
    )
    return (one, other) if left < min(one, other) and max(one, other) < right else None


def bridge_by_neck(layout: Layout, neck: Pose, unit: int) -> Pose:
    """Where the bridge, or its unit under a string from 0, lies in the neck's frame, as on a right-handed instrument."""
    assert layout.bridge is not None
    each, treble = layout.bridge.units, layout.treble
    at, turn = (each[unit].front, each[unit].turn) if each else (layout.bridge.middle, layout.bridge.turn)
    return off_from(neck, layout.pocket_end, Pose(at.x, at.y * treble, turn * treble))


def _frets(document: Document, lie: Lie, lines: FretLines) -> tuple[Fret, ...]:
    middle, slope = lines.middle[1:-1], lines.slope[1:-1]
    half, narrows = board_width(document, middle) / 2, board_narrows(document) / 2
    treble, bass = (side * half_board(half, narrows, slope, side) for side in (1, -1))
    ends = (
        (float(lie.place(at_across(u, k, end))), float(end))
        for u, k, pair in zip(middle, slope, zip(treble, bass, strict=True), strict=True)
        for end in pair
    )
    places = [Point(*each) for each in ends]
    return tuple(
        Fret(n, float(x), places[2 * n - 2], places[2 * n - 1], float(u))
        for n, (x, u) in enumerate(zip(lie.place(middle), middle, strict=True), start=1)
    )


def _board_ends(document: Document, lie: Lie, lines: FretLines) -> tuple[Point, Point]:
    """The corners at the board's end, the treble's first: square, or on a line as a fret would run there."""
    board = document.fingerboard
    slope = board_end_slope(document, lines)
    narrows = board_narrows(document) / 2
    across = [side * float(half_board(board.width_at_end / 2, narrows, slope, side)) for side in (1, -1)]
    treble, bass = (Point(float(lie.place(at_across(board.end, slope, end))), end) for end in across)
    return treble, bass


def _strings(
    document: Document, stringing: Stringing, lines: FretLines, bridge: Pose, line: float
) -> tuple[StringPath, ...]:
    stated, lie = document.strings, neck_lie(document)
    gauges = np.array([string.gauge for string in stated])
    nut_y, _ = strings_across(document)
    row = _saddles_across(document, stringing, bridge, line)
    stations = np.concatenate([np.zeros((len(stated), 1)), lines.fret_x], axis=1)
    y = path_y(stations, nut_y[:, np.newaxis], row[:, np.newaxis], lines.scale[:, np.newaxis])
    width = board_width(document, lines.nut[:, np.newaxis] + stations)
    centre, side = edge_margins(y, gauges[:, np.newaxis], width, document.fingerboard.fret_end_bevel)
    over = document.nut.height_over_frets
    nut_x, nut_z = lie.place(lines.nut, over), lie.height(lines.nut, over)
    return tuple(
        StringPath(
            no=i + 1,
            note=string.note,
            gauge=string.gauge,
            nut=Point3(float(nut_x[i]), float(nut_y[i]), float(nut_z[i])),
            saddle=Point3(line + stringing.along[i], float(row[i]), document.bridge.saddle_height.mm),
            setback=stringing.setback[i],
            setback_sd=stringing.sd[i],
            tension_n=None if stringing.prediction is None else float(stringing.prediction.tension_n[i]),
            scale=float(lines.scale[i]),
            frets=tuple(lines.fret_x[i].tolist()),
            margins=tuple(
                Margin(fret, float(centre[i, fret]), float(side[i, fret]))
                for fret in range(stations.shape[1])
            ),
        )
        for i, string in enumerate(stated)
    )


def _saddles_across(document: Document, stringing: Stringing, bridge: Pose, line: float) -> Floats:
    """How far each saddle in its wanted place lies from the centreline towards the treble, mm, treble first.

    On the bridge a saddle runs straight to the tail at r from the middle; its distance d from the bridge's line follows
    from where it is wanted along the centreline.
    """
    setback = np.asarray(stringing.along)
    if bridge.each:
        zero = np.zeros(1)
        found = (
            saddle_across(scale=line, setback=setback[[n]], x=unit.x, y=unit.y, row=zero, turn=unit.turn)
            for n, unit in enumerate(bridge.each)
        )
        return np.concatenate(list(found))
    row = bridge_row(len(document.strings), document.bridge.spacing.mm)
    return saddle_across(scale=line, setback=setback, x=bridge.x, y=bridge.y, row=row, turn=bridge.turn)


def saddle_across(*, scale: float, setback: Floats, x: float, y: float, row: Floats, turn: float) -> Floats:
    """How far a saddle lies from the centreline towards the treble, mm; see `_saddles_across`.

    Args:
        scale: where the scale line crosses the body, mm.
        setback: where the string leaves the saddle, past the middle of the scale line, mm.
        x: middle of the bridge's line from the nut, mm.
        y: the same from the centreline, mm.
        row: the saddle's place from the bridge's middle towards the treble, mm.
        turn: of the bridge, rad.
    """
    past_front = scale + setback - x + row * sin(turn)
    return y + row * cos(turn) + past_front * tan(turn)


def _edge_places(document: Document, outline: Ring, datum: Mapping[str, float]) -> _EdgePlaces:
    """Where the jack, its plate's screws and the strap buttons go in."""

    def place(stated: Jack | StrapButton) -> EdgePlace:
        near = Point(datum[stated.x_from] + stated.near[0], stated.near[1])
        heading = stated.heading
        inward = None if heading is None else Point(-cos(heading), sin(heading))
        return edge_place(outline, near, inward=inward, from_top=stated.from_top)

    jack = None if document.jack is None else place(document.jack)
    screws = document.jack.screws if document.jack is not None else ()
    return {
        "jack": jack,
        "jack_screws": tuple(
            beside(outline, jack, to_right=right, up=up) for right, up in screws if jack is not None
        ),
        "strap_buttons": tuple(place(button) for button in document.strap_buttons),
    }


class _EdgePlaces(TypedDict):
    jack: EdgePlace | None
    jack_screws: tuple[EdgePlace | None, ...]
    strap_buttons: tuple[EdgePlace, ...]
