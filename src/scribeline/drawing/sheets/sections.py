"""The side section through the bridge at full size."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.drawing.face import text_width
from scribeline.drawing.marks import paragraph
from scribeline.drawing.section import Loop, Section, lies_in, section, silhouette
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    DIMENSION,
    HIDDEN,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    PHANTOM,
    THIN,
    Item,
    Leader,
    Line,
    Path,
    Point,
    Text,
)
from scribeline.drawing.sheets.cutting import Paper, break_line, hatched, wood_along
from scribeline.drawing.sheets.figures import measured
from scribeline.drawing.sheets.office import Office, Page, full_size_bar
from scribeline.drawing.views import BRIDGE
from scribeline.features import Bore, Pocket, ferrules_of, slope_words
from scribeline.layout import ANCHORS, StringPath, on_centreline, side_words
from scribeline.lengths import both_units
from scribeline.plan import Plan
from scribeline.steps import balloon


def section_pages(office: Office) -> list[Page]:
    """Nothing when the bridge has no place."""
    if office.plan.layout.bridge is None or not office.plan.features.family("string-hole"):
        return []
    return [_whole(office)]


def cut_string(plan: Plan) -> tuple[StringPath, Bore]:
    """The string the section runs along: one whose hole shares its plane with the ground wire, or the middle one."""
    holes = plan.features.family("string-hole")
    pairs = list(zip(plan.layout.strings, holes, strict=True))
    for _, hole in pairs:
        if any(lies_in(wire, hole.at.y) for wire in plan.features.family("ground-wire")):
            return next(pair for pair in pairs if pair[1] is hole)
    return min(pairs, key=lambda pair: abs(pair[1].at.y))


def cut_reach(plan: Plan) -> tuple[float, float]:
    """From where to where along the instrument the section is shown, mm."""
    bridge = plan.layout.bridge
    assert bridge is not None
    _, hole = cut_string(plan)
    return bridge.nearest - 56.0, max(bridge.furthest, hole.at.x) + 16.0


def _hardware(plan: Plan, string: StringPath, hole: Bore, paper: Paper) -> list[Item]:
    """Bridge, saddle and ferrule as parts in place, and the string through them."""
    guide, bridge = plan.job.document.bridge.guide, plan.layout.bridge
    assert bridge is not None
    (under, thick), t = bridge.heights, plan.layout.thickness
    half = None if guide is None else guide.mm / 2
    front, tail = max(bridge.nearest, paper.low), min(bridge.furthest, paper.high)
    items: list[Item] = []
    pieces = ((front, tail),) if half is None else ((front, hole.at.x - half), (hole.at.x + half, tail))
    for a, b in pieces:
        if a < b:
            ring = ((a, under), (b, under), (b, thick), (a, thick))
            items.append(Path(PHANTOM, paper.loop(ring), closed=True, ref=BRIDGE))
    x, _, z = string.saddle
    if paper.low < x - 4.0:
        saddle = ((x - 3.0, thick), (x - 3.0, z - 2.0), (x, z), (x + 5.0, thick))
        items.append(Path(PHANTOM, paper.loop(saddle), ref=f"saddle-{string.no}"))
        slope = (z - string.nut.z) / (x - string.nut.x)
        start = (paper.low - 6.0, z + slope * (paper.low - 6.0 - x))
        run = (start, (x, z), (hole.at.x, 0.0 if half is None else thick), (hole.at.x, -t + 1.0))
        items.append(Path(THIN, paper.loop(run), ref=f"string-{string.no}"))
    return [*items, *_ferrule(plan, hole, paper)]


def _ferrule(plan: Plan, hole: Bore, paper: Paper) -> list[Item]:
    ferrule, t = ferrules_of(plan.job.document), plan.layout.thickness
    partner = _partner(plan, hole)
    if partner is None:
        return []
    seat = -t + partner.steps[0].depth
    lip, body, x = ferrule.lip_diameter.mm / 2, ferrule.body_diameter.mm / 2, hole.at.x
    ring = (
        (x - lip, seat - ferrule.lip_height.mm),
        (x + lip, seat - ferrule.lip_height.mm),
        (x + lip, seat),
        (x + body, seat),
        (x + body, seat + ferrule.body_length.mm),
        (x - body, seat + ferrule.body_length.mm),
        (x - body, seat),
        (x - lip, seat),
    )
    return [Path(PHANTOM, paper.loop(ring), closed=True, ref="ferrule")]


def _partner(plan: Plan, hole: Bore) -> Bore | None:
    return next((bore for bore in plan.features.family("ferrule-hole") if bore.id in hole.meets), None)


def _projected(plan: Plan, cut: Section, paper: Paper) -> list[Item]:
    """The bridge's anchors and, where it is off the plane, the ground-wire hole, as hidden lines."""
    items: list[Item] = []
    seen: set[tuple[Loop, ...]] = set()
    for bore in plan.features.bores:
        off = bore.family in ANCHORS or (bore.family == "ground-wire" and not lies_in(bore, cut.y))
        outline = (
            tuple(tuple((round(x, 6), round(z, 6)) for x, z in loop) for loop in silhouette(bore))
            if off
            else ()
        )
        if (
            outline
            and outline not in seen
            and all(paper.low < x < paper.high for loop in outline for x, _ in loop)
        ):
            seen.add(outline)
            items += (Path(HIDDEN, paper.loop(loop), closed=True, ref=bore.id) for loop in outline)
    return items


