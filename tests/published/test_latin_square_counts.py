"""How many Latin squares there are, as the On-Line Encyclopedia of Integer Sequences lists them.

Reduced squares: A000315 (1, 1, 1, 4, 56, 9408 …); all squares: A002860 (1, 2, 12, 576, 161280 …).
Both sequences from memory; they are tied by L(n) = n! (n - 1)! R(n).
"""

from math import factorial

import numpy as np
import pytest

from fairsmoke.design.errors import DesignError
from fairsmoke.design.even_layouts import EvenBlock, EvenLayouts
from fairsmoke.design.latin import LARGEST, is_latin, random_square, reduced_squares
from fairsmoke.design.random_words import Chance

REDUCED = {1: 1, 2: 1, 3: 1, 4: 4, 5: 56}
ALL = {1: 1, 2: 2, 3: 12, 4: 576, 5: 161_280}


@pytest.mark.parametrize("n", REDUCED)
def test_reduced_squares_are_all_there(n: int) -> None:
    squares = reduced_squares(n)
    assert len(set(squares)) == len(squares) == REDUCED[n]
    for square in squares:
        assert is_latin(square)
        assert square[0] == tuple(range(n)) == tuple(row[0] for row in square)
    assert factorial(n) * factorial(n - 1) * len(squares) == ALL[n]


@pytest.mark.parametrize("n", [2, 3, 4, 5])
def test_even_layouts_of_whole_cooks_are_the_latin_squares(n: int) -> None:
    block = EvenBlock(tuple(range(n)), tuple(range(n)))
    layouts = EvenLayouts([block] * n, n, n)
    assert layouts.count == ALL[n]
    if n < 5:
        every = list(layouts.every())
        assert len(set(every)) == ALL[n]
        assert all(is_latin(square) for square in every)


@pytest.mark.parametrize("n", [1, 2, 5, 6, 7])
def test_squares_drawn_are_latin(n: int) -> None:
    assert all(is_latin(random_square(n, Chance(seed))) for seed in range(5))


def test_the_order_is_bounded() -> None:
    with pytest.raises(DesignError, match="compare fewer"):
        random_square(LARGEST + 1, Chance(1))


def test_the_walk_is_uniform_where_all_squares_are_known(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The walk for large orders, run at order 4: 576 squares, chi-square over 4,000 draws."""
    from fairsmoke.design import latin

    monkeypatch.setattr(latin, "LISTED_UP_TO", 0)
    monkeypatch.setattr(latin, "_MOVES_PER_CELL", 2)
    chance = Chance(20)
    drawn = [random_square(4, chance) for _ in range(4000)]
    counts = np.array([drawn.count(square) for square in set(drawn)])
    missing = 576 - len(counts)
    expected = 4000 / 576
    chi2 = float(np.sum((counts - expected) ** 2) / expected + missing * expected)
    # 575 degrees of freedom: mean 575, sd 34; beyond 4 sd in 1 of 10,000 seeds.
    assert abs(chi2 - 575) < 4 * np.sqrt(2 * 575)
