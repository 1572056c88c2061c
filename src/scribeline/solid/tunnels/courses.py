"""Many ways to drill one tunnel at a time, and what each leaves of every limit but the wood.

A way has five numbers: two say where it starts (a place on the face, or along a wall and how high), two where it
comes out of the target's wall (along it and how high), and the last is the bit's radius, which is free only where the
thickest bit is looked for. Every margin is in mm and at least 0 where its limit is kept.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import radians, sin
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import BREAK_OUT, Bit
from scribeline.solid.tunnels.problem import BIT_CLEAR, LEAST_ANGLE_DEG, XY, Hollow, Problem, Wall

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]
    Bools = NDArray[np.bool_]

MARGINS = ("angle", "window", "hidden", "reach", "chuck", "rim", "floor", "way")
"""The limits besides the wood, in the order of the margins' columns.

angle: to the surfaces it enters and leaves; window: its mouths in their walls; hidden: its mouth under its part;
reach: length of the bit; chuck: the same, as the radius by which the chuck is too large; rim: the bit's air on its way
in; floor: it leaves the target's floor alone; way: it meets what it should in the right order.
"""

Place = tuple[float, float, float]

_FAR = 1e3

LEAST_SINE = round(sin(radians(LEAST_ANGLE_DEG)), 12)
"""The sine of the least angle, to as many figures as every processor agrees on."""

SHORE = 40
"""Sides of an outline up to which it is drawn as it is where the chuck is kept off it."""

SIDES = 6
"""How many sides of a rim are each a part of its own: those that are cleared by least."""


@dataclass(frozen=True, slots=True)
class Ways:
    """A batch of ways.

    Attributes:
        entry: number of the wall each starts from, (n,).
        exit: number of the wall each comes out of.
        bit: number of the bit that drills each.
        at: the five numbers, (n, 5), mm.
    """

    entry: Ints
    exit: Ints
    bit: Ints
    at: Floats

    def __len__(self) -> int:
        return len(self.at)

    def pick(self, rows: Ints | Bools) -> Ways:
        """Some of them."""
        return Ways(self.entry[rows], self.exit[rows], self.bit[rows], self.at[rows])


@dataclass(frozen=True, slots=True)
class Lines:
    """Where a batch of ways runs.

    Attributes:
        start: where each axis meets the surface it starts from, (n, 3), mm.
        end: where it meets the target's wall.
        axis: unit vectors into the wood.
        normal: of the surface each starts from, out of the wood.
        sine_in: sine of the angle to that surface.
        sine_out: sine of the angle to the wall it comes out of.
        length: along the axis from start to end, (n,), mm.
        depth: of the full diameter, (n,), mm.
        entry: number of the wall each starts from, (n,).
        exit: number of the wall each comes out of.
        bit: number of the bit that drills each.
        r: radius of that bit, mm.
        drift: how far it wanders, mm per mm.
        point: length of its point, mm.
    """

    start: Floats
    end: Floats
    axis: Floats
    normal: Floats
    sine_in: Floats
    sine_out: Floats
    length: Floats
    depth: Floats
    entry: Ints
    exit: Ints
    bit: Ints
    r: Floats
    drift: Floats
    point: Floats


class Bench:
    """One problem and some bits, ready to judge batches of ways.

    Args:
        problem: what is asked.
        bits: that may drill it.
        drift: how far a long bit wanders, mm per mm, where the bit's own is not stated.
        thinnest: radius down to which each bit may be made thinner, mm; None: none of them.
    """

    def __init__(
        self, problem: Problem, bits: tuple[Bit, ...], drift: float, thinnest: Floats | None = None
    ) -> None:
        self.problem, self.bits = problem, bits
        # To the same figures whatever unit they were stated in: the search must not hang on the last ones.
        self.r = np.round([bit.diameter / 2 for bit in bits], 7)
        self.thinnest = self.r if thinnest is None else thinnest
        self.drift = np.array([drift if bit.drift is None else bit.drift for bit in bits])
        self.point = np.round([bit.point / bit.diameter * 2 for bit in bits], 7)
        self.twist = np.array([bit.kind == "twist" and bit.point > 0 for bit in bits])
        self.longest = np.round([min(bit.reach, problem.wants.longest) for bit in bits], 7)
        self.exits = _Walls(problem.exits)
        self.entries = _Walls(problem.entries)
        self.hide = np.array(problem.hide).reshape(-1, 2)

    # What only the limits of a way need, made when the first is judged.

    @cached_property
    def rim(self) -> Floats:
        """Edges that the bit must pass over, (edges, 2, 2), mm."""
        return _chords(self.problem.rim)

    @cached_property
    def shore(self) -> Floats | None:
        """The ring beyond which the chuck may lie; None where the drill comes over the face alone."""
        problem = self.problem
        return _shore(problem.outline) if problem.open_end or problem.start == "edge" else None

    @cached_property
    def target(self) -> Floats:
        """The ring of the pocket it comes out in."""
        return _drawn(self.problem.target.rings[0])

    @cached_property
    def bent(self) -> list[Floats]:
        """Rings that a way might meet before its wall.

        One that starts outside a convex ring and goes in through a side of it cannot have met it before.
        """
        problem = self.problem
        rings = [*problem.target.rings, *(() if problem.source is None else problem.source.rings)]
        return [ring for ring in map(_drawn, rings) if not _is_convex(ring)]

    @cached_property
    def through(self) -> list[tuple[Floats, Hollow]]:
        """The pockets it crosses on its way."""
        return [(_drawn(hollow.rings[0]), hollow) for hollow in self.problem.through]

    # Where the numbers may lie.

    def ranges(self, entry: Ints, exit_: Ints, bit: Ints) -> tuple[Floats, Floats]:
        """Lowest and highest of the five numbers for ways between these walls with these bits, (n, 5) each."""
        low, high = np.zeros((len(entry), 5)), np.zeros((len(entry), 5))
        low[:, 4], high[:, 4] = self.thinnest[bit], self.r[bit]
        if self.problem.start == "face":
            low[:, :2], high[:, :2] = self.hide.min(axis=0), self.hide.max(axis=0)
        else:
            self.entries.ranges(entry, low[:, :2], high[:, :2])
        self.exits.ranges(exit_, low[:, 2:4], high[:, 2:4])
        return low, high

    def around(self) -> tuple[Floats, Floats]:
        """A box that holds every way within its limits and all that could leave it less wood than the faces do, mm."""
        problem = self.problem
        flat = [self.exits.a, self.exits.b, self.hide, self.entries.a, self.entries.b]
        xy = np.concatenate(flat)
        # Its mouths reach r/sin A beyond its axis and its tip r/tan A, the break-out and the point beyond its end.
        beyond = float((self.r * (1 + self.point)).max()) / LEAST_SINE + BREAK_OUT
        beyond += float((self.drift * self.longest).max()) + self.most(0.0)
        level = (-problem.thickness - beyond, beyond)
        return np.array([*xy.min(axis=0) - beyond, level[0]]), np.array([*xy.max(axis=0) + beyond, level[1]])

    def most(self, r: float) -> float:
        """Wood to the body's faces that no way of this radius can pass, mm: how high and low its mouths may lie."""
        wants, thickness = self.problem.wants, self.problem.thickness
        face = self.problem.start == "face"
        walls = [self.exits] if face else [self.entries, self.exits]
        found = [] if face else [(thickness - 2 * r) / 2]
        for each in walls:
            room = wants.window + 2 * r
            over = np.full(len(each.low), np.inf) if face else -(each.low + room)
            found.append(float(np.minimum(over, each.high - room + thickness).max(initial=0.0)))
        return min(found)

    def turned(self, ways: Ways) -> float:
        """How far along its exit wall the first way moves for each mm that it moves along its entry wall, sideways."""
        if self.problem.start == "face":
            return 0.0
        (ax, ay), (bx, by) = self.entries.way[ways.entry[0]], self.exits.way[ways.exit[0]]
        return float(ax * bx + ay * by)

    def lines(self, ways: Ways) -> Lines:
        """Where the ways run."""
        end, inward = self.exits.places(ways.exit, ways.at[:, 2:4])
        r = ways.at[:, 4]
        if self.problem.start == "face":
            start = np.column_stack([ways.at[:, :2], np.zeros(len(ways))])
            normal = np.broadcast_to(np.array([0.0, 0.0, 1.0]), start.shape)
        else:
            start, left = self.entries.places(ways.entry, ways.at[:, :2])
            normal = left if self.problem.start == "pocket" else -left
        run = end - start
        length = np.sqrt((run**2).sum(axis=1))
        axis = run / np.maximum(length, 1e-9)[:, np.newaxis]
        sine_in, sine_out = -(axis * normal).sum(axis=1), (axis * inward).sum(axis=1)
        lean = np.sqrt(np.maximum(0.0, 1 - sine_out**2)) / np.maximum(sine_out, 1e-3)
        depth = length + r * lean + BREAK_OUT
        drift, point = self.drift[ways.bit], self.point[ways.bit] * r
        return Lines(
            start,
            end,
            axis,
            normal,
            sine_in,
            sine_out,
            length,
            depth,
            ways.entry,
            ways.exit,
            ways.bit,
            r,
            drift,
            point,
        )

    def line(self, start: Place, end: Place, axis: Place, normal: Place, depth: float) -> Lines:
        """One line as it is stated, drilled with the first bit; square to the wall it comes out of, for all that is told."""
        none, ways = np.zeros(1, dtype=np.intp), (np.array([part]) for part in (start, end, axis, normal))
        at, to, way, out = ways
        return Lines(
            start=at,
            end=to,
            axis=way,
            normal=out,
            sine_in=-(way * out).sum(axis=1),
            sine_out=np.ones(1),
            length=np.sqrt(((to - at) ** 2).sum(axis=1)),
            depth=np.array([depth]),
            entry=none,
            exit=none,
            bit=none,
            r=self.r[:1],
            drift=self.drift[:1],
            point=(self.point * self.r)[:1],
        )

    def hulls(self, lines: Lines) -> Floats:
        """What the bit may take out, as `shapes.discs` has it: rows of ellipses, (n, 2 or 3, 3, 3).

        They are where it goes in, at its depth, and at its point where any bit has one that is looked at.
        """
        way, normal = lines.axis, lines.normal
        v = _cross(way, normal)
        size = np.sqrt((v**2).sum(axis=1))
        square = size < 1e-9
        if square.any():
            v[square] = _cross(way[square], np.array([[0.0, 0.0, 1.0]]))
            size[square] = np.sqrt((v[square] ** 2).sum(axis=1))
        v = v / np.maximum(size, 1e-12)[:, np.newaxis]
        u = _cross(v, way)
        twist = self.twist[lines.bit]
        tip = lines.depth + np.where(twist, lines.point, 0.0)
        r_end = lines.r + lines.drift * lines.depth
        r_tip = np.where(twist, lines.drift * tip, r_end)
        ends = ((lines.depth, r_end), (tip, r_tip))[: 2 if self.twist.any() else 1]
        hull = np.empty((len(way), 1 + len(ends), 3, 3))
        for disc, (along, r) in enumerate(ends, start=1):
            hull[:, disc, 0] = lines.start + along[:, np.newaxis] * way
            hull[:, disc, 1], hull[:, disc, 2] = r[:, np.newaxis] * u, r[:, np.newaxis] * v
        level = np.maximum(lines.sine_in, 1e-3)
        slope = np.sqrt(np.maximum(0.0, 1 - level**2))
        wide = (lines.r * (1 + lines.drift * slope / level))[:, np.newaxis]
        # Trimmed to its surface: the half-axis up the slope is carried along the axis until it lies in the surface.
        carried = u + way * ((u * normal).sum(axis=1) / level)[:, np.newaxis]
        hull[:, 0, 0], hull[:, 0, 1], hull[:, 0, 2] = lines.start, wide * carried, wide * v
        return hull

    # What the ways leave of each limit.

    def margins(self, lines: Lines) -> Floats:
        """What is left of each limit, (n, len(MARGINS)), mm; below 0 where it is broken, and by how much."""
        found = np.full((len(lines.length), len(MARGINS)), _FAR)
        for name, part in self.parts(lines):
            if not part.size:  # no ways, or a limit with nothing to hold it against
                continue
            column = MARGINS.index(name)
            found[:, column] = np.minimum(found[:, column], part.min(axis=1))
        return found

    def parts(self, lines: Lines) -> list[tuple[str, Floats]]:
        """The same, each limit in the parts of which it is the least, (n, parts): each a smooth function of the way."""
        wants = self.problem.wants
        slope = np.sqrt(np.maximum(lines.axis[:, 0] ** 2 + lines.axis[:, 1] ** 2, 1e-12))
        least = LEAST_SINE
        found = [("angle", 20 * (np.column_stack([lines.sine_in, lines.sine_out]) - least))]
        wandered = lines.r + lines.drift * lines.length
        found.append(
            ("window", self.exits.window(lines.exit, lines.end, lines.axis, wandered) - wants.window)
        )
        if self.problem.start == "face":
            found.append(("hidden", self._hidden(lines, slope) - wants.hidden))
        else:
            own = self.entries.window(lines.entry, lines.start, lines.axis, lines.r)
            found.append(("window", own - wants.window))
        outside, widest = self._chuck(lines, slope)
        reach = self.longest[lines.bit] - (outside + lines.depth + lines.point)
        chuck = np.where(reach >= 0, np.maximum(widest - wants.chuck, 0.0), widest - wants.chuck)
        found += [("reach", reach[:, np.newaxis]), ("chuck", chuck[:, np.newaxis])]
        if self.problem.start == "pocket":
            found.append(("rim", self._rim(lines, slope)))
        found += [("floor", self._floor(lines)), ("way", self._way(lines, slope))]
        return found

    def outside(self, lines: Lines) -> Floats:
        """How much of the bit must be outside the wood at full depth, (n,), mm."""
        slope = np.sqrt(np.maximum(lines.axis[:, 0] ** 2 + lines.axis[:, 1] ** 2, 1e-12))
        return self._chuck(lines, slope)[0]

    def _chuck(self, lines: Lines, slope: Floats) -> tuple[Floats, Floats]:
        """The bit that must stay outside, and the widest chuck that clears with the bit there is.

        The chuck lies wholly over the face, R/tan A from where the axis meets it. Where the drill comes in over the
        body's edge it may lie wholly beyond the outline instead; from the edge itself, wholly under the back too.
        """
        chuck = self.problem.wants.chuck
        stick = self.longest[lines.bit] - lines.depth - lines.point
        over, widest = self._over(lines, slope, stick, up=True)
        if self.problem.start == "edge":
            under, widest_under = self._over(lines, slope, stick, up=False)
            over, widest = np.minimum(over, under), np.maximum(widest, widest_under)
        if self.shore is not None:
            run = _furthest(self.shore, lines.start, -lines.axis[:, :2] / slope[:, np.newaxis], chuck)
            # A leaning chuck's front reaches forward by R sin A.
            beyond = (run + chuck * np.abs(lines.axis[:, 2])) / slope
            widest = np.where((beyond < over) & (beyond <= stick), np.maximum(widest, chuck), widest)
            over = np.minimum(over, beyond)
        return over, widest

    def _over(self, lines: Lines, slope: Floats, stick: Floats, *, up: bool) -> tuple[Floats, Floats]:
        """The same where the chuck lies over the top, or under the back."""
        drop = np.maximum(-lines.axis[:, 2] if up else lines.axis[:, 2], 1e-6)
        into = -lines.start[:, 2] if up else lines.start[:, 2] + self.problem.thickness
        return (self.problem.wants.chuck * slope + into) / drop, (stick * drop - into) / slope

    def _hidden(self, lines: Lines, slope: Floats) -> Floats:
        """How far the hiding outline reaches beyond the mouth, where it reaches least."""
        heading = lines.axis[:, :2] / slope[:, np.newaxis]
        long = lines.r / np.maximum(np.abs(lines.axis[:, 2]), 1e-6)
        return _around(self.hide, lines.start[:, :2], heading, long, lines.r)

    def _rim(self, lines: Lines, slope: Floats) -> Floats:
        """How high the under-side of the bit, with its air, passes over the rim of the pocket it comes through.

        At `v` off the axis the bit's under-side is √(ρ² − v²)/cos A below it; along a straight edge that is a convex
        function of v, least where v = −ρ k/√(1 + k²) with k the edge's slope times sin A.
        """
        n, rho = len(lines.r), lines.r + BIT_CLEAR
        back = -lines.axis[:, :2] / slope[:, np.newaxis]
        aside = np.column_stack([-back[:, 1], back[:, 0]])
        a, b = self.rim[:, 0], self.rim[:, 1]

        def across(way: Floats, p: Floats) -> Floats:
            here = way[:, :1] * lines.start[:, :1] + way[:, 1:] * lines.start[:, 1:2]
            return np.asarray(way[:, :1] * p[:, 0] + way[:, 1:] * p[:, 1] - here)

        # Edges on the near side of the wall it starts from are not in the way, and none that lies beside the bit.
        normal = lines.normal[:, :2]
        va, vb = across(aside, a), across(aside, b)
        counts = np.maximum(across(normal, a), across(normal, b)) > 1e-2
        counts &= (np.minimum(va, vb) < rho[:, np.newaxis]) & (np.maximum(va, vb) > -rho[:, np.newaxis])
        row, edge = np.nonzero(counts)
        va, vb, rho = va[row, edge], vb[row, edge], rho[row]
        ua, ub = (((p[edge] - lines.start[row, :2]) * back[row]).sum(axis=1) for p in (a, b))
        rise, z, slope = (-lines.axis[:, 2] / slope)[row], lines.start[row, 2], slope[row]
        run = vb - va
        straight = np.abs(run) < 1e-9
        lean = (ub - ua) / np.where(straight, 1.0, run)
        k = lean * -lines.axis[row, 2]
        low, high = np.maximum(np.minimum(va, vb), -rho), np.minimum(np.maximum(va, vb), rho)
        v = np.minimum(np.maximum(-rho * k / np.sqrt(1 + k**2), low), high)
        # An edge that runs along the bit is passed at both its ends.
        v = np.where(straight, va, v)
        u = np.where(straight, np.minimum(ua, ub), ua + lean * (v - va))
        height = z + u * rise - np.sqrt(np.maximum(rho**2 - v**2, 0.0)) / slope
        order = np.lexsort((height, row))
        row = row[order]
        slot = np.arange(len(row)) - np.searchsorted(row, row)
        few = slot < SIDES
        found = np.full((n, SIDES), _FAR)
        found[row[few], slot[few]] = height[order[few]]
        return np.column_stack([found, 50 * -lines.axis[:, 2]]) if self.problem.open_end else found

    def _floor(self, lines: Lines) -> Floats:
        """How far the bit stops short of the target's closed side."""
        target = self.problem.target
        cosine = np.sqrt(np.maximum(0.0, 1 - lines.axis[:, 2] ** 2))
        tip = lines.depth + lines.point
        if self.problem.floor < 0:
            lowest = lines.start[:, 2] + lines.depth * lines.axis[:, 2] - lines.r * cosine
            return np.column_stack([lowest, lines.start[:, 2] + tip * lines.axis[:, 2]]) - target.low
        highest = lines.start[:, 2] + lines.depth * lines.axis[:, 2] + lines.r * cosine
        return np.asarray(
            target.high - np.column_stack([highest, lines.start[:, 2] + tip * lines.axis[:, 2]])
        )

    def _way(self, lines: Lines, slope: Floats) -> Floats:
        """Whether the target's wall is the first it meets, and every pocket on the way is crossed inside its walls."""
        heading = lines.axis[:, :2] / slope[:, np.newaxis]
        run = lines.length * slope
        found = [np.full((len(run), 1), _FAR)]
        found += [_only_at_end(ring, lines, heading, run)[:, np.newaxis] for ring in self.bent]
        if self.problem.start == "face":
            # Its mouth lies beside the target, not over it.
            inside = _inside(self.target, lines.start[:, :2])
            long = lines.r / np.maximum(np.abs(lines.axis[:, 2]), 1e-6)
            gap = _stretched(self.target, lines.start[:, :2], heading, long, lines.r)
            found.append(np.where(inside, -1.0 - gap, (gap - 1) * lines.r)[:, np.newaxis])
        found += [self._through(ring, hollow, lines, slope) for ring, hollow in self.through]
        return np.column_stack(found)

    def _through(self, ring: Floats, hollow: Hollow, lines: Lines, slope: Floats) -> Floats:
        """How well a way crosses a pocket between its start and its end: between its sides, over its floor."""
        run = lines.length * slope
        u, v = _along(ring, lines.start, lines.axis[:, :2] / slope[:, np.newaxis])
        wide = lines.r + lines.drift * lines.length + self.problem.wants.window
        drop = lines.axis[:, 2] / slope
        heights = [lines.start[:, 2] + np.clip(x, 0, run) * drop for x in (u.min(axis=1), u.max(axis=1))]
        return np.column_stack(
            [
                v.max(axis=1) - wide,
                -v.min(axis=1) - wide,
                u.min(axis=1),
                run - u.max(axis=1),
                *(z - wide / slope - hollow.low for z in heights),
                *(hollow.high - z - wide / slope for z in heights),
            ]
        )


