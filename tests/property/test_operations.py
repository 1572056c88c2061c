"""Operations: every cut on one of them, all told, and an id that is a name and nothing more."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import get_args

import pytest

from scribeline.features import Bore, Family
from scribeline.job import parse_job
from scribeline.operations import Kind, needs
from scribeline.plan import Plan, plan
from scribeline.steps.cards import HOLES, KINDS

from ..conftest import FULL, SHIPPED, Planned
from .test_order_of_work import VARIANTS
from .test_shaping_order import JOBS

SHAPES = {name: JOBS[name] for name in ("stepped", "bevelled", "set neck")}


@pytest.fixture(scope="module", params=["demo", "sprayed", "shipped", *SHAPES])
def made(request: pytest.FixtureRequest, planned: Planned, shipped_plan: Plan) -> Plan:
    if request.param == "shipped":
        return shipped_plan
    name = str(request.param)
    return planned(SHAPES[name], FULL) if name in SHAPES else planned(VARIANTS[name])


def test_every_kind_of_work_and_every_family_of_holes_has_its_words() -> None:
    drilled = {"counterbore", "drill", "countersink"}
    assert set(KINDS) == set(get_args(Kind)) - drilled
    assert set(HOLES) == set(get_args(Family))


def test_an_id_is_a_name_and_nothing_more(made: Plan) -> None:
    """Under other ids the same comes before the same, for the same reasons, and the wood is the same by then."""
    other = {each.id: f"w{n * 7919 % 1009}" for n, each in enumerate(made.operations)}
    named = tuple(replace(each, id=other[each.id]) for each in made.operations)
    then = needs(made.layout, made.features, named)
    assert then == tuple(
        replace(need, first=other[need.first], then=other[need.then])
        for need in needs(made.layout, made.features, made.operations)
    )
    assert then
    progress = replace(made.progress, operations=named)
    for one, like in zip(made.operations, named, strict=True):
        assert progress.layout(like) == made.progress.layout(one)
        assert tuple(progress.before(like)) == tuple(made.progress.before(one))


def test_every_diameter_is_cut_by_one_operation_with_its_own_bit(made: Plan) -> None:
    cuts = Counter(cut for each in made.operations for cut in each.cuts)
    steps = {feature.id: len(feature.steps) if isinstance(feature, Bore) else 1 for feature in made.every_cut}
    assert cuts == Counter((name, no) for name, count in steps.items() for no in range(1, count + 1))
    bores = {bore.id: bore for bore in made.every_cut.bores}
    for each in made.operations:
        for name, no in each.cuts if each.bit is not None else ():
            assert (bores[name].steps[no - 1].bit, bores[name].family) == (each.bit, each.family)


def test_a_hole_called_as_the_ferrules_are_loses_no_cut() -> None:
    """Both counterbores had one id, and the later took the earlier's place in the order of work."""
    hole = """
[[holes]]
name = "ferrules"
at = [690, 60]
steps = [{ diameter = 12, depth = 4 }, { diameter = 6, depth = 12 }]

[[tunnels]]"""
    seen = plan(*parse_job(SHIPPED.replace("\n[[tunnels]]", hole, 1)))
    cut = [one for each in seen.operations for one in each.cuts]
    assert {one.feature for one in cut} == {feature.id for feature in seen.every_cut}
    assert len(cut) == sum(len(bore.steps) for bore in seen.every_cut.bores) + len(seen.features.pockets)
