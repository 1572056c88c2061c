"""The neck as a solid: its wood under the fingerboard as a closed mesh, its volume in closed form, and what it weighs.

All of it is in the neck's own frame, height 0 being the fingerboard's glue line. Where the neck runs straight, places at one
share of its half width lie on straight lines, so that the mesh needs further sections only where it curves into the heel and
over a volute. The volume that is told and weighed is the closed form's; the mesh is for viewers and machining programs.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import asin, hypot, sqrt
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Workpiece, heel_outline, neck_timber, polygon
from scribeline.job import Document
from scribeline.layout import (
    Carve,
    Channel,
    Layout,
    Lie,
    Point,
    Point3,
    Ring,
    board_width,
    carve_of,
    channels,
    neck_lie,
)
from scribeline.layout.heights import arch_radius, sunk
from scribeline.solid.body import Mesh
from scribeline.solid.cutters import Prism
from scribeline.solid.faults import BodyError
from scribeline.solid.head_wood import head_wood
from scribeline.solid.primitives import solid_of
from scribeline.solid.sections import meshed, routed, through
from scribeline.solid.weight import MM3_PER_M3, Density, Mass, timber_density
from scribeline.tables import Timber

if TYPE_CHECKING:
    from manifold3d import Manifold
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_CURVED = 32
"""Steps of the mesh over each piece of the neck that curves along it."""

_ROUND = 40
"""Points of the mesh's sections from their middle to their edge."""


@dataclass(frozen=True, slots=True)
class NeckPart:
    """One piece of the neck's wood.

    Attributes:
        name: in bench words.
        mm3: its volume, mm³.
        kg: its mass.
        along: its centre of mass from the nut along the neck, mm.
        density: what it rests on.
    """

    name: str
    mm3: float
    kg: float
    along: float
    density: Density


@dataclass(frozen=True, slots=True)
class NeckWood:
    """What the neck's wood weighs; its rod, frets and tuners are not in it.

    Attributes:
        parts: the shaft with its heel, the fingerboard, and the head where the job states one.
    """

    parts: tuple[NeckPart, ...]

    @property
    def kg(self) -> float:
        """All together."""
        return sum(part.kg for part in self.parts)

    @property
    def sd_kg(self) -> float:
        """One standard deviation: the densities' alone; parts of one timber may be of one board and go together."""
        by_source: dict[str, float] = {}
        for part in self.parts:
            by_source[part.density.source] = (
                by_source.get(part.density.source, 0.0) + part.kg * part.density.sd_share
            )
        return hypot(*by_source.values())

    @property
    def along(self) -> float:
        """Its centre of mass from the nut along the neck, mm."""
        return sum(part.kg * part.along for part in self.parts) / self.kg


def shaft_volume(document: Document, layout: Layout, carve: Carve) -> tuple[float, float]:
    """Volume of the neck's own wood from the nut to the heel's end, mm³, and its centre along the neck, mm.

    Its channels are taken off as far as they lie in it; the holes of screws or inserts are not.
    """
    heel = polygon(heel_in_the_neck(document, layout))
    pieces = [(_shaft(carve), 1.0), ((heel.area * carve.heel_depth, heel.centroid.x), 1.0)]
    pieces += [(_channel(each, carve.end), -1.0) for each in channels(document)]
    total = sum(sign * volume for (volume, _), sign in pieces)
    return total, sum(sign * volume * at for (volume, at), sign in pieces) / total


def _shaft(carve: Carve) -> tuple[float, float]:
    """Volume from the nut to where the pocket opens, and its centre along the neck; Gauss's rule, as `Carve.volume`."""
    volume = carve.volume(0.0, carve.mouth)
    return volume, carve.moment(0.0, carve.mouth) / volume


def _channel(channel: Channel, end: float) -> tuple[float, float]:
    """Volume of a channel between the nut and the heel's end, and its centre along the neck."""
    low, high = max(0.0, channel.ends[0]), min(end, channel.ends[1])
    if high <= low:
        return 0.0, 0.0
    nodes, weights = np.polynomial.legendre.leggauss(3)  # exact: its floor is a parabola
    x = (low + high) / 2 + (high - low) / 2 * nodes
    slice_ = (high - low) / 2 * weights * 2 * channel.half * channel.bottom(x)
    volume = float(slice_.sum())
    return volume, float(slice_ @ x) / volume


def heel_in_the_neck(document: Document, layout: Layout) -> Ring:
    """The heel's outline, or its tenon's, in the neck's frame."""
    shift = document.neck.pocket_end - layout.pocket_end
    return Ring(Point(place.x + shift, place.y) for place in heel_outline(document, layout))


def neck_wood(document: Document, layout: Layout, head: Workpiece | None) -> NeckWood | None:
    """What the wood of a neck that is carved here weighs; None where the job does not state its blank."""
    carve = carve_of(document, layout)
    if carve is None:
        return None
    return NeckWood(tuple(_parts(document, layout, carve, head)))


def _parts(document: Document, layout: Layout, carve: Carve, head: Workpiece | None) -> Iterator[NeckPart]:
    neck, blank = neck_timber(document), document.neck_blank
    board = None if blank is None else blank.board_timber
    yield _weighed("neck and heel", *shaft_volume(document, layout, carve), neck)
    yield _weighed("fingerboard", *board_volume(document), board or neck)
    wood = head_wood(document, layout, head)
    if wood is not None:
        yield _weighed("head", *wood.volume(), neck)


def _weighed(name: str, mm3: float, along: float, wood: Timber) -> NeckPart:
    density = timber_density(wood)
    return NeckPart(name, mm3, mm3 * density.kg_m3 / MM3_PER_M3, along, density)


