"""Samples put in order: Friedman's test with its exact distribution, and Page's trend.

Ranks run from 1; ties share the mean of their ranks. The exact distribution gives every taster's
own ranks in every order, each equally likely; it is summed exactly for small panels and drawn with
a seed for larger ones, which the result says.
Source: Friedman, JASA 32 (1937) 675; ISO 8587 (ranking), annex A, for the least difference.
"""

from dataclasses import dataclass
from itertools import permutations

import numpy as np
import scipy
from numpy.typing import NDArray

from fairsmoke.tasting.errors import TastingError

FloatArray = NDArray[np.float64]

_EXACT_STATES = 200_000
_DRAWS = 100_000


@dataclass(frozen=True, slots=True)
class Ranking:
    """What tasters' orders show.

    Attributes:
        sums: rank sum of each sample, in the order of the columns.
        statistic: Friedman's, corrected for ties.
        p_chi2: its χ² approximation; p: exact, or from draws where `exact` is False.
        least_difference: of two rank sums that then differ, at 5 % a pair (ISO 8587).

    """

    sums: tuple[float, ...]
    statistic: float
    p_chi2: float
    p: float
    exact: bool
    least_difference: float


def rank_test(ranks: FloatArray, *, seed: int = 1) -> Ranking:
    """Test whether samples differ; ``ranks`` is (tasters, samples), each row's ranks or scores.

    Raises:
        TastingError: fewer than two tasters or samples, a missing value, or nobody who ranked
            any sample apart from another.

    """
    given = np.asarray(ranks, dtype=np.float64)
    if given.ndim != 2 or min(given.shape) < 2 or not np.all(np.isfinite(given)):
        raise TastingError("every taster ranks every sample: at least two of each, none left out")
    rows = scipy.stats.rankdata(given, axis=1)
    tasters, samples = rows.shape
    if np.all(np.ptp(rows, axis=1) == 0.0):
        raise TastingError("every taster put all samples level; there is no order to test")
    statistic = _statistic(rows.sum(axis=0), rows)
    exact = _exact_p(rows, statistic)
    p = exact if exact is not None else _drawn_p(rows, statistic, seed)
    least = scipy.special.ndtri(0.975) * np.sqrt(tasters * samples * (samples + 1) / 6.0)
    return Ranking(
        tuple(float(total) for total in rows.sum(axis=0)),
        statistic,
        float(scipy.stats.chi2.sf(statistic, samples - 1)),
        p,
        exact is not None,
        float(least),
    )


def _statistic(sums: FloatArray, rows: FloatArray) -> float:
    """Return (p − 1) Σ(sum − mean)² over the sum of squares within tasters' ranks."""
    tasters, samples = rows.shape
    mean = tasters * (samples + 1) / 2.0
    within = float(np.sum((rows - (samples + 1) / 2.0) ** 2))
    return float((samples - 1) * np.sum((sums - mean) ** 2) / within)


def _exact_p(rows: FloatArray, statistic: float) -> float | None:
    """Return P(statistic at least as large), None when there are too many rank sums to keep.

    Rank sums are built up taster by taster, sums that are alike but for the samples' names kept
    once. Doubled ranks are whole numbers, so that ties add up exactly.
    """
    states: dict[tuple[int, ...], float] = {(0,) * rows.shape[1]: 1.0}
    for row in rows:
        doubled = tuple(round(2 * float(rank)) for rank in row)
        orders = list(permutations(doubled))
        if len(states) * len(orders) > 20 * _EXACT_STATES:
            return None
        share = 1.0 / len(orders)
        grown: dict[tuple[int, ...], float] = {}
        for sums, weight in states.items():
            for order in orders:
                key = tuple(sorted(a + b for a, b in zip(sums, order, strict=True)))
                grown[key] = grown.get(key, 0.0) + weight * share
        if len(grown) > _EXACT_STATES:
            return None
        states = grown
    reached = (
        weight
        for sums, weight in states.items()
        if _statistic(np.asarray(sums) / 2.0, rows) >= statistic - 1e-9
    )
    return float(min(1.0, sum(reached)))


def _drawn_p(rows: FloatArray, statistic: float, seed: int) -> float:
    generator = np.random.default_rng(seed)
    tasters, samples = rows.shape
    sums = np.zeros((_DRAWS, samples))
    for row in rows:
        sums += generator.permuted(np.broadcast_to(row, (_DRAWS, samples)), axis=1)
    mean = tasters * (samples + 1) / 2.0
    within = float(np.sum((rows - (samples + 1) / 2.0) ** 2))
    drawn = (samples - 1) * np.sum((sums - mean) ** 2, axis=1) / within
    return float((1 + np.sum(drawn >= statistic - 1e-9)) / (_DRAWS + 1))


def trend_p(ranks: FloatArray) -> float:
    """Return Page's one-sided probability that samples rise in the order of the columns.

    Exact for up to a dozen or so tasters, as the library decides.

    Raises:
        TastingError: as `rank_test`.

    """
    given = np.asarray(ranks, dtype=np.float64)
    if given.ndim != 2 or min(given.shape) < 2 or given.shape[1] < 3:
        raise TastingError("a trend needs at least three samples and two tasters")
    return float(scipy.stats.page_trend_test(given).pvalue)
