"""String changes against worked numbers and bench practice."""

import pytest

from scribeline.strings import Saddles, Setup, StringsError, StringSpec, Vibrato, change_strings

NOTES = ("E4", "B3", "G3", "D3", "A2", "E2")
DOWN_A_TONE = ("D4", "A3", "F3", "C3", "G2", "C2")
SETUP = Setup(647.7)
ROW = tuple(10.5 * (2.5 - i) for i in range(6))


def strings(gauges: tuple[int, ...], notes: tuple[str, ...] = NOTES) -> tuple[StringSpec, ...]:
    return tuple(
        StringSpec(note, g * 0.0254, "plain" if g < 20 else "round-wound")
        for note, g in zip(notes, gauges, strict=True)
    )


TENS, NINES = strings((10, 13, 17, 26, 36, 46)), strings((9, 11, 16, 24, 32, 42))


def test_pull_of_common_sets() -> None:
    """Common practice, no source: 10-46 pulls about 470 N on 25-1/2 in and some 22 % more than 9-42."""
    change = change_strings(NINES, TENS, SETUP)
    assert change.after.pull_n == pytest.approx(468, rel=0.06)
    assert change.before.pull_n == pytest.approx(383, rel=0.06)
    assert change.after.pull_n / change.before.pull_n == pytest.approx(1.22, abs=0.02)


def test_relief_follows_the_pull() -> None:
    heavier, lighter = change_strings(NINES, TENS, SETUP), change_strings(TENS, NINES, SETUP)
    assert (heavier.relief, lighter.relief) == ("more", "less")
    assert "tighten the rod" in heavier.relief_advice
    assert "slacken the rod" in lighter.relief_advice
    assert change_strings(TENS, TENS, SETUP).relief == "as before"


def test_a_sprung_vibrato_balances_by_its_levers() -> None:
    """Moments about the pivot: springs × 38 = strings × 12."""
    change = change_strings(TENS, NINES, SETUP, vibrato=Vibrato(12.0, 38.0, 3))
    balance = change.balance
    assert balance is not None
    assert balance.before_n * 38.0 == pytest.approx(change.before.pull_n * 12.0)
    assert balance.after_n * 38.0 == pytest.approx(change.after.pull_n * 12.0)
    assert balance.each_n * 3 == pytest.approx(balance.after_n)
    # (468 − 383) × 12/38 = 26.8 N by hand from the usual pulls.
    assert balance.before_n - balance.after_n == pytest.approx(26.8, abs=3)
    assert "slacken the claw" in balance.advice


def test_tuned_down_strings_want_their_saddles_further_back() -> None:
    """Common practice, no source: a low string let down to C wants about 1 to 2 mm more travel. Slots for an .052
    are 0.006 in wider than for an .046."""
    change = change_strings(TENS, strings((11, 14, 18, 28, 38, 52), DOWN_A_TONE), SETUP)
    assert 1.0 < change.saddle_move[5] < 2.5
    assert change.slot_widening[5] == pytest.approx(0.006 * 25.4)
    assert change.pull_change_n < 0


def test_the_same_plain_note_wants_the_same_saddle_whatever_its_gauge() -> None:
    """Stress does not depend on gauge, nor does stretch; only the stiff ends differ, by hundredths."""
    change = change_strings(TENS, NINES, SETUP)
    assert abs(change.saddle_move[0]) < 0.03


def test_what_stays_on_the_instrument_drops_out_of_a_move() -> None:
    change = change_strings(TENS, NINES, SETUP)
    assert (change.saddle_move_sd < (change.before.sd**2 + change.after.sd**2) ** 0.5).all()


def test_travel_after_the_change() -> None:
    down = strings((11, 14, 18, 28, 38, 52), DOWN_A_TONE)
    roomy = change_strings(TENS, down, SETUP, bridge=Saddles(9.0, 19.0, ROW), front_edge=-10.5)
    assert roomy.travel_suffices
    assert roomy.travel_forward is not None
    assert roomy.travel_back is not None
    assert roomy.travel_forward + roomy.travel_back == pytest.approx([10.0] * 6)
    tight = change_strings(TENS, down, SETUP, bridge=Saddles(9.0, 13.0, ROW), front_edge=-8.0)
    assert tight.travel_suffices is False
    assert tight.misses is not None
    assert tight.misses[5] > 0.5


def test_measured_saddles_win() -> None:
    now = (1.6, 2.4, 3.9, 2.9, 3.5, 4.9)
    change = change_strings(TENS, NINES, SETUP, saddles_now=now)
    assert change.saddle_after == pytest.approx(now + change.saddle_move)


def test_what_does_not_fit_is_a_sentence() -> None:
    with pytest.raises(
        StringsError, match="the old set has 6 strings and the new one 5; list one for each saddle"
    ):
        change_strings(TENS, NINES[:5], SETUP)
    with pytest.raises(StringsError, match="measure both levers"):
        change_strings(TENS, NINES, SETUP, vibrato=Vibrato(0.0, 38.0, 3))
