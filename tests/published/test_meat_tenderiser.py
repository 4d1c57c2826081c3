"""One judge's tenderness ratings of ten cuts of meat, each half under another tenderiser.

Data: W. Mendenhall et al., Introduction to Probability and Statistics, 15th ed., ch. 15, exercise
16, read at vaia.com (key MEND of our references), retyped here. Values: recorded in our references
as computed in R 4.2.2.
"""

import numpy as np
import pytest

from fairsmoke.judging.paired import paired_comparison
from fairsmoke.judging.randomisation import RandomAllocation, randomisation_test

TENDERISER_A = np.array([5, 6, 8, 4, 9, 3, 7, 8, 8, 9], dtype=float)
TENDERISER_B = np.array([7, 5, 9, 5, 9, 5, 6, 8, 9, 10], dtype=float)


def test_paired_t_and_sign_changes() -> None:
    paired = paired_comparison(TENDERISER_B - TENDERISER_A)
    assert paired.mean == pytest.approx(0.6, abs=1e-12)
    assert paired.t == pytest.approx(1.76505, abs=5e-6)
    assert paired.p == pytest.approx(0.11137, abs=5e-6)
    drawn = randomisation_test(
        np.column_stack([TENDERISER_A, TENDERISER_B]).ravel(),
        np.tile([0, 1], 10),
        RandomAllocation(np.repeat(np.arange(10), 2)),
    )
    # Two cuts without a difference make many ties.
    assert (drawn.count_two_sided, drawn.n_tried) == (192, 1024)
