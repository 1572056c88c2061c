"""A way told of holes that are filled and drilled anew: what is done, what shows, how long it waits, what must be got."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from scribeline.features import Bore, balloon, runs
from scribeline.layout import Point
from scribeline.lengths import no_less, said
from scribeline.plan import plan as planned
from scribeline.rescue.found import without
from scribeline.rescue.hiding import covers_on
from scribeline.rescue.refit import Refit, refits, worst
from scribeline.rescue.way import Drawn, Kind, Number, Way
from scribeline.steps.cautions import BY_MACHINE, GLUE, LARGE_BIT, LARGE_BIT_FROM
from scribeline.tables import PLUG_CAP, PLUG_WALL, SEAM_COVER, glue

if TYPE_CHECKING:
    from scribeline.plan import Plan
    from scribeline.rescue.off import Off
    from scribeline.rescue.way import Wood


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
    meant = planned(plan.stated, record)
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
    clamp, machine = hours_in_words(waits.clamp), hours_in_words(waits.machine)
    yield f"Glue with {waits.words}; clamp {clamp}, drill or rout no sooner than after {machine}."
    if shows and film:
        days = f"{waits.level / 24:g} to {waits.level_at_most / 24:g} days"
        yield f"Where it shows under a film of finish, level it only after {days}: the joint sinks as it dries."
    elif shows:
        yield "Level it with a sharp chisel once it is dry, then with the grain."
    if how != "fill":
        yield f"Take the tick of {_names(found)} back, plan again, and drill by the new card."


def hours_in_words(hours: float) -> str:
    """A wait as it is said."""
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
        wide, long = said(each.patch.width), said(each.patch.length)
        yield (
            f"{name}: rout, or drill and pare, a slot {wide} wide, {long} long and {said(deep)} deep, with the old hole in it "
            f"and {said(PLUG_WALL)} round the new one's place."
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
    yield Drawn(
        "old", treble_up(Point(each.old.at.x, each.old.at.y), treble), each.old.widest / 2, name="old"
    )
    if each.plug is not None:
        yield Drawn("plug", treble_up(each.centre, treble), each.plug.diameter / 2, name="plug")
    if each.patch is not None:
        yield Drawn(
            "plug", ring=tuple(treble_up(place, treble) for place in each.patch.outline), name="patch"
        )
    if each.new is not None:
        yield Drawn(
            "new", treble_up(Point(each.new.at.x, each.new.at.y), treble), each.new.widest / 2, name="new"
        )
    yield from drawn_covers(plan, each.new or each.old)


def drawn_covers(plan: Plan, bore: Bore) -> Iterator[Drawn]:
    """Outlines of the parts over a hole's face."""
    for cover in covers_on(plan, bore):
        ring = tuple(treble_up(place, plan.layout.treble) for place in cover.outline)
        yield Drawn("cover", ring=ring, name=cover.name)


def treble_up(place: Point, treble: int) -> Point:
    """A place as drawings have it: the treble side up, whichever the hand."""
    return Point(place.x, treble * place.y)
