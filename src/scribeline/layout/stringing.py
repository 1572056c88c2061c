"""The strings on this instrument: where each saddle is wanted, how surely, and the bridge window over all sets."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import lru_cache
from math import sin

import numpy as np

from scribeline.job import Document, Job
from scribeline.job.stringing import playing, string_specs
from scribeline.layout.fan import fret_lines, strings_across
from scribeline.layout.frets import Floats
from scribeline.layout.paths import bridge_row
from scribeline.layout.pose import Pose, lean
from scribeline.quantities import atan2, cos, tan
from scribeline.strings import (
    Fault,
    Prediction,
    Saddles,
    Sets,
    Setup,
    Shop,
    StringChange,
    StringsError,
    StringSpec,
    Travel,
    Vibrato,
    Wanted,
    Window,
    change_strings,
    end_of_travel,
    farthest_wanted,
    faults,
    midway,
    nearest_wanted,
    place_bridge,
    predict,
    travel_left,
    wanted,
)

OWN_SET = "the job's strings"


@dataclass(frozen=True)
class Stringing:
    """The strings and what they ask of the bridge.

    Attributes:
        sets: string sets by name, treble first; the job's own first.
        setup: the instrument around them.
        shop: what the shop has learnt.
        prediction: of the job's own set; None when the strings cannot be tuned as stated.
        others: of the other sets, by name.
        setback: where each saddle is wanted, mm past the scale line: as stated, else as predicted.
        sd: standard deviation of each, mm; 0 where it was stated.
        stated: whether the job stated it.
        faults: what cannot be about the strings.
        refusal: why nothing could be predicted, in a sentence; empty when it could.
        nut: where each string leaves the nut, along the neck from where the centreline crosses it, mm; 0 but on a fan.
        offset: each string's place on the scale line past the middle of that, level along the body, mm; 0 but on a fan.
    """

    sets: dict[str, tuple[StringSpec, ...]]
    setup: Setup
    shop: Shop
    # Arrays do not compare as one truth; both follow from the fields above.
    prediction: Prediction | None = field(compare=False)
    others: dict[str, Prediction] = field(compare=False)
    setback: tuple[float, ...]
    sd: tuple[float, ...]
    stated: tuple[bool, ...]
    faults: tuple[Fault, ...]
    refusal: str
    nut: tuple[float, ...]
    offset: tuple[float, ...]

    @property
    def along(self) -> tuple[float, ...]:
        """Where each saddle is wanted past the middle of the scale line, level along the body, mm."""
        return self._past_the_middle(self.setback)

    def _past_the_middle(self, setback: Iterable[float]) -> tuple[float, ...]:
        return tuple(off + own for off, own in zip(self.offset, setback, strict=True))

    @property
    def is_placed(self) -> bool:
        """True when every string's saddle has a place, stated or predicted."""
        return self.prediction is not None or all(self.stated)

    def wanted(self) -> tuple[Wanted, ...]:
        """Where every set wants its saddles, past the middle of the scale line.

        Where the job's own setbacks are all stated they were measured or chosen: another set then moves from them by
        the predicted change, which is surer than a fresh prediction.
        """
        return tuple(
            replace(each, setback=self._past_the_middle(each.setback)) for each in self.past_the_scale()
        )

    def past_the_scale(self) -> tuple[Wanted, ...]:
        """The same, each past its own string's scale."""
        own = Wanted(OWN_SET, self.setback, self.sd)
        if not all(self.stated):
            return own, *(wanted(name, found) for name, found in self.others.items())
        moved = []
        for name in self.others:
            change = change_strings(
                self.sets[OWN_SET], self.sets[name], self.setup, self.shop, saddles_now=self.setback
            )
            moved.append(
                Wanted(name, tuple(change.saddle_after.tolist()), tuple(change.saddle_move_sd.tolist()))
            )
        return own, *moved


