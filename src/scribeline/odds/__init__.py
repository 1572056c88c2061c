"""The odds of a plan: the chance that its instrument comes out within its limits, given how well a shop works."""

from scribeline.odds.odds import (
    MOST_TRIALS,
    USUAL_TRIALS,
    Buy,
    GateOdds,
    Odds,
    OddsError,
    OperationOdds,
    OutcomeOdds,
    Share,
    Study,
    odds,
)
from scribeline.odds.outcomes import Outcome
from scribeline.odds.sources import Source, sources
from scribeline.odds.trials import Cancelled
from scribeline.odds.ways import Ways

__all__ = [
    "MOST_TRIALS",
    "USUAL_TRIALS",
    "Buy",
    "Cancelled",
    "GateOdds",
    "Odds",
    "OddsError",
    "OperationOdds",
    "Outcome",
    "OutcomeOdds",
    "Share",
    "Source",
    "Study",
    "Ways",
    "odds",
    "sources",
]
