"""The page of the neck: what is made here is drawn, listed and led to; what is not says how to have it planned."""

from __future__ import annotations

from playwright.sync_api import expect

from scribeline.scenario import examples

from .conftest import Screens, Served, plain_job, serious


def test_the_neck_that_is_made_here_has_its_page(app: Served, screens: Screens) -> None:
    job = plain_job(app, examples()["angled-head"].text)
    page = screens("tablet")
    page.goto(f"{job}/neck")
    expect(page.locator("h2")).to_have_text(
        ["Fingerboard", "Nut", "Head", "Back, at the 1st and the 12th fret", "From the side", "Its steps"]
    )
    # Hole M1 stands 42 mm from the nut, as the job states; its string breaks by 14.1° and runs straight.
    row = page.locator("tbody tr").first
    expect(row).to_contain_text("42.00")
    expect(row).to_contain_text("14.1°")
    expect(row).to_contain_text("0.0°")
    assert "ull size" not in page.inner_text("main")
    assert not serious(page)
    page.click("a:has-text('Drill the tuner holes')")
    expect(page.locator("h1")).to_contain_text("Drill the tuner holes")


def test_a_neck_that_is_bought_says_how_to_make_one(app: Served, screens: Screens) -> None:
    job = plain_job(app, examples()["two-studs"].text)
    page = screens("tablet")
    page.goto(f"{job}/neck")
    expect(page.locator("main")).to_contain_text("The neck is bought, or made elsewhere")
    page.click("section:has-text('Not made here') a:has-text('Head')")
    expect(page.locator("h1")).to_contain_text("head")
