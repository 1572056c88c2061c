"""Sheets as large as what is drawn on them: a picture for a card or a list, a drawing for another program."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from scribeline.drawing.extent import covered
from scribeline.drawing.sheet import ACTED_ON_LETTERING, LETTERING, Item, Sheet, Text

_MARGIN = 4.0
"""Round a drawing for another program, mm."""
_GAP = 1.5
"""Over the words beneath a picture, mm."""


def fitted(
    name: str, drawn: Callable[[float], tuple[Item, ...]], widest: float, *, seen: str, what: str
) -> Sheet:
    """A picture at full size where there is room for it, else smaller, which it says.

    Args:
        name: of the sheet.
        drawn: the drawing at a scale; its marks and letters keep their size.
        widest: room for it across, mm.
        seen: how the words on it begin that say it is at full size.
        what: what it shows, as words for one that is not.
    """
    items = drawn(1.0)
    left, low, right, top = covered(items)
    if right - left > widest:
        small = drawn(_scale(drawn, widest))
        small = tuple(item for item in small if not (isinstance(item, Text) and item.text.startswith(seen)))
        left, low, _, _ = covered(small)
        words = Text(
            LETTERING,
            (left, low - _GAP - ACTED_ON_LETTERING),
            f"{what}, not at full size",
            ACTED_ON_LETTERING,
        )
        items = (*small, words)
        left, low, right, top = covered(items)
    return Sheet(name, right - left, top - low, items, origin=(left, low))


def _scale(drawn: Callable[[float], tuple[Item, ...]], widest: float) -> float:
    """The scale at which a drawing is as wide as its room; what keeps its size is wide at any."""
    (left, _, right, _), (near, _, far, _) = covered(drawn(1.0)), covered(drawn(0.5))
    kept = 2 * (far - near) - (right - left)
    return max(0.1, (widest - kept) / (right - left - kept))


def bounded(title: str, items: Sequence[Item]) -> Sheet:
    """A drawing for another program with a margin round it."""
    left, low, right, top = covered(items)
    size = right - left + 2 * _MARGIN, top - low + 2 * _MARGIN
    return Sheet(title, *size, tuple(items), origin=(left - _MARGIN, low - _MARGIN))
