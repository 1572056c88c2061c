"""The strings on this instrument: where each saddle is wanted, how surely, and the bridge window over all sets."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from math import sin

import numpy as np

from scribeline.job import Document, Job
from scribeline.job.stringing import playing, string_specs
from scribeline.layout.paths import bridge_row
from scribeline.layout.pose import Pose
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
    faults,
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

    @property
    def is_placed(self) -> bool:
        """True when every string's saddle has a place, stated or predicted."""
        return self.prediction is not None or all(self.stated)

    def wanted(self) -> tuple[Wanted, ...]:
        """Where every set wants its saddles.

        Where the job's own setbacks are all stated they were measured or chosen: another set then moves from them by
        the predicted change, which is surer than a fresh prediction.
        """
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
    setup, stated = playing(document), tuple(string.setback for string in document.strings)
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
    )


def _faults_of(specs: tuple[StringSpec, ...], setup: Setup, shop: Shop, saddles: int) -> tuple[Fault, ...]:
    """What is to say about a set of strings."""
    return tuple(faults(specs, setup, shop, saddles=saddles))


# Most edits of a job leave its strings alone: what is worked out from them is kept.
_told = lru_cache(maxsize=64)(_faults_of)
_predicted = lru_cache(maxsize=64)(predict)


def saddles_of(document: Document) -> Saddles:
    """The bridge's saddles, treble first."""
    bridge = document.bridge
    row = bridge_row(len(document.strings), bridge.spacing.mm)
    return Saddles(bridge.saddle_forward.mm, bridge.saddle_back.mm, tuple(row.tolist()))


def turned(saddles: Saddles, turn: float) -> Saddles:
    """The saddles of a bridge that stands turned, their ends of travel as they lie along the centreline.

    Args:
        saddles: of the bridge.
        turn: rad; positive takes the treble end towards the nut.
    """
    y = np.asarray(saddles.y, dtype=np.float64)
    forward, back = (end_of_travel(0.0, y, stop, turn) for stop in saddles.stops())
    return Saddles(tuple(forward.tolist()), tuple(back.tolist()), saddles.y)


def bridge_window(document: Document, stringing: Stringing, turn: float = 0.0) -> Window:
    """Where the middle of the bridge's line may lie for all sets at once, with the bridge turned by so much, rad."""
    saddles = saddles_of(document)
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
        saddles_of(document),
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
        bridge=saddles_of(document),
        front_edge=bridge.front,
        slope=-sin(bridge.turn),
        vibrato=vibrato,
    )
