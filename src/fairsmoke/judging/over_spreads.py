"""The posterior over all spreads: the conditional answers of one or several data sets, mixed.

There are several data sets where values are only known to lie between bounds: each then has one
point of the unknown values (`judging.latent`) and the log of what that weighs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy

from fairsmoke.judging import conditional
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.priors import FloatArray, OddPiece, SpreadPrior
from fairsmoke.judging.quadrature import Lattice, integrate

# Normals whose weight is below this share of the largest are dropped.
_NEGLIGIBLE = 1e-6
# Of several data sets there are so many nodes and normals that evenly drawn ones stand for all.
_MOST_NODES, _MOST_NORMALS = 160, 6000
# Of several data sets, how many lay the lattice; all of them are then weighed on it.
_LAYING = 4


@dataclass(frozen=True, slots=True, eq=False)
class DataSets:
    """Systems of the same pieces, each with the log of its weight."""

    systems: Sequence[conditional.ComparisonSystem]
    log_weights: FloatArray

    @property
    def several(self) -> bool:
        """Whether there is more than one."""
        return len(self.systems) > 1

    def laying(self) -> "DataSets":
        """Return those few, spread over all, that lay the lattice."""
        if len(self.systems) <= _LAYING:
            return self
        at = np.linspace(0, len(self.systems) - 1, _LAYING).round().astype(int)
        return DataSets([self.systems[one] for one in at], self.log_weights[at])


@dataclass(frozen=True, slots=True, eq=False)
class SpreadMixture:
    """Normals of the arm levels: weights (C,), means, covariances, and the node of each, (C,).

    ``node_weights`` (G,) is the posterior of the nodes, ``odd`` (m,) the probability that each
    piece is the odd one, ``log_marginal`` the log density of the data.
    """

    weights: FloatArray
    means: FloatArray
    covariances: FloatArray
    node: npt.NDArray[np.intp]
    node_weights: FloatArray
    odd: FloatArray
    log_marginal: float


def _conditional(
    system: conditional.ComparisonSystem, sds: FloatArray, odd: OddPiece | None
) -> conditional.OddAnswers | conditional.ConditionalPosteriors:
    if odd is None:
        return conditional.evaluate(system, sds[:, 0], sds[:, 1:])
    return conditional.evaluate_odd(
        system, sds[:, 0], sds[:, 1:], odd_sd=odd.sd, odds=odd.odds(system.n)
    )


def _collapsed(
    data: DataSets, sds: FloatArray, odd: OddPiece | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return log likelihood (G,), means (G, J) and covariances (G, J, J) over the data sets."""
    found = []
    for system in data.systems:
        one = _conditional(system, sds, odd)
        found.append(one.collapsed() if isinstance(one, conditional.OddAnswers) else one)
    if not data.several:
        (one,) = found
        return one.log_likelihood + data.log_weights[0], one.means, one.covariances
    logs = np.stack([one.log_likelihood for one in found]) + data.log_weights[:, None]
    total = scipy.special.logsumexp(logs, axis=0)
    share = np.exp(logs - total)
    means = np.stack([one.means for one in found])
    middle = np.einsum("sg,sgj->gj", share, means)
    off = means - middle
    covariances = np.einsum("sg,sgjk->gjk", share, np.stack([one.covariances for one in found]))
    covariances += np.einsum("sg,sgj,sgk->gjk", share, off, off)
    return np.asarray(total), middle, covariances


def integrate_spreads(
    data: DataSets, spreads: Mapping[str, SpreadPrior], odd: OddPiece | None
) -> tuple[Lattice, dict[str, FloatArray]]:
    """Integrate over the spreads that are not known.

    Returns the lattice, whose values are arm means (G, J) and covariances (G, J*J) side by side,
    and each spread at its nodes.
    """
    priors = list(spreads.values())
    axis = np.cumsum([not p.known for p in priors]) - 1
    laying = data.laying()
    arms = len(data.systems[0].root)

    def sds_at(z: FloatArray) -> FloatArray:
        columns = [
            np.full(len(z), p.size) if p.known else p.sd_at(z[:, a])
            for p, a in zip(priors, axis, strict=True)
        ]
        return np.column_stack(columns)

    def evaluate(z: FloatArray) -> tuple[FloatArray, FloatArray]:
        log_likelihood, means, covariances = _collapsed(laying, sds_at(z), odd)
        return log_likelihood + _log_prior(z), np.hstack([means, covariances.reshape(len(z), -1)])

    def probe(values: FloatArray, weights: FloatArray) -> FloatArray:
        """Chances that each arm less the first is below five points across its posterior."""
        means = values[:, 1:arms] - values[:, :1]
        c = values[:, arms:].reshape(-1, arms, arms)
        own = np.diagonal(c, axis1=1, axis2=2)[:, 1:]
        variance = own + c[:, :1, 0] - 2.0 * c[:, 1:, 0]
        middle = weights @ means
        sd = np.sqrt(weights @ (variance + (means - middle) ** 2))
        points = middle + np.array([-2.0, -1.0, 0.0, 1.0, 2.0])[:, None, None] * sd
        chances = scipy.special.ndtr((points - means) / np.sqrt(variance))
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


