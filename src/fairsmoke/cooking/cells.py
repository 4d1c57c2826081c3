"""The physics inside one column of cells: contents, flows between cells, and what leaves them.

A column is cut into cells from its top (0) to its bottom (nz − 1), each of which keeps its solids.
All amounts stand per m² of the column's surface at one side. Water is carried as a share of what
the raw cell held, so that cells of unlike composition rest side by side.
"""

import math

from fairsmoke.cooking.compiled import kernel
from fairsmoke.cooking.constants import PAR
from fairsmoke.cooking.surface import SIDE, look_up, solve_side, water_activity
from fairsmoke.cooking.tables import (
    ACROSS_F,
    ACROSS_S,
    ACROSS_W,
    ALONG_F,
    ALONG_S,
    ALONG_W,
    DIFFUSIVITY,
    FAT_HELD,
    H_F,
    H_S,
    H_W,
    LATENT,
    LOW_C,
    RENDER,
    ROWS,
    STEP_K,
    V_F,
    V_S,
    V_W,
    VAPOUR_PA,
)
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.physics.water import drying_slows

# Rows of the cells' scratch space.
TEMP, SHARE, CAPACITY, WATER_HEAT = 0, 1, 2, 3
HEAT_R, WATER_R, POTENTIAL, POTENTIAL_SLOPE = 4, 5, 6, 7
DRAIN, DRAIN_SLOPE, BOIL, BOIL_SLOPE, BOIL_HEAT = 8, 9, 10, 11, 12
CONDUCTIVITY, DEPTH, FAT_HEAT, BOIL_BY_WATER = 13, 14, 15, 16
# Vapour permeability (kg/(m·s·Pa)); vapour pressure over the cell's water and its slopes by
# temperature and by water (kg/m²), where it or a neighbour lets vapour through.
PERMEABILITY, PRESSURE, PRESSURE_BY_TEMP, PRESSURE_BY_WATER = 17, 18, 19, 20
# Water and heat that pass from a cell to the next, differentiated by temperature and water of the
# cell and of the next.
WATER_BY_T, WATER_BY_W, WATER_BY_NEXT_T, WATER_BY_NEXT_W = 21, 22, 23, 24
HEAT_BY_T, HEAT_BY_W, HEAT_BY_NEXT_T, HEAT_BY_NEXT_W = 25, 26, 27, 28
# How much of its way round the fat water and vapour find, against meat without fat.
PAST_FAT = 29
SCRATCH = 30

# What the boundary totals count, per m² of one side: heat in at top and bottom (J), heat carried
# out by juice, surface water, steam and fat (J), juice to top and bottom, water drawn from the
# top and bottom cell, vapour off top and bottom, steam from within, fat out (kg).
IN_TOP, IN_BOTTOM, OUT_HEAT, JUICE_TOP, JUICE_BOTTOM = 0, 1, 2, 3, 4
DRAWN_TOP, DRAWN_BOTTOM, VAPOUR_TOP, VAPOUR_BOTTOM, STEAM, FAT_OUT = 5, 6, 7, 8, 9, 10
TOTALS = 11

# Rows of a column's fixed contents: solids (kg/m²), raw water (kg/m²), share of the piece's cell
# area at this depth, how readily fat that is not marbling comes out against a cap's, depth from
# the top as a share of the thickness, marbling (kg/m²).
SOLIDS, RAW_WATER, AREA, RENDERS, PLACE, MARBLED = 0, 1, 2, 3, 4, 5
FIXED = 6

# Below this no water boils, at any altitude where people cook.
_COOL_C = 75.0
# The thickness at which juice runs off at the rate of constants.drain_per_s.
DRAIN_THICK_M = 0.04
# Water per fat-free dry matter (kg/kg) below which meat counts as crust.
CRUST_KG_KG = 0.8
_SOFT = 0.04
_TRACE_WET = 1e-6
_LEAST_PAST_FAT = 1e-3
_drying_slows = kernel(drying_slows)
# Liquid fat needs this long to find its way out of broken tissue: half in a quarter of an hour.
# Assumed; it only keeps what breaks at once from leaving at once.
_RUN_OUT_S = 1200.0


