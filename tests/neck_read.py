"""A neck as it was set, read beside a thread over the body's centreline: readings worked from the job's file alone."""

from __future__ import annotations

import tomllib
from math import radians, tan

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

PLACES = ("nut", "12th", "end")


def true_readings(
    text: str, off: float, degrees: float, wider: tuple[float, float] = (0.0, 0.0)
) -> dict[str, float]:
    """From the thread to the board's edges, mm, by the name of each reading, with a board that is square to its nut.

    Args:
        text: a job in mm with level frets and no fan.
        off: how far the neck lies off at the pocket's end wall, towards the treble, mm.
        degrees: by how much it runs off towards the treble on its way to the tail.
        wider: half the board's width more than stated, at the nut and at its end, mm.
    """
    job = tomllib.loads(text)
    end, wall = job["fingerboard"]["end"], job["neck"]["pocket_end"]
    twelfth = job["scale"]["length"] / 2
    found = {}
    for name, along in zip(PLACES, (0.0, twelfth, end), strict=True):
        share = along / end
        half = ((1 - share) * job["nut"]["width"] + share * job["fingerboard"]["width_at_end"]) / 2
        half += (1 - share) * wider[0] + share * wider[1]
        middle = off + (along - wall) * tan(radians(degrees))
        found[f"neck-treble-at-{name}"] = half + middle
        found[f"neck-bass-at-{name}"] = half - middle
    return found


def with_readings(text: str, readings: dict[str, float], *, extra: str = "") -> str:
    """The job with these measurements on its record."""
    entries = [
        f'\n[[measured]]\nwhat = "{name}"\nvalue_mm = {mm!r}\nby = "Ann"\nat = 2026-11-30T10:00:00Z\n{extra}'
        for name, mm in readings.items()
    ]
    return text.rstrip() + "\n" + "".join(entries)


def neck_set_off(text: str, off: float = 0.8, degrees: float = 0.3) -> str:
    """The job with a neck that was set off its line, and six readings of it that are exact."""
    return with_readings(text, true_readings(text, off, degrees))
