"""Figures in both units, and the ruled tables they stand in.

A figure is millimetres with the inch fraction and its error smaller, in an inch job inches with millimetres smaller: beside
them where a table's columns leave the room, below them otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import inf
from typing import Literal

from scribeline.drawing.face import LINE_PITCH, text_width, wrap
from scribeline.drawing.marks import Piece
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    DIMENSION,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    RULING,
    Along,
    Anchor,
    Dimension,
    Item,
    Line,
    Point,
    Text,
)
from scribeline.features import runs
from scribeline.layout import ON_THE_CENTRELINE, on_centreline
from scribeline.lengths import both_units, decimal, each_unit, inch_text, mm_text

_PAD = 1.4
_OVER = 1.2
"""White over the lettering of a row, mm."""
_UNDER = 0.45
"""White below the last base line of a row, in heights of its lettering: descenders and air."""
_TIER = 1.3
"""White between a figure and the smaller one below it, mm."""
_ASIDE = 2.0
"""White between a figure and the smaller one beside it, mm."""

_LEAST_SHARE = 0.7
"""Of its width that a column of words keeps where figures need more."""

Figure = tuple[str, str]
"""A value and its second unit."""
Cell = str | Figure
_MINUS = re.compile(r"(?<!\w)-(?=\d)")
Unit = Literal["mm", "in"]


def both_named(unit: Unit) -> str:
    """Which unit leads and which stands with it, for a heading."""
    return "mm with inches" if unit == "mm" else "inches with mm"


def signed(mm: float, unit: Unit) -> Figure:
    """A length in both units with a typographic minus."""
    big, small = both_units(mm, unit)
    if unit == "in":
        return _MINUS.sub("−", big), _MINUS.sub("−", small)
    return big.replace("-", "−", 1) if mm < 0 else big, f"−{small[1:]}" if small.startswith("-") else small


def across(to_treble: float, unit: Unit) -> Figure:
    """A distance from the centreline, with the side in words."""
    if on_centreline(to_treble):
        return mm_text(0.0) if unit == "mm" else inch_text(0.0), ON_THE_CENTRELINE
    big, small = both_units(abs(to_treble), unit)
    return f"{big} {'treble' if to_treble > 0 else 'bass'}", small


def between(low: float, high: float, unit: Unit) -> Figure:
    """From one length to another, as a caliper reads them in either unit."""
    metric = f"{decimal(low)} to {mm_text(high)}"
    inches = f"{inch_text(low).removesuffix(' in')} to {inch_text(high)}"
    return (metric, inches) if unit == "mm" else (inches, metric)


def bare(figure: Figure) -> Figure:
    """A figure without its unit, for a column whose heading names it."""
    return re.sub(r" (?:mm|in)\b", "", figure[0]), figure[1]


def unnamed(figure: Figure) -> Figure:
    """A figure whose inches have no unit, for a table that names it once."""
    return figure[0], figure[1].replace(" in", "")


def measured(
    a: Point, b: Point, at: Point, mm: float, along: Along, *, unit: Unit, ref: str = "", start: bool = False
) -> Dimension:
    """A dimension of `mm` between two points on paper."""
    big, small = each_unit(mm, unit)
    return Dimension(
        DIMENSION, a, b, at, big, small, along=along, outside="start" if start else "end", ref=ref
    )


def heading(text: str, at: Point) -> Text:
    """A heading above a table or a view; `at` is its base line's start."""
    return Text(LETTERING, at, text, ACTED_ON_LETTERING, bold=True)


