"""Where cuts really are, by several readings each: against NumPy's least squares, covariance in closed form, and sums by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from scribeline.job import Measurement, Record, parse_job, set_value
from scribeline.layout import Typed, crowns_over_body, entered
from scribeline.lengths import in_unit
from scribeline.plan import Plan, plan
from scribeline.plan.heights import heights
from scribeline.plan.named import quantities
from scribeline.plan.was_now import was_now
from scribeline.store.recorded import with_record
from scribeline.tables import usual_accuracies

from ..as_built import tick
from ..conftest import DEMO, FULL
from ..neck_read import neck_set_off

HOLE, CAVITY = "bridge-screw-1", "bridge-pickup"
SEEN = plan(*parse_job(DEMO))
AT = datetime(2026, 11, 30, tzinfo=UTC)


def made(*steps: str) -> str:
    """The demo with these steps done."""
    cards = {card.id: card for card in SEEN.cards}
    return with_record(DEMO, [tick(cards[name], SEEN) for name in steps], ())


DRILLED, ROUTED = made("drill-bridge-screws"), made("rout-bridge-pickup")


def read(text: str, *readings: tuple[str, float, str], **more: Any) -> Plan:
    """The plan with readings of cuts, each a name, how far off what was planned, and the way it was read."""
    job, record = parse_job(text)
    before = plan(job, record)
    entries = []
    for name, off, way in readings:
        check = before.check(name)
        assert check is not None, name
        typed = Typed("", "Ann", way, sure=True)
        entries.append(entered(check, typed, check.value + off, None, at=AT, revision=1))
    return plan(job, record.followed_by(Record(measured=tuple(entries), **more)))


def place(seen: Plan) -> tuple[float, float]:
    at = next(each.at for each in seen.features.bores if each.id == HOLE)
    return at.x, at.y


def test_readings_from_several_datums_count_as_in_a_general_library() -> None:
    """Generalised least squares by the readings' whole covariance, V = diag(sd²) + s² L Lᵀ, where L is what the rule read and
    s its scale's: NumPy's linear solver on what the estimator never forms, as it takes the scale for an unknown.
    """
    ways = ("rule", "tape", "rule", "caliper")
    names = [f"{HOLE}-from-{each}" for each in ("12th-fret", "nut", "tail", "pocket-end")]
    offs = (0.35, 0.60, -0.20, 0.28)
    seen = read(DRILLED, *zip(names, offs, ways, strict=True))
    checks = [seen.check(name) for name in names]
    accuracies = usual_accuracies()
    sign = np.array([1.0, 1.0, -1.0, 1.0])
    sd = np.array([accuracies[way].sd for way in ways])
    lengths = np.array(
        [
            0.0 if way == "caliper" else check.value + off
            for check, off, way in zip(checks, offs, ways, strict=True)
            if check
        ]
    )
    scale = accuracies["rule-scale"].sd * sign * lengths
    weight = np.linalg.inv(np.diag(sd**2) + np.outer(scale, scale))
    off = sign * np.array(offs)
    variance = 1 / weight.sum()
    expected = float(variance * (weight @ off).sum())
    chi = float((off - expected) @ weight @ (off - expected))
    found = seen.record.found[HOLE]
    assert found.of("along")[0] == pytest.approx(expected, abs=1e-9)
    wider = max(1.0, (6 + chi) / (6 + len(offs)))  # what readings that scatter more than stated add
    assert found.of("along")[1] == pytest.approx((variance * wider) ** 0.5, abs=1e-9)
    assert place(seen)[0] == pytest.approx(place(plan(*parse_job(DRILLED)))[0] + expected, abs=1e-9)


def test_one_rules_scale_is_counted_once() -> None:
    """The same length read n times with one rule: 0.15/√n, and 0.0002 of the length however often it is read."""
    name = f"{HOLE}-from-nut"
    for count in (1, 4, 100):
        found = read(DRILLED, *[(name, 0.0, "rule")] * count).record.found[HOLE]
        check = SEEN.features.bores
        length = next(each.at.x for each in check if each.id == HOLE)
        by_hand = (0.15**2 / count + (0.0002 * length) ** 2) ** 0.5
        assert found.of("along")[1] == pytest.approx(by_hand, rel=1e-6)


def test_a_reading_that_disagrees_is_named_with_how_far() -> None:
    """Read at 0.0, 0.1 and 1.25 off with one rule: the other two have 0.05, so the third is 1.2 off and does not count."""
    name = f"{HOLE}-from-12th-fret"
    seen = read(DRILLED, (name, 0.0, "rule"), (name, 0.1, "rule"), (name, 1.25, "rule"))
    (told,) = [each for each in seen.findings if each.code == "record.contradicted"]
    assert told.value == pytest.approx(1.2, abs=1e-3)
    assert "no. 3" in told.message
    assert "disagrees with the two others by 1.2" in in_unit(told.message, "mm")
    assert f"measure {name} again and strike no. 3 through" in told.cure
    assert seen.record.found[HOLE].of("along")[0] == pytest.approx(
        0.05, abs=1e-4
    )  # the longer reading leans more on the scale


def test_of_two_that_disagree_both_count_and_both_are_named() -> None:
    name = f"{HOLE}-from-12th-fret"
    seen = read(DRILLED, (name, 0.0, "rule"), (name, 1.2, "rule"))
    (told,) = [each for each in seen.findings if each.code == "record.contradicted"]
    assert "no. 1" in told.message
    assert "no. 2" in told.message
    assert seen.record.found[HOLE].of("along")[0] == pytest.approx(0.6, abs=1e-3)


@pytest.mark.parametrize("hand", ["right", "left"])
def test_a_cavity_lies_where_its_walls_were_read(hand: str) -> None:
    """By hand: both walls along 0.4 and 0.6 further to the tail, so 0.5 moved and 0.2 longer, but that bit and print, 0.14 and
    0.0015 of the size, are known beforehand; weights as for two independent numbers, as the walls' sum tells the place alone.
    """
    job, record = parse_job(ROUTED.replace('handed = "right"', f'handed = "{hand}"'))
    before = plan(job, record).features.pocket(CAVITY)
    names = [f"{CAVITY}-{side}-side-from-12th-fret" for side in ("nut", "tail")]
    seen = read(ROUTED, (names[0], 0.4, "caliper"), (names[1], 0.6, "caliper"))
    cut, xs = seen.features.pocket(CAVITY), [p.x for p in before.outline]
    size = max(xs) - min(xs)
    prior = (2 * 0.10**2 + (0.0015 * size) ** 2) ** 0.5
    grown = 0.2 * prior**2 / (prior**2 + 2 * 0.02**2)
    assert min(p.x for p in cut.outline) == pytest.approx(min(xs) + 0.5 - grown / 2, abs=1e-9)
    assert max(p.x for p in cut.outline) == pytest.approx(max(xs) + 0.5 + grown / 2, abs=1e-9)
    # What was planned stays on the record beside it, and the reading by itself is no change of the job.
    (kept,) = [c for done in seen.record.done for c in done.cuts if c.id == CAVITY]
    assert kept.outline is not None
    assert max(x for x, _ in kept.outline) == pytest.approx(max(xs))
    assert [each for each in seen.moved if each.feature == CAVITY] == []


def test_the_wood_beside_a_cavity_is_that_beside_it_as_routed() -> None:
    """14.0 stand between the neck pocket's end wall and the next cavity; both its walls read 1.5 nearer leave 12.5."""
    sides = [f"neck-pickup-{side}-side-from-12th-fret" for side in ("nut", "tail")]
    seen = read(ROUTED, *[(name, -1.5, "caliper") for name in sides])
    between = {"neck-pocket", "neck-pickup"}
    was, now = (next(w.mm for w in made.webs if {w.a, w.b} == between) for made in (SEEN, seen))
    assert (was, now) == pytest.approx((14.0, 12.5), abs=1e-6)


