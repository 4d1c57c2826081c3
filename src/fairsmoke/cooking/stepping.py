"""One time step of a whole piece: two linearly implicit stages of second order.

Rosenbrock's method with two stages and γ = 1 − 1/√2 (ROS2, Verwer et al. 1999, from memory): of
second order whatever slopes A the linear solves use, damps stiff parts when they are exact. The
difference from its own first stage (first order) is the estimate of the error.
"""

from typing import NamedTuple

import numpy as np

from fairsmoke.cooking.cells import (
    CONDUCTIVITY,
    DEPTH,
    RAW_WATER,
    SCRATCH,
    TEMP,
    TOTALS,
    WATER_HEAT,
    exchange,
    fill_cells,
    flows,
)
from fairsmoke.cooking.compiled import kernel
from fairsmoke.cooking.constants import PAR
from fairsmoke.cooking.implicit import FACTOR, factor, solve_column, solve_line, total_slopes
from fairsmoke.cooking.surface import SIDE, look_up
from fairsmoke.cooking.tables import ACTIN, FIRMED, MYOSIN
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.physics.water import held_share

GAMMA = 1.0 - np.sqrt(0.5)

# Layers of the state: heat content (J/m²), water and fat (kg/m²), share of the raw water that the
# fibres hold, native myosin and actin (shares), how far the network has tightened (share).
HEAT, WATER, FAT, HOLDS, MYOSIN_IN, ACTIN_IN, FIRM = 0, 1, 2, 3, 4, 5, 6
STATE = 7

_GONE = 1e-9
_held_share = kernel(held_share)


# A step that changes any cell by more than this in its first stage is cut without further work.
_JUMP_C = 60.0
_FULL_WEIGHT_M, _LEAST_WEIGHT = 0.0015, 0.4
_TRACE, _MOST_LENT = 1e-4, 0.02
_REFUSED = 1e6


class Shape(NamedTuple):
    """What of a piece does not change: columns × rows of cells.FIXED × cells, and its areas.

    Columns stand in a grid of `across` strips over the width by any number along the length, strip
    by strip. `face` (columns × cells + 1): area between cells as a share of the surface; `plan_m2`:
    surface of one side of each column; `lateral_m` (2 × columns × cells): cross-section over
    distance to the next column along the length (0) and across (1), nothing at the last. `rim`:
    open area beside each cell per m² of one side; `rim_half_m`: how far from it the middle lies.
    """

    fixed: FloatArray
    face: FloatArray
    plan_m2: FloatArray
    lateral_m: FloatArray
    rim: FloatArray
    rim_half_m: FloatArray
    across: int


class Room(NamedTuple):
    """Arrays that a step works in."""

    new: FloatArray
    one: FloatArray
    two: FloatArray
    temps: FloatArray
    works: FloatArray
    guesses: FloatArray
    totals: FloatArray
    slopes: FloatArray
    lateral_w_k: FloatArray
    lu: FloatArray
    upper: FloatArray
    cell: FloatArray
    out: FloatArray


def make_room(columns: int, cells: int, start_c: float, rimmed: bool = False) -> Room:
    """Return working space for a piece that starts near `start_c`."""
    works = np.full((2, columns, SCRATCH, cells), start_c)
    faces = 2 + cells if rimmed else 2
    guesses = np.zeros((columns, faces, 2))
    guesses[:, :, 0] = start_c
    return Room(
        np.zeros((STATE, columns, cells)),
        np.zeros((STATE, columns, cells)),
        np.zeros((STATE, columns, cells)),
        np.zeros((2, columns, cells)),
        works,
        guesses,
        np.zeros((3, columns, TOTALS)),
        np.zeros((2, columns, faces, 6)),
        np.zeros((2, columns, cells)),
        np.zeros((columns, FACTOR, cells)),
        np.zeros((columns, cells)),
        np.zeros(12),
        np.zeros(6),
    )


