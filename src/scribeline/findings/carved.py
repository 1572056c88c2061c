"""Rules for a carved and layered body: wood to bevels and rounded edges, glue lines, the ground under the bridge."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from scribeline.features import Bore, Feature, Pocket
from scribeline.findings.finding import GEOMETRY, Facts, Finding, Limit
from scribeline.findings.wood import (
    FLOOR_BORE,
    FLOOR_POCKET,
    LEAST_THREAD,
    named,
    one_of_each_kind,
    place_words,
)
from scribeline.layout import (
    ARCH,
    GROUND,
    BodyForm,
    Layer,
    Layout,
    Point,
    Point3,
    bevel_id,
    shapes_on,
    step_id,
)
from scribeline.lengths import no_less, said

CARVED_LEFT = Limit.of("carved_left")
GLUE_LINE = Limit.of("glue_line")
BRIDGE_GROUND = Limit.of("bridge_ground")
FERRULE_GROUND = Limit.of("ferrule_ground")


def surfaces(facts: Facts) -> Iterator[Finding]:
    """Does wood enough remain between every cut and the bevels, rounded edges and arches it is not cut from?"""
    return one_of_each_kind(_surfaces(facts), facts)


def _surfaces(facts: Facts) -> Iterator[Finding]:
    by_id: dict[str, Feature] = {feature.id: feature for feature in facts.features}
    for outside in facts.outside:
        feature = by_id[outside.feature]
        if isinstance(feature, Bore) and feature.through:
            continue
        limit = facts.limit(FLOOR_POCKET if isinstance(feature, Pocket) else FLOOR_BORE)
        for gap in outside.surfaces:
            severity = limit.severity(gap.mm)
            if severity is None:
                continue
            where = place_words(gap.places[0], facts.layout)
            yield Finding(
                code="wood.breaks-surface" if gap.mm <= 0 else "wood.thin-surface",
                severity=severity,
                held_to=limit.level_id(severity),
                features=(feature.id,),
                concerns=(feature.id, *shapes_on(facts.layout.body, gap.face)),
                value=gap.mm,
                limit=limit.threshold(severity),
                message=f"{named(feature)} comes out of {gap.surface} by {said(-gap.mm)}, {where}"
                if gap.mm <= 0
                else f"only {said(gap.mm)} of wood remains between {named(feature)} and {gap.surface}, {where}",
                cure=f"carve less there, move the cut or make it shallower, until {said(limit.caution, None)} of wood remains",
                source=GEOMETRY if gap.mm <= 0 else limit.source,
            )


def wood_left(facts: Facts) -> Iterator[Finding]:
    """Does what is carved leave wood enough between top and back?"""
    limit, form = facts.limit(CARVED_LEFT), facts.layout.body
    for name, shapes, place, left in _thinnest(form):
        severity = limit.severity(left)
        if severity is None:
            continue
        where = "" if place is None else f", {place_words(place, facts.layout)}"
        yield Finding(
            code="carved.goes-through" if left <= 0 else "carved.thin",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(),
            concerns=shapes,
            value=left,
            limit=limit.threshold(severity),
            message=f"{name} goes through the body, {said(-left)} beyond its other face{where}"
            if left <= 0
            else f"{name} leaves only {said(left)} of wood to the other face{where}",
            cure=f"carve {no_less(limit.caution - left)} less there",
            source=GEOMETRY if left <= 0 else limit.source,
        )


def _thinnest(form: BodyForm) -> Iterator[tuple[str, tuple[str, ...], Point3 | None, float]]:
    """Everything carved: its name, ids of what makes it, where it is deepest, and what it leaves to the other face, mm."""
    for area in form.areas:
        yield f"the top's {area.name}", (step_id(area), GROUND), None, form.thickness + area.height
    heights = [*(height for _, height in form.profile), *(line.height for line in form.contours)]
    if heights:
        yield "the arched top", (ARCH,), None, form.thickness + min(heights)
    square = replace(form, round_top=0.0, round_back=0.0)  # a roundover has its own rules
    for bevel in form.bevels:
        corners = [corner for part in bevel.parts for corner in part]
        if not corners:
            continue
        sign = 1 if bevel.face == "top" else -1
        deepest = min(corners, key=lambda corner: sign * bevel.height(corner))
        height = bevel.height(deepest)
        other = square.back_at(deepest) if bevel.face == "top" else square.top_at(deepest)
        yield (
            f"the {bevel.name} bevel",
            (bevel_id(bevel),),
            Point3(*deepest, height),
            sign * (height - other),
        )


def glue_lines(facts: Facts) -> Iterator[Finding]:
    """Does a blind hole or a cavity end on a glue line, or so near that only a skin remains?"""
    return one_of_each_kind(_glue_lines(facts), facts)


def _glue_lines(facts: Facts) -> Iterator[Finding]:
    lines = facts.layout.body.glue_lines
    limit = facts.limit(GLUE_LINE)
    if not lines:
        return
    through = {o.feature for o in facts.outside if o.to_opposite <= 0}
    for feature in facts.features:
        end = _ends_at(feature, facts.layout.thickness)
        if end is None or feature.id in through or _runs_on(feature, facts):
            continue
        line = min(lines, key=lambda z: abs(z - end))
        off = abs(end - line)
        severity = limit.severity(off)
        if severity is None:
            continue
        above, below = _either_side(facts.layout, line)
        side = "above" if end > line else "below"
        how = f"{said(off)} {side}" if off >= 0.005 else "on"
        yield Finding(
            code="wood.glue-line",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(feature.id,),
            value=off,
            limit=limit.threshold(severity),
            message=f"{named(feature)} ends {how} the glue line between {above.name} and {below.name}, which lies "
            f"{said(-line)} under the top",
            cure=f"end it {said(limit.caution, None)} or more clear of the glue, or end the cut well inside one layer",
            source=limit.source,
        )


def _ends_at(feature: Feature, thickness: float) -> float | None:
    """The height at which a cut square to the faces ends, mm; None for any other."""
    if isinstance(feature, Pocket):
        return -feature.depth if feature.face == "top" else feature.depth - thickness
    if feature.through or not feature.is_upright:
        return None
    return feature.along(feature.deepest.depth).z


def _runs_on(feature: Feature, facts: Facts) -> bool:
    """Whether a hole runs into another cut on purpose, so that its end is no end."""
    return isinstance(feature, Bore) and bool(
        feature.meets or any(feature.id in other.meets for other in facts.features)
    )


def _either_side(layout: Layout, line: float) -> tuple[Layer, Layer]:
    layers = layout.body.layers
    k = next(i for i, layer in enumerate(layers) if layer.low == line)
    return layers[k], layers[k + 1]


def thread_in_one_layer(facts: Facts) -> Iterator[Finding]:
    """Has every screw thread enough in one layer, whatever it bites in the next?"""
    return one_of_each_kind(_thread(facts), facts)


def _thread(facts: Facts) -> Iterator[Finding]:
    layers = facts.layout.body.layers
    limit = facts.limit(LEAST_THREAD)
    if len(layers) < 2 or facts.layout.body.core is not None:
        return
    for bore in facts.features.bores:
        if bore.screw is None or not bore.is_upright:
            continue
        ends = sorted((bore.at.z, bore.along(bore.deepest.depth).z))
        bites = [max(0.0, min(ends[1], layer.high) - max(ends[0], layer.low)) for layer in layers]
        best = max(bites)
        severity = limit.severity(best)
        if severity is None or sum(bite > 0 for bite in bites) < 2:
            continue
        layer = layers[bites.index(best)]
        yield Finding(
            code="holding.thread-parted",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(bore.id,),
            value=best,
            limit=limit.threshold(severity),
            message=f"{named(bore)} bites {said(best)} at the most in one layer ({layer.name}); the rest is beyond the glue",
            cure=f"use a screw that has {said(limit.caution, None)} or more of thread in one layer",
            source=limit.source,
        )


def bridge_ground(facts: Facts) -> Iterator[Finding]:
    """Is the top level under the bridge, at the height from which its numbers count?"""
    bridge = facts.layout.bridge
    if bridge is None or facts.layout.body.is_plain:
        return
    limit = facts.limit(BRIDGE_GROUND)
    heights = [facts.layout.top_at(place) for place in bridge.rests_on]
    worst = max(heights, key=abs)
    severity = limit.severity(abs(worst))
    if severity is None:
        return
    yield Finding(
        code="bridge.uneven-ground",
        severity=severity,
        held_to=limit.level_id(severity),
        features=(),
        concerns=(*(facts.by_the_bridge or ()), *shapes_on(facts.layout.body, "top")),
        value=abs(worst),
        limit=limit.threshold(severity),
        message=f"the top lies {said(abs(worst))} {'over' if worst > 0 else 'under'} 0 beneath the {bridge.title}, where every "
        "height of the job is counted from",
        cure=f"level the top under the {bridge.noun} at height 0: change the profile, contours, areas or bevels, or the "
        f"{bridge.noun}'s place",
        source=limit.source,
    )


def ferrule_ground(facts: Facts) -> Iterator[Finding]:
    """Is the back level round every ferrule, from where the depths of its hole count?"""
    return one_of_each_kind(_ferrule_ground(facts), facts)


def _ferrule_ground(facts: Facts) -> Iterator[Finding]:
    layout = facts.layout
    if layout.body.is_level("back"):
        return
    limit = facts.limit(FERRULE_GROUND)
    for bore in facts.features.family("ferrule-hole"):
        half = bore.widest / 2
        round_it = [(0.0, 0.0), (half, 0.0), (-half, 0.0), (0.0, half), (0.0, -half)]
        gone = max(layout.back_at(Point(bore.at.x + x, bore.at.y + y)) - bore.at.z for x, y in round_it)
        if severity := limit.severity(gone):
            yield Finding(
                code="ferrules.uneven-ground",
                severity=severity,
                held_to=limit.level_id(severity),
                features=(bore.id,),
                value=gone,
                limit=limit.threshold(severity),
                message=f"the back is carved away by {said(gone)} at {named(bore)}, whose depths are counted from the level back",
                cure="keep bevels and the roundover clear of the ferrules (body.bevels, body.roundover)",
                source=limit.source,
            )
