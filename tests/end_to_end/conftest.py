"""The shop app as a real process on a free port, and a real browser in front of it."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import pytest
from tests.conftest import WITHOUT_TUNNELS

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

SIZES = {"desk": (1280, 800), "tablet": (768, 1024), "tablet across": (1024, 768), "phone": (390, 844)}

PATIENCE = 240_000
"""How long anything is waited for before it is given up, ms: how fast a machine is is no business of a test."""

CHROMIUM = [
    f"--{word}"
    for word in (
        "no-sandbox",
        "disable-background-networking",
        "disable-component-update",
        "disable-sync",
        "no-first-run",
        "disable-quic",
    )
]

_UNANSWERED = "net::ERR_"
"""What the browser itself says of an app that is not there."""

AXE = Path(__file__).parent / "assets" / "axe.min.js"


@dataclass
class Served:
    """One running app that can be killed and started again on the same data."""

    folder: Path
    arguments: tuple[str, ...] = ()
    port: int = 0
    before: Sequence[str] = ()
    process: subprocess.Popen[str] | None = field(default=None, repr=False)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        # A port of its own, which is still there when it is started again: other tests look for theirs from 8437 up.
        self.port = self.port or free_port()
        command = [
            *self.before,
            sys.executable,
            "-m",
            "scribeline",
            "serve",
            "--no-browser",
            "--data",
            str(self.folder),
        ]
        command += [*self.arguments, "--port", str(self.port)]
        self.process = subprocess.Popen(  # the app's own words go to the test's log when it fails
            command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=os.environ.copy()
        )
        assert self.process.stdout is not None
        said = self.process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)", said)
        assert found, said + (self.process.stdout.read() if self.process.poll() is not None else "")
        self.port = int(found[1])
        deadline = time.monotonic() + PATIENCE / 1000
        while time.monotonic() < deadline:
            try:
                with urllib.request.urlopen(f"{self.address}/", timeout=20) as answer:
                    assert answer.status == 200
                    return
            except OSError:
                time.sleep(0.05)
        message = "the app did not answer"
        raise AssertionError(message)

    def kill(self) -> None:
        """As when the power goes."""
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        self._end(signal.SIGTERM)

    def _end(self, how: signal.Signals) -> None:
        if self.process is None:
            return
        if self.process.poll() is None:
            self.process.send_signal(how)
        self.process.wait(timeout=PATIENCE / 1000)
        if self.process.stdout is not None:
            self.process.stdout.close()
        self.process = None


def free_port() -> int:
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return int(asked.getsockname()[1])


@contextmanager
def serving(folder: Path, *arguments: str, before: Sequence[str] = ()) -> Iterator[Served]:
    """An app on this data folder for as long as the block lasts; `before` is what its command is run by."""
    app = Served(folder, arguments, before=before)
    try:
        app.start()
        yield app
    finally:
        app.stop()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium."""
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=PATIENCE)
    where = shutil.which("chromium")
    assert where, "the app's tests need Chromium; on Debian: apt-get install chromium"
    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=where, args=CHROMIUM)
        yield opened
        opened.close()


@dataclass(frozen=True)
class Elsewhere:
    """A network of its own beside this machine, joined to it by a pair of virtual Ethernet devices.

    Attributes:
        here: this machine's address in it.
        tablet, addresses: of those who are there.
        inside: the beginning of a command that is run there.
        device: theirs, to be taken off the network and put back.
    """

    here: str
    tablet: str
    addresses: list[str]
    inside: list[str]
    device: str

    def joined(self, is_joined: bool) -> None:
        """Take it off the network, as when a tablet is carried out of reach; or put it back."""
        what = "up" if is_joined else "down"
        subprocess.run([*self.inside, self.inside[0], "link", "set", self.device, what], check=True)


@pytest.fixture
def elsewhere() -> Iterator[Elsewhere]:
    """A network of its own; needs root and iproute2, and is skipped elsewhere.

    Its addresses go by this process, so that others that test here at the same time have others.
    """
    ip = shutil.which("ip") or shutil.which("ip", path="/usr/sbin:/sbin")
    if ip is None or os.geteuid() != 0:
        pytest.skip("a network of its own needs root and iproute2")
    number = os.getpid()
    net = f"10.{213 + number // 250 % 40}.{number % 250}"
    name, ours, theirs = f"scribe{number}", f"o{number}", f"t{number}"
    inside = [ip, "netns", "exec", name]
    made = subprocess.run([ip, "netns", "add", name], check=False, capture_output=True, text=True)
    if made.returncode:
        pytest.skip(f"this machine makes no network of its own: {made.stderr.strip()}")
    there = Elsewhere(f"{net}.1", f"{net}.50", [f"{net}.{n}" for n in range(11, 21)], inside, theirs)
    try:
        steps = [
            [ip, "link", "add", ours, "type", "veth", "peer", "name", theirs, "netns", name],
            [ip, "address", "add", f"{there.here}/24", "dev", ours],
            [ip, "link", "set", ours, "up"],
            *(
                [*inside, ip, "address", "add", f"{each}/24", "dev", theirs]
                for each in (there.tablet, *there.addresses)
            ),
            [*inside, ip, "link", "set", theirs, "up"],
            [*inside, ip, "link", "set", "lo", "up"],
        ]
        for step in steps:
            subprocess.run(step, check=True)
        yield there
    finally:
        # The devices first and by themselves: the namespace takes them along when its last process is gone, whenever that is.
        subprocess.run([ip, "link", "delete", ours], check=False)
        subprocess.run([ip, "netns", "delete", name], check=True)


