"""Sheets, strings and the body in the browser: made in the background, taken away whole, stopped when asked."""

from __future__ import annotations

import io
import time
import zipfile
from pathlib import Path

import pdfplumber
import pytest
from PIL import Image
from playwright.sync_api import Page, expect
from tests.conftest import WITHOUT_TUNNELS
from tests.many_parts import with_holes

from scribeline.drawing.pack import FILES

from .conftest import Screens, Served, demo_job, plain_job, serious


@pytest.fixture
def job(app: Served) -> str:
    """Address of a demo job of the test's own."""
    return demo_job(app)


def fetched(page: Page, words: str) -> bytes:
    with page.expect_download() as waiting:
        page.click(f"a.whole:has-text('{words}')")
    return Path(waiting.value.path()).read_bytes()


def test_the_pack_is_made_in_the_background_and_taken_away(job: str, screens: Screens) -> None:
    page, other = screens("tablet"), screens()
    page.goto(f"{job}/sheets")
    page.click("text=Make the pack")
    started = time.monotonic()
    other.goto(f"{job}/checks")  # another screen is answered meanwhile
    assert time.monotonic() - started < 20
    expect(page.locator("text=is made")).to_be_visible()
    assert not serious(page)
    with pdfplumber.open(io.BytesIO(fetched(page, "Step cards"))) as pdf:
        assert "Order of work" in (pdf.pages[0].extract_text() or "")
        assert "12th" in (pdf.pages[1].extract_text() or "")
    with zipfile.ZipFile(io.BytesIO(fetched(page, "All of it"))) as whole:
        assert whole.testzip() is None
        assert set(whole.namelist()) == set(FILES)


def test_nothing_is_printed_while_a_stop_stands(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/parts/body")
    page.fill("#i-body-thickness", "30")
    page.press("#i-body-thickness", "Tab")
    expect(page.locator("#saved")).to_have_text("no. 2")
    page.goto(f"{job}/sheets")
    expect(page.locator(".finding.stop").first).to_be_visible()
    expect(page.locator("text=Make the pack")).to_have_count(0)
    answer = page.request.post(f"{job}/sheets/make", headers={"Origin": job.rsplit("/jobs", 1)[0]})
    assert answer.status == 422
    assert not serious(page)


def test_long_work_is_stopped_when_asked(app: Served, screens: Screens) -> None:
    job, page = plain_job(app, with_holes(WITHOUT_TUNNELS, 400, in_one=20)), screens()
    page.goto(f"{job}/parts/bench")
    page.fill("#i-name", "Stopped")
    page.press("#i-name", "Tab")
    expect(page.locator("#saved")).to_have_text("no. 2")
    page.goto(f"{job}/sheets")
    page.click("text=Make the pack")
    page.click("text=Stop it")
    expect(page.locator("#work")).to_contain_text("Stopped")
    page.reload()
    expect(page.locator("#work")).to_contain_text("Stopped")
    expect(page.locator("text=Make the pack")).to_be_visible()


@pytest.mark.parametrize(
    ("across", "up", "tag", "words"),
    [
        # 200 / 197.4 = 1.0132: reprint at 101.3 %, by hand.
        ("197.4", "197.4", "VOID", "101.3"),
        ("200.05", "199.95", "GOOD FOR EVERYTHING", "200"),
        ("200.2", "200.2", "SHAPES AND SINGLE GROUPS ONLY", "150"),
    ],
)
def test_the_bars_say_what_a_print_is_good_for(
    job: str, screens: Screens, across: str, up: str, tag: str, words: str
) -> None:
    page = screens("tablet")
    page.goto(f"{job}/sheets")
    page.fill("#across", across)
    page.fill("#up", up)
    page.click("text=Say what it is good for")
    expect(page.locator(".verdict")).to_contain_text(tag)
    expect(page.locator("#bars")).to_contain_text(words)
    page.reload()
    expect(page.locator(".verdict")).to_contain_text(tag)  # it stands with the job


def test_the_body_is_drawn_and_turned(job: str, screens: Screens) -> None:
    page = screens("tablet")
    page.goto(f"{job}/solid")
    page.wait_for_selector("#scene[data-drawn]")
    cuts = page.locator("button[data-cut]").count()
    assert page.get_attribute("#scene", "data-drawn") == str(cuts)

    def picture() -> Image.Image:
        page.wait_for_timeout(200)
        return Image.open(io.BytesIO(page.locator("#scene").screenshot())).convert("RGB")

    slant = picture()
    assert len(slant.getcolors(100_000) or []) > 50  # an empty canvas has one colour
    page.click("button[data-way=top]")
    front = picture()
    assert front.tobytes() != slant.tobytes()
    page.locator("button[data-cut]").first.click()
    expect(page.locator("button[data-cut]").first).to_have_attribute("aria-pressed", "true")
    assert picture().tobytes() != front.tobytes()
    page.locator("#scene").press("ArrowLeft")
    assert not serious(page)
    assert not screens.said


def test_the_strings_say_what_another_set_changes(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/strings")
    page.select_option("#to", "a lighter set")
    page.click("text=Show what changes")
    expect(page.locator("#change")).to_contain_text("The saddles have travel enough")
    expect(page.locator("#change")).to_contain_text("less relief")  # a lighter set pulls less
    assert not serious(page)
