"""Cavities and holes added, copied, moved, renamed and taken out by touch on a tablet, each taken back like any edit."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import expect

from .conftest import Screens, Served, plain_job, serious

if TYPE_CHECKING:
    from playwright.sync_api import Page


@pytest.fixture
def page(app: Served, screens: Screens) -> Page:
    """A tablet on the list of parts of a job of the test's own."""
    made = screens("tablet", has_touch=True)
    made.goto(f"{plain_job(app)}/parts")
    return made


def names(page: Page, table: str) -> list[str]:
    """What the job file calls the tables of a list."""
    job = page.url.split("/parts")[0]
    stated: dict[str, Any] = tomllib.loads(page.request.get(f"{job}/job.toml").text())
    return [each["name"] for each in stated[table]]


def press(page: Page, words: str) -> None:
    page.locator(f"main button:text-is('{words}'), main a.button:text-is('{words}')").first.tap()


def saved(page: Page, number: int) -> None:
    expect(page.locator("#saved")).to_have_text(f"no. {number}")


def fill(page: Page, table: str, typed: dict[str, str]) -> None:
    for key, words in typed.items():
        page.fill(f"#i-{table}-{key}", words)


CAVITIES = ["bridge pickup", "neck pickup", "control cavity"]


def test_a_cavity_by_touch(page: Page) -> None:
    press(page, "Cavity")
    expect(page.locator("h1")).to_have_text("New: cavity")
    assert not serious(page)
    fill(page, "pockets-4", {"name": "neck pickup", "depth": "90", "corner-radius": "4"})
    press(page, "Keep it")
    expect(page.locator("#f-pockets-4-depth .error")).to_contain_text("it should lie between")
    expect(page.locator("#i-pockets-4-name")).to_have_value("neck pickup")
    fill(page, "pockets-4", {"depth": "20", "centre": "560, -70", "size": "30, 50"})
    press(page, "Keep it")
    expect(page.locator("#f-pockets-4-name .error")).to_contain_text("cannot be told apart")
    saved(page, 1)
    fill(page, "pockets-4", {"name": "battery box"})
    press(page, "Keep it")
    saved(page, 2)
    expect(page.locator("h1")).to_have_text("Cavity: battery box")
    assert names(page, "pockets") == [*CAVITIES, "battery box"]
    press(page, "Move up")
    saved(page, 3)
    assert names(page, "pockets") == ["bridge pickup", "neck pickup", "battery box", "control cavity"]
    expect(page).to_have_url(page.url.replace("pocket-4", "pocket-3"))
    press(page, "Undo the last edit")
    saved(page, 4)
    assert names(page, "pockets") == [*CAVITIES, "battery box"]
    page.goto(page.url.rpartition("/")[0] + "/pocket-4")
    page.fill("#i-pockets-4-name", "spring box")
    page.press("#i-pockets-4-name", "Enter")
    saved(page, 5)
    expect(page.locator("h1")).to_have_text("Cavity: spring box")
    press(page, "Remove")
    saved(page, 6)
    expect(page.locator("h1")).to_have_text("Parts")
    assert names(page, "pockets") == CAVITIES
    press(page, "Undo the last edit")
    saved(page, 7)
    assert names(page, "pockets") == [*CAVITIES, "spring box"]


def test_a_cavity_typed_in_and_taken_out_at_once(page: Page) -> None:
    """The field sends what was typed, twice at that: for its change and for Enter. What is pressed next waits for both."""
    page.goto(f"{page.url}/pocket-2")
    page.fill("#i-pockets-2-name", "spare pickup")
    page.press("#i-pockets-2-name", "Enter")
    press(page, "Remove")
    expect(page.locator("h1")).to_have_text("Parts")
    assert names(page, "pockets") == [CAVITIES[0], CAVITIES[2]]


def test_a_cavity_that_others_name_stays(page: Page) -> None:
    page.goto(f"{page.url}/pocket-3")
    press(page, "Remove")
    expect(page.locator("#wrong")).to_contain_text("control cavity")
    saved(page, 1)
    assert names(page, "pockets") == CAVITIES


def test_a_hole_by_touch(page: Page) -> None:
    first, second = "bridge pickup ring screws", "neck pickup ring screws"
    page.goto(f"{page.url}/hole-1")
    press(page, "Copy")
    saved(page, 2)
    expect(page.locator("h1")).to_have_text(f"Hole: {first} 2")
    assert names(page, "holes") == [first, second, f"{first} 2"]
    press(page, "Undo the last edit")
    saved(page, 3)
    expect(page.locator("h1")).to_have_text("Parts")
    assert names(page, "holes") == [first, second]
    press(page, "Hole")
    page.tap("text=in steps")
    expect(page.locator("#i-holes-3-steps-1-diameter")).to_be_visible()
    page.tap("text=right through")
    expect(page.locator("#i-holes-3-steps-1-diameter")).to_have_count(0)
    fill(page, "holes-3", {"name": "string guide", "at": "600, 60", "diameter": "3"})
    press(page, "Keep it")
    saved(page, 4)
    # Another way to state it swaps the fields, and what went with the old one goes.
    page.tap("text=to a depth")
    fill(page, "holes-3", {"diameter": "4", "depth": "12"})
    press(page, "Keep it")
    saved(page, 5)
    stated = tomllib.loads(page.request.get(page.url.split("/parts")[0] + "/job.toml").text())["holes"][2]
    assert stated == {"name": "string guide", "at": [600, 60], "diameter": 4, "depth": 12}
    press(page, "Move up")
    saved(page, 6)
    press(page, "Remove")
    saved(page, 7)
    assert names(page, "holes") == [first, second]


def test_a_hole_that_is_drilled_keeps_its_place_in_the_list(page: Page) -> None:
    job = page.url.removesuffix("/parts")
    steps = page.request.get(job.replace("/jobs/", "/api/jobs/") + "/steps").json()
    card = next(each["id"] for each in steps if "ring-screws" in each["id"])
    ticked = page.request.put(job.replace("/jobs/", "/api/jobs/") + f"/ticks/{card}", data={"revision": 1})
    assert ticked.ok, ticked.text()
    page.goto(f"{job}/parts/hole-1")
    press(page, "Remove")
    expect(page.locator("#wrong")).to_contain_text("cut already")
    saved(page, 1)


def test_what_a_cavity_opens_into_is_touched(page: Page) -> None:
    page.goto(f"{page.url}/pocket-1")
    page.tap("summary:has-text('opens into')")
    page.tap("#f-pockets-1-opens-into button:text-is('neck pickup')")
    saved(page, 2)
    pressed = page.locator("#f-pockets-1-opens-into button[aria-pressed=true]")
    expect(pressed).to_have_text(["neck pickup"])
    pressed.tap()
    saved(page, 3)
    expect(page.locator("#f-pockets-1-opens-into button[aria-pressed=true]")).to_have_count(0)


def test_rows_are_typed_one_a_line(page: Page) -> None:
    page.goto(f"{page.url}/hole-1")
    page.fill("#i-holes-1-places", "-66, -40\n-66, 4O")
    page.locator("h1").tap()
    expect(page.locator("#f-holes-1-places .error")).to_contain_text("4O")
    page.fill("#i-holes-1-places", "-66, -40\n-66, 40")
    page.locator("h1").tap()
    saved(page, 2)
    job = page.url.split("/parts")[0]
    assert tomllib.loads(page.request.get(f"{job}/job.toml").text())["holes"][0]["places"] == [
        [-66, -40],
        [-66, 40],
    ]
