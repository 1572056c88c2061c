"""What can be read of a cut that is made: of a hole its place, of a cavity its walls' places, its sizes and its depth."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from scribeline.job import STATIONS, USUAL, Cut, CutReading, Found, in_the_record, walls
from scribeline.layout.bench import SURELY, Measurable
from scribeline.layout.datums import Datum
from scribeline.layout.instrument import Layout
from scribeline.lengths import said

_FACES = ("top", "back")
"""A cut from the edge, or inside a cavity, has no place that is read on a face."""

_ON_THE_LINE = 0.005
"""Nearer to the centreline than this, mm, a place is on neither side of it."""


def cut_checks(made: Iterable[Cut], layout: Layout) -> tuple[Measurable, ...]:
    """What can be read of the body's cuts that are made, each expected as it was planned when it was made.

    Args:
        made: the body's cuts that are made, each as it was first recorded.
        layout: where they can be read from.
    """
    return tuple(check for cut in made if cut.face in _FACES for check in _of_a_cut(cut, layout))


def _of_a_cut(cut: Cut, layout: Layout) -> Iterator[Measurable]:
    if cut.at is not None:
        name = cut.id.replace("-", " ")
        yield from _along(CutReading(cut.id, "along"), cut.at[0], f"the middle of {name}", layout)
        yield _across(CutReading(cut.id, "across", "centreline"), cut.at[1], f"the middle of {name}", layout)
        return
    assert cut.outline is not None
    (low, high), sides = walls(cut.outline)
    of = f"of the {cut.role}"
    if not cut.at_edge:
        yield from _along(CutReading(cut.id, "nut-side"), low, f"the nut-side wall {of}", layout)
    yield from _along(CutReading(cut.id, "tail-side"), high, f"the tail-side wall {of}", layout)
    treble, bass = sides[::-1] if layout.treble > 0 else sides
    yield _across(
        CutReading(cut.id, "treble-side", "centreline"), treble, f"the treble-side wall {of}", layout
    )
    yield _across(CutReading(cut.id, "bass-side", "centreline"), bass, f"the bass-side wall {of}", layout)
    if not cut.at_edge:
        yield _size(CutReading(cut.id, "length"), high - low, f"the length {of} along the centreline")
    yield _size(CutReading(cut.id, "width"), sides[1] - sides[0], f"the width {of}, square to the centreline")
    if cut.depth is not None:
        where = " where its floor meets the tail-side wall" if cut.slope is not None else ""
        yield _size(CutReading(cut.id, "depth"), cut.depth, f"the depth {of}{where}, from the {cut.face}")


def _along(told: CutReading, x: float, words: str, layout: Layout) -> Iterator[Measurable]:
    for datum in _stations(layout):
        if datum.made_by != told.cut:
            reading = CutReading(told.cut, told.part, datum.id)
            value = reading.sign * (x - datum.point.x)
            how = f"from {datum.words} to {words}, along the centreline"
            yield _check(reading, value, how, origin=datum.point.x, sign=reading.sign)


def _stations(layout: Layout) -> Iterator[Datum]:
    for datum in layout.datums:
        if datum.id in STATIONS:
            yield datum


def _across(told: CutReading, y: float, words: str, layout: Layout) -> Measurable:
    side = layout.treble if abs(y) < _ON_THE_LINE else 1 if y > 0 else -1
    towards = "treble" if side == layout.treble else "bass"
    how = f"from the centreline to {words}, square to it; a minus lies on its other side, not the {towards}'s"
    return _check(told, side * y, how, origin=0.0, sign=float(side))


def _size(told: CutReading, value: float, words: str) -> Measurable:
    return _check(told, value, words)


def _check(
    told: CutReading, value: float, how: str, *, origin: float | None = None, sign: float = 1.0
) -> Measurable:
    method = USUAL.get(told.part, "rule")
    return Measurable(
        told.name, value, 0.0, value, value, how, method, cut=told.cut, origin=origin, sign=sign
    )


def found_in_words(found: Found | None, treble: int) -> str:
    """Where a cut that is made really is, against its planned place, with lengths that `in_unit` tells.

    Args:
        found: by its readings; None where nobody read it.
        treble: sign of y on the treble side.
    """
    if found is None:
        return "taken to be as planned; nobody has measured it"
    told = [
        words
        for unknown, (more, less) in (
            ("along", ("towards the tail", "towards the nut")),
            ("across", ("to the treble", "to the bass")[::treble]),
            ("longer", ("longer", "shorter")),
            ("wider", ("wider", "narrower")),
            ("deeper", ("deeper", "shallower")),
        )
        if found.telling(unknown) and (words := _off(found, unknown, more, less))
    ]
    by = found.numbers
    whose = f" ({in_the_record(by)})" if by else ""
    return f"found {', '.join(told) or 'where it was planned'}{whose}"


def _off(found: Found, unknown: str, more: str, less: str) -> str:
    off, sd = found.of(unknown)
    if abs(off) < _ON_THE_LINE:
        return ""
    return f"{said(abs(off))} {more if off > 0 else less} (± {said(SURELY * sd)})"
