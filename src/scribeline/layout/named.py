"""The layout's numbers by name, with how each comes about: frets, strings, bridge, and what is measured at the bench.

Ids begin with what they are about: `fret-12`, `string-3.compensation`, `bridge.x`. Distances along are from the nut
where nothing else is said; distances across, from the centreline towards the treble side, are the same for either hand.
"""

from __future__ import annotations

from functools import cache, partial, reduce
from operator import add
from typing import TYPE_CHECKING, Literal

from scribeline.job import NECK_POCKET, Document, Job, Record
from scribeline.job.reading import feature_id
from scribeline.job.stated import name_stated
from scribeline.layout.bench import apart, beyond, measurables, off_the_centreline, twelfth_readings
from scribeline.layout.bridges import BridgePlace, Mark, kind_of
from scribeline.layout.frets import taper
from scribeline.layout.heights import (
    along_body,
    arch_radius,
    crowns_leaning,
    crowns_over,
    crowns_over_core,
    level_scale,
    neck_lie,
    over_body,
    string_in_the_middle,
    string_leaning,
    sunk,
)
from scribeline.layout.instrument import Layout, StringPath, bridge_by_neck, saddle_across
from scribeline.layout.named_board import name_board
from scribeline.layout.named_carve import name_carve
from scribeline.layout.named_fan import fan_margin, name_fan, name_string_on_fan, name_twelfth_corners
from scribeline.layout.named_head import name_head
from scribeline.layout.named_nut import name_nut
from scribeline.layout.neck_line import SIDES, neck_stations
from scribeline.layout.paths import (
    bridge_place,
    edge_margin,
    even_slot,
    first_slot,
    next_slot,
    side_margin,
    slot_gap,
    string_at,
)
from scribeline.layout.pose import Pose, lean
from scribeline.layout.stringing import unit_limit, unit_turn
from scribeline.quantities import Formula, Input, Quantities, Quantity, cos, greatest, least, sin
from scribeline.strings import (
    TWELVE,
    bow,
    end_of_travel,
    equal_steps,
    farthest_wanted,
    fret_place,
    line_at,
    midway,
    nearest_wanted,
    octave_fret,
    roots_of_spread,
)

if TYPE_CHECKING:
    from scribeline.strings import Prediction

_DATUMS = {
    "nut": "the-nut",
    "12th fret": "12th-level",
    "pocket end": "pocket-end",
    "scale line": "scale-line",
}
"""By what a job calls a place that positions are counted from, the name of its distance from the nut, level along the body."""

_ALONG = {"12th-level": "fret-12", "nut-level": "the-nut"}
"""The same along the neck, which is all there is where that lies level."""


def datum_number(found: Quantities, called: str) -> str:
    """The name of the number of a place that a job counts from."""
    return _leveled(found, _DATUMS[called])


def _leveled(found: Quantities, name: str) -> str:
    return name if name in found else _ALONG.get(name, name)


def name_layout(found: Quantities, job: Job, record: Record, layout: Layout) -> None:
    """Name what the job states and what the layout makes of it."""
    name_stated(found, job)
    document = job.document
    _frets(found, document)
    if document.scale.is_fanned:
        name_fan(found, document)
    leans = "" if neck_lie(document).is_level else "the neck leans back"
    if document.scale.is_fanned or layout.neck_lies is not None:
        twelfth, treble = layout.frets[11], layout.treble
        corners = {
            side: (at.x, at.y * treble) for side, at in (("treble", twelfth.treble), ("bass", twelfth.bass))
        }
        name_twelfth_corners(found, given=_ON_LINE if layout.neck_lies else leans, places=corners)
    _datums(found, document, record, layout)
    name_board(found, document, layout)
    name_carve(found, document, layout)
    name_head(found, document, layout.head)
    _nut(found, document)
    _wanted(found, document, layout)
    _bridge(found, document, layout)
    if layout.bridge is not None and layout.neck_lies is not None:
        _by_the_neck(found, layout, layout.neck_lies, layout.bridge)
    for string in layout.strings:
        _string(found, document, layout, string)
    name_nut(found, document, layout)
    if layout.stringing.is_placed:
        _closed(found, document)
    if layout.bridge is not None:
        kind_of(document.bridge).name_numbers(found, document, layout)
        _travels(found, document, "neck-" if layout.neck_lies is not None else "")
    _bench(found, document, layout)


_ON_LINE = "on the neck's line as it was read (docs/as-built.md)"


def same(of: float) -> float:
    """The number as it is: a second name for what has one."""
    return of


def _frets(found: Quantities, document: Document) -> None:
    board = {
        "nut_width": "nut.width",
        "end": "fingerboard.end",
        "end_width": "fingerboard.width_at_end",
    }
    for no in range(1, document.scale.frets + 1):
        fret, cents = f"fret-{no}", f"scale.temperament_cents[{no}]"
        if document.scale.temperament_cents is None:
            cents, divided = f"{fret}.cents", document.scale.divisions
            steps: dict[str, str | float] = {"fret": float(no)}
            steps["divisions"] = TWELVE if divided is None else "scale.divisions"
            found.work(
                cents,
                equal_steps,
                steps,
                what=f"fret {no} over the open string",
                unit="cents",
                source="twelve-tone equal temperament" if divided is None else "an octave divided evenly",
            )
        elif document.scale.is_fanned:
            what = f"fret {no} over the open string"
            found.work(f"{fret}.cents", same, {"of": cents}, what=what, unit="cents")
        if not document.scale.is_fanned:
            found.work(
                fret,
                fret_place,
                {"length": "scale.length", "cents": cents},
                what=f"the nut to the centre of fret {no}",
                source="a string's pitch goes as 1/length (Mersenne's law)",
            )
        found.work(f"{fret}.width", taper, {"along": fret, **board}, what=f"the board's width at fret {no}")


