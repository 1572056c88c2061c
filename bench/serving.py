"""The app as its own process, and one edit in it as a browser asks for it."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx


@contextmanager
def serving(folder: Path, *more: str) -> Iterator[tuple[str, str]]:
    """The app on a data folder: its address, and the page it opens with."""
    command = [sys.executable, "-m", "scribeline", "serve", "--no-browser", "--data", str(folder), *more]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as app:
        try:
            assert app.stdout is not None
            found = re.search(r"(http://127\.0\.0\.1:\d+)(\S+)", app.stdout.readline())
            assert found
            yield found[1], found[2]
        finally:
            app.terminate()


def edited(screen: httpx.Client, plan: str, key: str, value: float, revision: int) -> httpx.Response:
    """The page that answers one edit of a number, whose client follows no redirection of itself."""
    asked = {"HX-Request": "true", "HX-Current-URL": str(screen.base_url.join(plan))}
    sent = {"key": key, "value": f"{value:.3f} +/- 0.1", "based_on": str(revision), "back": plan}
    answer = screen.post(plan.replace("/plan", "/set"), data=sent, headers=asked)
    assert answer.status_code == 303, answer.text
    assert answer.headers["location"] == plan
    page = screen.get(plan, headers=asked)
    assert page.status_code == 200
    return page
