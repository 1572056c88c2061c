"""Cuts and bodies as a general CAD kernel makes them (Open CASCADE, through cadquery-ocp): a second opinion.

Built from what a cut is said to be, with nothing of the engine's own solids: true cylinders and cones, routed
outlines carried straight down, all of it trimmed to the slab the body is cut from.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from typing import Any

from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakePolygon,
    BRepBuilderAPI_MakeVertex,
    BRepBuilderAPI_MakeWire,
    BRepBuilderAPI_Transform,
)
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.BRepGProp import BRepGProp
from OCP.BRepPrimAPI import (
    BRepPrimAPI_MakeBox,
    BRepPrimAPI_MakeCone,
    BRepPrimAPI_MakeCylinder,
    BRepPrimAPI_MakePrism,
)
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.GProp import GProp_GProps

from scribeline.features import Bore, Feature, Pocket
from scribeline.layout import Point3, Ring
from scribeline.solid.step import edges

SPUR_SHARE = 0.5
"""Width of a flat-bottomed bit's spur as a share of the diameter, as the cut is described."""

FAR = 1000.0


@dataclass(frozen=True)
class Answer:
    """What the kernel finds: the distance, mm, and a place on each shape."""

    mm: float
    a: Point3
    b: Point3


def distance(one: Any, other: Any) -> Answer:
    found = BRepExtrema_DistShapeShape(one, other)
    assert found.IsDone()
    places = found.PointOnShape1(1).Coord(), found.PointOnShape2(1).Coord()
    return Answer(float(found.Value()), Point3(*places[0]), Point3(*places[1]))


def off(place: Point3, shape: Any) -> float:
    """How far a place is from a shape, mm: 0 on it and in it."""
    return distance(BRepBuilderAPI_MakeVertex(gp_Pnt(*place)).Vertex(), shape).mm


def slab(thickness: float) -> Any:
    """The board, far wider than any body."""
    return BRepPrimAPI_MakeBox(gp_Pnt(-FAR, -FAR, -thickness), gp_Pnt(FAR, FAR, 0.0)).Shape()


def profiled(corners: Any) -> Any:
    """A part that is the same all across: the profile at its one side, carried to the other.

    Args:
        corners: in order round the profile, at one side and the other in turn, (2 k, 3), mm.
    """
    outline = BRepBuilderAPI_MakePolygon()
    for corner in corners[::2]:
        outline.Add(gp_Pnt(*map(float, corner)))
    outline.Close()
    across = corners[1] - corners[0]
    face = BRepBuilderAPI_MakeFace(outline.Wire()).Face()
    return BRepPrimAPI_MakePrism(face, gp_Vec(*map(float, across))).Shape()


def cut(feature: Feature, thickness: float, *, arcs: bool = False) -> Any:
    """One cut as a solid.

    Args:
        feature: a bore from a face, or a pocket.
        thickness: of the body, mm.
        arcs: put the arcs of a pocket's outline back, instead of taking its corners as they are given.
    """
    return _pocket(feature, thickness, arcs) if isinstance(feature, Pocket) else _bore(feature, thickness)


def _pocket(pocket: Pocket, thickness: float, arcs: bool) -> Any:
    low, high = (-pocket.depth, 0.0) if pocket.face == "top" else (-thickness, pocket.depth - thickness)
    whole = prism(pocket.outline, low, high, arcs=arcs)
    if pocket.slope is not None:
        deepest = prism(pocket.outline, -max(pocket.depth_at(p.x) for p in pocket.outline), 0.0, arcs=arcs)
        whole = common(deepest, over_a_slope(pocket.slope.angle, pocket.slope.at, pocket.depth))
    return reduce(lambda left, island: less(left, prism(island, low, high, arcs=arcs)), pocket.islands, whole)


