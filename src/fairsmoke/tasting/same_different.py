"""Same or different? A pair of samples, which may be of one arm or of both.

A taster calls two samples different when they feel further apart than the taster's own threshold;
so calling everything different proves nothing, and only the two kinds of pairs side by side do.
Source: Macmillan, Kaplan and Creelman, Psychological Review 84 (1977) 452 (differencing model,
from memory).
"""

from dataclasses import dataclass

import numpy as np
import scipy

from fairsmoke.tasting.errors import TastingError


@dataclass(frozen=True, slots=True)
class SameDifferent:
    """What the answers to same and different pairs show.

    Attributes:
        p_difference: Fisher's exact one-sided probability of so much more "different" among the
            different pairs when there is nothing to feel.
        d_prime: how far the arms lie apart, 0 where different pairs were not called different more
            often; infinite where every pair was told right.
        threshold: how far apart two samples must feel to be called different, in the same unit.

    """

    p_difference: float
    d_prime: float
    threshold: float


def same_different(
    *, same_called_same: int, same_pairs: int, different_called_same: int, different_pairs: int
) -> SameDifferent:
    """Return what "same" and "different" among the two kinds of pairs show.

    Raises:
        TastingError: a count out of range, or no pairs of one kind.

    """
    for called, pairs in ((same_called_same, same_pairs), (different_called_same, different_pairs)):
        if pairs < 1 or not 0 <= called <= pairs:
            raise TastingError("both kinds of pairs need answers, no more of one than there are")
    table = np.array(
        [
            [same_called_same, same_pairs - same_called_same],
            [different_called_same, different_pairs - different_called_same],
        ]
    )
    p = float(scipy.stats.fisher_exact(table, alternative="greater").pvalue)
    alike, apart = same_called_same / same_pairs, different_called_same / different_pairs
    threshold = float(np.sqrt(2.0) * scipy.special.ndtri(0.5 * (1.0 + alike)))
    return SameDifferent(p, _distance(threshold, alike, apart), threshold)


def called_same(d_prime: float, threshold: float) -> float:
    """Return the probability that a pair d′ apart is called the same."""
    low, high = (-threshold - d_prime) / np.sqrt(2.0), (threshold - d_prime) / np.sqrt(2.0)
    return float(scipy.special.ndtr(high) - scipy.special.ndtr(low))


def _distance(threshold: float, alike: float, apart: float) -> float:
    if apart >= alike:
        return 0.0
    if not np.isfinite(threshold) or apart == 0.0:
        return float("inf")
    most = threshold + 20.0
    return float(
        scipy.optimize.brentq(lambda d: called_same(d, threshold) - apart, 0.0, most, xtol=1e-12)
    )
