"""The drawing sheets: nothing overlaps or leaves its page, everything is to scale, the plan's numbers are all there.

The PDF is read back with pdfplumber and PDFium, readers that are not ours; 0.02 mm is the tolerance the templates are held
to as well.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import combinations, pairwise
from math import hypot
from typing import Any

import pdfplumber
import pypdfium2
import pytest
import shapely
import shapely.affinity
from tests.pack_text import Run
from tests.pack_text import runs as read_runs
from tests.torture import long

from scribeline.drawing.drafting import exploded
from scribeline.drawing.extent import bounds, text_corners
from scribeline.drawing.face import missing_glyphs
from scribeline.drawing.sheet import (
    CUT,
    Clip,
    Dimension,
    Fill,
    Hatch,
    Item,
    Leader,
    Path,
    RoundDimension,
    Text,
)
from scribeline.drawing.sheets import drawing_pages, drawing_sheets
from scribeline.drawing.sheets.depths import BANDS, band_of
from scribeline.drawing.sheets.figures import joined_roles
from scribeline.drawing.sheets.office import Office, Page, spaced
from scribeline.drawing.sheets.plans import plan_pages
from scribeline.drawing.sheets.sections import cut_string, section_pages
from scribeline.drawing.templates import template_sheets
from scribeline.features import Bore, runs
from scribeline.job import parse_job
from scribeline.lengths import in_unit, inch_fraction
from scribeline.plan import Plan, plan
from scribeline.plan.record import as_json
from scribeline.steps import DEFERS, balloon

from ..conftest import FULL, Planned
from ..pack_jobs import EVERY_JOB

MM_PER_PT = 25.4 / 72
PDF_MM = 0.02

STRINGS = ("G2", ".045", 2.0), ("D2", ".065", 3.0), ("A1", ".085", 3.5), ("E1", ".105", 4.5)
BASS: dict[str, Any] = {
    "name": "Four strings",
    "scale.length": 864,
    "scale.frets": 20,
    "strings": [{"note": note, "gauge": gauge, "setback": back} for note, gauge, back in STRINGS],
    "nut.width": 41,
    "fingerboard.end": 650,
    "fingerboard.width_at_end": 63,
    "neck.pocket_end": 650,
    "neck.heel_width_at_end": "62.8 +/- 0.05",
    "neck.heel_width_at_mouth": "60.0 +/- 0.05",
    "body.outline.tail": 985,
    "bridge": {"part": "plate, four-string bass"},
    "pockets[1].centre": [-60, 0],
    "pockets[3].outline": [[830, 72], [934, 60], [942, 104], [882, 122], [836, 110]],
    "ground_wire.across": 0,
    "ground_wire.from_front": 12,
    "ground_wire.lands": 14,
}
SEVEN: dict[str, Any] = {
    "nut.width": 48.2,
    "fingerboard.width_at_end": 66,
    "neck.heel_width_at_end": "65.8 +/- 0.05",
    "neck.heel_width_at_mouth": "63.0 +/- 0.05",
    "bridge": {"part": "plate, seven strings"},
    "strings[7]": {"note": "B1", "gauge": ".059", "setback": 4.4},
}
# The jack and the strap button where the demo's edge is; a cap and a back of other timber.
EDGE: dict[str, Any] = {
    "jack": {"near": [692.3, 157.0], "diameter": 12, "into": "control cavity"},
    "strap_buttons": [
        {"name": "tail", "near": [755.8, -14.0], "screw": {"thread": 4.2, "root": 2.6, "length": 28}}
    ],
    "body.layers": [
        {"name": "cap", "timber": "maple-sugar", "thickness": "6.4 +/- 0.1"},
        {"name": "middle", "timber": "ash-white", "thickness": "32 +/- 0.1"},
        {"name": "back", "timber": "maple-sugar", "thickness": "6 +/- 0.1"},
    ],
}
VARIANTS: dict[str, Mapping[str, Any]] = {
    "demo": {},
    "everything": {},
    "left-handed": {"handed": "left"},
    "inch": {"units": "in", "scale.length": "25 in", "print.paper": "Letter"},
    "seven strings": SEVEN,
    "bass": BASS,
    "no ground wire": {"ground_wire": None, "date": None},
    "letter": {"print.paper": "Letter"},
    "bass on Letter": {**BASS, "print.paper": "Letter", "handed": "left"},
    "no pockets": {"ground_wire": None, "pockets": []},
    "thick, many pockets": {
        "body.thickness": "58 +/- 0.1",
        "pockets[2].centre": [20, 0],
        "pockets[4]": {
            "name": "control cavity, from the top",
            "depth": 30,
            "corner_radius": 8,
            "outline": [[612, -72], [664, -122], [716, -60]],
        },
        "pockets[5]": {
            "name": "middle pickup",
            "depth": 20,
            "corner_radius": 3,
            "centre": [548, 0],
            "size": [20, 70],
        },
    },
    "eight strings": {
        **SEVEN,
        "nut.width": 55,
        "fingerboard.width_at_end": 75,
        "neck.heel_width_at_end": "74.8 +/- 0.05",
        "neck.heel_width_at_mouth": "72.0 +/- 0.05",
        "bridge": {
            "part": "plate, seven strings",
            "plate_width": 104,
            "screws": [[36, -42], [36, -15.75], [36, 15.75], [36, 42], [6, -42], [6, 42]],
        },
        "strings[8]": {"note": "F#1", "gauge": ".074", "setback": 4.6},
    },
    "edge": EDGE,
    "no plate": {"bridge.saddle_back": "10.0 +/- 0.05"},
}


@pytest.fixture(scope="module")
def variant(planned: Planned, edited: Any, demo_text: str) -> Callable[[str], Plan]:
    @cache
    def made(name: str) -> Plan:
        changes = dict(VARIANTS[name])
        if changes.get("units") == "in":
            # The demo's bare numbers are millimetres: say so before the job's unit changes.
            del changes["units"]
            return planned_in_inches(planned, edited, demo_text, changes)
        return planned(changes, FULL) if name == "everything" else planned(changes)

    return made


def planned_in_inches(planned: Any, edited: Any, demo_text: str, changes: Mapping[str, Any]) -> Plan:
    import tomlkit

    def stated(value: Any, key: str) -> Any:
        if isinstance(value, dict):
            return {k: stated(v, k) for k, v in value.items()}
        if isinstance(value, list):
            return [stated(v, key) for v in value]
        bare = re.fullmatch(r"[\d.]+( \+/- [\d.]+)?", value) if isinstance(value, str) else None
        if isinstance(value, bool) or key in {"scribeline", "frets", "top_share"}:
            return value
        if isinstance(value, int | float):
            return f"{value} mm"
        if bare and key != "gauge":
            head, _, tail = value.partition(" +/- ")
            return f"{head} mm +/- {tail} mm" if tail else f"{head} mm"
        return value

    document = stated(tomlkit.parse(demo_text).unwrap(), "")
    return planned({**changes, "units": "in"}, tomlkit.dumps(document))  # type: ignore[no-any-return]


@dataclass(frozen=True)
class Printed:
    """A plan's drawing sheets as PDF, read back.

    Attributes:
        plan: what they are of; kept, so that no other takes its identity.
        written: the PDF.
        pages: each page's lettering.
        titles: each page's, from its title block.
    """

    plan: Plan
    written: bytes
    pages: list[list[Run]]
    titles: list[str]

    def words(self, title: str) -> str:
        """All that the pages of a title say."""
        return " ".join(run.text for _, page in self.of(title) for run in page)

    def of(self, title: str) -> Iterator[tuple[int, list[Run]]]:
        """The pages of a title by their place in the file."""
        return ((n, page) for n, page in enumerate(self.pages) if self.titles[n] == title)


DRAWN: dict[int, Printed] = {}
"""The sheets of each plan."""


def sheets_of(plan: Plan) -> Printed:
    if id(plan) not in DRAWN:
        written = drawing_sheets(plan)
        pages = read_runs(written, widest=0.4)
        titles = [page[[run.text for run in page].index("Title") + 1].text for page in pages]
        DRAWN[id(plan)] = Printed(plan, written, pages, titles)
    return DRAWN[id(plan)]


def capital(run: Run) -> float:
    """Height of its capitals, mm: the letter H is 1520 units of an em of 2000 high."""
    return run.size * 1520 / 2000


def box_of(run: Run) -> shapely.Polygon:
    """What a run of lettering covers, from its base line to its capitals' top."""
    upright = shapely.box(run.x, run.y, run.x + run.end, run.y + capital(run))
    return shapely.affinity.rotate(upright, run.angle, origin=(run.x, run.y), use_radians=True)


