"""A tablet over https: how it comes to trust the shop's certificate, what it has then, and what stays as it was over http.

The tablet is Debian's Chromium in a network of its own (Linux's namespaces: root and iproute2, skipped elsewhere). It trusts the
shop's root by the hash of the root's key alone (--ignore-certificate-errors-spki-list, RFC 7469, 2.4), for which nothing is
installed; whether verifiers take the certificate itself is for test_certificate.py, and for the last test here where the
browser's own store can be written to.
"""

from __future__ import annotations

import base64
import hashlib
import ipaddress
import re
import shutil
import socket
import ssl
import subprocess
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import httpx
import pytest
from cryptography import x509
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from playwright.sync_api import Error as BrowserError
from playwright.sync_api import Page, Response, expect

from scribeline.store import open_store
from scribeline.web.app import create_app
from scribeline.web.certificate import CERTIFICATE_FOLDER, KEY_FILE, ROOT_FILE, Certificate
from scribeline.web.door import PASS_LASTS_S, Door
from scribeline.web.guard import SECURE_SESSION, SESSION
from scribeline.web.shop import Shop

from .conftest import CHROMIUM, PATIENCE, Elsewhere, Screens, Served, free_port, plain_job, serious, serving
from .test_app_hostile import TEXT, answer_of
from .test_app_offline import HELD, acts, order, press_on
from .test_certificate import Thief

if TYPE_CHECKING:
    from playwright.sync_api import Browser

HOME = "home"
"""Of the tablet's browser: what this machine's user has it trust is not there."""

STEPS = 4
"""Called done while the network is away."""

HTTP, HTTPS = "192.168.7.5:8437", "192.168.7.5:8438"
TABLET = "192.168.7.20"


class Both:
    """A shared app in this process, asked over http and https; what https adds is decided by the certificate alone."""

    def __init__(self, folder: Path) -> None:
        self.now = 0.0
        self.store = open_store(folder / "shop.db")
        self.certificate = Certificate(folder)
        shop = Shop(self.store, folder, share=True, port=8437, secure_port=8438, certificate=self.certificate)
        self.app = create_app(shop)
        self.door: Door = self.app.state.door
        self.door.clock = lambda: self.now

    def ask(
        self,
        method: str,
        path: str,
        cookies: dict[str, str] | None = None,
        *,
        secure: bool = False,
        device: str = TABLET,
        **rest: Any,
    ) -> httpx.Response:
        async def once() -> httpx.Response:
            transport = httpx.ASGITransport(self.app, client=(device, 4711))
            base = f"https://{HTTPS}" if secure else f"http://{HTTP}"
            line = "; ".join(f"{name}={value}" for name, value in (cookies or {}).items())
            headers = {**({"cookie": line} if line else {}), **rest.pop("headers", {})}
            async with httpx.AsyncClient(transport=transport, base_url=base) as client:
                return await client.request(method, path, headers=headers, **rest)

        return answer_of(once())

    def paired(self, *, secure: bool = False, device: str = TABLET) -> httpx.Response:
        said = {"code": self.door.code(), "name": "Ann's tablet"}
        return self.ask("POST", "/pair", secure=secure, device=device, data=said)

    def ticket(self, session: str, back: str = "") -> str:
        answer = self.ask("POST", f"/pair/ticket?back={back}", {SESSION: session})
        assert answer.status_code == 200, answer.text
        return str(answer.json()["to"])


@pytest.fixture
def both(tmp_path: Path) -> Iterator[Both]:
    made = Both(tmp_path)
    yield made
    made.store.close()


def test_a_session_counts_for_its_own_way_alone(both: Both) -> None:
    plain = both.paired()
    assert plain.headers["location"] == "/pair/certificate"
    assert "secure" not in plain.headers["set-cookie"].lower()
    secure = both.paired(secure=True)
    assert secure.headers["location"] == "/"
    said = secure.headers["set-cookie"].lower()
    assert said.startswith(f"{SECURE_SESSION.lower()}=")
    for word in ("secure", "httponly", "samesite=lax", "path=/"):
        assert word in said.split("; ")
    assert "domain" not in said
    sessions = {"plain": plain.cookies[SESSION], "secure": secure.cookies[SECURE_SESSION]}
    for by, session in sessions.items():
        for name in (SESSION, SECURE_SESSION):
            for over_https in (False, True):
                status = both.ask("GET", "/api/jobs", {name: session}, secure=over_https).status_code
                fits = over_https == (by == "secure") == (name == SECURE_SESSION)
                assert status == (200 if fits else 401), (by, name, over_https)


