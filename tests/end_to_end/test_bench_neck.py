"""A neck's holes and frets made from paper alone: what its cards and lists say is done to plain wood, and what comes out is held
to the plan and to the ear.
"""

from __future__ import annotations

import io
import re
from functools import cache
from math import hypot, log2

import pdfplumber
import pytest
import shapely
from ezdxf.filemanagement import read as read_dxf
from manifold3d import CrossSection, Manifold, OpType

from scribeline.drawing.pack import draw
from scribeline.job import parse_job
from scribeline.plan import Plan, plan

from ..pack_jobs import EXAMPLES
from ..torture import long

NAMES = ("seven-strings-fanned", *long("angled-head", "bass-five-string", "eight-strings"))
WITHIN = 0.01
"""What a place printed in hundredths of a millimetre may be off, and a hair, mm."""


@cache
def planned(name: str) -> Plan:
    return plan(*parse_job(EXAMPLES[name]))


@cache
def packed(name: str) -> dict[str, bytes]:
    return draw(planned(name))


@cache
def tables(name: str, file: str) -> list[tuple[str, list[list[str]]]]:
    """Every ruled table of a file, each with the words of its page."""
    with pdfplumber.open(io.BytesIO(packed(name)[file])) as book:
        return [
            (page.extract_text(), [[cell or "" for cell in row] for row in table])
            for page in book.pages
            for table in page.extract_tables()
        ]


def outline_of(name: str, file: str) -> list[tuple[float, float]]:
    """The first closed line of a drawing for machines: the piece's edge."""
    drawn = read_dxf(io.StringIO(packed(name)[file].decode())).modelspace().query("LWPOLYLINE")
    return next([(x, y) for x, y, *_ in each.get_points()] for each in drawn)  # type: ignore[attr-defined]


def mm(cell: str) -> float:
    """The millimetres a cell begins with."""
    found = re.match(r"[−-]?\d+(?:\.\d+)?", cell)
    assert found is not None, cell
    return float(found[0].replace("−", "-"))


def drilled(name: str, title: str) -> dict[str, tuple[float, float, float]]:
    """The holes of a card: along the head from the nut, from the centreline to the treble, and the bit's diameter, mm."""
    found = {}
    for words, table in tables(name, "steps.pdf"):
        if title not in words.split("\n")[0] + words.split("\n")[1] or table[0][0] != "No.":
            continue
        bit = re.search(r"BIT, [a-z-]+ .*\n(\d+(?:\.\d+)?) ", words)
        assert bit is not None
        head = table[0]
        for row in table[1:]:
            along = mm(row[head.index("from nut")])
            for place, column in enumerate(head):
                side = {"centreline to treble": 1.0, "centreline to bass": -1.0}.get(column)
                if column == "from centreline":
                    side = -1.0 if "bass" in row[place] else 1.0
                if side is not None and row[place]:
                    found[row[0] if column == "from centreline" else row[place - 1]] = (
                        along,
                        side * mm(row[place]),
                        float(bit[1]),
                    )
    return found


@pytest.mark.parametrize("name", NAMES)
def test_the_cards_drill_the_planned_head(name: str) -> None:
    """The head sawn to its drawing and drilled by its cards is the planned one: no wood but a hundredth beside a hole differs."""
    made = planned(name)
    assert made.head is not None
    outline = list(shapely.Polygon(outline_of(name, "head.dxf")).normalize().exterior.coords)[::-1]
    thick = made.head.high - made.head.low
    holes = drilled(name, "Drill the tuner holes") | drilled(name, "Drill the string trees")
    assert len(holes) == len(made.head.features.bores)
    printed, wanted = (
        Manifold.extrude(CrossSection([outline]), thick)
        - Manifold.batch_boolean(
            [
                Manifold.cylinder(thick, diameter / 2, circular_segments=256).translate((x, y, 0.0))
                for x, y, diameter in each
            ],
            OpType.Add,
        )
        for each in (
            [(-along, made.layout.treble * across, bit) for along, across, bit in holes.values()],
            [(bore.at.x, bore.at.y, bore.widest) for bore in made.head.features.bores],
        )
    )
    differs = (printed - wanted).volume() + (wanted - printed).volume()
    rims = sum(3.1416 * bore.widest * thick for bore in made.head.features.bores)
    assert 0 < wanted.volume() < CrossSection([outline]).area() * thick
    assert differs <= rims * WITHIN


@pytest.mark.parametrize("name", NAMES)
def test_the_listed_frets_play_in_tune(name: str) -> None:
    """A board slotted by its list alone: every note of the outer strings is a semitone from the last, by their lengths.

    One hundredth of a millimetre is 0.1 cents at the 22nd fret.
    """
    made = planned(name)
    ring = shapely.Polygon(outline_of(name, "board.dxf"))
    slots = list(_slots(name, ring, made.layout.treble))
    assert len(slots) == len(made.layout.frets)
    for no in (0, -1):
        string, scale = made.layout.strings[no], made.layout.strings[no].scale
        start = (string.nut.x, string.nut.y)
        end = (string.saddle.x - string.setback, string.saddle.y)
        thread = shapely.LineString([start, end])
        whole = hypot(end[0] - start[0], end[1] - start[1])
        assert whole == pytest.approx(scale, abs=0.25)  # a scale is counted along the centreline
        for fret, slot in enumerate(slots, start=1):
            place = thread.intersection(slot)
            left = 1 - hypot(place.x - start[0], place.y - start[1]) / whole
            assert -1200 * log2(left) == pytest.approx(100 * fret, abs=0.2), (string.no, fret)


def _slots(name: str, board: shapely.Polygon, treble: int) -> list[shapely.LineString]:
    """Every slot as the lists have it set out on a board: square from the nut, or aslant between the edges' own places."""
    edges = {
        side: board.exterior.intersection(
            shapely.box(-99, 0, 9999, 99) if side * treble > 0 else shapely.box(-99, -99, 9999, 0)
        )
        for side in (1, -1)
    }

    def at(along: float, side: int) -> tuple[float, float]:
        return along, float(
            shapely.intersection(edges[side], shapely.LineString([(along, -99), (along, 99)])).centroid.y
        )

    rows = {
        kind: [
            row
            for _, table in tables(name, "sheets.pdf")
            if table[0][0] == "Fret" and kind in table[0][1]
            for row in table[1:]
        ]
        for kind in ("Treble edge", "From nut")
    }
    if rows["Treble edge"]:
        return [shapely.LineString([at(mm(row[1]), 1), at(mm(row[2]), -1)]) for row in rows["Treble edge"]]
    return [
        shapely.LineString([(mm(row[1]), -99), (mm(row[1]), 99)])
        for row in rows["From nut"]
        if row[0] != "nut"
    ]
