"""An outline out of a drawing file, sized and turned into the instrument frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, get_args

import numpy as np

from scribeline.job.outline.loops import outer_loop
from scribeline.job.outline.ring import (
    BODY,
    FLATTENING,
    Outline,
    OutlineError,
    OutlineOf,
    checked_ring,
    place,
)
from scribeline.job.values import InFile
from scribeline.lengths import pair, said

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from scribeline.job.outline.drawing_file import DrawingFile

    Points = NDArray[np.float64]

Along = Literal["+x", "-x", "+y", "-y"]
SeenFrom = Literal["front", "back"]

AGREEMENT = 0.005
"""A measured size may differ from the drawn one by this share before they contradict each other.

Two millimetres in a body's 400: more than a tape misreads, far less than any wrong unit makes.
"""

_TOUCH = 0.004
"""Ends this close, mm, are one point: less than half the flattening tolerance, more than four
decimals of an inch lose when a drawing is saved."""

_CURVE = 0.005
"""Flattening asked for, mm; with `_TOUCH` it stays within `FLATTENING`."""

assert _TOUCH + _CURVE < FLATTENING


def read_outline_file(
    path: Path,
    *,
    along: Along,
    centre: float | InFile | None = None,
    tail: float | None = None,
    origin: tuple[float | InFile, float | InFile] | None = None,
    seen_from: SeenFrom = "front",
    layer: str | None = None,
    true_length: float | None = None,
    true_width: float | None = None,
    of: OutlineOf = BODY,
) -> Outline:
    """Reads the outline of a body or a head from a DXF or SVG file.

    The file's own coordinates are those its drawing program shows: for DXF the drawing's, in the
    drawing's unit; for SVG x to the right and y down from the page's upper left corner, in mm when
    the file has a page size, else in its own units. `centre`, `origin` and every place named in a
    refusal are in these coordinates; `centre` and `origin` may also be lengths of their own (`InFile`).

    Args:
        path: The file, ending in .dxf or .svg.
        along: The direction in the file that runs from the neck to the tail.
        centre: Where the centreline runs, as the file's y when `along` is an x direction and as its
            x when `along` is a y direction; together with `tail`.
        tail: Where the tail edge meets the centreline in the instrument frame, mm from the nut.
        origin: The file's point where the centreline meets the nut's front edge; instead of
            `centre` and `tail`.
        seen_from: The side the file shows. The front is turned, never mirrored; the back is mirrored
            once.
        layer: The layer to read (for SVG also the id of a group or shape). None reads everything shown.
        true_length: What is drawn, its overall size along the centreline, mm, measured. Sets the scale of a
            file without units, confirms that of a file with them.
        true_width: Its overall size across the centreline, mm, likewise.
        of: What it is the outline of: sets what size is plausible, and the words of a refusal.

    Returns:
        The outline in the instrument frame, within 0.01 mm of the curve drawn.

    Raises:
        OutlineError: If the file cannot be used; the text says why, where and what to do.
    """
    placing = _placing(along, centre, tail, origin, seen_from, of=of)
    for name, value in (("true_length", true_length), ("true_width", true_width)):
        if value is not None and not of.smallest / 2 <= value <= of.largest:
            raise OutlineError(
                f"{name} is {said(value, None)}; a {of.name} measures between {pair(of.smallest / 2, of.largest, places=None)}."
            )
    drawing = _open(path, layer)
    turned = placing.basis(y_down=drawing.y_down)
    scale, unit_note = _scale(drawing, turned, true_length, true_width, of)
    loop = outer_loop(
        drawing.drawn(_CURVE / scale),
        touch=_TOUCH / scale,
        source=drawing.source,
        unit=drawing.unit,
        of=of,
    )
    ring = checked_ring(loop.points, mm_per_unit=scale, source=drawing.source, of=of)
    points = placing.into_frame(ring, scale, turned, drawing.source)
    source = drawing.source
    if layer is None and len(loop.layers) == 1 and next(iter(loop.layers)):
        source += f", layer {next(iter(loop.layers))}"
    return Outline(tuple((float(x), float(y)) for x, y in points), source, unit_note)


@dataclass(frozen=True)
class _Placing:
    """How the file's coordinates turn into the instrument frame."""

    along: Along
    centre: InFile | None
    tail: float | None
    origin: tuple[InFile, InFile] | None
    seen_from: SeenFrom
    of: OutlineOf

    def basis(self, *, y_down: bool) -> Points:
        """The instrument's x and y as directions in the file, one a column."""
        step = 1.0 if self.along[0] == "+" else -1.0
        x_axis = np.array([step, 0.0]) if self.along[1] == "x" else np.array([0.0, step])
        # Seen from the front, the treble side lies a quarter turn counter-clockwise from the way
        # to the tail. A y axis that points down, and a view of the back, each swap that turn.
        swap = -1.0 if y_down != (self.seen_from == "back") else 1.0
        y_axis = swap * np.array([-x_axis[1], x_axis[0]])
        return np.column_stack([x_axis, y_axis])

    def into_frame(self, ring: Points, scale: float, turned: Points, source: str) -> Points:
        """The ring in the instrument frame, mm, counter-clockwise."""
        if self.origin is not None:
            under_nut = np.array([each.in_units(scale) for each in self.origin])
            points = (ring - under_nut) @ turned * scale
        else:
            assert self.centre is not None
            assert self.tail is not None
            centre = self.centre.in_units(scale)
            through = np.array([0.0, centre] if self.along[1] == "x" else [centre, 0.0])
            points = (ring - through) @ turned * scale
            points[:, 0] += self.tail - _tail(points, centre, source)
        if not points[:, 1].min() < 0 < points[:, 1].max():
            raise OutlineError(
                f"{source}: the centreline does not pass through the {self.of.name}; check the centreline's place"
                f" (centre or origin) and the direction from {self.of.way}."
            )
        # One swap of direction turns the ring over; the area's sign would say so too.
        frame: Points = points if np.linalg.det(turned) > 0 else points[::-1]
        return frame


