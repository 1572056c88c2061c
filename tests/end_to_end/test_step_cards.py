"""Step cards, from a job's text to the printed page.

What is held against outside values: paper sizes (ISO 216, ANSI/ASME Y14.1), the least line pitch is met by asking
that no two letterings overlap, and the PDF is read back with PDFium, which is not ours. The 12, 7 and 3.5 mm are
this project's own promises (common practice, no source).
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from pathlib import Path

import pypdfium2
import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont
from tests.pack_jobs import EXAMPLES
from tests.pack_text import Run, cards_on, runs
from tests.step_card_reader import read_step_cards
from tests.torture import long

from scribeline.drawing.cards import step_cards
from scribeline.drawing.face import FOLDER, missing_glyphs
from scribeline.job import parse_job
from scribeline.plan import Plan, plan
from scribeline.steps import DEFERS, PROVE_FIRST

DEMO = Path(__file__).parents[2] / "src/scribeline/scenario/marram.toml"
PRINTABLE = 5.0
"""Most printers print to about 4 mm from the paper's edge (common practice, no source), mm."""


def _replaced(text: str, *changes: tuple[str, str]) -> str:
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


def _one_string_set(text: str) -> str:
    """Without the second set, which has as many strings as the demo's instrument."""
    return re.sub(r"# Another set.*?(?=\[setup\])", "", text, flags=re.DOTALL)


def _seventh_string(text: str) -> str:
    string = '[[strings]]\nnote = "B1"\ngauge = ".060"\nsetback = 5.0\n\n[neck]'
    return _replaced(
        _one_string_set(text),
        ("[neck]", string),
        ("spacing = 10.6\nplate_length", "spacing = 10.2\nplate_length"),
        ("plate_width = 80.5", "plate_width = 86"),
        ("width = 42.8", "width = 48"),
        ("width_at_end = 56.4", "width_at_end = 64"),
    )


def _bass(text: str) -> str:
    """A four-string bass of the same make: 864 mm scale, wider gaps."""
    text = _replaced(
        _one_string_set(text),
        ("length = 640", "length = 864"),
        ("width = 42.8", "width = 41"),
        ("end = 468\nwidth_at_end = 56.4", "end = 632\nwidth_at_end = 63"),
        ("pocket_end = 468", "pocket_end = 632"),
        ("heel_width_at_end = \"56.2", "heel_width_at_end = \"62.8"),
        ("heel_width_at_mouth = \"54.0", "heel_width_at_mouth = \"60.6"),
        ("tail = 752", "tail = 976"),
        ("spacing = 10.6\nplate_length", "spacing = 18.5\nplate_length"),
        ("[612, 72], [716, 60], [724, 104], [664, 122], [618, 110]",
         "[836, 72], [940, 60], [948, 104], [888, 122], [842, 110]"),
    )  # fmt: skip
    gauges = (("G2", ".045"), ("D2", ".065"), ("A1", ".080"), ("E1", ".105"))
    strings = "".join(f'[[strings]]\nnote = "{note}"\ngauge = "{gauge}"\n' for note, gauge in gauges)
    return re.sub(r"\[\[strings\]\].*?(?=\[setup\])", f"{strings}\n", text, flags=re.DOTALL)


def _on_letter(text: str) -> str:
    return _replaced(text, ('paper = "A4"', 'paper = "Letter"'))


def _without_ground_wire(text: str) -> str:
    return re.sub(r"\[ground_wire\].*?(?=\[bits\])", "", text, flags=re.DOTALL)


def _many_screws(text: str) -> str:
    screws = ", ".join(f"[{x}, {y}]" for x in (5, 38) for y in (-34, -22, -9, 9, 22, 34))
    return re.sub(
        r"screws = \[.*\]\n\n\[bridge_screw", f"screws = [{screws}]\n\n[bridge_screw", text, flags=re.DOTALL
    )


def _told(mm: float, made_plan: Plan) -> str:
    """A length as the job's own unit has it, which leads on every card; one inch is 25.4 mm."""
    return f"{mm / 25.4:.3f} in" if made_plan.unit == "in" else f"{mm:.2f} mm"


