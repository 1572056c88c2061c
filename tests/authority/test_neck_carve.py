"""The carved neck: against hand-worked sheets, dense sampling, a geometry library and a general CAD kernel (Open CASCADE)."""

from __future__ import annotations

from dataclasses import replace
from math import cos, gamma, pi, radians, sin, sqrt
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
import shapely
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeWire
from OCP.BRepOffsetAPI import BRepOffsetAPI_ThruSections
from OCP.collections import Array1_gp_Pnt
from OCP.GeomAPI import GeomAPI_PointsToBSpline
from OCP.gp import gp_Pnt
from tests.kernel_shapes import common, less, prism, volume
from tests.kind_jobs import faults_at, restated

from scribeline.job import SectionName, Stated, parse_job
from scribeline.layout import Carve, Channel, Point, Ring, carve_of, channels, stations
from scribeline.layout.carve import Volute, blank_needed
from scribeline.layout.neck_sections import SECTIONS
from scribeline.plan import Plan, plan
from scribeline.solid.body import make_body
from scribeline.solid.neck import (
    arched_area,
    board_volume,
    heel_in_the_neck,
    neck_mass,
    neck_mesh,
    neck_meshes,
    neck_wood,
    shaft_volume,
)
from scribeline.solid.neck_wood import least_wood
from scribeline.solid.weight import Density, on_strap, weigh

FANNED = (Path(__file__).parents[1] / "jobs" / "fanned.toml").read_text(encoding="utf-8")
BARE = "".join(
    line
    for line in FANNED.partition("\n[neck_blank]")[0].splitlines(keepends=True)
    if not line.startswith("rod_")
)
"""The same without a rod and with its neck not carved here."""

EXPONENTS = {"round": 2.0, "soft v": 1.7, "flat": 2.6}


def carved(**changes: Stated) -> str:
    """Seven strings on a fan, its neck carved here, with a rod and two bars."""
    usual: dict[str, Stated] = {
        "neck__rod_width": 6.4,
        "neck__rod_depth": 9.5,
        "neck__rod_from": 0.0,
        "neck__rod_to": 400.0,
        "neck_blank__section": "round",
        "neck_blank__thickness_at_first": "20.5 mm +/- 0.2",
        "neck_blank__thickness_at_twelfth": "22.5 mm +/- 0.2",
    }
    return restated(BARE, usual | changes)


def planned(text: str) -> tuple[Plan, Carve]:
    made = plan(*parse_job(text))
    carve = carve_of(made.job.document, made.layout)
    assert carve is not None
    return made, carve


def by_hand(section: SectionName, x: float) -> Carve:
    """A neck whose 1st fret is at x: half 43.57 mm wide there, 21 mm thick with a board of 6.35 mm."""
    return Carve(
        section=SECTIONS[section],
        first=(x, 21.0 - 6.35),
        twelfth=(323.85, 23.0 - 6.35),
        upright=0.0,
        curve=(405.0, 450.0),
        heel_depth=19.05,
        board=(42.5, 473.95, 56.5),
        heel_sides=((450.0, 55.0), (473.95, 56.5)),
        board_thickness=6.35,
    )


def test_every_word_has_its_section() -> None:
    assert set(get_args(SectionName)) == set(SECTIONS) == set(EXPONENTS)


@pytest.mark.parametrize("section", SECTIONS)
def test_sections_lie_on_their_curve(section: SectionName) -> None:
    """|y/a|^m + (z/b)^m = 1, and the area under it 2 a b G(1 + 1/m)² / G(1 + 2/m) (hand-worked sheet, docs/neck.md)."""
    carve, m = by_hand(section, 36.35), EXPONENTS[section]
    profile = carve.profile(100.0, 4000)
    a, b = float(carve.half(100.0)), float(carve.middle(100.0))
    assert a == pytest.approx((42.5 + 14.0 * 100 / 473.95) / 2, abs=1e-12)
    assert b == pytest.approx(14.65 + 2.0 * (100 - 36.35) / (323.85 - 36.35), abs=1e-12)
    on_it = np.abs(profile[:, 0] / a) ** m + (profile[:, 1] / b) ** m
    assert np.abs(on_it[1:-1] - 1).max() < 1e-9
    area = shapely.Polygon(profile).area
    assert area == pytest.approx(2 * a * b * gamma(1 + 1 / m) ** 2 / gamma(1 + 2 / m), rel=1e-6)
    assert area == pytest.approx(float(carve.area(100.0)), rel=1e-6)


