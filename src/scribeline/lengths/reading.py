"""Reading lengths, string gauges and angles as people type them.

What is read, and what each form means:

- `647.7 mm`, `64.77 cm`, `0.6477 m`, `25.5 in`, `25.5"`, `2 ft`, `80 µm`, `10 thou`: number and unit.
- `25 1/2"`, `25-1/2 in`, `½ in`: whole inches and a fraction, read exactly.
- `5/16`, `25 1/2`: a fraction without a unit is always inches, whatever unit the job uses, because
  nobody writes millimetres as fractions. `Length.exact_in` and `Length.text` let a caller say so.
- `1' 2 3/4"`, `1'-2 3/4"`: feet and inches; the inches stay below 12.
- `647.7`: a bare number takes the unit given with `unit`.
- `647,7`: a decimal comma. `1,234` is refused, for it may be a thousands mark; `0,125` is not.
- `#7`, `No. 7`, `letter K`, `K drill`, `K`: a drill size, taken as its nominal diameter.
- `5 1/2 +/- 1/64`, `42.5 mm ± 0.05`: a tolerance either way, in its own unit or else the length's.

Refused, each with its reason: powers of ten (`1e3`), which nobody writes at a bench and a slip can
make; `mil`, which is a thousandth of an inch to some and a millimetre to others; a dash with spaces
around it (`25 - 1/2`), which may be a minus; more than one length; -0; anything over 1 km.
"""

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from scribeline.lengths.drills import MM_PER_INCH, drill_size
from scribeline.lengths.faults import LengthError, quoted

Unit = Literal["mm", "cm", "m", "in", "ft"]
"""The units a job may be written in."""

_MM_PER: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "µm": Fraction(1, 1000),
    "in": MM_PER_INCH,
    "ft": 12 * MM_PER_INCH,
    "thou": MM_PER_INCH / 1000,
}
_INCH_BASED = frozenset({"in", "ft", "thou"})
_SPELLINGS: dict[str, str] = {
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), "cm"),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "m"),
    # Micro sign, Greek mu, and what a plain keyboard offers.
    **dict.fromkeys(("\u00b5m", "\u03bcm", "um", "micron", "microns"), "µm"),
    **dict.fromkeys(("in", "inch", "inches", '"', "''"), "in"),
    **dict.fromkeys(("ft", "foot", "feet", "'"), "ft"),
    **dict.fromkeys(("thou", "thous"), "thou"),
}

_LONGEST_TEXT = 80
_LONGEST_MM = 1_000_000  # 1 km: no length of this trade, so a slip of the keyboard

_LIKE_LENGTH = 'write it like 12 19/32", 15/64 in, 44.4 mm or 44,4'
_LIKE_GAUGE = "write it like .010, 10, 0.25 mm or 0.046 in"
_LIKE_ANGLE = "write it like 26.6, 26.6 deg or 26° 30'"


@dataclass(frozen=True, slots=True)
class Length:
    """A length that somebody typed.

    Attributes:
        mm: The length in mm; the float nearest to what was typed.
        plus_minus_mm: The tolerance either way in mm, or None when none was typed.
        exact_in: The exact inches when the length was typed in inches, feet, thousandths, a fraction
            without a unit, or a number or letter drill; None for metric lengths.
        text: What was typed.
    """

    mm: float
    plus_minus_mm: float | None
    exact_in: Fraction | None
    text: str


class _Unreadable(Exception):  # noqa: N818 - the reason alone; the public functions make the sentence
    """Why a text cannot be read, without the text itself."""


@dataclass(frozen=True, slots=True)
class _Typed:
    """One number as typed. `unit` is None for a bare number, "in" for a bare fraction."""

    number: Fraction
    unit: str | None
    unit_was_typed: bool
    is_drill: bool = False


# --- from keyboards, phones and word processors to plain characters ---------------------------------

