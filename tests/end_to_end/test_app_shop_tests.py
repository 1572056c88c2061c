"""The shop's tests in the app: how each is done, typed by touch, struck through, taken by a job, out as a file and in again."""

from __future__ import annotations

import json
import urllib.parse
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from scribeline.job import parse_job, parse_shop_tests
from scribeline.proving import KINDS

from .conftest import PATIENCE, Screens, Served, answered, plain_job, serious, serving

MARKS = "0.05 -0.06 0.04 0.02 -0.07 0.03 -0.01 0.06 -0.05 1.9"


def type_gaps(page: Page, gaps: tuple[str, ...]) -> None:
    for n, each in enumerate(gaps):
        page.fill(f"#f-r{n}", each)
    page.click("button:has-text('Keep this test')")


def kept(app: Served) -> str:
    """The tests as the JSON side has them."""
    return str(answered(f"{app.address}/api/shop-tests", "GET")[1]["text"])


def test_tests_by_touch(tmp_path: Path, screens: Screens) -> None:
    """One story: a wire swung, slips on the way, ten marks with a wild one, another screen, striking through, a job."""
    with serving(tmp_path / "shop") as app:
        job = plain_job(app)
        page = screens("tablet")
        page.goto(f"{app.address}/shop")
        page.click("a[href='/shop/tests']")
        expect(page.locator("#list")).to_contain_text("None yet")
        expect(page.locator("#next-h + p + ul > li").first).to_contain_text("untested")
        page.click("a[href='/shop/tests/new/table-square']")
        expect(page.locator("main ol")).to_contain_text("Unplug the press")
        expect(page.locator("main .tag.caution")).to_be_visible()
        type_gaps(page, ("1.2", "0", "0.6", ""))
        expect(page.locator("main")).to_contain_text("right is empty")
        expect(page.locator("#f-r0")).to_have_value("1.2")
        type_gaps(page, ("0.047", "0", "0.0", "x"))
        expect(page.locator("main")).to_contain_text("annot read")
        page.fill("#f-machine", "the small press")
        type_gaps(page, ("1.2", "0", "0.6", "0.6"))
        expect(page.locator("#no-1 .big")).to_have_text("Greatest lean: 0.34°")
        expect(page.locator("#no-1")).to_contain_text(
            "1.20 mm of shim under the board on the table at the front"
        )
        expect(page.locator("#no-1")).to_contain_text("the small press")
        # Ten marks, one of them wild; in inches first.
        page.goto(f"{app.address}/shop/tests/new/trial-marks?method=prick-awl")
        expect(page.locator("#machines option")).to_have_attribute("value", "the small press")
        page.fill("#f-readings", "0.004 -0.008 0.006")
        page.click("button:has-text('Keep this test')")
        expect(page.locator("#h-readings")).to_contain_text("were they measured in inches?")
        expect(page.locator("#f-readings")).to_have_value("0.004 -0.008 0.006")
        expect(page.locator("#f-method")).to_have_value("prick-awl")
        page.evaluate("document.querySelector('#f-on').type = 'text'")
        page.fill("#f-on", "2999-01-01")
        page.fill("#f-readings", MARKS)
        page.click("button:has-text('Keep this test')")
        expect(page.locator("#h-on")).to_contain_text("is not yet")
        page.evaluate("document.querySelector('#f-on').type = 'text'")
        page.fill("#f-on", "")
        page.dblclick("button:has-text('Keep this test')")
        expect(page.locator("#no-2")).to_contain_text("Reading no. 10 (1.90 mm) stands apart")
        assert len(parse_shop_tests(kept(app)).tests) == 2  # however often the button was pressed
        expect(page.locator("#learnt-h ~ ul")).to_contain_text("A prick with the awl")
        assert not serious(page)
        for width, height in ((390, 844), (810, 1080)):
            page.set_viewport_size({"width": width, "height": height})
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        # A job goes by them, by one touch.
        page.click(f"button[aria-label$='job {job.rsplit('/', 1)[1]}, go by the shop\\'s tests']")
        page.wait_for_url("**/parts/bench*")
        text = answered(job.replace("/jobs/", "/api/jobs/"), "GET")[1]["text"]
        assert 'shop = "shop.toml"' in text
        (beside,) = {each.parent for each in (tmp_path / "shop").glob("beside/*/shop.toml")}
        accuracies = parse_job(text, folder=beside).job.accuracies
        assert "9 readings of this shop in 1 test" in accuracies["prick-awl"].source
        # Struck through: no reason, no stroke; a page that another screen overtook strikes nothing.
        page.goto(f"{app.address}/shop/tests")
        expect(page.locator("#jobs-h + ul .tag")).to_have_text("GOES BY THEM")
        late = screens("desk")
        late.goto(f"{app.address}/shop/tests")
        page.click("#no-2 button")
        expect(page.locator("#wrong")).to_contain_text("Say why, in a few words")
        page.fill("#why-2", "a thick pencil")
        page.click("#no-2 button")
        expect(page.locator("#no-2 .tag")).to_have_text("STRUCK THROUGH")
        expect(page.locator("#no-2")).to_contain_text("a thick pencil")
        late.fill("#why-1", "not this one")
        late.click("#no-1 button")
        expect(late.locator("#wrong")).to_contain_text("Somebody changed the tests meanwhile")
        expect(late.locator("#why-1")).to_have_value("not this one")
        page.click("#no-2 button:has-text('Let it count again')")
        expect(page.locator("#no-2")).to_contain_text("stands apart")


