"""Rules about how well the numbers are known, and how well they can be set out."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.features import Family
from scribeline.findings.finding import COMMON_PRACTICE, STATED, Facts, Finding, Limit
from scribeline.job import Dimension, Part, feature_id, widest_measured
from scribeline.layout import cavity_words
from scribeline.lengths import by_inches, figure, give_or_take, inch_fraction, said, trimmed

NUT_SLOT = Limit.of("nut_places")
FRET_SLOT = Limit.of("fret_places")
FERRULE_ROW = Limit.of("ferrule_row")

FINEST = 64


def _parts(facts: Facts) -> Iterator[tuple[str, str, Part, tuple[str, ...]]]:
    """Every bought part: a name for its finding, what it is called, itself, and the cuts that rest on it."""
    document, features = facts.document, facts.features

    def cut_for(family: Family, name: str = "") -> tuple[str, ...]:
        """Ids of the holes of a family, or of those of it that go by one name."""
        return tuple(bore.id for bore in features.family(family) if name in {"", bore.group})

    yield "bridge", "bridge", document.bridge, tuple(f.id for f in features.bores)
    if document.bridge_screw is not None:
        yield "bridge_screw", "bridge screw", document.bridge_screw, cut_for("bridge-screw")
    if document.ferrules is not None and document.bridge.through_body:
        yield "ferrules", "ferrules", document.ferrules, cut_for("ferrule-hole")
    if document.neck_screws is not None:
        yield "neck_screws", "neck screws", document.neck_screws, cut_for("neck-screw")
    if document.neck_inserts is not None:
        yield "neck_inserts", "neck inserts", document.neck_inserts, cut_for("neck-screw")
    if document.head is not None:
        tuners = () if facts.head is None else facts.head.features.family("tuner-hole")
        yield "head", "tuners", document.head, tuple(bore.id for bore in tuners)
        for number, tree in enumerate(document.head.trees, start=1):
            if tree.screw is not None:
                yield f"tree-{number}", f"string tree {number}'s screws", tree.screw, ()
    for number, control in enumerate(document.controls, start=1):
        yield f"control-{number}", control.name, control, (f"control-{number}",)
    for hole in document.holes:
        if hole.screw is not None:
            yield feature_id(f"hole {hole.name}"), hole.name, hole.screw, cut_for("hole", hole.name)
    for pocket in document.pockets:
        if pocket.cover_screws is not None:
            name = f"{pocket.name} cover screws"
            yield feature_id(name), name, pocket.cover_screws, cut_for("cover-screw", name)
    yield from _on_the_edge(facts)


def _on_the_edge(facts: Facts) -> Iterator[tuple[str, str, Part, tuple[str, ...]]]:
    """The same of what is screwed to the body's edge."""
    jack = facts.document.jack
    if jack is not None and jack.screw is not None:
        holes = tuple(bore.id for bore in facts.features.family("jack-screw"))
        yield "jack-screws", "the jack plate's screws", jack.screw, holes
    for number, button in enumerate(facts.document.strap_buttons, start=1):
        name = f"strap-button-{number}"
        yield name, f"{button.name} strap button's screw", button.screw, (name,)


