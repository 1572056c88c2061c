"""A careless builder before the app's pages: presses and fills what is named on the screen, as `AppDoor` asks by JSON.

What he is told he reads off the JSON side, which says what the pages say.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from playwright.sync_api import expect
from tests.careless_builder import AppDoor, Step

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

FROM_THE_WALL = ("the board's end", "the neck pocket's end wall", "the pocket's end wall")
"""How the app calls what he reads along from: on the demo the board ends over the pocket's end wall."""


class ScreenDoor(AppDoor):
    """A job of the app, kept by its pages."""

    def __init__(self, page: Page, port: int, text: str) -> None:
        super().__init__(port, text)
        self.page = page
        page.goto(f"http://127.0.0.1:{port}/jobs/{self.job}/steps")

    # --- getting about --------------------------------------------------------------------------------

    def press(self, what: Locator) -> None:
        """Press what leads to another page, or to the same one anew, and be there."""
        self.known.clear()
        self.page.evaluate(
            "(document.getElementById('step') ?? document.documentElement).dataset.before = 'yes'"
        )
        what.click()
        expect(self.page.locator("[data-before]")).to_have_count(0)
        self.page.wait_for_load_state()
        expect(self.page.locator("[role=alert] .tag.stop:has-text('not')")).to_have_count(0)

    def to_page(self, title: str) -> None:
        """One of the job's pages, by its name; from a step by the list of them."""
        if self.page.get_by_role("link", name="All steps", exact=True).count():
            self.press(self.page.get_by_role("link", name="All steps", exact=True))
        if self.page.locator("h1").inner_text() != title:
            self.press(self.page.locator("nav:visible a").filter(has_text=re.compile(rf"^\s*{title}\s*$")))
        expect(self.page.locator("h1")).to_have_text(title)

    def to_step(self, step: Step) -> None:
        head = self.page.locator("h1")
        if (
            head.inner_text() != step["title"]
            or self.page.get_by_role("link", name="Back", exact=True).count()
        ):
            self.to_page("Steps")
            called = f"Step {step['no']}: {step['title']}"
            self.press(self.page.locator("main").get_by_role("link", name=called, exact=True))
        expect(head).to_have_text(step["title"])

    def unfold(self, summary: str | re.Pattern[str]) -> Locator:
        """What is folded under these words, open."""
        found = self.page.locator("details").filter(has=self.page.locator("summary", has_text=summary)).last
        if found.get_attribute("open") is None:
            found.locator("summary").first.click()
        return found

    # --- what is kept ---------------------------------------------------------------------------------

    def read(self, step: Step, values: Sequence[float], risk: str = "") -> None:
        self.to_step(step)
        gate = self.page.locator("#gate")
        if not values:
            self.press(gate.get_by_role("button", name="Yes, it is so"))
            return
        asks = step["gate"].get("asks") or [{"words": "You read"}]
        for ask, mm in zip(asks, values, strict=True):
            gate.get_by_label(re.compile(f"^{re.escape(ask['words'])}", re.IGNORECASE)).fill(f"{mm:.2f}")
        self.press(gate.get_by_role("button", name="Keep the reading"))
        said = gate.locator(".verdict")
        expect(said).to_contain_text(f"{values[-1]:.2f}")
        if risk and "DOES NOT PASS" in said.inner_text():  # a blank that is stated anew passes
            folded = self.unfold("Go on at your own risk")
            folded.get_by_label("Why it may go on, kept with the job").fill(risk)
            self.press(folded.get_by_role("button", name="Go on at my own risk"))
            expect(said).to_contain_text("AT YOUR OWN RISK")

    def tick(self, step: Step) -> None:
        self.to_step(step)
        onwards = self.page.locator(".bar").get_by_role("link", name=re.compile("^Next (hole|cavity)$"))
        while onwards.count():
            self.press(onwards)
        self.press(self.page.locator(".bar").get_by_role("button", name=re.compile("^Done")))

    def untick(self, step: Step) -> None:
        self.to_step(step)
        folded = self.unfold("This step is not done after all")
        folded.get_by_label("It was ticked by mistake").check()
        self.press(folded.get_by_role("button", name="Take the tick back"))

    def measure(self, what: str, mm: float, *, anew: bool = False) -> None:
        self.to_page("Measure")
        if anew and what == "margin-treble":
            self.press(self.page.get_by_role("button", name="The bridge was moved"))
        field = self.page.get_by_label(f"{what}, in mm", exact=True)
        field.fill(f"{mm:.2f}")
        form = self.page.locator("form.reading").filter(has=field)
        self.press(form.get_by_role("button", name="Keep", exact=True))
        expect(self.page.locator("#record article").first).to_contain_text(what)

    def strike(self, no: int, why: str) -> None:
        self.to_page("Measure")
        folded = self.unfold(re.compile(rf"^Strike no\. {no} through$"))
        folded.get_by_label("Why it should not count").fill(why)
        self.press(folded.get_by_role("button", name=re.compile(rf"^Strike through no\. {no},")))

    def found(self, step: Step, number: int, at: tuple[float, float], wall: float) -> None:
        self.to_step(step)
        for _ in range(number - 1):
            self.press(self.page.locator(".bar").get_by_role("link", name="Next hole"))
        folded = self.unfold("is not where it was planned")
        along = folded.get_by_label(re.compile(f"^From ({'|'.join(FROM_THE_WALL)})"))
        along.fill(f"{at[0] - wall:.2f}")
        folded.get_by_label("from the centreline", exact=True).fill(f"{abs(at[1]):.2f}")
        folded.get_by_label("towards the").select_option(label="treble" if at[1] >= 0 else "bass")
        self.press(folded.get_by_role("button", name="Keep where it is"))

    def state(self, key: str, value: str) -> None:
        super().state(key, value)
        self.page.reload()

    def go_on_against(self, stop: Mapping[str, Any], why: str) -> None:
        step = next(each for each in self.steps() if stop["code"] in each["stopped_by"])
        self.to_step(step)
        folded = self.unfold("Cut all the same")
        folded.get_by_label("Why you cut all the same").fill(why)
        folded.get_by_label("I have read what may happen").check()
        self.press(folded.get_by_role("button", name="Cut all the same"))
