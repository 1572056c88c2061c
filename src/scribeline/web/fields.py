"""The forms: every key that a job may state as a field on a page, and what stands in each now.

What is asked comes from the job's models (`schema`); which keys share a page and what stands first, from `catalogue`.
What a field says and how well it is known is worked out from the job's text and its document.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from math import degrees
from typing import Any

from pydantic import BaseModel

from scribeline.job import (
    EDGE,
    FACES,
    UNDER_PLATE,
    BitOwned,
    Dimension,
    Document,
    Fault,
    JobError,
    Stated,
    Way,
    toml_values,
    widest_measured,
)
from scribeline.job.outline import shape_names
from scribeline.lengths import UNITS, LengthError, by_inches, inch_text, several
from scribeline.web.bridges import kind_page
from scribeline.web.catalogue import GUIDE, PARTS, Part
from scribeline.web.field import Family, Field, Section
from scribeline.web.schema import BARE, Key, by_kind, keys, ways


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


def guide(document: Document) -> tuple[str, ...]:
    """The families a newcomer is led through, in this order; the rest can wait."""
    there = {each.slug for each in families(document)}
    return tuple(each for each in GUIDE if each in there)


@lru_cache(maxsize=16)
def families(document: Document) -> tuple[Family, ...]:
    """Every page of this job's parts, without what does not apply to it.

    They depend on what the job states alone, and one page asks for them as often as it has keys to name.
    """
    placed = {table for part in PARTS for table in part.tables}
    loose = (key.name for key in keys(Document) if key.field is None and key.name not in placed)
    own = (part_of(name) for name in loose)
    return tuple(page for part in (*PARTS, *own) for page in _pages(document, part))


def adds(document: Document) -> tuple[tuple[str, str], ...]:
    """What a job may have besides what it has: one more of a list, a table it does not state; as (key, words)."""
    return tuple(
        (key.name, part_of(key.name).title.lower())
        for key in keys(Document)
        if key.field is None and (key.many or getattr(document, key.name) is None)
        if key.name not in {*_idle(document), "strings"}
    )


def part_of(name: str) -> Part:
    """The page of a table of the job, or of those of a list."""
    own = Part(name.replace("_", "-"), name.replace("_", " ").capitalize(), (name,))
    return next((part for part in PARTS if name in part.tables), own)


def page_of(key: str) -> str:
    """The slug of the page on which a key stands."""
    name, _, rest = key.partition(".")[0].partition("[")
    part = part_of(name if any(each.name == name and each.field is None for each in keys(Document)) else "")
    return f"{part.slug}-{rest[:-1]}" if rest and part.slug != "strings" else part.slug


def _as_its_kind(document: Document, part: Part) -> Part:
    """A page without the words and letters of another kind of table than the job has."""
    stated = getattr(document, part.tables[0], None) if part.kind else None
    kind: str = getattr(stated, "kind", part.kind)
    if kind == part.kind:
        return part
    page = kind_page(kind)
    if page is None or stated is None:
        return Part(part.slug, part.slug.capitalize(), part.tables)
    table = part.tables[0]
    first = {f"{table}.{key}": letter for key, letter in page.letters.items()}
    return Part(part.slug, page.heading, part.tables, page.lead, first, kind, stated.shelf, kind)


def _pages(document: Document, part: Part) -> Iterator[Family]:
    part = _as_its_kind(document, part)
    values = [(name, getattr(document, name) if name else document) for name in part.tables]
    name, value = values[0]
    lead = part.lead
    if isinstance(value, tuple) and part.slug != "strings":
        for number, each in enumerate(value, start=1):
            key = f"{name}[{number}]"
            title = f"{part.title}: {_called(each, number)}"
            first = {f"{key}.{inner}": letter for inner, letter in part.first.items()}
            sections = _gathered(document, replace(part, first=first), [(key, each)])
            top = replace(sections[0], key=key, item=(name, number, len(value)))
            yield Family(
                f"{part.slug}-{number}", title, lead or _says(each), (top, *sections[1:]), part.picture
            )
        return
    stated = [(name, value) for name, value in values if value is not None and name not in _idle(document)]
    if not stated:
        return
    sections = _gathered(document, part, stated)
    picture = f"{part.picture}, top-load" if part.picture == "bridge" and _idle(document) else part.picture
    if part.picture == "neck" and document.neck.runs_through:
        picture, lead = "neck, through", _OF_A_CORE
    lead = lead or _says(value)
    yield Family(part.slug, part.title, lead, sections, picture, part.shelf, name if part.shelf else "")
    if part.slug == "bits":
        yield from _bit_by_bit(document)


_OF_A_CORE = (
    "The neck runs through the body as its core. Measure it across with a caliper, and from the body's top to the board's "
    "underside at the board's end."
)
"""How to go about measuring a neck that runs through."""


def _gathered(
    document: Document, part: Part, values: Sequence[tuple[str, BaseModel | tuple[BaseModel, ...]]]
) -> tuple[Section, ...]:
    """A page's sections: what stands first on it, then each table within its tables."""
    every = [
        section
        for name, value in values
        for section in (
            _list(document, part, name, value)
            if isinstance(value, tuple)
            else _sections(document, part, name, value)
        )
    ]
    own = {name for name, _ in values}
    roots = [each for each in every if each.key in own]
    loose = [field for each in every for field in (*each.fields, *each.more) if field.key in part.first]
    order = list(part.first)
    loose.sort(key=lambda field: order.index(field.key))
    optional = [key.name for key in keys(Document) if key.name in own and key.optional]
    top = Section(
        optional[0] if optional else "",
        "",
        fields=(*loose, *(field for each in roots for field in each.fields if field not in loose)),
        more=tuple(field for each in roots for field in each.more if field not in loose),
        offers=tuple(offer for each in roots for offer in each.offers),
        ways=tuple(way for each in roots for way in each.ways),
        optional=bool(optional),
    )
    rest = (
        replace(
            each,
            fields=tuple(field for field in each.fields if field not in loose),
            more=tuple(field for field in each.more if field not in loose),
        )
        for each in every
        if each.key not in own
    )
    kept = (each for each in rest if each.fields or each.more or each.offers or each.ways or each.item)
    return (top, *kept)


