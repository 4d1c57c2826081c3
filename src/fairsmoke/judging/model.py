"""The Bayesian comparison of arms, integrated over every spread by quadrature.

response = general level + arm + cook + animal + parent piece + position + piece + measurement

and, where the priors allow for it, a further error of at most one odd piece.

Given the spreads this is a Gaussian linear model with Gaussian priors, so its answer is exact; the
spreads have proper priors and are integrated over numerically, so that the answer is a mixture of
normals which does not pretend to know them. It holds from one pair to many pieces. Same input,
same output: nothing is drawn at random.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

from fairsmoke.judging import conditional
from fairsmoke.judging.design import ComparisonLayout, NotSeparable, not_separable
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.mixture import Posterior, RatioPosterior, SpreadPosterior
from fairsmoke.judging.priors import FloatArray, OddPiece, Priors, SpreadPrior
from fairsmoke.judging.quadrature import Lattice, integrate

__all__ = [
    "Comparison",
    "ComparisonLayout",
    "NotSeparable",
    "SensitivityLine",
    "compare",
    "sensitivity",
]

_SPREADS_UNKNOWN = "not knowing the spreads"

# Normals whose weight is below this share of the largest are dropped.
_NEGLIGIBLE = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """The answer to a comparison.

    Attributes:
        layout: the layout as given. used: which rows had a value, (n,) booleans.
        log_marginal: natural log of the density of the data under model and priors.
        not_separable: what the layout cannot tell apart; to be reported.
        one_level: factors with one level only, merged with the general level: the arm levels are
            those of that cook (animal, position), and the difference does not depend on it.
        priors: as given.
        nodes, gap: size of the lattice of spreads, and how far its half-lattices disagree in any
            probability; the error of the whole is about the square of that.
        odd: probability that each piece in use is the odd one, (m,); none where the priors allow
            no odd piece.

    """

    layout: ComparisonLayout
    used: npt.NDArray[np.bool_]
    priors: Priors
    log_marginal: float
    not_separable: tuple[NotSeparable, ...]
    one_level: tuple[str, ...]
    gap: float
    odd: FloatArray
    _weights: FloatArray
    _means: FloatArray
    _covariances: FloatArray
    _node: npt.NDArray[np.intp]
    _node_weights: FloatArray
    _sds: Mapping[str, FloatArray]
    _system: conditional.ComparisonSystem

    @property
    def nodes(self) -> int:
        """Number of sets of spreads in the mixture."""
        return len(self._node_weights)

    @property
    def dropped(self) -> int:
        """Number of pieces left out because their response is missing."""
        return int(np.sum(~self.used))

    def counts(self) -> dict[str, int]:
        """Return how many pieces of each arm the answer rests on."""
        arms = self.layout.arm[self.used]
        return {name: int(np.sum(arms == j)) for j, name in enumerate(self.layout.arm_names)}

    def arm_level(self, arm: str) -> Posterior:
        """Return the posterior of an arm's level: what it gives on average."""
        j = self.layout.arm_index(arm)
        return Posterior(self._weights, self._means[:, j], np.sqrt(self._covariances[:, j, j]))

    def difference(self, arm: str, other: str) -> Posterior:
        """Return the posterior of the level of `arm` less that of `other`."""
        mean, variance = self._difference(arm, other)
        return Posterior(self._weights, mean, np.sqrt(variance))

    def ratio(self, arm: str, other: str) -> RatioPosterior:
        """Return the posterior of the level of `arm` divided by that of `other`.

        Raises:
            ComparisonError: the level of `other` is not clearly away from zero.

        """
        pair = self._pair(arm, other)
        covariances = self._covariances[:, pair][:, :, pair]
        return RatioPosterior(self._weights, self._means[:, pair], covariances)

    def spread(self, name: str) -> SpreadPosterior:
        """Return the posterior of the spread of "piece" or a grouping factor.

        For a factor of one level it is the prior, for the data say nothing of it.
        """
        if name in self.one_level:
            z = np.linspace(-6.0, 6.0, 97)
            weights = np.exp(-0.5 * z**2)
            return SpreadPosterior(weights / weights.sum(), self.priors.group(name).sd_at(z))
        if name not in self._sds:
            raise ComparisonError(f"No spread '{name}' here; there are {list(self._sds)}.")
        return SpreadPosterior(self._node_weights, self._sds[name])

    def predictive_difference(
        self,
        arm: str,
        other: str,
        *,
        shared: Iterable[str] = ("cook",),
        measurement_sd: float = 0.0,
    ) -> Posterior:
        """Return what the observed difference of one new pair will be, as known now.

        The pieces are new, and so is the level of every factor: one for both pieces of the pair if
        it is in `shared`, otherwise one for each.

        Args:
            arm, other: the observed value of `arm` less that of `other`.
            shared: names of factors that both pieces of the new pair share.
            measurement_sd: of the measured difference, in the unit of the response.

        """
        mean, variance = self._difference(arm, other)
        variance = variance + measurement_sd**2
        apart = ["piece", *(k for k in self.layout.factors if k not in set(shared))]
        for name in apart:
            if name in self.one_level:
                variance = variance + 2.0 * self.priors.group(name).mean_square()
            else:
                variance = variance + 2.0 * self._sds[name][self._node] ** 2
        return Posterior(self._weights, mean, np.sqrt(variance))

    def variance_shares(self, arm: str, other: str) -> dict[str, float]:
        """Return how much of the variance of the difference comes from where; sums to 1.

        Keys: "piece", each grouping factor, "measurement", "prior" (what was believed before,
        seen or not), and "not knowing the spreads" (the answer would move if they, or which piece
        is odd, were known).
        """
        contrast = np.zeros(len(self.layout.arm_names))
        contrast[self._pair(arm, other)] = (1.0, -1.0)
        names = [name for name in self._sds if name != "piece"]
        factor_sds = np.column_stack([np.zeros((self.nodes, 0)), *(self._sds[k] for k in names)])
        parts = self._node_weights @ conditional.variance_parts(
            self._system, self._sds["piece"], factor_sds, contrast
        )
        whole = max(self.difference(arm, other).sd ** 2, float(parts.sum()))
        between = whole - parts.sum()
        keys = ["piece", *names, "measurement", "prior"]
        shares = {key: float(part / whole) for key, part in zip(keys, parts, strict=True)}
        return {**shares, _SPREADS_UNKNOWN: float(between / whole)}

    def _pair(self, arm: str, other: str) -> list[int]:
        pair = [self.layout.arm_index(arm), self.layout.arm_index(other)]
        if pair[0] == pair[1]:
            raise ComparisonError(f"'{arm}' cannot be compared with itself; name two arms.")
        return pair

    def _difference(self, arm: str, other: str) -> tuple[FloatArray, FloatArray]:
        i, j = self._pair(arm, other)
        c = self._covariances
        return self._means[:, i] - self._means[:, j], c[:, i, i] + c[:, j, j] - 2.0 * c[:, i, j]


