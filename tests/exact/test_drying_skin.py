"""Vapour through a drying skin: the film, the skin and every dried cell in series.

A steady flow through resistances in series is the whole difference of vapour pressure over their
sum (any textbook of heat and mass transfer). A profile of moisture is marched by hand from wet meat
outwards so that one flow passes every dried cell; the solver must then leave those cells as they
are, and let off at the skin what film, skin and crust let through.
"""

import numpy as np
import pytest
from scipy.optimize import brentq

from fairsmoke.cooking import tables
from fairsmoke.cooking.body import Body, MeasuredPiece, one_column
from fairsmoke.cooking.cells import DEPTH, RAW_WATER, SOLIDS
from fairsmoke.cooking.constants import DEFAULT, PAR, parameters
from fairsmoke.cooking.stepping import FAT, HEAT, HOLDS, WATER, evaluate, make_room
from fairsmoke.cooking.surface import SIDE, SIDE_LENGTH, solve_side
from fairsmoke.physics import air, surface
from fairsmoke.physics.ranges import FloatArray

WARM_C, PRESSURE_PA = 60.0, 101_325.0
DRIED = 5
"""Cells at the top that are dry."""


def meat() -> Body:
    return one_column(MeasuredPiece("slab", 4.0, 0.4, 0.25, 0.04, cap_m=0.0, start_c=WARM_C))


def rates(body: Body, moisture: FloatArray, permeability: float) -> tuple[FloatArray, FloatArray]:
    """Return what the top cells gain (kg/m²s) and the depth of all cells, in dry air at 60 °C."""
    par = parameters(DEFAULT)
    par[PAR.crust_permeability] = permeability
    # No liquid, no juice and no boiling: vapour is all that moves.
    par[PAR.diffusivity_scale], par[PAR.drain], par[PAR.boil] = 1e-9, 0.0, 0.0
    table = tables.build(DEFAULT)
    sides, liquid = np.zeros((3, SIDE_LENGTH)), np.zeros(2)
    sides[:, SIDE.convection_w_m2k], sides[:, SIDE.gap_share] = 8.0, 1.0
    sides[:, SIDE.air_c] = sides[:, SIDE.wall_c] = WARM_C
    sides[:, SIDE.pressure_pa], sides[:, SIDE.wrap_resistance] = PRESSURE_PA, 1e15
    state, fixed = body.state.copy(), body.shape.fixed[0]
    state[WATER, 0, :DRIED], state[HOLDS, 0] = moisture * fixed[SOLIDS, :DRIED], 2.0
    row = table[int((WARM_C - tables.LOW_C) / tables.STEP_K)]
    state[HEAT, 0] = fixed[SOLIDS] * row[tables.H_S] + state[WATER, 0] * row[tables.H_W]
    state[HEAT, 0] += state[FAT, 0] * row[tables.H_F]
    room, rate = make_room(1, state.shape[2], WARM_C), np.zeros_like(state)
    assert evaluate(table, par, sides, liquid, body.shape, state, room, 0, rate)
    return rate[WATER, 0, :DRIED], room.works[0, 0, DEPTH]


def over(moisture: float) -> float:
    """Return the vapour pressure over meat of this moisture at 60 °C (Pa)."""
    return float(surface.water_activity(moisture)) * float(air.saturation_pressure_pa(WARM_C))


@pytest.mark.parametrize("permeability", [2e-11, 2e-10])
def test_one_flow_passes_all_dried_cells(permeability: float) -> None:
    body, table = meat(), tables.build(DEFAULT)
    fixed, fat = body.shape.fixed[0], body.state[FAT, 0]
    row = table[int((WARM_C - tables.LOW_C) / tables.STEP_K)]
    wet = float(fixed[RAW_WATER, DRIED] / fixed[SOLIDS, DRIED])
    flow = 0.02 * permeability * over(wet) / float(rates(body, np.full(DRIED, 0.4), 1.0)[1][0])

    def cell(i: int, moisture: float) -> tuple[float, float]:
        """Depth and permeability: what is not fat to the power 3/2, dried to the power 2."""
        volume = fixed[SOLIDS, i] * (row[tables.V_S] + moisture * row[tables.V_W])
        whole = volume + fat[i] * row[tables.V_F]
        dried = max(0.0, 1.0 - moisture / DEFAULT.crust_moisture_kg_kg)
        return float(whole), float(permeability * dried**2 * (volume / whole) ** 1.5)

    moisture, inner = np.zeros(DRIED), wet
    for i in range(DRIED - 1, -1, -1):

        def passes(outer: float, i: int = i, inner: float = inner) -> float:
            (one, lets), (two, lets_in) = cell(i, outer), cell(i + 1, inner)
            return (over(inner) - over(outer)) * (lets + lets_in) / (one + two) - flow

        inner = brentq(passes, 1e-4, 0.79999)
        moisture[i] = inner
    gained, depth = rates(body, moisture, permeability)
    assert depth[:DRIED] == pytest.approx([cell(i, m)[0] for i, m in enumerate(moisture)], rel=1e-3)
    # What comes into the outermost stays in it here (a tight wrap), the others pass it on.
    assert gained[0] == pytest.approx(flow, rel=5e-3)
    assert np.abs(gained[1:]) == pytest.approx(0.0, abs=5e-3 * flow)


def test_a_skin_and_a_dried_outer_half_cell_stand_before_the_film() -> None:
    """Dry air at 60 °C, h 8: what the film takes at the pressure behind both is what passes."""
    table = tables.build(DEFAULT)
    side = np.array([8.0, 0.0, 0.0, 1.0, WARM_C, WARM_C, 0.0, PRESSURE_PA, 0.0])
    for resistance in (0.0, 1e7, 4e7, 2e8):
        cell = np.array([WARM_C, 0.2, 400.0, 1e6, 3.4, 0.0, 0.0, resistance, 1.0, 1.0, 0.0, 0.0])
        guess, out = np.array([WARM_C, 1e-5]), np.zeros(6)
        assert solve_side(table, side, cell, guess, out)
        behind = surface.water_activity(0.2 * 3.4) * air.saturation_pressure_pa(guess[0])
        at_skin = float(behind) - out[3] * resistance
        film = surface.evaporation_kg_m2s(8.0, at_skin, 0.0, PRESSURE_PA)
        assert out[3] == pytest.approx(float(film), rel=3e-3)
