"""What must come before what, read off from what runs into what and what is measured from what."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from scribeline.features import Bore, Features, Pocket, covers
from scribeline.layout import GROUND, HEEL, NECK_POCKET, Layout, Point, bevel_id
from scribeline.steps.card import Card
from scribeline.steps.hole_cards import is_of_the_neck
from scribeline.steps.in_the_way import Obstructed
from scribeline.steps.ordering import Need, before
from scribeline.steps.shaping_cards import GLUING, REFIT, bevel_ids, round_ids, top_ids


def needs(
    layout: Layout, features: Features, cards: Mapping[str, Card], obstructed: Obstructed
) -> Iterator[Need]:
    """Every need among the tasks of one instrument; some name tasks it does not have.

    Args:
        layout: for the bevels and where they lie.
        features: what is cut, and what runs into what.
        cards: the tasks by id.
        obstructed: what the neck and the bridge's plate are in the way of.
    """
    found = list(_every_need(layout, features, cards, obstructed))
    # What a neck screw's hole is drilled from the floor of, and what that waits for, cannot wait for the fitted neck.
    through = (name for name, card in cards.items() if is_of_the_neck(card) and name != HEEL)
    early = before(through, (need for need in found if need.first not in _FITTED))
    return (need for need in found if not (need.first in _FITTED and need.then in early))


_FITTED = {"fit-neck", HEEL}
"""Steps after which the neck stands where it belongs."""


def _every_need(
    layout: Layout, features: Features, cards: Mapping[str, Card], obstructed: Obstructed
) -> Iterator[Need]:
    cuts = {name: card for name, card in cards.items() if card.features and card.id != "chase"}
    by_feature: dict[str, list[str]] = {}
    for name, card in cuts.items():
        for feature in card.features:
            by_feature.setdefault(feature, []).append(name)
    yield from _datum_needs(features, cuts)
    yield from _shaping_needs(layout, features, cards, cuts)
    yield from _meeting_needs(features, by_feature)
    for scrap, then in (
        ("scrap-screw", "drill-bridge-screws"),
        ("scrap-two-sided", "drill-string-holes"),
        ("scrap-two-sided", "counterbore-ferrules"),
    ):
        yield Need(scrap, then, "a scrap test comes before the real thing")
    yield Need(
        "set-plate", "drill-bridge-screws", "the screws are marked through the plate once it is checked"
    )
    yield Need("drill-bridge-screws", "fix-plate", "the plate is held by its own screws")
    yield Need("fix-plate", "drill-string-holes", "the plate guides the string bit")
    for name in obstructed.by_plate:
        yield Need("fix-plate", name, "the plate's place decides where its hole hides")
        yield Need("drill-string-holes", name, "the plate comes off for it, once it has guided the bit")
    yield Need(
        "counterbore-ferrules", "bore-ferrules", "the wide, shallow step is cut while its centre is solid"
    )
    for name in obstructed.by_neck:
        yield Need(name, REFIT, "the drill comes in through the neck's pocket")
    for name, card in cuts.items():
        if card.machine == "router":
            yield Need(name, REFIT, "the body lies flat on its top while the neck is off")
    yield from _stepped_needs(cuts)
    for name in cuts:
        if name.startswith("drill-jack-screws"):
            yield Need("drill-jack", name, "the plate is held to the open hole to mark its screws")
    yield Need("bore-ferrules", "try-strings", "the holes must be through")
    for name in (*cuts, "try-strings"):
        yield Need(name, "finish", "wood is cut before the finish")
    for name in cards:
        if name != "fit-hardware":
            yield Need(name, "fit-hardware", "hardware goes on last")
    yield Need("finish", "chase", "the finish narrows the holes")


def _stepped_needs(cuts: dict[str, Card]) -> Iterator[Need]:
    """Wide before narrow; a countersink last."""
    for name in cuts:
        kind, _, rest = name.partition("-")
        if kind == "counterbore":
            stem, _, nth = rest.rpartition("-")
            then = f"drill-{stem if nth.isdecimal() and f'drill-{rest}' not in cuts else rest}"
            yield Need(name, then, "the wide, shallow step is cut while its centre is solid")
        elif kind == "countersink":
            yield Need(f"drill-{rest}", name, "the drilled hole leads the countersink")


def _datum_needs(features: Features, cuts: dict[str, Card]) -> Iterator[Need]:
    neck = f"rout-{next((p.id for p in features.pockets if p.role == NECK_POCKET), '')}"
    for name, card in cuts.items():
        yield Need("check-body", name, "every depth follows the real thickness")
        if card.machine == "drill press":
            yield Need("check-press", name, "a bit that is not square spoils the row")
        if name == neck:
            continue
        if is_of_the_neck(card):
            yield Need(name, "fit-neck", "the heel is marked through these holes")
        else:
            yield Need("fit-neck", name, "everything is measured from the fitted neck")
            yield Need(HEEL, name, "everything is measured from the neck held by its own screws")
    for name in ("scrap-screw", "scrap-two-sided"):
        yield Need("check-press", name, "a bit that is not square spoils the row")
    yield Need("check-neck", neck, "the end wall is measured from the nut")
    yield Need("check-neck", "fit-neck", "the neck's own scale is the datum")
    yield Need(neck, "fit-neck", "the heel needs its pocket")
    yield Need("fit-neck", HEEL, "the heel is marked where the neck was checked")
    yield Need(HEEL, "set-plate", "the bridge follows the neck held by its own screws")
    yield Need("fit-neck", "set-plate", "the bridge follows the neck's real line")


def _shaping_needs(
    layout: Layout, features: Features, cards: Mapping[str, Card], cuts: Mapping[str, Card]
) -> Iterator[Need]:
    """Layers are glued before all; pockets go into the flat blank, then it is shaped, then it is drilled.

    A bevel that carries holes of the neck's screws is carved before them, and so before the neck is fitted and anything
    is measured from it.
    """
    yield Need(GLUING, "check-body", "the blank is measured when it is whole")
    top, bevels, rounds = top_ids(cards), bevel_ids(cards), round_ids(cards)
    of_neck = [name for name, card in cuts.items() if is_of_the_neck(card)]
    early = {shape: drill for drill in of_neck for shape in _bevels_under(layout, features, cards[drill])}
    late = [name for name in (*top, *bevels, *rounds) if name not in early]
    for shape in (*early, *late):
        yield Need("check-body", shape, "every depth follows the real thickness")
        yield Need(shape, "finish", "wood is shaped before the finish")
    for shape, drill in early.items():
        yield Need(shape, drill, "the holes' depths count from the bevel")
    for shape in late:
        yield Need("fit-neck", shape, "the neck's line is checked while the top is flat")
        yield Need(HEEL, shape, "the neck comes off for it and goes back by its screws")
        for name, card in cuts.items():
            if card.machine == "router":
                yield Need(name, shape, "template and depth gauge need the flat blank")
            elif name not in of_neck:
                yield Need(shape, name, "holes are marked and their depths counted on the shaped wood")
        yield Need(shape, REFIT, "the neck is off while the body is shaped")
    yield from _shapes_in_order(top, [name for name in bevels if name not in early], rounds)
    yield Need(REFIT, "set-plate", "the bridge follows the neck's real line")
    yield Need(REFIT, "finish", "the joint is made on bare wood")


def _bevels_under(layout: Layout, features: Features, drill: Card) -> list[str]:
    """The cards of the bevels that a drilling card's holes go into."""
    at = [Point(bore.at.x, bore.at.y) for bore in features.bores if bore.id in drill.features]
    return [
        bevel_id(bevel)
        for bevel in layout.body.bevels
        if bevel.face == drill.face and any(bevel.covers(place) for place in at)
    ]


