"""The whole of a job can be said in the app: each key of the models has a field, is judged, and can be taken back."""

from __future__ import annotations

import random
import re
import tomllib
from collections.abc import Iterator
from typing import Annotated, Any, Literal, get_args

import pytest
from pydantic import BaseModel
from pydantic import Field as Of

from scribeline.job import Document, JobError, Way, parse_job
from scribeline.job.values import Mm, Reading
from scribeline.web.blanks import blank, written
from scribeline.web.edits import edited
from scribeline.web.field import Field, Section
from scribeline.web.fields import adds, at_key, families, field_at, page_of, stated
from scribeline.web.schema import by_kind, keys

from ..conftest import SHIPPED, change
from ..pack_jobs import EVERY_JOB

JOBS = {name: text for name, text in EVERY_JOB.items() if name != "demo"}

SCREW = {"thread": 3, "root": 2, "length": 20}

FURTHER = (
    {
        "jack.plate_size": [30, 40],
        "jack.screw": SCREW,
        "jack.screws": [[-10, 14], [10, 14]],
        "holes[1]": {
            "name": "stepped",
            "at": [600, 40],
            "steps": [{"diameter": 9, "depth": 4}, {"diameter": 4}],
            "through": True,
            "countersink": {"diameter": 12},
        },
        "holes[2]": {
            "name": "slanting",
            "at": [600, 40],
            "diameter": 4,
            "depth": 9,
            "lean": 20,
            "heading": 0,
        },
        "pockets[2]": {
            "name": "slotted",
            "depth": 9,
            "slot": {"ends": [[500, 0], [560, 0]], "width": 12},
            "cover_screws": {**SCREW, "places": [[1, 2]], "cover_thickness": 2},
        },
        "neck_screws.cup_diameter": 16,
        "neck_screws.cup_depth": 2,
        "tunnels[1]": {
            "name": "stated",
            "start": "top",
            "hide": [[500, 0], [520, 0], [520, 20]],
            "into": "slotted",
            "diameter": 6,
            "entry": [510, 5],
            "heading": 0,
            "lands": 9,
        },
        "masses": [{"name": "neck", "grams": 780, "at": [140, 0]}],
        "timbers": [{"name": "kiri", "kg_m3": 290, "hardness": 1200}],
        "bits.countersink": [{"diameter": 12}],
        "body.bevels": [
            {"name": "forearm", "face": "top", "line": [[600, -120], [735, -60]], "depth": 8},
            {"name": "belly", "face": "back", "line": [[600, -120], [735, -60]], "angle": 12},
        ],
        "body.layers": [{"name": "all", "timber": "ash-white", "thickness": "44.4 +/- 0.1"}],
    },
    {"jack.into": None, "jack.depth": 30, "body.outline": {"file": "box.svg", "centre": 100, "tail": 752}},
    {"body.top": {"kind": "arched", "profile": [[0, -6], [40, -1]]}},
    {
        "body.outline": {
            "handles": [{"name": f"h{n}", "at": [400 + 20 * n, 90 - n]} for n in range(6)],
            "mirrored": True,
        }
    },
    {
        "neck_screws": None,
        "neck.rod_width": 6.4,
        "neck.rod_depth": 9.5,
        "neck.rod_to": 440,
        "neck_inserts": {
            "places": [[12, 0]],
            "thread": 8,
            "root": 6.4,
            "length": 13,
            "screw": 5,
            "screw_length": 40,
            "flange_diameter": 9.5,
            "flange_thickness": 1,
            "cup_diameter": 16,
            "cup_depth": 2,
        },
    },
    {
        "head": {
            "face": "stepped",
            "first_post": 38,
            "pitch": 25.4,
            "hole": 9,
            "drawing": {"file": "head.svg", "origin": [0, 0]},
        }
    },
)
"""What no shipped job states."""


def document_of(text: str) -> Document:
    """What a text states, each table by itself: whether they go together is not asked."""
    return Document.model_validate(tomllib.loads(text), context=Reading("mm"))


DOCUMENTS = [
    document_of(text) for text in (SHIPPED, *(each for name, each in JOBS.items() if "inch" not in name))
] + [document_of(change(changes, SHIPPED)) for changes in FURTHER]


def tables_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from tables_in(inner)


def keys_of(table: type[BaseModel], path: str = "") -> Iterator[str]:
    """Every key of the models that holds no table, read from the models themselves."""
    for name, info in table.model_fields.items():
        if info.exclude is not True and name != "scribeline":
            inner = list(tables_in(info.annotation))
            at = f"{path}.{name}" if path else name
            for each in inner:
                yield from keys_of(each, at)
            if not inner:
                yield at


def without_numbers(key: str) -> str:
    return re.sub(r"\[\d+\]", "", key)


