"""The templates as a builder prints them, read back with a reader that is not ours (pdfplumber).

Places on a page are worked out from the grid crosses and the figures printed beside them, as one would with
a rule on the paper; nothing here knows how the drawing was parted into pages. Tolerances are the issue's
own: 0.02 mm.
"""

import io
import itertools
import re
from collections import defaultdict
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pdfplumber
import pypdfium2
import pytest
import shapely
from tests.torture import long

import scribeline
from scribeline.drawing import pdf
from scribeline.drawing.drafting import exploded
from scribeline.drawing.extent import bounds, text_corners
from scribeline.drawing.facing import Show
from scribeline.drawing.pack import draw
from scribeline.drawing.sheet import CENTRE, GRID, HIDDEN, THIN, Clip, Leader, Line, Text
from scribeline.drawing.sheet import Path as Run
from scribeline.drawing.templates import template_sheets
from scribeline.drawing.views import back_view, front_view
from scribeline.features import Bore
from scribeline.job import parse_job
from scribeline.plan import Plan, plan
from scribeline.scenario import examples
from scribeline.steps import DEFERS
from scribeline.tables.paper import Roll, read_paper

TOLERANCE_MM = 0.02
MM_PER_PT = 25.4 / 72

SCENARIO = Path(scribeline.__file__).parent / "scenario" / "marram.toml"
TEXT = SCENARIO.read_text(encoding="utf-8")
LEFT = TEXT.replace('handed = "right"', 'handed = "left"')
SEVEN = (
    re.sub(r"\[\[string_sets\]\].*?\n\n", "", TEXT, flags=re.S)
    .replace(
        "[neck]\njoint",
        '[[strings]]\nnote = "B1"\ngauge = ".059"\nsetback = 4.4\n\n[neck]\njoint',
    )
    .replace("width = 42.8", "width = 48.2")
    .replace("width_at_end = 56.4", "width_at_end = 66.0")
    .replace('heel_width_at_end = "56.2', 'heel_width_at_end = "65.8')
    .replace('heel_width_at_mouth = "54.0', 'heel_width_at_mouth = "63.0')
    .replace("plate_width = 80.5", "plate_width = 92.0")
    .replace('paper = "A4"', 'paper = "Letter"')
)
JOBS = {"right": TEXT, "left": LEFT, "seven": SEVEN}
PRINTS = [("right", None), ("left", None), ("left", "roll 610 mm"), *long(("seven", None), ("right", "A2"))]


@cache
def planned(job: str) -> Plan:
    found = plan(*parse_job(JOBS[job]))
    assert found.features.bores
    return found


def printed(job: str, paper: str | None, correction: tuple[float, float] = (1.0, 1.0)) -> bytes:
    return pdf.write(template_sheets(planned(job), paper=paper, correction=correction), title="templates")


@dataclass(frozen=True)
class Spot:
    """A circle found on a page, in the instrument frame, mm."""

    x: float
    y: float
    diameter: float
    view: str
    page: int
    whole: bool


def pages(job: str, paper: str | None = None, correction: tuple[float, float] = (1.0, 1.0)) -> list[Any]:
    """The pages as the reader finds them."""
    return read(job, paper, correction)


@cache  # reading takes much longer than writing
def read(job: str, paper: str | None, correction: tuple[float, float]) -> list[Any]:
    return list(pdfplumber.open(io.BytesIO(printed(job, paper, correction))).pages)


def view_of(page: Any) -> str:
    words = " ".join(words for words, _ in runs(page))
    if "Front template" not in words and "Back template" not in words:
        return ""
    return "front" if "seen from the front" in words else "back" if "seen from the back" in words else ""


