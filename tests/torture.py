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


def examples(most: int) -> int:
    """How many examples of a property are tried: all of them in the torture, a third from day to day."""
    return most if EVERYTHING else -(-most // 3)
