"""Cards of the finish and of what goes on after it."""

from __future__ import annotations

from collections.abc import Mapping

from scribeline.features import Bore, balloon, ferrules_of
from scribeline.layout import BridgePlace, Pressed, kind_of
from scribeline.lengths import said
from scribeline.operations import Kind, Operation
from scribeline.steps.bench import Bench, Teller
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import HAZARDS, usual


def _finish(bench: Bench, work: Operation) -> Card:
    finish, ferrules = bench.document.finish, bool(bench.features.family("ferrule-hole"))
    do = (
        "Every cut in the wood must be done by now.",
        _masked(bench, ferrules=ferrules)
        if finish.holes == "masked"
        else "The holes are sprayed and come out narrower.",
        f"The plan allows for {said(finish.film, None)} of finish on a surface.",
    )
    return Card.of(
        work, "Finish", do, Gate("the finish has cured as long as its maker's sheet says"), usual(work)
    )


def _masked(bench: Bench, *, ferrules: bool) -> str:
    """What is kept clear of the finish: a pocket only where the neck is not glued into it by then."""
    if not bench.document.neck.is_glued:
        return f"Plug or tape {'the ferrule holes and ' if ferrules else ''}the neck pocket."
    return f"Plug or tape the {'ferrule ' if ferrules else ''}holes, and mask the fingerboard."


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
    bridge, ferrules = bench.bridge, bool(bench.features.family("ferrule-hole"))
    noun, on = bridge.noun, bench.document.bridge.held_by
    press = ("Press the ferrules in with a clamp and a block. No hammer on the finish.",)
    held = f"screw the {noun} down" if on == "screws" else f"set the {noun} on its {on}"
    kind = kind_of(bench.document.bridge)
    goes_on = kind.fitting(bench.document, bench.layout)
    do = (
        *(press if ferrules else ()),
        *(goes_on if on != "screws" or not ferrules else ()),
        *_grounded(bench),
    )
    title = f"Press the ferrules, {held}" if ferrules else f"{held[0].upper()}{held[1:]}"
    cautions = usual(work, *(HAZARDS[each] for each in kind.hazards))
    return Card.of(work, title, do, bench.gate(f"12th-to-{bridge.marks[0].id}"), cautions)


def _grounded(bench: Bench) -> tuple[str, ...]:
    """How the strings are grounded, where that is not told with a vibrato's claw."""
    bridge = bench.document.bridge
    if bridge.grounded_in:
        return ()
    if bench.bridge.pressed:
        return ("Check with a meter that the strings are joined to the ground wire.",)
    if bench.features.family("ground-wire"):
        return (f"Pass the ground wire under the {bench.bridge.noun} and check it with a meter.",)
    return (f"Lead a ground wire to {bridge.ground_at} and check it with a meter.",)


def _press_bushings(bench: Bench, work: Operation) -> Card:
    pressed = [each for each in bench.features.anchors if _takes_bushing(bench.bridge, each)]
    sizes = list(
        dict.fromkeys(each.deepest.diameter for each in pressed if each.id not in bench.record.made_cuts)
    )
    sizes = sizes or [pressed[0].deepest.diameter]
    hole = " and ".join(f"{said(each)}" for each in sizes)
    do = (
        f"Score the finish round each hole. Clear it by hand to {hole}, never under power.",
        "Wind a bolt into each bushing. Press it in square with a clamp or the press, a block over the top. No hammer.",
        "Its rim lies flush with the top.",
        *_gripped(bench),
    )
    which = "both" if bench.bridge.pressed == 2 else "all"
    gate = Gate(f"{which} bushings are flush, stand upright and do not turn")
    return Card.of(work, "Press the bushings in", do, gate, usual(work))


def _gripped(bench: Bench) -> tuple[str, ...]:
    """How the ground wire goes in before the bushing that grips it."""
    if bench.document.bridge.grounded_in:
        return ()
    place = next((tunnel.place for tunnel in bench.tunnels if tunnel.place.bushing), None)
    where = "in its hole" if place is None else f"from {balloon(place.id)} up the side of the {place.into}"
    return (f"Lay the ground wire's bared end {where} before that bushing, which then holds it fast.",)


def _takes_bushing(bridge: BridgePlace, bore: Bore) -> bool:
    anchor = bridge.anchor(bore.family, bore.number)
    return anchor is not None and isinstance(anchor.part, Pressed)


KINDS: Mapping[Kind, Teller] = {
    "finish": _finish,
    "clean out": _clean_out,
    "press bushings": _press_bushings,
    "fit hardware": _hardware,
}
