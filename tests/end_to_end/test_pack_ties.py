"""Everything a pack prints, read back and tied to plan.json: the demo, jobs that differ where packs go wrong, examples.

Each figure of templates.pdf, sheets.pdf, steps.pdf, the text of `plan`, the app's pages, DXF and SVG is paired with a
cut and a kind of number by the words round it; it must be plan.json's number to its last printed place, in both units;
none may be left over, and none missing. What plan.json does not give is worked out from it by geometry, in
`tests/pack_truth.py`, which shares nothing with the planning code.
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from .. import pack_neck
from ..conftest import in_inches
from ..pack_figures import SLACK, Figure
from ..pack_jobs import EXAMPLES, PROVED
from ..pack_reading import Pack, everything, made
from ..pack_rules import Claim, Text
from ..torture import long

LET_BE = {
    "bar", "box", "feeler", "fret", "grid", "lean", "legend", "margins", "more", "pass", "print", "rounding", "stated", "sweep",
    "tolerance", "turn", "wanted", "wedge", "wire",
}  # fmt: skip
"""Kinds of figures that are not about cuts: the print's bars and grid, cautions, what the bench and the maker allow."""

PLACE = {"12th", "end", "across"}
ASKED: dict[str, tuple[set[str], set[str], set[str]]] = {
    "templates.pdf": (set(), set(), {"depth"}),
    "sheets.pdf": (
        {"diameter", "depth", "stop"},
        PLACE,
        {"depth", "neck side 12th", "length", "treble", "bass"},
    ),
    "steps.pdf": (
        {"diameter", "depth", "stop"},
        {"along", "across"},
        {"depth", "corner", "neck side along", "tail side along"},
    ),
    "plan": ({"diameter", "depth", "stop"}, PLACE, set()),
    "app": (
        {"diameter", "depth", "stop"},
        {"along", "across"},
        {"depth", "corner", "neck side 12th", "tail side 12th"},
    ),
    "body.dxf": ({"diameter", "depth"}, {"mouth nut"}, {"depth", "corner 0 x", "corner 1 y"}),
    "body.svg": ({"diameter", "depth"}, {"mouth nut"}, {"depth", "corner 0 x", "corner 1 y"}),
}
"""What each output must say of each diameter of a hole, of each hole, and of each pocket."""

SAME = {"off": "across", "across bass": "across", "bit": "diameter", "mark": "stop"}
"""Kinds that are another way of saying one."""

ALSO = {
    "end": "along",
    "board": "along",
    "neck side board": "neck side along",
    "tail side board": "tail side along",
}
"""Kinds that say another as well: along the instrument a card reads from whichever datum is there."""


DAILY = (
    "inch_left",
    "arched",
    "two-studs",
    "posts-and-tailpiece",
    "single-saddles",
    "neck-through",
    "vibrato-two-posts",
)
LATER = (
    "demo",
    "stepped",
    "angled-head",
    "bass-five-string",
    "bass-four-string",
    "eight-strings",
    "seven-strings-fanned",
    "headless",
    "left-handed-six",
    "seven-strings",
    "vibrato-six-screws",
)


def test_every_example_is_tied_to_its_plan() -> None:
    assert set(EXAMPLES) <= {*DAILY, *LATER}


@pytest.mark.parametrize("name", [*DAILY, *long(*LATER)])
def test_every_figure_of_the_pack_is_that_of_the_plan(name: str, tmp_path: Path) -> None:
    pack = made(PROVED[name], tmp_path)
    read = everything(pack)
    texts = [text for output in read.values() for text in output]
    problems = [each for text in texts for each in (*text.left_over, *text.wrong)]
    problems += pack.truth.doubts
    problems += [each["message"] for each in pack.truth.plan["findings"] if each["severity"] == "stop"]
    problems += [each for output, found in read.items() for each in missing(pack, output, found)]
    assert not problems, "\n".join(problems)
    assert {kind for text in texts for kind in text.exempt.values()} <= LET_BE
    for output, found in read.items():
        counted = altered(found)
        assert counted["altered"] > (70 if output == "templates.pdf" else 300), output
        assert counted["unnoticed"] == 0, output
        # Sizes in sixteenths of an inch lie just between two places, in inches and in mm: of the templates' few figures more.
        share = 0.15 if output == "templates.pdf" else 0.1
        assert counted["as true"] <= share * counted["altered"], output


