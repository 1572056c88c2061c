"""Stops at the press: a gate that no longer passes, a step that cannot be begun, going on against a stop.

Two devices at once, a tablet that lies and is touched at the press and a desk in the office; the server is stopped and
started in between.
"""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from .conftest import Screens, Served, ask, go, plain_job, serious

BEFORE_THE_CAVITY = (
    "check-neck",
    "check-body",
    "check-press",
    "rout-neck-pocket",
    "drill-neck-screws",
    "fit-neck",
    "pilot-heel",
    "rout-control-cavity-cover-recess",
)


@pytest.fixture
def job(app: Served) -> str:
    """Address of a job of the test's own."""
    return plain_job(app)


DONE_LATE = """async path => (await fetch(path, {
  method: "POST", headers: {"Content-Type": "application/x-www-form-urlencoded"}, body: "revision=1",
})).status"""


def state_thickness(office: Page, job: str, thickness: str, number: int) -> None:
    office.goto(f"{job}/parts/body")
    office.fill("#i-body-thickness", thickness)
    office.press("#i-body-thickness", "Tab")
    expect(office.locator("#saved")).to_have_text(f"no. {number}")


def done(job: str) -> set[str]:
    return {step["id"] for step in ask(job, "GET", "/steps")[1] if step["state"] == "done"}


def test_a_gate_that_no_longer_passes_opens_its_step_again(job: str, app: Served, screens: Screens) -> None:
    bench, office = screens("tablet across", has_touch=True), screens()
    for card in ("check-neck", "check-press", "rout-neck-pocket"):
        assert ask(job, "PUT", f"/ticks/{card}", {"revision": 1})[0] == 200
    bench.goto(f"{job}/steps/check-body")
    bench.fill("#reading", "44.40")
    go(bench, "text=Keep the reading")
    go(bench, ".bar button")
    assert done(job) == {"check-neck", "check-body", "check-press", "rout-neck-pocket"}
    bench.goto(f"{job}/steps/drill-neck-screws")
    expect(bench.locator(".gate button[value=yes]")).to_be_visible()
    # The office finds the blank to be thicker than it was read.
    state_thickness(office, job, "45.2 +/- 0.1", 2)
    bench.reload()
    expect(bench.locator(".not-yet")).to_contain_text("Check the blank's thickness")
    expect(bench.locator(".bar button")).to_have_count(0)
    app.kill()
    app.start()
    bench.goto(f"{job}/steps")
    again = bench.locator(".list.steps > li", has_text="Check the blank's thickness")
    expect(again).to_contain_text("open again")
    assert done(job) == {"check-neck", "check-press", "rout-neck-pocket"}  # what is done stays done
    office.goto(f"{job}/checks")
    stop = office.locator(".finding.stop", has_text="is open again")
    expect(stop).to_contain_text("44.40 mm was read")
    expect(stop).to_contain_text("now wants 45.20 mm")
    expect(stop.locator(".cure")).to_contain_text("Measure it again")
    office.goto(f"{job}/sheets")
    expect(office.locator("#main")).to_contain_text("Nothing is printed until this is fixed")
    # It goes on there by itself; the press accepts it for these limits, and for no others.
    go(bench, "a.huge:has-text('Go on with step')")
    expect(bench.locator("[role=alert]")).to_contain_text("its gate no longer passes")
    expect(bench.locator(".verdict")).to_contain_text("read 44.40")
    assert not serious(bench)
    bench.tap("summary:has-text('own risk')")
    bench.fill("#risk", "the thin corner is sawn off later")
    go(bench, "button:has-text('Go on at my own risk')")
    expect(bench.locator(".verdict")).to_contain_text("AT YOUR OWN RISK")
    assert "check-body" in done(job)
    state_thickness(office, job, "45.6 +/- 0.1", 3)
    assert "check-body" not in done(job)
    # Read again it passes, and is done as it was; every reading is kept.
    bench.reload()
    bench.fill("#reading", "45.6")
    go(bench, "text=Keep the reading")
    expect(bench.locator(".tag.done").first).to_have_text("DONE")
    kept = [row for row in ask(job, "GET", "/readings")[1] if row["card"] == "check-body"]
    assert [row["value_mm"] for row in kept] == [44.4, 44.4, 45.6]
    assert [row["low"] for row in kept] == [None, pytest.approx(45.1), None]
    bench.goto(f"{job}/steps/drill-neck-screws")
    expect(bench.locator(".not-yet")).to_have_count(0)
    assert not screens.said


