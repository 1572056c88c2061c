"""The numbers a person may type: every part a job has as a family of fields, in the order one measures them.

What is asked about each part stands in `catalogue`. A field is a key of the job file with a letter on the family's
measuring picture. What stands in it now, what it resolves to and how well it is known is worked out from the job's
text and its document; nothing is stated twice.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import Any

from scribeline.job import (
    EDGE,
    UNDER_PLATE,
    Dimension,
    Document,
    Fault,
    JobError,
    Stated,
    toml_values,
    widest_measured,
)
from scribeline.lengths import UNITS, LengthError, by_inches, inch_text, several
from scribeline.web import catalogue
from scribeline.web.field import Family, Field
from scribeline.web.more_fields import more_families


@dataclass(frozen=True, slots=True)
class Standing:
    """What a field says now.

    Attributes:
        typed: as the job's text states it; "" where it does not.
        mm: what it comes to, mm (or as a bare number where the field is no length); None where nobody can say.
        how: "measured ±0.05 mm", "as usual, unless you say otherwise"; "" where it is simply stated.
        typical: whether the plan rests on a number nobody measured.
    """

    typed: str
    mm: float | None
    how: str
    typical: bool = False


_GUIDE = ("scale", "strings", "neck", "body", "bridge", "ferrules", "screws", "bits")


def guide(document: Document) -> tuple[str, ...]:
    """The families a newcomer is led through, in this order; the rest can wait."""
    there = {each.slug for each in families(document)}
    return tuple(each for each in _GUIDE if each in there)


@lru_cache(maxsize=16)
def families(document: Document) -> tuple[Family, ...]:
    """Every family of this job, those of its pockets and strings included, without what does not apply to it.

    They hang on what the job states alone, and one page asks for them as often as it has keys to name.
    """
    pockets = tuple(
        catalogue.pocket_family(number, each.name) for number, each in enumerate(document.pockets, start=1)
    )
    through = document.bridge.through_body
    drawn = [
        catalogue.SCALE,
        catalogue.strings_family(len(document.strings)),
        catalogue.NECK,
        catalogue.BODY,
        catalogue.BRIDGE if through else replace(catalogue.BRIDGE, picture="bridge, top-load"),
        *((catalogue.FERRULES,) if through and document.ferrules is not None else ()),
        catalogue.SCREWS,
        *pockets,
        *((catalogue.GROUND_WIRE,) if document.ground_wire is not None else ()),
        *((catalogue.JACK,) if document.jack is not None else ()),
        *(
            catalogue.strap_family(number, each.name)
            for number, each in enumerate(document.strap_buttons, start=1)
        ),
        catalogue.BITS,
        catalogue.SETUP,
        catalogue.FRETS,
        catalogue.BENCH,
    ]
    asked = frozenset(
        each.key for one in (*drawn, catalogue.FERRULES, catalogue.GROUND_WIRE) for each in one.fields
    )
    for table, more in more_families(document, asked | _LEFT):
        at = next((n for n, one in enumerate(drawn) if _states(one, table)), None)
        if at is None:
            drawn.append(more)
        else:
            drawn[at] = replace(drawn[at], fields=(*drawn[at].fields, *more.fields))
    return tuple(_chosen(_filled(_applying(each, document), document), document) for each in drawn)


def _states(one: Family, table: str) -> bool:
    """Whether a family asks for keys of a table of the job file."""
    return any(field.key.startswith(f"{table}.") for field in one.fields)


def _applying(one: Family, document: Document) -> Family:
    """A family without the fields that say nothing about this job."""
    drawing, through = document.body.outline.file is not None, document.bridge.through_body
    idle = [
        f"holes[{number}].{key}"
        for number, each in enumerate(document.holes, start=1)
        if each.screw
        for key in ("diameter", "depth")
    ]
    idle += ["body.outline.dimensions."] if drawing else ["body.outline.true_"]
    idle += [] if document.body.top.kind == "arched" else ["body.top.edge_height"]
    idle += [] if through else ["bridge.string_hole", "string_holes."]
    return replace(one, fields=tuple(each for each in one.fields if not each.key.startswith(tuple(idle))))


_LEFT = frozenset(
    {
        "bench.records",
        "bridge_screw.gauge",
        *(
            f"body.outline.{each}"
            for each in ("shape", "file", "layer", "along", "centre", "seen_from", "drawn_for")
        ),
    }
)
"""Keys for the job file alone: what they say hangs together with a file, or with other keys at once."""


def family(document: Document, slug: str) -> Family | None:
    """One family by its slug."""
    return next((each for each in families(document) if each.slug == slug), None)


def in_words(document: Document | None, key: str) -> str:
    """What a key is, as its part's page says it; the key itself where no page asks for it."""
    for one in families(document) if document is not None else ():
        for field in one.fields:
            if field.key == key:
                return f"{one.title}: {field.label[:1].lower()}{field.label[1:]}"
    return key or "comments or layout of the text"


