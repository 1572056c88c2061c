"""The odds of a job as they were last worked out, for every page that speaks of them."""

from __future__ import annotations

import json
from typing import Any

from scribeline.web.frame import Opened
from scribeline.web.work import ODDS, Work


def found_of(job: Opened) -> tuple[Work | None, dict[str, Any]]:
    """The work behind a job's odds as it stands, and what came of it; empty while it is not done."""
    work = job.shop.workshop.look(job.shop.workshop.mark(ODDS, job.whole))
    if work is None or work.state != "done" or work.folder is None:
        return work, {}
    try:
        told: dict[str, Any] = json.loads((work.folder / "odds.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None, {}
    return work, told


def measure_next(told: dict[str, Any]) -> dict[str, Any] | None:
    """The one measurement that raises the chance most; None where none does."""
    return next((each for each in told.get("buys", ()) if each["kind"] in {"again", "measure"}), None)
