"""Writes a sheet as DXF in millimetres: circles as CIRCLE, arcs as ARC, real DIMENSION entities.

Coordinates are the sheet's own, so a sheet drawn in the instrument frame stays in it. Every dimension's
block holds the very lines that SVG and PDF show; a program that draws dimensions anew still finds their
points, their text and a dimension style of the same sizes.
"""

import io
import threading
from typing import TYPE_CHECKING, Any

from scribeline.drawing.drafting import (
    ARROW_LENGTH,
    TEXT_GAP,
    Plain,
    dash_pattern,
    dimension_line,
    exploded,
)
from scribeline.drawing.extent import bounds
from scribeline.drawing.face import FAMILY, printable
from scribeline.drawing.place import unit
from scribeline.drawing.sheet import (
    Arc,
    Circle,
    Clip,
    Compound,
    Dimension,
    Drafted,
    Fill,
    Hatch,
    Layer,
    Line,
    Mark,
    Path,
    RoundDimension,
    Sheet,
    Text,
)

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.base import BaseLayout

_STYLE = "SCRIBELINE"
_BLACK, _WHITE = 0x000000, 0xFFFFFF

# ezdxf keeps "write fixed meta data" as a setting of the whole process.
_fixed_meta_data = threading.Lock()


def write(sheet: Sheet) -> bytes:
    """The sheet as a DXF file (R2010, UTF-8, $INSUNITS millimetres).

    The same sheet always gives the same bytes: dates and identifiers in the header are fixed, and nothing
    names the machine or its user. The feature a mark belongs to is kept as extended data of the
    application SCRIBELINE.

    Raises:
        ValueError: The sheet holds a clipped drawing or a print correction, which belong to paper, or a
            layer name DXF does not allow.
    """
    # ezdxf takes 0.2 s to import, and only this writer needs it.
    from ezdxf._options import options

    _refuse_paper(sheet)
    with _fixed_meta_data:
        before = options.write_fixed_meta_data_for_testing
        options.write_fixed_meta_data_for_testing = True
        try:
            document = _document(sheet)
            stream = io.StringIO()
            # ezdxf lists these in the order of a set, which changes from one process to the next.
            for kind in sorted(document.entitydb.dxf_types_in_use()):
                document.classes.add_class(kind)
            document.write(stream)
        finally:
            options.write_fixed_meta_data_for_testing = before
    return document.encode(stream.getvalue())


def _refuse_paper(sheet: Sheet) -> None:
    if any(isinstance(item, Clip) for item in sheet.items):
        raise ValueError(f"Sheet {sheet.name} holds a clipped drawing; write it as PDF or SVG, not as DXF.")
    if sheet.correction != (1.0, 1.0):
        raise ValueError(
            f"Sheet {sheet.name} is corrected for a printer; a DXF file must keep its true sizes."
        )


def _document(sheet: Sheet) -> "Drawing":
    from ezdxf.filemanagement import new

    document = new("R2010", units=4)  # 4 is millimetres
    document.header["$MEASUREMENT"] = 1  # metric line types and hatches
    document.header["$LTSCALE"] = 1.0
    document.header["$LASTSAVEDBY"] = "Scribeline"
    document.appids.add(_STYLE)
    document.styles.add(_STYLE, font=f"{FAMILY}-Regular.otf")
    document.styles.add(f"{_STYLE}-BOLD", font=f"{FAMILY}-Bold.otf")
    writer = _Writer(document)
    for item in sheet.items:
        if not isinstance(item, Clip):
            writer.mark(document.modelspace(), item)
    if box := bounds(sheet.items):
        left, bottom, right, top = box
        # What a program shows first, and where its sheet of paper would lie.
        document.modelspace().reset_extents((left, bottom, 0.0), (right, top, 0.0))
        document.modelspace().reset_limits((left, bottom), (right, top))
    return document