def compare(
    response: npt.ArrayLike,
    layout: ComparisonLayout,
    priors: Priors,
    *,
    measurement_cov: npt.ArrayLike | None = None,
) -> Comparison:
    """Compare the arms.

    Args:
        response: one value a piece (n,), NaN where it is missing; missing rows are left out.
        layout: who got what.
        priors: in the unit of the response, with a spread for every factor of the layout.
        measurement_cov: covariance (n, n) of the measurement errors, unit of the response squared;
            nothing means that they are negligible.

    Raises:
        ComparisonError: an arm without a value, a factor without a prior, values or covariance
            that do not fit the layout, or an integral that does not settle.

    """
    y, used = _checked_response(response, layout)
    known = _checked_covariance(measurement_cov, used)
    arm = layout.arm[used]
    labels = {k: np.unique(v[used], return_inverse=True)[1] for k, v in layout.factors.items()}
    one_level = tuple(k for k, v in labels.items() if v.max() == 0)
    kept = {k: v for k, v in labels.items() if k not in one_level}
    # A factor of one level shifts every piece alike: it belongs to the general level.
    extra = sum(priors.group(k).mean_square() for k in one_level)
    root = conditional.arm_root(
        float(np.sqrt(priors.mu_sd**2 + extra)), priors.difference_sd, len(layout.arm_names)
    )
    system = conditional.build(y, arm, list(kept.values()), known, level=priors.mu_mean, root=root)
    spreads = {"piece": priors.piece, **{k: priors.group(k) for k in kept}}
    lattice, sds = _integrate(system, spreads, priors.odd)
    mixture = _mixture(system, lattice, sds, priors.odd)
    return Comparison(
        layout=layout,
        used=used,
        priors=priors,
        log_marginal=lattice.log_integral,
        not_separable=not_separable(arm, labels),
        one_level=one_level,
        gap=lattice.gap,
        odd=mixture.odd,
        _weights=mixture.weights,
        _means=mixture.means,
        _covariances=mixture.covariances,
        _node=mixture.node,
        _node_weights=lattice.weights,
        _sds=sds,
        _system=system,
    )


