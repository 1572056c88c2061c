"""A crowd of strangers before the shared app, in a network of their own: the owner and a paired tablet work on.

Needs root and iproute2: the strangers' addresses are in a network namespace of Linux, joined to this machine by a pair of
virtual Ethernet devices, so that they come from somewhere else as far as the app can tell.
"""

from __future__ import annotations

import json
import os
import re
import statistics
import subprocess
import sys
import time
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import pytest

from scribeline.scenario import demo_jobs

from .conftest import Elsewhere, Served, free_port, serving

SECONDS = float(os.environ.get("SCRIBELINE_STRANGERS_S", "120"))
CONNECTIONS = int(os.environ.get("SCRIBELINE_STRANGERS", "0"))
SCRIPT = Path(__file__).parent.parent / "strangers.py"

SLOWEST_EDIT_S = 0.5
"""95 of 100 edits take less: longer and one wonders whether the tap was felt. On a machine that has so much else to do that
they take as long with nobody at the door, twice what they take then."""

MOST_MEMORY_MB = 64
"""What a crowd may cost: 512 connections with 64 kB each way, and what the edits of two minutes leave."""


class Owner:
    """Whoever sits at the machine the app runs on: changes a value, each time over a connection of its own."""

    def __init__(self, app: Served) -> None:
        self.app = app
        made = self.ask("POST", "/api/jobs", {"text": demo_jobs()["marram.toml"]})
        self.job, self.newest, self.took = made["job_id"], made["number"], list[float]()

    def ask(self, method: str, path: str, body: Any = None) -> Any:
        line = HTTPConnection("127.0.0.1", self.app.port, timeout=60)
        line.request(method, path, json.dumps(body), {"content-type": "application/json"})
        answer = line.getresponse()
        said = answer.read()
        line.close()
        assert answer.status < 300, (answer.status, said)
        return json.loads(said) if path.startswith("/api/") else said.decode()

    def edit(self) -> None:
        began = time.monotonic()
        change = {
            "key": "bridge.spacing",
            "value": f"{10 + len(self.took) % 900 / 1000:.3f}",
            "based_on": self.newest,
        }
        self.newest = self.ask("POST", f"/api/jobs/{self.job}/values", change)["number"]
        self.took.append(time.monotonic() - began)

    def code(self) -> str:
        found = re.search(r"[A-Z0-9]{3}-[A-Z0-9]{3}", self.ask("GET", "/shop"))
        assert found
        return found[0]


def memory_mb(app: Served) -> float:
    """Resident memory, and only the server's own: processes it starts are counted apart."""
    assert app.process is not None
    said = Path(f"/proc/{app.process.pid}/status").read_text(encoding="ascii")
    return int(re.findall(r"VmRSS:\s+(\d+)", said)[0]) / 1024


def processor_s(app: Served) -> float:
    """Processor time of the server so far, its threads' too."""
    assert app.process is not None
    fields = Path(f"/proc/{app.process.pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def quantiles(took: list[float]) -> str:
    return f"median {statistics.median(took):.3f} s, 95 of 100 under {p95(took):.3f} s, longest {max(took):.3f} s of {len(took)}"


def p95(took: list[float]) -> float:
    return statistics.quantiles(took, n=20)[-1]


@pytest.mark.skipif(
    not CONNECTIONS, reason="takes minutes: make torture runs it, with SCRIBELINE_STRANGERS=2000"
)
@pytest.mark.parametrize(
    ("addresses", "over_https"), [(1, False), (10, False), (10, True)], ids=["1", "10", "10 over https"]
)
def test_the_owner_works_on_while_strangers_crowd_the_door(
    elsewhere: Elsewhere, tmp_path: Path, addresses: int, over_https: bool
) -> None:
    secure = free_port()
    with serving(tmp_path, "--share", "--https-port", str(secure)) as app:
        owner = Owner(app)
        for _ in range(40):
            owner.edit()
            time.sleep(0.1)
        alone, owner.took = owner.took, []
        before, worked = memory_mb(app), processor_s(app)

        def start(what: str, port: int, *rest: str) -> subprocess.Popen[str]:
            command = [
                *elsewhere.inside,
                sys.executable,
                str(SCRIPT),
                what,
                str(port),
                elsewhere.here,
                str(SECONDS),
                *rest,
            ]
            return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)

        kind, door = ("crowd-over-https", secure) if over_https else ("crowd", app.port)
        with (
            start(kind, door, str(CONNECTIONS), *elsewhere.addresses[:addresses]) as crowd,
            start("tablet", app.port, elsewhere.tablet, owner.code()) as tablet,
        ):
            most = before
            while crowd.poll() is None:
                owner.edit()
                most = max(most, memory_mb(app))
                time.sleep(0.1)
            tablets: list[float] = json.loads(tablet.communicate()[0])
            counted = json.loads(crowd.communicate()[0])
        print(  # noqa: T201 - the measured run is read by a person
            f"\n{CONNECTIONS} strangers from {addresses} to {door} for {SECONDS:.0f} s: {counted}\n"
            f"the owner alone: {quantiles(alone)}\nthe owner: {quantiles(owner.took)}\n"
            f"a paired tablet: {quantiles(tablets)}\n"
            f"{processor_s(app) - worked:.0f} s of processor\n"
            f"memory {before:.0f} MB before, at most {most:.0f} MB, {memory_mb(app):.0f} MB after"
        )
        assert counted["opened"] >= CONNECTIONS / (2 if over_https else 1)
        assert not over_https or counted["opened, with keys"] >= CONNECTIONS / 4
        assert p95(owner.took) < max(SLOWEST_EDIT_S, 2 * p95(alone))
        assert tablet.returncode == 0, "every edit of the tablet went through"
        assert most - before < MOST_MEMORY_MB
