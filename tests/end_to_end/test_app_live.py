"""Two devices on one job: the screen at the press is the plan, and what is recorded is what was on it."""

from __future__ import annotations

import asyncio
import json
import re
import threading
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import Any
from urllib.request import Request, urlopen

import pytest
from playwright.sync_api import Page, expect
from tests.conftest import SHIPPED

from scribeline.job import parse_job
from scribeline.plan import plan
from scribeline.web.live import MOST_OF_A_DEVICE, Live

from .conftest import PATIENCE, Screens, Served, serious

STEP = "drill-control-cavity-cover-screws"
"""Five holes, drilled 11.5 mm deep for screws of 12 mm; 2.8 mm longer ones go 2.8 mm deeper."""


@pytest.fixture
def job(app: Served) -> str:
    """Address of a job of the test's own, worked on so far that the step can be begun."""
    return begun(app)


@cache
def worked_on() -> str:
    """The demo without its tunnels, all done that the step waits for, its gate read."""
    text = re.sub(r"(#.*\n)*\[\[tunnels\]\]\n(\w.*\n|\n|#.*\n(?=\w))*", "", SHIPPED)
    cards = {each.id: each for each in plan(*parse_job(text)).cards}
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


LOSES_THE_FIRST_ANSWER = """
const real = window.fetch;
window.fetch = async (path, how) => {
  const answer = await real(path, how);
  if (how?.method !== "POST" || sessionStorage.getItem("lost")) return answer;
  sessionStorage.setItem("lost", answer.status);
  throw new TypeError("the answer was lost on the way");
};
"""

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
        page.click("button:has-text('As the screen said before')")
        assert {cut["steps"][0]["depth"] for cut in cuts(office, job).values()} == {11.5}
        assert {cut["revision"] for cut in cuts(office, job).values()} == {1}
    finally:
        plain.close()


def test_what_is_drilled_of_a_step_the_job_has_no_more_is_kept(job: str, screens: Screens) -> None:
    tablet, office = press(screens), screens()
    tablet.goto(f"{job}/steps/{STEP}?hole=5")
    heard(tablet)
    api = job.replace("/jobs/", "/api/jobs/")
    text = tablet.request.get(api).json()["text"]
    without = re.sub(r"\ncover_screws = .*", "", text)
    said = {"text": without, "based_on": 1}
    assert office.request.post(f"{api}/revisions", data=said).ok
    expect(tablet.locator("#hearing")).to_contain_text("no longer has this step")
    tablet.tap(".bar button")
    expect(tablet.locator("h1")).to_contain_text("Which number was drilled?")
    for each in tablet.locator("fieldset.card").all()[1:]:
        each.locator("input").last.check()  # only the first was drilled
    tablet.locator("fieldset.card input").first.check()
    tablet.tap("text=Keep what was drilled")
    expect(tablet.locator("h1")).not_to_contain_text("Which number")
    assert [cut["steps"][0]["depth"] for cut in cuts(tablet, job).values()] == [11.5]


def test_a_page_hears_again_when_the_app_is_back(app: Served, job: str, screens: Screens) -> None:
    tablet, office = press(screens), screens()
    tablet.goto(f"{job}/steps/{STEP}?hole=5")
    heard(tablet)
    expect(tablet.locator("html[data-held]:not([data-held=''])")).to_have_count(1)
    app.stop()
    expect(tablet.locator("#hearing")).to_contain_text("The app does not answer. Go on")
    tablet.tap(".bar >> text=Back")
    expect(tablet.locator(".hole")).to_contain_text("hole 4 of 5")
    tablet.tap(".bar >> text=Next hole")
    expect(tablet.locator(".hole")).to_contain_text("hole 5 of 5")
    app.start()
    edit(office, job, *LONGER, 1)
    expect(tablet.locator("#news")).to_contain_text("now 14.30 mm, was 11.50 mm")
    expect(tablet.locator("#hearing")).to_be_hidden()
    assert not cuts(office, job)
    tablet.tap(".bar >> text=Back")
    expect(tablet.locator(".hole")).to_contain_text("hole 4 of 5")


def test_tabs_share_one_stream(app: Served, job: str, screens: Screens) -> None:
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


def test_a_reading_typed_while_the_app_is_away_is_kept_and_sent_once(
    app: Served, job: str, screens: Screens
) -> None:
    tablet = press(screens)
    tablet.goto(f"{job}/steps/check-body")
    heard(tablet)
    wanted = tablet.locator("#gate .deciding .n").first.inner_text()
    app.kill()
    tablet.fill("#reading", wanted)
    tablet.fill("#with", "caliper")
    tablet.tap("text=Keep the reading")
    note = tablet.locator(".unsent-note")
    expect(note).to_contain_text("waits to be sent")
    expect(note).to_contain_text(wanted)
    expect(tablet.locator("#reading")).to_have_value(wanted)
    expect(tablet.locator("#reading")).to_have_css("border-style", "dashed")
    assert not serious(tablet)
    app.start()
    expect(tablet.locator(".verdict")).to_contain_text("PASSES")
    expect(note).to_have_count(0)
    api = job.replace("/jobs/", "/api/jobs/")
    kept = [each for each in tablet.request.get(f"{api}/readings").json() if each["card"] == "check-body"]
    assert [(each["revision"], each["with_what"]) for each in kept] == [(1, "caliper")]


