"""The guard at the app's door: what it lets through, and what it says to the rest.

Everything is refused with a sentence before the app sees it: a request under another name than this machine's (a page
elsewhere that has its own name point here), a change asked for by another site's page, a device that is not paired, a
path with tricks in it, a body larger than what is asked for there. Whatever the app answers carries headers that let
its pages load nothing from elsewhere and stand in no other page.
"""

from __future__ import annotations

import asyncio
import ipaddress
import re
import socket
from dataclasses import dataclass
from html import escape
from json import dumps
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote, urlsplit

from scribeline.web.door import Door

if TYPE_CHECKING:
    from fastapi import FastAPI
    from starlette.requests import HTTPConnection
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

SESSION = "scribeline-paired"
"""Cookie of a paired device."""

SECURE_SESSION = f"__Host-{SESSION}"
"""The same over https: by its name a browser takes it over https alone, and gives it to nobody else (RFC 6265bis, 4.1.3.2)."""

DEVICE = "device"
"""Where a request's state says which paired device asks."""

LARGEST_BODY = 4_000_000
"""Bytes: a job file with everything that was recorded for it, as a form sends it."""

LARGEST_FILE = 21_000_000
"""Bytes: a drawing of an outline as large as the outline's reader takes, with its form around it."""

LARGEST_KNOCK = 4_000
"""Bytes of a body from a device that is not paired."""

PATIENCE_S = 30.0
"""How long a body may take to arrive."""

METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS"})
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})

_FILES = re.compile(r"(/api)?/jobs/\d+/files(/|$)|/import$|(/api)?/jobs/\d+/outline(/|$)")
_OPEN = re.compile(r"/pair$|/pair/(trusted|over)$|/static/|/face/")
"""What a device that is not paired may see: the page that pairs it, what that page is made of, and the way over to https."""

_TRICK = re.compile(r"[\x00-\x1f\x7f\\]|(^|/)\.\.?(/|$)|//")

POLICY = "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; frame-src 'none'; object-src 'none'"

HEADERS: tuple[tuple[bytes, bytes], ...] = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"same-origin"),  # with none at all a form would say its origin is null
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=(), screen-wake-lock=(self)"),
)


def install(app: FastAPI, *, share: bool, folder: Path, port: int, secure_port: int = 0) -> None:
    """Put the guard before an app.

    Args:
        app: the app.
        share: whether paired devices of the shop's network may come in.
        folder: the data folder, where the key of the sessions lies.
        port: where the app answers; 0 where that is not known, and not looked at then.
        secure_port: the same over https.
    """
    app.state.door = Door(folder, port) if share else None
    app.add_middleware(Guard, door=app.state.door, port=port, secure_port=secure_port)


def door(request: HTTPConnection) -> Door | None:
    """The door of a shared app; None where only this machine may come in."""
    found: Door | None = getattr(request.app.state, "door", None)
    return found


def is_secure(request: HTTPConnection) -> bool:
    """Whether a request came over https."""
    return bool(request.scope.get("scheme") == "https")


def host(request: HTTPConnection) -> str:
    """The name or address of this machine that a request was sent to."""
    return _split_host(request.headers.get("host", ""))[0]


def is_local(request: HTTPConnection) -> bool:
    """Whether a request comes from this machine itself."""
    return request.client is not None and is_loopback(request.client.host)


@dataclass(frozen=True, slots=True)
class Refusal(Exception):  # noqa: N818 - it is an answer
    """What is answered instead of letting a request through.

    Attributes:
        status: of the answer.
        sentence: what is wrong and what to do.
        to: where a page that was asked for is found instead.
    """

    status: int
    sentence: str
    to: str = ""


class Guard:
    """Looks at every request before the app does."""

    def __init__(self, app: ASGIApp, *, door: Door | None, port: int, secure_port: int = 0) -> None:
        self.app, self.door, self.ports = app, door, {"http": port, "https": secure_port}
        self.names = _own_names() if door is not None else frozenset({"localhost"})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        sealed = _sealed(send)
        scope.setdefault("state", {})
        try:
            who = self._admitted(scope)
            body = await _body(scope, receive, _most(scope, paired=who is not None))
        except Refusal as refusal:
            await _answer(scope, sealed, refusal)
            return
        scope["state"]["who"] = who or ""
        await self.app(scope, _replayed(body, receive), sealed)

    def _admitted(self, scope: Scope) -> str | None:
        """Who it is: "" for this machine, a paired device's name, None for one that may only pair.

        Raises:
            Refusal: it may not come in.
        """
        if scope["method"] not in METHODS:
            raise Refusal(405, f"{scope['method'][:20]} is not something the app does")
        if _TRICK.search(scope["path"]) or not scope["path"].startswith("/"):
            raise Refusal(400, "this address is not one of the app's: it has a trick in its path")
        headers = _headers(scope)
        self._look_at_host(scope, headers)
        self._look_at_origin(scope, headers)
        if scope.get("client") is not None and is_loopback(scope["client"][0]):
            return ""
        if self.door is None:
            raise Refusal(
                403, "only the PC that runs the app may come in; start it with --share to let a tablet in"
            )
        secure = scope["scheme"] == "https"
        session = _cookie(headers, SECURE_SESSION if secure else SESSION)
        device = self.door.device(session, (scope.get("client") or [""])[0], over_https=secure)
        if device is not None:
            scope["state"][DEVICE] = device.id
            return device.name
        if not _OPEN.match(scope["path"]):
            if not secure and self.door.went_over(session):
                to = self._over(scope, headers["host"][0])
                raise Refusal(401, f"this device comes in over https now: open {to}", to)
            raise Refusal(
                401, "this device is not paired yet: open the address shown on the app's Shop page", "/pair"
            )
        return None

    def _over(self, scope: Scope, host: str) -> str:
        """The same page over https; from what is no page, the jobs."""
        name = host.rsplit(":", 1)[0] if _split_host(host)[1] else host
        query = scope["query_string"].decode("latin-1")
        path = quote(scope["path"], safe="/") + (f"?{query}" if query else "")
        path = path if scope["method"] in SAFE and not path.startswith("/api") else "/"
        return f"https://{name}:{self.ports['https']}{path}"

    def _look_at_host(self, scope: Scope, headers: dict[str, list[str]]) -> None:
        """A name that is not this machine's may be another site's, pointed here to get at the app."""
        hosts = headers.get("host", [])
        name, port = _split_host(hosts[0]) if len(hosts) == 1 else ("", None)
        known = name in self.names or is_loopback(name) or (self.door is not None and _is_address(name))
        own, usual = self.ports[scope["scheme"]], 443 if scope["scheme"] == "https" else 80
        if not known or (own and (port or usual) != own):
            raise Refusal(
                403, "the app does not go by this name; use the address it said when it was started"
            )

    def _look_at_origin(self, scope: Scope, headers: dict[str, list[str]]) -> None:
        """A change may be asked for by the app's own pages, or by a program, never by another site's page."""
        if scope["method"] in SAFE:
            return
        elsewhere = "another site's page asked for this change; it was not made"
        origins = headers.get("origin", [])
        own = f"{scope['scheme']}://{headers['host'][0]}".lower()
        if origins and (len(origins) > 1 or origins[0].lower() != own):
            raise Refusal(403, elsewhere)
        if not origins and headers.get("sec-fetch-site", ["none"])[0] not in {"same-origin", "none"}:
            raise Refusal(403, elsewhere)


