"""A part of the parts book taken while something is added, and a measured one put into it: the next job has it."""

from __future__ import annotations

import tomllib
from typing import Any

from playwright.sync_api import Page, expect
from tests.conftest import WITHOUT_TUNNELS

from scribeline.job import parts_book, set_value

from .conftest import Screens, Served, ask, plain_job, serious


def stated(job: str, page: Page) -> dict[str, Any]:
    return tomllib.loads(page.request.get(f"{job}/job.toml").text())


def press(page: Page, words: str) -> None:
    page.locator(f"main button:text-is('{words}'), main a.button:text-is('{words}')").first.tap()


def take(page: Page, name: str) -> None:
    page.locator(".shelf a", has=page.locator("b", has_text=name)).first.tap()
    expect(page.locator(".shelf a[aria-current]")).to_contain_text(name)


def codes(job: str) -> set[str]:
    return {each["code"] for each in ask(job, "GET", "/findings")[1]}


def test_a_typical_pot_fills_the_form_and_is_a_caution_until_it_is_measured(
    app: Served, screens: Screens
) -> None:
    job = plain_job(app)
    page = screens("tablet", has_touch=True)
    page.goto(f"{job}/parts")
    press(page, "Control")
    page.fill("#i-controls-4-name", "blend")
    page.fill("#i-controls-4-centre", "640, 96")
    page.select_option("#i-controls-4-into", "control cavity")
    take(page, "pot, small")
    # What was typed stays; the sizes are there, each said to be typical, those too that the form does not need.
    expect(page.locator("#i-controls-4-name")).to_have_value("blend")
    book = parts_book()["control"]["pot, small"]
    for key, words in book.items():
        assert "typical" in words
        expect(page.locator(f"#i-controls-4-{key.replace('_', '-')}")).to_have_value(words)
    assert not serious(page)
    press(page, "Keep it")
    expect(page.locator("h1")).to_have_text("Control: blend")
    control = stated(job, page)["controls"][3]
    assert {key: control[key] for key in book} == book
    assert control["name"] == "blend"
    assert "typical.control-4" in codes(job)
    page.goto(f"{job}/checks")
    expect(page.locator(".finding", has_text="blend: 5 typical numbers")).to_be_visible()


def test_a_measured_part_is_put_into_the_book_and_taken_in_another_job(app: Served, screens: Screens) -> None:
    page = screens("tablet", has_touch=True)
    first = plain_job(app)
    page.goto(f"{first}/parts/new?of=controls")
    for key, words in {
        "name": "blend",
        "centre": "640, 96",
        "hole": "9.8 +/- 0.05",
        "thread-length": "9.1 +/- 0.1",
        "nut-and-washers": "3.7 +/- 0.1",
    }.items():
        page.fill(f"#i-controls-4-{key}", words)
    page.select_option("#i-controls-4-into", "control cavity")
    page.fill("#put-in", "our long pot")
    press(page, "Keep it")
    expect(page.locator("h1")).to_have_text("Control: blend")
    (kept,) = page.request.get(f"{app.address}/api/parts?shelf=control").json()
    assert kept["name"] == "our long pot"
    assert {key: (each["value"], each["plus_minus"]) for key, each in kept["dimensions"].items()} == {
        "hole": (9.8, 0.05),
        "thread_length": (9.1, 0.1),
        "nut_and_washers": (3.7, 0.1),
    }

    other = plain_job(app, set_value(WITHOUT_TUNNELS, "name", "Thrift")[0])
    page.goto(f"{other}/parts/new?of=controls")
    expect(page.locator(".shelf a").first).to_contain_text("the shop's, measured by")
    take(page, "our long pot")
    page.fill("#i-controls-4-name", "blend")
    page.fill("#i-controls-4-centre", "640, 96")
    page.select_option("#i-controls-4-into", "control cavity")
    press(page, "Keep it")
    expect(page.locator("h1")).to_have_text("Control: blend")
    assert "typical.control-4" not in codes(other)

    # A part that nobody measured does not go into it, and nothing that was typed is lost.
    page.goto(f"{other}/parts/new?of=controls")
    take(page, "pot, small")
    page.fill("#i-controls-5-name", "third")
    page.fill("#i-controls-5-centre", "690, 100")
    page.select_option("#i-controls-5-into", "control cavity")
    page.fill("#put-in", "guessed")
    press(page, "Keep it")
    expect(page.locator("#wrong")).to_contain_text("Nothing of it was measured")
    expect(page.locator("#i-controls-5-name")).to_have_value("third")
    expect(page.locator("#put-in")).to_have_value("guessed")
    # Nor does one under a name that cannot be kept.
    page.fill("#i-controls-5-hole", "9.8 +/- 0.05")
    page.evaluate("document.getElementById('put-in').removeAttribute('maxlength')")
    page.fill("#put-in", "x" * 70)
    press(page, "Keep it")
    expect(page.locator("#wrong")).to_contain_text("60 is the most")
    assert len(stated(other, page)["controls"]) == 4
    assert len(page.request.get(f"{app.address}/api/parts?shelf=control").json()) == 1
    assert not [each for each in screens.said if "422" not in each]


def test_a_pickup_a_jack_and_a_strap_button_of_the_book(app: Served, screens: Screens) -> None:
    """Where a number has no ± of its own the job says that nobody measured the part; that is a caution until it is taken out."""
    text = "\n".join(line for line in WITHOUT_TUNNELS.splitlines())
    job = plain_job(app, text)
    page = screens("tablet", has_touch=True)
    page.goto(f"{job}/parts/new?of=pockets")
    take(page, "pickup, one row of poles")
    page.fill("#i-pockets-4-name", "middle pickup")
    page.select_option("#i-pockets-4-x-from", "scale line")
    page.fill("#i-pockets-4-centre", "-92, 0")
    press(page, "Keep it")
    expect(page.locator("h1")).to_have_text("Cavity: middle pickup")
    assert stated(job, page)["pockets"][3]["typical"] is True
    assert "typical.cavity-4" in codes(job)
    page.goto(f"{job}/checks")
    finding = page.locator(".finding", has_text="nobody has measured the part")
    finding.locator("text=Measure it now").tap()
    expect(page.locator("h1")).to_have_text("Cavity: middle pickup")
    page.select_option("#i-pockets-4-typical", "false")
    expect(page.locator("#saved")).to_have_text("no. 3")
    assert "typical.cavity-4" not in codes(job)

    page.goto(f"{job}/parts/new?of=strap_buttons")
    take(page, "on a wood screw")
    page.fill("#i-strap-buttons-3-name", "third")
    page.fill("#i-strap-buttons-3-near", "560, 130")
    press(page, "Keep it")
    expect(page.locator("h1")).to_have_text("Strap button: third")
    assert "typical.strap-button-3" in codes(job)

    page.goto(f"{job}/parts/jack")
    press(page, "Remove jack")
    expect(page.locator("h1")).to_have_text("Parts")
    press(page, "Jack")
    take(page, "on an edge plate")
    page.fill("#i-jack-near", "708, 150")
    page.select_option("#i-jack-into", "control cavity")
    press(page, "Keep it")
    expect(page.locator("h1")).to_have_text("Jack")
    assert "typical.jack" in codes(job)
    assert not screens.said
