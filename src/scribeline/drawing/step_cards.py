"""Step cards for a stand at the bench: one card a page, read at arm's length with a drill running.

The deciding figures (the bit, the full-diameter depth, a bench reading) are lettered 12 mm high or more, whatever
is acted on 3.5 mm or more. Every block's height is measured before it is placed; what does not fit in larger
lettering is set smaller, down to 3.5 mm, and what does not fit then goes to a page headed "continued".
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from scribeline.drawing.card_blocks import (
    CELLS_ROW,
    GAP,
    PAD,
    PITCH,
    Block,
    Cell,
    Draw,
    black,
    black_tag,
    black_tag_width,
    box,
    cells_row,
    laid,
    lettered,
    lines,
    listed,
    merged_table,
    packed,
    shortened,
    stack_height,
    warned,
)
from scribeline.drawing.card_plans import has_plan, plan_view, turning
from scribeline.drawing.card_sections import bore_of, section
from scribeline.drawing.face import text_width
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    RULING,
    TAG,
    Item,
    Line,
    Point,
    Sheet,
    Text,
)
from scribeline.features import Bit, Bore, Pocket, angle_from_face_deg
from scribeline.lengths import both_units, inch_fraction, inch_text, mm_text, rounding_note
from scribeline.plan import Plan
from scribeline.steps import DEFERS, PROVE_FIRST, Card, Gate, Place
from scribeline.tables.paper import paper_size_mm

DECIDING = 12.0
"""Capital height of the figures that decide, mm."""
TITLE = 8.0
"""Capital height of a card's title, mm."""

_MARGIN = 9.0
_NUMBER_BOX = 17.0
_OVER_LEAF = 5.4
"""White between the columns and the footer, where a card that runs on says so, mm."""
_COLUMN_GAP = 6.0
_SECTION_WIDTH = 61.0
_ROUTED, _DRILLED, _SLANTED = 62.0, 77.0, 97.0
"""Height of the figures and the section beside them for a pocket, an upright hole and a slanted one, mm."""
_TEXTS = (6.0, 5.2, 4.6, 4.2, 3.8, ACTED_ON_LETTERING)
_PICTURES = (100.0, 84.0, 70.0, 60.0, 52.0)
_SIZES = tuple(
    dict.fromkeys(
        (
            *((text, picture) for picture in _PICTURES[:3] for text in _TEXTS[:3]),
            *((text, picture) for text in _TEXTS for picture in _PICTURES),
        )
    )
)
"""Capital heights of the sentences with heights of the plan, in the order they are tried, mm: better slightly
smaller letters than a plan too small to find a hole on."""
_ROWS_A_TABLE = 8
_MOST_TITLE_LINES = 3
_FROM_TWELFTH, _FROM_POCKET = "from the 12th crown", "from the pocket end wall"
_FROM_CENTRE = "from the centreline"
_LATER, _LAST = 1, 2

_Columns = tuple[list[Block], list[Block]]


def step_card_sheets(plan: Plan) -> list[Sheet]:
    """The step cards as landscape sheets of the job's paper, in the order of work.

    A plan without cards gives no sheets.
    """
    size = paper_size_mm(plan.job.document.print.paper)
    page = _Page(plan, max(size), min(size))
    parts: list[tuple[Card, int, _Columns]] = []
    for card, turned in _with_turns(plan.cards):
        for n, columns in enumerate(_fitted(page, card, turned)):
            parts.append((card, n, columns))
    last = [n + 1 == len(parts) or parts[n + 1][1] == 0 for n in range(len(parts))]
    return [
        page.sheet(card, part, columns, runs_on=not ends, number=n, sheets=len(parts))
        for n, ((card, part, columns), ends) in enumerate(zip(parts, last, strict=True), start=1)
    ]


def _with_turns(cards: Sequence[Card]) -> Iterator[tuple[Card, bool]]:
    """Each card, and whether the body has to be turned over for it."""
    up = "top"
    for card in cards:
        turned = card.face not in ("", up)
        up = card.face or up
        yield card, turned


