"""Functions that a process of the app runs in place of its own, so that a test decides when they end."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

from scribeline.job import JobFile
from scribeline.plan import Plan
from scribeline.web.elsewhere import known

BEGUN, GO_ON = "begun", "go-on"


def known_when_let_go(stated: JobFile, ways: Any) -> tuple[Plan, Any]:
    """The plan of a job; that of one named by a folder only when a file lies in it."""
    folder = Path(stated.job.document.name)
    if folder.is_dir():
        (folder / BEGUN).touch()
        while not (folder / GO_ON).exists():
            time.sleep(0.01)
    return known(stated, ways)


def never(*_: Any, **__: Any) -> None:
    """Work without end."""
    while True:
        pass


def in_much_memory(*_: Any) -> None:
    """More memory than any bound allows."""
    held = []
    while True:
        held.append(bytearray(10_000_000))
