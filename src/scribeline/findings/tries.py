"""What a cure would write into the job, read from its own words, so that words and number cannot differ.

A cure that names a key and a number says so in one way: "set KEY to NUMBER mm", further ways out as "or KEY to NUMBER
mm"; in an inch shop "set KEY to NUMBER in (NUMBER mm)". Whatever is said in that form can be tried before it is kept.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

_NUMBER = r"-?\d+(?:\.\d+)?"
_KEY = r"[a-z_]+(?:\[\d+\])?(?:\.[a-z_]+(?:\[\d+\])?)+"
_SAID = re.compile(
    rf"\b(?:set|or) (?P<key>{_KEY}) to (?:about |more than )?"
    rf"(?:(?P<number>{_NUMBER})(?P<unit> (?:mm|in))?|\[(?P<pair>{_NUMBER}(?:, {_NUMBER})+)\](?P<pair_unit> in)?)(?![\w.])"
)


@dataclass(frozen=True, slots=True)
class Try:
    """One way out that can be tried.

    Attributes:
        key: of the job file, such as `string_holes.top_share`.
        value: what to write there: a bare number, a length with its unit ("12.30 mm"), or a list of such lengths.
    """

    key: str
    value: str | tuple[str, ...]

    @property
    def shown(self) -> str:
        """The value as words."""
        return self.value if isinstance(self.value, str) else f"[{', '.join(self.value)}]"


def tries_in(cure: str) -> tuple[Try, ...]:
    """Every way out that a cure names with its key and number, in the order it names them."""
    return tuple(
        Try(said["key"], f"{said['number']}{said['unit'] or ''}")
        if said["pair"] is None
        else Try(
            said["key"], tuple(f"{each}{said['pair_unit'] or ' mm'}" for each in said["pair"].split(", "))
        )
        for said in _SAID.finditer(cure)
    )