_KEY = re.compile(
    r"\b[a-z]+(?:_[a-z]+)*(?:\[\d+\])?(?:\.[a-z]+(?:_[a-z0-9]+)*(?:\[\d+\])?)+\b|\b[a-z]+(?:_[a-z0-9]+)+\b"
)


def spoken(document: Document | None, words: str, near: str = "") -> str:
    """A sentence with the job file's keys in it called as the parts' pages call them.

    Args:
        document: the job.
        words: the sentence.
        near: the key it was said about: a bare key beside it is one of the same table.
    """
    if document is None or not _KEY.search(words):
        return words
    every = {field.key: (one.title, field.label) for one in families(document) for field in one.fields}
    table = near.rpartition(".")[0]

    def called(found: re.Match[str]) -> str:
        key = found[0]
        if key in every:
            title, label = every[key]
            return f"\u201c{title}: {label[:1].lower()}{label[1:]}\u201d"
        own = every.get(f"{table}.{key}")
        return key if own is None else f"\u201c{own[1][:1].lower()}{own[1][1:]}\u201d"

    return _KEY.sub(called, words)


def field_at(document: Document, key: str) -> Field | None:
    """The field of a key, wherever it stands."""
    every = (each for one in families(document) for each in one.fields)
    return next((each for each in every if each.key == key), None)


def _filled(one: Family, document: Document) -> Family:
    """A pocket stated by its corners has no middle and size to type."""
    found = re.fullmatch(r"pocket-(\d+)", one.slug)
    if found is None or document.pockets[int(found[1]) - 1].outline is None:
        return one
    loose = (".centre[", ".size[")
    kept = tuple(each for each in one.fields if not any(mark in each.key for mark in loose))
    return replace(one, fields=kept, lead=f"{one.lead} The job file states this one by its corners.")


def _chosen(one: Family, document: Document) -> Family:
    """A family whose timbers and pockets are chosen among those there are."""
    pockets = tuple((each.name, each.name) for each in document.pockets)
    under = tuple((each.name, each.name) for each in document.pockets if each.face == "back")
    deep = (*pockets, ("neck pocket", "neck pocket"))
    starts = ((UNDER_PLATE, "under the bridge plate"), (EDGE, "from the body's edge"))
    offered = {
        "ground_wire.into": pockets,
        "jack.into": pockets,
        "controls.into": under,
        "tunnels.into": deep,
        "tunnels.start": (*starts, *((name, f"inside the {words}") for name, words in deep)),
    }

    def asked(field: Field) -> Field:
        table, _, name = field.key.rpartition(".")
        if name == "timber":
            return replace(
                field,
                kind="choice",
                choices=(*((each.name, each.name) for each in document.timbers), *timbers()),
            )
        choices = offered.get(f"{table.partition('[')[0]}.{name}")
        return field if choices is None else replace(field, kind="choice", choices=choices)

    return replace(one, fields=tuple(asked(each) for each in one.fields))


