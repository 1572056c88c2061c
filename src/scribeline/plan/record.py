"""plan.json: the plan as plain numbers for other programs, millimetres and degrees (schema 1)."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from math import degrees, radians
from typing import Any

from scribeline.features import Bore, Feature, Pocket, Reason, Workpiece, setting_of
from scribeline.findings import Finding, may_happen
from scribeline.layout import (
    BodyForm,
    BridgePlace,
    Fret,
    Layout,
    StringPath,
    blank_needed,
    board_made,
    carve_of,
    channels,
    nut_made,
    stations,
)
from scribeline.lengths import in_unit
from scribeline.operations import Operation
from scribeline.plan.heights import Way, heights
from scribeline.plan.named import quantities, quantity_record
from scribeline.plan.whole import Plan
from scribeline.solid import Outside, Web
from scribeline.solid.neck import neck_wood
from scribeline.solid.neck_wood import least_wood
from scribeline.solid.tunnels import Course, angle_deg, heading_deg
from scribeline.steps import Card, Gate, balloon
from scribeline.strings import SHOP_KEYS

SCHEMA = 1

_PLACES = 5
"""Decimals kept: a hundredth of a micrometre, far below anything a shop can see, and stable text."""


def as_json(plan: Plan) -> str:
    """The record as text, each number with a name on a line of its own; the same plan always gives the same bytes."""
    whole = json.dumps(record(plan, with_quantities=False), indent=1, ensure_ascii=False, allow_nan=False)
    named = ",\n".join(
        f"  {json.dumps(name)}: {json.dumps(quantity_record(each), ensure_ascii=False, allow_nan=False)}"
        for name, each in quantities(plan).items()
    )
    text = whole.removesuffix("\n}") + f',\n "quantities": {{\n{named}\n }}\n}}\n'
    # What keeps a figure and its unit together for people is no business of a program that looks a name up.
    return text.replace("\u00a0", " ")


def record(plan: Plan, *, with_quantities: bool = True) -> dict[str, Any]:
    """The plan as plain lists, dicts and rounded numbers.

    Keys may be added; none changes its meaning without a new schema number. Strings are numbered from the
    treble. A bore's `at` is where its axis meets its face, `axis` points into the wood, `steps` are widest first,
    each depth measured along the axis to the end of that full diameter; `depth_stop` is the travel from the bit's
    point touching the face, `stop` what is set as the press stands at that moment and `zeroed_on` the surface it
    counts from. `under` and `under_point` are the wood straight ahead of the full diameter and of the point when that
    step comes (null where it comes out), `floor` is the least wood under a cut in the finished body. A pocket whose floor
    leans has its `slope`: `depth` is that at `x`. `form` is what the body is carved to. `neck` is the heel, in the same
    frame as it lies in its pocket, with its pilots. `carve` is its back where it is carved here, in its own frame. `head`
    is the head in the frame of its own face, x from the nut's line towards the tail. `board` and `nut` are there where
    they are made here; a nut's places `along` run from its bass end.
    `shop` is there where the saddle places rest on finished instruments: how many, which are doubted, the three numbers
    learnt.
    `bridge` is the plate as it stands: `plate` its corners, `x` and `y` the middle of its front edge,
    `yaw_deg` counter-clockwise seen from the front, null where nothing holds it and the saddle window is empty; `held`
    says which drilled holes hold it and how far each lies off the plate's own. `heights` are over the top under the bridge:
    what each saddle must hold its string at, and what one number of the chain would have to be for the saddles to stand at
    `closed_at` in the middle (docs/heights.md); null where the strings have no place. `made` lists the cuts that are made
    already: they stand as cut, and `moved` says what the job would now have otherwise (`was` as cut, `now` as the job has
    it; both null when it has no such cut any more).
    A finding's `concerns` are the cuts and shapes that wait while it is a stop (null: all of them), its `override` says why
    the builder goes on against it; a step's `stopped_by` are the codes of the stops that keep it from being begun,
    `forbidding` those of the stops that forbid paper. `quantities` are the numbers with a name, not rounded, each with its
    formula and its inputs (docs/quantities.md); left out where they are not asked for.
    """
    document, layout = plan.job.document, plan.layout
    whole = {
        "schema": SCHEMA,
        "job": {
            "name": document.name,
            "handed": document.handed,
            "revision": document.revision,
            "date": None if document.date is None else document.date.isoformat(),
            "units": document.units,
        },
        "body": {
            "thickness": layout.thickness,
            "outline": layout.outline,
            "outline_source": plan.job.outline.source,
            "timber": document.body.timber.key,
            "form": _form(layout.body),
        },
        "frets": [_fret(fret) for fret in layout.frets],
        "strings": [_string(string, fanned=layout.is_fanned) for string in layout.strings],
        **_shop(plan),
        "bridge": _bridge(plan),
        "heights": _heights(plan),
        "bores": [{**_bore(plan, bore), "floor": plan.floors[bore.id]} for bore in plan.features.bores],
        "pockets": [
            {**_pocket(plan, pocket), "floor": plan.floors[pocket.id]} for pocket in plan.features.pockets
        ],
        "neck": _neck(plan),
        **_carve(plan),
        **({} if plan.head is None else {"head": _head(plan, plan.head)}),
        **_made_for_the_neck(plan),
        "webs": [_web(web) for web in plan.webs],
        "outside": [_outside(outside) for outside in plan.outside],
        "measurables": [
            {
                "id": m.id,
                "value": m.value,
                "sd": m.sd,
                "low": m.low,
                "high": m.high,
                "how": in_unit(m.how, "mm"),
                **_read(plan, m.id),
            }
            for m in plan.measurables
        ],
        "findings": [finding_record(finding) for finding in plan.findings],
        "forbidding": [finding.code for finding in plan.forbidding],
        "operations": list(_operations(plan)),
        "steps": [
            {**_step(card), "stopped_by": [stop.code for stop in plan.stopped.get(card.id, ())]}
            for card in plan.cards
        ],
        "moved": [
            {"feature": m.feature, "step": m.step, "what": m.what, "was": m.was, "now": m.now}
            for m in plan.moved
        ],
        "made": sorted(plan.made),
        "tunnels": tunnel_record(plan),
    }
    rounded: dict[str, Any] = _rounded(whole)
    if with_quantities:
        rounded["quantities"] = {name: quantity_record(each) for name, each in quantities(plan).items()}
    return rounded


def finding_record(finding: Finding) -> dict[str, Any]:
    """One finding as plain values."""
    return {
        "code": finding.code,
        "severity": finding.severity,
        "features": list(finding.features),
        "value": _rounded(finding.value),
        "limit": _rounded(finding.limit),
        "value_id": finding.value_id,
        "limit_id": finding.limit_id,
        "message": finding.message,
        "cure": finding.cure,
        "source": finding.source,
        "concerns": None if finding.waiting is None else list(finding.waiting),
        "override": None
        if finding.override is None
        else {
            "reason": finding.override.reason,
            "by": finding.override.by,
            "at": finding.override.at.isoformat(),
            "risk": may_happen(finding.code),
        },
    }


def tunnel_record(plan: Plan) -> list[dict[str, Any]]:
    """Every tunnel asked for: the best way, other ways, or which limit would have to give and by how much."""
    return [
        {
            "id": tunnel.place.id,
            "name": tunnel.place.name,
            "into": tunnel.place.into,
            "stated": tunnel.stated,
            "best": None if tunnel.course is None else _course(tunnel.course, plan.layout.treble),
            "others": [_course(course, plan.layout.treble) for course in tunnel.others],
            "leaves": None
            if tunnel.leaves is None
            else {"at": _rounded(tunnel.leaves[0]), "after": _rounded(tunnel.leaves[1])},
            "relaxed": [
                {
                    "limit": each.kind,
                    "by": _rounded(each.by),
                    "to": _rounded(each.to),
                    "way": _course(each.course, plan.layout.treble),
                }
                for each in tunnel.relaxed
            ],
        }
        for tunnel in plan.tunnels
    ]


def _course(course: Course, treble: int) -> dict[str, Any]:
    sine = abs(sum(a * n for a, n in zip(course.axis, course.normal, strict=True)))
    whole = {
        "start": course.start,
        "axis": course.axis,
        "end": course.end,
        "angle_deg": angle_deg(course),
        "heading_deg": heading_deg(course, treble),
        "to_wall": course.to_wall,
        "depth": course.depth,
        "bit_mark": course.depth + course.bit.point,
        "bit": course.bit.name,
        "bit_owned": course.bit.owned,
        "bit_length": course.bit_length,
        "bit_outside": course.outside,
        "mouth": [course.bit.diameter / max(sine, 1e-9), course.bit.diameter],
        "cover": course.cover,
        "nearest": course.nearest,
    }
    rounded: dict[str, Any] = _rounded(whole)
    return rounded


def _form(form: BodyForm) -> dict[str, Any]:
    """The surfaces the body is carved to, as `layout.surfaces` says: heights count from the top at the bridge."""
    return {
        "areas": [{"outline": area.outline, "height": area.height} for area in form.areas],
        "profile": form.profile,
        "contours": [{"outline": line.outline, "height": line.height} for line in form.contours],
        "bevels": [
            {"face": bevel.face, "at": bevel.at, "outward": bevel.outward, "parts": bevel.parts}
            for bevel in form.bevels
        ],
        "round_top": form.round_top,
        "round_back": form.round_back,
    }


def _fret(fret: Fret) -> dict[str, Any]:
    """A fret in the body's frame; on a leaning neck also where its slot is sawn."""
    leaning = {} if fret.along == fret.x else {"along": fret.along}
    return {"n": fret.n, "x": fret.x, "treble": fret.treble, "bass": fret.bass} | leaning


