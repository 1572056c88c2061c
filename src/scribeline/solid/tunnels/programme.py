"""Small linear programmes, many at a time, by a primal-dual interior-point method.

Each asks for the greatest c·x with A x ≤ b, each unknown between two ends. The steps are Newton's on the optimality
conditions, drawn towards the central path (S. J. Wright, Primal-Dual Interior-Point Methods, SIAM 1997, chapter 6, in its
plain form).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

STEPS = 16
"""Newton steps; each draws the gap in by some five times."""

STEADY = 1e-10
"""What is added to a system's diagonal, and the least that is divided by."""


def greatest(c: Floats, a: Floats, b: Floats, low: Floats, high: Floats, *, steps: int = STEPS) -> Floats:
    """The x of each programme, near enough: a feasible programme's answer is within some 1e-4 of the best after all steps.

    Everything is held with the programme last, and each sum has its order here: a processor's own routines, and with them
    its last digits, have no part in it.

    Args:
        c: what is to be made large, (v, n).
        a: rows of the limits, (v, m, n).
        b: their right sides, (m, n); x = 0 need not keep them.
        low: the least of each unknown, (v, n), at most 0.
        high: the most, (v, n), at least 0.
        steps: how many Newton steps; half as many serve where the answer is a step of a search.
    """
    v, m, n = a.shape
    one, other = np.triu_indices(v)
    pairs = a[one] * a[other]
    x, product, square = np.zeros((v, n)), np.empty(a.shape), np.empty(pairs.shape)
    sides = np.concatenate([b, high, -low])
    s = np.maximum(sides, 1.0)
    dual = 1.0 / s
    system, own = np.empty((v, v + 1, n)), np.arange(v)

    def met(x: Floats) -> Floats:
        """What the limits' left sides come to."""
        return np.concatenate([np.add.reduce(np.multiply(a, x[:, np.newaxis], out=product)), x, -x])

    def weighed(by: Floats) -> Floats:
        """The limits' rows, each so many times, in one."""
        summed = np.add.reduce(np.multiply(a, by[:m], out=product), axis=1)
        return np.asarray(summed + by[m : m + v] - by[m + v :])

    for _ in range(steps):
        short = met(x) + s - sides
        both = s * dual
        centre = both - 0.12 * (np.add.reduce(both) / len(sides))
        weight = dual / s
        summed = np.add.reduce(np.multiply(pairs, weight[:m], out=square), axis=1)
        system[one, other] = system[other, one] = summed
        system[own, own] += weight[m : m + v] + weight[m + v :] + STEADY
        system[:, v] = c - weighed(dual + (dual * short - centre) / s)
        dx = _solved(system)
        ds = -short - met(dx)
        d_dual = -(centre + dual * ds) / s
        step = np.minimum(_most(s, ds), _most(dual, d_dual))
        x, s, dual = x + step * dx, s + step * ds, dual + step * d_dual
    return x


def _solved(system: Floats) -> Floats:
    """The unknowns of symmetric systems, each positive definite, (v, n), by elimination in order.

    Args:
        system: rows of the matrix with the right side as the last column, (v, v + 1, n); they are written over.
    """
    v = len(system)
    for k in range(v):
        row = system[k, k + 1 :] / np.maximum(system[k, k], STEADY)
        system[:, k + 1 :] -= system[:, k, np.newaxis] * row
        system[k, k + 1 :] = row
    return system[:, v]


def _most(value: Floats, change: Floats) -> Floats:
    """The longest step, up to 1, that keeps every value over 0."""
    room = np.where(change < 0, -value / np.minimum(change, -1e-300), np.inf)
    return np.asarray(np.minimum(1.0, 0.95 * np.minimum.reduce(room)))
