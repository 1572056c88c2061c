"""Full-size templates: the front and the back of the body on the builder's own paper, with their numbers."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from scribeline.drawing.block import Caption, cautions
from scribeline.drawing.board import strip_items
from scribeline.drawing.carve import PITCH, section_pages, side_items
from scribeline.drawing.crowding import Crowd
from scribeline.drawing.drafting import dimension_line, exploded
from scribeline.drawing.extent import bounds, covered
from scribeline.drawing.face import LINE_PITCH, text_width
from scribeline.drawing.facing import (
    SEEN,
    Show,
    body_window,
    datum_in_words,
    drawable,
    neck_end_across,
    treble_up,
    view_point,
)
from scribeline.drawing.head import head_items
from scribeline.drawing.marks import Piece, paragraph
from scribeline.drawing.nut import nut_items
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.print_scale import FULL_USE, SHORT_GROUPS, Ruling, bar_words, ruling
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    DIMENSION,
    LETTERING,
    OUTLINE,
    TEMPLATE_LETTERING,
    Circle,
    Dimension,
    Fill,
    Item,
    Line,
    Path,
    Point,
    Sheet,
    Text,
    Window,
)
from scribeline.drawing.table import table
from scribeline.drawing.tiles import Tiling, grid_crosses, split, tile
from scribeline.drawing.views import back_view, front_view, turning_picture
from scribeline.features import Family, rows_along, runs, slope_words
from scribeline.features.cuts import Face
from scribeline.layout import ANCHORS, Mark
from scribeline.lengths import both_units, by_inches, figure, give_or_take, in_unit, said
from scribeline.plan import Plan
from scribeline.plan.was_now import WasNow, was_now
from scribeline.steps import BY_MACHINE, DEFERS, PROVE_FIRST, balloon
from scribeline.tables.paper import Roll, desk_paper, paper_size_mm, read_paper

CAUTIONS = (BY_MACHINE["bench"][0],)
"""What can hurt while pricking through a template; on every page."""

_FACES: tuple[Face, Face] = ("top", "back")
_PITCH = 15.0
"""Between parallel dimension lines, mm: two units of lettering and white."""
_ROUND_IT = 100.0
"""How far from the body what stands round it reaches, mm."""
_FEW_ROWS = 3
"""Rows and marks of a bridge that leave room for the larger lettering."""
_ROUND_A_HOLE = 2.0
"""What stays clear of numbers round a hole, where its cross is, mm."""
_BESIDE_A_LINE = 4.0
"""From a dimension's line to the picture beside it, mm."""
_CENTRAL = 45.0
"""Pockets that come nearer to the centreline than this have the dimensions outside them, mm."""
_NOTES_WIDTH = 174.0
_BETWEEN_NOTES = 2.2
_SMALL_PAGE = 230.0
"""A page whose short side is under this gets its notes on a page of their own, mm."""


def template_sheets(
    plan: Plan, *, paper: str | None = None, correction: tuple[float, float] = (1.0, 1.0)
) -> list[Sheet]:
    """The templates at full size: how to use them, then the front, then the back.

    Args:
        plan: What to draw.
        paper: A size of the paper table, or a roll by its width ("610 mm"); the job's own by default.
        correction: Factors on x and y for a printer that shrinks or stretches (see `print_verdict`).

    Raises:
        PaperError: Paper too small for a template.
        UnknownName: No such paper.
        LengthError: A roll whose width cannot be read.
    """
    plan = drawable(plan)
    on = read_paper(paper or plan.job.document.print.paper, unit=plan.unit)
    front, back = _laid_out(plan, "top", on), _laid_out(plan, "back", on)
    parts = [front, back]
    noted = None if _is_small(on) else _laid_out(plan, "top", on, notes=True)
    if noted is not None and len(noted.tiling.tiles) <= len(front.tiling.tiles):
        parts = [noted, back]
    else:
        # Notes on a sheet of their own need no large paper.
        parts = [*_note_pages(plan, desk_paper(on), ruling(on)), *parts]
    for title, items in (("Fingerboard strip", strip_items(plan)), ("Head template", head_items(plan))):
        if items:
            parts.append(_beside_the_body(plan, title, items, on))
    for items in section_pages(plan):
        datum = "each template's shoulders lie on the fingerboard's glue line"
        part = _beside_the_body(plan, "Neck sections", items, on, datum=datum, view="seen from the head")
        parts.append(replace(part, grid=PITCH))
    if items := side_items(plan):
        parts.append(_beside_the_body(plan, "Neck from the side", items, on, view="seen from the side"))
    if items := nut_items(plan):
        parts.append(_beside_the_body(plan, "Nut strip", items, on, datum="the front's bass end"))
    total = sum(len(part.tiling.tiles) for part in parts)
    sheets: list[Sheet] = []
    for part in parts:
        sheets += tile(
            part.items,
            part.extent,
            part.caption,
            grid=part.grid,
            coordinates=_coordinates(part.face),
            correction=correction,
            first_sheet=len(sheets) + 1,
            sheets=total,
            tiling=part.tiling,
            bare=part.bare,
        )
    return sheets