def _placing(
    along: Along,
    centre: float | InFile | None,
    tail: float | None,
    origin: tuple[float | InFile, float | InFile] | None,
    seen_from: SeenFrom,
    *,
    of: OutlineOf,
) -> _Placing:
    if along not in get_args(Along):
        raise OutlineError(f"along is '{along}'; the direction from {of.way} is one of +x, -x, +y, -y.")
    if seen_from not in get_args(SeenFrom):
        raise OutlineError(f"seen_from is '{seen_from}'; a drawing shows the front or the back.")
    at = None if centre is None else _in_file(centre)
    under_nut = None if origin is None else (_in_file(origin[0]), _in_file(origin[1]))
    given = [each.number for each in (at, *(under_nut or ())) if each is not None]
    if not np.isfinite([*given, 0.0 if tail is None else tail]).all():
        raise OutlineError("the outline's place (centre, tail, origin) must be finite numbers.")
    if origin is None and (centre is None or tail is None):
        raise OutlineError(
            "the outline's place is not stated: give centre (where the centreline runs in"
            " the file) and tail"
            " (the tail edge's distance from the nut), or origin (the file's point at the nut)."
        )
    if origin is not None and (centre is not None or tail is not None):
        raise OutlineError("the outline's place is stated twice: give either origin, or centre and tail.")
    return _Placing(along, at, tail, under_nut, seen_from, of)


def _in_file(stated: float | InFile) -> InFile:
    return stated if isinstance(stated, InFile) else InFile(stated)


def _tail(points: Points, centre: float, source: str) -> float:
    """The greatest x at which a ring crosses y = 0."""
    x, y = points.T
    x2, y2 = np.roll(points, -1, axis=0).T
    crossing = (y <= 0) != (y2 <= 0)
    if not crossing.any():
        raise OutlineError(
            f"{source}: the centreline at {centre:g} in the file does not meet the outline; check centre."
        )
    x, y, x2, y2 = x[crossing], y[crossing], x2[crossing], y2[crossing]
    return float((x + (x2 - x) * y / (y - y2)).max())


