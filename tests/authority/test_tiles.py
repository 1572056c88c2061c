"""Full-size pages against the standards and against a rule laid on the print, read back with pdfplumber."""

import io
import itertools
import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

import pdfplumber
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from scribeline.drawing import pdf
from scribeline.drawing.block import Caption
from scribeline.drawing.drafting import exploded
from scribeline.drawing.extent import bounds
from scribeline.drawing.joins import join, letters
from scribeline.drawing.marks import awl_mark, datum, notice
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.sheet import (
    CUT,
    DIMENSION,
    OUTLINE,
    Circle,
    Clip,
    Dimension,
    Hatch,
    Item,
    Leader,
    Line,
    Path,
    Point,
    RoundDimension,
    Sheet,
    Text,
)
from scribeline.drawing.table import table
from scribeline.drawing.templates import template_sheets
from scribeline.drawing.tiles import split, tile
from scribeline.findings import TAGS
from scribeline.job import parse_job
from scribeline.plan import Plan, plan
from scribeline.scenario import examples as shipped
from scribeline.steps import balloon
from scribeline.tables.paper import Roll

from ..torture import examples

PT_PER_MM = 72 / 25.4
BAR_MM = 0.02
CENTRE_MM = 0.02

CAPTION = Caption(
    job="Trial body 4",
    title="Front template",
    revision="B",
    date="2026-03-01",
    hand="left-handed",
    view="seen from the front",
    datum="bridge-side face of the 12th fret",
    kind="template",
    cautions=("Check the marks against their numbers before drilling.",),
)
EXTENT = (320.0, -180.0, 800.0, 180.0)
CENTRES = [(330.25 + 23.4 * n, -170 + 17.1 * n) for n in range(20)]
DRAWING: tuple[Item, ...] = (
    Path(OUTLINE, ((322, -178), (798, -178), (798, 178), (322, 178)), closed=True),
    *(Circle(CUT, centre, 4.1, f"bore-{n}") for n, centre in enumerate(CENTRES)),
    Dimension(DIMENSION, (324, 0), (648, 0), (500, -60), "324.00 mm", "12 3/4 in (+0.15)", "x", height=5),
)
PAPERS: list[Any] = ["A4", "Letter", "A3", "A2", "A1", "A0", "Legal", Roll(610), Roll(914.4)]


def opened(sheets: Iterable[Sheet]) -> Any:
    return pdfplumber.open(io.BytesIO(pdf.write(tuple(sheets), title="t")))


def lines_mm(page: Any) -> list[tuple[float, float, float, float]]:
    return [tuple(v / PT_PER_MM for v in (ln["x0"], ln["y0"], ln["x1"], ln["y1"])) for ln in page.lines]


def bars(page: Any) -> tuple[list[float], list[float]]:
    """Lengths of the level and the upright lines that lie in the page's margins and are bar-like."""
    found = lines_mm(page)
    across = [x1 - x0 for x0, y0, x1, y1 in found if y1 - y0 < 0.001 and y0 < 11 and 90 < x1 - x0 < 210]
    up = [y1 - y0 for x0, y0, x1, y1 in found if x1 - x0 < 0.001 and x0 < 11 and 90 < y1 - y0 < 210]
    return across, up


def circles_mm(page: Any, diameter: float) -> list[Point]:
    return [
        ((c["x0"] + c["x1"]) / 2 / PT_PER_MM, (c["y0"] + c["y1"]) / 2 / PT_PER_MM)
        for c in page.curves
        if abs((c["x1"] - c["x0"]) / PT_PER_MM - diameter) < 0.01
        and abs((c["y1"] - c["y0"]) / PT_PER_MM - diameter) < 0.01
    ]


def grid_mm(page: Any) -> dict[Point, Point]:
    """Where the page prints the crosses: the drawing's coordinates on the label, then the page's."""
    level = [ln for ln in lines_mm(page) if ln[3] - ln[1] < 1e-3 and abs(ln[2] - ln[0] - 8) < 1e-3]
    upright = [ln for ln in lines_mm(page) if ln[2] - ln[0] < 1e-3 and abs(ln[3] - ln[1] - 8) < 1e-3]
    crosses = [
        ((a[0] + a[2]) / 2, (b[1] + b[3]) / 2)
        for a, b in itertools.product(level, upright)
        if abs((a[0] + a[2]) / 2 - b[0]) < 1e-3 and abs((b[1] + b[3]) / 2 - a[1]) < 1e-3
    ]
    places = {}
    for word in page.search(r"x ([−\d]+) +y ([−\d]+)( in)?"):
        *figures, inches = word["groups"]
        label = tuple(float(group.replace("−", "-")) * (25.4 if inches else 1.0) for group in figures)
        left, right = word["x0"] / PT_PER_MM, word["x1"] / PT_PER_MM
        middle = (page.height - (word["top"] + word["bottom"]) / 2) / PT_PER_MM
        near = [
            cross
            for cross in crosses
            if abs(cross[1] - middle) < 5 and min(abs(cross[0] - left), abs(cross[0] - right)) < 3
        ]
        assert len(near) == 1, f"label {label} has {len(near)} crosses beside it"
        places[label] = near[0]
    return places  # type: ignore[return-value]  # two groups make a point


