"""The tunnel solver against a search by brute force, and what must hold of every answer."""

from __future__ import annotations

from dataclasses import replace
from math import degrees, hypot, inf, radians, sin, tan

import numpy as np
import pytest
from tests.torture import long

from scribeline.features import Bit, Features, nearest_in_words
from scribeline.job import parse_job
from scribeline.plan import Plan, plan
from scribeline.solid import DRIFT as LONG_BIT_DRIFT
from scribeline.solid import find_outside, find_webs
from scribeline.solid.clearance import own_walls
from scribeline.solid.tunnels import Tunnel
from scribeline.solid.tunnels.narrowing import best_way
from scribeline.solid.tunnels.problem import Hollow, Problem, Wants
from scribeline.solid.tunnels.programme import greatest
from scribeline.solid.tunnels.solve import judge, solve

from ..conftest import SHIPPED
from ..tunnel_bodies import DRIFT, Brute, random_body, walls

ASKED = """
[[tunnels]]
name = "bridge pickup lead"
start = "bridge pickup"
into = "control cavity"
diameter = 6

[[tunnels]]
name = "neck pickup lead"
start = "neck pocket"
through = ["neck pickup"]
into = "bridge pickup"
diameter = 6
"""


def _asked(text: str = SHIPPED) -> Plan:
    """The demo with two tunnels, its string ground worked out as well."""
    before, _, after = text.partition("[ground_wire]")
    rest = after[after.index("[bits]") :]
    return plan(*parse_job(f'{before}[ground_wire]\ninto = "bridge pickup"\ndiameter = 4\n{ASKED}\n{rest}'))


@pytest.fixture(scope="module")
def asked() -> Plan:
    return _asked()


@pytest.mark.parametrize(
    ("seed", "sides"),
    [
        pytest.param(23, None, id="from a face"),
        *long(
            pytest.param(10, (3,), id="from a pocket"),
            pytest.param(20, (3,), id="from the edge"),
        ),
    ],
)
def test_brute_force_finds_no_more_wood(seed: int, sides: tuple[int, ...] | None) -> None:
    """`make bench` tries 200 bodies and all their sides; these few stand for them on every run."""
    body = random_body(seed)
    found = solve(body.problem(), (body.bit,), DRIFT)
    brute = Brute(body).best(sides)
    assert brute > body.wants.least
    assert found.best is not None
    assert found.best.cover >= brute - 0.05


@pytest.mark.parametrize("seed", [2, 4, 16, 23, *long(3, 11, 20, 29)])
def test_an_answer_is_what_brute_force_would_call_a_way(seed: int) -> None:
    """Every limit and the wood, by the other search's own measures: points sampled on the tunnel's surface."""
    body = random_body(seed)
    found = solve(body.problem(), (body.bit,), DRIFT)
    assert found.best is not None
    for course in (found.best, *found.others):
        eased, wood = Brute(body).judge(course)
        assert eased == 0
        assert course.cover == pytest.approx(wood, abs=0.03)


def test_the_wall_a_bore_goes_in_by() -> None:
    """By hand, on a square with one corner cut off in two short sides: they turn 23°, 44° and 23° one after another."""
    start = np.array([(0, 0), (100, 0), (100, 90), (97, 97), (90, 100), (0, 100)], dtype=float)
    end = np.roll(start, -1, axis=0)

    def own(x: float, y: float, dx: float, dy: float) -> list[int]:
        long = hypot(dx, dy)
        at, axis = np.array([(x, y, -20)]), np.array([(dx / long, dy / long, 0)])
        return np.flatnonzero(own_walls(at, axis, start, end, np.array([3.0]))[0]).tolist()

    # Square into the right-hand side, and the short side beside it; a turn of 44° is a corner.
    assert own(100, 45, -1, 0) == [1, 2]
    # At 17° to the top: the side it meets, however slanting, and the short one, which it would meet at 40°.
    assert own(50, 100, -1, -0.3) == [3, 4]
    # A corner of 90° ends the wall, but not where it lies within the mouth.
    assert own(50, 0, 1, 1) == [0]
    assert own(1, 0, 1, 1) == [0, 5]


