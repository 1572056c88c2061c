"""What hangs on drilled holes, worked out a second way: from the record alone, by the matrix form of least squares."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scribeline.job import Document, PlateBridge
from scribeline.operations import cuts_of
from scribeline.plan import Plan
from scribeline.steps import Card
from scribeline.store import Tick

Array = NDArray[np.float64]


def tick(card: Card, seen: Plan, only: Iterable[str] = ()) -> Tick:
    """The record of a step done by a plan; of some of its cuts only, where they are named."""
    chosen = set(only)
    return Tick(
        card.id,
        "Ann",
        datetime(2026, 11, 25, tzinfo=UTC),
        1,
        tuple(cut.plain for cut in cuts_of(card, seen.every_cut) if not chosen or cut.id in chosen),
    )


def cuts_in(text: str) -> dict[str, list[dict[str, Any]]]:
    """Every cut of a job's record as it stands in the file, by id."""
    found: dict[str, list[dict[str, Any]]] = {}
    for done in tomllib.loads(text).get("done", []):
        for cut in done.get("cuts", []):
            found.setdefault(cut["id"], []).append(cut)
    return found


def place(cuts: Sequence[Mapping[str, Any]]) -> tuple[float, float]:
    """Where a hole was made: its last reading, else its plan."""
    readings = [cut["measured"] for cut in cuts if "measured" in cut]
    x, y = readings[-1] if readings else cuts[0]["at"][:2]
    return float(x), float(y)


@dataclass(frozen=True)
class Stand:
    """A plate in the instrument frame: a place p on it (from the front edge, from the middle towards +y) is at R p + t."""

    rotation: Array
    shift: Array

    def at(self, along: float, across: float) -> Array:
        found: Array = self.rotation @ np.array([along, across]) + self.shift
        return found

    @property
    def yaw_deg(self) -> float:
        return math.degrees(math.atan2(self.rotation[1, 0], self.rotation[0, 0]))

    @property
    def front_edge(self) -> float:
        """Where the front edge's line crosses the centreline."""
        a, b = self.at(0.0, -1.0), self.at(0.0, 1.0)
        share = -a[1] / (b[1] - a[1])
        return float(a[0] + share * (b[0] - a[0]))


def laid(pattern: Array, holes: Array) -> Stand:
    """Kabsch's rigid fit by singular values (Acta Crystallographica A32, 1976, 922), no reflection."""
    own, hole = pattern.mean(axis=0), holes.mean(axis=0)
    rotation = np.eye(2)
    if len(pattern) > 1:
        u, _, vt = np.linalg.svd((pattern - own).T @ (holes - hole))
        turned = np.diag([1.0, np.linalg.det(vt.T @ u.T)])
        rotation = vt.T @ turned @ u.T
        if rotation[0, 0] < math.cos(
            math.pi / 4
        ):  # another plate's holes, or the other hand's: laid on unturned
            rotation = np.eye(2)
    return Stand(rotation, hole - rotation @ own)


def patterns(document: Document) -> dict[str, tuple[float, float]]:
    """Every hole of the plate by the id of what is drilled through it, towards +y of the instrument frame."""
    treble = 1 if document.handed == "right" else -1
    bridge = document.bridge
    assert isinstance(bridge, PlateBridge)
    found = {f"bridge-screw-{n}": (x, treble * y) for n, (x, y) in enumerate(bridge.screws, start=1)}
    if bridge.string_holes_from_front is not None and bridge.loading == "through-body":
        count = len(document.strings)
        for n in range(1, count + 1):
            across = treble * bridge.spacing.mm * ((count + 1) / 2 - n)
            found[f"string-hole-{n}"] = (bridge.string_holes_from_front.mm, across)
    return found


def held_stand(text: str, document: Document) -> tuple[Stand | None, tuple[str, ...]]:
    """Where the drilled holes hold the plate, and which do; pilots lead."""
    cuts, own = cuts_in(text), patterns(document)
    for family in ("bridge-screw-", "string-hole-"):
        names = [name for name in own if name.startswith(family) and name in cuts]
        if names:
            pattern = np.array([own[name] for name in names])
            holes = np.array([place(cuts[name]) for name in names])
            return laid(pattern, holes), tuple(names)
    return None, ()


def slacks(seen: Plan, stand: Stand) -> Array:
    """Travel left to each saddle (towards the nut, towards the tail), shape (strings, 2), mm, by moving each to its ends."""
    document = seen.job.document
    treble = 1 if document.handed == "right" else -1
    count, spare = len(document.strings), document.bench.saddle_deviations
    wanted = seen.layout.stringing.wanted()
    found = np.empty((count, 2))
    for i in range(count):
        across = treble * document.bridge.spacing.mm * ((count - 1) / 2 - i)
        nearest = min(each.setback[i] - spare * each.sd[i] for each in wanted) + document.scale.length
        furthest = max(each.setback[i] + spare * each.sd[i] for each in wanted) + document.scale.length
        found[i, 0] = nearest - stand.at(document.bridge.saddle_forward.mm, across)[0]
        found[i, 1] = stand.at(document.bridge.saddle_back.mm, across)[0] - furthest
    return found
