"""Moist air against psychrolib and CoolProp.

psychrolib 2.5 holds the handbook's perfect-gas relations, as physics/air.py does: 0.1 %.
CoolProp's HumidAirProp treats air and vapour as real gases: the difference is the price of the
perfect-gas relations, bounded here.
"""

import numpy as np
import psychrolib  # type: ignore[import-untyped, unused-ignore]
import pytest
from CoolProp import CoolProp
from scipy.optimize import brentq

from fairsmoke.physics import air, air_transport, surface

psychrolib.SetUnitSystem(psychrolib.SI)

DRY_BULBS = (60.0, 93.0, 107.0, 121.0, 135.0, 150.0)
RATIOS = (0.005, 0.01, 0.03, 0.08, 0.15)
PRESSURES = (70_108.0, 89_875.0, 101_325.0)
STATES = [(t, w, p) for t in DRY_BULBS for w in RATIOS for p in PRESSURES]
# psychrolib finds wet bulbs and dew points by halving to 0.001 K.
HALVING_K = 0.0011


def halving_works(temp: float, ratio: float, pressure: float) -> bool:
    """Return whether psychrolib's search for the wet bulb is valid: its answer gives the ratio.

    Above the boiling point its trial values can be pure steam, which sends the search astray to
    the dry bulb; its relation from wet bulb to ratio holds all the same.
    """
    theirs = psychrolib.GetTWetBulbFromHumRatio(temp, ratio, pressure)
    back = psychrolib.GetHumRatioFromTWetBulb(temp, theirs, pressure)
    return bool(abs(back - ratio) < 0.001 * ratio)


def test_psychrolib_finds_most_wet_bulbs() -> None:
    assert sum(halving_works(*state) for state in STATES) > 0.6 * len(STATES)


@pytest.mark.parametrize("temp", [-20.0, -5.0, 0.0, 20.0, 60.0, 99.0, 121.0, 150.0, 199.0])
def test_saturation_pressure(temp: float) -> None:
    expected = psychrolib.GetSatVapPres(temp)
    assert air.saturation_pressure_pa(temp) == pytest.approx(expected, rel=0.001)
    if temp >= 0:
        steam = CoolProp.PropsSI("P", "T", max(temp, 0.01) + 273.15, "Q", 1, "Water")
        assert air.saturation_pressure_pa(temp) == pytest.approx(steam, rel=0.001)


@pytest.mark.parametrize(("temp", "ratio", "pressure"), STATES)
def test_states_within_a_thousandth(temp: float, ratio: float, pressure: float) -> None:
    vapour = psychrolib.GetVapPresFromHumRatio(ratio, pressure)
    assert air.vapour_pressure_pa(ratio, pressure) == pytest.approx(vapour, rel=0.001)
    assert air.humidity_ratio(vapour, pressure) == pytest.approx(ratio, rel=0.001)
    relative = psychrolib.GetRelHumFromHumRatio(temp, ratio, pressure)
    assert air.relative_humidity(temp, ratio, pressure) == pytest.approx(relative, rel=0.001)
    from_relative = air.humidity_ratio_from_relative(temp, relative, pressure)
    assert from_relative == pytest.approx(ratio, rel=0.001)
    enthalpy = psychrolib.GetMoistAirEnthalpy(temp, ratio)
    assert air.enthalpy_j_kg(temp, ratio) == pytest.approx(enthalpy, rel=0.001)
    density = psychrolib.GetMoistAirDensity(temp, ratio, pressure)
    assert air.density_kg_m3(temp, ratio, pressure) == pytest.approx(density, rel=0.001)


@pytest.mark.parametrize(("temp", "ratio", "pressure"), STATES)
def test_wet_bulb_and_dew_point(temp: float, ratio: float, pressure: float) -> None:
    wet = float(air.wet_bulb_c(temp, ratio, pressure))
    back = psychrolib.GetHumRatioFromTWetBulb(temp, wet, pressure)
    assert back == pytest.approx(ratio, rel=0.001)
    assert air.humidity_ratio_from_wet_bulb(temp, wet, pressure) == pytest.approx(back, rel=0.001)
    if halving_works(temp, ratio, pressure):
        theirs = psychrolib.GetTWetBulbFromHumRatio(temp, ratio, pressure)
        assert wet == pytest.approx(theirs, abs=HALVING_K)
    dew = psychrolib.GetTDewPointFromHumRatio(temp, ratio, pressure)
    assert air.dew_point_c(ratio, pressure) == pytest.approx(dew, abs=HALVING_K)


@pytest.mark.parametrize("altitude", [-400.0, 0.0, 1609.0, 3000.0, 8000.0])
def test_pressure_at_altitude(altitude: float) -> None:
    expected = psychrolib.GetStandardAtmPressure(altitude)
    assert air.pressure_at_altitude_pa(altitude) == pytest.approx(expected, rel=0.001)


