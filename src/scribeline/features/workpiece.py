"""A workpiece beside the body: the neck, with its outline, its faces, its timber and what is cut in it."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos

from scribeline.features.cuts import Bore
from scribeline.features.making import Features
from scribeline.features.neck_inserts import heel_inserts
from scribeline.features.neck_screws import heel_pilots, neck_timber
from scribeline.features.passing import floor_z
from scribeline.features.rings import rounded
from scribeline.job import Document
from scribeline.layout import NECK_POCKET, Layout, Part, Point, Ring
from scribeline.tables import Timber


@dataclass(frozen=True, slots=True)
class Workpiece:
    """A piece of wood that is worked, in the instrument frame, as it lies when the instrument is together.

    Attributes:
        name: what it is.
        outline: seen from the front, mm; of the neck its heel, as far as the neck pocket goes.
        low: height of its lower face, mm: the heel's underside, at its end.
        high: height of its upper face, mm: the fingerboard's glue line, at the heel's end.
        timber: what it is of.
        features: what is cut in it.
        rise: how far both faces rise for each mm towards the tail, mm; of a neck that leans back.
        end: where along the instrument its end is, mm.
    """

    name: Part
    outline: Ring
    low: float
    high: float
    timber: Timber
    features: Features
    rise: float = 0.0
    end: float = 0.0

    def beyond(self, bore: Bore) -> float:
        """Wood from the end of an upright bore's point to the face it runs towards, mm; negative once it is through."""
        place = bore.along(bore.deepest.point_reaches)
        end = place.z - self.rise * (place.x - self.end)
        return self.high - end if bore.axis.z > 0 else end - self.low


def neck_piece(document: Document, layout: Layout, body: Features) -> Workpiece:
    """The neck with the pilots of its screws, or the holes of its inserts.

    Args:
        document: states the heel.
        layout: has the end wall against which the heel is seated.
        body: its cuts, those that are made as they were made: the pilots go on from its clearance holes.
    """
    neck = document.neck
    if neck.runs_through:
        core = layout.body.core
        assert core is not None
        return Workpiece(
            "neck", core, -layout.thickness, neck.board_over_body.mm, neck.wood, Features((), ())
        )
    pocket = next(pocket for pocket in body.pockets if pocket.role == NECK_POCKET)
    low, slope = floor_z(layout, pocket), pocket.slope
    thick = neck.heel_thickness.mm - neck.board_thickness.mm
    high = low + (thick if slope is None else thick / cos(slope.angle))
    made = heel_pilots if document.neck_inserts is None else heel_inserts
    pilots = tuple(made(document, layout, body.family("neck-screw"), pocket))
    return Workpiece(
        "neck",
        heel_outline(document, layout),
        low,
        high,
        neck_timber(document),
        Features(pilots, ()),
        0.0 if slope is None else slope.rise,
        0.0 if slope is None else slope.at,
    )


def heel_outline(document: Document, layout: Layout) -> Ring:
    """The heel's bare wood, or its tenon's, seen from the front, from its end to where the pocket opens, mm.

    Its corners are as round as the pocket's, into which it must go.
    """
    neck, end = document.neck, layout.pocket_end
    mouth = end - neck.pocket_length
    at_end, at_mouth = (width.mm / 2 for width in neck.in_pocket)
    sharp = Ring((Point(mouth, -at_mouth), Point(end, -at_end), Point(end, at_end), Point(mouth, at_mouth)))
    return rounded(sharp, neck.corner_radius, open_towards_nut=True)