@dataclass(frozen=True, slots=True)
class _Part:
    """One drawing of the set, the pages it goes on, and where it keeps clear of the grid's crosses."""

    face: Face
    items: tuple[Item, ...]
    extent: Window
    caption: Caption
    tiling: Tiling
    grid: float | None = None
    bare: Window | None = None


def _laid_out(plan: Plan, face: Face, paper: str | Roll, *, notes: bool = False) -> _Part:
    """A face's drawing on its pages, drawn anew once the joins are known so that they cut no lettering."""
    caption = _caption(plan, "Front template" if face == "top" else "Back template", SEEN[face])
    items, bare = _noted(plan, _drawing(plan, face, ruling(paper)), paper, notes=notes)
    extent = _extent(items)
    tiling = split(items, extent, caption, paper=paper)
    if len(tiling.grid) > 1:
        again, clear = _noted(plan, _drawing(plan, face, ruling(paper), tiling), paper, notes=notes)
        kept = tiling.holding(again)
        if kept.covers(_extent(again)) and len(kept.tiles) <= len(tiling.tiles):
            items, extent, tiling, bare = again, _extent(again), kept, clear
    return _Part(face, items, extent, caption, tiling, bare=bare)


def _beside_the_body(
    plan: Plan,
    title: str,
    items: tuple[Item, ...],
    paper: str | Roll,
    *,
    datum: str = "",
    view: str = SEEN["top"],
) -> _Part:
    """Another workpiece on its pages, counted from the nut."""
    caption = _caption(plan, title, view)
    start = plan.job.document.nut.start("the nut's front").removeprefix("the ")
    datum = datum or f"{start}, where the centreline crosses it"
    caption = replace(caption, datum=f"{datum}; the figures govern")
    extent = _extent(items)
    return _Part("top", items, extent, caption, split(items, extent, caption, paper=paper))


def _caption(plan: Plan, title: str, view: str) -> Caption:
    document = plan.job.document
    return Caption(
        job=document.name,
        title=title,
        revision=document.revision,
        date=document.date.isoformat() if document.date else "date ____________",
        hand=f"{plan.layout.handed}-handed",
        view=view,
        datum=datum_in_words(plan),
        scale="1:1 (full size)",
        kind="template",
        cautions=CAUTIONS,
        unit=plan.unit,
    )


