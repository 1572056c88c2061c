"""The figures a step card is read for: the bit, the depth, the stop's setting, a bench reading; the gate's box."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

from scribeline.drawing.cards.blocks import (
    GAP,
    PAD,
    PITCH,
    Block,
    Told,
    beside,
    black_tag,
    black_tag_width,
    box,
    lettered,
    lines,
    stack_height,
    stacked,
    too_coarse,
)
from scribeline.drawing.cards.page import DECIDING
from scribeline.drawing.cards.sections import bore_of
from scribeline.drawing.face import text_width
from scribeline.drawing.sheet import ACTED_ON_LETTERING, LETTERING, RULING, Item, Line, Point, Text
from scribeline.features import Bit, Bore, Pocket, angle_from_face_deg, slope_deg
from scribeline.lengths import inch_text, mm_text, size_text, trimmed
from scribeline.plan import Plan
from scribeline.steps import Card, Gate

_SECOND_UNITS = (74.0, 58.0, 48.0)
"""Widths from which a figure's second unit is broken, in the order they are tried, mm."""
_WRITE = 9.6
"""Height for writing a reading, mm."""
_GREATEST = 18.0
"""Greatest capital height of a deciding figure, mm."""


def slanted(plan: Plan, card: Card) -> Bore | None:
    """The slanted hole a card drills, if it does."""
    bore = bore_of(plan, card)
    if bore is None or bore.is_upright:
        return None
    # A bore from the edge leans only where it does not run square to the edge.
    return None if bore.face == "edge" and bore.angle_from_face_sine > 1 - 1e-6 else bore


def setting(plan: Plan, card: Card, width: float, text: float) -> Block:
    """The bit and the depth, side by side where there is room, the angle, and what the stop reads."""
    leaning = slanted(plan, card)
    angle = None
    if leaning is not None:
        words, degrees = "SLOPE from the face", slope_deg(leaning)
        if leaning.face == "edge" and not leaning.is_wire_way:
            words, degrees = "ANGLE from the edge", angle_from_face_deg(leaning)
        angle = _figure(_Words(words, f"{degrees:.1f}°"), DECIDING)
    size = max(ACTED_ON_LETTERING, min(4.6, 0.95 * text))
    heights = (_GREATEST, 16.0, 14.0, 13.0, DECIDING)
    for height, limit in product((h for h in heights if h <= max(DECIDING, 3.2 * text)), _SECOND_UNITS):
        figures = [_figure(words, height, size, limit) for words in _figures(plan, card)]
        if sum(figure.width for figure in figures) + 2 * GAP * (len(figures) - 1) <= width:
            break
    rows, told = [_side_by_side(figures, width)], Told.on(plan, card)
    if angle is not None:
        aside = angle.width + 2 * GAP
        rows.append(beside([(0.0, angle), *((aside, b) for b in _stop(card, told, width - aside, text))]))
    else:
        rows += _stop(card, told, width, text)
    return stacked(rows)


def setting_again(plan: Plan, card: Card, width: float) -> Block:
    """The deciding figures once more, on a card's second page."""
    half = width / 2 - 2 * GAP
    return _side_by_side([_figure(words, DECIDING, limit=half) for words in _figures(plan, card)], width)


def reading(gate: Gate, text: float, unit: Literal["mm", "in"]) -> Block:
    """What a bench card asks for."""
    assert gate.value is not None
    at_most = gate.high if gate.value == 0.0 else None
    words = (
        _measured("SHOULD MEASURE", _told(gate.value, Told(unit, gate)))
        if at_most is None
        else _measured("AT MOST", _exactly(at_most, unit))
    )
    return _figure(words, max(15.0, min(24.0, 4.0 * text)), max(4.6, 0.9 * text))


def _side_by_side(figures: Sequence[Block], width: float) -> Block:
    if len(figures) == 1:
        return figures[0]
    bit, depth = figures
    if bit.width + 2 * GAP + depth.width > width:
        return stacked(figures)
    return beside([(0.0, bit), (max(bit.width + 2 * GAP, min(0.5 * width, width - depth.width)), depth)])


@dataclass(frozen=True, slots=True)
class _Words:
    """A figure's label, its number and unit, the second unit; the label a black tag where it asks for something."""

    label: str
    number: str
    unit: str = ""
    second: str = ""
    tagged: bool = False


