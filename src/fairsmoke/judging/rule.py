"""The decision rule: when a comparison counts as settled, and what it leans to until then.

Settled is only what holds three times at the probability asked for: under the usual priors, under a
sceptical prior for the difference, and with the spread between pieces believed twice as large. The
same functions judge one record and the many trials of planning and of the published error rates.
"""

from dataclasses import dataclass
from enum import IntEnum, StrEnum

import numpy as np
import numpy.typing as npt

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.mixture import Posterior
from fairsmoke.judging.priors import FloatArray
from fairsmoke.trial.question import VerdictRule


class DifferenceZone(IntEnum):
    """What may be true of a difference, beside the worthwhile one."""

    ABOVE = 1
    WITHIN = 0
    BELOW = -1


class VerdictKind(StrEnum):
    """The fixed words of a verdict."""

    BETTER = "better"
    HIGHER = "higher"
    NO_DIFFERENCE = "no difference that matters"
    NOT_SETTLED = "not settled"


NOT_SETTLED = 9
"""Stands for no settled outcome among those of many trials."""

ORDER = (DifferenceZone.ABOVE, DifferenceZone.WITHIN, DifferenceZone.BELOW)
"""The order in which the probabilities of the three outcomes stand."""


class Lean(StrEnum):
    """How far a comparison leans to its likeliest outcome."""

    OPEN = "open"
    HINT = "a hint"
    LEANING = "leaning"
    SETTLED = "settled"


class Analysis(StrEnum):
    """The three analyses that a settled verdict has to hold under."""

    USUAL = "usual"
    SCEPTICAL = "sceptical"
    DOUBLED = "doubled spread"


@dataclass(frozen=True, slots=True)
class VerdictDecision:
    """What the rule says of one difference.

    Attributes:
        outcome: the settled one, None when nothing is settled.
        likeliest: the likeliest outcome under the usual priors, and `probability` that one's.
        lean: how far it leans there.
        probabilities: of the three outcomes in `ORDER`, under each analysis.
        holds: the analyses under which the likeliest outcome is as probable as asked for.

    """

    outcome: DifferenceZone | None
    likeliest: DifferenceZone
    probability: float
    lean: Lean
    probabilities: dict[Analysis, tuple[float, float, float]]
    holds: tuple[Analysis, ...]


def probabilities(difference: Posterior, worthwhile: float) -> tuple[float, float, float]:
    """Return the probabilities of the three outcomes in `ORDER`."""
    above, below = difference.prob_greater(worthwhile), difference.cdf(-worthwhile)
    return above, max(0.0, 1.0 - above - below), below


def decide(found: dict[Analysis, tuple[float, float, float]], rule: VerdictRule) -> VerdictDecision:
    """Return what the rule says, from the three outcomes' probabilities under each analysis.

    Raises:
        ComparisonError: an analysis is missing.

    """
    if set(found) != set(Analysis):
        raise ComparisonError(f"the rule needs all of {', '.join(Analysis)}, not {list(found)}")
    three = {key: np.array([value]) for key, value in found.items()}
    (kind,) = decide_many(
        three[Analysis.USUAL], three[Analysis.SCEPTICAL], three[Analysis.DOUBLED], rule.sure
    )
    usual = found[Analysis.USUAL]
    best = int(np.argmax(usual))
    settled = None if kind == NOT_SETTLED else DifferenceZone(int(kind))
    return VerdictDecision(
        outcome=settled,
        likeliest=ORDER[best],
        probability=usual[best],
        lean=Lean.SETTLED if settled is not None else lean_of(usual[best], rule),
        probabilities=dict(found),
        holds=tuple(key for key in Analysis if found[key][best] >= rule.sure),
    )


def lean_of(probability: float, rule: VerdictRule) -> Lean:
    """Return in which of the registered words an unsettled probability is told."""
    if probability < rule.hint:
        return Lean.OPEN
    return Lean.HINT if probability < rule.leaning else Lean.LEANING


def decide_many(
    usual: FloatArray, sceptical: FloatArray, doubled: FloatArray, sure: float
) -> npt.NDArray[np.intp]:
    """Return the settled outcome of each of S trials, or `NOT_SETTLED`, (S,).

    Args:
        usual, sceptical, doubled: probabilities of the outcomes in `ORDER`, (S, 3), under each
            analysis.
        sure: the probability asked for, above 0.5.

    """
    best = usual.argmax(axis=1)
    rows = np.arange(len(usual))
    lowest = np.minimum(np.minimum(usual, sceptical), doubled)[rows, best]
    kinds = np.array([int(one) for one in ORDER])[best]
    return np.where(lowest >= sure, kinds, NOT_SETTLED).astype(np.intp)


def check_rule(worthwhile: float, sure: float) -> None:
    """Refuse a worthwhile difference or a probability out of range.

    Raises:
        ComparisonError: `worthwhile` not above 0, or `sure` not between 0.5 and 1.

    """
    if not (np.isfinite(worthwhile) and worthwhile > 0.0):
        raise ComparisonError(f"The worthwhile difference must be above 0, not {worthwhile}.")
    if not 0.5 < sure < 1.0:
        raise ComparisonError(
            f"How sure to be is a probability above 0.5 and below 1, such as 0.95, not {sure}."
        )
