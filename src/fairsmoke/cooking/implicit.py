"""The linear solves of one time step: heat and water of a column together, heat along the length.

With A the slopes of all rates and γ·τ = g, a stage solves (1 − g·A_z)(1 − g·A_y)(1 − g·A_x)·k = r:
A_z holds what happens through the thickness, surfaces included, A_y and A_x heat between columns.
"""

from fairsmoke.cooking.cells import (
    BOIL_BY_WATER,
    BOIL_HEAT,
    BOIL_SLOPE,
    CAPACITY,
    DRAIN_SLOPE,
    DRAWN_TOP,
    FAT_HEAT,
    HEAT_BY_NEXT_T,
    HEAT_BY_NEXT_W,
    HEAT_BY_T,
    HEAT_BY_W,
    IN_TOP,
    JUICE_BOTTOM,
    JUICE_TOP,
    OUT_HEAT,
    PLACE,
    STEAM,
    VAPOUR_TOP,
    WATER_BY_NEXT_T,
    WATER_BY_NEXT_W,
    WATER_BY_T,
    WATER_BY_W,
    WATER_HEAT,
)
from fairsmoke.cooking.compiled import kernel
from fairsmoke.cooking.constants import PAR
from fairsmoke.physics.ranges import FloatArray

# Rows of a factored column: inverse of the diagonal block (4), lower block (4), upper block times
# that inverse (4), heat capacity, heat of water and of fat.
FACTOR = 15


@kernel
def factor(g: float, work: FloatArray, slopes: FloatArray, lu: FloatArray) -> None:
    """Factor the block-tridiagonal matrix of one column in the unknowns (temperature, water)."""
    cells = lu.shape[1]
    for i in range(cells):
        capacity, water_heat = work[CAPACITY, i], work[WATER_HEAT, i]
        d11 = capacity + g * work[BOIL_SLOPE, i] * work[BOIL_HEAT, i]
        d12 = water_heat + g * water_heat * work[DRAIN_SLOPE, i]
        d12 += g * work[BOIL_BY_WATER, i] * work[BOIL_HEAT, i]
        d21 = g * work[BOIL_SLOPE, i]
        d22 = 1.0 + g * (work[DRAIN_SLOPE, i] + work[BOIL_BY_WATER, i])
        for turn in range(3):
            f = turn if turn < 2 else 2 + i
            if (f == 0 and i > 0) or (f == 1 and i < cells - 1) or f >= slopes.shape[0]:
                continue
            d11 += g * (water_heat * slopes[f, 4] - slopes[f, 0])
            d12 += g * (water_heat * slopes[f, 5] - slopes[f, 1])
            d21 += g * slopes[f, 4]
            d22 += g * slopes[f, 5]
        if i < cells - 1:
            d11 += g * work[HEAT_BY_T, i]
            d12 += g * work[HEAT_BY_W, i]
            d21 += g * work[WATER_BY_T, i]
            d22 += g * work[WATER_BY_W, i]
        if i > 0:
            before = i - 1
            d11 -= g * work[HEAT_BY_NEXT_T, before]
            d12 -= g * work[HEAT_BY_NEXT_W, before]
            d21 -= g * work[WATER_BY_NEXT_T, before]
            d22 -= g * work[WATER_BY_NEXT_W, before]
            l11, l12 = -g * work[HEAT_BY_T, before], -g * work[HEAT_BY_W, before]
            l21, l22 = -g * work[WATER_BY_T, before], -g * work[WATER_BY_W, before]
            lu[4, i], lu[5, i], lu[6, i], lu[7, i] = l11, l12, l21, l22
            d11 -= l11 * lu[8, before] + l12 * lu[10, before]
            d12 -= l11 * lu[9, before] + l12 * lu[11, before]
            d21 -= l21 * lu[8, before] + l22 * lu[10, before]
            d22 -= l21 * lu[9, before] + l22 * lu[11, before]
        inverse = 1.0 / (d11 * d22 - d12 * d21)
        a, b, c, d = d22 * inverse, -d12 * inverse, -d21 * inverse, d11 * inverse
        lu[0, i], lu[1, i], lu[2, i], lu[3, i] = a, b, c, d
        if i < cells - 1:
            u11, u12 = g * work[HEAT_BY_NEXT_T, i], g * work[HEAT_BY_NEXT_W, i]
            u21, u22 = g * work[WATER_BY_NEXT_T, i], g * work[WATER_BY_NEXT_W, i]
            lu[8, i], lu[9, i] = a * u11 + b * u21, a * u12 + b * u22
            lu[10, i], lu[11, i] = c * u11 + d * u21, c * u12 + d * u22
        lu[12, i], lu[13, i], lu[14, i] = capacity, water_heat, work[FAT_HEAT, i]


