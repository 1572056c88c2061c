"""What takes more time or memory than it may is refused in a sentence, and keeps nobody else waiting."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import httpx
import pytest
import uvicorn
from tests import held_up
from tests.conftest import SHIPPED, WITHOUT_TUNNELS

from scribeline import cli
from scribeline.bounds import Bounds, Crew, Ended, Exceeded, Handle, _Copy, _Program, within
from scribeline.job import JobError, parse_job
from scribeline.scenario import demo_jobs
from scribeline.store import open_store
from scribeline.web.app import create_app
from scribeline.web.planning import Planner
from scribeline.web.serve import listening
from scribeline.web.shop import Shop

LITTLE = Bounds(seconds=0.5, megabytes=1000)
MUCH = Bounds(seconds=60, megabytes=1000)
LONG = 300.0
"""After how many seconds a test gives up on what does not come at all."""


def until(there: Callable[[], bool]) -> None:
    deadline = time.monotonic() + LONG
    while not there() and time.monotonic() < deadline:
        time.sleep(0.01)
    assert there()


# A crew


@pytest.fixture(scope="module", params=["copies", "programs"])
def crew(request: pytest.FixtureRequest) -> Iterator[Crew]:
    """A crew of copied processes, as on Linux, and one whose processes are each a program of its own, as elsewhere."""
    with pytest.MonkeyPatch.context() as patched:
        if request.param == "programs":
            patched.setattr("scribeline.bounds._begun", _Program)
        made = Crew(idle=1)
        yield made
        made.close()


def test_what_takes_too_long_is_cut_off_and_what_comes_next_is_made(crew: Crew) -> None:
    with pytest.raises(Exceeded) as cut:
        crew.run(LITTLE, held_up.never)
    assert cut.value.words == "more than 0.5 s, which is all it may take"
    assert crew.run(MUCH, abs, -3) == 3


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux holds a process to a bound of memory")
def test_what_takes_too_much_memory_is_cut_off(crew: Crew) -> None:
    with pytest.raises(Exceeded) as cut:
        crew.run(Bounds(seconds=60, megabytes=200), held_up.in_much_memory)
    assert cut.value.words == "more than 200 MB of memory, which is all it may take"
    assert crew.run(MUCH, abs, -3) == 3


def test_what_waits_and_does_not_work_is_ended_too(crew: Crew, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("scribeline.bounds.GRACE", (1.0, 1.0))
    with pytest.raises(Exceeded, match="time"):
        crew.run(LITTLE, time.sleep, 1e6)


def test_what_a_function_raises_is_raised_here(crew: Crew) -> None:
    with pytest.raises(JobError) as told:
        crew.run(MUCH, parse_job, SHIPPED.replace("thickness", "thikness", 1))
    assert "thikness" in str(told.value)
    assert told.value.faults[0].line is not None


def test_work_is_stopped_from_another_thread(crew: Crew) -> None:
    handle = Handle()
    threading.Timer(0.2, handle.stop).start()
    with pytest.raises(Ended):
        crew.run(Bounds(seconds=1e6, megabytes=1000), time.sleep, 1e6, handle=handle)


def test_a_long_order_keeps_no_other_one_waiting(crew: Crew) -> None:
    stops = [Handle() for _ in range(3)]
    with ThreadPoolExecutor(3) as people:
        for stop in stops:
            people.submit(crew.run, Bounds(seconds=1e6, megabytes=1000), time.sleep, 1e6, handle=stop)
        assert crew.run(MUCH, abs, -3) == 3
        for stop in stops:
            stop.stop()


@pytest.mark.skipif(sys.platform != "linux", reason="only on Linux is a process copied")
def test_a_process_of_a_crew_is_a_copy_with_what_was_read_in(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("scribeline.bounds._begun", _Copy)
    crew = Crew("tests.held_up", idle=1)
    try:
        first, original = (crew.run(MUCH, each) for each in (os.getpid, os.getppid))
        assert original != os.getpid()
        assert crew.run(MUCH, eval, "'tests.held_up' in __import__('sys').modules")
        os.kill(first, signal.SIGKILL)
        assert crew.run(MUCH, os.getpid) != first
        assert crew.run(MUCH, os.getppid) == original
        for each in (original, crew.run(MUCH, os.getpid)):
            os.kill(each, signal.SIGKILL)
        assert crew.run(MUCH, os.getppid) != original
        # Without the one it was copied from, one at work can be left all the same.
        handle = Handle()

        def leave() -> None:
            os.kill(crew.run(MUCH, os.getppid), signal.SIGKILL)
            handle.stop()

        threading.Timer(0.2, leave).start()
        with pytest.raises(Ended):
            crew.run(Bounds(seconds=1e6, megabytes=1000), time.sleep, 20, handle=handle)
    finally:
        crew.close()


def test_a_program_without_a_guard_round_its_main_part_may_use_a_crew(tmp_path: Path) -> None:
    """The usual way to start processes runs a program's file once more, in each of them."""
    program = tmp_path / "program.py"
    program.write_text(
        "from scribeline.bounds import Bounds, Crew\nprint('begun', flush=True)\ncrew = Crew()\n"
        "print(crew.run(Bounds(60, 1000), abs, -3))\ncrew.close()\n"
    )
    ran = subprocess.run([sys.executable, program], capture_output=True, text=True, check=True)
    assert ran.stdout == "begun\n3\n"


