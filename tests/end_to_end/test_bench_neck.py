"""A neck's holes and frets made from paper alone: what its cards and lists say is done to plain wood, and what comes out is held
to the plan and to the ear.
"""

from __future__ import annotations

import io
import re
from functools import cache
from math import cos, hypot, log2, radians, sqrt, tan

import pdfplumber
import pytest
import shapely
from ezdxf.filemanagement import read as read_dxf
from manifold3d import CrossSection, Manifold, OpType

from scribeline.drawing.pack import draw
from scribeline.job import parse_job
from scribeline.layout import nut_made
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


@pytest.mark.parametrize("name", NAMES)
def test_a_board_sawn_in_a_jig_by_its_stops_plays_in_tune(name: str) -> None:
    """Every stop set from the nut by the list, the blank turned as told, the kerf cut beyond the stop: its middle is where each
    note of the outer strings is a semitone from the last. A turn is told to a tenth of a degree: 0.03 mm at a wide board's edge.
    """
    made = planned(name)
    (kerf,) = figures(paper(name, "sheets.pdf"), r"the saw cuts ([\d.]+) mm wide")
    rows = [
        (table[0], row)
        for _, table in tables(name, "sheets.pdf")
        if table[0][0] == "Fret" and "Slot's middle" in " ".join(table[0][1].split())
        for row in table[1:]
    ]
    assert [row[0] for _, row in rows] == [str(fret.n) for fret in made.layout.frets]
    for no in (0, -1):
        string, scale = made.layout.strings[no], made.layout.strings[no].scale
        aside = (string.saddle.y - string.nut.y) / (string.saddle.x - string.setback - string.nut.x)
        for fret, (head, row) in enumerate(rows, start=1):
            assert "Stop" in head[2]
            turn = radians(mm(row[3].replace("+", ""))) if made.layout.is_fanned else 0.0
            middle, slope = mm(row[2]) + kerf / 2 / cos(turn), tan(turn) * made.layout.treble
            # Where the slot's line crosses the string's: x = middle + slope · y, y = y at the nut + aside · (x − x at the nut).
            x = (middle + slope * (string.nut.y - aside * string.nut.x)) / (1 - slope * aside)
            assert middle == pytest.approx(mm(row[1]), abs=WITHIN)
            left = 1 - (x - string.nut.x) / scale
            assert -1200 * log2(left) == pytest.approx(100 * fret, abs=0.5), (string.no, fret)


def _fret_rows(name: str) -> dict[str, list[list[str]]]:
    """The rows of the frets' lists, of those told between the board's edges and of those told from the nut."""
    return {
        kind: [
            row
            for _, table in tables(name, "sheets.pdf")
            if table[0][0] == "Fret" and kind in table[0][1]
            for row in table[1:]
        ]
        for kind in ("Treble edge", "From nut")
    }


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

    rows = _fret_rows(name)
    if rows["Treble edge"]:
        return [shapely.LineString([at(mm(row[1]), 1), at(mm(row[2]), -1)]) for row in rows["Treble edge"]]
    return [
        shapely.LineString([(mm(row[1]), -99), (mm(row[1]), 99)])
        for row in rows["From nut"]
        if row[0] != "nut"
    ]


AIRY = 1.0
"""A cut is carried on outside the blank by this much, mm."""


@cache
def paper(name: str, file: str) -> str:
    """All the words of a file in one line."""
    with pdfplumber.open(io.BytesIO(packed(name)[file])) as book:
        return " ".join(" ".join((page.extract_text() or "").split()) for page in book.pages)


def figures(text: str, words: str) -> tuple[float, ...]:
    """The numbers that stand in the first place that reads like these words."""
    found = re.search(words, text)
    assert found is not None, words
    return tuple(map(float, found.groups()))


def listed_slots(name: str) -> dict[int, list[float]]:
    """The list of the nut's slots: along, width, floor, below the blank and the top, fall, and its string over fret 1."""
    return {
        int(row[0].split()[0]): [mm(cell) for cell in row[1:]]
        for _, table in tables(name, "sheets.pdf")
        if table[0][0] == "String" and "along" in table[0][1]
        for row in table[1:]
    }