_VULGAR = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5",
    "⅘": "4/5", "⅙": "1/6", "⅚": "5/6", "⅐": "1/7", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
    "⅑": "1/9", "⅒": "1/10",
}  # fmt: skip
_PLAIN = str.maketrans(
    {
        **dict.fromkeys(
            "\u00a0\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000", " "
        ),
        **dict.fromkeys("\u200b\u2060\ufeff"),
        **dict.fromkeys("\u2033\u201c\u201d\u201e\u201f\u02ba\uff02", '"'),
        **dict.fromkeys("\u2032\u2018\u2019\u201b\u02b9\u00b4\uff07", "'"),
        **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d", "-"),
        **dict.fromkeys("\u2044\u2215\uff0f", "/"),
        **{c: f" {text} " for c, text in _VULGAR.items()},
        "\u00b1": " +/- ",
        "\u00ba": "°",
        "\u02da": "°",
        "\u339c": "mm",
        "\u339d": "cm",
    }
)


def _plain(text: str) -> str:
    """Put what phones and word processors make of quotes, dashes and fractions into plain characters."""
    if len(text) > _LONGEST_TEXT:
        raise _Unreadable("it is too long")
    plain = " ".join(text.translate(_PLAIN).split())
    if not plain:
        raise _Unreadable("it is empty")
    # "5-½" has become "5- 1/2", and '½"' has become '1/2 "': the spaces are ours.
    return re.sub(r"(?<=[0-9]-) (?=[0-9]+/)", "", plain) if any(c in text for c in _VULGAR) else plain


# --- numbers ----------------------------------------------------------------------------------------

# [0-9] and not \d, which also takes digits of other scripts.
_DECIMAL = r"[0-9]+(?:\.[0-9]*|,[0-9]+)?|[.,][0-9]+"
_NUMBER = rf"(?:[0-9]+(?: |-))?[0-9]+ ?/ ?[0-9]+|{_DECIMAL}"
_UNIT = r"\"|''|'|[A-Za-z\u00b5\u03bc]+"
_ONE_LENGTH = re.compile(rf"(?P<sign>[+-]?) ?(?P<number>{_NUMBER}) ?(?P<unit>{_UNIT})?\.?")
_FEET_AND_INCHES = re.compile(
    rf"(?P<sign>[+-]?) ?(?P<feet>{_DECIMAL}) ?(?:'|ft\.?|foot|feet) ?-? ?(?P<number>{_NUMBER}) ?"
    r"(?P<unit>\"|''|in|inch|inches)?\.?",
    re.IGNORECASE | re.ASCII,
)
_DRILL = re.compile(
    r"(?:drill )?(?:(?:#|no\.?|number) ?(?P<number>[0-9]+)|letter (?P<letter>[a-z]))(?: drill)?"
    r"|drill (?P<before>[a-z])|(?P<after>[a-z]) drill",
    re.IGNORECASE | re.ASCII,
)
_PLUS_MINUS = re.compile(r" ?\+ ?/? ?- ?")


def _fraction(text: str) -> Fraction:
    """Read `7/16`, `1 7/16` or `1-7/16`."""
    rest, denominator = (part.strip() for part in text.split("/"))
    *whole, numerator = re.split("[ -]", rest)
    if int(denominator) == 0:
        raise _Unreadable("nothing can be divided by 0")
    fraction = Fraction(int(numerator), int(denominator))
    if whole and fraction >= 1:
        raise _Unreadable("the fraction after a whole number must be less than 1")
    return fraction + (int(whole[0]) if whole else 0)


def _decimal(text: str) -> Fraction:
    """Read `647.7`, `.010`, `647,7`; refuse what may be a thousands mark."""
    whole, comma, decimals = text.partition(",")
    if comma and len(decimals) == 3 and 1 <= len(whole) <= 3 and int(whole) != 0:
        raise _Unreadable(
            f"the comma in {text} may be a decimal mark or a thousands mark, so write {whole}.{decimals} "
            f"or {whole}{decimals}"
        )
    return Fraction(text.replace(",", ".").removesuffix("."))


def _number(text: str) -> Fraction:
    return _fraction(text) if "/" in text else _decimal(text)


def _signed(sign: str, number: Fraction) -> Fraction:
    if sign == "-" and number == 0:
        raise _Unreadable("there is no length of minus nothing")
    return -number if sign == "-" else number


