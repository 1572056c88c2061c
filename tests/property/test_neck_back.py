"""The carved neck over random numbers: smooth along itself, its mesh as its closed form, never less wood than is told."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scribeline.layout import Carve, Channel
from scribeline.layout.carve import Volute
from scribeline.layout.neck_sections import SECTIONS, Superellipse
from scribeline.solid.neck_wood import least_wood


@st.composite
def carves(draw: st.DrawFn) -> Carve:
    """Necks from a small guitar's to a large bass's."""
    scale = draw(st.floats(560, 900))
    first, twelfth = scale * (1 - 2 ** (-1 / 12)), scale / 2
    low = twelfth + draw(st.floats(5, 60))
    high = low + draw(st.floats(10, 80))
    mouth = high + draw(st.floats(0, 10))
    nut = draw(st.floats(36, 60))
    volute = None
    if draw(st.booleans()):
        volute = Volute(draw(st.floats(-20, 20)), draw(st.floats(20, 100)), draw(st.floats(0.5, 6)))
    return Carve(
        section=draw(
            st.sampled_from([*SECTIONS.values(), Superellipse(draw(st.floats(1.2, 4.0)))])
        ),
        first=(first, draw(st.floats(11, 17))),
        twelfth=(twelfth, draw(st.floats(13, 18))),
        upright=draw(st.floats(0, 3)),
        curve=(low, high),
        heel_depth=draw(st.floats(19, 28)),
        board=(nut, mouth + 80, nut + draw(st.floats(5, 25))),
        heel_sides=((mouth, nut + 10), (mouth + 70, nut + 14)),
        board_thickness=6.0,
        volute=volute,
    )  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(carve=carves(), across=st.floats(0, 0.98))
def test_the_back_is_smooth_along_the_neck(carve: Carve, across: float) -> None:
    """At every joint before the pocket the slopes to either side agree (differences over 0.001 mm), in depth and in width."""
    step = 1e-3
    for joint in carve.joints(1.0, carve.mouth - 1.0)[1:-1]:
        x = np.array([joint - step, joint, joint + step])
        for told in (carve.depth(x, across * carve.half(x)), carve.half(x)):
            before, at, after = told.tolist()
            assert (at - before) / step == pytest.approx((after - at) / step, abs=2e-3)


@settings(max_examples=20, deadline=None)
@given(carve=carves())
def test_volume_is_the_sum_of_its_sections(carve: Carve) -> None:
    """Gauss's rule on smooth pieces against 4,000 slices of sections that a thousand corners tell."""
    x = np.linspace(0.0, carve.mouth, 4001)
    share = np.sin(np.linspace(-np.pi / 2, np.pi / 2, 1001))
    depths = carve.depth(x[:, np.newaxis], share * carve.half(x)[:, np.newaxis])
    areas = np.trapezoid(depths, share, axis=1) * carve.half(x)
    assert carve.volume(0.0, carve.mouth) == pytest.approx(np.trapezoid(areas, x), rel=2e-4)


@settings(max_examples=25, deadline=None)
@given(
    carve=carves(),
    across=st.floats(0, 14),
    half=st.floats(1, 4),
    depth=st.floats(5, 11),
    less=st.floats(0, 3),
    start=st.floats(-20, 60),
)
def test_nowhere_is_less_wood_than_is_told(
    carve: Carve, across: float, half: float, depth: float, less: float, start: float
) -> None:
    channel = Channel("bar", "x", across, half, (start, carve.mouth - 20), depth, depth - less)
    found = least_wood(carve, channel)
    assert found is not None
    x = np.linspace(0.0, carve.end, 801)[:, np.newaxis]
    y = carve.half(x) * np.sin(np.linspace(-np.pi / 2, np.pi / 2, 241))
    own = np.clip(x, max(0.0, start), carve.mouth - 20)
    below = carve.depth(x, y) - channel.bottom(own)
    beside = np.maximum(np.abs(y - across) - half, 0.0)
    sampled = float(np.sqrt((x - own) ** 2 + beside**2 + np.maximum(below, 0.0) ** 2).min())
    if found.mm > 0:
        assert found.mm <= sampled + 1e-9
        assert found.mm > sampled - 0.3  # the sampling's own pitch
    else:
        assert sampled < 0.2