@pytest.mark.parametrize("name", NAMES)
def test_a_nut_slotted_by_its_list_holds_the_strings_as_planned(name: str) -> None:
    """A blank of the printed size, sawn along its front by the list and filed down to it: then measured as a builder does.

    Feelers on the board under every slot, wood between the strings, and the strings over the first fret by similar triangles:
    the nut over a parabola of the printed relief, the printed action over the 12th. Nothing is asked of the plan but at the end.
    """
    sheets, cards, slots = paper(name, "sheets.pdf"), paper(name, "steps.pdf"), listed_slots(name)
    long, thick, high, seat = figures(
        sheets,
        r"Blank ([\d.]+) mm long, ([\d.]+) mm thick and ([\d.]+) mm high, its underside ([\d.]+) mm below",
    )
    (feelers,) = figures(cards, r"Stack feelers to ([\d.]+) mm on the board")
    (radius,) = figures(cards, r"arch the board to a radius of ([\d.]+) mm")
    nut = Manifold.cube((thick, long, high))
    for along, width, floor, _, _, fall, _ in slots.values():
        nut -= _sawn(thick, along, width, floor, radians(fall), high)
    assert len(nut.decompose()) == 1
    leaning = re.search(r"Its front is ([\d.]+) mm long and leans ([\d.]+)°", sheets)
    front, turn = (long, 0.0) if leaning is None else (float(leaning[1]), radians(float(leaning[2])))
    for no, (along, _, _, from_blank, _, fall, _) in slots.items():
        at_front, at_back = (_floor(nut, x, along) for x in (0.0, thick))
        assert high - at_front == pytest.approx(from_blank, abs=2 * WITHIN)
        assert at_front - at_back == pytest.approx(thick * tan(radians(fall)), abs=1e-4)
        # The board's face under the slot lies lower than in its middle by its arch: the feelers go under every string alike.
        aside = (along - front / 2) * cos(turn)
        board = seat - (radius - sqrt(radius**2 - aside**2))
        assert at_front - board == pytest.approx(feelers, abs=0.03 if turn else 2 * WITHIN), no
    _spaced(name, slots)
    _over_the_first_fret(name, slots, feelers)
    made = nut_made(planned(name).job.document, planned(name).layout)
    assert made is not None
    wanted = {slot.string: (slot.along, slot.width, slot.over_first) for slot in made.slots}
    assert {no: (row[0], row[1], row[6]) for no, row in slots.items()} == {
        no: pytest.approx(each, abs=WITHIN) for no, each in wanted.items()
    }


def _sawn(thick: float, along: float, width: float, floor: float, fall: float, high: float) -> Manifold:
    """A slot's room: as wide as the saw, its floor falling from the front to the back, open above."""
    low = (floor + AIRY * tan(fall), floor - (thick + AIRY) * tan(fall))
    side = CrossSection(
        [[(-AIRY, low[0]), (thick + AIRY, low[1]), (thick + AIRY, high + AIRY), (-AIRY, high + AIRY)]]
    )
    return side.extrude(width).rotate((90.0, 0.0, 0.0)).translate((0.0, along + width / 2, 0.0))


def _floor(nut: Manifold, x: float, along: float) -> float:
    """How high the wood stands in the middle of a slot, at the front or the back, mm: of what is left over a needle's point."""
    needle = Manifold.cube((1e-4, 1e-4, 99.0)).translate((min(max(x - 5e-5, 0.0), x), along, -1.0))
    return float((nut ^ needle).bounding_box()[5])


def _spaced(name: str, slots: dict[int, list[float]]) -> None:
    """Equal gaps, as the list says: between neighbouring strings' sides is as much room everywhere."""
    gauges = {
        int(row[0].split()[0]): mm(row[1])
        for _, table in tables(name, "sheets.pdf")
        if table[0][0] == "String" and table[0][1].startswith("Gauge")
        for row in table[1:]
    }
    assert "slots by equal gaps" in paper(name, "sheets.pdf")
    gaps = [
        slots[no][0] - slots[no + 1][0] - (gauges[no] + gauges[no + 1]) / 2 for no in range(1, len(slots))
    ]
    turned = planned(name).layout.is_fanned  # a slanted nut crosses its strings aslant
    assert max(gaps) - min(gaps) < (0.2 if turned else 3 * WITHIN)
    for no, gauge in gauges.items():
        assert 0 < slots[no][1] - gauge < 0.12


def _over_the_first_fret(name: str, slots: dict[int, list[float]], feelers: float) -> None:
    """The outer strings' height over the first fret, by the printed action and relief."""
    cards, sheets = paper(name, "steps.pdf"), paper(name, "sheets.pdf")
    treble, bass, relief, straight = figures(
        cards,
        r"at pitch, ([\d.]+) mm \(string 1\) to ([\d.]+) mm \(string \d+\) over the 12th fret and ([\d.]+) mm of relief up to "
        r"fret (\d+)",
    )
    told = figures(cards, r"over the first fret by ([\d.]+) mm \(string 1\) to ([\d.]+) mm")
    (crown,) = figures(sheets, r"a fret's crown over the board ([\d.]+) mm")
    for no, action, said in zip((1, len(slots)), (treble, bass), told, strict=True):
        frets = _own_frets(name, outer=0 if no == 1 else 1)
        end = frets[int(straight)]
        bow = [4 * relief * (1 - min(frets[n], end) / end) ** 2 for n in (0, 1, 12)]
        at_nut = bow[0] + feelers - crown
        rise = (bow[2] + action - at_nut) / frets[12]
        over = at_nut + rise * frets[1] - bow[1]
        assert over == pytest.approx(said, abs=2 * WITHIN)
        assert slots[no][6] == said


def _own_frets(name: str, *, outer: int) -> dict[int, float]:
    """Distances of the frets from the nut under an outer string, as listed: the treble's or the bass's."""
    rows = _fret_rows(name)
    if rows["Treble edge"]:
        return {0: 0.0} | {int(row[0]): mm(row[3 + outer]) for row in rows["Treble edge"]}
    return {0 if row[0] == "nut" else int(row[0]): mm(row[1]) for row in rows["From nut"]}
