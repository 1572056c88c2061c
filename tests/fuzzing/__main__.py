"""Runs inputs one after another from where it left off, or one of them again.

    python -m tests.fuzzing --inputs 50000 --workers 2 --state out/fuzzing
    python -m tests.fuzzing --replay 12345

A state's folder keeps the next seed, what was counted, and of every fault its seed, its words and the files. Stop it whenever you
like; the same command goes on from there. Exit code 1 when a fault stands.
"""

from __future__ import annotations

import argparse
import gc
import json
import logging
import multiprocessing
import os
import resource
import signal
import sys
import tempfile
import time
from collections import Counter, defaultdict
from math import inf
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any

from .inputs import JOBS, KINDS, kind_of, made
from .running import DRAWN, run

_AT_ONCE = 20
"""Seeds handed to a worker at a time."""

_WORN = 1500
"""Inputs after which a worker is replaced, so that what it remembers does not grow without end."""

_EACH = {
    "dxf": 1,
    "svg": 1,
    "slip": 6,
    "records": 10,
    "outline": 20,
    "job": 80,
    "done": 60,
    "measured": 40,
    "asked": 40,
}
"""Of each kind one in so many is run in a quick round: a plan takes as long as twenty drawings."""


def is_quick(seed: int) -> bool:
    """Whether a seed belongs to the quick round."""
    return seed % _EACH[kind_of(seed)] == 0


def _work(pipe: Connection, room: Path) -> None:
    """Run the seeds that come, and tell of each."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.freeze()
    done = 0
    while (seeds := pipe.recv()) is not None:
        for seed in seeds:
            before = _spent()
            # Where a library's own code does not come back to be told that its time is up, the system ends it.
            hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
            resource.setrlimit(resource.RLIMIT_CPU, (int(before + 2 * DRAWN), hard))
            pipe.send(("begun", seed))
            given = made(seed)
            outcome = run(given, room)
            faults, seconds = outcome.faults, _spent() - before
            pipe.send(("ended", seed, given.kind, outcome.planned, outcome.accepted, seconds, faults))
            done += 1
        pipe.send(("idle", done >= _WORN))


def _spent() -> float:
    """Processor time of this process, s."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


class Campaign:
    """Inputs run and counted, with its state in a folder."""

    def __init__(self, state: Path, *, quick: bool, start: int) -> None:
        self.folder, self.quick = state, quick
        self.counts: Counter[str] = Counter()
        self.seconds: dict[str, float] = defaultdict(float)
        self.next = start
        self.faults: list[dict[str, Any]] = []
        kept = state / "state.json"
        if kept.exists():
            stands = json.loads(kept.read_text("utf-8"))
            self.next, self.faults = stands["next"], stands["faults"]
            self.counts.update(stands["counts"])
            self.seconds.update(stands["seconds"])

    def keep(self) -> None:
        """Write the state, whole or not at all."""
        self.folder.mkdir(parents=True, exist_ok=True)
        text = json.dumps(
            {"next": self.next, "counts": self.counts, "seconds": self.seconds, "faults": self.faults},
            indent=1,
            ensure_ascii=True,
        )
        part = self.folder / "state.part"
        part.write_text(text, "utf-8")
        part.replace(self.folder / "state.json")

    def batch(self, most: int) -> list[int]:
        """The next seeds."""
        found: list[int] = []
        while len(found) < most:
            if not self.quick or is_quick(self.next):
                found.append(self.next)
            self.next += 1
        return found

    def ended(self, kind: str, *, planned: bool, accepted: bool, seconds: float) -> None:
        self.counts[kind] += 1
        self.counts[f"{kind} planned"] += planned
        self.counts[f"{kind} accepted"] += accepted
        self.seconds[kind] += seconds

    def fault(self, seed: int, kind: str, what: str, words: str) -> None:
        """Note a fault, and keep the files that showed it: a seed makes others once the fuzzer is changed."""
        self.faults.append({"seed": seed, "kind": kind, "what": what, "words": words})
        given = made(seed)
        folder = self.folder / "faults" / str(seed)
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in given.files.items():
            (folder / name).write_bytes(content)
        (folder / "command.txt").write_text(f"scribeline {' '.join(given.words)}\n{what}: {words}\n", "utf-8")

    @property
    def ran(self) -> int:
        return sum(self.counts[kind] for kind in KINDS)