# Paper


def iso_216_a(n: int) -> tuple[int, int]:
    """ISO 216: A0 is 841 x 1189 mm; each size is the one before with its long side halved, rounded down."""
    short, long = 841, 1189
    for _ in range(n):
        short, long = long // 2, short
    return short, long


@pytest.mark.parametrize("n", range(5))
def test_pages_are_iso_216_sheets(n: int) -> None:
    with opened(tile(DRAWING, EXTENT, CAPTION, paper=f"A{n}")) as document:
        for page in document.pages:
            size = sorted((page.width / PT_PER_MM, page.height / PT_PER_MM))
            assert size == pytest.approx(iso_216_a(n), abs=0.01)


def test_letter_is_8_5_by_11_inches() -> None:
    with opened(tile(DRAWING, EXTENT, CAPTION, paper="Letter")) as document:
        size = sorted((document.pages[0].width / 72, document.pages[0].height / 72))
        assert size == pytest.approx((8.5, 11), abs=0.001)


def test_a_roll_is_one_sheet_of_its_width() -> None:
    for width in (610.0, 914.4):
        (sheet,) = tile(DRAWING, EXTENT, CAPTION, paper=Roll(width))
        assert width in {sheet.width, sheet.height}


# Measuring bars


@pytest.mark.parametrize("paper", PAPERS, ids=str)
def test_bars_measure_a_round_figure_on_both_axes_of_every_page(paper: Any) -> None:
    """200 mm on ISO paper and rolls sold by the millimetre, 8 in of 25.4 mm on the US sheets."""
    by_inches = paper in {"Letter", "Legal"}
    length, words = (8 * 25.4, "8 in / 203.2 mm") if by_inches else (200, "200 mm")
    with opened(tile(DRAWING, EXTENT, CAPTION, paper=paper)) as document:
        for page in document.pages:
            across, up = bars(page)
            assert across == [pytest.approx(length, abs=BAR_MM)]
            assert up == [pytest.approx(length, abs=BAR_MM)]
            assert page.extract_text().replace("\xa0", " ").count(f"{words}: measure me") >= 1


def test_ticks_and_grid_of_inch_paper_are_round_on_an_inch_rule() -> None:
    """A tick every half inch, 7 in between the inner long ones, a quarter of an inch of white, crosses 4 in apart."""
    in_inches = replace(CAPTION, unit="in")
    with opened(tile(DRAWING, EXTENT, in_inches, paper="Letter")) as document:
        for page in document.pages:
            ticks = sorted(
                ln[0] / 25.4
                for ln in lines_mm(page)
                if abs(ln[0] - ln[2]) < 1e-3 and abs(ln[1] - 10.5) < 0.01 and ln[3] - ln[1] < 6
            )
            assert [b - a for a, b in itertools.pairwise(ticks)] == pytest.approx([0.5] * 16, abs=0.001)
            assert ticks[0] >= 0.24
            assert ticks[-1] <= page.width / 72 - 0.24
            labelled = grid_mm(page)
            for a, b in itertools.combinations(labelled, 2):
                apart = math.dist(labelled[a], labelled[b]) / 25.4
                assert apart == pytest.approx(math.dist(a, b), abs=0.001)
            assert all(x % 4 == 0 and y % 4 == 0 for x, y in labelled)


