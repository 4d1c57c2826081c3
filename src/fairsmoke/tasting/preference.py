"""Which is liked more: one pair exactly, several arms by Bradley and Terry's model.

"No preference" is an answer, not a half vote for each: the test is on those who chose, and the
share who did not is told with it.
Source: Bradley and Terry, Biometrika 39 (1952) 324; Davidson, JASA 65 (1970) 317, for ties.
"""

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from fairsmoke.tasting.errors import TastingError

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Preference:
    """How a pair was chosen.

    Attributes:
        first, second, neither: how many chose which.
        p: two-sided exact probability that those who chose chose at random.
        share, low, high: share of those who chose that took the first, with its exact interval.

    """

    first: int
    second: int
    neither: int
    p: float
    share: float
    low: float
    high: float


def prefer(first: int, second: int, neither: int = 0, *, level: float = 0.95) -> Preference:
    """Return what choices between two arms show.

    Raises:
        TastingError: a negative count, or nobody who chose.

    >>> round(prefer(6, 0).p, 5)
    0.03125
    """
    if min(first, second, neither) < 0:
        raise TastingError("a number of answers is 0 or more")
    if first + second == 0:
        raise TastingError("nobody preferred either; all that can be told is that they did not")
    found = scipy.stats.binomtest(first, first + second)
    interval = found.proportion_ci(level, method="exact")
    return Preference(
        first,
        second,
        neither,
        float(found.pvalue),
        first / (first + second),
        float(interval.low),
        float(interval.high),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Abilities:
    """How arms compare by all pairs together.

    Attributes:
        log_worth: of each arm, the first taken as 0; the chance that arm i is taken over j is
            1 / (1 + exp(log_worth_j − log_worth_i)) of those who choose.
        standard_error: of each, 0 for the first.
        served_first: log-odds in favour of the sample served first, None when not fitted.
        log_likelihood: greatest, without the binomial coefficients.

    """

    log_worth: FloatArray
    standard_error: FloatArray
    served_first: float | None
    served_first_se: float | None
    log_likelihood: float


def fit_abilities(
    wins: FloatArray, *, ties: FloatArray | None = None, order_effect: bool = False
) -> Abilities:
    """Fit Bradley and Terry's model by maximum likelihood.

    ``wins[i, j]`` counts how often arm i was taken over arm j; with an order effect i was served
    before j, so that ``wins`` has a second slice ``wins[1, i, j]``: arm j taken when i came first.
    ``ties`` count half for each, by which the estimates stay those of the choices.

    Raises:
        TastingError: arms that no chain of wins joins both ways, so that no estimate is finite.

    """
    first, second = _by_order(np.asarray(wins, dtype=np.float64), order_effect)
    if ties is not None:
        half = np.asarray(ties, dtype=np.float64) / 2.0
        first, second = first + half, second + half.T if not order_effect else second + half
    arms = first.shape[0]
    _check_joined(first + second.T if order_effect else first)

    def unpack(values: FloatArray) -> tuple[FloatArray, float]:
        worth = np.concatenate([np.zeros_like(values[:1]), values[: arms - 1]])
        return worth, values[arms - 1] if order_effect else 0.0

    def cost(values: FloatArray) -> float:
        worth, lead = unpack(values)
        gap = worth[:, None] - worth[None, :] + lead
        return float(np.sum(first * np.logaddexp(0.0, -gap) + second * np.logaddexp(0.0, gap)))

    size = arms - 1 + order_effect
    fit = scipy.optimize.minimize(cost, np.zeros(size), method="BFGS", options={"gtol": 1e-9})
    at = np.asarray(fit.x)

    def many(values: FloatArray) -> FloatArray:
        flat = values.reshape(size, -1)
        return np.asarray([cost(column) for column in flat.T]).reshape(values.shape[1:])

    curvature = np.asarray(scipy.differentiate.hessian(many, at, initial_step=0.1).ddf)
    errors = np.sqrt(np.diag(np.linalg.inv(curvature)))
    return Abilities(
        np.concatenate([[0.0], at[: arms - 1]]),
        np.concatenate([[0.0], errors[: arms - 1]]),
        float(at[-1]) if order_effect else None,
        float(errors[-1]) if order_effect else None,
        -float(fit.fun),
    )


def _by_order(wins: FloatArray, order_effect: bool) -> tuple[FloatArray, FloatArray]:
    if order_effect:
        if wins.ndim != 3 or wins.shape[0] != 2 or wins.shape[1] != wins.shape[2]:
            raise TastingError("with an order effect give wins as (2, arms, arms)")
        return wins[0], wins[1]
    if wins.ndim != 2 or wins.shape[0] != wins.shape[1] or wins.shape[0] < 2:
        raise TastingError("give wins as (arms, arms), at least two arms")
    return wins, np.zeros_like(wins)


def _check_joined(wins: FloatArray) -> None:
    """Raise unless every arm beat every other by some chain (Ford 1957): else no fit is finite."""
    reach = np.asarray(wins > 0.0)
    for middle in range(reach.shape[0]):
        reach |= reach[:, [middle]] & reach[[middle], :]
    if not np.all(reach | np.eye(reach.shape[0], dtype=bool)):
        raise TastingError(
            "one arm, or a group of them, won or lost every comparison with the others: how much "
            "better it is cannot be told; only that it was always (or never) chosen"
        )
