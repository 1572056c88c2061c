"""A first job file, every key in it explained, in the builder's own unit."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Literal

from scribeline.job.bridges import Loading
from scribeline.job.editing import Stated, remove_value, set_value
from scribeline.job.faults import JobError
from scribeline.job.parts_book import book_entry
from scribeline.job.reading import parse_job
from scribeline.lengths import UNITS, JobUnit, by_inches, inch_fraction, nearest_drills, read_length

Instrument = Literal["six-string", "seven-string", "four-string bass"]
"""What a first job file can be begun as."""

_STRINGS: dict[Instrument, tuple[tuple[str, str], ...]] = {
    "seven-string": (
        ("E4", ".010"),
        ("B3", ".013"),
        ("G3", ".017"),
        ("D3", ".026"),
        ("A2", ".036"),
        ("E2", ".046"),
        ("B1", ".064"),
    ),
    "four-string bass": (("G2", ".045"), ("D2", ".065"), ("A1", ".085"), ("E1", ".105")),
}

_InEach = tuple[Stated, Stated]
"""A number in a metric shop, and what an inch shop would write in its place: near it, and no conversion of it."""

_OTHERWISE: dict[Instrument, dict[str, Stated | _InEach]] = {
    "six-string": {},
    "seven-string": {
        "nut.width": (48, "1 7/8"),
        "fingerboard.width_at_end": (64.5, "2 17/32"),
        "neck.heel_width_at_end": (64.2, "2 17/32"),
        "neck.heel_width_at_mouth": (62, "2 7/16"),
        "bridge.part": "plate, seven strings",
        "pockets[1].size[2]": (82, "3 1/4"),
    },
    "four-string bass": {
        "scale.length": (864, 34),
        "scale.frets": 20,
        "nut.width": (42, "1 21/32"),
        "nut.edge": (4, "5/32"),
        "fingerboard.end": (600, "23 5/8"),
        "fingerboard.width_at_end": (62, "2 7/16"),
        "setup.action_treble": (2, "5/64"),
        "setup.action_bass": (2.6, 0.1),
        "neck.pocket_end": (600, "23 5/8"),
        "neck.pocket_length": (85, "3 3/8"),
        "neck.heel_width_at_end": (62, "2 7/16"),
        "neck.heel_width_at_mouth": (60, "2 3/8"),
        "body.outline.tail": (975, "38 3/8"),
        "body.outline.dimensions.length": (440, "17 3/8"),
        "bridge.part": "plate, four-string bass",
        "bridge_screw.part": "4.2 x 32",
        "ferrules.part": "lipped, bass",
        "string_holes.diameter": ("4.8 mm", "3/16"),
        "pockets[1].centre[1]": (-70, "-2 3/4"),
        "pockets[1].size[1]": (50, 2),
        "pockets[1].size[2]": (100, 4),
        "ground_wire.from_front": (12, "15/32"),
        "ground_wire.across": (9.5, "3/8"),
        "ground_wire.lands": (15, "19/32"),
        "bits.twist": ["1.5 mm", "2 mm", "2.5 mm", "3 mm", "3.5 mm", "4 mm", "5 mm"],
        "bits.brad_point": ["3 mm", "4 mm", "4.8 mm", "6 mm", "8 mm", "9 mm"],
        "bits.flat_bottomed": ["9 mm", "11.5 mm", "12 mm"],
    },
}
"""What other instruments have otherwise than the six-string (typical, from memory: measure your own)."""


_TOP_LOAD: dict[Instrument, dict[str, Stated | _InEach]] = {
    "six-string": {"bridge.loading": "top-load"},
    "seven-string": {"bridge.loading": "top-load"},
    "four-string bass": {
        "bridge.part": "plate, four-string bass, top-load",
        "ground_wire.from_front": (14, "9/16"),
    },
}
"""What they have otherwise again where the strings end in the plate (typical, from memory: measure your own)."""


def starter_job(
    *,
    name: str,
    units: JobUnit,
    handed: str,
    instrument: Instrument = "six-string",
    loading: Loading = "through-body",
) -> str:
    """The text of a new job file.

    Args:
        name: the instrument's name.
        units: unit of its bare numbers; in inches it has the sizes an inch shop would write, near the metric ones.
        handed: "right" or "left".
        instrument: what it is begun as, with typical numbers.
        loading: where its strings end; in the plate, it has no ferrules.
    """
    text = Path(__file__).with_name("starter.toml").read_text(encoding="utf-8")
    paper, other = ("Letter", "A4") if by_inches(units) else ("A4", "Letter")
    words = {
        "NAME": plain_name(name),
        "UNITS": units,
        "EACH": " or ".join(f'"{each}"' for each in UNITS),
        "HAND": handed,
        "PAPER": paper,
        "OTHER": other,
    }

    def fill(token: re.Match[str]) -> str:
        metric, _, inches = token.group(1).partition("|")
        return words.get(metric) or (inches if inches and by_inches(units) else _bare(metric, units))

    begun = re.sub(r"@([^@\n]+)@", fill, text)
    if strings := _STRINGS.get(instrument):
        rows = "".join(f'[[strings]]\nnote = "{note}"\ngauge = "{gauge}"\n\n' for note, gauge in strings)
        begun = re.sub(r"(?:\[\[strings\]\]\nnote = .*\ngauge = .*\n\n)+", rows, begun, count=1)
    otherwise = dict(_OTHERWISE[instrument])
    if loading == "top-load":
        otherwise |= _TOP_LOAD[instrument]
        for key in ("ferrules", "string_holes"):
            begun, _ = remove_value(begun, key)
            otherwise = {each: value for each, value in otherwise.items() if not each.startswith(f"{key}.")}
    for key, value in otherwise.items():
        begun, _ = set_value(begun, key, _own(value, units) if isinstance(value, tuple) else value)
    return _aligned(_with_inch_bits(begun) if by_inches(units) else begun)


def plain_name(name: str) -> str:
    """An instrument's name as a job file may have it: printable marks, sixty at most."""
    return "".join(mark for mark in name if mark.isprintable() and mark not in '"\\@')[:60] or "New job"


