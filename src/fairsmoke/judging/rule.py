"""The decision rule: when a comparison counts as settled, and what it leans to until then.

Settled is only what is as probable as asked for under the usual priors, and leaves at most twice
the doubt to a sceptic, who believes that methods differ less and pieces twice as much. The same
functions judge one record and the many trials of planning and of the published error rates.
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
    """The analyses of one measure. The first two decide; the interval told also holds the third's.

    SCEPTICAL: differences between arms 0.4 times as large and pieces differing twice as much as
    usually believed, both at once. DOUBLED: the latter alone.
    """

    USUAL = "usual"
    SCEPTICAL = "sceptical"
    DOUBLED = "doubled spread"


DECIDING = (Analysis.USUAL, Analysis.SCEPTICAL)
"""The analyses that a settled verdict has to hold under."""


def sure_under(analysis: Analysis, sure: float) -> float:
    """Return the probability asked for under an analysis: the sceptic may have twice the doubt.

    >>> round(sure_under(Analysis.SCEPTICAL, 0.95), 12)
    0.9
    """
    return 1.0 - 2.0 * (1.0 - sure) if analysis is Analysis.SCEPTICAL else sure


@dataclass(frozen=True, slots=True)
class VerdictDecision:
    """What the rule says of one difference.

    Attributes:
        outcome: the settled one, None when nothing is settled.
        likeliest: the likeliest outcome under the usual priors, and `probability` that one's.
        lean: how far it leans there.
        probabilities: of the three outcomes in `ORDER`, under each analysis.
        holds: those of the deciding analyses under which the likeliest outcome is as probable as
            asked for there.

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
        ComparisonError: a deciding analysis is missing.

    """
    if not set(DECIDING) <= set(found):
        raise ComparisonError(f"the rule needs all of {', '.join(DECIDING)}, not {list(found)}")
    (kind,) = decide_many(*(np.array([found[key]]) for key in DECIDING), sure=rule.sure)
    usual = found[Analysis.USUAL]
    best = int(np.argmax(usual))
    settled = None if kind == NOT_SETTLED else DifferenceZone(int(kind))
    return VerdictDecision(
        outcome=settled,
        likeliest=ORDER[best],
        probability=usual[best],
        lean=Lean.SETTLED if settled is not None else lean_of(usual[best], rule),
        probabilities=dict(found),
        holds=tuple(key for key in DECIDING if found[key][best] >= sure_under(key, rule.sure)),
    )


def lean_of(probability: float, rule: VerdictRule) -> Lean:
    """Return in which of the registered words an unsettled probability is told."""
    if probability < rule.hint:
        return Lean.OPEN
    return Lean.HINT if probability < rule.leaning else Lean.LEANING


def decide_many(usual: FloatArray, sceptical: FloatArray, *, sure: float) -> npt.NDArray[np.intp]:
    """Return the settled outcome of each of S trials, or `NOT_SETTLED`, (S,).

    Args:
        usual, sceptical: probabilities of the outcomes in `ORDER`, (S, 3), under each of
            `DECIDING`.
        sure: the probability asked for under the usual priors, above 0.5.

    """
    best = usual.argmax(axis=1)
    rows = np.arange(len(usual))
    kinds = np.array([int(one) for one in ORDER])[best]
    holds = usual[rows, best] >= sure
    holds &= sceptical[rows, best] >= sure_under(Analysis.SCEPTICAL, sure)
    return np.where(holds, kinds, NOT_SETTLED).astype(np.intp)


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
