"""Things every sheet draws alike: tags, notices, balloons, awl marks, measuring bars, grid crosses.

Each returns plain marks; those that take up room say how much in a `Piece`.
"""

from dataclasses import dataclass

from scribeline.drawing.drafting import TEXT_GAP
from scribeline.drawing.face import LINE_PITCH, text_width, wrap
from scribeline.drawing.place import unit
from scribeline.drawing.print_scale import METRIC, Ruling, bar_words
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    BAR,
    GRID,
    LEAST_LETTERING,
    LETTERING,
    MARK,
    TAG,
    THIN,
    Anchor,
    Circle,
    Fill,
    Item,
    Layer,
    Line,
    Path,
    Point,
    Text,
    Window,
)
from scribeline.findings import Tag


@dataclass(frozen=True, slots=True)
class Piece:
    """Marks that hang from a top left corner, and the room they take, mm."""

    items: tuple[Item, ...]
    width: float
    height: float


def paragraph(
    text: str,
    at: Point,
    width: float,
    *,
    height: float = ACTED_ON_LETTERING,
    bold: bool = False,
    pitch: float = LINE_PITCH,
) -> Piece:
    """Lettering wrapped to `width` below the top left corner `at`; `pitch` of its lines in heights."""
    pitch *= height
    lines = wrap(text, width, height, bold=bold)
    items = tuple(
        Text(LETTERING, (at[0], at[1] - height - n * pitch), line, height, bold=bold)
        for n, line in enumerate(lines)
        if line
    )
    # The last line's descenders belong to the piece.
    return Piece(items, width, len(lines) * pitch - (pitch - height) / 2)


def tag(kind: Tag, at: Point, *, height: float = ACTED_ON_LETTERING) -> Piece:
    """DO NOT CUT as white letters on black, CAUTION outlined, NOTE plain; hangs from its top left corner."""
    pad = 0.0 if kind == "NOTE" else 0.45 * height
    width = text_width(kind, height, bold=True) + 2 * pad
    tall = height + 2 * pad
    x, y = at
    corners = ((x, y), (x + width, y), (x + width, y - tall), (x, y - tall))
    items: list[Item] = []
    if kind == "DO NOT CUT":
        items.append(Fill(TAG, (corners,)))
    elif kind == "CAUTION":
        items.append(Path(TAG, corners, closed=True))
    base = (x + width / 2, y - pad - height)
    items.append(Text(TAG, base, kind, height, "middle", bold=True, white=kind == "DO NOT CUT"))
    return Piece(tuple(items), width, tall)


def notice(kind: Tag, sentence: str, at: Point, width: float, *, height: float = ACTED_ON_LETTERING) -> Piece:
    """A tag with its sentence beside it, wrapped to the `width` of the whole."""
    label = tag(kind, at, height=height)
    pad = (label.height - height) / 2
    indent = label.width + 0.8 * height
    text = paragraph(sentence, (at[0] + indent, at[1] - pad), width - indent, height=height)
    return Piece(label.items + text.items, width, max(label.height, pad + text.height))


def balloon(
    centre: Point, text: str, *, tip: Point | None = None, height: float = ACTED_ON_LETTERING
) -> tuple[Item, ...]:
    """A number in a ring, with a line to what it names; the ring's inside is white."""
    radius = balloon_radius(text, height)
    items: list[Item] = []
    if tip is not None:
        dx, dy = tip[0] - centre[0], tip[1] - centre[1]
        away = max((dx * dx + dy * dy) ** 0.5, 1e-9)
        if away > radius:
            edge = (centre[0] + dx / away * radius, centre[1] + dy / away * radius)
            items.append(Line(THIN, edge, tip))
    ring = tuple(
        (centre[0] + radius * unit(a)[0], centre[1] + radius * unit(a)[1]) for a in range(0, 360, 10)
    )
    items.append(Fill(TAG, (ring,), tone="white"))
    items.append(Circle(TAG, centre, radius))
    items.append(Text(TAG, (centre[0], centre[1] - height / 2), text, height, "middle", bold=True))
    return tuple(items)


def balloon_radius(text: str, height: float = ACTED_ON_LETTERING) -> float:
    """Radius of the ring around a balloon's number."""
    return max(1.15 * height, text_width(text, height, bold=True) / 2 + 0.45 * height)


