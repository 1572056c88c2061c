"""The odds of a plan: chains with a closed form, a standard's worked examples, builds planned anew, seeds, cancelling."""

from __future__ import annotations

import datetime as dt
from math import sqrt
from statistics import NormalDist

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.odds_bench import Bench, table_agrees
from tests.torture import EVERYTHING

from scribeline.features import as_cut
from scribeline.job import Cut, Done, GateRead, Measurement, Record, parse_job
from scribeline.odds import Cancelled, Odds, OddsError, Study, Ways, odds
from scribeline.odds.trials import BLOCK, Group, Model, group, in_blocks, limits
from scribeline.plan import Plan, plan
from scribeline.scenario import demo_jobs, examples
from scribeline.tables import usual_accuracies

Floats = NDArray[np.float64]


@pytest.fixture(scope="module")
def demo() -> Plan:
    return plan(parse_job(demo_jobs()["marram.toml"]).job)


@pytest.fixture(scope="module")
def study(demo: Plan) -> Study:
    return Study.of(demo, usual_accuracies(), Ways())


@pytest.fixture(scope="module")
def found(demo: Plan) -> Odds:
    return odds(demo, usual_accuracies(), trials=200_000, exact=0)


def drawn(model: Model, trials: int, seed: int = 1) -> Floats:
    """What comes of so many trial builds, shape (outcomes, trials)."""
    spread = model.spread
    blocks = in_blocks(lambda random, count: spread @ model.drawn(random, count), trials, seed)
    return np.concatenate(list(blocks), axis=1).astype(np.float64)


def model_of(normal: list[float], even: list[float]) -> Model:
    """One outcome that is the sum of errors with these standard deviations."""
    made = group(("step", "method", ""), np.array(normal).reshape(-1, 1), np.array(even).reshape(-1, 1))
    assert made is not None
    return Model((made,), 1)


# --- closed forms -------------------------------------------------------------------------------------


def test_a_chain_of_normal_errors_has_its_closed_form() -> None:
    # Errors by themselves add as squares; the chance between two limits is the normal distribution's (the standard library's).
    # The chain is that of a bridge set out along: 0.15, 0.10, 0.15, 0.20, 0.15, together 0.34.
    chain = [0.15, 0.10, 0.15, 0.20, 0.15]
    whole = sqrt(sum(each**2 for each in chain))
    assert whole == pytest.approx(0.34, abs=0.005)
    trials, low, high = 400_000, -0.3, 0.5
    off = drawn(model_of(chain, []), trials)[0]
    likely = NormalDist(0.0, whole).cdf(high) - NormalDist(0.0, whole).cdf(low)
    share = float(((off >= low) & (off <= high)).mean())
    assert abs(share - likely) < 4 * sqrt(likely * (1 - likely) / trials)
    assert off.std() == pytest.approx(whole, rel=4 / sqrt(2 * trials))


def test_shared_errors_move_together() -> None:
    # Two holes with an error each and one they share: their distance knows nothing of the shared one.
    own, shared = 0.2, 0.5
    wide = np.array([[own, 0.0], [0.0, own], [shared, shared]])
    made = group(("a", "b", ""), wide, np.zeros((0, 2)))
    assert made is not None
    off = drawn(Model((made,), 2), 200_000)
    apart = off[0] - off[1]
    assert apart.std() == pytest.approx(own * sqrt(2), rel=0.01)
    assert off[0].std() == pytest.approx(sqrt(own**2 + shared**2), rel=0.01)


def test_the_chances_of_a_plan_agree_with_the_normal_distribution(study: Study, found: Odds) -> None:
    # Where hardly any of an outcome's doubt is spread evenly, its chance is that of a normal distribution.
    even = np.array([each.shape == "even" for each in study.errors])
    checked = 0
    for k, outcome in enumerate(study.outcomes):
        variance = study.spread[:, k] ** 2
        if variance.sum() == 0 or variance[even].sum() > 0.02 * variance.sum():
            continue
        spread = NormalDist(outcome.value, float(study.sd[k]))
        told = next(each for each in found.outcomes if each.outcome.id == outcome.id)
        low, high = outcome.low, outcome.high
        careful = (
            outcome.caution_low if outcome.caution_low is not None else low,
            outcome.caution_high if outcome.caution_high is not None else high,
        )
        for chance, (least, most) in ((told.chance, (low, high)), (told.caution, careful)):
            likely = (1.0 if most is None else spread.cdf(most)) - (
                0.0 if least is None else spread.cdf(least)
            )
            # 0.002 for the fiftieth of its variance that is spread evenly.
            assert abs(chance - likely) < 5 * sqrt(likely * (1 - likely) / found.trials) + 0.002, outcome.id
            checked += 0.001 < likely < 0.999
    assert checked >= 6


