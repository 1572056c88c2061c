"""What a step card says, as data for the form `cards.typ`: deciding figures, tables, sentences, the names of its pictures."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from scribeline.drawing.cards.places import place_tables
from scribeline.drawing.cards.sections import bore_of
from scribeline.drawing.cards.told import Told
from scribeline.drawing.face import text_width, wrap
from scribeline.features import Bit, Bore, Pocket, angle_from_face_deg, slope_deg
from scribeline.lengths import JobUnit, by_inches, in_unit, inch_text, size_text, trimmed
from scribeline.plan import Plan
from scribeline.steps import Card, Gate

TURN_OVER = "Turn the body over about its long axis: the neck stays on the same side."

_FACE_UP = {"top": "TOP FACE UP", "back": "BACK FACE UP"}
_TITLES, _LONG_TITLE = (8.0, 7.0, 6.0), 7.0
"""Capital heights of a title in one line, in the order they are tried, and of a longer one, mm."""
_MOST_TITLE_LINES = 2
_MOST_GONE, _GONE_CHARACTERS = 6, 900
"""Stops gone on against that a card tells, and the characters it has for all of them: more would crowd out the work."""

Figure = dict[str, Any]


def with_turns(cards: Sequence[Card]) -> Iterator[tuple[Card, bool]]:
    """Each card, and whether the body has to be turned over for it."""
    up = "top"
    for card in cards:
        turned = card.face not in ("", up)
        up = card.face or up
        yield card, turned


def told_card(plan: Plan, card: Card, width: float, *, turned: bool) -> dict[str, Any]:
    """All that a card says.

    Args:
        plan: it is of.
        card: the step.
        width: between the page's margins, mm; a title is broken to it.
        turned: whether the body is turned over for it.
    """
    return {
        "no": card.no,
        "title": _title(card.title, width - text_width(str(card.no), 12.0, bold=True) - 11.0),
        "face": _FACE_UP.get(card.face, ""),
        "up": card.face,
        "machine": card.machine,
        "bench": card.depth is None,
        "figures": list(_figures(plan, card)),
        "stop": _stop(plan, card),
        "turned": turned,
        "do": list(card.do),
        "tables": place_tables(plan, card),
        "gate": _gate(card.gate, plan),
        "gone": _gone_words(card),
        "cautions": list(card.cautions),
        "after": _after_words(plan, card) if card.after else "",
        "tool": _tool(card),
        "set": ""
        if card.depth is None
        else _number(plan, card.depth if card.setting is None else card.setting.mm),
    }


def _number(plan: Plan, mm: float) -> str:
    """A length without its unit, which the column's heading says."""
    return Told(plan.unit)(mm)[0].rpartition(" ")[0]


def _title(words: str, width: float) -> dict[str, Any]:
    """The title's lines and their height; a third line is cut off."""
    for size in _TITLES:
        if text_width(words, size, bold=True) <= width:
            return {"words": words, "lines": [words], "size": size}
    found = wrap(words, width, _LONG_TITLE, bold=True)
    if len(found) > _MOST_TITLE_LINES:
        last = found[_MOST_TITLE_LINES - 1]
        while text_width(f"{last}…", _LONG_TITLE, bold=True) > width:
            last = last[:-1]
        found = [*found[: _MOST_TITLE_LINES - 1], f"{last.rstrip()}…"]
    return {"words": words, "lines": found, "size": _LONG_TITLE}


def _tool(card: Card) -> str:
    """The tool in the list of the order of work."""
    if card.bit is not None:
        return f"{card.bit.size.partition(' (')[0]} {card.bit.kind}"
    return card.machine if card.machine in {"router", "carving"} else ""


def slanted(plan: Plan, card: Card) -> Bore | None:
    """The slanted hole a card drills, if it does."""
    bore = bore_of(plan, card)
    if bore is None or bore.is_upright:
        return None
    # A bore from the edge leans only where it does not run square to the edge.
    return None if bore.face == "edge" and bore.angle_from_face_sine > 1 - 1e-6 else bore


def _figures(plan: Plan, card: Card) -> Iterator[Figure]:
    """What decides: the bit in the chuck and what ends it, or what a bench reading should be."""
    told = Told.on(plan, card)
    if card.depth is None:
        if card.gate.value is not None:
            yield _reading(card.gate, told)
        return
    if card.bit is not None:
        yield _bit(card, told)
    elif (most := _widest_cutter(plan, card)) > 0:
        yield _measured("ROUTER BIT, at most", (size_text(most, told.unit), _other(most, told.unit)))
    if card.setting is None:
        yield _measured("DEPTH", told.figure(card.depth))
    else:
        label = "DEPTH STOP" if card.setting.kind == "depth stop" else "TAPE from the bit's point"
        yield _measured(label, told.figure(card.setting.mm))
    leaning = slanted(plan, card)
    if leaning is not None:
        label, degrees = "SLOPE from the face", slope_deg(leaning)
        if leaning.face == "edge" and not leaning.is_wire_way:
            label, degrees = "ANGLE from the edge", angle_from_face_deg(leaning)
        yield _figure(label, f"{degrees:.1f}°")


