"""A bridge that rests on two posts by thumb wheels; the strings end in a tailpiece behind it, or run through the body."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Literal, Self

from pydantic import Field, model_validator

from scribeline.job.bridges.stated import (
    Bridge,
    Contradiction,
    gripped_by_a_bushing,
    off_the_body,
    without_ferrules,
)
from scribeline.job.values import Degrees, Dimension, Mm, refuse
from scribeline.lengths import said

if TYPE_CHECKING:
    from scribeline.job.document import Document

_TAILPIECE = {
    "tailpiece_behind": "the line of the posts to the line of the tailpiece's studs",
    "tailpiece_stud_spacing": "its studs' spacing",
    "tailpiece_bushing_diameter": "its bushings' diameter over the knurl",
    "tailpiece_bushing_length": "its bushings' length",
    "tailpiece_reach_forward": "its studs' line to where the strings leave it",
    "tailpiece_reach_back": "its studs' line to its rear edge",
    "tailpiece_width": "its width",
    "tailpiece_lowest": "the strings over the body where they leave it, wound fully down",
    "tailpiece_highest": "the same, wound fully up",
}
"""What a tailpiece states, and what it is."""


class BridgeOnPosts(Bridge):
    """A bridge that rests on two posts, wound into the wood or into bushings, and is raised by their thumb wheels.

    Places along it count from the line of its posts, those before it with a minus; places across from midway between the
    two. It may stand slanted, the bass end further back; a tailpiece stands as it does.
    """

    shelf = "bridge on posts"
    noun = "bridge"
    title = "bridge"
    ground_at = "one of the posts or studs"
    grounded_at_a_bushing = True
    held_by = "posts"
    counted_from = "line of the posts"
    line = "line of the posts"
    pattern = "posts"

    kind: Literal["posts"] = Field(title="kind of bridge", description="a bridge on two posts")
    loading: Literal["tailpiece", "through-body"] = Field(
        default="tailpiece",
        description="where the strings end: in a tailpiece on studs of its own, or behind the body, which needs ferrules",
    )
    saddle_forward: Annotated[
        Dimension,
        Mm(-30, 30, "line of the posts to where the string leaves the saddle, saddle fully forward"),
    ]
    saddle_back: Annotated[
        Dimension, Mm(-30, 40, "line of the posts to where the string leaves the saddle, saddle fully back")
    ]
    saddle_lowest: Annotated[
        Dimension | None, Mm(2, 40, "the string's height over the body, thumb wheels fully down")
    ] = Field(
        default=None, description="with saddle_highest; half-way between the lowest and the highest string"
    )
    saddle_highest: Annotated[
        Dimension | None, Mm(2, 40, "the string's height over the body, thumb wheels fully up")
    ] = Field(default=None, description="with saddle_lowest")
    saddle_radius: Annotated[Dimension | None, Mm(120, 2000, "radius of the arch its saddles make")] = Field(
        default=None,
        description="left out where every saddle is set for height by itself",
    )
    posts: Literal["bushings", "wood"] = Field(
        default="bushings", description="what the posts are wound into", title="posts wound into"
    )
    post_spacing: Annotated[Dimension, Mm(50, 140, "the posts' spacing, centre to centre")]
    post_play: Annotated[Dimension, Mm(0, 1.5, "the play of the bridge on its posts, along the strings")]
    post_diameter: Annotated[
        Dimension, Mm(3, 18, "the bushings' diameter over the knurl, or the posts' over their thread in wood")
    ]
    post_length: Annotated[Dimension, Mm(8, 60, "the bushings' length, or the posts' thread in the wood")]
    post_root: Annotated[Dimension | None, Mm(2, 12, "the posts' diameter between two turns of thread")] = (
        Field(default=None, description="needed for posts in wood")
    )
    slant: Annotated[float | None, Mm(-15, 15, "how far the bass post stands behind the treble one")] = Field(
        default=None, description="the slant that leaves the saddles most travel when left out"
    )
    reach_forward: Annotated[Dimension, Mm(2, 50, "line of the posts to the bridge's front edge")]
    reach_back: Annotated[Dimension, Mm(2, 60, "line of the posts to the bridge's rear edge")]
    overall_width: Annotated[Dimension, Mm(60, 180, "the bridge's width, end to end")]
    underside: Annotated[Dimension, Mm(0.2, 25, "the bridge's underside over the body, as it will be set")]
    thickness: Annotated[Dimension, Mm(2, 30, "the bridge's thickness under its saddles")]
    edge_below_strings: Annotated[
        Dimension, Mm(0.2, 20, "the rear edge's top below the string where it leaves the saddle")
    ]
    break_angle: Annotated[
        float | None, Degrees(2, 40, "the angle by which the strings break over the saddles")
    ] = Field(
        default=None,
        description="asked of the tailpiece's height; half-way between flat and steep when left out",
    )
    string_holes_from_posts: Annotated[
        Dimension | None, Mm(5, 90, "line of the posts to the row of string holes in the body")
    ] = Field(default=None, description="needed for strings through the body")
    tailpiece_behind: Annotated[
        Dimension | None, Mm(15, 150, "line of the posts to the line of the tailpiece's studs")
    ] = Field(default=None, description="needed for a tailpiece, as all that begins with tailpiece_")
    tailpiece_stud_spacing: Annotated[
        Dimension | None, Mm(50, 150, "the tailpiece's studs, centre to centre")
    ] = None
    tailpiece_bushing_diameter: Annotated[
        Dimension | None, Mm(5, 18, "the tailpiece's bushings' diameter over the knurl")
    ] = None
    tailpiece_bushing_length: Annotated[Dimension | None, Mm(8, 45, "the tailpiece's bushings' length")] = (
        None
    )
    tailpiece_reach_forward: Annotated[
        Dimension | None,
        Mm(-20, 40, "line of the tailpiece's studs to where the strings leave it, towards the bridge"),
    ] = None
    tailpiece_reach_back: Annotated[
        Dimension | None, Mm(1, 60, "line of the tailpiece's studs to its rear edge")
    ] = None
    tailpiece_width: Annotated[Dimension | None, Mm(60, 180, "the tailpiece's width, end to end")] = None
    tailpiece_lowest: Annotated[
        Dimension | None,
        Mm(1, 40, "the string over the body where it leaves the tailpiece, wound fully down"),
    ] = Field(default=None, description="over the top at the tailpiece's studs")
    tailpiece_highest: Annotated[
        Dimension | None, Mm(1, 60, "the string over the body where it leaves the tailpiece, wound fully up")
    ] = Field(default=None, description="over the top at the tailpiece's studs")

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if self.overall_width.mm <= self.post_spacing.mm:
            raise refuse(
                f"overall_width ({said(self.overall_width.mm, None)}) must be more than post_spacing "
                f"({said(self.post_spacing.mm, None)}): the posts stand inside the bridge's ends"
            )
        if self.post_root is not None and self.post_root.mm >= self.post_diameter.mm:
            raise refuse(
                f"post_root ({said(self.post_root.mm, None)}) must be less than post_diameter "
                f"({said(self.post_diameter.mm, None)}): it is measured between two turns of the thread"
            )
        low, high = self.tailpiece_lowest, self.tailpiece_highest
        if low is not None and high is not None and high.mm <= low.mm:
            raise refuse(
                f"tailpiece_highest ({said(high.mm, None)}) must lie above tailpiece_lowest ({said(low.mm, None)})"
            )
        behind, forward = self.tailpiece_behind, self.tailpiece_reach_forward
        if behind is not None and forward is not None and behind.mm - forward.mm <= self.saddle_back.mm:
            raise refuse(
                f"the strings leave the tailpiece {said(behind.mm - forward.mm, None)} behind the line of the posts, and the "
                f"saddles reach back to {said(self.saddle_back.mm, None)}: tailpiece_behind less tailpiece_reach_forward must "
                "be more"
            )
        return self

    def typical_dimensions(self) -> dict[str, Dimension]:
        """Dimensions nobody has measured yet, by key; only those of the end that the strings have."""
        idle = set(_TAILPIECE) if self.through_body else {"string_holes_from_posts"}
        return {key: value for key, value in super().typical_dimensions().items() if key not in idle}

    @property
    def string_row(self) -> Dimension | None:
        """Line of the posts to the row of string holes; None where the strings end in a tailpiece."""
        return self.string_holes_from_posts if self.through_body else None

    @property
    def string_row_key(self) -> str:
        """The key of the job that states that."""
        return "bridge.string_holes_from_posts"

    @property
    def foremost(self) -> float:
        """Its front edge, before the line of the posts, mm."""
        return -self.reach_forward.mm

    @property
    def rear(self) -> float:
        """Its rear edge, behind the line of the posts, mm."""
        return self.reach_back.mm

    @property
    def width(self) -> float:
        """Post to post, mm."""
        return self.post_spacing.mm

    def of_tailpiece(self, key: str) -> float:
        """What the job states of its tailpiece, mm; reading it has seen to it that all of that is stated."""
        value = getattr(self, f"tailpiece_{key}")
        assert isinstance(value, Dimension)
        return value.mm

    def contradictions(self, document: "Document") -> Iterator[Contradiction]:
        """The strings run between its posts; it hides no wire; what its strings end in must be stated."""
        spread = self.spacing.mm * (len(document.strings) - 1)
        if self.post_spacing.mm - self.post_diameter.mm <= spread:
            sentence = (
                f"posts {said(self.post_spacing.mm, None)} apart stand among the strings, which spread {said(spread, None)}; "
                "measure centre to centre of the posts, and neighbouring strings at the saddles"
            )
            yield ("bridge", "post_spacing"), sentence
        if self.posts == "wood" and self.post_root is None:
            yield (
                ("bridge", "post_root"),
                'is missing; it sizes the holes of posts in wood, or say posts = "bushings"',
            )
        yield from off_the_body(document, "rests on posts", "a bridge on posts")
        if self.through_body:
            yield from gripped_by_a_bushing(
                document, self.post_diameter if self.posts == "bushings" else None
            )
        elif self.tailpiece_bushing_diameter is not None:
            yield from gripped_by_a_bushing(document, self.tailpiece_bushing_diameter)
        yield from self._string_ends(document)

    def _string_ends(self, document: "Document") -> Iterator[Contradiction]:
        if not self.through_body:
            for key, what in _TAILPIECE.items():
                if getattr(self, key) is None:
                    sentence = f'is missing; it is {what}, or say loading = "through-body" if the strings end behind the body'
                    yield ("bridge", key), sentence
            return
        either = 'or say loading = "tailpiece" if the strings end in one'
        if self.string_holes_from_posts is None:
            yield (
                ("bridge", "string_holes_from_posts"),
                f"is missing; it is the line of the posts to the row of string holes, {either}",
            )
        yield from without_ferrules(document, either)


KIND = BridgeOnPosts