def _log_prior(z: FloatArray) -> FloatArray:
    return np.asarray(-0.5 * np.sum(z**2 + np.log(2.0 * np.pi), axis=1), dtype=np.float64)


def mixture_of(
    data: DataSets, lattice: Lattice, sds: Mapping[str, FloatArray], odd: OddPiece | None
) -> SpreadMixture:
    """Return the posterior's normals, one a node, data set and piece that may be odd."""
    # With one normal a node there are few enough to keep them all.
    least = _NEGLIGIBLE * lattice.weights.max() if odd is not None else -1.0
    kept = np.flatnonzero(lattice.weights > least)
    kept_weights = lattice.weights[kept]
    if data.several:
        kept, kept_weights = _stand_ins(lattice.weights, _MOST_NODES)
    each = np.column_stack([np.zeros((len(kept), 0)), *(s[kept] for s in sds.values())])
    found = [_conditional(system, each, odd) for system in data.systems]
    with np.errstate(divide="ignore"):
        node_logs = np.log(kept_weights)
    log_marginal = lattice.log_integral
    logs = np.stack([one.log_likelihood for one in found]) + data.log_weights[:, None]
    if data.several:
        # The lattice was laid by a few of the data sets: what it holds is summed anew over all.
        laid, _, _ = _collapsed(data.laying(), each, odd)
        total = scipy.special.logsumexp(logs, axis=0)
        node_logs = node_logs - laid + total
        log_marginal += float(scipy.special.logsumexp(node_logs))
    share = np.exp(logs - scipy.special.logsumexp(logs, axis=0))
    node_share = np.exp(node_logs - scipy.special.logsumexp(node_logs))
    node_weights = np.zeros(len(lattice.weights))
    node_weights[kept] = node_share
    if not data.several:
        node_weights = lattice.weights
    parts = [
        _components(one, node_share * own, kept, apart=not data.several)
        for one, own in zip(found, share, strict=True)
    ]
    weights, means, covariances, node = (np.concatenate(p) for p in zip(*parts, strict=True))
    if data.several:
        # In order of what they say of the arms, so that the few lie as evenly as the many.
        order = np.lexsort((means[:, 0], means[:, 0] - means[:, -1]))
        drawn, weights = _stand_ins(weights[order] / weights.sum(), _MOST_NORMALS)
        at = order[drawn]
        means, covariances, node = means[at], covariances[at], node[at]
    odds = np.zeros(0)
    if odd is not None:
        odds = sum(
            (node_share * own) @ one.shares[:, 1:]
            for one, own in zip(found, share, strict=True)
            if isinstance(one, conditional.OddAnswers)
        )
    return SpreadMixture(
        weights / weights.sum(),
        means,
        covariances,
        node,
        node_weights,
        np.asarray(odds, dtype=np.float64),
        log_marginal,
    )


def _stand_ins(weights: FloatArray, most: int) -> tuple[npt.NDArray[np.intp], FloatArray]:
    """Return at most so many of the items that stand for all, and their weights, summing to 1.

    Drawn at even steps of the running sum of weights (N,), which sum to 1: an item of weight w is
    met w * most times, give or take one. All of them where they are few enough.
    """
    if len(weights) <= most:
        return np.arange(len(weights)), weights
    met = np.searchsorted(np.cumsum(weights), (np.arange(most) + 0.5) / most)
    at, times = np.unique(np.minimum(met, len(weights) - 1), return_counts=True)
    return at, times / most


def _components(
    found: conditional.OddAnswers | conditional.ConditionalPosteriors,
    weights: FloatArray,
    nodes: npt.NDArray[np.intp],
    *,
    apart: bool,
) -> tuple[FloatArray, FloatArray, FloatArray, npt.NDArray[np.intp]]:
    """Return weights, means, covariances and nodes of the normals of one data set.

    One for each piece that may be odd where these are kept ``apart``, else one over all of them:
    with many data sets their number is what makes the mixture's shape.
    """
    if isinstance(found, conditional.OddAnswers) and not apart:
        found = found.collapsed()
    if isinstance(found, conditional.ConditionalPosteriors):
        return weights, found.means, found.covariances, nodes
    shares = weights[:, None] * found.shares
    at, which = np.nonzero(shares > _NEGLIGIBLE * shares.max())
    means, covariances = found.components()
    return shares[at, which], means[at, which], covariances[at, which], nodes[at]
