"""Lines of a table, as plain text that a screen, a page or a terminal can set as it likes."""

from collections.abc import Sequence
from dataclasses import dataclass

from fairsmoke.quantity import (
    Units,
    sensible,
    show_interval,
    show_mass,
    show_plus_minus,
)
from fairsmoke.weighing.uncertainty import DrawSummary

_KG_PER_OZ = 0.028349523125  # exact by definition
_G_PER_KG = 1000.0
_LARGE_KG = 1.0


@dataclass(frozen=True)
class Row:
    """A line: what it is, its value, and what to know about it."""

    label: str
    value: str
    note: str = ""


def listed(words: Sequence[str], last: str = "and") -> str:
    """Return "a", "a and b" or "a, b and c"."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}"


def mass_text(spread: DrawSummary, units: Units) -> str:
    """Return "3.306 ± 0.012 kg" or "7 lb 4.6 oz ± 0.4 oz"; ± is half of the 95 % interval."""
    value, half = spread.mean, spread.half_width
    if units.mass == "lb":
        _, error = sensible(value / _KG_PER_OZ, half / _KG_PER_OZ)
        digits = len(error.partition(".")[2])
        return f"{show_mass(value, units, digits)} ± {error} oz"
    if abs(value) < _LARGE_KG:
        return show_plus_minus(value * _G_PER_KG, half * _G_PER_KG, "g")
    return show_plus_minus(value, half, "kg")


def interval_text(low_kg: float, high_kg: float, units: Units) -> str:
    """Return "0 to 520 g", "0.3 to 4.1 kg" or "3.0 oz to 1 lb 2.5 oz"."""
    if units.mass == "lb":
        return f"{show_mass(low_kg, units)} to {show_mass(high_kg, units)}"
    if high_kg < _LARGE_KG:
        return show_interval(low_kg * _G_PER_KG, high_kg * _G_PER_KG, "g")
    return show_interval(low_kg, high_kg, "kg")


def percent_text(spread: DrawSummary) -> str:
    """Return "59.4 ± 1.2 %" for shares; ± is half of the 95 % interval."""
    return show_plus_minus(100 * spread.mean, 100 * spread.half_width, "%")


def percent_interval_text(spread: DrawSummary) -> str:
    """Return "58.2 to 60.6 %", the 95 % interval of a share."""
    return show_interval(100 * spread.low, 100 * spread.high, "%")
