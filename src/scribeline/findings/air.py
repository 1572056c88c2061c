"""A rule for cuts that take nothing away."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.features import Pocket
from scribeline.findings.finding import GEOMETRY, Facts, Finding
from scribeline.findings.wood import named
from scribeline.solid import swallowed


def cuts_nothing(facts: Facts) -> Iterator[Finding]:
    """Does every cut take wood away, or does one lie wholly inside another?"""
    by_id = {feature.id: feature for feature in facts.features}
    pairs = [(web.a, web.b) for web in facts.webs if web.mm == 0]
    told: set[str] = set()
    for inner, outer in swallowed(by_id.values(), pairs, facts.layout.thickness):
        if inner in told:
            continue
        told.add(inner)
        cut, room = by_id[inner], by_id[outer]
        pocket = isinstance(cut, Pocket)
        yield Finding(
            code="cut.takes-nothing",
            severity="stop",
            features=(inner, outer),
            value=None,
            limit=None,
            message=f"{named(cut)} takes no wood away, for all of it lies inside {named(room)}",
            cure="check its place and depth, or leave it out"
            + ("; of two cavities in one another the inner must be the deeper" if pocket else ""),
            source=GEOMETRY,
        )
