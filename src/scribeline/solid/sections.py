"""Closed solids through sections along the neck, and the channels routed in it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from scribeline.layout import Channel
from scribeline.solid.body import Mesh
from scribeline.solid.cutters import AIR
from scribeline.solid.faults import BodyError

if TYPE_CHECKING:
    from manifold3d import Manifold
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def through(rings: Sequence[Floats]) -> Manifold:
    """The closed solid through convex sections of as many corners each, from the nut towards the heel.

    Raises:
        BodyError: it does not close.
    """
    from manifold3d import Error, Manifold, Mesh64

    count = len(rings[0])
    here = np.arange(count)
    after = np.roll(here, -1)
    faces: list[NDArray[np.int64]] = []
    for n in range(len(rings) - 1):
        a, b = n * count, (n + 1) * count
        faces.append(np.column_stack([a + here, b + after, b + here]))
        faces.append(np.column_stack([a + here, a + after, b + after]))
    fan = np.column_stack([np.zeros(count - 2, dtype=np.int64), here[1:-1], here[2:]])
    faces += [fan[:, ::-1], fan + (len(rings) - 1) * count]
    places, numbers = np.unique(np.concatenate(rings).round(9), axis=0, return_inverse=True)
    triangles = numbers[np.concatenate(faces)]
    kept = triangles[
        (triangles[:, 0] != triangles[:, 1])
        & (triangles[:, 1] != triangles[:, 2])
        & (triangles[:, 2] != triangles[:, 0])
    ]
    solid = Manifold(Mesh64(np.ascontiguousarray(places), np.ascontiguousarray(kept.astype(np.uint64))))
    if solid.status() != Error.NoError or solid.is_empty():
        message = "the carved neck does not close; correct the thickness stated in neck_blank"
        raise BodyError(message)
    return solid


def meshed(whole: Manifold) -> Mesh:
    """A solid's corners and triangles."""
    mesh = whole.to_mesh64()
    return Mesh(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts).astype(np.int64))


def routed(channel: Channel, top: float = AIR) -> Manifold:
    """A channel, carried on to a height over the glue line, mm: into the air."""
    from manifold3d import CrossSection, FillRule

    steps = 2 if channel.is_flat else 65
    x = np.linspace(*channel.ends, steps)
    floor = np.column_stack([x, -channel.bottom(x)])
    side = np.concatenate([floor, [[x[-1], top], [x[0], top]]])
    flat = CrossSection([side], FillRule.NonZero)
    upright = flat.extrude(2 * channel.half)  # (x, height, across)
    turn = np.array(
        [[1.0, 0.0, 0.0, 0.0], [0.0, 0.0, -1.0, channel.across + channel.half], [0.0, 1.0, 0.0, 0.0]]
    )
    return upright.transform(turn)
