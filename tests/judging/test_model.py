import numpy as np
import pytest
from scipy import stats

from fairsmoke.judging.design import not_separable
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.model import ComparisonLayout, compare, sensitivity
from fairsmoke.judging.priors import Priors, SpreadPrior

ARMS = ("paper", "bare")
GROUPS = {
    "cook": SpreadPrior.log_normal(1.5, 2.0),
    "animal": SpreadPrior.log_normal(1.5, 1.8),
    "position": SpreadPrior.half_normal(1.5),
}
PRIORS = Priors(60.0, 15.0, 6.0, SpreadPrior.log_normal(2.5, 1.6), GROUPS)

# Invented: six shoulders in three cooks, yield in per cent.
Y = np.array([61.0, 58.2, 60.1, 57.9, 63.5, 59.9])
ARM = np.array([0, 1] * 3)
COOK = np.array([0, 0, 1, 1, 2, 2])
SIX = ComparisonLayout(ARM, ARMS, {"cook": COOK, "position": np.array([0, 1, 1, 0, 0, 1])})


def test_same_input_same_output() -> None:
    first, second = (compare(Y, SIX, PRIORS).difference(*ARMS) for _ in range(2))
    assert first.mean == second.mean
    assert first.interval() == second.interval()


def test_missing_rows_are_dropped_and_counted() -> None:
    y = Y.copy()
    y[[1, 2]] = np.nan
    with_gaps = compare(y, SIX, PRIORS)
    kept = np.array([0, 3, 4, 5])
    without = ComparisonLayout(ARM[kept], ARMS, {k: v[kept] for k, v in SIX.factors.items()})
    assert with_gaps.dropped == 2
    assert with_gaps.counts() == {"paper": 2, "bare": 2}
    expected = compare(Y[kept], without, PRIORS)
    assert with_gaps.difference(*ARMS).mean == pytest.approx(expected.difference(*ARMS).mean)


def test_measurement_covariance_follows_the_rows_that_stay() -> None:
    y = np.append(Y, np.nan)
    layout = ComparisonLayout(np.append(ARM, 0), ARMS)
    cov = np.diag(np.arange(1.0, 8.0))
    found = compare(y, layout, PRIORS, measurement_cov=cov)
    expected = compare(Y, ComparisonLayout(ARM, ARMS), PRIORS, measurement_cov=cov[:6, :6])
    assert found.difference(*ARMS).sd == pytest.approx(expected.difference(*ARMS).sd)


def test_an_arm_without_data_is_named() -> None:
    y = np.where(ARM == 1, np.nan, Y)
    with pytest.raises(ComparisonError, match="'bare'"):
        compare(y, SIX, PRIORS)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"y": Y[:4]}, "4 values for 6 pieces"),
        ({"y": np.where(COOK == 1, np.inf, Y)}, "piece 3 is infinite"),
        ({"cov": np.eye(3)}, r"shape \(3, 3\)"),
        ({"cov": -np.eye(6)}, "negative variance"),
        ({"cov": np.triu(np.ones((6, 6)))}, "symmetric"),
        ({"cov": np.full((6, 6), np.nan)}, "finite"),
    ],
)
def test_bad_input_says_what_and_where(change: dict[str, np.ndarray], message: str) -> None:
    with pytest.raises(ComparisonError, match=message):
        compare(change.get("y", Y), SIX, PRIORS, measurement_cov=change.get("cov"))


def test_factor_without_prior_is_named() -> None:
    layout = ComparisonLayout(ARM, ARMS, {"shelf": COOK})
    with pytest.raises(ComparisonError, match="'shelf'"):
        compare(Y, layout, PRIORS)


@pytest.mark.parametrize(
    ("arm", "names", "factors", "message"),
    [
        ([0, 1], ("paper",), {}, "two or more arms"),
        ([0, 1], ("paper", "paper"), {}, "different names"),
        ([0, 2], ARMS, {}, "run from 0 to 2"),
        ([0.0, 1.0], ARMS, {}, "whole numbers"),
        ([0, 1], ARMS, {"cook": [0]}, "1 labels for 2 pieces"),
        ([0, 1], ARMS, {"piece": [0, 1]}, "rename"),
    ],
)
def test_layout_refuses(
    arm: list[float], names: tuple[str, ...], factors: dict[str, list[int]], message: str
) -> None:
    with pytest.raises(ComparisonError, match=message):
        ComparisonLayout(np.array(arm), names, {k: np.array(v) for k, v in factors.items()})


