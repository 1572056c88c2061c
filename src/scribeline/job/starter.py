"""A first job file, every key in it explained, in the builder's own unit."""

from __future__ import annotations

import re
from importlib.resources import files

from scribeline.job.values import MM_PER_INCH, JobUnit


def starter_job(*, name: str, units: JobUnit, handed: str) -> str:
    """The text of a new job file.

    Args:
        name: the instrument's name.
        units: unit of its bare numbers; inches are given to a thousandth.
        handed: "right" or "left".
    """
    text = files("scribeline.job").joinpath("starter.toml").read_text(encoding="utf-8")
    plain = "".join(mark for mark in name if mark.isprintable() and mark not in '"\\@')[:60] or "New job"
    paper, other = ("Letter", "A4") if units == "in" else ("A4", "Letter")
    words = {"NAME": plain, "UNITS": units, "HAND": handed, "PAPER": paper, "OTHER": other}

    def fill(token: re.Match[str]) -> str:
        word = token.group(1)
        if word in words:
            return words[word]
        return word if units == "mm" else f"{float(word) / MM_PER_INCH:.3f}".rstrip("0").rstrip(".")

    return re.sub(r"@([A-Z]+|-?[0-9.]+)@", fill, text)