def over_a_slope(angle: float, at: float, depth: float) -> Any:
    """All above a plane that rises by an angle, rad, towards +x and lies so deep at a place: a box turned about that line."""
    turn = gp_Trsf()
    turn.SetRotation(gp_Ax1(gp_Pnt(at, 0.0, -depth), gp_Dir(0.0, -1.0, 0.0)), angle)
    box = BRepPrimAPI_MakeBox(gp_Pnt(at - FAR, -FAR, -depth), gp_Pnt(at + FAR, FAR, FAR)).Shape()
    return BRepBuilderAPI_Transform(box, turn, True).Shape()


def _bore(bore: Bore, thickness: float) -> Any:
    # A slanting cylinder begins far enough out in the air for the whole of its mouth to lie on the face.
    back = 0.0 if bore.is_upright else 4 * bore.widest / bore.angle_from_face_sine
    parts = []
    for step in bore.steps:
        radius = step.diameter / 2
        round_part = BRepPrimAPI_MakeCylinder(_placed(bore, -back), radius, step.depth + back).Shape()
        parts.append(common(round_part, _wood_side(bore.face, thickness)) if back else round_part)
        wide = radius if step.bit.kind == "twist" else SPUR_SHARE * radius
        if step.bit.point > 0:
            parts.append(BRepPrimAPI_MakeCone(_placed(bore, step.depth), wide, 0.0, step.bit.point).Shape())
    return reduce(lambda one, other: BRepAlgoAPI_Fuse(one, other).Shape(), parts)


def _wood_side(face: str, thickness: float) -> Any:
    """Everything on the wood's side of the face a bore is cut from."""
    low, high = {"top": (-FAR, 0.0), "back": (-thickness, FAR)}[face]
    return BRepPrimAPI_MakeBox(gp_Pnt(-FAR, -FAR, low), gp_Pnt(FAR, FAR, high)).Shape()


def _placed(bore: Bore, depth: float) -> Any:
    return gp_Ax2(gp_Pnt(*bore.along(depth)), gp_Dir(*bore.axis))


def prism(ring: Ring, low: float, high: float, *, arcs: bool = False) -> Any:
    face = BRepBuilderAPI_MakeFace(_wire(ring, low, arcs), True).Face()
    return BRepPrimAPI_MakePrism(face, gp_Vec(0.0, 0.0, high - low)).Shape()


def wall(ring: Ring, thickness: float) -> Any:
    """The upright surface round a body: no top, no back, nothing inside."""
    return BRepPrimAPI_MakePrism(_wire(ring, -thickness, False), gp_Vec(0.0, 0.0, thickness)).Shape()


def level(ring: Ring, z: float) -> Any:
    """A flat face of a body."""
    return BRepBuilderAPI_MakeFace(_wire(ring, z, False), True).Face()


def _wire(ring: Ring, z: float, arcs: bool) -> Any:
    if not arcs:
        corners = BRepBuilderAPI_MakePolygon()
        for place in ring:
            corners.Add(gp_Pnt(*place, z))
        corners.Close()
        return corners.Wire()
    wire = BRepBuilderAPI_MakeWire()
    for edge in edges(ring):
        start, end = gp_Pnt(*edge.start, z), gp_Pnt(*edge.end, z)
        through = edge.through and GC_MakeArcOfCircle(start, gp_Pnt(*edge.through, z), end).Value()
        wire.Add(
            (BRepBuilderAPI_MakeEdge(through) if through else BRepBuilderAPI_MakeEdge(start, end)).Edge()
        )
    return wire.Wire()


def common(one: Any, other: Any) -> Any:
    return BRepAlgoAPI_Common(one, other).Shape()


def fused(one: Any, other: Any) -> Any:
    return BRepAlgoAPI_Fuse(one, other).Shape()


def less(one: Any, other: Any) -> Any:
    return BRepAlgoAPI_Cut(one, other).Shape()


def volume(shape: Any) -> float:
    """mm³."""
    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found)
    return float(found.Mass())
