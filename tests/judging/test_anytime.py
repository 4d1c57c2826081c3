"""The test that may be looked at after every pair."""

import numpy as np
import pytest

from fairsmoke.judging.anytime import e_values


@pytest.mark.parametrize("times", [1.0, 2.0])
@pytest.mark.parametrize("shape", ["normal", "one odd pair in ten"])
def test_looks_after_each_of_30_pairs_err_in_at_most_5_per_cent(times: float, shape: str) -> None:
    """10,000 trials without any difference; Ville's inequality is the outside fact."""
    rng = np.random.default_rng(30)
    d = times * rng.normal(size=(10_000, 30))
    if shape != "normal":
        d = d + (rng.random(d.shape) < 0.1) * rng.choice([-5.0, 5.0], d.shape)
    ever = (e_values(d, 1.0) >= 20.0).any(axis=1).mean()
    assert 0.005 < ever <= 0.05


def test_a_clear_difference_is_found() -> None:
    rng = np.random.default_rng(31)
    d = 2.0 + rng.normal(size=(2000, 12))
    assert (e_values(d, 1.0)[:, -1] >= 20.0).mean() > 0.8


def test_by_hand_with_one_pair() -> None:
    """Mean over bets of 2 / (1 + exp(-2 b d)); both signs of one bet add to 2, so it is 1."""
    assert e_values([0.7], 1.0) == pytest.approx([1.0])
