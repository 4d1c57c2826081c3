"""y = ln x with x anywhere from 0.1 to 1.1: National Physical Laboratory report DEM-ES-011, 9.2.

Results as carried by an open metrology package (key SUN of our references).
"""

import numpy as np
import pytest

from fairsmoke.weighing.uncertainty import (
    FloatArray,
    monte_carlo,
    rectangular,
    sensitivities,
    summarise,
)


def test_the_shortest_interval_of_a_skew_result() -> None:
    def model(x: FloatArray) -> FloatArray:
        return np.asarray(np.log(x[0]))

    u = np.array([0.5 / np.sqrt(3)])
    slope = sensitivities(model, np.array([0.6]), u)
    assert np.log(0.6) == pytest.approx(-0.511, abs=5e-4)
    assert slope[0] * u[0] == pytest.approx(0.481, abs=5e-4)
    drawn = monte_carlo(model, [rectangular(0.1, 1.1)], 1_000_000, np.random.default_rng(1))
    result = summarise(drawn)
    assert result.mean == pytest.approx(-0.665, abs=0.002)
    assert result.standard_uncertainty == pytest.approx(0.606, abs=0.002)
    assert result.shortest_low == pytest.approx(-1.895, abs=0.005)
    assert result.shortest_high == pytest.approx(0.095, abs=0.001)
    assert result.low > result.shortest_low - 0.5
    assert result.low < result.shortest_low
