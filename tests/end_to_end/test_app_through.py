"""The plan cut through along a line: dragged, typed, by the keyboard, linked; and what a screen leaves out of the drawing."""

from __future__ import annotations

import re
import urllib.parse
import urllib.request
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from scribeline.job import parse_job
from scribeline.plan import plan
from scribeline.scenario import demo_jobs

from .conftest import Screens, Served, ask, plain_job, serious

if TYPE_CHECKING:
    from playwright.sync_api import Page

LINE = {"ax": "600", "ay": "150", "bx": "600", "by": "-190"}
"""Straight over the bridge pickup's cavity, from past the body on one side to past it on the other."""


@pytest.fixture
def job(app: Served) -> str:
    return plain_job(app)


def address(job: str, **ends: str) -> str:
    return f"{job}/plan?" + urllib.parse.urlencode(ends)


def told(job: str, **ends: str) -> str:
    with urllib.request.urlopen(address(job, **ends)) as answer:
        assert answer.status == 200
        return str(answer.read(), "utf-8")


def ends(page: Page) -> dict[str, float]:
    """Both ends as the address has them, mm."""
    asked = urllib.parse.parse_qs(urllib.parse.urlsplit(page.url).query)
    return {key: float(asked[key][0]) for key in LINE}


def test_a_line_is_dragged_over_the_plan_and_cut_through(job: str, screens: Screens) -> None:
    _, now = ask(job, "GET", "")
    pocket = next(each for each in plan(parse_job(now["text"]).job).features if each.id == "bridge-pickup")
    page = screens()
    page.goto(f"{job}/plan")
    button = page.get_by_role("button", name="Cut through", exact=True)
    box = button.bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 48
    button.click()
    expect(button).to_have_attribute("aria-pressed", "true")
    cut = page.locator("#drawing svg:not(.over) path[data-ref='bridge-pickup']").first.bounding_box()
    assert cut is not None
    middle = cut["x"] + cut["width"] / 2
    page.mouse.move(middle, cut["y"] - 30)
    page.mouse.down()
    page.mouse.move(middle, cut["y"] + cut["height"] / 2, steps=4)
    page.mouse.move(middle, cut["y"] + cut["height"] + 30, steps=4)
    expect(page.locator(".moving")).to_contain_text("from the nut")
    page.mouse.up()
    # The section, in the depth that the job states and what it leaves of the body.
    row = page.locator(".along tr", has_text="bridge pickup")
    thickness = plan(parse_job(now["text"]).job).layout.thickness
    expect(row).to_contain_text(f"{pocket.depth:.2f} mm")  # type: ignore[union-attr]
    expect(row).to_contain_text(f"{thickness - pocket.depth:.2f} mm")  # type: ignore[union-attr]
    expect(page.locator("#section text", has_text="A\N{EN DASH}A")).to_be_visible()
    expect(page.locator("#drawing .plane text")).to_have_text(["A", "A"])
    at = ends(page)
    xs = [x for x, _ in pocket.outline]  # type: ignore[union-attr]
    assert at["ax"] == pytest.approx((min(xs) + max(xs)) / 2, abs=1.5)
    assert at["ax"] == pytest.approx(at["bx"], abs=0.1)
    assert at["ay"] > 0 > at["by"]
    # Its ends are moved by the arrow keys, and stay in hand.
    page.get_by_role("button", name=re.compile("^First end")).focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowUp")
    page.keyboard.press("Enter")
    page.wait_for_function("was => !location.search.includes(was)", arg=f"ax={at['ax']:g}&")
    moved = ends(page)
    assert moved["ax"] == pytest.approx(at["ax"] + 3.0, abs=0.05)
    assert moved["ay"] == pytest.approx(at["ay"] + 10.0, abs=0.05)
    assert (moved["bx"], moved["by"]) == (at["bx"], at["by"])
    expect(page.get_by_role("button", name=re.compile("^First end"))).to_be_focused()
    page.keyboard.press("Escape")
    expect(button).to_have_attribute("aria-pressed", "false")
    expect(button).to_be_focused()
    assert not serious(page)
    _, after = ask(job, "GET", "")
    assert after["number"] == 1
    assert not screens.said


