"""Everything that depends on temperature alone, worked out once and looked up by the kernels.

The kernels hold no physics of their own: heat content, density, conductivity, vapour pressure and
rates come from fairsmoke.physics through this table, straight between rows of STEP_K.
"""

from functools import lru_cache

import numpy as np

from fairsmoke.cooking.constants import Constants
from fairsmoke.physics import air, fat, food, kinetics, lethality, water
from fairsmoke.physics.heat_resistance import RESISTANCES
from fairsmoke.physics.ranges import FloatArray

LOW_C, HIGH_C, STEP_K = -5.0, 200.0, 0.25
ROWS = round((HIGH_C - LOW_C) / STEP_K) + 1

# Columns. Heat content J/kg, volume m³/kg; "across" and "along" are volume/k and volume·k, from
# which series and parallel conductivities are made; S solids (protein and ash), W water, F fat.
H_S, H_W, H_F, V_S, V_W, V_F = 0, 1, 2, 3, 4, 5
ACROSS_S, ACROSS_W, ACROSS_F, ALONG_S, ALONG_W, ALONG_F = 6, 7, 8, 9, 10, 11
DIFFUSIVITY, RENDER, FAT_HELD, VAPOUR_PA, LATENT = 12, 13, 14, 15, 16
FIRMED, OPENS, DISSOLVES, MYOSIN, ACTIN, LETHAL_A, LETHAL_B = 17, 18, 19, 20, 21, 22, 23
COLUMNS = 24

LETHAL_KEYS = ("salmonella patty", "listeria fat beef")


@lru_cache(maxsize=256)
def build(constants: Constants, species: fat.Species = "beef") -> FloatArray:
    """Return the table, shape (ROWS, COLUMNS), for a set of constants and an animal.

    Above 150 °C the component polynomials are drawn on beyond their source; the outcome of a
    cook says when any cell went there.
    """
    temp = np.linspace(LOW_C, HIGH_C, ROWS)
    table = np.zeros((ROWS, COLUMNS))
    _heat_and_volume(table, temp, constants, species)
    _water(table, temp, constants)
    _fat(table, temp, constants, species)
    _changes(table, temp)
    table.setflags(write=False)
    return table


def _heat_and_volume(
    table: FloatArray, temp: FloatArray, constants: Constants, species: fat.Species
) -> None:
    ash = constants.ash_of_protein / (1.0 + constants.ash_of_protein)
    nothing, all_of_it = np.zeros(ROWS), np.ones(ROWS)
    solids = (nothing, (1.0 - ash) * all_of_it, nothing, ash * all_of_it)
    water_only = (all_of_it, nothing, nothing, nothing)
    fat_only = (nothing, nothing, all_of_it, nothing)
    for column, part in enumerate((solids, water_only, fat_only)):
        table[:, H_S + column] = food.bare_sensible_enthalpy_j_kg(temp, *part)
        volume = food.bare_volume_m3_kg(temp, *part)
        table[:, V_S + column] = volume
        table[:, ACROSS_S + column] = volume / food.bare_conductivity_across_w_mk(temp, *part)
    table[:, H_F] += fat.melting_enthalpy_j_kg(np.clip(temp, -40.0, 150.0), species)
    table[:, ALONG_S] = table[:, V_S] * _quadratic("protein", temp)
    table[:, ALONG_W] = table[:, V_W] * _quadratic("water", temp)
    table[:, ALONG_F] = table[:, V_F] * _quadratic("fat", temp)


def _quadratic(component: str, temp: FloatArray) -> FloatArray:
    c0, c1, c2 = food.COMPONENTS[component].conductivity
    return c0 + temp * (c1 + temp * c2)


def _water(table: FloatArray, temp: FloatArray, constants: Constants) -> None:
    inverse = 1.0 / (40.0 + air.KELVIN) - 1.0 / (temp + air.KELVIN)
    spread = np.exp(constants.diffusivity_j_mol / kinetics.GAS_J_MOLK * inverse)
    table[:, DIFFUSIVITY] = constants.diffusivity_40c_m2_s * spread
    table[:, VAPOUR_PA] = air.saturation_pressure_pa(temp)
    table[:, LATENT] = air.bare_latent_heat_j_kg(np.maximum(temp, 0.0))
    firm: FloatArray = water.bare_firmed(temp)
    table[:, FIRMED] = firm


def _fat(table: FloatArray, temp: FloatArray, constants: Constants, species: fat.Species) -> None:
    liquid = 1.0 - fat.solid_fraction(np.clip(temp, -40.0, 150.0), species)
    rate: FloatArray = kinetics.bare_rate_per_s(
        temp, fat.CAP_RATE_REF_C, constants.cap_render_90c_per_s, constants.cap_render_j_mol
    )
    table[:, RENDER] = liquid * rate
    held: FloatArray = fat.bare_holding_capacity_kg_kg(temp)
    table[:, FAT_HELD] = held


def _changes(table: FloatArray, temp: FloatArray) -> None:
    pairs = (
        (OPENS, kinetics.COLLAGEN_OPENS),
        (DISSOLVES, kinetics.COLLAGEN_DISSOLVES),
        (MYOSIN, kinetics.MYOSIN),
        (ACTIN, kinetics.ACTIN),
    )
    for column, reaction in pairs:
        rate: FloatArray = kinetics.bare_rate_per_s(
            np.minimum(temp, reaction.high_c),
            reaction.ref_c,
            reaction.rate_ref_per_s,
            reaction.activation_j_mol,
        )
        table[:, column] = rate
    for column, key in zip((LETHAL_A, LETHAL_B), LETHAL_KEYS, strict=True):
        organism = RESISTANCES[key]
        capped = np.minimum(temp, organism.high_c)
        rate = lethality.bare_lethal_rate(capped, organism.ref_c, organism.z_c)
        credited = np.where(temp >= lethality.LOWEST_CREDIT_C, rate, 0.0)
        table[:, column] = credited / (60.0 * organism.d_min)