def test_a_step_cannot_be_begun_while_a_stop_is_about_its_cut(
    job: str, app: Served, screens: Screens
) -> None:
    bench, office = screens("tablet across", has_touch=True), screens()
    for card in BEFORE_THE_CAVITY:
        assert ask(job, "PUT", f"/ticks/{card}", {"revision": 1})[0] == 200
    bench.goto(f"{job}/steps/rout-control-cavity")
    bench.fill("#reading", "38.5")
    go(bench, "text=Keep the reading")
    expect(bench.locator(".bar button")).to_have_text("Done")
    # The cavity is 38.5 mm deep; the office makes the body 39 mm thick. The press hears of it, and a Done of before it
    # heard is not taken.
    state_thickness(office, job, "39 +/- 0.2", 2)
    expect(bench.locator(".held")).to_be_visible()
    assert bench.evaluate(DONE_LATE, f"{job}/steps/rout-control-cavity/done") == 422
    assert "rout-control-cavity" not in done(job)
    stop = bench.locator(".held")
    expect(stop).to_contain_text("0.50 mm of wood remains under")
    expect(stop).to_contain_text("Do not begin this step")
    for hidden in (".figures", ".pane .drawing", ".where", ".gate", ".bar button"):
        expect(bench.locator(hidden)).to_have_count(0)
    expect(bench.locator(".bar")).to_contain_text("DO NOT CUT")
    assert not serious(bench)
    # Not by the JSON side either, by the revision before or by this one; a made cut's stop keeps nothing.
    for number in (1, 2):
        status, told = ask(job, "PUT", "/ticks/rout-control-cavity", {"revision": number})
        assert status == 422
        assert "0.50 mm of wood remains under" in told["detail"]
    assert ask(job, "PUT", "/ticks/drill-neck-screws", {"revision": 2})[0] == 200
    # The server goes and comes back: the stop stands.
    app.kill()
    app.start()
    bench.reload()
    bench.tap("summary:has-text('Cut all the same')")
    expect(bench.locator(".may-happen")).to_contain_text("bursts under the cutter")
    bench.fill("input[name=reason]", "x" * 8)
    bench.check("input[name=sure]")
    mark = bench.input_value("input[name=stop]")
    office.goto(f"{job}/parts/body")
    state_thickness(office, job, "38.9 +/- 0.2", 3)
    # The page hears of it: what was typed stays, what was read must be read again.
    expect(bench.locator(".held")).to_contain_text("0.40 mm of wood remains under")
    expect(bench.locator("input[name=reason]")).to_have_value("x" * 8)
    expect(bench.locator("input[name=sure]")).not_to_be_checked()
    # One that did not hear, and answers the stop as it was, is not taken.
    bench.evaluate("mark => { document.querySelector('input[name=stop]').value = mark; }", mark)
    bench.check("input[name=sure]")
    bench.tap("button:has-text('Cut all the same')")
    expect(bench.locator("[role=alert]")).to_contain_text("says something else by now")
    expect(bench.locator(".held")).to_contain_text("0.40 mm of wood remains under")
    bench.fill("input[name=reason]", "a plate is glued under it first")
    bench.check("input[name=sure]")
    go(bench, "button:has-text('Cut all the same')")
    gone = bench.locator(".gone")
    expect(gone).to_contain_text("cut all the same")
    expect(gone).to_contain_text("a plate is glued under it first")
    expect(bench.locator(".figures")).to_contain_text("38.50")
    assert not serious(bench)
    # It is kept: in the history, in the exported file, and the office may print again.
    app.kill()
    app.start()
    office.goto(f"{job}/history")
    expect(office.locator("li", has_text="cut all the same")).to_contain_text(
        "a plate is glued under it first"
    )
    office.goto(f"{job}/sheets")
    expect(office.locator("#main")).not_to_contain_text("Nothing is printed")
    (kept,) = ask(job, "GET", "/overrides")[1]
    assert (kept["code"], kept["value"]) == ("wood.thin-floor", pytest.approx(0.4))
    # A little more wood is no worse; a little less is another stop, and the press may not go on.
    state_thickness(office, job, "39 +/- 0.2", 4)
    bench.reload()
    expect(bench.locator(".gone")).to_have_count(1)
    state_thickness(office, job, "38.8 +/- 0.2", 5)
    bench.reload()
    expect(bench.locator(".held")).to_contain_text("so that no longer holds")
    expect(bench.locator(".bar button")).to_have_count(0)
    state_thickness(office, job, "39 +/- 0.2", 6)
    bench.reload()
    go(bench, ".bar button")
    assert "rout-control-cavity" in done(job)
    # Cut, it keeps nothing from being begun, and its card still says why it was.
    bench.goto(f"{job}/steps/rout-control-cavity")
    expect(bench.locator(".gone")).to_have_count(1)
    expect(bench.locator(".held")).to_have_count(0)
    bench.tap("summary:has-text('Do not cut after all')")
    go(bench, "text=Take that back")
    expect(bench.locator(".gone")).to_have_count(0)
    office.goto(f"{job}/history")
    expect(office.locator("li", has_text="cut all the same")).to_contain_text("taken back by")
    asked_for = "409", "422"  # what was refused
    assert [words for words in screens.said if not any(each in words for each in asked_for)] == []


