"""What every drawing sheet is made with: the paper, its frame and cautions, and the room that leaves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from scribeline.drawing.block import units_below
from scribeline.drawing.facing import datum_in_words
from scribeline.drawing.marks import measuring_bar
from scribeline.drawing.print_scale import SET_OUT_BY_NUMBER, ruling
from scribeline.drawing.sheet import Item, Sheet, Window
from scribeline.lengths import said
from scribeline.plan import Plan
from scribeline.steps.cautions import BY_MACHINE
from scribeline.tables.paper import desk_paper, paper_size_mm, read_paper

if TYPE_CHECKING:
    from scribeline.solid.body import Body

STANDARD_SCALES: tuple[tuple[str, float], ...] = (
    ("1:1 (full size)", 1.0),
    ("1:2", 0.5),
    ("1:2.5", 0.4),
    ("1:5", 0.2),
    ("1:10", 0.1),
)
"""Reductions after ISO 5455, with the 1:2.5 that drawing offices use between two of them."""

AT_THE_PRESS = (" ".join((BY_MACHINE["drill press"][0], BY_MACHINE["drill press"][2])),)
"""The caution of pages from which holes are drilled."""

_AMERICAN = {"Letter", "Legal", "Tabloid", "ANSI A", "ANSI B", "ANSI C", "ANSI D", "ANSI E"}

FILING_MARGIN, MARGIN = 20.0, 10.0
"""Of a frame, after ISO 5457: to the left for filing, and elsewhere, mm."""
BLOCK_HEIGHT, CAUTION_HEIGHT = 25.5, 8.0
"""Of the title block across a sheet's foot, and of the caution over it, mm."""
_GAP = 3.0
NUMBERS_GOVERN = f"Over {said(SET_OUT_BY_NUMBER, None)} set out the number, not the paper."
"""What must be said where marks are at full size: paper moves with damp."""


@dataclass(frozen=True, slots=True)
class Page:
    """One page, or several where its blocks run on.

    Attributes:
        title: what it shows.
        items: what is drawn, on the whole paper.
        view: "seen from the front", or how else one looks at it.
        scale: as printed.
        cautions: sentences that fit what is done from this page.
        blocks: what is set beside the drawing, or instead of one.
        datum: what its numbers are measured from, where it is another than the rest.
        material: what is worked, where it is another workpiece than the body.
        room: where the blocks beside a drawing stand, mm: left, bottom, right, top; the whole window where there is none.
    """

    title: str
    items: tuple[Item, ...] = ()
    view: str = ""
    scale: str = ""
    cautions: tuple[str, ...] = ()
    blocks: tuple[Mapping[str, Any], ...] = ()
    room: Window | None = None
    datum: str = ""
    material: str = ""