def awl_mark(
    centre: Point,
    radius: float,
    number: str = "",
    *,
    balloon_at: Point | None = None,
    layer: Layer = MARK,
    ref: str = "",
) -> tuple[Item, ...]:
    """A hole to be punched: its circle at true size and a thin cross whose middle is open.

    The point of the awl sits in white. The number, if any, stands in a balloon at `balloon_at`, which the
    caller puts outside the work.
    """
    opening = min(1.0, 0.45 * radius)
    reach = radius + max(1.5, 0.25 * radius)
    items: list[Item] = [Circle(layer, centre, radius, ref)]
    for angle in (0, 90, 180, 270):
        ux, uy = unit(angle)
        near = (centre[0] + opening * ux, centre[1] + opening * uy)
        far = (centre[0] + reach * ux, centre[1] + reach * uy)
        items.append(Line(THIN, near, far, ref))
    if number and balloon_at is not None:
        dx, dy = balloon_at[0] - centre[0], balloon_at[1] - centre[1]
        away = max((dx * dx + dy * dy) ** 0.5, 1e-9)
        tip = (centre[0] + dx / away * radius, centre[1] + dy / away * radius)
        items += balloon(balloon_at, number, tip=tip)
    return tuple(items)


def measuring_bar(
    start: Point,
    *,
    upright: bool = False,
    ruled: Ruling = METRIC,
    length: float | None = None,
) -> tuple[Item, ...]:
    """A bar to lay a rule on: a line with ticks, longer ones at its ends.

    A second pair of long ticks, marked, serves on a whole bar where a printer cuts the ends off. The
    ticks and the lettering stand on the left of the direction in which the bar is drawn, or on the right
    for an upright one (towards the page in both cases); the whole is `BAR_DEPTH` deep.

    Args:
        start: where it begins.
        upright: up the page, not across it.
        ruled: the ruling that belongs to the paper.
        length: a shorter bar's, mm; the ruling's whole bar when left out.
    """
    long = ruled.bar if length is None else length
    inset = (ruled.bar - ruled.inner) / 2 if long == ruled.bar else 0.0

    def at(along: float, aside: float) -> Point:
        return (start[0] + aside, start[1] + along) if upright else (start[0] + along, start[1] + aside)

    items: list[Item] = [Line(BAR, at(0, 0), at(long, 0))]
    last = round(long / ruled.tick)
    marked = round(inset / ruled.tick)
    for n in range(last + 1):
        along = long * n / last
        tall = 5.0 if n in {0, last} else 3.5 if marked and n in {marked, last - marked} else 1.8
        items.append(Line(THIN, at(along, 0), at(along, tall)))
    words = f"{bar_words(long)}: measure me"
    if marked:
        words += f" ({bar_words(ruled.inner)} between the inner long ticks)"
    aside = 1.8 + TEXT_GAP + (LEAST_LETTERING if upright else 0.0)
    items.append(Text(BAR, at(long / 2, aside), words, LEAST_LETTERING, "middle", 90.0 if upright else 0.0))
    return tuple(items)


BAR_DEPTH = 1.8 + TEXT_GAP + LEAST_LETTERING + 0.9
"""How far a measuring bar's ticks, lettering and descenders reach from its line, mm."""


def grid_cross(at: Point, words: str, *, arm: float = 4.0, within: Window | None = None) -> tuple[Item, ...]:
    """A cross on the drawing's grid, labelled up and to the right of it, or where it shows `within`."""
    x, y = at
    label_x, label_y = x + 1.2, y + 1.2
    anchor: Anchor = "start"
    if within is not None and label_x + text_width(words, LEAST_LETTERING) > within[2] - 1.0:
        label_x, anchor = x - 1.2, "end"
    if within is not None and label_y + LEAST_LETTERING > within[3] - 1.0:
        label_y = y - 1.2 - LEAST_LETTERING
    label = Text(GRID, (label_x, label_y), words, LEAST_LETTERING, anchor)
    return (Line(GRID, (x - arm, y), (x + arm, y)), Line(GRID, (x, y - arm), (x, y + arm)), label)


def datum(at: Point, name: str, *, angle_deg: float = 90.0, reach: float = 8.0) -> tuple[Item, ...]:
    """A datum after ISO 5459: a filled triangle on the edge, a line, and the name in a box.

    Args:
        at: A point on the edge or line that is the datum.
        name: "A" or a few words.
        angle_deg: The direction in which the box stands off; a quarter turn.
        reach: Distance from the edge to the box, mm.
    """
    ux, uy = unit(angle_deg)
    half, tall, height = 2.0, 3.5, ACTED_ON_LETTERING
    peak = (at[0] + ux * tall, at[1] + uy * tall)
    foot = ((at[0] - uy * half, at[1] + ux * half), (at[0] + uy * half, at[1] - ux * half))
    end = (at[0] + ux * reach, at[1] + uy * reach)
    wide, high = text_width(name, height, bold=True) + 0.9 * height, 1.9 * height
    middle = (end[0] + ux * wide / 2, end[1] + uy * high / 2)
    left, low = middle[0] - wide / 2, middle[1] - high / 2
    box = ((left, low), (left + wide, low), (left + wide, low + high), (left, low + high))
    return (
        Fill(TAG, ((peak, *foot),)),
        Line(THIN, peak, end),
        Fill(TAG, (box,), tone="white"),
        Path(TAG, box, closed=True),
        Text(TAG, (middle[0], middle[1] - height / 2), name, height, "middle", bold=True),
    )
