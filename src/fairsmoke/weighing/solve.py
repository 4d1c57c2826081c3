"""Solves one group of weighings that hang together: adjusts, looks for contradictions, draws.

Plain arrays: m observations of f free masses, c sums that cannot be negative, M draws.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.weighing.adjust import (
    TINY,
    Adjustment,
    Conflict,
    adjust,
    conflicts,
    null_space,
)
from fairsmoke.weighing.common_errors import GroupErrors
from fairsmoke.weighing.draws import Demands, draw_errors, draw_masses
from fairsmoke.weighing.possible import (
    FeasibilityMisfit,
    FeasibleRegion,
    least_stretch,
    possible_range,
    regions,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

# Own choice: rare enough that thirty checks in a trial raise no false alarm, and still any
# disagreement above 2.3 steps of a scale shows.
CONFLICT_LEVEL = 0.001
ALL_OF_REACH = 1.001
"""Errors within their limits reach 1; a little more is the rounding of sums and solvers."""
# A fitted sum this far below 0 is rounding of the least-squares answer.
_ROUNDING_KG = 1e-12


@dataclass(frozen=True, eq=False)
class Equations:
    """The equations of one group, in kg.

    ``design``   (m, f): 1 where a mass lies in the sum of an observation
    ``value``, ``uncertainty``  (m,), ``reach`` (m, 2) the lowest and highest error of each
    ``weighed``  (m,) True for weighings and False for estimates
    ``sums``     (c, f): sums that cannot be negative
    """

    design: FloatArray
    value: FloatArray
    uncertainty: FloatArray
    reach: FloatArray
    weighed: NDArray[np.bool_]
    sums: FloatArray


@dataclass(frozen=True, eq=False)
class Group:
    """Where a group stands in the whole: which of its free masses, observations and sums it has."""

    masses: IntArray
    observations: IntArray
    sums: IntArray
    equations: Equations


@dataclass(frozen=True, eq=False)
class SolvedEquations:
    """What the equations say before anything is drawn.

    ``widen``       (m,) by how much contradictions widen the error of each observation
    ``stretch``     whether all sums can be possible at once; None where nothing is in doubt
    ``short``       (c,) how far each sum that nothing open can help falls below what errors explain
    ``open_ways``   (f, k) what stays open, ``open_if_not_estimated`` (f, k') without the estimates
    """

    adjustment: Adjustment
    conflicts: list[Conflict]
    widen: FloatArray
    stretch: FeasibilityMisfit | None
    short: FloatArray
    open_if_not_estimated: FloatArray

    @property
    def open_ways(self) -> FloatArray:
        """What stays open (f, k)."""
        return self.adjustment.open_ways


def solve(equations: Equations) -> SolvedEquations:
    """Adjust the observations and test whether they can all be true."""
    adjustment = adjust(equations.design, equations.value, equations.uncertainty)
    found = conflicts(adjustment, equations.uncertainty, CONFLICT_LEVEL)
    widen = np.ones(equations.value.size)
    for conflict in found:
        widen[conflict.at] = conflict.stretch
    reach = equations.reach * widen[:, None]
    nominal = equations.sums @ adjustment.best
    slope = equations.sums @ adjustment.gain
    furthest = np.maximum(slope * reach[:, 0], slope * reach[:, 1]).sum(axis=1)
    held = _held(equations.sums, adjustment.open_ways)
    doubt = bool(np.any(nominal[held] < -_ROUNDING_KG)) or adjustment.open_ways.shape[1] > 0
    return SolvedEquations(
        adjustment=adjustment,
        conflicts=found,
        widen=widen,
        stretch=least_stretch(
            equations.design, equations.design @ adjustment.best, reach, equations.sums
        )
        if doubt
        else None,
        short=np.where(held, np.maximum(-nominal - ALL_OF_REACH * furthest, 0.0), 0.0),
        open_if_not_estimated=null_space(equations.design[equations.weighed])[1],
    )


def _held(sums: FloatArray, open_ways: FloatArray) -> NDArray[np.bool_]:
    return np.asarray(np.all(np.abs(sums @ open_ways) <= TINY, axis=1))


@dataclass(frozen=True, eq=False)
class Drawn:
    """Masses (f, M) drawn, in kg.

    ``possible_share``  the share of columns for which possible errors were found
    ``ranges``          (f, 2) what each open mass can be; NaN for the rest
    ``regions``         which masses are open together
    """

    masses: FloatArray
    possible_share: float
    ranges: FloatArray
    regions: list[FeasibleRegion]


def draw(
    equations: Equations,
    answer: SolvedEquations,
    unknowns: GroupErrors,
    size: int,
    rng: np.random.Generator,
) -> Drawn:
    """Draw masses; columns that stay impossible are replaced by copies of possible ones.

    ``unknowns`` make up the errors of the observations, not yet widened. With no possible column
    at all the masses are empty.
    """
    best, gain = answer.adjustment.best, answer.adjustment.gain
    sums, open_ways = equations.sums, answer.open_ways
    ranges = np.full((best.size, 2), np.nan)
    found: list[FeasibleRegion] = []
    if answer.stretch is not None and open_ways.shape[1]:
        for at in np.flatnonzero(np.any(np.abs(open_ways) > TINY, axis=1)):
            ranges[at] = range_of(np.eye(best.size)[at], equations, answer)
        best = best + open_ways @ (open_ways.T @ (answer.stretch.masses - best))
        found = regions(open_ways, sums, best, ranges)
    demands = _demands(sums, best, gain, _held(sums, open_ways), found)
    demands = demands.within(equations.reach * answer.widen[:, None])
    loading = answer.widen[:, None] * unknowns.loading
    of_unknowns = Demands(demands.nominal, demands.slope @ loading)
    drawn, met = draw_errors(unknowns.laws, of_unknowns, size, rng, unknowns.start)
    errors = loading @ drawn
    good = np.flatnonzero(met)
    if 0 < good.size < size:
        errors[:, ~met] = errors[:, rng.choice(good, size - good.size)]
    if not good.size:
        errors = errors[:, :0]
    masses = draw_masses(best, gain, errors, sums, found, rng)
    return Drawn(masses, good.size / size, ranges, found)


def range_of(row: FloatArray, equations: Equations, answer: SolvedEquations) -> tuple[float, float]:
    """Return the least and greatest value of row (f,) @ masses that the observations allow, kg.

    Observations bend by their errors only as far as they must for anything to be possible.
    """
    share = answer.stretch.share if answer.stretch else 0.0
    slack = equations.reach * answer.widen[:, None] * share * (1 + 1e-6)
    fitted = equations.design @ answer.adjustment.best
    return possible_range(row, equations.design, fitted, slack, equations.sums)


def _demands(
    sums: FloatArray,
    best: FloatArray,
    gain: FloatArray,
    held: NDArray[np.bool_],
    found: Sequence[FeasibleRegion],
) -> Demands:
    parts = [region.demands(len(sums)) for region in found]
    rows = np.concatenate([np.eye(len(sums))[held], *(rows for _, rows in parts)])
    offset = np.concatenate([np.zeros(int(held.sum())), *(offset for offset, _ in parts)])
    return Demands(offset + rows @ (sums @ best), rows @ sums @ gain)
