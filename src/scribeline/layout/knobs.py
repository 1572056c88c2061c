"""The tuning knobs behind a headless bridge: the place each needs, and how much string its tuner takes up."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scribeline.job import Document
from scribeline.job.bridges.stated import WithKnobs
from scribeline.layout.paths import bridge_row
from scribeline.layout.points import Point
from scribeline.layout.pose import Pose
from scribeline.layout.stringing import OWN_SET

if TYPE_CHECKING:
    from scribeline.layout.instrument import Layout


def knob_places(
    document: Document, layout: Layout, *, reach: float | None = None
) -> tuple[tuple[Point, ...], ...]:
    """The ground over which each string's knob turns, treble first, its rear edge's ends first.

    Args:
        document: the job.
        layout: where its bridge stands.
        reach: instead the ground so far behind each knob's rear end, mm; its first edge is that rear end.

    Returns:
        Four corners a knob; none where the bridge has no knobs or no place.
    """
    bridge, place = document.bridge, layout.bridge
    knobs = bridge.knobs if isinstance(bridge, WithKnobs) else None
    if knobs is None or place is None:
        return ()
    half = knobs.diameter / 2
    ends = (knobs.back, knobs.front) if reach is None else (knobs.back, knobs.back + reach)
    if place.units:
        axes = [(Pose(*unit.front, unit.turn), 0.0) for unit in place.units]
    else:
        row = bridge_row(len(layout.strings), bridge.spacing.mm) * layout.treble
        axes = [(Pose(*place.middle, place.turn), float(across)) for across in row]
    return tuple(
        tuple(
            pose.place(along, across + side)
            for along, side in ((ends[0], half), (ends[0], -half), (ends[1], -half), (ends[1], half))
        )
        for pose, across in axes
    )


def take_up(layout: Layout) -> dict[str, tuple[float, ...]]:
    """How much longer each string of each set is at pitch than slack, mm, treble first: T L / (E A) from nut to saddle.

    None of a set that could not be worked out.
    """
    stringing = layout.stringing
    sets = (
        stringing.others
        if stringing.prediction is None
        else {OWN_SET: stringing.prediction, **stringing.others}
    )
    found = {}
    for name, prediction in sets.items():
        wires, _, _ = prediction.problem.realise(prediction.problem.nominal())
        stretch = (
            prediction.tension_n
            * (stringing.setup.board(len(layout.strings)).scale + prediction.setback)
            / wires.stretch_n
        )
        found[name] = tuple(stretch.ravel().tolist())
    return found
