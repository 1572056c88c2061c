"""What the body weighs, where its weight sits, and how the instrument hangs on its strap."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from scribeline.layout import BodyForm, Layout, Point3
from scribeline.solid.body import Body, Removed
from scribeline.tables import Timber

MM3_PER_M3 = 1e9

BOARD_SD_SHARE = 0.10
"""One board differs from its species' mean density by this much, as one standard deviation (the coefficient
of variation of specific gravity in the Wood Handbook, FPL-GTR-190, Table 5-6, from memory)."""

FORMULA_SD_SHARE = 0.05
"""What the formula adds where no gravity at 12 % is printed (its misfit on red alder, see `Timber`)."""

WEIGHED_SD_SHARE = 0.02
"""Spread of a density worked out from a board's own weight and size (from memory)."""

DIVES_BELOW = 0.20
FEELS_RIGHT = (0.30, 0.45)
"""The shares of the way from the front strap button to the tail's where an instrument dives or hangs well (common
practice, no source)."""


class WeightError(ValueError):
    """A density, masses or strap buttons that cannot be used; its text says what is wrong and what to do."""


@dataclass(frozen=True, slots=True)
class Density:
    """How heavy the wood is.

    Attributes:
        kg_m3: kg/m³.
        sd_share: one standard deviation as a share of it.
        source: where it comes from and what to doubt, in words.
        of_a_kind: whether it is the mean of a kind of timber and not that of the board itself.
    """

    kg_m3: float
    sd_share: float
    source: str
    of_a_kind: bool = True


def timber_density(wood: Timber) -> Density:
    """The timber's mean density at 12 % moisture, with how far one board may be from it."""
    flags = [wood.source]
    if wood.density_is_estimate:
        flags.append("gravity at 12 % worked out from the basic one, good to some 5 %")
    doubted = {"gravity_basic", "gravity_12"} & set(wood.from_memory)
    if doubted:
        flags.append("gravity set down from memory")
    spread = hypot(BOARD_SD_SHARE, FORMULA_SD_SHARE) if wood.density_is_estimate else BOARD_SD_SHARE
    return Density(wood.density_12_kg_m3, spread, "; ".join(flags))


def weighed_density(kg_m3: float) -> Density:
    """The density of the builder's own board: its weight over its volume.

    Raises:
        WeightError: It is no density of wood; the lightest and heaviest are some 100 and 1400 kg/m³.
    """
    if not 80 <= kg_m3 <= 1500:
        message = (
            f"a board weighs 80 to 1500 kg/m³ and {kg_m3:g} cannot be right; divide its weight in kg by its length × "
            "width × thickness in metres"
        )
        raise WeightError(message)
    return Density(kg_m3, WEIGHED_SD_SHARE, "your own board, weighed", of_a_kind=False)


def layer_densities(form: BodyForm, *, weighed_kg_m3: float | None = None) -> tuple[Density, ...]:
    """How heavy each layer's wood is, from the top down: as weighed where the job says so, else the mean of its kind.

    Args:
        form: the body.
        weighed_kg_m3: of the builder's own board, for a body of one piece.

    Raises:
        WeightError: It is no density of wood, or the body is of several layers.
    """
    if weighed_kg_m3 is not None:
        if len(form.layers) > 1:
            message = f"one density cannot hold for {len(form.layers)} layers; state kg_m3 in each of [[body.layers]] instead"
            raise WeightError(message)
        return (weighed_density(weighed_kg_m3),)
    return tuple(
        timber_density(layer.timber) if layer.kg_m3 is None else weighed_density(layer.kg_m3)
        for layer in form.layers
    )


@dataclass(frozen=True, slots=True)
class RemovedWeight:
    """One cut's wood, or one carved surface's.

    Attributes:
        feature: the cut's id; "" for a carved surface.
        role: what it is for.
        kg: what it takes out by itself; where two meet, both count their common part.
    """

    feature: str
    role: str
    kg: float


