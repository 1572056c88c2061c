"""Running one input through the command's real code, in this process, and saying what is wrong with what it did."""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import resource
import shutil
import signal
import tempfile
import traceback
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any

import scribeline.plan
import scribeline.plan.held
from scribeline.cli import main
from scribeline.job import Job
from scribeline.plan import Plan
from scribeline.plan.record import as_json

from .inputs import JOB, SHEET, Input, long_values
from .plan_geometry import faults_of

SECONDS = 5.0
"""Processor time one input may take."""

DRAWN = 20.0
"""Processor time that drawing a whole pack, or cutting a solid, may take: every sheet of it is laid out and set."""

BYTES = 1 << 30
"""Memory one input may take, the program itself counted."""

_PACK = {"plan.json", "templates.pdf", "sheets.pdf", "steps.pdf", "body.dxf", "body.svg"}


class TooLong(BaseException):
    """Raised inside whatever runs when an input's time is up; no `except Exception` catches it."""


@dataclass
class Outcome:
    """What came of one input.

    Attributes:
        code: the command gave back.
        planned: whether a plan was made from it.
        accepted: whether no finding stopped that plan.
        seconds: of the processor.
        faults: what is wrong: (kind, words); none when all is well.
        said: what the command wrote on the terminal.
    """

    code: int | None = None
    planned: bool = False
    accepted: bool = False
    seconds: float = 0.0
    faults: list[tuple[str, str]] = field(default_factory=list)
    said: str = ""


@contextlib.contextmanager
def bounded_memory() -> Iterator[None]:
    """This process with no more than `BYTES` of its own, counted with what it already has."""
    pages, resident = (
        int(each) * resource.getpagesize() for each in Path("/proc/self/statm").read_text().split()[:2]
    )
    before = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (pages - resident + BYTES, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, before)


@contextlib.contextmanager
def bounded_time(seconds: float) -> Iterator[None]:
    """No more than so much of this process's processor time, however busy the machine is.

    By the timer of its own instructions: the commands' own bound has the one that counts the system's work too.
    """

    def up(_signal: int, _frame: FrameType | None) -> None:
        raise TooLong

    before = signal.signal(signal.SIGVTALRM, up)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


@contextlib.contextmanager
def _watched(seen: list[Plan | None]) -> Iterator[None]:
    """Notes every plan that a command makes."""
    own = scribeline.plan.plan

    def noted(job: Job, *more: Any) -> Plan:
        seen.append(None)
        made = own(job, *more)
        seen[-1] = made
        return made

    rooms = scribeline.plan, scribeline.plan.held
    for room in rooms:
        setattr(room, "plan", noted)  # noqa: B010 - put there for a moment, and put back
    try:
        yield
    finally:
        for room in rooms:
            setattr(room, "plan", own)  # noqa: B010


def run(given: Input, room: Path | None = None) -> Outcome:
    """Run one input in a folder of its own.

    Args:
        given: the input.
        room: where to make the folder; a file system in memory serves best.
    """
    work = Path(tempfile.mkdtemp(prefix="scribeline-fuzz-", dir=room))
    came_from = Path.cwd()
    outcome = Outcome()
    try:
        for name, content in given.files.items():
            (work / name).write_bytes(content)
        os.chdir(work)
        _run(given, outcome)
        if not {"too long", "too much memory"} & {kind for kind, _ in outcome.faults}:
            outcome.faults += _left_behind(given, outcome, work)
    finally:
        os.chdir(came_from)
        shutil.rmtree(work, ignore_errors=True)
    return outcome


def _run(given: Input, outcome: Outcome) -> None:
    told, err, plans = io.StringIO(), io.StringIO(), list[Plan | None]()
    before = resource.getrusage(resource.RUSAGE_SELF)
    bound = DRAWN if given.words[0] in {"print", "solid", "bars"} else SECONDS
    with warnings.catch_warnings(record=True) as warned, _watched(plans):
        warnings.simplefilter("always")
        try:
            with (
                bounded_memory(),
                bounded_time(bound),
                contextlib.redirect_stdout(told),
                contextlib.redirect_stderr(err),
            ):
                outcome.code = main(list(given.words))
            if outcome.code not in {0, 1, 2}:
                outcome.faults.append(("exit code", str(outcome.code)))
        except TooLong as fault:
            outcome.faults.append(("too long", _where(fault)))
        except MemoryError as fault:
            outcome.faults.append(("too much memory", _where(fault)))
        except BaseException as fault:  # noqa: BLE001 - nothing a person types may end in any of them
            outcome.faults.append(("traceback", _where(fault)))
    after = resource.getrusage(resource.RUSAGE_SELF)
    outcome.seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    outcome.planned = bool(plans)
    outcome.said = told.getvalue() + err.getvalue()
    outcome.faults += [
        ("warning", f"{each.category.__name__}: {each.message} at {each.filename}:{each.lineno}")
        for each in warned[:1]
    ]
    outcome.faults += _said_wrong(given, outcome, told.getvalue(), err.getvalue())
    finished = plans[-1] if plans else None
    if finished is not None:
        outcome.accepted = not finished.stops
        outcome.faults += _planned_wrong(
            finished, Path(given.words[-1]) if given.words[:1] == ("plan",) else None
        )


