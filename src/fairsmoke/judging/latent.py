"""Values that are only known to lie between bounds: points to integrate over them.

A piece that never reached the mark took at least so long: its value is unknown, but not missing.
The likelihood of such data is the integral of that of complete data over all values that the bounds
allow. It is summed here over points of a low-discrepancy sequence, drawn from the truncated normal
that the complete data predict at three sizes of the spreads, and weighed by their density, so that
the sum is right whatever the spreads turn out to be. Sources: the censored normal, Tobin,
Econometrica 26 (1958) 24; truncated normals one coordinate at a time, Genz, Journal of
Computational and Graphical Statistics 1 (1992) 141; both from memory.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.priors import FloatArray

# Sizes of the spreads, in those taken as reference, at which values are predicted.
_SIZES = (0.5, 1.0, 2.0)
# Points over all sizes: of one unknown value, of several.
_POINTS_ONE, _POINTS_MORE = 72, 96
_LOG_ROOT_2PI = 0.5 * np.log(2.0 * np.pi)


@dataclass(frozen=True, slots=True, eq=False)
class LatentPoints:
    """Points (J, k) for k values, and the log of what each weighs in an integral over them (J,)."""

    values: FloatArray
    log_weights: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Predicted:
    """A normal for k values: mean (k,), lower triangular root of the covariance (k, k)."""

    mean: FloatArray
    root: FloatArray

    def drawn(self, uniform: FloatArray, bounds: FloatArray) -> FloatArray:
        """Return points (J, k) within bounds (k, 2) for uniform numbers (J, k)."""
        scores = np.zeros_like(uniform)
        for at in range(len(self.mean)):
            low, high = self._ends(scores, bounds, at)
            scores[:, at] = _between(uniform[:, at], low, high)
        return np.asarray(self.mean + scores @ self.root.T, dtype=np.float64)

    def log_density(self, values: FloatArray, bounds: FloatArray) -> FloatArray:
        """Return the log density (J,) with which `drawn` gives these values."""
        scores = np.asarray(np.linalg.solve(self.root, (values - self.mean).T).T, dtype=np.float64)
        found = np.zeros(len(values))
        for at in range(len(self.mean)):
            low, high = self._ends(scores, bounds, at)
            found += -0.5 * scores[:, at] ** 2 - _LOG_ROOT_2PI - np.log(self.root[at, at])
            found -= _log_mass(low, high)
        return found

    def _ends(
        self, scores: FloatArray, bounds: FloatArray, at: int
    ) -> tuple[FloatArray, FloatArray]:
        before = self.mean[at] + scores[:, :at] @ self.root[at, :at]
        low, high = ((end - before) / self.root[at, at] for end in bounds[at])
        return low, high


def _log_mass(low: FloatArray, high: FloatArray) -> FloatArray:
    """Return the log of the standard normal's mass between two scores, to full digits in tails."""
    flip = low > 0.0
    below, above = np.where(flip, -high, low), np.where(flip, -low, high)
    top = scipy.special.log_ndtr(above)
    with np.errstate(divide="ignore"):
        return np.asarray(top + np.log1p(-np.exp(scipy.special.log_ndtr(below) - top)))


def _between(uniform: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Return standard normal scores between two, at these shares of the mass between them."""
    flip = low > 0.0
    below, above = np.where(flip, -high, low), np.where(flip, -low, high)
    share = np.where(flip, 1.0 - uniform, uniform)
    start, end = scipy.special.log_ndtr(below), scipy.special.log_ndtr(above)
    mass = np.logaddexp(start + np.log1p(-share), end + np.log(share))
    found = scipy.special.ndtri_exp(mass)
    return np.asarray(np.where(flip, -found, found), dtype=np.float64)


def latent_points(
    response: FloatArray,
    bounds: FloatArray,
    level: float,
    fixed: FloatArray,
    spreads: FloatArray,
    *,
    known: bool = False,
) -> LatentPoints:
    """Return points for the values that are not known.

    Args:
        response: (n,), NaN where only bounds are known.
        bounds: (n, 2) lowest and highest value, infinite where open; looked at where NaN.
        level: prior mean of every response.
        fixed, spreads: covariance (n, n) of the responses, apart from that of the spreads, and that
            of the spreads at a middle size.
        known: whether that size is the only possible one.

    Raises:
        ComparisonError: a lower bound that is not below the upper one.

    """
    unknown = np.isnan(response)
    own = bounds[unknown]
    if not np.all(own[:, 0] < own[:, 1]):
        raise ComparisonError("A value's lower bound must lie below its upper bound.")
    count = int(unknown.sum())
    sizes = (1.0,) if known else _SIZES
    predicted = [_given(response, unknown, level, fixed + size**2 * spreads) for size in sizes]
    uniform = _uniform(count, len(sizes))
    values = np.concatenate([one.drawn(uniform, own) for one in predicted])
    # A mixture of them is what was drawn from, whichever gave the point.
    densities = np.stack([one.log_density(values, own) for one in predicted])
    top = densities.max(axis=0)
    mixed = top + np.log(np.mean(np.exp(densities - top), axis=0))
    return LatentPoints(values, -mixed - np.log(len(values)))


def _uniform(count: int, sizes: int) -> FloatArray:
    if count == 1:
        points = _POINTS_ONE // sizes
        return ((np.arange(points) + 0.5) / points)[:, None]
    # The sequence is even only over a power of two.
    points = 1 << int(np.log2(_POINTS_MORE / sizes))
    drawn = scipy.stats.qmc.Sobol(count, scramble=True, rng=np.random.default_rng(7)).random(points)
    return np.clip(np.asarray(drawn, dtype=np.float64), 1e-9, 1.0 - 1e-9)


def _given(
    response: FloatArray, unknown: npt.NDArray[np.bool_], level: float, covariance: FloatArray
) -> _Predicted:
    known = ~unknown
    across = covariance[np.ix_(unknown, known)]
    solved = np.linalg.solve(covariance[np.ix_(known, known)], across.T).T
    mean = level + solved @ (response[known] - level)
    rest = covariance[np.ix_(unknown, unknown)] - solved @ across.T
    return _Predicted(mean, np.asarray(np.linalg.cholesky(rest), dtype=np.float64))
