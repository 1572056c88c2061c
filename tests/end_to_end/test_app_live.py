"""Two devices on one job: the screen at the press is the plan, and what is recorded is what was on it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any
from urllib.request import Request, urlopen

import pytest
from playwright.sync_api import Page, expect
from tests.conftest import SHIPPED

from scribeline.job import parse_job
from scribeline.plan import plan

from .conftest import Screens, Served, serious, serving

STEP = "drill-control-cavity-cover-screws"
"""Five holes, drilled 11.5 mm deep for screws of 12 mm; 2.8 mm longer ones go 2.8 mm deeper."""


@pytest.fixture
def job(app: Served) -> str:
    """Address of a job of the test's own, worked on so far that the step can be begun."""
    return begun(app)


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Served]:
    """An app that the test may stop."""
    with serving(tmp_path) as running:
        yield running


@cache
def worked_on() -> str:
    """The demo without its tunnels, all done that the step waits for, its gate read."""
    text = re.sub(r"(#.*\n)*\[\[tunnels\]\]\n(\w.*\n|\n|#.*\n(?=\w))*", "", SHIPPED)
    cards = {each.id: each for each in plan(parse_job(text)).cards}
    before = [STEP]
    for each in before:
        before += [need.first for need in cards[each].after if need.first not in before]
    at = "2026-01-31T10:15:00Z"
    done = "".join(f'\n[[done]]\ncard = "{each}"\nby = "test"\nat = {at}\n' for each in before[1:])
    gate = cards[STEP].gate
    assert gate is not None
    return f'{text}{done}\n[[readings]]\ncard = "{STEP}"\nvalue_mm = {gate.value}\nby = "test"\nat = {at}\n'


def begun(app: Served) -> str:
    body = json.dumps({"text": worked_on()}).encode()
    asked = Request(f"{app.address}/api/import", body, {"content-type": "application/json"})
    with urlopen(asked, timeout=60) as answer:
        return f"{app.address}/jobs/{json.loads(answer.read())['job_id']}"


def edit(page: Page, job: str, key: str, value: str, based_on: int) -> None:
    """From another device."""
    api = job.replace("/jobs/", "/api/jobs/")
    said = {"key": key, "value": value, "based_on": based_on, "why": "longer screws"}
    assert page.request.post(f"{api}/values", data=said).ok


def cuts(page: Page, job: str) -> dict[str, dict[str, Any]]:
    """What the record says the step cut, by hole."""
    done = page.request.get(job.replace("/jobs/", "/api/jobs/") + "/ticks").json()
    return {cut["id"]: cut for tick in done if tick["card"] == STEP for cut in tick["cuts"]}


def depth(page: Page) -> str:
    """The full depth as it stands on the screen."""
    return page.locator(".fig", has_text="full depth").locator(".value").inner_text()


LONGER = ("pockets[3].cover_screws.length", "14.8")


def press(screens: Screens) -> Page:
    return screens("tablet across", has_touch=True)


def test_a_step_says_was_and_now_and_asks_which_was_drilled(job: str, screens: Screens) -> None:
    tablet, office = press(screens), screens()
    tablet.goto(f"{job}/steps/{STEP}")
    assert depth(tablet).startswith("11.50")
    tablet.tap(".bar >> text=Next hole")
    expect(tablet.locator(".hole")).to_contain_text("hole 2 of 5")
    heard(tablet)
    edit(office, job, *LONGER, 1)
    news = tablet.locator("#news")
    expect(news).to_contain_text("full depth: now 14.30 mm, was 11.50 mm")
    expect(news).to_contain_text("longer screws")
    assert depth(tablet).startswith("14.30")
    colours = news.evaluate("e => [getComputedStyle(e).backgroundColor, getComputedStyle(e).color]")
    assert colours == ["rgb(0, 0, 0)", "rgb(255, 255, 255)"]
    assert not serious(tablet)
    tablet.tap(
        ".bar >> text=Next hole"
    )  # one that was never on the screen before: the stop is still as it was
    expect(tablet.locator(".hole")).to_contain_text("hole 3 of 5")
    expect(tablet.locator("#news")).to_contain_text("was 11.50 mm")
    for number in (4, 5):
        tablet.tap(".bar >> text=Next hole")
        expect(tablet.locator(".hole")).to_contain_text(f"hole {number} of 5")
        expect(tablet.locator("#news")).to_have_count(0)
    tablet.fill("#reading", "14.3")  # the gate wants the new depth
    tablet.tap("text=Keep the reading")
    expect(tablet.locator(".verdict")).to_contain_text("PASSES")
    tablet.tap(".bar button")
    # The first two holes were on the screen with the old depth: nothing is ticked before it is said which was drilled.
    expect(tablet.locator("h1")).to_contain_text("Which number was drilled?")
    assert not cuts(tablet, job)
    expect(tablet.locator("fieldset.card")).to_have_count(2)
    assert not serious(tablet)
    tablet.reload()
    tablet.locator("fieldset.card").nth(0).locator("label").nth(0).tap()
    tablet.locator("fieldset.card").nth(1).locator("label").nth(1).tap()
    tablet.tap("text=Keep what was drilled")
    expect(tablet.locator("h1")).not_to_contain_text("Which number")
    made = cuts(tablet, job)
    depths = [made[each]["steps"][0]["depth"] for each in made]
    assert depths == pytest.approx([11.5, 14.3, 14.3, 14.3, 14.3])
    assert [made[each].get("revision") for each in made] == [1, None, None, None, None]
    assert not screens.said


