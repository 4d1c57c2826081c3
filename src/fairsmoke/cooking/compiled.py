"""The one way in which this package compiles its kernels."""

from collections.abc import Callable
from typing import TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., object])


def kernel(function: F) -> F:
    """Compile a function for arrays and numbers, keep the result on disk, let other threads run.

    Division by zero gives infinity as in NumPy: the checks for it would slow every cell.
    """
    compiled = njit(cache=True, nogil=True, error_model="numpy")(function)
    return cast("F", compiled)
