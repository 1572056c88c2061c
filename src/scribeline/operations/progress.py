"""The wood as it is when each operation's turn comes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from scribeline.features import Bore, Feature, Features
from scribeline.job import Record
from scribeline.layout import Area, Layout, bevel_id, round_id
from scribeline.operations.operation import TOP, Operation
from scribeline.solid import Under, neighbours, wood_under, wood_under_floor


@dataclass(frozen=True)
class Progress:
    """What is in the wood when each operation's turn comes; worked out when it is first asked for.

    Attributes:
        record: says what is made already.
        finished: the instrument as it will be.
        features: every cut.
        operations: in their order.
    """

    record: Record
    finished: Layout
    features: Features
    operations: tuple[Operation, ...]

    @cached_property
    def _cut_on(self) -> Mapping[tuple[str, int], int]:
        planned: dict[tuple[str, int], int] = {cut: each.no for each in self.operations for cut in each.cuts}
        return planned | dict.fromkeys(self.record.made_steps, 0)

    def layout(self, operation: Operation) -> Layout:
        """The instrument with its body shaped as far as it is when an operation's turn comes."""
        body = self.finished.body
        if body.is_plain:
            return self.finished
        later = [each for each in self.operations if each.shape and each.no >= operation.no]
        shapes = {each.shape for each in later}
        if any(each.kind in TOP for each in later):
            blank = (Area("blank", body.outline, body.highest),) if body.highest else ()
            body = replace(body, areas=blank, profile=(), contours=())
        body = replace(
            body,
            bevels=tuple(bevel for bevel in body.bevels if bevel_id(bevel) not in shapes),
            round_top=0.0 if round_id("top") in shapes else body.round_top,
            round_back=0.0 if round_id("back") in shapes else body.round_back,
        )
        return replace(self.finished, body=body)

    def before(self, operation: Operation) -> Iterator[Feature]:
        """The cuts as they are when an operation's turn comes; a stepped hole with the diameters it has by then.

        A cut that no operation makes is in the wood already. An operation's own cuts are not, made or not: it tells of them.
        """
        own = frozenset[tuple[str, int]](operation.cuts)
        later = own.union(cut for cut, no in self._cut_on.items() if no >= operation.no)
        for feature in self.features:
            if not isinstance(feature, Bore):
                if (feature.id, 1) not in later:
                    yield feature
                continue
            steps = tuple(
                step for no, step in enumerate(feature.steps, start=1) if (feature.id, no) not in later
            )
            if steps:
                yield replace(feature, steps=steps)

    @cached_property
    def under(self) -> Mapping[tuple[str, int], Under]:
        """The wood straight ahead of the bit once each cut is made, or under a pocket's floor."""
        by_id = {feature.id: feature for feature in self.features}
        near = {
            name: {name, *(each.id for each in others)} for name, others in neighbours(self.features).items()
        }
        found: dict[tuple[str, int], Under] = {}
        for operation in (each for each in self.operations if each.workpiece == "body"):
            made = tuple(self.before(operation)) if operation.cuts else ()
            then = self.layout(operation)
            for cut in operation.cuts:
                feature, there = by_id[cut.feature], [each for each in made if each.id in near[cut.feature]]
                found[cut] = (
                    wood_under(then, feature, feature.steps[cut.step - 1], there)
                    if isinstance(feature, Bore)
                    else wood_under_floor(then, feature, there)
                )
        return found
