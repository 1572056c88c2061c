"""What takes long and is not run every time: `make torture` asks for all of it."""

from __future__ import annotations

import os
from typing import TypeVar

Case = TypeVar("Case")

EVERYTHING = bool(os.environ.get("SCRIBELINE_TORTURE"))
"""Whether every case is run."""


def long(*cases: Case) -> tuple[Case, ...]:
    """Cases of a test that others stand for from day to day."""
    return cases if EVERYTHING else ()