def test_holes_drilled_before_a_stop_came_are_kept_where_they_are(job: str, screens: Screens) -> None:
    """They could not be called drilled before the stop was cured, and a cure that moved them would have moved the plan."""
    bench, office = screens("tablet across", has_touch=True), screens()
    order = [step["id"] for step in ask(job, "GET", "/steps")[1]]
    own = "drill-control-cavity-cover-screws"
    for step in order[: order.index(own)]:
        assert ask(job, "PUT", f"/ticks/{step}", {"revision": 1})[0] == 200
    bench.goto(f"{job}/steps/{own}")
    for number in (2, 3):
        go(bench, ".bar >> text=Next hole")
        expect(bench.locator(".hole")).to_contain_text(f"hole {number} of 5")
    expect(bench.locator("html")).to_have_attribute("data-hears", "yes")
    screws = {"key": "pockets[3].cover_screws.length", "value": "60", "based_on": 1, "why": "longer screws"}
    assert ask(job, "POST", "/values", screws)[0] == 201
    expect(bench.locator(".held").first).to_contain_text("Do not begin this step")
    go(bench, "text=Is some of it drilled already?")
    assert not serious(bench)
    # The third was on the screen and not drilled yet.
    expect(bench.locator("fieldset.card")).to_have_count(3)
    expect(bench.locator("fieldset.card").first).to_contain_text("11.50 mm")
    for number, answer in enumerate((0, 0, 1)):
        bench.locator("fieldset.card").nth(number).locator("label").nth(answer).tap()
    go(bench, "text=Keep what is drilled")
    # Three holes are left, and as they are to be otherwise now they are a step of their own.
    expect(bench.locator(".held").first).to_be_visible()
    (tick,) = [each for each in ask(job, "GET", "/ticks")[1] if each["card"] == own]
    assert [(cut["id"], cut["steps"][0]["depth"]) for cut in tick["cuts"]] == [
        ("cover-screw-1", pytest.approx(11.5)),
        ("cover-screw-2", pytest.approx(11.5)),
    ]
    assert [step["state"] for step in ask(job, "GET", "/steps")[1] if own in step["id"]] == ["done", "waits"]
    # Cured otherwise than before: the rest goes by the new number, the two stay.
    cured = screws | {"value": "14.8", "based_on": 2}
    assert ask(job, "POST", "/values", cured)[0] == 201
    expect(bench.locator(".held")).to_have_count(0)
    expect(bench.locator(".hole")).to_contain_text("hole 1 of 3")
    expect(bench.locator(".hole b")).to_have_text("V3")
    expect(bench.locator(".figures")).to_contain_text("14.30")
    office.goto(f"{job}/plan?at=cover-screw-1")
    expect(office.locator("#main")).to_contain_text("11.50 mm")
    assert not [words for words in screens.said if "422" not in words]