def test_ticks_stand_every_10_mm_and_inside_the_paper() -> None:
    with opened(tile(DRAWING, EXTENT, CAPTION)) as document:
        for page in document.pages:
            for axis, (foot, side) in enumerate(((10.5, page.width), (10.5, page.height))):
                ticks = sorted(
                    ln[axis]
                    for ln in lines_mm(page)
                    if abs(ln[axis] - ln[axis + 2]) < 1e-3
                    and abs(ln[1 - axis] - foot) < 0.01
                    and ln[3 - axis] - ln[1 - axis] < 6
                )
                assert len(ticks) == 21
                steps = [b - a for a, b in itertools.pairwise(ticks)]
                assert steps == pytest.approx([10] * 20, abs=0.01)
                assert ticks[-1] - ticks[0] == pytest.approx(200, abs=BAR_MM)
                assert ticks[-2] - ticks[1] == pytest.approx(180, abs=BAR_MM)
                # Most desk printers print to about 4 to 5 mm from the edge (common practice, no source).
                assert ticks[0] >= 4
                assert ticks[-1] <= side / PT_PER_MM - 4


def test_paper_too_short_for_200_mm_says_the_length_of_its_bar() -> None:
    sheets = tile(DRAWING, EXTENT, CAPTION, paper="A5")
    said = [text.text.replace("\xa0", " ") for text in texts(sheets[0].items) if "measure me" in text.text]
    with opened(sheets) as document:
        for page in document.pages:
            (across,), (up,) = bars(page)
            assert [
                f"{length:.0f} mm: measure me" in words
                for length, words in zip((across, up), said, strict=True)
            ] == [True, True]
            assert min(across, up) == pytest.approx(100, abs=BAR_MM)


def test_a_corrected_print_measures_200_mm_from_the_printer_it_is_for() -> None:
    """A printer that prints 98.7 % across and 99.9 % up makes the corrected bars true again."""
    printer = (0.987, 0.999)
    sheets = tile(DRAWING, EXTENT, CAPTION, correction=(1 / printer[0], 1 / printer[1]))
    with opened(sheets) as document:
        for page in document.pages:
            (across,), (up,) = bars(page)
            assert across * printer[0] == pytest.approx(200, abs=BAR_MM)
            assert up * printer[1] == pytest.approx(200, abs=BAR_MM)
            assert "prints x 0.9870, y 0.9990" in page.extract_text()


# The drawing on its pages


@pytest.mark.parametrize("paper", PAPERS, ids=str)
def test_every_hole_is_on_some_page_at_its_place_by_the_grid(paper: Any) -> None:
    """Hole centres measured from each printed cross, by its label, on every page that shows the hole."""
    seen: dict[int, int] = dict.fromkeys(range(len(CENTRES)), 0)
    with opened(tile(DRAWING, EXTENT, CAPTION, paper=paper)) as document:
        for page in document.pages:
            crosses = grid_mm(page)
            assert crosses
            for centre in circles_mm(page, 8.2):
                places = [
                    (label[0] + centre[0] - at[0], label[1] + centre[1] - at[1])
                    for label, at in crosses.items()
                ]
                found = {n for n, c in enumerate(CENTRES) if math.dist(c, places[0]) < CENTRE_MM}
                assert len(found) == 1
                n = found.pop()
                seen[n] += 1
                assert all(math.dist(place, CENTRES[n]) < CENTRE_MM for place in places)
    assert all(seen.values())


def test_a_hole_across_a_join_stands_on_both_pages_at_one_place() -> None:
    """The holes fill the drawing so closely that no join misses them all."""
    centres = [(10.0 * i, 10.0 * j) for i in range(1, 40) for j in range(1, 30)]
    holes = tuple(Circle(CUT, centre, 4.9) for centre in centres)
    shown: dict[Point, int] = {}
    with opened(tile(holes, (0, 0, 400, 300), CAPTION)) as document:
        assert len(document.pages) > 1
        for page in document.pages:
            label, at = next(iter(grid_mm(page).items()))
            for x, y in circles_mm(page, 9.8):
                place = (round(label[0] + x - at[0], 1), round(label[1] + y - at[1], 1))
                assert math.dist(place, (label[0] + x - at[0], label[1] + y - at[1])) < CENTRE_MM
                shown[place] = shown.get(place, 0) + 1
    assert set(shown) == set(centres)
    assert max(shown.values()) >= 2


