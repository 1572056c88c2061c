"""Ways out for holes: filled and drilled anew, a larger part, a lining of epoxy, a cover, or drilled on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from scribeline.features import Bore, Features, balloon, runs
from scribeline.findings import Limit, limit_in
from scribeline.layout import ANCHORS, Point, Pressed, Threaded
from scribeline.lengths import no_less, said
from scribeline.plan import plan as planned
from scribeline.rescue.found import as_wanted, without
from scribeline.rescue.hiding import covers_on, hidden
from scribeline.rescue.off import NOTICED
from scribeline.rescue.refit import Refit, refits, widened, wood_round, workpiece_cuts, worst
from scribeline.rescue.way import Drawn, Kind, Number, Way
from scribeline.steps.cautions import BY_MACHINE, GLUE, LARGE_BIT, LARGE_BIT_FROM
from scribeline.tables import EPOXY_GAP, PLUG_CAP, PLUG_WALL, SCREW_UP, SEAM_COVER, glue, wood_screw

if TYPE_CHECKING:
    from scribeline.plan import Plan
    from scribeline.rescue.off import Off
    from scribeline.rescue.way import Wood

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


def anew(plan: Plan, wrong: Sequence[Off], kind: Kind | None = None) -> Way | None:
    """Fill the holes and drill them where the job wants them, as the plan without them has it.

    Args:
        plan: with the holes as they were made.
        wrong: the holes.
        kind: what to call it; by how it is done where left out.
    """
    made = tuple(each.cut for each in wrong if isinstance(each.cut, Bore))
    if not made:
        return None
    record = without(plan.record, frozenset(bore.id for bore in made))
    meant = planned(plan.job, record)
    found = refits(meant, made)
    stops = [stop for stop in meant.stops if {bore.id for bore in made} & set(stop.features)]
    faults = [f"at {balloon(each.old.id)} {each.fault}" for each in found if each.fault]
    why_not = (*faults, *(stop.message for stop in stops), "")[0]
    one = found[0]
    patch = any(each.patch is not None or (each.plug is None and not each.beside) for each in found)
    how: Kind = "patch" if patch else "beside" if all(each.beside for each in found) else "plug"
    if all(each.new is None for each in found):
        how = "fill"
    shown = max(each.hidden.visible for each in found)
    wait = 0.0 if how == "beside" and not shown else glue("plug").machine
    many = "s" if len(found) > 1 else ""
    return Way(
        kind or how,
        _title(found, how, many),
        tuple(_does(plan, found, how)),
        tuple(_numbers(found)),
        _shows(found),
        shown,
        wait,
        tuple(_parts(found, how)),
        closes=not why_not,
        why_not=why_not,
        cautions=_cautions(found),
        drawn=tuple(_drawn(meant, one)),
        moves=(),
        open=tuple(f"{each.message} ({each.code})" for each in stops),
        record=record,
    )


def _names(found: Sequence[Refit]) -> str:
    return runs([balloon(each.old.id) for each in found])


def _title(found: Sequence[Refit], how: Kind, many: str) -> str:
    if how == "fill":
        return f"Fill {_names(found)}; the job drills nothing there any more"
    if how == "beside":
        where = "beside the old hole" + many
        return f"Drill {_names(found)} anew {where}, {said(found[0].away)} away"
    if how == "patch":
        return f"Let in a patch and drill {_names(found)} anew"
    sizes = sorted({each.plug.diameter for each in found if each.plug is not None and not each.beside})
    return f"Plug {_names(found)} with {' and '.join(said(size) for size in sizes)} and drill anew"


def _does(plan: Plan, found: Sequence[Refit], how: Kind) -> Iterator[str]:
    waits, film = glue("plug"), plan.job.document.finish.film
    shows = [each for each in found if each.hidden.visible > 0]
    if how == "beside" and not shows:
        yield "The old wood between the two is enough: drill the new one, and leave the old one as it is."
        yield f"Take the tick of {_names(found)} back first, so that the plan puts it where it is wanted."
        return
    for row in _alike(found):
        yield from _fill(row)
    yield f"Glue with {waits.words}; clamp {_hours(waits.clamp)}, drill or rout no sooner than after {_hours(waits.machine)}."
    if shows and film:
        days = f"{waits.level / 24:g} to {waits.level_at_most / 24:g} days"
        yield f"Where it shows under a film of finish, level it only after {days}: the joint sinks as it dries."
    elif shows:
        yield "Level it with a sharp chisel once it is dry, then with the grain."
    if how != "fill":
        yield f"Take the tick of {_names(found)} back, plan again, and drill by the new card."


def _hours(hours: float) -> str:
    if hours >= 48:
        return f"{hours / 24:g} days"
    return "1 hour" if hours == 1 else f"{hours:g} hours"


def _alike(found: Sequence[Refit]) -> Iterator[tuple[Refit, ...]]:
    """The holes gathered that are filled alike."""
    rows: dict[tuple[object, ...], list[Refit]] = {}
    for each in found:
        plug = None if each.plug is None else (each.plug.diameter, round(each.plug.aside, 2))
        key = (
            plug,
            round(each.filled, 2),
            round(each.depth, 2),
            each.hidden.visible == 0,
            each.hidden.inside,
        )
        rows.setdefault(key, []).append(each)
    yield from map(tuple, rows.values())


def _fill(row: Sequence[Refit]) -> Iterator[str]:
    """How old holes that are filled alike are filled."""
    name, each = _names(row), row[0]
    deep, plug = each.depth, each.plug
    if each.patch is not None:
        yield (
            f"{name}: rout a slot {said(each.patch.width)} wide, {said(each.patch.length)} long and {said(deep)} deep, with the "
            f"old hole in it and {said(PLUG_WALL)} round the new one's place."
        )
        yield "Fit a patch of the same timber to it, its grain parallel to the wood's, and glue it in."
        return
    if plug is None:
        what = "a hardwood dowel" if each.hidden.visible == 0 else "a side-grain plug"
        yield f"{name}: fill the old hole with {what} of its own {said(each.old.widest)}, {said(deep)} deep."
        return
    aside = ", on the old hole's middle"
    if plug.aside >= 0.005:
        aside = f", its middle {said(plug.aside)} from the old hole's towards the new one"
    yield (
        f"{name}: bore {said(plug.diameter)}, {said(deep)} deep{aside}. The bit finds no wood for its point: clamp the work."
    )
    if each.hidden.visible == 0:
        yield "Fill it with a hardwood dowel of that diameter: nobody sees it."
        return
    cap = f"a side-grain plug of the same timber ({plug.cut_with}), its grain parallel to the wood's"
    if deep > PLUG_CAP + 1e-9:
        cap = f"a hardwood dowel to {said(PLUG_CAP)} under the face, then {cap}"
    yield f"Fill it with {cap}."


def _numbers(found: Sequence[Refit]) -> Iterator[Number]:
    for row in _alike(found):
        name = _names(row)
        far = max(row, key=lambda each: each.away)
        if far.new is not None:
            yield Number(f"{name}: old hole to new, middle to middle", far.away)
            if far.beside:
                web = min(each.web for each in row)
                yield Number(f"{name}: wood between old hole and new", web, PLUG_WALL)
            elif far.web < 0:
                yield Number(f"{name}: old hole and new overlap by", -far.web)
            else:
                yield Number(f"{name}: wood between old hole and new, too little without a plug", far.web)
        if row[0].patch is not None:
            yield Number(f"{name}: length of the patch", row[0].patch.length)
            yield Number(f"{name}: width of the patch", row[0].patch.width)
            round_it = [wood for each in row for wood in each.wood]
            if round_it:
                least = worst(round_it)
                yield Number(
                    f"{name}: wood from the patch to {least.to}", least.mm, least.need, ok=least.holds
                )
        plugged = [(each, each.plug) for each in row if each.plug is not None]
        if not plugged:
            continue
        yield Number(f"{name}: plug", plugged[0][1].diameter)
        if not far.beside:
            wall = min(plug.wall for _, plug in plugged)
            yield Number(f"{name}: wall of plug round the new hole", wall, PLUG_WALL)
        wood = [wood for each, _ in plugged for wood in each.wood]
        if wood:
            thin: Wood = worst(wood)
            yield Number(f"{name}: wood from the plug's hole to {thin.to}", thin.mm, thin.need, ok=thin.holds)
        yield Number(f"{name}: depth of the plug", plugged[0][0].depth)


def _shows(found: Sequence[Refit]) -> str:
    seen = max(found, key=lambda each: each.hidden.visible)
    where = seen.hidden
    if where.inside:
        return "nothing: it lies inside the wood's joints"
    if where.cover is not None and where.visible == 0:
        return f"nothing: {where.cover.name} reaches {said(where.margin)} beyond it all round"
    if where.cover is not None and where.margin >= 0:
        return (
            f"perhaps all {said(seen.filled)}: {where.cover.name} reaches only {said(where.margin)} beyond it"
        )
    if where.cover is not None:
        return f"{said(where.visible)} of it sticks out from under {where.cover.name}"
    return (
        f"a round of {said(seen.filled)}; what covers it must be {no_less(seen.filled + 2 * SEAM_COVER)} wide"
    )


def _parts(found: Sequence[Refit], how: Kind) -> Iterator[str]:
    if how == "patch":
        yield "a patch of the same timber, fitted by hand"
        return
    for each in {
        each.filled: each for each in found if each.plug is not None or each.hidden.visible > 0
    }.values():
        kind = "hardwood dowel" if each.hidden.visible == 0 else "side-grain plug of the same timber"
        yield f"{kind}, {said(each.filled)}"


def _cautions(found: Sequence[Refit]) -> tuple[str, ...]:
    if any(each.patch is not None for each in found):
        return (*BY_MACHINE["router"], GLUE)
    machine = BY_MACHINE["hand drill" if found[0].old.face in {"edge", "pocket"} else "drill press"]
    large = (LARGE_BIT,) if any(each.filled >= LARGE_BIT_FROM for each in found) else ()
    return (*machine, *large, GLUE)


def _drawn(plan: Plan, each: Refit) -> Iterator[Drawn]:
    treble = plan.layout.treble
    yield Drawn("old", _up(Point(each.old.at.x, each.old.at.y), treble), each.old.widest / 2, name="old")
    if each.plug is not None:
        yield Drawn("plug", _up(each.centre, treble), each.plug.diameter / 2, name="plug")
    if each.patch is not None:
        yield Drawn("plug", ring=tuple(_up(place, treble) for place in each.patch.outline), name="patch")
    if each.new is not None:
        yield Drawn("new", _up(Point(each.new.at.x, each.new.at.y), treble), each.new.widest / 2, name="new")
    yield from drawn_covers(plan, each.new or each.old)


def drawn_covers(plan: Plan, bore: Bore) -> Iterator[Drawn]:
    """Outlines of the parts over a hole's face."""
    for cover in covers_on(plan, bore):
        ring = tuple(_up(place, plan.layout.treble) for place in cover.outline)
        yield Drawn("cover", ring=ring, name=cover.name)