def test_areas_and_volume_worked_by_hand() -> None:
    """A round neck 21 mm thick at fret 1 and 23 mm at fret 12 with a board of 6.35 mm: half an ellipse of 21.79 by 14.65 mm is
    π/2 · 21.79 · 14.65 = 501 mm², one of 26.03 by 16.65 mm 681 mm²; up to a heel's curve before fret 16 (x = 390 mm) the wood is
    the integral of π/2 a b, both straight lines.
    """
    carve = by_hand("round", 36.353)
    assert float(carve.area(36.353)) == pytest.approx(pi / 2 * 21.787 * 14.65, rel=1e-4)
    assert float(carve.area(36.353)) == pytest.approx(501, abs=0.6)
    assert float(carve.area(323.85)) == pytest.approx(681, abs=0.6)
    # ∫ π/2 (a0 + a1 x)(b0 + b1 x) dx from 0 to 390, term by term.
    a0, a1 = 21.25, 7.0 / 473.95
    b1 = 2.0 / (323.85 - 36.353)
    b0 = 14.65 - b1 * 36.353
    length = 390.0
    by_terms = pi / 2 * (a0 * b0 * length + (a0 * b1 + a1 * b0) * length**2 / 2 + a1 * b1 * length**3 / 3)
    assert carve.volume(0.0, length) == pytest.approx(by_terms, rel=1e-12)


@pytest.mark.parametrize(
    ("section", "total", "depth", "centre", "corner"),
    [
        ("soft v", 21.0, 9.5, 5.15, 4.73),
        ("round", 21.0, 9.5, 5.15, 4.96),
        ("flat", 21.0, 9.5, 5.15, 5.11),
        ("soft v", 19.0, 9.5, 3.15, 2.83),
        ("round", 19.0, 9.5, 3.15, 3.00),
        ("flat", 19.0, 9.5, 3.15, 3.12),
        ("soft v", 20.0, 11.0, 2.65, 2.31),
        ("round", 20.0, 11.0, 2.65, 2.49),
        ("flat", 20.0, 11.0, 2.65, 2.61),
    ],
)
def test_wood_under_a_rod_worked_by_hand(
    section: SectionName, total: float, depth: float, centre: float, corner: float
) -> None:
    """A sheet worked apart from the code: a channel of 6.4 mm in a neck with a board of 6.35 mm, at fret 1; the wood under its
    middle by subtraction, the one at its corner the shortest way to the section. Here the neck is held level along itself, so
    that the section's own shortest way is the one in space.
    """
    first = total - 6.35
    level = Carve(
        section=SECTIONS[section],
        first=(36.353, first),
        twelfth=(323.85, first),
        upright=0.0,
        curve=(405.0, 450.0),
        heel_depth=40.0,
        board=(43.574, 473.95, 43.574),
        heel_sides=((450.0, 43.574), (473.95, 43.574)),
        board_thickness=6.35,
    )
    assert first - depth == pytest.approx(centre, abs=1e-9)
    channel = Channel("truss rod", "neck.rod", 0.0, 3.2, (20.0, 60.0), depth, depth)
    found = least_wood(level, channel)
    assert found is not None
    assert found.mm == pytest.approx(corner, abs=0.006)
    assert not found.beside


