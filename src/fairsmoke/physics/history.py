"""What a logged temperature did: time in a range, coming up, cooling down, longest hold."""

import numpy as np
from numpy.typing import ArrayLike

from fairsmoke.physics.limits import COME_UP, timed
from fairsmoke.physics.ranges import FloatArray, PhysicsRangeError, paired_readings

COME_UP_C = timed(COME_UP)[:2]
"""The ends of the slow heating that the cooking guideline limits (°C)."""


def time_in_range_s(time_s: ArrayLike, temp_c: ArrayLike, low_c: float, high_c: float) -> float:
    """Return how long the temperature was from `low_c` to `high_c`, straight between readings.

    Exact for straight lines, so crossings between readings count. Gaps count as straight too.
    Raises PhysicsRangeError for readings that do not pair up and for a range upside down.

    >>> time_in_range_s([0.0, 3600.0], [0.0, 100.0], 10.0, 60.0)
    1800.0
    """
    if not low_c < high_c:
        raise PhysicsRangeError(f"range from {low_c:g} to {high_c:g} °C: the first must be lower.")
    time, temp = paired_readings(time_s, temp_c, "time in a range")
    steps = np.diff(time)
    lower, upper = np.minimum(temp[:-1], temp[1:]), np.maximum(temp[:-1], temp[1:])
    rise = upper - lower
    inside = np.minimum(upper, high_c) - np.maximum(lower, low_c)
    level = (rise == 0) & (lower >= low_c) & (lower <= high_c)
    share = np.where(level, 1.0, np.maximum(inside, 0.0) / np.where(rise > 0, rise, 1.0))
    return float(np.sum(steps * share))


def first_time_at_s(
    time_s: ArrayLike, temp_c: ArrayLike, level_c: float, rising: bool = True
) -> float | None:
    """Return when the temperature first reaches `level_c` from below (or above), or None.

    Straight between readings; a first reading already there counts.
    Raises PhysicsRangeError for readings that do not pair up.
    """
    time, temp = paired_readings(time_s, temp_c, "time of a mark")
    there = temp >= level_c if rising else temp <= level_c
    if not there.any():
        return None
    at = int(np.argmax(there))
    if at == 0:
        return float(time[0])
    share = (level_c - temp[at - 1]) / (temp[at] - temp[at - 1])
    return float(time[at - 1] + share * (time[at] - time[at - 1]))


def come_up_time_s(
    time_s: ArrayLike,
    temp_c: ArrayLike,
    low_c: float = COME_UP_C[0],
    high_c: float = COME_UP_C[1],
) -> float | None:
    """Return the time from first reaching `low_c` to first reaching `high_c`, or None if never.

    A piece put on above `low_c` starts at its first reading. Compare with limits.COME_UP.
    Raises PhysicsRangeError for readings that do not pair up.
    """
    end = first_time_at_s(time_s, temp_c, high_c)
    start = first_time_at_s(time_s, temp_c, low_c)
    return None if end is None or start is None else end - start


def cooling_time_s(
    time_s: ArrayLike, temp_c: ArrayLike, from_c: float, to_c: float
) -> float | None:
    """Return the time from last being at `from_c` or above to first being at `to_c`, or None.

    None where the record never was as hot as `from_c`, or never came down to `to_c` after it.
    Raises PhysicsRangeError for readings that do not pair up and where `to_c` is not below.
    """
    if not to_c < from_c:
        raise PhysicsRangeError(
            f"cooling from {from_c:g} to {to_c:g} °C: the second must be lower."
        )
    time, temp = paired_readings(time_s, temp_c, "cooling")
    hot = np.flatnonzero(temp >= from_c)
    if hot.size == 0 or hot[-1] == temp.size - 1:
        return None
    last = int(hot[-1])
    share = (temp[last] - from_c) / (temp[last] - temp[last + 1])
    start = time[last] + share * (time[last + 1] - time[last])
    end = first_time_at_s(time[last:], temp[last:], to_c, rising=False)
    return None if end is None else end - float(start)


def longest_hold_s(time_s: ArrayLike, temp_c: ArrayLike, level_c: float) -> float:
    """Return the longest unbroken time at `level_c` or above, straight between readings.

    Raises PhysicsRangeError for readings that do not pair up.
    """
    time, temp = paired_readings(time_s, temp_c, "a hold")
    crossing, level = _with_crossings(time, temp, level_c)
    above = (level[:-1] >= level_c) & (level[1:] >= level_c)
    edges = np.diff(np.concatenate([[0], above.astype(int), [0]]))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    return float(np.max(crossing[ends] - crossing[starts], initial=0.0))


def refined(
    time_s: ArrayLike, temp_c: ArrayLike, longest_step_s: float
) -> tuple[FloatArray, FloatArray]:
    """Return the same straight-line record with no step longer than `longest_step_s`.

    Raises PhysicsRangeError for readings that do not pair up.
    """
    time, temp = paired_readings(time_s, temp_c, "a record")
    parts = np.maximum(1, np.ceil(np.diff(time) / longest_step_s)).astype(int)
    starts = np.repeat(time[:-1], parts)
    within = np.arange(parts.sum()) - np.repeat(np.cumsum(parts) - parts, parts)
    fine = np.append(starts + within * np.repeat(np.diff(time) / parts, parts), time[-1])
    return fine, np.interp(fine, time, temp)


def _with_crossings(
    time: FloatArray, temp: FloatArray, level_c: float
) -> tuple[FloatArray, FloatArray]:
    """Return the record with a reading of exactly `level_c` added wherever it is crossed."""
    crosses = np.flatnonzero((temp[:-1] - level_c) * (temp[1:] - level_c) < 0)
    share = (level_c - temp[crosses]) / (temp[crosses + 1] - temp[crosses])
    added = time[crosses] + share * (time[crosses + 1] - time[crosses])
    all_times = np.insert(time, crosses + 1, added)
    return all_times, np.insert(temp, crosses + 1, np.full(crosses.size, level_c))