def _drawing(plan: Plan, face: Face, ruled: Ruling, tiling: Tiling | None = None) -> tuple[Item, ...]:
    """One face with its numbers, each piece of lettering whole on one of the pages where these are known."""
    pages = tiling.whole_windows() if tiling is not None else []
    show = Show(hidden=True, lettering=TEMPLATE_LETTERING, saddles=False)
    windows = [page.window for page in tiling.tiles] if tiling is not None else [_wide(plan, face)]
    crosses = [c for window in windows for c in grid_crosses(window, ruled, _coordinates(face), plan.unit)]
    edge = [view_point(face, point) for point in plan.layout.outline]
    holes = [
        Circle(OUTLINE, view_point(face, bore.at), bore.widest / 2 + _ROUND_A_HOLE)
        for bore in plan.features.bores
        if bore.face == face
    ]
    crowd = Crowd([*crosses, *holes, Path(OUTLINE, tuple(edge), closed=True)], pages)
    crossed = Crowd([*crosses, *holes])
    numbers = [*_dimensions(plan, face, crowd, crossed), *_over_all(plan, face, crowd, crossed)]
    draw = front_view if face == "top" else back_view
    items = [*draw(plan, show, keep_clear=[*numbers, *crosses], pages=pages), *numbers]
    taken = Crowd([*items, *crosses], pages)
    items += _slant_notes(plan, taken) if face == "top" else _turned(plan, taken)
    return tuple(items)


def _noted(
    plan: Plan, items: tuple[Item, ...], paper: str | Roll, *, notes: bool
) -> tuple[tuple[Item, ...], Window | None]:
    """A drawing, with the notes beside it if they are wanted, and the place these take."""
    if not notes:
        return items, None
    beside = _notes_beside(plan, _extent(items), ruling(paper))
    return (*items, *beside), covered(beside)


def _notes_beside(plan: Plan, extent: Window, ruled: Ruling) -> list[Item]:
    left, top = extent[2] + 12.0, extent[3]
    items: list[Item] = []
    for piece in _notes(plan, ruled):
        items += placed(piece.items, Transform(offset=(left, top)))
        top -= piece.height + 4.0
    return items


def _coordinates(face: Face) -> Callable[[Point], Point]:
    """From a view's coordinates to the instrument's."""
    return (lambda p: p) if face == "top" else (lambda p: (p[0], -p[1]))


def _wide(plan: Plan, face: Face) -> Window:
    """The body with a margin for what stands round it."""
    left, bottom, right, top = body_window(plan, face)
    return (left - _ROUND_IT, bottom - _ROUND_IT, right + _ROUND_IT, top + _ROUND_IT)


def _extent(items: Sequence[Item]) -> Window:
    box = covered(items)
    return (box[0] - 1.0, box[1] - 1.0, box[2] + 1.0, box[3] + 1.0)


# Numbers on the templates


def _rows(plan: Plan, face: Face) -> Iterator[tuple[str, float, float]]:
    """What is set out from the pocket's end wall: words, x, and how far across it reaches, mm."""
    bridge = plan.layout.bridge
    if bridge is None:
        return
    if face == "top":
        for mark in bridge.marks:
            if not mark.drilled:
                yield mark.name, mark.at.x, bridge.half_width
    if (
        bridge.units
    ):  # each base has rows of its own: its crosses stand at full size, its numbers in the drill list
        return
    families: tuple[Family, ...] = ("string-hole", *ANCHORS) if face == "top" else ("ferrule-hole",)
    for family in families:
        rows = rows_along(plan.features.family(family))
        for row in rows:
            which = "" if len(rows) == 1 else f" {runs([balloon(bore.id) for bore in row])}"
            yield f"{row[0].group}{which}", row[0].at.x, max(abs(bore.at.y) + bore.widest / 2 for bore in row)


