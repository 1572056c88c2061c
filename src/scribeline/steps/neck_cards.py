"""Cards of the neck: fitted, held by its own screws, put back once the body is shaped."""

from __future__ import annotations

from collections.abc import Mapping

from scribeline.features import Family, heel_screw
from scribeline.lengths import said
from scribeline.operations import Kind, Operation
from scribeline.steps.bench import Bench, Teller
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import DUST, GLUE, usual


def _fit(bench: Bench, work: Operation) -> Card:
    """Fit the neck: everything after is measured from it."""
    seat = (
        "Seat the heel dry against the end wall and clamp it. Do not glue yet."
        if bench.document.neck.joint == "set"
        else "Seat the heel against the end wall and clamp it. It must not move until its screws are in."
        if bench.document.neck_screws is not None
        else "Seat the heel against the end wall and screw it on, so that it comes back to its place."
    )
    title = "Fit the neck and check its line"
    return Card.of(work, title, (seat, *_threads(bench)), bench.gate("margin-treble"), usual(work))


def _refit(bench: Bench, work: Operation) -> Card:
    title, cautions = "Put the neck back and check its line", usual(work)
    how = ["Seat the heel against the end wall and screw it on. Its screws bring it back to its place."]
    if bench.document.neck.joint == "set":
        title, cautions = "Glue the neck in and check its line", usual(work, GLUE)
        how = [
            "Seat the heel dry, clamp it, and look at both threads. Only then glue it. Let it cure as long as the glue's maker "
            "says.",
            "Measure once more when it has cured.",
        ]
    return Card.of(work, title, (*how, *_threads(bench)), bench.gate("margin-treble"), cautions)


def _threads(bench: Bench) -> tuple[str, ...]:
    """How the neck's line is looked at."""
    return (
        "Stretch a thread from each outer nut slot to where its saddle will stand.",
        f"At fret {len(bench.layout.frets)} measure each thread to the board's edge: they should agree within {said(0.25)}.",
    )


def _heel(bench: Bench, work: Operation) -> Card:
    """The screws' pilots in the heel, drilled once the body's clearance holes have marked them."""
    heel, neck = heel_screw(bench.document), bench.document.neck
    assert heel is not None
    do = (
        "With the heel clamped in its place, mark it through the body's holes with a punch that fits them. Take it off.",
        *(
            ("Lay the neck on its frets on soft packing, the heel's underside up and level.",)
            if work.cuts
            else ()
        ),
        f"Bench rule for {heel.timber.in_words}{'' if neck.timber else ' (state neck.timber)'}: {said(heel.rule.bench)}. "
        f"The screws take {said(heel.engages, 1)} of thread and end {said(heel.to_board, 1)} below the board's glue line.",
        "Try one screw in scrap of the neck's timber. Then wax the screws and drive them by hand, crosswise.",
    )
    gate = Gate(
        "the heel is drawn tight to the pocket's floor, and the threads from nut to saddle lie as before"
    )
    cautions = tuple(each.replace("the body", "the neck") for each in usual(work, DUST))
    places = bench.places(bench.bores(work))
    return Card.of(work, "Drill the heel's pilots and screw the neck on", do, gate, cautions, *places)


HOLES: Mapping[Family, Teller] = {"heel-pilot": _heel}

KINDS: Mapping[Kind, Teller] = {"fit neck": _fit, "refit neck": _refit, "drill heel": _heel}
