"""Monte Carlo of a ledger (JCGM 101): scale errors drawn, masses solved, nothing below zero.

Plain arrays: m observations, f free masses, M draws.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from fairsmoke.weighing.possible import FeasibleRegion

FloatArray = NDArray[np.float64]
DrawErrors = Callable[[int, np.random.Generator], FloatArray]

# A tenth of a microgram: rounding, not a mass.
_ROUNDING_KG = 1e-10
_ROUNDS = 20
_SWEEPS = 60


@dataclass(frozen=True, eq=False)
class Demands:
    """What errors (m, M) must meet to be possible: nominal + slope @ errors >= 0, kg.

    ``nominal`` (n,), ``slope`` (n, m). Only demands that errors can break at all need to be here.
    """

    nominal: FloatArray
    slope: FloatArray

    def within(self, reach: FloatArray) -> "Demands":
        """Return those that errors within twice their ``reach`` (m, 2) can break."""
        worst = np.minimum(self.slope * reach[:, 0], self.slope * reach[:, 1]).sum(axis=1)
        can_break = self.nominal + 2 * worst < 0
        return Demands(self.nominal[can_break], self.slope[can_break])

    def met(self, errors: FloatArray) -> NDArray[np.bool_]:
        """Return a mask (M,) of the columns that meet them all."""
        left = self.nominal[:, None] + self.slope @ errors
        return np.asarray(np.all(left >= -_ROUNDING_KG, axis=0))


def draw_errors(
    laws: Sequence[DrawErrors],
    demands: Demands,
    size: int,
    rng: np.random.Generator,
    start: Mapping[int, FloatArray] = MappingProxyType({}),
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Draw errors (m, M) under which nothing is impossible, and a mask (M,) of those columns.

    ``start`` holds first draws (M,) of some errors, by number, that were made beforehand.
    Columns are drawn afresh until they are possible. Where that is rare (many parts near zero that
    share a tray) the rest walk: one error at a time is drawn anew and kept if the column stays
    possible, or comes nearer to it. Both have the law of the errors given that nothing is negative.
    Columns that are still impossible after that are False in the mask.
    """
    errors = np.stack([start[at] if at in start else law(size, rng) for at, law in enumerate(laws)])
    met = demands.met(errors)
    for _ in range(_ROUNDS):
        bad = np.flatnonzero(~met)
        if not bad.size:
            return errors, met
        errors[:, bad] = np.stack([law(bad.size, rng) for law in laws])
        met[bad] = demands.met(errors[:, bad])
    bad = np.flatnonzero(~met)
    if bad.size:
        errors[:, bad] = _walk(laws, demands, errors[:, bad], rng)
        met[bad] = demands.met(errors[:, bad])
    return errors, met


def _walk(
    laws: Sequence[DrawErrors], demands: Demands, errors: FloatArray, rng: np.random.Generator
) -> FloatArray:
    left = demands.nominal[:, None] + demands.slope @ errors
    touched = [np.flatnonzero(column) for column in demands.slope.T]
    for _ in range(_SWEEPS):
        for at, (law, rows) in enumerate(zip(laws, touched, strict=True)):
            proposed = law(errors.shape[1], rng)
            change = demands.slope[rows, at][:, None] * (proposed - errors[at])
            before = np.maximum(-left[rows], 0.0).sum(axis=0)
            after = np.maximum(-left[rows] - change, 0.0).sum(axis=0)
            keep = (after == 0) | (after < before)
            errors[at] = np.where(keep, proposed, errors[at])
            left[rows] += np.where(keep, change, 0.0)
    return errors


def draw_masses(
    best: FloatArray,
    gain: FloatArray,
    errors: FloatArray,
    sums: FloatArray,
    regions: Sequence[FeasibleRegion],
    rng: np.random.Generator,
) -> FloatArray:
    """Return masses (f, M) for errors (m, M), what is left open drawn evenly from the possible.

    ``best`` (f,) is the answer without errors, ``gain`` (f, m) its change with each, ``sums``
    (c, f) the sums that cannot be negative.
    """
    masses = best[:, None] + gain @ errors
    slack = sums @ masses
    for region in regions:
        masses += region.ways @ region.draw(slack, rng)
    return masses