def _figure(words: _Words, height: float, small_height: float = 4.0, limit: float = 58.0) -> Block:
    """A label, the deciding figure with its unit, its second unit below.

    Args:
        words: what it says.
        height: capital height of the figure, mm.
        small_height: capital height of the second unit, mm.
        limit: width from which the second unit is broken, mm.
    """
    label, number, unit, tagged = words.label, words.number, words.unit, words.tagged
    wide = text_width(number, height, bold=True)
    heading = (
        black_tag_width(label, ACTED_ON_LETTERING)
        if tagged
        else text_width(label, ACTED_ON_LETTERING, bold=True)
    )
    span = wide + (2.0 + text_width(unit, 5.0, bold=True) if unit else 0.0)
    small = lines(words.second, max(span, limit), small_height) if words.second else ()
    spans = (heading, span, *(text_width(line, small_height) for line in small))
    above = ACTED_ON_LETTERING + 2.2 + height
    tall = above + (2.0 + stack_height(len(small), small_height) if small else 0.6)

    def draw(corner: Point) -> tuple[Item, ...]:
        x, y = corner
        base = y - above
        items: list[Item] = []
        if tagged:
            items += black_tag(label, (x, y + 0.5), ACTED_ON_LETTERING, pad=0.2)
        else:
            items.append(Text(LETTERING, (x, y - ACTED_ON_LETTERING), label, ACTED_ON_LETTERING, bold=True))
        items.append(Text(LETTERING, (x, base), number, height, bold=True))
        if unit:
            items.append(Text(LETTERING, (x + wide + 2.0, base), unit, 5.0, bold=True))
        return (*items, *lettered(small, (x, base - 2.0), small_height))

    return Block(tall, draw, max(spans))


def _figures(plan: Plan, card: Card) -> list[_Words]:
    """The bit, where the card says which, and the depth."""
    depth = card.depth
    assert depth is not None
    unit = plan.unit
    label = "DEPTH along the hole" if slanted(plan, card) is not None else "DEPTH, full diameter"
    deep = _measured(label if card.bit is not None else "DEPTH", _told(depth, Told.on(plan, card)))
    bit = card.bit
    if bit is None:
        pocket = next(f for f in plan.features if f.id in card.features)
        assert isinstance(pocket, Pocket)
        most = 2 * pocket.corner_radius
        return (
            [_measured("ROUTER BIT, at most", (size_text(most, unit), _other(most, unit))), deep]
            if most > 0
            else [deep]
        )
    label = f"BIT, {bit.kind}" if bit.owned else f"GET THIS BIT: {bit.kind}"
    number, of, second = _bit_words(bit, unit)
    turning = "" if card.rpm is None else f"; up to {card.rpm} rpm"
    return [_Words(label, number, of, second + turning, tagged=not bit.owned), deep]


def _stop(card: Card, told: Told, width: float, text: float) -> list[Block]:
    """What the depth stop reads, told apart from the depth by its box."""
    setting = card.setting
    if setting is None:
        return []
    big, small = _told(setting.mm, told)
    inner = width - 2 * PAD
    words = f"Depth stop {big}" if setting.kind == "depth stop" else f"Tape the bit {big} from its point"
    large = max(4.6, min(text, 6.0))
    size = next(
        (s for s in (large, 4.0, ACTED_ON_LETTERING) if text_width(words, s, bold=True) <= inner), large
    )
    head = lines(words, inner, size, True)
    beside_it = text_width(words, size, bold=True) + 3.0
    inline = len(head) == 1 and beside_it + text_width(small, ACTED_ON_LETTERING) <= inner
    below = lines(setting.words if inline else f"{small}. {setting.words}", inner, ACTED_ON_LETTERING)
    first = len(head) * size * PITCH
    tall = first + len(below) * ACTED_ON_LETTERING * PITCH + 2.2

    def draw(corner: Point) -> tuple[Item, ...]:
        x, y = corner[0] + PAD, corner[1] - 1.8
        items: list[Item] = [box(corner, width, tall), *lettered(head, (x, y), size, bold=True)]
        if inline:
            items.append(Text(LETTERING, (x + beside_it, y - size), small, ACTED_ON_LETTERING))
        return (*items, *lettered(below, (x, y - first), ACTED_ON_LETTERING))

    return [Block(tall, draw, width)]