@kernel
def evaluate(
    table: FloatArray,
    par: FloatArray,
    sides: FloatArray,
    liquid: FloatArray,
    shape: Shape,
    state: FloatArray,
    room: Room,
    stage: int,
    rate: FloatArray,
) -> bool:
    """Set the rates of heat, water and fat of every cell and the boundary totals of a stage."""
    columns, cells = state.shape[1], state.shape[2]
    works = room.works[stage]
    fine = True
    for c in range(columns):
        work, totals, held = works[c], room.totals[stage, c], state[HOLDS, c]
        fixed, fat = shape.fixed[c], state[FAT, c]
        pressure = sides[0, SIDE.pressure_pa]
        fill_cells(table, par, pressure, fixed, state[HEAT, c], state[WATER, c], fat, held, work)
        d_heat, d_water = rate[HEAT, c], rate[WATER, c]
        flows(table, par, fixed, shape.face[c], fat, work, d_heat, d_water, rate[FAT, c], totals)
        if not exchange(
            table,
            par,
            fixed,
            shape.rim[c],
            shape.rim_half_m[c],
            sides,
            liquid,
            held,
            room.guesses[c],
            work,
            d_heat,
            d_water,
            totals,
            room.slopes[stage, c],
            room.cell,
            room.out,
        ):
            fine = False
    for way in range(2):
        stride = shape.across if way == 0 else 1
        for c in range(columns - stride):
            n = c + stride
            spread, spread_n = works[c, CONDUCTIVITY], works[n, CONDUCTIVITY]
            temp, temp_n = works[c, TEMP], works[n, TEMP]
            lateral, conducts = shape.lateral_m[way, c], room.lateral_w_k[way, c]
            heat, heat_n = rate[HEAT, c], rate[HEAT, n]
            plan, plan_n = shape.plan_m2[c], shape.plan_m2[n]
            for i in range(cells):
                conducts[i] = lateral[i] * (0.5 * (spread[i] + spread_n[i]))
                heat_w = conducts[i] * (temp[i] - temp_n[i])
                heat[i] -= heat_w / plan
                heat_n[i] += heat_w / plan_n
    return fine


@kernel
def solve_stage(
    g: float, par: FloatArray, shape: Shape, room: Room, stage: int, k: FloatArray
) -> None:
    """Turn right-hand sides into answers, in place, with the slopes at the start."""
    columns = shape.plan_m2.size
    k_temp = room.temps[stage]
    for c in range(columns):
        solve_column(room.lu[c], k[HEAT, c], k[WATER, c], k[FAT, c], k_temp[c])
        total_slopes(
            g,
            par,
            shape.fixed[c],
            room.works[0, c],
            room.slopes[0, c],
            k_temp[c],
            k[WATER, c],
            room.totals[stage, c],
        )
    across = shape.across
    along = columns // across
    for way in range(2):
        count, lines = (along, across) if way == 0 else (across, along)
        if count == 1:
            continue
        for line in range(lines):
            solve_line(
                g,
                line if way == 0 else line * across,
                across if way == 0 else 1,
                count,
                shape.plan_m2,
                room.lateral_w_k[way],
                room.lu,
                k[HEAT],
                k[WATER],
                k[FAT],
                k_temp,
                room.upper,
            )


@kernel
def settle(
    table: FloatArray,
    par: FloatArray,
    dt_s: float,
    start: FloatArray,
    end: FloatArray,
    before: FloatArray,
    after: FloatArray,
) -> None:
    """Let the fibres' hold on water fall as protein denatures at the mean temperature of a step.

    It never rises again: cooked meat that cools does not drink its juice by itself.
    """
    for c in range(before.shape[1]):
        for i in range(before.shape[2]):
            middle = 0.5 * (start[c, TEMP, i] + end[c, TEMP, i])
            myosin, actin = before[MYOSIN_IN, c, i], before[ACTIN_IN, c, i]
            if myosin > _GONE:
                myosin *= np.exp(-dt_s * look_up(table, middle, MYOSIN)[0])
            if actin > _GONE:
                actin *= np.exp(-dt_s * look_up(table, middle, ACTIN)[0])
            firm = max(before[FIRM, c, i], look_up(table, middle, FIRMED)[0])
            after[MYOSIN_IN, c, i], after[ACTIN_IN, c, i], after[FIRM, c, i] = myosin, actin, firm
            after[HOLDS, c, i] = _held_share(
                myosin,
                actin,
                firm,
                par[PAR.lost_myosin],
                par[PAR.lost_actin],
                par[PAR.lost_firming],
            )


