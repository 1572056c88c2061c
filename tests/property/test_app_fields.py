"""Whatever a job states as a number can be typed in the app, and each letter asked for stands on its picture."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from pydantic import BaseModel

from scribeline.drawing.sheet import Dimension as Drawn
from scribeline.drawing.sheet import Path
from scribeline.job import Dimension, Document, JobError, parse_job, set_value, widest_measured
from scribeline.lengths import JobUnit
from scribeline.plan import plan
from scribeline.scenario import demo_jobs
from scribeline.web import pictures
from scribeline.web.edits import edited
from scribeline.web.field import Family, Field
from scribeline.web.fields import at_key, families, standing, stated
from scribeline.web.frame import both
from scribeline.web.pages.plan import View, _cuts

from ..conftest import DEMO
from ..pack_jobs import EVERY_JOB

TEXT = demo_jobs()["marram.toml"]
DOCUMENT = parse_job(TEXT).job.document
FAMILIES = families(DOCUMENT)
FIELDS = [field for one in FAMILIES for field in one.fields]


def dimensions(value: Any, path: str) -> Iterator[str]:
    """Keys of every part's dimension that the document holds."""
    if isinstance(value, Dimension):
        yield path
    elif isinstance(value, BaseModel):
        for name in type(value).model_fields:
            yield from dimensions(getattr(value, name), f"{path}.{name}" if path else name)
    elif isinstance(value, tuple):
        for number, each in enumerate(value, start=1):
            yield from dimensions(each, f"{path}[{number}]")


def test_every_dimension_of_a_part_has_a_field() -> None:
    wanted = {key for key in dimensions(DOCUMENT, "") if not key.startswith(("done", "readings"))}
    assert len(wanted) > 25
    assert wanted <= {field.key for field in FIELDS}


def test_no_key_is_asked_for_twice() -> None:
    keys = [field.key for field in FIELDS]
    assert len(keys) == len(set(keys))
    slugs = [field.slug for field in FIELDS]
    assert len(slugs) == len(set(slugs))


@pytest.mark.parametrize("one", [each for each in FAMILIES if each.picture], ids=lambda one: one.slug)
def test_every_letter_is_on_the_picture(one: Family) -> None:
    asked = {field.letter for field in one.fields if field.letter}
    on_it = pictures.letters(one.picture)
    assert asked <= on_it, asked - on_it
    by_corners = one.slug == "pocket-3"
    into_a_cavity = one.slug == "jack"  # which has no depth of its own
    assert on_it <= asked or by_corners or into_a_cavity or one.slug == "strings"


@pytest.mark.parametrize("name", EVERY_JOB)
def test_a_bridge_of_every_kind_has_a_picture_of_its_own(name: str) -> None:
    document = parse_job(EVERY_JOB[name]).job.document
    page = next(each for each in families(document) if each.slug == "bridge")
    asked = [field.letter for field in page.fields if field.letter]
    assert page.picture
    assert len(asked) == len(set(asked)) > 8
    spare = (
        set() if document.bridge.through_body else {"H", "J"}
    )  # string holes in the body, which are not there
    assert set(asked) <= pictures.letters(page.picture) <= {*asked, *spare}
    assert page.shelf == document.bridge.shelf


def test_a_hole_in_a_cavitys_wall_is_listed_with_the_face_that_this_is_open_to() -> None:
    features = plan(*parse_job(EVERY_JOB["vibrato-six-screws"])).features
    views: tuple[tuple[View, bool], ...] = (("front", False), ("back", True), ("side", True))
    for view, there in views:
        listed = {cut.id for cut, _ in _cuts(features, view)}
        assert ({"claw-screw-1", "claw-screw-2", "ground-wire"} <= listed) == there
        assert ("strap-button-1" in listed) == (view != "back")


@pytest.mark.parametrize("field", FIELDS, ids=lambda field: field.key)
def test_what_stands_in_a_field_can_be_kept_as_it_stands(field: Field) -> None:
    how = standing(field, stated(TEXT), DOCUMENT)
    if not how.typed:
        return
    again, before = (
        at_key(each, field.key) for each in (parse_job(edited(TEXT, field, how.typed)).job.document, DOCUMENT)
    )
    if field.kind == "bits":
        again, before = ([(bit.diameter, bit.point, bit.reach) for bit in bits] for bits in (again, before))
    assert again == before


@pytest.mark.parametrize("field", [each for each in FIELDS if not each.needed], ids=lambda field: field.key)
def test_what_may_be_left_out_can_be_left_out(field: Field) -> None:
    if at_key(stated(TEXT), field.key) is None:
        return
    text = edited(TEXT, field, "")
    assert at_key(stated(text), field.key) is None


def test_a_bit_keeps_its_point_and_reach_when_another_is_added() -> None:
    text, _ = set_value(TEXT, "bits.brad_point", [3, {"diameter": 7, "point": 2.1, "reach": 80}, 9])
    field = next(each for each in FIELDS if each.key == "bits.brad_point")
    how = standing(field, stated(text), parse_job(text).job.document)
    assert how.typed == "3, 7, 9"
    bits = parse_job(edited(text, field, "3, 5, 7, 9")).job.document.bits.brad_point
    assert [(bit.diameter, bit.point, bit.reach) for bit in bits] == [
        (3, None, None),
        (5, None, None),
        (7, 2.1, 80),
        (9, None, None),
    ]