def _own(value: _InEach, units: JobUnit) -> Stated:
    metric, inches = value
    if by_inches(units):
        return inches
    return UNITS[units].of(metric) if isinstance(metric, int | float) and units != "mm" else metric


def _bare(metric: str, units: JobUnit) -> str:
    """A bare number of millimetres in another unit; what names its own stands."""
    return metric if units == "mm" or metric[0] in '"[' else f"{UNITS[units].of(float(metric)):g}"


def _aligned(text: str) -> str:
    """The same with what is said behind values in one column."""
    return re.sub(r"^([^#\n]*\S) {2,}# ", lambda line: f"{line[1]:<31} # ", text, flags=re.M)


_NEAR_ENOUGH = {"twist": 0.05, "brad_point": 0.1, "flat_bottomed": 0.1}
"""A fraction no further than this from a typical bit stands in for it, mm (from memory: what a pilot or a ferrule bears)."""


def _with_inch_bits(text: str) -> str:
    """The same drill box as an inch shop has it: fractions, number drills between them, the odd metric one for a ferrule."""
    for kind, sizes in tomllib.loads(text)["bits"].items():
        near = (_inch_size(kind, str(size)) for size in sizes)
        text, _ = set_value(text, f"bits.{kind}", list(dict.fromkeys(near)))
    return text


def _inch_size(kind: str, size: str) -> str:
    mm = read_length(size).mm
    fraction = inch_fraction(mm, 16 if kind == "router" else 64)
    if kind == "router" or abs(fraction.error_mm) <= _NEAR_ENOUGH[kind]:
        return fraction.text.removesuffix(" in")
    if kind != "twist":
        return size
    numbered = [each for each in nearest_drills(mm, ("number",)) if each is not None]
    return min(numbered, key=lambda each: abs(each.diameter - mm)).name


def with_string_ends(text: str) -> str:
    """The text of a job whose strings run through the body, with typical ends where it states none.

    Raises:
        JobError: the text is not valid TOML.
    """
    try:
        parse_job(text)
    except JobError as error:
        missing = {fault.path for fault in error.faults}
    else:
        return text
    bass = text.count("[[strings]]") == len(_STRINGS["four-string bass"])
    if "bridge.string_holes_from_front" in missing:
        text = _with_string_holes(text, "plate, four-string bass" if bass else "plate, six strings")
    if "ferrules" in missing:
        text, _ = set_value(text, "ferrules.part", "lipped, bass" if bass else "lipped")
    return text


def _with_string_holes(text: str, usual: str) -> str:
    """The plate's twin of the parts book that has string holes, else the holes of the usual plate."""
    part = str(tomllib.loads(text).get("bridge", {}).get("part", ""))
    if book_entry("bridge", twin := part.removesuffix(", top-load")) is not None:
        return set_value(text, "bridge.part", twin)[0]
    plate = book_entry("bridge", usual) or {}
    for key in ("string_hole", "string_holes_from_front"):
        text, _ = set_value(text, f"bridge.{key}", plate[key])
    return text