def _dimensions(plan: Plan, face: Face, crowd: Crowd, crosses: Crowd) -> list[Item]:
    """Each row from the pocket's end wall, never from one another, on the side with more room."""
    layout = plan.layout
    up = _roomier_side(plan, face)
    wall = max(abs(y) for y in neck_end_across(plan))
    rows = sorted(_rows(plan, face), key=lambda row: row[1])
    spans = [(p, [q.y for q in p.outline]) for p in plan.features.pockets]
    central = [p for p, ys in spans if min(ys) < _CENTRAL and max(ys) > -_CENTRAL]
    level = max([wall, *(row[2] for row in rows), *(abs(q.y) for p in central for q in p.outline)]) + 14.0
    items: list[Item] = []
    size = TEMPLATE_LETTERING if len(rows) <= _FEW_ROWS else ACTED_ON_LETTERING
    for words, x, reach in rows:
        if layout.past("pocket-end", x) < 1.0:
            continue
        mm, inches = both_units(layout.past("pocket-end", x), plan.unit)
        a, b = (layout.pocket_end, up * wall), (x, up * (reach + 1.5))
        dimension = Dimension(DIMENSION, a, b, (a[0], up * level), f"to {words}: {mm}", inches, "x", size)
        risen, parts = _slid(dimension, crowd, crosses, (0.0, up))
        items += parts
        level += risen + _PITCH
    note = _off_the_body(plan, face)
    if note:
        box = covered(note)
        places = [
            (float(across), up * (level + further), 0.0)
            for further in range(0, 60, 3)
            for across in sorted(range(-100, 161, 4), key=abs)
        ]
        u, v, _ = crowd.best(
            places,
            lambda p: (box[0] + p[0] - 1.0, box[1] + p[1] - 1.0, box[2] + p[0] + 1.0, box[3] + p[1] + 1.0),
        )
        items += placed(note, Transform(offset=(u, v)))
        crowd.add(items[-len(note) :])
    return items


def _slid(dimension: Dimension, crowd: Crowd, crosses: Crowd, away: Point) -> tuple[float, list[Item]]:
    """A dimension whose lettering has slid along its line to where a page holds it whole and nothing is covered.

    It may slide out past an end, on the line carried on; where that does not help, the whole line moves further
    `away` (a direction). The first number returned says how far, mm.
    """
    parts = exploded(dimension)
    box = covered([part for part in parts if isinstance(part, Text)])
    axis = 1 if dimension.along == "y" else 0
    low, high = sorted(end[axis] for end in dimension_line(dimension))
    # Only lettering that stands between the arrows slides.
    inside = low <= box[axis] and box[axis + 2] <= high
    farthest = high - low if inside else 0.0
    shifts = sorted((farthest * n / 30 for n in range(-30, 31)), key=abs) if inside else [0.0]

    def moved(place: tuple[float, float, float]) -> Window:
        u, v, _ = place
        return (box[0] + u - 1.0, box[1] + v - 1.0, box[2] + u + 1.0, box[3] + v + 1.0)

    def strays(place: tuple[float, float, float]) -> float:
        shift = abs(place[axis] - away[axis] * place[2])
        overhang = max(0.0, shift - (high - low - box[axis + 2] + box[axis]) / 2 + 3.0)
        return 0.05 * shift + 4.0 * overhang + place[2]

    def covers(place: tuple[float, float, float]) -> float:
        level = dimension.at[1 - axis] + away[1 - axis] * place[2]
        line = (low, level - 0.5, high, level + 0.5)
        if axis:
            line = (level - 0.5, low, level + 0.5, high)
        return crowd.cost(moved(place)) + 0.2 * crosses.cost(line)

    places = [
        (shift * (axis == 0) + away[0] * rise, shift * (axis == 1) + away[1] * rise, rise)
        for rise in (0.0, 3.0, 6.0, 9.0, 12.0, 16.0, 20.0, 25.0, 30.0)
        for shift in shifts
    ]
    place, least = places[0], float("inf")
    for tried in sorted(places, key=strays):
        if strays(tried) >= least:
            break
        if (cost := strays(tried) + covers(tried)) < least:
            place, least = tried, cost
    u, v, rise = place
    at = (dimension.at[0] + away[0] * rise, dimension.at[1] + away[1] * rise)
    along = Transform(offset=(u - away[0] * rise, v - away[1] * rise))
    items: list[Item] = [
        placed((part,), along)[0] if isinstance(part, Text) else part
        for part in exploded(replace(dimension, at=at))
    ]
    first, last = moved(place)[axis], moved(place)[axis + 2]
    for end, reach in ((low, min(low, first)), (high, max(high, last))):
        if inside and abs(end - reach) > 1.0:
            a, b = ((end, at[1]), (reach, at[1])) if axis == 0 else ((at[0], end), (at[0], reach))
            items = [Line(DIMENSION, a, b), *_whitened(items)]
    crowd.add(item for item in items if not isinstance(item, Fill))
    return rise, items


