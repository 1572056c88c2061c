"""Weight against handbook densities and bodies worked by hand; balance against a hand-worked lever."""

from __future__ import annotations

from math import pi
from typing import Any

import pytest

from scribeline.features import DOWN, Bit, Bore, Pocket, Step
from scribeline.layout import Point, Point3, Ring
from scribeline.plan import Plan
from scribeline.solid.body import make_body
from scribeline.solid.weight import (
    Density,
    Mass,
    WeightError,
    balance,
    layer_densities,
    on_strap,
    timber_density,
    weigh,
    weighed_density,
)
from scribeline.tables import timber

BOX = Ring([Point(0, 0), Point(300, 0), Point(300, 200), Point(0, 200)])
POCKET = Pocket(
    "pocket", "pocket", "top", Ring([Point(0, 0), Point(100, 0), Point(100, 50), Point(0, 50)]), 20, 0
)

# Wood Handbook FPL-GTR-282, Table 5-3b: specific gravity at 12 % moisture, on oven-dry weight. A body at 12 % also
# holds that water: density = 1000 G (1 + 12/100), the definition of specific gravity (FPL-GTR-190, ch. 4).
DENSITIES = [
    ("ash-white", 0.60, 672.0),
    ("alder-red", 0.41, 459.2),
    ("maple-sugar", 0.63, 705.6),
    ("basswood-american", 0.37, 414.4),
    ("walnut-black", 0.55, 616.0),
]


@pytest.mark.parametrize(("key", "gravity_12", "kg_m3"), DENSITIES)
def test_densities_are_the_handbooks(key: str, gravity_12: float, kg_m3: float) -> None:
    wood = timber(key)
    assert wood.gravity_12 == gravity_12
    found = timber_density(wood)
    assert found.kg_m3 == pytest.approx(kg_m3)
    assert found.sd_share == pytest.approx(0.10)
    assert "Table 5-3b" in found.source


def test_a_density_by_formula_says_so_and_is_wider() -> None:
    found = timber_density(timber("mahogany-true"))
    # Basic gravity 0.45 (Table 5-5b). By the handbook's formula, from memory: 0.45/(1 − 0.265·0.6·0.45) = 0.4847.
    assert found.kg_m3 == pytest.approx(0.4847 * 1120, rel=1e-3)
    assert found.sd_share == pytest.approx((0.10**2 + 0.05**2) ** 0.5)
    assert "worked out from the basic one" in found.source


def test_a_row_set_down_from_memory_says_so() -> None:
    assert "gravity set down from memory" in timber_density(timber("walnut-black")).source
    assert "memory" not in timber_density(timber("ash-white")).source


def test_a_box_less_a_pocket_on_the_scale() -> None:
    # 300 × 200 × 40 mm of 672 kg/m³ is 1.6128 kg; the pocket's 100 × 50 × 20 mm is 0.0672 kg.
    found = weigh(make_body(BOX, 40, (POCKET,)), timber_density(timber("ash-white")))
    assert found.blank_kg == pytest.approx(1.6128)
    assert found.kg == pytest.approx(1.5456)
    assert found.sd_kg == pytest.approx(0.15456)
    assert found.removed_kg == pytest.approx(0.0672)
    assert [r.kg for r in found.removed] == pytest.approx([0.0672])
    # Moments about the blank's middle: 0.0672 × (100, 75, −10) taken away from 1.5456.
    share = 0.0672 / 1.5456
    assert found.centre == pytest.approx((150 + 100 * share, 100 + 75 * share, -20 - 10 * share))


def test_where_cuts_meet_the_whole_is_less_than_their_sum() -> None:
    hole = Bore("hole", "hole", "h", "top", Point3(50, 25, 0), DOWN, (Step(10, 30, Bit("twist", 10, 0)),))
    found = weigh(make_body(BOX, 40, (POCKET, hole)), Density(1000, 0.1, "water"))
    assert [r.kg for r in found.removed] == pytest.approx([0.1, pi * 25 * 30 / 1e6])
    assert found.removed_kg == pytest.approx(0.1 + pi * 25 * 10 / 1e6)


