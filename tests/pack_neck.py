"""What a pack says of a fingerboard, a nut and a head that are made here: the words round their numbers.

A table may run on over a page, and two tables have rows alike: each is read by the words over its columns.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace

from tests import pack_carve
from tests.pack_neck_facts import tuner_holes
from tests.pack_rules import Rule, Text, apply, rule
from tests.pack_truth import Truth

HOLES = r"(?P<ids>\bM\d+\b)"
SIDED = r"(?: treble| bass)"

TABLES: tuple[tuple[str, tuple[Rule, ...]], ...] = (
    (
        "Fret Treble edge, from the square line",
        (rule(r"(?P<fret>\d+) {treble end} {bass end} {under first} {under last} {fret lean}"),),
    ),
    ("String Scale 12th fret to saddle", (rule(r"(?P<string>\d+) \([A-G][#b]?\d\) {own scale} {own 12th}"),)),
    (
        "Fret Slot's middle from the nut",
        (
            rule(
                r"(?P<fret>\d+)(?:, part)? {along it} {slot stop}(?: {fret lean})? {slot depth} {slot length} {slot wire}"
            ),
        ),
    ),
    (
        "Before Side dot's middle",
        (rule(r"fret (?P<fret>\d+) {side dot}"),),
    ),
    (
        "String Middle from the bass end",
        (
            rule(
                r"(?P<string>\d+) \([A-G][#b]?\d\) {nut along} {nut width} {nut floor} {nut from_blank} {nut from_top} "
                r"{nut slope} {nut over_first}"
            ),
        ),
    ),
    (
        "No. From the nut From centreline Breaks by",
        (
            rule(rf"{HOLES} {{along}} {{across}}{SIDED} {{breaks}} {{kinks}}"),
            rule(rf"(?P<ids>R\d+) {{along}} {{across}}{SIDED}"),
        ),
    ),
)
"""The tables of the sheets, by the first words over their columns."""

_ENDS = re.compile(
    "|".join(
        (
            *(re.escape(head) for head, _ in TABLES),
            "Nut slots String",
            "Slots: the saw's stops",
            "The nut's slots",
            "Side dots",
            "Squareness",
            "CAUTION",
        )
    )
)

STRIPS = {
    "Fingerboard strip": (rule(r"\b(?P<fret>\d+): {along it}"),),
    "Nut strip": (
        rule(r"\b(?P<string>\d+): {nut along}"),
        rule(r"string (?P<string>\d+) wide {nut width} floor {nut floor} falls {nut slope}"),
    ),
}
"""The strips of the templates, by their title."""

WORDS = (
    rule(r"{board planed} comes off the flat blank over the middle, which leaves {board thick}"),
    rule(r"the saw cuts {kerf} wide"),
    rule(r"One setting for all: {board depth} below the blank's face; {board left} of the board is left"),
    rule(r"Wire to buy: {board wire}"),
    rule(r"Dots {dot} wide"),
    rule(r"Side dots {dot aside} wide"),
    rule(
        r"Blank {nut length} long, {nut thickness} thick and {nut height} high, its underside {nut seat} below"
    ),
    rule(r"Its front is {nut front} long and leans {nut lean}"),
    rule(r"Each floor at the front lies {nut over board} over the board"),
    rule(r"fret wire, {board wire} for \d+ frets"),
    rule(r"nut blank, {nut length} × {nut thickness} × {nut height} or more"),
    rule(r"number of a hole is its string's\. Bit: {tuner bit}"),
    rule(r"scarf joint's sawn face is {scarf face} long, and takes {scarf flat} of the neck's length"),
    rule(r"{~legend} with inches below, along the head's face"),
)
"""What the sheets say over their tables, and what is to be bought."""

CARDS = (
    rule(
        r"saw's stop to {board depth} below the flat blank's face, kerf {kerf} ?: {board planed} is planed off"
    ),
    rule(r"the tang of {tang} must still have {~wanted} under it\. {board left} of the board is left"),
    rule(r"a radius of {board radius}(?: at the nut and {board radius end} at its end)?"),
    rule(r"across stock {scarf stock} thick: {scarf flat} along its face for a lean of {head lean}"),
    rule(r"both sawn faces as one, {scarf face} long"),
    rule(r"Plane the head to {head thick}"),
    rule(r"buy {board wire} of wire"),
    rule(r"(?P<ids>\bM\d+ «\d+» M\d+) «\d+» {along}(?= Head)"),
    rule(rf"» «\d+» {HOLES} {{off}} {{along}}(?= Head)"),
    rule(r"Square the blank: {nut length} long, {nut thickness} thick, {nut height} high"),
    rule(r"its underside lies {nut seat} below the board's face"),
    rule(r"Mitre the ends {nut lean} off square"),
    rule(r"Stack feelers to {nut over board} on the board"),
    rule(r"Leave up to {~wanted} for the last strokes"),
    rule(r"fall towards the head by {nut slope low}(?: to {nut slope high} )?, half"),
    rule(
        r"from the nut's front, along the head's face {along} from the centreline, to the (?:treble|bass) {off}"
    ),
)
"""What the cards of the board, the nut and the head say, and of a tuner's hole that has a row of its own; else a hole is like
any."""


def outer(truth: Truth) -> tuple[Rule, ...]:
    """What a card says of the outer strings."""
    last = _last(truth)
    return (
        rule(
            r"at pitch, {nut action_treble} \(string 1\) to {nut action_bass} \(string \d+\) over the 12th fret and "
            r"{nut relief} of relief"
        ),
        rule(
            rf"over the first fret by {{nut over_first:string 1}} \(string 1\) to {{nut over_first:{last}}} \({last}\)"
        ),
    )


def _last(truth: Truth) -> str:
    return f"string {truth.plan['strings'][-1]['no']}"


def read_template(text: Text) -> None:
    """A strip's page."""
    pack_carve.read_template(text)
    for title, rules in STRIPS.items():
        if f" {title} revision" in text.marked:
            apply(text, rules, [""])


