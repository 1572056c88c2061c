"""Devices of another network: a crowd that opens connections and comes to nothing, and a tablet that works.

    python strangers.py crowd PORT HOST SECONDS CONNECTIONS ADDRESS...
    python strangers.py crowd-over-https PORT HOST SECONDS CONNECTIONS ADDRESS...
    python strangers.py tablet PORT HOST SECONDS ADDRESS CODE

Both print one line of JSON: what was counted, or how long each edit took in seconds. Standard library alone, so that
it starts anywhere.
"""

from __future__ import annotations

import asyncio
import json
import socket
import ssl
import sys
import time
import urllib.parse
from collections import Counter
from http.client import HTTPConnection

AGAIN_S = 1.0
"""So soon whoever was closed comes back, and so often a slow one says another byte."""

ESTABLISHED = b"\x01"
"""A connection that neither side has ended (Linux, enum in netinet/tcp.h)."""


def is_there(writer: asyncio.StreamWriter) -> bool:
    """Whether the other side has not ended it; what it sent need not be read for that."""
    if writer.transport.is_closing():
        return False
    line = writer.get_extra_info("socket")
    return bool(line.getsockopt(socket.IPPROTO_TCP, socket.TCP_INFO, 1) == ESTABLISHED)


async def crowd(
    port: int,
    host: str,
    seconds: float,
    connections: int,
    addresses: list[str],
    *,
    over_https: bool = False,
) -> Counter[str]:
    """So many at once that say nothing, half a head, half a body, or take nothing of their answer; each comes back at once.

    Over https every second one agrees on the keys first; the others say there what they say over http.
    """
    greeting = ssl.create_default_context()
    greeting.check_hostname, greeting.verify_mode = False, ssl.CERT_NONE
    until = time.monotonic() + seconds
    counted: Counter[str] = Counter()
    name = f"host: {host}:{port}\r\n"
    kinds = {
        "says nothing": "",
        "half a head": f"GET / HTTP/1.1\r\n{name}x-slow: ",
        "half a body": f"POST /pair HTTP/1.1\r\n{name}content-length: 3000\r\n\r\n",
        "takes nothing": f"GET /static/three/three.min.js HTTP/1.1\r\n{name}\r\n",
    }

    async def one(number: int) -> None:
        kind = [*kinds][number % len(kinds)]
        await asyncio.sleep(AGAIN_S * number / connections)
        while time.monotonic() < until:
            began = time.monotonic()
            greets = over_https and number // len(kinds) % 2 == 0
            await slow(kind, addresses[number % len(addresses)], greeting if greets else None)
            await asyncio.sleep(max(0.0, min(began + AGAIN_S, until) - time.monotonic()))

    async def slow(kind: str, address: str, greeting: ssl.SSLContext | None) -> None:
        try:
            async with asyncio.timeout(20):
                _, writer = await asyncio.open_connection(
                    host, port, local_addr=(address, 0), limit=1000, ssl=greeting
                )
        except (OSError, TimeoutError):
            counted["did not come through"] += 1
            return
        counted["opened" if greeting is None else "opened, with keys"] += 1
        writer.write(kinds[kind].encode())
        while time.monotonic() < until and is_there(writer):
            if kind in {"half a head", "half a body"}:
                writer.write(b"x")
            await asyncio.sleep(AGAIN_S)
        if time.monotonic() < until:
            counted["closed by the app"] += 1
        writer.close()

    await asyncio.gather(*(one(number) for number in range(connections)))
    return counted


def tablet(port: int, host: str, seconds: float, address: str, code: str) -> list[float]:
    """Pair, then change a value twice a second, each time over a connection of its own."""
    cookie = ""

    def ask(path: str, body: str, kind: str) -> bytes:
        nonlocal cookie
        line = HTTPConnection(host, port, timeout=60, source_address=(address, 0))
        line.request("POST", path, body, {"content-type": kind, "cookie": cookie})
        answer = line.getresponse()
        cookie = (answer.getheader("set-cookie") or cookie).split(";")[0]
        said = answer.read()
        line.close()
        assert answer.status in {201, 303}, (answer.status, said)
        return said

    ask(
        "/pair",
        urllib.parse.urlencode({"code": code, "name": "Ann's tablet"}),
        "application/x-www-form-urlencoded",
    )
    job = json.loads(
        ask("/api/jobs", json.dumps({"text": 'name = "Tablet"\nframe = 1\n'}), "application/json")
    )
    took: list[float] = []
    until = time.monotonic() + seconds
    newest = 1
    while time.monotonic() < until:
        began = time.monotonic()
        edit = {"text": f'name = "Tablet {len(took)}"\n', "based_on": newest}
        path = f"/api/jobs/{job['job_id']}/revisions"
        newest = json.loads(ask(path, json.dumps(edit), "application/json"))["number"]
        took.append(time.monotonic() - began)
        time.sleep(max(0.0, 0.5 - took[-1]))
    return took


def main() -> None:
    what, port, host, seconds, *rest = sys.argv[1:]
    if what.startswith("crowd"):
        connections, *addresses = rest
        made = crowd(
            int(port),
            host,
            float(seconds),
            int(connections),
            addresses,
            over_https=what == "crowd-over-https",
        )
        print(json.dumps(asyncio.run(made)))  # noqa: T201
    else:
        print(json.dumps(tablet(int(port), host, float(seconds), *rest)))  # noqa: T201


if __name__ == "__main__":
    main()