def test_your_own_board() -> None:
    # A board of 500 × 350 × 45 mm on the bathroom scale: 5.04 kg.
    found = weighed_density(5.04 / (0.5 * 0.35 * 0.045))
    assert found.kg_m3 == pytest.approx(640)
    assert found.sd_share < 0.05


@pytest.mark.parametrize("kg_m3", [0.0, -600.0, 6.4, 6400.0, float("nan"), float("inf")])
def test_a_density_no_wood_has_is_refused(kg_m3: float) -> None:
    with pytest.raises(WeightError, match="divide its weight in kg"):
        weighed_density(kg_m3)


FRONT, TAIL = Point3(300, 120, -20), Point3(720, 0, -20)


def test_a_lever_worked_by_hand() -> None:
    # 2 kg at 600, 1 kg at 100, 0.2 kg at −120: (1200 + 100 − 24)/3.2 = 398.75, 98.75 of 420 mm from the front button.
    parts = [
        Mass("body", 2.0, Point3(600, -10, -22)),
        Mass("neck", 1.0, Point3(100, 0, 5)),
        Mass("tuners", 0.2, Point3(-120, 5, 0)),
    ]
    found = balance(parts, front=FRONT, tail=TAIL)
    assert found.kg == pytest.approx(3.2)
    assert found.centre == pytest.approx((398.75, -19 / 3.2, -39 / 3.2))
    assert found.from_front == pytest.approx(98.75)
    assert found.share == pytest.approx(98.75 / 420)
    assert found.verdict == "the neck may dive a little"


# Shares and what they feel like: common practice, no source.
@pytest.mark.parametrize(
    ("share", "verdict"),
    [
        (0.10, "the neck will dive"),
        (0.23, "the neck may dive a little"),
        (0.36, "hangs well"),
        (0.60, "the tail is heavy"),
    ],
)
def test_what_a_share_feels_like(share: float, verdict: str) -> None:
    found = balance([Mass("all", 3, Point3(300 + 420 * share, 0, 0))], front=FRONT, tail=TAIL)
    assert found.share == pytest.approx(share)
    assert found.verdict == verdict


def test_moving_the_button_to_where_it_is_told_gives_the_share() -> None:
    parts = [Mass("all", 3, Point3(380, 0, 0))]
    to = balance(parts, front=FRONT, tail=TAIL).front_for(0.3)
    # (380 − 0.3 · 720)/0.7 = 234.29
    assert to == pytest.approx(234.2857, abs=1e-4)
    assert balance(parts, front=FRONT._replace(x=to), tail=TAIL).share == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("masses", "front", "tail", "words"),
    [
        ([], FRONT, TAIL, "nothing here weighs anything"),
        ([Mass("air", 0.0, FRONT)], FRONT, TAIL, "nothing here weighs anything"),
        ([Mass("tuners", -0.1, FRONT)], FRONT, TAIL, "tuners weighs -0.1 kg"),
        ([Mass("body", float("nan"), FRONT)], FRONT, TAIL, "body weighs nan kg"),
        ([Mass("body", 2.0, FRONT)], TAIL, FRONT, "must lie further from the nut"),
    ],
)
def test_what_cannot_be_balanced_is_told(masses: list[Mass], front: Point3, tail: Point3, words: str) -> None:
    with pytest.raises(WeightError, match=words):
        balance(masses, front=front, tail=tail)


