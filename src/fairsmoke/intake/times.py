"""Times as loggers write them: dates and clocks in three orders, clocks alone, counts of seconds.

Columns of text are read all at once; what cannot be read is marked, not guessed.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl
from numpy.typing import NDArray

TimeForm = Literal[
    "date and clock",
    "clock",
    "epoch s",
    "epoch ms",
    "elapsed s",
    "elapsed min",
    "elapsed h",
    "elapsed h:mm:ss",
    "elapsed mm:ss",
]
DateOrder = Literal["year-month-day", "month-day-year", "day-month-year", "yyyymmdd"]

MINUTE_MS = 60_000
HOUR_MS = 3_600_000
DAY_MS = 86_400_000

UNIT_MS: dict[TimeForm, float] = {
    "epoch s": 1000.0,
    "epoch ms": 1.0,
    "elapsed s": 1000.0,
    "elapsed min": float(MINUTE_MS),
    "elapsed h": float(HOUR_MS),
}
MAX_ELAPSED_MS = 3660 * DAY_MS
"""Ten years: a larger count of elapsed time is not a cook."""

FIRST_YEAR, LAST_YEAR = 1900, 2199

_YEAR = r"(?P<year>[0-9]{4}|[0-9]{2})"
_MONTH = r"(?P<month>[0-9]{1,2}|[A-Za-z]{3,9})"
_DAY = r"(?P<day>[0-9]{1,2})"
_BETWEEN = r"(?:[-/. ]|, |\. )"
_CLOCK = (
    r"(?P<hour>[0-9]{1,2})[:.](?P<minute>[0-9]{2})"
    r"(?:[:.](?P<second>[0-9]{2})(?:[.,](?P<fraction>[0-9]{1,9}))?)?"
    r"(?: ?(?P<half>[AaPp])\.?[Mm]\.?)?"
)
_OFFSET = (
    r"(?: ?(?:(?P<utc>[Zz]|UTC|GMT)|(?P<sign>[+-])(?P<off_h>[0-9]{2}):?(?P<off_m>[0-9]{2})?))?"
)
_DATE: dict[DateOrder, str] = {
    "year-month-day": _YEAR + _BETWEEN + _MONTH + _BETWEEN + _DAY,
    "month-day-year": _MONTH + _BETWEEN + _DAY + _BETWEEN + _YEAR,
    "day-month-year": _DAY + _BETWEEN + _MONTH + _BETWEEN + _YEAR,
    "yyyymmdd": r"(?P<year>[0-9]{4})(?P<month>[0-9]{2})(?P<day>[0-9]{2})",
}
_BARE_CLOCK = (
    r"(?P<hour>[0-9]{2})[:.]?(?P<minute>[0-9]{2})"
    r"(?:[:.]?(?P<second>[0-9]{2})(?:[.,](?P<fraction>[0-9]{1,9}))?)?"
    r"(?: ?(?P<half>[AaPp])\.?[Mm]\.?)?"
)
_LAPSE = r"(?P<hour>[0-9]{1,5}):(?P<minute>[0-9]{2})"
# Written as an optional part; "mm:ss" needs it, so it leaves the last sign off.
_SECONDS = r"(?::(?P<second>[0-9]{2})(?:[.,](?P<fraction>[0-9]{1,9}))?)?"
PATTERN: dict[str, str] = {
    **{
        order: rf"^{date}(?:[Tt_]|,? +){_CLOCK}{_OFFSET}$"
        for order, date in _DATE.items()
        if order != "yyyymmdd"
    },
    "yyyymmdd": rf"^{_DATE['yyyymmdd']}[Tt_ ]?{_BARE_CLOCK}{_OFFSET}$",
    # With a point after the hour it could be a temperature.
    "clock": rf"^{_CLOCK.replace('[:.]', ':', 1)}$",
    "elapsed h:mm:ss": rf"^{_LAPSE}{_SECONDS}$",
    "elapsed mm:ss": rf"^(?P<minute>[0-9]{{1,7}}){_SECONDS[:-1]}$",
}
"""Expressions that Python and polars both understand; every form names its parts alike."""

DATE_ONLY: dict[DateOrder, str] = {
    **{order: rf"^{date}$" for order, date in _DATE.items() if order != "yyyymmdd"},
    "yyyymmdd": r"^(?:19|20)[0-9]{2}(?:0[1-9]|1[0-2])(?:[0-2][0-9]|3[01])$",
}
"""For recognising the date column of a file that has date and clock apart."""

_MONTH_NAMES = (
    "january february march april may june july august september october november december"
)
_MONTH_NUMBER = {
    name[:length]: number
    for number, name in enumerate(_MONTH_NAMES.split(" "), start=1)
    for length in (3, len(name))
} | {"sept": 9}
"""English names, small letters, whole or cut to three."""


@dataclass(frozen=True)
class ParsedTimes:
    """A column of times, each (n,).

    ``ms``: milliseconds since 1970, by the local clock where ``local``, else UTC; or since
    midnight for the form "clock"; or since the start for elapsed times. ``ok``: could be read.
    """

    ms: NDArray[np.int64]
    local: NDArray[np.bool_]
    ok: NDArray[np.bool_]


def parse_times(
    cells: pl.Series,
    form: TimeForm,
    order: DateOrder | None = None,
    *,
    twelve_hour: bool = False,
    decimal_mark: str = ".",
) -> ParsedTimes:
    """Read a column of times in that form; ``twelve_hour`` demands AM or PM, else it is refused."""
    stripped = cells.str.strip_chars()
    if form in UNIT_MS:
        return _counts(stripped, form, decimal_mark)
    pattern = PATTERN[order or "year-month-day"] if form == "date and clock" else PATTERN[form]
    parts = _Parts(stripped, pattern)
    clock_ms, clock_ok = _clock_ms(parts, form, twelve_hour)
    ok = parts.matched & clock_ok
    if form != "date and clock":
        return ParsedTimes(clock_ms, np.full(len(cells), form == "clock"), ok)
    date_ms, date_ok = _date_ms(parts)
    offset_ms, has_offset, offset_ok = _offset_ms(parts)
    ms = date_ms + clock_ms - offset_ms
    return ParsedTimes(ms, ~has_offset, ok & date_ok & offset_ok)


class _Parts:
    """The named parts of a column of times, as whole numbers or text on demand."""

    def __init__(self, cells: pl.Series, pattern: str) -> None:
        self._frame = cells.str.extract_groups(pattern).struct.unnest()
        self._length = len(cells)
        # A part that every form has is there exactly where the whole pattern matched.
        self.matched = self._frame["minute"].is_not_null().to_numpy()

    def text(self, name: str) -> pl.Series:
        if name in self._frame.columns:
            return self._frame[name]
        return pl.Series(name, [None] * self._length, dtype=pl.String)

    def number(self, name: str, default: int = 0) -> NDArray[np.int64]:
        if name not in self._frame.columns:
            return np.full(self._length, default, dtype=np.int64)
        return self._frame[name].cast(pl.Int64, strict=False).fill_null(default).to_numpy()


def _clock_ms(
    parts: _Parts, form: TimeForm, twelve_hour: bool
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    hour, minute, second = parts.number("hour"), parts.number("minute"), parts.number("second")
    fraction = parts.text("fraction").fill_null("0")
    nine = fraction.str.pad_end(9, "0").cast(pl.Int64, strict=False).fill_null(0).to_numpy()
    # A leap second is 23:59:60 UTC, so in any zone it is the 60 of a last minute.
    leap = (second == 60) & (minute % 15 == 14) & (form == "date and clock")
    ok = (second < 60) | leap
    if form != "elapsed mm:ss":
        ok &= minute < 60
    if form in ("date and clock", "clock"):
        half = parts.text("half").str.to_lowercase()
        has_half = half.is_not_null().to_numpy()
        afternoon = (half == "p").fill_null(False).to_numpy()
        midnight_end = (hour == 24) & (minute == 0) & (second == 0) & (nine == 0)
        ok &= np.where(has_half, (hour >= 1) & (hour <= 12), (hour < 24) | midnight_end)
        ok &= has_half == twelve_hour
        hour = np.where(has_half, hour % 12 + np.where(afternoon, 12, 0), hour)
    ms = hour * HOUR_MS + minute * MINUTE_MS + second * 1000 + (nine + 500_000) // 1_000_000
    return ms, ok


def _date_ms(parts: _Parts) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    year, day = parts.number("year"), parts.number("day")
    year = np.where(year < 100, year + 2000, year)
    month = parts.number("month", -1)
    if bool(np.any(parts.matched & (month < 0))):
        names = parts.text("month").str.to_lowercase().fill_null("")
        named = names.replace_strict(_MONTH_NUMBER, default=-1, return_dtype=pl.Int64)
        month = np.maximum(month, named.to_numpy())
    ok = (month >= 1) & (month <= 12) & (year >= FIRST_YEAR) & (year <= LAST_YEAR) & (day >= 1)
    months = np.where(ok, (year - 1970) * 12 + month - 1, 0)
    first_day = _first_day(months)
    ok &= day <= _first_day(months + 1) - first_day
    return (first_day + day - 1) * DAY_MS, ok


def _first_day(months: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return days since 1970 of the first day of months since 1970."""
    return months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)


