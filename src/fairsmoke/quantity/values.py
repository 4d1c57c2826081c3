"""Quantities as values of a message: SI inside, written in each reader's own units and clock.

``str()`` of each is its plain metric English. `fairsmoke.telling.reader` writes them for a person.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal
from zoneinfo import ZoneInfo

from fairsmoke.quantity.showing import (
    show_duration,
    show_length,
    show_mass,
    show_mass_small,
    show_percent,
    show_temperature,
    show_temperature_difference,
)
from fairsmoke.quantity.units import METRIC

_QUARTER_S = 900.0


@dataclass(frozen=True)
class Temperature:
    """A temperature in °C; by default without decimals."""

    value_c: float
    digits: int | None = None

    def __str__(self) -> str:
        """Return "94 °C"."""
        return show_temperature(self.value_c, METRIC, self.digits)


@dataclass(frozen=True)
class TemperatureDifference:
    """A difference of temperatures in kelvin; ``sign`` writes a plus before a rise."""

    value_k: float
    digits: int | None = None
    sign: bool = False

    def __str__(self) -> str:
        """Return "5.6 °C"."""
        return show_temperature_difference(self.value_k, METRIC, self.digits, sign=self.sign)


@dataclass(frozen=True)
class Mass:
    """A mass in kg; ``small`` for what is told in grams or ounces."""

    value_kg: float
    digits: int | None = None
    small: bool = False

    def __str__(self) -> str:
        """Return "5.570 kg" or "85 g"."""
        shown = show_mass_small if self.small else show_mass
        return shown(self.value_kg, METRIC, self.digits)


@dataclass(frozen=True)
class Length:
    """A length in m."""

    value_m: float
    digits: int | None = None

    def __str__(self) -> str:
        """Return "4.5 cm"."""
        return show_length(self.value_m, METRIC, self.digits)


@dataclass(frozen=True)
class Duration:
    """A length of time in s; ``rough`` to the minute below an hour and to the quarter above."""

    value_s: float
    rough: bool = False

    @property
    def rounded_s(self) -> float:
        """The length as it is told, in s; infinite where it never ends."""
        if not self.rough or not abs(self.value_s) < float("inf"):
            return self.value_s
        step = _QUARTER_S if abs(self.value_s) >= 4 * _QUARTER_S else 60.0
        return step * round(self.value_s / step)

    def __str__(self) -> str:
        """Return "4 h 30 min"."""
        if self.rough and self.rounded_s == 0.0:
            return "0 min"
        return show_duration(self.rounded_s)


@dataclass(frozen=True)
class Share:
    """A share, written in per cent."""

    fraction: float
    digits: int = 1

    def __str__(self) -> str:
        """Return "59.4 %"."""
        return show_percent(self.fraction, self.digits)


@dataclass(frozen=True)
class Number:
    """A plain number with so many decimals."""

    value: float
    digits: int = 1

    def __str__(self) -> str:
        """Return "3.1", with a typographic minus."""
        return f"{self.value:.{self.digits}f}".replace("-", "−")


@dataclass(frozen=True)
class Instant:
    """A moment, told as ``form`` says; in a zone of its own where it has one."""

    at: datetime
    form: Literal["moment", "time", "day time", "date", "long day"] = "moment"
    zone: ZoneInfo | None = None

    def __str__(self) -> str:
        """Return the moment in its own zone: "2 May 2026, 14:05"."""
        local = self.at if self.zone is None else self.at.astimezone(self.zone)
        patterns = {
            "moment": f"{local.day} %b %Y, %H:%M",
            "time": "%H:%M",
            "day time": "%a %H:%M",
            "date": f"{local.day} %b %Y",
            "long day": f"%A, {local.day} %b %Y",
        }
        return local.strftime(patterns[self.form])


Quantity = Temperature | TemperatureDifference | Mass | Length | Duration | Share | Number | Instant

__all__ = [
    "Duration",
    "Instant",
    "Length",
    "Mass",
    "Number",
    "Quantity",
    "Share",
    "Temperature",
    "TemperatureDifference",
]
