"""Quantities as values of a message: SI inside, written in each reader's own units and clock.

``str()`` of each is its plain metric English. `fairsmoke.telling.reader` writes them for a person.
"""

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Literal
from zoneinfo import ZoneInfo

from fairsmoke.quantity.showing import (
    mass_ends,
    show_duration,
    show_length,
    show_mass,
    show_mass_as_scales,
    show_mass_small,
    show_mass_spread,
    show_percent,
    show_temperature,
    show_temperature_difference,
)
from fairsmoke.quantity.units import METRIC, Units

_QUARTER_S = 900.0


@dataclass(frozen=True)
class Temperature:
    """A temperature in °C; by default without decimals.

    ``limit`` is for a published one, which appears as it was published: with the tenths of °C
    that one stated in whole °F has, and as the round °F whose rounded °C it is.

    >>> from fairsmoke.quantity.units import US
    >>> Temperature(177.0, limit=True).text(US), Temperature(5.0, limit=True).text(US)
    ('350 °F', '41 °F')
    """

    value_c: float
    digits: int | None = None
    limit: bool = False

    def text(self, units: Units) -> str:
        """Return "94 °C" or "201 °F"."""
        tenths = self.limit and units.temperature == "C" and self.value_c % 1
        value_c = _published_c(self.value_c) if self.limit and not tenths else self.value_c
        return show_temperature(value_c, units, 1 if tenths else self.digits)

    def __str__(self) -> str:
        """Return "94 °C"."""
        return self.text(METRIC)


def _published_c(value_c: float) -> float:
    """Return the temperature (°C) of the multiple of 5 °F that was rounded to this one, if any."""
    degrees_f = 1.8 * value_c + 32.0
    near_f = 5.0 * round(degrees_f / 5.0)
    # Half a °C is 0.9 °F; what is whole in both scales was not rounded.
    whole = abs(degrees_f - round(degrees_f)) < _EXACT_F
    return value_c if whole or abs(degrees_f - near_f) > _ROUNDED_F else (near_f - 32.0) / 1.8


_EXACT_F = 1e-6
_ROUNDED_F = 0.9


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
    """A mass in kg; ``small`` for what is told in grams, ``rough`` to 10 g or an ounce."""

    value_kg: float
    digits: int | None = None
    small: bool = False
    rough: bool = False

    def text(self, units: Units) -> str:
        """Return "5.570 kg", "85 g" or "12 lb 4.5 oz"."""
        shown = show_mass_small if self.small else show_mass
        rough = 2 if units.mass == "kg" else 0
        return shown(self.value_kg, units, rough if self.rough else self.digits)

    def __str__(self) -> str:
        """Return "5.570 kg" or "85 g"."""
        return self.text(METRIC)


@dataclass(frozen=True)
class MassSpread:
    """A mass with how unsure it is, both in kg.

    In the digits that the uncertainty supports; ``as_scales`` in those that a scale shows.
    """

    value_kg: float
    unsure_kg: float
    as_scales: bool = False

    def text(self, units: Units) -> str:
        """Return "3.306 ± 0.012 kg" or "7 lb 4.6 oz ± 0.4 oz"."""
        shown = show_mass_as_scales if self.as_scales else show_mass_spread
        return shown(self.value_kg, self.unsure_kg, units)

    def __str__(self) -> str:
        """Return "3.306 ± 0.012 kg"."""
        return self.text(METRIC)


@dataclass(frozen=True)
class MassAsWritten:
    """A mass in kg, and as a person wrote it, which is told too where it says it otherwise."""

    value_kg: float
    written: str = ""

    def parts(self, units: Units) -> tuple[str, str]:
        """Return "1 lb 2.0 oz" and "510 g"; the second is "" where both say the same."""
        own = show_mass(self.value_kg, units)
        return own, "" if _bare(self.written) == _bare(own) else self.written

    def __str__(self) -> str:
        """Return "0.510 kg (“18 oz”)"."""
        own, written = self.parts(METRIC)
        return f"{own} (“{written}”)" if written else own


def _bare(mass: str) -> str:
    """Return a written mass without spaces and closing zeros, so that "2.0 oz" is "2 oz"."""
    bare = re.sub(r"\s+", "", mass.lower())
    return re.sub(r"\.(?!\d)", "", re.sub(r"(\.\d*?)0+(?!\d)", r"\1", bare))


@dataclass(frozen=True)
class MassInterval:
    """Between which masses something lies, in kg."""

    low_kg: float
    high_kg: float

    def ends(self, units: Units) -> tuple[str, str]:
        """Return the ends with their unit: "0" and "520 g", "3.0 oz" and "1 lb 2.5 oz"."""
        return mass_ends(self.low_kg, self.high_kg, units)

    def __str__(self) -> str:
        """Return "0 to 520 g"."""
        return " to ".join(self.ends(METRIC))


@dataclass(frozen=True)
class Digits:
    """A number that is rounded already, with a decimal point, and its unit where it has one."""

    text: str

    def __str__(self) -> str:
        """Return the text."""
        return self.text


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
    """A length of time in s; ``rough`` to the minute below an hour and to the quarter above.

    ``sign`` writes a plus before what is longer.
    """

    value_s: float
    rough: bool = False
    sign: bool = False

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
        text = show_duration(self.rounded_s)
        return f"+{text}" if self.sign and self.rounded_s > 0 else text


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
    """A plain number with so many decimals; ``sign`` writes a plus before one above nothing."""

    value: float
    digits: int = 1
    sign: bool = False

    def __str__(self) -> str:
        """Return "3.1", with a typographic minus."""
        plus = "+" if self.sign and self.value > 0 else ""
        return f"{plus}{self.value:.{self.digits}f}".replace("-", "−")


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
        mark = repeat_mark(local) if "%H" in patterns[self.form] else ""
        return local.strftime(patterns[self.form]) + (f" {mark}" if mark else "")


def repeat_mark(local: datetime) -> str:
    """Return what tells a local time from the other that clocks show alike; "" where none is.

    In the hour that a change of the clocks repeats: the zone's abbreviation then, "BST" or "GMT".
    """
    if local.replace(fold=1 - local.fold).utcoffset() == local.utcoffset():
        return ""
    return local.tzname() or ""


Quantity = (
    Temperature
    | TemperatureDifference
    | Mass
    | MassSpread
    | MassAsWritten
    | MassInterval
    | Length
    | Duration
    | Share
    | Number
    | Digits
    | Instant
)

__all__ = [
    "Digits",
    "Duration",
    "Instant",
    "Length",
    "Mass",
    "MassAsWritten",
    "MassInterval",
    "MassSpread",
    "Number",
    "Quantity",
    "Share",
    "Temperature",
    "TemperatureDifference",
    "repeat_mark",
]