def _steps(plan: Plan, cut: Section, paper: Paper) -> list[Item]:
    """Edges seen behind the cut: where a bore changes its diameter."""
    items: list[Item] = []
    for bore in plan.features.bores:
        if bore.is_upright and cut.cut(bore.id) is not None and abs(bore.at.y - cut.y) < 1e-6:
            for step in bore.steps[:-1]:
                z = bore.along(step.depth).z
                r = step.diameter / 2
                items.append(Line(OUTLINE, paper.at(bore.at.x - r, z), paper.at(bore.at.x + r, z), bore.id))
    return items


def _axis(paper: Paper, x: float, thickness: float) -> Line:
    return Line(CENTRE, paper.at(x, 4.0), paper.at(x, -thickness - 4.0))


def _note(tip: Point, elbow: Point, words: str, small: str = "", ref: str = "") -> Leader:
    return Leader(DIMENSION, tip, elbow, words, small, ref=ref)


def _whole(office: Office) -> Page:
    plan, layout = office.plan, office.plan.layout
    bridge = layout.bridge
    assert bridge is not None
    string, hole = cut_string(plan)
    cut = section(plan.features, layout.outline, layout.thickness, hole.at.y)
    left, bottom, right, top = office.window
    low, high = cut_reach(plan)
    middle = (left + right) / 2 - 6.0
    face = min((top + bottom) / 2 + layout.thickness / 2 - 4.0, top - 56.0)
    paper = Paper(middle - (high - low) / 2, face, 1.0, low, high)
    items = [
        *hatched(wood_along(office, cut), paper, layout.body, ((0.0, cut.y), (1.0, 0.0))),
        break_line(paper, low, layout.thickness),
        break_line(paper, high, layout.thickness),
        *_steps(plan, cut, paper),
        *_projected(plan, cut, paper),
        *_hardware(plan, string, hole, paper),
        _axis(paper, hole.at.x, layout.thickness),
        *_depths(plan, cut, hole, paper),
        *_labels(plan, cut, string, hole, paper),
    ]
    items += paragraph(_heading(plan, string, hole), (left, top), right - left, bold=True).items
    items += full_size_bar(office)
    return Page("Section through the bridge", tuple(items), "section from the side", "1:1 (full size)")


def _heading(plan: Plan, string: StringPath, hole: Bore) -> str:
    across = hole.at.y * plan.layout.treble
    side = side_words(across)
    where = side if on_centreline(across) else f"{_told(abs(across), plan)} {side} of the centreline"
    return (
        f"A-A: cut along string {string.no} ({string.note}) through {balloon(hole.id)}, {where}; the neck lies to "
        "the left"
    )


def _depths(plan: Plan, cut: Section, hole: Bore, paper: Paper) -> list[Item]:
    """Depths from each face, to the right of the work; the pocket's, inside it."""
    t, partner = plan.layout.thickness, _partner(plan, hole)
    edge = paper.at(paper.high, 0.0)[0]
    x = hole.at.x
    items: list[Item] = [
        measured(
            paper.at(x + hole.widest / 2, 0.0),
            paper.at(x + hole.widest / 2, -hole.deepest.depth),
            (edge + 9.0, 0.0),
            hole.deepest.depth,
            "y",
            ref=hole.id,
            unit=plan.unit,
        ),
        measured(
            paper.at(paper.high, 0.0),
            paper.at(paper.high, -t),
            (edge + 37.0, 0.0),
            t,
            "y",
            ref="outline",
            unit=plan.unit,
        ),
    ]
    if partner is not None:
        r = partner.deepest.diameter / 2
        items.append(
            measured(
                paper.at(x + r, -t),
                paper.at(x + r, -t + partner.deepest.depth),
                (edge + 23.0, 0.0),
                partner.deepest.depth,
                "y",
                ref=partner.id,
                unit=plan.unit,
            )
        )
    return [*items, *_pocket_depths(plan, cut, paper)]


def _pocket_depths(plan: Plan, cut: Section, paper: Paper) -> Iterator[Item]:
    """Depths of the pockets that are cut whole, to the left of the work."""
    t, u = plan.layout.thickness, paper.at(paper.low, 0.0)[0] - 10.0
    for pocket in plan.features.pockets:
        met = cut.cut(pocket.id)
        xs = [p[0] for loop in met.loops for p in loop] if met is not None else []
        if not xs or min(xs) <= paper.low or max(xs) >= paper.high:
            continue
        deep = pocket.depth_at(min(xs))
        face, floor = (0.0, -deep) if pocket.face == "top" else (-t, deep - t)
        start, foot = paper.at(paper.low, face), paper.at(min(xs), floor)
        yield measured(start, foot, (u, 0.0), deep, "y", ref=pocket.id, unit=plan.unit)
        u -= 14.0


