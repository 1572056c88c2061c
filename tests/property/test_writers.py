"""Every mark through every writer, read back by a reader that is not ours.

SVG is read with svgelements, DXF with ezdxf's reader and audit, PDF with pdfplumber. Paper is held to
0.01 mm, DXF to 0.001 mm.
"""

import io
import math
import subprocess
import sys
import xml.etree.ElementTree as ET
from itertools import pairwise
from typing import Any

import ezdxf
import pdfplumber
import pytest
import svgelements
from hypothesis import given, settings
from hypothesis import strategies as st

from scribeline.drawing import dxf, pdf, svg
from scribeline.drawing.drafting import dimension_line, exploded, hatch_lines
from scribeline.drawing.face import missing_glyphs, text_width, wrap
from scribeline.drawing.sheet import (
    CENTRE,
    CUT,
    DIMENSION,
    HATCHING,
    HIDDEN,
    LETTERING,
    OUTLINE,
    PHANTOM,
    TAG,
    Arc,
    Circle,
    Clip,
    Dimension,
    Fill,
    Hatch,
    Item,
    Layer,
    Leader,
    Line,
    Path,
    RoundDimension,
    Sheet,
    Text,
)

from ..torture import examples

PAPER_MM = 0.01
DXF_MM = 0.001
PT_PER_MM = 72 / 25.4

SQUARE = ((130.0, 60.0), (180.0, 60.0), (180.0, 90.0), (130.0, 90.0))
HOLE = ((145.0, 70.0), (165.0, 70.0), (165.0, 80.0), (145.0, 80.0))
MARKS: tuple[Item, ...] = (
    Line(OUTLINE, (10, 10), (110, 12.5), ref="edge"),
    Line(CENTRE, (30, 60), (90, 60)),
    Line(PHANTOM, (10, 120), (110, 120)),
    Circle(CUT, (60.123, 60.456), 20.2, ref="bore-1"),
    Arc(CUT, (60, 60), 30, 20, 250, ref="arc"),
    Path(HIDDEN, ((10, 20), (110, 20), (110, 110), (10, 110)), closed=True, ref="pocket"),
    Path(OUTLINE, ((12, 22), (50, 25), (80, 40))),
    Text(LETTERING, (60, 130), "9/16 in <Ø 8 & more>", 3.5, "middle", ref="note"),
    Text(LETTERING, (5, 60), "upwards", 5, "start", 90, bold=True),
    Dimension(DIMENSION, (10, 10), (110, 30), (60, 2), "100.00 mm", "3 15/16 in (−0.02)", "x", ref="d1"),
    Dimension(DIMENSION, (110, 10), (110, 110), (125, 0), "100.00 mm", "", "y", height=5),
    Dimension(DIMENSION, (150, 10), (180, 50), (140, 20), "50.00 mm", "1 31/32 in"),
    RoundDimension(DIMENSION, (60, 60), 20, "diameter", 30, "Ø 40.00 mm", "1 9/16 in", ref="bore-1"),
    RoundDimension(DIMENSION, (60, 60), 30, "radius", 150, "R 30.00 mm"),
    Leader(DIMENSION, (60, 60), (80, 160), "this one", "and no other"),
    Hatch(HATCHING, (SQUARE, HOLE), 45, 2.5, ref="section"),
    Fill(TAG, (((130, 120), (150, 120), (150, 128), (130, 128)),)),
    Text(TAG, (140, 122), "STOP", 4, "middle", bold=True, white=True),
)
SHEET = Sheet("every mark", 200, 180, MARKS)
CLIPPED = Clip((130, 140, 180, 170), (Circle(CUT, (155, 140), 20), Text(LETTERING, (131, 150), "window", 5)))
PAPER = Sheet("on paper", 200, 180, (*MARKS, CLIPPED))
# The instrument frame runs below zero: the sheet's corner is not its origin.
SHIFTED = Sheet("shifted", 200, 180, (Circle(CUT, (-80.25, -12.5), 4.05),), origin=(-100.0, -90.0))


# SVG, read with svgelements


