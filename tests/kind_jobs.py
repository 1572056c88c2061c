"""Jobs with kinds of bridge, restated for a test, and what is told of one that cannot be."""

from __future__ import annotations

import re
from collections.abc import Mapping

import pytest

from scribeline.job import JobError, Stated, parse_job, set_value
from scribeline.scenario import examples

_SEARCHED = re.compile(r"(?ms)^\[\[tunnels\]\].*?(?=^\[(?!\[tunnels))")


def example(name: str) -> str:
    """The text of a shipped example, without the wire holes: finding their ways takes most of a plan's time."""
    return _SEARCHED.sub("", examples()[name].text)


VIBRATOS = {
    "vibrato": example("vibrato-two-posts"),
    "vibrato_screws": example("vibrato-six-screws"),
}
"""A job with each vibrato."""


def restated(text: str, changes: Mapping[str, Stated]) -> str:
    """A job's text with some keys stated otherwise; a key's dots are written as two underscores."""
    for key, value in changes.items():
        text, _ = set_value(text, key.replace("__", "."), value)
    return text


def faults_at(text: str, path: str) -> list[str]:
    """What the job reader says of a key of a job that it must refuse."""
    with pytest.raises(JobError) as told:
        parse_job(text)
    return [str(fault) for fault in told.value.faults if fault.path == path]
