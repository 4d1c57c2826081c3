"""US Standard Atmosphere 1976.

22 632.1 Pa at 11 000 m: read. The rows between: from memory (ASHRAE Fundamentals,
Psychrometrics, table 1, in kPa).
"""

import pytest

from fairsmoke.physics import air


def test_pressure_at_the_top_of_the_troposphere() -> None:
    assert air.pressure_at_altitude_pa(11_000.0) == pytest.approx(22_632.1, rel=0.001)
    assert air.pressure_at_altitude_pa(0.0) == 101_325.0


@pytest.mark.parametrize(
    ("altitude_m", "kpa"),
    [(500, 95.461), (1000, 89.875), (1500, 84.556), (2000, 79.495), (3000, 70.108)],
)
def test_pressure_by_altitude(altitude_m: float, kpa: float) -> None:
    assert air.pressure_at_altitude_pa(altitude_m) / 1000 == pytest.approx(kpa, abs=0.0025)
