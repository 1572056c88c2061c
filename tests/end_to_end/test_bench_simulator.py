"""The printed step cards make the planned body: a bench of its own works through them in a mesh of the blank.

Nothing of the planning is used by that bench (`bench_simulator`); what is compared with is the body that the pack itself
hands over as a solid. 0.2 mm is this project's own promise: less than a careful hand drill holds (common practice, no
source).
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from math import radians, tan
from typing import Any

import numpy as np
import pytest
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.filemanagement import read as read_dxf
from manifold3d import Manifold

from scribeline.drawing import dxf
from scribeline.drawing.cards import step_cards
from scribeline.drawing.cuts import cut_sheet
from scribeline.job import parse_job
from scribeline.plan import Plan, plan
from scribeline.solid.body import make_body
from scribeline.solid.meshfiles import stl
from scribeline.solid.stock import carved

from ..bench_simulator import (
    Bench,
    CannotBeDoneError,
    Difference,
    Floats,
    Timber,
    differences,
    solid_from_stl,
    upright_blank,
)
from ..pack_jobs import PROVED
from ..step_card_reader import Row, StepCard, read_step_cards
from ..torture import long

WITHIN = 0.2


@dataclass(frozen=True)
class Pack:
    """What is handed to the bench, and what should come of it."""

    cards: tuple[StepCard, ...]
    timber: Timber
    planned: Manifold


@cache
def packed(name: str) -> Pack:
    made = plan(*parse_job(PROVED[name]))
    outline, templates = _outlines(dxf.write(cut_sheet(made)))
    form, thickness = made.layout.body, made.layout.thickness
    body = make_body(made.layout.outline, thickness, made.features, form=form)
    timber = Timber(
        blank=upright_blank(outline, thickness, form.highest),
        shaped=carved(form)[0],
        outline=outline,
        templates=templates,
        thickness=thickness,
        neck=_neck(made),
    )
    planned = solid_from_stl(stl(body.mesh, name))
    return Pack(read_step_cards(_steps(made)), timber, planned)


def _neck(made: Plan) -> tuple[float, float]:
    """The neck as the job states it: how far its heel's end is from the nut, and its crowns from the heel's underside."""
    neck, wire = made.job.document.neck, made.job.document.fret_wire
    if neck.joint == "neck-through":  # its board's underside, at the board's end, is what it turns about
        return made.job.document.fingerboard.end, neck.board_thickness.mm + wire.crown_height
    return neck.pocket_end, neck.heel_thickness.mm + wire.crown_height


def _steps(made: Plan) -> bytes:
    return step_cards(made)


def _outlines(written: bytes) -> tuple[Floats, dict[tuple[str, str], list[Floats]]]:
    """The body's outline and the cavities' by face and name, from the layers a template is sawn to."""
    outline: Floats = np.zeros((0, 2))
    templates: dict[tuple[str, str], list[Floats]] = {}
    for entity in read_dxf(io.StringIO(written.decode())).modelspace().query("LWPOLYLINE"):
        assert isinstance(entity, LWPolyline)
        corners = np.array([point[:2] for point in entity.get_points("xy")])
        if entity.dxf.layer == "outline":
            outline = corners
        elif cavity := re.match(r"(top|back) pocket (.*) deep ", entity.dxf.layer):
            templates.setdefault((cavity[1], cavity[2]), []).append(corners)
    return outline, templates


def _told(found: list[Difference]) -> str:
    """The worst place of each neighbourhood."""
    worst: list[Difference] = []
    for each in found:
        if all(np.hypot(each.at[0] - other.at[0], each.at[1] - other.at[1]) > 12 for other in worst):
            worst.append(each)
    return "\n".join(
        f"{each.mm:.2f} mm too {'much' if each.more else 'little'} wood at {np.round(each.at, 1)}"
        for each in worst
    )


DAILY = ("demo", "arched", "vibrato-two-posts", "headless")


@pytest.mark.parametrize("name", [*DAILY, *long(*(name for name in PROVED if name not in DAILY))])
def test_the_cards_make_the_planned_body(name: str) -> None:
    pack = packed(name)
    made = Bench(pack.timber).work(pack.cards)
    found = differences(made, pack.planned, WITHIN)
    assert not found, _told(found)


# --- cards with a mistake in them ---------------------------------------------------------------------------


@cache
def benches() -> dict[int, Bench]:
    """The demo's bench before each card."""
    pack, before = packed("demo"), dict[int, Bench]()
    bench = Bench(pack.timber)
    bench.set_up(pack.cards)
    for card in pack.cards:
        before[card.no] = bench.copy()
        bench.work_on([card])
    return before


