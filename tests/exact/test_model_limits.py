"""The comparison model where its answer is known in closed form."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from fairsmoke.judging.mixture import RatioPosterior
from fairsmoke.judging.model import ComparisonLayout, compare
from fairsmoke.judging.priors import Priors, SpreadPrior

TAU, SIGMA = 5.0, 2.5

# Fisher, The Design of Experiments (1935), sections 17 and 21: Darwin's maize, differences in
# inches of 15 pairs, crossed less self-fertilised (references/stats.md section 5.1).
MAIZE = np.array([6.125, -8.375, 1, 2, 0.75, 2.875, 3.5, 5.125, 1.75, 3.625, 7, 3, 9.375, 7.5, -6])


def pinned(sd: float, factor: float) -> SpreadPrior:
    return SpreadPrior.log_normal(sd, factor)


@pytest.mark.parametrize("factor", [1.0, 1.0001])
@pytest.mark.parametrize("pairs", [1, 2, 7])
def test_known_spreads_give_the_normal_normal_answer(pairs: int, factor: float) -> None:
    """Pairs within cooks: what a cook adds cancels, so the difference has the textbook posterior.

    Source: conjugate normal mean with known variance (Gelman et al., Bayesian Data Analysis,
    section 2.5, from memory), data = mean difference of the pairs with variance 2 sigma^2 / n.
    """
    rng = np.random.default_rng(11)
    y = 60.0 + rng.normal(scale=4.0, size=2 * pairs)
    layout = ComparisonLayout(
        np.tile([0, 1], pairs), ("paper", "bare"), {"cook": np.repeat(np.arange(pairs), 2)}
    )
    priors = Priors(60.0, 10.0, TAU, pinned(SIGMA, factor), {"cook": pinned(3.0, factor)})
    own = compare(y, layout, priors).difference("paper", "bare")
    noise = 2.0 * SIGMA**2 / pairs
    shrink = TAU**2 / (TAU**2 + noise)
    assert own.mean == pytest.approx(shrink * np.mean(y[::2] - y[1::2]), rel=2e-4)
    assert own.sd == pytest.approx(np.sqrt(shrink * noise), rel=2e-4)
    low, high = own.interval(0.9)
    assert high - low == pytest.approx(2.0 * 1.6448536 * np.sqrt(shrink * noise), rel=2e-4)


def test_position_of_its_own_widens_one_pair() -> None:
    """Position confounded with arm: its two levels add 2 sd^2 to the noise of the difference."""
    y, place = np.array([61.0, 55.0]), np.array([0, 1])
    priors = Priors(60.0, 10.0, TAU, pinned(SIGMA, 1.0), {"position": pinned(2.0, 1.0)})
    own = compare(y, ComparisonLayout(place, ("a", "b"), {"position": place}), priors).difference(
        "a", "b"
    )
    noise = 2.0 * SIGMA**2 + 2.0 * 2.0**2
    shrink = TAU**2 / (TAU**2 + noise)
    assert own.mean == pytest.approx(6.0 * shrink, rel=1e-9)
    assert own.sd == pytest.approx(np.sqrt(shrink * noise), rel=1e-9)


def test_measurement_error_adds_to_the_noise_and_what_is_shared_cancels() -> None:
    y = np.array([61.0, 55.0])
    layout = ComparisonLayout(np.array([0, 1]), ("a", "b"))
    priors = Priors(60.0, 10.0, TAU, pinned(SIGMA, 1.0))
    cov = np.array([[0.9, 0.5], [0.5, 1.1]])
    own = compare(y, layout, priors, measurement_cov=cov).difference("a", "b")
    noise = 2.0 * SIGMA**2 + 0.9 + 1.1 - 2.0 * 0.5
    assert own.sd == pytest.approx(np.sqrt(TAU**2 * noise / (TAU**2 + noise)), rel=1e-3)


def test_log_marginal_is_the_normal_density_of_the_data() -> None:
    y = np.array([61.0, 55.0, 63.0, 58.5])
    cook = np.array([0, 0, 1, 1])
    layout = ComparisonLayout(np.array([0, 1, 0, 1]), ("a", "b"), {"cook": cook})
    priors = Priors(60.0, 10.0, TAU, pinned(SIGMA, 1.0), {"cook": pinned(3.0, 1.0)})
    arm = np.array([0, 1, 0, 1])
    v = 100.0 + TAU**2 / 2 * (arm[:, None] == arm) + 9.0 * (cook[:, None] == cook)
    expected = stats.multivariate_normal(np.full(4, 60.0), v + SIGMA**2 * np.eye(4)).logpdf(y)
    assert compare(y, layout, priors).log_marginal == pytest.approx(expected, abs=1e-9)


def maize_layout() -> tuple[np.ndarray, ComparisonLayout, Priors]:
    pairs = len(MAIZE)
    y = np.zeros(2 * pairs)
    y[::2] = MAIZE
    layout = ComparisonLayout(
        np.tile([0, 1], pairs), ("crossed", "selfed"), {"pair": np.repeat(np.arange(pairs), 2)}
    )
    # Flat: the spread of pieces over some hundredfold either way, pairs free to lie anywhere.
    priors = Priors(0.0, 1e5, 1e4, SpreadPrior.log_normal(3.0, 100.0), {"pair": pinned(1e4, 1.0)})
    return y, layout, priors


def test_flat_priors_give_students_t_on_darwins_maize() -> None:
    """P(delta > 0) = .9751485 and P(|delta| < 1) = .0977770 under flat priors (t, 14 df), and the
    95 % interval .0038991648 to 5.2294341685: references/stats.md sections 6.3 and 5.1.

    Tolerance: the flat prior is a limit; 0.0005 in probability, 0.5 % of the sd in the interval.
    """
    y, layout, priors = maize_layout()
    own = compare(y, layout, priors).difference("crossed", "selfed")
    assert own.prob_greater(0.0) == pytest.approx(0.9751485, abs=5e-4)
    assert own.cdf(1.0) - own.cdf(-1.0) == pytest.approx(0.0977770, abs=5e-4)
    low, high = own.interval(0.95)
    assert low == pytest.approx(0.0038991648, abs=0.005 * own.sd)
    assert high == pytest.approx(5.2294341685, abs=0.005 * own.sd)


def test_next_pair_of_darwins_maize() -> None:
    """P(next pair > 0) = .7001496 under flat priors: references/stats.md section 6.3."""
    y, layout, priors = maize_layout()
    found = compare(y, layout, priors)
    new = found.predictive_difference("crossed", "selfed", shared=("pair",))
    assert new.prob_greater(0.0) == pytest.approx(0.7001496, abs=5e-4)


def test_the_limit_is_not_reached_with_an_informative_prior() -> None:
    """The check above can fail: a prior that knows the spread to be small is far off."""
    y, layout, priors = maize_layout()
    sure = replace(priors, piece=SpreadPrior.log_normal(1.0, 1.2))
    own = compare(y, layout, sure).difference("crossed", "selfed")
    assert abs(own.prob_greater(0.0) - 0.9751485) > 5e-4


def test_many_pairs_approach_the_t_interval() -> None:
    """Source: the paired t interval of scipy; 30 pairs, default-like priors in points."""
    rng = np.random.default_rng(5)
    pairs = 30
    cook = rng.normal(scale=3.0, size=pairs)
    y = np.column_stack([62.0 + cook, 59.0 + cook]) + rng.normal(scale=2.0, size=(pairs, 2))
    layout = ComparisonLayout(
        np.tile([0, 1], pairs), ("a", "b"), {"cook": np.repeat(np.arange(pairs), 2)}
    )
    priors = Priors(60.0, 20.0, 50.0, SpreadPrior.log_normal(2.0, 3.0), {"cook": pinned(3.0, 3.0)})
    own = compare(y.ravel(), layout, priors).difference("a", "b")
    t = stats.ttest_1samp(y[:, 0] - y[:, 1], 0.0).confidence_interval(0.95)
    width = float(t.high - t.low)
    assert own.interval(0.95) == pytest.approx((t.low, t.high), abs=0.02 * width)


def test_ratio_limits_are_fiellers() -> None:
    """Fieller (1954, from memory): the limits solve (top - r bottom)^2 = z^2 variance(r)."""
    top, bottom, c = 57.0, 61.0, np.array([[4.0, 1.0], [1.0, 3.0]])
    ratio = RatioPosterior(np.ones(1), np.array([[top, bottom]]), c[None])
    z2 = stats.norm.ppf(0.975) ** 2
    quadratic = [
        bottom**2 - z2 * c[1, 1],
        -2.0 * (top * bottom - z2 * c[0, 1]),
        top**2 - z2 * c[0, 0],
    ]
    expected = sorted(np.roots(quadratic).real)
    assert ratio.interval(0.95) == pytest.approx(tuple(expected), rel=1e-9)
    assert ratio.median == pytest.approx(top / bottom, rel=1e-9)
