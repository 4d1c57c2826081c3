"""Time in a range, come-up, cooling and holds of logged temperatures, worked by hand."""

import numpy as np
import pytest

from fairsmoke.physics import PhysicsRangeError, history

HOUR = 3600.0
# An invented record: up from 4 to 64 °C in 6 h, an hour there, down to 4 °C in 10 h.
TIMES = [0.0, 6 * HOUR, 7 * HOUR, 17 * HOUR]
TEMPS = [4.0, 64.0, 64.0, 4.0]


def test_time_in_a_range() -> None:
    # Up: 10 K an hour; down: 6 K an hour.
    assert history.time_in_range_s(TIMES, TEMPS, 10.0, 50.0) == pytest.approx(
        (4.0 + 40.0 / 6.0) * HOUR
    )
    assert history.time_in_range_s(TIMES, TEMPS, 64.0, 70.0) == pytest.approx(1.0 * HOUR)
    assert history.time_in_range_s(TIMES, TEMPS, 70.0, 80.0) == 0.0
    with pytest.raises(PhysicsRangeError, match="must be lower"):
        history.time_in_range_s(TIMES, TEMPS, 50.0, 10.0)


def test_come_up() -> None:
    assert history.come_up_time_s(TIMES, TEMPS) == pytest.approx(4.44 * HOUR)
    assert history.come_up_time_s(TIMES, TEMPS, 10.0, 80.0) is None
    # A piece that starts warm has its come-up from the first reading.
    assert history.come_up_time_s([0.0, HOUR], [20.0, 60.0]) == pytest.approx(0.86 * HOUR)


def test_cooling() -> None:
    assert history.cooling_time_s(TIMES, TEMPS, 57.0, 21.0) == pytest.approx(6.0 * HOUR)
    assert history.cooling_time_s(TIMES, TEMPS, 70.0, 21.0) is None
    assert history.cooling_time_s(TIMES, TEMPS, 57.0, 2.0) is None
    assert history.cooling_time_s(TIMES[:3], TEMPS[:3], 57.0, 21.0) is None
    with pytest.raises(PhysicsRangeError, match="must be lower"):
        history.cooling_time_s(TIMES, TEMPS, 20.0, 50.0)


def test_marks() -> None:
    assert history.first_time_at_s(TIMES, TEMPS, 34.0) == pytest.approx(3 * HOUR)
    assert history.first_time_at_s(TIMES, TEMPS, 4.0) == 0.0
    assert history.first_time_at_s(TIMES, TEMPS, 90.0) is None
    assert history.first_time_at_s(TIMES[2:], TEMPS[2:], 34.0, rising=False) == 12 * HOUR


def test_longest_hold_takes_the_longer_of_two() -> None:
    times = np.arange(9) * 60.0
    temps = [50.0, 60.0, 60.0, 50.0, 60.0, 60.0, 60.0, 60.0, 50.0]
    assert history.longest_hold_s(times, temps, 60.0) == 180.0
    assert history.longest_hold_s(times, temps, 55.0) == 240.0
    assert history.longest_hold_s(times, temps, 61.0) == 0.0
    assert history.longest_hold_s(times, temps, 40.0) == 480.0


def test_refining_keeps_the_line() -> None:
    time, temp = history.refined(TIMES, TEMPS, 1000.0)
    assert np.diff(time).max() <= 1000.0
    assert set(TIMES) <= set(time.tolist())
    assert temp[np.flatnonzero(time == TIMES[1])] == 64.0
    assert history.time_in_range_s(time, temp, 10.0, 50.0) == pytest.approx(
        history.time_in_range_s(TIMES, TEMPS, 10.0, 50.0)
    )