@dataclass(frozen=True, slots=True)
class _Page:
    """A page's fixed parts: head, footer, and the room between."""

    plan: Plan
    width: float
    height: float

    @property
    def inner(self) -> float:
        """Width between the margins, mm."""
        return self.width - 2 * _MARGIN

    @property
    def column(self) -> float:
        """Width of one of the two columns, mm."""
        return (self.inner - _COLUMN_GAP) / 2

    def room(self, card: Card) -> float:
        """Height between head and footer, mm."""
        return self.height - _MARGIN - self._head(card, 1).height - self._footer_top() - GAP - _OVER_LEAF

    def _footer_top(self) -> float:
        return _MARGIN + CELLS_ROW + 1.2 + len(self._small_print()) * PITCH * LEAST_LETTERING

    def _small_print(self) -> tuple[str, ...]:
        return lines(f"{PROVE_FIRST} {DEFERS}", self.inner, LEAST_LETTERING)

    def sheet(
        self, card: Card, part: int, columns: _Columns, *, runs_on: bool, number: int, sheets: int
    ) -> Sheet:
        """One page of a card."""
        left, top = _MARGIN, self.height - _MARGIN
        head = self._head(card, part)
        y = top - head.height - GAP
        items = [
            *head.draw((left, top)),
            *laid(columns[0], (left, y)),
            *laid(columns[1], (left + self.column + _COLUMN_GAP, y)),
            *self._footer(card, number, sheets),
        ]
        if runs_on:
            at = (self.width - _MARGIN, self._footer_top() + 1.5)
            items.append(
                Text(LETTERING, at, f"Step {card.no} goes on on the next sheet", 3.5, "end", bold=True)
            )
        more = ", continued" if part else ""
        return Sheet(f"step {card.no}{more}", self.width, self.height, tuple(items))

    def _head(self, card: Card, part: int = 0) -> Block:
        """Number, title, the face that lies up and the machine."""
        total = f"of {len(self.plan.cards)}"
        number = str(card.no)
        wide = text_width(number, DECIDING, bold=True)
        beside = max(text_width(total, 4.0), text_width("STEP", 3.5, bold=True))
        number_box = wide + beside + 9.0
        face = {"top": "TOP FACE UP", "back": "BACK UP"}.get(card.face, "")
        tag_height = 5.0
        aside = max(
            black_tag_width(face, tag_height) if face else 0.0,
            text_width(card.machine, tag_height, bold=True),
        )
        title_width = self.inner - number_box - aside - 9.0
        words, size = _title(card.title + (", continued" if part else ""), title_width)
        stack = ((len(words) - 1) * PITCH + 1.0) * size
        tall = max(_NUMBER_BOX, stack + 2.5)

        def draw(corner: Point) -> tuple[Item, ...]:
            x, y = corner
            base = y - (tall + DECIDING) / 2
            right = x + self.inner
            items: list[Item] = [
                black(corner, number_box, tall),
                Text(TAG, (x + 3.0, base), number, DECIDING, bold=True, white=True),
                Text(TAG, (x + 6.0 + wide, base + 7.4), "STEP", 3.5, bold=True, white=True),
                Text(TAG, (x + 6.0 + wide, base), total, 4.0, white=True),
                *lettered(words, (x + number_box + 4.5, y - (tall - stack) / 2), size, bold=True),
                Line(OUTLINE, (x, y - tall - GAP / 2), (right, y - tall - GAP / 2)),
            ]
            if face:
                items += black_tag(face, (right - black_tag_width(face, tag_height), y), tag_height)
            machine_y = y - tall + 1.0 if face else y - (tall + tag_height) / 2
            items.append(Text(LETTERING, (right, machine_y), card.machine, tag_height, "end", bold=True))
            return tuple(items)

        return Block(tall, draw)

    def _footer(self, card: Card, number: int, sheets: int) -> list[Item]:
        document = self.plan.job.document
        small = self._small_print()
        foot = len(small) * PITCH * LEAST_LETTERING
        view = {"top": "seen from the front", "back": "seen from the back"}.get(card.face, "–")
        cells = (
            ("Job", document.name),
            ("Revision", document.revision),
            ("Date", document.date.isoformat() if document.date else ""),
            ("Hand", f"{document.handed}-handed"),
            ("View", view),
            ("Units", "mm, inches below"),
            ("Datums", "12th crown, pocket end wall, centreline"),
            ("Sheet", f"{number} of {sheets}"),
        )
        return [
            *cells_row(cells, (_MARGIN, self._footer_top()), self.inner),
            *lettered(small, (_MARGIN, _MARGIN + foot - 0.2), LEAST_LETTERING),
        ]