@settings(max_examples=examples(60), deadline=None)
@given(
    low=st.tuples(st.floats(-900, 900), st.floats(-900, 900)),
    size=st.tuples(st.floats(1, 1400), st.floats(1, 1400)),
    shares=st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1)), min_size=1, max_size=12),
    paper=st.sampled_from(["A4", "Letter", "A3", "A1"]),
)
def test_every_point_of_the_drawing_is_on_some_page(
    low: Point, size: Point, shares: list[Point], paper: str
) -> None:
    extent = (*low, low[0] + size[0], low[1] + size[1])
    points = [(low[0] + sx * size[0], low[1] + sy * size[1]) for sx, sy in shares]
    dots = [Circle(CUT, point, 0.01) for point in points]
    tiling = split(dots, extent, CAPTION, paper=paper)
    for x, y in points:
        assert any(
            page.window[0] <= x <= page.window[2] and page.window[1] <= y <= page.window[3]
            for page in tiling.tiles
        )
    for one, other in itertools.combinations(tiling.tiles, 2):
        # Rows count downwards from the top, columns to the right; neighbours share exactly the overlap.
        if (one.row, one.column + 1) == (other.row, other.column):
            assert one.window[2] - other.window[0] == pytest.approx(10, abs=1e-6)
        if (one.row + 1, one.column) == (other.row, other.column):
            assert other.window[3] - one.window[1] == pytest.approx(10, abs=1e-6)


def test_blank_pages_are_left_out_and_the_page_says_so() -> None:
    corners = (Circle(CUT, (5, 5), 4), Circle(CUT, (995, 695), 4))
    sheets = tile(corners, (0, 0, 1000, 700), CAPTION)
    assert len(sheets) == 2
    with opened(sheets) as document:
        for number, page in enumerate(document.pages, start=1):
            text = page.extract_text()
            assert f"Sheet {number} of 2" in text
            assert "blank and left out" in text


def test_upright_or_lying_whichever_takes_fewer_pages() -> None:
    tall = (Path(OUTLINE, ((0, 0), (135, 0), (135, 400), (0, 400)), closed=True),)
    wide = placed(tall, Transform(rotation_deg=90, offset=(400, 0)))
    upright = tile(tall, (0, 0, 135, 400), CAPTION)
    lying = tile(wide, (0, 0, 400, 135), CAPTION)
    assert upright[0].width < upright[0].height
    assert lying[0].width > lying[0].height
    assert len(upright) == len(lying) == 2


def test_both_pages_of_a_join_carry_its_letters() -> None:
    with opened(tile(DRAWING, EXTENT, CAPTION)) as document:
        texts = [page.extract_text() for page in document.pages]
    names = {name for text in texts for name in re.findall(r"\b[A-Z]+[ab]\b", text)}
    assert names
    for name in names:
        assert sum(bool(re.search(rf"\b{name}\b", text)) for text in texts) == 2


def test_no_join_is_called_like_a_hole(shipped_plan: Plan) -> None:
    """Both stand on one page: a join has two letters or more and no figure, a hole a letter with a figure or by itself."""
    marks = join((0.0, 0.0), (0.0, 200.0), letters(2), 10.0, ())
    called = {item.text for item in marks if isinstance(item, Text)}
    assert called == {"Ca", "Cb"}
    holes = {balloon(bore.id) for bore in shipped_plan.features.bores}
    assert {"C1", "J", "S6"} <= holes
    assert all(re.fullmatch(r"[A-Z]\d*", name) for name in holes)


def test_join_letters_skip_what_reads_as_a_figure() -> None:
    names = [letters(n) for n in range(60)]
    assert (names[0], names[23], names[24], names[47], names[48]) == ("A", "Z", "AA", "AZ", "BA")
    assert len(set(names)) == 60
    assert not any(set(name) & {"I", "O"} for name in names)


def test_a_mirrored_drawing_keeps_the_instruments_coordinates_on_its_grid() -> None:
    back = placed(DRAWING, Transform(mirror="y"))
    sheets = tile(back, EXTENT, CAPTION, coordinates=lambda p: (p[0], -p[1]))
    with opened(sheets) as document:
        for page in document.pages:
            crosses = grid_mm(page)
            for x, y in circles_mm(page, 8.2):
                label, at = next(iter(crosses.items()))
                place = (label[0] + x - at[0], label[1] - (y - at[1]))
                assert min(math.dist(place, c) for c in CENTRES) < CENTRE_MM


def test_pages_of_a_pack_are_numbered_through() -> None:
    sheets = tile(DRAWING, EXTENT, CAPTION, first_sheet=4, sheets=12)
    with opened(sheets) as document:
        assert "Sheet 4 of 12" in document.pages[0].extract_text()
        assert "Sheet 5 of 12" in document.pages[1].extract_text()


def test_paper_too_small_is_refused_with_what_to_do() -> None:
    with pytest.raises(ValueError, match=r"too small for a template: .* Use A4, Letter or larger"):
        tile(DRAWING, EXTENT, CAPTION, paper=(90, 120))


