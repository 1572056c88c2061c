"""Step cards: each one setting of one machine, in an order derived from what depends on what.

Each family of cards has a module of its own; this one puts them together and numbers them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from scribeline.features import Features, bit_speed
from scribeline.job import EMPTY, Document, Record, feature_id
from scribeline.layout import NECK_POCKET, Layout, Measurable
from scribeline.lengths import JobUnit, in_unit
from scribeline.solid.tunnels import Tunnel
from scribeline.steps.bench import Bench
from scribeline.steps.bridge_cards import plate_cards, string_cards
from scribeline.steps.card import Card
from scribeline.steps.datum_cards import datum_cards
from scribeline.steps.edge_cards import edge_cards
from scribeline.steps.finish_cards import finish_cards
from scribeline.steps.hole_cards import heel_cards, hole_cards
from scribeline.steps.in_the_way import Obstructed, cleared
from scribeline.steps.needs import needs
from scribeline.steps.ordering import direct, in_order
from scribeline.steps.rout_cards import neck_cards, rout_cards
from scribeline.steps.shaping_cards import glue_cards, shaping_cards
from scribeline.steps.tunnel_cards import tunnel_cards


def make_cards(
    document: Document,
    layout: Layout,
    features: Features,
    measurables: tuple[Measurable, ...],
    tunnels: tuple[Tunnel, ...] = (),
    *,
    record: Record = EMPTY,
) -> tuple[Card, ...]:
    """The step cards, numbered in an order that meets every need."""
    bench = Bench(document, record, layout, features, {m.id: m for m in measurables}, tunnels)
    cards = {card.id: card for card in _cards(bench)}
    obstructed = Obstructed(
        by_neck=[
            f"drill-{bore.id}" for bore in features.bores if bore.entered_from == feature_id(NECK_POCKET)
        ],
        by_plate=[f"drill-{tunnel.place.id}" for tunnel in tunnels if tunnel.place.under_plate],
    )
    waits = direct(
        need
        for need in needs(layout, features, cards, obstructed)
        if need.first in cards and need.then in cards
    )
    order = in_order([(card.id, card.face) for card in cards.values()], waits)
    ordered = cleared([cards[name] for name in order], obstructed, glued=document.neck.joint == "set")
    return tuple(
        replace(
            _in_unit(_at_speed(card, layout), document.units),
            no=number,
            after=tuple(need for need in waits if need.then == card.id),
        )
        for number, card in enumerate(ordered, start=1)
    )


def _at_speed(card: Card, layout: Layout) -> Card:
    """A card with the most that its bit should turn."""
    if card.bit is None:
        return card
    return replace(card, rpm=bit_speed(card.bit, layout))


def _in_unit(card: Card, unit: JobUnit) -> Card:
    """A card with the lengths in its words said in a job's unit."""
    return replace(
        card,
        title=in_unit(card.title, unit),
        do=tuple(in_unit(each, unit) for each in card.do),
        gate=None if card.gate is None else replace(card.gate, ask=in_unit(card.gate.ask, unit)),
        cautions=tuple(in_unit(each, unit) for each in card.cautions),
    )


def _cards(bench: Bench) -> Iterator[Card]:
    yield from glue_cards(bench)
    yield from datum_cards(bench)
    yield from rout_cards(bench)
    yield from neck_cards(bench)
    yield from heel_cards(bench)
    yield from shaping_cards(bench)
    if bench.layout.plate is not None:
        yield from plate_cards(bench)
        yield from string_cards(bench)
    yield from tunnel_cards(bench)
    yield from hole_cards(bench)
    yield from edge_cards(bench)
    yield from finish_cards(bench)
