"""Flags of readings that arrive: the rules for files, with only the past to go by."""

import numpy as np
import pytest
from numpy.typing import NDArray

from fairsmoke.arriving.live_flags import Track, flags_of_whole
from fairsmoke.intake.flags import flag_readings
from fairsmoke.trial.probe import Placement
from fairsmoke.trial.reading import Flag, Readings, ReadingUnit

START_MS = 1_777_757_400_000
MEAT = (
    Placement.model_validate(
        {
            "id": "stay",
            "cook": "night",
            "probe": "core",
            "since": "2026-05-02T20:00:00Z",
            "measures": "core",
            "piece": "left",
        }
    ),
)


def readings(value_c: NDArray[np.float64], step_s: float, unit: ReadingUnit = "degC") -> Readings:
    n = value_c.size
    time_ms = START_MS + (1000 * step_s * np.arange(n)).astype(np.int64)
    raw = np.rint(10 * value_c).astype(np.int64)
    return Readings(time_ms, raw, 1, unit, np.zeros(n, dtype=np.uint8))


class Recorded:
    """What a notebook would have: everything that was taken so far."""

    def __init__(self) -> None:
        self.parts: list[Readings] = []
        self.asked = 0

    def load(self, start_ms: int | None, end_ms: int | None) -> Readings:
        self.asked += 1
        low = -(2**62) if start_ms is None else start_ms
        return Readings.joined(self.parts).between(low, 2**62 if end_ms is None else end_ms)


def taken_one_by_one(
    given: Readings, recorded: Recorded, *, forget_every: int = 0
) -> NDArray[np.uint8]:
    """Return the flags of readings that come one at a time; the app forgets now and then."""
    track = Track("core", MEAT, recorded.load)
    for at in range(len(given)):
        if forget_every and at % forget_every == 0:
            track = Track("core", MEAT, recorded.load)
        new, known = track.take(given.take(slice(at, at + 1)))
        assert (len(new), known) == (1, 0)
        recorded.parts.append(new)
    return Readings.joined(recorded.parts).flags


def slow_rise(n: int, step_s: float) -> NDArray[np.float64]:
    """Return a core that rises by 10 K an hour with a logger's jitter of a tenth."""
    rng = np.random.default_rng(3)
    jitter = rng.integers(-1, 2, n) / 10
    return np.asarray(60 + 10 * step_s * np.arange(n) / 3600 + jitter)


@pytest.mark.parametrize("step_s", [1.0, 20.0, 120.0])
def test_an_honest_core_is_believed_and_the_notebook_is_hardly_asked(step_s: float) -> None:
    recorded = Recorded()
    flags = taken_one_by_one(readings(slow_rise(300, step_s), step_s), recorded)
    assert not flags.any()
    assert recorded.asked <= 2


@pytest.mark.parametrize("forget_every", [0, 7])
def test_a_probe_that_falls_out_is_not_believed_at_once(forget_every: int) -> None:
    value = slow_rise(120, 20.0)
    # Out for two minutes: six readings, in the air of the pit.
    value[60:66] += 40
    given = readings(value, 20.0)
    flags = taken_one_by_one(given, Recorded(), forget_every=forget_every)
    jumped = np.flatnonzero(flags & int(Flag.JUMP))
    assert jumped.tolist() == [60, 61, 62, 63, 64, 65]


def test_where_a_probe_stays_it_is_believed_after_five_minutes() -> None:
    value = slow_rise(200, 20.0)
    # Moved to another piece, and nobody said so.
    value[100:] -= 15
    flags = taken_one_by_one(readings(value, 20.0), Recorded())
    jumped = np.flatnonzero(flags & int(Flag.JUMP))
    # LIMITS["meat"].settled_s: 300 s are fifteen readings.
    assert jumped.tolist() == list(range(100, 115))
    # As a whole only the first reading after the move is in doubt, as in a file.
    given = readings(value, 20.0)
    whole = flags_of_whole(given.with_flags(flags), "core", MEAT)
    assert np.array_equal(whole.flags, flag_readings(given, "meat"))
    assert np.flatnonzero(whole.flags).tolist() == [100]


def test_a_slow_fall_of_many_small_steps_shows() -> None:
    value = slow_rise(900, 1.0)
    value[300:360] -= np.linspace(0, 30, 60)
    value[360:] -= 30
    flags = taken_one_by_one(readings(value, 1.0), Recorded())
    assert (flags[320:400] & int(Flag.JUMP)).any()


def test_open_probes_gaps_and_frozen_values() -> None:
    value = slow_rise(100, 60.0)
    value[50] = 999.9
    given = readings(value, 60.0)
    times = given.time_ms.copy()
    times[80:] += 3_600_000
    given = Readings(times, given.raw, 1, "degC", given.flags)
    flags = taken_one_by_one(given, Recorded())
    assert np.flatnonzero(flags & int(Flag.OPEN_PROBE)).tolist() == [50]
    assert np.flatnonzero(flags & int(Flag.GAP_BEFORE)).tolist() == [80]
    again = taken_one_by_one(given, Recorded(), forget_every=10)
    assert np.array_equal(again, flags)
    # Thirteen hours without a move; STILL["meat"]: 12 h at least, 2 h for a tenth of a degree.
    still = readings(np.concatenate([slow_rise(60, 60.0), np.full(13 * 60, 61.3)]), 60.0)
    recorded = Recorded()
    flags = taken_one_by_one(still, recorded)
    stuck = np.flatnonzero(flags & int(Flag.STUCK))
    assert stuck.size
    assert 12 * 60 <= stuck[0] - 60 <= 12 * 60 + 10
    assert stuck[-1] == len(still) - 1
    # It is a costly look, taken every five minutes at most.
    assert recorded.asked < 13 * 12 + 10


def test_what_is_known_adds_nothing_and_what_differs_is_kept_and_marked() -> None:
    recorded = Recorded()
    given = readings(slow_rise(50, 20.0), 20.0)
    taken_one_by_one(given, recorded)
    track = Track("core", MEAT, recorded.load)
    new, known = track.take(given)
    assert (len(new), known) == (0, 50)
    other = Readings(given.time_ms[10:11], given.raw[10:11] + 5, 1, "degC", given.flags[:1])
    new, known = track.take(other)
    assert (new.flags.tolist(), known) == ([int(Flag.CONFLICT)], 0)
    # In °F, rounded: the same temperature said again.
    fahrenheit = readings(given.value_c * 1.8 + 32, 20.0, "degF")
    new, known = track.take(fahrenheit.take(slice(20, 30)))
    assert (len(new), known) == (0, 10)
    # Within one batch too.
    twice = given.take(np.array([0, 0, 1]))
    late = Readings(twice.time_ms + 10**7, twice.raw, 1, "degC", twice.flags)
    new, known = track.take(late)
    assert (len(new), known) == (2, 1)
