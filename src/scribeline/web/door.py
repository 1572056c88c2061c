"""Letting a tablet in: a short pairing code shown on this machine's screen, and a signed session for who gave it.

A code serves once, for ten minutes. An address that guesses is made to wait after a few wrong tries; the code stays as it
is, so that nobody can take it from the owner by guessing. Sessions are signed with a key kept in the data folder, beside
the list of the devices that are let in, so that a tablet stays paired when the app is started again.

A device that was paired over http goes over to https with a pass: it serves once, for a minute, at the address it was given
to. From then on its session of http, which anybody on the way may have read, lets nobody in.
"""

from __future__ import annotations

import json
import os
import secrets
import socket
import time
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from itertools import count
from pathlib import Path
from threading import Lock
from typing import Literal

from itsdangerous import BadSignature, URLSafeSerializer

from scribeline.files import owners_alone, replace_all
from scribeline.web.names import LONGEST, skeleton

LETTERS = "ABCDEFGHJKLMNPQRTUVWXY346789"
"""Signs that are not taken for one another on a dusty screen."""

CODE_LENGTH = 6
CODE_LASTS_S = 600.0
WRONG_PER_DEVICE = 5
"""Of 28 ** 6 codes: all 65,534 addresses of a large network, guessing until they must wait, find one in 1,500 times."""

PAIRED_FOR_S = 60 * 60 * 24 * 90
"""A quarter of a year; a tablet used that seldom may be paired again."""

PASS_LASTS_S = 60.0
"""How long a device may take from http to https; a page goes there by itself."""

KEY_FILE = "session.key"
LIST_FILE = "devices.json"

Answer = Literal["let in", "wrong", "wait"]


@dataclass(slots=True)
class _Code:
    text: str
    until: float


@dataclass(slots=True)
class _Tries:
    since: float
    wrong: int = 0


@dataclass(slots=True)
class Device:
    """A device that is let in.

    Attributes:
        id: of its session.
        name: as the history says it.
        paired: when, seconds since 1970.
        seen: when it last asked for something since the app was started, seconds since 1970; 0 where it did not.
        address: where from.
        over_https: whether it comes in over https, and over http no more.
    """

    id: str
    name: str
    paired: float
    seen: float = 0.0
    address: str = ""
    over_https: bool = False


