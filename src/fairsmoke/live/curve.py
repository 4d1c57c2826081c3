"""The temperatures of a running cook on one even grid of times: what a small curve draws."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from fairsmoke.live.snapshot import CookNow, ProbeNow
from fairsmoke.live.stages import ProbeTrace
from fairsmoke.trial.clock import epoch_ms, instant_of_ms

STEPS_MIN = (1, 2, 5, 10, 15, 20, 30, 60, 120)
MOST_ROWS = 96


@dataclass(frozen=True)
class Line:
    """One probe's values in °C, one for each time of the grid; None where it read nothing."""

    probe: ProbeNow
    values_c: tuple[float | None, ...]


@dataclass(frozen=True)
class Curve:
    """Lines over the same times; each value is the last that was read until that time."""

    times: tuple[datetime, ...]
    step: timedelta
    lines: tuple[Line, ...]


def curve_of(now: CookNow) -> Curve:
    """Return what each probe has read where it now is, in steps that give at most 96 rows."""
    lines = [one for one in now.probes if one.trace.time_ms.size]
    if not lines:
        return Curve((), timedelta(0), ())
    start_ms = min(int(one.trace.time_ms[0]) for one in lines)
    end_ms = max(epoch_ms(now.at), start_ms + 60_000)
    step_ms = next(
        (60_000 * step for step in STEPS_MIN if (end_ms - start_ms) / (60_000 * step) < MOST_ROWS),
        60_000 * STEPS_MIN[-1],
    )
    grid = np.arange(-(-start_ms // step_ms), end_ms // step_ms + 1, dtype=np.int64) * step_ms
    # The last row is now, so that the curve ends with what the page says.
    grid = np.append(grid[grid < end_ms], end_ms)
    return Curve(
        tuple(instant_of_ms(int(at)) for at in grid),
        timedelta(milliseconds=step_ms),
        tuple(Line(one, _sampled(one.trace, grid, step_ms)) for one in lines),
    )


def _sampled(trace: ProbeTrace, grid: np.ndarray, step_ms: int) -> tuple[float | None, ...]:
    at = np.searchsorted(trace.time_ms, grid, side="right") - 1
    # What is older than a step (ten minutes at the least) says nothing of that time.
    oldest = grid - max(step_ms, 600_000)
    return tuple(
        float(trace.value_c[index]) if index >= 0 and trace.time_ms[index] >= old else None
        for index, old in zip(at.tolist(), oldest.tolist(), strict=True)
    )