def string_up(job: Job) -> Stringing:
    """Work the strings out from a job."""
    document = job.document
    sets = {OWN_SET: string_specs(document.strings)}
    sets |= {each.name: string_specs(each.strings) for each in document.string_sets}
    stated, lines = tuple(string.setback for string in document.strings), fret_lines(document)
    setup, neck = playing(document), document.neck
    if lines.is_fanned:
        setup = replace(
            setup, scale=_row(lines.scale), fret_places=tuple(_row(each) for each in lines.fret_x)
        )
    predictions: dict[str, Prediction] = {}
    found: list[Fault] = []
    refusal = ""
    for name, specs in sets.items():
        try:
            found += _told(specs, setup, job.shop, len(document.strings))
            predictions[name] = _predicted(specs, setup, job.shop)
        except StringsError as fault:
            refusal = refusal or (fault.sentence if name == OWN_SET else f"{name}: {fault.sentence}")
    own = predictions.pop(OWN_SET, None)
    predicted = np.zeros((2, len(stated))) if own is None else np.array([own.setback, own.sd])
    return Stringing(
        sets=sets,
        setup=setup,
        shop=job.shop,
        prediction=own,
        others=predictions,
        setback=tuple(
            float(guess) if said is None else said for said, guess in zip(stated, predicted[0], strict=True)
        ),
        sd=tuple(
            float(spread) if said is None else 0.0 for said, spread in zip(stated, predicted[1], strict=True)
        ),
        stated=tuple(said is not None for said in stated),
        faults=tuple(dict.fromkeys(found)),
        refusal=refusal,
        nut=_row(lines.nut),
        offset=_row(
            lines.offset
            * cos(neck.angle if neck.runs_through else lean(neck.angle, neck.shim, neck.pocket_length))
        ),
    )


def _row(each: Floats) -> tuple[float, ...]:
    return tuple(each.tolist())


def _faults_of(specs: tuple[StringSpec, ...], setup: Setup, shop: Shop, saddles: int) -> tuple[Fault, ...]:
    """What is to say about a set of strings."""
    return tuple(faults(specs, setup, shop, saddles=saddles))


# Most edits of a job leave its strings alone: what is worked out from them is kept.
_told = lru_cache(maxsize=64)(_faults_of)
_predicted = lru_cache(maxsize=64)(predict)


def saddles_of(document: Document, stands: Pose | None = None) -> Saddles:
    """The bridge's saddles, treble first.

    Args:
        document: the job.
        stands: where the bridge stands: of one in single units, ends of travel then count from its line, along the centreline.
    """
    bridge = document.bridge
    row = bridge_row(len(document.strings), bridge.spacing.mm)
    stops = bridge.saddle_forward.mm, bridge.saddle_back.mm
    if stands is None or not stands.each:
        return Saddles(*stops, tuple(row.tolist()))
    ends = [tuple(unit.x - stands.x + stop * cos(unit.turn) for unit in stands.each) for stop in stops]
    return Saddles(ends[0], ends[1], tuple(row.tolist()))


def in_units(document: Document, stringing: Stringing, *, line: float, nut: float = 0.0) -> Pose | None:
    """Where the units of a bridge in single units are wanted, about the line they are set out from.

    Each has its saddle midway in its travel over all sets, and lies along its string: through the string's place in the row where
    its saddle is wanted. None of a bridge in one piece.

    Args:
        document: the job.
        stringing: its strings.
        line: where the scale line crosses the body, mm.
        nut: where the centreline crosses the nut, level along the body, mm.
    """
    if not document.bridge.single:
        return None
    slots, row = strings_across(document)
    saddles, nuts = line + np.array(stringing.along), nut + np.array(stringing.nut)
    deviations, sets = document.bench.saddle_deviations, stringing.wanted()
    means, sds = (np.array([getattr(each, key) for each in sets]) for key in ("setback", "sd"))
    nearest = nearest_wanted(means, sds, deviations).min(axis=0)
    farthest = farthest_wanted(means, sds, deviations).max(axis=0)
    forward, back = document.bridge.saddle_forward.mm, document.bridge.saddle_back.mm
    units = []
    ends = zip(slots.tolist(), row.tolist(), saddles.tolist(), nuts.tolist(), strict=True)
    for n, (slot, own, saddle, start) in enumerate(ends):
        turn = unit_turn(slot, own, saddle, start)
        first, last = unit_limit(nearest[n], forward, turn), unit_limit(farthest[n], back, turn)
        x = float(line + midway(first, last))
        units.append(Pose(x, unit_across(x, own, saddle, turn), turn))
    return about_a_line(units)


