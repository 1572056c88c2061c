"""The pages before they are printed, the print corrected by its bars, the body cut open, and what all of it weighs on the way."""

from __future__ import annotations

import io
import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import numpy as np
import pdfplumber
import pypdfium2
import pytest
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import expect
from tests.conftest import WITHOUT_TUNNELS

from scribeline.job import parse_job
from scribeline.layout import Point3
from scribeline.plan import plan
from scribeline.solid.body import make_body

from .conftest import PATIENCE, Screens, Served, plain_job, serious

PDFS = ("templates.pdf", "sheets.pdf", "steps.pdf")
FIRST_LOAD = 120_000
"""Bytes of scripts and styles that the first page of a job may bring along, as they are sent."""
ARCHED = (Path(__file__).parents[1] / "jobs" / "arched.toml").read_text("utf-8")


@pytest.fixture(scope="module")
def job(app: Served) -> str:
    return plain_job(app)


@pytest.fixture(scope="module")
def client(app: Served) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=app.address, timeout=PATIENCE / 1000, follow_redirects=True) as made:
        yield made


def awaited(ready: Callable[[], str]) -> str:
    """What is asked for again and again until it is there."""
    deadline = time.monotonic() + PATIENCE / 1000
    while time.monotonic() < deadline:
        if found := ready():
            return found
        time.sleep(0.2)
    message = "it did not come"
    raise AssertionError(message)


@pytest.fixture(scope="module")
def sheets(job: str, client: httpx.Client) -> str:
    """The page of the sheets with the pack made."""
    client.post(f"{job}/sheets/make")

    def made() -> str:
        page = client.get(f"{job}/sheets").text
        assert "not made" not in page
        return page if "is made" in page else ""

    return awaited(made)


def leaves(page: str, file: str) -> list[str]:
    """Addresses of the small pictures of a file's pages."""
    return re.findall(rf'src="(/jobs/\d+/sheets/picture/[\w-]+/{re.escape(file)}-\d+-small\.png)"', page)


def grey(picture: bytes, size: tuple[int, int] = (120, 120)) -> NDArray[np.float64]:
    return np.asarray(Image.open(io.BytesIO(picture)).convert("L").resize(size), dtype=float)


def test_each_page_of_a_pdf_is_shown_as_another_reader_of_it_draws_it(
    job: str, sheets: str, client: httpx.Client
) -> None:
    """PDFium reads the PDF that is printed; the picture shown beforehand must be that page, of that size, under its title."""
    for file in PDFS:
        content = client.get(f"{job}/sheets/file/{file}").content
        pdf, small = pypdfium2.PdfDocument(content), leaves(sheets, file)
        assert len(small) == len(pdf)
        shown = [grey(client.get(each).content) for each in small]
        for number in range(0, len(pdf), 5):
            page = pdf[number]
            printed = io.BytesIO()
            page.render(scale=2).to_pil().save(printed, "PNG")
            off = [float(np.abs(grey(printed.getvalue()) - each).mean()) for each in shown]
            assert off.index(min(off)) == number, (
                f"{file}, page {number + 1} is shown as {np.argmin(off) + 1}"
            )
            large = Image.open(
                io.BytesIO(client.get(small[number].replace("-small", "")).raise_for_status().content)
            )
            # At 110 dots an inch, to a dot.
            assert large.size == pytest.approx([side / 72 * 110 for side in page.get_size()], abs=1)
            told = client.get(f"{job}/sheets/page/{file}/{number + 1}").text
            title = re.search(r"<h1>(.*?)</h1>", told)
            assert title is not None
            words = re.sub(r"^Step \d+: | \d+$", "", title[1].split(" · ")[0]).replace("&#39;", "'")
            on_it = " ".join(page.get_textpage().get_text_bounded().split())
            assert words in on_it, f"{file}, page {number + 1}"
            assert ("A4 lying" if file == "sheets.pdf" else "A4 upright") in told
    for file in ("body.dxf", "body.svg", "neck.dxf"):
        assert len(leaves(sheets, file)) == 1