def _scale_line(found: Quantities, document: Document, layout: Layout) -> None:
    lie, length = neck_lie(document), "scale-middle" if document.scale.is_fanned else "scale.length"
    if lie.is_level:
        found.work("scale-line", same, {"of": length}, what="the nut to the scale line")
        return
    compensation, over = string_in_the_middle(document, layout.stringing)
    through = document.neck.runs_through
    stack = {"heel": "neck.heel_thickness", "crown": "fret_wire.crown_height"}
    words = "the frets' crowns over the heel's underside"
    if through:
        stack["heel"], words = "neck.board_thickness", "the frets' crowns over the board's underside"
    found.work("crowns-over-heel", _sum_of, stack, what=words)
    lies: dict[str, str | float] = {
        "end": _neck_end(document),
        "stack": "crowns-over-heel",
        "angle": "neck.lean",
    }
    found.work(
        "scale-line",
        level_scale,
        {
            "scale": length,
            "compensation": compensation,
            "over": over,
            **lies,
        },
        what="the scale line, level along the body, with the strings' mean compensation and height over the frets",
    )
    for name, along, words in (
        ("12th-level", "fret-12", "the 12th fret"),
        ("nut-level", "the-nut", "the nut"),
    ):
        found.work(name, _level_place, {"along": along, **lies}, what=f"{words}, level along the body")


def _neck_end(document: Document) -> str:
    """The key of where the neck ends over the body: see `Document.neck_end`."""
    return "fingerboard.end" if document.neck.runs_through else "neck.pocket_end"


def _level_place(along: float, end: float, stack: float, angle: float) -> float:
    level: float = along_body(along - end, stack, angle)
    return end + level


def _sum_of(heel: float, crown: float) -> float:
    return heel + crown


def _datums(found: Quantities, document: Document, record: Record, layout: Layout) -> None:
    start = document.nut.start("the nut's front edge")
    found.give("the-nut", 0.0, what=start, source="everything along is counted from here")
    _crowns(found, document)
    _scale_line(found, document, layout)
    words = f"the nut to {layout.datum('pocket-end').words}"
    if document.neck.runs_through and not neck_lie(document).is_level:
        lies: dict[str, Input] = {"stack": "crowns-over-heel", "angle": "neck.lean", "end": "fingerboard.end"}
        found.work(
            "pocket-end",
            _level_place,
            {"along": "fingerboard.end", **lies},
            what=f"{words}, level along the body",
        )
    elif feature_id(NECK_POCKET) not in record.made_pockets:
        found.work("pocket-end", same, {"of": _neck_end(document)}, what=words)
    else:
        found.give("pocket-end", layout.pocket_end, what=words, source="as routed, on the record of the job")


def _crowns(found: Quantities, document: Document) -> None:
    """How the neck lies in the body."""
    if document.neck.runs_through:
        _crowns_over_core(found)
        return
    stack = {"heel": "neck.heel_thickness", "pocket": "neck.pocket_depth", "crown": "fret_wire.crown_height"}
    words = "the frets' crowns over the body's top, above the pocket's end wall"
    found.work(
        "neck.lean",
        lean,
        {"angle": "neck.angle", "shim": "neck.shim", "pocket": "neck.pocket_length"},
        what="how far the neck leans back: its pocket's floor, and a taper shim under the heel's end",
        unit="rad",
    )
    if neck_lie(document).is_level:
        found.work("crowns-over-body", crowns_over, stack, what=words)
    else:
        leaning = {**stack, "shim": "neck.shim", "lean": "neck.lean"}
        found.work("crowns-over-body", crowns_leaning, leaning, what=words, source=_LEANING)


def _crowns_over_core(found: Quantities) -> None:
    """The same of a neck that runs through it."""
    words = "how far the neck leans back: the core is planed so under the board"
    found.work("neck.lean", same, {"of": "neck.angle"}, what=words, unit="rad")
    found.work(
        "crowns-over-body",
        crowns_over_core,
        {
            "stands": "neck.board_over_body",
            "board": "neck.board_thickness",
            "crown": "fret_wire.crown_height",
            "lean": "neck.lean",
        },
        what="the frets' crowns over the body's top, at the board's end",
        source="the neck turns about the end of the board's underside (docs/heights.md)",
    )


_LEANING = (
    "the neck turns about the heel's lower end, at the pocket's end wall; one that runs through about the end of its board's "
    "underside (docs/heights.md)"
)


def _nut(found: Quantities, document: Document) -> None:
    strings, nut = document.strings, document.nut
    gauges = {f"gauge_{no}": f"strings[{no}].gauge" for no in range(1, len(strings) + 1)}
    last = len(strings)
    found.work(
        "nut.gap",
        _gap,
        {"width": "nut.width", "edge": "nut.edge", "strings": float(last), **gauges},
        what="the space between neighbouring strings at the nut, equal gaps",
    )
    for no in range(1, last + 1):
        slot, words = f"string-{no}.slot", f"string {no}'s slot, from the first string's edge of the nut"
        own = f"strings[{no}].gauge"
        if no == 1:
            found.work(slot, first_slot, {"edge": "nut.edge", "gauge": own}, what=words)
        elif nut.spacing == "equal gaps":
            before = {"slot": f"string-{no - 1}.slot", "before": f"strings[{no - 1}].gauge"}
            found.work(slot, next_slot, {**before, "gap": "nut.gap", "gauge": own}, what=words)
        elif no == last:
            found.work(slot, _last_slot, {"width": "nut.width", "edge": "nut.edge", "gauge": own}, what=words)
        else:
            ends = {"first": "string-1.slot", "last": f"string-{last}.slot"}
            found.work(slot, even_slot, {**ends, "no": float(no), "strings": float(last)}, what=words)
        found.work(
            f"string-{no}.nut-across",
            _from_middle,
            {"width": "nut.width", "slot": slot},
            what=f"string {no} at the nut, from the centreline to the treble",
        )


