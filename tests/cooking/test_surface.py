"""The compiled surface against the plain formulas of fairsmoke.physics."""

import numpy as np
import pytest

from fairsmoke.cooking import tables
from fairsmoke.cooking.constants import DEFAULT
from fairsmoke.cooking.surface import solve_side
from fairsmoke.physics import air, food, surface
from fairsmoke.physics.food import Composition
from fairsmoke.physics.ranges import FloatArray

TABLE = tables.build(DEFAULT)
WATER = Composition(1.0, 0.0, 0.0)
SIDE = np.array([8.0, 0.9, 0.0, 1.0, 121.0, 117.0, 0.03, 101_325.0, 0.0])


def solved(cell: FloatArray, side: FloatArray = SIDE) -> tuple[FloatArray, FloatArray]:
    guess, out = np.array([cell[0], 1e-5]), np.zeros(6)
    assert solve_side(TABLE, side, cell, guess, out)
    return guess, out


def cell_of(
    temp_c: float = 65.0,
    share: float = 0.5,
    juice: float = 0.0,
    liquid: float = 0.0,
    crust: float = 0.0,
) -> FloatArray:
    return np.array([temp_c, share, 400.0, 5e-4, 3.3, juice, liquid, crust, 1.0, 1.0, 0.0, 0.0])


@pytest.mark.parametrize("temp_c", [4.0, 40.0, 65.0, 85.0])
@pytest.mark.parametrize("share", [0.05, 0.3, 1.0])
@pytest.mark.parametrize("juice", [0.0, 1e-4])
@pytest.mark.parametrize("crust", [0.0, 3e7])
def test_solution_balances_by_the_plain_formulas(
    temp_c: float, share: float, juice: float, crust: float
) -> None:
    cell = cell_of(temp_c, share, juice, crust=crust)
    (skin_c, rate), out = solved(cell)
    drawn = max(rate - juice, 0.0)
    moisture = (share - drawn / cell[3]) * cell[4]
    vapour = surface.water_activity(max(moisture, 0.0)) * air.saturation_pressure_pa(skin_c)
    ambient = air.vapour_pressure_pa(0.03, 101_325.0)
    # A dry crust (Pa·m²·s/kg) takes its share of the fall in vapour pressure, as resistances do.
    outside = vapour - rate * crust
    expected = surface.evaporation_kg_m2s(8.0, outside, ambient, 101_325.0)
    assert rate == pytest.approx(float(expected), rel=2e-3, abs=2e-7)
    heat = surface.convective_heat_w_m2(8.0, 121.0, skin_c, rate)
    heat = heat + surface.radiative_heat_w_m2(117.0, skin_c, 0.9)
    warmed = food.sensible_enthalpy_j_kg([skin_c, temp_c], WATER)
    taken = rate * (air.latent_heat_j_kg(skin_c) + warmed[0] - warmed[1])
    assert out[0] == pytest.approx(float(heat - taken), rel=1e-3, abs=0.5)


@pytest.mark.parametrize("place", [0, 1])
@pytest.mark.parametrize("share", [0.1, 0.6])
def test_slopes_agree_with_differences(place: int, share: float) -> None:
    cell = cell_of(share=share)
    small = 1e-3 if place == 0 else 1e-6
    up, down = cell.copy(), cell.copy()
    up[place] += small
    down[place] -= small
    found = (solved(up)[1] - solved(down)[1])[[0, 3]] / (2 * small)
    out = solved(cell)[1]
    assert out[[1 + place, 4 + place]] == pytest.approx(found, rel=0.02)


def test_tighter_wrap_lets_less_vapour_through() -> None:
    rates = []
    for permeance in (1e-6, 1e-8, 3e-9, 5e-11):
        side = SIDE.copy()
        side[2] = 1.0 / permeance
        rates.append(solved(cell_of(), side)[0][1])
    assert np.all(np.diff(rates) < 0)
    assert 0 < rates[-1] < 5e-6


def test_cold_meat_in_moist_air_gets_dew() -> None:
    (_, rate), _ = solved(cell_of(temp_c=4.0, share=1.0))
    assert rate < 0
