"""What is known after the data: finite mixtures of normals, and what can be read off them."""

from dataclasses import dataclass

import numpy as np
import scipy

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.priors import FloatArray

# A ratio is refused when the arm below the line could be on either side of nought by this chance.
_CHANCE_OF_NOUGHT = 1e-4
# Kernel that joins the nodes of a spread into a smooth density, as a share of the posterior sd.
_KERNEL = 0.45


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """A mixture of G normals: the posterior of one number.

    Attributes:
        weights: share of each normal (G,), summing to 1.
        means, sds: their means and standard deviations (G,), in the unit of the response.

    """

    weights: FloatArray
    means: FloatArray
    sds: FloatArray

    @property
    def mean(self) -> float:
        """The posterior mean."""
        return float(self.weights @ self.means)

    @property
    def sd(self) -> float:
        """The posterior standard deviation."""
        return float(np.sqrt(self.weights @ (self.sds**2 + (self.means - self.mean) ** 2)))

    def cdf(self, x: float) -> float:
        """Return the probability that the number is at most `x`."""
        return float(self.weights @ scipy.special.ndtr((x - self.means) / self.sds))

    def prob_greater(self, x: float) -> float:
        """Return the probability that the number is above `x`."""
        return float(self.weights @ scipy.special.ndtr((self.means - x) / self.sds))

    def density(self, x: FloatArray) -> FloatArray:
        """Return the probability density at each of `x` (k,), per unit of the response."""
        z = (x[:, None] - self.means) / self.sds
        normals = np.exp(-0.5 * z**2) / (self.sds * np.sqrt(2.0 * np.pi))
        return np.asarray(normals @ self.weights, dtype=np.float64)

    def quantile(self, probability: float) -> float:
        """Return the value below which the posterior holds `probability` (between 0 and 1).

        Raises:
            ComparisonError: `probability` is not strictly between 0 and 1.

        """
        if not 0.0 < probability < 1.0:
            raise ComparisonError(f"A quantile needs a probability inside 0 to 1: {probability}.")
        # Each normal's own quantile brackets the mixture's.
        own = self.means + self.sds * scipy.special.ndtri(probability)
        low, high = float(own.min()), float(own.max())
        if high - low <= 1e-12 * self.sd:
            return 0.5 * (low + high)
        low, high = low - 1e-9 * self.sd, high + 1e-9 * self.sd
        found = scipy.optimize.brentq(
            lambda x: self.cdf(x) - probability, low, high, xtol=1e-9 * self.sd
        )
        return float(found)

    def interval(self, level: float = 0.95) -> tuple[float, float]:
        """Return the central interval that holds `level` of the posterior."""
        tail = 0.5 * (1.0 - _checked_level(level))
        return self.quantile(tail), self.quantile(1.0 - tail)


@dataclass(frozen=True, slots=True, eq=False)
class RatioPosterior:
    """The posterior of the ratio of two numbers whose joint posterior is a mixture of normals.

    Read through P(top - r * bottom < 0), which is exact as long as `bottom` keeps its sign; it has
    a median and intervals but, as all such ratios, no mean.

    Attributes:
        weights: share of each bivariate normal (G,).
        means: (G, 2), top first.
        covariances: (G, 2, 2).

    Raises:
        ComparisonError: `bottom` is not clearly away from zero.

    """

    weights: FloatArray
    means: FloatArray
    covariances: FloatArray

    def __post_init__(self) -> None:
        bottom = Posterior(self.weights, self.means[:, 1], np.sqrt(self.covariances[:, 1, 1]))
        below = bottom.cdf(0.0)
        if min(below, 1.0 - below) > _CHANCE_OF_NOUGHT:
            raise ComparisonError(
                "The ratio has no meaning here: the level it divides by is not clearly away from "
                f"zero (chance {min(below, 1.0 - below):.2g} of the other sign). "
                "Use the difference."
            )
        if below > 0.5:
            object.__setattr__(self, "means", -self.means)

    def cdf(self, ratio: float) -> float:
        """Return the probability that top / bottom is at most `ratio`."""
        mean = self.means[:, 0] - ratio * self.means[:, 1]
        c = self.covariances
        variance = c[:, 0, 0] - 2.0 * ratio * c[:, 0, 1] + ratio**2 * c[:, 1, 1]
        return float(self.weights @ scipy.special.ndtr(-mean / np.sqrt(variance)))

    def prob_greater(self, ratio: float) -> float:
        """Return the probability that top / bottom is above `ratio`."""
        return 1.0 - self.cdf(ratio)

    def quantile(self, probability: float) -> float:
        """Return the ratio below which the posterior holds `probability`.

        Raises:
            ComparisonError: `probability` is outside 0.0002 to 0.9998, where the rare other sign
                of the lower number would tell.

        """
        edge = 2.0 * _CHANCE_OF_NOUGHT
        if not edge <= probability <= 1.0 - edge:
            raise ComparisonError(f"A ratio's quantile is kept to {edge} and {1 - edge}.")
        middle = float((self.weights @ self.means[:, 0]) / (self.weights @ self.means[:, 1]))
        width = 0.1 + abs(middle)
        low, high = middle - width, middle + width
        while self.cdf(low) > probability:
            low -= width
            width *= 2.0
        while self.cdf(high) < probability:
            high += width
            width *= 2.0
        found = scipy.optimize.brentq(lambda r: self.cdf(r) - probability, low, high, xtol=1e-12)
        return float(found)

    @property
    def median(self) -> float:
        """The posterior median of the ratio."""
        return self.quantile(0.5)

    def interval(self, level: float = 0.95) -> tuple[float, float]:
        """Return the central interval that holds `level` of the posterior (0 to 0.9996)."""
        tail = 0.5 * (1.0 - _checked_level(level))
        return self.quantile(tail), self.quantile(1.0 - tail)


@dataclass(frozen=True, slots=True, eq=False)
class SpreadPosterior:
    """The posterior of one standard deviation, held at the nodes of the integration.

    The mean is exact; median and interval read the nodes joined by a smooth kernel in log spread
    that keeps their mean and variance, good to about one per cent of the interval's width.

    Attributes:
        weights: share of each node (G,).
        sds: the standard deviation there (G,), in the unit of the response.

    """

    weights: FloatArray
    sds: FloatArray

    @property
    def mean(self) -> float:
        """The posterior mean of the standard deviation."""
        return float(self.weights @ self.sds)

    @property
    def median(self) -> float:
        """The posterior median of the standard deviation."""
        return float(np.exp(self._smooth().quantile(0.5)))

    def interval(self, level: float = 0.95) -> tuple[float, float]:
        """Return the central interval that holds `level` of the posterior."""
        low, high = self._smooth().interval(level)
        return float(np.exp(low)), float(np.exp(high))

    def prob_greater(self, x: float) -> float:
        """Return the probability that the standard deviation is above `x` (above 0)."""
        return self._smooth().prob_greater(float(np.log(x)))

    def _smooth(self) -> Posterior:
        logs = np.log(self.sds)
        middle = float(self.weights @ logs)
        sd = float(np.sqrt(self.weights @ (logs - middle) ** 2))
        drawn_in = middle + np.sqrt(1.0 - _KERNEL**2) * (logs - middle)
        return Posterior(self.weights, drawn_in, np.full_like(logs, max(_KERNEL * sd, 1e-12)))


def _checked_level(level: float) -> float:
    if not 0.0 < level < 1.0:
        raise ComparisonError(f"The level of an interval lies between 0 and 1: {level} does not.")
    return level