def typical_numbers(facts: Facts) -> Iterator[Finding]:
    """Which typical numbers does the plan still rest on?"""
    document = facts.document
    for name, words, part, concerned in _parts(facts):
        typical = part.typical_dimensions()
        if typical:
            count = f"{len(typical)} typical {'number' if len(typical) == 1 else 'numbers'}"
            listed = "; ".join(
                f"{part.called(key)} {_number(facts, value.mm)}{_too_wide(facts, value)}"
                for key, value in typical.items()
            )
            yield Finding(
                code=f"typical.{name}",
                severity="caution",
                features=concerned,
                value=float(len(typical)),
                limit=0.0,
                message=f"{words}: {count} not yet measured ({document.units}): {listed}",
                cure=f"measure the part in your hand and write each number with its ±, such as {_example(facts, 10.6, 0.05)}",
                source=COMMON_PRACTICE,
            )
    yield from _unmeasured(facts)
    if document.neck_bolts is not None and not document.neck.board_thickness.measured:
        yield Finding(
            code="typical.board-thickness",
            severity="caution",
            of="neck.board_thickness",
            features=tuple(bore.id for bore in facts.features.family("neck-screw")),
            value=document.neck.board_thickness.mm,
            limit=None,
            message=f"the fingerboard is taken as {said(document.neck.board_thickness.mm, None)} thick; how near the neck's "
            "screws come to it rests on that",
            cure=f"measure it at the heel and write it with its ±, such as {_example(facts, 6.2, 0.1)}",
            source=COMMON_PRACTICE,
        )
    if not document.body.thickness.measured:
        yield Finding(
            code="typical.body-thickness",
            severity="caution",
            of="body.thickness",
            features=(),
            value=document.body.thickness.mm,
            limit=None,
            message=f"the body's thickness, {said(document.body.thickness.mm)}, is not marked as "
            f"measured{_too_wide(facts, document.body.thickness)}; every depth rests on it",
            cure=f"measure the blank in four places and write it with its ±, such as {_example(facts, 44.4, 0.1)}",
            source=COMMON_PRACTICE,
        )


def _unmeasured(facts: Facts) -> Iterator[Finding]:
    """What is cut for a part of the parts book that nobody has measured."""
    document = facts.document
    cut_for = [
        (f"cavity-{n}", feature_id(each.name), f"the {cavity_words(each.name)}", f"pockets[{n}].typical")
        for n, each in enumerate(document.pockets, start=1)
        if each.typical
    ]
    if document.jack is not None and document.jack.typical:
        cut_for.append(("jack", "jack", "the jack's hole", "jack.typical"))
    for name, identity, words, key in cut_for:
        yield Finding(
            code=f"typical.{name}",
            severity="caution",
            features=(identity,),
            value=None,
            limit=None,
            message=f"{words} is as large as such a part commonly wants it; nobody has measured the part",
            cure=f"measure the part in your hand, put in what it wants, and take out {key}",
            source=COMMON_PRACTICE,
        )


def _number(facts: Facts, mm: float) -> str:
    """A length as a bare number of this job."""
    unit = facts.document.units
    return trimmed(mm) if unit == "mm" else figure(mm, unit)


def _too_wide(facts: Facts, value: Dimension) -> str:
    """Why a number with its ± does not count as measured; "" where it has none."""
    if not value.too_wide:
        return ""
    most = _number(facts, widest_measured(value.mm))
    return f" (±{_number(facts, value.plus_minus)} is too wide for a measurement: at most ±{most})"


def _example(facts: Facts, mm: float, plus_minus: float) -> str:
    """A measured number as this job would write it."""
    unit = facts.document.units
    return (
        f'"{mm:g} +/- {plus_minus:g}"'
        if unit == "mm"
        else f'"{figure(mm, unit)} +/- {figure(plus_minus, unit)}"'
    )


def imported_outline(facts: Facts) -> Iterator[Finding]:
    """An imported outline: does it lie as it should, the right way round?"""
    file = facts.document.body.outline.file
    if file is None:
        return
    xs, ys = [p.x for p in facts.layout.outline], [p.y * facts.layout.treble for p in facts.layout.outline]
    yield Finding(
        code="outline.imported",
        severity="note",
        features=(),
        value=max(xs) - min(xs),
        limit=None,
        message=f"the outline from {file} is {said(max(xs) - min(xs), 1)} long and {said(max(ys) - min(ys), 1)} wide; it begins "
        f"{said(min(xs), 1)} from the nut and ends at {said(max(xs), 1)}, {said(max(ys), 1)} to the treble and "
        f"{said(-min(ys), 1)} to the bass of the centreline",
        cure="look at the front plan. If neck and tail are swapped, or treble and bass, correct body.outline.along or "
        "seen_from",
        source=STATED,
    )


