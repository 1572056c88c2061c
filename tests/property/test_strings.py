"""What must hold of any strings on any instrument."""

from dataclasses import replace
from math import sqrt
from typing import Literal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scribeline.lengths import in_unit
from scribeline.strings import (
    PRIOR,
    SHOP_KEYS,
    Criterion,
    Estimate,
    Saddles,
    Sets,
    Setup,
    Shop,
    StringsError,
    StringSpec,
    compensate_nut,
    estimate,
    faults,
    predict,
    problem,
    remedies,
)

from ..torture import examples
from ..trial_builds import draw, work_builds

MM = 25.4
E4, B3, G3 = StringSpec("E4", 0.010 * MM), StringSpec("B3", 0.013 * MM), StringSpec("G3", 0.017 * MM)
D3, A2, E2 = (StringSpec(n, g * MM, "round-wound") for n, g in (("D3", 0.026), ("A2", 0.036), ("E2", 0.046)))
LIGHT = (E4, B3, G3, D3, A2, E2)
SETUP = Setup(647.7)
ROW = tuple(10.5 * (2.5 - i) for i in range(6))


def test_a_batch_is_its_builds_one_by_one() -> None:
    """The same formulas for one build or many: to rounding."""
    stated = problem(LIGHT, SETUP)
    values = draw(stated, 40, np.random.default_rng(2))
    setback, cents = work_builds(stated, values)
    for i in range(40):
        alone = {key: v[i] if v.ndim == 2 else v for key, v in values.items()}
        one, its_cents = work_builds(stated, alone)
        np.testing.assert_allclose(one, setback[i], atol=1e-8)
        np.testing.assert_allclose(its_cents, cents[i], atol=1e-6)


def test_a_batch_may_have_more_than_one_axis() -> None:
    stated = problem(LIGHT, SETUP)
    values = draw(stated, 12, np.random.default_rng(2))
    setback, cents = work_builds(stated, values)
    folded = {key: v.reshape(3, 4, -1) if v.ndim == 2 else v for key, v in values.items()}
    again, its_cents = work_builds(stated, folded)
    np.testing.assert_allclose(again.reshape(12, 6), setback, atol=1e-8)
    np.testing.assert_allclose(its_cents.reshape(12, 6, 22), cents, atol=1e-6)


def test_shares_add_up_and_follow_the_inputs() -> None:
    found = predict(LIGHT, SETUP)
    np.testing.assert_allclose(sum(found.shares.values()), 1.0, atol=1e-12)
    np.testing.assert_allclose(np.diag(found.covariance), found.sd**2)
    assert found.dominant(0)[0][0] in {"reading", "finger_depth"}
    # A core measured with a micrometer takes the core's share away.
    measured = predict((*LIGHT[:5], replace(E2, core=0.44)), SETUP)
    assert measured.shares["core"][5] < 0.3 * found.shares["core"][5]
    assert measured.sd[5] < found.sd[5]


@settings(max_examples=examples(30), deadline=None)
@given(
    scale=st.floats(600, 900),
    treble=st.floats(1.0, 3.0),
    nut=st.floats(0.0, 0.8),
    relief=st.floats(0.0, 0.4),
    finger=st.floats(0.1, 0.6),
    end=st.floats(0.0, 0.5),
)
def test_more_of_anything_that_sharpens_asks_for_more_setback(
    *, scale: float, treble: float, nut: float, relief: float, finger: float, end: float
) -> None:
    setup = Setup(scale, action_treble=treble, action_bass=treble, nut_height=nut, relief=relief)
    shop = replace(PRIOR, mean=(end, finger, 0.5))
    specs = (StringSpec(220.0, 0.4), StringSpec(110.0, 0.9, "round-wound"))
    base = predict(specs, setup, shop).setback
    assert np.all(base >= 0)
    higher = replace(setup, action_treble=treble + 0.2, action_bass=treble + 0.2)
    assert np.all(predict(specs, higher, shop).setback > base)
    assert np.all(predict(specs, setup, replace(shop, mean=(end, finger + 0.05, 0.5))).setback > base)
    assert np.all(predict(specs, setup, replace(shop, mean=(end + 0.05, finger, 0.5))).setback > base)
    assert np.all(predict(specs, setup, replace(shop, mean=(end, finger, 0.6))).setback > base)


