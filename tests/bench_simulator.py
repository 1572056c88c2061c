"""A bench of its own: makes a body from the printed step cards alone, one card after the other, in a mesh of the blank.

It knows what stands on the cards (`step_card_reader`), the full-size outlines that templates are sawn to, the blank and
the builder's own bits, and nothing of how the cards were worked out. What a card leaves open, or what cannot be done as it
is written, is a fault of the card: `CannotBeDoneError`.

How tools meet wood is plain geometry:

- A depth stop is zeroed by lowering the bit until it touches what is there; it then travels as far as the stop is set.
- A tape on a bit of a hand drill is as far from the bit's point as the card says; drilling ends where the tape is level
  with the surface that the card names.
- A router's depth is from the face that the card names, where its template lies beside the cavity.

Frame, mm: x from the nut's front face towards the tail, y to the right seen from the front with the neck up, z up from the
top.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import atan, atan2, cos, degrees, hypot, inf, pi, radians, sin, tan

import numpy as np
import shapely
from manifold3d import CrossSection, FillRule, Manifold, Mesh64
from numpy.typing import NDArray

from .step_card_reader import Row, StepCard, length_in

Floats = NDArray[np.float64]
Vector = tuple[float, float, float]

FAR = 400.0
"""Farther than any body is thick, mm."""

CHUCK = 19.0
"""Radius of a hand drill's chuck, mm (common practice, no source)."""

SPUR = 0.25
"""Width of a brad-point or flat-bottomed bit's centre point as a share of its diameter (from memory)."""

BESIDE = 1.5
"""How far beside a hole's rim a bit's point is set down to zero the stop, mm (common practice, no source)."""

SIDES = 48
"""Sides of the prism that stands for a drilled hole: its sides keep within 0.03 mm of a 24 mm circle."""


class CannotBeDoneError(AssertionError):
    """A card that nobody can do as it is written."""


@dataclass(frozen=True, slots=True)
class DrillBit:
    """A bit as the builder has it in the hand.

    Attributes:
        kind: twist, brad-point, flat-bottomed or countersink.
        diameter: mm.
        point: how far its point goes beyond the full diameter, mm.
        point_width: how wide that point is where it leaves the bit, mm.
    """

    kind: str
    diameter: float
    point: float
    point_width: float

    def above_point(self, radius: float) -> float:
        """How far above its point the bit is as wide as that, mm."""
        return self.point * min(1.0, 2 * radius / self.point_width) if self.point > 0 else 0.0


def typical_bit(kind: str, diameter: float) -> DrillBit:
    """A bit of the usual shape: a twist bit of 118° (its cone is 0.3 of its diameter), a brad point of 0.3 of its
    diameter, a flat-bottomed bit's centre point of 1.5 mm (the last two from memory).
    """
    if kind == "twist":
        return DrillBit(kind, diameter, diameter / 2 / tan(radians(59)), diameter)
    point = 0.3 * diameter if kind == "brad-point" else 1.5
    return DrillBit(kind, diameter, point, SPUR * diameter)


@dataclass(frozen=True)
class Timber:
    """What lies on the bench before the first card.

    Attributes:
        blank: the wood as it is before any face is shaped.
        shaped: the wood once every face is shaped; the same as the blank where nothing is carved.
        outline: the body's outline, (n, 2), mm.
        templates: outlines of the cavities by face and name, (n, 2) each, islands after the first.
        thickness: stated, mm.
        neck: the finished neck's nut to its heel's end, and its frets' crowns over the heel's underside, mm.
    """

    blank: Manifold
    shaped: Manifold
    outline: Floats
    templates: Mapping[tuple[str, str], Sequence[Floats]]
    thickness: float
    neck: tuple[float, float] = (0.0, 0.0)


@dataclass
class Bench:
    """The body on the bench, and what is fixed to it.

    Attributes:
        timber: what lies on the bench before the first card.
        bits: makes the builder's own bit of a kind and a diameter.
        treble: which sign of y the treble side has.
        wood: the body as it is now.
        stock: the body as it would be without any hole or cavity: where gauges and rules find a face.
        crown: the 12th fret's crown along the neck, once a card has told.
        end_wall: x of the neck pocket's end wall.
        lean: of the neck pocket's floor and so of the neck in it, rad.
        board_end: x of the board's end, once a row has told it beside the 12th fret's crown.
        neck: "" while it is off, or how it is held: "clamped", "screwed", "glued".
        plate: whether the bridge's plate is screwed down.
        on_board: whether the body lies on a board that ends short of the neck.
        widest: the widest bit that has been in each hole, mm.
        core: half the width of a core that runs through the body; None of a neck in a pocket.
    """

    timber: Timber
    bits: Callable[[str, float], DrillBit] = typical_bit
    treble: int = 1
    wood: Manifold = field(init=False)
    stock: Manifold = field(init=False)
    crown: float | None = None
    end_wall: float | None = None
    board_end: float | None = None
    lean: float = 0.0
    neck: str = ""
    plate: bool = False
    on_board: bool = False
    widest: dict[str, float] = field(default_factory=dict)
    core: float | None = None

    def __post_init__(self) -> None:
        self.wood = self.timber.blank
        self.stock = self.timber.blank

    def copy(self) -> Bench:
        """The same bench as it stands, to go on from twice."""
        twin = Bench(self.timber, self.bits)
        twin.__dict__.update(self.__dict__, widest=dict(self.widest))
        return twin

    def work(self, cards: Sequence[StepCard]) -> Manifold:
        """Do every card in order, and give the body.

        Raises:
            CannotBeDoneError: a card cannot be done as it is written; its number stands first.
        """
        self.set_up(cards)
        self.work_on(cards)
        return self.wood

    def set_up(self, cards: Sequence[StepCard]) -> None:
        """Lay the wood on the bench: shaped already where no card shapes it."""
        self.treble = -1 if cards[0].hand == "left-handed" else 1
        if not any(_shapes(card) for card in cards):
            self.wood = self.stock = self.timber.shaped

    def work_on(self, cards: Sequence[StepCard]) -> None:
        """Do cards in order.

        Raises:
            CannotBeDoneError: a card cannot be done as it is written; its number stands first.
        """
        for card in cards:
            try:
                self.do(card)
            except AssertionError as fault:
                raise CannotBeDoneError(f"step {card.no}, {card.title}: {fault}") from fault

    def do(self, card: StepCard) -> None:
        """Do one card."""
        self._take_on_and_off(card)
        for row in card.rows.values():
            self._can_touch(row)
        self.on_board = self.on_board and card.face != "top"
        if (
            card.title.startswith(("Scrap test", "Drill the tuner holes", "Drill the string trees"))
            or "heel's pilots" in card.title
        ):
            return  # in other wood than the body's
        if card.face == "back" and card.machine in {"router", "drill press"}:
            self._must_lie_on_its_top(card)
        if _shapes(card):
            self._shape()
        elif card.title.startswith("Plane the core"):
            self._plane(card)
        elif "scale on the real neck" in card.title:
            self.crown = card.should_measure
        elif "blank's thickness" in card.title:
            assert card.should_measure is not None
            thick = self.timber.thickness
            _demand(abs(card.should_measure - thick) < 0.01, f"the blank is {thick:.2f} mm thick")
        elif card.machine == "router" and card.depth is not None:
            self._rout(card)
        elif card.machine == "drill press" and card.rows:
            for label, row in card.rows.items():
                self._drill_from_a_face(card, label, row)
        elif card.machine == "hand drill" and card.rows:
            self._drill_with_the_hand_drill(card)

    def _plane(self, card: StepCard) -> None:
        """The core: where its board ends, how its seat leans, how wide it is."""
        end = card.line(r"Square a line round the blank ([\d.]+ (?:mm|in))")
        half = card.line(r"Plane both edges square, ([\d.]+ (?:mm|in))")
        if end is None or half is None:
            raise CannotBeDoneError("it does not say where the board ends, or how wide the core is")
        self.end_wall, self.core = length_in(end[1]), length_in(half[1])
        leans = card.line(r"at its end and ([\d.]+)° off it")
        self.lean = 0.0 if leans is None else radians(float(leans[1]))
        if leans is not None and card.line(r"off it, higher towards the nut"):
            self.lean = -self.lean

    def _drill_with_the_hand_drill(self, card: StepCard) -> None:
        if any(label.endswith(" in") for label in card.rows):
            self._drill_a_tunnel(card)
            return
        in_a_wall = card.line(r"on the lines? with the awl")
        for label, row in card.rows.items():
            (self._drill_in_a_wall if in_a_wall else self._drill_from_the_edge)(card, label, row)

    # --- what is fixed to the body ---------------------------------------------------------------------

    def _take_on_and_off(self, card: StepCard) -> None:
        """Follow what a card says about the neck and the bridge's plate."""
        if card.title.startswith("Glue the wings"):
            self.neck = "glued"
        if card.title.startswith("Fit the neck"):
            self.neck = "glued" if card.line(r"[Gg]lue it, clamp it") else "clamped"
        if "screw the neck on" in card.title:
            self.neck = "screwed"
        if card.title.startswith("Glue the neck in"):
            self.neck = "glued"
        if card.title.startswith("Put the neck back"):
            self.neck = "screwed"
        if card.line(r"^Take the neck off"):
            _demand(self.neck != "glued", "the neck is glued in and cannot be taken off")
            self.neck = ""
        if card.line(r"^Put the neck back"):
            self.neck = "screwed"
        if card.title.startswith("Screw the plate down with two"):
            self.plate = True
        if card.line(r"^Take the plate off"):
            self.plate = False
        if "12th fret" in card.gate and "plate" in card.gate:
            _demand(self.neck != "", "it measures from a fret while the neck is off")

    def _must_lie_on_its_top(self, card: StepCard) -> None:
        """With the back up the body lies on its top: nothing may stand proud of it but a neck beside the board below."""
        _demand(not self.plate, "the body would lie on the bridge's plate")
        if card.line(r"on a flat board.* let the neck hang over"):
            self.on_board = True
        _demand(
            not self.neck or self.on_board,
            f"the body would lie on its neck, which is {self.neck} to it",
        )

    def _can_touch(self, row: Row) -> None:
        """What a row is measured from must be there: frets while the neck is on, the pocket's end wall while it is off."""
        at_the_neck = row.from_twelfth is not None or row.from_board_end is not None
        _demand(self.neck or not at_the_neck, "it measures from the neck while the neck is off")
        _demand(
            not (self.neck and row.from_pocket_end is not None),
            "it measures from the pocket's end wall while the neck fills the pocket",
        )

    # --- where a place is -------------------------------------------------------------------------------

    def _crown_in_place(self) -> float:
        """Where the 12th fret's crown is along the body: a neck that leans turns about its heel's end at the end wall."""
        assert self.crown is not None
        if not self.lean:
            return self.crown
        _demand(self.end_wall is not None, "nothing says where the end wall is")
        assert self.end_wall is not None
        length, over = self.timber.neck
        return self.end_wall - (length - self.crown) * cos(self.lean) - over * sin(self.lean)

    def place(self, row: Row) -> tuple[float, float]:
        """Where a row of the table is; all readings along the body must agree to the last place printed."""
        found = []
        if row.from_twelfth is not None and self.crown is not None:
            found.append(self._crown_in_place() + row.from_twelfth)
        if row.from_pocket_end is not None and self.end_wall is not None:
            found.append(self.end_wall + row.from_pocket_end)
        if row.from_board_end is not None and found and self.board_end is None:
            self.board_end = found[0] - row.from_board_end
        if row.from_board_end is not None and self.board_end is not None:
            found.append(self.board_end + row.from_board_end)
        if row.from_tail is not None:
            found.append(self._landmark("the centreline meets the tail")[0] + row.from_tail)
        _demand(found, "nothing says where along the body the place is")
        _demand(max(found) - min(found) < 0.04, f"its readings along the body differ: {found}")
        assert row.to_treble is not None
        return sum(found) / len(found), row.to_treble * self.treble

    def touches(self, x: float, y: float, face: str, of: Manifold | None = None) -> float:
        """Height of the first wood that a point lowered on a face meets; −inf or inf where it meets none."""
        ends = ((x, y, FAR), (x, y, -FAR)) if face == "top" else ((x, y, -FAR), (x, y, FAR))
        hits = (self.wood if of is None else of).ray_cast(*ends)
        return float(hits[0].position[2]) if hits else (-inf if face == "top" else inf)

    def _shape(self) -> None:
        self.wood = self.wood ^ self.timber.shaped
        self.stock = self.timber.shaped

    # --- the router -------------------------------------------------------------------------------------

    def _rout(self, card: StepCard) -> None:
        """Every cavity of a card: those its table names, or the one of its title."""
        names = [name for name in card.extents if name] or [card.title.removeprefix("Rout the ")]
        prisms = [self._cavity(card, name) for name in names]
        for prism in prisms:
            self.wood -= prism

    def _cavity(self, card: StepCard, name: str) -> Manifold:
        bare = name.removesuffix(" cavity").replace(
            "-", " "
        )  # the template of a bridge-pickup cavity says bridge pickup
        templates = self.timber.templates
        outlines = templates.get((card.face, name)) or templates.get((card.face, bare))
        if outlines is None:
            raise CannotBeDoneError(f"there is no template of the {name} for the {card.face}")
        assert card.depth is not None
        level = self._gauged(card, outlines[0])
        inner = level - card.depth if card.face == "top" else level + card.depth
        outer = FAR if card.face == "top" else -FAR
        low, high = sorted((inner, outer))
        drawn = outlines[0][:, 0]
        told = card.extents.get(name, card.extents.get(""))
        tail = self._landmark("the centreline meets the tail")[0]
        known = {"tail edge": tail, "pocket end wall": self.end_wall}
        start = None if told is None else known.get(told[0])
        if told is not None and name == "neck pocket":
            _demand(told[0] == "tail edge", f"it is measured from the {told[0]}, which nobody can touch yet")
            self.end_wall = tail + told[2]
        _demand(name != "neck pocket" or self.end_wall is not None, "nothing says where the end wall is")
        if told is not None and start is not None:
            low_end, high_end = start + told[1], start + told[2]
            _demand(
                abs(high_end - drawn.max()) < 0.02
                and (name == "neck pocket" or abs(low_end - drawn.min()) < 0.02),
                f"the {name} is at {low_end:.2f} to {high_end:.2f}, its template elsewhere",
            )
        self._no_neck_in(outlines[0], name)
        leans = card.line(r"The floor leans ([\d.]+)°, to ([\d.]+ (?:mm|in))(?: \(.*?\))? at the mouth")
        if leans is None:
            return _prism(outlines, low, high)
        assert told is not None
        assert self.end_wall is not None
        self.lean = radians(float(leans[1]))
        fall = (length_in(leans[2]) - card.depth) / (told[2] - told[1])
        _demand(
            abs(fall - tan(self.lean)) < 0.001,
            f"two depths make a floor that leans {degrees(atan(fall)):.2f}°",
        )
        deep = _prism(outlines, inner - length_in(leans[2]), high)
        above = np.array([-fall, 0.0, 1.0]) / hypot(fall, 1.0)
        return deep.trim_by_plane(tuple(above), float(above @ (self.end_wall, 0.0, inner)))

    def _no_neck_in(self, outline: Floats, name: str) -> None:
        if self.neck and name == "neck pocket":
            raise CannotBeDoneError("the neck is in its pocket")

    def _gauged(self, card: StepCard, outline: Floats) -> float:
        """Height of the face on which the depth gauge stands beside the cavity.

        A gauge on the face itself finds it wherever it is set down beside the cavity, so the place that makes the
        cavity deepest counts; a straightedge bridged over the cavity lies on the highest places.
        """
        rim = shapely.Polygon(outline).buffer(2.0).exterior.segmentize(8.0)
        beside = [self.touches(x, y, card.face, self.stock) for x, y in rim.coords]
        there = [height for height in beside if np.isfinite(height)]
        _demand(there, f"there is no wood beside the cavity for a gauge on the {card.face}")
        words = " ".join((*card.do, card.gate))
        bridged = re.search(r"straightedge|straight edge|bridge[ds]? ", words)
        highest, lowest = max(there), min(there)
        if card.face == "back":
            highest, lowest = lowest, highest
        return highest if bridged else lowest

    # --- the drill press --------------------------------------------------------------------------------

    def _drill_from_a_face(self, card: StepCard, label: str, row: Row) -> None:
        x, y = self.place(row)
        bit, axis = self._bit(card), self._axis_from_a_face(card)
        # A leaning bit's axis goes through the mark on the face; where that is cut away, the press stands as it stood.
        at = (x, y, self.touches(x, y, card.face, self.stock))
        _demand(np.isfinite(at[2]), f"{label} lies beside the body")
        assert card.stop is not None
        zero = self._zeroed(card, label, at, axis, bit)
        self.wood -= _drilled(at, axis, zero + card.stop, bit)
        self.widest[label] = max(self.widest.get(label, 0.0), bit.diameter)

    def _bit(self, card: StepCard) -> DrillBit:
        """The builder's own bit of the kind and size that the card asks for."""
        assert card.bit is not None
        kind, diameter = card.bit
        if kind != "countersink":
            return self.bits(kind, diameter)
        said = card.line(r"(\d+(?:\.\d+)?)° countersink")
        if said is None:
            raise CannotBeDoneError("it does not say the countersink's angle")
        return DrillBit(kind, diameter, diameter / 2 / tan(radians(float(said[1])) / 2), diameter)

    def _axis_from_a_face(self, card: StepCard) -> Vector:
        """Straight in, or as the angle block leans."""
        into = -1.0 if card.face == "top" else 1.0
        block = card.line(r"Angle block: (\d+(?:\.\d+)?)° from the face")
        if block is None:
            return (0.0, 0.0, into)
        slope, heading = radians(float(block[1])), self._heading(" ".join(card.do))
        return (cos(slope) * cos(heading), cos(slope) * sin(heading), into * sin(slope))

    def _heading(self, said: str) -> float:
        """Which way a leaning bit goes in by some words, seen from the front: 0 to the tail, turning towards +y, radians."""
        if found := re.search(r"towards the (neck|tail), turned (\d+(?:\.\d+)?)° to the (treble|bass)", said):
            angle = radians(float(found[2]))
            side = self.treble if found[3] == "treble" else -self.treble
            return side * (pi - angle if found[1] == "neck" else angle)
        if found := re.search(r"straight to the (neck|tail)", said):
            return pi if found[1] == "neck" else 0.0
        raise CannotBeDoneError("it does not say which way the bit leans")

    def _zeroed(self, card: StepCard, label: str, at: Vector, axis: Vector, bit: DrillBit) -> float:
        """How far along its axis from the mark the bit's point stands when it is zeroed as the card says, mm."""
        named = re.search(r"point on the (top|back|floor)", card.stop_words)
        surface = "" if named is None else named[1]
        _demand(
            surface in {"", "floor", card.face},
            f"the stop is zeroed on the {surface}, and the {card.face} is up",
        )
        if "beside the" not in card.stop_words:
            far = self._first_touch(label, at, axis, bit)
            met = "floor" if abs(far) > 0.05 else card.face
            _demand(surface in {"", met}, f"{label}: the point comes down {far:.2f} mm below the face")
            return far
        radius = max(self.widest.get(label, 0.0), bit.diameter) / 2 + BESIDE
        beside = []
        for turn in np.linspace(0, 2 * pi, 64, endpoint=False):
            x, y = at[0] + radius * cos(turn), at[1] + radius * sin(turn)
            height, face = self.touches(x, y, card.face), self.touches(x, y, card.face, self.stock)
            if np.isfinite(height) and abs(height - face) < 0.01:
                beside.append((height - at[2]) / axis[2])
        _demand(beside, f"{label}: there is nothing left of the face beside the hole to zero the stop on")
        if "as high as" in card.stop_words:
            return min(beside, key=abs)
        # Any place on the face beside the hole must do: the one that makes the hole deepest counts.
        return max(beside)

    def _first_touch(self, label: str, at: Vector, axis: Vector, bit: DrillBit, start: float = -FAR) -> float:
        """How far along its axis from the mark the point is when any of the bit first touches wood, mm."""
        u, v = _square_to(axis)
        place, along = np.array(at), np.array(axis)
        touched = []
        for share in (0.0, 0.2, 0.5, 0.98):
            radius = share * bit.diameter / 2
            for turn in np.linspace(0, 2 * pi, 8 if share else 1, endpoint=False):
                off = radius * (cos(turn) * u + sin(turn) * v)
                hits = self.wood.ray_cast(
                    tuple(place + start * along + off), tuple(place + FAR * along + off)
                )
                if hits:
                    met = (np.array(hits[0].position) - off - place) @ along
                    touched.append(float(met) + bit.above_point(radius))
        _demand(touched, f"{label}: the bit is to touch the wood, and there is none under it")
        return min(touched)

    # --- the hand drill ---------------------------------------------------------------------------------

    def _drill_from_the_edge(self, card: StepCard, label: str, row: Row) -> None:
        x, y, inward = self._on_the_edge(card, label, row)
        edge = self.touches(x + 0.05 * cos(inward), y + 0.05 * sin(inward), row.below, self.stock)
        assert row.down is not None
        at = (x, y, edge - row.down if row.below == "top" else edge + row.down)
        turned = card.line(rf"(?:Turn|At {label} turn) the drill (.*)")
        heading = inward if turned is None else self._heading(turned[1])
        axis = (cos(heading), sin(heading), 0.0)
        bit = self._bit(card)
        _demand(card.line(r"on its side"), "it does not say how the body is held")
        zero = self._hand_zero(card, label, at, axis, bit, "edge")
        assert card.stop is not None
        self._drill_by_hand(at, axis, zero + card.stop, bit, 100.0)
        self.widest[label] = max(self.widest.get(label, 0.0), bit.diameter)

    def _drill_in_a_wall(self, card: StepCard, label: str, row: Row) -> None:
        """A hole that begins on the neck wall of an open cavity, by a block of a slope, with the cavity's open face up."""
        x, y = self.place(row)
        face = self.touches(x - 20.0, y, row.below, self.stock)
        assert row.down is not None
        at = (x, y, face - row.down if row.below == "top" else face + row.down)
        block = card.line(
            r"Angle block: (\d+(?:\.\d+)?)° from the (top|back)\..* straight to the neck and down"
        )
        reach = card.line(r"([\d.]+) (mm|in)(?: \(\d+ mm\))? of bit must stand out")
        if block is None or reach is None:
            raise CannotBeDoneError(
                "it does not say how the angle block is cut, or how far the bit stands out"
            )
        _demand(
            block[2] == row.below == card.face,
            "its block, its mark and the face that lies up do not go together",
        )
        slope, into = radians(float(block[1])), -1.0 if card.face == "top" else 1.0
        axis, bit = (-cos(slope), 0.0, into * sin(slope)), self._bit(card)
        touch = self._first_touch(label, at, axis, replace(bit, point=0.0, diameter=0.01), start=-3.0)
        _demand(abs(touch) < 0.1, f"{label}'s point is to be set on the wall, which lies {touch:.2f} mm on")
        zero = self._hand_zero(card, label, at, axis, bit, "wall")
        assert card.stop is not None
        self._drill_by_hand(at, axis, zero + card.stop, bit, length_in(f"{reach[1]} {reach[2]}"))

    def _hand_zero(
        self, card: StepCard, label: str, at: Vector, axis: Vector, bit: DrillBit, surface: str
    ) -> float:
        """How far along its axis from the mark the surface is that a tape or a stop counts from, mm."""
        words = " ".join((card.stop_words, *card.do))
        if not card.taped:
            return self._first_touch(label, at, axis, bit)
        if re.search(r"tape is level with the (?:floor of the )?counterbore", words):
            u, v = _square_to(axis)
            place, along = np.array(at), np.array(axis)
            floor = []
            for turn in np.linspace(0, 2 * pi, 8, endpoint=False):
                off = 0.45 * bit.diameter * (cos(turn) * u + sin(turn) * v)
                hits = self.wood.ray_cast(tuple(place - 60 * along + off), tuple(place + FAR * along + off))
                floor += [float((np.array(hit.position) - place) @ along) for hit in hits[:1]]
            _demand(
                len(floor) == 8, f"{label}: there is no counterbore's floor for the tape to be level with"
            )
            return float(np.median(floor))
        _demand(
            f"tape is level with the {surface}" in words,
            f"{label}: it does not say what the tape is level with",
        )
        return 0.0

    def _on_the_edge(self, card: StepCard, label: str, row: Row) -> tuple[float, float, float]:
        """A mark on the body's edge, by a rule from a place that can be touched; and which way is square inwards."""
        said = card.line(rf"Mark {label} with the awl, (right at|.*? straight from) (.*?)(?:,|;)")
        if said is None:
            raise CannotBeDoneError(f"it does not say where {label} is marked")
        marked = self._landmark(said[2])
        chord = 0.0 if said[1] == "right at" else length_in(said[1])
        edge = shapely.Polygon(self.timber.outline).exterior
        told = shapely.Point(self.place(row))
        if chord:
            circle = shapely.Point(marked).buffer(chord, quad_segs=720).exterior
            met = shapely.get_coordinates(edge.intersection(circle))
            _demand(len(met), f"no place on the edge lies {chord:.1f} mm from the mark for {label}")
            x, y = min(met, key=lambda place: told.distance(shapely.Point(place)))
        else:
            x, y = marked
        apart = told.distance(shapely.Point(x, y))
        _demand(apart < 0.2, f"rule and table put {label} {apart:.2f} mm apart")
        run = edge.project(shapely.Point(x, y))
        before, after = (edge.interpolate((run + step) % edge.length) for step in (-2.0, 2.0))
        along = atan2(after.y - before.y, after.x - before.x)
        inward = along + (pi / 2 if shapely.LinearRing(edge.coords).is_ccw else -pi / 2)
        return float(x), float(y), inward

    def _landmark(self, name: str) -> tuple[float, float]:
        """A place on the body's edge that anyone can find."""
        edge = shapely.Polygon(self.timber.outline).exterior
        if "centreline meets the tail" in name:
            crossed = edge.intersection(shapely.LineString([(-1e4, 0.0), (1e4, 0.0)]))
            tail: Floats = shapely.get_coordinates(crossed)
            return float(tail[:, 0].max()), 0.0
        corner = re.search(r"neck pocket's corner on the (treble|bass) side", name)
        if corner is None:
            raise CannotBeDoneError(f"nobody can find {name!r}")
        side = self.treble if corner[1] == "treble" else -self.treble
        walls = shapely.Polygon(self.timber.templates["top", "neck pocket"][0]).exterior
        near = edge.intersection(walls.buffer(0.01))
        met = [place for place in shapely.get_coordinates(near).tolist() if place[1] * side > 0]
        _demand(met, f"nobody can find {name!r}")
        x, y = max(met, key=lambda place: float(place[1] * side))
        return x, y

    def _drill_a_tunnel(self, card: StepCard) -> None:
        label = next(name.removesuffix(" in") for name in card.rows if name.endswith(" in"))
        start, end = card.rows[f"{label} in"], card.rows[f"{label} out"]
        x, y = self.place(start)
        out_x, out_y = self.place(end)
        heading = atan2(out_y - y, out_x - x)
        into = -1.0 if card.face == "top" else 1.0
        block = card.line(
            r"Angle block for .*?: (?:(\d+(?:\.\d+)?)° from the|level with the) \w+.*?,(?: (down|up) along)?"
        )
        if block is None:
            raise CannotBeDoneError("it does not say how the angle block is cut")
        slope = radians(float(block[1] or 0)) * (-1 if block[2] == "up" else 1)
        axis = (cos(slope) * cos(heading), cos(slope) * sin(heading), into * sin(slope))
        if start.down is None:
            at = (x, y, self.touches(x, y, card.face))
            _demand(np.isfinite(at[2]), f"there is no wood where {label} goes in")
        else:
            at = (x, y, self._below(x, y, start))
        self._drill_from_a_mark(card, label, at, axis, card.face if start.down is None else "wall")

    def _below(self, x: float, y: float, row: Row) -> float:
        """Height of a mark that a row puts so far below a face."""
        assert row.down is not None
        face = self.touches(x, y, row.below, self.stock)
        return face - row.down if row.below == "top" else face + row.down

    def _drill_from_a_mark(self, card: StepCard, label: str, at: Vector, axis: Vector, surface: str) -> None:
        """Drill with a long bit whose point is set in the wood at a mark."""
        bit = self._bit(card)
        reach = card.line(r"([\d.]+) (mm|in)(?: \(\d+ mm\))? of (?:the )?bit must stand out")
        if reach is None:
            raise CannotBeDoneError("it does not say how much of the bit must stand out of the chuck")
        assert card.stop is not None
        if tape := card.line(r"Tape the bit (.*?) from its point"):
            travel = length_in(tape[1])
            _demand(
                abs(card.stop - travel) < 0.06,
                f"its box says {card.stop:.2f} mm and its line {travel:.2f} mm",
            )
        stands_out = length_in(f"{reach[1]} {reach[2]}")
        # The wood must begin at the mark: the bit's point is set in it there.
        touch = self._first_touch(label, at, axis, replace(bit, point=0.0, diameter=0.01), start=-3.0)
        _demand(abs(touch) < 0.2, f"{label}'s point is to be set in the wood, which lies {touch:.2f} mm on")
        self._hand_zero(card, label, at, axis, bit, surface)
        self._drill_by_hand(at, axis, card.stop, bit, stands_out)

    def _drill_by_hand(self, at: Vector, axis: Vector, tip: float, bit: DrillBit, stands_out: float) -> None:
        """Drill until the point is so far from the mark, with so much of the bit out of its chuck."""
        swept = _drilled(at, axis, tip, bit, stands_out - tip)
        behind = np.array(at) - (stands_out - tip) * np.array(axis)
        u, v = _square_to(axis)
        chuck = Manifold.cylinder(60.0, CHUCK, CHUCK, SIDES).transform(
            np.column_stack([u, v, np.array(axis), behind - 60 * np.array(axis)])
        )
        met = (chuck ^ self.wood).volume()
        _demand(met < 1.0, f"the drill's chuck meets the body before the hole is deep enough ({met:.0f} mm³)")
        if self.neck:
            in_the_way = self._neck_itself()
            for tool in (swept, chuck):
                _demand(
                    (tool ^ in_the_way).volume() < 1.0, f"the drill must pass where the neck is {self.neck}"
                )
        self.wood -= swept

    def _neck_itself(self) -> Manifold:
        """The neck in its pocket: the heel that fills it, stands proud of it and goes on to the nut.

        One that runs through the body is a board that stands on it, and its blank before it.
        """
        if self.core is not None:
            assert self.end_wall is not None
            edge = shapely.Polygon(self.timber.outline).exterior
            first = edge.intersection(shapely.LineString([(-1e4, 0.0), (1e4, 0.0)])).bounds[0]
            sides = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
            board, blank = (
                sides * (long / 2, self.core) + (long / 2, 0.0) for long in (self.end_wall, first - 0.2)
            )
            return _prism([board], 0.2, 12.0) + _prism([blank], -self.timber.thickness, 12.0)
        outline = self.timber.templates["top", "neck pocket"][0]
        across = float(np.abs(outline[:, 1]).max())
        neck = shapely.union(
            shapely.Polygon(outline).buffer(-0.2), shapely.box(0, -across, outline[:, 0].min() + 1, across)
        )
        middle = outline.mean(axis=0)
        floor = self.touches(float(middle[0]), float(middle[1]), "top")
        return _prism([np.array(neck.exterior.coords)[:-1]], floor + 0.2, 12.0)


