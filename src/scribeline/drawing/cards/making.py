"""Step cards for a stand at the bench, one a page, read at arm's length with a drill running.

The deciding figures (the bit, the full-diameter depth, a bench reading) are lettered 12 mm high or more, whatever
is acted on 3.5 mm or more. A card is made of bands from head to foot: the setting and the places beside the section,
what to do and the gate beside the plan, the cautions, what came before. Every band's height is known before it is
placed; the largest lettering with which all of them fit is taken, and what is left over goes to the pictures. Only
a card with more holes than a page holds goes on on a second one, with the deciding figures and the cautions on both.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import count, product

from scribeline.drawing.cards.blocks import GAP, Block, Told, beside, listed, sentences, stacked, warned
from scribeline.drawing.cards.figures import gate_box, reading, setting, setting_again
from scribeline.drawing.cards.measures import measure_view, measure_view_height
from scribeline.drawing.cards.page import FOOT_GAP, Page
from scribeline.drawing.cards.places import hole_table, pocket_table, tables
from scribeline.drawing.cards.plans import has_plan, plan_view, tallest_plan, turning
from scribeline.drawing.cards.sections import SECTION_WIDTH, section, section_height, tallest_section
from scribeline.drawing.facing import drawable
from scribeline.drawing.sheet import ACTED_ON_LETTERING, Item, Point, Sheet
from scribeline.plan import Plan
from scribeline.steps import Card
from scribeline.tables.paper import desk_paper, paper_size_mm, read_paper

_PLAN_SHARE = 0.55
"""The plan's share of the width where words stand beside it."""
_LONG_WORDS_PLAN_SHARE = 0.38
"""Its share where long words stand beside it."""
_TURNING = 21.0
"""Height of the picture of turning the body over, mm."""
_GREATEST_IN_TABLE = 5.2
_CAUTIONS = 0.85
"""The cautions' lettering, as a share of the other sentences'."""
_MOST_GONE, _GONE_CHARACTERS = 6, 900
"""Stops gone on against that a card tells, and the characters it has for all of them: more would crowd out the work."""
_SIZES = (
    *((text, 78.0) for text in (7.0, 6.4, 5.8, 5.2, 4.8)),
    *((text, picture) for text in (4.6, 4.4, 4.2) for picture in (82.0, 72.0, 62.0)),
    *((text, picture) for text in (4.0, 3.8) for picture in (72.0, 62.0, 54.0)),
    *((ACTED_ON_LETTERING, picture) for picture in (62.0, 54.0, 48.0, 44.0, 40.0, 36.0, 34.0)),
)
"""Capital heights of the sentences with least heights of the plan, in the order they are tried, mm."""


@dataclass(frozen=True, slots=True)
class _Band:
    """A strip across the card that may grow from its least to its greatest height."""

    least: float
    most: float
    at_height: Callable[[float], Block]


def _rigid(block: Block) -> _Band:
    return _Band(block.height, block.height, lambda _: block)


@dataclass(frozen=True, slots=True)
class _Filled:
    """What stands on one page: from the head down, and on the footer."""

    body: list[Block]
    foot: list[Block]


def step_card_sheets(plan: Plan) -> list[Sheet]:
    """The step cards as upright sheets of the job's paper, in the order of work.

    A plan without cards gives no sheets.
    """
    plan = drawable(plan)
    size = paper_size_mm(desk_paper(read_paper(plan.job.document.print.paper)))
    page = Page(plan, min(size), max(size))
    pages = [(card, _fitted(page, card, turned)) for card, turned in _with_turns(plan.cards)]
    numbers, sheets = count(1), sum(len(filled) for _, filled in pages)
    return [
        page.sheet(card, each.body, each.foot, part=n, parts=len(filled), number=next(numbers), sheets=sheets)
        for card, filled in pages
        for n, each in enumerate(filled, start=1)
    ]


def _with_turns(cards: Sequence[Card]) -> Iterator[tuple[Card, bool]]:
    """Each card, and whether the body has to be turned over for it."""
    up = "top"
    for card in cards:
        turned = card.face not in ("", up)
        up = card.face or up
        yield card, turned