def _title(words: str, width: float) -> tuple[tuple[str, ...], float]:
    """The title's lines and their height: two of 8 mm, or of 7 mm, cut after three."""
    for size in (TITLE, 7.0):
        found = lines(words, width, size, True)
        if stack_height(len(found), size) <= 22.0 and len(found) <= 2:
            return found, size
    if len(found) > _MOST_TITLE_LINES:
        rest = " ".join(found[_MOST_TITLE_LINES - 1 :])
        found = (*found[: _MOST_TITLE_LINES - 1], shortened(rest + "…", width, 7.0, bold=True))
    return found, 7.0


def _fitted(page: _Page, card: Card, turned: bool) -> list[_Columns]:
    """A card's pages: one where it can be read, else one to set up by and one with the places on it.

    Lettering and pictures are as large as fit.
    """
    room = page.room(card)

    def contents(text: float, picture: float) -> _Contents:
        return _Contents(page, card, turned, room, text, picture)

    for size in _SIZES:
        columns = packed(contents(*size).blocks(), room)
        if columns is not None:
            return [columns]
    set_up = (contents(text, _PICTURES[-1]).set_up() for text in _TEXTS)
    where = (contents(*size).where() for size in _SIZES)
    return [*_largest(set_up, room), *_largest(where, room)]


def _largest(choices: Iterable[list[Block]], room: float) -> list[_Columns]:
    """The first of the choices that fits on a page; the last on as many as it needs where none does."""
    blocks: list[Block] = []
    for blocks in choices:
        columns = packed(blocks, room)
        if columns is not None:
            return [columns]
    return _continued(blocks, room)


def _continued(blocks: list[Block], room: float) -> list[_Columns]:
    """The blocks on as many pages as they need, what can wait put off first."""
    pages: list[_Columns] = []
    while blocks:
        now = list(blocks)
        while (columns := packed(now, room)) is None:
            if len(now) == 1:
                raise ValueError("A part of a step card is higher than its page.")
            now.pop(max(range(len(now)), key=lambda n: (now[n].rank, n)))
        pages.append(columns)
        blocks = [block for block in blocks if block not in now]
    return pages


