"""Fret distances against equal temperament, against another library's note frequencies, and the old shop rules.

Equal temperament: the octave in twelve equal steps, ratio 2^(1/12) (ISO 16 fixes A at 440 Hz; the ratio is its
definition). The length of a stopped string is to the open one as the open frequency to the stopped (Mersenne, 1636).
"""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pretty_midi
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scribeline.job import Stated, parse_job
from scribeline.layout import equal_temperament, fret_distances, width_at
from scribeline.plan import plan
from scribeline.plan.named import quantities

from ..kind_jobs import example, faults_at, restated

# Distance from the nut on a scale of 1000 mm: 1000 (1 − 2^(−n/12)), computed to nine decimals.
SCALE_1000 = {
    1: 56.125687318,
    2: 109.101281860,
    4: 206.299474016,
    6: 292.893218813,
    8: 370.039475053,
    9: 405.396442499,
    11: 470.268452820,
    12: 500.0,
    13: 528.062843659,
    15: 579.551792373,
    16: 603.149737008,
    18: 646.446609407,
    20: 685.019737526,
    21: 702.698221249,
    23: 735.134226410,
    24: 750.0,
}

SCALE_648 = {1: 36.369445, 6: 189.794806, 12: 324.0, 18: 418.897403, 24: 486.0}

# From a worked example of the trade, no published source: a 25-1/2 in (647.7 mm) scale, and what each fret is to
# the nearest 1/64 in, with the error of that rounding.
SCALE_25_1_2 = {
    1: (36.353, "1-7/16", 0.160),
    5: (162.473, "6-25/64", -0.151),
    7: (215.412, "8-31/64", 0.091),
    12: (323.850, "12-3/4", 0.0),
    17: (405.087, "15-61/64", 0.123),
    22: (465.945, "18-11/32", -0.014),
}


def frets(scale: float, count: int = 24) -> list[float]:
    return [float(x) for x in fret_distances(scale, equal_temperament(count))]


@pytest.mark.parametrize(("n", "mm"), SCALE_1000.items())
def test_scale_of_1000(n: int, mm: float) -> None:
    assert frets(1000.0)[n - 1] == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(("n", "mm"), SCALE_648.items())
def test_scale_of_648(n: int, mm: float) -> None:
    assert frets(648.0)[n - 1] == pytest.approx(mm, abs=1e-6)


@pytest.mark.parametrize(("n", "row"), SCALE_25_1_2.items())
def test_worked_scale_and_its_inch_fractions(n: int, row: tuple[float, str, float]) -> None:
    from scribeline.lengths import inch_fraction

    mm, fraction, error = row
    place = frets(647.7)[n - 1]
    assert place == pytest.approx(mm, abs=0.0006)
    shown = inch_fraction(place, 64)
    assert shown.text.replace(" in", "") == fraction
    assert shown.error_mm == pytest.approx(error, abs=0.0006)


@pytest.mark.parametrize("open_note", ["E4", "B3", "G3", "D3", "A2", "E2", "B0"])
def test_the_stopped_length_is_the_ratio_of_frequencies(open_note: str) -> None:
    # pretty_midi computes note frequencies by itself: MIDI number to hertz at A4 = 440.
    number = pretty_midi.note_name_to_number(open_note)
    open_hz = pretty_midi.note_number_to_hz(number)
    for n, place in enumerate(frets(640.0), start=1):
        stopped_hz = pretty_midi.note_number_to_hz(number + n)
        assert (640.0 - place) / 640.0 == pytest.approx(open_hz / stopped_hz, rel=1e-12)


def chained(scale: float, divisor: float, count: int) -> list[float]:
    """The old way: each gap is what is left of the string divided by the divisor."""
    left, places = scale, []
    for _ in range(count):
        left -= left / divisor
        places.append(scale - left)
    return places


def test_the_rule_of_17_817() -> None:
    # The exact divisor is 1/(1 − 2^(−1/12)) = 17.817153745; 17.817 is the one in shop tables. Computed for 648 mm:
    # the 12th fret comes to 324.001995 mm by it, where 324 is exact.
    assert pytest.approx(17.817153745, abs=1e-9) == 1 / (1 - 2 ** (-1 / 12))
    by_rule = chained(648.0, 17.817, 12)
    assert by_rule[11] == pytest.approx(324.001995, abs=1e-6)
    for ours, theirs in zip(frets(648.0, 12), by_rule, strict=True):
        assert ours == pytest.approx(theirs, abs=0.0025)


def test_the_rule_of_18_is_not_what_is_laid_out() -> None:
    # Named in J. Acoust. Soc. Am. 58, S131 (1975). Computed for 648 mm: 321.643700 mm at the 12th, 2.36 mm short.
    by_rule = chained(648.0, 18.0, 12)
    assert by_rule[11] == pytest.approx(321.643700, abs=1e-6)
    assert frets(648.0, 12)[11] - by_rule[11] == pytest.approx(2.36, abs=0.005)


