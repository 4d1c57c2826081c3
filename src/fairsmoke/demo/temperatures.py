"""Temperature histories, drawn to look believable.

These are shapes sketched for a demonstration: knots joined by a smooth line, with drawn swings and
dips. They are not the simulator and hold no physics; nothing may be concluded from them. Common
practice, no source: the height of the stall, its length, and what a wrap does to it.

Plain arrays: ``time_s`` (n,) seconds after the fire was lit, temperatures (n,) in °C.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from fairsmoke.demo.timeline import (
    CABINET_AIR,
    ROOM,
    UNPLUGGED,
    Course,
    Stay,
    core,
    core_elsewhere,
    pit_air,
)

FloatArray = NDArray[np.float64]

GRID_S = 20.0
PIT_STEADY_C = 122.6
"""Between dips; with them the pit averages about the 121 °C that was asked for."""
RIGHT_HOTTER_K = 7.0
CABINET_SET_C = 66.0
PROBE_LAG_S = 20.0
NOISE_C = {"core": 0.08, "pit": 0.5, "cabinet": 0.2, "room": 0.1}

# Share of the time until the end of the smoke stage, and the core then.
TO_STALL = ((0.0, 0.1, 0.2, 0.35, 0.5, 0.62, 0.72, 0.84, 1.0),
            (5.0, 8.0, 16.0, 34.0, 50.0, 60.5, 65.8, 68.6, 71.0))  # fmt: skip
# Share of the time from there to the pull, and the share of the remaining rise.
BARE_ON = ((0.0, 0.20, 0.36, 0.56, 0.78, 1.0), (0.0, 0.05, 0.15, 0.42, 0.74, 1.0))
PAPER_ON = ((0.0, 0.08, 0.25, 0.50, 0.75, 1.0), (0.0, 0.04, 0.24, 0.53, 0.79, 1.0))


def _slow_swing(
    time_s: FloatArray,
    periods_min: Sequence[float],
    sizes_c: Sequence[float],
    rng: np.random.Generator,
) -> FloatArray:
    swing = np.zeros_like(time_s)
    for period, size in zip(periods_min, sizes_c, strict=True):
        phase = rng.uniform(0.0, 2 * np.pi)
        swing += size * np.sin(2 * np.pi * time_s / (period * 60.0) + phase)
    return swing


def _dip(time_s: FloatArray, at_s: float, depth_c: float, lasts_s: float) -> FloatArray:
    since = np.maximum(time_s - at_s, 0.0)
    return -depth_c * (np.exp(-since / lasts_s) - np.exp(-since / 40.0))


def pit_air_c(
    time_s: FloatArray,
    outside_c: float,
    openings_s: Sequence[float],
    refuels_s: Sequence[float],
    fire_out_s: float,
    rng: np.random.Generator,
) -> FloatArray:
    """Return the air in the middle of the pit: warming up, swings, dips, and the fire dying.

    The lid's dips at ``openings_s``; the fire sags before each of ``refuels_s`` and flares after.
    """
    warm = PIT_STEADY_C + _slow_swing(time_s, (24.0, 41.0, 97.0), (1.6, 1.9, 1.8), rng)
    for at in openings_s:
        warm += _dip(time_s, at, rng.uniform(14.0, 24.0), rng.uniform(300.0, 480.0))
    for at in refuels_s:
        before = np.exp(np.minimum(time_s - at, 0.0) / 1500.0)
        after = np.exp(-np.maximum(time_s - at, 0.0) / 500.0)
        warm -= rng.uniform(5.0, 9.0) * before * after
        warm -= _dip(time_s, at + 600.0, rng.uniform(6.0, 10.0), 1500.0)
    lit = 1.0 - np.exp(-time_s / 800.0)
    dying = np.exp(-np.maximum(time_s - fire_out_s, 0.0) / 6000.0)
    return np.asarray(outside_c + (warm - outside_c) * lit * dying)


def core_c(
    time_s: FloatArray,
    on_s: float,
    stall_s: float,
    pull_s: float,
    final_c: float,
    *,
    paper: bool,
) -> FloatArray:
    """Return the middle of a shoulder: warming, the stall, the rise to the pull, and the hold."""
    before, before_c = np.array(TO_STALL[0]), np.array(TO_STALL[1])
    after, rise = (np.array(row) for row in (PAPER_ON if paper else BARE_ON))
    at = np.concatenate(
        [on_s + before * (stall_s - on_s), stall_s + after[1:] * (pull_s - stall_s)]
    )
    value = np.concatenate([before_c, before_c[-1] + rise[1:] * (final_c - before_c[-1])])
    # The line runs on past the pull, so that smoothing does not bend its end.
    slope = (value[-1] - value[-2]) / (at[-1] - at[-2])
    at, value = np.append(at, at[-1] + 3600.0), np.append(value, value[-1] + 3600.0 * slope)
    cooking = _smooth(_smooth(np.interp(time_s, at, value)))
    end = np.interp(pull_s, time_s, cooking)
    held = CABINET_SET_C + (end - CABINET_SET_C) * np.exp(-(time_s - pull_s) / 9000.0)
    return np.where(time_s <= pull_s, cooking, held)


def _smooth(value: FloatArray, width: int = 61) -> FloatArray:
    ends = np.pad(value, width // 2, mode="edge")
    return np.convolve(ends, np.full(width, 1.0 / width), mode="valid")


def cabinet_c(time_s: FloatArray, on_s: float, room_c: FloatArray) -> FloatArray:
    """Return the air of the holding cabinet, which its thermostat switches every 11 minutes."""
    warm = CABINET_SET_C + 1.1 * np.sin(2 * np.pi * time_s / 660.0)
    since = np.maximum(time_s - on_s, 0.0)
    return np.asarray(room_c + (warm - room_c) * (1.0 - np.exp(-since / 700.0)))


def surroundings_of(
    course: Course, finals_c: Mapping[str, float], rng: np.random.Generator
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """Return a grid of times and, by name, every temperature that a probe can be in that night."""
    time_s = np.arange(0.0, course.ends + GRID_S, GRID_S)
    room = 18.0 + _slow_swing(time_s, (310.0, 95.0), (1.2, 0.4), rng)
    middle = pit_air_c(
        time_s, course.night.outside_c, course.openings, course.refuels, course.last_pull, rng
    )
    # The sides differ by heat from the fire, so by nothing before it is lit.
    lean = (middle - course.night.outside_c) / (PIT_STEADY_C - course.night.outside_c)
    lean *= RIGHT_HOTTER_K / 2 + _slow_swing(time_s, (63.0, 150.0), (0.5, 0.7), rng)
    found = {
        ROOM: room,
        CABINET_AIR: cabinet_c(time_s, course.cabinet_on, room),
        pit_air("left"): middle - lean,
        pit_air("right"): middle + lean,
    }
    for row in course.pair:
        times = course.times[row.handle]
        inside = core_c(
            time_s,
            times.on,
            times.stall,
            times.pull,
            finals_c[row.handle],
            paper=times.wrap is not None,
        )
        found[core(row.handle)] = inside
        found[core_elsewhere(row.handle)] = inside + 0.9
    return time_s, found


def probe_c(
    time_s: FloatArray,
    stays: Sequence[Stay],
    grid_s: FloatArray,
    surroundings: Mapping[str, FloatArray],
    rng: np.random.Generator,
) -> FloatArray:
    """Return what a probe without error of its own shows at ``time_s``; NaN while unplugged.

    After each move it follows its new surroundings with the lag of a thin needle.
    """
    shown = np.full(time_s.shape, np.nan)
    before_c = float(surroundings[ROOM][0])
    for stay in stays:
        if stay.what == UNPLUGGED:
            before_c = float(np.interp(stay.until, grid_s, surroundings[ROOM]))
            continue
        around = surroundings[stay.what]
        here = (time_s >= stay.since) & (time_s < stay.until)
        step = before_c - np.interp(stay.since, grid_s, around)
        lag = step * np.exp(-(time_s[here] - stay.since) / PROBE_LAG_S)
        noise = rng.normal(0.0, NOISE_C[stay.what.split()[0]], int(here.sum()))
        shown[here] = np.interp(time_s[here], grid_s, around) + lag + noise
        before_c = float(np.interp(stay.until, grid_s, around))
    return shown