def _card(title: str) -> StepCard:
    return next(card for card in packed("demo").cards if title in card.title)


def _from_the_tail(card: StepCard) -> StepCard:
    """A card measured from the tail edge, which is there whatever is fitted: 284 mm from the demo's end wall."""
    return replace(
        card,
        rows={
            label: replace(row, from_pocket_end=None, from_tail=(row.from_pocket_end or 0.0) - 284.0)
            for label, row in card.rows.items()
        },
    )


def _read_from(card: StepCard, label: str, **readings: Any) -> StepCard:
    """A card with one more reading in a hole's row."""
    rows = {**card.rows, label: replace(card.rows[label], **readings)}
    return replace(card, rows=rows)


def _of(card: StepCard, label: str) -> StepCard:
    """A card for one of its holes."""
    return replace(card, rows={label: card.rows[label]})


def _moved(card: StepCard, label: str, **by: float) -> StepCard:
    row = card.rows[label]
    changed: dict[str, Any] = {name: getattr(row, name) + mm for name, mm in by.items()}
    moved = replace(row, **changed)
    return replace(card, rows={**card.rows, label: moved})


def _said(card: StepCard, old: str, new: str) -> StepCard:
    lines = tuple(line.replace(old, new) for line in card.do)
    words = card.stop_words.replace(old, new)
    assert (lines, words) != (card.do, card.stop_words), old
    return replace(card, do=lines, stop_words=words)


def _stop_by(card: StepCard, mm: float) -> StepCard:
    assert card.stop is not None
    return replace(card, stop=card.stop + mm)


SPOILING: dict[str, tuple[Callable[[], StepCard], str]] = {
    "a stop 0.3 mm too far": (lambda: _stop_by(_card("bridge-screw pilots"), 0.3), "B1"),
    "a tape 0.3 mm too near the point": (lambda: _stop_by(_of(_card("strap buttons"), "K1"), -0.3), "K1"),
    "a further bit zeroed on the mark": (
        lambda: _said(_card("ferrule bodies"), "on the back, beside the hole", "touching the wood"),
        "F1",
    ),
    "a bit a millimetre too wide": (lambda: replace(_card("12 mm"), bit=("brad-point", 13.0)), "C3"),
    "another kind of bit": (
        lambda: replace(_of(_card("pickup ring"), "H1"), bit=("flat-bottomed", 2.0)),
        "H1",
    ),
    "the wrong face": (
        lambda: replace(_said(_of(_card("pickup ring"), "H5"), "on the top", "on the back"), face="back"),
        "H5",
    ),
    "a hole 0.3 mm aside": (lambda: _moved(_card("cover screws"), "V1", to_treble=0.3), "V1"),
    "a hole on the wrong side": (lambda: _moved(_card("10 mm"), "C1", to_treble=-190.0), "C1"),
    "a tunnel a degree too steep": (
        lambda: _said(_card("bridge pickup lead"), "19.3° from", "20.3° from"),
        "T1 out",
    ),
    "a hole in the edge 0.3 mm too low": (
        lambda: _moved(_of(_card("strap buttons"), "K2"), "K2", down=0.3),
        "K2",
    ),
}
"""Mistakes that anyone could drill, each with a hole that it spoils."""

NEAR = 24.0
"""A hole's own neighbourhood, as far as the deepest from the edge goes in; no two of the spoiled ones are as near, mm."""


@cache
def spoiled() -> tuple[Bench, tuple[Difference, ...]]:
    """The demo made by all those cards at once, and where it differs from the plan."""
    pack = packed("demo")
    bad: dict[int, list[StepCard]] = {}
    for make, _ in SPOILING.values():
        bad.setdefault((card := make()).no, []).append(card)
    assert all(
        len(cards) == len({label for card in cards for label in card.rows})
        for cards in bad.values()
        if cards[1:]
    )
    bench = Bench(pack.timber)
    made = bench.work([part for card in pack.cards for part in _parts(card, bad.get(card.no, []))])
    return bench, tuple(differences(made, pack.planned, WITHIN))


