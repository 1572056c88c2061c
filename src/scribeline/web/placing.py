"""What stands on a drawing of the plan besides the drawing: cuts to be moved, checks where they are, places from the datums.

The page's script shows it over the drawing, in lettering that keeps its size, and moves what is picked with a finger. All
places are of the instrument frame, mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import hypot, inf
from typing import Any, Literal

from scribeline.features import DRIFT, Bore, Feature, Features, Pocket
from scribeline.findings import Finding
from scribeline.job import Document, StatedPlace, stated_place
from scribeline.lengths import MM_PER_INCH, by_inches, own_unit
from scribeline.plan import Plan
from scribeline.solid import find_webs
from scribeline.web.drawings import SCALE
from scribeline.web.numbers import name_of

TAKES_ALONG = 15.0
"""Holes this near round a cavity, all of a row, are taken for its own: a pickup ring's screws, mm."""

STEP_MM = 0.5
STEP_IN = float(MM_PER_INCH) / 64
"""What a dragged place comes to rest on, mm: no rule sets out finer."""

_FINE = 0.15
"""An outline that is only measured from while a finger moves is so far off at most, mm."""

Face = Literal["top", "back"]


@dataclass(frozen=True, slots=True)
class Along:
    """What goes where something else goes, if the builder wants it to.

    Attributes:
        key: of the job, as `job.stated_place` takes it.
        words: what it is.
        usual: whether it usually does.
    """

    key: str
    words: str
    usual: bool


@dataclass(frozen=True, slots=True)
class Held:
    """A cut that can be moved, and how its place is told.

    Attributes:
        place: what the job states of it.
        datum: where it is counted from, from the nut, mm.
        takes: what may go with it.
    """

    place: StatedPlace
    datum: float
    takes: tuple[Along, ...]

    @property
    def along(self) -> float:
        """Its middle from there, mm."""
        return self.place.middle[0]

    @property
    def across(self) -> float:
        """Its middle from the centreline towards the treble, mm."""
        return self.place.middle[1]

    @property
    def from_words(self) -> str:
        """What it is counted from, in a sentence."""
        way = "towards the nut" if self.place.towards_nut else ""
        return f"from the {self.place.x_from} {way}".strip()


def held(plan: Plan, picked: Feature | None) -> Held | None:
    """How a cut is moved; None where its place is worked out, or it is cut already."""
    if picked is None or not picked.stated or picked.id in plan.made:
        return None
    document = plan.job.document
    place = stated_place(document, picked.stated)
    if place is None:
        return None
    return Held(place, plan.layout.stated_datum(place.x_from), tuple(_takes(plan, picked, place)))


def _takes(plan: Plan, picked: Feature, place: StatedPlace) -> Iterator[Along]:
    document = plan.job.document
    if isinstance(picked, Pocket):
        for number, control in enumerate(document.controls, start=1):
            if control.into == place.name:
                yield Along(f"controls[{number}]", control.name, usual=True)
        for number, hole in enumerate(document.holes, start=1):
            if _all_near(plan, f"holes[{number}]", picked):
                yield Along(f"holes[{number}]", hole.name, usual=True)
    elif (row := _row_of(document, picked.stated)) is not None:
        yield Along(row.key, f"all {len(row.spots)} of {row.name}", usual=False)


def _row_of(document: Document, key: str) -> StatedPlace | None:
    """The whole row that one of a list's places belongs to; None where it is alone."""
    row = stated_place(document, key.partition(".places[")[0]) if key.startswith("holes[") else None
    return row if row is not None and len(row.spots) > 1 else None


def _all_near(plan: Plan, row: str, pocket: Pocket) -> bool:
    xs, ys = zip(*pocket.outline, strict=True)
    spots = [bore.at for bore in plan.features.bores if bore.stated.startswith(f"{row}.")]
    return bool(spots) and all(
        min(xs) - TAKES_ALONG <= at.x <= max(xs) + TAKES_ALONG
        and min(ys) - TAKES_ALONG <= at.y <= max(ys) + TAKES_ALONG
        for at in spots
    )


def moving(plan: Plan, keys: Iterable[str]) -> tuple[Feature, ...]:
    """The cuts whose places these keys of the job state, wholly or in part."""
    wanted = tuple(keys)
    return tuple(
        each
        for each in plan.features
        if each.stated and any(_within(each.stated, key) or _within(key, each.stated) for key in wanted)
    )


def _within(key: str, table: str) -> bool:
    return key == table or key.startswith((f"{table}.", f"{table}["))


@dataclass(frozen=True, slots=True)
class Apart:
    """How two cuts lie to each other.

    Attributes:
        ends: the middles of both, as seen from above, mm.
        wood: the least wood between them, mm, less what bits may wander; 0 where they meet.
    """

    ends: tuple[tuple[float, float], tuple[float, float]]
    wood: float

    @property
    def along(self) -> float:
        """From one middle to the other along the instrument, mm."""
        return abs(self.ends[1][0] - self.ends[0][0])

    @property
    def across(self) -> float:
        """Across it, mm."""
        return abs(self.ends[1][1] - self.ends[0][1])

    @property
    def straight(self) -> float:
        """In a straight line, mm."""
        return hypot(self.along, self.across)


def apart(plan: Plan, one: Feature, other: Feature) -> Apart:
    """What a rule laid between two cuts would read, and the wood between them as the checks count it."""
    web = next((each for each in plan.webs if {each.a, each.b} == {one.id, other.id}), None)
    if web is None:
        both = (one, other)
        pair = Features(
            tuple(each for each in both if isinstance(each, Bore)),
            tuple(each for each in both if isinstance(each, Pocket)),
        )
        web = find_webs(pair, plan.layout.thickness, near=inf, drift=DRIFT)[0]
    return Apart((_middle(one), _middle(other)), web.mm)