def _shapes_in_order(top: Sequence[str], bevels: Sequence[str], rounds: Sequence[str]) -> Iterator[Need]:
    """The top's own form, then the bevels, then the rounding."""
    for then in top:
        if then != GROUND:
            yield Need(GROUND, then, "the other steps are measured from the ground")
    for then in bevels:
        for first in top:
            yield Need(first, then, "the edge that the top leaves is measured from the flat back")
    for then in rounds:
        for first in (*top, *bevels):
            yield Need(first, then, "the rounding follows the edge that they leave")


def _meeting_needs(features: Features, by_feature: dict[str, list[str]]) -> Iterator[Need]:
    """Orders that follow from which cut runs into which, or starts on which one's floor."""
    by_id = {feature.id: feature for feature in features}
    for hole in features.bores:
        for over in features.pockets:
            if over.face == hole.face and covers(over, Point(hole.at.x, hole.at.y)):
                yield from _each(by_feature, over.id, hole.id, "they go into its floor")
    for feature in features:
        for other in (by_id[name] for name in sorted(feature.meets) if name in by_id):
            if isinstance(feature, Bore) and isinstance(other, Bore):
                if feature.face == "top" and other.face == "back":
                    because = "the hole from the back is set on a pin in the string hole, which is drilled part-way first"
                    yield from _each(by_feature, feature.id, other.id, because)
            elif isinstance(feature, Pocket) and isinstance(other, Pocket):
                yield from _pocket_in_pocket(by_feature, feature, other)
            else:
                pocket, bore = (feature, other) if isinstance(feature, Pocket) else (other, feature)
                because = (
                    "they go into its floor"
                    if pocket.face == bore.face and isinstance(bore, Bore) and bore.is_upright
                    else "the bit must break into an open cavity"
                )
                yield from _each(by_feature, pocket.id, bore.id, because)


def _pocket_in_pocket(by_feature: dict[str, list[str]], a: Pocket, b: Pocket) -> Iterator[Need]:
    """Of two that run into each other from one face the shallow one comes first; the neck's pocket has its own order."""
    if a.face == b.face and a.depth != b.depth and NECK_POCKET not in {a.role, b.role}:
        first, then = (a, b) if a.depth < b.depth else (b, a)
        because = "the shallow one is routed while the wood under its bit is whole"
        yield from _each(by_feature, first.id, then.id, because)


def _each(by_feature: dict[str, list[str]], first: str, then: str, because: str) -> Iterator[Need]:
    for a in by_feature.get(first, ()):
        for b in by_feature.get(then, ()):
            if a != b:
                yield Need(a, b, because)
