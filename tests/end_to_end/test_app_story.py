"""One job from nothing to the bench, as a builder goes through it: at the desk first, then on the tablet at the press."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path

import pdfplumber
import pytest
from playwright.sync_api import Page, expect
from tests.torture import long

from scribeline.drawing.pack import FILES
from scribeline.job import parse_job
from scribeline.plan import plan
from scribeline.scenario import demo_jobs, examples

from .conftest import Screens, Served, serious, serving


def write(page: Page, key: str, words: str) -> None:
    box = "#i-" + key.replace(".", "-").replace("_", "-")
    page.fill(box, words)
    page.press(box, "Tab")
    expect(page.locator(f"{box.replace('#i-', '#f-')} .error")).to_have_count(0)


FIRST_CARD = "Check the scale on the real neck"


class Hand:
    """What a person does to a screen, counted."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = 0

    def tap(self, words: str) -> None:
        self.page.click(f"a:has-text('{words}'), button:has-text('{words}')")
        self.taps += 1


@pytest.mark.parametrize("size", ["tablet", *long("desk")])
def test_the_demo_s_first_step_is_one_tap_away(tmp_path: Path, screens: Screens, size: str) -> None:
    """After `make app`, which opens the address that the app says it is at."""
    job = tmp_path / "marram.toml"
    job.write_text(demo_jobs()["marram.toml"], encoding="utf-8")
    with serving(tmp_path / "shop", "--job", str(job)) as app:
        hand = Hand(screens(size))
        hand.page.goto(f"{app.address}/jobs/1")
        hand.tap("next step")
        expect(hand.page.locator("h1")).to_have_text(FIRST_CARD)
        expect(hand.page.locator(".fig .value")).to_contain_text("320.00")
        assert hand.taps == 1
        # From the list of jobs it is one as well.
        hand.page.goto(app.address)
        hand.tap("Next step")
        expect(hand.page.locator("h1")).to_have_text(FIRST_CARD)
        assert hand.taps == 2


def test_from_an_empty_shop_the_demo_s_first_step_is_two_taps_away(app: Served, screens: Screens) -> None:
    hand = Hand(screens())
    hand.page.goto(app.address)
    hand.tap("Look at the demo")
    hand.tap("next step")
    expect(hand.page.locator("h1")).to_have_text(FIRST_CARD)
    assert hand.taps == 2


KEY = re.compile(r"\b[a-z]+_[a-z_]+\b|\b(?:bridge|neck|body|ferrules|pockets|bits|scale|nut)[.\[]\w+")
"""A key of the job file, which is for the job file."""


def test_a_left_handed_bass_whose_strings_end_in_the_plate_is_begun_in_inches(
    app: Served, screens: Screens
) -> None:
    page = screens("tablet across")
    page.goto(f"{app.address}/start/own")
    page.fill("#name", "Samphire")
    for words in ("four-string bass", "in the bridge plate", "inches", "left-handed"):
        page.click(f"label:has-text('{words}')")
    page.click("text=Measure the parts")
    write(page, "scale.length", "33 63/64")
    expect(page.locator("#f-scale-length .both")).to_contain_text("863.20 mm")  # 33.984375 × 25.4, by hand
    for part in ("Strings", "Neck and its pocket", "Body", "Bridge plate"):
        page.click("text=Next part")
        expect(page.locator("h1")).to_have_text(part)
    # No row of string holes is asked for, and no ferrule; who changes their mind is asked for both.
    expect(page.locator("label:has-text('string hole')")).to_have_count(0)
    page.select_option("#i-bridge-loading", "through-body")
    expect(page.locator("label:has-text('string hole')")).to_have_count(2)
    page.click("text=Next part")
    expect(page.locator("h1")).to_have_text("Ferrules and string holes")
    page.click(".guide >> text=Back")
    page.select_option("#i-bridge-loading", "top-load")
    expect(page.locator("label:has-text('string hole')")).to_have_count(0)
    # What cannot be is told in the words of the page, with what was typed.
    page.fill("#i-bridge-saddle-forward", "1.3")
    page.press("#i-bridge-saddle-forward", "Tab")
    expect(page.locator("#f-bridge-saddle-forward .error")).to_contain_text("saddle fully back")
    assert not KEY.findall(page.inner_text("#f-bridge-saddle-forward"))
    write(page, "bridge.saddle_forward", "0.56 +/- 0.002")
    expect(page.locator("#f-bridge-saddle-forward .how")).to_contain_text("measured ±0.002 in")
    page.click("text=Next part")
    expect(page.locator("h1")).to_have_text("Bridge screws")
    page.click("text=Straight to the plan")
    expect(page.locator(".state")).to_contain_text("OK")
    expect(page.locator("#changed")).to_have_count(0)
    page.click(".state")
    told = page.inner_text("main")
    assert "plate's width" in told
    assert not KEY.findall(told)


