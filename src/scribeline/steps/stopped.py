"""Which steps a stop holds back: those that cut or shape what it is about and have some of that still to do."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from scribeline.features import Bore, Feature, Features
from scribeline.findings import Finding
from scribeline.job import Record
from scribeline.operations import Operation
from scribeline.steps.card import Card, Gone


class Stopped:
    """What the stops of a plan do to its steps."""

    def __init__(
        self, record: Record, features: Features, cards: Sequence[Card], findings: Iterable[Finding]
    ) -> None:
        """Work it out.

        Args:
            record: says what is done.
            features: every cut.
            cards: the steps.
            findings: of which the stops count, those gone on against included.
        """
        self._by_id: dict[str, Feature] = {feature.id: feature for feature in features}
        self._made, self._done = record.made_steps, {each.card for each in record.done}
        self._cards, self._stops = cards, [each for each in findings if each.severity == "stop"]

    def by_card(self) -> Mapping[str, tuple[Finding, ...]]:
        """The stops that keep each step from being begun, by its id; steps that none keeps are left out."""
        held = {
            card.id: tuple(stop for stop in self._stops if stop.stands and self._has_left(card, stop))
            for card in (self._cards if self._stops else ())
        }
        return {name: stops for name, stops in held.items() if stops}

    def forbidding(self) -> tuple[Finding, ...]:
        """The stops that forbid paper: all but those gone on against, and those about nothing but what is cut already."""
        return tuple(stop for stop in self._stops if stop.stands and not self._is_past(stop))

    def told_on(self, cards: Sequence[Card]) -> tuple[Card, ...]:
        """The cards, each with the stops it is gone on against."""
        against = [stop for stop in self._stops if stop.override is not None]
        if not against:
            return tuple(cards)
        return tuple(
            replace(card, gone=tuple(Gone.against(stop) for stop in against if self._is_about(card, stop)))
            for card in cards
        )

    def _is_about(self, card: Card, stop: Finding) -> bool:
        """Whether a step cuts or shapes anything that a stop is about, done or not."""
        return any(self._is_in(name, stop) for name in card.works_on)

    def _has_left(self, work: Operation, stop: Finding) -> bool:
        """Whether a step still has to cut or shape some of what a stop is about."""
        shapes = work.shape and work.id not in self._done and self._is_in(work.shape, stop)
        return bool(shapes) or any(
            cut not in self._made and self._is_in(cut.feature, stop) for cut in work.cuts
        )

    def _is_past(self, stop: Finding) -> bool:
        """Whether all that a stop is about is cut already, so that it can only be told."""
        about = stop.waiting
        if not about or self.holds_any(stop):
            return False
        return all(name in self._done or (name in self._by_id and self._is_cut(name)) for name in about)

    def holds_any(self, stop: Finding) -> bool:
        """Whether any step still has to cut or shape some of what a stop is about."""
        return any(self._has_left(card, stop) for card in self._cards)

    @staticmethod
    def _is_in(name: str, stop: Finding) -> bool:
        return stop.waiting is None or name in stop.waiting

    def _is_cut(self, name: str) -> bool:
        feature = self._by_id[name]
        diameters = range(1, len(feature.steps) + 1) if isinstance(feature, Bore) else (1,)
        return all((name, no) in self._made for no in diameters)