class _Walls:
    """Straight stretches of wall in arrays."""

    def __init__(self, walls: tuple[Wall, ...]) -> None:
        self.a = np.array([w.a for w in walls]).reshape(-1, 2)
        self.b = np.array([w.b for w in walls]).reshape(-1, 2)
        self.low, self.high = np.array([w.low for w in walls]), np.array([w.high for w in walls])
        run = self.b - self.a
        self.length = _hypot(run[:, 0], run[:, 1])
        self.way = run / np.maximum(self.length, 1e-12)[:, np.newaxis]
        self.left = np.column_stack([-self.way[:, 1], self.way[:, 0], np.zeros(len(run))])

    def ranges(self, wall: Ints, low: Floats, high: Floats) -> None:
        low[:, 1], high[:, 0], high[:, 1] = self.low[wall], self.length[wall], self.high[wall]

    def places(self, wall: Ints, at: Floats) -> tuple[Floats, Floats]:
        """The places at these distances along the walls and heights, and the walls' left-hand normals."""
        flat = self.a[wall] + at[:, :1] * self.way[wall]
        return np.column_stack([flat, at[:, 1]]), self.left[wall]

    def window(self, wall: Ints, place: Floats, axis: Floats, r: Floats) -> Floats:
        """Wall left round each mouth on its four sides: the mouth is the ellipse in which a round bit leaves a plane."""
        left, way = self.left[wall], self.way[wall]
        sine = np.maximum(np.abs((axis * left).sum(axis=1)), 1e-3)
        level = (axis[:, :2] * way).sum(axis=1)
        half_along, half_up = r * np.sqrt(1 + (level / sine) ** 2), r * np.sqrt(1 + (axis[:, 2] / sine) ** 2)
        along = ((place[:, :2] - self.a[wall]) * way).sum(axis=1)
        return np.column_stack(
            [
                along - half_along,
                self.length[wall] - along - half_along,
                self.high[wall] - place[:, 2] - half_up,
                place[:, 2] - self.low[wall] - half_up,
            ]
        )


