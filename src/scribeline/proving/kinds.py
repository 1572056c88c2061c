"""The kinds of test a shop can do: how, what is typed, what comes of it.

A kind is a row of `KINDS`. Its result is worked out by its one function from the arithmetic of this room; the words stand here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from math import hypot, radians, tan
from typing import Literal

from scribeline.lengths import give_or_take, said
from scribeline.proving.arithmetic import (
    collar_offset,
    in_degrees,
    print_scale,
    registration,
    runout,
    sample,
    table_lean,
)
from scribeline.proving.learning import DOUBTED, Group, learn
from scribeline.tables import Accuracies

KindName = Literal[
    "table-square", "collar-centring", "bit-runout", "print-scale", "flip-registration", "trial-marks"
]
Machine = Literal["bench", "drill press", "hand drill", "router", ""]


@dataclass(frozen=True, slots=True)
class ShopTest:
    """One test as it was done.

    Attributes:
        no: from 1, as the file lists it.
        kind: which.
        readings: mm; rad where the method is an angle.
        method: key of the accuracy it tells of; "" for none.
        at: the length that its kind asks for beside the readings, mm; None where it was not stated.
        read_with: key of the accuracy of what read it; "" where that is what is tried.
        besides: keys of what else each reading has in it.
        machine: which press, router, printer, bit or hand.
        by: who did it.
        on: the day; None where it was not noted.
        note: anything else.
        struck: why it no longer counts; "" where it does.
    """

    no: int
    kind: KindName
    readings: tuple[float, ...]
    method: str = ""
    at: float | None = None
    read_with: str = ""
    besides: tuple[str, ...] = ()
    machine: str = ""
    by: str = ""
    on: dt.date | None = None
    note: str = ""
    struck: str = ""

    @property
    def counts(self) -> bool:
        """Whether anything rests on it."""
        return not self.struck


@dataclass(frozen=True, slots=True)
class Figure:
    """One number of a result.

    Attributes:
        name: in bench words.
        value: mm, rad, or a share.
        sd: its standard deviation.
        unit: "mm", "rad" or "share".
    """

    name: str
    value: float
    sd: float
    unit: Literal["mm", "rad", "share"]


@dataclass(frozen=True, slots=True)
class Result:
    """What a test says. Sentences hold their lengths as `said` sets them.

    Attributes:
        figures: its numbers, the one that decides first.
        says: the same in bench words.
        correct: what can be put right, and how; "" for nothing. Nothing is put right by itself.
        doubt: what speaks against the readings; "" for nothing.
        group: what is learnt of its method; None for nothing.
    """

    figures: tuple[Figure, ...]
    says: str
    correct: str = ""
    doubt: str = ""
    group: Group | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """A length that a kind asks for beside its readings.

    Attributes:
        words: what it is.
        low: least it can be, mm.
        high: most.
        usual: taken where none is stated, mm; None where it may be left out.
    """

    words: str
    low: float
    high: float
    usual: float | None = None


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of test.

    Attributes:
        name: as the file has it.
        title: in bench words.
        why: what it is good for.
        machine: what it is done at; "" where nothing can hurt.
        how: what to do, step by step.
        places: names of the readings in their order; of a list without an end, those of one round.
        fixed: whether there are exactly as many readings as places.
        least: readings at least.
        low: least a reading can be, mm.
        high: most.
        at: what else is asked for.
        methods: keys of the accuracies it can tell of, the usual one first; () for none; None for any that can be tried.
        reads: key of what the readings are usually taken with.
        result: works it out.
        example: readings as they are typed in a row.
        besides: keys of what else is usually in each reading.
    """

    name: KindName
    title: str
    why: str
    machine: Machine
    how: tuple[str, ...]
    places: tuple[str, ...]
    fixed: bool
    least: int
    low: float
    high: float
    at: Asked | None
    methods: tuple[str, ...] | None
    reads: str
    result: Callable[[ShopTest, Accuracies], Result]
    example: str
    besides: tuple[str, ...] = ()


READERS = (
    "caliper-wood",
    "caliper",
    "rule",
    "rule-cut",
    "depth-gauge",
    "feeler",
    "dial",
    "thread",
    "tape",
    "tape-hook",
    "angle-gauge",
)
"""Accuracies of what reads."""

_OTHERWISE = frozenset({"lean-press", "lean-press-trued", "flip-pin", "print-scale", "rule-scale"})
"""Accuracies that a row of trial marks does not tell of."""