# The app


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    """The app in this process, so that a test may put its own functions into it."""
    folder = tmp_path_factory.mktemp("shop")
    with open_store(folder / "shop.db") as store, listening(None) as door:
        planner, port = Planner(elsewhere=True), door.getsockname()[1]
        shop = Shop(store, folder, planner=planner, port=port)
        server = uvicorn.Server(uvicorn.Config(create_app(shop), log_level="critical"))
        serving = threading.Thread(target=server.run, args=([door],))
        serving.start()
        most = httpx.Limits(max_connections=100)
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=LONG, limits=most) as client:
            yield client
        server.should_exit = True
        serving.join()
        planner.close()


def _job(app: httpx.Client, text: str = WITHOUT_TUNNELS) -> int:
    return int(app.post("/api/jobs", json={"text": text}).json()["job_id"])


def _edited(app: httpx.Client, job: int) -> int:
    """What an edit of the body's thickness is answered with."""
    edit = {"key": "body.thickness", "value": "43.9", "based_on": "1", "back": f"/jobs/{job}/plan"}
    return app.post(f"/jobs/{job}/set", data=edit, follow_redirects=False).status_code


def test_while_one_job_is_planned_an_edit_of_another_is_answered(
    app: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("scribeline.web.planning.known", held_up.known_when_let_go)
    with TemporaryDirectory() as name, ThreadPoolExecutor(50) as people:
        folder = Path(name)
        named = WITHOUT_TUNNELS.replace('name = "Marram"', f'name = "{name}"', 1)
        assert name in named
        quick, hung = _job(app), _job(app, named)
        # More of them than the server's usual number of threads.
        address = f"/api/jobs/{hung}/findings"
        waiting = [people.submit(app.get, address) for _ in range(45)]
        until((folder / held_up.BEGUN).exists)
        try:
            assert _edited(app, quick) == 303
            assert app.get(f"/jobs/{quick}/plan").status_code == 200
            assert not any(each.done() for each in waiting)
        finally:
            (folder / held_up.GO_ON).touch()
        assert {each.result().status_code for each in waiting} == {200}


@pytest.mark.parametrize(
    ("never", "bounds", "words"),
    [
        (held_up.never, LITTLE, "planning it takes more than 0.5 s, which is all it may take"),
        pytest.param(
            held_up.in_much_memory,
            Bounds(seconds=60, megabytes=200),
            "planning it takes more than 200 MB of memory, which is all it may take",
            marks=pytest.mark.skipif(sys.platform != "linux", reason="only Linux bounds memory"),
        ),
    ],
    ids=["time", "memory"],
)
def test_a_plan_that_takes_too_much_is_refused_once_and_says_how_to_make_it_simpler(
    app: httpx.Client, monkeypatch: pytest.MonkeyPatch, never: Any, bounds: Bounds, words: str
) -> None:
    job = _job(app)
    monkeypatch.setattr("scribeline.web.planning.known", never)
    monkeypatch.setattr("scribeline.web.planning.PLANNING", bounds)
    told = app.get(f"/api/jobs/{job}/plan")
    assert told.status_code == 422
    (fault,) = told.json()["faults"]
    assert words in fault["sentence"]
    assert "leave out what is not needed" in fault["sentence"]
    # It is remembered: nobody waits for the same again.
    monkeypatch.setattr("scribeline.bounds.Crew.run", None)
    assert app.get(f"/api/jobs/{job}/plan").json()["faults"] == [fault]
    assert words in app.get(f"/jobs/{job}/plan").text


def test_a_search_that_takes_too_long_is_refused_by_the_names_of_its_tunnels(
    app: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = _job(app, SHIPPED)
    monkeypatch.setattr("scribeline.web.elsewhere.PLANNING", Bounds(seconds=0.01, megabytes=1000))
    sentence = app.get(f"/api/jobs/{job}/plan").json()["faults"][0]["sentence"]
    assert "takes more than 0.01 s" in sentence
    # An edit goes on: it may be the way out.
    assert _edited(app, job) == 303


def test_a_drawing_of_a_page_that_takes_too_long_leaves_the_page(
    app: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = _job(app)
    monkeypatch.setattr("scribeline.web.planning.FEW_CUTS", 0)
    assert "<svg" in app.get(f"/jobs/{job}/plan").text
    monkeypatch.setattr("scribeline.web.pages.plan.drawn", held_up.never)
    monkeypatch.setattr("scribeline.web.planning.DRAWING", LITTLE)
    page = app.get(f"/jobs/{job}/plan?view=back")
    assert page.status_code == 200
    assert "Drawing it takes more than 0.5 s" in page.text


# The commands


def test_a_drawing_that_takes_too_long_to_read_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("scribeline.plan.held.READING", LITTLE)
    monkeypatch.setattr("scribeline.job.reading.read_outline_file", held_up.never)
    assert cli.main(["check", str(_with_drawing(tmp_path))]) == cli.UNUSABLE
    said = " ".join(capsys.readouterr().err.split())
    assert "file body.dxf: reading it takes more than 0.5 s, which is all it may take" in said
    assert "save the outline alone into a new file" in said


def test_a_plan_that_takes_too_long_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "job.toml").write_text(SHIPPED)
    monkeypatch.setattr("scribeline.plan.held.PLANNING", LITTLE)
    monkeypatch.setattr("scribeline.plan.held.plan", held_up.never)
    assert cli.main(["check", str(tmp_path / "job.toml")]) == cli.UNUSABLE
    assert "planning it takes more than 0.5 s" in " ".join(capsys.readouterr().err.split())


def _with_drawing(folder: Path) -> Path:
    head, _, rest = SHIPPED.partition("[body.outline]\n")
    assert rest
    tail = rest[rest.index("\n[") :]
    job = folder / "job.toml"
    job.write_text(f'{head}[body.outline]\nfile = "body.dxf"\norigin = [0, 0]\n{tail}')
    return job


@pytest.mark.skipif(sys.platform == "win32", reason="no such signal")
def test_ctrl_c_ends_a_command_cleanly(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def pressed(*_: Any) -> None:
        os.kill(os.getpid(), signal.SIGINT)
        held_up.never()

    (tmp_path / "job.toml").write_text(SHIPPED)
    monkeypatch.setattr("scribeline.plan.held.plan", pressed)
    # Python hears Ctrl+C only where whoever started it does: a shell's background work is told not to.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        assert cli.main(["check", str(tmp_path / "job.toml")]) == cli.INTERRUPTED
    finally:
        signal.signal(signal.SIGINT, before)
    assert "stopped by Ctrl+C" in capsys.readouterr().err


def test_a_line_of_blanks_is_read_once() -> None:
    """Three parts of a pattern used to share the blanks in every way there is: 2,000 of them took seconds."""
    blanks = " " * 200_000
    with within(Bounds(seconds=10, megabytes=1000)):
        for line in (blanks, f"[{blanks}", f"x{blanks}", f"['x'{blanks}"):
            wrong = SHIPPED.replace('thickness = "44.4 +/- 0.1"', 'thickness = "44.4 x"', 1)
            with pytest.raises(JobError) as told:
                parse_job(f"{wrong}\nz = '''\n{line}\n'''\n")
            assert told.value.faults[0].line is not None
        with pytest.raises(JobError, match="stands on line 1 already"):
            parse_job(f"[a]\n[{blanks}\n[a]\n".replace(f"[{blanks}\n", f"'x{blanks}' = 1\n"))


def test_an_edit_whose_tunnels_are_known_is_planned_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second job with the same tunnels, as one brought in again is: only its first plan has to ask for their ways."""
    text, ran = demo_jobs()["marram.toml"], list[str]()
    own = Crew.run

    def noted(crew: Crew, bounds: Bounds, make: Any, *given: Any, **more: Any) -> Any:
        ran.append(make.__name__)
        return own(crew, bounds, make, *given, **more)

    monkeypatch.setattr(Crew, "run", noted)
    planner = Planner(elsewhere=True)
    try:
        for name in ("one", "two"):
            (tmp_path / name).mkdir()
            planner.plan(text, tmp_path / name)
        ran.clear()
        planner.plan(text.replace("plate_thickness = 2.3", "plate_thickness = 2.4"), tmp_path / "two")
    finally:
        planner.close()
    assert ran == ["parsed", "known"]
