"""Ways out for cavities: veneer on a wall or the floor, a taper shim, a wall relieved, a block let in, a cover over the seam."""

from __future__ import annotations

from collections.abc import Iterator
from math import degrees, tan
from typing import TYPE_CHECKING

from scribeline.features import Pocket
from scribeline.layout import NECK_POCKET, Point
from scribeline.lengths import no_less, said
from scribeline.plan import plan as planned
from scribeline.rescue.anew import hours_in_words
from scribeline.rescue.found import as_wanted, without
from scribeline.rescue.hiding import seam
from scribeline.rescue.keeping import keep
from scribeline.rescue.off import NOTICED, NOTICED_LEAN, off_of
from scribeline.rescue.way import Drawn, Number, Way
from scribeline.steps.cautions import BY_MACHINE, GLUE
from scribeline.tables import SEAM_COVER, VENEER_UP_TO, glue

if TYPE_CHECKING:
    from scribeline.plan import Plan
    from scribeline.rescue.off import Off
    from scribeline.tables import Glue

THIN_VENEER = 0.5
"""The thinnest veneer that is sold and planed by hand, mm (common practice, no source)."""


def pocket_ways(plan: Plan, wrong: Off, meant: Plan) -> Iterator[Way]:
    """What can be done with a cavity that is off.

    Args:
        plan: with it as it was made.
        wrong: what is off.
        meant: the plan with it as it was wanted.
    """
    if not isinstance(wrong.wanted, Pocket):
        return
    wide, tight = wrong.walls.widest >= NOTICED, wrong.walls.tightest >= NOTICED
    deep = wrong.deeper >= NOTICED
    lean = abs(degrees(wrong.lean)) >= NOTICED_LEAN
    if wide:
        yield _walls(plan, wrong, meant)
        if wrong.walls.widest > VENEER_UP_TO or not _is_neck(wrong):
            yield _block(plan, wrong)
        if not _is_neck(wrong):
            yield _ring(plan, wrong, meant)
    elif tight:
        yield _relieve(plan, wrong, meant)
    if deep and not lean:
        yield _floor(plan, wrong, meant)
    if wrong.deeper <= -NOTICED and not lean:
        yield _deeper(plan, wrong, meant)
    if lean:
        yield _taper(plan, wrong, meant)


def _clamped(waits: Glue) -> str:
    """A glue and its time in the clamps, as the start of a sentence."""
    return f"{waits.words[0].upper()}{waits.words[1:]}: clamp {hours_in_words(waits.clamp)}"


def _is_neck(wrong: Off) -> bool:
    return isinstance(wrong.cut, Pocket) and wrong.cut.role == NECK_POCKET


def _judged(after: Plan, wrong: Off, meant: Plan) -> tuple[bool, str]:
    """Whether what is then left of the fault can be lived with, by the same numbers as without the way."""
    cut = next(each for each in after.every_cut if each.id == wrong.cut.id)
    left = keep(after, (off_of(after, cut),), meant)
    return left.closes, left.why_not


def _put_right(plan: Plan, wrong: Off, *, walls: bool = False, floor: bool = False) -> Plan:
    """The plan with the cavity's walls, or its floor, as wanted and the rest of it as it was made."""
    assert isinstance(wrong.cut, Pocket)
    assert isinstance(wrong.wanted, Pocket)
    made, wanted = wrong.cut, wrong.wanted
    now = Pocket(
        made.id,
        made.role,
        made.face,
        wanted.outline if walls else made.outline,
        wanted.depth if floor else made.depth,
        made.corner_radius,
        slope=wanted.slope if floor else made.slope,
    )
    return planned(plan.stated, as_wanted(plan.record, now))


def _open(after: Plan, wrong: Off) -> tuple[str, ...]:
    return tuple(
        f"{each.message} ({each.code})"
        for each in after.findings
        if each.severity == "caution"
        and wrong.cut.id in each.features
        and not each.code.startswith("drilled.")
    )