# --- solids -------------------------------------------------------------------------------------------------


def _demand(holds: object, why: str) -> None:
    if not holds:
        raise CannotBeDoneError(why)


def _shapes(card: StepCard) -> bool:
    """Whether a card gives the body's faces their shape: an arch, a bevel, a rounding, a step."""
    return card.machine in {"carving", "router"} and card.depth is None


def _square_to(axis: Vector) -> tuple[Floats, Floats]:
    """Two directions square to an axis and to each other."""
    along = np.array(axis)
    u = np.cross(along, (1.0, 0.0, 0.0) if abs(along[0]) < 0.9 else (0.0, 1.0, 0.0))
    u /= np.linalg.norm(u)
    return u, np.cross(along, u)


def _drilled(at: Vector, axis: Vector, tip: float, bit: DrillBit, back: float = FAR) -> Manifold:
    """What a bit takes out that comes from behind a mark until its point is so far beyond it."""
    length = tip + back
    _demand(length > bit.point, "the bit is shorter than its own point")
    profile = [(0.0, 0.0), (bit.point_width / 2, bit.point), (bit.diameter / 2, bit.point)]
    profile += [(bit.diameter / 2, length), (0.0, length)]
    u, v = _square_to(axis)
    backwards, point = -np.array(axis), np.array(at) + tip * np.array(axis)
    whole = CrossSection([profile], FillRule.NonZero).revolve(SIDES)
    return whole.transform(np.column_stack([u, -v, backwards, point]))


