"""The order of work: every need met, the body turned over as seldom as may be, a card for every cut."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scribeline.features import Bore
from scribeline.job import parse_job
from scribeline.layout import HEEL
from scribeline.operations import Need, in_order
from scribeline.plan import Plan, plan
from scribeline.steps import Card

from ..conftest import FULL, Planned, change
from ..torture import examples

FACES = st.sampled_from(["", "top", "back"])


@st.composite
def graphs(draw: st.DrawFn) -> tuple[list[tuple[str, str]], list[Need]]:
    """Tasks with faces, and needs that never go round: each points from an earlier to a later one, shuffled."""
    count = draw(st.integers(1, 7))
    faces = [draw(FACES) for _ in range(count)]
    pairs = draw(st.sets(st.tuples(st.integers(0, 6), st.integers(0, 6)), max_size=10))
    needs = [Need(f"t{a}", f"t{b}", "") for a, b in pairs if a < b < count]
    order = draw(st.permutations(range(count)))
    return [(f"t{i}", faces[i]) for i in order], needs


def flips(order: tuple[str, ...], faces: dict[str, str]) -> int:
    """How often the body is turned over, lying top up at first."""
    lying = ["top", *(faces[task] for task in order if faces[task])]
    return sum(a != b for a, b in pairwise(lying))


def fewest_flips(tasks: list[tuple[str, str]], needs: list[Need]) -> int:
    """By trying every order, step by step: the fewest flips to each set of done tasks and face up."""
    faces = dict(tasks)
    best: dict[tuple[frozenset[str], str], int] = {(frozenset(), "top"): 0}
    for _ in tasks:
        further: dict[tuple[frozenset[str], str], int] = {}
        for (done, up), cost in best.items():
            for task, face in faces.items():
                if task in done or any(n.then == task and n.first not in done for n in needs):
                    continue
                lies = face or up
                state = (done | {task}, lies)
                further[state] = min(further.get(state, 99), cost + (lies != up))
        best = further
    return min(best.values())


@given(graphs())
def test_every_need_is_met_with_the_fewest_flips(graph: tuple[list[tuple[str, str]], list[Need]]) -> None:
    tasks, needs = graph
    order = in_order(tasks, needs)
    assert sorted(order) == sorted(task for task, _ in tasks)
    place = {task: i for i, task in enumerate(order)}
    assert all(place[need.first] < place[need.then] for need in needs)
    assert flips(order, dict(tasks)) == fewest_flips(tasks, needs)


@given(graphs())
def test_the_same_input_gives_the_same_order(graph: tuple[list[tuple[str, str]], list[Need]]) -> None:
    tasks, needs = graph
    assert in_order(tasks, needs) == in_order(tasks, list(reversed(needs)))


@pytest.mark.parametrize("length", [1, 2, 5])
def test_a_circle_is_told(length: int) -> None:
    tasks = [(f"t{i}", "") for i in range(6)]
    needs = [Need(f"t{i}", f"t{(i + 1) % length}", "") for i in range(length)]
    with pytest.raises(ValueError, match=r"circle: .*t0"):
        in_order(tasks, needs)


def test_needs_of_tasks_that_are_not_there_are_ignored() -> None:
    assert in_order([("a", ""), ("b", "")], [Need("z", "a", ""), Need("b", "z", "")]) == ("a", "b")


CUTTING = ("drill press", "hand drill", "router")

VARIANTS: dict[str, dict[str, Any]] = {
    "demo": {},
    "sprayed": {"finish.holes": "sprayed"},
    "bare": {"finish.film": 0},
    "no ground wire": {"ground_wire": None},
    "no pockets": {"ground_wire": None, "pockets": []},
    "back only": {
        "ground_wire": None,
        "pockets": [
            {"name": "box", "face": "back", "depth": 20, "corner_radius": 4}
            | {"centre": [560, 60], "size": [30, 30]}
        ],
    },
    "no window": {"bridge.saddle_back": 11.0},
    "three strings": {"strings[6]": None, "strings[5]": None, "strings[4]": None},
    "ground wire to the back": {
        "pockets[3].outline": [[560, -40], [610, -40], [610, 40], [560, 40]],
        "pockets[3].depth": 20,
        "pockets[1].centre": [-100, 0],
        "pockets[2].centre": [200, 0],
        "ground_wire.into": "control cavity",
        "ground_wire.lands": 34,
    },
}


@pytest.fixture(scope="module", params=VARIANTS)
def variant(request: pytest.FixtureRequest, planned: Planned) -> Plan:
    return planned(VARIANTS[request.param])


def places(plan: Plan) -> dict[str, int]:
    return {card.id: card.no for card in plan.cards}


def test_cards_meet_their_needs(variant: Any) -> None:
    place = places(variant)
    assert [card.no for card in variant.cards] == list(range(1, len(variant.cards) + 1))
    assert len(place) == len(variant.cards)
    for card in variant.cards:
        for need in card.after:
            assert need.then == card.id
            assert place[need.first] < card.no
            assert need.because


def test_every_cut_is_on_the_right_cards(variant: Plan) -> None:
    cut = Counter(feature for card in variant.cards if card.machine in CUTTING for feature in card.features)
    wanted = {f.id: len(f.steps) if isinstance(f, Bore) else 1 for f in variant.features}
    assert cut == wanted
    by_id = {f.id: f for f in variant.features}
    for card in variant.cards:
        for name in card.features if card.id != "chase" else ():
            feature = by_id[name]
            assert card.face == feature.face
            if isinstance(feature, Bore):
                assert card.machine == ("hand drill" if feature.group == "ground wire" else "drill press")
                assert any(
                    (s.bit, s.depth, s.point_reaches) == (card.bit, card.depth, card.point_reaches)
                    for s in feature.steps
                )
            else:
                assert card.machine == "router"
                assert card.depth == feature.depth


def test_wide_before_narrow_in_one_hole(variant: Any) -> None:
    for bore in variant.features.bores:
        cards = [card for card in variant.cards if bore.id in card.features and card.id != "chase"]
        assert [card.bit for card in cards] == [step.bit for step in bore.steps]


def test_wood_before_finish_before_fitting(variant: Plan) -> None:
    place = places(variant)
    cuts = [c.no for c in variant.cards if c.machine in CUTTING]
    if "finish" in place:
        assert max(cuts) < place["finish"]
        if "chase" in place:
            assert place["finish"] < place["chase"]
    if "fit-hardware" in place:
        assert place["fit-hardware"] == len(variant.cards)


def test_top_before_back_where_holes_meet(variant: Plan) -> None:
    by_id = {f.id: f for f in variant.features}
    place: dict[str, int] = {}
    for card in variant.cards:
        for name in card.features:
            place.setdefault(name, card.no)
    for feature in variant.features:
        for other in (by_id[name] for name in feature.meets if name in by_id):
            if (
                isinstance(feature, Bore)
                and isinstance(other, Bore)
                and (feature.face, other.face) == ("top", "back")
            ):
                assert place[feature.id] < place[other.id]


def test_scrap_before_the_real_thing_and_data_before_all(variant: Plan) -> None:
    place = places(variant)
    for scrap, real in (("scrap-screw", "drill-bridge-screws"), ("scrap-two-sided", "drill-string-holes")):
        assert (scrap in place) == (real in place)
        if real in place:
            assert place[scrap] < place[real]
    first_cut = min(c.no for c in variant.cards if c.features)
    assert place["check-body"] < first_cut
    assert place["check-neck"] < place["rout-neck-pocket"] < place["fit-neck"]
    drilled = [c.no for c in variant.cards if c.features and c.machine == "drill press" and c.id != "chase"]
    if drilled:
        assert place["check-press"] < min(drilled)
        assert place["fit-neck"] < place["set-plate"] < place["drill-bridge-screws"] < place["fix-plate"]
        assert place["fix-plate"] < place["drill-string-holes"] < place["counterbore-ferrules"]
        assert place["counterbore-ferrules"] < place["bore-ferrules"]


def test_a_pocket_is_open_before_the_wire_s_hole_breaks_into_it(variant: Plan) -> None:
    place = places(variant)
    for bore in variant.features.family("ground-wire"):
        (into,) = bore.meets
        assert place[f"rout-{into}"] < place["drill-ground-wire"]


def test_the_body_is_turned_over_once_at_most(variant: Plan) -> None:
    faces = {card.id: card.face for card in variant.cards}
    needs = [need for card in variant.cards for need in card.after]
    order = tuple(card.id for card in variant.cards)
    into_back = any(
        b.face == "top" and p.face == "back" and p.id in b.meets
        for b in variant.features.bores
        for p in variant.features.pockets
    )
    # A hole from the top that breaks into a pocket of the back needs that pocket first: there and back again.
    assert flips(order, faces) <= (3 if into_back else 1)
    assert all(order.index(n.first) < order.index(n.then) for n in needs)


def test_every_card_says_what_can_hurt_and_drilling_cards_where(variant: Plan) -> None:
    for card in variant.cards:
        assert card.cautions
        assert card.do or card.places
        assert card.gate is not None
        if card.features and card.machine == "drill press":
            assert [place.feature for place in card.places] == list(card.features)
            assert card.point_reaches is not None
            assert card.depth is not None
            assert card.point_reaches >= card.depth
        if card.gate.value is not None:
            assert card.gate.low is not None
            assert card.gate.high is not None
            assert card.gate.low <= card.gate.value <= card.gate.high


@settings(max_examples=examples(25), deadline=None)
@given(
    st.fixed_dictionaries(
        {},
        optional={
            "finish.film": st.sampled_from([0, 0.1, 0.3]),
            "finish.holes": st.sampled_from(["masked", "sprayed"]),
            "handed": st.sampled_from(["left", "right"]),
            "body.thickness": st.floats(22, 70),
            "bridge.saddle_back": st.floats(9.3, 20),
            "ground_wire.heading": st.integers(-180, 180),
            "pockets[1].face": st.sampled_from(["top", "back"]),
            "pockets[3].face": st.sampled_from(["top", "back"]),
            "bits": st.sampled_from([{}, {"twist": [3.0]}]),
        },
    )
)
def test_any_variant_is_ordered(changes: dict[str, Any]) -> None:
    made = plan(*parse_job(change(changes)))
    test_cards_meet_their_needs(made)
    test_every_cut_is_on_the_right_cards(made)
    test_wood_before_finish_before_fitting(made)
    test_top_before_back_where_holes_meet(made)


def test_a_neck_screw_in_a_cover_s_recess_is_told_and_has_an_order() -> None:
    """The recess waits for the fitted neck, the neck for its screws, and one of these starts in the recess's floor."""
    box = """
[[pockets]]
name = "box"
face = "back"
depth = 8
corner_radius = 4
outline = [[440, 26], [470, 26], [470, 50], [440, 50]]
ledge = { width = 12, depth = 2 }
"""
    made = plan(*parse_job(FULL + box))
    order = [card.id for card in made.cards]
    screws = [card.id for card in made.cards if "neck-screw-2" in card.features and card.id != HEEL]
    assert max(order.index(each) for each in screws) < order.index("fit-neck")
    assert order.index("rout-box-cover-recess") < min(order.index(each) for each in screws)
    assert any({"neck-screw-2", "box-cover-recess"} <= set(stop.features) for stop in made.stops)
    test_cards_meet_their_needs(made)