def _unit(spelling: str) -> str:
    folded = spelling.lower()
    if folded in {"mil", "mils"}:
        raise _Unreadable(
            "a mil is a thousandth of an inch to some and a millimetre to others, so write thou or mm"
        )
    if folded in {"e", "nan", "inf"}:
        raise _Unreadable("that is not a plain number")
    if folded not in _SPELLINGS:
        raise _Unreadable(f"{quoted(spelling)} is no unit known here (mm, cm, m, µm, in, ft, thou)")
    return _SPELLINGS[folded]


def _feet_and_inches(match: re.Match[str]) -> _Typed:
    feet, inches = _number(match["feet"]), _number(match["number"])
    if feet.denominator != 1:
        raise _Unreadable("feet with a decimal part cannot be followed by inches")
    if inches >= 12:
        raise _Unreadable("the inches after feet must be less than 12")
    return _Typed(_signed(match["sign"], 12 * feet + inches), "in", unit_was_typed=True)


def _one_length(match: re.Match[str]) -> _Typed:
    number = _signed(match["sign"], _number(match["number"]))
    if match["unit"]:
        return _Typed(number, _unit(match["unit"]), unit_was_typed=True)
    return _Typed(number, "in" if "/" in match["number"] else None, unit_was_typed=False)


def _drill(plain: str) -> _Typed | None:
    match = _DRILL.fullmatch(plain)
    if match is None and len(plain) == 1 and plain.isascii() and plain.isalpha():
        if plain.islower():
            raise _Unreadable(f"for the drill of that letter write letter {plain.upper()}")
        name = plain
    elif match is None:
        return None
    elif match["number"]:
        name = f"#{int(match['number'])}"
    else:
        name = (match["letter"] or match["before"] or match["after"]).upper()
    try:
        drill = drill_size(name)
    except LengthError:
        raise _Unreadable("number drills run from #1 to #80") from None
    assert drill.exact_in is not None  # number and letter drills are defined in inches
    return _Typed(drill.exact_in, "in", unit_was_typed=True, is_drill=True)


_LIKELY_SLIPS: tuple[tuple[str, str], ...] = (
    (r"[0-9][eE][+-]?[0-9]", "powers of ten are not read, so write the number out"),
    (r"[0-9]\.[0-9]*,|[0-9],[0-9]*\.", "it has both a comma and a point, so leave out the thousands mark"),
    (
        r"[0-9] - ?[0-9]|[0-9]- [0-9]|[0-9] -[0-9]",
        "the dash may be a minus, so write 25-1/2 without spaces round the dash",
    ),
    (r"[.,][0-9]* [0-9]+ ?/|[.,][0-9]* ?/|/ ?[0-9]*[.,]", "it has both decimals and a fraction"),
    (r"/ ?[0-9]* ?/|/ ?$|/ ?[^0-9 ]|^ ?/", "the fraction is not finished"),
    (r"^[^0-9]*$", "there is no number in it"),
    (r"[0-9][^0-9/.,]+[0-9]", "there seems to be more than one length in it"),
)


def _why_not(plain: str) -> str:
    """Find the likeliest reason why no form fits."""
    reasons = (reason for pattern, reason in _LIKELY_SLIPS if re.search(pattern, plain))
    return next(reasons, "it is not one number with one unit")


def _typed(plain: str) -> _Typed:
    drill = _drill(plain)
    if drill is not None:
        return drill
    if match := _FEET_AND_INCHES.fullmatch(plain):
        return _feet_and_inches(match)
    if match := _ONE_LENGTH.fullmatch(plain):
        return _one_length(match)
    raise _Unreadable(_why_not(plain))


def _from_number(value: float) -> _Typed:
    if not math.isfinite(value):
        raise _Unreadable("it is not a finite number")
    if value == 0 and math.copysign(1, value) < 0:
        raise _Unreadable("there is no length of minus nothing")
    # Through the shortest text, so that 0.1 in a job file is one tenth and not its nearest float.
    exact = Fraction(value) if isinstance(value, int) else Fraction(repr(float(value)))
    return _Typed(exact, None, unit_was_typed=False)