def _string(string: StringPath, *, fanned: bool) -> dict[str, Any]:
    own = {"scale": string.scale, "frets": string.frets} if fanned else {}
    return own | {
        "no": string.no,
        "note": string.note,
        "gauge": string.gauge,
        "nut": string.nut,
        "saddle": string.saddle,
        "compensation": string.setback,
        "compensation_sd": string.setback_sd,
        "tension_n": string.tension_n,
        "edge_margin": [{"fret": m.fret, "mm": m.centre, "side_mm": m.side} for m in string.margins],
    }


def _units(place: BridgePlace) -> list[dict[str, Any]]:
    """A bridge's single units, treble first."""
    return [
        {"id": unit.id, "front": unit.front, "turn_deg": degrees(unit.turn), "outline": unit.outline}
        for unit in place.units
    ]


def _shop(plan: Plan) -> dict[str, Any]:
    """What the saddle places rest on, where that is the shop's own records."""
    shop = plan.layout.stringing.shop
    if not shop.records:
        return {}
    return {
        "shop": {
            "records": shop.records,
            "doubted": shop.doubted,
            "hand": shop.hand or None,
            "learnt": {
                key: {"value": shop.estimate(key).value, "sd": shop.estimate(key).sd} for key in SHOP_KEYS
            },
        }
    }


