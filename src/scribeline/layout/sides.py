"""On which side of the centreline a place is told to lie: one rule for cards, sheets, findings, reports and the app."""

from __future__ import annotations

from math import atan2, degrees

from scribeline.lengths import said

ON_THE_CENTRELINE = "on the centreline"


def on_centreline(to_treble: float, places: int = 2) -> bool:
    """Whether a place counts as on the centreline: told with so many decimals of a millimetre, it would be told as 0.

    Args:
        to_treble: from the centreline towards the treble side, mm; negative towards the bass.
        places: decimals with which it is told.
    """
    return abs(to_treble) < 0.5 * 10.0**-places


def side_words(to_treble: float, places: int = 2) -> str:
    """Where a place lies, in words to stand behind its distance: to the treble, to the bass, or on the centreline.

    Args:
        to_treble: from the centreline towards the treble side, mm; negative towards the bass.
        places: decimals with which the distance is told.
    """
    if on_centreline(to_treble, places):
        return ON_THE_CENTRELINE
    return "to the treble" if to_treble > 0 else "to the bass"


def across_words(to_treble: float, places: int) -> str:
    """The distance and the side, as in 5.3 mm to the treble; on the centreline there is no distance to tell.

    Args:
        to_treble: from the centreline towards the treble side, mm; negative towards the bass.
        places: decimals with which the distance is told.
    """
    side = side_words(to_treble, places)
    return side if side == ON_THE_CENTRELINE else f"{said(abs(to_treble), places)} {side}"


def heading_words(to_tail: float, to_treble: float) -> str:
    """Which way a hole runs, seen from above, as in towards the neck, turned 30.0° to the treble.

    Args:
        to_tail: its run along the centreline, any unit; negative towards the neck.
        to_treble: its run across, the same unit; negative towards the bass.
    """
    end, turn = "neck", degrees(atan2(to_treble, -to_tail))
    if abs(turn) > 90:
        end, turn = "tail", degrees(atan2(to_treble, to_tail))
    if abs(turn) < 0.05:
        return f"straight to the {end}"
    return f"towards the {end}, turned {abs(turn):.1f}° to the {'treble' if turn > 0 else 'bass'}"
