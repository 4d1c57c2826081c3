"""Perry's Chemical Engineers' Handbook, 9th ed., table 2-135, saturated water (read)."""

import pytest

from fairsmoke.physics import air, water

# K, pressure in MPa as printed, viscosity of the liquid in µPa·s
SATURATED = [
    (280.0, 0.000992, 1433.7),
    (290.0, 0.001920, 1084.0),
    (300.0, 0.003537, 853.84),
    (310.0, 0.006231, 693.54),
    (320.0, 0.010546, 577.02),
    (330.0, 0.017213, 489.49),
    (340.0, 0.027188, 421.97),
    (350.0, 0.041682, 368.77),
    (360.0, 0.062194, 326.10),
    (370.0, 0.090535, 291.36),
    (380.0, 0.12885, 262.69),
    (390.0, 0.17964, 238.77),
]


@pytest.mark.parametrize(("kelvin", "mpa", "viscosity"), SATURATED)
def test_saturation_pressure_within_a_thousandth(
    kelvin: float, mpa: float, viscosity: float
) -> None:
    found = float(air.saturation_pressure_pa(kelvin - 273.15)) / 1e6
    assert found == pytest.approx(mpa, rel=0.001, abs=0.5e-6)
    assert air.boiling_point_c(mpa * 1e6) == pytest.approx(kelvin - 273.15, abs=0.03)


@pytest.mark.parametrize(("kelvin", "mpa", "viscosity"), SATURATED)
def test_viscosity_of_water_within_2_5_percent(kelvin: float, mpa: float, viscosity: float) -> None:
    found = float(water.water_viscosity_pa_s(kelvin - 273.15)) * 1e6
    assert found == pytest.approx(viscosity, rel=0.025)


def test_water_boils_at_99_97_c() -> None:
    # IAPWS: 99.974 °C at 101 325 Pa (from memory).
    assert air.boiling_point_c(101_325.0) == pytest.approx(99.974, abs=0.02)
