"""Names the numbers of the head: where each post stands, how its string kinks and breaks."""

from __future__ import annotations

from scribeline.job import Document
from scribeline.layout.head import (
    HeadPlace,
    Post,
    breaks_down,
    drawn_aside,
    off_its_post,
    slot_over_face,
    straight_on,
)
from scribeline.quantities import Quantities, cos


def name_head(found: Quantities, document: Document, place: HeadPlace | None) -> None:
    """Name them; nothing where the job states no head."""
    head = document.head
    if place is None or head is None:
        return
    step = "neck.board_thickness" if head.step is None else "head.step"
    over = {"step": step, "crown": "fret_wire.crown_height", "over": "nut.height_over_frets"}
    found.work("head.slot-over-face", slot_over_face, over, what="a string in its slot over the head's face")
    for post in place.posts:
        _name_post(found, document, post)


def _name_post(found: Quantities, document: Document, post: Post) -> None:
    head, name, string = document.head, f"tuner-{post.string}", f"string-{post.string}"
    assert head is not None
    side = "treble" if post.side > 0 else "bass"
    listed = head.treble_side if post.side > 0 else head.bass_side
    row = head.treble_row if post.side > 0 else head.bass_row
    place = listed.index(post.string)
    spaced: dict[str, str | float] = {
        "first": "head.first_post",
        "pitch": "head.pitch",
        "place": float(place),
    }
    found.work(
        f"{name}.along", _along, spaced, what=f"the nut to string {post.string}'s post, along the head's face"
    )
    scale = f"{string}.scale" if document.scale.is_fanned else "scale.length"
    path: dict[str, str | float] = {
        "nut": f"{string}.nut-across",
        "row": f"{string}.bridge-row",
        "scale": scale,
    }
    path |= {"along": f"{name}.along", "angle": "head.angle"}
    found.work(
        f"{name}.straight", _straight, path, what=f"string {post.string} there, had it run straight on"
    )
    lies: dict[str, str | float] = {
        "post": "head.post",
        "gauge": f"strings[{post.string}].gauge",
        "side": float(post.side),
    }
    if row is None:
        inputs: dict[str, str | float] = {"straight": f"{name}.straight", **lies}
        words = f"its post from the centreline to the treble, just beside the string on the {side} side"
        found.work(f"{name}.across", _beside, inputs, what=words)
    else:
        what = "its post from the centreline to the treble"
        found.give(f"{name}.across", post.side * abs(post.at.y), what=what, source="as stated")
    kinks: dict[str, str | float] = {"across": f"{name}.across", **lies}
    kinks |= {"straight": f"{name}.straight", "along": f"{name}.along"}
    words = f"how far the post draws string {post.string} aside at the nut"
    found.work(f"{name}.kink", _kink, kinks, what=words, unit="rad")
    falls: dict[str, str | float] = {
        "angle": "head.angle",
        "slot": "head.slot-over-face",
        "post": "head.string_height",
    }
    falls |= {"along": f"{name}.along"}
    found.work(
        f"{name}.break",
        breaks_down,
        falls,
        what=f"how far string {post.string} breaks down over the nut",
        unit="rad",
    )


def _along(first: float, pitch: float, place: float) -> float:
    return first + place * pitch


def _straight(nut: float, row: float, scale: float, along: float, angle: float) -> float:
    place: float = straight_on(nut, row, scale, along * cos(angle))
    return place


def _beside(straight: float, post: float, gauge: float, side: float) -> float:
    return straight + off_its_post(side, post, gauge)


def _kink(*, across: float, post: float, gauge: float, side: float, straight: float, along: float) -> float:
    kink: float = drawn_aside(across - off_its_post(side, post, gauge), straight, along)
    return kink
