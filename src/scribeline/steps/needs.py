"""What must come before what, read off from what runs into what and what is measured from what."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from scribeline.features import Bore, Features, Pocket
from scribeline.layout import NECK_POCKET
from scribeline.steps.card import Card
from scribeline.steps.ordering import Need


def needs(features: Features, cards: Mapping[str, Card]) -> Iterator[Need]:
    """Every need among the tasks of one instrument; some name tasks it does not have.

    Args:
        features: what is cut, and what runs into what.
        cards: the tasks by id.
    """
    cuts = {name: card for name, card in cards.items() if card.features and card.id != "chase"}
    by_feature: dict[str, list[str]] = {}
    for name, card in cuts.items():
        for feature in card.features:
            by_feature.setdefault(feature, []).append(name)
    yield from _datum_needs(features, cuts)
    yield from _meeting_needs(features, by_feature)
    for scrap, then in (
        ("scrap-screw", "drill-bridge-screws"),
        ("scrap-two-sided", "drill-string-holes"),
        ("scrap-two-sided", "counterbore-ferrules"),
    ):
        yield Need(scrap, then, "a scrap test comes before the real thing")
    yield Need("set-plate", "drill-bridge-screws", "the screws are pricked through the proved plate")
    yield Need("drill-bridge-screws", "fix-plate", "the plate is held by its own screws")
    yield Need("fix-plate", "drill-string-holes", "the plate guides the string bit")
    yield Need("fix-plate", "drill-ground-wire", "the plate's place decides where its hole hides")
    yield Need(
        "drill-string-holes", "drill-ground-wire", "the plate comes off for it, after it has guided the bit"
    )
    yield Need(
        "counterbore-ferrules", "bore-ferrules", "the wide, shallow step is cut while its centre is solid"
    )
    yield Need("counterbore-jack", "drill-jack", "the wide, shallow step is cut while its centre is solid")
    for name in cuts:
        if name.startswith("drill-jack-screws"):
            yield Need("drill-jack", name, "the plate is held to the open bore to mark its screws")
    for name, card in cards.items():
        if name.startswith("drill-tunnel-"):
            yield Need("fix-plate", name, "the plate's place decides where its hole hides")
            if card.face == "top" and "through" not in card.title:
                yield Need(
                    "drill-string-holes", name, "the plate comes off for it, after it has guided the bit"
                )
    yield Need("bore-ferrules", "try-strings", "the holes must be through")
    for name in (*cuts, "try-strings"):
        yield Need(name, "finish", "wood is cut before the finish")
    for name in cards:
        if name != "fit-hardware":
            yield Need(name, "fit-hardware", "hardware goes on last")
    yield Need("finish", "chase", "the film narrows the holes")


def _datum_needs(features: Features, cuts: dict[str, Card]) -> Iterator[Need]:
    neck = f"rout-{next((p.id for p in features.pockets if p.role == NECK_POCKET), '')}"
    for name, card in cuts.items():
        yield Need("check-body", name, "every depth follows the real thickness")
        if card.machine == "drill press":
            yield Need("check-press", name, "a leaning bit spoils the row")
        if name != neck:
            yield Need("fit-neck", name, "everything is measured from the fitted neck")
    for name in ("scrap-screw", "scrap-two-sided"):
        yield Need("check-press", name, "a leaning bit spoils the row")
    yield Need("check-neck", neck, "the end wall is measured from the nut")
    yield Need("check-neck", "fit-neck", "the neck's own scale is the datum")
    yield Need(neck, "fit-neck", "the heel needs its pocket")
    yield Need("fit-neck", "set-plate", "the bridge follows the neck's real line")


def _meeting_needs(features: Features, by_feature: dict[str, list[str]]) -> Iterator[Need]:
    """Orders that follow from which cut runs into which."""
    by_id = {feature.id: feature for feature in features}
    for feature in features:
        for other in (by_id[name] for name in feature.meets if name in by_id):
            if isinstance(feature, Bore) and isinstance(other, Bore):
                if feature.face == "top" and other.face == "back":
                    because = (
                        "the back bore is registered on a pin in the string hole, drilled part-way first"
                    )
                    yield from _each(by_feature, feature.id, other.id, because)
            elif isinstance(feature, Pocket) and isinstance(other, Bore):
                yield from _each(by_feature, feature.id, other.id, "the bit must break into an open pocket")


def _each(by_feature: dict[str, list[str]], first: str, then: str, because: str) -> Iterator[Need]:
    for a in by_feature.get(first, ()):
        for b in by_feature.get(then, ()):
            if a != b:
                yield Need(a, b, because)
