"""The neck, its fingerboard and its head as STEP, where they lie in the instrument; made by the kernel of `step`.

The neck's back leaves as surfaces that are smooth along it and across it, one for each piece between two joints: through as many
sections as it curves, each told by as many places. Where the neck runs straight they are ruled, and hold every place of it. What
is flat leaves as a plane, what is round as a cylinder; a fingerboard whose radius grows is ruled from the one arc to the other,
which is its cone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import asin, cos, sin
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from scribeline.features import Workpiece
from scribeline.job import Document
from scribeline.layout import (
    Carve,
    Channel,
    HeadBack,
    Layout,
    Point,
    Ring,
    board_width,
    carve_of,
    channels,
    neck_lie,
)
from scribeline.solid.cutters import AIR, Prism
from scribeline.solid.faults import BodyError
from scribeline.solid.head_wood import HeadWood, head_wood
from scribeline.solid.neck import heel_in_the_neck
from scribeline.solid.step import NO_DATE, ask_for_kernel, kernel_solid, less, written

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_ALONG = 16
"""Steps over each piece of the neck that curves along it."""

_ACROSS = 24
"""Places of a section from its middle to its edge: surfaces through them keep within 0.002 mm of the formula."""

_NEAR_EDGE = 2.5
"""By this power places crowd towards the edge, where a section turns up into its side."""

_SEWN = 1e-5
"""Edges this near to each other are one, mm."""

_NOTHING = 1e-6
"""A side less high than this is none, mm."""

_NEAR = (1e-4, 1e-3, 1e-5)
"""Faces this near are one to the kernel, mm: where a head's side runs along its neck's edge it finds no way with one, and does
with another.
"""

_SAME_VOLUME = 1e-3
"""What a head's volume may be off its own, as a share of it: a head whose back the kernel lost is off by far more."""

_PAST_EDGE = 1.02
"""How far the arch is carried on beyond the fingerboard's edges before these are cut, as a share of half its width."""


def neck_steps(
    document: Document, layout: Layout, head: Workpiece | None, *, date: str = NO_DATE
) -> dict[str, bytes]:
    """The neck's pieces as STEP files by name, mm; none where the job's neck is not carved here.

    Args:
        document: states the neck.
        layout: has where its pieces lie.
        head: with its holes; None where the job states none.
        date: YYYY-MM-DD for the files' headers.

    Raises:
        NoKernelError: The CAD kernel is not installed.
        BodyError: The kernel could not make a piece.
    """
    carve = carve_of(document, layout)
    if carve is None:
        return {}
    ask_for_kernel()
    made = {"neck": _neck(document, layout, carve), "fingerboard": _fingerboard(document)}
    wood = head_wood(document, layout, head)
    if wood is not None:
        made["head"] = _head(wood)
    return {
        f"{name}.step": written(
            _in_the_instrument(shape, document), f"{document.name} {name}", date, f"{name}.step"
        )
        for name, shape in made.items()
    }


def _in_the_instrument(shape: Any, document: Document) -> Any:
    """A shape of the neck's frame as it lies in the body: the neck's lie moves and turns it without stretching it."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Trsf

    lie = neck_lie(document)
    over = -document.fret_wire.crown_height - document.neck.board_thickness.mm
    (x, east), (z, rise) = (
        (float(told(0.0, over)), float(told(1.0, over) - told(0.0, over))) for told in (lie.place, lie.height)
    )
    moved = gp_Trsf()
    moved.SetValues(east, 0.0, -rise, x, 0.0, 1.0, 0.0, 0.0, rise, 0.0, east, z)
    return BRepBuilderAPI_Transform(shape, moved, True).Shape()


def _neck(document: Document, layout: Layout, carve: Carve) -> Any:
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Fuse

    heel = kernel_solid(Prism(heel_in_the_neck(document, layout), -carve.heel_depth, 0.0))
    whole = BRepAlgoAPI_Fuse(_sewn(_Surface(carve, carve.joints(0.0, carve.mouth), 0.0)), heel).Shape()
    return less(whole, [_channel(each) for each in channels(document)])


class _Backed(Protocol):
    """What has a back by a formula: the neck's, or the head's."""

    def half(self, along: ArrayLike) -> Floats: ...

    def depth(self, along: ArrayLike, across: ArrayLike) -> Floats: ...

    def is_curved(self, low: float, high: float) -> bool: ...


@dataclass(frozen=True, slots=True)
class _Surface:
    """A solid over a back.

    Attributes:
        of: has that back.
        joints: between the first and the last of these along the neck, mm.
        top: up to this height over the glue line, mm.
        beside: out to so far from the centreline, level from the back's edges on, mm; no further than these where it is 0.
    """

    of: _Backed
    joints: tuple[float, ...]
    top: float
    beside: float = 0.0

    def section(self, along: Sequence[float] | Floats, share: Floats) -> Floats:
        """Places of the back by their share of half the width, (places along, shares, 3), from the bass side."""
        x = np.asarray(along, dtype=np.float64)[:, np.newaxis]
        across = self.of.half(x) * share
        deep = self.of.depth(x, across)
        return np.stack([np.broadcast_to(x, deep.shape), across, -deep], axis=-1)

    def outer(self, back: Floats) -> Floats:
        """Its outermost places level with the back's edges, bass and treble, (places along, 2, 3)."""
        edges = back[:, [0, -1]].copy()
        if self.beside:
            edges[..., 1] = [-self.beside, self.beside]
        return edges

    def raised(self, places: Floats) -> Floats:
        """The same places at the solid's top."""
        return places * [1.0, 1.0, 0.0] + [0.0, 0.0, self.top]


