"""What one pair of pieces can tell, and what it cannot, in numbers."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special

from fairsmoke.judging.design import Layout
from fairsmoke.judging.model import compare
from fairsmoke.judging.priors import Priors

FloatArray = NDArray[np.float64]

FAR = 12.0
"""Differences are tried up to this many prior standard deviations; beyond, no pair settles."""


def alike_spread(priors: Priors, layout: Layout, chance: float) -> float:
    """Return what the difference of two pieces treated alike exceeds with that chance.

    The two pieces stand as in ``layout`` (a pair); the spreads between pieces and between the
    levels in which they differ are averaged over their priors. In the unit of the response.
    """
    nodes = np.asarray(special.ndtri((np.arange(4001) + 0.5) / 4001))
    variance = 2 * priors.piece.sd_at(nodes) ** 2
    for name, labels in layout.factors.items():
        if labels[0] != labels[1]:
            # Spreads of different factors are independent: their mean squares add.
            variance = variance + 2 * priors.group(name).mean_square()
    sd = np.sqrt(variance)

    def beyond(difference: float) -> float:
        return float(np.mean(2 * special.ndtr(-difference / sd))) - chance

    return float(optimize.brentq(beyond, 0.0, 50 * float(sd.mean())))


def least_settling(
    priors: Priors,
    layout: Layout,
    *,
    arm: str,
    base: str,
    worthwhile: float,
    sure: float,
    measurement_cov: FloatArray | None = None,
) -> float | None:
    """Return the smallest observed difference of one pair that would settle it, None if none does.

    Settled means better by the verdict's rule, worked out with the very model of the comparison.
    """
    middle = priors.mu_mean

    def short_of_sure(difference: float) -> float:
        half = np.where(layout.arm == layout.arm_index(arm), difference / 2, -difference / 2)
        found = compare(middle + half, layout, priors, measurement_cov=measurement_cov)
        return found.difference(arm, base).prob_greater(worthwhile) - sure

    return _first_crossing(short_of_sure, FAR * priors.difference_sd)


def _first_crossing(rising: Callable[[float], float], most: float) -> float | None:
    """Find where the function first becomes positive between 0 and ``most``."""
    if rising(0.0) >= 0:
        return 0.0
    steps = np.geomspace(most / 256, most, 9)
    for low, high in zip((0.0, *steps), steps, strict=False):
        if rising(float(high)) > 0:
            return float(optimize.brentq(rising, float(low), float(high), rtol=1e-4))
    return None


@dataclass(frozen=True)
class OnePair:
    """What one pair can tell: differences, in one size throughout.

    Two pieces treated alike differ by more than ``half`` half of the time and by more than
    ``rarely`` one time in twenty, as far as is known before the cook. ``settles`` is the smallest
    observed difference that would settle it; None when none would.
    """

    half: float
    rarely: float
    settles: float | None


def one_pair(
    priors: Priors,
    layout: Layout,
    *,
    arm: str,
    base: str,
    worthwhile: float,
    sure: float,
    measurement_cov: FloatArray | None = None,
) -> OnePair:
    """Work out what one pair, standing as in ``layout``, can tell; unit of the response."""
    return OnePair(
        half=alike_spread(priors, layout, 0.5),
        rarely=alike_spread(priors, layout, 0.05),
        settles=least_settling(
            priors,
            layout,
            arm=arm,
            base=base,
            worthwhile=worthwhile,
            sure=sure,
            measurement_cov=measurement_cov,
        ),
    )