def test_the_heels_curve_has_no_corner() -> None:
    """Depth and width go over into the heel's with the same slope at both ends of its curve (differences, 0.001 mm apart)."""
    _, carve = planned(carved(neck_blank__upright=1.0))
    low, high = carve.curve
    assert (low, high) == (398.0 - 45.0, 398.0)
    step = 1e-3
    for place in (low, high):
        for across in (0.0, 8.0, 20.0):
            before, at, after = carve.depth(np.array([place - step, place, place + step]), across).tolist()
            assert (at - before) / step == pytest.approx((after - at) / step, abs=1e-3)
    assert float(carve.middle(high)) == pytest.approx(26.0 - 6.4, abs=1e-12)
    assert float(carve.half(high)) == pytest.approx(32.0, abs=1e-12)


def test_a_volute_worked_by_hand() -> None:
    """Its height in its middle, half of it a quarter of its length away, nothing at its ends; from the side h · length / 2."""
    volute = Volute(-5.0, 60.0, 4.0)
    x = np.array([-5.0, 10.0, -20.0, 25.0, -35.0])
    assert volute.over(x).tolist() == pytest.approx([4.0, 2.0, 2.0, 0.0, 0.0], abs=1e-12)
    along = np.linspace(*volute.ends, 100_001)
    assert np.trapezoid(volute.over(along), along) == pytest.approx(4.0 * 60.0 / 2, rel=1e-9)


# The volume, against the kernel


def _edge(points: Any) -> Any:
    if len(points) == 2:
        return BRepBuilderAPI_MakeEdge(*(gp_Pnt(*map(float, point)) for point in points)).Edge()
    row = Array1_gp_Pnt(1, len(points))
    for no, point in enumerate(points, start=1):
        row.SetValue(no, gp_Pnt(*map(float, point)))
    return BRepBuilderAPI_MakeEdge(GeomAPI_PointsToBSpline(row, Tol3D=1e-4).Curve()).Edge()


def _section(x: float, a: float, depths: Any, shares: Any) -> Any:
    """A closed wire: down one side, round the back, up the other, along the glue line."""
    back = [(x, a * share, -depth) for share, depth in zip(shares, depths, strict=True)]
    left, right = (x, -a, 0.0), (x, a, 0.0)
    wire = BRepBuilderAPI_MakeWire()
    for points in ([left, back[0]], back, [back[-1], right], [right, left]):
        wire.Add(_edge(points))
    return wire.Wire()


@pytest.mark.parametrize("section", SECTIONS)
def test_volume_against_a_general_kernel(section: SectionName) -> None:
    """The neck from the job's numbers and the formulas of docs/neck.md alone, lofted by Open CASCADE: within 0.1 %."""
    text = carved(
        neck_blank__section=section,
        neck_blank__upright=1.0,
        neck_blank__volute_height=3.0,
        neck_blank__volute_length=60.0,
        neck_blank__bar_width=4.0,
        neck_blank__bar_depth=9.0,
        neck_blank__bar_centre=13.0,
        neck_blank__bar_from=10.0,
        neck_blank__bar_to=380.0,
        neck__rod_depth_at_ends=7.5,
    )
    made, carve = planned(text)
    document, m = made.job.document, EXPONENTS[section]
    # Stated: board 49 to 68 mm over 478, 6.4 thick; heel 64 to 66 over 80 mm, 26 thick; fret places by the fan's own middle.
    one, twelve = made.layout.frets[0].along, made.layout.frets[11].along
    t = np.linspace(-1, 1, 121)
    shares = np.sign(t) * (1 - (1 - np.abs(t)) ** 2.5)
    loft = BRepOffsetAPI_ThruSections(True, True)
    x_all = [*np.linspace(0, 30, 25), *np.linspace(30, 353, 3)[1:], *np.linspace(353, 398, 33)[1:]]
    for x in x_all:
        way = min(1.0, max(0.0, (x - 353) / 45))
        s = way * way * (3 - 2 * way)
        c = 14.1 + 2.0 * (x - one) / (twelve - one)
        if x < 30:
            c += 3.0 * np.cos(pi * x / 60) ** 2
        a = ((1 - s) * (49 + 19 * x / 478) + s * 64) / 2
        curve = (1 - np.abs(shares) ** m) ** (1 / m)
        loft.AddWire(_section(float(x), float(a), (1 - s) * (1 + (c - 1) * curve) + s * 19.6, shares))
    loft.Build()
    shaft = volume(loft.Shape())
    assert carve.volume(0.0, 398.0) == pytest.approx(abs(shaft), rel=1e-3)
    heel = prism(heel_in_the_neck(document, made.layout), -19.6, 0.0, arcs=True)
    bars = [
        prism(Ring(Point(*at) for at in ((10, y - 2), (380, y - 2), (380, y + 2), (10, y + 2))), -9.0, 1.0)
        for y in (13.0, -13.0)
    ]
    cut = less(less(loft.Shape(), bars[0]), bars[1])
    # The rod's channel, 6.4 mm wide: 9.5 deep half-way and 7.5 at its ends, a parabola: 6.4 · 400 · (9.5 − 2/3).
    lifted = 6.4 * 400.0 * (9.5 - 2.0 / 3)
    expected = volume(cut) + volume(heel) - lifted
    told, _ = shaft_volume(document, made.layout, carve)
    assert told == pytest.approx(expected, rel=1e-3)
    mesh = neck_mesh(document, made.layout, carve)
    assert mesh.volume_mm3 == pytest.approx(expected, rel=1e-3)
    assert volume(common(bars[0], loft.Shape())) == pytest.approx(370 * 4 * 9, rel=1e-6)


