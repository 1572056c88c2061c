"""The nut where it is made here: its blank, and where, how wide, how deep and at what slope each slot is cut.

The front of a slot's floor is what bears its string: the frets' crowns and the string's height over them above the board, which
lies lower beside the middle by its arch. The nut stands on its seat; everything upright counts from its underside. Behind its
front the floor falls towards the head, at half the angle by which the string breaks down over the nut (common practice, no
source), so that the string leaves it at the front. On a fan the nut lies along a line that runs aslant: its length and the slots'
places along it are longer by 1/cos of that angle, and a slot runs on along its string all the same.

A nut behind a zero fret only guides: its floors lie a little below that fret's crown.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scribeline.job import Document
from scribeline.job.stringing import string_spec
from scribeline.layout.fan import fret_lines, nut_halves, strings_across
from scribeline.layout.heights import actions_over_frets, crowns_sunk
from scribeline.layout.instrument import Layout
from scribeline.layout.points import Point
from scribeline.quantities import atan2, cos, greatest, tan

NUT_SPARE = 1.0
"""What a blank stands over the highest slot's finished top, to be filed away, mm (common practice, no source)."""

FLOOR_LEFT = 0.1
"""What a slot's floor may still stand over its planned height, mm: left for the last strokes at pitch (common practice, no
source)."""


@dataclass(frozen=True, slots=True)
class NutSlot:
    """One string's slot.

    Attributes:
        string: its number.
        along: its middle along the nut's front, from the bass end, mm.
        width: mm.
        over_board: its floor at the front over the fingerboard there, mm: what a stack of feelers measures.
        floor: the same over the nut's underside, mm.
        from_blank: the same below the blank's flat top, mm.
        from_top: the same below the finished top, mm.
        back: its floor at the nut's back over the underside, mm; None where the slope is not known.
        slope: how far its floor falls towards the head, rad; None where the job states no head.
        front: where the string leaves it, seen from the front of the neck, along the neck and across, mm.
        behind: where it passes the nut's back.
        over_first: the open string over the first fret's crown, mm; None where the strings cannot be worked out.
    """

    string: int
    along: float
    width: float
    over_board: float
    floor: float
    from_blank: float
    from_top: float
    back: float | None
    slope: float | None
    front: Point
    behind: Point
    over_first: float | None


@dataclass(frozen=True, slots=True)
class NutMade:
    """A nut that is made here.

    Attributes:
        slots: one a string, treble first.
        turn: how far its front leans, rad: positive takes the treble end towards the tail; 0 but on a fan.
        length: along its front, from edge to edge of the board, mm.
        thickness: square to its front, mm.
        blank_thickness: of what it is cut from, mm; more where a slot's front stands before the nut's line.
        height: of its blank, over its underside, mm.
        needs: height that the strings ask of the blank, mm.
        stated_length: of the blank, as stated; None where it is worked out.
        seat: its underside below the board's face in the middle, mm.
        front: its front's ends, treble first, along the neck and across, mm.
        behind: its back's ends, treble first, likewise.
        walls: wood between neighbouring slots, square to the strings, mm, from the treble.
        edges: wood outside the first slot and the last, square to the strings, mm.
    """

    slots: tuple[NutSlot, ...]
    turn: float
    length: float
    thickness: float
    blank_thickness: float
    height: float
    needs: float
    stated_length: float | None
    seat: float
    front: tuple[Point, Point]
    behind: tuple[Point, Point]
    walls: tuple[float, ...]
    edges: tuple[float, float]

    @property
    def blank_length(self) -> float:
        """What the blank must measure along the front to give both mitred ends, mm."""
        return mitred_length(self.length, self.blank_thickness, self.turn)


def slot_width(gauge: float, clearance: float) -> float:
    """Width of a string's slot, mm."""
    return gauge + clearance


def along_front(bass: float, across: float, turn: float) -> float:
    """A place along the nut's front from its bass end, mm.

    Args:
        bass: that end from the centreline, mm.
        across: the place from the centreline to the treble, mm.
        turn: how far the nut's front leans, rad.
    """
    along: float = (bass + across) / cos(turn)
    return along


def mitred_length(length: float, thickness: float, turn: float) -> float:
    """Length of the blank whose ends are mitred to run along the neck, mm."""
    mitred: float = length + thickness * abs(tan(turn))
    return mitred


