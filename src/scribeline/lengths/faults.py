"""The one error this room raises, and how what was typed is shown in a message."""

import re

_OBEYED = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
"""Control characters, those that end a line or turn its direction, and halves of characters."""


_NO_WORD = re.compile(r"\S{161,}")


class LengthError(ValueError):
    """Something was typed that is not a length; the message is one sentence for a person."""


def shown(text: str, *, most: int = 40) -> str:
    """What was typed, as a message can show it: one line, shortened, characters that cannot be seen as their codes.

    Args:
        text: what the person typed, whatever it is.
        most: characters kept.
    """
    # Cut first: a code takes the room of one character, and what was typed may be megabytes.
    line = re.sub(r"[ \t\r\n]+", " ", text[: 20 * most]).strip(" ")
    if len(line) > most:
        line = line[: most - 3] + "..."
    return "".join(c if c.isprintable() else _code(c) for c in line)


def visible(text: str) -> str:
    """A text for a person: what a terminal obeys instead of showing it stands as its code, line ends aside.

    A word too long for a line loses its middle: the end of a path is what it is known by.

    Args:
        text: whatever it holds.
    """
    text = _NO_WORD.sub(lambda found: f"{found[0][:60]}...{found[0][-60:]}", text)
    return _OBEYED.sub(lambda found: _code(found[0]), text)


def _code(character: str) -> str:
    return character.encode("unicode_escape").decode()


def quoted(text: str) -> str:
    """What was typed, as `shown`, in quotation marks.

    Args:
        text: what the person typed, whatever it is.
    """
    return f'"{shown(text)}"'
