"""Units at the edges: reads what people write into SI floats, and shows SI floats to people.

`parse_…` read text and raise QuantityError for what is ambiguous or impossible; `show_…` write for
people in the Units they prefer; `file_…` write for files without loss. What is read how stands in
docs/quantities.md.
"""

from fairsmoke.quantity.errors import QuantityError
from fairsmoke.quantity.files import (
    file_duration,
    file_length,
    file_mass,
    file_temperature,
    file_temperature_difference,
)
from fairsmoke.quantity.reading import (
    parse_duration,
    parse_length,
    parse_mass,
    parse_temperature,
    parse_temperature_difference,
)
from fairsmoke.quantity.rounding import sensible, show_interval, show_plus_minus
from fairsmoke.quantity.showing import (
    show_duration,
    show_length,
    show_mass,
    show_mass_small,
    show_percent,
    show_temperature,
    show_temperature_difference,
)
from fairsmoke.quantity.units import METRIC, US, Units

__all__ = [
    "METRIC",
    "US",
    "QuantityError",
    "Units",
    "file_duration",
    "file_length",
    "file_mass",
    "file_temperature",
    "file_temperature_difference",
    "parse_duration",
    "parse_length",
    "parse_mass",
    "parse_temperature",
    "parse_temperature_difference",
    "sensible",
    "show_duration",
    "show_interval",
    "show_length",
    "show_mass",
    "show_mass_small",
    "show_percent",
    "show_plus_minus",
    "show_temperature",
    "show_temperature_difference",
]
