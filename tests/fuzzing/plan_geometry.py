"""Whether an accepted plan can be cut: asked of `plan.json` alone, with none of the project's own geometry.

What is held: every number is one; a cut begins on its face and inside the outline; it ends in the wood unless it is meant
to come out, and then it does come out; cuts that are not meant to meet do not; the neck pocket has wood on both sides; a
cover lies over its cavity and its screws in wood; the bridge plate lies over its holes and the saddles' travel over the
saddles; a string hole meets its ferrule's hole. What was cut already (`made`) stands where it was cut, and is only held
to be in the wood.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from itertools import pairwise
from math import hypot, isfinite, sqrt
from typing import Any

import numpy as np
import shapely

Record = Mapping[str, Any]

HAIR = 0.02
"""mm: a fifth of what a shop can see; numbers of the record are rounded to a hundred-thousandth, outlines to short chords."""

LEVEL = 1.0
"""mm: how far from the wood a hole may begin that lies under the bridge's plate, which bridges ground that is a little uneven."""

_ALONG = 24
"""Places looked at along a hole."""


def faults_of(plan: Record) -> list[str]:
    """What is wrong with a plan that nothing stops; none when it can be cut."""
    bad = list(_numbers(plan, ""))
    return bad or list(_Cuts(plan).faults())


def _numbers(value: Any, where: str) -> Iterator[str]:
    if isinstance(value, float) and not isfinite(value):
        yield f"{where} is {value}"
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            yield from _numbers(inner, f"{where}.{key}")
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from _numbers(inner, f"{where}[{number}]")


class Wood:
    """The body before anything is cut: its outline and the heights of its two faces."""

    def __init__(self, body: Record) -> None:
        self.thickness = float(body["thickness"])
        self.area = shapely.Polygon(body["outline"])
        shapely.prepare(self.area)
        self.edge = self.area.exterior
        self.form = body["form"]

    def face(self, face: str, x: float, y: float, *, rounded: bool = True) -> float:
        """Height of the top or the back at a place; as it is before its edge is rounded, where asked for."""
        height = self._top(x, y) if face == "top" else -self.thickness
        up = 1.0 if face == "top" else -1.0
        for bevel in self.form["bevels"]:
            if bevel["face"] == face and any(
                shapely.Polygon(part).covers(shapely.Point(x, y)) for part in bevel["parts"]
            ):
                (px, py, pz), (nx, ny, nz) = bevel["at"], bevel["outward"]
                plane = pz - (nx * (x - px) + ny * (y - py)) / nz
                height = up * min(up * height, up * plane)
        radius = self.form["round_top" if face == "top" else "round_back"]
        if radius and rounded:
            short = max(0.0, radius - self.inset(x, y))
            height -= up * (radius - sqrt(radius**2 - short**2))
        return float(height)

    def _top(self, x: float, y: float) -> float:
        form = self.form
        if form["profile"]:
            rows = np.array(form["profile"])
            return float(np.interp(self.inset(x, y), rows[:, 0], rows[:, 1]))
        if form["contours"]:  # between its lines; the highest is the one that forgives
            return float(max(line["height"] for line in form["contours"]))
        heights = [
            a["height"] for a in form["areas"] if shapely.Polygon(a["outline"]).covers(shapely.Point(x, y))
        ]
        return float(heights[-1]) if heights else 0.0

    def inset(self, x: float, y: float) -> float:
        """Distance in from the edge; 0 outside."""
        spot = shapely.Point(x, y)
        return float(self.edge.distance(spot)) if self.area.covers(spot) else 0.0


