"""Ten rows whose block variance is estimated as zero.

Data and F ratios: read in the test file test_compare_sas.R of the package lmerTest 3.1-3, which
compares itself with SAS; the denominator df of 6 is recorded in our references as computed in R.
The interaction is the only effect whose test does not depend on the type of sums of squares.
"""

import numpy as np
import pytest

from fairsmoke.judging.reml import fit_reml
from fairsmoke.judging.small_sample_df import f_test


def test_interaction_with_a_variance_at_zero() -> None:
    a = np.array([1, 1, 1, 2, 2, 2, 2, 2, 1, 2]) == 2
    b = np.array([1, 1, 2, 1, 2, 2, 2, 2, 2, 1]) == 2
    block = np.tile([1, 2], 5)
    response = np.array([12, 14, 11, 20, 17, 23, 35, 46, 15, 16], dtype=float)
    fit = fit_reml(response, np.column_stack([np.ones(10), a, b, a & b]), {"block": block})
    assert fit.variances["block"] == 0.0
    assert fit.boundary == ("block",)
    result = f_test(fit, np.eye(4)[3], method="satterthwaite")
    assert result.f_ratio == pytest.approx(0.99565, abs=5e-6)
    assert result.df_denominator == pytest.approx(6, abs=1e-9)
