"""Cards of the finish and of what goes on after it."""

from __future__ import annotations

from collections.abc import Mapping

from scribeline.features import ferrules_of
from scribeline.lengths import said
from scribeline.operations import Kind, Operation
from scribeline.steps.bench import Bench, Teller
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import usual


def _finish(bench: Bench, work: Operation) -> Card:
    finish, ferrules = bench.document.finish, bool(bench.features.family("ferrule-hole"))
    do = (
        "Every cut in the wood must be done by now.",
        f"Plug or tape {'the ferrule holes and ' if ferrules else ''}the neck pocket."
        if finish.holes == "masked"
        else "The holes are sprayed and come out narrower.",
        f"The plan allows for {said(finish.film, None)} of finish on a surface.",
    )
    return Card.of(
        work, "Finish", do, Gate("the finish has cured as long as its maker's sheet says"), usual(work)
    )


def _clean_out(bench: Bench, work: Operation) -> Card:
    """How the ferrule holes are cleared after the finish, and what the wider one should then measure."""
    ferrules, first = ferrules_of(bench.document), bench.bores(work)[0]
    do = (
        (
            "Take the plugs out and score round each edge. Clear any skin of finish by hand, never under power.",
            f"The counterbore should still measure {said(first.steps[0].diameter)} and the hole "
            f"{said(first.deepest.diameter)}, as cut.",
        )
        if bench.document.finish.holes == "masked"
        # A sprayed hole was cut wider by the film; its own bit would take that film away again.
        else (
            f"Score each edge. Then turn bits of {ferrules.lip_diameter.mm:.2f} and {said(ferrules.body_diameter.mm)} in by "
            "hand, not the ones it was cut with. Never drill cured finish under power.",
            f"The lip's hole should measure {said(ferrules.lip_diameter.mm)}.",
        )
    )
    gate = Gate("a ferrule goes in with thumb pressure and a light tap, and the finish does not lift")
    return Card.of(work, "Clean out the holes after the finish", do, gate, usual(work))


def _hardware(bench: Bench, work: Operation) -> Card:
    wire = ("Pass the ground wire under the plate and check it with a meter.",)
    title, first = (
        (
            "Press the ferrules, screw the plate down",
            "Press the ferrules in with a clamp and a block. No hammer on the finish.",
        )
        if bench.features.family("ferrule-hole")
        else (
            "Screw the plate down",
            "Wax the plate's screws and drive them by hand. Turn all of them in a little before any goes home.",
        )
    )
    do = (first, *(wire if bench.features.family("ground-wire") else ()))
    return Card.of(work, title, do, bench.gate("12th-to-plate"), usual(work))


KINDS: Mapping[Kind, Teller] = {"finish": _finish, "clean out": _clean_out, "fit hardware": _hardware}
