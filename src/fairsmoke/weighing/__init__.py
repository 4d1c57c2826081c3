"""The mass ledger: parts solved from weighings of sums, yields, and how sure they are."""

from fairsmoke.weighing.errors import LedgerError
from fairsmoke.weighing.ledger import Known, KnownPart, Solution, solve_ledger
from fairsmoke.weighing.losses import LedgerLine, PieceLedger, piece_ledger
from fairsmoke.weighing.partly import PartSolved, solve_what_can_be
from fairsmoke.weighing.rows import LedgerRow
from fairsmoke.weighing.sources import Disagreement, Suspect, UncertaintySource
from fairsmoke.weighing.system import PartOf
from fairsmoke.weighing.yields import (
    LEFT,
    Basis,
    Yield,
    YieldComparison,
    compare_yields,
    covariance,
    shared_estimates,
    yield_of,
    yields_of,
)

__all__ = [
    "LEFT",
    "Basis",
    "Disagreement",
    "Known",
    "KnownPart",
    "LedgerError",
    "LedgerLine",
    "LedgerRow",
    "PartOf",
    "PartSolved",
    "PieceLedger",
    "Solution",
    "Suspect",
    "UncertaintySource",
    "Yield",
    "YieldComparison",
    "compare_yields",
    "covariance",
    "piece_ledger",
    "shared_estimates",
    "solve_ledger",
    "solve_what_can_be",
    "yield_of",
    "yields_of",
]