def _fitted(page: Page, card: Card, turned: bool) -> list[_Filled]:
    """A card's page, lettered as large as fits; several where even the smallest lettering does not."""
    room, parts = page.room(card), _Parts(page, card, turned)
    # Only a card that cuts to no depth has a picture it may do without.
    for pictured, (text, picture) in product((True, False) if card.depth is None else (True,), _SIZES):
        bodies = list(_Contents(parts, text, picture, False).bodies(pictured=pictured))
        heights = [_least(bands) for bands in bodies]
        for running in (False, True):
            foot = _Contents(parts, text, picture, running).foot()
            left = room - stacked(foot, FOOT_GAP).height - (GAP if foot else 0.0)
            for bands, height in zip(bodies, heights, strict=True):
                if height <= left:
                    return [_Filled(_grown(bands, left), foot)]
    return _continued([_Contents(parts, *size, True) for size in _SIZES], room)


def _least(bands: Sequence[_Band]) -> float:
    return sum(band.least for band in bands) + GAP * max(0, len(bands) - 1)


def _grown(bands: Sequence[_Band], room: float) -> list[Block]:
    """The bands' blocks, what room is left shared among those that can use it."""
    heights = [band.least for band in bands]
    spare = room - _least(bands)
    able = [n for n, band in enumerate(bands) if band.most > band.least]
    # The one that can use least is served first: what it leaves goes to the others.
    able.sort(key=lambda n: bands[n].most - bands[n].least)
    for k, n in enumerate(able):
        more = min(bands[n].most - bands[n].least, spare / (len(able) - k))
        heights[n] += more
        spare -= more
    return [band.at_height(height) for band, height in zip(bands, heights, strict=True)]


def _continued(choices: Sequence[_Contents], room: float) -> list[_Filled]:
    """A page to set up by, and one with the places, the picture and the gate, each lettered as large as fits."""
    smallest = choices[-1]
    first = _Filled(smallest.set_up(), [*smallest.foot(), smallest.goes_on()])
    for contents in choices:
        foot = [*contents.foot(), contents.goes_on()]
        if stacked(contents.set_up()).height + GAP + stacked(foot, FOOT_GAP).height <= room:
            first = _Filled(contents.set_up(), foot)
            break
    for contents in choices:
        bands, foot = contents.where(), contents.cautions()
        left = room - sum(block.height + GAP for block in foot)
        if _least(bands) <= left:
            return [first, _Filled(_grown(bands, left), foot)]
    return [first, *_flowing(smallest, room)]


def _flowing(contents: _Contents, room: float) -> list[_Filled]:
    """The places, the picture and the gate on as many pages as they need, deciding figures and cautions on each."""
    foot = contents.cautions()
    room -= sum(block.height + GAP for block in foot)
    again = contents.figures_again()
    waiting = [band.at_height(band.least) for band in contents.where()][len(again) :]
    pages: list[_Filled] = []
    while waiting:
        body = list(again)
        while waiting and stacked([*body, waiting[0]]).height <= room:
            body.append(waiting.pop(0))
        if len(body) == len(again):
            raise ValueError(f"A part of step {contents.card.no}'s card is higher than its page.")
        pages.append(_Filled(body, foot))
    return pages


class _Parts:
    """The parts of one card, each made once for a width and a lettering: many arrangements of them are tried."""

    def __init__(self, page: Page, card: Card, turned: bool) -> None:
        self.page, self.card, self.turned = page, card, turned
        self.setting = cache(lambda width, text: setting(page.plan, card, width, text))
        self.section_height = cache(lambda: section_height(page.plan, card))
        self.tallest_plan = cache(lambda width: tallest_plan(page.plan, card, width))
        self.gate = cache(self._gate)
        self.do = cache(self._do)
        self.places = cache(self._places)

    def _gate(self, width: float, text: float) -> Block | None:
        return None if self.card.gate is None else gate_box(self.card.gate, width, text, self.page.plan.unit)

    def _do(self, width: float, text: float) -> tuple[Block, ...]:
        found: list[Block] = []
        if self.turned:
            words = "Turn the body over about its long axis: the neck stays on the same side."
            found.append(sentences(words, width, text, bold=True))
        if self.card.do:
            found.append(listed("Do", self.card.do, width, text))
        return tuple(found)

    def _places(self, width: float, size: float) -> tuple[Block, ...]:
        plan, card = self.page.plan, self.card
        pockets = {pocket.id: pocket for pocket in plan.features.pockets}
        groups = tables(card.places)
        return tuple(
            hole_table(places, width, size, told=Told.on(plan, card), named=len(groups) > 1)
            if places[0].feature not in pockets
            else pocket_table(plan, pockets[places[0].feature], width, size, Told.on(plan, card))
            for places in groups
        )


