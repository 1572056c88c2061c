"""The heights from the side: at full size whatever the neck does, on the paper, and the card on one page."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path

import pdfplumber
import pytest

from scribeline.drawing import pdf
from scribeline.drawing.drafting import exploded
from scribeline.drawing.extent import bounds
from scribeline.drawing.facing import drawable
from scribeline.drawing.sheet import Dimension, Line, Sheet, Text
from scribeline.drawing.sheets.heights import heights_pages
from scribeline.drawing.sheets.office import Office
from scribeline.job import parse_job, set_value
from scribeline.plan import Plan, plan

from ..conftest import SHIPPED
from ..kind_jobs import example

JOBS = Path(__file__).parents[1] / "jobs"
LEANING = {
    "neck.angle": "2",
    "neck.pocket_depth": "22 mm",
    "neck.shim": "0.5 mm",
    "fingerboard.radius": "240 mm",
}


def demo(**keys: str) -> Plan:
    text = SHIPPED
    for key, value in keys.items():
        text, _ = set_value(text, key, value)
    return plan(*parse_job(text))


def cases() -> Iterator[tuple[str, Plan]]:
    yield "level", demo()
    yield "leaning", demo(**LEANING)
    yield "wide", demo(**{"print.paper": "A3"})
    yield "bass", plan(*parse_job((JOBS / "bass.toml").read_text(encoding="utf-8")))
    yield "studs", plan(*parse_job(example("two-studs")))


@pytest.fixture(scope="module", params=["level", "leaning", "wide", "bass", "studs"])
def planned(request: pytest.FixtureRequest) -> Plan:
    return next(each for name, each in cases() if name == request.param)


def dimensions(planned: Plan) -> dict[str, Dimension]:
    page = heights_pages(Office(drawable(planned)))[0]
    return {each.text.split(" ")[0]: each for each in page.items if isinstance(each, Dimension)}


def test_every_height_is_drawn_at_full_size(planned: Plan) -> None:
    found = dimensions(planned)
    assert {"A", "D", "F", "G", "K", "string"} <= found.keys()
    for letter, each in found.items():
        figure = re.search(r"[−\d.]+(?= (mm|in))", each.text)
        assert figure is not None
        mm = abs(float(figure[0].replace("−", "-"))) * (25.4 if figure[1] == "in" else 1.0)
        assert each.span == pytest.approx(mm, abs=0.02 if figure[1] == "in" else 0.006), letter


def test_the_strings_arrive_at_their_saddles_at_the_wanted_height(planned: Plan) -> None:
    page = heights_pages(Office(drawable(planned)))[0]
    top = dimensions(planned)["string"].a[1]
    highest = max(planned_heights(planned))
    ends = [
        max(each.a[1], each.b[1])
        for each in page.items
        if isinstance(each, Line) and each.ref.startswith("string-")
    ]
    assert max(ends) - top == pytest.approx(highest, abs=1e-6)


def planned_heights(planned: Plan) -> list[float]:
    from scribeline.layout import saddle_heights

    found: list[float] = saddle_heights(planned.job.document, planned.layout.stringing).tolist()
    return found


def test_words_stand_clear_of_each_other(planned: Plan) -> None:
    """No lettering on another, nor on the measuring bar."""
    page = heights_pages(Office(drawable(planned)))[0]
    words = [
        (number, each.text, bounds((each,)))
        for number, item in enumerate(page.items)
        for each in (exploded(item) if isinstance(item, Dimension) else (item,))
        if isinstance(each, Text)
    ]
    for n, (number, one, box) in enumerate(words):
        for of, other, another in words[:n]:
            if of == number:
                continue  # a value and its second unit, turned together: their upright boxes cross
            assert box is not None
            assert another is not None
            apart = (
                max(box[0], another[0]) - min(box[2], another[2]),
                max(box[1], another[1]) - min(box[3], another[3]),
            )
            assert max(apart) > -0.3, (one, other)


def test_all_of_it_lies_within_the_frame(planned: Plan) -> None:
    office = Office(drawable(planned))
    left, bottom, right, top = office.window
    covered = bounds(heights_pages(office)[0].items)
    assert covered is not None
    low_x, low_y, high_x, high_y = covered
    assert low_x >= left - 2.5
    assert low_y >= bottom - 0.5
    assert high_x <= right + 0.5
    assert high_y <= top + 0.5


def test_the_card_is_one_page(planned: Plan) -> None:
    office, pictures = Office(drawable(planned)), dict[str, Sheet]()
    data = office.data(heights_pages(office), pictures)
    made = pdf.typeset("sheets", data, pictures, title="heights").result()
    with pdfplumber.open(io.BytesIO(made)) as read:
        assert len(read.pages) == 2
