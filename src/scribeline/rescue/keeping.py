"""Leaving a cut as it was made: what it costs where nothing hangs on it, and what follows it where something does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import dist
from typing import TYPE_CHECKING

from scribeline.features import Bore, Feature, Pocket, balloon, bushing_hole
from scribeline.findings import Limit, limit_in
from scribeline.layout import ANCHORS, NECK_POCKET, Point, Pressed
from scribeline.lengths import said
from scribeline.plan import plan as planned
from scribeline.plan.heights import heights
from scribeline.rescue.found import as_wanted
from scribeline.rescue.hiding import left_showing
from scribeline.rescue.off import NOTICED, apart
from scribeline.rescue.way import Number, Way
from scribeline.tables import TURNED_SADDLE

if TYPE_CHECKING:
    from scribeline.findings import Finding
    from scribeline.layout import HoleFit
    from scribeline.plan import Plan
    from scribeline.rescue.off import Off

SAME = 0.005
"""What moves by less prints the same, mm."""

WEB_BORES, WEB_POCKET = Limit.of("bore_web"), Limit.of("pocket_web")
STRING_EDGE = Limit.of("string_edge")

_MOST_MOVES = 12


def keep(plan: Plan, wrong: Sequence[Off], meant: Plan) -> Way:
    """Leave the cuts; the rest is planned from them, as the plan does.

    Args:
        plan: with the cuts as they were made.
        wrong: what is off.
        meant: the plan with those cuts where they were wanted.
    """
    names = frozenset(each.cut.id for each in wrong)
    moves = tuple(_moves(plan, meant))
    numbers = (
        *saddles(plan, names),
        *_partners(plan, wrong),
        *_grip(plan, wrong),
        *_margins(plan, wrong),
        *_heights(meant, wrong),
        *wood_left(plan, meant, names),
    )
    stops = new_stops(plan, meant, names)
    open_ = tuple(f"{each.message} ({each.code})" for each in _new(plan, meant) if each.severity == "caution")
    why_not = "; ".join(each.message for each in stops)
    short = [each for each in numbers if not each.ok]
    if not why_not and any(each.stripped for each in wrong):
        why_not = "its screw holds nothing as it is"
    if not why_not and short:
        why_not = f"{short[0].words}: {_told(short[0])}"
    if moves:
        title = "Leave it, and let what follows go with it"
        does = (
            "Keep what was measured in the record and plan again: the cuts that are left go where they must now.",
        )
    else:
        title = "Live with it"
        does = ("Keep what was measured in the record. No cut that is left moves.",)
    visible, shows = max((left_showing(plan, each) for each in wrong), key=lambda each: each[0])
    return Way(
        "shift" if moves else "live",
        title,
        does,
        numbers,
        shows,
        visible,
        closes=not why_not,
        why_not=why_not,
        moves=moves,
        open=open_,
        record=plan.record,
    )


def _told(number: Number) -> str:
    value = f"{number.mm:.2f}°" if number.unit == "degrees" else said(number.mm)
    limit = ""
    if number.limit is not None:
        limit = f", {said(number.limit)} is {'the most' if number.at_most else 'wanted'}"
    return value + limit


def meant_for(plan: Plan, wrong: Sequence[Off]) -> Plan:
    """The plan with some made cuts where they were wanted."""
    record = plan.record
    for each in wrong:
        if each.wanted is not None:
            record = as_wanted(record, each.wanted)
    return planned(plan.stated, record)


def _moves(plan: Plan, meant: Plan) -> Iterator[str]:
    """What is still to cut and lies or goes otherwise than it would have."""
    before = {cut.id: cut for cut in meant.every_cut}
    told = list(_told_moves(plan, before))
    yield from told[:_MOST_MOVES]
    if len(told) > _MOST_MOVES:
        yield f"and {len(told) - _MOST_MOVES} more"


def _told_moves(plan: Plan, before: dict[str, Feature]) -> Iterator[str]:
    treble = plan.layout.treble
    for cut in plan.every_cut:
        was = before.get(cut.id)
        if cut.id in plan.made:
            continue
        if was is None:
            yield f"{balloon(cut.id)} is new"
        elif isinstance(cut, Bore) and isinstance(was, Bore):
            along, across = cut.at.x - was.at.x, treble * (cut.at.y - was.at.y)
            deeper = cut.deepest.depth - was.deepest.depth
            if max(abs(along), abs(across), abs(deeper)) >= SAME:
                parts = [
                    _way(along, "towards the tail", "towards the nut"),
                    _way(across, "to the treble", "to the bass"),
                ]
                parts.append(_way(deeper, "deeper", "shallower"))
                yield f"{balloon(cut.id)} goes {', '.join(part for part in parts if part)}"
        elif isinstance(cut, Pocket) and isinstance(was, Pocket):
            far = max((dist(a, b) for a, b in zip(cut.outline, was.outline, strict=False)), default=0.0)
            if far >= SAME or abs(cut.depth - was.depth) >= SAME:
                yield f"the {cut.in_words} moves by {said(far)}, its depth by {said(cut.depth - was.depth, signed=True)}"
    here = {cut.id for cut in plan.every_cut}
    for name in before:
        if name not in here:
            yield f"{balloon(name)} has no place any more"


def _way(mm: float, plus: str, minus: str) -> str:
    return f"{said(abs(mm))} {plus if mm > 0 else minus}" if abs(mm) >= SAME else ""


def _new(plan: Plan, meant: Plan) -> Iterator[Finding]:
    """What the checks say that they did not say before."""
    before = {(each.severity, each.code, each.features) for each in meant.findings}
    for each in plan.findings:
        if (each.severity, each.code, each.features) not in before and not each.code.startswith("drilled."):
            yield each


def new_stops(plan: Plan, meant: Plan, names: frozenset[str]) -> tuple[Finding, ...]:
    """The stops that stand and that these cuts bring, or that are about them."""
    fresh = [each for each in _new(plan, meant) if each.stands]
    about = [each for each in plan.stops if names & set(each.features)]
    every = tuple(dict.fromkeys((*fresh, *about)))
    # That a made cut would now be made otherwise says what another stop says too.
    return tuple(each for each in every if not each.code.startswith("drilled.")) or every


def saddles(plan: Plan, names: frozenset[str]) -> Iterator[Number]:
    """What every saddle has left at its worse end, where the cuts hold the bridge."""
    layout = plan.layout
    held = layout.held
    if held is None or layout.bridge is None or not layout.stringing.is_placed or not names & set(held.holes):
        return
    wanted = layout.window.wanted_reserve
    for string, forward, back in zip(layout.strings, layout.travel.forward, layout.travel.back, strict=True):
        end, left = ("nut", forward) if forward <= back else ("tail", back)
        yield Number(
            f"travel left to string {string.no} ({string.note}) towards the {end}",
            left,
            wanted,
            ok=left >= wanted - 1e-9,
        )


def _partners(plan: Plan, wrong: Sequence[Off]) -> Iterator[Number]:
    """How far a neck screw's hole in the body and the pilot in the heel lie apart, where both are drilled."""
    pairs = {each.cut.number for each in wrong if isinstance(each.cut, Bore) and each.cut.family in _NECK}
    bores = {bore.id: bore for bore in plan.every_cut.bores if bore.id in plan.made}
    for number in sorted(pairs):
        body, heel = (bores.get(f"{family}-{number}") for family in _NECK)
        if body is None or heel is None:
            continue
        thread = heel.widest if heel.screw is None else heel.screw.thread
        play = max(0.0, body.deepest.diameter - thread) / 2
        off = apart(body, heel)
        yield Number(
            f"{balloon(heel.id)} off the middle of {balloon(body.id)}, which lets its screw go aside by",
            off,
            play,
            ok=off <= play + SAME,
            at_most=True,
        )