def _offset_ms(
    parts: _Parts,
) -> tuple[NDArray[np.int64], NDArray[np.bool_], NDArray[np.bool_]]:
    sign = parts.text("sign")
    signed = sign.is_not_null().to_numpy()
    west = (sign == "-").fill_null(False).to_numpy()
    hours, minutes = parts.number("off_h"), parts.number("off_m")
    size = hours * HOUR_MS + minutes * MINUTE_MS
    utc = parts.text("utc").is_not_null().to_numpy()
    ok = (hours < 24) & (minutes < 60)
    return np.where(west, -size, size), utc | signed, ok


def _counts(cells: pl.Series, form: TimeForm, decimal_mark: str) -> ParsedTimes:
    mark = "," if decimal_mark == "," else r"\."
    ok = cells.str.contains(rf"^-?[0-9]{{1,15}}(?:{mark}[0-9]{{0,9}})?$").to_numpy().copy()
    plain = cells.str.replace(decimal_mark, ".", literal=True) if decimal_mark != "." else cells
    count = plain.cast(pl.Float64, strict=False).fill_null(0.0).fill_nan(0.0).to_numpy()
    ms = np.where(ok, count, 0.0) * UNIT_MS[form]
    if form in ("epoch s", "epoch ms"):
        low, high = -70 * 366 * DAY_MS, (LAST_YEAR - 1970) * 366 * DAY_MS
    else:
        low, high = -MAX_ELAPSED_MS, MAX_ELAPSED_MS
    ok &= (ms >= low) & (ms <= high)
    whole = np.rint(np.where(ok, ms, 0.0)).astype(np.int64)
    return ParsedTimes(whole, np.zeros(len(cells), dtype=np.bool_), ok)