def test_a_pdf_opens_in_the_browser_and_nothing_else_does(
    job: str, sheets: str, client: httpx.Client
) -> None:
    assert "not fitted to the page" in sheets
    assert "200 mm" in sheets
    shown = client.get(f"{job}/sheets/file/templates.pdf?show=yes")
    assert shown.headers["content-disposition"].startswith("inline")
    assert client.get(f"{job}/sheets/file/templates.pdf").headers["content-disposition"].startswith("attach")
    assert (
        client.get(f"{job}/sheets/file/body.svg?show=yes").headers["content-disposition"].startswith("attach")
    )
    leaf = leaves(sheets, "sheets.pdf")[0]
    for none in (
        leaf.replace("-1-", "-99-"),
        re.sub(r"pack-\w+", "pack-0", leaf),
        leaf.rsplit("/", 1)[0] + "/pages.json",
        f"{job}/sheets/page/sheets.pdf/99",
        f"{job}/sheets/page/plan.json/1",
    ):
        assert client.get(none).status_code == 404, none


def _joins_apart(pdf: bytes) -> tuple[float, float]:
    """How far the letters of the joins on the second page stand apart, across and up, in points, as another reader finds them."""
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        found = [each for each in read.pages[1].extract_words() if re.fullmatch(r"[A-Z][a-z]", each["text"])]
    across, up = ([float(each[side]) for each in found] for side in ("x0", "top"))
    apart = max(across) - min(across), max(up) - min(up)
    assert min(apart) > 100, found
    return apart


def test_an_untrue_print_is_corrected_at_once_and_judged_by_its_correction(
    app: Served, client: httpx.Client
) -> None:
    job = plain_job(app, WITHOUT_TUNNELS.replace('name = "Marram"', 'name = "Bars"'))
    bars = f"{job}/sheets/bars"
    page = client.post(bars, data={"across": "197.4", "up": "198"}).text
    assert "VOID" in page
    assert "101.32 % across and 101.01 % up" in page  # 200 / 197.4 and 200 / 198, by hand

    def made() -> str:
        page = client.get(f"{job}/sheets").text
        return page if "templates-corrected.pdf?show=yes" in page else ""

    page = awaited(made)
    corrected = client.get(f"{job}/sheets/file/templates-corrected.pdf").content
    client.post(f"{job}/sheets/make")
    awaited(lambda: "yes" if "is made" in client.get(f"{job}/sheets").text else "")
    plain = client.get(f"{job}/sheets/file/templates.pdf").content
    # The letters of the joins stand by so much further apart.
    for found, was, factor in zip(
        _joins_apart(corrected), _joins_apart(plain), (200 / 197.4, 200 / 198), strict=True
    ):
        assert found == pytest.approx(was * factor, rel=1e-3)
    on = re.findall(r'name="on" value="([^"]+)"', page)
    assert on == ["plain", "1.013171 1.010101"]
    for wrong in ("", "both", "9 9", "nan nan", "1"):
        refused = client.post(bars, data={"across": "200", "up": "200", "on": wrong})
        assert refused.status_code == 422
        assert "which print you measured" in refused.text
    again = client.post(bars, data={"across": "199.5", "up": "200", "on": on[1]}).text
    # Too small still: 101.3171 % × 200 / 199.5, by hand.
    assert "101.57 % across and 101.01 % up" in again
    good = client.post(bars, data={"across": "200", "up": "200", "on": on[1]}).text
    assert "GOOD FOR EVERYTHING" in good
    assert "the corrected print" in good
    assert "101.32 % across" in good  # it is what stays to be printed
    true = client.post(bars, data={"across": "200", "up": "200", "on": "plain"}).text
    assert "GOOD FOR EVERYTHING" in true
    assert 'id="corrected"' not in true


def _brought(client: httpx.Client, address: str) -> dict[str, int]:
    """Bytes on the way of every script and style that a page brings along, modules' modules too."""
    sizes: dict[str, int] = {}
    ahead = re.findall(r'(?:src|href)="(/static/[^"]+\.(?:js|css))"', client.get(address).text)
    while ahead:
        path = ahead.pop()
        if path in sizes:
            continue
        with client.stream("GET", path) as answer:
            text = answer.read().decode()
            sizes[path] = answer.num_bytes_downloaded
            # Short ones are not worth it.
            assert (answer.headers.get("content-encoding") == "gzip") is (len(text) >= 1000), path
        ahead += [f"/static/{each}" for each in re.findall(r'(?:from|import)\s*\(?"\./([^"]+\.js)"', text)]
    return sizes


