"""The bridge on two posts, with or without a tailpiece: its letters and its picture."""

from __future__ import annotations

from functools import partial

from scribeline.web.bridges import KindPage
from scribeline.web.bridges.studs import LETTERS, held

PAGE = KindPage(
    "Bridge on posts",
    "Everything counts from the line of the posts, towards the tail, a minus towards the neck.",
    {
        "post_spacing": "P",
        "post_diameter": "E",
        "post_length": "F",
        **LETTERS,
        "edge_below_strings": "K",
        "tailpiece_behind": "T",
        "tailpiece_stud_spacing": "U",
    },
    "The bridge on its posts and its tailpiece from above and cut along, with the dimensions lettered",
    partial(held, tailpiece=True),
)