def test_what_the_guard_refuses_it_refuses_over_https_too(both: Both) -> None:
    session = {SECURE_SESSION: both.paired(secure=True).cookies[SECURE_SESSION]}
    assert both.ask("GET", "/", secure=True).headers["location"] == "/pair"
    assert both.ask("GET", "/api/jobs", secure=True).status_code == 401
    assert both.ask("POST", "/pair", secure=True, content=b"x" * 5000).status_code == 413
    for host in ("evil.example:8438", HTTP, "192.168.7.5"):
        assert both.ask("GET", "/api/jobs", session, secure=True, headers={"host": host}).status_code == 403
    assert both.ask("GET", "/api/jobs", headers={"host": HTTPS}).status_code == 403
    job = {"text": TEXT}
    for origin in (f"http://{HTTPS}", f"http://{HTTP}", "https://192.168.7.5", "null"):
        headers = {"origin": origin}
        assert (
            both.ask("POST", "/api/jobs", session, secure=True, json=job, headers=headers).status_code == 403
        )
    headers = {"origin": f"https://{HTTPS}"}
    made = both.ask("POST", "/api/jobs", session, secure=True, json=job, headers=headers)
    assert made.json()["by"] == "Ann's tablet"
    for path in ("/", "/pair", "/pair/certificate", "/nowhere"):
        headers_ = both.ask("GET", path, session, secure=True).headers
        assert headers_["content-security-policy"].startswith("default-src 'self';")
        assert "connect-src" not in headers_["content-security-policy"]


def test_a_ticket_takes_one_device_over_once(both: Both) -> None:
    both.store.create(TEXT, by="Ann")
    ended: list[str] = []
    both.door.ended = ended.append
    session = both.paired().cookies[SESSION]
    (device,) = both.door.devices()
    assert both.ask("POST", "/pair/ticket").status_code == 401
    assert (
        both.ask(
            "POST", "/pair/ticket", {SESSION: session}, headers={"origin": "http://evil.example"}
        ).status_code
        == 403
    )
    to = both.ticket(session, "/jobs/1/steps/drill?hole=3")
    assert to.startswith(f"https://{HTTPS}/pair/over?ticket=")
    assert session not in to
    path = to.removeprefix(f"https://{HTTPS}")
    assert "set-cookie" not in both.ask("GET", path, secure=True, device="192.168.7.21").headers
    path = both.ticket(session, "/jobs/1/steps/drill?hole=3").removeprefix(f"https://{HTTPS}")
    assert SESSION not in both.ask("GET", path).headers.get("set-cookie", "")  # over http it does nothing
    assert both.ask("GET", "/api/jobs", {SESSION: session}).status_code == 200
    arrived = both.ask("GET", path, secure=True)
    assert arrived.headers["location"] == "/jobs/1/steps/drill?hole=3"
    assert arrived.headers["cache-control"] == "no-store"
    over = arrived.cookies[SECURE_SESSION]
    assert both.ask("GET", "/api/jobs", {SECURE_SESSION: over}, secure=True).status_code == 200
    assert SECURE_SESSION not in both.ask("GET", path, secure=True).headers.get("set-cookie", "")
    # The session of http, which anybody may have read, is over; its pages lead to the same ones over https.
    assert ended == [device.id]
    assert [(each.id, each.name, each.over_https) for each in both.door.devices()] == [
        (device.id, "Ann's tablet", True)
    ]
    for method, path in (
        ("GET", "/api/jobs"),
        ("POST", "/demo"),
        ("GET", "/api/backup"),
        ("POST", "/pair/ticket"),
    ):
        refused = both.ask(method, path, {SESSION: session})
        assert refused.status_code == 401
        assert f"comes in over https now: open https://{HTTPS}/" in refused.text
    led = both.ask("GET", "/jobs/1/steps/drill?hole=3", {SESSION: session})
    assert (led.status_code, led.headers["location"]) == (
        303,
        f"https://{HTTPS}/jobs/1/steps/drill?hole=3",
    )
    again = Door(both.door.folder, 8437)  # the app started again
    assert again.device(session) is None
    assert again.device(over, over_https=True) is not None
    # Back to http by a new code alone; shut out, it is out both ways.
    back = both.paired().cookies[SESSION]
    assert both.ask("GET", "/api/jobs", {SESSION: back}).status_code == 200
    both.door.shut_out(device.id)
    assert both.ask("GET", "/api/jobs", {SECURE_SESSION: over}, secure=True).status_code == 401
    assert both.ask("GET", "/", {SESSION: session}).headers["location"] == "/pair"


