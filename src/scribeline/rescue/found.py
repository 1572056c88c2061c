"""What was found of a made cut, put into the record as the bench would keep it: its place, its sizes, its depth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from math import degrees, hypot
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from scribeline.features import Bore, Pocket, balloon, runs
from scribeline.job import Cut, Record
from scribeline.lengths import SaidError, quoted, said, span, visible

if TYPE_CHECKING:
    from scribeline.features import Feature
    from scribeline.plan import Plan

MOST_OFF = 60.0
"""A cut found further from its place, or so much larger than planned, is another one or was misread, mm (our own choice)."""

MOST_LEAN = 0.2
"""A floor that leans more was misread, rad (our own choice)."""

THINNEST, WIDEST = 0.1, 100.0
"""What the record keeps of a hole's diameter, mm."""


class RescueError(SaidError):
    """What was asked for cannot be; its sentence is for the person who typed it."""


@dataclass(frozen=True, slots=True)
class Found:
    """What was measured of a made cut; None where it is as it was planned when it was made.

    Attributes:
        at: of a hole, its middle from the nut and from the centreline towards the treble, mm.
        off: how far the cut lies from where it was meant, towards the tail and towards the treble, mm.
        depth: from its face, mm.
        diameter: of a hole's widest step, mm.
        width: of a cavity across the instrument, mm.
        length: of a cavity along it, mm.
        lean: how far a cavity's floor rises towards the tail, rad.
        stripped: whether a hole's screw does not hold any more.
    """

    at: tuple[float, float] | None = None
    off: tuple[float, float] | None = None
    depth: float | None = None
    diameter: float | None = None
    width: float | None = None
    length: float | None = None
    lean: float | None = None
    stripped: bool = False

    @property
    def says_something(self) -> bool:
        """Whether anything was measured."""
        return any(self.has(each.name) for each in fields(self))

    def has(self, name: str) -> bool:
        """Whether one of these was measured; nothing is a measurement too."""
        value = getattr(self, name)
        return value is not None and value is not False


OF_A_HOLE, OF_A_CAVITY = ("at", "diameter", "stripped"), ("width", "length", "lean")


def called(plan: Plan, name: str) -> Feature:
    """A made cut by its id, or by the number it has on paper.

    Raises:
        RescueError: there is no such cut, or it is not made yet.
    """
    asked = name.strip().lower()
    cut = next(
        (each for each in plan.every_cut if asked in {each.id.lower(), balloon(each.id).lower()}), None
    )
    if cut is None:
        made = [each for each in plan.every_cut if each.id in plan.made]
        holes = runs([balloon(each.id) for each in made if isinstance(each, Bore)])
        told = ", ".join(
            [*([holes] if holes else []), *(each.id for each in made if isinstance(each, Pocket))]
        )
        message = f"no cut is called {quoted(name)}; those that are made: {told or 'none'}"
        raise RescueError(message)
    if cut.id not in plan.made:
        where = f" Change {cut.stated} in the job" if cut.stated else " Change what the job states"
        message = (
            f"{visible(balloon(cut.id))} ({cut.id}) is not made yet, so there is nothing to rescue: it can simply move."
            f"{where}, and plan again"
        )
        raise RescueError(message)
    return cut


def with_found(plan: Plan, cut: Feature, found: Found) -> Record:
    """The plan's record with what was found of one cut in it.

    Args:
        plan: in whose record the cut is.
        cut: a made one of it.
        found: what was measured.

    Raises:
        RescueError: it cannot be of this cut, or is absurd.
    """
    wrong = OF_A_CAVITY if isinstance(cut, Bore) else OF_A_HOLE
    for name in wrong:
        if found.has(name):
            kind = "a cavity" if isinstance(cut, Bore) else "a hole"
            message = f"{_OPTION[name]} is said of {kind}; {cut.id} is none"
            raise RescueError(message)
    _sane(cut, found)
    change = _bored(plan, cut, found) if isinstance(cut, Bore) else _routed(plan, cut, found)
    return _changed(plan.record, cut.id, change)


