"""The vibrato on screws: its letters and its picture."""

from __future__ import annotations

from functools import partial

from scribeline.web.bridges import KindPage
from scribeline.web.bridges.vibrato import LEAD, LETTERS, hung

PAGE = KindPage(
    "Vibrato on screws",
    LEAD,
    {"screw_spread": "P", "knife_behind_screw": "R", **LETTERS},
    "The vibrato on its screws from above and cut along, with the dimensions lettered",
    partial(hung, on_screws=True),
)
