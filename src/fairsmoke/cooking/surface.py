"""Heat and vapour at one side of a piece: convection, radiation, evaporation, crust and wrap.

The surface holds nothing: its temperature and evaporation are those at which what comes from the
piece equals what the surroundings take. The equations are those of fairsmoke.physics.surface
(film theory with blowing, Stefan–Boltzmann, sorption isotherm), solved for both unknowns at once.
"""

import math
from typing import NamedTuple

from fairsmoke.cooking.compiled import kernel
from fairsmoke.cooking.tables import H_W, LATENT, LOW_C, ROWS, STEP_K, VAPOUR_PA
from fairsmoke.physics.air import CP_DRY_AIR_J_KGK, CP_VAPOUR_J_KGK, KELVIN, VAPOUR_TO_AIR
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.physics.surface import GAB_C, GAB_K, MONOLAYER_KG_KG, STEFAN_BOLTZMANN

# The dry end of the isotherm is a straight line through nothing.
_DRY_SLOPE = 1.0 / (MONOLAYER_KG_KG * GAB_C * GAB_K)
_DRY_KG_KG = 1e-6
_BOUND_KG_KG, _BOUND_SPAN, _BOUND_REACH, _BOUND_SOFT = 0.02, 0.04, 0.4, 0.003

# Newton's turns before the search that cannot fail.
_TURNS = 14
_HALVINGS = 60


class Side(NamedTuple):
    """Places in the vector of conditions at one side of the piece."""

    convection_w_m2k: int = 0
    emissivity: int = 1
    wrap_resistance: int = 2
    gap_share: int = 3
    air_c: int = 4
    wall_c: int = 5
    air_ratio: int = 6
    pressure_pa: int = 7
    wetting_kg_m2s: int = 8


SIDE = Side()
SIDE_LENGTH = 9


@kernel
def water_activity(moisture: float) -> tuple[float, float]:
    """Return water activity and its slope at kg water per kg fat-free dry matter.

    The isotherm of physics.surface, but the last 0.01 kg/kg stay bound: no cook drives them off,
    and a step that dries a crust too far finds them there (assumed; 0.13 kg/kg moves by 0.001).
    """
    steep = 1.0
    if moisture < _BOUND_REACH:
        wet = max(moisture, 0.0)
        tied = _BOUND_KG_KG * math.exp(-wet / _BOUND_SPAN)
        z = (moisture - tied) / _BOUND_SOFT
        if wet > 0.0:
            steep += tied / _BOUND_SPAN
        # Rounded so that activity never falls below nothing, however dry a trial is.
        if z < 30.0:
            grown = math.exp(max(z, -60.0))
            moisture = _BOUND_SOFT * math.log1p(grown)
            steep *= grown / (1.0 + grown)
        else:
            moisture -= tied
    if moisture < _DRY_KG_KG:
        return _DRY_SLOPE * moisture, _DRY_SLOPE * steep
    layers = moisture / MONOLAYER_KG_KG
    half = 0.5 * (GAB_C - layers * (GAB_C - 2.0))
    root = math.sqrt(half * half + layers * layers * (GAB_C - 1.0))
    u = (root - half) / (layers * (GAB_C - 1.0))
    above = 1.0 - (GAB_C - 1.0) * u * u + (GAB_C - 2.0) * u
    slope = above / (2.0 * layers * (GAB_C - 1.0) * u + GAB_C - layers * (GAB_C - 2.0))
    return u / GAB_K, slope * steep / (MONOLAYER_KG_KG * GAB_K)


@kernel
def look_up(table: FloatArray, temp_c: float, column: int) -> tuple[float, float]:
    """Return one column of the table and its slope at a temperature, held at the table's ends."""
    place = (temp_c - LOW_C) / STEP_K
    row = int(min(max(place, 0.0), ROWS - 2.0))
    low, high = table[row, column], table[row + 1, column]
    return low + (place - row) * (high - low), (high - low) / STEP_K


@kernel
def surface_at(
    table: FloatArray, side: FloatArray, cell: FloatArray, rate: float, low_c: float, high_c: float
) -> float:
    """Return the surface temperature at which heat balances for a given rate of evaporation."""
    cell_heat, _ = look_up(table, cell[0], H_W)
    x = rate * CP_VAPOUR_J_KGK / side[0]
    blown = 1.0 - 0.5 * x if abs(x) < 1e-5 else x / (math.exp(x) - 1.0)
    radiates = side[1] * STEFAN_BOLTZMANN
    for _ in range(_HALVINGS):
        middle = 0.5 * (low_c + high_c)
        taken = look_up(table, middle, LATENT)[0] + look_up(table, middle, H_W)[0] - cell_heat
        heat = side[0] * blown * (side[4] - middle)
        heat += radiates * ((side[5] + KELVIN) ** 4 - (middle + KELVIN) ** 4)
        if cell[2] * (cell[0] - middle) + side[3] * heat > rate * taken:
            low_c = middle
        else:
            high_c = middle
    return 0.5 * (low_c + high_c)