def _middle(cut: Feature) -> tuple[float, float]:
    if isinstance(cut, Bore):
        return cut.at.x, cut.at.y
    xs, ys = zip(*cut.outline, strict=True)
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def on_drawing(
    plan: Plan, face: Face, picked: Feature | None, hold: Held | None, between: Apart | None = None
) -> dict[str, Any]:
    """All of it for the page's script, as plain values."""
    dims = [] if picked is None else list(_dims(plan, picked, hold))
    if between is not None:
        a, b = between.ends
        dims = [{"a": [*a], "b": [*b], "words": own_unit(between.straight, plan.unit)}]
    return {
        "face": face,
        "scale": SCALE,
        "treble": plan.layout.treble,
        "inches": by_inches(plan.unit),
        "marks": list(_marks(plan)),
        "dims": dims,
        **({} if picked is None or hold is None else _to_hold(plan, picked, hold)),
    }


def _to_hold(plan: Plan, picked: Feature, hold: Held) -> dict[str, Any]:
    body = plan.layout
    return {
        "body": _outline(body.outline),
        "things": [
            _thing(each, plan, _sets_in_line(plan, each, picked))
            for each in plan.features
            if _can_be_met(each)
        ],
        "held": {
            "id": picked.id,
            "datum": hold.datum,
            "from": hold.from_words,
            "back": hold.place.towards_nut,
            "at": [hold.along, hold.across],
            "step": STEP_IN if by_inches(plan.unit) else STEP_MM,
            "edge": isinstance(picked, Bore) and picked.face == "edge",
            "moves": {
                key: [each.id for each in moving(plan, (key,))]
                for key in (hold.place.key, *(each.key for each in hold.takes))
            },
        },
    }


def _sets_in_line(plan: Plan, cut: Feature, picked: Feature) -> bool:
    """Whether a cut is set in line with another: cavities, and holes of its own family."""
    if isinstance(cut, Pocket):
        own = any(cut.role == each.name for each in plan.job.document.pockets)
        return own and (isinstance(picked, Pocket) or picked.family in {"control", "hole"})
    return isinstance(picked, Bore) and cut.family == picked.family


def _can_be_met(cut: Feature) -> bool:
    """Whether its wood can be told from above: an upright hole or a cavity."""
    return isinstance(cut, Pocket) or (cut.face in {"top", "back"} and cut.is_upright)


def _thing(cut: Feature, plan: Plan, alike: bool) -> dict[str, Any]:
    """A cut as seen from above, from which height to which it goes, and whether one sets others in line with it."""
    top = plan.layout.thickness
    depth = max(cut.depths) if isinstance(cut, Pocket) else cut.deepest.depth
    heights = [top - depth, top] if cut.face == "top" else [0.0, depth]
    meets = sorted(cut.meets | {each.id for each in plan.features if cut.id in each.meets})
    shape: dict[str, Any] = (
        {"ring": _outline(cut.outline)}
        if isinstance(cut, Pocket)
        else {"at": [cut.at.x, cut.at.y], "r": cut.widest / 2}
    )
    return {"id": cut.id, "name": name_of(cut), "z": heights, "meets": meets, "lines": alike, **shape}


def _outline(ring: Iterable[tuple[float, float]]) -> list[list[float]]:
    import shapely

    thin = shapely.Polygon(ring).simplify(_FINE).exterior.coords[:-1]
    return [[round(x, 2), round(y, 2)] for x, y in thin]


def _marks(plan: Plan) -> Iterator[dict[str, Any]]:
    """The stops and cautions that have a place, where they are."""
    cuts = {each.id: each for each in plan.features}
    for finding in plan.findings:
        if finding.severity == "note" or finding.override is not None:
            continue
        place = _where(plan, finding, cuts)
        if place is not None:
            ref = next(each for each in finding.features if each in cuts)
            words = finding.message[:1].upper() + finding.message[1:]
            yield {"at": [*place], "severity": finding.severity, "ref": ref, "words": words}


def _where(plan: Plan, finding: Finding, cuts: dict[str, Feature]) -> tuple[float, float] | None:
    """Where the wood is least that a finding is about, else the middle of its first cut."""
    own = [each for each in finding.features if each in cuts]
    if not own:
        return None
    pair = next((w for w in plan.webs if w.places is not None and {w.a, w.b} == set(own)), None)
    if pair is not None and pair.places is not None:
        a, b = pair.places
        return (a.x + b.x) / 2, (a.y + b.y) / 2
    return _middle(cuts[own[0]])


def _dims(plan: Plan, picked: Feature, hold: Held | None) -> Iterator[dict[str, Any]]:
    """A cut's place as it is read at the bench: along from its datum, and across from the centreline.

    Of a cavity, whose cards read its walls, its middle as the job states it.
    """
    read = next(
        (place for card in plan.cards for place in card.places if place.feature == picked.id and place.along),
        None,
    )
    if read is not None:
        (x, y, _), across = read.at, read.across.mm
        datum, along = read.nearest.datum.point.x, read.nearest.mm
        words = f"from {read.nearest.datum.words}"
    elif isinstance(picked, Pocket) and hold is not None:
        x, y, across = hold.datum + hold.along, hold.across * plan.layout.treble, hold.across
        datum, along, words = hold.datum, hold.along, hold.from_words
    else:
        return
    yield {"a": [datum, y], "b": [x, y], "words": f"{own_unit(abs(along), plan.unit)} {words}"}
    if abs(across) > 0.005:
        yield {"a": [x, 0.0], "b": [x, y], "words": own_unit(abs(across), plan.unit)}
