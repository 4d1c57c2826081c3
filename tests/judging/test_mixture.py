import numpy as np
import pytest
from scipy import stats

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.mixture import Posterior, SpreadPosterior

TWO = Posterior(np.array([0.3, 0.7]), np.array([-2.0, 1.0]), np.array([0.5, 1.5]))


def test_moments_and_chances_of_two_normals() -> None:
    """Source: the sums over scipy's normals."""
    assert TWO.mean == pytest.approx(0.3 * -2.0 + 0.7 * 1.0)
    second = 0.3 * (0.25 + 4.0) + 0.7 * (2.25 + 1.0)
    assert TWO.sd == pytest.approx(np.sqrt(second - TWO.mean**2))
    expected = 0.3 * stats.norm.cdf(0.4, -2.0, 0.5) + 0.7 * stats.norm.cdf(0.4, 1.0, 1.5)
    assert TWO.cdf(0.4) == pytest.approx(expected)
    assert TWO.prob_greater(0.4) == pytest.approx(1.0 - expected)


@pytest.mark.parametrize("p", [0.001, 0.025, 0.31, 0.5, 0.975])
def test_quantile_undoes_cdf(p: float) -> None:
    assert TWO.cdf(TWO.quantile(p)) == pytest.approx(p, abs=1e-8)


def test_density_is_the_slope_of_the_cdf() -> None:
    x = np.array([-2.5, 0.0, 3.0])
    slope = [(TWO.cdf(v + 1e-5) - TWO.cdf(v - 1e-5)) / 2e-5 for v in x]
    assert TWO.density(x) == pytest.approx(slope, rel=1e-6)


@pytest.mark.parametrize("bad", [0.0, 1.0, -0.1, float("nan")])
def test_levels_outside_are_refused(bad: float) -> None:
    with pytest.raises(ComparisonError):
        TWO.quantile(bad)
    with pytest.raises(ComparisonError):
        TWO.interval(bad)


def test_one_normal_has_its_own_interval() -> None:
    one = Posterior(np.ones(1), np.array([3.0]), np.array([2.0]))
    assert one.interval(0.95) == pytest.approx(stats.norm.interval(0.95, 3.0, 2.0))


def test_known_spread_has_no_width() -> None:
    known = SpreadPosterior(np.array([0.5, 0.5]), np.array([2.0, 2.0]))
    assert known.interval() == pytest.approx((2.0, 2.0))
    assert known.mean == 2.0