@dataclass(frozen=True, slots=True)
class LayerWeight:
    """One layer of the finished body.

    Attributes:
        name: "" where the body is of one piece.
        kg: its mass.
        centre: its centre of mass, mm; None where nothing of it is left.
        density: what it rests on.
    """

    name: str
    kg: float
    centre: Point3 | None
    density: Density


@dataclass(frozen=True, slots=True)
class Weight:
    """What a body weighs.

    Attributes:
        kg: the finished body, bare wood, at 12 % moisture.
        sd_kg: one standard deviation; the densities' alone, each board's its own. The shape's is far smaller.
        blank_kg: the outline through the whole thickness, nothing cut.
        centre: centre of mass in the instrument frame, mm.
        removed: each cut.
        layers: from the top down, one or more.
        carved: each carved surface.
    """

    kg: float
    sd_kg: float
    blank_kg: float
    centre: Point3
    removed: tuple[RemovedWeight, ...]
    layers: tuple[LayerWeight, ...]
    carved: tuple[RemovedWeight, ...] = ()

    @property
    def removed_kg(self) -> float:
        """All cuts and carving together, what two share counted once."""
        return self.blank_kg - self.kg


def weigh(body: Body, *densities: Density) -> Weight:
    """Weigh a body, each layer the same all through.

    Args:
        body: the finished body.
        densities: of its layers, from the top down; one for all of them where only one is given.

    Raises:
        WeightError: There are neither one nor as many densities as layers.
    """
    if len(densities) == 1:
        densities *= len(body.layers)
    if len(densities) != len(body.layers):
        message = f"{len(densities)} densities are given for {len(body.layers)} layers; give one a layer, from the top down"
        raise WeightError(message)
    per_mm3 = [density.kg_m3 / MM3_PER_M3 for density in densities]
    layers = []
    for part, density, rate in zip(body.layers, densities, per_mm3, strict=True):
        lump = part.lump
        kg, centre = (0.0, None) if lump is None else (lump.volume_mm3 * rate, lump.centroid)
        layers.append(LayerWeight(part.layer.name, kg, centre, density))
    total = sum(layer.kg for layer in layers)
    kept = [(layer.kg, layer.centre) for layer in layers if layer.centre is not None]
    return Weight(
        kg=total,
        sd_kg=sqrt(sum((layer.kg * layer.density.sd_share) ** 2 for layer in layers)),
        blank_kg=sum(part.blank_mm3 * rate for part, rate in zip(body.layers, per_mm3, strict=True)),
        centre=Point3(*(sum(kg * centre[axis] for kg, centre in kept) / total for axis in range(3))),
        removed=tuple(_weighed(r, per_mm3) for r in body.removed),
        layers=tuple(layers),
        carved=tuple(_weighed(r, per_mm3) for r in body.carved),
    )


def _weighed(removed: Removed, per_mm3: Sequence[float]) -> RemovedWeight:
    kg = sum(volume * rate for volume, rate in zip(removed.by_layer, per_mm3, strict=True))
    return RemovedWeight(removed.feature, removed.role, kg)