@settings(max_examples=examples(30), deadline=None)
@given(factor=st.floats(0.5, 2.0))
def test_everything_scales_with_the_instrument(factor: float) -> None:
    """Every length by one factor and every pitch by its inverse: the same stress and cents, setbacks by the factor."""
    setup = Setup(648.0, free_length=150.0, fret_height=1.1)
    large = Setup(
        648.0 * factor,
        action_treble=1.6 * factor,
        action_bass=2.0 * factor,
        nut_height=0.5 * factor,
        relief=0.2 * factor,
        free_length=150.0 * factor,
        fret_height=1.1 * factor,
    )
    end, finger, grip = PRIOR.mean
    here = predict((StringSpec(220.0, 0.4), StringSpec(110.0, 0.9, "round-wound", core=0.4)), setup)
    there = predict(
        (
            StringSpec(220.0 / factor, 0.4 * factor),
            StringSpec(110.0 / factor, 0.9 * factor, "round-wound", core=0.4 * factor),
        ),
        large,
        replace(PRIOR, mean=(end, finger * factor, grip)),
    )
    np.testing.assert_allclose(there.setback, factor * here.setback, rtol=1e-6)
    np.testing.assert_allclose(there.cents, here.cents, atol=1e-6)
    np.testing.assert_allclose(there.stress_mpa, here.stress_mpa, rtol=1e-9)


def test_the_bench_criterion_leaves_the_twelfth_right_but_for_stiffness() -> None:
    """12th fretted equals 12th harmonic: sharp of twice the open note by the harmonic's own stretch, 600 log2((1 +
    4B) / (1 + B)) cents for hinged ends."""
    hinged = replace(PRIOR, mean=(0.0, 0.3, 0.5))
    found = predict(LIGHT, SETUP, hinged)
    b = found.inharmonicity
    np.testing.assert_allclose(found.cents[:, 11], 600 * np.log2((1 + 4 * b) / (1 + b)), atol=1e-6)


def test_a_measured_mass_wins() -> None:
    found = predict((replace(E2, mass_kg_m=0.0068),), SETUP)
    assert found.mass_kg_m[0] == pytest.approx(0.0068)
    assert found.shares["packing"][0] == 0
    assert found.shares["mass"][0] > 0


def test_one_scale_a_string() -> None:
    fanned = Setup((648.0, 660.0, 672.0))
    found = predict((E4, B3, G3), fanned)
    for i, scale in enumerate((648.0, 660.0, 672.0)):
        action = 1.6 + 0.2 * i
        alone = predict(((E4, B3, G3)[i],), Setup(scale, action_treble=action, action_bass=action))
        assert found.setback[i] == pytest.approx(float(alone.setback[0]), abs=1e-7)


def test_a_moved_nut_takes_the_sharpness_off_the_first_frets() -> None:
    """Common practice, no source: nuts are moved by some tenths of a millimetre to about 1.5 mm for this."""
    both = compensate_nut(LIGHT, SETUP)
    assert np.all((both.nut_shift > 0) & (both.nut_shift < 3))
    assert np.all((both.cents**2).sum(axis=1) < (both.cents_saddle_alone**2).sum(axis=1))
    assert np.all(np.abs(both.cents[:, 0]) < np.abs(both.cents_saddle_alone[:, 0]))
    built = replace(SETUP, nut_shift=tuple(both.nut_shift.tolist()))
    again = predict(LIGHT, built, criterion="all frets")
    np.testing.assert_allclose(again.setback, both.setback, atol=1e-5)
    np.testing.assert_allclose(again.cents, both.cents, atol=1e-5)


def test_every_prediction_says_why() -> None:
    for i in range(6):
        text = " ".join(predict(LIGHT, SETUP).why(i))
        assert "cents sharp" in text
        assert "standard deviation" in text
        assert "most of that spread is" in text


def messages(specs: tuple[StringSpec, ...], setup: Setup, saddles: int | None = None) -> dict[str, str]:
    return {
        fault.code: in_unit(f"{fault.message}; {fault.cure}", "mm")
        for fault in faults(specs, setup, saddles=saddles)
    }


def test_a_sound_set_has_no_fault() -> None:
    assert faults(LIGHT, SETUP, saddles=6) == ()


