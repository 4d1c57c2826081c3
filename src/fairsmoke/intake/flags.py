"""What is noteworthy about the readings of one probe: gaps, open probes, jumps, frozen values.

Nothing is changed or removed; each finding is a flag of ``trial.reading.Flag`` beside a reading.
The limits are common practice without a source, set so that real cooks are not flagged: the core
of a large cut moves by less than 2 K in a minute, the air in a cooker can lose most of its heat
in the time that a lid is open.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fairsmoke.intake.excursions import ProbeLimits, excursions
from fairsmoke.trial.reading import Flag, Readings

ProbeKind = Literal["meat", "air"]

GAP_INTERVALS = 5.0
GAP_AT_LEAST_S = 180.0
"""A gap is longer than five usual intervals, and than three minutes."""

HOTTEST_C = 500.0
COLDEST_C = -40.0
"""No low-and-slow cooker and no freezer gets there. What loggers write for an open probe does, in
any unit: 999, 3276.7, 6553.5, 65535, -50, -99.9 (common practice, no source)."""

ZERO_APART_K = 15.0
"""Exactly zero (or 32 °F) is an open probe if its neighbours are so far away on each side."""


@dataclass(frozen=True)
class Still:
    """How long a value may stand still: at least ``least_s``, and as long as the slowest honest
    drift (K/h) takes to move the logger's last digit.
    """

    least_s: float
    slowest_k_per_h: float


STILL: dict[ProbeKind, Still] = {
    # In a cabinet or a refrigerator the core of a large cut may not move for a whole night.
    "meat": Still(least_s=12 * 3600.0, slowest_k_per_h=0.05),
    # Cold smoke and a good thermostat keep the air within a tenth of a kelvin for hours.
    "air": Still(least_s=6 * 3600.0, slowest_k_per_h=0.1),
}
STILL_READINGS = 10
"""Fewer readings than these are too thin to call a value frozen."""

LIMITS: dict[ProbeKind, ProbeLimits] = {
    "meat": ProbeLimits(
        step_k=3.0,
        slew_k_per_min=2.0,
        drift_k_per_min=0.25,
        longest_s=3 * 3600.0,
        settled_s=300.0,
        settling_s=180.0,
    ),
    "air": ProbeLimits(
        step_k=80.0,
        slew_k_per_min=60.0,
        drift_k_per_min=5.0,
        longest_s=600.0,
        settled_s=120.0,
        settling_s=0.0,
    ),
}


def flag_readings(
    readings: Readings, kind: ProbeKind, moved_ms: NDArray[np.int64] | None = None
) -> NDArray[np.uint8]:
    """Return the flags (n,) uint8 that the readings of a meat or an air probe earn.

    ``moved_ms`` are times at which somebody is known to have moved the probe: what lies on the
    two sides of one is not compared, so that a probe that visits another piece and comes back
    is not taken for one that fell out. Readings that are already not believed are left aside.
    """
    flags = np.zeros(len(readings), dtype=np.uint8)
    time_s = readings.time_ms / 1000.0
    flags[gaps(time_s)] |= int(Flag.GAP_BEFORE)
    live = np.flatnonzero(readings.believed)
    opened = open_probe(readings.raw[live] == 0, readings.value_c[live])
    flags[live[opened]] |= int(Flag.OPEN_PROBE)
    live = live[~opened]
    cuts = np.searchsorted(readings.time_ms[live], [] if moved_ms is None else np.sort(moved_ms))
    for part in np.split(live, cuts):
        away = excursions(time_s[part], readings.value_c[part], LIMITS[kind])
        flags[part[away]] |= int(Flag.JUMP)
    flags[live[stuck(time_s[live], readings.value_c[live], STILL[kind], readings.digit_k)]] |= int(
        Flag.STUCK
    )
    return flags


def gaps(time_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell before which readings (n,), in order of time, much more than the usual time passed."""
    result = np.zeros(time_s.size, dtype=np.bool_)
    steps = np.diff(time_s)
    passing = steps[steps > 0]
    if passing.size:
        usual = float(np.median(passing))
        result[1:] = steps > max(GAP_INTERVALS * usual, GAP_AT_LEAST_S)
    return result


def open_probe(written_zero: NDArray[np.bool_], value_c: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell which values (n,) come from a probe that is not there.

    ``written_zero`` tells which stand as 0 in the logger's own unit. Such a zero, or one in °C,
    counts if the nearest other values before and after it are far away.
    """
    result = (value_c >= HOTTEST_C) | (value_c <= COLDEST_C)
    zero = ~result & (written_zero | (value_c == 0.0))
    known = np.flatnonzero(~result & ~zero)
    zeros = np.flatnonzero(zero)
    if known.size == 0 or zeros.size == 0:
        return result
    after = np.searchsorted(known, zeros)
    before_c = value_c[known[np.maximum(after - 1, 0)]]
    after_c = value_c[known[np.minimum(after, known.size - 1)]]
    far_before = np.abs(value_c[zeros] - before_c) > ZERO_APART_K
    far_after = np.abs(value_c[zeros] - after_c) > ZERO_APART_K
    result[zeros] = far_before & far_after
    return result


def stuck(
    time_s: NDArray[np.float64], value_c: NDArray[np.float64], still: Still, digit_k: float
) -> NDArray[np.bool_]:
    """Tell which readings (n,) repeat a value that has stood still for longer than is honest.

    A logger that shows whole degrees may stand still for long without being frozen, so the
    smallest step that it ever showed (or else its last digit, ``digit_k``) is taken into
    account. The first reading of the frozen run is believed. A gap ends a run.
    """
    result = np.zeros(time_s.size, dtype=np.bool_)
    if time_s.size < STILL_READINGS:
        return result
    steps = np.abs(np.diff(value_c))
    moved = steps[steps > 1e-6]
    resolution_k = float(moved.min()) if moved.size else digit_k
    longest_s = max(still.least_s, resolution_k / still.slowest_k_per_h * 3600.0)
    breaks = np.flatnonzero((np.diff(value_c) != 0) | gaps(time_s)[1:]) + 1
    begin = np.concatenate([[0], breaks])
    end = np.concatenate([breaks, [time_s.size]])
    frozen = (time_s[end - 1] - time_s[begin] > longest_s) & (end - begin >= STILL_READINGS)
    for first, past in zip(begin[frozen].tolist(), end[frozen].tolist(), strict=True):
        result[first + 1 : past] = True
    return result