def _read(value: str | float) -> tuple[_Typed, _Typed | None]:
    """Split what was typed into the length and its tolerance, if it has one."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise _Unreadable("it is neither text nor a number")
    if not isinstance(value, str):
        if isinstance(value, int) and abs(value) > _LONGEST_MM:
            raise _Unreadable("it is over 1 km")
        return _from_number(value), None
    length, *tolerances = _PLUS_MINUS.split(_plain(value))
    if len(tolerances) > 1:
        raise _Unreadable("it has more than one ±")
    if not tolerances:
        return _typed(length), None
    if not length or not tolerances[0]:
        raise _Unreadable("a ± stands between a length and its tolerance")
    tolerance = _typed(tolerances[0])
    if tolerances[0][0] in "+-":
        raise _Unreadable("a tolerance after ± has no sign of its own")
    return _typed(length), tolerance


# --- lengths ----------------------------------------------------------------------------------------


def _to_mm(number: Fraction, unit: str) -> float:
    mm = number * _MM_PER[unit]
    if abs(mm) > _LONGEST_MM:
        raise _Unreadable("it is over 1 km")
    return float(mm)


def _units_of(length: _Typed, tolerance: _Typed, bare: str) -> tuple[str, str]:
    """Settle the units of a length and its tolerance; refuse where two readings are likely."""
    length_unit = length.unit or bare
    if tolerance.unit is None:
        if length.is_drill:
            raise _Unreadable("a ± on a drill size needs its own unit")
        return length_unit, length_unit
    if not tolerance.unit_was_typed and length_unit not in _INCH_BASED:
        raise _Unreadable("a fraction after ± needs its own unit when the length is metric")
    if tolerance.unit_was_typed and not length.unit_was_typed and tolerance.unit != length_unit:
        raise _Unreadable(
            f"the {tolerance.unit} after ± may be meant for the length too, so give the length its own unit"
        )
    return length_unit, tolerance.unit


def _length(length: _Typed, tolerance: _Typed | None, bare: str, text: str) -> Length:
    unit, tolerance_unit = length.unit or bare, bare
    if tolerance is not None:
        unit, tolerance_unit = _units_of(length, tolerance, bare)
    return Length(
        mm=_to_mm(length.number, unit),
        plus_minus_mm=None if tolerance is None else _to_mm(tolerance.number, tolerance_unit),
        exact_in=length.number * _MM_PER[unit] / MM_PER_INCH if unit in _INCH_BASED else None,
        text=text,
    )


def _sentence(value: object, kind: str, reason: _Unreadable, like: str) -> LengthError:
    return LengthError(f"cannot read {quoted(_shown(value))} as {kind}: {reason}; {like}")


def _shown(value: object) -> str:
    # repr of a huge int is refused by Python itself, and one with decimals is read as infinite.
    return "a very large number" if isinstance(value, int | float) and abs(value) > 1e40 else str(value)


def read_length(value: str | float, *, unit: Unit = "mm") -> Length:
    """Read a length as people type it; the module's text lists every form.

    Args:
        value: What was typed, or a number from a file.
        unit: The unit of a bare number. A fraction without a unit is inches all the same.

    Returns:
        The length; `mm` is the float nearest to the exact value typed. Negative lengths are read
        (offsets have a side); a caller that needs a positive one says so itself.

    Raises:
        LengthError: It cannot be read, or it can be read in two ways.
    """
    if unit not in ("mm", "cm", "m", "in", "ft"):
        raise LengthError(f"a job's unit is mm, cm, m, in or ft: {quoted(str(unit))} cannot be used")
    return _read_once(value, unit) if isinstance(value, str) else _as_length(value, unit)


def _as_length(value: str | float, unit: Unit) -> Length:
    try:
        length, tolerance = _read(value)
        return _length(length, tolerance, unit, _shown(value))
    except _Unreadable as reason:
        raise _sentence(value, "a length", reason, _LIKE_LENGTH) from None


_read_once = lru_cache(maxsize=2048)(_as_length)
"""A job's lengths are read again at every edit, all but one of them the same."""


# --- string gauges ----------------------------------------------------------------------------------

_THINNEST_IN, _THICKEST_IN = Fraction(7, 1000), Fraction(140, 1000)
_LEAST_MM = Fraction(18, 100)


