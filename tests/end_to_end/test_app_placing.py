"""Cuts moved on the drawing of the plan: by a finger, by the keyboard, by a typed number; checks and dimensions on it."""

from __future__ import annotations

import re
import urllib.parse
import urllib.request
from math import hypot
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from scribeline.job import parse_job
from scribeline.scenario import demo_jobs

from .conftest import Screens, Served, ask, plain_job, serious

if TYPE_CHECKING:
    from playwright.sync_api import Page


@pytest.fixture
def job(app: Served) -> str:
    return plain_job(app)


def stated(job: str):  # type: ignore[no-untyped-def]
    """The job as it is kept now."""
    _, now = ask(job, "GET", "")
    return parse_job(now["text"]).job.document


def drag(page: Page, of: str, right: float, down: float, *, through: tuple[float, float] = (9, 9)) -> None:
    """A mark of the drawing, taken in hand and put down so far off, px."""
    box = page.locator(f"#drawing svg:not(.over) circle[data-ref='{of}']").first.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + through[0], y + through[1], steps=3)
    page.mouse.move(x + right, y + down, steps=3)


def test_a_hole_is_dragged_and_comes_to_rest_in_line(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/plan?at=control-1")
    # Its place is drawn from its datum, in the numbers of the panel beside it.
    expect(page.locator(".over text").first).to_contain_text("170.00 mm from")
    expect(page.locator(".numbers")).to_contain_text("170.00 mm")
    drag(page, "control-1", 30, 25)
    expect(page.locator(".moving")).to_contain_text("of wood to")
    there = page.locator(".moving").inner_text()
    page.mouse.up()
    expect(page.locator("#saved")).to_have_text("no. 2")
    along, across = stated(job).controls[0].centre
    assert (along, across) != (638.0, 94.0)
    assert f"{along:.1f} mm from the nut" in there
    assert f"{across:.1f} mm to the treble" in there
    expect(page.locator(".numbers .was").first).to_contain_text("318.00 mm")
    # Put down beside the line of a hole of its family, it lies on it.
    other = page.locator("#drawing circle[data-ref='control-2']").first.bounding_box()
    own = page.locator("#drawing svg:not(.over) circle[data-ref='control-1']").first.bounding_box()
    assert other is not None
    assert own is not None
    drag(page, "control-1", 3, other["y"] - own["y"] + 4)
    expect(page.locator(".moving")).to_contain_text(re.compile("in line with .*C2"))
    page.mouse.up()
    expect(page.locator("#saved")).to_have_text("no. 3")
    assert stated(job).controls[0].centre[1] == stated(job).controls[1].centre[1]
    assert not screens.said


def test_a_cavity_takes_its_own_along_unless_told_not_to(job: str, screens: Screens) -> None:
    page = screens("tablet across", has_touch=True)
    page.goto(f"{job}/plan?at=bridge-pickup")
    before = stated(job)
    expect(page.get_by_label("bridge pickup ring screws")).to_be_checked()
    page.fill("#move-across", "1.5")
    page.get_by_role("button", name="Move it there").click()
    expect(page.locator("#saved")).to_have_text("no. 2")
    now = stated(job)
    assert now.pockets[0].centre == (-42.0, 1.5)
    assert [y for _, y in now.holes[0].places] == [y + 1.5 for _, y in before.holes[0].places]
    page.get_by_label("bridge pickup ring screws").uncheck()
    page.fill("#move-across", "0")
    page.get_by_role("button", name="Move it there").click()
    expect(page.locator("#saved")).to_have_text("no. 3")
    assert stated(job).pockets[0].centre == (-42.0, 0.0)
    assert stated(job).holes[0].places == now.holes[0].places
    # Undone as any edit is.
    page.get_by_role("button", name="Undo the last edit").click()
    expect(page.locator("#saved")).to_have_text("no. 4")
    assert stated(job).pockets[0].centre == (-42.0, 1.5)
    assert not serious(page)
    assert not screens.said


def test_the_keyboard_moves_keeps_and_puts_back(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/plan?at=hole-2")
    page.focus("#drawing")
    for _ in range(3):
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Shift+ArrowDown")
    expect(page.locator(".moving")).to_contain_text("39.5 mm to the treble")
    page.keyboard.press("Escape")
    expect(page.locator(".moving")).to_have_count(0)
    expect(page.locator("#saved")).to_have_text("no. 1")
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    expect(page.locator("#saved")).to_have_text("no. 2")
    assert stated(job).holes[0].places[1] == (-65.5, 40.0)
    assert not screens.said


def post(job: str, **fields: str) -> tuple[int, str]:
    data = urllib.parse.urlencode(fields).encode()
    try:
        with urllib.request.urlopen(urllib.request.Request(f"{job}/move", data)) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code, refused.read().decode()


def test_what_cannot_be_moved_says_why_and_stays(job: str) -> None:
    asked = {"of": "control-1", "along": "640", "across": "94", "based_on": "1"}
    for key, wrong, words in (
        ("along", "here", "cannot read"),
        ("across", "6,5, 8", ""),
        ("along", "9" * 5000, ""),
        ("across", "", ""),
        ("across", "1e9", ""),
    ):
        status, page = post(job, **{**asked, key: wrong})
        assert status == 422, wrong
        assert "not moved" in page
        assert words in page
    for of in ("bridge-screw-1", "tunnel-9", "no such"):
        status, page = post(job, **{**asked, "of": of})
        assert (status, "Not moved" in page) == (422, True)
    _, now = ask(job, "GET", "")
    assert now["number"] == 1


def test_a_drilled_hole_cannot_be_dragged_or_typed_away(app: Served, screens: Screens) -> None:
    job = plain_job(app)
    status, plan = ask(job, "GET", "/plan")
    assert status == 200
    card = next(each for each in plan["steps"] if "control-1" in str(each))
    status, _ = ask(job, "PUT", f"/ticks/{card['id']}", {"revision": 1})
    assert status in {200, 201}, card
    page = screens()
    page.goto(f"{job}/plan?at=control-1")
    expect(page.locator("#picked-h")).to_contain_text("C1")
    expect(page.locator("#move")).to_have_count(0)
    status, words = post(job, of="control-1", along="640", across="94", based_on="1")
    assert (status, "is cut already" in words) == (422, True)


def test_a_stop_stands_where_it_is_and_lettering_keeps_its_size(app: Served, screens: Screens) -> None:
    job = plain_job(app, demo_jobs()["marram-too-thin.toml"])
    page = screens("tablet", has_touch=True)
    page.goto(f"{job}/plan")
    tag = page.locator(".at-place.stop").first
    expect(tag).to_have_attribute("aria-label", re.compile("control cavity"))
    where = tag.bounding_box()
    assert where is not None
    assert min(where["width"], where["height"]) >= 48
    tag.click()
    expect(page.locator("#picked-h")).to_contain_text("control cavity")
    # At every zoom no lettering that shows is under 11 px high, nor are lines drawn thicker for being near.
    for _ in range(3):
        sizes = page.evaluate(
            """() => [...document.querySelectorAll("#drawing svg:not(.over) text")]
                .filter((t) => getComputedStyle(t).visibility !== "hidden")
                .map((t) => [Number.parseFloat(t.getAttribute("font-size")), t.getScreenCTM()])
                .map(([size, to]) => size * Math.hypot(to.a, to.b))"""
        )
        assert sizes
        assert min(sizes) >= 11
        assert max(sizes) <= 17.5
        page.get_by_role("button", name="Closer").click()
    assert not serious(page)
    assert not screens.said


def test_two_things_are_measured_from_each_other(job: str, screens: Screens) -> None:
    page = screens("tablet", has_touch=True)
    page.goto(f"{job}/plan?at=control-1")
    page.get_by_text("Measure from C1 to another cut").tap()
    expect(page.locator("#apart-h")).to_have_text("Measure from C1")
    page.locator("a[data-cut='control-2']").tap()
    expect(page.locator("#apart-h")).to_have_text("From C1 to C2")
    # From (638, 94) to (698, 86), by Pythagoras; both holes are 10 mm wide.
    table = page.locator("section", has=page.locator("#apart-h")).locator("table").inner_text()
    straight = hypot(60, 8)
    for mm in (straight, 60.0, 8.0, straight - 10.0):
        assert f"{mm:.2f} mm" in table
    expect(page.locator(".over text").first).to_have_text(f"{straight:.2f} mm")
    page.locator("a[data-cut='bridge-pickup']").tap()
    expect(page.locator("#apart-h")).to_have_text("From C1 to bridge pickup")
    page.get_by_text("Stop measuring").tap()
    expect(page.locator("#apart-h")).to_have_count(0)
    assert not serious(page)
    assert not screens.said


def test_a_cut_is_found_by_its_letter_or_name(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/plan")
    page.get_by_label("Find a cut").fill("neck p")
    expect(page.locator(".chips li:visible")).to_have_count(2)
    page.get_by_label("Find a cut").fill("c3")
    page.keyboard.press("Enter")
    expect(page.locator("#picked-h")).to_contain_text("C3")
