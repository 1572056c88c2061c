"""Kill -9 of the real server, at random, under writes: whatever it had acknowledged is there afterwards.

`make torture` does it 2,000 times and prints what it counted. A killed process is not a power cut: that the log is
flushed to the disk at every commit is SQLite's part (`PRAGMA synchronous = FULL`, held in `test_store`).
"""

from __future__ import annotations

import http.client
import json
import multiprocessing
import os
import random
import socket
import sqlite3
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.conftest import DEMO

from scribeline.store import open_store
from scribeline.web import serve

from .conftest import PATIENCE

TEXT = DEMO
"""A job without tunnels: it is planned at once, so that the time goes into writing and killing."""

KILLS = int(os.environ.get("SCRIBELINE_KILLS", "4"))
WRITERS = 3


LOADED = ["scribeline.web.app", "scribeline.web.connections", "scribeline.drawing.views", "scribeline.plan"]


class Server:
    """`serve.run`, what `scribeline serve` runs, in a process of its own; its modules are loaded once for all of them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.making = multiprocessing.get_context("forkserver")
        self.making.set_forkserver_preload(LOADED)
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = int(free.getsockname()[1])

    def start(self) -> None:
        settings = {"folder": self.folder, "port": self.port, "share": False, "browser": False}
        self.process = self.making.Process(target=serve.run, kwargs=settings)
        self.process.start()
        deadline = time.monotonic() + PATIENCE / 1000
        while True:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=20).close()
            except OSError:
                assert time.monotonic() < deadline
                assert self.process.is_alive()
                time.sleep(0.01)
            else:
                return

    def kill(self) -> None:
        """Kill -9."""
        self.process.kill()
        self.process.join(20)
        assert self.process.exitcode == -9
        self.process.close()


@dataclass
class Writer:
    """One device: edits a job of its own, reads gates, measures, ticks steps, and notes what was acknowledged."""

    port: int
    name: str
    told: threading.Semaphore
    job: int = 0
    revisions: dict[int, str] = field(default_factory=dict)
    readings: list[float] = field(default_factory=list)
    measured: list[float] = field(default_factory=list)
    struck: int = 0
    ticks: dict[str, bool | None] = field(default_factory=dict)

    def run(self) -> None:
        """Write until the server is gone."""
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE / 1000)
        try:
            made = self.ask(line, "POST", "/jobs", {"text": TEXT, "why": self.name})
            self.job = int(made["job_id"])
            self.revisions[1] = TEXT
            for count in range(100_000):
                self.edit(line, count)
                self.read(line, count)
                self.measure(line, count)
                if count % 3 == 0:
                    self.tick(line, ("check-body", "rout-bridge-pickup")[count % 2])
        except (OSError, http.client.HTTPException):
            pass  # killed: what was asked last was not acknowledged
        finally:
            line.close()

    def ask(self, line: http.client.HTTPConnection, method: str, path: str, body: Any) -> Any:
        line.request(method, f"/api{path}", json.dumps(body), {"content-type": "application/json"})
        answer = line.getresponse()
        content = answer.read()
        assert answer.status < 300, (answer.status, content)
        self.told.release()
        return json.loads(content) if content else None

    def edit(self, line: http.client.HTTPConnection, count: int) -> None:
        newest = max(self.revisions)
        value = f"{10 + (count % 997) / 1000:.3f}"
        change = {"key": "bridge.spacing", "value": value, "based_on": newest, "why": f"{self.name} {count}"}
        made = self.ask(line, "POST", f"/jobs/{self.job}/values", change)
        self.revisions[made["number"]] = value

    def read(self, line: http.client.HTTPConnection, count: int) -> None:
        value = 320.0 + count / 1000
        self.ask(
            line,
            "POST",
            f"/jobs/{self.job}/readings",
            {"card": "check-neck", "value_mm": value, "with_what": self.name, "revision": 1},
        )
        self.readings.append(value)

    def measure(self, line: http.client.HTTPConnection, count: int) -> None:
        """Measure one of the plan's numbers; every fifth time strike the one before through."""
        value = 320.0 + count / 10_000
        given = {"what": "nut-to-12th", "value_mm": value, "sure": True}
        self.ask(line, "POST", f"/jobs/{self.job}/measurements", given)
        self.measured.append(value)
        if count % 5 == 4:
            number = len(self.measured) - 1
            self.ask(line, "POST", f"/jobs/{self.job}/measurements/{number}/strike", {"why": "read twice"})
            self.struck = number

    def tick(self, line: http.client.HTTPConnection, card: str) -> None:
        was, self.ticks[card] = self.ticks.get(card), None  # not known until it is acknowledged
        path = f"/jobs/{self.job}/ticks/{card}"
        if was:
            self.ask(line, "DELETE", path, {})
        else:
            self.ask(line, "PUT", path, {"revision": 1})
        self.ticks[card] = not was

    def missing(self, folder: Path) -> list[str]:
        """What was acknowledged and is not there."""
        if not self.job:
            return []
        with open_store(folder / "shop.db") as store:
            kept = {each.number: each.text for each in store.history(self.job)}
            read = [each.value_mm for each in store.readings(self.job)]
            done = {each.card_id: each for each in store.ticks(self.job)}
            measured = store.measurements(self.job)
        lost = [
            f"revision {number} of job {self.job}"
            for number, value in self.revisions.items()
            if (
                kept.get(number) != TEXT
                if number == 1
                else f'spacing = "{value}"' not in kept.get(number, "")
            )
        ]
        if sorted(kept) != list(range(1, len(kept) + 1)):
            lost.append(f"a revision in the middle of job {self.job}")
        if read[: len(self.readings)] != self.readings:
            lost.append(f"a reading of job {self.job}")
        if [each.value_mm for each in measured][: len(self.measured)] != self.measured:
            lost.append(f"a measurement of job {self.job}")
        if self.struck and not measured[self.struck - 1].struck:
            lost.append(f"a measurement struck through of job {self.job}")
        lost += [
            f"tick of {card} of job {self.job}"
            for card, ticked in self.ticks.items()
            if ticked is not None and ticked is not (card in done)
        ]
        if "rout-bridge-pickup" in done and len(done["rout-bridge-pickup"].features) != 2:
            lost.append(f"a cut of a tick of job {self.job}")
        return lost


