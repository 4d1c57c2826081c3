"""Where a formula holds, and what happens outside: an error, or a flag, never silence."""

import warnings
from dataclasses import dataclass
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fairsmoke.messages.errors import InputError

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

# For the bare formulas: a float inside compiled code, an array elsewhere.
Number = TypeVar("Number", float, FloatArray)

OnRange = Literal["error", "flag"]


class PhysicsRangeError(InputError):
    """A value lies where no source of the formula reaches; the message says where it holds."""


class ExtrapolationWarning(UserWarning):
    """A formula was used outside the range of its source because the caller asked for that."""


@dataclass(frozen=True)
class Range:
    """The interval, ends included, in which a formula holds for one of its arguments.

    `source` says who gives the interval. Values that are not numbers (NaN) are never inside.
    """

    what: str
    unit: str
    low: float
    high: float
    source: str

    def holds(self, value: ArrayLike) -> BoolArray:
        """Return, element by element, whether `value` is inside."""
        array = np.asarray(value, dtype=np.float64)
        return np.asarray((array >= self.low) & (array <= self.high))

    def check(self, value: ArrayLike, on_range: OnRange = "error") -> FloatArray:
        """Return `value` as an array of floats once it is known to be inside.

        Outside: with on_range="error" raises PhysicsRangeError; with "flag" warns with
        ExtrapolationWarning and lets the value through. NaN and infinity always raise.
        """
        array = np.asarray(value, dtype=np.float64)
        if self.holds(array).all():
            return array
        if on_range not in ("error", "flag"):
            raise ValueError(f'on_range is "{on_range}". Write "error" or "flag".')
        message = self._message(array)
        if on_range == "error" or not np.isfinite(array).all():
            raise PhysicsRangeError(message)
        warnings.warn(message, ExtrapolationWarning, stacklevel=3)
        return array

    def _message(self, array: FloatArray) -> str:
        outside = array[~self.holds(array)]
        more = f" and {outside.size - 1} more" if outside.size > 1 else ""
        return (
            f"{self.what}: {outside.flat[0]:g} {self.unit}{more} is outside "
            f"{self.low:g} to {self.high:g} {self.unit} ({self.source}). "
            f'Give a value inside, or on_range="flag" where extrapolating is meant.'
        )


def paired_readings(
    time_s: ArrayLike, values: ArrayLike, what: str
) -> tuple[FloatArray, FloatArray]:
    """Return the times and values of one record as arrays.

    Both must be one-dimensional, finite, equally long, at least two long, with times that rise.
    Raises PhysicsRangeError that says which of these fails.
    """
    time = np.asarray(time_s, dtype=np.float64)
    array = np.asarray(values, dtype=np.float64)
    if time.ndim != 1 or array.shape != time.shape or time.size < 2:
        raise PhysicsRangeError(
            f"{what}: {time.shape} times and {array.shape} values. "
            "Give two lists of the same length with two readings or more."
        )
    if not (np.isfinite(time).all() and np.isfinite(array).all()):
        raise PhysicsRangeError(f"{what}: not all readings are numbers. Leave those out.")
    if not (np.diff(time) > 0).all():
        raise PhysicsRangeError(f"{what}: the times do not rise. Sort them and drop repeats.")
    return time, array