ANGLE_AT_MOST = radians(10)
"""A lean greater than this was not measured on a mark, rad."""
DEEP = 45.0
"""Depth at which a lean is told as an offset, mm: a usual body."""
SURELY = 2.0
"""A number so many of its standard deviations off nothing is told as one (common practice)."""
_MISSES = 3.0
"""Readings of a plane or a circle that miss it by so many standard deviations contradict one another."""


def can_be_tried(method: str, accuracies: Accuracies) -> bool:
    """Whether a row of trial marks tells of a method."""
    return method in accuracies and accuracies[method].unit != "mm per mm" and method not in _OTHERWISE


def known_sd(test: ShopTest, accuracies: Accuracies) -> float:
    """Standard deviation of all that is in a reading besides what is tried, in the reading's unit."""
    return accuracies.sd(*(key for key in (test.read_with, *test.besides) if key))


def _table_square(test: ShopTest, accuracies: Accuracies) -> Result:
    front, back, left, right = test.readings
    radius, read_sd = _at(test), known_sd(test, accuracies)
    found = table_lean(front, back, left, right, radius=radius, read_sd=read_sd)
    falls = _either_way(found.to_front, "front", "back"), _either_way(found.to_right, "right", "left")
    surely = [(lean, low, high) for lean, low, high in falls if lean > SURELY * found.sd]
    runs = DEEP * tan(found.lean)
    where = " and ".join(f"{in_degrees(lean)} to the {low}" for lean, low, _ in surely)
    says = (
        f"The table falls {where} (each ± {in_degrees(found.sd)}): a hole {said(DEEP, 0)} deep runs {said(runs)} off, "
        "towards the low side."
        if surely
        else f"The table is square, as far as these readings tell: {in_degrees(found.lean)} ± {in_degrees(found.sd)}."
    )
    correct = " ".join(
        f"Lay {said(2 * radius * tan(lean))} of shim under the board on the table at the {low}, {said(radius, 0)} from the "
        f"spindle, and none at the {high}."
        for lean, low, high in surely
    )
    nothing = "Nothing to shim."
    return Result(
        (
            Figure("greatest lean", found.lean, found.sd, "rad"),
            Figure("falls to the front", found.to_front, found.sd, "rad"),
            Figure("falls to the right", found.to_right, found.sd, "rad"),
            Figure(f"off in {DEEP:.0f} mm of depth", runs, DEEP * found.sd, "mm"),
        ),
        says,
        f"{correct} Then swing the wire again." if surely else nothing,
        _misses(found.misfit, read_sd, "front and back together", "left and right together", "plane"),
        Group((found.to_front, found.to_right), found.sd),
    )


def _either_way(off: float, one: str, other: str) -> tuple[float, str, str]:
    """How far, to which side, and the side across from it."""
    return abs(off), *((one, other) if off >= 0 else (other, one))


def _misses(misfit: float, read_sd: float, one: str, other: str, shape: str) -> str:
    if abs(misfit) <= _MISSES * 2 * read_sd:
        return ""
    more = one if misfit > 0 else other
    return (
        f"The readings contradict one another: on a {shape} {one} make as much as {other}, and here {more} make "
        f"{said(abs(misfit))} more. One is misread, or something is not flat: read all four again. Nothing is learnt from these"
    )


def _collar_centring(test: ShopTest, accuracies: Accuracies) -> Result:
    front, right, back, left = test.readings
    read_sd = known_sd(test, accuracies)
    found = collar_offset(front, right, back, left, read_sd=read_sd)
    ways = [
        f"{said(off)} towards the {side}"
        for off, side, _ in (
            _either_way(found.to_front, "front", "back"),
            _either_way(found.to_right, "right", "left"),
        )
        if off > SURELY * found.sd
    ]
    is_off = bool(ways)
    says = (
        f"The bit stands {' and '.join(ways)} of the base (each {give_or_take(found.sd, 2)})"
        if ways
        else f"The bit stands in the middle, as far as these readings tell ({give_or_take(found.sd, 2)})"
    )
    fixes = []
    if is_off:
        fixes.append(
            "Centre the collar with a cone or a shank of its size in the collet, or keep one side of the base facing the guide."
        )
    if test.at is not None and abs(found.reach - test.at) > SURELY * read_sd / 2:
        fixes.append(
            f"The cut lies {said(found.reach)} from the guide on the mean of all sides, and you reckon with {said(test.at)}. "
            f"Make a cavity's template {said(abs(found.reach - test.at))} {'larger' if found.reach > test.at else 'smaller'} "
            "at each edge, or measure collar and bit again."
        )
    return Result(
        (
            Figure("bit off the centre", found.offset, found.sd, "mm"),
            Figure("towards the front", found.to_front, found.sd, "mm"),
            Figure("towards the right", found.to_right, found.sd, "mm"),
            Figure("edge of the guide to the cut", found.reach, read_sd / 2, "mm"),
        ),
        f"{says}; the cut lies {said(found.reach)} from the guide on the mean.",
        " ".join(fixes) or "Nothing to centre.",
        _misses(found.misfit, read_sd, "front and back together", "right and left together", "circle"),
        Group(test.readings, read_sd, "mean"),
    )


