"""Bridges: one module a kind, each behind the protocol of `kind`, called as the job calls it."""

from __future__ import annotations

from importlib import import_module

from scribeline.job import Bridge
from scribeline.layout.bridges.kind import (
    ANCHORS,
    WALL_FAMILIES,
    Anchor,
    AnchorFamily,
    AnchorLoad,
    BridgePlace,
    FurtherRow,
    Hazard,
    Kind,
    Loads,
    Mark,
    Pressed,
    Screwed,
    Threaded,
    Unit,
    WallScrews,
    string_places,
)


def kind_of(bridge: Bridge) -> Kind:
    """The kind that a stated bridge is of: the module of this package that its table names."""
    found: Kind = import_module(f"{__name__}.{bridge.kind}").KIND
    return found


__all__ = [
    "ANCHORS",
    "WALL_FAMILIES",
    "Anchor",
    "AnchorFamily",
    "AnchorLoad",
    "BridgePlace",
    "FurtherRow",
    "Hazard",
    "Kind",
    "Loads",
    "Mark",
    "Pressed",
    "Screwed",
    "Threaded",
    "Unit",
    "WallScrews",
    "kind_of",
    "string_places",
]
