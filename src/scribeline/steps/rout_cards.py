"""Cards of the router."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from scribeline.layout import NECK_POCKET, Point3
from scribeline.lengths import said
from scribeline.operations import Kind, Operation, raised
from scribeline.steps.bench import Bench, Teller, place_of, within
from scribeline.steps.card import Card
from scribeline.steps.cautions import usual


def _rout(bench: Bench, work: Operation) -> Card:
    pocket = bench.features.pocket(work.features[0])
    middle = Point3(_middle([p.x for p in pocket.outline]), _middle([p.y for p in pocket.outline]), 0.0)
    corners = (
        f"Corner radius {said(pocket.corner_radius, None)}: use a router bit of "
        f"{said(2 * pocket.corner_radius, None)} or less."
        if pocket.corner_radius
        else "Rout what the bit reaches, then square the corners with a chisel."
    )
    islands = len(pocket.islands)
    level = bench.layout.body.is_level(pocket.face)
    face = pocket.face if level else f"flat {pocket.face}, before it is shaped"
    over = raised(bench.layout, pocket.face)
    assert work.depth is not None
    depth = work.depth
    do = [
        "Print the template at full size and check its measuring bars. Fix it on its centreline.",
        corners,
        f"Rout in passes to {said(depth)} from the {face}.",
    ]
    if over:
        do.append(
            f"The blank's top still stands {said(over)} over the level under the bridge. From that level it is "
            f"{said(depth - over)} deep."
        )
    if islands:
        do.append(
            f"Leave {'the island' if islands == 1 else f'all {islands} islands'} standing. Cut round, never across."
        )
    if pocket.role == NECK_POCKET:
        do.append("Creep up on the width, until the heel slides in by hand with no play at the end wall.")
    return Card.of(
        work,
        f"Rout the {pocket.in_words}",
        do,
        replace(within(f"depth, with a gauge on the {face}", depth, 0.25), cut=pocket.id, above=over),
        usual(work),
        place_of(bench.layout, pocket.id, pocket.role, middle),
    )


def _middle(places: list[float]) -> float:
    """Half-way between the extremes, which a rule can find."""
    return (min(places) + max(places)) / 2


KINDS: Mapping[Kind, Teller] = {"rout": _rout}
