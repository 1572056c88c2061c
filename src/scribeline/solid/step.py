"""The body as STEP for CAM: true cylinders and cones, made by a general CAD kernel.

The kernel is large (391 MB) and comes with the `step` extra only; everything else works without it. Straight
runs of an outline that were arcs before they were flattened are put back as arcs, so that a pocket's corner
leaves as the cylinder that the router makes.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import hypot, pi, sqrt
from pathlib import Path
from typing import TYPE_CHECKING, Any

from scribeline.features import Feature
from scribeline.layout import BodyForm, Point, Ring
from scribeline.solid.cutters import AIR, Cutter, Prism, cutters
from scribeline.solid.faults import BodyError
from scribeline.solid.stock import bevel_regions

if TYPE_CHECKING:
    from shapely import Polygon

_BESIDE = 2.0
"""How far what is carved off is carried on beside the body, mm."""

ON_ARC = 1e-4
"""Corners this near to one circle belong to one arc, mm."""

FLAT_AS_ARC = 0.02
"""A side is part of a flattened arc only if it leaves the arc by less than this, mm; longer ones are straight."""

ARC_SPAN = 0.9 * pi
"""An arc is ended after this much of a circle, rad, so that three points always settle it."""

NO_DATE = "1980-01-01"

HOW_TO_INSTALL = (
    "STEP needs a CAD kernel of 391 MB that is not installed; install it with: pip install 'scribeline[step]'"
)


class NoKernelError(BodyError):
    """The optional CAD kernel is not installed; its text says how to get it."""


@dataclass(frozen=True, slots=True)
class Edge:
    """One side of an outline: straight, or an arc through a third point."""

    start: Point
    end: Point
    through: Point | None = None


def step_file(
    outline: Ring,
    thickness: float,
    features: Iterable[Feature],
    *,
    form: BodyForm | None = None,
    name: str = "body",
    date: str = NO_DATE,
) -> bytes:
    """The finished body as a STEP file (AP214), in mm, in the instrument frame.

    Args:
        outline: the body's edge, mm.
        thickness: mm; the top is at z = 0.
        features: bores and pockets.
        form: its layers, each of which leaves as a solid of its own, from the top down, and what its faces are carved
            to; one piece with flat faces when left out.
        name: of the product.
        date: YYYY-MM-DD for the file's header; the clock is not asked, so the same job gives the same bytes.

    Raises:
        NoKernelError: The CAD kernel is not installed.
        BodyError: The kernel could not make the body, or it has a face that is no true surface here.
    """
    if form is not None:
        _refuse_what_is_no_true_surface(form)
    ask_for_kernel()
    high = 0.0 if form is None else form.highest
    blank = kernel_solid(Prism(outline, -thickness, high))
    tools = [kernel_solid(part) for feature in features for part in cutters(feature, thickness, form)]
    carving = [] if form is None else [*_steps(form), *_bevels(form)]
    whole = less(blank, [*carving, *tools])
    return written(
        whole if form is None or len(form.layers) == 1 else _layers(whole, form), name, date, "body.step"
    )


def ask_for_kernel() -> None:
    """Raise what is to be done where the kernel is not installed; asked first, so that its lack is told as a sentence."""
    try:
        import OCP.STEPControl  # noqa: F401
    except ImportError as fault:
        raise NoKernelError(HOW_TO_INSTALL) from fault


def _refuse_what_is_no_true_surface(form: BodyForm) -> None:
    what = (
        "an arched top"
        if form.profile or form.contours
        else "a rounded edge"
        if form.round_top or form.round_back
        else ""
    )
    if what:
        message = (
            f"STEP cannot hold this body, because {what} along a free outline is made of flat facets here and STEP is for "
            "true surfaces; the STL, 3MF and GLB files hold it, or leave it out of the job for a STEP file and shape it "
            "by hand"
        )
        raise BodyError(message)


def _steps(form: BodyForm) -> Iterator[Any]:
    """The air over every level of a stepped top that lies below its highest."""
    import shapely

    left = shapely.Polygon(form.outline).buffer(_BESIDE, join_style="mitre")
    levels = []
    for area in reversed(form.areas):
        own = left.intersection(shapely.Polygon(area.outline))
        left = left.difference(own)
        levels.append((own, area.height))
    for region, height in (*levels, (left, 0.0)):
        if height < form.highest:
            for part in shapely.get_parts(region):
                if part.geom_type == "Polygon" and part.area > 0:
                    yield _kernel_region(part, height, form.highest + AIR)


def _bevels(form: BodyForm) -> Iterator[Any]:
    """The air beyond every bevel: a region of the plan, common with all that lies beyond its plane."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common

    for bevel in form.bevels:
        beyond = _beyond(bevel.at, bevel.outward)
        for region in bevel_regions(bevel, form):
            column = _kernel_region(region, -form.thickness - AIR, form.highest + AIR)
            yield BRepAlgoAPI_Common(column, beyond).Shape()


