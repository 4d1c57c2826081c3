"""Flags for readings as they arrive: the rules for files, with only the past to go by.

A file is flagged when all of it is known: a probe that fell out is told by its coming back. A
reading that arrives has no future yet, so a leap is not believed until the probe has stayed where
it leapt to (5 min in meat, 2 min in air), and a probe that lies quietly in the room is believed
again too early. When a cook has ended its streams are flagged anew as a whole (``jobs.streams``).
"""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from fairsmoke.arriving.take_in import kind_of, moves_of
from fairsmoke.intake.flags import (
    COLDEST_C,
    GAP_AT_LEAST_S,
    HOTTEST_C,
    LIMITS,
    STILL,
    STILL_READINGS,
    ProbeKind,
    flag_readings,
)
from fairsmoke.intake.merge import new_only
from fairsmoke.trial.probe import Placement
from fairsmoke.trial.reading import Flag, Readings, ReadingUnit

BACK_MS = 20 * 60_000
"""How far back a reading is compared with what came before."""
CALM_MS = 120_000
"""Within so long a drift of many small steps would show."""
LAST_MANY = 100
"""How many readings before a long gap are looked at: what is usual, and where it was."""
LOOK_EVERY_MS = 300_000
"""How often a value that stands still is looked at as a whole."""

_NEW = np.uint8(128)
_KEPT = int(Flag.CONFLICT)

Load = Callable[[int | None, int | None], Readings]
"""Gives what is recorded of the probe in the cook with start <= time < end."""


class Track:
    """What lately came of one probe in one cook, to tell what is new and what cannot be true."""

    def __init__(self, probe: str, stays: Sequence[Placement], load: Load) -> None:
        self._kind = kind_of(probe, stays)
        self._moves = moves_of(probe, stays)
        self._load = load
        self._tail: Readings | None = None
        self._from_ms = 0
        self._looked_ms: int | None = None
        self._stuck = False

    def take(self, incoming: Readings) -> tuple[Readings, int]:
        """Return which readings, in order of time, are new, flagged; and how many were known.

        ``incoming`` carries no flags. A reading of a time that says something else than the one
        that is there carries CONFLICT.
        """
        if not len(incoming):
            return incoming, 0
        first_ms, last_ms = int(incoming.time_ms[0]), int(incoming.time_ms[-1])
        if self._tail is None:
            self._tail = self._before(first_ms)
        late = len(self._tail) > 0 and first_ms <= self._last_ms
        context = self._tail
        if first_ms < self._from_ms:
            context = self._load(first_ms - BACK_MS, last_ms + BACK_MS)
        merged = new_only(context, _without_own_repeats(incoming))
        new = _own_conflicts(merged.new)
        if len(new):
            if late or not self._calm(new):
                new = new.with_flags(_flags(context, new, self._kind, self._moves))
            new = self._stand_still(new)
            self._remember(new, last_ms)
        return new, len(incoming) - len(new)

    def _before(self, first_ms: int) -> Readings:
        """Read what came shortly before, or the last that came at all: there may be a gap."""
        self._from_ms = first_ms - BACK_MS
        found = self._load(self._from_ms, None)
        if len(found) and int(found.time_ms[0]) < first_ms:
            return found
        earlier = self._load(None, first_ms)
        earlier = earlier.take(slice(max(0, len(earlier) - LAST_MANY), None))
        if not len(earlier):
            return found
        self._from_ms = int(earlier.time_ms[0])
        return self._load(self._from_ms, None)

    @property
    def _last_ms(self) -> int:
        tail = self._tail
        return int(tail.time_ms[-1]) if tail is not None and len(tail) else 0

    def _calm(self, new: Readings) -> bool:
        """Tell whether nothing can be wrong: no step, no slow fall, no gap, no odd value."""
        tail = self._tail
        if tail is None or not len(tail) or not bool(tail.believed[-1]):
            return False
        if (new.flags != 0).any() or (new.raw == 0).any():
            return False
        times = np.concatenate([tail.time_ms[-1:], new.time_ms])
        if int(np.diff(times).max()) > GAP_AT_LEAST_S * 1000:
            return False
        since = int(np.searchsorted(tail.time_ms, new.time_ms[0] - CALM_MS))
        before = tail.take(slice(min(since, len(tail) - 1), None))
        values = np.concatenate([before.value_c[before.believed], new.value_c])
        low, high = float(values.min()), float(values.max())
        return high - low <= LIMITS[self._kind].step_k and low > COLDEST_C and high < HOTTEST_C

    def _stand_still(self, new: Readings) -> Readings:
        """Flag what has not moved for longer than is honest; seldom looked at, as it is costly."""
        tail = self._tail
        assert tail is not None
        values = np.concatenate([tail.value_c, new.value_c])
        if values.size < STILL_READINGS or float(np.ptp(values)) > 1e-6:
            self._stuck, self._looked_ms = False, None
            return new
        now_ms = int(new.time_ms[-1])
        if not self._stuck and (
            self._looked_ms is None or now_ms - self._looked_ms >= LOOK_EVERY_MS
        ):
            self._looked_ms = now_ms
            whole = self._load(None, None)
            long = len(whole) and now_ms - int(whole.time_ms[0]) > STILL[self._kind].least_s * 1000
            if long:
                flags = _flags(whole, new, self._kind, self._moves)
                self._stuck = bool(flags[-1] & int(Flag.STUCK))
        if not self._stuck:
            return new
        return new.with_flags(np.full(len(new), int(Flag.STUCK), dtype=np.uint8))

    def _remember(self, new: Readings, last_ms: int) -> None:
        assert self._tail is not None
        keep_ms = max(self._last_ms, last_ms) - BACK_MS
        fresh = new.take(new.time_ms >= self._from_ms)
        tail = Readings.joined([_in_unit(self._tail, new.unit), fresh])
        if tail.time_ms.size and int(tail.time_ms[0]) < keep_ms - BACK_MS:
            # Cut seldom: twice the room is cheaper than a copy for each reading.
            tail = tail.between(keep_ms, np.iinfo(np.int64).max)
            self._from_ms = keep_ms
        self._tail = tail


