"""The height chain against hand-worked examples, and against rays over a sampled surface.

Worked by hand from plane geometry, with a hand calculator and no code of this project: the string's straight line, a
circle's sagitta, a turn about the heel's end.
"""

from __future__ import annotations

from dataclasses import replace
from math import atan2, cos, degrees, radians, sin, sqrt
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from scribeline.job import Document, parse_job
from scribeline.job.stringing import playing
from scribeline.layout import (
    Stringing,
    actions_over_frets,
    chain,
    lay_out,
    neck_lie,
    saddle_heights,
)
from scribeline.layout.heights import Unknown
from scribeline.plan.named import quantities
from scribeline.quantities import evaluated

from ..conftest import Planned
from ..pack_jobs import PACK_JOBS

Floats = NDArray[np.float64]

SIX = parse_job(PACK_JOBS["demo"]).job
LAID = lay_out(SIX)
STRINGS = len(SIX.document.strings)


def stated(document: Document, **tables: dict[str, Any]) -> Document:
    """A job with other keys in some of its tables."""
    return document.model_copy(
        update={name: getattr(document, name).model_copy(update=keys) for name, keys in tables.items()}
    )


def mm(value: float) -> Any:
    return replace(SIX.document.neck.pocket_depth, mm=value)


def strung(document: Document, setback: list[float]) -> Stringing:
    return replace(LAID.stringing, setup=playing(document), setback=tuple(setback))


def level_bolt_on(**board: float) -> Document:
    """The worked example's numbers; its strings spread 35.5 over the nut and 52.5 over the bridge."""
    nut, gauges = 43.0, [each.gauge for each in SIX.document.strings]
    edge = (nut - 35.5 - (gauges[0] + gauges[-1]) / 2) / 2
    return stated(
        SIX.document,
        scale={"length": 647.7, "frets": 22},
        nut={"width": nut, "edge": edge, "height_over_frets": 0.2, "spacing": "equal centres"},
        fingerboard={"radius": None, "radius_at_end": None, **board},
        setup={"action_treble": mm(1.6), "action_bass": mm(2.0), "relief": mm(0.2), "relief_fret": 16},
        neck={"pocket_depth": mm(16.0), "heel_thickness": mm(25.4), "angle": 0.0, "shim": 0.0},
        fret_wire={"crown_height": 1.1},
        bridge={"spacing": mm(10.5)},
    )


def test_level_neck_on_a_flat_board() -> None:
    """s = z0 + slope (L + c), z0 = 4r + h, slope = (4r((J − L/2)/J)² + a − z0)/(L/2); H = heel − P + crown + s."""
    document = stated(level_bolt_on(), setup={"action_treble": mm(1.8), "action_bass": mm(1.8)})
    assert saddle_heights(document, strung(document, [2.0] * STRINGS)) == pytest.approx(
        [13.15] * STRINGS, abs=0.005
    )


@pytest.mark.parametrize(
    ("board", "heights"),
    [
        ({"radius": 241.3}, [11.39, 12.42, 13.02, 13.18, 12.90, 12.19]),
        ({"radius": 241.3, "cone": True}, [11.78, 12.56, 13.03, 13.19, 13.04, 12.59]),
    ],
    ids=["cylinder", "cone"],
)
def test_every_string_over_an_arched_board(board: dict[str, Any], heights: list[float]) -> None:
    """R − √(R² − y²) under each string; a true cone's radius grows as its strings spread: 241.3 x 52.5/35.5 at the scale line."""
    if board.pop("cone", False):
        end = SIX.document.fingerboard.end
        board["radius_at_end"] = 241.3 + (241.3 * 52.5 / 35.5 - 241.3) * end / 647.7
    document = level_bolt_on(**board)
    found = saddle_heights(document, strung(document, [2.0] * STRINGS))
    assert found == pytest.approx(heights, abs=0.011)


def test_set_neck_that_leans_back() -> None:
    """z = d sin A + (h + s) cos A with d along the neck, h over the pivot on the top; level distance d cos A − (h + s) sin A."""
    d, h, s, angle = 251.48, 7.1, 2.25, radians(4.0)
    document = stated(
        level_bolt_on(),
        neck={"pocket_end": 500.0, "pocket_depth": mm(18.0), "heel_thickness": mm(24.0), "angle": angle},
    )
    lie = neck_lie(document)
    # The same place from the heel's end, 18 below the top and h + 18 square to the plane.
    lie = replace(lie, depth=0.0, stack=h)
    assert float(lie.height(lie.end + d, s)) == pytest.approx(
        d * sin(angle) + (h + s) * cos(angle), abs=1e-12
    )
    assert float(lie.height(lie.end + d, s)) == pytest.approx(26.87, abs=0.01)
    assert float(lie.place(lie.end + d, s)) - lie.end == pytest.approx(250.2, abs=0.05)