def _in_inches(text: str) -> str:
    """The same lengths in a job whose bare numbers are inches: every bare number gets its own unit."""
    lines = []
    for line in _replaced(text, ('units = "mm"', 'units = "in"')).splitlines():
        key = line.partition("=")[0].strip()
        if "=" in line and not line.startswith("#") and key not in {"scribeline", "frets", "date", "gauge"}:
            head, _, value = line.partition("=")
            value = re.sub(r'(?<![\w."/#])(-?\d+(?:\.\d+)?)(?![\w."/])', r'"\1 mm"', value.partition("#")[0])
            value = re.sub(r'"([\d.]+)" mm" \+/- "([\d.]+) mm""|"([\d.]+) \+/- ([\d.]+)"', _plus_minus, value)
            lines.append(f"{head}={value}")
        else:
            lines.append(line)
    return "\n".join(lines)


def _plus_minus(match: re.Match[str]) -> str:
    value, error = (part for part in match.groups() if part is not None)
    return f'"{value} mm +/- {error} mm"'


TEXTS: dict[str, Callable[[str], str]] = {
    "demo": lambda text: text,
    "left-handed": lambda text: _replaced(text, ('handed = "right"', 'handed = "left"')),
    "inches": _in_inches,
    "seven strings": _seventh_string,
    "four-string bass": _bass,
    "no ground wire": _without_ground_wire,
    "Letter paper": _on_letter,
    "inches on Letter": lambda text: _on_letter(_in_inches(text)),
    "seven strings on Letter": lambda text: _on_letter(_seventh_string(text)),
    "a bass on Letter": lambda text: _on_letter(_bass(text)),
    "no date": lambda text: re.sub(r"date = .*\n", "", text),
    "an empty box of bits": lambda text: re.sub(
        r"(twist|brad_point|flat_bottomed) = \[.*\]", r"\1 = []", text
    ),
    "bits in inches": lambda text: _replaced(
        text,
        ("3.5, 4.0, 4.5,", '"9/64", 4.0, 4.5,'),
        ("2.9, 3.0, 3.2", '"#32", "1/8"'),
        ("7.0, 9.0, 10.0", '"17/64", 10.0'),
    ),
    "twelve screws in two rows": _many_screws,
    "a thick body": lambda text: _replaced(text, ('thickness = "44.4 +/- 0.1"', 'thickness = "62 +/- 0.1"')),
    "an empty saddle window": lambda text: _replaced(text, ("saddle_back = 17.6", "saddle_back = 10.0")),
    "long names": lambda text: _replaced(
        text,
        ('name = "Marram"', f'name = "{"Marram of the long dune " * 2}"'),
        ('"control cavity"', '"cavity for all the controls and every one of their wires"'),
        ('revision = "A"', 'revision = "A-2026-11-24"'),
    ),
    "no pockets but the neck's": lambda text: re.sub(
        r"\[\[pockets\]\].*?(?=\[bits\])", "", text, flags=re.DOTALL
    ),
}


LONG = 4
"""Places from which a card may go on on a second page; so may one for a hand drill, whose cautions are long."""
CONTINUED = {"twelve screws in two rows"}
"""The variants with a card that must."""


@dataclass(frozen=True)
class Printed:
    """A job's cards as PDF, read back.

    Attributes:
        plan: what they are of.
        written: the PDF.
        pages: each page's lettering, in the order it was set.
    """

    plan: Plan
    written: bytes
    pages: list[list[Run]]

    @cached_property
    def cards(self) -> dict[int, list[list[Run]]]:
        """What each card says, by its number: more than one lot where it goes on."""
        found: dict[int, list[list[Run]]] = {}
        for page in self.pages:
            for lot in cards_on(page):
                number = next(each for run in lot if (each := re.match(r"step (\d+) of", run.text)))
                found.setdefault(int(number[1]), []).append(lot)
        return found

    def words(self, number: int) -> str:
        """All that a card says, as running text."""
        return _words([run for lot in self.cards[number] for run in lot])


