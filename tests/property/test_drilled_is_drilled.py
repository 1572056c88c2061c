"""A cut that is made stays where it was made, to the last bit, whatever becomes of the job."""

from __future__ import annotations

import datetime as dt
import tempfile
from dataclasses import fields, replace
from functools import cache
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st
from tests.torture import EVERYTHING

from scribeline.features import Bit, Bore, Features, Pocket, Step, as_cut, lock
from scribeline.job import (
    BitKind,
    Cut,
    CutBit,
    CutStep,
    Done,
    JobError,
    Record,
    parse_job,
    set_value,
    without_tables,
)
from scribeline.operations import cuts_of
from scribeline.plan import Plan, plan
from scribeline.plan.record import record
from scribeline.scenario import demo_jobs
from scribeline.store import Tick, open_store
from scribeline.store.recorded import with_record

TEXT = demo_jobs()["marram.toml"]

EDITS: dict[str, tuple[Any, ...]] = {
    "bridge.spacing": (10.2, 10.5, 10.8, 11.4),
    "bridge.saddle_back": (16.0, 18.2),
    "bridge.saddle_forward": (6.0, 9.9, 14.9),
    "bridge.string_holes_from_front": (28.0, 33.0),
    "bridge_screw.length": (18.0, 32.0),
    "bridge_screw.thread": (3.0, 3.7),
    "scale.length": (628.0, 640.4, 648.0),
    "body.thickness": ("38.0 +/- 0.1", "46.0 +/- 0.1"),
    "body.timber": ("spruce-sitka", "maple-sugar"),
    "body.outline.tail": (745.0, 770.0),
    "ferrules.lip_diameter": (8.0, 9.6),
    "ferrules.body_diameter": (6.0, 7.4),
    "ferrules.body_length": (6.0, 12.0),
    "finish.film": (0.0, 0.3),
    "finish.holes": ("sprayed", "masked"),
    "neck.pocket_end": (466.0, 470.0),
    "neck.pocket_depth": ("14.0 +/- 0.1", "18.0 +/- 0.1"),
    "neck.joint": ("set", "bolt-on"),
    "pockets[1].depth": (15.0, 25.0),
    "pockets[1].x_from": ("nut", "12th fret"),
    "pockets[2].corner_radius": (3.0, 7.0),
    "pockets[3].face": ("top", "back"),
    "pockets[3].name": ("controls", "control cavity"),
    "ground_wire.lands": (9.0, 14.0),
    "ground_wire.heading": (0.0, 120.0),
    "ground_wire.diameter": (3.0, 5.0),
    "string_holes.top_share": (0.5, 0.8),
    "string_holes.relief": (0.0, 4.0),
    "units": ("in",),
    "handed": ("left", "right"),
}


@cache
def planned(hand: str) -> tuple[str, Plan]:
    text, _ = set_value(TEXT, "handed", hand)
    return text, plan(*parse_job(text))


def ticked(text: str, before: Plan, cards: set[str]) -> str:
    """The job's text with these steps marked done by its plan."""
    from datetime import UTC, datetime

    ticks = [
        Tick(
            card.id,
            "Ann",
            datetime(2026, 11, 25, tzinfo=UTC),
            1,
            tuple(cut.plain for cut in cuts_of(card, before.every_cut)),
        )
        for card in before.cards
        if card.id in cards
    ]
    return with_record(text, ticks, ())


def shape(feature: Bore | Pocket, steps: tuple[int, ...] = ()) -> tuple[Any, ...]:
    """Where a cut lies and what was cut of it, every bit of it."""
    if isinstance(feature, Pocket):
        return (
            feature.face,
            feature.outline,
            feature.islands,
            feature.depth,
            feature.corner_radius,
            feature.at_edge,
        )
    bored = tuple(feature.steps[no - 1] for no in steps)
    return (
        feature.face,
        feature.at,
        feature.axis,
        bored,
        feature.through,
        feature.entered_from,
        feature.outward,
    )


CARDS = [card.id for card in planned("right")[1].cards if card.features and card.id != "chase"]