def test_a_ticket_lasts_a_minute_and_the_newest_alone_counts(both: Both) -> None:
    session = both.paired().cookies[SESSION]

    def goes(to: str) -> bool:
        answer = both.ask("GET", to.removeprefix(f"https://{HTTPS}"), secure=True)
        return SECURE_SESSION in answer.headers.get("set-cookie", "")

    first, second = both.ticket(session), both.ticket(session)
    assert not goes(first)
    assert goes(second)
    session = both.paired().cookies[SESSION]
    late = both.ticket(session)
    both.now += PASS_LASTS_S + 1
    assert not goes(late)
    shut = both.ticket(session)
    both.door.forget()
    assert not goes(shut)
    assert not goes(f"https://{HTTPS}/pair/over?ticket=")


@pytest.mark.parametrize(
    "back",
    [
        "",
        "/shop",
        "//evil.example",
        "https://evil.example",
        "/jobs/1/../../x",
        "/jobs/1\r\nx: y",
        "/jobs/99999999999999999999/plan",
        "/\\evil",
    ],
)
def test_a_way_back_leads_to_a_page_of_a_job_or_to_the_jobs(both: Both, back: str) -> None:
    session = both.paired().cookies[SESSION]
    asked = both.ask("POST", "/pair/ticket", {SESSION: session}, params={"back": back})
    path = asked.json()["to"].removeprefix(f"https://{HTTPS}")
    assert both.ask("GET", path, secure=True).headers["location"] == "/"
    both.paired()
    path = re.sub("back=.*", "back=//evil.example", path)
    assert both.ask("GET", path, secure=True).headers["location"] == "/"


def test_the_certificate_is_there_for_whoever_is_paired_and_its_key_for_nobody(both: Both) -> None:
    assert both.ask("GET", "/pair/certificate").headers["location"] == "/pair"
    assert both.ask("GET", "/pair/scribeline-shop.crt").status_code == 303
    session = {SESSION: both.paired().cookies[SESSION]}
    taken = both.ask("GET", "/pair/scribeline-shop.crt", session)
    assert taken.headers["content-type"] == "application/x-x509-ca-cert"
    assert taken.content == both.certificate.root
    assert "scribeline-shop.crt" in taken.headers["content-disposition"]
    page = both.ask("GET", "/pair/certificate", session)
    digest = x509.load_der_x509_certificate(taken.content).fingerprint(SHA256())
    shown = "".join(re.findall(r"<span>([0-9A-F ]{23})</span>", page.text))
    assert bytes.fromhex(shown) == digest
    assert f"connect-src 'self' https://{HTTPS}" in page.headers["content-security-policy"]
    probe = both.ask("GET", "/pair/trusted", secure=True)
    assert (probe.status_code, probe.content) == (204, b"")
    assert probe.headers["access-control-allow-origin"] == f"http://{HTTP}"
    key = (both.door.folder / CERTIFICATE_FOLDER / "root.key").read_text().splitlines()[1]
    for path in ("/pair/certificate", "/shop", "/api/backup", "/pair/scribeline-shop.crt"):
        assert key.encode() not in both.ask("GET", path, session).content


