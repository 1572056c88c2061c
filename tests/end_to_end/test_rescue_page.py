"""The app's page Rescue: what is off, one cut as it was typed, what cannot be; the drawing to scale; ways to get there."""

from __future__ import annotations

import asyncio
import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest

from scribeline.drawing.rescue_view import way_view
from scribeline.drawing.sheet import Circle
from scribeline.drawing.sheet import Path as Outline
from scribeline.rescue import Found
from scribeline.store import open_store
from scribeline.web.app import create_app
from scribeline.web.shop import Shop

from ..rescued import TEXT, found, made_text, way

PILOTS = ("rout-neck-pocket", "drill-bridge-screws", "drill-string-holes")
WRONG = {"string-hole-3": (0.8, -0.3)}
ROOM = (0.0, 0.0, 84.0, 88.0)


def asked(folder: Path, text: str, *addresses: str) -> list[httpx.Response]:
    """The app's answers about a job that was brought in with its record, one after the other."""
    store = open_store(folder / "shop.db")
    app = create_app(Shop(store, folder, port=8437))
    store.import_(text, "Ann")

    async def ask() -> list[httpx.Response]:
        transport = httpx.ASGITransport(app, client=("127.0.0.1", 4711))
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1:8437") as client:
            return [await client.get(each, timeout=600) for each in addresses]

    # In a thread of its own: a browser's test before this one may have left a loop running in ours.
    with ThreadPoolExecutor(1) as aside:
        answers = aside.submit(asyncio.run, ask()).result()
    store.close()
    return answers


def words(page: httpx.Response) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page.text).split())


def test_what_is_off_stands_there_with_its_ways_and_can_be_got_to(tmp_path: Path) -> None:
    page, checks, step = asked(
        tmp_path,
        made_text(PILOTS, WRONG),
        "/jobs/1/rescue",
        "/jobs/1/checks",
        "/jobs/1/steps/drill-string-holes?hole=3",
    )
    assert page.status_code == 200
    told = words(page)
    assert "S3, string hole 0.80 mm too far towards the tail, 0.30 mm too far to the bass." in told
    assert "1. Plug S3 with 9.50 mm and drill anew" in told
    assert "2.15 mm (at least 2.00 mm)" in told
    assert "What breaks a limit" in told
    assert told.count("Clamp or fence the body.") == 1  # the usual cautions once a page
    assert page.text.count("<svg") >= 2
    assert "\ue000" not in page.text
    for other in (checks, step):
        assert "/jobs/1/rescue?cut=string-hole-3" in other.text


def test_a_cut_is_asked_about_as_it_was_typed_and_nothing_is_kept(tmp_path: Path) -> None:
    hole, pocket, screw, text = asked(
        tmp_path,
        made_text(PILOTS),
        "/jobs/1/rescue?cut=string-hole-2&along=-0.8&across=",
        "/jobs/1/rescue?cut=neck-pocket&width=57.2&angle=1",
        "/jobs/1/rescue?cut=bridge-screw-1&stripped=yes",
        "/api/jobs/1/export",
    )
    assert "0.80 mm too far towards the nut" in words(hole)
    assert 'value="-0.8"' in hole.text
    assert "/jobs/1/steps/drill-string-holes?hole=2" in hole.text
    assert "A full taper shim" in words(pocket)
    assert "Its screw does not hold any more" in words(screw)
    assert "A thicker screw, no. 8" in words(screw)
    assert "measured" not in text.text.partition("[[done]]")[2]


@pytest.mark.parametrize(
    ("query", "why"),
    [
        ("cut=string-hole-3&along=lots", "too far towards the tail: cannot read"),
        ("cut=string-hole-3&along=70", "cannot lie 70.00 mm"),
        ("cut=string-hole-3&depth=-1", "over 0"),
        ("cut=string-hole-9", "no cut is called"),
        ("cut=ground-wire", "is not made yet"),
        ("cut=neck-pocket&angle=50", "was misread"),
        ("cut=<script>", "no cut is called"),
    ],
)
def test_what_cannot_be_is_told_and_what_was_typed_stays(tmp_path: Path, query: str, why: str) -> None:
    (page,) = asked(tmp_path, made_text(PILOTS), f"/jobs/1/rescue?{query}")
    assert page.status_code == 422
    assert why.lower() in words(page).lower()
    assert "<script>" not in page.text.replace('<script src="', "")
    typed = re.search(r"along=([^&]+)", query)
    if typed is not None:
        assert f'value="{typed[1]}"' in page.text


def test_a_job_with_nothing_made_says_that_it_can_move(tmp_path: Path) -> None:
    (page,) = asked(tmp_path, TEXT, "/jobs/1/rescue")
    assert page.status_code == 200
    assert "what is planned can simply move" in words(page)


def test_the_drawing_is_to_scale_and_keeps_to_its_room() -> None:
    """S3 0.8 and 0.3 off under a 9.5 plug: at 2:1 the plug is 19 across, its middle 1.6 and 0.6 from the new hole's."""
    marks = way_view(way(found("S3", Found(off=(0.8, -0.3))), "plug").drawn, ROOM)
    circles = [each for each in marks if isinstance(each, Circle)]
    assert [each.layer.name for each in circles] == ["hidden", "outline", "cut"]
    old, plug, new = circles
    scale = plug.radius / 4.75
    assert scale == pytest.approx(2.0)
    assert (old.radius, new.radius) == pytest.approx((3.5, 3.5))
    assert old.centre == pytest.approx(plug.centre)
    assert (old.centre[0] - new.centre[0], old.centre[1] - new.centre[1]) == pytest.approx((1.6, -0.6))
    outlines = [each for each in marks if isinstance(each, Outline) and each.layer.name == "phantom"]
    assert outlines
    for x, y in (place for each in outlines for place in each.points):
        assert ROOM[0] - 1e-6 <= x <= ROOM[2] + 1e-6
        assert ROOM[1] - 1e-6 <= y <= ROOM[3] + 1e-6
    # The plate's rear edge lies 6.95 + 4.75 = 11.70 behind the plug's middle: 23.40 on the paper.
    assert max(x for each in outlines for x, _ in each.points) - plug.centre[0] == pytest.approx(
        23.4, abs=0.01
    )
    assert way_view((), ROOM) == ()