@kernel
def first_stage(dt_s: float, state: FloatArray, room: Room) -> bool:
    """Set the first-order estimate of the end of the step; return whether it can stand."""
    start, end = room.works[0], room.works[1]
    for c in range(state.shape[1]):
        for i in range(state.shape[2]):
            for layer in range(3):
                room.new[layer, c, i] = state[layer, c, i] + dt_s * room.one[layer, c, i]
            moved = dt_s * room.temps[0, c, i]
            end[c, TEMP, i] = start[c, TEMP, i] + moved
            if not abs(moved) < _JUMP_C:
                return False
    return True


@kernel
def lend_water(fixed: FloatArray, work: FloatArray, heat: FloatArray, water: FloatArray) -> bool:
    """Let cells that a step dried out by a trace too much borrow it from the next cell inside.

    With the heat that the water carries, so that nothing is made or lost. Return whether traces
    were enough.
    """
    cells = water.size
    for turn in range(cells - 1):
        i = turn if turn < cells // 2 else cells - 1 - (turn - cells // 2)
        inner = i + 1 if turn < cells // 2 else i - 1
        least = _TRACE * fixed[RAW_WATER, i]
        if water[i] < least:
            lent = least - water[i]
            if lent > _MOST_LENT * fixed[RAW_WATER, i]:
                return False
            carried = lent * work[WATER_HEAT, i]
            water[i] += lent
            water[inner] -= lent
            heat[i] += carried
            heat[inner] -= carried
    return bool(water[cells // 2] > 0.0)


@kernel
def second_stage(
    dt_s: float, state: FloatArray, shape: Shape, room: Room, tolerances: FloatArray
) -> float:
    """Set the end of the step and its totals; return the error against the tolerances."""
    one, two, new = room.one, room.two, room.new
    worst = 0.0
    for c in range(state.shape[1]):
        for i in range(state.shape[2]):
            for layer in range(3):
                change = 1.5 * one[layer, c, i] + 0.5 * two[layer, c, i]
                new[layer, c, i] = state[layer, c, i] + dt_s * change
            if new[FAT, c, i] < 0.0:
                return _REFUSED
            # Skins thinner than a millimetre and a half hold little: they count by their depth.
            weight = min(1.0, max(_LEAST_WEIGHT, room.works[0, c, DEPTH, i] / _FULL_WEIGHT_M))
            off_c = 0.5 * dt_s * abs(room.temps[0, c, i] + room.temps[1, c, i]) * weight
            off_kg = 0.5 * dt_s * abs(one[WATER, c, i] + two[WATER, c, i])
            off_share = off_kg / shape.fixed[c, RAW_WATER, i] * weight
            worst = max(worst, off_c / tolerances[0], off_share / tolerances[1])
        if not lend_water(shape.fixed[c], room.works[0, c], new[HEAT, c], new[WATER, c]):
            return _REFUSED
        for m in range(TOTALS):
            mean = 1.5 * room.totals[0, c, m] + 0.5 * room.totals[1, c, m]
            room.totals[2, c, m] = dt_s * mean
    return worst


@kernel
def step(
    table: FloatArray,
    par: FloatArray,
    sides: FloatArray,
    liquid: FloatArray,
    shape: Shape,
    dt_s: float,
    state: FloatArray,
    room: Room,
    tolerances: FloatArray,
) -> float:
    """Advance `state` by `dt_s` into room.new; return the error (1 = tolerance just met).

    `room.totals[2]` gets, per column and m² of one side, what passed the boundary. Returns a huge
    number where the step cannot stand (a surface without answer, water below nothing).
    """
    g = GAMMA * dt_s
    fine = evaluate(table, par, sides, liquid, shape, state, room, 0, room.one)
    for c in range(shape.plan_m2.size):
        factor(g, room.works[0, c], room.slopes[0, c], room.lu[c])
    solve_stage(g, par, shape, room, 0, room.one)
    if not (fine and first_stage(dt_s, state, room)):
        return _REFUSED
    settle(table, par, dt_s, room.works[0], room.works[1], state, room.new)
    if not evaluate(table, par, sides, liquid, shape, room.new, room, 1, room.two):
        return _REFUSED
    for c in range(shape.plan_m2.size):
        for i in range(state.shape[2]):
            for layer in range(3):
                room.two[layer, c, i] -= 2.0 * room.one[layer, c, i]
        for m in range(TOTALS):
            room.totals[1, c, m] -= 2.0 * room.totals[0, c, m]
    solve_stage(g, par, shape, room, 1, room.two)
    return second_stage(dt_s, state, shape, room, tolerances)
