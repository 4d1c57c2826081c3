"""Ordinary tests of air, surfaces, water, protein and fat."""

import numpy as np
import pytest

from fairsmoke.physics import air, convection, fat, kinetics, surface, water

PRESSURE = 101_325.0


def test_saturation_joins_over_ice_and_water() -> None:
    below, above = air.saturation_pressure_pa([-1e-9, 0.0])
    assert below == pytest.approx(above, rel=2e-4)


def test_humidity_ratio_and_vapour_pressure_undo_each_other() -> None:
    ratio = np.array([0.0, 0.01, 0.5, 5.0])
    np.testing.assert_allclose(
        air.humidity_ratio(air.vapour_pressure_pa(ratio, PRESSURE), PRESSURE), ratio, atol=1e-15
    )


def test_saturated_air_has_its_wet_bulb_at_the_dry_bulb() -> None:
    saturated = air.humidity_ratio_from_relative(60.0, 1.0, PRESSURE)
    assert air.wet_bulb_c(60.0, saturated, PRESSURE) == pytest.approx(60.0, abs=1e-6)
    assert air.relative_humidity(60.0, saturated, PRESSURE) == pytest.approx(1.0)
    assert air.dew_point_c(saturated, PRESSURE) == pytest.approx(60.0, abs=1e-9)


def test_arrays_keep_their_shape() -> None:
    temp = np.array([[60.0, 93.0], [121.0, 150.0]])
    assert air.wet_bulb_c(temp, 0.02, PRESSURE).shape == (2, 2)
    assert air.wet_bulb_c(121.0, [0.01, 0.02], PRESSURE).shape == (2,)


def test_no_difference_no_flow() -> None:
    assert surface.evaporation_kg_m2s(10.0, 3e3, 3e3, PRESSURE) == 0.0
    assert surface.convective_heat_w_m2(10.0, 60.0, 60.0) == 0.0
    assert surface.radiative_heat_w_m2(60.0, 60.0) == 0.0


def test_cold_meat_in_damp_air_gets_wet() -> None:
    cold = air.saturation_pressure_pa(4.0)
    damp = air.vapour_pressure_pa(0.03, PRESSURE)
    assert surface.evaporation_kg_m2s(10.0, cold, damp, PRESSURE) < 0.0


def test_close_to_molar_stefan_flow() -> None:
    from fairsmoke.physics import air_transport

    damp = 3000.0
    for temp in (30.0, 50.0, 75.0, 80.0):
        wet = float(air.saturation_pressure_pa(temp))
        film = (temp + 107.0) / 2
        ratio = air.humidity_ratio((wet + damp) / 2, PRESSURE)
        density = air.density_kg_m3(film, ratio, PRESSURE)
        capacity = air_transport.heat_capacity_j_kgk(ratio)
        speed = surface.mass_coefficient_m_s(10.0, density, capacity)
        molar = surface.molar_stefan_kg_m2s(speed, wet, damp, PRESSURE, film)
        ours = surface.evaporation_kg_m2s(10.0, wet, damp, PRESSURE)
        assert ours == pytest.approx(float(molar), rel=0.01)


def test_small_rates_follow_the_lewis_relation() -> None:
    rate = surface.evaporation_kg_m2s(10.0, 1001.0, 1000.0, PRESSURE)
    ratio = air.humidity_ratio(1000.0, PRESSURE)
    difference = air.humidity_ratio(1001.0, PRESSURE) - ratio
    assert rate == pytest.approx(10.0 * float(difference) / (1006.0 + 1860.0 * float(ratio)))


def test_isotherm_and_its_inverse() -> None:
    moisture = np.array([0.0, 0.05, 0.3, 1.0, 3.0, 4.9])
    activity = surface.water_activity(moisture)
    np.testing.assert_allclose(surface.moisture_at_activity_kg_kg(activity), moisture, atol=1e-12)
    assert activity[0] == 0.0


def test_hardly_moving_air_is_no_forced_flow() -> None:
    with pytest.raises(ValueError, match="Reynolds"):
        convection.forced_convection_w_m2k(50.0, 60.0, 0.08, 0.0)
    still = convection.natural_convection_w_m2k([59.0, 60.0], 60.0, 0.08)
    assert 0 < still[1] < still[0]