def test_least_wood_against_sampling() -> None:
    """The least distance from the rod's and the bars' channels to some million places of the carved surface."""
    text = carved(
        neck_blank__section="soft v",
        neck__rod_depth_at_ends=7.0,
        neck_blank__bar_width=4.0,
        neck_blank__bar_depth=8.0,
        neck_blank__bar_centre=12.0,
        neck_blank__bar_from=20.0,
        neck_blank__bar_to=395.0,
    )
    made, carve = planned(text)
    x = np.linspace(0.0, carve.end, 2401)[:, np.newaxis]
    angle = np.linspace(-pi / 2, pi / 2, 801)
    across = carve.half(x) * np.sin(angle)
    deep = carve.depth(x, across)
    for channel in channels(made.job.document):
        low, high = channel.ends
        own = np.clip(x, max(low, 0.0), high)
        beside = np.maximum(np.abs(across - channel.across) - channel.half, 0.0)
        # The floor's own slope moves the nearest slice by less than the sampling's pitch.
        sampled = np.sqrt((x - own) ** 2 + beside**2 + np.maximum(deep - channel.bottom(own), 0.0) ** 2).min()
        found = least_wood(carve, channel)
        assert found is not None
        assert found.mm <= sampled + 1e-9
        assert found.mm == pytest.approx(float(sampled), abs=0.01)


def test_a_channel_that_breaks_through_is_told_by_how_much() -> None:
    made, carve = planned(carved(neck__rod_depth=16.0))
    found = least_wood(carve, channels(made.job.document)[0])
    assert found is not None
    a = float(carve.half(0.0))
    assert found.mm == pytest.approx(float(carve.middle(0.0)) * sqrt(1 - (3.2 / a) ** 2) - 16.0, abs=1e-6)
    assert found.along == 0.0


# What it weighs, and what it is cut from


def test_the_fingerboards_wood() -> None:
    """A board of 6.35 mm, 42.5 to 56.5 mm wide over 473.95 mm, arched to 241.3 mm: 138.8 cm³ (worked apart from the code)."""
    area = shapely.Polygon(
        [
            (-24.75, 0.0),
            *((y, 6.35 - 241.3 + sqrt(241.3**2 - y**2)) for y in np.linspace(-24.75, 24.75, 2001)),
            (24.75, 0.0),
        ]
    ).area
    assert arched_area(49.5, 6.35, 241.3) == pytest.approx(area, rel=1e-6)
    text = restated(
        "".join(
            line
            for line in BARE.splitlines(keepends=True)
            if not line.startswith(("bass_length", "square_fret", "radius_at_end", "blank_thickness"))
        ),
        {
            "nut__width": 42.5,
            "fingerboard__width_at_end": 56.5,
            "fingerboard__end": 473.95,
            "fingerboard__radius": 241.3,
            "neck__board_thickness": 6.35,
        },
    )
    document = parse_job(text)[0].document
    assert board_volume(document)[0] == pytest.approx(138_800, abs=60)


