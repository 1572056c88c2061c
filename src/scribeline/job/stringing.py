"""What a job states about its strings, as the string physics takes it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scribeline.job.document import Document, FretWire, Scale, Setup, StringStated
from scribeline.job.nut import Nut
from scribeline.job.values import Dimension
from scribeline.strings import Estimate, StringSpec, usual_construction
from scribeline.strings import Setup as Playing


def string_spec(stated: StringStated) -> StringSpec:
    """One string as the physics takes it.

    Raises:
        StringsError: it cannot be made so, in a sentence.
    """
    return StringSpec(
        pitch=stated.pitch,
        gauge=stated.gauge,
        construction=stated.construction or usual_construction(stated.gauge),
        core=None if stated.core is None else _known(stated.core),
        core_shape=stated.core_shape,
        wrap=stated.wrap,
        mass_kg_m=None if stated.grams_per_metre is None else stated.grams_per_metre / 1000,
    )


def string_specs(stated: Sequence[StringStated]) -> tuple[StringSpec, ...]:
    """A set of strings, treble first."""
    return tuple(string_spec(each) for each in stated)


def playing(document: Document) -> Playing:
    """The instrument around the strings, from a job."""
    count = len(document.strings)
    return playing_with(document.scale, document.nut, document.fret_wire, document.setup, count)


def playing_with(scale: Scale, nut: Nut, wire: FretWire, setup: Setup, strings: int) -> Playing:
    """The instrument around the strings, from the tables that say something about it; on a fan the scales rise evenly."""
    fanned = (
        () if scale.bass_length is None else np.linspace(scale.length, scale.bass_length, strings).tolist()
    )
    return Playing(
        scale=tuple(fanned) or scale.length,
        action_treble=_known(setup.action_treble),
        action_bass=_known(setup.action_bass),
        frets=scale.frets,
        nut_height=nut.height_over_frets,
        nut_shift=nut.compensation or 0.0,
        relief=_known(setup.relief),
        relief_fret=min(setup.relief_fret, scale.frets),
        free_length=setup.free_length,
        fret_height=wire.crown_height,
        temperament_cents=scale.cents,
    )


def _known(dimension: Dimension) -> float | Estimate:
    """A measured dimension with its spread; else the bare number.

    The physics gives a bare number the bench's usual spread.
    """
    if not dimension.measured:
        return dimension.mm
    return Estimate(dimension.mm, dimension.sd, f"measured ±{dimension.plus_minus:g} mm")
