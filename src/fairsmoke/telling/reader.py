"""How numbers, moments and messages are written for one reader: the only place that formats."""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache, lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from babel.dates import format_date, format_skeleton
from babel.numbers import format_decimal, get_decimal_symbol
from jinja2 import pass_context
from jinja2.runtime import Context

from fairsmoke.messages.catalogue import say
from fairsmoke.messages.message import InputField, OnFace, Words, stretch
from fairsmoke.quantity import (
    METRIC,
    Units,
    show_duration,
    show_length,
    show_mass,
    show_mass_small,
    show_percent,
    show_temperature,
    show_temperature_difference,
)
from fairsmoke.quantity.values import (
    Digits,
    Duration,
    Instant,
    Length,
    Mass,
    MassAsWritten,
    MassInterval,
    MassSpread,
    Number,
    Share,
    Temperature,
    TemperatureDifference,
    repeat_mark,
)
from fairsmoke.telling.field_labels import NEVER, label_of
from fairsmoke.trial.clock import which_of

_POINT = re.compile(r"(?<=\d)\.(?=\d)")


@dataclass(frozen=True)
class Reader:
    """Who reads: their units, clock, language, the zone that times are in, and the face they use.

    ``face`` says how a field is named in an error: ``--serve`` in a shell, its label on a page.
    """

    units: Units
    language: str
    clock: str
    zone: ZoneInfo
    face: str = "page"

    def temperature(self, value_c: float, digits: int | None = None) -> str:
        """Return "250 °F" or "121 °C"."""
        return self._local(show_temperature(value_c, self.units, digits))

    def rise(self, value_k: float, digits: int | None = None) -> str:
        """Return a difference of temperatures, with its sign."""
        return self._local(show_temperature_difference(value_k, self.units, digits, sign=True))

    def rise_unsure(self, value_k: float, unsure_k: float) -> str:
        """Return "+4.2 ± 1.1 °C": a difference of pit temperatures with half of its interval."""
        times = 1.8 if self.units.temperature == "F" else 1.0
        # A tenth at best: no probe of a pit tells more.
        spread = max(unsure_k * times, 0.1)
        return self._local(
            f"{value_k * times:+.1f} ± {spread:.1f} °{self.units.temperature}".replace("-", "−")
        )

    def gap(self, value_k: float, digits: int | None = None) -> str:
        """Return a difference of temperatures without a plus."""
        return self._local(show_temperature_difference(value_k, self.units, digits))

    def fine(self, value_c: float) -> str:
        """Return a probe's reading, "68.2 °C" or "155 °F"."""
        return self.temperature(value_c, 1 if self.units.temperature == "C" else 0)

    def degrees(self, value_c: float) -> float:
        """Return a temperature as a number in the person's unit, for curves."""
        value = value_c if self.units.temperature == "C" else value_c * 1.8 + 32.0
        return round(value, 1)

    def mass(self, value_kg: float, digits: int | None = None) -> str:
        """Return "5.570 kg" or "12 lb 4.5 oz"."""
        return self._local(show_mass(value_kg, self.units, digits))

    def small_mass(self, value_kg: float, digits: int | None = None) -> str:
        """Return "85 g" or "3.0 oz"."""
        return self._local(show_mass_small(value_kg, self.units, digits))

    def duration(self, value_s: float) -> str:
        """Return "4 h 30 min"."""
        return show_duration(value_s)

    def minutes(self, value_s: float) -> str:
        """Return a time rounded to the minute: what a page shows of a clock that runs."""
        return show_duration(60 * round(value_s / 60)) if abs(value_s) >= 30 else "0 min"

    def percent(self, fraction: float, digits: int = 1) -> str:
        """Return "59.4 %"."""
        return self._local(show_percent(fraction, digits))

    def number(self, value: float, digits: int = 1) -> str:
        """Return a plain number with so many decimals."""
        # A table has hundreds of them, and Babel reads its pattern anew for each.
        return self._local(f"{value:.{digits}f}")

    def count(self, number: int) -> str:
        """Return a whole number with its thousands apart."""
        return format_decimal(number, locale=self.language)

    def hours_after(self, start: datetime, hours: float, zone: ZoneInfo) -> str:
        """Return the time of day so many hours after a moment, with the date where it is new."""
        return self.moment(start + timedelta(hours=float(hours)), zone)

    def time(self, moment: datetime, zone: ZoneInfo | None = None) -> str:
        """Return the time of day, "14:05" or "2:05 PM"; "01:25 BST" in an hour that comes twice."""
        local = moment.astimezone(zone or self.zone)
        skeleton = "Hm" if self.clock == "24" else "hm"
        shown = _time_of_day(local.hour, local.minute, skeleton, self._of_dates)
        mark = repeat_mark(local)
        return f"{shown} {mark}" if mark else shown

    def day_time(self, moment: datetime, zone: ZoneInfo | None = None) -> str:
        """Return weekday and time of day, "Sat 14:05"."""
        day = moment.astimezone(zone or self.zone).date()
        return f"{_weekday(day, 'EEE', self._of_dates)} {self.time(moment, zone)}"

    def long_day(self, moment: datetime, zone: ZoneInfo | None = None) -> str:
        """Return weekday and date, "Saturday, 2 May 2026"."""
        day = moment.astimezone(zone or self.zone).date()
        return f"{_weekday(day, 'EEEE', self._of_dates)}, {self.date(day)}"

    def size(self, length_m: float) -> str:
        """Return a length that was guessed: "34 cm" or "13 in"."""
        inches = self.units.length == "in"
        return f"{length_m / 0.0254:.0f} in" if inches else f"{100 * length_m:.0f} cm"

    def local(self, text: str) -> str:
        """Return a number's text with the person's decimal mark."""
        return self._local(text)

    def date(self, moment: datetime | date, zone: ZoneInfo | None = None) -> str:
        """Return the date, "2 May 2026"."""
        if isinstance(moment, datetime):
            moment = moment.astimezone(zone or self.zone).date()
        return _date(moment, self._of_dates)

    def moment(self, moment: datetime, zone: ZoneInfo | None = None) -> str:
        """Return date and time."""
        return f"{self.date(moment, zone)}, {self.time(moment, zone)}"

    def since(self, moment: datetime, now: datetime) -> str:
        """Return "14:05 (2 h 10 min)", or the date too when it is longer ago than a day."""
        past_s = (now - moment).total_seconds()
        if not 0 <= past_s < 24 * 3600:
            return self.moment(moment)
        return f"{self.time(moment)} ({self.minutes(past_s)})"

    def say(self, words: Words) -> str:
        """Return words in the reader's language, their values in the reader's units and clock."""
        return say(words, self.language, self.value)

    def value(self, value: Any) -> Any:
        """Return a message's value as it is written for this reader."""
        match value:
            case TemperatureDifference():
                return (
                    self.rise(value.value_k, value.digits)
                    if value.sign
                    else self.gap(value.value_k, value.digits)
                )
            case Temperature() | Mass() | MassSpread():
                return self._local(value.text(self.units))
            case MassAsWritten():
                own, written = value.parts(self.units)
                return f"{self._local(own)} (“{written}”)" if written else self._local(own)
            case MassInterval():
                return self.say(stretch(*map(Digits, value.ends(self.units))))
            case Length():
                return self._local(show_length(value.value_m, self.units, value.digits))
            case Duration():
                return self.say(NEVER) if math.isinf(value.value_s) else self._local(str(value))
            case Share() | Number() | Digits():
                return self._local(str(value))
            case Instant():
                return self._instant(value)
            case OnFace():
                return self.say(value.shell if self.face == "shell" else value.page)
            case InputField():
                return self.field(value.name)
            case int() if not isinstance(value, bool):
                return self.count(value) if value >= 1000 else value
            case _:
                return value

    def field(self, name: str) -> str:
        """Return what a field is called where this reader meets it."""
        return f"--{name.replace('_', '-')}" if self.face == "shell" else self.say(label_of(name))

    def _instant(self, value: Instant) -> str:
        shown = {
            "moment": self.moment,
            "time": self.time,
            "day time": self.day_time,
            "date": self.date,
            "long day": self.long_day,
        }[value.form]
        return shown(value.at, value.zone)

    @property
    def _of_dates(self) -> str:
        # English as most of the world writes it: "5/2/2026" is two days to two readers.
        return "en_GB" if self.language == "en" else self.language

    def _local(self, text: str) -> str:
        symbol = _decimal_mark(self.language)
        return text if symbol == "." else _POINT.sub(symbol, text)


