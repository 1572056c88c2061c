"""Finished instruments in the app: recorded by touch, doubted aloud, struck through and never erased, told in every plan."""

from __future__ import annotations

import json
import re
from pathlib import Path

from playwright.sync_api import Page, expect

from .conftest import Screens, Served, answered, plain_job, serious

FITS = ("1.3", "2.2", "3.6", "2.6", "3.2", "4.5")
FROM_THE_BASS = FITS[::-1]


def type_in(page: Page, saddles: tuple[str, ...], **others: str) -> None:
    for n, each in enumerate(saddles, start=1):
        page.fill(f"#s-{n}", each)
    for name, each in others.items():
        page.fill(f"#f-{name}", each)
    page.click("button:has-text('Keep this record')")


def test_records_by_touch(app: Served, screens: Screens) -> None:
    """One story: a first record, one from the bass, a slip in the units, another screen, striking through, the plan's words."""
    job = plain_job(app)
    number = job.rsplit("/", 1)[1]
    page = screens("tablet")
    page.goto(f"{app.address}/records")
    expect(page.locator("main")).to_contain_text("None yet")
    assert not serious(page)
    page.click(f"a[href='/records/new/{number}']")
    expect(page.locator("#h-1")).to_contain_text("the plan expects 1.2")
    assert not serious(page)
    # Typed in inches: queried beside, what was typed stays.
    type_in(page, (".05", ".09", ".14", ".1", ".13", ".18"), by="Ada", serial="1")
    expect(page.locator("main")).to_contain_text("were they measured in inches?")
    expect(page.locator("#s-1")).to_have_value(".05")
    expect(page.locator("#f-by")).to_have_value("Ada")
    type_in(page, (*FITS[:5], "x"))
    expect(page.locator("#h-6")).to_contain_text("annot read")
    page.evaluate("document.querySelector('#f-on').type = 'text'")
    type_in(page, FITS, on="2999-01-01")
    expect(page.locator("#h-on")).to_contain_text("is not yet")
    today = page.evaluate("new Date().toLocaleDateString('sv')")
    page.evaluate("document.querySelector('#f-on').type = 'text'")
    type_in(page, FITS, on=today)
    expect(page.locator("#no-1")).to_contain_text("Set up by Ada")
    expect(page.locator("#no-1 .tag")).to_have_text("COUNTS")
    # The second is noted from the bass.
    page.goto(f"{app.address}/records/new/{number}")
    expect(page.locator("#hands option")).to_have_attribute("value", "Ada")
    type_in(page, FROM_THE_BASS, serial="2")
    expect(page.locator("#no-2 .tag")).to_have_text("DOUBTED")
    expect(page.locator("#no-2")).to_contain_text("It would fit if it was noted from the bass")
    expect(page.locator("#learnt-h + p")).to_contain_text("2 finished instruments, 1 of them doubted")
    assert not serious(page)
    for width, height in ((390, 844), (810, 1080)):
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    # A job that learns from them, by one touch, says so on its page of strings and in its checks.
    page.goto(f"{job}/strings")
    page.click("text=Let this job learn from your finished instruments")
    expect(page.locator("main a[href='/records']")).to_have_text("2 finished instruments, 1 of them doubted")
    expect(page.locator("text=Let this job learn")).to_have_count(0)
    page.goto(f"{job}/checks")
    expect(page.locator("main")).to_contain_text("rest on 2 finished instruments, 1 of them doubted")
    # Struck through: no reason, no stroke; a page that another screen overtook strikes nothing.
    page.goto(f"{app.address}/records")
    late = screens("desk")
    late.goto(f"{app.address}/records")
    page.click("#no-2 button")
    expect(page.locator("#wrong")).to_contain_text("Say why, in a few words")
    page.fill("#why-2", "noted from the bass")
    page.click("#no-2 button")
    expect(page.locator("#no-2 .tag")).to_have_text("STRUCK THROUGH")
    expect(page.locator("#no-2 h3 s")).to_contain_text("2")
    expect(page.locator("#no-2 td s")).to_have_count(6)
    expect(page.locator("#learnt-h + p")).to_contain_text("rest on 1 finished instrument.")
    late.fill("#why-1", "not this one")
    late.click("#no-1 button")
    expect(late.locator("#wrong")).to_contain_text("Somebody changed the records meanwhile")
    expect(late.locator("#why-1")).to_have_value("not this one")
    page.click("#no-2 button:has-text('Let it count again')")
    expect(page.locator("#no-2 .tag")).to_have_text("DOUBTED")
    assert kept_beside(app.folder)
    # The JSON side takes no day to come either.
    text = answered(f"{app.address}/api/calibrations", "GET")[1]["text"]
    told = {"text": text.replace(f"measured_on = {today}", "measured_on = 2999-01-01")}
    status, refusal = answered(f"{app.address}/api/calibrations", "PUT", told)
    assert status == 422
    assert "2999-01-01 is not yet" in json.dumps(refusal)


def kept_beside(folder: Path) -> bool:
    """What was learnt lies in the data folder and beside what the job names."""
    places = [folder / "records.learnt", *folder.glob("beside/*/records.toml.learnt")]
    return len(places) > 1 and all("scribeline_learnt" in json.loads(each.read_text()) for each in places)


def test_saddles_typed_for_other_strings_are_not_kept(app: Served, screens: Screens) -> None:
    """The form of a job whose strings changed meanwhile, as from another job: said, and nothing is lost."""
    job = plain_job(app)
    number = job.rsplit("/", 1)[1]
    page = screens("desk")
    page.goto(f"{app.address}/records/new/{number}")
    page.evaluate("document.querySelector('[name=notes]').value = 'G2 D2 A1 E1'")
    type_in(page, FITS)
    expect(page.locator("main")).to_contain_text("are not those that the saddles were typed for")
    expect(page.locator("#s-6")).to_have_value("4.5")
    type_in(page, FITS, serial=f"of job {number}")
    expect(page.locator("#list article").first).to_contain_text(re.compile(rf"of job {number}"))
