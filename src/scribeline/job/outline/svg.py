"""Reading what an SVG file draws."""

from __future__ import annotations

import io
import itertools
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree
from xml.parsers import expat

import numpy as np

from scribeline.job.outline.curves import arc_points, bezier_points
from scribeline.job.outline.drawing_file import DrawingFile, bytes_of
from scribeline.job.outline.loops import MOST_PIECES, Piece
from scribeline.job.outline.ring import MOST_POINTS, OutlineError
from scribeline.lengths import quoted

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path
    from xml.etree.ElementTree import Element

    from numpy.typing import NDArray

    Points = NDArray[np.float64]

_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "q": 0.25}
"""Absolute units (CSS Values and Units 3, section 6.2); px is left out, programs disagree about it."""

_LIKELY = (
    ("millimetres", 1.0),
    ("pixels of 1/96 in", 25.4 / 96),
    ("points of 1/72 in", 25.4 / 72),
    ("pixels of 1/90 in", 25.4 / 90),
    ("inches", 25.4),
)

_SHAPES = {"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"}
_GROUPS = {"svg", "g", "a", "switch"}
_SIZES = ("x", "y", "width", "height", "cx", "cy", "r", "rx", "ry", "x1", "y1", "x2", "y2")
_LABEL = "{http://www.inkscape.org/namespaces/inkscape}label"
_HREFS = ("href", "{http://www.w3.org/1999/xlink}href")
_INDEX = "data-outline-index"
_DEEPEST = 100

MOST_ELEMENTS = 200_000
"""Elements a file may hold, shown or not: a drawing program writes a few for each shape."""

TOO_MANY_ELEMENTS = f"holds more than {MOST_ELEMENTS} elements; save the outline alone into a new file"

MOST_NUMBERS = 2 * MOST_POINTS
"""Numbers in the path data of all that is read: two for each corner an outline may have."""

_MOST_MOVES = 4_000_000
"""Letters of all transforms together, each shape with those of its groups: for 30,000 shapes of a plain drawing a third."""

_LONGEST_ATTRIBUTE = 100
"""Letters of a size or of a viewBox."""

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_EACH_NUMBER = re.compile(_NUMBER)
_CLASS = re.compile(r"\.([\w-]++)\s*+\{")
_PATH_DATA = re.compile(r"[MmZzLlHhVvCcSsQqTtAa0-9eE+\-.,\s]*")
_LENGTH = re.compile(rf"\s*({_NUMBER})\s*([A-Za-z%]*)\s*")


@dataclass(frozen=True)
class _Inherited:
    """What a group hands down to what it holds."""

    transform: str = ""
    layer: str = ""
    chosen: bool = False
    visible: bool = True
    depth: int = 0


@dataclass(frozen=True)
class _Drawn:
    """A shape element, with the transforms of all its groups in front of its own."""

    element: Element
    transform: str
    layer: str


@dataclass(frozen=True)
class _Page:
    """How the file's numbers become the page: `(point - corner) * scale`, in mm where `sized`."""

    corner: Points
    scale: float
    sized: bool
    words: str


def open_svg(path: Path, *, layer: str | None) -> DrawingFile:
    """Opens an SVG file.

    Args:
        path: The file.
        layer: The layer's label, or the id of a group or shape, to read; None reads all that is shown.

    Raises:
        OutlineError: If the file is no readable SVG, or the layer holds nothing drawn.
    """
    root = _root(path)
    page = _page(root, path)
    shapes = _parsed(_Walk(root, path, layer).shapes(), path)
    source = f"file {path.name}" + (f", layer {layer}" if layer is not None else "")

    def pieces(tolerance: float) -> Iterator[Piece]:
        for shape, name in shapes:
            try:
                runs = list(_runs(shape, tolerance / page.scale))
            except (ArithmeticError, ValueError, AttributeError, TypeError):
                raise OutlineError(
                    f"{source}: a shape on layer '{name}' has a broken or far too large number in it; redraw it."
                ) from None
            for points, closed in runs:
                yield Piece((points - page.corner) * page.scale, closed, name)

    return DrawingFile(
        source,
        pieces,
        1.0 if page.sized else None,
        "mm" if page.sized else "units",
        page.words,
        _LIKELY,
        y_down=True,
    )


def _root(path: Path) -> Element:
    data = bytes_of(path)
    _refuse_declarations(data, path)
    try:
        root = ElementTree.fromstring(data)
    except (ElementTree.ParseError, ValueError, LookupError) as error:
        raise _unreadable(path, error) from None
    if _tag(root) != "svg":
        raise OutlineError(f"file {path.name} is XML but no SVG drawing; save the outline as SVG again.")
    return root


