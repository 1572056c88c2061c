"""Rules for the strings themselves: what cannot be strung, and setbacks that the physics doubts."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.findings.bridge import PREDICTED
from scribeline.findings.finding import STATED, Facts, Finding, Limit
from scribeline.layout import OWN_SET

DOUBTED = Limit.of("setback_doubt")

_ONLY_CAUTION = {"strings.action-too-low", "strings.finger-below-board"}
"""Faults of the set-up: the holes go where they go all the same."""


def cannot_be(facts: Facts) -> Iterator[Finding]:
    """Can these strings be tuned and played on this scale?"""
    stringing = facts.layout.stringing
    for fault in stringing.faults:
        yield Finding(
            code=fault.code,
            severity="caution" if fault.code in _ONLY_CAUTION else "stop",
            features=(),
            value=fault.value,
            limit=fault.limit,
            message=fault.message,
            cure=fault.cure,
            source=PREDICTED,
        )
    if stringing.refusal and not stringing.faults:
        yield Finding(
            code="strings.not-predicted",
            severity="caution" if stringing.is_placed else "stop",
            features=(),
            value=None,
            limit=None,
            message=f"nothing can be worked out for these strings: {stringing.refusal}",
            cure="mend the strings in the job, or state every string's setback yourself",
            source=PREDICTED,
        )


def stated_setbacks(facts: Facts) -> Iterator[Finding]:
    """Does a stated setback agree with what the strings' physics expects?"""
    stringing = facts.layout.stringing
    if stringing.prediction is None:
        return
    limit = facts.limit(DOUBTED)
    for i, string in enumerate(facts.layout.strings):
        expected, sd = float(stringing.prediction.setback[i]), float(stringing.prediction.sd[i])
        if stringing.stated[i] and limit.severity(abs(string.setback - expected) / max(sd, 1e-9)):
            yield Finding(
                code="strings.setback-doubted",
                severity="caution",
                features=(),
                value=string.setback,
                limit=expected,
                message=f"string {string.no} ({string.note}): the job states a setback of {string.setback:.2f} mm, and its "
                f"physics expects {expected:.2f} ± {sd:.2f} mm (standard deviation). The stated one is used",
                cure="measure again from the 12th crown, or leave setback out to use the expected one",
                source=PREDICTED if limit is DOUBTED else limit.source,
            )


def assumed_making(facts: Facts) -> Iterator[Finding]:
    """Is any string's making assumed where both are sold?"""
    doubtful = [
        (n, string)
        for n, string in enumerate(facts.document.strings, start=1)
        if string.construction is None and 0.45 < string.gauge < 0.53  # .018 to .0205 in: both are sold
    ]
    own = facts.layout.stringing.sets[OWN_SET]
    for number, string in doubtful:
        yield Finding(
            code="strings.making-assumed",
            severity="caution",
            features=(),
            value=string.gauge,
            limit=None,
            message=f"string {number} ({string.note}) is taken as {own[number - 1].construction}: "
            "this gauge is sold plain and wound, and their saddles stand far apart",
            cure='say construction = "plain" or "round-wound"',
            source=STATED,
        )
