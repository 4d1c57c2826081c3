"""Outside the range of a source: an error or a flag, never silence."""

from collections.abc import Callable

import numpy as np
import pytest

from fairsmoke.physics import (
    ExtrapolationWarning,
    PhysicsRangeError,
    air,
    air_transport,
    fat,
    food,
    growth,
    kinetics,
    lethality,
    surface,
    water,
)
from fairsmoke.physics.food import Composition
from fairsmoke.physics.heat_resistance import RESISTANCES
from fairsmoke.physics.ranges import Range

MEAT = Composition(0.65, 0.20, 0.14, 0.01)
BURNING = [
    pytest.param(function, value, id=name)
    for name, function, value in [
        ("component", lambda t, **k: food.component_property("fat", "density", t, **k), 900.0),
        ("density", lambda t, **k: food.density_kg_m3(t, MEAT, **k), 160.0),
        ("capacity", lambda t, **k: food.heat_capacity_j_kgk(t, MEAT, **k), -10.0),
        ("conductivity", lambda t, **k: food.conductivity_w_mk(t, MEAT, **k), 160.0),
        ("diffusivity", lambda t, **k: food.diffusivity_m2_s(t, MEAT, **k), 160.0),
        ("enthalpy", lambda t, **k: food.sensible_enthalpy_j_kg(t, MEAT, **k), 160.0),
        ("ice", lambda t, **k: food.ice_fraction(t, 0.6, **k), -60.0),
        ("saturation", air.saturation_pressure_pa, 201.0),
        ("latent", air.latent_heat_j_kg, 201.0),
        ("boiling", air.boiling_point_c, 2e6),
        ("altitude", air.pressure_at_altitude_pa, 12_000.0),
        ("moist enthalpy", lambda t, **k: air.enthalpy_j_kg(t, 0.01, **k), 300.0),
        ("air density", lambda t, **k: air.density_kg_m3(t, 0.01, 1e5, **k), 300.0),
        ("viscosity", lambda t, **k: air_transport.viscosity_pa_s(t, 0.01, **k), 300.0),
        ("air conductivity", lambda t, **k: air_transport.conductivity_w_mk(t, 0.01, **k), 300.0),
        ("vapour", lambda t, **k: air_transport.vapour_diffusivity_m2_s(t, 1e5, **k), 190.0),
        ("activity", surface.water_activity, 6.0),
        ("roast", water.roast_capacity_kg_kg, 110.0),
        ("slow", water.slow_capacity_kg_kg, 110.0),
        ("modulus", water.elastic_modulus_pa, 110.0),
        ("water viscosity", water.water_viscosity_pa_s, 210.0),
        ("rate", lambda t, **k: kinetics.rate_per_s(t, kinetics.ACTIN, **k), 160.0),
        ("solid", fat.solid_fraction, 160.0),
        ("melting", fat.melting_enthalpy_j_kg, 160.0),
        ("holding", fat.holding_capacity_kg_kg, 115.0),
        ("lethal", lambda t, **k: lethality.lethal_rate(t, 60.0, 6.0, **k), 160.0),
        (
            "decimal",
            lambda t, **k: lethality.decimal_time_s(t, RESISTANCES["perfringens cells"], **k),
            70.0,
        ),
    ]
]


@pytest.mark.parametrize(("function", "value"), BURNING)
def test_outside_is_an_error_or_a_flag(function: Callable[..., np.ndarray], value: float) -> None:
    with pytest.raises(PhysicsRangeError, match="is outside"):
        function(value)
    with pytest.warns(ExtrapolationWarning, match="is outside"):
        flagged = function(value, on_range="flag")
    assert np.isfinite(flagged)
    for unreal in (np.nan, np.inf):
        with pytest.raises(PhysicsRangeError):
            function(unreal, on_range="flag")


def test_the_message_names_what_where_and_the_mend() -> None:
    with pytest.raises(
        PhysicsRangeError,
        match=r"temperature of unfrozen meat: 200 °C and 1 more is outside -1\.7 to 150 °C "
        r'\(Choi & Okos 1986.*on_range="flag"',
    ):
        food.density_kg_m3([20.0, 200.0, 300.0], MEAT)


def test_a_companion_tells_without_raising() -> None:
    assert air.SATURATION_RANGE.holds([-101.0, 0.0, 200.0, np.nan]).tolist() == [
        False,
        True,
        True,
        False,
    ]


def test_unknown_way_of_treating_the_outside() -> None:
    with pytest.raises(ValueError, match="on_range"):
        Range("x", "m", 0.0, 1.0, "y").check(2.0, "ignore")  # type: ignore[arg-type]