def texts(items: tuple[Item, ...]) -> Iterator[Text]:
    for item in items:
        if isinstance(item, Text):
            yield item
        elif isinstance(item, Dimension | RoundDimension | Leader):
            yield from (part for part in exploded(item) if isinstance(part, Text))
        elif isinstance(item, Clip):
            window = shapely.box(*item.window)
            for text in texts(item.items):
                if shapely.Polygon(text_corners(text)).intersects(window):
                    yield text


def patches(items: tuple[Item, ...]) -> Iterator[Any]:
    """White areas that boxes and balloons lay over what is below them."""
    for item in items:
        if isinstance(item, Fill) and item.tone == "white":
            yield shapely.Polygon(item.loops[0])
        elif isinstance(item, Clip):
            yield from patches(item.items)


def clipped(items: tuple[Item, ...]) -> Iterator[Text]:
    """Lettering that a window cuts through."""
    for item in items:
        if isinstance(item, Clip):
            window = shapely.box(*item.window)
            for text in texts(item.items):
                box = shapely.Polygon(text_corners(text))
                if box.intersects(window) and not window.covers(box):
                    yield text


@pytest.mark.parametrize("name", VARIANTS)
def test_no_lettering_leaves_its_frame_is_cut_or_touches_another(
    variant: Callable[[str], Plan], name: str
) -> None:
    plan = variant(name)
    printed, office = sheets_of(plan), Office(plan)
    faults = []
    frame = shapely.box(20, 10, office.width - 10, office.height - 10)
    for title, page in zip(printed.titles, printed.pages, strict=True):
        found = [(run, box_of(run)) for run in page]
        faults += [f"{title}: outside: {run.text}" for run, box in found if not frame.covers(box)]
        tree = shapely.STRtree([box for _, box in found])
        for n, (run, box) in enumerate(found):
            for other in tree.query(box):
                if other > n and box.intersection(found[other][1]).area > 0.05:
                    faults.append(f"{title}: {run.text} | {found[other][0].text}")
    for drawn in drawing_pages(plan):
        faults += [f"{drawn.title}: cut: {t.text}" for t in clipped(drawn.items)]
        said = [(text, shapely.Polygon(text_corners(text))) for text in texts(drawn.items)]
        tree = shapely.STRtree([box for _, box in said])
        for patch in patches(drawn.items):
            for n in tree.query(patch):
                if patch.intersection(said[n][1]).area > 0.05 and not patch.buffer(0.5).covers(said[n][1]):
                    faults.append(f"{drawn.title}: under a box or balloon: {said[n][0].text}")
    assert faults == []


