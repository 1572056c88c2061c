"""The head laid out flat: where each tuner stands, and how its string gets there from the nut.

The head has a frame of its own, in its face: x runs from the nut's line towards the tail as everywhere, so that the head lies
at negative x; y from the centreline as the body's does. A stepped head's face is level with the neck's; an angled one leans back
from the nut by its angle, and its lengths are counted along its face.

A string runs straight on beyond its slot, seen from the front, unless its post draws it aside: the kink k. It breaks down over
the nut by b: the head's angle, and the fall from its slot to its post, both over the head's face. In space the string bends by
arccos(cos b cos k). A tree or a bar on the way holds it down nearer to the nut, where it stands lower than the string would run
to its post. Plane trigonometry.

An angled head in one piece with the neck takes its length's fall and its thickness's of the stock; one that is glued on takes a
scarf joint: the stock is sawn at the head's angle, the piece that comes off is turned over and glued beneath, so that the sawn
face is stock over the angle's sine.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import acos, hypot
from typing import Any

from scribeline.job import Document, Head, StringTree, clear_of_tuners, post_along
from scribeline.layout.fan import fret_lines, strings_across
from scribeline.layout.head_shapes import shaped
from scribeline.layout.points import Point, Ring
from scribeline.quantities import atan2, cos, greatest, sin, tan
from scribeline.strings import midway

HEAD_EDGE = 9.0
"""Wood left round a tuner's hole by a head whose outline is not stated, mm (common practice, no source)."""

HEAD_CURVE = 25.0
"""Length of the way from the neck's section to the head's flat back where it is not stated, mm (common practice, no source)."""

_SAME = 0.005
"""Lengths nearer than this are one, mm."""

_SMOOTH = 16
"""Corners of a quarter turn of that outline."""


@dataclass(frozen=True, slots=True)
class Post:
    """One tuner's post, and the string on its way to it.

    Attributes:
        string: its number.
        side: 1 on the treble side of the head, -1 on the bass side.
        at: its centre, in the head's frame, mm.
        kink: how far the post draws the string aside at the nut, rad; positive towards the treble.
        breaks: how far the string breaks down over the nut, rad.
        tree: which of the head's trees holds it down, counted from 0; None where none does.
    """

    string: int
    side: int
    at: Point
    kink: float
    breaks: float
    tree: int | None

    @property
    def bend(self) -> float:
        """How far the string bends over the nut in space, rad."""
        return acos(cos(self.breaks) * cos(self.kink))


@dataclass(frozen=True, slots=True)
class Tree:
    """A tree or a bar that holds strings down.

    Attributes:
        strings: numbers of those under it.
        along: the nut to it, along the face, mm.
        ends: its outermost strings there, from the centreline to the treble, mm, treble first.
        screws: places of its screws in the head's frame, mm: midway between its strings, or past either end of a bar.
        idle: numbers of the strings that run lower to their posts than it holds them.
    """

    strings: tuple[int, ...]
    along: float
    ends: tuple[float, float]
    screws: tuple[Point, ...]
    idle: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Scarf:
    """A scarf joint at the head's angle, mm and mm².

    Attributes:
        face: length of the sawn face.
        flat: what of the neck's length it takes.
        area: of the glue.
    """

    face: float
    flat: float
    area: float


@dataclass(frozen=True, slots=True)
class HeadPlace:
    """The head of one instrument, in its own frame.

    Attributes:
        posts: one a string, in the strings' order.
        outline: of the head, from the nut's line, mm.
        is_stated: whether the job states that outline.
        thickness: mm.
        trees: what holds strings down, as listed.
        stock_needed: what the neck is sawn from must be so thick where head and neck are one piece, mm.
        scarf: the joint, where the head is glued on.
    """

    posts: tuple[Post, ...]
    outline: Ring
    is_stated: bool
    thickness: float
    trees: tuple[Tree, ...]
    stock_needed: float
    scarf: Scarf | None


def drawn_aside(across: Any, straight: Any, along: Any) -> Any:
    """How far a post draws its string aside at the nut, rad.

    Args:
        across: the string at its post, from the centreline to the treble, mm.
        straight: where it would be there, had it run straight on, mm.
        along: the nut to the post, mm.
    """
    return atan2(across - straight, along)


def straight_on(nut: Any, row: Any, scale: Any, along: Any) -> Any:
    """Where a string that runs straight on beyond the nut is there, from the centreline to the treble, mm.

    Args:
        nut: the string at the nut, from the centreline to the treble, mm.
        row: the same on the scale line.
        scale: its scale, mm.
        along: beyond the nut, level with the neck, mm.
    """
    return nut - (row - nut) / scale * along