@dataclass(frozen=True, slots=True)
class _Contents:
    """What stands on one card, in a given lettering and size of picture."""

    page: _Page
    card: Card
    turned: bool
    room: float
    text: float
    picture: float

    @property
    def width(self) -> float:
        return self.page.column

    @property
    def plan(self) -> Plan:
        return self.page.plan

    def blocks(self) -> list[Block]:
        """Everything on one page, in reading order within each column."""
        found = [*self._figures(), *self._turning(), *self._do(), *self._picture()]
        return [*found, *self._places(), *self._gate(), *self._cautions(), *self._after()]

    def set_up(self) -> list[Block]:
        """What is read before the machine runs."""
        return [*self._figures(), *self._turning(), *self._do(), *self._cautions(), *self._after()]

    def where(self) -> list[Block]:
        """What is read while it is being done: the deciding figures again, the places, the gate."""
        places = [replace(block, home=0) for block in self._places()]
        gate = [replace(block, home=1) for block in self._gate()]
        return [*self._figures_again(), *places, *self._picture(), *gate]

    def _slanted(self) -> Bore | None:
        bore = bore_of(self.plan, self.card)
        return None if bore is None or bore.is_upright else bore

    def _figures(self) -> Iterator[Block]:
        card = self.card
        if card.depth is not None:
            height = _ROUTED if card.bit is None else _SLANTED if self._slanted() else _DRILLED
            yield Block(height, self._cut_figures, 0, fixed=True)
        elif card.gate is not None and card.gate.value is not None:
            yield Block(29.5, self._reading_figure, 0, fixed=True)

    def _figures_again(self) -> Iterator[Block]:
        if self.card.depth is None:
            return

        def draw(corner: Point) -> tuple[Item, ...]:
            bit = self._bit(corner, again=True)
            right = corner[0] + self.width - 71.0
            return (*bit, *self._depth((right, corner[1])))

        yield Block(25.0, draw, 0, fixed=True)

    def _cut_figures(self, corner: Point) -> tuple[Item, ...]:
        """The bit, the depth, the stop's setting, beside the section."""
        x, y = corner
        wide = self.width - _SECTION_WIDTH - 4.0
        slanted = self._slanted()
        items: list[Item] = [*self._bit(corner)]
        y -= 26.0
        items += self._depth((x, y))
        y -= 28.0
        if slanted is not None:
            angle = f"{angle_from_face_deg(slanted):.1f}°"
            items += _figure("ANGLE from the face", angle, "", "", (x, y))
            y -= 20.0
        items += self._stop((x, y), wide)
        height = _ROUTED if self.card.bit is None else _SLANTED if slanted else _DRILLED
        right = (x + self.width - _SECTION_WIDTH, corner[1])
        items += section(self.plan, self.card, right, _SECTION_WIDTH, height)
        return tuple(items)

    def _bit(self, corner: Point, *, again: bool = False) -> list[Item]:
        bit = self.card.bit
        if bit is None:
            pocket = next(f for f in self.plan.features if f.id in self.card.features)
            assert isinstance(pocket, Pocket)
            most = 2 * pocket.corner_radius
            if most <= 0:
                return []
            small = both_units(most)[1]
            return [*_figure("ROUTER BIT, at most", f"{most:g}", "mm", small, corner)]
        number, unit, small = _bit_words(bit)
        if again:
            small = small.removeprefix("nearest ")
        label = f"BIT, {bit.kind}{'' if again else ', owned'}" if bit.owned else ""
        items = [*_figure(label, number, unit, small, corner, small_height=3.5 if again else 4.0)]
        if not bit.owned:
            words = f"GET THIS BIT: {bit.kind}"
            items += black_tag(words, (corner[0], corner[1] + 0.5), ACTED_ON_LETTERING, pad=0.2)
        return items

    def _depth(self, corner: Point) -> list[Item]:
        depth = self.card.depth
        assert depth is not None
        label = "DEPTH" if self.card.bit is None else "DEPTH, full diameter"
        if self._slanted() is not None:
            label = "DEPTH along the hole"
        return [
            *_figure(
                label, f"{depth:.2f}", "mm", _inches(depth, self.card.gate), corner, height=DECIDING + 1.0
            )
        ]

    def _stop(self, corner: Point, width: float) -> list[Item]:
        """What the depth stop reads, told apart from the depth by its box."""
        reach = self.card.point_reaches
        if reach is None:
            return []
        x, y = corner
        big, small = both_units(reach)
        words = lines("when zeroed with the point touching the wood", width - 2 * PAD, ACTED_ON_LETTERING)
        head = lines(f"Stop at {big}", width - 2 * PAD, 4.6, True)
        inch = lines(small, width - 2 * PAD, ACTED_ON_LETTERING)
        tall = (len(head) * 4.6 + (len(inch) + len(words)) * ACTED_ON_LETTERING) * PITCH + 2.2
        y0 = y - 1.8
        items: list[Item] = [box(corner, width, tall)]
        items += lettered(head, (x + PAD, y0), 4.6, bold=True)
        y0 -= len(head) * 4.6 * PITCH
        items += lettered((*inch, *words), (x + PAD, y0), ACTED_ON_LETTERING)
        return items

    def _reading_figure(self, corner: Point) -> tuple[Item, ...]:
        gate = self.card.gate
        assert gate is not None
        assert gate.value is not None
        label, number, small = _reading(gate)
        return (*_figure(label, number, "mm", small, corner, height=DECIDING + 3.0, small_height=4.6),)

    def _turning(self) -> Iterator[Block]:
        if not self.turned:
            return
        words = lines(
            "Turn the body over about its long axis: the neck stays on the same side.",
            self.width,
            self.text,
            True,
        )
        head, picture = stack_height(len(words), self.text), 30.0

        def draw(corner: Point) -> tuple[Item, ...]:
            below = (corner[0], corner[1] - head - 1.5)
            return (
                *lettered(words, corner, self.text, bold=True),
                *turning(self.plan, self.card.face, below, self.width, picture),
            )

        yield Block(head + 1.5 + picture, draw, 1)

    def _do(self) -> Iterator[Block]:
        if self.card.do:
            yield from self._blocks(listed("Do", self.card.do, self.width, self.text, self.room), 0, 0)

    def _picture(self) -> Iterator[Block]:
        if has_plan(self.plan, self.card):
            tall = self.picture

            def draw(corner: Point) -> tuple[Item, ...]:
                return plan_view(self.plan, self.card, corner, self.width, tall)

            yield Block(tall, draw, 1)

    def _places(self) -> Iterator[Block]:
        pockets = {pocket.id for pocket in self.plan.features.pockets}
        for n, places in enumerate(_tables(self.card.places)):
            routed = any(place.feature in pockets for place in places)
            height, draw = self._pocket_table() if routed else self._hole_table(places)
            yield Block(height, draw, 1, 0 if n == 0 else _LATER)

    def _hole_table(self, places: Sequence[Place]) -> tuple[float, Draw]:
        if len({_row_of(place) for place in places}) == 1:
            return self._row_of_holes(places)
        first, rest = 15.0, self.width - 15.0
        widths = (first, 0.31 * rest, 0.31 * rest, 0.38 * rest)
        rows = [
            (
                (Cell(((place.number, self.text),)),),
                tuple(
                    _along(value, self.text, widths[1] - 2.8)
                    for value in (place.from_twelfth, place.from_pocket_end)
                ),
                (_across(place.to_treble, self.text, widths[3] - 2.8),),
            )
            for place in places
        ]
        return merged_table(("No.", _FROM_TWELFTH, _FROM_POCKET, _FROM_CENTRE), rows, widths)

    def _row_of_holes(self, places: Sequence[Place]) -> tuple[float, Draw]:
        """Holes in one row across the body: the two numbers they share, then where each lies across."""
        half = self.width / 2
        shared = tuple(
            _along(value, self.text + 0.6, half - 2.8)
            for value in (places[0].from_twelfth, places[0].from_pocket_end)
        )
        names = f"{places[0].number}–{places[-1].number} " if len(places) > 1 else ""
        upper = merged_table(
            (f"{names}{_FROM_TWELFTH}", f"{names}{_FROM_POCKET}"), [(shared, (), ())], (half, half)
        )
        heads = ("No.", _FROM_CENTRE, "inches")
        for size in (height for height in _TEXTS if height <= self.text):
            rows = [_row(place, size) for place in places]
            widths = [
                2.8
                + max(text_width(head, ACTED_ON_LETTERING, bold=True), *(row[column].width for row in rows))
                for column, head in enumerate(heads)
            ]
            if sum(widths) <= self.width:
                break
        widths[1] += self.width - sum(widths)
        lower = merged_table(heads, [(row, (), ()) for row in rows], widths)
        return _stacked(upper, lower)

    def _pocket_table(self) -> tuple[float, Draw]:
        """A pocket's edges from the datums."""
        pocket = next(p for p in self.plan.features.pockets if p.id in self.card.features)
        layout = self.plan.layout
        xs = [p.x for p in pocket.outline]
        ys = [p.y * layout.treble for p in pocket.outline]
        first = 26.0
        half = (self.width - first) / 2

        def named(name: str) -> tuple[Cell, ...]:
            return (Cell(((name, ACTED_ON_LETTERING),)),)

        along = [
            (
                (
                    *named(name),
                    *(
                        _along(x - datum, self.text, half - 2.8)
                        for datum in (layout.twelfth, layout.pocket_end)
                    ),
                ),
                (),
                (),
            )
            for name, x in (("mouth" if pocket.at_edge else "neck side", min(xs)), ("tail side", max(xs)))
        ]
        upper = merged_table(("Edge", _FROM_TWELFTH, _FROM_POCKET), along, (first, half, half))
        edges = (("treble side", max(ys)), ("bass side", min(ys)))
        across = [((*named(name), _across(y, self.text, 2 * half - 2.8)), (), ()) for name, y in edges]
        lower = merged_table(("Edge", f"{_FROM_CENTRE}, at the widest"), across, (first, 2 * half))
        return _stacked(upper, lower)

    def _gate(self) -> Iterator[Block]:
        gate = self.card.gate
        if gate is None:
            return
        inner = self.width - 2 * PAD
        ask = lines(gate.ask[0].upper() + gate.ask[1:], inner, self.text)
        limit_lines = tuple(line for words in _limits(gate) for line in lines(words, inner, self.text, True))
        head = 1.9 * self.text + 1.6
        body = (len(ask) + len(limit_lines)) * PITCH * self.text
        write = 11.0
        tall = head + body + write

        def draw(corner: Point) -> tuple[Item, ...]:
            x, y = corner
            items: list[Item] = [
                box(corner, self.width, tall),
                *black_tag("BEFORE YOU GO ON", corner, self.text),
                *lettered(ask, (x + PAD, y - head), self.text),
                *lettered(
                    limit_lines, (x + PAD, y - head - len(ask) * PITCH * self.text), self.text, bold=True
                ),
            ]
            base = y - tall + 2.6
            label = "Reading" if gate.value is not None else "Seen and right"
            items += _blank(
                label, (x + PAD, base), inner * 0.62 - 3.0, "mm" if gate.value is not None else ""
            )
            items += _blank("Initials", (x + PAD + inner * 0.62, base), inner * 0.38, "")
            return tuple(items)

        home = 0 if self.card.depth is not None or has_plan(self.plan, self.card) else None
        yield Block(tall, draw, home)

    def _cautions(self) -> Iterator[Block]:
        if self.card.cautions:
            pieces = warned(self.card.cautions, self.width, self.text, self.room)
            yield from self._blocks(pieces, None, 0)

    def _after(self) -> Iterator[Block]:
        if self.card.after:
            words = _after_words(self.plan, self.card)
            yield from self._blocks(
                listed("Done before this", words, self.width, self.text, self.room), None, _LAST
            )

    def _blocks(self, pieces: list[tuple[float, Draw]], home: int | None, rank: int) -> Iterator[Block]:
        for n, (height, draw) in enumerate(pieces):
            yield Block(height, draw, home, rank if n == 0 else max(rank, _LATER))


