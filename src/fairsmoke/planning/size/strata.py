"""A layout reduced to the few numbers of its data that the comparison's answer depends on.

Given the spreads, the responses are normal with a covariance that is a sum of spreads times fixed
matrices (same cook, same position, …). Wherever all those matrices act as plain numbers on a
subspace which no arm reaches, only the sum of squares in it matters: one number for many pieces.
What is left over, a few directions with the arms in them, is kept as it is. Nothing is
approximated, and a layout that does not reduce is kept whole.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy import special

from fairsmoke.judging.design import IntArray, Layout
from fairsmoke.judging.priors import FloatArray, Priors, SpreadPrior

_CLOSE = 1e-8
_GRID = 121
_FARTHEST = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """The prior of one standard deviation as a table over its normal score.

    Attributes:
        z: scores (k,), rising. log_sd: natural log of the standard deviation there, (k,).
        known: whether there is nothing to integrate over.

    """

    z: FloatArray
    log_sd: FloatArray
    known: bool

    @classmethod
    def of(cls, *priors: SpreadPrior) -> "Spread":
        """Return the prior of the root of the sum of squares of spreads with these priors.

        Spreads that a layout never tells apart act through that sum alone.
        """
        z = np.linspace(-_FARTHEST, _FARTHEST, _GRID)
        if len(priors) == 1:
            return cls(z, np.log(priors[0].sd_at(z)), priors[0].known)
        weights, variances = np.ones(1), np.zeros(1)
        for prior in priors:
            nodes = np.zeros(1) if prior.known else z
            mass = np.exp(-0.5 * nodes**2)
            weights = np.outer(weights, mass / mass.sum()).ravel()
            variances = np.add.outer(variances, prior.sd_at(nodes) ** 2).ravel()
            weights, variances = _binned(weights, variances)
        if len(variances) == 1:
            return cls(z, np.full(_GRID, 0.5 * np.log(variances[0])), True)
        below = np.cumsum(weights) - 0.5 * weights
        inside = (below > 1e-13) & (below < 1.0 - 1e-13)
        scores = special.ndtri(below[inside])
        return cls(z, _line_beyond(z, scores, 0.5 * np.log(variances[inside])), False)

    def sd_at(self, z: FloatArray) -> FloatArray:
        """Return the standard deviation at normal scores, of the same shape."""
        return np.asarray(np.exp(_line_beyond(z, self.z, self.log_sd)), dtype=np.float64)

    @property
    def slope(self) -> float:
        """How fast the log of the spread moves with its score, in the middle of the prior."""
        return float(np.interp(0.5, self.z, self.log_sd) - np.interp(-0.5, self.z, self.log_sd))


def _binned(weights: FloatArray, variances: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Gather a discrete distribution into fine bins of the log, keeping each bin's mean."""
    order = np.argsort(variances)
    weights, variances = weights[order], variances[order]
    span = np.log(variances[-1] / variances[0])
    if span < 1e-12:
        return np.array([weights.sum()]), np.array([float(weights @ variances) / weights.sum()])
    place = np.floor(np.log(variances / variances[0]) / span * 1999.999).astype(np.intp)
    mass = np.bincount(place, weights)
    mean = np.bincount(place, weights * variances)
    used = mass > 0.0
    return mass[used] / mass[used].sum(), mean[used] / mass[used]