def _checked_response(
    response: npt.ArrayLike, layout: ComparisonLayout
) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
    """Return the values present (m,) and which rows they are (n,)."""
    y = np.asarray(response, dtype=np.float64)
    if y.shape != layout.arm.shape:
        raise ComparisonError(
            f"There are {y.size} values for {layout.arm.size} pieces; give each piece one, "
            "not-a-number where it is missing."
        )
    if np.isinf(y).any():
        raise ComparisonError(f"The value of piece {int(np.isinf(y).argmax()) + 1} is infinite.")
    used = ~np.isnan(y)
    for j, name in enumerate(layout.arm_names):
        if not (used & (layout.arm == j)).any():
            raise ComparisonError(
                f"No value for any piece of arm '{name}': record one, or leave the arm out."
            )
    return y[used], used


def _checked_covariance(cov: npt.ArrayLike | None, used: npt.NDArray[np.bool_]) -> FloatArray:
    """Return the measurement covariance of the rows in use."""
    if cov is None:
        return np.zeros((int(used.sum()),) * 2)
    found = np.asarray(cov, dtype=np.float64)
    if found.shape != (len(used), len(used)):
        raise ComparisonError(
            f"The measurement covariance has shape {found.shape}; {len(used)} pieces need "
            f"({len(used)}, {len(used)})."
        )
    kept = found[np.ix_(used, used)]
    size = float(np.abs(kept).max())
    if not np.isfinite(size) or np.abs(kept - kept.T).max() > 1e-9 * size:
        raise ComparisonError("The measurement covariance is not finite and symmetric; mend it.")
    if np.linalg.eigvalsh(kept).min() < -1e-9 * size:
        raise ComparisonError("The measurement covariance gives a negative variance; mend it.")
    return kept


@dataclass(frozen=True, slots=True, eq=False)
class _Mixture:
    """Normals of the arm levels: weights (C,), means, covariances, and the node of each, (C,)."""

    weights: FloatArray
    means: FloatArray
    covariances: FloatArray
    node: npt.NDArray[np.intp]
    odd: FloatArray


def _mixture(
    system: conditional.ComparisonSystem,
    lattice: Lattice,
    sds: Mapping[str, FloatArray],
    odd: OddPiece | None,
) -> _Mixture:
    """Return the posterior's normals, one a node, or one a node and piece that may be odd."""
    arms = len(system.root)
    if odd is None:
        return _Mixture(
            lattice.weights,
            lattice.values[:, :arms],
            lattice.values[:, arms:].reshape(-1, arms, arms),
            np.arange(len(lattice.weights)),
            np.zeros(0),
        )
    kept = np.flatnonzero(lattice.weights > _NEGLIGIBLE * lattice.weights.max())
    each = np.column_stack([np.zeros((len(kept), 0)), *(s[kept] for s in sds.values())])
    found = conditional.evaluate_odd(
        system, each[:, 0], each[:, 1:], odd_sd=odd.sd, odds=odd.odds(system.n)
    )
    shares = lattice.weights[kept, None] * found.shares
    node, which = np.nonzero(shares > _NEGLIGIBLE * shares.max())
    means, covariances = found.components()
    weights = shares[node, which]
    return _Mixture(
        weights / weights.sum(),
        means[node, which],
        covariances[node, which],
        kept[node],
        shares[:, 1:].sum(axis=0) / shares.sum(),
    )


