"""The compiled rates of a column against the same equations in whole-array NumPy.

Outside: SciPy's Brent method for the surfaces, NumPy's arithmetic for the cells; the formulation
is in temperature and share of water where the kernels keep heat and kilograms. The table of
properties is shared, so this says nothing about the properties themselves.
"""

import numpy as np
import pytest
from benchmarks.plain_physics import PlainColumn
from benchmarks.slab import LAYERS, SCALE, Column
from scipy.integrate import solve_ivp

from fairsmoke.cooking.cells import (
    CAPACITY,
    FAT_HEAT,
    MARBLED,
    RAW_WATER,
    RENDERS,
    SOLIDS,
    TEMP,
    WATER_HEAT,
)
from fairsmoke.cooking.tables import H_F, H_S, H_W, LOW_C, ROWS, STEP_K
from fairsmoke.physics.ranges import FloatArray

HOUR_S = 3600.0


def _integrated(column: Column, hours: float) -> FloatArray:
    scale = np.tile(SCALE, column.cells)
    found = solve_ivp(
        lambda _, packed: column.rates(packed * scale).ravel() / scale,
        (0.0, hours * HOUR_S),
        column.start.ravel() / scale,
        method="LSODA",
        rtol=1e-3,
        atol=1e-5,
        lband=2 * LAYERS - 1,
        uband=2 * LAYERS - 1,
    )
    # What has all gone the integrator may leave a rounding below nothing.
    return np.asarray(np.maximum((found.y[:, -1] * scale).reshape(column.cells, LAYERS), 0.0))


def _near_boiling(column: Column) -> FloatArray:
    """Return wet meat from 94 to 104 °C, which boils, first with a rounded onset.

    Its collagen and protein have changed: what that takes at once would drown all else.
    """
    temp, unknowns = np.linspace(94.03, 103.91, column.cells), column.start.copy()
    unknowns[:, 4:] = 0.0
    amounts = [column.shape.fixed[0, SOLIDS], unknowns[:, 1], unknowns[:, 2]]
    place = LOW_C + STEP_K * np.arange(ROWS)
    unknowns[:, 0] = sum(
        amount * np.interp(temp, place, column.table[:, k])
        for amount, k in zip(amounts, (H_S, H_W, H_F), strict=True)
    )
    return unknowns


@pytest.mark.parametrize("hours", [0.0, 1.0, 5.0, 20.0, None])
def test_the_kernels_rates_are_those_of_plain_arithmetic(hours: float | None) -> None:
    column, plain = Column(), PlainColumn()
    # A lean slab has marbling alone: half of it is called seam here, so that every term works.
    for one in (column, plain.column):
        one.shape.fixed[0, MARBLED] *= 0.5
        one.shape.fixed[0, RENDERS] = 0.7
    if hours is None:
        unknowns = _near_boiling(column)
    else:
        unknowns = _integrated(column, hours) if hours else column.start
    # Twice: the surfaces start from the last answer, and are then solved to the last digits.
    column.rates(unknowns)
    ours = column.rates(unknowns)
    work, raw = column.room.works[0, 0], column.shape.fixed[0, RAW_WATER]
    packed = unknowns.copy()
    packed[:, 0] = work[TEMP] / plain.TEMP_SCALE
    packed[:, 1] = unknowns[:, 1] / raw
    theirs = plain.field(0.0, packed.ravel()).reshape(column.cells, LAYERS)
    theirs[:, 1] *= raw
    theirs[:, 0] *= plain.TEMP_SCALE * work[CAPACITY]
    theirs[:, 0] += work[WATER_HEAT] * theirs[:, 1] + work[FAT_HEAT] * theirs[:, 2]
    for layer in range(LAYERS):
        size = max(np.abs(theirs[:, layer]).max(), 1e-15)
        np.testing.assert_allclose(ours[:, layer], theirs[:, layer], rtol=1e-6, atol=1e-8 * size)
