"""The bench pack: every file that goes to the bench, drawn in memory from one plan."""

from __future__ import annotations

from scribeline.plan import Plan, as_json


class PaperError(ValueError):
    """A paper that nobody sells; the text says which there are."""


def draw(plan: Plan, *, paper: str | None = None) -> dict[str, bytes]:
    """Every file of the pack by name.

    Args:
        plan: what to draw; it must have no stop finding.
        paper: paper for the templates; the job's own when left out.

    Raises:
        PaperError: an unknown paper.
    """
    return {"plan.json": as_json(plan).encode()}


def corrected_templates(plan: Plan, factors: tuple[float, float], *, paper: str | None = None) -> bytes:
    """The templates drawn for a printer that prints untrue, as a PDF."""
    raise NotImplementedError
