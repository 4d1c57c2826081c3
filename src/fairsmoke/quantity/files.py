"""Writes SI values for files: every digit, a plain minus, and read back to the identical float.

All raise QuantityError for a value that no file can hold: infinite, not a number, or negative where
nothing can be.
"""

import math
from decimal import Decimal

from fairsmoke.messages.message import N_
from fairsmoke.quantity.errors import refusal


def file_temperature(value_c: float) -> str:
    """Return "121.11111111111111 °C"; parse_temperature returns the identical float."""
    return f"{_every_digit(value_c, '°C')} °C"


def file_temperature_difference(value_k: float) -> str:
    """Return "5.5 K"; parse_temperature_difference returns the identical float."""
    return f"{_every_digit(value_k, 'K')} K"


def file_mass(value_kg: float) -> str:
    """Return "5.57 kg"; parse_mass returns the identical float. Refuses a negative mass."""
    return f"{_every_digit(value_kg, 'kg', least=0.0)} kg"


def file_duration(value_s: float) -> str:
    """Return "5400 s"; parse_duration returns the identical float. Refuses a negative time."""
    return f"{_every_digit(value_s, 's', least=0.0)} s"


def file_length(value_m: float) -> str:
    """Return "0.045 m"; parse_length returns the identical float. Refuses a negative length."""
    return f"{_every_digit(value_m, 'm', least=0.0)} m"


def _every_digit(value: float, unit: str, least: float = -math.inf) -> str:
    """Return the shortest text that reads back to the same float, in digits where that is short."""
    number = float(value) + 0.0
    if not math.isfinite(number) or number < least:
        wrong = (
            N_("negative") if number < 0 and math.isfinite(number) else N_("not a finite number")
        )
        raise refusal(
            f"{number!r} {unit}",
            N_("%(wrong)s, so no file can hold it", wrong=wrong),
            N_("Correct the value"),
        )
    if number and not 1e-9 <= abs(number) < 1e16:
        return repr(number)
    return format(Decimal(repr(number)), "f").removesuffix(".0")
