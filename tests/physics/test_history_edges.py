"""Times read off logged temperatures, where a reading lies exactly on the mark. Worked by hand."""

import numpy as np
import pytest

from fairsmoke.physics import PhysicsRangeError, history


@pytest.mark.parametrize(
    ("temps", "low_c", "high_c", "time_s"),
    [
        # 100 s between readings, straight lines.
        ([4.0, 4.0], 4.0, 60.0, 100.0),
        ([60.0, 60.0], 4.0, 60.0, 100.0),
        ([3.9, 3.9], 4.0, 60.0, 0.0),
        ([60.1, 60.1], 4.0, 60.0, 0.0),
        ([0.0, 1.0], 0.25, 0.5, 25.0),
        ([1.0, 0.0], 0.25, 0.5, 25.0),
        ([0.0, 0.5], 0.25, 9.0, 50.0),
        ([0.0, 100.0, 100.0, 0.0], 10.0, 60.0, 100.0),
        ([20.0, 20.0, 70.0, 70.0, 20.0], 10.0, 60.0, 100.0 + 80.0 + 80.0),
        ([0.0, 10.0], 10.0, 60.0, 0.0),
        ([60.0, 70.0], 10.0, 60.0, 0.0),
    ],
)
def test_time_in_a_range_with_its_ends(
    temps: list[float], low_c: float, high_c: float, time_s: float
) -> None:
    times = 100.0 * np.arange(len(temps))
    assert history.time_in_range_s(times, temps, low_c, high_c) == pytest.approx(time_s)


def test_a_range_of_no_width_is_refused() -> None:
    with pytest.raises(PhysicsRangeError, match="must be lower"):
        history.time_in_range_s([0, 1], [0, 1], 5.0, 5.0)
    with pytest.raises(PhysicsRangeError, match="must be lower"):
        history.cooling_time_s([0, 1], [9, 1], 5.0, 5.0)


@pytest.mark.parametrize(
    ("temps", "level_c", "rising", "time_s"),
    [
        ([0.0, 40.0, 30.0, 80.0], 20.0, True, 50.0),
        ([0.0, 40.0, 30.0, 80.0], 40.0, True, 100.0),
        ([0.0, 40.0, 30.0, 80.0], 55.0, True, 250.0),
        ([0.0, 40.0], 0.0, True, 0.0),
        ([0.0, 40.0], 40.1, True, None),
        ([90.0, 50.0, 10.0], 30.0, False, 150.0),
        ([90.0, 50.0, 10.0], 50.0, False, 100.0),
        ([90.0, 50.0, 10.0], 90.0, False, 0.0),
        ([90.0, 50.0, 10.0], 9.9, False, None),
    ],
)
def test_when_a_mark_is_reached(
    temps: list[float], level_c: float, rising: bool, time_s: float | None
) -> None:
    times = 100.0 * np.arange(len(temps))
    found = history.first_time_at_s(times, temps, level_c, rising=rising)
    assert found == pytest.approx(time_s)


@pytest.mark.parametrize(
    ("temps", "time_s"),
    [
        # 57 to 21 °C: last at 57 or above, first at 21 or below after it.
        ([93.0, 57.0, 21.0], 100.0),
        ([93.0, 57.0, 39.0, 21.0], 200.0),
        ([93.0, 21.0], 100.0 * (57 - 21) / (93 - 21)),
        ([93.0, 20.0, 93.0, 21.0], 100.0 * (57 - 21) / (93 - 21)),
        ([57.0, 57.0, 21.0], 100.0),
        ([93.0, 21.1], None),
        ([56.9, 21.0], None),
        ([93.0, 57.0], None),
    ],
)
def test_cooling_from_57_to_21(temps: list[float], time_s: float | None) -> None:
    times = 1000.0 + 100.0 * np.arange(len(temps))
    assert history.cooling_time_s(times, temps, 57.0, 21.0) == pytest.approx(time_s)


def test_coming_up_uses_the_ends_of_the_guideline() -> None:
    # 10 to 54.4 °C: one kelvin a second.
    assert history.come_up_time_s([0.0, 100.0], [0.0, 100.0]) == pytest.approx(44.4)
    assert history.come_up_time_s([0.0, 100.0], [0.0, 100.0], 20.0, 30.0) == pytest.approx(10.0)
    assert history.come_up_time_s([0.0, 10.0], [0.0, 9.0]) is None
    # Down to 54.4 °C is not up to it.
    assert history.come_up_time_s([5.0, 10.0, 15.0], [10.0, 54.4, 0.0]) == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("temps", "level_c", "time_s"),
    [
        ([60.0, 60.0], 60.0, 100.0),
        ([50.0, 70.0, 50.0], 60.0, 100.0),
        ([50.0, 70.0, 60.0, 70.0, 50.0], 60.0, 300.0),
        ([70.0, 59.0, 70.0], 60.0, 100.0 * 10 / 11),
        ([60.0, 50.0], 60.0, 0.0),
        ([50.0, 60.0], 60.0, 0.0),
        ([70.0, 50.0], 60.0, 50.0),
        ([50.0, 54.0], 51.0, 75.0),
        ([50.0, 59.0], 60.0, 0.0),
        ([50.0, 70.0, 50.0, 70.0, 70.0, 40.0], 60.0, 50.0 + 100.0 + 100.0 / 3),
    ],
)
def test_the_longest_hold(temps: list[float], level_c: float, time_s: float) -> None:
    times = 100.0 * np.arange(len(temps))
    assert history.longest_hold_s(times, temps, level_c) == pytest.approx(time_s)


def test_refined_steps_are_even_and_no_longer_than_asked() -> None:
    time, temp = history.refined([0.0, 30.0, 130.0], [0.0, 3.0, 103.0], 40.0)
    assert time == pytest.approx([0.0, 30.0, 30 + 100 / 3, 30 + 200 / 3, 130.0])
    assert temp == pytest.approx([0.0, 3.0, 3 + 100 / 3, 3 + 200 / 3, 103.0])
    # A step of just the length is left whole; two of it are two.
    assert history.refined([0.0, 40.0, 120.0], [0.0, 1.0, 2.0], 40.0)[0].tolist() == [
        0.0, 40.0, 80.0, 120.0,
    ]  # fmt: skip
