"""Rules for screws once they are driven: where their tips end up."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.features import Bore
from scribeline.findings.finding import GEOMETRY, Facts, Finding
from scribeline.findings.longest import TIP, Near, longest_screw, longest_with, near_tips
from scribeline.findings.wood import LEAST_THREAD, one_of_each_kind
from scribeline.layout import WALL_FAMILIES
from scribeline.lengths import no_less, no_more, said


def screw_tips(facts: Facts) -> Iterator[Finding]:
    """Does a screw's tip come out of the wood, or too near to it?"""
    # A claw's pilots, longer than its screws, have a rule of their own for the wood before other cuts.
    near = (each for each in near_tips(facts) if each.screw.family not in WALL_FAMILIES)
    return one_of_each_kind((_finding(facts, each) for each in near), facts)


def _finding(facts: Facts, near: Near) -> Finding:
    limit, bore, screw = facts.limit(TIP), near.screw, near.screw.own_screw
    under, left, out = screw.under_head, near.left, near.left <= 0
    if out:
        left = longest_with(near.gap, 0.0, under, screw.length) - screw.length
    severity = limit.severity(left) or "caution"
    name = f"{bore.holds or bore.role} {bore.number}"
    size = f"{said(screw.length, None)} long, {said(under, None)} of it above the wood"
    return Finding(
        code="screw.tip-shows" if out else "screw.tip-near",
        severity=severity,
        held_to=limit.level_id(severity),
        features=(bore.id,) if near.other is None else (bore.id, near.other.id),
        value=left,
        limit=limit.threshold(severity),
        message=f"{name} comes {near.where} by {said(-left)}: it is {size}"
        if out
        else f"the tip of {name} ends only {said(left)} short of coming {near.where}: it is {size}",
        cure=_cure(facts, bore),
        source=GEOMETRY if out else limit.source,
    )


def _cure(facts: Facts, bore: Bore) -> str:
    """The longest screw that leaves the wood wanted, and which of those in the drawer that is."""
    screw = bore.own_screw
    longest, least = longest_screw(facts, screw.key), facts.limit(LEAST_THREAD).caution
    fits = f"the longest that fits is {no_more(longest)} ({screw.key})"
    if longest - screw.under_head < least - 1e-6:
        return (
            f"{fits}, which leaves less than {no_less(least)} in the wood: move the screw or what lies under it, or make "
            "that shallower"
        )
    owned = [length for length in screw.owned if length <= longest + 1e-6]
    if owned:
        return f"{fits}: of those you own, {said(max(owned), None)}"
    return fits + (": none of those you own is short enough" if screw.owned else "")
