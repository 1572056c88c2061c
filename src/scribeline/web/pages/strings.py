"""The strings: where each saddle is wanted and how surely, the bridge window, cents at every fret, another set."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from fastapi import APIRouter, Request
from fastapi.responses import Response

from scribeline.drawing.bridge_window import bridge_window
from scribeline.drawing.cents_plot import cents_plot
from scribeline.drawing.sheets.bridge import travel_bars
from scribeline.layout import OWN_SET, Layout, change_to, remedy_sets
from scribeline.lengths import in_unit
from scribeline.strings import Prediction, remedies
from scribeline.web.drawings import element
from scribeline.web.fields import at_key, stated
from scribeline.web.frame import Opened, Page, open_job, render

if TYPE_CHECKING:
    from scribeline.plan import Plan

PAGE = Page("strings", "Strings", 25)
router = APIRouter()

_WIDTHS = {"wide": 213.0, "narrow": 100.0}
"""Of a drawing that is made for a desk and for a phone, so that its lettering can be read on both, mm."""
_TRAVEL = {"wide": 190.0, "narrow": 112.0}
_TALL = 130.0
"""Widths and height of the drawing of the saddles' travel, mm."""
_CENTS = {"wide": 110.0, "narrow": 105.0}
"""Heights of the plot of cents, mm."""


@dataclass(frozen=True, slots=True)
class Row:
    """One string of a set.

    Attributes:
        no: from the treble.
        name: note, gauge and making.
        note: open.
        gauge: as players say it.
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
    note: str
    gauge: str
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
                note=spec.note_over(),
                gauge=spec.gauge_said,
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


def cents_said(cents: float) -> str:
    """Cents sharp for a reader: `+0.4`, `−1.2`; what rounds to nothing has no sign."""
    tenths = round(cents, 1)
    return f"{tenths:+.1f}".replace("-", "\N{MINUS SIGN}") if tenths else "0.0"


@dataclass(frozen=True, slots=True)
class Fretted:
    """One string at one fret.

    Attributes:
        fret: its number.
        note: what sounds there.
        set: cents sharp with the saddle set.
        line: cents sharp with the saddle on the scale line.
    """

    fret: int
    note: str
    set: str
    line: str


def fretted(found: Prediction) -> tuple[tuple[Fretted, ...], ...]:
    """Every note of a set, string by string, fret by fret."""
    over = found.problem.setup.cents_over
    return tuple(
        tuple(
            Fretted(n, spec.note_over(over[n - 1]), cents_said(own), cents_said(line))
            for n, (own, line) in enumerate(zip(set_so, on_line, strict=True), start=1)
        )
        for spec, set_so, on_line in zip(
            found.problem.specs, found.cents, found.cents_uncompensated, strict=True
        )
    )


def _worst(found: Prediction) -> str:
    """The note that is furthest out with the saddles set: its string and its fret, as the plot calls its mark."""
    string, fret = np.unravel_index(np.abs(found.cents).argmax(), found.cents.shape)
    return f"{string + 1}-{fret + 1}"


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
        may_learn=bool(job.shop.store.calibrations()) and at_key(stated(job.text), "bench.records") is None,
        sets={
            name: rows_of(found, job.plan.layout, own=name == OWN_SET) for name, found in predictions.items()
        },
        places={each.name: each.setback for each in stringing.past_the_scale()} if predictions else {},
        pulls={name: found.pull_n for name, found in predictions.items()},
        past=job.plan.layout.past("12th-fret", job.plan.layout.scale),
        ways=_ways(job.plan),
        window_drawn={wide: _drawn(job, job.plan, f"window {wide}") for wide in _WIDTHS},
        travel_drawn={wide: _drawn(job, job.plan, f"travel {wide}") for wide in _WIDTHS},
        cents_drawn={wide: _drawn(job, job.plan, f"cents {wide}") for wide in _WIDTHS},
        notes=() if stringing.prediction is None else fretted(stringing.prediction),
        worst="" if stringing.prediction is None else _worst(stringing.prediction),
        change=_change(job.plan, to),
        to=to,
        others=tuple(stringing.others),
    )


def _drawn(job: Opened, plan: Plan, what: str) -> str:
    """A drawing of the page, drawn once for a text."""
    kind, _, width = what.partition(" ")
    wide = _WIDTHS[width]

    def draw() -> str:
        found = plan.layout.stringing.prediction
        if kind == "window":
            return element(
                bridge_window(plan, (0.0, 0.0, wide, 0.0)), "where the bridge may stand, from the 12th fret"
            )
        if kind == "travel":
            room = (0.0, 0.0, _TRAVEL[width], _TALL)
            return element(travel_bars(plan, room)[1], "saddle travel with the bridge where it stands")
        if found is None:
            return ""
        return element(cents_plot(found, (0.0, 0.0, wide, _CENTS[width])), "cents at every fret")

    if not plan.layout.stringing.is_placed or (kind == "travel" and plan.layout.bridge is None):
        return ""
    return job.shop.planner.once(("strings", what, job.whole), draw)


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
