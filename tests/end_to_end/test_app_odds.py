"""The odds in the app: tried when asked for, told at a glance, the same as the command's, and what to measure next."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from scribeline.cli import main
from scribeline.odds.words import percent

from ..conftest import WITHOUT_TUNNELS
from .conftest import Screens, Served, plain_job, serious


def test_the_odds_by_touch(
    app: Served, screens: Screens, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Asked for, worked out while the page says how far it is, and the chance is the one that the command tells."""
    job = plain_job(app)
    page = screens("tablet")
    page.goto(f"{job}/odds")
    expect(page.locator("main")).to_contain_text("A million builds are tried")
    assert not serious(page)
    page.click("button:has-text('Try the builds')")
    expect(page.locator("dl.deciding")).to_contain_text("everything keeps its limits")
    expect(page.locator(".bars svg")).to_be_visible()
    expect(page.locator("#next-h + .big")).to_be_visible()
    assert not serious(page)
    chosen = page.locator("#next-h + .big").inner_text()
    shown = page.locator("dl.deciding b").first.inner_text()
    path = tmp_path / "job.toml"
    path.write_text(WITHOUT_TUNNELS)
    assert main(["odds", str(path), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert shown == percent(told["chance"])
    page.goto(f"{job}/measure")
    expect(page.locator("#next-h + .big")).to_have_text(chosen)
    for width, height in ((390, 844), (1024, 768)):
        page.set_viewport_size({"width": width, "height": height})
        page.goto(f"{job}/odds")
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert not serious(page)


def test_an_instrument_without_a_bridge_has_no_odds(app: Served, screens: Screens) -> None:
    text = re.sub(r"(?m)^saddle_back = .*", "saddle_back = 10.0", WITHOUT_TUNNELS)
    job = plain_job(app, text)
    page = screens("tablet")
    page.goto(f"{job}/odds")
    expect(page.locator("main")).to_contain_text("The bridge has no place yet")