def _gap(width: float, edge: float, strings: float, **gauges: float) -> float:
    return slot_gap(width, edge, reduce(add, gauges.values()), strings)


def _last_slot(width: float, edge: float, gauge: float) -> float:
    return width - first_slot(edge, gauge)


def _from_middle(width: float, slot: float) -> float:
    return width / 2 - slot


def _wanted(found: Quantities, document: Document, layout: Layout) -> None:
    """Where every set wants its saddles."""
    stringing = layout.stringing
    roots = {
        name: _Roots(each, f"string_sets[{k}].strings", f"set-{k}.")
        for k, (name, each) in enumerate(stringing.others.items(), start=1)
    }
    own = None if stringing.prediction is None else _Roots(stringing.prediction)
    sets = stringing.past_the_scale() if stringing.is_placed else ()
    for no in range(1, len(document.strings) + 1):
        name, words = f"string-{no}.compensation", f"string {no} leaves its saddle past the scale line by"
        if stringing.stated[no - 1]:
            found.work(name, same, {"of": f"strings[{no}].setback"}, what=words)
        elif own is not None:
            found.state(name, partial(_predicted, found, name, no, words, own))
        else:
            found.give(name, 0.0, what=words, source="nothing could be worked out from the strings")
        for k, each in enumerate(sets[1:], start=1):
            other, words = f"string-{no}.compensation-{k}", f"the same with {each.name}"
            if all(stringing.stated):
                source = "the stated one, moved by the change that is predicted (docs/strings.md)"
                found.give(other, each.setback[no - 1], sd=each.sd[no - 1], what=words, source=source)
            else:
                found.state(other, partial(_predicted, found, other, no, words, roots[each.name]))
        if sets:
            _reach(found, no, [each.sd[no - 1] for each in sets], fanned=document.scale.is_fanned)


def _reach(found: Quantities, no: int, sds: list[float], *, fanned: bool) -> None:
    names = [f"string-{no}.compensation", *(f"string-{no}.compensation-{k}" for k in range(1, len(sds)))]
    if fanned:
        names = [_past_the_middle(found, no, each) for each in names]
    inputs = {f"setback_{k}": name for k, name in enumerate(names)}
    doubts = {f"sd_{k}": sd for k, sd in enumerate(sds)}
    for which, formula in (("nearest", _nearest), ("farthest", _farthest)):
        found.work(
            f"string-{no}.{which}",
            formula,
            {"deviations": "bench.saddle_deviations", **inputs, **doubts},
            what=f"the {'least' if which == 'nearest' else 'greatest'} compensation that any set is likely to want",
            source="the spread is covered by `bench.saddle_deviations` standard deviations",
        )


def _past_the_middle(found: Quantities, no: int, compensation: str) -> str:
    """The name of what a string wants past the middle of a fan's scale line."""
    name = compensation.replace("compensation", "past-middle")
    inputs = {"scale": f"string-{no}.offset", "target": compensation}
    found.work(
        name, beyond_scale, inputs, what=f"where saddle {no} is wanted past the middle of the scale line"
    )
    return name


def _of_all(one: Formula, deviations: float, numbers: dict[str, float]) -> list[float]:
    count = len(numbers) // 2
    return [one(numbers[f"setback_{k}"], numbers[f"sd_{k}"], deviations) for k in range(count)]


def _nearest(deviations: float, **numbers: float) -> float:
    return least(*_of_all(nearest_wanted, deviations, numbers))


def _farthest(deviations: float, **numbers: float) -> float:
    return greatest(*_of_all(farthest_wanted, deviations, numbers))


class _Roots:
    """A prediction, and what the doubt of each of its compensations comes from, worked out once that is asked for."""

    def __init__(self, prediction: Prediction, strings: str = "strings", of_set: str = "") -> None:
        self.prediction, self.strings = prediction, strings
        self.of = cache(partial(roots_of_spread, prediction, of_set))


def _predicted(found: Quantities, name: str, no: int, words: str, of: _Roots) -> Quantity:
    keys = (
        "scale.length",
        f"{of.strings}[{no}].gauge",
        "setup.action_treble",
        "setup.action_bass",
        "setup.relief",
        "nut.height_over_frets",
        "setup.free_length",
    )
    inputs = {key.rpartition(".")[2]: found[key] for key in keys}
    source = "found by steps to a fretted 12th that equals its harmonic (docs/strings.md)"
    if rests_on := of.prediction.problem.shop.rests_on:
        source += f"; with what was learnt from {rests_on}"
    value = float(of.prediction.setback[no - 1])
    return Quantity(name, words, value, "mm", "", inputs, source, of.of()[no - 1])


def _bridge(found: Quantities, document: Document, layout: Layout) -> None:
    """The target, the range about it, and where the bridge stands."""
    kind = kind_of(document.bridge)
    turn = kind.turn(document, layout.stringing)
    if turn:
        words = f"turn of the {document.bridge.noun} that is wanted; its treble end is nearer the nut"
        found.give("bridge.wanted-turn", turn, what=words, unit="rad", source=kind.turn_in_words(document))
    if layout.stringing.is_placed:
        _window(found, document, turned=bool(turn))
    if layout.bridge is not None:
        _stands(found, document, layout, layout.bridge)