_OPTION = {
    "at": "where its middle was found",
    "diameter": "a diameter",
    "stripped": "stripped",
    "width": "a width",
    "length": "a length",
    "lean": "an angle",
}


def _sane(cut: Feature, found: Found) -> None:
    for name, value in (
        ("depth", found.depth),
        ("diameter", found.diameter),
        ("width", found.width),
        ("length", found.length),
    ):
        if value is not None and value <= 0:
            message = f"a {name} of {said(value)} cannot be: give what was measured, over 0"
            raise RescueError(message)
    away = hypot(*found.off) if found.off is not None else 0.0
    if isinstance(cut, Bore) and found.at is not None:
        away = 0.0  # judged where the cut's own place is known
    if away > MOST_OFF:
        raise RescueError(_far(cut, away))
    if found.depth is not None:
        was = cut.depth if isinstance(cut, Pocket) else cut.deepest.depth
        _near(cut, "depth", found.depth, was)
    if found.diameter is not None and isinstance(cut, Bore):
        if not THINNEST <= found.diameter <= WIDEST:
            message = f"no hole is {said(found.diameter)} wide: {span(THINNEST, WIDEST)} can be kept"
            raise RescueError(message)
        _near(cut, "diameter", found.diameter, cut.widest)
    if found.lean is not None and abs(found.lean) > MOST_LEAN:
        message = f"a floor that leans {degrees(found.lean):.1f}° was misread; {degrees(MOST_LEAN):.1f}° is the most"
        raise RescueError(message)


def _near(cut: Feature, what: str, value: float, was: float) -> None:
    if abs(value - was) > MOST_OFF:
        message = (
            f"a {what} of {said(value)} is {said(abs(value - was))} from the {said(was)} of {cut.id}: measure it again, it "
            "may be another cut"
        )
        raise RescueError(message)


def _far(cut: Feature, away: float) -> str:
    return (
        f"{cut.id} cannot lie {said(away)} from where it was made by the plan: measure it again from the same datums, it may "
        "be another cut"
    )


def _bored(plan: Plan, bore: Bore, found: Found) -> Callable[[Cut, bool], dict[str, Any]]:
    treble = plan.layout.treble
    widest = max(bore.steps, key=lambda step: (not step.bit.is_conical, step.diameter)).diameter

    def change(cut: Cut, last: bool) -> dict[str, Any]:
        assert cut.at is not None
        more: dict[str, Any] = {}
        place = found.at and (found.at[0], treble * found.at[1])
        if found.off is not None:
            place = cut.at[0] + found.off[0], cut.at[1] + treble * found.off[1]
        if place is not None:
            away = hypot(place[0] - cut.at[0], place[1] - cut.at[1])
            if away > MOST_OFF:
                raise RescueError(_far(bore, away))
            more["measured"] = place
        steps = cut.steps
        if found.diameter is not None:
            wide = found.diameter
            steps = tuple(
                step.model_copy(update={"diameter": wide}) if step.diameter == widest else step
                for step in steps
            )
        if found.depth is not None and last:
            deepest = max(step.no for step in steps)
            steps = tuple(
                step.model_copy(update={"depth": found.depth}) if step.no == deepest else step
                for step in steps
            )
        if steps != cut.steps:
            more["steps"] = steps
        return more

    return change


def _routed(plan: Plan, pocket: Pocket, found: Found) -> Callable[[Cut, bool], dict[str, Any]]:
    treble = plan.layout.treble

    def change(cut: Cut, last: bool) -> dict[str, Any]:
        del last
        assert cut.outline is not None
        more: dict[str, Any] = {}
        outline = list(cut.outline)
        if found.off is not None:
            outline = [(x + found.off[0], y + treble * found.off[1]) for x, y in outline]
        if found.width is not None:
            outline = _stretched(outline, 1, found.width, both=True)
        if found.length is not None:
            outline = _stretched(outline, 0, found.length, both=not pocket.at_edge)
        if outline != list(cut.outline):
            more["outline"] = tuple(outline)
        if found.depth is not None:
            more["measured_depth"] = found.depth
        if found.lean is not None:
            at = pocket.slope.at if pocket.slope is not None else max(x for x, _ in outline)
            more["slope"] = {"angle": found.lean, "at": at}
        return more

    return change


