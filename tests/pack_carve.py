"""What a pack says of a neck that is carved here: its numbers by plan.json, and the words round them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from tests.pack_rules import Text, apply, rule

if TYPE_CHECKING:
    from tests.pack_truth import Truth

PLACES = {
    "fret-1": ("Fret 1", "fret 1", "fret 1"),
    "fret-5": ("Fret 5", "fret 5", "fret 5"),
    "fret-7": ("Fret 7", "fret 7", "fret 7"),
    "fret-12": ("Fret 12", "fret 12", "fret 12"),
    "heel-begins": ("Where the heel's curve begins", "where the heel's curve begins", "heel begins"),
    "heel-half-way": ("Half-way into the heel's curve", "half-way into the heel's curve", "heel half way"),
}
"""How a place is called on its template, in a list, and on the side."""

TEMPLATES = ("Neck sections", "Neck from the side")
CARD_IDS = ("rout-channels", "glue-board", "carve-neck")


def facts(carve: dict[str, Any], truth: Truth) -> Iterator[tuple[tuple[str, str], tuple[float, ...]]]:
    """Numbers of the back by (id, kind)."""
    for each in carve["stations"]:
        for key in ("x", "width", "depth", "thickness", "facet_down", "facet_in"):
            yield (each["id"], f"back {key}"), (each[key],)
    for each in carve["channels"]:
        for key in ("width", "from", "to", "depth", "depth_at_ends", "wood"):
            yield (each["name"], f"channel {key}"), (each[key],)
        yield (each["name"], "channel before"), (-each["from"],)
        yield (each["name"], "channel across"), (each["across"],)
        yield (each["name"], "channel aside"), (abs(each["across"]),)
    for key in ("length", "width", "thickness"):
        yield ("", f"blank {key}"), (carve["blank"][key],)
    for kind, value in zip(("begins", "ends"), carve["heel_curve"], strict=True):
        yield ("", f"curve {kind}"), (value,)
    steps = {each["id"]: each for each in truth.plan["steps"]}
    _, twelfth = steps["carve-neck"]["gate"]["asks"]
    yield ("", "at 12 low"), (twelfth["low"],)
    yield ("", "at 12 high"), (twelfth["high"],)
    yield ("", "at 12 value"), (twelfth["value"],)
    if head := truth.job.get("head"):
        reach = max(truth.length(head["hole"]), truth.length(head.get("housing", 15))) / 2
        usual = min(25.0, truth.length(head["first_post"]) - reach)
        yield ("", "flat from"), (truth.length(head["back_curve"]) if "back_curve" in head else usual,)
    stated = truth.job["neck_blank"]
    if "volute_height" not in stated:
        return
    place = str(stated.get("volute_at", 0))
    at = truth.length(place.removeprefix("-")) * (-1 if place.startswith("-") else 1)
    half = truth.length(stated["volute_length"]) / 2
    yield ("", "volute"), (truth.length(stated["volute_height"]),)
    yield ("", "volute before"), (half - at,)
    yield ("", "volute past"), (half + at,)


_BACK = "{{back x:{0}}} from the nut {{back width:{0}}} wide {{back depth:{0}}} deep under the board "
_BACK += "{{back thickness:{0}}} thick with it facet: {{back facet_down:{0}}} down the side, {{back facet_in:{0}}} from"
_ROW = "{{back x:{0}}} {{back thickness:{0}}} {{back depth:{0}}} {{back width:{0}}} {{back facet_down:{0}}} {{back facet_in:{0}}}"
_CHANNEL = "{{channel width:{0}}} {{channel across:{0}}} {{channel from:{0}}} {{channel to:{0}}} {{channel depth:{0}}} "
_CHANNEL += "{{channel depth_at_ends:{0}}} {{channel wood:{0}}}"

SECTIONS = tuple(rule(f"{first} {_BACK.format(each)}") for each, (first, _, _) in PLACES.items())
SIDE = tuple(rule(f"{short}: {{back thickness:{each}}}") for each, (_, _, short) in PLACES.items())

LISTS = (
    rule(
        r"neck, (?:with the piece for its scarfed head|with its head in one piece) {blank length} {blank width} {blank thickness}"
    ),
    rule(r"curve runs from {curve begins} to {curve ends} ?, counted"),
    *(rule(f"{name} {_ROW.format(each)}") for each, (_, name, _) in PLACES.items()),
    *(rule(f"{name} {_CHANNEL.format(name)}") for name in ("truss rod", "treble bar", "bass bar")),
    rule(r"Blank, planed, [^:]*: {blank length} × {blank width} × {blank thickness}"),
    *SIDE,
)
"""The sheet."""

CARDS = (
    rule(r"takes a blank of {blank length} by {blank width} by {blank thickness}"),
    rule(
        r"truss rod's channel: {channel width:truss rod} wide, {channel depth:truss rod} deep, on the centreline, from "
        r"(?:{channel from:truss rod}|{channel before:truss rod} before the nut) to {channel to:truss rod} from the nut"
    ),
    rule(
        r"bars' channels: {channel width:treble bar} wide, {channel depth:treble bar} deep, their middles "
        r"{channel aside:treble bar} to either side of the centreline, from {channel from:treble bar} to {channel to:treble bar}"
    ),
    rule(r"A {~feeler} feeler goes into no glue line"),
    rule(r"heel square from {curve ends} on; its curve begins at {curve begins}"),
    rule(
        "these thicknesses, board included: "
        + " ?; ".join(f"{name} {{back thickness:{each}}}" for each, (_, name, _) in PLACES.items())
    ),
    rule(
        r"Fret 1: {back facet_down:fret-1} under the board on the sides, {back facet_in:fret-1} from the middle of the back\. "
        r"Fret 12: {back facet_down:fret-12} ?, {back facet_in:fret-12}"
    ),
    rule(
        r"the volute, {volute} over the back in its middle, from {volute before} before the nut to {volute past} past"
    ),
    rule(r"flat from {flat from} beyond the nut on"),
    *SIDE,
)
"""The cards, but for what their gates take."""

GATES = (
    rule(r"limits at fret 1 {low:carve-neck} to {high:carve-neck}"),
    rule(r"Fret {~box}"),
)


def read_template(text: Text) -> None:
    """A page of the sections or of the side."""
    for title, rules in zip(TEMPLATES, (SECTIONS, SIDE), strict=True):
        if f" {title} revision" in text.marked:
            apply(text, rules, [""])


def read_sheet(text: Text) -> None:
    """The sheet of the back."""
    if text.where.endswith(("Neck's back", "What to get, parts, findings")):
        apply(text, LISTS, [""])


def read_card(text: Text) -> None:
    """A card, in print or on a screen."""
    apply(text, CARDS, [""])
    if "Carve the neck's back" in text.marked:
        apply(text, GATES, [""])


def asked(truth: Truth, output: str) -> set[tuple[str, str]]:
    """What an output must say of every place and every channel."""
    whole = {"x", "width", "depth", "thickness", "facet_down", "facet_in"}
    kinds = {"templates.pdf": whole, "sheets.pdf": whole, "steps.pdf": {"thickness"}, "app": {"thickness"}}[
        output
    ]
    wanted = {(each["id"], f"back {kind}") for each in truth.plan["carve"]["stations"] for kind in kinds}
    if output == "sheets.pdf":
        keys = ("width", "across", "from", "to", "depth", "depth_at_ends", "wood")
        every = truth.plan["carve"]["channels"]
        wanted |= {(each["name"], f"channel {key}") for each in every for key in keys}
    return wanted
