"""Numbers that have a name: each with its value, its spread, and how it came about.

The spread follows from that of the roots: each root in doubt adds its own standard deviation times the rate at which
the number answers, found by differences on the formula itself, and independent roots add up as squares (JCGM
100:2008, 5.1.2). What each root adds is kept with its sign, so that two numbers that rest on one root are known to
move together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from math import hypot, isclose

from scribeline.quantities.formula import Formula, evaluated, written

_STEP = 0.2
"""Step of the differences, in standard deviations of the input."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """One number with its name and how it came about.

    Attributes:
        id: its name; "" for a number that stands in one formula only.
        what: what it is, in bench words.
        value: in its unit.
        unit: "mm", "N", "rad" and the like; "" for a bare number.
        formula: how it is worked out of its inputs (`written`); "" for a root, and for what is found by a search or by
            steps towards a solution, of which `source` tells.
        inputs: by their names in the formula; of a number that is found, what it was found from.
        source: where a root, or the rule behind a formula, comes from.
        spread: what each root in doubt adds to the standard deviation, with its sign, by the root's id.
    """

    id: str
    what: str
    value: float
    unit: str = "mm"
    formula: str = ""
    inputs: Mapping[str, Quantity] = field(default_factory=dict)
    source: str = ""
    spread: Mapping[str, float] = field(default_factory=dict)

    @property
    def sd(self) -> float:
        """Standard deviation, in its unit."""
        return hypot(*self.spread.values())

    def shares(self) -> tuple[tuple[str, float], ...]:
        """The roots of its doubt by their share of the variance, greatest first; none where it is in no doubt."""
        whole = sum(each * each for each in self.spread.values())
        ranked = sorted(self.spread.items(), key=lambda pair: -abs(pair[1]))
        return tuple((root, each * each / whole) for root, each in ranked) if whole else ()


def worked(
    name: str,
    formula: Formula,
    inputs: Mapping[str, Quantity],
    *,
    what: str,
    unit: str = "mm",
    source: str = "",
    sd: float | None = None,
) -> Quantity:
    """Work a number out of others by a formula.

    Args:
        name: its id.
        formula: takes each input by its name.
        inputs: by these names.
        what: what it is, in bench words.
        unit: its unit.
        source: of the rule behind the formula.
        sd: its standard deviation where that is its own, not that of its inputs: of a place that somebody sets out,
            how well it is set out.
    """
    values = {key: each.value for key, each in inputs.items()}
    own = _spread(formula, values, inputs) if sd is None else _root(name, sd)
    return Quantity(
        name, what, formula(**values), unit, written(formula, tuple(inputs)), dict(inputs), source, own
    )


def _root(name: str, sd: float) -> dict[str, float]:
    return {name: sd} if sd else {}


def _spread(
    formula: Formula, values: Mapping[str, float], inputs: Mapping[str, Quantity]
) -> dict[str, float]:
    found: dict[str, float] = {}
    for key, each in inputs.items():
        if not (step := _STEP * each.sd):
            continue
        above, below = (formula(**{**values, key: moved}) for moved in (each.value + step, each.value - step))
        rate = (above - below) / (2 * step)
        for root, adds in each.spread.items():
            found[root] = found.get(root, 0.0) + rate * adds
    return found


def deciding(of: Quantity) -> tuple[Quantity, ...]:
    """The inputs that a number answers to: of a least or a greatest, those that it is; of any other formula, all but few."""
    if not of.formula:
        return tuple(of.inputs.values())
    values = {name: each.value for name, each in of.inputs.items()}
    return tuple(
        each
        for name, each in of.inputs.items()
        if any(evaluated(of.formula, {**values, name: each.value + move}) != of.value for move in _NUDGES)
    )


_NUDGES = (-1e-3, 1e-3)
"""By how much an input is moved to see whether a number answers to it."""


def chain(*ends: Quantity, whole: bool = True) -> Iterator[tuple[int, Quantity]]:
    """Walk from numbers down to their roots, each once: (how far down, the number).

    Args:
        ends: where to begin.
        whole: whether to follow every input, or only those that decide.
    """
    seen: set[str] = set()
    waiting = [(0, each) for each in reversed(ends)]
    while waiting:
        depth, each = waiting.pop()
        if each.id in seen:
            continue
        if each.id:
            seen.add(each.id)
        yield depth, each
        inputs = tuple(each.inputs.values()) if whole else deciding(each)
        waiting.extend((depth + 1, inner) for inner in reversed(inputs))


UNTOLD = "as the plan has it: a formula for this case is not told yet"
"""Source of a number that its usual formula does not give."""

Input = str | float
"""The id of a number, or a number that has none."""


class Quantities(Mapping[str, Quantity]):
    """Named numbers, each worked out when it is first asked for.

    The rooms that know a number say how it comes about (`give`, `work`); nothing is worked out by that.
    """

    def __init__(self) -> None:
        self._ways: dict[str, Callable[[], Quantity]] = {}
        self._known: dict[str, Quantity] = {}

    def __len__(self) -> int:
        return len(self._ways)

    def __iter__(self) -> Iterator[str]:
        return iter(self._ways)

    def __contains__(self, name: object) -> bool:
        return name in self._ways

    def __getitem__(self, name: str) -> Quantity:
        if name not in self._known:
            self._known[name] = self._ways[name]()
        return self._known[name]

    def give(
        self,
        name: str,
        value: float,
        *,
        what: str,
        source: str,
        unit: str = "mm",
        sd: float = 0.0,
        spread: Mapping[str, float] | None = None,
        inputs: Mapping[str, Input] | None = None,
    ) -> None:
        """Name a number that no formula gives: stated, measured, looked up, or found by a search.

        Args:
            name: its id.
            value: in its unit.
            what: what it is, in bench words.
            source: where it comes from, or how it was found.
            unit: its unit.
            sd: its standard deviation, in its unit.
            spread: what each root adds to that, where it is found from numbers in doubt.
            inputs: what it was found from.
        """

        def way() -> Quantity:
            own = _root(name, sd) if spread is None else spread
            return Quantity(name, what, value, unit, "", self._inputs(inputs or {}), source, own)

        self._ways[name] = way

    def work(
        self,
        name: str,
        formula: Formula,
        inputs: Mapping[str, Input],
        *,
        what: str,
        unit: str = "mm",
        source: str = "",
        sd: float | None = None,
        planned: float | None = None,
    ) -> None:
        """Name a number that a formula gives; see `worked`.

        Args:
            name: its id.
            formula: takes each input by its name.
            inputs: by these names, each the id of a number or a bare one.
            what: what it is, in bench words.
            unit: its unit.
            source: of the rule behind the formula.
            sd: its own standard deviation, where it does not follow from its inputs.
            planned: what the plan has; where the formula does not come to that, the plan's number is told, without it.
        """

        def way() -> Quantity:
            found = worked(name, formula, self._inputs(inputs), what=what, unit=unit, source=source, sd=sd)
            if planned is None or isclose(found.value, planned, rel_tol=1e-9, abs_tol=1e-9):
                return found
            return Quantity(name, what, planned, unit, "", found.inputs, UNTOLD, found.spread)

        self._ways[name] = way

    def state(self, name: str, way: Callable[[], Quantity]) -> None:
        """Name a number by how it is found when it is asked for."""
        self._ways[name] = way

    def later(self, name: str, way: Callable[[], None]) -> None:
        """Keep a name for a number that `way` names, by `give` or `work`, once it is asked for: where even that is work."""

        def make() -> Quantity:
            way()
            return self._ways[name]()

        self._ways[name] = make

    def _inputs(self, inputs: Mapping[str, Input]) -> dict[str, Quantity]:
        return {key: self._input(key, each) for key, each in inputs.items()}

    def _input(self, key: str, given: Input) -> Quantity:
        if isinstance(given, str):
            return self[given]
        return Quantity("", key.replace("_", " "), float(given), "")

    def under(self, name: str) -> tuple[Quantity, ...]:
        """The number of this name, and those whose names begin with it and a full stop or a bracket."""
        heads = (f"{name}.", f"{name}[")
        found = [name] if name in self else []
        return tuple(self[each] for each in (*found, *(each for each in self if each.startswith(heads))))

    def nearest(self, name: str, *, count: int = 3) -> tuple[str, ...]:
        """The names most like a name that is none."""
        return tuple(get_close_matches(name, self, n=count, cutoff=0.5))