@kernel
def temperature(
    table: FloatArray, heat: float, solids: float, water: float, fat: float, guess_c: float
) -> tuple[float, float]:
    """Return temperature and heat capacity (J/m²K) of a cell from its heat content.

    Exact for the table, in which heat content is straight between rows.
    """
    row = int(min(max((guess_c - LOW_C) / STEP_K, 0.0), ROWS - 2.0))
    low = solids * table[row, H_S] + water * table[row, H_W] + fat * table[row, H_F]
    nxt = row + 1
    high = solids * table[nxt, H_S] + water * table[nxt, H_W] + fat * table[nxt, H_F]
    while heat > high and row < ROWS - 2:
        row += 1
        low = high
        nxt = row + 1
        high = solids * table[nxt, H_S] + water * table[nxt, H_W] + fat * table[nxt, H_F]
    while heat < low and row > 0:
        row -= 1
        high = low
        low = solids * table[row, H_S] + water * table[row, H_W] + fat * table[row, H_F]
    return LOW_C + STEP_K * (row + (heat - low) / (high - low)), (high - low) / STEP_K


@kernel
def fill_cells(
    table: FloatArray,
    par: FloatArray,
    pressure_pa: float,
    fixed: FloatArray,
    heat: FloatArray,
    water: FloatArray,
    fat: FloatArray,
    held: FloatArray,
    work: FloatArray,
) -> None:
    """Fill the scratch rows of one column from its contents (see the row names above)."""
    along = par[PAR.along]
    for i in range(heat.size):
        solids, raw = fixed[SOLIDS, i], fixed[RAW_WATER, i]
        temp, capacity = temperature(table, heat[i], solids, water[i], fat[i], work[TEMP, i])
        place = (temp - LOW_C) / STEP_K
        r = int(min(max(place, 0.0), ROWS - 2.0))
        b = place - r
        a = 1.0 - b
        n = r + 1
        volume_s = solids * (a * table[r, V_S] + b * table[n, V_S])
        volume = volume_s + water[i] * (a * table[r, V_W] + b * table[n, V_W])
        volume += fat[i] * (a * table[r, V_F] + b * table[n, V_F])
        across = solids * (a * table[r, ACROSS_S] + b * table[n, ACROSS_S])
        across += water[i] * (a * table[r, ACROSS_W] + b * table[n, ACROSS_W])
        across += fat[i] * (a * table[r, ACROSS_F] + b * table[n, ACROSS_F])
        parallel = solids * (a * table[r, ALONG_S] + b * table[n, ALONG_S])
        parallel += water[i] * (a * table[r, ALONG_W] + b * table[n, ALONG_W])
        parallel += fat[i] * (a * table[r, ALONG_F] + b * table[n, ALONG_F])
        conductivity = along * parallel / volume + (1.0 - along) * volume / across
        depth = volume / fixed[AREA, i]
        diffusivity = par[PAR.diffusivity_scale] * (
            a * table[r, DIFFUSIVITY] + b * table[n, DIFFUSIVITY]
        )
        share = water[i] / raw
        wet = max(water[i], _TRACE_WET * raw) / solids
        diffusivity *= _drying_slows(wet, raw / solids, par[PAR.dry_slows])
        # Fat lets nothing through. For liquid the share of lean is in its concentration already, so
        # that only the detour round the fat is left (Bruggeman: a half power); vapour has both.
        lean = max(0.0, 1.0 - fat[i] * (a * table[r, V_F] + b * table[n, V_F]) / volume)
        detour = math.sqrt(lean) if par[PAR.detour] > 0.0 else 1.0
        diffusivity *= max(detour, _LEAST_PAST_FAT)
        past_fat = lean * detour
        dried = max(0.0, 1.0 - wet / par[PAR.crust_moisture])
        work[PERMEABILITY, i] = par[PAR.crust_permeability] * dried * dried * past_fat
        work[PAST_FAT, i] = past_fat
        work[TEMP, i], work[SHARE, i], work[CAPACITY, i] = temp, share, capacity
        work[WATER_HEAT, i] = a * table[r, H_W] + b * table[n, H_W]
        work[FAT_HEAT, i] = a * table[r, H_F] + b * table[n, H_F]
        work[CONDUCTIVITY, i], work[DEPTH, i] = conductivity, depth
        work[HEAT_R, i] = 0.5 * depth / conductivity
        work[WATER_R, i] = 0.5 * depth * volume / (raw * diffusivity)
        excess = share - held[i]
        squeezed = par[PAR.squeeze] if excess > 0.0 else 0.0
        work[POTENTIAL, i] = share + squeezed * excess
        work[POTENTIAL_SLOPE, i] = (1.0 + squeezed) / raw
        work[DRAIN, i] = raw * excess if excess > 0.0 else 0.0
        work[DRAIN_SLOPE, i] = 1.0 if excess > 0.0 else 0.0
        work[BOIL, i], work[BOIL_SLOPE, i], work[BOIL_HEAT, i] = 0.0, 0.0, 0.0
        work[BOIL_BY_WATER, i] = 0.0
        if temp > _COOL_C:
            activity, by_moisture = water_activity(water[i] / solids)
            vapour, slope = look_up(table, temp, VAPOUR_PA)
            over = activity * vapour / pressure_pa - 1.0
            if over > -_SOFT:
                # The onset is rounded over 2 K, or steps would hop from one side to the other.
                steep = 1.0
                if over < _SOFT:
                    steep = 0.5 * (over + _SOFT) / _SOFT
                    over = 0.25 * (over + _SOFT) ** 2 / _SOFT
                strength = par[PAR.boil] * water[i]
                latent, _ = look_up(table, temp, LATENT)
                work[BOIL, i] = strength * over
                work[BOIL_SLOPE, i] = steep * strength * activity * slope / pressure_pa
                by_water = steep * water[i] * by_moisture / solids * vapour / pressure_pa
                work[BOIL_BY_WATER, i] = par[PAR.boil] * (over + by_water)
                work[BOIL_HEAT, i] = work[WATER_HEAT, i] + latent
    # What holds the juice up is taken to be the outermost layer, firm before all else and, dried,
    # closer still: out of twice as thick a piece, with twice the juice behind each face, it takes
    # twice as long. Four times as long would be Darcy's law through the whole depth; losses of
    # pieces of several sizes were foretold with no such term at all (Kondjoyan et al. 2013).
    thick, crust = 0.0, 0.0
    for i in range(heat.size):
        thick += work[DEPTH, i]
        dry = 1.0 - water[i] / (CRUST_KG_KG * fixed[SOLIDS, i])
        crust += max(0.0, dry) * work[DEPTH, i]
    drains = par[PAR.drain] * DRAIN_THICK_M / thick / (1.0 + par[PAR.crust_blocks] * crust)
    for i in range(heat.size):
        work[DRAIN, i] *= drains
        work[DRAIN_SLOPE, i] *= drains


