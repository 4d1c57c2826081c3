"""Ranks and paired preferences against worked examples in print.

Friedman: ISO 8587, annex A (eight assessors, five products, read: sums and critical value; the p is
R's); Conover, Practical Nonparametric Statistics (1999) p. 372, ties (read); Page: Sachs (1997)
p. 671 and Hollander and Wolfe's cotton (data read, p by R). Bradley–Terry: Agresti, Categorical
Data Analysis (2002) p. 448, citations of four journals (read in R's BradleyTerry2).
"""

import math

import numpy as np
import pytest

from fairsmoke.tasting.preference import fit_abilities, prefer
from fairsmoke.tasting.ranking import rank_test, trend_p

GRASS = np.array(
    [
        [4, 3, 2, 1],
        [4, 2, 3, 1],
        [3, 1.5, 1.5, 4],
        [3, 1, 2, 4],
        [4, 2, 1, 3],
        [2, 2, 2, 4],
        [1, 3, 2, 4],
        [2, 4, 1, 3],
        [3.5, 1, 2, 3.5],
        [4, 1, 3, 2],
        [4, 2, 3, 1],
        [3.5, 1, 2, 3.5],
    ]
)


def test_grass_with_ties() -> None:
    found = rank_test(GRASS)
    assert found.sums == (38.0, 23.5, 24.5, 34.0)
    assert found.statistic == pytest.approx(8.09734513, abs=5e-9)
    assert found.p_chi2 == pytest.approx(0.044042, abs=5e-7)
    assert found.exact
    # Every taster's ranks in every order, drawn here 20,000 times: within five standard errors.
    generator = np.random.default_rng(1)
    sums = np.array([generator.permuted(GRASS, axis=1).sum(axis=0) for _ in range(20_000)])
    reached = np.mean(np.sum((sums - 30.0) ** 2, axis=1) >= 156.5 - 1e-9)
    assert found.p == pytest.approx(reached, abs=5 * (0.04 * 0.96 / 20_000) ** 0.5)


def test_least_difference_of_the_ranking_standard() -> None:
    rows = np.array([[1, 5, 4, 3, 2]] * 4 + [[2, 3, 5, 4, 1]] * 4)
    assert rank_test(rows).least_difference == pytest.approx(12.396, abs=5e-4)


def test_an_exact_friedman_is_the_count_of_orders() -> None:
    """Three tasters who agree on three samples: 6 of 6³ patterns, 1/36 (by hand)."""
    found = rank_test(np.array([[1, 2, 3]] * 3))
    assert found.exact
    assert found.p == pytest.approx(1 / 36, abs=1e-12)
    # Friedman's own table (1937): n = 3, k = 3, χ² 6.000 has P .028.
    assert found.statistic == pytest.approx(6.0)


def test_four_tasters_of_three_samples_by_friedmans_table() -> None:
    """Friedman (1937), table V, from memory: k = 3, n = 4, χ² 6.5 has P .042, 8.0 has .0046."""
    assert rank_test(np.array([[1, 2, 3]] * 4)).p == pytest.approx(0.0046, abs=5e-5)
    rows = np.array([[1, 2, 3], [1, 2, 3], [1, 2, 3], [1, 3, 2]])
    assert rank_test(rows).statistic == pytest.approx(6.5)
    assert rank_test(rows).p == pytest.approx(0.042, abs=5e-4)


def test_pages_trends() -> None:
    columns = ["2143", "2314", "1234", "2314", "2143", "1234", "3214", "1243", "1423"]
    reviewers = np.array([[int(rank) for rank in row] for row in columns])
    assert trend_p(reviewers) == pytest.approx(0.00070530, abs=5e-9)
    cotton = np.array(
        [
            [7.46, 7.17, 7.76, 8.14, 7.63],
            [7.68, 7.57, 7.73, 8.15, 8.00],
            [7.21, 7.80, 7.74, 7.87, 7.93],
        ]
    )
    assert trend_p(cotton) == pytest.approx(0.00249248, abs=5e-9)


CITATIONS = np.array(
    # Biometrika, Communications in Statistics, JASA, JRSS-B: row cited (won) over column.
    [[0, 730, 498, 221], [33, 0, 68, 17], [320, 813, 0, 142], [284, 276, 325, 0]],
    dtype=float,
)


def test_citations_of_four_journals() -> None:
    found = fit_abilities(CITATIONS)
    assert found.log_worth[1:] == pytest.approx([-2.9491, -0.4796, 0.2690], abs=5e-5)
    assert found.standard_error[1:] == pytest.approx([0.1025, 0.0606, 0.0708], abs=5e-5)


def test_bradley_and_terry_of_two_is_the_binomial() -> None:
    wins = np.array([[0.0, 12.0], [5.0, 0.0]])
    found = fit_abilities(wins)
    assert found.log_worth[1] == pytest.approx(math.log(5 / 12), abs=1e-6)
    assert found.standard_error[1] == pytest.approx(math.sqrt(1 / 12 + 1 / 5), abs=1e-5)


def test_served_first_is_told_apart_from_the_arm() -> None:
    """A logistic regression by hand: with each order, log odds 12:8 and 9:11 average and halve."""
    wins = np.zeros((2, 2, 2))
    wins[0, 0, 1], wins[1, 0, 1] = 12.0, 8.0
    wins[0, 1, 0], wins[1, 1, 0] = 11.0, 9.0
    found = fit_abilities(wins, order_effect=True)
    first, second = math.log(12 / 8), math.log(11 / 9)
    assert found.served_first == pytest.approx((first + second) / 2, abs=1e-6)
    assert found.log_worth[1] == pytest.approx((second - first) / 2, abs=1e-6)


def test_an_arm_that_always_won_has_no_finite_worth() -> None:
    with pytest.raises(ValueError, match="always"):
        fit_abilities(np.array([[0.0, 4.0], [0.0, 0.0]]))


def test_six_of_six_is_the_smallest_preference_that_shows() -> None:
    """ISO 5495's two-sided table: 6 of 6 at 5 %; five of five is not enough."""
    assert prefer(6, 0).p == pytest.approx(2 / 64)
    assert prefer(5, 0).p > 0.05


def test_no_preference_is_kept_apart() -> None:
    with_ties, without = prefer(9, 3, 8), prefer(9, 3)
    assert (with_ties.p, with_ties.neither) == (without.p, 8)