class _Bore:
    """A hole of the record."""

    def __init__(self, record: Record) -> None:
        self.record, self.id, self.face = record, str(record["id"]), str(record["face"])
        self.at, self.axis = np.array(record["at"], float), np.array(record["axis"], float)
        self.steps = [(float(step["diameter"]), float(step["depth"])) for step in record["steps"]]
        self.meets = set(record["meets"])
        self.through = bool(record["through"])

    @property
    def upright(self) -> bool:
        return bool(abs(abs(self.axis[2]) - 1.0) < 1e-6)

    def along(self, depth: float) -> Any:
        return self.at + depth * self.axis

    def rim(self, depth: float, diameter: float) -> Any:
        """Places round its wall at a depth, shape (16, 3)."""
        side = np.array([-self.axis[1], self.axis[0], 0.0])
        side = side / np.linalg.norm(side) if np.linalg.norm(side) > 1e-9 else np.array([1.0, 0.0, 0.0])
        other = np.cross(self.axis, side)
        turns = np.linspace(0, 2 * np.pi, 16, endpoint=False)[:, None]
        return self.along(depth) + diameter / 2 * (np.cos(turns) * side + np.sin(turns) * other)


class _Pocket:
    """A pocket of the record."""

    def __init__(self, record: Record, thickness: float) -> None:
        self.record, self.id, self.face = record, str(record["id"]), str(record["face"])
        self.area = shapely.Polygon(record["outline"], record["islands"])
        self.depth = float(record["depth"])
        self.floor = -self.depth if self.face == "top" else self.depth - thickness
        self.meets = set(record["meets"])
        self.is_neck = self.id == "neck-pocket"

    def holds(self, x: float, y: float) -> bool:
        return bool(self.area.covers(shapely.Point(x, y)))