_NECK = ("neck-screw", "heel-pilot")


def _grip(plan: Plan, wrong: Sequence[Off]) -> Iterator[Number]:
    """A bushing's hole that is too wide, with the widest that still presses it."""
    layout = plan.layout
    for each in wrong:
        if layout.bridge is None or not isinstance(each.cut, Bore) or each.wider < NOTICED:
            continue
        bore = each.cut
        anchor = layout.bridge.anchor(bore.family, bore.number) if bore.family in ANCHORS else None
        if anchor is not None and isinstance(anchor.part, Pressed):
            timber = layout.timber_at(Point(bore.at.x, bore.at.y), bore.at.z)
            most = bushing_hole(plan.job.document, timber, anchor.part.outside).most
            wide = bore.deepest.diameter
            yield Number(
                "the hole that the bushing presses into", wide, most, ok=wide <= most + SAME, at_most=True
            )


def _margins(plan: Plan, wrong: Sequence[Off]) -> Iterator[Number]:
    """The board beside an outer string, where a wide neck pocket lets the neck stand askew."""
    for each in wrong:
        pocket = each.cut
        wide = each.walls.treble + each.walls.bass
        if not (isinstance(pocket, Pocket) and pocket.role == NECK_POCKET) or wide <= 0:
            continue
        xs = [place.x for place in pocket.outline]
        askew = wide / (max(xs) - min(xs))
        layout = plan.layout
        at_nut = askew * max(xs)
        yield Number("the neck can stand askew, at the nut, by", at_nut)
        limit = limit_in(plan.job.document, STRING_EDGE).stop or 0.0
        # The neck turns about its end wall; the strings' far ends stay on the bridge.
        end = max(xs)
        left = [
            (margin.centre - askew * fret * abs(1 - end / layout.scale), string.no, margin.fret)
            for string in (layout.strings[0], layout.strings[-1])
            for margin in string.margins
            for fret in (0.0 if margin.fret == 0 else string.frets[margin.fret - 1],)
        ]
        least, no, fret_no = min(left)
        where = "the nut" if fret_no == 0 else f"fret {fret_no}"
        yield Number(
            f"string {no} to the board's edge at {where}, the neck so turned",
            least,
            limit,
            ok=least >= limit - 1e-9,
        )


