"""The typeface of the sheets: its metrics, widths, line breaking, and glyphs it lacks.

B612 (SIL Open Font License, shipped beside this module) was drawn for cockpit displays: its figures are
tabular and 1 and 7, 3 and 8, 6 and 9 stay apart in bad light.
"""

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

FAMILY = "B612"
FOLDER = Path(__file__).parent / "face"

EM_PER_CAP = 2000 / 1520
"""Font size for a capital height of 1: the letter H is 1520 units high in an em of 2000."""
DESCENT = 517 / 1520
"""How far the letter g reaches below the base line, in capital heights."""
LINE_PITCH = 1.75
"""Distance from base line to base line, in capital heights (ISO 3098-1 allows 21/14 and more)."""


_STAND_IN = "".join(map(chr, (*range(0x391, 0x3CF), *range(0x401, 0x460))))
"""Greek and Cyrillic: letters that the PDF writer finds in another face."""
_NO_BREAK, _MAY_BREAK = "\u00a0", "\u200b"
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:mm|in|cm|m|g|kg|N|°|%)(?!\w))|(?<=[ØR]) (?=\d)")


_LONGEST_WORD = 24
"""Letters after which a line may break inside a word that has no better place."""


@dataclass(frozen=True, slots=True)
class _Metrics:
    units_per_em: int
    advances: dict[str, int]


@cache
def _metrics(bold: bool) -> _Metrics:
    from fontTools.ttLib import TTFont

    with TTFont(FOLDER / f"B612-{'Bold' if bold else 'Regular'}.otf", lazy=True) as font:
        # Their own names would have all outlines read; a glyph's number does as well.
        font.setGlyphOrder([f"glyph{n}" for n in range(font["maxp"].numGlyphs)])
        advance = font["hmtx"].metrics
        advances = {chr(code): advance[name][0] for code, name in font.getBestCmap().items()}
        return _Metrics(font["head"].unitsPerEm, advances)


def printable(text: str) -> str:
    """`text` without control characters, which neither XML nor DXF can hold."""
    return "".join(c for c in text if c.isprintable() or c == _NO_BREAK)


def missing_glyphs(text: str) -> str:
    """The characters of `text` the face cannot print, each once; empty when all is well."""
    known = _metrics(bold=False).advances.keys() & _metrics(bold=True).advances.keys()
    return "".join(dict.fromkeys(c for c in text if c not in known))


def legible(text: str) -> str:
    """`text` with "?" for every character that would leave no trace on paper; marks of no width are dropped.

    Letters of the alphabets in `_STAND_IN` that the face lacks are set in another face by the PDF writer.
    """
    replaced = {ord(c): stands for c in set(text) if (stands := _standing_for(c)) != c}
    return text.translate(replaced) if replaced else text


def breakable(text: str) -> str:
    """`text` for the typesetter: a number stays with its unit, and a word longer than any line's end may be broken."""
    bound = _BEFORE_UNIT.sub(_NO_BREAK, text)
    return " ".join(
        word
        if len(word) <= _LONGEST_WORD
        else _MAY_BREAK.join(word[n : n + 8] for n in range(0, len(word), 8))
        for word in bound.split(" ")
    )


def unprinted(text: str) -> str:
    """The characters `legible` replaces or drops, each once."""
    return "".join(dict.fromkeys(c for c in text if _standing_for(c) != c))


@cache
def _standing_for(c: str) -> str:
    if c.isspace() or not missing_glyphs(c) or (c.isalpha() and c in _STAND_IN):
        return c
    return "" if unicodedata.category(c) in {"Mn", "Me", "Cf"} else "?"


@lru_cache(maxsize=50_000)
def text_width(text: str, height: float, *, bold: bool = False) -> float:
    """Width of one line of lettering, mm, from the face's own advance widths (no kerning).

    A character the face lacks counts as wide as a capital M.
    """
    return _advance(text, bold) * (height * EM_PER_CAP) / _metrics(bold).units_per_em


@lru_cache(maxsize=50_000)
def _advance(text: str, bold: bool) -> int:
    """Width of one line in the face's own units: the same words are tried at many heights."""
    advances = _metrics(bold).advances
    fallback = advances["M"]
    return sum([advances.get(c, fallback) for c in text])


def wrap(text: str, width: float, height: float, *, bold: bool = False) -> list[str]:
    """`text` broken at spaces into lines no wider than `width`; a longer word is broken where it must be.

    A number stays with its unit. An empty text gives one empty line; a line break in `text` is kept.
    """
    return [line for part in text.split("\n") for line in _wrapped(part, width, height, bold)]


@lru_cache(maxsize=20_000)
def _wrapped(text: str, width: float, height: float, bold: bool) -> tuple[str, ...]:
    """The lines of one paragraph: a table asks for the same again at every height it tries."""
    lines, line = [], ""
    for word in _words(text, width, height, bold):
        joined = f"{line} {word}" if line else word
        if text_width(joined, height, bold=bold) <= width:
            line = joined
            continue
        if line:
            lines.append(line)
        *full, line = _pieces(word, width, height, bold)
        lines += full
    return (*lines, line)


def _words(text: str, width: float, height: float, bold: bool) -> Iterator[str]:
    """The words, a number and its unit as one word unless they are too long for a line together."""
    for bound in _BEFORE_UNIT.sub(_NO_BREAK, text).split(" "):
        word = bound.replace(_NO_BREAK, " ")
        if text_width(word, height, bold=bold) <= width:
            yield from (word,) if word else ()
        else:
            yield from word.split()


def _pieces(word: str, width: float, height: float, bold: bool) -> list[str]:
    pieces = [""]
    for letter in word:
        if pieces[-1] and text_width(pieces[-1] + letter, height, bold=bold) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces
