"""Rules for the wood that is left: webs, floors, edges."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from math import sqrt

from scribeline.features import BREAK_OUT, Bore, Feature, Pocket, polygon
from scribeline.findings.finding import GEOMETRY, Facts, Finding, Limit
from scribeline.findings.longest import ends_over, longest_screw
from scribeline.job import feature_id
from scribeline.layout import WALL_FAMILIES, Layout, Point3, across_words
from scribeline.lengths import no_less, no_more, put, put_number, said
from scribeline.solid import Outside, Web, web_id

WEB_POCKET = Limit.of("pocket_web")
WEB_BORES = Limit.of("bore_web")
FLOOR_BORE = Limit.of("bore_floor")
FLOOR_POCKET = Limit.of("pocket_floor")
LEAST_THREAD = Limit.of("least_thread")
EDGE = Limit.of("body_edge")
CHEEK = Limit.of("neck_cheek")


def webs(facts: Facts) -> Iterator[Finding]:
    """Does wood enough remain between every two cuts?"""
    return one_of_each_kind(_webs(facts), facts)


def web_limit(a: Feature, b: Feature) -> Limit | None:
    """The usual limit of the wood between two cuts that are not meant to meet; None where another rule looks at it."""
    if _has_a_rule_of_its_own(a, b):
        return None
    return WEB_BORES if isinstance(a, Bore) and isinstance(b, Bore) else WEB_POCKET


def _webs(facts: Facts) -> Iterator[Finding]:
    by_id: dict[str, Feature] = {feature.id: feature for feature in facts.features}
    for web in facts.webs:
        a, b = by_id[web.a], by_id[web.b]
        usual = None if web.on_purpose else web_limit(a, b)
        if usual is None:
            continue
        limit = facts.limit(usual)
        severity = limit.severity(web.mm)
        if severity is None:
            continue
        pair = f"{named(a)} and {named(b)}"
        yield Finding(
            code="wood.run-together" if web.mm == 0 else "wood.thin-web",
            severity=severity,
            of="" if web.overlap else web_id(web.a, web.b),
            held_to=limit.level_id(severity),
            features=(web.a, web.b),
            value=web.mm - web.overlap,
            limit=limit.threshold(severity),
            message=(
                f"{pair} run into each other" + (f" by {said(web.overlap)}" if web.overlap else "")
                if web.mm == 0
                else f"only {said(web.mm)} of wood remains between {pair}"
            )
            + _drift(web.drift),
            cure=_apart_by(limit.caution, a, b, web, facts),
            source=limit.source,
        )


def floors(facts: Facts) -> Iterator[Finding]:
    """Does wood enough remain under every blind hole and cavity?"""
    return one_of_each_kind(_floors(facts), facts)


def floor_limit(cut: Feature) -> Limit | None:
    """The usual limit of the wood between a cut's bottom and the face beyond; None of one that is no blind cut from a face."""
    if cut.face not in {"top", "back"} or (isinstance(cut, Bore) and cut.through):
        return None
    return FLOOR_POCKET if isinstance(cut, Pocket) else FLOOR_BORE


def _floors(facts: Facts) -> Iterator[Finding]:
    by_id: dict[str, Feature] = {feature.id: feature for feature in facts.features}
    thickness = facts.document.body.thickness.mm
    for outside in facts.outside:
        feature = by_id[outside.feature]
        usual = floor_limit(feature)
        if usual is None:
            continue
        limit = facts.limit(usual)
        severity = limit.severity(outside.to_opposite)
        if severity is None:
            continue
        deep = feature.depth if isinstance(feature, Pocket) else feature.deepest.point_reaches
        less = deep - (limit.caution - outside.to_opposite)
        deep, where = _reaches(feature, outside, deep)
        yield Finding(
            code="wood.breaks-through" if outside.to_opposite <= 0 else "wood.thin-floor",
            severity=severity,
            of=f"{feature.id}.to-opposite",
            held_to=limit.level_id(severity),
            features=(feature.id,),
            value=outside.to_opposite,
            limit=limit.threshold(severity),
            message=(
                f"{named(feature)} comes out of the other face by {said(-outside.to_opposite)}: it reaches {said(deep)}{where} "
                f"and the body is {said(thickness)} thick"
                if outside.to_opposite <= 0
                else f"only {said(outside.to_opposite)} of wood remains under {named(feature)}; it reaches {said(deep)}{where} "
                f"of {said(thickness)}"
            )
            + _what_is_left(outside, facts.layout)
            + _drift(outside.drift),
            cure=_shorter(feature, less, deep, facts),
            source=limit.source if outside.to_opposite > 0 else GEOMETRY,
        )


