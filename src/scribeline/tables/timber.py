"""Timbers: weight and hardness, from the Wood Handbook.

Strength columns are Table 5-3b (woods grown in the United States) and Table 5-5b (imported woods) of the
Wood Handbook, FPL-GTR-282 (2021). Table 5-5b prints one specific gravity, on oven-dry weight and green
volume. `timber.csv` says row by row which values are set down from memory.
"""

import re
from dataclasses import dataclass
from functools import cache
from typing import Literal

from scribeline.tables.published import UnknownName, alike, optional, rows, unknown

HardnessClass = Literal["soft", "medium", "hard", "very hard"]

NEWTON_PER_POUND_FORCE = 4.4482216152605
"""Exact: 0.45359237 kg at the standard acceleration of 9.80665 m/s²."""

# Side hardness in pounds-force at 12 % moisture below which a timber counts as soft, medium, hard. Our
# own thresholds, chosen so that the bench's usual groups fall out (basswood soft, mahogany medium, ash
# hard, rosewood very hard): common practice, no source.
_CLASS_LIMITS_LBF: tuple[tuple[float, HardnessClass], ...] = ((500, "soft"), (1100, "medium"), (1600, "hard"))

_FIBRE_SATURATION_PERCENT = 30.0

_PROPER = frozenset({"American", "Atlantic", "Douglas", "Engelmann", "Indian", "Sitka", "Spanish"})
"""First words of timbers' names that keep their capital inside a sentence: people and places."""


@dataclass(frozen=True, slots=True)
class Timber:
    """What the tables know of one timber.

    Attributes:
        key: Name in a job file, such as `maple-sugar`.
        label: Name on a sheet, such as `Sugar maple`.
        softwood: True for conifers, False for broadleaved trees.
        gravity_basic: Specific gravity on oven-dry weight and green volume.
        gravity_12: Specific gravity on oven-dry weight and volume at 12 % moisture; None where the
            source prints only the basic one.
        side_hardness_n: Side hardness at 12 % moisture, newtons.
        source: The tables the row comes from.
        from_memory: Which values are set down from memory and not read in the source: any of
            `gravity_basic`, `gravity_12`, `side_hardness`.
    """

    key: str
    label: str
    softwood: bool
    gravity_basic: float
    gravity_12: float | None
    side_hardness_n: float
    source: str
    from_memory: tuple[str, ...]

    @property
    def in_words(self) -> str:
        """Its name inside a sentence: `sugar maple`, but `Sitka spruce`."""
        first = re.split(r"[ -]", self.label, maxsplit=1)[0]
        return self.label if first in _PROPER else self.label[:1].lower() + self.label[1:]

    @property
    def gravity(self) -> float:
        """Specific gravity on oven-dry weight and volume at 12 % moisture: as printed, else worked out.

        Where the source prints only the basic one: G_M = G_b / (1 - 0.265 a G_b), a = (30 - M) / 30 (Wood
        Handbook ch. 4, from memory). For red alder it gives 0.393 where 0.41 is printed, so it is good to some 5 %.
        """
        if self.gravity_12 is not None:
            return self.gravity_12
        dryness = (_FIBRE_SATURATION_PERCENT - 12) / _FIBRE_SATURATION_PERCENT
        return self.gravity_basic / (1 - 0.265 * dryness * self.gravity_basic)

    @property
    def density_12_kg_m3(self) -> float:
        """Density at 12 % moisture, kg/m³: 1000 G (1 + M/100), the definition of specific gravity.

        Where the source prints no gravity at 12 % it is worked out from the basic one, see
        `density_is_estimate`. One board differs from the species' mean by 10 % and more: weigh yours.
        """
        return 1000 * self.gravity * 1.12

    @property
    def density_is_estimate(self) -> bool:
        """Whether the density rests on a formula, good to some 5 %, for lack of a printed gravity."""
        return self.gravity_12 is None

    @property
    def hardness_class(self) -> HardnessClass:
        """The bench's group by side hardness at 12 %: under 500, 1100, 1600 lbf, or above.

        The thresholds are ours: common practice, no source.
        """
        hardness_lbf = self.side_hardness_n / NEWTON_PER_POUND_FORCE
        return next((name for limit, name in _CLASS_LIMITS_LBF if hardness_lbf < limit), "very hard")


def _timber(row: dict[str, str]) -> Timber:
    return Timber(
        key=row["key"],
        label=row["label"],
        softwood=row["softwood"] == "yes",
        gravity_basic=float(row["gravity_basic"]),
        gravity_12=optional(row["gravity_12"]),
        side_hardness_n=float(row["side_hardness_12_lbf"]) * NEWTON_PER_POUND_FORCE,
        source=row["source"],
        from_memory=tuple(row["from_memory"].split(";")) if row["from_memory"] else (),
    )


def own_timber(name: str, *, kg_m3: float, hardness_n: float, softwood: bool, source: str) -> Timber:
    """A timber that no table has, by what a builder can find out about it.

    Args:
        name: what the builder calls it; its key too.
        kg_m3: density at 12 % moisture, kg/m³; its specific gravity at 12 % is this / 1120, by definition.
        hardness_n: side hardness at 12 %, newtons.
        softwood: whether it is a conifer's.
        source: where these come from.
    """
    gravity = kg_m3 / (1000 * 1.12)
    return Timber(
        key=name,
        label=name,
        softwood=softwood,
        gravity_basic=gravity,
        gravity_12=gravity,
        side_hardness_n=hardness_n,
        source=source,
        from_memory=(),
    )


def _words(name: str) -> tuple[str, ...]:
    """The words of a name in no order, so that "red alder" finds `alder-red`."""
    return tuple(sorted(re.findall(r"[a-z]+", name.lower())))


@cache
def _timbers() -> tuple[dict[str, Timber], dict[tuple[str, ...], str]]:
    by_key: dict[str, Timber] = {}
    key_of: dict[tuple[str, ...], str] = {}
    for row in rows("timber.csv"):
        by_key[row["key"]] = _timber(row)
        for name in (row["key"], row["label"], *filter(None, row["also"].split(";"))):
            key_of[_words(name)] = row["key"]
    return by_key, key_of


def timber_names() -> tuple[str, ...]:
    """The key of every timber known, in alphabetical order."""
    return tuple(_timbers()[0])


def timber(name: str) -> Timber:
    """Look up a timber by key, label or common name: `maple-sugar`, `Sugar maple`, `hard maple`.

    Args:
        name: The name; capitals, hyphens and the order of its words do not matter.

    Raises:
        UnknownName: No such timber; a name that fits several ("maple") is refused with the choices.
    """
    by_key, key_of = _timbers()
    key = key_of.get(_words(name))
    if key is None:
        raise _unknown_timber(name, key_of)
    return by_key[key]


def _unknown_timber(name: str, key_of: dict[tuple[str, ...], str]) -> UnknownName:
    names = {" ".join(words): key for words, key in key_of.items()}
    nearby = tuple(dict.fromkeys(names[spelling] for spelling in alike(name, names)))
    return unknown(
        "a timber", name, nearby, f"the timbers are {', '.join(map(_called, timber_names()))}", _called
    )


def _called(key: str) -> str:
    """A timber as the trade says it; a job may write it so as well."""
    return timber(key).in_words.partition(" (")[0].replace(",", "")