def _refuse_declarations(data: bytes, path: Path) -> None:
    """Reads the file once for its declarations alone: an entity can unfold into gigabytes."""
    parser = expat.ParserCreate()

    def refuse(*_: object) -> None:
        raise OutlineError(
            f"file {path.name} declares XML entities, which are not read; save it as plain SVG and try again."
        )

    def doctype(_name: str, _system: str | None, _public: str | None, has_subset: int) -> None:
        if has_subset:
            refuse()

    elements = itertools.count(1)

    def element(_name: str, _attributes: object) -> None:
        if next(elements) > MOST_ELEMENTS:
            raise OutlineError(f"file {path.name} {TOO_MANY_ELEMENTS}.")

    parser.StartDoctypeDeclHandler = doctype
    parser.EntityDeclHandler = refuse
    parser.StartElementHandler = element
    try:
        parser.Parse(data, True)
    except OutlineError:
        raise
    except (expat.ExpatError, ValueError, LookupError) as error:
        raise _unreadable(path, error) from None


def _unreadable(path: Path, error: Exception) -> OutlineError:
    return OutlineError(
        f"file {path.name} is not a readable SVG file ({error}); save the outline as plain SVG again."
    )


def _tag(element: Element) -> str:
    # A comment or instruction carries a function where an element has its name.
    return str(element.tag).rpartition("}")[2]


def _page(root: Element, path: Path) -> _Page:
    """The page's size and viewBox (SVG 2, section 8): what one of the file's numbers measures."""
    box = [float(n) for n in _EACH_NUMBER.findall(root.get("viewBox", "")[:_LONGEST_ATTRIBUTE])]
    sides = [_absolute(root.get("width")), _absolute(root.get("height"))]
    whole = np.zeros(2)
    if len(box) != 4 or not (0 < min(box[2:]) <= max(box[2:]) < np.inf) or not any(sides):
        return _Page(whole, 1.0, False, "the file has no page size in mm or inches with a viewBox")
    scales = [side / extent for side, extent in zip(sides, box[2:], strict=True) if side]
    fit = root.get("preserveAspectRatio", "xMidYMid meet")
    if max(scales) > 1.001 * min(scales):
        raise OutlineError(
            f"file {path.name}: the page ({root.get('width')} × {root.get('height')}) and its viewBox"
            f" ({box[2]:g} × {box[3]:g}) have different proportions, so the scale is"
            " doubtful; set the page size"
            " again in the drawing program."
        )
    scale = max(scales) if "slice" in fit else min(scales)
    spare = np.array(
        [side / scale - extent if side else 0.0 for side, extent in zip(sides, box[2:], strict=True)]
    )
    share = [0.0 if f"{axis}Min" in fit else 1.0 if f"{axis}Max" in fit else 0.5 for axis in ("x", "Y")]
    words = f"page size {root.get('width', 'free')} × {root.get('height', 'free')} in the file"
    return _Page(np.array(box[:2]) - spare * share, scale, True, words)


def _absolute(text: str | None) -> float | None:
    found = _length(text or "")
    if not found or found[2].lower() not in _MM:
        return None
    length = float(found[1]) * _MM[found[2].lower()]
    return length if 0 < length < np.inf else None


def _length(text: str) -> re.Match[str] | None:
    return _LENGTH.fullmatch(text) if len(text) <= _LONGEST_ATTRIBUTE else None


