"""The newcomer's walk names what is there: every function, class and file of it, as it stands."""

from __future__ import annotations

import importlib
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "docs" / "walk.md").read_text(encoding="utf-8")
ROOMS = {each.stem for each in (ROOT / "src" / "scribeline").iterdir()}
QUOTED = dict.fromkeys(re.findall(r"`([^`\n]+)`", TEXT))
NAMES = [each for each in QUOTED if re.fullmatch(r"\w+(\.\w+)+", each) and each.partition(".")[0] in ROOMS]
PATHS = [each for each in QUOTED if re.fullmatch(r"[\w./-]+/[\w./-]+", each)]


def _found(name: str) -> bool:
    """Whether a name leads from the package to a module, and on to what stands in it."""
    there: object = None
    walked = "scribeline"
    for part in name.split("."):
        walked += f".{part}"
        try:
            there = importlib.import_module(walked)  # some modules have a function of their own name
        except ModuleNotFoundError:
            if not hasattr(there, part):
                return False
            there = getattr(there, part)
    return True


@pytest.mark.parametrize("name", NAMES)
def test_a_name_of_the_walk_is_there(name: str) -> None:
    assert _found(name)


@pytest.mark.parametrize("path", PATHS)
def test_a_file_of_the_walk_is_there(path: str) -> None:
    assert (ROOT / path).exists()


def test_the_walk_names_much_and_a_wrong_name_is_found() -> None:
    assert len(NAMES) > 70
    assert len(PATHS) > 7
    assert not _found("layout.paths.no_such_row")
    assert not _found("layout.no_such_module.bridge_row")
    assert not _found("web.planning.Planner.never")