def _sewn(surface: _Surface) -> Any:
    """The solid over a back: its faces, sewn together.

    Raises:
        BodyError: they do not close.
    """
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Sewing
    from OCP.ShapeFix import ShapeFix_Solid
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    sewing = BRepBuilderAPI_Sewing(_SEWN)
    for face in _faces(surface):
        sewing.Add(face)
    sewing.Perform()
    shells = TopExp_Explorer(sewing.SewedShape(), TopAbs_ShapeEnum.TopAbs_SHELL)
    if sewing.NbFreeEdges() or not shells.More():
        message = "the CAD kernel could not close the neck's back; the STL, 3MF and GLB files do not need it"
        raise BodyError(message)
    return ShapeFix_Solid().SolidFromShell(TopoDS.Shell(shells.Current()))


def _faces(surface: _Surface) -> Iterator[Any]:
    """The back, the sides and the level top of each piece, and the two ends."""
    share = 1.0 - (1.0 - np.linspace(0.0, 1.0, _ACROSS + 1)) ** _NEAR_EDGE
    share = np.concatenate([-share[:0:-1], share])
    along_it = _lengths(surface.section((0.0,), share)[0])
    ends = np.array([0.0, 1.0])
    for low, high in pairwise(surface.joints):
        x = np.linspace(low, high, (_ALONG if surface.of.is_curved(low, high) else 1) + 1)
        back = surface.section(x, share)
        yield _patch(back, x, along_it)
        outer = surface.outer(back)
        upper = surface.raised(outer)
        for edge in (0, 1):
            for one, other in ((upper[:, edge], outer[:, edge]), (outer[:, edge], back[:, -edge])):
                side = np.stack([one, other], axis=1)
                if _wide(side):
                    yield _patch(side, x, ends)
        yield _level(
            _edge(upper[:, 0], x), _edge(upper[-1], ends), _edge(upper[:, 1], x), _edge(upper[0], ends)
        )
    for at in (surface.joints[0], surface.joints[-1]):
        section = surface.section((at,), share)
        outer = surface.outer(section)
        upper = surface.raised(outer)
        corners = [section[0, -1], outer[0, 1], upper[0, 1], upper[0, 0], outer[0, 0], section[0, 0]]
        around = (_edge(np.stack(pair), ends) for pair in pairwise(corners) if _wide(np.stack(pair)))
        yield _level(_edge(section[0], along_it), *around)


def _wide(net: Floats) -> bool:
    """Whether the two sides of a net, or two places, lie apart somewhere."""
    a, b = (net[0], net[1]) if net.ndim == 2 else (net[:, 0], net[:, 1])
    return bool(np.abs(a - b).max() > _NOTHING)


def _lengths(row: Floats) -> Floats:
    """How far each place of a row is along it, mm."""
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(row, axis=0), axis=1))])