def _window(found: Quantities, document: Document, *, turned: bool) -> None:
    """Where the bridge's line may lie for every saddle to reach its place, and the best place of it."""
    line = document.bridge.counted_from
    if document.bridge.single:
        _unit_limits(found, document)
    else:
        (_turned_limits if turned else _limits)(found, document)
        limits = {"one": "bridge.front-limit", "other": "bridge.back-limit"}
        found.work("bridge.target", midway, limits, what=f"the best place of the {line} past the scale line")
    for which, limit, formula in (("low", "back", _low), ("high", "front", _high)):
        found.work(
            f"bridge.window-{which}",
            formula,
            {"scale": "scale-line", "limit": f"bridge.{limit}-limit", "reserve": "bench.saddle_reserve"},
            what=f"the {'least' if which == 'low' else 'greatest'} distance of the {line} from the nut",
        )


def _limits(found: Quantities, document: Document) -> None:
    strings, line = range(1, len(document.strings) + 1), document.bridge.counted_from
    found.work(
        "bridge.front-limit",
        _front_limit,
        {"forward": "bridge.saddle_forward", **{f"nearest_{no}": f"string-{no}.nearest" for no in strings}},
        what=f"the {line} past the scale line, with the first saddle at the end of its travel forward",
    )
    found.work(
        "bridge.back-limit",
        _back_limit,
        {"back": "bridge.saddle_back", **{f"farthest_{no}": f"string-{no}.farthest" for no in strings}},
        what=f"the {line} past the scale line, with the first saddle at the end of its travel back",
    )


def _turned_limits(found: Quantities, document: Document) -> None:
    """The same where the bridge stands turned: each saddle has a limit of its own."""
    strings, line = range(1, len(document.strings) + 1), document.bridge.counted_from
    for which, end, key, outermost in (
        ("front", "nearest", "forward", _first_of),
        ("back", "farthest", "back", _last_of),
    ):
        words = f"the {line} past the scale line, with"
        for no in strings:
            found.work(
                f"string-{no}.{which}-limit",
                _turned_limit,
                {
                    "wanted": f"string-{no}.{end}",
                    "across": f"string-{no}.bridge-row",
                    "stop": f"bridge.saddle_{key}",
                    "turn": "bridge.wanted-turn",
                },
                what=f"{words} saddle {no} at the end of its travel {key}",
            )
        ends = {f"of_{no}": f"string-{no}.{which}-limit" for no in strings}
        what = f"{words} the first saddle at the end of its travel {key}"
        found.work(f"bridge.{which}-limit", outermost, ends, what=what)


def _unit_limits(found: Quantities, document: Document) -> None:
    """Of single units: where each is wanted, the line they are set out from, and how far that may move with all of them."""
    strings, line = range(1, len(document.strings) + 1), document.bridge.counted_from
    for no in strings:
        string, unit, words = f"string-{no}", f"unit-{no}", f"base {no}'s front edge past the scale line"
        path = {"slot": f"{string}.nut-across", "row": f"{string}.bridge-row", "saddle": f"{string}.saddle"}
        path["nut"] = _leveled(found, "nut-level")
        if document.scale.is_fanned:
            path["nut"] = _nut_of(found, path["nut"], no)
        found.work(
            f"{unit}.wanted-turn", unit_turn, path, what=f"turn of base {no} to its string", unit="rad"
        )
        for which, end, key in (("front", "nearest", "forward"), ("back", "farthest", "back")):
            found.work(
                f"{unit}.{which}-limit",
                unit_limit,
                {"wanted": f"{string}.{end}", "stop": f"bridge.saddle_{key}", "turn": f"{unit}.wanted-turn"},
                what=f"{words}, with its saddle at the end of its travel {key}",
            )
        ends = {"one": f"{unit}.front-limit", "other": f"{unit}.back-limit"}
        found.work(f"{unit}.target", midway, ends, what=f"the best place of {words}")
        found.work(f"{unit}.spare", _half_apart, ends, what=f"how far base {no} may lie off that either way")
    each = {f"of_{no}": f"unit-{no}.target" for no in strings}
    found.work(
        "bridge.target", _midway_of, each, what=f"the {line} past the scale line, midway among the bases"
    )
    least_spare = {f"of_{no}": f"unit-{no}.spare" for no in strings}
    found.work("bridge.spare", _first_of, least_spare, what="how far all bases may lie off together")
    spare = {"target": "bridge.target", "spare": "bridge.spare"}
    for which, formula in (("front", _with), ("back", _without)):
        words = f"the {line} past the scale line, with the first saddle at an end of its travel"
        found.work(f"bridge.{which}-limit", formula, spare, what=words)


def _nut_of(found: Quantities, middle: str, no: int) -> str:
    """The name of where a string leaves a fan's nut, level along the body."""
    name = f"string-{no}.nut-x"
    found.work(
        name,
        beyond_scale,
        {"scale": middle, "target": f"string-{no}.nut-along"},
        what=f"string {no} at the nut",
    )
    return name


def _half_apart(one: float, other: float) -> float:
    return (one - other) / 2


def _midway_of(**places: float) -> float:
    return midway(least(*places.values()), greatest(*places.values()))


def _with(target: float, spare: float) -> float:
    return target + spare


def _without(target: float, spare: float) -> float:
    return target - spare


def _stands(found: Quantities, document: Document, layout: Layout, bridge: BridgePlace) -> None:
    words, held = f"the middle of the {document.bridge.counted_from}", layout.held
    if layout.choices and held is None:
        source = _ON_LINE
        across, turn = bridge.middle.y * layout.treble, bridge.turn * layout.treble
        found.give("bridge.x", bridge.middle.x, what=f"the nut to {words}", source=source)
        found.give("bridge.across", across, what=f"{words} from the centreline to the treble", source=source)
        found.give("bridge.turn", turn, what=f"turn of the {bridge.noun}", source=source, unit="rad")
    elif held is None:
        found.work(
            "bridge.x",
            beyond_scale,
            {"scale": "scale-line", "target": "bridge.target"},
            what=f"the nut to {words}; it is put there",
            sd=0.0,
        )
        found.give(
            "bridge.across", 0.0, what=f"{words} from the centreline", source="it is put on the centreline"
        )
        what = f"turn of the {bridge.noun}"
        if "bridge.wanted-turn" in found:
            found.work("bridge.turn", same, {"of": "bridge.wanted-turn"}, what=what, unit="rad")
        else:
            found.give("bridge.turn", 0.0, what=what, source="it is put square to the centreline", unit="rad")
    else:
        source = f"laid on its drilled {held.by} by least squares: {', '.join(held.holes)}"
        across, turn = bridge.middle.y * layout.treble, bridge.turn * layout.treble
        found.give("bridge.x", bridge.middle.x, what=f"the nut to {words}", source=source)
        found.give("bridge.across", across, what=f"{words} from the centreline to the treble", source=source)
        found.give("bridge.turn", turn, what=f"turn of the {bridge.noun}", source=source, unit="rad")


