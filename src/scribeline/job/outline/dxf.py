"""Reading what a DXF file draws."""

from __future__ import annotations

import itertools
import re
from typing import TYPE_CHECKING, Any

import numpy as np

from scribeline.job.outline.curves import arc_points, bulge_points, spline_points
from scribeline.job.outline.drawing_file import DrawingFile, bytes_of
from scribeline.job.outline.loops import MOST_PIECES, Piece
from scribeline.job.outline.ring import MOST_POINTS, OutlineError, place

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from ezdxf.document import Drawing
    from numpy.typing import NDArray

    Points = NDArray[np.float64]

_UNITS = {
    1: ("in", 25.4, "inches"),
    2: ("ft", 304.8, "feet"),
    4: ("mm", 1.0, "millimetres"),
    5: ("cm", 10.0, "centimetres"),
    6: ("m", 1000.0, "metres"),
    8: ("µin", 25.4e-6, "microinches"),
    9: ("mil", 0.0254, "mils"),
    10: ("yd", 914.4, "yards"),
    13: ("µm", 0.001, "microns"),
    14: ("dm", 100.0, "decimetres"),
}
"""$INSUNITS codes (DXF Reference, HEADER section) a body may be drawn in: unit, mm, words."""

_LIKELY = (("millimetres", 1.0), ("inches", 25.4), ("centimetres", 10.0), ("metres", 1000.0))

_DRAWN = ("LINE", "ARC", "CIRCLE", "ELLIPSE", "LWPOLYLINE", "POLYLINE", "SPLINE")

_DEEPEST_BLOCK = 16

MOST_RECORDS = 150_000
"""Entities, corners of old polylines among them, in a text file, shown or not: what is read in seconds."""

_RECORD = re.compile(rb"\n[ \t]*+0[ \t]*+\r?\n[A-Z]")
"""Where an entity begins: a line with 0, which is no number's value because a word follows (DXF Reference, group codes)."""

_FLAT = 0.01
"""An outline's z may vary by this much of the file's unit before it counts as not flat."""


def open_dxf(path: Path, *, layer: str | None) -> DrawingFile:
    """Opens a DXF file, text or binary.

    Args:
        path: The file.
        layer: The layer to read (upper and lower case alike, as in DXF); None reads all that are
            switched on.

    Raises:
        OutlineError: If the file is no readable DXF, or the layer holds nothing drawn.
    """
    data = bytes_of(path)
    document = _document(path, data)
    entities = _entities(document, layer, path)
    # Asked of the bytes first: for a file without a header the library makes one up, in metres.
    code = int(document.header.get("$INSUNITS", 0)) if b"$INSUNITS" in data else 0
    unit, mm, words = _UNITS.get(code, ("units", None, ""))
    if words:
        unit_words = f"drawn in {words} ($INSUNITS {code})"
    else:
        unit_words = "no usable unit in the file" if code else "no unit in the file"
    source = f"file {path.name}" + (f", layer {layer}" if layer is not None else "")

    def pieces(tolerance: float) -> Iterator[Piece]:
        for entity in entities:
            yield from _pieces(entity, tolerance, source)

    return DrawingFile(source, pieces, mm, unit, unit_words, _LIKELY, y_down=False)


def _document(path: Path, data: bytes) -> Drawing:
    if data[:2] == b"AC" and data[2:6].isdigit():
        raise OutlineError(f"file {path.name} is a DWG drawing, which cannot be read here; save it as DXF.")
    if sum(1 for _ in _RECORD.finditer(data)) > MOST_RECORDS:
        raise OutlineError(
            f"file {path.name} holds more than {MOST_RECORDS} entities; save the outline alone into a new file, or"
            " simplify it."
        )
    # ezdxf takes a quarter of a second to load, so it waits until a DXF is really read.
    import logging

    from ezdxf.filemanagement import readfile

    # It logs what it thinks of a file; the person gets our sentence instead.
    logging.getLogger("ezdxf").setLevel(logging.CRITICAL)
    try:
        # The strict reader on purpose: the tolerant one mends broken numbers by guessing.
        return readfile(path)
    except MemoryError:
        raise  # says nothing of the file, but of how much room it was given
    except Exception:  # noqa: BLE001 - the parser raises nearly anything on garbage, and all of it means this
        raise OutlineError(
            f"file {path.name} is not a readable DXF file (damaged, or another kind of file); save the"
            " outline as DXF again."
        ) from None


