"""Reads printed step cards back as a builder does: what stands in which box, which table cell, which line of "Do".

It knows the cards' look and words only, and nothing of the plan they were made from.
"""

from __future__ import annotations

import ctypes
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import groupby
from typing import Any

import pypdfium2
import pypdfium2.raw as pdfium

_MM = {"mm": 1.0, "in": 25.4}
LENGTH = re.compile(r"(\d+(?:\.\d+)?) ?(mm|in)\b")
"""A length with its unit; where both units are printed the job's own comes first."""

_TAPE = "TAPE from the bit's point"
_LABEL = re.compile(r"[A-Z]\d*(?: in| out)?")
_THIN = 2.5
"""A ruled line is no thicker, points."""


class UnreadCardError(AssertionError):
    """A card that does not say what a builder must know."""


def length_in(text: str) -> float:
    """The first length of a text, mm.

    Raises:
        UnreadCardError: there is none.
    """
    found = LENGTH.search(text)
    if found is None:
        raise UnreadCardError(f"no length in {text!r}")
    return float(found[1]) * _MM[found[2]]


@dataclass(frozen=True, slots=True)
class Run:
    """Lettering in one line that no gap and no ruled line parts: points, y upwards."""

    text: str
    x0: float
    x1: float
    y: float
    size: float


@dataclass(frozen=True, slots=True)
class Cell:
    """A box between ruled lines and what stands in it."""

    x0: float
    y0: float
    x1: float
    y1: float
    text: str


@dataclass(frozen=True, slots=True)
class Row:
    """One hole's row in the table of places, mm; None where the table does not tell.

    Attributes:
        from_twelfth: from the 12th crown towards the tail.
        from_pocket_end: from the pocket's end wall towards the tail.
        from_board_end: from the board's end towards the tail.
        from_tail: from the tail edge on the centreline towards the tail.
        to_treble: from the centreline towards the treble.
        down: its middle below the face that `below` names.
        below: "top" or "back".
    """

    from_twelfth: float | None
    from_pocket_end: float | None
    to_treble: float
    down: float | None = None
    below: str = "top"
    from_board_end: float | None = None
    from_tail: float | None = None


@dataclass(frozen=True)
class StepCard:
    """One step as printed.

    Attributes:
        no: its number.
        title: what is done.
        machine: "bench", "router", "drill press", "hand drill" or "finish".
        face: "top", "back" or "" for the face that lies up.
        bit: kind and diameter of the drill bit, mm; None where there is none.
        stop: the depth stop's travel or the tape's distance from the bit's point, mm.
        taped: whether it is a tape's.
        stop_words: all that the box below it says: how deep the hole is, where the stop is zeroed.
        depth: what the card calls the depth, mm.
        rows: the table of places by label.
        do: the lines under "Do".
        should_measure: what the card's own reading should be, mm.
        extents: of each cavity what its neck side and its tail side are measured from, and how far from it they are, mm; by
            its name where there are several.
        gate: what stands under "Before you go on".
        hand: "right-handed" or "left-handed".
    """

    no: int
    title: str
    machine: str
    face: str = ""
    bit: tuple[str, float] | None = None
    stop: float | None = None
    taped: bool = False
    stop_words: str = ""
    depth: float | None = None
    rows: dict[str, Row] = field(default_factory=dict)
    do: tuple[str, ...] = ()
    should_measure: float | None = None
    extents: dict[str, tuple[str, float, float]] = field(default_factory=dict)
    gate: str = ""
    hand: str = "right-handed"

    def line(self, pattern: str) -> re.Match[str] | None:
        """The first match of a pattern in a line of "Do"."""
        return next((found for each in self.do if (found := re.search(pattern, each))), None)


def read_step_cards(written: bytes) -> tuple[StepCard, ...]:
    """The steps in their order; a step that goes on on a second sheet is one step."""
    with pypdfium2.PdfDocument(written) as document:
        sheets = [sheet for page in document for sheet in _sheets(_runs(page), _ruled(page))]
    return tuple(_card(list(pages)) for _, pages in groupby(sheets, key=lambda sheet: sheet.step[0]))


def _card(pages: Sequence[_Sheet]) -> StepCard:
    first = pages[0]

    def found(name: str) -> Any:
        return next((value for page in pages if (value := getattr(page, name))), None)

    stop_words = found("stop_words") or ""
    return StepCard(
        no=first.step[0],
        title=first.title,
        machine=first.step[1],
        face=first.face,
        bit=found("bit"),
        stop=found("stop"),
        taped=first.under(_TAPE) is not None,
        stop_words=stop_words,
        depth=first.depth,
        rows={label: row for page in pages for label, row in page.rows.items()},
        do=tuple(line for page in pages for line in page.do),
        should_measure=found("should_measure"),
        extents={name: ends for page in pages for name, ends in page.extents.items()},
        gate=found("gate") or "",
        hand=first.hand,
    )