def test_strings_that_run_beside_a_cavity_as_it_was_found_are_told() -> None:
    """Both walls 1.4 further to the treble: the strings' middle is the demo's centreline but for 0.07."""
    sides = [f"{CAVITY}-{side}-side-from-centreline" for side in ("treble", "bass")]
    seen = read(ROUTED, (sides[0], 1.4, "caliper"), (sides[1], -1.4, "caliper"))
    (told,) = [each for each in seen.findings if each.code == "cavity.off-strings"]
    assert told.value == pytest.approx(1.4, abs=0.1)
    assert "to the treble" in told.message
    near = read(ROUTED, (sides[0], 0.4, "caliper"), (sides[1], -0.4, "caliper"))
    assert "cavity.off-strings" not in {each.code for each in near.findings}


def test_a_covers_screws_go_with_its_recess_as_it_was_found() -> None:
    """Its recess 0.8 towards the tail and 0.5 across: so are all its pilots that are not drilled."""
    job, _ = parse_job(FULL)
    before = plan(job)
    recess = next(each for each in before.features.pockets if each.id.endswith("cover-recess"))
    work = next(card for card in before.cards if recess.id in card.features)
    text = with_record(FULL, [tick(work, before)], ())
    names = [f"{recess.id}-{side}-side-from-nut" for side in ("nut", "tail")]
    names += [f"{recess.id}-{side}-side-from-centreline" for side in ("treble", "bass")]
    job, record = parse_job(text)
    entries = []
    for name, off in zip(names, (0.8, 0.8, 0.5, 0.5), strict=True):
        check = plan(job, record, waits).check(name)
        assert check is not None
        typed, mm = (
            Typed("", "Ann", "caliper", sure=True),
            check.value + off * (1 if "centreline" not in name else check.sign),
        )
        entries.append(entered(check, typed, mm, None, at=AT, revision=1))
    seen = plan(job, record.followed_by(Record(measured=tuple(entries))), waits)
    role = recess.role.removesuffix("recess").strip()
    screws = [each for each in before.features.family("cover-screw") if each.role.startswith(role)]
    assert screws
    after = {each.id: each for each in seen.features.bores}
    for screw in screws:
        there = after[screw.id].at
        assert (there.x - screw.at.x, there.y - screw.at.y) == pytest.approx((0.8, 0.5), abs=1e-6)