def _whitened(items: Sequence[Item]) -> Iterator[Item]:
    """The marks of a dimension whose lettering runs out over an extension line, with white behind the lettering."""
    for item in items:
        box = bounds((item,))
        if not isinstance(item, Text) or box is None:
            yield item
        else:
            left, right = box[0] - 0.5, box[2] + 0.5
            low = item.at[1] - 0.1 if not item.rotation_deg else box[1] - 0.5
            corners = ((left, low), (right, low), (right, box[3] + 0.4), (left, box[3] + 0.4))
            yield Fill(LETTERING, (corners,), tone="white")
            yield replace(item, layer=LETTERING)


def _roomier_side(plan: Plan, face: Face) -> int:
    """+1 for the upper half of the view, −1 for the lower: where fewer pockets lie; the bass side for equals."""
    treble = treble_up(plan, face)
    beside = [0, 0]
    for pocket in plan.features.pockets:
        for n, side in enumerate((treble, -treble)):
            beside[n] += any(side * view_point(face, point)[1] > 45.0 for point in pocket.outline)
    return treble if beside[0] < beside[1] else -treble


def _off_the_body(plan: Plan, face: Face) -> list[Text]:
    """What is measured from a place that is not on the body, in words about level zero."""
    layout = plan.layout
    if face == "back" or layout.bridge is None:
        return []
    if len(layout.bridge.marks) > _FEW_ROWS:
        return _many_off_the_body(plan, layout.bridge.marks)
    size, small = TEMPLATE_LETTERING, ACTED_ON_LETTERING
    left = layout.pocket_end + 2.0
    items: list[Text] = []
    for number, mark in enumerate(layout.bridge.marks):
        mm, inches = both_units(layout.past("12th-fret", mark.at.x), plan.unit)
        level = -number * LINE_PITCH * (size + small)
        below = (left, level - LINE_PITCH * small)
        items.append(Text(LETTERING, (left, level), f"12th fret to {mark.name}: {mm}", size))
        items.append(Text(LETTERING, below, f"{inches}; the 12th fret is off this template", small))
    return items


def _many_off_the_body(plan: Plan, marks: Sequence[Mark]) -> list[Text]:
    """The same of a bridge with many marks, a line each."""
    told = [
        ", ".join((f"12th fret to {mark.name}: {mm}", inches))
        for mark in marks
        for mm, inches in (both_units(plan.layout.past("12th-fret", mark.at.x), plan.unit),)
    ]
    size, left = ACTED_ON_LETTERING, plan.layout.pocket_end + 2.0
    return [
        Text(LETTERING, (left, -number * LINE_PITCH * size), line, size)
        for number, line in enumerate((*told, "The 12th fret is off this template."))
    ]


def _over_all(plan: Plan, face: Face, crowd: Crowd, crosses: Crowd) -> list[Item]:
    """Length and width of the whole body: proves joined pages as well as any number."""
    left, bottom, right, top = body_window(plan, face)
    ring = [view_point(face, point) for point in plan.layout.outline]
    tail, neck = max(ring), min(ring)
    lowest, highest = min(ring, key=lambda p: p[1]), max(ring, key=lambda p: p[1])
    (length, length_in), (width, width_in) = (
        both_units(right - left, plan.unit),
        both_units(top - bottom, plan.unit),
    )
    size = TEMPLATE_LETTERING
    found: list[Item] = []
    for dimension, away in (
        (
            Dimension(
                DIMENSION, neck, tail, (left, bottom - 12.0), f"over all: {length}", length_in, "x", size
            ),
            (0, -1),
        ),
        (
            Dimension(
                DIMENSION, lowest, highest, (right + 18.0, 0.0), f"over all: {width}", width_in, "y", size
            ),
            (1, 0),
        ),
    ):
        found += _slid(dimension, crowd, crosses, away)[1]
    return found


