"""What a form is made of: fields, sections of a table, a page of them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from scribeline.job import Way

Kind = Literal[
    "length", "number", "whole", "angle", "gauge", "text", "choice", "yes", "date", "list", "names", "bits"
]


@dataclass(frozen=True, slots=True)
class Field:
    """One key of the job file.

    Attributes:
        key: `bridge.spacing`, `pockets[1].depth`.
        label: what it is, in bench words.
        letter: its letter on the measuring picture; "" where it is on none.
        kind: how what is typed is read.
        choices: for a choice or names: what may be chosen, as (value, words).
        hint: how to measure it, or what follows from it.
        needed: whether the plan cannot do without (it cannot be emptied).
        within: least and most it may be, mm or as the number it is; None at an end that is open.
        usual: a word that is taken where none is stated.
        depth: of a list: 1 for values in one line, 2 for rows of them, 3 for outlines with an empty line between.
    """

    key: str
    label: str
    letter: str = ""
    kind: Kind = "length"
    choices: tuple[tuple[str, str], ...] = ()
    hint: str = ""
    needed: bool = True
    within: tuple[float | None, float | None] = (None, None)
    depth: int = 0
    usual: str = ""

    @property
    def slug(self) -> str:
        """The key as an HTML id."""
        return re.sub(r"[^a-z0-9]+", "-", self.key.lower()).strip("-")


@dataclass(frozen=True, slots=True)
class Section:
    """One table of the job on a page.

    Attributes:
        key: of the table; "" for what a page gathers from several.
        title: as its heading says.
        lead: what it is; "" where the page says it.
        fields: what is shown at once.
        more: what the job leaves out, shown when asked for.
        ways: groups of ways in which it may be stated, each with the number of the one it is stated in.
        offers: tables it may have besides, and lists it may have one more of, as (key, words).
        item: the list it belongs to, its number there, and how many there are; None where it is no item.
        optional: whether it can be taken out as a whole.
    """

    key: str
    title: str
    lead: str = ""
    fields: tuple[Field, ...] = ()
    more: tuple[Field, ...] = ()
    ways: tuple[tuple[int, tuple[Way, ...]], ...] = ()
    offers: tuple[tuple[str, str], ...] = ()
    item: tuple[str, int, int] | None = None
    optional: bool = False


@dataclass(frozen=True, slots=True)
class Family:
    """A page: one part, or one thing decided.

    Attributes:
        slug: in addresses.
        title: as its heading says.
        lead: how to go about measuring it.
        sections: its tables, its own first.
        picture: name of the measuring picture; "" where there is none.
        shelf: the parts book's shelf it may be taken from.
        table: the job's table that the shelf's numbers go into.
    """

    slug: str
    title: str
    lead: str
    sections: tuple[Section, ...]
    picture: str = ""
    shelf: str = ""
    table: str = ""

    @property
    def fields(self) -> tuple[Field, ...]:
        """Every field on it."""
        return tuple(field for each in self.sections for field in (*each.fields, *each.more))


@dataclass(frozen=True, slots=True)
class Blank:
    """What has to be said before a table can be written: a new one, or one stated in another way.

    Attributes:
        key: of the table; of a list that gets one more.
        table: that is written: of a list its next.
        title: as its heading says.
        fields: what is asked.
        ways: groups of ways to choose from, each with the number of the one chosen.
        group: the one group that is stated otherwise; None for a new table.
    """

    key: str
    table: str
    title: str
    fields: tuple[Field, ...]
    ways: tuple[tuple[int, tuple[Way, ...]], ...] = ()
    group: int | None = None