def _prism(outlines: Sequence[Floats], low: float, high: float) -> Manifold:
    flat = CrossSection(list(outlines[:1]), FillRule.NonZero)
    for island in outlines[1:]:
        flat -= CrossSection([island], FillRule.NonZero)
    return flat.extrude(high - low).translate((0.0, 0.0, low))


def upright_blank(outline: Floats, thickness: float, height: float = 0.0) -> Manifold:
    """An outline sawn out of a blank: its back so far below the top, and wood to spare above it."""
    return _prism([outline], -thickness, height)


def solid_from_stl(written: bytes) -> Manifold:
    """The solid of a binary STL file; corners within a few ten thousandths of a millimetre are one."""
    count = int.from_bytes(written[80:84], "little")
    facet = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")])
    corners = np.frombuffer(written[84:], facet, count)["corners"].astype(np.float64)
    places, numbers = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    triangles = numbers.reshape(-1, 3)
    distinct = (
        (triangles[:, 0] != triangles[:, 1])
        & (triangles[:, 1] != triangles[:, 2])
        & (triangles[:, 2] != triangles[:, 0])
    )
    solid = Manifold(Mesh64(places, np.ascontiguousarray(triangles[distinct].astype(np.uint64))))
    assert not solid.is_empty(), solid.status()
    return solid


