"""What full-size prints are measured by, what a printer did to one, and how to print it true.

Light on purpose: it imports nothing that draws, so a command or a form may call it at once.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from scribeline.lengths import JobUnit, SaidError, give_or_take, said

if TYPE_CHECKING:
    from scribeline.tables.paper import Roll

_INCH = 25.4


@dataclass(frozen=True, slots=True)
class Ruling:
    """The measuring bars and grid crosses of full-size pages: round figures on the rule that belongs to the paper.

    Attributes:
        bar: length of a bar, mm.
        inner: between the marks of a bar whose ends a printer cut off, mm.
        tick: between its ticks, mm.
        short: the bar where a side of the paper, or a drawing at its foot, leaves less room, mm.
        shortest: the bar where even that is too long, mm.
        grid: between grid crosses, mm.
        unit: in which these are round.
    """

    bar: float
    inner: float
    tick: float
    short: float
    shortest: float
    grid: float
    unit: JobUnit


METRIC = Ruling(200.0, 180.0, 10.0, 100.0, 50.0, 100.0, "mm")
"""On ISO paper, and on rolls sold by the millimetre."""
BY_INCHES = Ruling(8 * _INCH, 7 * _INCH, _INCH / 2, 4 * _INCH, 2 * _INCH, 4 * _INCH, "in")
"""On Letter and the other inch papers: 8 in leave a quarter of an inch at either end of Letter's short side."""


def ruling(paper: "str | Roll") -> Ruling:
    """The ruling that belongs to a paper.

    Args:
        paper: a size of the paper table, or a roll; `tables.paper.read_paper` reads either.
    """
    from scribeline.tables.paper import is_inch_paper  # the tables are heavy

    return BY_INCHES if is_inch_paper(paper) else METRIC


def bar_words(mm: float) -> str:
    """A length of a ruling as a rule shows it: "200 mm"; in whole inches "8 in / 203.2 mm".

    It is never converted into the unit of the job: a rule has no mark at 7.874 in.
    """
    inches = mm / _INCH
    if abs(inches - round(inches)) < 1e-9:
        return f"{round(inches)} in / {mm:.1f} mm"
    return f"{mm:g} mm"


FULL_USE = 0.1 / 200
"""Full use within this share of the bar: ±0.1 mm on 200 mm. Common practice, no source."""
SHORT_GROUPS = 0.3 / 200
"""Shapes and single hole groups within this: ±0.3 mm on 200 mm, which is 0.08 mm over 52.5 mm. Common
practice, no source."""
SET_OUT_BY_NUMBER = 150.0
"""Any distance above this is set out with a measured number, whatever the print, mm."""

_BELIEVABLE = 0.1
_ROUNDING = 1e-9

Verdict = Literal["full", "short groups", "void"]


@dataclass(frozen=True, slots=True)
class PrintVerdict:
    """What a print may be used for.

    Attributes:
        verdict: "full" use, "short groups" (shapes and single hole groups only), or "void".
        factors: What to multiply x and y by so that the same printer prints true. Includes any correction
            the measured print was already made with.
        sentences: The same in words for the bench.
    """

    verdict: Verdict
    factors: tuple[float, float]
    sentences: tuple[str, ...]


def print_verdict(
    measured_x: float,
    measured_y: float,
    nominal: float = 200.0,
    *,
    applied: tuple[float, float] = (1.0, 1.0),
) -> PrintVerdict:
    """The verdict on a print from what its measuring bars measured.

    Args:
        measured_x: The bar across the page, mm.
        measured_y: The bar up the page, mm.
        nominal: What the bars should measure, mm.
        applied: The correction the print was made with, if any.

    Raises:
        SaidError: A measurement that cannot be one, with what to type instead.
    """
    _check(nominal, applied)
    faults = [
        fault
        for axis, measured in (("across", measured_x), ("up", measured_y))
        if (fault := _doubt(axis, measured, nominal))
    ]
    if faults:
        raise SaidError(" ".join(faults))
    worst = max(abs(measured_x / nominal - 1), abs(measured_y / nominal - 1)) - _ROUNDING
    factors = (applied[0] * nominal / measured_x, applied[1] * nominal / measured_y)
    verdict: Verdict = "full" if worst <= FULL_USE else "short groups" if worst <= SHORT_GROUPS else "void"
    found = (
        f"The bars measure {said(measured_x)} across and {said(measured_y)} up; they should measure "
        f"{bar_words(nominal)}."
    )
    return PrintVerdict(verdict, factors, (found, *_advice(verdict, factors, nominal, applied)))


def _advice(
    verdict: Verdict, factors: tuple[float, float], nominal: float, applied: tuple[float, float]
) -> tuple[str, ...]:
    across, up = (f"{100 * factor:.1f} %" for factor in factors)
    reprint = (
        f"Print it again at {across}."
        if across == up and applied == (1.0, 1.0)
        else f"Print it again with the corrected file: {across} across and {up} up."
    )
    by_number = f"Set out every distance over {said(SET_OUT_BY_NUMBER, 0)} by its number, never from paper."
    if verdict == "full":
        return (
            "This print may be used in full today; paper moves with damp, so measure it again another day.",
            by_number,
        )
    if verdict == "short groups":
        limit = SHORT_GROUPS * nominal
        return (
            f"It is within {give_or_take(limit, 1)}: use it for shapes and for one hole group at a time, not for "
            "distances between groups.",
            by_number,
            reprint,
        )
    return (
        "This print is void: mark it so and throw it away.",
        reprint,
        "Measure the bars of the new print too.",
    )


def _check(nominal: float, applied: tuple[float, float]) -> None:
    for what, value in (("The bar's nominal length", nominal), ("A print correction", min(applied))):
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"{what} must be above 0, not {value}.")


def _doubt(axis: str, measured: float, nominal: float) -> str:
    """A sentence about a measurement nobody can have made; empty for a believable one."""
    if math.isfinite(measured) and abs(measured / nominal - 1) <= _BELIEVABLE:
        return ""
    head = f"The bar {axis} the page cannot measure {said(measured, None)}: it is drawn {bar_words(nominal)} long."
    if math.isfinite(measured):
        for unit_name, mm in (("centimetres", 10.0), ("inches", _INCH)):
            if abs(measured * mm / nominal - 1) <= _BELIEVABLE:
                return f"{head} If you measured {unit_name}, type {measured * mm:.1f} mm."
        if abs(measured / _INCH / nominal - 1) <= _BELIEVABLE:
            return f"{head} If you measured millimetres, type {measured / _INCH:.1f} mm."
    return (
        f"{head} Measure between its outer ticks; if it truly is so far off, the printer "
        "fitted the page to the paper: print at 100 % (actual size)."
    )