def beyond_scale(scale: float, target: float) -> float:
    """Where the bridge is put, from the nut, mm."""
    return scale + target


def _first_of(**limits: float) -> float:
    return least(*limits.values())


def _last_of(**limits: float) -> float:
    return greatest(*limits.values())


def _front_limit(forward: float, **nearest: float) -> float:
    return least(*nearest.values()) - forward


def _back_limit(back: float, **farthest: float) -> float:
    return greatest(*farthest.values()) - back


def _turned_limit(wanted: float, across: float, stop: float, turn: float) -> float:
    return wanted + across * sin(turn) - stop * cos(turn)


def _low(scale: float, limit: float, reserve: float) -> float:
    return scale + limit + reserve


def _high(scale: float, limit: float, reserve: float) -> float:
    return scale + limit - reserve


def _string(found: Quantities, document: Document, layout: Layout, string: StringPath) -> None:
    no, name = string.no, f"string-{string.no}"
    found.work(
        f"{name}.bridge-row",
        bridge_place,
        {"spacing": "bridge.spacing", "strings": float(len(document.strings)), "no": float(no)},
        what=f"string {no} across the {document.bridge.noun}, from its middle to the treble",
    )
    fanned = document.scale.is_fanned
    if fanned:
        name_string_on_fan(found, document, no)
        if f"{name}.past-middle" not in found:
            _past_the_middle(found, no, f"{name}.compensation")
    found.work(
        f"{name}.saddle",
        beyond_scale,
        {"scale": "scale-line", "target": _wanted_name(found, no)},
        what=f"the nut to where string {no} leaves its saddle",
    )
    if fanned:
        own = {"scale": f"{name}.scale", "target": f"{name}.compensation"}
        found.work(
            f"{name}.reach", beyond_scale, own, what=f"string {no} from its nut to its saddle, along the neck"
        )
        along: dict[str, Input] = {"scale": f"{name}.nut-along", "target": f"{name}.reach"}
        what = "its saddle along the neck, from where the centreline crosses the nut"
        found.work(f"{name}.saddle-along", beyond_scale, along, what=what)
    elif not neck_lie(document).is_level:
        along = {"scale": "scale.length", "target": f"{name}.compensation"}
        found.work(f"{name}.saddle-along", beyond_scale, along, what="the same along the neck")
    found.give(
        f"{name}.tension",
        0.0 if string.tension_n is None else string.tension_n,
        what=f"tension of string {no} at pitch",
        unit="N",
        source="by the stiff string's formula (docs/strings.md)"
        if string.tension_n is not None
        else "nothing could be worked out from the strings",
    )
    what = f"string {no} at the nut over the body's top at the bridge"
    if neck_lie(document).is_level:
        above = {"crowns": "crowns-over-body", "height": "nut.height_over_frets"}
        found.work(f"{name}.nut-height", _sum, above, what=what)
    else:
        leaning = {
            "end": _neck_end(document),
            "stack": "crowns-over-heel",
            "height": "nut.height_over_frets",
            "angle": "neck.lean",
            "start": f"{name}.nut-along" if fanned else 0.0,
        }
        if document.neck.runs_through:
            leaning["stands"] = "neck.board_over_body"
            found.work(f"{name}.nut-height", _nut_over_core, leaning, what=what, source=_LEANING)
        else:
            leaning |= {"depth": "neck.pocket_depth", "shim": "neck.shim"}
            found.work(f"{name}.nut-height", _nut_leaning, leaning, what=what, source=_LEANING)
    _across_the_board(found, document, layout, string, name)
    if layout.stringing.is_placed:
        _heights(found, document, layout, name, no)


def _nut_leaning(
    *, end: float, stack: float, height: float, angle: float, depth: float, shim: float, start: float
) -> float:
    nut: float = over_body(start - end, stack + height, angle, depth - shim)
    return nut


def _nut_over_core(
    *, end: float, stack: float, height: float, angle: float, stands: float, start: float
) -> float:
    nut: float = over_body(start - end, stack + height, angle, -stands)
    return nut


def _sum(crowns: float, height: float) -> float:
    return crowns + height