def read_svg(sheet: Sheet) -> svgelements.SVG:
    # 25.4 units to the inch makes svgelements' pixel a millimetre.
    return svgelements.SVG.parse(io.BytesIO(svg.write(sheet)), reify=True, ppi=25.4)


def svg_circles(sheet: Sheet) -> list[tuple[float, float, float]]:
    """Centres (y up, from the page's lower left corner) and radii."""
    found = [e for e in read_svg(sheet).elements() if isinstance(e, svgelements.Circle)]
    return [(float(c.cx), sheet.height - float(c.cy), float(c.rx)) for c in found]


def test_svg_page_has_its_size_in_millimetres() -> None:
    root = ET.fromstring(svg.write(SHEET))
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("200mm", "180mm", "0 0 200 180")
    page = read_svg(SHEET)
    assert (page.width, page.height) == pytest.approx((200, 180), abs=PAPER_MM)


def test_svg_circles_are_circles_at_true_size() -> None:
    assert svg_circles(SHEET) == [pytest.approx((60.123, 60.456, 20.2), abs=PAPER_MM)]
    assert svg_circles(SHIFTED) == [pytest.approx((19.75, 77.5, 4.05), abs=PAPER_MM)]


def test_svg_arc_runs_counter_clockwise_between_its_angles() -> None:
    (arc,) = (
        e
        for e in read_svg(SHEET).elements()
        if isinstance(e, svgelements.Path) and any(isinstance(s, svgelements.Arc) for s in e)
    )
    on_arc = [arc.point(n / 20) for n in range(21)]
    angles = [math.degrees(math.atan2(180 - p.y - 60, p.x - 60)) % 360 for p in on_arc]
    assert [math.hypot(p.x - 60, 180 - p.y - 60) for p in on_arc] == pytest.approx([30] * 21, abs=PAPER_MM)
    # 0.01 mm at a radius of 30 mm is 0.02 degrees.
    assert (angles[0], angles[-1]) == pytest.approx((20, 250), abs=0.02)
    assert all(a < b for a, b in pairwise(angles))


def test_svg_paths_and_their_features() -> None:
    outlines = {e.get("data-ref"): e for e in ET.fromstring(svg.write(SHEET)).iter() if e.get("data-ref")}
    assert {"edge", "bore-1", "arc", "pocket", "note", "d1", "section"} <= outlines.keys()
    path = svgelements.Path(outlines["pocket"].get("d"))
    corners = [(s.end.x, 180 - s.end.y) for s in path]
    assert corners == [(10, 20), (110, 20), (110, 110), (10, 110), (10, 20)]
    assert isinstance(path[-1], svgelements.Close)


def test_svg_text_is_text() -> None:
    texts = [e for e in read_svg(SHEET).elements() if isinstance(e, svgelements.Text)]
    words = {t.text for t in texts}
    assert {"9/16 in <Ø 8 & more>", "upwards", "STOP", "100.00 mm", "3 15/16 in (−0.02)"} <= words


def test_svg_has_one_group_per_layer_with_its_line() -> None:
    groups = [
        g
        for g in ET.fromstring(svg.write(SHEET)).findall("{http://www.w3.org/2000/svg}g")
        if g.get("data-layer")
    ]
    names = [g.get("data-layer") for g in groups]
    assert len(names) == len(set(names))
    assert names[0] == "hatching"
    assert names[-1] == "tag"
    lines = {g.get("data-layer"): (g.get("stroke-width"), g.get("stroke-dasharray")) for g in groups}
    # ISO 128-2: dashes of 12 line widths, long dashes of 24, gaps of 3.
    assert lines["outline"] == ("0.35", None)
    assert lines["hidden"] == ("0.25", "3 0.75")
    assert lines["centre"][1].split()[:2] == ["4.32", "0.54"]  # type: ignore[union-attr]  # read from a dashed line


# DXF, read with ezdxf