@kernel
def flows(
    table: FloatArray,
    par: FloatArray,
    fixed: FloatArray,
    face: FloatArray,
    fat: FloatArray,
    work: FloatArray,
    d_heat: FloatArray,
    d_water: FloatArray,
    d_fat: FloatArray,
    totals: FloatArray,
) -> None:
    """Set the rates of change of one column from flows inside it, and the totals that leave.

    Surfaces are left to `exchange`. `face` holds areas between cells (0 is the top surface).
    """
    cells = fat.size
    for m in range(TOTALS):
        totals[m] = 0.0
    for i in range(cells):
        temp, water_heat = work[TEMP, i], work[WATER_HEAT, i]
        drain, boil = work[DRAIN, i], work[BOIL, i]
        walls = look_up(table, temp, RENDER)[0] * min(1.0, work[SHARE, i])
        # Cap and seam lie in cells whose walls dissolve slowly, in the water there is, and burst by
        # steam; they leave before the marbling does, which goes slowly and only what is not held.
        breaks = walls + par[PAR.burst] * boil / fixed[RAW_WATER, i]
        breaks *= par[PAR.render_scale]
        loose = max(0.0, fat[i] - fixed[MARBLED, i])
        rendered = fixed[RENDERS, i] * loose * breaks / (1.0 + _RUN_OUT_S * breaks)
        held = fixed[SOLIDS, i] * look_up(table, temp, FAT_HELD)[0]
        spare = min(fat[i], fixed[MARBLED, i]) - held
        if spare > 0.0:
            rendered += par[PAR.lean_render] * par[PAR.render_scale] * walls * spare
        down = fixed[PLACE, i] + (par[PAR.drain_down] - 0.5) * (
            1.0 - abs(2.0 * fixed[PLACE, i] - 1.0)
        )
        carried = drain * water_heat + boil * work[BOIL_HEAT, i]
        carried += rendered * work[FAT_HEAT, i]
        d_heat[i], d_water[i], d_fat[i] = -carried, -drain - boil, -rendered
        totals[OUT_HEAT] += carried
        totals[JUICE_TOP] += drain * (1.0 - down)
        totals[JUICE_BOTTOM] += drain * down
        totals[STEAM] += boil
        totals[FAT_OUT] += rendered
    for i in range(cells):
        if (
            work[PERMEABILITY, i] > 0.0
            or (i > 0 and work[PERMEABILITY, i - 1] > 0.0)
            or (i < cells - 1 and work[PERMEABILITY, i + 1] > 0.0)
        ):
            vapour_over(table, fixed, work, i)
    for i in range(cells - 1):
        heat_g = face[i + 1] / (work[HEAT_R, i] + work[HEAT_R, i + 1])
        water_g = face[i + 1] / (work[WATER_R, i] + work[WATER_R, i + 1])
        water = water_g * (work[POTENTIAL, i] - work[POTENTIAL, i + 1])
        mean_heat = 0.5 * (work[WATER_HEAT, i] + work[WATER_HEAT, i + 1])
        heat = heat_g * (work[TEMP, i] - work[TEMP, i + 1]) + water * mean_heat
        by_w = water_g * work[POTENTIAL_SLOPE, i]
        by_next_w = -water_g * work[POTENTIAL_SLOPE, i + 1]
        work[WATER_BY_T, i], work[WATER_BY_W, i] = 0.0, by_w
        work[WATER_BY_NEXT_T, i], work[WATER_BY_NEXT_W, i] = 0.0, by_next_w
        work[HEAT_BY_T, i], work[HEAT_BY_W, i] = heat_g, mean_heat * by_w
        work[HEAT_BY_NEXT_T, i], work[HEAT_BY_NEXT_W, i] = -heat_g, mean_heat * by_next_w
        if work[PERMEABILITY, i] + work[PERMEABILITY, i + 1] > 0.0:
            water, heat = vapour_between(table, face[i + 1], work, i, water, heat)
        d_heat[i] -= heat
        d_heat[i + 1] += heat
        d_water[i] -= water
        d_water[i + 1] += water