def _row_of(place: Place) -> tuple[float, float]:
    """What the holes of one row across the body share."""
    return round(place.from_twelfth, 3), round(place.from_pocket_end, 3)


def _tables(places: Sequence[Place]) -> list[tuple[Place, ...]]:
    """The places of each table: a row of holes across the body each, or, where no rows are, eight at a time."""
    rows = [tuple(row) for _, row in groupby(places, key=_row_of)]
    if any(len(row) == 1 for row in rows):
        rows = [tuple(places)]
    return [row[start : start + _ROWS_A_TABLE] for row in rows for start in range(0, len(row), _ROWS_A_TABLE)]


def _figure(
    label: str,
    number: str,
    unit: str,
    small: str,
    corner: Point,
    *,
    height: float = DECIDING,
    small_height: float = 4.0,
) -> Iterator[Item]:
    """A label, the deciding figure, its second unit below."""
    x, y = corner
    if label:
        yield Text(LETTERING, (x, y - 3.5), label, ACTED_ON_LETTERING, bold=True)
    base = y - 3.5 - 2.2 - height
    yield Text(LETTERING, (x, base), number, height, bold=True)
    if unit:
        yield Text(LETTERING, (x + text_width(number, height, bold=True) + 2.0, base), unit, 5.0, bold=True)
    if small:
        yield Text(LETTERING, (x, base - 2.0 - small_height), small, small_height)