# --- JCGM 101:2008, worked examples (from memory; the numbers below follow from its formulas) ----------


def test_jcgm_101_additive_model_of_four_normal_inputs() -> None:
    # 9.2.2: Y = X1 + X2 + X3 + X4, each N(0, 1): u(y) = 2.0, 95 % interval [-3.92, 3.92].
    y = drawn(model_of([1.0] * 4, []), 1_000_000)[0]
    assert y.mean() == pytest.approx(0.0, abs=0.01)
    assert y.std() == pytest.approx(2.0, abs=0.006)
    assert np.quantile(y, [0.025, 0.975]) == pytest.approx([-3.92, 3.92], abs=0.03)


def test_jcgm_101_additive_model_of_four_even_inputs() -> None:
    # 9.2.3: the same with even inputs of standard deviation 1: u(y) = 2.0, 95 % interval [-3.88, 3.88], which a normal
    # distribution would put at 3.92.
    y = drawn(model_of([], [1.0] * 4), 1_000_000)[0]
    assert y.std() == pytest.approx(2.0, abs=0.006)
    assert np.quantile(y, [0.025, 0.975]) == pytest.approx([-3.88, 3.88], abs=0.02)


def test_jcgm_101_additive_model_with_one_dominant_even_input() -> None:
    # 9.2.4: X4 with a standard deviation of 10: u(y) = 10.1, 95 % interval [-17.0, 17.0], not the normal's 19.9.
    y = drawn(model_of([], [1.0, 1.0, 1.0, 10.0]), 1_000_000)[0]
    assert y.std() == pytest.approx(sqrt(103), abs=0.03)
    assert np.quantile(y, [0.025, 0.975]) == pytest.approx([-17.0, 17.0], abs=0.06)


def test_jcgm_101_mass_calibration() -> None:
    # 9.3: a weight W of density rho_w against a reference R of conventional mass 100 000.000 mg (sd 0.050) and density rho_r,
    # with a small weight of 1.234 mg (sd 0.020), in air of density a in [1.10, 1.30] kg/m3, rho_w in [7000, 9000], rho_r in
    # [7950, 8050] kg/m3. Its table 6: estimate of the deviation from 100 g 1.2341 mg, standard deviation 0.0754 mg, 95 % interval
    # [1.0834, 1.3825]; the guide's linear formula gives 0.0539.
    def block(random: np.random.Generator, count: int) -> Floats:
        e = made.drawn(random, count).astype(np.float64)
        reference, small = 100_000.0 + 0.050 * e[3], 1.234 + 0.020 * e[4]
        air, rho_w, rho_r = (
            middle + half / sqrt(3) * each
            for middle, half, each in ((1.2, 0.1, e[0]), (8000.0, 1000.0, e[1]), (8000.0, 50.0, e[2]))
        )
        weight: Floats = (reference + small) * (1 + (air - 1.2) * (1 / rho_w - 1 / rho_r)) - 100_000.0
        return weight

    # Three even inputs and two normal ones, each a number by itself.
    made = Model((Group(("", "", ""), np.eye(5, dtype=np.float32), 3),), 5)
    y = np.concatenate(list(in_blocks(block, 500_000, 1)))
    assert y.mean() == pytest.approx(1.2341, abs=0.0005)
    assert y.std() == pytest.approx(0.0754, abs=0.0005)
    assert np.quantile(y, [0.025, 0.975]) == pytest.approx([1.0834, 1.3825], abs=0.004)


# --- builds planned anew -------------------------------------------------------------------------------


def test_the_bench_goes_by_the_table() -> None:
    assert table_agrees()


