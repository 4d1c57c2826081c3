"""Component equations against CoolProp 8.0.0's food components.

The rows were read as library output by the maker of the shared references (physics.md 1.2); the
live library is asked for more. Its water has the other heat-capacity constant, 4.1289.
"""

import pytest
from CoolProp import CoolProp

from fairsmoke.physics import food
from fairsmoke.physics.food import Property

ROWS = {
    # °C, then conductivity, density, heat capacity in J/(kg·K)
    "water": {5: (0.57973, 997.10, 4128.6), 20: (0.60366, 995.74, 4129.3),
              60: (0.65271, 983.84, 4143.2), 80: (0.66919, 973.38, 4156.7)},
    "protein": {5: (0.18472, 1327.3, 2014.2), 20: (0.20164, 1319.5, 2031.9),
                60: (0.24077, 1298.8, 2076.0), 80: (0.25708, 1288.4, 2096.5)},
    "fat": {5: (0.17933, 923.50, 1991.4), 20: (0.17512, 917.24, 2011.7),
            60: (0.16351, 900.54, 2055.3), 80: (0.15749, 892.18, 2071.3)},
    "carbohydrate": {20: (0.22743, 1592.9, 1585.7), 60: (0.26906, 1580.5, 1645.2),
                     80: (0.28468, 1574.3, 1667.8)},
    "fibre": {20: (0.20704, 1304.2, 1880.7), 60: (0.24689, 1289.5, 1939.0),
              80: (0.26301, 1282.2, 1962.6)},
    "ash": {5: (0.33655, 2422.4, 1102.0), 20: (0.35648, 2418.2, 1128.9),
            60: (0.40322, 2407.0, 1192.7), 80: (0.42310, 2401.3, 1220.2)},
}  # fmt: skip
LIBRARY = {
    "water": "FoodWater",
    "protein": "FoodProtein",
    "fat": "FoodFat",
    "carbohydrate": "FoodCarbohydrate",
    "fibre": "FoodFiber",
    "ash": "FoodAsh",
}
# What the library's constant takes off the heat capacity of water, 4176.2 − 4128.9.
WATER_TRAP = 47.3
CASES = [(name, temp) for name, rows in ROWS.items() for temp in rows]


def _trap(component: str) -> float:
    return WATER_TRAP if component == "water" else 0.0


@pytest.mark.parametrize(("component", "temp"), CASES)
def test_rows_as_read(component: str, temp: int) -> None:
    conductivity, density, capacity = ROWS[component][temp]
    found = food.component_property(component, "conductivity", temp)
    assert found == pytest.approx(conductivity, abs=1.01e-5)
    # The library prints one digit of density and heat capacity above 1000, two of density below.
    assert food.component_property(component, "density", temp) == pytest.approx(density, abs=0.06)
    found = food.component_property(component, "heat_capacity", temp) - _trap(component)
    assert found == pytest.approx(capacity, abs=0.06)


@pytest.mark.parametrize("temp", [1.0, 33.0, 71.0, 99.0, 121.0])
@pytest.mark.parametrize("component", LIBRARY)
def test_live_library(component: str, temp: float) -> None:
    # Above the boiling point the library wants pressure; it does not change the answers.
    kinds: tuple[tuple[Property, str], ...] = (
        ("conductivity", "L"),
        ("density", "D"),
        ("heat_capacity", "C"),
    )
    for which, letter in kinds:
        fluid = f"INCOMP::{LIBRARY[component]}"
        expected = CoolProp.PropsSI(letter, "T", temp + 273.15, "P", 1e6, fluid)
        found = float(food.component_property(component, which, temp))
        if which == "heat_capacity":
            found -= _trap(component)
        assert found == pytest.approx(expected, rel=2e-4)
