"""Measuring in the app: readings of the neck's line by touch, three choices, readings asked about, named and struck through."""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from ..conftest import DEMO
from ..neck_read import true_readings
from .conftest import Screens, Served, ask, plain_job, serious


def keep(page: Page, what: str, reading: str) -> None:
    """Type one reading and keep it."""
    page.fill(f"#r-{what}", reading)
    page.click(f"#m-{what} button")


def test_a_neck_off_its_line_by_touch(app: Served, screens: Screens) -> None:
    """One story: six readings, one of them wrong; what moves; another choice; struck through; the neck moved."""
    job = plain_job(app)
    page = screens("tablet")
    page.goto(f"{job}/measure")
    expect(page.locator("#record")).to_contain_text("Nothing is measured yet")
    expect(page.locator(".where svg")).to_be_visible()
    lettered = page.locator(".reading .letter").all_inner_texts()
    assert lettered == list("ABCDEFGH")[: len(lettered)]
    assert len(lettered) >= 6
    assert not serious(page)
    readings = true_readings(DEMO, 0.8, 0.3)
    readings["neck-bass-at-12th"] += 1.3
    for no, (what, mm) in enumerate(readings.items(), start=1):
        keep(page, what, f"{mm:.2f}")
        expect(page.locator(f"#e-{no}")).to_contain_text(what)
    main = page.locator("main")
    expect(main).to_contain_text(
        "no. 4 of the record (neck-bass-at-12th) disagrees with the five others by 1."
    )
    expect(main).to_contain_text(re.compile("0.(79|80) mm to the treble at the pocket's end wall"))
    expect(page.locator("#w-bridge + .drawing svg")).to_be_visible()
    expect(main).to_contain_text("What the measurements move")
    assert not serious(page)
    # Another choice is one touch, and an edit like any other.
    page.click("article[aria-labelledby='w-neck'] button")
    expect(page.locator("article[aria-labelledby='w-neck']")).to_contain_text("PLANNED SO")
    page.click("article[aria-labelledby='w-bridge'] button")
    expect(page.locator("article[aria-labelledby='w-bridge']")).to_contain_text("PLANNED SO")
    # What was wrong is struck through with a reason, and stays.
    page.click("summary:has-text('Strike no. 4 through')")
    page.click("button[aria-label^='Strike through no. 4']")
    expect(page.locator("#record .error")).to_contain_text("say why")
    page.fill("#why-4", "read from the wrong edge")
    page.click("button[aria-label^='Strike through no. 4']")
    expect(page.locator("#record")).to_contain_text("Read from the wrong edge")
    expect(main).not_to_contain_text("disagrees with the")
    # A neck that was moved is read anew.
    page.click("button:has-text('The neck was moved')")
    expect(page.locator("#move-h")).to_have_count(0)
    assert page.locator("#record .tag").count() == 6
    for width, height in ((390, 844), (810, 1080)):
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert not serious(page)


def test_what_cannot_be_kept_stands_beside_its_field(app: Served, screens: Screens) -> None:
    job = plain_job(app)
    page = screens("tablet")
    page.goto(f"{job}/measure")
    for reading, words in (
        ("1.748", "was it read in inches?"),
        ("9" * 100, "not kept"),
        ("abc", "abc"),
        ("", "not kept"),
    ):
        keep(page, "body-thickness", reading)
        expect(page.locator("#m-body-thickness .error")).to_contain_text(words)
        expect(page.locator("#r-body-thickness")).to_have_value(reading)
    keep(page, "body-thickness", "90")
    page.click("#m-body-thickness button:has-text('It is right, keep it')")
    expect(page.locator("#e-1")).to_contain_text("90.00 mm")
    expect(page.locator("#m-body-thickness")).to_contain_text("Measured 90.00 mm")


def test_measurements_by_the_programs_door(app: Served) -> None:
    """Kept, listed, asked about, struck through once; of what does not exist refused."""
    job, base = plain_job(app), "/measurements"
    given = {"what": "nut-to-12th", "value_mm": 320.04, "with_what": "rule", "note": "cold"}
    status, made = ask(job, "POST", base, given)
    assert (status, made["no"], made["value_mm"]) == (201, 1, 320.04)
    assert ask(job, "POST", base, {**given, "value_mm": 12.6})[0] == 422
    assert ask(job, "POST", base, {**given, "what": "neck-treble-at-moon"})[0] == 422
    assert ask(job, "POST", base, {**given, "value_mm": 12.6, "sure": True})[0] == 201
    assert ask(job, "POST", f"{base}/2/strike", {"why": "read in inches"})[0] == 204
    assert ask(job, "POST", f"{base}/2/strike", {"why": "read in inches"})[0] == 422
    assert ask(job, "POST", f"{base}/7/strike", {"why": "read in inches"})[0] == 422
    _, kept = ask(job, "GET", base)
    assert [(each["value_mm"], each["struck"]) for each in kept] == [(320.04, ""), (12.6, "read in inches")]


def test_a_bridge_that_was_moved_is_read_anew(app: Served, screens: Screens) -> None:
    """What was read to the bridge and over it counts no more; what has nothing to do with it does."""
    job, page = plain_job(app), screens("tablet")
    page.goto(f"{job}/measure")
    moved = page.get_by_role("button", name="The bridge was moved")
    expect(moved).to_have_count(0)
    read = {"margin-treble": 3.4, "margin-bass": 4.7, "12th-to-plate": 309.6, "nut-to-12th": 320.05}
    for no, (what, mm) in enumerate(read.items(), start=1):
        keep(page, what, f"{mm:.2f}")
        expect(page.locator(f"#e-{no}")).to_contain_text(what)
    expect(page.locator("main")).to_contain_text("too far to the treble")
    moved.click()
    expect(page.locator("#record .tag")).to_have_count(3)
    expect(page.locator("main")).not_to_contain_text("too far to the treble")
    _, kept = ask(job, "GET", "/measurements")
    assert {each["what"] for each in kept if not each["struck"]} == {"nut-to-12th"}
    assert {each["struck"] for each in kept} == {"", "the bridge was moved since"}
    assert not serious(page)
