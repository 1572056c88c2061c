"""The strings' page: every note's cents to be looked at and read by touch, the sets side by side, a new set in one touch."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from playwright.sync_api import Locator, expect
from tests.conftest import WITHOUT_TUNNELS

from scribeline.job import parse_job
from scribeline.plan import plan
from scribeline.scenario import examples

from .conftest import Screens, Served, go, plain_job, serious
from .test_app_jobs import Desk


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    made = Desk(tmp_path)
    yield made
    made.store.close()


def cell(page: str, at: str) -> tuple[str, float, float]:
    """What the table says of a note: its name, its cents with the saddle set and on the scale line."""
    found = re.search(rf'data-at="{at}" data-note="(.*?)" data-set="(.*?)" data-line="(.*?)"', page)
    assert found, at
    numbers = (float(each.replace("\N{MINUS SIGN}", "-")) for each in found.groups()[1:])
    return found[1], *numbers  # type: ignore[return-value]


def typed(page: str) -> dict[str, str]:
    """What stands in the fields of a blank."""
    keys = re.findall(r'name="key" value="(.*?)"', page)
    values = re.findall(r'<input name="value".*?\bvalue="(.*?)"', page)
    return dict(zip(keys, map(unescape, values), strict=True))


def test_every_note_and_every_set_stands_on_the_page(desk: Desk) -> None:
    job = desk.make("Looked at")
    page = desk.page(f"/jobs/{job}/strings")
    seen = plan(*parse_job(WITHOUT_TUNNELS)).layout.stringing
    found = seen.prediction
    assert found is not None
    for n, fret in ((1, 1), (3, 7), (6, found.cents.shape[1])):
        note, own, line = cell(page, f"{n}-{fret}")
        assert own == pytest.approx(found.cents[n - 1, fret - 1], abs=0.051)
        assert line == pytest.approx(found.cents_uncompensated[n - 1, fret - 1], abs=0.051)
        assert note == {(1, 1): "F4", (3, 7): "D4"}.get((n, fret), note)
    assert page.count("data-at=") == found.cents.size
    compared = page[page.index('id="compared"') : page.index("</table>", page.index('id="compared"'))]
    for prediction in (found, *seen.others.values()):
        for i, spec in enumerate(prediction.problem.specs):
            row = re.findall(r"<tr>.*?</tr>", compared, re.DOTALL)[2 + i]
            told = re.findall(r"<td[^>]*>([^<]*)</td>", row)
            assert {
                spec.gauge_said,
                f"{prediction.tension_n[i]:.1f}",
                f"{prediction.setback[i]:.2f}",
                f"{abs(prediction.cents[i]).max():.1f}",
            } <= set(told)
    # The other set's strokes stand under every saddle's bar, by their letter.
    assert "A a lighter set" in re.sub(r"<[^>]*>|\s+", " ", page)


def test_a_set_is_begun_from_usual_gauges_and_kept_whole(desk: Desk) -> None:
    job = desk.make("Restrung")
    new = f"/jobs/{job}/parts/new"
    blank = desk.page(f"{new}?of=string_sets")
    begun = typed(blank)
    assert [begun[f"string_sets[2].strings[{n}].note"] for n in range(1, 7)] == [
        "E4",
        "B3",
        "G3",
        "D3",
        "A2",
        "E2",
    ]
    assert begun["string_sets[2].strings[1].gauge"] == ""
    links = re.findall(rf'href="({new}\?of=string_sets&start=[\w-]+)"', blank)
    assert len(links) >= 3
    for time, name in enumerate((".011 to .049", ".011 to .049, 2"), start=2):
        filled = typed(desk.page(next(each for each in links if "011-049" in each)))
        assert filled[f"string_sets[{time}].name"] == name
        assert filled[f"string_sets[{time}].strings[6].gauge"] == ".049"
        revision = desk.shop.store.revision(job).number
        fields = {"of": "string_sets", "based_on": str(revision)}
        answer = desk.ask("POST", new, data={**fields, "key": list(filled), "value": list(filled.values())})
        assert answer.status_code == 303, answer.text
    kept = parse_job(desk.shop.store.revision(job).text).job.document.string_sets
    assert [each.name for each in kept] == ["a lighter set", ".011 to .049", ".011 to .049, 2"]
    assert [round(each.gauge / 25.4, 4) for each in kept[1].strings] == [
        0.011,
        0.014,
        0.018,
        0.028,
        0.038,
        0.049,
    ]
    # What cannot be a gauge is told beside its field, and nothing typed is lost.
    filled["string_sets[4].strings[2].gauge"] = "thick"
    filled = {
        key.replace("[3]", "[4]", 1) if key.startswith("string_sets[3]") else key: v
        for key, v in filled.items()
    }
    fields["based_on"] = str(desk.shop.store.revision(job).number)
    refused = desk.ask("POST", new, data={**fields, "key": list(filled), "value": list(filled.values())})
    assert refused.status_code == 422
    assert 'value="thick"' in refused.text
    assert 'value=".049"' in refused.text


def test_a_bass_is_offered_no_guitars_strings(desk: Desk) -> None:
    job = desk.make("Low", examples()["bass-five-string"].text)
    page = desk.page(f"/jobs/{job}/parts/new?of=string_sets")
    assert re.findall(r"start=([\w-]+)", page) == ["bass-five-045-130"]
    assert desk.ask("GET", f"/jobs/{job}/parts/new?of=string_sets&start=six-010-046").status_code == 200
    assert desk.ask("GET", f"/jobs/{job}/parts/new?of=string_sets&start=nothing").status_code == 200


def middle(mark: Locator) -> tuple[float, float]:
    mark.scroll_into_view_if_needed()
    box = mark.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_a_note_is_read_by_touch_and_by_keys(app: Served, screens: Screens) -> None:
    job = plain_job(app)
    screen = screens("tablet", has_touch=True)
    screen.goto(f"{job}/strings")
    at, own = screen.locator("[data-say=at]"), screen.locator("[data-say=set]")
    page = screen.content()

    def reads(string: int, fret: int) -> None:
        expect(at).to_have_text(f"String {string}, fret {fret}")
        note, cents, _ = cell(page, f"{string}-{fret}")
        expect(screen.locator("[data-say=note]")).to_have_text(note)
        assert float(own.inner_text().split()[0].replace("\N{MINUS SIGN}", "-")) == cents
        chosen = screen.locator("path.chosen:visible").evaluate_all(
            "all => all.map(each => each.dataset.ref)"
        )
        assert set(chosen) == {f"cents-{string}"}

    # It begins with the note that is furthest out.
    worst = max((abs(cell(page, each)[1]), each) for each in re.findall(r'data-at="([\d-]+)"', page))[1]
    reads(*map(int, worst.split("-")))
    low = screen.locator('circle[data-ref="cents-1-20"]:visible').first
    u, v = middle(low)
    screen.touchscreen.tap(u, v + 15)  # a finger beside the mark means it
    reads(1, 20)
    plot = screen.locator(".plot .drawing:visible").bounding_box()
    assert plot is not None
    screen.touchscreen.tap(
        plot["x"] + plot["width"] - 3, plot["y"] + 3
    )  # beside every mark: nothing is taken
    reads(1, 20)
    screen.tap("button[data-string='3']")
    reads(3, 20)
    screen.tap("text=Fret before")
    reads(3, 19)
    screen.locator(".plot").focus()
    for key in ("ArrowDown", "ArrowRight"):
        screen.keyboard.press(key)
    reads(4, 20)
    # Where one was looked at is where one comes back to.
    screen.reload()
    reads(4, 20)
    assert serious(screen) == []
    screen.set_viewport_size({"width": 390, "height": 844})
    screen.touchscreen.tap(*middle(screen.locator('circle[data-ref="cents-6-5"]:visible').last))
    reads(6, 5)
    assert screen.evaluate("document.documentElement.scrollWidth <= innerWidth")
    small = screen.locator(".cents button:visible").evaluate_all(
        "all => all.filter(each => each.getBoundingClientRect().height < 48).length"
    )
    assert small == 0
    go(screen, "text=Add another set to compare")
    go(screen, "text=.009 to .042")
    expect(screen.locator("input[name=value]").first).to_have_value(".009 to .042")
    assert serious(screen) == []
    bare = screens("desk", java_script_enabled=False)
    bare.goto(f"{job}/strings")
    expect(bare.locator(".readout")).to_be_hidden()
    bare.locator("#cents summary").click()
    expect(bare.locator('td[data-at="1-1"]')).to_be_visible()
    assert screens.said == []
