"""The paired interval in the corners: one pair, no spread, missing halves, bad input."""

import numpy as np
import pytest

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.paired import paired_comparison


def test_one_pair_has_a_difference_and_no_interval() -> None:
    result = paired_comparison([1.7])
    assert result.mean == 1.7
    assert result.interval is None
    assert [result.p, result.df, result.sd, result.se, result.t] == [None] * 5
    assert "no interval exists" in str(result.sentence)


def test_differences_that_are_equal_but_for_round_off_show_no_spread() -> None:
    # 1.1 − 1.0 and 57.1 − 57.0 differ in the fourteenth digit.
    result = paired_comparison([1.1 - 1.0, 57.1 - 57.0])
    assert result.interval is None
    assert "no spread" in str(result.sentence)


def test_lost_halves_are_left_out_and_counted() -> None:
    full = paired_comparison([1.0, 2.0, 4.0])
    gappy = paired_comparison([1.0, np.nan, 2.0, 4.0, np.nan])
    assert gappy.n_incomplete == 2
    assert (gappy.mean, gappy.interval, gappy.n_pairs) == (full.mean, full.interval, 3)


def test_two_pairs_by_the_cauchy_distribution() -> None:
    # With 1 df, t is Cauchy: p = 1 − 2·atan(t)/π, and t is mean/(half the range).
    result = paired_comparison([1.0, 3.0])
    assert result.t == pytest.approx(2.0)
    assert result.p == pytest.approx(1 - 2 * np.arctan(2.0) / np.pi)


@pytest.mark.parametrize(
    ("differences", "level", "words"),
    [
        ([], 0.95, "no complete pair"),
        ([np.nan], 0.95, "no complete pair"),
        ([np.inf, 1.0], 0.95, "infinite"),
        ([[1.0, 2.0]], 0.95, "one number a pair"),
        ([1.0, 2.0], 95, "between 0 and 1"),
    ],
)
def test_bad_input_is_named(differences: list[float], level: float, words: str) -> None:
    with pytest.raises(ComparisonError, match=words):
        paired_comparison(differences, level=level)
