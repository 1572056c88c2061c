"""A kind of bridge may live outside the package: three modules, and the whole house has it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from math import cos, radians, sin
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def tried() -> dict[str, Any]:
    """What the package makes of such a job, in a process of its own."""
    run = subprocess.run(
        [sys.executable, "-m", "tests.kinds.tried"],
        capture_output=True,
        check=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT / "src"), str(ROOT)])},
    )
    found: dict[str, Any] = json.loads(run.stdout)
    return found


def test_it_is_planned_with_the_cavities_that_are_written_for_it(tried: dict[str, Any]) -> None:
    assert tried["written"] == ["block slot", "spring cavity"]
    assert tried["stops"] == []
    assert not [code for code in tried["cautions"] if code.startswith("vibrato.")]
    assert tried["tight"] == ["vibrato.block-close"]


def test_it_stands_where_its_table_says(tried: dict[str, Any]) -> None:
    for found, worked in zip(tried["anchors"], [(-7, 40), (-7, -40), (9, 40), (9, -40)], strict=True):
        assert found == pytest.approx(worked)
    assert tried["named"]
    # A block from 9 to 21 mm behind the axle and down to 38 below it, turned 25°: its rear lower edge.
    assert tried["swept"] == pytest.approx(21 * cos(radians(25)) + 38 * sin(radians(25)))


def test_its_screws_bear_what_statics_say(tried: dict[str, Any]) -> None:
    # The push acts 2.2 mm over the wood and tips the blocks about their front edges, 12 mm before the axle: screws 5 mm and
    # 21 mm behind these pull in proportion, so that 2 (5 P1 + 21 P2) = 2.2 F and P2 / P1 = 21 / 5.
    pulls, sides = zip(*tried["holds"], strict=True)
    assert sum(sides) == pytest.approx(tried["push"])
    assert sum(pull * x for pull, x in zip(pulls, (5, 5, 21, 21), strict=True)) == pytest.approx(
        2.2 * tried["push"]
    )
    assert pulls[2] / pulls[0] == pytest.approx(21 / 5)


def test_it_has_its_cards_its_page_and_its_paper(tried: dict[str, Any]) -> None:
    assert "Drill the bridge-screw pilots" in tried["cards"]
    assert "Set the bridge on its bearing blocks" in tried["cards"]
    assert any("grease the axle" in line for line in tried["do"])
    # Its rear screws lie on no line between the two that are set out.
    assert not any("equal parts" in line for line in tried["do"])
    assert tried["heading"] == "Vibrato on an axle"
    assert tried["letters"] == tried["pictured"] == ["A", "F", "G", "H"]
    assert {"sheets.pdf", "steps.pdf", "templates.pdf", "body.dxf", "plan.json"} <= set(tried["pack"])
