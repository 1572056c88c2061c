"""The neck's STEP files read back by the CAD kernel's own reader: volumes in closed form, the formulas of docs/neck.md on their
surfaces, the head's holes where they are drilled.
"""

from __future__ import annotations

from functools import cache
from math import cos, pi, radians, sin
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.authority.test_neck_carve import EXPONENTS, carved, planned
from tests.authority.test_solid_step import cylinders, mass_of, read_back
from tests.kernel_shapes import off

from scribeline.job import Stated
from scribeline.layout import Point3
from scribeline.plan import Plan
from scribeline.solid.neck import neck_meshes, neck_wood
from scribeline.solid.neck_step import neck_steps

ON_IT = 0.002
"""How far a place of the formula may be from the surface, mm: a fiftieth of what a scraper takes."""

BARS: dict[str, Stated] = {
    "neck_blank__bar_width": 4.0,
    "neck_blank__bar_depth": 8.0,
    "neck_blank__bar_centre": 12.0,
    "neck_blank__bar_from": 20.0,
    "neck_blank__bar_to": 370.0,
}

CASES: dict[str, dict[str, Stated]] = {
    "round, with a volute and a curved channel": {
        "neck_blank__volute_height": 3.0,
        "neck_blank__volute_length": 60.0,
        "neck__rod_depth_at_ends": 7.5,
    },
    "soft v, upright under the board, two bars, leaning": {
        "neck_blank__section": "soft v",
        "neck_blank__upright": 1.0,
        "neck__angle": 2.0,
        **BARS,
    },
    "flat, left-handed": {"neck_blank__section": "flat", "handed": "left"},
}


@cache
def made_of(case: str) -> tuple[Plan, dict[str, bytes]]:
    made, _ = planned(carved(**CASES[case]))
    return made, neck_steps(made.job.document, made.layout, made.head, date="2026-11-30")


@pytest.mark.parametrize("case", CASES)
def test_each_piece_is_a_solid_of_its_volume(case: str, tmp_path: Path) -> None:
    from OCP.BRepCheck import BRepCheck_Analyzer

    made, files = made_of(case)
    document, layout = made.job.document, made.layout
    wood, meshes = neck_wood(document, layout, made.head), neck_meshes(document, layout, made.head)
    assert wood is not None
    assert list(files) == ["neck.step", "fingerboard.step", "head.step"]
    for (name, data), part in zip(files.items(), wood.parts, strict=True):
        shape = read_back(data, tmp_path)
        assert BRepCheck_Analyzer(shape).IsValid()
        mm3, centre = mass_of(shape)
        # The chords of an outline leave as arcs, which are some 0.005 mm further out.
        assert mm3 == pytest.approx(part.mm3, rel=1e-4 if part.name == "head" else 3e-5)
        assert centre == pytest.approx(tuple(meshes[name.removesuffix(".step")].centroid), abs=0.05)
        assert f"FILE_NAME('{name}','2026-11-30T00:00:00'".encode() in data


def by_formula(case: str, made: Plan, x: float, share: float) -> float:
    """Depth under the board by docs/neck.md: heel 26 thick and board 6.4; the curve from 353 to 398 mm."""
    keys = CASES[case]
    m, upright = (
        EXPONENTS[str(keys.get("neck_blank__section", "round"))],
        1.0 if "neck_blank__upright" in keys else 0.0,
    )
    one, twelve = made.layout.frets[0].along, made.layout.frets[11].along
    way = min(1.0, max(0.0, (x - 353) / 45))
    s = way * way * (3 - 2 * way)
    c = 14.1 + 2.0 * (x - one) / (twelve - one)
    if "neck_blank__volute_height" in keys and x < 30:
        c += 3.0 * cos(pi * x / 60) ** 2
    return float((1 - s) * (upright + (c - upright) * (1 - abs(share) ** m) ** (1 / m)) + s * 19.6)


@pytest.mark.parametrize("case", list(CASES)[::2])
def test_the_formula_lies_on_its_back(case: str, tmp_path: Path) -> None:
    """Places that are no place the surfaces were put through, from the nut into the heel's curve."""
    made, files = made_of(case)
    shape = read_back(files["neck.step"], tmp_path)
    glue = (
        made.job.document.neck.heel_thickness.mm - 15.8 - 6.4
    )  # over the top: the heel stands on its pocket's floor
    for x in (0.0, 3.1, 17.7, 29.0, 140.0, 352.9, 361.3, 377.7, 391.9):
        way = min(1.0, max(0.0, (x - 353) / 45))
        s = way * way * (3 - 2 * way)
        half = ((1 - s) * (49 + 19 * x / 478) + s * 64) / 2
        for share in np.sin(np.linspace(-1.55, 1.5, 13)).tolist():
            place = Point3(x, half * share, glue - by_formula(case, made, x, share))
            assert off(place, shape) < ON_IT, (x, share)


def test_the_heads_holes_are_cylinders_where_they_are_drilled(tmp_path: Path) -> None:
    """Twelve degrees back, its face 3 mm under a board of 6.4 mm at the nut: each hole's axis square to the face."""
    case = next(iter(CASES))
    made, files = made_of(case)
    assert made.head is not None
    found = cylinders(read_back(files["head.step"], tmp_path))
    lean = radians(12)
    over = made.job.document.neck.heel_thickness.mm - 15.8 - 3.0
    for bore in made.head.features.bores:
        at = (bore.at.x * cos(lean), bore.at.y, over + bore.at.x * sin(lean))
        axis = (sin(lean), 0.0, -cos(lean))
        assert any(_is(hole, bore.widest, at, axis) for hole in found), bore.id


def _is(hole: Any, diameter: float, at: tuple[float, ...], axis: tuple[float, ...]) -> bool:
    wide, start, way = hole
    aside = np.cross(np.subtract(at, start), way)
    return bool(
        abs(wide - diameter) < 1e-6
        and np.linalg.norm(aside) < 1e-6
        and np.linalg.norm(np.cross(axis, way)) < 1e-9
    )
