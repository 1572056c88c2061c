"""From the loose pieces of a drawing to the one closed edge of a body or a head."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scribeline.job.outline.ring import BODY, OutlineError, OutlineOf, place

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    Points = NDArray[np.float64]

MOST_PIECES = 30_000
"""Pieces a drawing may hold: far above any body, far below what would stall the shop's PC."""


@dataclass(frozen=True)
class Piece:
    """One drawn thing, flattened.

    Attributes:
        points: Its corners in the file's own coordinates, shape (n, 2).
        closed: Whether it runs back to its first point by itself.
        layer: The layer (or group) it is drawn on.
    """

    points: Points
    closed: bool
    layer: str


@dataclass(frozen=True)
class Chain:
    """Pieces joined end to end; `closed` when the last end meets the first."""

    points: Points
    closed: bool
    layers: frozenset[str]

    def __str__(self) -> str:
        low, high = self.points.min(axis=0), self.points.max(axis=0)
        return f"{_layer_words(self.layers)} from {place(*low)} to {place(*high)}"


def outer_loop(
    pieces: Sequence[Piece], *, touch: float, source: str, unit: str, of: OutlineOf = BODY
) -> Chain:
    """The one closed loop that contains everything else drawn.

    Args:
        pieces: What is drawn.
        touch: Ends this close together, in the file's unit, are the same point.
        source: The file in words, to open the sentence of a refusal.
        unit: The file's unit as it reads after a number.
        of: What it is the outline of.

    Returns:
        The outer loop.

    Raises:
        OutlineError: If no loop closes, if several might be the outline, or if lines branch.
    """
    chains = _chains(pieces, touch, source)
    loops = [chain for chain in chains if chain.closed]
    loose = [chain for chain in chains if not chain.closed]
    if not chains:
        raise OutlineError(
            f"{source}: what is drawn has no length anywhere; draw the whole edge of the {of.name}."
        )
    if not loops:
        raise OutlineError(_open_sentence(loose, source, unit))
    outer = _containing(loops, source)
    strays = [chain for chain in loose if not _inside(chain, outer)]
    if strays:
        # The loop found may be a pocket inside the very edge that fails to close.
        raise OutlineError(
            _open_sentence(strays, source, unit)
            + f" (A closed loop was found on {outer}; if that is the {of.name}, name its layer.)"
        )
    return outer


def _chains(pieces: Sequence[Piece], touch: float, source: str) -> list[Chain]:
    done = [_as_loop(piece, touch) for piece in pieces if _is_loop(piece, touch)]
    open_pieces = [piece for piece in pieces if not _is_loop(piece, touch)]
    return [loop for loop in done if loop is not None] + _joined(open_pieces, touch, source)


def _is_loop(piece: Piece, touch: float) -> bool:
    return piece.closed or float(np.hypot(*(piece.points[-1] - piece.points[0]))) <= touch


def _as_loop(piece: Piece, touch: float) -> Chain | None:
    points = piece.points
    if float(np.ptp(points, axis=0).max(initial=0.0)) <= touch:
        return None  # a dot: nothing to follow
    if len(points) > 1 and float(np.hypot(*(points[-1] - points[0]))) <= touch:
        points = points[:-1]
    return Chain(points, True, frozenset({piece.layer}))


def _joined(pieces: list[Piece], touch: float, source: str) -> list[Chain]:
    """Open pieces joined where their ends meet."""
    nodes = _Meeting(touch)
    ends = [(nodes.at(piece.points[0]), nodes.at(piece.points[-1])) for piece in pieces]
    at_node: dict[int, list[int]] = {}
    for index, pair in enumerate(ends):
        for node in pair:
            at_node.setdefault(node, []).append(index)
    for node, members in at_node.items():
        if len(members) > 2:
            layers = _layer_words({pieces[index].layer for index in members})
            raise OutlineError(
                f"{source}: {len(members)} lines meet at {place(*nodes.points[node])} on {layers}, so the way"
                " round is doubtful; remove what is not the outline (or is drawn twice), or name the layer"
                " that holds the outline alone."
            )
    unused = set(range(len(pieces)))
    chains = []
    # Dead ends first, so that an open chain is walked from one end to the other.
    starts = [node for node, members in at_node.items() if len(members) == 1] + list(at_node)
    for node in starts:
        walked = _walk(node, pieces, ends, at_node, unused)
        if walked is not None:
            chains.append(walked)
    return chains