@dataclass(frozen=True, slots=True)
class Mass:
    """Anything that weighs: the body, a neck, a set of tuners.

    Attributes:
        name: what it is.
        kg: its mass.
        at: its centre of mass in the instrument frame, mm.
        sd_kg: standard deviation of its mass.
    """

    name: str
    kg: float
    at: Point3
    sd_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class Balance:
    """How an instrument hangs.

    Attributes:
        kg: everything together.
        centre: where its weight sits, mm.
        from_front: from the front strap button to the centre of mass along the instrument, mm.
        share: the same as a share of the way to the tail's button.
        share_sd: its standard deviation, from those of the masses.
        front: the front strap button.
        tail: the tail's strap button.
        parts: what it was made up from.
    """

    kg: float
    centre: Point3
    from_front: float
    share: float
    front: Point3
    tail: Point3
    share_sd: float = 0.0
    parts: tuple[Mass, ...] = ()

    @property
    def verdict(self) -> str:
        """What to expect on a strap, in bench words (common practice, no source)."""
        if self.share < DIVES_BELOW:
            return "the neck will dive"
        if self.share < FEELS_RIGHT[0]:
            return "the neck may dive a little"
        return "hangs well" if self.share <= FEELS_RIGHT[1] else "the tail is heavy"

    def front_for(self, share: float) -> float:
        """Where along the instrument the front button would have to be for another share, mm from the nut.

        The wood that a longer horn would add is left out.

        Args:
            share: the share wanted, from 0 to under 1.

        Raises:
            WeightError: The share is not from 0 to under 1.
        """
        if not 0 <= share < 1:
            message = f"a share of the way from the front button to the tail's runs from 0 to under 1: {share:g} cannot be used"
            raise WeightError(message)
        return (self.centre.x - share * self.tail.x) / (1 - share)

    def lighter_for(self, part: Mass, share: float) -> float | None:
        """By how much one part would have to be lighter for another share, kg; below 0, heavier.

        Moments about the place that the share asks for: what is taken off there times its lever is what the rest has
        too much. None where no change of that part does it: it sits at that place, or weighs less than it would have to lose.

        Args:
            part: one of `parts`.
            share: the share wanted, from 0 to 1.
        """
        wanted = self.front.x + share * (self.tail.x - self.front.x)
        lever = wanted - part.at.x
        less = self.kg * (wanted - self.centre.x) / lever if lever else None
        return None if less is None or less >= part.kg else less


def balance(masses: Iterable[Mass], *, front: Point3, tail: Point3) -> Balance:
    """Where the weight of everything together sits between the strap buttons, along the instrument.

    Args:
        masses: the body and whatever hangs on it; tuners and neck lie at small or negative x.
        front: the strap button at the horn or the heel, mm.
        tail: the strap button at the tail, mm, further from the nut.

    Raises:
        WeightError: Nothing weighs anything, a mass is below 0, or the tail's button is not beyond the front one.
    """
    parts = tuple(masses)
    for part in parts:
        if not part.kg >= 0:
            message = f"{part.name} weighs {part.kg:g} kg, which cannot be; weigh it again"
            raise WeightError(message)
    total = sum(part.kg for part in parts)
    if total <= 0:
        message = "nothing here weighs anything; give at least the body's weight"
        raise WeightError(message)
    if tail.x <= front.x:
        message = (
            f"the tail's strap button (x = {tail.x:.1f} mm) must lie further from the nut than the front one "
            f"(x = {front.x:.1f} mm)"
        )
        raise WeightError(message)
    x, y, z = (sum(part.kg * part.at[axis] for part in parts) / total for axis in range(3))
    from_front, span = x - front.x, tail.x - front.x
    return Balance(
        kg=total,
        centre=Point3(x, y, z),
        from_front=from_front,
        share=from_front / span,
        front=front,
        tail=tail,
        share_sd=sqrt(sum((part.sd_kg * (part.at.x - x)) ** 2 for part in parts)) / (total * span),
        parts=parts,
    )


def on_strap(weight: Weight, layout: Layout, *further: Mass | None) -> Balance | None:
    """How the instrument hangs, by the masses and strap buttons the job states.

    The front button is the one nearest the nut, the tail's the furthest.

    Args:
        weight: of the body.
        layout: with what hangs on it.
        further: what hangs on it besides, as worked out; none of it counts where the job states no masses.

    Returns:
        None where the job states no masses, or fewer than two strap buttons.
    """
    if not layout.masses or len(layout.strap_buttons) < 2:
        return None
    places = sorted((Point3(*button.at, 0.0) for button in layout.strap_buttons), key=lambda at: at.x)
    masses = [
        Mass("body", weight.kg, weight.centre, weight.sd_kg),
        *(Mass(mass.name, mass.kg, mass.at, mass.sd_kg) for mass in layout.masses),
        *(each for each in further if each is not None),
    ]
    return balance(masses, front=places[0], tail=places[-1])