@dataclass
class Door:
    """Who may come in from the shop's own network.

    Attributes:
        folder: the data folder; the key of the sessions and the list of devices lie there, readable by its owner alone.
        port: where the app answers.
        clock: seconds, for codes and waiting.
        now: seconds since 1970, for how long a device stays paired.
        ended: told the session of a device that was shut out.
    """

    folder: Path
    port: int
    clock: Callable[[], float] = time.monotonic
    now: Callable[[], float] = time.time
    ended: Callable[[str], None] = lambda _: None
    _code: _Code | None = field(default=None, repr=False)
    _tries: dict[str, _Tries] = field(default_factory=dict, repr=False)
    _lock: Lock = field(default_factory=Lock, repr=False)
    _signers: dict[bool, URLSafeSerializer] = field(default_factory=dict, repr=False)
    _passes: dict[str, tuple[str, str, float]] = field(default_factory=dict, repr=False)
    _devices: dict[str, Device] | None = field(default=None, repr=False)

    def code(self) -> str:
        """The pairing code that counts now; a new one when the last has served or expired."""
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
            return "wrong"

    def session(self, name: str, *, over_https: bool = False) -> str:
        """A signed session for a device that was let in; where one of that name is let in already, it gets a number."""
        with self._lock:
            known = self._known()
            called = _unlike(name, known.values())
            made = Device(secrets.token_hex(8), called, self.now(), over_https=over_https)
            self._keep({**known, made.id: made})
            return str(self._signed(over_https).dumps(made.id))

    def pass_for(self, device: str, address: str) -> str:
        """What lets a paired device go over to https, once.

        Args:
            device: its session.
            address: where it asks from, and must come from then.
        """
        with self._lock:
            now = self.clock()
            others = {key: each for key, each in self._passes.items() if each[0] != device and each[2] > now}
            made = secrets.token_urlsafe(24)
            self._passes = {**others, made: (device, address, now + PASS_LASTS_S)}
            return made

    def gone_over(self, pass_: str, address: str) -> str | None:
        """The session over https of the device with this pass, whose session over http ends; None where it does not count."""
        with self._lock:
            device, given_to, until = self._passes.pop(pass_, ("", "", 0.0))
            known = self._known()
            if device not in known or given_to != address or until <= self.clock():
                return None
            self._keep({**known, device: replace(known[device], over_https=True)})
            session = str(self._signed(True).dumps(device))
        self.ended(device)
        return session

    def devices(self) -> list[Device]:
        """The devices that are let in, the one paired last first."""
        with self._lock:
            return [each for each in reversed(self._known().values()) if self._counts(each.paired)]

    def device(self, session: str, address: str = "", *, over_https: bool = False) -> Device | None:
        """The device a session was made for; None when it is none of ours, too old, shut out, or comes over https since.

        Args:
            session: as its cookie has it.
            address: where it asks from.
            over_https: how it asks; a session counts for one way alone.
        """
        found = self._of(session, over_https)
        if found is None or found.over_https != over_https:
            return None
        found.seen, found.address = self.now(), address
        return found

    def went_over(self, session: str) -> bool:
        """Whether a session of http is one of a device that comes over https now."""
        found = self._of(session, False)
        return found is not None and found.over_https

    def _of(self, session: str, over_https: bool) -> Device | None:
        with self._lock:
            try:
                said = self._signed(over_https).loads(session)
            except BadSignature:
                return None
            found = self._known().get(str(said))
            return found if found is not None and self._counts(found.paired) else None

    def shut_out(self, id_: str) -> None:
        """Let a device in no more, and end what it has open."""
        with self._lock:
            self._keep({key: each for key, each in self._known().items() if key != id_})
        self.ended(id_)

    def forget(self) -> None:
        """Let no device in any more that was paired before, and end what they have open."""
        with self._lock:
            ids = [*self._known()]
            self._keep({})
            (self.folder / KEY_FILE).unlink(missing_ok=True)
            self._signers.clear()
            self._passes.clear()
            self._code = None
        for each in ids:
            self.ended(each)

    def _counts(self, made: float) -> bool:
        """Whether a session is not too old. One from a time still to come counts: this machine's clock went back."""
        return self.now() - made <= PAIRED_FOR_S

    def _known(self) -> dict[str, Device]:
        if self._devices is None:
            self._devices = _listed(self.folder / LIST_FILE)
        return self._devices

    def _keep(self, devices: dict[str, Device]) -> None:
        """Have a list on the disk before anybody goes by it."""
        path = self.folder / LIST_FILE
        kept = [
            {"id": each.id, "name": each.name, "paired": each.paired, "https": each.over_https}
            for each in devices.values()
            if self._counts(each.paired)
        ]
        replace_all({path: json.dumps(kept, ensure_ascii=False, indent=1).encode()})
        owners_alone(path)
        self._devices = devices

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

    def _signed(self, over_https: bool) -> URLSafeSerializer:
        if over_https not in self._signers:
            salt = "scribeline session over https" if over_https else "scribeline session"
            self._signers[over_https] = URLSafeSerializer(_key(self.folder / KEY_FILE), salt=salt)
        return self._signers[over_https]


def _shown(code: str) -> str:
    return f"{code[:3]}-{code[3:]}"


def _unlike(name: str, others: Iterable[Device]) -> str:
    """A name that no other device has, nor one that looks like it."""
    taken = {skeleton(each.name) for each in others}
    tried = (name if n == 1 else f"{name[: LONGEST - 4]} {n}" for n in count(1))
    return next(each for each in tried if skeleton(each) not in taken)


def _listed(path: Path) -> dict[str, Device]:
    """The devices of the list; none where it is missing, and where it was spoilt: they pair again."""
    with suppress(FileNotFoundError, ValueError, TypeError, KeyError):
        kept = json.loads(path.read_bytes())
        made = [
            Device(
                str(each["id"]),
                str(each["name"]),
                float(each["paired"]),
                over_https=bool(each.get("https", False)),
            )
            for each in kept
        ]
        return {each.id: each for each in made}
    return {}


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