def test_where_the_certificate_does_not_speak_for_the_address_http_stays(both: Both) -> None:
    public = {"host": "203.0.113.5:8437"}
    said = {"code": both.door.code(), "name": "Ann's tablet"}
    answer = both.ask("POST", "/pair", data=said, headers=public)
    assert answer.headers["location"] == "/"
    session = {SESSION: answer.cookies[SESSION]}
    page = both.ask("GET", "/pair/certificate", session, headers=public)
    assert "Not under this address" in page.text
    assert "connect-src" not in page.headers["content-security-policy"]
    assert both.ask("POST", "/pair/ticket", session, headers=public).status_code == 409


def test_who_must_take_the_certificate_again_is_told_at_the_start(both: Both, tmp_path: Path) -> None:
    both.paired()
    both.paired(secure=True)
    both.store.close()

    def said() -> str:
        with serving(tmp_path, "--share") as app:
            process = app.process
            assert process is not None
            assert process.stdout is not None
            lines = process.stdout
            app.process = None  # its words are read to the end here
            process.terminate()
            words = lines.read()
            process.wait(PATIENCE / 1000)
            lines.close()
            return words

    assert "made anew" not in said()
    (tmp_path / CERTIFICATE_FOLDER / KEY_FILE).write_text("spoilt")
    assert "was made anew. Pair again, and have take the new one: Ann's tablet 2.\n" in said()
    assert "made anew" not in said()


# A real tablet's browser, in another network


@contextmanager
def shared(folder: Path) -> Iterator[tuple[Served, int]]:
    """A shared app that comes back on the same two ports; the second one's number."""
    secure = free_port()
    with serving(folder, "--share", "--https-port", str(secure)) as app:
        yield app, secure


@pytest.fixture
def tablets(browser: Browser, elsewhere: Elsewhere, tmp_path: Path) -> Iterator[Callable[..., Browser]]:
    """Starts a tablet's browser in the other network; one that trusts the root in this data folder, or none."""
    started: list[Browser] = []
    program = tmp_path / "chromium-elsewhere"
    chromium = f'{" ".join(elsewhere.inside)} {shutil.which("chromium")} "$@"'
    program.write_text(f'#!/bin/sh\nHOME="{tmp_path / HOME}" exec {chromium}\n')
    program.chmod(0o755)

    def start(trusts: Path | None, *more: str) -> Browser:
        trust = [trusting(trusts)] if trusts is not None else []
        started.append(browser.browser_type.launch(executable_path=program, args=[*CHROMIUM, *trust, *more]))
        return started[-1]

    yield start
    for each in started:
        each.close()


def trusting(folder: Path) -> str:
    """The word by which a browser trusts the root in this data folder."""
    root = x509.load_pem_x509_certificate((folder / CERTIFICATE_FOLDER / ROOT_FILE).read_bytes())
    own = root.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return f"--ignore-certificate-errors-spki-list={base64.b64encode(hashlib.sha256(own).digest()).decode()}"


def code_of(app: Served) -> str:
    found = re.search(r"[A-Z0-9]{3}-[A-Z0-9]{3}", httpx.get(f"{app.address}/shop", timeout=60).text)
    assert found
    return found[0]


def pair(app: Served, page: Page, here: str) -> None:
    page.goto(f"http://{here}:{app.port}/pair?code={code_of(app)}")
    page.tap("text=Let me in")
    expect(page.locator("#over-state")).to_be_attached()


def print_on(page: Page) -> str:
    return page.locator(".print").inner_text().replace("\n", " ")


