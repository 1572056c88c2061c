"""Plugs for holes that went wrong: the least one that takes a whole old hole away and holds a new one."""

from __future__ import annotations

from dataclasses import dataclass

from scribeline.tables import PLUG_WALL, plug_sizes

_CLOSE = 1e-9


@dataclass(frozen=True, slots=True)
class Plug:
    """A plug, mm.

    Attributes:
        diameter: of the plug and of the hole that is drilled for it.
        cut_with: the cutter that makes it.
        aside: how far its middle lies from the old hole's towards the new one's.
        wall: of it that is left round the new hole, at the least.
        rim: by which it reaches beyond the old hole, at the least.
    """

    diameter: float
    cut_with: str
    aside: float
    wall: float
    rim: float


def plug_round(
    old: float, new: float, away: float, *, wall: float = PLUG_WALL, least: float = 0.0
) -> Plug | None:
    """The least plug that has the whole old hole in it and leaves its wall round the new one.

    Its middle is the old hole's; where it is then too near to the new one it goes as far towards that as the wall asks for,
    and no further than the old hole stays inside: R − wall − new/2 from the new one, R − old/2 from the old.

    Args:
        old: diameter of the old hole, mm.
        new: of the one to be drilled, mm; 0 where none is.
        away: from middle to middle, mm.
        wall: to be left, mm; nothing is asked for round a hole that is not drilled.
        least: the least diameter that will do, mm.

    Returns:
        None where no plug that cutters make is wide enough.
    """
    for size in plug_sizes():
        radius = size.diameter / 2
        spare = radius - old / 2
        room = radius - (new / 2 + wall if new else 0.0)
        if spare < -_CLOSE or room < -_CLOSE or size.diameter < least - _CLOSE:
            continue
        aside = max(0.0, away - room) if new else 0.0
        if aside <= spare + _CLOSE:
            left = radius - new / 2 - (away - aside)
            return Plug(size.diameter, size.cut_with, aside, left, max(0.0, spare - aside))
    return None