def _words(page: Sequence[Run]) -> str:
    return " ".join(run.text for run in page).replace("\u200b", "").replace("- ", "-")


def _capital(run: Run) -> float:
    """Height of its capitals, mm: the letter H is 1520 units of an em of 2000 high."""
    return run.size * 1520 / 2000


@cache
def _made(variant: str) -> Printed:
    made_plan = plan(*parse_job(TEXTS[variant](DEMO.read_text())))
    written = step_cards(made_plan)
    return Printed(made_plan, written, runs(written, widest=0.4))  # so that the cells of a table stay apart


@pytest.fixture(params=list(TEXTS), ids=str)
def made(request: pytest.FixtureRequest) -> Printed:
    return _made(request.param)


def test_one_card_after_the_other_behind_the_order_of_work(made: Printed) -> None:
    order = [number for page in made.pages for lot in cards_on(page) for number in _numbers(lot)]
    assert order == sorted(order)
    assert set(order) == {card.no for card in made.plan.cards}
    assert all(len(lots) <= 2 for lots in made.cards.values())
    first = _words(made.pages[0])
    assert "Order of work" in first
    assert PROVE_FIRST in first
    assert DEFERS in first
    listed = " ".join(_words(page) for page in made.pages if not list(cards_on(page)))
    for card in made.plan.cards:
        assert f" {card.no} {card.title.split()[0]} " in listed


def test_an_order_of_work_too_long_for_a_sheet_is_shared_evenly() -> None:
    """Two full sheets' halves, never a sheet and a row or two: each says which steps it has, and has them."""
    made_plan = plan(*parse_job(EXAMPLES["eight-strings"]))
    assert len(made_plan.cards) > 35
    pages = [page for page in runs(step_cards(made_plan), widest=0.4) if not list(cards_on(page))]
    assert len(pages) == 2
    half = len(made_plan.cards) // 2
    for page, (first, last) in zip(pages, ((1, half), (half + 1, len(made_plan.cards))), strict=True):
        words = _words(page)
        assert f"Order of work, steps {first} to {last}" in words
        listed = {card.no for card in made_plan.cards if f" {card.no} {card.title.split()[0]} " in words}
        assert listed == set(range(first, last + 1))


def _numbers(lot: Sequence[Run]) -> list[int]:
    return [int(found[1]) for run in lot if (found := re.match(r"step (\d+) of", run.text))]


@pytest.mark.parametrize("variant", sorted(TEXTS.keys() - CONTINUED))
def test_one_card_a_page(variant: str) -> None:
    printed = _made(variant)
    for card in printed.plan.cards:
        # Two cavities ask where each template lies and how deep each is, a plate for its place, diagonals and threads.
        may = len(card.places) >= LONG or card.machine == "hand drill" or len(card.gate.asks) > 3
        assert len(printed.cards[card.no]) <= 1 + may, card.title


@pytest.mark.parametrize("variant", sorted(CONTINUED))
def test_a_card_with_more_holes_than_a_page_holds_goes_on_with_its_deciding_figures(variant: str) -> None:
    printed = _made(variant)
    more = [card for card in printed.plan.cards if len(printed.cards[card.no]) > 1 and card.kind != "rout"]
    assert "drill-bridge-screws" in {card.id for card in more}
    for card in more:
        assert card.setting is not None
        assert "goes on on the next sheet" in _words(printed.cards[card.no][0])
        for lot in printed.cards[card.no]:
            large = {word for run in lot if _capital(run) >= 11.99 for word in run.text.split()}
            assert {f"{card.setting.mm:.2f}", str(card.no)} <= large


