"""Reading a job: units do not matter, and whatever is wrong is told in sentences, all of it, never as a traceback."""

from __future__ import annotations

import re
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from scribeline.job import Document, Fault, Job, JobError, parse_job, read_job, starter_job
from scribeline.plan import Plan, plan
from scribeline.plan.record import as_json, record
from scribeline.scenario import demo_jobs

from ..conftest import DEMO, Edit, Planned, change
from ..torture import examples

TREE: dict[str, Any] = tomlkit.parse(DEMO).unwrap()
Path_ = tuple[str | int, ...]


def leaves(value: Any, path: Path_ = ()) -> list[Path_]:
    if isinstance(value, dict):
        return [p for key, item in value.items() for p in leaves(item, (*path, key))]
    if isinstance(value, list):
        return [path] + [p for i, item in enumerate(value) for p in leaves(item, (*path, i))]
    return [path]


def tables(value: Any, path: Path_ = ()) -> list[Path_]:
    if isinstance(value, dict):
        return [path] + [p for key, item in value.items() for p in tables(item, (*path, key))]
    if isinstance(value, list):
        return [p for i, item in enumerate(value) for p in tables(item, (*path, i))]
    return []


LEAVES = leaves(TREE)
EVERYTHING = [*LEAVES, *(path for path in tables(TREE) if path)]
KEYS = [path for path in EVERYTHING if isinstance(path[-1], str)]


def at(tree: Any, path: Path_) -> Any:
    for key in path:
        tree = tree[key]
    return tree


def spelled(path: Path_) -> str:
    return re.sub(r"^\.", "", "".join(f"[{p + 1}]" if isinstance(p, int) else f".{p}" for p in path))


JARGON = re.compile(
    r"tuple|dictionary|instance|validation|NoneType|pydantic|input should|Traceback|\bint\b|\bfloat\b|\bstr\b|\bdict\b",
    re.IGNORECASE,
)


def judged(text: str) -> Job | tuple[Fault, ...]:
    """The job, planned and recorded; or its faults, each held to what a fault must be."""
    try:
        stated = parse_job(text)
    except JobError as error:
        faults = error.faults
    else:
        as_json(plan(*stated))
        return stated.job
    assert faults
    for fault in faults:
        assert len(fault.sentence) > 10
        own = re.sub(r'"[^"]*"|The line reads: .*', "", fault.sentence)  # what is quoted is the builder's
        assert not JARGON.search(own), fault.sentence
        assert fault.line is None or 1 <= fault.line <= text.count("\n") + 1
    return faults


def numbers_of(made: Plan) -> dict[str, Any]:
    """The record's numbers: what must not change with the unit they were typed in."""
    whole = record(made)
    kept = ("body", "frets", "strings", "bridge", "bores", "pockets", "webs", "outside", "measurables")
    return {key: whole[key] for key in kept}


def assert_close(a: Any, b: Any, where: str = "") -> None:
    if isinstance(a, dict):
        assert a.keys() == b.keys(), where
        for key in a:
            assert_close(a[key], b[key], f"{where}.{key}")
    elif isinstance(a, list):
        assert len(a) == len(b), where
        for i, (x, y) in enumerate(zip(a, b, strict=True)):
            assert_close(x, y, f"{where}[{i}]")
    elif isinstance(a, float) or isinstance(b, float):
        assert a == pytest.approx(b, abs=2e-5), where  # the record keeps five decimals
    elif not isinstance(a, str):
        assert a == b, where


NO_LENGTH = {
    "frets",
    "scribeline",
    "top_share",
    "turn",
    "heading",
    "gauge",
    "date",
    "note",
    "name",
    "point_angle",
}


def in_inches(value: Any, key: str = "") -> Any:
    """The same job typed by an inch shop: every length divided by 25.4."""
    if isinstance(value, dict):
        return {k: in_inches(v, k) for k, v in value.items()}
    if isinstance(value, list):
        return [in_inches(item, key) for item in value]
    if isinstance(value, bool) or key in NO_LENGTH:
        return value
    if isinstance(value, int | float):
        return value / 25.4
    if isinstance(value, str) and "+/-" in value:
        mm, spread = value.split("+/-")
        return f"{float(mm) / 25.4!r} +/- {float(spread) / 25.4!r}"
    return value