def test_weight_of_the_necks_wood() -> None:
    made, carve = planned(carved(neck_blank__board_timber="maple-sugar"))
    wood = neck_wood(made.job.document, made.layout, made.head)
    assert wood is not None
    volume_mm3, _ = shaft_volume(made.job.document, made.layout, carve)
    # Sugar maple at 12 % moisture: 0.63 of gravity, 705.6 kg/m³ (Wood Handbook, as the table has it).
    assert wood.parts[0].kg == pytest.approx(volume_mm3 * 705.6e-9, rel=1e-9)
    assert [part.name for part in wood.parts] == ["neck and heel", "fingerboard", "head"]
    assert 0 < wood.along < carve.end
    mesh = neck_mesh(made.job.document, made.layout, carve)
    assert mesh.centroid.x == pytest.approx(wood.parts[0].along, abs=0.2)


def test_the_blank_worked_by_hand() -> None:
    """A head 3 mm under a board of 6.4 mm lies on the glue line, 12° back and 15 mm thick: its tip lies
    reach · sin 12° + 15 cos 12° under it and reach · cos 12° + 15 sin 12° before the nut. Scarfed in stock of 20 mm, the joint
    takes 20 / tan 12° = 94.09 mm, and the blank need be no thicker than the heel.
    """
    made, carve = planned(carved())
    needed, place = blank_needed(made.job.document, made.layout, carve), made.layout.head
    assert place is not None
    reach, lean = max(-corner.x for corner in place.outline), radians(12)
    assert needed.thickness == pytest.approx(reach * sin(lean) + 15 * cos(lean))
    assert needed.length == pytest.approx(478 + reach * cos(lean) + 15 * sin(lean))
    assert needed.width == pytest.approx(2 * max(abs(corner.y) for corner in place.outline))
    scarfed, carve = planned(carved(head__scarf=True, head__stock=20.0))
    needed = blank_needed(scarfed.job.document, scarfed.layout, carve)
    assert needed.thickness == pytest.approx(26.0 - 6.4)
    assert needed.length == pytest.approx(478 + reach + 94.093, abs=1e-3)


@pytest.mark.parametrize("handed", ["right", "left"])
def test_the_neck_is_its_own_mirror(handed: str) -> None:
    made, carve = planned(carved(handed=handed, neck_blank__section="flat"))
    other, twin = planned(carved(handed="right" if handed == "left" else "left", neck_blank__section="flat"))
    assert carve == twin
    assert stations(carve, made.layout) == stations(twin, other.layout)
    profile = carve.profile(120.0)
    assert np.array_equal(profile[:, 0], -profile[::-1, 0])
    assert np.array_equal(profile[:, 1], profile[::-1, 1])