class _Writer:
    """Adds marks to a document, with their layers, line types and dimension styles as they are met."""

    def __init__(self, document: "Drawing") -> None:
        self.document = document

    def mark(self, space: "BaseLayout", mark: Mark) -> None:
        look = self.attributes(mark)
        entity: Any
        match mark:
            case Line():
                entity = space.add_line(mark.a, mark.b, dxfattribs=look)
            case Arc():
                entity = space.add_arc(
                    mark.centre, mark.radius, mark.start_deg, mark.end_deg, dxfattribs=look
                )
            case Circle():
                entity = space.add_circle(mark.centre, mark.radius, dxfattribs=look)
            case Path():
                # All corners at once: the library copies those it has for each that is added.
                entity = space.add_lwpolyline((), close=mark.closed, dxfattribs=look)
                entity.lwpoints.extend([(u, v, 0.0, 0.0, 0.0) for u, v in mark.points])
            case Text():
                entity = self.text(space, mark, look)
            case Hatch():
                entity = self.hatch(space, mark, look)
            case Fill():
                entity = self.fill(space, mark, look)
            case Dimension() | RoundDimension():
                entity = self.dimension(space, mark, look)
            case Compound():
                self.parts(space, mark)
                return
        if mark.ref:
            entity.set_xdata(_STYLE, [(1000, printable(mark.ref))])

    def attributes(self, mark: Mark) -> dict[str, Any]:
        self.layer(mark.layer)
        return {"layer": mark.layer.name}

    def layer(self, layer: Layer) -> None:
        from ezdxf.lldxf.const import VALID_DXF_LINEWEIGHTS
        from ezdxf.lldxf.validator import is_valid_layer_name

        if layer.name in self.document.layers:
            return
        hundredths = min(VALID_DXF_LINEWEIGHTS, key=lambda weight: abs(weight - layer.width * 100))
        if not is_valid_layer_name(layer.name):
            raise ValueError(
                f'Layer "{layer.name}": DXF does not allow < > / \\ " : ; ? * = ` or | in a layer\'s name.'
            )
        added = self.document.layers.add(
            layer.name,
            color=layer.colour,
            linetype=self.line_type(layer),
            lineweight=hundredths,
        )
        if layer.description:
            added.description = layer.description

    def line_type(self, layer: Layer) -> str:
        pattern = dash_pattern(layer)
        if not pattern:
            return "Continuous"
        name = f"{layer.style.upper()}-{layer.width:.2f}"
        if name not in self.document.linetypes:
            # DXF wants the total length first, dashes positive and gaps negative.
            signed = [length if n % 2 == 0 else -length for n, length in enumerate(pattern)]
            description = f"ISO 128-2 {layer.style}, {layer.width:.2f} mm"
            self.document.linetypes.add(name, [sum(pattern), *signed], description=description)
        return name

    def text(self, space: "BaseLayout", text: Text, look: dict[str, Any]) -> Any:
        from ezdxf.enums import TextEntityAlignment

        look["style"] = f"{_STYLE}-BOLD" if text.bold else _STYLE
        if text.white:
            look["true_color"] = _WHITE
        align = {
            "start": TextEntityAlignment.LEFT,
            "middle": TextEntityAlignment.CENTER,
            "end": TextEntityAlignment.RIGHT,
        }[text.anchor]
        entity = space.add_text(
            printable(text.text), height=text.height, rotation=text.rotation_deg, dxfattribs=look
        )
        return entity.set_placement(text.at, align=align)

    def hatch(self, space: "BaseLayout", hatch: Hatch, look: dict[str, Any]) -> Any:
        entity = space.add_hatch(dxfattribs=look)
        cos, sin = unit(hatch.angle_deg)
        step = (-sin * hatch.spacing, cos * hatch.spacing)
        entity.set_pattern_fill(
            "SCRIBELINE",
            scale=1.0,
            pattern_type=2,  # a pattern of our own
            definition=[[hatch.angle_deg, (0.0, 0.0), step, []]],
        )
        return self.bounded(entity, hatch)

    def fill(self, space: "BaseLayout", fill: Fill, look: dict[str, Any]) -> Any:
        look["true_color"] = _BLACK if fill.tone == "black" else _WHITE
        return self.bounded(space.add_hatch(dxfattribs=look), fill)

    @staticmethod
    def bounded(entity: Any, area: Hatch | Fill) -> Any:
        entity.dxf.hatch_style = 0  # even-odd
        for loop in area.loops:
            entity.paths.add_polyline_path(loop, is_closed=True, flags=1 + 16)
        return entity

    def dimension(
        self, space: "BaseLayout", dimension: Dimension | RoundDimension, look: dict[str, Any]
    ) -> Any:
        block = self.document.blocks.new_anonymous_block(type_char="D")
        parts = self.parts(block, dimension)
        value = next(part for part in parts if isinstance(part, Text))
        # \X parts the text above the dimension line from the text below it.
        text = f"{dimension.text}\\X{dimension.small}" if dimension.small else dimension.text
        look |= {
            "geometry": block.name,
            "dimstyle": self.dimension_style(dimension.height),
            "text": text,
            "text_midpoint": value.at,
            "attachment_point": 5,
        }
        geometry = _linear(dimension) if isinstance(dimension, Dimension) else _round(dimension)
        return space.new_entity("DIMENSION", dxfattribs=look | geometry)

    def parts(self, space: "BaseLayout", mark: Drafted) -> tuple[Plain, ...]:
        """Adds and gives back what the mark looks like; arrowheads as SOLID, in the layer's colour."""
        parts = exploded(mark)
        for part in parts:
            if isinstance(part, Fill):
                a, b, c = part.loops[0]
                space.add_solid([a, b, c, c], dxfattribs=self.attributes(part))
            else:
                self.mark(space, part)
        return parts

    def dimension_style(self, height: float) -> str:
        name = f"{_STYLE}-{height:g}"
        if name not in self.document.dimstyles:
            style = self.document.dimstyles.add(name)
            style.dxf.dimtxsty = _STYLE
            style.dxf.dimtxt = height
            style.dxf.dimasz = max(ARROW_LENGTH, 0.8 * height)
            style.dxf.dimgap = TEXT_GAP
            style.dxf.dimtad = 1  # above the line
            style.dxf.dimtih = style.dxf.dimtoh = 0  # turned with the line
            style.dxf.dimexo = style.dxf.dimexe = 8 * 0.18
            style.dxf.dimblk = ""
            style.dxf.dimtofl = 1
        return name


# Dimension types of DXF; 32 says the block is used by this entity alone.
_ROTATED, _ALIGNED, _DIAMETER, _RADIUS = 0 + 32, 1 + 32, 3 + 32, 4 + 32


def _linear(dimension: Dimension) -> dict[str, Any]:
    _, foot_b = dimension_line(dimension)
    return {
        "dimtype": _ALIGNED if dimension.along == "aligned" else _ROTATED,
        "angle": 90.0 if dimension.along == "y" else 0.0,
        "defpoint": foot_b,
        "defpoint2": dimension.a,
        "defpoint3": dimension.b,
        "actual_measurement": dimension.span,
    }


def _round(dimension: RoundDimension) -> dict[str, Any]:
    (cx, cy), r = dimension.centre, dimension.radius
    ux, uy = unit(dimension.angle_deg)
    edge, far = (cx + r * ux, cy + r * uy), (cx - r * ux, cy - r * uy)
    diameter = dimension.kind == "diameter"
    return {
        "dimtype": _DIAMETER if diameter else _RADIUS,
        "defpoint": far if diameter else dimension.centre,
        "defpoint4": edge,
        "leader_length": dimension.reach,
        "actual_measurement": 2 * r if diameter else r,
    }
