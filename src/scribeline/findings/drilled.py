"""Rules for cuts that are made already: what a later edit would have moved, and whether what is left still fits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot

from scribeline.features import Bore, Feature, Moved, in_words
from scribeline.findings import wood
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, Facts, Finding, Limit
from scribeline.lengths import said

MEASURED_OFF = Limit.of("measured_off")

UNDO = "undo the edit that moves it"
MEASURE = "measure it again, or undo the edit if one moves it"
"""Where a reading says that the cut lies elsewhere."""
PLUG = "plug the cut with a glued dowel or patch of the same timber, take its tick back, and cut it anew"


@dataclass(frozen=True, slots=True)
class _Clash:
    """What a made cut does to the rest, and the cuts it does it with."""

    words: str
    others: tuple[str, ...]


def would_move(facts: Facts) -> Iterator[Finding]:
    """Would the job now put a made cut elsewhere, and does that cut still go with the rest?"""
    changes: dict[str, list[Moved]] = {}
    for change in facts.moved:
        changes.setdefault(change.feature, []).append(change)
    if not changes:
        return
    by_id = {feature.id: feature for feature in facts.every_cut}
    wrong = _no_longer_fits(facts)
    found = {name for name, read in facts.record.found.items() if read.is_placed}
    rows: dict[tuple[bool, bool, object], list[str]] = {}
    for name in changes:
        rows.setdefault((name in wrong, name in found, by_id[name].row), []).append(name)
    for (_, is_found, _), names in rows.items():
        clashes = [wrong[name] for name in names if name in wrong]
        yield _told([by_id[name] for name in names], changes, clashes, MEASURE if is_found else UNDO)


def _told(row: list[Feature], changes: dict[str, list[Moved]], clashes: list[_Clash], undo: str) -> Finding:
    """One row of made cuts that the job would now have otherwise, told by the one that would move most."""
    clash = clashes[0].words if clashes else None
    worst = max(row, key=lambda feature: max(change.by for change in changes[feature.id]))
    now = "; ".join(map(in_words, changes[worst.id]))
    if len(row) > 1:
        said = f"{_row(row)} are cut already and stay; the job now asks for something else ({wood.named(worst)}: {now})"
    else:
        said = f"{wood.named(worst)} is cut already and stays; the job now asks for something else: {now}"
    return Finding(
        code="drilled.would-move",
        severity="stop" if clash else "caution",
        features=tuple(feature.id for feature in row),
        concerns=tuple(
            dict.fromkeys((*(each.id for each in row), *(name for each in clashes for name in each.others)))
        ),
        value=max((change.by for change in changes[worst.id] if change.was is not None), default=None),
        limit=None,
        message=f"{said}. As cut, {clash}" if clash else said,
        cure=f"{undo}; or {PLUG}"
        if clash
        else f"if you mean it so, go on, for the rest is checked against what is cut; if not, {undo}",
        source=GEOMETRY if clash else COMMON_PRACTICE,
    )


def _no_longer_fits(facts: Facts) -> dict[str, _Clash]:
    """What moved cuts now do to the rest, by id, where the work must stop."""
    found: dict[str, _Clash] = {}
    for rule in (wood.webs, wood.floors, wood.edges):
        for finding in rule(facts):
            if finding.severity == "stop":
                for name in finding.features:
                    found.setdefault(name, _Clash(finding.message, finding.features))
    by_id = {feature.id: feature for feature in facts.every_cut}
    apart = {frozenset((web.a, web.b)): web.mm for web in facts.webs}
    for name in {change.feature for change in facts.moved}:
        for other in sorted(by_id[name].meets & by_id.keys()):
            if apart.get(frozenset((name, other)), 1.0) > 0:
                words = f"it no longer meets {wood.named(by_id[other])}, which it must open into"
                found.setdefault(name, _Clash(words, (other,)))
    return found


def measured_far_off(facts: Facts) -> Iterator[Finding]:
    """Was a made hole measured so far from its place that it may be another one?"""
    limit = facts.limit(MEASURED_OFF)
    by_id = {feature.id: feature for feature in facts.every_cut}
    for name, read in facts.record.found.items():
        if not read.is_placed or name not in by_id:
            continue
        off = hypot(read.of("along")[0], read.of("across")[0])
        severity = limit.severity(off)
        if severity is None:
            continue
        yield Finding(
            code="drilled.measured-far-off",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(name,),
            concerns=(),
            value=off,
            limit=limit.threshold(severity),
            message=f"{wood.named(by_id[name])} was measured {said(off)} from where it was to be "
            f"{'drilled' if read.cut.at else 'routed'}, and the plan goes by the reading",
            cure="measure it again from the same datums and keep the new reading; if it really lies there, go on",
            source=limit.source,
        )


def begun_otherwise(facts: Facts) -> Iterator[Finding]:
    """Does what is left to drill of a stepped hole still go with what is drilled?"""
    bored: dict[str, set[int]] = {}
    for done in facts.record.done:
        for cut in done.cuts:
            bored.setdefault(cut.id, set()).update(step.no for step in cut.steps)
    for bore in facts.features.bores:
        made = bored.get(bore.id, set())
        for no, (wide, narrow) in enumerate(zip(bore.steps, bore.steps[1:], strict=False), start=1):
            if made.isdisjoint({no, no + 1}) or (
                narrow.diameter < wide.diameter and narrow.depth > wide.depth
            ):
                continue
            yield Finding(
                code="drilled.begun-otherwise",
                severity="stop",
                features=(bore.id,),
                value=narrow.diameter,
                limit=wide.diameter,
                message=f"{wood.named(bore)} is begun: Ø {said(wide.diameter)} to {said(wide.depth)} and "
                f"Ø {said(narrow.diameter)} to {said(narrow.depth)} do not make a stepped hole",
                cure=f"{UNDO}; or {PLUG}",
                source=GEOMETRY,
            )


def _row(features: list[Feature]) -> str:
    """Several cuts in words: "string holes 1 to 6"."""
    if len(features) == 1:
        return wood.named(features[0])
    numbers = [feature.number for feature in features if isinstance(feature, Bore)]
    together = numbers == list(range(numbers[0], numbers[0] + len(numbers)))
    listed = f"{numbers[0]} to {numbers[-1]}" if together else ", ".join(map(str, numbers))
    return f"{features[0].role.removesuffix('s')}s {listed}"
