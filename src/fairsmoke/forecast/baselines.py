"""What a forecast has to beat: three ways of reading the remaining time off a log alone.

Each returns the time (s) from now to a mark, infinite where it never gets there by its rule.
"""

from collections.abc import Sequence

import numpy as np
from scipy.optimize import least_squares

from fairsmoke.physics.ranges import FloatArray

HOUR_S = 3600.0
_STILL_K_S = 1e-7
"""A rise that no thermometer shows in a day."""


def line_through_last_hour(times_s: FloatArray, core_c: FloatArray, mark_c: float) -> float:
    """Return when the line through the last hour of readings meets a mark.

    Through the last two readings where fewer lie within the hour.
    """
    if times_s.size < 2:
        return float("inf")
    recent = times_s >= times_s[-1] - HOUR_S
    if np.sum(recent) < 2:
        recent = np.arange(times_s.size) >= times_s.size - 2
    slope, level = np.polyfit(times_s[recent] - times_s[-1], core_c[recent], 1)
    if slope <= _STILL_K_S:
        return float("inf") if level < mark_c else 0.0
    return max(0.0, float((mark_c - level) / slope))


def exponential_to_pit(
    times_s: FloatArray, core_c: FloatArray, pit_c: float, mark_c: float
) -> float:
    """Return when an exponential approach to the pit, fitted to the log, meets a mark."""
    if times_s.size < 2 or pit_c <= max(mark_c, float(np.max(core_c)) + 0.5):
        return float("inf")
    now = times_s[-1]

    def gap(values: FloatArray) -> FloatArray:
        start, rate = values
        fallen = np.exp(-np.exp(rate) * (times_s - times_s[0]))
        return np.asarray(pit_c - (pit_c - start) * fallen - core_c)

    first = np.log(max(1e-7, 1.0 / max(now - times_s[0], 60.0)))
    fit = least_squares(gap, [float(core_c[0]), first], x_scale=[10.0, 1.0])
    start, rate = float(fit.x[0]), float(np.exp(fit.x[1]))
    if pit_c <= start:
        return float("inf")
    at = times_s[0] + np.log((pit_c - start) / (pit_c - mark_c)) / rate
    return max(0.0, float(at - now))


def mean_of_like_cooks(elapsed_s: float, totals_s: Sequence[float]) -> float:
    """Return the mean time of like cooks to the mark, less the time gone; infinite without any."""
    if not len(totals_s):
        return float("inf")
    return max(0.0, float(np.mean(totals_s)) - elapsed_s)
