"""A head out of a drawing: what was drawn, laid out as if its corners had been listed; and what cannot be a head.

The drawings are made here by the plane's own arithmetic (a turn, a mirror image, a scale), and written by ezdxf or as plain SVG.
"""

from __future__ import annotations

from itertools import product
from pathlib import Path

import ezdxf
import pytest
from shapely import Polygon

from scribeline.drawing.dxf import write
from scribeline.drawing.head import head_sheet
from scribeline.job import JobError, parse_job
from scribeline.plan import Plan, plan

from ..kind_jobs import example, restated

Corners = list[tuple[float, float]]

JOB = (
    restated(example("single-saddles"), {"nut__width": 43})
    + """
[head]
face = "stepped"
step = 10
thickness = 14
bass_side = [6, 5, 4, 3, 2, 1]
first_post = 38
pitch = 25.4
hole = 9
housing = 24
"""
)
# Along from the nut, across to the treble: no side is another's mirror image.
HEAD: Corners = [
    (0, 21.5),
    (30, 32),
    (150, 28),
    (190.3, 5),
    (185, -35),
    (60, -44.5),
    (20, -30),
    (0, -21.5),
]
# Seen from the front, y up: treble lies a quarter turn clockwise of the way to the tip.
WAYS = {"+x": ((1, 0), (0, -1)), "-x": ((-1, 0), (0, 1)), "+y": ((0, 1), (1, 0)), "-y": ((0, -1), (-1, 0))}
NEAR = 0.01


def drawn(
    corners: Corners, tip: str = "-x", at: tuple[float, float] = (0, 0), *, mirrored: bool = False
) -> Corners:
    """The corners as a drawing has them, y up."""
    (ax, ay), (tx, ty) = WAYS[tip]
    sign = -1 if mirrored else 1
    return [(at[0] + u * ax + sign * v * tx, at[1] + u * ay + sign * v * ty) for u, v in corners]


def dxf(path: Path, ring: Corners, *, units: int = 4, close: bool = True) -> None:
    document = ezdxf.new(units=units)  # type: ignore[attr-defined]
    document.modelspace().add_lwpolyline(ring, close=close)
    document.saveas(path)


def svg(path: Path, ring: Corners, page: str = 'width="900mm" height="900mm" viewBox="0 0 900 900"') -> None:
    points = " ".join(f"{x},{y}" for x, y in ring)
    path.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {page}><polygon points="{points}"/></svg>')


def planned(folder: Path, drawing: str, text: str = JOB) -> Plan:
    return plan(*parse_job(f"{text}\ndrawing = {{ {drawing} }}\n", folder=folder))


def ring(made: Plan) -> Polygon:
    assert made.head is not None
    return Polygon(made.head.outline)


def same(one: Polygon, other: Polygon) -> bool:
    return bool(one.exterior.hausdorff_distance(other.exterior) < NEAR and abs(one.area - other.area) < 1.0)


def listed(corners: Corners = HEAD) -> Polygon:
    """The head in its frame: towards the tail, and to the treble."""
    return Polygon([(-u, v) for u, v in corners])


@pytest.mark.parametrize(("tip", "seen"), list(product(WAYS, ("front", "back"))))
def test_a_drawing_is_the_corners_that_it_shows(tmp_path: Path, tip: str, seen: str) -> None:
    shape = drawn(HEAD, tip, (400, 300), mirrored=seen == "back")
    dxf(tmp_path / "head.dxf", shape)
    how = f'tip = "{tip}", seen_from = "{seen}"'
    made = planned(tmp_path, f'file = "head.dxf", origin = [400, 300], {how}')
    assert same(ring(made), listed())
    assert made.layout.head is not None
    assert made.layout.head.is_stated
    # The same sheet as an SVG: its y runs down, from the upper edge of a page of 900 mm.
    svg(tmp_path / "head.svg", [(x, 900 - y) for x, y in shape])
    turned = {"+y": "-y", "-y": "+y"}.get(tip, tip)
    how = f'tip = "{turned}", seen_from = "{seen}"'
    assert same(ring(planned(tmp_path, f'file = "head.svg", origin = [400, 600], {how}')), listed())


def test_the_note_says_how_it_lies(tmp_path: Path) -> None:
    dxf(tmp_path / "head.dxf", drawn(HEAD))
    made = planned(tmp_path, 'file = "head.dxf", origin = [0, 0]')
    note = next(each for each in made.findings if each.code == "head.imported")
    assert note.severity == "note"
    assert "190.3 mm from the nut" in note.message
    assert "32.0 mm to the treble and 44.5 mm to the bass" in note.message
    assert not [each for each in plan(*parse_job(JOB)).findings if each.code == "head.imported"]