ENGLISH = Reader(METRIC, "en", "24", ZoneInfo("UTC"))
"""A reader of whom nothing is known."""


@cache
def _time_of_day(hour: int, minute: int, skeleton: str, locale: str) -> str:
    # A page with a curve writes a hundred of them; there are 1440, and each is slow to make.
    any_day = datetime(2000, 1, 1, hour, minute)
    return format_skeleton(skeleton, any_day, locale=locale)


@cache
def _decimal_mark(language: str) -> str:
    return get_decimal_symbol(language)


@lru_cache(maxsize=2000)
def _weekday(day: date, pattern: str, locale: str) -> str:
    return format_date(day, pattern, locale=locale)


@lru_cache(maxsize=2000)
def _date(day: date, locale: str) -> str:
    return format_date(day, "medium", locale=locale)


def _filter(name: str) -> Callable[..., str]:
    @pass_context
    def shown(context: Context, value: Any, *more: Any) -> str:
        text: str = getattr(context["show"], name)(value, *more)
        return text

    return shown


FILTERS = {
    name: _filter(name)
    for name in (
        "temperature",
        "rise",
        "gap",
        "fine",
        "mass",
        "small_mass",
        "duration",
        "minutes",
        "percent",
        "count",
        "number",
        "time",
        "date",
        "moment",
        "since",
        "say",
    )
} | {
    "machine_time": lambda moment: moment.astimezone(UTC).isoformat(timespec="seconds"),
    "which": which_of,
}
"""What templates may pipe through: ``{{ piece.core_c|temperature }}``."""