def _integrate(
    system: conditional.ComparisonSystem, spreads: Mapping[str, SpreadPrior], odd: OddPiece | None
) -> tuple[Lattice, dict[str, FloatArray]]:
    """Integrate over the spreads that are not known.

    Returns the lattice, whose values are arm means (G, J) and covariances (G, J*J) side by side,
    and each spread at its nodes.
    """
    priors = list(spreads.values())
    axis = np.cumsum([not p.known for p in priors]) - 1
    arms = len(system.root)

    def sds_at(z: FloatArray) -> FloatArray:
        columns = [
            np.full(len(z), p.size) if p.known else p.sd_at(z[:, a])
            for p, a in zip(priors, axis, strict=True)
        ]
        return np.column_stack(columns)

    def evaluate(z: FloatArray) -> tuple[FloatArray, FloatArray]:
        sds = sds_at(z)
        if odd is None:
            found = conditional.evaluate(system, sds[:, 0], sds[:, 1:])
        else:
            found = conditional.evaluate_odd(
                system, sds[:, 0], sds[:, 1:], odd_sd=odd.sd, odds=odd.odds(system.n)
            ).collapsed()
        prior = -0.5 * np.sum(z**2 + np.log(2.0 * np.pi), axis=1)
        flat = found.covariances.reshape(len(z), -1)
        return found.log_likelihood + prior, np.hstack([found.means, flat])

    def probe(values: FloatArray, weights: FloatArray) -> FloatArray:
        """Chances that each arm less the first is below five points across its posterior."""
        means = values[:, 1:arms] - values[:, :1]
        c = values[:, arms:].reshape(-1, arms, arms)
        own = np.diagonal(c, axis1=1, axis2=2)[:, 1:]
        variance = own + c[:, :1, 0] - 2.0 * c[:, 1:, 0]
        middle = weights @ means
        sd = np.sqrt(weights @ (variance + (means - middle) ** 2))
        points = middle + np.array([-2.0, -1.0, 0.0, 1.0, 2.0])[:, None, None] * sd
        chances = special.ndtr((points - means) / np.sqrt(variance))
        return np.ascontiguousarray(chances.transpose(1, 0, 2).reshape(len(values), -1))

    try:
        lattice = integrate(evaluate, int(axis[-1]) + 1, probe)
    except np.linalg.LinAlgError:
        raise ComparisonError(
            "The spreads lie too many powers of ten apart to compute with; check the units of the "
            "values, of the measurement covariance and of the priors."
        ) from None
    sds = sds_at(lattice.z)
    return lattice, dict(zip(spreads, sds.T, strict=True))


@dataclass(frozen=True, slots=True)
class SensitivityLine:
    """The answer when the prior for the piece-to-piece spread is `factor` times as large."""

    factor: float
    mean: float
    sd: float
    interval: tuple[float, float]
    prob_above: float


def sensitivity(
    response: npt.ArrayLike,
    layout: ComparisonLayout,
    priors: Priors,
    *,
    arm: str,
    other: str,
    threshold: float = 0.0,
    level: float = 0.95,
    factors: Sequence[float] = (0.5, 1.0, 2.0),
    measurement_cov: npt.ArrayLike | None = None,
) -> list[SensitivityLine]:
    """Return how the difference moves if pieces differ by half or by double what was believed.

    Args:
        response, layout, priors, measurement_cov: as for `compare`.
        arm, other: the difference is `arm` less `other`.
        threshold: `prob_above` is the probability that the difference exceeds this.
        level: of the central interval.
        factors: what the size of the prior for the piece spread is multiplied by.

    """
    lines = []
    for times in factors:
        changed = priors.with_piece_times(times)
        found = compare(response, layout, changed, measurement_cov=measurement_cov)
        d = found.difference(arm, other)
        interval = d.interval(level)
        lines.append(SensitivityLine(times, d.mean, d.sd, interval, d.prob_greater(threshold)))
    return lines
