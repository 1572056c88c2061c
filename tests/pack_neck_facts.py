"""What a pack may say of a fingerboard, a nut and a head that are made here: their numbers by plan.json, and by geometry."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import atan2, cos, degrees, hypot
from typing import TYPE_CHECKING, Any

from tests import pack_carve

if TYPE_CHECKING:
    from tests.pack_truth import Truth

Fact = tuple[tuple[str, str], tuple[float, ...]]


def facts(truth: Truth) -> Iterator[Fact]:
    """Numbers of the neck by (id, kind), of what plan.json has of it."""
    plan = truth.plan
    if plan["strings"] and "frets" in plan["strings"][0]:
        yield from _on_a_fan(truth)
    if "board" in plan:
        yield from _of_the_board(plan["board"], truth)
    if "nut" in plan:
        yield from _of_the_nut(plan["nut"], truth)
    if "carve" in plan:
        yield from pack_carve.facts(plan["carve"], truth)
    if "head" in plan:
        yield from _of_the_head(plan["head"], truth)


def scale_line(strings: Sequence[dict[str, Any]]) -> float:
    """Where the scale line crosses the centreline, mm: on a fan midway between the outer strings' places on it."""
    first, last = (each["saddle"][0] - each["compensation"] for each in (strings[0], strings[-1]))
    return float(first + last) / 2


def _on_a_fan(truth: Truth) -> Iterator[Fact]:
    """Slanted frets by their ends and under the outer strings; each string's scale, and its own 12th fret to its saddle."""
    strings = truth.plan["strings"]
    for fret in truth.plan["frets"]:
        (tx, ty), (bx, by) = fret["treble"], fret["bass"]
        name = f"fret {fret['n']}"
        yield (name, "treble end"), (tx,)
        yield (name, "bass end"), (bx,)
        yield (name, "under first"), (strings[0]["frets"][fret["n"] - 1],)
        yield (name, "under last"), (strings[-1]["frets"][fret["n"] - 1],)
        yield (name, "fret lean"), (degrees(atan2(tx - bx, (ty - by) * truth.side)),)
    for string in strings:
        name = f"string {string['no']}"
        yield (name, "own scale"), (string["scale"],)
        yield (name, "own 12th"), (string["scale"] + string["compensation"] - string["frets"][11],)


def _of_the_board(board: dict[str, Any], truth: Truth) -> Iterator[Fact]:
    kerf = truth.length(truth.job.get("fret_wire", {}).get("slot", "0.58 mm"))
    for slot in board["slots"]:
        name, ((tx, ty), (bx, by)) = f"fret {slot['fret']}", slot["ends"]
        yield (name, "slot depth"), (slot["depth"],)
        yield (name, "slot length"), (hypot(tx - bx, ty - by),)
        yield (name, "slot wire"), (slot["wire"],)
        # Its line's slant makes half a kerf longer along the centreline; the neck's lean makes the neck longer than it is here.
        crossed = tx - ty * (bx - tx) / (by - ty)
        slant = hypot((tx - bx) / cos(truth.lean), ty - by) / abs(ty - by)
        along = (crossed - truth.nut) / cos(truth.lean)
        yield (name, "slot stop"), (along - kerf / 2 * slant,)
    yield from _of_side_dots(truth)
    (tx, ty), (bx, by) = board["edges"][0][0], board["edges"][1][0]
    if "frets" in truth.plan["strings"][0]:
        # From the nut's bass end across the neck, where the board's edge is.
        bass = abs(by)
        strings = {each["no"]: each for each in truth.plan["strings"]}
        at = {no: bass + each["nut"][1] * truth.side for no, each in strings.items()}
        for no, string in strings.items():
            beyond = at[no + 1] + strings[no + 1]["gauge"] / 2 if no + 1 in at else 0.0
            yield (f"string {no}", "slot"), (at[no],)
            yield (f"string {no}", "gap"), (at[no] - string["gauge"] / 2 - beyond,)
    for kind in ("depth", "left", "planed", "wire", "binding_length"):
        yield ("", f"board {kind}"), (board[kind],)
    stated, wire = truth.job["fingerboard"], truth.job.get("fret_wire", {})
    lengths = {
        "board thick": truth.job["neck"]["board_thickness"],
        "board radius": stated["radius"],
        "board radius end": stated.get("radius_at_end", stated["radius"]),
        "dot": stated.get("dot_diameter", "6 mm"),
        "kerf": wire.get("slot", "0.58 mm"),
        "tang": wire.get("tang", "1.6 mm"),
    }
    for kind, value in lengths.items():
        yield ("", kind), (truth.length(value),)


