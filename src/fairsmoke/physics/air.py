"""Moist air at any pressure: humidity, wet bulb, dew point, enthalpy, density, boiling point."""

import numpy as np
from numpy.typing import ArrayLike

from fairsmoke.physics.ranges import FloatArray, Number, OnRange, PhysicsRangeError, Range
from fairsmoke.physics.sources import Citation, Seen

KELVIN = 273.15
GAS_DRY_AIR_J_KGK = 287.042
GAS_VAPOUR_J_KGK = 461.52
VAPOUR_TO_AIR = 0.621945  # ratio of the molar masses of water and dry air
# Dry air, water vapour and liquid water, and the heat of vaporisation at 0 °C, as the handbook's
# perfect-gas relations round them. Wet bulb and enthalpy use these and no others, so that they
# agree with tables made from the same relations.
CP_DRY_AIR_J_KGK = 1006.0
CP_VAPOUR_J_KGK = 1860.0
CP_LIQUID_J_KGK = 4186.0
LATENT_0C_J_KG = 2.501e6

SATURATION_SOURCE = Citation(
    "Hyland & Wexler 1983, ASHRAE Transactions 89(2A):500–519, equations for −100 to 0 °C over "
    "ice and 0 to 200 °C over water; in ASHRAE Handbook—Fundamentals, Psychrometrics, eqs 5 and 6",
    Seen.CODE,
    "coefficients read in a public package; checked against CoolProp and a printed steam table",
)
RELATIONS_SOURCE = Citation(
    "ASHRAE Handbook—Fundamentals, Psychrometrics, perfect-gas relations",
    Seen.MEMORY,
    "checked against psychrolib; the handbook puts their error below 0.7 % for −50 to 50 °C",
)
ATMOSPHERE_SOURCE = Citation(
    "US Standard Atmosphere 1976 below 11 km, in the form of ASHRAE Fundamentals eq. 3",
    Seen.MEMORY,
    "meets 22 632 Pa at 11 000 m, read",
)

SATURATION_RANGE = Range("temperature of saturated vapour", "°C", -100.0, 200.0, "Hyland & Wexler")
DRY_BULB_RANGE = Range("dry-bulb temperature", "°C", -100.0, 200.0, "Hyland & Wexler")
PRESSURE_RANGE = Range("air pressure", "Pa", 20e3, 120e3, "11 000 m up to deep valleys")
BOILING_RANGE = Range("pressure over boiling water", "Pa", 611.3, 1.55e6, "Hyland & Wexler")
DEW_RANGE = Range("vapour pressure at the dew point", "Pa", 0.0014, 1.55e6, "Hyland & Wexler")
ALTITUDE_RANGE = Range("altitude", "m", -5000.0, 11000.0, "US Standard Atmosphere 1976")
HUMIDITY_RATIO_RANGE = Range(
    "humidity ratio", "kg/kg dry air", 0.0, 10.0, "94 % vapour by volume, near pure steam"
)
RELATIVE_RANGE = Range("relative humidity", "of 1", 0.0, 1.0, "by definition")
LATENT_RANGE = Range("temperature of evaporating water", "°C", 0.0, 200.0, "fit to IAPWS-95")

_ICE = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)
_S0, _S1, _S2, _S3, _S4, _S5 = (
    -5.8002206e3,
    1.3914993,
    -4.8640239e-2,
    4.1764768e-5,
    -1.4452093e-8,
    6.5459673,
)
# Heat of vaporisation, cubic in °C, fitted here to IAPWS-95 (through CoolProp) from 0 to 200 °C:
# within 0.03 %. tests/cross/test_moist_air.py fits it again.
LATENT_CUBIC = (2.50138748e6, -2419.56843, 1.36855043, -1.64923322e-2)
_L0, _L1, _L2, _L3 = LATENT_CUBIC
_BISECTIONS = 60


def bare_saturation_pressure_pa(temp_c: Number) -> Number:
    """Return the vapour pressure over liquid water, 0 to 200 °C, without checking the range.

    Source: SATURATION_SOURCE. For compiled code.
    """
    kelvin = temp_c + KELVIN
    logarithm = _S0 / kelvin + _S1 + kelvin * (_S2 + kelvin * (_S3 + kelvin * _S4))
    result: Number = np.exp(logarithm + _S5 * np.log(kelvin))
    return result


