"""The screen at the press: whatever a hole is drilled by is in sight, unscrolled, on every step of the demo."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, expect
from tests.conftest import SHIPPED, in_inches

from scribeline.job import parse_job
from scribeline.operations import set_ups
from scribeline.plan import plan
from scribeline.steps import Card

from .conftest import Screens, Served, ask, go, plain_job, serious

HELD = {"across": (1024, 768), "upright": (810, 1080), "phone": (390, 844)}
"""The tablet lying, the tablet upright, a phone."""

HELD_HERE = "html[data-held]:not([data-held=''])"
"""A page whose scripts have run to their end: it holds every step."""

LEAST_FIGURE = 44.0
"""Lettering of a figure at least, px; 72 where there is room."""

LOOK = (Path(__file__).parent / "assets" / "press_look.js").read_text(encoding="utf-8")


def wanted(card: Card) -> list[str]:
    """What the labels of a step's figures begin with."""
    found = (
        ["bit"] * (card.bit is not None)
        + ["full depth"] * (card.depth is not None)
        + ([card.setting.kind] if card.setting else [])
    )
    if card.places:
        place = card.places[0]
        found += [f"from {reading.datum.words}" for reading in place.along] + ["across|from the centreline"]
        found += ["below"] * (place.below is not None) + ["out: from"] * (place.out is not None)
    elif card.gate.value is not None:
        found.append("should read")
    return found


def test_set_ups_are_machine_face_and_bit() -> None:
    made = plan(*parse_job(SHIPPED))
    groups = set_ups(made.operations)
    assert [each for group in groups for each in group] == [*made.operations]
    told = [{(each.machine, each.face, each.bit) for each in group} for group in groups]
    assert all(len(each) == 1 for each in told)
    assert all(one != other for one, other in pairwise(told))
    assert [each.kind for each in groups[0]] == ["check neck", "check blank"]


def test_what_was_ticked_by_mistake_is_taken_back_where_it_is_noticed(app: Served, screens: Screens) -> None:
    """And a blank that is thinner than stated is taken up by one touch; no navigation bars; the checks are told."""
    job = plain_job(app)
    page = screens("tablet", has_touch=True)
    page.add_init_script("delete Navigator.prototype.wakeLock")  # as over http
    page.goto(f"{job}/steps/check-body")
    expect(page.locator("#awake")).to_contain_text("Set this device not to sleep while you drill")
    page.tap("#awake >> text=Understood")
    page.reload()  # said once on a device
    expect(page.locator(HELD_HERE)).to_have_count(1)
    expect(page.locator("#awake")).to_be_empty()
    expect(page.get_by_role("navigation", name="Pages of this job")).to_have_count(0)
    expect(page.get_by_role("link", name="All steps")).to_have_count(1)
    expect(page.locator(".press-top")).not_to_contain_text("DO NOT CUT")
    page.tap(".bar >> text=Read the gate")
    expect(page.locator("#gate h2")).to_be_in_viewport(ratio=1)
    for n, read in enumerate(("44.1", "43.8", "43.6", "44.0"), start=1):
        page.get_by_label(f"Place {n}", exact=True).fill(read)
    go(page, "text=Keep the reading")
    expect(page.locator(".verdict")).to_contain_text("too little")
    assert not serious(page)
    go(page, "text=Use 43.60 mm as the thickness")
    expect(page.locator(".verdict")).to_contain_text("PASSES")
    expect(page.locator("#saved")).to_have_text("no. 2")
    expect(page.locator("form.use")).to_have_count(0)
    text = ask(job, "GET", "/revisions/2")[1]["text"]
    assert re.search(r'thickness = "43\.60? \+/- 0\.10?"', text)
    why = ask(job, "GET", "/revisions")[1][-1]["why"]
    assert "the least of 44.10 mm; 43.80 mm; 43.60 mm; 44.00 mm; was 44.40 mm" in why
    go(page, ".bar button")
    expect(page.locator(".just")).to_contain_text("Step 2 is called done. By mistake?")
    expect(page.locator(".mark.done")).to_have_count(1)
    assert not serious(page)
    go(page, ".just >> text=Take it back")
    expect(page.locator("h1")).to_have_text("Check the blank's thickness")
    expect(page.locator(".mark.done")).to_have_count(0)
    assert ask(job, "GET", "/ticks")[1] == []
    go(page, ".bar button")
    go(page, ".mark >> text=7")
    expect(page.locator(".just")).to_have_count(0)  # asked right after Done alone
    # A stop is told, on the list with its set-ups too.
    said = {"key": "body.thickness", "value": "30", "based_on": 2, "why": "another blank"}
    assert ask(job, "POST", "/values", said)[0] < 300
    expect(page.locator(".press-top")).to_contain_text("DO NOT CUT")
    go(page, "text=All steps")
    expect(page.locator(".setup-list h2").first).to_contain_text("bench")
    assert not serious(page)
    assert not screens.said


def looked_over(page: Page, job: str, cards: Sequence[Card], least: float = 72.0) -> list[str]:
    """What is wrong with the screens of steps at the three sizes; on the tablet upright with few figures they are so large."""
    wrong: list[str] = []
    for card in cards:
        page.goto(f"{job}/steps/{card.id}")
        for name, (width, height) in HELD.items():
            page.set_viewport_size({"width": width, "height": height})
            look: dict[str, Any] = page.evaluate(LOOK)
            labels = [each["label"] for each in look["seen"]]
            told = f"{card.no} {card.id}, {name}: "
            wrong += [told + each for each in look["wrong"]]
            wrong += [
                f"{told}no {each!r}"
                for each in wanted(card)
                if not any(re.match(each, label) for label in labels)
            ]
            room = name == "upright" and len(labels) <= 8
            wrong += [
                f"{told}small: {each}"
                for each in look["seen"]
                if each["size"] < (least if room and len(each["number"]) <= 8 else LEAST_FIGURE)
            ]
            if card.face in {"top", "back"} and card.face.upper() not in look["face"]:
                wrong.append(told + "no face")
            if card.depth is not None and card.workpiece in {"body", "scrap"} and not look["section"]:
                wrong.append(told + "no section")
    return wrong


def test_all_that_decides_is_in_sight_on_every_step(app: Served, screens: Screens) -> None:
    """Bit, stop, face and place of the first hole of each of the demo's steps, at three sizes; the section where it lies."""
    page = screens("tablet across", has_touch=True)
    page.goto(f"{plain_job(app)}/steps/check-neck")
    if page.locator("#awake button").count():
        page.tap("#awake button")
    made = plan(*parse_job(SHIPPED))
    wrong = looked_over(page, plain_job(app, SHIPPED), made.cards)
    inches = in_inches(SHIPPED)  # longer words beside the figures: the steps that have most of them
    most = [card for card in plan(*parse_job(inches)).cards if card.places and card.places[0].out is not None]
    assert most
    wrong += looked_over(page, plain_job(app, inches), most, least=LEAST_FIGURE)
    assert not wrong, "\n".join(wrong)
    assert not serious(page)
    assert not screens.said
