"""Flags on invented curves: each fault is found, and honest cooks are left alone.

The limits are common practice, no source.
"""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from fairsmoke.intake import ProbeKind, flag_readings
from fairsmoke.trial.reading import Flag, Readings, ReadingUnit

Floats = NDArray[np.floating[Any]]


def _readings(
    minute: Floats, value: Floats, decimals: int = 1, unit: ReadingUnit = "degC"
) -> Readings:
    return Readings(
        np.round(minute * 60_000).astype(np.int64),
        np.round(value * 10**decimals).astype(np.int64),
        decimals,
        unit,
        np.zeros(minute.size, dtype=np.uint8),
    )


def _core(minute: Floats) -> Floats:
    """A core that rises, stalls at 68 °C for hours, and rises again."""
    return np.interp(minute, [0, 240, 480, 720], [5.0, 66.0, 69.0, 95.0])


def _has(readings: Readings, flag: Flag, kind: ProbeKind = "meat") -> list[int]:
    return np.flatnonzero(flag_readings(readings, kind) & int(flag)).tolist()


@pytest.mark.parametrize("every_s", [1, 5, 15, 60, 300])
@pytest.mark.parametrize("unit", ["degC", "degF"])
@pytest.mark.parametrize("decimals", [0, 1])
def test_an_honest_core_is_not_flagged(every_s: int, unit: ReadingUnit, decimals: int) -> None:
    minute = np.arange(0, 720, every_s / 60)
    noise = np.random.default_rng(5).normal(0, 0.15, minute.size)
    value = _core(minute) + noise
    readings = _readings(minute, value * 1.8 + 32 if unit == "degF" else value, decimals, unit)
    assert not flag_readings(readings, "meat").any()


def test_an_honest_pit_is_not_flagged() -> None:
    minute = np.arange(0, 720, 0.5)
    value = 110 + 6 * np.sin(minute / 9) + np.random.default_rng(6).normal(0, 1, minute.size)
    for lid in range(60, 720, 60):
        value -= 65 * np.exp(-np.clip(minute - lid, 0, None) / 4) * (minute >= lid)
    assert not flag_readings(_readings(minute, value), "air").any()


def test_gaps() -> None:
    minute = np.array([0, 1, 2, 3, 9, 10, 12.5, 13])
    assert _has(_readings(minute, _core(minute)), Flag.GAP_BEFORE) == [4]
    slow = np.array([0, 10, 20, 30, 75, 85, 130.0])
    assert _has(_readings(slow, _core(slow)), Flag.GAP_BEFORE) == []


@pytest.mark.parametrize(
    ("value", "unit"),
    [
        (0.0, "degC"), (0.0, "degF"), (32.0, "degF"), (-50.0, "degC"), (999.0, "degF"),
        (3276.7, "degC"), (6553.5, "degF"), (-99.9, "degF"), (500.0, "degC"), (273.2, "K"),
    ],
)  # fmt: skip
def test_values_of_an_open_probe(value: float, unit: ReadingUnit) -> None:
    hot = {"degC": 68.0, "degF": 154.0, "K": 341.0}[unit]
    minute = np.arange(20.0)
    values = np.full(20, hot) + 0.1 * (minute % 2)
    values[7:9] = value
    readings = _readings(minute, values, 1, unit)
    flags = flag_readings(readings, "meat")
    expected = Flag.JUMP if value == 273.2 else Flag.OPEN_PROBE
    assert np.flatnonzero(flags).tolist() == [7, 8]
    assert (flags[7:9] == int(expected)).all()


def test_cold_meat_at_zero_is_not_an_open_probe() -> None:
    minute = np.arange(60.0)
    thawing = np.round(-1 + minute / 30, 1)
    assert not flag_readings(_readings(minute, thawing), "meat").any()


def test_zeros_before_the_probe_is_plugged_in() -> None:
    minute = np.arange(30.0)
    value = np.where(minute < 10, 0.0, 20 + 0.1 * minute)
    assert _has(_readings(minute, value), Flag.OPEN_PROBE) == list(range(10))


