"""The hierarchical fit: constants that all cooks share, and what each cook leaves open, at once.

Every datum (a core at a time, a time to a core, a loss) depends on the constants and on its own
cook's unknowns. Both have a normal prior; the most probable values of all of them together are
found by scipy's least squares, and the curvature there (Laplace) is the posterior of the constants
with the cooks' unknowns integrated out.
"""

import math
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import norm

from fairsmoke.cooking.body import BodyError
from fairsmoke.cooking.constants import Constants
from fairsmoke.cooking.experiments import Case, MeasuredOutcome
from fairsmoke.cooking.experiments.curves import LoggedCurve
from fairsmoke.cooking.logged_cooks import NAMES as OPEN_NAMES
from fairsmoke.cooking.logged_cooks import Between, core_curve
from fairsmoke.cooking.rerun import CONVECTION, PLATE, bone_share, measures, run_experiment
from fairsmoke.cooking.run import ProtocolError
from fairsmoke.physics.ranges import FloatArray

READING_K, TIME_SHARE, LOSS_SHARE = 2.5, 0.12, 0.02
"""What a datum may be off besides what its cook leaves open (one standard deviation): a probe and
what the model leaves over (K), a time to the half hour (of its logarithm), a loss (share)."""

_CANNOT_BE_COOKED = 5.0
_STEP = 0.05
CASE_CONVECTION, CASE_PLATE_K = 0.4, 15.0
"""How far convection (of its logarithm) and plate (K) of a published cook lie from the middle."""


@dataclass(frozen=True)
class Datum:
    """The numbers of one cook: how many unknowns it has, and its residuals in standard deviations.

    `residuals(constants, unknowns)` takes the unknowns in standard deviations.
    """

    key: str
    source: str
    unknowns: tuple[str, ...]
    count: int
    residuals: Callable[[Constants, FloatArray], FloatArray] = field(repr=False)


def curve_datum(curve: LoggedCurve, between: Between) -> Datum:
    """Return the datum of a logged core curve."""

    def residuals(constants: Constants, unknowns: FloatArray) -> FloatArray:
        try:
            model = core_curve(constants, curve, unknowns, between)
        except (ProtocolError, BodyError):
            return np.full(len(curve.core_c), _CANNOT_BE_COOKED)
        off = (model - np.array(curve.core_c)) / READING_K
        return np.where(np.isfinite(off), off, _CANNOT_BE_COOKED)

    return Datum(curve.key, curve.source, OPEN_NAMES, len(curve.core_c), residuals)


def case_datum(source: str, case: Case, outcome: MeasuredOutcome) -> Datum:
    """Return the datum of one printed time or loss: its unknowns are what the case leaves open."""
    gaps = {gap.field: gap for gap in case.assumed}
    air = case.heating.medium in ("air", "smoke")
    names = (*gaps, *((CONVECTION, PLATE) if air else ()))
    timed = outcome.measure.endswith("_s")
    # In a bath nothing evaporates: losses do not hang on edges, one column has them.
    whole_body = air and not timed

    def residuals(constants: Constants, unknowns: FloatArray) -> FloatArray:
        drawn = dict(zip(names, unknowns, strict=True))
        for name, gap in gaps.items():
            drawn[name] = gap.low + float(norm.cdf(drawn[name])) * (gap.high - gap.low)
        if air:
            drawn[CONVECTION] = math.exp(CASE_CONVECTION * drawn[CONVECTION])
            drawn[PLATE] = CASE_PLATE_K * drawn[PLATE]
        try:
            cooked = run_experiment(constants, case, drawn, whole_body=whole_body)
        except (ProtocolError, BodyError, ValueError):
            return np.array([_CANNOT_BE_COOKED])
        model = measures(cooked, case, bone_share(case, drawn))[outcome.measure]
        if timed:
            off = math.log(max(model, 60.0) / outcome.value) / TIME_SHARE
        else:
            off = (model - outcome.value) / LOSS_SHARE
        return np.array([off if math.isfinite(off) else _CANNOT_BE_COOKED])

    return Datum(f"{source}:{case.key}:{outcome.measure}", source, names, 1, residuals)


@dataclass(frozen=True, eq=False)
class FittedPosterior:
    """The most probable values and the Laplace approximation around them.

    `shared`: constants in the search's numbers; `covariance` of them with every cook's unknowns
    integrated out; `unknowns` and `deviations`: mode and posterior standard deviation of each
    cook's unknowns; `negative_log_posterior` at the mode, but for a constant; `log_evidence` the
    Laplace approximation of the logarithm of the marginal likelihood, but for the same constant.
    """

    shared: FloatArray
    covariance: FloatArray
    unknowns: dict[str, FloatArray]
    deviations: dict[str, FloatArray]
    residuals: dict[str, FloatArray]
    negative_log_posterior: float
    log_evidence: float
    gradient: float
    turns: int