@dataclass(frozen=True)
class Table:
    """A ruled table.

    Attributes:
        columns: headings.
        rows: cells, as many in each row as there are columns.
        widths: of the columns, mm.
        anchors: at which end of its column a cell stands; "start" where left out.
        height: capital height of what is lettered, mm: less only where nobody acts on it.
        below: whether second units stand below even where there is room beside: what is in words has rows as high.
    """

    columns: Sequence[str]
    rows: Sequence[Sequence[Cell]]
    widths: Sequence[float]
    anchors: Sequence[Anchor] = ()
    height: float = ACTED_ON_LETTERING
    below: bool = False

    def spread(self, width: float) -> Table:
        """The same with its columns spread over `width` mm."""
        stretch = width / sum(self.widths)
        widths = [w * stretch for w in self.widths]
        anchors = self.anchors or ["start"] * len(widths)
        for beside in (False,) if self.below else (True, False):
            # What figures need more to stand on one line, or else on two, columns of words give up.
            needs, spare = [], []
            for n, (w, sizes) in enumerate(zip(widths, self._figures, strict=True)):
                if sizes is None or (anchors[n] == "start" and not beside):
                    needs.append(0.0)
                    spare.append(max(0.0, min((1 - _LEAST_SHARE) * w, w - self._longest_word(n))))
                else:
                    needs.append(2 * _PAD + (sum(sizes) + _ASIDE if beside else max(sizes)))
                    spare.append(0.0)
            short = sum(max(0.0, need - w) for need, w in zip(needs, widths, strict=True))
            if short <= sum(spare):
                given = short / sum(spare) if short else 0.0
                pairs = zip(widths, needs, spare, strict=True)
                return replace(self, widths=[max(w - given * left, need) for w, need, left in pairs])
        return replace(self, widths=widths)

    def _longest_word(self, column: int) -> float:
        """The width of a column of words that breaks none of them, mm."""
        cells = [(self.columns[column], LEAST_LETTERING, True)]
        for row in self.rows:
            cell = row[column]
            first, second = (cell, "") if isinstance(cell, str) else cell
            cells += [(first, self.height, False), (second, LEAST_LETTERING, False)]
        return 2 * _PAD + max(
            text_width(word, height, bold=bold)
            for text, height, bold in cells
            for word in text.split() or [""]
        )

    def lots(
        self,
        room: float,
        further: float | None = None,
        *,
        rows: Sequence[Sequence[Cell]] | None = None,
        most: float = inf,
    ) -> list[list[Sequence[Cell]]]:
        """The rows, or some of them, in lots that each fit `room` mm with their headings, all but the first `further` mm.

        A single row goes into a lot whatever its height; the first lot is empty where the room is too low for
        even one row and more is to be had further on. What would come after `most` lots is left out.
        """
        head = self.row_height(self.columns, head=True)
        lots: list[list[Sequence[Cell]]] = [[]]
        left = room - head
        for row in self.rows if rows is None else rows:
            tall = self.row_height(row)
            if tall > left and (lots[-1] or (len(lots) == 1 and further is not None and further > room)):
                if len(lots) >= most:
                    break
                lots.append([])
                left = (room if further is None else further) - head
            lots[-1].append(row)
            left -= tall
        return lots

    def hung(self, at: Point, rows: Sequence[Sequence[Cell]] | None = None) -> Piece:
        """The table, or some rows of it, hanging from its top left corner."""
        shown = self.rows if rows is None else rows
        items: list[Item] = []
        y, levels = at[1], [at[1]]
        for n, row in enumerate((self.columns, *shown)):
            items += self._lettered(row, (at[0], y), head=n == 0)
            y -= self.row_height(row, head=n == 0)
            levels.append(y)
        right = at[0] + sum(self.widths)
        for n, level in enumerate(levels):
            heavy = n in {0, 1, len(levels) - 1}
            items.append(Line(OUTLINE if heavy else RULING, (at[0], level), (right, level)))
        x = at[0]
        for n, width in enumerate((0.0, *self.widths)):
            x += width
            heavy = n in {0, len(self.widths)}
            items.append(Line(OUTLINE if heavy else RULING, (x, levels[0]), (x, levels[-1])))
        return Piece(tuple(items), sum(self.widths), at[1] - y)

    def row_height(self, row: Sequence[Cell], *, head: bool = False) -> float:
        """Of one row, mm."""
        tiers = [self._tiers(cell, width, head) for cell, width in zip(row, self.widths, strict=True)]
        return max(_drops(lines)[-1] + _UNDER * lines[-1][1] for lines in tiers)

    @cached_property
    def _asides(self) -> list[float] | None:
        """The width of each column's second figures where all of them have room beside the first."""
        if self.below:
            return None
        asides = []
        for width, sizes in zip(self.widths, self._figures, strict=True):
            big, small = sizes or (0.0, 0.0)
            if sizes and big + small + _ASIDE + 2 * _PAD > width + 1e-9:
                return None
            asides.append(small)
        return asides

    @cached_property
    def _figures(self) -> list[tuple[float, float] | None]:
        """The width of each column's widest figure and second figure; None for a column of words."""
        found: list[tuple[float, float] | None] = []
        for n in range(len(self.columns)):
            figures = [row[n] for row in self.rows if not isinstance(row[n], str)]
            big = max((text_width(figure[0], self.height) for figure in figures), default=0.0)
            small = max((text_width(figure[1], LEAST_LETTERING) for figure in figures), default=0.0)
            found.append((big, small) if figures else None)
        return found

    def _tiers(self, cell: Cell, width: float, head: bool) -> list[tuple[str, float]]:
        """The lines of a cell with their heights; without what stands beside them."""
        big = LEAST_LETTERING if head else self.height
        if isinstance(cell, str):
            return [(line, big) for line in wrap(cell, width - 2 * _PAD, big, bold=head)]
        value, second = cell
        lines = [(line, big) for line in wrap(value, width - 2 * _PAD, big)]
        if self._asides is not None or not second:
            return lines
        return [
            *lines,
            *((line, LEAST_LETTERING) for line in wrap(second, width - 2 * _PAD, LEAST_LETTERING)),
        ]

    def _lettered(self, row: Sequence[Cell], corner: Point, *, head: bool) -> list[Item]:
        items: list[Item] = []
        left, top = corner
        anchors = self.anchors or ["start"] * len(self.columns)
        for n, (cell, width, anchor) in enumerate(zip(row, self.widths, anchors, strict=True)):
            inner_left, inner_right = left + _PAD, left + width - _PAD
            beside = None if isinstance(cell, str) or self._asides is None else cell[1]
            if beside and self._asides is not None:
                # The small figures line up at their own left, the large ones at their right before them.
                small = inner_right - self._asides[n] if anchor == "end" else None
                if small is None:
                    small = inner_left + text_width(cell[0], self.height) + _ASIDE
                at = (small, top - _OVER - self.height)
                items.append(Text(LETTERING, at, beside, LEAST_LETTERING))
                inner_right = small - _ASIDE
            x = {"start": inner_left, "middle": (inner_left + inner_right) / 2, "end": inner_right}[anchor]
            tiers = self._tiers(cell, width, head)
            items += [
                Text(LETTERING, (x, top - drop), line, height, anchor, bold=head)
                for (line, height), drop in zip(tiers, _drops(tiers), strict=True)
                if line
            ]
            left += width
        return items