@pytest.mark.parametrize("name", ["everything", "inch", "letter"])
def test_every_reading_is_told_in_both_units_on_one_page(variant: Callable[[str], Plan], name: str) -> None:
    plan = variant(name)
    pages = [{run.text: capital(run) for run in page} for _, page in sheets_of(plan).of("Frets, nut, checks")]
    assert plan.measurables
    for check in plan.measurables:
        # One inch is 25.4 mm.
        inches = f"{check.low / 25.4:.3f} to {check.high / 25.4:.3f} in"
        large, small = f"{check.low:.2f} to {check.high:.2f} mm", inches
        if plan.unit == "in":
            large, small = small, large
        told = next(page for page in pages if large in page)
        assert told[large] >= 3.49
        assert 2.49 <= told[small] < told[large]


def test_the_distances_and_pockets_of_the_demo_take_one_page_of_letter(planned: Planned) -> None:
    plan = planned({"print.paper": "Letter"}, FULL)
    _, page = next(sheets_of(plan).of("Mark-out and drill list"))
    told = {run.text for run in page}
    assert all(f"{pocket.depth:.2f} mm" in told for pocket in plan.features.pockets)


@pytest.mark.parametrize("name", VARIANTS)
def test_lettering_can_be_read_and_the_pages_stay_clear_of_the_title_block(
    variant: Callable[[str], Plan], name: str
) -> None:
    plan = variant(name)
    office = Office(plan)
    for printed in sheets_of(plan).pages:
        for run in printed:
            assert capital(run) >= 2.49
            assert missing_glyphs(run.text) == ""
    for page in (page for page in drawing_pages(plan) if page.items):
        left, bottom, right, top = office.window_over(page.cautions)
        box = bounds(page.items)
        assert box is not None
        # The window keeps 3 mm off the frame; 2.5 of it may be used where a drawing needs it.
        assert box[0] >= left - 2.5, (page.title, box)
        assert box[1] >= bottom - 2.5, (page.title, box)
        assert box[2] <= right + 2.5, (page.title, box)
        assert box[3] <= top + 2.5, (page.title, box)


