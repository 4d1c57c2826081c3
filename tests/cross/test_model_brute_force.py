"""The comparison model against an independent numerical integration.

Outside reference: the same model written another way. The response and the difference of two arms
are jointly Gaussian given the spreads, so the conditional answer is the textbook formula for a
conditional normal (from memory: Rasmussen and Williams 2006, equation A.6), with one plain linear
solve per point; the spreads are integrated by a dense Gauss-Legendre tensor grid over the prior
quantiles (scipy's own distributions), likelihood as weight. No code is shared with the model, which
works with precisions, blocks and a lattice in normal scores.

Asked: posterior mean within 1 % of its sd, interval ends within 2 %, probabilities within 0.002.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from fairsmoke.judging.model import ComparisonLayout, compare
from fairsmoke.judging.priors import Priors, SpreadFamily, SpreadPrior

Array = NDArray[np.float64]
Labels = NDArray[np.intp]


@dataclass(frozen=True)
class Case:
    """A layout with its data, in points of yield."""

    y: Array
    arm: list[int]
    factors: Mapping[str, list[int]]
    groups: Mapping[str, SpreadPrior]
    piece: SpreadPrior = field(default_factory=lambda: SpreadPrior.log_normal(2.5, 1.6))
    cov: Array | None = None
    nodes: int = 32


def lognormal(median: float, factor: float) -> SpreadPrior:
    return SpreadPrior.log_normal(median, factor)


NAN = np.nan
THREE = np.array([61.0, 57.5, 55.9, 63.8, 60.2, 58.4, 62.0, 57.0, 54.1])
CASES = {
    "one pair": Case(
        y=np.array([62.1, 56.4]),
        arm=[0, 1],
        factors={"cook": [0, 0], "position": [0, 1]},
        groups={"cook": lognormal(1.5, 2.0), "position": lognormal(1.0, 2.0)},
        nodes=48,
    ),
    "six pairs in three cooks": Case(
        y=np.array([61.2, 58.0, 63.3, 59.1, 57.9, 55.0, 60.8, 55.7, 65.0, 62.2, 63.9, 61.8]),
        arm=[0, 1] * 6,
        factors={
            "cook": [0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2],
            "position": [0, 1, 2, 3, 1, 0, 3, 2, 2, 0, 1, 3],
        },
        groups={"cook": lognormal(1.5, 2.0), "position": SpreadPrior.half_normal(1.5)},
    ),
    "unbalanced with missing": Case(
        y=np.array([61.2, NAN, 63.3, 59.1, 66.0, NAN, 60.8, 55.7, 64.2, 52.0]),
        arm=[0, 1, 0, 1, 0, 1, 0, 0, 0, 1],
        factors={
            "cook": [0, 0, 0, 1, 1, 1, 2, 2, 2, 2],
            "animal": [0, 0, 1, 1, 2, 2, 3, 4, 4, 3],
        },
        groups={"cook": lognormal(1.5, 2.0), "animal": lognormal(1.5, 1.8)},
        nodes=36,
    ),
    "halves with a missing half": Case(
        y=np.array([58.2, 55.1, 63.0, 61.2, 57.4, NAN, 66.3, 61.9]),
        arm=[0, 1, 1, 0, 0, 1, 0, 1],
        factors={"parent": [0, 0, 1, 1, 2, 2, 3, 3], "cook": [0, 0, 0, 0, 1, 1, 1, 1]},
        groups={"parent": lognormal(2.5, 2.0), "cook": SpreadPrior.half_normal(2.0)},
        piece=lognormal(1.8, 1.8),
        nodes=36,
    ),
    "three arms, position, cook, measurement": Case(
        y=THREE,
        arm=[0, 1, 2] * 3,
        factors={"cook": [0, 0, 0, 1, 1, 1, 2, 2, 2], "position": [0, 1, 2, 1, 2, 0, 2, 0, 1]},
        groups={"cook": lognormal(1.5, 2.0), "position": lognormal(1.0, 2.0)},
        cov=0.3 * np.ones((9, 9)) + np.diag(np.linspace(0.05, 2.0, 9)),
    ),
}
MU_MEAN, MU_SD, DIFFERENCE_SD = 60.0, 12.0, 6.0


@dataclass(frozen=True)
class Reference:
    weights: Array
    means: Array
    sds: Array
    log_marginal: float

    def cdf(self, x: float) -> float:
        return float(np.sum(self.weights * stats.norm.cdf(x, self.means, self.sds)))

    def quantile(self, p: float) -> float:
        low, high = -200.0, 200.0
        for _ in range(60):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self.cdf(middle) < p else (low, middle)
        return 0.5 * (low + high)


def prior_quantiles(prior: SpreadPrior, u: Array) -> Array:
    if prior.family is SpreadFamily.HALF_NORMAL:
        return np.asarray(stats.halfnorm.ppf(u, scale=prior.size))
    return np.asarray(stats.lognorm.ppf(u, s=np.log(prior.factor), scale=prior.size))


def brute_force(case: Case, first: int, second: int) -> Reference:
    keep = ~np.isnan(case.y)
    y, arm = case.y[keep], np.array(case.arm)[keep]
    n = len(y)
    same = [np.eye(n)]
    for labels in case.factors.values():
        kept = np.array(labels)[keep]
        same.append((kept[:, None] == kept[None, :]).astype(float))
    spreads = [case.piece, *(case.groups[name] for name in case.factors)]
    points, weights = np.polynomial.legendre.leggauss(case.nodes)
    u, w = 0.5 * (points + 1.0), 0.5 * weights
    variances = [prior_quantiles(prior, u) ** 2 for prior in spreads]
    fixed = MU_SD**2 + DIFFERENCE_SD**2 / 2.0 * (arm[:, None] == arm[None, :])
    if case.cov is not None:
        fixed = fixed + case.cov[np.ix_(keep, keep)]
    with_difference = DIFFERENCE_SD**2 / 2.0 * ((arm == first) * 1.0 - (arm == second) * 1.0)
    off = y - MU_MEAN
    logs, means, sds = [], [], []
    for outer in product(range(case.nodes), repeat=len(spreads) - 1):
        base = fixed + sum(variances[k + 1][i] * same[k + 1] for k, i in enumerate(outer))
        v = base + variances[0][:, None, None] * same[0]
        right = np.broadcast_to(np.column_stack([off, with_difference]), (case.nodes, n, 2))
        solved = np.linalg.solve(v, right)
        log_w = np.log(w) + sum(np.log(w[i]) for i in outer)
        logs.append(log_w - 0.5 * (np.linalg.slogdet(v)[1] + solved[:, :, 0] @ off))
        means.append(solved[:, :, 0] @ with_difference)
        sds.append(np.sqrt(DIFFERENCE_SD**2 - solved[:, :, 1] @ with_difference))
    log = np.concatenate(logs)
    share = np.exp(log - log.max())
    log_marginal = log.max() + np.log(share.sum()) - 0.5 * n * np.log(2.0 * np.pi)
    return Reference(share / share.sum(), np.concatenate(means), np.concatenate(sds), log_marginal)


@pytest.mark.parametrize("name", CASES)
def test_agrees_with_brute_force(name: str) -> None:
    case = CASES[name]
    arms = max(case.arm) + 1
    layout = ComparisonLayout(
        np.array(case.arm),
        tuple("abc"[:arms]),
        {k: np.array(v) for k, v in case.factors.items()},
    )
    priors = Priors(MU_MEAN, MU_SD, DIFFERENCE_SD, case.piece, case.groups)
    found = compare(case.y, layout, priors, measurement_cov=case.cov)
    for first, second in ((0, 1), (arms - 1, 0)):
        own = found.difference("abc"[first], "abc"[second])
        reference = brute_force(case, first, second)
        sd = float(
            np.sqrt(
                reference.weights @ (reference.sds**2 + reference.means**2)
                - (reference.weights @ reference.means) ** 2
            )
        )
        assert own.mean == pytest.approx(reference.weights @ reference.means, abs=0.01 * sd)
        assert own.sd == pytest.approx(sd, rel=0.01)
        low, high = own.interval(0.95)
        assert low == pytest.approx(reference.quantile(0.025), abs=0.02 * sd)
        assert high == pytest.approx(reference.quantile(0.975), abs=0.02 * sd)
        for threshold in (-4.0, -1.0, 0.0, 2.0, 5.0):
            expected = 1.0 - reference.cdf(threshold)
            assert own.prob_greater(threshold) == pytest.approx(expected, abs=0.002)
        assert found.log_marginal == pytest.approx(reference.log_marginal, abs=0.005)


def test_check_can_fail() -> None:
    """A piece prior 1.5 times as large must be seen at these tolerances."""
    case = CASES["one pair"]
    priors = Priors(MU_MEAN, MU_SD, DIFFERENCE_SD, case.piece.scaled(1.5), case.groups)
    layout = ComparisonLayout(
        np.array(case.arm), ("a", "b"), {k: np.array(v) for k, v in case.factors.items()}
    )
    own = compare(case.y, layout, priors).difference("a", "b")
    reference = brute_force(case, 0, 1)
    assert abs(own.prob_greater(0.0) - (1.0 - reference.cdf(0.0))) > 0.02