def _line_beyond(x: FloatArray, xp: FloatArray, fp: FloatArray) -> FloatArray:
    """Interpolate, and go on in a straight line outside the table."""
    found = np.interp(x, xp, fp)
    low = (fp[1] - fp[0]) / (xp[1] - xp[0])
    high = (fp[-1] - fp[-2]) / (xp[-1] - xp[-2])
    found = np.where(x < xp[0], fp[0] + low * (x - xp[0]), found)
    return np.asarray(np.where(x > xp[-1], fp[-1] + high * (x - xp[-1]), found), dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Reduced:
    """A layout in a basis in which little is left to do.

    Attributes:
        arms: number of arms J. pieces: number of pieces.
        names: the spreads told apart, each the names that act through one sum; the first holds
            "piece".
        one_level: factors of one level, merged with the general level.
        arm: arms' indicators in the kept directions, (r, J).
        ones: the general level's direction there, (r,).
        kernels: of each spread in `names`, (K, r, r).
        sizes: number of directions in each stratum, (m,).
        levels: the number as which each spread's kernel acts on each stratum, (K, m).
        freedom: of each spread, how many directions tell it at most, (K,).
        basis: the kept directions (n, r). spaces: those of each stratum, (n, size) each.

    """

    arms: int
    pieces: int
    names: tuple[tuple[str, ...], ...]
    one_level: tuple[str, ...]
    arm: FloatArray
    ones: FloatArray
    kernels: FloatArray
    sizes: FloatArray
    levels: FloatArray
    freedom: FloatArray
    basis: FloatArray
    spaces: tuple[FloatArray, ...]

    def taken(self, residuals: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Reduce data (S, n), less the prior mean, to (S, r) and sums of squares (S, m)."""
        squares = [np.sum((residuals @ space) ** 2, axis=1) for space in self.spaces]
        held = np.column_stack([np.zeros((len(residuals), 0)), *squares])
        return residuals @ self.basis, held

    def level_variance(self, priors: Priors) -> float:
        """Return the prior variance of the general level, with factors of one level in it."""
        extra = sum(priors.group(name).mean_square() for name in self.one_level)
        return priors.mu_sd**2 + float(extra)

    def spreads(self, priors: Priors) -> tuple[Spread, ...]:
        """Return the priors of the spreads told apart.

        Raises:
            ComparisonError: a factor has no prior.

        """
        by_name = {"piece": priors.piece}
        return tuple(
            Spread.of(*(by_name.get(name) or priors.group(name) for name in together))
            for together in self.names
        )


def reduce_layout(layout: Layout) -> Reduced:
    """Return a layout in the basis that takes its covariance apart as far as it will go."""
    n = len(layout.arm)
    labels = {k: np.unique(v, return_inverse=True)[1] for k, v in layout.factors.items()}
    one_level = tuple(k for k, v in labels.items() if v.max() == 0)
    names, kernels = _kernels(n, {k: v for k, v in labels.items() if k not in one_level})
    arm = np.eye(len(layout.arm_names))[layout.arm]
    basis, strata = _split(arm, kernels)
    acts = np.array([[float(u[:, 0] @ k @ u[:, 0]) for u in strata] for k in kernels])
    return Reduced(
        arms=arm.shape[1],
        pieces=n,
        names=names,
        one_level=one_level,
        arm=basis.T @ arm,
        ones=basis.T @ np.ones(n),
        kernels=np.stack([basis.T @ k @ basis for k in kernels]),
        sizes=np.array([u.shape[1] for u in strata], dtype=np.float64),
        levels=acts.reshape(len(kernels), len(strata)),
        freedom=np.array([np.linalg.matrix_rank(k, hermitian=True) for k in kernels], dtype=float),
        basis=basis,
        spaces=tuple(strata),
    )


def _kernels(
    n: int, labels: Mapping[str, IntArray]
) -> tuple[tuple[tuple[str, ...], ...], list[FloatArray]]:
    """Return the same-label matrices, those that are alike joined, with the names of each."""
    names: list[list[str]] = [["piece"]]
    kernels = [np.eye(n)]
    for name, numbers in labels.items():
        kernel = np.asarray(numbers[:, None] == numbers[None, :], dtype=np.float64)
        for together, other in zip(names, kernels, strict=True):
            if np.array_equal(kernel, other):
                together.append(name)
                break
        else:
            names.append([name])
            kernels.append(kernel)
    return tuple(tuple(together) for together in names), kernels


def _split(arm: FloatArray, kernels: list[FloatArray]) -> tuple[FloatArray, list[FloatArray]]:
    """Return the directions to keep (n, r), and the subspaces of which a sum of squares will do.

    The eigenspaces of one generic mixture of all matrices are as large as any that all share.
    """
    # Numbers with no simple relation between them, so that no two eigenvalues meet by accident.
    generic = np.sqrt([2.0, 3.0, 5.0, 7.0, 11.0, 13.0, 17.0, 19.0, 23.0])
    parts = [arm @ arm.T, np.ones((len(arm), len(arm))), *kernels]
    mixture = sum(g * part for g, part in zip(generic, parts, strict=False))
    values, vectors = np.linalg.eigh(mixture)
    scale = max(1.0, float(np.abs(values).max()))
    cuts = np.flatnonzero(np.diff(values) > _CLOSE * scale) + 1
    kept, strata = [], []
    for space in np.split(vectors, cuts, axis=1):
        plain = all(_is_plain(kernel, space) for kernel in kernels)
        if plain and np.abs(arm.T @ space).max() < _CLOSE:
            strata.append(space)
        else:
            kept.append(space)
    return np.concatenate(kept, axis=1), strata


def _is_plain(kernel: FloatArray, space: FloatArray) -> bool:
    moved = kernel @ space
    number = float(space[:, 0] @ moved[:, 0])
    return float(np.abs(moved - number * space).max()) < _CLOSE * max(1.0, len(kernel))
