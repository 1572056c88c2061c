"""What the commands say of a job in inches: inches first with millimetres behind them, and which sums stay in mm."""

import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest

from scribeline.cli import main

from ..conftest import SHIPPED, in_inches

Say = Callable[..., str]


@pytest.fixture
def say(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Say:
    """A command about the demo, in inches or as it is, and what it prints."""

    def said(command: str, *words: str, inches: bool = True) -> str:
        job = tmp_path / "job.toml"
        # A bit whose reach nobody has stated, for the note that asks for it.
        text = SHIPPED.replace("{ diameter = 6.0, reach = 220 }", "6.0")
        job.write_text(in_inches(text) if inches else text, encoding="utf-8")
        assert main([command, str(job), *words]) == 0
        return capsys.readouterr().out

    return said


def test_setbacks_are_told_in_inches_with_millimetres_behind_them(say: Say) -> None:
    rows = re.findall(r" (\d+\.\d{3}) \((\d+\.\d{3})\) in, +(\d+\.\d\d) \((\d+\.\d\d)\) mm", say("strings"))
    assert len(rows) == 12  # six strings of two sets
    for row in rows:
        setback, spread, setback_mm, spread_mm = map(float, row)
        # One inch is 25.4 mm; half a thousandth and half a hundredth are lost in printing.
        assert setback * 25.4 == pytest.approx(setback_mm, abs=0.0005 * 25.4 + 0.005 + 1e-9)
        assert spread * 25.4 == pytest.approx(spread_mm, abs=0.0005 * 25.4 + 0.005 + 1e-9)
    assert " in, " not in say("strings", inches=False)


def test_tunnels_are_told_in_inches_over_millimetres(say: Say) -> None:
    lines = say("tunnels").splitlines()
    checked = 0
    for upper, lower in pairwise(lines):
        if not re.match(r" +(best|or) ", upper):
            continue
        inches = [float(each) for each in re.findall(r"(?<![\w.])[+-]?\d+\.\d{3}(?!\d)", upper)]
        millimetres = [float(each) for each in lower.split()]
        assert len(inches) == len(millimetres) == 6
        for inch, mm in zip(inches, millimetres, strict=True):
            assert inch * 25.4 == pytest.approx(mm, abs=0.0005 * 25.4 + 0.5 + 1e-9)
        checked += 1
    assert checked >= 2
    assert "Inches, with millimetres below." in " ".join(" ".join(lines).split())


@pytest.mark.parametrize("inches", [False, True])
def test_a_tunnel_on_the_centreline_is_told_without_a_sign(say: Say, inches: bool) -> None:
    lines = say("tunnels", inches=inches).splitlines()
    best = [re.findall(r"(?<![\w.])[+-]?\d+\.\d+(?![.\d])", line) for line in lines if " best " in line]
    nothing = "0.000" if inches else "0.00"
    # The demo's second tunnel starts on the wall from which it is measured, and runs down the centreline.
    assert best[-1][1:3] == [nothing, nothing]
    assert best[0][2][0] == best[1][2][0] == "+"
    assert not re.search(r"-0\.0+(?!\d)", "\n".join(lines))


@pytest.mark.parametrize("what", ["B1", "string-3"])
def test_a_derivation_says_what_it_is_worked_in(say: Say, what: str) -> None:
    assert "Worked in millimetres" in say("explain", what)
    assert "Worked in millimetres" not in say("explain", what, inches=False)


def test_a_bits_reach_is_asked_for_in_the_jobs_own_unit(say: Say) -> None:
    words = " ".join(say("check").split())
    asked = re.findall(r"needs a .*? bit (\d+\.\d+) in \(\d+ mm\) long.*?reach = (\d+\.\d) }", words)
    assert asked
    # Rounded up to a tenth of an inch, so that a bit of that reach serves.
    assert all(0 <= float(stated) - float(needed) <= 0.11 for needed, stated in asked)
