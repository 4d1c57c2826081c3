"""One stage as the kernels read it, and the air that it puts around a piece."""

from typing import NamedTuple

import numpy as np

from fairsmoke.cooking.compiled import kernel
from fairsmoke.cooking.surface import SIDE, look_up
from fairsmoke.cooking.tables import VAPOUR_PA
from fairsmoke.physics.air import CP_DRY_AIR_J_KGK, VAPOUR_TO_AIR
from fairsmoke.physics.ranges import FloatArray


class StageRow(NamedTuple):
    """Places in the vector of one stage."""

    air_c: int = 0
    ramp_s: int = 1
    measured: int = 2
    wall_above_k: int = 3
    wall_below_k: int = 4
    convection_above: int = 5
    convection_below: int = 6
    emissivity_above: int = 7
    emissivity_below: int = 8
    resistance_above: int = 9
    resistance_below: int = 10
    gap_above: int = 11
    gap_below: int = 12
    wet_above: int = 13
    wet_below: int = 14
    keeps_kg_m2: int = 15
    ratio: int = 16
    exchange_kg_s: int = 17
    end_core_c: int = 18
    end_elapsed_s: int = 19
    end_clock_s: int = 20
    adds_liquid_kg: int = 21
    adds_fat_kg: int = 22
    pours: int = 23
    wetting_kg_m2s: int = 24
    bias_k: int = 25
    in_cooker: int = 26
    fat_closes_above: int = 27
    fat_closes_below: int = 28
    preheated: int = 29


ROW = StageRow()
STAGE_LENGTH = 30


@kernel
def mean_air(
    row: FloatArray, past: FloatArray, start_s: float, from_c: float, t: float, dt: float
) -> float:
    """Return the mean air temperature of a step: exact for a set point's approach or a record.

    `past` is a measured record as rows of time, temperature and its integral so far.
    """
    if row[ROW.measured] > 0.0:
        return float(row[ROW.bias_k] + (_integral(past, t + dt) - _integral(past, t)) / dt)
    ramp, aim = row[ROW.ramp_s], row[ROW.air_c] + row[ROW.bias_k]
    if ramp <= 0.0:
        return float(aim)
    left = np.exp(-(t - start_s) / ramp) * (1.0 - np.exp(-dt / ramp)) * ramp / dt
    return float(aim + (from_c - aim) * left)


@kernel
def lid_falls(row: FloatArray, lids: FloatArray, t: float, dt: float) -> float:
    """Return by how much opened lids lower the mean air temperature of a step.

    A measured pit history has them in it already.
    """
    fall = 0.0
    if row[ROW.measured] > 0.0 or row[ROW.in_cooker] <= 0.0:
        return fall
    for k in range(lids.shape[0]):
        since, depth, recover = t - lids[k, 0], lids[k, 1], lids[k, 2]
        if since + dt > 0.0:
            left = np.exp(-max(since, 0.0) / recover) - np.exp(-(since + dt) / recover)
            fall += depth * left * recover / dt
    return fall


@kernel
def _integral(past: FloatArray, t: float) -> float:
    last = past.shape[1] - 1
    if t <= past[0, 0]:
        return float(past[1, 0] * (t - past[0, 0]))
    if t >= past[0, last]:
        return float(past[2, last] + past[1, last] * (t - past[0, last]))
    low, high = 0, last
    while high - low > 1:
        middle = (low + high) // 2
        if past[0, middle] <= t:
            low = middle
        else:
            high = middle
    gone = t - past[0, low]
    slope = (past[1, high] - past[1, low]) / (past[0, high] - past[0, low])
    return float(past[2, low] + gone * (past[1, low] + 0.5 * slope * gone))


@kernel
def humid(
    row: FloatArray,
    table: FloatArray,
    pressure_pa: float,
    air_c: float,
    ratio: float,
    flow_kg_s: float,
    area_m2: float,
) -> float:
    """Return the humidity ratio of the air: what streams in, and the piece's own vapour in it.

    One damped Newton step towards the balance: more vapour in the air slows its own source.
    """
    fresh, through = row[ROW.ratio], row[ROW.exchange_kg_s]
    if through <= 0.0:
        return float(fresh)
    slowed = area_m2 * row[ROW.convection_above] / CP_DRY_AIR_J_KGK / through
    return max(0.0, float(ratio + (fresh + flow_kg_s / through - ratio) / (1.0 + slowed)))


@kernel
def set_sides(
    row: FloatArray,
    air_c: float,
    ratio: float,
    pressure_pa: float,
    table: FloatArray,
    fat_kg_m2: float,
    sides: FloatArray,
) -> None:
    """Set the conditions at both sides for a step. Air never holds more vapour than it can.

    `fat_kg_m2` is the fat kept in the wrap: it fills the pores of paper.
    """
    vapour = look_up(table, min(air_c, 199.0), VAPOUR_PA)[0]
    if vapour < 0.99 * pressure_pa:
        ratio = min(ratio, VAPOUR_TO_AIR * vapour / (pressure_pa - vapour))
    for s in range(2):
        sides[s, SIDE.convection_w_m2k] = row[ROW.convection_above + s]
        sides[s, SIDE.emissivity] = row[ROW.emissivity_above + s]
        closed = 1.0 + row[ROW.fat_closes_above + s] * fat_kg_m2
        sides[s, SIDE.wrap_resistance] = row[ROW.resistance_above + s] * closed
        sides[s, SIDE.gap_share] = row[ROW.gap_above + s]
        sides[s, SIDE.air_c] = air_c
        sides[s, SIDE.wall_c] = air_c + row[ROW.wall_above_k + s]
        sides[s, SIDE.air_ratio] = ratio
        sides[s, SIDE.pressure_pa] = pressure_pa
    sides[0, SIDE.wetting_kg_m2s] = row[ROW.wetting_kg_m2s]
    for k in range(sides.shape[1]):
        sides[2, k] = sides[0, k]
    # A rim sees as much of the walls above as of those below.
    sides[2, SIDE.wall_c] = 0.5 * (sides[0, SIDE.wall_c] + sides[1, SIDE.wall_c])
    sides[2, SIDE.wetting_kg_m2s] = 0.0