def _stretched(
    outline: list[tuple[float, float]], axis: int, wanted: float, *, both: bool
) -> list[tuple[float, float]]:
    """An outline made so wide or long, its walls carried out square: both of them, or the one towards the tail alone."""
    values = [place[axis] for place in outline]
    low, high = min(values), max(values)
    more = wanted - (high - low)
    if abs(more) > MOST_OFF:
        message = f"{said(wanted)} is {said(abs(more))} from the {said(high - low)} it was planned: measure it again"
        raise RescueError(message)
    middle, out = (low + high) / 2, more / 2 if both else more

    def moved(place: tuple[float, float]) -> tuple[float, float]:
        value = place[axis]
        if value > middle + 1e-9:
            value += out
        elif both and value < middle - 1e-9:
            value -= out
        return (value, place[1]) if axis == 0 else (place[0], value)

    return [moved(place) for place in outline]


def _changed(record: Record, name: str, change: Callable[[Cut, bool], dict[str, Any]]) -> Record:
    """The record with every entry of a cut changed; the last of them has its deepest step."""
    mine = [cut for done in record.done for cut in done.cuts if cut.id == name]
    last = max(mine, key=lambda cut: max((step.no for step in cut.steps), default=0))
    try:
        done = []
        for each in record.done:
            cuts = tuple(
                Cut.model_validate(cut.model_dump() | _plain(change(cut, cut is last)))
                if cut.id == name
                else cut
                for cut in each.cuts
            )
            done.append(each.model_copy(update={"cuts": cuts}))
    except ValidationError as fault:
        said_so = fault.errors()[0]["msg"].removeprefix("Value error, ")
        message = f"what was measured of {name} cannot be kept: {said_so}"
        raise RescueError(message) from None
    # Made anew and not copied: a copy would carry along what the old one had worked out of its cuts.
    return Record(
        done=tuple(done),
        readings=record.readings,
        overrides=record.overrides,
        measured=record.measured_elsewhere({name}),
    )


def _plain(more: dict[str, Any]) -> dict[str, Any]:
    if "steps" in more:
        more["steps"] = [step.model_dump() for step in more["steps"]]
    return more


def without(record: Record, names: frozenset[str]) -> Record:
    """The record with some cuts taken back, as where they are filled and made anew."""
    done = (
        each.model_copy(update={"cuts": tuple(cut for cut in each.cuts if cut.id not in names)})
        for each in record.done
    )
    kept = tuple(new for old, new in zip(record.done, done, strict=True) if new.cuts or not old.cuts)
    return Record(
        done=kept,
        readings=record.readings,
        overrides=record.overrides,
        measured=record.measured_elsewhere(names),
    )


def as_wanted(record: Record, wanted: Feature) -> Record:
    """The record with a cut made just as the job would have it."""

    def change(cut: Cut, last: bool) -> dict[str, Any]:
        del last
        if isinstance(wanted, Pocket):
            slope = None if wanted.slope is None else {"angle": wanted.slope.angle, "at": wanted.slope.at}
            return {"outline": wanted.outline, "depth": wanted.depth, "measured_depth": None, "slope": slope}
        steps = tuple(
            step.model_copy(
                update={
                    "diameter": wanted.steps[step.no - 1].diameter,
                    "depth": wanted.steps[step.no - 1].depth,
                }
            )
            if step.no <= len(wanted.steps)
            else step
            for step in cut.steps
        )
        return {"at": wanted.at, "measured": None, "axis": wanted.axis, "steps": steps}

    return _changed(record, wanted.id, change)
