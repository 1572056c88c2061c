"""Sheets as large as what is drawn on them: a picture for a card or a list, a drawing for another program."""

from __future__ import annotations

from collections.abc import Sequence

from scribeline.drawing.extent import covered
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.sheet import ACTED_ON_LETTERING, LETTERING, Item, Sheet, Text

_MARGIN = 4.0
"""Round a drawing for another program, mm."""


def fitted(name: str, items: tuple[Item, ...], widest: float, *, seen: str, what: str) -> Sheet:
    """A picture at full size where there is room for it, else smaller, which it says.

    Args:
        name: of the sheet.
        items: the drawing at full size.
        widest: room for it across, mm.
        seen: how the words on it begin that say it is at full size.
        what: what it shows, as words for one that is not.
    """
    left, low, right, top = covered(items)
    if right - left > widest:
        scale = widest / (right - left)
        drawn = [item for item in items if not (isinstance(item, Text) and item.text.startswith(seen))]
        at = (left * scale, low * scale - ACTED_ON_LETTERING)
        words = Text(LETTERING, at, f"{what}, not at full size", ACTED_ON_LETTERING)
        items = (*placed(drawn, Transform(scale)), words)
        left, low, right, top = covered(items)
    return Sheet(name, right - left, top - low, items, origin=(left, low))


def bounded(title: str, items: Sequence[Item]) -> Sheet:
    """A drawing for another program with a margin round it."""
    left, low, right, top = covered(items)
    size = right - left + 2 * _MARGIN, top - low + 2 * _MARGIN
    return Sheet(title, *size, tuple(items), origin=(left - _MARGIN, low - _MARGIN))