def asked_in(document: Document) -> Iterator[Field]:
    """Every field of every page of a job, and of what its pages offer to add or to state in another way."""
    offered: list[tuple[str, tuple[int, ...], int | None]] = [(key, (), None) for key, _ in adds(document)]
    for page in families(document):
        yield from page.fields
        for section in page.sections:
            offered += [(key, (), None) for key, _ in section.offers]
            offered += [(section.key or page.slug, way, group) for way, group in other_ways(section)]
    for key, ways, group in offered:
        found = blank(document, key, ways, group)
        assert found is not None, key
        yield from found.fields


def set_by_ways(document: Document) -> Iterator[str]:
    """Keys that choosing a way states."""
    for page in families(document):
        for section in page.sections:
            at = section.key or page.slug
            for way in (way for _, ways in section.ways for way in ways):
                yield from (without_numbers(f"{at}.{key}") for key in way.sets)


def other_ways(section: Section) -> Iterator[tuple[tuple[int, ...], int]]:
    now = [way for way, _ in section.ways]
    for group, (_, ways) in enumerate(section.ways):
        for way in range(len(ways)):
            yield (*now[:group], way, *now[group + 1 :]), group


def test_every_key_of_the_models_is_asked_for_on_a_page() -> None:
    asked = {without_numbers(field.key) for each in DOCUMENTS for field in asked_in(each)}
    # A limit is asked for by its two levels, a bit's size in the line of its kind.
    asked |= {key.rpartition(".")[0] for key in asked if key.startswith("limits.")}
    asked |= {f"{key}.diameter" for key in asked if key.startswith("bits.")}
    asked |= {key for each in DOCUMENTS for key in set_by_ways(each)}
    wanted = set(keys_of(Document))
    assert len(wanted) > 250
    assert wanted - asked == set()


def test_a_key_leads_to_the_page_it_stands_on() -> None:
    for document in DOCUMENTS:
        for page in families(document):
            for field in page.fields:
                assert page_of(field.key) == page.slug or page.slug == "bit-by-bit", field.key


FIELDS = {field.key: field for field in (field for one in families(DOCUMENTS[0]) for field in one.fields)}
RANGED = [field for field in FIELDS.values() if field.within[1] is not None]


def typed_for(field: Field, value: float) -> str:
    return f"{value:.6f}" + (" mm" if field.kind == "length" else "")


@pytest.mark.parametrize("field", RANGED, ids=lambda field: field.key)
def test_what_is_out_of_range_is_refused_with_a_sentence_at_its_key(field: Field) -> None:
    assert field.within[1] is not None
    text = edited(SHIPPED, field, typed_for(field, field.within[1] * 1.01 + 1))
    with pytest.raises(JobError) as refused:
        parse_job(text)
    own = [fault for fault in refused.value.faults if field.key.startswith(fault.path)]
    assert own
    assert all(len(fault.sentence) > 15 for fault in own)


@pytest.mark.parametrize("field", RANGED, ids=lambda field: field.key)
def test_what_is_within_range_is_kept_or_refused_for_what_it_does_elsewhere(field: Field) -> None:
    low, high = field.within
    assert high is not None
    number = (low or 0) + random.Random(field.key).random() * (high - (low or 0))
    typed = f"{number:.0f}" if field.kind == "whole" else typed_for(field, number)
    try:
        parse_job(edited(SHIPPED, field, typed))
    except JobError as refused:
        said = " ".join(fault.sentence for fault in refused.faults)
        assert "it should lie between" not in said
        assert len(said) > 15


@pytest.mark.parametrize(
    "key", [key for key in FIELDS if "[" not in key or key.startswith(("pockets", "holes"))]
)
def test_a_field_is_the_same_without_the_job(key: str) -> None:
    """A job that cannot be read just now is edited all the same."""
    alone = field_at(None, key)
    assert alone is not None
    assert alone.kind == FIELDS[key].kind or FIELDS[key].kind in {"choice", "length"}


def test_the_record_and_unknown_keys_have_no_field() -> None:
    assert field_at(None, "done[1].step") is None
    assert field_at(None, "pockets[1].colour") is None
    assert blank(DOCUMENTS[0], "done") is None


# Tables that are new, or stated in another way.