def test_a_string_that_would_break() -> None:
    text = messages((StringSpec("C5", 0.010 * MM),), SETUP)["strings.breaks"]
    assert text.startswith(
        "string 1 (C5 .010 plain) breaks: tuned to pitch it pulls 3606 MPa in a wire that holds"
    )
    assert "ASTM A228" in text
    assert "tune it to F#4 or lower, three quarters of its strength, or shorten the scale" in text
    # And the note it names does hold, at three quarters of the least strength or a little under.
    assert "strings.breaks" not in messages((StringSpec("F#4", 0.010 * MM),), SETUP)
    assert 0.67 < predict((StringSpec("F#4", 0.010 * MM),), SETUP).strength_share[1][0] <= 0.75


def test_a_note_below_what_the_core_can_carry() -> None:
    text = messages((StringSpec("E1", 0.017 * MM),), SETUP)["strings.note-below-core"]
    assert "string 1 (E1 .017 plain) is below what its core can carry: it pulls only 3.3 N" in text
    assert "take a wound string" in text
    rod = messages((StringSpec(8.0, 2.0),), Setup(500.0))["strings.note-below-core"]
    assert "its stiffness alone sounds higher than that, at no tension at all" in rod


def test_more_strings_than_saddles() -> None:
    text = messages(LIGHT, SETUP, saddles=4)["strings.more-than-saddles"]
    assert text.startswith("there are 6 strings and the bridge has 4 saddles; choose a bridge with 6 saddles")


def test_action_lower_than_the_frets_allow() -> None:
    low = Setup(647.7, action_treble=0.1, action_bass=0.1, nut_height=0.0, relief=0.3)
    text = messages((E4,), low)["strings.action-too-low"]
    assert text.startswith(
        "string 1 has an action of 0.10 mm over the 12th fret's crown, lower than the frets allow"
    )
    assert "lies on a fret" in text or "lies on fret" in text
    raised = float(text.split("raise the action to ")[1].split(" mm")[0])
    right = replace(low, action_treble=raised, action_bass=raised)
    assert "strings.action-too-low" not in messages((E4,), right)


def test_all_faults_are_told_together() -> None:
    low = Setup(647.7, action_treble=0.05, action_bass=0.05)
    specs = (StringSpec("C5", 0.010 * MM), StringSpec("E1", 0.017 * MM))
    text = "\n".join(messages(specs, low, saddles=1).values())
    for part in ("breaks", "below what its core can carry", "lower than the frets allow", "1 saddles"):
        assert part in text


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: StringSpec("E4", 0.0), "the gauge of E4 .000 plain is 0 mm; a string has a thickness"),
        (lambda: StringSpec("E4", -0.2), "a string has a thickness: give its gauge"),
        (lambda: StringSpec("E4", float("nan")), "a string has a thickness"),
        (lambda: StringSpec(0.0, 0.25), "is not a pitch; give a note such as E4"),
        (lambda: StringSpec("E4", 0.25, core=0.1), "is plain and has no core"),
        (lambda: StringSpec("E2", 1.2, "round-wound", core=1.1), "no room for the wrap"),
        (lambda: StringSpec("E2", 1.2, "round-wound", core=0.0), "must be over 0 mm"),
        (lambda: StringSpec("E2", 1.2, "round-wound", wrap="music wire"), "is not a wrap material here"),
        (lambda: StringSpec("E2", 1.2, mass_kg_m=0.0), "weigh a cut length on a scale"),
        (lambda: problem((), SETUP), "there are no strings; list them from the treble"),
        (lambda: predict(LIGHT, Setup((640.0, 650.0))), "scale lists 2 lengths for 6 strings"),
        (lambda: predict(LIGHT, Setup(0.0)), "scale is 0 mm; it is a length of 100 mm or more"),
        (
            lambda: predict(LIGHT, Setup(647.7, nut_shift=9.0)),
            "nut_shift is 9 mm; a nut is moved by 5 mm at most",
        ),
        (
            lambda: predict((E4, StringSpec(8.0, 2.0)), Setup(500.0)),
            "no saddle place brings string 2 into tune",
        ),
        (lambda: predict(LIGHT, Setup(647.7, frets=11)), "the 12th is needed"),
        (lambda: predict(LIGHT, Setup(647.7, nut_height=-0.1)), "lies on the first fret; raise the slot"),
        (
            lambda: Shop((1.2, 0.3, 0.5), PRIOR.covariance),
            "end condition 1.2 and grip 0.5 lie between 0 and 1",
        ),
    ],
)
def test_bad_input_is_a_sentence(make: object, sentence: str) -> None:
    assert callable(make)
    with pytest.raises(StringsError, match=sentence.replace(".", r"\.").replace("(", r"\(")):
        make()


