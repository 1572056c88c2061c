"""What every page of a job says about itself, and the cautions on it."""

from collections.abc import Sequence
from dataclasses import dataclass

from scribeline.drawing.marks import Piece, notice
from scribeline.drawing.sheet import Item, Point
from scribeline.findings import Tag
from scribeline.lengths import JobUnit, unit_words


def units_below(unit: JobUnit) -> str:
    """How a sheet says what its numbers are in."""
    return "{}, {} below".format(*unit_words(unit))


@dataclass(frozen=True, slots=True)
class Caption:
    """What every sheet of a job says about itself.

    Attributes:
        job: Name or number of the job.
        title: What the sheet shows.
        revision: Of the job.
        date: Of that revision, as it is to be printed.
        hand: "right-handed" or "left-handed".
        view: "seen from the front", "seen from the back", or how else one looks at it.
        unit: What the numbers are in first.
        scale: "1:1 (full size)", "1:2".
        datum: The datum every number is measured from, named as on all sheets.
        kind: The document type (ISO 7200): "template", "drawing", "step card".
        cautions: Sentences that fit the work.
    """

    job: str
    title: str
    revision: str
    date: str
    hand: str
    view: str = ""
    unit: JobUnit = "mm"
    scale: str = ""
    datum: str = ""
    kind: str = ""
    cautions: tuple[str, ...] = ()


def cautions(sentences: Sequence[str], at: Point, width: float, *, kind: Tag = "CAUTION") -> Piece:
    """One notice under the other, hanging from the top left corner `at`."""
    items: list[Item] = []
    y = at[1]
    for sentence in sentences:
        piece = notice(kind, sentence, (at[0], y), width)
        items += piece.items
        y -= piece.height + 2.0
    return Piece(tuple(items), width, max(0.0, at[1] - y - 2.0))
