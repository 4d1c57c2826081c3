"""Pieces that never reached the mark, against brute force in other code and parametrisation.

The density of a difference is summed on a grid: the observed values are multivariate normal, and
the censored ones have the probability, from scipy's multivariate normal distribution function, of
lying beyond their bounds given the observed ones.
"""

import numpy as np
import pytest
from scipy import stats

from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.model import compare
from fairsmoke.judging.priors import Priors, SpreadPrior

ARM = np.array([0, 1, 0, 1, 0, 1])
COOK = np.repeat([0, 1, 2], 2)
LAYOUT = ComparisonLayout(ARM, ("bare", "paper"), {"cook": COOK})
PRIORS = Priors(
    10.0,
    0.5,
    0.30,
    SpreadPrior.log_normal(0.10, 1.8),
    {"cook": SpreadPrior.log_normal(0.08, 1.0)},
)
Y = np.array([10.30, 10.05, np.nan, 10.10, np.nan, 10.15])
BOUNDS = np.array(
    [[-np.inf, np.inf]] * 2
    + [[10.42, np.inf], [-np.inf, np.inf], [10.35, np.inf], [-np.inf, np.inf]]
)


def brute(y: np.ndarray, low: np.ndarray, deltas: np.ndarray) -> tuple[np.ndarray, float]:
    """Return the posterior of bare less paper on a grid, and the log density of the data."""
    scores = np.linspace(-4.0, 4.0, 17)
    spreads, weights = 0.10 * 1.8**scores, stats.norm.pdf(scores) * (scores[1] - scores[0])
    seen = ~np.isnan(y)
    found = np.zeros(len(deltas))
    # Levels are mu +- delta / 2 with var(mu) = mu_sd^2 + difference_sd^2 / 4.
    common = 0.5**2 + 0.30**2 / 4 + 0.08**2 * (COOK[:, None] == COOK)
    for spread, weight in zip(spreads, weights, strict=True):
        cov = common + spread**2 * np.eye(len(y))
        gain = cov[np.ix_(~seen, seen)] @ np.linalg.inv(cov[np.ix_(seen, seen)])
        rest = cov[np.ix_(~seen, ~seen)] - gain @ cov[np.ix_(seen, ~seen)]
        for at, delta in enumerate(deltas):
            mean = 10.0 + delta * np.where(ARM == 0, 0.5, -0.5)
            density = stats.multivariate_normal(mean[seen], cov[np.ix_(seen, seen)]).pdf(y[seen])
            short = mean[~seen] + gain @ (y[seen] - mean[seen]) - low[~seen]
            beyond = stats.multivariate_normal(np.zeros(len(short)), rest).cdf(short)
            found[at] += weight * density * beyond
    found *= stats.norm.pdf(deltas, 0.0, 0.30)
    total = float(found.sum() * (deltas[1] - deltas[0]))
    return found / found.sum(), float(np.log(total))


@pytest.mark.parametrize("censored", [[2], [2, 4]])
def test_censored_pieces_by_brute_force(censored: list[int]) -> None:
    y = Y.copy()
    if 4 not in censored:
        y[4] = 10.36
    deltas = np.linspace(-0.5, 1.2, 41)
    density, log_total = brute(y, BOUNDS[:, 0], deltas)
    found = compare(y, LAYOUT, PRIORS, bounds=BOUNDS)
    d = found.difference("bare", "paper")
    assert d.mean == pytest.approx(float(density @ deltas), abs=0.003)
    assert d.prob_greater(0.15) == pytest.approx(float(density[deltas > 0.15].sum()), abs=0.03)
    assert found.log_marginal == pytest.approx(log_total, abs=0.02)
    assert found.used.all()


def test_a_bound_says_more_than_nothing_and_less_than_a_value() -> None:
    """Dropping the slow pieces would favour the arm that held them back."""
    bounded = compare(Y, LAYOUT, PRIORS, bounds=BOUNDS).difference("bare", "paper")
    dropped = compare(Y, LAYOUT, PRIORS).difference("bare", "paper")
    exact = compare(np.where(np.isnan(Y), BOUNDS[:, 0], Y), LAYOUT, PRIORS).difference(
        "bare", "paper"
    )
    assert bounded.mean > exact.mean > 0.0
    assert bounded.mean > dropped.mean
    assert exact.sd < bounded.sd < dropped.sd


def test_a_value_between_two_near_bounds_is_that_value() -> None:
    """Both sides closed: the answer goes to that of the value itself."""
    exact = np.where(np.isnan(Y), 10.4, Y)
    near = np.where(np.isnan(Y)[:, None], [10.4 - 1e-4, 10.4 + 1e-4], BOUNDS)
    one = compare(Y, LAYOUT, PRIORS, bounds=near).difference("bare", "paper")
    other = compare(exact, LAYOUT, PRIORS).difference("bare", "paper")
    assert (one.mean, one.sd) == pytest.approx((other.mean, other.sd), rel=1e-3)


@pytest.mark.parametrize(
    ("values", "bounds", "match"),
    [
        (np.full(6, np.nan), np.tile([1.0, np.inf], (6, 1)), "bounds alone"),
        (Y, np.tile([10.5, 10.4], (6, 1)), "below its upper"),
        (Y, np.full((6, 2), np.nan), "two bounds"),
    ],
)
def test_bounds_that_say_nothing_are_refused(
    values: np.ndarray, bounds: np.ndarray, match: str
) -> None:
    with pytest.raises(ComparisonError, match=match):
        compare(values, LAYOUT, PRIORS, bounds=bounds)