def _bit_words(bit: Bit) -> tuple[str, str, str]:
    """The bit's size as its owner knows it, the unit, and the other unit below."""
    if bit.size.endswith(" mm"):
        number, _, unit = bit.size.rpartition(" ")
        return number, unit, f"nearest {bit.nearest_inch}"
    label, _, rest = bit.size.partition(" (")
    bare_fraction = label.replace("/", "").replace("-", "").replace(" ", "").isdigit()
    return label, "in" if bare_fraction else "", rest.rstrip(")")


def _reading(gate: Gate) -> tuple[str, str, str]:
    """What a bench card asks for, as label, figure and second unit."""
    assert gate.value is not None
    if gate.value == 0.0 and gate.high is not None:
        return "AT MOST", f"{gate.high:.2f}", inch_text(gate.high)
    return "SHOULD MEASURE", f"{gate.value:.2f}", _inches(gate.value, gate)


def _inches(value: float, gate: Gate | None) -> str:
    """The fraction with its error; the decimal beside it where the fraction eats too much of the tolerance."""
    fraction = both_units(value)[1]
    if gate is None or gate.value != value or gate.low is None or gate.high is None:
        return fraction
    tolerance = min(value - gate.low, gate.high - value)
    if tolerance > 0 and rounding_note(inch_fraction(value).error_mm, tolerance):
        return f"{fraction}, {inch_text(value)}"
    return fraction


