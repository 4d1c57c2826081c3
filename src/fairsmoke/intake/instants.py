"""From what a logger's clock showed, row after row, to instants in UTC.

A local clock repeats an hour when it is put back and skips one when it is put forward. Which of
the two repeated hours a row belongs to is told by the order of the rows.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from fairsmoke.intake.times import DAY_MS, HOUR_MS

_EPOCH = datetime(1970, 1, 1)


@dataclass(frozen=True)
class Instants:
    """Milliseconds since 1970 UTC (n,), which of them never happened, how many happened twice."""

    utc_ms: NDArray[np.int64]
    skipped: NDArray[np.bool_]
    repeated_hour: int


def local_ms(instant: datetime, zone: ZoneInfo | None) -> int:
    """Return milliseconds since 1970 by the clocks of the zone (UTC when None)."""
    shown = instant.astimezone(zone or UTC).replace(tzinfo=None)
    return (shown - _EPOCH) // timedelta(milliseconds=1)


def newest_first(ms: NDArray[np.int64], *, clock_only: bool = False) -> bool:
    """Tell whether most steps from row to row go back in time, and at least three do.

    ``clock_only``: times are of the day, and a step of more than half a day passes midnight.
    """
    steps = np.diff(ms)
    if clock_only:
        steps = (steps + DAY_MS // 2) % DAY_MS - DAY_MS // 2
    back = np.count_nonzero(steps < 0)
    return bool(back >= 3 and back > np.count_nonzero(steps > 0))


def days_unrolled(clock_ms: NDArray[np.int64], start_local_ms: int) -> NDArray[np.int64]:
    """Add the date to clock times without one; the first lies within 12 h of the start.

    A clock that goes back by more than half a day has passed midnight.
    """
    if clock_ms.size == 0:
        return clock_ms
    day_start = start_local_ms - start_local_ms % DAY_MS
    first_gap = int(clock_ms[0]) - start_local_ms % DAY_MS
    first_day = 1 if first_gap < -DAY_MS // 2 else 0
    midnights = np.zeros(clock_ms.size, dtype=np.int64)
    midnights[1:] = np.cumsum(np.diff(clock_ms) < -DAY_MS // 2)
    return clock_ms + day_start + (first_day + midnights) * DAY_MS


def to_utc(ms: NDArray[np.int64], local: NDArray[np.bool_], zone: ZoneInfo | None) -> Instants:
    """Turn times in the order of their rows, local ones by the clocks of ``zone``, into UTC.

    ``ms`` (n,) by the local clock where ``local`` (n,), else already UTC.
    """
    utc = ms.copy()
    skipped = np.zeros(ms.size, dtype=np.bool_)
    if zone is None or not local.any():
        return Instants(utc, skipped, 0)
    shown = ms[local]
    earlier, later = _offsets_ms(shown, zone)
    twice = earlier > later
    offset = np.where(twice & _second_time(shown, twice), later, earlier)
    utc[local] = shown - offset
    skipped[local] = earlier < later
    return Instants(utc, skipped, int(np.count_nonzero(twice)))


def _second_time(shown: NDArray[np.int64], twice: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Tell which rows of the repeated hour belong to its second time round, by their order."""
    second = np.zeros(shown.size, dtype=np.bool_)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], twice, [False]]).astype(np.int8)))
    for begin, end in edges.reshape(-1, 2).tolist():
        steps = np.diff(shown[begin:end])
        if steps.size and steps.min() < 0:
            second[begin + 1 + int(np.argmin(steps)) : end] = True
            continue
        # No step back: it was one of the two hours, the one that follows on without a hole.
        before = shown[begin] - shown[begin - 1] if begin else None
        after = shown[end] - shown[end - 1] if end < shown.size else None
        if after is not None and (before is None or before > after):
            second[begin:end] = True
    return second


def _offsets_ms(
    shown: NDArray[np.int64], zone: ZoneInfo
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the zone's offsets (fold 0, fold 1) at local times; they differ where clocks change.

    Fold 0 is the greater where an hour is repeated, the smaller where one is skipped (PEP 495).
    """
    hours, which = np.unique(shown // HOUR_MS, return_inverse=True)
    table = np.empty((hours.size, 2), dtype=np.int64)
    changing: list[int] = []
    for index, hour in enumerate(hours.tolist()):
        begin = _both_folds(hour * HOUR_MS, zone)
        table[index] = begin
        if begin[0] != begin[1] or _both_folds((hour + 1) * HOUR_MS - 1, zone) != begin:
            changing.append(index)
    offsets = table[which]
    for index in changing:
        rows = np.flatnonzero(which == index)
        values, back = np.unique(shown[rows], return_inverse=True)
        exact = np.array([_both_folds(value, zone) for value in values.tolist()], dtype=np.int64)
        offsets[rows] = exact[back]
    return offsets[:, 0], offsets[:, 1]


def _both_folds(shown_ms: int, zone: ZoneInfo) -> tuple[int, int]:
    naive = _EPOCH + timedelta(milliseconds=shown_ms)
    folds = []
    for fold in (0, 1):
        offset = naive.replace(tzinfo=zone, fold=fold).utcoffset() or timedelta(0)
        folds.append(offset // timedelta(milliseconds=1))
    return folds[0], folds[1]
