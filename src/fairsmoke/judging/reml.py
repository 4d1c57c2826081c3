"""Linear mixed models with random intercepts, fitted by restricted maximum likelihood (REML).

For layouts where pieces share an animal, a cook, a half or a taster and the data are not balanced
enough for pairs. Dense matrices: meant for up to a few hundred rows.
Source of the criterion: H. D. Patterson and R. Thompson, Biometrika 58:545, 1971; derivatives as
in S. R. Searle, G. Casella and C. E. McCulloch, Variance Components, 1992, ch. 6 (from memory).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray

from fairsmoke.judging.errors import ComparisonError

FloatArray = NDArray[np.float64]

_LARGEST_RATIO = 1e8


@dataclass(frozen=True, eq=False)
class RemlFit:
    """A fitted mixed model: fixed effects, variances, and what small-sample methods need.

    `coefficients` (p,) and their generalised least-squares `covariance` (p, p) belong to
    `fixed_names`. `variances` holds one variance for each factor and `residual_variance` the rest,
    in the response's unit squared; those in `boundary` were estimated as zero. `criterion` is
    −2 × the restricted log-likelihood, all constants included; it depends on how the fixed effects
    are coded.
    For r variances (the factors in order, then the residual) with covariance matrix V = Σ σ²ᵢ Kᵢ:
    `expected_information` and `observed_information` (r, r), `slopes`[i] = X′V⁻¹KᵢV⁻¹X and
    `curvatures`[i, j] = X′V⁻¹KᵢV⁻¹KⱼV⁻¹X.
    """

    fixed_names: tuple[str, ...]
    coefficients: FloatArray
    covariance: FloatArray
    variances: dict[str, float]
    residual_variance: float
    boundary: tuple[str, ...]
    criterion: float
    n_used: int
    n_missing: int
    expected_information: FloatArray
    observed_information: FloatArray
    slopes: FloatArray
    curvatures: FloatArray


def fit_reml(
    response: ArrayLike,
    fixed: ArrayLike,
    factors: Mapping[str, ArrayLike],
    *,
    fixed_names: Sequence[str] | None = None,
) -> RemlFit:
    """Fit response = fixed·β + a random intercept for each level of each factor + noise.

    `response` (n,), NaN where missing (left out and counted); `fixed` (n, p), its intercept or arm
    columns included; `factors`: name → (n,) labels, crossed or nested (give a nested factor labels
    that are unique over the whole data). Every variance is kept at zero or above. Without factors
    this is ordinary least squares.

    Raises ComparisonError where columns of `fixed` depend on one another, where the data cannot
    tell two variances apart, and where no spread is left to judge by.
    """
    y, x, labels, names, n_missing = _checked(response, fixed, factors, fixed_names)
    reduced = _reduce(y, x, labels)
    _check_separable(reduced, tuple(factors))
    if reduced.total <= 1e-20 * float(y @ y):
        raise ComparisonError(
            "the fixed effects explain the response without remainder, so no spread is left to "
            "judge by: more pieces, or fewer columns, are needed."
        )
    ratios = _best_ratios(reduced)
    if ratios.size and float(ratios.max()) > 0.01 * _LARGEST_RATIO:
        name = tuple(factors)[int(ratios.argmax())]
        raise ComparisonError(
            f"within each level of {name} the response fits without remainder, so no residual "
            "spread is left to judge by: a finer reading or more pieces are needed."
        )
    residual = _profile(reduced, ratios)[1]
    sigma2 = np.append(ratios * residual, residual)
    return _describe(y, x, labels, sigma2, names, tuple(factors), n_missing)


def _checked(
    response: ArrayLike,
    fixed: ArrayLike,
    factors: Mapping[str, ArrayLike],
    fixed_names: Sequence[str] | None,
) -> tuple[FloatArray, FloatArray, list[NDArray[np.generic]], tuple[str, ...], int]:
    y, x = np.asarray(response, np.float64), np.asarray(fixed, np.float64)
    if y.ndim != 1 or x.ndim != 2 or len(x) != len(y):
        raise ComparisonError(
            f"response has shape {y.shape} and fixed {x.shape}: give (n,) and (n, p)."
        )
    keep = ~np.isnan(y)
    labels = []
    for name, given in factors.items():
        label = np.asarray(given)
        if label.shape != y.shape:
            raise ComparisonError(
                f"factor {name} has shape {label.shape}: give one label for each of {len(y)} rows."
            )
        labels.append(label[keep])
    names = tuple(fixed_names or (f"column {j}" for j in range(x.shape[1])))
    if len(names) != x.shape[1]:
        raise ComparisonError(f"{len(names)} fixed_names for {x.shape[1]} columns: give one each.")
    y, x = y[keep], x[keep]
    if not (np.all(np.isfinite(y)) and np.all(np.isfinite(x))):
        raise ComparisonError("response or fixed holds a value that is not finite: mend that row.")
    _check_independent(x, names)
    if len(y) - x.shape[1] < len(labels) + 1:
        raise ComparisonError(
            f"{len(y)} values cannot carry {x.shape[1]} fixed effects and {len(labels) + 1} "
            "variances: more pieces, or a simpler model, are needed."
        )
    return y, x, labels, names, int(np.sum(~keep))


def _check_independent(x: FloatArray, names: tuple[str, ...]) -> None:
    lengths = np.linalg.norm(x, axis=0)
    if x.shape[1] == 0 or x.shape[0] < x.shape[1]:
        raise ComparisonError(f"{x.shape[0]} rows cannot carry {x.shape[1]} fixed effects.")
    triangle, order = scipy.linalg.qr(
        x / np.where(lengths > 0, lengths, 1.0), mode="r", pivoting=True
    )
    weak = np.abs(np.diagonal(triangle)) < 1e-9
    if np.any(weak):
        listed = ", ".join(names[j] for j in order[weak])
        raise ComparisonError(
            f"the fixed effects cannot be told apart: {listed} can be written through the others. "
            "Leave it out, or cook the missing combination."
        )


@dataclass(frozen=True, eq=False)
class _Reduced:
    """The data swept clean of the fixed effects, as the criterion sees them.

    For the swept indicator columns U (n, q) of all factors and the swept response w: `gram` = U′U,
    `pull` = U′w, `total` = w′w, `df` = n − p; `parts` says which columns belong to which factor.
    """

    gram: FloatArray
    pull: FloatArray
    total: float
    df: int
    parts: tuple[slice, ...]


def _reduce(y: FloatArray, x: FloatArray, labels: list[NDArray[np.generic]]) -> _Reduced:
    basis = np.linalg.qr(x)[0]
    columns = [np.zeros((len(y), 0))]
    parts, start = [], 0
    for label in labels:
        levels = np.unique(label)
        columns.append((label[:, None] == levels).astype(np.float64))
        parts.append(slice(start, start + len(levels)))
        start += len(levels)
    u = np.hstack(columns)
    u -= basis @ (basis.T @ u)
    w = y - basis @ (basis.T @ y)
    return _Reduced(u.T @ u, u.T @ w, float(w @ w), len(y) - x.shape[1], tuple(parts))


def _check_separable(reduced: _Reduced, names: tuple[str, ...]) -> None:
    """Refuse variances that the data cannot tell from one another."""
    gram, parts = reduced.gram, reduced.parts
    for name, part in zip(names, parts, strict=True):
        if np.linalg.norm(gram[part, part]) < 1e-9:
            raise ComparisonError(
                f"factor {name} only repeats what the fixed effects say, so its spread cannot be "
                "estimated: leave out the factor or those fixed effects."
            )
    # Inner products of the kernels U_i U_i' and the identity, each scaled to length one.
    products = np.full((len(parts) + 1, len(parts) + 1), float(reduced.df))
    for i, a in enumerate(parts):
        products[i, -1] = products[-1, i] = np.trace(gram[a, a])
        for j, b in enumerate(parts):
            products[i, j] = np.sum(gram[a, b] ** 2)
    lengths = np.sqrt(np.diagonal(products))
    values, vectors = np.linalg.eigh(products / np.outer(lengths, lengths))
    if values[0] < 1e-10:
        titles = (*names, "the residual")
        listed = " and ".join(
            t for t, v in zip(titles, vectors[:, 0], strict=True) if abs(v) > 1e-4
        )
        raise ComparisonError(
            f"the spreads of {listed} cannot be told apart in this layout: leave out one factor, "
            "or cook more than one piece at a level."
        )


def _profile(reduced: _Reduced, ratios: FloatArray) -> tuple[float, float, FloatArray, FloatArray]:
    """Criterion with the residual variance profiled out; that variance; gradient and Hessian.

    `ratios` are the factors' variances over the residual one. Constants are left out. With
    H = I + UDU′, everything follows from U′H⁻¹U = (I + GD)⁻¹G and U′H⁻¹w = (I + GD)⁻¹U′w.
    """
    gram, m, parts = reduced.gram, reduced.df, reduced.parts
    d = np.repeat(ratios, [part.stop - part.start for part in parts])
    inner = np.eye(len(d)) + gram * d
    solved = np.linalg.solve(inner, np.column_stack([gram, reduced.pull]))
    s, t = solved[:, :-1], solved[:, -1]
    residual = (reduced.total - float(reduced.pull @ (d * t))) / m
    if residual <= 0.0:
        # Only round-off is left of the residual: as bad as any criterion can be told apart.
        residual = 1e-16 * reduced.total / m
    q = np.array([t[part] @ t[part] for part in parts]) / residual
    gradient = np.array([np.trace(s[part, part]) for part in parts]) - q
    hessian = np.empty((len(parts), len(parts)))
    for i, a in enumerate(parts):
        for j, b in enumerate(parts):
            hessian[i, j] = 2 * (t[a] @ s[a, b] @ t[b]) / residual - np.sum(s[a, b] ** 2)
    hessian -= np.outer(q, q) / m
    value = float(np.linalg.slogdet(inner)[1]) + m * math.log(residual)
    return value, residual, gradient, hessian


def _best_ratios(reduced: _Reduced) -> FloatArray:
    """Ratios of factor to residual variance at the least criterion, from several starts."""
    count = len(reduced.parts)
    if not count:
        return np.zeros(0)

    def on_roots(roots: FloatArray) -> tuple[float, FloatArray]:
        value, _, gradient, _ = _profile(reduced, roots**2)
        return value, 2 * roots * gradient

    bounds = [(0.0, math.sqrt(_LARGEST_RATIO))] * count
    found = [
        scipy.optimize.minimize(on_roots, np.full(count, start), jac=True, bounds=bounds)
        for start in (0.1, 1.0, 10.0)
    ]
    best = min(found, key=lambda result: float(result.fun))
    return _polish(reduced, np.asarray(best.x, dtype=np.float64) ** 2)


def _polish(reduced: _Reduced, ratios: FloatArray) -> FloatArray:
    """Newton steps on the ratios, those held at zero by the data left there."""
    value, _, gradient, hessian = _profile(reduced, ratios)
    for _ in range(60):
        free = (ratios > 0) | (gradient < 0)
        if not np.any(free):
            break
        curvature, axes = np.linalg.eigh(hessian[np.ix_(free, free)])
        safe = np.maximum(np.abs(curvature), 1e-12)
        step = np.zeros_like(ratios)
        step[free] = -axes @ ((axes.T @ gradient[free]) / safe)
        for _ in range(40):
            moved = np.clip(ratios + step, 0.0, _LARGEST_RATIO)
            trial = _profile(reduced, moved)
            if trial[0] <= value + 1e-11 * abs(value):
                break
            step /= 2
        change = float(np.max(np.abs(moved - ratios) / (ratios + 1e-3)))
        ratios, value, gradient, hessian = moved, trial[0], trial[2], trial[3]
        if change < 1e-12:
            break
    return ratios


def _describe(
    y: FloatArray,
    x: FloatArray,
    labels: list[NDArray[np.generic]],
    sigma2: FloatArray,
    names: tuple[str, ...],
    factor_names: tuple[str, ...],
    n_missing: int,
) -> RemlFit:
    """Estimates and derivatives at the variances found."""
    n, p = x.shape
    kernels = [(label[:, None] == label).astype(np.float64) for label in labels]
    kernels.append(np.eye(n))
    v = sum((s * k for s, k in zip(sigma2, kernels, strict=True)), np.zeros((n, n)))
    v_inverse = np.linalg.inv(v)
    weighted = v_inverse @ x
    information = x.T @ weighted
    covariance = np.asarray(np.linalg.inv(information), dtype=np.float64)
    coefficients = covariance @ (weighted.T @ y)
    projector = v_inverse - weighted @ covariance @ weighted.T
    lean = projector @ y
    spread = [projector @ k for k in kernels]
    traces = np.array([[float(np.sum(a * b.T)) for b in spread] for a in spread])
    pulled = np.array([k @ lean for k in kernels])
    criterion = (
        float(np.linalg.slogdet(v)[1] + np.linalg.slogdet(information)[1])
        + float(y @ lean)
        + (n - p) * math.log(2 * math.pi)
    )
    drawn = np.array([k @ weighted for k in kernels])
    return RemlFit(
        fixed_names=names,
        coefficients=coefficients,
        covariance=covariance,
        variances={f: float(s) for f, s in zip(factor_names, sigma2[:-1], strict=True)},
        residual_variance=float(sigma2[-1]),
        boundary=tuple(f for f, s in zip(factor_names, sigma2[:-1], strict=True) if s == 0.0),
        criterion=criterion,
        n_used=n,
        n_missing=n_missing,
        expected_information=traces / 2,
        observed_information=pulled @ projector @ pulled.T - traces / 2,
        slopes=np.array([weighted.T @ d for d in drawn]),
        curvatures=np.einsum("inp,nm,jmq->ijpq", drawn, v_inverse, drawn, optimize=True),
    )