@pytest.mark.parametrize("name", ["demo", "left-handed", "seven strings", "bass"])
def test_what_a_dimension_says_is_what_it_measures(variant: Callable[[str], Plan], name: str) -> None:
    office = Office(variant(name))
    seen = 0
    for page in (*plan_pages(office), *section_pages(office)):
        over, _, under = page.scale.split(" ")[0].partition(":")
        for item in page.items:
            if not isinstance(item, Dimension):
                continue
            value = float(item.text.removesuffix(" mm"))
            if page.scale:
                assert item.span == pytest.approx(value * float(over) / float(under), abs=0.006), item
                seen += 1
    assert seen >= 3


def pages_of(plan: Plan) -> list[tuple[str, Any]]:
    """Each page's title, and the page in a second reader."""
    printed = sheets_of(plan)
    opened = pdfplumber.open(io.BytesIO(printed.written))
    return list(zip(printed.titles, opened.pages, strict=True))


def circles(page: Any, diameter: float) -> set[tuple[float, float]]:
    """Centres of the circles of one size on a page, mm from its lower left corner."""
    found = set()
    for curve in page.curves:
        x0, x1 = curve["x0"] * MM_PER_PT, curve["x1"] * MM_PER_PT
        y0, y1 = curve["y0"] * MM_PER_PT, curve["y1"] * MM_PER_PT
        if abs(x1 - x0 - diameter) < PDF_MM and abs(y1 - y0 - diameter) < PDF_MM:
            found.add((round((x0 + x1) / 2, 3), round((y0 + y1) / 2, 3)))
    return found


@pytest.mark.parametrize("name", ["demo", "left-handed", "seven strings", "bass"])
def test_hole_spacing_on_the_full_size_sheets_is_the_plan_s(
    variant: Callable[[str], Plan], name: str
) -> None:
    plan = variant(name)
    checked = 0
    for title, page in pages_of(plan):
        face = {"Bridge set-out": "top"}.get(title)
        if face is None:
            continue
        groups: dict[str, list[Bore]] = {}
        for bore in plan.features.bores:
            if bore.face == face and bore.is_upright:
                groups.setdefault(bore.group, []).append(bore)
        for bores in groups.values():
            places = circles(page, bores[0].widest)
            expected = sorted(hypot(a.at.x - b.at.x, a.at.y - b.at.y) for a, b in combinations(bores, 2))
            drawn = sorted(hypot(a[0] - b[0], a[1] - b[1]) for a, b in combinations(places, 2))
            assert drawn == pytest.approx(expected, abs=PDF_MM)
            checked += len(drawn)
    assert checked >= 12