def crosses(page: Any) -> list[tuple[float, float, float, float]]:
    """Grid crosses: place on the page (mm, y up) and the figures printed beside them."""
    level, upright = [], []
    for line in page.lines:
        wide, high = line["width"] * MM_PER_PT, line["height"] * MM_PER_PT
        middle = ((line["x0"] + line["x1"]) / 2, (line["y0"] + line["y1"]) / 2)
        if abs(wide - 8) < 0.1 and high < 0.01:
            level.append(middle)
        elif abs(high - 8) < 0.1 and wide < 0.01:
            upright.append(middle)
    centres = [
        (u * MM_PER_PT, v * MM_PER_PT)
        for u, v in level
        if any(abs(u - a) < 0.05 and abs(v - b) < 0.05 for a, b in upright)
    ]
    found = []
    for words, box in runs(page):
        label = re.fullmatch(r"x (−?\d+) +y (−?\d+)( in)?", words)
        if label is None:
            continue
        unit = 25.4 if label[3] else 1.0  # inch paper is ruled in inches
        x, y = (float(figure.replace("−", "-")) * unit for figure in label.groups()[:2])
        high = float(page.height) * MM_PER_PT

        def away(centre: tuple[float, float], box: list[float] = box, high: float = high) -> float:
            across = min(abs(centre[0] - box[0]), abs(centre[0] - box[1]))
            return across + min(abs(high - centre[1] - box[2]), abs(high - centre[1] - box[3]))

        nearest = min(centres, key=away)
        assert away(nearest) < 5, f"no cross beside the figures x {x:g} y {y:g}"
        found.append((*nearest, x, y))
    return found


def runs(page: Any) -> list[tuple[str, list[float]]]:
    """Level lettering as it was written, piece by piece: the words, and left, right, top, bottom in mm.

    A page also holds what its window hides, so words cannot be told apart by where they stand alone.
    """
    found: list[tuple[str, list[float]]] = []
    for char in page.chars:
        box = [char[side] * MM_PER_PT for side in ("x0", "x1", "top", "bottom")]
        if found:
            words, last = found[-1]
            if abs(box[2] - last[2]) < 0.01 and abs(box[0] - last[1]) < 0.3:
                found[-1] = (words + char["text"], [last[0], box[1], last[2], last[3]])
                continue
        found.append((char["text"], box))
    return found


def axis(places: list[tuple[float, float]], slope: float) -> tuple[float, float]:
    """Slope and offset from the page's mm to the instrument's, from crosses; `slope` if they stand in one row."""
    (a, b), (c, d) = min(places), max(places)
    if abs(c - a) > 1:
        slope = (d - b) / (c - a)
    return slope, b - slope * a


def mapping(page: Any, view: str, correction: tuple[float, float]) -> tuple[float, float, float, float]:
    """From a page's mm to the instrument's: x = a u + b, y = c v + d, by the page's own crosses."""
    known = crosses(page)
    across, x0 = axis([(u, x) for u, _, x, _ in known], 1 / correction[0])
    flip = 1 if view == "front" else -1
    up, y0 = axis([(v, y) for _, v, _, y in known], flip / correction[1])
    assert across == pytest.approx(1 / correction[0], abs=1e-4)
    assert up == pytest.approx(flip / correction[1], abs=1e-4)
    return across, x0, up, y0


def spots(book: list[Any], sizes: set[float], correction: tuple[float, float] = (1.0, 1.0)) -> list[Spot]:
    """Every continuous circle of one of these diameters."""
    found = []
    for number, page in enumerate(book):
        view = view_of(page)
        if not view:
            continue
        across, x0, up, y0 = mapping(page, view, correction)
        for curve in page.curves:
            wide = (curve["x1"] - curve["x0"]) * MM_PER_PT * abs(across)
            high = (curve["y1"] - curve["y0"]) * MM_PER_PT * abs(up)
            if curve["fill"] or not curve["stroke"] or curve["dash"] or abs(wide - high) > 0.01:
                continue
            if not any(abs(wide - size) < TOLERANCE_MM for size in sizes):
                continue
            if not any(part[0] == "c" for part in curve["path"]):
                continue
            u = (curve["x0"] + curve["x1"]) / 2 * MM_PER_PT
            v = (curve["y0"] + curve["y1"]) / 2 * MM_PER_PT
            left, low, right, top = window(page)
            r = wide / 2
            whole = left + r < u < right - r and low + r < v < top - r
            found.append(Spot(across * u + x0, up * v + y0, wide, view, number, whole))
    return found