def flags_of_whole(readings: Readings, probe: str, stays: Sequence[Placement]) -> Readings:
    """Return readings flagged as those of a file are, all of them being known."""
    plain = _unjudged(readings)
    return plain.with_flags(flag_readings(plain, kind_of(probe, stays), moves_of(probe, stays)))


def _flags(
    context: Readings, new: Readings, kind: ProbeKind, moves: NDArray[np.int64] | None
) -> NDArray[np.uint8]:
    # What was flagged before is judged anew: else a probe that was moved would never be believed.
    there = _unjudged(_in_unit(context, new.unit))
    marked = new.with_flags(np.full(len(new), _NEW))
    joined = Readings.joined([there, marked])
    flags = flag_readings(joined, kind, moves)
    return np.asarray(flags[(joined.flags & _NEW) != 0])


def _unjudged(readings: Readings) -> Readings:
    """Return readings with those flags only that no judging of ours set."""
    flags = readings.flags & np.uint8(_KEPT)
    return Readings(readings.time_ms, readings.raw, readings.decimals, readings.unit, flags)


def _in_unit(readings: Readings, unit: ReadingUnit) -> Readings:
    """Return readings in a unit; for comparing only, since converted values are rounded."""
    if readings.unit == unit:
        return readings
    value = readings.value_c
    value = value * 1.8 + 32.0 if unit == "degF" else value + 273.15 if unit == "K" else value
    raw = np.rint(value * 1e6).astype(np.int64)
    return Readings(readings.time_ms, raw, 6, unit, readings.flags)


def _without_own_repeats(incoming: Readings) -> Readings:
    said = np.stack([incoming.time_ms, incoming.raw])
    _, first = np.unique(said, axis=1, return_index=True)
    return incoming if first.size == len(incoming) else incoming.take(np.sort(first))


def _own_conflicts(new: Readings) -> Readings:
    """Mark what says something else than an earlier reading of the same time beside it."""
    if len(new) < 2:
        return new
    flags = np.zeros(len(new), dtype=np.uint8)
    flags[1:][np.diff(new.time_ms) == 0] = _KEPT
    return new.with_flags(flags)