def test_a_document_without_parts_that_may_be_missing_has_no_fields_for_them() -> None:
    bare = parse_job(DEMO).job.document
    assert isinstance(bare, Document)
    assert not [one for one in families(bare) if "jack" in one.slug or "strap" in one.slug]


REFERENCES = [
    each
    for each in FIELDS
    if each.key.rpartition(".")[2] in {"into", "start", "timber"} and each.kind != "names"
]


@pytest.mark.parametrize("field", REFERENCES, ids=lambda field: field.key)
def test_pockets_and_timbers_are_chosen_among_those_there_are(field: Field) -> None:
    assert field.kind == "choice"
    values = [value for value, _ in field.choices]
    typed = standing(field, stated(TEXT), DOCUMENT).typed
    assert typed in values or (not typed and not field.needed)
    for value in values:
        # A tunnel may not end where it starts: what may be chosen for one end hangs on the other.
        if not field.key.startswith("tunnels"):
            chosen = at_key(parse_job(edited(TEXT, field, value)).job.document, field.key)
            assert getattr(chosen, "key", chosen) == value


def test_a_control_is_not_offered_a_pocket_cut_from_the_top() -> None:
    offered = {value for each in REFERENCES if each.key.startswith("controls") for value, _ in each.choices}
    assert offered == {"control cavity"}


# Inches and 64ths worked by hand: 413.72 mm is 16.288 in and 16-9/32 in is 0.17 mm less; 0.1 mm is no fraction at all.
@pytest.mark.parametrize(
    ("mm", "units", "said"),
    [
        (413.72, "in", "16.288 in ≈ 16-9/32 in · 413.72 mm"),
        (431.8, "in", "17.000 in 17 in · 431.80 mm"),
        (3.0, "in", "0.118 in 3.00 mm"),
        (0.0, "in", "0.000 in 0.00 mm"),
        (14.2, "mm", "14.20 mm 9/16 in (+0.09)"),
        (0.1, "mm", "0.10 mm 0.004 in"),
    ],
)
def test_a_length_on_a_page_leads_with_the_jobs_unit_and_no_fraction_misleads(
    mm: float, units: JobUnit, said: str
) -> None:
    assert both(mm, units).striptags().replace("\u00a0", " ") == said


def test_a_limit_is_not_told_by_the_marks_of_a_rule() -> None:
    assert both(431.7, "in", rule=False).striptags() == "16.996 in 431.70 mm"
    assert both(431.7, "mm", rule=False).striptags() == "431.70 mm 16.996 in"


def test_a_decimal_comma_makes_no_bit_too_many() -> None:
    field = next(each for each in FIELDS if each.key == "bits.brad_point")
    with pytest.raises(JobError, match=r"6\.5, or two, 6 and 5"):
        edited(TEXT, field, "3, 6,5")
    bits = parse_job(edited(TEXT, field, "3; 6,5")).job.document.bits.brad_point
    assert [bit.diameter for bit in bits] == [3, 6.5]


@pytest.mark.parametrize(
    ("mm", "widest"),
    # A rule's 0.5 mm; a hundredth where that is more; a third where that is less; a feeler's 0.1 mm at the least.
    [(44.4, 0.5), (752, 7.52), (1.2, 0.4), (0.2, 0.1), (0, 0.1)],
)
def test_what_no_measurement_gives_counts_as_typical(mm: float, widest: float) -> None:
    assert widest_measured(mm) == pytest.approx(widest)


@pytest.mark.parametrize(("typed", "measured"), [("45 ± 40", False), ("45 ± 0.6", False), ("45 ± 0.5", True)])
def test_a_wide_band_is_said_to_be_no_measurement(typed: str, measured: bool) -> None:
    field = next(each for each in FIELDS if each.key == "body.thickness")
    text = edited(TEXT, field, typed)
    document = parse_job(text).job.document
    assert document.body.thickness.measured is measured
    how = standing(field, stated(text), document).how
    assert ("too wide for a measurement" in how) is not measured
    assert measured or "at most ±0.5 mm" in how
    said = [each for each in plan(*parse_job(text)).findings if each.code == "typical.body-thickness"]
    assert bool(said) is not measured
    assert measured or "is too wide for a measurement: at most ±0.5" in said[0].message


def test_the_length_of_a_screw_counts_from_under_its_head() -> None:
    marks = tuple(pictures._marks("screw", 6))
    head = next(item for item in marks if isinstance(item, Path) and item.closed)
    length = next(item for item in marks if isinstance(item, Drawn) and item.text == "C")
    assert length.a[0] == max(x for x, _ in head.points)
    assert length.b[0] == max(x for item in marks if isinstance(item, Path) for x, _ in item.points)
