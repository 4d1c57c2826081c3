"""Find where a probe left what it measured and came back: it fell out, was touched, or spiked.

The rule, for the readings of one probe in order of time:

1. The series is cut wherever it moves further than ``step_k + slew_k_per_min * minutes``, after
   the first ten minutes of a gap ``drift_k_per_min`` instead. For a noisy probe ``step_k`` is
   raised to ``NOISE_STEPS`` times the spread of its steps, but at most to three times itself.
2. From the last piece that is believed, the first later piece within ``longest_s`` is sought that
   begins where the believed one ended: within ``step_k`` of it, or, if that piece goes on
   for ``settled_s`` at least, within ``step_k + drift_k_per_min * minutes`` of it at once or
   after ``settling_s``. If the probe was away for longer than the two pieces last together, it was
   the other way round: a probe that lay in the room, was put into meat, and lay there again.
3. If there is one, everything between is an excursion, and, if it was longer than ``settling_s``,
   so is what within that time after the return is not yet within 1 K of where the probe settles.
4. If there is none, the step was real, as when a probe is moved to another piece of meat: the next
   piece that goes on for ``settled_s`` is believed from its second reading on. Its first reading
   marks the step, and the short pieces between are on the way and not believed. Nor is what came
   before, if that was only a short piece at the very start.

A logger that writes every second shows a fall spread over many small steps, so the rule is applied
a second time to the medians of whole minutes.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

FAST_SAMPLING_S = 20.0
BIN_S = 60.0
FAST_MINUTES = 10.0
SETTLED_WITHIN_K = 1.0
PIECES_AT_ONCE = 64
NOISE_STEPS = 4.25
"""Only one step of normal noise in 50,000 is longer than so many standard deviations."""
MEDIAN_OF_NORMAL = 0.6745
"""The median of a standard normal's size (from memory)."""


@dataclass(frozen=True)
class ProbeLimits:
    """What a probe in its place can do; see the rule above."""

    step_k: float
    slew_k_per_min: float
    drift_k_per_min: float
    longest_s: float
    settled_s: float
    settling_s: float


def excursions(
    time_s: NDArray[np.float64], value_c: NDArray[np.float64], limits: ProbeLimits
) -> NDArray[np.bool_]:
    """Tell which readings (n,), in order of time, belong to an excursion or mark a real step."""
    away = _one_scale(time_s, value_c, limits)
    steps = np.diff(time_s)
    passing = steps[steps > 0]
    if passing.size == 0 or float(np.median(passing)) >= FAST_SAMPLING_S:
        return away
    kept = np.flatnonzero(~away)
    if kept.size == 0:
        return away
    bins = np.floor(time_s[kept] / BIN_S)
    begin = np.flatnonzero(np.concatenate([[True], np.diff(bins) != 0]))
    medians = _medians(value_c[kept], begin)
    far = _one_scale(time_s[kept[begin]], medians, limits)
    away[kept] |= np.repeat(far, np.diff(np.append(begin, kept.size)))
    return away


def step_noise_k(value_c: NDArray[np.float64]) -> float:
    """Return the standard deviation (K) of the steps between readings (n,) that noise makes.

    Taken from how the steps themselves change, so that a steady rise is not taken for noise, and
    from their median, so that spikes are not. 0 for fewer than three readings.
    """
    if value_c.size < 3:
        return 0.0
    turns = np.abs(np.diff(value_c, n=2))
    # A step differs from the next by three independent readings, weighted 1, -2, 1.
    return float(np.median(turns)) / MEDIAN_OF_NORMAL / math.sqrt(3.0)