def _parts(card: StepCard, bad: Sequence[StepCard]) -> Iterator[StepCard]:
    """The mistaken cards instead of a card, and that card for the holes they leave."""
    yield from bad
    left = {label: row for label, row in card.rows.items() if all(label not in each.rows for each in bad)}
    if left or not bad:
        yield replace(card, rows=left)


@pytest.mark.parametrize("mistake", SPOILING)
def test_a_card_that_says_something_else_makes_something_else(mistake: str) -> None:
    make, label = SPOILING[mistake]
    bench, found = spoiled()
    x, y = bench.place(make().rows[label])
    assert any(np.hypot(each.at[0] - x, each.at[1] - y) < NEAR for each in found)


NECK_OFF = "Take the neck off."

IMPOSSIBLE: dict[str, tuple[Callable[[], StepCard], str]] = {
    "the neck is still on": (
        lambda: _said(_card("control cavity cover recess"), "Take the neck off", "Mind the neck"),
        "lie on its neck",
    ),
    "the plate is still on": (
        lambda: _said(_card("ground-wire"), "Take the plate off", "Mind the plate"),
        "lie on the bridge's plate",
    ),
    "the neck is in the drill's way": (
        lambda: _from_the_tail(_said(_card("neck pickup lead"), "Take the neck off", "Mind the neck")),
        "must pass where the neck is",
    ),
    "no neck to measure from": (
        lambda: _said(_card("Set the bridge plate"), "Put the neck back", "Mind the neck"),
        "measures from a fret",
    ),
    "two readings that differ": (
        lambda: _moved(_card("bridge-screw pilots"), "B1", from_twelfth=0.1),
        "readings along the body differ",
    ),
    "a fret while the neck is off": (
        lambda: _read_from(_card("pickup ring"), "H5", from_twelfth=158.0),
        "measures from the neck while the neck is off",
    ),
    "a wall that the neck covers": (
        lambda: _read_from(_card("bridge-screw pilots"), "B1", from_pocket_end=180.0),
        "while the neck fills the pocket",
    ),
    "a place beside the body": (
        lambda: _moved(_card("pickup ring"), "H5", to_treble=-300.0),
        "beside the body",
    ),
    "a rule and a table that differ": (
        lambda: _said(_card("strap buttons"), "53.4 mm straight", "54.0 mm straight"),
        "apart",
    ),
    "a tape beside another surface": (
        lambda: _said(_card("strap buttons"), "level with the edge", "level with the top"),
        "what the tape is level with",
    ),
    "a zero where nothing is": (
        lambda: _moved(_card("pickup ring"), "H5", from_pocket_end=-300.0),
        "beside the body",
    ),
    "a face where a floor is": (
        lambda: _said(_card("cover screws"), "the floor of the control cavity cover recess", "the back"),
        "below the face",
    ),
    "a zero on the mark where the wood is gone": (
        lambda: _said(_card("ferrule bodies"), "beside the hole", "on the mark"),
        "below the face",
    ),
    "a zero on the face that lies down": (
        lambda: replace(_card("pickup ring"), face="back", do=(*_card("ferrule lips").do, NECK_OFF)),
        "zeroed on the top",
    ),
    "no way to lean": (
        lambda: _said(_card("bridge pickup lead"), "Angle block", "A block"),
        "how the angle block is cut",
    ),
    "a bit too short for its chuck": (
        lambda: _said(_card("neck pickup lead"), "180 mm of bit", "60 mm of bit"),
        "chuck meets the body",
    ),
    "no mark": (lambda: _said(_card("strap buttons"), "Mark K1", "Find K1"), "where K1 is marked"),
    "no template for it": (
        lambda: replace(_card("Rout the bridge-pickup"), face="back"),
        "no template",
    ),
}


@pytest.mark.parametrize("mistake", IMPOSSIBLE)
def test_a_card_that_cannot_be_done_is_not_done(mistake: str) -> None:
    make, why = IMPOSSIBLE[mistake]
    bad = make()
    with pytest.raises(CannotBeDoneError, match=re.escape(why)):
        benches()[bad.no].copy().work_on([bad, *packed("demo").cards[bad.no :]])