def _walk(
    start: int,
    pieces: list[Piece],
    ends: list[tuple[int, int]],
    at_node: dict[int, list[int]],
    unused: set[int],
) -> Chain | None:
    node = start
    runs: list[Points] = []
    layers: set[str] = set()
    while True:
        index = next((i for i in at_node[node] if i in unused), None)
        if index is None:
            break
        unused.discard(index)
        first, last = ends[index]
        forward = first == node
        points = pieces[index].points if forward else pieces[index].points[::-1]
        # The next piece begins where this one ends: one point stands for both.
        runs.append(points if not runs else points[1:])
        layers.add(pieces[index].layer)
        node = last if forward else first
    if not runs:
        return None
    closed = node == start
    points = np.concatenate(runs)
    return Chain(points[:-1] if closed else points, closed, frozenset(layers))


class _Meeting:
    """Numbers the places where ends meet: ends within `touch` of the first seen share its number."""

    def __init__(self, touch: float) -> None:
        self._touch = touch
        self._cells: dict[tuple[int, int], list[int]] = {}
        self.points: list[Points] = []

    def at(self, point: Points) -> int:
        # Cells as wide as the reach: whatever is within reach lies in this cell or one beside it,
        # so two ends a hair apart meet even when a cell border runs between them.
        column, row = (int(cell) for cell in np.floor(point / self._touch))
        for c in (column - 1, column, column + 1):
            for r in (row - 1, row, row + 1):
                for node in self._cells.get((c, r), ()):
                    if float(np.hypot(*(self.points[node] - point))) <= self._touch:
                        return node
        self.points.append(point)
        self._cells.setdefault((column, row), []).append(len(self.points) - 1)
        return len(self.points) - 1


def _open_sentence(loose: list[Chain], source: str, unit: str) -> str:
    """Names the narrowest gap among the dead ends: the likeliest slip of the pencil."""
    ends = np.array([point for chain in loose for point in (chain.points[0], chain.points[-1])])
    if len(ends) > 2000:
        return (
            f"{source}: nothing drawn closes: {len(loose)} separate lines, the first on {loose[0]}; join them"
            " into one closed outline, or name the layer that holds it."
        )
    apart = np.hypot(*(ends[:, None, :] - ends[None, :, :]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    a, b = np.unravel_index(int(np.argmin(apart)), apart.shape)
    if len(loose) == 1:
        opening = f"the line on {_layer_words(loose[0].layers)} does not close"
    else:
        layers = _layer_words({layer for chain in loose for layer in chain.layers})
        opening = f"{len(loose)} lines on {layers} do not close"
    which = "its ends" if len(loose) == 1 else "the nearest ends"
    return (
        f"{source}: {opening}; {which}, at {place(*ends[a])} and {place(*ends[b])}, are"
        f" {apart[a, b]:.4g} {unit}"
        " apart; join the ends in the drawing, or name the layer that holds the outline alone."
    )


def _containing(loops: list[Chain], source: str) -> Chain:
    """The loop that contains all others."""
    if len(loops) == 1:
        return loops[0]
    by_size = sorted(loops, key=_extent, reverse=True)
    outer = by_size[0]
    outside = [loop for loop in by_size[1:] if not _inside(loop, outer)]
    if outside:
        found = "; ".join(str(loop) for loop in [outer, *outside][:6])
        raise OutlineError(
            f"{source}: {len(outside) + 1} closed loops and none contains all the others:"
            f" {found}; name the layer"
            " that holds the outline alone."
        )
    return outer


def _extent(chain: Chain) -> float:
    return float(np.prod(np.ptp(chain.points, axis=0)))


def _inside(chain: Chain, loop: Chain) -> bool:
    """Whether a chain lies inside a loop; touching its edge is allowed, crossing it is not."""
    from shapely import LineString, Polygon, is_valid

    polygon = Polygon(loop.points) if len(loop.points) > 2 else None
    if polygon is None or not is_valid(polygon):
        # A crossing outer loop is refused later, by name; here its box must do.
        low, high = loop.points.min(axis=0), loop.points.max(axis=0)
        return bool((chain.points >= low).all() and (chain.points <= high).all())
    points = np.vstack([chain.points, chain.points[:1]]) if chain.closed else chain.points
    return bool(polygon.covers(LineString(points)))


def _layer_words(layers: Iterable[str]) -> str:
    named = sorted(layers)
    if named == [""]:
        return "no named layer"
    shown = ", ".join(f"'{name}'" for name in named[:6]) + (" and others" if len(named) > 6 else "")
    return f"layer {shown}" if len(named) == 1 else f"layers {shown}"
