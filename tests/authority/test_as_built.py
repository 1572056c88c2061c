"""A bridge plate on the holes that are drilled for it: worked examples, by hand and by the matrix form of least squares.

The demo's plate has screw holes of 3.8 mm for screws of 3.5 mm, so a pilot may lie (3.8 − 3.5)/2 = 0.15 mm off.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from math import cos, radians, sin
from typing import Any

import pytest

from scribeline.features import holdings
from scribeline.job import JobError, parse_job, set_value
from scribeline.operations import cuts_of, done_steps
from scribeline.plan import Plan, plan
from scribeline.plan.record import as_json, record
from scribeline.scenario import demo_jobs
from scribeline.store.recorded import with_record

from ..as_built import held_stand, slacks, tick

SCREWS = ((38.0, -29.0), (38.0, -10.6), (38.0, 10.6), (38.0, 29.0))
"""The plate's, from its front edge and from its middle towards the treble, mm."""
PILOTS, STRINGS = "drill-bridge-screws", "drill-string-holes"
Places = Mapping[str, tuple[float, float]]


@cache
def start(hand: str = "right") -> tuple[str, Plan]:
    text, _ = set_value(demo_jobs()["marram.toml"], "handed", hand)
    return text, plan(*parse_job(text))


def drilled(
    *cards: str,
    only: tuple[str, ...] = (),
    measured: Places | None = None,
    hand: str = "right",
    **edits: Any,
) -> tuple[str, Plan]:
    """The demo with steps done by its own plan, holes read where they are, and keys then changed (`_` for a dot)."""
    text, before = start(hand)
    ticks = [tick(card, before, only) for card in before.cards if card.id in cards]
    for n, each in enumerate(ticks):
        read = [
            {**cut, "measured": list((measured or {})[cut["id"]])} if cut["id"] in (measured or {}) else cut
            for cut in each.features
        ]
        ticks[n] = replace(each, features=tuple(read))
    for key, value in edits.items():
        text, _ = set_value(text, re.sub(r"\.(\d+)(?=\.|$)", r"[\1]", key.replace("__", ".")), value)
    text = with_record(text, ticks, ())
    return text, plan(*parse_job(text))


def at(seen: Plan, name: str) -> tuple[float, float]:
    (bore,) = [each for each in seen.features.bores if each.id == name]
    return bore.at.x, bore.at.y


def codes(seen: Plan) -> set[str]:
    return {each.code for each in seen.stops}


def test_a_longer_scale_after_the_string_holes_leaves_the_plate_where_it_is() -> None:
    # The demo's plate has its front edge at 630.145 and its ferrule holes behind the string holes at 661.645. With a
    # scale of 642.5 the strings want their saddles 2.5 mm further back (and 0.04 less past the scale line), and the
    # drilled plate stays: its low string, with 1.51 mm left before, now lacks 0.92.
    _, before = start()
    text, after = drilled(PILOTS, STRINGS, scale__length=642.5)
    for n in range(1, 7):
        assert at(after, f"ferrule-hole-{n}") == at(before, f"string-hole-{n}")
    bridge = record(after)["bridge"]
    assert bridge["x"] == record(before)["bridge"]["x"] == pytest.approx(630.145, abs=0.005)
    low = bridge["saddles"][5]
    shift = after.layout.strings[5].saddle.x - before.layout.strings[5].saddle.x
    assert low["slack_back"] == pytest.approx(
        1.51249 - shift, abs=0.03
    )  # its spread grows a little with the scale
    stand, _ = held_stand(text, after.job.document)
    assert stand is not None
    assert (
        low["slack_back"]
        == pytest.approx(slacks(after, stand)[5, 1], abs=1e-5)
        == pytest.approx(-0.92, abs=0.005)
    )
    (stop,) = [each for each in after.stops if each.code == "bridge.held-short"]
    assert stop.value == pytest.approx(-0.92, abs=0.005)
    assert "2.46 mm too far towards the nut" in stop.message
    assert "string 6 (E2) runs out of saddle travel towards the tail, 0.92 mm short" in stop.message
    # A saddle that reaches 0.92 + 1.00 further back than 17.6 would do: 19.53 mm, rounded up.
    assert "19.53 mm or more from the front edge, fully back" in stop.cure
    gate = next(card.gate for card in after.cards if card.id == "fit-hardware")
    assert gate is not None
    assert gate.value == pytest.approx(630.145 - 642.5 / 2, abs=0.005)


