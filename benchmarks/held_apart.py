"""The frozen test set beside the model, once: `python -m benchmarks.held_apart`.

Everything of use "test": printed times and losses, and logged core curves. Draws of what is not
known (fairsmoke.cooking.predictive) give an 80 % interval for each number; shown are coverage,
median errors, the floor that like cooks set, and curves fitted whole or forecast from a part.
"""

import numpy as np

from fairsmoke.cooking.experiments import library
from fairsmoke.cooking.experiments.curves import LoggedCurve, scored
from fairsmoke.cooking.hierarchy import LOSS_SHARE, TIME_SHARE
from fairsmoke.cooking.logged_cooks import core_curve
from fairsmoke.cooking.predictive import (
    LOSSES_WIDER,
    TIMES_WIDER,
    after_readings,
    carried_on,
    curve_draws,
    first_passage_s,
    predicted,
)
from fairsmoke.physics.ranges import FloatArray

DRAWS, LOSS_DRAWS = 48, 20
LOW, HIGH = 0.1, 0.9
_GRID = 60


def inside(draws: FloatArray, value: float) -> bool:
    """Return whether the middle 80 % of the draws hold a value."""
    known = draws[~np.isnan(draws)]
    low, high = np.quantile(known, [LOW, HIGH], method="inverted_cdf")
    return bool(low <= value <= high)


def printed_numbers() -> list[tuple[str, str, bool, float, str]]:
    """Return source, kind, inside, error (share or points) and case of each printed number."""
    rows = []
    rng = np.random.default_rng(7)
    for source in library():
        for case in source.cases:
            wanted = [
                o
                for o in case.outcomes
                if o.measure in ("time_s", "time_to_wrap_s", "loss_fraction", "yield_fraction")
                and not o.apart
            ]
            if source.use != "test" or case.apart or not wanted:
                continue
            timed = all(o.measure.endswith("_s") for o in wanted)
            found = predicted(case, DRAWS if timed else LOSS_DRAWS, whole_body=not timed)
            for one in wanted:
                values = np.array([a.get(one.measure, np.nan) for a in found])
                if np.isnan(values).mean() > 0.5:
                    continue
                middle = float(np.nanmedian(values))
                if one.measure.endswith("_s"):
                    wide = middle * (values / middle) ** TIMES_WIDER
                    noise = TIMES_WIDER * TIME_SHARE * rng.standard_normal(values.size)
                    noisy = wide * np.exp(noise)
                    error, kind = middle / one.value - 1.0, "time"
                else:
                    wide = middle + LOSSES_WIDER * (values - middle)
                    noisy = wide + LOSSES_WIDER * LOSS_SHARE * rng.standard_normal(values.size)
                    error, kind = middle - one.value, "loss"
                logged = "log" if source.kitchen else "study"
                label = f"{kind} {logged}"
                rows.append((source.key, label, inside(noisy, one.value), error, case.key))
    return rows


def whole_curve_rms(curve: LoggedCurve) -> float:
    """Return the RMS (K) of a curve whose own unknowns are fitted to all of it."""
    known = after_readings(curve, len(curve.seconds))
    off = core_curve_at(curve, known.mode) - np.array(curve.core_c)
    return float(np.sqrt(np.mean(off**2)))


def core_curve_at(curve: LoggedCurve, scaled: FloatArray) -> FloatArray:
    """Return the model's readings of a curve for its unknowns."""
    from fairsmoke.cooking.constants import DEFAULT

    return core_curve(DEFAULT, curve, scaled)