@pytest.fixture(scope="module")
def drawing(tmp_path_factory: pytest.TempPathFactory) -> Any:
    path = tmp_path_factory.mktemp("dxf") / "marks.dxf"
    path.write_bytes(dxf.write(SHEET))
    return ezdxf.readfile(path)  # type: ignore[attr-defined]  # ezdxf re-exports it without saying so


def test_dxf_passes_the_audit(drawing: Any) -> None:
    audit = drawing.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    assert drawing.header["$INSUNITS"] == 4  # millimetres, DXF reference


def test_dxf_marks_are_what_they_were(drawing: Any) -> None:
    space = drawing.modelspace()
    (circle,) = space.query("CIRCLE")
    assert (circle.dxf.center.x, circle.dxf.center.y, circle.dxf.radius) == pytest.approx(
        (60.123, 60.456, 20.2), abs=DXF_MM
    )
    assert circle.dxf.layer == "cut"
    assert circle.get_xdata("SCRIBELINE")[0].value == "bore-1"
    (arc,) = space.query("ARC")
    assert (arc.dxf.radius, arc.dxf.start_angle, arc.dxf.end_angle) == pytest.approx((30, 20, 250))
    closed, open_ = space.query("LWPOLYLINE")
    assert closed.closed
    assert not open_.closed
    assert [tuple(p) for p in closed.get_points("xy")] == [(10, 20), (110, 20), (110, 110), (10, 110)]
    line = space.query("LINE")[0]
    assert (line.dxf.start.vec2, line.dxf.end.vec2) == ((10, 10), (110, 12.5))
    texts = {t.dxf.text: t for t in space.query("TEXT")}
    assert texts["9/16 in <Ø 8 & more>"].dxf.height == 3.5
    assert texts["upwards"].dxf.rotation == 90
    section = space.query('HATCH[layer=="hatching"]')[0]
    assert [len(p.vertices) for p in section.paths] == [4, 4]
    assert section.pattern.lines[0].offset.magnitude == pytest.approx(2.5)


def test_dxf_dimensions_are_dimensions_whose_blocks_show(drawing: Any) -> None:
    dimensions = list(drawing.modelspace().query("DIMENSION"))
    assert [d.dimtype for d in dimensions] == [0, 0, 1, 3, 4]
    # ezdxf measures from the definition points, not from our text.
    assert [d.get_measurement() for d in dimensions] == pytest.approx([100, 100, 50, 40, 30], abs=DXF_MM)
    for dimension in dimensions:
        kinds = {e.dxftype() for e in dimension.get_geometry_block()}
        assert {"LINE", "SOLID", "TEXT"} <= kinds
    assert dimensions[0].dxf.text == "100.00 mm\\X3 15/16 in (−0.02)"


def test_dxf_layers_have_widths_and_line_types(drawing: Any) -> None:
    assert drawing.layers.get("cut").dxf.lineweight == 50
    assert drawing.layers.get("outline").dxf.lineweight == 35
    centre = drawing.linetypes.get(drawing.layers.get("centre").dxf.linetype)
    assert [t.value for t in centre.pattern_tags.tags if t.code == 49] == pytest.approx(
        [4.32, -0.54, 0.36, -0.54]
    )


def test_dxf_keeps_the_sheets_own_coordinates() -> None:
    read = ezdxf.read(io.StringIO(dxf.write(SHIFTED).decode()))  # type: ignore[attr-defined]  # as above
    (circle,) = read.modelspace().query("CIRCLE")
    assert (circle.dxf.center.x, circle.dxf.center.y) == pytest.approx((-80.25, -12.5), abs=DXF_MM)


def test_dxf_refuses_what_belongs_to_paper() -> None:
    with pytest.raises(ValueError, match="Sheet on paper holds a clipped drawing; write it as PDF or SVG"):
        dxf.write(PAPER)
    with pytest.raises(ValueError, match="corrected for a printer; a DXF file must keep its true sizes"):
        dxf.write(Sheet("s", 10, 10, (), correction=(1.01, 1.0)))
    with pytest.raises(ValueError, match='Layer "a/b": DXF does not allow'):
        dxf.write(Sheet("s", 10, 10, (Line(Layer("a/b", 0.25), (0, 0), (1, 1)),)))


