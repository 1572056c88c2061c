"""Gauges that strings are usually sold in together, as starting points: by common practice, after nobody's packet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from scribeline.tables.notes import note_number
from scribeline.tables.published import rows

FOURTH = 5
"""Semitones: further than a fourth from the tuning in hand a set is one for another instrument."""


@dataclass(frozen=True, slots=True)
class UsualSet:
    """Gauges that go together.

    Attributes:
        key: its name in the table.
        made_for: instrument and tuning in words.
        notes: that it is meant for, treble first.
        gauges: as players say them, thousandths of an inch with a point before: `.010`.
        source: where that comes from.
    """

    key: str
    made_for: str
    notes: tuple[str, ...]
    gauges: tuple[str, ...]
    source: str

    @property
    def name(self) -> str:
        """Its thinnest and its thickest string: `.010 to .046`."""
        return f"{self.gauges[0]} to {self.gauges[-1]}"


@cache
def usual_sets() -> tuple[UsualSet, ...]:
    """Every set of the table, in its order."""
    return tuple(
        UsualSet(
            row["set"],
            row["for"],
            tuple(row["notes"].split()),
            tuple(row["gauges_in"].split()),
            row["source"],
        )
        for row in rows("string_sets.csv")
    )


def sets_like(notes: Sequence[str]) -> tuple[UsualSet, ...]:
    """Sets for as many strings whose tuning is near, those of the very tuning first.

    Args:
        notes: of the instrument, treble first; one tuned to a frequency counts as near to any.
    """
    found = []
    for each in usual_sets():
        if len(each.notes) == len(notes):
            away = _furthest(notes, each.notes)
            if away <= FOURTH:
                found.append((away, each))
    return tuple(each for _, each in sorted(found, key=lambda pair: pair[0] > 0))


def _furthest(notes: Sequence[str], others: Sequence[str]) -> int:
    """How far two tunings are apart at most, semitones."""
    apart = 0
    for note, other in zip(notes, others, strict=True):
        try:
            apart = max(apart, abs(note_number(note) - note_number(other)))
        except ValueError:
            continue
    return apart