class Finished:
    """The finished body of a plan, made when it is first called for and then kept."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan

    @cached_property
    def body(self) -> Body:
        """The body.

        Raises:
            BodyError: it cannot be made.
        """
        from scribeline.solid.body import make_body

        layout = self.plan.layout
        return make_body(layout.outline, layout.thickness, self.plan.features, form=layout.body)


@dataclass(frozen=True)
class Office:
    """What the page makers share: the plan, the paper, and the room a page leaves for its drawing.

    Attributes:
        plan: what is drawn.
        finished: its finished body, where others want it too.
        width: of the paper, mm.
        height: of the paper, mm.
    """

    plan: Plan
    finished: Finished | None = None
    width: float = field(init=False)
    height: float = field(init=False)

    def __post_init__(self) -> None:
        short, long = sorted(paper_size_mm(self.paper))
        object.__setattr__(self, "width", long)
        object.__setattr__(self, "height", short)

    @property
    def paper(self) -> str:
        """The sheets' size: the job's own paper where a desk printer takes it, else the one such a printer takes."""
        return desk_paper(read_paper(self.plan.job.document.print.paper))

    @cached_property
    def body(self) -> Body:
        """The finished body; raises what `Finished.body` raises."""
        return (self.finished or Finished(self.plan)).body

    @property
    def window(self) -> Window:
        """Where a page's drawing may stand, clear of frame and title block."""
        return self.window_over(())

    def window_over(self, cautions: tuple[str, ...]) -> Window:
        """The same on a page that carries cautions of its own."""
        bottom = MARGIN + BLOCK_HEIGHT + (CAUTION_HEIGHT if cautions else 0.0)
        return (FILING_MARGIN + _GAP, bottom + _GAP, self.width - MARGIN - _GAP, self.height - MARGIN - _GAP)

    def data(self, pages: Sequence[Page], pictures: dict[str, Sheet]) -> dict[str, Any]:
        """What the form `sheets.typ` is filled with; the drawings are put among the pictures."""
        document, body = self.plan.job.document, self.plan.layout.body
        material = " / ".join(dict.fromkeys(layer.timber.label for layer in body.layers))
        told = []
        for number, page in enumerate(pages):
            name = f"page {number}" if page.items else ""
            if name:
                pictures[name] = Sheet(name, self.width, self.height, page.items)
            told.append(
                {
                    "title": page.title,
                    "view": page.view,
                    "scale": page.scale,
                    "kind": kind_of(page),
                    "cautions": page.cautions,
                    "picture": name,
                    "blocks": [_block(block, pictures) for block in page.blocks],
                    "room": page.room,
                    "datum": page.datum or datum_in_words(self.plan),
                    "material": page.material or material,
                }
            )
        return {
            "width": self.width,
            "height": self.height,
            "filing margin": FILING_MARGIN,
            "margin": MARGIN,
            "block height": BLOCK_HEIGHT,
            "caution height": CAUTION_HEIGHT,
            "gap": _GAP,
            "pages": told,
            "job": document.name,
            "revision": document.revision,
            "date": "" if document.date is None else document.date.isoformat(),
            "hand": f"{document.handed}-handed",
            "units": units_below(document.units),
            "paper": self.paper,
            "projection": projection(self.paper),
        }


def projection(paper: str) -> str:
    """The method of projection whose symbol stands in the title block (ISO 5456-2).

    Third angle on papers of ASME Y14.1, whose Y14.3 takes it for granted; first angle on all others, as offices that draw on
    ISO paper mostly do.
    """
    return "third angle" if paper in _AMERICAN else "first angle"


def _block(block: Mapping[str, Any], pictures: dict[str, Sheet]) -> dict[str, Any]:
    """A block with its pictures put among the others."""
    told = {key: value for key, value in block.items() if key not in {"sheet", "blocks"}}
    if "sheet" in block:
        pictures[block["name"]] = block["sheet"]
    if "blocks" in block:
        told["blocks"] = [_block(each, pictures) for each in block["blocks"]]
    return told


def kind_of(page: Page) -> str:
    """What kind of document a page is (ISO 7200), and whether one may measure on it."""
    if not page.items:
        return "list"
    return "drawing, full size" if page.scale == STANDARD_SCALES[0][0] else "drawing: do not scale off it"


def full_size_bar(office: Office, window: Window | None = None) -> tuple[Item, ...]:
    """A measuring bar at the foot of a full-size page: a rule on it says whether the print is true."""
    left, bottom, _, _ = window or office.window
    ruled = ruling(office.paper)
    return measuring_bar((left, bottom + 0.5), ruled=ruled, length=ruled.short)


def spaced(wanted: Sequence[float], pitch: float) -> list[float]:
    """Places for labels as near to the wanted ones as may be, at least `pitch` apart, in the same order.

    Labels that would touch are pushed apart evenly about the middle of their crowd.
    """
    order = sorted(range(len(wanted)), key=lambda n: wanted[n])
    crowds: list[tuple[float, int]] = []
    for n in order:
        crowds.append((wanted[n], 1))
        while len(crowds) > 1:
            (low, below), (high, above) = crowds[-2:]
            if high - low >= pitch * (below + above) / 2 - 1e-9:
                break
            crowds[-2:] = [((low * below + high * above) / (below + above), below + above)]
    places = [middle + pitch * (k - (count - 1) / 2) for middle, count in crowds for k in range(count)]
    result = [0.0] * len(wanted)
    for n, place in zip(order, places, strict=True):
        result[n] = place
    return result
