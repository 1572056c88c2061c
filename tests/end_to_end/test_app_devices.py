"""Devices of the shop's network: what they may be called, who is let in, and how one is shut out alone."""

from __future__ import annotations

import json
import re
import socket
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import httpx
import pytest

from scribeline.store import StoreError
from scribeline.web.door import LIST_FILE, PAIRED_FOR_S, Door, own_address
from scribeline.web.guard import SESSION
from scribeline.web.names import device_name, skeleton

from .conftest import serving
from .test_app_hostile import TEXT, Network


@pytest.fixture
def network(tmp_path: Path) -> Iterator[Network]:
    made = Network(tmp_path)
    yield made
    made.store.close()


@pytest.mark.parametrize(
    "name",
    [
        "Ann's tablet",
        "the tablet",
        "Tablet 2 (drill press)",
        "Åsas surfplatta",
        "tableta nº 2",
        "Верстак",
        "作業台のタブレット",
        "태블릿",
        "टैबलेट",
        "shop tablet",
        "Tablet 作業台",
    ],
)
def test_names_that_people_give(name: str) -> None:
    assert device_name(name) == name
    assert device_name(f"  {name.replace(' ', '  ')} ") == name


@pytest.mark.parametrize(
    "name",
    [
        "this machine",
        "This  Machine",
        "THIS-MACHINE",
        "thismachine 2",
        "th\u0131s machine",
        "this mach1ne",
        "this rnachine",
        "thıs ṁaçhíné",
        "ｔｈｉｓ　ｍａｃｈｉｎｅ",
        "ᴛʜɪꜱ ᴍᴀᴄʜɪɴᴇ",
        "𝐭𝐡𝐢𝐬 𝐦𝐚𝐜𝐡𝐢𝐧𝐞",
        "ⓣⓗⓘⓢ machine",
        "тһіѕ масһіпе",
        "the shop's PC",
        "Shop computer",
        "owner",
        "0wner",
        "The job file",
        "scribeline",
        "localhost",
    ],
)
def test_names_that_pass_for_the_shops_own_machine(name: str) -> None:
    with pytest.raises(StoreError, match="like the shop's own PC"):
        device_name(name)


def test_the_machines_own_name_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("socket.gethostname", lambda: "bench-pc")
    with pytest.raises(StoreError, match="like the shop's own PC"):
        device_name("Bench PC")


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("", "is empty"),
        ("   ", "is empty"),
        ("x" * 41, "has 41 characters; 40 is the most"),
        ("tab\nlet", "cannot be printed"),
        ("tab\tlet", "cannot be printed"),
        ("tab\x1b[31mlet", "cannot be printed"),
        ("tab\x9blet", "cannot be seen"),
        ("tab\u200blet", "cannot be seen"),
        ("tab\u202elet", "cannot be seen"),
        ("tab\u2028let", "cannot be seen"),
        ("tab\ue000let", "cannot be seen"),
        ("tab\u3164let", "cannot be seen"),
        ("\u2800", "cannot be seen"),
        ("t" + "\u0301" * 3, "cannot be seen"),
        ("tаblet", "mixes letters of two alphabets"),
        ("...", "neither a letter nor a digit"),
    ],
)
def test_names_that_cannot_be_read(name: str, told: str) -> None:
    with pytest.raises(StoreError, match=told):
        device_name(name)


def test_a_name_that_is_refused_is_told_and_the_code_still_serves(network: Network) -> None:
    code = network.door.code()
    refused = network.pair(code, name="This machine")
    assert refused.status_code == 422
    assert "own PC" in refused.text
    assert code in refused.text
    assert network.pair(code, name="Ann's tablet").status_code == 303