def _gauge_unit(number: Fraction) -> str:
    if _THINNEST_IN <= number < _LEAST_MM:
        return "in"
    if _LEAST_MM <= number <= _THICKEST_IN * MM_PER_INCH:
        return "mm"
    if 1000 * _THINNEST_IN <= number <= 1000 * _THICKEST_IN:
        return "thou"
    raise _Unreadable("a bare gauge is inches (.007 to .140), thousandths (7 to 140) or mm (0.18 to 3.5)")


def read_gauge(value: str | float) -> Length:
    """Read a string gauge: a diameter of 0.007 to 0.140 in (0.178 to 3.556 mm).

    A bare number is read by its size, which no string leaves in doubt because the ranges do not
    overlap: .007 to under 0.18 is inches, 0.18 to 3.556 is millimetres, 7 to 140 is thousandths of an
    inch, as players say "a ten" or "a nine and a half" (common practice, no source). Any other bare
    number is refused, and so are drill sizes and a gauge with a unit that no string has. Everything
    else is read as `read_length` reads it.

    Args:
        value: What was typed, or a number from a file.

    Raises:
        LengthError: It cannot be read, or no string is that thick.
    """
    try:
        gauge, tolerance = _read(value)
        if gauge.is_drill:
            # "#46" may be meant as a string of .046 in, where a drill of that number is 0.081 in.
            raise _Unreadable("a string has no drill size")
        unit = gauge.unit or _gauge_unit(gauge.number)
        if not _THINNEST_IN <= gauge.number * _MM_PER[unit] / MM_PER_INCH <= _THICKEST_IN:
            raise _Unreadable("strings are .007 to .140 in thick (0.18 to 3.5 mm)")
        length = _length(gauge, tolerance, unit, _shown(value))
    except _Unreadable as reason:
        raise _sentence(value, "a string gauge", reason, _LIKE_GAUGE) from None
    return length


# --- angles -----------------------------------------------------------------------------------------

_ANGLE = re.compile(
    rf"(?P<sign>[+-]?) ?(?P<degrees>{_DECIMAL}) ?(?P<unit>°|deg(?:rees?)?\.?|rad(?:ian)?s?)?"
    rf"(?: ?(?P<minutes>{_DECIMAL}) ?(?:'|min(?:ute)?s?\.?))?"
    rf"(?: ?(?P<seconds>{_DECIMAL}) ?(?:\"|''|sec(?:ond)?s?\.?))?",
    re.IGNORECASE | re.ASCII,
)


def _degrees(match: re.Match[str]) -> Fraction:
    degrees = _decimal(match["degrees"])
    if not match["minutes"] and not match["seconds"]:
        return degrees
    minutes, seconds = (_decimal(match[part] or "0") for part in ("minutes", "seconds"))
    if not match["unit"] or degrees.denominator != 1 or (match["seconds"] and minutes.denominator != 1):
        raise _Unreadable("minutes follow whole degrees, and seconds whole minutes")
    if minutes >= 60 or seconds >= 60:
        raise _Unreadable("minutes and seconds must be less than 60")
    return degrees + minutes / 60 + seconds / 3600


def _angle_from_text(text: str) -> float:
    match = _ANGLE.fullmatch(_plain(text))
    if match is None:
        raise _Unreadable("it is not an angle in degrees")
    if (match["unit"] or "").lower().startswith("rad"):
        if match["minutes"] or match["seconds"]:
            raise _Unreadable("radians have no minutes")
        return float(_signed(match["sign"], _decimal(match["degrees"])))
    return math.radians(float(_signed(match["sign"], _degrees(match))))


def read_angle(value: str | float) -> float:
    """Read an angle: `26.6`, `26.6 deg`, `26.6°`, `26° 30'`, `0.46 rad`.

    Args:
        value: What was typed, or a number from a file; a bare number is degrees.

    Returns:
        The angle in radians, negative if a minus was typed.

    Raises:
        LengthError: It cannot be read, or it is more than a full turn.
    """
    try:
        radians = (
            _angle_from_text(value) if isinstance(value, str) else math.radians(float(_read(value)[0].number))
        )
        if abs(radians) > math.tau:
            raise _Unreadable("it is more than a full turn")
    except _Unreadable as reason:
        raise _sentence(value, "an angle", reason, _LIKE_ANGLE) from None
    return radians