def _bridge(plan: Plan) -> dict[str, Any]:
    layout: Layout = plan.layout
    bridge = plan.job.document.bridge
    window = layout.window
    place, held, travel = layout.bridge, layout.held, layout.travel
    open_window = layout.stringing.is_placed and not window.is_empty
    return {
        "kind": bridge.kind,
        "x": None if place is None else place.middle.x,
        "y": None if place is None else place.middle.y,
        "yaw_deg": None if place is None else degrees(place.turn),
        "plate": place.footprint if place is not None and place.lies_on_the_body else None,
        "footprint": None if place is None else place.footprint,
        **({} if place is None or not place.units else {"units": _units(place)}),
        "window": {
            "low": layout.scale + window.low if open_window else None,
            "high": layout.scale + window.high if open_window else None,
            "short_by": window.shortage,
            "sets": window.sets,
            "out_of_travel": travel.misses,
        },
        "held": None
        if held is None
        else {
            "by": held.by,
            "wanted_x": None if held.aim is None else held.aim.x,
            "holes": [
                {"feature": fit.feature, "off": fit.off, "play": fit.play}
                for fit in (*held.anchors, *held.string_holes)
            ],
        },
        "saddles": [
            {
                "no": string.no,
                "travel_front": bridge.saddle_forward.mm,
                "travel_back": bridge.saddle_back.mm,
                "slack_front": forward,
                "slack_back": back,
            }
            for string, forward, back in zip(layout.strings, travel.forward, travel.back, strict=True)
        ],
    }


