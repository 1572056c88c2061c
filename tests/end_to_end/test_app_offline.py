"""The network goes in the middle of work: the tablet walks on, and what was pressed arrives once, in order."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, Response, expect
from tests.conftest import WITHOUT_TUNNELS

from scribeline.job import parse_job
from scribeline.plan import plan

from .conftest import Screens, Served, ask, plain_job, serious

TICKED, READ = 12, 5
"""Steps called done, and readings typed, while the network is away."""

HELD = "html[data-held]:not([data-held=''])"
"""A page that holds every step."""


def acts(job: str) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """What the app has: steps called done and readings, oldest first."""
    return ask(job, "GET", "/ticks")[1], ask(job, "GET", "/readings")[1]


def order() -> list[str]:
    """The demo's steps, without its tunnels."""
    return [card.id for card in plan(*parse_job(WITHOUT_TUNNELS)).cards]


def press_on(page: Page, readings: list[str]) -> str:
    """Read the gate of the step that is looked at, walk over its holes, call it done; its id."""
    card = str(page.locator("#step").get_attribute("data-card"))
    boxes = page.locator("#gate .ask input")
    if boxes.count():
        wanted = [
            page.locator("#gate .deciding .n").first.inner_text()
            if boxes.count() == 1 or page.locator("#gate .ask .n").count() == 0
            else page.locator("#gate .ask .n").nth(n).inner_text()
            for n in range(boxes.count())
        ]
        for n, words in enumerate(wanted):
            boxes.nth(n).fill(words)
        page.tap("text=Keep the reading")
        readings.append(card)
    else:
        page.tap(".gate button[value=yes]")
    expect(page.locator(".unsent-note")).to_contain_text("It passes, as this device reads it")
    holes = int(page.locator("#step").get_attribute("data-of") or 1)
    for hole in range(2, holes + 1):
        page.tap(".bar [rel=next]")
        expect(page.locator(f"#step[data-hole='{hole}']")).to_have_count(1)
    page.tap(".bar button")
    expect(page.locator(f"#step[data-card='{card}']")).to_have_count(0)
    return card


@pytest.fixture
def tablet(screens: Screens) -> Page:
    return screens("tablet across", has_touch=True)


def test_twelve_steps_and_their_readings_wait_and_arrive_once_in_order(
    app: Served, tablet: Page, screens: Screens
) -> None:
    """Away in the middle of work; another device edits meanwhile; the app is killed while they arrive."""
    job = plain_job(app)
    steps = order()
    tablet.add_init_script(
        "Object.defineProperty(navigator, 'serviceWorker', {value: undefined})"
    )  # as over http
    tablet.goto(f"{job}/steps/{steps[0]}")
    expect(tablet.locator(HELD)).to_have_count(1)
    tablet.context.set_offline(True)
    readings: list[str] = []
    done = [press_on(tablet, readings) for _ in range(TICKED)]
    assert done == steps[:TICKED]
    assert len(readings) >= READ
    expect(tablet.locator(".mark.queued")).to_have_count(TICKED)
    expect(tablet.locator("#unsent summary")).to_contain_text(f"{2 * TICKED} wait to be sent")
    expect(tablet.locator("#hearing")).to_contain_text("Do not reload this page until it answers")
    assert acts(job) == ([], [])
    assert not serious(tablet)
    # One by mistake is taken back before it is sent, and pressed again.
    tablet.tap(".just >> text=Take it back")
    expect(tablet.locator(f"#step[data-card='{done[-1]}']")).to_have_count(1)
    expect(tablet.locator(".mark.queued")).to_have_count(TICKED - 1)
    while not tablet.locator(".bar button").count():
        hole = int(tablet.locator("#step").get_attribute("data-hole") or 1)
        tablet.tap(".bar [rel=next]")
        expect(tablet.locator(f"#step[data-hole='{hole + 1}']")).to_have_count(1)
    tablet.tap(".bar button")
    expect(tablet.locator(".mark.queued")).to_have_count(TICKED)
    # Another device edits meanwhile: what no step of these goes by.
    said = {"key": "name", "value": "Marram, the second", "based_on": 1, "why": "a better name"}
    assert ask(job, "POST", "/values", said)[0] < 300
    # Back: after the fifth that arrives the app is killed, its answer lost; it goes on when it is there again.
    arrived: list[str] = []

    def arrive(answer: Response) -> None:
        if answer.request.method == "POST":
            arrived.append(answer.url)
            if len(arrived) == 5:
                app.kill()

    tablet.on("response", arrive)
    tablet.context.set_offline(False)
    expect(tablet.locator("#hearing")).to_be_visible()
    while len(arrived) < 5:
        tablet.wait_for_timeout(50)
    app.start()
    expect(tablet.locator("html[data-waits='0']")).to_have_count(1)
    ticks, read = acts(job)
    assert [each["card"] for each in ticks] == done
    assert [each["card"] for each in read] == done  # a reading or a yes of each, none twice
    assert [each["card"] for each in read if each["value_mm"] is not None] == readings
    at = [each["at"] for pair in zip(read, ticks, strict=True) for each in pair]
    assert at == sorted(at)
    expect(tablet.locator("#unsent")).to_be_hidden()
    expect(tablet.locator("#hearing")).to_be_hidden()
    expect(tablet.locator(".mark.done")).to_have_count(TICKED)
    assert not screens.said