@dataclass(frozen=True, slots=True)
class _Contents:
    """What stands on one card, in a given lettering and with a given least height of its picture."""

    parts: _Parts
    text: float
    picture: float
    running: bool

    @property
    def width(self) -> float:
        return self.parts.page.inner

    @property
    def plan(self) -> Plan:
        return self.parts.page.plan

    @property
    def card(self) -> Card:
        return self.parts.card

    @property
    def turned(self) -> bool:
        return self.parts.turned

    @property
    def small(self) -> float:
        """Capital height of the cautions and of what came before, mm."""
        return max(ACTED_ON_LETTERING, min(5.0, _CAUTIONS * self.text))

    def cautions(self) -> list[Block]:
        """The stops gone on against, and what can hurt: on every page of a card."""
        found = []
        if self.card.gone:
            found.append(
                warned(
                    _gone_words(self.card), self.width, self.small, running=self.running, word="DO NOT CUT"
                )
            )
        if self.card.cautions:
            found.append(warned(self.card.cautions, self.width, self.small, running=self.running))
        return found

    def foot(self) -> list[Block]:
        """The cautions and what came before."""
        found = self.cautions()
        if self.card.after:
            found.append(sentences(_after_words(self.plan, self.card), self.width, self.small))
        return found

    def bodies(self, *, pictured: bool = True) -> Iterator[list[_Band]]:
        """The ways in which the rest may be arranged; a picture of where to measure may be done without."""
        if self.card.depth is None:
            yield self._bench(pictured=pictured)
        elif not has_plan(self.plan, self.card):
            yield self._rehearsal()
        else:
            for rest in self._around_the_plan():
                yield [self._setting(self.places), *rest]
            places = [_rigid(block) for block in self.places(self.width)]
            broad, narrow = self._columns()
            picture = self._beside_plan(self._plan(broad), narrow, self._gate(narrow))
            yield [self._setting(self.do), *places, picture]
            for rest in self._around_the_plan():
                yield [self._setting(lambda _: []), *places, *rest]

    def _bench(self, *, pictured: bool) -> list[_Band]:
        """A card that cuts to no depth: the reading, what to do, where to measure, the gate."""
        bands: list[_Band] = []
        gate = self.card.gate
        if gate is not None and gate.value is not None:
            bands.append(_rigid(reading(gate, self.text, self.plan.unit)))
        bands += [_rigid(block) for block in self._turning(self.width)]
        bands += [_rigid(block) for block in self.do(self.width)]
        if has_plan(self.plan, self.card):
            bands.append(self._plan(self.width))
        elif pictured and (tall := measure_view_height(self.plan, self.card, self.width)):
            view = Block(tall, lambda corner: measure_view(self.plan, self.card, corner, self.width))
            bands.append(_rigid(view))
        return [*bands, *map(_rigid, self._gate(self.width))]

    def _rehearsal(self) -> list[_Band]:
        """A scrap test: everything beside one large section."""
        wide = self.width - SECTION_WIDTH - GAP
        left = stacked([self.parts.setting(wide, self.text), *self.do(wide)])
        least = max(left.height, self.parts.section_height())
        most = max(least, tallest_section(self.plan))

        def at_height(height: float) -> Block:
            return beside([(0.0, left), (wide + GAP, self._section(height))])

        return [_Band(least, most, at_height), *map(_rigid, self._gate(self.width))]

    def _setting(self, below: Callable[[float], list[Block]]) -> _Band:
        """The setting with something below it, beside the section."""
        wide = self.width - SECTION_WIDTH - GAP
        left = stacked([self.parts.setting(wide, self.text), *below(wide)])
        right = [self._section(self.parts.section_height()), *self._turning(SECTION_WIDTH)]
        return _rigid(beside([(0.0, left), (wide + GAP, stacked(right))]))

    def _around_the_plan(self) -> Iterator[list[_Band]]:
        """What to do and the gate beside the plan, or one of them under or over it."""
        broad, narrow = self._columns()
        view = self._plan(broad)
        gate = self._gate(narrow)
        yield [self._beside_plan(view, narrow, [*self.do(narrow), *gate])]
        yield [self._beside_plan(view, narrow, self.do(narrow), self._gate(broad))]
        for share in (0.5, _LONG_WORDS_PLAN_SHARE):
            left = share * (self.width - GAP)
            right = self.width - GAP - left
            yield [self._beside_plan(self._plan(left), right, self.do(right), self._gate(left))]
        yield [*map(_rigid, self.do(self.width)), self._beside_plan(view, narrow, gate)]

    def _columns(self) -> tuple[float, float]:
        """The widths of the plan and of what stands beside it."""
        broad = _PLAN_SHARE * self.width
        return broad, self.width - broad - GAP

    def _beside_plan(
        self, view: _Band, narrow: float, words: Sequence[Block], under: Sequence[Block] = ()
    ) -> _Band:
        right, foot = stacked(words), sum(block.height + GAP for block in under)
        least = max(view.least + foot, right.height)
        most = max(least, view.most + foot)

        def at_height(height: float) -> Block:
            left = stacked([view.at_height(min(view.most, height - foot)), *under])
            return beside([(0.0, left), (self.width - narrow, right)])

        return _Band(least, most, at_height)

    def _plan(self, width: float) -> _Band:
        plan, card = self.plan, self.card

        def at_height(height: float) -> Block:
            def draw(corner: Point) -> tuple[Item, ...]:
                return plan_view(plan, card, corner, width, height)

            return Block(height, draw, width)

        return _Band(self.picture, max(self.picture, self.parts.tallest_plan(width)), at_height)

    def _section(self, height: float) -> Block:
        return Block(
            height,
            lambda corner: section(self.plan, self.card, corner, SECTION_WIDTH, height),
            SECTION_WIDTH,
        )

    def _turning(self, width: float) -> list[Block]:
        if not self.turned:
            return []
        tall = _TURNING if width < 0.5 * self.width else 1.5 * _TURNING
        return [Block(tall, lambda corner: turning(self.plan, self.card.face, corner, width, tall), width)]

    def do(self, width: float) -> list[Block]:
        """What to do, the turning over first."""
        return list(self.parts.do(width, self.text))

    def places(self, width: float) -> list[Block]:
        """Where the holes or the pocket's edges are."""
        return list(self.parts.places(width, min(self.text, _GREATEST_IN_TABLE)))

    def _gate(self, width: float) -> list[Block]:
        gate = self.parts.gate(width, self.text)
        return [] if gate is None else [gate]

    def set_up(self) -> list[Block]:
        """What is read before the machine runs, for the first of two pages."""
        top = [] if self.card.depth is None else [self._setting(lambda _: [])]
        return [*(band.at_height(band.least) for band in top), *self.do(self.width)]

    def goes_on(self) -> Block:
        """Word that the card has another page."""
        words = f"Step {self.card.no} goes on on the next sheet."
        return sentences(words, self.width, ACTED_ON_LETTERING, bold=True)

    def figures_again(self) -> list[Block]:
        """The deciding figures, for a second page."""
        return [] if self.card.depth is None else [setting_again(self.plan, self.card, self.width)]

    def where(self) -> list[_Band]:
        """What is read while it is being done, for the second of two pages."""
        bands = [_rigid(block) for block in (*self.figures_again(), *self.places(self.width))]
        if not has_plan(self.plan, self.card):
            return [*bands, *map(_rigid, self._gate(self.width))]
        broad, narrow = self._columns()
        return [*bands, self._beside_plan(self._plan(broad), narrow, self._gate(narrow))]


def _gone_words(card: Card) -> tuple[str, ...]:
    """What a card says not to cut and is cut all the same; where there are many, in few words each, and in full in the sheets."""
    told = card.gone[:_MOST_GONE]
    words = tuple(f"Cut all the same: {each.within(_GONE_CHARACTERS // len(told))}" for each in told)
    more = len(card.gone) - len(told)
    return (*words, f"And {more} more: see the findings of the drawing sheets.") if more else words


def _after_words(plan: Plan, card: Card) -> str:
    """What comes before, the steps that share a reason together."""
    number = {other.id: other.no for other in plan.cards}
    reasons: dict[str, set[int]] = {}
    for need in card.after:
        reasons.setdefault(need.because, set()).add(number[need.first])
    ordered = sorted(reasons.items(), key=lambda pair: min(pair[1]))
    told = (f"{_steps(sorted(steps))}: {because}" for because, steps in ordered)
    return f"After {'; '.join(told)}."


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