# PDF, read with pdfplumber


def pdf_circles(page: Any) -> list[tuple[float, float, float, float]]:
    """Centre x, y (from the lower left) and width, height of every curve, mm."""
    return [
        (
            (c["x0"] + c["x1"]) / 2 / PT_PER_MM,
            (c["y0"] + c["y1"]) / 2 / PT_PER_MM,
            (c["x1"] - c["x0"]) / PT_PER_MM,
            (c["y1"] - c["y0"]) / PT_PER_MM,
        )
        for c in page.curves
    ]


@pytest.fixture(scope="module")
def document() -> Any:
    with pdfplumber.open(io.BytesIO(pdf.write([PAPER, SHIFTED], title="Marks & more"))) as opened:
        yield opened


def test_pdf_pages_have_their_exact_size(document: Any) -> None:
    assert [(p.width / PT_PER_MM, p.height / PT_PER_MM) for p in document.pages] == [
        pytest.approx((200, 180), abs=PAPER_MM),
        pytest.approx((200, 180), abs=PAPER_MM),
    ]
    assert (document.metadata["Title"], document.metadata["Author"]) == ("Marks & more", "Scribeline")


def test_pdf_asks_to_be_printed_at_full_size(document: Any) -> None:
    """ISO 32000-1, 12.2 (PrintScaling) and 7.5.6 (incremental updates): the last table of references is exact."""
    assert document.doc.catalog["ViewerPreferences"]["PrintScaling"].name == "None"
    written = pdf.write([PAPER], title="x")
    table = int(written.rsplit(b"startxref", 1)[1].split()[0])
    head, one, entry = written[table:].split(b"\n")[:3]
    assert head == b"xref"
    number, count = one.split()
    assert count == b"1"
    # 7.5.4: an entry is 20 bytes with its end of line.
    assert len(entry) + 1 == 20
    assert written[int(entry.split()[0]) :].startswith(b"%b 0 obj" % number)
    assert b"/Root %b 0 R" % number in written[table:]


def test_pdf_circles_lines_and_areas_are_true(document: Any) -> None:
    circles = pdf_circles(document.pages[0])
    assert any(c == pytest.approx((60.123, 60.456, 40.4, 40.4), abs=PAPER_MM) for c in circles)
    assert any(c == pytest.approx((155, 140, 40, 40), abs=PAPER_MM) for c in circles)
    assert pdf_circles(document.pages[1]) == [pytest.approx((19.75, 77.5, 8.1, 8.1), abs=PAPER_MM)]
    lines = [
        tuple(v / PT_PER_MM for v in (ln["x0"], ln["y0"], ln["x1"], ln["y1"]))
        for ln in document.pages[0].lines
    ]
    assert any(ln == pytest.approx((10, 10, 110, 12.5), abs=PAPER_MM) for ln in lines)
    rects = [
        tuple(v / PT_PER_MM for v in (r["x0"], r["y0"], r["x1"], r["y1"])) for r in document.pages[0].rects
    ]
    assert any(r == pytest.approx((10, 20, 110, 110), abs=PAPER_MM) for r in rects)


def test_pdf_lettering_reads_back_in_the_embedded_face(document: Any) -> None:
    page = document.pages[0]
    text = page.extract_text()
    for words in ("9/16 in <Ø 8 & more>", "100.00 mm", "3 15/16 in (−0.02)", "STOP", "window"):
        assert words in text
    assert {c["fontname"].split("+")[1].split("-Identity")[0] for c in page.chars} == {
        "B612-Regular",
        "B612-Bold",
    }
    fonts = {c["fontname"] for c in page.chars}
    assert all("+" in name for name in fonts), "a subset tag says the face is embedded"


def test_pdf_capitals_have_the_height_asked_for(document: Any) -> None:
    """The letter H of B612 is 1520 units high in an em of 2000 (read from the outline by fontTools)."""
    stop = [c for c in document.pages[0].chars if c["text"] == "S" and "Bold" in c["fontname"]]
    assert stop[0]["size"] * 1520 / 2000 / PT_PER_MM == pytest.approx(4.0, abs=PAPER_MM)


