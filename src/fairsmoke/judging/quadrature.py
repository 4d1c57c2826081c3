"""Integration over the spreads: a lattice of steps laid on where the posterior mass lies.

The trapezoid rule on a smooth density that falls away on all sides converges faster than any power
of the step, so a plain lattice is all that is needed once its axes fit the density: they come
from the curvature at the mode, then, if the check fails, from the moments found. The check
compares half-lattices of twice the step; the error of the whole is about the square of their gap.
Source of the convergence: Trefethen and Weideman, SIAM Review 56 (2014) 385, from memory.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import product

import numpy as np
import scipy

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.priors import FloatArray

# Step in posterior sds, by number of axes: a lattice of few axes can afford to be finer.
_STEPS = (1.0, 0.4, 0.5, 0.7, 0.9, 1.0)
# Half-lattices may differ by this much in any checked average, see the module's docstring.
GAP_ALLOWED = 0.03
# Posterior mass that may be left outside, were the density normal.
_MASS_OUTSIDE = 3e-5
_ROUNDS = 8
_MOST_NODES = 400_000
_DIFFERENCE_STEP = 1e-3
# How far from the prior's middle the mode is looked for, and where it is still believed.
_FARTHEST = 10.0
_BELIEVABLE = 8.0

Evaluate = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
Probe = Callable[[FloatArray, FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class Lattice:
    """A density held by its values at G nodes in d dimensions.

    Attributes:
        z: nodes (G, d).
        weights: share of the integral at each node (G,), summing to 1.
        values: what the caller computed at each node (G, m).
        log_integral: natural log of the integral of the density.
        gap: largest disagreement in a checked average between half-lattices.

    """

    z: FloatArray
    weights: FloatArray
    values: FloatArray
    log_integral: float
    gap: float


def integrate(evaluate: Evaluate, dim: int, probe: Probe) -> Lattice:
    """Integrate a smooth density on R^dim that is centred and scaled to about 1 by its prior.

    Args:
        evaluate: from nodes (G, dim) the log density (G,) and any values (G, m) wanted there.
        dim: number of axes, 0 to 6.
        probe: from values and weights, functions of the node between 0 and 1 (G, c) whose
            averages have to be right; they decide whether the lattice is fine enough.

    Raises:
        ComparisonError: the density is not finite, lies more than 8 from the origin, or no lattice
            of a sensible size holds it.

    """
    if dim == 0:
        log_density, values = evaluate(np.zeros((1, 0)))
        return Lattice(np.zeros((1, 0)), np.ones(1), values, float(log_density[0]), 0.0)
    centre, axes = _mode_and_axes(lambda z: evaluate(z)[0], dim)
    steps = np.full(dim, _STEPS[min(dim, len(_STEPS) - 1)])
    gaps = np.full(dim, math.inf)
    for _ in range(_ROUNDS):
        index, log_density, values = _grow(evaluate, centre, axes, steps)
        z = centre + (index * steps) @ axes.T
        top = log_density.max()
        raw = np.exp(log_density - top)
        weights = raw / raw.sum()
        gaps = _half_gaps(index, weights, probe(values, weights))
        if gaps.max() <= GAP_ALLOWED:
            cell = float(np.linalg.slogdet(axes * steps)[1])
            log_integral = float(top) + math.log(raw.sum()) + cell
            return Lattice(z, weights, values, log_integral, float(gaps.max()))
        centre = weights @ z
        off = z - centre
        axes = np.linalg.cholesky((weights[:, None] * off).T @ off)
        # For a normal density the gap is 2 exp(-pi^2 / (2 step^2)); go a little finer still.
        wanted = np.log(GAP_ALLOWED / 2.0) / np.log(np.minimum(gaps, 1.0) / 2.0)
        steps = np.where(gaps > GAP_ALLOWED, 0.85 * steps / np.sqrt(wanted), steps)
    raise ComparisonError(
        f"The integral over the spreads did not settle (gap {gaps.max():.2g}); the data and the "
        "priors are far apart, perhaps in different units. Check the units and the priors."
    )


def _mode_and_axes(
    log_density: Callable[[FloatArray], FloatArray], dim: int
) -> tuple[FloatArray, FloatArray]:
    """Return the mode (dim,) and axes (dim, dim) whose columns are about one sd long."""
    scan = np.array(list(product((-1.5, 0.0, 1.5), repeat=dim)))
    start = scan[int(np.argmax(log_density(scan)))]
    h = _DIFFERENCE_STEP
    steps = np.concatenate([np.zeros((1, dim)), h * np.eye(dim), -h * np.eye(dim)])

    def downhill(z: FloatArray) -> tuple[float, FloatArray]:
        """Minus the log density and its slope, with a wall that keeps the search in range."""
        inside = np.clip(z, -_FARTHEST, _FARTHEST)
        over = z - inside
        f = log_density(inside + steps)
        slope = (f[1 : dim + 1] - f[dim + 1 :]) / (2.0 * h)
        return 50.0 * float(over @ over) - float(f[0]), 100.0 * over - slope

    mode = scipy.optimize.minimize(
        downhill, start, jac=True, method="BFGS", options={"gtol": 1e-3}
    ).x
    if np.abs(mode).max() > _BELIEVABLE:
        raise ComparisonError(
            f"The values want a spread {np.abs(mode).max():.0f} standard deviations away from what "
            "its prior believes. Check that values and priors are in the same units, then the "
            "priors."
        )
    return mode, _axes_at(log_density, mode)


def _axes_at(log_density: Callable[[FloatArray], FloatArray], mode: FloatArray) -> FloatArray:
    """Return axes from the curvature at the mode, none longer than two or shorter than 0.02."""
    dim = len(mode)
    h = 20.0 * _DIFFERENCE_STEP
    pairs = [(j, k) for j in range(dim) for k in range(j, dim)]
    corners = np.zeros((len(pairs), 4, dim))
    for corner, (j, k) in zip(corners, pairs, strict=True):
        for row, (a, b) in zip(corner, ((1, 1), (1, -1), (-1, 1), (-1, -1)), strict=True):
            row[j] += a * h
            row[k] += b * h
    f = log_density(mode + corners.reshape(-1, dim)).reshape(-1, 4)
    curvature = np.zeros((dim, dim))
    for (j, k), (pp, pm, mp, mm) in zip(pairs, f, strict=True):
        curvature[j, k] = curvature[k, j] = -(pp - pm - mp + mm) / (4.0 * h * h)
    values, vectors = np.linalg.eigh(curvature)
    covariance = (vectors / np.clip(values, 0.25, 2500.0)) @ vectors.T
    # Lower triangular, not the eigenvectors: those turn freely where two axes are alike.
    return np.linalg.cholesky(covariance)


def _grow(
    evaluate: Evaluate, centre: FloatArray, axes: FloatArray, steps: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Fill the lattice outward from the centre until every node at its rim is negligible.

    Returns whole-number coordinates (G, d), log density (G,) and values (G, m).
    """
    dim = len(centre)
    reach = float(scipy.special.chdtri(dim, _MASS_OUTSIDE))
    # The ball that a normal density would fill is laid at once; growing corrects its shape.
    sides = np.ceil(math.sqrt(reach) / steps).astype(np.intp)
    box = np.indices(tuple(2 * sides + 1)).reshape(dim, -1).T - sides
    new = box[_squared(box * steps) <= reach]
    hops = np.concatenate([np.eye(dim, dtype=np.intp), -np.eye(dim, dtype=np.intp)])
    base = 1024 ** np.arange(dim)
    index = np.zeros((0, dim), dtype=np.intp)
    log_density, values = np.zeros(0), np.zeros((0, 0))
    while len(new):
        found, there = evaluate(centre + (new * steps) @ axes.T)
        if not np.isfinite(found).all():
            raise ComparisonError("The likelihood is not a number; check the values given.")
        values = there if not len(index) else np.concatenate([values, there])
        index, log_density = np.concatenate([index, new]), np.concatenate([log_density, found])
        if len(index) > _MOST_NODES:
            raise ComparisonError("Too many spreads at once to integrate over; drop a factor.")
        worth = new[found > log_density.max() - 0.5 * reach]
        near = (worth[:, None, :] + hops).reshape(-1, dim)
        near = near[_squared(near * steps) > reach]
        keys, first = np.unique((near + 512) @ base, return_index=True)
        new = near[first[~np.isin(keys, (index + 512) @ base)]]
    return index.astype(np.float64), log_density, values


def _squared(vectors: FloatArray) -> FloatArray:
    return np.asarray(np.einsum("gd,gd->g", vectors, vectors), dtype=np.float64)


def _half_gaps(index: FloatArray, weights: FloatArray, probe: FloatArray) -> FloatArray:
    """Return for each axis the largest gap between averages over its even and its odd nodes."""
    gaps = np.full(index.shape[1], math.inf)
    for axis, coordinate in enumerate(index.T):
        even = np.where(coordinate % 2 == 0, weights, 0.0)
        odd = weights - even
        if even.sum() > 0.0 and odd.sum() > 0.0:
            averages = (even @ probe) / even.sum() - (odd @ probe) / odd.sum()
            # The halves must also agree on how much mass there is.
            gaps[axis] = max(np.abs(averages).max(), abs(even.sum() - odd.sum()))
    return gaps