def test_what_was_acknowledged_survives_kill_9(tmp_path: Path) -> None:
    chance = random.Random(20261125)
    app = Server(tmp_path)
    every: list[Writer] = []
    began = time.monotonic()
    for round_ in range(KILLS):
        app.start()
        told = threading.Semaphore(0)
        writers = [Writer(app.port, f"round {round_} writer {n}", told) for n in range(WRITERS)]
        threads = [threading.Thread(target=writer.run) for writer in writers]
        for thread in threads:
            thread.start()
        for _ in range(chance.randint(1, 60)):
            assert told.acquire(timeout=PATIENCE / 1000)
        time.sleep(chance.uniform(0.0, 0.01))
        app.kill()
        for thread in threads:
            thread.join(20)
        every += writers
        assert [lost for writer in writers for lost in writer.missing(tmp_path)] == []
    assert [lost for writer in every for lost in writer.missing(tmp_path)] == []
    with sqlite3.connect(tmp_path / "shop.db") as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    database.close()
    revisions, readings, measured = (
        sum(len(getattr(each, what)) for each in every) for what in ("revisions", "readings", "measured")
    )
    ticks = sum(ticked is not None for each in every for ticked in each.ticks.values())
    assert revisions > 5 * KILLS
    assert readings > KILLS
    assert measured > KILLS
    assert ticks > 0
    print(  # noqa: T201 - the measured run is read by a person
        f"\n{KILLS} kills in {time.monotonic() - began:.0f} s: {revisions} acknowledged revisions, {readings} readings, "
        f"{measured} measurements and {ticks} states of ticks, none lost"
    )