def test_a_job_is_begun_like_an_example_by_touch(app: Served, screens: Screens) -> None:
    page = screens("tablet")
    page.goto(f"{app.address}/start/like")
    page.click("text=Begin like this one")
    expect(page.locator("#like-wrong")).to_contain_text("ouch one of the examples first")
    cards = page.locator(".likes label")
    expect(cards).to_have_count(len(examples()))
    expect(page.locator(".likes svg")).to_have_count(len(examples()), timeout=30_000)
    for card, each in zip(cards.all(), examples().values(), strict=True):
        assert each.about in card.inner_text()
    page.click(".likes label:has-text('two studs')")
    page.fill("#like-name", "Plover")
    page.click("form[action='/start/like'] label:has-text('left-handed') >> nth=-1")
    page.click("text=Begin like this one")
    expect(page.locator("h1")).to_have_text("Scale and frets")
    text = page.request.get(re.sub(r"/parts/.*", "/job.toml", page.url)).text()
    assert 'name = "Plover"' in text
    assert 'handed = "left"' in text
    assert "measured = " not in text
    assert page.request.get(f"{app.address}/start/like/harp").status == 404


def test_from_nothing_to_the_bench(app: Served, screens: Screens) -> None:
    desk = screens("desk")
    desk.goto(app.address)
    desk.click("nav >> text=New")
    desk.click("text=Measure my parts")
    desk.click("text=Measure the parts")
    expect(desk.locator("#wrong")).to_contain_text("name")
    desk.fill("#name", "Shingle")
    desk.click("text=Measure the parts")

    # The guided path: what is in the hand is measured, the rest is left for later.
    expect(desk.locator("h1")).to_have_text("Scale and frets")
    write(desk, "scale.length", '25 1/2"')
    expect(desk.locator("#f-scale-length .both")).to_contain_text("647.70 mm")
    desk.click("text=Next part")
    expect(desk.locator("h1")).to_have_text("Strings")
    desk.click("text=Leave this for later")
    expect(desk.locator("h1")).to_have_text("Neck and its pocket")
    desk.click("text=Next part")
    write(desk, "body.thickness", "44.6 +/- 0.1")
    desk.click("text=Next part")
    write(desk, "bridge.plate_thickness", "2.4 +/- 0.05")
    expect(desk.locator("#f-bridge-plate-thickness .how")).to_contain_text("measured")
    expect(desk.locator("#f-bridge-plate-width .how")).to_contain_text("not yet measured")
    for part in ("Ferrules and string holes", "Bridge screws", "Bits you own"):
        desk.click("text=Next part")
        expect(desk.locator("h1")).to_have_text(part)
    desk.click("text=See the plan")
    expect(desk.locator("#drawing svg")).to_be_visible()
    expect(desk.locator(".state")).to_contain_text("OK")

    # A stop, and its cure tried before it is kept.
    desk.goto(desk.url.replace("/plan", "/parts/pocket-1"))
    write(desk, "pockets[1].depth".replace("[", "-").replace("]", ""), "45")
    expect(desk.locator(".state")).to_contain_text("DO NOT CUT")
    desk.click(".state")
    assert not serious(desk)
    desk.click(".finding.stop a:has-text('Try') >> nth=0")
    expect(desk.locator("#tried")).to_contain_text("Nothing is kept yet")
    desk.click("text=Keep it")
    expect(desk.locator(".state")).to_contain_text("OK")

    # On the tablet: the job opens, a gate takes its reading, a step is done.
    tablet = screens("tablet")
    tablet.goto(app.address)
    tablet.click("a.whole:has-text('Shingle')")
    tablet.click("nav >> text=Steps")
    tablet.click("text=Go on with step")
    expect(tablet.locator("h1")).to_contain_text("scale on the real neck")
    half = 647.7 / 2
    tablet.fill("#reading", f"{half + 2:.2f}")
    tablet.click("text=Keep the reading")
    expect(tablet.locator(".verdict")).to_contain_text("DOES NOT PASS")
    tablet.fill("#reading", f"{half:.2f}")
    tablet.click("text=Keep the reading")
    expect(tablet.locator(".verdict")).to_contain_text("PASSES")
    tablet.click(".bar button")
    expect(tablet.locator("h1")).not_to_contain_text("scale on the real neck")
    tablet.goto(tablet.url.split("/steps")[0] + "/steps")
    expect(tablet.locator(".steps li.done")).to_have_count(1)

    # The desk sees it, and its file carries what was done and read: the same text the commands plan from.
    job = desk.url.split("/checks")[0]
    text = desk.request.get(f"{job}/job.toml").text()
    read = parse_job(text)
    assert read.job.document.name == "Shingle"
    assert [each.card for each in read.record.done] == ["check-neck"]
    assert [each.value_mm for each in read.record.readings] == pytest.approx([half + 2, half], abs=0.006)
    planned = plan(*read)
    assert not planned.stops
    assert planned.layout.twelfth == pytest.approx(half, abs=1e-6)

    # The sheets, looked at.
    desk.goto(f"{job}/sheets")
    desk.click("text=Make the pack")
    expect(desk.locator("text=is made")).to_be_visible()
    with desk.expect_download() as waiting:
        desk.click("a.whole:has-text('All of it')")
    with zipfile.ZipFile(io.BytesIO(Path(waiting.value.path()).read_bytes())) as whole:
        assert set(whole.namelist()) == set(FILES)
        with pdfplumber.open(io.BytesIO(whole.read("steps.pdf"))) as cards:
            assert "Shingle" in (cards.pages[0].extract_text() or "")
    # The refused name and the stop's refusal are answered with 422, which the browser notes; nothing else is wrong.
    assert [each for each in screens.said if "422" not in each] == []
