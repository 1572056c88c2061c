"""Writes a sheet as SVG in millimetres: real circles, real text, one group per layer."""

import re
from collections.abc import Iterable, Iterator
from xml.sax.saxutils import escape, quoteattr

from scribeline.drawing.drafting import by_layer, dash_pattern, exploded
from scribeline.drawing.face import EM_PER_CAP, FAMILY, printable
from scribeline.drawing.place import unit
from scribeline.drawing.sheet import (
    Arc,
    Circle,
    Clip,
    Compound,
    Fill,
    Hatch,
    Item,
    Layer,
    Line,
    Mark,
    Path,
    Point,
    Sheet,
    Text,
)


def write(sheet: Sheet) -> bytes:
    """The sheet as an SVG file, UTF-8: size and user units are millimetres, numbers good to 1e-4 mm.

    The same sheet always gives the same bytes. Each mark carries the feature it belongs to as `data-ref`,
    each layer's group its name as `data-layer`.
    """
    width, height = _number(sheet.width), _number(sheet.height)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" font-family="{FAMILY}">',
        f"<title>{escape(printable(sheet.name))}</title>",
        *_Writer(sheet).lines(),
        "</svg>",
        "",
    ]
    return "\n".join(lines).encode()


class _Writer:
    """Holds what every mark needs to find its place: the page's corner and the names already used."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.left = sheet.origin[0]
        self.top = sheet.origin[1] + sheet.height
        self.names: set[str] = set()

    def lines(self) -> Iterator[str]:
        content = self.group(self.sheet.items)
        cx, cy = self.sheet.correction
        if (cx, cy) == (1.0, 1.0):
            yield from content
            return
        dx, dy = (1 - cx) * self.sheet.width / 2, (1 - cy) * self.sheet.height / 2
        # Factors keep more figures than lengths: 1e-7 of a roll of several metres is below 1e-4 mm.
        yield f'<g transform="matrix({cx:.9g} 0 0 {cy:.9g} {_number(dx)} {_number(dy)})">'
        yield from content
        yield "</g>"

    def group(self, items: Iterable[Item]) -> Iterator[str]:
        items = tuple(items)
        for clip in (item for item in items if isinstance(item, Clip)):
            yield from self.clip(clip)
        for layer, marks in by_layer(items):
            yield f"<g{self.name(layer.name)} data-layer={quoteattr(printable(layer.name))} {_stroke(layer)}>"
            for mark in marks:
                yield from self.mark(mark)
            yield "</g>"

    def clip(self, clip: Clip) -> Iterator[str]:
        name = f"clip {self.sheet.name} {len(self.names)}"
        left, low, right, high = clip.window
        x, y = self.at((left, high))
        across, down = self.at((right, low))
        size = f'width="{_number(across - x)}" height="{_number(down - y)}"'
        yield f'<clipPath{self.name(name)}><rect x="{_number(x)}" y="{_number(y)}" {size}/></clipPath>'
        yield f'<g clip-path="url(#{_slug(name)})">'
        yield from self.group(clip.items)
        yield "</g>"

    def name(self, name: str) -> str:
        """An id attribute, for the first group of that name only: an id may stand once in a file."""
        slug = _slug(name)
        if slug in self.names:
            return ""
        self.names.add(slug)
        return f" id={quoteattr(slug)}"

    def at(self, point: Point) -> Point:
        """From the sheet's coordinates, y up, to the page's, y down."""
        return (point[0] - self.left, self.top - point[1])

    def xy(self, point: Point) -> str:
        return f"{_number(point[0] - self.left)} {_number(self.top - point[1])}"

    def mark(self, mark: Mark) -> Iterator[str]:
        ref = f" data-ref={quoteattr(printable(mark.ref))}" if mark.ref else ""
        match mark:
            case Line():
                yield f'<path{ref} d="M{self.xy(mark.a)}L{self.xy(mark.b)}"/>'
            case Arc():
                yield f'<path{ref} d="{self.arc(mark)}"/>'
            case Circle():
                x, y = self.at(mark.centre)
                yield f'<circle{ref} cx="{_number(x)}" cy="{_number(y)}" r="{_number(mark.radius)}"/>'
            case Path():
                yield f'<path{ref} d="{self.loop(mark.points, mark.closed)}"/>'
            case Text():
                yield self.text(mark, ref)
            case Fill():
                d = "".join(self.loop(loop, closed=True) for loop in mark.loops)
                colour = "#000" if mark.tone == "black" else "#fff"
                yield f'<path{ref} d="{d}" fill="{colour}" fill-rule="evenodd" stroke="none"/>'
            case Compound() | Hatch():
                yield f"<g{ref}>"
                for part in exploded(mark):
                    yield from self.mark(part)
                yield "</g>"

    def loop(self, points: tuple[Point, ...], closed: bool) -> str:
        return "M" + "L".join(map(self.xy, points)) + ("Z" if closed else "")

    def arc(self, arc: Arc) -> str:
        ends = []
        for angle in (arc.start_deg, arc.end_deg):
            cos, sin = unit(angle)
            ends.append((arc.centre[0] + arc.radius * cos, arc.centre[1] + arc.radius * sin))
        r, large = _number(arc.radius), int(arc.sweep_deg > 180.0)
        # Counter-clockwise with y up is SVG's sweep flag 0, whose y points down.
        return f"M{self.xy(ends[0])}A{r} {r} 0 {large} 0 {self.xy(ends[1])}"

    def text(self, text: Text, ref: str) -> str:
        x, y = map(_number, self.at(text.at))
        attributes = [f'x="{x}" y="{y}" font-size="{_number(text.height * EM_PER_CAP)}"']
        if text.anchor != "start":
            attributes.append(f'text-anchor="{text.anchor}"')
        if text.bold:
            attributes.append('font-weight="bold"')
        if text.rotation_deg:
            attributes.append(f'transform="rotate({_number(-text.rotation_deg)} {x} {y})"')
        colour = "#fff" if text.white else "#000"
        return f'<text{ref} {" ".join(attributes)} fill="{colour}" stroke="none">{escape(printable(text.text))}</text>'


def _stroke(layer: Layer) -> str:
    dashes = " ".join(map(_number, dash_pattern(layer)))
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'fill="none" stroke="#000" stroke-width="{_number(layer.width)}"{dashed}'


def _number(value: float) -> str:
    """The value to 1e-4 without trailing zeros; never "-0"."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _slug(name: str) -> str:
    """The name as an XML id: letters and figures of any script, other characters as hyphens."""
    slug = re.sub(r"[^\w.]+", "-", name).strip("-")
    return slug if slug[:1].isalpha() else f"_{slug}"
