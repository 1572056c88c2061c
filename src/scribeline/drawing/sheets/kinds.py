"""A section at full size through each kind of hole, cut from the finished body itself: one of a kind, not every hole.

The strings' holes and their ferrules have a section of their own (`sections`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from math import atan2, degrees, hypot
from typing import TYPE_CHECKING, Any

from scribeline.drawing.extent import bounds
from scribeline.drawing.face import text_width
from scribeline.drawing.marks import Piece, balloon, balloon_radius, paragraph
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    PHANTOM,
    THIN,
    Arc,
    Item,
    Line,
    Path,
    Point,
    Text,
)
from scribeline.drawing.sheets.cutting import Paper, break_line, hatched, scale_words, wood_in
from scribeline.drawing.sheets.depths import SHORT
from scribeline.drawing.sheets.figures import joined_roles, measured
from scribeline.drawing.sheets.office import STANDARD_SCALES, Office, Page, full_size_bar
from scribeline.features import Bore, Step, alike, runs, slope_deg
from scribeline.layout import Point as Place
from scribeline.lengths import both_units
from scribeline.plan import Plan
from scribeline.solid import Outside, Web
from scribeline.steps import balloon as hole_number

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

SHOWN_ELSEWHERE = ("string-hole", "ferrule-hole")

_LEVEL = 0.05
"""Sine of the angle to the faces under which a hole from the edge is said to be level."""
_BESIDE = 11.0
"""Wood shown on each side of an upright hole, mm."""
_WORDS = 51.0
"""Width of the words beside a section, mm."""
_TIER = 13.0
"""Pitch of dimension lines, mm."""
_GAP = 5.0
"""Between two sections, mm."""
_ARC = 9.0
"""Radius of the arc that marks an angle, mm."""


@dataclass(frozen=True, slots=True)
class Kind:
    """Holes that are alike but for their place.

    Attributes:
        bores: all of them.
        shown: the one that is cut: of the least wood left beyond it.
        left: that wood in the finished body, mm; None where it comes out.
    """

    bores: tuple[Bore, ...]
    shown: Bore
    left: float | None = None


def kinds(plan: Plan) -> list[Kind]:
    """Every kind of hole that has no section elsewhere, in the order of the holes.

    Holes of several groups are one kind where their sections would be the same.
    """
    left = {name: wood for name, wood in plan.floors.items() if wood is not None}
    found: dict[tuple[object, ...], list[Bore]] = {}
    for bores in alike(plan.features, plan.layout):
        first = bores[0]
        if first.family not in SHOWN_ELSEWHERE:
            sizes = tuple((round(step.diameter, 2), round(step.depth, 1)) for step in first.steps)
            cut = (first.face, first.entered_from, first.through, sizes, round(slope_deg(first), 1))
            floor = round(min(left.get(bore.id, 0.0) for bore in bores), 1)
            screw, over = first.screw, round(first.at.z, 1)
            driven = None if screw is None else (screw.thread, round(screw.reach, 1))
            found.setdefault((*cut, driven, floor, over), []).extend(bores)
    shown = [(tuple(bores), min(bores, key=lambda bore: left.get(bore.id, 0.0))) for bores in found.values()]
    return [Kind(bores, bore, left.get(bore.id)) for bores, bore in shown]


def kind_pages(office: Office) -> list[Page]:
    """Sections side by side, as many on a page as it holds; none where there is no hole to show."""
    from scribeline.solid.faults import BodyError

    plan = office.plan
    shown = kinds(plan)
    if not shown:
        return []
    try:
        body = office.body
    except BodyError:
        return []
    panels = [_Section(plan, kind, body).panel(office) for kind in shown]
    screws = any(kind.shown.screw is not None for kind in shown)
    scales = sorted({panel.scale for panel in panels}, reverse=True)
    return [
        page for scale in scales for page in _pages(office, [p for p in panels if p.scale == scale], screws)
    ]


@dataclass(frozen=True, slots=True)
class _Panel:
    """One section drawn: its left at 0, the top of the wood at 0."""

    items: tuple[Item, ...]
    width: float
    above: float
    below: float
    scale: float


def _pages(office: Office, panels: Sequence[_Panel], screws: bool) -> list[Page]:
    """Panels of one scale in rows, the wood of a row on one level."""
    left, bottom, right, top = office.window
    scale = panels[0].scale
    full = scale == 1.0
    foot = bottom + 10.0
    rows: list[list[_Panel]] = []
    for panel in panels:
        room = right - left - panel.width
        row = next((row for row in rows if sum(p.width + _GAP for p in row) <= room), None)
        if row is None:
            rows.append([panel])
        else:
            row.append(panel)
    pages: list[list[Item]] = [[]]
    v = top
    for row in rows:
        above, below = max(p.above for p in row), max(p.below for p in row)
        if pages[-1] and v - above - below < foot:
            pages.append([])
            v = top
        u = left
        for panel in row:
            pages[-1] += placed(panel.items, Transform(offset=(u, v - above)))
            u += panel.width + _GAP
        v -= above + below + _GAP
    at_foot: list[Item] = [*full_size_bar(office)] if full else []
    words = "Depths are along the bit; floors and webs with a long or slanting bit's drift taken off."
    if screws:
        words += " Long dashes with two dots: the screw in place."
    at = (left + 112.0, bottom + 8.5) if full else (left, bottom + 8.5)
    at_foot += paragraph(words, at, right - at[0], height=LEAST_LETTERING).items
    return [
        Page("Sections through the holes", (*items, *at_foot), "section from the side", scale_words(scale))
        for items in pages
    ]


@dataclass(frozen=True)
class _Section:
    """One section being drawn: along the hole's heading, upright, its mouth's axis at (0, z of the mouth)."""

    plan: Plan
    kind: Kind
    body: Any

    @property
    def bore(self) -> Bore:
        return self.kind.shown

    @property
    def heading(self) -> tuple[float, float]:
        """The axis in the section's plane: along, up."""
        bore = self.bore
        return hypot(bore.axis.x, bore.axis.y), bore.axis.z

    def on_axis(self, depth: float) -> Point:
        along, up = self.heading
        return (along * depth, self.bore.at.z + up * depth)

    def reach(self) -> tuple[float, float]:
        """How far the section is shown: from, to, along the heading, mm."""
        bore = self.bore
        tip, shoulder = self.on_axis(bore.deepest.point_reaches)[0], self.on_axis(bore.deepest.depth)[0]
        half = bore.widest / 2
        if bore.is_upright:
            return -half - _BESIDE, half + _BESIDE
        if abs(self.heading[1]) < _LEVEL:
            return -3.0, tip + _BESIDE
        mouth = half / bore.angle_from_face_sine
        return -mouth - 1.5 * _BESIDE, max(tip, shoulder + half) + _BESIDE

    def wood(self) -> BaseGeometry:
        """The finished body in the plane; heights are the instrument's."""
        from scribeline.solid.body import lengthwise

        return wood_in(self.body, lengthwise(self.bore))

    def panel(self, office: Office) -> _Panel:
        """The section with its numbers and, beside it, its words, at the largest scale at which the page holds it."""
        left, _, right, _ = office.window
        for _, scale in STANDARD_SCALES:
            items = self.drawn(scale)
            box = bounds(items)
            if box is not None and box[2] - box[0] <= right - left:
                break
        assert box is not None
        shifted = placed(items, Transform(offset=(-box[0], 0.0)))
        return _Panel(shifted, box[2] - box[0], box[3], -box[1], scale)

    def drawn(self, scale: float) -> tuple[Item, ...]:
        low, high = self.reach()
        paper = Paper(0.0, 0.0, scale, low, high)
        items = [
            *hatched(self.wood(), paper, self.plan.layout.body),
            *self.breaks(paper),
            *self.hole(paper),
            *(self.level_numbers(paper) if self.is_level else self.numbers(paper)),
        ]
        beside = paper.at(high, 0)[0] + 4.5 + _TIER * self.tiers()
        box = bounds(items)
        assert box is not None
        if self.is_level:
            return (*items, *self.words((max(beside, box[2] + 3.0), box[3])).items)
        return (*items, *self.words((beside, 0.0)).items)

    @property
    def is_level(self) -> bool:
        return abs(self.heading[1]) < _LEVEL

    def tiers(self) -> int:
        """How many upright dimension lines stand to the right of it."""
        steps = len(self.deep_steps) if self.bore.is_upright else 0
        return steps + (self.floor() is not None)

    def breaks(self, paper: Paper) -> Iterator[Path]:
        """Where the wood goes on beyond what is shown."""
        import shapely

        wood = self.wood()
        for x in (paper.low, paper.high):
            if shapely.intersects(wood, shapely.box(x - 0.01, -1e3, x + 0.01, 1e3)):
                yield break_line(paper, x, self.plan.layout.thickness)

    def hole(self, paper: Paper) -> Iterator[Item]:
        """Its axis, the edges seen behind the cut, the screw that goes into it, and the mark of its angle."""
        bore = self.bore
        end = bore.deepest.point_reaches
        yield Line(CENTRE, paper.at(*self.on_axis(-4.0)), paper.at(*self.on_axis(end + 4.0)), bore.id)
        for step in self.steps[:-1]:
            a, b = self.across(step.depth, step.diameter / 2)
            yield Line(OUTLINE, paper.at(*a), paper.at(*b), bore.id)
        if bore.screw is not None:
            yield Path(PHANTOM, paper.loop(self.screw()), ref=bore.id)
        if not bore.is_upright and not self.is_level:
            yield from self.angle(paper)

    def across(self, depth: float, half: float) -> tuple[Point, Point]:
        """Two places square to the axis."""
        (x, z), (along, up) = self.on_axis(depth), self.heading
        return (x - up * half, z + along * half), (x + up * half, z - along * half)

    def screw(self) -> list[Point]:
        """The screw's thread and point as driven."""
        screw = self.bore.screw
        assert screw is not None
        half = screw.thread / 2
        (a, b), (c, d) = (
            self.across(0.0, half),
            self.across(screw.reach - min(screw.thread, screw.reach), half),
        )
        return [a, c, self.on_axis(screw.reach), d, b]

    def angle(self, paper: Paper) -> Iterator[Item]:
        """An arc between the face and the axis, outside the wood where there is none to cross."""
        along, up = self.heading
        inward = degrees(atan2(up, along))
        face, axis = 180.0, inward + 180.0
        start, end = sorted((face, axis % 360.0))
        centre = paper.at(0.0, self.bore.at.z)
        yield Line(
            THIN, centre, (centre[0] - (_ARC + 3.0) * along, centre[1] - (_ARC + 3.0) * up), self.bore.id
        )
        yield Arc(THIN, centre, _ARC, start, end, self.bore.id)
        rise = 1.2 if up < 0 else -1.2 - ACTED_ON_LETTERING
        at = (centre[0] - _ARC - 2.0, centre[1] + rise)
        words = f"{slope_deg(self.bore):.1f}°"
        yield Text(LETTERING, at, words, ACTED_ON_LETTERING, "end", ref=self.bore.id)

    def numbers(self, paper: Paper) -> Iterator[Item]:
        """Depths from the face it is cut from, and the floor left under its point, to the right."""
        bore = self.bore
        face, edge = bore.at.z, paper.at(paper.high, 0.0)[0]
        down = bore.axis.z < 0
        if bore.is_upright:
            for n, step in enumerate(self.deep_steps):
                half, z = step.diameter / 2, self.on_axis(step.depth)[1]
                a, b = paper.at(half, face), paper.at(half, z)
                at = (edge + 9.5 + _TIER * n, 0.0)
                # Lettering that does not fit goes to where the wood is.
                yield measured(a, b, at, abs(z - face), "y", ref=bore.id, start=down, unit=self.plan.unit)
        if self.floor() is not None:
            x, z = self.lowest()
            far = self.far_face(x)
            at = (edge + 9.5 + _TIER * (self.tiers() - 1), 0.0)
            yield measured(
                paper.at(x, z),
                paper.at(paper.high, far),
                at,
                abs(z - far),
                "y",
                ref=bore.id,
                start=not down,
                unit=self.plan.unit,
            )

    def floor(self) -> float | None:
        """Wood left beyond an upright one, where it can be drawn: not through, and with nothing open below."""
        bore = self.bore
        x, z = self.lowest()
        far = self.far_face(x)
        left = (z - far) if bore.axis.z < 0 else (far - z)
        told = self.kind.left
        if bore.through or not bore.is_upright or left <= 0.01 or told is None or abs(told - left) > 0.005:
            return None
        return left

    def lowest(self) -> Point:
        """The place of the hole nearest the face it runs towards."""
        bore = self.bore
        down = -1.0 if bore.axis.z < 0 else 1.0
        places = [self.on_axis(bore.deepest.point_reaches)]
        for step in bore.steps:
            places += self.across(step.depth, step.diameter / 2)
        return max(places, key=lambda p: down * p[1])

    def far_face(self, along: float) -> float:
        """Height of the face the hole runs towards, beyond its end."""
        bore, layout = self.bore, self.plan.layout
        length = hypot(bore.axis.x, bore.axis.y) or 1.0
        place = Place(bore.at.x + along * bore.axis.x / length, bore.at.y + along * bore.axis.y / length)
        return layout.back_at(place) if bore.axis.z < 0 else layout.top_at(place)

    def level_numbers(self, paper: Paper) -> Iterator[Item]:
        """From the edge: depths along the hole, over the wood and clear of its break line."""
        bore, layout = self.bore, self.plan.layout
        above = paper.at(0.0, layout.top_at(Place(bore.at.x, bore.at.y)))[1]
        for n, step in enumerate(self.steps):
            b = paper.at(step.depth, bore.at.z + step.diameter / 2)
            a = paper.at(0.0, bore.at.z + step.diameter / 2)
            yield measured(
                a, b, (0.0, above + 8.5 + 9.0 * n), step.depth, "x", ref=bore.id, unit=self.plan.unit
            )

    def over_and_under(self) -> Iterator[tuple[float, str]]:
        """The least wood between a level hole and the faces, a long bit's drift taken off."""
        told = self.told
        if told is None or told.to_top is None or told.to_back is None:
            return
        over, under = told.to_top, told.to_back
        if abs(over - under) < 0.005:
            yield over, "over and under it"
        else:
            yield over, "over it"
            yield under, "under it"

    def words(self, at: Point) -> Piece:
        """Which holes these are, their size, and the least wood beside them; with a balloon on the one that is cut."""
        bores, bore = self.kind.bores, self.bore
        number = hole_number(bore.id)
        radius = balloon_radius(number)
        if len(number) > SHORT:
            radius = 0.0  # a name, not a number: the role below says it
        items: list[Item] = list(balloon((at[0] + radius, at[1] - radius), number)) if radius else []
        if len(bores) > 1:
            base = (at[0] + 2 * radius + 2.0, at[1] - radius - ACTED_ON_LETTERING / 2)
            items.append(
                Text(LETTERING, base, f"as {runs([hole_number(b.id) for b in bores])}", ACTED_ON_LETTERING)
            )
        y = at[1] - 2 * radius - 1.5
        for text, small in self.lines():
            piece = paragraph(text, (at[0], y), _WORDS, bold=text == self.role)
            items += piece.items
            beside = at[0] + text_width(text, ACTED_ON_LETTERING) + 1.5
            if small and beside + text_width(small, LEAST_LETTERING) <= at[0] + _WORDS:
                items.append(Text(LETTERING, (beside, y - ACTED_ON_LETTERING), small, LEAST_LETTERING))
            elif small:
                y -= piece.height + 0.3
                piece = paragraph(small, (at[0], y), _WORDS, height=LEAST_LETTERING)
                items += piece.items
            y -= piece.height + 1.0
        return Piece(tuple(items), _WORDS, at[1] - y)

    @property
    def role(self) -> str:
        """What they are."""
        return joined_roles(bore.role for bore in self.kind.bores)

    def lines(self) -> Iterator[tuple[str, str]]:
        """Each with its second unit."""
        bore, told = self.bore, self.told
        pockets = {pocket.id: pocket.role for pocket in self.plan.features.pockets}
        start = f"drilled through the {pockets[bore.entered_from]}" if bore.entered_from in pockets else ""
        yield self.role, (start or f"cut from the {bore.face}") + (", right through" if bore.through else "")
        for step in self.steps:
            mm, inches = both_units(step.diameter, self.plan.unit)
            yield f"Ø {mm}", inches
        if not bore.is_upright and not self.is_level:
            mm, inches = both_units(bore.deepest.depth, self.plan.unit)
            yield f"{mm} deep", inches
            if told is not None and not bore.through:
                mm, inches = both_units(told.to_opposite, self.plan.unit)
                yield f"{mm} to a face" if start else f"floor {mm}", inches
        if self.is_level:
            for wood, where in self.over_and_under():
                mm, inches = both_units(wood, self.plan.unit)
                yield f"{mm} {where}", inches
        web = self.least_web()
        if web is not None:
            mm, inches = both_units(web.mm, self.plan.unit)
            other = web.b if web.a in {b.id for b in self.kind.bores} else web.a
            yield f"web {mm} to {pockets.get(other) or hole_number(other)}", inches

    @property
    def told(self) -> Outside | None:
        """How close it comes to the outside."""
        return next((o for o in self.plan.outside if o.feature == self.bore.id), None)

    @property
    def steps(self) -> list[Step]:
        """Its diameters, each with how deep it goes."""
        steps = self.bore.steps
        return [
            step
            for step, following in zip_longest(steps, steps[1:])
            if following is None or following.diameter != step.diameter
        ]

    @property
    def deep_steps(self) -> list[Step]:
        """Those with a depth to measure; a countersink is at its full diameter at the face alone."""
        return [step for step in self.steps if step.depth > 0]

    def least_web(self) -> Web | None:
        """The thinnest wood between any of them and another cut that is not meant to meet it."""
        names = {bore.id for bore in self.kind.bores}
        webs = [web for web in self.plan.webs if (web.a in names) != (web.b in names) and not web.on_purpose]
        return min(webs, key=lambda web: web.mm, default=None)
