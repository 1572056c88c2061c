"""How fast a prediction is: six strings over 22 frets, saddles set by the 12th, with the spread."""

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from scribeline.strings import Setup, StringSpec, predict

SETUP = Setup(647.7)
LIGHT_SET = tuple(
    StringSpec(note, gauge * 25.4, "plain" if gauge < 0.020 else "round-wound")
    for note, gauge in (
        ("E4", 0.010),
        ("B3", 0.013),
        ("G3", 0.017),
        ("D3", 0.026),
        ("A2", 0.036),
        ("E2", 0.046),
    )
)


@pytest.mark.benchmark(group="prediction")
def test_a_prediction_with_its_spread(benchmark: BenchmarkFixture) -> None:
    found = benchmark(predict, LIGHT_SET, SETUP)
    assert found.setback.shape == (6,)
