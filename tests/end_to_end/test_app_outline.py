"""An outline drawn by handles: with fingers, with keys, typed; kept, undone, refused."""

from __future__ import annotations

import html
import json
import math
import re
import urllib.error
import urllib.parse
import urllib.request
from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import expect
from shapely import LineString, Polygon

from scribeline.job import parse_job, set_value
from scribeline.plan import plan

from ..kind_jobs import example
from .conftest import Screens, Served, ask, plain_job, serious

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

    from scribeline.job import OutlineStatement


@pytest.fixture
def job(app: Served) -> str:
    return plain_job(app)


def stated(job: str) -> OutlineStatement:
    return parse_job(ask(job, "GET", "")[1]["text"]).job.document.body.outline


def at_rest(page: Page) -> None:
    """Until the app has answered for the handles as they are."""
    expect(page.locator("#sketch:not([data-asks])")).to_be_visible()


def row(page: Page, n: int) -> list[str]:
    fields = page.locator("[data-handle]").nth(n).locator("[name=along], [name=across]")
    return [each.input_value() for each in fields.all()]


def fact(page: Page, words: str) -> str:
    return page.locator("#facts div", has=page.get_by_text(words, exact=True)).locator("dd").inner_text()


def number(told: str) -> float:
    found = re.search(r"-?\d+\.\d+", told)
    assert found, told
    return float(found[0])


def edge(page: Page) -> Polygon:
    """The edge as the drawing has it: along from the nut, across downwards."""
    path = page.locator("#sketch .edge").get_attribute("d")
    assert path is not None
    return Polygon([tuple(map(float, each.split())) for each in path.strip("MZ").split("L")])


def finger(page: Page, way: list[tuple[float, float]]) -> None:
    """One finger put down, moved and lifted, as a touch screen tells it."""
    session = page.context.new_cdp_session(page)
    kinds = ["touchStart", *["touchMove"] * (len(way) - 1)]
    for kind, (x, y) in zip(kinds, way, strict=True):
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    session.detach()


def middle(page: Page, n: int) -> tuple[float, float]:
    box = page.locator(f".handle[data-n='{n}']").bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


@pytest.mark.parametrize("size", ["tablet", "phone"])
def test_an_outline_is_drawn_with_a_finger(job: str, screens: Screens, size: str) -> None:
    page = screens(size, has_touch=True, is_mobile=True)
    page.goto(f"{job}/parts/body")
    page.get_by_role("link", name="Draw an outline", exact=True).tap()
    expect(page.locator(".handle")).to_have_count(14)
    was, before = edge(page), row(page, 5)
    assert page.get_by_label("Name of handle 6").input_value() == "lower bout, treble"
    page.locator("#sketch").scroll_into_view_if_needed()
    x, y = middle(page, 5)
    finger(page, [(x + 6, y - 5), (x + 6, y - 12), (x + 6, y - 25)])
    at_rest(page)
    after = row(page, 5)
    # It was taken hold of beside its middle, and goes as far as the finger went.
    scale = page.evaluate("document.querySelector('#sketch svg').getScreenCTM().a")
    assert float(after[0]) == pytest.approx(float(before[0]), abs=0.51)
    assert float(after[1]) - float(before[1]) == pytest.approx(20 / scale, abs=0.51)
    now = edge(page)
    assert now.area > was.area
    assert now.exterior.distance(LineString([(float(after[0]), -float(after[1]))] * 2)) < 0.02
    # The figures are those of the edge that is drawn.
    assert number(fact(page, "Length")) == pytest.approx(now.bounds[2] - now.bounds[0], abs=0.1)
    assert not serious(page)
    # Back, and there again.
    page.get_by_role("button", name="Undo").tap()
    at_rest(page)
    assert row(page, 5) == before
    expect(page.get_by_role("button", name="Undo")).to_be_disabled()
    page.get_by_role("button", name="Redo").tap()
    at_rest(page)
    assert row(page, 5) == after
    page.get_by_role("button", name="Keep it").tap()
    page.wait_for_url(re.compile("/plan"))
    kept = stated(job)
    assert kept.shape is None
    assert kept.tail is None
    assert [each.name for each in kept.handles][5] == "lower bout, treble"
    assert kept.handles[5].at == (float(after[0]), float(after[1]))
    text = ask(job, "GET", "")[1]["text"]
    outline = Polygon((p.x, -p.y) for p in plan(parse_job(text).job).layout.outline)
    assert (
        outline.symmetric_difference(now).area < 20
    )  # of a body's 90 000 mm²: the drawing's path has two decimals
    # Kept, it is what one begins with; and any edit is undone.
    page.goto(f"{job}/outline")
    expect(page.locator("main")).to_contain_text("a curve through 14 handles")
    page.goto(f"{job}/outline/draw")
    assert row(page, 5) == after
    page.goto(f"{job}/plan")
    page.get_by_role("button", name="Undo the last edit").click()
    expect(page.locator("#saved")).to_have_text("no. 3")
    assert stated(job).shape == "dune"
    assert not screens.said


