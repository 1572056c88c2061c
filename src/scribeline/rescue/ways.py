"""The ways out of a wrong cut, each worked out and put in order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import degrees
from typing import TYPE_CHECKING

from scribeline.features import Bore, Feature, Pocket, balloon
from scribeline.layout import SET_OUT
from scribeline.lengths import said
from scribeline.rescue import holes, keeping
from scribeline.rescue.anew import anew
from scribeline.rescue.off import NOTICED, NOTICED_LEAN, Off, off_of, offs
from scribeline.rescue.pockets import pocket_ways
from scribeline.rescue.way import Rescue, Way

if TYPE_CHECKING:
    from scribeline.plan import Plan

ORDER = (
    "First what breaks no limit and shows nothing, then what breaks none; within that the least wait, then the fewest parts. "
    "What breaks a limit comes last, with the number."
)
"""How ways are ranked, in words."""


def rescue(plan: Plan, cut: Feature, *, stripped: bool = False) -> Rescue:
    """The ways out of one made cut that is off, the best first.

    A hole that holds a bridge which stands off its place as a whole is taken with all that was drilled for it.

    Args:
        plan: with the cut in its record as it was found.
        cut: of that plan, made.
        stripped: whether its screw does not hold any more.
    """
    wrong = off_of(plan, cut, stripped=stripped)
    with_it = _bridge_together(plan) if not stripped else ()
    if cut.id in {each.cut.id for each in with_it}:
        return _of_bridge(plan, (wrong, *(each for each in with_it if each.cut.id != cut.id)))
    return _of_one(plan, wrong)


def rescues(plan: Plan) -> Iterator[Rescue]:
    """The ways out of every made cut that is off: the bridge's holes together where it stands off its place as a whole."""
    together = _bridge_together(plan)
    names = {each.cut.id for each in together}
    if together:
        yield _of_bridge(plan, together)
    for each in offs(plan):
        if each.cut.id not in names:
            yield _of_one(plan, each)


def _bridge_together(plan: Plan) -> tuple[Off, ...]:
    """What was drilled for a bridge that its holes hold off its place, though each of them fits it; none otherwise."""
    held = plan.layout.held
    if (
        held is None
        or held.aim is None
        or plan.layout.bridge is None
        or not all(fit.fits for fit in held.leading)
    ):
        return ()
    pairs = zip(
        (place for outline in plan.layout.bridge.outlines for place in outline), held.wanted, strict=True
    )
    if max(((a.x - b.x) ** 2 + (a.y - b.y) ** 2) ** 0.5 for a, b in pairs) <= SET_OUT:
        return ()
    near = {fit.feature for fit in (*held.leading, *held.string_holes)}
    families = {"string-hole", "ferrule-hole"}
    found = tuple(
        each
        for each in offs(plan)
        if isinstance(each.cut, Bore) and (each.cut.id in near or each.cut.family in families)
    )
    lead = [each for each in found if each.cut.id in set(held.holes)]
    return (*lead, *(each for each in found if each not in lead)) if len(lead) > 1 else ()


def _of_bridge(plan: Plan, wrong: tuple[Off, ...]) -> Rescue:
    names = frozenset(each.cut.id for each in wrong)
    meant = keeping.meant_for(plan, wrong)
    ways = [keeping.keep(plan, wrong, meant), *keeping.bridge_ways(plan, names)]
    moved = anew(plan, wrong, "move bridge")
    if moved is not None:
        ways.append(moved)
    noun = plan.job.document.bridge.noun
    title = f"the {noun}, held by {', '.join(balloon(each.cut.id) for each in wrong)}"
    return Rescue(
        tuple(each.cut.id for each in wrong),
        title,
        _wrong(wrong[0]),
        wrong[0],
        _ranked(ways),
        _already(meant, names),
    )


def _of_one(plan: Plan, wrong: Off) -> Rescue:
    meant = keeping.meant_for(plan, (wrong,))
    ways = [keeping.keep(plan, (wrong,), meant)]
    if isinstance(wrong.cut, Bore):
        ways += _hole_ways(plan, wrong, meant)
    else:
        ways += pocket_ways(plan, wrong, meant)
    names = frozenset({wrong.cut.id})
    return Rescue(
        (wrong.cut.id,), called(wrong.cut), _wrong(wrong), wrong, _ranked(ways), _already(meant, names)
    )


def _already(meant: Plan, names: frozenset[str]) -> tuple[str, ...]:
    """What stops these cuts even where they are as wanted: no way out of a wrong cut mends that."""
    return tuple(dict.fromkeys(stop.message for stop in meant.stops if names & set(stop.features)))


def _hole_ways(plan: Plan, wrong: Off, meant: Plan) -> Iterator[Way]:
    yield from keeping.bridge_ways(plan, frozenset({wrong.cut.id}))
    on = holes.open_up(plan, wrong, meant)
    if on is not None:
        yield on
        return
    if not wrong.is_off:
        return
    for way in (holes.bottom(plan, wrong), anew(plan, (wrong,))):
        if way is not None:
            yield way
    yield from holes.larger(plan, wrong)
    for way in (holes.lining(plan, wrong), holes.covered(plan, wrong)):
        if way is not None:
            yield way


def _ranked(ways: Sequence[Way]) -> tuple[Way, ...]:
    return tuple(sorted(ways, key=lambda way: way.rank))


def called(cut: Feature) -> str:
    """A cut in bench words, with its number on paper."""
    if isinstance(cut, Pocket):
        return f"the {cut.in_words}"
    return f"{balloon(cut.id)}, {cut.role}"


def _wrong(wrong: Off) -> str:
    """What is wrong, in a sentence."""
    parts = []
    if wrong.wanted is None:
        return "the job has no such cut any more"
    if isinstance(wrong.cut, Bore):
        parts += [
            _by(wrong.along, "too far towards the tail", "too far towards the nut"),
            _by(wrong.across, "too far to the treble", "too far to the bass"),
            _by(wrong.height, "too high", "too low"),
            _by(wrong.wider, "too wide", "too narrow"),
        ]
    else:
        parts += [
            _by(mm, f"too far out at the {name}", f"short at the {name}") for name, mm in wrong.walls.named
        ]
    parts.append(_by(wrong.deeper, "too deep", "not deep enough"))
    if abs(degrees(wrong.lean)) >= NOTICED_LEAN:
        parts.append(f"its floor leans {abs(degrees(wrong.lean)):.2f}° off")
    if wrong.stripped:
        parts.append("its screw does not hold")
    return ", ".join(part for part in parts if part) or f"less than {said(NOTICED)} off: as good as planned"


def _by(mm: float, plus: str, minus: str) -> str:
    return f"{said(abs(mm))} {plus if mm > 0 else minus}" if abs(mm) >= NOTICED - 1e-9 else ""
