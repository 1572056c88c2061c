"""Cards of the neck: fitted, held by its own screws, put back once the body is shaped."""

from __future__ import annotations

from collections.abc import Mapping
from math import degrees, radians

from scribeline.features import Family, glue_area, heel_insert, heel_screw
from scribeline.job import feature_id
from scribeline.layout import NECK_POCKET, neck_lie, rise, under_straightedge
from scribeline.lengths import said
from scribeline.operations import Kind, Operation
from scribeline.steps.bench import Bench, Teller, within
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import BY_MACHINE, DUST, GLUE, on_the_neck, usual


def _fit(bench: Bench, work: Operation) -> Card:
    """Fit the neck: everything after is measured from it."""
    if bench.document.neck.is_glued:
        return _fit_dry(bench, work)
    seat = (
        "Seat the heel against the end wall and clamp it. It must not move until its screws are in."
        if bench.document.neck_bolts is not None
        else "Seat the heel against the end wall and screw it on, so that it comes back to its place."
    )
    title = "Fit the neck and check its line"
    return Card.of(work, title, (seat, *threads(bench)), bench.gate("margin-treble"), usual(work))


def _fit_dry(bench: Bench, work: Operation) -> Card:
    """Fit a neck that will be glued: it must go in by hand, close everywhere, and point at the right height."""
    what = _in_pocket(bench)
    do = (
        f"Seat the {what} dry against the end wall and clamp it. Do not glue yet.",
        f"It must slide in by hand, with {said(bench.document.neck.slip)} of room across it for the glue, and "
        + ("its shoulders close on the body." if what == "tenon" else "lie on the floor everywhere."),
        *threads(bench),
        straightedge(bench),
    )
    return Card.of(work, "Fit the neck dry and check its line", do, bench.gate("margin-treble"), usual(work))


def _in_pocket(bench: Bench) -> str:
    return "heel" if bench.document.neck.tenon_width is None else "tenon"


_LEAN = radians(0.1)
"""How near a glued neck's angle must come, rad (common practice, no source)."""


def straightedge(bench: Bench) -> str:
    """How a glued neck's height is looked at, where a tenth of a degree shows."""
    layout = bench.layout
    gap = under_straightedge(neck_lie(bench.document), layout.scale)
    off = rise(layout.scale - layout.pocket_end, _LEAN)
    return (
        f"Lay a straightedge along the frets. At the saddles its edge must stand {said(gap, 1)} over the body, {said(off, 1)} "
        "more or less: 0.1° of lean."
    )


def _tenon(bench: Bench, work: Operation) -> Card:
    """The tenon of a set neck, planed to the pocket that is routed by then."""
    neck = bench.document.neck
    assert neck.tenon_width is not None
    thick = neck.heel_thickness.mm - neck.board_thickness.mm
    do = [
        f"Mark the tenon on the neck's centreline: {said(neck.tenon_width.mm)} wide, {said(neck.pocket_length)} from its end to "
        f"the shoulders, {said(thick)} thick under the board.",
        "Saw the cheeks full, and plane them to the pocket. Pare the shoulders last.",
    ]
    if neck.angle:
        angle = abs(neck.angle)
        do.insert(
            1,
            f"Its underside runs with the board; the pocket has the angle. Tilt the shoulder cuts {degrees(angle):.2f}° off "
            f"square on a wedge, {said(rise(100.0, angle), 1)} thick {said(100.0, None)} from its thin end, so that they stand "
            "upright.",
        )
    gate = within(
        "width of the tenon, with a caliper at its end and at its shoulders", neck.tenon_width.mm, _CHEEKS
    )
    return Card.of(work, "Cut the tenon", do, gate, usual(work))


_CHEEKS = 0.05
"""What a tenon's width may be off, mm: half the glue's room on one side (common practice, no source)."""


def _glued(bench: Bench) -> list[str]:
    """How a set neck is glued."""
    neck, pocket = bench.document.neck, bench.features.pocket(feature_id(NECK_POCKET))
    at_end, at_mouth = (width.mm for width in neck.in_pocket)
    mouth, end = pocket.depths
    area = glue_area(
        width_at_end=at_end,
        width_at_mouth=at_mouth,
        length=neck.pocket_length,
        depth_at_end=end,
        depth_at_mouth=mouth,
        angle=neck.angle,
    )
    return [
        f"Seat the {_in_pocket(bench)} dry, clamp it, and look at both threads and the straightedge. Only then glue it.",
        f"Glue the floor and both cheeks thinly, {area / 100:.0f} cm² in all, bare wood to bare wood: {said(0.1)} of it on the "
        "floor lifts the strings by as much. None on the end wall.",
        "Clamp, look at the threads and the straightedge again while it is wet, and let it cure as long as the glue's maker "
        "says.",
        "Measure once more when it has cured.",
    ]


def _over_the_tenon(bench: Bench) -> tuple[str, ...]:
    """What is routed again when the neck is glued in: the cavities that run into its pocket on purpose."""
    own = feature_id(NECK_POCKET)
    return tuple(
        f"When the glue has cured, rout the {each.in_words} again through the {_in_pocket(bench)}, down to its own floor."
        for each in bench.features.pockets
        if own in each.meets and each.face == "top"
    )