@pytest.mark.parametrize("name", sorted(demo_jobs()))
def test_an_inch_job_is_the_same_instrument(name: str) -> None:
    base = demo_jobs()[name]
    tree = in_inches(tomlkit.parse(base).unwrap())
    tree["units"] = "in"
    mm, inch = plan(*parse_job(base)), plan(*parse_job(tomlkit.dumps(tree)))
    assert_close(numbers_of(mm), numbers_of(inch))
    for a, b in zip(mm.layout.strings, inch.layout.strings, strict=True):
        assert a.saddle == pytest.approx(b.saddle, abs=1e-6)
    for c, d in zip(mm.features.bores, inch.features.bores, strict=True):
        assert c.at == pytest.approx(d.at, abs=1e-6)
    codes = [[f.code for f in p.findings if not f.code.startswith("rounding")] for p in (mm, inch)]
    assert codes[0] == codes[1]


@pytest.mark.parametrize("hand", ["right", "left"])
def test_the_starter_is_one_instrument_in_either_unit(hand: str) -> None:
    mm = plan(*parse_job(starter_job(name="x", units="mm", handed=hand)))
    inch = plan(*parse_job(starter_job(name="x", units="in", handed=hand)))
    # An inch shop's sizes lie within a sixteenth of an inch, 1.6 mm, of a metric shop's, the blank's thickness too.
    for a, b in zip(mm.features.bores, inch.features.bores, strict=True):
        assert a.id == b.id
        assert a.at == pytest.approx(b.at, abs=1.6)
        assert a.deepest.depth == pytest.approx(b.deepest.depth, abs=1.6)


def test_lengths_in_any_unit_mean_the_same(planned: Planned) -> None:
    typed = {
        "scale.length": "25.196850393700787 in",
        "fingerboard.end": "46.8 cm",
        "neck.pocket_length": "75,0",
    }
    assert_close(numbers_of(planned(typed)), numbers_of(planned()))


def test_the_same_text_gives_the_same_plan() -> None:
    first, second = plan(*parse_job(DEMO)), plan(*parse_job(DEMO))
    assert first == second
    assert as_json(first) == as_json(second)


JUNK = st.one_of(
    st.none().map(lambda _: {}),
    st.booleans(),
    st.integers(-(10**6), 10**6),
    st.sampled_from([0, -1, 10**30, 1e308, -1e308, 1e-308, float("inf"), float("-inf"), float("nan")]),
    st.floats(allow_nan=False),
    st.text(max_size=12).filter(lambda s: "\x7f" not in s and all(ord(c) >= 32 for c in s)),
    st.sampled_from(
        ["44 furlongs", "+/-", "± 0.1", "typical", "1/0", "--", "12 in in", "0x10", "{sentence}", "%s", "²"]
    ),
    st.lists(st.one_of(st.integers(), st.text("ab", max_size=3), st.just([])), max_size=4),
    st.dictionaries(st.sampled_from(["a", "note", "diameter", "mm"]), st.integers(), max_size=2),
    st.just([[[{"deep": [1]}]]]),
)


@settings(max_examples=examples(250), deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(EVERYTHING), JUNK)
@example(("pockets", 0, "name"), "control cavity")
@example(("pockets", 0, "name"), "Control-Cavity")
@example(("pockets", 0, "name"), "string hole 1")
@example(("pockets", 0, "name"), "!")
@example(("scale",), 640)
@example(("strings",), [])
@example(("bits",), {})
@example(("date",), "yesterday")
def test_junk_anywhere_is_a_sentence(path: Path_, junk: Any) -> None:
    tree = deepcopy(TREE)
    at(tree, path[:-1])[path[-1]] = junk
    try:
        text = tomlkit.dumps(tree)
    except (TypeError, ValueError, AttributeError):  # tomlkit itself cannot write every nest
        return
    judged(text)


@settings(max_examples=examples(120), deadline=None)
@given(st.integers(0, len(DEMO)), st.integers(0, 40), st.text(st.characters(max_codepoint=0x2FF), max_size=6))
def test_torn_text_is_a_sentence(start: int, length: int, put: str) -> None:
    judged(DEMO[:start] + put + DEMO[start + length :])