def _heights(found: Quantities, document: Document, layout: Layout, name: str, no: int) -> None:
    """A string's heights over the frets, and over the body at its saddle, each from the one before."""
    octave = f"fret-{octave_fret(layout.stringing.setup.board(len(document.strings))) + 1}"
    straight = f"fret-{min(document.setup.relief_fret, document.scale.frets)}"
    if document.scale.is_fanned:
        octave, straight = f"{name}.{octave}", f"{name}.{straight}"
    found.work(
        f"{name}.action",
        even_slot,
        {
            "first": "setup.action_treble",
            "last": "setup.action_bass",
            "no": float(no),
            "strings": float(len(document.strings)),
        },
        what=f"the action asked for under string {no} at the 12th fret",
    )
    nut: dict[str, Input] = {"relief": "setup.relief", "height": "nut.height_over_frets"}
    twelfth: dict[str, Input] = {"relief": "setup.relief", "action": f"{name}.action"}
    twelfth |= {"fret": octave, "straight": straight}
    arched = document.fingerboard.radius is not None
    if arched:
        _sunk(found, document, name, no, octave)
        nut["sunk"], twelfth["sunk"] = f"{name}.sunk-nut", f"{name}.sunk-12"
    held = f"string {no} over the frets' plane"
    for where, formula, inputs in (
        ("nut", _over_sunk_nut if arched else _over_nut, nut),
        ("12", _over_sunk_twelfth if arched else _over_twelfth, twelfth),
    ):
        what = f"{held} {'at the nut' if where == 'nut' else 'at the 12th fret'}"
        found.work(f"{name}.over-{where}", formula, inputs, what=what, source=_ASKED_FOR, sd=0.0)
    found.work(
        f"{name}.over-saddle",
        line_at,
        {
            "nut": f"{name}.over-nut",
            "octave": f"{name}.over-12",
            "fret": octave,
            "along": next(
                own for end in ("reach", "saddle-along", "saddle") if (own := f"{name}.{end}") in found
            ),
        },
        what=f"{held} at its saddle",
        source="a straight line from the nut over the 12th fret, carried on to the saddle",
    )
    _over_the_body(found, document, name, no)


_ASKED_FOR = (
    "what the set-up asks for, so in no doubt; the plane is that of the straight part's crowns, relief a parabola "
    "(docs/heights.md)"
)


def _over_the_body(found: Quantities, document: Document, name: str, no: int) -> None:
    words = f"height of string {no} over the body at its saddle that gives the action asked for"
    heights: dict[str, Input] = {"crowns": "crowns-over-body", "over": f"{name}.over-saddle"}
    if neck_lie(document).is_level:
        found.work(f"{name}.saddle-height", _over_crowns, heights, what=words)
    else:
        heights |= {"saddle": f"{name}.saddle-along", "end": _neck_end(document), "lean": "neck.lean"}
        found.work(f"{name}.saddle-height", string_leaning, heights, what=words, source=_LEANING)
    wanted = f"{name}.saddle-height"
    if document.bridge.lowest is not None:
        ends = {"wanted": wanted, "lowest": _reach_number(document, "lowest")}
        found.work(f"{name}.room-down", _room_down, ends, what=f"how far saddle {no} can still go down")
    if document.bridge.highest is not None:
        ends = {"wanted": wanted, "highest": _reach_number(document, "highest")}
        found.work(f"{name}.room-up", _room_up, ends, what=f"how far saddle {no} can still go up")


_ENDS: tuple[Literal["lowest", "highest"], ...] = ("lowest", "highest")


def _reach_number(document: Document, end: Literal["lowest", "highest"]) -> str:
    """The number of what the saddles reach over the body: the key that states it, or one that is made of several."""
    keys = document.bridge.reach_from(end)
    return f"bridge.{keys[0]}" if len(keys) == 1 else f"bridge.{end}"


def _name_reach(found: Quantities, document: Document) -> None:
    """What the saddles reach where it is stated over the bridge's plate."""
    for end in _ENDS:
        keys = document.bridge.reach_from(end)
        if len(keys) > 1:
            under, plate, over = keys
            found.work(
                f"bridge.{end}",
                _over_plate,
                {"underside": f"bridge.{under}", "plate": f"bridge.{plate}", "over": f"bridge.{over}"},
                what=f"the string over the body, saddle wound fully {'down' if end == 'lowest' else 'up'}",
            )


def _over_plate(underside: float, plate: float, over: float) -> float:
    return underside + plate + over


def _closed(found: Quantities, document: Document) -> None:
    """Whether the chain of heights closes, and the pocket that would close it."""
    wanted = {f"string_{no}": f"string-{no}.saddle-height" for no in range(1, len(document.strings) + 1)}
    what = "the middle between the lowest and the highest string at the saddles, over the body"
    found.work("heights.middle", _middle, wanted, what=what)
    what, bridge = "where that middle should lie", document.bridge
    _name_reach(found, document)
    if bridge.lowest is None or bridge.highest is None:
        found.work("heights.saddle", same, {"of": "bridge.saddle_height"}, what=what)
    else:
        ends = {"one": _reach_number(document, "lowest"), "other": _reach_number(document, "highest")}
        found.work("heights.saddle", midway, ends, what=f"{what}: in the middle of what the saddles reach")
    links = {"middle": "heights.middle", "saddle": "heights.saddle"}
    found.work(
        "heights.off",
        _higher,
        links,
        what="by how much the strings lie higher at the saddles than they should",
    )
    if document.neck.runs_through:
        found.work(
            "heights.board-over-body",
            _lower,
            {"stands": "neck.board_over_body", "off": "heights.off"},
            what="how far the board must stand over the body for the strings to lie in the middle of what the saddles reach, the "
            "rest as it is",
        )
        return
    found.work(
        "heights.pocket-depth",
        _deeper,
        {"depth": "neck.pocket_depth", "off": "heights.off"},
        what="the pocket depth that puts the strings in the middle of what the saddles reach, the rest as it is",
    )


def _middle(**wanted: float) -> float:
    return midway(least(*wanted.values()), greatest(*wanted.values()))


def _higher(middle: float, saddle: float) -> float:
    return middle - saddle


def _lower(stands: float, off: float) -> float:
    return stands - off


def _deeper(depth: float, off: float) -> float:
    return depth + off