def window(page: Any) -> tuple[float, float, float, float]:
    """The ruled rectangle that the drawing shows in, mm."""
    boxes = [*page.rects, *(curve for curve in page.curves if len(curve["pts"]) in {4, 5})]
    inside = [
        box
        for box in boxes
        if box["stroke"] and not box["fill"] and box["x0"] > 0 and box["y0"] > 0 and box["x1"] < page.width
    ]
    box = max(inside, key=lambda b: (b["x1"] - b["x0"]) * (b["y1"] - b["y0"]))
    left, low, right, top = (float(box[side]) * MM_PER_PT for side in ("x0", "y0", "x1", "y1"))
    assert (right - left) * (top - low) > 10_000
    return left, low, right, top


def upright_bores(job: str) -> list[Bore]:
    return [bore for bore in planned(job).features.bores if bore.axis.x == bore.axis.y == 0]


def is_bar(line: Any) -> bool:
    """Whether a line is as heavy as the bars and long; dimensions and joins are thinner."""
    heavy = 0.24 < line["linewidth"] * MM_PER_PT < 0.26 and not line["dash"]
    return heavy and max(line["width"], line["height"]) * MM_PER_PT > 40


@pytest.mark.parametrize(("job", "paper"), PRINTS)
def test_bars_are_200_mm_on_both_axes_of_every_page(job: str, paper: str | None) -> None:
    """On inch paper 8 in of 25.4 mm."""
    on_letter = paper is None and planned(job).job.document.print.paper == "Letter"
    check_bars(pages(job, paper), (1.0, 1.0), 8 * 25.4 if on_letter else 200.0)


def test_a_corrected_print_stretches_its_bars_by_the_correction() -> None:
    factors = (1.0040, 0.9975)
    check_bars(pages("right", None, factors), factors)


def check_bars(book: list[Any], factors: tuple[float, float], length: float = 200.0) -> None:
    assert len(book) > 1
    for page in book:
        bars = [line for line in page.lines if is_bar(line)]
        low = [b["width"] * MM_PER_PT for b in bars if b["height"] < 0.01 and b["y0"] * MM_PER_PT < 14]
        left = [b["height"] * MM_PER_PT for b in bars if b["width"] < 0.01 and b["x0"] * MM_PER_PT < 14]
        assert low == [pytest.approx(length * factors[0], abs=TOLERANCE_MM)]
        assert left == [pytest.approx(length * factors[1], abs=TOLERANCE_MM)]


@pytest.mark.parametrize(
    ("job", "paper", "correction"),
    [*((job, paper, (1.0, 1.0)) for job, paper in PRINTS), ("right", None, (1.0040, 0.9975))],
)
def test_every_hole_lies_where_the_plan_says_on_whichever_page(
    job: str, paper: str | None, correction: tuple[float, float]
) -> None:
    bores = upright_bores(job)
    sizes = {step.diameter for bore in bores for step in bore.steps}
    found = spots(pages(job, paper, correction), sizes, correction)
    wanted = {
        ("front" if bore.face == "top" else "back", step.diameter, bore.at.x, bore.at.y)
        for bore in bores
        for step in bore.steps
    }
    seen: dict[tuple[str, float, float, float], list[Spot]] = defaultdict(list)
    for spot in found:
        near = [
            hole
            for hole in wanted
            if hole[0] == spot.view
            and abs(hole[1] - spot.diameter) < TOLERANCE_MM
            and abs(hole[2] - spot.x) < TOLERANCE_MM
            and abs(hole[3] - spot.y) < TOLERANCE_MM
        ]
        assert len(near) == 1, f"{spot} is no hole of the plan"
        seen[near[0]].append(spot)
    assert seen.keys() == wanted
    assert all(any(spot.whole for spot in places) for places in seen.values())


def test_distances_across_a_join_are_the_plans() -> None:
    """From the pocket's end wall on one page to the string holes on another, through the crosses of both."""
    bores = [bore for bore in upright_bores("right") if bore.group == "string holes"]
    wanted = bores[0].at.x - planned("right").layout.pocket_end
    holes = [spot for spot in spots(pages("right"), {bores[0].widest}) if spot.view == "front" and spot.whole]
    assert len(holes) == len(bores)
    pocket = planned("right").features.pocket("neck-pocket")
    long = max(p.x for p in pocket.outline) - min(p.x for p in pocket.outline)
    wide = max(p.y for p in pocket.outline) - min(p.y for p in pocket.outline)
    walls = {}
    for number, page in enumerate(pages("right")):
        if view_of(page) != "front":
            continue
        across, x0, _, _ = mapping(page, "front", (1.0, 1.0))
        left, _, right, _ = window(page)
        for curve in page.curves:
            u0, u1, v0, v1 = (curve[side] * MM_PER_PT for side in ("x0", "x1", "y0", "y1"))
            if abs(u1 - u0 - long) < 0.01 and abs(v1 - v0 - wide) < 0.01 and left < u1 < right:
                walls[number] = across * u1 + x0
    assert walls.keys() - {hole.page for hole in holes}
    for wall in walls.values():
        for hole in holes:
            assert hole.x - wall == pytest.approx(wanted, abs=TOLERANCE_MM)


