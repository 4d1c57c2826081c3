"""The same reading is kept once, however often and in whichever unit it comes."""

from collections.abc import Sequence

import numpy as np

from fairsmoke.intake import new_only
from fairsmoke.trial.reading import Flag, Readings, ReadingUnit


def _readings(
    times: Sequence[int], raw: Sequence[int], decimals: int = 1, unit: ReadingUnit = "degC"
) -> Readings:
    zeros = np.zeros(len(times), dtype=np.uint8)
    return Readings(np.array(times, np.int64), np.array(raw, np.int64), decimals, unit, zeros)


def test_the_same_file_twice_adds_nothing() -> None:
    one = _readings([1, 2, 2, 3], [10, 20, 21, 30])
    merge = new_only(one, one)
    assert (len(merge.new), merge.repeated, merge.conflicting) == (0, 4, 0)


def test_a_growing_export_adds_its_new_end() -> None:
    merge = new_only(_readings([1, 2], [10, 20]), _readings([1, 2, 3], [10, 20, 30]))
    assert (merge.new.time_ms.tolist(), merge.new.raw.tolist()) == ([3], [30])
    assert (merge.repeated, merge.conflicting) == (2, 0)


def test_another_value_at_the_same_time_is_kept_and_flagged() -> None:
    merge = new_only(_readings([1, 2], [10, 20]), _readings([2, 3], [25, 30]))
    assert merge.new.raw.tolist() == [25, 30]
    assert merge.new.flags.tolist() == [int(Flag.CONFLICT), 0]
    assert (merge.repeated, merge.conflicting) == (0, 1)


def test_a_conflict_that_is_there_already_is_repeated() -> None:
    merge = new_only(_readings([2, 2], [20, 25]), _readings([2], [25]))
    assert (len(merge.new), merge.repeated) == (0, 1)


def test_more_digits_of_the_same_value() -> None:
    merge = new_only(_readings([1, 2], [10, 20], 1), _readings([1, 2], [100, 201], 2))
    assert merge.new.raw.tolist() == [201]
    assert (merge.repeated, merge.conflicting) == (1, 1)


def test_the_same_export_in_the_other_unit() -> None:
    # 93.3 °C is 199.94 °F by definition, 199.9 or 200 as written; 201 °F would be 93.89 °C.
    celsius = _readings([1, 2, 3], [933, 933, 933])
    fahrenheit = _readings([1, 2, 3], [200, 199, 201], 0, "degF")
    merge = new_only(celsius, fahrenheit)
    assert merge.new.raw.tolist() == [199, 201]
    assert (merge.repeated, merge.conflicting) == (1, 2)
    assert merge.new.unit == "degF"


def test_every_rounding_of_one_temperature_is_the_same() -> None:
    exact = np.linspace(20.0, 110.0, 9_001)
    times = list(range(exact.size))
    celsius = _readings(times, np.round(exact * 10).astype(int).tolist())
    fahrenheit = _readings(times, np.round((exact * 1.8 + 32) * 10).astype(int).tolist(), 1, "degF")
    assert new_only(celsius, fahrenheit).repeated == exact.size
    kelvin = _readings(times, np.round((exact + 273.15) * 100).astype(int).tolist(), 2, "K")
    assert new_only(kelvin, celsius).repeated == exact.size


def test_nothing_meets_nothing() -> None:
    merge = new_only(Readings.none(), Readings.none("degF"))
    assert (len(merge.new), merge.repeated, merge.conflicting) == (0, 0, 0)
    assert len(new_only(Readings.none(), _readings([1], [10])).new) == 1