def _sunk(found: Quantities, document: Document, name: str, no: int, octave: str) -> None:
    """How far the crowns under a string lie below the middle's, on an arched board."""
    grows = document.fingerboard.radius_at_end is not None
    ends: dict[str, Input] = {"at_nut": "fingerboard.radius", "end": "fingerboard.end"}
    ends["at_end"] = "fingerboard.radius_at_end" if grows else "fingerboard.radius"
    fanned = document.scale.is_fanned
    radius_at_nut = "fingerboard.radius"
    along: Input = octave
    if fanned:
        along, radius_at_nut = f"{octave}-along", f"{name}.radius-at-nut"
        place: dict[str, Input] = {"scale": f"{name}.nut-along", "target": octave}
        found.work(along, beyond_scale, place, what=f"the 12th fret under string {no}, along the neck")
        own_nut: dict[str, Input] = {"along": f"{name}.nut-along", **ends}
        found.work(
            radius_at_nut, arch_radius, own_nut, what=f"the board's radius at the nut under string {no}"
        )
    found.work(
        f"{octave}.radius", arch_radius, {"along": along, **ends}, what="the board's radius at the 12th fret"
    )
    scale = f"{name}.scale" if fanned else "scale.length"
    path = {"nut": f"{name}.nut-across", "bridge": f"{name}.bridge-row", "scale": scale}
    words = f"string {no} at the 12th fret, from the centreline to the treble"
    found.work(f"{name}.across-12", string_at, {"x": octave, **path}, what=words)
    for where, radius, across in (
        ("nut", radius_at_nut, f"{name}.nut-across"),
        ("12", f"{octave}.radius", f"{name}.across-12"),
    ):
        what = f"the crown under string {no} below the middle's, {'at the nut' if where == 'nut' else 'at the 12th fret'}"
        found.work(f"{name}.sunk-{where}", sunk, {"radius": radius, "across": across}, what=what)


def _over_nut(relief: float, height: float) -> float:
    return 4 * relief + height


def _over_sunk_nut(relief: float, height: float, sunk: float) -> float:
    return _over_nut(relief, height) - sunk


def _over_twelfth(relief: float, action: float, fret: float, straight: float) -> float:
    return relief * bow(fret, straight) + action  # type: ignore[arg-type, return-value]


def _over_sunk_twelfth(relief: float, action: float, fret: float, straight: float, sunk: float) -> float:
    return _over_twelfth(relief, action, fret, straight) - sunk


def _room_down(wanted: float, lowest: float) -> float:
    return wanted - lowest


def _room_up(wanted: float, highest: float) -> float:
    return highest - wanted


def _over_crowns(crowns: float, over: float) -> float:
    return crowns + over


def _across_the_board(
    found: Quantities, document: Document, layout: Layout, string: StringPath, name: str
) -> None:
    no, bridge, single = string.no, f"string-{string.no}.saddle-across", document.bridge.single
    of, row = (f"unit-{no}", 0.0) if single else ("bridge", f"{name}.bridge-row")
    pose: dict[str, str | float] = {"x": f"{of}.x", "y": f"{of}.across", "turn": f"{of}.turn", "row": row}
    if layout.bridge is None:
        pose |= {"x": layout.bridge_line, "y": 0.0, "turn": 0.0}
    elif layout.neck_lies is not None:
        pose |= {"x": f"{of}.neck-x", "y": f"{of}.neck-across", "turn": f"{of}.neck-turn"}
    words = f"string {no} at its saddle, from the centreline to the treble"
    if single and layout.bridge is None:
        found.give(
            bridge,
            string.saddle.y * layout.treble,
            what=words,
            source="its place in the row; its base has none yet",
        )
    else:
        found.work(
            bridge,
            saddle_across,
            {"scale": "scale-line", "setback": _wanted_name(found, no), **pose},
            what=words,
        )
    fanned = document.scale.is_fanned
    scale = f"{name}.scale" if fanned else "scale.length"
    path: dict[str, Input] = {"nut": f"{name}.nut-across", "bridge": bridge, "scale": scale}
    board = {
        "start": f"{name}.nut-along",
        "nut_width": "nut.width",
        "end": "fingerboard.end",
        "end_width": "fingerboard.width_at_end",
    }
    for margin in string.margins:
        fret = f"fret-{margin.fret}" if margin.fret else "the-nut"
        where = f"at fret {margin.fret}" if margin.fret else "at the nut"
        width = f"{fret}.width" if margin.fret else "nut.width"
        edge = f"{name}.margin-{margin.fret}"
        own: Input = f"{name}.{fret}" if margin.fret else 0.0
        found.work(
            edge,
            fan_margin if fanned else _margin,
            {"x": own, **path, **board} if fanned else {"width": width, "x": fret, **path},
            what=f"string {no}'s middle to the board's edge {where}",
        )
        found.work(
            f"{name}.side-margin-{margin.fret}",
            side_margin,
            {"margin": edge, "gauge": f"strings[{no}].gauge", "bevel": "fingerboard.fret_end_bevel"},
            what=f"string {no}'s side to where the fret's bevel starts {where}",
        )


def _margin(width: float, x: float, nut: float, bridge: float, scale: float) -> float:
    return edge_margin(width, string_at(x, nut, bridge, scale))  # type: ignore[arg-type, return-value]


def _by_the_neck(found: Quantities, layout: Layout, neck: Pose, bridge: BridgePlace) -> None:
    """Where the bridge lies by the neck's own line, which the strings are counted from."""
    names = [unit.id for unit in bridge.units] or ["bridge"]
    for number, name in enumerate(names):
        lies = bridge_by_neck(layout, neck, number)
        for part, value, unit, words in (
            ("x", lies.x, "mm", "from the nut along the neck's line"),
            ("across", lies.y, "mm", "from the neck's line to the treble"),
            ("turn", lies.turn, "rad", "turned from square to the neck's line"),
        ):
            what = f"the {bridge.noun}, {words}"
            found.give(f"{name}.neck-{part}", value, what=what, unit=unit, source=_ON_LINE)


