"""The head: how strings kink and break over the nut, against trigonometry worked by hand and a general geometry library."""

from __future__ import annotations

import re
from collections.abc import Sequence
from io import StringIO
from math import acos, atan, cos, degrees, radians
from pathlib import Path

import pytest
import shapely
from ezdxf.filemanagement import read

from scribeline.drawing.dxf import write
from scribeline.drawing.head import head_sheet
from scribeline.drawing.sheets import neck
from scribeline.job import Head, JobError, Stated, parse_job, set_value
from scribeline.layout import CARVE, CHANNELS, Point, head_shapes
from scribeline.layout.head import breaks_down
from scribeline.lengths import in_unit
from scribeline.plan import Plan, plan
from scribeline.plan.named import quantities
from scribeline.store.recorded import with_record

from ..as_built import tick
from ..kind_jobs import example, faults_at, restated

FANNED = (Path(__file__).parents[1] / "jobs" / "fanned.toml").read_text(encoding="utf-8")
IN_LINE = (
    example("single-saddles")
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
string_height = 6.0
"""
)


def planned(text: str, **changes: Stated) -> Plan:
    return plan(*parse_job(restated(text, changes)))


def codes(made: Plan) -> dict[str, str]:
    return {each.code: each.severity for each in made.findings}


def test_breaks_and_bends_worked_by_hand() -> None:
    """A head at 13°, the string 7.6 mm over its face at the nut: to a post 50 mm away that holds it 6.5 mm over that it breaks by
    13° + atan(1.1 / 50) = 14.26°, to one 140 mm away at 5.0 mm by 13° + atan(2.6 / 140) = 14.06°. One that breaks by 13.9° and
    kinks by 10.2° bends by acos(cos 13.9° cos 10.2°) = 17.2° (spherical trigonometry).
    """
    assert degrees(breaks_down(radians(13), 7.6, 6.5, 50)) == pytest.approx(14.26, abs=0.005)
    assert degrees(breaks_down(radians(13), 7.6, 5.0, 140)) == pytest.approx(14.06, abs=0.005)
    assert degrees(acos(cos(radians(13.9)) * cos(radians(10.2)))) == pytest.approx(17.2, abs=0.05)
    # A stepped head of 10 mm: the slot lies 10 + 1.1 + 0.5 over its face. The low posts far out break least:
    # atan(5.6 / 165) = 1.94°.
    made = planned(IN_LINE)
    assert made.layout.head is not None
    breaks = [degrees(post.breaks) for post in made.layout.head.posts]
    assert min(breaks) == pytest.approx(degrees(atan(5.6 / 165)), abs=1e-9)
    assert codes(made)["head.breaks-flat"] == "caution"


@pytest.mark.parametrize("handed", ["right", "left"])
@pytest.mark.parametrize("text", [FANNED, IN_LINE], ids=["both sides, a fan", "in line"])
def test_each_string_runs_straight_on_to_the_side_of_its_post(text: str, handed: str) -> None:
    made = planned(text, handed=handed)
    head, stated = made.layout.head, made.job.document.head
    assert head is not None
    assert stated is not None
    scales = {string.no: string.scale for string in made.layout.strings}
    count, spacing = len(scales), made.job.document.bridge.spacing.mm
    for post in head.posts:
        string = made.layout.strings[post.string - 1]
        # The open string from its place on the scale line over the nut and on, seen from the front, the head laid level.
        row = made.layout.treble * spacing * ((count + 1) / 2 - post.string)
        slope = (string.nut.y - row) / scales[post.string]
        beyond = 200.0
        thread = shapely.LineString([(0.0, string.nut.y), (-beyond, string.nut.y + slope * beyond)])
        axis = shapely.Point(post.at.x * cos(stated.angle), post.at.y)
        touches = (stated.post.mm + string.gauge) / 2
        # The post's axis lies as far off the thread as its radius and the string's, across the neck.
        assert thread.distance(axis) == pytest.approx(touches, rel=0.02)
        assert post.kink == pytest.approx(0.0, abs=0.001)


def test_a_row_that_is_stated_kinks_the_strings() -> None:
    made = planned(FANNED, head__bass_row=[26.0, 34.0], head__treble_row=[26.0, 34.0])
    assert codes(made)["head.kinks"] == "caution"
    head = made.layout.head
    assert head is not None
    worst = max(head.posts, key=lambda post: abs(post.kink))
    told = next(each for each in made.findings if each.code == "head.kinks")
    assert told.value == pytest.approx(abs(degrees(worst.kink)))
    named = quantities(made)
    for post in head.posts:
        assert named[f"tuner-{post.string}.kink"].value == pytest.approx(post.kink, abs=1e-12)
        assert named[f"tuner-{post.string}.break"].value == pytest.approx(post.breaks, abs=1e-12)


@pytest.mark.parametrize(
    ("changes", "code", "severity", "value"),
    [
        ({"head__pitch": 20.0}, "head.tuners-meet", "stop", None),
        ({"head__bass_side": [6, 5, 4, 3, 2]}, "head.no-tuner", "caution", 1.0),
        (
            {"head__outline": [[0, -21], [0, 21], [180, 21], [180, -21]]},
            "head.near-edge",
            "stop",
            None,
        ),
        ({"head__step": 5.2}, "head.breaks-flat", "stop", degrees(atan(0.8 / 165))),
    ],
)
def test_planted_mistakes(changes: dict[str, Stated], code: str, severity: str, value: float | None) -> None:
    told = [each for each in planned(IN_LINE, **changes).findings if each.code == code]
    assert severity in {each.severity for each in told}
    if value is not None:
        assert told[0].value == pytest.approx(value, abs=0.01)


def test_a_tuner_hole_that_is_drilled_stays() -> None:
    seen = planned(IN_LINE)
    card = next(each for each in seen.cards if each.id == "drill-tuners")
    ticked = with_record(IN_LINE, [tick(card, seen, ("tuner-hole-6",))], ())
    again = plan(*parse_job(set_value(ticked, "head.pitch", 27.0)[0]))
    now, was = (
        {bore.id: bore for bore in each.head.features.bores}
        for each in (again, seen)
        if each.head is not None
    )
    assert now["tuner-hole-6"].at == was["tuner-hole-6"].at
    assert now["tuner-hole-1"].at.x == pytest.approx(was["tuner-hole-1"].at.x - 5 * 1.6)
    first = plan(*parse_job(set_value(ticked, "head.first_post", 44.0)[0]))
    assert "tuner-hole-6" in {moved.feature for moved in first.moved}


def test_the_drawing_for_machines() -> None:
    sheet, made = head_sheet(planned(FANNED)), planned(FANNED)
    assert sheet is not None
    assert made.head is not None
    circles = read(StringIO(write(sheet).decode())).modelspace().query("CIRCLE")
    drawn = {(round(c.dxf.center.x, 4), round(c.dxf.center.y, 4), c.dxf.radius) for c in circles}
    holes = {(round(b.at.x, 4), round(b.at.y, 4), b.widest / 2) for b in made.head.features.bores}
    assert drawn == holes


def test_what_cannot_be_is_said() -> None:
    (lean,) = faults_at(restated(IN_LINE, {"head__angle": 13.0}), "head")
    assert "a stepped head is level with the neck" in lean
    (twice,) = faults_at(restated(IN_LINE, {"head__treble_side": [1]}), "head")
    assert "string 1 has a tuner on both sides" in twice
    (none,) = faults_at(restated(IN_LINE, {"head__bass_side": [7, 6]}), "head.bass_side")
    assert "there is no string 7" in none


TREES = """
[[head.trees]]
strings = [1, 2]
along = 60
height = 4.0
screw = { measured = 0.1, thread = 2.4, root = 1.7, length = 14, under_head = 4 }

[[head.trees]]
strings = [3, 4, 5]
along = 20
height = 3.0
screw = { measured = 0.1, thread = 2.4, root = 1.7, length = 10, under_head = 2 }
"""


@pytest.mark.parametrize("handed", ["right", "left"])
def test_trees_hold_strings_down_over_their_screws(handed: str) -> None:
    """A slot 11.6 mm over the face and a tree 60 mm away that holds the string 4.0 mm over it: atan(7.6 / 60) = 7.22°; a bar
    20 mm away at 3.0 mm: atan(8.6 / 20) = 23.27°. Worked by hand.
    """
    made = planned(IN_LINE + TREES, handed=handed)
    head = made.layout.head
    assert head is not None
    assert made.head is not None
    breaks = {post.string: degrees(post.breaks) for post in head.posts}
    for string, expected in {1: 7.22, 2: 7.22, 3: 23.27, 4: 23.27, 5: 23.27}.items():
        assert breaks[string] == pytest.approx(expected, abs=0.005)
    # String 6 has no tree: atan(5.6 / 38) to its post, the nearest.
    assert breaks[6] == pytest.approx(degrees(atan(5.6 / 38)), abs=1e-9)
    assert "head.breaks-flat" not in codes(made)
    # The tree's screw lies midway between its strings where shapely has them run from slot to post.
    threads = {
        post.string: shapely.LineString(
            [
                (0.0, made.layout.strings[post.string - 1].nut.y),
                (
                    post.at.x,
                    post.at.y
                    - made.layout.treble * post.side * (6.0 + made.layout.strings[post.string - 1].gauge) / 2,
                ),
            ]
        )
        for post in head.posts
    }
    across = {
        string: thread.intersection(shapely.LineString([(x, -99), (x, 99)])).y
        for x, strings in ((-60.0, (1, 2)), (-20.0, (3, 5)))
        for string in strings
        for thread in [threads[string]]
    }
    holes = {bore.id: bore for bore in made.head.features.family("tree-screw")}
    treble = made.layout.treble
    assert holes["tree-screw-1"].at.y == pytest.approx((across[1] + across[2]) / 2, abs=1e-6)
    assert holes["tree-screw-2"].at.y == pytest.approx(across[3] + treble * 6.0, abs=1e-6)
    assert holes["tree-screw-3"].at.y == pytest.approx(across[5] - treble * 6.0, abs=1e-6)
    named = quantities(made)
    for name, hole in holes.items():
        assert named[f"{name}.x"].value == pytest.approx(hole.at.x, abs=1e-9)
        assert named[f"{name}.across"].value == pytest.approx(hole.at.y * treble, abs=1e-9)
        assert named[f"{name}.step-1.depth"].value == pytest.approx(hole.steps[0].depth, abs=1e-9)
    # 14 mm less 4 under the head, and 1.5 mm of relief: 11.5 mm deep, in one row of its own; 10 less 2, and 1.5: 9.5 mm.
    assert [hole.steps[0].depth for hole in holes.values()] == pytest.approx([11.5, 9.5, 9.5])
    drills = [card for card in made.cards if card.id.startswith("drill-trees")]
    assert [len(card.places) for card in drills] == [1, 2]


def test_a_tree_too_high_holds_nothing_and_a_long_screw_comes_out() -> None:
    high = TREES.replace(
        "height = 4.0", "height = 10.0"
    )  # atan(1.6 / 60) = 1.53° there, and atan(5.6 / 165) = 1.94° to the post itself
    idle = next(each for each in planned(IN_LINE + high).findings if each.code == "head.tree-idle")
    assert "strings 1 and 2 to their posts" in idle.message
    long = TREES.replace(
        "length = 14", "length = 18"
    )  # 14 mm in, 1.5 of relief, and a point: out of a head of 14 mm
    assert codes(planned(IN_LINE + long))["head.tree-screw-deep"] == "stop"


@pytest.mark.parametrize(
    ("angle", "face", "area"), [(10, 109.4, 6565), (13, 84.5, 5068), (15, 73.4, 4405), (17, 65.0, 3899)]
)
def test_scarf_joints_worked_by_hand(angle: float, face: float, area: float) -> None:
    """Stock of 19 mm, 60 mm wide: 19 / sin A long, that times 60 in area; at 13° flat 19 / tan 13° = 82.3 mm."""
    made = planned(FANNED, head__angle=angle, head__stock=19.0, head__scarf=True)
    head = made.layout.head
    assert head is not None
    assert head.scarf is not None
    assert head.scarf.face == pytest.approx(face, abs=0.05)
    assert head.scarf.area == pytest.approx(area, abs=0.6)
    if angle == 13:
        assert head.scarf.flat == pytest.approx(82.3, abs=0.05)
    named = quantities(made)
    assert named["head.scarf-face"].value == head.scarf.face
    assert "glue-head" in {card.id for card in made.cards}
    short = planned(FANNED, head__angle=20, head__stock=14.0, head__scarf=True)
    assert {"head.scarf-short": "caution", "head.stock-too-thin": "stop"}.items() <= codes(short).items()


SAWN: dict[str, Stated] = {"head__angle": 13, "head__outline": [[0, -26], [0, 26], [180, 26], [180, -26]]}
"""A head of 180 mm, 15 mm thick, at 13°: 180 sin 13° + 15 cos 13° = 55.1 mm."""


def test_a_head_in_one_piece_takes_thick_stock() -> None:
    bought = FANNED.partition("\n[neck_blank]")[0]
    made = planned(bought, **SAWN, head__stock=50.0)
    told = next(each for each in made.findings if each.code == "head.stock-too-thin")
    assert told.limit == pytest.approx(55.1, abs=0.05)
    assert told.value == 50.0
    thick = planned(bought, **SAWN, head__stock=56.0)
    assert "head.stock-too-thin" not in codes(thick)


@pytest.mark.parametrize("key", ["head__stock", "neck_blank__blank_thickness"])
def test_a_carved_necks_blank_is_its_heads_stock(key: str) -> None:
    """Said by either key it is one wood, held to once: 50 mm lack 5.1, of 56 mm 0.9 remain to plane, of 58 mm enough."""
    for has, severity in ((50.0, "stop"), (56.0, "caution"), (58.0, None)):
        made = planned(FANNED, **SAWN, **{key: has})
        told = [each for each in made.findings if each.code in {"carve.blank-small", "head.stock-too-thin"}]
        assert [(each.code, each.severity) for each in told] == (
            [("carve.blank-small", severity)] if severity else []
        )
        for each in told:
            assert each.value == pytest.approx(has - 55.1, abs=0.05)
            assert f"({key.replace('__', '.')})" in each.cure
        assert "55.11 mm thick" in in_unit(neck._wood(made), "mm")


def test_a_wood_of_two_thicknesses_stops_the_neck_once() -> None:
    made = planned(FANNED, **SAWN, head__stock=58.0, neck_blank__blank_thickness=50.0)
    told = [each for each in made.findings if "stock" in each.code or each.code == "carve.blank-small"]
    assert [(each.code, each.severity, each.value, each.limit) for each in told] == [
        ("head.stock-twice", "stop", 58.0, 50.0)
    ]
    assert "58 mm thick (head.stock)" in told[0].message
    assert "50 mm thick (neck_blank.blank_thickness)" in told[0].message
    assert {"tuner-hole-1", CARVE, CHANNELS} <= set(told[0].concerns or ())
    alike = planned(FANNED, **SAWN, head__stock=58.0, neck_blank__blank_thickness=58.0)
    assert not {"head.stock-twice", "carve.blank-small"} & codes(alike).keys()
    glued = planned(FANNED, head__scarf=True, head__stock=20.0, neck_blank__blank_thickness=30.0)
    assert "head.stock-twice" not in codes(glued)


@pytest.mark.parametrize("shape", ["leaf", "paddle"])
@pytest.mark.parametrize("text", [FANNED, IN_LINE], ids=["both sides, a fan", "in line"])
def test_heads_of_our_own_shapes(text: str, shape: str) -> None:
    right, left = (planned(text, head__shape=shape, handed=handed) for handed in ("right", "left"))
    assert right.layout.head is not None
    assert left.layout.head is not None
    ring = shapely.Polygon([(place.x, place.y) for place in right.layout.head.outline])
    assert ring.is_valid
    other = shapely.Polygon([(place.x, -place.y) for place in left.layout.head.outline])
    assert ring.symmetric_difference(other).area < 1e-6
    stated = right.job.document.head
    assert stated is not None
    half = right.job.document.nut.width / 2
    assert ring.bounds[2] == 0.0
    at_nut = ring.exterior.intersection(shapely.LineString([(0.0, -99), (0.0, 99)]))
    assert at_nut.bounds[1] == pytest.approx(-half, abs=0.05)
    assert at_nut.bounds[3] == pytest.approx(half, abs=0.05)
    for post in right.layout.head.posts:
        # A tuner has the wood that its housing wants, but for what rounding takes and the hollow throat gives.
        assert ring.exterior.distance(shapely.Point(post.at.x, post.at.y)) >= stated.side - 0.05
        string = right.layout.strings[post.string - 1]
        assert ring.buffer(0.01).covers(shapely.LineString([(0.0, string.nut.y), (post.at.x, post.at.y)]))
    assert not {"head.near-edge"} & codes(right).keys()


# Another tuner layout

SIDES = {
    "four and two": ([6, 5, 4, 3], [1, 2]),
    "two and four": ([6, 5], [1, 2, 3, 4]),
    "in line on the treble side": ([], [1, 2, 3, 4, 5, 6]),
    "in line, from the treble on": ([1, 2, 3, 4, 5, 6], []),
}


@pytest.mark.parametrize("sides", SIDES)
def test_which_string_goes_to_which_side_is_the_jobs_alone(sides: str) -> None:
    """No file for any of these: each post as far out as its place in its row says, its string straight on beside it."""
    bass, treble = SIDES[sides]
    made = planned(IN_LINE, head__bass_side=bass, head__treble_side=treble, head__shape="leaf")
    assert made.layout.head is not None
    assert made.head is not None
    along = {no: round(38 + 25.4 * place, 6) for row in (bass, treble) for place, no in enumerate(row)}
    assert {post.string: round(-post.at.x, 9) for post in made.layout.head.posts} == pytest.approx(along)
    assert all(post.kink == pytest.approx(0.0, abs=1e-9) for post in made.layout.head.posts)
    sheet = head_sheet(made)
    assert sheet is not None
    drawn = read(StringIO(write(sheet).decode())).modelspace().query("CIRCLE")
    assert set(along.values()) <= {round(-each.dxf.center.x, 6) for each in drawn}
    assert not {"head.no-tuner", "head.kinks", "head.near-edge"} & codes(made).keys()


def test_another_way_to_space_posts_needs_four_files() -> None:
    """The keys and their formula, where they stand, their names, and the words of what is wrong: nobody else asks."""
    asked = re.compile(r"\bhead\.pitch\b|\bfirst_post\b|\bpost_along\b|\b(?:bass|treble)_row\b")
    source = Path(__file__).parents[2] / "src" / "scribeline"
    speak = {
        str(path.relative_to(source))
        for path in source.rglob("*.py")
        if asked.search(path.read_text(encoding="utf-8"))
    }
    assert speak - {"job/__init__.py"} == {
        "job/head.py",
        "layout/head.py",
        "layout/named_head.py",
        "findings/head.py",
    }


def test_another_outline_round_the_posts_needs_two_files() -> None:
    source = Path(__file__).parents[2] / "src"
    named = {path.name for path in source.rglob("*.py") if '"leaf"' in path.read_text(encoding="utf-8")}
    assert named == {"head.py", "head_shapes.py"}


def test_an_outline_that_the_package_does_not_know_is_planned(monkeypatch: pytest.MonkeyPatch) -> None:
    """A plain block 30 mm to either side and 20 mm past the last post, in the place of a known word."""

    def block(_head: Head, posts: Sequence[Point]) -> shapely.Polygon:
        return shapely.box(min(post.x for post in posts) - 20, -30, 0, 30)

    monkeypatch.setitem(head_shapes.SHAPES, "leaf", block)
    made = planned(FANNED, head__shape="leaf")
    assert made.layout.head is not None
    assert made.head is not None
    ring = shapely.Polygon(made.head.outline)
    last = min(post.at.x for post in made.layout.head.posts)
    assert ring.bounds[0] == pytest.approx(last - 20)
    assert ring.contains(shapely.box(last - 14, -29, last, 29))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            IN_LINE + TREES.replace("strings = [1, 2]", "strings = [1, 7]"),
            "holds string 7 down, which has no tuner",
        ),
        (IN_LINE + TREES.replace("strings = [1, 2]", "strings = [1, 3]"), "two trees hold string 3 down"),
        (IN_LINE + TREES.replace("along = 20", "along = 100"), "set the tree nearer to the nut"),
        (
            IN_LINE + TREES.replace("length = 14", "length = 8").replace("under_head = 4", "under_head = 9"),
            "does not come out of what it passes through",
        ),
        (
            restated(IN_LINE, {"head__scarf": True, "head__stock": 20.0}),
            "a stepped head needs no scarf joint",
        ),
        (restated(FANNED, {"head__scarf": True}), "a scarf joint needs stock"),
        (
            restated(FANNED, {"head__shape": "leaf", "head__outline": [[0, 0], [9, 0], [9, 9]]}),
            "give one of shape",
        ),
        (restated(FANNED, {"head__shape": "banana"}), "wanted 'leaf' or 'paddle', got"),
    ],
)
def test_what_a_head_cannot_have_is_said(text: str, words: str) -> None:
    with pytest.raises(JobError) as told:
        parse_job(text)
    assert words in str(told.value)


def test_tuners_from_the_parts_book_are_typical_until_measured() -> None:
    book = (
        restated(IN_LINE, {"head__part": "bass, compact"})
        .replace("hole = 9\n", "")
        .replace("housing = 24\n", "")
    )
    made = planned(book, head__pitch=40.0)
    stated = made.job.document.head
    assert stated is not None
    assert (stated.hole.mm, stated.housing.mm, stated.string_height.mm) == (
        14.0,
        32.0,
        6.0,
    )  # the last is the job's own
    told = next(each for each in made.findings if each.code == "typical.head")
    assert told.severity == "caution"
    assert "housing along its row 32" in told.message
    measured = {"head__measured": 0.1, "head__post": 6.0}
    assert "typical.head" not in codes(planned(IN_LINE, **measured))
