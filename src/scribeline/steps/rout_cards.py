"""Cards of the router, and of the neck that goes into its pocket."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.layout import NECK_POCKET, Point3
from scribeline.lengths import said
from scribeline.steps.bench import Bench, place_of, within
from scribeline.steps.card import Card
from scribeline.steps.cautions import (
    BY_MACHINE,
)
from scribeline.steps.shaping_cards import flat_face, raised


def rout_cards(bench: Bench) -> Iterator[Card]:
    """One card a pocket."""
    for pocket in bench.features.pockets:
        neck = pocket.role == NECK_POCKET
        middle = Point3(_middle([p.x for p in pocket.outline]), _middle([p.y for p in pocket.outline]), 0.0)
        corners = (
            f"Corner radius {said(pocket.corner_radius, None)}: use a router bit of "
            f"{said(2 * pocket.corner_radius, None)} or less."
            if pocket.corner_radius
            else "Rout what the bit reaches, then square the corners with a chisel."
        )
        islands = len(pocket.islands)
        face, over = flat_face(bench.layout, pocket.face), raised(bench.layout, pocket)
        depth = pocket.depth + over
        do = [
            "Print the template at full size and check its measuring bars. Fix it on its centreline.",
            corners,
            f"Rout in passes to {said(depth)} from the {face}.",
        ]
        if over:
            do.append(
                f"The blank's top still stands {said(over)} over the level under the bridge. From that level it is "
                f"{said(pocket.depth)} deep."
            )
        if islands:
            do.append(
                f"Leave {'the island' if islands == 1 else f'all {islands} islands'} standing. Cut round, never across."
            )
        if neck:
            do.append("Creep up on the width, until the heel slides in by hand with no play at the end wall.")
        gate = within(f"depth, with a gauge on the {face}", depth, 0.25)
        yield Card(
            id=f"rout-{pocket.id}",
            title=f"Rout the {pocket.in_words}",
            machine="router",
            face=pocket.face,
            features=(pocket.id,),
            depth=depth,
            places=(place_of(bench.layout, pocket.id, pocket.role, middle),),
            do=tuple(do),
            gate=gate,
            cautions=BY_MACHINE["router"],
        )


def neck_cards(bench: Bench) -> Iterator[Card]:
    """Fit the neck: everything after is measured from it."""
    yield Card(
        id="fit-neck",
        title="Fit the neck and check its line",
        machine="bench",
        do=(
            "Seat the heel dry against the end wall and clamp it. Do not glue yet."
            if bench.document.neck.joint == "set"
            else "Seat the heel against the end wall and clamp it. It must not move until its screws are in."
            if bench.document.neck_screws is not None
            else "Seat the heel against the end wall and screw it on, so that it comes back to its place.",
            "Stretch a thread from each outer nut slot to where its saddle will stand.",
            f"At fret {len(bench.layout.frets)} measure each thread to the board's edge: they should agree within {said(0.25)}.",
        ),
        gate=bench.gate("margin-treble"),
        cautions=BY_MACHINE["bench"],
    )


def _middle(places: list[float]) -> float:
    """Half-way between the extremes, which a rule can find."""
    return (min(places) + max(places)) / 2
