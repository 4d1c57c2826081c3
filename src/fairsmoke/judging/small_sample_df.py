"""Degrees of freedom for contrasts of a mixed model when there are few pieces.

With few pieces the variances are themselves uncertain, so a contrast over its standard error is
neither normal nor t on n − p degrees of freedom. Two approximations are given:

Satterthwaite: F. E. Giesbrecht and J. C. Burns, Biometrics 41:477, 1985, for one contrast;
A. H.-T. Fai and P. L. Cornelius, J. Statist. Comput. Simul. 54:363, 1996, for several at once.
Kenward–Roger: M. G. Kenward and J. H. Roger, Biometrics 53:983, 1997, which also widens the
standard error. (Formulae from memory; the published values in tests/published check them.)
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.reml import RemlFit, fit_reml

FloatArray = NDArray[np.float64]

FEWEST_DF = 1.0
"""With fewer degrees of freedom the t distribution is so wide that an interval says nothing."""

DfMethod = Literal["kenward-roger", "satterthwaite"]


@dataclass(frozen=True)
class ContrastResult:
    """A contrast of fixed effects in the response's unit, with its t test and interval.

    `p` is two-sided, against a contrast of zero.
    """

    estimate: float
    se: float
    df: float
    t: float
    p: float
    interval: tuple[float, float]
    level: float
    method: DfMethod


@dataclass(frozen=True)
class FTest:
    """A joint test that several contrasts are all zero.

    `df_denominator` and `p` are None where the data carry too little about the variances for the
    approximation to exist.
    """

    f_ratio: float
    df_numerator: int
    df_denominator: float | None
    p: float | None
    method: DfMethod


@dataclass(frozen=True, eq=False)
class MixedComparison:
    """The difference second − first between two arms, and the model it comes from."""

    difference: ContrastResult
    fit: RemlFit


def contrast_test(
    fit: RemlFit,
    weights: ArrayLike,
    *,
    method: DfMethod = "kenward-roger",
    level: float = 0.95,
) -> ContrastResult:
    """Estimate the contrast weights·β, `weights` (p,), with small-sample degrees of freedom.

    Variances estimated as zero are treated as known to be zero by Satterthwaite's method and as
    uncertain by Kenward and Roger's, which is the more cautious.
    Raises ComparisonError for weights of the wrong length or all zero, and when fewer than
    ``FEWEST_DF`` degrees of freedom are left.
    """
    if not 0.0 < level < 1.0:
        raise ComparisonError(f"level is {level}: it must lie between 0 and 1, such as 0.95.")
    row = _rows(fit, weights)[0]
    estimate = float(row @ fit.coefficients)
    if method == "kenward-roger":
        variance = float(row @ kenward_roger_covariance(fit) @ row)
        df = 2.0 / _kenward_roger_moments(fit, row[None, :])[1]
    else:
        variance = float(row @ fit.covariance @ row)
        df = _satterthwaite_df(fit, row)
    if not df >= FEWEST_DF:
        raise ComparisonError(
            f"the layout leaves {max(df, 0.0):.1f} degrees of freedom for this difference: too few "
            "to say how sure it is. More pieces, or fewer factors, are needed."
        )
    se = math.sqrt(variance)
    half = float(scipy.special.stdtrit(df, 0.5 + level / 2)) * se
    t = estimate / se
    p = 2 * float(scipy.special.stdtr(df, -abs(t)))
    return ContrastResult(estimate, se, df, t, p, (estimate - half, estimate + half), level, method)


def f_test(fit: RemlFit, rows: ArrayLike, *, method: DfMethod = "kenward-roger") -> FTest:
    """Test that rows·β is zero in every row at once, `rows` (q, p), rows independent.

    Raises ComparisonError for rows of the wrong length or that depend on one another.
    """
    matrix = _rows(fit, rows)
    if np.linalg.matrix_rank(matrix) < len(matrix):
        raise ComparisonError("the rows of an F test must not depend on one another: drop some.")
    if method == "kenward-roger":
        f_ratio, df = _kenward_roger_f(fit, matrix)
    else:
        f_ratio, df = _fai_cornelius_f(fit, matrix)
    p = None if df is None else float(scipy.special.fdtrc(len(matrix), df, f_ratio))
    return FTest(f_ratio, len(matrix), df, p, method)


def reml_arm_difference(
    response: ArrayLike,
    arms: ArrayLike,
    factors: Mapping[str, ArrayLike],
    *,
    first: int = 0,
    second: int = 1,
    adjust: Mapping[str, ArrayLike] | None = None,
    method: DfMethod = "kenward-roger",
    level: float = 0.95,
) -> MixedComparison:
    """The difference second − first between two arms in a mixed model.

    `response` (n,), NaN where missing; `arms` (n,) labels, a fixed effect; `factors`: random
    intercepts such as cook, animal or piece, name → (n,) labels; `adjust`: further fixed factors
    such as position, name → (n,) labels. Raises ComparisonError as `fit_reml` does, and where an
    arm has no response.
    """
    y, labels = np.asarray(response, np.float64), np.asarray(arms)
    if y.ndim != 1 or labels.shape != y.shape:
        raise ComparisonError(
            f"response has shape {y.shape} and arms {labels.shape}: give one arm for each value."
        )
    present = np.unique(labels[~np.isnan(y)])
    for arm in (first, second):
        if arm not in present:
            raise ComparisonError(f"arm {arm} has no piece with a response: nothing to compare.")
    columns = [(labels == arm).astype(np.float64) for arm in present]
    names = [f"arm {arm}" for arm in present]
    for name, given in (adjust or {}).items():
        levels = np.asarray(given)
        if levels.shape != y.shape:
            raise ComparisonError(f"{name} has shape {levels.shape}: give one label for each row.")
        for value in np.unique(levels[~np.isnan(y)])[1:]:
            columns.append((levels == value).astype(np.float64))
            names.append(f"{name} {value}")
    fit = fit_reml(y, np.column_stack(columns), factors, fixed_names=names)
    weights = np.zeros(len(names))
    weights[names.index(f"arm {second}")] = 1.0
    weights[names.index(f"arm {first}")] = -1.0
    return MixedComparison(contrast_test(fit, weights, method=method, level=level), fit)


def kenward_roger_covariance(fit: RemlFit) -> FloatArray:
    """Covariance (p, p) of the fixed effects, widened for the variances having been estimated.

    Equation (5) of Kenward and Roger 1997 for variances that enter linearly.
    """
    phi, w = fit.covariance, np.linalg.inv(fit.expected_information)
    excess = np.einsum("ij,ijpq->pq", w, fit.curvatures) - np.einsum(
        "ij,ipq,qr,jrs->ps", w, fit.slopes, phi, fit.slopes, optimize=True
    )
    widened: FloatArray = phi + 2 * phi @ excess @ phi
    return (widened + widened.T) / 2


def _rows(fit: RemlFit, rows: ArrayLike) -> FloatArray:
    matrix = np.atleast_2d(np.asarray(rows, dtype=np.float64))
    p = len(fit.coefficients)
    if matrix.ndim != 2 or matrix.shape[1] != p:
        raise ComparisonError(f"a contrast needs {p} weights, one for each fixed effect.")
    if not np.all(np.any(matrix != 0, axis=1)):
        raise ComparisonError("a contrast has only zero weights: nothing to compare.")
    return matrix


def _satterthwaite_df(fit: RemlFit, row: FloatArray) -> float:
    spread = fit.covariance @ row
    gradient = np.einsum("p,ipq,q->i", spread, fit.slopes, spread)
    kept = np.array([name not in fit.boundary for name in fit.variances] + [True])
    observed = fit.observed_information[np.ix_(kept, kept)]
    # Away from the maximum of a flat likelihood the observed information need not be positive.
    if np.linalg.eigvalsh(observed)[0] <= 0:
        observed = fit.expected_information[np.ix_(kept, kept)]
    of_variance = gradient[kept] @ np.linalg.solve(observed, gradient[kept])
    return float(2 * (row @ spread) ** 2 / of_variance)


def _fai_cornelius_f(fit: RemlFit, matrix: FloatArray) -> tuple[float, float | None]:
    sizes, axes = np.linalg.eigh(matrix @ fit.covariance @ matrix.T)
    turned = axes.T @ matrix
    t_squared = (turned @ fit.coefficients) ** 2 / sizes
    f_ratio = float(np.mean(t_squared))
    dfs = np.array([_satterthwaite_df(fit, row) for row in turned])
    if np.any(dfs <= 2):
        return f_ratio, None
    expected = float(np.sum(dfs / (dfs - 2)))
    return f_ratio, 2 * expected / float(np.sum(2 / (dfs - 2)))


def _kenward_roger_moments(fit: RemlFit, matrix: FloatArray) -> tuple[float, float]:
    """A₁ and A₂ of Kenward and Roger 1997, section 3."""
    phi, w = fit.covariance, np.linalg.inv(fit.expected_information)
    theta = matrix.T @ np.linalg.solve(matrix @ phi @ matrix.T, matrix)
    parts = np.array([theta @ phi @ slope @ phi for slope in fit.slopes])
    traces = np.trace(parts, axis1=1, axis2=2)
    return float(traces @ w @ traces), float(np.einsum("ij,ipq,jqp->", w, parts, parts))


def _kenward_roger_f(fit: RemlFit, matrix: FloatArray) -> tuple[float, float | None]:
    q = len(matrix)
    effect = matrix @ fit.coefficients
    widened = matrix @ kenward_roger_covariance(fit) @ matrix.T
    wald = float(effect @ np.linalg.solve(widened, effect)) / q
    a1, a2 = _kenward_roger_moments(fit, matrix)
    if q == 1:
        # The general expressions reduce to this, and stay finite where they do not.
        return wald, 2.0 / a2
    b = (a1 + 6 * a2) / (2 * q)
    g = ((q + 1) * a1 - (q + 4) * a2) / ((q + 2) * a2)
    below = 3 * q + 2 * (1 - g)
    c1, c2, c3 = g / below, (q - g) / below, (q + 2 - g) / below
    if a2 >= q or c3 * b >= 1:
        return wald, None
    mean = 1 / (1 - a2 / q)
    variance = 2 / q * (1 + c1 * b) / ((1 - c2 * b) ** 2 * (1 - c3 * b))
    rho = variance / (2 * mean**2)
    df = 4 + (q + 2) / (q * rho - 1)
    if df <= 2:
        return wald, None
    return df / (mean * (df - 2)) * wald, df
