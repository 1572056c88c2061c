"""What the screen of a step shows: its figures, its pictures, and how far the whole work is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from scribeline.drawing.cards import picture_of_section, picture_of_where
from scribeline.features import runs, slope_deg
from scribeline.layout import Reading, on_centreline, side_words
from scribeline.lengths import JobUnit, by_inches, own_unit
from scribeline.operations import made_by_now, set_ups
from scribeline.steps import Card, Place, Standing
from scribeline.web.drawings import element
from scribeline.web.frame import beside

if TYPE_CHECKING:
    from scribeline.job import Document
    from scribeline.plan import Plan


@dataclass(frozen=True, slots=True)
class Figure:
    """A number read at arm's length.

    Attributes:
        label: what it is, and from where.
        number: in the job's own unit.
        unit: that unit; "" where the number carries it.
        second: the same in the other unit.
    """

    label: str
    number: str
    unit: str
    second: str

    @property
    def room(self) -> int:
        """How many signs its lettering must have room for: of what is longer, twelve are as small as it gets."""
        return min(max(len(self.number), 4), 12)


@dataclass(frozen=True, slots=True)
class Screen:
    """One screen of a step: the whole of it, or one of its holes.

    Attributes:
        standing: the step as the work stands.
        place: the hole, or the pocket; None where the step is about no single place.
        number: of this screen among the step's, from 1.
        of: how many there are.
        back: address of the screen before; "" at the very beginning.
        onwards: address of the next screen of this step; "" on its last.
        where: figures that say where.
        set: figures that say what to set.
        pictures: where to measure from, and the section under the bit.
        made: which of its holes are drilled already, while others are not; their numbers.
    """

    standing: Standing
    place: Place | None
    number: int
    of: int
    back: str
    onwards: str
    where: tuple[Figure, ...]
    set: tuple[Figure, ...]
    pictures: tuple[str, ...]
    made: tuple[str, ...]

    @property
    def beside(self) -> str:
        """The picture that stands beside the figures: the section, or of a step without one where to measure."""
        return self.pictures[1] or self.pictures[0]

    @property
    def below(self) -> str:
        """The picture that stands below them; "" where there is no other."""
        return self.pictures[0] if self.pictures[1] else ""

    @property
    def made_in_words(self) -> str:
        """Those that are drilled already: "V1 to V4, V6"."""
        return runs(self.made)

    @property
    def is_made(self) -> bool:
        """Whether this hole is drilled already, while others of its step are not."""
        return self.place is not None and self.place.number in self.made


def figure(label: str, mm: float, units: JobUnit) -> Figure:
    """A length as a figure, the job's own unit first."""
    return Figure(label, _bare(mm, units), units, beside(mm, units))


def where_figures(card: Card, place: Place | None, units: JobUnit) -> tuple[Figure, ...]:
    """Where a hole is, from what can be touched; of a step about no single place, what its gate should read."""
    if place is None:
        if card.gate.value is None:
            return ()
        return (figure("should read", card.gate.value, units),)
    found = [*(_from(reading, units) for reading in reversed(place.along)), _across(place, units)]
    if place.below is not None:
        found.append(_below(place.below, units))
    if place.out is not None:
        found += [_from(place.out.nearest, units, "out: "), _across(place.out, units, "out: ")]
        if place.out.below is not None:
            found.append(_below(place.out.below, units, "out: "))
    return tuple(found)


def _from(reading: Reading, units: JobUnit, what: str = "") -> Figure:
    return figure(f"{what}from {reading.datum.words}", reading.mm, units)


def _across(place: Place, units: JobUnit, what: str = "") -> Figure:
    side = side_words(place.across.mm)
    if on_centreline(place.across.mm):
        return Figure(f"{what}across", "0", "", side)
    return figure(f"{what}from the centreline, {side}", abs(place.across.mm), units)


def _below(reading: Reading, units: JobUnit, what: str = "") -> Figure:
    return figure(f"{what}below {reading.datum.words}", reading.mm, units)


