"""Forecasts of simulated cooks from another truth: coverage and CRPS beside three baselines.

The truth is the whole body with unknowns of its own and thermometer noise that is correlated in
time; the forecast sees a column, the readings so far and the protocol. `python -m benchmarks
forecast` prints a row for each moment: an hour in, in the stall, an hour after the wrap.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scoringrules

from fairsmoke.cooking import Conditions, Piece
from fairsmoke.cooking.ensemble import run_ensemble
from fairsmoke.cooking.unknowns import UNKNOWNS
from fairsmoke.forecast.baselines import (
    exponential_to_pit,
    line_through_last_hour,
    mean_of_like_cooks,
)
from fairsmoke.forecast.forecast import forecast
from fairsmoke.forecast.members import PROBE_MIDDLE, PROBE_SD, Situation
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.trial.protocol import Cover, EndCondition, Protocol, Stage, Wrap

COOKS, MEMBERS, MARK_C, LONGEST_S = 40, 150, 90.0, 30 * 3600.0
_THICK, _QUARTER = 0, 5


@dataclass(frozen=True, eq=False)
class Truth:
    """One simulated cook: what was cooked, what the probe read, when it was wrapped and done."""

    situation: Situation
    times_s: FloatArray
    core_c: FloatArray
    wrapped_s: float
    done_s: float
    pit_c: float


def truths(count: int = COOKS, seed: int = 5) -> list[Truth]:
    """Return cooks that come to the mark, briskets and pork shoulders by turns."""
    rng = np.random.default_rng(seed)
    found: list[Truth] = []
    for number in range(count):
        one = _cook(rng, "pork shoulder" if number % 2 else "brisket")
        if one is not None:
            found.append(one)
    return found


def _cook(rng: np.random.Generator, cut: str) -> Truth | None:
    mass = float(rng.uniform(3.0, 7.0))
    wide, long = (3.5, 1.8) if cut == "brisket" else (1.4, 1.6)
    thick = (mass / 1050.0 / 0.65 / (wide * wide * long)) ** (1 / 3)
    piece = Piece(cut, mass, thick * wide * long, thick * wide, thick)
    pit = float(rng.choice([107.0, 121.0, 135.0]))
    cover = list(Cover)[int(rng.integers(3))]
    ends = (EndCondition(core_c=99.0), EndCondition(elapsed_s=LONGEST_S))
    protocol = Protocol(
        stages=(
            Stage(id="smoke", name="Smoke", surround_c=pit, ends=(EndCondition(core_c=71.0),)),
            Stage(
                id="wrap",
                name="Wrapped",
                surround_c=pit,
                wrap=Wrap(above=cover, below=cover),
                ends=ends,
            ),
        )
    )
    times = np.arange(300.0, 2 * LONGEST_S, 300.0)
    whole = run_ensemble(
        piece,
        protocol,
        members=1,
        normal=rng.standard_normal((1, len(UNKNOWNS))),
        whole_body=True,
        sample_s=tuple(times),
        workers=1,
    )
    place = max(0.0, PROBE_MIDDLE + PROBE_SD * rng.standard_normal())
    core, quarter = whole.samples[0, :, _THICK], whole.samples[0, :, _QUARTER]
    true = core + place * (quarter - core)
    kept = np.isfinite(true)
    if not np.any(true[kept] >= MARK_C):
        return None
    done = float(times[kept][np.argmax(true[kept] >= MARK_C)])
    noise = np.zeros(int(kept.sum()))
    for at in range(1, noise.size):
        noise[at] = 0.9 * noise[at - 1] + 0.3 * rng.standard_normal()
    wrapped = float(whole.stage_end_s["smoke"][0])
    situation = Situation(piece, protocol, Conditions())
    return Truth(situation, times[kept], true[kept] + noise, wrapped, done, pit)


def moments(one: Truth) -> Iterator[tuple[str, float]]:
    """Yield the moments at which a cook is forecast, those that are before its end."""
    stall = float(one.times_s[np.argmax(one.core_c >= 66.0)])
    for name, now in (("1h", 3600.0), ("stall", stall), ("wrapped", one.wrapped_s + 3600.0)):
        if now < one.done_s - 600.0:
            yield name, now


def measure() -> dict[str, float]:
    """Return, for each moment, coverage, the median error (h) and every CRPS (h)."""
    cooks = truths()
    rows: dict[str, list[list[float]]] = {}
    for number, one in enumerate(cooks):
        like = [
            other.done_s
            for other in cooks
            if other is not one
            and (other.situation.piece.cut, other.pit_c) == (one.situation.piece.cut, one.pit_c)
        ]
        for name, now in moments(one):
            rows.setdefault(name, []).append(_row(one, now, like, number + 1))
    told: dict[str, float] = {"forecast_cooks": float(len(cooks))}
    for name, found in rows.items():
        inside, _, own, line, exponential, mean = (float(x) for x in np.mean(found, axis=0))
        told |= {
            f"forecast_{name}_count": float(len(found)),
            f"forecast_{name}_inside_80": inside,
            f"forecast_{name}_median_error_h": float(np.median([row[1] for row in found])),
            f"forecast_{name}_crps_h": own,
            f"forecast_{name}_crps_line_h": line,
            f"forecast_{name}_crps_exponential_h": exponential,
            f"forecast_{name}_crps_like_cooks_h": mean,
        }
    return told


def _row(one: Truth, now_s: float, like: list[float], seed: int) -> list[float]:
    so_far = one.times_s <= now_s
    times, core = one.times_s[so_far], one.core_c[so_far]
    found = forecast(one.situation, times, core, (MARK_C,), now_s=now_s, members=MEMBERS, seed=seed)
    low, middle, high = found.interval(MARK_C)
    true = one.done_s - now_s
    drawn = np.minimum(found.remaining_s[MARK_C], LONGEST_S)
    baselines = (
        line_through_last_hour(times, core, MARK_C),
        exponential_to_pit(times, core, one.pit_c, MARK_C),
        mean_of_like_cooks(now_s, like),
    )
    errors = [abs(min(one, LONGEST_S) - true) / 3600.0 for one in baselines]
    crps = float(scoringrules.crps_ensemble(true, drawn)) / 3600.0
    return [float(low <= true <= high), abs(min(middle, LONGEST_S) - true) / 3600.0, crps, *errors]
