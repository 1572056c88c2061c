"""Steps in the browser: one hole a screen, gates that say pass or not, ticks that hold what was cut."""

from __future__ import annotations

import re
import urllib.error
import urllib.parse
import urllib.request

import pytest
from playwright.sync_api import Page, expect
from tests.torture import long

from .conftest import Screens, Served, ask, go, plain_job, serious


@pytest.fixture
def job(app: Served) -> str:
    """Address of a job of the test's own."""
    return plain_job(app)


def tick(page: Page) -> None:
    """Answer a step's gate as expected, then call it done."""
    if page.locator("#reading").count():
        words = page.locator(".gate .deciding .n").first.inner_text()
        page.fill("#reading", words)
        go(page, "text=Keep the reading")
    elif page.locator(".gate button[value=yes]").count():
        go(page, ".gate button[value=yes]")
    while page.locator(".bar >> text=Next hole").count():
        go(page, ".bar >> text=Next hole")
    go(page, ".bar button")


def test_bit_depth_and_setting_stand_clear_of_the_bar_on_a_tablet_that_lies(
    job: str, screens: Screens
) -> None:
    """Of steps with the longest heads too: what a bit is set by is never under the bar at the foot of the screen."""
    page = screens("tablet across")
    page.goto(f"{job}/steps")
    links = page.locator("a[href*='/steps/drill-'], a[href*='/steps/bore-'], a[href*='/steps/counterbore-']")
    addresses = {str(link.get_attribute("href")) for link in links.all()}
    assert len(addresses) > 10
    for address in sorted(addresses):
        page.goto(f"{job.partition('/jobs/')[0]}{address}")
        bar = page.locator(".bar").bounding_box()
        assert bar
        for name in ("bit", "full depth", "depth stop", "tape"):
            for figure in page.locator(".fig", has=page.locator(f".label:text-matches('^{name}')")).all():
                box = figure.locator(".value").bounding_box()
                assert box
                assert box["y"] + box["height"] <= bar["y"], (address, name)


@pytest.mark.parametrize("size", ["tablet", *long("desk")])
def test_one_hole_a_screen_in_figures_read_from_afar(job: str, screens: Screens, size: str) -> None:
    page = screens(size)
    page.goto(f"{job}/steps/drill-string-holes")
    shown = []
    for number in range(1, 7):
        expect(page.locator(".hole b")).to_have_text(f"S{number}")
        shown.append(page.locator(".figures").inner_text())
        for value in page.locator(".fig .value").all():
            box = value.bounding_box()
            style = value.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")
            assert style >= 44
            assert box
            assert box["x"] + box["width"] <= page.viewport_size["width"]  # type: ignore[index]
        if number < 6:
            go(page, ".bar >> text=Next hole")
    # The row's spacing is 10.6 mm: the outer string holes lie 2.5 × 10.6 = 26.50 mm from the centreline.
    assert "26.50" in shown[0]
    assert "to the treble" in shown[0]
    assert "26.50" in shown[5]
    assert "to the bass" in shown[5]
    for button in page.locator(".bar .giant").all():
        box = button.bounding_box()
        assert box
        assert box["height"] >= 80
    assert not serious(page)
    assert not screens.said


def test_a_gate_says_whether_a_reading_passes(job: str, screens: Screens) -> None:
    page = screens("tablet")
    page.goto(f"{job}/steps/check-neck")
    expect(page.locator(".bar button")).to_have_count(0)  # it cannot be called done yet
    page.fill("#reading", "12 3/4")  # 323.85 mm, where 320.00 ± 0.10 is wanted
    page.click("text=Keep the reading")
    expect(page.locator(".verdict")).to_contain_text("DOES NOT PASS")
    expect(page.locator(".verdict")).to_contain_text("too much")
    expect(page.locator(".bar button")).to_have_count(0)
    page.fill("#reading", "twelve")
    page.click("text=Keep the reading")
    expect(page.locator("#wrong")).to_contain_text("twelve")
    expect(page.locator("#reading")).to_have_value("twelve")
    assert not serious(page)
    page.fill("#reading", "320,05")
    page.click("text=Keep the reading")
    expect(page.locator(".verdict")).to_contain_text("PASSES")
    page.click(".bar button")
    expect(page.locator("h1")).not_to_have_text("Check the scale on the real neck")
    page.goto(f"{job}/steps")
    expect(page.locator(".steps li.done")).to_have_count(1)
    assert not serious(page)