def test_string_holes_not_drilled_yet_follow_the_plate_that_guides_them() -> None:
    _, before = start()
    _, after = drilled(PILOTS, scale__length=642.5)
    for n in range(1, 7):
        assert at(after, f"string-hole-{n}") == pytest.approx(at(before, f"string-hole-{n}"), abs=1e-9)


def test_one_pilot_alone_keeps_the_plate_square() -> None:
    # Pilot 1 was read 0.4 mm nearer the tail and 0.3 mm to the treble of its plan: the whole plate goes with it.
    _, before = start()
    x, y = at(before, "bridge-screw-1")
    _, after = drilled(PILOTS, only=("bridge-screw-1",), measured={"bridge-screw-1": (x + 0.4, y + 0.3)})
    bridge = record(after)["bridge"]
    assert bridge["x"] == pytest.approx(x + 0.4 - 38.0, abs=1e-5)
    assert bridge["y"] == pytest.approx(0.3, abs=1e-5)
    assert bridge["yaw_deg"] == 0.0
    assert at(after, "bridge-screw-4") == pytest.approx((x + 0.4, 29.3), abs=1e-9)
    assert after.layout.held is not None
    assert [fit.off for fit in after.layout.held.anchors] == pytest.approx([0.0], abs=1e-9)


@pytest.mark.parametrize("hand", ["right", "left"])
def test_a_plate_out_of_square_carries_everything_on_it(hand: str) -> None:
    # Two pilots 58 mm apart across, drilled so that the plate is turned by exactly 0.5° about its front edge's middle.
    _, before = start(hand)
    front = before.layout.bridge_line
    c, s = cos(radians(0.5)), sin(radians(0.5))

    def turned(along: float, across: float) -> tuple[float, float]:
        return front + along * c - across * s, along * s + across * c

    treble = 1 if hand == "right" else -1
    read = {f"bridge-screw-{n}": turned(38.0, treble * y) for n, (_, y) in ((1, SCREWS[0]), (4, SCREWS[3]))}
    _, after = drilled(PILOTS, only=tuple(read), measured=read, hand=hand)
    bridge = record(after)["bridge"]
    assert (bridge["x"], bridge["y"]) == pytest.approx((front, 0.0), abs=1e-5)
    assert bridge["yaw_deg"] == pytest.approx(0.5, abs=1e-5)
    for n in range(1, 7):
        across = treble * 10.6 * (3.5 - n)
        assert at(after, f"string-hole-{n}") == pytest.approx(turned(31.5, across), abs=1e-9)
        assert at(after, f"ferrule-hole-{n}") == pytest.approx(turned(31.5, across), abs=1e-9)
    # A saddle at 26.5 across, fully forward 9.2 mm from the front edge, by hand.
    first = bridge["saddles"][0]
    level = record(before)["bridge"]["saddles"][0]
    moved = turned(9.2, treble * 26.5)[0] - (front + 9.2)
    assert first["slack_front"] == pytest.approx(level["slack_front"] - moved, abs=1e-5)
    readings = {each["id"]: each["value"] for each in record(after)["measurables"]}
    assert readings["diagonal-treble"] != pytest.approx(readings["diagonal-bass"], abs=0.5)
    do = next(card.do for card in after.cards if card.id == "set-plate")
    assert any(f"from the treble {readings['diagonal-treble']:.2f} mm" in line for line in do)


def test_least_squares_over_four_pilots() -> None:
    # Four pilots with made-up errors; the fit by hand: x and y by their means (every hole lies 38 behind the front, so
    # a turn θ moves the row by −y θ), θ ≈ Σ −y·dx / Σ y². With dx = (+0.10, −0.06, +0.02, −0.02) at
    # y = (−29, −10.6, 10.6, 29) and dy = (0.05, −0.05, 0.03, 0.01).
    _, before = start()
    dx, dy, ys = (0.10, -0.06, 0.02, -0.02), (0.05, -0.05, 0.03, 0.01), [y for _, y in SCREWS]
    read = {}
    for n in range(1, 5):
        x, y = at(before, f"bridge-screw-{n}")
        read[f"bridge-screw-{n}"] = (x + dx[n - 1], y + dy[n - 1])
    text, after = drilled(PILOTS, measured=read)
    theta = sum(-y * d for y, d in zip(ys, dx, strict=True)) / sum(y * y for y in ys)
    bridge = record(after)["bridge"]
    assert radians(bridge["yaw_deg"]) == pytest.approx(theta, rel=1e-3)
    assert bridge["x"] == pytest.approx(before.layout.bridge_line + 0.01, abs=1e-4)
    assert bridge["y"] == pytest.approx(0.01 - 38.0 * theta, abs=1e-4)
    residual = max(abs(d - 0.01 + y * theta) for d, y in zip(dx, ys, strict=True))
    assert max(hole["off"] for hole in bridge["held"]["holes"]) == pytest.approx(residual, abs=0.05)
    stand, _ = held_stand(text, after.job.document)
    assert stand is not None
    assert (bridge["x"], bridge["y"]) == pytest.approx(tuple(stand.at(0.0, 0.0)), abs=1e-5)
    assert "bridge.pilots-misfit" not in codes(after)


