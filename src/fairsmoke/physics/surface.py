"""Heat and vapour between a piece's surface and the air and walls around it."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from fairsmoke.physics.air import (
    CP_DRY_AIR_J_KGK,
    CP_VAPOUR_J_KGK,
    GAS_VAPOUR_J_KGK,
    KELVIN,
    VAPOUR_TO_AIR,
    humidity_ratio,
)
from fairsmoke.physics.ranges import FloatArray, Number, OnRange, PhysicsRangeError, Range
from fairsmoke.physics.sources import Citation, Seen

STEFAN_BOLTZMANN = 5.670374419e-8

FILM_SOURCE = Citation(
    "film theory with blowing (Stefan for vapour, Ackermann for heat), e.g. Bird, Stewart & "
    "Lightfoot, Transport Phenomena, transfer at high net mass rates",
    Seen.MEMORY,
    "written so that a wet surface without radiation ends at the thermodynamic wet bulb",
)
CHILTON_COLBURN_SOURCE = Citation("Chilton & Colburn 1934: h/(h_m·ρ·c) = Le^(2/3)", Seen.MEMORY)
ISOTHERM_SOURCE = Citation(
    "GAB equation, best fit for lean beef (Trujillo, Yeow & Pham 2003; Ahmat et al. 2014: forms "
    "read, constants not); monolayer 0.055 kg/kg of smoke-dried beef (Kamsa study, read); the "
    "other two constants fitted to the engineering points ISOTHERM_POINTS",
    Seen.DERIVED,
    "points from memory, low confidence; replace them when a measured table is at hand",
)
EMISSIVITY_SOURCE = Citation(
    "beef 0.74–0.78 depending on fat; many foods 0.9", Seen.SECOND_HAND, "two separate pages"
)
EMISSIVITY_BEEF = (0.74, 0.78)
EMISSIVITY_FOOD = 0.9

# Water per fat-free dry matter (kg/kg) and water activity: raw lean meat, and drying meat.
ISOTHERM_POINTS = ((3.27, 0.99), (0.90, 0.95), (0.475, 0.90), (0.27, 0.80), (0.13, 0.60))
MONOLAYER_KG_KG = 0.055
GAB_C, GAB_K = 12.76, 0.99266

MOISTURE_RANGE = Range(
    "water per fat-free dry matter",
    "kg/kg",
    0.0,
    5.0,
    "isotherms to raw meat, measured 5 to 50 °C; above 0.15 kg/kg temperature matters little",
)
SURFACE_RANGE = Range("surface temperature", "°C", -40.0, 250.0, "radiation between solids")
WALL_RANGE = Range("wall temperature", "°C", -60.0, 800.0, "radiation between solids")
EMISSIVITY_RANGE = Range("emissivity", "of 1", 0.0, 1.0, "by definition")


class CoefficientBand(NamedTuple):
    """Convective heat-transfer coefficients (W/(m²·K)) that one kind of air flow gives."""

    low_w_m2k: float
    middle_w_m2k: float
    high_w_m2k: float
    source: Citation


_BANDS = Citation("standard textbook ranges for convection in ovens and rooms", Seen.MEMORY)
CONVECTION_BANDS: dict[str, CoefficientBand] = {
    "still": CoefficientBand(3.0, 5.0, 8.0, _BANDS),
    "draught": CoefficientBand(5.0, 8.0, 12.0, _BANDS),
    "fan": CoefficientBand(15.0, 25.0, 40.0, _BANDS),
    "tunnel oven, radiation included": CoefficientBand(
        20.0,
        33.4,
        48.0,
        Citation("Baik et al. 1999, J. Food Sci. 64:688–694; 75–80 % of it radiation", Seen.READ),
    ),
}


def bare_water_activity(moisture_kg_kg: Number) -> Number:
    """Return the water activity of meat holding water per fat-free dry matter, unchecked.

    The GAB equation solved for activity; for compiled code. Source: ISOTHERM_SOURCE.
    """
    layers = moisture_kg_kg / MONOLAYER_KG_KG
    # s·(C − 1)·u² + (C − s·(C − 2))·u − s = 0 in u = K·a, written so that nothing cancels.
    half = 0.5 * (GAB_C - layers * (GAB_C - 2.0))
    root: Number = np.sqrt(half * half + layers * layers * (GAB_C - 1.0))
    return (root - half) / (layers * (GAB_C - 1.0) + 1e-300) / GAB_K


def water_activity(moisture_kg_kg: ArrayLike, on_range: OnRange = "error") -> FloatArray:
    """Return the water activity of a drying surface from its water per fat-free dry matter.

    0 to 5 kg/kg (raw lean meat holds 3.3 and has 0.99); free liquid on top has 1 by itself.
    Measured at 5 to 50 °C; used above that because the heat of sorption differs little from the
    latent heat above 0.15 kg/kg (Clemente et al. 2009, read). Expect ±0.03 between 0.6 and 0.95.
    Source: ISOTHERM_SOURCE. Raises PhysicsRangeError outside.
    """
    moisture = MOISTURE_RANGE.check(moisture_kg_kg, on_range)
    wet: FloatArray = bare_water_activity(np.maximum(moisture, 1e-12))
    return np.where(moisture > 0, wet, 0.0)


def moisture_at_activity_kg_kg(activity: ArrayLike) -> FloatArray:
    """Return water per fat-free dry matter in balance with a water activity of 0 to 0.997.

    The inverse of `water_activity`. Source: ISOTHERM_SOURCE. Raises PhysicsRangeError outside.
    """
    held = Range("water activity", "of 1", 0.0, 0.997, "the isotherm up to 5 kg/kg")
    u = GAB_K * held.check(activity)
    return MONOLAYER_KG_KG * GAB_C * u / ((1.0 - u) * (1.0 - u + GAB_C * u))


def mass_coefficient_m_s(
    convection_w_m2k: ArrayLike,
    air_density_kg_m3: ArrayLike,
    air_capacity_j_kgk: ArrayLike,
    lewis_factor: float = 1.0,
) -> FloatArray:
    """Return the vapour transfer coefficient h/(ρ·c·factor) in m/s, small rates.

    `lewis_factor` 1 ties vapour to heat so that a wet surface ends at the thermodynamic wet bulb,
    which is what wet-bulb thermometers in moving air show; Le^(2/3), about 0.9, is Chilton and
    Colburn's. Source: CHILTON_COLBURN_SOURCE. Raises PhysicsRangeError for a factor of 0 or less.
    """
    factor = _factor(lewis_factor)
    capacity = np.asarray(air_density_kg_m3, dtype=np.float64) * np.asarray(air_capacity_j_kgk)
    return np.asarray(np.asarray(convection_w_m2k, dtype=np.float64) / (capacity * factor))


def bare_evaporation_kg_m2s(
    convection_w_m2k: Number, surface_ratio: Number, air_ratio: Number, lewis_factor: float
) -> Number:
    """Return the evaporation rate from humidity ratios, unchecked, for compiled code."""
    air_side = CP_DRY_AIR_J_KGK + CP_VAPOUR_J_KGK * air_ratio
    logarithm: Number = np.log1p(CP_VAPOUR_J_KGK * (surface_ratio - air_ratio) / air_side)
    return convection_w_m2k / (CP_VAPOUR_J_KGK * lewis_factor) * logarithm


def evaporation_kg_m2s(
    convection_w_m2k: ArrayLike,
    surface_vapour_pa: ArrayLike,
    air_vapour_pa: ArrayLike,
    pressure_pa: ArrayLike,
    lewis_factor: float = 1.0,
) -> FloatArray:
    """Return the rate at which vapour leaves a surface (negative: condenses on it).

    `surface_vapour_pa` is water activity × saturation pressure at the surface temperature.
    Stefan's logarithm, so that vapour blowing off speeds itself up and the rate grows without
    limit at boiling. With h_c the convective coefficient without blowing and W the humidity
    ratios at surface and in air:

        rate = h_c/(c_v·factor) · ln[(c_a + c_v·W_s)/(c_a + c_v·W_∞)]

    which is molar Stefan flow with the film's own heat capacity (within 1 % of it up to 80 °C
    surfaces), and with `convective_heat_w_m2` gives exactly the thermodynamic wet bulb.
    Source: FILM_SOURCE. Raises PhysicsRangeError where either vapour pressure is negative or
    reaches the air pressure: boiling is limited by heat, not by this.
    """
    factor = _factor(lewis_factor)
    h = _coefficient(convection_w_m2k)
    surface = humidity_ratio(surface_vapour_pa, pressure_pa)
    return bare_evaporation_kg_m2s(h, surface, humidity_ratio(air_vapour_pa, pressure_pa), factor)


def molar_stefan_kg_m2s(
    mass_coefficient_m_s: ArrayLike,
    surface_vapour_pa: ArrayLike,
    air_vapour_pa: ArrayLike,
    pressure_pa: ArrayLike,
    film_c: ArrayLike,
) -> FloatArray:
    """Return h_m·P/(R_v·T_film) · ln[(P − p_∞)/(P − p_s)], the textbook Stefan flow.

    Given beside `evaporation_kg_m2s` for comparison. Source: FILM_SOURCE. Raises as that.
    """
    pressure = np.asarray(pressure_pa, dtype=np.float64)
    surface = humidity_ratio(surface_vapour_pa, pressure)
    air = humidity_ratio(air_vapour_pa, pressure)
    kelvin = np.asarray(film_c, dtype=np.float64) + KELVIN
    strength = np.asarray(mass_coefficient_m_s) * pressure / (GAS_VAPOUR_J_KGK * kelvin)
    return np.asarray(strength * np.log((VAPOUR_TO_AIR + surface) / (VAPOUR_TO_AIR + air)))


def bare_blowing_factor(convection_w_m2k: Number, evaporation_kg_m2s: Number) -> Number:
    """Return Ackermann's factor a/(e^a − 1), a = rate·c_v/h_c, unchecked, for compiled code.

    Written without the 0/0 at no evaporation.
    """
    a = evaporation_kg_m2s * CP_VAPOUR_J_KGK / convection_w_m2k
    # tanh keeps both signs and zero in one expression: a/(e^a − 1) = (a/2)/tanh(a/2) − a/2.
    half = 0.5 * a + 1e-12
    blown: Number = half / np.tanh(half) - half
    return blown


def convective_heat_w_m2(
    convection_w_m2k: ArrayLike,
    air_c: ArrayLike,
    surface_c: ArrayLike,
    evaporation_kg_m2s: ArrayLike = 0.0,
) -> FloatArray:
    """Return the heat that the air gives the surface, lessened by the vapour blowing off it.

    Heat of evaporation is not in it. Source: FILM_SOURCE. Raises PhysicsRangeError for a
    coefficient of 0 or less.
    """
    h = _coefficient(convection_w_m2k)
    rate = np.asarray(evaporation_kg_m2s, dtype=np.float64)
    difference = np.asarray(air_c, dtype=np.float64) - np.asarray(surface_c, dtype=np.float64)
    return np.asarray(h * bare_blowing_factor(h, rate) * difference)


def bare_radiative_heat_w_m2(wall_c: Number, surface_c: Number, emissivity: float) -> Number:
    """Return `radiative_heat_w_m2` without checking the range, for compiled code."""
    wall, surface = wall_c + KELVIN, surface_c + KELVIN
    return emissivity * STEFAN_BOLTZMANN * (wall**4 - surface**4)


def radiative_heat_w_m2(
    wall_c: ArrayLike,
    surface_c: ArrayLike,
    emissivity: ArrayLike = EMISSIVITY_FOOD,
    on_range: OnRange = "error",
) -> FloatArray:
    """Return the heat that a piece takes from walls all around it that are large or sooty black.

    ε·σ·(T_w⁴ − T_s⁴); for part of the view, multiply by that part. Air is taken as clear.
    Source: Stefan–Boltzmann, exact constant of the 2019 SI; emissivities EMISSIVITY_SOURCE.
    Raises PhysicsRangeError outside −60 to 800 °C of wall, −40 to 250 °C of surface.
    """
    wall = WALL_RANGE.check(wall_c, on_range) + KELVIN
    surface = SURFACE_RANGE.check(surface_c, on_range) + KELVIN
    return EMISSIVITY_RANGE.check(emissivity) * STEFAN_BOLTZMANN * (wall**4 - surface**4)


def radiation_coefficient_w_m2k(
    wall_c: ArrayLike, surface_c: ArrayLike, emissivity: ArrayLike = EMISSIVITY_FOOD
) -> FloatArray:
    """Return radiative heat per kelvin between wall and surface, ε·σ·(T_w² + T_s²)(T_w + T_s).

    Source, ranges and errors as `radiative_heat_w_m2`.
    """
    wall = WALL_RANGE.check(wall_c) + KELVIN
    surface = SURFACE_RANGE.check(surface_c) + KELVIN
    each = EMISSIVITY_RANGE.check(emissivity) * STEFAN_BOLTZMANN
    return each * (wall**2 + surface**2) * (wall + surface)


def _coefficient(convection_w_m2k: ArrayLike) -> FloatArray:
    h = np.asarray(convection_w_m2k, dtype=np.float64)
    if not ((h > 0) & np.isfinite(h)).all():
        raise PhysicsRangeError(
            "convection coefficient: it must be above 0. Still air gives 3 to 8 W/(m²·K)."
        )
    return h


def _factor(lewis_factor: float) -> float:
    if not 0.5 <= lewis_factor <= 2.0:
        raise PhysicsRangeError(
            f"Lewis factor: {lewis_factor:g} is outside 0.5 to 2. Water vapour in air has 0.9 to 1."
        )
    return lewis_factor
