"""Exact p-values against scipy's permutation_test, for pairs and for an unrestricted draw."""

from typing import Literal

import numpy as np
import pytest
from scipy.stats import permutation_test

from fairsmoke.judging.randomisation import RandomAllocation, randomisation_test

Side = Literal["two-sided", "greater", "less"]
ALL = 100_000  # more than there are, so every layout is tried
SIDES: dict[Side, str] = {"two-sided": "p_two_sided", "greater": "p_greater", "less": "p_less"}


@pytest.mark.parametrize("side", sorted(SIDES))
def test_pairs(side: Side) -> None:
    first, second = np.random.default_rng(9).normal([[0.0], [0.6]], 1.0, (2, 9))
    theirs = permutation_test(
        (second - first,),
        np.mean,
        permutation_type="samples",
        alternative=side,
        n_resamples=ALL,
    )
    ours = randomisation_test(
        np.column_stack([first, second]).ravel(),
        np.tile([0, 1], 9),
        RandomAllocation(np.repeat(np.arange(9), 2)),
    )
    assert getattr(ours, SIDES[side]) == pytest.approx(theirs.pvalue, abs=1e-12)


def difference_of_means(a: np.ndarray, b: np.ndarray, axis: int) -> np.ndarray:
    return np.asarray(np.mean(a, axis=axis) - np.mean(b, axis=axis))


@pytest.mark.parametrize("side", ["greater", "less"])
def test_unrestricted_draw_of_unequal_arms(side: Side) -> None:
    # scipy doubles the smaller side where ours counts absolute values, so only the sides compare.
    rng = np.random.default_rng(10)
    first, second = rng.normal(0, 1, 7), rng.normal(0.8, 1, 4)
    theirs = permutation_test(
        (second, first),
        difference_of_means,
        alternative=side,
        vectorized=True,
        n_resamples=ALL,
    )
    ours = randomisation_test(
        np.concatenate([first, second]),
        np.repeat([0, 1], [7, 4]),
        RandomAllocation(np.zeros(11, int)),
    )
    assert getattr(ours, SIDES[side]) == pytest.approx(theirs.pvalue, abs=1e-12)
