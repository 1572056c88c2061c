"""What is told of a neck that is carved here: planted mistakes, each with its number worked by hand; cards and their order."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.kind_jobs import restated

from scribeline.job import Stated, parse_job
from scribeline.layout import carve_of, stations
from scribeline.lengths import Try
from scribeline.plan import Plan, plan
from scribeline.plan.named import explained, quantities
from scribeline.plan.record import record

FANNED = (Path(__file__).parents[1] / "jobs" / "fanned.toml").read_text(encoding="utf-8")
SET: dict[str, Stated] = {
    "neck__joint": "set",
    "neck__tenon_width": 50.0,
    "neck__angle": 2.0,
    "neck__rod_to": 470.0,
}

IN_TENON: dict[str, Stated] = {
    "neck_blank__bar_centre": 22.8,
    "neck_blank__bar_from": 300.0,
    "neck_blank__bar_to": 460.0,
    "neck_blank__bar_depth": 2.0,
}


def planned(changes: dict[str, Stated]) -> Plan:
    text = FANNED
    if changes.get("neck__joint") == "set":
        head, _, tail = text.partition("[neck_screws]")
        text = head + tail[tail.index("[body]") :]
    return plan(*parse_job(restated(text, changes)))


def test_nothing_is_told_of_a_neck_that_fits() -> None:
    assert not [each for each in planned({}).findings if each.code.startswith(("carve.", "neck."))]


@pytest.mark.parametrize(
    ("changes", "code", "severity", "value"),
    [
        # 18 mm with a board of 6.4 leave 11.6 mm at fret 1: about 2.1 mm under a channel of 9.5, less at the nut.
        ({"neck_blank__thickness_at_first": 18.5}, "carve.thin-over-channel", "stop", None),
        ({"neck_blank__thickness_at_first": 19.0}, "carve.thin-over-channel", "caution", None),
        ({"neck__rod_depth": 15.0}, "carve.into-channel", "stop", None),
        # 7 mm of wood at fret 1 and 16.1 at fret 12, 286.391 mm on; least where the volute ends, 20 mm from the nut.
        ({"neck_blank__thickness_at_first": 13.4}, "carve.thin-neck", "caution", 7.0 - 16.2232 * 9.1 / 286.391),
        ({"neck_blank__thickness_at_first": 12.6}, "carve.thin-neck", "stop", 6.2 - 16.2232 * 9.9 / 286.391),
        # Bars 1.6 mm beside their middle: from the rod 3.2 + 1.6 + 2 = 6.8 mm.
        ({"neck_blank__bar_centre": 6.0}, "carve.channels-close", "caution", 1.2),
        ({"neck_blank__bar_centre": 4.0}, "carve.channels-meet", "stop", -0.8),
        # Half a nut of 49 mm less bars out to 25.6 mm.
        ({"neck_blank__bar_centre": 24.0}, "carve.into-channel", "stop", None),
        ({"neck__rod_to": 450.0}, "carve.rod-not-reached", "caution", 28.0),
        ({"neck__rod_access": "head"}, "carve.rod-not-reached", "caution", 6.0),
        ({"neck_blank__heel_from": 300.0}, "carve.heel-before-twelfth", "caution", 300.0),
        ({"neck_blank__heel_from": 380.0, "neck_blank__heel_to": 412.0}, "carve.into-pocket", "caution", 14.0),
        # A screw 54 mm before the heel's end stands at 424 mm.
        ({"neck_blank__heel_from": 390.0, "neck_blank__heel_to": 440.0}, "carve.off-screws", "stop", 42.0),
        ({"neck_blank__thickness_at_twelfth": 27.5}, "carve.thicker-than-heel", "stop", None),
        # The board is 49 + 19 · 398 / 478 = 64.82 mm wide at the mouth.
        ({"neck__heel_width_at_mouth": 60.0}, "carve.off-the-board", "caution", (64.8201 - 60) / 2),
        # The volute ends 40 mm from the nut and fret 1 stands at 36.22 mm on the centreline.
        ({"neck_blank__volute_length": 90.0}, "carve.volute-at-first", "caution", 40.0 - 36.2232),
        # It reaches 35 mm onto the head; the first housing begins at 46 − 7.5 = 38.5 mm.
        ({"neck_blank__volute_at": -20.0, "neck_blank__volute_length": 34.0}, "carve.volute-at-tuners", "caution", 1.5),
        ({"neck_blank__volute_at": -25.0}, "carve.volute-at-tuners", "stop", 38.5 - 50.0),
        ({"neck_blank__blank_thickness": 30.0}, "carve.blank-small", "stop", None),
        ({"neck_blank__blank_width": 76.0}, "carve.blank-small", "caution", None),
        ({"neck_blank__blank_length": 610.0}, "carve.blank-small", "stop", None),
        ({"neck_screws__places": [[12, -6], [12, 19], [54, -17.5], [54, 17.5]]}, "neck.near-rod", "stop", 6 - 2.1 - 3.2),
        ({"neck_screws__places": [[12, -4], [12, 19], [54, -17.5], [54, 17.5]]}, "neck.into-rod", "stop", None),
        # A bar out to 15.6 mm and a screw at 17.5 with 2.1 mm of thread.
        ({"neck_blank__bar_centre": 14.0, "neck_blank__bar_to": 450.0}, "neck.into-bar", "stop", None),
        ({"neck_blank__bar_centre": 12.0, "neck_blank__bar_to": 450.0}, "neck.near-bar", "caution", 17.5 - 2.1 - 13.6),
        # In a tenon 50 mm wide, bars out to 24.4 mm.
        ({**SET, **IN_TENON}, "carve.thin-over-channel", "stop", 0.6),
    ],
)  # fmt: skip
def test_planted_mistakes(changes: dict[str, Stated], code: str, severity: str, value: float | None) -> None:
    made = planned(changes)
    told, named = [each for each in made.findings if each.code == code], quantities(made)
    assert severity in {each.severity for each in told}
    for each in told:
        assert each.value_id is not None
        assert named[each.value_id].value == pytest.approx(each.value)
        assert each.limit_id in named
    if value is not None:
        assert min(abs((each.value or 0.0) - value) for each in told) < 0.005


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"neck_blank__bar_centre": 6.0}, "carve.channels-close"),
        ({"neck__rod_to": 450.0}, "carve.rod-not-reached"),
        ({"neck_blank__heel_from": 300.0}, "carve.heel-before-twelfth"),
        ({"neck_blank__heel_from": 380.0, "neck_blank__heel_to": 412.0}, "carve.into-pocket"),
        ({"neck_blank__thickness_at_twelfth": 27.5}, "carve.thicker-than-heel"),
    ],
)
def test_what_a_cure_sets_cures(changes: dict[str, Stated], code: str) -> None:
    told = next(each for each in planned(changes).findings if each.code == code)
    assert told.tries
    tried: Try = told.tries[0]
    assert code not in {
        each.code for each in planned({**changes, tried.key.replace(".", "__"): tried.value}).findings
    }


def test_a_stop_about_the_back_keeps_the_steps_that_cut_it() -> None:
    made = planned({"neck__rod_depth": 15.0})
    assert {"rout-channels", "carve-neck"} <= set(made.stopped)
    assert "rout-neck-pocket" not in made.stopped


def test_the_order_of_work() -> None:
    made = planned({})
    order = [card.id for card in made.cards]
    for first, then in (
        ("slot-board", "glue-board"),
        ("rout-channels", "glue-board"),
        ("glue-board", "check-neck"),
        ("drill-tuners", "carve-neck"),
        ("pilot-heel", "carve-neck"),
        ("carve-neck", "finish"),
    ):
        assert order.index(first) < order.index(then), (first, then)
    scarfed = [card.id for card in planned({"head__scarf": True, "head__stock": 20.0}).cards]
    assert scarfed.index("glue-head") < scarfed.index("rout-channels")
    glued = [card.id for card in planned(SET).cards]
    assert (
        glued.index("cut-tenon")
        < glued.index("fit-neck")
        < glued.index("carve-neck")
        < glued.index("refit-neck")
    )


def test_the_gate_reads_both_thicknesses() -> None:
    made = planned({})
    card = next(card for card in made.cards if card.id == "carve-neck")
    assert [(ask.id, ask.value) for ask in card.gate.asks] == [("fret-1", 20.5), ("fret-12", 22.5)]


def test_numbers_are_named_and_stand_in_the_record() -> None:
    made = planned({"neck_blank__volute_height": 4.0})
    named, whole = quantities(made), record(made)["carve"]
    carve = carve_of(made.job.document, made.layout)
    assert carve is not None
    for station, told in zip(stations(carve, made.layout), whole["stations"], strict=True):
        assert named[f"carve.{station.id}.depth"].value == pytest.approx(told["depth"], abs=1e-5)
        assert named[f"carve.{station.id}.thickness"].value == pytest.approx(told["thickness"], abs=1e-5)
    for channel in whole["channels"]:
        name = f"carve.{channel['name'].replace(' ', '-')}.wood"
        assert named[name].value == pytest.approx(channel["wood"], abs=1e-5)
    assert explained(made, "carve.kg") is not None
    assert "carve" not in record(plan(*parse_job(FANNED.partition("[neck_blank]")[0])))


def test_facets_touch_the_section() -> None:
    """Of half an ellipse the facet's line is across + depth = √2 in shares: it meets side and back 0.4142 of the way."""
    made = planned({"neck_blank__section": "round"})
    carve = carve_of(made.job.document, made.layout)
    assert carve is not None
    first = stations(carve, made.layout)[0]
    assert first.facet_down == pytest.approx(first.depth * 0.414214, rel=1e-5)
    assert first.facet_in == pytest.approx(first.width / 2 * 0.414214, rel=1e-5)
    for station in stations(carve, made.layout):
        profile = carve.profile(station.along, 2000)
        slope = (station.depth - station.facet_down) / (station.facet_in - station.width / 2)
        line = station.facet_down + slope * (abs(profile[:, 0]) - station.width / 2)
        over = line - profile[:, 1]
        assert over.min() == pytest.approx(0.0, abs=1e-4)