# --- how far two bodies differ ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Difference:
    """A place where two bodies differ.

    Attributes:
        at: the place, mm.
        mm: how far the other body's surface is from it.
        more: whether the made body has wood there that the planned one has not.
    """

    at: Vector
    mm: float
    more: bool


def differences(made: Manifold, planned: Manifold, within: float) -> list[Difference]:
    """Where one body's surface is farther than a tolerance from the other's, the farthest first.

    The places looked at are the corners of both bodies: the rims, the floors' corners and the points of every hole.
    """
    found = []
    for body, other in ((made, planned), (planned, made)):
        places = np.unique(body.to_mesh64().vert_properties[:, :3].round(3), axis=0)
        far = _Surface(other).distances(places, within)
        for place, mm in zip(places[far > within].tolist(), far[far > within].tolist(), strict=True):
            found.append(Difference(tuple(place), mm, more=_holds(other, place) != (body is made)))
    return sorted(found, key=lambda each: -each.mm)


def _holds(body: Manifold, place: Sequence[float]) -> bool:
    """Whether a place lies inside a body: a line from it to the outside meets its surface an odd number of times."""
    x, y, z = place
    return len(body.ray_cast((x, y, z), (x + 1.7, y + 2.3, z + 2 * FAR))) % 2 == 1


