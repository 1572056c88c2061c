"""An edit that moves a tunnel is answered at once; its best way is looked for elsewhere, and the page asks for the rest."""

from __future__ import annotations

import errno
import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from types import SimpleNamespace

import pytest
from playwright.sync_api import Route, expect
from tests.conftest import SHIPPED

from scribeline.job import parse_job
from scribeline.plan import plan
from scribeline.web.frame import Opened
from scribeline.web.numbers import changed, findings_changed
from scribeline.web.planning import Planner

from .conftest import PATIENCE, Screens, Served, demo_job, serious
from .test_app_editing import box, write


def _thick(mm: float) -> str:
    """The demo with a body of another thickness."""
    stated = 'thickness = "44.4 +/- 0.1"'
    assert stated in SHIPPED
    return SHIPPED.replace(stated, f"thickness = {mm}")


THINNER, THINNER_STILL = _thick(43.6), _thick(43.2)
LONG = PATIENCE / 1000
"""After how many seconds a test gives up on what does not come at all; nothing is judged by how long it takes."""


@pytest.fixture
def planner() -> Iterator[Planner]:
    """One with a process of its own, as the app has it."""
    made = Planner(elsewhere=True)
    yield made
    made.close()


def test_what_is_awaited_comes_and_is_what_it_would_have_been(planner: Planner) -> None:
    soon = planner.now(THINNER, None, of=1)
    assert {tunnel.place.name for tunnel in soon.awaited} == {
        tunnel.place.name for tunnel in soon.tunnels if not tunnel.stated
    }
    assert soon.awaited
    assert planner.settled(THINNER, None, of=1, patience=None) == plan(*parse_job(THINNER, source="the job"))
    assert planner.plan(THINNER) == planner.now(THINNER, None, of=1)


def test_a_plan_that_must_be_whole_awaits_nothing(planner: Planner) -> None:
    whole = planner.plan(THINNER)
    assert not whole.awaited
    assert whole == plan(*parse_job(THINNER, source="the job"))


def test_an_edit_that_decides_no_tunnel_awaits_none(planner: Planner) -> None:
    planner.plan(SHIPPED)
    edited = SHIPPED.replace("length = 32", "length = 30")
    assert edited != SHIPPED
    assert not planner.now(edited, None, of=1).awaited


def test_nothing_is_told_of_a_tunnel_that_is_awaited(planner: Planner) -> None:
    before, soon = planner.plan(SHIPPED), planner.now(THINNER, None, of=1)
    unknown = {tunnel.place.id for tunnel in soon.awaited}
    assert not [each for each in soon.findings if unknown & set(each.features)]
    assert not [each for each in changed(before, soon) if each.feature in unknown]
    came, gone = findings_changed(before, soon)
    assert not [each for each in (*came, *gone) if unknown & set(each.features)]
    # All else is as it will be: nothing that is shown at once has to be taken back.
    later = planner.settled(THINNER, None, of=1, patience=None)
    stays = {finding for finding in later.findings if not unknown & set(finding.features)}
    assert {each for each in soon.findings if each.severity == "stop"} <= stays


def test_the_newest_text_of_a_job_is_the_one_that_is_worked_on(planner: Planner) -> None:
    for number in range(6):
        planner.now(_thick(42.4 + number / 10), None, of=1)
    planner.now(THINNER_STILL, None, of=1)
    overtaken = planner.now(THINNER, None, of=2)
    assert overtaken.awaited
    newest = planner.settled(THINNER_STILL, None, of=1, patience=None)
    assert not newest.awaited
    assert newest.job.document.body.thickness.mm == pytest.approx(43.2)


def test_a_process_that_is_ended_from_outside_loses_no_plan(planner: Planner) -> None:
    """A machine that runs out of memory ends processes; the next order has one again."""
    planner.plan(SHIPPED)
    for child in _children(os.getpid(), "scribeline.bounds"):
        with suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)
    assert planner.plan(THINNER) == plan(*parse_job(THINNER, source="the job"))
    assert not planner.plan(THINNER_STILL).awaited


def test_where_no_process_can_be_had_plans_are_made_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: object, **__: object) -> None:
        raise OSError(errno.ENOMEM, os.strerror(errno.ENOMEM))

    monkeypatch.setattr("scribeline.bounds._Original._all", {})  # none is there that could be copied
    monkeypatch.setattr("scribeline.bounds.subprocess.Popen", none)
    planner = Planner(elsewhere=True)
    assert planner.plan(THINNER) == plan(*parse_job(THINNER, source="the job"))
    assert not planner.settled(THINNER_STILL, None, of=1, patience=None).awaited


