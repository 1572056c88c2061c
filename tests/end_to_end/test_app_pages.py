"""Every page of the shop app in a real browser, at the desk and on a tablet, in light and in dark."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect
from tests.conftest import WITHOUT_TUNNELS
from tests.torture import long

from scribeline.job import set_value

from .conftest import SIZES, Screens, Served, demo_job, go, plain_job, serious, serving

if TYPE_CHECKING:
    from playwright.sync_api import Page

PLAN = "/jobs/1/plan"
PAGES = (
    "/",
    "/start",
    "/start/own",
    "/start/like",
    "/archived",
    "/deleted",
    "/jobs/1/copy",
    "/jobs/1/rename",
    "/shop",
    "/records",
    "/records/new/1",
    "/shop/tests",
    "/shop/tests/new/table-square",
    "/shop/tests/new/print-scale",
    "/shop/tests/new/trial-marks?method=lean-block",
    PLAN,
    f"{PLAN}?view=back&at=ferrule-hole-3",
    f"{PLAN}?view=side&at=string-hole-3",
    f"{PLAN}?view=front&ax=640&ay=150&bx=480&by=-190",
    "/jobs/1/parts",
    "/jobs/1/parts/bridge",
    "/jobs/1/parts/strings",
    "/jobs/1/parts/body?guide=1",
    "/jobs/1/parts/bits",
    "/jobs/1/parts/pocket-3",
    "/jobs/1/parts/control-1",
    "/jobs/1/parts/bench",
    "/jobs/1/parts/hole-1",
    "/jobs/1/parts/string-set-1",
    "/jobs/1/parts/limits",
    "/jobs/1/parts/bit-by-bit",
    "/jobs/1/parts/new?of=pockets",
    "/jobs/1/parts/new?of=holes&ways=1,2,1",
    "/jobs/1/explain?of=ferrule-hole-3",
    "/jobs/1/explain?of=web.ferrule-hole-3.ferrule-hole-4",
    "/jobs/1/checks",
    "/jobs/1/heights",
    "/jobs/1/neck",
    "/jobs/1/heights/try?key=neck.pocket_depth",
    "/jobs/1/steps",
    "/jobs/1/steps/check-neck",
    "/jobs/1/steps/drill-string-holes?hole=2",
    "/jobs/1/rescue",
    "/jobs/1/sheets",
    "/jobs/1/strings?to=a+lighter+set",
    "/jobs/1/solid",
    "/jobs/1/outline",
    "/jobs/1/outline/draw",
    "/jobs/1/history",
    "/jobs/1/text",
    "/nowhere",
)


@pytest.fixture(scope="module", autouse=True)
def demo(app: Served) -> None:
    """The demo job as job 1."""
    assert demo_job(app).endswith("/jobs/1")


def boxes_of(page: Page, selector: str) -> list[tuple[str, float, float]]:
    found: list[list[object]] = page.evaluate(
        """selector => [...document.querySelectorAll(selector)].filter(e => e.checkVisibility()).map(
             e => [e.textContent.trim(), e.getBoundingClientRect().width, e.getBoundingClientRect().height])""",
        selector,
    )
    return [(str(words), float(str(wide)), float(str(tall))) for words, wide, tall in found]


@pytest.mark.parametrize("size", ["tablet", *long("desk", "tablet across", "phone")])
def test_every_page_keeps_nobody_out(app: Served, screens: Screens, size: str) -> None:
    """Nothing wider than the screen, and on a tablet nothing too small for a dusty finger.

    48 px is the shop's own rule; WCAG 2.2 asks for 24 (success criterion 2.5.8). What axe-core says stands in `test_app_axe`.
    """
    page = screens(size)
    for address in PAGES:
        page.goto(app.address + address)
        page.wait_for_load_state()
        assert not re.search("[\ue000-\ue002]", page.content()), (
            address
        )  # a length that nobody put into figures
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0, f"{address} is {wide} px too wide"
        pressed = "button, .button, nav a, a.lone, summary, .chips a, select, input:not([type=radio])"
        for words, wide, tall in boxes_of(page, pressed) if size in {"tablet", "phone"} else ():
            assert tall >= 47.5, (address, words, tall)
            assert wide >= 47.5, (address, words, wide)
    assert [each for each in screens.said if "404" not in each] == []


@pytest.mark.parametrize("wide", [768, 810, 1024, 1440])
def test_the_pages_of_a_job_stand_in_one_row(app: Served, screens: Screens, wide: int) -> None:
    page = screens("tablet")
    page.set_viewport_size({"width": wide, "height": 1000})
    page.goto(app.address + PLAN)
    ways = page.locator("nav.on-wide a")
    tops = {
        round(box[1]) for box in ways.evaluate_all("all => all.map(a => [0, a.getBoundingClientRect().top])")
    }
    assert ways.count() > 10
    assert len(tops) == 1


def test_the_pages_that_let_a_tablet_in_keep_nobody_out(tmp_path: Path, screens: Screens) -> None:
    with serving(tmp_path, "--share") as app:
        page = screens("tablet")
        page.goto(f"{app.address}/shop")
        assert page.locator(".qr svg").is_visible()
        assert not serious(page)
        page.goto(f"{app.address}/pair")
        page.fill("#code", "AAAAAA")
        page.click("text=Let me in")
        expect(page.locator("#wrong")).to_be_visible()
        assert not serious(page)
        for address in ("/shop", "/pair", "/pair/certificate"):
            page.goto(app.address + address)
            assert not serious(page)
            for width, height in (*SIZES.values(), (390, 844)):
                page.set_viewport_size({"width": width, "height": height})
                wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
                assert wide <= 0, f"{address} is {wide} px too wide at {width}"


def test_a_phone_has_the_job_s_pages_behind_one_button(app: Served, screens: Screens) -> None:
    """Two rows stand over a page, however the job is called; from there each page is two touches away, by keys too."""
    page = screens("phone", has_touch=True)
    job = plain_job(app, set_value(WITHOUT_TUNNELS, "name", "W" * 60)[0])
    for address in (app.address + PLAN, f"{job}/checks"):
        page.goto(address)
        tall = page.locator("#block").bounding_box()
        assert tall is not None
        assert tall["height"] <= 110, address
        opener = page.locator("#pages summary")
        expect(opener).to_be_visible()
        expect(page.locator("nav a:visible")).to_have_count(0)
        opener.tap()
        ways = page.locator("#pages nav a")
        expect(ways).to_have_count(13)
        for words, wide, high in boxes_of(page, "#block a, #block summary"):
            assert high >= 47.5, (words, high)
            assert wide >= 47.5, (words, wide)
        assert not serious(page)
        page.keyboard.press("Escape")
        expect(ways.first).to_be_hidden()
        expect(opener).to_be_focused()
    opener.tap()
    page.touchscreen.tap(200, 780)
    expect(ways.first).to_be_hidden()
    opener.tap()
    go(page, "#pages a:has-text('Heights')")
    expect(page.locator("#pages summary b")).to_have_text("Heights")
    plain = screens("phone", java_script_enabled=False)
    plain.goto(f"{job}/parts")
    plain.click("#pages summary")
    plain.click("#pages a:has-text('Neck')")
    expect(plain.locator("h1")).to_have_text("Neck")


@pytest.mark.parametrize("name", ["x" * 300, "\u202e" + "turned round " * 22])
def test_a_name_of_any_length_breaks_no_page(app: Served, screens: Screens, name: str) -> None:
    """A file may say anything for a name: the job is listed, and its pages say what is wrong, none wider than the screen."""
    text = set_value(WITHOUT_TUNNELS, "name", name)[0]
    job = plain_job(app, text)
    page = screens("phone")
    for address in (
        app.address,
        "/records",
        f"{job}/parts",
        f"{job}/history",
        f"{job}/copy",
        f"{job}/rename",
    ):
        page.goto(address if address.startswith("http") else app.address + address)
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0, f"{address} is {wide} px too wide"
        assert "\u202e" not in page.locator("#page").inner_text()
    page.goto(f"{job}/history")
    tall = page.locator("#block").bounding_box()
    assert tall is not None
    assert tall["height"] <= 110
    expect(page.locator(".state")).to_contain_text("cannot be read")


def test_the_numbers_that_decide_are_large(app: Served, screens: Screens) -> None:
    page = screens("tablet")
    page.goto(f"{app.address}{PLAN}?at=string-hole-3")
    sizes = page.evaluate(
        "[...document.querySelectorAll('tr.main .n')].map(e => parseFloat(getComputedStyle(e).fontSize))"
    )
    assert sizes
    assert min(sizes) >= 28
    assert page.evaluate("parseFloat(getComputedStyle(document.body).fontSize)") >= 18


def test_everything_comes_from_the_app_itself(app: Served, screens: Screens) -> None:
    page = screens()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(app.address + PLAN)
    page.wait_for_load_state()
    expect(page.locator("#drawing .over")).to_be_attached()
    assert len(asked) > 4
    assert [url for url in asked if not url.startswith(app.address)] == []


@pytest.mark.parametrize("view", ["front", "back"])
def test_no_number_on_the_plan_covers_another(app: Served, screens: Screens, view: str) -> None:
    """As the browser sets them: the ink of two numbers, balloon or not, shares no point."""
    page = screens("tablet")
    page.goto(f"{app.address}{PLAN}?view={view}")
    told: list[tuple[str, list[float]]] = page.evaluate(
        """() => [...document.querySelectorAll('#drawing text')].map(e => {
             const r = e.getBoundingClientRect();
             return [e.textContent, [r.left, r.top, r.right, r.bottom]];
           })"""
    )
    numbers = [(words, box) for words, box in told if len(words) < 4]
    assert len(numbers) > 12
    assert ({"T1", "T2"} <= {words for words, _ in numbers}) == (view == "front")
    for n, (words, (left, top, right, bottom)) in enumerate(numbers):
        for other, box in numbers[n + 1 :]:
            high = (bottom - top) * 0.3  # a line's box is taller than its capitals
            apart = right < box[0] or box[2] < left or bottom - high < box[1] or box[3] - high < top
            assert apart, (words, other)
    rings: list[tuple[float, float, float]] = page.evaluate(
        """() => [...document.querySelectorAll('#drawing circle')].map(e => e.getBoundingClientRect()).filter(
             r => r.width > 20).map(r => [r.x + r.width / 2, r.y + r.height / 2, r.width / 2])"""
    )
    assert rings
    for m, (x, y, radius) in enumerate(rings):
        for u, v, wide in rings[m + 1 :]:
            assert (x - u) ** 2 + (y - v) ** 2 >= (radius + wide) ** 2, (x, y)