def _neck(plan: Plan) -> dict[str, Any]:
    """The neck as a workpiece: its heel's outline and what is drilled in it; `floor` is the wood left to the glue line."""
    neck = plan.neck
    return {
        "outline": neck.outline,
        "low": neck.low,
        "high": neck.high,
        **({"rise": neck.rise, "end": neck.end} if neck.rise else {}),
        "timber": neck.timber.key,
        "bores": [{**_bore(plan, bore), "floor": neck.beyond(bore)} for bore in neck.features.bores],
    }


def _carve(plan: Plan) -> dict[str, Any]:
    """The neck's back where it is carved here, in the neck's own frame: x from the nut, depth down from the glue line."""
    document, layout = plan.job.document, plan.layout
    carve, wood = carve_of(document, layout), neck_wood(document, layout, plan.head)
    if carve is None or wood is None or document.neck_blank is None:
        return {}
    needed = blank_needed(document, layout, carve)
    found = {
        "section": document.neck_blank.section,
        "heel_curve": carve.curve,
        "heel_depth": carve.heel_depth,
        "stations": [
            {
                "id": each.id,
                "x": each.along,
                "width": each.width,
                "depth": each.depth,
                "thickness": each.thickness,
                "facet_down": each.facet_down,
                "facet_in": each.facet_in,
            }
            for each in stations(carve, layout)
        ],
        "channels": [
            {
                "name": each.name,
                "across": each.across * layout.treble,
                "width": 2 * each.half,
                "from": each.ends[0],
                "to": each.ends[1],
                "depth": each.depth,
                "depth_at_ends": each.depth_at_ends,
                "wood": None if (least := least_wood(carve, each)) is None else least.mm,
            }
            for each in channels(document)
        ],
        "wood": [{"name": each.name, "mm3": each.mm3, "kg": each.kg} for each in wood.parts],
        "blank": {
            "length": needed.length,
            "width": needed.width,
            "thickness": needed.thickness,
            "head": needed.head,
        },
    }
    return {"carve": found}


def _head(plan: Plan, head: Workpiece) -> dict[str, Any]:
    """The head as a workpiece, in its own face's frame: its outline, its holes, and each string's way to its post."""
    assert plan.layout.head is not None
    return {
        "outline": head.outline,
        "outline_stated": plan.layout.head.is_stated,
        "thickness": -head.low,
        "bores": [_bore(plan, bore) for bore in head.features.bores],
        "strings": [
            {
                "string": post.string,
                "side": "treble" if post.side > 0 else "bass",
                "kink_deg": degrees(post.kink),
                "break_deg": degrees(post.breaks),
                "bend_deg": degrees(post.bend),
            }
            for post in plan.layout.head.posts
        ],
        "trees": [
            {"strings": tree.strings, "along": tree.along, "idle": tree.idle}
            for tree in plan.layout.head.trees
        ],
        "stock_needed": plan.layout.head.stock_needed,
        "scarf": None if plan.layout.head.scarf is None else asdict(plan.layout.head.scarf),
    }


def _read(plan: Plan, name: str) -> dict[str, Any]:
    """What the record makes of a number that can be checked; nothing where nobody measured it."""
    read = plan.as_read.get(name)
    if read is None:
        return {}
    return {
        "read": {
            "value": read.value,
            "sd": read.sd,
            "measurements": list(read.numbers),
            "wrong": list(read.wrong),
            "gate": read.gate or None,
        }
    }