def breaks_down(angle: Any, slot: Any, post: Any, along: Any) -> Any:
    """How far a string breaks down over the nut, rad.

    Args:
        angle: how far the head leans back, rad.
        slot: the string in its slot over the head's face, mm.
        post: the string on its post over it, mm.
        along: the nut to the post, along the face, mm.
    """
    return angle + atan2(slot - post, along)


def off_its_post(side: float, post: float, gauge: float) -> float:
    """From a string's middle to the axis of the post beside it, to the treble, mm: both their radii.

    The string lies on the post's side that looks to the centreline.

    Args:
        side: 1 of a post on the treble side of the head, -1 on the bass side.
        post: its diameter where the string winds, mm.
        gauge: of the string, mm.
    """
    return side * (post + gauge) / 2


def slot_over_face(step: float, crown: float, over: float) -> float:
    """The string in its slot over the head's face at the nut, mm: the board's step down, the frets' crowns, and over these."""
    return step + crown + over


def stock_needed(below: float, length: float, thickness: float, angle: float) -> float:
    """How thick stock is that holds a head in one piece with the neck, mm.

    Args:
        below: the head's face at the nut under the board's glue line, mm.
        length: of the head along its face, mm.
        thickness: of the head, mm.
        angle: how far it leans back, rad.
    """
    return below + length * sin(angle) + thickness * cos(angle)


def scarf_face(stock: float, angle: float) -> float:
    """Length of the face that a saw at an angle leaves across stock, mm."""
    return stock / sin(angle)


def scarf_flat(stock: float, angle: float) -> float:
    """How much of the neck's length the joint takes, mm."""
    return stock / tan(angle)


def scarf_area(face: float, width: float) -> float:
    """What is glued, mm²."""
    return face * width


def below_glue_line(step: float, board: float) -> float:
    """The head's face at the nut under the board's glue line, mm; 0 where a veneer brings it higher.

    Args:
        step: that face under the board's, mm.
        board: the fingerboard's thickness, mm.
    """
    below: float = greatest(0.0, step - board)
    return below


def step_of(document: Document, head: Head) -> float:
    """How far the head's face lies below the fingerboard's at the nut, mm."""
    return document.neck.board_thickness.mm if head.step is None else head.step


def curve_length(head: Head) -> float:
    """Length of that way along the face: as stated, or as common practice has it and the first tuner leaves, mm."""
    return (
        min(HEAD_CURVE, clear_of_tuners(head.first_post, head.hole.mm, head.housing.mm))
        if head.back_curve is None
        else head.back_curve
    )


def one_piece_stock(document: Document) -> tuple[str, float] | None:
    """The wood that a neck and a head in one piece are sawn from: the key that states it, and its thickness, mm.

    None where it is not stated, or the head is glued on. Where two keys state it the neck's own comes first, unless they differ.
    """
    head, blank = document.head, document.neck_blank
    if head is None or head.scarf or two_stocks(document):
        return None
    if blank is not None and blank.blank_thickness is not None:
        return "neck_blank.blank_thickness", blank.blank_thickness
    return None if head.stock is None else ("head.stock", head.stock)


def two_stocks(document: Document) -> tuple[float, float] | None:
    """What the head and the neck each say of that wood, mm, where these are not one number."""
    head, blank = document.head, document.neck_blank
    if head is None or head.scarf or head.stock is None or blank is None or blank.blank_thickness is None:
        return None
    both = head.stock, blank.blank_thickness
    return both if abs(both[0] - both[1]) > _SAME else None


def head_place(document: Document) -> HeadPlace | None:
    """The head of a right-handed instrument; None where the job states none."""
    head = document.head
    if head is None:
        return None
    sides = (*((string, -1) for string in head.bass_side), *((string, 1) for string in head.treble_side))
    across, scales = strings_across(document), fret_lines(document).scale
    paths = [tuple(map(float, each)) for each in zip(*across, scales, strict=True)]
    found = (_post(document, head, string, side, paths[string - 1]) for string, side in sides)
    posts = tuple(sorted(found, key=lambda post: post.string))
    outline = _outline(document, head, posts)
    trees = tuple(_tree(number, tree, head, posts, paths) for number, tree in enumerate(head.trees))
    below = below_glue_line(step_of(document, head), document.neck.board_thickness.mm)
    return HeadPlace(
        posts,
        outline,
        bool(head.corners or head.shape),
        head.thickness,
        trees,
        stock_needed(below, -min(corner.x for corner in outline), head.thickness, head.angle),
        _scarf(head),
    )


def _outline(document: Document, head: Head, posts: Sequence[Post]) -> Ring:
    if head.shape and posts:
        return shaped(head, [post.at for post in posts], document.nut.width / 2)
    outline = head.corners or _round_the_posts(document, head, posts)
    return Ring(Point(-along, across) for along, across in outline)