@pytest.mark.parametrize(
    ("changes", "where", "words"),
    [
        ({"neck_blank__thickness_at_first": 40}, "", ""),
        ({"neck_blank__thickness_at_first": 60}, "neck_blank.thickness_at_first", "should lie between"),
        (
            {"neck__board_thickness": 14.0, "neck_blank__thickness_at_first": 13.0},
            "neck_blank.thickness_at_first",
            "no neck to carve",
        ),
        ({"neck_blank__section": "wide u"}, "neck_blank.section", ""),
        (
            {"neck_blank__heel_from": 400, "neck_blank__heel_to": 390},
            "neck_blank",
            "must be larger than heel_from",
        ),
        ({"neck_blank__heel_from": 405}, "neck_blank.heel_from", "the neck pocket opens at 398"),
        ({"neck_blank__volute_height": 3.0}, "neck_blank", "a volute needs volute_height and volute_length"),
        ({"neck_blank__volute_at": 3.0}, "neck_blank", "volute_at is of a volute"),
        ({"neck_blank__bar_width": 4.0}, "neck_blank", "the bars need bar_width"),
        (
            {
                "neck_blank__bar_width": 10.0,
                "neck_blank__bar_centre": 4.0,
                "neck_blank__bar_depth": 9,
                "neck_blank__bar_from": 5,
                "neck_blank__bar_to": 390,
            },
            "neck_blank",
            "run into each other",
        ),
        (
            {
                "neck_blank__bar_width": 4.0,
                "neck_blank__bar_centre": 14.0,
                "neck_blank__bar_depth": 9,
                "neck_blank__bar_from": 395,
                "neck_blank__bar_to": 390,
            },
            "neck_blank",
            "must be larger than bar_from",
        ),
        ({"neck__rod_depth_at_ends": 9.5}, "neck", "must be less than rod_depth"),
        (
            {"neck_blank__upright": 5.9, "neck_blank__thickness_at_first": 12.2},
            "neck_blank.thickness_at_first",
            "left upright",
        ),
        ({"neck_blank__board_timber": "unobtainium"}, "neck_blank.board_timber", ""),
    ],
)
def test_what_cannot_be_is_said(changes: dict[str, Stated], where: str, words: str) -> None:
    if not where:
        parse_job(carved(**changes))
        return
    (told,) = faults_at(carved(**changes), where)
    assert words in told


def test_a_rods_end_without_a_rod() -> None:
    text = restated(BARE, {"neck__rod_access": "head"})
    (told,) = faults_at(text, "neck")
    assert "needs rod_width, rod_depth and rod_to" in told


def test_the_floor_of_a_curved_channel() -> None:
    """The floor of a single-acting rod's channel, hand-worked: 11 mm deep half-way, 9 mm at its ends."""
    channel = Channel("truss rod", "neck.rod", 0.0, 3.0, (10.0, 410.0), 11.0, 9.0)
    assert channel.bottom([10.0, 110.0, 210.0, 410.0]).tolist() == pytest.approx([9.0, 10.5, 11.0, 9.0])


# Another section, the balance, solids


class Parabola:
    """A section of nobody's: depth 1 − across², two thirds of its box."""

    area = 2 / 3

    def depth(self, across: Any) -> Any:
        return 1.0 - np.asarray(across) ** 2


def test_another_section_needs_two_files() -> None:
    """Its word and its formula: no other file of the house names a section for what it is."""
    source = Path(__file__).parents[2] / "src"
    named = {path.name for path in source.rglob("*.py") if '"soft v"' in path.read_text(encoding="utf-8")}
    assert named == {"neck_blank.py", "neck_sections.py"}


def test_whatever_has_a_section_is_planned() -> None:
    """Volume, mesh and least wood of a section that the package does not know: a parabola, by hand."""
    made, round_one = planned(carved(neck_blank__volute_height=3.0, neck_blank__volute_length=60.0))
    carve = replace(round_one, section=Parabola(), upright=0.5)
    a, c = float(carve.half(200.0)), float(carve.middle(200.0))
    assert float(carve.area(200.0)) == pytest.approx(2 * a * (0.5 + (c - 0.5) * 2 / 3), rel=1e-12)
    mesh = neck_mesh(made.job.document, made.layout, carve)
    told, _ = shaft_volume(made.job.document, made.layout, carve)
    assert mesh.volume_mm3 == pytest.approx(told, rel=1e-3)
    # The facet's line: across + depth = 5/4 in shares, which touches half-way across.
    station = carve.station("fret-5", "fret 5", 200.0)
    assert station.facet_in == pytest.approx(a / 4, rel=1e-6)
    assert station.facet_down == pytest.approx(0.5 + (c - 0.5) / 4, rel=1e-6)


