"""Going on against a stop: which stop an override was given for, and whether it still says the same and no worse."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from scribeline.findings.finding import Finding
from scribeline.job import Override

SAME = 0.005
"""Numbers that differ by less are told alike, mm or whatever the finding counts in."""


def overridden(findings: Iterable[Finding], overrides: Iterable[Override]) -> tuple[Finding, ...]:
    """Findings, each stop with the last override that holds for it."""
    given = tuple(overrides)[::-1]
    return tuple(
        replace(finding, override=next((each for each in given if holds(each, finding)), None))
        if given and finding.severity == "stop"
        else finding
        for finding in findings
    )


def holds(override: Override, finding: Finding) -> bool:
    """Whether an override still counts for a finding: the same code and cuts, and its number no worse.

    A finding that names no cut, or has no number, must say the very same words: nothing else tells it from another. One that
    holds back no cut by itself, a gate's, is never gone on against: it is read again, or accepted at its step.

    Args:
        override: as it was given.
        finding: as it is now.
    """
    if (
        finding.concerns == ()
        or override.code != finding.code
        or set(override.features) != set(finding.features)
    ):
        return False
    if finding.value is None or override.value is None or not finding.features:
        return told_alike(finding.value, override.value) and override.says == finding.message
    if finding.limit is None or override.limit is None:
        return finding.limit is override.limit and told_alike(finding.value, override.value)
    then, now = override.value - override.limit, finding.value - finding.limit
    return then * now >= 0 and abs(now) < abs(then) + SAME


def told_alike(a: float | None, b: float | None) -> bool:
    """Whether two numbers of a finding are the same as far as it tells them."""
    return a is b or (a is not None and b is not None and abs(a - b) < SAME)


_OUT = "The cutter comes out of the wood there: it tears the face, and can catch, throw the work and cut the hand that holds it."
_THIN = "Wood that thin bursts under the cutter or cracks later, and a bit that breaks through can grab."
_MEETS = "The bit follows the hole beside it or catches on its edge: it can break, and the wood between breaks out."
_LOOSE = "The screws can strip or pull out under the strings, and what they hold comes off."
_MISPLACED = "The part will not fit or will not play where it goes, and the cut cannot be moved."

_MAY_HAPPEN = {
    "wood.breaks-through": _OUT,
    "wood.outside-body": _OUT,
    "wood.breaks-surface": _OUT,
    "edge.breaks-through": _OUT,
    "edge.comes-out": _OUT,
    "carved.goes-through": _OUT,
    "wood.thin-floor": _THIN,
    "wood.thin-surface": _THIN,
    "wood.near-edge": _THIN,
    "edge.thin-face": _THIN,
    "carved.thin": _THIN,
    "neck.no-cheek": _THIN,
    "neck.thin-cheek": _THIN,
    "carve.thin-over-channel": _THIN,
    "carve.into-channel": _OUT,
    "wood.thin-web": _MEETS,
    "wood.run-together": _MEETS,
    "vibrato.claw-tip": _MEETS,
    "vibrato.claw-through": _MEETS,
    "holding.weak": _LOOSE,
    "holding.slips": _LOOSE,
    "holding.thread-parted": _LOOSE,
    "neck-screws.into-board": "The screw's tip splits or lifts the fingerboard, or meets the truss rod.",
    "neck-screws.short": _LOOSE,
    "pilot.no-bite": _LOOSE,
    "bridge.window-empty": _MISPLACED,
    "bridge.held-short": _MISPLACED,
    "control.misses-cavity": _MISPLACED,
    "control.no-room": _MISPLACED,
    "control.bodies-meet": _MISPLACED,
    "control.meets-jack": _MISPLACED,
    "jack.misses": _MISPLACED,
}


def may_happen(code: str) -> str:
    """What may happen to the wood and to the builder who goes on against a stop.

    Args:
        code: of the stop.
    """
    return _MAY_HAPPEN.get(code, "The cut can spoil the work, and what is cut stays cut.")
