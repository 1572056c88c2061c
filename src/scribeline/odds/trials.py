"""Many trial builds at once: errors drawn in blocks, from a seed, and what comes of them counted.

A block's errors come from its own stream of the seed, so that the answer is the same on one processor and on several
(the spawning of `numpy.random.SeedSequence`). Errors of one kind at one operation that only ever come to the outcomes
together are drawn as few normal numbers as they have directions there: the same distribution, with less drawing (a singular
value decomposition of their part of the model; exact for normal errors).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import islice
from os import cpu_count
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from scribeline.odds.ways import EVEN

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

BLOCK = 16_384
"""Trial builds of a block."""

MOST_AT_ONCE = 2
"""Blocks in work at a time: two processors are what a shop's PC has to spare, and memory is bounded by it."""

_NOTHING = 1e-7
"""What an error moves an outcome by at most where it does not count, mm."""

Result = TypeVar("Result")

Name = tuple[str, str, str]
"""Of a group of errors: operation, method, and what it is an error of where that stands by itself."""


class Cancelled(Exception):  # noqa: N818 - it is no error of anybody
    """Somebody has asked for no more."""


@dataclass(frozen=True)
class Group:
    """Errors of one method at one operation, as they are drawn.

    Attributes:
        name: operation, method, and what of where each is by itself.
        spread: what each drawn number of this group adds to each outcome, shape (outcomes, numbers), mm.
        even: how many of them, the first, are spread evenly; the rest normally.
    """

    name: Name
    spread: Singles
    even: int


def group(name: Name, normal: Floats, even: Floats) -> Group | None:
    """Errors as they are drawn; None where they move nothing.

    Args:
        name: of the group.
        normal: what one standard deviation of each normal error adds to each outcome, shape (errors, outcomes).
        even: likewise of those that are spread evenly.
    """
    even = even[np.abs(even).max(axis=1, initial=0.0) > _NOTHING]
    _, size, ways = np.linalg.svd(normal, full_matrices=False)
    kept = size > _NOTHING
    spread = np.concatenate([even, size[kept, np.newaxis] * ways[kept]])
    return Group(name, np.ascontiguousarray(spread.T, dtype=np.float32), len(even)) if len(spread) else None


@dataclass(frozen=True)
class Model:
    """How far outcomes come out off what is expected, as a sum over groups of errors.

    Attributes:
        groups: of errors.
        outcomes: how many there are.
    """

    groups: tuple[Group, ...]
    outcomes: int

    def numbers(self) -> Iterator[tuple[Group, slice]]:
        """Every group, and its numbers among all that are drawn."""
        start = 0
        for each in self.groups:
            yield each, slice(start, start + each.spread.shape[1])
            start += each.spread.shape[1]

    def numbers_by_name(self) -> Iterator[tuple[Name, tuple[Group, slice]]]:
        """The same by the groups' names."""
        return ((each.name, (each, where)) for each, where in self.numbers())

    @property
    def spread(self) -> Singles:
        """What each drawn number adds to each outcome, shape (outcomes, numbers)."""
        none = np.zeros((self.outcomes, 0), dtype=np.float32)
        return np.concatenate([none, *(each.spread for each in self.groups)], axis=1)

    def drawn(self, random: np.random.Generator, count: int) -> Singles:
        """Errors of so many trial builds in their standard deviations, shape (numbers, count)."""
        height = sum(each.spread.shape[1] for each in self.groups)
        errors = random.standard_normal((height, count), dtype=np.float32)
        for each, rows in self.numbers():
            if each.even:
                evens = slice(rows.start, rows.start + each.even)
                errors[evens] = evenly(random, (each.even, count))
        return errors


def evenly(random: np.random.Generator, shape: tuple[int, int]) -> Singles:
    """Errors spread evenly about nothing with a standard deviation of 1."""
    found: Singles = (random.random(shape, dtype=np.float32) - np.float32(0.5)) * np.float32(2 * EVEN)
    return found


def in_blocks(
    work: Callable[[np.random.Generator, int], Result],
    trials: int,
    seed: int,
    *,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    at_once: int | None = None,
) -> Iterator[Result]:
    """Do a block's work for so many trial builds, and give the results in their order.

    Args:
        work: of one block: takes where its errors are drawn from, and how many trial builds it has.
        trials: how many in all.
        seed: of the whole.
        progress: told the share that is done, from 0 to 1, after each block.
        cancelled: asked before each block whether to stop.
        at_once: blocks in work at a time; as the machine has processors, two at most, when left out.

    Raises:
        Cancelled: somebody has asked for no more.
    """
    sizes = [BLOCK] * (trials // BLOCK) + ([rest] if (rest := trials % BLOCK) else [])
    seeds = np.random.SeedSequence(seed).spawn(len(sizes))
    width = at_once or min(MOST_AT_ONCE, cpu_count() or 1)
    done = 0
    with ThreadPoolExecutor(width) as crew:
        waiting = iter(
            [
                (lambda s=s, n=n: work(np.random.Generator(np.random.SFC64(s)), n))
                for s, n in zip(seeds, sizes, strict=True)
            ]
        )
        running = [crew.submit(each) for each in islice(waiting, width)]
        while running:
            if cancelled is not None and cancelled():
                raise Cancelled
            result = running.pop(0).result()
            if (following := next(waiting, None)) is not None:
                running.append(crew.submit(following))
            done += 1
            if progress is not None:
                progress(done / len(sizes))
            yield result


@dataclass(frozen=True)
class Limits:
    """How far each outcome may come out off what is planned, mm; without end where nothing limits it.

    Attributes:
        low: below, at most 0 where the plan keeps its own limits, shape (outcomes,).
        high: above.
    """

    low: Singles
    high: Singles

    def missed(self, number: int, off: Singles) -> NDArray[np.bool_] | None:
        """Which trial builds miss the limits of one outcome, shape (trials,); None where nothing limits it."""
        low, high = self.low[number], self.high[number]
        if low == -np.inf and high == np.inf:
            return None
        found: NDArray[np.bool_] = off < low
        if high < np.inf:
            found |= off > high
        return found


def limits(low: Sequence[float | None], high: Sequence[float | None], planned: Sequence[float]) -> Limits:
    """Limits of outcomes, from those of the numbers themselves."""
    ends = [
        np.array(
            [
                sign * np.inf if each is None else each - value
                for each, value in zip(ends, planned, strict=True)
            ]
        )
        for sign, ends in ((-1, low), (1, high))
    ]
    one, other = ((end + slack).astype(np.float32) for end, slack in zip(ends, (-_EDGE, _EDGE), strict=True))
    return Limits(one, other)


_EDGE = 1e-6
"""What lies on a limit is within it, whatever a float makes of it, mm."""
