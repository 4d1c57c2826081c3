"""Priors of spreads as tables over a normal score, alone or summed in squares."""

from dataclasses import dataclass

import numpy as np
import scipy

from fairsmoke.judging.priors import FloatArray, SpreadPrior

_GRID = 121
_FARTHEST = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class SpreadTable:
    """The prior of one standard deviation as a table over its normal score.

    Attributes:
        z: scores (k,), rising. log_sd: natural log of the standard deviation there, (k,).
        known: whether there is nothing to integrate over.

    """

    z: FloatArray
    log_sd: FloatArray
    known: bool

    @classmethod
    def of(cls, *priors: SpreadPrior) -> "SpreadTable":
        """Return the prior of the root of the sum of squares of spreads with these priors.

        Spreads that a layout never tells apart act through that sum alone.
        """
        z = np.linspace(-_FARTHEST, _FARTHEST, _GRID)
        if len(priors) == 1:
            return cls(z, np.log(priors[0].sd_at(z)), priors[0].known)
        weights, variances = np.ones(1), np.zeros(1)
        for prior in priors:
            nodes = np.zeros(1) if prior.known else z
            mass = np.exp(-0.5 * nodes**2)
            weights = np.outer(weights, mass / mass.sum()).ravel()
            variances = np.add.outer(variances, prior.sd_at(nodes) ** 2).ravel()
            weights, variances = _binned(weights, variances)
        if len(variances) == 1:
            return cls(z, np.full(_GRID, 0.5 * np.log(variances[0])), True)
        below = np.cumsum(weights) - 0.5 * weights
        inside = (below > 1e-13) & (below < 1.0 - 1e-13)
        scores = scipy.special.ndtri(below[inside])
        return cls(z, _line_beyond(z, scores, 0.5 * np.log(variances[inside])), False)

    def sd_at(self, z: FloatArray) -> FloatArray:
        """Return the standard deviation at normal scores, of the same shape."""
        return np.asarray(np.exp(_line_beyond(z, self.z, self.log_sd)), dtype=np.float64)

    @property
    def slope(self) -> float:
        """How fast the log of the spread moves with its score, in the middle of the prior."""
        return float(np.interp(0.5, self.z, self.log_sd) - np.interp(-0.5, self.z, self.log_sd))


def _binned(weights: FloatArray, variances: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Gather a discrete distribution into fine bins of the log, keeping each bin's mean."""
    order = np.argsort(variances)
    weights, variances = weights[order], variances[order]
    span = np.log(variances[-1] / variances[0])
    if span < 1e-12:
        return np.array([weights.sum()]), np.array([float(weights @ variances) / weights.sum()])
    place = np.floor(np.log(variances / variances[0]) / span * 1999.999).astype(np.intp)
    mass = np.bincount(place, weights)
    mean = np.bincount(place, weights * variances)
    used = mass > 0.0
    return mass[used] / mass[used].sum(), mean[used] / mass[used]


def _line_beyond(x: FloatArray, xp: FloatArray, fp: FloatArray) -> FloatArray:
    """Interpolate, and go on in a straight line outside the table."""
    found = np.interp(x, xp, fp)
    low = (fp[1] - fp[0]) / (xp[1] - xp[0])
    high = (fp[-1] - fp[-2]) / (xp[-1] - xp[-2])
    found = np.where(x < xp[0], fp[0] + low * (x - xp[0]), found)
    return np.asarray(np.where(x > xp[-1], fp[-1] + high * (x - xp[-1]), found), dtype=np.float64)