def test_a_pilot_beyond_the_screws_play_stops_the_work() -> None:
    # One pilot 0.8 mm to the treble of its place: the mean takes 0.2 of it, so it lies 0.6 off and the others 0.2,
    # where 0.15 is allowed. With a plate whose holes are 5.0 mm wide, 0.75 is.
    _, before = start()
    x, y = at(before, "bridge-screw-3")
    read = {"bridge-screw-3": (x, y + 0.8)}
    _, after = drilled(PILOTS, measured=read)
    (stop,) = [each for each in after.stops if each.code == "bridge.pilots-misfit"]
    assert stop.value == pytest.approx(0.6, abs=0.002)
    assert stop.limit == pytest.approx(0.15)
    assert stop.features[2] == "bridge-screw-3"
    _, loose = drilled(PILOTS, measured=read, bridge__screw_hole=5.0)
    assert "bridge.pilots-misfit" not in codes(loose)


def test_a_string_hole_outside_the_plate_s_own_stops_the_work() -> None:
    # The plate's hole of 3.6 mm over a bit of 3.5 leaves 0.05, the screws another 0.15: 0.20 mm in all.
    _, before = start()
    x, y = at(before, "string-hole-2")
    _, within = drilled(PILOTS, STRINGS, measured={"string-hole-2": (x + 0.19, y)})
    assert "string-holes.off-plate" not in codes(within)
    # Read with a rule, 0.15 mm each way, a place lies within 0.15 √5.991 = 0.37 of it 95 times in 100: up to there a caution.
    _, doubtful = drilled(PILOTS, STRINGS, measured={"string-hole-2": (x + 0.45, y)})
    assert "string-holes.off-plate" not in {each.code for each in doubtful.stops}
    (caution,) = [each for each in doubtful.findings if each.code == "string-holes.off-plate"]
    assert caution.severity == "caution"
    assert (caution.value, caution.limit) == pytest.approx((0.45, 0.20), abs=1e-6)
    _, beyond = drilled(PILOTS, STRINGS, measured={"string-hole-2": (x + 0.6, y)})
    (stop,) = [each for each in beyond.stops if each.code == "string-holes.off-plate"]
    assert (stop.value, stop.limit) == pytest.approx((0.6, 0.20), abs=1e-6)
    assert stop.features == ("string-hole-2",)
    assert at(beyond, "ferrule-hole-2") == (x + 0.6, y)
    assert at(beyond, "ferrule-hole-3") == at(before, "ferrule-hole-3")


def test_without_pilots_the_string_holes_say_where_the_plate_is() -> None:
    # Drilled through a plate that was clamped: a plate whose row lies 3 mm further back then stands 3 mm nearer the nut.
    _, before = start()
    _, after = drilled(STRINGS, bridge__string_holes_from_front=34.5, scale__length=637.0)
    bridge = record(after)["bridge"]
    assert bridge["held"]["by"] == "string holes"
    assert bridge["x"] == pytest.approx(before.layout.bridge_line - 3.0, abs=1e-5)
    assert at(after, "bridge-screw-1")[0] == pytest.approx(at(before, "bridge-screw-1")[0] - 3.0)


def test_a_ferrule_hole_takes_the_string_hole_s_axis() -> None:
    # A string hole found to lean by 1° towards the tail comes out 44.4 · tan 1° = 0.775 mm further back.
    text, _ = drilled(STRINGS)
    lean = f"axis = [{sin(radians(1.0))!r}, 0.0, {-cos(radians(1.0))!r}]"
    leaning = text.replace("axis = [0.0, 0.0, -1.0]", lean, 1)
    assert leaning != text
    after = plan(*parse_job(leaning))
    (hole,) = [each for each in after.features.bores if each.id == "string-hole-1"]
    (back,) = [each for each in after.features.bores if each.id == "ferrule-hole-1"]
    assert back.at.x - hole.at.x == pytest.approx(0.775, abs=0.0005)
    assert back.at.z == -44.4
    assert tuple(back.axis) == pytest.approx(tuple(-part for part in hole.axis))


