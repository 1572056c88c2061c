"""The values and limits of findings by name: the number's own where it has one, else the finding's code with `.value`."""

from __future__ import annotations

from collections.abc import Iterable

from scribeline.findings.finding import Finding
from scribeline.quantities import Quantities


def name_findings(found: Quantities, findings: Iterable[Finding]) -> None:
    """Name what each finding found and what it was held against, where these have no name of their own yet."""
    for finding in findings:
        sides = (("found", finding.value_id, finding.value), ("limit", finding.limit_id, finding.limit))
        for side, name, value in sides:
            if name is None or value is None or name in found:
                continue
            what = f"{side}: {finding.message}"
            if side == "found" and finding.works is not None:
                found.work(name, *finding.works, unit="", what=what, source=finding.source, planned=value)
            else:
                found.give(name, value, unit="", what=what, source=finding.source)


def difference(one: float, other: float) -> float:
    """What one number is more than another."""
    return one - other


def ratio(one: float, other: float) -> float:
    """How many times one number is another."""
    return one / other
