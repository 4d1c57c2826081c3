"""What is known of one input as a distribution, and what the draws of a result say.

By the Monte Carlo supplement to the GUM, JCGM 101:2008. Plain arrays in and out.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class InputDistribution(Protocol):
    """What is known of one input: anything that draws like a frozen SciPy distribution."""

    def rvs(self, size: int, *, random_state: np.random.Generator) -> FloatArray:
        """Draw ``size`` values."""
        ...


def normal(mean: float, standard_uncertainty: float) -> InputDistribution:
    """Return N(mean, u²). Source: JCGM 101 6.4.7."""
    return _Law(lambda rng, size: rng.normal(mean, standard_uncertainty, size))


def rectangular(low: float, high: float) -> InputDistribution:
    """Return the distribution in which any value between two limits is as likely. S1 6.4.2."""
    return _Law(lambda rng, size: rng.uniform(low, high, size))


def triangular(low: float, best: float, high: float) -> InputDistribution:
    """Return the triangle from ``low`` over the likeliest value ``best`` to ``high``."""
    return _Law(lambda rng, size: rng.triangular(low, best, high, size))


@dataclass(frozen=True)
class _Law:
    draw: Callable[[np.random.Generator, int], FloatArray]

    def rvs(self, size: int, *, random_state: np.random.Generator) -> FloatArray:
        return np.asarray(self.draw(random_state, size), dtype=np.float64)


@dataclass(frozen=True)
class DrawSummary:
    """What the draws of a result say: its estimate, its uncertainty, and where it lies.

    ``low``, ``high``                    cut off the same share of draws at each end
    ``shortest_low``, ``shortest_high``  the shortest interval that holds as many draws
    ``mean_error``, ``end_error``        standard errors of the mean and of the worse of low and
                                         high that come from drawing only so often
    All in the unit of the result.
    """

    mean: float
    standard_uncertainty: float
    low: float
    high: float
    shortest_low: float
    shortest_high: float
    mean_error: float
    end_error: float

    @property
    def half_width(self) -> float:
        """Half of the way from low to high."""
        return (self.high - self.low) / 2


def summarise(drawn: FloatArray, probability: float = 0.95) -> DrawSummary:
    """Summarise draws (m,) of a result; the intervals hold the given share of them.

    Raises ValueError for fewer than 100 draws, which cannot give an interval.
    Source: JCGM 101 7.6 and 7.7; errors of the ends from the order statistics around them.
    """
    count = drawn.size
    if count < 100:
        raise ValueError(f"{count} draws are too few for an interval; take 100 or more")
    ordered = np.sort(drawn)
    held = min(round(probability * count), count - 1)
    low_at = (count - held) // 2
    high_at = low_at + held
    widths = ordered[held:] - ordered[: count - held]
    shortest_at = int(np.argmin(widths))
    tail = (1 - probability) / 2
    ranks = math.ceil(math.sqrt(count * tail * (1 - tail)))

    def end_error(at: int) -> float:
        inside = ordered[[max(at - ranks, 0), min(at + ranks, count - 1)]]
        return float(inside[1] - inside[0]) / 2

    deviation = float(np.std(drawn, ddof=1))
    return DrawSummary(
        mean=float(np.mean(drawn)),
        standard_uncertainty=deviation,
        low=float(ordered[low_at]),
        high=float(ordered[high_at]),
        shortest_low=float(ordered[shortest_at]),
        shortest_high=float(ordered[shortest_at + held]),
        mean_error=deviation / math.sqrt(count),
        end_error=max(end_error(low_at), end_error(high_at)),
    )