@given(
    hand=st.sampled_from(["right", "left"]),
    cards=st.sets(st.sampled_from(CARDS), min_size=1),
    edits=st.dictionaries(st.sampled_from(sorted(EDITS)), st.integers(0, 3), min_size=1, max_size=5),
    extra=st.sampled_from(["", "no ground wire", "no pickup pocket", "seven strings", "five strings"]),
)
@settings(
    max_examples=100 if EVERYTHING else 8,
    deadline=None,
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
)  # plans shrink slowly
def test_no_edit_moves_what_is_cut(hand: str, cards: set[str], edits: dict[str, int], extra: str) -> None:
    text, before = planned(hand)
    job = ticked(text, before, cards)
    for key, choice in edits.items():
        job, _ = set_value(job, key, EDITS[key][choice % len(EDITS[key])])
    job = restructured(job, extra)
    try:
        after = plan(*parse_job(job))
    except JobError:
        assume(False)
    now: dict[str, Any] = {feature.id: feature for feature in after.every_cut}
    for card in before.cards:
        if card.id not in cards:
            continue
        for cut in cuts_of(card, before.every_cut):
            was: Any = next(feature for feature in before.every_cut if feature.id == cut.id)
            steps = tuple(step.no for step in cut.steps)
            assert shape(now[cut.id]) == shape(was)
            assert all(was.steps[no - 1] in now[cut.id].steps for no in steps)
    would = plan(*parse_job(without_record(job)))
    # A tunnel not drilled yet is looked for, or aimed where it is stated, among what is cut.
    wires = ("tunnel-", "ground-wire")
    free = {feature.id for feature in would.every_cut if not feature.id.startswith(wires)} - after.made
    # What goes through the plate follows the holes that hold it, and what goes into a pocket the pocket as it was routed
    # (see test_as_built).
    listed = {change.feature for change in after.moved}
    if after.layout.held is not None:
        free = {name for name in free if not name.startswith(("bridge-screw", "string-hole", "ferrule-hole"))}
    if any(pocket.id in listed for pocket in after.features.pockets):
        free = set()
    # A pilot in the heel is pricked through its own hole of the body, as that was drilled, in the pocket as it was routed.
    pricked = {
        f"heel-pilot-{no}": f"neck-screw-{no}"
        for no in range(1, 9)
        if {f"neck-screw-{no}", "neck-pocket"} & listed
    }
    for pilot in free & set(pricked):
        assert now[pilot].at[:2] == pytest.approx(now[pricked[pilot]].at[:2]), pilot
    free -= set(pricked)
    fresh = {feature.id: feature for feature in would.every_cut}
    for name in free:
        assert shape(now[name]) == shape(fresh[name]), name
        assert getattr(now[name], "steps", ()) == getattr(fresh[name], "steps", ()), name
    for name in (each for each in after.made - set(pricked) if not each.startswith("tunnel-")):
        steps = bored(after, name)
        same = name in fresh and near(
            shape_or_none(now[name], now[name], steps), shape_or_none(fresh[name], now[name], steps)
        )
        assert (name in listed) != same, name
    told = {name for f in after.findings if f.code == "drilled.would-move" for name in f.features}
    assert told == listed
    assert {each["feature"] for each in record(after)["moved"]} == listed


def restructured(job: str, extra: str) -> str:
    import tomlkit

    if not extra:
        return job
    document = tomlkit.parse(job).unwrap()
    if extra == "no ground wire":
        del document["ground_wire"]
    elif extra == "no pickup pocket":
        del document["pockets"][1]
    else:
        count = 7 if extra == "seven strings" else 5
        document["strings"] = [*document["strings"], {"note": "B1", "gauge": ".062"}][:count]
        document.pop("string_sets", None)
    return tomlkit.dumps(document)


def without_record(job: str) -> str:
    return without_tables(job)[0]


def bored(after: Plan, name: str) -> tuple[int, ...]:
    cuts = [cut for done in after.record.done for cut in done.cuts if cut.id == name]
    return tuple(sorted({step.no for cut in cuts for step in cut.steps}))