def _entities(document: Drawing, layer: str | None, path: Path) -> list[Any]:
    everything = []
    others: set[str] = set()
    seen_layers: set[str] = set()
    for entity in _taken_apart(document, path):
        if entity.dxftype() not in _DRAWN:
            others.add(entity.dxftype())
            continue
        seen_layers.add(entity.dxf.layer)
        if _wanted(entity, document, layer):
            everything.append(entity)
    if everything:
        return everything
    names = ", ".join(f"'{name}'" for name in sorted(seen_layers)[:12])
    if layer is not None:
        held = f"; lines and curves are on {names}" if names else ""
        raise OutlineError(
            f"file {path.name}: layer '{layer}' holds no line or curve{held}; name the outline's layer."
        )
    if names:
        raise OutlineError(
            f"file {path.name}: all that is drawn ({names}) is hidden; name the outline's layer."
        )
    held = f" (only {', '.join(sorted(others)[:6])})" if others else ""
    raise OutlineError(
        f"file {path.name}: no line or curve is drawn in model space{held}; draw the outline there."
    )


def _taken_apart(document: Drawing, path: Path) -> Iterator[Any]:
    """Everything in model space, block references taken apart (dimensions are not: they are notes)."""
    drawn = list(document.modelspace())
    _Counted(document, path).check(drawn)
    waiting: list[Any] = drawn[::-1]
    while waiting:
        entity = waiting.pop()
        if entity.dxftype() == "INSERT":
            waiting.extend(_parts_of(entity, path))
        else:
            yield entity


class _Counted:
    """How much blocks unfold to, worked out before anything is unfolded: a few lines of a file can stand for gigabytes."""

    def __init__(self, document: Drawing, path: Path) -> None:
        self._blocks = document.blocks
        self._name = path.name
        self._known: dict[str, tuple[int, int]] = {}

    def check(self, drawn: list[Any]) -> None:
        """Count everything that would be drawn.

        Raises:
            OutlineError: There is too much, or a block lies in itself.
        """
        things = corners = 0
        for entity in drawn:
            more, copied = self._of(entity, 0)
            things += more
            corners += copied if entity.dxftype() == "INSERT" else 0
            self._refuse(things, corners)

    def _refuse(self, things: int, corners: int) -> None:
        if things > MOST_PIECES:
            raise OutlineError(
                f"file {self._name}: more than {MOST_PIECES} things are drawn; save the outline alone into a"
                " new file."
            )
        if corners > MOST_POINTS:
            raise OutlineError(
                f"file {self._name}: its blocks draw more than {MOST_POINTS} corners; save the outline alone into a"
                " new file."
            )

    def _of(self, entity: Any, depth: int) -> tuple[int, int]:
        """How many things one entity draws, and how many corners those have."""
        if entity.dxftype() != "INSERT":
            return 1, _corners(entity)
        if depth >= _DEEPEST_BLOCK:
            raise OutlineError(
                f"file {self._name}: block '{entity.dxf.name}' contains itself or is nested more than"
                f" {_DEEPEST_BLOCK} deep; explode the blocks in your drawing program and save again."
            )
        things, corners = self._in_block(str(entity.dxf.name), depth)
        copies = max(1, entity.mcount)
        # The reference itself counts too: one that holds nothing is still to be looked at.
        return copies * (1 + things), copies * corners

    def _in_block(self, name: str, depth: int) -> tuple[int, int]:
        key = name.casefold()
        if key not in self._known:
            things = corners = 0
            for part in self._blocks.get(name) or ():
                more, of_them = self._of(part, depth + 1)
                things, corners = things + more, corners + of_them
            self._known[key] = things, corners
        return self._known[key]