def _list(document: Document, part: Part, path: str, values: Sequence[BaseModel]) -> Iterator[Section]:
    """The tables of a list, each a section; what it may have one more of is offered with the page's own."""
    words = path.rpartition(".")[2].removesuffix("s").replace("_", " ")
    yield Section(path.rpartition(".")[0] or path, "", offers=((path, words),))
    for number, each in enumerate(values, start=1):
        own, *inner = _sections(document, part, f"{path}[{number}]", each)
        title = f"{_capital(words)} {number}: {_called(each, number)}".removesuffix(f": {number}")
        yield replace(own, title=title, item=(path, number, len(values)))
        yield from (replace(each, title=f"{title}, {each.title.lower()}") for each in inner)


def _sections(document: Document, part: Part, path: str, table: BaseModel) -> Iterator[Section]:
    """One table as a section, and those within it."""
    fields: list[Field] = []
    more: list[Field] = []
    offers: list[tuple[str, str]] = []
    inner: list[Section] = []
    chosen = _ways_of(document, path, table)
    out = {key for now, group in chosen for key in hidden(now, group)} | {*_idle(document)}
    for key in keys(type(table)):
        at, value = under(path, key.name), at_key(table, key.name)
        if key.name in out or at in out or (not path and key.field is None):
            continue
        if key.field is not None:
            stated = key.name.partition(".")[0] in table.model_fields_set and value not in (None, ())
            shown = key.needed or stated or at in part.first
            for field in asked_at(document, key.field, at, part, value):
                (fields if shown or field.key in part.first else more).append(field)
        elif key.many:
            first, *rest = _list(document, part, at, value)
            offers += first.offers
            inner += rest
        elif value is None:
            offers.append((at, key.label.lower()))
        else:
            own, *rest = _sections(document, part, at, value)
            may_go = key.optional and not any(key.name in group[now].keys for now, group in chosen)
            inner += [replace(own, title=key.label, lead=_says(value), optional=may_go), *rest]
    yield Section(path, "", "", tuple(fields), tuple(more), chosen, tuple(offers))
    yield from inner


def _ways_of(document: Document, path: str, table: BaseModel) -> tuple[tuple[int, tuple[Way, ...]], ...]:
    """The groups of ways in which a table may be stated, each with the one it is stated in."""
    found = key_at(path) if path else None
    kinds = by_kind(found.tables) if found is not None else ()
    groups = (*((kinds,) if kinds else ()), *ways(type(table)))

    def fits(way: Way) -> int:
        """How much of a table it states; 0 where the table is not stated so."""
        given = all(at_key(table, key) not in (None, ()) for key in way.keys)
        set_so = all(at_key(table, key) == value for key, value in way.sets.items())
        return 1 + len(way.keys) + len(way.sets) if given and set_so else 0

    return tuple((max(range(len(group)), key=lambda n: fits(group[n])), group) for group in groups)