class _Walk:
    """Collects the shapes a file shows, references followed, with transforms and layers handed down."""

    def __init__(self, root: Element, path: Path, layer: str | None) -> None:
        self._root = root
        self._path = path
        self._layer = layer
        self._by_id = {element.get("id"): element for element in root.iter() if element.get("id")}
        self._classes = self._class_styles()
        self._visited = 0
        self._numbers = 0
        self._moves = 0
        self._layers: set[str] = set()

    def shapes(self) -> list[_Drawn]:
        """All shapes shown and wanted.

        Raises:
            OutlineError: If there are none, too many, or some that cannot be placed surely.
        """
        start = _Inherited(chosen=self._layer is None)
        drawn = [shape for child in self._root for shape in self._walk(child, start)]
        if drawn:
            return drawn
        held = ", ".join(f"'{name}'" for name in sorted(self._layers)[:12])
        held = f"; shapes are on {held}" if held else ""
        if self._layer is not None:
            raise OutlineError(
                f"file {self._path.name}: layer '{self._layer}' holds no shape{held}; name"
                " the outline's layer."
            )
        raise OutlineError(f"file {self._path.name}: no shape is shown; draw the outline as a path.")

    def _walk(self, element: Element, above: _Inherited) -> Iterator[_Drawn]:
        tag = _tag(element)
        if tag not in _SHAPES and tag not in _GROUPS and tag != "use":
            return
        self._visited += 1
        if self._visited > MOST_PIECES or above.depth > _DEEPEST:
            raise OutlineError(
                f"file {self._path.name}: too many shapes, or groups nested too deep; save"
                " the outline alone into a"
                " new file."
            )
        style = self._style(element)
        if style.get("display") == "none":
            return
        here = self._handed_down(element, style, above)
        if tag in _SHAPES:
            if here.visible:
                self._layers.add(here.layer)
                if here.chosen:
                    self._check_numbers(element, here.layer)
                    self._count(element, here)
                    yield _Drawn(element, here.transform, here.layer)
        elif tag == "use":
            yield from self._referenced(element, here)
        else:
            self._refuse_inner_page(element, tag)
            for child in element:
                yield from self._walk(child, here)

    def _handed_down(self, element: Element, style: dict[str, str], above: _Inherited) -> _Inherited:
        if "transform" in style and element.get("transform") != style["transform"]:
            raise OutlineError(
                f"file {self._path.name}: a shape is moved by a style sheet, which is not"
                " read; save as plain SVG."
            )
        names = [name for name in (element.get(_LABEL), element.get("id")) if name]
        named_layer = _tag(element) in _GROUPS and bool(names)
        shape_name = names[0] if names and not above.layer else above.layer
        wanted = self._layer is not None and self._layer.casefold() in {name.casefold() for name in names}
        return replace(
            above,
            transform=f"{above.transform} {element.get('transform', '')}".strip(),
            layer=names[0] if named_layer else shape_name,
            chosen=above.chosen or wanted,
            visible=style.get("visibility", "visible" if above.visible else "hidden") == "visible",
            depth=above.depth + 1,
        )

    def _referenced(self, element: Element, here: _Inherited) -> Iterator[_Drawn]:
        name = next((element.get(key, "") for key in _HREFS if element.get(key)), "")
        target = self._by_id.get(name[1:]) if name.startswith("#") else None
        if target is None:
            return
        self._check_numbers(element, here.layer)
        shift = f"translate({element.get('x', '0')},{element.get('y', '0')})"
        here = replace(here, transform=f"{here.transform} {shift}".strip())
        if _tag(target) == "symbol":
            self._refuse_inner_page(target, "symbol")
            for child in target:
                yield from self._walk(child, here)
        else:
            yield from self._walk(target, here)

    def _refuse_inner_page(self, element: Element, tag: str) -> None:
        if tag == "svg" or element.get("viewBox"):
            raise OutlineError(
                f"file {self._path.name}: a drawing inside the drawing ({tag} with a page"
                " of its own) is not read;"
                " ungroup it in the drawing program and save as plain SVG."
            )

    def _count(self, element: Element, here: _Inherited) -> None:
        """Refuses more than can be read in a few seconds; what is referred to counts wherever it is shown."""
        self._moves += len(here.transform)
        if self._moves > _MOST_MOVES:
            raise OutlineError(
                f"file {self._path.name}: its shapes are moved by more transforms than can be read; ungroup them in"
                " the drawing program, or save the outline alone into a new file."
            )
        data = element.get("d") or element.get("points") or ""
        self._numbers += len(_EACH_NUMBER.findall(data))
        if self._numbers > MOST_NUMBERS:
            raise OutlineError(
                f"file {self._path.name}: its shapes have more than {MOST_NUMBERS} numbers in their path data; name"
                " the layer that holds the outline alone, or simplify the drawing."
            )

    def _check_numbers(self, element: Element, layer: str) -> None:
        """Refuses torn path data, and sizes in mm inside a scaled page: that would be two scales at once."""
        if not _PATH_DATA.fullmatch(element.get("d", "")):
            # A viewer draws such a path up to the fault; half an outline is worse than none.
            raise OutlineError(
                f"file {self._path.name}: the path data of a {_tag(element)} on layer '{layer}' is damaged; redraw"
                " the outline and save as plain SVG."
            )
        for name in _SIZES:
            found = _length(element.get(name, "0"))
            if found is None or found[2] not in ("", "px"):
                raise OutlineError(
                    f"file {self._path.name}: the {name} of a {_tag(element)} is"
                    f" {quoted(element.get(name, ''))}, with a unit"
                    " of its own; convert the shape to a path in the drawing program."
                )

    def _class_styles(self) -> dict[str, dict[str, str]]:
        classes: dict[str, dict[str, str]] = {}
        for element in self._root.iter():
            if _tag(element) == "style":
                *rules, _ = (element.text or "").split("}")
                for rule in rules:
                    if (named := _CLASS.search(rule)) is not None:
                        classes.setdefault(named[1], {}).update(_declarations(rule[named.end() :]))
        return classes

    def _style(self, element: Element) -> dict[str, str]:
        style = {key: element.get(key, "").strip() for key in ("display", "visibility") if element.get(key)}
        for name in element.get("class", "").split():
            style.update(self._classes.get(name, {}))
        style.update(_declarations(element.get("style", "")))
        return style


