"""Every number of a plan by name, and what an id that stands anywhere in the pack or the app stands for."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from scribeline.features import Feature, balloon, workpiece_of
from scribeline.features.named import name_features
from scribeline.findings import Finding, name_findings
from scribeline.layout import StringPath
from scribeline.layout.named import name_layout
from scribeline.lengths import in_unit, said
from scribeline.plan.whole import Plan
from scribeline.quantities import Quantities, Quantity, chain
from scribeline.solid import web_id
from scribeline.solid.named import Wood, name_wood
from scribeline.solid.named_neck import name_neck

Reasons = tuple[tuple[str, str], ...]
"""Sentences, each with where its rule comes from."""


def quantities(plan: Plan) -> Quantities:
    """Every number of a plan that a person can measure, set or ask about, each worked out when it is asked for."""
    found = Quantities()
    name_layout(found, plan.job, plan.record, plan.layout)
    name_features(
        found,
        plan.job.document,
        plan.record,
        plan.layout,
        plan.features,
        heel_pilots=plan.neck.features.bores,
        in_head=() if plan.head is None else plan.head.features.bores,
    )
    # The wood under a cut is that of the moment it is made, worked out for it if nobody has asked before.
    name_wood(found, plan.layout, plan.features, Wood(plan.webs, plan.outside, lambda: plan.progress.under))
    name_neck(found, plan.job.document, plan.layout, plan.head)
    name_findings(found, plan.findings)
    return found


def quantity_record(quantity: Quantity) -> dict[str, Any]:
    """A named number as plain values, not rounded; its inputs with their values, so that its formula can be worked again."""
    return {
        "what": in_unit(quantity.what, "mm"),
        "value": quantity.value,
        "sd": quantity.sd,
        "unit": quantity.unit,
        "formula": quantity.formula or None,
        "inputs": {
            name: {"id": each.id or None, "value": each.value} for name, each in quantity.inputs.items()
        },
        "source": in_unit(quantity.source, "mm"),
        "spread_from": [
            {"root": root, "share": share} for root, share in quantity.shares() if share >= LEAST_SHARE
        ],
    }


LEAST_SHARE = 0.01
"""Share of a variance under which its root is not told."""


@dataclass(frozen=True, slots=True)
class Explained:
    """What an id stands for, and why its numbers are what they are.

    Attributes:
        id: as the plan has it.
        title: in bench words.
        kind: what sort of thing it is.
        numbers: its own, each with its chain of inputs.
        reasons: the decisions behind them.
        findings: what the checks say of it.
    """

    id: str
    title: str
    kind: str
    numbers: tuple[Quantity, ...]
    reasons: Reasons = ()
    findings: tuple[Finding, ...] = ()

    def rest(self) -> tuple[Quantity, ...]:
        """What decides its numbers and is worked out itself, each once, down to the roots."""
        own = {each.id for each in self.numbers}
        below = chain(*self.numbers, whole=False)
        return tuple(each for _, each in below if each.id and each.id not in own and each.inputs)


def explained(plan: Plan, asked: str, known: Quantities | None = None) -> Explained | None:
    """Find what an id stands for; None where it stands for nothing.

    Args:
        plan: the plan.
        asked: a cut by its number or name (`S3`, `ferrule-hole-3`), two cuts (`F3-F4`), a string, a fret, a key of the
            job, a finding's code, or the id of any number.
        known: the plan's numbers, where they are named already.
    """
    found, name = quantities(plan) if known is None else known, asked.strip().lower()
    return next((each for way in _WAYS if (each := way(plan, found, name)) is not None), None)


def nearest(plan: Plan, asked: str, known: Quantities | None = None, *, count: int = 3) -> tuple[str, ...]:
    """The ids most like one that stands for nothing, cuts and strings before single numbers."""
    found, name = quantities(plan) if known is None else known, asked.strip().lower()
    close = [*get_close_matches(name, tuple(_things(plan)), count, 0.6), *found.nearest(name, count=count)]
    return tuple(dict.fromkeys(close))[:count]


def _things(plan: Plan) -> Iterator[str]:
    for feature in plan.every_cut:
        yield feature.id
        yield balloon(feature.id)
    yield from (f"string-{string.no}" for string in plan.layout.strings)
    yield from (f"fret-{fret.n}" for fret in plan.layout.frets)
    yield from (finding.code for finding in plan.findings)
    yield from (card.id for card in plan.cards)
    yield from ("bridge", *(each.id for each in plan.measurables))


def _card(plan: Plan, found: Quantities, name: str) -> Explained | None:
    """A step card by its id: what its bits are set to, and what is read at its gate."""
    card = next((each for each in plan.cards if each.id == name), None)
    if card is None:
        return None
    ids = [
        f"{cut.feature}.{'depth' if card.bit is None else f'step-{cut.step}.setting'}" for cut in card.cuts
    ]
    if card.gate.measurable in found:
        ids.append(card.gate.measurable)
    return Explained(card.id, f"{card.no}. {card.title}", "step", tuple(found[each] for each in ids))


_Way = Callable[[Plan, Quantities, str], Explained | None]


def cut_called(plan: Plan, name: str) -> Feature | None:
    """The cut with this number or id, in either case of letters."""
    return next(
        (each for each in plan.every_cut if name in {each.id.lower(), balloon(each.id).lower()}), None
    )


def _cut(plan: Plan, found: Quantities, name: str) -> Explained | None:
    feature = cut_called(plan, name)
    if feature is None:
        return None
    reasons = tuple((reason.text, reason.source) for reason in feature.why)
    concerned = tuple(finding for finding in plan.findings if feature.id in finding.features)
    where = {"neck": "heel's underside", "head": "head's face"}.get(workpiece_of(feature.id), feature.face)
    title = f"{balloon(feature.id)} {feature.role}, from the {where}"
    return Explained(
        feature.id, title, "cut", found.under(feature.id), (*reasons, *_nearby(plan, feature)), concerned
    )


_NEARBY = 3
"""How many of the cuts nearest one are told."""


def _nearby(plan: Plan, feature: Feature) -> Iterator[tuple[str, str]]:
    near = [web for web in plan.webs if feature.id in (web.a, web.b) and not web.on_purpose]
    for web in sorted(near, key=lambda web: web.mm)[:_NEARBY]:
        other = web.b if web.a == feature.id else web.a
        yield in_unit(f"wood to {balloon(other)}: {said(web.mm)}", plan.unit), ""


def _pair(plan: Plan, found: Quantities, name: str) -> Explained | None:
    """The wood between two cuts: `F3-F4`, `F3 F4`, `ferrule-hole-3-ferrule-hole-4`."""
    for at in _BETWEEN.finditer(name):
        one, other = cut_called(plan, name[: at.start()]), cut_called(plan, name[at.end() :])
        if one is None or other is None:
            continue
        web = next(
            (each for each in (web_id(one.id, other.id), web_id(other.id, one.id)) if each in found), ""
        )
        if web:
            concerned = tuple(f for f in plan.findings if {one.id, other.id} <= set(f.features))
            title = f"Wood between {balloon(one.id)} {one.role} and {balloon(other.id)} {other.role}"
            return Explained(web, title, "wood", (found[web],), (), concerned)
    return None


_BETWEEN = re.compile(r"\s*(?:[-–—/,+&]|\s(?:to|and)\s|\s)\s*")


def _string(plan: Plan, found: Quantities, name: str) -> Explained | None:
    string = next((each for each in plan.layout.strings if f"string-{each.no}" == name), None)
    if string is None:
        return None
    stringing = plan.layout.stringing
    lines = [] if stringing.prediction is None else list(stringing.prediction.why(string.no - 1))
    if stringing.stated[string.no - 1]:
        lines.append(f"the job states a compensation of {said(string.setback)}, and that is used")
    if stringing.refusal:
        lines.append(stringing.refusal)
    reasons = tuple((in_unit(line, plan.unit), "docs/strings.md") for line in lines)
    numbers = tuple(each for each in found.under(name) if not _MARGIN.search(each.id))
    return Explained(
        name, f"String {string.no} {string.note}", "string", (*numbers, _narrowest(found, string)), reasons
    )


_MARGIN = re.compile(r"margin-\d+$")


def _narrowest(found: Quantities, string: StringPath) -> Quantity:
    """The least board beside a string; what it has at each fret is asked for by name."""
    least = min(string.margins, key=lambda margin: margin.side)
    return found[f"string-{string.no}.side-margin-{least.fret}"]


def _number(plan: Plan, found: Quantities, name: str) -> Explained | None:
    """A number by its id, with those whose ids begin with it."""
    exact = next((each for each in found if each.lower() == name), None)
    heads = (f"{name}.", f"{name}[")
    inside = [each for each in found if each.lower().startswith(heads)]
    group = tuple(found[each] for each in ([] if exact is None else [exact]) + inside)
    if not group:
        return None
    return Explained(exact or name, group[0].what if exact else name, "number", group)


def _code(plan: Plan, found: Quantities, name: str) -> Explained | None:
    told = tuple(finding for finding in plan.findings if finding.code == name)
    if not told:
        return None
    ids = dict.fromkeys(each for finding in told for each in (finding.value_id, finding.limit_id))
    return Explained(name, f"Check {name}", "finding", tuple(found[each] for each in ids if each), (), told)


_WAYS: tuple[_Way, ...] = (_cut, _pair, _string, _card, _code, _number)
