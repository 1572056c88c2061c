"""Step cards for a stand at the bench, read at arm's length with a drill running.

The deciding figures (the bit, the full-diameter depth, a bench reading) are lettered 12 mm high or more, whatever
is acted on 3.5 mm or more. Every block's height is measured before it is placed; what does not fit in larger
lettering is set smaller, down to 3.5 mm. A card that is too full for one page even then gets two: one to set the
machine up by, and one headed "continued" with the places, the picture and the gate, the deciding figures on both.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from scribeline.drawing.card_blocks import (
    PAD,
    PITCH,
    Block,
    Draw,
    black_tag,
    box,
    lettered,
    lines,
    listed,
    packed,
    stack_height,
    warned,
)
from scribeline.drawing.card_page import DECIDING, Columns, Page
from scribeline.drawing.card_places import hole_table, pocket_table, tables
from scribeline.drawing.card_plans import has_plan, plan_view, turning
from scribeline.drawing.card_sections import bore_of, section
from scribeline.drawing.face import text_width
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    LETTERING,
    RULING,
    Item,
    Line,
    Point,
    Sheet,
    Text,
)
from scribeline.features import Bit, Bore, Pocket, angle_from_face_deg
from scribeline.lengths import both_units, inch_fraction, inch_text, mm_text, rounding_note
from scribeline.plan import Plan
from scribeline.steps import Card, Gate
from scribeline.tables.paper import paper_size_mm

_SECTION_WIDTH = 61.0
_ROUTED, _DRILLED, _SLANTED = 62.0, 77.0, 97.0
"""Height of the figures and the section beside them for a pocket, an upright hole and a slanted one, mm."""
_TEXTS = (6.0, 5.2, 4.6, 4.2, 3.8, ACTED_ON_LETTERING)
_PICTURES = (100.0, 84.0, 70.0, 60.0, 52.0)
_SIZES = tuple(
    dict.fromkeys(
        (
            *((text, picture) for picture in _PICTURES[:3] for text in _TEXTS[:3]),
            *((text, picture) for text in _TEXTS[3:] for picture in _PICTURES[:3]),
            *((text, picture) for picture in _PICTURES for text in _TEXTS),
        )
    )
)
"""Capital heights of the sentences with heights of the plan, in the order they are tried, mm: better slightly
smaller letters than a plan too small to find a hole on."""
_LATER, _LAST = 1, 2


def step_card_sheets(plan: Plan) -> list[Sheet]:
    """The step cards as landscape sheets of the job's paper, in the order of work.

    A plan without cards gives no sheets.
    """
    size = paper_size_mm(plan.job.document.print.paper)
    page = Page(plan, max(size), min(size))
    parts: list[tuple[Card, int, Columns]] = []
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


def _fitted(page: Page, card: Card, turned: bool) -> list[Columns]:
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


def _largest(choices: Iterable[list[Block]], room: float) -> list[Columns]:
    """The first of the choices that fits on a page; the last on as many as it needs where none does."""
    blocks: list[Block] = []
    for blocks in choices:
        columns = packed(blocks, room)
        if columns is not None:
            return [columns]
    return _continued(blocks, room)


def _continued(blocks: list[Block], room: float) -> list[Columns]:
    """The blocks on as many pages as they need, what can wait put off first."""
    pages: list[Columns] = []
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

    page: Page
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
        pockets = {pocket.id: pocket for pocket in self.plan.features.pockets}
        for n, places in enumerate(tables(self.card.places)):
            pocket = pockets.get(places[0].feature)
            if pocket is not None:
                height, draw = pocket_table(self.plan, pocket, self.width, self.text)
            else:
                height, draw = hole_table(places, self.width, self.text)
            yield Block(height, draw, 1, 0 if n == 0 else _LATER)

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