def arched_area(width: float, thickness: float, radius: float | None) -> float:
    """Area of a fingerboard's section, mm²: what an arch takes off is the box over its chord less the circle's segment.

    Args:
        width: of the board there, mm.
        thickness: in its middle, mm.
        radius: of its arch, mm; None where it is flat.
    """
    if radius is None:
        return width * thickness
    half = width / 2
    drop = radius - sqrt(radius**2 - half**2)
    segment = radius**2 * asin(half / radius) - half * (radius - drop)
    return width * (thickness - drop) + segment


def _arch(document: Document, along: float) -> float | None:
    board = document.fingerboard
    if board.radius is None:
        return None
    at_end = board.radius if board.radius_at_end is None else board.radius_at_end
    return float(arch_radius(np.asarray(along), board.radius, at_end, board.end))


def board_volume(document: Document) -> tuple[float, float]:
    """Volume of the fingerboard from the nut to its end, without slots, mm³, and its centre along the neck, mm."""
    end = document.fingerboard.end
    nodes, weights = np.polynomial.legendre.leggauss(24)
    x = end / 2 * (1 + nodes)
    thick = document.neck.board_thickness.mm
    areas = np.array(
        [
            arched_area(float(width), thick, _arch(document, float(at)))
            for width, at in zip(board_width(document, x), x, strict=True)
        ]
    )
    slices = end / 2 * weights * areas
    return float(slices.sum()), float(slices @ x / slices.sum())


def neck_mesh(document: Document, layout: Layout, carve: Carve) -> Mesh:
    """The neck's own wood as a closed mesh in its own frame: x, y and height over the glue line, mm.

    Raises:
        BodyError: it cannot be made: its carve leaves no wood somewhere.
    """
    whole = _lofted(carve)
    whole += solid_of(Prism(heel_in_the_neck(document, layout), -carve.heel_depth, 0.0))
    for each in channels(document):
        whole -= routed(each)
    if whole.is_empty():
        message = "the carved neck has no wood left; correct the thickness stated in neck_blank"
        raise BodyError(message)
    return meshed(whole)


def in_the_instrument(mesh: Mesh, document: Document) -> Mesh:
    """A mesh of the neck's frame as it lies in the body of a right-handed instrument or a left-handed one."""
    lie: Lie = neck_lie(document)
    over = mesh.vertices[:, 2] - document.fret_wire.crown_height - document.neck.board_thickness.mm
    x, z = lie.place(mesh.vertices[:, 0], over), lie.height(mesh.vertices[:, 0], over)
    return Mesh(np.column_stack([x, mesh.vertices[:, 1], z]), mesh.triangles)


def neck_meshes(document: Document, layout: Layout, head: Workpiece | None) -> dict[str, Mesh]:
    """The neck's pieces as they lie in the instrument, by name: its own wood, its fingerboard, its head where the job states one.

    Raises:
        BodyError: the neck cannot be made.
    """
    carve = carve_of(document, layout)
    if carve is None:
        return {}
    found = {
        "neck": neck_mesh(document, layout, carve),
        "fingerboard": meshed(through([_board_ring(document, x) for x in _board_places(document)])),
    }
    wood = head_wood(document, layout, head)
    if wood is not None:
        found["head"] = meshed(wood.solid())
    return {name: in_the_instrument(mesh, document) for name, mesh in found.items()}


def _board_places(document: Document) -> Floats:
    return np.linspace(0.0, document.fingerboard.end, 2 if document.fingerboard.radius is None else _CURVED)


def _board_ring(document: Document, x: float) -> Floats:
    """The fingerboard's section, arched: its corners seen as a neck's are, from its treble edge over its top to its bass edge."""
    half, thick = float(board_width(document, x)) / 2, document.neck.board_thickness.mm
    radius = _arch(document, x)
    across = np.linspace(half, -half, 2 * _ROUND + 1)
    top = np.full_like(across, thick) if radius is None else thick - sunk(np.asarray(radius), across)
    ring = [(half, 0.0), *zip(across, top, strict=True), (-half, 0.0)]
    return np.array([(x, y, z) for y, z in ring])


def neck_mass(document: Document, layout: Layout, head: Workpiece | None) -> Mass | None:
    """The wood of a neck that is carved here, for the balance; None where something that the job weighs lies over the neck.

    What is listed with its middle between the nut and the neck pocket is taken for the neck, or for a part of it.
    """
    wood = neck_wood(document, layout, head)
    if wood is None:
        return None
    mouth = document.neck.pocket_end - document.neck.pocket_length
    along = neck_lie(document).along([mass.at.x for mass in layout.masses])
    if any(0.0 <= each <= mouth for each in along.tolist()):
        return None
    return Mass("neck's wood", wood.kg, centre_of(document, wood.along), wood.sd_kg)


def _lofted(carve: Carve) -> Manifold:
    """The shaft from the nut to the pocket's mouth."""
    return through([_ring(carve, x) for x in carve.places(0.0, carve.mouth, _CURVED)])


def _ring(carve: Carve, x: float) -> Floats:
    """A section's corners seen from the head, (n, 3): from the bass edge under the back to the treble edge."""
    flat = carve.profile(x, _ROUND)
    return np.column_stack([np.full(len(flat), x), flat[:, 0], -flat[:, 1]])


def centre_of(document: Document, along: float) -> Point3:
    """Where a place in the middle of the neck's wood is in the instrument, about at its glue line, mm."""
    lie = neck_lie(document)
    over = -document.fret_wire.crown_height - document.neck.board_thickness.mm
    return Point3(float(lie.place(along, over)), 0.0, float(lie.height(along, over)))