def test_correction_stretches_everything_about_the_middle_of_the_page() -> None:
    marks = (Circle(CUT, (50, 50), 10), Circle(CUT, (100, 90), 5))
    sheet = Sheet("corrected", 200, 180, marks, correction=(1.0131712259, 0.998))
    with pdfplumber.open(io.BytesIO(pdf.write([sheet], title="c"))) as opened:
        first, middle = pdf_circles(opened.pages[0])
    assert middle == pytest.approx((100, 90, 10 * 1.0131712259, 9.98), abs=PAPER_MM)
    assert first == pytest.approx(
        (100 - 50 * 1.0131712259, 90 - 40 * 0.998, 20 * 1.0131712259, 19.96), abs=PAPER_MM
    )


# The same bytes again

AGAIN = """
import hashlib, sys
sys.path.insert(0, {folder!r})
from tests.property.test_writers import PAPER, SHEET
from scribeline.drawing import dxf, pdf, svg
for written in (svg.write(PAPER), pdf.write([PAPER], title="t"), dxf.write(SHEET)):
    print(hashlib.sha256(written).hexdigest())
"""


def test_same_bytes_on_a_second_run_and_in_fresh_processes() -> None:
    here = __file__.rpartition("/tests/")[0]
    digests = {
        subprocess.run(
            [sys.executable, "-c", AGAIN.format(folder=here)],
            check=True,
            capture_output=True,
            text=True,
            env={"PYTHONHASHSEED": seed, "PATH": ""},
        ).stdout
        for seed in ("1", "2")
    }
    assert len(digests) == 1
    assert len(digests.pop().split()) == 3
    assert dxf.write(SHEET) == dxf.write(SHEET)
    assert pdf.write([PAPER], title="t") == pdf.write([PAPER], title="t")


def test_dxf_names_neither_machine_nor_day() -> None:
    text = dxf.write(SHEET).decode()
    tags = text.split("\n")
    assert tags[tags.index("$LASTSAVEDBY") + 2].strip() == "Scribeline"
    # Julian day 2451545 is 2000-01-01 at noon.
    dates = {tags[n + 2].strip() for n, t in enumerate(tags) if t in {"$TDCREATE", "$TDUPDATE", "$TDUUPDATE"}}
    assert dates == {"2451545.0"}


def test_control_characters_break_no_file() -> None:
    """A job file may spell a bell in a name; XML 1.0 and DXF cannot hold them."""
    text = Text(LETTERING, (10, 10), "bell\x07 and\ttab", 3.5, ref="a\x00b")
    sheet = Sheet("odd\x1bname", 100, 50, (text,))
    assert [t.text for t in ET.fromstring(svg.write(sheet)).iter() if t.tag.endswith("text")] == [
        "bell andtab"
    ]
    read = ezdxf.read(io.StringIO(dxf.write(sheet).decode()))  # type: ignore[attr-defined]  # as above
    assert [t.dxf.text for t in read.modelspace().query("TEXT")] == ["bell andtab"]
    assert pdf.write([sheet], title="odd\x07title").startswith(b"%PDF")


# Random geometry keeps its place

coordinate = st.floats(-500, 500).map(lambda v: round(v, 3))
radius = st.floats(0.5, 200).map(lambda v: round(v, 3))


@settings(max_examples=examples(60), deadline=None)
@given(x=coordinate, y=coordinate, r=radius)
def test_any_circle_keeps_centre_and_size(x: float, y: float, r: float) -> None:
    sheet = Sheet("one", 1000, 1000, (Circle(CUT, (x, y), r),), origin=(-500, -500))
    assert svg_circles(sheet) == [pytest.approx((x + 500, y + 500, r), abs=PAPER_MM)]
    (circle,) = ezdxf.read(io.StringIO(dxf.write(sheet).decode())).modelspace().query("CIRCLE")  # type: ignore[attr-defined]  # as above
    assert (*circle.dxf.center.vec2, circle.dxf.radius) == pytest.approx((x, y, r), abs=DXF_MM)