@kernel
def solve_column(
    lu: FloatArray,
    k_heat: FloatArray,
    k_water: FloatArray,
    k_fat: FloatArray,
    k_temp: FloatArray,
) -> None:
    """Replace right-hand sides by the answer in place; `k_temp` gets the rate of temperature."""
    cells = k_heat.size
    for i in range(cells):
        r1, r2 = k_heat[i] - lu[14, i] * k_fat[i], k_water[i]
        if i > 0:
            r1 -= lu[4, i] * k_temp[i - 1] + lu[5, i] * k_water[i - 1]
            r2 -= lu[6, i] * k_temp[i - 1] + lu[7, i] * k_water[i - 1]
        k_temp[i] = lu[0, i] * r1 + lu[1, i] * r2
        k_water[i] = lu[2, i] * r1 + lu[3, i] * r2
    for i in range(cells - 2, -1, -1):
        t, w = k_temp[i + 1], k_water[i + 1]
        k_temp[i] -= lu[8, i] * t + lu[9, i] * w
        k_water[i] -= lu[10, i] * t + lu[11, i] * w
    for i in range(cells):
        k_heat[i] = lu[12, i] * k_temp[i] + lu[13, i] * k_water[i] + lu[14, i] * k_fat[i]


@kernel
def total_slopes(
    g: float,
    par: FloatArray,
    fixed: FloatArray,
    work: FloatArray,
    slopes: FloatArray,
    k_temp: FloatArray,
    k_water: FloatArray,
    k_totals: FloatArray,
) -> None:
    """Add to the boundary totals of a stage what the cells' own change adds, g·A·k.

    The same slopes as in `factor`, so that what the cells lose is what the totals gain.
    """
    cells = k_temp.size
    for i in range(cells):
        drain = g * work[DRAIN_SLOPE, i] * k_water[i]
        boil = g * (work[BOIL_SLOPE, i] * k_temp[i] + work[BOIL_BY_WATER, i] * k_water[i])
        place = fixed[PLACE, i]
        down = place + (par[PAR.drain_down] - 0.5) * (1.0 - abs(2.0 * place - 1.0))
        k_totals[JUICE_TOP] += drain * (1.0 - down)
        k_totals[JUICE_BOTTOM] += drain * down
        k_totals[STEAM] += boil
        k_totals[OUT_HEAT] += drain * work[WATER_HEAT, i] + boil * work[BOIL_HEAT, i]
    for f in range(slopes.shape[0]):
        i, s = f - 2, 0
        if f == 0:
            i = 0
        elif f == 1:
            i, s = cells - 1, 1
        drawn = g * (slopes[f, 4] * k_temp[i] + slopes[f, 5] * k_water[i])
        k_totals[IN_TOP + s] += g * (slopes[f, 0] * k_temp[i] + slopes[f, 1] * k_water[i])
        k_totals[DRAWN_TOP + s] += drawn
        k_totals[VAPOUR_TOP + s] += g * (slopes[f, 2] * k_temp[i] + slopes[f, 3] * k_water[i])
        k_totals[OUT_HEAT] += drawn * work[WATER_HEAT, i]


@kernel
def solve_line(
    g: float,
    first: int,
    stride: int,
    count: int,
    plan_m2: FloatArray,
    across_w_k: FloatArray,
    lu: FloatArray,
    k_heat: FloatArray,
    k_water: FloatArray,
    k_fat: FloatArray,
    k_temp: FloatArray,
    upper: FloatArray,
) -> None:
    """Solve heat along one line of columns for every layer, in place.

    The line is `count` columns from `first` in steps of `stride`; `across_w_k` is the conductance
    (W/K) from each column to the next of the line.
    """
    # Column by column with the cells innermost: neighbours in memory, four or eight at once.
    cells = k_heat.shape[1]
    for m in range(count):
        c = first + m * stride
        plan, more = plan_m2[c], m < count - 1
        capacity, water_heat, fat_heat = lu[c, 12], lu[c, 13], lu[c, 14]
        heat, water, fat, temp = k_heat[c], k_water[c], k_fat[c], k_temp[c]
        conducts, over = across_w_k[c], upper[m]
        if m == 0:
            for i in range(cells):
                after = g * conducts[i] if more else 0.0
                diagonal = capacity[i] * plan + after
                carried = water_heat[i] * water[i] + fat_heat[i] * fat[i]
                over[i] = after / diagonal
                temp[i] = plan * (heat[i] - carried) / diagonal
        else:
            conducts_before, over_before = across_w_k[c - stride], upper[m - 1]
            temp_before = k_temp[c - stride]
            for i in range(cells):
                after = g * conducts[i] if more else 0.0
                before = g * conducts_before[i]
                diagonal = capacity[i] * plan + after + (before - before * over_before[i])
                carried = water_heat[i] * water[i] + fat_heat[i] * fat[i]
                over[i] = after / diagonal
                temp[i] = (plan * (heat[i] - carried) + before * temp_before[i]) / diagonal
    for m in range(count - 2, -1, -1):
        c = first + m * stride
        temp, temp_after, over = k_temp[c], k_temp[c + stride], upper[m]
        for i in range(cells):
            temp[i] += over[i] * temp_after[i]
    for m in range(count):
        c = first + m * stride
        heat, water, fat, temp = k_heat[c], k_water[c], k_fat[c], k_temp[c]
        capacity, water_heat, fat_heat = lu[c, 12], lu[c, 13], lu[c, 14]
        for i in range(cells):
            carried = water_heat[i] * water[i] + fat_heat[i] * fat[i]
            heat[i] = capacity[i] * temp[i] + carried