def test_builds_that_are_planned_anew_agree(demo: Plan, study: Study) -> None:
    """A bench that knows nothing of the odds builds the demo, each build planned anew by `plan`.

    Of n builds Σ ((value − planned) / sd)² is χ² with n degrees of freedom where normal, less spread where even; by the
    approximation of Wilson and Hilferty (1931) its cube root is normal.
    """
    count = 2000 if EVERYTHING else 12
    bench = Bench(demo, np.random.default_rng(20261201))
    builds = [bench.build() for _ in range(count)]
    asked = [(k, o) for k, o in enumerate(study.outcomes) if o.id in builds[0] and study.sd[k] > 1e-9]
    assert len(asked) > 60
    kept = np.ones(count, dtype=np.bool_)
    for k, outcome in asked:
        if outcome.id in _KINKED:
            continue
        values = np.array([each[outcome.id] for each in builds])
        sd = float(study.sd[k])
        z = (values - outcome.value) / sd
        # What the straight line leaves out: the wood beside a corner or a slant bends by some hundredths of a millimetre.
        bend = 0.03 / sd if outcome.kind == "wood" else 0.02 / sd
        assert abs(z.mean()) < 5.5 / sqrt(count) + bend, outcome.id
        cube = (float((z**2).mean()) ** (1 / 3) - (1 - 2 / (9 * count))) / sqrt(2 / (9 * count))
        assert abs(cube) < 5.5 + (2.0 * sqrt(count / 20) * min(bend, 0.5)), outcome.id
        low, high = outcome.low, outcome.high
        kept &= (values >= (-np.inf if low is None else low - 1e-9)) & (
            values <= (np.inf if high is None else high + 1e-9)
        )
    model, chosen = study.model(every=True), [k for k, o in asked if o.id not in _KINKED]
    held = limits(
        [study.outcomes[k].low for k in chosen],
        [study.outcomes[k].high for k in chosen],
        [study.outcomes[k].value for k in chosen],
    )
    off = drawn(model, 100_000)[chosen].astype(np.float32)
    missed = np.zeros(off.shape[1], dtype=np.bool_)
    for number, row in enumerate(off):
        if (some := held.missed(number, row)) is not None:
            missed |= some
    likely = 1 - float(missed.mean())
    assert abs(kept.mean() - likely) < 4.5 * sqrt(likely * (1 - likely) * (1 / count + 1 / 100_000))


_KINKED = {"tunnel-2.to-top"}
"""The wood over a hole that runs level: the least of its two ends, which no straight line follows. It is far from its limit."""


# --- what is told ----------------------------------------------------------------------------------------


def test_shares_sum_to_one(found: Odds) -> None:
    doubted = [each for each in found.outcomes if each.shares]
    assert doubted
    for each in doubted:
        assert sum(share.share for share in each.shares) == pytest.approx(1.0, abs=1e-9)
        assert sum(share for _, share in each.operations()) == pytest.approx(1.0, abs=1e-9)


def test_a_perfect_operation_takes_its_share_away(study: Study, found: Odds) -> None:
    # Of a sum the variance without one part is the rest's: shares say it, and builds drawn without the part show it.
    name = "margin-treble"
    told = next(each for each in found.outcomes if each.outcome.id == name)
    operation, share = told.operations()[0]
    k = next(n for n, each in enumerate(study.outcomes) if each.id == name)
    rest = np.array([each.operation != operation for each in study.errors])
    off = drawn(model_of(study.spread[rest, k].tolist(), []), 200_000)
    assert off.var() == pytest.approx(told.sd**2 * (1 - share), rel=0.02)


def test_one_seed_gives_one_answer_on_any_number_of_processors(study: Study) -> None:
    model = study.model()
    spread = model.spread

    def first(at_once: int, seed: int) -> Floats:
        blocks = in_blocks(
            lambda random, n: spread @ model.drawn(random, n), 3 * BLOCK + 5, seed, at_once=at_once
        )
        return np.concatenate(list(blocks), axis=1).astype(np.float64)

    assert np.array_equal(first(1, 7), first(2, 7))
    assert not np.array_equal(first(1, 7), first(1, 8))


def test_a_tool_that_is_better_never_lowers_the_chance(found: Odds) -> None:
    gains = [(each.gain, each.error) for each in found.buys]
    gains += [(each.gain, each.error) for each in found.operations]
    assert all(gain > -4 * error - 1e-9 for gain, error in gains)