def test_what_was_drilled_by_other_numbers_is_asked_before_anything_behind_it(
    app: Served, tablet: Page
) -> None:
    """The plan changed while the tablet was away: the row stops there, survives a reload, and goes on when it is said."""
    job = plain_job(app)
    steps = order()
    step = "rout-neck-pocket"
    for each in steps[: steps.index(step)]:
        assert ask(job, "PUT", f"/ticks/{each}", {"revision": 1})[0] == 200
    tablet.goto(f"{job}/steps/{step}")
    expect(tablet.locator(HELD)).to_have_count(1)
    tablet.context.set_offline(True)
    readings: list[str] = []
    done = [press_on(tablet, readings) for _ in range(2)]
    said = {"key": "neck.pocket_depth", "value": "16.2 +/- 0.1", "based_on": 1, "why": "a deeper heel"}
    assert ask(job, "POST", "/values", said)[0] < 300
    tablet.context.set_offline(False)
    expect(tablet.locator("#unsent")).to_contain_text("Say which number was drilled. 2 more wait behind it.")
    assert [each["card"] for each in acts(job)[0]] == steps[: steps.index(step)]
    tablet.reload()
    expect(tablet.locator("#unsent")).to_contain_text("2 more wait behind it.")
    assert not serious(tablet)
    tablet.tap("text=Say what was drilled")
    expect(tablet.locator("h1")).to_contain_text("Which number was drilled?")
    tablet.locator("fieldset.card input").first.check()  # as the screen said
    tablet.tap("text=Keep what was drilled")
    expect(tablet.locator("html[data-waits='0']")).to_have_count(1)
    ticks = acts(job)[0]
    assert [each["card"] for each in ticks] == [*steps[: steps.index(step)], *done]
    assert ticks[-2]["cuts"][0]["revision"] == 1


def test_a_page_loaded_anew_while_the_app_is_away_is_there(app: Served, tablet: Page) -> None:
    """Over https, and on the shop's PC: the device itself holds the steps, what waits with them."""
    job = plain_job(app)
    steps = order()
    tablet.goto(f"{job}/steps/{steps[1]}")
    expect(tablet.locator(HELD)).to_have_count(1)
    tablet.evaluate("navigator.serviceWorker.ready.then(() => true)")
    tablet.reload()  # once under its eyes
    expect(tablet.locator(HELD)).to_have_count(1)
    app.stop()
    expect(tablet.locator("#hearing")).to_contain_text("this device holds every step")
    readings: list[str] = []
    assert press_on(tablet, readings) == steps[1]
    tablet.reload()
    expect(tablet.locator(f"#step[data-card='{steps[2]}']")).to_have_count(1)
    expect(tablet.locator("h1")).to_contain_text("press table")
    expect(tablet.locator(".mark.queued")).to_have_count(1)
    assert press_on(tablet, readings) == steps[2]
    tablet.goto(f"{job}/steps/drill-neck-screws?hole=3")
    expect(tablet.locator(".hole")).to_contain_text("hole 3 of 4")
    app.start()
    expect(tablet.locator("html[data-waits='0']")).to_have_count(1)
    assert [each["card"] for each in acts(job)[0]] == steps[1:3]
    assert [each["card"] for each in acts(job)[1]] == readings == steps[1:3]
