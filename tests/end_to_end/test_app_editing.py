"""Editing in the shop app: the plan answers at once, what changed says what it was, nothing typed is lost."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from .conftest import Screens, Served, demo_job, serious

SCENARIO = Path(__file__).parents[2] / "src" / "scribeline" / "scenario"


@pytest.fixture
def job(app: Served) -> str:
    """Address of a demo job of the test's own."""
    return demo_job(app)


def box(page: Page, key: str) -> str:
    """Selector of a field's input."""
    return f"#i-{key.replace('.', '-').replace('_', '-')}"


def write(page: Page, key: str, words: str) -> None:
    page.fill(box(page, key), words)
    page.press(box(page, key), "Tab")


def test_an_edit_moves_the_drawing_and_says_what_was(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/plan")
    before = page.inner_html("#drawing")
    write(page, "bridge.saddle_forward", "8.0")
    expect(page.locator("#saved")).to_have_text("no. 2")
    assert page.inner_html("#drawing") != before
    changed = page.inner_text("#changed")
    # The plate's aim moves half as far as the window's one end does: (9.2 - 8.0) / 2 = 0.60 mm, by hand.
    assert "310.75 mm" in changed
    assert "was 310.15 mm" in changed
    assert not serious(page)
    page.reload()
    expect(page.locator("#changed")).to_contain_text("was")
    page.click("#changed button:has-text('Seen')")
    expect(page.locator("#changed")).to_have_count(0)


@pytest.mark.parametrize("words", ["5/16", "7,94 mm", "7.94 +/- 0.05", '0.3125"', "10.6 mm +/- 0.05"])
def test_any_shop_length_is_taken_and_kept_as_typed(job: str, screens: Screens, words: str) -> None:
    page = screens()
    page.goto(f"{job}/parts/ferrules")
    write(page, "ferrules.body_length", words if words != "5/16" else "5/16 in")
    expect(page.locator("#saved")).to_have_text("no. 2")
    page.reload()
    expect(page.locator(box(page, "ferrules.body_length"))).to_have_value(
        words if words != "5/16" else "5/16 in"
    )


def test_a_fault_stands_beside_its_field_with_what_was_typed(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/parts/bridge")
    write(page, "bridge.spacing", "1O.6")
    field = page.locator("#f-bridge-spacing")
    expect(field.locator(".error")).to_contain_text("1O.6")
    expect(page.locator(box(page, "bridge.spacing"))).to_have_value("1O.6")
    expect(page.locator("#saved")).to_have_text("no. 1")
    assert not serious(page)
    write(page, "bridge.spacing", "10.5")
    expect(page.locator("#saved")).to_have_text("no. 2")
    expect(page.locator("#f-bridge-spacing .error")).to_have_count(0)


def test_a_pocket_is_renamed_with_all_that_names_it(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/parts/pocket-3")
    name = page.locator("input[id$='name']").first
    expect(name).to_have_value("control cavity")
    before = page.request.get(f"{job}/job.toml").text()
    name.fill("bridge pickup")
    name.press("Tab")
    expect(page.locator(".error").first).to_contain_text("cannot be told apart")
    expect(page.locator("#saved")).to_have_text("no. 1")
    name.fill("rear box")
    name.press("Tab")
    # One revision: the jack, three controls and a tunnel lead into it.
    expect(page.locator("#saved")).to_have_text("no. 2")
    text = page.request.get(f"{job}/job.toml").text()
    assert text == before.replace('"control cavity"', '"rear box"')
    assert text.count('"rear box"') == 6


def test_a_pocket_that_is_cut_keeps_its_name(job: str, screens: Screens) -> None:
    """The record of what was cut goes by it: under another name the pocket would be cut twice."""
    page = screens()
    ticks = job.replace("/jobs/", "/api/jobs/") + "/ticks/rout-bridge-pickup"
    assert page.request.put(ticks, data={"revision": 1}).ok
    page.goto(f"{job}/parts/pocket-2")
    name = page.locator("input[id$='name']").first
    expect(name).to_have_value("neck pickup")
    name.fill("front pickup")
    name.press("Tab")
    expect(page.locator(".error").first).to_contain_text("cut already")
    expect(page.locator("#saved")).to_have_text("no. 1")


def test_comments_of_the_job_file_survive_an_edit(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/parts/scale")
    write(page, "nut.edge", "3.4")
    expect(page.locator("#saved")).to_have_text("no. 2")
    text = page.request.get(f"{job}/job.toml").text()
    assert "edge = 3.4                       # nut's edge to the outer string's outer side" in text


def test_a_hole_is_touched_on_the_drawing_and_reached_by_keyboard(
    app: Served, job: str, screens: Screens
) -> None:
    page = screens("tablet", has_touch=True)
    page.goto(f"{job}/plan")
    asked: list[str] = []
    page.on("request", lambda request: asked.extend(re.findall(r"[?&]at=([\w-]+)", request.url)))
    mark = page.locator("#drawing circle[data-ref='string-hole-5']").first
    where = mark.bounding_box()
    assert where is not None
    page.touchscreen.tap(where["x"] + where["width"] / 2, where["y"] + where["height"] / 2)
    expect(page.locator("#picked-h")).to_contain_text("S5")
    ring = page.locator("#drawing circle[data-ref='jack']").first.bounding_box()
    assert ring is not None
    page.touchscreen.tap(ring["x"] + ring["width"] / 2, ring["y"] + ring["height"] / 2)
    expect(page.locator("#picked-h")).to_contain_text("jack")
    page.focus("a[data-cut='bridge-screw-2']")
    page.keyboard.press("Enter")
    expect(page.locator("#picked-h")).to_contain_text("B2")
    assert asked == ["string-hole-5", "jack", "bridge-screw-2"]  # one question a touch
    # Where one was is where one comes back to, the touched hole included.
    page.goto(app.address)
    page.click("a.whole >> nth=0")
    expect(page.locator("#picked-h")).to_contain_text("B2")


def deaf(page: Page) -> None:
    """Keep a page as it is: what is sent from it is made from the job as it was before others changed it."""
    page.evaluate(
        """() => { const ask = window.fetch;
        window.fetch = (what, how) => (how?.headers?.Fresh ? new Promise(() => {}) : ask(what, how)); }"""
    )


def test_two_screens_at_once_lose_nothing(job: str, screens: Screens) -> None:
    one, two = screens(), screens("tablet")
    one.goto(f"{job}/parts/bridge")
    two.goto(f"{job}/parts/bridge")
    deaf(two)
    write(one, "bridge.spacing", "10.5")
    expect(one.locator("#saved")).to_have_text("no. 2")
    write(two, "bridge.spacing", "10.4")
    expect(two.locator("h1")).to_have_text("Two edits at once")
    table = two.inner_text("table")
    assert "10.6" in table
    assert "10.5" in table
    assert "10.4" in table
    assert not serious(two)
    assert "10.5" in one.request.get(f"{job}/job.toml").text()
    two.reload()
    assert two.inner_text("table") == table  # neither edit is lost by loading the page anew
    two.click("text=Keep yours")
    expect(two.locator("#saved")).to_have_text("no. 3")
    expect(two.locator(box(two, "bridge.spacing"))).to_have_value("10.4")


def test_two_screens_on_different_fields_meet_no_conflict(job: str, screens: Screens) -> None:
    one, two = screens(), screens("tablet")
    one.goto(f"{job}/parts/bridge")
    two.goto(f"{job}/plan")
    deaf(two)
    write(one, "bridge.plate_width", "80.4")
    expect(one.locator("#saved")).to_have_text("no. 2")
    write(two, "bridge.spacing", "10.4")
    expect(two.locator("#saved")).to_have_text("no. 3")
    expect(two.locator("#changed")).to_contain_text("no. 1")
    text = one.request.get(f"{job}/job.toml").text()
    assert "spacing = 10.4" in text
    assert "plate_width = 80.4" in text
    assert not screens.said


def test_an_open_page_shows_what_another_screen_changes(job: str, screens: Screens) -> None:
    one, two = screens(), screens("tablet")
    two.goto(f"{job}/plan?at=string-hole-1")
    one.goto(f"{job}/parts/bridge")
    write(one, "bridge.spacing", "10.5")
    # With what it was, and without a touch.
    expect(two.locator("#saved")).to_have_text("no. 2")
    expect(two.locator(".numbers .was").first).to_be_visible()
    # What is being typed there stays, and is not sent by itself.
    two.goto(f"{job}/parts/new?of=pockets")
    typed = two.locator("main input[type=text], main input:not([type])").first
    typed.fill("my own")
    write(one, "bridge.spacing", "10.4")
    expect(one.locator("#saved")).to_have_text("no. 3")
    expect(two.locator("#elsewhere")).to_contain_text("changed elsewhere")
    expect(typed).to_have_value("my own")
    two.get_by_role("button", name="Show it as it is now").click()
    expect(two.locator("#saved")).to_have_text("no. 3")
    assert not screens.said


def test_quick_edits_of_one_screen_are_all_kept(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/parts/bridge")
    for key, words in (("plate_length", "44.2"), ("plate_width", "80.7"), ("plate_thickness", "2.4")):
        page.fill(box(page, f"bridge.{key}"), words)
    page.press(box(page, "bridge.plate_thickness"), "Tab")
    expect(page.locator("#saved")).to_have_text("no. 4")
    text = page.request.get(f"{job}/job.toml").text()
    for line in ("plate_length = 44.2", "plate_width = 80.7", "plate_thickness = 2.4"):
        assert line in text


def test_a_server_killed_mid_edit_loses_nothing(app: Served, job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/parts/bridge")
    write(page, "bridge.spacing", "10.5")
    expect(page.locator("#saved")).to_have_text("no. 2")
    app.kill()
    write(page, "bridge.plate_width", "80.9")
    expect(page.locator("#waiting")).to_be_visible()
    expect(page.locator(box(page, "bridge.plate_width"))).to_have_value("80.9")
    app.start()
    expect(page.locator("#saved")).to_have_text("no. 3")
    expect(page.locator("#waiting")).to_be_hidden()
    text = page.request.get(f"{job}/job.toml").text()
    assert "spacing = 10.5" in text
    assert "plate_width = 80.9" in text


def test_words_typed_before_a_reload_are_still_there(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/parts/bridge")
    page.locator(box(page, "bridge.spacing")).press_sequentially("77")
    typed = page.input_value(box(page, "bridge.spacing"))
    page.evaluate("location.reload()")
    expect(page.locator("#f-bridge-spacing .unkept")).to_be_visible()
    expect(page.locator(box(page, "bridge.spacing"))).to_have_value(typed)
    page.click("#f-bridge-spacing .drop")
    expect(page.locator(box(page, "bridge.spacing"))).to_have_value("10.6")


def hold_scripts(page: Page) -> Callable[[], None]:
    """The page's scripts stay away, as over a weak network, until what is returned is called."""
    held: list[Route] = []
    late = True

    def come(script: Route) -> None:
        if late:
            held.append(script)
        else:
            script.continue_()

    def release() -> None:
        nonlocal late
        late = False
        for script in held:
            script.continue_()

    page.route("**/*.js", come)
    return release


def test_words_typed_before_the_page_is_ready_are_kept(job: str, screens: Screens) -> None:
    """The scripts come late, as over a weak network; the field is left before any of them can hear of it."""
    page = screens()
    release = hold_scripts(page)
    page.goto(f"{job}/plan", wait_until="commit")
    page.wait_for_selector(box(page, "bridge.saddle_forward"))
    write(page, "bridge.saddle_forward", "8.0")
    expect(page.locator("#saved")).to_have_text("no. 1")
    release()
    expect(page.locator("#saved")).to_have_text("no. 2")
    assert "310.75 mm" in page.inner_text("#changed")


def test_words_being_typed_while_the_page_becomes_ready_outlast_it(job: str, screens: Screens) -> None:
    """The scripts come late and find one still typing; the page is then loaded anew."""
    page = screens()
    release = hold_scripts(page)
    page.goto(f"{job}/parts/bridge", wait_until="commit")
    page.fill(box(page, "bridge.spacing"), "77")
    expect(page.locator(box(page, "bridge.spacing"))).to_be_focused()
    release()
    page.wait_for_load_state()
    page.evaluate("location.reload()")
    expect(page.locator("#f-bridge-spacing .unkept")).to_be_visible()
    expect(page.locator(box(page, "bridge.spacing"))).to_have_value("77")


def test_a_cure_is_tried_before_it_is_kept(app: Served, screens: Screens) -> None:
    page = screens("tablet")
    page.goto(f"{app.address}/start")
    page.set_input_files("#file", SCENARIO / "marram-too-thin.toml")
    expect(page.locator(".state")).to_contain_text("1 DO NOT CUT")
    page.click(".state")
    page.click("a:has-text('Try')")
    tried = page.locator("#tried")
    # 38.5 mm deep in 38.2 mm of wood; with 34.2 mm the 4 mm of floor that are wanted are left.
    expect(tried).to_contain_text("34.20 mm was 38.50 mm")
    expect(tried).to_contain_text("4.00 mm was -0.30 mm")
    expect(tried).to_contain_text("No DO NOT CUT would be left. Nothing is kept yet.")
    expect(page.locator("#saved")).to_have_text("no. 1")
    assert not serious(page)
    page.click("text=Keep it")
    expect(page.locator(".state")).to_contain_text("OK")
    expect(page.locator("#saved")).to_have_text("no. 2")


def test_an_edit_is_taken_back(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/plan")
    write(page, "body.thickness", "43.9 +/- 0.1")
    expect(page.locator("#saved")).to_have_text("no. 2")
    page.click("text=Undo the last edit")
    expect(page.locator(box(page, "body.thickness"))).to_have_value("44.4 +/- 0.1")
    page.goto(f"{job}/history")
    page.click("text=Make it again")
    expect(page.locator("ol.list")).to_contain_text("redo")
    page.goto(f"{job}/plan")
    expect(page.locator(box(page, "body.thickness"))).to_have_value("43.9 +/- 0.1")


def test_an_outline_of_ones_own_is_read_in(job: str, screens: Screens, tmp_path: Path) -> None:
    # A box 400 mm long and 300 mm wide, drawn with the neck to the left and its middle at y = 150.
    drawing = tmp_path / "box.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="300mm" viewBox="0 0 400 300">'
        '<path d="M0 0H400V300H0Z" fill="none" stroke="black"/></svg>'
    )
    page = screens("tablet")
    page.goto(f"{job}/parts/body")
    page.click("text=Another outline")
    assert not serious(page)
    page.set_input_files("#file", drawing)
    page.fill("#centre", "1000")
    page.fill("#tail", "780")
    page.click("text=Read it in")
    expect(page.locator(".error").first).to_be_visible()
    expect(page.locator("#tail")).to_have_value("780")
    page.set_input_files("#file", drawing)
    page.fill("#centre", "150")
    page.click("text=Read it in")
    expect(page.locator("#saved")).to_have_text("no. 2")
    page.goto(f"{job}/checks")
    expect(page.locator("main")).to_contain_text(
        "The outline from box.svg is 400.0 mm long and 300.0 mm wide"
    )
    page.goto(f"{job}/outline")
    page.click("button:has-text('pebble')")
    expect(page.locator("#saved")).to_have_text("no. 3")
    assert 'shape = "pebble"' in page.request.get(f"{job}/job.toml").text()


def test_everything_can_be_done_without_a_pointer(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/plan")
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#main")).to_be_focused()
    page.focus("#drawing")
    whole = page.get_attribute("#drawing svg", "viewBox")
    page.keyboard.press("+")
    page.keyboard.press("ArrowRight")
    near = page.get_attribute("#drawing svg", "viewBox")
    assert near != whole
    page.reload()  # where one was is where one comes back to
    page.wait_for_function(
        "box => document.querySelector('#drawing svg').getAttribute('viewBox') === box", arg=near
    )
    page.focus("#drawing")
    page.keyboard.press("0")
    page.wait_for_function(
        "box => document.querySelector('#drawing svg').getAttribute('viewBox') === box", arg=whole
    )
    page.focus(box(page, "body.thickness"))
    page.keyboard.press("Control+A")
    page.keyboard.type("44.1 +/- 0.1")
    page.keyboard.press("Enter")
    expect(page.locator("#saved")).to_have_text("no. 2")
    expect(page.locator(box(page, "body.thickness"))).to_be_focused()


def test_the_light_is_chosen_once(app: Served, job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/plan")
    page.check("input[value=dark]")
    paper = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    page.goto(app.address)
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == paper
    expect(page.locator("input[value=dark]")).to_be_checked()