def _travels(found: Quantities, document: Document, by: str) -> None:
    """What the saddles have left; `by` begins the names of the bridge's place by the neck's own line where that is read."""
    single = document.bridge.single
    for no in range(1, len(document.strings) + 1):
        of = f"unit-{no}" if single else "bridge"
        for way, key, limit, formula in (
            ("front", "bridge.saddle_forward", "nearest", _left_in_front),
            ("back", "bridge.saddle_back", "farthest", _left_behind),
        ):
            end = f"string-{no}.travel-end-{way}"
            found.work(
                end,
                end_of_travel,
                {
                    "front": f"{of}.{by}x",
                    "across": 0.0 if single else f"string-{no}.bridge-row",
                    "stop": key,
                    "turn": f"{of}.{by}turn",
                },
                what=f"saddle {no} at the end of its travel {'forward' if way == 'front' else 'back'}, from the nut",
            )
            found.work(
                f"string-{no}.travel-{way}",
                formula,
                {"scale": "scale-line", "wanted": f"string-{no}.{limit}", "end": end},
                what=f"travel in hand of saddle {no} {'forward' if way == 'front' else 'back'}",
            )

    strings = range(1, len(document.strings) + 1)
    travels: dict[str, str | float] = {
        f"{way}_{no}": f"string-{no}.travel-{way}" for no in strings for way in ("front", "back")
    }
    found.work("bridge.reserve", _least_of, travels, what="travel in hand of the saddle that has least")


def _least_of(**travels: float) -> float:
    return least(*travels.values())


def _left_in_front(scale: float, wanted: float, end: float) -> float:
    return scale + wanted - end


def _left_behind(scale: float, wanted: float, end: float) -> float:
    return end - scale - wanted


def _bench(found: Quantities, document: Document, layout: Layout) -> None:
    """The measurables: what a rule or a caliper should read, each with the spread of such a reading."""
    checks = {each.id: each for each in measurables(document, layout)}
    last = len(layout.frets)
    mark = next(
        each for each in twelfth_readings(document, layout) if each.mark == document.bench.twelfth_read_to
    )
    ways: dict[str, tuple[Formula, dict[str, str | float]]] = {
        "nut-to-12th": (same, {"of": "fret-12"}),
        "nut-to-last-slot": (same, {"of": f"fret-{last}"}),
        "body-thickness": (same, {"of": "body.thickness"}),
        "nut-floor": (same, {"of": "nut.floor-over-board"}),
        "first-fret-treble": (same, {"of": "string-1.over-first"}),
        "first-fret-bass": (same, {"of": f"string-{len(layout.strings)}.over-first"}),
        "margin-treble": (same, {"of": f"string-1.margin-{last}"}),
        "margin-bass": (same, {"of": f"string-{len(layout.strings)}.margin-{last}"}),
    }
    for station, board in zip(neck_stations(document), _WIDTHS, strict=True):
        width = "fret-1.width" if board == "nut.width" and document.scale.is_fanned else board
        ways |= {station.measurable(side): (_half, {"width": width}) for side in SIDES}
    if layout.bridge is not None:
        treble, bass = layout.bridge.corners
        formula = apart if "fret-12.treble-end" in found else _diagonal
        ways["diagonal-treble"] = (formula, _corners(found, bass.number, 0.5))
        ways["diagonal-bass"] = (formula, _corners(found, treble.number, -0.5))
        for each in layout.bridge.marks:
            ways |= _ways_to(found, each, mark.to_crown)
        for unit in layout.bridge.units:
            ways[f"line-to-{unit.id}"] = (beyond, {"x": f"{unit.id}.x", "datum": "bridge.x"})
    for name, check in checks.items():
        formula, inputs = ways[name]
        source = "the spread is that of a reading at the bench (common practice, no source)"
        if name == "body-thickness":
            source = "the spread is that of its ±"
        found.work(name, formula, inputs, what=check.how, sd=check.sd, source=source, planned=check.value)


_WIDTHS = ("nut.width", "fret-12.width", "fingerboard.width_at_end")
"""The board's width at each station at which the neck's line is read."""


def _half(width: float) -> float:
    return width / 2


def _from_mark(x: float, fret: float, mark: float) -> float:
    return beyond(x, fret + mark)


def _ways_to(
    found: Quantities, mark: Mark, to_crown: float
) -> dict[str, tuple[Formula, dict[str, str | float]]]:
    """How the readings to a mark of the bridge are worked out."""
    x = f"{mark.number}-x" if mark.drilled else mark.number
    ways: dict[str, tuple[Formula, dict[str, str | float]]] = {
        f"12th-to-{mark.id}": (_from_mark, {"x": x, "fret": _leveled(found, "12th-level"), "mark": to_crown}),
        f"pocket-end-to-{mark.id}": (beyond, {"x": x, "datum": "pocket-end"}),
        f"nut-to-{mark.id}": (beyond, {"x": x, "datum": _leveled(found, "nut-level")}),
    }
    if mark.drilled:
        ways[f"centreline-to-{mark.id}"] = (off_the_centreline, {"across": f"{mark.number}-across"})
    return ways


def _wanted_name(found: Quantities, no: int) -> str:
    """The name of where a string's saddle is wanted past the middle of the scale line."""
    name = f"string-{no}.past-middle"
    return name if name in found else f"string-{no}.compensation"


def _corners(found: Quantities, far: str, side: float) -> dict[str, str | float]:
    place = {"x": f"{far}-x", "across": f"{far}-across"}
    end = f"fret-12.{'treble' if side > 0 else 'bass'}-end"
    if end in found:
        return {"ax": end, "ay": f"{end}-across", "bx": place["x"], "by": place["across"]}
    return {"fret": _leveled(found, "12th-level"), "width": "fret-12.width", "side": side, **place}


def _diagonal(fret: float, width: float, side: float, x: float, across: float) -> float:
    return apart(fret, width * side, x, across)