def _made_for_the_neck(plan: Plan) -> dict[str, Any]:
    """The fingerboard and the nut where they are made here: each by its slots."""
    document, layout = plan.job.document, plan.layout
    board, nut = board_made(document, layout), nut_made(document, layout)
    found: dict[str, Any] = {}
    if board is not None:
        found["board"] = {
            "depth": board.depth,
            "left": board.left,
            "planed": board.planed,
            "wire": board.wire,
            "binding": board.binding,
            "binding_length": board.binding_length,
            "widths": board.widths,
            "edges": board.edges,
            "dots": [{"fret": fret, "at": at} for fret, at in board.dots],
            "side_dots": [{"fret": fret, "at": at} for fret, at in board.side_dots],
            "slots": [
                {
                    "fret": slot.fret,
                    "depth": slot.depth,
                    "length": slot.length,
                    "wire": slot.wire,
                    "stop": slot.stop,
                    "turn_deg": degrees(slot.turn),
                    "ends": slot.ends,
                }
                for slot in board.slots
            ],
        }
    if nut is not None:
        found["nut"] = {
            "length": nut.blank_length,
            "front": nut.length,
            "thickness": nut.blank_thickness,
            "height": nut.height,
            "seat": nut.seat,
            "turn_deg": degrees(nut.turn),
            "slots": [
                {
                    "string": slot.string,
                    "along": slot.along,
                    "width": slot.width,
                    "over_board": slot.over_board,
                    "floor": slot.floor,
                    "from_blank": slot.from_blank,
                    "from_top": slot.from_top,
                    "back": slot.back,
                    "slope_deg": None if slot.slope is None else degrees(slot.slope),
                    "front": slot.front,
                    "behind": slot.behind,
                    "over_first": slot.over_first,
                }
                for slot in nut.slots
            ],
        }
    return found


def _heights(plan: Plan) -> dict[str, Any] | None:
    found = heights(plan)
    if found is None:
        return None
    return {
        "lean_deg": degrees(found.lie.angle),
        "crowns": found.crowns,
        "board": found.board,
        "straightedge": found.gap,
        "lowest": found.lowest,
        "highest": found.highest,
        "closed_at": found.saddle,
        "off": found.off,
        "action_rate": found.action_rate,
        "relief_rate": found.relief_rate,
        "strings": [
            {
                "no": each.no,
                "wanted": each.wanted,
                "sd": each.sd,
                "least": each.least,
                "most": each.most,
                "down": each.down,
                "up": each.up,
            }
            for each in found.strings
        ],
        "closed_by": {each.key: _way(each) for each in found.ways},
        "pickups": [
            {"name": each.name, "open": each.open, "pressed": each.pressed} for each in found.pickups
        ],
    }


def _way(way: Way) -> dict[str, Any]:
    """One number that would close the chain; an angle in degrees, its rate in mm for a degree."""
    turn = way.key == "neck.angle"
    return {
        "now": degrees(way.now) if turn else way.now,
        "value": degrees(way.value) if turn and way.value is not None else way.value,
        "sd": degrees(way.sd) if turn else way.sd,
        "rate": radians(way.rate) if turn else way.rate,
    }


def _bore(plan: Plan, bore: Bore) -> dict[str, Any]:
    return {
        "id": bore.id,
        "number": balloon(bore.id),
        "role": bore.role,
        "face": bore.face,
        "at": bore.at,
        "axis": bore.axis,
        "outward": bore.normal,
        "entered_from": bore.entered_from or None,
        "steps": [_bore_step(plan, bore, no) for no in range(1, len(bore.steps) + 1)],
        "bit": bore.deepest.bit.name,
        "depth_stop": bore.depth_stop,
        "through": bore.through,
        "meets": sorted(bore.meets),
        "screw": None
        if bore.screw is None
        else {"thread": bore.screw.thread, "length": bore.screw.length, "tip": bore.screw.reach},
        "why": _why(bore.why),
    }


def _bore_step(plan: Plan, bore: Bore, no: int) -> dict[str, Any]:
    step, setting = bore.steps[no - 1], setting_of(plan.layout, bore, no - 1, plan.features.pockets)
    under = plan.progress.under.get((bore.id, no))
    return {
        "diameter": step.diameter,
        "depth": step.depth,
        "bit": step.bit.name,
        "bit_owned": step.bit.owned,
        "depth_stop": step.point_reaches,
        "stop": setting.mm,
        "zeroed_on": setting.zeroed_on,
        "zeroed": setting.where,
        "under": None if under is None else under.full,
        "under_point": None if under is None else under.point,
    }


