"""What must come before what, read off from what runs into what, what is measured from what and what guides what."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

from scribeline.features import Bore, Family, Features, Pocket, covers
from scribeline.layout import ANCHORS, NECK_POCKET, BridgePlace, Layout, Point, bevel_id
from scribeline.operations.operation import SHAPING, TOP, TRIALS, Kind, Operation
from scribeline.operations.ordering import Need, before

_Rule = tuple[Sequence[Operation], Sequence[Operation], str]
"""All of the first come before all of the second, and why."""

_FITTED: frozenset[Kind] = frozenset({"fit neck", "check core", "drill heel"})
"""After these the neck stands where it belongs."""


def needs(layout: Layout, features: Features, every: Sequence[Operation]) -> tuple[Need, ...]:
    """Every need among the operations of one instrument; of several between the same two the first says best why.

    Args:
        layout: for the bevels and where they lie.
        features: what is cut, and what runs into what.
        every: the operations; those that cut one hole in the order in which they cut it.
    """
    at: dict[str, list[Operation]] = {}
    for each in every:
        for cut in each.cuts:
            at.setdefault(cut.feature, []).append(each)
    rules = (*_rules(layout, features, every), *_meetings(features, at))
    found = [
        Need(a.id, b.id, why) for firsts, thens, why in rules for a in firsts for b in thens if a is not b
    ]
    # What a neck screw's hole is drilled from the floor of, and what that waits for, cannot wait for the fitted neck.
    fitted = {each.id for each in every if each.kind in _FITTED}
    through = [each.id for each in every if each.family == "neck-screw"]
    early = before(through, (need for need in found if need.first not in fitted))
    return tuple(need for need in found if not (need.first in fitted and need.then in early))


def _rules(layout: Layout, features: Features, every: Sequence[Operation]) -> Iterator[_Rule]:
    def of(*kinds: Kind) -> list[Operation]:
        return [each for each in every if each.kind in kinds]

    cuts = [each for each in every if each.cuts and each.workpiece == "body"]
    routed, drilled = of("rout"), [each for each in cuts if each.kind != "rout"]
    ids = {pocket.id for pocket in features.pockets if pocket.role == NECK_POCKET}
    pocket = [each for each in routed if ids.intersection(each.features)]
    through = _of_family(every, "neck-screw")
    from_neck = [each for each in cuts if each not in pocket and each not in through]
    pressed = [each for each in (*cuts, *of(*TRIALS), *of("drill head")) if each.machine == "drill press"]
    strings, ferrules = (_of_family(every, name) for name in ("string-hole", "ferrule-hole"))
    top, rounds = of(*TOP), of("round edge")
    early = [
        each for each in of("carve bevel") if any(_is_under(layout, features, each, hole) for hole in through)
    ]
    bevels = [each for each in of("carve bevel") if each not in early]
    late = [*top, *bevels, *rounds]
    fit, heel, refit = of("fit neck", "check core"), of("drill heel"), of("refit neck")
    fitted = "fitted neck" if of("fit neck") else "neck, whose line is checked"
    yield from (
        (of("check blank"), cuts, "every depth follows the real thickness"),
        (of("check press"), pressed, "a bit that is not square spoils the row"),
        (through, fit, "the heel is marked through these holes"),
        (fit, from_neck, f"everything is measured from the {fitted}"),
        (heel, from_neck, "everything is measured from the neck held by its own screws"),
        (of("glue head"), [*of("check neck"), *of("drill head")], "the head is glued on first"),
        (of("slot board"), of("check neck"), "the neck is measured with its frets in"),
        (of("slot board"), of("glue board"), "slots are sawn while the board's sides are parallel"),
        (of("glue head"), of("rout channels"), "the face is trued over the scarf joint before it is routed"),
        (of("rout channels"), of("glue board"), "the channels lie under the board"),
        (of("glue board"), of("check neck"), "the neck is measured with its board on"),
        (fit, of("carve neck"), "the heel is fitted while the neck is square to clamp"),
        (heel, of("carve neck"), "the heel lies flat under the drill while the neck is square"),
        (of("drill head"), of("carve neck"), "the head lies flat under the drill while the neck is square"),
        (of("carve neck"), refit, "the neck is shaped before it goes back for good"),
        (of("carve neck"), of("finish"), "wood is shaped before the finish"),
        (of("check neck"), pocket, "the end wall is measured from the nut"),
        (of("check neck"), fit, "the neck's own scale is the datum"),
        (of("shape core"), of("check neck"), "the board goes on its finished seat"),
        (of("check neck"), of("glue wings"), "the neck is measured while it is a loose stick"),
        (of("shape core"), of("glue wings"), "the wings' edges are planed to the core's"),
        (of("glue head"), of("glue wings"), "the head is glued on while the neck is a loose stick"),
        (
            of("drill head"),
            of("glue wings"),
            "the head lies flat under the drill while the neck is a loose stick",
        ),
        (of("glue wings"), of("check blank"), "the blank is measured when it is whole"),
        (of("glue wings"), fit, "the line is checked over the whole body"),
        (pocket, fit, "the heel needs its pocket"),
        (of("check neck"), of("cut tenon"), "the tenon's end is measured from the nut"),
        (pocket, of("cut tenon"), "the tenon is planed to its pocket"),
        (of("cut tenon"), fit, "the tenon goes into the pocket"),
        (fit, heel, "the heel is marked where the neck was checked"),
        (heel, of("set bridge"), "the bridge follows the neck held by its own screws"),
        ((*fit, *refit), of("set bridge"), "the bridge follows the neck's real line"),
    )
    yield from (
        (of("glue"), of("check blank"), "the blank is measured when it is whole"),
        (of("check blank"), of(*SHAPING), "every depth follows the real thickness"),
        (of(*SHAPING), of("finish"), "wood is shaped before the finish"),
        *(
            ([bevel], [hole], "the holes' depths count from the bevel")
            for bevel in early
            for hole in through
            if _is_under(layout, features, bevel, hole)
        ),
        (fit, late, "the neck's line is checked while the top is flat"),
        (heel, late, "the neck comes off for it and goes back by its screws"),
        (routed, late, "template and depth gauge need the flat blank"),
        (
            late,
            [each for each in drilled if each not in through],
            "holes are marked and their depths counted on the shaped wood",
        ),
        (late, refit, "the neck is off while the body is shaped"),
        (of("cut ground"), of("cut step", "carve arch"), "the other steps are measured from the ground"),
        (top, bevels, "the edge that the top leaves is measured from the flat back"),
        ((*top, *bevels), rounds, "the rounding follows the edge that they leave"),
        (refit, of("finish"), "the joint is made on bare wood"),
    )
    if layout.bridge is not None:
        yield from _bridge_rules(layout.bridge, every)
    yield from (
        (of("try both faces"), (*strings, *ferrules), "a scrap test comes before the real thing"),
        (ferrules, of("try strings"), "the holes must be through"),
        (
            [each for each in drilled if "neck" in each.barred_by],
            refit,
            "the drill comes in through the neck's pocket",
        ),
        (routed, refit, "the body lies flat on its top while the neck is off"),
        (
            _of_family(every, "jack"),
            _of_family(every, "jack-screw"),
            "the plate is held to the open hole to mark its screws",
        ),
        ((*cuts, *of("try strings")), of("finish"), "wood is cut before the finish"),
        (every, of("fit hardware"), "hardware goes on last"),
        (of("finish"), of("clean out"), "the finish narrows the holes"),
        (of("finish"), of("slot nut"), "the nut is bedded on the finished neck"),
        (of("slot board"), of("slot nut"), "the slots' height is taken from the frets"),
        (of("drill head"), of("slot nut"), "the slots run on to their posts"),
    )


def _bridge_rules(bridge: BridgePlace, every: Sequence[Operation]) -> Iterator[_Rule]:
    """What comes first where the bridge is set out, held and fitted."""

    def of(*kinds: Kind) -> list[Operation]:
        return [each for each in every if each.kind in kinds]

    anchors, strings = _of_family(every, *ANCHORS), _of_family(every, "string-hole")
    set_out, fixed, pressed, noun = of("set bridge"), of("fix bridge"), of("press bushings"), bridge.noun
    hidden = [each for each in every if each.cuts and each.kind != "rout" and "bridge" in each.barred_by]
    yield of("try screw", "try bushing"), anchors, "a scrap test comes before the real thing"
    for first, then in pairwise(set_out):
        yield [first], [then], "one is measured from the other"
    yield from (
        (anchors, pressed, "they are pressed into their holes"),
        (of("finish"), pressed, "bushings go into the finished body"),
    )
    if not bridge.lies_on_the_body:
        yield set_out[-1:], anchors, "the holes are marked once both are checked"
        yield set_out[-1:], strings, "their row is measured from the bridge's place"
        return
    yield from (
        (set_out, anchors, f"the screws are marked through the {noun} once it is checked"),
        (anchors, fixed, f"the {noun} is held by its own screws"),
        (fixed, strings, f"the {noun} guides the string bit"),
        (fixed, hidden, f"the {noun}'s place decides where its hole hides"),
        (strings, hidden, f"the {noun} comes off for it, once it has guided the bit"),
    )


def _of_family(every: Iterable[Operation], *families: Family) -> list[Operation]:
    return [each for each in every if each.family in families]


def _is_under(layout: Layout, features: Features, shape: Operation, drilled: Operation) -> bool:
    """Whether a drilled operation's holes go into the bevel that another carves."""
    at = [Point(bore.at.x, bore.at.y) for bore in features.bores if bore.id in drilled.features]
    return shape.face == drilled.face and any(
        bevel.covers(place) for bevel in layout.body.bevels if bevel_id(bevel) == shape.shape for place in at
    )


