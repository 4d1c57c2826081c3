"""The comparison's posterior of a difference, for very many trials of one layout at once."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
import numpy.typing as npt
from scipy import special

from fairsmoke.judging.priors import FloatArray, Priors
from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.size.strata import Reduced, Spread
from fairsmoke.planning.size.trials import Trials, kept_kernels, with_level

NOT_SETTLED = 9
"""What stands for no settled verdict among 1, 0 and -1."""

# Lattice of spreads: steps in posterior sds by number of axes. The trapezoid rule on a normal
# density is off by 2 exp(-2 pi^2 / step^2): 0.03 % at a step of 1.5, 1.4 % at 2.
_STEPS = (1.0, 0.5, 0.9, 1.4, 1.7, 1.9, 2.0)
_MASS_OUTSIDE = 5e-4
_MOST_NODES = 30_000
# Multiplications in one matrix product of a chunk of trials: below the size at which linear algebra
# libraries start threads, which cost more than they save for products this thin.
_CHUNK = 1 << 18
_LEAST = -60.0


@dataclass(frozen=True, slots=True, eq=False)
class Judge:
    """The posterior of the difference on a lattice of spreads, for any data.

    The log weight of node g is ``form[:, g]`` times the features of the data. Nodes that give the
    same difference from the same data (spreads that cancel within pairs) stand together, a set
    beginning at each of ``starts`` (H,), and their weights are summed. In set h the difference is
    normal with mean ``kept @ slope[:, h]`` and standard deviation ``sd[h]``.
    """

    form: FloatArray
    starts: npt.NDArray[np.intp]
    slope: FloatArray
    sd: FloatArray

    @property
    def nodes(self) -> int:
        """Number of sets of spreads."""
        return int(self.form.shape[1])

    @classmethod
    def of(
        cls, reduced: Reduced, priors: Priors, measurement_sd: float, arms: tuple[int, int]
    ) -> "Judge":
        """Work out what judging a layout needs at every set of spreads."""
        spreads = reduced.spreads(priors)
        z = _lattice(spreads, reduced.freedom)
        sds = np.column_stack([s.sd_at(z[:, k]) for k, s in enumerate(spreads)])
        variances, noise = sds**2, measurement_sd**2
        strata = variances @ reduced.levels + noise
        kernels = kept_kernels(reduced, reduced.level_variance(priors))
        own = 0.5 * priors.difference_sd**2
        covariance = np.tensordot(with_level(variances), kernels, axes=1)
        covariance += noise * np.eye(len(reduced.ones)) + own * reduced.arm @ reduced.arm.T
        root = np.linalg.cholesky(covariance)
        log_det = 2.0 * np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
        log_det += np.log(strata) @ reduced.sizes
        inverse = np.linalg.inv(covariance)
        shared = own * (reduced.arm[:, arms[0]] - reduced.arm[:, arms[1]])
        slope = inverse @ shared
        variance = priors.difference_sd**2 - slope @ shared
        upper = np.triu_indices(len(reduced.ones))
        twice = np.where(upper[0] == upper[1], 1.0, 2.0)
        form = np.column_stack(
            [
                -0.5 * twice * inverse[:, upper[0], upper[1]],
                -0.5 / strata,
                -0.5 * (np.sum(z**2, axis=1) + log_det),
            ]
        )
        order, starts = _alike(slope, np.sqrt(variance))
        first = order[starts]
        return cls(
            form=np.ascontiguousarray(form[order].T),
            starts=starts,
            slope=np.ascontiguousarray(slope[first].T),
            sd=np.sqrt(variance[first]),
        )

    def weights(self, data: Trials) -> FloatArray:
        """Return the share of each set of nodes in each trial's posterior, (S, H)."""
        upper = np.triu_indices(data.kept.shape[1])
        features = np.column_stack(
            [
                data.kept[:, upper[0]] * data.kept[:, upper[1]],
                data.squares,
                np.ones(len(data.kept)),
            ]
        )
        log_weight = features @ self.form
        log_weight -= log_weight.max(axis=1, keepdims=True)
        # Weights too small to matter would turn into subnormal numbers, which are slow to multiply.
        np.maximum(log_weight, _LEAST, out=log_weight)
        np.exp(log_weight, out=log_weight)
        joined = np.add.reduceat(log_weight, self.starts, axis=1)
        return np.asarray(joined / joined.sum(axis=1, keepdims=True), dtype=np.float64)

    def chances(self, data: Trials, worthwhile: float) -> FloatArray:
        """Return for each trial the chances of ahead, no difference, behind, (S, 3)."""
        step = max(1, _CHUNK // self.form.size)
        found = np.empty((len(data.kept), 3))
        for start in range(0, len(found), step):
            rows = slice(start, start + step)
            part = Trials(data.kept[rows], data.squares[rows], data.difference[rows])
            weights, means = self.weights(part), part.kept @ self.slope
            above = special.ndtr((means - worthwhile) / self.sd)
            below = special.ndtr((-worthwhile - means) / self.sd)
            found[rows, 0] = np.einsum("sg,sg->s", weights, above)
            found[rows, 2] = np.einsum("sg,sg->s", weights, below)
        found[:, 1] = np.maximum(0.0, 1.0 - found[:, 0] - found[:, 2])
        return found

    def verdicts(self, data: Trials, worthwhile: float, sure: float) -> npt.NDArray[np.intp]:
        """Return for each trial 1, 0 or -1 (ahead, no difference, behind), or not settled."""
        chances = self.chances(data, worthwhile)
        # As in `verdict`; two of the three cannot both be as sure as that.
        kinds = np.array([1, 0, -1])[chances.argmax(axis=1)]
        return np.where(chances.max(axis=1) >= sure, kinds, NOT_SETTLED).astype(np.intp)

    def mean_width(self, data: Trials, level: float) -> float:
        """Return the mean width of the central interval over the trials."""
        weights, means = self.weights(data), data.kept @ self.slope
        tail = 0.5 * (1.0 - level)
        ends = [self._quantiles(weights, means, p) for p in (tail, 1.0 - tail)]
        return float(np.mean(ends[1] - ends[0]))

    def _quantiles(self, weights: FloatArray, means: FloatArray, probability: float) -> FloatArray:
        """Return the mixtures' quantiles (S,) by Newton steps kept inside a shrinking bracket."""
        middle = np.einsum("sg,sg->s", weights, means)
        square = np.einsum("sg,sg->s", weights, self.sd**2 + (means - middle[:, None]) ** 2)
        sd = np.sqrt(square)
        low, high = middle - 30.0 * sd, middle + 30.0 * sd
        x = middle + special.ndtri(probability) * sd
        for _ in range(60):
            standard = (x[:, None] - means) / self.sd
            off = np.einsum("sg,sg->s", weights, special.ndtr(standard)) - probability
            if np.abs(off).max() < 1e-7:
                break
            low, high = np.where(off < 0.0, x, low), np.where(off > 0.0, x, high)
            heights = np.exp(-0.5 * standard**2) / (self.sd * math.sqrt(2.0 * math.pi))
            density = np.einsum("sg,sg->s", weights, heights)
            step = x - off / np.maximum(density, 1e-300)
            x = np.where((step > low) & (step < high), step, 0.5 * (low + high))
        return np.asarray(x, dtype=np.float64)


def _alike(slope: FloatArray, sd: FloatArray) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Return an order in which nodes equal to rounding stand together, and where sets begin."""
    rows = np.column_stack([slope / np.abs(slope).max(), sd / sd.max()])
    _, member = np.unique(np.round(rows, 9) + 0.0, axis=0, return_inverse=True)
    order = np.argsort(member.ravel(), kind="stable")
    starts = np.flatnonzero(np.diff(member.ravel()[order], prepend=-1))
    return order, starts


def _lattice(spreads: Sequence[Spread], freedom: FloatArray) -> FloatArray:
    """Return normal scores (G, K) that a posterior of such a layout can be summed over.

    Steps follow how narrow the posterior can get: a spread told by f directions has a log known
    to about 1 / sqrt(2 f), and no wider than its prior.

    Raises:
        PlanError: so many spreads at once that the lattice is too large.

    """
    open_axes = [k for k, spread in enumerate(spreads) if not spread.known]
    if not open_axes:
        return np.zeros((1, len(spreads)))
    step = _STEPS[min(len(open_axes), len(_STEPS) - 1)]
    steps = np.array(
        [step / math.sqrt(1.0 + 2.0 * freedom[k] * spreads[k].slope ** 2) for k in open_axes]
    )
    reach = float(special.chdtri(len(open_axes), _MASS_OUTSIDE))
    sides = [
        np.arange(-math.ceil(math.sqrt(reach) / s), math.ceil(math.sqrt(reach) / s) + 1) * s
        for s in steps
    ]
    if math.prod(len(side) for side in sides) > 40 * _MOST_NODES:
        raise PlanError(
            f"{len(open_axes)} kinds of spread at once are too many to plan with; leave out the "
            "factor that matters least, or state its spread as known"
        )
    box = np.array(list(product(*sides)))
    inside = box[np.sum(box**2, axis=1) <= reach]
    if len(inside) > _MOST_NODES:
        raise PlanError(
            f"{len(open_axes)} kinds of spread over {int(freedom[0])} pieces are too many to plan "
            "with; leave out the factor that matters least, or plan for fewer pieces"
        )
    found = np.zeros((len(inside), len(spreads)))
    found[:, open_axes] = inside
    return found