@pytest.mark.parametrize("path", KEYS, ids=spelled)
def test_a_missing_key_is_named(path: Path_) -> None:
    tree = deepcopy(TREE)
    del at(tree, path[:-1])[path[-1]]
    found = judged(tomlkit.dumps(tree))
    if isinstance(found, Job):
        return  # it has a default, or the parts book or a rule fills it
    told = {fault.path for fault in found}
    assert spelled(path) in told or spelled(path[:-1]) in told or "ground_wire.into" in told
    for fault in found:
        if fault.path == spelled(path):
            assert "is missing" in fault.sentence


REQUIRED = [
    "scribeline",
    "name",
    "units",
    "scale.length",
    "nut.width",
    "body.timber",
    "bridge.spacing",
    "strings[3].note",
]


@pytest.mark.parametrize("key", REQUIRED)
def test_what_is_missing_is_said_to_be(key: str, edited: Edit) -> None:
    found = judged(edited({key: None}))
    assert not isinstance(found, Job)
    (fault,) = found
    assert fault.path == key
    assert "is missing" in fault.sentence


LETTERS = st.sampled_from("abcdefghijklmnopqrstuvwxyz_")


@settings(max_examples=examples(120), deadline=None)
@given(st.sampled_from(KEYS), st.integers(0, 40), LETTERS, st.sampled_from(["swap", "drop", "add"]))
def test_a_key_misspelt_by_one_letter_is_recognised(path: Path_, index: int, letter: str, how: str) -> None:
    right = str(path[-1])
    i = index % len(right)
    wrong = {"swap": right[:i] + letter + right[i + 1 :], "drop": right[:i] + right[i + 1 :]}.get(
        how, right[:i] + letter + right[i:]
    )
    owner = at(TREE, path[:-1])
    if not wrong or wrong == right or wrong in owner:
        return
    tree = deepcopy(TREE)
    table = at(tree, path[:-1])
    table[wrong] = table.pop(right)
    found = judged(tomlkit.dumps(tree))
    assert not isinstance(found, Job)
    where = spelled((*path[:-1], wrong))
    (unknown,) = [fault for fault in found if fault.path == where]
    assert f'there is no key "{wrong}" here; did you mean "' in unknown.sentence
    if len(right) > 5:
        assert f'did you mean "{right}"?' in unknown.sentence


def test_every_fault_is_told_in_one_go(edited: Edit) -> None:
    wrong = {"scale.length": -640, "nut.width": "wide", "body.timber": "unobtainium", "strings[2].note": "H9"}
    found = judged(edited({**wrong, "finish.holes": "open", "bridge.spacing": None}))
    assert not isinstance(found, Job)
    assert {fault.path for fault in found} == {*wrong, "finish.holes", "bridge.spacing"}
    for fault in found:
        assert fault.line is not None
    lines = edited({**wrong, "finish.holes": "open", "bridge.spacing": None}).splitlines()
    for fault in found:
        assert fault.line is not None
        if fault.path != "bridge.spacing":
            assert fault.path.rsplit(".", 1)[-1] in lines[fault.line - 1]


