"""Collagen shrinkage temperature of the two sides of 15 beef carcasses, one side stimulated.

Data: a textbook exercise read at wizedu.com/questions/110649 (key ESCOLL of our references),
retyped here. Values: recorded in our references as computed in R 4.2.2.
"""

import numpy as np
import pytest

from fairsmoke.judging.paired import paired_comparison
from fairsmoke.judging.randomisation import RandomAllocation, randomisation_test

STIMULATED_C = np.array(
    [69.5, 67, 70.75, 68.5, 66.75, 68.5, 69.5, 69, 66.75, 69, 69.5, 69, 70.5, 68, 69]
)
CONTROL_C = np.array(
    [70, 69, 69.5, 69.25, 67.75, 66.5, 68.75, 70, 66.75, 68.5, 69, 69.75, 70.25, 66.25, 68.25]
)


def test_paired_t() -> None:
    result = paired_comparison(STIMULATED_C - CONTROL_C)
    assert result.mean == pytest.approx(0.1166667, abs=5e-8)
    assert result.sd == pytest.approx(1.1175015, abs=5e-8)
    assert result.t == pytest.approx(0.404338, abs=5e-7)
    assert result.p == pytest.approx(0.69207, abs=5e-6)


def test_every_sign_change() -> None:
    result = randomisation_test(
        np.column_stack([CONTROL_C, STIMULATED_C]).ravel(),
        np.tile([0, 1], 15),
        RandomAllocation(np.repeat(np.arange(15), 2)),
    )
    assert (result.count_two_sided, result.n_tried) == (23960, 32768)


def test_sides_of_one_carcass_are_alike_by_the_published_correlation() -> None:
    # The correlation of the sides, .608, is recorded in our references as computed in R.
    assert np.corrcoef(STIMULATED_C, CONTROL_C)[0, 1] == pytest.approx(0.608, abs=5e-4)