def test_the_slanting_hole_is_drawn_as_its_true_mouth() -> None:
    bore = next(bore for bore in planned("right").features.bores if bore.group == "ground wire")
    # A cylinder of diameter D entering a plane at angle A cuts it in an ellipse D / sin A by D.
    long = bore.widest / abs(bore.axis.z)
    boxes = []
    book = pages("right")
    for page in book:
        if view_of(page) == "front":
            boxes += [
                ((c["x1"] - c["x0"]) * MM_PER_PT, (c["y1"] - c["y0"]) * MM_PER_PT)
                for c in page.curves
                if len(c["pts"]) > 100
            ]
    assert any(
        wide == pytest.approx(long, abs=TOLERANCE_MM) and high == pytest.approx(bore.widest, abs=TOLERANCE_MM)
        for wide, high in boxes
    )


@pytest.mark.parametrize("job", ["right", "left"])
def test_lettering_is_never_mirrored(job: str) -> None:
    book = pages(job)
    for page in book:
        for char in page.chars:
            a, b, c, d, _, _ = char["matrix"]
            assert a * d - b * c > 0, f"{char['text']} is in mirror writing"
    words = " ".join(page.extract_text() for page in book)
    assert "seen from the back" in words
    assert "control cavity" in words


def test_left_and_right_are_mirror_images() -> None:
    right, left = planned("right").features.bores, planned("left").features.bores
    assert [bore.id for bore in right] == [bore.id for bore in left]
    assert all(a.at.x == b.at.x for a, b in zip(right, left, strict=True))
    assert sum(a.at.y + b.at.y for a, b in zip(right, left, strict=True)) == pytest.approx(0, abs=1e-12)
    assert all(a.at.y == -b.at.y for a, b in zip(right, left, strict=True))


def test_the_left_hands_back_has_the_outline_of_the_right_hands_front() -> None:
    show = Show()
    (front,) = [item for item in front_view(planned("right"), show) if getattr(item, "ref", "") == "outline"]
    (back,) = [item for item in back_view(planned("left"), show) if getattr(item, "ref", "") == "outline"]
    assert set(front.points) == set(back.points)  # type: ignore[union-attr]  # an outline is a path


def test_numbers_over_150_mm_stand_on_the_set() -> None:
    layout = planned("right").layout
    book = pages("right")
    words = " ".join(page.extract_text() for page in book)
    plate = layout.bridge_line - layout.pocket_end
    holes = planned("right").features.family("string-hole")[0].at.x - layout.pocket_end
    for value in (plate, holes, layout.bridge_line - layout.twelfth, layout.scale, layout.pocket_end):
        assert f"{value:.2f}" in words


def test_every_page_says_whose_it_is_and_carries_a_caution() -> None:
    document = planned("right").job.document
    book = pages("right")
    texts = [" ".join(words for words, _ in runs(page)) for page in book]
    for number, text in enumerate(texts, start=1):
        for words in (document.name, f"revision {document.revision}", "right-handed", "CAUTION"):
            assert words in text
        assert f"Sheet {number} of {len(texts)}" in text
    assert DEFERS[:40] in " ".join(texts)


def test_no_date_leaves_a_blank_to_fill_in() -> None:
    undated = plan(*parse_job(re.sub(r"^date = .*\n", "", TEXT, flags=re.M)))
    written = pdf.write(template_sheets(undated, paper="A1"), title="templates")
    with pdfplumber.open(io.BytesIO(written)) as book:
        assert "date ____" in book.pages[0].extract_text()


def test_one_sheet_of_large_paper_holds_each_face() -> None:
    faces = [sheet.name for sheet in template_sheets(planned("right"), paper="A1")]
    assert [name for name in faces if "How to" not in name] == ["Front template 1", "Back template 2"]