def test_taper_shim() -> None:
    """0.5 under a heel of 76: atan(0.5/76) = 0.38°; a saddle 253 behind its end rises 0.5 + 253 x 0.5/76 = 2.16."""
    flat = level_bolt_on()
    shimmed = stated(flat, neck={"shim": 0.5, "pocket_length": 76.0})
    assert degrees(neck_lie(shimmed).angle) == pytest.approx(0.38, abs=0.005)
    far = flat.neck.pocket_end + 253.0
    risen = float(neck_lie(shimmed).height(far)) - float(neck_lie(flat).height(far))
    assert risen == pytest.approx(2.16, abs=0.01)


def test_a_leaning_neck_brings_the_bridge_nearer(planned: Planned) -> None:
    """Level along the body from the end wall: d cos A − (heel + crown + s) sin A, where d is along the neck."""
    leaning, level = (
        planned({"neck.angle": 4.0, "neck.pocket_depth": 25.0}),
        planned({"neck.pocket_depth": 25.0}),
    )
    document, a = leaning.job.document, radians(4.0)
    stringing = leaning.layout.stringing
    stack = document.neck.heel_thickness.mm + document.fret_wire.crown_height
    height, z = saddle_heights(document, stringing), -document.neck.pocket_depth.mm
    d = document.scale.length + np.array(stringing.setback) - document.neck.pocket_end
    over = (height - z - d * sin(a)) / cos(a) - stack
    by_hand = document.neck.pocket_end + d * cos(a) - (stack + over) * sin(a)
    places = np.array([string.saddle.x for string in leaning.layout.strings])
    # One shift serves all strings: those that differ in height are off by that times the sine, which a saddle takes up.
    assert places == pytest.approx(by_hand, abs=0.05)
    assert places.mean() == pytest.approx(by_hand.mean(), abs=1e-3)
    moved = leaning.layout.bridge_line - level.layout.bridge_line
    assert moved == pytest.approx(
        places.mean() - np.mean([s.saddle.x for s in level.layout.strings]), abs=1e-9
    )
    # Frets are sawn where they were; what is read along the body from them is less.
    assert leaning.layout.frets[11].along == level.layout.frets[11].x
    heel = leaning.layout.pocket_end - leaning.layout.twelfth
    assert heel == pytest.approx(
        (document.neck.pocket_end - level.layout.twelfth) * cos(a) + stack * sin(a), abs=1e-9
    )


def test_a_leaning_neck_is_explained(planned: Planned) -> None:
    """Every formula works out to the number that stands in the plan."""
    made = planned({"neck.angle": 4.0, "neck.pocket_depth": 25.0, "neck.shim": 0.4})
    named = quantities(made)
    for quantity in (named[name] for name in named):
        if quantity.formula:
            inputs = {key: each.value for key, each in quantity.inputs.items()}
            assert evaluated(quantity.formula, inputs) == pytest.approx(quantity.value, abs=1e-9), quantity.id
    assert named["scale-line"].value == made.layout.scale
    assert named["12th-level"].value == pytest.approx(made.layout.twelfth, abs=1e-9)


_DRAWN = np.random.default_rng(14)


def _drawn() -> tuple[Document, Stringing]:
    """An instrument at random: level, angled or shimmed, in a pocket or on a core, with a flat, arched or compound board."""
    between = _DRAWN.uniform
    arched, compound = _DRAWN.random() < 0.8, _DRAWN.random() < 0.5
    radius = float(between(180, 520))
    document = stated(
        SIX.document,
        scale={"length": float(between(560, 760))},
        nut={"height_over_frets": float(between(0.1, 0.8)), "width": float(between(41, 50))},
        fingerboard={
            "radius": radius if arched else None,
            "radius_at_end": radius * float(between(1, 1.8)) if arched and compound else None,
        },
        setup={
            "action_treble": mm(float(between(1.0, 2.5))),
            "action_bass": mm(float(between(1.0, 3.0))),
            "relief": mm(float(between(0, 0.4))),
        },
        neck={
            "pocket_depth": mm(float(between(10, 20))),
            "heel_thickness": mm(float(between(20, 30))),
            "angle": float(between(-0.02, 0.09)) if _DRAWN.random() < 0.6 else 0.0,
            "shim": float(between(0, 1.5)) if _DRAWN.random() < 0.4 else 0.0,
            "pocket_length": float(between(55, 100)),
        },
    )
    if _DRAWN.random() < 0.3:
        core = {"joint": "neck-through", "shim": 0.0, "board_over_body": mm(float(between(0, 8)))}
        gone = dict.fromkeys(("pocket_end", "pocket_length", "pocket_depth", "heel_thickness"))
        document = stated(document, neck={**core, **gone, "board_thickness": mm(float(between(4, 8)))})
    return document, strung(document, between(-1, 6, STRINGS).tolist())


def _seat(document: Document) -> tuple[Floats, float, float]:
    """What the neck turns about, its lean in radians, and its crowns' straight part over its underside there."""
    neck, crown = document.neck, document.fret_wire.crown_height
    if neck.joint == "neck-through":
        pivot = np.array([document.fingerboard.end, 0.0, neck.board_over_body.mm])
        return pivot, neck.angle, neck.board_thickness.mm + crown
    pivot = np.array([neck.pocket_end, 0.0, neck.shim - neck.pocket_depth.mm])
    return pivot, neck.angle + atan2(neck.shim, neck.pocket_length), neck.heel_thickness.mm + crown


