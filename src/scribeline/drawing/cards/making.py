"""The step cards for a stand at the bench, read at arm's length with a drill running.

Here stands what a card says and which pictures it has; the form `cards.typ` sets it: the bit and what ends it in figures of
12 mm or more, everything else in 3.5 mm or more, as large as the page allows, two short cards that follow each other on one.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from scribeline.drawing import pdf
from scribeline.drawing.beside import is_beside_the_body, picture_beside
from scribeline.drawing.block import units_below
from scribeline.drawing.cards.measures import measure_view, measure_view_height
from scribeline.drawing.cards.plans import (
    has_dimensions,
    has_plan,
    lowest_plan,
    plan_view,
    tallest_plan,
    turning,
)
from scribeline.drawing.cards.sections import SECTION_WIDTH, section, section_height
from scribeline.drawing.cards.telling import TURN_OVER, told_card, with_turns
from scribeline.drawing.facing import drawable
from scribeline.drawing.heel import hung
from scribeline.drawing.sheet import Item, Sheet
from scribeline.plan import Plan
from scribeline.steps import DEFERS, PROVE_FIRST, Card
from scribeline.tables.paper import desk_paper, paper_size_mm, read_paper

MARGIN = 7.0
_PLAN_SHARE = 0.55
"""The plan's share of the width; words stand beside it."""
_DIMENSIONED_SHARE = 0.7
"""The same of a plan with dimensions under it, whose figures need the room."""
_PLANS, _TALLEST_PLAN = (62.0, 52.0, 40.0), 118.0
"""Heights of the smaller plans a card may have, and of the largest, mm."""
_FEW = 8
"""Holes up to which their numbers find room in the smallest plan."""
_TURNING = 21.0
"""Height of the picture of turning the body over, mm."""


@dataclass(frozen=True, slots=True)
class _Picture:
    """A picture that is drawn once it is known to be printed: only one of a card's plans is.

    Attributes:
        size: width and height, mm.
        items: draws it, hung from (0, 0).
    """

    size: tuple[float, float]
    items: Callable[[], tuple[Item, ...]]

    def drawn(self, name: str) -> Sheet:
        return Sheet(name, *self.size, self.items(), origin=(0.0, -self.size[1]))


Pictures = dict[str, _Picture]


def step_cards(plan: Plan) -> bytes:
    """The order of work and the step cards as a PDF, upright on the job's paper.

    A plan without cards gives the empty order of work.
    """
    return begin_cards(plan)().result()


def begin_cards(plan: Plan) -> Callable[[], pdf.Setting]:
    """Begin the step cards: the form tries how large each card's lettering may be, and with which of its pictures.

    What is returned waits for that, draws the pictures that are printed, and has the cards set.
    """
    plan = drawable(plan)
    width, height = sorted(paper_size_mm(desk_paper(read_paper(plan.job.document.print.paper))))
    pictures: Pictures = {}
    cards = []
    for card, turned in with_turns(plan.cards):
        said = told_card(plan, card, width - 2 * MARGIN, turned=turned)
        said["pictures"] = dict(_pictures(plan, card, width - 2 * MARGIN, turned, pictures))
        cards.append(said)
    data = {
        "width": width,
        "height": height,
        "margin": MARGIN,
        "section width": SECTION_WIDTH,
        "cards": cards,
        "turning": TURN_OVER,
        "caption": _caption(plan),
        "order": {"lead": ORDER_LEAD, "cautions": [PROVE_FIRST, DEFERS], "set": f"Set, {plan.unit}"},
    }
    told = pdf.told_by("cards", data, {name: each.size for name, each in pictures.items()}, "pages")

    def drawn() -> pdf.Setting:
        pages = told.result()
        shown = {name: pictures[name].drawn(name) for name in _shown(cards, pages)}
        title = f"{plan.job.document.name}: step cards"
        return pdf.typeset("cards", {**data, "pages": pages}, shown, title=title)

    return drawn


def _shown(cards: Sequence[Mapping[str, Any]], pages: Sequence[Sequence[Any]]) -> Iterator[str]:
    """The names of the pictures that are printed: of the plans of a card only the one it is set with."""
    for number, option in itertools.chain(*pages):
        pictures = cards[number]["pictures"]
        if option is None or option[1] != "bare":
            yield from (pictures[what] for what in ("section", "turning") if what in pictures)
        # A card that runs over several pages has its smallest plan.
        plan = option[2] if option is not None else pictures["plans"][-1] if pictures["plans"] else None
        if plan is not None:
            yield plan


ORDER_LEAD = (
    "One line is one card: one tool at one setting. Tick it when the card is done, and write down how long it took. "
    "Bold is where the tool changes or the body is turned over."
)


def _caption(plan: Plan) -> list[tuple[str, str]]:
    document = plan.job.document
    return [
        ("Job", document.name),
        ("Revision", document.revision),
        ("Date", document.date.isoformat() if document.date else ""),
        ("Hand", f"{document.handed}-handed"),
        ("Units", units_below(plan.unit)),
    ]


def _pictures(
    plan: Plan, card: Card, inner: float, turned: bool, pictures: Pictures
) -> Iterator[tuple[str, str | Sequence[str]]]:
    """The names of a card's pictures, which are put among the others: the larger plan before the smaller."""

    def drawn(what: str, items: Callable[[], tuple[Item, ...]], width: float, height: float) -> str:
        name = f"{what} {card.no}"
        pictures[name] = _Picture((width, height), items)
        return name

    corner = (0.0, 0.0)
    if is_beside_the_body(card):
        picture = picture_beside(plan, card, _PLAN_SHARE * inner)
        yield "plans", [drawn("heel", lambda: hung(picture), picture.width, picture.height)]
        return
    if card.depth is not None:
        tall = section_height(plan, card)
        items = partial(section, plan, card, corner, SECTION_WIDTH, tall)
        yield "section", drawn("section", items, SECTION_WIDTH, tall)
    if turned:
        wide, tall = (inner, 1.5 * _TURNING) if card.depth is None else (SECTION_WIDTH, _TURNING)
        yield "turning", drawn("turning", partial(turning, plan, card.face, corner, wide, tall), wide, tall)
    yield "plans", list(_plans(plan, card, inner, drawn))


def _plans(plan: Plan, card: Card, inner: float, drawn: Callable[..., str]) -> Iterator[str]:
    """Where to measure, the larger picture before the smaller."""
    corner = (0.0, 0.0)
    if not has_plan(plan, card):
        for wide in (inner, _PLAN_SHARE * inner) if card.depth is None else ():
            if tall := measure_view_height(plan, card, wide):
                yield drawn(
                    f"measure {wide:.0f}", partial(measure_view, plan, card, corner, wide), wide, tall
                )
        return
    share = _DIMENSIONED_SHARE if has_dimensions(plan, card) else _PLAN_SHARE
    for wide in (inner, share * inner) if card.depth is None else (share * inner,):
        large = min(tallest_plan(plan, card, wide), _TALLEST_PLAN)
        # Many numbers beside the holes need the height.
        least = lowest_plan(plan, card)
        small = {max(each, least) for each in (_PLANS if len(card.places) <= _FEW else _PLANS[:1])}
        for tall in sorted({max(large, _PLANS[0]), *small}, reverse=True):
            yield drawn(
                f"plan {wide:.0f} by {tall:.0f}",
                partial(plan_view, plan, card, corner, wide, tall),
                wide,
                tall,
            )
