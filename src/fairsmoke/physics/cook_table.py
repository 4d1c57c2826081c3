"""The time–temperature table of the US cooking guideline (Appendix A) and its relatives."""

import math
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from fairsmoke.physics.history import longest_hold_s, refined
from fairsmoke.physics.ranges import FloatArray, paired_readings
from fairsmoke.physics.sources import Citation, Seen

Logs = Literal["5", "6.5", "7"]

TABLE_SOURCE = Citation(
    "USDA FSIS, Appendix A, Compliance Guidelines for Meeting Lethality Performance Standards, "
    "1999 (64 FR 732), item 1: beef, lamb, pork; also Ontario Meat Plant Guidelines (6.5 log) and "
    "1 NYCRR 271-2.10 (7 log)",
    Seen.READ,
    "the 2021 edition replaced it as safe harbour and could not be read; at 54.4 °C 6.5 log was "
    "not confirmed by McMinn et al.",
)
FIVE_LOG_SOURCE = Citation(
    "6.5-log time × 5/6.5, rounded up (to whole minutes above 3 min, else whole seconds)",
    Seen.DERIVED,
    "within 2 s, on the safe side, of the patty times that follow",
)
PATTY_SOURCE = Citation("9 CFR 318.23(b)(1), uncured meat patties, 5 log", Seen.MEMORY)
POULTRY_SOURCE = Citation("Ontario Meat Plant Guidelines, appendix 1 table 2, chicken", Seen.READ)


class CookRow(NamedTuple):
    """Time (s) that meat must stay at `temp_c` or above for a reduction of Salmonella."""

    temp_f: int
    temp_c: float
    seconds_65: float
    seconds_7: float


def _rows() -> tuple[CookRow, ...]:
    minutes = (
        (130, 54.4, 112, 121),
        (131, 55.0, 89, 97),
        (132, 55.6, 71, 77),
        (133, 56.1, 56, 62),
        (134, 56.7, 45, 47),
        (135, 57.2, 36, 37),
        (136, 57.8, 28, 32),
        (137, 58.4, 23, 24),
        (138, 58.9, 18, 19),
        (139, 59.5, 15, 15),
        (140, 60.0, 12, 12),
        (141, 60.6, 9, 10),
        (142, 61.1, 8, 8),
        (143, 61.7, 6, 6),
        (144, 62.2, 5, 5),
        (145, 62.8, 4, 4),
    )
    seconds = (
        (146, 63.3, 169, 182),
        (147, 63.9, 134, 144),
        (148, 64.4, 107, 115),
        (149, 65.0, 85, 91),
        (150, 65.6, 67, 72),
        (151, 66.1, 54, 58),
        (152, 66.7, 43, 46),
        (153, 67.2, 34, 37),
        (154, 67.8, 27, 29),
        (155, 68.3, 22, 23),
        (156, 68.9, 17, 19),
        (157, 69.4, 14, 15),
    )
    long = tuple(CookRow(f, c, a * 60.0, b * 60.0) for f, c, a, b in minutes)
    return long + tuple(CookRow(f, c, float(a), float(b)) for f, c, a, b in seconds)


# Rows of 158 °F (70.0 °C) and above print 0 s: the reduction is there at once.
COOK_ROWS = _rows()
AT_ONCE_C = 70.0
LOWEST_C = COOK_ROWS[0].temp_c
# A footnote of the source: where 145 °F is the least temperature, 4 min at the least.
_FOOTNOTE_F, _FOOTNOTE_S = 145, 240.0

PATTY_ROWS = ((151, 41.0), (152, 32.0), (153, 26.0), (154, 20.0), (155, 16.0), (156, 13.0))
# °C, fat %, minutes for 7 log in chicken. The meat columns must not be used for poultry.
POULTRY_ROWS = ((60.0, 1, 25.2), (60.0, 12, 35.0), (57.8, 1, 63.3), (57.8, 12, 81.4))


def row_seconds(row: CookRow, logs: Logs = "6.5") -> float:
    """Return one row's time for 5, 6.5 or 7 log. Sources: TABLE_SOURCE, FIVE_LOG_SOURCE."""
    if logs == "6.5":
        return row.seconds_65
    if logs == "7":
        return row.seconds_7
    if logs != "5":
        raise ValueError(f'the cooking table has no column "{logs}". Write 5, 6.5 or 7.')
    exact = row.seconds_65 * 5.0 / 6.5
    rounded = 60.0 * math.ceil(exact / 60.0) if row.temp_f <= _FOOTNOTE_F else math.ceil(exact)
    return max(rounded, _FOOTNOTE_S) if row.temp_f == _FOOTNOTE_F else float(rounded)


def required_hold_s(temp_c: ArrayLike, logs: Logs = "6.5") -> FloatArray:
    """Return the time the table asks for at a temperature; the table is for beef, lamb and pork.

    Between rows the logarithm of the time is straight in temperature; from 69.4 to 70.0 °C the
    time of 69.4 °C stays; at 70.0 °C and above 0 s; below 54.4 °C infinity, since the table gives
    no time there that would be enough. Source: TABLE_SOURCE.

    >>> f"{required_hold_s(60.0):.1f}"
    '720.0'
    """
    temp = np.asarray(temp_c, dtype=np.float64)
    times = np.log([row_seconds(row, logs) for row in COOK_ROWS])
    between = np.exp(np.interp(temp, [row.temp_c for row in COOK_ROWS], times))
    long = np.where(temp >= LOWEST_C, between, np.inf)
    return np.asarray(np.where(temp >= AT_ONCE_C, 0.0, long))


def holds_reached(
    time_s: ArrayLike, temp_c: ArrayLike, logs: Logs = "6.5", margin_c: float = 0.0
) -> float:
    """Return how many times over the best row of the table was held without a break.

    For each row: the longest unbroken time at that temperature plus `margin_c` or above, over the
    time asked. 1 or more meets the table; infinity where 70 °C was reached. The strictest
    reading of the table: come-up counts for nothing. `margin_c` is for the probe's error.
    Source: TABLE_SOURCE. Raises PhysicsRangeError for readings that do not pair up.
    """
    _, temp = paired_readings(time_s, temp_c, "the cooking table")
    if np.max(temp) >= AT_ONCE_C + margin_c:
        return math.inf
    return max(
        longest_hold_s(time_s, temp_c, row.temp_c + margin_c) / row_seconds(row, logs)
        for row in COOK_ROWS
    )


def table_share(
    time_s: ArrayLike, temp_c: ArrayLike, logs: Logs = "6.5", margin_c: float = 0.0
) -> float:
    """Return the dwell earned as a share of what the table asks, summed over the record.

    ∫ dt / required_hold_s(T − margin_c); 1 or more earns as much as a row; infinity where 70 °C
    was reached; nothing is earned below 54.4 °C. Straight between readings.
    Source: TABLE_SOURCE with log interpolation. Raises PhysicsRangeError as `holds_reached`.
    """
    time, temp = refined(time_s, temp_c, 10.0)
    if np.max(temp) >= AT_ONCE_C + margin_c:
        return math.inf
    needed = required_hold_s(temp - margin_c, logs)
    earned = np.where(needed > 0, 1.0 / np.where(needed > 0, needed, 1.0), 0.0)
    return float(np.trapezoid(earned, time))