@kernel
def vapour_over(table: FloatArray, fixed: FloatArray, work: FloatArray, i: int) -> None:
    """Set the vapour pressure over the water of a cell and its slopes."""
    solids = fixed[SOLIDS, i]
    moisture = work[SHARE, i] * fixed[RAW_WATER, i] / solids
    activity, by_moisture = water_activity(moisture)
    saturated, by_temp = look_up(table, work[TEMP, i], VAPOUR_PA)
    work[PRESSURE, i] = activity * saturated
    work[PRESSURE_BY_TEMP, i] = activity * by_temp
    work[PRESSURE_BY_WATER, i] = by_moisture * saturated / solids


@kernel
def vapour_between(
    table: FloatArray, face: float, work: FloatArray, i: int, water: float, heat: float
) -> tuple[float, float]:
    """Add the vapour that passes from cell `i` to the next to its water and heat, and its slopes.

    Down the difference of vapour pressure through half of each cell. Where the next cell is still
    wet it evaporates at the cell's edge: only dried tissue resists. So the resistances of all dried
    cells add up, and what moves has the latent heat as its activation.
    """
    j = i + 1
    # Half of a wet cell lets nothing through and need not: its share of the way is left out.
    g = face * (work[PERMEABILITY, i] + work[PERMEABILITY, j]) / (work[DEPTH, i] + work[DEPTH, j])
    vapour = g * (work[PRESSURE, i] - work[PRESSURE, j])
    latent, _ = look_up(table, 0.5 * (work[TEMP, i] + work[TEMP, j]), LATENT)
    carries = latent + 0.5 * (work[WATER_HEAT, i] + work[WATER_HEAT, j])
    by_t, by_w = g * work[PRESSURE_BY_TEMP, i], g * work[PRESSURE_BY_WATER, i]
    by_next_t, by_next_w = -g * work[PRESSURE_BY_TEMP, j], -g * work[PRESSURE_BY_WATER, j]
    work[WATER_BY_T, i] += by_t
    work[WATER_BY_W, i] += by_w
    work[WATER_BY_NEXT_T, i] += by_next_t
    work[WATER_BY_NEXT_W, i] += by_next_w
    work[HEAT_BY_T, i] += carries * by_t
    work[HEAT_BY_W, i] += carries * by_w
    work[HEAT_BY_NEXT_T, i] += carries * by_next_t
    work[HEAT_BY_NEXT_W, i] += carries * by_next_w
    return water + vapour, heat + carries * vapour