def _along(points: Floats, start: Floats, way: Floats) -> tuple[Floats, Floats]:
    """Points of the plan measured along each way from each start, and to its left, (n, points) each."""
    dx, dy = points[:, 0] - start[:, :1], points[:, 1] - start[:, 1:2]
    return dx * way[:, :1] + dy * way[:, 1:2], dy * way[:, :1] - dx * way[:, 1:2]


def _furthest(ring: Floats, start: Floats, way: Floats, half: float) -> Floats:
    """How far along each way a strip of this half width last meets the region inside a ring."""
    u, v = _along(ring, start, way)
    ub, vb = np.roll(u, -1, axis=1), np.roll(v, -1, axis=1)
    best = np.where(np.abs(v) <= half, u, -np.inf)
    run = np.where(np.abs(vb - v) > 1e-12, vb - v, 1e-12)
    for side in (-half, half):
        share = (side - v) / run
        at = np.where((share >= 0) & (share <= 1), u + share * (ub - u), -np.inf)
        best = np.maximum(best, at)
    return np.asarray(np.maximum(best.max(axis=1), 0.0))


def _around(ring: Floats, place: Floats, heading: Floats, long: Floats, wide: Floats) -> Floats:
    """How far a ring reaches beyond an ellipse, side by side, (n, sides); below 0 where it does not hold it.

    Exact for a convex ring. For another one the plan is drawn together until the ellipse is a circle of its half
    width, which makes distances along the ellipse look smaller than they are.
    """
    run = np.roll(ring, -1, axis=0) - ring
    out = np.column_stack([run[:, 1], -run[:, 0]]) / _hypot(run[:, 0], run[:, 1])[:, np.newaxis]
    turn = run[:, 0] * np.roll(run[:, 1], -1) - run[:, 1] * np.roll(run[:, 0], -1)
    if (turn >= -1e-9).all():
        x, y = out.T
        gap = (ring * out).sum(axis=1) - (place[:, :1] * x + place[:, 1:2] * y)
        level = heading[:, :1] * x + heading[:, 1:2] * y
        aside = heading[:, :1] * y - heading[:, 1:2] * x
        return np.asarray(gap - _hypot(long[:, np.newaxis] * level, wide[:, np.newaxis] * aside))
    gap = _stretched(ring, place, heading, long, wide)
    return np.where(_inside(ring, place), (gap - 1) * wide, -wide - gap)[:, np.newaxis]


