"""The story stick: every mark on one piece, its label on the page and clear of the next, whatever crowds at the bridge."""

from __future__ import annotations

from itertools import pairwise

import pytest
from tests.pack_jobs import EXAMPLES

from scribeline.drawing.sheet import Path, Text
from scribeline.drawing.sheets.office import Office
from scribeline.drawing.sheets.story_stick import Mark, marks, pieces, story_stick_pages
from scribeline.job import parse_job
from scribeline.plan import plan


@pytest.mark.parametrize("name", ["eight-strings", "seven-strings-fanned"])
def test_labels_of_many_bases_stand_apart_and_on_the_page(name: str) -> None:
    """Three lines of 3.5, 3.5 and 2.5 mm are 12 mm wide; the frame's inside is the office's window."""
    office = Office(plan(*parse_job(EXAMPLES[name])))
    left, bottom, right, top = office.window
    found = marks(office.plan)
    told: list[str] = []
    for page in story_stick_pages(office):
        names = [
            each
            for each in page.items
            if isinstance(each, Text) and each.at[1] < top and each.rotation_deg == 90.0
        ]
        rows: dict[float, list[Text]] = {}
        for each in names:
            rows.setdefault(round(each.at[1], 6), []).append(each)
        for row in rows.values():
            first = sorted(
                (each for each in row if any(each.text == mark.name for mark in found)), key=lambda t: t.at[0]
            )
            told += [each.text for each in first]
            assert all(b.at[0] - a.at[0] > 12.0 for a, b in pairwise(first))
            for each in row:
                assert left <= each.at[0] - each.height
                assert each.at[0] <= right
                assert each.at[1] - 34.5 > bottom + 18.0
        lines = [each for each in page.items if isinstance(each, Path) and each.ref.startswith("story-")]
        assert all(left < x < right for each in lines for x, _ in each.points)
    assert told == [mark.name for mark in found]


def test_a_crowd_is_parted_at_its_widest_gap() -> None:
    """Twelve marks, of which ten crowd: a piece that labels eight ends where the next is 20 mm off, not among the crowd."""
    crowd = [Mark(f"m{n}", 100.0 + n + (20.0 if n >= 6 else 0.0)) for n in range(12)]
    parted = pieces(crowd, 260.0, 8)
    assert [[mark.name for mark in each.marks] for each in parted] == [
        [f"m{n}" for n in range(6)],
        [f"m{n}" for n in range(6, 12)],
    ]
    assert 105.0 < parted[0].end < 126.0
    assert parted[1].start == parted[0].end