@kernel
def exchange(
    table: FloatArray,
    par: FloatArray,
    fixed: FloatArray,
    rim: FloatArray,
    rim_half_m: float,
    sides: FloatArray,
    liquid: FloatArray,
    held: FloatArray,
    guesses: FloatArray,
    work: FloatArray,
    d_heat: FloatArray,
    d_water: FloatArray,
    totals: FloatArray,
    slopes: FloatArray,
    cell: FloatArray,
    out: FloatArray,
) -> bool:
    """Add what passes top (0), bottom (1) and rim; return whether all faces were solved.

    Face 2 + i is the rim of cell i, of area `rim` per m² of the column's side and `rim_half_m`
    from the middle of the cell; it counts with the top in the totals. `liquid` is the share of
    each face under liquid kept in a wrap. `slopes` per face: heat in by cell temperature and by
    water (kg), vapour by the same, water drawn by the same. `cell`, `out`: room for solve_side.
    """
    cells = d_heat.size
    fine = True
    for f in range(slopes.shape[0]):
        i, s, area, reach = f - 2, 0, 1.0, 1.0
        if f == 0:
            i = 0
        elif f == 1:
            i, s = cells - 1, 1
        else:
            area = rim[i]
            if area <= 0.0:
                continue
            reach = 2.0 * rim_half_m / work[DEPTH, i]
        moisture = work[SHARE, i] * fixed[RAW_WATER, i] / fixed[SOLIDS, i]
        cell[0], cell[1] = work[TEMP, i], work[SHARE, i]
        cell[2], cell[3] = 1.0 / (reach * work[HEAT_R, i]), 1.0 / (reach * work[WATER_R, i])
        cell[4] = fixed[RAW_WATER, i] / fixed[SOLIDS, i]
        stays = 0.0 if f > 1 else totals[JUICE_TOP + s] * (1.0 - par[PAR.juice_falls])
        cell[5], cell[6] = stays + sides[min(f, 2), SIDE.wetting_kg_m2s], liquid[s]
        # What lies under liquid kept in a wrap evaporates from that liquid.
        bare = 1.0 - liquid[s]
        cell[7] = par[PAR.skin_resistance] * bare
        cell[8], cell[10], cell[11] = par[PAR.lewis], 0.0, 0.0
        share_dry = moisture / par[PAR.crust_moisture]
        if share_dry < 1.0:
            # As the outer half of the cell dries, its water evaporates deeper in it: the way for
            # liquid shortens to nothing and vapour has that depth of crust before it.
            open_to_vapour = max(_LEAST_PAST_FAT, work[PAST_FAT, i]) * par[PAR.crust_permeability]
            crust = bare * 0.5 * reach * work[DEPTH, i] / open_to_vapour
            cell[7] += crust * (1.0 - share_dry)
            cell[10] = -crust * cell[4] / par[PAR.crust_moisture]
            shorter = max(share_dry, _TRACE_WET) ** 3
            slowed = 2.0 / max(moisture, _TRACE_WET) + 1.0 / (moisture + par[PAR.dry_slows])
            cell[11] = shorter / cell[3] * slowed * cell[4]
            cell[3] /= shorter
        own, own_slope = 1.0, 0.0
        if liquid[s] > 0.0:
            # Liquid and meat share the evaporation by what each would give off.
            activity, by_moisture = water_activity(moisture)
            wet = liquid[s] + (1.0 - liquid[s]) * activity
            own = (1.0 - liquid[s]) * activity / wet
            own_slope = (1.0 - liquid[s]) * liquid[s] * by_moisture / (wet * wet)
        cell[9] = own
        fine = solve_side(table, sides[min(f, 2)], cell, guesses[f], out) and fine
        rate, raw = out[3], fixed[RAW_WATER, i]
        slopes[f, 0], slopes[f, 1] = area * out[1], area * out[2] / raw
        slopes[f, 2], slopes[f, 3] = area * out[4], area * out[5] / raw
        drawn, slopes[f, 4], slopes[f, 5] = 0.0, 0.0, 0.0
        if rate > cell[5]:
            drawn = area * own * (rate - cell[5])
            slopes[f, 4], slopes[f, 5] = own * slopes[f, 2], own * slopes[f, 3]
            slopes[f, 5] += area * (rate - cell[5]) * own_slope / fixed[SOLIDS, i]
        if liquid[s] > 0.0 and work[SHARE, i] < held[i]:
            # A crust near boiling spits liquid out again rather than drink it.
            cool = 1.0 - look_up(table, cell[0], VAPOUR_PA)[0] / sides[0, SIDE.pressure_pa]
            soaks = min(1.0, max(0.0, 4.0 * cool)) * area * par[PAR.soak] * liquid[s] * cell[3]
            drawn -= soaks * (held[i] - work[SHARE, i])
            slopes[f, 5] += soaks / raw
        d_heat[i] += area * out[0] - drawn * work[WATER_HEAT, i]
        d_water[i] -= drawn
        totals[IN_TOP + s] += area * out[0]
        totals[DRAWN_TOP + s] += drawn
        totals[VAPOUR_TOP + s] += area * rate
        totals[OUT_HEAT] += drawn * work[WATER_HEAT, i]
    return fine