def _labels(plan: Plan, cut: Section, string: StringPath, hole: Bore, paper: Paper) -> list[Item]:
    """What everything is, on leaders above and below the work."""
    saddle, above = paper.at(string.saddle.x, string.saddle.z), paper.at(0, 0)[1]
    height = f"{_told(string.saddle.z, plan)} over the body"
    items: list[Item] = [_note(saddle, (saddle[0] + 14.0, above + 24.0), "string leaves the saddle", height)]
    items += _hole_notes(plan, hole, paper)
    items += _wire_notes(plan, cut, paper)
    for pocket in plan.features.pockets:
        if cut.cut(pocket.id) is not None:
            items += _pocket_name(pocket, cut, paper, plan.layout.thickness)
    return items


def _hole_notes(plan: Plan, hole: Bore, paper: Paper) -> Iterator[Leader]:
    """String hole above the work; pilots and ferrule hole below it."""
    bridge, t = plan.layout.bridge, plan.layout.thickness
    assert bridge is not None
    above, under = paper.at(0, 0)[1], paper.at(0, -t)[1]
    right = paper.at(max(bridge.furthest, hole.at.x), 0)[0] + 4.0
    big, small = both_units(hole.widest, plan.unit)
    tip = paper.at(hole.at.x + hole.widest / 2, -5.0)
    yield _note(tip, (right, above + 14.0), f"{balloon(hole.id)}: Ø {big}", small, hole.id)
    for screw in plan.features.anchors[:1]:
        size = f"Ø {_bare(screw.widest, plan)} × {_told(screw.deepest.depth, plan)} deep, beside the cut"
        tip = paper.at(screw.at.x, -screw.deepest.depth)
        yield _note(tip, (right, under - 12.0), _in_words(screw), size, screw.id)
    partner = _partner(plan, hole)
    if partner is not None:
        lip, body = partner.steps[0], partner.deepest
        lip_size = f"{_bare(lip.diameter, plan)} × {_told(lip.depth, plan)}"
        words = f"{balloon(partner.id)}: Ø {_told(body.diameter, plan)}, lip Ø {lip_size}"
        tip = paper.at(hole.at.x - body.diameter / 2, -t + (lip.depth + body.depth) / 2)
        elbow = (paper.at(hole.at.x - lip.diameter / 2, 0)[0] - 14.0, under - 12.0)
        yield _note(tip, elbow, words, "", partner.id)


def _in_words(anchor: Bore) -> str:
    """The holes that hold the bridge, by what goes into them."""
    return f"{anchor.family} pilots" if anchor.screw is not None else f"{anchor.role}s"


def _told(mm: float, plan: Plan) -> str:
    """A length in the job's unit alone, for a note on a leader."""
    return both_units(mm, plan.unit)[0]


def _bare(mm: float, plan: Plan) -> str:
    return _told(mm, plan).rpartition(" ")[0]


def _wire_notes(plan: Plan, cut: Section, paper: Paper) -> Iterator[Leader]:
    """The ground-wire hole, and whether it is cut or only projected."""
    for wire in plan.features.family("ground-wire"):
        how = "cut along its axis" if lies_in(wire, cut.y) else "projected, beside the cut"
        words = f"{balloon(wire.id)}: Ø {_told(wire.widest, plan)}, {slope_words(wire)}"
        on_axis = wire.along(wire.deepest.depth * 0.3)
        tip = paper.at(on_axis.x, on_axis.z + wire.widest / 2)
        elbow = (paper.at(wire.at.x - 20.0, 0)[0], paper.at(0, 0)[1] + 39.0)
        yield _note(tip, elbow, words, f"{_told(wire.deepest.depth, plan)} along the bit; {how}", wire.id)


def _pocket_name(pocket: Pocket, cut: Section, paper: Paper, t: float) -> list[Item]:
    met = cut.cut(pocket.id)
    assert met is not None
    xs = [p[0] for loop in met.loops for p in loop]
    low, high = max(min(xs), paper.low), min(max(xs), paper.high)
    fits = (
        size
        for size in (ACTED_ON_LETTERING, LEAST_LETTERING)
        if text_width(pocket.role, size) < high - low - 3.0
    )
    size = next(fits, None)
    if size is None:
        return []
    z = -pocket.depth_at((low + high) / 2) if pocket.face == "top" else -t
    at = paper.at((low + high) / 2, z)
    return [Text(LETTERING, (at[0], at[1] + 2.2), pocket.role, size, "middle", ref=pocket.id)]
