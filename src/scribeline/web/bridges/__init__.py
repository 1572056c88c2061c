"""Pages of kinds of bridge: one module a kind, called as the job calls it, with its letters and its measuring picture.

A kind without a module here has a page by its own words, and no picture.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec

from scribeline.drawing.sheet import Item


@dataclass(frozen=True, slots=True)
class KindPage:
    """What the page of one kind has.

    Attributes:
        heading: of the page.
        lead: how to go about measuring.
        letters: keys of the bridge's table that stand first, each with its letter on the picture.
        title: of the picture, for whoever cannot see it.
        marks: the picture, for so many strings.
    """

    heading: str
    lead: str
    letters: Mapping[str, str]
    title: str
    marks: Callable[[int], Iterator[Item]]


def kind_page(kind: str) -> KindPage | None:
    """The page of a kind of bridge; None of one that has none of its own."""
    if not kind.isidentifier() or find_spec(name := f"{__name__}.{kind}") is None:
        return None
    found: KindPage | None = getattr(import_module(name), "PAGE", None)
    return found