def test_a_plate_a_little_off_its_best_place_is_a_caution() -> None:
    # With 14 mm of saddle travel there is plenty; 2.5 mm more scale leaves the plate some 2.5 mm off its best place.
    text, _ = set_value(start()[0], "bridge.saddle_back", 23.2)
    before = plan(*parse_job(text))
    ticks = [tick(card, before) for card in before.cards if card.id == PILOTS]
    longer, _ = set_value(text, "scale.length", 642.5)
    after = plan(*parse_job(with_record(longer, ticks, ())))
    (said,) = [each for each in after.findings if each.code == "bridge.held-off-aim"]
    assert said.severity == "caution"
    best = record(plan(*parse_job(longer)))["bridge"]["x"]
    assert said.value == pytest.approx(best - record(before)["bridge"]["x"], abs=1e-5)
    assert "bridge.held-short" not in codes(after)


def test_a_held_plate_stands_even_where_no_place_is_right() -> None:
    _, after = drilled(PILOTS, bridge__saddle_back=10.0)
    _, before = start()
    assert codes(after) >= {"bridge.window-empty", "bridge.held-short"}
    assert record(after)["bridge"]["x"] == record(before)["bridge"]["x"]
    (stop,) = [each for each in after.stops if each.code == "bridge.held-short"]
    assert "drill anew" not in stop.cure  # no other place would be better


def test_a_ferrule_hole_beside_its_string_hole_is_told() -> None:
    _, before = start()
    x, y = at(before, "ferrule-hole-4")
    backs = ("counterbore-ferrules", "bore-ferrules")
    _, rough = drilled(PILOTS, STRINGS, *backs, measured={"ferrule-hole-4": (x + 1.0, y)})
    (said,) = [each for each in rough.findings if each.code == "ferrules.off-string-hole"]
    # (3.5 + 7.0)/2 − 1.0 is more than the string hole's own 3.5: nothing narrows.
    assert said.severity == "caution"
    assert said.value == pytest.approx(1.0)
    # 4.9 mm off leaves (3.5 + 7.0)/2 − 4.9 = 0.35 mm for a string of 0.66.
    _, closed = drilled(PILOTS, STRINGS, *backs, measured={"ferrule-hole-4": (x + 4.9, y)})
    (stop,) = [each for each in closed.stops if each.code == "ferrules.off-string-hole"]
    assert "0.35 mm stays open" in stop.message


def test_what_was_planned_is_kept_beside_what_was_measured() -> None:
    _, before = start()
    x, y = at(before, "bridge-screw-2")
    _, after = drilled(PILOTS, measured={"bridge-screw-2": (x + 0.1, y)})
    (cut,) = [cut for done in after.record.done for cut in done.cuts if cut.id == "bridge-screw-2"]
    assert (cut.at, cut.measured) == ((x, y, 0.0), (x + 0.1, y))
    assert [(each.what, each.was, each.now) for each in after.moved if each.feature == "bridge-screw-2"] == [
        ("along", x + 0.1, x)
    ]


@pytest.mark.parametrize(
    ("off", "severity"), [(2.9, None), (3.1, "caution"), (9.9, "caution"), (10.1, "stop")]
)
def test_a_hole_measured_far_off_is_to_be_measured_again(off: float, severity: str | None) -> None:
    """3 and 10 mm are common practice, no source: a bit wanders by tenths."""
    _, before = start()
    x, y = at(before, "hole-1")
    _, after = drilled(
        "drill-neck-pickup-ring-screws", "drill-bridge-pickup-ring-screws", measured={"hole-1": (x + off, y)}
    )
    told = [each for each in after.findings if each.code == "drilled.measured-far-off"]
    assert [each.severity for each in told] == ([] if severity is None else [severity])
    assert all(each.value == pytest.approx(off) and each.waiting == () for each in told)


def test_a_record_of_a_countersink_alone_has_its_card() -> None:
    text, before = start()
    card = next(each for each in before.cards if each.id == "drill-bridge-pickup-ring-screws")
    made = tick(card, before)
    cuts = tuple(
        {**cut, "steps": [{**step, "bit": {**step["bit"], "kind": "countersink"}} for step in cut["steps"]]}
        for cut in made.features
    )
    after = plan(*parse_job(with_record(text, [replace(made, features=cuts)], ())))
    assert any(each.id.startswith("countersink-") for each in after.cards)