def test_a_tablet_takes_the_certificate_and_is_led_over(
    elsewhere: Elsewhere, tablets: Callable[..., Browser], screens: Screens, tmp_path: Path
) -> None:
    folder = tmp_path / "data"
    with shared(folder) as (app, secure):
        here, there = f"http://{elsewhere.here}:{app.port}", f"https://{elsewhere.here}:{secure}"
        job = plain_job(app).removeprefix(app.address)
        without = Screens(tablets(None))
        page = without("tablet across", has_touch=True)
        pair(app, page, elsewhere.here)
        expect(page.locator("#over-state")).to_contain_text("Not yet. This page asks every two seconds")
        for words in ("The screen may go dark", "cannot be opened anew while the app is away", "read along"):
            expect(page.locator("main")).to_contain_text(words)
        expect(page.locator("h2", has_text="To take it off again")).to_be_visible()
        assert not serious(page)
        with page.expect_download() as download:
            page.tap("a >> text=Take the certificate")
        taken = Path(download.value.path()).read_bytes()
        root = x509.load_der_x509_certificate(taken)
        assert bytes.fromhex(print_on(page)) == root.fingerprint(SHA256())
        page.tap("text=Work without it")
        expect(page).to_have_url(f"{here}/")
        page.goto(f"{here}{job}/steps/drill-neck-screws")
        expect(page.locator(HELD)).to_have_count(1)
        assert page.evaluate("'serviceWorker' in navigator || 'wakeLock' in navigator") is False
        expect(page.locator("#awake")).to_contain_text("The screen may go dark")
        page.tap("#awake >> text=Keep it lit over https")
        expect(page.locator("#over-state")).to_contain_text("Not yet")
        expect(page.locator("#over")).to_have_attribute("data-back", f"{job}/steps/drill-neck-screws")
        assert [each for each in without.said if "ERR_CERT" not in each] == []
        without.close()

        # The same, trusted meanwhile: what waits on the device is sent before it goes over, and it comes back to its step.
        trusting = tablets(folder)
        context = trusting.new_context(has_touch=True)
        context.set_default_timeout(PATIENCE)
        page = context.new_page()
        page.add_init_script(
            "if (location.pathname === '/pair/certificate' && !sessionStorage.once)"
            " { sessionStorage.once = 'yes'; localStorage.setItem('draft:1:name', 'Marram'); }"
        )
        pair(app, page, elsewhere.here)
        expect(page.locator("#over-state")).to_contain_text("typed on this device is not kept yet")
        page.goto(f"{here}/pair/certificate?back={job}/steps/drill-neck-screws%3Fhole%3D2")
        expect(page.locator("#over-state")).to_contain_text("not kept yet")
        page.evaluate("localStorage.removeItem('draft:1:name')")
        page.wait_for_url(re.compile(re.escape(f"{there}{job}/steps/drill-neck-screws")))
        expect(page.locator(".hole")).to_contain_text("hole 2 of 4")
        entries = context.new_cdp_session(page).send("Page.getNavigationHistory")["entries"]
        assert [each["url"] for each in entries if "ticket" in each["url"]] == []
        cookies = {each["name"]: each for each in context.cookies()}
        assert cookies[SECURE_SESSION]["secure"]
        assert cookies[SECURE_SESSION]["httpOnly"]
        assert page.evaluate("navigator.wakeLock.request('screen').then((lock) => !lock.released)")
        expect(page.locator("#awake")).to_be_empty()
        assert page.evaluate("navigator.serviceWorker.ready.then((found) => found.active !== null)")
        page.goto(f"{here}{job}/plan")
        expect(page).to_have_url(f"{there}{job}/plan")
        page.goto(f"{there}/shop")
        expect(page.locator("main")).to_contain_text("It comes in over https")
        page.goto(f"{there}/pair/certificate")
        expect(page.locator("h1")).to_contain_text("comes in over https")
        assert not serious(page)
        held = cookies[SESSION]["value"]  # what anybody on the way may have read
        stolen = httpx.get(f"{here}/api/jobs", headers={"cookie": f"{SESSION}={held}"}, timeout=60)
        assert stolen.status_code == 401
        own = screens()
        own.goto(f"{app.address}/shop")
        assert own.locator("#devices th").all_inner_texts() == ["the tablet 2", "the tablet"]
        expect(own.locator("#devices")).to_contain_text("over https")
        own.goto(f"{app.address}/pair/certificate")
        assert bytes.fromhex(print_on(own)) == root.fingerprint(SHA256())
        assert not serious(own)


