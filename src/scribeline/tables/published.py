"""Reading the CSV tables, and the error for a name that is in none of them."""

import csv
import difflib
import re
from collections.abc import Callable, Iterable
from pathlib import Path


class UnknownName(LookupError, ValueError):  # noqa: N818 - reads as what it is: a name nobody knows
    """A name that is not in a table; the message is one sentence and offers what is near it.

    Attributes:
        name: The name asked for.
        nearby: Names in the table that resemble it, best first; may be empty.
    """

    def __init__(self, message: str, name: str, nearby: tuple[str, ...] = ()) -> None:
        super().__init__(message)
        self.name = name
        self.nearby = nearby


def rows(file_name: str) -> list[dict[str, str]]:
    """Read one table of this room.

    Args:
        file_name: Name of the CSV file.

    Returns:
        One dictionary a row, keyed by column; every value is text, empty where the source is silent.
    """
    text = Path(__file__).with_name(file_name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def optional(text: str) -> float | None:
    """Read a cell that may be empty."""
    return float(text) if text else None


def alike(name: str, known: Iterable[str]) -> tuple[str, ...]:
    """Names of a table that resemble what was asked for, word by word, best first.

    Word by word because names differ in the order of their words and in how many they have: "suger
    maple" should find `maple-sugar`, and "maple" should find all of them.
    """
    asked = _words(name)[:8]
    scored = [(_likeness(asked, _words(known_name)), known_name) for known_name in known]
    return tuple(known_name for score, known_name in sorted(scored, key=lambda s: -s[0]) if score > 0)


def _words(name: str) -> list[str]:
    return re.findall(r"[a-z0-9]+", name[:80].lower())


def _likeness(asked: list[str], words: list[str]) -> float:
    return sum(_nearest(word, words) for word in asked)


def _nearest(word: str, words: list[str]) -> float:
    """How near a word comes to the nearest of several: 0 for unlike, 1 for the same."""
    ratio = max((difflib.SequenceMatcher(None, word, other).ratio() for other in words), default=0.0)
    return ratio if ratio >= 0.75 else 0.0


def unknown(
    kind: str, name: str, nearby: tuple[str, ...], otherwise: str, called: Callable[[str], str] = str
) -> UnknownName:
    """Make the error for a name that is not in a table.

    Args:
        kind: What was looked up, with its article: "a timber", "a paper size".
        name: What was asked for.
        nearby: Names in the table that resemble it, best first.
        otherwise: What to tell when nothing resembles it.
        called: What a name of the table is called in a sentence.
    """
    shown = "".join(c if c.isprintable() else " " for c in name)[:40]
    advice = f"did you mean {_either(tuple(map(called, nearby[:6])))}?" if nearby else otherwise
    return UnknownName(f'"{shown}" is not {kind} known here: {advice}', name, nearby[:6])


def _either(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
