"""The one-way analysis of variance in the corners."""

import numpy as np
import pytest

from fairsmoke.judging.anova import one_way_anova
from fairsmoke.judging.errors import ComparisonError


def test_two_groups_are_the_squared_pooled_t() -> None:
    # By hand: means 2 and 5, within 2 + 2 on 4 df, between 3²·6/4 = 13.5.
    result = one_way_anova([1, 2, 3, 4, 5, 6], list("aaabbb"))
    assert result.between_ss == pytest.approx(13.5)
    assert result.within_ss == pytest.approx(4.0)
    assert result.f_ratio == pytest.approx(13.5)


def test_no_spread_within_groups_gives_no_ratio() -> None:
    result = one_way_anova([1.0, 1.0, 2.0, 2.0], [0, 0, 1, 1])
    assert result.f_ratio is result.p is None
    assert result.r_squared == 1.0


@pytest.mark.parametrize(
    ("response", "groups", "words"),
    [
        ([1.0, 2.0], [0], "one group label"),
        ([1.0, np.nan, 2.0], [0, 0, 1], "row 1"),
        ([1.0, 2.0], [0, 0], "two groups"),
        ([1.0, 2.0], [0, 1], "single value"),
    ],
)
def test_bad_input_is_named(response: list[float], groups: list[int], words: str) -> None:
    with pytest.raises(ComparisonError, match=words):
        one_way_anova(response, groups)