def _heights(meant: Plan, wrong: Sequence[Off]) -> Iterator[Number]:
    """What the saddles have left down and up, where the neck pocket's floor is off."""
    for each in wrong:
        pocket = each.cut
        if not (isinstance(pocket, Pocket) and pocket.role == NECK_POCKET) or not (each.deeper or each.lean):
            continue
        found = heights(meant)
        if found is None:
            return
        by = found.way("neck.pocket_depth").rate * each.deeper + found.way("neck.angle").rate * each.lean
        yield Number(f"the strings at their saddles {'come up' if by > 0 else 'go down'} by", abs(by))
        downs = [one.down for one in found.strings if one.down is not None]
        ups = [one.up for one in found.strings if one.up is not None]
        if downs:
            yield Number(
                "the least that a saddle can then go down", min(downs) + by, 0.0, ok=min(downs) + by >= 0
            )
        if ups:
            yield Number("the least that a saddle can then go up", min(ups) - by, 0.0, ok=min(ups) - by >= 0)


def wood_left(plan: Plan, meant: Plan, names: frozenset[str]) -> Iterator[Number]:
    """The least wood from the cuts to any other, to the edge and to the face beyond."""
    near = [web for web in plan.webs if not web.on_purpose and names & {web.a, web.b}]
    if near:
        web = min(near, key=lambda each: each.mm - each.overlap)
        other = web.b if web.a in names else web.a
        pair = [_cut(plan, name) for name in (web.a, web.b)]
        limit = limit_in(
            plan.job.document, WEB_BORES if all(isinstance(each, Bore) for each in pair) else WEB_POCKET
        )
        need = limit.caution if limit.stop is None else limit.stop
        before = [each.mm for each in meant.webs if {each.a, each.b} == {web.a, web.b}]
        # What was planned so thin is no fault of this cut.
        thinner = not before or web.mm < min(before) - SAME
        ok = web.mm >= need - 1e-9 or not thinner
        yield Number(f"wood to {balloon(other)}", web.mm - web.overlap, need, ok=ok)
    outside = [each for each in plan.outside if each.feature in names]
    if outside:
        edges = [each.to_edge for each in outside if not _opens_at_edge(_cut(plan, each.feature))]
        if edges:
            yield Number("wood to the body's edge", min(edges))
        blind = [
            each
            for each, cut in ((each, _cut(plan, each.feature)) for each in outside)
            if not (isinstance(cut, Bore) and cut.through)
        ]
        if blind:
            yield Number("wood under it", min(each.to_opposite for each in blind))


