"""The bare formulas say the same as the checked ones, and can be compiled alone."""

import ast
import importlib
import inspect
import math
import pkgutil
from collections.abc import Callable
from types import ModuleType

import numpy as np
import pytest

import fairsmoke.physics
from fairsmoke.physics import (
    air,
    fat,
    food,
    growth,
    kinetics,
    lethality,
    surface,
    water,
)
from fairsmoke.physics.food import Composition

MODULES = [
    importlib.import_module(f"fairsmoke.physics.{found.name}")
    for found in pkgutil.iter_modules(fairsmoke.physics.__path__)
]
BARE = [
    (module, name)
    for module in MODULES
    for name, thing in vars(module).items()
    if name.startswith("bare_")
    and inspect.isfunction(thing)
    and thing.__module__ == module.__name__
]
TEMPS = np.array([1.0, 20.0, 55.0, 64.9, 90.0, 99.0])
PARTS = (0.65, 0.20, 0.14, 0.01)
MEAT = Composition(*PARTS)
BEEF = growth.GROWTH_MODELS["perfringens beef"]


@pytest.mark.parametrize(("module", "name"), BARE, ids=[name for _, name in BARE])
def test_bare_formulas_call_nothing_of_ours(module: ModuleType, name: str) -> None:
    tree = ast.parse(inspect.getsource(getattr(module, name)))
    calls = [node.func for node in ast.walk(tree) if isinstance(node, ast.Call)]
    assert all(
        isinstance(call, ast.Attribute) and ast.unparse(call.value) == "np" for call in calls
    )


@pytest.mark.parametrize(
    ("bare", "checked"),
    [
        (air.bare_saturation_pressure_pa, air.saturation_pressure_pa),
        (air.bare_latent_heat_j_kg, air.latent_heat_j_kg),
        (water.bare_roast_capacity_kg_kg, water.roast_capacity_kg_kg),
        (water.bare_slow_capacity_kg_kg, water.slow_capacity_kg_kg),
        (water.bare_elastic_modulus_pa, water.elastic_modulus_pa),
        (fat.bare_holding_capacity_kg_kg, fat.holding_capacity_kg_kg),
    ],
)
def test_formulas_of_temperature(
    bare: Callable[[np.ndarray], np.ndarray], checked: Callable[[np.ndarray], np.ndarray]
) -> None:
    np.testing.assert_allclose(bare(TEMPS), checked(TEMPS), rtol=1e-13)
    one_by_one = [bare(float(temp)) for temp in TEMPS]  # type: ignore[arg-type]
    np.testing.assert_allclose(one_by_one, checked(TEMPS), rtol=1e-13)


@pytest.mark.parametrize(
    ("bare", "checked"),
    [
        (food.bare_heat_capacity_j_kgk, food.heat_capacity_j_kgk),
        (food.bare_sensible_enthalpy_j_kg, food.sensible_enthalpy_j_kg),
        (food.bare_conductivity_across_w_mk, food.conductivity_w_mk),
    ],
)
def test_formulas_of_composition(
    bare: Callable[..., np.ndarray], checked: Callable[..., np.ndarray]
) -> None:
    np.testing.assert_allclose(bare(TEMPS, *PARTS), checked(TEMPS, MEAT), rtol=1e-13)


def test_other_bare_formulas() -> None:
    volume = food.bare_volume_m3_kg(TEMPS, *(np.full(6, part) for part in PARTS))
    np.testing.assert_allclose(1 / volume, food.density_kg_m3(TEMPS, MEAT), rtol=1e-13)
    activity = surface.bare_water_activity(np.array([0.05, 0.5, 3.0]))
    np.testing.assert_allclose(activity, surface.water_activity([0.05, 0.5, 3.0]), rtol=1e-13)
    rate = kinetics.bare_rate_per_s(70.0, 70.0, 0.1 / 60, 250e3)
    assert rate == pytest.approx(float(kinetics.rate_per_s(70.0, kinetics.ACTIN)))
    assert lethality.bare_lethal_rate(70.0, 60.0, 5.0) == pytest.approx(100.0)
    grown = growth.bare_square_root_rate(46.0, BEEF.first, BEEF.second, BEEF.min_c, BEEF.max_c)
    assert grown == pytest.approx(float(growth.growth_rate_log10_h(46.0, BEEF)))
    assert growth.bare_cardinal_rate(43.5, 5.64, 43.5, 10.3, 53.4) == pytest.approx(5.64)
    assert surface.bare_evaporation_kg_m2s(10.0, 0.05, 0.05, 1.0) == 0.0
    assert surface.bare_blowing_factor(10.0, 0.0) == pytest.approx(1.0)
    assert air.bare_humidity_ratio(2e3, 1e5) == pytest.approx(float(air.humidity_ratio(2e3, 1e5)))
    shone = float(surface.radiative_heat_w_m2(121.0, 50.0, 0.9))
    assert surface.bare_radiative_heat_w_m2(121.0, 50.0, 0.9) == pytest.approx(shone)
    blown = 10.0 / 1860.0  # makes a = 1
    assert surface.bare_blowing_factor(10.0, blown) == pytest.approx(1 / (math.e - 1))


def test_physics_imports_nothing_of_ours_but_quantity_and_messages() -> None:
    for module in MODULES:
        for node in ast.walk(ast.parse(inspect.getsource(module))):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            ours = [name for name in names if name.split(".")[0] == "fairsmoke"]
            assert all(name.split(".")[1] in ("physics", "quantity", "messages") for name in ours)