@pytest.mark.parametrize("pressure", [61_640.0, 79_495.0, 101_325.0, 110_000.0])
def test_boiling_point(pressure: float) -> None:
    expected = CoolProp.PropsSI("T", "P", pressure, "Q", 0, "Water") - 273.15
    assert air.boiling_point_c(pressure) == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize("ratio", RATIOS)
@pytest.mark.parametrize("temp", DRY_BULBS)
def test_real_gas_differs_little(temp: float, ratio: float) -> None:
    kelvin, pressure = temp + 273.15, 101_325.0

    def real(name: str) -> float:
        return float(CoolProp.HAPropsSI(name, "T", kelvin, "W", ratio, "P", pressure))

    assert air.wet_bulb_c(temp, ratio, pressure) == pytest.approx(real("B") - 273.15, abs=0.35)
    assert air.dew_point_c(ratio, pressure) == pytest.approx(real("D") - 273.15, abs=0.15)
    assert air.density_kg_m3(temp, ratio, pressure) == pytest.approx(
        (1 + ratio) / real("V"), rel=0.002
    )
    assert air.enthalpy_j_kg(temp, ratio) == pytest.approx(real("H"), rel=0.01)


@pytest.mark.parametrize("temp", [0.0, 50.0, 95.0, 121.0, 150.0, 200.0])
def test_latent_heat(temp: float) -> None:
    kelvin = max(temp, 0.01) + 273.15
    steam, liquid = (CoolProp.PropsSI("H", "T", kelvin, "Q", q, "Water") for q in (1, 0))
    assert air.latent_heat_j_kg(temp) == pytest.approx(steam - liquid, rel=0.0003)


def test_fits_to_steam_made_again() -> None:
    temp = np.linspace(0.01, 200.0, 201)
    latent = [
        CoolProp.PropsSI("H", "T", t + 273.15, "Q", 1, "Water")
        - CoolProp.PropsSI("H", "T", t + 273.15, "Q", 0, "Water")
        for t in temp
    ]
    assert np.polyfit(temp, latent, 3)[::-1] == pytest.approx(air.LATENT_CUBIC, rel=0.002)
    thin = np.linspace(1.0, 200.0, 100)
    for name, coefficients in (
        ("V", air_transport.VAPOUR_VISCOSITY),
        ("L", air_transport.VAPOUR_CONDUCTIVITY),
    ):
        values = [CoolProp.PropsSI(name, "T", t + 273.15, "P", 300.0, "Water") for t in thin]
        assert np.polyfit(thin, values, 2)[::-1] == pytest.approx(coefficients, rel=0.002)


@pytest.mark.parametrize("temp", [0.0, 25.0, 60.0, 107.0, 150.0, 195.0])
def test_transport_of_dry_air(temp: float) -> None:
    dry = (temp + 273.15, "P", 101_325.0, "Air")
    viscosity = CoolProp.PropsSI("V", "T", *dry)
    conductivity = CoolProp.PropsSI("L", "T", *dry)
    assert air_transport.viscosity_pa_s(temp, 0.0) == pytest.approx(viscosity, rel=0.013)
    assert air_transport.conductivity_w_mk(temp, 0.0) == pytest.approx(conductivity, rel=0.013)


@pytest.mark.parametrize("ratio", [0.02, 0.1, 0.5, 2.0])
@pytest.mark.parametrize("temp", [95.0, 100.0, 105.0])
def test_transport_of_mixtures_near_100_c(temp: float, ratio: float) -> None:
    # CoolProp's humid air takes the vapour's viscosity and conductivity at 100 °C whatever the
    # temperature, so it can be compared near that only.
    state = ("T", temp + 273.15, "W", ratio, "P", 101_325.0)
    viscosity, conductivity = (CoolProp.HAPropsSI(name, *state) for name in ("mu", "k"))
    assert air_transport.viscosity_pa_s(temp, ratio) == pytest.approx(viscosity, rel=0.02)
    assert air_transport.conductivity_w_mk(temp, ratio) == pytest.approx(conductivity, rel=0.025)


@pytest.mark.parametrize("temp", [60.0, 93.0, 121.0, 150.0])
@pytest.mark.parametrize("ratio", [0.005, 0.02, 0.08])
def test_a_wet_surface_settles_at_the_wet_bulb(temp: float, ratio: float) -> None:
    pressure, h = 101_325.0, 10.0
    vapour = air.vapour_pressure_pa(ratio, pressure)

    def unbalanced(surface_c: float) -> float:
        wet = air.saturation_pressure_pa(surface_c)
        rate = float(surface.evaporation_kg_m2s(h, wet, vapour, pressure))
        heat = float(surface.convective_heat_w_m2(h, temp, surface_c, rate))
        return heat - rate * float(air.latent_heat_j_kg(surface_c))

    settled = brentq(unbalanced, 1.0, 95.0)
    # In ratio, where psychrolib is valid at every dry bulb; 0.02 K is about 0.1 % of it.
    back = psychrolib.GetHumRatioFromTWetBulb(temp, settled - 0.02, pressure)
    over = psychrolib.GetHumRatioFromTWetBulb(temp, settled + 0.02, pressure)
    assert back < ratio < over