def _wood_left(planned: Plan, tunnel: Tunnel) -> float:
    """The least wood of a tunnel by the exact checks of the whole plan, which know nothing of the solver."""
    return min(_woods_left(planned, tunnel).values())


def _woods_left(planned: Plan, tunnel: Tunnel) -> dict[str, float]:
    """The same to each carved surface by its name, and to all else."""
    bore, layout = tunnel.bore, planned.layout
    assert bore is not None
    others = tuple(b for b in planned.features.bores if b.id not in {t.place.id for t in planned.tunnels})
    alone = Features((*others, bore), planned.features.pockets)
    webs = find_webs(alone, layout.thickness, near=60.0, drift=LONG_BIT_DRIFT)
    wood = [w.mm for w in webs if bore.id in {w.a, w.b} and not w.on_purpose]
    outside = find_outside(alone, layout.outline, layout.thickness, drift=LONG_BIT_DRIFT, form=layout.body)
    own = next(each for each in outside if each.feature == bore.id)
    rest = min([*wood, own.to_edge, own.to_opposite])
    return {"all else": rest, **{gap.surface: gap.mm for gap in own.surfaces}}


def test_what_is_reported_is_what_the_checks_find(asked: Plan) -> None:
    for tunnel in asked.tunnels:
        assert tunnel.course is not None
        # Its brad point, which the search leaves out, lies in the air of the pocket it comes out in.
        assert tunnel.course.cover == pytest.approx(_wood_left(asked, tunnel), abs=2e-3)


BELLY = """
[[body.bevels]]
name = "belly"
face = "back"
line = [[440, 10], [650, 60]]
angle = 8
"""
FOREARM = """
[[body.bevels]]
name = "forearm"
face = "top"
line = [[440, 30], [680, 10]]
angle = 6
"""
STEP = """
[body.top]
kind = "stepped"

[[body.top.areas]]
name = "panel"
outline = [[490, -40], [560, -40], [560, 40], [490, 40]]
height = -1.5
"""
ARCH = """
[body.top]
kind = "arched"
profile = [[0, -8], [25, -3], [100, 0]]
"""


@pytest.mark.parametrize(
    ("carved", "which", "nearest"),
    [
        pytest.param(BELLY, "tunnel-1", None, id="belly"),
        pytest.param(FOREARM, "tunnel-1", "the forearm bevel", id="forearm"),
        pytest.param(STEP, "tunnel-2", None, id="stepped"),  # its panel is the top there, and counts as that
        *long(pytest.param(ARCH, "tunnel-2", "the arched top", id="arched")),
    ],
)
@pytest.mark.parametrize("hand", ["right", *long("left")])
def test_a_carved_body_is_minded_while_a_way_is_looked_for(
    carved: str, which: str, nearest: str | None, hand: str
) -> None:
    """Held to the checks of the whole plan, which measure against the carved surfaces by themselves."""
    text = SHIPPED.replace('handed = "right"', f'handed = "{hand}"') + carved
    planned = plan(*parse_job(text))
    tunnel = next(tunnel for tunnel in planned.tunnels if tunnel.place.id == which)
    assert tunnel.course is not None
    woods = _woods_left(planned, tunnel)
    assert tunnel.course.cover == pytest.approx(min(woods.values()), abs=5e-3)
    # The best way often has as much wood to several things, of which any may be named. A bevel lies where it is stated,
    # whatever the hand: a left-handed instrument's tunnel may be nearer to something else.
    if nearest is not None and hand == "right":
        assert woods[nearest] == pytest.approx(tunnel.course.cover, abs=0.01)


def test_every_answer_keeps_its_limits(asked: Plan) -> None:
    for tunnel in asked.tunnels:
        assert tunnel.course is not None
        for course in (tunnel.course, *tunnel.others):
            assert min(course.margins.values()) >= -1e-3
            assert course.cover >= tunnel.wants.least
        assert [c.cover for c in tunnel.others] == sorted((c.cover for c in tunnel.others), reverse=True)
        # Of ways that leave the same wood, to 0.001 mm, the one with the shortest bit comes first.
        assert all(c.cover <= tunnel.course.cover + 0.002 for c in tunnel.others)