TYPED = {
    "pockets": (
        (0,),
        {"name": "battery", "depth": "20", "corner_radius": "4", "centre": "640, -60", "size": "30, 50"},
    ),
    "holes": ((0, 1, 0), {"name": "string tree", "at": "600, 60", "diameter": "3"}),
    "controls": (
        (),
        {
            "name": "blend",
            "centre": "650, 100",
            "into": "control cavity",
            "hole": "8",
            "thread_length": "11",
            "nut_and_washers": "4",
        },
    ),
    "strap_buttons": (
        (),
        {"name": "spare", "near": "700, 150", "screw.thread": "4", "screw.root": "3", "screw.length": "30"},
    ),
    "masses": ((), {"name": "neck with tuners", "grams": "780", "at": "140, 0"}),
    "timbers": ((), {"name": "kiri", "kg_m3": "290", "hardness": "270 lbf"}),
    "body.bevels": ((1,), {"name": "forearm", "face": "top", "line": "600, -120\n735, -60", "depth": "8"}),
    "tunnels": (
        (0,),
        {"name": "earth lead", "start": "neck pickup", "into": "control cavity", "diameter": "6"},
    ),
}


@pytest.mark.parametrize("key", TYPED)
def test_one_more_is_written_as_it_was_typed(key: str) -> None:
    ways, typed = TYPED[key]
    asked = blank(DOCUMENTS[0], key, ways)
    assert asked is not None
    needed = {each.key.removeprefix(f"{asked.table}.") for each in asked.fields if each.needed}
    assert needed <= set(typed)
    text = written(SHIPPED, asked, {f"{asked.table}.{name}": words for name, words in typed.items()})
    document = parse_job(text).job.document
    before, after = at_key(DOCUMENTS[0], key) or (), at_key(document, key)
    assert len(after) == len(before) + 1
    assert after[-1].name == typed["name"]


def test_a_cavity_is_stated_in_another_way_and_what_does_not_go_with_it_goes() -> None:
    asked = blank(DOCUMENTS[0], "pockets[1]", (2,), 0)
    assert asked is not None
    corners = "-60, -30\n-20, -30\n-20, 30"
    text = written(SHIPPED, asked, {"pockets[1].corner_radius": "4", "pockets[1].outline": corners})
    pocket = tomllib.loads(text)["pockets"][0]
    assert pocket["outline"] == [[-60, -30], [-20, -30], [-20, 30]]
    assert not {"centre", "size"} & set(pocket)
    parse_job(text)


def test_a_hole_for_a_screw_becomes_one_right_through() -> None:
    asked = blank(DOCUMENTS[0], "holes[1]", (1, 1, 0), 1)
    assert asked is not None
    assert [each.key for each in asked.fields] == ["holes[1].diameter"]
    hole = parse_job(written(SHIPPED, asked, {"holes[1].diameter": "3"})).job.document.holes[0]
    assert (hole.diameter, hole.through, hole.screw) == (3, True, None)


def test_a_table_within_another_is_added_with_all_it_needs() -> None:
    asked = blank(DOCUMENTS[0], "pockets[1].ledge")
    assert asked is not None
    typed = {"pockets[1].ledge.width": "8", "pockets[1].ledge.depth": "2"}
    assert {each.key for each in asked.fields} == set(typed)
    ledge = parse_job(written(SHIPPED, asked, typed)).job.document.pockets[0].ledge
    assert ledge is not None
    assert (ledge.width, ledge.depth) == (8, 2)


def test_a_limit_and_a_bit_stated_by_one_value_take_another_beside_it() -> None:
    text = change({"limits.bore_web": "1 mm"}, SHIPPED)
    stop, caution = (field_at(None, f"limits.bore_web.{each}") for each in ("stop", "caution"))
    assert stop is not None
    assert caution is not None
    assert tomllib.loads(edited(text, stop, "0.5"))["limits"]["bore_web"] == {"caution": "1 mm", "stop": 0.5}
    assert tomllib.loads(edited(text, caution, "2"))["limits"]["bore_web"] == 2
    assert not tomllib.loads(edited(text, caution, ""))["limits"]
    reach = field_at(None, "bits.twist[1].reach")
    assert reach is not None
    assert tomllib.loads(edited(SHIPPED, reach, "80"))["bits"]["twist"][0] == {"diameter": 1.5, "reach": 80}
    assert stated(text)["limits"] == {"bore_web": "1 mm"}


# A table that is one of several kinds.


class Round(BaseModel):
    kind: Literal["round"]
    across: Annotated[float, Mm(1, 9, "the width across")]


class Square(BaseModel):
    kind: Literal["square"]
    side: Annotated[float, Mm(1, 9, "the side")]
    corner: Annotated[float, Mm(0, 3, "the corner's radius")] = 0.0


class Holder(BaseModel):
    plate: Annotated[Round | Square, Of(discriminator="kind")]


def test_a_union_is_stated_by_its_kind_which_swaps_the_fields() -> None:
    (plate,) = keys(Holder)
    assert plate.tables == (Round, Square)
    assert by_kind(plate.tables) == (
        Way("round", ("across",), may=("across",), sets={"kind": "round"}),
        Way("square", ("side",), may=("side", "corner"), sets={"kind": "square"}),
    )