def bare_latent_heat_j_kg(temp_c: Number) -> Number:
    """Return the heat of vaporisation, 0 to 200 °C, without checking the range."""
    return _L0 + temp_c * (_L1 + temp_c * (_L2 + temp_c * _L3))


def bare_humidity_ratio(vapour_pa: Number, pressure_pa: Number) -> Number:
    """Return `humidity_ratio` without checking that the vapour is below the air pressure."""
    return VAPOUR_TO_AIR * vapour_pa / (pressure_pa - vapour_pa)


def saturation_pressure_pa(temp_c: ArrayLike, on_range: OnRange = "error") -> FloatArray:
    """Return the pressure of water vapour over water (over ice below 0 °C), −100 to 200 °C.

    The slight rise (below 0.5 %) that air brings is left out, as the handbook does.
    Source: SATURATION_SOURCE. Raises PhysicsRangeError outside.

    >>> f"{saturation_pressure_pa(100.0):.0f}"
    '101419'
    """
    temp = SATURATION_RANGE.check(temp_c, on_range)
    kelvin = np.minimum(temp, 0.0) + KELVIN
    c0, c1, c2, c3, c4, c5, c6 = _ICE
    ice = c0 / kelvin + c1 + kelvin * (c2 + kelvin * (c3 + kelvin * (c4 + kelvin * c5)))
    over_ice = np.exp(ice + c6 * np.log(kelvin))
    over_water: FloatArray = bare_saturation_pressure_pa(np.maximum(temp, 0.0))
    return np.where(temp < 0.0, over_ice, over_water)


def latent_heat_j_kg(temp_c: ArrayLike, on_range: OnRange = "error") -> FloatArray:
    """Return the heat of vaporisation of water, 0 to 200 °C, within 0.03 % of IAPWS-95.

    Source: LATENT_CUBIC. Raises PhysicsRangeError outside.
    """
    return bare_latent_heat_j_kg(LATENT_RANGE.check(temp_c, on_range))


def boiling_point_c(pressure_pa: ArrayLike, on_range: OnRange = "error") -> FloatArray:
    """Return the temperature at which pure water boils at `pressure_pa`, 611 Pa to 1.55 MPa.

    The inverse of `saturation_pressure_pa`, to better than 1e-9 K.
    Source: SATURATION_SOURCE. Raises PhysicsRangeError outside.

    >>> f"{boiling_point_c(84_556.0):.1f}"
    '95.0'
    """
    return _saturated_at(BOILING_RANGE.check(pressure_pa, on_range))


def pressure_at_altitude_pa(altitude_m: ArrayLike, on_range: OnRange = "error") -> FloatArray:
    """Return the air pressure of the standard atmosphere, −5000 to 11 000 m above the sea.

    Weather moves the true pressure by about ±3 %, which is ±0.8 K of boiling point.
    Source: ATMOSPHERE_SOURCE. Raises PhysicsRangeError outside.
    """
    altitude = ALTITUDE_RANGE.check(altitude_m, on_range)
    return 101_325.0 * (1.0 - 2.25577e-5 * altitude) ** 5.2559