def floor_over_board(crown: float, over: float, below: float) -> float:
    """A slot's floor at the front over the board there, mm.

    Args:
        crown: the frets' height, mm.
        over: the string over the frets at the nut, mm.
        below: what a guide behind a zero fret lies under that fret's crown, mm; 0 of a nut that bears the strings.
    """
    return crown + over - below


def floor_over_seat(seat: float, over_board: float, sunk: float) -> float:
    """The same over the nut's underside, mm.

    Args:
        seat: the underside below the board's face in the middle, mm.
        over_board: the floor over the board, mm.
        sunk: by how much the board's face lies lower at the string than in the middle, mm.
    """
    return seat + over_board - sunk


def below_top(gauge: float, proud: float) -> float:
    """How deep a slot is below the finished top, mm: the share of its string that lies in it."""
    return gauge * (1 - proud)


def top_over_seat(floor: float, deep: float) -> float:
    """The finished top at a slot over the nut's underside, mm."""
    return floor + deep


def blank_height(needs: float) -> float:
    """Height of a blank that has something left to file away, mm."""
    return needs + NUT_SPARE


def below_blank(height: float, floor: float) -> float:
    """How deep a slot is below the blank's flat top, mm."""
    return height - floor


def back_floor(floor: float, thickness: float, turn: float, moved: float, slope: float) -> float:
    """A slot's floor at the nut's back over its underside, mm: along the string the nut is thicker by 1/cos of its turn.

    Args:
        floor: at the slot's front, mm.
        thickness: of the nut, square to its front, mm.
        turn: how far that leans, rad.
        moved: how far the slot's front stands before it, along the string, mm.
        slope: how far the floor falls, rad.
    """
    back: float = floor - (thickness / cos(turn) + moved) * tan(slope)
    return back


def blank_thickness(thickness: float, moved: float, turn: float) -> float:
    """Thickness of a blank out of which the foremost slot's front is left standing, mm."""
    thick: float = thickness + greatest(0.0, moved) * cos(turn)
    return thick


def half_the_break(breaks: float) -> float:
    """How far a slot's floor falls towards the head, rad."""
    return breaks / 2


def wall(across: float, width: float, after: float, width_after: float) -> float:
    """Wood between two slots by their middles from the centreline to the treble, the treble one's first, and their widths, mm."""
    return across - after - (width + width_after) / 2


def outside(half: float, off: float, width: float) -> float:
    """Wood between an end of the nut and a slot's side, by that end's and the slot's distance from the centreline, mm."""
    return half - off - width / 2


def clearance_of(document: Document, string: int) -> float:
    """How much wider than its string a slot is, mm, by what the string is."""
    spec = string_spec(document.strings[string - 1])
    return document.nut.over_plain if spec.construction == "plain" else document.nut.over_wound


def seat_of(document: Document) -> float:
    """The nut's underside below the board's face in the middle, mm: where it stands on the neck, the board's thickness."""
    seat = document.nut.seat
    return document.neck.board_thickness.mm if seat is None else seat


def guided(document: Document) -> float:
    """What the slots of a guide lie under the zero fret's crown, mm; 0 of a nut that bears the strings."""
    return document.nut.below_zero_fret if document.nut.zero_fret else 0.0


def on_the_guide(nut: float, row: float, scale: float, behind: float, slope: float) -> float:
    """A string where it crosses the front of a guide behind its zero fret, from the centreline to the treble, mm.

    Args:
        nut: the string on the zero fret, from the centreline to the treble, mm.
        row: the same on the scale line.
        scale: its scale, mm.
        behind: the guide's front behind the zero fret's middle, along the neck, mm; 0 of a nut that bears the strings.
        slope: by how much both lie further towards the tail for each mm to the treble.
    """
    aside = (row - nut) / scale
    return nut - aside * behind / (1 - slope * aside)


def behind_of(document: Document) -> float:
    """The nut's front behind the line that the strings start from, along the neck, mm: 0 without a zero fret."""
    return document.nut.behind_zero_fret if document.nut.zero_fret else 0.0


