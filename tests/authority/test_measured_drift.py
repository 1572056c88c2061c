"""A bit whose drift was measured is counted with that, and any other with the usual 1 mm in 100 mm.

The usual drift is common practice, no source; the rest is arithmetic.
"""

import pytest

from scribeline.job import JobError, parse_job
from scribeline.plan import Plan
from scribeline.solid import Outside

from ..conftest import Edit, Planned

BOX = [3.0, 3.5, 5.0, 6.0, 7.0]


def wire(plan: Plan) -> Outside:
    return next(outside for outside in plan.outside if outside.feature == "ground-wire")


@pytest.mark.parametrize(("drift", "rate"), [(None, 0.01), (0.4, 0.004), (2.5, 0.025), (0, 0.0)])
def test_the_slanting_hole_wanders_as_its_bit_does(
    planned: Planned, drift: float | None, rate: float
) -> None:
    bit = {"diameter": 4.0} if drift is None else {"diameter": 4.0, "drift": drift}
    plan = planned({"bits.brad_point": [*BOX, bit]})
    (hole,) = plan.features.family("ground-wire")
    assert hole.deepest.diameter == 4.0
    assert wire(plan).drift == pytest.approx(rate * hole.deepest.point_reaches)


def test_a_worse_bit_leaves_less_wood(planned: Planned) -> None:
    good, bad = (
        planned({"bits.brad_point": [*BOX, {"diameter": 4.0, "drift": drift}]}) for drift in (0.2, 5.0)
    )
    assert wire(bad).to_opposite < wire(good).to_opposite


@pytest.mark.parametrize("drift", [-0.1, 11.0, float("nan"), "often"])
def test_a_drift_that_cannot_be_is_refused(edited: Edit, drift: object) -> None:
    with pytest.raises(JobError) as refused:
        parse_job(edited({"bits.brad_point": [{"diameter": 4.0, "drift": drift}]}))
    (fault,) = refused.value.faults
    assert fault.path == "bits.brad_point[1].drift"
