"""Shows SI values to people in the units they prefer. Minus signs are typographic (U+2212)."""

import math
from fractions import Fraction

from fairsmoke.quantity.rounding import (
    fixed,
    interval_ends,
    not_finite,
    sensible,
    show_plus_minus,
    with_unit,
)
from fairsmoke.quantity.units import Units, affine, exact

_DAY_S, _HOUR_S, _MINUTE_S = 86400, 3600, 60
_KG_PER_OZ = 0.028349523125  # exact by definition
_LARGE_KG = 1.0
_SMALL_KG = 0.5
_NO_SPREAD_KG = 0.00005


def show_temperature(value_c: float, units: Units, digits: int | None = None) -> str:
    """Return "250 °F" or "121 °C" for a temperature in °C; `digits` decimals, by default none."""
    unit = f"°{units.temperature}"
    return _shown(value_c, unit, "°C", 0 if digits is None else digits)


def show_temperature_difference(
    value_k: float, units: Units, digits: int | None = None, *, sign: bool = False
) -> str:
    """Return "5.6 °C" or "10 °F" for a difference in kelvin; `sign` puts a + before a rise.

    By default one decimal of °C and none of °F.
    """
    unit = f"°{units.temperature}"
    default = 1 if units.temperature == "C" else 0
    text = _shown(value_k, unit, "K", default if digits is None else digits, difference=True)
    return f"+{text}" if sign and value_k > 0 else text


def show_mass(value_kg: float, units: Units, digits: int | None = None) -> str:
    """Return "5.570 kg" or "12 lb 4.5 oz" for a mass in kg.

    `digits` decimals of the kilogram (by default 3) or of the ounce (by default 1). Below one
    pound the pounds are left out. A negative mass, as of a difference, has its minus in front.
    """
    if units.mass == "kg" or not math.isfinite(value_kg):
        return _shown(value_kg, units.mass, "kg", 3 if digits is None else digits)
    decimals = 1 if digits is None else max(digits, 0)
    steps = round(exact(value_kg) / affine("oz", "kg")[0] * 10**decimals)
    pounds, left = divmod(abs(steps), 16 * 10**decimals)
    ounces = fixed(Fraction(left, 10**decimals), decimals)
    sign = "−" if steps < 0 else ""
    return f"{sign}{pounds} lb {ounces} oz" if pounds else f"{sign}{ounces} oz"


def show_mass_small(value_kg: float, units: Units, digits: int | None = None) -> str:
    """Return "85 g" or "3.0 oz" for a mass in kg, for rubs, wraps and drippings.

    `digits` decimals, at most 2 of the gram, by default none; by default 1 of the ounce. Raises
    ValueError for three decimals of a gram, which nobody could tell from thousands.
    """
    if units.mass == "kg":
        if digits is not None and digits > 2:
            raise ValueError(f"grams are shown with at most 2 decimals, not {digits}")
        return _shown(value_kg, "g", "kg", 0 if digits is None else digits)
    return _shown(value_kg, "oz", "kg", 1 if digits is None else digits)


def show_mass_spread(value_kg: float, half_kg: float, units: Units) -> str:
    """Return "3.306 ± 0.012 kg" or "7 lb 4.6 oz ± 0.4 oz" in the digits that the ± supports."""
    if units.mass == "lb":
        _, error = sensible(value_kg / _KG_PER_OZ, half_kg / _KG_PER_OZ)
        digits = len(error.partition(".")[2])
        return f"{show_mass(value_kg, units, digits)} ± {error} oz"
    if abs(value_kg) < _LARGE_KG:
        return show_plus_minus(value_kg * 1000.0, half_kg * 1000.0, "g")
    return show_plus_minus(value_kg, half_kg, "kg")


def mass_ends(low_kg: float, high_kg: float, units: Units) -> tuple[str, str]:
    """Return the ends of an interval: "0" and "520 g", or "3.0 oz" and "1 lb 2.5 oz"."""
    if units.mass == "lb":
        return show_mass(low_kg, units), show_mass(high_kg, units)
    times, unit = (1000.0, "g") if high_kg < _LARGE_KG else (1.0, "kg")
    low, high = interval_ends(low_kg * times, high_kg * times)
    return low, f"{high} {unit}"


def show_mass_as_scales(mass_kg: float, uncertainty_kg: float, units: Units) -> str:
    """Return "4.112 ± 0.004 kg", "86 ± 12 g" or "9 lb 1.0 oz ± 0.4 oz", in a scale's digits.

    An uncertainty too small to show at them is left out.
    """
    small = abs(mass_kg) < _SMALL_KG
    if uncertainty_kg < _NO_SPREAD_KG:
        return (show_mass_small if small else show_mass)(mass_kg, units)
    if units.mass == "lb":
        digits = 1 if uncertainty_kg >= 0.0015 else 2
        value = show_mass(mass_kg, units, digits)
        return f"{value} ± {show_mass_small(uncertainty_kg, units, digits)}"
    if small:
        shown, digits = show_mass_small, 0 if uncertainty_kg >= 0.002 else 1
    else:
        shown = show_mass
        digits = 2 if uncertainty_kg >= 0.1 else 3 if uncertainty_kg >= 0.0015 else 4
    value = shown(mass_kg, units, digits).rsplit(" ", 1)[0]
    return f"{value} ± {shown(uncertainty_kg, units, digits)}"


def show_duration(value_s: float) -> str:
    """Return "4 h 30 min", "4 min 30 s" or "2 d 4 h" for a time in s.

    Rounded to the second below ten minutes, to the minute below two days, to the hour above.
    """
    if not math.isfinite(value_s):
        return not_finite(value_s)
    size = abs(value_s)
    step = 1 if size < 10 * _MINUTE_S else _MINUTE_S if size < 2 * _DAY_S else _HOUR_S
    total = round(exact(size) / step) * step
    top_units = [("d", _DAY_S)] if total >= 2 * _DAY_S else []
    texts = []
    left = total
    for name, seconds in [*top_units, ("h", _HOUR_S), ("min", _MINUTE_S), ("s", 1)]:
        count, left = divmod(left, seconds)
        if count:
            texts.append(f"{count} {name}")
    if not texts:
        return "0 s"
    return ("−" if value_s < 0 else "") + " ".join(texts)


def show_length(value_m: float, units: Units, digits: int | None = None) -> str:
    """Return "4.5 cm" or "1.75 in" for a length in m; by default 1 decimal of cm, 2 of an inch."""
    default = 1 if units.length == "cm" else 2
    return _shown(value_m, units.length, "m", default if digits is None else digits)


def show_percent(fraction: float, digits: int = 1) -> str:
    """Return "59.4 %" for a share of 0.594."""
    if not math.isfinite(fraction):
        return not_finite(fraction)
    return f"{fixed(exact(fraction) * 100, digits)} %"


def _shown(value: float, unit: str, base: str, digits: int, *, difference: bool = False) -> str:
    """Return a value in `base` as text in `unit`; a difference leaves the zero points out."""
    if not math.isfinite(value):
        return not_finite(value)
    factor, offset = affine(unit, base)
    return with_unit(fixed((exact(value) - (0 if difference else offset)) / factor, digits), unit)