@dataclass(frozen=True, slots=True)
class _Paths:
    """The strings as they cross the nut: along the neck from where the centreline crosses its line, and to the treble."""

    slope: float
    nut: tuple[tuple[float, float], ...]
    aside: tuple[float, ...]

    @classmethod
    def of(cls, document: Document) -> _Paths:
        lines, (across, row) = fret_lines(document), strings_across(document)
        aside = (row - across) / lines.scale
        places = zip(lines.nut.tolist(), across.tolist(), strict=True)
        return cls(float(lines.slope[0]), tuple(places), tuple(aside.tolist()))

    def at(self, string: int, further: float) -> tuple[float, float]:
        """A string so far along the neck from its own place on the nut's line."""
        along, across = self.nut[string - 1]
        return along + further, across + self.aside[string - 1] * further

    def on_line(self, string: int, behind: float) -> tuple[float, float]:
        """A string where it crosses a line that runs with the nut's, so far behind it along the neck."""
        return self.at(string, -behind / (1 - self.slope * self.aside[string - 1]))

    def end(self, across: float, behind: float) -> tuple[float, float]:
        """Such a line so far from the centreline to the treble."""
        return self.slope * across - behind, across


def nut_made(document: Document, layout: Layout) -> NutMade | None:
    """How the job's nut is made; None where the job states no thickness for it."""
    nut = document.nut
    if nut.thickness is None:
        return None
    paths, strings = _Paths.of(document), range(1, len(document.strings) + 1)
    turn, behind = float(atan2(paths.slope, 1.0)), behind_of(document)
    back = behind + nut.thickness / cos(turn)
    fronts = [paths.on_line(no, behind) for no in strings]
    across = [each for _, each in fronts]
    treble_half, bass_half = nut_halves(document)
    gauges = [string.gauge for string in document.strings]
    widths = [
        slot_width(gauge, clearance_of(document, no)) for no, gauge in zip(strings, gauges, strict=True)
    ]
    over = floor_over_board(document.fret_wire.crown_height, nut.height_over_frets, guided(document))
    sunk = crowns_sunk(document, *(np.array(each) for each in zip(*fronts, strict=True)))
    floors = [floor_over_seat(seat_of(document), over, float(each)) for each in sunk]
    tops = [below_top(gauge, nut.proud) for gauge in gauges]
    needs = max(top_over_seat(floor, top) for floor, top in zip(floors, tops, strict=True))
    height = blank_height(needs) if nut.blank_height is None else nut.blank_height
    slopes = _slopes(layout)
    first = _over_first(document, layout)
    moved = nut.compensation or (0.0,) * len(gauges)

    def placed(at: tuple[float, float]) -> Point:
        return Point(at[0], at[1] * layout.treble)

    slots = tuple(
        NutSlot(
            string=no,
            along=along_front(bass_half, across[no - 1], turn),
            width=widths[no - 1],
            over_board=over,
            floor=floors[no - 1],
            from_blank=below_blank(height, floors[no - 1]),
            from_top=tops[no - 1],
            back=None
            if no not in slopes
            else back_floor(floors[no - 1], nut.thickness, turn, moved[no - 1], slopes[no]),
            slope=slopes.get(no),
            front=placed(paths.at(no, moved[no - 1]) if moved[no - 1] else fronts[no - 1]),
            behind=placed(paths.on_line(no, back)),
            over_first=first[no - 1],
        )
        for no in strings
    )
    return NutMade(
        slots=slots,
        turn=turn,
        length=along_front(bass_half, treble_half, turn),
        thickness=nut.thickness,
        blank_thickness=blank_thickness(nut.thickness, max(moved), turn),
        height=height,
        needs=needs,
        stated_length=nut.blank_length,
        seat=seat_of(document),
        front=(placed(paths.end(treble_half, behind)), placed(paths.end(-bass_half, behind))),
        behind=(placed(paths.end(treble_half, back)), placed(paths.end(-bass_half, back))),
        walls=tuple(
            wall(across[no - 1], widths[no - 1], across[no], widths[no]) for no in range(1, len(across))
        ),
        edges=(
            outside(treble_half, across[0], widths[0]),
            outside(bass_half, -across[-1], widths[-1]),
        ),
    )


def _slopes(layout: Layout) -> dict[int, float]:
    """How far each slot's floor falls towards the head, rad, by its string; none where no head is stated."""
    posts = () if layout.head is None else layout.head.posts
    return {post.string: half_the_break(post.breaks) for post in posts}


def _over_first(document: Document, layout: Layout) -> list[float | None]:
    """Every open string over the first fret's crown, mm."""
    if not layout.stringing.is_placed:
        return [None] * len(document.strings)
    found: list[float] = actions_over_frets(document, layout.stringing)[:, 0].tolist()
    return list(found)