def test_a_roll_is_named_with_its_width() -> None:
    assert read_paper("roll 24 in") == Roll(609.6)
    with pytest.raises(ValueError, match="a roll of paper is given by its width"):
        read_paper("roll wide")
    with pytest.raises(ValueError, match="paper size"):
        read_paper("A44")


@pytest.mark.parametrize(
    "change",
    [
        pytest.param(lambda t: re.sub(r"\[ground_wire\].*?\n\n", "", t, flags=re.S), id="no ground wire"),
        pytest.param(
            lambda t: re.sub(
                r"\[\[pockets\]\].*(?=\[bits\])",
                "",
                re.sub(r"\[ground_wire\].*?\n\n", "", t, flags=re.S),
                flags=re.S,
            ),
            id="no pockets",
        ),
        pytest.param(
            lambda t: t.replace("saddle_back = 17.6", "saddle_back = 9.9"), id="no place for the plate"
        ),
    ],
)
def test_what_an_instrument_lacks_is_left_out(change: Any) -> None:
    assert len(template_sheets(plan(*parse_job(change(TEXT))))) > 2


@pytest.mark.parametrize(("job", "paper"), [*PRINTS, ("left", "A3"), ("seven", "A3")])
def test_the_joins_of_the_pages_cut_no_lettering(job: str, paper: str | None) -> None:
    """Every piece of lettering stands whole in the window of each page it is printed on."""
    seen = 0
    for sheet in template_sheets(planned(job), paper=paper):
        for clip in (item for item in sheet.items if isinstance(item, Clip)):
            left, low, right, top = clip.window
            for text in (item for item in clip.items if isinstance(item, Text)):
                box = bounds((text,))
                assert box is not None
                assert shapely.box(left, low, right, top).covers(shapely.box(*box)), text.text
                seen += 1
    assert seen > 60


@pytest.mark.parametrize("job", JOBS)
def test_what_must_be_read_touches_nothing_else_that_is_read(job: str) -> None:
    """Numbers, labels, figures of the grid, the letters of the joins."""
    faults = []
    for sheet in template_sheets(planned(job)):
        for clip in (item for item in sheet.items if isinstance(item, Clip)):
            shown = [item for item in clip.items if isinstance(item, Text)]
            boxes = [shapely.Polygon(text_corners(text)) for text in shown]
            for (a, one), (b, other) in itertools.combinations(zip(shown, boxes, strict=True), 2):
                if one.intersection(other).area > 0.05:
                    faults.append(f"{sheet.name}: {a.text} | {b.text}")
    assert faults == []


@pytest.mark.parametrize("job", JOBS)
def test_no_line_runs_through_the_words_of_how_the_body_was_turned(job: str) -> None:
    """The line of the whole body's length had stood through the words' first letters."""
    seen = 0
    for sheet in template_sheets(planned(job)):
        for clip in (item for item in sheet.items if isinstance(item, Clip)):
            lines = [shapely.LineString((item.a, item.b)) for item in clip.items if isinstance(item, Line)]
            for text in (item for item in clip.items if isinstance(item, Text)):
                if text.text in {"turned over about its long axis:", "the neck stays on the left"}:
                    words = shapely.Polygon(text_corners(text))
                    assert lines
                    assert not any(line.intersects(words) for line in lines), sheet.name
                    seen += 1
    assert seen >= 2


@pytest.mark.parametrize("name", ["angled-head", "bass-five-string", "eight-strings"])
def test_a_cavity_has_its_own_depth_in_it_and_its_covers_recess_none_there(name: str) -> None:
    """A recess's depth read inside the cavity would be routed there (common practice, no source)."""
    made = plan(*parse_job(examples()[name].text))
    cavity, recess = (
        next(each for each in made.features.pockets if each.role == role)
        for role in ("control cavity", "control cavity cover recess")
    )
    # The back is seen turned over about the long axis.
    inside = shapely.Polygon([(x, -y) for x, y in cavity.outline])
    drawn = back_view(made, Show(hidden=True, lettering=5.0, saddles=False))
    words = {
        each.id: [
            shapely.Polygon(text_corners(part))
            for item in drawn
            if isinstance(item, Text | Leader) and item.ref == each.id
            for part in (exploded(item) if isinstance(item, Leader) else [item])
            if isinstance(part, Text)
        ]
        for each in (cavity, recess)
    }
    assert all(inside.contains(each) for each in words[cavity.id])
    assert not any(inside.intersects(each) for each in words[recess.id])
    assert min(map(len, words.values())) >= 2


