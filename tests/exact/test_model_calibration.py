"""Simulation-based calibration of the comparison model.

Exact fact checked: if truth and data are drawn from the prior, the place of the true difference in
its posterior is uniform on 0 to 1 (Cook, Gelman and Rubin 2006; Talts and others 2018; both from
memory). 1,000 trials over six layouts, fixed seed, Kolmogorov-Smirnov and chi-square at p > 0.001.
"""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from fairsmoke.judging.model import Comparison, ComparisonLayout, compare
from fairsmoke.judging.priors import Priors, SpreadPrior

Array = NDArray[np.float64]

GROUPS = {
    "cook": SpreadPrior.log_normal(1.5, 2.0),
    "parent": SpreadPrior.log_normal(2.0, 1.8),
    "position": SpreadPrior.half_normal(1.5),
}
PRIORS = Priors(60.0, 15.0, 6.0, SpreadPrior.log_normal(2.5, 1.6), GROUPS)

# Arm, factors, places of missing values, sd of the measurement error.
Trial = tuple[list[int], dict[str, list[int]], list[int], float]
LAYOUTS: list[Trial] = [
    ([0, 1], {}, [], 0.0),
    ([0, 1], {"position": [0, 1]}, [], 0.0),
    ([0, 1] * 3, {"cook": [0, 0, 1, 1, 2, 2]}, [], 0.0),
    ([0, 1, 1, 0, 0, 1], {"parent": [0, 0, 1, 1, 2, 2]}, [3], 0.0),
    ([0, 1, 2, 2, 0], {"position": [0, 1, 2, 0, 1]}, [], 1.5),
    ([0, 1] * 6, {"cook": [0] * 4 + [1] * 4 + [2] * 4}, [5, 6], 0.5),
]


def draw_spread(prior: SpreadPrior, rng: np.random.Generator) -> float:
    """Draw from a prior by its definition, not through the code under test."""
    if prior is GROUPS["position"]:
        return abs(float(rng.normal(scale=prior.size)))
    return float(rng.lognormal(np.log(prior.size), np.log(prior.factor)))


def simulate(trial: Trial, rng: np.random.Generator) -> tuple[Array, Array, float]:
    """Return the data, the true arm effects and the true piece-to-piece spread."""
    arm, factors, missing, measurement = trial
    n = len(arm)
    effects = rng.normal(scale=PRIORS.difference_sd / np.sqrt(2.0), size=max(arm) + 1)
    y = rng.normal(PRIORS.mu_mean, PRIORS.mu_sd) + effects[arm]
    for name, labels in factors.items():
        sd = draw_spread(GROUPS[name], rng)
        y = y + rng.normal(scale=sd, size=max(labels) + 1)[labels]
    piece_sd = draw_spread(PRIORS.piece, rng)
    y = y + rng.normal(scale=piece_sd, size=n) + measurement * rng.normal(size=n)
    y[missing] = np.nan
    return y, effects, piece_sd


def places(
    trials: list[Trial],
    count: int,
    seed: int,
    priors: Priors,
    place: Callable[[Comparison, Array, float], float],
) -> Array:
    rng = np.random.default_rng(seed)
    found = []
    for i in range(count):
        trial = trials[i % len(trials)]
        y, effects, piece_sd = simulate(trial, rng)
        arm, factors, _, measurement = trial
        layout = ComparisonLayout(
            np.array(arm),
            tuple("abc"[: max(arm) + 1]),
            {k: np.array(v) for k, v in factors.items()},
        )
        cov = np.eye(len(arm)) * measurement**2
        fitted = compare(y, layout, priors, measurement_cov=cov)
        found.append(place(fitted, effects, piece_sd))
    return np.array(found)


def place_of_difference(fitted: Comparison, effects: Array, _: float) -> float:
    return fitted.difference("a", "b").cdf(float(effects[0] - effects[1]))


def place_of_spread(fitted: Comparison, _: Array, piece_sd: float) -> float:
    return 1.0 - fitted.spread("piece").prob_greater(piece_sd)


def p_values(u: Array) -> tuple[float, float]:
    counts = np.histogram(u, bins=20, range=(0.0, 1.0))[0]
    return float(stats.kstest(u, "uniform").pvalue), float(stats.chisquare(counts).pvalue)


def test_difference_is_calibrated() -> None:
    u = places(LAYOUTS, 1000, 20, PRIORS, place_of_difference)
    assert min(p_values(u)) > 0.001


def test_one_pair_alone_is_calibrated() -> None:
    u = places(LAYOUTS[:2], 300, 21, PRIORS, place_of_difference)
    assert min(p_values(u)) > 0.001


def test_spread_is_calibrated() -> None:
    u = places(LAYOUTS[2:], 200, 22, PRIORS, place_of_spread)
    assert min(p_values(u)) > 0.001


@pytest.mark.parametrize(("place", "times"), [(place_of_difference, 0.3), (place_of_spread, 2.0)])
def test_check_can_fail(place: Callable[[Comparison, Array, float], float], times: float) -> None:
    """It goes red if the piece-to-piece spread is believed a third or twice as large as it is."""
    u = places(LAYOUTS[:2], 250, 23, PRIORS.with_piece_times(times), place)
    assert min(p_values(u)) < 0.001