def _scarf(head: Head) -> Scarf | None:
    if not head.scarf or head.stock is None:
        return None
    face = scarf_face(head.stock, head.angle)
    return Scarf(face, scarf_flat(head.stock, head.angle), scarf_area(face, head.stock_width))


def under_tree(straight: Any, kink: Any, along: Any) -> Any:
    """Where a string is under a tree, from the centreline to the treble, mm.

    Args:
        straight: where it would be there, had it run straight on, mm.
        kink: how far its post draws it aside at the nut, rad; a tree does not.
        along: the nut to the tree, mm.
    """
    return straight + along * tan(kink)


def past_its_string(of: float, beyond: float, side: float) -> float:
    """Where a bar's screw is, from the centreline to the treble, mm.

    Args:
        of: the outer string under the bar on that side, from the centreline to the treble, mm.
        beyond: from that string to the screw, mm.
        side: 1 of the treble's end, -1 of the bass's.
    """
    return of + side * beyond


def _straight(path: tuple[float, ...], along: float) -> float:
    nut, row, scale = path
    place: float = straight_on(nut, row, scale, along)
    return place


def _tree(
    number: int, tree: StringTree, head: Head, posts: Sequence[Post], paths: Sequence[tuple[float, ...]]
) -> Tree:
    found = {post.string: post for post in posts}
    across = sorted(
        (
            under_tree(
                _straight(paths[string - 1], tree.along * cos(head.angle)),
                found[string].kink,
                tree.along,
            )
            for string in tree.strings
        ),
        reverse=True,
    )
    treble, bass = across[0], across[-1]
    places = (
        (midway(treble, bass),)
        if len(tree.strings) <= 2
        else (past_its_string(treble, tree.beyond, 1), past_its_string(bass, tree.beyond, -1))
    )
    return Tree(
        strings=tree.strings,
        along=tree.along,
        ends=(treble, bass),
        screws=() if tree.screw is None else tuple(Point(-tree.along, each) for each in places),
        idle=tuple(string for string in tree.strings if found[string].tree != number),
    )


def _post(document: Document, head: Head, string: int, side: int, path: tuple[float, ...]) -> Post:
    listed, stated = (head.treble_side, head.treble_row) if side > 0 else (head.bass_side, head.bass_row)
    place = listed.index(string)
    along = post_along(head.first_post, head.pitch, place)
    gauge = document.strings[string - 1].gauge
    straight = _straight(path, along * cos(head.angle))
    beside = off_its_post(side, head.post.mm, gauge)
    if stated is None:  # just beside the string
        across = straight + beside
    else:
        share = place / max(1, len(listed) - 1)
        across = side * (stated[0] + share * (stated[1] - stated[0]))
    slot = slot_over_face(
        step_of(document, head), document.fret_wire.crown_height, document.nut.height_over_frets
    )
    breaks, tree = max(
        (breaks_down(head.angle, slot, height, away), tree)
        for height, away, tree in _held_down(head, string, along)
    )
    return Post(
        string=string,
        side=side,
        at=Point(-along, across),
        kink=drawn_aside(across - beside, straight, along),
        breaks=breaks,
        tree=None if tree < 0 else tree,
    )


def _held_down(head: Head, string: int, along: float) -> Iterator[tuple[float, float, int]]:
    """What holds a string down beyond the nut: at which height over the face, how far away, and which tree; -1 is its post."""
    yield head.string_height.mm, along, -1
    for number, tree in enumerate(head.trees):
        if string in tree.strings:
            yield tree.height, tree.along, number


def _round_the_posts(
    document: Document, head: Head, posts: Sequence[Post]
) -> tuple[tuple[float, float], ...]:
    """The least outline: from the nut's width round every hole with wood enough, as one fair bow; along and across, mm."""
    import shapely

    reach = head.hole.mm / 2 + HEAD_EDGE
    rounds = [shapely.Point(-post.at.x, post.at.y).buffer(reach, quad_segs=_SMOOTH) for post in posts]
    half = document.nut.width / 2
    hull = shapely.union_all([*rounds, shapely.LineString([(0.0, -half), (0.0, half)])]).convex_hull
    ring = shapely.Polygon(hull).exterior.coords
    return tuple((float(x), float(y)) for x, y in ring[:-1])


def housings_apart(posts: Sequence[Post], housing: float) -> float:
    """The least room between neighbouring tuners' housings on one side of the head, mm; infinite where there are none."""
    gaps = [
        hypot(a.at.x - b.at.x, a.at.y - b.at.y) - housing
        for side in (1, -1)
        for a, b in pairwise(
            sorted((post for post in posts if post.side == side), key=lambda post: -post.at.x)
        )
    ]
    return min(gaps, default=float("inf"))