def test_a_hot_probe_put_on_ice_is_not_an_open_probe() -> None:
    minute = np.arange(40.0)
    value = np.where(minute < 20, 68.0, np.round((minute - 20) / 5, 1))
    assert _has(_readings(minute, value), Flag.OPEN_PROBE) == []


@pytest.mark.parametrize("every_s", [1, 10, 60, 300])
@pytest.mark.parametrize("height", [8.0, 25.0, -30.0])
def test_spikes(every_s: int, height: float) -> None:
    minute = np.arange(0, 720, every_s / 60)
    value = _core(minute)
    at = [minute.size // 3, minute.size // 2, minute.size // 2 + 1]
    value[at] += height + 6 * (every_s == 300) * np.sign(height)
    assert _has(_readings(minute, value), Flag.JUMP) == at


@pytest.mark.parametrize("every_s", [1, 10, 30, 60])
@pytest.mark.parametrize("response_s", [5.0, 60.0])
@pytest.mark.parametrize("elsewhere_c", [107.0, 22.0])
def test_a_probe_that_falls_out_for_an_hour(
    every_s: int, response_s: float, elsewhere_c: float
) -> None:
    minute = np.arange(0, 720, every_s / 60)
    core = _core(minute)
    out, back = 300.0, 360.0
    share = np.where(minute >= out, 1 - np.exp(-(minute - out).clip(0) * 60 / response_s), 0.0)
    share = np.where(minute >= back, np.exp(-(minute - back).clip(0) * 60 / response_s), share)
    value = core + share * (elsewhere_c - core)
    readings = _readings(minute, value)
    jump = (flag_readings(readings, "meat") & int(Flag.JUMP)) > 0
    wrong = np.abs(value - core) > 5
    # Nothing that is far off is believed, but for the first half minute of a slow fall.
    late = wrong & (minute > out + 0.6)
    assert jump[late].all()
    assert jump[(minute > out + 1) & (minute < back)].all()
    # And nothing honest is lost but the minute before and the few in which the probe settles.
    assert not jump[(minute < out - 1) | (minute > back + 6)].any()


def test_a_probe_moved_to_another_piece_is_believed_there() -> None:
    minute = np.arange(0.0, 600.0)
    value = np.where(minute < 300, _core(minute), _core(minute) - 22)
    value[300:303] = 24.0
    assert _has(_readings(minute, value), Flag.JUMP) == [300, 301, 302, 303]


def test_a_visit_to_another_piece_is_believed_if_it_is_known() -> None:
    minute = np.arange(0.0, 600.0)
    value = _core(minute)
    value[300:340] -= 22
    readings = _readings(minute, value)
    assert _has(readings, Flag.JUMP)[:40] == list(range(300, 340))
    moved = readings.time_ms[[300, 340]]
    assert not flag_readings(readings, "meat", moved).any()


def test_a_probe_from_the_room_into_meat_and_back_is_believed_in_the_meat() -> None:
    minute = np.arange(0.0, 110.0)
    value = np.where((minute < 10) | (minute >= 100), 22.0, 5 + minute / 10)
    value += 0.1 * (minute % 2)
    jumps = _has(_readings(minute, value), Flag.JUMP)
    assert 10 in jumps
    assert not set(range(11, 100)) & set(jumps)


def test_a_gap_is_not_a_jump() -> None:
    minute = np.concatenate([np.arange(0.0, 60.0), np.arange(180.0, 240.0)])
    readings = _readings(minute, _core(minute))
    assert np.flatnonzero(flag_readings(readings, "meat")).tolist() == [60]
    assert _has(readings, Flag.GAP_BEFORE) == [60]


@pytest.mark.parametrize("every_s", [1, 2, 5, 10, 30])
@pytest.mark.parametrize("noise_k", [0.3, 0.5, 0.7, 0.8, 1.0, 1.4])
def test_a_noisy_probe_keeps_its_readings(noise_k: float, every_s: int) -> None:
    # Steps have the spread sqrt(2) * noise_k (variances add), so at 1 K 3.4 % are above 3 K.
    minute = np.arange(0, 600, every_s / 60)
    noise = np.random.default_rng(11).normal(0, noise_k, minute.size)
    flags = flag_readings(_readings(minute, _core(minute) + noise), "meat")
    assert np.count_nonzero(flags) < 0.05 * minute.size


@pytest.mark.parametrize("every_s", [1, 10, 30])
def test_a_noisy_probe_that_falls_out_is_still_found(every_s: int) -> None:
    minute = np.arange(0, 600, every_s / 60)
    value = _core(minute) + np.random.default_rng(12).normal(0, 1.0, minute.size)
    out = (minute > 300) & (minute < 360)
    value[out] += 22.0 - _core(minute)[out]
    jump = (flag_readings(_readings(minute, value), "meat") & int(Flag.JUMP)) > 0
    assert jump[out].all()
    assert np.count_nonzero(jump[~out]) < 0.05 * minute.size


def test_noise_is_all_left_out() -> None:
    minute = np.arange(0.0, 120.0)
    value = np.random.default_rng(7).uniform(0.1, 100.0, minute.size)
    assert len(_has(_readings(minute, value), Flag.JUMP)) > 100


@pytest.mark.parametrize(
    ("kind", "decimals", "still_min", "stuck"),
    [
        ("air", 1, 350, False),
        ("air", 1, 370, True),
        ("air", 0, 590, False),
        ("air", 0, 610, True),
        ("meat", 1, 710, False),
        ("meat", 1, 730, True),
        ("meat", 0, 1190, False),
        ("meat", 0, 1300, True),
    ],
)
def test_a_value_that_stands_still(
    kind: ProbeKind, decimals: int, still_min: int, stuck: bool
) -> None:
    minute = np.arange(0.0, still_min + 60.0)
    step = 10.0**-decimals
    value = 68 + step * (np.arange(minute.size) % 2)
    value[20 : 20 + still_min + 1] = 68.0
    found = _has(_readings(minute, value, decimals), Flag.STUCK, kind)
    run = np.flatnonzero(value[20:] != 68.0)[0] + 20
    assert found == (list(range(21, run)) if stuck else [])


def test_a_core_held_by_a_cabinet_is_not_frozen() -> None:
    minute = np.arange(0.0, 1200.0)
    held = np.where(minute < 500, 5 + 58 * minute / 500, 63.0)
    assert not flag_readings(_readings(minute, held), "meat").any()
    cold_smoke = 20 + 0.15 * np.sin(minute / 100)
    assert not flag_readings(_readings(minute, cold_smoke), "air").any()


def test_a_gap_or_few_readings_are_not_a_frozen_value() -> None:
    sparse = np.arange(0.0, 1800.0, 200.0)
    assert _has(_readings(sparse, np.full(sparse.size, 68.0)), Flag.STUCK) == []
    halves = np.concatenate([np.arange(0.0, 500.0), np.arange(900.0, 1400.0)])
    assert _has(_readings(halves, np.full(halves.size, 68.0)), Flag.STUCK) == []


def test_readings_that_are_not_believed_are_left_aside() -> None:
    minute = np.arange(0.0, 60.0)
    value = _core(minute)
    value[30] = 90.0
    readings = _readings(minute, value)
    left_out = np.zeros(60, dtype=np.uint8)
    left_out[30] = int(Flag.LEFT_OUT)
    assert not flag_readings(readings.with_flags(left_out), "meat").any()


@pytest.mark.parametrize("count", [0, 1, 2])
def test_hardly_any_readings(count: int) -> None:
    minute = np.arange(float(count))
    assert flag_readings(_readings(minute, minute), "meat").tolist() == [0] * count