def test_one_pair_reports_what_it_cannot_tell() -> None:
    two = np.array([0, 1])
    layout = ComparisonLayout(two, ARMS, {"cook": np.array([7, 7]), "position": two})
    found = compare([62.0, 57.0], layout, PRIORS)
    assert [(x.factor, x.merged_with) for x in found.not_separable] == [
        ("piece", "arm"),
        ("cook", "level"),
        ("position", "arm"),
    ]
    assert found.one_level == ("cook",)
    assert "position and arm cannot be told apart" in found.not_separable[2].sentence
    # In the model all the same: without it the answer would claim to know more.
    bare = compare([62.0, 57.0], ComparisonLayout(two, ARMS, {"cook": np.array([7, 7])}), PRIORS)
    assert found.difference(*ARMS).sd > 1.02 * bare.difference(*ARMS).sd
    # Nothing in one pair tells the spreads much: they stay near their priors.
    assert found.spread("cook").interval() == pytest.approx(
        (GROUPS["cook"].quantile(0.025), GROUPS["cook"].quantile(0.975)), rel=0.01
    )


@pytest.mark.parametrize(
    ("factors", "expected"),
    [
        ({"animal": [0, 1, 2, 3, 4, 5]}, [("piece", "animal"), ("animal", "piece")]),
        (
            {"cook": [0, 0, 1, 1, 2, 2], "animal": [3, 3, 1, 1, 2, 2]},
            [("cook", "animal"), ("animal", "cook")],
        ),
        ({"position": [0, 1, 0, 1, 0, 1]}, [("position", "arm")]),
        ({"cook": [0, 0, 1, 1, 2, 2]}, []),
        ({"cook": [0, 0, 1, 1, 2, 2], "position": [0, 1, 1, 0, 0, 1]}, []),
    ],
)
def test_not_separable(factors: dict[str, list[int]], expected: list[tuple[str, str]]) -> None:
    found = not_separable(ARM, {k: np.array(v) for k, v in factors.items()})
    assert [(x.factor, x.merged_with) for x in found] == expected


def test_three_arms_agree_among_themselves() -> None:
    layout = ComparisonLayout(
        np.array([0, 1, 2] * 3), ("a", "b", "c"), {"cook": np.repeat([0, 1, 2], 3)}
    )
    y = np.array([61.0, 58.0, 55.0, 62.0, 60.5, 57.1, 59.2, 58.8, 54.0])
    found = compare(y, layout, PRIORS)
    ab, bc, ac = (found.difference(*pair) for pair in (("a", "b"), ("b", "c"), ("a", "c")))
    assert ab.mean + bc.mean == pytest.approx(ac.mean)
    assert found.arm_level("a").mean - found.arm_level("c").mean == pytest.approx(ac.mean)
    assert found.difference("b", "a").mean == pytest.approx(-ab.mean)
    with pytest.raises(ComparisonError, match="itself"):
        found.difference("a", "a")
    with pytest.raises(ComparisonError, match="No arm 'd'"):
        found.arm_level("d")


def test_ratio_against_draws_from_the_same_posterior() -> None:
    """Outside check: plain draws with numpy from the arms' joint posterior."""
    found = compare(Y, SIX, PRIORS)
    ratio = found.ratio("bare", "paper")
    rng = np.random.default_rng(3)
    node = rng.choice(len(ratio.weights), size=200_000, p=ratio.weights)
    roots = np.linalg.cholesky(ratio.covariances)
    draws = ratio.means[node] + np.einsum(
        "gij,gj->gi", roots[node], rng.normal(size=(len(node), 2))
    )
    drawn = draws[:, 0] / draws[:, 1]
    expected = np.quantile(drawn, [0.025, 0.5, 0.975])
    low, high = ratio.interval()
    assert (low, ratio.median, high) == pytest.approx(tuple(expected), abs=0.02 * drawn.std())
    assert ratio.prob_greater(1.0) == pytest.approx(np.mean(drawn > 1.0), abs=0.004)


def test_ratio_is_refused_near_nought_and_turned_when_negative() -> None:
    near = Priors(0.0, 5.0, 6.0, PRIORS.piece, GROUPS)
    with pytest.raises(ComparisonError, match="Use the difference"):
        compare(Y - 60.0, SIX, near).ratio(*ARMS)
    below = Priors(-60.0, 15.0, 6.0, PRIORS.piece, GROUPS)
    turned, straight = compare(-Y, SIX, below).ratio(*ARMS), compare(Y, SIX, PRIORS).ratio(*ARMS)
    assert turned.interval() == pytest.approx(straight.interval(), rel=1e-6)