# Every figure of the demo's and of a left-handed inch job's sheets is tied to plan.json as well.
@pytest.mark.parametrize("name", ["bass", *long("demo", "left-handed", "inch")])
def test_the_pdf_says_what_the_plan_says(variant: Callable[[str], Plan], name: str) -> None:
    plan = variant(name)
    printed = sheets_of(plan)
    for number, page in enumerate(printed.pages, start=1):
        flat = " ".join(run.text for run in page)
        assert f"{number} of {len(printed.pages)}" in flat
        assert plan.job.document.name in flat
        assert f"{plan.layout.handed}-handed" in flat
    office = Office(plan)
    with pypdfium2.PdfDocument(printed.written) as document:
        sizes = {tuple(round(size * MM_PER_PT) for size in page.get_size()) for page in document}
    assert sizes == {(round(office.width), round(office.height))}
    assert " ".join(DEFERS.split()) in printed.words("Frets, nut, checks")
    layout, holes = plan.layout, printed.words("Mark-out and drill list")
    for bore in plan.features.bores:
        for value in (
            bore.at.x - layout.twelfth,
            bore.at.x - layout.pocket_end,
            *(step.depth for step in bore.steps),
            *(step.point_reaches for step in bore.steps),
        ):
            assert f"{value:.2f} mm" in holes
            assert inch_fraction(value).text.removesuffix(" in") in holes
        assert balloon(bore.id) in holes
    for fret in layout.frets:
        assert f"{fret.x:.2f}" in printed.words("Frets, nut, checks")
    for label, sheet_name in (("low", "Saddle travel"), ("aim", "Saddle travel"), ("high", "Saddle travel")):
        edge = layout.scale + getattr(layout.window, label)
        assert f"{edge - layout.twelfth:.2f} mm" in printed.words(sheet_name)
    for check in plan.measurables:
        assert f"{check.value:.2f} mm" in printed.words("Frets, nut, checks")
    assert "seen from the back" in printed.words("Back plan, depths")
    assert plan.stops == ()
    for finding in plan.findings:
        figure = re.search(r"\d+\.\d+", finding.message)
        if figure:
            assert figure.group() in printed.words("What to get, parts, findings")


@pytest.mark.parametrize("name", ["demo", "left-handed", "inch", "bass", "edge"])
def test_the_depth_map_says_depth_and_floor_of_everything_cut(
    variant: Callable[[str], Plan], name: str
) -> None:
    plan = variant(name)
    told = json.loads(as_json(plan))
    printed = sheets_of(plan)
    floors = {found["feature"]: found["to_opposite"] for found in told["outside"]}
    checked = 0

    def number(mm: float) -> str:
        # In the job's own unit; one inch is 25.4 mm.
        return f"{mm / 25.4:.3f}" if plan.unit == "in" else f"{mm:.2f}"

    for face, title in (("top", "Front plan, depths"), ("back", "Back plan, depths")):
        flat = printed.words(title)
        for pocket in (p for p in told["pockets"] if p["face"] == face):
            assert pocket["role"].split()[0] in flat
            assert f"{number(pocket['depth'])} deep" in flat
            assert f"{number(floors[pocket['id']])} left" in flat
            checked += 1
        for bore in (b for b in told["bores"] if b["face"] == face):
            assert f"{number(bore['steps'][-1]['depth'])} deep" in flat
            met = bore["meets"] or [f["id"] for f in told["bores"] if bore["id"] in f["meets"]]
            assert "into" in flat or not met
            if not met:
                least = min(floors[b["id"]] for b in told["bores"] if b["role"] == bore["role"])
                assert f"{number(least)} left" in flat
            checked += 1
    assert checked >= 10


def test_what_the_depth_map_says_can_be_read_and_its_hatching_told_apart(
    variant: Callable[[str], Plan],
) -> None:
    plan = variant("demo")
    for page in plan_pages(Office(plan)):
        if page.title.endswith(", depths"):
            figures = [t for t in texts(page.items) if re.search(r"\d (deep|left)$", t.text)]
            assert all(text.height >= 3.5 for text in figures)
            hatches = [item for item in page.items if isinstance(item, Hatch)]
            for pocket in plan.features.pockets:
                lines = {(h.angle_deg, h.spacing) for h in hatches if h.ref == pocket.id}
                assert lines in ({*band_of(pocket.depth).lines}, set())
            shown = {h.ref for h in hatches}
            assert shown >= {
                p.id for p in plan.features.pockets if (p.face == "top") == ("Front" in page.title)
            }
    assert len({band.lines for band in BANDS}) == len(BANDS)
    assert [in_unit(band_of(depth).words, "mm") for depth in (10.0, 10.01, 20.0, 30.0, 31.0)] == [
        "to 10 mm",
        "10 to 20 mm",
        "10 to 20 mm",
        "20 to 30 mm",
        "over 30 mm",
    ]