def _beyond(at: Sequence[float], outward: Sequence[float]) -> Any:
    """All that lies beyond a plane, as far as any body reaches."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.gp import gp_Dir, gp_Pln, gp_Pnt, gp_Vec

    reach = 2000.0
    plane = gp_Pln(gp_Pnt(*at), gp_Dir(*outward))
    face = BRepBuilderAPI_MakeFace(plane, -reach, reach, -reach, reach).Face()
    return BRepPrimAPI_MakePrism(face, gp_Vec(*outward).Multiplied(reach)).Shape()


def _kernel_region(region: Polygon, low: float, high: float) -> Any:
    """A region of the plan between two heights, less its holes."""
    outer, *holes = (
        kernel_solid(Prism(Ring(Point(x, y) for x, y in ring.coords[:-1]), low, high))
        for ring in (region.exterior, *region.interiors)
    )
    return less(outer, holes)


def _layers(whole: Any, form: BodyForm) -> Any:
    """Each layer a solid of its own, in one compound."""
    from OCP.BRep import BRep_Builder
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
    from OCP.TopoDS import TopoDS_Compound

    compound, builder = TopoDS_Compound(), BRep_Builder()
    builder.MakeCompound(compound)
    around = Ring(Point(x, y) for x, y in _box_round(form.outline))
    for layer in form.layers:
        low, high = max(layer.low, -form.thickness - AIR), min(layer.high, form.highest + AIR)
        if layer.low <= -form.thickness:
            low = -form.thickness - AIR
        ring = around if layer.core is None or layer.beside else layer.core
        part = BRepAlgoAPI_Common(whole, kernel_solid(Prism(ring, low, high))).Shape()
        if layer.core is not None and layer.beside:
            part = less(part, [kernel_solid(Prism(layer.core, low - AIR, high + AIR))])
        builder.Add(compound, part)
    return compound


def _box_round(outline: Ring) -> list[tuple[float, float]]:
    xs, ys = [p.x for p in outline], [p.y for p in outline]
    low, high = (min(xs) - AIR, min(ys) - AIR), (max(xs) + AIR, max(ys) + AIR)
    return [low, (high[0], low[1]), high, (low[0], high[1])]


def edges(ring: Ring) -> tuple[Edge, ...]:
    """An outline's sides, with flattened arcs put back as arcs through the same corners."""
    count = len(ring)
    sides = [hypot(ring[i].x - ring[i - 1].x, ring[i].y - ring[i - 1].y) for i in range(count)]
    first = max(
        range(count), key=sides.__getitem__
    )  # begins after the longest side, which is no part of an arc
    points = [ring[(first + i) % count] for i in range(count + 1)]
    return tuple(_pieces(points))