def test_a_hole_bored_with_another_bit_than_its_like_has_steps_of_its_own() -> None:
    _, before = start()
    (card,) = [each for each in before.cards if each.id == "bore-ferrules"]
    made = tick(card, before, ("ferrule-hole-5",))
    (cut,) = made.features
    (step,) = cut["steps"]
    other = {**cut, "steps": [{**step, "bit": {**step["bit"], "reach": 150.0}}]}
    after = plan(*parse_job(with_record(start()[0], [replace(made, features=(other,))], ())))
    steps = [
        (work.id, cut.step)
        for work in after.operations
        for cut in work.cuts
        if cut.feature == "ferrule-hole-5"
    ]
    assert steps == [("counterbore-ferrules-2", 1), ("bore-ferrules-2", 2)]
    assert "bore-ferrules-2" in done_steps(after.operations, after.record)
    assert (
        cuts_of(next(each for each in after.cards if each.id == "bore-ferrules"), after.every_cut)[4:]
        == cuts_of(next(each for each in before.cards if each.id == "bore-ferrules"), before.every_cut)[5:]
    )


def test_what_a_drilled_hole_would_have_been_is_told_in_figures() -> None:
    _, after = drilled(PILOTS, bridge__saddle_forward=8.0)
    written = json.loads(as_json(after))
    (hole,) = [each for each in written["bores"] if each["id"] == "bridge-screw-1"]
    assert re.search(r"along was \d+\.\d\d mm, now \d+\.\d\d mm", hole["why"][1]["text"])
    assert not re.search("[\ue000-\ue002]", json.dumps(written, ensure_ascii=False))


def test_only_a_hole_has_a_measured_place() -> None:
    text, before = start()
    (rout,) = [card for card in before.cards if card.id == "rout-bridge-pickup"]
    made = tick(rout, before)
    cut = {**made.features[0], "measured": [1.0, 2.0]}
    with pytest.raises(JobError, match="only a hole has a measured place"):
        parse_job(with_record(text, [replace(made, features=(cut,))], ()))
    cut = {**made.features[0], "at": [1.0, 2.0, 0.0]}
    with pytest.raises(JobError, match=r"either a hole .* or a cavity"):
        parse_job(with_record(text, [replace(made, features=(cut,))], ()))


def test_the_neck_pocket_s_end_wall_is_where_it_was_routed() -> None:
    # Routed with its wall 468 from the nut; the job then says 470. What is measured from the wall is measured from 468.
    _, after = drilled("rout-neck-pocket", PILOTS, neck__pocket_end=470.0)
    _, before = start()
    assert after.layout.pocket_end == 468.0
    readings = {each["id"]: each["value"] for each in record(after)["measurables"]}
    assert readings["pocket-end-to-plate"] == pytest.approx(before.layout.bridge_line - 468.0, abs=1e-5)
    ring = at(after, "hole-5")  # counted from the pocket's end: (10, −40)
    assert ring == pytest.approx((478.0, -40.0))


def test_the_jack_s_bore_opens_into_the_cavity_that_is_routed() -> None:
    # A cavity that the job now has 4 mm smaller at the tail side would ask for a deeper bore; the routed one does not.
    smaller: Any = [[612, 72], [716, 60], [720, 104], [660, 118], [618, 106]]
    _, before = start()
    _, after = drilled("rout-control-cavity", pockets__3__outline=smaller)

    def depth(seen: Plan) -> float:
        return next(bore for bore in seen.features.bores if bore.id == "jack").deepest.depth

    text, _ = set_value(start()[0], "pockets[3].outline", smaller)
    assert depth(after) == pytest.approx(depth(before))
    assert depth(plan(*parse_job(text))) > depth(before) + 1.0


def test_one_hole_wider_than_any_plug_gets_a_patch() -> None:
    """A hole of 60 mm that is 5 mm off wants a plug of 70 mm and more; nobody sells one."""
    from types import SimpleNamespace

    from scribeline.findings.as_built import _beside

    hole: Any = SimpleNamespace(widest=60.0, at=(0.0, 0.0, 0.0))
    assert "patch" in _beside((hole,), 5.0)


def test_a_hole_whose_screw_the_job_has_no_more_holds_nothing() -> None:
    _, seen = drilled(PILOTS, bridge__screws=[[38.0, -29.0], [38.0, 29.0]])
    assert len([bore for bore in seen.features.bores if bore.id.startswith("bridge-screw")]) == 4
    found = holdings(seen.job.document, seen.layout, seen.features.bores)
    (held,) = [each for each in found if each.group == "bridge screws"]
    assert [hold.bore for hold in held.holds] == ["bridge-screw-1", "bridge-screw-2"]
