"""What is wrong with a text that is no TOML, in plain words: which line, which column, and how the line reads."""

from __future__ import annotations

import re
import tomllib

from scribeline.job.faults import Fault
from scribeline.lengths import shown

_PLACE = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)")
_LONG_NUMBER = re.compile(r"\d{1000,}")
_KEY = re.compile(r"\s*+(?:(?P<header>\[\[?[^\[\]]++\]\]?)|(?P<key>[\w\"'.-][\w\"'. -]*+)\s*+=)")
"""Each part takes all it can and gives nothing back, so that a line is read once however long it is."""
_TWICE = re.compile(r"Cannot (?:overwrite|declare|mutate|redefine)|Duplicate")
_CURLY = "“”„‟‘’‚‛«»´`"
_CLOSES = {"[": "]", "{": "}"}
_PIECE = 50


def toml_fault(text: str) -> Fault:
    """What keeps a text from being TOML, and where.

    Args:
        text: that `tomllib` refuses, or whose values lie too deep.
    """
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        at = _position(text, str(fault))
        return _fault(text, *_found(text, at, _PLACE.sub("", str(fault))))
    except RecursionError:
        pass
    except ValueError:
        # Python refuses to read a whole number of thousands of figures.
        number = _LONG_NUMBER.search(text)
        at = 0 if number is None else number.start()
        return _fault(
            text, at, "this number has thousands of figures, which nothing measured has; type it again"
        )
    return Fault("", "its tables or lists lie too deep inside each other; no job needs that")


def _position(text: str, message: str) -> int:
    """Where the reader stopped, as a place in the text."""
    found = _PLACE.search(message)
    if found is None or found[1] is None:
        return len(text)
    lines = text.split("\n")
    line = int(found[1]) - 1
    return min(len(text), sum(len(each) + 1 for each in lines[:line]) + int(found[2]) - 1)


def _found(text: str, at: int, message: str) -> tuple[int, str]:
    """The place to look at, and what is wrong there."""
    here = text[at : at + 1]
    if _TWICE.match(message) is not None:
        return _twice(text, at)
    opened = _left_open(text, at)
    if opened and opened[-1][0][0] in "\"'":
        return _in_quotes(text, at, *opened[-1])
    if here and here in _CURLY:
        return at, f"{here} is no quote here; text stands between straight ones, as in \"A4\" or 'A4'"
    if here and not here.isprintable() and here not in "\t\r\n":
        return at, f"a character that cannot be seen (U+{ord(here):04X}) stands here; delete it"
    if opened:
        return _in_brackets(text, at, *opened[-1])
    return at, _on_line(_line(text, at), at - _line_start(text, at), message)


def _on_line(line: str, at: int, message: str) -> str:
    """What is wrong with a line that sets one value."""
    if "=" not in line and not line.lstrip().startswith("["):
        return "this line sets nothing; write a key, =, and its value, such as width = 42.8, or # before a remark"
    if message.startswith("Expected '='"):
        return "= is wanted after the key, such as width = 42.8"
    if re.search(r"=\s*\d{4}-\d+-\d+", line):
        return "there is no such day; a date reads 2026-01-31"
    if message.startswith("Expected newline"):
        return _after_a_value(line, at)
    if message.startswith("Invalid value"):
        return _no_value(line, at)
    return "this cannot be read here; a value is a number, text in quotes, true or false, or a list in [ ]"


def _twice(text: str, at: int) -> tuple[int, str]:
    """A key or a table that stands there already: where first."""
    lines = text[:at].split("\n")
    number = len(lines) - 1
    whole = text.split("\n")
    key = _KEY.match(whole[number])
    # The reader may have stopped after the end of a list of several lines.
    while key is None and number:
        number -= 1
        key = _KEY.match(whole[number])
    start = sum(len(each) + 1 for each in whole[:number])
    if key is None:
        return at, "this is set a second time; keep one of the two"
    name = (key["header"] or key["key"]).strip()
    for earlier in range(number - 1, -1, -1):
        before = _KEY.match(whole[earlier])
        if before is None:
            continue
        if (before["header"] or before["key"]).strip() == name:
            return start, f"{shown(name)} stands on line {earlier + 1} already; keep one of the two"
        if before["header"] is not None and key["header"] is None:
            break
    return start, f"{shown(name)} is set already; keep one of the two"