def _reaches(feature: Feature, outside: Outside, deep: float) -> tuple[float, str]:
    """How deep a cut goes where least is left under it, mm; of a floor that leans, at which end."""
    if not isinstance(feature, Pocket) or feature.slope is None or outside.opposite_places is None:
        return deep, ""
    end = "mouth" if feature.slope.angle > 0 else "end wall"
    return feature.depth_at(outside.opposite_places[0].x), f" at its {end}"


def counterbores(facts: Facts) -> Iterator[Finding]:
    """Does every counterbore of a through hole leave wood for the narrower hole to go through?"""
    return one_of_each_kind(_counterbores(facts), facts)


def _counterbores(facts: Facts) -> Iterator[Finding]:
    limit = facts.limit(FLOOR_BORE)
    for bore in facts.features.bores:
        if not bore.through or len(bore.steps) < 2:
            continue
        level = max(bore.axis.z, -bore.axis.z)
        slope = sqrt(max(0.0, 1 - level**2)) / level
        wide, last = bore.steps[-2], bore.deepest
        cone = wide.bit.point if wide.bit.kind == "countersink" else 0.0
        run = last.depth - BREAK_OUT - slope * last.diameter / 2
        left = run - slope * wide.diameter / 2 - wide.depth - cone
        severity = limit.severity(left)
        if severity is None:
            continue
        what = "countersink" if cone else "counterbore"
        yield Finding(
            code="hole.no-shoulder" if left <= 0 else "hole.thin-shoulder",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(bore.id,),
            value=left,
            limit=limit.threshold(severity),
            message=f"the {what} of {named(bore)} comes out of the other side by {said(-left)}: nothing is left for the hole"
            if left <= 0
            else f"the {what} of {named(bore)} leaves only {said(left)} of wood for its hole to pass",
            cure=f"make the {what} {no_less(limit.caution - left)} shallower",
            source=GEOMETRY if left <= 0 else limit.source,
        )


def _what_is_left(outside: Outside, layout: Layout) -> str:
    """Of a layered body which layer is left under a cut; of a carved one where it is thinnest."""
    body, words = layout.body, ""
    if outside.opposite_places is None:
        return words
    heights = sorted(place.z for place in outside.opposite_places)
    if outside.to_opposite > 0 and len(body.layers) > 1:
        left = [layer.name for layer in body.layers if layer.low < heights[1] and layer.high > heights[0]]
        words = f", all of it {left[0]}" if len(left) == 1 else ""
    if not body.is_plain:
        words += f" (least {place_words(outside.opposite_places[0], layout)})"
    return words


def place_words(place: Point3, layout: Layout) -> str:
    """A place in bench words: along from the nut, across, and how deep under the top at the bridge."""
    return f"{from_the_nut(place, layout)} at the bridge"


def from_the_nut(place: Point3, layout: Layout) -> str:
    """A place in bench words: along from the nut, across, and how deep under the top."""
    across = across_words(place.y * layout.treble, 1)
    return f"{said(place.x, 1)} from the nut, {across}, {said(-place.z, 1)} under the top"


def edges(facts: Facts) -> Iterator[Finding]:
    """Does every cut stay inside the body's outline?"""
    return one_of_each_kind(_edges(facts), facts)


def edge_limit(cut: Feature) -> Limit | None:
    """The usual limit of the wood between a cut and the outline; None of one that goes through it."""
    return None if cut.face == "edge" or (isinstance(cut, Pocket) and cut.at_edge) else EDGE


