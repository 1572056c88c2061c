"""One input from one whole number: files, and the words of a command that meets them."""

from __future__ import annotations

import copy
import tomllib
from dataclasses import dataclass
from functools import cache
from random import Random
from typing import Any

from scribeline.job import parse_job
from scribeline.operations import cuts_of
from scribeline.plan import Plan, plan

from . import drawings
from .jobs import (
    LONG,
    NONSENSE,
    SHIPPED,
    Tree,
    job_tree,
    leaves,
    measured,
    slip,
    sound,
    text_slip,
    with_more,
    written,
)

JOB, DRAWING, RECORDS, SHEET = "job.toml", "body", "shop.toml", "out"

KINDS = {
    "job": 48,
    "slip": 6,
    "done": 13,
    "measured": 5,
    "asked": 4,
    "dxf": 9,
    "svg": 8,
    "outline": 3,
    "records": 4,
}
"""What an input can be, and how many in a hundred are."""

JOBS = frozenset({"job", "slip", "done", "measured", "asked"})
"""Those that are a job from beginning to end, the half of which is to reach planning."""


@dataclass(frozen=True)
class Input:
    """What one run is given.

    Attributes:
        seed: all of it follows from this.
        kind: of `KINDS`.
        files: in the folder it runs in.
        words: of the command.
    """

    seed: int
    kind: str
    files: dict[str, bytes]
    words: tuple[str, ...]


def kind_of(seed: int) -> str:
    """The kind of an input, without making it."""
    return Random(seed).choices(list(KINDS), list(KINDS.values()))[0]


def made(seed: int) -> Input:
    """The input of a seed."""
    random = Random(seed)
    kind = random.choices(list(KINDS), list(KINDS.values()))[0]
    files, words = _MAKERS[kind](random)
    return Input(seed, kind, files, words)


_Made = tuple[dict[str, bytes], tuple[str, ...]]


def _bytes(tree: Tree) -> bytes:
    return written(tree).encode("utf-8", "surrogatepass")


def _command(random: Random) -> tuple[str, ...]:
    """Most write plan.json; a few write the whole pack, which takes twenty times as long."""
    share = random.random()
    if share < 0.55:
        return ("plan", JOB, "-o", f"{SHEET}/plan.json")
    if share < 0.993:
        return random.choice(
            (
                ("check", JOB),
                ("check", JOB, "--json"),
                ("check", JOB),
                ("plan", JOB),
                ("strings", JOB),
                ("explain", JOB),
            )
        )
    return random.choice(
        (("print", JOB, "-o", SHEET), ("print", JOB, "-o", SHEET), ("solid", JOB, "-o", SHEET))
    )


def _job(random: Random) -> _Made:
    return {JOB: _bytes(job_tree(random))}, _command(random)


def _slip(random: Random) -> _Made:
    text = (
        random.choice(list(SHIPPED.values()))
        if random.random() < 0.3
        else written(job_tree(random, slips=0.1, tunnels=0.0))
    )
    return {JOB: text_slip(random, text)}, random.choice(
        (("check", JOB), ("check", JOB, "--json"), ("plan", JOB, "-o", f"{SHEET}/plan.json"))
    )


def _measured(random: Random) -> _Made:
    tree = sound(random, tunnels=0.0)
    measured(random, tree)
    key, value = random.choice(list(leaves(tree)))
    path = "".join(f"[{part + 1}]" if isinstance(part, int) else f".{part}" for part in key).lstrip(".")
    share = random.random()
    if share < 0.15:
        path = random.choice(
            (
                "",
                "nothing",
                "strings[99].gauge",
                "bridge",
                "strings",
                "a..b",
                "[1]",
                "body.outline.[2]",
                "貓",
                "x" * 500,
            )
        )
    reading = (
        str(value)
        if share < 0.5
        else f"{value} +/- 0.05"
        if share < 0.7
        else str(random.choice(NONSENSE[:60])).replace("\0", "")
    )
    text = written(tree).encode()
    return {JOB: text.replace(b"\n", b"\r\n") if random.random() < 0.2 else text}, (
        "measure",
        JOB,
        path,
        "--",
        reading,
    )