def _up(place: Point, treble: int) -> Point:
    return Point(place.x, treble * place.y)


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
    after = planned(plan.job, as_wanted(plan.record, wanted))
    stops = [stop for stop in after.stops if made.id in stop.features]
    waits, wide = glue("plug"), made.deepest.diameter
    return Way(
        "fill",
        f"Fill its end with {said(wrong.deeper)} of dowel",
        (
            f"Glue a hardwood dowel of {said(wide)} and {said(wrong.deeper)} long into its end, pushed home with a drill shank.",
            f"{waits.words[0].upper()}{waits.words[1:]}: drill it clean to its planned depth no sooner than after "
            f"{_hours(waits.machine)}.",
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
                (f"Set it in {glue('epoxy').words} and leave it {_hours(glue('epoxy').machine)}.",)
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
            Drawn("old", _up(Point(made.at.x, made.at.y), treble), made.widest / 2, name="old"),
            Drawn("new", _up(Point(wanted.at.x, wanted.at.y), treble), lip / 2, name="larger"),
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
            f"{_hours(waits.machine)}.",
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
            Drawn("old", _up(Point(made.at.x, made.at.y), plan.layout.treble), made.widest / 2, name="old"),
            Drawn(
                "new",
                _up(Point(wanted.at.x, wanted.at.y), plan.layout.treble),
                wanted.widest / 2,
                name="wanted",
            ),
            Drawn(
                "cover", _up(Point(wanted.at.x, wanted.at.y), plan.layout.treble), washer / 2, name="washer"
            ),
        ),
    )