def test_a_bit_falls_through_a_hole_that_is_there_already() -> None:
    card = _card("clearance holes")
    bench = benches()[card.no].copy()
    bench.do(card)
    with pytest.raises(CannotBeDoneError, match="there is none under it"):
        bench.do(replace(card, bit=("brad-point", 4.0)))


# --- the bench itself, against geometry by hand ---------------------------------------------------------------


SQUARE = np.array([(0.0, -50.0), (100.0, -50.0), (100.0, 50.0), (0.0, 50.0)])
BLOCK = Timber(upright_blank(SQUARE, 40.0), upright_blank(SQUARE, 40.0), SQUARE, {}, 40.0)
"""A block of 100 × 100 × 40 mm."""


def _trial(bit: tuple[str, float], stop: float, words: str, face: str = "top") -> StepCard:
    rows = {"H1": Row(from_twelfth=None, from_pocket_end=None, to_treble=0.0, from_tail=-50.0)}
    return StepCard(1, "Drill a hole", "drill press", face, bit=bit, stop=stop, stop_words=words, rows=rows)


def _drilled(*cards: StepCard) -> Bench:
    bench = Bench(BLOCK)
    bench.set_up(cards)
    bench.work_on(cards)
    return bench


def _depth(bench: Bench, radius: float, face: str = "top") -> float:
    """Of the hole at (50, 0), so far from its middle, from the face, mm."""
    height = bench.touches(50.0 + radius, 0.0, face)
    return -height if face == "top" else height + 40.0


ON_TOP, BESIDE = (
    "Zero it with the point on the top, on the mark.",
    "Zero it with the point on the top, beside the hole.",
)


def test_a_twist_bit_s_cone_ends_the_hole() -> None:
    # 118° over 10 mm: 5 / tan 59° = 3.004 mm of cone. The point goes to 15, the full diameter to 11.996.
    bench = _drilled(_trial(("twist", 10.0), 15.0, ON_TOP))
    assert _depth(bench, 0.0) == pytest.approx(15.0, abs=1e-6)
    assert _depth(bench, 4.98) == pytest.approx(15.0 - 4.98 / tan(radians(59)), abs=0.02)
    assert _depth(bench, 5.1) == pytest.approx(0.0, abs=1e-6)


def test_a_second_bit_zeroed_at_the_mark_goes_deeper_by_what_is_gone() -> None:
    # The 12 mm bit goes to 4.0 mm and its centre point of 1.5 mm to 5.5: the 8 mm bit's point comes down in that dent.
    wide = _trial(("flat-bottomed", 12.0), 5.5, ON_TOP)
    right = _drilled(wide, _trial(("brad-point", 8.0), 20.4, BESIDE))
    wrong = _drilled(
        wide, _trial(("brad-point", 8.0), 20.4, "Stop at 20.40 mm zeroed with the point touching the wood")
    )
    assert _depth(right, 3.5) == pytest.approx(18.0, abs=1e-6)
    assert _depth(wrong, 3.5) == pytest.approx(18.0 + 5.5, abs=1e-6)
    assert _depth(right, 5.9) == pytest.approx(4.0, abs=1e-6)


def test_from_the_back_a_hole_goes_upwards() -> None:
    bench = _drilled(_trial(("brad-point", 8.0), 12.4, ON_TOP.replace("top", "back"), face="back"))
    assert _depth(bench, 3.0, "back") == pytest.approx(10.0, abs=1e-6)  # less the brad point's 0.3 × 8
    assert _depth(bench, 3.0) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("mm", [0.15, 0.25])
def test_two_bodies_differ_by_how_far_their_holes_do(mm: float) -> None:
    bodies = [_drilled(_trial(("flat-bottomed", 12.0), stop, ON_TOP)).wood for stop in (10.0, 10.0 + mm)]
    found = differences(bodies[1], bodies[0], WITHIN)
    assert bool(found) == (mm > WITHIN)
    assert all(not each.more for each in found)
    assert max((each.mm for each in found), default=mm) == pytest.approx(mm, abs=1e-3)