def test_every_page_says_what_it_is() -> None:
    with opened(tile(DRAWING, EXTENT, CAPTION)) as document:
        for page in document.pages:
            text = page.extract_text().replace("\n", " ")
            for words in ("Trial body 4", "revision B", "2026-03-01", "left-handed", "seen from the front"):
                assert words in text
            assert "Print at 100 % (actual size)" in text
            assert "CAUTION" in text


def test_fonts_are_embedded() -> None:
    with opened(tile(DRAWING, EXTENT, CAPTION)) as document:
        objects = [document.doc.getobj(n) for xref in document.doc.xrefs for n in xref.get_objids()]
    descriptors = [o for o in objects if isinstance(o, dict) and "FontName" in o]
    assert len(descriptors) == 2
    assert all("FontFile3" in o for o in descriptors)


# Lettering


def texts(items: Iterable[Item]) -> Iterator[Text]:
    for item in items:
        match item:
            case Text():
                yield item
            case Clip():
                yield from texts(item.items)
            case Dimension() | RoundDimension() | Leader() | Hatch():
                yield from texts(exploded(item))


WORDY = Caption(
    job="A job with a name that goes on for longer than anybody would want to read at a bench, really",
    title="A title just as long as the name of the job it belongs to, if not a good deal longer than it",
    revision="revision twelve",
    date="the first of November 2026",
    hand="left-handed",
    view="seen from the back, body turned about its centreline",
    scale="1:1 (full size)",
    datum="a datum described in so many words that they need two lines of the title block and more " * 2,
    kind="template with instructions",
    cautions=("A long caution " * 12, "Another"),
)


@pytest.mark.parametrize("caption", [CAPTION, WORDY], ids=["plain", "wordy"])
@pytest.mark.parametrize("paper", ["A4", "Letter", "A2"])
def test_template_pages_are_legible_and_their_caption_clears_the_window(caption: Caption, paper: str) -> None:
    for sheet in tile(DRAWING, EXTENT, caption, paper=paper):
        assert min(text.height for text in texts(sheet.items)) >= 2.5
        (clip,) = (item for item in sheet.items if isinstance(item, Clip))
        for text in texts(item for item in sheet.items if not isinstance(item, Clip)):
            box = bounds((text,))
            assert box is not None
            assert box[3] <= clip.window[1] or box[2] <= clip.window[0], text.text
            assert box[0] >= 4
            assert box[1] >= 4
            assert box[2] <= sheet.width - 4


def test_notices_tables_and_marks_are_legible() -> None:
    pieces = [
        *(notice(kind, "Words", (0, 0), 80).items for kind in TAGS.values()),
        table(["No", "Hole"], [["1", "bridge screw"]], (0, 0), [20, 60]).items,
        awl_mark((0, 0), 1.2, "7", balloon_at=(10, 10)),
        datum((0, 0), "A"),
    ]
    for piece in pieces:
        assert min(text.height for text in texts(piece)) >= 2.5


def test_an_awl_mark_leaves_its_middle_white_and_keeps_its_size() -> None:
    marks = awl_mark((10, 20), 1.6)
    assert [m.radius for m in marks if isinstance(m, Circle)] == [1.6]
    ends = [end for m in marks if isinstance(m, Line) for end in (m.a, m.b)]
    assert min(math.dist(end, (10, 20)) for end in ends) > 0.5


@pytest.mark.parametrize("name", ["angled-head", "seven-strings-fanned", "bass-five-string"])
def test_a_fingerboard_strip_is_joined_between_its_frets(name: str) -> None:
    """Cut along the dotted line, no slot is cut, straight or slanted: at least 3 mm lie between."""
    pages = [
        sheet
        for sheet in template_sheets(plan(*parse_job(shipped()[name].text)))
        if "Fingerboard strip" in sheet.name
    ]
    assert len(pages) > 1
    for page in pages:
        inside = [item for each in page.items if isinstance(each, Clip) for item in each.items]
        drawn = [item for item in (*page.items, *inside) if isinstance(item, Line)]
        slots = [
            shapely.LineString([item.a, item.b])
            for item in drawn
            if item.ref.startswith("fret-") and abs(item.a[1] - item.b[1]) > 25
        ]
        joins = [shapely.LineString([item.a, item.b]) for item in drawn if item.layer.name == "join"]
        assert slots
        assert joins
        assert min(slot.distance(cut) for slot in slots for cut in joins) > 3.0