def _slant_notes(plan: Plan, crowd: Crowd) -> list[Item]:
    """The angle of each slanting hole, near it."""
    found: list[Item] = []
    for bore in plan.features.bores:
        if bore.face != "top" or bore.is_upright:
            continue
        words = f"{balloon(bore.id)}: {slope_words(bore)}"
        size = ACTED_ON_LETTERING
        wide = text_width(words, size)
        u, v = view_point("top", bore.at)
        places = [
            (u + across * 15.0 - wide / 2, v + k * away, 0.0)
            for away in range(10, 130, 6)
            for k in (1, -1)
            for across in (0, -1, -2, 1, 2)
        ]
        boxes = {p: (p[0] - 2, p[1] - 2, p[0] + wide + 2, p[1] + size + 2) for p in places}
        left, base, _ = crowd.best(places, boxes.__getitem__)
        found.append(Text(LETTERING, (left, base), words, size, ref=bore.id))
        crowd.add(found[-1:])
    return found


def _turned(plan: Plan, crowd: Crowd) -> list[Item]:
    """How the body was turned over, in a corner the body leaves free or in a bare part of it."""
    picture = turning_picture(plan, (0.0, 0.0))
    left, bottom, right, top = body_window(plan, "back")
    # The lines of the whole body's length come down at both its ends.
    left, right = left + _BESIDE_A_LINE, right - _BESIDE_A_LINE
    across = max(1.0, right - left - picture.width)
    down = max(1.0, top - bottom - picture.height)
    places = [
        (left + across * i / 12, top - down * k / 12, 0.0) for i in range(13) for k in (12, 0, 11, 1, 10, 2)
    ]
    u, v, _ = crowd.best(
        places, lambda p: (p[0] - 3, p[1] - picture.height - 3, p[0] + picture.width + 3, p[1] + 3)
    )
    return list(turning_picture(plan, (u, v)).items)


# Notes


def _is_small(paper: str | Roll) -> bool:
    return not isinstance(paper, Roll) and min(paper_size_mm(paper)) < _SMALL_PAGE


def _note_pages(plan: Plan, paper: str, ruled: Ruling) -> list[_Part]:
    """The notes on as many pages as they need; `ruled` is what the templates' own pages are measured by."""
    caption = _caption(plan, "How to use the templates", "")
    probe = Text(LETTERING, (30.0, 30.0), "x", ACTED_ON_LETTERING)
    window = split([probe], (29.0, 29.0, 31.0, 31.0), caption, paper=paper).tiles[0].window
    room = window[3] - window[1] - 8.0
    # Notes lie well away from the drawing's zero, so that no grid cross falls among them.
    left, top = 1000.0, 2000.0
    pages: list[list[Item]] = [[]]
    used = 0.0
    for piece in _notes(plan, ruled):
        if pages[-1] and used + piece.height > room:
            pages.append([])
            used = 0.0
        pages[-1] += placed(piece.items, Transform(offset=(left, top - used)))
        used += piece.height + _BETWEEN_NOTES
    extent = (left - 2.0, top - room - 2.0, left + _NOTES_WIDTH + 2.0, top + 2.0)
    return [
        _Part("top", tuple(items), extent, caption, split(items, extent, caption, paper=paper), 10_000.0)
        for items in pages
    ]


_ELSEWHERE = "Every hole and cavity by number: see the mark-out pages of the drawing sheets."


