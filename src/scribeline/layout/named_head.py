"""Names the numbers of the head: where each post stands, how its string kinks and breaks."""

from __future__ import annotations

from scribeline.job import Document, post_along
from scribeline.layout.head import (
    HeadPlace,
    Post,
    Tree,
    below_glue_line,
    breaks_down,
    drawn_aside,
    off_its_post,
    past_its_string,
    scarf_area,
    scarf_face,
    scarf_flat,
    slot_over_face,
    stock_needed,
    straight_on,
    under_tree,
)
from scribeline.quantities import Quantities, cos
from scribeline.strings import midway


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
    number = 0
    for index, tree in enumerate(place.trees, start=1):
        _name_tree(found, document, index, tree, number + 1)
        number += len(tree.screws)
    _name_stock(found, document, place, step)


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
        f"{name}.along",
        post_along,
        spaced,
        what=f"the nut to string {post.string}'s post, along the head's face",
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
    held = "head.string_height" if post.tree is None else f"head.trees[{post.tree + 1}].height"
    away = f"{name}.along" if post.tree is None else f"head.trees[{post.tree + 1}].along"
    falls: dict[str, str | float] = {"angle": "head.angle", "slot": "head.slot-over-face", "post": held}
    falls |= {"along": away}
    found.work(
        f"{name}.break",
        breaks_down,
        falls,
        what=f"how far string {post.string} breaks down over the nut",
        unit="rad",
    )


def _name_tree(found: Quantities, document: Document, index: int, tree: Tree, first: int) -> None:
    """Name where the strings under a tree are, and the screws that hold it, of which `first` is the first's number."""
    key = f"head.trees[{index}]"
    for string in tree.strings:
        scale = f"string-{string}.scale" if document.scale.is_fanned else "scale.length"
        inputs: dict[str, str | float] = {
            "nut": f"string-{string}.nut-across",
            "row": f"string-{string}.bridge-row",
            "scale": scale,
            "along": f"{key}.along",
            "angle": "head.angle",
            "kink": f"tuner-{string}.kink",
        }
        what = f"string {string} under its tree, from the centreline to the treble"
        found.work(f"string-{string}.under-tree", _under, inputs, what=what)
    outer = sorted(tree.strings)
    ends: dict[str, str | float] = {
        "one": f"string-{outer[0]}.under-tree",
        "other": f"string-{outer[-1]}.under-tree",
    }
    for number, side in enumerate((1.0, -1.0)[: len(tree.screws)], start=first):
        name, what = f"tree-screw-{number}.planned", "a string tree's screw from the centreline to the treble"
        found.work(f"{name}.along", _same, {"of": f"{key}.along"}, what="the nut to a string tree's screw")
        if len(tree.screws) == 1:
            found.work(f"{name}.across", midway, ends, what=what)
        else:
            past: dict[str, str | float] = {
                "of": ends["one" if side > 0 else "other"],
                "beyond": f"{key}.beyond",
            }
            found.work(f"{name}.across", past_its_string, {**past, "side": side}, what=what)


def _name_stock(found: Quantities, document: Document, place: HeadPlace, step: str) -> None:
    """Name what the head takes of the stock, and its scarf joint."""
    if place.posts and not place.scarf:
        inputs: dict[str, str | float] = {"step": step, "board": "neck.board_thickness"}
        found.work(
            "head.below-glue-line", below_glue_line, inputs, what="the head's face under the glue line"
        )
        found.give(
            "head.length",
            -min(corner.x for corner in place.outline),
            what="length of the head along its face",
            source="its outline",
        )
        takes: dict[str, str | float] = {
            "below": "head.below-glue-line",
            "length": "head.length",
            "thickness": "head.thickness",
            "angle": "head.angle",
        }
        found.work("head.stock-needed", stock_needed, takes, what="stock for head and neck in one piece")
    if place.scarf is not None:
        cut: dict[str, str | float] = {"stock": "head.stock", "angle": "head.angle"}
        found.work("head.scarf-face", scarf_face, cut, what="length of the scarf joint's sawn face")
        found.work("head.scarf-flat", scarf_flat, cut, what="what the scarf joint takes of the neck's length")
        glued: dict[str, str | float] = {"face": "head.scarf-face", "width": "head.stock_width"}
        found.work("head.scarf-area", scarf_area, glued, what="what is glued of the scarf joint", unit="mm²")


def _under(*, nut: float, row: float, scale: float, along: float, angle: float, kink: float) -> float:
    place: float = under_tree(straight_on(nut, row, scale, along * cos(angle)), kink, along)
    return place


def _same(of: float) -> float:
    return of


def _straight(nut: float, row: float, scale: float, along: float, angle: float) -> float:
    place: float = straight_on(nut, row, scale, along * cos(angle))
    return place


def _beside(straight: float, post: float, gauge: float, side: float) -> float:
    return straight + off_its_post(side, post, gauge)


def _kink(*, across: float, post: float, gauge: float, side: float, straight: float, along: float) -> float:
    kink: float = drawn_aside(across - off_its_post(side, post, gauge), straight, along)
    return kink