def _walls(plan: Plan, wrong: Off, meant: Plan) -> Way:
    """A strip on each wall that is too far out, and each that stands in the way relieved."""
    assert isinstance(wrong.wanted, Pocket)
    after = _put_right(plan, wrong, walls=True)
    closes, why_not = _judged(after, wrong, meant)
    strips = [(name, mm) for name, mm in wrong.walls.named if mm >= NOTICED]
    tight = [(name, -mm) for name, mm in wrong.walls.named if mm <= -NOTICED]
    thickest = max(mm for _, mm in strips)
    waits, deep = glue("veneer"), wrong.cut.depth if isinstance(wrong.cut, Pocket) else 0.0
    if closes and thickest > VENEER_UP_TO:
        closes = False
        why_not = f"a strip of {said(thickest)} is a block: {said(VENEER_UP_TO)} is the most that veneer or a strip makes good"
    does = [
        f"Glue a strip {said(mm)} thick and {said(deep)} high to the {name}, its grain along the wall"
        + (": start from thicker veneer and pare it to fit." if mm < THIN_VENEER else ".")
        for name, mm in strips
    ]
    does += [f"Pare {said(mm)} off the {name}." for name, mm in tight]
    does.append(f"{_clamped(waits)} with a waxed block, then try the part dry.")
    visible, shows = seam(plan, wrong)
    return Way(
        "walls",
        "Veneer the walls that are too far out" + (", pare the others" if tight else ""),
        tuple(does),
        tuple(
            Number(f"strip on the {name}", mm, VENEER_UP_TO, ok=mm <= VENEER_UP_TO, at_most=True)
            for name, mm in strips
        )
        + tuple(Number(f"to pare off the {name}", mm) for name, mm in tight),
        shows=shows,
        visible=visible,
        wait=waits.machine,
        parts=tuple(f"a strip of the same timber, {said(mm)} thick, {said(deep)} high" for _, mm in strips),
        closes=closes,
        why_not=why_not,
        cautions=(*BY_MACHINE["bench"], GLUE),
        drawn=_drawn(plan, wrong),
        open=_open(after, wrong),
        record=after.record,
    )


def _block(plan: Plan, wrong: Off) -> Way:
    """A block let in, and the cavity routed anew."""
    meant = planned(plan.stated, without(plan.record, frozenset({wrong.cut.id})))
    stops = [stop.message for stop in meant.stops if wrong.cut.id in stop.features]
    closes, why_not = not stops, "".join(stops[:1])
    waits, gap = glue("plug"), wrong.walls.widest
    visible, shows = seam(plan, wrong)
    return Way(
        "patch",
        "Let in a block and rout it anew",
        (
            "Square the cavity, fit a block of the same timber with its grain the body's way, and glue it in.",
            f"{_clamped(waits)}, rout no sooner than after "
            f"{hours_in_words(waits.machine)}; take the tick back and rout by the new card.",
        ),
        (Number("block, at least", gap),),
        shows=shows,
        visible=visible,
        wait=waits.machine,
        parts=("a block of the same timber",),
        closes=closes,
        why_not=why_not,
        cautions=(*BY_MACHINE["router"], GLUE),
        drawn=_drawn(plan, wrong),
        record=meant.record,
    )


def _ring(plan: Plan, wrong: Off, meant: Plan) -> Way:
    """A ring or cover that reaches past the wrong edge; the cavity stays as it is."""
    reach = wrong.walls.widest + SEAM_COVER
    closes, why_not = _judged(plan, wrong, meant)
    tight = wrong.walls.tightest
    visible, _ = seam(plan, wrong)
    does = [
        f"Measure yours: it must reach {no_less(reach)} past the planned edge where the wall is furthest out."
    ]
    if tight >= NOTICED:
        does.append(f"Pare the wall that stands in the way by {said(tight)} first.")
    hidden = visible == 0
    return Way(
        "cover",
        "Leave it under its cover" if hidden else "Cover it with a ring or cover that reaches past the edge",
        tuple(does) if not hidden else tuple(does[1:]) or ("Its cover recess lies over it already.",),
        (Number("reach of the ring past the planned edge, at least", reach),),
        shows="nothing beyond the ring" if not hidden else "nothing: its cover lies over it",
        parts=() if hidden else (f"a ring or cover that reaches {said(reach)} past the planned edge",),
        closes=closes,
        why_not=why_not,
        cautions=BY_MACHINE["bench"] if tight >= NOTICED else (),
        drawn=_drawn(plan, wrong),
        record=plan.record,
    )


def _relieve(plan: Plan, wrong: Off, meant: Plan) -> Way:
    """Walls that stand in the way pared back."""
    after = _put_right(plan, wrong, walls=True)
    closes, why_not = _judged(after, wrong, meant)
    tight = [(name, -mm) for name, mm in wrong.walls.named if mm <= -NOTICED]
    return Way(
        "relieve",
        "Relieve the walls that stand in the way",
        tuple(
            f"Take {said(mm)} off the {name}, with the bearing bit or a sharp chisel." for name, mm in tight
        ),
        tuple(Number(f"to take off the {name}", mm) for name, mm in tight),
        closes=closes,
        why_not=why_not,
        cautions=BY_MACHINE["router"],
        drawn=_drawn(plan, wrong),
        record=after.record,
    )