class _Surface:
    """A body's triangles, to find how far places are from them."""

    def __init__(self, solid: Manifold) -> None:
        mesh = solid.to_mesh64()
        self.corners: Floats = mesh.vert_properties[:, :3][mesh.tri_verts]
        self.low, self.high = self.corners.min(axis=1), self.corners.max(axis=1)
        self.tree = shapely.STRtree(shapely.box(*self.low[:, :2].T, *self.high[:, :2].T))

    def distances(self, places: Floats, within: float) -> Floats:
        """Distance of each place, mm; of those farther than the tolerance, as far as it takes to tell or 13 mm."""
        far = self._nearest(places, within)
        reach = within
        while reach < 10 and (beyond := far > reach).any():
            reach *= 2
            far[beyond] = self._nearest(places[beyond], reach)
        return far

    def _nearest(self, places: Floats, reach: float) -> Floats:
        which, triangle = self.tree.query(shapely.box(*(places[:, :2] - reach).T, *(places[:, :2] + reach).T))
        heights = places[which, 2]
        near = (self.low[triangle, 2] - reach <= heights) & (self.high[triangle, 2] + reach >= heights)
        which, triangle = which[near], triangle[near]
        nearest = np.full(len(places), reach * 1.0001)
        np.minimum.at(nearest, which, _to_triangles(places[which], self.corners[triangle]))
        return nearest


def _to_triangles(places: Floats, corners: Floats) -> Floats:
    """Distance of each place from the triangle in the same row."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    normal = np.cross(b - a, c - a)
    size = np.linalg.norm(normal, axis=1)
    normal /= np.maximum(size, 1e-12)[:, None]
    inside = size > 1e-12
    nearest = np.full(len(places), np.inf)
    for start, end in ((a, b), (b, c), (c, a)):
        run = end - start
        share = np.einsum("ij,ij->i", places - start, run) / np.maximum(
            np.einsum("ij,ij->i", run, run), 1e-18
        )
        foot = start + np.clip(share, 0, 1)[:, None] * run
        nearest = np.minimum(nearest, np.linalg.norm(places - foot, axis=1))
        inside &= np.einsum("ij,ij->i", np.cross(run, places - start), normal) >= 0
    upright = np.abs(np.einsum("ij,ij->i", places - a, normal))
    return np.where(inside, np.minimum(upright, nearest), nearest)
