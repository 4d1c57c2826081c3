"""One-way analysis of variance that keeps its digits."""

import math
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray

from fairsmoke.judging.errors import ComparisonError

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class OneWayAnova:
    """How the spread of a response splits between and within groups.

    Sums of squares and mean squares are in the response's unit squared. `f_ratio` and `p` are None
    when there is no spread within the groups to judge the spread between them by.
    """

    between_df: int
    between_ss: float
    between_ms: float
    within_df: int
    within_ss: float
    within_ms: float
    f_ratio: float | None
    p: float | None
    r_squared: float | None
    residual_sd: float


def one_way_anova(response: ArrayLike, groups: ArrayLike) -> OneWayAnova:
    """Split the spread of `response` (n,) between and within the groups labelled by `groups` (n,).

    Every value is first measured from the first one. For values that share many leading digits
    that subtraction is exact in floating point, so nothing is lost to the size of the offset;
    the squares are then summed about their means, every sum correctly rounded.

    Raises ComparisonError for fewer than two groups, for no group with two values, for values that
    are not finite and for lengths that differ.
    """
    values, labels = _checked(response, groups)
    moved = values - values[0]
    parts = [moved[labels == label] for label in np.unique(labels)]
    grand = math.fsum(moved) / len(moved)
    within_ss = math.fsum(_centred_square_sum(part) for part in parts)
    between_ss = math.fsum(len(part) * (_mean(part) - grand) ** 2 for part in parts)
    between_df, within_df = len(parts) - 1, len(values) - len(parts)
    between_ms, within_ms = between_ss / between_df, within_ss / within_df
    f_ratio = between_ms / within_ms if within_ms > 0 else None
    total = between_ss + within_ss
    return OneWayAnova(
        between_df=between_df,
        between_ss=between_ss,
        between_ms=between_ms,
        within_df=within_df,
        within_ss=within_ss,
        within_ms=within_ms,
        f_ratio=f_ratio,
        p=None if f_ratio is None else float(scipy.special.fdtrc(between_df, within_df, f_ratio)),
        r_squared=between_ss / total if total > 0 else None,
        residual_sd=math.sqrt(within_ms),
    )


def _checked(response: ArrayLike, groups: ArrayLike) -> tuple[FloatArray, NDArray[np.generic]]:
    values = np.asarray(response, dtype=np.float64)
    labels = np.asarray(groups)
    if values.ndim != 1 or values.shape != labels.shape:
        raise ComparisonError(
            f"response has shape {values.shape} and groups {labels.shape}: "
            "give one group label for each value."
        )
    if not np.all(np.isfinite(values)):
        row = int(np.flatnonzero(~np.isfinite(values))[0])
        raise ComparisonError(f"response row {row} is not a finite number: leave that row out.")
    count = len(np.unique(labels))
    if count < 2:
        raise ComparisonError("an analysis of variance needs at least two groups.")
    if len(values) == count:
        raise ComparisonError(
            "every group has a single value, so nothing shows the spread within a group: "
            "at least one group needs two values."
        )
    return values, labels


def _mean(values: FloatArray) -> float:
    return math.fsum(values) / len(values)


def _centred_square_sum(values: FloatArray) -> float:
    return math.fsum((values - _mean(values)) ** 2)
