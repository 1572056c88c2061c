"""What a field and a family of fields are."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

Kind = Literal["length", "whole", "share", "angle", "gauge", "text", "choice", "bits", "place"]


@dataclass(frozen=True, slots=True)
class Field:
    """One key of the job file.

    Attributes:
        key: `bridge.spacing`, `pockets[1].depth`.
        label: what it is, in bench words.
        letter: its letter on the measuring picture; "" where it is on none.
        kind: how what is typed is read.
        choices: for a choice: what may be chosen, as (value, words).
        hint: how to measure it, or what follows from it.
        needed: whether the plan cannot do without (it cannot be emptied).
    """

    key: str
    label: str
    letter: str = ""
    kind: Kind = "length"
    choices: tuple[tuple[str, str], ...] = ()
    hint: str = ""
    needed: bool = True

    @property
    def slug(self) -> str:
        """The key as an HTML id."""
        return re.sub(r"[^a-z0-9]+", "-", self.key.lower()).strip("-")


@dataclass(frozen=True, slots=True)
class Family:
    """One part, or one thing decided.

    Attributes:
        slug: in addresses.
        title: as its heading says.
        lead: how to go about measuring it.
        fields: in the order of the picture's letters.
        picture: name of the measuring picture; "" where there is none.
        shelf: the parts book's shelf it may be taken from.
        table: the job's table that the shelf's numbers go into.
    """

    slug: str
    title: str
    lead: str
    fields: tuple[Field, ...]
    picture: str = ""
    shelf: str = ""
    table: str = ""