def _left_open(text: str, until: int) -> list[tuple[str, int]]:
    """The brackets, and the quote, that are open at a place, outermost first, and where each was opened."""
    opened: list[tuple[str, int]] = []
    at = 0
    while at < until:
        mark = text[at]
        if mark == "#":
            at = _next(text, "\n", at)
            continue
        if mark in "\"'":
            quote = mark * 3 if text.startswith(mark * 3, at) else mark
            end = _closed(text, quote, at + len(quote))
            if end > until:
                return [*opened, (quote, at)]
            at = end
            continue
        if mark in _CLOSES:
            opened.append((mark, at))
        elif opened and mark == _CLOSES[opened[-1][0]]:
            opened.pop()
        at += 1
    return opened


def _next(text: str, mark: str, at: int) -> int:
    found = text.find(mark, at)
    return len(text) if found < 0 else found


def _closed(text: str, quote: str, at: int) -> int:
    """The place behind the quote that closes a text; past the end of everything where none does."""
    while at < len(text):
        if text[at] == "\\" and quote[0] == '"':
            at += 2
        elif text.startswith(quote, at):
            return at + len(quote)
        elif text[at] == "\n" and len(quote) == 1:
            break
        else:
            at += 1
    return len(text) + 1


def _in_quotes(text: str, at: int, quote: str, opened: int) -> tuple[int, str]:
    here = text[at : at + 1]
    if len(quote) == 3 and not here:
        return opened, f"the quotes {quote} opened here are not closed anywhere; close them"
    if here in {"", "\n", "\r"}:
        return opened, f"the quote {quote} opened here is not closed on this line; close it behind the text"
    if not here.isprintable():
        return at, f"a character that cannot be seen (U+{ord(here):04X}) stands in this text; type it again"
    return at, "a \\ in this text means something of its own; write it twice, or use ' ' in place of \" \""


def _in_brackets(text: str, at: int, bracket: str, opened: int) -> tuple[int, str]:
    close = _CLOSES[bracket]
    same_line = "\n" not in text[opened:at]
    if same_line and close in _line(text, at)[at - _line_start(text, at) :]:
        if text[opened - 1 : opened] == "\n" or opened == 0:
            return at, f"a table's name stands between {bracket} and {close} alone on its line"
        return (
            at,
            f"this cannot be read inside {bracket} {close}: values stand with a comma between them, text in quotes",
        )
    return opened, f"the bracket {bracket} opened here is not closed; close it with {close}"


def _after_a_value(line: str, at: int) -> str:
    if re.match(r",\d", line[at:]):
        return 'a comma cannot stand in a number here; write 44.4 with a point, or in quotes, "44,4"'
    if re.search(r"=\s*[+-]?0$", line[:at]):
        return "a number cannot begin with 0; write 44, or 0.44 with its point"
    return 'nothing can follow this value; one with a unit, a fraction or a word stands in quotes, such as "10 1/2 mm"'


def _no_value(line: str, at: int) -> str:
    here = line[at:]
    if not here.strip():
        return "nothing stands after =; give the value, or take the line out"
    if here[0] == ".":
        return "a number cannot begin with its point; write 0.5"
    if re.match(r"(true|false)\b", here, re.IGNORECASE):
        return "true and false are written small"
    return 'text stands in quotes, such as "A4" or "10 1/2 mm"'


def _line_start(text: str, at: int) -> int:
    return text.rfind("\n", 0, at) + 1


def _line(text: str, at: int) -> str:
    return text[_line_start(text, at) : _next(text, "\n", at)]


def _fault(text: str, at: int, sentence: str) -> Fault:
    start = _line_start(text, at)
    number, column = text.count("\n", 0, start) + 1, at - start + 1
    return Fault(
        "", f"column {column}: {sentence}. The line reads: {piece_of(_line(text, at), column)}", number
    )


def piece_of(line: str, column: int) -> str:
    """The part of a line round a column, as it can be shown; all of a short line."""
    first = max(0, min(column - 1 - _PIECE // 2, len(line) - _PIECE))
    piece = shown(line[first : first + _PIECE].strip(), most=4 * _PIECE)
    before, after = ("… " if first else ""), (" …" if first + _PIECE < len(line) else "")
    return f"{before}{piece}{after}"