def _stretched(ring: Floats, place: Floats, heading: Floats, long: Floats, wide: Floats) -> Floats:
    """Distance of each place from a ring, in a plan drawn together so that the ellipse round it becomes the unit circle."""
    u, v = _along(ring, np.column_stack([place, np.zeros(len(place))]), heading)
    u, v = u / long[:, np.newaxis], v / wide[:, np.newaxis]
    du, dv = np.roll(u, -1, axis=1) - u, np.roll(v, -1, axis=1) - v
    share = np.clip(-(u * du + v * dv) / np.maximum(du**2 + dv**2, 1e-18), 0.0, 1.0)
    return np.asarray(np.sqrt((u + share * du) ** 2 + (v + share * dv) ** 2).min(axis=1))


def _inside(ring: Floats, place: Floats) -> Bools:
    x, y = place[:, :1], place[:, 1:2]
    xa, ya = ring[:, 0], ring[:, 1]
    xb, yb = np.roll(xa, -1), np.roll(ya, -1)
    rise = np.where(yb != ya, yb - ya, 1.0)
    crossing = ((ya > y) != (yb > y)) & (x < xa + (y - ya) / rise * (xb - xa))
    return np.asarray(crossing.sum(axis=1) % 2 == 1)


def _only_at_end(ring: Floats, lines: Lines, heading: Floats, run: Floats) -> Floats:
    """Over 0 where a ring is not met between the start and the end of each way."""
    u, v = _along(ring, lines.start, heading)
    ub, vb = np.roll(u, -1, axis=1), np.roll(v, -1, axis=1)
    crossing = (v > 0) != (vb > 0)
    at = u - v * (ub - u) / np.where(vb != v, vb - v, 1.0)
    between = crossing & (at > 1e-3) & (at < run[:, np.newaxis] - 1e-3)
    return np.where(between.any(axis=1), -10.0, _FAR)


