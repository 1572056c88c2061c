"""A timber stated in the job against the Wood Handbook's row for the same wood, which must plan the same.

Red alder: Wood Handbook FPL-GTR-282, Table 5-3b: specific gravity 0.41 at 12 %, side hardness 590 lbf. Specific gravity is
oven-dry weight by volume at 12 %, so the density at 12 % is 0.41 x 1.12 x 1000 kg/m3; a pound-force is 4.4482216152605 N.
"""

from __future__ import annotations

from typing import Any

import pytest

from scribeline.job import JobError, parse_job
from scribeline.plan import Plan, plan
from scribeline.solid.weight import timber_density
from scribeline.tables import timber
from scribeline.web.fields import field_at

from ..conftest import FULL, Edit

KG_M3 = 0.41 * 1.12 * 1000
ALDER: dict[str, Any] = {"name": "our alder", "kg_m3": KG_M3, "hardness": "590 lbf"}


def with_timber(edited: Edit, stated: dict[str, Any], called: str, **changes: Any) -> Plan:
    own = {"timbers": [stated], "body.timber": called, "neck.timber": called, **changes}
    return plan(*parse_job(edited(own, FULL)))


def test_the_figures_of_a_timber_plan_what_the_timber_plans(edited: Edit) -> None:
    listed = plan(*parse_job(edited({"body.timber": "alder-red", "neck.timber": "alder-red"}, FULL)))
    stated = with_timber(edited, ALDER, "our alder")
    assert [(b.id, b.at, b.axis, b.steps) for b in stated.features.bores] == [
        (b.id, b.at, b.axis, b.steps) for b in listed.features.bores
    ]
    assert {f.code: f.value for f in stated.findings} == pytest.approx(
        {f.code: f.value for f in listed.findings}
    )
    assert [card.bit for card in stated.cards] == [card.bit for card in listed.cards]
    assert timber_density(stated.job.document.body.timber).kg_m3 == pytest.approx(KG_M3)
    assert "stated in the job" in timber_density(stated.job.document.body.timber).source


@pytest.mark.parametrize(
    ("hardness", "newtons"),
    [(2624.4, 2624.4), ("2624.4 N", 2624.4), ("2.6 kN", 2600), ("590 lbf", 590 * 4.4482216152605)],
)
def test_hardness_is_newtons_or_pounds(edited: Edit, hardness: float | str, newtons: float) -> None:
    wood = with_timber(edited, ALDER | {"hardness": hardness}, "our alder").job.document.body.timber
    assert wood.side_hardness_n == pytest.approx(newtons)
    assert wood.hardness_class == timber("alder-red").hardness_class == "medium"


def test_hardness_and_density_count_everywhere_a_timber_does(edited: Edit) -> None:
    """A soft wood takes a thinner pilot, and a screw of it comes out sooner: by the square of the gravity."""
    soft = with_timber(
        edited, ALDER | {"hardness": 1200, "kg_m3": KG_M3 / 2}, "our alder", **{"bits.twist": []}
    )
    usual = with_timber(edited, ALDER, "our alder", **{"bits.twist": []})
    pilots = [each.features.family("bridge-screw")[0].deepest.diameter for each in (soft, usual)]
    assert pilots[0] <= pilots[1]
    words = [" ".join(reason.text for b in each.features.bores for reason in b.why) for each in (soft, usual)]
    assert "108.25 × 0.21²" in words[0] or "108.25 × 0.20²" in words[0]
    assert "108.25 × 0.41²" in words[1]
    assert "because our alder is soft" in words[0]
    assert "because our alder is medium" in words[1]


def test_a_layer_and_the_heel_may_be_of_it(edited: Edit) -> None:
    layers = [
        {"name": "cap", "timber": "our alder", "thickness": "6 +/- 0.1"},
        {"name": "core", "timber": "ash-white", "thickness": "38.4 +/- 0.1"},
    ]
    made = with_timber(edited, ALDER, "our alder", **{"body.layers": layers})
    assert [layer.timber.key for layer in made.layout.body.layers] == ["our alder", "ash-white"]
    asked = field_at(made.job.document, "body.timber")
    assert asked is not None
    assert ("our alder", "our alder") in asked.choices


@pytest.mark.parametrize(
    ("stated", "said"),
    [
        ([ALDER | {"kg_m3": 4}], "timbers"),
        ([ALDER | {"hardness": "soft"}], "the side hardness in newtons"),
        ([ALDER | {"hardness": 5}], "cannot be"),
        ([ALDER, ALDER], "two timbers are called"),
        ([{"name": "our alder", "kg_m3": 459}], "hardness"),
        ([ALDER | {"name": "our elder"}], "stated under [[timbers]]"),
    ],
)
def test_a_timber_that_cannot_be_is_told(edited: Edit, stated: list[dict[str, Any]], said: str) -> None:
    with pytest.raises(JobError) as refused:
        parse_job(edited({"timbers": stated, "body.timber": "our alder"}, FULL))
    assert any(said in f"{fault.path} {fault.sentence}" for fault in refused.value.faults)
    # Who calls a faulty timber has made no mistake of its own.
    if said != "stated under [[timbers]]":
        assert not [fault for fault in refused.value.faults if fault.path.startswith("body")]