def fit(
    data: Sequence[Datum],
    constants_of: Callable[[FloatArray], Constants],
    prior_mean: FloatArray,
    prior_deviation: FloatArray,
    start: FloatArray | None = None,
    *,
    beside: Callable[[Constants], FloatArray] | None = None,
    most_turns: int = 12,
    say: Callable[[str], None] = lambda line: None,
) -> FittedPosterior:
    """Return the posterior of the shared constants and of every cook's unknowns.

    `beside` gives residuals that depend on the constants alone. Shared numbers are moved in units
    of their prior standard deviation. Deterministic.
    """
    shared = prior_mean.size
    sizes = [len(d.unknowns) for d in data]
    first = shared + np.concatenate([[0], np.cumsum(sizes)]).astype(int)
    total = int(first[-1])
    none = np.zeros(0)

    def constants_at(x: FloatArray) -> Constants:
        return constants_of(prior_mean + prior_deviation * x[:shared])

    def one(job: tuple[int, Constants, FloatArray]) -> FloatArray:
        k, constants, unknowns = job
        if k < 0:
            return beside(constants) if beside is not None else none
        return data[k].residuals(constants, unknowns)

    def run(jobs: list[tuple[int, Constants, FloatArray]]) -> list[FloatArray]:
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            return list(pool.map(one, jobs))

    def of(x: FloatArray, k: int) -> FloatArray:
        return x[first[k] : first[k + 1]] if k >= 0 else none

    groups = [*range(len(data)), -1]

    def values(x: FloatArray) -> FloatArray:
        constants = constants_at(x)
        found = np.concatenate([*run([(k, constants, of(x, k)) for k in groups]), x])
        say(f"negative log posterior {0.5 * float(found @ found):.2f}")
        return found

    def slopes(x: FloatArray) -> FloatArray:
        constants = constants_at(x)
        jobs: list[tuple[int, Constants, FloatArray]] = []
        columns: list[tuple[int, int]] = []
        for j in range(shared):
            moved = x.copy()
            moved[j] += _STEP
            there = constants_at(moved)
            jobs += [(k, there, of(x, k)) for k in groups]
            columns += [(k, j) for k in groups]
        for k in range(len(data)):
            for j in range(sizes[k]):
                moved = of(x, k).copy()
                moved[j] += _STEP
                jobs.append((k, constants, moved))
                columns.append((k, int(first[k]) + j))
        base = run([(k, constants, of(x, k)) for k in groups])
        starts = np.concatenate([[0], np.cumsum([b.size for b in base])]).astype(int)
        jacobian = np.zeros((int(starts[-1]) + total, total))
        for (k, column), moved_values in zip(columns, run(jobs), strict=True):
            place = k if k >= 0 else len(data)
            rows = slice(int(starts[place]), int(starts[place + 1]))
            jacobian[rows, column] = (moved_values - base[place]) / _STEP
        jacobian[int(starts[-1]) :] = np.eye(total)
        return jacobian

    x0 = np.zeros(total)
    if start is not None:
        x0[: start.size] = start
    answer = least_squares(
        values, x0, jac=slopes, method="trf", max_nfev=most_turns, ftol=1e-3, xtol=1e-3
    )
    return _posterior(answer, data, first, shared, prior_mean, prior_deviation)


def _posterior(
    answer: object,
    data: Sequence[Datum],
    first: FloatArray,
    shared: int,
    prior_mean: FloatArray,
    prior_deviation: FloatArray,
) -> FittedPosterior:
    x, jacobian = np.asarray(answer.x), np.asarray(answer.jac)  # type: ignore[attr-defined]
    found = np.asarray(answer.fun)  # type: ignore[attr-defined]
    information = jacobian.T @ jacobian
    covariance = np.linalg.inv(information)
    size = 0.5 * float(found @ found)
    _, log_det = np.linalg.slogdet(information)
    starts = np.concatenate([[0], np.cumsum([d.count for d in data])]).astype(int)
    deviation = np.sqrt(np.diag(covariance))
    return FittedPosterior(
        prior_mean + prior_deviation * x[:shared],
        covariance[:shared, :shared] * np.outer(prior_deviation, prior_deviation),
        {d.key: x[first[k] : first[k + 1]] for k, d in enumerate(data)},
        {d.key: deviation[first[k] : first[k + 1]] for k, d in enumerate(data)},
        {d.key: found[starts[k] : starts[k + 1]] for k, d in enumerate(data)},
        size,
        -size - 0.5 * float(log_det),
        float(np.max(np.abs(jacobian.T @ found))),
        int(answer.nfev),  # type: ignore[attr-defined]
    )


__all__ = ["Datum", "FittedPosterior", "case_datum", "curve_datum", "fit"]
