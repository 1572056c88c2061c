"""What the records teach, kept beside them: worked out once for what they say, and read back in a moment.

The file is named like the records with `.learnt` behind, and may be deleted at any time. It says by the hash of the records' text
what it was made from; where that is no longer so, or nobody may write there, the records are weighed again.
"""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from dataclasses import asdict, fields, is_dataclass
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, TypeVar, get_args, get_type_hints

from scribeline.job.faults import Fault, JobError
from scribeline.job.records import parse_records
from scribeline.job.toml_text import text_of
from scribeline.strings import PRIOR, Calibration, Shop, StringsError, calibrate

LEARNING = 1
"""Goes up with every change of how records are weighed, so that what was kept before counts no more."""

ENDING = ".learnt"


def shop_from(path: Path, hand: str = "", *, may_keep: bool = True) -> Shop:
    """What a file of records says of the next instrument that a hand sets up: all that a plan asks, read at once where kept.

    Raises:
        JobError: everything that is wrong with the file.
    """
    text, beside = _text(path), path.with_name(path.name + ENDING)
    found = _shops(beside, mark_of(text))
    if found is None:
        return learnt_in(text, beside, source=str(path), may_keep=may_keep).shop(hand)
    return next((each for each in found if hand and each.hand == hand), found[0])


def learnt_from(path: Path) -> Calibration:
    """What a file of records teaches.

    Raises:
        JobError: everything that is wrong with the file.
    """
    return learnt_in(_text(path), path.with_name(path.name + ENDING), source=str(path))


def _text(path: Path) -> str:
    return text_of(path, missing=f"there is no file {path}; start one with: scribeline record JOB {path}")


def learnt_in(text: str, beside: Path, *, source: str = "the records", may_keep: bool = True) -> Calibration:
    """What a text of records teaches, kept in a file beside it.

    Raises:
        JobError: everything that is wrong with the text.
    """
    mark = mark_of(text)
    kept = _all(beside, mark)
    if kept is None:
        kept = _weighed(text, source)
        if may_keep:
            _keep(beside, mark, kept)
    return kept


def mark_of(text: str) -> str:
    """What the learning from a text of records goes by: the text, and how it is weighed."""
    how = repr((LEARNING, _version(), PRIOR))
    return hashlib.sha256(f"{how}\n{text}".encode()).hexdigest()


@lru_cache(maxsize=1)
def _version() -> str:
    try:
        return version("scribeline")
    except PackageNotFoundError:
        return ""


@lru_cache(maxsize=8)
def _weighed(text: str, source: str) -> Calibration:
    try:
        return calibrate(parse_records(text, source=source).counted)
    except StringsError as fault:
        raise JobError([Fault("instruments", str(fault))], source) from fault


def _keep(path: Path, mark: str, learnt: Calibration) -> None:
    """Keep what was learnt; where nobody may write, nothing is lost but time, and a file that is not ours stays."""
    if not learnt.verdicts or (path.exists() and _content(path) is None):
        return
    part = path.with_name(f"{path.name}-{os.getpid()}.part")
    shops = [asdict(each) for each in (learnt.posterior, *learnt.by_hand)]
    # Everything once more as one text, which nobody takes apart who asks for the shop alone.
    content = {"scribeline_learnt": LEARNING, "of": mark, "shops": shops, "all": json.dumps(asdict(learnt))}
    with suppress(OSError):
        try:
            part.write_text(json.dumps(content), encoding="utf-8")
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)


def _content(path: Path) -> dict[str, Any] | None:
    """What a file of ours holds; None where it is none."""
    try:
        found = json.loads(path.read_bytes())
    except (OSError, ValueError):
        return None
    return found if isinstance(found, dict) and "scribeline_learnt" in found else None


def _kept(path: Path, mark: str) -> dict[str, Any] | None:
    """What was kept for these very records; None where nothing was."""
    found = _content(path)
    return found if found is not None and found.get("of") == mark else None


def _shops(path: Path, mark: str) -> list[Shop] | None:
    """The shop for any hand, then for each; None where it cannot be read."""
    found = _kept(path, mark)
    try:
        return None if found is None else [_made(Shop, each) for each in found["shops"]] or None
    except (KeyError, TypeError, ValueError):
        return None


def _all(path: Path, mark: str) -> Calibration | None:
    """All that was learnt; None where it cannot be read."""
    found = _kept(path, mark)
    try:
        return None if found is None else _made(Calibration, json.loads(found["all"]))
    except (KeyError, TypeError, ValueError):
        return None


Made = TypeVar("Made")


def _made(kind: type[Made], stated: dict[str, Any]) -> Made:
    """A dataclass from what `asdict` made of it, its parts and lists of parts too."""
    hints = _hints(kind)  # type: ignore[arg-type]  # a class is hashable
    assert is_dataclass(kind)
    return kind(**{each.name: _value(hints[each.name], stated[each.name]) for each in fields(kind)})


@lru_cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _value(hint: Any, value: Any) -> Any:
    part = next(
        (each for each in (hint, *get_args(hint)) if isinstance(each, type) and is_dataclass(each)), None
    )
    if isinstance(value, dict) and part is not None:
        return _made(part, value)
    if isinstance(value, list):
        inner = next(iter(get_args(hint)), None)
        return tuple(_value(inner, each) for each in value)
    return value