def test_squeezed_water_flows_down_its_excess() -> None:
    assert water.darcy_speed_m_s(5e4, -10.0, 4e-4, 1e-17) == pytest.approx(1.25e-8)


def test_the_slow_curve_keeps_more_than_the_roast_curve_above_70_c() -> None:
    # On the same basis: kg water per kg fat-free meat, with protein 0.96 of fat-free solids.
    kept = water.slow_capacity_kg_kg(85.0) * 0.96
    assert kept / (1 + kept) > water.roast_capacity_kg_kg(85.0) + 0.2


def test_collagen_shares_add_up() -> None:
    native, dissolved = kinetics.collagen_after([0.0, 600.0, 36_000.0], 62.0)
    assert native[0] == pytest.approx(1 - kinetics.SOLUBLE_RAW)
    assert dissolved[0] == kinetics.SOLUBLE_RAW
    assert (native + dissolved <= 1.0 + 1e-12).all()
    cold_native, cold_dissolved = kinetics.collagen_after(3600.0, 4.0)
    assert cold_native == pytest.approx(1 - kinetics.SOLUBLE_RAW, rel=1e-6)
    assert cold_dissolved == pytest.approx(kinetics.SOLUBLE_RAW, rel=1e-6)


def test_collagen_against_small_steps() -> None:
    opens = float(kinetics.rate_per_s(62.0, kinetics.COLLAGEN_OPENS))
    dissolves = float(kinetics.rate_per_s(62.0, kinetics.COLLAGEN_DISSOLVES))
    shares, ratios = (np.array(part) for part in kinetics.class_rates())
    native, opened, dissolved = shares.copy(), 0.0, 0.0
    for _ in range(80_000):
        opening = 0.5 * opens * ratios * native
        native = native - opening
        opened, dissolved = (
            opened + opening.sum() - 0.5 * dissolves * opened,
            dissolved + 0.5 * dissolves * opened,
        )
    found = kinetics.collagen_after(40_000.0, 62.0)
    raw = 1 - kinetics.SOLUBLE_RAW
    assert found[0] == pytest.approx(raw * native.sum(), abs=1e-4)
    assert found[1] == pytest.approx(kinetics.SOLUBLE_RAW + raw * dissolved, abs=1e-4)


def test_classes_of_collagen_are_shares_and_each_later_than_the_one_before() -> None:
    shares, ratios = kinetics.class_rates()
    assert sum(shares) == pytest.approx(1.0)
    assert ratios[0] == 1.0
    assert list(ratios) == sorted(ratios, reverse=True)
    with pytest.raises(ValueError, match="0 or more"):
        kinetics.collagen_native(-1.0)


def test_melting_heat_is_the_integral_of_its_slope() -> None:
    temp = np.linspace(0.0, 60.0, 60_001)
    for species in ("beef", "pork"):
        summed = np.trapezoid(fat.melting_capacity_j_kgk(temp, species), temp)
        assert fat.melting_enthalpy_j_kg(60.0, species) == pytest.approx(summed, rel=1e-4)


def test_a_cap_renders_more_when_hotter_and_longer() -> None:
    hours = fat.cap_rendered(np.array([1.0, 6.45, 24.0]) * 3600, 90.0)
    assert hours[1] == pytest.approx(0.5, abs=0.01)
    assert (np.diff(hours) > 0).all()
    assert fat.cap_rendered(3600.0, 20.0) < fat.cap_rendered(3600.0, 98.0)
    # Steam does in minutes what dissolving does not in hours, to liquid fat only.
    assert fat.cap_rendered(600.0, 101.0, boiled_share=0.5) > fat.cap_rendered(6 * 3600.0, 98.0)
    assert fat.cap_rendered(600.0, 20.0, boiled_share=1.0) < 0.6


def test_peaks_outside_the_scan_are_refused() -> None:
    with pytest.raises(ValueError, match="above 0"):
        kinetics.peak_of_scan_c(kinetics.ACTIN, 0.0)
    with pytest.raises(ValueError, match="no peak"):
        kinetics.peak_of_scan_c(kinetics.ACTIN, 1e9)