def _refit(bench: Bench, work: Operation) -> Card:
    title, cautions = "Put the neck back and check its line", usual(work)
    how = ["Seat the heel against the end wall and screw it on. Its screws bring it back to its place."]
    if bench.document.neck.is_glued:
        over = _over_the_tenon(bench)
        routed = BY_MACHINE["router"] if over else ()
        title, cautions = "Glue the neck in and check its line", usual(work, GLUE, *routed)
        how = [*_glued(bench), straightedge(bench)]
        return Card.of(work, title, (*how, *threads(bench), *over), bench.gate("margin-treble"), cautions)
    return Card.of(work, title, (*how, *threads(bench)), bench.gate("margin-treble"), cautions)


def threads(bench: Bench) -> tuple[str, ...]:
    """How the neck's line is looked at."""
    return (
        "Stretch a thread from each outer nut slot to where its saddle will stand.",
        f"At fret {len(bench.layout.frets)} measure each thread to the board's edge: they should agree within {said(0.25)}.",
        "Where they do not, read where the neck lies: a thread over the body's centreline and on over the board, to both of its "
        "edges at the nut, the 12th fret and its end. Note the readings on the page Measure: the bridge then follows the neck.",
    )


def _heel(bench: Bench, work: Operation) -> Card:
    """The screws' pilots in the heel, drilled once the body's clearance holes have marked them."""
    heel, neck = heel_screw(bench.document), bench.document.neck
    if heel is None:
        return _inserts(bench, work)
    do = (
        "With the heel clamped in its place, mark it through the body's holes with a punch that fits them. Take it off.",
        *((_laid(bench),) if work.cuts else ()),
        f"Bench rule for {heel.timber.in_words}{'' if neck.timber else ' (state neck.timber)'}: {said(heel.rule.bench)}. "
        f"The screws take {said(heel.engages, 1)} of thread and end {said(heel.to_board, 1)} below the board's glue line.",
        "Try one screw in scrap of the neck's timber. Then wax the screws and drive them by hand, crosswise.",
    )
    gate = Gate(
        "the heel is drawn tight to the pocket's floor, and the threads from nut to saddle lie as before"
    )
    cautions = _cautions(work)
    places = bench.places(bench.bores(work))
    return Card.of(work, "Drill the heel's pilots and screw the neck on", do, gate, cautions, *places)


def _laid(bench: Bench) -> str:
    """How the neck lies under the drill: the screws stand square to the body's back, and the heel leans with its neck."""
    if not bench.document.neck.angle:
        return "Lay the neck on its frets on soft packing, the heel's underside up and level."
    angle = abs(bench.document.neck.angle)
    end = "low" if bench.document.neck.angle > 0 else "high"
    return (
        f"Lay the neck on its frets on soft packing and wedge it {degrees(angle):.2f}° off level, the heel's end {end}: "
        f"{said(rise(100.0, angle), 1)} in {said(100.0, None)}. The screws stand square to the body's back, not to the heel."
    )


def _cautions(work: Operation) -> tuple[str, ...]:
    """What can hurt at the heel."""
    more = () if work.bit is not None else (DUST,)
    return on_the_neck(usual(work, *more))


def _inserts(bench: Bench, work: Operation) -> Card:
    """The holes of the inserts in the heel: the flanges' counterbores first, then the holes and the inserts themselves."""
    heel, inserts, neck = heel_insert(bench.document), bench.document.neck_inserts, bench.document.neck
    assert heel is not None
    assert inserts is not None
    mark = "With the heel clamped in its place, mark it through the body's holes with a punch that fits them. Take it off."
    cautions = _cautions(work)
    places = bench.places(bench.bores(work))
    if work.cuts and work.depth is not None and bench.step(work) is not bench.bores(work)[0].deepest:
        do = (mark, _laid(bench), "Counterbore for the flanges first, while the wood under the bit is whole.")
        gate = within("depth of the first counterbore", work.depth, _SUNK)
        return Card.of(work, "Counterbore the heel for the inserts' flanges", do, gate, cautions, *places)
    do = (
        *((mark,) if heel.flange is None else ()),
        *((_laid(bench),) if work.cuts else ()),
        f"Hole in {heel.timber.in_words}{'' if neck.timber else ' (state neck.timber)'}: {said(heel.wanted)}. Wind one insert "
        "into scrap of the neck's timber first.",
        "Wax each insert and wind it in square: by a screw with a locked nut, held in the still press and turned by hand.",
        "No insert may stand proud of the heel, or it holds the neck off its pocket.",
        f"The screws of {said(inserts.screw_length.mm, None)} take {said(heel.engages, 1)} of the insert and end "
        f"{said(heel.room, 1)} before the hole does.",
    )
    gate = Gate(
        "the heel is drawn tight to the pocket's floor, and the threads from nut to saddle lie as before"
    )
    return Card.of(work, "Bore the heel for its inserts and screw the neck on", do, gate, cautions, *places)


_SUNK = 0.2
"""What the depth of a flange's counterbore may be off, mm (common practice, no source)."""

HOLES: Mapping[Family, Teller] = {"heel-pilot": _heel}

KINDS: Mapping[Kind, Teller] = {
    "fit neck": _fit,
    "refit neck": _refit,
    "cut tenon": _tenon,
    "drill heel": _heel,
}
