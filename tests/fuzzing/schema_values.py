"""Values for a job file, made from its JSON Schema alone: sensible ones, ones at the edge of what is allowed, and none at all."""

from __future__ import annotations

from functools import cache
from random import Random
from typing import Any

from scribeline.job import JobTables

Node = dict[str, Any]
Key = tuple[str | int, ...]

NOTES = ("E4", "B3", "G3", "D3", "A2", "E2", "B1", "F#1", "Bb1", "G2", "82.4 Hz", "C5", "C0")
GAUGES = (".008", ".0095", ".010", 10, "0.26 mm", ".017", ".026", ".046", ".064", ".105", ".135", "3.9 mm")
TIMBERS = ("alder-red", "ash-white", "maple-sugar", "mahogany-true", "basswood", "walnut-black", "kiri")
WORDS = (
    "odd",
    "lower horn",
    "6 mm dowel",
    "Zapfen ü",
    "貓",
    "a" * 30,
    'say "so"',
    "[b]",
    "{x}",
    "%s",
    "e\u0301",
)
PAPERS = ("A4", "Letter", "A1", "A3", "ANSI C", "610 mm", "36 in", "A0", "A5")
NAMED = {"into", "opens_into", "through", "start"}
"""Keys that name a pocket."""


@cache
def schema() -> Node:
    """The job file's, as `scribeline schema` writes it."""
    return dict(JobTables.model_json_schema())


def _forms(node: Node) -> list[Node]:
    """The alternatives of a node."""
    return list(node.get("anyOf") or node.get("oneOf") or ())


def resolved(node: Node) -> Node:
    """A node with its references followed and `null` left out of its alternatives."""
    while "$ref" in node:
        node = schema()["$defs"][node["$ref"].rpartition("/")[2]]
    some = [each for each in _forms(node) if each.get("type") != "null"]
    return resolved(some[0]) if len(some) == 1 else node


def node_at(key: Key) -> Node | None:
    """What the schema says of a place in a job; None where it says nothing."""
    here: Node | None = schema()
    for part in key:
        if here is None:
            return None
        here = _inside(resolved(here), part)
    return None if here is None else resolved(here)


def _inside(node: Node, part: str | int) -> Node | None:
    for form in (node, *(resolved(each) for each in _forms(node))):
        if isinstance(part, str) and part in form.get("properties", {}):
            return dict(form["properties"][part])
        if isinstance(part, int) and form.get("type") == "array":
            first = form.get("prefixItems", [])
            found = first[part] if part < len(first) else form.get("items")
            return dict(found) if isinstance(found, dict) else None
    return None