def _of_side_dots(truth: Truth) -> Iterator[Fact]:
    """On the bass edge midway between a fret and the one before; of two, each 1.5 diameters off along that edge."""
    stated = truth.job["fingerboard"]
    if "side_dot" not in stated:
        return
    wide = truth.length(stated["side_dot"])
    yield ("", "dot aside"), (wide,)
    ends = {each["n"]: each["bass"] for each in truth.plan["frets"]}
    for key, offs in (("dots", (0.0,)), ("double_dots", (-1.5 * wide, 1.5 * wide))):
        for n in stated.get(key, ()):
            (ax, ay), (bx, by) = ends[n - 1], ends[n]
            along = cos(atan2(by - ay, bx - ax))
            places = (((ax + bx) / 2 + off * along - truth.nut) / cos(truth.lean) for off in offs)
            yield (f"fret {n}", "side dot"), tuple(places)


def _of_the_nut(nut: dict[str, Any], truth: Truth) -> Iterator[Fact]:
    for slot in nut["slots"]:
        name = f"string {slot['string']}"
        for key in ("along", "width", "floor", "from_blank", "from_top", "over_first"):
            if slot[key] is not None:
                yield (name, f"nut {key}"), (slot[key],)
        if slot["slope_deg"] is not None:
            yield (name, "nut slope"), (slot["slope_deg"],)
    slopes = [slot["slope_deg"] for slot in nut["slots"] if slot["slope_deg"] is not None]
    if slopes:
        yield ("", "nut slope low"), (min(slopes),)
        yield ("", "nut slope high"), (max(slopes),)
    for key in ("length", "front", "thickness", "height", "seat"):
        yield ("", f"nut {key}"), (nut[key],)
    yield ("", "nut lean"), (abs(nut["turn_deg"]),)
    yield ("", "nut over board"), (nut["slots"][0]["over_board"],)
    setup = truth.job.get("setup", {})
    for key, value in {"action_treble": "1.6 mm", "action_bass": "2.0 mm", "relief": "0.2 mm"}.items():
        yield ("", f"nut {key}"), (truth.length(setup.get(key, value)),)


def _of_the_head(head: dict[str, Any], truth: Truth) -> Iterator[Fact]:
    """Tuner holes and trees' screws, along from the nut towards the tip; each string over the nut; a scarf joint."""
    for bore in head["bores"]:
        (x, y, _), (step,), name = bore["at"], bore["steps"], bore["id"]
        truth.by_number[bore["number"]] = name
        yield (name, "along"), (-x,)
        yield (name, "across"), (y * truth.side,)
        yield (name, "off"), (abs(y),)
        yield (name, "across bass"), (-y * truth.side,)
        yield (name, "diameter"), (step["diameter"],)
        yield (name, "bit"), (step["diameter"],)
        yield (name, "depth"), (step["depth"],)
        yield (name, "stop"), (step["depth_stop"],)
        yield (name, "bit_point"), (step["depth_stop"] - step["depth"],)
        yield (name, "point"), (step["depth_stop"],)
        if bore["screw"] is not None:
            yield (name, "screw thread"), (bore["screw"]["thread"],)
            yield (name, "screw length"), (bore["screw"]["length"],)
    tuners = tuner_holes(head)
    for bore, string in zip(tuners, head["strings"], strict=True):
        yield (bore["id"], "breaks"), (string["break_deg"],)
        yield (bore["id"], "kinks"), (abs(string["kink_deg"]),)
    if tuners:
        yield ("", "tuner bit"), (tuners[0]["steps"][0]["diameter"],)
    yield ("", "head thick"), (head["thickness"],)
    if head["scarf"] is not None:
        yield ("", "scarf stock"), (truth.length(truth.job["head"]["stock"]),)
        yield ("", "head lean"), (float(truth.job["head"]["angle"]),)
        yield ("", "scarf face"), (head["scarf"]["face"],)
        yield ("", "scarf flat"), (head["scarf"]["flat"],)


def tuner_holes(head: dict[str, Any]) -> list[dict[str, Any]]:
    """Of the head's holes those of its tuners."""
    return [bore for bore in head["bores"] if bore["role"] == "tuner hole"]
