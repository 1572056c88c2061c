"""The odds in shop words: what an outcome, an operation, a method and a purchase are called. The numbers know none of this."""

from __future__ import annotations

from dataclasses import dataclass

from scribeline.findings.wood import named
from scribeline.odds.odds import Buy
from scribeline.odds.outcomes import Outcome
from scribeline.odds.sources import EXPECTED, PARTS, PLAY, PRINT, RULE, SPREAD, STATED, STRINGS, WOOD
from scribeline.plan import Plan
from scribeline.tables import Accuracies

_READ_FROM = {
    "12th": "12th fret",
    "nut": "nut",
    "pocket-end": "pocket's end wall",
    "centreline": "centreline",
    "line": "set-out line",
}

_MEASURED = {
    "nut-to-12th": "nut to the 12th fret",
    "nut-to-last-slot": "nut to the last slot",
    "body-thickness": "thickness of the blank",
    "margin-treble": "string to board edge, treble",
    "margin-bass": "string to board edge, bass",
    "diagonal-treble": "diagonal from the treble corner",
    "diagonal-bass": "diagonal from the bass corner",
    "nut-floor": "nut slots over the board",
    "first-fret-treble": "treble string over the first fret",
    "first-fret-bass": "bass string over the first fret",
    "sides-differ": "difference of the two board edges at the last fret",
    "margin.treble": "treble string inside the board's edge",
    "margin.bass": "bass string inside the board's edge",
    "heights-off": "height of the strings at the saddles",
    "board-over-top": "board over the body's top",
    "ferrules.lip-play": "ferrule's lip in its counterbore",
    "ferrules.body-play": "ferrule's body in its hole",
}

_OPERATIONS = {
    PARTS: "Parts as they measure",
    STRINGS: "Where the strings want their saddles",
    RULE: "The rule's own scale",
    PRINT: "The print's scale",
    WOOD: "The blank's thickness",
}

_METHODS = {
    STATED: "the ± stated in the job",
    SPREAD: "the prediction's spread",
    PLAY: "play between two parts",
    EXPECTED: "not read yet",
}

_BETTER = {
    "rule-cut": "cut the line with a knife at the rule, with no reading in between",
    "mark-knife": "mark with a knife, not a pencil",
    "prick-punch": "a knife cross and a punch, not the awl",
    "template-pins": "hold the templates by pins, not by tape",
    "lean-press-trued": "true the press's table",
    "lean-block": "drill by hand in a guide block",
    "depth-press": "a depth stop, not a flag of tape",
}


_READINGS = {
    "rule": "read the rule",
    "rule-cut": "cut at the rule",
    "thread": "read the threads",
    "tape": "read the diagonals",
    "feeler": "read the feelers",
    "caliper": "read the caliper",
    "caliper-wood": "read the caliper",
    "depth-gauge": "read the depth",
}


@dataclass(frozen=True)
class Words:
    """What the odds of a plan speak of.

    Attributes:
        plan: whose odds they are.
        accuracies: they rest on.
    """

    plan: Plan
    accuracies: Accuracies

    def outcome(self, outcome: Outcome) -> str:
        """What an outcome is called."""
        name = outcome.id
        if name in _MEASURED:
            return _MEASURED[name]
        match outcome.kind:
            case "reading":
                return self._reading(name)
            case "travel":
                return self._travel(name)
            case "height":
                _, number, way = name.split(".")
                return f"{self._string(number)}: saddle's height in hand, {way}"
            case "fit":
                return self._fit(name)
            case _:
                return self._wood(outcome)

    def _reading(self, name: str) -> str:
        start, _, end = name.partition("-to-")
        bridge = self.plan.layout.bridge
        parts: dict[str, str] = {}
        if bridge is not None:
            parts = {mark.id: mark.name for mark in bridge.marks} | {u.id: u.name for u in bridge.units}
        return f"{_READ_FROM.get(start, start)} to the {parts.get(end, end).removeprefix('the ')}"

    def _string(self, number: str) -> str:
        return f"string {number} ({self.plan.layout.strings[int(number) - 1].note})"

    def _travel(self, name: str) -> str:
        _, which, number, way = name.split(".")
        sets = self.plan.layout.stringing.wanted()
        of = "" if which == "0" else f", {sets[int(which)].name}"
        return f"{self._string(number)}{of}: saddle travel left {'to the nut' if way == 'forward' else 'to the tail'}"

    def _fit(self, name: str) -> str:
        head, _, what = name.rpartition(".")
        number = head.rpartition("-")[2]
        if what == "thread-left":
            return f"thread in hand, {self.plan.job.document.controls[int(number) - 1].name}"
        if what == "row":
            return f"ferrule hole {number} off the straight line of its row"
        return f"string hole {number} meets its ferrule hole"

    def _wood(self, outcome: Outcome) -> str:
        cuts = {feature.id: feature for feature in self.plan.features}
        called = [named(cuts[name]) for name in outcome.of]
        if len(called) == 2:
            return f"wood between {called[0]} and {called[1]}"
        what = outcome.id.rpartition(".")[2]
        if what == "to-opposite":
            return f"wood under {called[0]}"
        place = {"to-edge": "the body's edge", "to-top": "the top", "to-back": "the back"}[what]
        return f"wood from {called[0]} to {place}"

    def operation(self, name: str) -> str:
        """What an operation is called: as its step card is."""
        if name in _OPERATIONS:
            return _OPERATIONS[name]
        return next(
            (f"{n}. {card.title}" for n, card in enumerate(self.plan.cards, 1) if card.id == name), name
        )

    def method(self, name: str) -> str:
        """What a method is called."""
        return _METHODS[name] if name in _METHODS else self.accuracies[name].what

    def reads(self, name: str) -> str:
        """What a gate reads: a measurable, or a cut's depth."""
        cut = next((each for each in self.plan.features if each.id == name), None)
        if cut is not None:
            return f"depth of {named(cut)}"
        return _MEASURED[name] if name in _MEASURED else self._reading(name)

    def buy(self, buy: Buy) -> str:
        """What a purchase is."""
        if buy.kind == "better":
            return _BETTER.get(buy.then, f"{self.method(buy.then)}, not {self.method(buy.now)}")
        if buy.kind == "measure":
            return f"measure {buy.of} with the caliper"
        reading = _READINGS.get(buy.now, self.method(buy.now))
        number = next((n for n, card in enumerate(self.plan.cards, 1) if card.id == buy.operation), None)
        return f"{reading} twice at {self.operation(buy.operation) if number is None else f'step {number}'}"


def percent(share: float) -> str:
    """A chance as it is told: no 0 % of what can happen, no 100 % of what can fail."""
    if 0 < share < 0.001:
        return "< 0.1 %"
    if 0.999 < share < 1:
        return "> 99.9 %"
    return f"{100 * share:.1f} %" if share < 0.1 or share > 0.9 else f"{100 * share:.0f} %"
