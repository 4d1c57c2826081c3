"""y = ln x with x anywhere from 0.1 to 1.1: National Physical Laboratory report DEM-ES-011, 9.2.

Results as carried by an open metrology package (key SUN of our references).
"""

import numpy as np
import pytest

from fairsmoke.weighing.uncertainty import rectangular, summarise


def test_the_shortest_interval_of_a_skew_result() -> None:
    law = rectangular(0.1, 1.1)
    result = summarise(np.log(law.rvs(1_000_000, random_state=np.random.default_rng(1))))
    assert result.mean == pytest.approx(-0.665, abs=0.002)
    assert result.standard_uncertainty == pytest.approx(0.606, abs=0.002)
    assert result.shortest_low == pytest.approx(-1.895, abs=0.005)
    assert result.shortest_high == pytest.approx(0.095, abs=0.001)
    assert result.low > result.shortest_low - 0.5
    assert result.low < result.shortest_low