def test_the_section_is_a_link_and_lives(job: str, screens: Screens) -> None:
    page = screens("tablet", has_touch=True)
    page.goto(address(job, view="back", **LINE))
    row = page.locator(".along tr", has_text="bridge pickup")
    expect(row).to_be_visible()
    assert not serious(page)
    _, now = ask(job, "GET", "")
    document = parse_job(now["text"]).job.document
    number = next(n for n, each in enumerate(document.pockets, 1) if each.name == "bridge pickup")
    said = {"key": f"pockets[{number}].depth", "value": "19.25", "based_on": 1, "why": "a shallower one"}
    assert ask(job, "POST", "/values", said)[0] < 300
    expect(row).to_contain_text("19.25 mm")
    # The line goes along to every other look at the plan, and is taken away where it is asked for.
    page.get_by_role("link", name="Front").tap()
    expect(page.locator("#drawing .plane text")).to_have_text(["A", "A"])
    page.get_by_text("Cut through between two places").tap()
    page.get_by_label("from the nut").first.fill("520")
    page.get_by_role("button", name="Cut through there").tap()
    page.wait_for_url(re.compile("ax=520"))
    page.get_by_role("link", name=re.compile("Take A.A away")).tap()
    expect(page.locator("#section")).to_have_count(0)
    assert not screens.said


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"ax": "here"}, "cannot read"),
        ({"by": ""}, "both ends need both numbers"),
        ({"ay": "nan"}, "first end to the treble"),
        ({"bx": "1e9"}, "second end from the nut"),
        ({"bx": "600", "by": "150"}, "ends lie in one place"),
        ({"ax": "9" * 3000}, "first end from the nut"),
        ({"ax": "<b>&"}, "cannot read"),
        ({"ax": "3000", "bx": "3000"}, "misses the body"),
    ],
    ids=lambda each: str(each)[:24],
)
def test_a_line_that_cannot_be_cut_along_says_why(job: str, wrong: dict[str, str], words: str) -> None:
    page = told(job, **{**LINE, **wrong})
    assert words in page
    assert 'id="section"' not in page
    assert 'id="drawing"' in page
    assert '<b>&"' not in page


DRAWN = """([refs, wanted]) => refs.every((ref) => wanted ===
    [...document.querySelectorAll(`#drawing svg:not(.over) [data-ref="${ref}"]`)]
    .some((mark) => getComputedStyle(mark).display !== "none"))"""
"""Whether of each of these things something is drawn, or of each nothing."""


def test_a_screen_leaves_out_what_it_likes_and_stops_stay(app: Served, screens: Screens) -> None:
    job = plain_job(app, demo_jobs()["marram-too-thin.toml"])
    page = screens()
    page.goto(f"{job}/plan")
    usual = [
        "string-3",
        "fingerboard",
        "bridge-plate",
        "string-hole-3",
        "neck-pickup",
        "ground-wire",
    ]
    stays = ["control-cavity", "outline"]
    page.wait_for_function(DRAWN, arg=[[*usual, *stays], True])
    page.get_by_text("Show", exact=True).click()
    boxes = page.locator(".kinds input")
    for n in range(boxes.count()):
        boxes.nth(n).focus()
        page.keyboard.press("Space")
        expect(boxes.nth(n)).not_to_be_checked()
    for _ in range(2):  # and again when the page is loaded anew
        page.wait_for_function(DRAWN, arg=[usual, False])
        # The stop is about the control cavity, which is seen from the front as a cut of the other face.
        expect(page.locator(".at-place.stop").first).to_have_attribute(
            "aria-label", re.compile("control cavity")
        )
        page.wait_for_function(DRAWN, arg=[stays, True])
        assert not serious(page)
        page.reload()
        expect(page.locator("#show summary")).to_contain_text("some is left out")
    page.get_by_text("Show (some").click()
    page.get_by_label("strings, frets and saddles").check()
    page.wait_for_function(DRAWN, arg=[["string-3"], True])
    page.wait_for_function(DRAWN, arg=[["neck-pickup"], False])
    _, now = ask(job, "GET", "")
    assert now["number"] == 1
    assert not screens.said