def _notes(plan: Plan, ruled: Ruling) -> Iterator[Piece]:
    """What one must know before the first prick; each piece hangs from (0, 0)."""
    yield _heading("How to use these templates")
    full, short = FULL_USE * ruled.bar, SHORT_GROUPS * ruled.bar
    rules = (
        f"1. Print at 100 % (actual size). Measure both bars of every page: {bar_words(ruled.bar)} each.",
        f"2. Within {give_or_take(full, 1)}: use the print in full. Within {give_or_take(short, 1)}: for shapes and one hole "
        "group at a time. Beyond that it is void: tell Scribeline what the bars measured, and print again.",
        "3. Cut one page along a join line. Lay it on its neighbour so that the line and the lettered diamonds meet, "
        f"and tape it. Measure across the join between two grid crosses: they stand {bar_words(ruled.grid)} apart.",
        f"4. Lay the template on the body by its centreline and {plan.layout.neck_end_in_words}. Measure every "
        "number below on the body itself: paper moves with damp.",
        "5. Set the awl upright in the open centre of each cross and press. Check every mark before you drill.",
        "6. The back template is drawn as seen from the back: neck to the left, treble and bass swapped.",
        *_shaped_rule(plan),
    )
    yield from (paragraph(in_unit(rule, plan.unit), (0.0, 0.0), _NOTES_WIDTH) for rule in rules)
    if changed := was_now(plan):
        yield _headed("Was and now, by what was measured", _changed(plan, changed))
    yield _headed("Distances to set out by number", _distances(plan))
    yield paragraph(_ELSEWHERE, (0.0, 0.0), _NOTES_WIDTH)
    yield cautions((PROVE_FIRST, DEFERS), (0.0, 0.0), _NOTES_WIDTH, kind="NOTE")


def _shaped_rule(plan: Plan) -> Iterator[str]:
    """What a body that is carved after its pockets are routed asks of its depths."""
    body = plan.layout.body
    if body.is_plain:
        return
    over = (
        f" Its top still stands {said(body.highest)} over the level under the bridge: add that to every cavity from the front."
        if body.highest
        else ""
    )
    yield (
        f"7. The depths of the cavities are those of the finished body. Rout them while the blank is flat.{over} Then shape "
        "the body. Drill last, for the holes count from the shaped face."
    )


def _heading(words: str) -> Piece:
    return paragraph(words, (0.0, 0.0), _NOTES_WIDTH, height=TEMPLATE_LETTERING, bold=True)


def _headed(words: str, piece: Piece) -> Piece:
    """A heading that stays with what it heads."""
    head = _heading(words)
    down = head.height + 2.0
    items = (*head.items, *placed(piece.items, Transform(offset=(0.0, -down))))
    return Piece(items, _NOTES_WIDTH, down + piece.height)


def _changed(plan: Plan, changed: Sequence[WasNow]) -> Piece:
    """What the record's measurements changed: older prints and lines made by them count no more."""
    cells = [
        (
            f"{each.what}, {each.number}",
            figure(each.was, plan.unit),
            figure(each.now, plan.unit),
            each.rests_on,
        )
        for each in changed
    ]
    heads = ("What", f"Was, {plan.unit}", f"Now, {plan.unit}", "Record")
    return table(heads, cells, (0.0, 0.0), (84.0, 26.0, 26.0, 38.0))


def _distances(plan: Plan) -> Piece:
    layout = plan.layout
    neck_end = layout.datum("pocket-end").words.removeprefix("the ")
    places = (
        ("12th fret", layout.datum("12th-fret").point.x),
        (neck_end, layout.pocket_end),
        ("scale line", layout.scale),
    )
    found = [("nut", name, layout.past("nut", x)) for name, x in places]
    if layout.bridge is not None:
        found += [
            ("12th fret", mark.name, layout.past("12th-fret", mark.at.x)) for mark in layout.bridge.marks
        ]
    rows = {words: x for face in _FACES for words, x, _ in _rows(plan, face)}
    found += [(neck_end, words, layout.past("pocket-end", x)) for words, x in rows.items()]
    cells = [(a, b, figure(mm, plan.unit), both_units(mm, plan.unit)[1]) for a, b, mm in found]
    widths = (44.0, 48.0, 28.0, 54.0)
    return table(
        ("From", "To", plan.unit, "near 64th · mm" if by_inches(plan.unit) else "in (fraction off by, mm)"),
        cells,
        (0.0, 0.0),
        widths,
        anchors=("start", "start", "end", "end"),
    )