def waits(*_: object) -> None:
    """Wire holes are waited for: nothing here hangs on them."""


def test_a_reading_stays_where_it_was_read_whatever_the_job_becomes() -> None:
    name = f"{HOLE}-from-12th-fret"
    entry = read(DRILLED, (name, 0.5, "rule")).record.measured[0]
    assert entry.lies_at is not None
    for scale in ("640.4", "628"):
        changed = DRILLED.replace("length = 640", f"length = {scale}", 1)
        job, record = parse_job(changed)
        seen = plan(job, record.followed_by(Record(measured=(entry,))))
        assert place(seen)[0] == pytest.approx(entry.lies_at, abs=1e-9)


def test_what_is_read_of_a_cut_that_is_not_made_counts_for_nothing() -> None:
    entry = Measurement(what=f"{HOLE}-from-nut", value_mm=655.0, lies_at=655.0, by="Ann", at=AT)
    seen = plan(parse_job(DEMO)[0], Record(measured=(entry,)))
    assert seen.record.found == {}
    assert "record.unknown" in {each.code for each in seen.findings}


POCKET = made("rout-neck-pocket")


def heights_of(seen: Plan) -> list[float]:
    found = heights(seen)
    assert found is not None
    return [each.wanted for each in found.strings]


def test_a_measured_neck_pocket_is_in_the_chain_of_heights() -> None:
    """By hand, the level neck's chain: heel 25.20 − pocket + fret 1.10. The pocket was planned 16.00 and is read 16.60 with a
    depth gauge (0.10): the crowns stand at 9.70, every string 0.60 lower at its saddle, known to √(0.10² + (0.1/√3)²) = 0.115.
    """
    plain, seen = plan(*parse_job(POCKET)), read(POCKET, ("neck-pocket-depth", 0.6, "depth-gauge"))
    document = seen.job.document
    assert crowns_over_body(document) == pytest.approx(25.2 - 16.6 + 1.1, abs=1e-9)
    for was, now in zip(heights_of(plain), heights_of(seen), strict=True):
        assert now - was == pytest.approx(-0.6, abs=1e-9)
    crowns = quantities(seen)["crowns-over-body"]
    assert crowns.sd == pytest.approx((0.10**2 + 0.1**2 / 3) ** 0.5, abs=1e-9)
    assert "no. 1 of the record" in quantities(seen)["neck.pocket_depth"].source
    assert seen.stated.document.neck.pocket_depth.mm == 16.0
    (told,) = [each for each in seen.findings if each.code == "heights.pocket-as-routed"]
    words = in_unit(told.message + told.cure, "mm")
    assert "16.60 mm deep as measured" in words
    assert "16.00 mm was planned" in words
    assert "set the saddles 0.60 mm lower" in words
    assert "full shim of 0.60 mm" in words


