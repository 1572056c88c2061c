"""What cannot be made a solid of, said in a sentence."""

from __future__ import annotations

from math import inf

from scribeline.features import Feature, Pocket


class BodyError(ValueError):
    """A body that cannot be made; its text says what is wrong, where, and what to do."""


def check_depth(feature: Feature) -> None:
    """Let a cut pass that goes nowhere or into the wood.

    Raises:
        BodyError: its depth is no depth.
    """
    depths = [feature.depth] if isinstance(feature, Pocket) else [step.depth for step in feature.steps]
    for depth in depths:
        if not 0 <= depth < inf:
            message = (
                f"the {feature.role} is {depth} mm deep, which nothing can be; give its depth into the wood"
            )
            raise BodyError(message)
