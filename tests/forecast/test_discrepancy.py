"""The discrepancy process against the normal's own rules, and the baselines by hand."""

import math

import numpy as np
import pytest
from scipy import stats

from fairsmoke.forecast.baselines import (
    exponential_to_pit,
    line_through_last_hour,
    mean_of_like_cooks,
)
from fairsmoke.forecast.discrepancy import Discrepancy

OWN = Discrepancy(sd_k=2.0, time_s=3600.0, noise_k=0.5)


def test_one_reading_is_the_textbook_regression() -> None:
    """Two normals with correlation ρ (any textbook): mean ρ(σ₂/σ₁)x, variance σ₂²(1 − ρ²)."""
    times, later = np.array([0.0]), np.array([1800.0])
    drawn = OWN.run_on(times, np.full((20_000, 1), 3.0), later, np.random.default_rng(1))
    seen_variance = 2.0**2 + 0.5**2
    across = 2.0**2 * math.exp(-0.5)
    assert np.mean(drawn) == pytest.approx(3.0 * across / seen_variance, abs=0.05)
    assert np.var(drawn) == pytest.approx(4.0 - across**2 / seen_variance, rel=0.03)


def test_later_draws_have_the_conditional_distribution_of_the_joint_normal() -> None:
    times, later = np.array([0.0, 600.0, 3000.0]), np.array([3600.0, 9000.0])
    seen = np.array([1.0, -0.5, 2.0])
    joint = OWN.covariance(np.r_[times, later], np.r_[times, later])
    joint[:3, :3] += 0.25 * np.eye(3)
    gain = joint[3:, :3] @ np.linalg.inv(joint[:3, :3])
    drawn = OWN.run_on(times, np.tile(seen, (20_000, 1)), later, np.random.default_rng(2))
    assert drawn.mean(axis=0) == pytest.approx(gain @ seen, abs=0.06)
    left = joint[3:, 3:] - gain @ joint[:3, 3:]
    assert np.cov(drawn.T) == pytest.approx(left, abs=0.12)


def test_without_readings_it_is_the_process_itself() -> None:
    later = np.array([0.0, 3600.0])
    drawn = OWN.run_on(np.zeros(0), np.zeros((20_000, 0)), later, np.random.default_rng(3))
    assert np.std(drawn, axis=0) == pytest.approx([2.0, 2.0], rel=0.03)
    assert stats.pearsonr(drawn[:, 0], drawn[:, 1]).statistic == pytest.approx(
        math.exp(-1.0), abs=0.03
    )


def test_the_line_goes_on_as_it_went() -> None:
    times = np.arange(0.0, 7200.0, 600.0)
    core = 20.0 + 10.0 * times / 3600.0
    assert line_through_last_hour(times, core, 60.0) == pytest.approx(
        4 * 3600.0 - times[-1], rel=1e-9
    )
    assert line_through_last_hour(times, np.full(times.size, 70.0), 90.0) == math.inf


def test_an_exponential_approach_is_found_again() -> None:
    times = np.arange(0.0, 4 * 3600.0, 900.0)
    core = 110.0 - 105.0 * np.exp(-times / 9000.0)
    left = 9000.0 * math.log(105.0 / 20.0) - times[-1]
    assert exponential_to_pit(times, core, 110.0, 90.0) == pytest.approx(left, rel=1e-4)
    assert exponential_to_pit(times, core, 85.0, 90.0) == math.inf


def test_like_cooks_are_their_mean_less_the_time_gone() -> None:
    assert mean_of_like_cooks(3600.0, [7200.0, 10_800.0]) == 5400.0
    assert mean_of_like_cooks(20_000.0, [7200.0]) == 0.0
    assert mean_of_like_cooks(0.0, []) == math.inf
