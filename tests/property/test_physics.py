"""What must hold whatever the numbers: order, bounds, conservation, units of time."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fairsmoke.physics import (
    air,
    air_transport,
    cook_table,
    fat,
    food,
    growth,
    history,
    kinetics,
    lethality,
    surface,
    water,
)
from fairsmoke.physics.food import Composition
from fairsmoke.physics.heat_resistance import RESISTANCES

few = settings(max_examples=60, deadline=None)

meat_temps = st.floats(0.0, 105.0)
# At 25 °C even air this dry has its wet bulb above freezing, at all these pressures.
dry_bulbs = st.floats(25.0, 200.0)
ratios = st.floats(0.004, 3.0)
pressures = st.floats(60e3, 105e3)


@st.composite
def compositions(draw: st.DrawFn) -> Composition:
    parts = np.array([draw(st.floats(0.01, 1.0)) for _ in range(4)])
    water_part, protein, fat_part, ash = parts / parts.sum()
    return Composition(water_part, protein, fat_part, ash)


@st.composite
def records(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    steps = draw(st.lists(st.floats(1.0, 600.0), min_size=1, max_size=30))
    temps = draw(st.lists(st.floats(0.0, 95.0), min_size=len(steps) + 1, max_size=len(steps) + 1))
    return np.concatenate([[0.0], np.cumsum(steps)]), np.array(temps)


@few
@given(meat_temps, compositions())
def test_meat_lies_between_its_parts(temp: float, meat: Composition) -> None:
    names = ("water", "protein", "fat", "ash")
    for which, found in (
        ("density", food.density_kg_m3(temp, meat)),
        ("heat_capacity", food.heat_capacity_j_kgk(temp, meat)),
        ("conductivity", food.conductivity_w_mk(temp, meat, "parallel")),
    ):
        parts = [float(food.component_property(n, which, temp)) for n in names]  # type: ignore[arg-type]
        assert min(parts) * (1 - 1e-9) <= found <= max(parts) * (1 + 1e-9)
    series, across, parallel = (
        float(food.conductivity_w_mk(temp, meat, m)) for m in ("series", "across", "parallel")
    )
    assert series <= parallel * (1 + 1e-9)
    assert series <= across * (1 + 1e-9)


@few
@given(st.floats(0.0, 104.0), st.floats(0.01, 40.0), compositions())
def test_warmer_meat_holds_more_heat(temp: float, rise: float, meat: Composition) -> None:
    low, high = food.sensible_enthalpy_j_kg([temp, temp + rise], meat)
    assert high > low
    melted = fat.melting_enthalpy_j_kg([temp, temp + rise])
    assert melted[1] >= melted[0]


@few
@given(dry_bulbs, ratios, pressures)
def test_dew_point_wet_bulb_dry_bulb_in_order(temp: float, ratio: float, pressure: float) -> None:
    if air.relative_humidity(temp, ratio, pressure) > 0.999:
        return
    wet = float(air.wet_bulb_c(temp, ratio, pressure))
    assert float(air.dew_point_c(ratio, pressure)) <= wet + 1e-6 <= temp + 2e-6
    assert wet < air.boiling_point_c(pressure)
    back = float(air.humidity_ratio_from_wet_bulb(temp, wet, pressure))
    assert math.isclose(back, ratio, rel_tol=1e-6, abs_tol=1e-9)


@few
@given(dry_bulbs, st.floats(0.01, 0.5), pressures)
def test_damper_air_is_lighter_and_richer(temp: float, ratio: float, pressure: float) -> None:
    density = air.density_kg_m3(temp, [ratio, ratio * 1.1], pressure)
    assert density[1] < density[0]
    enthalpy = air.enthalpy_j_kg(temp, [ratio, ratio * 1.1])
    assert enthalpy[1] > enthalpy[0]
    assert air_transport.viscosity_pa_s(temp, ratio) > 0
    assert air_transport.conductivity_w_mk(temp, ratio) > 0


@few
@given(st.floats(611.5, 1.5e6))
def test_boiling_point_undoes_saturation(pressure: float) -> None:
    found = air.saturation_pressure_pa(air.boiling_point_c(pressure))
    assert math.isclose(float(found), pressure, rel_tol=1e-9)


@few
@given(st.floats(0.0, 8000.0))
def test_higher_up_water_boils_cooler(altitude: float) -> None:
    low, high = air.boiling_point_c(air.pressure_at_altitude_pa([altitude, altitude + 300.0]))
    assert high < low


@few
@given(st.floats(1.0, 50.0), st.floats(100.0, 90e3), st.floats(100.0, 50e3))
def test_vapour_goes_from_more_to_less(h: float, at_surface: float, in_air: float) -> None:
    rate = float(surface.evaporation_kg_m2s(h, at_surface, in_air, 101_325.0))
    assert (rate > 0) == (at_surface > in_air) or math.isclose(at_surface, in_air, rel_tol=1e-9)
    more = float(surface.evaporation_kg_m2s(h, at_surface * 1.05, in_air, 101_325.0))
    assert more > rate
    blown = float(surface.convective_heat_w_m2(h, 120.0, 60.0, max(rate, 0.0)))
    assert 0 < blown <= h * 60.0 * (1 + 1e-9)


@few
@given(st.floats(0.0, 4.9), st.floats(0.001, 0.1))
def test_wetter_meat_has_more_activity(moisture: float, more: float) -> None:
    low, high = surface.water_activity([moisture, moisture + more])
    assert 0 <= low < high < 1


@few
@given(meat_temps, st.floats(0.1, 20.0))
def test_hotter_meat_holds_less_water_and_fat(temp: float, rise: float) -> None:
    hot = min(temp + rise, 105.0)
    for curve in (water.roast_capacity_kg_kg, water.slow_capacity_kg_kg):
        assert curve(hot) <= curve(temp)
    assert fat.holding_capacity_kg_kg(hot) <= fat.holding_capacity_kg_kg(temp)
    assert fat.solid_fraction(hot) <= fat.solid_fraction(temp)


@few
@given(st.floats(4.0, 100.0), st.floats(0.0, 2e5), st.floats(0.0, 2e5))
def test_shares_of_collagen_stay_shares_and_only_dissolve(
    temp: float, first: float, more: float
) -> None:
    native, dissolved = kinetics.collagen_after([first, first + more], temp)
    assert ((native >= 0) & (dissolved >= 0) & (native + dissolved <= 1 + 1e-9)).all()
    assert native[1] <= native[0] + 1e-12
    assert dissolved[1] >= dissolved[0] - 1e-9


@few
@given(st.floats(0.0, 149.0), st.floats(0.1, 1.0))
def test_every_reaction_goes_faster_when_hotter(temp: float, rise: float) -> None:
    for reaction in kinetics.REACTIONS:
        if temp + rise <= reaction.high_c:
            slow, fast = kinetics.rate_per_s([temp, temp + rise], reaction)
            assert 0 < slow < fast


@few
@given(records())
def test_lethality_only_grows_and_adds_up(record: tuple[np.ndarray, np.ndarray]) -> None:
    time, temp = record
    sums = lethality.equivalent_times_s(time, temp, 65.56, 5.56)
    assert (np.diff(sums) >= 0).all()
    careful = lethality.equivalent_times_s(time, temp, 65.56, 5.56, between="straight")
    assert (careful <= sums * (1 + 1e-9) + 1e-12).all()
    half = time.size // 2
    if half >= 1 and time.size - half >= 2:
        parts = [
            lethality.equivalent_times_s(time[a:b], temp[a:b], 65.56, 5.56)[-1]
            for a, b in ((0, half + 1), (half, None))
        ]
        assert math.isclose(sum(parts), sums[-1], rel_tol=1e-9, abs_tol=1e-12)


@few
@given(records(), st.floats(0.1, 5.0))
def test_hotter_records_never_kill_less(record: tuple[np.ndarray, np.ndarray], rise: float) -> None:
    time, temp = record
    for key in ("salmonella patty", "listeria fat beef"):
        cool = lethality.log_reduction(time, temp, RESISTANCES[key])
        assert lethality.log_reduction(time, temp + rise, RESISTANCES[key]) >= cool
    assert cook_table.holds_reached(time, temp + rise) >= cook_table.holds_reached(time, temp)
    assert cook_table.table_share(time, temp + rise) >= cook_table.table_share(time, temp) - 1e-9


@few
@given(records())
def test_growth_is_never_negative_and_lag_never_adds(
    record: tuple[np.ndarray, np.ndarray],
) -> None:
    time, temp = record
    for key in ("perfringens beef", "perfringens pork"):
        model = growth.GROWTH_MODELS[key]
        lagged = growth.growth_log10(time, temp, model)
        assert -1e-12 <= lagged <= growth.growth_log10(time, temp, model, lag=False) + 1e-12


@few
@given(records(), st.floats(5.0, 90.0))
def test_time_above_and_below_is_all_the_time(
    record: tuple[np.ndarray, np.ndarray], level: float
) -> None:
    time, temp = record
    above = history.time_in_range_s(time, temp, level, 200.0)
    below = history.time_in_range_s(time, temp, -100.0, level)
    at_level = float(np.sum(np.diff(time)[(temp[1:] == level) & (temp[:-1] == level)]))
    assert math.isclose(above + below - at_level, time[-1] - time[0], rel_tol=1e-9)
    assert history.longest_hold_s(time, temp, level) <= above + 1e-6