def _bit_runout(test: ShopTest, accuracies: Accuracies) -> Result:
    found = runout(test.readings, read_sd=known_sd(test, accuracies))
    below = "" if test.at is None else f", {said(test.at, 0)} below the chuck"
    is_out = found.total > _ROUND_ENOUGH
    return Result(
        (
            Figure("swing of the dial", found.total, found.sd, "mm"),
            Figure("bit off the spindle's axis", found.off_centre, found.sd / 2, "mm"),
        ),
        f"The dial swings {said(found.total)} ({give_or_take(found.sd, 2)}){below}: a hole may come out up to that much wider "
        "than the bit.",
        "Clean the chuck and the shank, turn the bit a third in its chuck, read again; roll the bit on a flat for a bend. Until "
        "then try every press fit in scrap."
        if is_out
        else "",
    )


_ROUND_ENOUGH = 0.08
"""A dial may swing this far at a twist bit in a sound press, mm (common practice, no source)."""


def _print_scale(test: ShopTest, accuracies: Accuracies) -> Result:
    nominal, read_sd = _at(test), known_sd(test, accuracies)
    across, up = test.readings[0::2], test.readings[1::2]
    rule_sd = accuracies["rule-scale"].sd
    found = print_scale(across, up, nominal=nominal, read_sd=read_sd, rule_sd=rule_sd)
    ways = (
        ("across", found.across, found.across_sd),
        ("up", found.up, found.up_sd),
    )
    off = [(way, scale) for way, scale, sd in ways if abs(scale - 1) > SURELY * sd]
    told = " and ".join(f"{100 * scale:.2f} % {way}" for way, scale, _ in ways)
    again = " and ".join(f"at {100 / scale:.2f} % {way}" for way, scale in off)
    return Result(
        tuple(
            Figure(words, scale, sd, "share")
            for words, scale, sd in (
                ("scale across the paper", found.across, found.across_sd),
                ("scale up the paper", found.up, found.up_sd),
            )
        ),
        f"It prints {told} (± {100 * max(found.across_sd, found.up_sd):.2f} %): {said(nominal, 0)} come out as "
        f"{said(nominal * found.across)} across and {said(nominal * found.up)} up.",
        f"Print {again}; before you use a template, measure its own bars: they say what it is good for."
        if off
        else "Nothing to correct: it cannot be told from true by these readings.",
        group=Group(tuple(each / nominal - 1 for each in test.readings), hypot(read_sd / nominal, rule_sd)),
    )


def _flip_registration(test: ShopTest, accuracies: Accuracies) -> Result:
    known = known_sd(test, accuracies)
    group = Group(test.readings, known, "mean")
    sound = _sound(group, accuracies[test.method].sd)
    found = registration(sound)
    sd = max(found.sd, known / 2 / len(sound) ** 0.5)
    side, other = ("treble", "bass") if found.step > 0 else ("bass", "treble")
    is_off = abs(found.pins_off) > SURELY * sd
    return Result(
        (
            Figure("pins off the centreline", found.pins_off, sd, "mm"),
            Figure("step from front to back", found.step, 2 * sd, "mm"),
            Figure("scatter of the steps", found.scatter, found.scatter / (2 * len(sound)) ** 0.5, "mm"),
        ),
        f"On the mean the back's holes lie {said(abs(found.step))} to the {side} side of the front's. They scatter by "
        f"{said(found.scatter)}.",
        f"Move the pins {said(abs(found.pins_off))} ({give_or_take(sd, 2)}) to the {other} side: half of the step, for turning "
        "the body over doubles it. Then drill test holes again."
        if is_off
        else "Nothing to set: the pins cannot be told from the centreline by these holes.",
        group=group,
    )