def _meetings(features: Features, at: dict[str, list[Operation]]) -> Iterator[_Rule]:
    """Orders that follow from which cut runs into which, or starts on which one's floor."""

    def they(first: str, then: str, why: str) -> _Rule:
        return at.get(first, ()), at.get(then, ()), why

    for works in at.values():
        for wide, narrow in pairwise(works):
            why = (
                "the drilled hole leads the countersink"
                if narrow.kind == "countersink"
                else "the wide, shallow step is cut while its centre is solid"
            )
            yield [wide], [narrow], why
    by_id = {feature.id: feature for feature in features}
    for hole in features.bores:
        for over in features.pockets:
            if over.face == hole.face and covers(over, Point(hole.at.x, hole.at.y)):
                yield they(over.id, hole.id, "they go into its floor")
    for feature in features:
        for other in (by_id[name] for name in sorted(feature.meets) if name in by_id):
            match feature, other:
                case Bore(face="top"), Bore(face="back"):
                    yield they(
                        feature.id,
                        other.id,
                        "the hole from the back is set on a pin in the string hole, which is drilled part-way first",
                    )
                case Pocket(), Pocket() if feature.face == other.face and feature.depth != other.depth:
                    if NECK_POCKET not in {feature.role, other.role}:  # which has its own order
                        first, then = sorted((feature, other), key=lambda each: each.depth)
                        yield they(
                            first.id,
                            then.id,
                            "the shallow one is routed while the wood under its bit is whole",
                        )
                case Bore(face="pocket"), Bore():
                    yield they(other.id, feature.id, "the bit must break into an open hole")
                case (Pocket() as pocket, Bore() as bore) | (Bore() as bore, Pocket() as pocket):
                    floor = pocket.face == bore.face and bore.is_upright
                    yield they(
                        pocket.id,
                        bore.id,
                        "they go into its floor" if floor else "the bit must break into an open cavity",
                    )
