"""Readings: what one probe showed over time, kept exactly as the logger wrote it.

A value is held as a whole number of the last digit written, with its unit, so that nothing is
changed by keeping it; °C comes out on demand. What is wrong with a reading is a flag beside it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntFlag
from typing import Literal, Self

import numpy as np
from numpy.typing import NDArray

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_

ReadingUnit = Literal["degC", "degF", "K"]
"""The unit that the logger wrote."""

MAX_DECIMALS = 9


class Flag(IntFlag):
    """What is noteworthy about a reading. Flagged readings are kept; see ``NOT_BELIEVED``."""

    GAP_BEFORE = 1
    """Nothing was recorded for much longer than usual before it."""
    STUCK = 2
    """The value has not moved for so long that the probe or logger must be frozen."""
    OPEN_PROBE = 4
    """A value that loggers write for a probe that is unplugged or broken."""
    JUMP = 8
    """Further from its neighbours than meat or air can move in the time."""
    CONFLICT = 16
    """Another reading of the same probe at the same time said something else, earlier."""
    CLOCK_STEP = 32
    """The logger's clock went backwards before it."""
    LEFT_OUT = 64
    """Left out by a person, with a reason, in the record's exclusions."""


NOT_BELIEVED = Flag.STUCK | Flag.OPEN_PROBE | Flag.JUMP | Flag.CONFLICT | Flag.LEFT_OUT
"""Readings with any of these flags are left out of every computation."""


@dataclass(frozen=True, eq=False)
class Readings:
    """The readings of one probe, in order of time.

    ``time_ms``  (n,) int64, milliseconds since 1970 UTC, never decreasing
    ``raw``      (n,) int64, the value in units of 10**-decimals of ``unit``
    ``flags``    (n,) uint8, of ``Flag``
    Raises ValueError when shapes differ, times decrease or decimals are out of 0 to 9.
    """

    time_ms: NDArray[np.int64]
    raw: NDArray[np.int64]
    decimals: int
    unit: ReadingUnit
    flags: NDArray[np.uint8]

    def __post_init__(self) -> None:
        if not (self.time_ms.shape == self.raw.shape == self.flags.shape and self.raw.ndim == 1):
            raise InputError(N_("times, values and flags of readings must have the same length"))
        if self.time_ms.size > 1 and bool(np.any(np.diff(self.time_ms) < 0)):
            raise InputError(N_("readings must be in order of time"))
        if not 0 <= self.decimals <= MAX_DECIMALS:
            raise InputError(
                N_(
                    "readings carry 0 to %(max_decimals)s decimals, not %(decimals)s",
                    max_decimals=MAX_DECIMALS,
                    decimals=self.decimals,
                )
            )

    def __len__(self) -> int:
        return int(self.time_ms.size)

    @property
    def value(self) -> NDArray[np.float64]:
        """Values as written, in the logger's own unit."""
        # Dividing by an exact power of ten gives the float nearest to the decimal as written.
        return np.asarray(self.raw / 10.0**self.decimals, dtype=np.float64)

    @property
    def value_c(self) -> NDArray[np.float64]:
        """Values in °C."""
        if self.unit == "degF":
            return (self.value - 32.0) / 1.8
        return self.value - 273.15 if self.unit == "K" else self.value

    @property
    def digit_k(self) -> float:
        """How much one unit of the last digit is, in kelvin."""
        return (1 / 1.8 if self.unit == "degF" else 1.0) / 10.0**self.decimals

    @property
    def believed(self) -> NDArray[np.bool_]:
        """Mask of the readings that computations may use."""
        return np.asarray((self.flags & int(NOT_BELIEVED)) == 0, dtype=np.bool_)

    def between(self, start_ms: int, end_ms: int) -> Self:
        """Return the readings with start_ms <= time < end_ms."""
        low, high = np.searchsorted(self.time_ms, [start_ms, end_ms], side="left")
        return self.take(slice(int(low), int(high)))

    def take(self, which: slice | NDArray[np.bool_] | NDArray[np.intp]) -> Self:
        """Return those readings, in the same order."""
        return type(self)(
            self.time_ms[which], self.raw[which], self.decimals, self.unit, self.flags[which]
        )

    def with_flags(self, flags: NDArray[np.uint8]) -> Self:
        """Return the same readings with these flags added to theirs."""
        return type(self)(self.time_ms, self.raw, self.decimals, self.unit, self.flags | flags)

    def with_decimals(self, decimals: int) -> Self:
        """Return the same values written with more decimals.

        Raises ValueError when that would lose digits.
        """
        if decimals < self.decimals:
            raise InputError(N_("writing readings with fewer decimals would lose digits"))
        scale = 10 ** (decimals - self.decimals)
        return type(self)(self.time_ms, self.raw * scale, decimals, self.unit, self.flags)

    def same_as(self, other: "Readings") -> bool:
        """Tell whether every time, value, unit and flag is identical."""
        return (
            self.decimals == other.decimals
            and self.unit == other.unit
            and np.array_equal(self.time_ms, other.time_ms)
            and np.array_equal(self.raw, other.raw)
            and np.array_equal(self.flags, other.flags)
        )

    @classmethod
    def none(cls, unit: ReadingUnit = "degC") -> Self:
        """Return no readings at all."""
        nothing = np.empty(0, dtype=np.int64)
        return cls(nothing, nothing.copy(), 0, unit, np.empty(0, dtype=np.uint8))

    @classmethod
    def joined(cls, parts: Sequence["Readings"]) -> Self:
        """Put readings of one probe in one order of time (stable); units must agree.

        Raises ValueError when the parts are in different units.
        """
        if not parts:
            return cls.none()
        if len({part.unit for part in parts}) > 1:
            raise InputError(N_("readings in different units cannot be joined; keep them apart"))
        decimals = max(part.decimals for part in parts)
        scaled = [part.with_decimals(decimals) for part in parts]
        time_ms = np.concatenate([part.time_ms for part in scaled])
        order = np.argsort(time_ms, kind="stable")
        raw = np.concatenate([part.raw for part in scaled])
        flags = np.concatenate([part.flags for part in scaled])
        return cls(time_ms[order], raw[order], decimals, parts[0].unit, flags[order])
