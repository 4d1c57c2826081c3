"""A measure's numbers as the model takes them, and its answers as the measure says them.

Times are compared as natural logarithms, because a longer cook also spreads more; everything else
is compared as it is.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.trial.question import TIMES, Measure

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Scaling:
    """From the measure's own size to the model's and back.

    ``middle`` is the geometric mean of the responses (s) where times are compared as logarithms,
    None where the model works in the measure's own size.
    """

    middle: float | None

    def values(self, values: FloatArray) -> FloatArray:
        """Return responses (n,) as the model takes them."""
        return values if self.middle is None else np.asarray(np.log(values), dtype=np.float64)

    def covariance(self, values: FloatArray, cov: FloatArray) -> FloatArray:
        """Return the covariance of measuring (n, n) as the model takes it, to first order."""
        if self.middle is None:
            return cov
        inverse = np.where(np.isnan(values), 0.0, 1 / np.where(np.isnan(values), 1.0, values))
        return np.asarray(cov * np.outer(inverse, inverse), dtype=np.float64)

    def difference_in(self, difference: float) -> float:
        """Return a difference of the measure's own size as the model's.

        Two times whose geometric mean is the middle m differ by 2 m sinh(d/2) when their logs
        differ by d: the same way there and back, and the same for either sign.
        """
        if self.middle is None:
            return difference
        return 2 * math.asinh(difference / (2 * self.middle))

    def difference_out(self, difference: float) -> float:
        """Return a difference of the model's as one of the measure's own size."""
        if self.middle is None:
            return difference
        return 2 * self.middle * math.sinh(difference / 2)


def scaling_for(measure: Measure, values: FloatArray) -> Scaling:
    """Choose the scaling for a measure from its responses (n,), NaN where missing."""
    if measure.kind not in TIMES:
        return Scaling(None)
    return Scaling(float(np.exp(np.nanmean(np.log(values)))))
