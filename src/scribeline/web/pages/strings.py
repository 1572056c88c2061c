"""The strings: where each saddle is wanted and how surely, the bridge window, cents at every fret, another set."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from fastapi import APIRouter, Request
from fastapi.responses import Response

from scribeline.drawing.bridge_window import bridge_window
from scribeline.drawing.cents_plot import cents_sheet
from scribeline.drawing.sheets.bridge import travel_bars
from scribeline.layout import OWN_SET, Layout, change_to, remedy_sets
from scribeline.lengths import in_unit
from scribeline.strings import Prediction, remedies
from scribeline.web.drawings import element
from scribeline.web.frame import Opened, Page, open_job, render

if TYPE_CHECKING:
    from scribeline.plan import Plan

PAGE = Page("strings", "Strings", 25)
router = APIRouter()

_ROOM = (0.0, 0.0, 190.0, 130.0)
"""Of the drawing of the saddles' travel, mm."""

_WIDTHS = {"wide": 220.0, "narrow": 100.0}
"""Of a drawing that is made for a desk and for a phone, so that its lettering can be read on both, mm."""


@dataclass(frozen=True, slots=True)
class Row:
    """One string of a set.

    Attributes:
        no: from the treble.
        name: note, gauge and making.
        tension_n: open, N.
        strength: stress as a share of the least the wire holds.
        setback: saddle past the scale line, mm.
        sd: its standard deviation, mm.
        cents: the worst note with the saddle set back.
        mostly: what most of the spread comes from, and its share.
        stated: the setback the job states; None where it is worked out.
    """

    no: int
    name: str
    tension_n: float
    strength: float
    setback: float
    sd: float
    cents: float
    mostly: str
    stated: float | None


def rows_of(found: Prediction, layout: Layout, *, own: bool) -> tuple[Row, ...]:
    """A set's strings as rows."""
    stringing = layout.stringing
    rows = []
    for i, spec in enumerate(found.problem.specs):
        key, share = found.dominant(i)[0]
        rows.append(
            Row(
                no=i + 1,
                name=spec.name,
                tension_n=float(found.tension_n[i]),
                strength=float(found.strength_share[1][i]),
                setback=float(found.setback[i]),
                sd=float(found.sd[i]),
                cents=float(np.abs(found.cents[i]).max()),
                mostly=f"{key.replace('_', ' ')}, {100 * share:.0f} %",
                stated=stringing.setback[i] if own and stringing.stated[i] else None,
            )
        )
    return tuple(rows)


@router.get("/jobs/{job_id}/strings")
def strings(request: Request, job_id: int, to: str = "") -> Response:
    """What the strings ask of the bridge; with `to`, what changing to another set would do."""
    job = open_job(request, job_id, at_once=True)
    if job.plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    stringing = job.plan.layout.stringing
    predictions = {} if stringing.prediction is None else {OWN_SET: stringing.prediction, **stringing.others}
    return render(
        request,
        "strings/strings.html",
        PAGE,
        job,
        sets={
            name: rows_of(found, job.plan.layout, own=name == OWN_SET) for name, found in predictions.items()
        },
        pulls={name: found.pull_n for name, found in predictions.items()},
        past=job.plan.layout.past("12th-fret", job.plan.layout.scale),
        ways=_ways(job.plan),
        window_drawn={wide: _drawn(job, job.plan, f"window {wide}") for wide in _WIDTHS},
        travel=_drawn(job, job.plan, "travel"),
        cents=_drawn(job, job.plan, "cents"),
        change=_change(job.plan, to),
        to=to,
        others=tuple(stringing.others),
    )


def _drawn(job: Opened, plan: Plan, what: str) -> str:
    """A drawing of the page, drawn once for a text."""
    kind, _, wide = what.partition(" ")

    def draw() -> str:
        if kind == "window":
            title = "where the bridge may stand, from the 12th fret"
            return element(bridge_window(plan, (0.0, 0.0, _WIDTHS[wide], 0.0)), title)
        if what == "travel":
            return element(travel_bars(plan, _ROOM)[1], "saddle travel with the bridge where it stands")
        found = plan.layout.stringing.prediction
        if found is None:
            return ""
        # Narrower and taller than on paper, as a tablet is.
        sheet = cents_sheet(plan, found, width=206.0, strip=30.0, small=3.0)
        return element(sheet.items, "cents at every fret")

    if not plan.layout.stringing.is_placed or (what == "travel" and plan.layout.bridge is None):
        return ""
    return job.shop.planner.once(("strings", what, job.text, job.folder), draw)


def _ways(plan: Plan) -> tuple[str, ...]:
    """Ways out of an empty window."""
    if not plan.layout.window.is_empty or not plan.layout.stringing.is_placed:
        return ()
    return tuple(
        in_unit(way.words, plan.unit)
        for way in remedies(remedy_sets(plan.job.document, plan.layout.stringing))
    )


def _change(plan: Plan, to: str) -> dict[str, Any] | None:
    """What changing to another set would do, string by string."""
    stringing = plan.layout.stringing
    if to not in stringing.others or stringing.prediction is None or plan.layout.bridge is None:
        return None
    found = change_to(plan.job.document, stringing, to, bridge=plan.layout.travel)
    assert found.travel_forward is not None
    assert found.travel_back is not None
    return {
        "pull": found.pull_change_n,
        "advice": found.relief_advice,
        "suffices": bool(found.travel_suffices),
        "rows": [
            {
                "no": i + 1,
                "name": spec.name,
                "tension": float(found.tension_change_n[i]),
                "move": float(found.saddle_move[i]),
                "sd": float(found.saddle_move_sd[i]),
                "forward": float(found.travel_forward[i]),
                "back": float(found.travel_back[i]),
                "slot": float(found.slot_widening[i]),
            }
            for i, spec in enumerate(stringing.sets[to])
        ],
    }
