"""What is worked and is no cut of the body's, each by an id of its own.

That is what gives the body its shape (the ground, steps or arch of its top, bevels, rounded edges), and what the neck is given:
the pilots in its heel, the slots of its board, its nut, its channels and its back. The step that does it bears the same id, so
that a finding about it and its step meet.
"""

from __future__ import annotations

from scribeline.job import feature_id
from scribeline.layout.surfaces import Area, Bevel, BodyForm

ARCH, GROUND = "carve-arch", "cut-ground"
STEP, BEVEL, ROUND = "cut-step-", "carve-bevel-", "round-"
HEEL = "pilot-heel"
"""The pilots of the neck's screws, drilled into its heel."""
BOARD = "slot-board"
"""The slots of a fingerboard that is made here."""
NUT = "slot-nut"
"""The nut that is made here, with its slots."""
CORE = "shape-core"
"""What is planed on a neck that runs through the body: its core's edges, and the seat of its board."""

TENON = "cut-tenon"
"""A set neck's tenon."""
CHANNELS = "rout-channels"
"""The channels under the fingerboard of a neck that is carved here."""
CARVE = "carve-neck"
"""The neck's back."""


def step_id(area: Area) -> str:
    """A level part of a stepped top."""
    return f"{STEP}{feature_id(area.name)}"


def bevel_id(bevel: Bevel) -> str:
    """A plane over the edge."""
    return f"{BEVEL}{feature_id(bevel.name)}"


def round_id(face: str) -> str:
    """A face's rounded edge."""
    return f"{ROUND}{face}"


def shapes_on(body: BodyForm, face: str) -> tuple[str, ...]:
    """Every shape of one face, whether the body has it or not."""
    top = (GROUND, *map(step_id, body.areas), ARCH) if face == "top" else ()
    return (*top, *(bevel_id(bevel) for bevel in body.bevels if bevel.face == face), round_id(face))
