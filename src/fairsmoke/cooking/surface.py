"""Heat and vapour at one side of a piece: convection, radiation, evaporation, skin and wrap.

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

_TURNS, _NEWTONS, _WARMINGS = 80, 8, 6
# No surface gives off or takes up more vapour than this times its coefficient (kg·K/J).
_FAR = 3e-3


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

    The isotherm of physics.surface; below nothing the activity is nothing.
    """
    if moisture < _DRY_KG_KG:
        return _DRY_SLOPE * max(moisture, 0.0), _DRY_SLOPE
    layers = moisture / MONOLAYER_KG_KG
    half = 0.5 * (GAB_C - layers * (GAB_C - 2.0))
    root = math.sqrt(half * half + layers * layers * (GAB_C - 1.0))
    u = (root - half) / (layers * (GAB_C - 1.0))
    above = 1.0 - (GAB_C - 1.0) * u * u + (GAB_C - 2.0) * u
    slope = above / (2.0 * layers * (GAB_C - 1.0) * u + GAB_C - layers * (GAB_C - 2.0))
    return u / GAB_K, slope / (MONOLAYER_KG_KG * GAB_K)


@kernel
def look_up(table: FloatArray, temp_c: float, column: int) -> tuple[float, float]:
    """Return one column of the table and its slope at a temperature, held at the table's ends."""
    place = (temp_c - LOW_C) / STEP_K
    row = int(min(max(place, 0.0), ROWS - 2.0))
    low, high = table[row, column], table[row + 1, column]
    return low + (place - row) * (high - low), (high - low) / STEP_K


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
    (kg/m²s), share of the surface under liquid, vapour resistance of the skin (Pa·m²·s/kg), Lewis
    factor, share of the evaporation that the meat's own water gives, slopes by the water share of
    the skin's resistance and of one over the water conductance.
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
    # The drier the surface and the colder, the less evaporates: one answer, kept between two ends.
    low, high = -_FAR * h, _FAR * h
    done = False
    for turn in range(_TURNS):
        x = rate * inverse_h
        plain = math.exp(x)
        if abs(x) < 1e-5:
            blown, blown_x = 1.0 - 0.5 * x, -0.5
        else:
            blown = x / (plain - 1.0)
            blown_x = (plain - 1.0 - x * plain) / (plain - 1.0) ** 2
        for _ in range(_WARMINGS):
            latent, latent_t = look_up(table, surface, LATENT)
            liquid_heat, liquid_t = look_up(table, surface, H_W)
            taken = latent + liquid_heat - cell_heat
            kelvin = surface + KELVIN
            heat = gap * (h * blown * (air_c - surface) + emissivity * (wall_k**4 - kelvin**4))
            one = heat_g * (temp - surface) + heat - rate * taken
            one_t = -heat_g - gap * (h * blown + 4.0 * emissivity * kelvin**3)
            one_t -= rate * (latent_t + liquid_t)
            step_t = -one / one_t
            surface += step_t
            if abs(step_t) < 1e-6:
                break
        one_e = gap * h * blown_x * inverse_h * (air_c - surface) - taken
        vapour, vapour_t = look_up(table, surface, VAPOUR_PA)
        dry = max(rate - juice, 0.0) * cell[9]
        activity, slope = water_activity((share - dry / water_g) * raw)
        slope_rate = -slope * raw / water_g * cell[9] if rate > juice else 0.0
        wet = liquid + (1.0 - liquid) * activity
        grown = plain if cell[8] == 1.0 else math.exp(x * cell[8])
        at_film = max(ratio + air_side * (grown - 1.0), -0.5 * VAPOUR_TO_AIR)
        needed = pressure * at_film / (VAPOUR_TO_AIR + at_film)
        needed_rate = pressure * VAPOUR_TO_AIR / (VAPOUR_TO_AIR + at_film) ** 2
        needed_rate *= air_side * grown * inverse_h * cell[8]
        two = needed + rate * resistance - wet * vapour
        two_t = -wet * vapour_t
        two_e = needed_rate + resistance - (1.0 - liquid) * slope_rate * vapour
        det = one_t * two_e - one_e * two_t
        if two < 0.0:
            low = max(low, rate)
        else:
            high = min(high, rate)
        step_e = -two * one_t / det
        trial = rate + step_e
        if abs(step_e) * taken < 1e-3 and abs(step_t) < 1e-4:
            rate = trial
            done = True
            break
        # Where juice just meets what evaporates the slope jumps: Newton's steps may go round there.
        fair = low < trial < high and (turn < _NEWTONS or turn % 2 == 0)
        rate = trial if fair else 0.5 * (low + high)
    guess[0], guess[1] = surface, rate
    # How the answer moves with the cell: the same two equations differentiated.
    by_share = rate * cell[10] - vapour * (1.0 - liquid) * slope * raw * (1.0 - dry * cell[11])
    one_by_t = heat_g + rate * liquid_t
    surface_t, rate_t = -one_by_t * two_e / det, one_by_t * two_t / det
    surface_s, rate_s = one_e * by_share / det, -one_t * by_share / det
    out[0] = heat_g * (surface - temp)
    out[1], out[2] = heat_g * (surface_t - 1.0), heat_g * surface_s
    out[3], out[4], out[5] = rate, rate_t, rate_s
    return done
