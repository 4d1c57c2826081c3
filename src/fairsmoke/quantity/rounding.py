"""Digits that an uncertainty supports, and the texts that show a value with it."""

import math
from fractions import Fraction

from fairsmoke.quantity.units import exact

# Own choice: the largest share by which rounding may make an uncertainty look smaller. It sends
# both examples of GUM 7.2.6 where the guide sends them (10.47 to 11, 28.05 to 28).
_LARGEST_UNDERSTATEMENT = Fraction(3, 100)
_DIGITS_OF_A_FLOAT = 15
NOT_KNOWN = "not known"


def fixed(value: Fraction, digits: int) -> str:
    """Return a number with `digits` decimals, halves to even; below 0 rounds to tens, hundreds …

    The minus is the typographic one (U+2212), which every parse function reads; zero has none.
    """
    step = Fraction(10) ** -digits
    units = round(value / step)
    sign = "−" if units < 0 else ""
    if digits <= 0:
        return f"{sign}{abs(units) * int(step)}"
    whole, behind = divmod(abs(units), 10**digits)
    return f"{sign}{whole}.{behind:0{digits}d}"


def sensible(value: float, uncertainty: float) -> tuple[str, str]:
    """Return the texts of a value and its uncertainty in the digits that the uncertainty supports.

    The uncertainty gets two significant digits and the value the same decimals. The uncertainty
    is rounded to nearest, or up where nearest would understate it by more than 3 %. Any unit, both
    the same; a standard or an expanded uncertainty. An uncertainty of 0 leaves the value whole;
    one that is infinite or not a number is "not known", and the value then shows three
    significant digits. Raises ValueError for a negative uncertainty.
    Source: JCGM 100:2008 (GUM) clause 7.2.6, seen as quoted by others; the 3 % is our own.
    """
    if uncertainty < 0:
        raise ValueError(f"an uncertainty cannot be negative: {uncertainty}")
    if not math.isfinite(uncertainty):
        return _significant(value, 3), NOT_KNOWN
    if uncertainty == 0:
        return _significant(value, _DIGITS_OF_A_FLOAT + 2, shortest=True), "0"
    digits, rounded = _two_digits(exact(uncertainty))
    if not math.isfinite(value):
        return _significant(value, 3), fixed(rounded, digits)
    most = _DIGITS_OF_A_FLOAT - 1 - _exponent(exact(value))
    return fixed(exact(value), min(digits, most)), fixed(rounded, digits)


def show_plus_minus(value: float, uncertainty: float, unit: str = "") -> str:
    """Return "59.4 ± 1.2 %" in sensible digits; value and uncertainty are both in `unit`.

    Say beside it what the uncertainty is: standard, or expanded with its coverage.
    """
    value_text, uncertainty_text = sensible(value, uncertainty)
    if uncertainty_text == NOT_KNOWN:
        return f"{with_unit(value_text, unit)} (uncertainty not known)"
    return with_unit(f"{value_text} ± {uncertainty_text}", unit)


def show_interval(low: float, high: float, unit: str = "") -> str:
    """Return "−0.8 to 3.1 %" with the digits that two significant digits of the width give.

    An end that is not zero does not become zero, if two more decimals can help it: the sign is
    what people look for. An infinite end gives "above …" or "below …". Both ends are in `unit`.
    Raises ValueError when `low` is above `high`.
    """
    if math.isnan(low) or math.isnan(high):
        return NOT_KNOWN
    if low > high:
        raise ValueError(f"the low end {low} of an interval is above the high end {high}")
    if math.isinf(low) and math.isinf(high):
        return NOT_KNOWN
    if math.isinf(low) or math.isinf(high):
        word, end = ("below", high) if math.isinf(low) else ("above", low)
        return f"{word} {with_unit(_significant(end, 3), unit)}"
    if low == high:
        return with_unit(interval_ends(low, high)[0], unit)
    return with_unit(" to ".join(interval_ends(low, high)), unit)


def interval_ends(low: float, high: float) -> tuple[str, str]:
    """Return the ends of a finite interval in the digits of `show_interval`."""
    if low == high:
        text = _significant(low, _DIGITS_OF_A_FLOAT + 2, shortest=True)
        return text, text
    ends = (exact(low), exact(high))
    digits, _ = _two_digits(ends[1] - ends[0])
    for more in range(3):
        if all(end == 0 or round(end * Fraction(10) ** (digits + more)) for end in ends):
            digits += more
            break
    return fixed(ends[0], digits), fixed(ends[1], digits)


def with_unit(number: str, unit: str) -> str:
    """Return "number unit", without a trailing space when there is no unit."""
    return f"{number} {unit}" if unit else number


def not_finite(value: float) -> str:
    """Return what stands for a value that is infinite or not a number."""
    if math.isnan(value):
        return NOT_KNOWN
    return "∞" if value > 0 else "−∞"


def _exponent(value: Fraction) -> int:
    """Return the power of ten of the first significant digit; 0 for zero."""
    if not value:
        return 0
    guess = len(str(abs(value.numerator))) - len(str(value.denominator))
    return guess if abs(value) >= Fraction(10) ** guess else guess - 1


def _two_digits(uncertainty: Fraction) -> tuple[int, Fraction]:
    """Return the decimals that leave two significant digits, and the rounded uncertainty."""
    digits = 1 - _exponent(uncertainty)
    scaled = uncertainty * Fraction(10) ** digits
    units = round(scaled)
    if units < scaled * (1 - _LARGEST_UNDERSTATEMENT):
        units += 1
    rounded = units / Fraction(10) ** digits
    return (digits - 1 if units >= 100 else digits), rounded


def _significant(value: float, count: int, *, shortest: bool = False) -> str:
    """Return a value with `count` significant digits, without trailing zeros if `shortest`."""
    if not math.isfinite(value):
        return not_finite(value)
    text = fixed(exact(value), count - 1 - _exponent(exact(value)))
    if shortest and "." in text:
        text = text.rstrip("0").rstrip(".")
    return text
