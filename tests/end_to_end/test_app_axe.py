"""Every kind of page at four sizes, in the light and in the dark, has no fault that axe-core knows of, however slight.

axe-core (Deque Systems, MPL 2.0) is somebody else's judge: the rules of WCAG 2.2 A and AA, and its own best practices. Nothing is
wider than the screen either.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import pytest
from playwright.sync_api import Error
from tests.conftest import WITHOUT_TUNNELS
from tests.torture import EVERYTHING

from scribeline.job import set_value
from scribeline.scenario import demo_jobs

from .conftest import AXE, Screens, Served, ask, plain_job
from .test_app_pages import PAGES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Page

SIZES = {"desk": (1440, 900), "tablet across": (1024, 768), "tablet": (810, 1080), "phone": (390, 844)}

Theme = Literal["light", "dark"]

FURTHER = (
    "/jobs/1/parts/new?of=controls&book=typical:pot,%20small",
    "/jobs/1/parts/new?of=string_sets",
    "/jobs/2/checks",  # a DO NOT CUT, cut open
    "/jobs/2/checks/try?finding=1",
    "/jobs/2/sheets",
    "/jobs/3/plan",  # deleted
    "/jobs/4/parts",  # archived
    "/jobs/4/steps/check-neck",
    "/jobs/5/parts",  # cannot be read
    "/jobs/5/text",
)


@pytest.fixture(scope="module", autouse=True)
def jobs(app: Served) -> None:
    """The demo, one with a DO NOT CUT, one deleted, one archived, one that cannot be read."""
    for text in (
        demo_jobs()["marram.toml"],
        demo_jobs()["marram-too-thin.toml"],
        WITHOUT_TUNNELS,
        set_value(WITHOUT_TUNNELS, "name", "Sedge")[0],
        set_value(WITHOUT_TUNNELS, "name", "x" * 300)[0],
    ):
        job = plain_job(app, text)
    assert job.endswith("/jobs/5")
    ask(f"{app.address}/jobs/3", "DELETE", "")
    ask(f"{app.address}/jobs/4", "POST", "/archive")


def looks(number: int) -> Iterator[tuple[str, Theme]]:
    """The sizes and lights in which a page is looked at: from day to day each page in one, the next page in the next."""
    every: list[tuple[str, Theme]] = [(size, theme) for theme in ("light", "dark") for size in SIZES]
    yield from every if EVERYTHING else [every[number % len(every)]]


def faults(page: Page) -> list[str]:
    """What axe-core finds. A page that is made anew while it is looked at is looked at again, once."""
    rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    look = "async rules => (await axe.run(document, {runOnly: rules})).violations"
    found: list[dict[str, Any]]
    try:
        found = page.evaluate(look, rules)
    except Error as gone:
        if "context was destroyed" not in gone.message:
            raise
        page.wait_for_load_state()
        page.evaluate(AXE.read_text(encoding="utf-8"))
        found = page.evaluate(look, rules)
    return [f"{each['id']}: {[node['target'] for node in each['nodes']][:3]}" for each in found]


def test_no_page_has_a_fault(app: Served, screens: Screens) -> None:
    page = screens()
    judge = AXE.read_text(encoding="utf-8")
    wrong = []
    for number, address in enumerate((*PAGES, *FURTHER)):
        page.goto(app.address + address)
        page.wait_for_load_state()
        page.evaluate(judge)
        for size, theme in looks(number):
            width, height = SIZES[size]
            page.set_viewport_size({"width": width, "height": height})
            page.emulate_media(color_scheme=theme)
            wrong += [f"{address} {size} {theme}: {each}" for each in faults(page)]
            wide = page.evaluate(
                "document.documentElement.scrollWidth - document.documentElement.clientWidth"
            )
            wrong += [f"{address} {size}: {wide} px too wide"] if wide > 0 else []
    assert not wrong, "\n".join(wrong)