def _asked(random: Random) -> _Made:
    """Commands whose words are the builder's own."""
    tree = job_tree(random, slips=0.1, tunnels=0.05)

    def odd(*usual: str) -> str:
        return str(random.choice(usual if random.random() < 0.6 else NONSENSE[:58])).replace("\0", "")

    words = random.choice(
        (
            (
                "strings",
                JOB,
                "--change",
                odd("a lighter set", "none"),
                "--vibrato",
                odd("12, 38, 3", "0, 38, 3", "12 mm, 1 1/2 in, 5"),
            ),
            (
                "strings",
                JOB,
                "--studs",
                odd("74 mm", "3 in", "0"),
                "--ridge",
                odd("2", "-3"),
                "--bushing",
                odd("11 mm", "200"),
            ),
            ("strings", JOB, "--by", "all frets", "--cents"),
            ("strings", JOB, "--nut", "--json"),
            ("strings", JOB, "--plot", f"{SHEET}/cents.svg"),
            ("explain", JOB, odd("S1", "string-1", "string-99", "neck-pocket", "jack")),
            ("tunnels", JOB),
            (
                "bars",
                JOB,
                odd("197.4 mm", "200", "7 3/4 in"),
                odd("200 mm", "1e9"),
                "-o",
                SHEET,
                "--paper",
                odd("A4", "Letter", "610 mm", "1 mm"),
            ),
            ("print", JOB, "-o", SHEET, "--paper", odd("A4", "A0", "12 mm", "jelly")),
            (
                "record",
                JOB,
                RECORDS,
                "--saddles",
                odd("1.3 2.1 - 2.6 3.0 4.4", "1 2 3 4", "- - - -"),
                "--plus-minus",
                odd("0.25 mm", "0"),
            ),
            ("solid", JOB, "-o", SHEET, "--density", odd("450", "-5")),
            ("new", random.choice(("new.toml", "貓.toml", "x" * 300, "a/b.toml", JOB))),
        )
    )
    return {JOB: _bytes(tree)}, words


def _drawn(random: Random, kind: str) -> _Made:
    name = f"{DRAWING}.{kind}"
    tree = _for_drawings(random.choice(("six-string", "seven-string", "four-string bass")))
    tree["body"]["outline"] = drawings.statement(random, name)
    drawing = drawings.dxf(random) if kind == "dxf" else drawings.svg(random)
    return {JOB: _bytes(tree), name: drawing}, ("check", JOB)


def _outline(random: Random) -> _Made:
    """A drawing with nothing odd about it, of which a job is planned."""
    kind = random.choice(("dxf", "svg"))
    name = f"{DRAWING}.{kind}"
    tree = job_tree(random, slips=0.2, tunnels=0.0)
    if isinstance(tree.get("body"), dict):
        tree["body"]["outline"] = {"file": name, **drawings.place(kind)}
    return {JOB: _bytes(tree), name: drawings.whole(random, kind)}, _command(random)


@cache
def _starters() -> dict[str, str]:
    from scribeline.job import starter_job

    return {
        each: starter_job(name="Drawn", units="mm", handed="right", instrument=each)
        for each in ("six-string", "seven-string", "four-string bass")
    }


def _for_drawings(instrument: str) -> Tree:
    return tomllib.loads(_starters()[instrument])


def _dxf(random: Random) -> _Made:
    return _drawn(random, "dxf")


def _svg(random: Random) -> _Made:
    return _drawn(random, "svg")


# What was done


@cache
def _planned(number: int) -> tuple[str, Plan]:
    """A sound job and its plan; there are some dozens, for a plan takes long."""
    random = Random(1_000_000_007 + number)
    tree = sound(random, tunnels=0.0)
    text = written(tree)
    return text, plan(*parse_job(text))


