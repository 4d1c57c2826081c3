"""Forecasts of simulated cooks: they sharpen with readings and keep the truth in their interval.

How often intervals hold over many cooks is measured by `python -m benchmarks forecast`.
"""

import numpy as np
import pytest

from fairsmoke.cooking import Conditions, Piece
from fairsmoke.forecast.forecast import Forecast, forecast, thinned
from fairsmoke.forecast.members import SIZE, Situation, simulate_members
from fairsmoke.trial.protocol import EndCondition, Protocol, Stage

PIECE = Piece("pork shoulder", 2.5, 0.20, 0.14, 0.09)
SMOKE = Stage(id="smoke", name="Smoke", surround_c=135.0, ends=(EndCondition(core_c=80.0),))
SITUATION = Situation(PIECE, Protocol(stages=(SMOKE,)), Conditions())
MARK_C = 70.0


@pytest.fixture(scope="module")
def truth() -> tuple[np.ndarray, np.ndarray, float]:
    """A cook that is warmer and wetter than the middle: times, readings, when it is at the mark."""
    draws = np.zeros((1, SIZE))
    draws[0, [3, 7, 9]] = 0.7
    times = np.arange(300.0, 12 * 3600.0, 300.0)
    seen = simulate_members(SITUATION, draws, times).probe_c[0]
    kept = np.isfinite(seen)
    done = float(times[kept][np.argmax(seen[kept] >= MARK_C)])
    noise = np.random.default_rng(4).normal(0.0, 0.3, int(kept.sum()))
    return times[kept], seen[kept] + noise, done


def at(truth: tuple[np.ndarray, np.ndarray, float], share: float) -> Forecast:
    times, core, done = truth
    so_far = times <= share * done
    return forecast(
        SITUATION,
        times[so_far],
        core[so_far],
        (MARK_C,),
        now_s=share * done,
        members=60,
        seed=2,
    )


def test_intervals_hold_the_truth_and_sharpen(
    truth: tuple[np.ndarray, np.ndarray, float],
) -> None:
    widths = []
    for share in (0.0, 0.4, 0.75):
        low, _, high = at(truth, share).interval(MARK_C)
        assert low <= (1.0 - share) * truth[2] <= high
        widths.append(high - low)
    assert widths[0] > 2.0 * widths[2]


def test_the_fan_starts_at_the_core_that_was_read(
    truth: tuple[np.ndarray, np.ndarray, float],
) -> None:
    found = at(truth, 0.6)
    last = truth[1][truth[0] <= 0.6 * truth[2]][-1]
    low, high = found.fan()[0.8][:, 0]
    assert low - 1.0 <= last <= high + 1.0
    assert high - low < 8.0


def test_chances_rise_with_time_and_agree_with_the_interval(
    truth: tuple[np.ndarray, np.ndarray, float],
) -> None:
    found = at(truth, 0.4)
    low, middle, high = found.interval(MARK_C)
    chances = [found.probability_by(MARK_C, after) for after in (0.0, low, middle, high)]
    assert chances == sorted(chances)
    assert chances[2] >= 0.5
    assert chances[3] >= 0.9


def test_the_same_seed_gives_the_same_forecast(
    truth: tuple[np.ndarray, np.ndarray, float],
) -> None:
    first, again = at(truth, 0.4), at(truth, 0.4)
    assert np.array_equal(first.remaining_s[MARK_C], again.remaining_s[MARK_C])


def test_many_readings_are_thinned_to_the_latest_and_evenly_spread_ones() -> None:
    times = np.arange(0.0, 36_000.0, 60.0)
    kept = thinned(times)
    assert kept.size <= 24
    assert kept[-1] == times.size - 1
    assert np.array_equal(thinned(times[:5]), np.arange(5))