@pytest.mark.parametrize("over_https", [True, False], ids=["https", "http"])
def test_a_tablet_is_carried_out_of_reach_and_what_it_did_arrives_once_in_order(
    over_https: bool, elsewhere: Elsewhere, tablets: Callable[..., Browser], tmp_path: Path
) -> None:
    """Its network is really gone; over https its page is opened anew meanwhile; the app is killed in the merge."""
    folder = tmp_path / "data"
    with shared(folder) as (app, secure):
        job = plain_job(app)
        steps = order()
        trusting = tablets(folder if over_https else None)
        made = Screens(trusting)
        page = made("tablet across", has_touch=True)
        pair(app, page, elsewhere.here)
        base = f"http://{elsewhere.here}:{app.port}"
        if over_https:
            base = f"https://{elsewhere.here}:{secure}"
            expect(page).to_have_url(f"{base}/")
        page.goto(f"{base}{job.removeprefix(app.address)}/steps/{steps[0]}")
        expect(page.locator(HELD)).to_have_count(1)
        if over_https:
            page.evaluate("navigator.serviceWorker.ready.then(() => true)")
            page.reload()  # once under its eyes
            expect(page.locator(HELD)).to_have_count(1)
            expect(page.locator("#awake")).to_be_empty()
        else:
            page.tap("#awake >> text=Understood")
        elsewhere.joined(False)
        readings: list[str] = []
        done = [press_on(page, readings) for _ in range(2)]
        said = "this device holds every step" if over_https else "Do not reload this page until it answers"
        expect(page.locator("#hearing")).to_contain_text(said)
        if over_https:
            page.reload()
            expect(page.locator(f"#step[data-card='{steps[2]}']")).to_have_count(1)
            expect(page.locator(".mark.queued")).to_have_count(2)
            page.goto(f"{base}{job.removeprefix(app.address)}/steps/{steps[2]}")
            expect(page.locator(f"#step[data-card='{steps[2]}']")).to_have_count(1)
        done += [press_on(page, readings) for _ in range(STEPS - 2)]
        assert done == steps[:STEPS]
        expect(page.locator("#unsent summary")).to_contain_text(f"{2 * STEPS} wait to be sent")
        assert acts(job) == ([], [])
        arrived: list[str] = []

        def arrive(answer: Response) -> None:
            if answer.request.method == "POST":
                arrived.append(answer.url)
                if len(arrived) == 3:
                    app.kill()

        page.on("response", arrive)
        elsewhere.joined(True)
        while len(arrived) < 3:
            page.wait_for_timeout(50)
        app.start()
        expect(page.locator("html[data-waits='0']")).to_have_count(1)
        ticks, read = acts(job)
        assert [each["card"] for each in ticks] == done
        assert [each["card"] for each in read] == done  # a reading or a yes of each, none twice
        assert [each["card"] for each in read if each["value_mm"] is not None] == readings
        at = [each["at"] for both in zip(read, ticks, strict=True) for each in both]
        assert at == sorted(at)
        assert {each["by"] for each in ticks} == {"the tablet"}
        expect(page.locator("#hearing")).to_be_hidden()
        made.close()


def test_what_waits_on_a_tablet_that_trusts_no_more_is_sent_once_it_trusts_the_new_root(
    browser: Browser, elsewhere: Elsewhere, tablets: Callable[..., Browser], tmp_path: Path
) -> None:
    """It has the app as away meanwhile, and shows the steps it holds."""
    folder = tmp_path / "data"

    @contextmanager
    def tablet(trust: str) -> Iterator[Page]:
        """The same device, started again: what its browser keeps is there."""
        context = browser.browser_type.launch_persistent_context(
            tmp_path / "profile",
            executable_path=tmp_path / "chromium-elsewhere",
            args=[*CHROMIUM, trust],
            has_touch=True,
            viewport={"width": 1024, "height": 768},
        )
        context.set_default_timeout(PATIENCE)
        yield context.new_page()
        context.close()

    with shared(folder) as (app, secure):
        there, job, steps = f"https://{elsewhere.here}:{secure}", plain_job(app), order()
        at, old = f"{there}{job.removeprefix(app.address)}/steps", trusting(folder)
        with tablet(old) as page:
            pair(app, page, elsewhere.here)
            expect(page).to_have_url(f"{there}/")
            page.goto(f"{at}/{steps[0]}")
            page.evaluate("navigator.serviceWorker.ready.then(() => true)")
            page.reload()  # once under its eyes
            expect(page.locator(HELD)).to_have_count(1)
            app.stop()
            expect(page.locator("#hearing")).to_contain_text("this device holds every step")
            assert press_on(page, []) == steps[0]
        shutil.rmtree(folder / CERTIFICATE_FOLDER)
        app.start()
        with tablet(old) as page:
            page.goto(f"{at}/{steps[1]}")
            expect(page.locator("#hearing")).to_contain_text("this device holds every step")
            expect(page.locator("#unsent summary")).to_contain_text("2 wait to be sent")
        assert acts(job) == ([], [])
        with tablet(trusting(folder)) as page:
            pair(app, page, elsewhere.here)
            expect(page).to_have_url(f"{there}/")
            expect(page.locator("html[data-waits='0']")).to_have_count(1)
        assert [[each["card"] for each in kind] for kind in acts(job)] == [[steps[0]], [steps[0]]]


