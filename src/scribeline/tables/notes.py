"""Note names and their frequencies in equal temperament."""

import math
import re

from scribeline.tables.published import unknown

_SEMITONES_ABOVE_C = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NOTE = re.compile(r"([A-Ga-g])(##?|bb?|)(-?[0-9])", re.ASCII)
_A4_NUMBER = 69
_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")


def note_number(name: str) -> int:
    """The MIDI number of a note, 60 for middle C.

    Args:
        name: Letter, accidental and octave in scientific pitch notation, where C4 is middle C and the
            octave number changes at C: `E4`, `F#2`, `Bb1`, `C♯3`, `E♭2`.

    Raises:
        UnknownName: It is not a note's name with its octave.
    """
    match = _NOTE.fullmatch(name.strip().replace("♯", "#").replace("♭", "b"))
    if match is None:
        raise unknown(
            "a note", name, (), "write a letter A to G, # or b if need be, and the octave, as E4 or Bb1"
        )
    letter, accidental, octave = match.groups()
    shift = accidental.count("#") - accidental.count("b")
    return 12 * (int(octave) + 1) + _SEMITONES_ABOVE_C[letter.upper()] + shift


def note_name(number: int) -> str:
    """A note's name from its MIDI number, with sharps: 60 is C4, 61 is C#4; `note_number` reads it back."""
    octave, semitones = divmod(number, 12)
    return f"{_NAMES[semitones]}{octave - 1}"


def note_hz(name: str, *, a4_hz: float = 440.0) -> float:
    """The frequency of a note in twelve-tone equal temperament, Hz.

    Args:
        name: As for `note_number`.
        a4_hz: The A above middle C; 440 Hz by ISO 16:1975.

    Raises:
        UnknownName: It is not a note's name with its octave.
        ValueError: `a4_hz` is not a frequency.
    """
    if not (a4_hz > 0 and math.isfinite(a4_hz)):
        raise ValueError(f"the pitch of A4 is a frequency over 0 Hz: {a4_hz} cannot be used")
    return float(a4_hz * 2 ** ((note_number(name) - _A4_NUMBER) / 12))