def test_layers_are_hatched_across_each_other(variant: Callable[[str], Plan]) -> None:
    """ISO 128-3: adjacent parts are hatched in different directions or at different spacings."""
    for page in section_pages(Office(variant("edge"))):
        looks = {(h.angle_deg, h.spacing) for h in page.items if isinstance(h, Hatch)}
        assert len(looks) >= 3, page.title


def test_numbers_in_tables_stay_whole(variant: Callable[[str], Plan]) -> None:
    plan = variant("eight strings")
    printed = sheets_of(plan)
    whole = {
        run.text for title in ("Mark-out and drill list",) for _, page in printed.of(title) for run in page
    }
    assert {str(n) for n in range(1, len(plan.features.bores) + 1)} <= whole
    assert {balloon(bore.id) for bore in plan.features.bores} <= whole
    assert {step.bit.kind for bore in plan.features.bores for step in bore.steps if step.bit.owned} <= whole


def test_pages_to_drill_from_warn_of_the_drill_press(variant: Callable[[str], Plan]) -> None:
    """Clamping and eye protection: common practice, no source."""
    warned = 0
    for title, page in pages_of(variant("demo")):
        if title in {"Mark-out and drill list", "Bridge set-out"}:
            flat = " ".join(page.extract_text().split())
            assert "CAUTION Clamp or fence the body" in flat
            assert "eye protection" in flat
            warned += 1
    assert warned >= 3


def sides(page: Page) -> dict[str, float]:
    """How high on the page each side's half-width is told."""
    found = (re.match(r"to the \w+", t.text) and t for t in texts(page.items))
    return {" ".join(t.text.split()[:3]): t.at[1] for t in found if t}


def test_which_side_is_the_treble_follows_the_hand(variant: Callable[[str], Plan]) -> None:
    # Seen from the front with the neck to the left, a right-handed player's treble side lies up the page (+y).
    for name, up in (("demo", True), ("left-handed", False)):
        front = plan_pages(Office(variant(name)))[0]
        places = sides(front)
        assert (places["to the treble"] > places["to the bass"]) == up
        back = next(page for page in plan_pages(Office(variant(name))) if page.title.startswith("Back plan"))
        places = sides(back)
        assert (places["to the treble"] > places["to the bass"]) != up


def test_the_section_runs_along_the_string_that_shows_the_ground_wire(
    variant: Callable[[str], Plan],
) -> None:
    string, hole = cut_string(variant("demo"))
    assert string.no == 3
    assert hole.at.y == pytest.approx(5.3)
    lined = [i for page in section_pages(Office(variant("demo"))) for i in page.items if isinstance(i, Hatch)]
    assert lined


def test_the_name_of_a_pocket_cut_short_stays_between_its_walls() -> None:
    """The five-string bass's section shows a part of its pickup's cavity, narrower than the name in full size."""
    made = plan(*parse_job(EVERY_JOB["bass-five-string"]))
    seen = 0
    for page in section_pages(Office(made)):
        walls = [each for each in page.items if isinstance(each, Path) and each.layer == CUT]
        names = [each for each in texts(page.items) if each.text == "bridge pickup"]
        seen += len(names)
        for name in names:
            words = shapely.Polygon(text_corners(name))
            assert not any(words.intersects(shapely.LineString(wall.points)) for wall in walls)
    assert seen == 1


def test_the_same_plan_gives_the_same_bytes(variant: Callable[[str], Plan]) -> None:
    first, second = (drawing_sheets(variant("demo")) for _ in range(2))
    assert first == second


def test_labels_are_pushed_apart_no_further_than_they_must() -> None:
    assert spaced([0.0, 20.0, 40.0], 9.0) == [0.0, 20.0, 40.0]
    assert spaced([10.0, 10.0], 8.0) == [6.0, 14.0]
    assert spaced([5.0, 0.0, 4.0], 4.0) == pytest.approx([7.0, -1.0, 3.0])


