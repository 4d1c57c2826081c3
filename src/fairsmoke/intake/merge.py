"""Add a file to what is already there, so that the same reading is kept once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.trial.reading import Flag, Readings


@dataclass(frozen=True, eq=False)
class Merge:
    """What a file adds to the readings of a probe.

    ``new`` is to be added; ``repeated`` were there already; ``conflicting`` of the new ones
    say something else than a reading that was there at the same time, and carry CONFLICT.
    """

    new: Readings
    repeated: int
    conflicting: int


def new_only(existing: Readings, incoming: Readings) -> Merge:
    """Return which incoming readings of a probe are not among its existing ones.

    Two readings of one time are the same when their values are equal or, in different units,
    when both may be roundings of one temperature.
    """
    low = np.searchsorted(existing.time_ms, incoming.time_ms, side="left")
    high = np.searchsorted(existing.time_ms, incoming.time_ms, side="right")
    if existing.unit == incoming.unit:
        known = _same_value(existing, incoming)
    else:
        known = _same_temperature(existing, incoming, low, high)
    conflict = (high > low) & ~known
    flags = np.where(conflict, np.uint8(int(Flag.CONFLICT)), np.uint8(0))
    return Merge(
        new=incoming.with_flags(flags).take(~known),
        repeated=int(np.count_nonzero(known)),
        conflicting=int(np.count_nonzero(conflict)),
    )


def _same_value(existing: Readings, incoming: Readings) -> NDArray[np.bool_]:
    """Tell which incoming readings (n,) stand among the existing ones, digit for digit."""
    decimals = max(existing.decimals, incoming.decimals)
    old, new = existing.with_decimals(decimals), incoming.with_decimals(decimals)
    time = np.concatenate([old.time_ms, new.time_ms])
    raw = np.concatenate([old.raw, new.raw])
    is_new = np.arange(time.size) >= len(old)
    order = np.lexsort((is_new, raw, time))
    begins = np.ones(time.size, dtype=np.bool_)
    begins[1:] = (np.diff(time[order]) != 0) | (np.diff(raw[order]) != 0)
    # Within each group of equals the existing ones come first.
    first_is_old = ~is_new[order][begins]
    known = np.empty(time.size, dtype=np.bool_)
    known[order] = first_is_old[np.cumsum(begins) - 1]
    return known[len(old) :]


def _same_temperature(
    existing: Readings, incoming: Readings, low: NDArray[np.intp], high: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Tell which incoming readings (n,) round to what an existing one of their time rounds to.

    ``low`` to ``high`` (n,) are the existing readings of the same time.
    """
    known = np.zeros(len(incoming), dtype=np.bool_)
    old_c, new_c = existing.value_c, incoming.value_c
    # Each is off by at most half of its last digit; the last term is for the arithmetic.
    apart = (existing.digit_k + incoming.digit_k) / 2 + 1e-9
    for nth in range(int((high - low).max(initial=0))):
        which = np.flatnonzero(low + nth < high)
        known[which] |= np.abs(old_c[low[which] + nth] - new_c[which]) <= apart
    return known