def _open(path: Path, layer: str | None) -> DrawingFile:
    kind = path.suffix.lower()
    if kind == ".dxf":
        from scribeline.job.outline.dxf import open_dxf

        return open_dxf(path, layer=layer)
    if kind == ".svg":
        from scribeline.job.outline.svg import open_svg

        return open_svg(path, layer=layer)
    raise OutlineError(
        f"file {path.name}: an outline is read from a .dxf or an .svg file; save it as one of these."
    )


def _scale(
    drawing: DrawingFile,
    turned: Points,
    true_length: float | None,
    true_width: float | None,
    of: OutlineOf,
) -> tuple[float, str]:
    """Millimetres in the file's unit, and how that was settled in words."""
    asked = {"true length": true_length, "true width": true_width}
    stated = {name: value for name, value in asked.items() if value is not None}
    if not stated:
        if drawing.mm_per_unit is None:
            raise OutlineError(
                f"{drawing.source}: {drawing.unit_words}, so its size is doubtful; give the"
                f" {of.name}'s true_length (along"
                " the centreline) or true_width in the job, or save the drawing with units."
            )
        return drawing.mm_per_unit, drawing.unit_words
    drawn = _drawn_size(drawing, turned, of)
    if drawing.mm_per_unit is not None:
        for name, value in stated.items():
            _confirm(drawing, name, value, drawn[name] * drawing.mm_per_unit)
        return drawing.mm_per_unit, drawing.unit_words + f", confirmed by the {' and the '.join(stated)}"
    return _scale_from(drawing, stated, drawn)


def _drawn_size(drawing: DrawingFile, turned: Points, of: OutlineOf) -> dict[str, float]:
    """Overall size along and across, in the file's unit, from a first coarse reading."""
    rough = np.concatenate([np.zeros((0, 2)), *(piece.points for piece in drawing.drawn(np.inf))])
    fine = max(float(np.ptp(rough, axis=0).max()) if len(rough) else 0.0, 1e-9) * 1e-5
    loop = outer_loop(drawing.drawn(fine), touch=fine, source=drawing.source, unit=drawing.unit, of=of)
    length, width = np.ptp(loop.points @ turned, axis=0)
    if not min(length, width) > fine:
        raise OutlineError(
            f"{drawing.source}: the outline near {place(*loop.points[0])} encloses no area; draw the whole edge"
            f" of the {of.name}."
        )
    return {"true length": float(length), "true width": float(width)}


def _confirm(drawing: DrawingFile, name: str, value: float, drawn_mm: float) -> None:
    if abs(value / drawn_mm - 1) <= AGREEMENT:
        return
    raise OutlineError(
        f"{drawing.source}: the {name} is given as {said(value, None)}, but the outline is {said(drawn_mm, 1)} as"
        f" {drawing.unit_words}; measure again, or correct the drawing's units."
    )


def _scale_from(drawing: DrawingFile, stated: dict[str, float], drawn: dict[str, float]) -> tuple[float, str]:
    scales = {name: value / drawn[name] for name, value in stated.items()}
    if max(scales.values()) > (1 + 2 * AGREEMENT) * min(scales.values()):
        raise OutlineError(
            f"{drawing.source}: true length and true width contradict each other: drawn"
            f" {drawn['true length']:.4g} ×"
            f" {drawn['true width']:.4g}, given {stated['true length']:g} ×"
            f" {said(stated['true width'], None)}; measure both"
            " again."
        )
    for words, mm in drawing.likely_units:
        if all(abs(scale / mm - 1) <= AGREEMENT for scale in scales.values()):
            # A tape reads to half a millimetre; the drawing's own unit is the better measure.
            told = " and ".join(f"{name} {value:g} mm" for name, value in stated.items())
            return mm, f"taken as {words}, which the {told} confirms"
    name = next(iter(scales))
    note = f"scaled to the {name} of {stated[name]:g} mm: {scales[name]:.6g} mm to one unit of the file"
    return scales[name], note