@pytest.mark.parametrize("name", ["angled-head", "eight-strings"])
def test_no_leader_runs_through_the_label_of_a_pocket(name: str) -> None:
    made = plan(*parse_job(examples()[name].text))
    pockets = {pocket.id for pocket in made.features.pockets}
    seen = 0
    for sheet in template_sheets(made):
        for clip in (item for item in sheet.items if isinstance(item, Clip)):
            leaders = [
                shapely.LineString(item.points if isinstance(item, Run) else (item.a, item.b))
                for item in clip.items
                if isinstance(item, Line | Run) and item.layer == THIN
            ]
            for text in clip.items:
                if isinstance(text, Text) and text.ref in pockets:
                    seen += 1
                    assert not any(shapely.Polygon(text_corners(text)).intersects(line) for line in leaders)
    assert seen > 12


def test_no_cross_of_the_grid_lies_on_the_notes_of_a_roll() -> None:
    """Beside a long body, where the notes stand among the crosses."""
    made = plan(*parse_job(examples()["seven-strings-fanned"].text))
    front = template_sheets(made, paper="roll 610 mm")[0]
    (clip,) = (item for item in front.items if isinstance(item, Clip))
    shown = [item for item in clip.items if isinstance(item, Text)]
    grid = [text for text in shown if text.layer == GRID]
    notes = [text for text in shown if text.layer != GRID]
    assert any("How to use these templates" in text.text for text in notes)
    assert len(grid) > 12
    for a, b in itertools.product(grid, notes):
        assert not shapely.Polygon(text_corners(a)).intersects(shapely.Polygon(text_corners(b))), b.text


def test_characters_no_face_has_are_printed_as_question_marks_and_named() -> None:
    """U+5409 and U+4ED6 are CJK ideographs, U+1F3B8 a guitar (The Unicode Standard); Cyrillic and Latin stay."""
    named = TEXT.replace('name = "Marram"', 'name = "Марам 吉他 🎸 é"')
    assert named != TEXT
    files = draw(plan(*parse_job(named)))
    for name in ("templates.pdf", "sheets.pdf", "steps.pdf"):
        book = pypdfium2.PdfDocument(files[name])
        words = [" ".join(page.get_textpage().get_text_range().split()) for page in book]
        assert "Марам ?? ? é" in words[0], name
        assert not any(set("吉他🎸") & set(page) for page in words)
        if name == "sheets.pdf":
            assert any("no sign for U+5409, U+4ED6, U+1F3B8" in page for page in words)


def test_the_notes_take_one_page_and_say_where_the_lists_are() -> None:
    book = pypdfium2.PdfDocument(printed("right", None))
    words = [" ".join(page.get_textpage().get_text_range().split()) for page in book]
    notes = [page for page in words if "How to use the templates" in page]
    assert len(notes) == 1
    assert "see the mark-out pages of the drawing sheets" in notes[0]


@pytest.mark.parametrize("job", JOBS)
def test_pockets_labels_and_the_scale_line_s_words_lie_on_no_dashes(job: str) -> None:
    pockets = {pocket.id for pocket in planned(job).features.pockets}
    seen: list[str] = []
    for sheet in template_sheets(planned(job)):
        for clip in (item for item in sheet.items if isinstance(item, Clip)):
            dashes = [
                shapely.LineString([*item.points, *item.points[: item.closed]])
                if isinstance(item, Run)
                else shapely.LineString([item.a, item.b])
                for item in clip.items
                if isinstance(item, Run | Line)
                and (item.layer == HIDDEN or (item.layer == CENTRE and item.ref.startswith("tunnel")))
            ]
            for text in clip.items:
                if isinstance(text, Text) and text.ref in {"scale-line", *pockets}:
                    seen.append(text.ref)
                    words = shapely.Polygon(text_corners(text))
                    assert not any(words.intersects(line) for line in dashes), text.text
    assert seen.count("scale-line") >= 3
    assert pockets <= set(seen)