def _hypot(x: Floats, y: Floats) -> Floats:
    """The length of level ways: roots are the same on every processor, `numpy.hypot` is not."""
    return np.asarray(np.sqrt(x * x + y * y))


def _cross(a: Floats, b: Floats) -> Floats:
    """The cross product of rows."""
    (ax, ay, az), (bx, by, bz) = a.T, b.T
    return np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx], axis=1)


# Kept from one search to the next: most of them look at the same pockets. What is made is never written to.


@lru_cache(maxsize=64)
def _drawn(ring: tuple[tuple[float, float], ...]) -> Floats:
    """A ring without the corners that hardly bend it."""
    import shapely

    return np.asarray(shapely.get_coordinates(shapely.Polygon(ring).simplify(0.02).exterior)[:-1])


@lru_cache(maxsize=64)
def _chords(edges: tuple[tuple[XY, XY], ...]) -> Floats:
    """Edges with those that run on from one another all but straight taken as one, within 0.02 mm, (edges, 2, 2)."""
    import shapely

    if not edges:
        return np.zeros((0, 2, 2))
    lines = shapely.get_parts(shapely.line_merge(shapely.MultiLineString(edges)))
    found = [np.zeros((0, 2, 2))]
    for line in shapely.simplify(lines, 0.02):
        at = shapely.get_coordinates(line)
        found.append(np.stack([at[:-1], at[1:]], axis=1))
    return np.concatenate(found)


def _is_convex(ring: Floats) -> bool:
    run = np.roll(ring, -1, axis=0) - ring
    turn = run[:, 0] * np.roll(run[:, 1], -1) - run[:, 1] * np.roll(run[:, 0], -1)
    return bool((turn >= -1e-9).all() or (turn <= 1e-9).all())


@lru_cache(maxsize=16)
def _shore(outline: tuple[tuple[float, float], ...]) -> Floats:
    """A ring that the outline does not leave, and with which it all but agrees."""
    import shapely

    ring = shapely.Polygon(outline)
    if len(outline) > SHORE:
        ring = shapely.Polygon(ring.simplify(0.5).buffer(0.5, quad_segs=1, join_style="mitre").exterior)
    return np.asarray(shapely.get_coordinates(ring)[:-1])