def _edges(facts: Facts) -> Iterator[Finding]:
    by_id: dict[str, Feature] = {feature.id: feature for feature in facts.features}
    limit = facts.limit(EDGE)
    for outside in facts.outside:
        feature = by_id[outside.feature]
        if edge_limit(feature) is None:
            continue
        severity = limit.severity(outside.to_edge)
        if severity is None:
            continue
        yield Finding(
            code="wood.outside-body" if outside.to_edge < 0 else "wood.near-edge",
            severity=severity,
            of=f"{feature.id}.to-edge",
            held_to=limit.level_id(severity),
            features=(feature.id,),
            value=outside.to_edge,
            limit=limit.threshold(severity),
            message=(
                f"{named(feature)} lies outside the body by {said(-outside.to_edge)}"
                if outside.to_edge < 0
                else f"{named(feature)} is {said(outside.to_edge)} from the body's edge"
            )
            + _drift(outside.drift),
            cure="check its position and the outline's place (positions are from the nut, along the centreline)"
            if outside.to_edge < 0
            else f"move it in until {said(limit.caution, None)} of wood remains",
            source=limit.source if outside.to_edge >= 0 else GEOMETRY,
        )


def _drift(mm: float) -> str:
    """What was taken off because a long bit wanders (common practice, no source)."""
    return f", with {said(mm)} taken off for the drift of a long bit" if mm >= 0.005 else ""


def cheeks(facts: Facts) -> Iterator[Finding]:
    """Does wood enough stand on both sides of the neck?"""
    import shapely

    # Held across the neck from the pocket's end wall to where the body begins, but for the last quarter, in which the
    # body's corners are rounded off.
    limit, body = facts.limit(CHEEK), polygon(facts.layout.outline)
    for pocket in facts.features.pockets:
        hollow = polygon(pocket.outline)
        within = hollow.intersection(body)
        if not pocket.at_edge or within.is_empty:
            continue
        first, low, end, high = within.bounds
        wood = shapely.clip_by_rect(
            body, first, low - _AWAY, end, high + _AWAY
        )  # the rest is long, and no matter here
        stations = [end - _STATION * n for n in range(1, int(_HELD * (end - first) / _STATION) + 1)]
        for side in (-1, 1):
            left = []
            for x in stations:
                across = shapely.LineString([(x, low - _AWAY), (x, high + _AWAY)])
                walls = across.intersection(hollow).bounds
                wall = walls[3] if side > 0 else walls[1]
                beside = shapely.LineString([(x, wall), (x, wall + side * _AWAY)]).intersection(wood)
                parts = [
                    part for part in shapely.get_parts(beside) if part.bounds[1] <= wall <= part.bounds[3]
                ]
                left.append((max((part.length for part in parts), default=0.0), x))
            least, x = min(left, default=(limit.caution, 0.0))
            if severity := limit.severity(least):
                name = "treble" if side * facts.layout.treble > 0 else "bass"
                yield Finding(
                    code="neck.no-cheek" if least <= 0 else "neck.thin-cheek",
                    severity=severity,
                    held_to=limit.level_id(severity),
                    features=(pocket.id,),
                    value=least,
                    limit=limit.threshold(severity),
                    message=f"no wood stands on the {name} side of the neck pocket, {said(x, 1)} from the nut"
                    if least <= 0
                    else f"only {said(least)} of wood stands on the {name} side of the neck pocket, {said(x, 1)} from the nut",
                    cure=f"check the heel's width, or widen the outline there until {said(limit.caution, None)} stands "
                    "beside the neck",
                    source=GEOMETRY if least <= 0 else limit.source,
                )


_STATION, _HELD, _AWAY = 2.0, 0.75, 400.0
"""Between stations along the pocket, mm; the share of it that is held; further across than any body reaches, mm."""


