"""How long a piece lay where bacteria grow: on its way up, and once it had been cooked."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from fairsmoke.live.alert_limits import GROWTH_HIGH_C, GROWTH_LOW_C, HELD_C
from fairsmoke.live.stages import ProbeTrace
from fairsmoke.physics.history import time_in_range_s
from fairsmoke.trial.clock import epoch_ms


@dataclass(frozen=True)
class GrowthTime:
    """Times of the coldest probe in a piece, in seconds.

    ``coming_up_s`` between 4 and 60 °C until the core was first above; ``still_coming_up``: it is
    not yet. ``cooled_s``: below 57 °C after it had been above 60 °C; ``is_cool``: it is now.
    """

    coming_up_s: float
    still_coming_up: bool
    cooled_s: float
    is_cool: bool


def growth_time(
    core: Sequence[tuple[ProbeTrace, float]], on: datetime, until: datetime
) -> GrowthTime | None:
    """Return how long a piece lay in the growth range from going on until a moment.

    ``core`` are its probes, each with the half-width of its error, which counts against the
    piece. What is not known counts against it too: before the first reading it was as the first
    says, after the last as the last. None when no probe has read anything yet.
    """
    start_ms, end_ms = epoch_ms(on), epoch_ms(until)
    found = [
        _one(*record, accuracy_k)
        for trace, accuracy_k in core
        if (record := _whole(trace, start_ms, end_ms)) is not None
    ]
    if not found:
        return None
    return GrowthTime(
        max(one.coming_up_s for one in found),
        any(one.still_coming_up for one in found),
        max(one.cooled_s for one in found),
        any(one.is_cool for one in found),
    )


def _whole(
    trace: ProbeTrace, start_ms: int, end_ms: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Return times in s and values from start to end, carried on at both ends."""
    inside = (trace.time_ms > start_ms) & (trace.time_ms < end_ms)
    time_ms, value_c = trace.time_ms[inside], trace.value_c[inside]
    if not time_ms.size:
        return None
    keep = np.append(np.diff(time_ms) > 0, True)
    time_ms, value_c = time_ms[keep], value_c[keep]
    time_s = np.concatenate([[start_ms], time_ms, [end_ms]]) / 1000.0
    values = np.concatenate([value_c[:1], value_c, value_c[-1:]])
    return time_s, values


def _one(
    time_s: NDArray[np.float64], value_c: NDArray[np.float64], accuracy_k: float
) -> GrowthTime:
    high_c, held_c = GROWTH_HIGH_C + accuracy_k, HELD_C + accuracy_k
    above = np.flatnonzero(value_c > high_c)
    if not above.size:
        # The low end of the range has no margin: colder than it shows is colder still.
        coming = time_in_range_s(time_s, value_c, GROWTH_LOW_C - accuracy_k, high_c)
        return GrowthTime(coming, True, 0.0, False)
    first = int(above[0])
    coming = 0.0
    if first:
        part = slice(0, first + 1)
        coming = time_in_range_s(time_s[part], value_c[part], GROWTH_LOW_C - accuracy_k, high_c)
    after_s, after_c = time_s[first:], value_c[first:]
    cooled = time_in_range_s(after_s, after_c, -np.inf, held_c)
    return GrowthTime(coming, False, cooled, bool(value_c[-1] < held_c))