def set_figures(plan: Plan, card: Card, units: JobUnit) -> tuple[Figure, ...]:
    """What is set for a step: bit, depths, angle."""
    found = []
    if card.bit is not None:
        bit = card.bit
        if bit.mark:
            found.append(Figure("bit", bit.mark, "", f"{bit.millimetres} · {bit.kind}"))
        else:
            number, _, unit = bit.sizes(units)[0].rpartition(" ")
            beside = f"{bit.millimetres} · {bit.kind}" if by_inches(units) else bit.kind
            found.append(Figure("bit", number, unit, beside))
    if card.depth is not None:
        found.append(figure("full depth", card.depth, units))
    if card.setting is not None:
        found.append(figure(f"{card.setting.kind}: {card.setting.where}", card.setting.mm, units))
    bore = next((each for each in plan.every_cut.bores if each.id in card.features), None)
    if bore is not None and not bore.is_upright and (bore.is_wire_way or bore.face != "edge"):
        found.append(Figure("angle from the face", f"{slope_deg(bore):.1f}", "°", ""))
    return tuple(found)


def drilled_numbers(plan: Plan, card: Card) -> tuple[str, ...]:
    """The numbers of a step's holes that are drilled already."""
    made = made_by_now(card, plan.record)
    return tuple(each.number for each in card.places if each.feature in made)


def pictures_of(plan: Plan, card: Card) -> tuple[str, ...]:
    """Where to measure from, and the section under the bit."""
    made = (
        (picture_of_where(plan, card), f"where to measure for: {card.title}"),
        (picture_of_section(plan, card), f"section under the bit for: {card.title}"),
    )
    return tuple(element(items, title) if items else "" for items, title in made)


# How far the whole work is

MarkState = Literal["done", "open", "waits", "stopped"]

MARK_WORDS: dict[MarkState, str] = {
    "done": "done",
    "open": "can be begun",
    "waits": "waits",
    "stopped": "DO NOT CUT",
}


@dataclass(frozen=True, slots=True)
class SetUp:
    """Steps that follow each other with the same machine, the same face up and the same bit.

    Attributes:
        steps: as the work stands.
    """

    steps: tuple[Standing, ...]

    @property
    def card(self) -> Card:
        """The first of them, which says what is set up."""
        return self.steps[0].card


def set_ups_of(found: tuple[Standing, ...]) -> tuple[SetUp, ...]:
    """The steps, by set-up."""
    by_id = {each.card.id: each for each in found}
    return tuple(
        SetUp(tuple(by_id[card.id] for card in group)) for group in set_ups([each.card for each in found])
    )


def mark_state(standing: Standing) -> MarkState:
    """How a step is marked in the strip; one that is open again for its gate is a stop."""
    return "stopped" if standing.stopped_by or standing.reopened else standing.state


# A blank that is not as thick as stated

THICKNESS = "body.thickness"
"""Key of the blank's thickness in a job."""

RULE_MM = 0.5
"""What a rule in half millimetres tells apart; one in inches tells 1/64 in."""

SAME_READING_MM = 1e-6
"""Two readings closer than this are the same, mm."""


@dataclass(frozen=True, slots=True)
class Thickness:
    """What the blank was read to be, to stand in the job in place of what it states.

    Attributes:
        mm: the least that was read.
        was: what the job states, mm.
        typed: as it is written into the job, the ± that stands there kept.
        why: for the history.
    """

    mm: float
    was: float
    typed: str
    why: str


def _bare(mm: float, units: JobUnit) -> str:
    """A length in the job's own unit, without its name."""
    return own_unit(mm, units).removesuffix(f" {units}")


def thickness_offered(document: Document | None, standing: Standing) -> Thickness | None:
    """The blank's thickness as its gate read it, where it passes no limit or a rule could tell it from what is stated."""
    answer, gate = standing.answer, standing.card.gate
    if document is None or answer is None or answer.value is None or gate.measurable != "body-thickness":
        return None
    units, stated = document.units, document.body.thickness
    rule = 25.4 / 64 if by_inches(units) else RULE_MM
    apart = abs(answer.value - stated.mm)
    beyond = standing.verdict in {"too little", "too much", "at own risk"}
    if apart <= SAME_READING_MM or (apart < rule and not beyond):
        return None
    typed = _bare(answer.value, units)
    if stated.measured:
        typed += f" +/- {_bare(stated.plus_minus, units)}"
    read = "; ".join(own_unit(each.value_mm, units) for each in answer.values)
    why = f"The blank as read at its gate{f', the least of {read}' if read else ''}; was {own_unit(stated.mm, units)}"
    return Thickness(answer.value, stated.mm, typed, why)
