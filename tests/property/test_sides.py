"""A place on the centreline is told to be there, never 0.00 mm to a side, whoever tells it."""

import re

import pytest

from scribeline.job import parse_job
from scribeline.layout import across_words, heading_words, on_centreline, side_words
from scribeline.lengths import in_unit
from scribeline.plan import Plan, plan
from scribeline.web.numbers import numbers_of

from ..conftest import SHIPPED


@pytest.mark.parametrize("places", [0, 1, 2, 3])
@pytest.mark.parametrize(
    "to_treble", [0.0, -0.0, 1e-9, -0.0004, 0.0049, -0.0051, 0.04, -0.06, 0.4, -0.6, 36.0]
)
def test_no_distance_that_prints_as_nothing_is_told_with_a_side(to_treble: float, places: int) -> None:
    nothing = float(f"{to_treble:.{places}f}") == 0.0
    words = in_unit(across_words(to_treble, places), "mm")
    assert on_centreline(to_treble, places) == nothing
    assert (words == "on the centreline") == nothing
    assert side_words(to_treble, places) == (
        "on the centreline" if nothing else "to the treble" if to_treble > 0 else "to the bass"
    )
    assert nothing or words == f"{abs(to_treble):.{places}f} mm {side_words(to_treble, places)}"


@pytest.fixture(scope="module", params=["right", "left"])
def either_hand(request: pytest.FixtureRequest) -> Plan:
    return plan(*parse_job(SHIPPED.replace('handed = "right"', f'handed = "{request.param}"')))


def test_the_app_tells_a_tunnel_on_the_centreline_to_be_there(either_hand: Plan) -> None:
    """The demo's second tunnel runs straight down it."""
    on_it = [bore for bore in either_hand.features.bores if abs(bore.at.y) < 0.005]
    assert "tunnel-2" in {bore.id for bore in on_it}
    for bore in either_hand.features.bores:
        across = [each for each in numbers_of(either_hand, bore) if "centreline" in each.name]
        assert len(across) == 1
        if bore in on_it:
            assert across[0].name == "on the centreline"
        else:
            side = "treble" if bore.at.y * either_hand.layout.treble > 0 else "bass"
            assert across[0].name == f"from the centreline, to the {side}"
        assert across[0].mm == pytest.approx(abs(bore.at.y))


def test_no_step_tells_nothing_to_a_side(either_hand: Plan) -> None:
    for card in either_hand.cards:
        words = " ".join((*card.do, card.gate.ask))
        assert not re.search(r"(?<![\d.])0\.0+(?: mm|°) to the (?:treble|bass)", words), card.title
    for finding in either_hand.findings:
        assert not re.search(r"(?<![\d.])0\.0+ mm to the (?:treble|bass)", finding.message)


@pytest.mark.parametrize(
    ("to_tail", "to_treble", "said"),
    [
        (-1.0, 0.0, "straight to the neck"),
        (1.0, 0.0, "straight to the tail"),
        (1.0, -1e-4, "straight to the tail"),
        (-1.0, 1.0, "towards the neck, turned 45.0° to the treble"),
        (0.0, -1.0, "towards the neck, turned 90.0° to the bass"),
        (3**0.5, 1.0, "towards the tail, turned 30.0° to the treble"),
        (3**0.5, -1.0, "towards the tail, turned 30.0° to the bass"),
    ],
)
def test_a_heading_is_told_from_the_nearer_end(to_tail: float, to_treble: float, said: str) -> None:
    assert heading_words(to_tail, to_treble) == said
