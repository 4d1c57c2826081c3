"""What is assumed of scales and figures whose uncertainty nobody stated: more than most have.

A nought in a record means that it was not said, for no scale and no figure is without error. The
ledger is solved, and figures are compared, with what stands here instead, and a remark says so.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.remark import Caveat, CaveatKind
from fairsmoke.trial.question import Measure, MeasureKind
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Scale

FloatArray = NDArray[np.float64]

# Scales of class III: up to so many steps of load, an error of so many steps at verification, and
# twice that in service. Source: OIML R 76-1 table 6, references/stats.md [R76]; that repeated
# weighings may differ by as much is from memory (R 76-1, 3.6.1).
_VERIFIED_STEPS = ((500.0, 0.5), (2_000.0, 1.0), (10_000.0, 1.5))
_IN_SERVICE = 2.0
_RANGE_OF_TEN = 3.08
"""Mean range of ten normal values in standard deviations: Tippett 1925, from memory."""

FIGURE_SHARE = 0.7
"""Sd of a figure's error in spreads between pieces, where nobody states it.

Shear force has a repeatability of .67 to .87 (J. Anim. Sci. 75:2423), so up to half as much
variance in measuring as between pieces; taken for every figure.
"""


def greatest_error_kg(load_kg: float, step_kg: float) -> float:
    """Return the error that a scale in service may have at a load, by its step.

    Beyond the 10,000 steps that its class ends with, the error grows with the load.

    >>> greatest_error_kg(4.0, 0.005)
    0.01
    """
    steps = load_kg / step_kg
    for most, error in _VERIFIED_STEPS:
        if steps <= most:
            return _IN_SERVICE * error * step_kg
    most, error = _VERIFIED_STEPS[-1]
    return _IN_SERVICE * error * step_kg * steps / most


@dataclass(frozen=True)
class ScalesAsJudged:
    """The scales of a record with what is assumed of them, and whose error was not stated."""

    scales: tuple[Scale, ...]
    unstated: tuple[str, ...]

    @property
    def remarks(self) -> tuple[Caveat, ...]:
        """What to say of it."""
        named = Caveat(CaveatKind.SCALE_UNKNOWN, self.unstated)
        return (named,) if self.unstated else ()


def scales_as_judged(record: TrialRecord) -> ScalesAsJudged:
    """Return the scales, with an error and a repeatability where none was stated."""
    found, unstated = [], []
    for scale in record.scales:
        loads = [one.reading_kg for one in record.weighings if one.scale == scale.id]
        if not loads or (scale.max_error_kg and scale.repeatability_kg):
            found.append(scale)
            continue
        error = greatest_error_kg(max(loads), scale.resolution_kg)
        assumed = {
            "max_error_kg": scale.max_error_kg or error,
            "repeatability_kg": scale.repeatability_kg or error / _RANGE_OF_TEN,
        }
        found.append(scale.model_copy(update=assumed))
        unstated.append(scale.name)
    return ScalesAsJudged(tuple(found), tuple(unstated))


def figure_variances(record: TrialRecord, measure: Measure, spread: float) -> FloatArray:
    """Return what figures without a stated uncertainty add to each unit's variance, (n,).

    ``spread`` is the middle one between pieces, in the measure's size.
    """
    found = np.zeros(len(record.units))
    if measure.kind is not MeasureKind.MEASURED:
        return found
    for at, piece in enumerate(record.units):
        own = [f for f in record.figures if (f.piece, f.measure) == (piece.id, measure.id)]
        bare = sum(not figure.uncertainty for figure in own)
        if own:
            found[at] = bare * (FIGURE_SHARE * spread / len(own)) ** 2
    return found


def figure_remarks(variances: FloatArray) -> Iterator[Caveat]:
    """Yield the remark that figures came without an uncertainty."""
    if np.any(variances > 0.0):
        yield Caveat(CaveatKind.FIGURE_UNKNOWN, (), (math.sqrt(float(variances.max())),))
