"""Where a bridge of any kind may stand, against trying every place: saddles pushed along by plane geometry."""

from __future__ import annotations

from dataclasses import replace
from math import cos, sin
from random import Random

import numpy as np
import pytest

from scribeline.job import Job, parse_job
from scribeline.layout import Layout
from scribeline.layout.instrument import lay_out

from ..pack_jobs import EVERY_JOB
from ..torture import EVERYTHING

TRIED = 1000 if EVERYTHING else 40
FINE = 0.02
PLACES = np.arange(-45.0, 25.0, FINE)

KINDS = {
    "plate": "demo",
    "studs": "two-studs",
    "posts": "posts-and-tailpiece",
    "vibrato on posts": "vibrato-two-posts",
    "vibrato on screws": "vibrato-six-screws",
    "single saddles": "single-saddles",
    "headless units": "headless",
    "single saddles on a fan": "fanned",
}


def drawn(job: Job, random: Random) -> Job:
    """The job with compensations, travel and reserve drawn at random; a set of its own alone."""
    document = job.document
    strings = tuple(
        string.model_copy(update={"setback": random.uniform(0.5, 6.0)}) for string in document.strings
    )
    forward = document.bridge.saddle_forward.mm + random.uniform(-1.5, 1.5)
    back = forward + random.uniform(5.0, 11.0)
    ends = (("saddle_forward", forward), ("saddle_back", back))
    bridge = document.bridge.model_copy(
        update={key: replace(getattr(document.bridge, key), mm=mm) for key, mm in ends}
    )
    bench = document.bench.model_copy(update={"saddle_reserve": random.uniform(0.0, 1.5)})
    update = {"strings": strings, "string_sets": (), "bridge": bridge, "bench": bench}
    return replace(job, document=document.model_copy(update=update))


def in_hand(job: Job, layout: Layout, turn: float) -> np.ndarray:
    """What the saddle that has least keeps at either end, mm, with the bridge pushed along to each of the places.

    A saddle moves along its own base, or straight back from the front edge of a bridge in one piece, as that stands turned.
    """
    document, line = job.document, layout.scale
    wanted = np.array([string.saddle.x for string in layout.strings])
    count, spacing = len(wanted), document.bridge.spacing.mm
    stops = document.bridge.saddle_forward.mm, document.bridge.saddle_back.mm
    least = np.full(len(PLACES), np.inf)
    for n, want in enumerate(wanted.tolist()):
        string = layout.strings[n]
        across = spacing * ((count - 1) / 2 - n)
        if document.bridge.single:
            assert layout.bridge is not None
            unit = layout.bridge.units[n]
            run, off = want - string.nut.x, across - string.nut.y
            lean = run / np.hypot(run, off)
            front = PLACES + (unit.front.x - layout.bridge.middle.x) + line
            ends = [front + stop * lean for stop in stops]
        else:
            ends = [PLACES + line + stop * cos(turn) - across * sin(turn) for stop in stops]
        least = np.minimum(least, np.minimum(want - ends[0], ends[1] - want))
    return least


@pytest.mark.parametrize("kind", KINDS)
def test_the_window_is_what_trying_every_place_finds(kind: str) -> None:
    random, job = Random(kind), parse_job(EVERY_JOB[KINDS[kind]]).job
    open_ones = 0
    for _ in range(TRIED):
        tried = drawn(job, random)
        layout = lay_out(tried)
        reserve = tried.document.bench.saddle_reserve
        if layout.bridge is None:
            assert layout.window.is_empty
            if KINDS[kind] in {"demo", "vibrato-two-posts", "vibrato-six-screws"}:  # these stand square
                assert in_hand(tried, layout, 0.0).max() < reserve + FINE
            continue
        turn = layout.bridge.turn
        keeps = PLACES[in_hand(tried, layout, turn) >= reserve]
        if not len(keeps):
            assert layout.window.high - layout.window.low < 2 * FINE
            continue
        open_ones += 1
        assert keeps.min() == pytest.approx(layout.window.low, abs=FINE + 1e-6)
        assert keeps.max() == pytest.approx(layout.window.high, abs=FINE + 1e-6)
        assert layout.window.low - 1e-9 <= layout.window.aim <= layout.window.high + 1e-9
    assert open_ones > TRIED / 3