def hidden(now: int, group: tuple[Way, ...]) -> set[str]:
    """Keys that do not belong to the way a table is stated in."""
    every = {key for way in group for key in (*way.keys, *way.may, *way.sets)}
    return every - {*group[now].keys, *group[now].may}


def _idle(document: Document) -> tuple[str, ...]:
    """Keys that say nothing where the strings end in the plate."""
    if getattr(document.bridge, "through_body", True):
        return ()
    return "bridge.string_hole", "bridge.string_holes_from_front", "ferrules", "string_holes"


def asked_at(
    document: Document | None, field: Field, at: str, part: Part | None = None, value: Any = ()
) -> Iterator[Field]:
    """A key's field where it stands; the two numbers of a place apart where the picture has a letter for each."""
    first = part.first if part is not None else {}
    if f"{at}[1]" in first and value is not None:
        label, _, each = field.label.partition(": ")
        for number, words in enumerate(each.split(", "), start=1):
            yield Field(f"{at}[{number}]", f"{label} {words}", first[f"{at}[{number}]"])
        return
    yield _chosen(document, replace(field, key=at, letter=first.get(at, "")))


def _chosen(document: Document | None, field: Field) -> Field:
    """A field whose timbers, shapes and cavities are chosen among those there are."""
    table, _, name = field.key.rpartition(".")
    if name == "shape":
        return replace(field, kind="choice", choices=tuple((each, each) for each in shape_names()))
    if document is None:
        return field
    if name == "timber":
        return replace(field, choices=(*((each.name, each.name) for each in document.timbers), *timbers()))
    pockets = tuple((each.name, each.name) for each in document.pockets)
    deep = (*pockets, ("neck pocket", "neck pocket"))
    starts = (
        (UNDER_PLATE, "under the bridge plate"),
        (EDGE, "from the body's edge"),
        *((face, f"on the {face}, under what hides it") for face in FACES),
    )
    offered = {
        "ground_wire.into": pockets,
        "jack.into": pockets,
        "controls.into": tuple((each.name, each.name) for each in document.pockets if each.face == "back"),
        "tunnels.into": deep,
        "tunnels.through": deep,
        "tunnels.start": (*starts, *((name, f"inside the {words}") for name, words in deep)),
        "pockets.opens_into": deep,
        "holes.into": deep,
    }
    choices = offered.get(f"{table.partition('[')[0]}.{name}")
    if choices is None:
        return field
    return replace(field, kind="names" if field.kind == "names" else "choice", choices=choices)


def _bit_by_bit(document: Document) -> Iterator[Family]:
    """Every bit with what may be known of it besides its size."""
    sections = []
    for key in keys(type(document.bits)):
        if key.field is not None and key.tables:
            for number, bit in enumerate(getattr(document.bits, key.name), start=1):
                at = f"bits.{key.name}[{number}]"
                own = [
                    replace(each.field, key=f"{at}.{each.name}")
                    for each in keys(BitOwned)
                    if each.field and each.name not in BARE
                ]
                known, other = (
                    tuple(
                        field for field in own if (at_key(bit, field.key.rpartition(".")[2]) is None) is blank
                    )
                    for blank in (False, True)
                )
                # A bare size is of the job's unit, which it does not say by itself.
                bare = bit.label.replace(".", "").isdecimal()
                size = f"{bit.label} {document.units}" if bare else bit.label
                title = f"{key.label.partition(' (')[0].removesuffix('s')} {size}"
                sections.append(Section(at, title, fields=known, more=other))
    if sections:
        lead = "A bit's point, how deep it reaches and how far it wanders, where you have measured them."
        yield Family("bit-by-bit", "Bits, one by one", lead, tuple(sections))


def _called(table: BaseModel, number: int) -> str:
    """What a table of a list is called: its name, a string by its note."""
    return str(getattr(table, "name", None) or getattr(table, "note", None) or number)


def _says(table: BaseModel | tuple[BaseModel, ...]) -> str:
    """What a table is, as its model says it."""
    return "" if isinstance(table, tuple) else (type(table).__doc__ or "").partition("\n")[0].replace("`", "")


