"""Note frequencies against pretty_midi, and A4 = 440 Hz by ISO 16:1975."""

import math

import pretty_midi
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scribeline.tables import UnknownName, note_hz, note_number


def test_a4_is_440_hz() -> None:
    assert note_hz("A4") == 440.0


# Equal temperament from A4 = 440 Hz (ISO 16:1975), to six decimals.
@pytest.mark.parametrize(("name", "hz"), [
    ("B0", 30.867706), ("E2", 82.406889), ("A#2", 116.540940), ("D3", 146.832384), ("G3", 195.997718),
    ("B3", 246.941651), ("C4", 261.625565), ("E4", 329.627557), ("A5", 880.0), ("E6", 1318.510228),
])  # fmt: skip
def test_frequencies(name: str, hz: float) -> None:
    assert note_hz(name) == pytest.approx(hz, abs=5.1e-7)


@given(
    letter=st.sampled_from("ABCDEFG"),
    accidental=st.sampled_from(["", "#", "b"]),
    octave=st.integers(min_value=0, max_value=8),
)
def test_agrees_with_pretty_midi(letter: str, accidental: str, octave: int) -> None:
    # pretty_midi counts octaves as scientific pitch notation does (its C4 is number 60).
    name = f"{letter}{'!' if accidental == 'b' else accidental}{octave}"
    number = pretty_midi.note_name_to_number(name)
    assert note_number(f"{letter}{accidental}{octave}") == number
    assert note_hz(f"{letter}{accidental}{octave}") == pytest.approx(
        pretty_midi.note_number_to_hz(number), rel=1e-12
    )


@pytest.mark.parametrize(("typed", "plain"), [
    ("bb1", "Bb1"), ("B♭1", "A#1"), ("C♯3", "Db3"), (" e4 ", "E4"), ("Fb4", "E4"), ("B#3", "C4"),
    ("F##2", "G2"), ("Ebb2", "D2"),
])  # fmt: skip
def test_ways_to_write_a_note(typed: str, plain: str) -> None:
    assert note_hz(typed) == note_hz(plain)


def test_another_pitch_of_a4() -> None:
    assert note_hz("A3", a4_hz=432) == 216.0


@pytest.mark.parametrize("typed", ["H2", "E", "4", "", "E#b4", "E44", "F###2", "ë4", "E 4 4"])
def test_names_that_are_no_note(typed: str) -> None:
    with pytest.raises(UnknownName, match="as E4 or Bb1"):
        note_hz(typed)


@pytest.mark.parametrize("a4_hz", [0.0, -440.0, math.nan, math.inf])
def test_pitches_that_are_no_frequency(a4_hz: float) -> None:
    with pytest.raises(ValueError, match="frequency over 0 Hz"):
        note_hz("A4", a4_hz=a4_hz)
