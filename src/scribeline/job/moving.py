"""Where a job states the places of its cuts, and its text with some of them moved."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scribeline.job.cuts import HoleStatement, PocketStatement
from scribeline.job.editing import read_key, set_values
from scribeline.job.faults import Fault, JobError
from scribeline.job.table import XY
from scribeline.lengths import UNITS, JobUnit, by_inches

if TYPE_CHECKING:
    from scribeline.job.document import Document


@dataclass(frozen=True, slots=True)
class Spot:
    """Two numbers of the job that say where something is: along from its datum, across towards the treble.

    Attributes:
        key: of both, such as `controls[1].centre`.
        at: as stated, mm.
    """

    key: str
    at: XY


@dataclass(frozen=True, slots=True)
class StatedPlace:
    """One thing that a person may move, by what the job states of its place.

    Attributes:
        key: of the thing, such as `pockets[2]`, `holes[1].places[3]`, `jack.near`.
        name: its name in the job; "" where it has none of its own.
        x_from: what its first numbers are counted from.
        spots: where it is: a rectangle's centre, a slot's ends, an outline's corners.
        carried: what is stated beside it and goes where it goes: islands, its cover's screws.
        towards_nut: whether its first numbers count towards the nut, as a neck's screws do.
    """

    key: str
    name: str
    x_from: str
    spots: tuple[Spot, ...]
    carried: tuple[Spot, ...] = ()
    towards_nut: bool = False

    @property
    def middle(self) -> XY:
        """The middle of its places, as it is counted in the job, mm: what a person calls its place."""
        xs, ys = zip(*(spot.at for spot in self.spots), strict=True)
        return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def stated_place(document: Document, key: str) -> StatedPlace | None:
    """What the job states of the place of one thing; None where the key names nothing that can be moved.

    Args:
        document: the job.
        key: a table of it, or one place in a list, as `features.Bore.stated` says it; `holes[2]` is the whole row.
    """
    table, *rest = read_key(key)
    number = next((each for each in rest if isinstance(each, int)), 0)
    if table == "pockets":
        return _pocket(document.pockets[number], number + 1, key)
    if table == "holes":
        hole, row = document.holes[number], f"holes[{number + 1}]"
        spots = tuple(spot for spot in _of_hole(row, hole) if key in {row, spot.key})
        return StatedPlace(key, hole.name, hole.x_from, spots)
    if document.neck_bolts is not None and table == document.neck_bolts_key:
        return StatedPlace(key, "", "pocket end", _one(key, document.neck_bolts.places), towards_nut=True)
    return _single(document, table, number, key)


def _single(document: Document, table: str | int, number: int, key: str) -> StatedPlace | None:
    """What has one place in a table of its own."""
    if table == "controls":
        control = document.controls[number]
        return StatedPlace(key, control.name, control.x_from, (Spot(f"{key}.centre", control.centre),))
    if table == "strap_buttons":
        button = document.strap_buttons[number]
        return StatedPlace(key, button.name, button.x_from, (Spot(key, button.near),))
    if table == "jack" and document.jack is not None:
        return StatedPlace(key, "jack", document.jack.x_from, (Spot(key, document.jack.near),))
    return None


def _pocket(pocket: PocketStatement, number: int, key: str) -> StatedPlace:
    own, carried = _of_pocket(f"pockets[{number}]", pocket)
    if pocket.cover_screws is None or key == f"pockets[{number}]":
        return StatedPlace(key, pocket.name, pocket.x_from, tuple(own), tuple(carried))
    spots = _one(key, pocket.cover_screws.places)
    return StatedPlace(key, f"{pocket.name} cover screw", pocket.x_from, spots)


def _one(key: str, places: tuple[XY, ...]) -> tuple[Spot]:
    number = read_key(key)[-1]
    assert isinstance(number, int)
    return (Spot(key, places[number]),)


def _of_pocket(key: str, pocket: PocketStatement) -> tuple[Iterator[Spot], Iterator[Spot]]:
    def own() -> Iterator[Spot]:
        if pocket.centre is not None:
            yield Spot(f"{key}.centre", pocket.centre)
        if pocket.slot is not None:
            yield from _listed(f"{key}.slot.ends", pocket.slot.ends)
        yield from _listed(f"{key}.outline", pocket.outline or ())

    def carried() -> Iterator[Spot]:
        for number, island in enumerate(pocket.islands, start=1):
            yield from _listed(f"{key}.islands[{number}]", island)
        if pocket.cover_screws is not None:
            yield from _listed(f"{key}.cover_screws.places", pocket.cover_screws.places)

    return own(), carried()


def _of_hole(key: str, hole: HoleStatement) -> Iterator[Spot]:
    if hole.at is not None:
        yield Spot(f"{key}.at", hole.at)
    yield from _listed(f"{key}.places", hole.places)


def _listed(key: str, places: Iterable[XY]) -> Iterator[Spot]:
    for number, at in enumerate(places, start=1):
        yield Spot(f"{key}[{number}]", at)


def moved(text: str, document: Document, keys: Iterable[str], along: float, across: float) -> str:
    """The job's text with things moved, all by as much.

    Args:
        text: the job file.
        document: what it says.
        keys: of the things, as `stated_place` takes them; what two of them share moves once.
        along: towards the tail, mm.
        across: towards the treble, mm.

    Raises:
        JobError: one of them has no place that the job states.
    """
    spots: dict[str, XY] = {}
    for key in keys:
        place = stated_place(document, key)
        if place is None:
            raise JobError([Fault(key, "has no place of its own in the job; move what it follows")])
        by = -along if place.towards_nut else along
        for spot in (*place.spots, *place.carried):
            spots[spot.key] = (spot.at[0] + by, spot.at[1] + across)
    return set_values(text, {key: [_written(mm, document.units) for mm in at] for key, at in spots.items()})


def _written(mm: float, units: JobUnit) -> float:
    """A length as a bare number of the job's unit, as fine as the bench can tell: 0.01 mm, 0.001 in, a 64th where it is one."""
    own = UNITS[units].of(mm)
    if not by_inches(units):
        return round(own, 2)
    mark = round(own * 64) / 64
    return mark if abs(own - mark) < 2e-4 else round(own, 3)
