"""Dried solids at a surface, against lines worked out by hand and their limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fairsmoke.cooking.cells import CRUST_KG_KG
from fairsmoke.cooking.crust import dried_kg_m2


@pytest.mark.parametrize("cells", [20, 200, 2000])
def test_a_straight_line_of_moisture_ends_where_the_line_does(cells: int) -> None:
    """Moisture 0.4 at the surface, 2.4 at 10 kg/m²: passes 0.8 at 2 kg/m², on any grid."""
    middle = (np.arange(cells) + 0.5) * 10.0 / cells
    solids = np.full(cells, 10.0 / cells)
    assert float(dried_kg_m2(0.4 + 0.2 * middle, solids)) == pytest.approx(2.0, rel=1e-12)


def test_a_curve_is_met_better_on_a_finer_grid() -> None:
    """Moisture 0.2 + x²/10 passes 0.8 at √6 kg/m²; the miss falls with the square of the cell."""
    misses = []
    for cells in (25, 50, 100):
        middle = (np.arange(cells) + 0.5) * 10.0 / cells
        got = dried_kg_m2(0.2 + middle**2 / 10.0, np.full(cells, 10.0 / cells))
        misses.append(abs(float(got) - 6.0**0.5))
    assert misses[-1] < 1e-3
    assert misses[2] < misses[0] / 4


def test_no_crust_where_the_surface_is_wet_and_all_where_nothing_is() -> None:
    solids = np.array([0.1, 0.2, 0.3])
    assert float(dried_kg_m2(np.array([3.0, 2.9, 2.8]), solids)) == 0.0
    assert float(dried_kg_m2(np.array([0.9, 3.0, 3.0]), solids)) < 0.05
    assert float(dried_kg_m2(np.array([0.1, 0.1, 0.1]), solids)) == pytest.approx(0.6)


@given(st.floats(0.0, 3.0), st.floats(0.0, 3.0))
def test_drier_never_means_less_crust_and_never_jumps(first: float, second: float) -> None:
    """Each cell moves by at most its own size over 3 kg/kg, and no way back."""
    solids = np.array([0.1, 0.2, 0.3])
    low, high = sorted((first, second))

    def crust(outermost: float) -> float:
        return float(dried_kg_m2(np.array([outermost, 3.0, 3.2]), solids))

    assert crust(low) >= crust(high)
    near = np.linspace(CRUST_KG_KG - 1e-6, CRUST_KG_KG + 1e-6, 3)
    assert np.ptp([crust(float(m)) for m in near]) < 1e-6