def imported_head(facts: Facts) -> Iterator[Finding]:
    """A head's outline out of a drawing: does it lie as it should, the right way round?"""
    head = facts.document.head
    if head is None or head.drawing is None:
        return
    along, across = ([corner[n] for corner in head.corners] for n in (0, 1))
    yield Finding(
        code="head.imported",
        severity="note",
        features=(),
        value=max(along),
        limit=None,
        message=f"the head's outline from {head.drawing.file} reaches {said(max(along), 1)} from the nut's line along its face, "
        f"{said(max(across), 1)} to the treble and {said(-min(across), 1)} to the bass of the centreline",
        cure="look at the head's drawing. If nut and tip are swapped, or treble and bass, correct head.drawing.tip or seen_from",
        source=STATED,
    )


def inch_rounding(facts: Facts) -> Iterator[Finding]:
    """In an inch shop: where is 1/64 in too coarse?"""
    if not by_inches(facts.document.units):
        return
    layout = facts.layout
    row = [bore.at.y for bore in facts.features.family("ferrule-hole")]
    sets = (
        ("nut slots", [string.nut.y for string in layout.strings], NUT_SLOT),
        ("fret slots", [fret.x for fret in layout.frets], FRET_SLOT),
        ("ferrule row", row, FERRULE_ROW),
    )
    for name, places, usual in sets:
        limit = facts.limit(usual)
        tolerance = limit.caution
        worst = max((abs(inch_fraction(mm, FINEST).error_mm) for mm in places), default=0.0)
        if worst > tolerance / 3:
            yield Finding(
                code=f"rounding.{name.replace(' ', '-')}",
                severity="caution",
                features=(),
                value=worst,
                limit=tolerance / 3,
                message=f"{name}: rounded to 1/64 in, the worst place is {said(worst, 3)} off, over a third of the "
                f"{give_or_take(tolerance)} allowed",
                cure="set these out in millimetres, in thousandths of an inch, or from the full-size print",
                source=limit.source,
            )


def travel_rests_on(facts: Facts) -> Iterator[Finding]:
    """Is the bridge measured well enough for the travel in hand?"""
    bridge, layout = facts.document.bridge, facts.layout
    doubt = bridge.saddle_forward.plus_minus + bridge.saddle_back.plus_minus
    left = layout.travel.reserve
    if layout.bridge is not None and bridge.saddle_forward.measured and doubt > left >= 0:
        yield Finding(
            code="bridge.travel-uncertain",
            severity="caution",
            features=(),
            value=doubt,
            limit=left,
            message=f"the two ends of the saddles' travel are known to {give_or_take(doubt, 2)} together, and only "
            f"{said(left)} is in hand",
            cure=f"measure both ends of travel again from the {bridge.counted_from} with a depth gauge",
            source=STATED,
        )


def own_limits(facts: Facts) -> Iterator[Finding]:
    """Which limits has the builder set, and does any let work go on where it should not?"""
    own = facts.document.limits.own()
    if not own:
        return
    said, risky = [], []
    for key in own:
        usual = Limit.of(key)
        mine = facts.limit(usual)
        said.append(f"{key}: {mine.words} (usually {usual.words})")
        if _laxer(mine, usual):
            risky.append(key)
    yield Finding(
        code="limits.own",
        severity="note",
        features=(),
        value=float(len(own)),
        limit=None,
        message=f"your own limits hold in place of the usual ones: {'; '.join(said)}"
        + (
            f". {', '.join(risky)} let{'s' if len(risky) == 1 else ''} work go on past where it would usually stop: "
            "at your own risk"
            if risky
            else ""
        ),
        cure="take a limit out of [limits] to go back to the usual one; the reason for each stands in docs/limits.md",
        source=STATED,
    )


def _laxer(mine: Limit, usual: Limit) -> bool:
    """Whether work would go on with a value at which it usually stops."""
    if mine.stop is None or usual.stop is None:
        return False
    return mine.stop < usual.stop if usual.worse == "below" else mine.stop > usual.stop
