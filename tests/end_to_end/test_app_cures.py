"""Ways out of a check: tried before they are shown, the best first. Held against the job with each kept in earnest."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect
from tests.conftest import WITHOUT_TUNNELS

from scribeline.job import Stated, set_value

from .conftest import Screens, Served, plain_job, serious
from .test_app_jobs import Desk


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    made = Desk(tmp_path)
    yield made
    made.store.close()


def cures(page: str) -> list[tuple[int, str, str, bool]]:
    """Number, words, what it says it does, and whether it is the one recommended."""
    return [
        (int(way), words.strip(), (does or "").strip(), "plain" not in how)
        for how, way, words, does in re.findall(
            r'<a class="(button[^"]*)" id="try-\d+-(\d+)".*?outerMorph">([^<]*)</a>\s*(?:<span[^>]*>([^<]*)</span>)?',
            page,
            re.S,
        )
    ]


def kept(desk: Desk, job: int, finding: int, way: int) -> list[dict[str, Any]]:
    """The findings of a copy of the job in which one way out is kept, by the button that keeps it."""
    copy = desk.make("Copy", desk.store.revision(job).text)
    page = desk.page(f"/jobs/{copy}/checks/try?finding={finding}&way={way}")
    form = re.search(r'<form method="post" action="([^"]*)" id="keep-tried".*?</form>', page, re.S)
    assert form is not None
    fields = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', form[0]))
    assert desk.ask("POST", form[1], data=fields).status_code == 303
    found: list[dict[str, Any]] = desk.ask("GET", f"/api/jobs/{copy}/findings").json()
    return found


@pytest.mark.parametrize(
    ("key", "value", "ways"),
    [
        ("neck.pocket_depth", "19", 3),  # deeper, leaning back, or with a shim
        ("controls[1].centre", [656, 92], 2),  # two holes too near to each other: either may move
        ("pockets[3].depth", "43", 1),
    ],
)
def test_cures_stand_by_what_they_do(desk: Desk, key: str, value: Stated, ways: int) -> None:
    job = desk.make("Plover", set_value(WITHOUT_TUNNELS, key, value)[0])
    before = desk.ask("GET", f"/api/jobs/{job}/findings").json()
    page = desk.page(f"/jobs/{job}/checks")
    (number,) = {int(n) for n in re.findall(r'hx-get="/jobs/\d+/checks/cures\?finding=(\d+)"', page)}
    about = before[number - 1]
    named = cures(page)
    assert [way for way, *_ in named] == list(range(ways))
    assert not any(does for _, _, does, _ in named)  # nothing is said of what nobody has tried
    told = cures(unescape(desk.ask("GET", f"/jobs/{job}/checks/cures?finding={number}").text))
    assert sorted(way for way, *_ in told) == list(range(ways))
    sound = []
    for way, _, does, _ in told:
        after = kept(desk, job, number, way)
        gone = not any(
            each["code"] == about["code"]
            and set(each["features"]) & set(about["features"] or each["features"])
            for each in after
        )
        stops = [
            each["code"]
            for each in after
            if each["severity"] == "stop"
            and each["code"] not in {was["code"] for was in before if was["severity"] == "stop"}
        ]
        assert does.startswith("does away with it") == gone, (way, does)
        assert (f"{len(stops)} DO NOT CUT" in does) == bool(stops), (way, does, stops)
        sound.append(gone and not stops)
    assert sound == sorted(sound, reverse=True)  # those that serve stand first
    assert [best for *_, best in told] == [each and not n for n, each in enumerate(sound)]
    # Looked at once, they stand so when the page is made anew.
    assert cures(desk.page(f"/jobs/{job}/checks")) == told


def test_cures_are_looked_at_when_they_come_in_sight(app: Served, screens: Screens) -> None:
    job = plain_job(app, set_value(WITHOUT_TUNNELS, "neck.pocket_depth", "19")[0])
    page = screens()
    page.goto(f"{job}/checks")
    first = page.locator(".cures li").first
    expect(first).to_contain_text("does away with it")
    expect(first).to_contain_text("shim")
    assert not serious(page)
    first.locator("a").click()
    expect(page.locator("#tried")).to_contain_text("Gone:")
    expect(page.locator(".cures li").first).to_contain_text("does away with it")
    page.click("text=Keep it")
    expect(page.locator(".state")).to_contain_text("OK")
    assert not screens.said