def _rays(document: Document, stringing: Stringing) -> Floats:
    """Each string over each crown by rays in space: crowns as arcs of sampled points, turned into the body by a matrix."""
    board, scale = document.fingerboard, document.scale.length
    x = scale * (1 - 2.0 ** (-np.arange(1, document.scale.frets + 1) / 12))
    end = x[document.setup.relief_fret - 1]
    pivot, a, stack = _seat(document)
    turn = np.array([[cos(a), 0, -sin(a)], [0, 1, 0], [sin(a), 0, cos(a)]])

    def in_body(u: float, y: float, w: float) -> Floats:
        return np.asarray(pivot + turn @ np.array([u - pivot[0], y, stack + w]))

    def crown(u: float, y: float) -> float:
        bow: float = 4 * document.setup.relief.mm * max(0.0, 1 - u / end) ** 2
        if board.radius is None:
            return bow
        last = board.radius if board.radius_at_end is None else board.radius_at_end
        r = board.radius + (last - board.radius) * u / board.end
        return bow + sqrt(r * r - y * y) - r

    gauges = [each.gauge for each in document.strings]
    gap = (document.nut.width - 2 * document.nut.edge - sum(gauges)) / (STRINGS - 1)
    slots = [document.nut.edge + sum(gauges[:n]) + n * gap + gauges[n] / 2 for n in range(STRINGS)]
    found = np.empty((STRINGS, len(x)))
    for n, height in enumerate(saddle_heights(document, stringing)):
        y_nut = document.nut.width / 2 - slots[n]
        y_end = document.bridge.spacing.mm * ((STRINGS - 1) / 2 - n)
        back = scale + stringing.setback[n]
        nut = in_body(0.0, y_nut, crown(0.0, y_nut) + document.nut.height_over_frets)
        # The saddle's break point: on its own place along the neck, as high over the body as our chain says.
        low = in_body(back, y_nut + (y_end - y_nut) * back / scale, 0.0)
        saddle = low + turn[:, 2] * (height - low[2]) / turn[2, 2]
        for k, u in enumerate(x):
            # Points of the crown's arc under the string, and the ray up from each, square to the fret plane.
            mid = y_nut + (y_end - y_nut) * u / scale
            arc = np.array([in_body(u, y, crown(u, y)) for y in (mid - 0.01, mid, mid + 0.01)])
            line = saddle - nut
            t = np.dot(arc[1] - nut, turn[:, 0]) / np.dot(line, turn[:, 0])
            over = nut + t * line
            across = np.dot(over - arc[1], turn[:, 1])
            share = (across + 0.01) / 0.02
            under = arc[0] + (arc[2] - arc[0]) * share
            found[n, k] = np.dot(over - under, turn[:, 2])
    return found


@pytest.mark.parametrize("part", range(4))
def test_actions_over_every_fret_agree_with_rays(part: int) -> None:
    """1,000 instruments in all, level and leaning, flat, arched and compound."""
    for _ in range(250):
        document, stringing = _drawn()
        ours = actions_over_frets(document, stringing)
        assert ours == pytest.approx(_rays(document, stringing), abs=0.005)


UNKNOWNS: tuple[Unknown, ...] = (
    "neck.pocket_depth",
    "neck.angle",
    "neck.shim",
    "neck.board_thickness",
    "bridge.saddle_height",
)
OF_A_CORE: tuple[Unknown, ...] = ("neck.board_over_body", "neck.angle", "neck.board_thickness")


def test_whatever_is_worked_out_closes_the_chain() -> None:
    """Put back in its place in the job, the number worked out leaves nothing open."""
    closed = 0
    for _ in range(300):
        document, stringing = _drawn()
        saddle = float(np.mean(saddle_heights(document, stringing))) + float(_DRAWN.uniform(-2, 2))
        links = chain(document, stringing, saddle)
        for unknown in OF_A_CORE if document.neck.joint == "neck-through" else UNKNOWNS:
            value = links.closed(unknown)
            if value is None:
                continue
            closed += 1
            assert (
                abs(chain(_put(document, unknown, value), stringing, _saddle(unknown, value, saddle)).off)
                < 1e-9
            )
    assert closed > 1000


def _put(document: Document, unknown: Unknown, value: float) -> Document:
    neck = document.neck
    match unknown:
        case "neck.pocket_depth":
            return stated(document, neck={"pocket_depth": mm(value)})
        case "neck.board_thickness" if neck.joint == "neck-through":
            return stated(document, neck={"board_thickness": mm(value)})
        case "neck.board_thickness":
            heel = neck.heel_thickness.mm + value - neck.board_thickness.mm
            return stated(document, neck={"heel_thickness": mm(heel), "board_thickness": mm(value)})
        case "neck.board_over_body":
            return stated(document, neck={"board_over_body": mm(value)})
        case "neck.angle" | "neck.shim":
            return stated(document, neck={unknown.partition(".")[2]: value})
        case "bridge.saddle_height":
            return document


def _saddle(unknown: Unknown, value: float, saddle: float) -> float:
    return value if unknown == "bridge.saddle_height" else saddle