def test_one_device_is_shut_out_alone(network: Network, tmp_path: Path) -> None:
    network.store.create(TEXT, by="Ann")
    ended: list[str] = []
    network.door.ended = ended.append
    first, second = (
        network.pair(network.door.code(), name="the tablet", device=address).cookies[SESSION]
        for address in ("192.168.7.20", "192.168.7.21")
    )
    own: dict[str, Any] = {"device": "127.0.0.1", "host": "127.0.0.1:8437"}
    page = network.ask("GET", "/shop", **own).text
    assert "the tablet 2" in page
    assert "not here since the app was started" in page
    assert network.ask("GET", "/api/jobs", "192.168.7.20", cookie=first).status_code == 200
    assert "from 192.168.7.20" in network.ask("GET", "/shop", **own).text
    by_name = {each.name: each.id for each in network.door.devices()}
    assert [*by_name] == ["the tablet 2", "the tablet"]

    shut = {"device": by_name["the tablet"]}
    assert network.ask("POST", "/shop/shut-out", cookie=second, data=shut).status_code == 403
    assert "the tablet 2" not in network.ask("GET", "/shop", cookie=second).text
    assert network.ask("POST", "/shop/shut-out", **own, data=shut).status_code == 303
    assert ended == [by_name["the tablet"]]
    assert network.ask("GET", "/api/jobs", cookie=first).status_code == 401
    assert network.ask("GET", "/jobs/1/plan", cookie=first).headers["location"] == "/pair"
    assert network.ask("GET", "/api/jobs", cookie=second).status_code == 200
    again = Door(tmp_path, 8437)
    assert again.device(first) is None
    assert again.device(second) is not None

    network.ask("POST", "/shop/shut-out", **own, data={"device": "nobody's"})
    assert [each.name for each in network.door.devices()] == ["the tablet 2"]
    network.ask("POST", "/shop/forget", **own)
    assert ended[-1] == by_name["the tablet 2"]
    assert network.door.devices() == []
    assert network.ask("GET", "/api/jobs", cookie=second).status_code == 401


def test_the_list_of_devices(tmp_path: Path) -> None:
    """It is its owner's alone; a spoilt one lets nobody in; what is too old goes from it."""
    now = [1e9]
    door = Door(tmp_path, 1, now=lambda: now[0])
    old = door.session("old")
    path = tmp_path / LIST_FILE
    assert path.stat().st_mode & 0o777 == 0o600
    now[0] += PAIRED_FOR_S + 10
    assert door.devices() == []
    assert door.device(old) is None
    door.session("new")
    assert [each["name"] for each in json.loads(path.read_bytes())] == ["new"]
    path.write_bytes(b'[{"id": 1')
    assert Door(tmp_path, 1).devices() == []


def test_a_skeleton_is_what_a_name_looks_like() -> None:
    assert skeleton("Tablet 10") == skeleton("TABLET-IO") != skeleton("Tablet 2")


def test_whatever_a_device_has_open_ends_when_it_is_shut_out(tmp_path: Path) -> None:
    """At the real server: a change that is half sent gets no answer any more, not even that it took too long."""
    here = own_address()
    if here == "127.0.0.1":
        pytest.skip("this machine is in no network")
    with (
        serving(tmp_path, "--share") as app,
        httpx.Client(base_url=app.address, timeout=60) as owner,
        httpx.Client(base_url=f"http://{here}:{app.port}", timeout=60) as tablet,
    ):
        found = re.search(r"[A-Z0-9]{3}-[A-Z0-9]{3}", owner.get("/shop").text)
        assert found
        assert tablet.post("/pair", data={"code": found[0], "name": "the tablet"}).status_code == 303
        with socket.create_connection((here, app.port), timeout=60) as line:
            cookie = f"cookie: {SESSION}={tablet.cookies[SESSION]}\r\n"
            head = f"host: {here}:{app.port}\r\n{cookie}"
            line.sendall(f"HEAD /static/mark.svg HTTP/1.1\r\n{head}\r\n".encode())
            assert line.recv(65536).startswith(b"HTTP/1.1 200")
            line.sendall(f"POST /api/jobs HTTP/1.1\r\n{head}content-length: 9\r\n\r\n".encode())
            assert tablet.get("/api/jobs").status_code == 200
            shown = re.search(r'name="device" value="(\w+)"', owner.get("/shop").text)
            assert shown
            assert owner.post("/shop/shut-out", data={"device": shown[1]}).status_code == 303
            with suppress(ConnectionResetError):
                assert line.recv(65536) == b""
        assert tablet.get("/api/jobs").status_code == 401