# --- what is printed, and where -------------------------------------------------------------------------


def _runs(page: pypdfium2.PdfPage) -> list[Run]:
    """Lettering in the order it is written, parted where a gap or a new line parts it."""
    page_text = page.get_textpage()
    raw, number = page_text.raw, ctypes.c_double
    left, right, bottom, top, x, y = (number() for _ in range(6))
    loose = pdfium.FS_RECTF()
    runs: list[Run] = []
    text, x0, x1, line, size = "", 0.0, 0.0, 0.0, 0.0
    gap = False
    for n in range(pdfium.FPDFText_CountChars(raw)):
        letter = chr(pdfium.FPDFText_GetUnicode(raw, n))
        if letter in "\r\n" or letter.isspace():
            gap = True
            continue
        pdfium.FPDFText_GetCharOrigin(raw, n, x, y)
        pdfium.FPDFText_GetLooseCharBox(raw, n, loose)
        pdfium.FPDFText_GetCharBox(raw, n, left, right, bottom, top)
        height = loose.top - loose.bottom
        same = text and abs(y.value - line) < 0.5 and -0.2 * height < loose.left - x1 < 0.45 * height
        if same:
            text += (" " if gap else "") + letter
        else:
            if text:
                runs.append(Run(text, x0, x1, line, size))
            text, x0, line, size = letter, loose.left, y.value, height
        x1, gap = loose.right, False
    if text:
        runs.append(Run(text, x0, x1, line, size))
    return runs


Box = tuple[float, float, float, float]


def _ruled(page: pypdfium2.PdfPage) -> list[Box]:
    """Ruled lines and frames as boxes: left, bottom, right, top."""
    return [
        each.get_bounds()
        for each in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH], max_depth=8)
        if pdfium.FPDFPath_CountSegments(each.raw) <= 6
    ]


_STEP = re.compile(r"step \d+ of \d+")


def _sheets(runs: list[Run], ruled: list[Box]) -> list[_Sheet]:
    """A page's cards: none on the order of work, one, or two with a line across between them."""
    steps = [run for run in runs if _STEP.match(run.text)]
    hand = next((run.text for run in runs if run.text in {"right-handed", "left-handed"}), "")
    wide = 0.85 * max(box[2] for box in ruled)
    across = [
        (low + high) / 2 for left, low, right, high in ruled if right - left > wide and high - low < _THIN
    ]
    cuts = [min(level for level in across if level > step.y + 20) for step in steps[1:]]
    return [
        _Sheet([run for run in runs if low < run.y < high], ruled, hand)
        for high, low in zip([1e9, *cuts], [*cuts, 0.0], strict=True)
        if steps
    ]


