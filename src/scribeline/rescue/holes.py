"""Ways out for holes that keep them where they are: drilled on, filled at the end, a larger part, epoxy, a cover."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from scribeline.features import Bore, Features
from scribeline.findings import Limit, limit_in
from scribeline.layout import ANCHORS, Point, Pressed, Threaded
from scribeline.lengths import no_less, said
from scribeline.plan import plan as planned
from scribeline.rescue.anew import drawn_covers, hours_in_words, treble_up
from scribeline.rescue.found import as_wanted
from scribeline.rescue.hiding import hidden
from scribeline.rescue.off import NOTICED
from scribeline.rescue.refit import widened, wood_round, workpiece_cuts, worst
from scribeline.rescue.way import Drawn, Number, Way
from scribeline.steps.cautions import BY_MACHINE, GLUE
from scribeline.tables import EPOXY_GAP, SCREW_UP, SEAM_COVER, glue, wood_screw

if TYPE_CHECKING:
    from scribeline.plan import Plan
    from scribeline.rescue.off import Off

CLEARANCE = Limit.of("screw_clearance")

CLAMPED = ("control", "jack", "tuner-hole")
"""Holes whose part is held by its own nut or plate over them: one that is wide or off can be covered."""

BUSHED = ("ferrule-hole", "tuner-hole", "bridge-stud", "tailpiece-stud")
"""Holes that a part is pressed into."""

_GAUGES = (4, 6, 8, 10, 12, 14)
"""Gauges that a hardware drawer has (common practice, no source)."""

_WIDEST = 3.0
"""A part wider than so many times the old one is another fitting (our own choice)."""

_THICKEST = 1.6
"""A screw thicker than so many times the old one is another fitting (our own choice)."""


def open_up(plan: Plan, wrong: Off, meant: Plan) -> Way | None:
    """Drill on a hole that is too narrow or not deep enough."""
    bore = wrong.cut
    assert isinstance(bore, Bore)
    narrow, short = max(0.0, -wrong.wider), max(0.0, -wrong.deeper)
    if narrow < NOTICED and short < NOTICED:
        return None
    if wrong.away >= NOTICED or wrong.wider >= NOTICED or wrong.deeper >= NOTICED or wrong.stripped:
        return None
    does = []
    if narrow >= NOTICED:
        does.append(
            f"Drill it out by {said(narrow)} on the same middle, clamped before the chuck is loosened."
        )
    if short >= NOTICED:
        does.append(f"Drill it {said(short)} deeper, the stop set anew.")
    stops = [stop for stop in meant.stops if bore.id in stop.features]
    del plan
    return Way(
        "open up",
        "Drill it on to what was planned",
        tuple(does),
        (Number("still to widen", narrow), Number("still to deepen", short)),
        closes=not stops,
        why_not=stops[0].message if stops else "",
        cautions=BY_MACHINE["drill press"],
        record=meant.record,
    )


def bottom(plan: Plan, wrong: Off) -> Way | None:
    """The end of a hole that is only too deep filled with a dowel of its own size."""
    made, wanted = wrong.cut, wrong.wanted
    assert isinstance(made, Bore)
    if not isinstance(wanted, Bore) or made.through or wrong.deeper < NOTICED:
        return None
    if wrong.away >= NOTICED or wrong.wider >= NOTICED or wrong.stripped:
        return None
    after = planned(plan.stated, as_wanted(plan.record, wanted))
    stops = [stop for stop in after.stops if made.id in stop.features]
    waits, wide = glue("plug"), made.deepest.diameter
    return Way(
        "fill",
        f"Fill its end with {said(wrong.deeper)} of dowel",
        (
            f"Glue a hardwood dowel of {said(wide)} and {said(wrong.deeper)} long into its end, pushed home with a drill shank.",
            f"{waits.words[0].upper()}{waits.words[1:]}: drill it clean to its planned depth no sooner than after "
            f"{hours_in_words(waits.machine)}.",
        ),
        (Number("length of the dowel", wrong.deeper),),
        wait=waits.machine,
        parts=(f"hardwood dowel, {said(wide)}",),
        closes=not stops,
        why_not=stops[0].message if stops else "",
        cautions=(*BY_MACHINE["drill press"], GLUE),
        record=after.record,
    )


def larger(plan: Plan, wrong: Off) -> Iterator[Way]:
    """A larger part whose own hole takes the whole wrong one away."""
    made, wanted = wrong.cut, wrong.wanted
    assert isinstance(made, Bore)
    if not isinstance(wanted, Bore):
        return
    ways = []
    if made.screw is not None:
        ways.append(_larger_screw(plan, wrong, made, _takes(wrong, made, wanted)[-1]))
    if made.screw is None or made.family == "heel-pilot":
        ways.append(_larger_part(plan, wrong))
    yield from (way for way in ways if way is not None)


def _larger_part(plan: Plan, wrong: Off) -> Way | None:
    made, wanted = wrong.cut, wrong.wanted
    assert isinstance(made, Bore)
    assert isinstance(wanted, Bore)
    if wrong.away < NOTICED and wrong.wider < NOTICED and not wrong.stripped:
        return None
    takes = _takes(wrong, made, wanted)
    body, lip = takes[-1], takes[0]
    part = _part(plan, made)
    rest = workpiece_cuts(plan, made.id)
    others = Features(tuple(each for each in rest.bores if each.id != made.id), rest.pockets)
    wood = tuple(wood_round(plan, widened(wanted, *takes), others, made.meets))
    thin = [each for each in wood if not each.holds]
    why_not = ""
    if thin:
        why_not = f"a hole of {said(lip)} {worst(thin).short}"
    elif body > _WIDEST * wanted.deepest.diameter:
        why_not = f"it would need {said(body)}, more than {_WIDEST:g} times the {said(wanted.deepest.diameter)} it has now"
    over = hidden(plan, wanted, Point(wanted.at.x, wanted.at.y), lip / 2)
    glued = part == "a sleeve"
    size = said(body) if len(takes) == 1 else f"{said(body)}, its lip {said(lip)},"
    treble = plan.layout.treble
    return Way(
        "larger part",
        f"{part[0].upper()}{part[1:]} of {size} or more outside",
        (
            f"Bore {said(body)} where the hole was wanted: all of the old one is then gone. Fit {part} that fills it"
            + (f" and lets {said(wanted.deepest.diameter)} through." if glued else "."),
            *(
                (f"Set it in {glue('epoxy').words} and leave it {hours_in_words(glue('epoxy').machine)}.",)
                if glued
                else ()
            ),
        ),
        (
            Number("least diameter that takes the old hole away", body),
            *((Number("the same of its lip", lip),) if len(takes) > 1 else ()),
            *(Number(f"wood to {each.to}", each.mm, each.need, ok=each.holds) for each in wood[:1]),
        ),
        shows=f"{part}, {said(lip)} instead of {said(wanted.widest)}"
        if over.visible
        else "nothing: it is covered",
        visible=over.visible,
        wait=glue("epoxy").machine if glued else 0.0,
        parts=(f"{part}, {size} or more",),
        closes=not why_not,
        why_not=why_not,
        cautions=BY_MACHINE["drill press"],
        drawn=(
            Drawn("old", treble_up(Point(made.at.x, made.at.y), treble), made.widest / 2, name="old"),
            Drawn("new", treble_up(Point(wanted.at.x, wanted.at.y), treble), lip / 2, name="larger"),
            *drawn_covers(plan, wanted),
        ),
    )


def _takes(wrong: Off, made: Bore, wanted: Bore) -> tuple[float, ...]:
    """The least diameter of each step that takes the whole old hole away where the new one is wanted: 2 · off + its own."""
    fresh = SCREW_UP if wrong.stripped else 0.0
    return tuple(
        max(new.diameter, old.diameter + 2 * wrong.away + fresh)
        for old, new in zip(made.steps, wanted.steps, strict=True)
    )


def _part(plan: Plan, bore: Bore) -> str:
    family = bore.family
    if family == "ferrule-hole":
        return "a ferrule"
    if family == "tuner-hole":
        return "a tuner bush"
    if family == "heel-pilot":
        return "an insert"
    if family in ANCHORS:
        bridge = plan.layout.bridge
        anchor = None if bridge is None else bridge.anchor(family, bore.number)
        if anchor is not None and isinstance(anchor.part, Pressed | Threaded):
            return "a bushing"
    return "a sleeve"


def _larger_screw(plan: Plan, wrong: Off, made: Bore, takes: float) -> Way | None:
    """The next screw whose own core takes the old hole away and whose thread finds fresh wood."""
    screw = made.own_screw
    stripped = wrong.stripped or wrong.wider >= NOTICED
    if wrong.away < NOTICED and not stripped:
        return None
    least = screw.thread + (SCREW_UP if stripped else 0.0)
    core = takes if wrong.away >= NOTICED else 0.0
    fits = (wood_screw(gauge) for gauge in _GAUGES)
    bigger = next(
        (
            each
            for each in fits
            if each.diameter >= max(least, made.widest + SCREW_UP) - 1e-9 and each.root >= core - 1e-9
        ),
        None,
    )
    if bigger is None or bigger.diameter > _THICKEST * screw.thread:
        return _no_screw(screw.thread, core)
    needs, passing = bigger.diameter, limit_in(plan.job.document, CLEARANCE).caution
    gauge = f"no. {bigger.gauge}, {said(needs)} over its thread"
    return Way(
        "larger part",
        f"A thicker screw, {gauge}",
        (
            f"What it passes through needs a hole of {no_less(needs + passing)}, and its head a seat as wide as its own.",
            "Drill its own pilot first; a pilot too small splits the wood.",
        ),
        (
            Number("thread now", screw.thread),
            Number("thread it needs", needs),
            Number("hole in the part it holds, at least", needs + passing),
        ),
        shows="a larger screw head",
        parts=(f"a wood screw {gauge}, as long as the old one",),
        cautions=BY_MACHINE["drill press"],
    )


def _no_screw(thread: float, core: float) -> Way:
    """No thicker screw helps, and the number that says so."""
    why_not = f"no screw of up to {_THICKEST:g} times its {said(thread)} thread reaches fresh wood"
    numbers = [Number("thread now", thread)]
    if core:
        why_not = f"the screw would need a root of {said(core)} to take the old hole away, and its thread is {said(thread)} now"
        numbers.append(Number("root it needs", core))
    return Way("larger part", "A thicker screw", (), tuple(numbers), closes=False, why_not=why_not)


def lining(plan: Plan, wrong: Off) -> Way | None:
    """Epoxy round a pressed-in part that has room in its hole."""
    made, wanted = wrong.cut, wrong.wanted
    assert isinstance(made, Bore)
    if made.family not in BUSHED or not isinstance(wanted, Bore):
        return None
    spare = (made.deepest.diameter - wanted.deepest.diameter) / 2
    if spare < NOTICED / 2:
        return None
    gap = spare + wrong.away
    why_not = ""
    if wrong.away > spare + 1e-9:
        why_not = f"the part does not go in where it is wanted: {said(wrong.away)} off, {said(spare)} of room round it"
    elif gap > EPOXY_GAP + 1e-9:
        why_not = f"the widest gap is {said(gap)}; epoxy fills {said(EPOXY_GAP)}"
    waits = glue("epoxy")
    del plan
    return Way(
        "line",
        "Line the hole with epoxy and set the part true in it",
        (
            f"Wax what must come out again, fill the gap with {waits.words}, set the part true from its datums, and leave it "
            f"{hours_in_words(waits.machine)}.",
        ),
        (Number("widest gap round it", gap, EPOXY_GAP, ok=gap <= EPOXY_GAP + 1e-9, at_most=True),),
        wait=waits.machine,
        parts=("slow epoxy",),
        closes=not why_not,
        why_not=why_not,
        cautions=(GLUE,),
    )


def covered(plan: Plan, wrong: Off) -> Way | None:
    """A washer or plate over a hole whose part is held by its own nut."""
    made, wanted = wrong.cut, wrong.wanted
    assert isinstance(made, Bore)
    if made.family not in CLAMPED or not isinstance(wanted, Bore):
        return None
    if wrong.away < NOTICED and wrong.wider < NOTICED:
        return None
    spare = (made.widest - wanted.widest) / 2
    washer = 2 * (wrong.away + made.widest / 2 + SEAM_COVER)
    why_not = ""
    opened = 2 * wrong.away + wanted.widest
    does = [
        f"Lay a washer or a small plate of {no_less(washer)} under its nut: it reaches {said(SEAM_COVER)} past the hole."
    ]
    if wrong.away > spare + 1e-9:
        does.insert(
            0,
            f"Open the hole to {no_less(opened)} towards its place with a round file, so that the part goes where it is wanted.",
        )
    rest = workpiece_cuts(plan, made.id)
    others = Features(tuple(each for each in rest.bores if each.id != made.id), rest.pockets)
    wide = max(opened, made.widest)
    wide_steps = (wide, *(step.diameter for step in wanted.steps[1:]))
    wood = tuple(wood_round(plan, widened(wanted, *wide_steps), others, made.meets))
    thin = [each for each in wood if not each.holds]
    if thin:
        why_not = (
            f"the opened hole leaves {said(thin[0].mm)} to {thin[0].to}; {said(thin[0].need)} is the least"
        )
    return Way(
        "cover",
        f"Cover it with a washer or plate of {said(washer)}",
        tuple(does),
        (Number("least width of what covers it", washer),),
        shows=f"a washer or plate of {said(washer)}",
        visible=washer,
        parts=(f"a washer or plate, {said(washer)} or wider",),
        closes=not why_not,
        why_not=why_not,
        cautions=BY_MACHINE["bench"],
        drawn=(
            Drawn(
                "old", treble_up(Point(made.at.x, made.at.y), plan.layout.treble), made.widest / 2, name="old"
            ),
            Drawn(
                "new",
                treble_up(Point(wanted.at.x, wanted.at.y), plan.layout.treble),
                wanted.widest / 2,
                name="wanted",
            ),
            Drawn(
                "cover",
                treble_up(Point(wanted.at.x, wanted.at.y), plan.layout.treble),
                washer / 2,
                name="washer",
            ),
        ),
    )
