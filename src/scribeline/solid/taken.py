"""What each cut takes out of the body, as a solid of its own: for looking through the wood at the cuts."""

from __future__ import annotations

from collections.abc import Iterable

from scribeline.features import Feature
from scribeline.layout import BodyForm
from scribeline.solid.body import Mesh, mesh_of
from scribeline.solid.cutters import cutters
from scribeline.solid.primitives import solid_of, together
from scribeline.solid.stock import carved


def taken_out(form: BodyForm, features: Iterable[Feature]) -> tuple[tuple[Feature, Mesh], ...]:
    """Each cut with the wood it removes from the carved stock; cuts that meet no wood are left out.

    Args:
        form: the body's outline, layers and surfaces.
        features: the cuts, each taken by itself.
    """
    stock, _ = carved(form)
    found = []
    for feature in features:
        tool = together([solid_of(part) for part in cutters(feature, form.thickness, form)])
        taken = stock ^ tool
        if not taken.is_empty():
            found.append((feature, mesh_of(taken)))
    return tuple(found)