def read_sheet(text: Text) -> None:
    """The neck's tables, each by the words over its columns, and the words over them."""
    pack_carve.read_sheet(text)
    for head, rules in TABLES:
        for found in re.finditer(re.escape(head), text.marked):
            end = _ENDS.search(text.marked, found.end())
            part = text.marked[found.start() : end.start() if end else None]
            apply(replace(text, marked=part), rules, [""])
    last = _last(text.truth)
    scales = rule(rf"Two scales: string 1 {{own scale:string 1}} and {last} {{own scale:{last}}}")
    apply(text, (scales, *WORDS), [""])


def read_card(text: Text, scope: Sequence[str]) -> None:
    """A card of the neck, in print or on a screen."""
    pack_carve.read_card(text)
    apply(text, (*CARDS, *outer(text.truth)), scope or [""])


CARD_IDS = ("slot-board", "slot-nut", "drill-tuners", *pack_carve.CARD_IDS)


def of_the_neck(read: dict[str, list[Text]]) -> dict[str, list[Text]]:
    """Of everything that was read what tells the board, the nut and the head, by output."""
    titles = tuple(f" {each} revision" for each in (*STRIPS, *pack_carve.TEMPLATES, "Head template"))
    wanted: dict[str, Callable[[Text], bool]] = {
        "templates.pdf": lambda text: any(title in text.marked for title in titles),
        "sheets.pdf": lambda text: text.where.endswith(
            ("Frets, nut, checks", "Neck's back", "Head from the front")
        ),
        "steps.pdf": lambda text: any(f", step {no}" in f"{text.where} " for no in _steps(text.truth)),
        "app": lambda text: text.where.startswith(tuple(f"app, steps/{each}?" for each in CARD_IDS)),
    }
    return {output: [text for text in read[output] if chosen(text)] for output, chosen in wanted.items()}


def _steps(truth: Truth) -> list[str]:
    return [f"{truth.cards[each]['no']} " for each in CARD_IDS]


ASKED: dict[str, dict[str, tuple[str, ...]]] = {
    "templates.pdf": {"fret": ("along it",), "string": ("nut along", "nut width", "nut floor", "nut slope")},
    "sheets.pdf": {
        "fret": ("along it", "treble end", "bass end", "slot stop", "slot depth", "slot length", "slot wire"),
        "string": ("own scale", "own 12th", "nut along", "nut width", "nut floor", "nut from_blank", "nut from_top"),
        "tuner": ("along", "across", "breaks", "kinks"),
    },
    "steps.pdf": {"tuner": ("along", "across", "diameter", "depth", "stop")},
    "app": {"tuner": ("along", "across", "diameter", "depth", "stop")},
}  # fmt: skip
"""What each output must say of every fret, string and tuner."""


ON_A_FAN = {"treble end", "bass end", "own scale", "own 12th"}
"""Kinds that only a fan has."""

SAME = {"off": "across", "across bass": "across", "bit": "diameter"}
"""Kinds that are another way of saying one."""


def missing(truth: Truth, output: str, texts: Sequence[Text]) -> list[str]:
    """What an output should say of the neck and does not."""
    said = {
        (claim.id, SAME.get(claim.kind, claim.kind))
        for text in texts
        for claims in text.claims.values()
        for claim in claims
    }
    ids = {
        "fret": [f"fret {each['n']}" for each in truth.plan["frets"]],
        "string": [f"string {each['no']}" for each in truth.plan["strings"]],
        "tuner": [each["id"] for each in tuner_holes(truth.plan["head"])],
    }
    fanned = "frets" in truth.plan["strings"][0]
    wanted = {
        (each, kind)
        for what, kinds in ASKED[output].items()
        for each in ids[what]
        for kind in kinds
        if fanned or kind not in ON_A_FAN
    }
    wanted |= pack_carve.asked(truth, output)
    return [f"{output}: {each}, {kind} is nowhere" for each, kind in sorted(wanted - said)]
