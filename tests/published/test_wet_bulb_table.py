"""Wet-bulb tables computed by the maker of the shared references (physics.md 4.2 and 4.3).

Adiabatic saturation with Hyland & Wexler at 101.325 kPa, and a fully wet surface with radiation
from walls at air temperature (emissivity 0.9, molar Stefan form, Lewis factor 0.91, no lessening
of the heat by blowing). An independent evaluation of the same physics, to its printed digits.
"""

import pytest
from scipy.optimize import brentq

from fairsmoke.physics import air, air_transport, surface

PRESSURE = 101_325.0
RATIOS = (0.005, 0.01, 0.02, 0.04, 0.08, 0.15, 0.30)
TABLE = {
    93: (31.9, 34.2, 38.1, 44.2, 52.5, 61.6, 72.0),
    107: (34.5, 36.5, 40.0, 45.7, 53.6, 62.3, 72.4),
    121: (36.7, 38.6, 41.8, 47.1, 54.6, 63.0, 72.9),
    135: (38.8, 40.5, 43.5, 48.5, 55.6, 63.7, 73.3),
    163: (42.4, 43.8, 46.5, 50.9, 57.4, 65.0, 74.1),
}


@pytest.mark.parametrize("dry_bulb", TABLE)
def test_wet_bulb_of_pit_air(dry_bulb: int) -> None:
    assert air.wet_bulb_c(float(dry_bulb), RATIOS, PRESSURE) == pytest.approx(
        TABLE[dry_bulb], abs=0.051
    )


WET_SURFACE = [
    # air °C, humidity ratio, convection W/(m²·K), surface °C, kg/(m²·h)
    (107, 0.01, 5, 48.1, 1.23),
    (107, 0.01, 10, 43.1, 1.79),
    (107, 0.01, 25, 39.1, 3.41),
    (107, 0.03, 5, 51.8, 1.17),
    (107, 0.03, 10, 47.9, 1.68),
    (107, 0.03, 25, 44.9, 3.15),
    (107, 0.08, 5, 58.9, 1.05),
    (107, 0.08, 10, 56.4, 1.48),
    (107, 0.08, 25, 54.6, 2.71),
    (121, 0.03, 5, 54.9, 1.48),
    (121, 0.03, 10, 50.4, 2.08),
    (121, 0.03, 25, 46.9, 3.84),
    (135, 0.03, 5, 57.9, 1.81),
    (135, 0.03, 10, 52.8, 2.52),
    (135, 0.03, 25, 48.8, 4.56),
]


@pytest.mark.parametrize("row", WET_SURFACE)
def test_wet_surface_with_radiation(row: tuple[float, ...]) -> None:
    air_c, ratio, h, printed_c, printed_kg_m2h = row
    vapour = air.vapour_pressure_pa(ratio, PRESSURE)

    def rate(surface_c: float) -> float:
        wet = air.saturation_pressure_pa(surface_c)
        return float(surface.evaporation_kg_m2s(h, wet, vapour, PRESSURE, 0.91))

    def unbalanced(surface_c: float) -> float:
        heat = float(surface.convective_heat_w_m2(h, air_c, surface_c))
        heat += float(surface.radiative_heat_w_m2(air_c, surface_c, 0.9))
        return heat - rate(surface_c) * float(air.latent_heat_j_kg(surface_c))

    settled = float(brentq(unbalanced, 5.0, 95.0))
    assert settled == pytest.approx(printed_c, abs=0.2)
    assert rate(settled) * 3600 == pytest.approx(printed_kg_m2h, abs=0.012)


def test_strength_of_vapour_transfer() -> None:
    # h_c = 10 W/(m²·K), film at 350 K, Lewis factor 0.91: 6.7e-8 kg/(m²·s·Pa).
    film_c = 350.0 - 273.15
    density = air.density_kg_m3(film_c, 0.0, PRESSURE)
    speed = surface.mass_coefficient_m_s(10.0, density, 1006.0, 0.91)
    assert speed / (461.52 * 350.0) == pytest.approx(6.7e-8, abs=0.05e-8)


def test_lewis_number_of_air() -> None:
    # About 0.87 for water vapour in air near room temperature (from memory).
    assert air_transport.lewis_number(25.0, 0.0, PRESSURE) == pytest.approx(0.87, abs=0.02)


def test_radiation_coefficient_between_100_and_130_c() -> None:
    # h_r ≈ 4·ε·σ·T³ ≈ 8 to 11 W/(m²·K) (standard, from memory).
    found = surface.radiation_coefficient_w_m2k([100.0, 130.0], 60.0)
    assert ((found > 8.0) & (found < 11.0)).all()