def test_every_chance_is_one_and_the_whole_is_no_likelier_than_a_part(found: Odds) -> None:
    assert 0 <= found.caution <= found.chance <= 1
    for each in found.outcomes:
        assert 0 <= each.caution <= 1
        assert found.chance <= each.chance <= 1


def test_better_ways_raise_the_chance(demo: Plan, found: Odds) -> None:
    better = Ways(rule="rule-cut", mark="mark-knife", prick="prick-punch", template="template-pins")
    told = odds(demo, usual_accuracies(), ways=better, trials=100_000, exact=0)
    assert told.chance > found.chance + 0.1
    buy = next(each for each in found.buys if each.then == "prick-punch")
    punched = odds(demo, usual_accuracies(), ways=Ways(prick="prick-punch"), trials=100_000, exact=0)
    # What a purchase was said to bring is what it brings: two runs of a hundred thousand, four standard deviations.
    assert punched.chance == pytest.approx(buy.chance, abs=4 * sqrt(2 * 0.25 / 100_000))


def test_a_shop_that_makes_no_errors_is_left_with_its_parts(demo: Plan, found: Odds) -> None:
    table = usual_accuracies()
    perfect = table.with_own(dict.fromkeys(table, 1e-9), "measured")
    told = odds(demo, perfect, trials=20_000, exact=0)
    for each in told.outcomes:
        by_hand = sum(share.share for share in each.shares if share.method in set(table))
        assert by_hand * each.sd**2 < 1e-12, each.outcome.id
    assert told.chance > found.chance


def test_what_is_measured_is_no_longer_in_doubt(demo: Plan) -> None:
    """Bridge holes drilled and measured: their prick and bit are gone, the rule that read them is left."""
    record = _made(demo, "drill-bridge-screws", measured=True)
    known = Study.of(plan(demo.job, record), usual_accuracies(), Ways())
    left = {each.method for each in known.errors if each.of.startswith("bridge-screw")}
    assert "rule" in left
    assert not left & {"prick-awl-ring", "bit-twist", "mark-pencil"}
    assert not any(each.operation == "set-plate" for each in known.errors)
    unmeasured = Study.of(
        plan(demo.job, _made(demo, "drill-bridge-screws", measured=False)), usual_accuracies(), Ways()
    )
    made = {each.method for each in unmeasured.errors if each.of.startswith("bridge-screw")}
    assert {"prick-awl-ring", "bit-twist"} <= made


def test_a_reading_leaves_what_two_measurements_leave(demo: Plan) -> None:
    """Of a normal error and a reading of it, each weighs as the inverse of its variance (the textbook's weighted mean)."""
    record = _made(demo, "drill-bridge-screws", measured=False)
    first = plan(demo.job, record)
    name = "nut-to-plate"
    before = Study.of(first, usual_accuracies(), Ways())
    k = next(n for n, each in enumerate(before.outcomes) if each.id == name)
    by_then = [each.operation not in {"fit-hardware"} for each in before.errors]
    prior, rule, off = float(np.sqrt((before.spread[by_then, k] ** 2).sum())), 0.15, 0.2
    gate = GateRead(card="fix-plate", value_mm=before.outcomes[k].value + off, by="A hand", at=_WHEN)
    done = Done(card="fix-plate", by="A hand", at=_WHEN)
    after = Study.of(
        plan(demo.job, Record(done=(*record.done, done), readings=(gate,))), usual_accuracies(), Ways()
    )
    assert after.expected[k] - before.expected[k] == pytest.approx(
        off * prior**2 / (prior**2 + rule**2), abs=1e-6
    )
    assert float(after.sd[k]) == pytest.approx(1 / sqrt(1 / prior**2 + 1 / rule**2), rel=1e-3)
    # Measured once more with the rule, the gate's reading and this one count, each by itself; a measurement has the rule's
    # own scale in it as well, 0.0002 of its length.
    value = before.outcomes[k].value + off
    again = Measurement(what=name, value_mm=value, by="A hand", with_what="rule", at=_WHEN)
    twice = Record(done=(*record.done, done), readings=(gate,), measured=(again,))
    both = Study.of(plan(demo.job, twice), usual_accuracies(), Ways())
    own = rule**2 + (0.0002 * value) ** 2
    assert float(both.sd[k]) == pytest.approx(1 / sqrt(1 / prior**2 + 1 / rule**2 + 1 / own), rel=1e-3)
    # What rests on the same errors is surer too, and lies where the reading says.
    t = next(n for n, each in enumerate(before.outcomes) if each.id == "travel.0.1.back")
    assert after.sd[t] < before.sd[t]
    assert after.expected[t] > before.expected[t]
    # One worked out in full lies where the straight line does.
    differences = after.differences(4, 2)
    assert abs(differences[:, k]).max() < 0.05


