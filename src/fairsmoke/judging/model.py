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

from fairsmoke.judging import conditional
from fairsmoke.judging.design import ComparisonLayout, NotSeparable, not_separable
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.latent import latent_points
from fairsmoke.judging.mixture import Posterior, RatioPosterior, SpreadPosterior
from fairsmoke.judging.over_spreads import DataSets, integrate_spreads, mixture_of
from fairsmoke.judging.priors import FloatArray, Priors

__all__ = [
    "Comparison",
    "ComparisonLayout",
    "NotSeparable",
    "SensitivityLine",
    "compare",
    "sensitivity",
]

_SPREADS_UNKNOWN = "not knowing the spreads"


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """The answer to a comparison.

    Attributes:
        layout: the layout as given. used: which rows had a value or a bound, (n,) booleans.
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
    bounds: npt.ArrayLike | None = None,
) -> Comparison:
    """Compare the arms.

    Args:
        response: one value a piece (n,), NaN where it is missing; missing rows are left out.
        layout: who got what.
        bounds: lowest and highest value (n, 2) of pieces whose response is NaN, infinite where
            open: such a value is censored. Rows open on both sides are missing.
        priors: in the unit of the response, with a spread for every factor of the layout.
        measurement_cov: covariance (n, n) of the measurement errors, unit of the response squared;
            nothing means that they are negligible.

    Raises:
        ComparisonError: an arm without a value, a factor without a prior, values or covariance
            that do not fit the layout, or an integral that does not settle.

    """
    y, between, used = _checked_response(response, bounds, layout)
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
    spreads = {"piece": priors.piece, **{k: priors.group(k) for k in kept}}
    filled, log_weights = _complete(y, between, priors, known + _shared(root, arm), kept)
    factors = list(kept.values())
    systems: list[conditional.ComparisonSystem] = []
    for one in filled:
        like = systems[0] if systems else None
        systems.append(
            conditional.build(one, arm, factors, known, level=priors.mu_mean, root=root, like=like)
        )
    data = DataSets(systems, log_weights)
    lattice, sds = integrate_spreads(data, spreads, priors.odd)
    mixture = mixture_of(data, lattice, sds, priors.odd)
    return Comparison(
        layout=layout,
        used=used,
        priors=priors,
        log_marginal=mixture.log_marginal,
        not_separable=not_separable(arm, labels),
        one_level=one_level,
        gap=lattice.gap,
        odd=mixture.odd,
        _weights=mixture.weights,
        _means=mixture.means,
        _covariances=mixture.covariances,
        _node=mixture.node,
        _node_weights=mixture.node_weights,
        _sds=sds,
        _system=data.systems[0],
    )


def _shared(root: FloatArray, arm: npt.NDArray[np.intp]) -> FloatArray:
    """Return the prior covariance (n, n) of the levels of the pieces' arms."""
    return np.asarray((root @ root.T)[np.ix_(arm, arm)], dtype=np.float64)


def _complete(
    y: FloatArray,
    between: FloatArray,
    priors: Priors,
    fixed: FloatArray,
    kept: Mapping[str, npt.NDArray[np.intp]],
) -> tuple[FloatArray, FloatArray]:
    """Return data sets (J, n) without gaps and the log of what each weighs (J,)."""
    unknown = np.isnan(y)
    if not unknown.any():
        return y[None], np.zeros(1)
    middle = priors.piece.quantile(0.5) ** 2 * np.eye(len(y))
    for name, labels in kept.items():
        middle += priors.group(name).quantile(0.5) ** 2 * (labels[:, None] == labels)
    certain = priors.piece.known and all(priors.group(name).known for name in kept)
    points = latent_points(y, between, priors.mu_mean, fixed, middle, known=certain)
    filled = np.repeat(y[None], len(points.values), axis=0)
    filled[:, unknown] = points.values
    return filled, points.log_weights


def _checked_response(
    response: npt.ArrayLike, bounds: npt.ArrayLike | None, layout: ComparisonLayout
) -> tuple[FloatArray, FloatArray, npt.NDArray[np.bool_]]:
    """Return the values (m,) and bounds (m, 2) of rows in use, and which rows they are (n,)."""
    y = np.asarray(response, dtype=np.float64)
    if y.shape != layout.arm.shape:
        raise ComparisonError(
            f"There are {y.size} values for {layout.arm.size} pieces; give each piece one, "
            "not-a-number where it is missing."
        )
    if np.isinf(y).any():
        raise ComparisonError(f"The value of piece {int(np.isinf(y).argmax()) + 1} is infinite.")
    between = np.tile([-np.inf, np.inf], (len(y), 1))
    if bounds is not None:
        between = np.asarray(bounds, dtype=np.float64)
        if between.shape != (len(y), 2) or np.isnan(between).any():
            raise ComparisonError("Give each piece two bounds, infinite where there is none.")
    known = ~np.isnan(y)
    used = known | np.isfinite(between).any(axis=1)
    for j, name in enumerate(layout.arm_names):
        if not (used & (layout.arm == j)).any():
            raise ComparisonError(
                f"No value for any piece of arm '{name}': record one, or leave the arm out."
            )
    if not known.any():
        raise ComparisonError("No piece has a value: bounds alone do not say how much.")
    return y[used], between[used], used


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
