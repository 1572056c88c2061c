"""Small linear programmes, many at a time, by a primal-dual interior-point method.

Each asks for the greatest c·x with A x ≤ b. The steps are Newton's on the optimality conditions, drawn towards the
central path (S. J. Wright, Primal-Dual Interior-Point Methods, SIAM 1997, chapter 6, in its plain form).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

STEPS = 16
"""Newton steps; each draws the gap in by some five times."""


def greatest(c: Floats, a: Floats, b: Floats, steps: int = STEPS) -> Floats:
    """The x of each programme, near enough: a feasible programme's answer is within some 1e-4 of the best after all steps.

    Args:
        c: what is to be made large, (n, v).
        a: rows of the limits, (n, m, v).
        b: their right sides, (n, m); x = 0 need not keep them.
        steps: how many Newton steps; half as many serve where the answer is a step of a search.
    """
    n, m, v = a.shape
    x = np.zeros((n, v))
    s, dual = np.maximum(b, 1.0), np.ones((n, m))
    turned, steady = a.transpose(0, 2, 1), 1e-10 * np.eye(v)
    for _ in range(steps):
        short = (a @ x[..., np.newaxis])[..., 0] + s - b
        off = (turned @ dual[..., np.newaxis])[..., 0] - c
        both = s * dual
        centre = both - 0.12 * (np.add.reduce(both, axis=1, keepdims=True) / m)
        weight = dual / s
        left = turned @ (weight[..., np.newaxis] * a) + steady
        right = -off - (turned @ ((dual * short - centre) / s)[..., np.newaxis])[..., 0]
        dx = np.linalg.solve(left, right[..., np.newaxis])[..., 0]
        ds = -short - (a @ dx[..., np.newaxis])[..., 0]
        d_dual = -(centre + dual * ds) / s
        step = np.minimum(_most(s, ds), _most(dual, d_dual))[:, np.newaxis]
        x, s, dual = x + step * dx, s + step * ds, dual + step * d_dual
    return np.asarray(x)


def _most(value: Floats, change: Floats) -> Floats:
    """The longest step, up to 1, that keeps every value over 0."""
    room = np.where(change < 0, -value / np.minimum(change, -1e-300), np.inf)
    return np.asarray(np.minimum(1.0, 0.95 * room.min(axis=1)))