def about_a_line(units: Iterable[Pose]) -> Pose:
    """Units as one bridge, whose line lies midway between the foremost unit's front edge and the rearmost one's."""
    each = tuple(units)
    places = [unit.x for unit in each]
    return Pose(midway(min(places), max(places)), 0.0, 0.0, each)


def unit_turn(slot: float, row: float, saddle: float, nut: float) -> float:
    """Turn of a unit to its string, rad.

    Args:
        slot: the string at the nut, from the centreline to the treble, mm.
        row: the same where it leaves its saddle.
        saddle: where it leaves its saddle along the body, mm.
        nut: where the nut stands along the body, mm.
    """
    return atan2(row - slot, saddle - nut)


def unit_limit(wanted: float, stop: float, turn: float) -> float:
    """A unit's front edge past the scale line, with its saddle where it is wanted and at an end of its travel, mm."""
    return wanted - stop * cos(turn)


def unit_across(x: float, row: float, saddle: float, turn: float) -> float:
    """The middle of a unit's front edge from the centreline to the treble, mm: on its string."""
    return row + (x - saddle) * tan(turn)


def turned(saddles: Saddles, turn: float) -> Saddles:
    """The saddles of a bridge that stands turned, their ends of travel as they lie along the centreline.

    Args:
        saddles: of the bridge.
        turn: rad; positive takes the treble end towards the nut.
    """
    y = np.asarray(saddles.y, dtype=np.float64)
    forward, back = (end_of_travel(0.0, y, stop, turn) for stop in saddles.stops())
    return Saddles(tuple(forward.tolist()), tuple(back.tolist()), saddles.y)


def bridge_window(
    document: Document, stringing: Stringing, turn: float = 0.0, units: Pose | None = None
) -> Window:
    """Where the middle of the bridge's line may lie for all sets at once.

    Args:
        document: the job.
        stringing: its strings.
        turn: of the bridge, rad.
        units: those of a bridge in single units, as they stand to its line.
    """
    saddles = saddles_of(document, units)
    return place_bridge(
        stringing.wanted(),
        turned(saddles, turn) if turn else saddles,
        reserve=document.bench.saddle_reserve,
        deviations=document.bench.saddle_deviations,
    )


def saddle_travel(document: Document, stringing: Stringing, bridge: Pose, scale: float) -> Travel:
    """What every saddle has left, over all sets, with the bridge where it stands.

    Args:
        document: the job.
        stringing: its strings.
        bridge: where it stands.
        scale: where the scale line crosses the body, from the nut, mm.
    """
    return travel_left(
        stringing.wanted(),
        saddles_of(document, bridge),
        front=bridge.x - scale,
        turn=bridge.turn,
        deviations=document.bench.saddle_deviations,
    )


def remedy_sets(document: Document, stringing: Stringing) -> Sets:
    """The sets and the bridge, as `strings.remedies` takes them."""
    return Sets(
        specs=stringing.sets,
        setup=stringing.setup,
        saddles=saddles_of(document),
        shop=stringing.shop,
        reserve=document.bench.saddle_reserve,
        deviations=document.bench.saddle_deviations,
    )


def _as_they_stand(document: Document, travel: Travel) -> Saddles:
    """The saddles; of a bridge in single units, each as far behind its line as it stands."""
    saddles, length = saddles_of(document), document.bridge.travel
    if not document.bridge.single:
        return saddles
    forward = tuple(place - travel.front for place in travel.foremost)
    return Saddles(forward, tuple(each + length for each in forward), saddles.y)


def change_to(
    document: Document, stringing: Stringing, name: str, *, bridge: Travel, vibrato: Vibrato | None = None
) -> StringChange:
    """What changing to another of the job's sets would do.

    Args:
        document: the job.
        stringing: its strings.
        name: of the set.
        bridge: where the bridge stands.
        vibrato: levers and springs of a sprung vibrato, where there is one.

    Raises:
        KeyError: the job has no set of this name.
    """
    return change_strings(
        stringing.sets[OWN_SET],
        stringing.sets[name],
        stringing.setup,
        stringing.shop,
        saddles_now=stringing.setback if all(stringing.stated) else None,
        bridge=_as_they_stand(document, bridge),
        front_edge=bridge.front,
        slope=-sin(bridge.turn),
        vibrato=vibrato,
    )
