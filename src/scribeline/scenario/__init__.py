"""Invented instruments: the demo's two, one with a mistake in it, and the examples that a job can be begun from.

An example is a file in `examples/`, named as it is asked for: a paragraph about it as the comment on top, then the job.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import takewhile

from scribeline.job import plain_name, remove_value, set_value


def demo_jobs() -> dict[str, str]:
    """The demo's job files by name."""
    folder = files("scribeline.scenario")
    return {
        name: folder.joinpath(name).read_text(encoding="utf-8")
        for name in ("marram.toml", "marram-too-thin.toml")
    }


@dataclass(frozen=True, slots=True)
class Example:
    """An instrument of our own, complete and without a stop.

    Attributes:
        name: what it is asked for by.
        text: its job file.
    """

    name: str
    text: str

    @property
    def about(self) -> str:
        """The paragraph on top of its file."""
        lines = takewhile(lambda line: line.startswith("#"), self.text.splitlines())
        return " ".join(line.removeprefix("#").strip() for line in lines)

    @property
    def line(self) -> str:
        """The first sentence of it."""
        return self.about.partition(". ")[0]


@cache
def examples() -> dict[str, Example]:
    """The examples by name."""
    found = sorted(files("scribeline.scenario").joinpath("examples").iterdir(), key=lambda each: each.name)
    return {
        name: Example(name, each.read_text(encoding="utf-8"))
        for each in found
        if (name := each.name.removesuffix(".toml")) != each.name
    }


def begun_like(example: Example, *, name: str, handed: str | None = None) -> str:
    """The text of a new job that starts as an example is.

    Nothing of it counts as measured: those are no parts that the builder has in hand.

    Args:
        example: which.
        name: the new instrument's name.
        handed: "right" or "left"; as the example is, when left out.
    """
    text = re.sub(r"^measured = .*\n", "", example.text, flags=re.M)
    text = re.sub(r"\bmeasured = [\d.]+, ", "", text)
    text = re.sub(r'"([\d.]+) \+/- [\d.]+"', r"\1", text)
    text, _ = remove_value(text, "date")
    for key, value in (("name", plain_name(name)), ("handed", handed)):
        if value is not None:
            text, _ = set_value(text, key, value)
    return text