def humidity_ratio(vapour_pa: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
    """Return kg of vapour per kg of dry air at a vapour pressure below the air pressure.

    Source: RELATIONS_SOURCE. Raises PhysicsRangeError where the vapour pressure is negative or
    not below the air pressure (there is then no air left), or the air pressure out of range.
    """
    pressure = PRESSURE_RANGE.check(pressure_pa)
    vapour = np.asarray(vapour_pa, dtype=np.float64)
    if not ((vapour >= 0) & (vapour < pressure)).all():
        raise PhysicsRangeError(
            "vapour pressure: it must be 0 or more and below the air pressure. "
            "At or above the boiling point water gives pure steam, not moist air."
        )
    return bare_humidity_ratio(vapour, pressure)


def vapour_pressure_pa(
    ratio_kg_kg: ArrayLike, pressure_pa: ArrayLike, on_range: OnRange = "error"
) -> FloatArray:
    """Return the partial pressure of the vapour in air of a humidity ratio (kg/kg dry air).

    Source: RELATIONS_SOURCE. Raises PhysicsRangeError outside 0 to 10 kg/kg.
    """
    pressure = PRESSURE_RANGE.check(pressure_pa, on_range)
    ratio = HUMIDITY_RATIO_RANGE.check(ratio_kg_kg, on_range)
    return pressure * ratio / (VAPOUR_TO_AIR + ratio)


def humidity_ratio_from_relative(
    temp_c: ArrayLike,
    relative: ArrayLike,
    pressure_pa: ArrayLike,
    on_range: OnRange = "error",
) -> FloatArray:
    """Return the humidity ratio (kg/kg dry air) at a relative humidity (0 to 1).

    Source: RELATIONS_SOURCE. Raises PhysicsRangeError out of range, and where the vapour pressure
    asked for reaches the air pressure.
    """
    share = RELATIVE_RANGE.check(relative)
    return humidity_ratio(share * saturation_pressure_pa(temp_c, on_range), pressure_pa)


def relative_humidity(
    temp_c: ArrayLike,
    ratio_kg_kg: ArrayLike,
    pressure_pa: ArrayLike,
    on_range: OnRange = "error",
) -> FloatArray:
    """Return the relative humidity (1 = saturated; above 1 means fog) of air.

    Against the vapour pressure of water at `temp_c`, also above the boiling point.
    Source: RELATIONS_SOURCE. Raises PhysicsRangeError outside −100 to 200 °C.
    """
    saturated = saturation_pressure_pa(temp_c, on_range)
    return vapour_pressure_pa(ratio_kg_kg, pressure_pa, on_range) / saturated


def dew_point_c(ratio_kg_kg: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
    """Return the temperature at which the vapour in the air would start to condense.

    As water, or as frost below 0 °C. Source: SATURATION_SOURCE. Raises PhysicsRangeError where it
    lies outside −100 to 200 °C, as for air without any vapour.
    """
    vapour = vapour_pressure_pa(ratio_kg_kg, pressure_pa)
    return _saturated_at(DEW_RANGE.check(vapour))


def enthalpy_j_kg(
    temp_c: ArrayLike, ratio_kg_kg: ArrayLike, on_range: OnRange = "error"
) -> FloatArray:
    """Return the enthalpy of moist air per kg of dry air, 0 for dry air and for liquid at 0 °C.

    Source: RELATIONS_SOURCE. Raises PhysicsRangeError outside −100 to 200 °C, 0 to 10 kg/kg.
    """
    temp = DRY_BULB_RANGE.check(temp_c, on_range)
    ratio = HUMIDITY_RATIO_RANGE.check(ratio_kg_kg, on_range)
    return CP_DRY_AIR_J_KGK * temp + ratio * (LATENT_0C_J_KG + CP_VAPOUR_J_KGK * temp)


def density_kg_m3(
    temp_c: ArrayLike,
    ratio_kg_kg: ArrayLike,
    pressure_pa: ArrayLike,
    on_range: OnRange = "error",
) -> FloatArray:
    """Return the density of moist air (air and vapour together).

    Source: RELATIONS_SOURCE. Raises PhysicsRangeError outside −100 to 200 °C, 0 to 10 kg/kg.
    """
    temp = DRY_BULB_RANGE.check(temp_c, on_range)
    ratio = HUMIDITY_RATIO_RANGE.check(ratio_kg_kg, on_range)
    pressure = PRESSURE_RANGE.check(pressure_pa, on_range)
    dry_volume = GAS_DRY_AIR_J_KGK * (temp + KELVIN) * (1.0 + ratio / VAPOUR_TO_AIR) / pressure
    return (1.0 + ratio) / dry_volume


def humidity_ratio_from_wet_bulb(
    temp_c: ArrayLike, wet_bulb_c: ArrayLike, pressure_pa: ArrayLike
) -> FloatArray:
    """Return the humidity ratio at a thermodynamic wet bulb of 0 °C or more, below boiling.

    Source: RELATIONS_SOURCE, eq. 33. Raises PhysicsRangeError where the wet bulb is above the dry
    bulb, below 0 °C or boiling, or so low that the air would have to be drier than dry.
    """
    temp = DRY_BULB_RANGE.check(temp_c)
    wet = Range("wet-bulb temperature", "°C", 0.0, 200.0, "liquid water").check(wet_bulb_c)
    if (wet > temp).any():
        raise PhysicsRangeError(
            "wet bulb: it is above the dry bulb. Check which is which, and wet the wick."
        )
    saturated = humidity_ratio(saturation_pressure_pa(wet), pressure_pa)
    ratio = _wet_bulb_ratio(temp, wet, saturated)
    if (ratio < 0).any():
        raise PhysicsRangeError(
            f"wet bulb: {np.min(wet):g} °C is lower than evaporation into dry air can bring it. "
            "Check the wick and the dry bulb."
        )
    return ratio


def wet_bulb_c(temp_c: ArrayLike, ratio_kg_kg: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
    """Return the thermodynamic wet bulb (adiabatic saturation) of air of up to 200 °C.

    A surface kept wet, without radiation, comes to this temperature. To better than 1e-9 K.
    Source: RELATIONS_SOURCE, eq. 33. Raises PhysicsRangeError where it would lie below 0 °C, where
    the air is over-saturated, and out of range.

    >>> f"{wet_bulb_c(121.0, 0.02, 101_325.0):.1f}"
    '41.8'
    """
    temp, ratio, pressure = np.broadcast_arrays(
        DRY_BULB_RANGE.check(temp_c),
        HUMIDITY_RATIO_RANGE.check(ratio_kg_kg),
        PRESSURE_RANGE.check(pressure_pa),
    )
    vapour = vapour_pressure_pa(ratio, pressure)
    if (vapour > saturation_pressure_pa(temp) * (1 + 1e-9)).any():
        raise PhysicsRangeError(
            "wet bulb: the air holds more vapour than it can at its temperature. "
            "Give a lower humidity ratio or a higher temperature."
        )
    # Just below boiling the saturated ratio grows without limit, so the root lies under it.
    high = np.minimum(temp, boiling_point_c(pressure) * (1 - 1e-12))
    low = np.zeros_like(high)
    freezing = (
        VAPOUR_TO_AIR * saturation_pressure_pa(0.0) / (pressure - saturation_pressure_pa(0.0))
    )
    if (temp < 0).any() or (_wet_bulb_ratio(temp, low, freezing) > ratio).any():
        raise PhysicsRangeError(
            "wet bulb: it would lie below 0 °C, where the wick freezes. Give warmer or moister air."
        )
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2
        over_water: FloatArray = bare_saturation_pressure_pa(middle)
        saturated = VAPOUR_TO_AIR * over_water / (pressure - over_water)
        too_low = _wet_bulb_ratio(temp, middle, saturated) < ratio
        low = np.where(too_low, middle, low)
        high = np.where(too_low, high, middle)
    return np.asarray((low + high) / 2)


def _saturated_at(pressure: FloatArray) -> FloatArray:
    """Return the temperature between −100 and 200 °C at which vapour is saturated."""
    low, high = np.full_like(pressure, -100.0), np.full_like(pressure, 200.0)
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2
        cooler = saturation_pressure_pa(middle) < pressure
        low, high = np.where(cooler, middle, low), np.where(cooler, high, middle)
    return np.asarray((low + high) / 2)


def _wet_bulb_ratio(temp: FloatArray, wet: FloatArray, saturated: FloatArray) -> FloatArray:
    """Return the ratio of air that is at `temp` and saturates adiabatically at `wet`."""
    falling = LATENT_0C_J_KG - (CP_LIQUID_J_KGK - CP_VAPOUR_J_KGK) * wet
    below = LATENT_0C_J_KG + CP_VAPOUR_J_KGK * temp - CP_LIQUID_J_KGK * wet
    return (falling * saturated - CP_DRY_AIR_J_KGK * (temp - wet)) / below