class _Worker:
    """A process that runs seeds; its end of the pipe, and what it is at."""

    def __init__(self, room: Path) -> None:
        context = multiprocessing.get_context("fork")
        self.pipe, theirs = context.Pipe()
        self.process = context.Process(target=_work, args=(theirs, room), daemon=True)
        self.process.start()
        theirs.close()
        self.seeds: list[int] = []
        self.at: int | None = None

    def give(self, seeds: list[int]) -> None:
        self.seeds = seeds
        self.pipe.send(seeds)

    def dismiss(self) -> None:
        self.pipe.send(None)
        self.process.join()


class _Round:
    """Inputs shared out among workers until so many have been run in all."""

    def __init__(self, told: Campaign, inputs: int, until: float) -> None:
        self.told, self.until = told, until
        self.left = inputs - told.ran
        self.again: list[list[int]] = []  # what a worker that died was still to run

    def seeds(self) -> list[int]:
        """The next to run; none when there are no more or the time is up."""
        if self.again:
            return self.again.pop()
        if time.monotonic() > self.until:
            return []
        found = self.told.batch(min(_AT_ONCE, self.left))
        self.left -= len(found)
        return found

    def hear(self, worker: _Worker) -> bool:
        """Take one message of a worker; whether it goes on."""
        try:
            word, *message = worker.pipe.recv()
        except EOFError:
            self._died(worker)
            return False
        if word == "begun":
            worker.at = message[0]
        elif word == "ended":
            seed, kind, planned, accepted, seconds, faults = message
            self.told.ended(kind, planned=planned, accepted=accepted, seconds=seconds)
            for what, words in faults:
                self.told.fault(seed, kind, what, words)
            worker.at = None
        else:
            self.told.keep()
            if message[0] or not (seeds := self.seeds()):
                worker.dismiss()
                return False
            worker.give(seeds)
        return True

    def _died(self, worker: _Worker) -> None:
        worker.process.join()
        if worker.at is None:
            raise SystemExit(f"a worker died before its first input: exit code {worker.process.exitcode}")
        kind, code = kind_of(worker.at), worker.process.exitcode
        self.told.ended(kind, planned=False, accepted=False, seconds=2 * DRAWN)
        what = "too long" if code == -signal.SIGXCPU else "the process died"
        self.told.fault(worker.at, kind, what, f"exit code {code}")
        rest = worker.seeds[worker.seeds.index(worker.at) + 1 :]
        if rest:
            self.again.append(rest)


def campaign(
    state: Path,
    *,
    inputs: int,
    workers: int,
    quick: bool = False,
    start: int = 0,
    minutes: float = inf,
) -> Campaign:
    """Run inputs until so many have been run in all.

    Args:
        state: the folder of its state.
        inputs: to be run in all, those of earlier rounds counted.
        workers: processes at a time.
        quick: whether to run the quick round's seeds alone.
        start: the first seed, where nothing was run yet.
        minutes: after which it stops early.
    """
    told = Campaign(state, quick=quick, start=start)
    work = _Round(told, inputs, time.monotonic() + 60 * minutes)
    shared = Path("/dev/shm")  # where it is: a file system in memory, for every input has a folder of its own
    with tempfile.TemporaryDirectory(
        prefix="scribeline-fuzz-", dir=shared if shared.is_dir() else None
    ) as room:
        team: list[_Worker] = []
        while True:
            while len(team) < workers and (seeds := work.seeds()):
                team.append(_Worker(Path(room)))
                team[-1].give(seeds)
            if not team:
                break
            ready = wait([worker.pipe for worker in team])
            team = [worker for worker in team if worker.pipe not in ready or work.hear(worker)]
    told.keep()
    return told


