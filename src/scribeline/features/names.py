"""What cuts are called: the numbers holes carry on drawings and cards, and cuts and faces in words."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from scribeline.features.cuts import Bore, Feature, Pocket, slope_deg

_LEVEL = 0.05
"""A slope under this is printed as 0.0 and said to be level, degrees."""

_BALLOON = {
    "bridge-screw": "B",
    "bridge-stud": "B",
    "bridge-post": "B",
    "tailpiece-stud": "E",
    "string-hole": "S",
    "ferrule-hole": "F",
    "ground-wire": "G",
    "jack": "J",
    "jack-screw": "J",
    "strap-button": "K",
    "neck-screw": "N",
    "heel-pilot": "P",
    "tuner-hole": "M",
    "tree-screw": "R",
    "control": "C",
    "hole": "H",
    "cover-screw": "V",
    "claw-screw": "L",
    "tunnel": "T",
}
_FACES = {"top": "the top", "back": "the back", "edge": "the body's edge"}


def balloon(feature_id: str) -> str:
    """The short number a hole carries on drawings and cards, one letter a family.

    S string holes, F ferrule holes, B what holds the bridge, E what holds a tailpiece, G ground wire, T tunnels, N neck
    screws, P the heel's pilots, M tuners' holes, R string trees' screws, C controls' shafts, H the holes of the job's own
    list, V covers' screws, L a claw's, J the jack and its screws, K strap buttons; numbered in the job's order.
    """
    stem, _, number = feature_id.rpartition("-")
    return f"{_BALLOON[stem]}{number}" if stem in _BALLOON else _BALLOON.get(feature_id, feature_id)


def runs(numbers: Sequence[str]) -> str:
    """Hole numbers with those that run on by one drawn together: "B1 to B5, S1, S2"."""
    found: list[list[str]] = []
    for number in numbers:
        if found and _counted(number) is not None and _counted(number) == _counted(found[-1][-1], 1):
            found[-1].append(number)
        else:
            found.append([number])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(run) for run in found)


def _counted(number: str, more: int = 0) -> tuple[str, int] | None:
    """A number's letter and its count; None for what is not counted."""
    found = re.fullmatch(r"(\D+)(\d+)", number)
    return None if found is None else (found[1], int(found[2]) + more)


_SWITCH = re.compile(r"switch|toggle|selector", re.IGNORECASE)


def control_hole(control: str) -> str:
    """What the hole for a control is called: a switch hole where its name speaks of a switch, else a pot hole.

    Args:
        control: the name that the job gives it.
    """
    return "switch hole" if _SWITCH.search(control) else "pot hole"


def together(names: Iterable[str]) -> str:
    """Several names as one, each once; what all end in is said once, in the plural: bridge-pickup and neck-pickup cavities."""
    words = [name.split(" ") for name in dict.fromkeys(names)]
    if len(words) == 1:
        return " ".join(words[0])
    tail: list[str] = []
    while min(map(len, words)) > 1 and len({each[-1] for each in words}) == 1:
        tail.insert(0, words[0][-1])
        words = [each[:-1] for each in words]
    *most, last = (" ".join(each) for each in words)
    return " ".join((f"{', '.join(most)} and {last}", *tail[:-1], *map(_plural, tail[-1:])))


def _plural(word: str) -> str:
    if word.endswith(("ss", "x", "ch", "sh")):
        return f"{word}es"
    if word.endswith("y") and word[-2:-1] not in "aeiou":
        return f"{word[:-1]}ies"
    return word if word.endswith("s") else f"{word}s"


def row_in_words(bores: Sequence[Bore]) -> str:
    """What the holes of one operation are called in a sentence; those for controls go by their size, a length like any other."""
    first = bores[0]
    if first.family == "control":
        kinds = sorted({control_hole(bore.holds).split()[0] for bore in bores})
        return f"{first.deepest.bit.size_in_words} {' and '.join(kinds)} holes"
    return first.role if first.family == "tunnel" else together(bore.group for bore in bores)


def slope_words(bore: Bore) -> str:
    """How steeply a slanting hole runs: the angle its guide block is cut to."""
    slope = slope_deg(bore)
    return "level with the faces" if slope < _LEVEL else f"{slope:.1f}° from the face"


def nearest_in_words(features: Iterable[Feature], nearest: str) -> str:
    """What something comes nearest to: a hole's number, "the" cavity, or "the" face.

    Args:
        features: the cuts there are.
        nearest: the id of one of them, "top", "back" or "edge"; a carved surface goes by its own name.
    """
    if nearest in _FACES:
        return _FACES[nearest]
    cut = next((cut for cut in features if cut.id == nearest), None)
    if isinstance(cut, Bore) and balloon(cut.id) != cut.id:
        return balloon(cut.id)
    if isinstance(cut, Pocket):
        return f"the {cut.in_words}"
    return nearest if cut is None else f"the {cut.role}"
