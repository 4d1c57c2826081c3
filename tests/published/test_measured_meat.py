"""Measured thermal properties of meat against the composition equations.

Heat capacities: James & James, Meat Refrigeration, table 13.2 (after Morley 1972), read. Beef
slab: textbook example (k 0.47 W/(m·K), density 1090 kg/m³, 3.54 kJ/(kg·K), 0.13e-6 m²/s), read.
Conductivity across the fibres 0.48–0.50 W/(m·K): from memory. The equations are known to miss
single measurements by several percent, so the tolerances are wide and said.
"""

import pytest

from fairsmoke.physics import food
from fairsmoke.physics.food import Composition

LEAN = Composition(water=0.7376, protein=0.2157, fat=0.0384, ash=0.0101)


def _fatty(water: float) -> Composition:
    """Return meat whose lean has the makeup of LEAN and whose rest is fat."""
    lean = water / 0.7671
    return Composition(water, 0.2243 * lean, 1.0 - lean, 0.0086 * lean)


@pytest.mark.parametrize(
    ("water", "temp_c", "measured"),
    [(0.745, 5.0, 3.60), (0.733, 9.0, 3.52), (0.72, 50.0, 3.43), (0.57, 50.0, 3.06),
     (0.51, 50.0, 2.89)],
)  # fmt: skip
def test_heat_capacity_of_beef_and_pork(water: float, temp_c: float, measured: float) -> None:
    # The old averages over 0 to 100 °C for fatty meat lie up to 9 % below the equations.
    found = float(food.heat_capacity_j_kgk(temp_c, _fatty(water))) / 1000
    assert found == pytest.approx(measured, rel=0.09)
    assert found > measured * 0.99


def test_textbook_beef_slab() -> None:
    assert food.density_kg_m3(30.0, LEAN) == pytest.approx(1090.0, rel=0.05)
    assert food.heat_capacity_j_kgk(30.0, LEAN) == pytest.approx(3540.0, rel=0.03)
    assert food.conductivity_w_mk(5.0, LEAN) == pytest.approx(0.47, rel=0.03)
    assert food.diffusivity_m2_s(30.0, LEAN, "parallel") == pytest.approx(0.13e-6, rel=0.08)
    assert food.diffusivity_m2_s(30.0, LEAN) == pytest.approx(0.13e-6, rel=0.05)


def test_conductivity_across_the_fibres_of_lean_beef() -> None:
    assert 0.48 * 0.96 < food.conductivity_w_mk(5.0, LEAN, "across") < 0.50
    assert food.conductivity_w_mk(5.0, LEAN, "series") < 0.40