def _through(row: Floats, at: Floats) -> Any:
    """The curve that goes through places at its own numbers: straight between two, else cubic with no corner."""
    from OCP.collections import Array1_double, Array1_gp_Pnt, Array1_int, HArray1_double, HArray1_gp_Pnt
    from OCP.Geom import Geom_BSplineCurve
    from OCP.GeomAPI import GeomAPI_Interpolate
    from OCP.gp import gp_Pnt

    count = len(at)
    places, numbers = (
        (Array1_gp_Pnt(1, 2), Array1_double(1, 2))
        if count == 2
        else (HArray1_gp_Pnt(1, count), HArray1_double(1, count))
    )
    for no, (place, number) in enumerate(zip(row.tolist(), at.tolist(), strict=True), start=1):
        places.SetValue(no, gp_Pnt(*place))
        numbers.SetValue(no, number)
    if count == 2:
        ends = Array1_int(1, 2)
        ends.Init(2)
        return Geom_BSplineCurve(places, numbers, ends, 1)
    curve = GeomAPI_Interpolate(places, numbers, False, _NOTHING**2)
    curve.Perform()
    return curve.Curve()


def _poles(curve: Any) -> Floats:
    return np.array([curve.Pole(no).Coord() for no in range(1, curve.NbPoles() + 1)])


def _patch(net: Floats, along: Floats, across: Floats) -> Any:
    """The face through a net of places, (along, across, 3): curves across, and curves along through the poles of these."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
    from OCP.collections import Array2_gp_Pnt
    from OCP.Geom import Geom_BSplineSurface
    from OCP.gp import gp_Pnt

    rows = [_through(row, across) for row in net]
    columns = [_through(column, along) for column in np.stack([_poles(row) for row in rows], axis=1)]
    found = np.stack([_poles(column) for column in columns], axis=1)
    poles = Array2_gp_Pnt(1, found.shape[0], 1, found.shape[1])
    for (i, j), _ in np.ndenumerate(found[..., 0]):
        poles.SetValue(i + 1, j + 1, gp_Pnt(*found[i, j].tolist()))
    u, v = columns[0], rows[0]
    surface = Geom_BSplineSurface(
        poles, u.Knots(), v.Knots(), u.Multiplicities(), v.Multiplicities(), u.Degree(), v.Degree()
    )
    return BRepBuilderAPI_MakeFace(surface, _NOTHING).Face()


def _edge(row: Floats, at: Floats) -> Any:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge

    return BRepBuilderAPI_MakeEdge(_through(row, at)).Edge()


def _level(*edges: Any) -> Any:
    """The plane face within edges that follow each other."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire

    wire = BRepBuilderAPI_MakeWire()
    for edge in edges:
        wire.Add(edge)
    if not wire.IsDone():
        message = (
            "the CAD kernel could not close a section of the neck; the STL, 3MF and GLB files do not need it"
        )
        raise BodyError(message)
    return BRepBuilderAPI_MakeFace(wire.Wire(), True).Face()


def _channel(channel: Channel, top: float = AIR) -> Any:
    """A channel, carried on to a height over the glue line; a curved floor is the parabola itself."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.collections import Array1_gp_Pnt
    from OCP.Geom import Geom_BezierCurve
    from OCP.gp import gp_Pnt, gp_Vec

    low, high = channel.ends
    aside = channel.across - channel.half
    # Its two ends and between them the place where the slopes at its ends meet: twice as deep as its middle lies under its ends.
    deep = (
        channel.depth_at_ends,
        2 * channel.depth - channel.depth_at_ends,
        channel.depth_at_ends,
    )
    poles = Array1_gp_Pnt(1, 3)
    for no, (x, depth) in enumerate(zip((low, (low + high) / 2, high), deep, strict=True), start=1):
        poles.SetValue(no, gp_Pnt(x, aside, -depth))
    corners = [(high, -deep[2]), (high, top), (low, top), (low, -deep[0])]
    wire = BRepBuilderAPI_MakeWire()
    if channel.is_flat:
        wire.Add(BRepBuilderAPI_MakeEdge(poles.Value(1), poles.Value(3)).Edge())
    else:
        wire.Add(BRepBuilderAPI_MakeEdge(Geom_BezierCurve(poles)).Edge())
    for (x, z), (to_x, to_z) in pairwise(corners):
        wire.Add(BRepBuilderAPI_MakeEdge(gp_Pnt(x, aside, z), gp_Pnt(to_x, aside, to_z)).Edge())
    face = BRepBuilderAPI_MakeFace(wire.Wire(), True).Face()
    return BRepPrimAPI_MakePrism(face, gp_Vec(0.0, 2 * channel.half, 0.0)).Shape()


def _fingerboard(document: Document) -> Any:
    """The board without its slots: what its sides leave of its arch."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common

    board, thick = document.fingerboard, document.neck.board_thickness.mm
    halves = [float(board_width(document, x)) / 2 for x in (0.0, board.end)]
    (at_nut, at_end) = halves
    plan = Ring(
        (Point(0.0, -at_nut), Point(board.end, -at_end), Point(board.end, at_end), Point(0.0, at_nut))
    )
    flat = kernel_solid(Prism(plan, 0.0, thick))
    if board.radius is None:
        return flat
    radii = (board.radius, board.radius if board.radius_at_end is None else board.radius_at_end)
    turn = asin(min(1.0, _PAST_EDGE * max(half / radius for half, radius in zip(halves, radii, strict=True))))
    return BRepAlgoAPI_Common(flat, _arch(radii, turn, thick, board.end)).Shape()


