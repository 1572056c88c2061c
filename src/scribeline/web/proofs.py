"""Pictures of the pages of what was made for printing, kept beside it: what comes out of the printer, seen before."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from scribeline.tables.paper import paper_name

if TYPE_CHECKING:
    from pathlib import Path

    from scribeline.drawing.pdf import PagePicture

FOLDER = "pages"
"""Where the pictures lie, beside the files."""
_LIST = "pages.json"


@dataclass(frozen=True, slots=True)
class Proof:
    """One page of a file.

    Attributes:
        file: the file's name.
        number: of the page, from 1.
        title: what is on it.
        width: of the paper, mm.
        height: of the paper, mm.
    """

    file: str
    number: int
    title: str
    width: float
    height: float

    def paper(self, like: tuple[str, ...] = ()) -> str:
        """The paper in words; of several names for one size, one of `like`."""
        return paper_name((self.width, self.height), like=like)

    @property
    def small(self) -> str:
        """Name of its small picture."""
        return f"{self.file}-{self.number}-small.png"

    @property
    def large(self) -> str:
        """Name of its large one."""
        return f"{self.file}-{self.number}.png"


def keep(out: Path, name: str, pictures: Iterable[PagePicture]) -> None:
    """Keep the pictures of one file's pages with those kept before.

    Args:
        out: the folder the file lies in.
        name: the file's.
        pictures: in the order of the pages.
    """
    folder = out / FOLDER
    folder.mkdir(exist_ok=True)
    found = list(proofs(out))
    for number, each in enumerate(pictures, start=1):
        proof = Proof(name, number, each.title, each.width, each.height)
        found.append(proof)
        (folder / proof.small).write_bytes(each.small)
        (folder / proof.large).write_bytes(each.large)
    (folder / _LIST).write_text(json.dumps([asdict(each) for each in found]), encoding="utf-8")


def proofs(out: Path) -> tuple[Proof, ...]:
    """The pages of all files of a folder that have pictures."""
    kept = out / FOLDER / _LIST
    if not kept.exists():
        return ()
    return tuple(Proof(**each) for each in json.loads(kept.read_text(encoding="utf-8")))
