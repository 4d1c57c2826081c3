"""ASHRAE Handbook—Refrigeration, "Thermal Properties of Foods": its examples and table 3.

The equations were read in public code; the wording and numbers of the examples and the rows of
table 3 are from memory (shared references, physics.md 1.3). Tolerance: half the last digit.
"""

import numpy as np
import pytest

from fairsmoke.physics import food
from fairsmoke.physics.food import Composition

LAMB = Composition(water=0.7342, protein=0.2029, fat=0.0525, ash=0.0106)


@pytest.mark.parametrize(
    ("component", "printed"),
    [("water", 4.1759), ("protein", 2.0142), ("fat", 1.9914), ("ash", 1.1020)],
)
def test_heat_capacities_at_5_c_in_the_lamb_example(component: str, printed: float) -> None:
    found = food.component_property(component, "heat_capacity", 5.0) / 1000
    assert found == pytest.approx(printed, abs=0.00005)


def test_lamb_example_heat_capacity_and_heat_removed() -> None:
    capacity = float(food.heat_capacity_j_kgk(5.0, LAMB)) / 1000
    assert capacity == pytest.approx(3.59, abs=0.005)
    # The printed 2441 kJ is 68 kg × 3.59 kJ/(kg·K) × 10 K with the rounded capacity.
    assert 68.0 * round(capacity, 2) * 10.0 == pytest.approx(2441.0, abs=0.5)
    # The unrounded enthalpy difference, which the reference gives as 2441.8 kJ.
    enthalpy = food.sensible_enthalpy_j_kg(10.0, LAMB) - food.sensible_enthalpy_j_kg(0.0, LAMB)
    assert 68.0 * enthalpy / 1000 == pytest.approx(2441.8, abs=0.6)


def test_lamb_example_rejects_the_other_water_constant() -> None:
    # With 4.1289 in place of 4.1762 the example would come to 3.56, which is not printed.
    trap = float(food.heat_capacity_j_kgk(5.0, LAMB)) - 0.734 * (4176.2 - 4128.9)
    assert abs(trap / 1000 - 3.59) > 0.02


def test_ice_in_frozen_beef() -> None:
    # 68 kg of beef carcass, 0.58 water, freezing from −1.7 °C, at −20 °C: 0.52, 35.4 kg, 4.1 kg.
    ice = float(food.ice_fraction(-20.0, water=0.58, freezing_c=-1.7))
    assert ice == pytest.approx(0.52, abs=0.005)
    assert 68.0 * round(ice, 2) == pytest.approx(35.4, abs=0.05)
    assert 68.0 * (0.58 - round(ice, 2)) == pytest.approx(4.1, abs=0.05)


TABLE_3 = {
    # water, protein, fat, ash (%), heat capacity above freezing (kJ/(kg·K))
    "brisket": (55.18, 16.94, 26.54, 0.80, 3.19),
    "carcass, choice": (57.26, 17.32, 24.05, 0.81, 3.24),
    "round, lean": (70.83, 22.03, 4.89, 1.07, 3.52),
    "sirloin, lean": (71.70, 21.24, 4.40, 1.08, 3.53),
}


@pytest.mark.parametrize("cut", TABLE_3)
def test_beef_rows_of_table_3(cut: str) -> None:
    water, protein, fat, ash, printed = TABLE_3[cut]
    parts = Composition(water / 100, protein / 100, fat / 100, ash / 100)
    # The handbook adds up the analysed parts as they stand, at 20 °C (found by trying: all four
    # rows then agree); ours scales them to 1, so the sum of the analysis is put back.
    analysed = (water + protein + fat + ash) / 100
    found = float(food.heat_capacity_j_kgk(20.0, parts)) / 1000 * analysed
    assert found == pytest.approx(printed, abs=0.005)


# Computed from the same equations by the maker of the shared references (physics.md 1.4) from
# USDA compositions that were read: an independent evaluation, printed digits.
WHOLE_MEAT = [
    # water, protein, fat, ash (%), °C, density, parallel, series, heat capacity, diffusivity
    (73.76, 21.57, 3.84, 1.01, 5, 1056.7, 0.493, 0.395, 3.596, 1.30e-7),
    (73.76, 21.57, 3.84, 1.01, 60, 1040.7, 0.559, 0.456, 3.623, 1.48e-7),
    (73.76, 21.57, 3.84, 1.01, 80, 1030.2, 0.575, 0.471, 3.638, 1.53e-7),
    (59.07, 17.94, 22.18, 0.81, 5, 1029.8, 0.425, 0.313, 3.279, 1.26e-7),
    (59.07, 17.94, 22.18, 0.81, 60, 1011.9, 0.472, 0.329, 3.313, 1.41e-7),
    (59.96, 17.65, 20.98, 0.82, 5, 1030.3, 0.430, 0.318, 3.306, 1.26e-7),
    (59.96, 17.65, 20.98, 0.82, 80, 1002.6, 0.490, 0.336, 3.355, 1.46e-7),
    (61.08, 18.42, 19.06, 0.88, 60, 1016.8, 0.486, 0.344, 3.363, 1.42e-7),
    (60.61, 33.15, 6.00, 1.06, 60, 1069.9, 0.505, 0.389, 3.337, 1.42e-7),
    (60.61, 33.15, 6.00, 1.06, 80, 1059.4, 0.521, 0.402, 3.353, 1.47e-7),
]


@pytest.mark.parametrize("row", WHOLE_MEAT)
def test_whole_meat_properties(row: tuple[float, ...]) -> None:
    water, protein, fat, ash, temp, density, parallel, series, capacity, diffusivity = row
    parts = Composition(water / 100, protein / 100, fat / 100, ash / 100)
    assert food.density_kg_m3(temp, parts) == pytest.approx(density, abs=0.06)
    along = food.conductivity_w_mk(temp, parts, "parallel")
    across = food.conductivity_w_mk(temp, parts, "series")
    assert along == pytest.approx(parallel, abs=0.00055)
    assert across == pytest.approx(series, abs=0.00055)
    assert food.heat_capacity_j_kgk(temp, parts) / 1000 == pytest.approx(capacity, abs=0.00055)
    assert food.diffusivity_m2_s(temp, parts, "parallel") == pytest.approx(diffusivity, abs=6e-10)


def test_enthalpy_is_the_integral_of_the_heat_capacity() -> None:
    temp = np.linspace(0.0, 100.0, 2001)
    summed = np.trapezoid(food.heat_capacity_j_kgk(temp, LAMB), temp)
    assert food.sensible_enthalpy_j_kg(100.0, LAMB) == pytest.approx(summed, rel=1e-8)