def _opens_at_edge(cut: Feature) -> bool:
    return cut.face == "edge" or (isinstance(cut, Pocket) and cut.at_edge)


def _cut(plan: Plan, name: str) -> Feature:
    return next(each for each in plan.every_cut if each.id == name)


def bridge_ways(plan: Plan, names: frozenset[str]) -> Iterator[Way]:
    """What can be done with a bridge whose drilled holes hold it where its saddles lack travel, its holes left as they are."""
    layout, bridge = plan.layout, plan.job.document.bridge
    held = layout.held
    if held is None or layout.bridge is None or not names & set(held.holes) or not layout.stringing.is_placed:
        return
    travel, wanted = layout.travel, layout.window.wanted_reserve
    if travel.reserve >= wanted - 1e-9:
        return
    missing = wanted - travel.reserve
    to_nut, to_tail = min(travel.forward) < wanted - 1e-9, min(travel.back) < wanted - 1e-9
    yield from _slip(plan, held.leading, missing, to_nut=to_nut, to_tail=to_tail)
    yield _turned(plan)
    parts, does = [], []
    if to_nut:
        reach = bridge.saddle_forward.mm + min(travel.forward) - wanted
        parts.append(f"{said(reach)} or less from the {bridge.line}, fully forward")
    if to_tail:
        reach = bridge.saddle_back.mm + wanted - min(travel.back)
        parts.append(f"{said(reach)} or more from the {bridge.line}, fully back")
    does.append(f"Measure before you buy: its {bridge.pattern} must be the same.")
    yield Way(
        "longer reach",
        f"A bridge whose saddles reach further: {' and '.join(parts)}",
        tuple(does),
        (Number("travel missing at the worst saddle", missing),),
        parts=(f"a {bridge.noun} with the same {bridge.pattern}",),
    )


def _slip(
    plan: Plan, leading: Sequence[HoleFit], missing: float, *, to_nut: bool, to_tail: bool
) -> Iterator[Way]:
    noun, by = plan.job.document.bridge.noun, plan.job.document.bridge.held_by
    slip = min(fit.play - fit.off for fit in leading)
    if to_nut == to_tail or slip <= 0:
        return
    end = "tail" if to_tail else "nut"
    short = (
        "" if slip >= missing - 1e-9 else f"the {by} let it slip {said(slip)}, and {said(missing)} is missing"
    )
    yield Way(
        "slip",
        f"Shift the {noun} {said(min(slip, missing))} towards the {end} on its {by}",
        (
            f"Loosen its {by}, push it towards the {end} as far as they let it, tighten, and measure every saddle again.",
        ),
        (Number(f"play of its {by}", slip, missing, ok=not short),),
        closes=not short,
        why_not=short,
    )


def _turned(plan: Plan) -> Way:
    """The saddles that lack travel turned round: each gains at one end what it loses at the other."""
    layout = plan.layout
    travel, wanted = layout.travel, layout.window.wanted_reserve
    numbers, turned, worst = [], [], ""
    for string, forward, back in zip(layout.strings, travel.forward, travel.back, strict=True):
        if min(forward, back) >= wanted - 1e-9:
            continue
        turned.append(str(string.no))
        gain = TURNED_SADDLE if forward < back else -TURNED_SADDLE
        ends = {"nut": forward + gain, "tail": back - gain}
        end = min(ends, key=lambda name: ends[name])
        numbers.append(
            Number(
                f"string {string.no} ({string.note}): {said(min(forward, back))} becomes, towards the {end},",
                ends[end],
                wanted,
                ok=ends[end] >= wanted - 1e-9,
            )
        )
        if not numbers[-1].ok and not worst:
            worst = f"string {string.no} still has only {said(ends[end])} left; {said(wanted)} is wanted"
    many = "" if len(turned) == 1 else "s"
    return Way(
        "turn saddles",
        f"Turn the saddle{many} of string {', '.join(turned)} round",
        (
            f"Take the saddle{many} out, turn {'it' if not many else 'them'} end for end, and measure what it gains: about "
            f"{said(TURNED_SADDLE, None)} is usual, and yours decides.",
        ),
        tuple(numbers),
        closes=not worst,
        why_not=worst,
        cautions=("A string under tension whips when it slips: slacken it first, eye protection on.",),
    )