def _pocket(plan: Plan, pocket: Pocket) -> dict[str, Any]:
    under = plan.progress.under.get((pocket.id, 1))
    return {
        "id": pocket.id,
        "role": pocket.role,
        "face": pocket.face,
        "outline": pocket.outline,
        "depth": pocket.depth,
        "under": None if under is None else under.full,
        "corner_radius": pocket.corner_radius,
        **_slope(pocket),
        "islands": pocket.islands,
        "meets": sorted(pocket.meets),
        "why": _why(pocket.why),
    }


def _slope(pocket: Pocket) -> dict[str, Any]:
    """What a pocket has more whose floor leans: its depth is told at `x`, and there is another at its mouth."""
    if pocket.slope is None:
        return {}
    told = {"angle_deg": degrees(pocket.slope.angle), "x": pocket.slope.at}
    return {"slope": {**told, "depth_at_mouth": pocket.depths[0]}}


def _web(web: Web) -> dict[str, Any]:
    return {
        "a": web.a,
        "b": web.b,
        "mm": web.mm,
        "on_purpose": web.on_purpose,
        "overlap": web.overlap,
        "drift": web.drift,
        "places": web.places,
    }


def _outside(outside: Outside) -> dict[str, Any]:
    return {
        "feature": outside.feature,
        "to_edge": outside.to_edge,
        "to_opposite": outside.to_opposite,
        "to_top": outside.to_top,
        "to_back": outside.to_back,
        "drift": outside.drift,
        "edge_places": outside.edge_places,
        "opposite_places": outside.opposite_places,
        "surfaces": [
            {"surface": gap.surface, "face": gap.face, "mm": gap.mm, "places": gap.places}
            for gap in outside.surfaces
        ],
    }


def _why(reasons: tuple[Reason, ...]) -> list[dict[str, str]]:
    return [{"text": reason.text, "source": reason.source} for reason in reasons]


def _step(card: Card) -> dict[str, Any]:
    return {
        "no": card.no,
        "id": card.id,
        "title": card.title,
        "features": list(card.features),
        "face": card.face,
        "bit": None if card.bit is None else card.bit.name,
        "depth": card.depth,
        "depth_stop": card.point_reaches,
        "rpm_at_most": card.rpm,
        "gate": _gate(card.gate),
        "cautions": list(card.cautions),
        "after": [{"first": need.first, "because": need.because} for need in card.after],
    }


def _gate(gate: Gate) -> dict[str, Any]:
    told: dict[str, Any] = {"ask": gate.ask, "value": gate.value, "low": gate.low, "high": gate.high}
    if gate.asks:
        keys = ("id", "words", "value", "low", "high")
        told |= {
            "counts": gate.counts,
            "asks": [{key: getattr(ask, key) for key in keys} for ask in gate.asks],
        }
    return told


def _operations(plan: Plan) -> Iterator[dict[str, Any]]:
    """Those that cut."""
    number = {each.id: each.no for each in plan.operations}
    by_id: dict[str, Feature] = {feature.id: feature for feature in plan.every_cut}
    for work in plan.operations:
        if work.cuts:
            after = sorted(number[need.first] for need in work.after)
            yield {**_operation(work, by_id), "after": after}


def _operation(work: Operation, by_id: Mapping[str, Feature]) -> dict[str, Any]:
    setting = work.setting
    return {
        "no": work.no,
        "workpiece": work.workpiece,
        "face": work.face,
        "tool": {
            "kind": "router" if work.bit is None else work.bit.kind,
            "diameter": None if work.bit is None else work.bit.diameter,
        },
        "setting": {"kind": "depth", "mm": work.depth, "zeroed_on": "face"}
        if setting is None
        else {"kind": setting.kind, "mm": setting.mm, "zeroed_on": setting.zeroed_on},
        "cuts": [_cut(cut.step, by_id[cut.feature]) for cut in work.cuts],
    }


def _cut(step: int, feature: Feature) -> dict[str, Any]:
    bore = feature if isinstance(feature, Bore) else None
    return {
        "feature": feature.id,
        "step": None if bore is None else step,
        "at": None if bore is None else bore.at,
        "axis": None if bore is None else bore.axis,
    }


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return round(value, _PLACES) + 0.0  # no negative zero
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(item) for item in value]
    return value