def _corners(entity: Any) -> int:
    """What a copy of an entity takes, in corners."""
    kind = entity.dxftype()
    if kind == "POLYLINE":
        return len(entity.vertices)
    if kind == "LWPOLYLINE":
        return len(entity)
    return len(entity.control_points) if kind == "SPLINE" else 1


def _parts_of(entity: Any, path: Path) -> list[Any]:
    """What a block reference draws."""
    if entity.block() is None:
        raise OutlineError(
            f"file {path.name}: block '{entity.dxf.name}' is placed, and the file does not hold it; explode the blocks in"
            " your drawing program and save again."
        )
    try:
        copies = entity.multi_insert() if entity.mcount > 1 else (entity,)
        return [part for copy in copies for part in copy.virtual_entities()]
    except MemoryError:
        raise
    except Exception:  # noqa: BLE001 - a scale or a direction of nothing fails in any of the library's ways
        raise OutlineError(
            f"file {path.name}: block '{entity.dxf.name}' is placed at a scale that cannot be drawn; explode the"
            " blocks in your drawing program and save again."
        ) from None


def _wanted(entity: Any, document: Drawing, layer: str | None) -> bool:
    name = str(entity.dxf.layer)
    if layer is not None:
        return name.casefold() == layer.casefold()
    if entity.dxf.get("invisible", 0):
        return False
    if not document.layers.has_entry(name):
        return True
    entry = document.layers.get(name)
    return entry.is_on() and not entry.is_frozen()


def _pieces(entity: Any, tolerance: float, source: str) -> list[Piece]:
    try:
        points, closed = _READERS[entity.dxftype()](entity, tolerance)
        if not np.isfinite(points).all():
            raise ValueError(points)
    except _DoubtfulError as doubt:
        raise OutlineError(f"{source}: {doubt}.") from None
    except MemoryError:
        raise
    except Exception:  # noqa: BLE001 - a damaged entity fails in any of the library's ways
        raise OutlineError(
            f"{source}: a damaged {entity.dxftype()} (handle {entity.dxf.handle}) cannot be drawn; redraw it."
        ) from None
    if len(points) < 2:
        return []
    if points.shape[1] > 2 and float(np.ptp(points[:, 2])) > _FLAT:
        raise OutlineError(
            f"{source}: a {entity.dxftype()} near {place(*points[0, :2])} is not flat (its z runs from"
            f" {points[:, 2].min():.3f} to {points[:, 2].max():.3f}); draw the outline flat, seen from above."
        )
    return [Piece(points[:, :2], closed, str(entity.dxf.layer))]


class _DoubtfulError(Exception):
    """What is drawn could be read in more than one way; the text says which and what to do."""


def _line(entity: Any, _tolerance: float) -> tuple[Points, bool]:
    return np.array([entity.dxf.start.xyz, entity.dxf.end.xyz]), False


def _arc(entity: Any, tolerance: float) -> tuple[Points, bool]:
    return _round(entity, entity.dxf.start_angle, entity.dxf.end_angle, tolerance), False


def _circle(entity: Any, tolerance: float) -> tuple[Points, bool]:
    return _round(entity, 0.0, 360.0, tolerance)[:-1], True


def _round(entity: Any, start_deg: float, end_deg: float, tolerance: float) -> Points:
    """A circle's arc, counter-clockwise in its own plane, which may be seen from behind."""
    radius = float(entity.dxf.radius)
    sweep = (end_deg - start_deg) % 360.0 or 360.0
    x_axis, y_axis = np.array([radius, 0.0]), np.array([0.0, radius])
    centre = entity.dxf.center
    flat = arc_points(
        np.array([centre.x, centre.y]), x_axis, y_axis, np.radians(start_deg), np.radians(sweep), tolerance
    )
    return _to_world(entity, flat, float(centre.z))