NECKS = ("angled-head", "bass-five-string", "eight-strings", "seven-strings-fanned")


@pytest.mark.parametrize("name", ["fanned", "fanned, left, in inches", *long(*NECKS)])
def test_every_figure_of_the_neck_is_that_of_the_plan(name: str, tmp_path: Path) -> None:
    """Board, nut and head that are made here: strips, sheets, cards and the app."""
    text = PROVED[name.partition(",")[0]]
    if "left" in name:
        text = in_inches(text).replace('"right"', '"left"', 1)
    pack = made(text, tmp_path)
    assert pack.truth.plan["job"]["handed"] == ("left" if "left" in name else "right")
    read = pack_neck.of_the_neck(everything(pack))
    texts = [text for output in read.values() for text in output]
    problems = [each for text in texts for each in (*text.left_over, *text.wrong)]
    problems += [
        each for output, found in read.items() for each in pack_neck.missing(pack.truth, output, found)
    ]
    assert not problems, "\n".join(problems)
    assert {kind for text in texts for kind in text.exempt.values()} <= LET_BE
    for output, least in (("templates.pdf", 70), ("sheets.pdf", 1000), ("steps.pdf", 80), ("app", 120)):
        counted = altered(read[output])
        assert counted["altered"] > least, output
        assert counted["unnoticed"] == 0, output


def missing(pack: Pack, output: str, texts: list[Text]) -> list[str]:
    """What an output should say and does not."""
    said = {
        (claim.id, SAME.get(claim.kind, claim.kind), claim.step)
        for text in texts
        for claims in text.claims.values()
        for claim in claims
    }
    said |= {(cut, ALSO[kind], step) for cut, kind, step in said if kind in ALSO}
    per_step, per_bore, per_pocket = ASKED[output]
    wanted = {(pocket, kind, 0) for pocket in pack.truth.pockets for kind in per_pocket}
    for bore in pack.truth.bores.values():
        wanted |= {(bore["id"], kind, n) for kind in per_step for n in range(len(bore["steps"]))}
        wanted |= {(bore["id"], kind, 0) for kind in per_bore if not _needless(pack, bore, kind)}
    return [f"{output}: {cut}, {kind}, diameter {n + 1} is nowhere" for cut, kind, n in sorted(wanted - said)]


def _needless(pack: Pack, bore: dict[str, object], kind: str) -> bool:
    """Whether a place needs no number: on the centreline."""
    return kind == "across" and bool(abs(pack.truth.facts[str(bore["id"]), "across"][0]) < 0.005)


def altered(texts: list[Text]) -> Counter[str]:
    """Every figure off by one in its last place, each reading of it, up and down: how many, and how many nobody notices.

    "as true" are those of a number just between two places: either may be printed. A sentence that plan.json has in the
    same words is altered as text.
    """
    counted: Counter[str] = Counter()
    for text in texts:
        for n, claims in text.claims.items():
            for other in text.figures[n].altered():
                counted["altered"] += 1
                if all(claim.holds(other) for claim in claims):
                    counted["as true" if _between_two(other, claims[0]) else "unnoticed"] += 1
        for sentence in text.said:
            for digit in re.finditer(r"\d(?!\.?\d)", sentence):
                counted["altered"] += 1
                changed = f"{sentence[: digit.start()]}{(int(digit[0]) + 1) % 10}{sentence[digit.end() :]}"
                counted["unnoticed"] += changed in text.truth.sentences
    return counted


def _between_two(figure: Figure, claim: Claim) -> bool:
    """Whether a number lies just between what was printed and this."""
    assert claim.value is not None
    off = [abs(abs(each.value - claim.value) - each.half) for each in figure.readings]
    return min(off) <= 2 * SLACK
