"""What a pack may say: every number of plan.json (and of the job, where it is only stated there) by cut and kind.

Nothing of the planning code is used: what plan.json does not give as a number is worked out here by geometry.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import asin, atan2, ceil, cos, degrees, floor, hypot, pi, radians, sin, tan
from typing import Any

import numpy as np
import shapely
from tests.pack_figures import MM_PER_INCH
from tests.pack_neck_facts import facts as neck_facts
from tests.pack_neck_facts import scale_line

PER_STEP = {
    "diameter",
    "mouth nut",
    "mouth across",
    "radius",
    "bit",
    "depth",
    "point",
    "touching",
    "stop",
    "under",
    "under_point",
    "bit_point",
    "to partner",
}
"""Kinds of which a bore has one for each of its diameters."""

_TURNED = degrees(1e-5)
"""What an axis told to 0.00001 may be turned by, degrees."""


class Truth:
    """Numbers by (id, kind): mm or degrees, one or one for each diameter; the id of the plan's own is ""."""

    def __init__(self, plan: dict[str, Any], job: str) -> None:
        self.plan = plan
        self.unit: str = plan["job"]["units"]
        self.job = tomllib.loads(job)
        self.side = 1.0 if plan["job"]["handed"] == "right" else -1.0
        self.outline = shapely.Polygon(plan["body"]["outline"])
        self.thickness: float = plan["body"]["thickness"]
        self.readings = {each["id"]: each for each in plan["measurables"]}
        self.twelfth: float = plan["frets"][11]["x"]
        marks = [name.removeprefix("12th-to-") for name in self.readings if name.startswith("12th-to-")]
        mark = marks[0]
        beyond = self.readings[f"12th-to-{mark}"]["value"] - self.readings[f"pocket-end-to-{mark}"]["value"]
        self.pocket_end: float = self.twelfth + beyond
        self.marks = [self.twelfth + self.readings[f"12th-to-{each}"]["value"] for each in marks]
        self.nut: float = self.marks[0] - self.readings[f"nut-to-{mark}"]["value"]
        self.scale: float = scale_line(plan["strings"])
        self.lean = radians(plan["heights"]["lean_deg"])
        # The board lies along the neck, and its end as much nearer as that leans.
        self.board_end = self.nut + (self._stated("fingerboard", "end") or 0.0) * cos(self.lean)
        self.units = plan["bridge"].get("units", [])
        self.tail: float = self.outline.intersection(shapely.LineString([(-1e4, 0), (1e4, 0)])).bounds[2]
        self.bores = {each["id"]: each for each in plan["bores"]}
        self.pockets = {each["id"]: each for each in plan["pockets"]}
        self.pilots = {each["id"]: each for each in plan["neck"]["bores"]}
        self.cuts = {**self.bores, **self.pockets, **self.pilots}
        self.by_number = {each["number"]: each["id"] for each in (*plan["bores"], *plan["neck"]["bores"])}
        self.cards = {each["id"]: each for each in plan["steps"]}
        reasons = (why for cut in self.cuts.values() for why in cut["why"])
        self.sentences = {words for why in reasons for words in why.values()} | {
            each[key] for each in plan["findings"] for key in ("message", "cure", "source")
        }
        self.order = {feature: card["no"] for card in plan["steps"] for feature in card["features"]}
        self.facts: dict[tuple[str, str], tuple[Any, ...]] = dict(self._all())
        self.facts |= dict(self._alongs())
        self.facts |= dict(neck_facts(self))

    def length(self, value: Any) -> float:
        """A length as the job states it, mm."""
        found = stated(value, self.unit)
        assert found is not None, value
        return found

    def _alongs(self) -> Iterator[tuple[tuple[str, str], tuple[Any, ...]]]:
        """Along the instrument from each datum that may stand alone on a card, whose head alone says which it is."""
        for each, kind in self.facts:
            if kind.endswith("board") and kind != "plate board" and each not in self.pilots:
                stem = kind.removesuffix("board")
                yield (
                    (each, f"{stem}along"),
                    tuple(self.facts[each, f"{stem}{name}"][0] for name in ("end", "board", "tail")),
                )

    def top_at(self, x: float, y: float) -> float:
        """Height of the top, by the job's own words."""
        top = self.job["body"].get("top", {"kind": "flat"})
        if top["kind"] == "arched":
            insets, heights = zip(*top["profile"], strict=True)
            return float(np.interp(self.outline.exterior.distance(shapely.Point(x, y)), insets, heights))
        height = 0.0
        for area in top.get("areas", ()):
            ring = [(u, v * self.side) for u, v in area["outline"]]
            if shapely.Polygon(ring).covers(shapely.Point(x, y)):
                height = float(area["height"])
        return height

    @property
    def doubts(self) -> list[str]:
        """Where plan.json promises more wood under the point of an upright bore than geometry leaves it."""
        return [
            f"plan.json: {bore['id']} has {step['under_point']} under its point, {self._under_point(bore, n)} is left"
            for bore in self.bores.values()
            for n, step in enumerate(bore["steps"])
            if abs(bore["axis"][2]) > 0.9999 and step["under_point"] is not None
            if step["under_point"] > self._under_point(bore, n) + 0.01
        ]

    def numbers(self, words: str) -> list[str]:
        """Ids of "B1", "B1 to B4", "H1–H2" or "B1, B3"."""
        found: list[str] = []
        for first, last in re.findall(r"\b([A-Z]\d*)\b(?:(?: to |–)([A-Z]\d*)\b)?", words):
            run = range(int(first[1:]), int(last[1:]) + 1) if last else ()
            found += [first] if not last else [f"{first[0]}{n}" for n in run]
        return [self.by_number[number] for number in found if number in self.by_number]

    def by_role(self, role: str) -> list[str]:
        """Ids of the pockets, or of the bores, of this name."""
        both = (*self.pockets.values(), *self.bores.values())
        named = [each["id"] for each in both if each["role"] == role]
        stem = role.removesuffix("s").replace(" ", "-")
        return named or [each["id"] for each in self.bores.values() if each["id"].startswith(stem)]

    def note_web(self, ids: Sequence[str], other: str) -> None:
        """Have the least wood between some cuts and others as the kind "web" of each of them."""
        others = set(self.numbers(other) or self.by_role(other))
        found = [
            web["mm"]
            for web in self.plan["webs"]
            if ({web["a"], web["b"]} & set(ids)) and ({web["a"], web["b"]} & others)
        ]
        for each in ids:
            self.facts[each, "web"] = (min(found),) if found else ()

    def note_pair(self, one: str, other: str) -> str:
        """Have the wood between two cuts as a kind of its own; its id."""
        first, second = (self.numbers(words.split()[0]) or self.by_role(words) for words in (one, other))
        self.note_web(
            first, other.split(maxsplit=1)[0] if self.numbers(other.split(maxsplit=1)[0]) else other
        )
        del second
        self.facts[f"{one}, {other}", "pair"] = self.facts.get((first[0], "web"), ()) if first else ()
        return f"{one}, {other}"

    def note_part(self, part: str, key: str) -> str:
        """Have a part's number as the job states it, and its ±, as kinds of their own; its id."""
        tables: list[Any] = [self.job.get(part.replace(" ", "_"))]
        for kind in ("controls", "holes", "strap_buttons", "pockets"):
            for each in self.job.get(kind, ()):
                if part in {each["name"], f"{each['name']} cover", f"{each['name']} strap button"}:
                    tables += [each.get("cover_screws") if "cover" in part else each.get("screw"), each]
        table: dict[str, Any] = next((each for each in tables if each and key.replace(" ", "_") in each), {})
        value, name = table.get(key.replace(" ", "_")), f"{part}, {key}"
        written = re.search(r"\+/- ([\d.]+)", str(value))
        error = stated(written[1] if written else table.get("measured", ""), self.unit)
        mm = None if value is None else stated(value, self.unit)
        self.facts[name, "stated"] = () if mm is None else (mm,)
        self.facts[name, "given"] = () if error is None else (error,)
        return name

    def _strings(self) -> Iterator[tuple[tuple[str, str], tuple[float, ...]]]:
        nut = self._stated("nut", "width") or 0.0
        yield ("", "nut width"), (nut,)
        margins = [each["side_mm"] for one in self.plan["strings"] for each in one["edge_margin"]]
        yield ("", "smallest margin"), (min(margins),)
        strings = self.plan["strings"]
        at = {each["no"]: nut / 2 + each["nut"][1] * self.side for each in strings}
        for string, saddle in zip(strings, self.plan["bridge"]["saddles"], strict=True):
            no, name = string["no"], f"string {string['no']}"
            yield (name, "past"), (string["compensation"],)
            yield (name, "sd"), (string["compensation_sd"],)
            yield (name, "slack front"), (saddle["slack_front"],)
            yield (name, "slack back"), (saddle["slack_back"],)
            yield (name, "gauge"), (string["gauge"],)
            yield (name, "slot"), (at[no],)
            before = next((each for each in strings if each["no"] == no + 1), None)
            edge = 0.0 if before is None else at[no + 1] + before["gauge"] / 2
            yield (name, "gap"), (at[no] - string["gauge"] / 2 - edge,)
        ends = (strings[0]["edge_margin"], strings[-1]["edge_margin"])
        for n, outer in enumerate(zip(*ends, strict=True)):
            fret = self.plan["frets"][n - 1] if n else None
            yield (f"fret {n}", "at"), (fret["x"] - self.nut if fret else 0.0,)
            yield (f"fret {n}", "along it"), (fret.get("along", fret["x"]) if fret else 0.0,)
            width = abs(fret["treble"][1] - fret["bass"][1]) if fret else nut
            yield (f"fret {n}", "width"), (width,)
            for kind, margin in zip(("first margin", "last margin"), outer, strict=True):
                yield (f"fret {n}", kind), (margin["mm"],)

    def _heights(self) -> Iterator[tuple[tuple[str, str], tuple[float, ...]]]:
        """The height chain, and what its card makes of it."""
        found, neck = self.plan["heights"], self.job["neck"]
        depth = self._stated("neck", "pocket_depth") or 0.0
        wide = self._stated("neck", "core_width" if self.through else "heel_width_at_end") or 0.0
        angle = radians(float(neck.get("angle", 0.0)))
        own = {
            "heel high": self._stated("neck", "heel_thickness"),
            "board thick": self._stated("neck", "board_thickness"),
            "crown high": self._stated("fret_wire", "crown_height") or 1.1,
            "lean back": found["lean_deg"],
            "glue room": self._stated("neck", "slip") or 0.1,
            "pocket floor": depth,
            "pocket mouth": depth + (self._stated("neck", "pocket_length") or 0.0) * tan(angle),
            "joint body": self.thickness + self.top_at(self.pocket_end, wide / 2 + 3.0),
            "over frets": found["closed_at"] + found["off"] - found["crowns"],
            "by action": abs(found["action_rate"] * 0.1),
            "by relief": abs(found["relief_rate"] * 0.1),
            "board's underside": found["board"],
            **{key: found[key] for key in ("crowns", "straightedge", "lowest", "highest")},
        }
        steps = (
            ("pocket", "pocket_depth", 0.5),
            ("stand", "board_over_body", 0.5),
            ("heel", "board_thickness", 0.5),
            ("lean", "angle", 0.1),
            ("shim", "shim", 0.1),
        )
        for kind, key, by in steps:
            if f"neck.{key}" in found["closed_by"]:
                own[f"by {kind}"] = abs(found["closed_by"][f"neck.{key}"]["rate"] * by)
        pocket = found["closed_by"]["neck.board_over_body" if self.through else "neck.pocket_depth"]
        own |= {"unknown": pocket["value"], "unknown is": pocket["now"], "unknown ±": 2 * pocket["sd"]}
        for way in ("down", "up"):
            rooms = [each[way] for each in found["strings"] if each[way] is not None]
            own[f"room {way}"] = min(rooms, default=None)
        yield from ((("", kind), (value,)) for kind, value in own.items() if value is not None)
        for kind, key in (
            ("depth", "neck.pocket_depth"),
            ("stands", "neck.board_over_body"),
            ("lean", "neck.angle"),
            ("shim", "neck.shim"),
            ("fingers", "neck.board_thickness"),
            ("middle", "bridge.saddle_height"),
        ):
            way = found["closed_by"].get(key)
            if way is None:
                continue
            for end, value in (("", way["value"]), (" now", way["now"]), (" ±", way["sd"])):
                if value is not None:
                    yield ("", kind + end), (value,)
        heel, board = (
            own["board thick" if self.through else "heel high"] or 0.0,
            found["closed_by"]["neck.board_thickness"],
        )
        yield ("", "heel then"), (heel + board["value"] - board["now"],)
        yield ("", "off by"), (abs(found["off"]),)
        for each in found["strings"]:
            name = f"string {each['no']}"
            yield (name, "wanted"), (each["wanted"],)
            yield (name, "height sd"), (each["sd"],)
            for way in ("down", "up"):
                if each[way] is not None:
                    yield (name, f"left {way}"), (each[way],)
        for each in found["pickups"]:
            of = next(pocket["id"] for pocket in self.pockets.values() if pocket["role"] == each["name"])
            for kind in ("open", "pressed"):
                yield (of, f"{kind} first"), (each[kind][0],)
                yield (of, f"{kind} last"), (each[kind][-1],)

    def _stick(self) -> Iterator[tuple[tuple[str, str], tuple[float, ...]]]:
        """Rows of the bridge's holes, and from each mark of the story stick to the next."""
        line = self.outline.intersection(shapely.LineString([(-1e4, 0), (1e4, 0)])).bounds
        rows = [
            each["at"][0]
            for name, each in self.bores.items()
            # A single saddle's screws are set out from its own base, and have no mark.
            if name.startswith("string-hole") or (name.startswith("bridge-screw") and not self.units)
        ]
        own = (
            self.nut,
            self.pocket_end,
            self.scale,
            *self.marks,
            *(each["front"][0] for each in self.units),
            line[2],
        )
        marks = sorted({*own, *rows, *(fret["x"] for fret in self.plan["frets"])})
        yield ("", "a row"), tuple(rows)
        yield ("", "a join"), tuple(b - a for a, b in pairwise(marks))

    def _fits(self) -> Iterator[tuple[str, float]]:
        """How the ferrules fit; film comes off what is bored where the holes are sprayed."""
        row = self.bores.get("ferrule-hole-1")
        if row is None:
            return
        film = (
            2 * (self._stated("finish", "film") or 0.0)
            if self.job["finish"].get("holes") == "sprayed"
            else 0.0
        )
        for name, key, step in (
            ("lip", "lip_diameter", row["steps"][0]),
            ("ferrule", "body_diameter", row["steps"][-1]),
        ):
            size = self._stated("ferrules", key) or 0.0
            yield name, size
            yield f"{name} wanted", size + film
            yield f"{name} cut", step["diameter"]
            yield f"{name} loose", step["diameter"] - size - film

    def _all(self) -> Iterator[tuple[tuple[str, str], tuple[float, ...]]]:
        yield ("", "thickness"), (self.thickness,)
        for kind, value in (*self._own(), *self._fits()):
            yield ("", kind), (value,)
        yield from self._strings()
        yield from self._heights()
        yield from self._stick()
        for kind, values in self._several():
            yield ("", kind), values
        for bore in self.bores.values():
            for kind, values in self._bore(bore):
                yield (bore["id"], kind), values
        for pilot in self.pilots.values():
            for kind, value in self._pilot(pilot):
                yield (pilot["id"], kind), (value,)
        for pocket in self.pockets.values():
            for kind, value in self._pocket(pocket):
                yield (pocket["id"], kind), (value,)
        for unit in self.units:
            for kind, value in self._unit(unit):
                yield (f"base {unit['id'].removeprefix('unit-')}", kind), (value,)
        yield from self._cones()
        yield from self._outside()
        yield from self._gates()
        for tunnel in self.plan["tunnels"]:
            for kind, value in self._way(tunnel):
                yield (tunnel["id"], kind), (value,)

    def _several(self) -> Iterator[tuple[str, tuple[float, ...]]]:
        """Kinds of which there are several where the words do not say which."""
        low_x, low_y, high_x, high_y = self.outline.bounds
        aslant: list[float] = []
        # What the bridge is set out by: a plate's front edge, or studs and posts; and the line its place is counted from.
        marks = [name.removeprefix("12th-to-") for name in self.readings if name.startswith("12th-to-")]
        at = [self.twelfth + self.readings[f"12th-to-{mark}"]["value"] for mark in marks]
        at += [self.plan["bridge"]["x"]] * ("12th-to-plate" not in self.readings)
        crown = self._stated("fret_wire", "crown_width") or 2.4
        for kind, datum in (
            ("12th", self.twelfth),
            ("end", self.pocket_end),
            ("board", self.board_end),
            ("nut", self.nut),
            ("near", self.twelfth - crown / 2),
            ("far", self.twelfth + crown / 2),
        ):
            yield f"plate {kind}", tuple(x - datum for x in at)
        across = (self.readings.get(f"centreline-to-{mark}") for mark in marks)
        moves = (
            each for name, each in self.plan["quantities"].items() if name.startswith("bridge.claw-moves-")
        )
        yield "claw moves", tuple(each["value"] for each in moves)
        yield "mark off", tuple(each["value"] for each in across if each)
        yield "diagonal", tuple(self.readings[f"diagonal-{side}"]["value"] for side in ("treble", "bass"))
        yield "a cutter", tuple(2 * pocket["corner_radius"] for pocket in self.pockets.values())
        yield "a depth", tuple(_deepest(pocket) for pocket in self.pockets.values())
        pressed = (each for each in self.bores.values() if each["id"].endswith(("stud-1", "post-1")))
        yield "a bushing", tuple(each["steps"][0]["diameter"] for each in pressed)
        heights, beyond = self.plan["heights"], tan(self.lean)
        for name, reading in self.readings.items():
            if "-to-" in name and name.startswith(("12th", "nut")) and not name.endswith("12th"):
                start = self.twelfth if name.startswith("12th") else self.nut
                over = heights["crowns"] - (self.pocket_end - start) * beyond
                aslant.append(hypot(reading["value"], over))
        yield "aslant", tuple(aslant)
        # By how hard the neck is (docs/joints.md).
        root = self._stated("neck_inserts", "root") or 0.0
        yield "insert hole", (root + 0.2, root + 0.3, root + 0.4)
        routers = (stated(each, self.unit) for each in self.job["bits"]["router"])
        yield "a router", tuple(each for each in routers if each is not None)
        shafts = (each for each in self.bores.values() if each["id"].startswith("control"))
        yield "a shaft", tuple(each["steps"][0]["diameter"] for each in shafts)
        body = self.job["body"]
        layers = (stated(each["thickness"], self.unit) for each in body.get("layers", ()))
        thick = tuple(each for each in layers if each is not None)
        yield "a layer", thick
        highest = max((float(area["height"]) for area in body.get("top", {}).get("areas", ())), default=0.0)
        yield "a blank", (*thick, self.thickness + max(0.0, highest))
        profile = body.get("top", {}).get("profile", ())
        yield "an inset", tuple(float(row[0]) for row in profile)
        yield "a fall", tuple(-float(row[1]) for row in profile)
        yield "over all", (high_x - low_x, high_y - low_y)
        areas = body.get("top", {}).get("areas", ())
        yield "a drop", tuple(-float(area["height"]) for area in areas)
        corners = [corner for area in areas for corner in area["outline"]]
        yield "a corner end", tuple(float(x) - self.pocket_end for x, _ in corners)
        yield "a corner off", tuple(abs(float(y)) for _, y in corners)

    def _outside(self) -> Iterator[tuple[tuple[str, str], tuple[float, ...]]]:
        for each in self.plan["outside"]:
            for kind in ("to_edge", "to_opposite", "to_top", "to_back"):
                if each[kind] is not None:
                    yield (each["feature"], kind), (each[kind],)
            for kind, where in (("over", "to_top"), ("below", "to_back")):
                if each[where] is not None:
                    yield (each["feature"], kind), (each[where],)

    def _gates(self) -> Iterator[tuple[tuple[str, str], tuple[float, ...]]]:
        for name, reading in (
            *self.readings.items(),
            *((card["id"], card["gate"]) for card in self.cards.values() if card["gate"]),
        ):
            for kind in ("value", "low", "high"):
                if reading[kind] is not None:
                    yield (name, kind), (reading[kind],)
                for ask in reading.get("asks", ()):
                    if kind == "value" and ask["id"].endswith(("-nut-side", "-treble-side")):
                        # A card of one cavity says of its template only which side.
                        yield (name, f"{'-'.join(ask['id'].rsplit('-', 2)[1:])} value"), (ask[kind],)
                    # Limits in words are rounded so that each is itself enough.
                    inward = {"low": ceil, "high": floor}.get(kind)
                    if ask[kind] is not None:
                        told = inward(100 * ask[kind]) / 100 if inward else ask[kind]
                        yield (name, f"{ask['id']} {kind}"), (told,)

            if reading["low"] is not None and reading["high"] is not None:
                yield (name, "good for"), ((reading["high"] - reading["low"]) / 2,)
                alike = (
                    each for each in self.readings.values() if each["value"] == reading["value"] is not None
                )
                yield (name, "wanted"), tuple((each["high"] - each["low"]) / 2 for each in alike)

    def _own(self) -> Iterator[tuple[str, float]]:
        """The plan's own numbers, and what only the job states."""
        crown = self._stated("fret_wire", "crown_width") or 2.4
        yield "crown nut", self.twelfth - self.nut
        yield "end nut", self.pocket_end - self.nut
        yield "scale", self.scale - self.nut
        yield "near nut", self.twelfth - self.nut - crown / 2
        yield "far nut", self.twelfth - self.nut + crown / 2
        yield "near add", -crown / 2
        yield "far add", crown / 2
        low, high = self.plan["bridge"]["window"]["low"], self.plan["bridge"]["window"]["high"]
        line = self.outline.intersection(shapely.LineString([(-1e4, 0), (1e4, 0)])).bounds
        for name, at in (
            ("crown", self.twelfth),
            ("end", self.pocket_end),
            ("scale", self.scale),
            ("low", low),
            ("high", high),
            ("neck edge", line[0]),
            ("tail edge", line[2]),
        ):
            for kind, value in self._place(at, 0.0):
                yield f"{name} {kind}", value
        slack = [
            each[end] for each in self.plan["bridge"]["saddles"] for end in ("slack_front", "slack_back")
        ]
        yield "reserve", min(slack)
        yield "least web", min(web["mm"] for web in self.plan["webs"] if not web["on_purpose"])
        yield "body treble", max(y * self.side for _, y in self.plan["body"]["outline"])
        yield "body bass", -min(y * self.side for _, y in self.plan["body"]["outline"])
        yield "saddle height", self._stated("bridge", "saddle_height") or 0.0
        yield "chuck", self._stated("bits", "chuck_radius") or 19.0
        yield "film", self._stated("finish", "film") or 0.0
        yield "wheels", self.plan["strings"][0]["saddle"][2]
        yield "leans", self.plan["heights"]["lean_deg"]
        neck = self.pockets.get("neck-pocket", {})
        if not neck:
            yield from self._core()
        if "slope" in neck:
            slope = tan(radians(neck["slope"]["angle_deg"]))
            yield "wall lean", neck["depth"] * slope
            yield "thin", 100.0 * slope
            yield "thick", 300.0 * slope
        tail = self.plan["quantities"].get("bridge.tailpiece-height")
        if tail is not None:
            names = (f"string-{each['no']}.break" for each in self.plan["strings"])
            broken = [self.plan["quantities"][name]["value"] for name in names]
            yield "tail height", tail["value"]
            yield "least break", min(broken)
            yield "most break", max(broken)
        yield "underside", self._stated("bridge", "underside") or 0.0
        for name in ("spring-length", "claw-ahead"):
            if f"bridge.{name}" in self.plan["quantities"]:
                yield name.replace("-", " "), self.plan["quantities"][f"bridge.{name}"]["value"]
        why = "\n".join(each["text"] for bore in self.pilots.values() for each in bore["why"])
        inserts = self.job.get("neck_inserts")
        if inserts is not None:
            mm = {
                key: stated(inserts[key], self.unit) or 0.0
                for key in ("length", "screw_length", "plate_thickness")
            }
            tip = (
                mm["screw_length"]
                - mm["plate_thickness"]
                - (self.thickness - self.pockets["neck-pocket"]["depth"])
            )
            yield "insert screw", mm["screw_length"]
            yield "insert long", mm["length"]
            yield "insert bolt", self._stated("neck_inserts", "screw") or 0.0
            yield "insert over", self._stated("neck_inserts", "thread") or 0.0
            yield "insert thread", min(tip, mm["length"])
            yield "insert beyond", next(iter(self.pilots.values()))["steps"][-1]["depth"] - tip
        heel = re.search(r"heel pilot, .*?([\d.]+) mm by the .*, with (.*)$", why, re.MULTILINE)
        if heel:
            neck, tip = self.plan["neck"], next(iter(self.pilots.values()))["screw"]["tip"]
            yield "heel thread", tip
            yield "heel tip", neck["high"] - neck["low"] - tip
            root, wide = (
                self._stated("neck_screws", "root") or 0.0,
                self._stated("neck_screws", "thread") or 0.0,
            )
            twentieths = round(20 * (float(heel[1]) - root) / (wide - root))  # the rule's shares are such
            yield "heel rule", root + twentieths / 20 * (wide - root)

    @property
    def through(self) -> bool:
        """Whether the neck runs through the body."""
        return bool(self.job["neck"]["joint"] == "neck-through")

    def _core(self) -> Iterator[tuple[str, float]]:
        """A core that runs through the body, by the job's own words."""
        at_board = self._stated("neck", "core_width") or 0.0
        edge = self.outline.intersection(shapely.LineString([(-1e4, 0), (1e4, 0)])).bounds[0]
        stands = self._stated("neck", "board_over_body") or 0.0
        yield "core wide", at_board
        yield "core half", at_board / 2
        yield "core half tail", (self._stated("neck", "core_width_at_tail") or at_board) / 2
        yield "board to", self._stated("fingerboard", "end") or 0.0
        yield "board stands", stands
        yield "board at edge", stands - (self.pocket_end - edge) * tan(self.lean)
        yield "board sunk", abs(stands - (self.pocket_end - edge) * tan(self.lean))
        yield "thin", 100.0 * tan(abs(self.lean))

    def _stated(self, *keys: str) -> float | None:
        """A length of the job, mm."""
        table: Any = self.job
        for key in keys:
            table = table.get(key, {})
        return None if table == {} else stated(table, self.unit)

    def _cones(self) -> Iterator[tuple[tuple[str, str], tuple[float, ...]]]:
        """The angle of each countersink, degrees, as the job states it."""
        number = 0
        for hole in self.job.get("holes", ()):
            for _ in hole.get("places", [hole.get("at")]):
                number += 1
                if "countersink" in hole:
                    yield (f"hole-{number}", "cone"), (float(hole["countersink"].get("angle", 90.0)),)

    def _place(self, x: float, y: float) -> Iterator[tuple[str, float]]:
        yield "12th", x - self.twelfth
        yield "end", x - self.pocket_end
        yield "board", x - self.board_end
        yield "tail", x - self.tail
        yield "nut", x - self.nut
        yield "across", y * self.side
        yield "across bass", -y * self.side
        yield "off", abs(y)

    def _bore(self, bore: dict[str, Any]) -> Iterator[tuple[str, tuple[float, ...]]]:
        (x, y, z), (i, j, k), steps = bore["at"], bore["axis"], bore["steps"]
        for kind, value in self._place(x, y):
            yield kind, (value,)
        yield "diameter", tuple(step["diameter"] for step in steps)
        yield "depth", tuple(step["depth"] for step in steps)
        yield "point", tuple(step["depth_stop"] for step in steps)
        yield "bit_point", tuple(step["depth_stop"] - step["depth"] for step in steps)
        yield "stop", tuple(self._stops(bore))
        if bore["screw"] is not None:
            yield "screw thread", (bore["screw"]["thread"],)
            yield "screw length", (bore["screw"]["length"],)
        yield "touching", tuple(self._touching(bore))
        yield "bit", tuple(_size(step["bit"]) for step in steps)
        yield "under_point", tuple(step["under_point"] for step in steps)
        yield "under", tuple(step["under"] for step in steps)
        yield "left", (bore["floor"],)
        yield "opens", (self._under_point(bore, 0) + steps[0]["depth_stop"],)
        slope = degrees(asin(min(1.0, abs(k))))
        yield "slope", (slope,)
        yield "upright", (90.0 - slope,)
        heading = degrees(atan2(j * self.side, -i))
        yield "heading", (heading,)
        tailwards = (180.0 - abs(heading)) * (1.0 if heading >= 0 else -1.0)
        # An axis is told to 0.00001: what it comes to may stand on either side of a tenth's half, and is then taken for that.
        half = round((tailwards - 0.05) * 10) / 10 + 0.05
        yield "tail heading", (half if abs(half - tailwards) < _TURNED else tailwards,)
        top = self.top_at(x, y)
        yield "below top", (top - z,)
        yield "below back", (z + self.thickness,)
        yield "below level", (-z,)
        begins = [0.0, *(step["depth"] for step in steps[:-1])] if abs(k) < 0.5 else [0.0] * len(steps)
        yield "mouth nut", tuple(x + i * begin for begin in begins)
        yield "mouth across", tuple((y + j * begin) * self.side for begin in begins)
        yield "radius", tuple(step["diameter"] / 2 for step in steps)
        yield "from corner", (self._from_corner(x, y, bore),)
        yield "thickness", (z + self.thickness if k < 0 else top - z,)
        partner = self.bores.get(bore["id"].replace("ferrule", "string"))
        if bore["role"] == "ferrule hole" and partner is not None:
            met = partner["steps"][-1]
            yield (
                "to partner",
                tuple(self.thickness - met["depth_stop"] - step["depth_stop"] for step in steps),
            )
            yield "partner diameter", (met["diameter"],)
            yield "partner opens", (self.thickness - met["depth_stop"],)
            yield "meets", (self.thickness - met["depth"],)
            yield "overlap", (met["depth"] + steps[-1]["depth"] - self.thickness,)
        elif bore["role"] != "ferrule hole":  # what lies under it may be another hole
            yield "to partner", tuple(step["under_point"] for step in steps)
            deepest = steps[-1]
            yield "partner opens", ((deepest["under_point"] or 0.0) + deepest["depth_stop"],)
        if bore.get("entered_from") and bore["screw"] is not None:
            # The chuck's rim over the wall's place must be clear of the back: (radius * cos + below) / sin along the bit.
            below, lean = z + self.thickness, radians(slope)
            # A round chuck counts as 48-sided round its circle.
            chuck = (self._stated("bits", "chuck_radius") or 19.0) / cos(pi / 48)
            out = (chuck * cos(lean) + below) / sin(lean)
            yield "bit length", (out + steps[-1]["depth_stop"],)
        half = steps[-1]["diameter"] / 2
        yield "mouth long", (2 * half / max(abs(k), 1e-9),)
        if hypot(i, j) > 0.5:
            yield "mouth wide", (2 * half,)

    def _unit(self, unit: dict[str, Any]) -> Iterator[tuple[str, float]]:
        """A single base's front edge, and how far that lies past the line."""
        yield from self._place(*unit["front"])
        read = self.readings[f"line-to-{unit['id']}"]
        yield "line", unit["front"][0] - self.plan["bridge"]["x"]
        yield "line low", read["low"]
        yield "line high", read["high"]

    def _pilot(self, pilot: dict[str, Any]) -> Iterator[tuple[str, float]]:
        """A pilot in the heel: along it is read from the heel's end, towards the nut."""
        (x, y, z), (step,) = pilot["at"], pilot["steps"]
        yield from self._place(x, y)
        yield "along", self.pocket_end - x
        yield "heel", self.pocket_end - x
        yield "diameter", step["diameter"]
        yield "bit", _size(step["bit"])
        yield "depth", step["depth"]
        point = step["diameter"] / 2 / tan(radians(59.0)) if "twist" in step["bit"] else step["depth_stop"]
        yield "stop", step["depth"] + point if "twist" in step["bit"] else point
        yield "bit_point", step["depth_stop"] - step["depth"]
        yield "point", step["depth_stop"]
        if pilot["screw"] is not None:
            yield "screw thread", pilot["screw"]["thread"]
            yield "screw length", pilot["screw"]["length"]
        yield "left", self.plan["neck"]["high"] - z - step["depth_stop"]

    def _stops(self, bore: dict[str, Any]) -> Iterator[float]:
        """Travel to set, from the surface that plan.json says it is zeroed on: a wider bit's floor lies deeper."""
        taken = 0.0
        for step in bore["steps"]:
            by_hand = "level with" in step["zeroed"] and step["zeroed_on"] == "floor"
            yield step["depth_stop"] - (taken if by_hand else 0.0)
            taken = max(taken, step["depth"])

    def _touching(self, bore: dict[str, Any]) -> Iterator[float]:
        """Travel of each bit from where its point touches the wood: what a wider bit took before it is not there."""
        taken = 0.0
        for step in bore["steps"]:
            yield step["depth_stop"] - taken
            taken = max(taken, step["depth"])

    def _under_point(self, bore: dict[str, Any], n: int) -> float:
        """Wood left under a bit's point of an upright bore when it is drilled: to the far face or a cavity."""
        x, y, z = bore["at"]
        down = bore["face"] == "top"
        point = bore["steps"][n]["depth_stop"]
        mine = self.order.get(bore["id"], 0)
        end = -self.thickness if down else self.top_at(x, y)
        for pocket in self.pockets.values():
            ring = shapely.Polygon(pocket["outline"], pocket.get("islands") or None)
            if pocket["face"] == bore["face"] or self.order.get(pocket["id"], 1e8) > mine:
                continue
            if ring.covers(shapely.Point(x, y)):
                roof = pocket["depth"] - self.thickness if down else -pocket["depth"]
                end = max(end, roof) if down else min(end, roof)
        return float(z - point - end if down else end - z - point)

    def _from_corner(self, x: float, y: float, bore: dict[str, Any]) -> float:
        """Straight from the tail edge's middle, or from a corner of the neck pocket's mouth, whichever is nearer."""
        edge = self.outline.exterior
        cross = edge.intersection(shapely.LineString([(-1e4, 0), (1e4, 0)]))
        ends = [max(cross.geoms, key=lambda p: p.x)]
        if not self.through:
            mouth = edge.intersection(shapely.Polygon(self.pockets["neck-pocket"]["outline"]).exterior)
            ends += [shapely.Point(at) for at in shapely.get_coordinates(mouth)]
        return float(min(end.distance(shapely.Point(x, y)) for end in ends))

    def _pocket(self, pocket: dict[str, Any]) -> Iterator[tuple[str, float]]:
        x = [point[0] for point in pocket["outline"]]
        y = [point[1] * self.side for point in pocket["outline"]]
        yield "depth", pocket["depth"]
        yield "mouth depth", pocket.get("slope", {}).get("depth_at_mouth")
        for n, point in enumerate(pocket["outline"]):
            yield f"corner {n} x", point[0]
            yield f"corner {n} y", point[1]
        yield "corner", pocket["corner_radius"]
        yield "cutter", 2 * pocket["corner_radius"]
        for name, at in (("neck side", min(x)), ("tail side", max(x))):
            for kind, value in self._place(at, 0.0):
                if kind != "across":
                    yield f"{name} {kind}", value
        yield "length", max(x) - min(x)
        for kind, value in self._place((min(x) + max(x)) / 2, self.side * (min(y) + max(y)) / 2):
            yield f"middle {kind}", value
        yield "treble", max(y)
        yield "bass", -min(y)
        yield "inner", min(y)
        yield "outer", -max(y)
        yield "left", pocket["floor"]
        yield "under", pocket["under"]
        if pocket["under"] is not None:
            yield "thickness", self.thickness if "slope" in pocket else pocket["depth"] + pocket["under"]

    def _way(self, tunnel: dict[str, Any]) -> Iterator[tuple[str, float]]:
        best = tunnel["best"]
        if best is None:
            return
        x, y, z = best["end"]
        for kind, value in self._place(x, y):
            yield f"out {kind}", value
        yield "out below top", self.top_at(x, y) - z
        yield "out below back", z + self.thickness
        yield "to wall", best["to_wall"]
        yield "mark", best["bit_mark"]
        yield "bit length", best["bit_length"]
        yield "bit outside", best["bit_outside"]
        yield "cover", best["cover"]
        yield "mouth long", best["mouth"][0]
        yield "mouth wide", best["mouth"][1]
        if tunnel["leaves"] is not None:
            yield "leaves", tunnel["leaves"]["after"]


def _deepest(pocket: dict[str, Any]) -> float:
    """How deep a pocket goes where it is deepest, mm."""
    return float(max(pocket["depth"], pocket.get("slope", {}).get("depth_at_mouth", 0.0)))


def _size(bit: str) -> float:
    """A bit's diameter by its name: "3 mm twist", "7/64 (2.78 mm) twist", "0.500 in (12.7 mm) countersink"."""
    found = re.search(r"([\d.]+) mm", bit)
    assert found, bit
    return float(found[1])


def stated(value: Any, unit: str) -> float | None:
    """A length of a job file in mm; None where it is no length."""
    if isinstance(value, int | float):
        return float(value) * (MM_PER_INCH if unit == "in" else 1.0)
    found = re.fullmatch(
        r"(?:(\d+) )?(\d+)/(\d+)(?: in)?(?: \+/- .*)?|([\d.]+)(?: mm| in)?(?: \+/- .*)?", str(value)
    )
    if not found:
        return None
    if found[4]:
        return float(found[4]) * (MM_PER_INCH if unit == "in" and "mm" not in value else 1.0)
    return (int(found[1] or 0) + int(found[2]) / int(found[3])) * MM_PER_INCH