def test_a_leaning_pockets_card_has_room_for_both_its_readings_on_its_one_page() -> None:
    leaning = plan(*parse_job(EXAMPLES["posts-and-tailpiece"]))
    written = step_cards(leaning)
    (card,) = (each for each in leaning.cards if "neck-pocket" in each.features and each.machine == "router")
    assert [each.id for each in card.gate.asks] == ["end wall", "mouth"]
    pages = runs(written, widest=0.4)
    ((number, page),) = (
        (n, page) for n, page in enumerate(pages) for lot in cards_on(page) if card.no in _numbers(lot)
    )
    labels = [run for run in page if re.match(r"End wall$|Mouth: |Initials$", run.text)]
    assert len(labels) == 3
    with pypdfium2.PdfDocument(written) as document:
        bounds = [
            each.get_bounds() for each in document[number].get_objects([pypdfium2.raw.FPDF_PAGEOBJ_PATH])
        ]
    mm = 25.4 / 72
    ruled = [(mm * y0, mm * (x1 - x0)) for x0, y0, x1, y1 in bounds if y1 - y0 < 2]
    for label in labels:
        # A label of two lines has its place to write beside the second.
        lines = [wide for y, wide in ruled if -6 < y - label.y < 1 and 17.9 < wide < 80]
        assert lines, label.text


def test_every_page_of_a_card_says_what_is_done_what_can_hurt_and_which_page_it_is(made: Printed) -> None:
    for card in made.plan.cards:
        lots = made.cards[card.no]
        for number, lot in enumerate(lots, start=1):
            words = _words(lot)
            # What several cards of a page warn of stands once at its foot.
            page = _words(next(page for page in made.pages if lot[0] in page))
            assert "CAUTION" in page
            for sentence in card.cautions:
                assert sentence in page, (card.title, sentence)
                assert sentence in words or "CAUTION All steps of this page:" in page, (card.title, sentence)
            # The head comes first: the step's number, the title, then which step of how many.
            number_box, *rest = lot
            assert number_box.text == str(card.no)
            lines = [run.text for run in rest[:3] if _capital(run) > 5.9]
            # A title longer than two lines is cut short with an ellipsis.
            assert lines
            assert card.title.startswith(" ".join(lines).removesuffix("…").rstrip()), card.title
            assert f"step {card.no} of {len(made.plan.cards)}" in words
            assert (f"page {number} of {len(lots)}" in words) == (len(lots) > 1)


@pytest.mark.parametrize("variant", ["demo", "inches", "Letter paper", "inches on Letter"])
def test_a_wires_hole_is_told_in_both_units_and_on_both_papers(variant: str) -> None:
    printed = _made(variant)
    wires = [card for card in printed.plan.cards if any(place.out is not None for place in card.places)]
    assert len(wires) == 3  # the ground wire and the demo's two wire holes
    assert all(len(printed.cards[card.no]) <= (1 if variant == "demo" else 2) for card in wires)


def test_nothing_lies_nearer_the_papers_edge_than_printers_print(made: Printed) -> None:
    """Seen on the page as it is drawn, by a reader that is not ours."""
    with pypdfium2.PdfDocument(made.written) as document:
        for page in document:
            pixels = page.render(scale=1.0, grayscale=True).to_numpy()
            border = int(PRINTABLE * 72 / 25.4)
            for strip in (pixels[:border], pixels[-border:], pixels[:, :border], pixels[:, -border:]):
                assert strip.min() > 250


@cache
def _ink(letter: str, bold: bool) -> tuple[float, float]:
    """How far a letter's outline reaches below and above the base line, in heights of the letter H."""
    font = TTFont(FOLDER / f"B612-{'Bold' if bold else 'Regular'}.otf")
    glyphs, names = font.getGlyphSet(), font.getBestCmap()

    def reach(character: str) -> tuple[float, float]:
        pen = BoundsPen(glyphs)
        glyphs[names[ord(character)]].draw(pen)
        return (0.0, 0.0) if pen.bounds is None else (pen.bounds[1], pen.bounds[3])

    low, high = reach(letter)
    return low / reach("H")[1], high / reach("H")[1]


