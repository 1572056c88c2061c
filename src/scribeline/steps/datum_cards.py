"""Cards before anything is cut: neck, blank and press are what the plan says."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from scribeline.lengths import said
from scribeline.steps.bench import Bench
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import (
    BY_MACHINE,
)


def datum_cards(bench: Bench) -> Iterator[Card]:
    """Check the neck, the blank and the press."""
    yield Card(
        id="check-neck",
        title="Check the scale on the real neck",
        machine="bench",
        do=(
            "Measure on the finished neck, not on the drawing.",
            "If it reads outside the limits, correct scale.length in the job and plan again before you cut.",
        ),
        gate=bench.gate("nut-to-12th"),
        cautions=BY_MACHINE["bench"],
    )
    thickness, over = bench.gate("body-thickness"), bench.layout.body.highest
    if over:
        thickness = replace(thickness, ask=f"{thickness.ask}, less {said(over)}")
    yield Card(
        id="check-body",
        title="Check the blank's thickness",
        machine="bench",
        do=(
            "Measure in four places round the bridge and note the least.",
            *(
                (
                    f"Take {said(over)} off each reading. The blank's top still stands that much over the level under the "
                    "bridge.",
                )
                if over
                else ()
            ),
            "If it reads outside the limits, put the reading in the job and plan again. Every depth follows it.",
        ),
        gate=thickness,
        cautions=BY_MACHINE["bench"],
    )
    if bench.features.bores:
        depth = bench.document.body.thickness.mm
        yield Card(
            id="check-press",
            title="Check that the press table is square",
            machine="drill press",
            do=(
                f"Chuck a bent wire whose tip sweeps a circle of {said(100.0, 0)} radius just above the table.",
                "Turn it by hand. Read the gap at the front, back, left and right, and shim the table until they agree.",
            ),
            gate=Gate(
                f"largest difference between opposite gaps, {said(200.0, 0)} apart; at the limit a hole {said(depth, 1)} deep "
                f"is {said(0.15)} off",
                value=0.0,
                low=0.0,
                high=200 * 0.15 / depth,
            ),
            cautions=("Unplug the press while you set the wire.", *BY_MACHINE["drill press"]),
        )