def _where(fault: BaseException) -> str:
    """The fault in a line, and the last places of the project's own it came through."""
    frames = [each for each in traceback.extract_tb(fault.__traceback__) if "/scribeline/" in each.filename]
    way = " < ".join(
        f"{Path(each.filename).name}:{each.lineno} {each.name}" for each in reversed(frames[-3:])
    )
    return f"{type(fault).__name__}: {str(fault)[:200]} | {way}"


_NOT_IN_FIGURES = re.compile("[\ue000-\ue002]|\\\\ue00[0-2]")
"""The marks of a length in a sentence (`lengths.said`), as they are or as JSON and messages write them."""

_NO_NUMBER = re.compile(r"(?<![\w./-])-?(nan|inf)(?![\w./])")
_OBEYED = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e]")
_PROGRAM_SPEAKS = re.compile(
    r"Traceback|[Ee]rrno|object at 0x|zero-size|division by|out of range|NoneType|not subscriptable|unsupported operand"
    r"|Input should|validation error|Value error|must be real|could not convert|not supported between|is not iterable|<class '"
    r"|Ellipsis|np\.float|float\(|invalid literal|Invalid .* encoding|codec can't"
)


def _said_wrong(given: Input, outcome: Outcome, told: str, err: str) -> Iterator[tuple[str, str]]:
    said = told + err
    typed = b"\n".join(given.files.values()) + " ".join(given.words).encode("utf-8", "surrogatepass")
    if (found := _NO_NUMBER.search(said)) and found[1].encode() not in typed.lower():
        yield "nan or inf in text", _round(said, found)
    if (found := _NOT_IN_FIGURES.search(said)) and found[0].encode() not in typed:
        yield "a length that nobody put into figures", _round(said, found)
    if found := _OBEYED.search(said):
        yield "control character in text", repr(_round(said, found))
    if (found := _PROGRAM_SPEAKS.search(said)) and found[0].encode() not in typed:
        yield "a program's words", _round(said, found)
    if outcome.code == 2 and not said.strip():
        yield "silent refusal", str(given.words)
    flat = "".join(said.split())
    for each in long_values(given):
        if "".join(each.split()) in flat:
            yield "value echoed longer than a line", each[:40]
    if "--json" in given.words and outcome.code is not None:
        try:
            json.loads(told, parse_constant=_no_constant)
        except ValueError as fault:
            yield "no JSON", f"{fault}: {told[:100]!r}"


def _no_constant(name: str) -> None:
    message = f"{name} in JSON"
    raise ValueError(message)


def _round(text: str, found: re.Match[str]) -> str:
    return " ".join(text[max(0, found.start() - 80) : found.end() + 60].split())


def _planned_wrong(finished: Plan, record: Path | None) -> Iterator[tuple[str, str]]:
    """What is wrong with a plan; its record is read where the command wrote it, and made where an accepted plan has none."""
    written = record is not None and record.suffix == ".json" and record.exists()
    if not written and finished.stops:
        return
    try:
        text = record.read_text("utf-8") if record is not None and written else as_json(finished)
        plan = json.loads(text, parse_constant=_no_constant)
    except Exception as fault:  # noqa: BLE001 - whatever it is, the record cannot be made of a plan that was told
        yield "plan.json cannot be written", _where(fault)
        return
    if not finished.stops:
        for each in faults_of(plan):
            yield "geometry", each


def _left_behind(given: Input, outcome: Outcome, work: Path) -> Iterator[tuple[str, str]]:
    """Files changed, half-written or left over."""
    here = {str(path.relative_to(work)): path for path in work.rglob("*") if path.is_file()}
    for name, content in given.files.items():
        may_change = (name == JOB and given.words[0] == "measure") or given.words[0] == "record"
        now = here[name].read_bytes() if name in here else None
        if now != content and not (may_change and outcome.code in {0, 1}):
            yield "an input changed", name
        if now != content and now is not None and name.endswith(".toml"):
            import tomllib

            try:
                tomllib.loads(now.decode("utf-8-sig"))
            except ValueError as fault:
                yield "half-written", f"{name}: {fault}"
    new = {name: path for name, path in here.items() if name not in given.files}
    for name, path in new.items():
        if ".scribeline-" in name:
            yield "left over", name
        elif name.endswith(".learnt"):
            continue  # what sound records teach is kept whoever asked for them first, and whatever became of it
        elif outcome.code not in {0, 1}:
            yield "written by a refused command", name
        elif name.endswith(".json"):
            try:
                json.loads(path.read_text("utf-8"), parse_constant=_no_constant)
            except ValueError as fault:
                yield "half-written", f"{name}: {fault}"
        elif not path.stat().st_size:
            yield "half-written", f"{name} is empty"
    written = {name.removeprefix(f"{SHEET}/") for name in new if name.startswith(f"{SHEET}/")}
    if given.words[0] == "print" and written and not written >= _PACK:
        yield "half-written", f"only {sorted(written)}"
