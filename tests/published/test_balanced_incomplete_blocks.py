"""Balanced incomplete blocks as tabled by Fisher and Yates (Statistical Tables, Table XVII) and by
Cochran and Cox (Experimental Designs, table 11.3), with the efficiency factor λ v / (r k).

(v, k, b, r, λ) from memory; every row satisfies b k = v r, λ (v - 1) = r (k - 1) and b ≥ v.
"""

from collections import Counter
from itertools import combinations

import numpy as np
import pytest

from fairsmoke.design.errors import DesignError
from fairsmoke.design.estimability import freedoms, shares_of
from fairsmoke.design.incomplete import (
    Balance,
    balance_of,
    balance_possible,
    incomplete_blocks,
)
from fairsmoke.design.random_words import Chance

TABLED = [
    (3, 2, 3, 2, 1),
    (4, 2, 6, 3, 1),
    (4, 3, 4, 3, 2),
    (5, 2, 10, 4, 1),
    (5, 3, 10, 6, 3),
    (5, 4, 5, 4, 3),
    (6, 3, 10, 5, 2),
    (6, 5, 6, 5, 4),
    (7, 3, 7, 3, 1),
    (7, 4, 7, 4, 2),
]


@pytest.mark.parametrize(("v", "k", "b", "r", "together"), TABLED)
def test_the_tabled_designs_are_found(v: int, k: int, b: int, r: int, together: int) -> None:
    blocks = incomplete_blocks(v, k, b, Chance(3))
    assert balance_possible(v, k, b) == balance_of(blocks, v) == Balance(r, together)
    assert Counter(arm for block in blocks for arm in block) == Counter(dict.fromkeys(range(v), r))
    pairs = Counter(pair for block in blocks for pair in combinations(block, 2))
    assert set(pairs.values()) == {together}
    assert len(pairs) == v * (v - 1) // 2


@pytest.mark.parametrize(("v", "k", "b", "r", "together"), TABLED)
def test_what_the_blocks_cost_is_the_efficiency_factor(
    v: int, k: int, b: int, r: int, together: int
) -> None:
    blocks = incomplete_blocks(v, k, b, Chance(4))
    arms = np.array([arm for block in blocks for arm in block], dtype=np.intp)
    cook = shares_of([str(number) for number, block in enumerate(blocks) for _ in block])
    found = freedoms(arms, v, {"cook": cook})
    assert len(found) == v * (v - 1) // 2
    for one in found:
        assert one.efficiency == pytest.approx(together * v / (r * k), rel=1e-9)


@pytest.mark.parametrize(
    ("v", "k", "b"),
    # Numbers that do not come out, and (by Fisher's inequality) fewer blocks than treatments.
    [(4, 2, 5), (5, 3, 5), (6, 4, 6), (16, 6, 8), (25, 10, 10), (3, 3, 3)],
)
def test_balance_is_not_promised_where_it_cannot_be(v: int, k: int, b: int) -> None:
    assert balance_possible(v, k, b) is None


def test_too_few_cooks_are_refused_with_the_number_needed() -> None:
    with pytest.raises(DesignError, match="at least 3 cooks"):
        incomplete_blocks(4, 2, 2, Chance(1))