@pytest.mark.parametrize(
    ("key", "value", "parts"),
    [
        ("scale.length", 25.5, ("25.50 mm", "400 and 1000 mm", 'Write "25.5 in"')),
        ("nut.width", 428, ("428.00 mm", "25 and 80 mm")),
        ("body.thickness", "-44 mm", ("-44",)),
        ("strings[1].gauge", "thin", ('"thin"',)),
        ("bridge.part", "gold", ("parts book has no bridge", "plate, six strings")),
        ("bridge_screw.gauge", 11, ("gauge", "12")),
        ("scale.frets", 22.5, ("whole number", "22.5")),
        ("pockets[1].opens_into", ["cellar"], ('no cavity called "cellar"',)),
        ("ground_wire.into", "cellar", ('"cellar"', '"bridge pickup"')),
        ("bridge.saddle_back", 9.0, ("behind saddle_forward",)),
        ("bridge_screw.root", 3.6, ("smaller than thread",)),
        ("ferrules.body_diameter", 9.5, ("larger than body_diameter",)),
        ("bridge.screws", [[60, 0], [38, 0]], ("(60, 0)", "not on the plate")),
        ("pockets[1].corner_radius", 25, ("at most 20 mm",)),
        ("pockets[3].outline", [[600, 0], [640, 40], [640, 0], [600, 40]], ("crosses", "(620.00, 20.00)")),
        ("pockets[2].name", "Bridge Pickup", ("cannot be told apart",)),
        ("fingerboard.end", 700, ("beyond the scale",)),
        ("neck.pocket_depth", 26, ("swallows the heel",)),
        ("scale.temperament_cents", [100.0] * 22, ("rise from fret to fret",)),
        ("scale.temperament_cents", [100, 200], ("2 values for 22 frets",)),
        ("date", "tomorrow", ("2026-01-31",)),
        ("body.timber", "ash-whte", ("white ash",)),
    ],
)
def test_sentences_a_builder_can_act_on(edited: Edit, key: str, value: Any, parts: tuple[str, ...]) -> None:
    found = judged(edited({key: value}))
    assert not isinstance(found, Job)
    (fault,) = found
    assert key.startswith(fault.path.partition("[")[0])
    for part in parts:
        assert part in fault.sentence


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(DEMO, encoding="utf-8-sig")
    assert read_job(path).job.document == parse_job(DEMO).job.document


@pytest.mark.parametrize("content", [b"\xff\xfe\x00s", b"\x00" * 40, b"", "ñ = 1".encode("latin-1")])
def test_a_file_that_is_no_job(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(content)
    with pytest.raises(JobError) as caught:
        read_job(path)
    assert all(fault.sentence for fault in caught.value.faults)


def test_parts_book_fills_what_is_not_stated_and_says_so(edited: Edit) -> None:
    job = parse_job(edited({"ferrules": {"part": "lipped", "lip_height": "1.7 +/- 0.05"}})).job
    ferrules = job.document.ferrules
    assert ferrules is not None
    assert (ferrules.lip_height.mm, ferrules.lip_height.measured) == (1.7, True)
    assert set(ferrules.typical_dimensions()) == {"lip_diameter", "body_diameter", "body_length"}
    assert set(ferrules.filled_from_book) == {"lip_diameter", "body_diameter", "body_length"}


def test_measured_marks_every_number_of_its_table(edited: Edit) -> None:
    bridge = parse_job(edited({"bridge.plate_width": "80.5 typical"})).job.document.bridge
    assert set(bridge.typical_dimensions()) == {"plate_width"}
    assert (bridge.spacing.measured, bridge.spacing.plus_minus) == (True, 0.05)


def test_a_document_cannot_be_changed() -> None:
    document = parse_job(DEMO).job.document
    assert isinstance(document, Document)
    with pytest.raises(ValueError, match="frozen"):
        document.name = "Other"


def test_change_helper_changes_only_what_it_is_told() -> None:
    tree = tomlkit.parse(change({"strings[2].gauge": ".014", "date": None})).unwrap()
    assert tree["strings"][1]["gauge"] == ".014"
    assert "date" not in tree
    assert tree["strings"][0] == TREE["strings"][0]


def test_a_ring_closed_by_its_first_corner_is_the_ring(edited: Edit) -> None:
    """Many programs close an outline by naming its first corner again; it is no side of no length."""
    corners = [[600.0, 40.0], [640.0, 40.0], [640.0, 20.0], [600.0, 20.0]]
    island = [[640.0, 84.0], [660.0, 84.0], [660.0, 94.0]]
    tunnel = {"name": "odd", "start": "top", "into": "control cavity", "diameter": 4}

    def read(ring: list[list[float]], standing: list[list[float]]) -> Document:
        changes = {"tunnels": [{**tunnel, "hide": ring}], "pockets[3].islands": [standing]}
        return parse_job(edited(changes)).job.document

    once = read(corners, island)
    for again in (read([*corners, corners[0]], [*island, island[0]]), read([corners[0], *corners], island)):
        assert again == once
    assert once.tunnels[0].hide == tuple(tuple(corner) for corner in corners)
