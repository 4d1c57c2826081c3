"""Times that were only known to be longer than the test: locomotive controls, a censored example.

37 failures among 96 controls by 135 thousand miles (J. Borkowski, STAT 528 notes, Montana State
University, p. 270, with SAS output on p. 279: lognormal, mu 5.1169 and sigma 0.7055; data and
figures as kept in scipy's test of `lognorm.fit` for censored data).
"""

import numpy as np
import pytest
from scipy import stats

from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.model import compare
from fairsmoke.judging.priors import Priors, SpreadPrior

FAILED = [
    *(22.5, 37.5, 46.0, 48.5, 51.5, 53.0, 54.5, 57.5, 66.5, 68.0, 69.5, 76.5, 77.0, 78.5, 80.0),
    *(81.5, 82.0, 83.0, 84.0, 91.5, 93.5, 102.5, 107.0, 108.5, 112.5, 113.5, 116.0, 117.0),
    *(118.5, 119.0, 120.0, 122.5, 123.0, 127.5, 131.0, 132.5, 134.0),
]
MU, SIGMA = 5.1169, 0.7055


def log_density(mu: float, sigma: float) -> float:
    """The model's density of the data with level and spread given and no difference."""
    values = np.concatenate([np.log(FAILED), np.full(59, np.nan)])
    bounds = np.tile([-np.inf, np.inf], (96, 1))
    bounds[37:, 0] = np.log(135.0)
    layout = ComparisonLayout(np.arange(96) % 2, ("a", "b"))
    priors = Priors(mu, 1e-5, 1e-5, SpreadPrior.log_normal(sigma, 1.0))
    return compare(values, layout, priors, bounds=bounds).log_marginal


@pytest.mark.parametrize("direction", [(1.0, 0.0), (0.0, 1.0)])
def test_the_likelihood_is_highest_where_it_was_published_to_be(
    direction: tuple[float, float],
) -> None:
    """Three points about the printed estimate, in either direction, have their top there."""
    step = 0.01
    low, middle, high = (
        log_density(MU + times * direction[0], SIGMA + times * direction[1])
        for times in (-step, 0.0, step)
    )
    top = step * (low - high) / (2 * (high - 2 * middle + low))
    assert top == pytest.approx(0.0, abs=5e-4)


def test_the_likelihood_is_that_of_scipy() -> None:
    expected = stats.norm.logpdf(np.log(FAILED), MU, SIGMA).sum()
    expected += 59 * stats.norm.logsf(np.log(135.0), MU, SIGMA)
    assert log_density(MU, SIGMA) == pytest.approx(expected, abs=1e-4)
