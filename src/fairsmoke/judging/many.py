"""The comparison's posterior of one difference for very many data sets of one layout at once.

The same model as `model.compare`, integrated over a lattice that is laid once, over the priors of
the spreads, instead of anew for each data set. What judging a layout needs at every set of spreads
(the inverse covariance, the weights of the difference) is worked out once; a data set then costs
matrix products and a loop over nodes and pieces. Planning and the operating characteristics judge
their simulated trials with it, by the decision rule of the verdict.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
import scipy
from numba import njit

from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.priors import FloatArray, Priors
from fairsmoke.judging.spread_table import SpreadTable

# Steps in posterior sds by number of axes. The trapezoid rule on a normal density is off by
# 2 exp(-2 pi^2 / step^2): 0.03 % at a step of 1.5, 0.8 % at 1.9.
_STEPS = (1.0, 0.5, 1.2, 1.8, 1.9, 1.9, 2.0)
_MASS_OUTSIDE = 5e-4
_MOST_NODES = 6_000
# Numbers held at once for one chunk of data sets.
_CHUNK = 1 << 22
# Nodes and pieces whose share of the posterior is below exp(-_LEAST) are passed over.
_LEAST = 13.0
_GRID = 41


@dataclass(frozen=True, slots=True, eq=False)
class ManyJudge:
    """What judging one layout needs at each of G sets of spreads, for the difference of two arms.

    Attributes:
        log_prior: log of the node's prior weight less half the log determinant, and of no piece
            being odd, (G,).
        inverse: of the data's covariance (G, n, n).
        slope: posterior mean of the difference is slope @ data, (G, n).
        variance: posterior variance of the difference, no piece being odd, (G,).
        gain, log_odd: of each piece being odd: variance added over variance then, and log of the
            odds before the data less half the log of the determinant's growth, (G, n).
        level: prior mean of the responses.

    """

    log_prior: FloatArray
    inverse: FloatArray
    slope: FloatArray
    variance: FloatArray
    gain: FloatArray
    log_odd: FloatArray
    level: float

    @property
    def nodes(self) -> int:
        """Number of sets of spreads."""
        return len(self.log_prior)

    @classmethod
    def of(
        cls,
        layout: ComparisonLayout,
        priors: Priors,
        *,
        measurement_cov: FloatArray | None = None,
        arms: tuple[int, int] = (0, 1),
    ) -> "ManyJudge":
        """Work out what judging a layout needs.

        Raises:
            ComparisonError: a factor without a prior, or too many factors for a lattice.

        """
        n = len(layout.arm)
        names, kernels, one_level = kernels_of(layout)
        spreads = spreads_of(names, priors)
        z = _lattice(spreads, [np.linalg.matrix_rank(k, hermitian=True) for k in kernels])
        variances = np.column_stack([s.sd_at(z[:, k]) for k, s in enumerate(spreads)]) ** 2
        arm = np.eye(len(layout.arm_names))[layout.arm]
        own = 0.5 * priors.difference_sd**2
        extra = sum(priors.group(name).mean_square() for name in one_level)
        fixed = (priors.mu_sd**2 + extra) * np.ones((n, n)) + own * arm @ arm.T
        if measurement_cov is not None:
            fixed = fixed + measurement_cov
        covariance = np.tensordot(variances, np.stack(kernels), axes=1) + fixed
        root = np.linalg.cholesky(covariance)
        log_det = 2.0 * np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
        inverse = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
        shared = own * (arm[:, arms[0]] - arm[:, arms[1]])
        slope = inverse @ shared
        odd_variance, odds = _odd(priors, n)
        grown = 1.0 + odd_variance * np.diagonal(inverse, axis1=1, axis2=2)
        return cls(
            log_prior=-0.5 * (np.sum(z**2, axis=1) + log_det),
            inverse=inverse,
            slope=slope,
            variance=priors.difference_sd**2 - slope @ shared,
            gain=odd_variance / grown,
            log_odd=math.log(odds) - 0.5 * np.log(grown) if odds else np.full(grown.shape, -1e300),
            level=priors.mu_mean,
        )

    def cdf(self, data: FloatArray, points: FloatArray) -> FloatArray:
        """Return the probability that the difference is at most each point, (S, k).

        Args:
            data: responses (S, n), no gaps.
            points: (S, k) or (k,), unit of the response.

        """
        at = np.broadcast_to(points, (len(data), np.shape(points)[-1]))
        found = np.empty(at.shape)
        step = max(1, _CHUNK // (self.inverse.shape[0] * self.inverse.shape[1]))
        for start in range(0, len(data), step):
            rows = slice(start, start + step)
            off = data[rows] - self.level
            pulled = off @ self.inverse
            squares = np.einsum("gsn,sn->gs", pulled, off)
            middle = self.slope @ off.T
            found[rows] = _mixture_cdf(
                self.log_prior[:, None] - 0.5 * squares,
                middle,
                pulled,
                self.slope,
                self.variance,
                self.gain,
                self.log_odd,
                np.ascontiguousarray(at[rows]),
            )
        return found

    def chances(self, data: FloatArray, worthwhile: float) -> FloatArray:
        """Return for each data set the chances of ahead, no difference, behind, (S, 3)."""
        below = self.cdf(data, np.array([-worthwhile, worthwhile]))
        return np.column_stack([1.0 - below[:, 1], below[:, 1] - below[:, 0], below[:, 0]])

    def interval(self, data: FloatArray, level: float) -> FloatArray:
        """Return the central interval of each data set, (S, 2), good to about one per cent.

        Read off the distribution on a grid, as a straight line in normal scores between points.
        """
        score = float(scipy.special.ndtri(0.5 * (1.0 + level)))
        middle = np.mean(self.slope @ (data - self.level).T, axis=0)
        reach = (2.0 + score) * math.sqrt(float(self.variance.max()))
        grid = middle[:, None] + np.linspace(-reach, reach, _GRID)
        scores = scipy.special.ndtri(np.clip(self.cdf(data, grid), 1e-12, 1.0 - 1e-12))
        ends = [
            [np.interp(end, own, at) for own, at in zip(scores, grid, strict=True)]
            for end in (-score, score)
        ]
        return np.array(ends).T


@njit(cache=True)
def _normal_cdf(x: float) -> float:  # pragma: no cover (compiled)
    return 0.5 * math.erfc(-x * 0.7071067811865476)


@njit(cache=True, fastmath=False)
def _mixture_cdf(  # type: ignore[no-untyped-def]  # pragma: no cover (compiled)
    log_weight, middle, pulled, slope, variance, gain, log_odd, points
):
    """Sum normals over nodes, and over no piece or each one being odd (rank-one updates)."""
    nodes, sets = log_weight.shape
    n, k = slope.shape[1], points.shape[1]
    found = np.zeros((sets, k))
    for s in range(sets):
        top = -np.inf
        for g in range(nodes):
            base = log_weight[g, s]
            best = 0.0
            for i in range(n):
                more = log_odd[g, i] + 0.5 * gain[g, i] * pulled[g, s, i] ** 2
                if more > best:
                    best = more
            if base + best > top:
                top = base + best
        total = 0.0
        for g in range(nodes):
            base = log_weight[g, s] - top
            if base > -_LEAST:
                weight = math.exp(base)
                total += weight
                sd = math.sqrt(variance[g])
                for j in range(k):
                    found[s, j] += weight * _normal_cdf((points[s, j] - middle[g, s]) / sd)
            for i in range(n):
                own = base + log_odd[g, i] + 0.5 * gain[g, i] * pulled[g, s, i] ** 2
                if own > -_LEAST:
                    weight = math.exp(own)
                    total += weight
                    sd = math.sqrt(variance[g] + slope[g, i] ** 2 * gain[g, i])
                    mean = middle[g, s] - slope[g, i] * gain[g, i] * pulled[g, s, i]
                    for j in range(k):
                        found[s, j] += weight * _normal_cdf((points[s, j] - mean) / sd)
        for j in range(k):
            found[s, j] /= total
    return found


def _odd(priors: Priors, pieces: int) -> tuple[float, float]:
    """Return the variance that an odd piece adds, and the odds of each being the odd one."""
    if priors.odd is None:
        return 0.0, 0.0
    return priors.odd.sd**2, priors.odd.odds(pieces)


def kernels_of(
    layout: ComparisonLayout,
) -> tuple[tuple[tuple[str, ...], ...], list[FloatArray], tuple[str, ...]]:
    """Return the same-label matrices of a layout, alike ones joined, with the names of each.

    The last part names the factors of one level, which shift every piece alike.
    """
    labels = {k: np.unique(v, return_inverse=True)[1] for k, v in layout.factors.items()}
    one_level = tuple(k for k, v in labels.items() if v.max() == 0)
    names: list[list[str]] = [["piece"]]
    kernels: list[FloatArray] = [np.eye(len(layout.arm))]
    for name, numbers in labels.items():
        if name in one_level:
            continue
        kernel = np.asarray(numbers[:, None] == numbers[None, :], dtype=np.float64)
        for together, other in zip(names, kernels, strict=True):
            if np.array_equal(kernel, other):
                together.append(name)
                break
        else:
            names.append([name])
            kernels.append(kernel)
    return tuple(tuple(together) for together in names), kernels, one_level


def spreads_of(names: Sequence[Sequence[str]], priors: Priors) -> list[SpreadTable]:
    """Return the priors of the spreads that a layout tells apart.

    Raises:
        ComparisonError: a factor has no prior.

    """
    return [
        SpreadTable.of(*(priors.piece if n == "piece" else priors.group(n) for n in together))
        for together in names
    ]


def _lattice(spreads: Sequence[SpreadTable], freedom: Sequence[int]) -> FloatArray:
    """Return normal scores (G, K) that a posterior of such a layout can be summed over.

    Steps follow how narrow the posterior can get: a spread told by f directions has a log known
    to about 1 / sqrt(2 f), and no wider than its prior.
    """
    open_axes = [k for k, spread in enumerate(spreads) if not spread.known]
    if not open_axes:
        return np.zeros((1, len(spreads)))
    step = _STEPS[min(len(open_axes), len(_STEPS) - 1)]
    steps = np.array(
        [step / math.sqrt(1.0 + 2.0 * freedom[k] * spreads[k].slope ** 2) for k in open_axes]
    )
    reach = float(scipy.special.chdtri(len(open_axes), _MASS_OUTSIDE))
    sides = [
        np.arange(-math.ceil(math.sqrt(reach) / s), math.ceil(math.sqrt(reach) / s) + 1) * s
        for s in steps
    ]
    if math.prod(len(side) for side in sides) > 40 * _MOST_NODES:
        raise ComparisonError(_too_many(len(open_axes)))
    box = np.array(list(product(*sides)))
    inside = box[np.sum(box**2, axis=1) <= reach]
    if len(inside) > _MOST_NODES:
        raise ComparisonError(_too_many(len(open_axes)))
    found = np.zeros((len(inside), len(spreads)))
    found[:, open_axes] = inside
    return found


def _too_many(axes: int) -> str:
    return (
        f"{axes} kinds of spread at once are too many to plan with; leave out the factor that "
        "matters least, state its spread as known, or plan for fewer pieces"
    )
