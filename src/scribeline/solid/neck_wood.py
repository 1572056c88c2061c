"""The least wood between a channel under the fingerboard and the carved outside of the neck.

The carved surface is told by its depth at every place, and a channel by its floor. The two places nearest to each other are
looked for on a net over both and then on ever finer nets round the best: their distance is in space, along the neck as well
as across it. A round back comes nearest to a channel's corners, not to the middle of its floor.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from scribeline.layout import Carve, Channel

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_ROWS, _COLUMNS = 161, 81
"""Places of the first net along the neck and across it."""

_BESIDE = 25.0
"""How far past a channel's ends its neighbourhood is looked at, mm."""

_FINER = 0.5
"""To what share of itself a net is made finer."""

_ENOUGH = 1e-5
"""A net this fine is left, mm."""

_MOST = 60
"""Nets in one search at most."""

_STARTS = 4
"""Into how many parts the first net is parted along the neck, and across it: from the best place of each a search is begun."""


@dataclass(frozen=True, slots=True)
class LeastWood:
    """Where a channel comes nearest to the neck's outside.

    Attributes:
        mm: the wood there, mm; less than 0 where the channel breaks through.
        along: from the nut, mm.
        beside: whether it is nearest to the neck's side at the glue line, and not to its back.
    """

    mm: float
    along: float
    beside: bool


def wood_id(channel: Channel) -> str:
    """The name of the least wood round a channel."""
    return f"carve.{channel.name.replace(' ', '-')}.wood"


def least_wood(carve: Carve, channel: Channel) -> LeastWood | None:
    """The least wood round a channel; None where no part of it lies in the neck between its nut and its heel's end."""
    return _least(
        carve, replace(channel, name="", key="", across=abs(channel.across))
    )  # a neck is its own mirror


@lru_cache(maxsize=64)
def _least(carve: Carve, channel: Channel) -> LeastWood | None:
    low, high = max(0.0, channel.ends[0]), min(carve.end, channel.ends[1])
    if high <= low:
        return None
    x = np.linspace(low, high, 4 * _ROWS)
    outer = abs(channel.across) + channel.half
    aside = carve.side(x) - outer
    at = int(aside.argmin())
    side = LeastWood(float(aside[at]), float(x[at]), beside=True)
    through = carve.depth(x, outer) - channel.bottom(x)
    at = int(through.argmin())
    if side.mm <= 0 or through[at] <= 0:
        below = LeastWood(float(through[at]), float(x[at]), beside=False)
        return min(side, below, key=lambda each: each.mm)
    return min(side, _under(carve, channel, (low, high)), key=lambda each: each.mm)


def _under(carve: Carve, channel: Channel, span: tuple[float, float]) -> LeastWood:
    """The same to the neck's back alone."""
    low, high = max(0.0, span[0] - _BESIDE), min(carve.end, span[1] + _BESIDE)
    x, t = np.linspace(low, high, _ROWS), np.linspace(-1.0, 1.0, _COLUMNS)
    grid_x, grid_t = np.meshgrid(x, t, indexing="ij")
    own = np.clip(grid_x, *span)
    found = _apart(carve, channel, grid_x, grid_t, own)
    net = _Net(
        carve, channel, (low, -1.0, span[0]), (high, 1.0, span[1]), (x[1] - x[0], t[1] - t[0], x[1] - x[0])
    )
    starts = (np.unravel_index(flat, found.shape) for flat in _starts(found))
    return min(
        (net.closing_in((float(x[i]), float(t[j]), float(own[i, j]))) for i, j in starts),
        key=lambda each: each.mm,
    )


def _starts(found: Floats) -> list[int]:
    """The first net's lowest places, each in a part of the neck of its own: a channel has two corners."""
    rows, columns = (np.array_split(np.arange(count), _STARTS) for count in found.shape)
    width = found.shape[1]
    best = []
    for along in rows:
        for across in columns:
            part = found[along[0] : along[-1] + 1, across[0] : across[-1] + 1]
            i, j = divmod(int(part.argmin()), part.shape[1])
            best.append((int(along[0]) + i) * width + int(across[0]) + j)
    return best


_Three = tuple[float, float, float]
"""A place of the surface along the neck and across it, and one along the channel."""


@dataclass(frozen=True, slots=True)
class _Net:
    """Where the nearest places are looked for, and how far apart the first net's are."""

    carve: Carve
    channel: Channel
    low: _Three
    high: _Three
    steps: _Three

    def closing_in(self, start: _Three) -> LeastWood:
        """Ever finer nets round a place."""
        best, least, reach = start, np.inf, np.array(self.steps)
        for _ in range(_MOST):
            axes = [
                np.linspace(max(a, mid - r), min(b, mid + r), 7)
                for a, b, mid, r in zip(self.low, self.high, best, reach, strict=True)
            ]
            x, t, own = (each.ravel() for each in np.meshgrid(*axes, indexing="ij"))
            apart = _apart(self.carve, self.channel, x, t, own)
            at = int(apart.argmin())
            here = float(x[at]), float(t[at]), float(own[at])
            # Where the best place lies at the net's own border, the net moves there as it is.
            moves = [
                0.9 * r < abs(now - mid) and a < now < b
                for now, mid, r, a, b in zip(here, best, reach, self.low, self.high, strict=True)
            ]
            if apart[at] <= least:
                least, best = float(apart[at]), here
            reach = np.where(moves, reach, reach * _FINER)
            if reach.max() < _ENOUGH:
                break
        return LeastWood(float(least), best[2], beside=False)


def _apart(carve: Carve, channel: Channel, x: Floats, t: Floats, own: Floats) -> Floats:
    """From places of the neck's back to the channel's slices, mm.

    Args:
        carve: the neck.
        channel: the channel.
        x: the places along the neck, mm.
        t: and across it, from −1 to 1: they crowd where the section turns up into its side.
        own: where along the channel the slice is, mm.
    """
    across = carve.half(x) * np.sign(t) * (1.0 - (1.0 - np.abs(t)) ** 2.5)
    beside = np.maximum(np.abs(across - channel.across) - channel.half, 0.0)
    below = np.maximum(carve.depth(x, across) - channel.bottom(own), 0.0)
    return np.asarray(np.sqrt((x - own) ** 2 + beside**2 + below**2))