def test_the_demo_stops_at_nothing(asked: Plan) -> None:
    assert not asked.stops


def test_what_it_comes_nearest_to_is_said_as_the_drawings_say_it(asked: Plan) -> None:
    said = [
        nearest_in_words(asked.features, name) for name in ("hole-4", "bridge-pickup", "top", "edge", "gone")
    ]
    assert said == ["H4", "the bridge-pickup cavity", "the top", "the body's edge", "gone"]
    for tunnel in asked.tunnels:
        assert tunnel.course is not None
        words = f"{tunnel.course.cover:.1f} mm to {nearest_in_words(asked.features, tunnel.course.nearest)}"
        assert any(words in line for card in asked.cards for line in card.do), words


def test_a_drill_gets_to_every_tunnel(asked: Plan) -> None:
    """The check of access, which looks along lines through the real wood, finds nothing in the way."""
    assert not [f for f in asked.findings if f.code.startswith("access.")]


def test_left_handed_is_the_mirror_image() -> None:
    """The very same holes: of several that are as good as one another both hands get the same one."""
    right, left = (
        _asked(SHIPPED.replace('handed = "right"', f'handed = "{hand}"')) for hand in ("right", "left")
    )
    assert len(right.tunnels) == 3
    for a, b in zip(right.tunnels, left.tunnels, strict=True):
        assert a.bore is not None
        assert b.bore is not None
        x, y, z = a.bore.at
        i, j, k = a.bore.axis
        assert b.bore.at == pytest.approx((x, -y, z), abs=1e-6)
        assert b.bore.axis == pytest.approx((i, -j, k), abs=1e-9)


@pytest.mark.parametrize("seed", [9, 11, 18, 21])  # 18 has no wall to come out of
def test_what_does_not_decide_it_changes_nothing(seed: int) -> None:
    """The best way among the few cuts that decide a tunnel is looked for by itself; it leaves as much among all."""
    body = random_body(seed)
    whole = solve(body.problem(), (body.bit,), DRIFT)
    narrow = best_way(body.problem(), (body.bit,), DRIFT)
    assert narrow is not None
    assert (whole.best is None) == (narrow.best is None)
    if whole.best is not None and narrow.best is not None:
        assert narrow.best.cover == pytest.approx(whole.best.cover, abs=0.05)


def test_an_edit_that_decides_no_tunnel_looks_for_none() -> None:
    """The strap buttons' screws lie behind the bridge and before the neck, the controls' shafts within their cavity."""
    plan(*parse_job(SHIPPED))
    before = solve.cache_info().misses
    for was, now in (
        ("length = 32", "length = 30"),
        ("centre = [638, 94]", "centre = [637, 94]"),
        ("length = 24.5", "length = 24"),
    ):
        assert was in SHIPPED
        plan(*parse_job(SHIPPED.replace(was, now)))
    assert solve.cache_info().misses == before


def test_the_same_job_gives_the_same_answer() -> None:
    found = []
    for _ in range(2):
        solve.cache_clear()
        found.append(_asked())
    first, again = found
    assert [t.course for t in first.tunnels] == [t.course for t in again.tunnels]