@pytest.mark.parametrize("begin", ["", "dune", "oval"])
def test_an_edge_over_a_core_begins_where_the_body_does(app: Served, begin: str) -> None:
    """A neck that runs through has no pocket whose mouth it could begin at."""
    text = example("neck-through")
    job = plain_job(app, text)
    page = urllib.request.urlopen(f"{job}/outline/draw?begin={begin}", timeout=240).read().decode()
    shown = json.loads(html.unescape(re.search(r'data-shown="([^"]*)"', page)[1]))  # type: ignore[index]
    assert shown["wrong"] == ""
    edge = min(each.x for each in plan(*parse_job(text)).layout.outline)
    assert min(x for x, _ in shown["at"]) == pytest.approx(edge, abs=30.0)


def test_an_outline_is_drawn_by_the_keyboard(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/outline/draw?begin=oval")
    handle = page.get_by_role("button", name=re.compile("waist, bass: arrow"))
    handle.focus()
    n = int(handle.get_attribute("data-n") or "-1")
    x, y = map(float, row(page, n))
    assert fact(page, "Tightest hollow").startswith("none")
    for _ in range(5):
        page.keyboard.press("Shift+ArrowUp")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowLeft")
    at_rest(page)
    expect(page.locator("#sketch-says")).to_contain_text("waist, bass: ")
    assert list(map(float, row(page, n))) == [x - 2, y + 50]
    # Pulled in it is hollow there, and the cuts have less wood: both are said, and the router's bits are asked.
    assert "R " in fact(page, "Tightest hollow")
    assert "waist, bass" in fact(page, "Tightest hollow")
    assert "router bits follow it" in fact(page, "Tightest hollow")
    assert number(fact(page, "Waist")) < number(fact(page, "Lower bout"))
    comb = page.get_by_role("button", name="Bends")
    comb.press("Enter")
    expect(comb).to_have_attribute("aria-pressed", "true")
    expect(page.locator("#sketch .comb")).to_be_visible()
    # Typed in another unit; a name of one's own.
    page.get_by_label(f"Name of handle {n + 1}").fill("knee")
    page.keyboard.press("Tab")
    page.get_by_label("knee, to the treble (− to the bass)").fill("-4 in")
    page.keyboard.press("Tab")
    at_rest(page)
    spot = page.locator(f".handle[data-n='{n}']")
    expect(spot).to_have_attribute("aria-label", re.compile("knee"))
    assert edge(page).exterior.distance(LineString([(x - 2, 101.6)] * 2)) < 0.02
    # One more half-way to the next, and one less.
    spot.focus()
    page.get_by_role("button", name="Add one").press("Enter")
    at_rest(page)
    expect(page.locator(".handle")).to_have_count(12)
    page.get_by_role("button", name=f"Remove {n + 2}").press("Enter")
    at_rest(page)
    expect(page.locator(".handle")).to_have_count(11)
    assert not serious(page)
    page.get_by_role("button", name="Keep it").press("Enter")
    page.wait_for_url(re.compile("/plan"))
    kept = stated(job)
    assert kept.handles[n].name == "knee"
    assert kept.handles[n].at == pytest.approx((x - 2, -101.6))
    assert kept.neck_edge == "rounded"
    assert not screens.said


def test_a_slip_is_said_while_it_is_drawn_and_nothing_is_kept(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/outline/draw")
    was = page.locator("#sketch .edge").get_attribute("d")
    page.get_by_label("waist, treble, to the treble").fill("-300")
    page.keyboard.press("Tab")
    wrong = page.locator("#sketch-wrong")
    expect(wrong).to_contain_text("The edge crosses itself")
    # The last sound edge stays to be seen, and the handle shows where it was put.
    assert page.locator("#sketch .edge").get_attribute("d") == was
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text("not kept")).to_be_visible()
    expect(page.get_by_label("waist, treble, to the treble")).to_have_value("-300")
    assert stated(job).shape == "dune"
    assert not serious(page)
    page.get_by_label("waist, treble, to the treble").fill("9 bananas")
    page.keyboard.press("Tab")
    expect(wrong).to_contain_text('"waist, treble", to the treble: ')
    page.get_by_label("waist, treble, to the treble").fill("120")
    page.keyboard.press("Tab")
    expect(wrong).to_be_hidden()


def test_both_sides_alike_is_the_treble_side_alone(app: Served, screens: Screens) -> None:
    text = ask(plain_job(app), "GET", "")[1]["text"]
    job = plain_job(app, set_value(text, "handed", "left")[0])
    page = screens()
    page.goto(f"{job}/outline/draw?begin=mussel")
    # Of a left-handed one the treble side is below the centreline, and places are told towards it all the same.
    assert float(row(page, 1)[1]) > 0
    knob, centre = middle(page, 1), middle(page, next(n for n in range(12) if float(row(page, n)[1]) == 0))
    assert knob[1] > centre[1]
    for n in range(11, 6, -1):
        page.locator(f".handle[data-n='{n}']").focus()
        page.get_by_role("button", name=f"Remove {n + 1}").click()
    expect(page.locator(".handle")).to_have_count(7)
    at_rest(page)
    page.locator(".handle[data-n='6']").focus()
    page.get_by_role("button", name="Remove 7").click()
    expect(page.locator(".handle")).to_have_count(6)
    page.get_by_label("Both sides").select_option("yes")
    at_rest(page)
    now = edge(page)
    mirrored = Polygon([(a, -b) for a, b in now.exterior.coords])
    assert now.symmetric_difference(mirrored).area < 20
    page.get_by_role("button", name="Keep it").click()
    page.wait_for_url(re.compile("/plan"))
    kept = stated(job)
    assert kept.mirrored
    assert len(kept.handles) == 6
    # A built-in shape again: it takes the tail edge of the outline that there was.
    page.goto(f"{job}/outline")
    page.get_by_role("button", name="pebble").click()
    page.wait_for_url(re.compile("/plan"))
    again = stated(job)
    assert again.shape == "pebble"
    assert not again.handles
    assert again.tail == pytest.approx(now.bounds[2], abs=1.0)
    assert not screens.said


def test_without_scripts_it_is_a_form(job: str, screens: Screens) -> None:
    page = screens(java_script_enabled=False)
    page.goto(f"{job}/outline/draw")
    page.get_by_label("tail, middle, from the nut").fill("760")
    page.get_by_role("button", name="Keep it").click()
    page.wait_for_url(re.compile("/plan"))
    assert next(each for each in stated(job).handles if each.name == "tail, middle").at == (760.0, 0.0)


def post(address: str, **fields: Any) -> tuple[int, str]:
    data = urllib.parse.urlencode(fields, doseq=True).encode()
    try:
        with urllib.request.urlopen(urllib.request.Request(address, data)) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code, refused.read().decode()


@pytest.mark.parametrize("wrong", ["", "here", "9" * 90, "nan", "1e400", "1e9", "6,5, 8", "<b>&", "\u202e12"])
def test_odd_lengths_are_told_and_never_kept(job: str, wrong: str) -> None:
    rows = [(f"h{n}", str(600 + 150 * math.cos(n)), str(150 * math.sin(n))) for n in (0, 1, 2, 3, 4, 5)]
    name, along, across = (list(each) for each in zip(*rows, strict=True))
    whole = {"name": name, "along": along, "across": across}
    status, told = post(f"{job}/outline/draw/curve", **whole)
    assert (status, json.loads(told)["wrong"]) == (200, "")
    along = [*along[:2], wrong, *along[3:]]
    status, told = post(f"{job}/outline/draw/curve", **{**whole, "along": along})
    assert status == 200
    said = json.loads(told)
    assert '"h2", from the nut: ' in said["wrong"]
    assert "path" not in said
    status, told = post(f"{job}/outline/draw", **{**whole, "along": along, "based_on": 1})
    assert status == 422
    assert "not kept" in told
    assert ask(job, "GET", "")[1]["number"] == 1


def test_a_form_that_is_no_list_of_handles_is_turned_away(job: str) -> None:
    for fields in (
        {"name": ["a"], "along": ["1", "2"], "across": ["3"]},
        {"name": ["a" * 5000], "along": ["1"], "across": ["3"]},
        {"name": ["a"] * 500, "along": ["1"] * 500, "across": ["3"] * 500},
        {"along": ["1"]},
    ):
        assert post(f"{job}/outline/draw/curve", **fields)[0] in {400, 422}
        assert post(f"{job}/outline/draw", based_on=1, **fields)[0] in {400, 422}
    with pytest.raises(urllib.error.HTTPError, match="404"):
        urllib.request.urlopen(f"{job}/outline/draw?begin=cloud")


HEAD = """
[head]
face = "stepped"
step = 10
bass_side = [6, 5, 4, 3, 2, 1]
first_post = 38
pitch = 25.4
hole = 9
shape = "leaf"
"""


def test_a_head_is_read_out_of_a_drawing(app: Served, screens: Screens, tmp_path: Path) -> None:
    # A box 190 mm long, from the nut to the right, 35 mm to either side of y = 40; the treble is down the page.
    drawing = tmp_path / "box.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm" viewBox="0 0 200 100">'
        '<path d="M0 5H190V75H0Z" fill="none" stroke="black"/></svg>'
    )
    page = screens("tablet")
    job = plain_job(app, example("single-saddles") + HEAD)
    page.goto(f"{job}/parts/head")
    page.click("text=Its outline from your own drawing")
    expect(page.locator("#along")).to_have_value("-x")
    assert not serious(page)
    page.set_input_files("#file", drawing)
    page.select_option("#along", "+x")
    page.fill("#origin", "0, 70")
    page.click("text=Read it in")
    expect(page.locator(".error").first).to_contain_text("draw it as wide as the nut")
    expect(page.locator("#origin")).to_have_value("0, 70")
    assert ask(job, "GET", "")[1]["number"] == 1
    page.set_input_files("#file", drawing)
    page.fill("#origin", "0, 40")
    page.click("text=Read it in")
    page.wait_for_url(re.compile("/neck"))
    page.goto(f"{job}/checks")
    expect(page.locator("main")).to_contain_text(
        "outline from box.svg reaches 190.0 mm from the nut's line along its face, 35.0 mm to the treble and 35.0 mm to the bass"
    )
    page.goto(f"{job}/outline/head")
    expect(page.locator("#along")).to_have_value("+x")
    text = page.request.get(f"{job}/job.toml").text()
    assert "leaf" not in text
    # Its form does not show corners that nobody typed.
    page.goto(f"{job}/parts/head")
    expect(page.locator("#i-head-outline")).to_have_value("")
