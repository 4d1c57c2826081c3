"""What one pair alone can and cannot tell, by the model and the rule of the verdict."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy

from fairsmoke.judging.analyses import ManyAnalyses
from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.mixture import Posterior
from fairsmoke.judging.priors import FloatArray, Priors, SpreadPrior
from fairsmoke.judging.rule import DifferenceZone, check_rule

_GRID = 241
_REFINED = 40


@dataclass(frozen=True, slots=True)
class OnePairNumbers:
    """What one pair can tell, in the unit of the response.

    Attributes:
        half_of_the_time: two pieces cooked the same way differ by more than this half of the time.
        one_in_twenty: and by more than this one time in twenty.
        settles: the smallest observed difference with which one pair could settle that an arm is
            beyond the worthwhile difference; None if no difference could.
        can_settle_no_difference: whether one pair could ever settle that there is no difference
            that matters (tried at an observed difference of nought, its best case).

    """

    half_of_the_time: float
    one_in_twenty: float
    settles: float | None
    can_settle_no_difference: bool


def one_pair_numbers(
    priors: Priors,
    worthwhile: float,
    *,
    apart: Iterable[str] = (),
    sure: float = 0.95,
    measurement_sd: float = 0.0,
) -> OnePairNumbers:
    """Return what one pair alone can and cannot tell.

    Args:
        priors: the piece-to-piece spread and all else believed beforehand.
        worthwhile: the smallest difference that matters, unit of the response.
        apart: grouping factors of `priors` in which the two pieces of a pair differ (position; or
            animal, when they come from two), which make pieces cooked alike differ too.
        sure: as in the rule of the verdict.
        measurement_sd: of one piece's measured value, unit of the response.

    Raises:
        ComparisonError: a factor without prior, or numbers out of range.

    """
    check_rule(worthwhile, sure)
    apart = tuple(apart)
    alike = _alike(priors, apart, measurement_sd)
    half = scipy.optimize.brentq(
        lambda x: 1.0 - 2.0 * alike.prob_greater(x) - 0.5,
        0.0,
        10.0 * alike.sd,
        xtol=1e-6 * alike.sd,
    )
    two = np.array([0, 1])
    judge = ManyAnalyses.of(
        ComparisonLayout(two, ("first", "second"), dict.fromkeys(apart, two)),
        priors,
        measurement_cov=np.eye(2) * measurement_sd**2,
    )

    def settled(observed: FloatArray) -> npt.NDArray[np.intp]:
        values = priors.mu_mean + observed[:, None] * np.array([0.5, -0.5])
        return judge.verdicts(values, worthwhile, sure)

    scale = float(np.hypot(priors.difference_sd, alike.sd))
    (nought,) = settled(np.zeros(1))
    return OnePairNumbers(
        float(half),
        alike.quantile(0.975),
        _smallest(settled, scale),
        bool(nought == DifferenceZone.WITHIN),
    )


def _smallest(settled: Callable[[FloatArray], npt.NDArray[np.intp]], scale: float) -> float | None:
    """Return the smallest observed difference that settles, or None.

    A very large difference speaks for a large spread or an odd piece rather than for a large
    effect, so what settles may be a stretch in the middle; a finer grid finds its lower end.
    """
    grid = np.linspace(0.0, 6.0 * scale, _GRID)
    hits = np.flatnonzero(settled(grid) == DifferenceZone.ABOVE)
    if not len(hits):
        return None
    first = int(hits[0])
    if first == 0:
        return 0.0
    fine = np.linspace(grid[first - 1], grid[first], _REFINED)
    return float(fine[int(np.argmax(settled(fine) == DifferenceZone.ABOVE))])


def _alike(priors: Priors, apart: tuple[str, ...], measurement_sd: float) -> Posterior:
    """Return the difference of two pieces treated alike, neither odd, over the priors."""
    spreads = [priors.piece, *(priors.group(name) for name in apart)]
    weights, variance = np.ones(1), np.full(1, measurement_sd**2)
    for prior in spreads:
        share, sds = _prior_nodes(prior)
        weights = np.outer(weights, share).ravel()
        variance = np.add.outer(variance, sds**2).ravel()
    return Posterior(weights, np.zeros_like(weights), np.sqrt(2.0 * variance))


def _prior_nodes(prior: SpreadPrior) -> tuple[FloatArray, FloatArray]:
    """Return weights and spreads that stand for a prior, by the trapezoid rule on its score."""
    z = np.linspace(-6.0, 6.0, 25)
    weights = np.exp(-0.5 * z**2)
    return weights / weights.sum(), prior.sd_at(z)
