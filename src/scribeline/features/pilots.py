"""Pilot holes for wood screws: the bench's rule and the handbook's, side by side."""

from __future__ import annotations

from dataclasses import dataclass

from scribeline.tables import HardnessClass, Timber

BENCH_SHARE: dict[HardnessClass, float] = {"soft": 0.15, "medium": 0.35, "hard": 0.50, "very hard": 0.65}
"""Share of the thread's height left out of the wood (common practice, no source)."""

BENCH_SOURCE = "common practice, no source"

HANDBOOK_SHARE_SOFTWOOD = 0.70
HANDBOOK_SHARE_HARDWOOD = 0.90
HANDBOOK_SOURCE = "Wood Handbook FPL-GTR-282, chapter 8, lead holes for wood screws"

RELIEF = 1.5
"""Full-diameter depth left beyond the screw's tip, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class PilotRule:
    """What the two rules ask for one screw in one timber, mm."""

    bench: float
    handbook: float
    share: float
    hardness: HardnessClass

    @property
    def differ(self) -> bool:
        """True when the two rules are a tenth of a millimetre apart or more."""
        return abs(self.bench - self.handbook) >= 0.1 - 1e-9


def pilot_rule(*, thread: float, root: float, timber: Timber) -> PilotRule:
    """Pilot diameter by both rules.

    Bench: root + k (thread − root), k by the timber's hardness (common practice, no source). Handbook: 70 % of
    the root diameter in softwood, 90 % in hardwood (Wood Handbook FPL-GTR-282, chapter 8), which is tighter.

    Args:
        thread: diameter over the thread, mm.
        root: diameter in its valleys, mm.
        timber: what the screw goes into.
    """
    share = BENCH_SHARE[timber.hardness_class]
    lead = HANDBOOK_SHARE_SOFTWOOD if timber.softwood else HANDBOOK_SHARE_HARDWOOD
    return PilotRule(
        bench_pilot(root, share, thread), handbook_pilot(root, lead), share, timber.hardness_class
    )


def bench_pilot(root: float, share: float, thread: float) -> float:
    """The bench rule's pilot, mm."""
    return root + share * (thread - root)


def handbook_pilot(root: float, share: float) -> float:
    """The handbook's lead hole, mm."""
    return share * root


def past_the_tip(tip: float, relief: float) -> float:
    """Depth of a pilot at full diameter, mm, whose screw's tip reaches so deep."""
    return tip + relief