def _floor(plan: Plan, wrong: Off, meant: Plan) -> Way:
    """Veneer over the whole floor."""
    after = _put_right(plan, wrong, floor=True)
    closes, why_not = _judged(after, wrong, meant)
    waits = glue("veneer")
    thick = wrong.deeper
    block = thick > VENEER_UP_TO
    return Way(
        "floor",
        f"{'A board' if block else 'Veneer'} {said(thick)} thick over the whole floor",
        (
            f"Cut it to the floor, wall to wall, of the same or a harder timber, {said(thick)} thick"
            + (": thicker veneer, routed back to depth once it is dry." if thick < THIN_VENEER else "."),
            f"{_clamped(waits)} under a waxed block; then drill its holes "
            "through again and read the depth anew.",
        ),
        (Number("thickness", thick),),
        shows="nothing: the part lies on it",
        wait=waits.machine,
        parts=(f"veneer or board, {said(thick)} thick",),
        closes=closes,
        why_not=why_not,
        cautions=(*BY_MACHINE["bench"], GLUE),
        drawn=_drawn(plan, wrong),
        open=_open(after, wrong),
        record=after.record,
    )


def _deeper(plan: Plan, wrong: Off, meant: Plan) -> Way:
    """A floor that is not deep enough routed on."""
    after = _put_right(plan, wrong, floor=True)
    closes, why_not = _judged(after, wrong, meant)
    return Way(
        "open up",
        f"Rout it {said(-wrong.deeper)} deeper",
        ("Set the stop anew from the face, one shallow pass, and read the depth at its gate again.",),
        (Number("still to rout", -wrong.deeper),),
        closes=closes,
        why_not=why_not,
        cautions=BY_MACHINE["router"],
        record=after.record,
    )


def _taper(plan: Plan, wrong: Off, meant: Plan) -> Way:
    """A full taper shim that puts a floor back at its angle."""
    made, wanted = wrong.cut, wrong.wanted
    assert isinstance(made, Pocket)
    assert isinstance(wanted, Pocket)
    after = _put_right(plan, wrong, floor=True)
    closes, why_not = _judged(after, wrong, meant)
    xs = [place.x for place in made.outline]
    near, far = min(xs), max(xs)
    ends = {"towards the nut": made.depth_at(near) - wanted.depth_at(near)}
    ends["towards the tail"] = made.depth_at(far) - wanted.depth_at(far)
    least = min(ends.values())
    lowest = min(0.0, least)
    thick = {name: mm - lowest for name, mm in ends.items()}
    run = far - near
    rise = run * tan(abs(wrong.lean))
    does = [
        f"Plane a wedge over the whole floor, {said(run)} long: "
        + ", ".join(f"{said(mm)} thick at its end {name}" for name, mm in thick.items())
        + "; full width, so that nothing stands hollow.",
    ]
    if lowest < -NOTICED:
        does.append(f"Rout the floor {said(-lowest)} deeper first, at the angle it has now.")
    waits = glue("veneer")
    does.append(f"{_clamped(waits)}, the heel waxed and in place.")
    if plan.job.document.neck.joint == "set":
        does.append(
            "A neck that is glued in already comes off by heat and steam: let it dry 7 days before it goes back."
        )
    return Way(
        "taper",
        f"A full taper shim, {said(rise)} from one end to the other",
        tuple(does),
        (
            Number("the floor is off by", degrees(abs(wrong.lean)), unit="degrees"),
            *(Number(f"wedge at its end {name}", mm) for name, mm in thick.items()),
        ),
        shows="nothing: the heel lies on it" if _is_neck(wrong) else "nothing",
        wait=waits.machine,
        parts=(f"a wedge of hardwood, {said(max(thick.values()))} at its thick end",),
        closes=closes,
        why_not=why_not,
        cautions=(*BY_MACHINE["bench"], GLUE),
        drawn=_drawn(plan, wrong),
        open=_open(after, wrong),
        record=after.record,
    )


def _drawn(plan: Plan, wrong: Off) -> tuple[Drawn, ...]:
    treble = plan.layout.treble
    found = []
    for line, cut in (("old", wrong.cut), ("new", wrong.wanted)):
        if isinstance(cut, Pocket):
            ring = tuple(Point(place.x, treble * place.y) for place in cut.outline)
            name = "as cut" if line == "old" else "as planned"
            found.append(Drawn("old" if line == "old" else "new", ring=ring, name=name))
    return tuple(found)
