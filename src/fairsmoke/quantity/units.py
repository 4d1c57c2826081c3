"""The units a person prefers, and the exact size of every unit that people write."""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Literal

from fairsmoke.messages.message import N_
from fairsmoke.quantity.errors import refusal

# What people see on the left, Pint's name for the same unit on the right.
_PINT_NAMES = {
    "°C": "degC",
    "°F": "degF",
    "K": "kelvin",
    "kg": "kilogram",
    "g": "gram",
    "lb": "pound",
    "oz": "ounce",
    "m": "meter",
    "cm": "centimeter",
    "mm": "millimeter",
    "ft": "foot",
    "in": "inch",
    "week": "week",
    "d": "day",
    "h": "hour",
    "min": "minute",
    "s": "second",
}


@dataclass(frozen=True)
class Units:
    """The units in which a person wants to see temperatures, masses and lengths."""

    temperature: Literal["C", "F"]
    mass: Literal["kg", "lb"]
    length: Literal["cm", "in"]

    @staticmethod
    def named(name: str) -> "Units":
        """Return the units called "metric" or "us"; raises QuantityError for another name."""
        known = {"metric": METRIC, "us": US}
        units = known.get(name.strip().lower())
        if units is None:
            raise refusal(name, N_("there are no units of this name"), N_("Write metric or us"))
        return units


METRIC = Units(temperature="C", mass="kg", length="cm")
US = Units(temperature="F", mass="lb", length="in")


@cache
def _conversion() -> Callable[[Fraction, str, str], Fraction]:
    # Pint takes about 0.3 s to import and read its definitions, so this waits for the first use.
    # Fractions in place of floats keep every definition exact.
    import pint

    registry: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction)

    def convert(number: Fraction, unit: str, base: str) -> Fraction:
        quantity = registry.Quantity(number, _PINT_NAMES[unit])
        return Fraction(quantity.to(_PINT_NAMES[base]).magnitude)

    return convert


@cache
def affine(unit: str, base: str) -> tuple[Fraction, Fraction]:
    """Return (factor, offset), exact: a number in `unit` × factor + offset is the number in `base`.

    Units are spelled as people see them ("°F", "lb", "in"). The factor alone converts a difference
    of temperature. Source: Pint's unit definitions, checked against NIST SP 811 in
    tests/published/test_unit_definitions.py.
    """
    if unit == base:
        return Fraction(1), Fraction(0)
    convert = _conversion()
    offset = convert(Fraction(0), unit, base)
    return convert(Fraction(1), unit, base) - offset, offset


def exact(value: float) -> Fraction:
    """Return the decimal number that a finite float shows as, so that rounding is what is seen."""
    return Fraction(repr(float(value)))