@cache
def timbers() -> tuple[tuple[str, str], ...]:
    """The timbers the tables know, as choices."""
    from scribeline import tables

    return tuple((name, tables.timber(name).label) for name in tables.timber_names())


def stated(text: str) -> Mapping[str, Any]:
    """What the job's text states, as plain values, to be looked at only; empty where it is no TOML."""
    try:
        return toml_values(text)
    except tomllib.TOMLDecodeError:
        return {}


_PART = re.compile(r"([A-Za-z0-9_-]+)((?:\[\d+\])*)")


def _steps(key: str) -> Iterator[str | int]:
    for part in key.split("."):
        found = _PART.fullmatch(part)
        assert found is not None, key
        yield found[1]
        yield from (int(index) - 1 for index in re.findall(r"\[(\d+)\]", found[2]))


def at_key(values: Any, key: str) -> Any:
    """The value at a key path in plain values or in a document; None where there is none."""
    for step in _steps(key):
        if isinstance(step, int):
            if not isinstance(values, list | tuple) or step >= len(values):
                return None
            values = values[step]
        elif isinstance(values, Mapping):
            values = values.get(step)
        else:
            values = getattr(values, step, None)
        if values is None:
            return None
    return values


def shown(value: Any) -> str:
    """A stated value as a person would type it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list | tuple):
        told = [shown(each.get("diameter") if isinstance(each, Mapping) else each) for each in value]
        return ("; " if any("," in each for each in told) else ", ").join(told)
    return f"{value:g}" if isinstance(value, float) else str(value)


def standing(field: Field, raw: Mapping[str, Any], document: Document | None) -> Standing:
    """What a field says now and how well it is known."""
    typed = at_key(raw, field.key)
    value = None if document is None else at_key(document, field.key)
    if isinstance(value, Dimension):
        if value.measured:
            how = f"measured ±{_in(value.plus_minus, document)}"
        elif typed is None:
            how = "from the parts book; measure your own" if _has_part(field, raw) else "measure your own"
        elif value.too_wide:
            most = _in(widest_measured(value.mm), document)
            how = f"±{_in(value.plus_minus, document)} is too wide for a measurement: at most ±{most} here"
        else:
            how = "write it with its ± once you have measured it"
        return Standing(shown(typed), value.mm, how, typical=not value.measured)
    number = float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
    if field.kind == "angle" and number is not None:
        from math import degrees

        number = degrees(number)
    usual = "as usual, unless you say otherwise" if typed is None and value is not None else ""
    if field.kind == "choice" and typed is None and value is not None:
        return Standing(str(value), None, usual)
    return Standing(shown(typed), number, usual)


def _in(mm: float, document: Document | None) -> str:
    unit = "mm" if document is None else document.units
    return inch_text(mm) if by_inches(unit) else f"{UNITS[unit].of(mm):.3g} {unit}"


def _has_part(field: Field, raw: Mapping[str, Any]) -> bool:
    table = raw.get(field.key.split(".", 1)[0])
    return isinstance(table, Mapping) and "part" in table


_PLAIN = re.compile(r"-?\d+(?:\.\d+)?")
_WHOLE = re.compile(r"-?\d+")


def value_of(field: Field, typed: str) -> Stated:
    """What is written into the job for what was typed: a plain number as a number, anything else as text.

    Nothing is judged here but where one of several lengths ends: the job's own reader says what is wrong, and where.

    Raises:
        JobError: a comma may part two lengths or stand within one.
    """
    words = typed.strip()
    if field.kind in {"bits", "place"}:
        try:
            return [_number(each) for each in several(words)]
        except LengthError as fault:
            raise JobError([Fault(field.key, str(fault))]) from fault
    if field.kind in {"text", "choice", "gauge"}:
        return words
    return _number(words)


def _number(words: str) -> str | int | float:
    if _WHOLE.fullmatch(words):
        return int(words)
    return float(words) if _PLAIN.fullmatch(words) else words