def _pieces(points: list[Point]) -> Iterator[Edge]:
    at = 0
    while at < len(points) - 1:
        to = _arc_end(points, at)
        if to is None:
            yield Edge(points[at], points[at + 1])
            at += 1
        else:
            yield Edge(points[at], points[to], points[(at + to) // 2])
            at = to


def _arc_end(points: list[Point], at: int) -> int | None:
    """The last corner of the arc that begins here, or None when at least three sides do not make one."""
    circle = _circle(*points[at : at + 3]) if at + 3 < len(points) else None
    if circle is None:
        return None
    centre, radius, turn = circle
    span, to = 0.0, at
    while to + 1 < len(points):
        a, b = points[to], points[to + 1]
        side = hypot(b.x - a.x, b.y - a.y)
        off = abs(hypot(b.x - centre.x, b.y - centre.y) - radius)
        way = (a.x - centre.x) * (b.y - centre.y) - (a.y - centre.y) * (b.x - centre.x)
        if off > ON_ARC or side >= 2 * radius or way * turn <= 0:
            break
        sagitta = radius - sqrt(radius**2 - side**2 / 4)
        span += side / radius
        if sagitta > FLAT_AS_ARC or span > ARC_SPAN:
            break
        to += 1
    return to if to - at >= 3 else None


def _circle(a: Point, b: Point, c: Point) -> tuple[Point, float, float] | None:
    """Centre, radius and sense (over 0 when counter-clockwise) of the circle through three corners."""
    bx, by, cx, cy = b.x - a.x, b.y - a.y, c.x - a.x, c.y - a.y
    twice = 2 * (bx * cy - by * cx)
    if abs(twice) < 1e-9:
        return None
    b2, c2 = bx * bx + by * by, cx * cx + cy * cy
    ux, uy = (cy * b2 - by * c2) / twice, (bx * c2 - cx * b2) / twice
    return Point(a.x + ux, a.y + uy), hypot(ux, uy), twice


def kernel_solid(part: Cutter) -> Any:
    """What a cutter sweeps, as the kernel has it."""
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCone, BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakePrism
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt, gp_Vec

    if isinstance(part, Prism):
        whole = BRepPrimAPI_MakePrism(
            _face(part.outline, part.low, part.islands), gp_Vec(0.0, 0.0, part.high - part.low)
        ).Shape()
        if not part.rise:
            return whole
        from OCP.BRepAlgoAPI import BRepAlgoAPI_Common

        up = 1 / hypot(1.0, part.rise)
        over = _beyond((part.foot, 0.0, part.low), (-part.rise * up, 0.0, up))
        return BRepAlgoAPI_Common(whole, over).Shape()
    placed = gp_Ax2(gp_Pnt(*part.start), gp_Dir(*part.axis))
    if part.radius == part.end_radius:
        return BRepPrimAPI_MakeCylinder(placed, part.radius, part.length).Shape()
    return BRepPrimAPI_MakeCone(placed, part.radius, part.end_radius, part.length).Shape()


def _face(ring: Ring, z: float, islands: tuple[Ring, ...] = ()) -> Any:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
    from OCP.TopoDS import TopoDS

    face = BRepBuilderAPI_MakeFace(_wire(ring, z), True)
    for island in islands:
        face.Add(TopoDS.Wire_s(_wire(island, z).Reversed()))
    return face.Face()


def _wire(ring: Ring, z: float) -> Any:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeWire
    from OCP.GC import GC_MakeArcOfCircle
    from OCP.gp import gp_Pnt

    wire = BRepBuilderAPI_MakeWire()
    for edge in edges(ring):
        start, end = gp_Pnt(*edge.start, z), gp_Pnt(*edge.end, z)
        if edge.through is None:
            made = BRepBuilderAPI_MakeEdge(start, end)
        else:
            made = BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(start, gp_Pnt(*edge.through, z), end).Value())
        wire.Add(made.Edge())
    if not wire.IsDone():
        message = "the CAD kernel could not close an outline; simplify the drawing it comes from"
        raise BodyError(message)
    return wire.Wire()


def less(blank: Any, tools: Sequence[Any]) -> Any:
    """A solid less others.

    Raises:
        BodyError: the kernel could not cut it.
    """
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
    from OCP.BRepCheck import BRepCheck_Analyzer
    from OCP.collections import List_TopoDS_Shape
    from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain

    if not tools:
        return blank
    arguments, takers = List_TopoDS_Shape(), List_TopoDS_Shape()
    arguments.Append(blank)
    for tool in tools:
        takers.Append(tool)
    cut = BRepAlgoAPI_Cut()
    cut.SetArguments(arguments)
    cut.SetTools(takers)
    cut.Build()
    if not cut.IsDone():
        message = "the CAD kernel could not make the cuts; the STL, 3MF and GLB files do not need it"
        raise BodyError(message)
    joined = ShapeUpgrade_UnifySameDomain(cut.Shape(), True, True, False)
    joined.Build()
    whole = joined.Shape()
    if not BRepCheck_Analyzer(whole).IsValid():
        message = "the CAD kernel made a faulty solid; the STL, 3MF and GLB files do not need it"
        raise BodyError(message)
    return whole


def written(shape: Any, name: str, date: str, file: str) -> bytes:
    """A shape as a STEP file.

    Args:
        shape: the kernel's.
        name: of the product.
        date: YYYY-MM-DD for the file's header.
        file: its own name for its header.
    """
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.Interface import Interface_Static
    from OCP.Message import Message, Message_Gravity
    from OCP.STEPControl import STEPControl_StepModelType, STEPControl_Writer

    for printer in Message.DefaultMessenger_s().Printers():
        printer.SetTraceLevel(Message_Gravity.Message_Fail)  # its statistics would go to the command's output
    writer = STEPControl_Writer()
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    Interface_Static.SetIVal_s(
        "write.surfacecurve.mode", 0
    )  # no second copy of every edge in its faces' own terms
    Interface_Static.SetCVal_s("write.step.product.name", "body")
    writer.Transfer(shape, STEPControl_StepModelType.STEPControl_AsIs)
    with tempfile.TemporaryDirectory(prefix="scribeline-") as folder:
        path = Path(folder) / "body.step"
        if writer.Write(str(path)) != IFSelect_ReturnStatus.IFSelect_RetDone:
            message = "the CAD kernel could not write the STEP file; the other files do not need it"
            raise BodyError(message)
        data = path.read_bytes()
    return _settled(data, name, date, file)


def _settled(data: bytes, name: str, date: str, file: str) -> bytes:
    """The file without what the kernel adds of its own: the clock, its file's name, a count in the product's name."""
    header = f"FILE_NAME('{file}','{date}T00:00:00'".encode()
    product = f"PRODUCT('{step_text(name)}','{step_text(name)}'".encode()
    data = re.sub(rb"FILE_NAME\('[^']*','[^']*'", lambda _: header, data, count=1)
    return re.sub(rb"PRODUCT\('[^']*','[^']*'", lambda _: product, data, count=1)


def step_text(text: str) -> str:
    """Text as ISO 10303-21 writes it between apostrophes: plain ASCII, everything else by its code."""
    return "".join(
        {"'": "''", "\\": "\\\\"}.get(sign, sign)
        if " " <= sign <= "~"
        else "\\X2\\" + sign.encode("utf-16-be").hex().upper() + "\\X0\\"
        if ord(sign) < 0x10000
        else f"\\X4\\{ord(sign):08X}\\X0\\"
        for sign in text
    )