class TestWorked:
    """A plate 28 mm from a wall, aimed 14 mm deep: numbers worked by hand from plain trigonometry."""

    pocket = ((0.0, -30.0), (40.0, -30.0), (40.0, 30.0), (0.0, 30.0))
    outline = ((-150.0, -100.0), (200.0, -100.0), (200.0, 100.0), (-150.0, 100.0))
    bit = Bit("twist", 3.2, 0.96)

    def problem(self, **wants: float) -> Problem:
        usual = {"least": 1.0, "hidden": 1.0, "window": 1.0, "chuck": 19.0}
        return Problem(
            start="face",
            outline=self.outline,
            thickness=45.0,
            exits=walls(list(self.pocket), -20.5, 0.0),
            target=Hollow((self.pocket,), -20.5, 0.0),
            floor=-1,
            wants=Wants(**{**usual, **wants}),
            hide=((55.0, -40.0), (100.0, -40.0), (100.0, 40.0), (55.0, 40.0)),
        )

    def test_angle_length_ellipse_and_chuck(self) -> None:
        course = judge(self.problem(), self.bit, 0.0, entry=(68.0, 0.0), heading=(-1.0, 0.0), lands=14.0)
        assert course is not None
        angle = radians(26.565)
        assert course.to_wall == pytest.approx(hypot(28, 14), abs=1e-9)
        assert -course.axis[2] == pytest.approx(sin(angle), abs=1e-5)
        assert course.outside == pytest.approx(19 / tan(angle), abs=1e-3)  # 38 mm
        assert self.bit.diameter / -course.axis[2] == pytest.approx(7.16, abs=0.01)
        # To the back: 45 less where the end's lower rim lies; the axis ends r·tan A + 1 mm past the wall.
        depth = hypot(28, 14) + 1.6 * tan(angle) + 1.0
        rim = depth * sin(angle) + 1.6 * (1 - sin(angle) ** 2) ** 0.5
        point = (depth + 0.96) * sin(angle)
        assert course.cover == pytest.approx(45 - max(rim, point), abs=1e-3)

    def test_nothing_reaches_when_every_bit_is_short(self) -> None:
        short = replace(self.bit, reach=30.0)
        found = solve(self.problem(), (short,), 0.01)
        assert found.best is None
        reach = next(each for each in found.relaxed if each.kind == "reach")
        assert reach.to == pytest.approx(30 + reach.by)
        # A hair less is not enough, and as much is.
        for change, there in ((-0.3, False), (0.02, True)):
            again = solve(self.problem(), (replace(self.bit, reach=reach.to + change),), 0.01)
            assert (again.best is not None) == there

    def test_each_limit_that_would_have_to_give(self) -> None:
        """Wood asked for that is not there: what is offered is what there is."""
        free = solve(self.problem(), (self.bit,), 0.01)
        assert free.best is not None
        most = free.best.cover
        none = solve(self.problem(least=most + 2.0), (self.bit,), 0.01)
        assert none.best is None
        cover = next(each for each in none.relaxed if each.kind == "cover")
        assert cover.by == pytest.approx(2.0, abs=0.05)

    def test_a_measured_drift_counts(self) -> None:
        wild = solve(self.problem(), (replace(self.bit, drift=0.05),), 0.01)
        tame = solve(self.problem(), (replace(self.bit, drift=0.0),), 0.01)
        assert wild.best is not None
        assert tame.best is not None
        assert wild.best.cover < tame.best.cover


def test_programmes_against_their_corners() -> None:
    """The greatest of a linear programme lies at a corner: all corners of small ones are tried."""
    random = np.random.default_rng(3)
    a = np.concatenate(
        [random.normal(size=(20, 8, 2)), np.tile([[1, 0], [-1, 0], [0, 1], [0, -1]], (20, 1, 1))], axis=1
    )
    b = np.concatenate([random.uniform(0.2, 2.0, (20, 8)), np.full((20, 4), 3.0)], axis=1)
    c = random.normal(size=(20, 2))
    ends = np.full((2, 20), 3.0)
    found = greatest(c.T, a[:, :8].transpose(2, 1, 0), b[:, :8].T, -ends, ends).T
    for i in range(20):
        best = -inf
        for j in range(12):
            for k in range(j):
                pair = a[i, [j, k]]
                if abs(np.linalg.det(pair)) > 1e-9:
                    corner = np.linalg.solve(pair, b[i, [j, k]])
                    if (a[i] @ corner <= b[i] + 1e-9).all():
                        best = max(best, float(c[i] @ corner))
        assert (a[i] @ found[i] <= b[i] + 1e-6).all()
        assert float(c[i] @ found[i]) == pytest.approx(best, abs=1e-4)


def test_headings_are_told_from_the_neck(asked: Plan) -> None:
    tunnel = next(t for t in asked.tunnels if t.place.name == "neck pickup lead")
    assert tunnel.course is not None
    assert degrees(abs(np.arctan2(tunnel.course.axis[1], tunnel.course.axis[0]))) < 20
