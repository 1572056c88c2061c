"""How well things are measured, marked and cut at a bench, one standard deviation each, by method.

Guesses of common practice until a shop knows its own: `Accuracies.with_own` takes those.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from math import hypot, radians
from types import MappingProxyType

from scribeline.tables.published import UnknownName, alike, rows


@dataclass(frozen=True, slots=True)
class Accuracy:
    """How well one method does.

    Attributes:
        key: its name.
        what: what it is, in bench words.
        sd: standard deviation: mm, rad, or mm per mm of length as `unit` says.
        unit: "mm", "rad" or "mm per mm".
        shared: what makes the same error again and again (one rule, one press, one print); "" where each is by itself.
        source: where the number comes from.
    """

    key: str
    what: str
    sd: float
    unit: str
    shared: str
    source: str


class Accuracies(Mapping[str, Accuracy]):
    """Accuracies by method; a name that is none of them raises `UnknownName`."""

    def __init__(self, known: Mapping[str, Accuracy]) -> None:
        self._known = MappingProxyType(dict(known))

    def __getitem__(self, key: str) -> Accuracy:
        found = self._known.get(key)
        if found is None:
            nearby = alike(key, self._known)
            ways = nearby[:3] or tuple(self._known)
            message = f"no way of measuring or marking is called {key!a}; there is {', '.join(ways)}"
            raise UnknownName(message, key, nearby)
        return found

    def __contains__(self, key: object) -> bool:
        return key in self._known

    def __iter__(self) -> Iterator[str]:
        return iter(self._known)

    def __len__(self) -> int:
        return len(self._known)

    def __reduce__(self) -> tuple[type[Accuracies], tuple[dict[str, Accuracy]]]:
        """A job and its plan go from process to process."""
        return Accuracies, (dict(self._known),)

    def sd(self, *keys: str) -> float:
        """Standard deviation of several errors on top of one another, each by itself, in the unit they share."""
        return hypot(*(self[key].sd for key in keys))

    @property
    def own(self) -> tuple[Accuracy, ...]:
        """Those that a shop found out itself, and did not take as usual."""
        return tuple(
            each
            for each in self._known.values()
            if not each.source.startswith(("common practice", "from memory"))
        )

    def with_own(self, own: Mapping[str, float], source: str) -> Accuracies:
        """The same with a shop's own standard deviations, in the unit of each."""
        known = {key: replace(self[key], sd=sd, source=source) for key, sd in own.items()}
        return Accuracies({**self._known, **known})


@cache
def usual_accuracies() -> Accuracies:
    """Those of common practice."""
    return Accuracies({each["key"]: _read(each) for each in rows("accuracies.csv")})


def _read(row: Mapping[str, str]) -> Accuracy:
    in_degrees = row["unit"] == "degrees"
    sd = float(row["sd"])
    return Accuracy(
        row["key"],
        row["what"],
        radians(sd) if in_degrees else sd,
        "rad" if in_degrees else row["unit"],
        "" if row["shared"] == "no" else row["shared"],
        row["source"],
    )
