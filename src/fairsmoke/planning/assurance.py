"""The chance that a layout settles its question, by the very rule that judging uses.

Trials are drawn from what is believed and each is judged by the comparison's posterior and verdict
rule. Nothing is integrated anew for each trial: the covariance at every set of spreads is worked
out once, and all trials are judged against all sets in a few matrix products (`strata`). The
trials are a low-discrepancy sequence with a fixed seed, the same whatever the layout's size, so
that the same question gives the same answer and curves over the number of pairs are smooth.
Source of the idea, assurance as power averaged over the prior: O'Hagan, Stevens and Campbell,
Pharmaceutical Statistics 4 (2005) 187, from memory.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np
import numpy.typing as npt
from scipy import special
from scipy.stats import qmc

from fairsmoke.judging.design import Layout
from fairsmoke.judging.priors import FloatArray, Priors
from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.strata import Reduced, Spread, reduce_layout

TRIALS = 4096
"""Trials drawn for the chances over what is believed: a power of two, as the sequence needs."""
GIVEN_TRIALS = 1024
"""Trials drawn for each true difference."""
WIDTH_TRIALS = 128
"""Trials whose interval is worked out for the expected width."""
LEVEL = 0.95
"""What the interval holds whose width is expected."""

_SEED = 20_260_418
# Lattice of spreads: steps in posterior sds by number of axes. The trapezoid rule on a normal
# density is off by 2 exp(-2 pi^2 / step^2): 0.03 % at a step of 1.5, 1.4 % at 2.
_STEPS = (1.0, 0.5, 0.9, 1.4, 1.7, 1.9, 2.0)
_MASS_OUTSIDE = 5e-4
_MOST_NODES = 30_000
_CELLS = 1 << 17
_LEAST = -60.0


@dataclass(frozen=True, slots=True)
class Chances:
    """What becomes of the verdict; the four add to 1.

    Attributes:
        ahead: settled that the first arm named is higher by more than the worthwhile difference.
        no_difference: settled that there is no difference that matters.
        behind: settled that the first arm named is lower by more.
        not_settled: none of these.

    """

    ahead: float
    no_difference: float
    behind: float
    not_settled: float

    @property
    def settled(self) -> float:
        """Chance of any settled verdict."""
        return self.ahead + self.no_difference + self.behind

    @property
    def one_is_better(self) -> float:
        """Chance that it is settled which arm is higher by enough."""
        return self.ahead + self.behind


@dataclass(frozen=True, slots=True)
class Prospect:
    """What a layout promises before it is cooked.

    Attributes:
        chances: averaged over what is believed.
        misled: chance that a settled verdict is wrong: that it names the wrong arm, an arm when
            the difference is below the worthwhile one, or no difference when there is one.
        given: the same for true differences (first arm less second), by that difference.
        width: expected width of the interval for the difference, unit of the response.
        level: what that interval holds.
        trials: how many trials the chances rest on; nodes: sets of spreads each was judged with.

    """

    chances: Chances
    misled: float
    given: tuple[tuple[float, Chances], ...]
    width: float
    level: float
    trials: int
    nodes: int


def prospect(
    layout: Layout,
    priors: Priors,
    worthwhile: float,
    *,
    believed: Priors | None = None,
    sure: float = 0.95,
    measurement_sd: float = 0.0,
    unseen_sd: float = 0.0,
    given: Iterable[float] = (),
    arms: tuple[int, int] = (0, 1),
    trials: int = TRIALS,
) -> Prospect:
    """Return what judging is likely to say of a layout.

    Args:
        layout: who gets what.
        priors: those that judging will use, unit of the response.
        worthwhile: the smallest difference that matters, above 0, same unit.
        believed: from which trials are drawn, where more is known than judging assumes (the
            notebook's own spreads); judging's own priors if not given.
        sure: what judging asks for before it calls anything settled.
        measurement_sd: known error of one piece's value, in the trials and in judging.
        unseen_sd: scatter of one piece's value that the trials have and judging is not told of,
            as that of a small panel.
        given: true differences (first arm less second) for which the chances are wanted too.
        arms: numbers of the two arms compared.
        trials: how many to draw, a power of two.

    Raises:
        PlanError: a number out of range, or too many factors at once.
        ComparisonError: a factor of the layout without a prior.

    """
    given = tuple(given)
    _check(layout, worthwhile, sure, measurement_sd, unseen_sd, given, arms, trials)
    reduced = reduce_layout(layout)
    judge = _Judge.of(reduced, priors, measurement_sd, arms)
    source = _Source.of(reduced, believed or priors, math.hypot(measurement_sd, unseen_sd), arms)
    size = _affordable(trials, judge.nodes)
    data = source.draw(size, None)
    kinds = judge.verdicts(data, worthwhile, sure)
    truth = np.sign(data.difference) * (np.abs(data.difference) > worthwhile)
    misled = float(np.mean((kinds != _NOT_SETTLED) & (kinds != truth)))
    few = _affordable(min(GIVEN_TRIALS, trials), judge.nodes)
    found = tuple(
        (d, _chances(judge.verdicts(source.draw(few, d), worthwhile, sure))) for d in given
    )
    width = judge.mean_width(data.first(min(WIDTH_TRIALS, size)), LEVEL)
    return Prospect(_chances(kinds, even=True), misled, found, width, LEVEL, size, judge.nodes)


def chances_of_data(
    values: npt.ArrayLike,
    layout: Layout,
    priors: Priors,
    worthwhile: float,
    *,
    measurement_sd: float = 0.0,
    arms: tuple[int, int] = (0, 1),
) -> FloatArray:
    """Return what judging would believe of each of several trials of one layout.

    Args:
        values: responses (S, n), no gaps; a row is a trial.
        layout, priors, worthwhile, measurement_sd, arms: as for `prospect`.

    Returns:
        (S, 3): chances that the first arm is ahead by more than `worthwhile`, that the difference
        is within it, that the first arm is behind by more.

    Raises:
        PlanError: values that do not fit the layout.

    """
    data = np.asarray(values, dtype=np.float64)
    if data.ndim != 2 or data.shape[1] != len(layout.arm) or not np.isfinite(data).all():
        raise PlanError(f"give a number for each of {len(layout.arm)} pieces in every row")
    reduced = reduce_layout(layout)
    kept, squares = reduced.taken(data - priors.mu_mean)
    judge = _Judge.of(reduced, priors, measurement_sd, arms)
    return judge.chances(_Trials(kept, squares, np.zeros(len(data))), worthwhile)


_NOT_SETTLED = 9


def _chances(kinds: npt.NDArray[np.intp], even: bool = False) -> Chances:
    ahead, nothing, behind = (float(np.mean(kinds == kind)) for kind in (1, 0, -1))
    if even:
        # Every trial and its mirror image are equally likely when neither arm is favoured.
        ahead = behind = 0.5 * (ahead + behind)
    return Chances(ahead, nothing, behind, max(0.0, 1.0 - ahead - nothing - behind))


def _affordable(trials: int, nodes: int) -> int:
    """Return fewer trials, still a power of two, where every one costs much."""
    most = max(256, (1 << 24) // nodes)
    return min(trials, 1 << int(math.log2(most)))


def _check(
    layout: Layout,
    worthwhile: float,
    sure: float,
    measurement_sd: float,
    unseen_sd: float,
    given: Sequence[float],
    arms: tuple[int, int],
    trials: int,
) -> None:
    if not (math.isfinite(worthwhile) and worthwhile > 0.0):
        raise PlanError(f"the worthwhile difference must be above 0, not {worthwhile}")
    if not 0.5 < sure < 1.0:
        raise PlanError(
            f"how sure to be is a probability above 0.5 and below 1, such as 0.95, not {sure}"
        )
    for name, sd in (("measurement_sd", measurement_sd), ("unseen_sd", unseen_sd)):
        if not (math.isfinite(sd) and sd >= 0.0):
            raise PlanError(f"{name} is a standard deviation, 0 or above, not {sd}")
    if not all(math.isfinite(d) for d in given):
        raise PlanError(f"a true difference is a number; given were {list(given)}")
    count = len(layout.arm_names)
    if arms[0] == arms[1] or not all(0 <= arm < count for arm in arms):
        raise PlanError(f"two different arms of 0 to {count - 1} are compared, not {arms}")
    missing = set(range(count)) - set(layout.arm.tolist())
    if missing:
        names = ", ".join(layout.arm_names[arm] for arm in sorted(missing))
        raise PlanError(f"no piece of the layout gets {names}; give it one or leave the arm out")
    if trials < 64 or trials & (trials - 1):
        raise PlanError(f"trials must be a power of two from 64 on, such as 4096, not {trials}")


@dataclass(frozen=True, slots=True, eq=False)
class _Trials:
    """Drawn trials, reduced: directions kept (S, r), sums of squares (S, m), differences (S,)."""

    kept: FloatArray
    squares: FloatArray
    difference: FloatArray

    def first(self, count: int) -> "_Trials":
        return _Trials(self.kept[:count], self.squares[:count], self.difference[:count])


@dataclass(frozen=True, slots=True, eq=False)
class _Source:
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
    ) -> "_Source":
        return cls(
            reduced,
            reduced.spreads(priors),
            reduced.level_variance(priors),
            priors.difference_sd,
            noise_sd**2,
            arms,
        )

    def draw(self, size: int, difference: float | None) -> _Trials:
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
        kernels = _kept_kernels(reduced, self.level_variance)
        covariance = np.tensordot(_with_level(variances), kernels, axes=1)
        covariance += self.noise_variance * np.eye(rank)
        root = np.linalg.cholesky(covariance)
        kept = np.einsum("sij,sj->si", root, scores[:, strata : strata + rank])
        effects = self._effects(true, scores[:, strata + rank :])
        return _Trials(kept + effects @ reduced.arm.T, squares, true)

    def _effects(self, true: FloatArray, scores: FloatArray) -> FloatArray:
        """Return arm effects (S, J) whose difference is as given, the rest drawn."""
        count = self.reduced.arms
        contrast = np.zeros(count)
        contrast[list(self.arms)] = np.array([1.0, -1.0]) / math.sqrt(2.0)
        rest = np.linalg.svd(contrast[None, :])[2][1:]
        own = self.difference_sd / math.sqrt(2.0)
        return np.outer(true / math.sqrt(2.0), contrast) + own * scores @ rest


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


def _kept_kernels(reduced: Reduced, level_variance: float) -> FloatArray:
    """Return the matrices of the spreads, and last that of the level with its variance in it."""
    level = level_variance * np.outer(reduced.ones, reduced.ones)
    return np.concatenate([reduced.kernels, level[None]])


def _with_level(variances: FloatArray) -> FloatArray:
    return np.hstack([variances, np.ones((len(variances), 1))])


@dataclass(frozen=True, slots=True, eq=False)
class _Judge:
    """The posterior of the difference on a lattice of spreads, for any data.

    The log weight of node g is ``form[:, g]`` times the features of the data. Nodes that give the
    same difference from the same data (spreads that cancel within pairs) stand together, a set
    beginning at each of ``starts`` (H,), and their weights are summed. In set h the difference is normal with mean
    ``kept @ slope[:, h]`` and standard deviation ``sd[h]``.
    """

    form: FloatArray
    starts: npt.NDArray[np.intp]
    slope: FloatArray
    sd: FloatArray

    @property
    def nodes(self) -> int:
        return self.form.shape[1]

    @classmethod
    def of(
        cls, reduced: Reduced, priors: Priors, measurement_sd: float, arms: tuple[int, int]
    ) -> "_Judge":
        spreads = reduced.spreads(priors)
        z = _lattice(spreads, reduced.freedom)
        sds = np.column_stack([s.sd_at(z[:, k]) for k, s in enumerate(spreads)])
        variances, noise = sds**2, measurement_sd**2
        strata = variances @ reduced.levels + noise
        kernels = _kept_kernels(reduced, reduced.level_variance(priors))
        own = 0.5 * priors.difference_sd**2
        covariance = np.tensordot(_with_level(variances), kernels, axes=1)
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

    def weights(self, data: _Trials) -> FloatArray:
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

    def chances(self, data: _Trials, worthwhile: float) -> FloatArray:
        """Return for each trial the chances of ahead, no difference that matters, behind, (S, 3)."""
        step = max(1, _CELLS // self.nodes)
        found = np.empty((len(data.kept), 3))
        for start in range(0, len(found), step):
            rows = slice(start, start + step)
            part = _Trials(data.kept[rows], data.squares[rows], data.difference[rows])
            weights, means = self.weights(part), part.kept @ self.slope
            above = special.ndtr((means - worthwhile) / self.sd)
            below = special.ndtr((-worthwhile - means) / self.sd)
            found[rows, 0] = np.einsum("sg,sg->s", weights, above)
            found[rows, 2] = np.einsum("sg,sg->s", weights, below)
        found[:, 1] = np.maximum(0.0, 1.0 - found[:, 0] - found[:, 2])
        return found

    def verdicts(self, data: _Trials, worthwhile: float, sure: float) -> npt.NDArray[np.intp]:
        """Return for each trial 1, 0 or -1 (ahead, no difference, behind), or not settled."""
        chances = self.chances(data, worthwhile)
        # As in `verdict`; two of the three cannot both be as sure as that.
        kinds = np.array([1, 0, -1])[chances.argmax(axis=1)]
        return np.where(chances.max(axis=1) >= sure, kinds, _NOT_SETTLED).astype(np.intp)

    def mean_width(self, data: _Trials, level: float) -> float:
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
        return x


def _alike(
    slope: FloatArray, sd: FloatArray
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
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