def shape_or_none(
    feature: Bore | Pocket, like: Bore | Pocket, steps: tuple[int, ...]
) -> tuple[Any, ...] | None:
    if type(feature) is not type(like) or (isinstance(feature, Bore) and max(steps) > len(feature.steps)):
        return None
    return shape(feature, steps)


def near(a: Any, b: Any) -> bool:
    """Whether two shapes are the same to a millionth, leaving out which bit cut them and flags."""
    if isinstance(a, Step) and isinstance(b, Step):
        return near((a.diameter, a.depth), (b.diameter, b.depth))
    if isinstance(a, float) and isinstance(b, float):
        return abs(a - b) <= 1e-6
    if isinstance(a, tuple) and isinstance(b, tuple):
        return len(a) == len(b) and all(map(near, a, b))
    return bool(a == b)


def test_an_unchanged_job_is_planned_as_before() -> None:
    """Ticking every step of the demo changes no number, no finding on the wood and no card's setting."""
    text, before = planned("right")
    after = plan(*parse_job(ticked(text, before, set(CARDS))))
    assert after.moved == ()
    # Which bit a tunnel needs is no news once it is drilled.
    assert after.findings == tuple(f for f in before.findings if not f.code.startswith("tunnel.bit"))
    for now, then in zip(after.cards, before.cards, strict=True):
        assert replace(now, do=(), gate=then.gate) == replace(then, do=())
        assert now.gate.value == (None if then.gate.value is None else pytest.approx(then.gate.value))
    bare = [replace(feature, why=()) for feature in after.every_cut]
    assert bare == [replace(feature, why=()) for feature in before.every_cut]
    assert after.made == {feature.id for feature in before.every_cut}


def test_what_would_have_moved_is_listed_with_was_and_now() -> None:
    """The neck's end wall moved 2 mm after the pickups' pockets were routed from it: 2 mm along, nothing else."""
    text, before = planned("right")
    job = ticked(text, before, {"rout-bridge-pickup"})
    moved, _ = set_value(job, "neck.pocket_end", 470.0)
    after = plan(*parse_job(moved))
    changes = {change.what: change for change in after.moved if change.feature == "neck-pickup"}
    assert set(changes) == {"along", "outline"}
    assert changes["along"].was == pytest.approx(468.0 + 34.0)
    assert changes["along"].now == pytest.approx(470.0 + 34.0)
    assert changes["outline"].by == pytest.approx(2.0, abs=1e-6)
    (finding,) = [f for f in after.findings if f.code == "drilled.would-move"]
    assert finding.features == ("neck-pickup",)
    assert "along was 502.00 mm, now 504.00 mm" in finding.message


def test_holes_that_no_longer_meet_stop_the_work() -> None:
    """The ground wire's hole is drilled; a bridge pickup 20 mm nearer the nut lies beyond its end."""
    text, before = planned("right")
    job = ticked(text, before, {"drill-ground-wire"})
    moved, _ = set_value(job, "pockets[1].centre", [-62.0, 0.0])
    after = plan(*parse_job(moved))
    (finding,) = [f for f in after.findings if f.code == "drilled.would-move"]
    assert finding.severity == "stop"
    assert "no longer meets the bridge-pickup cavity" in finding.message
    assert "the ground-wire hole is cut already and stays" in finding.message


def test_a_hole_begun_with_a_smaller_bit_than_what_follows_stops_the_work() -> None:
    text, before = planned("right")
    job = ticked(text, before, {"counterbore-ferrules"})
    job, _ = set_value(job, "ferrules.lip_diameter", 12.0)
    job, _ = set_value(job, "ferrules.body_diameter", 9.0)
    after = plan(*parse_job(job))
    assert {f.code for f in after.stops} >= {"drilled.begun-otherwise"}