@contextmanager
def impostor(here: str, chain: Path) -> Iterator[int]:
    """Somebody who answers whatever comes over https with this certificate; on which port."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(chain)
    with socket.create_server((here, 0)) as door:

        def answer() -> None:
            with suppress(OSError):  # until the door is closed
                while True:
                    line, _ = door.accept()
                    with suppress(OSError), context.wrap_socket(line, server_side=True) as secure:
                        secure.recv(65536)
                        secure.sendall(
                            b"HTTP/1.1 200 OK\r\ncontent-length: 4\r\nconnection: close\r\n\r\nmine"
                        )

        thread = threading.Thread(target=answer, daemon=True)
        thread.start()
        yield int(door.getsockname()[1])
        door.shutdown(socket.SHUT_RDWR)
    thread.join(60)


def test_a_browser_that_was_told_to_trust_the_root_trusts_it_as_far_as_it_goes(
    elsewhere: Elsewhere, tablets: Callable[..., Browser], tmp_path: Path
) -> None:
    """No flag stands for the trust here: the root is in the browser's own store, put there by the tool of that store."""
    certutil = shutil.which("certutil")
    if certutil is None:
        pytest.skip(
            "to put a certificate into the browser's own store needs certutil (Debian: libnss3-tools)"
        )
    folder, store = tmp_path / "data", tmp_path / HOME / ".pki" / "nssdb"
    store.mkdir(parents=True)
    to_store = [certutil, "-d", f"sql:{store}"]
    subprocess.run([*to_store, "-N", "--empty-password"], check=True)
    with shared(folder) as (app, secure):
        there = f"https://{elsewhere.here}:{secure}"
        job = plain_job(app).removeprefix(app.address)
        page = tablets(None).new_page()
        with pytest.raises(BrowserError, match="ERR_CERT_AUTHORITY_INVALID"):
            page.goto(f"{there}/pair")
        root = folder / CERTIFICATE_FOLDER / ROOT_FILE
        subprocess.run([*to_store, "-A", "-t", "C,,", "-n", "shop", "-i", str(root)], check=True)
        trusting = tablets(None, f"--host-resolver-rules=MAP bank.example {elsewhere.here}")
        page = trusting.new_context(has_touch=True).new_page()
        page.set_default_timeout(PATIENCE)
        pair(app, page, elsewhere.here)
        expect(page).to_have_url(f"{there}/")
        page.goto(f"{there}{job}/steps/drill-neck-screws")
        assert page.evaluate("navigator.serviceWorker.ready.then((found) => found.active !== null)")
        thief, forged = Thief(folder), tmp_path / "forged.pem"
        thief.forge(forged, [ipaddress.ip_address(elsewhere.here)])
        with impostor(elsewhere.here, forged) as port:
            page.goto(f"https://{elsewhere.here}:{port}/")
            expect(page.locator("body")).to_have_text("mine")
        thief.forge(forged, ["bank.example"])
        with impostor(elsewhere.here, forged) as port, pytest.raises(BrowserError, match="ERR_CERT_INVALID"):
            page.goto(f"https://bank.example:{port}/")