class Screens:
    """Screens of a test: each with its own cookies, like a device of its own."""

    def __init__(self, browser: Browser) -> None:
        self.browser = browser
        self.said: list[str] = []
        self._open: list[Any] = []

    def __call__(self, size: str = "desk", *, dark: bool = False, **rest: Any) -> Page:
        width, height = SIZES[size]
        context = self.browser.new_context(
            viewport={"width": width, "height": height}, color_scheme="dark" if dark else "light", **rest
        )
        context.set_default_timeout(PATIENCE)
        self._open.append(context)
        page = context.new_page()
        page.on("console", lambda message: self._hear(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: self._hear(str(error)))
        return page

    def _hear(self, complaint: str) -> None:
        """A page that listens to the app asks again while a test has it stopped: that is no complaint of a script."""
        if _UNANSWERED not in complaint:
            self.said.append(complaint)

    def close(self) -> None:
        for context in self._open:
            context.close()


@pytest.fixture
def screens(browser: Browser) -> Iterator[Screens]:
    """Opens screens; whatever a script complains of is kept in `screens.said`."""
    made = Screens(browser)
    yield made
    made.close()


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """An app of this module's own, with nothing in it."""
    with serving(tmp_path_factory.mktemp("shop")) as running:
        yield running


def demo_job(app: Served) -> str:
    """A demo job of a test's own; its address."""
    with urllib.request.urlopen(
        urllib.request.Request(f"{app.address}/demo", method="POST"), timeout=PATIENCE / 1000
    ) as answer:
        return str(answer.url).rsplit("/", 1)[0]


def plain_job(app: Served, text: str = WITHOUT_TUNNELS) -> str:
    """A job of a test's own: the demo without tunnels, where the ways of wires are not what is tried, or another."""
    body = json.dumps({"text": text}).encode()
    asked = urllib.request.Request(f"{app.address}/api/jobs", body, {"content-type": "application/json"})
    with urllib.request.urlopen(asked, timeout=PATIENCE / 1000) as answer:
        return f"{app.address}/jobs/{json.loads(answer.read())['job_id']}"


def ask(job: str, method: str, path: str, body: Any = None) -> tuple[int, Any]:
    """One request of the JSON side about a job; the answer's status and content."""
    return answered(job.replace("/jobs/", "/api/jobs/") + path, method, body)


def answered(address: str, method: str, body: Any = None) -> tuple[int, Any]:
    """One request with JSON; the answer's status and content."""
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(
        address, data=data, method=method, headers={"content-type": "application/json"}
    )
    try:
        with urllib.request.urlopen(request, timeout=PATIENCE / 1000) as answer:
            content = answer.read()
            return answer.status, json.loads(content) if content else None
    except urllib.error.HTTPError as refusal:
        with refusal:
            return refusal.code, json.loads(refusal.read())


def go(page: Page, what: str) -> None:
    """Press what leads to another page, and be there before anything is read.

    A page that listens may give itself another address meanwhile: that is no other page.
    """
    from playwright.sync_api import expect

    # A step's page takes on the next one's place itself.
    page.evaluate("(document.getElementById('step') ?? document.documentElement).dataset.before = 'yes'")
    page.tap(what) if page.evaluate("navigator.maxTouchPoints > 0") else page.click(what)
    expect(page.locator("[data-before]")).to_have_count(0)
    page.wait_for_load_state()


def serious(page: Page) -> list[str]:
    """What axe-core finds that keeps people out, in the light and in the dark: violations it calls serious or critical.

    WCAG 2.2 AA included. A page that is still on its way is waited for, with its style.
    """
    page.wait_for_load_state()
    page.evaluate(AXE.read_text(encoding="utf-8"))
    shown: str = page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches ? 'dark' : 'light'")
    found = _violations(page, shown)
    other: Literal["light", "dark"] = "light" if shown == "dark" else "dark"
    page.emulate_media(color_scheme=other)
    found += [each for each in _violations(page, other) if each not in found]
    page.emulate_media(color_scheme="dark" if other == "light" else "light")
    return found


def _violations(page: Page, theme: str) -> list[str]:
    rules = ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa", "best-practice"]
    found: list[dict[str, Any]] = page.evaluate(
        "async rules => (await axe.run(document, {runOnly: rules})).violations", rules
    )
    return [
        f"{theme}: {each['id']}: {each['help']}: {[node['target'] for node in each['nodes']][:4]}"
        for each in found
        if each["impact"] in {"serious", "critical"}
    ]