def rest_rms(curve: LoggedCurve) -> float:
    """Return the RMS (K) of the rest of a curve after its first third of readings."""
    first = max(1, len(curve.seconds) // 3)
    known = after_readings(curve, first)
    off = core_curve_at(curve, known.mode)[first:] - np.array(curve.core_c)[first:]
    return float(np.sqrt(np.mean(off**2)))


def forecast(curve: LoggedCurve, count: int, like: float) -> tuple[float, float, float, bool]:
    """Return errors (share of what remained) of the time to the last reading's temperature.

    By the model after `count` readings, by the line through the last two readings, by the mean of
    like cooks (`like`, s), and whether it lies in the model's 80 % interval.
    """
    end, aim = curve.seconds[-1], curve.core_c[-1]
    now = curve.seconds[count - 1]
    grid = np.linspace(now, 3.0 * end, _GRID)
    draws = curve_draws(
        carried_on(curve, float(grid[-1])),
        DRAWS,
        seconds=tuple(grid),
        known=after_readings(curve, count),
    )
    reached = first_passage_s(grid, draws, aim)
    model = float(np.median(reached))
    back = (0.0, 6.0) if count == 1 else (curve.seconds[count - 2], curve.core_c[count - 2])
    slope = (curve.core_c[count - 1] - back[1]) / (now - back[0])
    line = now + (aim - curve.core_c[count - 1]) / slope if slope > 0 else np.inf
    left = end - now
    errors = [min(abs(t - end) / left, 9.0) for t in (model, line, max(like, now))]
    return errors[0], errors[1], errors[2], inside(reached, end)


def main() -> None:
    """Print the headline's figures."""
    curves = scored("test")
    readings = [(c, curve_draws(c, DRAWS)) for c in curves]
    held = [inside(draws[:, k], core) for c, draws in readings for k, core in enumerate(c.core_c)]
    print(f"curves: {len(curves)}, readings {len(held)}, inside 80 %: {np.mean(held):.3f}")
    other = [
        inside(draws[:, k], core)
        for c, draws in readings
        if not c.same_as
        for k, core in enumerate(c.core_c)
    ]
    print(f"  without the notebook and known posts: {np.mean(other):.3f} of {len(other)}")
    off = [
        float(np.nanmedian(draws[:, k]) - core)
        for c, draws in readings
        for k, core in enumerate(c.core_c)
    ]
    print(f"  median error {np.median(off):+.1f} K, median size {np.median(np.abs(off)):.1f} K")
    ends = []
    for c in curves:
        grid = np.linspace(60.0, 3.0 * c.seconds[-1], _GRID)
        draws = curve_draws(carried_on(c, float(grid[-1])), DRAWS, seconds=tuple(grid))
        reached = first_passage_s(grid, draws, c.core_c[-1])
        ends.append((c, float(np.median(reached)), inside(reached, c.seconds[-1])))
    errors = [abs(t / c.seconds[-1] - 1.0) for c, t, _ in ends]
    print(
        f"time to last reading: median error {np.median(np.minimum(errors, 9)):.3f}, "
        f"inside {np.mean([i for _, _, i in ends]):.3f} of {len(ends)}; "
        f"signed {np.median([t / c.seconds[-1] - 1 for c, t, _ in ends]):+.2f}"
    )
    # The floor: time to 73.9 °C of like cooks (one cut, 107 °C, bare so far) against the mean
    # of the others.
    for cut in ("brisket", "pork shoulder"):
        times = []
        for c in curves:
            cores = np.array(c.core_c)
            if c.cut == cut and c.pit[0][1] == 107.222 and cores.max() > 73.9 and c.seconds[0] > 0:
                times.append(float(np.interp(73.9, np.maximum.accumulate(cores), c.seconds)))
        logs = np.log(times)
        alone = [abs(np.exp(np.delete(logs, k).mean() - logs[k]) - 1) for k in range(logs.size)]
        print(f"floor {cut}: {logs.size} cooks, median {np.median(alone):.3f}")
    rms = [(c, whole_curve_rms(c)) for c in curves if len(c.seconds) >= 4]
    print(f"whole curves ({len(rms)}): median RMS {np.median([r for _, r in rms]):.2f} K")
    rest = [rest_rms(c) for c, _ in rms]
    print(f"rest after a third: median RMS {np.median(rest):.2f} K")
    found: dict[float, list[tuple[float, float, float, bool]]] = {0.25: [], 0.5: [], 0.75: []}
    for c, _ in rms:
        # Like cooks: the same cut on another day.
        day = c.key.rsplit("_", 1)[0]
        same = [o.seconds[-1] for o in curves if o.cut == c.cut and not o.key.startswith(day)]
        like = float(np.exp(np.mean(np.log(same)))) if same else np.nan
        for share, rows in found.items():
            count = int(np.sum(np.array(c.seconds) <= share * c.seconds[-1]))
            if count >= 1 and count < len(c.seconds):
                rows.append(forecast(c, count, like))
    for share, rows in found.items():
        each = np.array([r[:3] for r in rows])
        print(
            f"forecast at {share:.0%}: {len(rows)} curves, median error of what remains "
            f"model {np.median(each[:, 0]):.2f}, line {np.median(each[:, 1]):.2f}, "
            f"like cooks {np.median(each[:, 2]):.2f}; inside {np.mean([r[3] for r in rows]):.2f}"
        )
    rows2 = printed_numbers()
    for kind in ("time study", "time log", "loss study", "loss log"):
        own = [r for r in rows2 if r[1] == kind]
        if own:
            print(
                f"{kind}: {len(own)}, median error {np.median([abs(r[3]) for r in own]):.3f} "
                f"(signed {np.median([r[3] for r in own]):+.3f}), inside "
                f"{np.mean([r[2] for r in own]):.3f}"
            )
    every = [r[2] for r in rows2] + held
    printed = np.mean([r[2] for r in rows2])
    print(f"all numbers: {len(every)}, inside {np.mean(every):.3f}")
    print(f"  printed numbers: {printed:.3f} of {len(rows2)}")
    for r in rows2:
        print("   ", *r)


if __name__ == "__main__":
    main()