@pytest.mark.parametrize("drawn_for", ["right", "left"])
def test_a_left_handed_head_is_mirrored_once(tmp_path: Path, drawn_for: str) -> None:
    left = restated(JOB, {"handed": "left"})
    dxf(tmp_path / "head.dxf", drawn(HEAD, mirrored=drawn_for == "left"))
    made = planned(tmp_path, f'file = "head.dxf", origin = [0, 0], drawn_for = "{drawn_for}"', left)
    assert same(ring(made), listed([(u, -v) for u, v in HEAD]))
    assert "32.0 mm to the treble" in next(e.message for e in made.findings if e.code == "head.imported")
    with pytest.raises(JobError, match="must say drawn_for"):
        planned(tmp_path, 'file = "head.dxf", origin = [0, 0]', left)


def test_a_neck_drawn_with_its_head_is_left_out(tmp_path: Path) -> None:
    dxf(tmp_path / "head.dxf", drawn([*HEAD, (-430, -28), (-430, 28)]))
    assert same(ring(planned(tmp_path, 'file = "head.dxf", origin = [0, 0]')), listed())


def test_units_are_the_drawings_own(tmp_path: Path) -> None:
    dxf(tmp_path / "head.dxf", [(x / 25.4, y / 25.4) for x, y in drawn(HEAD, at=(254, 0))], units=1)
    for origin in ("[10, 0]", '["254 mm", 0]'):
        assert same(ring(planned(tmp_path, f'file = "head.dxf", origin = {origin}')), listed())
    svg(tmp_path / "head.svg", [(x, -y) for x, y in drawn(HEAD)], page="")
    with pytest.raises(JobError, match="give the head's true_length"):
        planned(tmp_path, 'file = "head.svg", origin = [0, 0]')
    assert same(ring(planned(tmp_path, 'file = "head.svg", origin = [0, 0], true_length = 190.3')), listed())


@pytest.mark.parametrize("shape", ["leaf", "paddle"])
def test_a_shape_of_our_own_comes_back_as_it_was_written(tmp_path: Path, shape: str) -> None:
    own = plan(*parse_job(f'{JOB}\nshape = "{shape}"\n'))
    sheet = head_sheet(own)
    assert sheet is not None
    (tmp_path / "own.dxf").write_bytes(write(sheet))
    made = planned(tmp_path, 'file = "own.dxf", origin = [0, 0], layer = "head outline"')
    assert same(ring(made), ring(own))


def test_a_job_states_the_drawing_and_not_its_corners(tmp_path: Path) -> None:
    dxf(tmp_path / "head.dxf", drawn(HEAD))
    text = f'{JOB}\ndrawing = {{ file = "head.dxf", origin = [0, 0] }}\n'
    head = parse_job(text, folder=tmp_path).job.document.head
    assert head is not None
    assert head.outline == ()
    assert "outline" not in head.model_fields_set
    assert len(head.corners) == len(HEAD)
    with pytest.raises(JobError, match="plain name of a file kept with the job"):
        parse_job(text.replace("head.dxf", "../head.dxf"), folder=tmp_path, only_beside=True)
    for other in ('shape = "leaf"', "outline = [[0, 22], [150, 30], [150, -30], [0, -22]]"):
        with pytest.raises(JobError, match="give one of shape"):
            parse_job(text + other, folder=tmp_path)


@pytest.mark.parametrize(
    ("ring_drawn", "origin", "more", "words"),
    [
        (None, "[0, 0]", "", "none.dxf cannot be read .*; check its name and folder"),
        (HEAD, "[0, 0]", "open", "does not close"),
        ([(0, 21.5), (120, -30), (120, 30), (0, -21.5)], "[0, 0]", "", "crosses or touches itself"),
        (HEAD, "[3, 0]", "", "the head begins 3.0 mm from the nut's line; draw it as far as the nut"),
        (HEAD, "[0, 4]", "", "reaches 17.5 mm to the treble .* edge lies at 21.5 mm; draw it as wide"),
        (HEAD, "[0, -4]", "", "reaches 17.5 mm to the bass"),
        (HEAD, "[0, 90]", "", "the centreline does not pass through the head; .* from nut to tip"),
        (HEAD, "[0, 0]", 'tip = "+x"', "leaves next to nothing of it beyond the nut"),
        ([(u / 25.4, v / 25.4) for u, v in HEAD], "[0, 0]", "", "and a head is at least 60 mm long"),
        ([(u, v / 2) for u, v in HEAD], "[0, 0]", "", "reaches 10.8 mm to the treble"),
    ],
)
def test_what_cannot_be_a_head_is_refused(
    tmp_path: Path, ring_drawn: Corners | None, origin: str, more: str, words: str
) -> None:
    name = "none.dxf" if ring_drawn is None else "head.dxf"
    if ring_drawn is not None:
        dxf(tmp_path / name, drawn(ring_drawn), close=more != "open")
    stated = f", {more}" if "=" in more else ""
    with pytest.raises(JobError, match=words) as told:
        planned(tmp_path, f'file = "{name}", origin = {origin}{stated}')
    assert [fault.path for fault in told.value.faults] == ["head.drawing"]
    assert "body" not in str(told.value)