def _medians(value: NDArray[np.float64], begin: NDArray[np.intp]) -> NDArray[np.float64]:
    """Return the lower median of each run of values; ``begin`` are the first indices."""
    run = np.zeros(value.size, dtype=np.int64)
    run[begin[1:]] = 1
    order = np.lexsort((value, np.cumsum(run)))
    length = np.diff(np.append(begin, value.size))
    return np.asarray(value[order][begin + (length - 1) // 2])


@dataclass(frozen=True, eq=False)
class _Pieces:
    """A series cut at its leaps: index of the first and last reading of each piece, (m,) each.

    ``settled`` tells which go on for long enough to be believed, ``next_settled`` the number of
    the first such piece from each on (m when there is none).
    """

    time_s: NDArray[np.float64]
    value_c: NDArray[np.float64]
    first: NDArray[np.intp]
    last: NDArray[np.intp]
    start_s: NDArray[np.float64]
    settled: NDArray[np.bool_]
    next_settled: NDArray[np.intp]

    def length_s(self, which: NDArray[np.intp]) -> NDArray[np.float64]:
        return self.time_s[self.last[which]] - self.start_s[which]


def _cut(time_s: NDArray[np.float64], value_c: NDArray[np.float64], limits: ProbeLimits) -> _Pieces:
    minutes = np.diff(time_s) / 60.0
    # Nothing moves at its fastest for long: after a gap the slower drift counts.
    fast = np.minimum(minutes, FAST_MINUTES)
    allowed = (
        limits.step_k + limits.slew_k_per_min * fast + limits.drift_k_per_min * (minutes - fast)
    )
    cuts = np.flatnonzero(np.abs(np.diff(value_c)) > allowed) + 1
    first = np.concatenate([[0], cuts]).astype(np.intp)
    last = np.concatenate([cuts, [time_s.size]]).astype(np.intp) - 1
    settled = time_s[last] - time_s[first] >= limits.settled_s
    number = np.where(settled, np.arange(first.size), first.size)
    next_settled = np.minimum.accumulate(number[::-1])[::-1].astype(np.intp)
    return _Pieces(time_s, value_c, first, last, time_s[first], settled, next_settled)


def _one_scale(
    time_s: NDArray[np.float64], value_c: NDArray[np.float64], limits: ProbeLimits
) -> NDArray[np.bool_]:
    away = np.zeros(time_s.size, dtype=np.bool_)
    if time_s.size < 2:
        return away
    noisy_k = NOISE_STEPS * step_noise_k(value_c)
    limits = replace(limits, step_k=float(np.clip(noisy_k, limits.step_k, 3 * limits.step_k)))
    pieces = _cut(time_s, value_c, limits)
    first, count = pieces.first, pieces.first.size
    base = 0
    while base < count - 1:
        back = _return(pieces, base, limits)
        if back is not None:
            away[first[base + 1] : first[back]] = True
            _settle(away, pieces, base + 1, back, limits)
            base = back
            continue
        if base == 0 and not pieces.settled[0]:
            away[: first[1]] = True
        following = int(pieces.next_settled[base + 1])
        end = int(first[following]) + 1 if following < count else time_s.size
        away[first[base + 1] : end] = True
        base = following
    return away


def _return(pieces: _Pieces, base: int, limits: ProbeLimits) -> int | None:
    """Return the piece in which the probe is back where the piece ``base`` ended, or None."""
    left = pieces.last[base]
    left_s, left_c = pieces.time_s[left], pieces.value_c[left]
    past = int(np.searchsorted(pieces.start_s, left_s + limits.longest_s, side="right"))
    # The next piece cannot be the return: it begins with the leap away.
    begin = base + 2
    while begin < past:
        which = np.arange(begin, min(begin + PIECES_AT_ONCE, past))
        apart_k = np.abs(pieces.value_c[pieces.first[which]] - left_c)
        later = np.searchsorted(pieces.time_s, pieces.start_s[which] + limits.settling_s)
        later = np.minimum(later, pieces.last[which])
        apart_later_k = np.minimum(apart_k, np.abs(pieces.value_c[later] - left_c))
        away_s = pieces.start_s[which] - left_s
        drifted = apart_later_k <= limits.step_k + limits.drift_k_per_min * away_s / 60.0
        back = (apart_k <= limits.step_k) | (pieces.settled[which] & drifted)
        home_s = left_s - pieces.start_s[base] + pieces.length_s(which)
        found = np.flatnonzero(back & ((away_s <= limits.settled_s) | (home_s >= away_s)))
        if found.size:
            return int(which[found[0]])
        begin += PIECES_AT_ONCE
    return None


def _settle(
    away: NDArray[np.bool_], pieces: _Pieces, left: int, back: int, limits: ProbeLimits
) -> None:
    """Mark the readings after a return in which the probe still comes to its temperature."""
    back_s, first, last = pieces.start_s[back], int(pieces.first[back]), int(pieces.last[back])
    if back_s - pieces.start_s[left] > limits.settling_s:
        until = min(int(np.searchsorted(pieces.time_s, back_s + limits.settling_s)), last)
        far_k = np.abs(pieces.value_c[first:until] - pieces.value_c[until])
        away[first:until] = far_k > SETTLED_WITHIN_K
