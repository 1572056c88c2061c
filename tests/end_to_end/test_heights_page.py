"""The app's page of heights: each way that closes the chain can be tried, and is not kept by that."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest

from scribeline.store import open_store
from scribeline.web.app import create_app
from scribeline.web.shop import Shop

from ..conftest import SHIPPED


def asked(folder: Path, *addresses: str) -> list[httpx.Response]:
    """The app's answers about the demo, one after the other, and the demo's file at the end."""
    store = open_store(folder / "shop.db")
    app = create_app(Shop(store, folder, port=8437))
    store.create(SHIPPED, by="Ann")

    async def ask() -> list[httpx.Response]:
        transport = httpx.ASGITransport(app, client=("127.0.0.1", 4711))
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1:8437") as client:
            return [await client.get(each, timeout=600) for each in addresses]

    # In a thread of its own: a browser's test before this one may have left a loop running in ours.
    with ThreadPoolExecutor(1) as aside:
        found = aside.submit(asyncio.run, ask()).result()
    store.close()
    return found


@pytest.mark.parametrize(
    ("key", "stated"),
    [
        ("neck.pocket_depth", "16.45 mm"),
        ("neck.angle", "-0.15"),
        ("neck.board_thickness", "24.75 mm"),
        ("bridge.saddle_height", "12.65 mm"),
    ],
)
def test_a_way_is_tried_and_not_kept(key: str, stated: str, tmp_path: Path) -> None:
    """Values of the demo (our own earlier output); what they come to is held by the chain's own tests."""
    tried, text = asked(tmp_path, f"/jobs/1/heights/try?key={key}", "/jobs/1/text")
    assert tried.status_code == 200
    assert f'name="value" value="{stated}"' in tried.text
    assert "Nothing is kept yet" in tried.text
    assert "revision" in text.text
    assert stated not in text.text


def test_what_closes_nothing_cannot_be_tried(tmp_path: Path) -> None:
    shim, unknown, page = asked(
        tmp_path, "/jobs/1/heights/try?key=neck.shim", "/jobs/1/heights/try?key=x", "/jobs/1/heights"
    )
    assert shim.status_code == unknown.status_code == 404
    assert "cannot close it" in page.text