LETTERED = """wide => innerWidth === wide && [...document.querySelectorAll("#drawing svg:not(.over) text")]
    .map((text) => [parseFloat(text.getAttribute("font-size")), text.getScreenCTM()])
    .every(([size, to]) => size * Math.hypot(to.a, to.b) >= 12 && size * Math.hypot(to.a, to.b) <= 17.5)"""


def test_lettering_keeps_its_size_when_the_screen_is_turned(job: str, screens: Screens) -> None:
    page = screens()
    page.goto(f"{job}/plan")
    page.wait_for_function(LETTERED, arg=1280)
    for wide, high in ((500, 900), (1400, 900), (390, 700), (900, 1000)):
        page.set_viewport_size({"width": wide, "height": high})
        page.wait_for_function(LETTERED, arg=wide)
    assert not screens.said


CROWDED = (
    {"ax": "600", "ay": "120", "bx": "640", "by": "-120"},
    {"ax": "640", "ay": "150", "bx": "480", "by": "-190"},
    {"ax": "420", "ay": "0", "bx": "790", "by": "-20"},
    {"ax": "690", "ay": "170", "bx": "600", "by": "60"},
    {"ax": "668", "ay": "190", "bx": "668", "by": "-190"},
)
"""Over a pickup, wire holes and the control cavity; along the strings; half-way into the body; over a knob and bridge screws."""

LAID_OUT = """() => {
    const frame = [...document.querySelectorAll(".drawing[data-view=section]")].find((each) => each.getClientRects().length);
    const edge = frame.getBoundingClientRect();
    const texts = [...frame.querySelectorAll("text")].map((node) => {
        const { left, right, top, bottom } = node.getBoundingClientRect();
        const to = node.getScreenCTM();
        const size = Number.parseFloat(node.getAttribute("font-size")) * Math.hypot(to.a, to.b);
        // Of a word's box the lettering itself takes the middle: a face has room for accents and tails that no figure has.
        const idle = (bottom - top - size * 0.8) / 2;
        return { words: node.textContent, hidden: getComputedStyle(node).visibility === "hidden", size,
            left, right, top: top + idle, bottom: bottom - idle };
    });
    const lines = [...frame.querySelectorAll("g[data-layer=dimension] path")].map((node) => {
        const { left, right, top, bottom } = node.getBoundingClientRect();
        return { left, right, top, bottom };
    }).filter((each) => each.right - each.left < 2);
    return { edge: { left: edge.left, right: edge.right, top: edge.top, bottom: edge.bottom }, texts, lines };
}"""


@pytest.mark.parametrize("line", CROWDED, ids=lambda line: "-".join(line.values()))
def test_no_word_of_a_section_covers_another_on_any_screen(
    job: str, screens: Screens, line: dict[str, str]
) -> None:
    for width, height in ((390, 844), (810, 1080), (1024, 768), (1440, 900)):
        page = screens("phone", has_touch=True)
        page.set_viewport_size({"width": width, "height": height})
        page.goto(address(job, **line))
        expect(page.locator(".drawing[data-view=section]:visible svg.steady")).to_have_count(1)
        look = page.evaluate(LAID_OUT)
        texts = look["texts"]
        assert len(texts) > 4
        assert {"A\N{EN DASH}A"} < {each["words"] for each in texts}
        for n, each in enumerate(texts):
            where = (width, each["words"])
            assert not each["hidden"], where
            assert each["size"] >= 11, where
            assert each["left"] >= look["edge"]["left"], where
            assert each["right"] <= look["edge"]["right"], where
            assert each["top"] >= look["edge"]["top"], where
            assert each["bottom"] <= look["edge"]["bottom"], where
            for other in texts[n + 1 :]:
                assert not meet(each, other), (*where, other["words"])
            for read in look["lines"]:
                assert not meet(each, read), (*where, "a line to read along")


def meet(a: dict[str, float], b: dict[str, float]) -> bool:
    """Whether two boxes of a screen cover each other."""
    return (
        a["left"] < b["right"]
        and b["left"] < a["right"]
        and a["top"] < b["bottom"]
        and b["top"] < a["bottom"]
    )