_WHEN = dt.datetime(2026, 11, 30, tzinfo=dt.UTC)


def _made(demo: Plan, card: str, *, measured: bool) -> Record:
    work = next(each for each in demo.operations if each.id == card)
    cuts: list[Cut] = []
    for bore in demo.features.bores:
        if bore.id in work.features:
            place = (bore.at.x, bore.at.y) if measured else None
            cuts.append(as_cut(bore).model_copy(update={"measured": place}))
    return Record(done=(Done(card=card, by="A hand", at=_WHEN, cuts=tuple(cuts)),))


def test_the_linear_model_is_near_what_is_worked_out(study: Study) -> None:
    """Wood that may come near a limit: within 0.25 mm, which is less than half a standard deviation, of builds worked in full."""
    differences = study.differences(8, 3)
    doubted = [n for n in study.doubted if study.outcomes[n].kind == "wood"]
    assert doubted
    assert np.abs(differences[:, doubted]).max() < 0.25
    others = [n for n, each in enumerate(study.outcomes) if each.kind != "wood"]
    assert np.abs(differences[:, others]).max() < 0.05


def test_an_instrument_with_no_error_is_the_plan(study: Study) -> None:
    values = study.values(np.zeros(len(study.errors)))
    for outcome in study.outcomes:
        assert values[outcome.id] == pytest.approx(outcome.value, abs=2e-4), outcome.id


@pytest.mark.parametrize("name", ["left-handed-six", "two-studs", "single-saddles"])
def test_other_instruments_have_odds(name: str) -> None:
    told = odds(plan(*parse_job(examples()[name].text)), usual_accuracies(), trials=20_000, exact=2)
    assert 0 < told.chance < 1
    assert told.operations
    assert told.linear_error < 0.3


def test_either_hand_has_the_same_odds(demo: Plan, found: Odds) -> None:
    text = demo_jobs()["marram.toml"].replace('handed = "right"', 'handed = "left"')
    left = odds(plan(parse_job(text).job), usual_accuracies(), trials=100_000, exact=0)
    assert left.chance == pytest.approx(found.chance, abs=4 * sqrt(0.25 / 100_000 + 0.25 / 200_000))


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"trials": 0}, "0 trial builds"),
        ({"trials": -3}, "-3 trial builds"),
        ({"trials": 10**12}, "cannot be tried"),
        ({"seed": -1}, "seed of -1"),
        ({"wanted": 1.0}, "between 0 and 1"),
    ],
)
def test_what_cannot_be_tried_is_refused(demo: Plan, wrong: dict[str, float], said: str) -> None:
    with pytest.raises(OddsError, match=said):
        odds(demo, usual_accuracies(), **wrong)  # type: ignore[arg-type]


def test_progress_is_told_and_asked_to_stop_it_stops(study: Study) -> None:
    told: list[float] = []
    study.counted(3 * BLOCK, 1, progress=told.append)
    assert told == pytest.approx([1 / 3, 2 / 3, 1.0])
    asked: list[bool] = []

    def stop() -> bool:
        asked.append(True)
        return len(asked) > 2

    with pytest.raises(Cancelled):
        study.counted(50 * BLOCK, 1, cancelled=stop)


def test_a_bridge_without_a_place_has_no_odds() -> None:
    text = demo_jobs()["marram.toml"].replace("saddle_back = 17.6", "saddle_back = 12.0")
    with pytest.raises(OddsError, match="the bridge has no place"):
        odds(plan(parse_job(text).job), usual_accuracies(), trials=1000)