def _to_world(entity: Any, flat: Points, z: float) -> Points:
    ocs = entity.ocs()
    if not ocs.transform:
        return np.column_stack([flat, np.full(len(flat), z)])
    return np.array([point.xyz for point in ocs.points_to_wcs([(x, y, z) for x, y in flat])])


def _ellipse(entity: Any, tolerance: float) -> tuple[Points, bool]:
    major, minor = entity.dxf.major_axis, entity.minor_axis
    start, end = float(entity.dxf.start_param), float(entity.dxf.end_param)
    sweep = (end - start) % (2 * np.pi)
    whole = bool(np.isclose(sweep, 0.0, atol=1e-9) or np.isclose(sweep, 2 * np.pi, atol=1e-9))
    centre = entity.dxf.center
    if abs(major.z) + abs(minor.z) > 0:
        flat_z = np.array(
            [[centre.z - abs(major.z) - abs(minor.z)], [centre.z + abs(major.z) + abs(minor.z)]]
        )
        return np.hstack([np.array([[centre.x, centre.y]] * 2), flat_z]), whole
    points = arc_points(
        np.array([centre.x, centre.y]),
        np.array([major.x, major.y]),
        np.array([minor.x, minor.y]),
        start,
        2 * np.pi if whole else sweep,
        tolerance,
    )
    points = np.column_stack([points, np.full(len(points), centre.z)])
    return (points[:-1] if whole else points), whole


def _spline(entity: Any, tolerance: float) -> tuple[Points, bool]:
    if not len(entity.control_points):
        start = ", ".join(f"{value:.3f}" for value in entity.fit_points[0][:2])
        raise _DoubtfulError(
            f"a SPLINE from ({start}) is stated by its fit points alone, and programs draw that differently;"
            " convert it to control points or to a polyline"
        )
    controls = np.array(entity.control_points, dtype=float)
    # A spline's z is flat or it is not: the controls say so before any flattening.
    if float(np.ptp(controls[:, 2])) > _FLAT:
        return controls, False
    points = spline_points(
        controls[:, :2],
        np.array(entity.knots, dtype=float),
        np.array(entity.weights, dtype=float) if len(entity.weights) else np.ones(len(controls)),
        int(entity.dxf.degree),
        tolerance,
    )
    return points, False


def _lwpolyline(entity: Any, tolerance: float) -> tuple[Points, bool]:
    corners = np.array(entity.get_points("xyb"), dtype=float)
    flat = _with_bulges(corners, bool(entity.closed), tolerance)
    return _to_world(entity, flat, float(entity.dxf.elevation)), bool(entity.closed)


def _polyline(entity: Any, tolerance: float) -> tuple[Points, bool]:
    closed = bool(entity.is_closed)
    # Vertices flagged 16 are the control frame of a smoothed polyline, not on the line itself.
    vertices = [vertex for vertex in entity.vertices if not vertex.dxf.flags & 16]
    if entity.is_3d_polyline:
        return np.array([vertex.dxf.location.xyz for vertex in vertices]), closed
    if not entity.is_2d_polyline or not vertices:
        return np.empty((0, 3)), False
    corners = np.array([(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in vertices])
    return _to_world(
        entity, _with_bulges(corners, closed, tolerance), float(vertices[0].dxf.location.z)
    ), closed


def _with_bulges(corners: Points, closed: bool, tolerance: float) -> Points:
    if not corners[:, 2].any():
        return corners[:, :2]
    runs = [corners[:1, :2]]
    for start, end in itertools.pairwise(corners):
        runs.append(bulge_points(start[:2], end[:2], float(start[2]), tolerance))
    if closed:
        runs.append(bulge_points(corners[-1, :2], corners[0, :2], float(corners[-1, 2]), tolerance)[:-1])
    return np.concatenate(runs)


_READERS = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _circle,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
}