def gate_box(gate: Gate, width: float, text: float, unit: Literal["mm", "in"]) -> Block:
    """What must be measured before going on, with room to write the reading."""
    inner = width - 2 * PAD
    ask = lines(gate.ask[0].upper() + gate.ask[1:], inner, text)
    limits = _limits(gate, unit)
    if text_width(", ".join(limits), text, bold=True) <= inner:
        limits = tuple(filter(None, [", ".join(limits)]))
    limit_lines = tuple(line for words in limits for line in lines(words, inner, text, True))
    head = 1.9 * text + 1.6
    body = (len(ask) + len(limit_lines)) * PITCH * text
    tall = head + body + _WRITE

    def draw(corner: Point) -> tuple[Item, ...]:
        x, y = corner
        measured = gate.value is not None
        base = y - tall + 2.2
        split = inner * 0.62
        return (
            box(corner, width, tall),
            *black_tag("BEFORE YOU GO ON", corner, min(text, _tag_size(width))),
            *lettered(ask, (x + PAD, y - head), text),
            *lettered(limit_lines, (x + PAD, y - head - len(ask) * PITCH * text), text, bold=True),
            *blank(
                "Reading" if measured else "Checked, OK",
                (x + PAD, base),
                split - 3.0,
                unit if measured else "",
            ),
            *blank("Initials", (x + PAD + split, base), inner - split, ""),
        )

    return Block(tall, draw, width)


def _tag_size(width: float) -> float:
    """The largest lettering in which a gate's tag is no wider than its box, mm."""
    return width / black_tag_width("BEFORE YOU GO ON", 1.0)


def blank(label: str, at: Point, width: float, unit: str) -> Iterator[Item]:
    """A label, where there is one, and a rule to write on."""
    x, y = at
    start = x + (text_width(label, ACTED_ON_LETTERING) + 1.5 if label else 0.0)
    end = x + width - (text_width(unit, ACTED_ON_LETTERING) + 1.5 if unit else 0.0)
    if label:
        yield Text(LETTERING, (x, y), label, ACTED_ON_LETTERING)
    yield Line(RULING, (start, y - 0.4), (end, y - 0.4))
    if unit:
        yield Text(LETTERING, (end + 1.5, y), unit, ACTED_ON_LETTERING)


def _bit_words(bit: Bit, unit: Literal["mm", "in"]) -> tuple[str, str, str]:
    """The bit's size as its owner knows it, the unit, and the other unit below."""
    if bit.size.endswith(" mm"):
        big, small = (bit.size, bit.inches) if unit == "mm" else (bit.inches, bit.size)
        return big.rpartition(" ")[0], unit, small
    label, _, rest = bit.size.partition(" (")
    bare_fraction = label.replace("/", "").replace("-", "").replace(" ", "").isdigit()
    return label, "in" if bare_fraction else "", rest.rstrip(")")


def _measured(label: str, told: tuple[str, str]) -> _Words:
    """A length in its two units as a figure."""
    number, _, unit = told[0].rpartition(" ")
    return _Words(label, number, unit, told[1])


def _told(value: float, told: Told) -> tuple[str, str]:
    """A length and the second unit; where a fraction eats too much of the tolerance the decimal stands beside it."""
    big, small = Told(told.unit)(value)
    if not too_coarse(value, told.gate):
        return big, small
    return (big, f"{small}, {inch_text(value)}") if told.unit == "mm" else told(value)


def _exactly(value: float, unit: Literal["mm", "in"]) -> tuple[str, str]:
    """A length that no rule's marks will do for."""
    both = mm_text(value), inch_text(value)
    return both if unit == "mm" else both[::-1]


def _other(size: float, unit: Literal["mm", "in"]) -> str:
    """A bit's size in the unit that its shop does not go by."""
    return inch_text(size) if unit == "mm" else f"{trimmed(size)} mm"


def _limits(gate: Gate, unit: Literal["mm", "in"]) -> tuple[str, ...]:
    """The limits in both units, the job's first, as a caliper reads them; nothing where there is nothing to measure."""
    if gate.value is None or gate.low is None or gate.high is None:
        return ()
    high = _exactly(gate.high, unit)
    if gate.low == 0.0:
        return (f"At most {high[0]}, {high[1]}",)
    low = (words.rpartition(" ")[0] for words in _exactly(gate.low, unit))
    return tuple(f"{least} to {most}" for least, most in zip(low, high, strict=True))