def _trial_marks(test: ShopTest, accuracies: Accuracies) -> Result:
    what = accuracies[test.method]
    known = known_sd(test, accuracies)
    group = Group(test.readings, known)
    found = sample(_sound(group, what.sd))
    unit: Literal["mm", "rad"] = "rad" if what.unit == "rad" else "mm"
    error = found.sd / found.count**0.5
    biased = found.is_biased and abs(found.mean) > SURELY * known / found.count**0.5
    way = "plus" if found.mean > 0 else "minus"
    mean, scatter = in_words(abs(found.mean), unit), in_words(found.sd, unit)
    correct = (
        f"On the mean they lie {mean} to the {way} side, more than their scatter explains. Find out why, or aim as much to the "
        f"other side: then {scatter} of scatter remains. Nothing is set off for you; until you do, the spread that is learnt "
        "counts it in."
        if biased
        else ""
    )
    return Result(
        (
            Figure("scatter about the mean", found.sd, found.sd / (2 * (found.count - 1)) ** 0.5, unit),
            Figure("mean off the line", found.mean, error, unit),
        ),
        f"{what.what[0].upper()}{what.what[1:]}: {found.count} of them scatter by {scatter} about a mean of "
        f"{'' if found.mean >= 0 else 'minus '}{mean}; what read them is good to {in_words(known, unit)}.",
        correct,
        group=group,
    )


def in_words(value: float, unit: str) -> str:
    """A number of a test for a sentence: a length as `said` sets it, an angle in degrees, a share in per cent."""
    if unit == "mm":
        return said(value)
    return in_degrees(value) if unit == "rad" else f"{100 * value:.2f} %"


def _sound(group: Group, guess: float) -> tuple[float, ...]:
    """The readings of a test that do not stand apart; all of them where too few are left."""
    (chances,) = learn((group,), guess).wild
    sound = tuple(off for off, chance in zip(group.off, chances, strict=True) if chance < DOUBTED)
    return sound if len(sound) > 1 else group.off


def _at(test: ShopTest) -> float:
    asked = kind_of(test.kind).at
    at = test.at if test.at is not None or asked is None else asked.usual
    assert at is not None
    return at