def report(told: Campaign) -> str:
    """What was run and what came of it."""
    lines = [f"{told.ran} inputs, {sum(told.seconds.values()):.0f} s of processor time"]
    for kind in KINDS:
        count = told.counts[kind]
        if count:
            lines.append(
                f"  {kind:<9}{count:>7}   planned {told.counts[f'{kind} planned']:>6}"
                f"   nothing stops {told.counts[f'{kind} accepted']:>6}   {1000 * told.seconds[kind] / count:>6.0f} ms each"
            )
    jobs = sum(told.counts[kind] for kind in JOBS)
    planned = sum(told.counts[f"{kind} planned"] for kind in JOBS)
    everything = sum(told.counts[f"{kind} planned"] for kind in KINDS)
    lines.append(
        f"reached planning: {planned} of {jobs} jobs ({share(planned, jobs)}), "
        f"{everything} of all ({share(everything, told.ran)})"
    )
    lines.append(f"{len(told.faults)} faults")
    groups: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for each in told.faults:
        groups.setdefault((each["what"], _alike(each["words"])), []).append(each)
    for (what, _), found in sorted(groups.items(), key=lambda group: -len(group[1])):
        seeds = ", ".join(str(each["seed"]) for each in found[:6])
        lines.append(
            f"  {len(found):>4} {what} ({found[0]['kind']}; seeds {seeds}): {found[0]['words'][:300]}"
        )
    return "\n".join(lines)


def share(part: int, whole: int) -> str:
    return f"{100 * part / whole:.0f} %" if whole else "none"


def _alike(words: str) -> str:
    """The words without their figures and names, or the place in the code, so that one cause is one line."""
    if "|" in words:
        return words.partition("|")[2]
    return (
        "".join(mark for mark in words if mark.isalpha() or mark == " ").strip()[:60]
        if "-" not in words
        else " ".join(words.split()[1:5])
    )


def replay(seed: int) -> int:
    """Show one input and what comes of it."""
    given = made(seed)
    for name, content in given.files.items():
        sys.stdout.write(f"--- {name}\n{content.decode('utf-8', 'backslashreplace')}\n")
    outcome = run(given)
    sys.stdout.write(f"--- {given.kind}: scribeline {' '.join(given.words)}\n{outcome.said}\n")
    sys.stdout.write(
        f"--- code {outcome.code}, {outcome.seconds:.2f} s, planned: {outcome.planned}, nothing stops: {outcome.accepted}\n"
    )
    for what, words in outcome.faults:
        sys.stdout.write(f"{what}: {words}\n")
    return int(bool(outcome.faults))


def _main() -> int:
    asked = argparse.ArgumentParser(prog="python -m tests.fuzzing", description=__doc__)
    asked.add_argument("--inputs", type=int, default=1000, help="to be run in all")
    asked.add_argument("--workers", type=int, default=1)
    asked.add_argument("--state", type=Path, default=Path("out/fuzzing"))
    asked.add_argument("--quick", action="store_true", help="mostly the kinds that are cheap")
    asked.add_argument("--start", type=int, default=0, help="first seed of a new state")
    asked.add_argument("--minutes", type=float, default=inf, help="stop after so long")
    asked.add_argument("--replay", type=int, metavar="SEED")
    given = asked.parse_args()
    logging.getLogger("ezdxf").setLevel(logging.CRITICAL)
    if given.replay is not None:
        return replay(given.replay)
    told = campaign(
        given.state,
        inputs=given.inputs,
        workers=given.workers,
        quick=given.quick,
        start=given.start,
        minutes=given.minutes,
    )
    sys.stdout.write(report(told) + "\n")
    return int(bool(told.faults))


if __name__ == "__main__":
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    sys.exit(_main())
