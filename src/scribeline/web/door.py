"""Letting a tablet in: a short pairing code shown on this machine's screen, and a signed session for who gave it.

A code serves once, for ten minutes, and only for a few wrong tries; a device that goes on trying is made to wait.
Sessions are signed with a key kept in the data folder, so that a tablet stays paired when the app is started again.
"""

from __future__ import annotations

import os
import secrets
import socket
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import Literal

from itsdangerous import BadSignature, URLSafeTimedSerializer

LETTERS = "ABCDEFGHJKLMNPQRTUVWXY346789"
"""Signs that are not taken for one another on a dusty screen."""

CODE_LENGTH = 6
CODE_LASTS_S = 600.0
WRONG_PER_CODE = 10
WRONG_PER_DEVICE = 5
PAIRED_FOR_S = 60 * 60 * 24 * 90
"""A quarter of a year; a tablet used that seldom may be paired again."""

KEY_FILE = "session.key"

Answer = Literal["let in", "wrong", "wait"]


@dataclass(slots=True)
class _Code:
    text: str
    until: float
    wrong: int = 0


@dataclass(slots=True)
class _Tries:
    since: float
    wrong: int = 0


@dataclass
class Door:
    """Who may come in from the shop's own network.

    Attributes:
        folder: the data folder; the key of the sessions lies there, readable by its owner alone.
        port: where the app answers.
        clock: seconds, for codes and waiting.
        now: seconds since 1970, for how long a device stays paired.
    """

    folder: Path
    port: int
    clock: Callable[[], float] = time.monotonic
    now: Callable[[], float] = time.time
    _code: _Code | None = field(default=None, repr=False)
    _tries: dict[str, _Tries] = field(default_factory=dict, repr=False)
    _lock: Lock = field(default_factory=Lock, repr=False)
    _signer: URLSafeTimedSerializer | None = field(default=None, repr=False)

    def code(self) -> str:
        """The pairing code that counts now; a new one when the last has served, expired or been guessed at."""
        with self._lock:
            return _shown(self._now().text)

    def expires_in(self) -> int:
        """Seconds that the code still counts."""
        with self._lock:
            return max(0, int(self._now().until - self.clock()))

    def url(self) -> str:
        """The address for the tablet, with the code in it."""
        return f"http://{own_address()}:{self.port}/pair?code={self.code()}"

    def knock(self, code: str, device: str) -> Answer:
        """Try a code.

        Args:
            code: as typed; case, spaces and hyphens do not matter.
            device: address of the device that tries.
        """
        given = "".join(mark for mark in code.upper() if mark.isalnum())
        with self._lock:
            tries = self._tries_of(device)
            if tries.wrong >= WRONG_PER_DEVICE:
                return "wait"
            now = self._now()
            if secrets.compare_digest(given.encode(), now.text.encode()):
                self._code = None
                self._tries.pop(device, None)
                return "let in"
            tries.wrong += 1
            now.wrong += 1
            if now.wrong >= WRONG_PER_CODE:
                self._code = None
            return "wrong"

    def session(self, name: str) -> str:
        """A signed session for a device that was let in."""
        return str(self._signed().dumps({"name": name, "id": secrets.token_hex(8)}))

    def who(self, session: str) -> str | None:
        """The device's name a session was made for; None when it is none of ours, or too old."""
        try:
            said, made = self._signed().loads(session, return_timestamp=True)
        except BadSignature:
            return None
        # A session from a time still to come is ours all the same: this machine's clock went back.
        if self.now() - made.timestamp() > PAIRED_FOR_S:
            return None
        name = said.get("name") if isinstance(said, dict) else None
        return name if isinstance(name, str) and name else None

    def forget(self) -> None:
        """Let no device in any more that was paired before."""
        with self._lock:
            (self.folder / KEY_FILE).unlink(missing_ok=True)
            self._signer = None
            self._code = None

    def _now(self) -> _Code:
        if self._code is None or self._code.until <= self.clock():
            text = "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
            self._code = _Code(text, self.clock() + CODE_LASTS_S)
        return self._code

    def _tries_of(self, device: str) -> _Tries:
        oldest = self.clock() - CODE_LASTS_S
        for each in [name for name, tries in self._tries.items() if tries.since < oldest]:
            del self._tries[each]
        return self._tries.setdefault(device, _Tries(self.clock()))

    def _signed(self) -> URLSafeTimedSerializer:
        if self._signer is None:
            self._signer = URLSafeTimedSerializer(_key(self.folder / KEY_FILE), salt="scribeline session")
        return self._signer


def _shown(code: str) -> str:
    return f"{code[:3]}-{code[3:]}"


def _key(path: Path) -> bytes:
    """The key sessions are signed with; made the first time."""
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        kept = path.read_bytes()
        if len(kept) >= 32:
            return kept
        path.unlink()  # cut short when the power went
        return _key(path)
    with os.fdopen(handle, "wb") as file:
        file.write(secrets.token_bytes(32))
    return path.read_bytes()


def own_address() -> str:
    """This machine's address in the shop's network; the loopback's where it has none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(
                ("192.0.2.1", 9)
            )  # a documentation address (RFC 5737): only picks the way out, sends nothing
        except OSError:
            return "127.0.0.1"
        return str(probe.getsockname()[0])
