"""How moist air carries heat, momentum and vapour: viscosity, conductivity, diffusivity."""

import numpy as np
from numpy.typing import ArrayLike

from fairsmoke.physics.air import (
    CP_DRY_AIR_J_KGK,
    CP_VAPOUR_J_KGK,
    HUMIDITY_RATIO_RANGE,
    KELVIN,
    PRESSURE_RANGE,
    VAPOUR_TO_AIR,
    density_kg_m3,
)
from fairsmoke.physics.ranges import FloatArray, OnRange, Range
from fairsmoke.physics.sources import Citation, Seen

DRY_AIR_SOURCE = Citation(
    "US Standard Atmosphere 1976, viscosity and conductivity of dry air",
    Seen.MEMORY,
    "within 1.3 % of CoolProp's air from 0 to 200 °C",
)
MIXING_SOURCE = Citation(
    "Wilke 1950 for viscosity; Mason & Saxena 1958 for conductivity, with Wilke's factors",
    Seen.MEMORY,
    "within 2 % of CoolProp's humid air at 95 to 105 °C, where that holds",
)
DIFFUSIVITY_SOURCE = Citation(
    "Marrero & Mason 1972, J. Phys. Chem. Ref. Data 1:3–118, water in air, 282 to 450 K",
    Seen.MEMORY,
    "checked against Monteith & Unsworth's 2.12e-5 m²/s at 0 °C and exponent 1.75, read",
)
TRANSPORT_RANGE = Range("air temperature", "°C", 0.0, 200.0, "the sources of air_transport")
DIFFUSIVITY_RANGE = Range("air temperature", "°C", 0.0, 177.0, "Marrero & Mason to 450 K")

# Water vapour at low pressure, fitted here to IAPWS transport properties (through CoolProp) from
# 0 to 200 °C, and fitted again in tests/cross/test_moist_air.py: constant, linear, square in °C.
VAPOUR_VISCOSITY = (8.90268e-6, 3.18108e-8, 2.50840e-11)
VAPOUR_CONDUCTIVITY = (1.672912e-2, 6.632175e-5, 7.952032e-8)


def viscosity_pa_s(
    temp_c: ArrayLike, ratio_kg_kg: ArrayLike, on_range: OnRange = "error"
) -> FloatArray:
    """Return the viscosity of moist air of a humidity ratio (kg/kg dry air), 0 to 200 °C.

    Sources: DRY_AIR_SOURCE, MIXING_SOURCE. Raises PhysicsRangeError outside.
    """
    temp = TRANSPORT_RANGE.check(temp_c, on_range)
    air, vapour = _dry_viscosity(temp), _quadratic(temp, VAPOUR_VISCOSITY)
    return _mixed(air, vapour, air, vapour, HUMIDITY_RATIO_RANGE.check(ratio_kg_kg, on_range))


def conductivity_w_mk(
    temp_c: ArrayLike, ratio_kg_kg: ArrayLike, on_range: OnRange = "error"
) -> FloatArray:
    """Return the thermal conductivity of moist air, 0 to 200 °C.

    Sources: DRY_AIR_SOURCE, MIXING_SOURCE. Raises PhysicsRangeError outside.
    """
    temp = TRANSPORT_RANGE.check(temp_c, on_range)
    kelvin = temp + KELVIN
    air = 2.64638e-3 * kelvin**1.5 / (kelvin + 245.4 * 10.0 ** (-12.0 / kelvin))
    vapour = _quadratic(temp, VAPOUR_CONDUCTIVITY)
    ratio = HUMIDITY_RATIO_RANGE.check(ratio_kg_kg, on_range)
    return _mixed(air, vapour, _dry_viscosity(temp), _quadratic(temp, VAPOUR_VISCOSITY), ratio)


def heat_capacity_j_kgk(ratio_kg_kg: ArrayLike, on_range: OnRange = "error") -> FloatArray:
    """Return the heat capacity of moist air per kg of the mixture, as the psychrometric relations.

    Source: air.RELATIONS_SOURCE. Raises PhysicsRangeError outside 0 to 10 kg/kg.
    """
    ratio = HUMIDITY_RATIO_RANGE.check(ratio_kg_kg, on_range)
    return (CP_DRY_AIR_J_KGK + ratio * CP_VAPOUR_J_KGK) / (1.0 + ratio)


def vapour_diffusivity_m2_s(
    temp_c: ArrayLike, pressure_pa: ArrayLike, on_range: OnRange = "error"
) -> FloatArray:
    """Return the diffusivity of water vapour in air, 0 to 177 °C.

    Source: DIFFUSIVITY_SOURCE (its range starts at 9 °C; 0 to 9 °C stretches it). Raises
    PhysicsRangeError outside.
    """
    kelvin = DIFFUSIVITY_RANGE.check(temp_c, on_range) + KELVIN
    pressure = PRESSURE_RANGE.check(pressure_pa, on_range)
    return 1.87e-10 * kelvin**2.072 * (101_325.0 / pressure)


def lewis_number(
    temp_c: ArrayLike,
    ratio_kg_kg: ArrayLike,
    pressure_pa: ArrayLike,
    on_range: OnRange = "error",
) -> FloatArray:
    """Return thermal diffusivity over vapour diffusivity, about 0.85 for dry air, 0 to 177 °C.

    Sources: as its parts. Raises PhysicsRangeError outside.
    """
    density = density_kg_m3(temp_c, ratio_kg_kg, pressure_pa, on_range)
    conductivity = conductivity_w_mk(temp_c, ratio_kg_kg, on_range)
    thermal = conductivity / (density * heat_capacity_j_kgk(ratio_kg_kg, on_range))
    return thermal / vapour_diffusivity_m2_s(temp_c, pressure_pa, on_range)


def _dry_viscosity(temp: FloatArray) -> FloatArray:
    kelvin = temp + KELVIN
    return 1.458e-6 * kelvin**1.5 / (kelvin + 110.4)


def _quadratic(temp: FloatArray, coefficients: tuple[float, float, float]) -> FloatArray:
    c0, c1, c2 = coefficients
    return c0 + temp * (c1 + temp * c2)


def _mixed(
    air: FloatArray,
    vapour: FloatArray,
    air_viscosity: FloatArray,
    vapour_viscosity: FloatArray,
    ratio: FloatArray,
) -> FloatArray:
    """Return Wilke's mixture of a property of air and vapour."""
    vapour_share = ratio / (VAPOUR_TO_AIR + ratio)
    air_share = 1.0 - vapour_share
    heavy = 1.0 / VAPOUR_TO_AIR  # molar mass of air over that of water
    quotient = np.sqrt(air_viscosity / vapour_viscosity)
    air_vapour = (1 + quotient * (1 / heavy) ** 0.25) ** 2 / np.sqrt(8 * (1 + heavy))
    vapour_air = (1 + (1 / quotient) * heavy**0.25) ** 2 / np.sqrt(8 * (1 + 1 / heavy))
    return np.asarray(
        air_share * air / (air_share + vapour_share * air_vapour)
        + vapour_share * vapour / (vapour_share + air_share * vapour_air)
    )