def _arch(radii: tuple[float, float], turn: float, thick: float, length: float) -> Any:
    """All under the arch: from the nut to the end, over as much of the circle to either side."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeWire
    from OCP.BRepOffsetAPI import BRepOffsetAPI_ThruSections
    from OCP.GC import GC_MakeArcOfCircle
    from OCP.gp import gp_Pnt

    loft = BRepOffsetAPI_ThruSections(True, True)
    for x, radius in zip((0.0, length), radii, strict=True):
        bass, top, treble = (
            gp_Pnt(x, radius * sin(angle), thick - radius + radius * cos(angle))
            for angle in (-turn, 0.0, turn)
        )
        below = [gp_Pnt(x, sign * radius * sin(turn), -AIR) for sign in (1.0, -1.0)]
        wire = BRepBuilderAPI_MakeWire()
        wire.Add(BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(bass, top, treble).Value()).Edge())
        for start, end in pairwise([treble, *below, bass]):
            wire.Add(BRepBuilderAPI_MakeEdge(start, end).Edge())
        loft.AddWire(wire.Wire())
    loft.Build()
    return loft.Shape()


def _head(wood: HeadWood) -> Any:
    """The head: all under its face, with the nut's seats, and over its back, less the neck's channels and its bits' holes.

    Raises:
        BodyError: the kernel could not make it.
    """
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Fuse
    from OCP.BRepCheck import BRepCheck_Analyzer

    back = wood.back
    over = _sewn(_Surface(back, back.joints(wood.far, 0.0), wood.top, wood.beside))
    under = _leaning(kernel_solid(wood.plate()), back)
    for seat in wood.raised():
        under = BRepAlgoAPI_Fuse(under, kernel_solid(seat)).Shape()
    taken = [_channel(each, wood.top) for each in wood.channels]
    taken += [_leaning(kernel_solid(hole), back) for hole in wood.holes()]
    under, (wanted, _) = less(under, taken), wood.volume()
    for near in _NEAR:
        made = _both(under, over, near)
        if abs(_volume(made) / wanted - 1) < _SAME_VOLUME and BRepCheck_Analyzer(made).IsValid():
            return made
    message = "the CAD kernel could not cut the head's back; the STL, 3MF and GLB files do not need it"
    raise BodyError(message)


def _both(one: Any, other: Any, near: float) -> Any:
    """What two shapes share, faces that lie so near to each other being one, mm."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
    from OCP.collections import List_TopoDS_Shape

    common = BRepAlgoAPI_Common()
    for put, shape in ((common.SetArguments, one), (common.SetTools, other)):
        shapes = List_TopoDS_Shape()
        shapes.Append(shape)
        put(shapes)
    common.SetFuzzyValue(near)
    common.Build()
    return common.Shape()


def _volume(shape: Any) -> float:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found)
    return float(found.Mass())


def _leaning(shape: Any, back: HeadBack) -> Any:
    """A shape of the head's frame in the neck's."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec

    lean, lift = gp_Trsf(), gp_Trsf()
    lean.SetRotation(gp_Ax1(gp_Pnt(0.0, 0.0, 0.0), gp_Dir(0.0, 1.0, 0.0)), -back.angle)
    lift.SetTranslation(gp_Vec(0.0, 0.0, -back.face))
    return BRepBuilderAPI_Transform(shape, lift.Multiplied(lean), True).Shape()