def _limits(gate: Gate) -> tuple[str, ...]:
    """The limits in both units, as a caliper reads them; nothing where there is nothing to measure."""
    if gate.value is None or gate.low is None or gate.high is None:
        return ()
    high_mm, high_inch = mm_text(gate.high), inch_text(gate.high)
    if gate.low == 0.0:
        return (f"At most {high_mm}, {high_inch}",)
    low_mm, low_inch = (words.rpartition(" ")[0] for words in (mm_text(gate.low), inch_text(gate.low)))
    return (f"{low_mm} to {high_mm}", f"{low_inch} to {high_inch}")


def _blank(label: str, at: Point, width: float, unit: str) -> Iterator[Item]:
    """A label and a rule to write on."""
    x, y = at
    start = x + text_width(label, ACTED_ON_LETTERING) + 1.5
    end = x + width - (text_width(unit, ACTED_ON_LETTERING) + 1.5 if unit else 0.0)
    yield Text(LETTERING, (x, y), label, ACTED_ON_LETTERING)
    yield Line(RULING, (start, y - 0.4), (end, y - 0.4))
    if unit:
        yield Text(LETTERING, (end + 1.5, y), unit, ACTED_ON_LETTERING)


def _row(place: Place, height: float) -> tuple[Cell, Cell, Cell]:
    """A hole's number, where it lies across, and the same in inches."""
    across, *inch = _across(place.to_treble, height, float("inf")).words
    inches = Cell(tuple(inch) or ((" ", height),), bold=False)
    return (Cell(((place.number, height),)), Cell((across,)), inches)


def _stacked(upper: tuple[float, Draw], lower: tuple[float, Draw]) -> tuple[float, Draw]:
    """One table under another, their frames touching."""

    def draw(corner: Point) -> tuple[Item, ...]:
        return (*upper[1](corner), *lower[1]((corner[0], corner[1] - upper[0])))

    return upper[0] + lower[0], draw


def _along(value: float, height: float, width: float) -> Cell:
    """A distance along the instrument, towards the tail unless it says otherwise."""
    big, small = both_units(abs(value))
    return _cell(big, "to the nut" if value < -0.005 else "", small, height, width)


def _across(to_treble: float, height: float, width: float) -> Cell:
    if abs(to_treble) < 0.005:
        return Cell((("on the centreline", height),))
    big, small = both_units(abs(to_treble))
    return _cell(big, f"to the {'treble' if to_treble > 0 else 'bass'}", small, height, width)


def _cell(big: str, side: str, small: str, height: float, width: float) -> Cell:
    """A figure, the side it is measured to, the second unit; each on a line of its own where they must be."""
    inch = max(2.6, 0.72 * height)
    joined = f"{big} {side}".strip()
    upper = [joined] if text_width(joined, height, bold=True) <= width else [big, side]
    lower = [small] if text_width(small, inch) <= width else small.replace(" (", "\n(").split("\n")
    return Cell((*((words, height) for words in upper), *((words, inch) for words in lower)))


def _after_words(plan: Plan, card: Card) -> list[str]:
    """What comes before, the steps that share a reason together."""
    number = {other.id: other.no for other in plan.cards}
    reasons: dict[str, set[int]] = {}
    for need in card.after:
        reasons.setdefault(need.because, set()).add(number[need.first])
    ordered = sorted(reasons.items(), key=lambda pair: min(pair[1]))
    return [f"{_steps(sorted(steps))}: {because}" for because, steps in ordered]


def _steps(numbers: list[int]) -> str:
    """Step numbers with runs drawn together: steps 1, 3 to 6."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts = [", ".join(map(str, run)) if len(run) < 3 else f"{run[0]} to {run[-1]}" for run in runs]
    return f"step {parts[0]}" if len(numbers) == 1 else f"steps {', '.join(parts)}"