def test_new_pair_spreads_as_the_parts_add_up() -> None:
    """Known spreads: variance of a new difference = posterior + 2 piece^2 + 2 of what differs."""
    known = {k: SpreadPrior.log_normal(s, 1.0) for k, s in (("cook", 3.0), ("position", 1.0))}
    priors = Priors(60.0, 15.0, 6.0, SpreadPrior.log_normal(2.0, 1.0), known)
    found = compare(Y, SIX, priors)
    base = found.difference(*ARMS).sd ** 2
    new = found.predictive_difference(*ARMS, shared=("cook",), measurement_sd=0.5)
    assert new.sd**2 == pytest.approx(base + 2 * 4.0 + 2 * 1.0 + 0.25)
    apart = found.predictive_difference(*ARMS, shared=())
    assert apart.sd**2 == pytest.approx(base + 2 * 4.0 + 2 * 1.0 + 2 * 9.0)


def test_variance_shares_add_up_and_match_a_direct_sum() -> None:
    """Known spreads, one pair: weights of the estimate are +-k, so each share is known."""
    known = {"position": SpreadPrior.log_normal(1.0, 1.0)}
    priors = Priors(60.0, 15.0, 6.0, SpreadPrior.log_normal(2.0, 1.0), known)
    two = np.array([0, 1])
    layout = ComparisonLayout(two, ARMS, {"position": two})
    shares = compare([62.0, 58.0], layout, priors, measurement_cov=0.25 * np.eye(2))
    found = shares.variance_shares(*ARMS)
    noise = 2 * (4.0 + 1.0 + 0.25)
    k = 36.0 / (36.0 + noise)
    whole = 36.0 * noise / (36.0 + noise)
    expected = {
        "piece": 2 * 4.0 * k**2 / whole,
        "position": 2 * 1.0 * k**2 / whole,
        "measurement": 2 * 0.25 * k**2 / whole,
        "prior": 36.0 * (1 - k) ** 2 / whole,
        "not knowing the spreads": 0.0,
    }
    assert found == pytest.approx(expected)


@pytest.mark.parametrize("cov", [None, 0.2 + np.diag(np.linspace(0.1, 1.0, 6))])
def test_variance_shares_add_up(cov: np.ndarray | None) -> None:
    """The parts are worked out apart from the posterior variance, and must rebuild it."""
    found = compare(Y, SIX, PRIORS, measurement_cov=cov)
    shares = found.variance_shares(*ARMS)
    assert sum(shares.values()) == pytest.approx(1.0)
    d = found.difference(*ARMS)
    between = float(d.weights @ (d.means - d.mean) ** 2)
    assert shares["not knowing the spreads"] * d.sd**2 == pytest.approx(between)


def test_spread_of_sixty_pieces_is_near_what_was_drawn() -> None:
    """Outside check: the chi interval of the pooled sd (scipy), as the prior is wide."""
    rng = np.random.default_rng(8)
    arm = np.arange(60) % 2
    y = 60.0 - 3.0 * arm + rng.normal(scale=2.0, size=60)
    wide = Priors(60.0, 50.0, 50.0, SpreadPrior.log_normal(2.0, 20.0))
    spread = compare(y, ComparisonLayout(arm, ARMS), wide).spread("piece")
    pooled = sum(((y[arm == j] - y[arm == j].mean()) ** 2).sum() for j in (0, 1))
    low, high = (np.sqrt(pooled / stats.chi2.ppf(p, 58)) for p in (0.975, 0.025))
    assert spread.interval() == pytest.approx((low, high), rel=0.02)
    assert low < spread.median < spread.mean < high
    with pytest.raises(ComparisonError, match="No spread 'oven'"):
        compare(y, ComparisonLayout(arm, ARMS), wide).spread("oven")


def test_sensitivity_reruns_with_half_and_double() -> None:
    lines = sensitivity(Y, SIX, PRIORS, arm="paper", other="bare", threshold=1.0)
    assert [line.factor for line in lines] == [0.5, 1.0, 2.0]
    middle = compare(Y, SIX, PRIORS).difference(*ARMS)
    assert lines[1].mean == pytest.approx(middle.mean)
    assert lines[1].prob_above == pytest.approx(middle.prob_greater(1.0))
    assert lines[0].sd < lines[1].sd < lines[2].sd


@pytest.mark.parametrize("times", [0.01, 1e-6])
def test_values_in_per_cent_with_priors_for_fractions_are_noticed(times: float) -> None:
    with pytest.raises(ComparisonError, match="same units"):
        compare(Y, SIX, PRIORS.scaled(times))
