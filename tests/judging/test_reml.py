"""REML in the corners: boundaries, what cannot be told apart, agreement with simpler answers."""

import numpy as np
import pytest

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.paired import paired_comparison
from fairsmoke.judging.reml import fit_reml
from fairsmoke.judging.small_sample_df import (
    DfMethod,
    contrast_test,
    f_test,
    kenward_roger_covariance,
    reml_arm_difference,
)

METHODS: tuple[DfMethod, ...] = ("kenward-roger", "satterthwaite")


def crossed_trial(
    seed: int, n_cooks: int = 4
) -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Invented: two arms and two animals a cook, one piece of each lost here and there."""
    rng = np.random.default_rng(seed)
    cook, animal, arm = (a.ravel() for a in np.meshgrid(range(n_cooks), range(4), range(2)))
    response = (
        rng.normal(0, 2, n_cooks)[cook] + rng.normal(0, 1, 4)[animal] + 0.5 * arm
        + rng.normal(0, 1, len(arm))
    )  # fmt: skip
    response[rng.choice(len(response), 5, replace=False)] = np.nan
    return response, arm, {"cook": cook, "animal": animal}


def test_complete_pairs_are_the_paired_t() -> None:
    rng = np.random.default_rng(1)
    pair, arm = np.repeat(np.arange(6), 2), np.tile([0, 1], 6)
    response = rng.normal(0, 3, 6)[pair] + rng.normal(size=12)
    paired = paired_comparison(response[1::2] - response[::2])
    for method in METHODS:
        mixed = reml_arm_difference(response, arm, {"pair": pair}, method=method).difference
        assert mixed.estimate == pytest.approx(paired.mean)
        assert mixed.df == pytest.approx(5)
        assert mixed.interval == pytest.approx(paired.interval)


@pytest.mark.parametrize("seed", range(5))
def test_variances_are_at_a_minimum(seed: int) -> None:
    response, arm, factors = crossed_trial(seed)
    fit = fit_reml(response, np.eye(2)[arm], factors)
    best = np.array([*fit.variances.values(), fit.residual_variance])
    kept = ~np.isnan(response)
    y, x = response[kept], np.eye(2)[arm][kept]

    def criterion(variances: np.ndarray) -> float:
        v = variances[-1] * np.eye(len(y))
        for variance, labels in zip(variances, factors.values(), strict=False):
            v += variance * np.equal.outer(labels[kept], labels[kept])
        inverse = np.linalg.inv(v)
        information = x.T @ inverse @ x
        residual = y - x @ np.linalg.solve(information, x.T @ inverse @ y)
        return float(
            np.linalg.slogdet(v)[1]
            + np.linalg.slogdet(information)[1]
            + residual @ inverse @ residual
            + (len(y) - 2) * np.log(2 * np.pi)
        )

    assert criterion(best) == pytest.approx(fit.criterion, abs=1e-9)
    for i in range(3):
        for step in (1e-3, -1e-3):
            moved = best.copy()
            moved[i] += step
            if moved[i] >= 0:
                assert criterion(moved) > fit.criterion


def test_information_is_the_second_derivative() -> None:
    # Observed information against a numerical second difference of the criterion, halved; the
    # expected one against the mean of simulated observed ones is left to the published values.
    response, arm, factors = crossed_trial(0)
    kept = ~np.isnan(response)
    y, x = response[kept], np.eye(2)[arm][kept]
    fit = fit_reml(y, x, {name: labels[kept] for name, labels in factors.items()})
    best = np.array([*fit.variances.values(), fit.residual_variance])
    kernels = [np.equal.outer(labels[kept], labels[kept]) for labels in factors.values()]
    kernels.append(np.eye(len(y), dtype=bool))

    def half_criterion(variances: np.ndarray) -> float:
        v = sum(s * k for s, k in zip(variances, kernels, strict=True))
        inverse = np.linalg.inv(v)
        information = x.T @ inverse @ x
        residual = y - x @ np.linalg.solve(information, x.T @ inverse @ y)
        return 0.5 * float(
            np.linalg.slogdet(v)[1]
            + np.linalg.slogdet(information)[1]
            + residual @ inverse @ residual
        )

    steps = 1e-3 * np.eye(3)
    for i in range(3):
        for j in range(3):
            numerical = (
                half_criterion(best + steps[i] + steps[j])
                - half_criterion(best + steps[i] - steps[j])
                - half_criterion(best - steps[i] + steps[j])
                + half_criterion(best - steps[i] - steps[j])
            ) / 4e-6
            assert fit.observed_information[i, j] == pytest.approx(numerical, rel=1e-3, abs=1e-6)


def test_scale_and_shift_of_the_response() -> None:
    response, arm, factors = crossed_trial(3)
    plain = reml_arm_difference(response, arm, factors)
    scaled = reml_arm_difference(1000 * response + 70, arm, factors)
    assert scaled.difference.estimate == pytest.approx(1000 * plain.difference.estimate)
    assert scaled.difference.df == pytest.approx(plain.difference.df)
    assert scaled.fit.residual_variance == pytest.approx(1e6 * plain.fit.residual_variance)


def test_a_factor_without_spread_ends_at_zero() -> None:
    # Pairs that differ from one another less than their halves do.
    pair, arm = np.repeat(np.arange(4), 2), np.tile([0, 1], 4)
    response = np.array([1.0, 3.0, 3.1, 1.2, 0.9, 3.2, 2.9, 1.0])
    result = reml_arm_difference(response, arm, {"pair": pair})
    assert result.fit.variances["pair"] == 0.0
    assert result.fit.boundary == ("pair",)
    known = reml_arm_difference(response, arm, {"pair": pair}, method="satterthwaite")
    assert known.difference.df == pytest.approx(6)
    # Kenward and Roger's method still counts the pairs' variance as uncertain.
    assert result.difference.df < 6


def test_kenward_roger_widens_only_where_variances_matter() -> None:
    response, arm, factors = crossed_trial(2)
    fit = fit_reml(response, np.eye(2)[arm], factors)
    extra = kenward_roger_covariance(fit) - fit.covariance
    assert np.all(np.linalg.eigvalsh(extra) > -1e-12)
    assert contrast_test(fit, [-1, 1]).se >= contrast_test(fit, [-1, 1], method="satterthwaite").se


def test_one_row_of_an_f_test_is_the_squared_t() -> None:
    response, arm, factors = crossed_trial(4)
    fit = fit_reml(response, np.eye(2)[arm], factors)
    for method in METHODS:
        t = contrast_test(fit, [-1, 1], method=method)
        f = f_test(fit, [[-1, 1]], method=method)
        assert f.f_ratio == pytest.approx(t.t**2)
        assert f.df_denominator == pytest.approx(t.df)
        assert f.p == pytest.approx(t.p)


def test_position_can_be_adjusted_for() -> None:
    pair, arm = np.repeat(np.arange(6), 2), np.array([0, 1, 1, 0, 0, 1, 1, 0, 0, 1, 1, 0])
    right = np.tile([0, 1], 6)
    response = np.random.default_rng(0).normal(0, 0.1, 12) + 5.0 * right + 1.0 * arm
    result = reml_arm_difference(response, arm, {"pair": pair}, adjust={"right": right})
    assert result.fit.fixed_names == ("arm 0", "arm 1", "right 1")
    assert result.difference.estimate == pytest.approx(1.0, abs=0.2)
    assert result.fit.coefficients[2] == pytest.approx(5.0, abs=0.2)


Y = np.array([1.0, 2.5, 3.0, 2.0, 4.0, 3.5])
ONES = np.ones((6, 1))
ARM = np.array([0, 1, 0, 1, 0, 1])


@pytest.mark.parametrize(
    ("response", "fixed", "factors", "words"),
    [
        (Y[:5], ONES, {}, "shape"),
        (np.array([1, 2, np.inf, 3, 4, 5]), ONES, {}, "not finite"),
        (Y, ONES, {"cook": [0, 1]}, "factor cook"),
        (Y, np.column_stack([ONES, ARM, 1 - ARM]), {}, "written through the others"),
        (Y, np.eye(6), {}, "cannot carry"),
        (Y, ONES, {"piece": np.arange(6)}, "piece and the residual"),
        (Y, ONES, {"a": ARM, "b": ARM}, "a and b"),
        (Y, np.eye(2)[ARM], {"method": ARM}, "factor method only repeats"),
        (np.full(6, 3.3), ONES, {}, "without remainder"),
        (np.array([1.0, 1, 2, 2, 5, 5]), ONES, {"pair": [0, 0, 1, 1, 2, 2]}, "level of pair"),
    ],
)
def test_what_cannot_be_fitted_is_named(
    response: np.ndarray, fixed: np.ndarray, factors: dict[str, np.ndarray], words: str
) -> None:
    with pytest.raises(ComparisonError, match=words):
        fit_reml(response, fixed, factors)


def test_bad_contrasts_are_named() -> None:
    fit = fit_reml(Y, np.eye(2)[ARM], {})
    with pytest.raises(ComparisonError, match="needs 2 weights"):
        contrast_test(fit, [1, 0, 0])
    with pytest.raises(ComparisonError, match="zero weights"):
        contrast_test(fit, [0, 0])
    with pytest.raises(ComparisonError, match="depend on one another"):
        f_test(fit, [[1, -1], [-1, 1]])
    with pytest.raises(ComparisonError, match="arm 5"):
        reml_arm_difference(Y, ARM, {}, second=5)
    with pytest.raises(ComparisonError, match="one arm for each"):
        reml_arm_difference(Y, ARM[:3], {})


def test_a_layout_that_leaves_nothing_is_refused_rather_than_answered() -> None:
    # Five pieces, three cooks and two sides: after the arms there is nothing left to tell by.
    arms = [0, 1, 0, 1, 1]
    factors = {"cook": [1, 2, 0, 1, 1], "position": [0, 1, 1, 1, 0]}
    with pytest.raises(ComparisonError, match="degrees of freedom"):
        reml_arm_difference([0.534, 0.609, 0.584, 0.629, 0.560], arms, factors)