@dataclass(frozen=True)
class _Sheet:
    """One card on a printed page."""

    runs: list[Run]
    ruled: list[Box]
    hand: str

    @cached_property
    def _step_run(self) -> int:
        return next(n for n, run in enumerate(self.runs) if _STEP.match(run.text))

    @cached_property
    def step(self) -> tuple[int, str]:
        """Number and machine."""
        run = self.runs[self._step_run]
        found = re.match(r"step (\d+)", run.text)
        assert found is not None
        return int(found[1]), self.runs[self._step_run - 1].text

    @cached_property
    def title(self) -> str:
        """The large lettering above the machine's name."""
        above = self.runs[self._step_run].y + 5
        large = [run for run in self.runs[: self._step_run - 1] if run.y > above and run.size > 18]
        return " ".join(run.text for run in large if run.text != str(self.step[0]))

    @cached_property
    def face(self) -> str:
        """The face that lies up, in white on black."""
        said = {run.text for run in self.runs}
        return "top" if "TOP FACE UP" in said else "back" if "BACK FACE UP" in said else ""

    def under(self, heading: str) -> float | None:
        """The large length under a heading, mm."""
        head = next((run for run in self.runs if run.text.startswith(heading)), None)
        if head is None:
            return None
        below = (
            run
            for run in self.runs
            if head.y - 75 < run.y < head.y and abs(run.x0 - head.x0) < 8 and run.size > 20
        )
        return next((length_in(run.text) for run in below if LENGTH.search(run.text)), None)

    @cached_property
    def bit(self) -> tuple[str, float] | None:
        """Kind and diameter: a bit that goes by an inch size has its millimetres below."""
        head = next((run for run in self.runs if run.text.startswith("BIT, ")), None)
        if head is None:
            return None
        below = [run for run in self.runs if head.y - 75 < run.y < head.y and abs(run.x0 - head.x0) < 8]
        large = next(run for run in below if run.size > 20)
        if found := re.fullmatch(r"(\d+)/(\d+) ?in", large.text):
            return head.text.removeprefix("BIT, "), int(found[1]) / int(found[2]) * 25.4
        return head.text.removeprefix("BIT, "), length_in(large.text)

    @cached_property
    def stop(self) -> float | None:
        """What the depth stop is set to, or how far from its point the bit is taped, mm."""
        return self.under("DEPTH STOP") or self.under(_TAPE)

    @cached_property
    def stop_words(self) -> str:
        """All that the box below the bit and the stop says."""
        return self._box(r"Hole \d")

    @cached_property
    def depth(self) -> float | None:
        """How deep the hole or the cavity is, mm."""
        return length_in(self.stop_words) if self.stop_words else self.under("DEPTH")

    def _box(self, opening: str) -> str:
        """What stands in the frame that a text opens."""
        first = next((run for run in self.runs if re.match(opening, run.text)), None)
        if first is None:
            return ""
        frames = [
            box
            for box in self.ruled
            if box[0] < first.x0 < box[2] and box[1] < first.y < box[3] and box[2] - box[0] > 100
        ]
        if not frames:
            return ""
        left, low, right, high = min(frames, key=lambda box: (box[2] - box[0]) * (box[3] - box[1]))
        inside = [run for run in self.runs if left < run.x0 < right and low < run.y < high]
        return " ".join(run.text for run in inside)

    @cached_property
    def do(self) -> list[str]:
        """The lines under "Do"."""
        start = next((n for n, run in enumerate(self.runs) if run.text == "Do"), None)
        if start is None:
            return []
        head, lines = self.runs[start], list[str]()
        low, size = head.y, self.runs[start + 1].size
        for run in self.runs[start + 1 :]:
            below = 0.5 * size < low - run.y < 2.5 * size
            if not below or abs(run.size - size) > 1 or not -1 < run.x0 - head.x0 < 1.5 * size:
                break
            if run.text.startswith("–"):
                lines.append(run.text.removeprefix("–").strip())
            elif lines and run.x0 > head.x0 + 4:
                lines[-1] += f" {run.text}"
            else:
                break
            low = run.y
        return lines

    @cached_property
    def should_measure(self) -> float | None:
        """The reading that the card says it should give, mm."""
        return self.under("SHOULD MEASURE")

    @cached_property
    def gate(self) -> str:
        """What stands under "Before you go on"."""
        return self._box_of("BEFORE YOU GO ON")

    def _box_of(self, heading: str) -> str:
        head = next((run for run in self.runs if run.text == heading), None)
        if head is None:
            return ""
        frames = [
            box
            for box in self.ruled
            if box[0] < head.x0 < box[2] and box[1] < head.y < box[3] and box[3] - box[1] > 40
        ]
        if not frames:
            return ""
        left, low, right, high = min(frames, key=lambda box: (box[2] - box[0]) * (box[3] - box[1]))
        return " ".join(
            run.text for run in self.runs if left < run.x0 < right and low < run.y < high and run is not head
        )

    @cached_property
    def cells(self) -> list[Cell]:
        """The boxes of ruled tables that hold text."""
        lines = [box for box in self.ruled if box[2] - box[0] > 12 or box[3] - box[1] > 12]
        frames = [box for box in lines if box[2] - box[0] > 100 and box[3] - box[1] > 20]
        upright = [((b[0] + b[2]) / 2, b[1], b[3]) for b in lines if b[2] - b[0] < _THIN]
        upright += [(x, b[1], b[3]) for b in frames for x in (b[0], b[2])]
        level = [((b[1] + b[3]) / 2, b[0], b[2]) for b in lines if b[3] - b[1] < _THIN]
        level += [(y, b[0], b[2]) for b in frames for y in (b[1], b[3])]
        found: dict[Box, list[str]] = {}
        for run in self.runs:
            x, y = run.x0 + 1, run.y + 2
            left = max((at for at, low, high in upright if low < y < high and at < x), default=None)
            right = min((at for at, low, high in upright if low < y < high and at > x), default=None)
            low = max((at for at, a, b in level if a < x < b and at < y), default=None)
            high = min((at for at, a, b in level if a < x < b and at > y), default=None)
            if left is not None and right is not None and low is not None and high is not None:
                found.setdefault((left, low, right, high), []).append(run.text)
        return [Cell(*box, " ".join(texts)) for box, texts in found.items()]

    @cached_property
    def rows(self) -> dict[str, Row]:
        """The table of places by label."""
        return {
            cell.text: self._row(cell)
            for cell in self.cells
            if _LABEL.fullmatch(cell.text) and self._is_label(cell)
        }

    def _is_label(self, cell: Cell) -> bool:
        head = self._head(cell)
        return head is not None and head.text == "No."

    def _head(self, cell: Cell) -> Cell | None:
        """The nearest heading above a cell, in its column."""
        above = [
            other
            for other in self.cells
            if other.y0 > cell.y0
            and other.x0 < (cell.x0 + cell.x1) / 2 < other.x1
            and re.match(r"No\.|Edge|below|deep|centreline|.*from ", other.text)
            and not LENGTH.search(other.text)
        ]
        return min(above, key=lambda other: other.y0, default=None)

    def _row(self, label: Cell) -> Row:
        middle = (label.y0 + label.y1) / 2
        heads = {
            cell: head.text
            for cell in self.cells
            if (LENGTH.search(cell.text) or cell.text == "on the centreline") and (head := self._head(cell))
        }

        def column(pattern: str) -> Cell | None:
            """The cell of a column that stands beside the label, or nearest above it."""
            under = [cell for cell, head in heads.items() if re.search(pattern, head)]
            beside = [cell for cell in under if cell.y0 < middle < cell.y1]
            above = [cell for cell in under if cell.y0 >= middle]
            return next(iter(beside), None) or min(above, key=lambda cell: cell.y0, default=None)

        across = [
            cell
            for cell, head in heads.items()
            if "centreline" in head and cell.y0 < middle < cell.y1 and cell.x0 > label.x0
        ]
        across_cell = min(across, key=lambda cell: cell.x0)
        side = heads[across_cell]
        text = across_cell.text + side.removeprefix("from centreline").removeprefix("centreline")
        deep = next(
            (
                cell
                for cell, head in heads.items()
                if re.match(r"deep|below", head) and cell.y0 < middle < cell.y1 and LENGTH.search(cell.text)
            ),
            None,
        )
        return Row(
            from_twelfth=_along(column(r"from 12th")),
            from_pocket_end=_along(column(r"from pocket")),
            to_treble=_across(text),
            down=None if deep is None else length_in(deep.text),
            below="back" if deep is not None and "below back" in f"{deep.text} {heads[deep]}" else "top",
            from_board_end=_along(column(r"from board")),
            from_tail=_along(column(r"from tail")),
        )

    @cached_property
    def extents(self) -> dict[str, tuple[str, float, float]]:
        """What each cavity's sides are measured from first, and how far they are; its name is "" where it is the only one."""
        found: dict[str, dict[str, tuple[str, float]]] = {}
        for edge in self.cells:
            if said := re.fullmatch(r"(neck side|opening|tail side)(?: (.+))?", edge.text):
                end = "tail" if said[1] == "tail side" else "neck"
                found.setdefault(said[2] or "", {}).update(
                    {end: first} if (first := self._first(edge)) else {}
                )
        return {
            name: (ends["neck"][0], ends["neck"][1], ends["tail"][1])
            for name, ends in found.items()
            if len(ends) == 2 and ends["neck"][0] == ends["tail"][0]
        }

    def _first(self, edge: Cell) -> tuple[str, float] | None:
        """The first reading along the instrument beside a cell, and from where it is taken."""
        for cell in sorted(self.cells, key=lambda each: each.x0):
            if cell.y0 < (edge.y0 + edge.y1) / 2 < cell.y1 and cell.x0 > edge.x0:
                head = self._head(cell)
                if (
                    head
                    and re.match("from (?!centreline|board)", head.text)
                    and (along := _along(cell)) is not None
                ):
                    return head.text.removeprefix("from "), along
        return None


def _along(cell: Cell | None) -> float | None:
    """A reading towards the tail; the card says where it goes to the nut, mm."""
    return None if cell is None else length_in(cell.text) * (-1 if "to the nut" in cell.text else 1)


def _across(text: str) -> float:
    """A reading from the centreline towards the treble, mm."""
    if "on the centreline" in text:
        return 0.0
    if "to bass" in text or "to the bass" in text:
        return -length_in(text)
    if "to treble" in text or "to the treble" in text:
        return length_in(text)
    raise UnreadCardError(f"no side in {text!r}")