def _reading(gate: Gate, told: Told) -> Figure:
    """What a bench card asks for."""
    assert gate.value is not None
    if gate.value == 0.0 and gate.high is not None:
        return _measured("AT MOST", told.exactly(gate.high))
    return _measured("SHOULD MEASURE", told.figure(gate.value))


def _widest_cutter(plan: Plan, card: Card) -> float:
    """The widest router bit that gets into every corner of a card's pockets, mm; 0 where a corner is square."""
    radii = [
        cut.corner_radius for cut in plan.features if isinstance(cut, Pocket) and cut.id in card.features
    ]
    return 2 * min(radii)


def _bit(card: Card, told: Told) -> Figure:
    """The bit: its size as its owner knows it, the other unit below."""
    bit = card.bit
    assert bit is not None
    number, unit, second = _bit_words(bit, told)
    label = f"BIT, {bit.kind}" if bit.owned else f"GET THIS BIT: {bit.kind}"
    return _figure(label, number, unit, second, tagged=not bit.owned)


def _bit_words(bit: Bit, told: Told) -> tuple[str, str, str]:
    if bit.size.endswith(" mm"):
        big, small = bit.sizes(told.unit)
        return big.rpartition(" ")[0], told.unit, small
    label, _, rest = bit.size.partition(" (")
    bare_fraction = label.replace("/", "").replace("-", "").replace(" ", "").isdigit()
    return label, "in" if bare_fraction else "", rest.rstrip(")")


def _other(size: float, unit: JobUnit) -> str:
    """A bit's size in the unit that its shop does not go by."""
    return f"{trimmed(size)} mm" if by_inches(unit) else inch_text(size)


def _measured(label: str, told: tuple[str, str]) -> Figure:
    """A length in its two units as a figure."""
    number, _, unit = told[0].rpartition(" ")
    return _figure(label, number, unit, told[1])


def _figure(label: str, number: str, unit: str = "", second: str = "", *, tagged: bool = False) -> Figure:
    return {"label": label, "number": number, "unit": unit, "second": second, "tagged": tagged}


def _stop(plan: Plan, card: Card) -> dict[str, str] | None:
    """How deep the hole then is, where the stop is zeroed, and how fast the bit may turn."""
    if card.setting is None or card.depth is None:
        return None
    big, small = Told.on(plan, card).figure(card.depth)
    along = "along the hole" if slanted(plan, card) is not None else "at full diameter"
    speed = "" if card.rpm is None else f" At most {card.rpm} rpm."
    words = in_unit(card.setting.words, plan.unit) + speed
    return {"deep": f"Hole {big} deep {along}", "small": small, "words": words}


def _gate(gate: Gate, plan: Plan) -> dict[str, Any]:
    """What must be measured before going on; the limits in both units, the job's first, as a caliper reads them."""
    measured = gate.value is not None
    return {
        "ask": f"{gate.ask[0].upper()}{gate.ask[1:]}",
        "limits": list(_limits(gate, Told(plan.unit))),
        "labels": [
            each.id if gate.counts == "least" else f"{each.words[0].upper()}{each.words[1:]}"
            for each in gate.asks
        ]
        or ["Reading" if measured else "Checked, OK"],
        "unit": plan.unit if measured else "",
    }


def _limits(gate: Gate, told: Told) -> Iterable[str]:
    if gate.value is None or gate.low is None or gate.high is None:
        return ()
    high = told.exactly(gate.high)
    if gate.low == 0.0:
        return (f"At most {high[0]}, {high[1]}",)
    low = (words.rpartition(" ")[0] for words in told.exactly(gate.low))
    return tuple(f"{least} to {most}" for least, most in zip(low, high, strict=True))


def _gone_words(card: Card) -> list[str]:
    """What a card says not to cut and is cut all the same; where there are many, in few words each, and in full in the sheets."""
    told = card.gone[:_MOST_GONE]
    words = [f"Cut all the same: {each.within(_GONE_CHARACTERS // len(told))}" for each in told]
    more = len(card.gone) - len(told)
    return [*words, f"And {more} more: see the findings of the drawing sheets."] if more else words


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