def test_a_page_that_waits_keeps_no_other_one_waiting() -> None:
    """Python 3.11's cached property has one lock for all instances; the app's own pages must not hang on it."""
    begun, go_on, other = threading.Event(), threading.Event(), threading.Event()

    class Slow(Opened):
        def __init__(self, then: Callable[[], None]) -> None:
            object.__setattr__(self, "shop", SimpleNamespace(record=lambda _: then()))
            object.__setattr__(self, "revision", SimpleNamespace(job_id=1))

    def wait() -> None:
        begun.set()
        assert go_on.wait(LONG)

    threading.Thread(target=lambda: Slow(wait).record, daemon=True).start()
    assert begun.wait(LONG)
    threading.Thread(target=lambda: Slow(other.set).record, daemon=True).start()
    assert other.wait(LONG)
    go_on.set()


def test_a_page_says_what_it_awaits_and_asks_for_it(app: Served, screens: Screens) -> None:
    job, page = demo_job(app), screens("tablet")
    held: list[Route] = []

    def hold(route: Route) -> None:
        if route.request.headers.get("awaits"):
            held.append(route)
        else:
            route.continue_()

    page.goto(f"{job}/plan")
    expect(page.locator(".cell.state")).to_contain_text("OK")
    chips = page.locator(".chips li").count()
    page.route("**/plan*", hold)
    write(page, "body.thickness", "43.7")
    expect(page.locator("#saved")).to_have_text("no. 2")
    expect(page.locator(".cell.state")).to_contain_text("looking")
    expect(page.locator(".cell.state")).not_to_contain_text("OK")
    expect(page.locator("#main")).to_contain_text("Still finding the best way")
    # Nothing moves under a finger that is on its way to a hole.
    expect(page.locator(".chips li")).to_have_count(chips)
    assert (
        page.locator("#drawing [data-layer='was'] [data-ref^='tunnel']").count() == 2
    )  # T1 and T2 of the demo, dotted where they were
    assert not serious(page)
    # What is typed meanwhile, and not sent yet, is nobody's but the one's who types.
    page.focus(box(page, "bridge.spacing"))
    page.keyboard.press("Control+A")
    page.keyboard.type("10.4")
    deadline = time.monotonic() + LONG
    while not held and time.monotonic() < deadline:
        page.wait_for_timeout(20)
    for route in held:
        route.continue_()
    expect(page.locator(".chips li")).to_have_count(chips)
    expect(page.locator(".cell.state")).to_contain_text("OK")
    expect(page.locator("#main")).not_to_contain_text("Still finding the best way")
    expect(page.locator("#drawing [data-layer='hidden'] [data-ref^='tunnel']").first).to_be_attached()
    expect(page.locator(box(page, "bridge.spacing"))).to_be_focused()
    expect(page.locator(box(page, "bridge.spacing"))).to_have_value("10.4")
    assert not screens.said


def test_a_touched_tunnel_stays_open_while_it_is_looked_for(app: Served, screens: Screens) -> None:
    job, page = demo_job(app), screens()
    page.goto(f"{job}/plan")
    tunnel = page.locator(".chips a", has_text="T1")
    name = tunnel.inner_text()
    tunnel.click()
    expect(page.locator("#picked-h")).to_contain_text(name)
    page.route("**/plan*", lambda route: None if route.request.headers.get("awaits") else route.continue_())
    write(page, "body.thickness", "43.8")
    expect(page.locator("#saved")).to_have_text("no. 2")
    expect(page.locator("#picked-h")).to_contain_text(name)
    expect(page.locator("#main")).to_contain_text("Still being worked out")
    page.unroute_all(behavior="ignoreErrors")


def test_without_scripts_a_page_is_whole(app: Served, screens: Screens) -> None:
    job, page = demo_job(app), screens(java_script_enabled=False)
    page.goto(f"{job}/plan")
    page.fill(box(page, "body.thickness"), "43.9")
    page.press(box(page, "body.thickness"), "Enter")
    expect(page.locator("#saved")).to_have_text("no. 2")
    expect(page.locator(".cell.state")).to_contain_text("OK")
    expect(page.locator(".chips a", has_text="T1")).to_be_visible()


def test_nothing_runs_on_when_the_app_is_killed(tmp_path: Path) -> None:
    app = Served(tmp_path)
    app.start()
    assert app.process is not None
    pid = app.process.pid
    deadline = time.monotonic() + LONG
    while not (running := _children(pid, "scribeline.bounds")) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert running
    app.kill()
    while any(_runs(each, "scribeline.bounds") for each in running) and time.monotonic() < deadline + LONG:
        time.sleep(0.05)
    assert not [each for each in running if _runs(each, "scribeline.bounds")]


def _children(pid: int, what: str) -> list[int]:
    """Processes that one started, and those that these started, by a word of what they run."""
    found: list[int] = []
    for task in Path(f"/proc/{pid}/task").iterdir():
        with suppress(OSError):  # this thread has ended meanwhile
            found += [int(each) for each in (task / "children").read_text().split() if _runs(int(each), what)]
    return [each for child in found for each in (child, *_children(child, what))]


def _runs(pid: int, what: str) -> bool:
    """Whether a process is there and runs this; one that has ended and that nobody has asked after runs nothing."""
    try:
        return what in Path(f"/proc/{pid}/cmdline").read_text()
    except OSError:
        return False
