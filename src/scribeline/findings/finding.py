"""A finding: what was tested, the limit and where it comes from, and the cure."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor
from typing import Literal

from scribeline.features import Features
from scribeline.job import Document
from scribeline.layout import Layout
from scribeline.solid import Outside, Web


def no_less(mm: float) -> str:
    """A limit to keep above, to 0.01 mm: rounded up, so that the number printed is itself enough."""
    return f"{ceil(mm * 100 - 1e-6) / 100:.2f}"


def no_more(mm: float) -> str:
    """A limit to keep below, to 0.01 mm: rounded down."""
    return f"{floor(mm * 100 + 1e-6) / 100:.2f}"


Severity = Literal["stop", "caution", "note"]

COMMON_PRACTICE = "common practice, no source"
STATED = "stated in the job"
GEOMETRY = "geometry"


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a builder should know before cutting.

    Attributes:
        code: stable name of the rule.
        severity: "stop" where the work must not go on, "caution" where it may with care, "note" otherwise.
        features: ids of the cuts concerned.
        value: what was found, mm unless the message says otherwise; None where nothing is measured.
        limit: what it was held against.
        message: what is wrong, with the number.
        cure: what to do about it, with the number to use.
        source: where the limit comes from.
    """

    code: str
    severity: Severity
    features: tuple[str, ...]
    value: float | None
    limit: float | None
    message: str
    cure: str
    source: str


@dataclass(frozen=True, slots=True)
class Facts:
    """All that the rules look at."""

    document: Document
    layout: Layout
    features: Features
    webs: tuple[Web, ...]
    outside: tuple[Outside, ...]


@dataclass(frozen=True, slots=True)
class Limit:
    """Two thresholds of one rule, mm: below `stop` the work must not go on, below `caution` with care."""

    stop: float
    caution: float
    source: str

    def severity(self, value: float) -> Severity | None:
        """How serious a value is; None when it is fine."""
        if value < self.stop - 1e-9:
            return "stop"
        return "caution" if value < self.caution - 1e-9 else None

    def threshold(self, severity: Severity) -> float:
        """The limit that was passed."""
        return self.stop if severity == "stop" else self.caution
