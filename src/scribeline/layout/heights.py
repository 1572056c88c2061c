"""The height chain: how high over the body each saddle must hold its string to give the action stated.

For a neck that lies level in its pocket

    H = heel with board − pocket depth + fret crown + s

where s is the open string's height over the straight part of the fret plane at the saddle. The string is the straight
line from the nut, 4 r + nut height over that plane (r the relief, a parabola up to the fret where the board becomes
straight), over the 12th fret's crown at the action, carried on to the saddle. Plane geometry; worked in
`strings.fretting`.
"""

from __future__ import annotations

import numpy as np

from scribeline.job import Document
from scribeline.layout.frets import Floats
from scribeline.layout.stringing import Stringing
from scribeline.strings import Board, Playing, octave_fret, saddle_height


def crowns_over_body(document: Document) -> float:
    """Height of the straight fret plane over the body's top at the bridge, mm, the neck level in its pocket."""
    neck = document.neck
    return crowns_over(neck.heel_thickness.mm, neck.pocket_depth.mm, document.fret_wire.crown_height)


def crowns_over(heel: float, pocket: float, crown: float) -> float:
    """Height of the fret plane over the body's top, mm: the heel with its board, less the pocket's depth, and the crown."""
    return heel - pocket + crown


def saddle_heights(document: Document, stringing: Stringing) -> Floats:
    """Height over the body at which each saddle must hold its string, mm, shape (strings,), treble first."""
    board, playing = _strung(document, stringing)
    return crowns_over_body(document) + saddle_height(board, playing, np.array(stringing.setback))


def actions_at(document: Document, stringing: Stringing, height: float) -> Floats:
    """Action at the 12th fret with every string so high over the body at its saddle, mm, shape (strings,).

    The string turns about its nut slot: what is missing at the saddle is missing at the 12th fret by the share of
    its length that lies before it.
    """
    board, playing = _strung(document, stringing)
    missing = height - saddle_heights(document, stringing)
    share = board.fret_x[:, octave_fret(board)] / (board.scale + np.array(stringing.setback))
    return np.asarray(playing.action + share * missing, dtype=np.float64)


def _strung(document: Document, stringing: Stringing) -> tuple[Board, Playing]:
    """Frets and set-up as stated; how the strings are held does not matter to an open one's line."""
    strings, nothing = len(document.strings), np.zeros(())
    action, _ = stringing.setup.action(strings)
    playing = Playing(
        nut_height=np.asarray(document.nut.height_over_frets),
        action=action,
        relief=np.asarray(document.setup.relief.mm),
        finger_depth=nothing,
        free_length=nothing,
        grip=nothing,
        end_condition=nothing,
    )
    return stringing.setup.board(strings), playing
