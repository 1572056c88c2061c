"""The numbers a person may type: every part of a job as a family of fields, in the order one measures them.

A field is a key of the job file with a letter on the family's measuring picture. What stands in it now, what it
resolves to and how well it is known is worked out from the job's text and its document; nothing is stated twice.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from scribeline.job import EDGE, UNDER_PLATE, Dimension, Document, Stated, toml_values
from scribeline.lengths import inch_text
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


def length(key: str, label: str, letter: str = "", **rest: Any) -> Field:
    """A length in any shop form."""
    return Field(key, label, letter, **rest)


SCALE = Family(
    "scale",
    "Scale and frets",
    "The scale is what the fret slots were cut to. If you only have the neck: measure nut to 12th fret and double it.",
    (
        length(
            "scale.length",
            "Scale length",
            "L",
            hint="nut's front edge to the scale line, twice the 12th fret",
        ),
        Field("scale.frets", "Number of frets", kind="whole"),
        length("nut.width", "Nut width", "N"),
        length("nut.edge", "Nut's edge to the outer string's side", "E"),
        Field(
            "nut.spacing",
            "Nut slots",
            kind="choice",
            choices=(("equal gaps", "equal gaps between strings"), ("equal centres", "equal centres")),
            needed=False,
        ),
        length("nut.height_over_frets", "String over the fret plane at the nut", needed=False),
        length("fingerboard.end", "Fingerboard's end, from the nut", "F"),
        length("fingerboard.width_at_end", "Fingerboard's width at its end", "W"),
        length("fingerboard.fret_end_bevel", "Bevel of the fret ends", needed=False),
    ),
    picture="scale",
)

FRETS = Family(
    "fret-wire",
    "Fret wire",
    "Needed to know which mark of the 12th fret you measured from: its crown, its slot or an edge.",
    (
        length("fret_wire.crown_width", "Crown width", "A", needed=False),
        length("fret_wire.crown_height", "Crown height", "B", needed=False),
        length("fret_wire.slot", "Slot width", "C", needed=False),
    ),
    picture="fret-wire",
)

SETUP = Family(
    "setup",
    "Set-up",
    "How it will be set up: the saddles' places are worked out from it.",
    (
        length("setup.action_treble", "Action, first string, at the 12th crown", "A", needed=False),
        length("setup.action_bass", "Action, last string, at the 12th crown", "B", needed=False),
        length("setup.relief", "Relief of the neck", "R", needed=False),
        Field("setup.relief_fret", "Fret from which the board is straight", kind="whole", needed=False),
        length("setup.free_length", "String beyond nut and saddle, together", needed=False),
    ),
    picture="setup",
)

NECK = Family(
    "neck",
    "Neck and its pocket",
    "Measure the heel with a caliper, at its end and where the pocket's mouth will be.",
    (
        Field(
            "neck.joint",
            "Joint",
            kind="choice",
            choices=(("bolt-on", "bolt-on"), ("set", "set: glued in")),
        ),
        length("neck.pocket_end", "Nut to the pocket's end wall", "P"),
        length("neck.pocket_length", "Pocket's length", "A"),
        length("neck.heel_width_at_end", "Heel's width at the end wall", "B"),
        length("neck.heel_width_at_mouth", "Heel's width at the pocket's mouth", "C"),
        length("neck.heel_thickness", "Heel's thickness with the fingerboard", "D"),
        length("neck.pocket_depth", "Pocket's depth", "E"),
        length("neck.corner_radius", "Pocket's corner radius", "R", needed=False),
        length("neck.slip", "Slip left, both sides together", needed=False),
        length("neck.heel_film", "Finish film on the heel", needed=False),
    ),
    picture="neck",
)

BODY = Family(
    "body",
    "Body",
    "Measure the blank's thickness in four places and use the least.",
    (
        length("body.thickness", "Thickness of the blank", "T"),
        Field("body.timber", "Timber", kind="choice"),
        length("body.outline.tail", "Tail edge, from the nut", "A", needed=False),
        length("body.outline.dimensions.length", "Overall length", "B", needed=False),
        length("body.outline.dimensions.lower_width", "Lower bout's width", "C", needed=False),
        length("body.outline.dimensions.waist_width", "Waist's width", "D", needed=False),
        length("body.outline.dimensions.upper_width", "Upper bout's width", "E", needed=False),
        length("finish.film", "Finish film on one surface", needed=False),
        Field(
            "finish.holes",
            "The holes while finishing",
            kind="choice",
            choices=(("masked", "kept clear of finish"), ("sprayed", "sprayed with the body")),
            needed=False,
        ),
    ),
    picture="body",
)

BRIDGE = Family(
    "bridge",
    "Bridge plate",
    "Everything is measured from the plate's front edge, and across from its middle. Wind a saddle fully forward and "
    "fully back to find its two stops.",
    (
        Field(
            "bridge.loading",
            "The strings end",
            kind="choice",
            choices=(
                ("through-body", "behind the body, in ferrules"),
                ("top-load", "in the plate: top-load"),
            ),
            needed=False,
        ),
        length("bridge.plate_length", "Plate's length along the strings", "A"),
        length("bridge.plate_width", "Plate's width", "B"),
        length("bridge.plate_thickness", "Plate's thickness", "C"),
        length("bridge.saddle_forward", "Front edge to the break point, saddle fully forward", "D"),
        length("bridge.saddle_back", "Front edge to the break point, saddle fully back", "E"),
        length("bridge.saddle_height", "String over the body at the saddle", "F"),
        length(
            "bridge.spacing",
            "Spacing of neighbouring strings",
            "G",
            hint="measure the outer two and divide by the gaps",
        ),
        length("bridge.string_holes_from_front", "Front edge to the row of string holes", "H"),
        length("bridge.string_hole", "Plate's string hole", "J"),
        length("bridge.screw_hole", "Plate's screw hole", "K"),
    ),
    picture="bridge",
    shelf="bridge",
    table="bridge",
)

SCREWS = Family(
    "screws",
    "Bridge screws",
    "Thread over the crests, root in the valley between two turns, length under the head.",
    (
        length("bridge_screw.thread", "Thread diameter", "A"),
        length("bridge_screw.root", "Root diameter", "B"),
        length("bridge_screw.length", "Length", "C"),
    ),
    picture="screw",
    shelf="bridge screw",
    table="bridge_screw",
)

FERRULES = Family(
    "ferrules",
    "Ferrules and string holes",
    "Measure one of yours: lip and body each across, lip and body each along.",
    (
        length("ferrules.lip_diameter", "Lip's diameter", "A"),
        length("ferrules.lip_height", "Lip's height", "B"),
        length("ferrules.body_diameter", "Body's diameter", "C"),
        length("ferrules.body_length", "Body's length under the lip", "D"),
        length("ferrules.recess", "Lip below the finished back", "E", needed=False),
        length("string_holes.diameter", "String hole through the body", "F", needed=False),
        Field(
            "string_holes.top_share",
            "Share of the thickness drilled from the top",
            kind="share",
            needed=False,
        ),
        length("string_holes.relief", "Depth left free under the ferrule", "G", needed=False),
    ),
    picture="ferrule",
    shelf="ferrule",
    table="ferrules",
)

GROUND_WIRE = Family(
    "ground-wire",
    "Ground wire",
    "A slanting hole from under the plate into a pocket.",
    (
        Field("ground_wire.into", "Pocket it leads into", kind="text"),
        length("ground_wire.diameter", "Hole", "A"),
        length("ground_wire.from_front", "Entry behind the plate's front edge", "B"),
        length("ground_wire.across", "Entry from the centreline, towards the treble", "C", needed=False),
        length("ground_wire.lands", "Depth at which its axis enters the pocket's wall", "D"),
        Field("ground_wire.heading", "Heading, towards the treble", kind="angle", needed=False),
    ),
    picture="ground-wire",
)

JACK = Family(
    "jack",
    "Jack",
    "The bore from the body's edge. Its place is any point on the edge or near it: along from the nut, across to the treble.",
    (
        Field("jack.near", "Its place: along, across", kind="place"),
        length("jack.diameter", "Bore", "A"),
        Field("jack.into", "Pocket it opens into", kind="text", needed=False),
        length("jack.depth", "Depth, where it opens into none", "B", needed=False),
        length("jack.recess_diameter", "Recess, diameter", "C", needed=False),
        length("jack.recess_depth", "Recess, depth", "D", needed=False),
        length("jack.from_top", "Axis below the top", "E", needed=False),
        length("jack.plate_thickness", "Plate's thickness", "F", needed=False),
    ),
    picture="jack",
)

BITS = Family(
    "bits",
    "Bits you own",
    "The plan chooses from these and says which bit is missing. Write sizes with commas: 1.5, 2, 15/64.",
    (
        Field("bits.twist", "Twist bits", kind="bits", needed=False),
        Field("bits.brad_point", "Brad-point bits", kind="bits", needed=False),
        Field("bits.flat_bottomed", "Flat-bottomed bits", kind="bits", needed=False),
        Field("bits.router", "Router bits", kind="bits", needed=False),
        Field("bits.point_angle", "Point angle of the twist bits", kind="angle", needed=False),
        length("bits.chuck_radius", "Radius of the drill's chuck", needed=False),
    ),
    picture="bits",
)

BENCH = Family(
    "bench",
    "This job and this bench",
    "How the bench measures, what is kept in hand, and what the sheets are printed on.",
    (
        Field("name", "Name of the job", kind="text"),
        Field("revision", "Revision", kind="text", needed=False),
        Field(
            "handed",
            "Hand",
            kind="choice",
            choices=(("right", "right-handed"), ("left", "left-handed")),
            needed=False,
        ),
        Field(
            "bench.twelfth_read_to",
            "Mark of the 12th fret you measure to",
            kind="choice",
            choices=tuple((mark, mark) for mark in ("crown", "slot", "near edge", "far edge")),
            needed=False,
        ),
        length("bench.saddle_reserve", "Saddle travel kept in hand at each end", needed=False),
        Field(
            "bench.saddle_deviations", "Standard deviations of a setback covered", kind="share", needed=False
        ),
        Field(
            "print.paper",
            "Paper",
            kind="choice",
            choices=(("A4", "A4"), ("Letter", "Letter")),
            needed=False,
        ),
    ),
)

_GUIDE = ("scale", "strings", "neck", "body", "bridge", "ferrules", "screws", "bits")


def guide(document: Document) -> tuple[str, ...]:
    """The families a newcomer is led through, in this order; the rest can wait."""
    there = {each.slug for each in families(document)}
    return tuple(each for each in _GUIDE if each in there)


def families(document: Document) -> tuple[Family, ...]:
    """Every family of this job, those of its pockets and strings included, without what does not apply to it."""
    pockets = tuple(_pocket(number, each.name) for number, each in enumerate(document.pockets, start=1))
    through = document.bridge.through_body
    drawn = [
        SCALE,
        _strings(len(document.strings)),
        NECK,
        BODY,
        BRIDGE if through else replace(BRIDGE, picture="bridge, top-load"),
        *((FERRULES,) if through and document.ferrules is not None else ()),
        SCREWS,
        *pockets,
        *((GROUND_WIRE,) if document.ground_wire is not None else ()),
        *((JACK,) if document.jack is not None else ()),
        *(_strap(number, each.name) for number, each in enumerate(document.strap_buttons, start=1)),
        BITS,
        SETUP,
        FRETS,
        BENCH,
    ]
    asked = frozenset(each.key for one in (*drawn, FERRULES, GROUND_WIRE) for each in one.fields)
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


def _strings(count: int) -> Family:
    fields: list[Field] = []
    for number in range(1, count + 1):
        side = " (treble)" if number == 1 else " (bass)" if number == count else ""
        fields += [
            Field(f"strings[{number}].note", f"String {number}{side}: note", str(number), kind="text"),
            Field(f"strings[{number}].gauge", f"String {number}: gauge", str(number), kind="gauge"),
        ]
    return Family(
        "strings",
        "Strings",
        "From the treble. Gauges as the packet says: .010, 10 or 0.26 mm. Where the saddles are wanted is worked out "
        "from them.",
        tuple(fields),
        picture="strings",
    )


def _pocket(number: int, name: str) -> Family:
    at = f"pockets[{number}]"
    return Family(
        f"pocket-{number}",
        name[:1].upper() + name[1:],
        "Where it lies is measured along the centreline from its datum, and across towards the treble.",
        (
            Field(f"{at}.name", "Name", kind="text"),
            length(f"{at}.depth", "Depth", "A"),
            length(f"{at}.corner_radius", "Corner radius", "R"),
            length(f"{at}.centre[1]", "Its middle along, from the datum", "B"),
            length(f"{at}.centre[2]", "Its middle across, towards the treble", "C"),
            length(f"{at}.size[1]", "Size along the strings", "D"),
            length(f"{at}.size[2]", "Size across the strings", "E"),
            Field(
                f"{at}.x_from",
                "Datum along",
                kind="choice",
                choices=tuple((each, each) for each in ("nut", "12th fret", "pocket end", "scale line")),
                needed=False,
            ),
            Field(
                f"{at}.face",
                "Cut from",
                kind="choice",
                choices=(("top", "the top"), ("back", "the back")),
                needed=False,
            ),
            Field(f"{at}.turn", "Turned, towards the tail on the treble side", kind="angle", needed=False),
        ),
        picture="pocket",
    )


def _strap(number: int, name: str) -> Family:
    at = f"strap_buttons[{number}]"
    return Family(
        f"strap-button-{number}",
        f"Strap button: {name}",
        "Its place is any point on the body's edge or near it: along from the nut, across to the treble.",
        (
            Field(f"{at}.near", "Its place: along, across", kind="place"),
            length(f"{at}.base_diameter", "Button's base", "A", needed=False),
            length(f"{at}.under_head", "What the button takes up of the screw", "B", needed=False),
            length(f"{at}.screw.length", "Screw's length", "C"),
            length(f"{at}.screw.thread", "Screw's thread", "D"),
            length(f"{at}.screw.root", "Screw's root, in the valley between two turns"),
        ),
        picture="strap",
    )


def _filled(one: Family, document: Document) -> Family:
    """A pocket stated by its corners has no middle and size to type."""
    found = re.fullmatch(r"pocket-(\d+)", one.slug)
    if found is None or document.pockets[int(found[1]) - 1].outline is None:
        return one
    loose = (".centre[", ".size[")
    kept = tuple(each for each in one.fields if not any(mark in each.key for mark in loose))
    return replace(one, fields=kept, lead=f"{one.lead} This one is stated by its corners, in the job file.")


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
            return replace(field, kind="choice", choices=timbers())
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
        return ", ".join(shown(each.get("diameter") if isinstance(each, Mapping) else each) for each in value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def standing(field: Field, raw: Mapping[str, Any], document: Document | None) -> Standing:
    """What a field says now and how well it is known."""
    typed = at_key(raw, field.key)
    value = None if document is None else at_key(document, field.key)
    if isinstance(value, Dimension):
        if value.measured:
            inches = document is not None and document.units == "in"
            how = f"measured ±{inch_text(value.plus_minus) if inches else f'{value.plus_minus:.3g} mm'}"
        elif typed is None:
            how = "from the parts book: measure your own" if _has_part(field, raw) else "measure your own"
        else:
            how = "until you write its ±"
        return Standing(shown(typed), value.mm, how, typical=not value.measured)
    number = float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
    if field.kind == "angle" and number is not None:
        from math import degrees

        number = degrees(number)
    usual = "as usual, unless you say otherwise" if typed is None and value is not None else ""
    if field.kind == "choice" and typed is None and value is not None:
        return Standing(str(value), None, usual)
    return Standing(shown(typed), number, usual)


def _has_part(field: Field, raw: Mapping[str, Any]) -> bool:
    table = raw.get(field.key.split(".", 1)[0])
    return isinstance(table, Mapping) and "part" in table


_PLAIN = re.compile(r"-?\d+(?:\.\d+)?")
_WHOLE = re.compile(r"-?\d+")


def value_of(field: Field, typed: str) -> Stated:
    """What is written into the job for what was typed: a plain number as a number, anything else as text.

    Nothing is judged here: the job's own reader says what is wrong, and where.
    """
    words = typed.strip()
    if field.kind in {"bits", "place"}:
        return [_number(each.strip()) for each in words.replace(";", ",").split(",") if each.strip()]
    if field.kind in {"text", "choice", "gauge"}:
        return words
    return _number(words)


def _number(words: str) -> str | int | float:
    if _WHOLE.fullmatch(words):
        return int(words)
    return float(words) if _PLAIN.fullmatch(words) else words