def test_the_balance_takes_the_necks_wood_where_nothing_lies_over_it() -> None:
    weighed = "".join(
        f'\n[[masses]]\nname = "{name}"\ngrams = {grams}\nat = [{at}, 0]\n'
        for name, grams, at in (("tuners", 210, -110), ("bridge", 400, 640))
    )
    button = """
[[strap_buttons]]
name = "front"
near = [398, -150]
screw = { measured = 0.05, thread = 4.2, root = 3.0, length = 32 }
"""
    made, _ = planned(carved() + button + weighed)
    document, layout = made.job.document, made.layout
    mass, wood = neck_mass(document, layout, made.head), neck_wood(document, layout, made.head)
    assert mass is not None
    assert wood is not None
    assert (mass.kg, mass.at.x) == (wood.kg, wood.along)
    body = weigh(
        make_body(layout.outline, layout.thickness, (), form=layout.body), Density(600.0, 0.1, "of a test")
    )
    with_neck, without = on_strap(body, layout, mass), on_strap(body, layout)
    assert with_neck is not None
    assert without is not None
    assert with_neck.kg == pytest.approx(without.kg + wood.kg)
    moments = without.kg * without.centre.x + wood.kg * wood.along
    assert with_neck.centre.x == pytest.approx(moments / with_neck.kg)
    over = '\n[[masses]]\nname = "anything"\ngrams = 700\nat = [140, 0]\n'
    stated, _ = planned(carved() + over)
    assert neck_mass(stated.job.document, stated.layout, stated.head) is None
    bare = plan(*parse_job(BARE))
    assert neck_mass(bare.job.document, bare.layout, bare.head) is None


@pytest.mark.parametrize("lean", [0.0, 2.0])
def test_its_pieces_lie_in_the_instrument(lean: float) -> None:
    """The heel on its pocket's floor at the end wall, the board's end over it; a leaning neck rises towards the bridge."""
    changes: dict[str, Stated] = {"neck__angle": lean} if lean else {}
    made, _ = planned(carved(**changes))
    pieces = neck_meshes(made.job.document, made.layout, made.head)
    assert set(pieces) == {"neck", "fingerboard", "head"}
    neck = pieces["neck"].vertices
    lowest = neck[neck[:, 0] > made.layout.pocket_end - 0.5, 2].min()
    assert lowest == pytest.approx(-15.8, abs=0.05)
    heel = neck[(neck[:, 0] > 400) & (neck[:, 0] < made.layout.pocket_end)]
    assert len(heel) > 10
    board, wood = pieces["fingerboard"], neck_wood(made.job.document, made.layout, made.head)
    assert wood is not None
    assert board.volume_mm3 == pytest.approx(wood.parts[1].mm3, rel=1e-3)
    assert pieces["head"].volume_mm3 == pytest.approx(wood.parts[2].mm3, rel=1e-3)
    assert pieces["neck"].volume_mm3 == pytest.approx(wood.parts[0].mm3, rel=1e-3)
    nut_end = neck[neck[:, 0] < 1.0, 2].max()
    assert (nut_end < 3.0) == (lean > 0)


def test_a_trees_pilot_ends_in_the_head() -> None:
    """Two heads alike but for a tree differ by its pilot alone: a cylinder and its bit's point, not a hole right through."""
    tree = """
[[head.trees]]
strings = [3, 4]
along = 60
height = 6
screw = { measured = 0.1, thread = 2.4, root = 1.7, length = 14, under_head = 4 }
"""
    bare, _ = planned(carved())
    held, _ = planned(carved() + tree)
    weighed = [neck_wood(each.job.document, each.layout, each.head) for each in (bare, held)]
    meshes = [neck_meshes(each.job.document, each.layout, each.head)["head"] for each in (bare, held)]
    assert held.head is not None
    (pilot,) = held.head.features.family("tree-screw")
    step = pilot.deepest
    taken = pi * (step.diameter**2 * step.depth / 4 + step.point_width**2 * step.bit.point / 12)
    assert taken < 0.9 * pi * step.diameter**2 / 4 * 15  # the head is 15 mm thick
    assert weighed[0] is not None
    assert weighed[1] is not None
    assert weighed[0].parts[2].mm3 - weighed[1].parts[2].mm3 == pytest.approx(taken, rel=1e-6)
    assert meshes[0].volume_mm3 - meshes[1].volume_mm3 == pytest.approx(taken, rel=1e-3)
