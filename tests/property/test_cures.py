"""What a cure says to set can be set, and setting it does away with what it cures."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest
from tests.conftest import Edit, in_inches

from scribeline.job import parse_job, set_value
from scribeline.lengths import Try, put, put_number, said, tries_in
from scribeline.plan import plan

ILL: tuple[tuple[str, dict[str, Any]], ...] = (
    ("wood.breaks-through", {"pockets[3].depth": 45.0}),
    ("string-holes.do-not-meet", {"string_holes.top_share": 0.5}),
    ("tunnel.misses-wall", {"ground_wire.lands": 1.2}),
    ("tunnel.shows", {"ground_wire.from_front": 3.0}),
    ("frets.beyond-board", {"scale.frets": 24}),
    ("strings.edge-margin", {"nut.edge": 1.5}),
    ("neck.pocket-closed", {"neck.pocket_length": 50}),
    ("pocket.corner-too-tight", {"pockets[1].corner_radius": 2.0}),
    ("board.below-top", {"neck.board_thickness": "9.8 +/- 0.1"}),
    (
        "bridge.window-narrow",
        {"bridge.saddle_back": 14.4, **{f"strings[{n}].setback": 1.4 + 0.56 * (n - 1) for n in range(1, 7)}},
    ),
    (
        "heights.do-not-close",
        {"bridge.saddle_height": 11.6, "bridge.saddle_lowest": None, "bridge.saddle_highest": None},
    ),
    ("heights.saddle-beyond-stops", {"bridge.saddle_height": 5.0}),
    ("heights.saddle-out-of-range", {"neck.pocket_depth": "14.5 +/- 0.1"}),
    ("ferrules.no-counterbore", {"finish.film": 0.9, "ferrules.lip_height": 0.5}),
)
"""Faults of one's own making, each by the code of what is told about it."""


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize(("code", "ill"), ILL, ids=[code for code, _ in ILL])
def test_a_cure_that_can_be_tried_cures(edited: Edit, code: str, ill: Mapping[str, Any], units: str) -> None:
    text = edited(ill) if units == "mm" else in_inches(edited(ill))
    told = [finding for finding in plan(*parse_job(text)).findings if finding.code == code]
    assert told
    assert told[0].tries
    for each in told[0].tries:
        value = each.value if isinstance(each.value, str) else list(each.value)
        if isinstance(value, str) and not value.endswith(f" {units}"):
            value = float(value) if "." in value else int(value)  # type: ignore[assignment]
        cured, _ = set_value(text, each.key, value)
        left = [finding for finding in plan(*parse_job(cured)).findings if finding.code == code]
        same = [
            finding
            for finding in left
            if set(finding.features) & set(told[0].features) or not finding.features
        ]
        # A hole's mouth changes with its slope, as its cure says: there it must at least be no worse.
        if code == "tunnel.shows":
            assert not any(finding.severity == "stop" for finding in same)
        else:
            assert not same, each


def test_what_to_set_is_data_in_the_jobs_unit() -> None:
    """Inches by hand: 1.346 in is 34.188 mm, the last thousandth at or under 34.20."""
    cure = f"set {put_number('scale.frets', 21, places=0)} or fewer, or {put('pockets[3].depth', 34.2, bound='most')} or less"
    assert tries_in(cure, "mm") == (Try("scale.frets", "21"), Try("pockets[3].depth", "34.20 mm"))
    assert tries_in(cure, "in") == (Try("scale.frets", "21"), Try("pockets[3].depth", "1.346 in"))
    near = f"set {put('jack.near', 635.0, -2.54, places=1, bound=('least', 'most'))}, or to where"
    assert tries_in(near, "mm") == (Try("jack.near", ("635.0 mm", "-2.6 mm")),)
    assert tries_in(near, "in") == (Try("jack.near", ("25.000 in", "-0.100 in")),)
    assert tries_in(f"set a.b to 12.30 mm, or get a {said(2.9)} bit", "mm") == ()  # words are not read