def test_remedies_do_what_they_say() -> None:
    sets = Sets({"10-46": LIGHT}, SETUP, Saddles(9.0, 15.0, ROW))
    assert sets.window().is_empty
    found = {remedy.kind: remedy for remedy in remedies(sets)}
    travel = found["travel"]
    longer = replace(sets, saddles=Saddles(9.0, 9.0 + travel.value, ROW)).window()
    assert longer.reserve == pytest.approx(1.0, abs=1e-9)
    assert not longer.is_empty
    gauge = found["gauge"]
    assert gauge.fits == (not gauge.window.is_empty)
    assert found["slant"].window.reserve >= sets.window().reserve
    assert found["reserve"].value == pytest.approx(sets.window().reserve)
    assert "makes room" in found["slant"].words
    assert remedies(replace(sets, saddles=Saddles(9.0, 20.0, ROW))) == ()


def test_a_wound_string_too_slack_to_be_brought_into_tune_is_not_offered() -> None:
    heavy = StringSpec("C0", 0.017 * MM, mass_kg_m=0.0056)
    three = Sets({"three": (E4, B3, heavy)}, Setup(800.0), Saddles(9.0, 9.5, (10.0, 0.0, -10.0)))
    assert three.window().limited_by == (1, 3)
    assert not {"wound string", "wound third"} & {remedy.kind for remedy in remedies(three)}


def test_a_wound_third_is_offered_for_a_plain_one() -> None:
    three = Sets(
        {"three": (E4, B3, StringSpec("G3", 0.020 * MM))}, SETUP, Saddles(9.0, 13.5, (10.0, 0.0, -10.0))
    )
    found = {remedy.kind: remedy for remedy in remedies(three)}
    wound = found["wound third"]
    assert wound.window.reserve > three.window().reserve
    assert wound.value > 0.020 * MM
    assert "the same pull" in wound.words


@settings(max_examples=examples(200), deadline=None)
@given(
    hz=st.floats(15, 1500),
    gauge=st.floats(0.1, 3.6),
    kind=st.sampled_from(["plain", "round-wound", "flat-wound"]),
    scale=st.floats(300, 1000),
    action=st.floats(-1, 6),
    relief=st.floats(-0.3, 1.0),
    end=st.floats(0, 1),
    criterion=st.sampled_from(["12th fret", "all frets"]),
)
def test_any_string_is_predicted_or_refused_with_a_sentence(
    *,
    hz: float,
    gauge: float,
    kind: Literal["plain", "round-wound", "flat-wound"],
    scale: float,
    action: float,
    relief: float,
    end: float,
    criterion: Criterion,
) -> None:
    """Never a traceback, a warning or a not-a-number."""
    setup = Setup(scale, action_treble=action, action_bass=action, relief=relief)
    shop = replace(PRIOR, mean=(end, 0.3, 0.5))
    try:
        spec = StringSpec(hz, gauge, kind)
        for fault in faults((spec,), setup, shop):
            assert fault.message
            assert fault.cure
        found = predict((spec,), setup, shop, criterion)
    except StringsError as refusal:
        sentence = str(refusal)
    else:
        assert np.all(np.isfinite(found.setback))
        assert np.all(np.isfinite(found.sd))
        assert np.all(np.isfinite(found.cents))
        assert found.tension_n[0] > 0
        return
    assert len(sentence) > 30


def test_estimates_keep_their_source() -> None:
    assert estimate(2.0) == Estimate(2.0, 0.0, "stated")
    given_one = Estimate(1.0, 0.1, "measured")
    assert estimate(given_one) is given_one
    assert PRIOR.estimate(SHOP_KEYS[1]).sd == pytest.approx(sqrt(PRIOR.covariance[1][1]))