def neck_in_the_body(facts: Facts) -> Iterator[Finding]:
    """Does the neck pocket end in the body?"""
    import shapely

    body = polygon(facts.layout.outline)
    for pocket in facts.features.pockets:
        if not pocket.at_edge:
            continue
        _, low, end, high = polygon(pocket.outline).bounds
        if body.covers(shapely.Point(end, (low + high) / 2)):
            continue
        behind = shapely.clip_by_rect(body, end, low, end + 3000.0, high)
        begins = None if behind.is_empty else behind.bounds[0]
        yield Finding(
            code="neck.pocket-off-body",
            severity="stop",
            features=(pocket.id,),
            value=begins and begins - end,
            limit=0.0,
            message="the neck pocket ends "
            + ("behind the body" if begins is None else f"{said(begins - end)} before the body begins")
            + ", so the heel lies in no wood",
            cure="check neck.pocket_end and where the outline lies (body.outline); both are counted from the nut"
            + (
                "" if begins is None else f", and on the neck's way the body begins {said(begins, 1)} from it"
            ),
            source=GEOMETRY,
        )


def open_mouth(facts: Facts) -> Iterator[Finding]:
    """Does the neck pocket run out of the body, so that the heel can go in?"""
    import shapely

    body = polygon(facts.layout.outline)
    for pocket in facts.features.pockets:
        if not pocket.at_edge:
            continue
        mouth_x = min(point.x for point in pocket.outline)
        at_mouth = [point.y for point in pocket.outline if abs(point.x - mouth_x) < 1e-6]
        mouth = shapely.LineString([(mouth_x, min(at_mouth)), (mouth_x, max(at_mouth))]).intersection(body)
        beyond = [x for x, _ in shapely.get_coordinates(body.exterior)]
        if mouth.length < 0.5:
            continue
        across = shapely.box(min(beyond), min(at_mouth), mouth_x, max(at_mouth)).intersection(body)
        left = mouth_x - across.bounds[0]
        if left > 0.05:
            yield Finding(
                code="neck.pocket-closed",
                severity="stop",
                features=(pocket.id,),
                value=left,
                limit=0.0,
                message=f"the neck pocket ends {said(left)} inside the body, and that wood stands where the neck must lie",
                cure=f"set {put('neck.pocket_length', facts.document.neck.pocket_length + left, bound='least')} or more, "
                "so that the "
                "pocket runs out of the body's edge",
                source=GEOMETRY,
            )


def router_passes(facts: Facts) -> Iterator[Finding]:
    """Can a bit of the stated corner radius reach every part of the cavity?"""
    pockets = {pocket.id: pocket for pocket in facts.features.pockets}
    for place in facts.layout.pockets:
        pocket = pockets[feature_id(place.name)]
        # Where the bit's middle can go; the last micrometre lets a slot as wide as the bit pass.
        middle = polygon(place.outline, place.islands).buffer(-(place.corner_radius - 1e-3))
        if (
            not middle.is_empty
            and middle.geom_type == "Polygon"
            and len(middle.interiors) == len(place.islands)
        ):
            continue
        islands = ", between its islands and its walls" if place.islands else ""
        yield Finding(
            code="pocket.bit-does-not-pass",
            severity="stop",
            features=(pocket.id,),
            value=2 * place.corner_radius,
            limit=None,
            message=f"a router bit of {said(2 * place.corner_radius, None)}, which leaves corners of "
            f"{said(place.corner_radius, None)}, does not pass everywhere in the {pocket.in_words}{islands}",
            cure="make its corner_radius half the narrowest place or less, or the cavity wider there",
            source=GEOMETRY,
        )


def router_corners(facts: Facts) -> Iterator[Finding]:
    """Is there a router bit small enough for every cavity's corners?"""
    owned = facts.document.bits.router
    if not owned:
        return
    smallest = min(owned, key=lambda bit: bit.diameter)
    for pocket in facts.features.pockets:
        if pocket.corner_radius < smallest.diameter / 2 - 1e-9:
            yield Finding(
                code="pocket.corner-too-tight",
                severity="caution",
                of=f"{pocket.id}.corner-radius",
                features=(pocket.id,),
                value=pocket.corner_radius,
                limit=smallest.diameter / 2,
                message=f"the {pocket.in_words}'s corners are {said(pocket.corner_radius, None)} and the smallest router bit "
                f"leaves {no_less(smallest.diameter / 2)}",
                cure=f"set {put(pocket_key(pocket, facts, 'corner_radius'), smallest.diameter / 2, bound='least')} or more, or "
                "square the corners with a chisel",
                source=GEOMETRY,
            )