def test_the_first_page_of_a_job_is_light(job: str, client: httpx.Client) -> None:
    sizes = _brought(client, f"{job}/plan")
    assert {"/static/app.css", "/static/htmx.min.js", "/static/drawing.js"} <= set(sizes)
    assert not any("three" in path for path in sizes)
    assert sum(sizes.values()) < FIRST_LOAD, sizes


def test_what_must_arrive_as_it_is_is_not_packed(job: str, sheets: str, client: httpx.Client) -> None:
    assert sheets
    with client.stream("GET", "/news") as stream:
        assert "content-encoding" not in stream.headers
        assert next(stream.iter_lines()).startswith("retry:")  # at once, while the stream stays open
    for path in (
        f"{job}/sheets/file/steps.pdf",
        f"{job}/sheets/file/everything.zip",
        leaves(sheets, "sheets.pdf")[0],
    ):
        assert "content-encoding" not in client.get(path).headers, path
    part = client.get("/static/app.css", headers={"Range": "bytes=10-19"})
    assert (part.status_code, len(part.content)) == (206, 10)
    plain = client.get("/static/app.css", headers={"Accept-Encoding": "identity"})
    assert "content-encoding" not in plain.headers
    assert plain.content == client.get("/static/app.css").content


def test_pages_are_looked_at_and_the_body_is_cut_open_by_hand(
    app: Served, job: str, sheets: str, screens: Screens
) -> None:
    assert sheets
    page = screens("tablet across")
    page.goto(f"{job}/sheets")
    first = page.locator("#sheets-pdf .proofs a").first
    first.scroll_into_view_if_needed()
    page.wait_for_function("() => document.querySelector('#sheets-pdf .proofs img').naturalWidth > 0")
    assert not serious(page)
    first.click()
    page.wait_for_function("() => document.querySelector('.proof img')?.naturalWidth > 1000")
    page.click("text=Next page")
    expect(page.locator("main")).to_contain_text("page 2 of")
    assert not serious(page)

    arched = plain_job(app, ARCHED)
    page.goto(f"{arched}/solid")
    page.wait_for_selector("#scene[data-drawn]")
    legend = page.locator(".legend")
    expect(legend).to_contain_text("Cap: Sugar maple, 14.0 mm")
    expect(page.locator("#scene")).to_have_attribute("data-layers", "2")
    seen = set()
    for way in ("Slanting", "Top face", "Back", "Bass side", "Treble side", "Neck end", "Tail end"):
        page.click(f"button[data-way]:has-text('{way}')")
        expect(page.locator("button[data-way][aria-pressed=true]")).to_have_text(way)
        seen.add(page.locator("#scene").screenshot())
    assert len(seen) == 7
    page.check("input[name=through][value=x]")
    slider = page.locator("#where")
    bounds = slider.bounding_box()
    assert bounds is not None
    assert bounds["height"] >= 48
    before = float(slider.input_value())
    slider.press("ArrowRight")
    assert float(slider.input_value()) == before + 0.5
    planned = plan(*parse_job(ARCHED))
    layout = planned.layout
    body = make_body(layout.outline, layout.thickness, planned.features, form=layout.body)

    def cut_wood() -> list[float]:
        return [float(each) for each in str(page.get_attribute("#scene", "data-cut-wood")).split()]

    # The kernel cuts the same body by the same plane.
    at = float(slider.input_value())
    kernel = body.layer_sections(Point3(at + 1e-4, 0.0, 0.0), Point3(1.0, 0.0, 0.0), Point3(0.0, 1.0, 0.0))
    assert cut_wood() == pytest.approx([section.area_mm2 for _, section in kernel], rel=1e-3)
    page.check("input[name=through][value=z]")
    slider.press("Home")
    slider.press("PageUp")
    assert cut_wood()[0] > 0
    page.check("input[name=through][value=y]")
    slider.evaluate("each => { each.value = -20; each.dispatchEvent(new Event('input', {bubbles: true})); }")
    kernel = body.layer_sections(Point3(0.0, 0.0, -20.0), Point3(0.0, 0.0, 1.0), Point3(1.0, 0.0, 0.0))
    assert cut_wood() == pytest.approx([section.area_mm2 for _, section in kernel], rel=1e-3, abs=1)
    expect(page.locator("#plane")).to_contain_text("20.0 mm (0.787 in) below the top")
    expect(page.locator("#meets")).to_contain_text("bridge pickup")  # 22 mm deep
    page.click("#flip")
    page.uncheck("input[data-from=back]")
    assert not serious(page)
    assert not screens.said
