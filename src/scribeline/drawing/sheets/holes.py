"""The hole list in drilling order, and what wood is left between the cuts."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain, groupby

from scribeline.drawing.sheet import LEAST_LETTERING
from scribeline.drawing.sheets.figures import (
    Cell,
    across,
    bare,
    both_named,
    joined_roles,
    signed,
    stepped_names,
    unnamed,
)
from scribeline.drawing.sheets.flow import Block, Table, beside, listed
from scribeline.features import Bore, Pocket, Setting, Step, alike, runs, setting_of
from scribeline.layout import Point as Place
from scribeline.lengths import both_units, in_unit, said
from scribeline.plan import Plan
from scribeline.solid import Web
from scribeline.steps import balloon

_TOLD = 15.0
"""Webs thicker than this are not listed, mm."""


def drilling_order(plan: Plan) -> list[Bore]:
    """The bores in the order in which the cards cut them; those on no card last."""
    rank: dict[str, int] = {}
    for card in plan.cards:
        for feature in card.features:
            rank.setdefault(feature, len(rank))
    return sorted(plan.features.bores, key=lambda bore: rank.get(bore.id, len(rank)))


def drill_list(plan: Plan, bores: Sequence[Bore]) -> Block:
    """One row for holes that go together, and for groups that follow each other and take one setting of the press."""
    unit, layout, pockets = plan.unit, plan.layout, plan.features.pockets
    rows: list[Sequence[Cell]] = []

    def told(group: Sequence[Bore]) -> tuple[str, tuple[Step, ...], tuple[Setting, ...]]:
        first, where = group[0], "; ".join(dict.fromkeys(_from(plan, bore) for bore in group))
        settings = (setting_of(layout, first, no, pockets) for no in range(len(first.steps)))
        return where, first.steps, tuple(settings)

    order = {bore.id: n for n, bore in enumerate(bores)}
    groups = sorted(alike(plan.features, layout), key=lambda group: order[group[0].id])
    for (where, steps, settings), run in groupby(groups, key=told):
        holes = list(chain(*run))
        numbers = runs([balloon(bore.id) for bore in holes])
        named = joined_roles(bore.role.removesuffix(" pilot") for bore in holes), where
        for k, (step, setting) in enumerate(zip(steps, settings, strict=True)):
            rows.append(
                (
                    numbers if k == 0 else "",
                    named if k == 0 else ("then", "on the same axis"),
                    (
                        in_unit(step.bit.size_in_words, unit),
                        step.bit.kind + ("" if step.bit.owned else ": get one"),
                    ),
                    signed(step.depth, unit),
                    signed(setting.mm, unit),
                    (setting.kind, setting.where),
                )
            )
    table = Table(
        ("No.", "Hole", "Bit", "Depth at full diameter", "Setting", "Zeroed on"),
        rows,
        (30, 80, 46, 30, 30, 70),
        ("start", "start", "start", "end", "end", "start"),
        below=True,
    )
    lead = "In drilling order. Depths are along the bit from the hole's own start; a tape's distance is from the bit's point."
    return listed("Drill list", table, lead)


def hole_positions(plan: Plan, bores: Sequence[Bore]) -> Block:
    """Where every hole's middle lies, from both datums."""
    layout = plan.layout
    rows: list[Sequence[Cell]] = [
        (
            str(n),
            balloon(bore.id),
            unnamed(signed(layout.past("pocket-end", bore.at.x), plan.unit)),
            unnamed(signed(layout.past("12th-fret", bore.at.x), plan.unit)),
            unnamed(bare(across(bore.at.y * layout.treble, plan.unit))),
        )
        for n, bore in enumerate(bores, start=1)
    ]
    table = Table(
        (
            "#",
            "No.",
            f"From {layout.datum('pocket-end').name.removesuffix(' wall')}",
            "(From 12th fret)",
            "From centreline",
        ),
        rows,
        (10, 13, 34, 34, 35.5),
        ("end", "start", "end", "end", "end"),
    )
    lead = f"In drilling order, {both_named(plan.unit)} below. Along from the datum towards the tail, a minus towards the nut."
    return listed("Holes", table, lead, abreast=2)


def _from(plan: Plan, bore: Bore) -> str:
    """Which face it is cut from, and where that does not say it how deep its mouth lies below the top there."""
    kind = "pilot, " if bore.role.endswith(" pilot") else ""
    deep = both_units(plan.layout.top_at(Place(bore.at.x, bore.at.y)) - bore.at.z, plan.unit)[0]
    if bore.face == "edge":
        return f"{kind}from the edge, {deep} below the top's edge"
    if bore.face == "pocket":
        return f"{kind}through a pocket, {deep} below the top"
    return f"{kind}from the {bore.face}"


def name_of(plan: Plan, feature: str) -> str:
    """A cut's name on the sheets: number and role of a hole, role of a pocket."""
    for cut in plan.features:
        if cut.id == feature:
            return cut.role if isinstance(cut, Pocket) else f"{balloon(cut.id)} {cut.role}"
    return feature


def wood_left(plan: Plan) -> list[Block]:
    """The smallest wood between cuts, and what remains under each and to the body's edge."""
    webs, floors = _web_rows(plan), _floor_rows(plan)
    found: list[tuple[Block, float]] = []
    if webs:
        table = Table(("Between", "Wood between"), webs, (49, 54), ("start", "end"), LEAST_LETTERING)
        title = in_unit(f"Wood between cuts, up to {said(_TOLD, 0)}: the least of two groups", plan.unit)
        found.append((listed(title, table), 103.0))
    if floors:
        columns = ("Cut", "Remains under it", "Wood to the body's edge")
        table = Table(columns, floors, (45, 54, 54), ("start", "end", "end"), LEAST_LETTERING)
        found.append((listed("Wood under cuts and to the edge: the least of each group", table), 153.0))
    blocks, shares = [block for block, _ in found], [share for _, share in found]
    return [beside(blocks, shares=shares)] if found else []


def _web_rows(plan: Plan) -> list[Sequence[Cell]]:
    """The thinnest web between each two groups of cuts, thinnest first; none that nobody need look at."""
    groups = {cut.id: cut.row for cut in plan.features}
    least: dict[frozenset[object], Web] = {}
    for web in plan.webs:
        pair = frozenset((groups[web.a], groups[web.b]))
        if not web.on_purpose and web.mm <= _TOLD and (pair not in least or web.mm < least[pair].mm):
            least[pair] = web
    return [
        (f"{name_of(plan, web.a)}, {name_of(plan, web.b)}", unnamed(signed(web.mm, plan.unit)))
        for web in sorted(least.values(), key=lambda web: web.mm)
    ]


def _floor_rows(plan: Plan) -> list[Sequence[Cell]]:
    groups: dict[object, list[str]] = {}
    for cut in plan.features:
        groups.setdefault(cut.row, []).append(cut.id)
    found = {outside.feature: outside for outside in plan.outside}
    through = {bore.id for bore in plan.features.bores if bore.through}
    rows: list[Sequence[Cell]] = []
    for ids in groups.values():
        known = [found[name] for name in ids if name in found]
        if not known:
            continue
        floor = min((wood for name in ids if (wood := plan.floors[name]) is not None), default=None)
        edge = min(outside.to_edge for outside in known)
        rows.append(
            (
                stepped_names([balloon(name) for name in ids], name_of(plan, ids[0])),
                unnamed(signed(floor, plan.unit))
                if floor is not None
                else "through"
                if set(ids) <= through
                else "opens",
                unnamed(signed(edge, plan.unit)) if edge >= 0 else "open at the edge",
            )
        )
    return rows