def test_four_readings_are_typed_where_four_are_asked(job: str, screens: Screens) -> None:
    page = screens("tablet")
    page.goto(f"{job}/steps/check-body")
    for n in range(1, 5):
        page.get_by_label(f"Place {n}", exact=True).fill("" if n == 3 else "44.4")
    page.click("text=Keep the reading")
    expect(page.locator("#wrong")).to_contain_text("4 readings are asked for; give each, or the least alone")
    expect(page.get_by_label("Place 4", exact=True)).to_have_value("44.4")
    page.get_by_label("Place 3", exact=True).fill("44.35")
    assert not serious(page)
    page.click("text=Keep the reading")
    expect(page.locator(".verdict")).to_contain_text("PASSES")
    expect(page.locator(".verdict")).to_contain_text("read 44.35 mm")
    assert not serious(page)
    kept = ask(job, "GET", "/readings")[1][-1]
    assert [each["value_mm"] for each in kept["values"]] == [44.4, 44.4, 44.35, 44.4]


def test_going_on_at_ones_own_risk_keeps_the_reason(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/steps/check-body")
    page.fill("#reading", "40")
    page.click("text=Keep the reading")
    page.click("summary:has-text('own risk')")
    page.fill("#risk", "a thin blank, for a wall piece")
    page.click("button:has-text('Go on at my own risk')")
    expect(page.locator(".verdict")).to_contain_text("AT YOUR OWN RISK")
    expect(page.locator(".verdict")).to_contain_text("for a wall piece")
    expect(page.locator(".bar button")).to_have_text("Done")


def test_what_is_drilled_stays_where_it_was_drilled(job: str, app: Served, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/steps")
    go(page, "text=Go on with step")
    for _ in range(3):
        tick(page)
    order = [step["id"] for step in ask(job, "GET", "/steps")[1]]
    for step in order[3 : order.index("drill-bridge-screws")]:
        assert ask(job, "PUT", f"/ticks/{step}", {"revision": 1})[0] == 200
    page.goto(f"{job}/steps")
    go(page, "text=Go on with step")
    expect(page.locator("h1")).to_have_text(re.compile("^Drill the bridge-screw"))
    tick(page)
    page.goto(f"{job}/steps/drill-bridge-screws")
    expect(page.locator(".tag.done").first).to_have_text("DONE")
    cut = page.locator(".figures").inner_text()
    # The power goes; the tick was acknowledged and is there.
    app.kill()
    app.start()
    page.goto(f"{job}/parts/bridge")
    page.fill("#i-bridge-saddle-forward", "8.0")  # the whole plate would move 0.6 mm towards the nut
    page.press("#i-bridge-saddle-forward", "Tab")
    expect(page.locator("#saved")).to_have_text("no. 2")
    page.goto(f"{job}/steps/drill-bridge-screws")
    assert page.locator(".figures").inner_text() == cut
    stays = page.locator("section.changed").first.inner_text()
    assert "stay where they are" in stays
    found = re.search(r"along was (\d+\.\d+) mm, now (\d+\.\d+) mm", stays)
    assert found
    assert abs(float(found[1]) - float(found[2])) == pytest.approx(0.6, abs=0.011)
    assert not serious(page)
    # The first pilot is found 0.10 mm nearer the tail: it is told there, and the plate goes with what holds it.
    along, across = (
        float(re.findall(r"\d+\.\d+", page.locator(".fig", has_text=label).inner_text())[0])
        for label in ("from the board's end", "from the centreline")
    )
    page.click("summary:has-text('is not where it was planned')")
    page.fill("#along", f"{along + 0.1:.2f}")
    page.fill("#across", "far out")
    page.click("text=Keep where it is")
    expect(page.locator("#found .error")).to_contain_text("far out")
    assert not serious(page)
    page.fill("#across", f"{across:.2f}")
    go(page, "text=Keep where it is")
    assert f"{along + 0.1:.2f}" in page.locator(".figures").inner_text()
    go(page, ".bar >> text=Next hole")
    assert f"{along:.2f}" in page.locator(".figures").inner_text()
    page.goto(f"{job}/strings")
    expect(page.locator(".deciding")).to_contain_text("its drilled pilots hold it there")
    page.goto(f"{job}/steps/drill-bridge-screws")
    # A tick is taken back only by one who is sure.
    page.click("summary:has-text('not done after all')")
    page.check("input[name=sure]")
    page.click("text=Take the tick back")
    expect(page.locator("section.changed")).to_have_count(0)
    assert page.locator(".figures").inner_text() != cut


def test_where_a_hole_is_found_is_kept_once_and_whole(job: str) -> None:
    """Two readings of one place would count as two; of a place that cannot be kept neither half is."""
    assert ask(job, "PUT", "/ticks/drill-bridge-screws", {"revision": 1})[0] == 200

    def found(along: str, once: str) -> int:
        form = {"hole": 1, "along": along, "across": "29.1", "side": "bass", "once": once}
        body = urllib.parse.urlencode(form).encode()
        try:
            return int(urllib.request.urlopen(f"{job}/steps/drill-bridge-screws/found", body, 240).status)
        except urllib.error.HTTPError as refused:
            return refused.code

    assert found("200.4", "one form") == found("200.4", "one form") == 200
    assert [each["value_mm"] for each in ask(job, "GET", "/measurements")[1]] == [200.4, 29.1]
    assert found("99999", "another") == 422
    assert len(ask(job, "GET", "/measurements")[1]) == 2


def test_a_step_opened_before_an_edit_is_not_ticked_by_its_old_numbers(job: str, screens: Screens) -> None:
    bench, office = screens("tablet"), screens()
    bench.goto(f"{job}/steps/check-body")
    bench.fill("#reading", "44.4")
    bench.click("text=Keep the reading")
    office.goto(f"{job}/parts/body")
    office.fill("#i-body-thickness", "44.5 +/- 0.2")
    office.press("#i-body-thickness", "Tab")
    expect(office.locator("#saved")).to_have_text("no. 2")
    bench.click(".bar button")
    expect(bench.locator("[role=alert]")).to_contain_text("changed after you opened this step")
    go(bench, ".bar button")
    bench.goto(f"{job}/steps/check-body")
    expect(bench.locator(".tag.done").first).to_have_text("DONE")


def test_a_hole_added_to_a_step_that_is_done_is_asked_for_alone(job: str, screens: Screens) -> None:
    """The step had stayed done, and nobody was told to drill the new hole."""
    bench = screens("tablet across", has_touch=True)
    order = [step["id"] for step in ask(job, "GET", "/steps")[1]]
    own = "drill-control-cavity-cover-screws"
    for step in order[: order.index(own) + 1]:
        assert ask(job, "PUT", f"/ticks/{step}", {"revision": 1})[0] == 200
    text = ask(job, "GET", "/revisions/1")[1]["text"]
    more = text.replace("[664, 61]]", "[664, 61], [611, 100]]")
    assert more != text
    assert ask(job, "POST", "/revisions", {"text": more, "based_on": 1})[0] == 201
    bench.goto(f"{job}/steps")
    go(bench, "a.huge:has-text('Go on with step')")
    expect(bench.locator(".hole")).to_contain_text("hole 6 of 6")
    expect(bench.locator("#r-figures")).to_contain_text("Of this step V1 to V5 are drilled already.")
    assert not serious(bench)
    go(bench, ".bar >> text=Back")
    expect(bench.locator(".hole")).to_contain_text("hole 5 of 6")
    expect(bench.locator(".hole .tag")).to_have_text("DRILLED ALREADY")
    go(bench, ".bar >> text=Next hole")
    bench.fill("#reading", bench.locator(".gate .deciding .n").first.inner_text())
    go(bench, "text=Keep the reading")
    go(bench, ".bar button")
    expect(bench.locator("h1")).not_to_contain_text("cover screws")
    (tick,) = [each for each in ask(job, "GET", "/ticks")[1] if each["card"] == own]
    assert [cut["id"] for cut in tick["cuts"]] == [f"cover-screw-{n}" for n in range(1, 7)]
    assert next(step for step in ask(job, "GET", "/steps")[1] if step["id"] == own)["state"] == "done"
    assert not screens.said