class _Cuts:
    """All there is to cut."""

    def __init__(self, plan: Record) -> None:
        self.plan = plan
        self.wood = Wood(plan["body"])
        self.bores = [_Bore(each) for each in plan["bores"]]
        self.pockets = [_Pocket(each, self.wood.thickness) for each in plan["pockets"]]
        self.made = set(plan["made"])

    @cached_property
    def pocket(self) -> dict[str, _Pocket]:
        return {each.id: each for each in self.pockets}

    def faults(self) -> Iterator[str]:
        for bore in self.bores:
            yield from (f"{bore.id} {words}" for words in self._bore(bore))
        for pocket in self.pockets:
            yield from (f"{pocket.id} {words}" for words in self._pocket(pocket))
        yield from self._together()
        yield from self._cheeks()
        yield from self._covers()
        yield from self._bridge()
        yield from self._strings()
        yield from self._worked()

    # Holes

    def _bore(self, bore: _Bore) -> Iterator[str]:
        wide, deep = [d for d, _ in bore.steps], [t for _, t in bore.steps]
        # A countersink's cone has no length at its full diameter.
        least = 0.0 if "countersink" in str(bore.record["steps"][0]["bit"]) else 1e-9
        if min(wide) <= 0 or min(deep) < least or sorted(wide, reverse=True) != wide or sorted(deep) != deep:
            yield f"has steps {bore.steps}, not widest first and ever deeper"
            return
        if abs(np.linalg.norm(bore.axis) - 1.0) > 1e-4:
            yield "has an axis that is no unit vector"
        if bore.face in {"top", "back"}:
            yield from self._from_a_face(bore)
        else:
            yield from self._from_a_wall(bore)

    def _from_a_face(self, bore: _Bore) -> Iterator[str]:
        wood, (x, y, z) = self.wood, bore.at
        if not wood.area.covers(shapely.Point(x, y).buffer(bore.steps[0][0] / 2 - HAIR)):
            yield f"begins outside the body or over its edge, at ({x:.2f}, {y:.2f})"
            return
        if bore.id not in self.made:
            floors = [p.floor for p in self.pockets if p.face == bore.face and p.holds(x, y)]
            off = min(abs(z - each) for each in (wood.face(bore.face, x, y), *floors))
            under_plate = bore.id.startswith(("string-hole-", "ground-wire"))
            if off > (LEVEL if under_plate else HAIR):
                yield f"begins at z {z:.3f}, on no surface: the face lies at {wood.face(bore.face, x, y):.3f}"
        down = -1.0 if bore.face == "top" else 1.0
        if bore.axis[2] * down <= 0:
            yield "runs out of the wood and not into it"
            return
        other = "back" if bore.face == "top" else "top"
        diameter, depth = bore.steps[-1]
        point = float(bore.record["depth_stop"])
        ends = [*bore.rim(depth, diameter), bore.along(depth)]
        beyond = [down * (place[2] - wood.face(other, place[0], place[1])) for place in ends]
        if bore.through:
            roofs = [
                self.pocket[name]
                for name in bore.meets
                if name in self.pocket and self.pocket[name].face == other
            ]
            tip = bore.along(depth)
            past = [down * (tip[2] - roof.floor) for roof in roofs if roof.holds(tip[0], tip[1])]
            if max([min(beyond), *past]) < -HAIR:
                yield f"is to go through and ends {-max([min(beyond), *past]):.2f} mm before it does"
            for wide, deep in bore.steps[:-1]:
                out = max(down * (p[2] - wood.face(other, p[0], p[1])) for p in bore.rim(deep, wide))
                if out > HAIR:
                    yield f"its step of {wide:.2f} mm comes out of the other side by {out:.2f} mm"
        else:
            tip = bore.along(point)
            out = max(*beyond, down * (tip[2] - wood.face(other, tip[0], tip[1])))
            if out > HAIR:
                yield f"comes out of the other side by {out:.2f} mm, and is not meant to"
        if not bore.upright and not all(
            wood.area.covers(shapely.Point(*bore.along(t)[:2])) for t in np.linspace(0, depth, _ALONG)
        ):
            yield "comes out of the body's edge"

    def _from_a_wall(self, bore: _Bore) -> Iterator[str]:
        wood, at = self.wood, bore.at
        depth = bore.steps[-1][1]
        source = self.pocket.get(str(bore.record["entered_from"]))
        wall = wood.edge if bore.face == "edge" else source.area.boundary if source is not None else None
        if wall is None:
            yield "is drilled from a pocket that there is none of"
            return
        if bore.id not in self.made and wall.distance(shapely.Point(at[:2])) > HAIR:
            yield f"begins {wall.distance(shapely.Point(at[:2])):.2f} mm from the wall it is drilled into"
        if (
            source is not None
            and not min(source.floor, self._face_of(source, at)) - HAIR
            <= at[2]
            <= max(source.floor, self._face_of(source, at)) + HAIR
        ):
            yield f"begins at z {at[2]:.2f}, above or below the pocket it is drilled from"
        told = {"edge.rim-on-rounding"} & {
            each["code"] for each in self.plan["findings"] if bore.id in each["features"]
        }
        # One that was read off the edge begins where the reading has it.
        first = depth / 2 if bore.id in self.made else min(1.0, depth / 2)
        for t in np.linspace(first, depth, _ALONG):
            x, y, z = bore.along(t)
            if not wood.area.covers(shapely.Point(x, y)):
                yield f"leaves the body's outline {t:.1f} mm on"
                return
            diameter = next(d for d, deep in bore.steps if t <= deep + 1e-9)
            reach = diameter / 2 * sqrt(max(0.0, 1.0 - bore.axis[2] ** 2))
            inside = [p for p in self.pockets if p.id in bore.meets and p.holds(x, y)]
            if inside:
                continue  # the air of a pocket it is meant to be in
            top, back = (wood.face(face, x, y, rounded=not told) for face in ("top", "back"))
            if z + reach > top + HAIR or z - reach < back - HAIR:
                yield f"comes out of the top or the back {t:.1f} mm on"
                return

        for name in sorted(bore.meets - {str(bore.record["entered_from"])} - self.made):
            target = self.pocket.get(name)
            if target is not None and bore.id not in self.made and not self._reaches(bore, target):
                yield f"does not come as far as {name}, which it is to open into"

    def _reaches(self, bore: _Bore, pocket: _Pocket) -> bool:
        """Whether a hole's middle comes into a pocket's room."""
        for x, y, z in (bore.along(t) for t in np.linspace(0.0, bore.steps[-1][1], 8 * _ALONG)):
            low, high = sorted((pocket.floor, self.wood.face(pocket.face, x, y)))
            if pocket.holds(x, y) and low - HAIR <= z <= high + HAIR:
                return True
        return False

    def _face_of(self, pocket: _Pocket, at: Any) -> float:
        return self.wood.face(pocket.face, at[0], at[1])

    # Pockets

    def _pocket(self, pocket: _Pocket) -> Iterator[str]:
        wood = self.wood
        if (
            not pocket.area.is_valid
            and pocket.area.buffer(0).symmetric_difference(shapely.make_valid(pocket.area)).area > 1.0
        ):
            yield f"has an outline that is none: {shapely.is_valid_reason(pocket.area)}"
            return
        area = pocket.area if pocket.area.is_valid else shapely.make_valid(pocket.area)
        if area.area <= 0 or pocket.depth <= 0:
            yield "takes nothing away"
        outside = area.difference(wood.area)
        if pocket.is_neck:
            end = area.bounds[2]  # it runs out of the body at its mouth, never at its end wall
            outside = outside.intersection(shapely.box(end - 10.0, -1e4, 1e4, 1e4))
        if outside.area > 1.0:
            yield f"lies outside the body by {outside.area:.1f} mm²"
        other, down = ("back", -1.0) if pocket.face == "top" else ("top", 1.0)
        places = [
            p
            for p in shapely.get_coordinates(area)[:: max(1, len(shapely.get_coordinates(area)) // 60)]
            if wood.area.covers(shapely.Point(p))
        ]
        for x, y in [*places, area.representative_point().coords[0]]:
            out = down * (pocket.floor - wood.face(other, x, y))
            if out > -1e-6:
                yield f"goes through the body at ({x:.1f}, {y:.1f}) by {out:.2f} mm"
                return

    # Cuts and cuts

    def _solid_of(self, cut: _Bore | _Pocket) -> list[tuple[Any, float, float]]:
        """An upright cut as areas, each from a height to another."""
        if isinstance(cut, _Pocket):
            top = 50.0 if cut.face == "top" else cut.floor
            return [
                (
                    cut.area if cut.area.is_valid else shapely.make_valid(cut.area),
                    min(cut.floor, -500.0 if cut.face == "back" else cut.floor),
                    top,
                )
            ]
        made = []
        before = 0.0
        for diameter, depth in cut.steps:
            ends = sorted((cut.along(before)[2], cut.along(depth)[2]))
            made.append(
                (shapely.Point(cut.at[:2]).buffer(diameter / 2 - HAIR), ends[0] + HAIR, ends[1] - HAIR)
            )
            before = depth
        return made

    def _together(self) -> Iterator[str]:
        cuts: list[_Bore | _Pocket] = [*self.pockets, *(bore for bore in self.bores if bore.upright)]
        solids = [(cut, self._solid_of(cut)) for cut in cuts]
        boxes = [shapely.union_all([area for area, _, _ in parts]).bounds for _, parts in solids]
        tree = shapely.STRtree([shapely.box(*each) for each in boxes])
        for first, second in tree.query(tree.geometries).T:
            (a, one), (b, other) = solids[first], solids[second]
            if (
                first >= second
                or b.id in a.meets
                or a.id in b.meets
                or (a.id in self.made and b.id in self.made)
            ):
                continue
            for area, low, high in one:
                for around, under, over in other:
                    shared = min(high, over) - max(low, under)
                    if shared > HAIR and area.intersects(around) and area.intersection(around).area > 0.05:
                        yield f"{a.id} and {b.id} run into each other, which they are not meant to"
                        break
                else:
                    continue
                break

    def _worked(self) -> Iterator[str]:
        """Is every diameter and every pocket cut by one step, and by no more? One that is made need not be."""
        cut = Counter(
            (each["feature"], each["step"]) for work in self.plan["operations"] for each in work["cuts"]
        )
        for bore in self.bores:
            for step in range(1, len(bore.steps) + 1):
                if cut[bore.id, step] not in ({0, 1} if bore.id in self.made else {1}):
                    yield f"{bore.id} has its diameter {step} cut by {cut[bore.id, step]} steps"
        for pocket in self.pockets:
            if cut[pocket.id, None] != 1:
                yield f"{pocket.id} is cut by {cut[pocket.id, None]} steps"

    # The neck, covers, the bridge

    def _cheeks(self) -> Iterator[str]:
        neck = self.pocket.get("neck-pocket")
        if neck is None or neck.id in self.made:
            return
        within = neck.area.intersection(self.wood.area)
        if within.is_empty:
            yield "neck-pocket lies beside the body"
            return
        first, _, end, _ = within.bounds
        for x in np.linspace(end - 1.0, end - 0.5 * (end - first), 20):
            across = shapely.LineString([(x, -500), (x, 500)]).intersection(neck.area)
            for y in (across.bounds[1] - HAIR, across.bounds[3] + HAIR):
                if not self.wood.area.covers(shapely.Point(x, y)):
                    yield f"neck-pocket has no wood beside it at ({x:.1f}, {y:.1f})"
                    return

    def _covers(self) -> Iterator[str]:
        for recess in self.pockets:
            cavity = self.pocket.get(recess.id.removesuffix("-cover-recess"))
            if (
                not recess.id.endswith("-cover-recess")
                or cavity is None
                or {recess.id, cavity.id} & self.made
            ):
                continue
            if cavity.area.buffer(0).difference(recess.area.buffer(0)).area > 0.1:
                yield f"{recess.id} does not lie over the whole of {cavity.id}"
            if recess.face != cavity.face or recess.depth >= cavity.depth:
                yield f"{recess.id} is no recess of {cavity.id}"
            for bore in self._cover_screws(recess):
                spot = shapely.Point(bore.at[:2]).buffer(bore.steps[0][0] / 2 - HAIR)
                if spot.intersects(cavity.area) or not recess.area.covers(spot):
                    yield f"{bore.id} stands in no wood of the ledge of {recess.id}"

    def _cover_screws(self, recess: _Pocket) -> Iterator[_Bore]:
        role = str(recess.record["role"]).removesuffix(" cover recess")
        for bore in self.bores:
            if bore.id.startswith("cover-screw-") and str(bore.record["role"]) == f"{role} cover screw pilot":
                yield bore

    def _bridge(self) -> Iterator[str]:
        bridge = self.plan["bridge"]
        if bridge["footprint"] is None:
            yield "nothing stops the plan and the bridge has no place"
            return
        plate, lies = shapely.Polygon(bridge["footprint"]), bridge["plate"] is not None
        for bore in self.bores:
            under = bore.id.startswith(("bridge-screw-", "bridge-stud-")) or (
                lies
                and (bore.id.startswith("string-hole-") or (bore.id == "ground-wire" and bore.face == "top"))
            )
            # A vibrato's posts stand before the knife edges of its plate, by no more than they are wide.
            before = bridge["kind"] == "vibrato" and bore.id.startswith("bridge-stud-")
            around = plate.buffer(bore.steps[0][0] if before else HAIR)
            if under and bore.id not in self.made and not around.covers(shapely.Point(bore.at[:2])):
                yield f"{bore.id} does not lie under the bridge"
        for hole in self.bores:
            number = hole.id.removeprefix("string-hole-")
            ferrule = next(
                (b for b in self.bores if number != hole.id and b.id == f"ferrule-hole-{number}"), None
            )
            if ferrule is None or {hole.id, ferrule.id} & self.made:
                continue
            if hypot(*(hole.at - ferrule.at)[:2]) > HAIR:
                yield f"{hole.id} does not stand over {ferrule.id}"
            if hole.along(hole.steps[-1][1])[2] > ferrule.along(ferrule.steps[-1][1])[2] + HAIR:
                yield f"{hole.id} and {ferrule.id} do not meet"

    def _strings(self) -> Iterator[str]:
        strings: Sequence[Record] = self.plan["strings"]
        side = 1.0 if self.plan["job"]["handed"] == "right" else -1.0
        for name in ("nut", "saddle"):
            across = [side * each[name][1] for each in strings]
            if any(a <= b for a, b in pairwise(across)):
                yield f"the strings cross at the {name}"
        if any(each["saddle"][0] <= each["nut"][0] for each in strings):
            yield "a saddle lies before its nut"
        frets = [each["x"] for each in self.plan["frets"]]
        if any(b <= a for a, b in pairwise(frets)):
            yield "the frets are out of order"
        if any(
            min(each["slack_front"], each["slack_back"]) < -HAIR for each in self.plan["bridge"]["saddles"]
        ):
            yield "a saddle is wanted beyond its travel"