def test_a_string_added_later_gets_a_card_of_its_own_where_its_setting_is_another() -> None:
    """Six holes are drilled; the seventh is set by the job as it is now, the six stay."""
    text, before = planned("right")
    job = ticked(text, before, {"drill-string-holes"})
    job, _ = set_value(restructured(job, "seven strings"), "string_holes.top_share", 0.8)
    job, _ = set_value(job, "bridge.saddle_back", 24.0)  # room for the seventh's setback
    after = plan(*parse_job(job))
    was, card = [card for card in after.cards if card.family == "string-hole"]
    (drilled,) = [card for card in before.cards if card.family == "string-hole"]
    assert (was.id, was.features, was.depth) == (drilled.id, drilled.features, drilled.depth)
    (seventh,) = [bore for bore in after.features.bores if bore.id == "string-hole-7"]
    assert (card.features, card.depth) == (("string-hole-7",), seventh.deepest.depth)
    assert card.depth != drilled.depth


def test_the_record_keeps_every_number_of_a_cut() -> None:
    """A field added to a cut must be kept in the record, or stand here with the reason why not."""
    not_kept = {
        "why",  # told anew: when it was cut, and what the job says now
        "screw",  # what is driven in later follows the job
        "holds",  # and so does what it is called
        "stated",  # where the job says its place is for moving it, which a made cut is not
    }
    kept_otherwise = {"kind"}
    for part, kept in ((Bore, Cut), (Pocket, Cut), (Step, CutStep), (Bit, CutBit)):
        names = {field.name for field in fields(part)}
        assert names - not_kept <= set(kept.model_fields) | kept_otherwise, part
    assert get_args(CutBit.model_fields["kind"].annotation) == get_args(BitKind)


def test_a_cut_goes_through_the_store_and_the_file_unchanged() -> None:
    """From the plan to the record, to the database, to the exported file, to the plan again: the same numbers."""
    text, before = planned("left")
    with tempfile.TemporaryDirectory() as folder, open_store(Path(folder) / "shop.db") as store:
        job = store.create(text, by="Ann").job_id
        for card in before.cards:
            cuts = [cut.plain for cut in cuts_of(card, before.every_cut)]
            store.tick(job, card.id, by="Ann", revision=1, features=cuts)
        after = plan(*parse_job(store.export(job, with_record=True)))
    assert [replace(f, why=()) for f in after.every_cut] == [replace(f, why=()) for f in before.every_cut]


@given(at=st.tuples(*[st.floats(-2999, 2999)] * 3), depth=st.floats(0.1, 400))
@settings(max_examples=50)
def test_a_hole_comes_back_bit_for_bit(at: tuple[float, float, float], depth: float) -> None:
    from datetime import UTC, datetime

    from scribeline.features import DOWN
    from scribeline.layout import Point3

    bit = Bit("twist", 3.2, 0.96)
    bore = Bore("x-1", "hole", "holes", "top", Point3(*at), DOWN, (Step(3.2, depth, bit),))
    done = Done(card="x", by="Ann", at=datetime(2026, 1, 1, tzinfo=UTC), cuts=(as_cut(bore),))
    again = Done.model_validate_json(done.model_dump_json())
    (held,) = lock(Features((), ()), Record(done=(again,)))[0].bores
    assert replace(held, why=()) == bore


def test_a_narrow_diameter_bored_alone_is_told_by_its_own_number() -> None:
    """Only the second diameter of a ferrule hole is on the record, and the job as planned round it has no such hole."""
    features = planned("right")[1].features
    hole = features.family("ferrule-hole")[0]
    assert len(hole.steps) == 2
    without = Features(tuple(bore for bore in features.bores if bore is not hole), features.pockets)
    at = dt.datetime(2026, 1, 31, 10, 15, tzinfo=dt.UTC)
    done = Done(card="bore-ferrules", by="Ann", at=at, cuts=(as_cut(hole, [2]),))
    deeper = replace(hole, steps=(hole.steps[0], replace(hole.steps[1], depth=hole.steps[1].depth + 1.0)))
    wanted = Features((*without.bores, deeper), features.pockets)
    locked, moved = lock(without, Record(done=(done,)), wanted)
    assert next(bore for bore in locked.bores if bore.id == hole.id).steps == hole.steps[1:]
    assert [(each.what, each.step) for each in moved] == [("depth", 2)]