def test_a_range_error_is_a_value_error() -> None:
    assert issubclass(PhysicsRangeError, ValueError)


def test_compositions_that_cannot_be() -> None:
    with pytest.raises(PhysicsRangeError, match=r"add up to 65 kg/kg"):
        Composition(water=65.0, protein=0.0, fat=0.0)
    with pytest.raises(PhysicsRangeError, match=r"fat in a composition: -0\.1"):
        Composition(water=0.9, protein=0.2, fat=-0.1)
    with pytest.raises(PhysicsRangeError):
        Composition(water=np.nan, protein=0.2, fat=0.1)
    with pytest.raises(PhysicsRangeError, match=r"0\.5"):
        Composition(water=[0.7, 0.2], protein=0.2, fat=0.1)


def test_unknown_names() -> None:
    with pytest.raises(ValueError, match="across, parallel or series"):
        food.conductivity_w_mk(20.0, MEAT, "sideways")  # type: ignore[arg-type]
    with pytest.raises(KeyError, match="beef, pork"):
        fat.solid_fraction(20.0, "goose")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="trapezoid or straight"):
        lethality.equivalent_times_s([0, 1], [60, 60], 60.0, 6.0, between="x")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("time_s", "temp_c", "words"),
    [
        ([0.0], [60.0], "two readings or more"),
        ([0.0, 1.0], [60.0], "same length"),
        ([0.0, 0.0], [60.0, 61.0], "do not rise"),
        ([0.0, 1.0], [60.0, np.nan], "not all readings are numbers"),
    ],
)
def test_records_that_do_not_pair_up(time_s: list[float], temp_c: list[float], words: str) -> None:
    with pytest.raises(PhysicsRangeError, match=words):
        lethality.log_reduction(time_s, temp_c, RESISTANCES["salmonella patty"])
    with pytest.raises(PhysicsRangeError, match=words):
        growth.growth_log10(time_s, temp_c, growth.GROWTH_MODELS["perfringens beef"])


def test_growth_without_a_known_unit_is_refused() -> None:
    for key in ("b. cereus rice", "salmonella raw beef"):
        with pytest.raises(PhysicsRangeError, match="log10 or ln"):
            growth.growth_rate_log10_h(30.0, growth.GROWTH_MODELS[key])
    with pytest.raises(PhysicsRangeError, match="without lag"):
        growth.growth_log10([0, 1], [30, 30], growth.GROWTH_MODELS["perfringens braised beef"])


def test_moist_air_that_cannot_be() -> None:
    with pytest.raises(PhysicsRangeError, match="pure steam"):
        air.humidity_ratio(101_325.0, 101_325.0)
    with pytest.raises(PhysicsRangeError, match="more vapour than it can"):
        air.wet_bulb_c(60.0, 0.3, 101_325.0)
    with pytest.raises(PhysicsRangeError, match="above the dry bulb"):
        air.humidity_ratio_from_wet_bulb(60.0, 61.0, 101_325.0)
    with pytest.raises(PhysicsRangeError, match="lower than evaporation"):
        air.humidity_ratio_from_wet_bulb(121.0, 20.0, 101_325.0)
    with pytest.raises(PhysicsRangeError, match="below 0 °C"):
        air.wet_bulb_c(2.0, 0.0, 101_325.0)
    with pytest.raises(PhysicsRangeError, match="pure steam"):
        surface.evaporation_kg_m2s(10.0, 120e3, 2e3, 101_325.0)


def test_coefficients_that_cannot_be() -> None:
    with pytest.raises(PhysicsRangeError, match="Lewis factor"):
        surface.evaporation_kg_m2s(10.0, 5e3, 2e3, 101_325.0, lewis_factor=0.0)
    with pytest.raises(PhysicsRangeError, match="convection coefficient"):
        surface.convective_heat_w_m2(0.0, 100.0, 50.0)
    with pytest.raises(PhysicsRangeError, match="above 0"):
        water.darcy_speed_m_s(5e4, 1.0, 0.0, 1e-17)
    with pytest.raises(PhysicsRangeError, match="0 s or more"):
        kinetics.left_after(-1.0, 60.0, kinetics.ACTIN)
    with pytest.raises(PhysicsRangeError, match="0 s or more"):
        fat.cap_rendered(-1.0, 60.0)
    with pytest.raises(PhysicsRangeError, match="0 to 1"):
        fat.cap_rendered(1.0, 60.0, boiled_share=1.5)
    with pytest.raises(PhysicsRangeError, match="faster"):
        kinetics.activation_from_peaks_j_mol(64.0, 1.0, 60.0, 10.0)
