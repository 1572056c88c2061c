"""The cavities that a vibrato hangs in, worked out from its own numbers and written into its job as the builder's own."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from math import ceil, floor
from pathlib import Path
from typing import Any

from scribeline.findings.finding import limit_in
from scribeline.findings.vibrato import CLAW, ROOM, SPRING_ROOM
from scribeline.job import Document, Fault, Job, JobError, Stated, arranged, parse_job, set_value
from scribeline.job.bridges import KINDS
from scribeline.layout import Layout, lay_out
from scribeline.layout.bridges.sprung import balance, claw_moves, hooks_at, moving, reach_between, stated

_STEP = 0.5
"""Sizes are told in steps of this, always the roomier one, mm."""

_SPARE = 0.3
"""Room beyond what the sweep asks for, mm: a router and its template are off by that (common practice, no source)."""

_OVER = 2.0
"""How far the slot goes on into the spring cavity, mm: the two depths may be off that much and still open (common practice)."""

_RADIUS = 3.175
"""Corner radius where the job lists no router bit, mm: half of 1/4 in, a usual one."""

_WIDEST = 6.5
"""Most corner radius of a spring cavity, mm."""

_BESIDE_CLAW = 3.0
"""Beside the claw, on either side, mm (common practice, no source)."""

_LEDGE, _COVER, _COVER_SCREW = 10.0, 1.6, 12.0
"""The cover recess's width and depth, and the length of the screws that hold the cover, mm (common practice, no source)."""


def with_cavities(
    text: str, folder: Path | None = None, *, only_beside: bool = False
) -> tuple[str, tuple[str, ...]]:
    """A job's text with the cavities that its bridge names and that it does not state, and the names of these.

    A key of the bridge that should name one and does not gets the usual name. What is written are plain tables: nothing
    keeps them in step with the bridge afterwards but the checks.

    Args:
        text: of the job.
        folder: where the files lie that it names.
        only_beside: whether they must lie there, as `parse_job` takes it.

    Raises:
        JobError: what else is wrong with the job.
    """
    try:
        job = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        parse_job(text, folder=folder, only_beside=only_beside)  # says what is wrong
        raise
    bridge = job.get("bridge")
    kind = KINDS.get(str(bridge.get("kind"))) if isinstance(bridge, Mapping) else None
    if kind is None or not kind.hangs_in:
        return text, ()
    assert isinstance(bridge, Mapping)
    pockets = job.get("pockets", [])
    there = {each.get("name") for each in pockets if isinstance(each, Mapping)}
    names = {}
    for key, _, usual in kind.hangs_in:
        if key not in bridge:
            text, _ = set_value(text, f"bridge.{key}", usual)
        names[key] = str(bridge.get(key, usual))
    missing = [(key, face) for key, face, _ in kind.hangs_in if names[key] not in there]
    if not missing:
        return text, ()
    order = range(len(pockets))
    tried = text
    for number, (key, face) in enumerate(missing):
        bare = {"name": names[key], "face": face, **_BARE}
        tried = arranged(tried, "pockets", range(len(order) + number), bare)
    stands = parse_job(tried, folder=folder, only_beside=only_beside)
    found = _wanted(stands.job, lay_out(*stands))
    for number, (key, _) in enumerate(missing):
        opens = [name for other, name in names.items() if other != key]
        table = {"name": names[key], **_in_unit(found[key], stands.job.document), "opens_into": opens}
        text = arranged(text, "pockets", range(len(order) + number), table)
    parse_job(text, folder=folder, only_beside=only_beside)
    return text, tuple(names[key] for key, _ in missing)


_BARE: dict[str, Stated] = {
    "depth": "5 mm",
    "corner_radius": "3 mm",
    "x_from": "scale line",
    "centre": ["0 mm", "0 mm"],
    "size": ["20 mm", "20 mm"],
}
"""Stands in for a cavity while the bridge's place is worked out, which no cavity moves."""


def _wanted(job: Job, layout: Layout) -> dict[str, dict[str, Any]]:
    """What the two cavities must be, by the bridge's key that names each; lengths in mm, places from the scale line."""
    document, place = job.document, layout.bridge
    bridge, held = stated(document), balance(document, layout)
    if place is None or held is None:
        why = "the strings give it no place: see what `scribeline check` says of them first"
        raise JobError([Fault("bridge", f"its cavities cannot be worked out; {why}")])
    thickness, room = document.body.thickness.mm, limit_in(document, ROOM).caution + _SPARE
    radii = sorted(bit.diameter / 2 for bit in document.bits.router) or [_RADIUS]
    small, wide = radii[0], max((each for each in radii if each <= _WIDEST), default=radii[0])
    deep = _up(thickness + bridge.pivot - bridge.lever + SPRING_ROOM)
    through = _up(thickness - deep + _OVER)
    off, (_, block) = place.middle.x - layout.scale, moving(document)
    slot, back = (
        reach_between(document, low, high) for low, high in ((-through, 0.0), (-thickness, deep - thickness))
    )
    if slot is None or back is None:
        raise JobError(
            [Fault("bridge.block_length", "the block does not reach the springs' cavity; measure it again")]
        )
    tighter = max((moves for _, moves in claw_moves(document, layout)), default=0.0)
    claw = hooks_at(document, place, held.springs) - max(0.0, tighter) - limit_in(document, CLAW).caution
    slot_ends = (_down(off + slot[0] - room), _up(off + slot[1] + room))
    ends = (_down(claw - layout.scale), _up(max(off + back[1] + room, slot_ends[1])))
    across = {
        key: 2 * _up(block.half + max(room, radius)) for key, radius in (("slot", small), ("back", wide))
    }
    wide_across = max(across["back"], 2 * _up(bridge.claw_width.mm / 2 + _BESIDE_CLAW))
    half, in_ledge = wide_across / 2, _LEDGE / 2
    rows = ((ends[0] - in_ledge, half - 6), (sum(ends) / 2, half + in_ledge), (ends[1] + in_ledge, half - 6))
    return {
        "slot": _cavity("top", through, small, slot_ends, across["slot"]),
        "spring_cavity": {
            **_cavity("back", deep, wide, ends, wide_across),
            "ledge": {"width": _LEDGE, "depth": _COVER},
            "cover_screws": {
                "gauge": 4,
                "length": _COVER_SCREW,
                "places": [(x, side * y) for x, y in rows for side in (1, -1)],
            },
        },
    }


def _cavity(
    face: str, depth: float, radius: float, ends: tuple[float, float], across: float
) -> dict[str, Any]:
    return {
        "face": face,
        "depth": depth,
        "corner_radius": radius,
        "x_from": "scale line",
        "centre": (sum(ends) / 2, 0.0),
        "size": (ends[1] - ends[0], across),
    }


def _up(mm: float) -> float:
    return ceil(mm / _STEP - 1e-9) * _STEP


def _down(mm: float) -> float:
    return floor(mm / _STEP + 1e-9) * _STEP


def _in_unit(value: Any, document: Document) -> Any:
    """Lengths as the job would write them: bare millimetres, or with their unit where that is another."""
    if isinstance(value, Mapping):
        return {key: _in_unit(each, document) if key != "gauge" else each for key, each in value.items()}
    if isinstance(value, tuple | list):
        return [_in_unit(each, document) for each in value]
    if isinstance(value, float):
        return round(value, 3) if document.units == "mm" else f"{round(value, 3):g} mm"
    return value