@kernel
def bisect_side(table: FloatArray, side: FloatArray, cell: FloatArray) -> tuple[float, float]:
    """Return surface temperature and evaporation by halving; for where Newton goes in circles.

    The more evaporates, the colder the surface and the drier its air side must be: one answer.
    """
    air_side = CP_DRY_AIR_J_KGK / CP_VAPOUR_J_KGK + side[6]
    scale = side[0] / CP_VAPOUR_J_KGK
    low, high, surface = -scale, 5.0 * scale, cell[0]
    for _ in range(_HALVINGS):
        rate = 0.5 * (low + high)
        surface = surface_at(table, side, cell, rate, LOW_C, LOW_C + STEP_K * (ROWS - 1))
        dry = max(rate - cell[5], 0.0) * cell[10]
        activity, _ = water_activity((cell[1] - dry / cell[3]) * cell[4])
        wet = cell[6] + (1.0 - cell[6]) * activity
        at_film = side[6] + air_side * (math.exp(rate / scale * cell[8]) - 1.0)
        needed = side[7] * at_film / (VAPOUR_TO_AIR + at_film)
        needed += rate * (side[2] + cell[7])
        if needed < wet * look_up(table, surface, VAPOUR_PA)[0]:
            low = rate
        else:
            high = rate
    return surface, 0.5 * (low + high)


@kernel
def solve_side(
    table: FloatArray,
    side: FloatArray,
    cell: FloatArray,
    guess: FloatArray,
    out: FloatArray,
) -> bool:
    """Find surface temperature and evaporation of one side; return whether it converged.

    `cell`: temperature (°C), water as a share of raw, heat conductance to the surface (W/m²K),
    water conductance (kg/m²s per share), raw water per dry matter (kg/kg), juice arriving
    (kg/m²s), share of the surface under liquid, vapour resistance of the crust (Pa·m²·s/kg), Lewis
    factor, slope of that resistance by water share, share of the
    evaporation that the meat's own water gives.
    `guess` holds surface temperature and evaporation and is overwritten with the answer.
    `out`: heat into the cell (W/m²) and its slopes by cell temperature and water share,
    evaporation (kg/m²s) and the same two slopes.
    """
    temp, share, heat_g, water_g, raw = cell[0], cell[1], cell[2], cell[3], cell[4]
    juice, liquid = cell[5], cell[6]
    h, emissivity, gap = side[0], side[1] * STEFAN_BOLTZMANN, side[3]
    resistance = side[2] + cell[7]
    air_c, wall_k, ratio, pressure = side[4], side[5] + KELVIN, side[6], side[7]
    air_side = CP_DRY_AIR_J_KGK / CP_VAPOUR_J_KGK + ratio
    inverse_h = CP_VAPOUR_J_KGK / h
    cell_heat, _ = look_up(table, temp, H_W)
    surface, rate = guess[0], guess[1]
    done, before = False, 0.0
    for turn in range(_TURNS + 1):
        if turn == _TURNS:
            surface, rate = bisect_side(table, side, cell)
        vapour, vapour_t = look_up(table, surface, VAPOUR_PA)
        latent, latent_t = look_up(table, surface, LATENT)
        liquid_heat, liquid_t = look_up(table, surface, H_W)
        taken = latent + liquid_heat - cell_heat
        dry = max(rate - juice, 0.0) * cell[10]
        activity, slope = water_activity((share - dry / water_g) * raw)
        slope_rate = -slope * raw / water_g * cell[10] if rate > juice else 0.0
        wet = liquid + (1.0 - liquid) * activity
        wet_rate = (1.0 - liquid) * slope_rate
        x = rate * inverse_h
        grown = math.exp(x * cell[8])
        at_film = ratio + air_side * (grown - 1.0)
        needed = pressure * at_film / (VAPOUR_TO_AIR + at_film)
        needed_rate = (
            pressure
            * VAPOUR_TO_AIR
            / (VAPOUR_TO_AIR + at_film) ** 2
            * air_side
            * grown
            * inverse_h
            * cell[8]
        )
        if abs(x) < 1e-5:
            blown, blown_x = 1.0 - 0.5 * x, -0.5
        else:
            plain = math.exp(x)
            blown = x / (plain - 1.0)
            blown_x = (plain - 1.0 - x * plain) / (plain - 1.0) ** 2
        kelvin = surface + KELVIN
        heat = gap * (h * blown * (air_c - surface) + emissivity * (wall_k**4 - kelvin**4))
        one = heat_g * (temp - surface) + heat - rate * taken
        two = needed + rate * resistance - wet * vapour
        one_t = -heat_g - gap * (h * blown + 4.0 * emissivity * kelvin**3)
        one_t -= rate * (latent_t + liquid_t)
        one_e = gap * h * blown_x * inverse_h * (air_c - surface) - taken
        two_t = -wet * vapour_t
        two_e = needed_rate + resistance - wet_rate * vapour
        det = one_t * two_e - one_e * two_t
        step_t = (-one * two_e + one_e * two) / det
        step_e = (-one_t * two + two_t * one) / det
        if turn == _TURNS:
            done = True
            break
        size = max(abs(step_t) / 15.0, abs(step_e) * inverse_h, 1.0)
        if step_e * before < 0.0 and abs(step_e) > 0.3 * abs(before):
            # Where juice just suffices the slopes jump, and whole steps can go back and forth.
            size *= 2.0
        before = step_e / size
        surface += step_t / size
        rate += step_e / size
        if abs(step_t) < 1e-5 and abs(step_e) * taken < 1e-3:
            done = True
            break
    guess[0], guess[1] = surface, rate
    # How the answer moves with the cell: the same two equations differentiated.
    by_share = rate * cell[9] - vapour * (1.0 - liquid) * slope * raw
    one_by_t = heat_g + rate * liquid_t
    surface_t, rate_t = -one_by_t * two_e / det, one_by_t * two_t / det
    surface_s, rate_s = one_e * by_share / det, -one_t * by_share / det
    out[0] = heat_g * (surface - temp)
    out[1], out[2] = heat_g * (surface_t - 1.0), heat_g * surface_s
    out[3], out[4], out[5] = rate, rate_t, rate_s
    return done
