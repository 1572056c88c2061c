"""Cards of the finish and of what goes on after it."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.features import ferrules_of
from scribeline.lengths import said
from scribeline.steps.bench import Bench
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import (
    BY_MACHINE,
)


def _chase(bench: Bench) -> tuple[str, ...]:
    """How the ferrule holes are cleared after the finish, and what the wider one should then measure."""
    ferrules = ferrules_of(bench.document)
    first = bench.features.family("ferrule-hole")[0]
    lip, body = first.steps[0], first.deepest
    if bench.document.finish.holes == "masked":
        return (
            "Take the plugs out and score round each edge. Clear any skin of finish by hand, never under power.",
            f"The counterbore should still measure {said(lip.diameter)} and the hole {said(body.diameter)}, as cut.",
        )
    # A sprayed hole was cut wider by the film; its own bit would take that film away again.
    return (
        f"Score each edge. Then turn bits of {ferrules.lip_diameter.mm:.2f} and {said(ferrules.body_diameter.mm)} in by hand, "
        "not the ones it was cut with. Never drill cured finish under power.",
        f"The lip's hole should measure {said(ferrules.lip_diameter.mm)}.",
    )


def finish_cards(bench: Bench) -> Iterator[Card]:
    """Finish, clean out the holes, fit the hardware."""
    finish = bench.document.finish
    has_ferrules = bool(bench.features.family("ferrule-hole"))
    if finish.film:
        masked = finish.holes == "masked"
        yield Card(
            id="finish",
            title="Finish",
            machine="finish",
            do=(
                "Every cut in the wood must be done by now.",
                f"Plug or tape {'the ferrule holes and ' if has_ferrules else ''}the neck pocket."
                if masked
                else "The holes are sprayed and come out narrower.",
                f"The plan allows for {said(finish.film, None)} of finish on a surface.",
            ),
            gate=Gate("the finish has cured as long as its maker's sheet says"),
            cautions=BY_MACHINE["finish"],
        )
        if has_ferrules:
            yield Card(
                id="chase",
                title="Clean out the holes after the finish",
                machine="bench",
                face="back",
                features=tuple(bore.id for bore in bench.features.family("ferrule-hole")),
                do=_chase(bench),
                gate=Gate(
                    "a ferrule goes in with thumb pressure and a light tap, and the finish does not lift"
                ),
                cautions=BY_MACHINE["bench"],
            )
    if bench.layout.plate is not None:
        press = ("Press the ferrules in with a clamp and a block. No hammer on the finish.",)
        wire = ("Pass the ground wire under the plate and check it with a meter.",)
        plate = (
            "Wax the plate's screws and drive them by hand. Turn all of them in a little before any goes home.",
        )
        yield Card(
            id="fit-hardware",
            title="Press the ferrules, screw the plate down" if has_ferrules else "Screw the plate down",
            machine="bench",
            do=(
                *(press if has_ferrules else plate),
                *(wire if bench.features.family("ground-wire") else ()),
            ),
            gate=bench.gate("12th-to-plate"),
            cautions=BY_MACHINE["bench"],
        )
