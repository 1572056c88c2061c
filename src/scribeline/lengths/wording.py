"""Sentences with lengths in them, said in the unit of the job they are about.

Rules and step cards write every length in millimetres, `4.20 mm`, `3.10 to 17.40 mm`, and know nothing of the job's
unit. Before anybody reads them they pass through `in_unit`, which puts inches first for an inch shop.
"""

import re
from math import ceil, floor
from typing import Literal

from scribeline.lengths.drills import MM_PER_INCH
from scribeline.lengths.printing import decimal, inch_text

AT_LEAST = "\u2191"
"""Set behind a figure that must not come out smaller: its inches are rounded up."""

AT_MOST = "\u2193"
"""Set behind a figure that must not come out larger: its inches are rounded down."""

_BOUND = rf"[{AT_LEAST}{AT_MOST}]?(?:\u2039[-\d.e]+\u203a)?"
_FIGURE = rf"[-+±]?\d+(?:\.\d+)?{_BOUND}"
_ONE = re.compile(
    rf"(?P<sign>[+±]?)(?P<number>-?\d+(?:\.\d+)?)(?P<bound>[{AT_LEAST}{AT_MOST}]?)(?:\u2039(?P<exact>[-\d.e]+)\u203a)?"
)
_MARKS = re.compile(rf"[{AT_LEAST}{AT_MOST}]|\u2039[-\d.e]+\u203a")
_MINUS_NOTHING = re.compile(r"(?<![\w.])-(?=0(?:\.0+)?(?![\d.]))")
_JOINS = r"(?: to | and | or | × |/|, )"
_COUNTING = "|".join(rf"(?<={noun} )" for noun in ("string", "fret", "hole", "pilot", "screw"))
_LENGTHS = re.compile(
    rf"(?<![\w.])(?!(?:{_COUNTING})\d+{_JOINS})(?P<figures>{_FIGURE}(?:{_JOINS}{_FIGURE})*) mm\b"
    r"(?:(?P<kind> (?:twist|brad-point|flat-bottomed|countersink|router))? \((?P<inches>[^()]*\d in)\))?"
)
_LEVELS = re.compile(r"(stop \d+(?:\.\d+)?)(?=, caution \d+(?:\.\d+)? mm)")
_PLACE = re.compile(rf"(?<= to )\[(?P<figures>{_FIGURE}(?:, {_FIGURE})+)\](?! in)")
_QUOTED = re.compile(r"""(?<![^\s(])(?:"[^"]*"|'[^']*')|\bwrite it like .*$""")
_FIGURE_AND_UNIT = re.compile(r"(?<=\d) (?=mm\b)")
_HELD = "\0"
_LIST = re.compile(r"\(mm\): (?P<list>.+)$")
_SAID_IN_INCHES = re.compile(r"(?:\d/\d+|[\"']|#\d+|\bin|(?<!\w)[A-Z]) [(\[]$")


def as_it_stands(words: str) -> str:
    """Words in which `in_unit` leaves every length as it stands: a builder's own name, the ruling of a paper.

    A figure and its unit are held together by a no-break space, as a typesetter would. No sentence is converted there.
    """
    return _FIGURE_AND_UNIT.sub("\u00a0", words)


def exactly(mm: float) -> str:
    """What a figure stands for, set behind it and its mark: its inches are rounded from this, not from the figure.

    Otherwise a limit of 1/8 in, told as 3.18 mm or more, would come back as 0.126 in.
    """
    return f"\u2039{float(mm)!r}\u203a"


def said(mm: float, places: int = 2, *, width: int = 0) -> str:
    """A length for a sentence that passes through `in_unit`: rounded in millimetres, and its inches from the length itself.

    Otherwise a blank of 1 3/4 in, told as 44.5 mm, would come back as 1.752 in.

    Args:
        mm: the length in mm.
        places: decimals of the millimetres.
        width: characters at least that the millimetres take, in a column of them.
    """
    return f"{decimal(mm, places):>{width}}{exactly(mm)} mm"


def in_unit(sentence: str, unit: Literal["mm", "in"]) -> str:
    """A sentence as it is said in a job of one unit.

    Millimetres stay as they stand. In inches each length is told as `0.165 in (4.20 mm)`, several that share a unit as
    `0.122 to 0.685 in (3.10 to 17.40 mm)`: thousandths, rounded away from the limit where the figure is one (`AT_LEAST`,
    `AT_MOST`), and hundredths for whole millimetres over an inch, whose own rounding is coarser. A bit called by its
    inch size, `1/4 (6.35 mm)`, is left as it is, and so is what stands in quotation marks, as an example of how to
    write, or as `as_it_stands` left it. Nothing is ever told as less than nothing ("-0.00 mm").

    Args:
        sentence: text in which lengths read like `4.20 mm`.
        unit: the job's.
    """
    quoted = iter(_QUOTED.findall(sentence))
    spoken = _QUOTED.sub(_HELD, sentence)
    told = _plain(spoken if unit == "mm" else _inches_first(spoken))
    return re.sub(_HELD, lambda _: next(quoted), told)


def _inches_first(spoken: str) -> str:
    listed = _LIST.sub(lambda found: f"(in, mm in brackets): {_ONE.sub(_beside, found['list'])}", spoken)
    placed = _PLACE.sub(
        lambda found: f"[{_inches(found['figures'])}] in ({_plain(found['figures'])} mm)", listed
    )
    return _LENGTHS.sub(_told, _LEVELS.sub(r"\1 mm", placed))


def _told(found: re.Match[str]) -> str:
    before = found.string[: found.start()]
    if _SAID_IN_INCHES.search(before):
        return found[0]
    alone = _ONE.fullmatch(found["figures"]) is not None
    inches = (found["inches"] if alone else None) or f"{_inches(found['figures'])} in"
    inside = before.count("(") > before.count(")")
    opens, closes = "[]" if inside else "()"
    return f"{inches} {opens}{_plain(found['figures'])} mm{closes}{found['kind'] or ''}"


def _plain(words: str) -> str:
    """Without the marks behind limits, and never minus nothing."""
    return _MINUS_NOTHING.sub("", _MARKS.sub("", words))


def _inches(figures: str) -> str:
    return _ONE.sub(_inch, figures)


def _beside(found: re.Match[str]) -> str:
    return f"{_inch(found)} ({found['number']})"


def _inch(found: re.Match[str]) -> str:
    mm = float(found["number"])
    if found["number"] == "0":
        return found[0]
    places = 2 if "." not in found["number"] and abs(mm) >= MM_PER_INCH else 3
    if found["bound"]:
        outwards, marks = ceil if found["bound"] == AT_LEAST else floor, 10**places / float(MM_PER_INCH)
        mm = float(found["exact"] or mm)
        # A figure that lies on a mark stays there, whatever a float makes of it.
        mm = outwards(round(mm * marks, 6)) / marks
    elif found["exact"]:
        mm = float(found["exact"])
    return found["sign"] + inch_text(mm, places).removesuffix(" in")