def test_a_sprayed_hole_is_not_chased_with_the_bit_that_cut_it(planned: Planned) -> None:
    # Cut 9.24 mm for a 9.00 lip and a film of 0.12 a side: its own bit would take the film off again.
    sprayed = planned({"finish.holes": "sprayed", "bits.flat_bottomed": ["9.24 mm"]})
    (chase,) = (card for card in sprayed.cards if card.id == "chase")
    assert "9.00 and 7.00 mm" in chase.do[0]
    assert "same bits" not in chase.do[0]
    (masked,) = (card for card in planned().cards if card.id == "chase")
    # A masked hole keeps the size it was cut to, so nothing is turned into it: the plug comes out and it is measured.
    assert "plugs out" in masked.do[0]
    assert "9.00 mm and the hole 7.00 mm, as cut" in masked.do[1]


def _in_the_way(cards: Sequence[Card]) -> list[str]:
    """Steps that something on the body stands in the way of, following what the cards say comes off and goes on."""
    neck = plate = over_the_end = False
    found = []
    for card in cards:
        said = " ".join(card.do)
        neck = neck or card.id in {"fit-neck", "pilot-heel", "refit-neck"} or "Put the neck back" in said
        neck = neck and "Take the neck off" not in said
        over_the_end = "let the neck hang" in said or (over_the_end and card.face != "top")
        plate = (plate or card.id == "fix-plate") and "Take the plate off" not in said
        if (
            card.face == "back"
            and card.machine in {"router", "drill press"}
            and (plate or (neck and not over_the_end))
        ):
            found.append(card.title)
        if card.id in {"set-plate", "fit-hardware"} and not neck:
            found.append(card.title)
    return found


@pytest.mark.parametrize(
    "changes",
    [{}, {"ground_wire": None}, {"neck.joint": "set", "neck_screws": None}, {"neck_screws": None}],
    ids=["bolted on", "no ground wire", "glued in", "no screws stated"],
)
def test_the_body_never_lies_on_its_neck_or_its_plate(changes: dict[str, Any]) -> None:
    assert _in_the_way(plan(*parse_job(change(changes, FULL))).cards) == []


def test_a_set_neck_is_glued_in_after_what_needs_its_pocket_open() -> None:
    set_neck = plan(*parse_job(change({"neck.joint": "set", "neck_screws": None}, FULL)))
    order = {card.id: card.no for card in set_neck.cards}
    routed = [card.no for card in set_neck.cards if card.machine == "router"]
    assert max(*routed, order["drill-tunnel-2"]) < order["refit-neck"] < order["set-plate"]
    (fit,) = (card for card in set_neck.cards if card.id == "fit-neck")
    assert "Do not glue yet" in fit.do[0]


def test_the_neck_is_off_while_a_drill_comes_in_through_its_pocket(shipped_plan: Plan) -> None:
    (tunnel,) = (card for card in shipped_plan.cards if card.id == "drill-tunnel-2")
    assert tunnel.do[0].startswith("Take the neck off")