def one_of_each_kind(
    said: Iterator[Finding], facts: Facts, worst: Callable[..., Finding] = min
) -> Iterator[Finding]:
    """A row of holes with one fault is told once, by its worst hole, with all of them named.

    Args:
        said: the findings.
        facts: what they are about.
        worst: `min` where low values are the bad ones, else `max`.
    """
    kinds = {feature.id: "/".join(feature.row) for feature in facts.features}
    alike: dict[tuple[str, ...], list[Finding]] = {}
    for finding in said:
        key = (finding.code, finding.severity, *sorted(kinds[name] for name in finding.features))
        alike.setdefault(key, []).append(finding)
    for several in alike.values():
        told = worst(several, key=lambda finding: finding.value or 0.0)
        if len(several) > 1:
            names = tuple(dict.fromkeys(name for finding in several for name in finding.features))
            told = replace(told, features=names, message=f"{told.message} (the worst of {len(several)} such)")
        yield told


def _has_a_rule_of_its_own(a: Feature, b: Feature) -> bool:
    """Whether another rule looks at the wood between two cuts: that of the row of lips, that of a claw's pilots."""
    families = [cut.family for cut in (a, b) if isinstance(cut, Bore)]
    return families == ["ferrule-hole", "ferrule-hole"] or any(name in WALL_FAMILIES for name in families)


def pocket_key(pocket: Pocket, facts: Facts, what: str) -> str:
    """Where the job states a pocket's depth or corner radius."""
    for number, stated in enumerate(facts.document.pockets, start=1):
        if feature_id(stated.name) == pocket.id:
            return f"pockets[{number}].{what}"
    return {"depth": "neck.pocket_depth"}.get(what, f"neck.{what}")


def named(feature: Feature) -> str:
    """A cut in bench words, with its number where there are several."""
    if isinstance(feature, Pocket):
        return f"the {feature.in_words}"
    if feature.family == "control" or not feature.number:
        return f"the {feature.role}"
    return f"{feature.role} {feature.number}"


def _shorter(feature: Feature, less: float, deep: float, facts: Facts) -> str:
    """How to leave wood under a cut that should reach `less` instead of `deep`, mm."""
    if less <= 0:
        return "the body is too thin for this part"
    if isinstance(feature, Pocket):
        key = pocket_key(feature, facts, "depth")
        return f"set {put(key, less, bound='most')} or less, for a shallower part"
    if feature.screw is not None or feature.family == "bridge-screw":
        return _shorter_screw(feature, facts)
    if feature.family == "string-hole":
        # Depths are drilled to the next half millimetre up.
        share = (feature.deepest.depth - (deep - less) - 0.5) / facts.document.body.thickness.mm
        return f"set {put_number('string_holes.top_share', share, bound='most')} or less"
    return f"drill {no_more(less)} deep at most, for a shorter part"


def _shorter_screw(bore: Bore, facts: Facts) -> str:
    """The one longest length that every rule has nothing against, for the screw that goes into a pilot."""
    key, under_head = (
        ("bridge_screw.length", 0.0) if bore.screw is None else (bore.screw.key, bore.screw.under_head)
    )
    longest, least = longest_screw(facts, key), facts.limit(LEAST_THREAD).caution
    if longest - under_head < least:
        movable = "the plate's screws or what lies under them"
        return f"a screw that clears it would leave less than {said(least, None)} in the wood: move " + (
            movable if bore.family == "bridge-screw" else "it or what lies under it"
        )
    return f"use screws of {no_more(longest)} or shorter"


def _apart_by(wanted: float, a: Feature, b: Feature, web: Web, facts: Facts) -> str:
    """How to leave `wanted` between two cuts, mm."""
    move = f"move or shorten one of them until {said(wanted, None)} of wood remains"
    if isinstance(a, Pocket) and isinstance(b, Pocket):
        return move if web.mm else f"{move}, or say in the job that they are meant to meet (opens_into)"
    screw, other = (a, b) if isinstance(a, Bore) and a.family == "bridge-screw" else (b, a)
    if isinstance(screw, Bore) and screw.family == "bridge-screw" and ends_over(screw, other, web):
        return f"{_shorter_screw(screw, facts)}, or {move}"
    return move