def _box(run: Run) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of the ink of one lettering, of its own letters."""
    reach = [_ink(letter, False) for letter in run.text if letter not in "\u200b"]
    low, high = min(r[0] for r in reach), max(r[1] for r in reach)
    return run.x, run.y + low * _capital(run), run.x + run.end, run.y + high * _capital(run)


def test_no_lettering_lies_on_other_lettering(made: Printed) -> None:
    for n, page in enumerate(made.pages, start=1):
        boxes = [(run.text, _box(run)) for run in page if run.angle == 0]
        for (one, a), (other, b) in itertools.combinations(boxes, 2):
            wide = min(a[2], b[2]) - max(a[0], b[0])
            high = min(a[3], b[3]) - max(a[1], b[1])
            assert min(wide, high) <= 0.05, f"page {n}: “{one}” lies on “{other}”"


def test_nothing_is_lettered_smaller_than_what_is_acted_on(made: Printed) -> None:
    for page in made.pages:
        for run in page:
            assert _capital(run) >= 3.49, run.text
            assert missing_glyphs(run.text.replace("\u200b", "")) == "", run.text


def test_what_is_set_and_what_is_read_is_twelve_millimetres_high(made: Printed) -> None:
    for card in made.plan.cards:
        large = {
            word
            for lot in made.cards[card.no]
            for run in lot
            if _capital(run) >= 11.99
            for word in run.text.split()
        }
        if card.depth is not None:
            travel = card.depth if card.setting is None else card.setting.mm
            assert _told(travel, made.plan).split()[0] in large, card.title
        if card.bit is not None:
            size = _told(card.bit.diameter, made.plan).split()[0]
            size = card.bit.label if any(c in card.bit.label for c in '/#"') else size
            assert {size, size.rstrip("0").rstrip(".")} & large, card.title
        if card.depth is None and card.gate.value:
            assert any(each.replace(".", "").isdigit() for each in large - {str(card.no)}), card.title


def test_every_card_says_what_is_done_and_what_must_come_first(made: Printed) -> None:
    for card in made.plan.cards:
        words = made.words(card.no).replace(" – ", " ")
        for sentence in card.do:
            assert sentence in words, sentence
        if card.depth is not None and card.setting is not None:
            assert _told(card.depth, made.plan) in words
            assert card.rpm is None or f"At most {card.rpm} rpm" in words
        for need in card.after:
            assert need.because in words
        if card.gate is not None:
            assert card.gate.ask[1:] in words
            assert "Initials" in words


def test_a_routers_card_names_the_pockets_edges(made: Printed) -> None:
    layout = made.plan.layout
    for pocket in made.plan.features.pockets:
        card = next(card for card in made.plan.cards if card.depth is not None and pocket.id in card.features)
        words = made.words(card.no)
        xs = [point.x for point in pocket.outline]
        for edge in (min(xs), max(xs)):
            assert card.datums
            for datum in card.datums:
                assert f"from {datum.name}" in words
                assert _told(abs(edge - datum.point.x), made.plan) in words
        for edge in (min(p.y for p in pocket.outline), max(p.y for p in pocket.outline)):
            side = "treble" if (edge > 0) == (layout.handed == "right") else "bass"
            assert f"{_told(abs(edge), made.plan)} to the {side}" in words


def test_the_body_is_shown_being_turned_over_when_it_must_be(made: Printed) -> None:
    up = "top"
    for card in made.plan.cards:
        turned = card.face not in ("", up)
        up = card.face or up
        assert ("Turn the body over about its long axis: the neck" in made.words(card.no)) == turned


def test_every_page_says_which_job_it_is(made: Printed) -> None:
    document = made.plan.job.document
    for number, page in enumerate(made.pages, start=1):
        words = _words(page)
        assert f"{number} of {len(made.pages)}" in words
        assert f"{document.handed}-handed" in words
        assert document.revision in words
        assert document.date is None or document.date.isoformat() in words


def test_paper_is_the_jobs(made: Printed) -> None:
    # ISO 216: A4 is 210 × 297 mm. ANSI/ASME Y14.1: size A is 8.5 × 11 in.
    size = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}[made.plan.job.document.print.paper]
    with pypdfium2.PdfDocument(made.written) as document:
        for page in document:
            assert (page.get_width() * 25.4 / 72, page.get_height() * 25.4 / 72) == pytest.approx(
                size, abs=0.01
            )


@pytest.mark.parametrize(
    "variant",
    [
        "left-handed",
        "four-string bass",
        # Every figure of the demo's and of an inch job's cards is tied to plan.json as well.
        *long("demo", "inches", "seven strings", "no ground wire", "inches on Letter"),
    ],
)
def test_the_printed_cards_carry_every_holes_numbers(variant: str) -> None:
    printed = _made(variant)
    read = {card.no: card for card in read_step_cards(printed.written)}
    layout, treble = printed.plan.layout, printed.plan.layout.treble
    tail = layout.datum("tail").point.x
    half = 0.013 if printed.plan.unit == "in" else 0.0051  # of the last place that is printed, mm
    bores = {bore.id: bore for bore in printed.plan.features.bores}
    for card in printed.plan.cards:
        if card.bit is None:
            continue
        assert card.setting is not None
        mine = read[card.no]
        assert mine.stop == pytest.approx(card.setting.mm, abs=half)
        assert mine.depth == pytest.approx(card.depth, abs=half)
        assert mine.bit is not None
        assert mine.bit[1] == pytest.approx(card.bit.diameter, abs=half)
        # The heel's are measured on the neck, from its own datums; test_neck_piece has them.
        for place in card.places if card.workpiece == "body" else ():
            at = bores[place.feature].at
            marks = [(place.number, at.x, at.y)]
            if place.out is not None:
                marks = [(f"{place.number} in", *marks[0][1:])]
                marks.append((f"{place.number} out", place.out.at.x, place.out.at.y))
            for label, x, y in marks:
                row = mine.rows[label]
                from_datums = (
                    (row.from_twelfth, layout.twelfth),
                    (row.from_board_end, layout.board_end),
                    (row.from_pocket_end, layout.pocket_end),
                    (row.from_tail, tail),
                )
                told = [(read, x - datum) for read, datum in from_datums if read is not None]
                assert told, label
                assert [read for read, _ in told] == pytest.approx([along for _, along in told], abs=half), (
                    label
                )
                assert row.to_treble == pytest.approx(y * treble, abs=half), label
            if place.below is not None:
                assert mine.rows[marks[0][0]].down == pytest.approx(place.below.mm, abs=half)


FRACTION = re.compile(r"\d+/\d+ in \(([+-]\d\.\d\d)\)(, \d+\.\d{3} in)?")


def test_no_inch_fraction_stands_alone_where_its_error_eats_a_third_of_the_tolerance(
    made: Printed,
) -> None:
    """The third is common practice, no source."""
    judged = 0
    for card in made.plan.cards:
        gate = card.gate
        if gate.value is None or gate.low is None or gate.high is None:
            continue
        tolerance = min(gate.value - gate.low, gate.high - gate.value) or (gate.high - gate.low) / 2
        for error, decimal in FRACTION.findall(made.words(card.no)):
            judged += 1
            # The error is printed to 0.01 mm, so it may be 0.005 mm less than it says.
            assert abs(float(error)) <= tolerance / 3 + 0.005 or decimal, (card.title, error)
    # An inch job's thousandths need no fraction with its error.
    assert judged or made.plan.unit == "in"


def test_a_bit_is_never_told_by_the_fraction_nearest_to_it(made: Printed) -> None:
    said = {run.text for page in made.pages for run in page}
    assert not [words for words in said if "nearest" in words]
    metric = [card.bit for card in made.plan.cards if card.bit is not None and card.bit.size.endswith(" mm")]
    other = [
        f"{bit.diameter / 25.4:.3f} in" if made.plan.unit == "mm" else f"{bit.diameter:g} mm"
        for bit in metric
    ]
    assert all(any(text.startswith(size) for text in said) for size in other)


def test_the_same_plan_gives_the_same_bytes() -> None:
    made_plan = plan(*parse_job(DEMO.read_text()))
    assert step_cards(made_plan) == step_cards(replace(made_plan))


def test_the_demos_cards_are_few() -> None:
    """What fits on so many pages at the lettering asked for; our own choice."""
    assert len(_made("demo").pages) <= 32