@pytest.mark.parametrize("name", ["demo", "letter"])
def test_no_title_block_is_shortened(variant: Callable[[str], Plan], name: str) -> None:
    plan = variant(name)
    said = [text.text for sheet in template_sheets(plan) for text in texts(sheet.items)]
    said += [run.text for page in sheets_of(plan).pages for run in page]
    assert [words for words in said if "…" in words] == []


def test_numbers_and_roles_are_drawn_together() -> None:
    assert runs(["B1", "B2", "B3", "B4"]) == "B1 to B4"
    assert runs(["H9", "H10"]) == "H9, H10"
    assert runs(["B1", "B3"]) == "B1, B3"
    assert runs(["K1", "J"]) == "K1, J"
    assert joined_roles(["volume pot hole", "tone pot hole"]) == "volume and tone pot hole"
    assert joined_roles(["jack hole", "jack hole"]) == "jack hole"
    assert joined_roles(["a pilot", "b pilot", "c pilot"]) == "a, b and c pilot"


def test_the_demo_s_sheets_are_few(variant: Callable[[str], Plan]) -> None:
    """What fits on so many pages at the lettering asked for; our own choice."""
    assert len(sheets_of(variant("demo")).pages) <= 20


@pytest.mark.parametrize(
    "name", ["two-studs", "vibrato-two-posts", "vibrato-six-screws", "posts-and-tailpiece"]
)
def test_no_sheet_is_blank(name: str) -> None:
    """A table in columns that just did not fit below the one before it had left a page with its title block alone."""
    for number, page in enumerate(read_runs(drawing_sheets(plan(*parse_job(EVERY_JOB[name])))), start=1):
        above = [run for run in page if run.y > 50.0]
        assert len(above) > 8, number


@pytest.mark.parametrize("name", ["two-studs", "vibrato-six-screws"])
def test_no_page_is_turned_for_the_last_rows_or_the_heading_alone(name: str) -> None:
    """The readings of two marks had left a page with one or two rows, and "Findings" had stood under the list of parts with the
    findings on the next page."""
    sheets = sheets_of(plan(*parse_job(EVERY_JOB[name])))
    assert len(list(sheets.of("Frets, nut, checks"))) == 3
    for _, page in sheets.of("What to get, parts, findings"):
        for heading in (run for run in page if run.text == "Findings"):
            assert any(50.0 < run.y < heading.y for run in page)


def test_a_table_of_several_columns_keeps_every_row_in_order(variant: Callable[[str], Plan]) -> None:
    pages = [page for _, page in sheets_of(variant("demo")).of("Mark-out and drill list")]
    pairs = [(one.text, other.text) for page in pages for one, other in pairwise(page)]
    numbers = [n for n, hole in pairs if re.fullmatch(r"\d{1,2}", n) and re.fullmatch(r"[A-Z]\d*", hole)]
    assert numbers == [str(n) for n in range(1, len(variant("demo").features.bores) + 1)]


WORDY = {
    "name": "A job with a name as long as a job's name may be, WWWWWWWWW",
    "revision": "Rev. WWWWWWW",
}


@pytest.mark.parametrize("changes", [{}, WORDY], ids=["plain", "wordy"])
def test_title_blocks_have_what_iso_7200_asks_for_and_stay_in_their_cells(
    planned: Planned, changes: Mapping[str, Any]
) -> None:
    """ISO 7200: owner, creator, approver, title, document type, number, revision, date, sheet."""
    printed = sheets_of(planned(changes))
    for page in printed.pages:
        labels = {run.text for run in page}
        assert {
            "Owner",
            "Creator",
            "Approved",
            "Title",
            "Job",
            "Revision",
            "Date",
            "Sheet",
            "Document",
        } <= labels
        assert {"Hand", "View", "Scale", "Units", "Paper", "Material", "Tolerance"} <= labels
        boxes = [(run.text, box_of(run)) for run in page if run.y < 36]
        for (one, a), (other, b) in combinations(boxes, 2):
            assert a.intersection(b).area < 0.05, (one, other)
