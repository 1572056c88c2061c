"""The demo's whole instrument from nothing, by what stands on the screen alone: each touch counted, no job file opened.

A builder with the demo's parts on the bench presses what is written on buttons and links and types into fields by their
labels. In the end the plan has the demo's cuts, each in its place; a stop on the way is seen and cured; the pack is made, its
pages are looked at, and it is taken away. By a finger, by the mouse, and by the keys alone, which reach what is pressed by Tab.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pdfplumber
import pytest
from playwright.sync_api import expect
from tests.torture import long

from scribeline.features import Bore, Features, Pocket, make_features
from scribeline.job import parse_job
from scribeline.layout import lay_out
from scribeline.scenario import demo_jobs

from .conftest import Screens, Served

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

MOST_TOUCHES = 250
"""What the whole may take: one a button, a link, a field or a choice."""

MOST_TABS = 250
"""Strokes of Tab from one thing to the next, at most: more than any page of this job has to be reached."""

SCREW = {
    "thread": "Screw: Screw's thread diameter",
    "root": "Screw: Screw's root diameter",
    "length": "Screw: Screw's length",
}


@dataclass
class Builder:
    """A person before a screen.

    Attributes:
        page: the screen.
        way: "touch", "mouse" or "keys".
        touches: what was pressed, chosen or typed into so far.
        keys: keys that were struck, where nothing else is used.
    """

    page: Page
    way: str
    touches: int = 0
    keys: int = 0

    def press(self, words: str, within: str = "main") -> None:
        """A button, link or label with these words."""
        pressed = self.page.locator(f"{within} :is(a, button, label, summary):visible").filter(
            has_text=re.compile(rf"^\s*{re.escape(words)}\s*$")
        )
        self._press(pressed.first)

    def _press(self, what: Locator) -> None:
        self.touches += 1
        leads: bool = what.evaluate(
            """e => { document.documentElement.dataset.before = "yes";
            return !e.matches("label, summary, [hx-get]") && !e.closest("form[hx-post]"); }"""
        )
        if self.way == "keys":
            self._reach(what)
            self._strike("Enter")
        elif self.way == "touch":
            what.tap()
        else:
            what.click()
        if leads:
            expect(self.page.locator("html[data-before]")).to_have_count(0)
            self.page.wait_for_load_state()

    def _strike(self, key: str) -> None:
        self.keys += 1
        self.page.keyboard.press(key)

    def _reach(self, what: Locator) -> None:
        """Go there by Tab, or back by Shift and Tab where it stands before."""
        for _ in range(MOST_TABS):
            at: str = what.evaluate(
                """e => e === document.activeElement ? "here"
                : e.compareDocumentPosition(document.activeElement) & Node.DOCUMENT_POSITION_FOLLOWING ? "before" : "after" """
            )
            if at == "here":
                return
            self._strike("Shift+Tab" if at == "before" else "Tab")
        message = f"no way by Tab to {what}"
        raise AssertionError(message)

    def _type(self, field: Locator, words: str) -> None:
        """In place of what stands in a field."""
        if self.way != "keys":
            field.fill(words)
            return
        self._reach(field)
        self._strike("Control+A")
        self._strike("Delete")
        self.keys += len(words)
        self.page.keyboard.type(words)

    def _choose(self, field: Locator, words: str) -> None:
        """Among what a list offers; by the keys, with the first letters of it."""
        if self.way != "keys":
            field.select_option(label=words)
            return
        self._reach(field)
        self.keys += len(words)
        self.page.keyboard.type(words)
        chosen = field.evaluate("e => e.selectedOptions[0].label")
        assert chosen == words, (chosen, words)

    def fetch(self, words: str) -> bytes:
        """What a link with these words gives to be kept."""
        link = self.page.locator("main a:visible").filter(has_text=re.compile(rf"^\s*{re.escape(words)}\s*$"))
        self.touches += 1
        with self.page.expect_download() as coming:
            if self.way == "keys":
                self._reach(link)
                self._strike("Enter")
            elif self.way == "touch":
                link.tap()
            else:
                link.click()
        return coming.value.path().read_bytes()

    def part(self, title: str) -> None:
        """The page of one part, by the list of parts."""
        self.press("Parts", within="nav")
        self.press(title)
        expect(self.page.locator("h1")).to_have_text(title)

    def _field(self, label: str, within: str) -> Locator:
        named = (
            self.page.locator(within)
            .locator("label, .field > .label")
            .filter(has_text=re.compile(rf"^\s*(?:[A-Z]{{1,2}}\s*)?{re.escape(label)}\s*$"))
        )
        expect(named.first).to_be_attached()
        if not named.first.is_visible():
            self._press(named.first.locator("xpath=ancestor::details[not(@open)]/summary").first)
        return self.page.locator(f"#{named.first.get_attribute('for')}")

    def say(self, label: str, words: str, within: str = "main") -> None:
        """Type into a field, or choose in it; a field of the parts' pages keeps it by itself."""
        field = self._field(label, within)
        self.touches += 1
        if field.evaluate("e => e.tagName") == "SELECT":
            self.touches += 1
            self._choose(field, words)
        else:
            self._type(field, words)
            if self.page.locator("form.blank, form.move").count() == 0:
                self._strike("Tab") if self.way == "keys" else field.press("Tab")

    def edit(self, title: str, typed: dict[str, str]) -> None:
        """Numbers of a part that is there."""
        self.part(title)
        for label, words in typed.items():
            before = self.page.locator("#saved").inner_text()
            self.say(label, words)
            expect(self.page.locator("#saved")).not_to_have_text(before)
        expect(self.page.locator(".error:visible")).to_have_count(0)

    def add(self, what: str, typed: dict[str, str], *, ways: tuple[str, ...] = ()) -> None:
        """One more part."""
        self.press("Parts", within="nav")
        self.press(what)
        self._blank(typed, ways)

    def _blank(self, typed: dict[str, str], ways: tuple[str, ...] = ()) -> None:
        for way in ways:
            self.press(way)
        before = self.page.locator("#saved").inner_text()
        for label, words in typed.items():
            self.say(label, words)
        self.press("Keep it")
        expect(self.page.locator("#saved")).not_to_have_text(before)

    def add_here(self, what: str, typed: dict[str, str]) -> None:
        """Something more of the part that is shown."""
        self.press(f"Add {what}")
        self._blank(typed)


