"""A workpiece beside the body: the neck, with its outline, its faces, its timber and what is cut in it."""

from __future__ import annotations

from dataclasses import dataclass

from scribeline.features.cuts import Bore
from scribeline.features.making import Features
from scribeline.features.neck_screws import HEEL_TIMBER, heel_pilots
from scribeline.features.passing import floor_z
from scribeline.features.rings import rounded
from scribeline.job import Document
from scribeline.layout import NECK_POCKET, Layout, Part, Point, Ring
from scribeline.tables import Timber, timber


@dataclass(frozen=True, slots=True)
class Workpiece:
    """A piece of wood that is worked, in the instrument frame, as it lies when the instrument is together.

    Attributes:
        name: what it is.
        outline: seen from the front, mm; of the neck its heel, as far as the neck pocket goes.
        low: height of its lower face, mm: the heel's underside.
        high: height of its upper face, mm: the fingerboard's glue line.
        timber: what it is of.
        features: what is cut in it.
    """

    name: Part
    outline: Ring
    low: float
    high: float
    timber: Timber
    features: Features

    def beyond(self, bore: Bore) -> float:
        """Wood from the end of an upright bore's point to the face it runs towards, mm; negative once it is through."""
        end = bore.along(bore.deepest.point_reaches).z
        return self.high - end if bore.axis.z > 0 else end - self.low


def neck_piece(document: Document, layout: Layout, body: Features) -> Workpiece:
    """The neck with the pilots of its screws.

    Args:
        document: states the heel.
        layout: has the end wall against which the heel is seated.
        body: its cuts, those that are made as they were made: the pilots go on from its clearance holes.
    """
    neck = document.neck
    low = floor_z(layout, next(pocket for pocket in body.pockets if pocket.role == NECK_POCKET))
    high = low + neck.heel_thickness.mm - neck.board_thickness.mm
    pilots = tuple(heel_pilots(document, body.family("neck-screw"), low))
    return Workpiece(
        "neck",
        heel_outline(document, layout),
        low,
        high,
        neck.timber or timber(HEEL_TIMBER),
        Features(pilots, ()),
    )


def heel_outline(document: Document, layout: Layout) -> Ring:
    """The heel's bare wood seen from the front, from its end to where the pocket opens, mm.

    Its corners are as round as the pocket's, into which it must go.
    """
    neck, end = document.neck, layout.pocket_end
    mouth = end - neck.pocket_length
    at_end, at_mouth = neck.heel_width_at_end.mm / 2, neck.heel_width_at_mouth.mm / 2
    sharp = Ring((Point(mouth, -at_mouth), Point(end, -at_end), Point(end, at_end), Point(mouth, at_mouth)))
    return rounded(sharp, neck.corner_radius, open_towards_nut=True)