class Maker:
    """Makes values of the schema from one source of chance.

    Args:
        random: the source.
        unit: of the job's bare numbers.
        pockets: names of the pockets there are.
        wild: share of the lengths that lie at the edge of their range and not where such a thing would.
    """

    def __init__(
        self, random: Random, *, unit: str = "mm", pockets: tuple[str, ...] = (), wild: float = 0.1
    ) -> None:
        self.random, self.unit, self.pockets, self.wild = random, unit, pockets, wild

    def value(self, node: Node, name: str = "") -> Any:
        """A value that the schema allows."""
        node, random = resolved(node), self.random
        if "const" in node:
            return node["const"]
        if "enum" in node:
            return random.choice(node["enum"])
        if "x-millimetres" in node:
            return self.length(*node["x-millimetres"])
        if "x-degrees" in node:
            low, high = node["x-degrees"]
            return (
                random.choice((low, high))
                if random.random() < self.wild
                else round(random.uniform(low, high), 2)
            )
        if name in {"gauge", "note", "timber", "paper", "hardness"}:
            return self._known(name)
        match node.get("type"):
            case "object":
                return self.table(node)
            case "array":
                return self._list(node, name)
            case "boolean":
                return random.random() < 0.5
            case "integer" | "number":
                return self._number(node)
            case "string":
                return self._text(node, name)
        forms = _forms(node)
        return self.value(random.choice(forms), name) if forms else random.choice((1, "1 mm"))

    def _known(self, name: str) -> Any:
        known = {
            "gauge": GAUGES,
            "note": NOTES,
            "timber": TIMBERS,
            "paper": PAPERS,
            "hardness": (2600, "590 lbf", "4 kN"),
        }
        return self.random.choice(known[name])

    def table(self, node: Node) -> dict[str, Any]:
        """A table with all it needs and some of what it may have."""
        node, made = resolved(node), {}
        needed = node.get("required", ())
        for key, inner in node.get("properties", {}).items():
            if key in needed or self.random.random() < 0.3:
                made[key] = self.value(inner, key)
        return made

    def _list(self, node: Node, name: str) -> list[Any]:
        if "prefixItems" in node:
            return [self.value(each, name) for each in node["prefixItems"]]
        low = node.get("minItems", 0)
        if (
            name in {"outline", "hide", "islands"}
            and "items" in node
            and "prefixItems" in resolved(node["items"])
        ):
            return self.ring()
        count = self.random.randint(low, max(low, min(node.get("maxItems", 5), low + 3)))
        return [self.value(node["items"], name) for _ in range(count)]

    def ring(self) -> list[list[Any]]:
        """Corners in order round a place on the body; now and then in no order."""
        random = self.random
        x, y = random.uniform(560, 700), random.gauss(0, 90)
        wide, tall = random.uniform(4, 60), random.uniform(4, 60)
        box = [(x - wide, y - tall), (x + wide, y - tall), (x + wide, y + tall), (x - wide, y + tall)]
        corners = [(a + random.uniform(-3, 3), b + random.uniform(-3, 3)) for a, b in box]
        if random.random() < 0.1:
            random.shuffle(corners)
        return [[self.stated(a), self.stated(b)] for a, b in corners]

    def _number(self, node: Node) -> float | int:
        low = float(node.get("minimum", node.get("exclusiveMinimum")) or 0)
        high = float(node.get("maximum", node.get("exclusiveMaximum")) or low + 400)
        if node["type"] == "integer":
            return self.random.randint(int(low), int(high))
        return round(self.random.uniform(low, high), 3)

    def _text(self, node: Node, name: str) -> str:
        if name in NAMED and self.pockets and self.random.random() < 0.9:
            also = ("top", "back", "edge", "bridge plate", "neck pocket") if name == "start" else ()
            return str(self.random.choice((*self.pockets, *also)))
        words = self.random.choice(WORDS)[: node.get("maxLength", 200)]
        return f"{words} {self.random.randint(1, 99)}"[: node.get("maxLength", 200)]

    def length(self, low: float, high: float) -> Any:
        """A length between two, in mm, stated in one of the ways a shop states them."""
        random = self.random
        if random.random() < self.wild:
            return self.stated(
                random.choice((low, high, low + (high - low) * 0.001, random.uniform(low, high)))
            )
        if (low, high) == (-400, 1500):
            return self.stated(random.uniform(540, 740))
        if (low, high) == (-400, 400):
            return self.stated(random.gauss(0, 70))
        share = random.betavariate(1.2, 5)
        return self.stated(low + share * (high - low))

    def stated(self, mm: float) -> Any:
        """A length in mm as it may stand in a job."""
        random = self.random
        inches = mm / 25.4
        bare = round(mm if self.unit == "mm" else inches, 3)
        if random.random() < 0.7:
            return bare
        whole, sixty = divmod(round(abs(inches) * 64), 64)
        sign = "-" if mm < 0 else ""
        return random.choice(
            (
                f"{mm:.2f} mm",
                f"{inches:.3f} in",
                f"{bare} +/- {0.1 if self.unit == 'mm' else 0.004}",
                f"{mm:.2f} mm ± 0.1 mm",
                f"{sign}{whole} {sixty}/64 in" if sixty and whole else f"{mm:.1f} mm",
                f"{mm:.2f}".replace(".", ",") + " mm",
            )
        )
