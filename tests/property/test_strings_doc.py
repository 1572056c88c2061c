"""docs/strings.md says what the program does: its table, its figures in the text, its example."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scribeline import strings
from scribeline.strings import PRIOR, Setup, StringSpec, predict

PAGE = (Path(__file__).parents[2] / "docs" / "strings.md").read_text(encoding="utf-8")
LIGHT = tuple(
    StringSpec(note, gauge * 25.4, "plain" if gauge < 0.020 else "round-wound")
    for note, gauge in (("E4", 0.010), ("B3", 0.013), ("G3", 0.017), ("D3", 0.026), ("A2", 0.036), ("E2", 0.046))
)  # fmt: skip
SETUP = Setup(647.7)


def rows_of_strings() -> list[list[str]]:
    lines = [line for line in PAGE.splitlines() if re.match(r"\| [A-G]\d \.\d+ ", line)]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


def test_the_table_of_a_light_set() -> None:
    found, least = predict(LIGHT, SETUP), predict(LIGHT, SETUP, criterion="all frets")
    rows = rows_of_strings()
    assert [row[0] for row in rows] == [spec.name for spec in LIGHT]
    for i, row in enumerate(rows):
        worked = (
            found.tension_n[i],
            found.cents_uncompensated[i, 11],
            found.setback[i],
            found.sd[i],
            least.setback[i],
        )
        for cell, value in zip(row[1:6], worked, strict=True):
            places = len(cell.partition(".")[2])
            assert float(cell) == pytest.approx(float(value), abs=0.5001 * 10**-places), (row[0], cell)
        assert row[6] == ", ".join(key.replace("_", " ") for key, _ in found.dominant(i)[:2])


def test_figures_in_the_text() -> None:
    base = predict(LIGHT, SETUP)
    third, low = 2, 5

    def with_shop(end: float, finger: float, grip: float) -> np.ndarray:
        return predict(LIGHT, SETUP, replace(PRIOR, mean=(end, finger, grip))).setback

    deeper = with_shop(0.06, 0.40, 0.5)[third] - base.setback[third]
    assert f"0.1 mm deeper moves a plain third {deeper:.1f} mm" in PAGE
    half_clamped = with_shop(0.5, 0.3, 0.5)
    assert (
        f"the plain third at {half_clamped[third]:.1f} mm and the low string at {half_clamped[low]:.1f} mm"
        in PAGE
    )
    grip = with_shop(0.06, 0.3, 1.0)[low] - with_shop(0.06, 0.3, 0.0)[low]
    # Held or sliding, at the usual free length.
    assert f"{grip:.1f} mm on the low string between a string that slides and one that is held" in PAGE
    raised = (
        predict(LIGHT, replace(SETUP, action_treble=1.8, action_bass=2.2)).setback[third]
        - base.setback[third]
    )
    assert f"0.2 mm more asks {raised:.1f} mm on the plain third" in PAGE
    assert (
        f"{base.cents[:, 0].min():.0f} to {base.cents[:, 0].max():.0f} cents sharp at the first fret" in PAGE
    )
    assert f"{100 * base.shares['core'][low]:.0f} % of the low string's variance" in PAGE
    # 0.7 cent over the slope at the 12th, 1200/ln 2 / L cents a mm.
    assert f"good to {0.7 / (1200 / np.log(2) / 647.7):.2f} mm" in PAGE


def test_figures_for_bass() -> None:
    bass = tuple(
        StringSpec(note, gauge * 25.4, "round-wound")
        for note, gauge in (("G2", 0.045), ("D2", 0.065), ("A1", 0.085), ("E1", 0.105), ("B0", 0.130))
    )
    found = predict(bass, Setup(863.6, action_treble=2.0, action_bass=2.5, frets=24, relief=0.3))
    assert f"{found.setback[0]:.1f} to {found.setback[3]:.1f} mm" in PAGE
    assert f"a .130 B at {found.setback[4]:.1f} ± {found.sd[4]:.1f} mm" in PAGE


def test_every_fault_code_stands_on_the_page() -> None:
    source = Path(strings.faults.__code__.co_filename).read_text(encoding="utf-8")
    codes = set(re.findall(r'"(strings\.[a-z-]+)"', source))
    assert len(codes) == 5
    assert codes == set(re.findall(r"`(strings\.[a-z-]+)`", PAGE))


def test_the_example_runs() -> None:
    example = PAGE.split("```python\n")[1].split("```")[0].replace("100_000", "1_000")
    names: dict[str, object] = {}
    exec(compile(example, "docs/strings.md", "exec"), names)
    assert "window" in names
