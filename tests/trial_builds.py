"""Many trial builds of one instrument, each with inputs drawn from their spreads: what the predicted spread is held against."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from scribeline.strings import PRIOR, SHOP_KEYS, Problem, Setup, StringSpec, problem
from scribeline.strings.fretting import bench_setback, fretted_cents
from scribeline.strings.spec import Floats


def draw(stated: Problem, builds: int, random: np.random.Generator) -> dict[str, Floats]:
    """Input values of so many trial builds: (builds, 1 or strings) for what varies, (strings,) for the rest."""
    values = stated.nominal()
    root = np.linalg.cholesky(np.asarray(stated.shop.covariance) + 1e-18 * np.eye(len(SHOP_KEYS)))
    shop = random.standard_normal((builds, len(SHOP_KEYS))) @ root.T
    for i, key in enumerate(SHOP_KEYS):
        values[key] = stated.shop.mean[i] + shop[:, i : i + 1]
    for entry in stated.inputs:
        if entry.key in SHOP_KEYS or not np.any(entry.sd):
            continue
        width = 1 if entry.shared else len(stated.specs)
        values[entry.key] = entry.value + entry.sd * random.standard_normal((builds, width))
    return values


def work_builds(stated: Problem, values: Mapping[str, Floats]) -> tuple[Floats, Floats]:
    """Setbacks at the 12th-fret criterion, (..., strings), mm, and cents at every fret, (..., strings, frets)."""
    wires, playing, reading = stated.realise(values)
    setback = bench_setback(wires, stated.board, playing, reading, stated.nut_shift)
    return setback, fretted_cents(wires, stated.board, playing, setback, stated.nut_shift)


def try_builds(specs: Sequence[StringSpec], setup: Setup, *, builds: int) -> Floats:
    """Setbacks of so many builds, (builds, strings), mm."""
    stated, random = problem(specs, setup, PRIOR), np.random.default_rng(1)
    return np.concatenate([work_builds(stated, draw(stated, 500, random))[0] for _ in range(builds // 500)])