def test_a_file_goes_out_and_comes_in(tmp_path: Path, screens: Screens) -> None:
    """To the letter; one that lacks a test, has faults or is no text is not taken, and says why."""
    with serving(tmp_path / "shop") as app:
        text = 'scribeline_shop = 1\nunits = "in"\n# ours\n[[tests]]\nkind = "bit-runout"\nreadings = [0.003, 0.004]\n'
        page = screens("tablet")

        def bring(content: bytes) -> None:
            page.goto(f"{app.address}/shop/tests")
            page.set_input_files(
                "#tests-file", {"name": "shop.toml", "mimeType": "text/plain", "buffer": content}
            )
            page.click("button:has-text('Bring it in')")

        bring(text.encode())
        expect(page.locator("#no-1")).to_contain_text("0.004 in (0.09 mm)")
        assert kept(app) == text
        with urllib.request.urlopen(f"{app.address}/shop/tests/file") as answer:
            assert answer.read().decode() == text
        for content, says in (
            (b'scribeline_shop = 1\nunits = "mm"\n', "tests are only added"),
            (text.replace("0.003", "true").encode(), "wanted a length"),
            (b"\xff\xfe", "no text in UTF-8"),
            (b"not toml", "not kept"),
        ):
            bring(content)
            expect(page.locator("#wrong")).to_contain_text(says)
        assert kept(app) == text
        assert "is not yet" in json.dumps(
            answered(f"{app.address}/api/shop-tests", "PUT", {"text": text + "on = 2999-01-01\n"})
        )


@pytest.mark.parametrize("kind", list(KINDS))
def test_each_kind_has_its_page(kind: str, app: Served, screens: Screens) -> None:
    """Its picture, its steps, its fields; nothing wider than a phone."""
    page = screens("tablet")
    page.goto(f"{app.address}/shop/tests/new/{kind}")
    page.set_viewport_size({"width": 390, "height": 844})
    expect(page.locator("h1")).to_have_text(KINDS[kind].title)
    expect(page.locator(".picture svg")).to_be_visible()
    expect(page.locator("main ol > li")).to_have_count(len(KINDS[kind].how))
    fields = len(KINDS[kind].places) if KINDS[kind].fixed else 0
    expect(page.locator("input[name^=r]:not([name=read_with])")).to_have_count(fields)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert not serious(page)


def test_several_devices_at_once_lose_nothing(tmp_path: Path) -> None:
    """Eight tests sent in the same moment: each is kept, once."""
    with serving(tmp_path / "shop") as app:

        def send(n: int) -> int:
            form = urllib.parse.urlencode({"readings": f"0.0{n + 1}", "machine": f"press {n}"}).encode()
            asked = urllib.request.Request(f"{app.address}/shop/tests/new/bit-runout", form)
            with urllib.request.urlopen(asked, timeout=PATIENCE / 1000) as answer:
                return int(answer.status)

        with ThreadPoolExecutor(8) as devices:
            assert list(devices.map(send, range(8))) == [200] * 8
        tests = parse_shop_tests(kept(app)).tests
        assert sorted(each.machine for each in tests) == [f"press {n}" for n in range(8)]