def _drops(tiers: Sequence[tuple[str, float]]) -> list[float]:
    """Base lines below the cell's top."""
    drops, y = [], _OVER
    for n, (_, height) in enumerate(tiers):
        if n:
            y += _TIER if height < tiers[n - 1][1] else (LINE_PITCH - 1) * height * 0.75
        y += height
        drops.append(y)
    return drops


def widest(texts: Sequence[str], height: float = ACTED_ON_LETTERING) -> float:
    """Width of the longest of some texts, mm."""
    return max((text_width(text, height) for text in texts), default=0.0)


def joined_roles(roles: Iterable[str]) -> str:
    """Several roles in few words: what all of them end in is said once ("volume and tone shaft hole")."""
    words = [role.split() for role in dict.fromkeys(roles)]
    alike = 0
    while (
        len(words) > 1 and alike < min(map(len, words)) - 1 and len({each[-1 - alike] for each in words}) == 1
    ):
        alike += 1
    heads = [" ".join(each[: len(each) - alike]) for each in words]
    whole = " and ".join(filter(None, (", ".join(heads[:-1]), heads[-1])))
    return " ".join((whole, *(words[0][-alike:] if alike else ())))


def stepped_names(numbers: Sequence[str], alone: str) -> str:
    """The numbers of a group ("S1 to S6") with their role of the group, or the one thing's own name."""
    if len(numbers) == 1:
        return alone
    role = alone.partition(" ")[2]
    return f"{runs(numbers)} {role.removesuffix('s')}s"