@settings(max_examples=examples(60), deadline=None)
@given(angle=st.floats(0, 180), spacing=st.floats(1, 6))
def test_hatching_covers_the_area_and_spares_the_hole(angle: float, spacing: float) -> None:
    """Length of lining times its spacing is the area, to within what one line's worth can differ."""
    lines = hatch_lines(Hatch(HATCHING, (SQUARE, HOLE), angle, spacing))
    lined = sum(math.dist(line.a, line.b) for line in lines) * spacing
    area = 50 * 30 - 20 * 10
    longest = math.hypot(50, 30) + math.hypot(20, 10)
    assert abs(lined - area) <= longest * spacing
    for line in lines:
        for t in (0.01, 0.5, 0.99):
            x, y = (line.a[k] + t * (line.b[k] - line.a[k]) for k in (0, 1))
            assert 130 - 1e-6 <= x <= 180 + 1e-6
            assert 60 - 1e-6 <= y <= 90 + 1e-6
            assert not (145 + 1e-6 < x < 165 - 1e-6 and 70 + 1e-6 < y < 80 - 1e-6)


# Dimensions after ISO 129-1


@given(
    a=st.tuples(coordinate, coordinate),
    b=st.tuples(coordinate, coordinate),
    at=st.tuples(coordinate, coordinate),
    along=st.sampled_from(["x", "y", "aligned"]),
)
def test_dimension_arrows_touch_its_ends_and_text_reads_from_below_or_right(
    a: tuple[float, float], b: tuple[float, float], at: tuple[float, float], along: Any
) -> None:
    if min(abs(a[0] - b[0]), abs(a[1] - b[1])) < 0.01:
        return
    dimension = Dimension(DIMENSION, a, b, at, "12.00 mm", "1/2 in", along)
    ends = dimension_line(dimension)
    assert math.dist(*ends) == pytest.approx(dimension.span, abs=1e-6)
    parts = exploded(dimension)
    tips = [part.loops[0][0] for part in parts if isinstance(part, Fill)]
    assert sorted(tips) == [pytest.approx(p, abs=1e-6) for p in sorted(ends)]
    value, small = (part for part in parts if isinstance(part, Text))
    assert -90 < value.rotation_deg <= 90
    assert small.height == 2.5
    if along == "aligned":
        # `at` lies on the dimension line.
        cross = (ends[1][0] - ends[0][0]) * (at[1] - ends[0][1]) - (ends[1][1] - ends[0][1]) * (
            at[0] - ends[0][0]
        )
        assert cross / dimension.span == pytest.approx(0, abs=1e-6)


# The face


def test_the_face_has_every_character_the_sheets_use() -> None:
    assert missing_glyphs("0123456789 Ø ° ± × − – — ′ ″ ½ · → “ ” ‘ ’ äöüßéñÅ ≤ ≥ ≈ µ") == ""
    assert missing_glyphs("⌀5 □5") == "⌀□"


def test_figures_are_tabular() -> None:
    assert len({text_width(figure, 3.5) for figure in "0123456789"}) == 1


def test_text_width_agrees_with_what_is_printed(document: Any) -> None:
    """pdfplumber places each letter by the widths embedded in the file."""
    chars = [
        c for c in document.pages[0].chars if c["size"] * 0.76 / PT_PER_MM == pytest.approx(3.5, abs=0.01)
    ]
    start = next(n for n in range(len(chars)) if "".join(c["text"] for c in chars[n : n + 7]) == "9/16 in")
    printed = (chars[start + 6]["x1"] - chars[start]["x0"]) / PT_PER_MM
    # Kerning, which we leave out, may draw letters together a little.
    assert printed == pytest.approx(text_width("9/16 in", 3.5), rel=0.02)


@given(st.text("ab cdefgh iiii WWW ", max_size=120), st.floats(12, 60))
def test_wrapped_lines_fit_and_lose_nothing(text: str, width: float) -> None:
    lines = wrap(text, width, 3.5)
    assert all(text_width(line, 3.5) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