def test_a_reading_that_had_no_answer_is_not_kept_twice(job: str, screens: Screens) -> None:
    """The app took it, and the answer was lost on the way."""
    tablet = press(screens)
    tablet.add_init_script(LOSES_THE_FIRST_ANSWER)
    tablet.goto(f"{job}/steps/check-body")
    wanted = tablet.locator("#gate .deciding .n").first.inner_text()
    tablet.fill("#reading", wanted)
    tablet.tap("text=Keep the reading")
    expect(tablet.locator(".verdict")).to_contain_text("PASSES")
    expect(tablet.locator("html[data-waits='0']")).to_have_count(1)
    assert tablet.evaluate("sessionStorage.getItem('lost')") == "200"
    api = job.replace("/jobs/", "/api/jobs/")
    kept = [each for each in tablet.request.get(f"{api}/readings").json() if each["card"] == "check-body"]
    assert len(kept) == 1


def test_what_is_wrong_with_a_reading_is_in_sight(job: str, screens: Screens) -> None:
    tablet = press(screens)
    tablet.goto(f"{job}/steps/{STEP}")
    tablet.fill("#reading", "twelve")
    tablet.tap("text=Keep the reading")
    expect(tablet.locator("#wrong")).to_be_in_viewport(ratio=1)
    expect(tablet.locator("#reading")).to_be_in_viewport(ratio=1)
    expect(tablet.locator("#reading")).to_have_value("twelve")
    bar = tablet.locator(".bar").bounding_box()
    box = tablet.locator("#reading").bounding_box()
    assert bar
    assert box
    assert box["y"] + box["height"] <= bar["y"]


def test_a_field_that_waits_looks_like_no_kept_one(app: Served, job: str, screens: Screens) -> None:
    tablet = press(screens)
    tablet.goto(f"{job}/parts/body")
    kept = tablet.locator("#f-body-thickness input").last
    app.stop()
    kept.fill("44.5 +/- 0.1")
    kept.press("Tab")
    expect(tablet.locator("#f-body-thickness")).to_contain_text("waits to be sent")
    expect(kept).to_have_css("border-style", "dashed")
    assert not serious(tablet)
    app.start()
    expect(tablet.locator("#saved")).to_have_text("no. 2")
    expect(tablet.locator("#f-body-thickness")).not_to_contain_text("waits to be sent")
    expect(kept).not_to_have_css("border-style", "dashed")


def test_streams_are_bounded_and_hold_no_thread() -> None:
    async def listen() -> None:
        live = Live()
        threads = threading.active_count()
        many = [live.listen(f"device {number // 20}") for number in range(100)]
        for each in many:
            assert "all" in await anext(each)
        assert threading.active_count() == threads
        assert live.open <= 100
        # Those that are too many are told so, the oldest first, and end.
        ended = 0
        for each in many:
            live.tell(7)
            said = await anext(each)
            if "enough" in said:
                ended += 1
                with pytest.raises(StopAsyncIteration):
                    await anext(each)
        assert live.open == 100 - ended == 5 * MOST_OF_A_DEVICE
        assert live.mark(7).endswith(" 100")
        live.close()
        for each in many:
            async for _ in each:
                pass
        assert live.open == 0

    with ThreadPoolExecutor(1) as aside:  # this thread's own loop may be a browser's
        aside.submit(lambda: asyncio.run(listen())).result()


@pytest.mark.parametrize("missing", [["SharedWorker"], ["SharedWorker", "EventSource"]], ids=" ".join)
def test_a_browser_that_shares_nothing_hears_too(job: str, screens: Screens, missing: list[str]) -> None:
    tablet, office = press(screens), screens()
    tablet.add_init_script("".join(f"delete window.{each};" for each in missing))
    tablet.clock.install()
    tablet.goto(f"{job}/steps/{STEP}")
    polls = "EventSource" in missing
    if not polls:
        heard(tablet)
    edit(office, job, *LONGER, 1)
    if polls:
        tablet.clock.fast_forward(10_001)
    expect(tablet.locator("#news")).to_contain_text("was 11.50 mm")


def test_streams_end_with_the_app(app: Served) -> None:
    with urlopen(f"{app.address}/news", timeout=PATIENCE / 1000) as stream:
        assert stream.headers["content-type"].startswith("text/event-stream")
        assert stream.readline().startswith(b"retry: ")
        process = app.process
        assert process is not None
        assert process.stdout is not None
        process.terminate()
        stream.read()  # to its end
        said = process.stdout.read()
        process.wait(timeout=60)
    assert "Cancel" not in said  # nothing had to be broken off