def cuts(text: str) -> Features:
    job = parse_job(text).job
    return make_features(job.document, lay_out(job))


def bored(bore: Bore) -> list[tuple[float, float, str]]:
    """What is bored, however its bit was written."""
    return [(step.diameter, step.depth, step.bit.kind) for step in bore.steps]


@pytest.mark.parametrize("way", ["touch", *long("mouse", "keys")])
def test_the_demo_is_built_from_nothing(
    app: Served, screens: Screens, way: str, record_property: Callable[[str, object], None]
) -> None:
    page = screens("tablet", has_touch=True) if way == "touch" else screens()
    page.goto(app.address)
    who = Builder(page, way)
    who.press("New", within="nav")
    who._press(page.locator("main a:has-text('Measure my parts')"))
    who.say("Name of the instrument", "Marram again")
    who.press("Measure the parts")
    first = re.search(r"/jobs/\d+", page.url)
    assert first is not None
    job = app.address + first[0]

    # The parts that are there.
    who.edit("Scale and frets", {"Nut's width": "42.8", "Fingerboard's width at its end": "56.4"})
    who.part("Scale and frets")
    who.say("String's height over the fret plane at the nut", "")
    who.edit(
        "Neck and its pocket",
        {
            "Pocket's depth": "16 +/- 0.1",
            "Heel's thickness with the fingerboard": "25.2 +/- 0.1",
            "Heel's width at the end wall": "56.2 +/- 0.05",
            "Heel's width where the pocket opens": "54 +/- 0.05",
            "Thickness of the finish on the heel": "0.1",
            "Fingerboard's thickness at the heel": "6.2 +/- 0.1",
            "Timber of the heel or core": "Sugar maple",
        },
    )
    who.edit(
        "Body",
        {
            "Body's thickness": "44.4 +/- 0.1",
            "Timber": "White ash",
            "Finish thickness on one surface": "0.12",
        },
    )
    who.edit(
        "Bridge plate",
        {
            "Plate's length along the strings": "44 +/- 0.05",
            "Plate's width": "80.5 +/- 0.05",
            "Plate's thickness": "2.3 +/- 0.05",
            "Front edge to where the string leaves the saddle, saddle fully forward": "9.2 +/- 0.05",
            "Front edge to where the string leaves the saddle, saddle fully back": "17.6 +/- 0.05",
            "String's height over the body at the saddle": "12.7 +/- 0.05",
            "Spacing of neighbouring strings": "10.6 +/- 0.05",
            "Front edge to the row of string holes": "31.5 +/- 0.05",
            "Plate's string hole": "3.6 +/- 0.05",
            "Plate's screw hole": "3.8 +/- 0.05",
            "Screws": "38, -29\n38, -10.6\n38, 10.6\n38, 29",
            "String's height over the body, saddle wound fully down": "10.4",
            "String's height over the body, saddle wound fully up": "14",
        },
    )
    who.edit(
        "Bridge screws",
        {
            "Screw's thread diameter": "3.5 +/- 0.05",
            "Screw's root diameter": "2.4 +/- 0.05",
            "Screw's length": "24.5 +/- 0.05",
        },
    )
    who.edit(
        "Ferrules and string holes",
        {
            "Ferrule's lip diameter": "9 +/- 0.03",
            "Ferrule's lip height": "1.5 +/- 0.03",
            "Ferrule's body diameter": "7 +/- 0.03",
            "Ferrule's body length under the lip": "9.4 +/- 0.03",
            "String hole": "3.5",
        },
    )
    who.edit(
        "Bits you own",
        {
            "Twist bits": "1.5, 2, 2.4, 2.9, 3, 3.2, 3.6, 4, 15/64",
            "Brad-point bits": "3, 3.5, 4, 4.5, 5, 6, 7, 9, 10, 12",
            "Flat-bottomed bits (Forstner)": "9, 12, 22, 24",
            "Router bits": "6, 8, 1/2",
        },
    )
    who.part("Bits, one by one")
    reach = page.locator("section.card", has=page.locator("h2", has_text=re.compile("^Brad-point bit 6 mm$")))
    who._press(reach.locator("summary"))
    before = page.locator("#saved").inner_text()
    who._type(reach.get_by_label("Depth the bit can reach"), "220")
    page.keyboard.press("Tab")
    who.touches += 1
    expect(page.locator("#saved")).not_to_have_text(before)

    # The parts that are added.
    who.edit("Cavity: bridge pickup", {"Cavity's depth": "20.5"})
    place = {"centre": "Centre: along, across", "size": "Size: along, across", "from": "Measured along from"}
    who.add(
        "Cavity",
        {
            "Name": "neck pickup",
            "Cavity's depth": "20.5",
            "Cavity's corner radius": "4",
            place["from"]: "pocket end",
            place["centre"]: "34, 0",
            place["size"]: "40, 72",
        },
    )
    who.add(
        "Cavity",
        {
            "Name": "control cavity",
            "Cut from": "back",
            "Cavity's depth": "38.5",
            "Cavity's corner radius": "8",
            "Outline: along, across": "612, 72\n716, 60\n724, 104\n664, 122\n618, 110",
        },
        ways=("any outline",),
    )
    who.add_here("cover recess", {"Cover recess's width": "10", "Cover recess's depth": "2"})
    who.add_here(
        "cover screws",
        {
            "Screw's thread diameter": "2.9 +/- 0.1",
            "Screw's root diameter": "2.0 +/- 0.1",
            "Screw's length": "12 +/- 0.1",
            "Places: along, across": "610, 90.5\n661, 126.5\n725.5, 105.5\n718, 59\n664, 61",
        },
    )
    for name, centre, hole, thread, body in (
        ("volume", "668, 92", "10", "11", "24"),  # where the switch belongs: seen and cured below
        ("tone", "698, 86", "10", "11", "24"),
        ("pickup switch", "668, 92", "12", "11.5", "20"),
    ):
        who.add(
            "Control",
            {
                "Name": name,
                "Centre: along, across": centre,
                "Cavity it sits in": "control cavity",
                "Diameter of its hole in the top": f"{hole} +/- 0.1",
                "Length of its thread": f"{thread} +/- 0.1",
                "Nut, washer and lock washer together": "4 +/- 0.1",
            },
        )
        who.say("Its body's width across", f"{body} +/- 0.1")
    for name, start, places in (
        ("bridge pickup ring screws", "scale line", "-66, -40\n-66, 40\n-18, -40\n-18, 40"),
        ("neck pickup ring screws", "pocket end", "10, -40\n10, 40\n58, -40\n58, 40"),
    ):
        who.add(
            "Hole",
            {
                "Name": name,
                "Measured along from": start,
                "Places: along, across": places,
                SCREW["thread"]: "2.4 +/- 0.1",
                SCREW["root"]: "1.7 +/- 0.1",
                SCREW["length"]: "14 +/- 0.1",
            },
            ways=("several places", "for a screw"),
        )
        who.say("What the screw passes through before the wood", "4")
    who.edit(
        "Ground wire",
        {
            "Hole's entry behind the plate's front edge": "14",
            "Hole's entry from the centreline, towards the treble": "5.3",
            "Depth at which the hole's centre meets the cavity's wall": "11",
        },
    )
    who.add(
        "Neck screws",
        {
            "Screw's thread diameter": "4.2 +/- 0.1",
            "Screw's root diameter": "3 +/- 0.1",
            "Screw's length": "44 +/- 0.1",
            "Places: from the end wall, across": "12, -19\n12, 19\n52, -17.5\n52, 17.5",
        },
    )
    who.say("Neck plate's thickness", "2 +/- 0.1")
    who.add(
        "Jack",
        {
            "Its place: along, across": "708, 150",
            "Jack's hole": "22",
            "Cavity it opens into": "control cavity",
            "Counterbore for the jack": "24",
            "Depth of the counterbore for the jack": "3",
        },
        ways=("with a counterbore",),
    )
    for name, near in (("tail", "752, 0"), ("front", "424, -76")):
        who.add(
            "Strap button",
            {
                "Name": name,
                "Its place: along, across": near,
                SCREW["thread"]: "4.2 +/- 0.05",
                SCREW["root"]: "3 +/- 0.05",
                SCREW["length"]: "32 +/- 0.05",
            },
        )
    for name, start, into in (
        ("bridge pickup lead", "inside the bridge pickup", "control cavity"),
        ("neck pickup lead", "inside the neck pocket", "bridge pickup"),
    ):
        who.add(
            "Wire hole",
            {"Name": name, "It starts": start, "It leads into": into, "Wire hole's diameter": "6"},
        )
    # The last one goes through the neck pickup on its way.
    before = page.locator("#saved").inner_text()
    passes = page.locator(".field", has=page.locator(".label", has_text=re.compile("^Crosses$")))
    if not passes.is_visible():
        who._press(page.locator("main details:not([open]) summary").first)
    who._press(passes.get_by_role("button", name="neck pickup"))
    expect(page.locator("#saved")).not_to_have_text(before)

    # Another set, begun with a usual one; its name and gauges are there already.
    who.press("Parts", within="nav")
    who.press("String set")
    who._press(page.locator(".starts a").filter(has_text=re.compile(r"009.*042")).first)
    who._blank({"Name": "a lighter set"})

    # The volume stands where the switch does: seen on the drawing, cured there.
    who.press("Plan", within="nav")
    expect(page.locator(".at-place.stop").first).to_be_visible()
    who._press(page.locator(".chips a[data-cut='control-1']"))
    expect(page.locator("#picked-h")).to_contain_text("C1")
    before = page.locator("#saved").inner_text()
    who.say("from the nut", "638", within="#move")
    who.say("to the treble (\u2212 to the bass)", "94", within="#move")
    who.press("Move it there")
    expect(page.locator("#saved")).not_to_have_text(before)
    expect(page.locator(".state")).to_contain_text("OK")

    # What is planned is the demo.
    made, wanted = cuts(page.request.get(f"{job}/job.toml").text()), cuts(demo_jobs()["marram.toml"])
    same = {each.id: each for each in made}
    for cut in wanted:
        own = same[cut.id]
        if isinstance(cut, Pocket):
            assert isinstance(own, Pocket)
            assert (own.outline, own.depth, own.face) == (cut.outline, cut.depth, cut.face), cut.id
        else:
            assert not isinstance(own, Pocket)
            assert (own.at, own.axis, bored(own)) == (cut.at, cut.axis, bored(cut)), cut.id
    assert same.keys() == {cut.id for cut in wanted}

    # It is printed: the pages are looked at, and the pack is taken away.
    who.press("Sheets", within="nav")
    who._press(page.locator("button:has-text('Make the pack')"))
    expect(page.locator("#templates-pdf")).to_be_visible()
    who._press(page.locator("#templates-pdf .proofs a").first)
    for number in range(2):
        leaf = page.locator(".proof img")
        expect(leaf).to_be_visible()
        expect(leaf).to_have_js_property("complete", value=True)
        assert leaf.evaluate("e => e.naturalWidth") > 400
        if not number:
            who.press("Next page")
    who.press("All pages")
    pack = zipfile.ZipFile(io.BytesIO(who.fetch("All of it in one file")))
    assert pack.testzip() is None
    assert {"templates.pdf", "sheets.pdf", "steps.pdf", "body.dxf", "plan.json"} <= set(pack.namelist())
    assert "Marram again" in pack.read("plan.json").decode()
    assert len(pdfplumber.open(io.BytesIO(pack.read("templates.pdf"))).pages) > 3
    assert who.touches <= MOST_TOUCHES
    assert (who.keys > who.touches) == (way == "keys")
    record_property("touches", who.touches)
    record_property("keys", who.keys)
    assert not screens.said
