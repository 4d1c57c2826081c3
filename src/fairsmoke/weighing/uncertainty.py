"""Uncertainty of a measured result: the law of propagation and the Monte Carlo method.

JCGM 100:2008 (the GUM) and its Supplement 1, JCGM 101:2008, for any model and any inputs. Plain
arrays in and out. A model takes the inputs as (n, m), one column a trial, and returns (m,).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy import special

FloatArray = NDArray[np.float64]
Model = Callable[[FloatArray], FloatArray]

# Share of one standard uncertainty. Small against the curvature of any sane model, large against
# rounding: third differences of a value of 5e7 still keep four digits.
_STEP = 0.1


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


def scaled_t(mean: float, scale: float, dof: float) -> InputDistribution:
    """Return a Student distribution moved to ``mean`` and widened by ``scale``. JCGM 101 6.4.9."""
    return _Law(lambda rng, size: mean + scale * rng.standard_t(dof, size))


def arc_sine(low: float, high: float) -> InputDistribution:
    """Return the distribution of a sine swing between two limits. Source: JCGM 101 6.4.6."""
    return _Law(
        lambda rng, size: low + (high - low) * np.sin(np.pi / 2 * rng.uniform(size=size)) ** 2
    )


@dataclass(frozen=True)
class _Law:
    draw: Callable[[np.random.Generator, int], FloatArray]

    def rvs(self, size: int, *, random_state: np.random.Generator) -> FloatArray:
        return np.asarray(self.draw(random_state, size), dtype=np.float64)


@dataclass(frozen=True)
class CurvilinearTrapezoid:
    """Anywhere between two limits which are themselves known to ± ``inexactness`` only.

    Source: JCGM 101 6.4.3, drawing by 6.4.3.4 (from memory).
    """

    low: float
    high: float
    inexactness: float

    def rvs(self, size: int, *, random_state: np.random.Generator) -> FloatArray:
        """Draw ``size`` values."""
        shift = self.inexactness * random_state.uniform(-1.0, 1.0, size)
        low = self.low + shift
        high = self.low + self.high - low
        return low + (high - low) * random_state.uniform(size=size)


def sensitivities(
    model: Model, estimates: FloatArray, standard_uncertainties: FloatArray
) -> FloatArray:
    """Return ∂f/∂xᵢ (n,) at the estimates, by differences over a tenth of each uncertainty.

    Fourth-order central differences. Inputs with no uncertainty get a sensitivity of 0, as nothing
    comes through them. Source: JCGM 100 5.1.3.
    """
    size = estimates.size
    steps = _STEP * np.diag(standard_uncertainties)
    offsets = np.concatenate([steps, -steps, 2 * steps, -2 * steps], axis=1)
    up, down, up2, down2 = model(estimates[:, None] + offsets).reshape(4, size)
    rise = (8 * (up - down) - (up2 - down2)) / 12
    step = np.diag(steps)
    return np.divide(rise, step, out=np.zeros(size), where=step > 0)


def propagate(sensitivity: FloatArray, covariance: FloatArray) -> FloatArray:
    """Return the covariance matrix (k, k) of k results from that (n, n) of the inputs.

    ``sensitivity`` (k, n) holds a row for each result, or is (n,) for one result. First order,
    inputs may be correlated. Source: JCGM 100 eq. 13 and 16.
    """
    rows = np.atleast_2d(sensitivity)
    return np.asarray(rows @ covariance @ rows.T, dtype=np.float64)


def effective_dof(contributions: FloatArray, dof: FloatArray) -> float:
    """Return the effective degrees of freedom of a sum of independent contributions cᵢuᵢ.

    An infinite ``dof`` marks an uncertainty that is taken as exact. Source: JCGM 100 eq. G.2b.
    """
    weight = float(np.sum(contributions**4 / dof))
    return float(np.sum(contributions**2)) ** 2 / weight if weight > 0 else math.inf


def coverage_factor(probability: float, dof: float) -> float:
    """Return k for an interval that covers with this probability, at these degrees of freedom.

    Degrees of freedom are cut to the integer below, as JCGM 100 G.4.1 advises.
    """
    if math.isinf(dof):
        return float(special.ndtri((1 + probability) / 2))
    return float(special.stdtrit(math.floor(dof), (1 + probability) / 2))


def second_order_variance(
    model: Model, estimates: FloatArray, standard_uncertainties: FloatArray
) -> float:
    """Return what the next order adds to the variance: ΣΣ [½ f″ᵢⱼ² + f′ᵢ f‴ᵢⱼⱼ] uᵢ² uⱼ².

    For independent inputs, symmetric about their estimates. Source: JCGM 100 5.1.2, note.
    """
    size = estimates.size
    scaled = _STEP * np.diag(standard_uncertainties)

    def at(*moves: FloatArray) -> FloatArray:
        shift = np.concatenate(moves, axis=1)
        return model(estimates[:, None] + shift).reshape(len(moves), -1)

    centre = at(np.zeros((size, 1)))[0, 0]
    up, down, up2, down2 = at(scaled, -scaled, 2 * scaled, -2 * scaled)
    first = (8 * (up - down) - (up2 - down2)) / (12 * _STEP)
    total = 0.0
    for j in range(size):
        step = scaled[:, [j]]
        both, cross, swap, away = at(scaled + step, scaled - step, step - scaled, -scaled - step)
        second = (both - cross - swap + away) / (4 * _STEP**2)
        third = ((both - 2 * up + cross) - (swap - 2 * down + away)) / (2 * _STEP**3)
        second[j] = (up[j] - 2 * centre + down[j]) / _STEP**2
        third[j] = (up2[j] - 2 * up[j] + 2 * down[j] - down2[j]) / (2 * _STEP**3)
        total += float(np.sum(second**2 / 2 + first * third))
    return total


def monte_carlo(
    model: Model, inputs: Sequence[InputDistribution], draws: int, rng: np.random.Generator
) -> FloatArray:
    """Return ``draws`` values of the result, each from one draw of all independent inputs.

    Source: JCGM 101 clause 7.
    """
    drawn = np.stack([law.rvs(draws, random_state=rng) for law in inputs])
    return np.asarray(model(drawn), dtype=np.float64)


@dataclass(frozen=True)
class Spread:
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


def summarise(drawn: FloatArray, probability: float = 0.95) -> Spread:
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
    return Spread(
        mean=float(np.mean(drawn)),
        standard_uncertainty=deviation,
        low=float(ordered[low_at]),
        high=float(ordered[min(high_at, count - 1)]),
        shortest_low=float(ordered[shortest_at]),
        shortest_high=float(ordered[shortest_at + held]),
        mean_error=deviation / math.sqrt(count),
        end_error=max(end_error(low_at), end_error(min(high_at, count - 1))),
    )
