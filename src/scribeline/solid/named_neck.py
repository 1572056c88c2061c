"""The carved neck by name: the least wood round its channels, its volume and what its wood weighs."""

from __future__ import annotations

from functools import partial

from scribeline.features import Workpiece
from scribeline.job import Document, feature_id
from scribeline.layout import Carve, Channel, Layout, carve_of, channels
from scribeline.quantities import Quantities, Quantity
from scribeline.solid.neck import neck_wood
from scribeline.solid.neck_wood import least_wood, wood_id

_SEARCH = (
    "least over the channel's whole length, in space, found by a search over both surfaces (docs/neck.md)"
)


def name_neck(found: Quantities, document: Document, layout: Layout, head: Workpiece | None) -> None:
    """Name them; nothing where the job does not state the neck's blank."""
    carve = carve_of(document, layout)
    if carve is None:
        return
    for channel in channels(document):
        if min(carve.end, channel.ends[1]) > max(0.0, channel.ends[0]):
            found.state(wood_id(channel), partial(_wood, carve, channel))
    wood = neck_wood(document, layout, head)
    assert wood is not None
    for part in wood.parts:
        name = f"carve.{feature_id(part.name)}"
        what = f"volume of the wood of the {part.name}"
        found.give(f"{name}.volume", part.mm3, what=what, unit="mm³", source="closed forms (docs/neck.md)")
        what = f"what the wood of the {part.name} weighs"
        found.give(f"{name}.kg", part.kg, what=what, unit="kg", source=part.density.source)
    what = "what the neck's wood weighs; its rod, frets and tuners are not in it"
    found.give("carve.kg", wood.kg, what=what, unit="kg", source="all its parts together")


def _wood(carve: Carve, channel: Channel) -> Quantity:
    least = least_wood(carve, channel)
    assert least is not None
    what = f"the least wood between the channel of the {channel.name} and the neck's outside"
    return Quantity(wood_id(channel), what, least.mm, source=_SEARCH)
