"""An edit in the app reads the job's text once: what is read is handed on, and the record is never pasted into the text."""

from __future__ import annotations

import asyncio
import tomllib
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pytest
import tomlkit
from fastapi import FastAPI
from tests.conftest import WITHOUT_TUNNELS

from scribeline.job import Document, parse_job, read_record, toml_values
from scribeline.operations import cuts_of
from scribeline.plan import plan
from scribeline.store import Store, open_store
from scribeline.web.app import create_app
from scribeline.web.shop import Shop

READERS = ((tomllib, "loads"), (tomlkit, "parse"), (Document, "model_validate"))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "shop.db") as made:
        yield made


@pytest.fixture
def app(store: Store, tmp_path: Path) -> FastAPI:
    """The app in this process, so that whatever it reads can be counted."""
    return create_app(Shop(store, tmp_path))


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """How often each reader was called; nothing is remembered from before."""
    toml_values.cache_clear()
    found: Counter[str] = Counter()
    for owner, name in READERS:
        read: Callable[..., Any] = getattr(owner, name)

        def count(*given: Any, read: Callable[..., Any] = read, name: str = name, **named: Any) -> Any:
            found[name] += 1
            return read(*given, **named)

        monkeypatch.setattr(owner, name, count)
    return found


def _edit(app: FastAPI, store: Store, job: int, spacing: str) -> None:
    """Type another spacing and look at the page that it leads to."""
    before, page = store.revision(job).number, f"/jobs/{job}/parts/bridge"
    given = {"key": "bridge.spacing", "value": spacing, "based_on": str(before), "back": page}

    async def sent() -> httpx.Response:
        line = httpx.ASGITransport(app, client=("127.0.0.1", 5000))
        async with httpx.AsyncClient(
            transport=line, base_url="http://localhost", follow_redirects=True
        ) as client:
            return await client.post(f"/jobs/{job}/set", data=given)

    with ThreadPoolExecutor(1) as beside:  # the browser's own loop may run in this thread
        assert spacing in beside.submit(lambda: asyncio.run(sent())).result().text
    assert store.revision(job).number == before + 1


@pytest.mark.parametrize("drilled", [False, True], ids=["nothing drilled", "string holes drilled"])
def test_an_edit_reads_the_job_once(
    app: FastAPI, store: Store, counted: Counter[str], *, drilled: bool
) -> None:
    job = store.create(WITHOUT_TUNNELS, by="Ann").job_id
    if drilled:
        before = plan(*parse_job(WITHOUT_TUNNELS))
        card = next(each for each in before.cards if each.id == "drill-string-holes")
        cuts = [cut.plain for cut in cuts_of(card, before.every_cut)]
        store.tick(job, card.id, by="Ann", revision=1, features=cuts)
    counted.clear()
    _edit(app, store, job, "10.55 +/- 0.05")
    assert counted["parse"] == 1  # with its comments, which the edits after it find as the last one left them
    for spacing in ("10.5 +/- 0.05", "10.57 +/- 0.05"):
        counted.clear()
        _edit(app, store, job, spacing)
        assert counted == {"loads": 1, "model_validate": 1}


def test_the_record_beside_the_text_is_the_record_in_it(store: Store) -> None:
    """Planned with its record apart, as the app does it, and from its exported file, as the commands do: one plan."""
    job = store.create(WITHOUT_TUNNELS, by="Ann").job_id
    before = plan(*parse_job(WITHOUT_TUNNELS))
    for card in before.cards[:12]:
        store.tick(
            job,
            card.id,
            by="Ann",
            revision=1,
            features=[cut.plain for cut in cuts_of(card, before.every_cut)],
        )
    gate = next(card for card in before.cards if card.gate.value is not None)
    store.read(
        job,
        gate.id,
        1.0,
        by="Ann",
        with_what="calliper",
        revision=1,
        risk="the wood says so",
        limits=(0.5, None),
    )
    stop = {
        "code": "web.thin",
        "features": ["string-hole-1"],
        "value": 1.0,
        "limit": 2.0,
        "says": "it is thin",
    }
    store.override(job, stop, reason="it is scrap anyway", by="Ann", revision=1)
    apart = read_record(Shop(store, Path()).record(job))
    pasted = parse_job(store.export(job, with_record=True)).record
    assert apart.done
    assert apart.overrides
    assert apart.done == pasted.done
    assert apart.overrides == pasted.overrides
    ticked = {each.card for each in pasted.done}
    assert apart.readings == tuple(each for each in pasted.readings if each.card in ticked)