def test_what_would_move_the_balance_does() -> None:
    # A body of 2.0 kg at 600, a neck of 0.6 at 200, tuners of 0.3 at -100: by moments (1200 + 120 - 30) / 2.9 = 444.8 mm
    # from the nut, (444.8 - 300) / 420 = 34.5 % of the way. For 40 % the middle must lie at 468: about that place the
    # tuners have a lever of 568, and the rest 2.9 x (468 - 444.83) = 67.2 kg mm too much: 0.1183 kg lighter.
    parts = [
        Mass("body", 2.0, Point3(600, 0, 0), 0.2),
        Mass("neck", 0.6, Point3(200, 0, 0), 0.06),
        Mass("tuners", 0.3, Point3(-100, 0, 0), 0.03),
    ]
    found = balance(parts, front=Point3(300, 0, 0), tail=Point3(720, 0, 0))
    assert found.share == pytest.approx(0.3448, abs=1e-4)
    less = found.lighter_for(parts[2], 0.4)
    assert less == pytest.approx(0.1183, abs=1e-4)
    lighter = [*parts[:2], Mass("tuners", 0.3 - (less or 0.0), parts[2].at)]
    assert balance(lighter, front=found.front, tail=found.tail).share == pytest.approx(0.4, abs=1e-12)
    # One standard deviation, by the law of propagation (JCGM 100:2008, 5.1.2): sd (x - middle) / (M span), as squares.
    by_hand = ((0.2 * 155.17) ** 2 + (0.06 * 244.83) ** 2 + (0.03 * 544.83) ** 2) ** 0.5 / (2.9 * 420)
    assert found.share_sd == pytest.approx(by_hand, abs=1e-5)
    assert found.lighter_for(parts[2], 0.9) is None  # 0.87 kg: it would have to lose more than it weighs


def test_a_share_past_the_tail_is_refused() -> None:
    found = balance([Mass("all", 3, Point3(380, 0, 0))], front=FRONT, tail=TAIL)
    with pytest.raises(WeightError, match="from 0 to under 1"):
        found.front_for(1.0)


def test_a_body_by_its_area() -> None:
    # Area × thickness × density × (1 − share of cavities), 1025 cm² × 45 mm with 7 % of cavities: 450 kg/m³ gives
    # 1.93 kg and 560 gives 2.40 (worked by hand).
    side, rout = 1025e2**0.5, (0.07 * 1025e2) ** 0.5
    low, high = (side - rout) / 2, (side + rout) / 2
    plan = Ring([Point(0, 0), Point(side, 0), Point(side, side), Point(0, side)])
    through = Ring([Point(low, low), Point(high, low), Point(high, high), Point(low, high)])
    body = make_body(plan, 45, (Pocket("c", "c", "top", through, 45, 0),))
    for kg_m3, kg in ((420, 1.80), (450, 1.93), (560, 2.40), (700, 3.00)):
        assert weigh(body, Density(kg_m3, 0.1, "x")).kg == pytest.approx(kg, abs=0.006)


@pytest.mark.parametrize("handed", ["right", "left"])
def test_a_job_that_states_its_masses_hangs_by_them(planned: Any, handed: str) -> None:
    buttons = [
        {"name": "front", "near": [408, -160], "screw": {"gauge": 6, "length": "25 +/- 0.2"}},
        {"name": "tail", "near": [784, 0], "screw": {"gauge": 6, "length": "25 +/- 0.2"}},
    ]
    plan: Plan = planned(
        {
            "handed": handed,
            "strap_buttons": buttons,
            "masses": [
                {"name": "neck", "grams": 620, "at": [190, 0], "height": 8},
                {"name": "tuners", "grams": 210, "at": [-110, 10]},
            ],
        }
    )
    layout = plan.layout
    body = make_body(layout.outline, layout.thickness, plan.features, form=layout.body)
    weight = weigh(body, *layer_densities(layout.body))
    hangs = on_strap(weight, layout)
    assert hangs is not None
    # Moments about the nut, by hand.
    along = (weight.kg * weight.centre.x + 0.62 * 190 - 0.21 * 110) / (weight.kg + 0.83)
    across = (weight.kg * weight.centre.y + 0.21 * (10 if handed == "right" else -10)) / (weight.kg + 0.83)
    assert hangs.centre[:2] == pytest.approx((along, across))
    front, tail = sorted(button.at.x for button in layout.strap_buttons)
    assert hangs.share == pytest.approx((along - front) / (tail - front))


def test_without_masses_or_buttons_nothing_is_said_of_the_balance(planned: Any) -> None:
    layout = planned({"strap_buttons": []}).layout
    weight = weigh(make_body(layout.outline, layout.thickness, ()), Density(600, 0.1, "x"))
    assert on_strap(weight, layout) is None
