"""A crossover in which a treatment may still act in the next period: what it leaves is taken out.

Data: W. G. Cochran and G. M. Cox, Experimental Designs, 2nd ed., 1957, p. 133: three ways of
feeding six cows in two Latin squares, milk; read as reprinted in a manual's example of carry-over.
Sums of squares: the book's analysis of variance, to the digits that I remember (from memory).
"""

import numpy as np
import pytest
from tests.published.test_yates_oats import sums_to_zero

from fairsmoke.judging.reml import fit_reml
from fairsmoke.judging.small_sample_df import f_test

COWS = [
    ("ABC", (38, 25, 15)), ("BCA", (109, 86, 39)), ("CAB", (124, 72, 27)),
    ("ACB", (86, 76, 46)), ("BAC", (75, 35, 34)), ("CBA", (101, 63, 1)),
]  # fmt: skip


def test_direct_and_carried_over_effects_each_freed_of_the_other() -> None:
    y = np.array([milk for _, row in COWS for milk in row], dtype=float)
    cow = np.repeat(np.arange(6), 3)
    period = np.array([3 * (at // 3) + n for at in range(6) for n in range(3)])
    given = np.array([fed for order, _ in COWS for fed in order])
    # Nothing was fed before the first period, so that nothing is carried into it.
    before = np.array([fed for order, _ in COWS for fed in "-" + order[:2]])
    direct, left = sums_to_zero(given), np.zeros((18, 2))
    left[before != "-"] = sums_to_zero(before[before != "-"])
    ones = (cow[:, None] == np.arange(6)) * 1.0
    # Each square has three periods of its own, of which two are free beside the cows.
    times = (period[:, None] == np.array([1, 2, 4, 5])) * 1.0
    fixed = np.column_stack([ones, times, direct, left])
    fit = fit_reml(y, fixed, {})
    rows = np.eye(fixed.shape[1])
    carried, treated = f_test(fit, rows[-2:]), f_test(fit, rows[-4:-2])
    assert treated.df_denominator == pytest.approx(4)
    assert 4 * fit.residual_variance == pytest.approx(199.2, abs=0.051)
    assert 2 * carried.f_ratio * fit.residual_variance == pytest.approx(616.2, abs=0.05)
    assert 2 * treated.f_ratio * fit.residual_variance == pytest.approx(2854.6, abs=0.051)
    # Not freed of what was carried over, the treatments' sum of squares is another.
    plain = fit_reml(y, fixed[:, :-2], {})
    unfreed = f_test(plain, np.eye(12)[-2:])
    assert 2 * unfreed.f_ratio * plain.residual_variance == pytest.approx(2276.8, abs=0.05)
