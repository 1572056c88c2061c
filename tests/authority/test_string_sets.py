"""Usual gauges as they are commonly sold (common practice, no source), and what strings made so must bear."""

from __future__ import annotations

import numpy as np
import pytest

from scribeline.lengths import read_gauge
from scribeline.strings import StringSpec
from scribeline.tables import music_wire_strength_mpa, note_hz, note_name, note_number, sets_like, usual_sets

SIX = ("E4", "B3", "G3", "D3", "A2", "E2")
GUITAR, BASS = 25.5 * 25.4, 34 * 25.4
"""Scales that are usual for either, mm (common practice, no source)."""


def offered(*notes: str) -> list[str]:
    return [each.name for each in sets_like(notes)]


def test_every_set_can_be_strung_at_a_usual_scale() -> None:
    """By 4 L² f² of a solid steel string's weight (Mersenne): a wound one weighs a little less.

    Each pulls 40 to 300 N (from memory), and a plain one's stress is under four fifths of what music wire holds.
    """
    for each in usual_sets():
        assert len(each.notes) == len(each.gauges)
        scale = BASS if each.made_for.startswith("bass") else GUITAR
        gauges = [float(read_gauge(gauge).mm) for gauge in each.gauges]
        assert gauges == sorted(gauges)
        assert [note_hz(note) for note in each.notes] == sorted(map(note_hz, each.notes), reverse=True)
        for note, gauge in zip(each.notes, gauges, strict=True):
            pull = 4 * (scale / 1000) ** 2 * note_hz(note) ** 2 * 7850 * 3.1416 / 4 * (gauge / 1000) ** 2
            assert 40 < pull < 300, (each.key, note)
            if gauge < 0.5:
                stress_mpa = pull / (3.1416 / 4 * gauge**2)
                assert stress_mpa < 0.8 * min(np.atleast_1d(music_wire_strength_mpa(gauge)))
        assert "no source" in each.source


def test_they_are_offered_by_number_of_strings_and_tuning() -> None:
    assert offered(*SIX)[:3] == [".009 to .042", ".010 to .046", ".011 to .049"]
    assert offered(*SIX[:5], "D2")[0] == ".010 to .052"  # that very tuning before those that are near
    assert ".010 to .059" in offered(*SIX, "B1")
    assert ".010 to .074" in offered(*SIX, "B1", "F#1")
    assert ".045 to .105" in offered("G2", "D2", "A1", "E1")
    assert offered("G2", "D2", "A1", "E1", "B0") == [".045 to .130"]


def test_no_set_for_another_instrument_is_offered() -> None:
    assert (
        offered("C3", "G2", "D2", "A1", "E1", "B0") == []
    )  # a bass of six strings, an octave and more under a guitar
    assert offered("E4", "B3", "G3") == []
    assert offered("330 Hz", *SIX[1:]) == offered(*SIX)


@pytest.mark.parametrize(
    ("number", "name"), [(60, "C4"), (61, "C#4"), (69, "A4"), (21, "A0"), (40, "E2"), (11, "B-1")]
)
def test_notes_by_number_as_midi_counts_them(number: int, name: str) -> None:
    """Middle C is 60 and C4, A4 is 69 (MIDI 1.0)."""
    assert note_name(number) == name
    assert note_number(name) == number


def test_what_sounds_at_a_fret() -> None:
    assert StringSpec("E2", 1.17).note_over(1200) == "E3"
    assert StringSpec("Bb1", 1.5).note_over() == "Bb1"
    assert StringSpec("Bb1", 1.5).note_over(200) == "C2"
    assert StringSpec("E4", 0.25).note_over(813.7) == "C5"  # a minor sixth a little wide is still one
    assert StringSpec(110.0, 1.0).note_over(1200) == "220 Hz"
    # One of nineteen steps to the octave has no name among twelve: 440 Hz · 2^(1/19) = 456.3 Hz.
    assert StringSpec("A4", 0.25).note_over(1200 / 19) == "456.3 Hz"
