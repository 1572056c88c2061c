"""The hole list in drilling order, and what wood is left between the cuts."""

from __future__ import annotations

from collections.abc import Sequence

from scribeline.drawing.sheet import LEAST_LETTERING
from scribeline.drawing.sheets.figures import Cell, Figure, Table, across, bare, signed, stepped_names
from scribeline.drawing.sheets.flow import Abreast, Listing, flowed
from scribeline.drawing.sheets.office import AT_THE_PRESS, Office, Page
from scribeline.features import Bore, Pocket
from scribeline.plan import Plan
from scribeline.solid import Web
from scribeline.steps import balloon


def hole_pages(office: Office) -> list[Page]:
    """Every hole in drilling order with its numbers."""
    return _hole_list(office)


def drilling_order(plan: Plan) -> list[Bore]:
    """The bores in the order in which the cards cut them; those on no card last."""
    rank: dict[str, int] = {}
    for card in plan.cards:
        for feature in card.features:
            rank.setdefault(feature, len(rank))
    return sorted(plan.features.bores, key=lambda bore: rank.get(bore.id, len(rank)))


def _hole_list(office: Office) -> list[Page]:
    plan = office.plan
    layout = plan.layout
    rows: list[Sequence[Cell]] = []
    first_of: dict[tuple[object, ...], str] = {}
    for n, bore in enumerate(drilling_order(plan), start=1):
        named = _hole_name(bore)
        alike = first_of.setdefault((bore.group, named), balloon(bore.id))
        # A name of several lines stands once; the numbers stand in every row.
        name: Cell = named if alike == balloon(bore.id) else f"as {alike}"
        for k, step in enumerate(bore.steps):
            first = k == 0
            rows.append(
                (
                    str(n) if first else "",
                    balloon(bore.id) if first else "",
                    name if first else ("then", "on the same axis"),
                    (step.bit.size, step.bit.kind + ("" if step.bit.owned else ": get one")),
                    signed(step.depth),
                    signed(step.point_reaches),
                    signed(bore.at.x - layout.twelfth) if first else "",
                    signed(bore.at.x - layout.pocket_end) if first else "",
                    bare(across(bore.at.y * layout.treble)) if first else "",
                )
            )
    columns = (
        "#",
        "No.",
        "Hole",
        "Bit",
        "Depth at full diameter",
        "Stop: point reaches",
        "x from 12th crown",
        "x from pocket end",
        "y from centreline, mm",
    )
    lead = (
        "In drilling order. x runs from the datum towards the tail, y from the centreline. Depths are along the bit "
        "from its own face; the stop is zeroed with the bit's point touching the wood."
    )
    table = Table(
        columns,
        rows,
        (9, 9, 31, 24, 32.2, 32.2, 36.6, 36.6, 32.4),
        ("end", "start", "start", "start", "end", "end", "end", "end", "end"),
    )
    return flowed(office, "Hole list", [Listing("", table, lead)] if rows else [], cautions=AT_THE_PRESS)


def _hole_name(bore: Bore) -> Figure:
    """What the hole is, and smaller which face it is cut from."""
    kind = "pilot, " if bore.role.endswith(" pilot") else ""
    where = f"from the {bore.face}"
    if bore.face == "edge":
        where += f", {-bore.at.z:.2f} mm below the top"
    elif bore.face == "pocket":
        where = f"through a pocket, {-bore.at.z:.2f} mm below the top"
    return bore.role.removesuffix(" pilot"), f"{kind}{where}"


def name_of(plan: Plan, feature: str) -> str:
    """A cut's name on the sheets: number and role of a hole, role of a pocket."""
    for cut in plan.features:
        if cut.id == feature:
            return cut.role if isinstance(cut, Pocket) else f"{balloon(cut.id)} {cut.role}"
    return feature


def wood_left(plan: Plan) -> list[Abreast]:
    """The smallest webs between cuts, and each cut's floor and distance to the body's edge."""
    webs, floors = _web_rows(plan), _floor_rows(plan)
    found: list[tuple[Listing, float]] = []
    if webs:
        table = Table(("Between", "Wood left"), webs, (57, 54), ("start", "end"), LEAST_LETTERING)
        found.append((Listing("Webs, the least between two groups", table), 111.0))
    if floors:
        columns = ("Cut", "Floor left under it", "Wood to the body's edge")
        table = Table(columns, floors, (34, 55.5, 55.5), ("start", "end", "end"), LEAST_LETTERING)
        found.append((Listing("Floors and edges, the least of each group", table), 145.0))
    listings, shares = [listing for listing, _ in found], [share for _, share in found]
    return [Abreast(listings, shares)] if found else []


def _web_rows(plan: Plan) -> list[Sequence[Cell]]:
    """The thinnest web between each two groups of cuts that one web was found between, thinnest first."""
    groups = {cut.id: cut.group if isinstance(cut, Bore) else cut.id for cut in plan.features}
    least: dict[frozenset[str], Web] = {}
    for web in plan.webs:
        pair = frozenset((groups[web.a], groups[web.b]))
        if not web.on_purpose and (pair not in least or web.mm < least[pair].mm):
            least[pair] = web
    return [
        (f"{name_of(plan, web.a)}, {name_of(plan, web.b)}", signed(web.mm))
        for web in sorted(least.values(), key=lambda web: web.mm)
    ]


def _floor_rows(plan: Plan) -> list[Sequence[Cell]]:
    groups: dict[str, list[str]] = {}
    for cut in plan.features:
        groups.setdefault(cut.group if isinstance(cut, Bore) else cut.id, []).append(cut.id)
    found = {outside.feature: outside for outside in plan.outside}
    through = {bore.id for bore in plan.features.bores if bore.through}
    rows: list[Sequence[Cell]] = []
    for ids in groups.values():
        known = [found[name] for name in ids if name in found]
        if not known:
            continue
        floor = min(outside.to_opposite for outside in known)
        edge = min(outside.to_edge for outside in known)
        rows.append(
            (
                stepped_names([balloon(name) for name in ids], name_of(plan, ids[0])),
                "through" if set(ids) <= through else signed(floor),
                signed(edge) if edge >= 0 else "open at the edge",
            )
        )
    return rows