def _done_tables(random: Random, seen: Plan) -> list[Tree]:
    cards = [card for card in seen.cards if card.features]
    upto = random.randint(1, len(cards))
    chosen = (
        cards[:upto] if random.random() < 0.7 else random.sample(cards, min(len(cards), random.randint(1, 5)))
    )
    made = []
    for card in chosen:
        cuts = [cut.plain for cut in cuts_of(card, seen.every_cut)]
        if random.random() < 0.2:
            cuts = random.sample(cuts, random.randint(0, len(cuts)))
        for cut in cuts:
            if "at" in cut and random.random() < 0.2:
                by = random.choice((0.1, 0.3, 3.0, 40.0) if random.random() < 0.3 else (0.1, 0.3))
                cut["measured"] = [cut["at"][0] + random.gauss(0, by), cut["at"][1] + random.gauss(0, by)]
        made.append({"card": card.id, "by": "Ann", "at": "2026-01-31T10:15:00Z", "revision": 1, "cuts": cuts})
    return made


def _readings(random: Random, seen: Plan) -> list[Tree]:
    made = []
    for card in seen.cards:
        if random.random() < 0.4:
            answer: Tree = {"yes": random.random() < 0.8}
            if card.gate.value is not None:
                answer = {
                    "value_mm": random.choice(
                        (card.gate.value, card.gate.value + random.gauss(0, 2), 0.0, 3000.0)
                    )
                }
            made.append({"card": card.id, "by": "Ann", "at": "2026-01-31T10:15:00Z", **answer})
    return made


def _done(random: Random) -> _Made:
    text, seen = _planned(random.randrange(48))
    tree = tomllib.loads(text)
    for _ in range(random.choice((0, 0, 1, 2))):  # the job goes on changing after the holes are drilled
        if random.random() < 0.6:
            measured(random, tree)
        else:
            tree = with_more(random, tree)
    record: Tree = {"done": _done_tables(random, seen), "readings": _readings(random, seen)}
    if random.random() < 0.3:
        slip(random, record)
    if random.random() < 0.1:
        slip(random, tree)
    return {JOB: _bytes({**tree, **record})}, _command(random)


# The shop's records


def _records(random: Random) -> _Made:
    tree = tomllib.loads(_starters()[random.choice(list(_starters()))])
    instruments: list[Tree] = []
    for number in range(random.choice((0, 1, 2, 3, 8))):
        strings = [
            {**each, "saddle": round(random.gauss(2.0, 1.0), 2)} for each in copy.deepcopy(tree["strings"])
        ]
        for each in strings:
            if random.random() < 0.15:
                del each["saddle"]
        kept: dict[str, Any] = {
            key: copy.deepcopy(tree[key]) for key in ("scale", "nut", "fret_wire", "setup")
        }
        instruments.append(
            {
                "name": f"no {number}",
                "measured_to": random.choice((0.25, "0.1 mm")),
                **kept,
                "strings": strings,
            }
        )
    records: Tree = {"scribeline_records": 1, "units": "mm", "instruments": instruments}
    if random.random() < 0.5:
        for _ in range(random.choice((1, 1, 3))):
            slip(random, records)
    content = _bytes(records) if random.random() < 0.85 else text_slip(random, written(records))
    tree["bench"] = {"records": RECORDS}
    saddles = " ".join(random.choice(("1.4", "2,1", "-", "3/32 in", "0")) for _ in tree["strings"])
    words = random.choice(
        (
            ("learn", RECORDS),
            ("learn", RECORDS, "--json"),
            ("check", JOB),
            ("strings", JOB),
            ("record", JOB, RECORDS, "--saddles", saddles),
        )
    )
    return {JOB: _bytes(tree), RECORDS: content}, words


_MAKERS = {
    "job": _job,
    "slip": _slip,
    "measured": _measured,
    "asked": _asked,
    "dxf": _dxf,
    "svg": _svg,
    "outline": _outline,
    "done": _done,
    "records": _records,
}


def long_values(given: Input) -> list[str]:
    """The beginnings, longer than a line, of what an input states at length: none of them is to be echoed."""
    found = ["x" * 101, "y" * 101, "1" * 101, "9" * 101, LONG[:101]]
    return [
        each
        for each in found
        if any(each.encode() in content for content in given.files.values())
        or any(each in w for w in given.words)
    ]