KINDS: Mapping[str, Kind] = {
    each.name: each
    for each in (
        Kind(
            "table-square",
            "Drill press: is the table square?",
            "A table half a degree out puts a hole 0.4 mm off at the back of a body, and every hole the same way.",
            "drill press",
            (
                "Unplug the press. Lay a flat board on the table, as you would for work.",
                f"Bend a stiff wire into a crank and close the chuck on it, its end {said(100.0, 0)} from the spindle.",
                "Let the wire down until it just touches at its nearest place, and lock the quill.",
                "Turn the chuck by hand. Measure the gap under the wire at the front, back, left and right; 0 where it touches.",
                "If it rubs hard anywhere, raise it and begin again: a bent wire reads nothing.",
            ),
            ("front", "back", "left", "right"),
            True,
            4,
            0.0,
            12.0,
            Asked("from the spindle to the wire's end", 25.0, 300.0, 100.0),
            ("lean-press", "lean-press-trued"),
            "feeler",
            _table_square,
            "0.4 0 0.2 0.2",
        ),
        Kind(
            "collar-centring",
            "Router: does the bit stand in the middle?",
            "A bit off the middle of its collar or bearing cuts nearer to the template on one side than on the other.",
            "router",
            (
                "Clamp a straight guide on a piece of scrap.",
                "Unplug the router, mark the four sides of its base: front, right, back, left. Set it shallow.",
                "Rout along the guide four times, each time with another side of the base facing it, each over its own piece of "
                "the length.",
                "Measure from the guide's edge to the near wall of each cut.",
            ),
            ("front", "right", "back", "left"),
            True,
            4,
            -2.0,
            30.0,
            Asked("wanted from the guide to the cut: half of collar less bit, 0 for a bearing", 0.0, 25.0),
            ("template-collar", "template-bearing"),
            "caliper-wood",
            _collar_centring,
            "1.55 1.65 1.75 1.65",
        ),
        Kind(
            "bit-runout",
            "Drill press: does the bit run out?",
            "A bit that runs out drills wider than its size: a press fit gets loose.",
            "drill press",
            (
                "Unplug the press. Close the chuck on the bit, or on a straight rod, with the key in each of its holes in turn.",
                "Stand a dial gauge against its round shank, well below the chuck, square to it.",
                "Turn the chuck by hand a whole turn. Type how far the dial swings, highest less lowest.",
                "Loosen, turn the bit in the chuck, tighten, read again: type each.",
            ),
            ("swing",),
            False,
            1,
            0.0,
            2.0,
            Asked("from the chuck's jaws down to the dial", 1.0, 200.0),
            (),
            "dial",
            _bit_runout,
            "0.05 0.06 0.04",
        ),
        Kind(
            "print-scale",
            "Printer: does it print true?",
            "Paper that is 0.15 % off is 1 mm off over a scale. Templates are measured each time; this says what to reckon with.",
            "",
            (
                "Print a page with measuring bars at 100 %, on the paper you use for templates.",
                "Measure both bars with a good rule, from tick to tick, on the day it is printed.",
                "Type the bar across and the bar up. Of several sheets: across and up of each, one sheet after another.",
            ),
            ("across", "up"),
            False,
            2,
            20.0,
            1100.0,
            Asked("what both bars should measure", 25.0, 1000.0, 200.0),
            ("print-scale",),
            "rule-cut",
            _print_scale,
            "199.8 200.1",
        ),
        Kind(
            "flip-registration",
            "Turning over: do both faces agree?",
            "Pins off the centreline put every hole of the back twice as far off its fellow of the front.",
            "drill press",
            (
                f"Take scrap as thick as the body, and the pins you turn a body over on. Drill {said(3.0, 0)} holes from the "
                "front, half through.",
                "Turn it over onto its pins and drill to meet each, half through. Before every hole take it off and set it on "
                "again: otherwise the scatter says nothing of the pins.",
                "Saw the scrap open where the holes meet. Measure each step, square to the line of the pins.",
                "Type each: over 0 where the back's hole lies to the treble side of the front's, under 0 to the bass side.",
            ),
            ("step",),
            False,
            3,
            -5.0,
            5.0,
            None,
            ("flip-pin",),
            "caliper-wood",
            _flip_registration,
            "0.2 0.15 -0.05",
            ("bit-brad", "bit-brad"),
        ),
        Kind(
            "trial-marks",
            "By hand: how near do your marks and cuts come?",
            "What your hand and your bits do, in place of a guess. Ten marks of an afternoon say more than any table.",
            "bench",
            (
                "Take scrap of the timber you build with, and draw fine lines or knife crosses where the marks shall be.",
                "Make ten marks, holes or cuts in it, as you would on a body. Do none over.",
                "Measure each off its line: over 0 to the right of it, under 0 to the left. Of a depth: over 0 is too deep. Of a "
                "lean: degrees.",
                "Type every one, the bad ones too. Leave out nothing but what you would throw away at once.",
            ),
            ("off its line",),
            False,
            3,
            -8.0,
            8.0,
            None,
            None,
            "caliper-wood",
            _trial_marks,
            "0.1 -0.25 0.05",
        ),
    )
}
"""Every kind of test, in the order they are best done."""


def kind_of(name: KindName) -> Kind:
    """The kind of a name."""
    return KINDS[name]


def methods_of(kind: Kind, accuracies: Accuracies) -> tuple[str, ...]:
    """Keys of the accuracies that a kind can tell of."""
    return tuple(_triable(accuracies)) if kind.methods is None else kind.methods


def _triable(accuracies: Accuracies) -> Iterator[str]:
    for key in accuracies:
        if can_be_tried(key, accuracies):
            yield key


_AT: Mapping[Machine, tuple[str, ...]] = {
    "drill press": ("bit-brad", "bit-twist", "depth-press"),
    "hand drill": ("bit-hand", "bit-block", "lean-hand", "lean-block", "depth-tape"),
    "router": ("template-bearing", "template-collar", "template-tape", "template-pins", "depth-router"),
}
"""Where a method is tried, if not at the bench."""


def machine_of(kind: Kind, method: str) -> Machine:
    """What a test of a method is done at."""
    if kind.methods is not None:
        return kind.machine
    return next((machine for machine, methods in _AT.items() if method in methods), kind.machine)


def is_angle(method: str, accuracies: Accuracies) -> bool:
    """Whether the readings of a trial of this method are angles."""
    return can_be_tried(method, accuracies) and accuracies[method].unit == "rad"