def _headers(scope: Scope) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, value in scope["headers"]:
        found.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return found


def _cookie(headers: dict[str, list[str]], name: str) -> str:
    for line in headers.get("cookie", []):
        for part in line.split(";"):
            key, _, value = part.strip().partition("=")
            if key == name:
                return value
    return ""


def _split_host(host: str) -> tuple[str, int | None]:
    """Name and port of a Host header; no name where it cannot be one."""
    try:
        parts = urlsplit(f"//{host}")
        name, port = parts.hostname or "", parts.port
    except ValueError:
        return "", None
    whole = f"[{name}]" if ":" in name else name
    return (name, port) if host.lower() in {whole, f"{whole}:{port}"} else ("", None)


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def is_loopback(name: str) -> bool:
    """Whether an address or a name is this machine's own."""
    return name == "localhost" or (_is_address(name) and ipaddress.ip_address(name).is_loopback)


def _own_names() -> frozenset[str]:
    name = socket.gethostname().lower()
    return frozenset({"localhost", name, f"{name}.local"})


def _most(scope: Scope, *, paired: bool) -> int:
    if not paired:
        return LARGEST_KNOCK
    return LARGEST_FILE if _FILES.match(scope["path"]) else LARGEST_BODY


async def _body(scope: Scope, receive: Receive, most: int) -> bytes:
    """The whole body, read before anything looks at it, and never more of it than may be.

    Raises:
        Refusal: it is larger, or takes too long.
    """
    too_large = Refusal(413, f"that is more than {most / 1e6:.3g} MB, which is the most the app takes here")
    said = _headers(scope).get("content-length", ["0"])[0]
    if said.isdecimal() and int(said[:20]) > most:
        raise too_large
    parts: list[bytes] = []
    size = 0
    try:
        async with asyncio.timeout(PATIENCE_S):
            while True:
                message = await receive()
                if message["type"] == "http.disconnect":
                    raise Refusal(400, "the rest did not arrive; send it again")
                parts.append(message.get("body", b""))
                size += len(parts[-1])
                if size > most:
                    raise too_large
                if not message.get("more_body", False):
                    return b"".join(parts)
    except TimeoutError:
        raise Refusal(408, "it took too long to arrive; send it again") from None


def _replayed(body: bytes, receive: Receive) -> Receive:
    """The body once more for the app; after it whatever comes."""
    given = False

    async def again() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return again


def _sealed(send: Send) -> Send:
    """Answers with the headers that every answer carries."""

    async def sealed(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = list(message.get("headers", []))
            there = {name.lower() for name, _ in headers}
            headers += [(name, value) for name, value in HEADERS if name not in there]
            if b"cache-control" not in there:
                headers.append((b"cache-control", b"no-cache"))
            message = {**message, "headers": headers}
        await send(message)

    return sealed


async def _answer(scope: Scope, send: Send, refusal: Refusal) -> None:
    """A refusal as a sentence: JSON for programs, a small page for people; a new device is led to the pairing page."""
    sentence = f"{refusal.sentence[0].upper()}{refusal.sentence[1:]}."
    headers = [(b"connection", b"close")] if refusal.status in {408, 413} else []
    if refusal.to and scope["method"] in SAFE and not scope["path"].startswith("/api"):
        body, kind, status = b"", b"text/plain", 303
        headers.append((b"location", refusal.to.encode("latin-1")))
    elif scope["path"].startswith("/api"):
        body, kind, status = dumps({"detail": sentence}).encode(), b"application/json", refusal.status
    else:
        page = f'<!doctype html><html lang="en"><title>Scribeline</title><h1>{escape(sentence)}</h1></html>'
        body, kind, status = page.encode(), b"text/html; charset=utf-8", refusal.status
    headers += [(b"content-type", kind), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": b"" if scope["method"] == "HEAD" else body})