def _declarations(text: str) -> dict[str, str]:
    pairs = (part.split(":", 1) for part in text.split(";") if ":" in part)
    return {key.strip().lower(): value.replace("!important", "").strip().lower() for key, value in pairs}


def _parsed(drawn: list[_Drawn], path: Path) -> list[tuple[Any, str]]:
    """The shapes as geometry, each with its layer.

    They are handed to the library in a fresh flat file, stripped of all but their geometry.
    """
    import svgelements

    flat = ElementTree.Element("svg", xmlns="http://www.w3.org/2000/svg")
    for index, shape in enumerate(drawn):
        keep = {key: value for key, value in shape.element.attrib.items() if key in (*_SIZES, "d", "points")}
        keep |= {"transform": shape.transform, _INDEX: str(index)}
        ElementTree.SubElement(flat, _tag(shape.element), keep)
    text = ElementTree.tostring(flat, encoding="unicode")
    try:
        # Transforms stay apart from the shapes: folded in by the library, a skewed arc comes out wrong.
        svg = svgelements.SVG.parse(io.StringIO(text), reify=False, ppi=25.4)
        return [
            (shape, drawn[int(shape.values[_INDEX])].layer)
            for shape in svg.elements()
            if isinstance(shape, svgelements.Shape)
        ]
    except MemoryError:
        raise  # says nothing of the file, but of how much room it was given
    except Exception:  # noqa: BLE001 - the parser raises nearly anything on damaged path data
        raise OutlineError(
            f"file {path.name}: the path data of a shape is damaged; redraw the outline and"
            " save as plain SVG."
        ) from None


def _runs(shape: Any, tolerance: float) -> Iterator[tuple[Points, bool]]:
    """The unbroken runs of a shape, flattened before the transform, then transformed."""
    import svgelements

    t = shape.transform
    matrix = np.array([[t.a, t.b], [t.c, t.d]], dtype=float)
    stretch = float(np.linalg.norm(matrix, 2)) if np.isfinite(matrix).all() else np.nan
    if not stretch > 0:
        return
    local = tolerance / stretch
    run: list[Points] = []
    for segment in shape.segments(transformed=False):
        if isinstance(segment, svgelements.Move):
            yield from _finished(run, False, matrix, t)
            run = [_xy(segment.end)[None, :]]
        elif isinstance(segment, svgelements.Close):
            yield from _finished(run, True, matrix, t)
            # A run may go on after a close: it starts where the closed one began.
            run = [run[0][:1]] if run else []
        elif run:
            run.append(_segment_points(segment, local))
    yield from _finished(run, False, matrix, t)


def _finished(
    run: list[Points], closed: bool, matrix: Points, transform: Any
) -> Iterator[tuple[Points, bool]]:
    if len(run) > 1:
        yield np.concatenate(run) @ matrix + np.array([transform.e, transform.f], dtype=float), closed


def _segment_points(segment: Any, tolerance: float) -> Points:
    import svgelements

    if isinstance(segment, svgelements.Arc):
        centre = _xy(segment.center)
        points = arc_points(
            centre,
            _xy(segment.prx) - centre,
            _xy(segment.pry) - centre,
            float(segment.get_start_t()),
            float(segment.sweep),
            tolerance,
        )[1:]
        points[-1] = _xy(segment.end)
        return points
    if isinstance(segment, svgelements.Line):
        return _xy(segment.end)[None, :]
    inner = [getattr(segment, name) for name in ("control", "control1", "control2") if hasattr(segment, name)]
    return bezier_points(np.array([_xy(point) for point in (segment.start, *inner, segment.end)]), tolerance)


def _xy(point: Any) -> Points:
    xy = np.array([point.x, point.y], dtype=float)
    if not np.isfinite(xy).all():
        raise OverflowError("a coordinate that is not finite")
    return xy
