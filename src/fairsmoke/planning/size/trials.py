"""Trials drawn from what is believed, as the few numbers that their layout reduces to."""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import special
from scipy.stats import qmc

from fairsmoke.judging.priors import FloatArray, Priors
from fairsmoke.planning.size.strata import Reduced, Spread

TRIALS = 2048
"""Trials drawn for the chances over what is believed: a power of two, as the sequence needs."""

_SEED = 20_260_418


@dataclass(frozen=True, slots=True, eq=False)
class Trials:
    """Drawn trials, reduced: directions kept (S, r), sums of squares (S, m), differences (S,)."""

    kept: FloatArray
    squares: FloatArray
    difference: FloatArray

    def first(self, count: int) -> "Trials":
        """Return the first so many."""
        return Trials(self.kept[:count], self.squares[:count], self.difference[:count])


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """Where trials are drawn from."""

    reduced: Reduced
    spreads: tuple[Spread, ...]
    level_variance: float
    difference_sd: float
    noise_variance: float
    arms: tuple[int, int]

    @classmethod
    def of(
        cls, reduced: Reduced, priors: Priors, noise_sd: float, arms: tuple[int, int]
    ) -> "Source":
        """Return where trials of a layout are drawn from; ``noise_sd`` is added to every piece."""
        return cls(
            reduced,
            reduced.spreads(priors),
            reduced.level_variance(priors),
            priors.difference_sd,
            noise_sd**2,
            arms,
        )

    def draw(self, size: int, difference: float | None) -> Trials:
        """Draw trials, with the true difference of the two arms fixed if one is given."""
        reduced = self.reduced
        rank, strata, axes = len(reduced.ones), len(reduced.sizes), len(self.spreads)
        columns = 1 + axes + strata + rank + reduced.arms - 1
        uniform, scores = (drawn[:size, :columns] for drawn in _sequence(columns, size))
        z, scores = scores[:, : 1 + axes], scores[:, 1 + axes :]
        sds = np.column_stack([s.sd_at(z[:, 1 + k]) for k, s in enumerate(self.spreads)])
        variances = sds**2
        true = z[:, 0] * self.difference_sd if difference is None else np.full(size, difference)
        squares = (variances @ reduced.levels + self.noise_variance) * special.chdtri(
            reduced.sizes, uniform[:, 1 + axes : 1 + axes + strata]
        )
        kernels = kept_kernels(reduced, self.level_variance)
        covariance = np.tensordot(with_level(variances), kernels, axes=1)
        covariance += self.noise_variance * np.eye(rank)
        root = np.linalg.cholesky(covariance)
        kept = np.einsum("sij,sj->si", root, scores[:, strata : strata + rank])
        effects = self._effects(true, scores[:, strata + rank :])
        return Trials(kept + effects @ reduced.arm.T, squares, true)

    def _effects(self, true: FloatArray, scores: FloatArray) -> FloatArray:
        """Return arm effects (S, J) whose difference is as given, the rest drawn."""
        count = self.reduced.arms
        contrast = np.zeros(count)
        contrast[list(self.arms)] = np.array([1.0, -1.0]) / math.sqrt(2.0)
        rest = np.linalg.svd(contrast[None, :])[2][1:]
        own = self.difference_sd / math.sqrt(2.0)
        effects = np.outer(true / math.sqrt(2.0), contrast) + own * scores @ rest
        return np.asarray(effects, dtype=np.float64)


def _sequence(columns: int, size: int) -> tuple[FloatArray, FloatArray]:
    """Return a low-discrepancy sequence of at least that size, and its normal scores.

    Every layout draws from the same one, so that they are compared on the same luck.
    """
    return _drawn(-(-columns // 32) * 32, max(size, TRIALS))


@lru_cache(maxsize=4)
def _drawn(columns: int, size: int) -> tuple[FloatArray, FloatArray]:
    uniform = qmc.Sobol(columns, rng=np.random.default_rng(_SEED)).random(size)
    # Zero itself can be drawn, and has no normal score.
    uniform = np.clip(uniform, 2.0**-32, 1.0 - 2.0**-32)
    return uniform, np.asarray(special.ndtri(uniform), dtype=np.float64)


def kept_kernels(reduced: Reduced, level_variance: float) -> FloatArray:
    """Return the matrices of the spreads, and last that of the level with its variance in it."""
    level = level_variance * np.outer(reduced.ones, reduced.ones)
    return np.concatenate([reduced.kernels, level[None]])


def with_level(variances: FloatArray) -> FloatArray:
    """Return the factors of `kept_kernels` for variances of the spreads (S, K)."""
    return np.hstack([variances, np.ones((len(variances), 1))])