def heard(page: Page) -> None:
    """Wait until the page's stream of events is open."""
    expect(page.locator("html[data-hears=yes]")).to_have_count(1)


def test_what_changes_nothing_on_the_page_is_not_told(job: str, screens: Screens) -> None:
    tablet, office = press(screens), screens()
    tablet.goto(f"{job}/steps/{STEP}?hole=5")
    heard(tablet)
    before = tablet.locator("#r-figures").inner_html()
    edit(office, job, "nut.edge", "3.4", 1)
    expect(tablet.locator("#saved")).to_have_text("no. 2")  # it has heard
    expect(tablet.locator("#news")).to_have_count(0)
    assert tablet.locator("#r-figures").inner_html() == before
    # Done from a page of the older revision, its numbers the same: no question.
    answer = tablet.request.post(f"{job}/steps/{STEP}/done", form={"revision": "1"}, max_redirects=0)
    assert answer.status == 303
    assert "which" not in answer.headers["location"]
    assert len(cuts(tablet, job)) == 5


def test_what_is_typed_stays_while_the_numbers_change(job: str, screens: Screens) -> None:
    tablet, office = press(screens), screens()
    tablet.goto(f"{job}/steps/check-body")
    heard(tablet)
    tablet.fill("#reading", "44.4")
    edit(office, job, "body.thickness", "44.8 +/- 0.1", 1)
    expect(tablet.locator("#news")).to_contain_text("was 44.40 mm")
    expect(tablet.locator("#reading")).to_have_value("44.4")
    expect(tablet.locator("#reading")).to_be_focused()


def test_an_old_page_without_scripts_cannot_call_it_done(job: str, screens: Screens) -> None:
    tablet, office = press(screens), screens()
    plain = tablet.context.browser.new_context(java_script_enabled=False)  # type: ignore[union-attr]
    try:
        page = plain.new_page()
        page.goto(f"{job}/steps/{STEP}")
        for _ in range(4):
            page.click(".bar >> text=Next hole")
        edit(office, job, *LONGER, 1)
        page.click(".bar button")
        expect(page.locator("h1")).to_contain_text("Which number was drilled?")
        assert not cuts(office, job)
        page.reload()
        for each in page.locator("fieldset.card").all():
            each.locator("input").first.check()
        page.click("text=Keep what was drilled")
        assert {cut["steps"][0]["depth"] for cut in cuts(office, job).values()} == {11.5}
        assert {cut["revision"] for cut in cuts(office, job).values()} == {1}
    finally:
        plain.close()


def test_a_page_hears_again_when_the_app_is_back(own: Served, screens: Screens) -> None:
    job = begun(own)
    tablet, office = press(screens), screens()
    tablet.goto(f"{job}/steps/{STEP}?hole=5")
    heard(tablet)
    own.stop()
    expect(tablet.locator("#hearing")).to_contain_text("does not answer")
    own.start()
    edit(office, job, *LONGER, 1)
    expect(tablet.locator("#news")).to_contain_text("now 14.30 mm, was 11.50 mm")
    expect(tablet.locator("#hearing")).to_be_hidden()


def test_tabs_share_one_stream(own: Served, screens: Screens) -> None:
    job = begun(own)
    first, office = press(screens), screens()
    asked: list[str] = []
    first.context.on("request", lambda request: asked.append(request.url))
    first.goto(f"{job}/steps/{STEP}")
    second = first.context.new_page()
    second.goto(f"{job}/steps/{STEP}?hole=2")
    for page in (first, second):
        heard(page)
    edit(office, job, *LONGER, 1)
    for page in (first, second):
        expect(page.locator("#news")).to_contain_text("was 11.50 mm")
    assert not [url for url in asked if re.search(r"/news$", url)]  # no tab has a stream of its own