def test_the_gates_depth_and_the_records_count_together() -> None:
    """16.10 at the gate and 16.30 with the gauge again: 16.20, known to 0.10/√2."""
    card = next(each for each in SEEN.cards if each.id == "rout-neck-pocket")
    ticked = tick(card, SEEN)
    cut = {**ticked.features[0], "measured_depth": 16.1}
    text = with_record(DEMO, [replace(ticked, features=(cut,))], ())
    assert plan(*parse_job(text)).job.document.neck.pocket_depth.mm == pytest.approx(16.1, abs=1e-9)
    both = read(text, ("neck-pocket-depth", 0.3, "depth-gauge")).job.document.neck.pocket_depth
    assert (both.mm, both.sd) == pytest.approx((16.2, 0.10 / 2**0.5), abs=1e-9)


def test_a_pocket_that_is_too_shallow_is_routed_deeper_and_no_cut_moves() -> None:
    """Strings 12.25 to 13.06 over the body, 0.90 higher over a pocket so much too shallow; the saddles reach 11.5 to 13.7."""
    reach = {"lowest": 11.5, "highest": 13.7}
    text = POCKET
    for name, mm in reach.items():
        text, _ = set_value(text, f"bridge.saddle_{name}", mm)
    plain, seen = plan(*parse_job(text)), read(text, ("neck-pocket-depth", -0.9, "depth-gauge"))
    code = "heights.saddle-out-of-range"
    assert code not in {each.code for each in plain.findings}
    (told,) = [each for each in seen.findings if each.code == code]
    assert "rout the pocket" in told.cure
    before = {each.id: each for each in plain.features}
    for each in seen.features:
        if each.id != "neck-pocket":
            assert (each.id, getattr(each, "at", None)) == (each.id, getattr(before[each.id], "at", None))
    assert seen.features.pocket("neck-pocket").outline == plain.features.pocket("neck-pocket").outline


def test_was_and_now_stand_with_the_measurements_they_rest_on() -> None:
    """A pocket 0.6 deeper and a cavity's tail wall 0.8 on, by hand; each by its own measurement, and nothing else."""
    text = made("rout-neck-pocket", "rout-bridge-pickup")
    seen = read(text, ("neck-pocket-depth", 0.6, ""), (f"{CAVITY}-tail-side-from-12th-fret", 0.8, ""))
    told = {(each.what, each.number): each for each in was_now(seen)}
    assert set(told) == {
        ("neck pocket", "depth at its end wall"),
        ("bridge pickup", "from the pocket's end wall"),
    }
    depth, along = told.values()
    assert (depth.was, depth.now) == pytest.approx((16.0, 16.6))
    assert depth.rests_on == "no. 1 of the record"
    assert along.now - along.was == pytest.approx(0.8, abs=1e-9)
    assert along.rests_on == "no. 2"
    assert was_now(plan(*parse_job(text))) == ()


def test_what_follows_the_neck_is_told_by_the_necks_measurements() -> None:
    seen, plain = plan(*parse_job(neck_set_off(DEMO))), {each.id: each for each in SEEN.features.bores}
    told = [each for each in was_now(seen) if each.number == "from the centreline, to the treble"]
    holes = {each.what: each for each in told}
    first = next(each for each in seen.features.bores if each.id == "string-hole-1")
    assert holes["S1"].now == pytest.approx(first.at.y)
    assert holes["S1"].was == pytest.approx(plain["string-hole-1"].at.y)
    assert holes["S1"].rests_on == "no. 1, 2, 3, 4, 5, 6"