def test_pure_thirds_and_fifths_from_cents() -> None:
    # Just ratios as cents: 1200 log2(r). A fifth, 3/2, stops the string at a third of its length from the nut.
    ratios = (5 / 4, 4 / 3, 3 / 2, 2.0)
    cents = [1200 * np.log2(r) for r in ratios]
    assert fret_distances(600.0, cents) == pytest.approx([120.0, 150.0, 200.0, 300.0], abs=1e-9)


@given(
    st.floats(400, 1000),
    st.lists(st.floats(0.5, 200), min_size=2, max_size=30),
    st.floats(0.5, 2),
)
def test_any_temperament_rises_stays_on_the_string_and_scales(
    scale: float, gaps: Sequence[float], factor: float
) -> None:
    cents = np.cumsum(gaps)
    places = fret_distances(scale, cents)
    assert (np.diff(places) > 0).all()
    assert places[0] > 0
    assert places[-1] < scale
    assert fret_distances(scale * factor, cents) == pytest.approx(places * factor, rel=1e-12)


def test_a_batch_of_scales_is_each_scale_by_itself() -> None:
    cents = equal_temperament(22)
    batch = fret_distances([640.0, 864.0], cents)
    assert batch[0] == pytest.approx(fret_distances(640.0, cents), abs=0)
    assert batch[1] == pytest.approx(fret_distances(864.0, cents), abs=0)


def test_board_width_is_a_straight_line() -> None:
    places = width_at([0.0, 234.0, 468.0], nut_width=43.0, end=468.0, end_width=56.0)
    assert places == pytest.approx([43.0, 49.5, 56.0])


DIVIDED = restated(
    example("single-saddles"), {"scale__length": 647.7, "scale__divisions": 19, "scale__frets": 24}
)


def test_nineteen_to_the_octave_by_hand() -> None:
    """The 19th root of two is 1.0371550, so that the first fret of 647.7 mm lies at 647.7 (1 − 1/1.0371550) = 23.203 mm; a fifth
    is eleven steps of 63.158 cents, 694.74, at 647.7 (1 − 2^(−11/19)) = 214.096 mm; the 19th fret halves it, 323.850 mm.
    """
    made = plan(*parse_job(DIVIDED))
    places = {fret.n: fret.along for fret in made.layout.frets}
    assert places[1] == pytest.approx(23.203, abs=0.0005)
    assert places[11] == pytest.approx(647.7 * (1 - 2 ** (-11 / 19)), abs=1e-9)
    assert places[11] == pytest.approx(214.096, abs=0.0005)
    assert places[19] == pytest.approx(323.85, abs=1e-9)
    told = next(each for each in made.findings if each.code == "frets.octave-elsewhere")
    assert told.value == 19
    named = quantities(made)
    assert named["fret-11.cents"].value == pytest.approx(11 * 1200 / 19, abs=1e-9)
    assert named["fret-11"].value == pytest.approx(places[11], abs=1e-9)


def test_divisions_are_the_cents_listed() -> None:
    """The same board by its cents one by one gives the same frets, and the same saddles."""
    listed = DIVIDED.replace("divisions = 19\n", "")
    listed = restated(listed, {"scale__temperament_cents": [1200 * n / 19 for n in range(1, 25)]})
    one, other = (plan(*parse_job(text)).layout for text in (DIVIDED, listed))
    assert [fret.along for fret in one.frets] == pytest.approx([fret.along for fret in other.frets], abs=1e-9)
    assert [each.setback for each in one.strings] == pytest.approx(
        [each.setback for each in other.strings], abs=1e-6
    )


def test_every_second_quarter_tone_is_a_semitone() -> None:
    text = restated(DIVIDED, {"scale__divisions": 24, "scale__frets": 36})
    quarter = plan(*parse_job(text)).layout.frets
    whole = fret_distances(647.7, equal_temperament(18))
    assert [fret.along for fret in quarter[1::2]] == pytest.approx(whole.tolist(), abs=1e-9)


def test_cents_listed_on_a_fan_are_explained() -> None:
    fanned = (Path(__file__).parents[1] / "jobs" / "fanned.toml").read_text(encoding="utf-8")
    text = restated(fanned, {"scale__temperament_cents": [100.0 * n + (n % 3) for n in range(1, 23)]})
    named = quantities(plan(*parse_job(text)))
    assert named["fret-4.cents"].value == pytest.approx(401.0)
    assert named["fret-4.share"].value == pytest.approx(1 - 2 ** (-401 / 1200), abs=1e-12)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"scale__divisions": 19, "scale__temperament_cents": [100.0 * n for n in range(1, 25)]}, "both say where the frets go"),
        ({"scale__divisions": 31}, "the octave lies at fret 31; the board has 24"),
    ],
)  # fmt: skip
def test_divisions_that_cannot_be(changes: dict[str, Stated], words: str) -> None:
    assert words in " ".join(faults_at(restated(DIVIDED, changes), "scale"))