def under(path: str, name: str) -> str:
    """The path of a key within a table."""
    return f"{path}.{name}" if path else name


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


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


def asked(document: Document | None, key: str) -> Field:
    """The field of a key that a job must have.

    Raises:
        JobError: no job has it.
    """
    found = field_at(document, key)
    if found is None:
        raise JobError([Fault(key, "there is no such key in a job")])
    return found


def field_at(document: Document | None, key: str) -> Field | None:
    """The field of a key, wherever it stands; without a document, as its model says alone."""
    for one in families(document) if document is not None else ():
        for field in one.fields:
            if field.key == key:
                return field
    found = key_at(key)
    if found is None or found.field is None:
        return None
    whole = not key.endswith("]")
    field = replace(found.field, key=key, kind=found.field.kind if whole else "length", needed=found.needed)
    return _chosen(document, field) if whole else field


def siblings(table: str) -> tuple[Key, ...]:
    """The keys that a table may have, or those of a limit."""
    found = key_at(table)
    if found is not None:
        return keys(found.tables[0])
    holder, _, name = table.rpartition(".")
    return tuple(key for key in siblings(holder) if key.name.startswith(f"{name}."))


def key_at(path: str) -> Key | None:
    """What the models say of a key path."""
    tables: tuple[type[BaseModel], ...] = (Document,)
    found = None
    names = re.sub(r"\[\d+\]", "", path).split(".")
    for number, name in enumerate(names):
        here = [key for table in tables for key in keys(table)]
        rest = ".".join(names[number:])
        found = next((key for key in here if key.name == rest), None)  # such as a limit's caution
        if found is not None:
            return found
        found = next((key for key in here if key.name == name), None)
        if found is None:
            return None
        tables = found.tables
    return found


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
        elif step in BARE and isinstance(values, str | int | float):
            continue  # stated by this value alone
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
        if any(isinstance(each, list | tuple) for each in value):
            return ("\n\n" if any("\n" in each for each in told) else "\n").join(told)
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
        number = degrees(number)
    usual = "as usual, unless you say otherwise" if typed is None and value not in (None, ()) else ""
    if field.kind == "names":
        return Standing("\n".join(value or ()), None, usual)
    if field.kind in {"choice", "text", "yes"} and typed is None and value is not None:
        return Standing(shown(value), None, usual)
    return Standing(shown(typed), number, usual)


def _in(mm: float, document: Document | None) -> str:
    unit = "mm" if document is None else document.units
    return inch_text(mm) if by_inches(unit) else f"{UNITS[unit].of(mm):.3g} {unit}"


def _has_part(field: Field, raw: Mapping[str, Any]) -> bool:
    table = at_key(raw, field.key.rpartition(".")[0])
    return isinstance(table, Mapping) and "part" in table


_PLAIN = re.compile(r"-?\d+(?:\.\d+)?")
_WHOLE = re.compile(r"-?\d+")


def value_of(field: Field, typed: str) -> Stated:
    """What is written into the job for what was typed: a plain number as a number, anything else as text.

    Nothing is judged here but where one of several lengths ends: the job's own reader says what is wrong, and where.

    Raises:
        JobError: a comma may part two lengths or stand within one.
    """
    words = typed.strip().replace("\r\n", "\n")
    match field.kind:
        case "text" | "choice" | "gauge":
            return words
        case "names":
            return [each.strip() for each in words.split("\n") if each.strip()]
        case "yes":
            return {"true": True, "yes": True, "false": False, "no": False}.get(words.lower(), words)
        case "date":
            return dt.date.fromisoformat(words) if re.fullmatch(r"\d{4}-[01]\d-[0-3]\d", words) else words
        case "list" | "bits":
            try:
                return _rows(words, field.depth or 1)
            except LengthError as fault:
                raise JobError([Fault(field.key, str(fault))]) from fault
    return _number(words)


def _rows(words: str, depth: int) -> list[Stated]:
    """Values as they were typed: in one line, in rows, or in rows with empty lines between."""
    if depth == 1:
        return [_number(each) for each in several(words)]
    parts = re.split(r"\n\s*\n" if depth == 3 else r"\n", words)
    return [_rows(each, depth - 1) for each in parts if each.strip()]


def _number(words: str) -> str | int | float:
    if _WHOLE.fullmatch(words):
        return int(words)
    return float(words) if _PLAIN.fullmatch(words) else words
